/* SPDX-License-Identifier: GPL-3.0-or-later
 * Packages of files on the disk, and rows in and out of a programme file as a whole. */
#include "work/package_files.h"
#include "work/load.h"
#include <dirent.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <zip.h>

static bool ends_with(const char *text, const char *end)
{
    size_t n = strlen(text), m = strlen(end);
    return n >= m && text_same_nocase(text + n - m, end);
}

/* ---- zip ---------------------------------------------------------------------------------------------------------- */

enum outcome package_zip(const struct exchange_files *files, const char *below, int32_t day, struct arena *arena, struct bytes *out,
                         struct failure *why)
{
    zip_error_t error;
    zip_error_init(&error);
    zip_source_t *source = zip_source_buffer_create(NULL, 0, 0, &error);
    zip_t *zip = source == NULL ? NULL : zip_open_from_source(source, ZIP_TRUNCATE, &error);
    enum outcome outcome = OUTCOME_OK;
    if (zip == NULL) {
        zip_source_free(source);
        outcome = fail(why, OUTCOME_SYSTEM, "The zip cannot be made (%s).", zip_error_strerror(&error));
        zip_error_fini(&error);
        return outcome;
    }
    zip_source_keep(source);
    int year, month, date;
    date_parts(day, &year, &month, &date);
    zip_uint16_t dos_day = (zip_uint16_t)(((year < 1980 ? 0 : year - 1980) << 9) | (month << 5) | date);
    for (size_t i = 0; i < files->n && outcome == OUTCOME_OK; i++) {
        size_t m = strlen(below);
        if (strncmp(files->file[i].path, below, m) != 0)
            continue;
        zip_source_t *bytes = zip_source_buffer(zip, files->file[i].bytes.at, files->file[i].bytes.n, 0);
        zip_int64_t at = bytes == NULL ? -1 : zip_file_add(zip, files->file[i].path + m, bytes, ZIP_FL_ENC_UTF_8);
        if (at < 0)
            zip_source_free(bytes);
        if (at < 0 || zip_file_set_dostime(zip, (zip_uint64_t)at, 0, dos_day, 0) != 0)
            outcome = fail(why, OUTCOME_SYSTEM, "The zip cannot be made (%s).", zip_strerror(zip));
    }
    if (outcome != OUTCOME_OK) {
        zip_discard(zip);
    } else if (zip_close(zip) != 0) {
        outcome = fail(why, OUTCOME_SYSTEM, "The zip cannot be made (%s).", zip_strerror(zip));
        zip_discard(zip);
    }
    if (outcome == OUTCOME_OK && zip_source_open(source) == 0) {
        zip_stat_t about;
        zip_source_stat(source, &about);
        char *bytes = arena_array(arena, about.size + 1, 1);
        if (zip_source_read(source, bytes, about.size) != (zip_int64_t)about.size)
            outcome = fail(why, OUTCOME_SYSTEM, "The zip cannot be read back.");
        *out = (struct bytes){.at = (const unsigned char *)bytes, .n = about.size};
        zip_source_close(source);
    }
    zip_source_free(source);
    zip_error_fini(&error);
    return outcome;
}

static enum outcome zip_member(zip_t *zip, zip_uint64_t i, const struct zip_stat *stat, size_t *total, struct arena *arena,
                               struct exchange_files *out, struct failure *why)
{
    if (stat->size > PACKAGE_MOST_BYTES || *total + stat->size > PACKAGE_MOST_BYTES)
        return fail(why, OUTCOME_DATA, "Unpacked, the package is larger than the %d MiB that are read.", PACKAGE_MOST_BYTES >> 20);
    if (stat->size > 1 << 20 && stat->size / PACKAGE_MOST_RATIO > stat->comp_size)
        return fail(why, OUTCOME_DATA, "\"%.80s\" is packed more than %d times over, as no table is.", stat->name, PACKAGE_MOST_RATIO);
    zip_file_t *file = zip_fopen_index(zip, i, 0);
    char *bytes = memory_get((size_t)stat->size + 1, 1);
    zip_int64_t got = file == NULL ? -1 : zip_fread(file, bytes, stat->size + 1);
    if (file != NULL)
        zip_fclose(file);
    if (got >= 0 && (zip_uint64_t)got == stat->size)
        exchange_add(out, stat->name, bytes, (size_t)got, arena);
    free(bytes);
    *total += (size_t)stat->size;
    return got >= 0 && (zip_uint64_t)got == stat->size ? OUTCOME_OK
                                                       : fail(why, OUTCOME_DATA, "\"%.80s\" in the zip cannot be unpacked.", stat->name);
}

