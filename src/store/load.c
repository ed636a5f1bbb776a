/* SPDX-License-Identifier: GPL-3.0-or-later
 * Loading rows of any noun. Typical: a few thousand rows; a large programme has 200,000 plants and 2 million records,
 * so the loop over rows does nothing but move values, and text that repeats down a column is kept once. */
#include "store/inside.h"
#include <stdlib.h>
#include <string.h>

/* Columns of the SELECT: fid, uuid, geom where there is one, then the noun's fields. What the file lacks is unknown. */
void load_columns(struct store *store, enum noun noun, bool with_bytes, struct text *sql)
{
    const struct noun_info *info = &noun_infos[noun];
    text_add(sql, "fid, uuid");
    if (info->geometry != GEOMETRY_NONE)
        text_add(sql, ", geom");
    for (size_t i = 0; i < info->n_fields; i++) {
        const struct field *field = &info->fields[i];
        bool left_out = !store->field_there[noun][i] || (field->kind == FIELD_BYTES && !with_bytes);
        text_print(sql, left_out ? ", NULL" : ", \"%s\"", field->name);
    }
}

static enum outcome add_where(struct store *store, enum noun noun, const struct store_where *where, size_t n, struct text *sql,
                              struct failure *why)
{
    text_add(sql, " WHERE deleted_at IS NULL");
    for (size_t i = 0; i < n; i++) {
        const struct field *field = noun_field(noun, where[i].field);
        if (text_same(where[i].field, "id"))
            text_print(sql, " AND fid = ?%zu", i + 1);
        else if (text_same(where[i].field, "uuid"))
            text_print(sql, " AND uuid IS ?%zu", i + 1);
        else if (field == NULL)
            return fail(why, OUTCOME_USAGE, "A %s has no field \"%s\".", noun_infos[noun].name, where[i].field);
        else if (store->field_there[noun][field - noun_infos[noun].fields])
            text_print(sql, " AND \"%s\" IS ?%zu", field->name, i + 1);
        else /* a field younger than the file is unknown in every row */
            text_print(sql, " AND NULL IS ?%zu", i + 1);
    }
    return OUTCOME_OK;
}

static enum outcome value_from_where(const struct field *field, const struct store_where *where, void *row, struct failure *why)
{
    void *at = field_at(field, row);
    struct arena arena = {0};
    enum outcome outcome = OUTCOME_OK;
    int value = (int)where->value;
    if (where->text != NULL)
        outcome = field_read(field, row, where->text, &arena, why);
    else if (field->kind == FIELD_INT || field->kind == FIELD_REF)
        *(int64_t *)at = where->value;
    else if (field->kind == FIELD_REAL)
        *(double *)at = where->value == INT_UNKNOWN ? unknown_real() : (double)where->value;
    else if (field->kind == FIELD_DATE)
        *(int32_t *)at = where->value < INT32_MIN || where->value > INT32_MAX ? DATE_UNKNOWN : (int32_t)where->value;
    else if (field->kind == FIELD_ENUM)
        memcpy(at, &value, sizeof value);
    arena_clear(&arena);
    return outcome;
}

static enum outcome bind_where(sqlite3_stmt *statement, enum noun noun, const struct store_where *where, size_t n, struct failure *why)
{
    void *row = memory_get(1, noun_infos[noun].size);
    enum outcome outcome = OUTCOME_OK;
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++) {
        const struct field *field = noun_field(noun, where[i].field);
        int parameter = (int)i + 1;
        bool text = field != NULL && (field->kind == FIELD_TEXT || field->kind == FIELD_JSON || field->kind == FIELD_MOMENT);
        noun_init(noun, row);
        if (text_same(where[i].field, "id")) {
            sqlite3_bind_int64(statement, parameter, where[i].value);
        } else if (field == NULL || text) {
            if (where[i].text != NULL && where[i].text[0] != '\0')
                sqlite3_bind_text(statement, parameter, where[i].text, -1, SQLITE_TRANSIENT);
        } else if ((outcome = value_from_where(field, &where[i], row, why)) == OUTCOME_OK) {
            value_bind(statement, parameter, field, row);
        }
    }
    free(row);
    return outcome;
}

