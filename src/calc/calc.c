/* SPDX-License-Identifier: GPL-3.0-or-later
 * Finding, checking and running calculators. */
#include "calc/calc_rooms.h"
#include <math.h>
#include <string.h>

const struct calc *const calc_rooms[] = {calc_stats,       calc_stats_survival, calc_stats_models, calc_stats_sites,   calc_geo,
                                         calc_site,        calc_species,        calc_ground,       calc_ground_stock,  calc_water,
                                         calc_water_care,  calc_water_young,    calc_mix,          calc_layout,        calc_trial,
                                         calc_trial_plots, calc_survey,         calc_money,        calc_money_regimes, calc_stand,
                                         calc_benefit,     calc_evidence,       calc_draw};
const size_t calc_n_rooms = sizeof calc_rooms / sizeof *calc_rooms;

const struct calc *calc_find(const char *name)
{
    for (size_t i = 0; i < calc_n_rooms; i++)
        for (const struct calc *calc = calc_rooms[i]; calc->name != NULL; calc++)
            if (strcmp(calc->name, name) == 0)
                return calc;
    return NULL;
}

static const struct calc_value *input_find(const struct calc *calc, const char *name)
{
    for (size_t i = 0; i < calc->n_in; i++)
        if (strcmp(calc->in[i].name, name) == 0)
            return &calc->in[i];
    return NULL;
}

static enum outcome unknown_input(const struct calc *calc, const char *name, struct failure *why)
{
    struct text list = {0};
    for (size_t i = 0; i < calc->n_in; i++)
        text_print(&list, "%s%s", i > 0 ? ", " : "", calc->in[i].name);
    fail(why, OUTCOME_USAGE, "%s has no input called %s.", calc->name, name);
    enum outcome outcome = failure_remedy(why, "Its inputs are: %.900s.", text_get(&list));
    text_free(&list);
    return outcome == OUTCOME_DATA ? OUTCOME_USAGE : outcome;
}

static bool right_kind(enum calc_kind kind, const json_t *value)
{
    bool many = kind == CALC_NUMBERS || kind == CALC_WORDS, number = kind == CALC_NUMBER || kind == CALC_NUMBERS;
    if (!many)
        return number ? json_is_number(value) : json_is_string(value);
    if (!json_is_array(value))
        return false;
    for (size_t i = 0; i < json_array_size(value); i++) {
        const json_t *one = json_array_get(value, i);
        if (number ? !json_is_number(one) && !json_is_null(one) : !json_is_string(one))
            return false;
    }
    return true;
}

enum outcome calc_run(const struct calc *calc, const json_t *in, json_t **result, struct failure *why)
{
    static const char *const kinds[] = {"a number", "a list of numbers", "a word", "a list of words"};
    const char *name = NULL;
    json_t *value = NULL, *copy = json_copy((json_t *)(uintptr_t)in);
    enum outcome outcome = OUTCOME_OK;
    json_t *out = json_object();
    json_object_foreach(copy, name, value)
    {
        const struct calc_value *input = input_find(calc, name);
        if (input == NULL) {
            outcome = unknown_input(calc, name, why);
            goto done;
        }
        if (!right_kind(input->kind, value)) {
            outcome = fail(why, OUTCOME_USAGE, "%s of %s must be %s.", name, calc->name, kinds[input->kind]);
            goto done;
        }
    }
    for (size_t i = 0; i < calc->n_in; i++) {
        if (calc->in[i].required && json_object_get(copy, calc->in[i].name) == NULL) {
            fail(why, OUTCOME_USAGE, "%s needs %s.", calc->name, calc->in[i].name);
            outcome = failure_remedy(why, "It is %s%s%s%s.", calc->in[i].about, *calc->in[i].unit != '\0' ? " [" : "", calc->in[i].unit,
                                     *calc->in[i].unit != '\0' ? "]" : "");
            outcome = OUTCOME_USAGE;
            goto done;
        }
    }
    outcome = calc->run(copy, out, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < calc->n_out; i++)
        require(json_object_get(out, calc->out[i].name) != NULL);
    if (outcome == OUTCOME_OK) {
        *result = json_incref(out);
    }
done:
    json_decref(out);
    json_decref(copy);
    return outcome;
}