/* What is looked at of a package: its description and its tables. */
static bool is_table(const char *path)
{
    return strcmp(path, "datapackage.json") == 0 ||
           (strncmp(path, "data/", 5) == 0 && ends_with(path, ".csv") && strchr(path + 5, '/') == NULL);
}

static enum outcome zip_load(struct bytes bytes, const char *only, struct arena *arena, struct exchange_files *out, struct failure *why)
{
    zip_error_t error;
    zip_error_init(&error);
    enum outcome outcome = OUTCOME_OK;
    zip_source_t *source = zip_source_buffer_create(bytes.at, bytes.n, 0, &error);
    zip_t *zip = source == NULL ? NULL : zip_open_from_source(source, ZIP_RDONLY, &error);
    if (zip == NULL) {
        zip_source_free(source);
        fail(why, OUTCOME_DATA, "The zip cannot be opened (%s).", zip_error_strerror(&error));
        zip_error_fini(&error);
        return failure_remedy(why, "It may be incomplete: fetch it again.");
    }
    zip_int64_t n = zip_get_num_entries(zip, 0);
    size_t total = 0;
    if (n > PACKAGE_MOST_FILES)
        outcome = fail(why, OUTCOME_DATA, "The zip holds more than %d files.", PACKAGE_MOST_FILES);
    for (zip_int64_t i = 0; i < n && outcome == OUTCOME_OK; i++) {
        struct zip_stat stat;
        zip_uint64_t needed = ZIP_STAT_NAME | ZIP_STAT_SIZE | ZIP_STAT_COMP_SIZE;
        if (zip_stat_index(zip, (zip_uint64_t)i, 0, &stat) != 0 || (stat.valid & needed) != needed)
            outcome = fail(why, OUTCOME_DATA, "The list of the zip is broken.");
        else if (only == NULL ? is_table(stat.name) : strcmp(stat.name, only) == 0)
            outcome = zip_member(zip, (zip_uint64_t)i, &stat, &total, arena, out, why);
    }
    zip_discard(zip);
    zip_error_fini(&error);
    return outcome;
}

/* ---- folders ------------------------------------------------------------------------------------------------------ */

static enum outcome folder_make(const char *path, struct failure *why)
{
    if (mkdir(path, 0777) == 0 || errno == EEXIST)
        return OUTCOME_OK;
    fail(why, OUTCOME_SYSTEM, "The folder cannot be made: %s.", strerror(errno));
    return failure_at(why, path, 0, NULL);
}

static void folder_clear(const char *path, const struct exchange_files *files)
{
    char name[4400];
    for (size_t i = 0; i < files->n; i++) {
        snprintf(name, sizeof name, "%s/%s", path, files->file[i].path);
        unlink(name);
    }
    static const char *const below[] = {"data", "places", "darwin_core", "forms"};
    for (size_t i = 0; i < sizeof below / sizeof *below; i++) {
        snprintf(name, sizeof name, "%s/%s", path, below[i]);
        rmdir(name);
    }
    rmdir(path);
}

static enum outcome folder_write(const char *path, const struct exchange_files *files, struct failure *why)
{
    char part[4200], name[4400];
    snprintf(part, sizeof part, "%s.part", path);
    enum outcome outcome = folder_make(part, why);
    for (size_t i = 0; i < files->n && outcome == OUTCOME_OK; i++) {
        snprintf(name, sizeof name, "%s/%s", part, files->file[i].path);
        char *slash = strrchr(name, '/');
        *slash = '\0';
        outcome = folder_make(name, why);
        *slash = '/';
        if (outcome == OUTCOME_OK)
            outcome = file_write(name, files->file[i].bytes.at, files->file[i].bytes.n, why);
    }
    if (outcome == OUTCOME_OK && rename(part, path) != 0)
        outcome = fail(why, OUTCOME_SYSTEM, "The folder cannot be put in place: %s.", strerror(errno));
    if (outcome != OUTCOME_OK)
        folder_clear(part, files);
    return outcome;
}

