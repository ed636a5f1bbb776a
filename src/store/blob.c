/* SPDX-License-Identifier: GPL-3.0-or-later
 * Geometry as it stands in a GeoPackage: a head (magic, flags, reference system, envelope) before ISO WKB.
 * OGC 12-128r17 (GeoPackage 1.3), clause 2.1.3; WKB by OGC 06-103r4, clause 8. Nothing read here is trusted. */
#include "store/inside.h"
#include <math.h>
#include <string.h>

enum { DEEPEST = 8, WKB_POINT = 1, WKB_POLYGON = 3, WKB_MULTI_POLYGON = 6, WKB_COLLECTION = 7, HEAD = 8, ENVELOPE = 32 };

/// Reading well-known binary from front to end.
struct walk {
    const unsigned char *p, *end;
    bool big;
    int per_point; ///< coordinates of each place, 2 to 4
    bool flat;     ///< all of it two-dimensional
    size_t empty_points;
    struct extent extent;
};

static bool walk_u32(struct walk *w, uint32_t *out)
{
    if (w->end - w->p < 4)
        return false;
    const unsigned char *p = w->p;
    *out = w->big ? (uint32_t)p[0] << 24 | (uint32_t)p[1] << 16 | (uint32_t)p[2] << 8 | p[3]
                  : (uint32_t)p[3] << 24 | (uint32_t)p[2] << 16 | (uint32_t)p[1] << 8 | p[0];
    w->p += 4;
    return true;
}

static double walk_double(const unsigned char *p, bool big)
{
    uint64_t bits = 0;
    double out = 0;
    for (int i = 0; i < 8; i++)
        bits = bits << 8 | p[big ? i : 7 - i];
    memcpy(&out, &bits, sizeof out);
    return out;
}

void extent_add(struct extent *to, const struct extent *more)
{
    if (!more->any)
        return;
    if (!to->any) {
        *to = *more;
        return;
    }
    to->x_least = fmin(to->x_least, more->x_least);
    to->y_least = fmin(to->y_least, more->y_least);
    to->x_most = fmax(to->x_most, more->x_most);
    to->y_most = fmax(to->y_most, more->y_most);
}

static bool walk_places(struct walk *w, uint32_t n)
{
    size_t step = (size_t)w->per_point * 8;
    if (n > (size_t)(w->end - w->p) / step)
        return false;
    for (uint32_t i = 0; i < n; i++, w->p += step) {
        double x = walk_double(w->p, w->big), y = walk_double(w->p + 8, w->big);
        if (isnan(x) && isnan(y))
            w->empty_points++; /* how a point without a place is written */
        else if (!isfinite(x) || !isfinite(y))
            return false;
        else
            extent_add(&w->extent, &(struct extent){true, x, y, x, y});
    }
    return true;
}

static bool walk_runs(struct walk *w)
{
    uint32_t runs = 0, n = 0;
    if (!walk_u32(w, &runs))
        return false;
    for (uint32_t i = 0; i < runs; i++)
        if (!walk_u32(w, &n) || !walk_places(w, n))
            return false;
    return true;
}

static bool walk_geometry(struct walk *w, uint32_t wanted, int depth)
{
    uint32_t type = 0, n = 0;
    if (depth > DEEPEST || w->end - w->p < 5 || *w->p > 1)
        return false;
    w->big = *w->p++ == 0;
    if (!walk_u32(w, &type) || type % 1000 < 1 || type % 1000 > WKB_COLLECTION || type / 1000 > 3)
        return false;
    w->per_point = type / 1000 == 0 ? 2 : type / 1000 == 3 ? 4 : 3;
    w->flat = w->flat && type < 1000;
    type %= 1000;
    if (wanted != 0 && wanted != type)
        return false;
    if (type == WKB_POINT)
        return walk_places(w, 1);
    if (type == 2)
        return walk_u32(w, &n) && walk_places(w, n);
    if (type == WKB_POLYGON)
        return walk_runs(w);
    if (!walk_u32(w, &n))
        return false;
    for (uint32_t i = 0; i < n; i++)
        if (!walk_geometry(w, type == WKB_COLLECTION ? 0 : type - 3, depth + 1))
            return false;
    return true;
}

static uint32_t wkb_type(struct bytes wkb)
{
    struct walk w = {.p = wkb.at + 1, .end = wkb.at + wkb.n, .big = wkb.n > 0 && wkb.at[0] == 0};
    uint32_t type = 0;
    return wkb.n >= 5 && walk_u32(&w, &type) ? type : 0;
}

/* A little-endian multipolygon of one member is handed out as that polygon, and polygons are stored so: one kind a layer. */
static struct bytes unwrap(struct bytes wkb)
{
    bool little = wkb.n > 14 && wkb.at[0] == 1 && wkb.at[9] == 1;
    bool single = little && wkb.at[5] == 1 && wkb.at[6] == 0 && wkb.at[7] == 0 && wkb.at[8] == 0;
    return single && wkb_type(wkb) == WKB_MULTI_POLYGON ? (struct bytes){wkb.at + 9, wkb.n - 9} : wkb;
}

