/* SPDX-License-Identifier: GPL-3.0-or-later
 * Plane shapes in plain C: well-known binary, area, length, box, containment.
 * Workload: plots of 4 to 100 points by the thousand; outlines of 100,000 points now and then. */
#include "geo/geo.h"
#include "geo/segment.h"
#include <math.h>
#include <string.h>

enum { WKB_POINT = 1, WKB_LINE, WKB_POLYGON, WKB_MULTI_POINT, WKB_MULTI_LINE, WKB_MULTI_POLYGON };
enum { MOST_WKB_POINTS = 20000000 };

/* Points nearer to the outline than this count as on it: a thousand times the spacing of doubles at 5,000 km. */
static const double ON_OUTLINE_M = 1e-6;

struct reader {
    const unsigned char *at;
    size_t n;
    size_t place;
    bool little;
    struct failure *why;
};

static enum outcome broken(const struct reader *r, const char *what)
{
    return fail(r->why, OUTCOME_DATA, "The stored geometry cannot be read: %s at byte %zu of %zu.", what, r->place, r->n);
}

static bool read_u32(struct reader *r, uint32_t *out)
{
    if (r->n - r->place < 4)
        return false;
    const unsigned char *b = r->at + r->place;
    *out = r->little ? (uint32_t)b[0] | (uint32_t)b[1] << 8 | (uint32_t)b[2] << 16 | (uint32_t)b[3] << 24
                     : (uint32_t)b[3] | (uint32_t)b[2] << 8 | (uint32_t)b[1] << 16 | (uint32_t)b[0] << 24;
    r->place += 4;
    return true;
}

static double read_double(struct reader *r)
{
    uint64_t bits = 0;
    const unsigned char *b = r->at + r->place;
    for (int i = 0; i < 8; i++)
        bits |= (uint64_t)b[r->little ? i : 7 - i] << (8 * i);
    r->place += 8;
    double x;
    memcpy(&x, &bits, sizeof x);
    return x;
}

static enum outcome read_head(struct reader *r, uint32_t *type)
{
    if (r->n - r->place < 5)
        return broken(r, "it ends too early");
    unsigned char order = r->at[r->place];
    if (order > 1)
        return broken(r, "the byte order is neither 0 nor 1");
    r->little = order == 1;
    r->place++;
    read_u32(r, type);
    return OUTCOME_OK;
}

static enum outcome read_run(struct reader *r, size_t n, struct arena *arena, struct ring *out)
{
    if (n > MOST_WKB_POINTS || n > (r->n - r->place) / 16)
        return broken(r, "it promises more points than it holds");
    out->n = n;
    out->xy = arena_array(arena, n == 0 ? 1 : n, 2 * sizeof(double));
    for (size_t i = 0; i < 2 * n; i++) {
        out->xy[i] = read_double(r);
        if (!isfinite(out->xy[i]))
            return broken(r, "a coordinate is not a number");
    }
    return OUTCOME_OK;
}

/* One simple geometry after its head. */
static enum outcome read_part(struct reader *r, uint32_t type, struct arena *arena, struct shape_part *part)
{
    uint32_t n = 1;
    enum outcome outcome = OUTCOME_OK;
    if (type == WKB_POINT) {
        part->n_rings = 1;
        part->rings = arena_array(arena, 1, sizeof *part->rings);
        return read_run(r, 1, arena, part->rings);
    }
    if (!read_u32(r, &n))
        return broken(r, "it ends too early");
    if (type == WKB_LINE) {
        part->n_rings = 1;
        part->rings = arena_array(arena, 1, sizeof *part->rings);
        outcome = read_run(r, n, arena, part->rings);
        return outcome == OUTCOME_OK && n == 1 ? broken(r, "a line has one point only") : outcome;
    }
    if (n > (r->n - r->place) / 4)
        return broken(r, "it promises more rings than it holds");
    part->n_rings = n;
    part->rings = arena_array(arena, n == 0 ? 1 : n, sizeof *part->rings);
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++) {
        uint32_t points;
        if (!read_u32(r, &points))
            return broken(r, "it ends too early");
        outcome = read_run(r, points, arena, &part->rings[i]);
        const struct ring *ring = &part->rings[i];
        if (outcome == OUTCOME_OK && (points < 4 || ring->xy[0] != ring->xy[2 * points - 2] || ring->xy[1] != ring->xy[2 * points - 1]))
            return broken(r, "a ring is not closed or has fewer than four points");
    }
    return outcome;
}