enum outcome package_write(const char *path, const struct exchange_files *files, int32_t day, struct failure *why)
{
    struct stat about;
    if (strlen(path) > 4000)
        return fail(why, OUTCOME_USAGE, "The name is too long.");
    if (stat(path, &about) == 0) {
        fail(why, OUTCOME_DATA, "Something is there already.");
        failure_remedy(why, "Give a name that is not taken; nothing is written over.");
        return failure_at(why, path, 0, NULL);
    }
    if (!ends_with(path, ".zip"))
        return folder_write(path, files, why);
    struct arena arena = {0};
    struct bytes zip = {0};
    enum outcome outcome = package_zip(files, "", day, &arena, &zip, why);
    if (outcome == OUTCOME_OK)
        outcome = file_write(path, zip.at, zip.n, why);
    arena_clear(&arena);
    return outcome;
}

static enum outcome folder_load(const char *path, struct arena *arena, struct exchange_files *out, struct failure *why)
{
    char name[4400];
    enum outcome outcome = OUTCOME_OK;
    for (int noun = -1; noun < NOUN_COUNT && outcome == OUTCOME_OK; noun++) {
        char below[120] = "datapackage.json", *bytes = NULL;
        size_t n = 0;
        struct stat about;
        if (noun >= 0)
            snprintf(below, sizeof below, "data/%s.csv", noun_infos[noun].name);
        snprintf(name, sizeof name, "%s/%s", path, below);
        if (stat(name, &about) != 0)
            continue;
        outcome = file_read(name, PACKAGE_MOST_BYTES, arena, &bytes, &n, why);
        if (outcome == OUTCOME_OK)
            exchange_add(out, below, bytes, n, arena);
    }
    return outcome;
}

enum outcome package_load(const char *path, struct bytes zip, struct arena *arena, struct exchange_files *out, struct failure *why)
{
    struct stat about;
    *out = (struct exchange_files){0};
    if (zip.n > 0)
        return zip_load(zip, NULL, arena, out, why);
    if (strlen(path) > 4000)
        return fail(why, OUTCOME_USAGE, "The name is too long.");
    if (stat(path, &about) == 0 && S_ISDIR(about.st_mode))
        return folder_load(path, arena, out, why);
    char *bytes = NULL;
    size_t n = 0;
    enum outcome outcome = file_read(path, PACKAGE_MOST_BYTES, arena, &bytes, &n, why);
    if (outcome == OUTCOME_OK)
        outcome = zip_load((struct bytes){.at = (const unsigned char *)bytes, .n = n}, NULL, arena, out, why);
    return outcome;
}

enum outcome package_load_one(const char *path, struct bytes zip, const char *name, struct arena *arena, struct exchange_files *out,
                              struct failure *why)
{
    struct stat about;
    char below[4400], *bytes = NULL;
    size_t n = 0;
    *out = (struct exchange_files){0};
    if (zip.n > 0)
        return zip_load(zip, name, arena, out, why);
    bool folder = strlen(path) <= 4000 && stat(path, &about) == 0 && S_ISDIR(about.st_mode);
    if (folder)
        snprintf(below, sizeof below, "%s/%s", path, name);
    else
        snprintf(below, sizeof below, "%s", path);
    enum outcome outcome = file_read(below, PACKAGE_MOST_BYTES, arena, &bytes, &n, why);
    if (outcome == OUTCOME_OK && folder)
        exchange_add(out, name, bytes, n, arena);
    else if (outcome == OUTCOME_OK)
        outcome = zip_load((struct bytes){.at = (const unsigned char *)bytes, .n = n}, name, arena, out, why);
    return outcome;
}

/* ---- rows --------------------------------------------------------------------------------------------------------- */

