/* SPDX-License-Identifier: GPL-3.0-or-later
 * merge: what another copy of this programme has that this one has not. settle: what both changed, decided by a person. */
#include "work/jobs.h"
#include "work/load.h"
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static const struct option merge_options[] = {
    {"other", OPTION_FILE_IN, true, "FILE", "the other copy of this programme file"},
    {"try_only", OPTION_FLAG, false, NULL, "only tell what would come; change nothing"},
};
static const char *const merge_bare[] = {"other", NULL};

static enum conflict_kind kind_of(enum store_conflict_kind kind)
{
    static const enum conflict_kind kinds[] = {[CONFLICT_VALUE] = CONFLICT_KIND_BOTH_CHANGED,
                                               [CONFLICT_DELETED_HERE] = CONFLICT_KIND_DELETED_HERE,
                                               [CONFLICT_DELETED_THERE] = CONFLICT_KIND_DELETED_THERE,
                                               [CONFLICT_NOT_ADDED] = CONFLICT_KIND_NOT_ADDED};
    return kinds[kind];
}

static bool same_case(const struct conflict *kept, const struct store_conflict *found, const char *uuid)
{
    return text_same(kept->row_uuid, uuid) && text_same(kept->noun, noun_infos[found->noun].name) && text_same(kept->field, found->field) &&
           text_same(kept->theirs, found->theirs) && kept->kind == kind_of(found->kind) &&
           (found->values == NULL || text_same(kept->values, found->values));
}

/* Conflicts that are not on record yet, waiting or decided, go on record. */
static enum outcome conflicts_add(const struct job_context *context, const char *file, const struct store_merge_report *report,
                                  struct arena *arena, size_t *fresh, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    enum outcome outcome = load_all(context->store, NOUN_CONFLICT, arena, &rows, &n, why);
    const struct conflict *kept = rows;
    *fresh = 0;
    for (size_t i = 0; i < report->n_conflicts && outcome == OUTCOME_OK; i++) {
        const struct store_conflict *found = &report->conflicts[i];
        struct conflict row;
        char uuid[37];
        bool known = false;
        uuid_write(&found->uuid, uuid);
        for (size_t j = 0; j < n && !known; j++)
            known = same_case(&kept[j], found, uuid);
        if (known)
            continue;
        noun_init(NOUN_CONFLICT, &row);
        row.kind = kind_of(found->kind);
        row.noun = noun_infos[found->noun].name;
        row.row_uuid = uuid;
        row.label = found->label;
        row.field = found->field;
        row.ours = found->ours;
        row.theirs = found->theirs;
        row.values = found->values;
        row.our_author = found->our_author;
        row.our_moment = found->our_moment;
        row.their_author = found->their_author;
        row.their_moment = found->their_moment;
        row.file_name = file;
        row.found_on = context->today;
        row.state = HELD_STATE_WAITING;
        outcome = store_add(context->store, NOUN_CONFLICT, &row, 1, why);
        ++*fresh;
    }
    return outcome;
}

static void counts_section(json_t *out, const struct store_merge_report *report, size_t *came)
{
    json_t *table = section_table(note_section(out, "What came"));
    table_column(table, "noun", "kind of row", "", -1);
    table_column(table, "added", "added", "", 0);
    table_column(table, "changed", "changed", "", 0);
    table_column(table, "deleted", "deleted", "", 0);
    *came = 0;
    for (int noun = 0; noun < NOUN_COUNT; noun++) {
        size_t n = report->added[noun] + report->changed[noun] + report->deleted[noun];
        *came += n;
        if (n == 0)
            continue;
        json_t *row = table_row(table);
        row_text(row, noun_infos[noun].name);
        row_integer(row, (int64_t)report->added[noun]);
        row_integer(row, (int64_t)report->changed[noun]);
        row_integer(row, (int64_t)report->deleted[noun]);
    }
}

static const char *who_when(const char *author, const char *moment, struct arena *arena)
{
    return author == NULL ? "nobody since they parted" : arena_print(arena, "%s, %.10s", author, moment == NULL ? "" : moment);
}

static void conflicts_section(json_t *out, const char *title, const struct conflict *rows, size_t n, bool waiting_only, struct arena *arena)
{
    json_t *table = section_table(note_section(out, title));
    static const char *const columns[][2] = {{"id", "id"},         {"label", "row"},          {"field", "field"},
                                             {"ours", "here"},     {"our_who", "by"},         {"theirs", "there"},
                                             {"their_who", "by "}, {"kind", "what happened"}, {"state", "state"}};
    for (size_t i = 0; i < sizeof columns / sizeof *columns; i++)
        table_column(table, columns[i][0], columns[i][1], "", -1);
    for (size_t i = 0; i < n; i++) {
        if (waiting_only && rows[i].state != HELD_STATE_WAITING)
            continue;
        json_t *row = table_row(table);
        row_integer(row, rows[i].id);
        row_text(row, rows[i].label);
        row_text(row, rows[i].field == NULL ? "the whole row" : rows[i].field);
        row_text(row, rows[i].ours);
        row_text(row, who_when(rows[i].our_author, rows[i].our_moment, arena));
        row_text(row, rows[i].theirs);
        row_text(row, who_when(rows[i].their_author, rows[i].their_moment, arena));
        row_text(row, word_plain(WORDS_CONFLICT_KIND, (int)rows[i].kind, arena));
        row_text(row, word_plain(WORDS_HELD_STATE, (int)rows[i].state, arena));
    }
}

