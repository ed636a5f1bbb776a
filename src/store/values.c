/* SPDX-License-Identifier: GPL-3.0-or-later
 * One value of a field between its struct and its column. */
#include "store/inside.h"
#include <math.h>
#include <string.h>

/* Well-formed UTF-8 (RFC 3629): no overlong forms, no surrogates, nothing above U+10FFFF. */
static bool utf8_good(const char *text)
{
    const unsigned char *p = (const unsigned char *)text;
    while (*p != 0) {
        if (*p < 0x80) {
            p++;
            continue;
        }
        int more = *p >= 0xc2 && *p <= 0xdf ? 1 : *p >= 0xe0 && *p <= 0xef ? 2 : *p >= 0xf0 && *p <= 0xf4 ? 3 : 0;
        unsigned char low = *p == 0xe0 ? 0xa0 : *p == 0xf0 ? 0x90 : 0x80, high = *p == 0xed ? 0x9f : *p == 0xf4 ? 0x8f : 0xbf;
        if (more == 0 || p[1] < low || p[1] > high)
            return false;
        for (int i = 2; i <= more; i++)
            if ((p[i] & 0xc0) != 0x80)
                return false;
        p += more + 1;
    }
    return true;
}

static bool textual(const struct field *field)
{
    return field->kind == FIELD_TEXT || field->kind == FIELD_JSON || field->kind == FIELD_MOMENT;
}

static enum outcome text_check(const struct field *field, const char *text, struct failure *why)
{
    if (text == NULL)
        return OUTCOME_OK;
    if (field->required && text[0] == '\0') {
        fail(why, OUTCOME_DATA, "%s is missing.", field->name);
        failure_at(why, NULL, 0, field->name);
        failure_remedy(why, "Give it: %s.", field->about);
        return OUTCOME_DATA;
    }
    if (!utf8_good(text)) {
        fail(why, OUTCOME_DATA, "%s holds bytes that are not UTF-8 text.", field->name);
        failure_at(why, NULL, 0, field->name);
        failure_remedy(why, "Save the source as UTF-8 and bring it in again.");
        return OUTCOME_DATA;
    }
    if (field->kind != FIELD_JSON || text[0] == '\0')
        return OUTCOME_OK;
    json_t *json = json_loads(text, JSON_DECODE_ANY, NULL);
    bool good = json != NULL;
    json_decref(json);
    if (good)
        return OUTCOME_OK;
    fail(why, OUTCOME_DATA, "%s is not JSON.", field->name);
    failure_at(why, NULL, 0, field->name);
    return OUTCOME_DATA;
}

enum outcome value_check(enum noun noun, const void *row, struct failure *why)
{
    const struct noun_info *info = &noun_infos[noun];
    enum outcome outcome = noun_check(noun, row, why);
    for (size_t i = 0; i < info->n_fields && outcome == OUTCOME_OK; i++)
        if (textual(&info->fields[i]))
            outcome = text_check(&info->fields[i], *(const char *const *)field_at(&info->fields[i], row), why);
    return outcome;
}

static int enum_value(const struct field *field, const void *row)
{
    int value = 0;
    memcpy(&value, field_at(field, row), sizeof value);
    return value;
}

void value_bind(sqlite3_stmt *statement, int parameter, const struct field *field, const void *row)
{
    const void *value = field_at(field, row);
    char date[16] = "";
    if (field_unknown(field, row) || (textual(field) && (*(const char *const *)value)[0] == '\0')) {
        sqlite3_bind_null(statement, parameter);
        return;
    }
    switch (field->kind) {
    case FIELD_TEXT:
    case FIELD_JSON:
    case FIELD_MOMENT:
        sqlite3_bind_text(statement, parameter, *(const char *const *)value, -1, SQLITE_STATIC);
        break;
    case FIELD_INT:
    case FIELD_REF:
        sqlite3_bind_int64(statement, parameter, *(const int64_t *)value);
        break;
    case FIELD_REAL:
        sqlite3_bind_double(statement, parameter, *(const double *)value);
        break;
    case FIELD_DATE:
        date_write(*(const int32_t *)value, date);
        sqlite3_bind_text(statement, parameter, date, -1, SQLITE_TRANSIENT);
        break;
    case FIELD_BYTES:
        sqlite3_bind_blob64(statement, parameter, ((const struct bytes *)value)->at, ((const struct bytes *)value)->n, SQLITE_STATIC);
        break;
    case FIELD_ENUM:
        if (field->words == WORDS_TRUTH)
            sqlite3_bind_int(statement, parameter, enum_value(field, row) == TRUTH_YES);
        else
            sqlite3_bind_text(statement, parameter, word_of((enum word_list)field->words, enum_value(field, row)), -1, SQLITE_STATIC);
        break;
    }
}

