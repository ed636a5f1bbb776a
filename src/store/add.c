/* SPDX-License-Identifier: GPL-3.0-or-later
 * Adding rows of any noun: checked, then all or none. 2 million rows in one call are foreseen. */
#include "store/inside.h"
#include <stdlib.h>
#include <string.h>

static enum outcome prepare_add(struct store *store, enum noun noun, struct failure *why)
{
    if (store->add[noun] != NULL)
        return OUTCOME_OK;
    const struct noun_info *info = &noun_infos[noun];
    struct text sql = {0};
    text_print(&sql, "INSERT INTO \"%s\"(uuid, created_at, author", info->name);
    if (info->geometry != GEOMETRY_NONE)
        text_add(&sql, ", geom");
    for (size_t i = 0; i < info->n_fields; i++)
        text_print(&sql, ", \"%s\"", info->fields[i].name);
    text_add(&sql, ") VALUES (?, ?, ?");
    for (size_t i = 0; i < info->n_fields + (info->geometry != GEOMETRY_NONE); i++)
        text_add(&sql, ", ?");
    text_add(&sql, ")");
    enum outcome outcome = sql_prepare(store, &store->add[noun], why, "%s", text_get(&sql));
    text_free(&sql);
    return outcome;
}

/* A refused row named by what is wrong with it: a reference to nothing, or a uuid that is there already. */
static enum outcome refused(struct store *store, enum noun noun, const void *row, struct failure *why)
{
    const struct noun_info *info = &noun_infos[noun];
    int code = sqlite3_extended_errcode(store->db);
    enum outcome outcome = sql_fail(store, why);
    if (code == SQLITE_CONSTRAINT_UNIQUE) {
        outcome = fail(why, OUTCOME_DATA, "A %s with this uuid is in the file already.", info->name);
        failure_at(why, NULL, 0, "uuid");
    }
    for (size_t i = 0; i < info->n_fields && code == SQLITE_CONSTRAINT_FOREIGNKEY; i++) {
        const struct field *field = &info->fields[i];
        int64_t there = 1, id = field->kind == FIELD_REF ? *(const int64_t *)field_at(field, row) : 0;
        if (id == 0)
            continue;
        sql_integer(store, &there, 0, NULL, "SELECT 1 FROM \"%w\" WHERE fid = %lld", noun_infos[field->target].name, (long long)id);
        if (there == 0) {
            outcome =
                fail(why, OUTCOME_DATA, "%s is %lld, but there is no such %s.", field->name, (long long)id, noun_infos[field->target].name);
            failure_at(why, NULL, 0, field->name);
            break;
        }
    }
    return outcome;
}