enum outcome blob_check(enum geometry_kind kind, struct bytes wkb, struct extent *extent, struct failure *why)
{
    struct walk w = {.p = wkb.at, .end = wkb.at + wkb.n, .flat = true};
    uint32_t type = wkb_type(wkb);
    if (!walk_geometry(&w, 0, 0) || w.p != w.end || !w.flat || w.empty_points > 0) {
        fail(why, OUTCOME_DATA, "The geometry is not two-dimensional well-known binary with finite coordinates.");
        return failure_at(why, NULL, 0, "geometry");
    }
    if (kind == GEOMETRY_POLYGON && type != WKB_POLYGON && type != WKB_MULTI_POLYGON) {
        fail(why, OUTCOME_DATA, "The geometry must be a polygon, or several.");
        return failure_at(why, NULL, 0, "geometry");
    }
    *extent = w.extent;
    return OUTCOME_OK;
}

static void put_u32(unsigned char *p, uint32_t value)
{
    for (int i = 0; i < 4; i++)
        p[i] = (unsigned char)(value >> (8 * i));
}

static void put_double(unsigned char *p, double value)
{
    uint64_t bits = 0;
    memcpy(&bits, &value, sizeof bits);
    put_u32(p, (uint32_t)bits);
    put_u32(p + 4, (uint32_t)(bits >> 32));
}

/* The head; `envelope` takes 32 bytes more. Bit 0 of the flags: little-endian; bits 1 to 3: kind of envelope; bit 4: empty. */
static size_t put_head(unsigned char *p, int srs, const struct extent *extent, bool envelope)
{
    p[0] = 'G';
    p[1] = 'P';
    p[2] = 0;
    p[3] = (unsigned char)(1 | (envelope && extent->any ? 2 : 0) | (extent->any ? 0 : 16));
    put_u32(p + 4, (uint32_t)srs);
    if (!envelope || !extent->any)
        return HEAD;
    put_double(p + 8, extent->x_least);
    put_double(p + 16, extent->x_most);
    put_double(p + 24, extent->y_least);
    put_double(p + 32, extent->y_most);
    return HEAD + ENVELOPE;
}

static enum outcome point_make(const double xy[2], int srs, unsigned char **blob, size_t *n, struct extent *extent, struct failure *why)
{
    if (!is_known(xy[0]) && !is_known(xy[1]))
        return OUTCOME_OK;
    if (!isfinite(xy[0]) || !isfinite(xy[1])) {
        fail(why, OUTCOME_DATA, "A place needs both coordinates as finite numbers of metres.");
        return failure_at(why, NULL, 0, isfinite(xy[0]) ? "y_m" : "x_m");
    }
    *extent = (struct extent){true, xy[0], xy[1], xy[0], xy[1]};
    unsigned char *out = memory_get(HEAD + 21, 1);
    size_t at = put_head(out, srs, extent, false);
    out[at] = 1;
    put_u32(out + at + 1, WKB_POINT);
    put_double(out + at + 5, xy[0]);
    put_double(out + at + 13, xy[1]);
    *blob = out;
    *n = at + 21;
    return OUTCOME_OK;
}

