/* SPDX-License-Identifier: GPL-3.0-or-later
 * Cost per established plant when prices, survival and replacement are ranges, and what drives it.
 * Typical: 10,000 draws of 20 figures; sorting ranks dominates. */
#include "money/draws.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

static bool range_good(const struct cost_range *r, double most)
{
    return r->low >= 0 && r->low <= r->mode && r->mode <= r->high && r->high <= most;
}

enum outcome plan_check(const struct cost_plan *plan, double level, size_t draws, struct failure *why)
{
    for (size_t i = 0; i < plan->n_costs; i++)
        if (!range_good(&plan->costs[i], HUGE_VAL)) {
            fail(why, OUTCOME_DATA, "The range of %s must rise from low over mode to high and not be negative.",
                 plan->costs[i].name == NULL ? "a cost" : plan->costs[i].name);
            return failure_remedy(why, "Give the same figure three times where it is known.");
        }
    if (!(plan->planted >= 1))
        return fail(why, OUTCOME_DATA, "No plants were planted, so there is no cost per established plant.");
    if (!range_good(&plan->survival, 1) ||
        (plan->rounds > 0 && (!range_good(&plan->replacement_survival, 1) || !range_good(&plan->replacement, HUGE_VAL))) ||
        (is_known(plan->canopy.mode) && !range_good(&plan->canopy, 1))) {
        fail(why, OUTCOME_DATA,
             "Shares of survival and canopy, and the cost of a replacement, must rise from low over mode to high; shares lie between 0 and "
             "1.");
        return failure_remedy(why, "Shares are written as 0.85, not 85.");
    }
    if (plan->rounds < 0 || plan->rounds > 5 || (plan->rounds > 0 && !(plan->replaced_share >= 0 && plan->replaced_share <= 1)))
        return fail(why, OUTCOME_DATA, "Replacement has 0 to 5 rounds, each of a share between 0 and 1.");
    if (!(level > 0 && level < 1) || draws < 100 || draws > 1000000)
        return fail(why, OUTCOME_USAGE, "The level must lie between 0 and 1, and the draws between 100 and 1,000,000.");
    return OUTCOME_OK;
}

struct ranked {
    double value;
    size_t index;
};

static int ranked_order(const void *left, const void *right)
{
    const struct ranked *a = left, *b = right;
    return a->value < b->value ? -1 : a->value > b->value ? 1 : a->index < b->index ? -1 : a->index > b->index;
}

/* Ranks with ties at their mean. */
static void ranks_of(const double *x, size_t n, struct ranked *work, double *rank)
{
    for (size_t i = 0; i < n; i++)
        work[i] = (struct ranked){x[i], i};
    qsort(work, n, sizeof *work, ranked_order);
    for (size_t i = 0; i < n;) {
        size_t end = i + 1;
        while (end < n && work[end].value <= work[i].value)
            end++;
        for (size_t k = i; k < end; k++)
            rank[work[k].index] = ((double)i + (double)end - 1) / 2;
        i = end;
    }
}

static double correlation(const double *a, const double *b, size_t n)
{
    double middle = ((double)n - 1) / 2, ab = 0, aa = 0, bb = 0;
    for (size_t i = 0; i < n; i++) {
        ab += (a[i] - middle) * (b[i] - middle);
        aa += (a[i] - middle) * (a[i] - middle);
        bb += (b[i] - middle) * (b[i] - middle);
    }
    return aa > 0 && bb > 0 ? ab / sqrt(aa * bb) : 0;
}

static int driver_order(const void *left, const void *right)
{
    const struct cost_driver *a = left, *b = right;
    double x = fabs(a->rank_correlation), y = fabs(b->rank_correlation);
    return x > y ? -1 : x < y ? 1 : strcmp(a->name, b->name);
}