enum outcome calc_read(const struct calc *calc, json_t *in, const char *name, const char *text, struct failure *why)
{
    const struct calc_value *input = input_find(calc, name);
    if (input == NULL)
        return unknown_input(calc, name, why);
    if (input->kind == CALC_WORD)
        return json_object_set_new(in, name, json_string(text)) == 0 ? OUTCOME_OK : fail(why, OUTCOME_USAGE, "%s is not UTF-8 text.", name);
    double number = 0;
    if (input->kind == CALC_NUMBER) {
        if (!number_read(text, &number)) {
            fail(why, OUTCOME_USAGE, "%s of %s: \"%.80s\" is not a number with a decimal point.", name, calc->name, text);
            return OUTCOME_USAGE;
        }
        json_object_set_new(in, name, json_real(number));
        return OUTCOME_OK;
    }
    json_t *list = json_array();
    struct arena arena = {0};
    char *copy = arena_text(&arena, text), *rest = NULL;
    enum outcome outcome = OUTCOME_OK;
    for (char *part = strtok_r(copy, ",", &rest); part != NULL; part = strtok_r(NULL, ",", &rest)) {
        part = text_trim(&arena, part);
        if (input->kind == CALC_WORDS) {
            json_array_append_new(list, json_string(part));
        } else if (number_read(part, &number)) {
            json_array_append_new(list, json_real(number));
        } else if (strcmp(part, "NA") == 0) {
            json_array_append_new(list, json_null());
        } else {
            outcome =
                fail(why, OUTCOME_USAGE, "%s of %s: \"%.80s\" is not a number; write 1,2,3 (NA for unknown).", name, calc->name, part);
            break;
        }
    }
    if (outcome == OUTCOME_OK)
        json_object_set(in, name, list);
    json_decref(list);
    arena_clear(&arena);
    return outcome;
}

double calc_number(const json_t *in, const char *name, double otherwise)
{
    const json_t *value = json_object_get(in, name);
    return value == NULL || json_is_null(value) ? otherwise : json_number_value(value);
}

const char *calc_word(const json_t *in, const char *name, const char *otherwise)
{
    const json_t *value = json_object_get(in, name);
    return value == NULL ? otherwise : json_string_value(value);
}

double *calc_numbers(const json_t *in, const char *name, struct arena *arena, size_t *n)
{
    const json_t *list = json_object_get(in, name);
    *n = json_array_size(list);
    double *out = arena_array(arena, *n == 0 ? 1 : *n, sizeof *out);
    for (size_t i = 0; i < *n; i++) {
        const json_t *one = json_array_get(list, i);
        out[i] = json_is_null(one) ? unknown_real() : json_number_value(one);
    }
    return out;
}

static json_t *number_json(double value)
{
    return isfinite(value) ? json_real(value) : isinf(value) ? json_string(value > 0 ? "inf" : "-inf") : json_null();
}

void calc_put(json_t *result, const char *name, double value)
{
    json_object_set_new(result, name, number_json(value));
}

void calc_put_all(json_t *result, const char *name, const double *values, size_t n)
{
    json_t *list = json_array();
    for (size_t i = 0; i < n; i++)
        json_array_append_new(list, number_json(values[i]));
    json_object_set_new(result, name, list);
}

void calc_put_word(json_t *result, const char *name, const char *word)
{
    json_object_set_new(result, name, word == NULL ? json_null() : json_string(word));
}

void calc_say(json_t *result, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    char line[1000];
    vsnprintf(line, sizeof line, format, list);
    va_end(list);
    json_t *working = json_object_get(result, "working");
    if (working == NULL) {
        working = json_array();
        json_object_set_new(result, "working", working);
    }
    json_array_append_new(working, json_string(line));
}
