/* SPDX-License-Identifier: GPL-3.0-or-later
 * Hatching as lines cut by the outline, so that every output shows the same. */
#include "draw/inside.h"
#include <math.h>
#include <stdlib.h>

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Where the line v = level crosses the rings, in turned coordinates (u along the line, v across). */
static size_t crossings(const double *uv, const size_t *ends, size_t n_rings, double level, double *u)
{
    size_t n = 0, from = 0;
    for (size_t r = 0; r < n_rings; r++) {
        for (size_t i = from; i < ends[r]; i++) {
            size_t j = i + 1 < ends[r] ? i + 1 : from;
            double v1 = uv[2 * i + 1], v2 = uv[2 * j + 1];
            if ((v1 <= level) != (v2 <= level))
                u[n++] = uv[2 * i] + (level - v1) / (v2 - v1) * (uv[2 * j] - uv[2 * i]);
        }
        from = ends[r];
    }
    qsort(u, n, sizeof *u, ascending);
    return n;
}

void draw_hatch(struct drawing *drawing, const double *xy, const size_t *ends, size_t n_rings, double turn_deg, double gap, struct pen pen)
{
    if (n_rings == 0 || gap <= 0)
        return;
    size_t n = ends[n_rings - 1];
    double c = cos(turn_deg * acos(-1) / 180), s = sin(turn_deg * acos(-1) / 180), least = INFINITY, most = -INFINITY;
    double *uv = memory_get(2 * n + 1, sizeof *uv), *u = memory_get(n + 1, sizeof *u);
    for (size_t i = 0; i < n; i++) {
        uv[2 * i] = xy[2 * i] * c + xy[2 * i + 1] * s;
        uv[2 * i + 1] = -xy[2 * i] * s + xy[2 * i + 1] * c;
        least = fmin(least, uv[2 * i + 1]);
        most = fmax(most, uv[2 * i + 1]);
    }
    /* Lines lie on a grid of the page, not of the shape, so that neighbours of one kind run on. */
    for (double level = ceil(least / gap) * gap; level < most && most - least < 1e5 * gap; level += gap) {
        size_t m = crossings(uv, ends, n_rings, level, u);
        for (size_t i = 0; i + 1 < m; i += 2)
            if (u[i + 1] - u[i] > 0.1)
                draw_line(drawing, u[i] * c - level * s, u[i] * s + level * c, u[i + 1] * c - level * s, u[i + 1] * s + level * c, pen);
    }
    free(uv);
    free(u);
}
