/* SPDX-License-Identifier: GPL-3.0-or-later
 * Differences of sites pooled, in every usual way side by side. */
#include "evidence/sites.h"
#include <math.h>

static const char *pool_sentence(const struct sites_pool *p, const struct site_difference *pairs, struct arena *arena)
{
    const struct pool_result *m = p->main;
    const char *without = p->most_without == SIZE_MAX
                              ? ""
                              : arena_print(arena, " Leaving out %s moves it most, to %+.0f.", pairs[p->most_without].site->name,
                                            100 * m->without[p->most_without].value);
    const char *new_site = is_known(m->predict_low) ? arena_print(arena, " A new site would lie between %+.0f and %+.0f.",
                                                                  100 * m->predict_low, 100 * m->predict_high)
                                                    : "";
    return arena_print(
        arena,
        "Pooled over %zu sites, each weighed by its precision: %+.0f points (%+.0f to %+.0f). Sites differ by %.0f points (sd) "
        "beyond chance.%s%s",
        p->n, 100 * m->effect.value, 100 * m->effect.low, 100 * m->effect.high, 100 * sqrt(m->tau2), new_site, without);
}

enum outcome evidence_pool(const struct site_difference *pairs, size_t n, double level, struct arena *arena, struct sites_pool *out,
                           struct failure *why)
{
    static const enum pool_method methods[] = {POOL_DERSIMONIAN_LAIRD, POOL_REML, POOL_PAULE_MANDEL};
    static const char *const names[] = {"DerSimonian–Laird", "restricted likelihood", "Paule–Mandel"};
    struct sites_pool p = {.n = n,
                           .effect = arena_array(arena, n, sizeof(double)),
                           .variance = arena_array(arena, n, sizeof(double)),
                           .most_without = SIZE_MAX};
    if (n < 2) {
        fail(why, OUTCOME_DATA, "There %s %zu site%s to pool.", n == 1 ? "is" : "are", n, n == 1 ? "" : "s");
        return failure_remedy(why, "Pooling needs two sites at least, and five to be of use.");
    }
    for (size_t i = 0; i < n; i++) {
        const struct plot_survival *both[2] = {&pairs[i].sa, &pairs[i].sb};
        p.effect[i] = pairs[i].difference.value;
        for (int k = 0; k < 2; k++) { /* one death and one life added to each, so that no plot is without variance */
            double m = (double)(both[k]->alive + both[k]->dead) + 2, share = ((double)both[k]->alive + 1) / m;
            p.variance[i] += share * (1 - share) / m;
        }
    }
    for (int way = 0; way < POOL_WAYS; way++) {
        bool knapp = way % 2 == 1;
        enum outcome outcome = pool_effects(p.effect, p.variance, n, methods[way / 2], knapp, level, arena, &p.ways[way], why);
        if (outcome != OUTCOME_OK)
            return outcome;
        p.names[way] = arena_print(arena, "%s%s", names[way / 2], knapp ? ", Hartung–Knapp" : "");
    }
    *out = p;
    out->main = &out->ways[3];
    double most = -1;
    for (size_t i = 0; n >= 3 && i < n; i++)
        if (fabs(out->main->without[i].value - out->main->effect.value) > most) {
            most = fabs(out->main->without[i].value - out->main->effect.value);
            out->most_without = i;
        }
    out->sentence = pool_sentence(out, pairs, arena);
    return OUTCOME_OK;
}
