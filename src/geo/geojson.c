/* SPDX-License-Identifier: GPL-3.0-or-later
 * GeoJSON out, as RFC 7946 asks: WGS 84, longitude first, outer rings anticlockwise, one bounding box. */
#include "geo/geo.h"
#include <math.h>
#include <stdio.h>

static void json_text(struct text *out, const char *a)
{
    text_add(out, "\"");
    for (; *a != '\0'; a++) {
        unsigned char c = (unsigned char)*a;
        if (c == '"' || c == '\\')
            text_print(out, "\\%c", c);
        else if (c < 0x20)
            text_print(out, "\\u%04x", c);
        else
            text_add_n(out, a, 1);
    }
    text_add(out, "\"");
}

/* Degrees with at most 8 decimals, without trailing zeros. */
static void degrees(struct text *out, double x)
{
    char number[64];
    number_fixed(x, 8, number);
    size_t n = 0;
    while (number[n] != '\0')
        n++;
    while (n > 0 && number[n - 1] == '0')
        n--;
    if (n > 0 && number[n - 1] == '.')
        n--;
    text_add_n(out, number, n);
}

static void point(struct text *out, const double *xy)
{
    text_add(out, "[");
    degrees(out, xy[0]);
    text_add(out, ",");
    degrees(out, xy[1]);
    text_add(out, "]");
}

static void run(struct text *out, const struct ring *ring)
{
    text_add(out, "[");
    for (size_t j = 0; j < ring->n; j++) {
        text_add(out, j == 0 ? "" : ",");
        point(out, ring->xy + 2 * j);
    }
    text_add(out, "]");
}

static void part_write(struct text *out, enum shape_kind kind, const struct shape_part *part)
{
    if (kind == SHAPE_POINTS) {
        point(out, part->rings[0].xy);
        return;
    }
    if (kind == SHAPE_LINES) {
        run(out, &part->rings[0]);
        return;
    }
    text_add(out, "[");
    for (size_t k = 0; k < part->n_rings; k++) {
        text_add(out, k == 0 ? "" : ",");
        run(out, &part->rings[k]);
    }
    text_add(out, "]");
}

static void geometry(struct text *out, const struct shape *shape)
{
    static const char *const names[] = {"", "Point", "LineString", "Polygon"};
    if (shape->kind == SHAPE_NONE || shape->n_parts == 0) {
        text_add(out, "null");
        return;
    }
    bool multi = shape->n_parts > 1;
    text_print(out, "{\"type\":\"%s%s\",\"coordinates\":%s", multi ? "Multi" : "", names[shape->kind], multi ? "[" : "");
    for (size_t i = 0; i < shape->n_parts; i++) {
        text_add(out, i == 0 ? "" : ",");
        part_write(out, shape->kind, &shape->parts[i]);
    }
    text_add(out, multi ? "]}" : "}");
}

/* A value as a JSON number only where the text is one as JSON spells it. */
static void value_write(struct text *out, const char *value)
{
    double number;
    char again[40];
    if (value == NULL) {
        text_add(out, "null");
        return;
    }
    if (number_read(value, &number) && isfinite(number)) {
        number_write(number, again);
        if (text_same(again, value)) {
            text_add(out, again);
            return;
        }
    }
    json_text(out, value);
}

enum outcome map_write_geojson(const char *crs, const struct map_out *features, size_t n, struct text *out, struct failure *why)
{
    struct crs_way *way = NULL;
    struct arena arena = {0};
    struct text body = {0};
    struct box all = {INFINITY, INFINITY, -INFINITY, -INFINITY};
    enum outcome outcome = crs_way_new(crs, "OGC:CRS84", &way, why);
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++) {
        struct shape moved = {0};
        if (features[i].shape != NULL)
            outcome = crs_way_shape(way, features[i].shape, &arena, &moved, why);
        if (outcome != OUTCOME_OK)
            break;
        if (shape_count(&moved) > 0) {
            struct box box = shape_box(&moved);
            all = (struct box){fmin(all.x_least, box.x_least), fmin(all.y_least, box.y_least), fmax(all.x_most, box.x_most),
                               fmax(all.y_most, box.y_most)};
        }
        text_print(&body, "%s\n{\"type\":\"Feature\",", i == 0 ? "" : ",");
        if (features[i].id != NULL) {
            text_add(&body, "\"id\":");
            json_text(&body, features[i].id);
            text_add(&body, ",");
        }
        text_add(&body, "\"geometry\":");
        geometry(&body, &moved);
        text_add(&body, ",\"properties\":{");
        for (size_t k = 0; k < features[i].n_values; k++) {
            text_add(&body, k == 0 ? "" : ",");
            json_text(&body, features[i].keys[k]);
            text_add(&body, ":");
            value_write(&body, features[i].values[k]);
        }
        text_add(&body, "}}");
        arena_clear(&arena);
    }
    if (outcome == OUTCOME_OK) {
        text_add(out, "{\"type\":\"FeatureCollection\",");
        if (all.x_least <= all.x_most) {
            const double corners[4] = {all.x_least, all.y_least, all.x_most, all.y_most};
            text_add(out, "\"bbox\":[");
            for (size_t i = 0; i < 4; i++) {
                text_add(out, i == 0 ? "" : ",");
                degrees(out, corners[i]);
            }
            text_add(out, "],");
        }
        text_add(out, "\"features\":[");
        text_add(out, text_get(&body));
        text_add(out, "\n]}\n");
    }
    text_free(&body);
    arena_clear(&arena);
    crs_way_free(way);
    return outcome;
}
