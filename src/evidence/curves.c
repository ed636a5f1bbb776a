/* SPDX-License-Identifier: GPL-3.0-or-later
 * Survival over time of groups of plots: by plants, and honestly by plots. */
#include "evidence/curves.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double ROUND_YEARS = 0.35; ///< looks at different plots no further apart may belong to one round

static const char *const cause_words[] = {
    "no cause recorded",         "drought", "wet, frost, salt or wind", "browsing and gnawing", "insects and fungi",
    "people, machines and dogs", "shade"};

const char *death_cause_words(enum death_cause cause)
{
    return cause_words[cause];
}

enum death_cause death_cause_of(enum damage_agent damage)
{
    switch (damage) {
    case DAMAGE_AGENT_DROUGHT:
        return DEATH_DROUGHT;
    case DAMAGE_AGENT_WATERLOGGING:
    case DAMAGE_AGENT_FROST_SALT:
    case DAMAGE_AGENT_WIND:
        return DEATH_WEATHER;
    case DAMAGE_AGENT_BROWSE_DEER:
    case DAMAGE_AGENT_BROWSE_RABBIT:
    case DAMAGE_AGENT_VOLE_BARK:
        return DEATH_BROWSING;
    case DAMAGE_AGENT_INSECT:
    case DAMAGE_AGENT_FUNGAL:
        return DEATH_PEST;
    case DAMAGE_AGENT_MOWER_STRIMMER:
    case DAMAGE_AGENT_VANDAL_SNAPPED:
    case DAMAGE_AGENT_VANDAL_PULLED:
    case DAMAGE_AGENT_VANDAL_BURNT:
    case DAMAGE_AGENT_TRAMPLING:
    case DAMAGE_AGENT_DOG:
        return DEATH_PEOPLE;
    case DAMAGE_AGENT_COMPETITION_SHADE:
        return DEATH_SHADE;
    default:
        return DEATH_NOT_RECORDED;
    }
}

/* One look at one plot: years after planting, and the time of the round it belongs to. */
struct look {
    size_t plot;
    double time, round;
};

/* Columns over all plants of all groups. */
struct pool {
    struct look *looks;
    size_t n_looks;
    double *time, *left, *right, *open, *end;
    bool *died;
    size_t *group, *plot, *site, *cause, n;
    double *annual, *share; ///< of plots
    size_t *annual_group, *annual_site, *share_group, n_annual, n_share;
    const struct site **sites;
    size_t n_sites;
};

static size_t site_index(struct pool *pool, const struct site *site)
{
    size_t at = 0;
    while (at < pool->n_sites && pool->sites[at] != site)
        at++;
    if (at == pool->n_sites)
        pool->sites[pool->n_sites++] = site;
    return at;
}

static struct pool pool_room(const struct plot_lives *lives, size_t n_plots, const size_t *group, struct arena *arena)
{
    size_t room = 1, looks = 1;
    struct pool pool = {.n = 0};
    for (size_t i = 0; i < n_plots; i++) {
        room += group[i] == SIZE_MAX ? 0 : lives[i].n_plants;
        looks += lives[i].n_censuses;
    }
    pool.looks = arena_array(arena, looks, sizeof *pool.looks);
    double **numbers[] = {&pool.time, &pool.left, &pool.right, &pool.open, &pool.end};
    size_t **labels[] = {&pool.group, &pool.plot, &pool.site, &pool.cause};
    for (size_t k = 0; k < sizeof numbers / sizeof *numbers; k++)
        *numbers[k] = arena_array(arena, room, sizeof(double));
    for (size_t k = 0; k < sizeof labels / sizeof *labels; k++)
        *labels[k] = arena_array(arena, room, sizeof(size_t));
    pool.died = arena_array(arena, room, sizeof(bool));
    pool.annual = arena_array(arena, n_plots, sizeof(double));
    pool.annual_group = arena_array(arena, n_plots, sizeof(size_t));
    pool.annual_site = arena_array(arena, n_plots, sizeof(size_t));
    pool.share = arena_array(arena, n_plots, sizeof(double));
    pool.share_group = arena_array(arena, n_plots, sizeof(size_t));
    pool.sites = arena_array(arena, n_plots, sizeof *pool.sites);
    return pool;
}

