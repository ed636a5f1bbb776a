/* SPDX-License-Identifier: GPL-3.0-or-later
 * Survival over time of groups of plots: by plants, and honestly by plots. */
#include "evidence/evidence.h"
#include <math.h>
#include <string.h>

/* Columns over all plants of all groups. */
struct pool {
    double *time, *left, *right;
    bool *died;
    size_t *group, n;
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
                              struct group_curves *out, double *annual, size_t *annual_group, size_t *n_annual, struct failure *why)
{
    size_t room = 0;
    for (size_t i = 0; i < n_plots; i++)
        room += lives[i].n_plants;
    pool->time = arena_array(arena, room, sizeof *pool->time);
    pool->left = arena_array(arena, room, sizeof *pool->left);
    pool->right = arena_array(arena, room, sizeof *pool->right);
    pool->died = arena_array(arena, room, sizeof *pool->died);
    pool->group = arena_array(arena, room, sizeof *pool->group);
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
            annual[*n_annual] = s.annual.value;
            annual_group[(*n_annual)++] = group[i];
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

static void per_year_fill(const double *annual, const size_t *group, size_t n, size_t which, double level, struct estimate *out)
{
    double sum = 0, squares = 0;
    size_t m = 0;
    *out = estimate_unknown();
    for (size_t i = 0; i < n; i++)
        if (group[i] == which) {
            sum += annual[i];
            m++;
        }
    if (m == 0)
        return;
    double mean = sum / (double)m;
    for (size_t i = 0; i < n; i++)
        if (group[i] == which)
            squares += (annual[i] - mean) * (annual[i] - mean);
    out->value = mean;
    out->n = (double)m;
    if (m > 1)
        *out = estimate_student(mean, sqrt(squares / (double)(m - 1) / (double)m), (double)m - 1, level, (double)m);
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
    struct group_curves c = {.groups = arena_array(arena, n_groups, sizeof *c.groups), .n = n_groups, .logrank = {.test = test_unknown()}};
    struct pool pool = {.n = 0};
    double *annual = arena_array(arena, n_plots, sizeof *annual);
    size_t *annual_group = arena_array(arena, n_plots, sizeof *annual_group), n_annual = 0, filled = 0, several = 0;
    for (size_t g = 0; g < n_groups; g++)
        c.groups[g].name = names[g];
    enum outcome outcome = pool_fill(lives, n_plots, group, arena, &pool, &c, annual, annual_group, &n_annual, why);
    for (size_t g = 0; outcome == OUTCOME_OK && g < n_groups; g++) {
        outcome = group_fill(&pool, g, level, arena, &c.groups[g], why);
        per_year_fill(annual, annual_group, n_annual, g, level, &c.groups[g].per_year);
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
        outcome = permute_groups(annual, annual_group, NULL, n_annual, n_groups, 9999, 1, &c.by_plot, why);
        c.has_by_plot = outcome == OUTCOME_OK;
    }
    c.sentence = outcome == OUTCOME_OK ? curves_sentence(&c, arena) : NULL;
    *out = c;
    return outcome;
}
