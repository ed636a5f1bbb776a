/* SPDX-License-Identifier: GPL-3.0-or-later
 * The rows themselves: list, add, change, remove, and their history. Every noun alike, by its description. */
#include "model/model_json.h"
#include "work/jobs.h"
#include "work/load.h"
#include <string.h>

static enum outcome noun_of(const json_t *in, enum noun *noun, struct failure *why)
{
    int found = noun_find(option_text(in, "noun", ""));
    if (found < 0) {
        struct text list = {0};
        for (int i = 0; i < NOUN_COUNT; i++)
            text_print(&list, "%s%s", i > 0 ? ", " : "", noun_infos[i].name);
        fail(why, OUTCOME_USAGE, "There is no kind of row called \"%.60s\".", option_text(in, "noun", ""));
        failure_remedy(why, "There are: %.900s.", text_get(&list));
        text_free(&list);
        return OUTCOME_USAGE;
    }
    *noun = (enum noun)found;
    return OUTCOME_OK;
}

/* "field=value;field=value" as conditions. */
static enum outcome where_read(enum noun noun, const char *text, struct arena *arena, struct store_where *where, size_t *n,
                               struct failure *why)
{
    char *copy = arena_text(arena, text), *rest = NULL;
    for (char *part = strtok_r(copy, ";", &rest); part != NULL; part = strtok_r(NULL, ";", &rest)) {
        char *equals = strchr(part, '=');
        if (equals == NULL || *n == 8)
            return fail(why, OUTCOME_USAGE, "\"%.80s\" is no condition: write field=value.", part);
        *equals = '\0';
        const struct field *field = noun_field(noun, part);
        if (field == NULL && strcmp(part, "id") != 0)
            return fail(why, OUTCOME_USAGE, "%s has no field %.60s.", noun_infos[noun].name, part);
        struct store_where one = {.field = part};
        bool whole = field == NULL || field->kind == FIELD_REF || field->kind == FIELD_INT;
        if (whole && !integer_read(equals + 1, &one.value))
            return fail(why, OUTCOME_USAGE, "%.60s is compared with a whole number, not \"%.60s\".", part, equals + 1);
        if (!whole)
            one.text = equals + 1;
        where[(*n)++] = one;
    }
    return OUTCOME_OK;
}

static const struct option rows_options[] = {
    {"noun", OPTION_TEXT, true, "NOUN", "kind of row, such as site, plot, plant or cost_item"},
    {"where", OPTION_TEXT, false, "FIELD=VALUE", "only rows where this holds"},
    {"most", OPTION_INTEGER, false, "N", "at most so many rows (1000 if not given)"},
    {"skip", OPTION_INTEGER, false, "N", "leave out the first so many"},
};
static const char *const rows_bare[] = {"noun", "where", NULL};

static enum outcome rows_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    enum noun noun = NOUN_PROGRAMME;
    struct arena arena = {0};
    struct store_where where[8];
    size_t n_where = 0, n = 0;
    void *rows = NULL;
    enum outcome outcome = noun_of(in, &noun, why);
    if (outcome == OUTCOME_OK)
        outcome = where_read(noun, option_text(in, "where", ""), &arena, where, &n_where, why);
    if (outcome == OUTCOME_OK)
        outcome = store_load(context->store, noun, where, n_where, false, &arena, &rows, &n, why);
    if (outcome != OUTCOME_OK)
        goto done;
    size_t skip = (size_t)option_integer(in, "skip", 0), most = (size_t)option_integer(in, "most", 1000);
    const struct noun_info *info = &noun_infos[noun];
    json_t *out = note_new(), *table = section_table(note_section(out, info->about)), *list = json_array();
    table_column(table, "id", "id", "", -1);
    for (size_t j = 0; j < info->n_fields; j++)
        table_column(table, info->fields[j].name, info->fields[j].name, info->fields[j].unit, -1);
    for (size_t i = skip; i < n && i < skip + most; i++) {
        const void *row = (const char *)rows + i * info->size;
        json_t *object = row_json(noun, row), *cells = table_row(table);
        json_array_append(cells, json_object_get(object, "id"));
        for (size_t j = 0; j < info->n_fields; j++) {
            char *text = field_write(&info->fields[j], row, &arena);
            bool number = info->fields[j].kind == FIELD_REAL || info->fields[j].kind == FIELD_INT || info->fields[j].kind == FIELD_REF;
            if (text != NULL && number)
                json_array_append(cells, json_object_get(object, info->fields[j].name));
            else
                row_text(cells, text);
        }
        json_array_append_new(list, object);
    }
    note_answer(out, "%zu rows of %s%s.", n, info->name, n_where > 0 ? " as asked" : "");
    json_object_set_new(note_data(out), "rows", list);
    json_object_set_new(note_data(out), "count", json_integer((json_int_t)n));
    *note = out;