/* The other copy as a path: what the browser sent is put into a private file first. */
static enum outcome other_path(const struct job_context *context, const char *given, char path[64], bool *temporary, const char **out,
                               struct failure *why)
{
    *temporary = context->upload != NULL;
    *out = given;
    if (!*temporary)
        return OUTCOME_OK;
    snprintf(path, 64, "/tmp/spinney-merge-XXXXXX");
    int file = mkstemp(path);
    if (file < 0)
        return fail(why, OUTCOME_SYSTEM, "There is no room for a temporary file.");
    bool whole = write(file, context->upload, context->upload_n) == (ssize_t)context->upload_n;
    close(file);
    *out = path;
    return whole ? OUTCOME_OK : fail(why, OUTCOME_SYSTEM, "There is no room for the file that was sent.");
}

static enum outcome merge_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct store *other = NULL;
    struct store_merge_report report = {0};
    const char *given = option_text(in, "other", ""), *path = NULL;
    const char *name = strrchr(given, '/') == NULL ? given : strrchr(given, '/') + 1;
    char private[64] = "";
    bool temporary = false, only = option_flag(in, "try_only"), begun = false;
    size_t fresh = 0, came = 0, n = 0;
    void *rows = NULL;
    enum outcome outcome = other_path(context, given, private, &temporary, &path, why);
    if (outcome == OUTCOME_OK)
        outcome = store_open(path, STORE_READ, &other, why);
    if (outcome == OUTCOME_OK) {
        outcome =
            store_begin(context->store, context->author, arena_print(&arena, "merged with %s", *name == '\0' ? "another copy" : name), why);
        begun = outcome == OUTCOME_OK;
    }
    if (outcome == OUTCOME_OK)
        outcome = store_merge(context->store, other, &arena, &report, why);
    if (outcome == OUTCOME_OK)
        outcome = conflicts_add(context, name, &report, &arena, &fresh, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(context->store, NOUN_CONFLICT, &arena, &rows, &n, why);
    if (begun && only)
        store_rollback(context->store);
    else if (begun)
        outcome = store_end(context->store, outcome, why);
    if (outcome == OUTCOME_OK) {
        json_t *out = *note = note_new();
        counts_section(out, &report, &came);
        if (n > 0)
            conflicts_section(out, "What a person has to settle", rows, n, true, &arena);
        note_answer(out, "%zu rows %s from the other copy; %zu differences %s to be settled%s.", came, only ? "would come" : "came", fresh,
                    only ? "would have" : "have", fresh == 0 ? ", nothing is open from this merge" : "");
        if (report.same_files > 0)
            note_unknown(
                out,
                "%zu files were brought in by both copies: their rows are taken as the same, none twice. Where the two were read by other "
                "answers, look at them.",
                report.same_files);
        json_object_set_new(note_data(out), "came", json_integer((json_int_t)came));
        json_object_set_new(note_data(out), "conflicts", json_integer((json_int_t)report.n_conflicts));
        json_object_set_new(note_data(out), "fresh", json_integer((json_int_t)fresh));
        json_object_set_new(note_data(out), "same_files", json_integer((json_int_t)report.same_files));
        if (!only)
            json_object_set_new(out, "step", json_integer(store_last_step(context->store)));
    }
    store_close(other);
    if (temporary)
        unlink(private);
    arena_clear(&arena);
    return outcome;
}

const struct job job_merge = {
    .name = "merge",
    .summary = "bring in what another copy of this programme has",
    .about =
        "Two copies of one file that were edited apart come together: what is new or newer there comes in, nothing twice. Where both "
        "changed "
        "the same thing, this copy stays as it is and the difference waits for a decision (settle). One step, which can be taken back.",
    .example = "spinney merge wood.gpkg wood-from-anna.gpkg",
    .access = JOB_WRITES,
    .options = merge_options,
    .n_options = sizeof merge_options / sizeof *merge_options,
    .bare = merge_bare,
    .run = merge_run,
};

static const struct option settle_options[] = {
    {"id", OPTION_INTEGER, false, "N", "which difference; without it, all are listed"},
    {"whose", OPTION_TEXT, false, "WHOSE", "ours or theirs"},
    {"why", OPTION_TEXT, false, "TEXT", "why"},
};
static const char *const settle_bare[] = {"id", "whose", NULL};

