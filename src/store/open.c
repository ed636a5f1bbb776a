/* SPDX-License-Identifier: GPL-3.0-or-later
 * Making, opening, closing and copying the file. It appears whole or not at all, and is one file again once closed. */
#include "store/inside.h"
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { PACKAGE_ID = 0x47504B47, PACKAGE_VERSION = 10300, ADDED_ROOM = 40 };

static struct store *store_new(sqlite3 *db, const char *path, enum store_mode mode)
{
    struct store *store = memory_get(1, sizeof *store);
    store->db = db;
    store->path = memory_text(path);
    store->mode = mode;
    store->patience_ms = PATIENCE_MS;
    return store;
}

const char *store_path(const struct store *store)
{
    return store->path;
}

static void store_release(struct store *store)
{
    for (int i = 0; i < NOUN_COUNT; i++) {
        sqlite3_finalize(store->add[i]);
        free(store->field_there[i]);
    }
    sqlite3_close_v2(store->db);
    free(store->path);
    free(store);
}

void store_close(struct store *store)
{
    if (store == NULL)
        return;
    store_rollback(store);
    for (int i = 0; i < NOUN_COUNT; i++) {
        sqlite3_finalize(store->add[i]);
        store->add[i] = NULL;
    }
    if (store->mode == STORE_WRITE) { /* no waiting: where somebody else has it open, the last one to close does this */
        sqlite3_busy_timeout(store->db, 0);
        sqlite3_exec(store->db, "PRAGMA wal_checkpoint(TRUNCATE); PRAGMA journal_mode=DELETE", NULL, NULL, NULL);
    }
    store_release(store);
}

enum outcome store_seen(struct store *store, int64_t *number, struct failure *why)
{
    return sql_integer(store, number, 0, why, "PRAGMA data_version");
}

void store_gather(struct store *store)
{
    if (store->mode == STORE_WRITE && !store->in_step)
        sqlite3_wal_checkpoint_v2(store->db, NULL, SQLITE_CHECKPOINT_PASSIVE, NULL, NULL);
}

