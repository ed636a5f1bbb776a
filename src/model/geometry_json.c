/* SPDX-License-Identifier: GPL-3.0-or-later
 * ISO WKB (OGC 06-103r4, clause 8) to GeoJSON geometries (RFC 7946, clause 3.1) and back, coordinates as they stand. */
#include "model/model_json.h"
#include <math.h>
#include <string.h>

enum { DEEPEST = 8 };
static const char *const kinds[] = {"",           "Point",           "LineString",   "Polygon",
                                    "MultiPoint", "MultiLineString", "MultiPolygon", "GeometryCollection"};

/// Where reading has come to.
struct reader {
    const unsigned char *p, *end;
    bool big;
};

static bool read_u32(struct reader *r, uint32_t *out)
{
    if (r->end - r->p < 4)
        return false;
    const unsigned char *p = r->p;
    *out = r->big ? (uint32_t)p[0] << 24 | (uint32_t)p[1] << 16 | (uint32_t)p[2] << 8 | p[3]
                  : (uint32_t)p[3] << 24 | (uint32_t)p[2] << 16 | (uint32_t)p[1] << 8 | p[0];
    r->p += 4;
    return true;
}

static bool read_double(struct reader *r, double *out)
{
    if (r->end - r->p < 8)
        return false;
    uint64_t bits = 0;
    for (int i = 0; i < 8; i++)
        bits = bits << 8 | r->p[r->big ? i : 7 - i];
    memcpy(out, &bits, sizeof *out);
    r->p += 8;
    return true;
}

static json_t *read_pair(struct reader *r)
{
    double x = 0, y = 0;
    return read_double(r, &x) && read_double(r, &y) && isfinite(x) && isfinite(y) ? json_pack("[f,f]", x, y) : NULL;
}

/* `n` things one after another as an array; NULL where one cannot be read. */
static json_t *read_run(struct reader *r, json_t *(*one)(struct reader *))
{
    uint32_t n = 0;
    if (!read_u32(r, &n) || n > (size_t)(r->end - r->p) / 4)
        return NULL;
    json_t *out = json_array();
    for (uint32_t i = 0; i < n; i++) {
        json_t *item = one(r);
        if (item == NULL) {
            json_decref(out);
            return NULL;
        }
        json_array_append_new(out, item);
    }
    return out;
}

static json_t *read_pairs(struct reader *r)
{
    return read_run(r, read_pair);
}

static json_t *read_geometry(struct reader *r, uint32_t wanted, int depth);

static json_t *read_members(struct reader *r, uint32_t type, int depth)
{
    uint32_t n = 0;
    if (!read_u32(r, &n) || n > (size_t)(r->end - r->p) / 5)
        return NULL;
    json_t *out = json_array();
    for (uint32_t i = 0; i < n; i++) {
        json_t *member = read_geometry(r, type == 7 ? 0 : type - 3, depth + 1);
        if (member == NULL) {
            json_decref(out);
            return NULL;
        }
        json_array_append_new(out, type == 7 ? member : json_incref(json_object_get(member, "coordinates")));
        if (type != 7)
            json_decref(member);
    }
    return out;
}

/* One geometry with its head; `wanted` is the type it must have, 0 for any. */
static json_t *read_geometry(struct reader *r, uint32_t wanted, int depth)
{
    uint32_t type = 0;
    if (depth > DEEPEST || r->end - r->p < 5 || *r->p > 1)
        return NULL;
    r->big = *r->p++ == 0;
    if (!read_u32(r, &type) || type < 1 || type > 7 || (wanted != 0 && type != wanted))
        return NULL;
    json_t *inside = type == 1   ? read_pair(r)
                     : type == 2 ? read_pairs(r)
                     : type == 3 ? read_run(r, read_pairs)
                                 : read_members(r, type, depth);
    return inside == NULL ? NULL : json_pack("{s:s,s:o}", "type", kinds[type], type == 7 ? "geometries" : "coordinates", inside);
}

