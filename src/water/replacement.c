/* SPDX-License-Identifier: GPL-3.0-or-later
 * Whether losses are to be replaced, by a policy set down before: count first, cause second, plants third. */
#include "water/water.h"
#include <math.h>

struct replacement_policy replacement_policy_default(void)
{
    return (struct replacement_policy){.survival = 0.85, .last_year = 2, .gap_m2 = 2, .density_m2 = 2, .layer_share = 0.6};
}

static struct replacement_advice answer(enum truth replace, double plants, const char *words)
{
    return (struct replacement_advice){replace, plants, words};
}

static const char *const SAME_LOSS = " The losses come from the ground: replacing repeats them. Mend the cause first.";

static struct replacement_advice comparison_advise(const struct replacement_case *c, const struct replacement_policy *p,
                                                   struct arena *arena)
{
    if (!(c->planted > 0) || !is_known(c->alive))
        return answer(TRUTH_UNKNOWN, unknown_real(), "Not known: count the plants first.");
    double share = c->alive / c->planted;
    if (c->replaced_before)
        return answer(TRUTH_NO, 0, "No: a comparison plot is replaced once only, and it was.");
    if (c->autumn > p->last_year)
        return answer(TRUTH_NO, 0, arena_print(arena, "No: after autumn %d losses are left, so that survival can be read.", p->last_year));
    if (share >= p->survival)
        return answer(TRUTH_NO, 0,
                      arena_print(arena, "No: %.0f %% live, at or above the %.0f %% of the policy.", 100 * share, 100 * p->survival));
    return answer(TRUTH_YES, c->planted - c->alive,
                  arena_print(arena, "Yes: %.0f %% live, under %.0f %%. %.0f plants, each with a new identity and its own cost line.%s",
                              100 * share, 100 * p->survival, c->planted - c->alive, c->cause_is_ground == TRUTH_YES ? SAME_LOSS : ""));
}

static struct replacement_advice dense_advise(const struct replacement_case *c, const struct replacement_policy *p, struct arena *arena)
{
    struct text why = {0};
    double plants = 0;
    bool unknown = !is_known(c->largest_gap_m2) || !is_known(c->alive) || !(c->area_m2 > 0);
    if (c->largest_gap_m2 > p->gap_m2) {
        text_print(&why, " A gap of %.1f m² is larger than %g m².", c->largest_gap_m2, p->gap_m2);
        plants = fmax(plants, ceil(c->largest_gap_m2 * p->density_m2));
    }
    if (c->area_m2 > 0 && c->alive / c->area_m2 < p->density_m2) {
        text_print(&why, " %.2f living plants stand on a square metre, fewer than %g.", c->alive / c->area_m2, p->density_m2);
        plants = fmax(plants, ceil(p->density_m2 * c->area_m2 - c->alive));
    }
    double layers = 0;
    for (size_t i = 0; i < c->n_layers; i++) {
        const struct replacement_layer *layer = &c->layers[i];
        unknown = unknown || !is_known(layer->alive) || !is_known(layer->target);
        if (layer->target > 0 && layer->alive < p->layer_share * layer->target) {
            text_print(&why, " The layer %s has %.0f of %.0f plants, under %.0f %%.", layer->name, layer->alive, layer->target,
                       100 * p->layer_share);
            layers += ceil(p->layer_share * layer->target - layer->alive - 1e-9);
        }
    }
    plants = fmax(plants, layers);
    struct replacement_advice advice;
    if (why.n > 0)
        advice = answer(TRUTH_YES, plants,
                        arena_print(arena, "Yes:%s At least %.0f plants, each with a new identity.%s", text_get(&why), plants,
                                    c->cause_is_ground == TRUTH_YES ? SAME_LOSS : ""));
    else if (unknown)
        advice =
            answer(TRUTH_UNKNOWN, unknown_real(), "Not known: the living plants, the largest gap and the layers must be counted first.");
    else
        advice = answer(TRUTH_NO, 0, "No: thinning is expected in a dense plot, and no gap, density or layer asks for plants.");
    text_free(&why);
    return advice;
}

struct replacement_advice replacement_advise(const struct replacement_case *what, const struct replacement_policy *policy,
                                             struct arena *arena)
{
    return what->dense ? dense_advise(what, policy, arena) : comparison_advise(what, policy, arena);
}
