/* SPDX-License-Identifier: GPL-3.0-or-later
 * Single figures about patterns: packing, nearest neighbours, Clark & Evans, Ripley's K, chance neighbours. */
#include "layout/hood.h"
#include "layout/layout.h"
#include "layout/outline.h"
#include <math.h>
#include <stdlib.h>

double layout_hexagon_m(double area_m2, double n)
{
    return sqrt(2 * area_m2 / (sqrt(3.0) * n));
}

void layout_nearest(const double *xy, size_t n, double *distance_m, size_t *which)
{
    struct arena scratch = {0};
    struct hood hood;
    double low_x = INFINITY, high_x = -INFINITY, low_y = INFINITY, high_y = -INFINITY;
    for (size_t i = 0; i < n; i++) {
        low_x = fmin(low_x, xy[2 * i]), high_x = fmax(high_x, xy[2 * i]);
        low_y = fmin(low_y, xy[2 * i + 1]), high_y = fmax(high_y, xy[2 * i + 1]);
    }
    double area = n == 0 ? 1 : fmax((high_x - low_x) * (high_y - low_y), 1e-12);
    hood_make(xy, n, fmax(sqrt(area / (double)(n + 1)), 1e-6), &scratch, &hood);
    for (size_t i = 0; i < n; i++) {
        size_t nearest = hood_nearest(&hood, xy[2 * i], xy[2 * i + 1], i, &distance_m[i]);
        if (which != NULL)
            which[i] = nearest;
    }
    arena_clear(&scratch);
}

void layout_clark_evans(double mean_m, size_t n, double area_m2, double outline_m, double *r, double *z)
{
    double count = (double)n, density = count / area_m2;
    double expected = 0.5 / sqrt(density), se = 0.26136 / sqrt(count * density);
    if (outline_m > 0) {
        /* Donnelly 1978: plants near the outline have their nearest neighbour farther off. */
        expected = 0.5 * sqrt(area_m2 / count) + (0.0514 + 0.0412 / sqrt(count)) * outline_m / count;
        se = sqrt(0.0703 * area_m2 / (count * count) + 0.037 * outline_m * sqrt(area_m2 / pow(count, 5)));
    }
    *r = mean_m / expected;
    *z = (mean_m - expected) / se;
}

double layout_random_share(const double *counts, size_t n_species)
{
    double n = 0, same = 0;
    for (size_t s = 0; s < n_species; s++)
        n += counts[s], same += counts[s] * (counts[s] - 1);
    return n < 2 ? unknown_real() : same / (n * (n - 1));
}

double layout_ripley_k(const double *xy, size_t n, double width_m, double height_m, double r_m, bool translate)
{
    struct arena scratch = {0};
    struct hood hood;
    struct found near = {0};
    double area = width_m * height_m, sum = 0;
    hood_make(xy, n, fmax(r_m, 1e-6), &scratch, &hood);
    for (size_t i = 0; i < n; i++) {
        hood_within(&hood, xy[2 * i], xy[2 * i + 1], r_m, i, &near);
        for (size_t m = 0; m < near.n; m++) {
            size_t j = near.at[m];
            double dx = fabs(xy[2 * i] - xy[2 * j]), dy = fabs(xy[2 * i + 1] - xy[2 * j + 1]);
            sum += translate ? area / ((width_m - dx) * (height_m - dy)) : 1;
        }
    }
    found_free(&near);
    arena_clear(&scratch);
    return n < 2 ? unknown_real() : area * sum / ((double)n * (double)(n - 1));
}

double layout_interior_share(double width_m, double height_m, double edge_m)
{
    double w = width_m - 2 * edge_m, h = height_m - 2 * edge_m;
    return w <= 0 || h <= 0 ? 0 : w * h / (width_m * height_m);
}

static int corner_order(const void *a, const void *b)
{
    const double *p = a, *q = b;
    if (p[0] != q[0])
        return p[0] < q[0] ? -1 : 1;
    return (p[1] > q[1]) - (p[1] < q[1]);
}

static double cross(const double *o, const double *a, const double *b)
{
    return (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0]);
}

