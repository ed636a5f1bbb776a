/* SPDX-License-Identifier: GPL-3.0-or-later
 * Steps: begun, committed or rolled back as one, and listed with the history of single rows. */
#include "store/inside.h"
#include <stdlib.h>
#include <string.h>

void store_patience(struct store *store, int wait_ms)
{
    store->patience_ms = wait_ms;
    sqlite3_busy_timeout(store->db, wait_ms);
}

int64_t store_last_step(const struct store *store)
{
    return store->in_step ? store->step : store->last_step;
}

static void step_forget(struct store *store)
{
    free(store->author);
    store->author = NULL;
    store->in_step = store->lost = false;
    store->step = store->changes = 0;
    store->run.change = 0;
    memset(store->touched, 0, sizeof store->touched);
    memset(store->grown, 0, sizeof store->grown);
}

enum outcome step_needed(const struct store *store, struct failure *why)
{
    if (!store->in_step)
        return fail(why, OUTCOME_USAGE, "Changes can only be made within a step.");
    if (!store->lost)
        return OUTCOME_OK;
    fail(why, OUTCOME_SYSTEM, "An earlier write of this step failed, so the whole step is lost; the file is as it was before.");
    return failure_remedy(why, "Mend what failed, then do the step again.");
}

enum outcome store_begin(struct store *store, const char *author, const char *what, struct failure *why)
{
    if (store->in_step)
        return fail(why, OUTCOME_USAGE, "A step is being taken already; steps do not nest.");
    if (store->mode != STORE_WRITE)
        return fail(why, OUTCOME_USAGE, "The programme file was opened for looking only.");
    if (text_blank(author) || text_blank(what))
        return fail(why, OUTCOME_USAGE, "A step needs an author and a few words on what it does.");
    enum outcome outcome = sql_run(store, why, "BEGIN IMMEDIATE");
    if (outcome != OUTCOME_OK)
        return outcome;
    sql_moment(store->db, store->moment);
    store->in_step = true;
    store->author = memory_text(author);
    outcome = sql_run(store, why, "INSERT INTO spinney_step(moment, author, what) VALUES (%Q, %Q, %Q)", store->moment, author, what);
    if (outcome != OUTCOME_OK)
        store_rollback(store);
    else
        store->step = sqlite3_last_insert_rowid(store->db);
    return outcome;
}

/* The extent of a layer as GeoPackage keeps it for readers: it grows, and is never wrong, only wide. */
static enum outcome grow_contents(struct store *store, enum noun noun, struct failure *why)
{
    const struct extent *e = &store->grown[noun];
    const char *table = noun_infos[noun].name;
    if (!e->any)
        return sql_run(store, why, "UPDATE gpkg_contents SET last_change = %Q WHERE table_name = %Q", store->moment, table);
    return sql_run(store, why,
                   "UPDATE gpkg_contents SET last_change = %Q, min_x = min(coalesce(min_x, %!.17g), %!.17g), min_y = min(coalesce(min_y, "
                   "%!.17g), %!.17g),"
                   " max_x = max(coalesce(max_x, %!.17g), %!.17g), max_y = max(coalesce(max_y, %!.17g), %!.17g) WHERE table_name = %Q",
                   store->moment, e->x_least, e->x_least, e->y_least, e->y_least, e->x_most, e->x_most, e->y_most, e->y_most, table);
}

enum outcome store_commit(struct store *store, struct failure *why)
{
    enum outcome outcome = step_needed(store, why);
    if (!store->in_step)
        return outcome;
    if (outcome == OUTCOME_OK && store->changes == 0) {
        store_rollback(store);
        return OUTCOME_OK;
    }
    for (int i = 0; i < NOUN_COUNT && outcome == OUTCOME_OK; i++)
        if (store->touched[i])
            outcome = grow_contents(store, (enum noun)i, why);
    if (outcome == OUTCOME_OK)
        outcome = sql_run(store, why, "UPDATE spinney_step SET changes = %lld WHERE id = %lld", (long long)store->changes,
                          (long long)store->step);
    if (outcome == OUTCOME_OK)
        outcome = sql_run(store, why, "COMMIT");
    if (outcome != OUTCOME_OK) {
        store_rollback(store);
        return outcome;
    }
    store->last_step = store->step;
    store->wrote = true;
    step_forget(store);
    return OUTCOME_OK;
}

void store_rollback(struct store *store)
{
    if (!store->in_step)
        return;
    for (int i = 0; i < NOUN_COUNT; i++)
        if (store->add[i] != NULL)
            sqlite3_reset(store->add[i]);
    if (!sqlite3_get_autocommit(store->db))
        sqlite3_exec(store->db, "ROLLBACK", NULL, NULL, NULL);
    step_forget(store);
}

