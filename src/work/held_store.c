/* SPDX-License-Identifier: GPL-3.0-or-later
 * Storing what comes of a decided row. */
#include "work/held_store.h"
#include "store/store.h"
#include <stdlib.h>
#include <string.h>

void held_ground_reserve(struct survey_ground *ground, size_t n, struct arena *arena)
{
    struct plant *plants = arena_array(arena, ground->n_plants + n, sizeof *plants);
    struct visit *visits = arena_array(arena, ground->n_visits + n, sizeof *visits);
    if (ground->n_plants > 0)
        memcpy(plants, ground->plants, ground->n_plants * sizeof *plants);
    if (ground->n_visits > 0)
        memcpy(visits, ground->visits, ground->n_visits * sizeof *visits);
    ground->plants = plants;
    ground->visits = visits;
}

static const struct plot *plot_of(const struct survey_ground *ground, int64_t id)
{
    for (size_t i = 0; i < ground->n_plots; i++)
        if (ground->plots[i].id == id)
            return &ground->plots[i];
    return NULL;
}

static enum outcome plant_bring(const struct job_context *context, struct plant_record *record, struct plant *plant,
                                struct survey_ground *ground, struct failure *why)
{
    enum outcome outcome = store_add(context->store, NOUN_PLANT, plant, 1, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    record->plant_id = plant->id;
    ((struct plant *)(uintptr_t)ground->plants)[ground->n_plants++] = *plant;
    return OUTCOME_OK;
}

/* The survey a record belongs to by its plant's site and its day: one that is there, drawn out to hold the day where it lies near, or a
   new one. */
static enum outcome visit_bring(const struct job_context *context, struct plant_record *record, struct survey_ground *ground,
                                struct failure *why)
{
    const struct plot *plot = NULL;
    for (size_t i = 0; i < ground->n_plants && plot == NULL; i++)
        if (ground->plants[i].id == record->plant_id)
            plot = plot_of(ground, ground->plants[i].plot_id);
    if (plot == NULL || record->observed_on == DATE_UNKNOWN)
        return OUTCOME_OK; /* store_add says what is missing */
    const struct visit *near = survey_visit_find(ground, plot->site_id, record->observed_on, SAME_VISIT_DAYS);
    if (near == NULL) {
        struct visit visit = survey_visit_new(plot->site_id, plot->id, record->observed_on, VISIT_KIND_UNKNOWN);
        enum outcome outcome = store_add(context->store, NOUN_VISIT, &visit, 1, why);
        if (outcome == OUTCOME_OK)
            ((struct visit *)(uintptr_t)ground->visits)[ground->n_visits++] = visit;
        record->visit_id = visit.id;
        return outcome;
    }
    struct visit visit = *near;
    int32_t last = visit.to_on == DATE_UNKNOWN ? visit.from_on : visit.to_on;
    visit.from_on = record->observed_on < visit.from_on ? record->observed_on : visit.from_on;
    if (record->observed_on > last)
        visit.to_on = record->observed_on;
    if (visit.plot_id != plot->id)
        visit.plot_id = 0;
    record->visit_id = visit.id;
    enum outcome outcome = store_change(context->store, NOUN_VISIT, &visit, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < ground->n_visits; i++)
        if (ground->visits[i].id == visit.id)
            ((struct visit *)(uintptr_t)ground->visits)[i] = visit;
    return outcome;
}

static int32_t day_parsed(const struct held_row *row)
{
    json_t *parsed = json_loads(row->parsed == NULL ? "{}" : row->parsed, 0, NULL);
    int32_t day = DATE_UNKNOWN;
    const char *text = json_string_value(json_object_get(json_object_get(parsed, "record"), "observed_on"));
    if (text != NULL)
        date_read(text, &day);
    json_decref(parsed);
    return day;
}

static enum outcome plant_record_bring(const struct job_context *context, const struct held_row *after, struct plant_record *record,
                                       struct decided_more *more, struct survey_ground *ground, struct failure *why)
{
    enum outcome outcome = more->new_plant ? plant_bring(context, record, &more->plant, ground, why) : OUTCOME_OK;
    bool other_day = record->observed_on != day_parsed(after);
    if (outcome == OUTCOME_OK && (record->visit_id == 0 || other_day))
        outcome = visit_bring(context, record, ground, why);
    return outcome;
}

/* The look another row of the same import and the same look was decided with; 0: none yet. */
static int64_t look_shared(const struct held_row *after, const struct held_row *rows, size_t n)
{
    int64_t id = 0;
    json_t *own = json_loads(after->parsed == NULL ? "{}" : after->parsed, 0, NULL);
    for (size_t i = 0; i < n && id == 0; i++) {
        if (rows[i].import_id != after->import_id || rows[i].state == HELD_STATE_WAITING || rows[i].parsed == NULL)
            continue;
        json_t *other = json_loads(rows[i].parsed, 0, NULL);
        if (json_equal(json_object_get(own, "look"), json_object_get(other, "look")))
            id = json_integer_value(json_object_get(other, "look_id"));
        json_decref(other);
    }
    json_decref(own);
    return id;
}

/* What the decision changed of the look goes into the look as it is stored now. */
static enum outcome look_change(const struct job_context *context, int64_t id, const struct decided_more *more, struct arena *arena,
                                struct failure *why)
{
    struct wildlife_visit look;
    enum outcome outcome = store_get(context->store, NOUN_WILDLIFE_VISIT, id, arena, &look, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    json_t *before = survey_row_json(NOUN_WILDLIFE_VISIT, &more->look_before), *now = survey_row_json(NOUN_WILDLIFE_VISIT, &more->look),
           *stored = survey_row_json(NOUN_WILDLIFE_VISIT, &look), *value = NULL;
    const char *name = NULL;
    bool changed = false;
    json_object_foreach(now, name, value)
    {
        if (!json_equal(json_object_get(before, name), value)) {
            json_object_set(stored, name, value);
            changed = true;
        }
    }
    json_object_foreach(before, name, value)
    {
        if (json_object_get(now, name) == NULL) {
            json_object_del(stored, name);
            changed = true;
        }
    }
    if (changed)
        outcome = survey_row_from_json(NOUN_WILDLIFE_VISIT, stored, arena, &look, why);
    look.id = id;
    if (changed && outcome == OUTCOME_OK)
        outcome = store_change(context->store, NOUN_WILDLIFE_VISIT, &look, why);
    json_decref(before);
    json_decref(now);
    json_decref(stored);
    return outcome;
}

static enum outcome look_bring(const struct job_context *context, struct held_row *after, struct wildlife_record *record,
                               struct decided_more *more, const struct held_row *rows, size_t n, struct arena *arena, struct failure *why)
{
    int64_t id = record->wildlife_visit_id != 0 ? record->wildlife_visit_id : look_shared(after, rows, n);
    enum outcome outcome =
        id != 0 ? look_change(context, id, more, arena, why) : store_add(context->store, NOUN_WILDLIFE_VISIT, &more->look, 1, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    record->wildlife_visit_id = id != 0 ? id : more->look.id;
    json_t *parsed = json_loads(after->parsed, 0, NULL);
    json_object_set_new(parsed, "look_id", json_integer((json_int_t)record->wildlife_visit_id));
    char *text = json_dumps(parsed, JSON_COMPACT);
    if (text != NULL)
        after->parsed = arena_text(arena, text);
    free(text);
    json_decref(parsed);
    return OUTCOME_OK;
}

enum outcome held_store(const struct job_context *context, enum noun noun, struct held_row *after, void *record, struct held_row *rows,
                        size_t n_rows, struct survey_ground *ground, struct arena *arena, struct failure *why)
{
    if (after->state == HELD_STATE_REJECTED)
        return store_change(context->store, NOUN_HELD_ROW, after, why);
    struct decided_more more;
    enum outcome outcome = survey_decided_more(noun, after, ground, arena, record, &more, why);
    if (outcome == OUTCOME_OK && noun == NOUN_PLANT_RECORD)
        outcome = plant_record_bring(context, after, record, &more, ground, why);
    if (outcome == OUTCOME_OK && more.has_look)
        outcome = look_bring(context, after, record, &more, rows, n_rows, arena, why);
    if (outcome == OUTCOME_OK && !more.look_only)
        outcome = store_add(context->store, noun, record, 1, why);
    if (outcome == OUTCOME_OK && noun == NOUN_PLANT_RECORD)
        after->record_id = ((struct plant_record *)record)->id;
    if (outcome == OUTCOME_OK)
        outcome = store_change(context->store, NOUN_HELD_ROW, after, why);
    return outcome;
}