/* The figures of a plan in a row: costs, survival, replacement, its survival, canopy. */
static size_t figures_list(const struct cost_plan *plan, const struct cost_range **out, const char **names)
{
    size_t n = 0;
    for (size_t i = 0; i < plan->n_costs; i++) {
        names[n] = plan->costs[i].name == NULL ? "a cost" : plan->costs[i].name;
        out[n++] = &plan->costs[i];
    }
    names[n] = "survival";
    out[n++] = &plan->survival;
    if (plan->rounds > 0) {
        names[n] = "cost of a replacement";
        out[n++] = &plan->replacement;
        names[n] = "survival of replacements";
        out[n++] = &plan->replacement_survival;
    }
    return n;
}

struct outcomes {
    double *spend, *established, *each, *per_m2, *per_canopy;
};

static void draw_one(const struct cost_plan *plan, const struct cost_range *const *figures, size_t n_figures, struct random_stream *r,
                     double *drawn, size_t i, size_t draws, const struct outcomes *o)
{
    double spend = 0;
    for (size_t k = 0; k < n_figures; k++)
        drawn[k * draws + i] = range_draw(r, figures[k]);
    for (size_t k = 0; k < plan->n_costs; k++)
        spend += drawn[k * draws + i];
    double alive = plan->planted * drawn[plan->n_costs * draws + i];
    for (int round = 0; round < plan->rounds; round++) {
        double put = (plan->planted - alive) * plan->replaced_share;
        spend += put * drawn[(plan->n_costs + 1) * draws + i];
        alive += put * drawn[(plan->n_costs + 2) * draws + i];
    }
    double canopy = is_known(plan->canopy.mode) ? plan->area_m2 * range_draw(r, &plan->canopy) : unknown_real();
    o->spend[i] = spend;
    o->established[i] = alive;
    o->each[i] = alive > 0 ? spend / alive : HUGE_VAL;
    o->per_m2[i] = spend / plan->area_m2;
    o->per_canopy[i] = is_known(canopy) && canopy <= 0 ? HUGE_VAL : spend / canopy;
}

enum outcome cost_simulate(const struct cost_plan *plan, double level, size_t draws, uint64_t seed, struct arena *arena,
                           struct cost_simulation *out, struct failure *why)
{
    enum outcome outcome = plan_check(plan, level, draws, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct cost_simulation sim = {.seed = seed, .draws = draws};
    const struct cost_range **figures = arena_array(arena, plan->n_costs + 3, sizeof *figures);
    const char **names = arena_array(arena, plan->n_costs + 3, sizeof *names);
    size_t n = figures_list(plan, figures, names);
    double *drawn = memory_get(n * draws, sizeof *drawn), *columns = memory_get(7 * draws, sizeof *columns);
    struct outcomes o = {columns, columns + draws, columns + 2 * draws, columns + 3 * draws, columns + 4 * draws};
    for (size_t i = 0; i < draws; i++) {
        struct random_stream r = random_make(seed, i);
        draw_one(plan, figures, n, &r, drawn, i, draws, &o);
        sim.share_none += isinf(o.each[i]) ? 1.0 / (double)draws : 0;
    }
    struct cost_band none = {unknown_real(), unknown_real(), unknown_real()};
    sim.spend = band_of(o.spend, draws, level);
    sim.established = band_of(o.established, draws, level);
    sim.per_established = band_of(o.each, draws, level);
    sim.per_m2 = is_known(plan->area_m2) ? band_of(o.per_m2, draws, level) : none;
    sim.per_m2_canopy = is_known(plan->area_m2) && is_known(plan->canopy.mode) ? band_of(o.per_canopy, draws, level) : none;
    struct ranked *work = memory_get(draws, sizeof *work);
    double *rank = columns + 5 * draws, *result = columns + 6 * draws;
    ranks_of(o.each, draws, work, result);
    sim.drivers = arena_array(arena, n, sizeof *sim.drivers);
    for (size_t k = 0; k < n; k++) {
        if (!(figures[k]->high > figures[k]->low))
            continue;
        ranks_of(drawn + k * draws, draws, work, rank);
        sim.drivers[sim.n_drivers++] = (struct cost_driver){names[k], correlation(rank, result, draws)};
    }
    qsort(sim.drivers, sim.n_drivers, sizeof *sim.drivers, driver_order);
    free(work);
    free(columns);
    free(drawn);
    *out = sim;
    return OUTCOME_OK;
}