enum outcome rows_load(struct store *store, struct arena *arena, struct exchange_set *out, struct failure *why)
{
    struct exchange_set set = {0};
    enum outcome outcome = OUTCOME_OK;
    for (int noun = 0; noun < NOUN_COUNT && outcome == OUTCOME_OK; noun++)
        outcome = load_all(store, (enum noun)noun, arena, &set.of[noun].rows, &set.of[noun].n, why);
    if (outcome == OUTCOME_OK)
        *out = set;
    return outcome;
}

/* The id that a row got in the new file, by its id in the set; 0 where it has none yet. */
static int64_t new_id(const struct exchange_set *set, int64_t *const *fresh, enum noun noun, int64_t id)
{
    size_t at = id == 0 ? SIZE_MAX : exchange_row(set, noun, id);
    return at == SIZE_MAX ? 0 : fresh[noun][at];
}

/* Point the keys of a row at the new ids. False where a row of its own noun that it points to is not in yet. */
static bool point_keys(const struct exchange_set *set, int64_t *const *fresh, enum noun noun, char *row)
{
    const struct noun_info *info = &noun_infos[noun];
    for (size_t j = 0; j < info->n_fields; j++) {
        const struct field *field = &info->fields[j];
        if (field->kind != FIELD_REF)
            continue;
        int64_t *at = (int64_t *)(void *)(row + field->offset), now = new_id(set, fresh, (enum noun)field->target, *at);
        if (*at != 0 && now == 0)
            return false;
        *at = now;
    }
    return true;
}

/* Rows of one noun in rounds: a row that points to another of its noun waits until that one is in. */
static enum outcome noun_store(struct store *store, const struct exchange_set *set, enum noun noun, int64_t *const *fresh,
                               struct arena *arena, struct failure *why)
{
    const struct noun_info *info = &noun_infos[noun];
    size_t n = set->of[noun].n, left = n;
    char *batch = arena_array(arena, n + 1, info->size);
    size_t *from = arena_array(arena, n + 1, sizeof *from);
    while (left > 0) {
        size_t m = 0;
        for (size_t i = 0; i < n; i++) {
            char *row = batch + m * info->size;
            if (fresh[noun][i] != 0)
                continue;
            memcpy(row, (const char *)set->of[noun].rows + i * info->size, info->size);
            if (!point_keys(set, fresh, noun, row))
                continue;
            *(int64_t *)(void *)row = 0;
            from[m++] = i;
        }
        if (m == 0)
            return fail(why, OUTCOME_DATA, "Rows of %s point to each other in a ring, or to rows that are not there.", info->name);
        enum outcome outcome = store_add(store, noun, batch, m, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        for (size_t k = 0; k < m; k++)
            fresh[noun][from[k]] = *(const int64_t *)(const void *)(batch + k * info->size);
        left -= m;
    }
    return OUTCOME_OK;
}

enum outcome rows_store(const char *path, const struct exchange_set *set, const char *author, const char *what, struct failure *why)
{
    struct arena arena = {0};
    struct store *store = NULL;
    int64_t *fresh[NOUN_COUNT];
    for (int noun = 0; noun < NOUN_COUNT; noun++)
        fresh[noun] = arena_array(&arena, set->of[noun].n + 1, sizeof **fresh);
    if (set->of[NOUN_PROGRAMME].n != 1) {
        arena_clear(&arena);
        return fail(why, OUTCOME_DATA, "There must be exactly one programme.");
    }
    enum outcome outcome = store_create(path, set->of[NOUN_PROGRAMME].rows, author, &store, why);
    bool made = outcome == OUTCOME_OK;
    fresh[NOUN_PROGRAMME][0] = 1;
    if (outcome == OUTCOME_OK)
        outcome = store_begin(store, author, what, why);
    if (outcome == OUTCOME_OK) {
        for (int noun = 0; noun < NOUN_COUNT && outcome == OUTCOME_OK; noun++)
            if (noun != NOUN_PROGRAMME && set->of[noun].n > 0)
                outcome = noun_store(store, set, (enum noun)noun, fresh, &arena, why);
        outcome = store_end(store, outcome, why);
    }
    store_close(store);
    if (made && outcome != OUTCOME_OK)
        unlink(path);
    arena_clear(&arena);
    return outcome;
}
