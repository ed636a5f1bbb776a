/* SPDX-License-Identifier: GPL-3.0-or-later
 * Rows of any noun as JSON and back, by the description of their fields. */
#include "model/model_json.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

static void *at(const struct field *field, const void *row)
{
    return (void *)((uintptr_t)row + field->offset);
}

static json_t *hex_of(struct bytes bytes)
{
    static const char digits[] = "0123456789abcdef";
    char *hex = memory_get(bytes.n * 2 + 1, 1);
    for (size_t i = 0; i < bytes.n; i++) {
        hex[2 * i] = digits[bytes.at[i] >> 4];
        hex[2 * i + 1] = digits[bytes.at[i] & 15];
    }
    json_t *out = json_string(hex);
    free(hex);
    return out;
}

static int hex_digit(char a)
{
    return a >= '0' && a <= '9' ? a - '0' : a >= 'a' && a <= 'f' ? a - 'a' + 10 : a >= 'A' && a <= 'F' ? a - 'A' + 10 : -1;
}

static bool hex_read(const char *hex, struct arena *arena, struct bytes *out)
{
    size_t n = strlen(hex);
    unsigned char *bytes = arena_alloc(arena, n / 2 + 1);
    for (size_t i = 0; i < n; i += 2) {
        int high = hex_digit(hex[i]), low = hex_digit(hex[i + 1]);
        if (high < 0 || low < 0)
            return false;
        bytes[i / 2] = (unsigned char)(high * 16 + low);
    }
    *out = (struct bytes){bytes, n / 2};
    return true;
}

static json_t *enum_json(const struct field *field, const void *row)
{
    int value = 0;
    memcpy(&value, at(field, row), sizeof value);
    return field->words == WORDS_TRUTH ? json_boolean(value == TRUTH_YES) : json_string(word_of((enum word_list)field->words, value));
}

static json_t *field_json(const struct field *field, const void *row)
{
    if (field_unknown(field, row))
        return json_null();
    const void *value = at(field, row);
    char date[16] = "";
    json_t *parsed = NULL;
    switch (field->kind) {
    case FIELD_JSON:
        parsed = json_loads(*(const char *const *)value, JSON_DECODE_ANY, NULL);
        return parsed != NULL ? parsed : json_string(*(const char *const *)value);
    case FIELD_TEXT:
    case FIELD_MOMENT:
        return json_string(*(const char *const *)value);
    case FIELD_INT:
    case FIELD_REF:
        return json_integer(*(const int64_t *)value);
    case FIELD_REAL:
        return json_real(*(const double *)value);
    case FIELD_DATE:
        date_write(*(const int32_t *)value, date);
        return json_string(date);
    case FIELD_BYTES:
        return hex_of(*(const struct bytes *)value);
    case FIELD_ENUM:
        return enum_json(field, row);
    }
    return json_null();
}

static json_t *number_or_null(double x)
{
    return is_known(x) ? json_real(x) : json_null();
}

json_t *row_json(enum noun noun, const void *row)
{
    const struct noun_info *info = &noun_infos[noun];
    int64_t id = 0;
    struct uuid uuid = {0};
    memcpy(&id, row, sizeof id);
    memcpy(&uuid, (const char *)row + sizeof id, sizeof uuid);
    char name[37] = "";
    uuid_write(&uuid, name);
    json_t *out = json_object();
    json_object_set_new(out, "id", json_integer(id));
    json_object_set_new(out, "uuid", uuid_unset(&uuid) ? json_null() : json_string(name));
    const void *place = (const char *)row + info->geometry_offset;
    if (info->geometry == GEOMETRY_POINT) {
        const double *xy = place;
        json_object_set_new(out, "x_m", number_or_null(xy[0]));
        json_object_set_new(out, "y_m", number_or_null(xy[1]));
    } else if (info->geometry != GEOMETRY_NONE) {
        const struct bytes *wkb = place;
        json_t *shape = NULL;
        if (wkb->n == 0 || wkb_to_json(*wkb, &shape, NULL) != OUTCOME_OK)
            shape = wkb->n == 0 ? json_null() : json_pack("{s:o}", "wkb", hex_of(*wkb));
        json_object_set_new(out, "geometry", shape);
    }
    for (size_t i = 0; i < info->n_fields; i++)
        json_object_set_new(out, info->fields[i].name, field_json(&info->fields[i], row));
    return out;
}