static double ring_area(const struct ring *ring)
{
    if (ring->n < 3)
        return 0;
    double x0 = ring->xy[0], y0 = ring->xy[1], sum = 0, carry = 0;
    for (size_t i = 0; i + 1 < ring->n; i++) {
        double ax = ring->xy[2 * i] - x0, ay = ring->xy[2 * i + 1] - y0;
        double bx = ring->xy[2 * i + 2] - x0, by = ring->xy[2 * i + 3] - y0;
        double term = ax * by - bx * ay - carry, next = sum + term;
        carry = (next - sum) - term;
        sum = next;
    }
    return sum / 2;
}

static void ring_reverse(struct ring *ring)
{
    for (size_t i = 0, j = ring->n; i + 1 < j; i++) {
        j--;
        for (size_t k = 0; k < 2; k++) {
            double swap = ring->xy[2 * i + k];
            ring->xy[2 * i + k] = ring->xy[2 * j + k];
            ring->xy[2 * j + k] = swap;
        }
    }
}

/* A ring so flat that its turning is lost in rounding stays as it is. */
static void ring_turn(struct ring *ring, bool anticlockwise)
{
    double area = ring_area(ring);
    if (!isfinite(area) || area == 0 || (area > 0) == anticlockwise)
        return;
    ring_reverse(ring);
    double back = ring_area(ring);
    if ((back > 0) != anticlockwise)
        ring_reverse(ring);
}

enum outcome shape_from_wkb(struct bytes wkb, struct arena *arena, struct shape *out, struct failure *why)
{
    struct reader r = {.at = wkb.at, .n = wkb.n, .why = why};
    uint32_t type = 0;
    if (wkb.n == 0 || wkb.at == NULL)
        return fail(why, OUTCOME_DATA, "There is no geometry.");
    enum outcome outcome = read_head(&r, &type);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (type < WKB_POINT || type > WKB_MULTI_POLYGON)
        return broken(&r, "its type is not a plane point, line or polygon");
    bool multi = type >= WKB_MULTI_POINT;
    uint32_t single = multi ? type - 3 : type, n = 1;
    if (multi && !read_u32(&r, &n))
        return broken(&r, "it ends too early");
    if (multi && n > (r.n - r.place) / 9)
        return broken(&r, "it promises more parts than it holds");
    struct shape shape = {.kind = (enum shape_kind)single, .n_parts = n};
    shape.parts = arena_array(arena, n == 0 ? 1 : n, sizeof *shape.parts);
    for (size_t i = 0; i < n; i++) {
        if (multi) {
            outcome = read_head(&r, &type);
            if (outcome != OUTCOME_OK)
                return outcome;
            if (type != single)
                return broken(&r, "a part is of another type than the whole");
        }
        outcome = read_part(&r, type, arena, &shape.parts[i]);
        if (outcome != OUTCOME_OK)
            return outcome;
        for (size_t k = 0; single == WKB_POLYGON && k < shape.parts[i].n_rings; k++)
            ring_turn(&shape.parts[i].rings[k], k == 0);
    }
    if (r.place != r.n)
        return broken(&r, "something follows its end");
    *out = shape;
    return OUTCOME_OK;
}

static void write_u32(unsigned char **at, uint32_t x)
{
    for (int i = 0; i < 4; i++)
        *(*at)++ = (unsigned char)(x >> (8 * i));
}

