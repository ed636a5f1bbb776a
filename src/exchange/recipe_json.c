/* SPDX-License-Identifier: GPL-3.0-or-later
 * A recipe pack as JSON: {"recipe_pack": 1, name, version, made_on, words, steps, local_rules, unit_costs, protocol}. */
#include "exchange/recipe.h"
#include <jansson.h>
#include <stdlib.h>
#include <string.h>

enum { PACK_VERSION = 1, MOST_ENTRIES = 10000 };

static void number_set(json_t *to, const char *name, double value)
{
    json_object_set_new(to, name, is_known(value) ? json_real(value) : json_null());
}

static void text_set(json_t *to, const char *name, const char *value)
{
    json_object_set_new(to, name, value == NULL ? json_null() : json_string(value));
}

const char *recipe_text(const struct recipe_pack *pack, struct arena *arena)
{
    json_t *out = json_object(), *steps = json_array(), *rules = json_array(), *costs = json_array(), *protocol = json_object();
    char day[16] = "";
    date_write(pack->made_on, day);
    json_object_set_new(out, "recipe_pack", json_integer(PACK_VERSION));
    text_set(out, "name", pack->name);
    text_set(out, "version", pack->version);
    text_set(out, "made_on", day);
    text_set(out, "words", pack->words);
    for (size_t i = 0; i < pack->n_steps; i++) {
        json_t *one = json_object();
        json_object_set_new(one, "number", json_integer(pack->steps[i].number));
        text_set(one, "class", word_of(WORDS_STEP_CLASS, (int)pack->steps[i].class));
        text_set(one, "topic", pack->steps[i].topic);
        text_set(one, "words", pack->steps[i].words);
        number_set(one, "figure", pack->steps[i].figure);
        number_set(one, "least", pack->steps[i].least);
        number_set(one, "most", pack->steps[i].most);
        text_set(one, "unit", pack->steps[i].unit);
        json_array_append_new(steps, one);
    }
    for (size_t i = 0; i < pack->n_rules; i++) {
        json_t *one = json_object();
        text_set(one, "topic", pack->rules[i].topic);
        text_set(one, "words", pack->rules[i].words);
        text_set(one, "unit", pack->rules[i].unit);
        json_array_append_new(rules, one);
    }
    for (size_t i = 0; i < pack->n_costs; i++) {
        json_t *one = json_object();
        text_set(one, "phase", pack->costs[i].phase);
        text_set(one, "item", pack->costs[i].item);
        text_set(one, "unit", pack->costs[i].unit);
        number_set(one, "unit_price", pack->costs[i].unit_price);
        text_set(one, "currency", pack->costs[i].currency);
        json_object_set_new(one, "price_year",
                            pack->costs[i].price_year == INT_UNKNOWN ? json_null() : json_integer(pack->costs[i].price_year));
        json_array_append_new(costs, one);
    }
    const struct noun_info *info = &noun_infos[NOUN_PROTOCOL];
    for (size_t j = 0; j < info->n_fields && pack->protocol.version != NULL; j++) {
        const char *text = info->fields[j].kind == FIELD_REF || strcmp(info->fields[j].name, "locked_on") == 0
                               ? NULL
                               : field_write(&info->fields[j], &pack->protocol, arena);
        if (text != NULL)
            text_set(protocol, info->fields[j].name, text);
    }
    json_object_set_new(out, "steps", steps);
    json_object_set_new(out, "local_rules", rules);
    json_object_set_new(out, "unit_costs", costs);
    json_object_set_new(out, "protocol", protocol);
    char *text = json_dumps(out, JSON_INDENT(2) | JSON_REAL_PRECISION(12));
    const char *kept = arena_text(arena, text);
    free(text);
    json_decref(out);
    return kept;
}

/* ---- reading ------------------------------------------------------------------------------------------------------ */