static enum outcome not_understood(struct store *store, enum noun noun, int64_t id, const char *column, struct failure *why)
{
    fail(why, OUTCOME_DATA, "%s %lld holds something in %s that this program does not understand; another program must have written it.",
         noun_infos[noun].name, (long long)id, column);
    failure_at(why, store->path, 0, column);
    failure_remedy(why, "Set it right in the program that wrote it, or go back to a copy.");
    return OUTCOME_DATA;
}

enum outcome load_row(struct store *store, sqlite3_stmt *statement, enum noun noun, struct value_memo *memos, void *row,
                      struct arena *arena, struct failure *why)
{
    const struct noun_info *info = &noun_infos[noun];
    int column = 2;
    *(int64_t *)row = sqlite3_column_int64(statement, 0);
    if (sqlite3_column_type(statement, 1) != SQLITE_NULL && !uuid_read((const char *)sqlite3_column_text(statement, 1), row_uuid(row)))
        return not_understood(store, noun, row_id(row), "uuid", why);
    if (info->geometry != GEOMETRY_NONE) {
        const void *blob = sqlite3_column_blob(statement, column);
        size_t n = (size_t)sqlite3_column_bytes(statement, column);
        if (sqlite3_column_type(statement, column) != SQLITE_NULL && (blob == NULL || !blob_read(info, blob, n, row, arena)))
            return not_understood(store, noun, row_id(row), "geom", why);
        column++;
    }
    for (size_t i = 0; i < info->n_fields; i++)
        if (!value_read(statement, column + (int)i, &info->fields[i], row, &memos[i], arena))
            return not_understood(store, noun, row_id(row), info->fields[i].name, why);
    return OUTCOME_OK;
}

/* Rows of a prepared SELECT, at most `most`, into `rows`. */
static enum outcome read_rows(struct store *store, sqlite3_stmt *statement, enum noun noun, void *rows, size_t most, size_t *n,
                              struct arena *arena, struct failure *why)
{
    const struct noun_info *info = &noun_infos[noun];
    struct value_memo *memos = memory_get(info->n_fields, sizeof *memos);
    void *blank = memory_get(1, info->size);
    noun_init(noun, blank);
    enum outcome outcome = OUTCOME_OK;
    bool more = true;
    for (size_t i = 0; i < info->n_fields; i++)
        memos[i].date = DATE_UNKNOWN;
    *n = 0;
    while (outcome == OUTCOME_OK && *n < most && (outcome = sql_next(store, statement, &more, why)) == OUTCOME_OK && more) {
        void *row = (char *)rows + *n * info->size;
        memcpy(row, blank, info->size);
        outcome = load_row(store, statement, noun, memos, row, arena, why);
        ++*n;
    }
    free(blank);
    free(memos);
    return outcome;
}

/* A read transaction, so that counting and reading see the same rows; within a step there is one already. */
static enum outcome look_begin(struct store *store, bool *mine, struct failure *why)
{
    *mine = sqlite3_get_autocommit(store->db) != 0;
    return *mine ? sql_run(store, why, "BEGIN") : OUTCOME_OK;
}

static void look_end(struct store *store, bool mine)
{
    if (mine)
        sqlite3_exec(store->db, "ROLLBACK", NULL, NULL, NULL);
}

enum outcome store_count(struct store *store, enum noun noun, const struct store_where *where, size_t n_where, int64_t *n,
                         struct failure *why)
{
    struct text sql = {0};
    sqlite3_stmt *statement = NULL;
    bool row = false;
    int64_t count = 0;
    text_print(&sql, "SELECT count(*) FROM \"%s\"", noun_infos[noun].name);
    enum outcome outcome = add_where(store, noun, where, n_where, &sql, why);
    if (outcome == OUTCOME_OK && store->table_there[noun]) {
        outcome = sql_prepare(store, &statement, why, "%s", text_get(&sql));
        if (outcome == OUTCOME_OK)
            outcome = bind_where(statement, noun, where, n_where, why);
        if (outcome == OUTCOME_OK)
            outcome = sql_next(store, statement, &row, why);
        count = row ? sqlite3_column_int64(statement, 0) : 0;
        sqlite3_finalize(statement);
    }
    text_free(&sql);
    if (outcome == OUTCOME_OK)
        *n = count;
    return outcome;
}

