/* SPDX-License-Identifier: GPL-3.0-or-later
 * Polygons cut by parallel strips into pieces of equal area.
 *
 * The shape is turned so that strips run upward; the area left of any upright line is then a piecewise quadratic function
 * that is built once by a sweep over the corners, and cuts are found by bisection on it. Only the final pieces are cut
 * by GEOS. Workload: outlines of 4 to 100,000 corners; n log n. */
#include "geo/geo.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double MOST_BUFFER_M = 200;
enum { MOST_POINTS_TO_TRY = 5000 };

/* Corner of the sweep: from u on, the breadth of the shape is a + b·(x − u), and `area` lies left of it. */
struct step {
    double u, a, b, area;
};
struct profile {
    struct step *steps;
    size_t n;
};

struct event {
    double u, a, b; ///< change of breadth and of its slope at u
};

static int by_u(const void *x, const void *y)
{
    const struct event *p = x, *q = y;
    return (p->u > q->u) - (p->u < q->u);
}

/* u runs across the strips, v along them. Strips that run along bearing β (clockwise from north) have across = (cos β, −sin β). */
static void turned(const double *xy, const double centre[2], double c, double s, double *u, double *v)
{
    double x = xy[0] - centre[0], y = xy[1] - centre[1];
    *u = c * x - s * y;
    *v = s * x + c * y;
}

static void ring_events(const struct ring *ring, double sign, const double centre[2], double c, double s, struct event *events, size_t *n)
{
    for (size_t j = 0; j + 1 < ring->n; j++) {
        double u0, v0, u1, v1;
        turned(ring->xy + 2 * j, centre, c, s, &u0, &v0);
        turned(ring->xy + 2 * j + 2, centre, c, s, &u1, &v1);
        if (u0 == u1)
            continue;
        /* Anticlockwise: the lower side runs towards greater u and takes away, the upper side comes back and adds. */
        double slope = (v1 - v0) / (u1 - u0), way = (u1 > u0 ? -1 : 1) * sign;
        double left = fmin(u0, u1), right = fmax(u0, u1), at_left = u0 < u1 ? v0 : v1, at_right = u0 < u1 ? v1 : v0;
        events[(*n)++] = (struct event){left, way * at_left, way * slope};
        events[(*n)++] = (struct event){right, -way * at_right, -way * slope};
    }
}

static void profile_make(const struct shape *shape, const double centre[2], double bearing_deg, struct profile *out)
{
    double turn = bearing_deg * M_PI / 180, c = cos(turn), s = sin(turn);
    size_t points = shape_count(shape), n = 0;
    struct event *events = memory_get(2 * points + 1, sizeof *events);
    for (size_t i = 0; i < shape->n_parts; i++)
        for (size_t k = 0; k < shape->parts[i].n_rings; k++)
            ring_events(&shape->parts[i].rings[k], 1, centre, c, s, events, &n);
    qsort(events, n, sizeof *events, by_u);
    out->steps = memory_get(n + 1, sizeof *out->steps);
    out->n = 0;
    double a = 0, b = 0, area = 0;
    for (size_t i = 0; i < n; i++) {
        if (i > 0) {
            double gone = events[i].u - events[i - 1].u;
            area += gone * (a + b * gone / 2);
            a += b * gone;
        }
        a += events[i].a;
        b += events[i].b;
        if (i + 1 == n || events[i + 1].u > events[i].u)
            out->steps[out->n++] = (struct step){events[i].u, a, b, area};
    }
    free(events);
}

static double area_left(const struct profile *p, double u)
{
    size_t low = 0, high = p->n;
    if (p->n == 0 || u <= p->steps[0].u)
        return 0;
    while (high - low > 1) {
        size_t middle = (low + high) / 2;
        *(p->steps[middle].u <= u ? &low : &high) = middle;
    }
    const struct step *step = &p->steps[low];
    if (low + 1 == p->n)
        return step->area;
    double gone = u - step->u;
    return step->area + gone * (step->a + step->b * gone / 2);
}

static double u_least(const struct profile *p)
{
    return p->steps[0].u;
}

static double u_most(const struct profile *p)
{
    return p->steps[p->n - 1].u;
}

