/* SPDX-License-Identifier: GPL-3.0-or-later
 * held: rows that wait for a decision. decide: settle them, one by one or many together. */
#include "work/held_store.h"
#include "work/jobs.h"
#include "work/survey_load.h"
#include <string.h>

static const struct option held_options[] = {
    {"state", OPTION_TEXT, false, "WORD", "waiting, accepted, corrected or rejected (waiting if not given)"},
    {"check", OPTION_TEXT, false, "WORD", "only rows held by this check"},
    {"import", OPTION_INTEGER, false, "ID", "only rows of this import"},
    {"most", OPTION_INTEGER, false, "N", "at most so many (500 if not given)"},
};

/* Whether the row is held by this check, which may be one of several. */
static bool held_by(const struct held_row *row, const char *check)
{
    size_t n = strlen(check);
    for (const char *at = row->kind; at != NULL && *at != '\0'; at = strchr(at, ' ') == NULL ? NULL : strchr(at, ' ') + 1)
        if (strncmp(at, check, n) == 0 && (at[n] == ' ' || at[n] == '\0'))
            return true;
    return false;
}

static bool held_wanted(const struct held_row *row, const json_t *in, int state)
{
    const char *check = option_text(in, "check", NULL);
    int64_t import = option_integer(in, "import", 0);
    return (int)row->state == state && (check == NULL || held_by(row, check)) && (import == 0 || row->import_id == import);
}