static void sync_folder(const char *path)
{
    char *folder = memory_text(path), *slash = strrchr(folder, '/');
    if (slash != NULL)
        slash[slash == folder ? 1 : 0] = '\0';
    int handle = open(slash == NULL ? "." : folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (handle >= 0) {
        (void)!fsync(handle);
        close(handle);
    }
    free(folder);
}

static enum outcome taken(const char *path, struct failure *why)
{
    fail(why, OUTCOME_USAGE, "There is a file of this name already; it was not touched.");
    failure_at(why, path, 0, NULL);
    failure_remedy(why, "Choose another name.");
    return OUTCOME_USAGE;
}

/* Give a finished file its name; never over another. A hard link is the surest; sticks without links get a rename. */
static enum outcome put_in_place(const char *beside, const char *path, struct failure *why)
{
    int bad = link(beside, path) == 0 ? 0 : errno;
    if (bad == EPERM || bad == ENOSYS || bad == EOPNOTSUPP || bad == EMLINK)
        bad = renameat2(AT_FDCWD, beside, AT_FDCWD, path, RENAME_NOREPLACE) == 0 ? 0 : errno;
    if (bad == EINVAL || bad == ENOSYS)
        bad = access(path, F_OK) == 0 ? EEXIST : rename(beside, path) == 0 ? 0 : errno;
    if (bad == EEXIST)
        return taken(path, why);
    if (bad != 0) {
        fail(why, OUTCOME_SYSTEM, "The file could not be given its name: %s.", strerror(bad));
        return failure_at(why, path, 0, NULL);
    }
    unlink(beside);
    sync_folder(path);
    return OUTCOME_OK;
}

static char *name_beside(const char *path)
{
    struct uuid uuid = uuid_fresh();
    char name[37];
    uuid_write(&uuid, name);
    size_t room = strlen(path) + ADDED_ROOM;
    char *out = memory_get(room, 1);
    snprintf(out, room, "%s.part-%.8s", path, name);
    return out;
}

/* What is left of a file that could not be finished. */
static void clear_away(const char *beside)
{
    char *journal = memory_get(strlen(beside) + ADDED_ROOM, 1);
    snprintf(journal, strlen(beside) + ADDED_ROOM, "%s-journal", beside);
    unlink(journal);
    unlink(beside);
    free(journal);
}

static enum outcome write_first(struct store *store, const struct programme *programme, const char *author, struct failure *why)
{
    size_t missing = 0;
    struct programme row = *programme;
    enum outcome outcome =
        sql_run(store, why, "PRAGMA page_size=4096; PRAGMA application_id=%d; PRAGMA user_version=%d; BEGIN", PACKAGE_ID, PACKAGE_VERSION);
    if (outcome == OUTCOME_OK)
        outcome = layout_write(store, programme, why);
    if (outcome == OUTCOME_OK)
        outcome = sql_run(store, why, "COMMIT");
    if (outcome == OUTCOME_OK)
        outcome = layout_learn(store, &missing, why);
    if (outcome == OUTCOME_OK)
        outcome = store_begin(store, author, "Make the programme", why);
    if (outcome == OUTCOME_OK)
        outcome = store_add(store, NOUN_PROGRAMME, &row, 1, why);
    return outcome == OUTCOME_OK ? store_commit(store, why) : outcome;
}

enum outcome store_create(const char *path, const struct programme *programme, const char *author, struct store **out, struct failure *why)
{
    sqlite3 *db = NULL;
    enum outcome outcome = value_check(NOUN_PROGRAMME, programme, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (access(path, F_OK) == 0)
        return taken(path, why);
    char *beside = name_beside(path);
    outcome = sql_connect(beside, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, &db, why);
    if (outcome == OUTCOME_OK) {
        struct store *store = store_new(db, beside, STORE_WRITE);
        outcome = write_first(store, programme, author, why);
        store_rollback(store);
        store_release(store);
    }
    if (outcome == OUTCOME_OK)
        outcome = put_in_place(beside, path, why);
    if (outcome != OUTCOME_OK) {
        failure_at(why, path, 0, NULL);
        clear_away(beside);
    }
    free(beside);
    return outcome == OUTCOME_OK ? store_open(path, STORE_WRITE, out, why) : outcome;
}

static enum outcome no_programme(const char *path, const char *what, const char *remedy, struct failure *why)
{
    fail(why, OUTCOME_DATA, "%s", what);
    failure_at(why, path, 0, NULL);
    failure_remedy(why, "%s", remedy);
    return OUTCOME_DATA;
}

/* The first bytes, read by SQLite's own hand: closing a file handle of ours would let go of the locks that other connections of this
   process hold on the file (POSIX advisory locks belong to the process), and another program could then write over them. */
static size_t read_head(const char *path, char *head, int n)
{
    sqlite3 *db = NULL;
    sqlite3_file *file = NULL;
    size_t got = 0;
    if (sqlite3_open_v2(path, &db, SQLITE_OPEN_READWRITE, NULL) == SQLITE_OK &&
        sqlite3_file_control(db, "main", SQLITE_FCNTL_FILE_POINTER, &file) == SQLITE_OK && file != NULL && file->pMethods != NULL &&
        file->pMethods->xRead(file, head, n, 0) == SQLITE_OK)
        got = (size_t)n;
    sqlite3_close_v2(db);
    return got;
}

/* What can be told before a connection is made. */
static enum outcome look_at_head(const char *path, struct failure *why)
{
    char head[16] = "";
    struct stat about;
    if (stat(path, &about) != 0 || access(path, R_OK) != 0) {
        int bad = errno;
        fail(why, OUTCOME_SYSTEM, bad == ENOENT ? "There is no such file." : "The file cannot be read: %s.", strerror(bad));
        failure_at(why, path, 0, NULL);
        failure_remedy(why, bad == ENOENT ? "Check the name and the folder." : "Check who may read it.");
        return OUTCOME_SYSTEM;
    }
    size_t n =
        S_ISREG(about.st_mode) && about.st_size >= (off_t)sizeof head ? read_head(path, head, (int)sizeof head) : (size_t)about.st_size;
    if (n == sizeof head && memcmp(head, "SQLite format 3", sizeof head) == 0)
        return OUTCOME_OK;
    return no_programme(path, about.st_size == 0 ? "The file is empty." : "This is not a programme file.",
                        "Open a programme made by this program, or bring the file in as map data or records.", why);
}

static enum outcome know_it(struct store *store, int *version, struct failure *why)
{
    struct arena arena = {0};
    int64_t id = 0, about = 0, number = 0, srs = 0;
    enum outcome outcome = sql_integer(store, &id, 0, why, "PRAGMA application_id");
    if (outcome == OUTCOME_OK)
        outcome = sql_integer(store, &about, 0, why,
                              "SELECT count(*) FROM sqlite_schema WHERE type = 'table' AND name IN ('spinney_about', 'spinney_step', "
                              "'spinney_change', 'programme', 'gpkg_contents')");
    const char *text = outcome == OUTCOME_OK && about == 5 ? layout_about(store, "store_version", &arena) : NULL;
    if (outcome == OUTCOME_OK && id != PACKAGE_ID)
        outcome = no_programme(store->path, "This is a database, but not a programme file.", "Open a programme made by this program.", why);
    else if (outcome == OUTCOME_OK && about == 0)
        outcome = no_programme(store->path, "This is a GeoPackage made by another program, not a programme file.",
                               "Bring its layers in as map data instead.", why);
    else if (outcome == OUTCOME_OK && (text == NULL || !integer_read(text, &number) || number < 0))
        outcome = no_programme(store->path, "The programme file is damaged: tables are missing, or the version of its layout.",
                               "Keep it as it is, and go on with the newest copy.", why);
    else if (outcome == OUTCOME_OK && number > STORE_VERSION) {
        fail(why, OUTCOME_DATA,
             "This programme file was written by a newer version of this program (layout %lld; this one knows up to %d).",
             (long long)number, STORE_VERSION);
        failure_at(why, store->path, 0, NULL);
        failure_remedy(why, "Install the newer version. The file was not touched.");
        outcome = OUTCOME_DATA;
    }
    if (outcome == OUTCOME_OK)
        outcome = sql_integer(store, &srs, 0, why, "SELECT crs FROM programme WHERE deleted_at IS NULL LIMIT 1");
    if (outcome == OUTCOME_OK && (srs < 1024 || srs > 998999))
        outcome = no_programme(store->path, "The programme file is damaged: it does not say which reference system it is in.",
                               "Keep it as it is, and go on with the newest copy.", why);
    *version = (int)number;
    store->srs = (int)srs;
    arena_clear(&arena);
    return outcome;
}

static enum outcome quick_check(struct store *store, struct failure *why)
{
    sqlite3_stmt *statement = NULL;
    struct arena arena = {0};
    bool row = false;
    enum outcome outcome = sql_prepare(store, &statement, why, "PRAGMA quick_check(1)");
    if (outcome == OUTCOME_OK)
        outcome = sql_next(store, statement, &row, why);
    const char *said = row ? sql_text(statement, 0, &arena) : NULL;
    sqlite3_finalize(statement);
    if (outcome == OUTCOME_OK && !text_same(said, "ok")) {
        fail(why, OUTCOME_DATA, "The programme file is damaged (%.300s).", said == NULL ? "no answer" : said);
        failure_at(why, store->path, 0, NULL);
        failure_remedy(why, "Keep it as it is, and go on with the newest copy; a copy of the damaged file may still be read in parts.");
        outcome = OUTCOME_DATA;
    }
    arena_clear(&arena);
    return outcome;
}

static enum outcome check_references(struct store *store, struct failure *why)
{
    struct arena arena = {0};
    int64_t broken = 0;
    const char *words = NULL;
    enum outcome outcome = verify_foreign_keys(store, &broken, &words, &arena, why);
    if (outcome == OUTCOME_OK && broken > 0 && store->mode == STORE_WRITE) {
        fail(why, OUTCOME_DATA, "Another program removed rows that others refer to: %lld references lead nowhere; the first: %s.",
             (long long)broken, words);
        failure_at(why, store->path, 0, NULL);
        failure_remedy(why, "The file can still be looked at. Put the rows back in that program, or go on with the newest copy.");
        outcome = OUTCOME_DATA;
    }
    arena_clear(&arena);
    return outcome;
}

/* The index is made from the shapes, so a wrong one is made anew and nothing is lost. */
static enum outcome mend_indexes(struct store *store, struct failure *why)
{
    enum outcome outcome = OUTCOME_OK;
    for (int i = 0; i < NOUN_COUNT && outcome == OUTCOME_OK && store->mode == STORE_WRITE; i++) {
        bool whole = true;
        if (noun_infos[i].geometry == GEOMETRY_NONE)
            continue;
        outcome = verify_index(store, (enum noun)i, &whole, why);
        if (outcome == OUTCOME_OK && !whole) {
            outcome = sql_run(store, why, "BEGIN IMMEDIATE");
            if (outcome == OUTCOME_OK)
                outcome = layout_index_again(store, (enum noun)i, why);
            if (outcome == OUTCOME_OK)
                outcome = sql_run(store, why, "COMMIT");
            if (!sqlite3_get_autocommit(store->db))
                sqlite3_exec(store->db, "ROLLBACK", NULL, NULL, NULL);
        }
    }
    return outcome;
}

/* Rows another program added have no uuid. They get one and are logged as a step, so that they are known like the others. */
static enum outcome adopt_noun(struct store *store, enum noun noun, struct failure *why)
{
    struct arena arena = {0};
    const char *t = noun_infos[noun].name;
    int64_t n = 0, *ids = NULL;
    size_t n_ids = 0;
    bool row = false;
    sqlite3_stmt *statement = NULL;
    enum outcome outcome = sql_integer(store, &n, 0, why, "SELECT count(*) FROM \"%w\" WHERE uuid IS NULL", t);
    if (outcome != OUTCOME_OK || n == 0)
        return outcome;
    ids = arena_array(&arena, (size_t)n, sizeof *ids);
    outcome = sql_prepare(store, &statement, why, "SELECT fid FROM \"%w\" WHERE uuid IS NULL ORDER BY fid", t);
    while (outcome == OUTCOME_OK && n_ids < (size_t)n && (outcome = sql_next(store, statement, &row, why)) == OUTCOME_OK && row)
        ids[n_ids++] = sqlite3_column_int64(statement, 0);
    sqlite3_finalize(statement);
    if (outcome == OUTCOME_OK && !store->in_step)
        outcome = store_begin(store, "another program", "Take in rows that another program added", why);
    for (size_t i = 0; i < n_ids && outcome == OUTCOME_OK; i++) {
        char name[37];
        struct uuid uuid = uuid_fresh();
        uuid_write(&uuid, name);
        outcome = sql_run(store, why, "UPDATE \"%w\" SET uuid = %Q, created_at = coalesce(created_at, %Q) WHERE fid = %lld", t, name,
                          store->moment, (long long)ids[i]);
        if (outcome == OUTCOME_OK)
            outcome = log_change(store, noun, ids[i], "added", NULL, NULL, why);
    }
    arena_clear(&arena);
    return outcome;
}

static enum outcome adopt_rows(struct store *store, struct failure *why)
{
    enum outcome outcome = OUTCOME_OK;
    for (int i = 0; i < NOUN_COUNT && outcome == OUTCOME_OK; i++)
        outcome = adopt_noun(store, (enum noun)i, why);
    if (store->in_step && outcome == OUTCOME_OK)
        outcome = store_commit(store, why);
    store_rollback(store);
    return outcome;
}

static enum outcome make_ready(struct store *store, struct failure *why)
{
    int version = 0;
    size_t missing = 0;
    if (store->mode == STORE_WRITE && sqlite3_db_readonly(store->db, "main") == 1) {
        fail(why, OUTCOME_SYSTEM, "The programme file may not be written here.");
        failure_at(why, store->path, 0, NULL);
        return failure_remedy(why, "Open it for looking, or copy it to where you may write.");
    }
    enum outcome outcome = know_it(store, &version, why);
    if (outcome == OUTCOME_OK)
        outcome = quick_check(store, why);
    if (outcome == OUTCOME_OK)
        outcome = check_references(store, why);
    if (outcome == OUTCOME_OK)
        outcome = layout_learn(store, &missing, why);
    if (outcome == OUTCOME_OK)
        outcome = migrate(store, version, missing, why);
    if (outcome == OUTCOME_OK)
        outcome = mend_indexes(store, why);
    if (outcome == OUTCOME_OK && store->mode == STORE_WRITE) {                /* where somebody reads just now, or the disk has no shared */
        sqlite3_exec(store->db, "PRAGMA journal_mode=WAL", NULL, NULL, NULL); /* memory, a journal does as well */
        outcome = sql_run(store, why, "PRAGMA synchronous=FULL");
    }
    if (outcome == OUTCOME_OK && store->mode == STORE_WRITE)
        outcome = adopt_rows(store, why);
    if (outcome == OUTCOME_OK && store->mode == STORE_READ)
        outcome = sql_run(store, why, "PRAGMA query_only=ON");
    return outcome;
}

enum outcome store_open(const char *path, enum store_mode mode, struct store **out, struct failure *why)
{
    sqlite3 *db = NULL;
    enum outcome outcome = look_at_head(path, why);
    if (outcome == OUTCOME_OK) /* also for looking: what a crash left behind must be rolled back first */
        outcome = sql_connect(path, SQLITE_OPEN_READWRITE, &db, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct store *store = store_new(db, path, mode);
    outcome = make_ready(store, why);
    if (outcome == OUTCOME_OK)
        *out = store;
    else
        store_release(store);
    return outcome;
}

enum outcome store_join(const struct store *checked, struct store **out, struct failure *why)
{
    sqlite3 *db = NULL;
    size_t missing = 0;
    enum outcome outcome = sql_connect(checked->path, SQLITE_OPEN_READWRITE, &db, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct store *store = store_new(db, checked->path, STORE_READ);
    store->srs = checked->srs;
    outcome = layout_learn(store, &missing, why);
    if (outcome == OUTCOME_OK)
        outcome = sql_run(store, why, "PRAGMA query_only=ON");
    if (outcome == OUTCOME_OK)
        *out = store;
    else
        store_release(store);
    return outcome;
}

enum outcome store_backup(struct store *store, const char *path, struct failure *why)
{
    sqlite3 *copy = NULL;
    if (store->in_step)
        return fail(why, OUTCOME_USAGE, "A step is being taken; end it before copying the file.");
    if (access(path, F_OK) == 0)
        return taken(path, why);
    char *beside = name_beside(path);
    enum outcome outcome = sql_connect(beside, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, &copy, why);
    if (outcome == OUTCOME_OK) {
        sqlite3_backup *backup = sqlite3_backup_init(copy, "main", store->db, "main");
        int code = backup == NULL ? SQLITE_ERROR : sqlite3_backup_step(backup, -1);
        code = backup == NULL        ? sqlite3_extended_errcode(copy)
               : code == SQLITE_DONE ? sqlite3_backup_finish(backup)
                                     : (sqlite3_backup_finish(backup), code);
        if (code == SQLITE_OK) /* the copy of a file in use carries its mode; a copy at rest is one file */
            code = sqlite3_exec(copy, "PRAGMA journal_mode=DELETE", NULL, NULL, NULL);
        if (code != SQLITE_OK)
            outcome = sql_words(copy, code, path, why);
        sqlite3_close_v2(copy);
    }
    if (outcome == OUTCOME_OK)
        outcome = put_in_place(beside, path, why);
    if (outcome != OUTCOME_OK)
        clear_away(beside);
    free(beside);
    return outcome;
}
