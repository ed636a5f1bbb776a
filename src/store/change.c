/* SPDX-License-Identifier: GPL-3.0-or-later
 * Changing and deleting rows, and the log that keeps the values from before. */
#include "store/inside.h"
#include <stdlib.h>
#include <string.h>

enum outcome log_change(struct store *store, enum noun noun, int64_t id, const char *kind, const char *before, const char *after,
                        struct failure *why)
{
    store->touched[noun] = true;
    store->run.change = 0;
    store->changes++;
    return sql_run(store, why,
                   "INSERT INTO spinney_change(step_id, noun, row_id, kind, old_values, new_values) VALUES (%lld, %Q, %lld, %Q, %Q, %Q)",
                   (long long)store->step, noun_infos[noun].name, (long long)id, kind, before, after);
}

/* Logged values stand so that they read back to the same bytes: JSON fields as text, shapes as hexadecimal WKB. */
static void log_value(json_t *log, const struct field *field, const void *row, const json_t *all)
{
    const char *raw = field->kind == FIELD_JSON ? *(const char *const *)field_at(field, row) : NULL;
    if (field->kind == FIELD_JSON)
        json_object_set_new(log, field->name, raw == NULL ? json_null() : json_string(raw));
    else
        json_object_set(log, field->name, json_object_get(all, field->name));
}

static void log_place(json_t *log, const struct noun_info *info, const void *row, const json_t *all)
{
    static const char digits[] = "0123456789abcdef";
    if (info->geometry == GEOMETRY_POINT) {
        json_object_set(log, "x_m", json_object_get(all, "x_m"));
        json_object_set(log, "y_m", json_object_get(all, "y_m"));
        return;
    }
    const struct bytes *wkb = (const struct bytes *)((const char *)row + info->geometry_offset);
    char *hex = memory_get(wkb->n * 2 + 1, 1);
    for (size_t i = 0; i < wkb->n; i++) {
        hex[2 * i] = digits[wkb->at[i] >> 4];
        hex[2 * i + 1] = digits[wkb->at[i] & 15];
    }
    json_object_set_new(log, "geometry", wkb->n == 0 ? json_null() : json_pack("{s:s}", "wkb", hex));
    free(hex);
}

enum outcome change_apply(enum noun noun, const char *logged, void *row, struct arena *arena, struct failure *why)
{
    json_t *json = json_loads(logged == NULL ? "" : logged, 0, NULL);
    if (json == NULL)
        return fail(why, OUTCOME_DATA, "The change log holds something that is not JSON.");
    for (size_t i = 0; i < noun_infos[noun].n_fields; i++) {
        const struct field *field = &noun_infos[noun].fields[i];
        const json_t *value = field->kind == FIELD_JSON ? json_object_get(json, field->name) : NULL;
        if (value != NULL) {
            *(const char **)field_at(field, row) = arena_text(arena, json_string_value(value));
            json_object_del(json, field->name);
        }
    }
    enum outcome outcome = row_from_json(noun, json, true, row, arena, why);
    json_decref(json);
    return outcome;
}

static bool differs(struct store *store, enum noun noun, size_t i, const void *old, const void *new)
{
    const struct field *field = &noun_infos[noun].fields[i];
    if (!store->field_there[noun][i])
        return false;
    if (field->kind == FIELD_BYTES && !store->whole_rows && field_unknown(field, new)) /* may simply not have been loaded */
        return false;
    return !value_same(field, old, new);
}