/* Where `area` lies to the left, by bisection to the last bit. */
static double u_at(const struct profile *p, double area)
{
    double low = u_least(p), high = u_most(p);
    for (int i = 0; i < 100 && low < high; i++) {
        double middle = low + (high - low) / 2;
        if (middle <= low || middle >= high)
            break;
        *(area_left(p, middle) < area ? &low : &high) = middle;
    }
    return low + (high - low) / 2;
}

/* Piece i lies between edges[2i] and edges[2i + 1]. Returns what the last piece has beyond `area`. */
static double lay(const struct profile *p, size_t n, double area, double buffer_m, double *edges)
{
    edges[0] = u_least(p);
    for (size_t i = 0; i + 1 < n; i++) {
        edges[2 * i + 1] = u_at(p, area_left(p, edges[2 * i]) + area);
        edges[2 * i + 2] = edges[2 * i + 1] + buffer_m;
    }
    edges[2 * n - 1] = u_most(p);
    return area_left(p, u_most(p)) - area_left(p, fmin(edges[2 * n - 2], u_most(p))) - area;
}

/* Area of each of n pieces; 0 if the strips leave nothing. */
static double equal_area(const struct profile *p, size_t n, double buffer_m, double *edges)
{
    double low = 0, high = area_left(p, u_most(p)) / (double)n;
    if (buffer_m == 0) {
        lay(p, n, high, 0, edges);
        return high;
    }
    for (int i = 0; i < 100; i++) {
        double middle = (low + high) / 2;
        if (middle <= low || middle >= high)
            break;
        *(lay(p, n, middle, buffer_m, edges) > 0 ? &low : &high) = middle;
    }
    lay(p, n, low, buffer_m, edges);
    return low;
}

/* The part of the shape between two upright lines of the turned frame. */
static enum outcome piece_cut(const struct shape *shape, const double centre[2], double bearing_deg, double from, double to, double reach,
                              struct arena *arena, struct shape *out, struct failure *why)
{
    double turn = bearing_deg * M_PI / 180, c = cos(turn), s = sin(turn);
    struct shape slab =
        shape_rectangle(arena, centre[0] + c * from - s * reach, centre[1] - s * from - c * reach, to - from, 2 * reach, -turn);
    return shape_intersect(shape, &slab, arena, out, why);
}

struct trial {
    double bearing_deg;
    size_t parts; ///< of all pieces together
    double loss;  ///< strip, or length of cuts where there is none
};

static double loss_of(const struct profile *p, size_t n, double area, double buffer_m, const double *edges)
{
    double total = area_left(p, u_most(p)), loss = 0;
    if (buffer_m > 0)
        return area > 0 ? total - (double)n * area : INFINITY;
    const double thin = (u_most(p) - u_least(p)) * 1e-6;
    for (size_t i = 0; i + 1 < n; i++)
        loss += (area_left(p, edges[2 * i + 1] + thin) - area_left(p, edges[2 * i + 1] - thin)) / (2 * thin);
    return loss;
}

struct cut {
    const struct shape *shape;
    double centre[2], reach;
    size_t n;
    double buffer_m;
    double *edges;
};

static enum outcome pieces_make(const struct cut *cut, double bearing_deg, double *area, double *loss, struct shape *pieces,
                                struct arena *arena, struct failure *why)
{
    struct profile p;
    profile_make(cut->shape, cut->centre, bearing_deg, &p);
    *area = p.n == 0 ? 0 : equal_area(&p, cut->n, cut->buffer_m, cut->edges);
    *loss = p.n == 0 ? INFINITY : loss_of(&p, cut->n, *area, cut->buffer_m, cut->edges);
    free(p.steps);
    enum outcome outcome = OUTCOME_OK;
    for (size_t i = 0; pieces != NULL && *area > 0 && i < cut->n && outcome == OUTCOME_OK; i++) {
        double from = i == 0 ? -cut->reach : cut->edges[2 * i], to = i + 1 == cut->n ? cut->reach : cut->edges[2 * i + 1];
        outcome = piece_cut(cut->shape, cut->centre, bearing_deg, from, to, cut->reach, arena, &pieces[i], why);
    }
    return outcome;
}

static bool better(const struct trial *a, const struct trial *b)
{
    if (a->parts != b->parts)
        return a->parts < b->parts;
    return a->loss < b->loss * (1 - 1e-9);
}