static enum outcome held_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    void *rows = NULL, *imports = NULL;
    size_t n = 0, n_imports = 0, shown = 0, wanted = 0;
    int state = word_find(WORDS_HELD_STATE, option_text(in, "state", "waiting"));
    int64_t most = option_integer(in, "most", 500);
    enum outcome outcome =
        state > 0 ? OUTCOME_OK : fail(why, OUTCOME_USAGE, "\"%.60s\" is no state of a held row.", option_text(in, "state", ""));
    if (outcome == OUTCOME_OK)
        outcome = load_all(context->store, NOUN_HELD_ROW, &arena, &rows, &n, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(context->store, NOUN_IMPORT, &arena, &imports, &n_imports, why);
    if (outcome == OUTCOME_OK) {
        json_t *out = note_new(), *table = section_table(note_section(out, "Rows")), *list = json_array();
        const struct held_row *held = rows;
        static const char *const columns[] = {"id", "file", "row", "check", "why", "the row as it stands in the file", "decision"};
        for (size_t i = 0; i < sizeof columns / sizeof *columns; i++)
            table_column(table, columns[i], columns[i], "", -1);
        for (size_t i = 0; i < n; i++) {
            if (!held_wanted(&held[i], in, state) || ++wanted > (size_t)most)
                continue;
            const char *file = NULL;
            for (size_t j = 0; j < n_imports; j++)
                if (((struct import *)imports)[j].id == held[i].import_id)
                    file = ((struct import *)imports)[j].file_name;
            json_t *row = table_row(table);
            row_integer(row, held[i].id);
            row_text(row, file);
            row_integer(row, held[i].row_number);
            row_text(row, held[i].kind);
            row_text(row, held[i].reason);
            row_text(row, held[i].raw);
            row_text(row, held[i].decision == NULL ? "" : held[i].decision);
            json_array_append_new(list, json_pack("{s:I, s:s?, s:I, s:s, s:s, s:s, s:s?}", "id", (json_int_t)held[i].id, "file", file,
                                                  "row", (json_int_t)held[i].row_number, "check", held[i].kind, "reason", held[i].reason,
                                                  "raw", held[i].raw, "parsed", held[i].parsed));
            shown++;
        }
        note_answer(out, "%zu %s %s.", wanted, wanted == 1 ? "row is" : "rows are", word_of(WORDS_HELD_STATE, state));
        if (wanted == 0)
            note_answer(out, "No row is %s.", word_of(WORDS_HELD_STATE, state));
        else if (wanted > shown)
            note_answer(out, "%zu rows are %s; the first %zu are shown.", wanted, word_of(WORDS_HELD_STATE, state), shown);
        json_object_set_new(note_data(out), "rows", list);
        json_object_set_new(note_data(out), "count", json_integer((json_int_t)wanted));
        *note = out;
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_held = {
    .name = "held",
    .summary = "rows held for a decision, with the reason",
    .about = "Lists the doubtful rows of all imports with the reason each is held for. They are neither dropped nor altered until somebody "
             "decides.",
    .example = "spinney held wood.gpkg --check shrinkage",
    .access = JOB_LOOKS,
    .options = held_options,
    .n_options = sizeof held_options / sizeof *held_options,
    .run = held_run,
};

static const struct option decide_options[] = {
    {"rows", OPTION_TEXT, false, "ID;ID", "which held rows"},
    {"check", OPTION_TEXT, false, "WORD", "all waiting rows held by this check"},
    {"import", OPTION_INTEGER, false, "ID", "all waiting rows of this import"},
    {"list", OPTION_FILE_IN, false, "FILE", "CSV of decisions row by row: file,row,what,reason"},
    {"what", OPTION_TEXT, false, "WHAT", "accept, reject, or correct:FIELD=VALUE;FIELD=VALUE; needed without --list"},
    {"reason", OPTION_TEXT, false, "TEXT", "why; needed to accept or reject"},
};

static bool id_listed(const char *list, int64_t id, struct arena *arena)
{
    char *copy = arena_text(arena, list), *rest = NULL;
    for (char *part = strtok_r(copy, "; ,", &rest); part != NULL; part = strtok_r(NULL, "; ,", &rest)) {
        int64_t one = 0;
        if (integer_read(part, &one) && one == id)
            return true;
    }
    return false;
}

static enum noun noun_of_import(const struct import *imports, size_t n, int64_t id)
{
    for (size_t i = 0; i < n; i++)
        if (imports[i].id == id) {
            int kind = record_kind_find(imports[i].kind);
            return kind < 0 ? NOUN_PLANT_RECORD : record_noun((enum record_kind)kind);
        }
    return NOUN_PLANT_RECORD;
}

struct deciding {
    struct csv_table list; ///< decisions made row by row; rows 0: none
    size_t file_at, row_at, what_at, reason_at;
    struct held_row *rows;
    size_t n;
    struct import *imports;
    size_t n_imports;
    struct survey_ground ground;
    struct decision decision;
    size_t accepted, corrected, rejected;
    size_t others; ///< rows held by the check that was named and by others too: left waiting
};

static enum outcome list_read(const char *path, struct deciding *all, struct arena *arena, struct failure *why)
{
    char *bytes = NULL;
    size_t n = 0;
    enum outcome outcome = file_read(path, 0, arena, &bytes, &n, why);
    if (outcome == OUTCOME_OK)
        outcome = csv_read(path, bytes, n, ',', 0, arena, &all->list, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    all->file_at = csv_column(&all->list, "file");
    all->row_at = csv_column(&all->list, "row");
    all->what_at = csv_column(&all->list, "what");
    all->reason_at = csv_column(&all->list, "reason");
    if (all->file_at == SIZE_MAX || all->row_at == SIZE_MAX || all->what_at == SIZE_MAX || all->reason_at == SIZE_MAX) {
        fail(why, OUTCOME_DATA, "A list of decisions has the columns file, row, what and reason.");
        return failure_at(why, path, 1, NULL);
    }
    return OUTCOME_OK;
}

/* The decision of the list about this held row; false if it holds none. File names are compared without their folder. */
static bool list_find(struct deciding *all, const struct held_row *held)
{
    const char *file = "";
    for (size_t i = 0; i < all->n_imports; i++)
        if (all->imports[i].id == held->import_id)
            file = all->imports[i].file_name;
    file = strrchr(file, '/') == NULL ? file : strrchr(file, '/') + 1;
    for (size_t row = 1; row < all->list.rows; row++) {
        const char *name = csv_cell(&all->list, row, all->file_at), *number = csv_cell(&all->list, row, all->row_at);
        int64_t at = 0;
        if (!text_same(name, file) || number == NULL || !integer_read(number, &at) || at != held->row_number)
            continue;
        all->decision.what = csv_cell(&all->list, row, all->what_at);
        all->decision.reason = csv_cell(&all->list, row, all->reason_at);
        return all->decision.what != NULL;
    }
    return false;
}

static enum outcome decide_one(const struct job_context *context, struct deciding *all, struct held_row *held, struct arena *arena,
                               struct failure *why)
{
    enum noun noun = noun_of_import(all->imports, all->n_imports, held->import_id);
    struct held_row after;
    void *record = arena_alloc(arena, noun_infos[noun].size);
    enum outcome outcome = survey_decide(noun, held, &all->decision, &all->ground, arena, &after, record, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    outcome = held_store(context, noun, &after, record, all->rows, all->n, &all->ground, arena, why);
    if (outcome == OUTCOME_OK)
        *held = after;
    all->accepted += outcome == OUTCOME_OK && after.state == HELD_STATE_ACCEPTED;
    all->corrected += outcome == OUTCOME_OK && after.state == HELD_STATE_CORRECTED;
    all->rejected += outcome == OUTCOME_OK && after.state == HELD_STATE_REJECTED;
    return outcome;
}

static enum outcome decide_all(const struct job_context *context, const json_t *in, struct deciding *all, struct arena *arena,
                               struct failure *why)
{
    const char *list = option_text(in, "rows", NULL), *check = option_text(in, "check", NULL);
    int64_t import = option_integer(in, "import", 0);
    bool by_list = all->list.rows > 0;
    if (!by_list && list == NULL && check == NULL && import == 0)
        return fail(why, OUTCOME_USAGE, "Say which rows: --rows, --check, --import or --list.");
    if (!by_list && option_text(in, "what", NULL) == NULL)
        return fail(why, OUTCOME_USAGE, "Say what is decided: --what accept, reject or correct:FIELD=VALUE.");
    enum outcome outcome =
        store_begin(context->store, context->author,
                    arena_print(arena, "decide held rows: %s", by_list ? "by a list" : option_text(in, "what", "")), why);
    if (outcome != OUTCOME_OK)
        return outcome;
    size_t touched = 0;
    for (size_t i = 0; outcome == OUTCOME_OK && i < all->n; i++) {
        struct held_row *held = &all->rows[i];
        bool wanted = (list == NULL || id_listed(list, held->id, arena)) && (check == NULL || text_same(held->kind, check)) &&
                      (import == 0 || held->import_id == import);
        all->others += check != NULL && !wanted && held->state == HELD_STATE_WAITING && held_by(held, check);
        if (!wanted || held->state != HELD_STATE_WAITING || (by_list && !list_find(all, held)))
            continue;
        touched++;
        outcome = decide_one(context, all, held, arena, why);
        if (outcome != OUTCOME_OK)
            failure_at(why, NULL, (long)held->row_number, NULL);
    }
    if (outcome == OUTCOME_OK && touched == 0 && !by_list) {
        outcome = fail(why, OUTCOME_DATA, "None of these rows waits for a decision.");
        if (all->others > 0)
            failure_remedy(why, "%zu rows are held by this check and by others too: decide them with --rows.", all->others);
    }
    outcome = store_end(context->store, outcome, why);
    return outcome;
}

static enum outcome decide_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct deciding all = {.decision = {option_text(in, "what", ""), option_text(in, "reason", NULL), context->author, context->today}};
    void *rows = NULL, *imports = NULL;
    enum outcome outcome = load_all(context->store, NOUN_HELD_ROW, &arena, &rows, &all.n, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(context->store, NOUN_IMPORT, &arena, &imports, &all.n_imports, why);
    if (outcome == OUTCOME_OK)
        outcome = survey_ground_load(context->store, RECORD_PLANTS, &arena, &all.ground, why);
    all.rows = rows;
    all.imports = imports;
    if (outcome == OUTCOME_OK)
        held_ground_reserve(&all.ground, all.n, &arena);
    if (outcome == OUTCOME_OK && option_text(in, "list", NULL) != NULL)
        outcome = list_read(option_text(in, "list", NULL), &all, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = decide_all(context, in, &all, &arena, why);
    if (outcome == OUTCOME_OK) {
        *note = note_new();
        note_answer(
            *note,
            "%zu rows accepted as they are, %zu corrected, %zu rejected. The rows as they came stay in the file, and undo takes this back.",
            all.accepted, all.corrected, all.rejected);
        if (all.others > 0)
            note_unknown(*note, "%zu rows are held by this check and by others too. They wait: decide them with --rows.", all.others);
        json_object_set_new(note_data(*note), "accepted", json_integer((json_int_t)all.accepted));
        json_object_set_new(note_data(*note), "corrected", json_integer((json_int_t)all.corrected));
        json_object_set_new(note_data(*note), "rejected", json_integer((json_int_t)all.rejected));
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_decide = {
    .name = "decide",
    .summary = "settle rows that are held",
    .about =
        "Accepts held rows as they are, corrects a field, or rejects them, with the reason. The row as it came stays beside the decision.",
    .example = "spinney decide wood.gpkg --rows 12 --what correct:height_cm=45 --reason 'tenfold slip, seen on the sheet'",
    .access = JOB_WRITES,
    .options = decide_options,
    .n_options = sizeof decide_options / sizeof *decide_options,
    .run = decide_run,
};
