/* SPDX-License-Identifier: GPL-3.0-or-later
 * Drawing from ranges, and quantiles of draws. */
#include "money/draws.h"
#include <math.h>
#include <stdlib.h>

double range_draw(struct random_stream *r, const struct cost_range *range)
{
    double width = range->high - range->low;
    if (!(width > 0))
        return range->mode;
    return range->low + width * random_beta(r, 1 + 4 * (range->mode - range->low) / width, 1 + 4 * (range->high - range->mode) / width);
}

static int double_order(const void *left, const void *right)
{
    const double *a = left, *b = right;
    return *a < *b ? -1 : *a > *b;
}

struct cost_band band_of(const double *draw, size_t n, double level)
{
    double *sorted = memory_get(n, sizeof *sorted);
    for (size_t i = 0; i < n; i++)
        sorted[i] = draw[i];
    qsort(sorted, n, sizeof *sorted, double_order);
    double p[3] = {0.5, 0.5 - level / 2, 0.5 + level / 2}, q[3];
    for (int k = 0; k < 3; k++) {
        double at = p[k] * (double)(n - 1);
        size_t i = (size_t)at;
        double next = i + 1 < n ? sorted[i + 1] : sorted[i];
        q[k] = isinf(next) || isinf(sorted[i]) ? (at > (double)i ? next : sorted[i]) : sorted[i] + (at - (double)i) * (next - sorted[i]);
    }
    free(sorted);
    return (struct cost_band){q[0], q[1], q[2]};
}