/* Every 5 degrees by loss alone; parts are counted for the promising ones, then every degree round the best. */
static enum outcome best_bearing(const struct cut *cut, double *bearing_deg, struct failure *why)
{
    struct trial best = {NAN, SIZE_MAX, INFINITY};
    struct arena arena = {0};
    struct shape pieces[26] = {{0}};
    enum outcome outcome = OUTCOME_OK;
    const bool count_parts = shape_count(cut->shape) <= MOST_POINTS_TO_TRY; /* beyond it, by loss alone */
    for (int pass = 0; pass < 2 && outcome == OUTCOME_OK; pass++) {
        double middle = best.bearing_deg;
        for (int k = pass == 0 ? 0 : -4; (pass == 0 ? k < 36 : k < 5) && outcome == OUTCOME_OK; k++) {
            double at = pass == 0 ? 5.0 * k : fmod(middle + k + 180, 180), area = 0, loss = INFINITY;
            outcome = pieces_make(cut, at, &area, &loss, count_parts ? pieces : NULL, &arena, why);
            struct trial one = {at, area > 0 ? 0 : SIZE_MAX, loss};
            for (size_t i = 0; count_parts && area > 0 && i < cut->n; i++)
                one.parts += pieces[i].n_parts;
            if (outcome == OUTCOME_OK && better(&one, &best))
                best = one;
            arena_clear(&arena);
        }
        if (is_known(best.bearing_deg) == false || best.parts == SIZE_MAX)
            break;
    }
    *bearing_deg = best.parts == SIZE_MAX ? 0 : best.bearing_deg;
    return outcome;
}

enum outcome shape_split_pieces(const struct shape *shape, size_t n, double bearing_deg, double buffer_m, struct arena *arena,
                                struct split *out, struct failure *why)
{
    if (n < 2 || n > 26)
        return fail(why, OUTCOME_USAGE, "A plot is split into 2 to 26 pieces, not %zu.", n);
    if (!(buffer_m >= 0 && buffer_m <= MOST_BUFFER_M))
        return fail(why, OUTCOME_USAGE, "A gap of %g m between pieces is not between 0 and 200 m.", buffer_m);
    double whole = shape_area_m2(shape);
    if (shape->kind != SHAPE_POLYGONS || !(whole > 0))
        return fail(why, OUTCOME_DATA, "Only a polygon with area can be split.");
    struct box box = shape_box(shape);
    double edges[52], area = 0, loss = 0;
    struct cut cut = {.shape = shape, .n = n, .buffer_m = buffer_m, .edges = edges};
    cut.centre[0] = (box.x_least + box.x_most) / 2;
    cut.centre[1] = (box.y_least + box.y_most) / 2;
    cut.reach = hypot(box.x_most - box.x_least, box.y_most - box.y_least) + buffer_m + 1;
    enum outcome outcome = OUTCOME_OK;
    double bearing = bearing_deg;
    if (isnan(bearing))
        outcome = best_bearing(&cut, &bearing, why);
    bearing = fmod(fmod(bearing, 180) + 180, 180);
    struct split split = {.n = n, .pieces = arena_array(arena, n, sizeof *split.pieces), .bearing_deg = bearing};
    if (outcome == OUTCOME_OK)
        outcome = pieces_make(&cut, bearing, &area, &loss, split.pieces, arena, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (!(area > whole * 1e-9)) {
        fail(why, OUTCOME_DATA, "Gaps of %g m between %zu pieces leave nothing of the %.0f m² to plant.", buffer_m, n, whole);
        return failure_remedy(why, "Choose a narrower gap, fewer pieces, another bearing or a larger plot.");
    }
    split.piece_m2 = shape_area_m2(&split.pieces[0]);
    split.strip_m2 = whole;
    for (size_t i = 0; i < n; i++)
        split.strip_m2 -= shape_area_m2(&split.pieces[i]);
    split.strip_m2 = fmax(split.strip_m2, 0);
    *out = split;
    return OUTCOME_OK;
}

enum outcome shape_split_halves(const struct shape *shape, double bearing_deg, double buffer_m, struct arena *arena, struct split *out,
                                struct failure *why)
{
    return shape_split_pieces(shape, 2, bearing_deg, buffer_m, arena, out, why);
}