static enum outcome write_change(struct store *store, enum noun noun, const void *old, const void *new, struct failure *why)
{
    const struct noun_info *info = &noun_infos[noun];
    bool moved = !blob_same(info, old, new);
    unsigned char *blob = NULL;
    size_t n = 0;
    struct extent extent = {0};
    struct text sql = {0};
    sqlite3_stmt *statement = NULL;
    int parameter = 1;
    enum outcome outcome = moved ? blob_make(info, new, store->srs, &blob, &n, &extent, why) : OUTCOME_OK;
    text_print(&sql, "UPDATE \"%s\" SET changed_at = ?1, author = ?2", info->name);
    if (moved)
        text_add(&sql, ", geom = ?");
    for (size_t i = 0; i < info->n_fields; i++)
        if (differs(store, noun, i, old, new))
            text_print(&sql, ", \"%s\" = ?", info->fields[i].name);
    text_print(&sql, " WHERE fid = %lld", (long long)row_id(old));
    if (outcome == OUTCOME_OK)
        outcome = sql_prepare(store, &statement, why, "%s", text_get(&sql));
    if (outcome == OUTCOME_OK) {
        sqlite3_bind_text(statement, parameter++, store->moment, -1, SQLITE_STATIC);
        sqlite3_bind_text(statement, parameter++, store->author, -1, SQLITE_STATIC);
        if (moved)
            sqlite3_bind_blob64(statement, parameter++, blob, n, SQLITE_STATIC);
        for (size_t i = 0; i < info->n_fields; i++)
            if (differs(store, noun, i, old, new))
                value_bind(statement, parameter++, &info->fields[i], new);
        outcome = sql_done(store, statement, why);
    }
    sqlite3_finalize(statement);
    text_free(&sql);
    free(blob);
    extent_add(&store->grown[noun], &extent);
    return outcome;
}

static enum outcome log_difference(struct store *store, enum noun noun, const void *old, const void *new, struct failure *why)
{
    const struct noun_info *info = &noun_infos[noun];
    json_t *all_old = row_json(noun, old), *all_new = row_json(noun, new), *before = json_object(), *after = json_object();
    if (!blob_same(info, old, new)) {
        log_place(before, info, old, all_old);
        log_place(after, info, new, all_new);
    }
    for (size_t i = 0; i < info->n_fields; i++)
        if (differs(store, noun, i, old, new)) {
            log_value(before, &info->fields[i], old, all_old);
            log_value(after, &info->fields[i], new, all_new);
        }
    char *was = json_dumps(before, JSON_COMPACT), *is = json_dumps(after, JSON_COMPACT);
    enum outcome outcome = log_change(store, noun, row_id(old), "changed", was, is, why);
    free(was);
    free(is);
    json_decref(all_old);
    json_decref(all_new);
    json_decref(before);
    json_decref(after);
    return outcome;
}

enum outcome change_to(struct store *store, enum noun noun, const void *old, const void *new, struct failure *why)
{
    bool any = !blob_same(&noun_infos[noun], old, new);
    for (size_t i = 0; i < noun_infos[noun].n_fields; i++)
        any = any || differs(store, noun, i, old, new);
    if (!any)
        return OUTCOME_OK;
    if (noun == NOUN_PROGRAMME && ((const struct programme *)old)->crs != ((const struct programme *)new)->crs) {
        fail(why, OUTCOME_USAGE, "The reference system of a programme cannot be changed: everything in it is measured in the old one.");
        return failure_remedy(why, "Make a new programme in the other system and bring the sites in there.");
    }
    enum outcome outcome = write_change(store, noun, old, new, why);
    return outcome == OUTCOME_OK ? log_difference(store, noun, old, new, why) : outcome;
}

/* References of a row that were set anew must lead to rows that are there and not deleted. */
static enum outcome references_there(struct store *store, enum noun noun, const void *old, const void *new, struct failure *why)
{
    for (size_t i = 0; i < noun_infos[noun].n_fields; i++) {
        const struct field *field = &noun_infos[noun].fields[i];
        int64_t id = field->kind == FIELD_REF ? *(const int64_t *)field_at(field, new) : 0, there = 0;
        if (id == 0 || value_same(field, old, new))
            continue;
        const char *target = noun_infos[field->target].name;
        enum outcome outcome =
            sql_integer(store, &there, 0, why, "SELECT 1 FROM \"%w\" WHERE fid = %lld AND deleted_at IS NULL", target, (long long)id);
        if (outcome == OUTCOME_OK && there == 0) {
            outcome = fail(why, OUTCOME_DATA, "%s is %lld, but there is no such %s.", field->name, (long long)id, target);
            failure_at(why, NULL, 0, field->name);
        }
        if (outcome != OUTCOME_OK)
            return outcome;
    }
    return OUTCOME_OK;
}

/* As one: what a change writes, in its table and in the log, or nothing. */
static enum outcome settle(struct store *store, enum outcome outcome, struct failure *why)
{
    if (outcome == OUTCOME_OK)
        return sql_run(store, why, "RELEASE changing");
    if (!sqlite3_get_autocommit(store->db))
        sqlite3_exec(store->db, "ROLLBACK TO changing; RELEASE changing", NULL, NULL, NULL);
    return outcome;
}

