/* SPDX-License-Identifier: GPL-3.0-or-later
 * Rows of a noun as GeoJSON features, chosen by place, time, property and filter (OGC API – Features, Part 1: OGC 17-069r4; Part 3,
 * filtering: OGC 19-079r2). */
#include "exchange/cql.h"
#include <jansson.h>
#include <math.h>
#include <string.h>

const struct field *exchange_date_field(enum noun noun)
{
    const struct noun_info *info = &noun_infos[noun];
    const struct field *first = NULL;
    for (size_t j = 0; j < info->n_fields; j++)
        if (info->fields[j].kind == FIELD_DATE) {
            if (info->fields[j].required)
                return &info->fields[j];
            first = first == NULL ? &info->fields[j] : first;
        }
    return first;
}

/* "2024-05-01", "2024-05-01T00:00:00Z", "a/b", "../b", "a/..": the days from and to. */
static enum outcome days_read(const char *text, int32_t days[2], struct failure *why)
{
    days[0] = INT32_MIN + 1, days[1] = INT32_MAX;
    if (text == NULL)
        return OUTCOME_OK;
    const char *slash = strchr(text, '/');
    for (int i = 0; i < (slash == NULL ? 1 : 2); i++) {
        const char *at = i == 0 ? text : slash + 1;
        size_t n = i == 0 && slash != NULL ? (size_t)(slash - text) : strlen(at);
        char day[16] = "";
        if (n == 0 || (n == 2 && strncmp(at, "..", 2) == 0))
            continue;
        if (n >= 10)
            memcpy(day, at, 10);
        if (n < 10 || (n > 10 && at[10] != 'T') || !date_read(day, &days[i])) {
            fail(why, OUTCOME_USAGE, "\"%.60s\" is no day or interval.", text);
            return failure_remedy(why, "Write 2024-05-01, or 2024-05-01/2025-05-01, or ../2025-05-01.");
        }
    }
    if (slash == NULL)
        days[1] = days[0];
    return days[0] <= days[1] ? OUTCOME_OK : fail(why, OUTCOME_USAGE, "The interval ends before it begins.");
}

static enum outcome box_read(const char *text, double box[4], struct failure *why)
{
    double v[6];
    int n = text == NULL ? 0 : sscanf(text, "%lf,%lf,%lf,%lf,%lf,%lf", &v[0], &v[1], &v[2], &v[3], &v[4], &v[5]);
    if (text == NULL)
        return OUTCOME_OK;
    if (n == 6)
        v[2] = v[3], v[3] = v[4];
    if ((n != 4 && n != 6) || !(v[1] <= v[3])) {
        fail(why, OUTCOME_USAGE, "\"%.80s\" is no box.", text);
        return failure_remedy(why, "Write west,south,east,north in degrees.");
    }
    memcpy(box, v, 4 * sizeof *box);
    return OUTCOME_OK;
}

/* Whether the shape, in degrees, meets the box. west > east: over the antimeridian. */
static bool in_box(const struct shape *shape, const double box[4], struct arena *arena)
{
    struct box own = shape_box(shape);
    if (own.y_least > box[3] || own.y_most < box[1])
        return false;
    double west[2] = {box[0], -180}, east[2] = {box[2], 180};
    int n = 1;
    if (box[0] > box[2])
        east[0] = 180, east[1] = box[2], n = 2;
    for (int i = 0; i < n; i++) {
        double distance;
        if (own.x_least > east[i] || own.x_most < west[i])
            continue;
        if (own.x_least >= west[i] && own.x_most <= east[i] && own.y_least >= box[1] && own.y_most <= box[3])
            return true;
        struct shape frame = east[i] > west[i] && box[3] > box[1]
                                 ? shape_rectangle(arena, west[i], box[1], east[i] - west[i], box[3] - box[1], 0)
                                 : shape_points(arena, (double[2]){west[i], box[1]}, 1);
        if (shape_distance(shape, &frame, &distance, NULL) == OUTCOME_OK && distance <= 0)
            return true;
    }
    return false;
}

