/* SPDX-License-Identifier: GPL-3.0-or-later
 * Taking a step back by a new one. A step is in effect unless the latest step that takes it back is in effect; two later
 * steps of which one takes back the other weigh nothing, so that steps can be taken back one after another. */
#include "store/inside.h"
#include <stdlib.h>
#include <string.h>

/// All steps by their order, and which step each takes back.
struct ledger {
    int64_t *id, *undoes;
    size_t n;
};

/// One line of the change log.
struct logged {
    enum noun noun;
    int64_t first, last;
    const char *kind, *before;
};

static enum outcome ledger_read(struct store *store, struct arena *arena, struct ledger *ledger, struct failure *why)
{
    int64_t n = 0;
    bool row = false;
    sqlite3_stmt *statement = NULL;
    enum outcome outcome = sql_integer(store, &n, 0, why, "SELECT count(*) FROM spinney_step");
    if (outcome == OUTCOME_OK)
        outcome = sql_prepare(store, &statement, why, "SELECT id, coalesce(undoes, 0) FROM spinney_step ORDER BY id");
    ledger->id = arena_array(arena, (size_t)n + 1, sizeof *ledger->id);
    ledger->undoes = arena_array(arena, (size_t)n + 1, sizeof *ledger->undoes);
    ledger->n = 0;
    while (outcome == OUTCOME_OK && ledger->n < (size_t)n && (outcome = sql_next(store, statement, &row, why)) == OUTCOME_OK && row) {
        ledger->id[ledger->n] = sqlite3_column_int64(statement, 0);
        ledger->undoes[ledger->n++] = sqlite3_column_int64(statement, 1);
    }
    sqlite3_finalize(statement);
    return outcome;
}

/* The latest step that takes this one back; 0: none. It always has a higher id, so looking on from it comes to an end. */
static int64_t taken_back_by(const struct ledger *ledger, int64_t step)
{
    for (size_t i = ledger->n; i-- > 0 && ledger->id[i] > step;)
        if (ledger->undoes[i] == step)
            return ledger->id[i];
    return 0;
}

static bool in_effect(const struct ledger *ledger, int64_t step)
{
    bool effect = true;
    for (int64_t by = taken_back_by(ledger, step); by != 0; by = taken_back_by(ledger, by))
        effect = !effect;
    return effect;
}

/* Whether a later step still weighs on the rows that `step` changed. */
static bool weighs(const struct ledger *ledger, int64_t later, int64_t step)
{
    if (!in_effect(ledger, later))
        return false;
    for (size_t i = 0; i < ledger->n; i++)
        if (ledger->id[i] == later)
            return ledger->undoes[i] <= step || taken_back_by(ledger, ledger->undoes[i]) != later;
    return true;
}

static enum outcome read_log(struct store *store, int64_t step, struct arena *arena, struct logged **out, size_t *n, struct failure *why)
{
    sqlite3_stmt *statement = NULL;
    int64_t count = 0;
    bool row = false;
    enum outcome outcome = sql_integer(store, &count, 0, why, "SELECT count(*) FROM spinney_change WHERE step_id = %lld", (long long)step);
    if (outcome == OUTCOME_OK)
        outcome = sql_prepare(store, &statement, why,
                              "SELECT noun, row_id, coalesce(last_row_id, row_id), kind, old_values FROM spinney_change WHERE step_id = "
                              "%lld ORDER BY id DESC",
                              (long long)step);
    *out = arena_array(arena, (size_t)count + 1, sizeof **out);
    *n = 0;
    while (outcome == OUTCOME_OK && *n < (size_t)count && (outcome = sql_next(store, statement, &row, why)) == OUTCOME_OK && row) {
        int noun = noun_find((const char *)sqlite3_column_text(statement, 0));
        if (noun < 0) {
            outcome = fail(why, OUTCOME_DATA, "Step %lld changed something this program does not know, so it cannot be taken back here.",
                           (long long)step);
            break;
        }
        (*out)[(*n)++] = (struct logged){(enum noun)noun, sqlite3_column_int64(statement, 1), sqlite3_column_int64(statement, 2),
                                         sql_text(statement, 3, arena), sql_text(statement, 4, arena)};
    }
    sqlite3_finalize(statement);
    return outcome;
}

static enum outcome conflict(struct store *store, int64_t step, enum noun noun, int64_t id, int64_t later, struct failure *why)
{
    char label[120];
    row_label(store, noun, id, label, sizeof label);
    fail(why, OUTCOME_DATA, "Step %lld cannot be taken back: step %lld changed %s after it.", (long long)step, (long long)later, label);
    return failure_remedy(why, "Take step %lld back first.", (long long)later);
}