static void write_run(unsigned char **at, const struct ring *ring)
{
    for (size_t i = 0; i < 2 * ring->n; i++) {
        uint64_t bits;
        memcpy(&bits, &ring->xy[i], sizeof bits);
        for (int k = 0; k < 8; k++)
            *(*at)++ = (unsigned char)(bits >> (8 * k));
    }
}

struct bytes shape_to_wkb(const struct shape *shape, struct arena *arena)
{
    size_t n = 9;
    for (size_t i = 0; i < shape->n_parts; i++) {
        n += 9;
        for (size_t k = 0; k < shape->parts[i].n_rings; k++)
            n += 4 + 16 * shape->parts[i].rings[k].n;
    }
    if (shape->kind == SHAPE_NONE || shape->n_parts == 0)
        return (struct bytes){0};
    unsigned char *at = arena_alloc(arena, n), *start = at;
    uint32_t single = (uint32_t)shape->kind;
    if (shape->n_parts != 1) {
        *at++ = 1;
        write_u32(&at, single + 3);
        write_u32(&at, (uint32_t)shape->n_parts);
    }
    for (size_t i = 0; i < shape->n_parts; i++) {
        const struct shape_part *part = &shape->parts[i];
        *at++ = 1;
        write_u32(&at, single);
        if (shape->kind == SHAPE_POLYGONS)
            write_u32(&at, (uint32_t)part->n_rings);
        for (size_t k = 0; k < part->n_rings; k++) {
            if (shape->kind != SHAPE_POINTS)
                write_u32(&at, (uint32_t)part->rings[k].n);
            write_run(&at, &part->rings[k]);
        }
    }
    return (struct bytes){.at = start, .n = (size_t)(at - start)};
}

double shape_area_m2(const struct shape *shape)
{
    double sum = 0;
    if (shape->kind != SHAPE_POLYGONS)
        return 0;
    for (size_t i = 0; i < shape->n_parts; i++)
        for (size_t k = 0; k < shape->parts[i].n_rings; k++)
            sum += (k == 0 ? 1 : -1) * fabs(ring_area(&shape->parts[i].rings[k]));
    return sum;
}

double shape_length_m(const struct shape *shape)
{
    double sum = 0;
    if (shape->kind != SHAPE_LINES && shape->kind != SHAPE_POLYGONS)
        return 0;
    for (size_t i = 0; i < shape->n_parts; i++)
        for (size_t k = 0; k < shape->parts[i].n_rings; k++) {
            const struct ring *ring = &shape->parts[i].rings[k];
            for (size_t j = 0; j + 1 < ring->n; j++)
                sum += hypot(ring->xy[2 * j + 2] - ring->xy[2 * j], ring->xy[2 * j + 3] - ring->xy[2 * j + 1]);
        }
    return sum;
}

struct box shape_box(const struct shape *shape)
{
    struct box box = {INFINITY, INFINITY, -INFINITY, -INFINITY};
    for (size_t i = 0; i < shape->n_parts; i++)
        for (size_t k = 0; k < shape->parts[i].n_rings; k++)
            for (size_t j = 0; j < shape->parts[i].rings[k].n; j++) {
                const double *p = shape->parts[i].rings[k].xy + 2 * j;
                box.x_least = fmin(box.x_least, p[0]);
                box.y_least = fmin(box.y_least, p[1]);
                box.x_most = fmax(box.x_most, p[0]);
                box.y_most = fmax(box.y_most, p[1]);
            }
    if (!(box.x_least <= box.x_most))
        box = (struct box){NAN, NAN, NAN, NAN};
    return box;
}

double segment_distance_squared(const double *a, const double *b, double x, double y)
{
    double dx = b[0] - a[0], dy = b[1] - a[1], px = x - a[0], py = y - a[1], length = dx * dx + dy * dy;
    double t = length > 0 ? (px * dx + py * dy) / length : 0;
    t = t < 0 ? 0 : t > 1 ? 1 : t;
    px -= t * dx;
    py -= t * dy;
    return px * px + py * py;
}

