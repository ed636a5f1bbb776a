/* SPDX-License-Identifier: GPL-3.0-or-later
 * Generic access to the nouns: setting, checking and writing one field by its description. */
#include "model/model.h"
#include <math.h>
#include <string.h>

static void *at(const struct field *field, const void *row)
{
    return (void *)((uintptr_t)row + field->offset);
}

void noun_init(enum noun noun, void *row)
{
    const struct noun_info *info = &noun_infos[noun];
    memset(row, 0, info->size);
    for (size_t i = 0; i < info->n_fields; i++) {
        const struct field *field = &info->fields[i];
        if (field->kind == FIELD_INT)
            *(int64_t *)at(field, row) = INT_UNKNOWN;
        else if (field->kind == FIELD_REAL)
            *(double *)at(field, row) = unknown_real();
        else if (field->kind == FIELD_DATE)
            *(int32_t *)at(field, row) = DATE_UNKNOWN;
    }
    if (info->geometry == GEOMETRY_POINT) {
        double *xy = (double *)((uintptr_t)row + info->geometry_offset);
        xy[0] = xy[1] = unknown_real();
    }
}

int noun_find(const char *name)
{
    for (int i = 0; i < NOUN_COUNT; i++)
        if (text_same(noun_infos[i].name, name))
            return i;
    return -1;
}

const struct field *noun_field(enum noun noun, const char *name)
{
    for (size_t i = 0; i < noun_infos[noun].n_fields; i++)
        if (text_same(noun_infos[noun].fields[i].name, name))
            return &noun_infos[noun].fields[i];
    return NULL;
}

const char *word_of(enum word_list list, int value)
{
    return value > 0 && value < words_of[list].n ? words_of[list].word[value] : "unknown";
}

int word_find(enum word_list list, const char *word)
{
    for (int i = 0; word != NULL && i < words_of[list].n; i++)
        if (strcmp(words_of[list].word[i], word) == 0)
            return i;
    return -1;
}

static int enum_get(const struct field *field, const void *row)
{
    int value = 0;
    memcpy(&value, at(field, row), sizeof value);
    return value;
}

bool field_unknown(const struct field *field, const void *row)
{
    const void *value = at(field, row);
    switch (field->kind) {
    case FIELD_TEXT:
    case FIELD_JSON:
    case FIELD_MOMENT:
        return *(const char *const *)value == NULL;
    case FIELD_INT:
        return *(const int64_t *)value == INT_UNKNOWN;
    case FIELD_REF:
        return *(const int64_t *)value == 0;
    case FIELD_REAL:
        return !is_known(*(const double *)value);
    case FIELD_DATE:
        return *(const int32_t *)value == DATE_UNKNOWN;
    case FIELD_BYTES:
        return ((const struct bytes *)value)->n == 0;
    case FIELD_ENUM:
        return enum_get(field, row) == 0;
    }
    return true;
}

enum outcome field_check(const struct field *field, const void *row, struct failure *why)
{
    if (field_unknown(field, row)) {
        if (!field->required)
            return OUTCOME_OK;
        fail(why, OUTCOME_DATA, "%s is missing.", field->name);
        failure_at(why, NULL, 0, field->name);
        return failure_remedy(why, "Give it: %s.", field->about);
    }
    double value = 0;
    if (field->kind == FIELD_REAL)
        value = *(const double *)at(field, row);
    else if (field->kind == FIELD_INT)
        value = (double)*(const int64_t *)at(field, row);
    else if (field->kind == FIELD_ENUM)
        return enum_get(field, row) > 0 && enum_get(field, row) < words_of[field->words].n
                   ? OUTCOME_OK
                   : fail(why, OUTCOME_DATA, "%s has no such value.", field->name);
    else
        return OUTCOME_OK;
    if (isfinite(value) && value >= field->least && value <= field->most)
        return OUTCOME_OK;
    char shown[40], least[40], most[40];
    number_write(value, shown);
    number_write(field->least, least);
    number_write(field->most, most);
    fail(why, OUTCOME_DATA, "%s is %s %s; it must lie between %s and %s %s.", field->name, shown, field->unit, least, most, field->unit);
    failure_at(why, NULL, 0, field->name);
    return failure_remedy(why, "Check the unit and the decimal point: %s.", field->about);
}

