/* SPDX-License-Identifier: GPL-3.0-or-later
 * Bringing an older file forward: a copy beside it first, then all changes of layout as one transaction. */
#include "store/inside.h"
#include <stdio.h>
#include <string.h>
#include <unistd.h>

/* 0 → 1: additions were logged row by row; now a run of ids takes one line. */
static const char *const to_1 = "ALTER TABLE spinney_change ADD COLUMN last_row_id INTEGER;"
                                "DROP INDEX IF EXISTS spinney_change_noun;"
                                "CREATE INDEX spinney_change_added ON spinney_change(noun, row_id) WHERE kind = 'added';"
                                "CREATE INDEX spinney_change_row ON spinney_change(noun, row_id) WHERE kind <> 'added';";

/* Entry i brings version i to i + 1. To change the layout: raise STORE_VERSION, add the SQL here and a test that makes the
 * old layout. New nouns and fields need nothing: they are added wherever they lack. */
static const char *const steps_forward[STORE_VERSION] = {to_1};

static enum outcome copy_beside(struct store *store, int version, struct failure *why)
{
    char path[4096];
    for (int i = 1; i < 1000; i++) {
        int n = i == 1 ? snprintf(path, sizeof path, "%s.before-layout-%d.gpkg", store->path, version + 1)
                       : snprintf(path, sizeof path, "%s.before-layout-%d-%d.gpkg", store->path, version + 1, i);
        if (n < 0 || (size_t)n >= sizeof path)
            break;
        if (access(path, F_OK) != 0)
            return store_backup(store, path, why);
    }
    return fail(why, OUTCOME_SYSTEM, "No copy of %s could be written beside it, so it was left as it is.", store->path);
}

static enum outcome add_missing(struct store *store, struct failure *why)
{
    enum outcome outcome = OUTCOME_OK;
    for (int i = 0; i < NOUN_COUNT && outcome == OUTCOME_OK; i++) {
        if (!store->table_there[i]) {
            outcome = layout_noun(store, (enum noun)i, why);
            continue;
        }
        for (size_t k = 0; k < noun_infos[i].n_fields && outcome == OUTCOME_OK; k++)
            if (!store->field_there[i][k])
                outcome = layout_field(store, (enum noun)i, &noun_infos[i].fields[k], why);
    }
    return outcome;
}

/* Within the transaction: another opener may have done it meanwhile, so the version is read again. */
static enum outcome forward(struct store *store, struct failure *why)
{
    char now[16];
    size_t missing = 0;
    int64_t version = STORE_VERSION;
    enum outcome outcome =
        sql_integer(store, &version, STORE_VERSION, why, "SELECT CAST(value AS INTEGER) FROM spinney_about WHERE key = 'store_version'");
    for (int64_t i = version; i < STORE_VERSION && outcome == OUTCOME_OK; i++)
        outcome = sql_run(store, why, "%s", steps_forward[i]);
    if (outcome == OUTCOME_OK)
        outcome = layout_learn(store, &missing, why);
    if (outcome == OUTCOME_OK)
        outcome = add_missing(store, why);
    sqlite3_snprintf(sizeof now, now, "%d", STORE_VERSION);
    if (outcome == OUTCOME_OK)
        outcome = layout_about_set(store, "store_version", now, why);
    return outcome == OUTCOME_OK ? layout_learn(store, &missing, why) : outcome;
}

enum outcome migrate(struct store *store, int version, size_t missing, struct failure *why)
{
    if (version == STORE_VERSION && (missing == 0 || store->mode == STORE_READ))
        return OUTCOME_OK; /* what an older file lacks is read as unknown */
    if (sqlite3_db_readonly(store->db, "main") == 1) {
        fail(why, OUTCOME_SYSTEM,
             "This programme file has an older layout, and it cannot be brought forward where it is: it may not be written.");
        failure_at(why, store->path, 0, NULL);
        return failure_remedy(why, "Copy it to where you may write and open it there.");
    }
    enum outcome outcome = copy_beside(store, version, why);
    if (outcome == OUTCOME_OK)
        outcome = sql_run(store, why, "BEGIN IMMEDIATE");
    if (outcome != OUTCOME_OK)
        return outcome;
    outcome = forward(store, why);
    if (outcome == OUTCOME_OK)
        outcome = sql_run(store, why, "COMMIT");
    if (outcome != OUTCOME_OK && !sqlite3_get_autocommit(store->db))
        sqlite3_exec(store->db, "ROLLBACK", NULL, NULL, NULL);
    store->wrote = true;
    return outcome;
}
