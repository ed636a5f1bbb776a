/* SPDX-License-Identifier: GPL-3.0-or-later
 * The rows themselves: list, add, change, remove, and their history. Every noun alike, by its description. */
#include "ground/ground.h"
#include "model/model_json.h"
#include "work/jobs.h"
#include "work/rows.h"
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

static const struct option rows_options[] = {
    {"noun", OPTION_TEXT, true, "NOUN", "kind of row, such as site, plot, plant or cost_item"},
    {"where", OPTION_TEXT, false, "SELECTION", "only rows where this holds, such as status=alive or plant.plot=LK/D1; several joined by ;"},
    {"most", OPTION_INTEGER, false, "N", "show at most so many rows (1000 if not given; all are counted, and written to a file)"},
    {"skip", OPTION_INTEGER, false, "N", "leave out the first so many of those shown"},
    {"csv", OPTION_FILE_OUT, false, "FILE", "write all the rows as comma-separated text"},
};
static const char *const rows_bare[] = {"noun", "where", NULL};

static void rows_table(struct rows_finder *finder, enum noun noun, const void *const *rows, size_t n, json_t *note)
{
    const struct noun_info *info = &noun_infos[noun];
    json_t *table = section_table(note_section(note, info->about)), *list = json_array();
    bool named = n > 0 && strncmp(row_words(finder, noun, rows[0]), info->name, strlen(info->name)) != 0;
    table_column(table, "id", "id", "", -1);
    if (named)
        table_column(table, "row", "row", "", -1);
    for (size_t j = 0; j < info->n_fields; j++)
        table_column(table, info->fields[j].name, info->fields[j].name, info->fields[j].unit, -1);
    for (size_t i = 0; i < n; i++) {
        json_t *object = row_json(noun, rows[i]), *cells = table_row(table);
        json_array_append(cells, json_object_get(object, "id"));
        if (named)
            row_text(cells, row_words(finder, noun, rows[i]));
        for (size_t j = 0; j < info->n_fields; j++) {
            char *text = field_write(&info->fields[j], rows[i], finder->arena);
            bool number = info->fields[j].kind == FIELD_REAL || info->fields[j].kind == FIELD_INT || info->fields[j].kind == FIELD_REF;
            if (text != NULL && number)
                json_array_append(cells, json_object_get(object, info->fields[j].name));
            else
                row_text(cells, text);
        }
        json_array_append_new(list, object);
    }
    json_object_set_new(note_data(note), "rows", list);
}

static enum outcome rows_write(const char *path, enum noun noun, const void *const *rows, size_t n, struct arena *arena, json_t *note,
                               struct failure *why)
{
    struct text out = {0};
    if (path == NULL)
        return OUTCOME_OK;
    rows_csv(noun, rows, n, arena, &out);
    enum outcome outcome = file_write(path, out.at, out.n, why);
    text_free(&out);
    if (outcome == OUTCOME_OK)
        note_written(note, "rows", path);
    return outcome;
}

static enum outcome rows_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    enum noun noun = NOUN_PROGRAMME;
    struct arena arena = {0};
    struct rows_finder finder;
    const void **rows = NULL;
    size_t n = 0;
    const char *where = option_text(in, "where", "");
    rows_finder_begin(&finder, context->store, &arena);
    enum outcome outcome = noun_of(in, &noun, why);
    if (outcome == OUTCOME_OK)
        outcome = rows_find(&finder, noun, where, &rows, &n, why);
    if (outcome != OUTCOME_OK)
        goto done;
    int64_t skip = option_integer(in, "skip", 0), most = option_integer(in, "most", 1000);
    size_t from = skip < 0 ? 0 : (size_t)skip < n ? (size_t)skip : n, shown = most < 0 || (size_t)most > n - from ? n - from : (size_t)most;
    json_t *out = note_new();
    rows_table(&finder, noun, rows + from, shown, out);
    const char *cut = shown < n ? arena_print(&arena, " %zu of them are shown, from number %zu.", shown, from + 1) : "";
    if (text_blank(where))
        note_answer(out, "%zu %s of %s.%s", n, n == 1 ? "row" : "rows", noun_infos[noun].name, cut);
    else
        note_answer(out, "%zu %s.%s", n, rows_words(noun, where, &arena), cut);
    json_object_set_new(note_data(out), "noun", json_string(noun_infos[noun].name));
    json_object_set_new(note_data(out), "where", json_string(where));
    json_object_set_new(note_data(out), "count", json_integer((json_int_t)n));
    json_object_set_new(note_data(out), "fingerprint", json_string(rows_fingerprint(noun, rows, n, &arena)));
    outcome = rows_write(option_text(in, "csv", NULL), noun, rows, n, &arena, out, why);
    if (outcome == OUTCOME_OK)
        *note = out;
    else
        json_decref(out);
done:
    arena_clear(&arena);
    return outcome;
}

const struct job job_rows = {
    .name = "rows",
    .summary = "list rows of one kind",
    .about = "Lists what the programme holds of one kind, such as sites, plots, plants or cost items, with every field. A selection "
             "leaves only the rows that a number was computed from; reports name such selections beside their numbers. Written as "
             "field=value, also of a row referred to (plant.plot=LK/D1), with several values (alive|dead_standing), ranges "
             "(2025-09-01..2025-09-30), known and unknown; of plants and their records also census=DAY, state, counts_as and height_at.",
    .example = "spinney rows wood.gpkg plant_record 'plant.plot=LK/D1;census=last;state=alive;counts_as=first_planting'",
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

/* A figure of a soil sample that is refused may have been meant in another unit: asked in words. */
static void soil_asked(const void *row, struct failure *why)
{
    const struct field *field = why == NULL || why->column[0] == '\0' ? NULL : noun_field(NOUN_SOIL_SAMPLE, why->column);
    struct arena arena = {0};
    struct soil_question question;
    if (field != NULL && field->kind == FIELD_REAL &&
        soil_question_number(field->name, *(const double *)(const void *)((const char *)row + field->offset), &arena, &question))
        failure_remedy(why, "%s", question.sentence);
    arena_clear(&arena);
}

/* What has to be asked about a sample beside the others of its pit: layers that overlap, sums, methods. */
static enum outcome soil_questions_note(const struct job_context *context, const struct soil_sample *added, json_t *note,
                                        struct arena *arena, struct failure *why)
{
    struct store_where where = {.field = "site_id", .value = added->site_id};
    void *rows = NULL;
    size_t n = 0, n_questions = 0;
    enum outcome outcome = store_load(context->store, NOUN_SOIL_SAMPLE, &where, 1, false, arena, &rows, &n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    const struct soil_sample *samples = rows;
    const struct soil_question *questions = soil_questions(samples, n, arena, &n_questions);
    for (size_t i = 0; i < n_questions; i++)
        if (questions[i].sample < n && text_same(samples[questions[i].sample].composite, added->composite))
            note_unknown(note, "Question: %s", questions[i].sentence);
    return OUTCOME_OK;
}

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
    if (outcome != OUTCOME_OK && noun == NOUN_SOIL_SAMPLE)
        soil_asked(row, why);
    if (outcome == OUTCOME_OK)
        *note = changed_note(noun, row, "added");
    if (outcome == OUTCOME_OK && noun == NOUN_SOIL_SAMPLE)
        outcome = soil_questions_note(context, row, *note, &arena, why);
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
