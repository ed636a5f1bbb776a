/* SPDX-License-Identifier: GPL-3.0-or-later
 * Polygons in the frame of the baseline. */
#include "layout/outline.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_BUCKETS = 4000000, CROSSING_TRIES = 10000 };

struct frame layout_frame_make(double x_m, double y_m, double bearing_deg)
{
    /* Bearings of whole right angles give exact axes. */
    double quarter = bearing_deg / 90.0, turn = bearing_deg * 3.14159265358979323846 / 180.0;
    struct frame frame = {x_m, y_m, sin(turn), cos(turn)};
    if (quarter == floor(quarter)) {
        int q = (int)fmod(fmod(quarter, 4) + 4, 4);
        frame.along_x = q == 1 ? 1 : q == 3 ? -1 : 0;
        frame.along_y = q == 0 ? 1 : q == 2 ? -1 : 0;
    }
    return frame;
}

void frame_in(const struct frame *f, double x, double y, double *u, double *v)
{
    double dx = x - f->x_m, dy = y - f->y_m;
    *u = dx * f->along_x + dy * f->along_y;
    *v = -dx * f->along_y + dy * f->along_x;
}

void frame_out(const struct frame *f, double u, double v, double *x, double *y)
{
    *x = f->x_m + (u * f->along_x - v * f->along_y);
    *y = f->y_m + (u * f->along_y + v * f->along_x);
}

static double fine(double a)
{
    return nearbyint(a * 1e4) / 1e4;
}

/* Edges of one ring into `out`, turned the wanted way round; returns how many. */
static size_t ring_edges(const struct ring *ring, const struct frame *frame, bool anticlockwise, struct edge *out, struct arena *scratch)
{
    double *uv = arena_array(scratch, ring->n + 1, 2 * sizeof *uv);
    size_t n = 0;
    for (size_t i = 0; i < ring->n; i++) {
        double u = 0, v = 0;
        frame_in(frame, ring->xy[2 * i], ring->xy[2 * i + 1], &u, &v);
        u = fine(u), v = fine(v);
        if (n > 0 && uv[2 * n - 2] == u && uv[2 * n - 1] == v)
            continue;
        uv[2 * n] = u, uv[2 * n + 1] = v;
        n++;
    }
    while (n > 1 && uv[0] == uv[2 * n - 2] && uv[1] == uv[2 * n - 1])
        n--;
    if (n < 3)
        return 0;
    double twice = 0;
    for (size_t i = 0; i < n; i++) {
        size_t j = (i + 1) % n;
        twice += (uv[2 * i] - uv[0]) * (uv[2 * j + 1] - uv[1]) - (uv[2 * j] - uv[0]) * (uv[2 * i + 1] - uv[1]);
    }
    bool turn = (twice > 0) != anticlockwise;
    for (size_t i = 0; i < n; i++) {
        size_t j = (i + 1) % n;
        const double *a = uv + 2 * (turn ? j : i), *b = uv + 2 * (turn ? i : j);
        out[i] = (struct edge){a[0], a[1], b[0], b[1]};
    }
    return n;
}

/* The range of u that an edge takes within heights low to high; false if it does not come there. */
static bool edge_range(const struct edge *e, double low, double high, double *least, double *most)
{
    double bottom = fmin(e->v0, e->v1), top = fmax(e->v0, e->v1);
    if (top < low || bottom > high)
        return false;
    if (top == bottom) {
        *least = fmin(e->u0, e->u1), *most = fmax(e->u0, e->u1);
        return true;
    }
    double slope = (e->u1 - e->u0) / (e->v1 - e->v0);
    double a = e->u0 + slope * (fmax(bottom, low) - e->v0), b = e->u0 + slope * (fmin(top, high) - e->v0);
    *least = fmin(a, b), *most = fmax(a, b);
    return true;
}

static size_t clamp_index(double a, size_t n)
{
    if (!(a > 0))
        return 0;
    return a >= (double)n ? n - 1 : (size_t)a;
}

