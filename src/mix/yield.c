/* SPDX-License-Identifier: GPL-3.0-or-later
 * Defaults that give way: where wishes conflict, those that nobody asked for by name are relaxed by the least that lets the
 * rest be met. What a person asked for is never touched. */
#include "mix/mip.h"
#include <float.h>
#include <math.h>
#include <string.h>

unsigned wish_part(const struct wish *wish)
{
    switch (wish->kind) {
    case WISH_LAYER_LEAST:
    case WISH_LAYER_MOST:
        return wish->what == LAYER_CANOPY      ? MIX_PART_CANOPY
               : wish->what == LAYER_SUBCANOPY ? MIX_PART_SUBCANOPY
               : wish->what == LAYER_SHRUB     ? MIX_PART_SHRUB
                                               : 0;
    case WISH_PIONEER_LEAST:
    case WISH_PIONEER_MOST:
        return MIX_PART_PIONEER;
    case WISH_TALL_MOST:
        return MIX_PART_TALL;
    case WISH_SPECIES_MOST:
        return MIX_PART_SPECIES;
    case WISH_GENUS_MOST:
        return MIX_PART_GENUS;
    case WISH_EACH_LEAST:
        return MIX_PART_EACH;
    case WISH_COUNT_MOST:
        return MIX_PART_COUNT;
    default:
        return 0;
    }
}

/* How far a wish gives way, as a part of the planting (shares) or of its own figure (numbers of species, least counts). */
static double give(const struct problem *problem, const struct wish *wish, double enough)
{
    double whole = wish->kind == WISH_EACH_LEAST || wish->kind == WISH_COUNT_MOST ? wish->asked : (double)problem->plots[wish->plot].total;
    return fabs(enough - wish->asked) / whole;
}

/// A set of defaults that would do, with how far each gives way.
struct giving {
    size_t wish[2];
    double enough[2];
    size_t n;
    double sum; ///< how far they give way together
};

/* The wishes of the set go whole, then each comes back as far as the others, as they then stand, allow. */
static bool giving_try(struct asking *a, const size_t *set, size_t n, struct giving *best)
{
    struct problem *problem = a->problem;
    struct giving made = {.n = n};
    bool good = true;
    for (size_t k = 0; k < n; k++)
        problem->wishes[set[k]].off = true;
    good = asking_ask(a) == ANSWER_POSSIBLE;
    for (size_t k = 0; k < n && good; k++) {
        struct wish *wish = &problem->wishes[set[k]];
        wish->off = false;
        made.wish[k] = set[k];
        made.enough[k] = wish->value = asking_enough(a, wish);
        good = is_known(wish->value);
        if (good)
            made.sum += give(problem, wish, wish->value);
    }
    for (size_t k = 0; k < n; k++) {
        problem->wishes[set[k]].off = false;
        problem->wishes[set[k]].value = problem->wishes[set[k]].asked;
    }
    if (good && (best->n == 0 || made.sum < best->sum - 1e-9))
        *best = made;
    return good;
}

/* One default, else two: of the sets of that size the one that gives way least. */
static void giving_find(struct asking *a, const size_t *defaults, size_t n, struct giving *best)
{
    for (size_t i = 0; i < n; i++)
        giving_try(a, &defaults[i], 1, best);
    bool two = best->n == 0;
    for (size_t i = 0; i < n && two; i++)
        for (size_t j = i + 1; j < n; j++)
            giving_try(a, (size_t[]){defaults[i], defaults[j]}, 2, best);
}

/* One default more that gives way counts as much as this part of the plants. */
#define ONE_MORE 0.05

static bool counts_for(const struct mix_species *s, const struct wish *wish)
{
    return wish->kind <= WISH_LAYER_MOST     ? (size_t)s->layer == wish->what
           : wish->kind <= WISH_PIONEER_MOST ? s->role == ROLE_PIONEER
                                             : s->tall;
}

