/* SPDX-License-Identifier: GPL-3.0-or-later
 * Survival over time of groups of plots: by plants, and honestly by plots. */
#include "evidence/evidence.h"
#include <math.h>
#include <string.h>

/* Columns over all plants of all groups, and over their plots. */
struct pool {
    double *time, *left, *right;
    bool *died;
    size_t *group, n;
    double *annual, *share; ///< of plots
    size_t *annual_group, *share_group, n_annual, n_share;
};

/* Plots whose planting day is unknown start at their first census. */
static double start_of(const struct plot_lives *lives, struct arena *arena, struct plot_lives *copy)
{
    (void)arena;
    *copy = *lives;
    if (copy->planted_on == DATE_UNKNOWN && copy->n_censuses > 0)
        copy->planted_on = copy->censuses[0].from;
    return copy->planted_on == DATE_UNKNOWN ? unknown_real() : copy->planted_on;
}

static enum outcome pool_fill(const struct plot_lives *lives, size_t n_plots, const size_t *group, struct arena *arena, struct pool *pool,
                              struct group_curves *out, struct failure *why)
{
    size_t room = 0;
    for (size_t i = 0; i < n_plots; i++)
        room += lives[i].n_plants;
    pool->time = arena_array(arena, room, sizeof *pool->time);
    pool->left = arena_array(arena, room, sizeof *pool->left);
    pool->right = arena_array(arena, room, sizeof *pool->right);
    pool->died = arena_array(arena, room, sizeof *pool->died);
    pool->group = arena_array(arena, room, sizeof *pool->group);
    pool->annual = arena_array(arena, n_plots, sizeof *pool->annual);
    pool->share = arena_array(arena, n_plots, sizeof *pool->share);
    pool->annual_group = arena_array(arena, n_plots, sizeof *pool->annual_group);
    pool->share_group = arena_array(arena, n_plots, sizeof *pool->share_group);
    for (size_t i = 0; i < n_plots; i++) {
        struct plot_lives copy;
        struct plot_curve times;
        struct plot_survival s;
        if (group[i] == SIZE_MAX || lives[i].n_censuses < 2 || !is_known(start_of(&lives[i], arena, &copy)))
            continue;
        enum outcome outcome = evidence_times(&copy, arena, &times, why);
        if (outcome == OUTCOME_OK)
            outcome = evidence_survival(&copy, SIZE_MAX, 0.95, arena, &s, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        struct group_curve *curve = &out->groups[group[i]];
        curve->plots++;
        for (size_t p = 0; p < times.n; p++) {
            bool died = isfinite(times.right[p]);
            pool->left[pool->n] = times.left[p];
            pool->right[pool->n] = times.right[p];
            pool->time[pool->n] = died ? times.right[p] : times.left[p];
            pool->died[pool->n] = died;
            pool->group[pool->n++] = group[i];
            curve->plants++;
            curve->deaths += died;
        }
        if (is_known(s.annual.value)) {
            pool->annual[pool->n_annual] = s.annual.value;
            pool->annual_group[pool->n_annual++] = group[i];
        }
        if (is_known(s.survival.value)) {
            pool->share[pool->n_share] = s.survival.value;
            pool->share_group[pool->n_share++] = group[i];
        }
    }
    return OUTCOME_OK;
}

static enum outcome group_fill(const struct pool *pool, size_t which, double level, struct arena *arena, struct group_curve *out,
                               struct failure *why)
{
    double *time = arena_array(arena, pool->n, sizeof *time), *left = arena_array(arena, pool->n, sizeof *left),
           *right = arena_array(arena, pool->n, sizeof *right);
    bool *died = arena_array(arena, pool->n, sizeof *died);
    size_t n = 0;
    for (size_t i = 0; i < pool->n; i++) {
        if (pool->group[i] != which)
            continue;
        time[n] = pool->time[i];
        died[n] = pool->died[i];
        left[n] = pool->left[i];
        right[n++] = pool->right[i];
    }
    if (n == 0)
        return OUTCOME_OK;
    struct lives lives = {.n = n, .time = time, .died = died};
    struct interval_lives intervals = {.n = n, .left = left, .right = right};
    enum outcome outcome = survival_kaplan_meier(&lives, SURVIVAL_LOGLOG, level, arena, &out->km, why);
    if (outcome == OUTCOME_OK)
        outcome = survival_turnbull(&intervals, arena, &out->interval, why);
    return outcome;
}

/* Mean over the plots of a group; the plot is the unit. */
static struct estimate mean_by_plot(const double *value, const size_t *group, size_t n, size_t which, double level)
{
    double sum = 0, squares = 0;
    size_t m = 0;
    struct estimate out = estimate_unknown();
    for (size_t i = 0; i < n; i++)
        if (group[i] == which) {
            sum += value[i];
            m++;
        }
    if (m == 0)
        return out;
    double mean = sum / (double)m;
    for (size_t i = 0; i < n; i++)
        if (group[i] == which)
            squares += (value[i] - mean) * (value[i] - mean);
    out.value = mean;
    out.n = (double)m;
    return m > 1 ? estimate_student(mean, sqrt(squares / (double)(m - 1) / (double)m), (double)m - 1, level, (double)m) : out;
}

/* Survival per year of all plants together: what a constant risk would have to be to leave as many at the last visit. */
static struct estimate annual_of(const struct survival_curve *km)
{
    struct estimate out = estimate_unknown();
    if (km->n == 0 || !(km->time[km->n - 1] > 0))
        return out;
    size_t end = km->n - 1;
    double power = 1 / km->time[end];
    out.value = pow(km->survival[end], power);
    out.low = pow(km->low[end], power);
    out.high = pow(km->high[end], power);
    return out;
}

/* Two groups of at least two plots each: Welch's difference of the shares alive, plots as units. */
static enum outcome difference_fill(const struct pool *pool, double level, struct arena *arena, struct group_curves *out,
                                    struct failure *why)
{
    double *side[2] = {arena_array(arena, pool->n_share, sizeof **side), arena_array(arena, pool->n_share, sizeof **side)};
    size_t n[2] = {0, 0};
    for (size_t i = 0; i < pool->n_share; i++) {
        size_t g = pool->share_group[i];
        side[g][n[g]++] = pool->share[i];
    }
    if (n[0] < 2 || n[1] < 2)
        return OUTCOME_OK;
    return welch_difference(side[0], n[0], side[1], n[1], level, &out->difference, &out->welch, why);
}

/* How far a difference between the groups may be claimed: it depends on whether they stand on the same sites. */
static void rung_fill(const struct plot_lives *lives, size_t n_plots, const size_t *group, struct group_curves *out)
{
    size_t shared = 0, filled = 0;
    for (size_t g = 0; g < out->n; g++)
        filled += out->groups[g].plants > 0;
    for (size_t i = 0; i < n_plots; i++) { /* a site is counted at its first plot */
        bool first = true, both = false;
        for (size_t k = 0; k < n_plots; k++) {
            if (group[k] == SIZE_MAX || group[i] == SIZE_MAX || lives[k].site->id != lives[i].site->id)
                continue;
            first = first && k >= i;
            both = both || group[k] != group[i];
        }
        shared += group[i] != SIZE_MAX && first && both;
    }
    out->rung = filled < 2 ? "counted" : shared >= 2 ? "repeated" : "compared";
    out->cannot = filled < 2 ? "There is one group, so nothing is compared."
                  : shared == 0
                      ? "Each group stands on ground of its own: whatever else differs between those sites (soil, slope, history, "
                        "weather, care) may be the cause, and more plots on the same ground do not change that."
                  : shared == 1 ? "The groups stand together on one site: what holds there need not hold elsewhere."
                                : "The groups stand together on several sites, but sites and years differ: compare within sites first.";
}

static const char *curves_sentence(const struct group_curves *c, struct arena *arena)
{
    struct text words = {0};
    for (size_t i = 0; i < c->n; i++)
        if (c->groups[i].plants > 0)
            text_print(&words, "%s%s: %zu plants in %zu plots, %zu deaths, %.1f %% alive at the end.", words.n > 0 ? " " : "",
                       c->groups[i].name, c->groups[i].plants, c->groups[i].plots, c->groups[i].deaths,
                       c->groups[i].km.n > 0 ? 100 * c->groups[i].km.survival[c->groups[i].km.n - 1] : 100.0);
    if (is_known(c->logrank.test.p))
        text_print(&words, " Counting plants as independent, which plants of one plot are not, a log-rank test gives chi² %.1f (p %.2g).",
                   c->logrank.test.statistic, c->logrank.test.p);
    if (is_known(c->difference.low))
        text_print(&words, " By plot, the share alive differs by %+.0f points (%+.0f to %+.0f, Welch's t, p %.2g).",
                   100 * c->difference.value, 100 * c->difference.low, 100 * c->difference.high, c->welch.p);
    if (is_known(c->difference.low) && c->difference.low <= 0 && c->difference.high >= 0)
        text_add(&words, " So no difference is shown by plot; either way may be true.");
    if (c->has_by_plot)
        text_print(&words, " With the plot as the unit, shuffling labels over plots gives p %.3f (least reachable %.2g).", c->by_plot.p,
                   c->by_plot.p_least);
    const char *out = arena_text(arena, text_get(&words));
    text_free(&words);
    return out;
}

enum outcome evidence_curves(const struct plot_lives *lives, size_t n_plots, const size_t *group, const char *const *names, size_t n_groups,
                             double level, struct arena *arena, struct group_curves *out, struct failure *why)
{
    struct group_curves c = {.groups = arena_array(arena, n_groups, sizeof *c.groups),
                             .n = n_groups,
                             .logrank = {.test = test_unknown()},
                             .difference = estimate_unknown(),
                             .welch = test_unknown()};
    struct pool pool = {.n = 0};
    size_t filled = 0, several = 0;
    for (size_t g = 0; g < n_groups; g++)
        c.groups[g].name = names[g];
    enum outcome outcome = pool_fill(lives, n_plots, group, arena, &pool, &c, why);
    for (size_t g = 0; outcome == OUTCOME_OK && g < n_groups; g++) {
        outcome = group_fill(&pool, g, level, arena, &c.groups[g], why);
        c.groups[g].per_year = mean_by_plot(pool.annual, pool.annual_group, pool.n_annual, g, level);
        c.groups[g].share = mean_by_plot(pool.share, pool.share_group, pool.n_share, g, level);
        c.groups[g].annual = annual_of(&c.groups[g].km);
        filled += c.groups[g].plants > 0;
        several += c.groups[g].plots > 1;
    }
    if (outcome == OUTCOME_OK && pool.n == 0) {
        fail(why, OUTCOME_DATA, "No plot has two censuses, so nothing is known of lives over time.");
        return failure_remedy(why, "Import a second census.");
    }
    if (outcome == OUTCOME_OK && filled == n_groups && n_groups > 1) {
        struct lives all = {.n = pool.n, .time = pool.time, .died = pool.died, .group = pool.group};
        struct interval_lives intervals = {.n = pool.n, .left = pool.left, .right = pool.right};
        struct failure none;
        outcome = survival_logrank(&all, n_groups, 0, arena, &c.logrank, why);
        c.has_interval_test =
            outcome == OUTCOME_OK && survival_interval_test(&intervals, pool.group, n_groups, NULL, SCORES_SUN, FORM_PERMUTATION, 1, 0,
                                                            arena, &c.interval_test, &none) == OUTCOME_OK;
    }
    if (outcome == OUTCOME_OK && several > 1 && several == n_groups) {
        outcome = permute_groups(pool.annual, pool.annual_group, NULL, pool.n_annual, n_groups, 9999, 1, &c.by_plot, why);
        c.has_by_plot = outcome == OUTCOME_OK;
    }
    if (outcome == OUTCOME_OK && n_groups == 2)
        outcome = difference_fill(&pool, level, arena, &c, why);
    if (outcome == OUTCOME_OK)
        rung_fill(lives, n_plots, group, &c);
    c.sentence = outcome == OUTCOME_OK ? curves_sentence(&c, arena) : NULL;
    *out = c;
    return outcome;
}