done:
    arena_clear(&arena);
    return outcome;
}

const struct job job_rows = {
    .name = "rows",
    .summary = "list rows of one kind",
    .about = "Lists what the programme holds of one kind, such as sites, plots, plants or cost items, with every field.",
    .example = "spinney rows wood.gpkg plot",
    .access = JOB_LOOKS,
    .options = rows_options,
    .n_options = sizeof rows_options / sizeof *rows_options,
    .bare = rows_bare,
    .run = rows_run,
};

/* "field=value" pairs, or a JSON object, into a row. */
static enum outcome row_set(enum noun noun, const char *set, void *row, struct arena *arena, struct failure *why)
{
    while (*set == ' ')
        set++;
    if (*set == '{') {
        json_error_t error;
        json_t *object = json_loads(set, JSON_REJECT_DUPLICATES, &error);
        if (object == NULL)
            return fail(why, OUTCOME_USAGE, "The values are not JSON: %s.", error.text);
        enum outcome outcome = row_from_json(noun, object, true, row, arena, why);
        json_decref(object);
        return outcome;
    }
    char *copy = arena_text(arena, set), *rest = NULL;
    for (char *part = strtok_r(copy, ";", &rest); part != NULL; part = strtok_r(NULL, ";", &rest)) {
        char *equals = strchr(part, '=');
        if (equals == NULL)
            return fail(why, OUTCOME_USAGE, "\"%.80s\" is no value: write field=value.", part);
        *equals = '\0';
        while (*part == ' ')
            part++;
        const struct field *field = noun_field(noun, part);
        if (field == NULL) {
            fail(why, OUTCOME_USAGE, "%s has no field %.60s.", noun_infos[noun].name, part);
            failure_remedy(why, "See docs/format.md for the fields.");
            return OUTCOME_USAGE;
        }
        enum outcome outcome = field_read(field, row, equals + 1, arena, why);
        if (outcome != OUTCOME_OK)
            return outcome;
    }
    return OUTCOME_OK;
}

static json_t *changed_note(enum noun noun, const void *row, const char *what)
{
    json_t *out = note_new(), *object = row_json(noun, row);
    note_answer(out, "%s %lld %s.", noun_infos[noun].name, (long long)json_integer_value(json_object_get(object, "id")), what);
    json_object_set_new(note_data(out), "row", object);
    return out;
}

static const struct option add_options[] = {
    {"noun", OPTION_TEXT, true, "NOUN", "kind of row"},
    {"set", OPTION_TEXT, true, "FIELD=VALUE …", "its fields, or a JSON object"},
};
static const char *const set_bare[] = {"noun", "set", NULL};

static enum outcome add_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    enum noun noun = NOUN_PROGRAMME;
    struct arena arena = {0};
    void *row = NULL;
    enum outcome outcome = noun_of(in, &noun, why);
    if (outcome != OUTCOME_OK)
        goto done;
    row = arena_alloc(&arena, noun_infos[noun].size);
    noun_init(noun, row);
    outcome = row_set(noun, option_text(in, "set", ""), row, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = store_begin(context->store, context->author, arena_print(&arena, "add %s", noun_infos[noun].name), why);
    if (outcome != OUTCOME_OK)
        goto done;
    outcome = store_add(context->store, noun, row, 1, why);
    outcome = store_end(context->store, outcome, why);
    if (outcome == OUTCOME_OK)
        *note = changed_note(noun, row, "added");
done:
    arena_clear(&arena);
    return outcome;
}

const struct job job_add = {
    .name = "add",
    .summary = "add a row",
    .about = "Adds one row of any kind. Fields are given as field=value, or as one JSON object.",
    .example = "spinney add wood.gpkg site_check site_id=1 topic=services state=asked asked_on=2026-01-12",
    .access = JOB_WRITES,
    .options = add_options,
    .n_options = sizeof add_options / sizeof *add_options,
    .bare = set_bare,
    .run = add_run,
};

static const struct option change_options[] = {
    {"noun", OPTION_TEXT, true, "NOUN", "kind of row"},
    {"id", OPTION_INTEGER, true, "N", "which row"},
    {"set", OPTION_TEXT, true, "FIELD=VALUE …", "fields to change, or a JSON object"},
    {"why", OPTION_TEXT, false, "TEXT", "why, for the change log"},
};
static const char *const change_bare[] = {"noun", "id", "set", NULL};