/* Rows of one wish that may be overstepped by the new column: its cost is what the wish gives way. */
static size_t loosen(const struct problem *problem, struct mip *g, const struct wish *wish, struct arena *arena)
{
    bool least = wish->kind == WISH_LAYER_LEAST || wish->kind == WISH_PIONEER_LEAST;
    bool each = wish->kind == WISH_SPECIES_MOST, genus = wish->kind == WISH_GENUS_MOST;
    const size_t *plants = &g->plants_col[wish->plot * problem->n];
    double most = fabs(wish->end - wish->asked);
    size_t slack = mip_col(g, arena, 0, most, 1 / (double)problem->plots[wish->plot].total, true);
    size_t gives = mip_col(g, arena, 0, 1, ONE_MORE, true), tie = mip_row(g, arena, -DBL_MAX, 0);
    mip_term(g, arena, tie, slack, 1);
    mip_term(g, arena, tie, gives, -most);
    for (size_t i = 0; i < (each || genus ? problem->n : 1); i++) {
        if ((each && plants[i] == SIZE_MAX) || (genus && problem->species[i].genus == NULL))
            continue;
        size_t row = mip_row(g, arena, least ? wish->asked : -DBL_MAX, least ? DBL_MAX : wish->asked);
        mip_term(g, arena, row, slack, least ? 1 : -1);
        for (size_t j = 0; j < problem->n; j++) {
            bool in = each    ? i == j
                      : genus ? text_same(problem->species[j].genus, problem->species[i].genus)
                              : counts_for(&problem->species[j], wish);
            if (in && plants[j] != SIZE_MAX)
                mip_term(g, arena, row, plants[j], 1);
        }
    }
    return slack;
}

/* Shares of all kinds may give way; of all ways the one in which few do, and those little. */
static bool giving_least(struct asking *a, const size_t *defaults, size_t n, struct arena *arena)
{
    struct problem *problem = a->problem;
    struct solution solution;
    size_t *slack = arena_array(arena, n, sizeof *slack);
    for (size_t k = 0; k < n; k++) {
        struct wish *wish = &problem->wishes[defaults[k]];
        wish->off |= wish->kind != WISH_EACH_LEAST && wish->kind != WISH_COUNT_MOST;
    }
    struct mip *g = mip_build(problem, true, arena);
    for (size_t k = 0; k < n; k++) {
        const struct wish *wish = &problem->wishes[defaults[k]];
        bool share = wish->kind != WISH_EACH_LEAST && wish->kind != WISH_COUNT_MOST;
        slack[k] = share ? loosen(problem, g, wish, arena) : SIZE_MAX;
    }
    a->outcome = mip_glpk(g, fmin(problem->seconds, 5), 0, problem->progress, arena, &solution, a->why);
    bool good = a->outcome == OUTCOME_OK && solution.x != NULL;
    for (size_t k = 0; k < n && good; k++) {
        struct wish *wish = &problem->wishes[defaults[k]];
        double gave = slack[k] == SIZE_MAX ? 0 : round(solution.x[slack[k]]);
        wish->value = wish->asked < wish->end ? wish->asked + gave : wish->asked - gave;
        wish->off &= slack[k] == SIZE_MAX;
    }
    return good;
}

/* Least counts and the number of species, with the shares as they now stand. */
static bool giving_counts(struct asking *a, const size_t *defaults, size_t n)
{
    for (size_t k = 0; k < n; k++) {
        struct wish *wish = &a->problem->wishes[defaults[k]];
        if (!wish->off)
            continue;
        wish->off = false;
        double enough = asking_ask(a) == ANSWER_POSSIBLE ? wish->asked : asking_enough(a, wish);
        wish->off = !is_known(enough);
        wish->value = is_known(enough) ? enough : wish->asked;
    }
    return true;
}

static bool giving_many(struct asking *a, const size_t *defaults, size_t n, struct arena *arena)
{
    if (giving_least(a, defaults, n, arena))
        return true;
    for (size_t k = 0; k < n; k++) /* then without least counts and numbers of species, which come back last */
        a->problem->wishes[defaults[k]].off = true;
    return a->outcome == OUTCOME_OK && giving_least(a, defaults, n, arena) && giving_counts(a, defaults, n);
}