/* The column's text once in the arena: the same pointer while it repeats. */
static const char *text_kept(sqlite3_stmt *statement, int column, struct value_memo *memo, struct arena *arena)
{
    const char *text = (const char *)sqlite3_column_text(statement, column);
    size_t n = (size_t)sqlite3_column_bytes(statement, column);
    if (memo->text == NULL || memo->n != n || memcmp(memo->text, text, n) != 0) {
        memo->text = arena_text_n(arena, text, n);
        memo->n = n;
        memo->word = -1;
        memo->date = DATE_UNKNOWN;
    }
    return memo->text;
}

static bool enum_read(sqlite3_stmt *statement, int column, const struct field *field, void *row, struct value_memo *memo,
                      struct arena *arena)
{
    int value = 0;
    if (field->words == WORDS_TRUTH) {
        if (sqlite3_column_type(statement, column) != SQLITE_INTEGER || (sqlite3_column_int64(statement, column) & ~1LL) != 0)
            return false;
        value = sqlite3_column_int(statement, column) == 1 ? TRUTH_YES : TRUTH_NO;
    } else {
        if (sqlite3_column_type(statement, column) != SQLITE_TEXT)
            return false;
        const char *word = text_kept(statement, column, memo, arena);
        if (memo->word < 0)
            memo->word = word_find((enum word_list)field->words, word);
        value = memo->word;
    }
    if (value < 0)
        return false;
    memcpy(field_at(field, row), &value, sizeof value);
    return true;
}

static bool date_column(sqlite3_stmt *statement, int column, int32_t *date, struct value_memo *memo, struct arena *arena)
{
    if (sqlite3_column_type(statement, column) != SQLITE_TEXT)
        return false;
    const char *text = text_kept(statement, column, memo, arena);
    if (memo->date == DATE_UNKNOWN && !date_read(text, &memo->date))
        return false;
    *date = memo->date;
    return true;
}

static struct bytes bytes_column(sqlite3_stmt *statement, int column, struct arena *arena)
{
    const char *blob = sqlite3_column_blob(statement, column);
    size_t n = (size_t)sqlite3_column_bytes(statement, column);
    struct bytes out = {NULL, n};
    if (n > 0)
        out.at = (const unsigned char *)arena_text_n(arena, blob, n);
    return out;
}

bool value_read(sqlite3_stmt *statement, int column, const struct field *field, void *row, struct value_memo *memo, struct arena *arena)
{
    int type = sqlite3_column_type(statement, column);
    void *value = field_at(field, row);
    if (type == SQLITE_NULL)
        return true; /* the row was made with every field unknown */
    switch (field->kind) {
    case FIELD_TEXT:
    case FIELD_JSON:
    case FIELD_MOMENT:
        if (type != SQLITE_TEXT)
            return false;
        *(const char **)value = text_kept(statement, column, memo, arena);
        return true;
    case FIELD_INT:
    case FIELD_REF:
        *(int64_t *)value = sqlite3_column_int64(statement, column);
        return type == SQLITE_INTEGER;
    case FIELD_REAL:
        *(double *)value = sqlite3_column_double(statement, column);
        return (type == SQLITE_FLOAT || type == SQLITE_INTEGER) && isfinite(*(double *)value);
    case FIELD_DATE:
        return date_column(statement, column, value, memo, arena);
    case FIELD_BYTES:
        *(struct bytes *)value = bytes_column(statement, column, arena);
        return type == SQLITE_BLOB;
    case FIELD_ENUM:
        return enum_read(statement, column, field, row, memo, arena);
    }
    return false;
}

bool value_same(const struct field *field, const void *a, const void *b)
{
    const void *p = field_at(field, a), *q = field_at(field, b);
    if (textual(field)) {
        const char *s = *(const char *const *)p, *t = *(const char *const *)q;
        return strcmp(s == NULL ? "" : s, t == NULL ? "" : t) == 0;
    }
    if (field_unknown(field, a) || field_unknown(field, b))
        return field_unknown(field, a) && field_unknown(field, b);
    switch (field->kind) {
    case FIELD_INT:
    case FIELD_REF:
        return *(const int64_t *)p == *(const int64_t *)q;
    case FIELD_REAL:
        return *(const double *)p == *(const double *)q;
    case FIELD_DATE:
        return *(const int32_t *)p == *(const int32_t *)q;
    case FIELD_BYTES: {
        const struct bytes *s = p, *t = q;
        return s->n == t->n && memcmp(s->at, t->at, s->n) == 0;
    }
    case FIELD_ENUM:
        return enum_value(field, a) == enum_value(field, b);
    case FIELD_TEXT:
    case FIELD_JSON:
    case FIELD_MOMENT:
        break;
    }
    return true;
}
