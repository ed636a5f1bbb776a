/* SPDX-License-Identifier: GPL-3.0-or-later
 * import: records from a file of any shape. A dry run first; --take stores what is clear and holds what is doubtful. */
#include "work/jobs.h"
#include "work/survey_load.h"
#include <string.h>

static const struct option import_options[] = {
    {"file", OPTION_FILE_IN, true, "FILE", "CSV or XLSX with records"},
    {"kind", OPTION_TEXT, false, "WORD",
     "plants, wildlife, soil, weather, costs, care, hours, phenology or incidents (guessed if not given)"},
    {"sheet", OPTION_TEXT, false, "NAME", "which sheet (the first with rows if not given)"},
    {"map", OPTION_TEXT, false, "FIELD=HEADING", "what a column means: height_cm=Höhe [mm]; FIELD:=VALUE for all rows; FIELD= leaves out"},
    {"answer", OPTION_TEXT, false, "ID=VALUE", "answer to a question of the dry run"},
    {"mapping", OPTION_TEXT, false, "FILE or JSON", "columns and answers as an earlier import kept them"},
    {"visit", OPTION_INTEGER, false, "ID", "put plant records on this visit"},
    {"first_census", OPTION_FLAG, false, NULL, "this is the as-planted census"},
    {"take", OPTION_FLAG, false, NULL, "store: clear rows go in, doubtful ones are held for a decision"},
    {"hold_open", OPTION_FLAG, false, NULL, "store although questions are open: the rows they touch are held"},
    {"again", OPTION_FLAG, false, NULL, "take a file whose very bytes were taken before"},
};
static const char *const import_bare[] = {"file", NULL};

struct importing {
    struct bytes bytes;
    const char *file;
    struct workbook book;
    const struct record_sheet *sheet;
    struct survey_ground ground;
    struct mapping mapping;
    struct import_options options;
    struct import_result result;
    enum record_kind kind;
};

static enum outcome sheet_choose(const json_t *in, struct importing *job, struct failure *why)
{
    const char *name = option_text(in, "sheet", NULL);
    struct text names = {0};
    for (size_t i = 0; i < job->book.n; i++) {
        const struct record_sheet *sheet = &job->book.sheets[i];
        if (name != NULL ? text_same(sheet->name, name) : job->sheet == NULL && sheet->rows > 1 && !sheet->hidden)
            job->sheet = sheet;
        text_print(&names, "%s%s", i > 0 ? ", " : "", sheet->name);
    }
    enum outcome outcome = OUTCOME_OK;
    if (job->sheet == NULL) {
        outcome = fail(why, OUTCOME_DATA, name == NULL ? "The file holds no rows." : "There is no sheet \"%.60s\".", name);
        failure_at(why, job->file, 0, NULL);
        failure_remedy(why, "Its sheets are: %.900s.", text_get(&names));
    }
    text_free(&names);
    return outcome;
}

static enum outcome each_part(const char *text, struct arena *arena,
                              enum outcome (*use)(struct importing *, const char *, struct arena *, struct failure *),
                              struct importing *job, struct failure *why)
{
    char *copy = arena_text(arena, text), *rest = NULL;
    for (char *part = strtok_r(copy, ";\n", &rest); part != NULL; part = strtok_r(NULL, ";\n", &rest)) {
        part = text_trim(arena, part);
        enum outcome outcome = *part == '\0' ? OUTCOME_OK : use(job, part, arena, why);
        if (outcome != OUTCOME_OK)
            return outcome;
    }
    return OUTCOME_OK;
}

static enum outcome use_map(struct importing *job, const char *part, struct arena *arena, struct failure *why)
{
    return mapping_set(&job->mapping, job->sheet, part, arena, why);
}

static enum outcome use_answer(struct importing *job, const char *part, struct arena *arena, struct failure *why)
{
    char *copy = arena_text(arena, part), *equals = strchr(copy, '=');
    if (equals == NULL)
        return fail(why, OUTCOME_USAGE, "answer: \"%.80s\" is not ID=VALUE.", part);
    *equals = '\0';
    return mapping_answer(&job->mapping, copy, equals + 1, arena, why);
}