static enum outcome load_counted(struct store *store, enum noun noun, const struct store_where *where, size_t n_where, bool with_bytes,
                                 size_t count, struct arena *arena, void **rows, size_t *n, struct failure *why)
{
    struct text sql = {0};
    sqlite3_stmt *statement = NULL;
    void *found = arena_array(arena, count, noun_infos[noun].size);
    size_t n_found = 0;
    text_add(&sql, "SELECT ");
    load_columns(store, noun, with_bytes, &sql);
    text_print(&sql, " FROM \"%s\"", noun_infos[noun].name);
    enum outcome outcome = add_where(store, noun, where, n_where, &sql, why);
    text_add(&sql, " ORDER BY fid");
    if (outcome == OUTCOME_OK)
        outcome = sql_prepare(store, &statement, why, "%s", text_get(&sql));
    if (outcome == OUTCOME_OK)
        outcome = bind_where(statement, noun, where, n_where, why);
    if (outcome == OUTCOME_OK)
        outcome = read_rows(store, statement, noun, found, count, &n_found, arena, why);
    sqlite3_finalize(statement);
    text_free(&sql);
    if (outcome == OUTCOME_OK) {
        *rows = found;
        *n = n_found;
    }
    return outcome;
}

enum outcome store_load(struct store *store, enum noun noun, const struct store_where *where, size_t n_where, bool with_bytes,
                        struct arena *arena, void **rows, size_t *n, struct failure *why)
{
    int64_t count = 0;
    bool mine = false;
    enum outcome outcome = look_begin(store, &mine, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    outcome = store_count(store, noun, where, n_where, &count, why);
    if (outcome == OUTCOME_OK && count == 0) {
        *rows = arena_array(arena, 1, noun_infos[noun].size);
        *n = 0;
    } else if (outcome == OUTCOME_OK) {
        outcome = load_counted(store, noun, where, n_where, with_bytes, (size_t)count, arena, rows, n, why);
    }
    look_end(store, mine);
    return outcome;
}

enum outcome load_one(struct store *store, enum noun noun, int64_t id, bool deleted_too, struct arena *arena, void *row,
                      struct failure *why)
{
    struct text sql = {0};
    sqlite3_stmt *statement = NULL;
    size_t n = 0, size = noun_infos[noun].size;
    void *found = memory_get(1, size);
    enum outcome outcome = OUTCOME_OK;
    text_add(&sql, "SELECT ");
    load_columns(store, noun, true, &sql);
    text_print(&sql, " FROM \"%s\" WHERE fid = %lld%s", noun_infos[noun].name, (long long)id, deleted_too ? "" : " AND deleted_at IS NULL");
    if (store->table_there[noun]) {
        outcome = sql_prepare(store, &statement, why, "%s", text_get(&sql));
        if (outcome == OUTCOME_OK)
            outcome = read_rows(store, statement, noun, found, 1, &n, arena, why);
        sqlite3_finalize(statement);
    }
    text_free(&sql);
    if (outcome == OUTCOME_OK && n == 0) {
        outcome = fail(why, OUTCOME_DATA, "There is no %s %lld in the programme.", noun_infos[noun].name, (long long)id);
        failure_remedy(why, "It may have been deleted: the history of the row tells.");
    }
    if (outcome == OUTCOME_OK)
        memcpy(row, found, size);
    free(found);
    return outcome;
}

enum outcome store_get(struct store *store, enum noun noun, int64_t id, struct arena *arena, void *row, struct failure *why)
{
    return load_one(store, noun, id, false, arena, row, why);
}

void row_label(struct store *store, enum noun noun, int64_t id, char *out, size_t n)
{
    static const char *const names[] = {"code", "tag", "name", "label"};
    struct arena arena = {0};
    void *row = memory_get(1, noun_infos[noun].size);
    const char *label = NULL;
    if (load_one(store, noun, id, true, &arena, row, NULL) == OUTCOME_OK)
        for (size_t i = 0; i < sizeof names / sizeof *names && label == NULL; i++) {
            const struct field *field = noun_field(noun, names[i]);
            label = field == NULL ? NULL : field_write(field, row, &arena);
        }
    if (label != NULL)
        sqlite3_snprintf((int)n, out, "%s %.60s", noun_infos[noun].name, label);
    else
        sqlite3_snprintf((int)n, out, "%s %lld", noun_infos[noun].name, (long long)id);
    arena_clear(&arena);
    free(row);
}