enum outcome store_end(struct store *store, enum outcome outcome, struct failure *why)
{
    if (outcome == OUTCOME_OK)
        outcome = store_commit(store, why);
    if (outcome != OUTCOME_OK)
        store_rollback(store);
    return outcome;
}

enum outcome store_steps(struct store *store, size_t most, struct arena *arena, struct store_step **steps, size_t *n, struct failure *why)
{
    /* taken back: the latest step that undoes it, unless that was itself taken back (and so on, to any depth) */
    static const char *const sql =
        "WITH RECURSIVE latest(id, by) AS (SELECT undoes, max(id) FROM spinney_step WHERE undoes IS NOT NULL GROUP BY undoes),"
        " chain(id, at, depth) AS (SELECT id, by, 1 FROM latest UNION ALL SELECT c.id, l.by, c.depth + 1 FROM chain c JOIN latest l ON "
        "l.id = c.at),"
        " depths(id, depth) AS (SELECT id, max(depth) FROM chain GROUP BY id)"
        " SELECT s.id, s.moment, s.author, s.what, s.changes, coalesce(s.undoes, 0),"
        " CASE WHEN d.depth %% 2 = 1 THEN l.by ELSE 0 END FROM spinney_step s LEFT JOIN latest l ON l.id = s.id"
        " LEFT JOIN depths d ON d.id = s.id ORDER BY s.id DESC LIMIT %lld";
    sqlite3_stmt *statement = NULL;
    struct store_step *found = NULL;
    size_t n_found = 0, room = 0;
    bool row = false;
    enum outcome outcome = sql_prepare(store, &statement, why, sql, (long long)(most > INT64_MAX ? INT64_MAX : most));
    while (outcome == OUTCOME_OK && (outcome = sql_next(store, statement, &row, why)) == OUTCOME_OK && row) {
        found = column_room(found, n_found, &room, sizeof *found);
        found[n_found++] =
            (struct store_step){sqlite3_column_int64(statement, 0), sql_text(statement, 1, arena),      sql_text(statement, 2, arena),
                                sql_text(statement, 3, arena),      sqlite3_column_int64(statement, 4), sqlite3_column_int64(statement, 5),
                                sqlite3_column_int64(statement, 6)};
    }
    sqlite3_finalize(statement);
    if (outcome == OUTCOME_OK) {
        *steps = arena_array(arena, n_found + 1, sizeof **steps);
        if (n_found > 0)
            memcpy(*steps, found, n_found * sizeof *found);
        *n = n_found;
    }
    free(found);
    return outcome;
}

enum outcome store_history(struct store *store, enum noun noun, int64_t id, struct arena *arena, struct store_past **past, size_t *n,
                           struct failure *why)
{
    static const char *const sql =
        "SELECT c.step_id, s.moment, s.author, s.what, c.kind, c.old_values, c.new_values FROM"
        " (SELECT * FROM (SELECT * FROM spinney_change WHERE noun = ?1 AND kind = 'added' AND row_id <= ?2 ORDER BY row_id DESC LIMIT 1)"
        "  WHERE coalesce(last_row_id, row_id) >= ?2"
        "  UNION ALL SELECT * FROM spinney_change WHERE noun = ?1 AND kind <> 'added' AND row_id = ?2) c"
        " JOIN spinney_step s ON s.id = c.step_id ORDER BY c.id";
    sqlite3_stmt *statement = NULL;
    struct store_past *found = NULL;
    size_t n_found = 0, room = 0;
    bool row = false;
    enum outcome outcome = sql_prepare(store, &statement, why, "%s", sql);
    if (outcome == OUTCOME_OK) {
        sqlite3_bind_text(statement, 1, noun_infos[noun].name, -1, SQLITE_STATIC);
        sqlite3_bind_int64(statement, 2, id);
    }
    while (outcome == OUTCOME_OK && (outcome = sql_next(store, statement, &row, why)) == OUTCOME_OK && row) {
        found = column_room(found, n_found, &room, sizeof *found);
        found[n_found++] = (struct store_past){
            sqlite3_column_int64(statement, 0), sql_text(statement, 1, arena), sql_text(statement, 2, arena), sql_text(statement, 3, arena),
            sql_text(statement, 4, arena),      sql_text(statement, 5, arena), sql_text(statement, 6, arena)};
    }
    sqlite3_finalize(statement);
    if (outcome == OUTCOME_OK) {
        *past = arena_array(arena, n_found + 1, sizeof **past);
        if (n_found > 0)
            memcpy(*past, found, n_found * sizeof *found);
        *n = n_found;
    }
    free(found);
    return outcome;
}