static const char *text_of(const json_t *from, const char *name, struct arena *arena)
{
    return arena_text(arena, json_string_value(json_object_get(from, name)));
}

static double number_of(const json_t *from, const char *name)
{
    const json_t *value = json_object_get(from, name);
    return json_is_number(value) ? json_number_value(value) : unknown_real();
}

/* Members that are not known are refused by name, so that nothing a newer pack says is passed over in silence. */
static enum outcome members_known(const json_t *object, const char *what, const char *const *known, struct failure *why)
{
    const char *name;
    json_t *value;
    json_object_foreach((json_t *)(uintptr_t)object, name, value)
    {
        bool found = false;
        for (size_t i = 0; known[i] != NULL && !found; i++)
            found = strcmp(known[i], name) == 0;
        if (!found) {
            fail(why, OUTCOME_DATA, "The pack says \"%.60s\" of %s, which this program does not know.", name, what);
            return failure_remedy(why, "Take it over with the program that wrote it, or a newer one.");
        }
    }
    return OUTCOME_OK;
}

static enum outcome step_read(const json_t *from, struct arena *arena, struct recipe_step *step, struct failure *why)
{
    static const char *const known[] = {"number", "class", "topic", "words", "figure", "least", "most", "unit", NULL};
    noun_init(NOUN_RECIPE_STEP, step);
    enum outcome outcome = members_known(from, "a step", known, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    const char *class = json_string_value(json_object_get(from, "class"));
    int word = class == NULL ? -1 : word_find(WORDS_STEP_CLASS, class);
    step->class = word > 0 ? (enum step_class)word : STEP_CLASS_UNKNOWN;
    step->number = json_is_integer(json_object_get(from, "number")) ? json_integer_value(json_object_get(from, "number")) : INT_UNKNOWN;
    step->topic = text_of(from, "topic", arena);
    step->words = text_of(from, "words", arena);
    step->figure = number_of(from, "figure");
    step->least = number_of(from, "least");
    step->most = number_of(from, "most");
    step->unit = text_of(from, "unit", arena);
    if (step->class == STEP_CLASS_UNKNOWN || step->number == INT_UNKNOWN || step->topic == NULL || step->words == NULL)
        return fail(why, OUTCOME_DATA, "A step of the pack has no number, class, topic or words.");
    return OUTCOME_OK;
}

static enum outcome lists_read(const json_t *json, struct arena *arena, struct recipe_pack *out, struct failure *why)
{
    static const char *const rule_members[] = {"topic", "words", "unit", NULL};
    static const char *const cost_members[] = {"phase", "item", "unit", "unit_price", "currency", "price_year", NULL};
    const json_t *steps = json_object_get(json, "steps"), *rules = json_object_get(json, "local_rules"),
                 *costs = json_object_get(json, "unit_costs");
    size_t n_steps = json_array_size(steps), n_rules = json_array_size(rules), n_costs = json_array_size(costs);
    if (n_steps == 0 || n_steps > MOST_ENTRIES || n_rules > MOST_ENTRIES || n_costs > MOST_ENTRIES)
        return fail(why, OUTCOME_DATA, "The pack holds no steps, or more than %d of something.", MOST_ENTRIES);
    out->steps = arena_array(arena, n_steps + 1, sizeof *out->steps);
    out->rules = arena_array(arena, n_rules + 1, sizeof *out->rules);
    out->costs = arena_array(arena, n_costs + 1, sizeof *out->costs);
    enum outcome outcome = OUTCOME_OK;
    for (out->n_steps = 0; out->n_steps < n_steps && outcome == OUTCOME_OK; out->n_steps++)
        outcome = step_read(json_array_get(steps, out->n_steps), arena, &out->steps[out->n_steps], why);
    for (out->n_rules = 0; out->n_rules < n_rules && outcome == OUTCOME_OK; out->n_rules++) {
        const json_t *one = json_array_get(rules, out->n_rules);
        outcome = members_known(one, "a local rule", rule_members, why);
        out->rules[out->n_rules] =
            (struct recipe_rule){text_of(one, "topic", arena), text_of(one, "words", arena), text_of(one, "unit", arena)};
        if (outcome == OUTCOME_OK && out->rules[out->n_rules].topic == NULL)
            outcome = fail(why, OUTCOME_DATA, "A local rule of the pack has no topic.");
    }
    for (out->n_costs = 0; out->n_costs < n_costs && outcome == OUTCOME_OK; out->n_costs++) {
        const json_t *one = json_array_get(costs, out->n_costs), *year = json_object_get(one, "price_year");
        outcome = members_known(one, "a unit cost", cost_members, why);
        out->costs[out->n_costs] = (struct recipe_cost){
            text_of(one, "phase", arena),    text_of(one, "item", arena),  text_of(one, "unit", arena),
            text_of(one, "currency", arena), number_of(one, "unit_price"), json_is_integer(year) ? json_integer_value(year) : INT_UNKNOWN};
    }
    return outcome;
}

static enum outcome protocol_read(const json_t *from, struct arena *arena, struct protocol *out, struct failure *why)
{
    const char *name;
    json_t *value;
    noun_init(NOUN_PROTOCOL, out);
    json_object_foreach((json_t *)(uintptr_t)from, name, value)
    {
        const struct field *field = noun_field(NOUN_PROTOCOL, name);
        if (field == NULL || field->kind == FIELD_REF || !json_is_string(value))
            return fail(why, OUTCOME_DATA, "The rules of the pack say \"%.60s\", which this program does not know.", name);
        enum outcome outcome = field_read(field, out, json_string_value(value), arena, why);
        if (outcome != OUTCOME_OK)
            return outcome;
    }
    return OUTCOME_OK;
}

enum outcome recipe_read(const char *text, size_t n, struct arena *arena, struct recipe_pack *out, struct failure *why)
{
    static const char *const members[] = {"recipe_pack", "name",        "version",    "made_on",  "words",
                                          "steps",       "local_rules", "unit_costs", "protocol", NULL};
    json_error_t error;
    struct recipe_pack pack = {.made_on = DATE_UNKNOWN};
    json_t *json = json_loadb(text, n, JSON_REJECT_DUPLICATES, &error);
    const json_t *version = json_object_get(json, "recipe_pack");
    enum outcome outcome = OUTCOME_OK;
    if (json == NULL)
        outcome = fail(why, OUTCOME_DATA, "This is no recipe pack: %s (line %d).", error.text, error.line);
    else if (!json_is_integer(version))
        outcome = fail(why, OUTCOME_DATA, "This is no recipe pack: it has no member \"recipe_pack\".");
    else if (json_integer_value(version) != PACK_VERSION) {
        fail(why, OUTCOME_DATA, "The pack is of kind %lld; this program reads kind %d.", (long long)json_integer_value(version),
             PACK_VERSION);
        outcome = failure_remedy(why, "Use a newer program.");
    } else {
        outcome = members_known(json, "itself", members, why);
    }
    if (outcome == OUTCOME_OK) {
        pack.name = text_of(json, "name", arena);
        pack.version = text_of(json, "version", arena);
        pack.words = text_of(json, "words", arena);
        const char *day = json_string_value(json_object_get(json, "made_on"));
        if (pack.name == NULL || pack.version == NULL || (day != NULL && *day != '\0' && !date_read(day, &pack.made_on)))
            outcome = fail(why, OUTCOME_DATA, "The pack has no name or version, or its day is no day.");
    }
    if (outcome == OUTCOME_OK)
        outcome = lists_read(json, arena, &pack, why);
    if (outcome == OUTCOME_OK)
        outcome = protocol_read(json_object_get(json, "protocol"), arena, &pack.protocol, why);
    json_decref(json);
    if (outcome == OUTCOME_OK)
        *out = pack;
    return outcome;
}
