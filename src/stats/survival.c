/* SPDX-License-Identifier: GPL-3.0-or-later
 * Lives known to the day: the Kaplan–Meier curve, what is read off it, and the log-rank family. */
#include "stats/survival.h"
#include "stats/dense.h"
#include "stats/order.h"
#include "stats/proportion.h"
#include <math.h>
#include <stdlib.h>

static enum outcome lives_check(const struct lives *lives, struct failure *why)
{
    if (lives->n == 0)
        return fail(why, OUTCOME_DATA, "There are no lives to follow.");
    for (size_t i = 0; i < lives->n; i++) {
        if (!(lives->time[i] >= 0) || !isfinite(lives->time[i]))
            return fail(why, OUTCOME_DATA, "Life %zu ends at time %g; times must be known and not before the start.", i + 1,
                        lives->time[i]);
        if (lives->weight != NULL && !(lives->weight[i] >= 0 && isfinite(lives->weight[i])))
            return fail(why, OUTCOME_DATA, "Life %zu has the weight %g.", i + 1, lives->weight[i]);
    }
    return OUTCOME_OK;
}

static double weight_of(const double *weight, size_t i)
{
    return weight == NULL ? 1 : weight[i];
}

static void limits_set(struct survival_curve *c, size_t i, double spread, enum survival_interval interval, double z)
{
    double s = c->survival[i], unknown = unknown_real();
    c->se[i] = s > 0 ? s * sqrt(spread) : unknown;
    c->low[i] = c->high[i] = unknown;
    if (!(s > 0) || spread == 0)
        return;
    if (interval == SURVIVAL_LOG) {
        c->low[i] = s * exp(-z * sqrt(spread));
        c->high[i] = fmin(1, s * exp(z * sqrt(spread)));
    } else {
        double shift = z * sqrt(spread) / log(s);
        c->low[i] = pow(s, exp(-shift));
        c->high[i] = pow(s, exp(shift));
    }
}

enum outcome survival_kaplan_meier(const struct lives *lives, enum survival_interval interval, double level, struct arena *arena,
                                   struct survival_curve *out, struct failure *why)
{
    enum outcome outcome = lives_check(lives, why);
    if (outcome != OUTCOME_OK || (outcome = level_check(level, why)) != OUTCOME_OK)
        return outcome;
    size_t n = lives->n, *index = order_by(lives->time, NULL, n);
    double **columns[] = {&out->time, &out->at_risk, &out->deaths, &out->censored, &out->survival, &out->se, &out->low, &out->high};
    for (size_t c = 0; c < sizeof columns / sizeof *columns; c++)
        *columns[c] = arena_array(arena, n, sizeof(double));
    double risk = 0, survival = 1, spread = 0, z = normal_quantile(1 - (1 - level) / 2);
    for (size_t i = 0; i < n; i++)
        risk += weight_of(lives->weight, i);
    out->start_n = risk;
    out->level = level;
    out->n = 0;
    for (size_t i = 0; i < n;) {
        double t = lives->time[index[i]], died = 0, left = 0;
        for (; i < n && lives->time[index[i]] == t; i++)
            *(lives->died[index[i]] ? &died : &left) += weight_of(lives->weight, index[i]);
        if (died + left == 0)
            continue;
        size_t row = out->n++;
        out->time[row] = t;
        out->at_risk[row] = risk;
        out->deaths[row] = died;
        out->censored[row] = left;
        bool all = died >= risk * (1 - 1e-12);
        survival = all ? 0 : survival * (1 - died / risk);
        spread += all ? 0 : died / (risk * (risk - died));
        out->survival[row] = survival;
        limits_set(out, row, spread, interval, z);
        risk -= died + left;
    }
    free(index);
    return OUTCOME_OK;
}

struct estimate survival_at(const struct survival_curve *c, double t)
{
    struct estimate e = estimate_unknown();
    if (c->n == 0 || (t > c->time[c->n - 1] && c->survival[c->n - 1] > 0))
        return e;
    if (t < c->time[0])
        return (struct estimate){1, 0, unknown_real(), unknown_real(), c->start_n};
    size_t low = 0, high = c->n;
    while (high - low > 1) {
        size_t middle = (low + high) / 2;
        *(c->time[middle] <= t ? &low : &high) = middle;
    }
    double left = c->at_risk[low] - c->deaths[low];
    return (struct estimate){c->survival[low], c->se[low], c->low[low], c->high[low], left};
}

/* First time at which the column is at or below q; half way to the next step where it is just q. */
static double crossing(const struct survival_curve *c, const double *column, double q)
{
    const double close = 1e-9;
    for (size_t i = 0; i < c->n; i++) {
        if (!(column[i] <= q + close))
            continue;
        if (fabs(column[i] - q) > close)
            return c->time[i];
        for (size_t k = i + 1; k < c->n; k++)
            if (c->deaths[k] > 0)
                return (c->time[i] + c->time[k]) / 2;
        return c->time[i];
    }
    return unknown_real();
}

struct estimate survival_quantile(const struct survival_curve *c, double q)
{
    return (struct estimate){crossing(c, c->survival, q), unknown_real(), crossing(c, c->low, q), crossing(c, c->high, q), c->start_n};
}

