/* SPDX-License-Identifier: GPL-3.0-or-later
 * A species offered in place of another: what it would change, and what speaks against it. */
#include "mix/mip.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

struct checking {
    const struct mix_species *species;
    size_t n, from, to;
    const struct mix_settings *settings;
    struct mix_substitution *out;
    struct arena *arena;
};

static void check_add(struct checking *c, enum mix_check_state state, const char *sentence)
{
    c->out->checks[c->out->n_checks++] = (struct mix_check){state, sentence};
    c->out->stopped |= state == CHECK_STOP;
}

static void layers_check(struct checking *c)
{
    static const char *const names[LAYER_COUNT] = {"an unknown layer", "the canopy",   "the sub-canopy",
                                                   "the shrub layer",  "the climbers", "the ground layer"};
    const struct mix_species *from = &c->species[c->from], *to = &c->species[c->to];
    if (to->layer == LAYER_UNKNOWN || from->layer == LAYER_UNKNOWN)
        check_add(c, CHECK_WARN,
                  arena_print(c->arena, "Layer: that of %s is unknown.", to->layer == LAYER_UNKNOWN ? to->name : from->name));
    else if (to->layer == from->layer)
        check_add(c, CHECK_PASS, arena_print(c->arena, "Layer: both are of %s.", names[to->layer]));
    else
        check_add(c, CHECK_WARN,
                  arena_print(c->arena, "Layer: %s is of %s, %s of %s.", to->name, names[to->layer], from->name, names[from->layer]));
    if (to->role != from->role)
        check_add(c, CHECK_WARN, arena_print(c->arena, "Part in the succession: %s is not what %s is.", to->name, from->name));
    if (to->tall && !from->tall)
        check_add(c, CHECK_WARN, arena_print(c->arena, "%s grows into a tall tree, %s does not.", to->name, from->name));
}

static void share_check(struct checking *c)
{
    const int64_t *plants = c->out->plants;
    double total = (double)c->settings->total, cap = c->settings->species_most, of_genus = 0;
    double share = 100 * (double)plants[c->to] / total;
    const char *name = c->species[c->to].name, *genus = c->species[c->to].genus;
    if (is_known(cap) && (double)plants[c->to] > floor(cap * total + 1e-9))
        check_add(c, CHECK_WARN, arena_print(c->arena, "Share: %s rises to %.3g %%, over %.3g %%.", name, share, 100 * cap));
    else if (is_known(cap))
        check_add(c, CHECK_PASS, arena_print(c->arena, "Share: %s rises to %.3g %%, within %.3g %%.", name, share, 100 * cap));
    else
        check_add(c, share > 20 ? CHECK_WARN : CHECK_PASS,
                  arena_print(c->arena, "Share: %s rises to %.3g %%; no cap was set.", name, share));
    for (size_t i = 0; i < c->n; i++)
        if (genus != NULL && text_same(c->species[i].genus, genus))
            of_genus += (double)plants[i];
    if (genus != NULL && is_known(c->settings->genus_most) && of_genus > floor(c->settings->genus_most * total + 1e-9))
        check_add(c, CHECK_WARN,
                  arena_print(c->arena, "Share: %s as a genus rises to %.3g %%, over %.3g %%.", genus, 100 * of_genus / total,
                              100 * c->settings->genus_most));
}

static void health_check(struct checking *c)
{
    const struct mix_species *to = &c->species[c->to];
    if (to->health_stop != NULL)
        check_add(c, CHECK_STOP, arena_print(c->arena, "STOP, plant health: %s: %s", to->name, to->health_stop));
    else
        check_add(c, CHECK_PASS,
                  arena_print(c->arena, "Plant health: no stop is recorded for %s; the papers are still to be asked for.", to->name));
    if (to->stock != INT_UNKNOWN && c->out->plants[c->to] > to->stock)
        check_add(c, CHECK_WARN, arena_print(c->arena, "Only %lld of %s can be had.", (long long)to->stock, to->name));
}