enum outcome blob_make(const struct noun_info *info, const void *row, int srs, unsigned char **blob, size_t *n, struct extent *extent,
                       struct failure *why)
{
    *blob = NULL;
    *n = 0;
    *extent = (struct extent){0};
    const void *place = (const char *)row + info->geometry_offset;
    if (info->geometry == GEOMETRY_POINT)
        return point_make(place, srs, blob, n, extent, why);
    struct bytes wkb = *(const struct bytes *)place;
    if (wkb.n == 0)
        return OUTCOME_OK;
    enum outcome outcome = blob_check(info->geometry, wkb, extent, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    bool wrap = info->geometry == GEOMETRY_POLYGON && wkb_type(wkb) == WKB_POLYGON;
    unsigned char *out = memory_get(HEAD + ENVELOPE + 9 + wkb.n, 1);
    size_t at = put_head(out, srs, extent, true);
    if (wrap) {
        out[at] = 1;
        put_u32(out + at + 1, WKB_MULTI_POLYGON);
        put_u32(out + at + 5, 1);
        at += 9;
    }
    memcpy(out + at, wkb.at, wkb.n);
    *blob = out;
    *n = at + wkb.n;
    return OUTCOME_OK;
}

/* Where the WKB of a blob begins; 0 where this is no GeoPackage geometry. */
static size_t blob_body(const unsigned char *blob, size_t n)
{
    static const size_t envelope[8] = {0, 32, 48, 48, 64};
    if (n < HEAD || blob[0] != 'G' || blob[1] != 'P' || blob[2] != 0 || (blob[3] & 32) != 0)
        return 0;
    unsigned kind = blob[3] >> 1 & 7;
    size_t at = HEAD + envelope[kind];
    return kind > 4 || n < at ? 0 : at;
}

bool blob_srs(const void *blob, size_t n, int *srs)
{
    const unsigned char *b = blob;
    if (n < HEAD || blob_body(b, n) == 0)
        return false;
    struct walk w = {.p = b + 4, .end = b + 8, .big = (b[3] & 1) == 0};
    uint32_t value = 0;
    if (!walk_u32(&w, &value))
        return false;
    *srs = (int)value;
    return true;
}

bool blob_read(const struct noun_info *info, const void *blob, size_t n, void *row, struct arena *arena)
{
    const unsigned char *b = blob;
    void *place = (char *)row + info->geometry_offset;
    size_t at = blob_body(b, n);
    if (at == 0)
        return false;
    struct bytes wkb = {b + at, n - at};
    if (info->geometry == GEOMETRY_POINT) {
        double *xy = place;
        uint32_t type = wkb_type(wkb);
        if (type % 1000 != WKB_POINT || type / 1000 > 3 || wkb.n < 21)
            return false;
        xy[0] = walk_double(wkb.at + 5, wkb.at[0] == 0);
        xy[1] = walk_double(wkb.at + 13, wkb.at[0] == 0);
        if (isnan(xy[0]) || isnan(xy[1]))
            xy[0] = xy[1] = unknown_real();
        return true;
    }
    if (wkb_type(wkb) == 0)
        return false;
    if (info->geometry == GEOMETRY_POLYGON)
        wkb = unwrap(wkb);
    *(struct bytes *)place = (struct bytes){(unsigned char *)arena_text_n(arena, (const char *)wkb.at, wkb.n), wkb.n};
    return true;
}

bool blob_same(const struct noun_info *info, const void *a, const void *b)
{
    const void *at_a = (const char *)a + info->geometry_offset, *at_b = (const char *)b + info->geometry_offset;
    if (info->geometry == GEOMETRY_NONE)
        return true;
    if (info->geometry == GEOMETRY_POINT) {
        const double *p = at_a, *q = at_b;
        bool same_x = p[0] == q[0] || (!is_known(p[0]) && !is_known(q[0]));
        return same_x && (p[1] == q[1] || (!is_known(p[1]) && !is_known(q[1])));
    }
    struct bytes p = *(const struct bytes *)at_a, q = *(const struct bytes *)at_b;
    if (info->geometry == GEOMETRY_POLYGON) {
        p = unwrap(p);
        q = unwrap(q);
    }
    return p.n == q.n && (p.n == 0 || memcmp(p.at, q.at, p.n) == 0);
}

/* The extent of a stored blob, from its envelope or its coordinates. False: NULL or not readable. */
static bool stored_extent(sqlite3_value *value, struct extent *extent)
{
    const unsigned char *blob = sqlite3_value_blob(value);
    size_t n = (size_t)sqlite3_value_bytes(value), at = blob == NULL ? 0 : blob_body(blob, n);
    if (at == 0)
        return false;
    bool big = (blob[3] & 1) == 0, enveloped = at > HEAD && (blob[3] & 16) == 0;
    if (enveloped) {
        *extent = (struct extent){true, walk_double(blob + 8, big), walk_double(blob + 24, big), walk_double(blob + 16, big),
                                  walk_double(blob + 32, big)};
        return true;
    }
    struct walk w = {.p = blob + at, .end = blob + n, .flat = true};
    if (!walk_geometry(&w, 0, 0))
        return false;
    *extent = w.extent;
    return true;
}

static void st_is_empty(sqlite3_context *context, int n, sqlite3_value **values)
{
    struct extent extent = {0};
    (void)n;
    if (stored_extent(values[0], &extent))
        sqlite3_result_int(context, !extent.any);
}

static void st_side(sqlite3_context *context, int n, sqlite3_value **values)
{
    struct extent extent = {0};
    (void)n;
    if (!stored_extent(values[0], &extent) || !extent.any)
        return;
    int side = *(const int *)sqlite3_user_data(context);
    sqlite3_result_double(context, side == 0 ? extent.x_least : side == 1 ? extent.x_most : side == 2 ? extent.y_least : extent.y_most);
}

void blob_register(sqlite3 *db)
{
    static const char *const names[] = {"ST_MinX", "ST_MaxX", "ST_MinY", "ST_MaxY"};
    static int sides[] = {0, 1, 2, 3};
    int how = SQLITE_UTF8 | SQLITE_DETERMINISTIC | SQLITE_INNOCUOUS;
    sqlite3_create_function_v2(db, "ST_IsEmpty", 1, how, NULL, st_is_empty, NULL, NULL, NULL);
    for (int i = 0; i < 4; i++)
        sqlite3_create_function_v2(db, names[i], 1, how, &sides[i], st_side, NULL, NULL, NULL);
}