enum outcome wkb_to_json(struct bytes wkb, json_t **out, struct failure *why)
{
    struct reader r = {wkb.at, wkb.at + wkb.n, false};
    json_t *read = wkb.n == 0 ? NULL : read_geometry(&r, 0, 0);
    if (read == NULL || r.p != r.end) {
        json_decref(read);
        fail(why, OUTCOME_DATA, "The geometry is not two-dimensional well-known binary.");
        return failure_remedy(why, "Bring the shape in again from its source.");
    }
    *out = read;
    return OUTCOME_OK;
}

static void add_u32(struct text *out, uint32_t value)
{
    char b[4] = {(char)(value & 255), (char)(value >> 8 & 255), (char)(value >> 16 & 255), (char)(value >> 24 & 255)};
    text_add_n(out, b, 4);
}

static void add_head(struct text *out, uint32_t type)
{
    text_add_n(out, "\1", 1);
    add_u32(out, type);
}

static bool add_pair(struct text *out, const json_t *pair)
{
    if (json_array_size(pair) != 2)
        return false;
    for (size_t i = 0; i < 2; i++) {
        const json_t *number = json_array_get(pair, i);
        double value = json_number_value(number);
        if (!json_is_number(number) || !isfinite(value))
            return false;
        uint64_t bits = 0;
        memcpy(&bits, &value, sizeof bits);
        add_u32(out, (uint32_t)bits);
        add_u32(out, (uint32_t)(bits >> 32));
    }
    return true;
}

static bool add_run(struct text *out, const json_t *run, bool (*one)(struct text *, const json_t *))
{
    if (!json_is_array(run) || json_array_size(run) > UINT32_MAX)
        return false;
    add_u32(out, (uint32_t)json_array_size(run));
    for (size_t i = 0; i < json_array_size(run); i++)
        if (!one(out, json_array_get(run, i)))
            return false;
    return true;
}

static bool add_pairs(struct text *out, const json_t *run)
{
    return add_run(out, run, add_pair);
}

static bool add_coordinates(struct text *out, uint32_t type, const json_t *inside)
{
    add_head(out, type);
    if (type == 1)
        return add_pair(out, inside);
    if (type == 2)
        return add_pairs(out, inside);
    if (type == 3)
        return add_run(out, inside, add_pairs);
    if (!json_is_array(inside))
        return false;
    add_u32(out, (uint32_t)json_array_size(inside));
    for (size_t i = 0; i < json_array_size(inside); i++)
        if (!add_coordinates(out, type - 3, json_array_get(inside, i)))
            return false;
    return true;
}

static bool add_geometry(struct text *out, const json_t *json, int depth)
{
    const char *kind = json_string_value(json_object_get(json, "type"));
    uint32_t type = 0;
    for (uint32_t i = 1; i < 8; i++)
        if (text_same(kind, kinds[i]))
            type = i;
    if (type == 0 || depth > DEEPEST)
        return false;
    if (type < 7)
        return add_coordinates(out, type, json_object_get(json, "coordinates"));
    const json_t *members = json_object_get(json, "geometries");
    if (!json_is_array(members))
        return false;
    add_head(out, 7);
    add_u32(out, (uint32_t)json_array_size(members));
    for (size_t i = 0; i < json_array_size(members); i++)
        if (!add_geometry(out, json_array_get(members, i), depth + 1))
            return false;
    return true;
}

enum outcome wkb_from_json(const json_t *json, struct arena *arena, struct bytes *out, struct failure *why)
{
    struct text wkb = {0};
    enum outcome outcome = OUTCOME_OK;
    if (add_geometry(&wkb, json, 0)) {
        *out = (struct bytes){(unsigned char *)arena_text_n(arena, wkb.at, wkb.n), wkb.n};
    } else {
        fail(why, OUTCOME_DATA, "The geometry is not a GeoJSON geometry with two coordinates to each place.");
        failure_remedy(why, "Give an object with \"type\" and \"coordinates\", each place as [x, y] in metres.");
        outcome = OUTCOME_DATA;
    }
    text_free(&wkb);
    return outcome;
}