/* Call over all buckets an edge touches: first counting, then filling. */
static void buckets_walk(struct outline *o, uint32_t *count, bool fill)
{
    for (size_t k = 0; k < o->n_edges; k++) {
        const struct edge *e = &o->edges[k];
        size_t from = clamp_index((fmin(e->v0, e->v1) - o->v0) / o->size - 1e-6, o->rows);
        size_t to = clamp_index((fmax(e->v0, e->v1) - o->v0) / o->size + 1e-6, o->rows);
        for (size_t j = from; j <= to; j++) {
            double least = 0, most = 0, low = o->v0 + (double)j * o->size;
            if (!edge_range(e, low - 1e-6, low + o->size + 1e-6, &least, &most))
                continue;
            size_t first = clamp_index((least - o->u0) / o->size - 1e-6, o->columns);
            size_t last = clamp_index((most - o->u0) / o->size + 1e-6, o->columns);
            for (size_t i = first; i <= last; i++) {
                size_t b = j * o->columns + i;
                if (fill)
                    o->item[o->start[b] + count[b]] = (uint32_t)k;
                count[b]++;
            }
        }
    }
}

static int double_order(const void *a, const void *b)
{
    const double *x = a, *y = b;
    return (*x > *y) - (*x < *y);
}

/* Whether the lower left corner of each bucket is inside: cross each row's lower line once. */
static void corners_fill(struct outline *o, struct arena *scratch)
{
    double *cross = arena_array(scratch, o->n_edges + 1, sizeof *cross);
    uint32_t *seen = arena_array(scratch, o->n_edges + 1, sizeof *seen);
    for (size_t j = 0; j < o->rows; j++) {
        double v = o->v0 + (double)j * o->size;
        size_t n = 0;
        for (size_t b = j * o->columns; b < (j + 1) * o->columns; b++) {
            for (uint32_t m = o->start[b]; m < o->start[b + 1]; m++) {
                uint32_t k = o->item[m];
                const struct edge *e = &o->edges[k];
                if (seen[k] == j + 1 || (e->v0 <= v) == (e->v1 <= v))
                    continue;
                seen[k] = (uint32_t)(j + 1);
                cross[n++] = e->u0 + (v - e->v0) * (e->u1 - e->u0) / (e->v1 - e->v0);
            }
        }
        qsort(cross, n, sizeof *cross, double_order);
        size_t passed = 0;
        for (size_t i = 0; i < o->columns; i++) {
            double u = o->u0 + (double)i * o->size;
            while (passed < n && cross[passed] <= u)
                passed++;
            o->corner[j * o->columns + i] = passed % 2 == 1;
        }
    }
}

static void buckets_make(struct outline *o, struct arena *arena)
{
    double wide = o->box.x_most - o->box.x_least, high = o->box.y_most - o->box.y_least;
    o->size = fmax(1.0, sqrt((wide + 1) * (high + 1) / MOST_BUCKETS));
    o->size = fmax(o->size, fmax(wide, high) / 1e6);
    /* An odd offset keeps corners of plots drawn on whole metres off the lines of the buckets. */
    o->u0 = o->box.x_least - 0.2137 * o->size, o->v0 = o->box.y_least - 0.2791 * o->size;
    o->columns = (size_t)ceil((wide + o->size) / o->size) + 1;
    o->rows = (size_t)ceil((high + o->size) / o->size) + 1;
    size_t n = o->columns * o->rows;
    struct arena scratch = {0};
    uint32_t *count = arena_array(&scratch, n + 1, sizeof *count);
    o->start = arena_array(arena, n + 1, sizeof *o->start);
    o->corner = arena_array(arena, n, sizeof *o->corner);
    buckets_walk(o, count, false);
    for (size_t b = 0; b < n; b++)
        o->start[b + 1] = o->start[b] + count[b];
    o->item = arena_array(arena, (size_t)o->start[n] + 1, sizeof *o->item);
    memset(count, 0, n * sizeof *count);
    buckets_walk(o, count, true);
    corners_fill(o, &scratch);
    for (size_t b = 0; b < n; b++)
        o->n_ground += o->corner[b] || o->start[b + 1] > o->start[b];
    o->ground = arena_array(arena, o->n_ground, sizeof *o->ground);
    size_t k = 0;
    for (size_t b = 0; b < n; b++) {
        if (o->corner[b] || o->start[b + 1] > o->start[b])
            o->ground[k++] = b;
    }
    arena_clear(&scratch);
}

