/* SPDX-License-Identifier: GPL-3.0-or-later
 * A Data Package read back into rows: the tables as package.c writes them, keys resolved from UUIDs. */
#include "exchange/inside.h"
#include <jansson.h>
#include <string.h>

static const struct exchange_file *file_at(const struct exchange_file *files, size_t n, const char *path)
{
    for (size_t i = 0; i < n; i++)
        if (strcmp(files[i].path, path) == 0)
            return &files[i];
    return NULL;
}

struct keyed {
    struct uuid uuid;
    int64_t id;
};

static int by_uuid(const void *a, const void *b)
{
    return memcmp(&((const struct keyed *)a)->uuid, &((const struct keyed *)b)->uuid, sizeof(struct uuid));
}

static int64_t key_find(const struct keyed *keys, size_t n, const char *text)
{
    struct keyed want = {0};
    if (!uuid_read(text, &want.uuid))
        return 0;
    const struct keyed *found = n == 0 ? NULL : bsearch(&want, keys, n, sizeof *keys, by_uuid);
    return found == NULL ? 0 : found->id;
}

static enum outcome keys_read(const struct csv_table *table, struct arena *arena, struct keyed **out, struct failure *why)
{
    size_t at = csv_column(table, "id"), n = table->rows - 1;
    *out = arena_array(arena, n + 1, sizeof **out);
    if (at == SIZE_MAX) {
        fail(why, OUTCOME_DATA, "The table has no column called id.");
        return failure_at(why, table->file, 1, "id");
    }
    for (size_t i = 0; i < n; i++) {
        const char *cell = csv_cell(table, i + 1, at);
        (*out)[i].id = (int64_t)i + 1;
        if (cell == NULL || !uuid_read(cell, &(*out)[i].uuid)) {
            fail(why, OUTCOME_DATA, "\"%.60s\" is no UUID.", cell == NULL ? "" : cell);
            return failure_at(why, table->file, table->lines[i + 1], "id");
        }
    }
    qsort(*out, n, sizeof **out, by_uuid);
    for (size_t i = 1; i < n; i++)
        if (by_uuid(&(*out)[i - 1], &(*out)[i]) == 0) {
            fail(why, OUTCOME_DATA, "Two rows have the same id.");
            return failure_at(why, table->file, table->lines[(*out)[i].id], "id");
        }
    return OUTCOME_OK;
}

static enum outcome shape_cell(const char *wkt, void *row, const struct noun_info *info, struct arena *arena, struct failure *why)
{
    struct shape shape;
    enum outcome outcome = shape_from_wkt(wkt, arena, &shape, why);
    if (outcome == OUTCOME_OK)
        *(struct bytes *)(void *)((char *)row + info->geometry_offset) = shape_to_wkb(&shape, arena);
    return outcome;
}

/* What a cell is put into. */
struct target {
    const struct field *field; ///< NULL: id, x_m, y_m or wkt
    enum { CELL_ID, CELL_X, CELL_Y, CELL_WKT, CELL_FIELD } what;
};

static enum outcome header_read(enum noun noun, const struct csv_table *table, struct arena *arena, struct target **out,
                                struct failure *why)
{
    const struct noun_info *info = &noun_infos[noun];
    *out = arena_array(arena, table->widths[0] + 1, sizeof **out);
    for (size_t j = 0; j < table->widths[0]; j++) {
        const char *name = table->cells[0][j];
        struct target *one = &(*out)[j];
        one->what = strcmp(name, "id") == 0                                                                           ? CELL_ID
                    : strcmp(name, "x_m") == 0 && info->geometry == GEOMETRY_POINT                                    ? CELL_X
                    : strcmp(name, "y_m") == 0 && info->geometry == GEOMETRY_POINT                                    ? CELL_Y
                    : strcmp(name, "wkt") == 0 && info->geometry != GEOMETRY_NONE && info->geometry != GEOMETRY_POINT ? CELL_WKT
                                                                                                                      : CELL_FIELD;
        one->field = one->what == CELL_FIELD ? noun_field(noun, name) : NULL;
        if (one->what == CELL_FIELD && (one->field == NULL || one->field->kind == FIELD_BYTES)) {
            fail(why, OUTCOME_DATA, "%s has no column %.60s.", info->name, name);
            failure_remedy(why, "It comes from a newer program, or was added by hand: take the column out or use that program.");
            return failure_at(why, table->file, 1, name);
        }
    }
    return OUTCOME_OK;
}

static enum outcome cell_read(const struct target *target, const struct noun_info *info, const char *cell, struct keyed *const *keys,
                              const size_t *n_keys, void *row, struct arena *arena, struct failure *why)
{
    if (target->what == CELL_ID) {
        uuid_read(cell, (struct uuid *)(void *)((char *)row + sizeof(int64_t)));
        return OUTCOME_OK;
    }
    if (target->what == CELL_WKT)
        return shape_cell(cell, row, info, arena, why);
    if (target->what == CELL_X || target->what == CELL_Y) {
        double *xy = (double *)(void *)((char *)row + info->geometry_offset);
        return number_read(cell, &xy[target->what == CELL_Y]) ? OUTCOME_OK : fail(why, OUTCOME_DATA, "\"%.60s\" is no number.", cell);
    }
    if (target->field->kind != FIELD_REF)
        return field_read(target->field, row, target->field->kind == FIELD_TEXT && *cell == '\'' ? cell + 1 : cell, arena, why);
    int64_t id = key_find(keys[target->field->target], n_keys[target->field->target], cell);
    if (id == 0)
        return fail(why, OUTCOME_DATA, "No row of %s has the id %.60s.", noun_infos[target->field->target].name, cell);
    memcpy((char *)row + target->field->offset, &id, sizeof id);
    return OUTCOME_OK;
}