static enum outcome row_by_uuid(struct store *store, const struct conflict *one, struct arena *arena, int64_t *id, struct failure *why)
{
    int noun = noun_find(one->noun);
    void *rows = NULL;
    size_t n = 0;
    if (noun < 0)
        return fail(why, OUTCOME_DATA, "This program knows no rows called %.60s.", one->noun);
    struct store_where where = {.field = "uuid", .text = one->row_uuid};
    enum outcome outcome = store_load(store, (enum noun)noun, &where, 1, false, arena, &rows, &n, why);
    if (outcome == OUTCOME_OK && n == 0) {
        fail(why, OUTCOME_DATA, "%s is deleted here, so theirs cannot be taken as it is.", one->label == NULL ? "The row" : one->label);
        return failure_remedy(why, "Take back the step that deleted it (log, undo) and merge again, or keep ours.");
    }
    if (outcome == OUTCOME_OK)
        *id = *(const int64_t *)rows;
    return outcome;
}

static enum outcome theirs_take(struct store *store, const struct conflict *one, struct arena *arena, struct failure *why)
{
    int64_t id = 0;
    if (one->kind == CONFLICT_KIND_NOT_ADDED || one->kind == CONFLICT_KIND_DELETED_HERE) {
        fail(why, OUTCOME_DATA, "%s cannot come while %s is deleted here.", one->label == NULL ? "The row" : one->label,
             one->kind == CONFLICT_KIND_NOT_ADDED ? "what it refers to" : "it");
        return failure_remedy(why, "Take back the step that deleted it (log, undo) and merge again, or keep ours.");
    }
    enum outcome outcome = row_by_uuid(store, one, arena, &id, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    return one->kind == CONFLICT_KIND_DELETED_THERE ? store_delete(store, (enum noun)noun_find(one->noun), id, why)
                                                    : store_change_json(store, (enum noun)noun_find(one->noun), id, one->values, why);
}

static enum outcome settle_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct conflict one;
    void *rows = NULL;
    size_t n = 0, waiting = 0;
    int64_t id = option_integer(in, "id", 0);
    const char *take = option_text(in, "whose", NULL);
    bool theirs = text_same(take, "theirs");
    enum outcome outcome = OUTCOME_OK;
    if (id == 0) {
        outcome = load_all(context->store, NOUN_CONFLICT, &arena, &rows, &n, why);
        if (outcome == OUTCOME_OK) {
            const struct conflict *list = rows;
            for (size_t i = 0; i < n; i++)
                waiting += list[i].state == HELD_STATE_WAITING;
            *note = note_new();
            note_answer(*note,
                        n == 0 ? "No merge has left anything to settle." : "%zu of %zu differences between copies wait for a decision.",
                        waiting, n);
            if (n > 0)
                conflicts_section(*note, "Differences between copies", list, n, false, &arena);
            json_object_set_new(note_data(*note), "waiting", json_integer((json_int_t)waiting));
        }
        goto done;
    }
    if (!theirs && !text_same(take, "ours")) {
        fail(why, OUTCOME_USAGE, "Say whose value holds: ours or theirs.");
        outcome = OUTCOME_USAGE;
        goto done;
    }
    outcome = store_begin(context->store, context->author, theirs ? "difference settled: theirs" : "difference settled: ours", why);
    if (outcome != OUTCOME_OK)
        goto done;
    outcome = store_get(context->store, NOUN_CONFLICT, id, &arena, &one, why);
    if (outcome == OUTCOME_OK && one.state != HELD_STATE_WAITING) {
        fail(why, OUTCOME_DATA, "This difference was settled on %s by %s.", day_words(one.decided_on, &arena),
             one.decided_by == NULL ? "somebody" : one.decided_by);
        outcome = failure_remedy(why, "Take that step back (undo) to decide anew.");
    }
    if (outcome == OUTCOME_OK && theirs)
        outcome = theirs_take(context->store, &one, &arena, why);
    if (outcome == OUTCOME_OK) {
        one.state = theirs ? HELD_STATE_ACCEPTED : HELD_STATE_REJECTED;
        one.decision = option_text(in, "why", theirs ? "theirs taken" : "ours kept");
        one.decided_by = context->author;
        one.decided_on = context->today;
        outcome = store_change(context->store, NOUN_CONFLICT, &one, why);
    }
    outcome = store_end(context->store, outcome, why);
    if (outcome == OUTCOME_OK) {
        *note = note_new();
        note_answer(*note, "%s, %s: %s holds (%s).", one.label, one.field == NULL ? "the whole row" : one.field, theirs ? "theirs" : "ours",
                    theirs             ? (one.theirs == NULL ? "unknown" : one.theirs)
                    : one.ours == NULL ? "unknown"
                                       : one.ours);
        json_object_set_new(*note, "step", json_integer(store_last_step(context->store)));
    }
done:
    arena_clear(&arena);
    return outcome;
}

const struct job job_settle = {
    .name = "settle",
    .summary = "decide what two copies of the programme disagree on",
    .about = "Lists the differences that merges have left, with who changed what and when on each side; with an id, takes ours or theirs. "
             "What was "
             "not taken stays on record.",
    .example = "spinney settle wood.gpkg 3 theirs --why 'measured again on 14 September'",
    .access = JOB_WRITES,
    .options = settle_options,
    .n_options = sizeof settle_options / sizeof *settle_options,
    .bare = settle_bare,
    .run = settle_run,
};