/* Convex hull, anticlockwise (Andrew's monotone chain); `points` is sorted in place. */
static size_t hull_make(double *points, size_t n, double *hull)
{
    size_t k = 0;
    qsort(points, n, 2 * sizeof *points, corner_order);
    for (size_t i = 0; i < n; i++) {
        while (k >= 2 && cross(hull + 2 * (k - 2), hull + 2 * (k - 1), points + 2 * i) <= 0)
            k--;
        hull[2 * k] = points[2 * i], hull[2 * k + 1] = points[2 * i + 1];
        k++;
    }
    size_t lower = k + 1;
    for (size_t i = n - 1; i-- > 0;) {
        while (k >= lower && cross(hull + 2 * (k - 2), hull + 2 * (k - 1), points + 2 * i) <= 0)
            k--;
        hull[2 * k] = points[2 * i], hull[2 * k + 1] = points[2 * i + 1];
        k++;
    }
    return k > 1 ? k - 1 : k;
}

enum outcome layout_baseline(const struct shape *ground, double *x_m, double *y_m, double *bearing_deg, double *length_m, double *depth_m,
                             struct failure *why)
{
    size_t n = 0;
    if (ground == NULL || ground->kind != SHAPE_POLYGONS || ground->n_parts == 0 || ground->parts[0].n_rings == 0 ||
        ground->parts[0].rings[0].n == 0)
        return fail(why, OUTCOME_DATA, "The ground is not a polygon.");
    for (size_t p = 0; p < ground->n_parts; p++)
        n += ground->parts[p].n_rings == 0 ? 0 : ground->parts[p].rings[0].n;
    struct arena scratch = {0};
    double *points = arena_array(&scratch, n, 2 * sizeof *points), *hull = arena_array(&scratch, 2 * n + 2, 2 * sizeof *hull);
    double x0 = ground->parts[0].rings[0].xy[0], y0 = ground->parts[0].rings[0].xy[1];
    n = 0;
    for (size_t p = 0; p < ground->n_parts; p++) {
        for (size_t i = 0; ground->parts[p].n_rings > 0 && i < ground->parts[p].rings[0].n; i++, n++) {
            points[2 * n] = nearbyint((ground->parts[p].rings[0].xy[2 * i] - x0) * 1e4) / 1e4;
            points[2 * n + 1] = nearbyint((ground->parts[p].rings[0].xy[2 * i + 1] - y0) * 1e4) / 1e4;
        }
    }
    size_t k = hull_make(points, n, hull);
    double best = INFINITY;
    for (size_t e = 0; e < k; e++) {
        const double *a = hull + 2 * e, *b = hull + 2 * ((e + 1) % k);
        double side = hypot(b[0] - a[0], b[1] - a[1]), low = INFINITY, high = -INFINITY, deep = 0;
        if (side < 1e-6)
            continue;
        double ax = (b[0] - a[0]) / side, ay = (b[1] - a[1]) / side;
        for (size_t i = 0; i < k; i++) {
            double u = (hull[2 * i] - a[0]) * ax + (hull[2 * i + 1] - a[1]) * ay;
            double v = -(hull[2 * i] - a[0]) * ay + (hull[2 * i + 1] - a[1]) * ax;
            low = fmin(low, u), high = fmax(high, u), deep = fmax(deep, v);
        }
        double area = (high - low) * deep;
        bool longer = high - low >= deep - 1e-6;
        /* Of rectangles of one size, the one whose long side is the baseline. */
        double rank = area * (longer ? 1 : 1 + 1e-6);
        if (deep > 1e-6 && rank < best * (1 - 1e-9)) {
            best = rank;
            *x_m = x0 + a[0] + low * ax, *y_m = y0 + a[1] + low * ay;
            double bearing = atan2(ax, ay) * 180 / 3.14159265358979323846;
            *bearing_deg = bearing < 0 ? bearing + 360 : bearing;
            *length_m = high - low, *depth_m = deep;
        }
    }
    arena_clear(&scratch);
    return isfinite(best) ? OUTCOME_OK : fail(why, OUTCOME_DATA, "The ground has no area.");
}