enum outcome store_change(struct store *store, enum noun noun, const void *row, struct failure *why)
{
    struct arena arena = {0};
    void *old = memory_get(1, noun_infos[noun].size);
    enum outcome outcome = step_needed(store, why);
    if (outcome == OUTCOME_OK)
        outcome = value_check(noun, row, why);
    if (outcome == OUTCOME_OK)
        outcome = load_one(store, noun, row_id(row), false, &arena, old, why);
    if (outcome == OUTCOME_OK)
        outcome = references_there(store, noun, old, row, why);
    if (outcome == OUTCOME_OK && (outcome = sql_run(store, why, "SAVEPOINT changing")) == OUTCOME_OK)
        outcome = settle(store, change_to(store, noun, old, row, why), why);
    free(old);
    arena_clear(&arena);
    return outcome;
}

enum outcome mark_deleted(struct store *store, enum noun noun, int64_t id, bool deleted, struct failure *why)
{
    enum outcome outcome = sql_run(store, why, "UPDATE \"%w\" SET deleted_at = %Q, changed_at = %Q, author = %Q WHERE fid = %lld",
                                   noun_infos[noun].name, deleted ? store->moment : NULL, store->moment, store->author, (long long)id);
    return outcome == OUTCOME_OK ? log_change(store, noun, id, deleted ? "deleted" : "restored", NULL, NULL, why) : outcome;
}

/* "3 rows of plot (plot D1, plot C1 …)" for every noun that refers to the row. */
static enum outcome who_refers(struct store *store, enum noun noun, int64_t id, struct text *list, struct failure *why)
{
    for (int other = 0; other < NOUN_COUNT; other++)
        for (size_t i = 0; i < noun_infos[other].n_fields; i++) {
            const struct field *field = &noun_infos[other].fields[i];
            int64_t n = 0, first = 0;
            if (field->kind != FIELD_REF || field->target != (int)noun || !store->field_there[other][i])
                continue;
            const char *table = noun_infos[other].name;
            enum outcome outcome = sql_integer(store, &n, 0, why, "SELECT count(*) FROM \"%w\" WHERE \"%w\" = %lld AND deleted_at IS NULL",
                                               table, field->name, (long long)id);
            if (outcome == OUTCOME_OK && n > 0)
                outcome = sql_integer(store, &first, 0, why, "SELECT min(fid) FROM \"%w\" WHERE \"%w\" = %lld AND deleted_at IS NULL",
                                      table, field->name, (long long)id);
            if (outcome != OUTCOME_OK)
                return outcome;
            char label[120];
            if (n > 0) {
                row_label(store, (enum noun)other, first, label, sizeof label);
                text_print(list, n == 1 ? "%s%s" : "%s%s and %lld more", list->n > 0 ? ", " : "", label, (long long)n - 1);
            }
        }
    return OUTCOME_OK;
}

enum outcome store_delete(struct store *store, enum noun noun, int64_t id, struct failure *why)
{
    struct arena arena = {0};
    struct text list = {0};
    char label[120];
    void *row = memory_get(1, noun_infos[noun].size);
    enum outcome outcome = step_needed(store, why);
    if (outcome == OUTCOME_OK && noun == NOUN_PROGRAMME)
        outcome = fail(why, OUTCOME_USAGE, "The programme itself cannot be deleted from its file.");
    if (outcome == OUTCOME_OK)
        outcome = load_one(store, noun, id, false, &arena, row, why);
    if (outcome == OUTCOME_OK)
        outcome = who_refers(store, noun, id, &list, why);
    if (outcome == OUTCOME_OK && list.n > 0) {
        row_label(store, noun, id, label, sizeof label);
        outcome = fail(why, OUTCOME_DATA, "%s cannot be deleted while these refer to it: %.700s.", label, text_get(&list));
        failure_remedy(why, "Delete those first, or let them refer to another.");
    }
    if (outcome == OUTCOME_OK && (outcome = sql_run(store, why, "SAVEPOINT changing")) == OUTCOME_OK)
        outcome = settle(store, mark_deleted(store, noun, id, true, why), why);
    text_free(&list);
    arena_clear(&arena);
    free(row);
    return outcome;
}