enum crossing segment_crossing(const double *a, const double *b, double x, double y)
{
    if (y < fmin(a[1], b[1]) - ON_OUTLINE_M || y > fmax(a[1], b[1]) + ON_OUTLINE_M || x > fmax(a[0], b[0]) + ON_OUTLINE_M)
        return CROSSING_NONE;
    if (x >= fmin(a[0], b[0]) - ON_OUTLINE_M && segment_distance_squared(a, b, x, y) <= ON_OUTLINE_M * ON_OUTLINE_M)
        return CROSSING_ON;
    if ((a[1] > y) == (b[1] > y))
        return CROSSING_NONE;
    double side = (b[0] - a[0]) * (y - a[1]) - (x - a[0]) * (b[1] - a[1]);
    return (b[1] > a[1]) == (side > 0) ? CROSSING_RIGHT : CROSSING_NONE;
}

bool shape_contains(const struct shape *polygon, double x_m, double y_m)
{
    bool inside = false;
    if (polygon->kind != SHAPE_POLYGONS)
        return false;
    for (size_t i = 0; i < polygon->n_parts; i++)
        for (size_t k = 0; k < polygon->parts[i].n_rings; k++) {
            const struct ring *ring = &polygon->parts[i].rings[k];
            for (size_t j = 0; j + 1 < ring->n; j++) {
                enum crossing crossing = segment_crossing(ring->xy + 2 * j, ring->xy + 2 * j + 2, x_m, y_m);
                if (crossing == CROSSING_ON)
                    return true;
                inside ^= crossing == CROSSING_RIGHT;
            }
        }
    return inside;
}

struct shape shape_rectangle(struct arena *arena, double x_m, double y_m, double width_m, double height_m, double turn_rad)
{
    double c = cos(turn_rad), s = sin(turn_rad);
    double corners[10] = {0, 0, width_m, 0, width_m, height_m, 0, height_m, 0, 0};
    struct shape shape = {.kind = SHAPE_POLYGONS, .n_parts = 1, .parts = arena_array(arena, 1, sizeof *shape.parts)};
    shape.parts[0].n_rings = 1;
    shape.parts[0].rings = arena_array(arena, 1, sizeof *shape.parts[0].rings);
    struct ring *ring = shape.parts[0].rings;
    ring->n = 5;
    ring->xy = arena_array(arena, 5, 2 * sizeof(double));
    for (size_t i = 0; i < 5; i++) {
        ring->xy[2 * i] = x_m + c * corners[2 * i] - s * corners[2 * i + 1];
        ring->xy[2 * i + 1] = y_m + s * corners[2 * i] + c * corners[2 * i + 1];
    }
    ring_turn(ring, true);
    return shape;
}

struct shape shape_points(struct arena *arena, const double *xy, size_t n)
{
    struct shape shape = {.kind = SHAPE_POINTS, .n_parts = n, .parts = arena_array(arena, n == 0 ? 1 : n, sizeof *shape.parts)};
    for (size_t i = 0; i < n; i++) {
        shape.parts[i].n_rings = 1;
        shape.parts[i].rings = arena_array(arena, 1, sizeof(struct ring));
        shape.parts[i].rings[0].n = 1;
        shape.parts[i].rings[0].xy = arena_array(arena, 1, 2 * sizeof(double));
        memcpy(shape.parts[i].rings[0].xy, xy + 2 * i, 2 * sizeof(double));
    }
    return shape;
}

struct shape shape_copy(const struct shape *shape, struct arena *arena)
{
    struct shape copy = {.kind = shape->kind, .n_parts = shape->n_parts};
    copy.parts = arena_array(arena, shape->n_parts == 0 ? 1 : shape->n_parts, sizeof *copy.parts);
    for (size_t i = 0; i < shape->n_parts; i++) {
        const struct shape_part *from = &shape->parts[i];
        struct shape_part *to = &copy.parts[i];
        to->n_rings = from->n_rings;
        to->rings = arena_array(arena, from->n_rings == 0 ? 1 : from->n_rings, sizeof *to->rings);
        for (size_t k = 0; k < from->n_rings; k++) {
            to->rings[k].n = from->rings[k].n;
            to->rings[k].xy = arena_array(arena, from->rings[k].n == 0 ? 1 : from->rings[k].n, 2 * sizeof(double));
            memcpy(to->rings[k].xy, from->rings[k].xy, from->rings[k].n * 2 * sizeof(double));
        }
    }
    return copy;
}

