/* SPDX-License-Identifier: GPL-3.0-or-later
 * Cubic spline through knots (Forsythe, Malcolm & Moler 1977, ch. 4), with Hyman's filter to keep it monotone. */
#include "ground/ground.h"
#include <math.h>
#include <stdlib.h>

static enum outcome knots_check(const double *x, const double *y, size_t n, bool hyman, struct failure *why)
{
    if (n < 2)
        return fail(why, OUTCOME_DATA, "A spline needs two knots or more.");
    bool up = true, down = true;
    for (size_t i = 0; i < n; i++) {
        if (!is_known(x[i]) || !is_known(y[i]))
            return fail(why, OUTCOME_DATA, "Knot %zu of the spline is not known.", i + 1);
        if (i == 0)
            continue;
        if (x[i] <= x[i - 1])
            return fail(why, OUTCOME_DATA, "Knot %zu of the spline does not lie beyond the one before.", i + 1);
        up = up && y[i] >= y[i - 1];
        down = down && y[i] <= y[i - 1];
    }
    if (hyman && !up && !down)
        return fail(why, OUTCOME_DATA, "The values rise and fall, so no monotone curve goes through them.");
    return OUTCOME_OK;
}

/* Third divided difference of four knots from i: the cubic through them has this as its leading coefficient. */
static double third_difference(const double *x, const double *y, size_t i)
{
    double d01 = (y[i + 1] - y[i]) / (x[i + 1] - x[i]), d12 = (y[i + 2] - y[i + 1]) / (x[i + 2] - x[i + 1]),
           d23 = (y[i + 3] - y[i + 2]) / (x[i + 3] - x[i + 2]);
    return ((d23 - d12) / (x[i + 3] - x[i + 1]) - (d12 - d01) / (x[i + 2] - x[i])) / (x[i + 3] - x[i]);
}

/* Sixths of the second derivatives at the knots from a tridiagonal system: inside, the first derivative is continuous; at each
 * end, the third derivative is that of the cubic through the four knots there (zero where there are only three). */
static void sixths_solve(const double *x, const double *y, size_t n, double *m, double *diagonal)
{
    for (size_t i = 0; i < n; i++) {
        if (i == 0) {
            diagonal[0] = -(x[1] - x[0]);
            m[0] = n > 3 ? third_difference(x, y, 0) * (x[1] - x[0]) * (x[1] - x[0]) : 0;
        } else if (i == n - 1) {
            double h = x[n - 1] - x[n - 2];
            diagonal[i] = -h;
            m[i] = n > 3 ? -third_difference(x, y, n - 4) * h * h : 0;
        } else {
            diagonal[i] = 2 * (x[i + 1] - x[i - 1]);
            m[i] = (y[i + 1] - y[i]) / (x[i + 1] - x[i]) - (y[i] - y[i - 1]) / (x[i] - x[i - 1]);
        }
    }
    for (size_t i = 1; i < n; i++) {
        double h = x[i] - x[i - 1], factor = h / diagonal[i - 1];
        diagonal[i] -= factor * h;
        m[i] -= factor * m[i - 1];
    }
    m[n - 1] /= diagonal[n - 1];
    for (size_t i = n - 1; i-- > 0;)
        m[i] = (m[i] - (x[i + 1] - x[i]) * m[i + 1]) / diagonal[i];
}

/* Hyman 1983 as amended by Dougherty, Edelman & Hyman 1989: a slope keeps the sign of the data and at most three times the
 * smaller of the two chords beside it. */
static void slopes_filter(const double *x, const double *y, size_t n, double *slope)
{
    for (size_t i = 0; i < n; i++) {
        size_t left = i == 0 ? 0 : i - 1, right = i == n - 1 ? n - 2 : i;
        double before = (y[left + 1] - y[left]) / (x[left + 1] - x[left]), after = (y[right + 1] - y[right]) / (x[right + 1] - x[right]);
        double most = 3 * fmin(fabs(before), fabs(after)), sign = before * after > 0 ? after : slope[i];
        slope[i] = sign >= 0 ? fmin(fmax(0, slope[i]), most) : fmax(fmin(0, slope[i]), -most);
    }
}

enum outcome spline_fit(const double *x, const double *y, size_t n, bool hyman, double *slope, struct failure *why)
{
    enum outcome outcome = knots_check(x, y, n, hyman, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (n == 2) {
        slope[0] = slope[1] = (y[1] - y[0]) / (x[1] - x[0]);
        return OUTCOME_OK;
    }
    double *m = memory_get(n, sizeof *m), *diagonal = memory_get(n, sizeof *diagonal);
    sixths_solve(x, y, n, m, diagonal);
    for (size_t i = 0; i + 1 < n; i++) {
        double h = x[i + 1] - x[i];
        slope[i] = (y[i + 1] - y[i]) / h - h * (m[i + 1] + 2 * m[i]);
    }
    double h = x[n - 1] - x[n - 2];
    slope[n - 1] = (y[n - 1] - y[n - 2]) / h + h * (m[n - 2] + 2 * m[n - 1]);
    if (hyman)
        slopes_filter(x, y, n, slope);
    free(m);
    free(diagonal);
    return OUTCOME_OK;
}

double spline_at(const double *x, const double *y, const double *slope, size_t n, double at)
{
    if (!is_known(at) || at < x[0] || at > x[n - 1])
        return unknown_real();
    size_t i = 0;
    while (i + 2 < n && at > x[i + 1])
        i++;
    double h = x[i + 1] - x[i], t = (at - x[i]) / h, rest = 1 - t;
    return y[i] * rest * rest * (1 + 2 * t) + y[i + 1] * t * t * (3 - 2 * t) + h * t * rest * (slope[i] * rest - slope[i + 1] * t);
}
