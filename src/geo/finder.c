/* SPDX-License-Identifier: GPL-3.0-or-later
 * Many points against one shape: segments sorted into a tree of boxes for distances, and into level
 * strips for rays; only read once made.
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

/* Rays: the plane is cut into level strips, and each strip lists the segments that reach into it. */
struct strips {
    double y_least, per_m; ///< strip of y: (y − y_least) · per_m
    size_t n;
    size_t *first;  ///< first[n + 1]: where the list of each strip begins
    uint32_t *list; ///< indices of segments
};

/* Level 0 boxes hold FAN segments each, a box of level k holds FAN boxes of level k − 1. */
struct shape_finder {
    bool polygon;
    size_t n;
    struct segment *segments;
    struct box *boxes;
    size_t first[MOST_LEVELS], count[MOST_LEVELS]; ///< where a level begins in `boxes`, and how many it has
    size_t levels;
    struct strips strips; ///< of polygons
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

static size_t strip_of(const struct strips *s, double y)
{
    double at = (y - s->y_least) * s->per_m;
    return at <= 0 ? 0 : at >= (double)s->n ? s->n - 1 : (size_t)at;
}

/* Each segment is listed in every strip within reach of a point on it (2 µm). */
static size_t strips_fill(const struct shape_finder *f, struct strips *s, bool count)
{
    const double reach = 2e-6;
    size_t total = 0;
    for (size_t i = 0; i < f->n; i++) {
        struct box box = segment_box(&f->segments[i]);
        size_t last = strip_of(s, box.y_most + reach);
        for (size_t k = strip_of(s, box.y_least - reach); k <= last; k++, total++) {
            if (!count)
                s->list[s->first[k]++] = (uint32_t)i;
            else if (s->first != NULL)
                s->first[k + 1]++;
        }
    }
    return total;
}

/* As many strips as segments, fewer where tall segments would make the lists long. */
static void finder_strips(struct shape_finder *f)
{
    const struct box *all = &f->boxes[f->first[f->levels - 1]];
    struct strips *s = &f->strips;
    s->y_least = all->y_least - 1e-5;
    s->n = f->n;
    double height = all->y_most + 1e-5 - s->y_least;
    for (;; s->n = (s->n + 1) / 2) {
        s->per_m = (double)s->n / height;
        if (s->n == 1 || strips_fill(f, s, true) <= 8 * f->n + 64)
            break;
    }
    s->first = memory_get(s->n + 2, sizeof *s->first);
    memset(s->first, 0, (s->n + 2) * sizeof *s->first);
    s->list = memory_get(strips_fill(f, s, true) + 1, sizeof *s->list);
    for (size_t k = 0; k < s->n; k++)
        s->first[k + 1] += s->first[k];
    strips_fill(f, s, false); /* moves every beginning to the beginning of the next */
    memmove(s->first + 1, s->first, s->n * sizeof *s->first);
    s->first[0] = 0;
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
    if (f->polygon)
        finder_strips(f);
    *out = f;
    return OUTCOME_OK;
}

void shape_finder_free(struct shape_finder *finder)
{
    if (finder == NULL)
        return;
    free(finder->segments);
    free(finder->boxes);
    free(finder->strips.first);
    free(finder->strips.list);
    free(finder);
}

bool shape_finder_contains(const struct shape_finder *finder, double x_m, double y_m)
{
    const struct strips *s = &finder->strips;
    bool inside = false;
    if (!finder->polygon || !(y_m >= s->y_least - 1e-5))
        return false;
    size_t strip = strip_of(s, y_m);
    for (size_t i = s->first[strip]; i < s->first[strip + 1]; i++) {
        const struct segment *segment = &finder->segments[s->list[i]];
        enum crossing crossing = segment_crossing(segment->a, segment->b, x_m, y_m);
        if (crossing == CROSSING_ON)
            return true;
        inside ^= crossing == CROSSING_RIGHT;
    }
    return inside;
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
