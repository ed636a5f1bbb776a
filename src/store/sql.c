/* SPDX-License-Identifier: GPL-3.0-or-later
 * Connections, statements, and the errors of SQLite put into words. */
#include "store/inside.h"
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

enum outcome sql_words(sqlite3 *db, int code, const char *path, struct failure *why)
{
    const char *detail = db == NULL ? sqlite3_errstr(code) : sqlite3_errmsg(db);
    enum outcome outcome = OUTCOME_SYSTEM;
    switch (code & 0xff) {
    case SQLITE_FULL:
        fail(why, OUTCOME_SYSTEM, "There is no room left on the disk. Nothing of this step was saved; all earlier steps are.");
        failure_remedy(why, "Make room, then do it again.");
        break;
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        fail(why, OUTCOME_SYSTEM, "Another program is writing to this programme file just now.");
        failure_remedy(why, "Wait until it has finished, then do it again. Looking at the file goes on meanwhile.");
        break;
    case SQLITE_READONLY:
    case SQLITE_PERM:
    case SQLITE_AUTH:
        fail(why, OUTCOME_SYSTEM, "The programme file cannot be written here (%s).", detail);
        failure_remedy(why, "Check who may write to the file and its folder, or copy it to where you may write.");
        break;
    case SQLITE_CANTOPEN:
        fail(why, OUTCOME_SYSTEM, "The programme file cannot be opened (%s).", detail);
        failure_remedy(why, "Check that the folder is there and may be read and written.");
        break;
    case SQLITE_CORRUPT:
    case SQLITE_NOTADB:
    case SQLITE_FORMAT:
        outcome = fail(why, OUTCOME_DATA, "The programme file is damaged (%s).", detail);
        failure_remedy(why, "Keep it as it is, and go on with the newest copy; or make a new file of what can still be read: spinney rescue FILE NEW.");
        break;
    case SQLITE_NOMEM:
        give_up("out of memory", __FILE__, __LINE__);
    case SQLITE_CONSTRAINT:
        outcome = fail(why, OUTCOME_DATA, "The programme file does not take this (%s).", detail);
        break;
    case SQLITE_IOERR:
        fail(why, OUTCOME_SYSTEM,
             "The disk failed while the programme file was read or written (%s). All steps committed before are there.", detail);
        failure_remedy(why, "Check the disk or stick, copy the file to another, then do it again.");
        break;
    default:
        fail(why, OUTCOME_SYSTEM, "The programme file could not be used (%s).", detail);
        break;
    }
    failure_at(why, path, 0, NULL);
    return outcome;
}

enum outcome sql_fail(struct store *store, struct failure *why)
{
    int code = sqlite3_extended_errcode(store->db);
    enum outcome outcome = sql_words(store->db, code, store->path, why);
    if (store->in_step && (outcome == OUTCOME_SYSTEM || (code & 0xff) == SQLITE_CORRUPT || sqlite3_get_autocommit(store->db)))
        store->lost = true;
    return outcome;
}