enum outcome mix_nearest(const struct mix_species *species, size_t n, const struct mix_settings *settings, const double *wanted,
                         struct arena *arena, struct mix_nearest *out, struct failure *why)
{
    struct mix_settings own = *settings;
    own.weight_target = 1;
    own.weight_fit = own.weight_diversity = own.weight_price = 0;
    struct problem problem = {
        .species = species, .n = n, .plots = &own, .n_plots = 1, .target = wanted, .seconds = own.seconds > 0 ? own.seconds : 10};
    struct mix_result result;
    *out = (struct mix_nearest){.found = false};
    enum outcome outcome = problem_wishes(&problem, unknown_real(), arena, why);
    struct mix_result usual = {.plants = NULL};
    bool any = false;
    for (size_t k = 0; k < problem.n_wishes; k++) /* usual figures are no reason to change a plan further */
        any |= problem.wishes[k].off = problem.wishes[k].yields;
    if (outcome == OUTCOME_OK)
        outcome = problem_solve(&problem, arena, &result, why);
    for (size_t k = 0; k < problem.n_wishes; k++) {
        problem.wishes[k].off = false;
        problem.wishes[k].yields = false;
    }
    if (outcome == OUTCOME_OK && any && result.plants != NULL) /* but where both are to be had, they are kept */
        outcome = problem_solve(&problem, arena, &usual, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (usual.plants != NULL && usual.off_target <= result.off_target + 1e-6)
        result = usual;
    outcome = problem_wishes(&problem, unknown_real(), arena, why);
    out->found = result.plants != NULL;
    out->plants = result.plants;
    out->words = result.plants == NULL ? result.proof : problem_unmet(&problem, result.plants, arena);
    return outcome;
}

/* Counts after the substitution that keep all wishes with the least change elsewhere; false if there are none. */
static enum outcome settle(struct checking *c, const int64_t *plants, bool *found, const char **words, struct failure *why)
{
    struct mix_settings settings = *c->settings;
    struct mix_wish *wishes = arena_array(c->arena, settings.n_wishes + 1, sizeof *wishes);
    size_t m = 0;
    for (size_t i = 0; i < settings.n_wishes; i++)
        if (settings.wishes[i].species != c->from) /* what was wished of the one that goes falls away */
            wishes[m++] = settings.wishes[i];
    wishes[m++] = (struct mix_wish){.species = c->from, .least = INT_UNKNOWN, .most = 0, .reason = "replaced"};
    settings.wishes = wishes;
    settings.n_wishes = m;
    double *target = arena_array(c->arena, c->n, sizeof *target);
    for (size_t i = 0; i < c->n; i++)
        target[i] = i == c->from ? 0 : (double)(plants[i] + (i == c->to ? plants[c->from] : 0));
    struct mix_nearest nearest = {.found = false};
    *found = false;
    *words = NULL;
    if (c->species[c->to].health_stop != NULL)
        return OUTCOME_OK;
    enum outcome outcome = mix_nearest(c->species, c->n, &settings, target, c->arena, &nearest, why);
    if (outcome != OUTCOME_OK || !nearest.found)
        return outcome;
    *found = true;
    *words = nearest.words;
    memcpy(c->out->plants, nearest.plants, c->n * sizeof *nearest.plants);
    return OUTCOME_OK;
}

enum outcome mix_substitute(const struct mix_species *species, size_t n, const struct mix_settings *settings, const int64_t *plants,
                            size_t from, size_t to, const char *approver, int32_t date, struct arena *arena, struct mix_substitution *out,
                            struct failure *why)
{
    if (from >= n || to >= n || from == to)
        return fail(why, OUTCOME_USAGE, "Name two different species of the list, one to go and one to come.");
    if (plants[from] <= 0)
        return fail(why, OUTCOME_DATA, "There is no %s in the mix to replace.", species[from].name);
    struct mix_substitution made = {.plants = arena_array(arena, n, sizeof *plants), .checks = arena_array(arena, 16, sizeof *made.checks)};
    struct checking c = {species, n, from, to, settings, &made, arena};
    bool found = false;
    const char *words = NULL;
    enum outcome outcome = settle(&c, plants, &found, &words, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (!found) { /* plainly one for the other, so that the checks can say what it would mean */
        memcpy(made.plants, plants, n * sizeof *plants);
        made.plants[to] += made.plants[from];
        made.plants[from] = 0;
    }
    int64_t others = 0;
    for (size_t i = 0; i < n; i++)
        if (i != from && i != to)
            others += llabs(made.plants[i] - plants[i]);
    made.moved = others;
    layers_check(&c);
    health_check(&c);
    share_check(&c);
    if (!found && !made.stopped)
        check_add(&c, CHECK_WARN,
                  "With this substitution the wishes of the mix can no longer all be met; it is shown as a plain exchange.");
    else if (found && made.moved > 0)
        check_add(&c, CHECK_WARN,
                  arena_print(arena, "To keep the wishes of the mix, other species change by %lld plants in all.", (long long)made.moved));
    if (words != NULL)
        check_add(&c, CHECK_WARN, words);
    bool dated = date != DATE_UNKNOWN, signed_off = !text_blank(approver);
    made.needs = dated && signed_off ? NULL
                 : dated             ? "who approves it"
                 : signed_off        ? "the date of approval"
                                     : "who approves it, and the date";
    *out = made;
    return OUTCOME_OK;
}