size_t shape_count(const struct shape *shape)
{
    size_t n = 0;
    for (size_t i = 0; i < shape->n_parts; i++)
        for (size_t k = 0; k < shape->parts[i].n_rings; k++)
            n += shape->parts[i].rings[k].n;
    return n;
}

/* Adds a run's weighted centre, relative to (x0, y0). */
static void run_centre(enum shape_kind kind, const struct ring *ring, double x0, double y0, double sums[3])
{
    for (size_t j = 0; j + (kind != SHAPE_POINTS) < ring->n; j++) {
        double ax = ring->xy[2 * j] - x0, ay = ring->xy[2 * j + 1] - y0;
        double weight = 1, x = ax, y = ay;
        if (kind != SHAPE_POINTS) {
            double bx = ring->xy[2 * j + 2] - x0, by = ring->xy[2 * j + 3] - y0;
            weight = kind == SHAPE_LINES ? hypot(bx - ax, by - ay) : ax * by - bx * ay;
            x = kind == SHAPE_LINES ? (ax + bx) / 2 : (ax + bx) / 3;
            y = kind == SHAPE_LINES ? (ay + by) / 2 : (ay + by) / 3;
        }
        sums[0] += weight;
        sums[1] += weight * x;
        sums[2] += weight * y;
    }
}

void shape_centre(const struct shape *shape, double *x_m, double *y_m)
{
    struct box box = shape_box(shape);
    double sums[3] = {0, 0, 0};
    for (size_t i = 0; i < shape->n_parts; i++)
        for (size_t k = 0; k < shape->parts[i].n_rings; k++)
            run_centre(shape->kind, &shape->parts[i].rings[k], box.x_least, box.y_least, sums);
    bool none = sums[0] == 0;
    *x_m = none ? (box.x_least + box.x_most) / 2 : box.x_least + sums[1] / sums[0];
    *y_m = none ? (box.y_least + box.y_most) / 2 : box.y_least + sums[2] / sums[0];
}

static void wkt_run(const struct ring *ring, struct text *out)
{
    text_add(out, "(");
    for (size_t j = 0; j < ring->n; j++) {
        char x[40], y[40];
        number_write(ring->xy[2 * j], x);
        number_write(ring->xy[2 * j + 1], y);
        text_print(out, "%s%s %s", j == 0 ? "" : ", ", x, y);
    }
    text_add(out, ")");
}

void shape_wkt(const struct shape *shape, struct text *out)
{
    static const char *const names[] = {"GEOMETRYCOLLECTION", "POINT", "LINESTRING", "POLYGON"};
    bool multi = shape->n_parts != 1;
    text_print(out, "%s%s ", multi && shape->kind != SHAPE_NONE ? "MULTI" : "", names[shape->kind]);
    if (shape->n_parts == 0) {
        text_add(out, "EMPTY");
        return;
    }
    text_add(out, multi ? "(" : "");
    for (size_t i = 0; i < shape->n_parts; i++) {
        text_add(out, i == 0 ? "" : ", ");
        text_add(out, shape->kind == SHAPE_POLYGONS ? "(" : "");
        for (size_t k = 0; k < shape->parts[i].n_rings; k++) {
            text_add(out, k == 0 ? "" : ", ");
            wkt_run(&shape->parts[i].rings[k], out);
        }
        text_add(out, shape->kind == SHAPE_POLYGONS ? ")" : "");
    }
    text_add(out, multi ? ")" : "");
}