/* The place of a row in the programme's system; false where it has none. */
static bool own_place(const struct noun_info *info, const char *row, struct arena *arena, struct shape *out)
{
    if (info->geometry == GEOMETRY_NONE)
        return false;
    if (info->geometry == GEOMETRY_POINT) {
        const double *xy = (const double *)(const void *)(row + info->geometry_offset);
        if (!is_known(xy[0]) || !is_known(xy[1]))
            return false;
        *out = shape_points(arena, xy, 1);
        return true;
    }
    struct bytes wkb = *(const struct bytes *)(const void *)(row + info->geometry_offset);
    return wkb.n > 0 && shape_from_wkb(wkb, arena, out, NULL) == OUTCOME_OK;
}

static bool place_of(const struct noun_info *info, const char *row, const struct crs_way *way, struct arena *arena, struct shape *degrees)
{
    struct shape own;
    return own_place(info, row, arena, &own) && crs_way_shape(way, &own, arena, degrees, NULL) == OUTCOME_OK;
}

static const char *property_text(const struct exchange_set *set, const struct field *field, const char *row, struct arena *arena)
{
    if (field->kind == FIELD_REF)
        return exchange_uuid(set, (enum noun)field->target, *(const int64_t *)(const void *)(row + field->offset), arena);
    return field->kind == FIELD_BYTES ? NULL : field_write(field, row, arena);
}

static enum outcome equals_check(enum noun noun, const struct features_query *query, struct failure *why)
{
    for (size_t i = 0; i < query->n_equal; i++) {
        const struct field *field = noun_field(noun, query->equal[i].name);
        if (field == NULL || field->kind == FIELD_BYTES) {
            fail(why, OUTCOME_USAGE, "%s has no property called \"%.60s\".", noun_infos[noun].name, query->equal[i].name);
            return failure_remedy(why, "Its queryables list them.") == OUTCOME_OK ? OUTCOME_OK : OUTCOME_USAGE;
        }
    }
    return OUTCOME_OK;
}

static bool equals_hold(const struct exchange_set *set, enum noun noun, const struct features_query *query, const char *row,
                        struct arena *arena)
{
    for (size_t i = 0; i < query->n_equal; i++) {
        const struct field *field = noun_field(noun, query->equal[i].name);
        const char *text = property_text(set, field, row, arena), *wanted = query->equal[i].value;
        double a, b;
        bool number =
            (field->kind == FIELD_REAL || field->kind == FIELD_INT) && text != NULL && number_read(text, &a) && number_read(wanted, &b);
        bool truth = field->kind == FIELD_ENUM && field->words == WORDS_TRUTH;
        if (truth)
            wanted = text_same(wanted, "true") ? "yes" : text_same(wanted, "false") ? "no" : wanted;
        if (number ? a != b : !text_same(text, wanted))
            return false;
    }
    return true;
}

/* Properties by the kind of their field: a label that looks like a number stays text. */
static json_t *properties_json(const struct exchange_set *set, enum noun noun, const char *row, struct arena *arena)
{
    const struct noun_info *info = &noun_infos[noun];
    json_t *out = json_object();
    for (size_t j = 0; j < info->n_fields; j++) {
        const struct field *field = &info->fields[j];
        const char *text = field->kind == FIELD_BYTES ? NULL : property_text(set, field, row, arena);
        const void *at = row + field->offset;
        json_t *value = NULL;
        if (field->kind == FIELD_BYTES)
            continue;
        if (text == NULL)
            value = json_null();
        else if (field->kind == FIELD_REAL)
            value = json_real(*(const double *)at);
        else if (field->kind == FIELD_INT)
            value = json_integer(*(const int64_t *)at);
        else if (field->kind == FIELD_ENUM && field->words == WORDS_TRUTH)
            value = json_boolean(strcmp(text, "yes") == 0);
        else
            value = json_string(text);
        json_object_set_new(out, field->name, value);
    }
    return out;
}