static enum outcome table_read(enum noun noun, const struct csv_table *table, struct keyed *const *keys, const size_t *n_keys,
                               struct arena *arena, struct exchange_rows *out, struct failure *why)
{
    const struct noun_info *info = &noun_infos[noun];
    struct target *targets = NULL;
    size_t n = table->rows - 1;
    char *rows = arena_array(arena, n + 1, info->size);
    enum outcome outcome = header_read(noun, table, arena, &targets, why);
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++) {
        char *row = rows + i * info->size;
        noun_init(noun, row);
        *(int64_t *)(void *)row = (int64_t)i + 1;
        if (table->widths[i + 1] != table->widths[0]) {
            fail(why, OUTCOME_DATA, "The row has %zu cells, the header %zu.", table->widths[i + 1], table->widths[0]);
            return failure_at(why, table->file, table->lines[i + 1], NULL);
        }
        for (size_t j = 0; j < table->widths[0] && outcome == OUTCOME_OK; j++) {
            const char *cell = csv_cell(table, i + 1, j);
            if (cell == NULL || *cell == '\0')
                continue;
            outcome = cell_read(&targets[j], info, cell, keys, n_keys, row, arena, why);
            if (outcome != OUTCOME_OK)
                failure_at(why, table->file, table->lines[i + 1], table->cells[0][j]);
        }
        if (outcome == OUTCOME_OK) {
            outcome = noun_check(noun, row, why);
            if (outcome != OUTCOME_OK)
                failure_at(why, table->file, table->lines[i + 1], NULL);
        }
    }
    *out = (struct exchange_rows){.rows = rows, .n = n};
    return outcome;
}

/* The hash that datapackage.json gives for a table must be that of its bytes. */
static enum outcome hash_check(const json_t *package, const struct exchange_file *file, struct failure *why)
{
    size_t i;
    const json_t *resource;
    char hash[65];
    json_array_foreach(json_object_get(package, "resources"), i, resource)
    {
        const char *path = json_string_value(json_object_get(resource, "path")),
                   *given = json_string_value(json_object_get(resource, "hash"));
        if (path == NULL || given == NULL || strcmp(path, file->path) != 0 || strncmp(given, "sha256:", 7) != 0)
            continue;
        exchange_sha256(file->bytes.at, file->bytes.n, hash);
        if (strcmp(given + 7, hash) != 0) {
            fail(why, OUTCOME_DATA, "The table is not the one that was packed: its fingerprint differs from that in datapackage.json.");
            failure_remedy(why, "Use the package as it came, or take \"hash\" out of datapackage.json if the change was meant.");
            return failure_at(why, file->path, 0, NULL);
        }
    }
    return OUTCOME_OK;
}

static enum outcome package_read(const struct exchange_file *files, size_t n, json_t **out, struct failure *why)
{
    const struct exchange_file *file = file_at(files, n, "datapackage.json");
    json_error_t error;
    if (file == NULL) {
        fail(why, OUTCOME_DATA, "There is no datapackage.json: this is no data package.");
        return failure_remedy(why, "Give the folder or zip that holds datapackage.json at its top.");
    }
    *out = json_loadb((const char *)file->bytes.at, file->bytes.n, JSON_REJECT_DUPLICATES, &error);
    if (*out == NULL) {
        fail(why, OUTCOME_DATA, "It is not JSON: %s.", error.text);
        return failure_at(why, "datapackage.json", error.line, NULL);
    }
    return OUTCOME_OK;
}

enum outcome exchange_read(const struct exchange_file *files, size_t n, struct arena *arena, struct exchange_set *out, struct failure *why)
{
    struct csv_table *tables = arena_array(arena, NOUN_COUNT, sizeof *tables);
    struct keyed *keys[NOUN_COUNT] = {0};
    size_t n_keys[NOUN_COUNT] = {0};
    struct exchange_set set = {0};
    json_t *package = NULL;
    enum outcome outcome = package_read(files, n, &package, why);
    for (int noun = 0; noun < NOUN_COUNT && outcome == OUTCOME_OK; noun++) {
        const struct exchange_file *file = file_at(files, n, arena_print(arena, "data/%s.csv", noun_infos[noun].name));
        if (file == NULL)
            continue;
        outcome = hash_check(package, file, why);
        if (outcome == OUTCOME_OK)
            outcome = csv_read(file->path, (const char *)file->bytes.at, file->bytes.n, ',', 0, arena, &tables[noun], why);
        if (outcome == OUTCOME_OK && tables[noun].rows == 0)
            outcome = fail(why, OUTCOME_DATA, "%s has no header.", file->path);
        if (outcome == OUTCOME_OK)
            outcome = keys_read(&tables[noun], arena, &keys[noun], why);
        if (outcome == OUTCOME_OK)
            n_keys[noun] = tables[noun].rows - 1;
    }
    if (outcome == OUTCOME_OK)
        outcome = tables[NOUN_PROGRAMME].rows == 2 ? OUTCOME_OK : fail(why, OUTCOME_DATA, "data/programme.csv must hold exactly one row.");
    for (int noun = 0; noun < NOUN_COUNT && outcome == OUTCOME_OK; noun++)
        if (tables[noun].rows > 0)
            outcome = table_read((enum noun)noun, &tables[noun], keys, n_keys, arena, &set.of[noun], why);
    json_decref(package);
    if (outcome == OUTCOME_OK)
        *out = set;
    return outcome;
}