/* Later steps that changed the same rows and still weigh. */
static enum outcome no_later_changes(struct store *store, int64_t step, const struct logged *log, size_t n, const struct ledger *ledger,
                                     struct failure *why)
{
    sqlite3_stmt *statement = NULL;
    enum outcome outcome = sql_prepare(store, &statement, why,
                                       "SELECT step_id, row_id FROM spinney_change WHERE noun = ?1 AND kind <> 'added'"
                                       " AND row_id BETWEEN ?2 AND ?3 AND step_id > ?4 ORDER BY step_id DESC");
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++) {
        bool row = true;
        int64_t known = 0; /* the step weighed last */
        sqlite3_bind_text(statement, 1, noun_infos[log[i].noun].name, -1, SQLITE_STATIC);
        sqlite3_bind_int64(statement, 2, log[i].first);
        sqlite3_bind_int64(statement, 3, log[i].last);
        sqlite3_bind_int64(statement, 4, step);
        while (outcome == OUTCOME_OK && (outcome = sql_next(store, statement, &row, why)) == OUTCOME_OK && row) {
            int64_t later = sqlite3_column_int64(statement, 0);
            if (later != known && weighs(ledger, later, step))
                outcome = conflict(store, step, log[i].noun, sqlite3_column_int64(statement, 1), later, why);
            known = later;
        }
        sqlite3_reset(statement);
    }
    sqlite3_finalize(statement);
    return outcome;
}

/* Mark all rows of a run, in one statement each for the table and the log: 2 million at a time are foreseen. */
static enum outcome mark_run(struct store *store, enum noun noun, int64_t first, int64_t last, bool deleted, struct failure *why)
{
    const char *table = noun_infos[noun].name, *those = deleted ? "IS NULL" : "IS NOT NULL";
    if (noun == NOUN_PROGRAMME)
        return fail(why, OUTCOME_USAGE, "The step that made the programme cannot be taken back.");
    enum outcome outcome =
        sql_run(store, why,
                "INSERT INTO spinney_change(step_id, noun, row_id, kind) SELECT %lld, %Q, fid, %Q FROM \"%w\""
                " WHERE fid BETWEEN %lld AND %lld AND deleted_at %s",
                (long long)store->step, table, deleted ? "deleted" : "restored", table, (long long)first, (long long)last, those);
    if (outcome == OUTCOME_OK)
        outcome = sql_run(
            store, why, "UPDATE \"%w\" SET deleted_at = %Q, changed_at = %Q, author = %Q WHERE fid BETWEEN %lld AND %lld AND deleted_at %s",
            table, deleted ? store->moment : NULL, store->moment, store->author, (long long)first, (long long)last, those);
    store->changes += sqlite3_changes64(store->db);
    store->touched[noun] = true;
    store->run.change = 0;
    return outcome;
}

static enum outcome unchange(struct store *store, const struct logged *log, struct failure *why)
{
    struct arena arena = {0};
    size_t size = noun_infos[log->noun].size;
    void *old = memory_get(1, size), *new = memory_get(1, size);
    enum outcome outcome = load_one(store, log->noun, log->first, true, &arena, old, why);
    if (outcome == OUTCOME_OK) {
        memcpy(new, old, size);
        outcome = change_apply(log->noun, log->before, new, &arena, why);
    }
    if (outcome == OUTCOME_OK)
        outcome = change_to(store, log->noun, old, new, why);
    free(old);
    free(new);
    arena_clear(&arena);
    return outcome;
}

static enum outcome take_back(struct store *store, const struct logged *log, size_t n, struct failure *why)
{
    enum outcome outcome = OUTCOME_OK;
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++) {
        if (text_same(log[i].kind, "changed")) {
            outcome = unchange(store, &log[i], why);
            continue;
        }
        size_t end = i; /* newest first, so that ids of a run fall */
        while (end + 1 < n && log[end + 1].noun == log[i].noun && text_same(log[end + 1].kind, log[i].kind) &&
               log[end + 1].last + 1 == log[end].first)
            end++;
        outcome = mark_run(store, log[i].noun, log[end].first, log[i].last, !text_same(log[i].kind, "deleted"), why);
        i = end;
    }
    return outcome;
}

/* A living row that refers to a deleted one by this field, where the new step touched either; 0: none. Most fields are
 * cleared by two questions that an index answers at once: does anything refer by it, is anything it leads to deleted. */
static enum outcome dangling(struct store *store, int owner, const struct field *field, int64_t *id, struct failure *why)
{
    const char *table = noun_infos[owner].name, *target = noun_infos[field->target].name;
    long long step = (long long)store->step;
    int64_t used = 0, dead = 0;
    enum outcome outcome = sql_integer(store, &used, 0, why, "SELECT 1 FROM \"%w\" WHERE \"%w\" IS NOT NULL LIMIT 1", table, field->name);
    if (outcome == OUTCOME_OK)
        outcome = sql_integer(store, &dead, 0, why, "SELECT 1 FROM \"%w\" WHERE deleted_at IS NOT NULL LIMIT 1", target);
    if (outcome != OUTCOME_OK || used == 0 || dead == 0)
        return outcome;
    if (store->touched[owner])
        outcome = sql_integer(
            store, id, 0, why,
            "SELECT o.fid FROM spinney_change c CROSS JOIN \"%w\" o ON o.fid = c.row_id CROSS JOIN \"%w\" t ON t.fid = o.\"%w\""
            " WHERE c.step_id = %lld AND c.noun = %Q AND c.kind <> 'deleted' AND o.deleted_at IS NULL AND t.deleted_at IS NOT NULL LIMIT 1",
            table, target, field->name, step, table);
    if (outcome != OUTCOME_OK || *id != 0 || !store->touched[field->target])
        return outcome;
    return sql_integer(
        store, id, 0, why,
        "SELECT o.fid FROM spinney_change c CROSS JOIN \"%w\" t ON t.fid = c.row_id CROSS JOIN \"%w\" o ON o.\"%w\" = t.fid"
        " WHERE c.step_id = %lld AND c.noun = %Q AND c.kind = 'deleted' AND t.deleted_at IS NOT NULL AND o.deleted_at IS NULL LIMIT 1",
        target, table, field->name, step, target);
}