static enum outcome mapping_find(const json_t *in, struct importing *job, struct arena *arena, struct failure *why)
{
    const char *kept = option_text(in, "mapping", NULL);
    if (kept == NULL)
        return mapping_guess(job->sheet, job->kind, &job->ground, arena, &job->mapping, why);
    const char *text = kept;
    while (*text == ' ')
        text++;
    if (*text != '{') {
        char *bytes = NULL;
        size_t n = 0;
        enum outcome outcome = file_read(kept, 4 << 20, arena, &bytes, &n, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        text = bytes;
    }
    json_error_t error;
    json_t *json = json_loads(text, JSON_REJECT_DUPLICATES, &error);
    if (json == NULL)
        return fail(why, OUTCOME_DATA, "The mapping is not JSON: line %d: %s.", error.line, error.text);
    enum outcome outcome = mapping_from_json(json, job->sheet, arena, &job->mapping, why);
    json_decref(json);
    return outcome;
}

static enum outcome import_prepare(const struct job_context *context, const json_t *in, struct arena *arena, struct importing *job,
                                   struct failure *why)
{
    job->file = option_text(in, "file", "");
    const char *slash = strrchr(job->file, '/');
    enum outcome outcome = input_bytes(context, job->file, (size_t)256 << 20, arena, &job->bytes, why);
    job->file = slash == NULL ? job->file : slash + 1;
    if (outcome == OUTCOME_OK)
        outcome = workbook_read(job->file, (const char *)job->bytes.at, job->bytes.n, arena, &job->book, why);
    if (outcome == OUTCOME_OK)
        outcome = sheet_choose(in, job, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    const char *word = option_text(in, "kind", NULL);
    int kind = word == NULL ? record_kind_guess(job->sheet) : record_kind_find(word);
    if (kind < 0) {
        fail(why, OUTCOME_USAGE,
             word == NULL ? "What kind of records these are cannot be told from the headings." : "There is no kind of records \"%.60s\".",
             word);
        failure_at(why, job->file, 0, NULL);
        failure_remedy(why, "Say it with --kind plants, wildlife, soil, weather, costs, care, hours, phenology or incidents.");
        return OUTCOME_USAGE;
    }
    job->kind = (enum record_kind)kind;
    outcome = survey_ground_load(context->store, job->kind, arena, &job->ground, why);
    if (outcome == OUTCOME_OK)
        outcome = mapping_find(in, job, arena, why);
    if (outcome == OUTCOME_OK)
        outcome = each_part(option_text(in, "map", ""), arena, use_map, job, why);
    if (outcome == OUTCOME_OK)
        outcome = each_part(option_text(in, "answer", ""), arena, use_answer, job, why);
    job->options =
        (struct import_options){.visit_id = option_integer(in, "visit", 0),
                                .visit_kind = option_flag(in, "first_census") ? VISIT_KIND_AS_PLANTED_CENSUS : VISIT_KIND_UNKNOWN,
                                .limits = survey_limits_usual(),
                                .progress = context->progress};
    job->options.limits.today = context->today;
    if (outcome == OUTCOME_OK)
        outcome = import_dry_run(&job->book, job->sheet, &job->mapping, &job->ground, &job->options, arena, &job->result, why);
    return outcome;
}

/* ---- storing ---- */

/* Ids that point to rows of this import, −(index + 1), become ids of the file. */
static int64_t settled(int64_t id, const void *rows, size_t n, size_t size)
{
    return id < 0 && (size_t)(-id - 1) < n ? *(const int64_t *)((const char *)rows + (size_t)(-id - 1) * size) : id;
}

static void record_settle(const struct import_result *result, struct plant_record *record)
{
    record->plant_id = settled(record->plant_id, result->plants, result->n_plants, sizeof *result->plants);
    record->visit_id = settled(record->visit_id, result->visits, result->n_visits, sizeof *result->visits);
}

static enum outcome ready_add(const struct job_context *context, struct importing *job, struct failure *why)
{
    struct import_result *result = &job->result;
    if (result->noun == NOUN_PLANT_RECORD)
        for (size_t i = 0; i < result->n_ready; i++)
            record_settle(result, &((struct plant_record *)result->ready)[i]);
    if (result->noun == NOUN_WILDLIFE_RECORD)
        for (size_t i = 0; i < result->n_ready; i++) {
            struct wildlife_record *record = &((struct wildlife_record *)result->ready)[i];
            record->wildlife_visit_id = settled(record->wildlife_visit_id, result->looks, result->n_looks, sizeof *result->looks);
        }
    return store_add(context->store, result->noun, result->ready, result->n_ready, why);
}

static const char *parsed_settle(const struct import_result *result, const char *parsed, struct arena *arena)
{
    json_t *object = parsed == NULL ? NULL : json_loads(parsed, 0, NULL);
    static const char *const keys[] = {"plant_id", "visit_id", "wildlife_visit_id"};
    const void *const rows[] = {result->plants, result->visits, result->looks};
    const size_t counts[] = {result->n_plants, result->n_visits, result->n_looks};
    const size_t sizes[] = {sizeof *result->plants, sizeof *result->visits, sizeof *result->looks};
    json_t *record = json_object_get(object, "record");
    if (!json_is_object(record))
        record = object;
    for (size_t i = 0; object != NULL && i < 3; i++) {
        const json_t *value = json_object_get(record, keys[i]);
        if (json_is_integer(value) && json_integer_value(value) < 0)
            json_object_set_new(record, keys[i], json_integer(settled(json_integer_value(value), rows[i], counts[i], sizes[i])));
    }
    char *text = object == NULL ? NULL : json_dumps(object, JSON_COMPACT);
    const char *out = text == NULL ? parsed : arena_text(arena, text);
    free(text);
    json_decref(object);
    return out;
}

static enum outcome held_add(const struct job_context *context, struct importing *job, int64_t import_id, struct arena *arena,
                             struct failure *why)
{
    struct import_result *result = &job->result;
    struct held_row *rows = arena_array(arena, result->n_held, sizeof *rows);
    for (size_t i = 0; i < result->n_held; i++) {
        rows[i] = result->held[i].row;
        rows[i].import_id = import_id;
        rows[i].parsed = parsed_settle(result, rows[i].parsed, arena);
    }
    return store_add(context->store, NOUN_HELD_ROW, rows, result->n_held, why);
}

static enum outcome import_store(const struct job_context *context, struct importing *job, struct import *row, struct arena *arena,
                                 struct failure *why)
{
    struct import_result *result = &job->result;
    json_t *mapping = mapping_json(&job->mapping);
    char *text = json_dumps(mapping, JSON_COMPACT | JSON_SORT_KEYS);
    json_decref(mapping);
    noun_init(NOUN_IMPORT, row);
    row->file_name = job->file;
    row->sha256 = result->sha256;
    row->content = job->bytes;
    row->kind = record_kind_word(job->kind);
    row->mapping = arena_text(arena, text);
    row->rows_read = (int64_t)result->read;
    row->rows_taken = (int64_t)result->n_ready;
    row->rows_held = (int64_t)result->n_held;
    row->imported_on = context->today;
    free(text);
    enum outcome outcome = store_begin(context->store, context->author, arena_print(arena, "import %s", job->file), why);
    if (outcome != OUTCOME_OK)
        return outcome;
    outcome = store_add(context->store, NOUN_IMPORT, row, 1, why);
    if (outcome == OUTCOME_OK)
        outcome = store_add(context->store, NOUN_PLANT, result->plants, result->n_plants, why);
    if (outcome == OUTCOME_OK)
        outcome = store_add(context->store, NOUN_VISIT, result->visits, result->n_visits, why);
    if (outcome == OUTCOME_OK)
        outcome = store_add(context->store, NOUN_WILDLIFE_VISIT, result->looks, result->n_looks, why);
    if (outcome == OUTCOME_OK)
        outcome = ready_add(context, job, why);
    if (outcome == OUTCOME_OK)
        outcome = held_add(context, job, row->id, arena, why);
    outcome = store_end(context->store, outcome, why);
    return outcome;
}

/* ---- telling ---- */

enum { MOST_SHOWN = 200 };

static void mapping_table(json_t *out, const struct importing *job)
{
    json_t *table = section_table(note_section(out, "What the columns mean"));
    table_column(table, "heading", "heading", "", -1);
    table_column(table, "field", "is read as", "", -1);
    table_column(table, "unit", "unit", "", -1);
    table_column(table, "because", "why", "", -1);
    for (size_t i = 0; i < job->mapping.n_columns; i++) {
        const struct column_use *use = &job->mapping.columns[i];
        json_t *row = table_row(table);
        row_text(row, use->heading);
        if (use->census_text != NULL)
            row_print(row, "census %s", use->census_text);
        else
            row_text(row, use->field == NULL ? "left out" : use->field);
        row_text(row, use->unit);
        row_text(row, use->because == NULL ? "" : use->because);
    }
}

static void questions_table(json_t *out, const struct importing *job)
{
    json_t *list = json_array();
    json_t *table = job->result.n_questions == 0 ? NULL : section_table(note_section(out, "Questions only a person can answer"));
    if (table != NULL) {
        table_column(table, "id", "id", "", -1);
        table_column(table, "question", "question", "", -1);
        table_column(table, "evidence", "what in the file raises it", "", -1);
        table_column(table, "choices", "answers", "", -1);
        table_column(table, "rows", "rows", "", -1);
    }
    for (size_t i = 0; i < job->result.n_questions; i++) {
        const struct question *question = &job->result.questions[i];
        struct text choices = {0};
        json_t *row = table_row(table), *json_choices = json_array();
        for (size_t j = 0; j < question->n_choices; j++) {
            text_print(&choices, "%s%s (%s)", j > 0 ? "; " : "", question->choices[j].value, question->choices[j].words);
            json_array_append_new(json_choices,
                                  json_pack("{s:s, s:s}", "value", question->choices[j].value, "words", question->choices[j].words));
        }
        row_text(row, question->id);
        row_text(row, question->words);
        row_text(row, question->evidence);
        row_text(row, question->n_choices == 0 ? "free text" : text_get(&choices));
        row_integer(row, (int64_t)question->rows);
        json_array_append_new(list, json_pack("{s:s, s:s, s:s?, s:s?, s:o, s:b, s:I}", "id", question->id, "words", question->words,
                                              "evidence", question->evidence, "suggestion", question->suggestion, "choices", json_choices,
                                              "required", (int)question->required, "rows", (json_int_t)question->rows));
        text_free(&choices);
    }
    json_object_set_new(note_data(out), "questions", list);
}

static void doubts_tables(json_t *out, const struct importing *job)
{
    const struct import_result *result = &job->result;
    if (result->n_held > 0) {
        json_t *section = note_section(out, "Rows held for a decision"), *table = section_table(section);
        if (result->n_held > MOST_SHOWN)
            section_text(section, "The first %d of %zu.", MOST_SHOWN, result->n_held);
        table_column(table, "row", "row", "", -1);
        table_column(table, "check", "check", "", -1);
        table_column(table, "reason", "why", "", -1);
        for (size_t i = 0; i < result->n_held && i < MOST_SHOWN; i++) {
            json_t *row = table_row(table);
            row_integer(row, result->held[i].row.row_number);
            row_text(row, result->held[i].row.kind);
            row_text(row, result->held[i].row.reason);
        }
    }
    if (result->n_refused > 0) {
        json_t *table = section_table(note_section(out, "Rows that cannot be used"));
        table_column(table, "row", "row", "", -1);
        table_column(table, "column", "column", "", -1);
        table_column(table, "why", "why, and what to do", "", -1);
        for (size_t i = 0; i < result->n_refused && i < MOST_SHOWN; i++) {
            json_t *row = table_row(table);
            row_integer(row, result->refused[i].row);
            row_text(row, result->refused[i].column);
            row_print(row, "%s %s", result->refused[i].sentence, result->refused[i].remedy);
        }
    }
    if (result->n_remarks > 0) {
        json_t *table = section_table(note_section(out, "Remarks that hold no row"));
        table_column(table, "check", "check", "", -1);
        table_column(table, "remark", "remark", "", -1);
        for (size_t i = 0; i < result->n_remarks && i < MOST_SHOWN; i++) {
            json_t *row = table_row(table);
            row_text(row, result->remarks[i].check->title);
            row_text(row, result->remarks[i].sentence);
        }
    }
}

static json_t *import_note(const struct importing *job, const struct import *stored)
{
    const struct import_result *result = &job->result;
    json_t *out = note_new(), *data = note_data(out);
    note_answer(out, "%s: %zu entries read as %s; %zu clear, %zu doubtful, %zu that cannot be used%s. %s", job->file, result->read,
                record_kind_word(job->kind), result->n_ready, result->n_held, result->n_refused,
                result->n_empty > 0 ? ", others empty" : "",
                stored != NULL ? "The clear ones are in; the doubtful ones wait for a decision; undo takes all of it back."
                               : "Nothing is stored yet: --take does it.");
    mapping_table(out, job);
    questions_table(out, job);
    doubts_tables(out, job);
    for (size_t i = 0; i < job->sheet->n_notes; i++)
        note_unknown(out, "%s", job->sheet->notes[i]);
    if (result->same != NULL && stored == NULL)
        note_unknown(out, "The very same file was taken before, on import %lld.", (long long)result->same->id);
    json_object_set_new(data, "mapping", mapping_json(&job->mapping));
    json_object_set_new(data, "kind", json_string(record_kind_word(job->kind)));
    json_object_set_new(data, "read", json_integer((json_int_t)result->read));
    json_object_set_new(data, "ready", json_integer((json_int_t)result->n_ready));
    json_object_set_new(data, "held", json_integer((json_int_t)result->n_held));
    json_object_set_new(data, "refused", json_integer((json_int_t)result->n_refused));
    json_object_set_new(data, "empty", json_integer((json_int_t)result->n_empty));
    json_object_set_new(data, "new_plants", json_integer((json_int_t)result->n_plants));
    json_object_set_new(data, "new_visits", json_integer((json_int_t)result->n_visits));
    if (stored != NULL)
        json_object_set_new(data, "import", json_integer(stored->id));
    return out;
}

/* Nothing goes in while a question that touches rows is open, unless that is wanted. */
static enum outcome questions_settled(const struct importing *job, struct failure *why)
{
    struct text ids = {0};
    bool holds = false;
    for (size_t i = 0; i < job->result.n_held && !holds; i++)
        holds = text_same(job->result.held[i].row.kind, "open_question");
    for (size_t i = 0; i < job->result.n_questions; i++)
        if (holds || (job->result.questions[i].required && job->result.questions[i].rows > 0))
            text_print(&ids, "%s%s (%s)", ids.n > 0 ? "; " : "", job->result.questions[i].id, job->result.questions[i].words);
    enum outcome outcome = OUTCOME_OK;
    if (ids.n > 0) {
        fail(why, OUTCOME_DATA, "Questions are open, so nothing was stored: %.700s.", ids.at);
        failure_at(why, job->file, 0, NULL);
        outcome = failure_remedy(why, "Answer each with --answer ID=VALUE, or hold the rows they touch with --hold-open.");
    }
    text_free(&ids);
    return outcome;
}

static enum outcome import_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct importing job = {.kind = RECORD_PLANTS};
    struct import stored;
    bool take = option_flag(in, "take");
    enum outcome outcome = import_prepare(context, in, &arena, &job, why);
    if (outcome == OUTCOME_OK && take && job.result.same != NULL && !option_flag(in, "again")) {
        fail(why, OUTCOME_DATA, "The very same file was taken before (import %lld).", (long long)job.result.same->id);
        failure_at(why, job.file, 0, NULL);
        outcome = failure_remedy(why, "Take that import back first with undo, or say --again.");
    }
    if (outcome == OUTCOME_OK && take && !option_flag(in, "hold_open"))
        outcome = questions_settled(&job, why);
    if (outcome == OUTCOME_OK && take)
        outcome = import_store(context, &job, &stored, &arena, why);
    if (outcome == OUTCOME_OK)
        *note = import_note(&job, take ? &stored : NULL);
    arena_clear(&arena);
    return outcome;
}

const struct job job_import = {
    .name = "import",
    .summary = "bring in records from a spreadsheet of any shape",
    .about = "Reads CSV or XLSX with any column names, guesses what the columns mean, asks what only a person can know, and shows what "
             "would go in, "
             "what is doubtful and why, and what cannot be used. Nothing is stored until --take; then clear rows go in, doubtful ones are "
             "held for a "
             "decision, and the file itself is kept. One undo takes it back.",
    .example = "spinney import wood.gpkg census-2024.csv --answer dates=dmy --take",
    .access = JOB_WRITES,
    .options = import_options,
    .n_options = sizeof import_options / sizeof *import_options,
    .bare = import_bare,
    .run = import_run,
};