enum outcome noun_check(enum noun noun, const void *row, struct failure *why)
{
    for (size_t i = 0; i < noun_infos[noun].n_fields; i++) {
        enum outcome outcome = field_check(&noun_infos[noun].fields[i], row, why);
        if (outcome != OUTCOME_OK)
            return outcome;
    }
    return OUTCOME_OK;
}

static enum outcome not_read(const struct field *field, const char *text, const char *wanted, struct failure *why)
{
    fail(why, OUTCOME_DATA, "\"%.80s\" cannot be read as %s.", text, wanted);
    failure_at(why, NULL, 0, field->name);
    return why == NULL ? OUTCOME_DATA : why->kind;
}

static int truth_find(const char *word)
{
    static const char *const no[] = {"no", "false", "0", "n"}, *const yes[] = {"yes", "true", "1", "y"};
    for (size_t i = 0; i < sizeof no / sizeof *no; i++) {
        if (text_same_nocase(word, no[i]))
            return TRUTH_NO;
        if (text_same_nocase(word, yes[i]))
            return TRUTH_YES;
    }
    return word_find(WORDS_TRUTH, word);
}

enum outcome field_read(const struct field *field, void *row, const char *text, struct arena *arena, struct failure *why)
{
    char *trimmed = text_trim(arena, text);
    bool blank = text_blank(trimmed);
    void *value = at(field, row);
    switch (field->kind) {
    case FIELD_TEXT:
    case FIELD_JSON:
    case FIELD_MOMENT:
        *(const char **)value = blank ? NULL : trimmed;
        return OUTCOME_OK;
    case FIELD_INT:
    case FIELD_REF: {
        int64_t number = field->kind == FIELD_REF ? 0 : INT_UNKNOWN;
        if (!blank && !integer_read(trimmed, &number))
            return not_read(field, trimmed, "a whole number", why);
        *(int64_t *)value = number;
        return OUTCOME_OK;
    }
    case FIELD_REAL: {
        double number = unknown_real();
        if (!blank && !number_read(trimmed, &number))
            return not_read(field, trimmed, "a number with a decimal point", why);
        *(double *)value = number;
        return OUTCOME_OK;
    }
    case FIELD_DATE: {
        int32_t date = DATE_UNKNOWN;
        if (!blank && !date_read(trimmed, &date))
            return not_read(field, trimmed, "a day such as 2024-09-14", why);
        *(int32_t *)value = date;
        return OUTCOME_OK;
    }
    case FIELD_ENUM: {
        int found = blank ? 0 : field->words == WORDS_TRUTH ? truth_find(trimmed) : word_find((enum word_list)field->words, trimmed);
        if (found < 0) {
            struct text list = {0};
            for (int i = 1; i < words_of[field->words].n; i++)
                text_print(&list, "%s%s", i > 1 ? ", " : "", words_of[field->words].word[i]);
            fail(why, OUTCOME_DATA, "\"%.80s\" is not one of the words for %s.", trimmed, field->name);
            failure_at(why, NULL, 0, field->name);
            enum outcome outcome = failure_remedy(why, "Use one of: %.900s.", text_get(&list));
            text_free(&list);
            return outcome;
        }
        memcpy(value, &found, sizeof found);
        return OUTCOME_OK;
    }
    case FIELD_BYTES:
        return fail(why, OUTCOME_USAGE, "%s cannot be given as text.", field->name);
    }
    return OUTCOME_OK;
}

char *field_write(const struct field *field, const void *row, struct arena *arena)
{
    if (field_unknown(field, row))
        return NULL;
    const void *value = at(field, row);
    char out[40] = "";
    switch (field->kind) {
    case FIELD_TEXT:
    case FIELD_JSON:
    case FIELD_MOMENT:
        return arena_text(arena, *(const char *const *)value);
    case FIELD_INT:
    case FIELD_REF:
        return arena_print(arena, "%lld", (long long)*(const int64_t *)value);
    case FIELD_REAL:
        number_write(*(const double *)value, out);
        break;
    case FIELD_DATE:
        date_write(*(const int32_t *)value, out);
        break;
    case FIELD_ENUM:
        return arena_text(arena, word_of((enum word_list)field->words, enum_get(field, row)));
    case FIELD_BYTES:
        return NULL;
    }
    return arena_text(arena, out);
}

double water_demand_reach(enum water_demand demand)
{
    switch (demand) {
    case WATER_DEMAND_HIGH:
        return 1.25;
    case WATER_DEMAND_MODERATE:
        return 0.75;
    case WATER_DEMAND_LOW:
        return 0.5;
    default:
        return unknown_real();
    }
}
