/* SPDX-License-Identifier: GPL-3.0-or-later
 * Several causes of death: cumulative incidence from exact times and from common visits. */
#include "stats/order.h"
#include "stats/survival.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

static void curve_room(struct incidence_curve *c, size_t rows, size_t causes, struct arena *arena)
{
    c->causes = causes;
    c->time = arena_array(arena, rows, sizeof(double));
    c->at_risk = arena_array(arena, rows, sizeof(double));
    c->survival = arena_array(arena, rows, sizeof(double));
    double **wide[] = {&c->incidence, &c->se, &c->low, &c->high};
    for (size_t i = 0; i < 4; i++)
        *wide[i] = arena_array(arena, rows * causes, sizeof(double));
}

static void limits_set(struct incidence_curve *c, size_t at, double z)
{
    double f = c->incidence[at], se = c->se[at];
    c->low[at] = c->high[at] = unknown_real();
    if (!(f > 0 && f < 1 && se > 0))
        return;
    double shift = z * se / (f * log(f));
    c->low[at] = pow(f, exp(-shift));
    c->high[at] = pow(f, exp(shift));
}

/* Sums over steps that the variance of incidence at a later time is a quadratic in: Σ a_j (I(t) − I_j)² + Σ b_j − 2 Σ c_j (I(t) − I_j). */
struct variance_sums {
    double a, a1, a2, b, c, c1;
};

static double variance_at(const struct variance_sums *v, double incidence)
{
    double first = v->a * incidence * incidence - 2 * incidence * v->a1 + v->a2;
    return fmax(0, first + v->b - 2 * (incidence * v->c - v->c1));
}

static void variance_add(struct variance_sums *v, double a, double b, double c, double incidence)
{
    v->a += a;
    v->a1 += a * incidence;
    v->a2 += a * incidence * incidence;
    v->b += b;
    v->c += c;
    v->c1 += c * incidence;
}

/* One time: d[k] deaths by cause among n. `aalen`: the cause and all others together as two counting processes that do not
 * jump together, with n − 1 (as R's cmprsk); else multinomial, with n (delta method). */
static void step(struct incidence_curve *curve, struct variance_sums *v, double before, const double *d, double n, bool aalen, double z)
{
    size_t row = curve->n, causes = curve->causes;
    double all = 0, less = aalen ? n - 1 : n;
    for (size_t k = 0; k < causes; k++)
        all += d[k];
    bool ends = all >= n * (1 - 1e-12);
    curve->survival[row] = ends ? 0 : before * (1 - all / n);
    for (size_t k = 0; k < causes; k++) {
        size_t at = row * causes + k;
        double f = (row > 0 ? curve->incidence[at - causes] : 0) + before * d[k] / n;
        curve->incidence[at] = f;
        double others = all - d[k], binomial = d[k] * (n - d[k]) + others * (n - others);
        double a = ends || less <= 0 ? 0 : aalen ? binomial / (less * (n - all) * (n - all)) : all / (less * (n - all));
        /* the last plant alone: cmprsk takes the factor for ties, (n − d)/(n − 1), as 1 */
        double ties = n > 1 ? (n - d[k]) / less : 1, b = before * before * d[k] / (n * n) * ties;
        double c = ends || less <= 0 ? 0 : aalen ? before * d[k] * (n - d[k]) / (n * (n - all) * less) : before * d[k] / (n * n);
        variance_add(&v[k], a, b, c, f);
        curve->se[at] = sqrt(variance_at(&v[k], f));
        limits_set(curve, at, z);
    }
    curve->n++;
}

enum outcome incidence_aalen_johansen(const double *time, const size_t *cause, const double *weight, size_t n, size_t causes, double level,
                                      struct arena *arena, struct incidence_curve *out, struct failure *why)
{
    enum outcome outcome = level_check(level, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (n == 0 || causes == 0)
        return fail(why, OUTCOME_DATA, "There are no lives, or no causes, to follow.");
    double risk = 0;
    for (size_t i = 0; i < n; i++) {
        if (!(time[i] >= 0) || !isfinite(time[i]))
            return fail(why, OUTCOME_DATA, "Life %zu ends at time %g; times must be known and not before the start.", i + 1, time[i]);
        require(cause[i] <= causes);
        risk += weight == NULL ? 1 : weight[i];
    }
    size_t *index = order_by(time, NULL, n);
    curve_room(out, n, causes, arena);
    out->n = 0;
    struct variance_sums *v = arena_array(arena, causes, sizeof *v);
    double *d = arena_array(arena, causes + 1, sizeof *d), survival = 1, z = normal_quantile(1 - (1 - level) / 2);
    for (size_t i = 0; i < n;) {
        double t = time[index[i]], all = 0;
        memset(d, 0, (causes + 1) * sizeof *d);
        for (; i < n && time[index[i]] == t; i++) {
            double w = weight == NULL ? 1 : weight[index[i]];
            d[cause[index[i]]] += w;
            all += w;
        }
        if (all == 0)
            continue;
        out->time[out->n] = t;
        out->at_risk[out->n] = risk;
        step(out, v, survival, d + 1, risk, true, z);
        survival = out->survival[out->n - 1];
        risk -= all;
    }
    free(index);
    return OUTCOME_OK;
}

enum outcome incidence_life_table(const double *visit, const double *at_risk, const double *deaths, size_t visits, size_t causes,
                                  double level, struct arena *arena, struct incidence_curve *out, struct failure *why)
{
    enum outcome outcome = level_check(level, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (visits == 0 || causes == 0)
        return fail(why, OUTCOME_DATA, "There are no visits, or no causes, to follow.");
    for (size_t i = 0; i < visits; i++) {
        double all = 0;
        for (size_t k = 0; k < causes; k++) {
            if (!(deaths[i * causes + k] >= 0))
                return fail(why, OUTCOME_DATA, "Visit %zu has a negative number of deaths.", i + 1);
            all += deaths[i * causes + k];
        }
        if (!(at_risk[i] > 0) || all > at_risk[i])
            return fail(why, OUTCOME_DATA, "Visit %zu has %g deaths among %g plants at risk.", i + 1, all, at_risk[i]);
        if (i > 0 && !(visit[i] > visit[i - 1]))
            return fail(why, OUTCOME_DATA, "Visit %zu is not later than the one before.", i + 1);
    }
    curve_room(out, visits, causes, arena);
    out->n = 0;
    struct variance_sums *v = arena_array(arena, causes, sizeof *v);
    double survival = 1, z = normal_quantile(1 - (1 - level) / 2);
    for (size_t i = 0; i < visits; i++) {
        out->time[i] = visit[i];
        out->at_risk[i] = at_risk[i];
        step(out, v, survival, deaths + i * causes, at_risk[i], false, z);
        survival = out->survival[i];
    }
    return OUTCOME_OK;
}