/* Rules of nouns that no field can carry alone. */
static enum outcome change_allowed(enum noun noun, const void *before, struct failure *why)
{
    if (noun == NOUN_PROTOCOL && ((const struct protocol *)before)->locked_on != DATE_UNKNOWN) {
        fail(why, OUTCOME_DATA, "Protocol %s is locked and stays as it is.", ((const struct protocol *)before)->version);
        return failure_remedy(why, "A change makes the next version: spinney protocol FILE with what changes and --reason");
    }
    return OUTCOME_OK;
}

static enum outcome change_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    enum noun noun = NOUN_PROGRAMME;
    struct arena arena = {0};
    void *row = NULL;
    const char *reason = option_text(in, "why", NULL);
    enum outcome outcome = noun_of(in, &noun, why);
    if (outcome != OUTCOME_OK)
        goto done;
    row = arena_alloc(&arena, noun_infos[noun].size);
    outcome = store_get(context->store, noun, option_integer(in, "id", 0), &arena, row, why);
    if (outcome == OUTCOME_OK)
        outcome = change_allowed(noun, row, why);
    if (outcome == OUTCOME_OK)
        outcome = row_set(noun, option_text(in, "set", ""), row, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = store_begin(context->store, context->author,
                              arena_print(&arena, "change %s %lld%s%s", noun_infos[noun].name, (long long)option_integer(in, "id", 0),
                                          reason == NULL ? "" : ": ", reason == NULL ? "" : reason),
                              why);
    if (outcome != OUTCOME_OK)
        goto done;
    outcome = store_change(context->store, noun, row, why);
    outcome = store_end(context->store, outcome, why);
    if (outcome == OUTCOME_OK)
        *note = changed_note(noun, row, "changed; the old values are in its history");
done:
    arena_clear(&arena);
    return outcome;
}

const struct job job_change = {
    .name = "change",
    .summary = "change fields of a row",
    .about = "Changes the given fields of one row. The old values stay in the change log, with who changed them and why.",
    .example = "spinney change wood.gpkg site 1 stage=surveyed",
    .access = JOB_WRITES,
    .options = change_options,
    .n_options = sizeof change_options / sizeof *change_options,
    .bare = change_bare,
    .run = change_run,
};

static const struct option remove_options[] = {
    {"noun", OPTION_TEXT, true, "NOUN", "kind of row"},
    {"id", OPTION_INTEGER, true, "N", "which row"},
    {"why", OPTION_TEXT, false, "TEXT", "why, for the change log"},
};
static const char *const remove_bare[] = {"noun", "id", NULL};

static enum outcome remove_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    enum noun noun = NOUN_PROGRAMME;
    struct arena arena = {0};
    int64_t id = option_integer(in, "id", 0);
    const char *reason = option_text(in, "why", NULL);
    enum outcome outcome = noun_of(in, &noun, why);
    if (outcome == OUTCOME_OK && (noun == NOUN_PROTOCOL || noun == NOUN_PROGRAMME || noun == NOUN_IMPORT)) {
        fail(why, OUTCOME_DATA, "A row of %s is never removed.", noun_infos[noun].name);
        outcome = failure_remedy(why, "It is part of what a reader must be able to find.");
    }
    if (outcome == OUTCOME_OK)
        outcome = store_begin(context->store, context->author,
                              arena_print(&arena, "remove %s %lld%s%s", noun_infos[noun].name, (long long)id, reason == NULL ? "" : ": ",
                                          reason == NULL ? "" : reason),
                              why);
    if (outcome != OUTCOME_OK)
        goto done;
    outcome = store_delete(context->store, noun, id, why);
    outcome = store_end(context->store, outcome, why);
    if (outcome == OUTCOME_OK) {
        *note = note_new();
        note_answer(*note, "%s %lld is marked as removed; undo brings it back.", noun_infos[noun].name, (long long)id);
    }
done:
    arena_clear(&arena);
    return outcome;
}

const struct job job_remove = {
    .name = "remove",
    .summary = "mark a row as removed",
    .about = "Marks one row as removed. It stays in the file and can be brought back; a row that others refer to is refused.",
    .example = "spinney remove wood.gpkg constraint 7 --why 'drawn twice'",
    .access = JOB_WRITES,
    .options = remove_options,
    .n_options = sizeof remove_options / sizeof *remove_options,
    .bare = remove_bare,
    .run = remove_run,
};
