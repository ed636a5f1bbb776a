/* SPDX-License-Identifier: GPL-3.0-or-later
 * Reading a damaged file as far as it goes: a table is walked by id from both sides of each place that cannot be read. */
#include "store/inside.h"
#include <stdlib.h>
#include <string.h>

/* Ids beyond this are not looked for where the file does not say how far they go. */
static const int64_t farthest = INT64_C(1) << 40;

struct walk {
    struct store *store;
    enum noun noun;
    struct arena *arena;
    struct store_rescued *out;
    char *rows;
    size_t room;
    struct value_memo *memos;
};

static bool row_taken(struct walk *walk, sqlite3_stmt *statement)
{
    size_t size = noun_infos[walk->noun].size;
    struct failure ignored = {0};
    if (sqlite3_column_type(statement, sqlite3_column_count(statement) - 1) != SQLITE_NULL) /* marked deleted */
        return true;
    walk->rows = column_room(walk->rows, walk->out->n, &walk->room, size);
    void *row = walk->rows + walk->out->n * size;
    noun_init(walk->noun, row);
    if (load_row(walk->store, statement, walk->noun, walk->memos, row, walk->arena, &ignored) == OUTCOME_OK &&
        value_check(walk->noun, row, &ignored) == OUTCOME_OK)
        walk->out->n++;
    else
        walk->out->unread++;
    return true;
}

/* Rows with ids between two bounds, up or down, until the end or a place that cannot be read. *reached: the last id read. */
static bool stretch(struct walk *walk, int64_t above, int64_t below, bool down, int64_t *reached)
{
    struct text sql = {0};
    sqlite3_stmt *statement = NULL;
    text_add(&sql, "SELECT ");
    load_columns(walk->store, walk->noun, true, &sql);
    text_print(&sql, ", deleted_at FROM \"%s\" WHERE fid > %lld AND fid < %lld ORDER BY fid%s", noun_infos[walk->noun].name,
               (long long)above, (long long)below, down ? " DESC" : "");
    int code = sqlite3_prepare_v2(walk->store->db, text_get(&sql), -1, &statement, NULL);
    text_free(&sql);
    while (code == SQLITE_OK || code == SQLITE_ROW) {
        code = sqlite3_step(statement);
        if (code != SQLITE_ROW)
            break;
        *reached = sqlite3_column_int64(statement, 0);
        row_taken(walk, statement);
    }
    sqlite3_finalize(statement);
    return code == SQLITE_DONE;
}

/* The least id at or above `from` that can be read, by leaps that double; 0: none. */
static int64_t next_readable(struct walk *walk, int64_t from, int64_t most)
{
    sqlite3_stmt *statement = NULL;
    int64_t found = 0, leap = 1;
    char *sql =
        sqlite3_mprintf("SELECT fid, uuid FROM \"%w\" WHERE fid >= ?1 AND fid <= ?2 ORDER BY fid LIMIT 1", noun_infos[walk->noun].name);
    int code = sqlite3_prepare_v2(walk->store->db, sql, -1, &statement, NULL);
    sqlite3_free(sql);
    for (int64_t at = from; code == SQLITE_OK && found == 0 && at <= most; at = from + leap, leap *= 2) {
        sqlite3_bind_int64(statement, 1, at);
        sqlite3_bind_int64(statement, 2, most);
        int step = sqlite3_step(statement);
        if (step == SQLITE_ROW)
            found = sqlite3_column_int64(statement, 0);
        sqlite3_reset(statement);
        if (step == SQLITE_DONE) /* beyond the last */
            break;
    }
    sqlite3_finalize(statement);
    return found;
}

static int by_id(const void *a, const void *b)
{
    int64_t p = row_id(a), q = row_id(b);
    return p < q ? -1 : p > q;
}

/* Rows that were met from both sides count once. */
static void sort_once(struct walk *walk)
{
    size_t size = noun_infos[walk->noun].size, kept = 0;
    qsort(walk->rows, walk->out->n, size, by_id);
    for (size_t i = 0; i < walk->out->n; i++)
        if (kept == 0 || by_id(walk->rows + (kept - 1) * size, walk->rows + i * size) != 0)
            memmove(walk->rows + kept++ * size, walk->rows + i * size, size);
    walk->out->n = kept;
}

static void walk_noun(struct store *store, enum noun noun, struct arena *arena, struct store_rescued *out)
{
    const struct noun_info *info = &noun_infos[noun];
    struct walk walk = {
        .store = store, .noun = noun, .arena = arena, .out = out, .memos = memory_get(info->n_fields, sizeof(struct value_memo))};
    *out = (struct store_rescued){.no_table = !store->table_there[noun]};
    for (size_t i = 0; i < info->n_fields; i++)
        walk.memos[i].date = DATE_UNKNOWN;
    int64_t reached = 0, most = 0;
    if (sql_integer(store, &out->last, 0, NULL, "SELECT seq FROM sqlite_sequence WHERE name = %Q", info->name) != OUTCOME_OK)
        out->last = 0;
    most = out->last > 0 ? out->last : farthest;
    bool whole = out->no_table || stretch(&walk, 0, INT64_MAX, false, &reached);
    while (!whole) {
        int64_t from = reached, back = 0, on = 0;
        out->gaps++;
        int64_t beyond = next_readable(&walk, from + 1, most);
        if (beyond == 0)
            break;
        /* from the readable one on, then back towards the damage */
        whole = stretch(&walk, beyond - 1, INT64_MAX, false, &on);
        stretch(&walk, from, beyond, true, &back);
        reached = on > from ? on : beyond;
    }
    sort_once(&walk);
    out->rows = arena_array(arena, out->n + 1, info->size);
    if (out->n > 0)
        memcpy(out->rows, walk.rows, out->n * info->size);
    free(walk.rows);
    free(walk.memos);
}

enum outcome store_rescue(const char *path, struct arena *arena, struct store_rescued of[NOUN_COUNT], struct failure *why)
{
    struct store store = {.mode = STORE_READ, .patience_ms = PATIENCE_MS, .path = (char *)(uintptr_t)path};
    size_t missing = 0;
    int64_t tables = 0;
    enum outcome outcome = sql_connect(path, SQLITE_OPEN_READONLY, &store.db, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    sqlite3_exec(store.db, "PRAGMA cell_size_check=OFF; PRAGMA query_only=ON", NULL, NULL, NULL);
    for (int i = 0; i < NOUN_COUNT; i++)
        store.field_there[i] = memory_get(noun_infos[i].n_fields + 1, sizeof(bool));
    outcome = sql_integer(&store, &tables, 0, why,
                          "SELECT count(*) FROM sqlite_schema WHERE type = 'table' AND name IN ('spinney_step', 'site', 'plot')");
    if (outcome == OUTCOME_OK && tables < 3) {
        fail(why, OUTCOME_DATA, "This is not a programme file, or its list of tables is gone.");
        outcome = failure_at(why, path, 0, NULL);
    }
    if (outcome == OUTCOME_OK)
        outcome = layout_learn(&store, &missing, why);
    if (outcome == OUTCOME_OK)
        for (int noun = 0; noun < NOUN_COUNT; noun++)
            walk_noun(&store, (enum noun)noun, arena, &of[noun]);
    for (int i = 0; i < NOUN_COUNT; i++)
        free(store.field_there[i]);
    sqlite3_close_v2(store.db);
    return outcome;
}