static enum outcome wrong_kind(const char *name, const char *wanted, struct failure *why)
{
    fail(why, OUTCOME_DATA, "%s must be %s.", name, wanted);
    failure_at(why, NULL, 0, name);
    return OUTCOME_DATA;
}

static enum outcome text_from_json(const struct field *field, const json_t *value, void *row, struct arena *arena, struct failure *why)
{
    const char *text = json_string_value(value);
    if (text == NULL)
        return wrong_kind(field->name, "a text", why);
    if (strlen(text) != json_string_length(value))
        return wrong_kind(field->name, "a text without zero bytes", why);
    *(const char **)at(field, row) = text[0] == '\0' ? NULL : arena_text(arena, text);
    return OUTCOME_OK;
}

static void json_text_from_json(const struct field *field, const json_t *value, void *row, struct arena *arena)
{
    char *text = json_dumps(value, JSON_COMPACT | JSON_ENCODE_ANY);
    *(const char **)at(field, row) = arena_text(arena, text);
    free(text);
}

static enum outcome number_from_json(const struct field *field, const json_t *value, void *row, struct failure *why)
{
    if (field->kind == FIELD_REAL) {
        if (!json_is_number(value))
            return wrong_kind(field->name, "a number", why);
        *(double *)at(field, row) = json_number_value(value);
        return OUTCOME_OK;
    }
    double real = json_is_real(value) ? json_real_value(value) : 0;
    if (!json_is_integer(value) && !(json_is_real(value) && floor(real) == real && fabs(real) < 9007199254740992.0))
        return wrong_kind(field->name, "a whole number", why);
    int64_t number = json_is_integer(value) ? (int64_t)json_integer_value(value) : (int64_t)real;
    if (field->kind == FIELD_REF && number < 0)
        return wrong_kind(field->name, "the id of a row", why);
    *(int64_t *)at(field, row) = number;
    return OUTCOME_OK;
}

static enum outcome field_from_json(const struct field *field, const json_t *value, void *row, struct arena *arena, struct failure *why)
{
    if (json_is_null(value) && field->kind == FIELD_BYTES) {
        *(struct bytes *)at(field, row) = (struct bytes){0};
        return OUTCOME_OK;
    }
    if (json_is_null(value))
        return field_read(field, row, "", arena, why);
    switch (field->kind) {
    case FIELD_JSON:
        json_text_from_json(field, value, row, arena);
        return OUTCOME_OK;
    case FIELD_TEXT:
    case FIELD_MOMENT:
        return text_from_json(field, value, row, arena, why);
    case FIELD_INT:
    case FIELD_REF:
    case FIELD_REAL:
        return number_from_json(field, value, row, why);
    case FIELD_BYTES: {
        const char *hex = json_string_value(value);
        if (hex == NULL || strlen(hex) % 2 != 0 || !hex_read(hex, arena, (struct bytes *)at(field, row)))
            return wrong_kind(field->name, "hexadecimal digits in pairs", why);
        return OUTCOME_OK;
    }
    case FIELD_ENUM:
        if (field->words == WORDS_TRUTH) {
            if (!json_is_boolean(value))
                return wrong_kind(field->name, "true, false or null", why);
            int truth = json_is_true(value) ? TRUTH_YES : TRUTH_NO;
            memcpy(at(field, row), &truth, sizeof truth);
            return OUTCOME_OK;
        }
        break;
    case FIELD_DATE:
        break;
    }
    if (!json_is_string(value))
        return wrong_kind(field->name, field->kind == FIELD_DATE ? "a day such as 2024-09-14" : "one of its words", why);
    return field_read(field, row, json_string_value(value), arena, why);
}

