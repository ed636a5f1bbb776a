/* SPDX-License-Identifier: GPL-3.0-or-later
 * Deciding about held rows: accept as it is, correct fields, or reject. What the row said stays in raw and parsed. */
#include "survey/words.h"
#include <stdlib.h>
#include <string.h>

json_t *survey_row_json(enum noun noun, const void *row)
{
    json_t *json = json_object();
    struct arena arena = {0};
    for (size_t f = 0; f < noun_infos[noun].n_fields; f++) {
        const struct field *field = &noun_infos[noun].fields[f];
        const char *at = (const char *)row + field->offset;
        if (field->kind == FIELD_BYTES || field_unknown(field, row))
            continue;
        if (field->kind == FIELD_REAL)
            json_object_set_new(json, field->name, json_real(*(const double *)(const void *)at));
        else if (field->kind == FIELD_INT || field->kind == FIELD_REF)
            json_object_set_new(json, field->name, json_integer(*(const int64_t *)(const void *)at));
        else
            json_object_set_new(json, field->name, json_string(field_write(field, row, &arena)));
    }
    arena_clear(&arena);
    return json;
}

enum outcome survey_row_from_json(enum noun noun, const json_t *json, struct arena *arena, void *row, struct failure *why)
{
    noun_init(noun, row);
    const char *name = NULL;
    json_t *value = NULL;
    json_object_foreach((json_t *)(uintptr_t)json, name, value)
    {
        const struct field *field = noun_field(noun, name);
        if (field == NULL)
            return fail(why, OUTCOME_DATA, "A %s has no field %s.", noun_infos[noun].name, name);
        char *at = (char *)row + field->offset;
        if ((field->kind == FIELD_INT || field->kind == FIELD_REF) && json_is_integer(value)) {
            *(int64_t *)(void *)at = json_integer_value(value);
        } else if (field->kind == FIELD_REAL && json_is_number(value)) {
            *(double *)(void *)at = json_number_value(value);
        } else if (json_is_string(value)) {
            enum outcome outcome = field_read(field, row, json_string_value(value), arena, why);
            if (outcome != OUTCOME_OK)
                return outcome;
        } else if (!json_is_null(value)) {
            return fail(why, OUTCOME_DATA, "The field %s of a %s cannot be read.", name, noun_infos[noun].name);
        }
    }
    return OUTCOME_OK;
}

/// What a decision works on.
struct deciding {
    enum noun noun;
    json_t *parsed; ///< owned
    void *record, *look;
    bool place_changed, has_look;
    struct text said; ///< what was changed, in words
};