enum outcome sql_connect(const char *path, int flags, sqlite3 **db, struct failure *why)
{
    static const char *const settings = "PRAGMA cell_size_check=ON; PRAGMA mmap_size=0;"
                                        "PRAGMA temp_store=MEMORY; PRAGMA cache_size=-65536; PRAGMA foreign_keys=ON;";
    sqlite3 *opened = NULL;
    int code = sqlite3_open_v2(path, &opened, flags, NULL);
    if (opened == NULL)
        give_up("out of memory", __FILE__, __LINE__);
    sqlite3_extended_result_codes(opened, 1);
    sqlite3_busy_timeout(opened, PATIENCE_MS);
    sqlite3_db_config(opened, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
    sqlite3_db_config(opened, SQLITE_DBCONFIG_ENABLE_LOAD_EXTENSION, 0, NULL);
    if (code == SQLITE_OK) {
        blob_register(opened);
        code = sqlite3_exec(opened, settings, NULL, NULL, NULL);
    }
    if (code != SQLITE_OK) {
        enum outcome outcome = sql_words(opened, sqlite3_extended_errcode(opened), path, why);
        sqlite3_close_v2(opened);
        return outcome;
    }
    *db = opened;
    return OUTCOME_OK;
}

static char *sql_print(const char *format, va_list list)
{
    char *sql = sqlite3_vmprintf(format, list);
    if (sql == NULL)
        give_up("out of memory", __FILE__, __LINE__);
    return sql;
}

enum outcome sql_run(struct store *store, struct failure *why, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    char *sql = sql_print(format, list);
    va_end(list);
    int code = sqlite3_exec(store->db, sql, NULL, NULL, NULL);
    sqlite3_free(sql);
    return code == SQLITE_OK ? OUTCOME_OK : sql_fail(store, why);
}

enum outcome sql_prepare(struct store *store, sqlite3_stmt **out, struct failure *why, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    char *sql = sql_print(format, list);
    va_end(list);
    int code = sqlite3_prepare_v2(store->db, sql, -1, out, NULL);
    sqlite3_free(sql);
    return code == SQLITE_OK ? OUTCOME_OK : sql_fail(store, why);
}

enum outcome sql_integer(struct store *store, int64_t *out, int64_t otherwise, struct failure *why, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    char *sql = sql_print(format, list);
    va_end(list);
    sqlite3_stmt *statement = NULL;
    bool row = false;
    int code = sqlite3_prepare_v2(store->db, sql, -1, &statement, NULL);
    sqlite3_free(sql);
    enum outcome outcome = code == SQLITE_OK ? sql_next(store, statement, &row, why) : sql_fail(store, why);
    if (outcome == OUTCOME_OK)
        *out = row && sqlite3_column_type(statement, 0) != SQLITE_NULL ? sqlite3_column_int64(statement, 0) : otherwise;
    sqlite3_finalize(statement);
    return outcome;
}

enum outcome sql_next(struct store *store, sqlite3_stmt *statement, bool *row, struct failure *why)
{
    int code = sqlite3_step(statement);
    *row = code == SQLITE_ROW;
    return code == SQLITE_ROW || code == SQLITE_DONE ? OUTCOME_OK : sql_fail(store, why);
}

enum outcome sql_done(struct store *store, sqlite3_stmt *statement, struct failure *why)
{
    int code = SQLITE_ROW;
    while (code == SQLITE_ROW)
        code = sqlite3_step(statement);
    enum outcome outcome = code == SQLITE_DONE ? OUTCOME_OK : sql_fail(store, why);
    sqlite3_reset(statement);
    return outcome;
}

void sql_moment(sqlite3 *db, char out[MOMENT_ROOM])
{
    const char *still = getenv("SOURCE_DATE_EPOCH");
    sqlite3_stmt *statement = NULL;
    sqlite3_prepare_v2(db,
                       "SELECT strftime('%Y-%m-%dT%H:%M:%fZ', coalesce(?1, julianday('now')), CASE WHEN ?1 IS NULL THEN '+0 seconds' ELSE "
                       "'unixepoch' END)",
                       -1, &statement, NULL);
    int64_t second = 0;
    if (still != NULL && integer_read(still, &second))
        sqlite3_bind_int64(statement, 1, second);
    if (sqlite3_step(statement) == SQLITE_ROW && sqlite3_column_text(statement, 0) != NULL)
        sqlite3_snprintf(MOMENT_ROOM, out, "%s", sqlite3_column_text(statement, 0));
    else
        sqlite3_snprintf(MOMENT_ROOM, out, "1970-01-01T00:00:00.000Z");
    sqlite3_finalize(statement);
}

const char *sql_text(sqlite3_stmt *statement, int column, struct arena *arena)
{
    const char *text = (const char *)sqlite3_column_text(statement, column);
    return text == NULL ? NULL : arena_text_n(arena, text, (size_t)sqlite3_column_bytes(statement, column));
}
