/* SPDX-License-Identifier: GPL-3.0-or-later
 * Many points against one shape: segments sorted into a tree of boxes that is only read once it is made.
 * Workload: outlines of 10 to 100,000 segments, up to a million points asked; a question costs a few dozen boxes. */
#include "geo/geo.h"
#include "geo/segment.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { FAN = 8, MOST_LEVELS = 24 };

struct segment {
    double a[2], b[2];
};

/* Level 0 boxes hold FAN segments each, a box of level k holds FAN boxes of level k − 1. */
struct shape_finder {
    bool polygon;
    size_t n;
    struct segment *segments;
    struct box *boxes;
    size_t first[MOST_LEVELS], count[MOST_LEVELS]; ///< where a level begins in `boxes`, and how many it has
    size_t levels;
};

static int by_x(const void *a, const void *b)
{
    const struct segment *p = a, *q = b;
    double x = p->a[0] + p->b[0], y = q->a[0] + q->b[0];
    return (x > y) - (x < y);
}

static int by_y(const void *a, const void *b)
{
    const struct segment *p = a, *q = b;
    double x = p->a[1] + p->b[1], y = q->a[1] + q->b[1];
    return (x > y) - (x < y);
}

static struct box box_join(struct box a, struct box b)
{
    return (struct box){fmin(a.x_least, b.x_least), fmin(a.y_least, b.y_least), fmax(a.x_most, b.x_most), fmax(a.y_most, b.y_most)};
}

static struct box segment_box(const struct segment *s)
{
    return (struct box){fmin(s->a[0], s->b[0]), fmin(s->a[1], s->b[1]), fmax(s->a[0], s->b[0]), fmax(s->a[1], s->b[1])};
}

/* Tiles of the plane in strips (sort-tile-recursive, Leutenegger et al. 1997), so that neighbours share a box. */
static void finder_sort(struct shape_finder *f)
{
    size_t leaves = (f->n + FAN - 1) / FAN, strips = (size_t)ceil(sqrt((double)leaves));
    size_t strip = strips == 0 ? f->n : ((leaves + strips - 1) / strips) * FAN;
    qsort(f->segments, f->n, sizeof *f->segments, by_x);
    for (size_t i = 0; i < f->n; i += strip)
        qsort(f->segments + i, f->n - i < strip ? f->n - i : strip, sizeof *f->segments, by_y);
}

static void finder_boxes(struct shape_finder *f)
{
    size_t of = f->n, total = 0;
    do {
        of = (of + FAN - 1) / FAN;
        f->first[f->levels] = total;
        f->count[f->levels++] = of;
        total += of;
    } while (of > 1);
    f->boxes = memory_get(total, sizeof *f->boxes);
    for (size_t level = 0; level < f->levels; level++) {
        size_t below = level == 0 ? f->n : f->count[level - 1];
        for (size_t i = 0; i < below; i++) {
            struct box box = level == 0 ? segment_box(&f->segments[i]) : f->boxes[f->first[level - 1] + i];
            struct box *into = &f->boxes[f->first[level] + i / FAN];
            *into = i % FAN == 0 ? box : box_join(*into, box);
        }
    }
}

enum outcome shape_finder_new(const struct shape *shape, struct shape_finder **out, struct failure *why)
{
    size_t points = shape_count(shape);
    if (points == 0)
        return fail(why, OUTCOME_DATA, "The shape is empty: nothing can be found in it.");
    struct shape_finder *f = memory_get(1, sizeof *f);
    memset(f, 0, sizeof *f);
    f->polygon = shape->kind == SHAPE_POLYGONS;
    f->segments = memory_get(points, sizeof *f->segments);
    for (size_t i = 0; i < shape->n_parts; i++)
        for (size_t k = 0; k < shape->parts[i].n_rings; k++) {
            const struct ring *ring = &shape->parts[i].rings[k];
            bool lone = shape->kind == SHAPE_POINTS;
            for (size_t j = 0; j + (lone ? 0 : 1) < ring->n; j++) {
                struct segment *s = &f->segments[f->n++];
                memcpy(s->a, ring->xy + 2 * j, sizeof s->a);
                memcpy(s->b, ring->xy + 2 * (lone ? j : j + 1), sizeof s->b);
            }
        }
    if (f->n == 0) {
        shape_finder_free(f);
        return fail(why, OUTCOME_DATA, "The shape has no segments: nothing can be found in it.");
    }
    finder_sort(f);
    finder_boxes(f);
    *out = f;
    return OUTCOME_OK;
}

void shape_finder_free(struct shape_finder *finder)
{
    if (finder == NULL)
        return;
    free(finder->segments);
    free(finder->boxes);
    free(finder);
}

/* Count crossings of the ray towards greater x below a box; CROSSING_ON ends it. */
static enum crossing crossings(const struct shape_finder *f, size_t level, size_t at, double x, double y)
{
    const double reach = 2e-6;
    const struct box *box = &f->boxes[f->first[level] + at];
    if (y < box->y_least - reach || y > box->y_most + reach || x > box->x_most + reach)
        return CROSSING_NONE;
    size_t below = level == 0 ? f->n : f->count[level - 1], end = (at + 1) * FAN < below ? (at + 1) * FAN : below;
    bool odd = false;
    for (size_t i = at * FAN; i < end; i++) {
        enum crossing crossing = level == 0 ? segment_crossing(f->segments[i].a, f->segments[i].b, x, y) : crossings(f, level - 1, i, x, y);
        if (crossing == CROSSING_ON)
            return CROSSING_ON;
        odd ^= crossing == CROSSING_RIGHT;
    }
    return odd ? CROSSING_RIGHT : CROSSING_NONE;
}

bool shape_finder_contains(const struct shape_finder *finder, double x_m, double y_m)
{
    return finder->polygon && crossings(finder, finder->levels - 1, 0, x_m, y_m) != CROSSING_NONE;
}

static double box_distance_squared(const struct box *box, double x, double y)
{
    double dx = fmax(fmax(box->x_least - x, x - box->x_most), 0), dy = fmax(fmax(box->y_least - y, y - box->y_most), 0);
    return dx * dx + dy * dy;
}

/* Nearest boxes first; a box farther than the best so far is passed over. */
static double nearest(const struct shape_finder *f, size_t level, size_t at, double x, double y, double best)
{
    size_t below = level == 0 ? f->n : f->count[level - 1], start = at * FAN, end = start + FAN < below ? start + FAN : below;
    if (level == 0) {
        for (size_t i = start; i < end; i++)
            best = fmin(best, segment_distance_squared(f->segments[i].a, f->segments[i].b, x, y));
        return best;
    }
    double far[FAN];
    size_t order[FAN], n = 0;
    for (size_t i = start; i < end; i++) {
        double d = box_distance_squared(&f->boxes[f->first[level - 1] + i], x, y);
        size_t k = n++;
        for (; k > 0 && far[k - 1] > d; k--) {
            far[k] = far[k - 1];
            order[k] = order[k - 1];
        }
        far[k] = d;
        order[k] = i;
    }
    for (size_t k = 0; k < n && far[k] < best; k++)
        best = nearest(f, level - 1, order[k], x, y, best);
    return best;
}

double shape_finder_outline_distance(const struct shape_finder *finder, double x_m, double y_m)
{
    return sqrt(nearest(finder, finder->levels - 1, 0, x_m, y_m, INFINITY));
}

double shape_finder_distance(const struct shape_finder *finder, double x_m, double y_m)
{
    if (shape_finder_contains(finder, x_m, y_m))
        return 0;
    return shape_finder_outline_distance(finder, x_m, y_m);
}