enum outcome outline_make(const struct shape *shape, const struct frame *frame, struct arena *arena, struct outline *out,
                          struct failure *why)
{
    struct outline o = {.box = {INFINITY, INFINITY, -INFINITY, -INFINITY}};
    size_t room = 0;
    if (shape == NULL || shape->kind != SHAPE_POLYGONS)
        return fail(why, OUTCOME_DATA, "The ground is not a polygon.");
    for (size_t p = 0; p < shape->n_parts; p++) {
        for (size_t r = 0; r < shape->parts[p].n_rings; r++)
            room += shape->parts[p].rings[r].n;
    }
    if (room > 100000000)
        return fail(why, OUTCOME_DATA, "The outline has more than 100 million corners.");
    o.edges = arena_array(arena, room + 1, sizeof *o.edges);
    struct arena scratch = {0};
    for (size_t p = 0; p < shape->n_parts; p++) {
        for (size_t r = 0; r < shape->parts[p].n_rings; r++)
            o.n_edges += ring_edges(&shape->parts[p].rings[r], frame, r == 0, o.edges + o.n_edges, &scratch);
    }
    arena_clear(&scratch);
    double twice = 0;
    for (size_t k = 0; k < o.n_edges; k++) {
        const struct edge *e = &o.edges[k];
        o.box.x_least = fmin(o.box.x_least, e->u0), o.box.x_most = fmax(o.box.x_most, e->u0);
        o.box.y_least = fmin(o.box.y_least, e->v0), o.box.y_most = fmax(o.box.y_most, e->v0);
        o.length_m += hypot(e->u1 - e->u0, e->v1 - e->v0);
    }
    for (size_t k = 0; k < o.n_edges; k++) {
        const struct edge *e = &o.edges[k];
        twice += (e->u0 - o.box.x_least) * (e->v1 - o.box.y_least) - (e->u1 - o.box.x_least) * (e->v0 - o.box.y_least);
    }
    o.area_m2 = twice / 2;
    if (!(o.area_m2 > 0))
        return fail(why, OUTCOME_DATA, "The ground has no area.");
    buckets_make(&o, arena);
    *out = o;
    return OUTCOME_OK;
}

/* From the corner of the bucket up its left side, then right to the point: each crossing changes inside to outside. */
bool outline_holds(const struct outline *o, double u, double v)
{
    if (u < o->box.x_least || u > o->box.x_most || v < o->box.y_least || v > o->box.y_most)
        return false;
    size_t i = clamp_index((u - o->u0) / o->size, o->columns), j = clamp_index((v - o->v0) / o->size, o->rows);
    size_t b = j * o->columns + i;
    double left = o->u0 + (double)i * o->size, low = o->v0 + (double)j * o->size;
    bool in = o->corner[b];
    for (uint32_t m = o->start[b]; m < o->start[b + 1]; m++) {
        const struct edge *e = &o->edges[o->item[m]];
        if ((e->u0 <= left) != (e->u1 <= left)) {
            double at = e->v0 + (left - e->u0) * (e->v1 - e->v0) / (e->u1 - e->u0);
            if (at > low && at <= v)
                in = !in;
        }
        if ((e->v0 <= v) != (e->v1 <= v)) {
            double at = e->u0 + (v - e->v0) * (e->u1 - e->u0) / (e->v1 - e->v0);
            if (at > left && at <= u)
                in = !in;
        }
    }
    return in;
}

bool outline_crosses(const struct outline *o)
{
    struct random_stream random = random_make(1, 1);
    size_t inside = 0;
    for (size_t k = 0; k < CROSSING_TRIES; k++) {
        size_t b = o->ground[random_below(&random, o->n_ground)];
        double u = o->u0 + ((double)(b % o->columns) + random_uniform(&random)) * o->size;
        double v = o->v0 + ((double)(b / o->columns) + random_uniform(&random)) * o->size;
        inside += outline_holds(o, u, v);
    }
    double area = (double)inside / CROSSING_TRIES * (double)o->n_ground * o->size * o->size;
    return area > 1.4 * o->area_m2 && inside > 200;
}