struct estimate survival_restricted_mean(const struct survival_curve *c, double until)
{
    if (!(until > 0) || c->n == 0 || (until > c->time[c->n - 1] && c->survival[c->n - 1] > 0))
        return estimate_unknown();
    double area = 0, spread = 0, before = until;
    size_t last = c->n;
    while (last > 0 && c->time[last - 1] >= until)
        last--;
    for (size_t i = last; i-- > 0;) {
        area += c->survival[i] * (before - c->time[i]);
        before = c->time[i];
        if (c->at_risk[i] - c->deaths[i] > 1e-12 * c->at_risk[i])
            spread += area * area * c->deaths[i] / (c->at_risk[i] * (c->at_risk[i] - c->deaths[i]));
    }
    struct estimate e = estimate_normal(area + before, sqrt(spread), c->level, c->start_n);
    e.low = fmax(0, e.low);
    e.high = fmin(until, e.high);
    return e;
}

struct logrank {
    const struct lives *lives;
    const size_t *index;
    size_t groups;
    double rho;
    double *risk;
    struct group_test *out;
};

static void logrank_step(struct logrank *k, double *survival, double died, double *died_in)
{
    struct group_test *out = k->out;
    size_t g = k->groups;
    double all = 0, weight = pow(*survival, k->rho);
    for (size_t a = 0; a < g; a++)
        all += k->risk[a];
    for (size_t a = 0; a < g; a++) {
        out->observed[a] += weight * died_in[a];
        out->expected[a] += weight * died * k->risk[a] / all;
        died_in[a] = 0;
        if (all <= 1)
            continue;
        double factor = weight * weight * died * (all - died) / (all - 1) * k->risk[a] / all;
        for (size_t b = 0; b < g; b++)
            out->variance[a * g + b] += factor * ((a == b ? 1 : 0) - k->risk[b] / all);
    }
    *survival *= 1 - died / all;
}

/* One stratum: index[from … to) sorted by time. */
static void logrank_stratum(struct logrank *k, size_t from, size_t to, double *died_in)
{
    const struct lives *lives = k->lives;
    for (size_t i = from; i < to; i++) {
        size_t at = k->index[i], group = lives->group[at];
        k->risk[group] += weight_of(lives->weight, at);
        k->out->at_start[group] += weight_of(lives->weight, at);
    }
    double survival = 1;
    for (size_t i = from; i < to;) {
        double t = lives->time[k->index[i]], died = 0;
        size_t end = i;
        for (; end < to && lives->time[k->index[end]] == t; end++)
            if (lives->died[k->index[end]]) {
                died += weight_of(lives->weight, k->index[end]);
                died_in[lives->group[k->index[end]]] += weight_of(lives->weight, k->index[end]);
            }
        if (died > 0)
            logrank_step(k, &survival, died, died_in);
        for (; i < end; i++)
            k->risk[lives->group[k->index[i]]] -= weight_of(lives->weight, k->index[i]);
    }
    for (size_t a = 0; a < k->groups; a++)
        k->risk[a] = 0;
}

enum outcome survival_logrank(const struct lives *lives, size_t groups, double rho, struct arena *arena, struct group_test *out,
                              struct failure *why)
{
    enum outcome outcome = lives_check(lives, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (groups < 2 || lives->group == NULL)
        return fail(why, OUTCOME_USAGE, "A comparison needs at least two groups.");
    for (size_t i = 0; i < lives->n; i++)
        require(lives->group[i] < groups);
    out->groups = groups;
    out->at_start = arena_array(arena, groups, sizeof(double));
    out->observed = arena_array(arena, groups, sizeof(double));
    out->expected = arena_array(arena, groups, sizeof(double));
    out->variance = arena_array(arena, groups * groups, sizeof(double));
    size_t *index = order_by(lives->time, lives->stratum, lives->n);
    double *risk = memory_get(groups, sizeof *risk), *died_in = memory_get(groups, sizeof *died_in);
    for (size_t a = 0; a < groups; a++)
        risk[a] = died_in[a] = 0;
    struct logrank k = {lives, index, groups, rho, risk, out};
    for (size_t from = 0, to = 0; from < lives->n; from = to) {
        while (to < lives->n && (lives->stratum == NULL || lives->stratum[index[to]] == lives->stratum[index[from]]))
            to++;
        logrank_stratum(&k, from, to, died_in);
    }
    size_t rank = 0;
    for (size_t a = 0; a < groups; a++)
        died_in[a] = out->observed[a] - out->expected[a];
    double statistic = dense_wald(died_in, out->variance, groups, &rank);
    free(index);
    free(risk);
    free(died_in);
    if (rank == 0) {
        fail(why, OUTCOME_DATA, "Nobody died while plants of more than one group were at risk: the groups cannot be compared.");
        return OUTCOME_DATA;
    }
    out->test = (struct test){statistic, (double)rank, unknown_real(), chisq_upper(statistic, (double)rank)};
    return OUTCOME_OK;
}

enum outcome survival_annual(double alive, double n, double years, double level, struct estimate *out, struct failure *why)
{
    struct estimate p;
    if (!(years > 0 && isfinite(years)))
        return fail(why, OUTCOME_DATA, "Survival per year needs a span of years above 0; it is %g.", years);
    enum outcome outcome = proportion_wilson(alive, n, level, false, &p, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    double each = 1 / years, yearly = pow(p.value, each);
    *out = (struct estimate){yearly, p.value > 0 ? p.se * each * yearly / p.value : unknown_real(), pow(p.low, each), pow(p.high, each), n};
    return OUTCOME_OK;
}