static enum outcome add_one(struct store *store, enum noun noun, const void *row, const struct uuid *uuid, struct failure *why)
{
    const struct noun_info *info = &noun_infos[noun];
    sqlite3_stmt *statement = store->add[noun];
    unsigned char *blob = NULL;
    size_t n = 0;
    struct extent extent = {0};
    char name[37];
    int parameter = 4;
    if (info->geometry != GEOMETRY_NONE) {
        enum outcome outcome = blob_make(info, row, store->srs, &blob, &n, &extent, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        sqlite3_bind_blob64(statement, parameter++, blob, n, SQLITE_STATIC);
    }
    uuid_write(uuid, name);
    sqlite3_bind_text(statement, 1, name, 36, SQLITE_STATIC);
    sqlite3_bind_text(statement, 2, store->moment, -1, SQLITE_STATIC);
    sqlite3_bind_text(statement, 3, store->author, -1, SQLITE_STATIC);
    for (size_t i = 0; i < info->n_fields; i++)
        value_bind(statement, parameter + (int)i, &info->fields[i], row);
    int code = sqlite3_step(statement);
    sqlite3_reset(statement);
    free(blob);
    if (code != SQLITE_DONE)
        return refused(store, noun, row, why);
    extent_add(&store->grown[noun], &extent);
    return OUTCOME_OK;
}

static enum outcome log_added(struct store *store, enum noun noun, int64_t first, int64_t last, struct failure *why)
{
    enum outcome outcome = OUTCOME_OK;
    if (store->run.change != 0 && store->run.noun == noun && store->run.last_row + 1 == first) {
        outcome = sql_run(store, why, "UPDATE spinney_change SET last_row_id = %lld WHERE id = %lld", (long long)last,
                          (long long)store->run.change);
    } else {
        outcome = sql_run(store, why,
                          "INSERT INTO spinney_change(step_id, noun, row_id, last_row_id, kind) VALUES (%lld, %Q, %lld, %lld, 'added')",
                          (long long)store->step, noun_infos[noun].name, (long long)first, (long long)last);
        store->run.change = sqlite3_last_insert_rowid(store->db);
        store->run.noun = noun;
    }
    store->run.last_row = last;
    return outcome;
}

enum outcome references_live(struct store *store, enum noun noun, int64_t first, int64_t last, struct failure *why)
{
    const struct noun_info *info = &noun_infos[noun];
    for (size_t i = 0; i < info->n_fields; i++) {
        const struct field *field = &info->fields[i];
        if (field->kind != FIELD_REF)
            continue;
        const char *target = noun_infos[field->target].name;
        int64_t dead = 0;
        enum outcome outcome =
            sql_integer(store, &dead, 0, why,
                        "SELECT t.fid FROM \"%w\" t CROSS JOIN \"%w\" c ON c.\"%w\" = t.fid AND c.fid BETWEEN %lld AND %lld"
                        " AND c.deleted_at IS NULL WHERE t.deleted_at IS NOT NULL LIMIT 1",
                        target, info->name, field->name, (long long)first, (long long)last);
        if (outcome != OUTCOME_OK)
            return outcome;
        if (dead != 0) {
            char label[120];
            row_label(store, (enum noun)field->target, dead, label, sizeof label);
            fail(why, OUTCOME_DATA, "%s refers to %s, which has been deleted.", field->name, label);
            failure_at(why, NULL, 0, field->name);
            return OUTCOME_DATA;
        }
    }
    return OUTCOME_OK;
}

static enum outcome check_all(enum noun noun, const char *rows, size_t n, struct failure *why)
{
    for (size_t i = 0; i < n; i++) {
        enum outcome outcome = value_check(noun, rows + i * noun_infos[noun].size, why);
        if (outcome != OUTCOME_OK) {
            failure_at(why, NULL, (long)i + 1, NULL);
            return outcome;
        }
    }
    return OUTCOME_OK;
}

/* SPINNEY_UUID_SEED names the rows of a demonstration so that it can be made again byte by byte. Never for work that is to be
 * merged: two files of one seed give their different rows the same names. False where it is not set. */
static bool uuids_by_seed(struct store *store, enum noun noun, int64_t *seed, int64_t *last, struct failure *why)
{
    const char *text = getenv("SPINNEY_UUID_SEED");
    return text != NULL && integer_read(text, seed) &&
           sql_integer(store, last, 0, why, "SELECT coalesce((SELECT seq FROM sqlite_sequence WHERE name = %Q), 0)",
                       noun_infos[noun].name) == OUTCOME_OK;
}

static enum outcome add_all(struct store *store, enum noun noun, char *rows, size_t n, struct uuid *uuids, struct failure *why)
{
    size_t size = noun_infos[noun].size;
    int64_t first = 0, seed = 0, last_id = 0;
    bool seeded = uuids_by_seed(store, noun, &seed, &last_id, why);
    enum outcome outcome = OUTCOME_OK;
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++) {
        const struct uuid *own = row_uuid(rows + i * size);
        uuids[i] = !uuid_unset(own) ? *own
                   : seeded         ? uuid_from((uint64_t)seed, ((uint64_t)noun << 40) + (uint64_t)last_id + i + 1)
                                    : uuid_fresh();
        outcome = add_one(store, noun, rows + i * size, &uuids[i], why);
        if (outcome != OUTCOME_OK)
            failure_at(why, NULL, (long)i + 1, NULL);
        else if (i == 0)
            first = sqlite3_last_insert_rowid(store->db);
    }
    int64_t last = first + (int64_t)n - 1;
    if (outcome == OUTCOME_OK)
        outcome = references_live(store, noun, first, last, why);
    if (outcome == OUTCOME_OK)
        outcome = log_added(store, noun, first, last, why);
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++) {
        *(int64_t *)(void *)(rows + i * size) = first + (int64_t)i;
        *row_uuid(rows + i * size) = uuids[i];
    }
    return outcome;
}

enum outcome store_add(struct store *store, enum noun noun, void *rows, size_t n, struct failure *why)
{
    int64_t programmes = 0;
    enum outcome outcome = step_needed(store, why);
    if (outcome != OUTCOME_OK || n == 0)
        return outcome;
    if (noun == NOUN_PROGRAMME)
        outcome = sql_integer(store, &programmes, 0, why, "SELECT count(*) FROM programme");
    if (programmes + (int64_t)n > 1 && noun == NOUN_PROGRAMME)
        return fail(why, OUTCOME_USAGE, "A file holds one programme and no more.");
    if (outcome == OUTCOME_OK)
        outcome = check_all(noun, rows, n, why);
    if (outcome == OUTCOME_OK)
        outcome = prepare_add(store, noun, why);
    if (outcome == OUTCOME_OK)
        outcome = sql_run(store, why, "SAVEPOINT adding");
    if (outcome != OUTCOME_OK)
        return outcome;
    struct extent before = store->grown[noun];
    struct uuid *uuids = memory_get(n, sizeof *uuids);
    outcome = add_all(store, noun, rows, n, uuids, why);
    free(uuids);
    if (outcome != OUTCOME_OK) {
        if (!sqlite3_get_autocommit(store->db))
            sqlite3_exec(store->db, "ROLLBACK TO adding; RELEASE adding", NULL, NULL, NULL);
        store->grown[noun] = before;
        store->run.change = 0;
        return outcome;
    }
    outcome = sql_run(store, why, "RELEASE adding");
    store->touched[noun] = true;
    store->changes += (int64_t)n;
    return outcome;
}