enum outcome problem_yield(struct problem *problem, struct arena *arena, bool *yielded, struct failure *why)
{
    struct asking a = {.problem = problem, .outcome = OUTCOME_OK, .why = why};
    size_t *defaults = arena_array(arena, problem->n_wishes + 1, sizeof *defaults), n = 0;
    struct giving best = {.n = 0};
    *yielded = false;
    for (size_t k = 0; k < problem->n_wishes; k++)
        if (problem->wishes[k].yields && fabs(problem->wishes[k].value - problem->wishes[k].asked) < 1e-9 && !problem->wishes[k].off)
            defaults[n++] = k;
    for (size_t k = 0; k < n; k++)
        problem->wishes[defaults[k]].off = true;
    bool possible = n > 0 && asking_ask(&a) == ANSWER_POSSIBLE;
    for (size_t k = 0; k < n; k++)
        problem->wishes[defaults[k]].off = false;
    if (!possible || a.outcome != OUTCOME_OK)
        return a.outcome;
    if (problem->n_plots == 1)
        giving_find(&a, defaults, n, &best);
    for (size_t k = 0; k < best.n; k++)
        problem->wishes[best.wish[k]].value = best.enough[k];
    *yielded = best.n > 0 || giving_many(&a, defaults, n, arena);
    return a.outcome;
}

/* "pioneers at most 90 plants (30 % of 300), a default nobody asked for, was relaxed to 108 plants …" */
static const char *yielded_words(const struct mix_result *out, struct arena *arena)
{
    struct text text = {0};
    for (size_t k = 0; k < out->n_relaxed; k++)
        text_print(&text, "%s\"%s\" %s %s",
                   k == 0                    ? ""
                   : k + 1 == out->n_relaxed ? " and "
                                             : ", ",
                   out->relaxed[k].wish, is_known(out->relaxed[k].enough) ? "to" : "was", out->relaxed[k].to);
    const char *list = arena_text(arena, text_get(&text));
    text_free(&text);
    text = (struct text){0};
    size_t others = 0;
    for (size_t i = 0; i < out->n_conflict; i++) {
        bool itself = false;
        for (size_t k = 0; k < out->n_relaxed; k++)
            itself |= strcmp(out->relaxed[k].wish, out->conflict[i].wish) == 0;
        if (!itself)
            text_print(&text, "%s%s", others++ == 0 ? "" : "; ", out->conflict[i].wish);
    }
    const char *rest = arena_text(arena, text_get(&text));
    text_free(&text);
    const char *because = others == 0 ? "with the species and the stock there are they cannot be met"
                                      : arena_print(arena, "with the species on the list it cannot be met together with: %s", rest);
    return arena_print(arena, "%s of the usual wishes that nobody asked for by name gave way, no further than needed: %s, for %s.",
                       out->n_relaxed == 1 ? "One" : "Some", list, because);
}

void problem_yielded(const struct problem *problem, struct arena *arena, struct mix_result *out)
{
    out->relaxed = arena_array(arena, problem->n_wishes + 1, sizeof *out->relaxed);
    out->n_relaxed = 0;
    for (size_t k = 0; k < problem->n_wishes; k++) {
        const struct wish *wish = &problem->wishes[k];
        bool left_out = wish->off;
        if (!left_out && fabs(wish->value - wish->asked) < 1e-9)
            continue;
        out->relaxed[out->n_relaxed++] =
            (struct mix_conflict){.wish = wish_words(problem, wish, arena),
                                  .asked = wish->asked,
                                  .enough = left_out ? unknown_real() : wish->value,
                                  .relax = left_out ? "Left out." : wish_relax(problem, wish, wish->value, arena),
                                  .to = left_out ? "left out" : wish_figure(problem, wish, wish->value, arena)};
    }
    out->relaxed_words = out->n_relaxed == 0 ? NULL : yielded_words(out, arena);
}
