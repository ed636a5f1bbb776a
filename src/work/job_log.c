/* SPDX-License-Identifier: GPL-3.0-or-later
 * What was done and by whom; undo; the history of a row; a copy of the file; a full check of it. */
#include "work/jobs.h"
#include "work/load.h"

static const struct option log_options[] = {
    {"most", OPTION_INTEGER, false, "N", "at most so many steps (100 if not given)"},
};

static enum outcome log_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct store_step *steps = NULL;
    size_t n = 0;
    enum outcome outcome = store_steps(context->store, (size_t)option_integer(in, "most", 100), &arena, &steps, &n, why);
    if (outcome == OUTCOME_OK) {
        json_t *out = note_new(), *table = section_table(note_section(out, "Steps, newest first"));
        table_column(table, "step", "step", "", -1);
        table_column(table, "at", "when (UTC)", "", -1);
        table_column(table, "author", "who", "", -1);
        table_column(table, "what", "what", "", -1);
        table_column(table, "changes", "rows", "", -1);
        table_column(table, "state", "state", "", -1);
        for (size_t i = 0; i < n; i++) {
            json_t *row = table_row(table);
            row_integer(row, steps[i].id);
            row_text(row, steps[i].at);
            row_text(row, steps[i].author);
            row_text(row, steps[i].what);
            row_integer(row, steps[i].changes);
            if (steps[i].undone_by != 0)
                row_print(row, "taken back by step %lld", (long long)steps[i].undone_by);
            else if (steps[i].undoes != 0)
                row_print(row, "takes back step %lld", (long long)steps[i].undoes);
            else
                row_text(row, "stands");
        }
        note_answer(out, n == 0 ? "Nothing has been done yet." : "The last %zu steps.", n);
        *note = out;
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_log = {
    .name = "log",
    .summary = "what was done, when and by whom",
    .about = "Lists the steps of the change log. Each can be taken back with undo.",
    .example = "spinney log wood.gpkg",
    .access = JOB_LOOKS,
    .options = log_options,
    .n_options = sizeof log_options / sizeof *log_options,
    .run = log_run,
};

static const struct option undo_options[] = {
    {"step", OPTION_INTEGER, false, "N", "which step; the last one that stands if not given"},
};
static const char *const undo_bare[] = {"step", NULL};

static enum outcome undo_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct store_step *steps = NULL;
    size_t n = 0;
    int64_t step = option_integer(in, "step", 0), fresh = 0;
    enum outcome outcome = OUTCOME_OK;
    if (step == 0) {
        outcome = store_steps(context->store, 1000, &arena, &steps, &n, why);
        for (size_t i = 0; outcome == OUTCOME_OK && i < n && step == 0; i++)
            if (steps[i].undone_by == 0 && steps[i].undoes == 0)
                step = steps[i].id;
        if (outcome == OUTCOME_OK && step == 0)
            outcome = fail(why, OUTCOME_DATA, "There is nothing to take back.");
    }
    if (outcome == OUTCOME_OK)
        outcome = store_undo(context->store, step, context->author, &fresh, why);
    if (outcome == OUTCOME_OK) {
        *note = note_new();
        note_answer(*note, "Step %lld is taken back by step %lld. Undoing that brings it back.", (long long)step, (long long)fresh);
        json_object_set_new(note_data(*note), "undone", json_integer(step));
        json_object_set_new(*note, "step", json_integer(fresh));
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_undo = {
    .name = "undo",
    .summary = "take a step back",
    .about =
        "Takes a step of the change log back by a new step, so that nothing is forgotten. Refused where later steps changed the same rows.",
    .example = "spinney undo wood.gpkg 12",
    .access = JOB_WRITES,
    .options = undo_options,
    .n_options = sizeof undo_options / sizeof *undo_options,
    .bare = undo_bare,
    .run = undo_run,
};

static const struct option history_options[] = {
    {"noun", OPTION_TEXT, true, "NOUN", "kind of row"},
    {"id", OPTION_INTEGER, true, "N", "which row"},
};
static const char *const history_bare[] = {"noun", "id", NULL};

static enum outcome history_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct store_past *past = NULL;
    size_t n = 0;
    int noun = noun_find(option_text(in, "noun", ""));
    if (noun < 0)
        return fail(why, OUTCOME_USAGE, "There is no kind of row called \"%.60s\".", option_text(in, "noun", ""));
    enum outcome outcome = store_history(context->store, (enum noun)noun, option_integer(in, "id", 0), &arena, &past, &n, why);
    if (outcome == OUTCOME_OK) {
        json_t *out = note_new(), *table = section_table(note_section(out, "What happened to it"));
        static const char *const columns[] = {"step", "when (UTC)", "who", "what", "kind", "before", "after"};
        for (size_t i = 0; i < sizeof columns / sizeof *columns; i++)
            table_column(table, columns[i], columns[i], "", -1);
        for (size_t i = 0; i < n; i++) {
            json_t *row = table_row(table);
            row_integer(row, past[i].step);
            row_text(row, past[i].at);
            row_text(row, past[i].author);
            row_text(row, past[i].what);
            row_text(row, past[i].kind);
            row_text(row, past[i].before);
            row_text(row, past[i].after);
        }
        note_answer(out, "%s %lld has %zu entries in the change log.", noun_infos[noun].name, (long long)option_integer(in, "id", 0), n);
        *note = out;
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_history = {
    .name = "history",
    .summary = "every value a row has had",
    .about = "Shows what happened to one row: who changed what, when and why, with the values before and after.",
    .example = "spinney history wood.gpkg plant_record 118",
    .access = JOB_LOOKS,
    .options = history_options,
    .n_options = sizeof history_options / sizeof *history_options,
    .bare = history_bare,
    .run = history_run,
};

static const struct option backup_options[] = {
    {"to", OPTION_FILE_OUT, true, "FILE", "where the copy goes; nothing may be there"},
};
static const char *const backup_bare[] = {"to", NULL};

static enum outcome backup_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    const char *to = option_text(in, "to", "");
    enum outcome outcome = store_backup(context->store, to, why);
    if (outcome == OUTCOME_OK) {
        *note = note_new();
        note_answer(*note, "The whole programme is copied. The copy is a programme file of its own.");
        note_written(*note, "programme", to);
    }
    return outcome;
}

const struct job job_backup = {
    .name = "backup",
    .summary = "copy the whole programme to one file",
    .about = "Writes a consistent copy of the whole file, also while others work on it. Restoring is opening the copy.",
    .example = "spinney backup wood.gpkg --to wood-2026-11-25.gpkg",
    .access = JOB_LOOKS,
    .options = backup_options,
    .n_options = sizeof backup_options / sizeof *backup_options,
    .bare = backup_bare,
    .run = backup_run,
};

static enum outcome verify_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    (void)in;
    struct arena arena = {0};
    const char **findings = NULL;
    size_t n = 0;
    enum outcome outcome = store_verify(context->store, &arena, &findings, &n, why);
    if (outcome == OUTCOME_OK) {
        json_t *out = note_new();
        note_answer(out, n == 0 ? "The file is sound: pages, keys, indexes and rows agree." : "The check found %zu things wrong.", n);
        if (n > 0) {
            json_t *table = section_table(note_section(out, "What is wrong"));
            table_column(table, "finding", "finding", "", -1);
            for (size_t i = 0; i < n; i++)
                row_text(table_row(table), findings[i]);
        }
        json_object_set_new(note_data(out), "holds", json_boolean(n == 0));
        *note = out;
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_verify = {
    .name = "verify",
    .summary = "check the file from end to end",
    .about = "Checks every page, key, index and row of the file and says what is wrong. Changes nothing.",
    .example = "spinney verify wood.gpkg",
    .access = JOB_LOOKS,
    .run = verify_run,
};