static enum outcome plot_add(const struct plot_lives *lives, size_t plot, size_t group, struct arena *arena, struct pool *pool,
                             struct group_curve *curve, struct failure *why)
{
    struct plot_curve times;
    struct plot_survival s;
    struct plot_lives copy = *lives; /* plots whose planting day is unknown start at their first census */
    if (copy.planted_on == DATE_UNKNOWN && copy.n_censuses > 0)
        copy.planted_on = copy.censuses[0].from;
    if (copy.n_censuses < 2 || copy.planted_on == DATE_UNKNOWN)
        return OUTCOME_OK;
    enum outcome outcome = evidence_times(&copy, arena, &times, why);
    if (outcome == OUTCOME_OK)
        outcome = evidence_survival(&copy, SIZE_MAX, 0.95, arena, &s, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    size_t site = site_index(pool, lives->site);
    curve->plots++;
    for (size_t c = 0; c < copy.n_censuses; c++)
        pool->looks[pool->n_looks++] = (struct look){plot, fmax(0, date_years(copy.planted_on, copy.censuses[c].to)), 0};
    for (size_t p = 0; p < times.n; p++) {
        size_t at = pool->n++;
        bool died = isfinite(times.right[p]);
        enum death_cause cause = died ? death_cause_of(lives->cause[times.plant[p]]) : 0;
        pool->left[at] = times.left[p];
        pool->right[at] = times.right[p];
        pool->time[at] = died ? times.right[p] : times.left[p];
        pool->open[at] = times.open[p];
        pool->end[at] = times.end[p];
        pool->died[at] = died;
        pool->group[at] = group;
        pool->plot[at] = plot;
        pool->site[at] = site;
        pool->cause[at] = cause;
        curve->plants++;
        curve->deaths += died;
        curve->died_of[cause] += died;
        curve->open += is_known(times.open[p]);
        curve->end = fmax(curve->end, times.end[p]);
    }
    if (is_known(s.annual.value)) {
        pool->annual[pool->n_annual] = s.annual.value;
        pool->annual_site[pool->n_annual] = site;
        pool->annual_group[pool->n_annual++] = group;
    }
    if (is_known(s.survival.value)) {
        pool->share[pool->n_share] = s.survival.value;
        pool->share_group[pool->n_share++] = group;
    }
    return OUTCOME_OK;
}

static int by_time(const void *a, const void *b)
{
    const struct look *x = a, *y = b;
    return x->time != y->time ? (x->time > y->time) - (x->time < y->time) : (x->plot > y->plot) - (x->plot < y->plot);
}

static int by_plot(const void *a, const void *b)
{
    const struct look *x = a, *y = b;
    return x->plot != y->plot ? (x->plot > y->plot) - (x->plot < y->plot) : by_time(a, b);
}

static double round_of(const struct pool *pool, size_t plot, double time)
{
    struct look key = {plot, time, 0};
    const struct look *found = bsearch(&key, pool->looks, pool->n_looks, sizeof key, by_plot);
    return found == NULL ? time : found->round;
}

/* Looks of one round are a few weeks apart from plot to plot. Dated each to its own day, the plots seen first would leave the count as
 * alive just before deaths of the same season are found elsewhere, and the curve would fall too far. So each round gets one
 * time, that of its last look; no round holds two looks at one plot. */
static void rounds_settle(struct pool *pool, size_t n_plots, struct arena *arena)
{
    size_t *seen = arena_array(arena, n_plots, sizeof *seen), round = 0;
    qsort(pool->looks, pool->n_looks, sizeof *pool->looks, by_time);
    for (size_t from = 0, to = 0; from < pool->n_looks; from = to) {
        round++;
        for (to = from;
             to < pool->n_looks && pool->looks[to].time <= pool->looks[from].time + ROUND_YEARS && seen[pool->looks[to].plot] != round;
             to++)
            seen[pool->looks[to].plot] = round;
        for (size_t i = from; i < to; i++)
            pool->looks[i].round = pool->looks[to - 1].time;
    }
    qsort(pool->looks, pool->n_looks, sizeof *pool->looks, by_plot);
    for (size_t i = 0; i < pool->n; i++) {
        pool->time[i] = round_of(pool, pool->plot[i], pool->time[i]);
        pool->end[i] = round_of(pool, pool->plot[i], pool->end[i]);
        if (is_known(pool->open[i]))
            pool->open[i] = round_of(pool, pool->plot[i], pool->open[i]);
    }
}

/* ---- one group ---- */

struct group_rows {
    size_t n, *plot, *cause;
    double *time, *left, *right, *open, *end;
    bool *died;
};

static struct group_rows rows_of(const struct pool *pool, size_t which, struct arena *arena)
{
    struct group_rows r = {.n = 0};
    size_t room = 1;
    for (size_t i = 0; i < pool->n; i++)
        room += pool->group[i] == which;
    double **numbers[] = {&r.time, &r.left, &r.right, &r.open, &r.end};
    const double *from[] = {pool->time, pool->left, pool->right, pool->open, pool->end};
    for (size_t k = 0; k < 5; k++)
        *numbers[k] = arena_array(arena, room, sizeof(double));
    r.plot = arena_array(arena, room, sizeof(size_t));
    r.cause = arena_array(arena, room, sizeof(size_t));
    r.died = arena_array(arena, room, sizeof(bool));
    for (size_t i = 0; i < pool->n; i++) {
        if (pool->group[i] != which)
            continue;
        for (size_t k = 0; k < 5; k++)
            (*numbers[k])[r.n] = from[k][i];
        r.plot[r.n] = pool->plot[i];
        r.cause[r.n] = pool->cause[i];
        r.died[r.n++] = pool->died[i];
    }
    return r;
}

/* The curve with plants not found dead when first missed with chance q, else alive to the end. */
static enum outcome open_curve(const struct group_rows *r, double q, double level, struct arena *arena, struct survival_curve *out,
                               struct failure *why)
{
    double *time = arena_array(arena, 2 * r->n, sizeof *time), *weight = arena_array(arena, 2 * r->n, sizeof *weight);
    bool *died = arena_array(arena, 2 * r->n, sizeof *died);
    size_t n = 0;
    for (size_t i = 0; i < r->n; i++) {
        bool open = is_known(r->open[i]);
        if (!open || q > 0) {
            time[n] = open ? r->open[i] : r->time[i];
            died[n] = open || r->died[i];
            weight[n++] = open ? q : 1;
        }
        if (open && q < 1) {
            time[n] = r->end[i];
            died[n] = false;
            weight[n++] = 1 - q;
        }
    }
    struct lives lives = {.n = n, .time = time, .died = died, .weight = weight};
    return survival_kaplan_meier(&lives, SURVIVAL_LOGLOG, level, arena, out, why);
}

static enum outcome causes_fill(const struct group_rows *r, double level, struct arena *arena, struct group_curve *out, struct failure *why)
{
    size_t place[DEATH_CAUSES] = {0}, n = 0, *cause = arena_array(arena, r->n, sizeof *cause);
    for (size_t k = 0; k < DEATH_CAUSES; k++)
        if (out->died_of[k] > 0) {
            out->cause_of[n] = (enum death_cause)k;
            place[k] = ++n;
        }
    if (n == 0)
        return OUTCOME_OK;
    for (size_t i = 0; i < r->n; i++)
        cause[i] = r->died[i] ? place[r->cause[i]] : 0;
    return incidence_aalen_johansen(r->time, cause, NULL, r->n, n, level, arena, &out->causes, why);
}

/* Survival at the end under weights, as the bootstrap asks for it; lives of a plot that are alike are put together beforehand. */
struct alike {
    size_t n, *plot;
    double *time, *weight, end;
    bool *died;
};

static int by_all(const void *a, const void *b)
{
    const double *x = a, *y = b;
    for (int k = 0; k < 3; k++)
        if (x[k] != y[k])
            return x[k] < y[k] ? -1 : 1;
    return 0;
}

static struct alike alike_make(const struct group_rows *r, double end, struct arena *arena)
{
    double *key = arena_array(arena, 3 * r->n, sizeof *key);
    struct alike a = {.plot = arena_array(arena, r->n, sizeof(size_t)),
                      .time = arena_array(arena, r->n, sizeof(double)),
                      .weight = arena_array(arena, r->n, sizeof(double)),
                      .died = arena_array(arena, r->n, sizeof(bool)),
                      .end = end};
    for (size_t i = 0; i < r->n; i++) {
        key[3 * i] = (double)r->plot[i];
        key[3 * i + 1] = r->time[i];
        key[3 * i + 2] = r->died[i];
    }
    qsort(key, r->n, 3 * sizeof *key, by_all);
    for (size_t i = 0; i < r->n; i++) {
        if (i == 0 || by_all(key + 3 * i, key + 3 * i - 3) != 0) {
            a.plot[a.n] = (size_t)key[3 * i];
            a.time[a.n] = key[3 * i + 1];
            a.died[a.n++] = key[3 * i + 2] > 0;
        }
        a.weight[a.n - 1]++;
    }
    return a;
}

static enum outcome end_survival(void *data, const double *weight, double *out, struct failure *why)
{
    const struct alike *a = data;
    struct arena arena = {0};
    struct survival_curve curve;
    double *both = arena_array(&arena, a->n, sizeof *both);
    for (size_t i = 0; i < a->n; i++)
        both[i] = weight[i] * a->weight[i];
    struct lives lives = {.n = a->n, .time = a->time, .died = a->died, .weight = both};
    enum outcome outcome = survival_kaplan_meier(&lives, SURVIVAL_LOGLOG, 0.95, &arena, &curve, why);
    if (outcome == OUTCOME_OK)
        out[0] = curve.n == 0 ? 1 : curve.survival[curve.n - 1];
    arena_clear(&arena);
    return outcome;
}

static enum outcome group_fill(const struct pool *pool, size_t which, const struct curves_wish *wish, struct arena *arena,
                               struct group_curve *out, struct failure *why)
{
    struct group_rows r = rows_of(pool, which, arena);
    out->by_plot = estimate_unknown();
    if (r.n == 0)
        return OUTCOME_OK;
    struct lives lives = {.n = r.n, .time = r.time, .died = r.died};
    struct interval_lives intervals = {.n = r.n, .left = r.left, .right = r.right};
    enum outcome outcome = survival_kaplan_meier(&lives, SURVIVAL_LOGLOG, wish->level, arena, &out->km, why);
    if (outcome == OUTCOME_OK)
        outcome = survival_turnbull(&intervals, arena, &out->interval, why);
    if (outcome == OUTCOME_OK && out->open > 0)
        outcome = open_curve(&r, 1, wish->level, arena, &out->worst, why);
    if (outcome == OUTCOME_OK && out->open > 0)
        outcome = open_curve(&r, 0, wish->level, arena, &out->best, why);
    if (outcome == OUTCOME_OK && out->open > 0 && is_known(wish->not_found_dead))
        outcome = open_curve(&r, wish->not_found_dead, wish->level, arena, &out->stated, why);
    if (outcome == OUTCOME_OK)
        outcome = causes_fill(&r, wish->level, arena, out, why);
    if (outcome == OUTCOME_OK && out->plots >= 5) {
        struct alike alike = alike_make(&r, out->end, arena);
        size_t failed = 0;
        outcome = bootstrap_clusters(end_survival, &alike, alike.plot, NULL, alike.n, 1, wish->draws == 0 ? 400 : wish->draws, wish->seed,
                                     bootstrap_level(wish->level, out->plots), NULL, &out->by_plot, &failed, why);
    }
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
    struct failure none; /* plots that are all alike give no spread to judge by: the test stays unknown */
    enum outcome outcome = welch_difference(side[0], n[0], side[1], n[1], level, &out->difference, &out->welch, &none);
    if (outcome == OUTCOME_USAGE)
        *why = none;
    return outcome == OUTCOME_USAGE ? outcome : OUTCOME_OK;
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

/* ---- groups against each other ---- */

/* Whether some site has plants of more than one group: only then do strata compare anything. */
static bool groups_meet(const struct pool *pool)
{
    size_t *first = memory_get(pool->n_sites + 1, sizeof *first);
    bool meet = false;
    for (size_t s = 0; s < pool->n_sites; s++)
        first[s] = SIZE_MAX;
    for (size_t i = 0; i < pool->n && !meet; i++) {
        size_t *seen = &first[pool->site[i]];
        meet = *seen != SIZE_MAX && *seen != pool->group[i];
        *seen = pool->group[i];
    }
    free(first);
    return meet;
}

static enum outcome groups_test(const struct pool *pool, size_t n_groups, struct arena *arena, struct group_curves *c, struct failure *why)
{
    struct lives all = {.n = pool->n, .time = pool->time, .died = pool->died, .group = pool->group};
    struct interval_lives intervals = {.n = pool->n, .left = pool->left, .right = pool->right};
    struct failure none;
    enum outcome outcome = survival_logrank(&all, n_groups, 0, arena, &c->logrank, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    c->has_interval_test = survival_interval_test(&intervals, pool->group, n_groups, NULL, SCORES_SUN, FORM_PERMUTATION, 1, 0, arena,
                                                  &c->interval_test, &none) == OUTCOME_OK;
    if (pool->n_sites < 2 || !groups_meet(pool))
        return OUTCOME_OK;
    all.stratum = pool->site;
    outcome = survival_logrank(&all, n_groups, 0, arena, &c->logrank_sites, why);
    c->has_sites = outcome == OUTCOME_OK && survival_interval_test(&intervals, pool->group, n_groups, pool->site, SCORES_SUN,
                                                                   FORM_PERMUTATION, 1, 0, arena, &c->interval_sites, &none) == OUTCOME_OK;
    return outcome;
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
        text_print(&words, " With the plot as the unit, shuffling labels over %s gives p %.3f (least reachable %.2g).",
                   c->sites > 1 && c->has_sites ? "the plots of each site" : "plots", c->by_plot.p, c->by_plot.p_least);
    const char *out = arena_text(arena, text_get(&words));
    text_free(&words);
    return out;
}

enum outcome evidence_curves(const struct plot_lives *lives, size_t n_plots, const struct curves_wish *wish, struct arena *arena,
                             struct group_curves *out, struct failure *why)
{
    size_t n_groups = wish->n_groups, filled = 0, several = 0;
    struct group_curves c = {.groups = arena_array(arena, n_groups, sizeof *c.groups),
                             .n = n_groups,
                             .logrank = {.test = test_unknown()},
                             .logrank_sites = {.test = test_unknown()},
                             .difference = estimate_unknown(),
                             .welch = test_unknown()};
    struct pool pool = pool_room(lives, n_plots, wish->group, arena);
    enum outcome outcome = OUTCOME_OK;
    for (size_t g = 0; g < n_groups; g++)
        c.groups[g].name = wish->names[g];
    if (is_known(wish->not_found_dead) && !(wish->not_found_dead >= 0 && wish->not_found_dead <= 1))
        return fail(why, OUTCOME_USAGE, "The chance that a plant not found is dead must lie between 0 and 1; it is %g.",
                    wish->not_found_dead);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n_plots; i++)
        if (wish->group[i] != SIZE_MAX)
            outcome = plot_add(&lives[i], i, wish->group[i], arena, &pool, &c.groups[wish->group[i]], why);
    if (outcome == OUTCOME_OK)
        rounds_settle(&pool, n_plots, arena);
    for (size_t g = 0; outcome == OUTCOME_OK && g < n_groups; g++) {
        outcome = group_fill(&pool, g, wish, arena, &c.groups[g], why);
        c.groups[g].per_year = mean_by_plot(pool.annual, pool.annual_group, pool.n_annual, g, wish->level);
        c.groups[g].share = mean_by_plot(pool.share, pool.share_group, pool.n_share, g, wish->level);
        c.groups[g].annual = annual_of(&c.groups[g].km);
        filled += c.groups[g].plants > 0;
        several += c.groups[g].plots > 1;
    }
    c.sites = pool.n_sites;
    if (outcome == OUTCOME_OK && pool.n == 0) {
        fail(why, OUTCOME_DATA, "No plot has two censuses, so nothing is known of lives over time.");
        return failure_remedy(why, "Import a second census.");
    }
    if (outcome == OUTCOME_OK && filled == n_groups && n_groups > 1)
        outcome = groups_test(&pool, n_groups, arena, &c, why);
    if (outcome == OUTCOME_OK && several > 1) {
        struct failure none;
        c.has_by_plot = permute_groups(pool.annual, pool.annual_group, c.has_sites ? pool.annual_site : NULL, pool.n_annual, n_groups, 9999,
                                       wish->seed, &c.by_plot, &none) == OUTCOME_OK;
    }
    if (outcome == OUTCOME_OK && n_groups == 2)
        outcome = difference_fill(&pool, wish->level, arena, &c, why);
    if (outcome == OUTCOME_OK)
        rung_fill(lives, n_plots, wish->group, &c);
    c.sentence = outcome == OUTCOME_OK ? curves_sentence(&c, arena) : NULL;
    *out = c;
    return outcome;
}