static double edge_far2(const struct edge *e, double u, double v)
{
    double du = e->u1 - e->u0, dv = e->v1 - e->v0, pu = u - e->u0, pv = v - e->v0;
    double t = (pu * du + pv * dv) / (du * du + dv * dv);
    t = t < 0 ? 0 : t > 1 ? 1 : t;
    pu -= t * du, pv -= t * dv;
    return pu * pu + pv * pv;
}

double outline_far(const struct outline *o, double u, double v, double reach)
{
    double best = reach * reach;
    long ci = (long)floor((u - o->u0) / o->size), cj = (long)floor((v - o->v0) / o->size);
    long columns = (long)o->columns, rows = (long)o->rows;
    for (long ring = 0;; ring++) {
        double nearest = (double)(ring - 1) * o->size;
        if (ring > 0 && nearest * nearest >= best && nearest > 0)
            break;
        if (ring > columns + rows + labs(ci) + labs(cj))
            break;
        for (long j = cj - ring; j <= cj + ring; j++) {
            if (j < 0 || j >= rows)
                continue;
            bool whole = j == cj - ring || j == cj + ring;
            for (long i = ci - ring; i <= ci + ring; i += whole || ring == 0 ? 1 : 2 * ring) {
                if (i < 0 || i >= columns)
                    continue;
                size_t b = (size_t)j * o->columns + (size_t)i;
                for (uint32_t m = o->start[b]; m < o->start[b + 1]; m++) {
                    double far2 = edge_far2(&o->edges[o->item[m]], u, v);
                    if (far2 < best)
                        best = far2;
                }
            }
        }
    }
    return sqrt(best);
}

/* Share of an edge's piece inside one square: what lies to its right within the square, and its rise (which covers
 * whole squares further right). Going up takes ground away to the right, going down adds it; hence the sign. */
static void square_add(double *area, double *rise, size_t columns, double u0, double v0, double u1, double v1)
{
    double middle = (u0 + u1) / 2, dv = v1 - v0;
    size_t i = clamp_index(middle, columns), j = (size_t)floor((v0 + v1) / 2);
    double right = (double)(i + 1) - middle;
    area[j * columns + i] -= dv * right;
    rise[j * columns + i] -= dv;
}

void outline_squares(const struct outline *o, size_t rows, size_t columns, struct arena *scratch, double *out)
{
    double *rise = arena_array(scratch, rows * columns, sizeof *rise);
    memset(out, 0, rows * columns * sizeof *out);
    for (size_t k = 0; k < o->n_edges; k++) {
        const struct edge *e = &o->edges[k];
        double du = e->u1 - e->u0, dv = e->v1 - e->v0, t = 0;
        while (t < 1) {
            double u = e->u0 + t * du, v = e->v0 + t * dv, next = 1;
            double eps = 1e-9;
            if (du != 0) {
                double line = du > 0 ? floor(u + eps) + 1 : ceil(u - eps) - 1;
                next = fmin(next, (line - e->u0) / du);
            }
            if (dv != 0) {
                double line = dv > 0 ? floor(v + eps) + 1 : ceil(v - eps) - 1;
                next = fmin(next, (line - e->v0) / dv);
            }
            if (!(next > t))
                next = 1;
            double u1 = e->u0 + next * du, v1 = e->v0 + next * dv, at = (v + v1) / 2;
            if (at >= 0 && at < (double)rows)
                square_add(out, rise, columns, fmax(u, 0), v, fmax(u1, 0), v1);
            t = next;
        }
    }
    for (size_t j = 0; j < rows; j++) {
        double covered = 0;
        for (size_t i = 0; i < columns; i++) {
            double here = out[j * columns + i] + covered;
            covered += rise[j * columns + i];
            out[j * columns + i] = here < 1e-9 ? 0 : here > 1 ? 1 : here;
        }
    }
}
