/* SPDX-License-Identifier: GPL-3.0-or-later
 * Forecasts held against what came: coverage of ranges, the continuous ranked probability score, bias. */
#include "stand/stand.h"
#include <math.h>
#include <stdlib.h>

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

double stand_crps(double *x, size_t n, double seen)
{
    double near = 0, apart = 0;
    qsort(x, n, sizeof *x, ascending);
    for (size_t i = 0; i < n; i++) {
        near += fabs(x[i] - seen);
        apart += (2.0 * (double)i - (double)n + 1) * x[i]; /* half of the sum of |x − x'| over pairs */
    }
    return n == 0 ? unknown_real() : near / (double)n - apart / ((double)n * (double)n);
}

double stand_crps_counts(size_t n, double a, double b, size_t seen)
{
    double m = (double)n, below = 0, sum = 0, base = lgamma(m + 1) + lgamma(a + b) - lgamma(a) - lgamma(b) - lgamma(m + a + b);
    for (size_t k = 0; k < n; k++) {
        double x = (double)k;
        below += exp(base - lgamma(x + 1) - lgamma(m - x + 1) + lgamma(x + a) + lgamma(m - x + b));
        double off = below - (k >= seen ? 1 : 0);
        sum += off * off;
    }
    return sum;
}

double stand_crps_normal(double mean, double sd, double seen)
{
    if (!(sd > 0))
        return fabs(mean - seen);
    double z = (seen - mean) / sd, over = 0.5 * erfc(-z / sqrt(2.0)), height = exp(-0.5 * z * z) / sqrt(2 * 3.14159265358979323846);
    return sd * (z * (2 * over - 1) + 2 * height - 1 / sqrt(3.14159265358979323846));
}

double stand_crps_quantiles(const double *q, size_t n, double seen)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++) {
        double level = (double)(i + 1) / (double)(n + 1);
        sum += seen >= q[i] ? level * (seen - q[i]) : (1 - level) * (q[i] - seen);
    }
    return n == 0 ? unknown_real() : 2 * sum / (double)n;
}

double stand_rank(const double *x, size_t n, double seen)
{
    double below = 0;
    for (size_t i = 0; i < n; i++)
        below += x[i] < seen ? 1 : x[i] > seen ? 0 : 0.5;
    return n == 0 ? unknown_real() : below / (double)n;
}

static double at_level(const double *x, size_t n, double level)
{
    double at = level * (double)(n - 1), part = at - floor(at);
    size_t low = (size_t)at, high = low + 1 < n ? low + 1 : low;
    return x[low] + part * (x[high] - x[low]);
}

struct stand_told stand_tell(const double *runs, size_t n, double seen, struct arena *arena)
{
    double *x = arena_array(arena, n + 1, sizeof *x);
    size_t kept = 0;
    for (size_t i = 0; i < n; i++)
        if (isfinite(runs[i]))
            x[kept++] = runs[i];
    struct stand_told told = {.kind = SIZE_MAX, .start = unknown_real(), .seen = seen, .plain_crps = unknown_real()};
    if (kept == 0) {
        told.middle = told.low50 = told.high50 = told.low90 = told.high90 = told.crps = told.rank = unknown_real();
        return told;
    }
    told.rank = stand_rank(x, kept, seen);
    told.crps = stand_crps(x, kept, seen);
    told.middle = at_level(x, kept, 0.5);
    told.low50 = at_level(x, kept, 0.25);
    told.high50 = at_level(x, kept, 0.75);
    told.low90 = at_level(x, kept, 0.05);
    told.high90 = at_level(x, kept, 0.95);
    return told;
}

struct stand_skill stand_skill_of(const struct stand_told *told, size_t n)
{
    struct stand_skill out = {.plain_crps = unknown_real(), .skill = unknown_real()};
    double plain = 0, beside = 0;
    size_t n_plain = 0;
    for (size_t i = 0; i < n; i++) {
        const struct stand_told *t = &told[i];
        if (!is_known(t->crps) || !is_known(t->seen))
            continue;
        out.n++;
        out.in50 += t->seen >= t->low50 && t->seen <= t->high50;
        out.in90 += t->seen >= t->low90 && t->seen <= t->high90;
        out.bias += t->middle - t->seen;
        out.miss += fabs(t->middle - t->seen);
        out.crps += t->crps;
        if (is_known(t->plain_crps)) {
            plain += t->plain_crps;
            beside += t->crps;
            n_plain++;
        }
    }
    double one = out.n == 0 ? unknown_real() : 1 / (double)out.n;
    out.in50 *= one;
    out.in90 *= one;
    out.bias *= one;
    out.miss *= one;
    out.crps *= one;
    if (n_plain > 0) {
        out.plain_crps = plain / (double)n_plain;
        out.skill = plain > 0 ? 1 - beside / plain : unknown_real();
    }
    return out;
}