static enum outcome place_from_json(const struct noun_info *info, const char *key, const json_t *value, void *row, struct arena *arena,
                                    struct failure *why)
{
    void *place = (char *)row + info->geometry_offset;
    if (info->geometry == GEOMETRY_POINT) {
        if (!json_is_number(value) && !json_is_null(value))
            return wrong_kind(key, "a number in metres", why);
        ((double *)place)[key[0] == 'x' ? 0 : 1] = json_is_null(value) ? unknown_real() : json_number_value(value);
        return OUTCOME_OK;
    }
    struct bytes wkb = {0};
    const char *hex = json_string_value(json_object_get(value, "wkb"));
    if (hex != NULL && (strlen(hex) % 2 != 0 || !hex_read(hex, arena, &wkb)))
        return wrong_kind("geometry", "a GeoJSON geometry", why);
    if (hex == NULL && !json_is_null(value)) {
        enum outcome outcome = wkb_from_json(value, arena, &wkb, why);
        if (outcome != OUTCOME_OK)
            return failure_at(why, NULL, 0, "geometry");
    }
    *(struct bytes *)place = wkb;
    return OUTCOME_OK;
}

static enum outcome member_from_json(enum noun noun, const char *key, const json_t *value, void *row, struct arena *arena,
                                     struct failure *why)
{
    const struct noun_info *info = &noun_infos[noun];
    if (text_same(key, "id")) {
        if (!json_is_integer(value) || json_integer_value(value) < 0)
            return wrong_kind("id", "the id of a row", why);
        int64_t id = (int64_t)json_integer_value(value);
        memcpy(row, &id, sizeof id);
        return OUTCOME_OK;
    }
    if (text_same(key, "uuid")) {
        struct uuid uuid = {0};
        if (!json_is_null(value) && !uuid_read(json_string_value(value), &uuid))
            return wrong_kind("uuid", "a UUID", why);
        memcpy((char *)row + sizeof(int64_t), &uuid, sizeof uuid);
        return OUTCOME_OK;
    }
    bool point = info->geometry == GEOMETRY_POINT;
    if ((point && (text_same(key, "x_m") || text_same(key, "y_m"))) ||
        (!point && info->geometry != GEOMETRY_NONE && text_same(key, "geometry")))
        return place_from_json(info, key, value, row, arena, why);
    const struct field *field = noun_field(noun, key);
    if (field != NULL)
        return field_from_json(field, value, row, arena, why);
    fail(why, OUTCOME_DATA, "A %s has no field \"%.80s\".", info->name, key);
    failure_at(why, NULL, 0, key);
    return failure_remedy(why, "Check the spelling against the list of fields.");
}

enum outcome row_from_json(enum noun noun, const json_t *json, bool only_given, void *row, struct arena *arena, struct failure *why)
{
    if (!json_is_object(json))
        return fail(why, OUTCOME_DATA, "A %s must be a JSON object.", noun_infos[noun].name);
    void *work = memory_get(1, noun_infos[noun].size);
    if (only_given)
        memcpy(work, row, noun_infos[noun].size);
    else
        noun_init(noun, work);
    enum outcome outcome = OUTCOME_OK;
    for (void *i = json_object_iter((json_t *)(uintptr_t)json); i != NULL && outcome == OUTCOME_OK;
         i = json_object_iter_next((json_t *)(uintptr_t)json, i))
        outcome = member_from_json(noun, json_object_iter_key(i), json_object_iter_value(i), work, arena, why);
    if (outcome == OUTCOME_OK)
        memcpy(row, work, noun_infos[noun].size);
    free(work);
    return outcome;
}