static enum outcome write_page(const struct exchange_set *set, enum noun noun, const char *crs, const size_t *matched, size_t n,
                               struct arena *arena, json_t **out, struct failure *why)
{
    const struct noun_info *info = &noun_infos[noun];
    struct map_out *features = arena_array(arena, n + 1, sizeof *features);
    struct text text = {0};
    for (size_t i = 0; i < n; i++) {
        const char *row = (const char *)set->of[noun].rows + matched[i] * info->size;
        struct shape *own = arena_alloc(arena, sizeof *own);
        bool placed = own_place(info, row, arena, own);
        features[i] =
            (struct map_out){.id = exchange_uuid(set, noun, *(const int64_t *)(const void *)row, arena), .shape = placed ? own : NULL};
    }
    enum outcome outcome = map_write_geojson(crs, features, n, &text, why);
    json_t *page = outcome == OUTCOME_OK ? json_loadb(text_get(&text), text.n, 0, NULL) : NULL;
    text_free(&text);
    if (outcome == OUTCOME_OK && page == NULL)
        outcome = fail(why, OUTCOME_SYSTEM, "The features could not be written.");
    for (size_t i = 0; i < n && page != NULL; i++)
        json_object_set_new(json_array_get(json_object_get(page, "features"), i), "properties",
                            properties_json(set, noun, (const char *)set->of[noun].rows + matched[i] * info->size, arena));
    *out = page;
    return outcome;
}

enum outcome exchange_features(const struct exchange_set *set, enum noun noun, const struct features_query *query, json_t **out,
                               struct features_found *found, struct failure *why)
{
    const struct noun_info *info = &noun_infos[noun];
    const struct programme *programme = exchange_programme(set);
    const struct field *dated = exchange_date_field(noun);
    struct arena arena = {0}, scratch = {0};
    struct crs_way *way = NULL;
    struct cql *filter = NULL;
    int32_t days[2];
    double box[4] = {0};
    *found = (struct features_found){0};
    if (programme == NULL)
        return fail(why, OUTCOME_DATA, "There is no programme.");
    const char *crs = arena_print(&arena, "EPSG:%lld", (long long)programme->crs);
    enum outcome outcome = days_read(query->datetime, days, why);
    if (outcome == OUTCOME_OK)
        outcome = box_read(query->bbox, box, why);
    if (outcome == OUTCOME_OK)
        outcome = equals_check(noun, query, why);
    if (outcome == OUTCOME_OK && query->filter != NULL)
        outcome = cql_read(query->filter, noun, &arena, &filter, why);
    bool needs_place = query->bbox != NULL || query->filter != NULL;
    if (outcome == OUTCOME_OK && needs_place)
        outcome = crs_way_new(crs, "OGC:CRS84", &way, why);
    size_t *matched = arena_array(&arena, set->of[noun].n + 1, sizeof *matched);
    for (size_t i = 0; i < set->of[noun].n && outcome == OUTCOME_OK; i++) {
        const char *row = (const char *)set->of[noun].rows + i * info->size;
        struct shape degrees;
        bool placed = needs_place && place_of(info, row, way, &scratch, &degrees);
        bool fits = query->id == NULL || text_same(query->id, exchange_uuid(set, noun, *(const int64_t *)(const void *)row, &scratch));
        if (fits && query->datetime != NULL) {
            int32_t day = dated == NULL ? DATE_UNKNOWN : *(const int32_t *)(const void *)(row + dated->offset);
            fits = day != DATE_UNKNOWN && day >= days[0] && day <= days[1];
        }
        fits = fits && (query->bbox == NULL || (placed && in_box(&degrees, box, &scratch)));
        fits = fits && equals_hold(set, noun, query, row, &scratch);
        fits = fits && (filter == NULL || cql_holds(filter, &(struct cql_row){set, row, placed ? &degrees : NULL}));
        if (fits)
            matched[found->matched++] = i;
        arena_clear(&scratch);
    }
    if (outcome == OUTCOME_OK) {
        size_t first = query->offset < found->matched ? query->offset : found->matched;
        found->returned = found->matched - first < query->limit ? found->matched - first : query->limit;
        outcome = write_page(set, noun, crs, matched + first, found->returned, &arena, out, why);
    }
    crs_way_free(way);
    arena_clear(&scratch);
    arena_clear(&arena);
    return outcome;
}