static enum outcome references_hold(struct store *store, int64_t step, struct failure *why)
{
    for (int owner = 0; owner < NOUN_COUNT; owner++)
        for (size_t i = 0; i < noun_infos[owner].n_fields; i++) {
            const struct field *field = &noun_infos[owner].fields[i];
            int64_t id = 0;
            if (field->kind != FIELD_REF || !(store->touched[owner] || store->touched[field->target]))
                continue;
            enum outcome outcome = dangling(store, owner, field, &id, why);
            if (outcome != OUTCOME_OK)
                return outcome;
            if (id == 0)
                continue;
            char label[120];
            row_label(store, (enum noun)owner, id, label, sizeof label);
            fail(why, OUTCOME_DATA, "Step %lld cannot be taken back: %s would refer to a %s that is deleted.", (long long)step, label,
                 noun_infos[field->target].name);
            failure_remedy(why, "Take the later steps back first, newest first.");
            return OUTCOME_DATA;
        }
    return OUTCOME_OK;
}

static enum outcome may_be_taken_back(const struct ledger *ledger, int64_t step, struct failure *why)
{
    bool there = false;
    for (size_t i = 0; i < ledger->n; i++)
        there = there || ledger->id[i] == step;
    if (!there)
        return fail(why, OUTCOME_DATA, "There is no step %lld.", (long long)step);
    if (in_effect(ledger, step))
        return OUTCOME_OK;
    fail(why, OUTCOME_DATA, "Step %lld has been taken back already, by step %lld.", (long long)step,
         (long long)taken_back_by(ledger, step));
    return failure_remedy(why, "To bring it back, take step %lld back.", (long long)taken_back_by(ledger, step));
}

static enum outcome words_of_step(struct store *store, int64_t step, struct arena *arena, const char **what, struct failure *why)
{
    sqlite3_stmt *statement = NULL;
    bool row = false;
    enum outcome outcome = sql_prepare(store, &statement, why, "SELECT what FROM spinney_step WHERE id = %lld", (long long)step);
    if (outcome == OUTCOME_OK)
        outcome = sql_next(store, statement, &row, why);
    if (row)
        *what = arena_print(arena, "Take back: %s", (const char *)sqlite3_column_text(statement, 0));
    sqlite3_finalize(statement);
    return outcome;
}

static enum outcome undo_within(struct store *store, int64_t step, struct arena *arena, struct failure *why)
{
    struct ledger ledger = {0};
    struct logged *log = NULL;
    size_t n = 0;
    enum outcome outcome = ledger_read(store, arena, &ledger, why);
    if (outcome == OUTCOME_OK)
        outcome = may_be_taken_back(&ledger, step, why);
    if (outcome == OUTCOME_OK)
        outcome = read_log(store, step, arena, &log, &n, why);
    if (outcome == OUTCOME_OK)
        outcome = no_later_changes(store, step, log, n, &ledger, why);
    if (outcome == OUTCOME_OK)
        outcome = sql_run(store, why, "UPDATE spinney_step SET undoes = %lld WHERE id = %lld", (long long)step, (long long)store->step);
    if (outcome == OUTCOME_OK)
        outcome = take_back(store, log, n, why);
    return outcome == OUTCOME_OK ? references_hold(store, step, why) : outcome;
}

enum outcome store_undo(struct store *store, int64_t step, const char *author, int64_t *new_step, struct failure *why)
{
    struct arena arena = {0};
    const char *what = "Take back a step";
    if (store->in_step)
        return fail(why, OUTCOME_USAGE, "A step is being taken; end it before taking another back.");
    enum outcome outcome = words_of_step(store, step, &arena, &what, why);
    if (outcome == OUTCOME_OK && (outcome = store_begin(store, author, what, why)) == OUTCOME_OK) {
        store->whole_rows = true;
        outcome = undo_within(store, step, &arena, why);
        store->whole_rows = false;
        if (outcome == OUTCOME_OK)
            outcome = store_commit(store, why);
        else
            store_rollback(store);
    }
    if (outcome == OUTCOME_OK && new_step != NULL)
        *new_step = store->last_step;
    arena_clear(&arena);
    return outcome;
}