static bool is_place(const char *name)
{
    static const char *const names[] = {"site", "plot", "cell", "number", "tag"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        if (strcmp(names[i], name) == 0)
            return true;
    return false;
}

static enum outcome correct_one(struct deciding *d, const char *name, const char *value, struct arena *arena, struct failure *why)
{
    json_t *keys = json_object_get(d->parsed, "keys");
    bool plant = d->noun == NOUN_PLANT_RECORD, ground = strcmp(name, "site") == 0 || strcmp(name, "plot") == 0;
    if (plant ? is_place(name) : ground) {
        json_t *old = json_object_get(keys, name);
        text_print(&d->said, "%s%s %s → %s", d->said.n == 0 ? "" : "; ", name,
                   json_is_string(old)    ? json_string_value(old)
                   : json_is_integer(old) ? arena_print(arena, "%lld", (long long)json_integer_value(old))
                                          : "blank",
                   value[0] == '\0' ? "blank" : value);
        int64_t number = 0;
        if (value[0] == '\0')
            json_object_del(keys, name);
        else if (strcmp(name, "number") == 0 && integer_read(value, &number))
            json_object_set_new(keys, name, json_integer(number));
        else
            json_object_set_new(keys, name, json_string(value));
        if (strcmp(name, "site") == 0)
            json_object_del(keys, "site_id");
        d->place_changed = true;
        json_object_del(d->parsed, "plant"); /* it is another plant than the row seemed to bring */
        return OUTCOME_OK;
    }
    enum noun noun = d->noun;
    void *row = d->record;
    const struct field *field = noun_field(noun, name);
    if (field == NULL && d->has_look) {
        noun = NOUN_WILDLIFE_VISIT;
        row = d->look;
        field = noun_field(noun, name);
    }
    if (field == NULL || field->kind == FIELD_REF) {
        fail(why, OUTCOME_USAGE, "There is no field %s to correct.", name);
        return failure_remedy(why, "Correct a field of the record, or for a plant its site, plot, cell, number or tag.");
    }
    char *old = field_unknown(field, row) ? NULL : field_write(field, row, arena);
    enum outcome outcome = field_read(field, row, value, arena, why);
    if (outcome == OUTCOME_OK && !field_unknown(field, row))
        outcome = field_check(field, row, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    text_print(&d->said, "%s%s %s → %s", d->said.n == 0 ? "" : "; ", name, old == NULL ? "blank" : old, value[0] == '\0' ? "blank" : value);
    return OUTCOME_OK;
}

static enum outcome correct_all(struct deciding *d, const char *list, struct arena *arena, struct failure *why)
{
    while (*list != '\0') {
        const char *end = strchr(list, ';');
        char *one = arena_text_n(arena, list, end == NULL ? strlen(list) : (size_t)(end - list));
        char *equals = strchr(one, '=');
        if (equals == NULL) {
            fail(why, OUTCOME_USAGE, "“%s” does not say which field becomes what.", one);
            return failure_remedy(why, "Write for example correct:height_cm=45.");
        }
        *equals = '\0';
        enum outcome outcome = correct_one(d, one, equals + 1, arena, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        list = end == NULL ? list + strlen(list) : end + 1;
    }
    return OUTCOME_OK;
}

/* How many plots a code may mean; *id is the last of them. Without a site it may be more than one. */
static size_t plots_named(const struct survey_ground *g, int64_t site, const char *code, int64_t *id)
{
    size_t n = 0;
    for (size_t i = 0; code != NULL && i < g->n_plots; i++)
        if ((site == 0 || g->plots[i].site_id == site) && text_same_nocase(g->plots[i].code, code)) {
            *id = g->plots[i].id;
            n++;
        }
    return n;
}

/* Site and plot that the keys name; 0 where they name none. Fails where they name what does not exist, or more than one. */
static enum outcome place_find_anew(const struct deciding *d, const struct survey_ground *ground, int64_t *site_id, int64_t *plot_id,
                                    struct failure *why)
{
    const json_t *keys = json_object_get(d->parsed, "keys");
    const char *site = json_string_value(json_object_get(keys, "site")), *plot = json_string_value(json_object_get(keys, "plot"));
    *site_id = json_integer_value(json_object_get(keys, "site_id"));
    *plot_id = 0;
    for (size_t i = 0; site != NULL && *site_id == 0 && i < ground->n_sites; i++)
        if (text_same_nocase(ground->sites[i].code, site) || text_same_nocase(ground->sites[i].name, site))
            *site_id = ground->sites[i].id;
    if (site != NULL && *site_id == 0) {
        fail(why, OUTCOME_DATA, "There is no site “%s”.", site);
        failure_at(why, NULL, 0, "site");
        return failure_remedy(why, "Correct it in the same decision: correct:site=CODE.");
    }
    size_t plots = plots_named(ground, *site_id, plot, plot_id);
    if (plots > 1) {
        fail(why, OUTCOME_DATA, "%zu sites have a plot “%s”, and the row does not say which is meant.", plots, plot);
        failure_at(why, NULL, 0, "site");
        return failure_remedy(why, "Say the site in the same decision: correct:site=CODE.");
    }
    if (plot != NULL && plots == 0) {
        fail(why, OUTCOME_DATA, "There is no plot “%s”.", plot);
        failure_at(why, NULL, 0, "plot");
        return failure_remedy(why, "Correct it in the same decision: correct:plot=CODE.");
    }
    return OUTCOME_OK;
}

static enum outcome plant_anew(struct deciding *d, const struct survey_ground *ground, struct arena *arena, struct failure *why)
{
    struct plant_record *record = d->record;
    const json_t *keys = json_object_get(d->parsed, "keys"), *number = json_object_get(keys, "number");
    const char *labels = json_string_value(json_object_get(keys, "labels"));
    struct plant_key key = {.cell = json_string_value(json_object_get(keys, "cell")),
                            .tag = json_string_value(json_object_get(keys, "tag")),
                            .number = json_is_integer(number) ? json_integer_value(number) : INT_UNKNOWN,
                            .labels = labels == NULL                ? LABELS_AS_FOUND
                                      : strcmp(labels, "plot") == 0 ? LABELS_BY_PLOT
                                                                    : LABELS_BY_SITE};
    enum outcome outcome = place_find_anew(d, ground, &key.site_id, &key.plot_id, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct plant_index *index = plant_index_make(ground, arena);
    struct plant_found found = plant_find(index, &key, arena);
    if (found.match == MATCH_DISAGREES && found.other != NULL) { /* the corrected one of label and place counts */
        bool tag = strstr(text_get(&d->said), "tag ") != NULL;
        record->plant_id = tag ? found.plant->id : found.other->id;
        return OUTCOME_OK;
    }
    if (found.match == MATCH_DISAGREES && strstr(text_get(&d->said), "tag ") != NULL) {
        record->plant_id = found.plant->id;
        return OUTCOME_OK;
    }
    if (found.match == MATCH_DISAGREES) { /* the label is of another place: the place that was given counts alone */
        key.tag = NULL;
        found = plant_find(index, &key, arena);
    }
    if (found.match != MATCH_ONE) {
        fail(why, OUTCOME_DATA, "%s", found.words == NULL ? "No plant is meant by this." : found.words);
        failure_at(why, NULL, 0, "plant");
        return failure_remedy(why, "Correct plot, cell, number or tag so that they name one plant.");
    }
    record->plant_id = found.plant->id;
    return OUTCOME_OK;
}

/* Site and plot of a row that is no plant record, where the decision names them or the import did not find them. */
static enum outcome place_anew(struct deciding *d, const struct survey_ground *ground, struct failure *why)
{
    enum noun noun = d->has_look ? NOUN_WILDLIFE_VISIT : d->noun;
    char *row = d->has_look ? d->look : d->record;
    const struct field *site = noun_field(noun, "site_id"), *plot = noun_field(noun, "plot_id");
    const json_t *keys = json_object_get(d->parsed, "keys");
    bool open = (site != NULL && field_unknown(site, row) && json_object_get(keys, "site") != NULL) ||
                (plot != NULL && field_unknown(plot, row) && json_object_get(keys, "plot") != NULL);
    if (!d->place_changed && !open)
        return OUTCOME_OK;
    int64_t site_id = 0, plot_id = 0;
    enum outcome outcome = place_find_anew(d, ground, &site_id, &plot_id, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    for (size_t i = 0; i < ground->n_plots && site_id == 0; i++)
        site_id = ground->plots[i].id == plot_id ? ground->plots[i].site_id : 0;
    if (site != NULL)
        *(int64_t *)(void *)(row + site->offset) = site_id;
    if (plot != NULL)
        *(int64_t *)(void *)(row + plot->offset) = plot_id;
    return OUTCOME_OK;
}

static enum outcome record_settle(struct deciding *d, const struct held_row *held, const struct decision *decision,
                                  const struct survey_ground *ground, struct arena *arena, struct failure *why)
{
    if (strncmp(decision->what, "correct:", 8) == 0) {
        enum outcome outcome = correct_all(d, decision->what + 8, arena, why);
        if (outcome != OUTCOME_OK)
            return outcome;
    }
    bool brings_plant = d->noun == NOUN_PLANT_RECORD && json_object_get(d->parsed, "plant") != NULL;
    enum outcome placed = OUTCOME_OK;
    if (d->noun != NOUN_PLANT_RECORD)
        placed = place_anew(d, ground, why);
    else if (d->place_changed || (((struct plant_record *)d->record)->plant_id == 0 && !brings_plant))
        placed = plant_anew(d, ground, arena, why);
    if (placed != OUTCOME_OK)
        return placed;
    const struct field *confirmed = noun_field(d->noun, "confirmed");
    if (confirmed != NULL && !text_blank(decision->reason))
        *(const char **)(void *)((char *)d->record + confirmed->offset) = arena_text(arena, decision->reason);
    for (size_t f = 0; f < noun_infos[d->noun].n_fields; f++) {
        const struct field *field = &noun_infos[d->noun].fields[f];
        if (field->kind == FIELD_REF && (strcmp(field->name, "plant_id") != 0 || brings_plant))
            continue; /* visits, looks and new plants are filled when the record is stored */
        bool look_only = d->has_look && strcmp(field->name, "taxon") == 0 && field_unknown(field, d->record) &&
                         ((struct wildlife_visit *)d->look)->nothing_seen == TRUTH_YES;
        enum outcome outcome = look_only ? OUTCOME_OK : field_check(field, d->record, why);
        if (outcome != OUTCOME_OK)
            return failure_remedy(why, "Correct it in the same decision: correct:%s=…", field->name);
    }
    (void)held;
    return OUTCOME_OK;
}

static char *json_kept(const json_t *json, struct arena *arena)
{
    char *text = json_dumps(json, JSON_COMPACT);
    char *out = arena_text(arena, text == NULL ? "{}" : text);
    free(text);
    return out;
}

enum outcome survey_decide(enum noun noun, const struct held_row *held, const struct decision *decision, const struct survey_ground *ground,
                           struct arena *arena, struct held_row *out, void *record, struct failure *why)
{
    if (held->state != HELD_STATE_WAITING) {
        fail(why, OUTCOME_USAGE, "This row has been decided already.");
        return failure_remedy(why, "Undo that decision first.");
    }
    bool accept = strcmp(decision->what, "accept") == 0, reject = strcmp(decision->what, "reject") == 0,
         correct = strncmp(decision->what, "correct:", 8) == 0;
    if (!accept && !reject && !correct) {
        fail(why, OUTCOME_USAGE, "“%s” is no decision.", decision->what);
        return failure_remedy(why, "Say accept, reject, or correct:FIELD=VALUE.");
    }
    if (!correct && text_blank(decision->reason)) {
        fail(why, OUTCOME_USAGE, "The decision needs a reason.");
        return failure_remedy(why, "Say in a few words why the row is %s.", accept ? "right as it is" : "left out");
    }
    struct deciding d = {.noun = noun, .parsed = json_loads(held->parsed == NULL ? "{}" : held->parsed, 0, NULL)};
    d.record = arena_alloc(arena, noun_infos[noun].size);
    d.look = arena_alloc(arena, noun_infos[NOUN_WILDLIFE_VISIT].size);
    json_t *look = json_object_get(d.parsed, "look");
    d.has_look = look != NULL;
    enum outcome outcome = d.parsed == NULL ? fail(why, OUTCOME_DATA, "What the row was understood as cannot be read.")
                                            : survey_row_from_json(noun, json_object_get(d.parsed, "record"), arena, d.record, why);
    if (outcome == OUTCOME_OK && d.has_look)
        outcome = survey_row_from_json(NOUN_WILDLIFE_VISIT, look, arena, d.look, why);
    if (outcome == OUTCOME_OK && !reject)
        outcome = record_settle(&d, held, decision, ground, arena, why);
    if (outcome == OUTCOME_OK) {
        struct held_row decided = *held;
        decided.state = accept ? HELD_STATE_ACCEPTED : reject ? HELD_STATE_REJECTED : HELD_STATE_CORRECTED;
        const char *reason = text_blank(decision->reason) ? NULL : decision->reason;
        decided.decision =
            correct ? arena_print(arena, "corrected: %s%s%s", text_get(&d.said), reason == NULL ? "" : "; ", reason == NULL ? "" : reason)
                    : arena_print(arena, "%s: %s", accept ? "accepted as it is" : "rejected", reason);
        decided.decided_by = arena_text(arena, decision->by);
        decided.decided_on = decision->on;
        if (d.has_look && correct) /* the look as corrected travels with the row; what the file said stays in raw */
            json_object_set_new(d.parsed, "look_decided", survey_row_json(NOUN_WILDLIFE_VISIT, d.look));
        if (correct && (d.has_look || d.place_changed))
            decided.parsed = json_kept(d.parsed, arena);
        if (!reject)
            memcpy(record, d.record, noun_infos[noun].size);
        *out = decided;
    }
    json_decref(d.parsed);
    text_free(&d.said);
    return outcome;
}

static bool plant_same(const struct plant *a, const struct plant *b)
{
    return a->plot_id == b->plot_id && a->number == b->number && text_same(a->cell_code, b->cell_code) && text_same(a->tag, b->tag);
}

enum outcome survey_decided_more(enum noun noun, const struct held_row *after, const struct survey_ground *ground, struct arena *arena,
                                 void *record, struct decided_more *out, struct failure *why)
{
    struct decided_more more = {.new_plant = false};
    json_t *parsed = json_loads(after->parsed == NULL ? "{}" : after->parsed, 0, NULL);
    const json_t *plant = json_object_get(parsed, "plant"), *look = json_object_get(parsed, "look"),
                 *decided = json_object_get(parsed, "look_decided");
    enum outcome outcome = OUTCOME_OK;
    if (noun == NOUN_PLANT_RECORD && plant != NULL && ((struct plant_record *)record)->plant_id == 0) {
        outcome = survey_row_from_json(NOUN_PLANT, plant, arena, &more.plant, why);
        more.new_plant = outcome == OUTCOME_OK;
        for (size_t i = 0; more.new_plant && i < ground->n_plants; i++)
            if (plant_same(&ground->plants[i], &more.plant)) {
                ((struct plant_record *)record)->plant_id = ground->plants[i].id;
                more.new_plant = false;
            }
    }
    if (noun == NOUN_WILDLIFE_RECORD && look != NULL) {
        more.has_look = true;
        outcome = survey_row_from_json(NOUN_WILDLIFE_VISIT, look, arena, &more.look_before, why);
        if (outcome == OUTCOME_OK)
            outcome = survey_row_from_json(NOUN_WILDLIFE_VISIT, decided == NULL ? look : decided, arena, &more.look, why);
        more.look_only = outcome == OUTCOME_OK && ((struct wildlife_record *)record)->taxon == NULL && more.look.nothing_seen == TRUTH_YES;
    }
    json_decref(parsed);
    if (outcome == OUTCOME_OK)
        *out = more;
    return outcome;
}