enum outcome exchange_extent(const struct exchange_set *set, enum noun noun, double box_deg[4], int32_t days[2], struct failure *why)
{
    const struct noun_info *info = &noun_infos[noun];
    const struct programme *programme = exchange_programme(set);
    const struct field *dated = exchange_date_field(noun);
    struct arena arena = {0};
    struct crs_way *way = NULL;
    enum outcome outcome = programme == NULL
                               ? fail(why, OUTCOME_DATA, "There is no programme.")
                               : crs_way_new(arena_print(&arena, "EPSG:%lld", (long long)programme->crs), "OGC:CRS84", &way, why);
    for (int k = 0; k < 4; k++)
        box_deg[k] = unknown_real();
    days[0] = days[1] = DATE_UNKNOWN;
    for (size_t i = 0; i < set->of[noun].n && outcome == OUTCOME_OK; i++) {
        const char *row = (const char *)set->of[noun].rows + i * info->size;
        struct shape degrees;
        if (place_of(info, row, way, &arena, &degrees)) {
            struct box b = shape_box(&degrees);
            box_deg[0] = fmin(box_deg[0], b.x_least), box_deg[1] = fmin(box_deg[1], b.y_least);
            box_deg[2] = fmax(box_deg[2], b.x_most), box_deg[3] = fmax(box_deg[3], b.y_most);
        }
        int32_t day = dated == NULL ? DATE_UNKNOWN : *(const int32_t *)(const void *)(row + dated->offset);
        if (day != DATE_UNKNOWN) {
            days[0] = days[0] == DATE_UNKNOWN || day < days[0] ? day : days[0];
            days[1] = days[1] == DATE_UNKNOWN || day > days[1] ? day : days[1];
        }
        arena_clear(&arena);
    }
    crs_way_free(way);
    arena_clear(&arena);
    return outcome;
}

json_t *exchange_queryables(enum noun noun, const char *id)
{
    const struct noun_info *info = &noun_infos[noun];
    json_t *out = json_object(), *properties = json_object();
    json_object_set_new(out, "$schema", json_string("https://json-schema.org/draft/2020-12/schema"));
    json_object_set_new(out, "$id", json_string(id));
    json_object_set_new(out, "type", json_string("object"));
    json_object_set_new(out, "title", json_string(info->name));
    json_object_set_new(out, "description", json_string(info->about));
    json_object_set_new(properties, "id", json_pack("{s:s,s:s}", "type", "string", "title", "The row, the same in every copy"));
    if (info->geometry != GEOMETRY_NONE)
        json_object_set_new(
            properties, "geometry",
            json_pack("{s:s,s:s}", "format", info->geometry == GEOMETRY_POINT ? "geometry-point" : "geometry-any", "title", "Place"));
    for (size_t j = 0; j < info->n_fields; j++) {
        const struct field *field = &info->fields[j];
        if (field->kind == FIELD_BYTES)
            continue;
        bool truth = field->kind == FIELD_ENUM && field->words == WORDS_TRUTH;
        json_t *one = json_object();
        json_object_set_new(one, "type",
                            json_string(truth                       ? "boolean"
                                        : field->kind == FIELD_REAL ? "number"
                                        : field->kind == FIELD_INT  ? "integer"
                                                                    : "string"));
        if (field->kind == FIELD_DATE)
            json_object_set_new(one, "format", json_string("date"));
        json_object_set_new(one, "title", json_string(field->about));
        if (*field->unit != '\0')
            json_object_set_new(one, "x-unit", json_string(field->unit));
        if (field->kind == FIELD_ENUM && !truth) {
            json_t *words = json_array();
            for (int i = 1; i < words_of[field->words].n; i++)
                json_array_append_new(words, json_string(words_of[field->words].word[i]));
            json_object_set_new(one, "enum", words);
        }
        json_object_set_new(properties, field->name, one);
    }
    json_object_set_new(out, "properties", properties);
    json_object_set_new(out, "additionalProperties", json_false());
    return out;
}
