/* SPDX-License-Identifier: GPL-3.0-or-later
 * A full disk and a failing one: the nth write fails, for every n in turn (every other one in the short tier; all of them where
 * SPINNEY_LONG is set). After each the file opens with exactly the last committed state. */
#include "help.h"
#include "store/inside.h"
#include <glob.h>
#include <sys/stat.h>

enum kind { FULL_ONCE, FULL_FROM_THEN_ON, FAULT_ONCE, FAULT_FROM_THEN_ON, TORN_AND_GONE, SYNC_FAULT, KINDS };
static const char *const kind_names[KINDS] = {"full once",          "full from then on",     "fault once",
                                              "fault from then on", "torn write, then gone", "sync fault"};

static struct {
    enum kind kind;
    long countdown; ///< writes until the fault; 0: none is set
    bool struck;
} fault;
static struct failure why;

/* A file of the shim: SQLite's own, behind it the real one. */
struct shim_file {
    sqlite3_file base;
    sqlite3_file *real;
};
static sqlite3_vfs *real_vfs;

static sqlite3_file *real_of(sqlite3_file *file)
{
    return ((struct shim_file *)file)->real;
}

/* 0, or the error with which this write ends. */
static int strikes(bool syncing)
{
    bool lasting = fault.kind == FULL_FROM_THEN_ON || fault.kind == FAULT_FROM_THEN_ON || fault.kind == TORN_AND_GONE;
    if (syncing != (fault.kind == SYNC_FAULT) && !(fault.struck && lasting))
        return 0;
    if (fault.countdown > 0 && --fault.countdown == 0)
        fault.struck = true;
    else if (!(fault.struck && lasting))
        return 0;
    return fault.kind == FULL_ONCE || fault.kind == FULL_FROM_THEN_ON ? SQLITE_FULL : syncing ? SQLITE_IOERR_FSYNC : SQLITE_IOERR_WRITE;
}

static int shim_close(sqlite3_file *f)
{
    int code = real_of(f)->pMethods->xClose(real_of(f));
    sqlite3_free(real_of(f));
    return code;
}
static int shim_read(sqlite3_file *f, void *at, int n, sqlite3_int64 from)
{
    return real_of(f)->pMethods->xRead(real_of(f), at, n, from);
}
static int shim_write(sqlite3_file *f, const void *at, int n, sqlite3_int64 to)
{
    bool before = fault.struck;
    int code = strikes(false);
    if (code != 0 && fault.kind == TORN_AND_GONE && !before)
        real_of(f)->pMethods->xWrite(real_of(f), at, n / 2, to);
    return code != 0 ? code : real_of(f)->pMethods->xWrite(real_of(f), at, n, to);
}
static int shim_truncate(sqlite3_file *f, sqlite3_int64 n)
{
    return real_of(f)->pMethods->xTruncate(real_of(f), n);
}
static int shim_sync(sqlite3_file *f, int flags)
{
    int code = strikes(true);
    (void)f;
    (void)flags; /* nothing is cut off here, so the disk need not be waited for */
    return code;
}
static int shim_size(sqlite3_file *f, sqlite3_int64 *n)
{
    return real_of(f)->pMethods->xFileSize(real_of(f), n);
}
static int shim_lock(sqlite3_file *f, int level)
{
    return real_of(f)->pMethods->xLock(real_of(f), level);
}
static int shim_unlock(sqlite3_file *f, int level)
{
    return real_of(f)->pMethods->xUnlock(real_of(f), level);
}
static int shim_reserved(sqlite3_file *f, int *out)
{
    return real_of(f)->pMethods->xCheckReservedLock(real_of(f), out);
}
static int shim_control(sqlite3_file *f, int op, void *arg)
{
    return real_of(f)->pMethods->xFileControl(real_of(f), op, arg);
}
static int shim_sector(sqlite3_file *f)
{
    return real_of(f)->pMethods->xSectorSize(real_of(f));
}
static int shim_traits(sqlite3_file *f)
{
    return real_of(f)->pMethods->xDeviceCharacteristics(real_of(f));
}
static int shim_shm_map(sqlite3_file *f, int page, int size, int extend, void volatile **out)
{
    return real_of(f)->pMethods->xShmMap(real_of(f), page, size, extend, out);
}
static int shim_shm_lock(sqlite3_file *f, int offset, int n, int flags)
{
    return real_of(f)->pMethods->xShmLock(real_of(f), offset, n, flags);
}
static void shim_shm_barrier(sqlite3_file *f)
{
    real_of(f)->pMethods->xShmBarrier(real_of(f));
}
static int shim_shm_unmap(sqlite3_file *f, int remove)
{
    return real_of(f)->pMethods->xShmUnmap(real_of(f), remove);
}

static int shim_open(sqlite3_vfs *vfs, const char *name, sqlite3_file *file, int flags, int *out_flags)
{
    static const sqlite3_io_methods methods = {.iVersion = 2,
                                               .xClose = shim_close,
                                               .xRead = shim_read,
                                               .xWrite = shim_write,
                                               .xTruncate = shim_truncate,
                                               .xSync = shim_sync,
                                               .xFileSize = shim_size,
                                               .xLock = shim_lock,
                                               .xUnlock = shim_unlock,
                                               .xCheckReservedLock = shim_reserved,
                                               .xFileControl = shim_control,
                                               .xSectorSize = shim_sector,
                                               .xDeviceCharacteristics = shim_traits,
                                               .xShmMap = shim_shm_map,
                                               .xShmLock = shim_shm_lock,
                                               .xShmBarrier = shim_shm_barrier,
                                               .xShmUnmap = shim_shm_unmap};
    struct shim_file *shim = (struct shim_file *)file;
    (void)vfs;
    shim->base.pMethods = NULL;
    shim->real = sqlite3_malloc(real_vfs->szOsFile);
    memset(shim->real, 0, (size_t)real_vfs->szOsFile);
    int code = real_vfs->xOpen(real_vfs, name, shim->real, flags, out_flags);
    if (code == SQLITE_OK)
        shim->base.pMethods = &methods;
    else
        sqlite3_free(shim->real);
    return code;
}

static void shim_register(void)
{
    static sqlite3_vfs shim;
    real_vfs = sqlite3_vfs_find(NULL);
    shim = *real_vfs;
    shim.pNext = NULL;
    shim.zName = "failing";
    shim.szOsFile = sizeof(struct shim_file);
    shim.xOpen = shim_open;
    assert_int_equal(sqlite3_vfs_register(&shim, 1), SQLITE_OK);
}

static void disarm(void)
{
    fault.countdown = 0;
    fault.struck = false;
}

static void copy_file(const char *from, const char *to)
{
    struct arena arena = {0};
    char *bytes = NULL;
    size_t n = 0;
    good(file_read(from, 0, &arena, &bytes, &n, &why), &why);
    FILE *file = fopen(to, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(bytes, 1, n, file), n);
    fclose(file);
    arena_clear(&arena);
}

/* State without letting the fault strike while looking. */
static uint64_t look(struct store *store)
{
    long countdown = fault.countdown;
    fault.countdown = 0;
    uint64_t state = state_of(store);
    fault.countdown = countdown;
    return state;
}

/* One step; false where the fault struck. `attempted` learns the state it would have led to. */
static bool take_step(struct store *store, int number, uint64_t *committed, uint64_t *attempted)
{
    struct arena arena = {0};
    struct plant plants[30];
    struct plot plot;
    bool ok = store_begin(store, "V001", "A step", &why) == OUTCOME_OK;
    for (int i = 0; i < 30; i++) {
        plants[i] = a_plant(1, 1 + i + number * 30);
        plants[i].uuid = uuid_from(5, (uint64_t)(number * 30 + i));
    }
    ok = ok && store_get(store, NOUN_PLOT, 1, &arena, &plot, &why) == OUTCOME_OK;
    if (ok) {
        plot.density_m2 = 1 + number;
        plot.wkb = square_wkb(&arena, 500000 + number, 5700000, 9);
    }
    ok = ok && store_add(store, NOUN_PLANT, plants, 30, &why) == OUTCOME_OK;
    ok = ok && store_change(store, NOUN_PLOT, &plot, &why) == OUTCOME_OK;
    ok = ok && store_delete(store, NOUN_PLANT, plants[number].id, &why) == OUTCOME_OK;
    if (ok)
        *attempted = look(store);
    bool saved = ok && store_commit(store, &why) == OUTCOME_OK;
    if (saved)
        *committed = *attempted;
    else if (store_last_step(store) != 0)
        store_rollback(store);
    arena_clear(&arena);
    return saved;
}

static bool acceptable(const char *path, uint64_t committed, uint64_t attempted, long n)
{
    struct arena arena = {0};
    struct store *store = NULL;
    const char **findings = NULL;
    size_t found = 0;
    good(store_open(path, STORE_WRITE, &store, &why), &why);
    uint64_t state = state_of(store);
    good(store_verify(store, &arena, &findings, &found, &why), &why);
    if (found > 0)
        fail_msg("%s, write %ld: %s", kind_names[fault.kind], n, findings[0]);
    store_close(store);
    arena_clear(&arena);
    /* where waiting for the disk failed, the step may have come to rest all the same: whole or not at all */
    return state == committed || (fault.kind == SYNC_FAULT && state == attempted);
}

/* Open, three steps of which the third takes back the second, close; the nth write fails. False: it was never reached. */
static bool run_with_fault(const char *base, const char *path, enum kind kind, long n)
{
    struct store *store = NULL;
    copy_file(base, path);
    disarm();
    good(store_open(base, STORE_READ, &store, &why), &why);
    uint64_t committed = state_of(store), attempted = committed;
    store_close(store);
    store = NULL;
    fault.kind = kind;
    fault.countdown = n;
    enum outcome opened = store_open(path, STORE_WRITE, &store, &why);
    if (opened == OUTCOME_OK && take_step(store, 0, &committed, &attempted) && take_step(store, 1, &committed, &attempted)) {
        struct store_step *steps = NULL;
        size_t n_steps = 0;
        struct arena arena = {0};
        if (store_steps(store, 1, &arena, &steps, &n_steps, &why) == OUTCOME_OK &&
            store_undo(store, steps[0].id, "V002", NULL, &why) == OUTCOME_OK)
            committed = attempted = look(store);
        arena_clear(&arena);
    }
    if (fault.struck && opened == OUTCOME_OK && kind != SYNC_FAULT)
        assert_true(strlen(why.sentence) > 20 || committed != 0);
    store_close(store);
    bool struck = fault.struck;
    disarm();
    if (!acceptable(path, committed, attempted, n))
        fail_msg("%s, write %ld: the file is not as it was last committed", kind_names[kind], n);
    char command[300];
    snprintf(command, sizeof command, "rm -f %s %s-wal %s-shm %s-journal", path, path, path, path);
    (void)!system(command);
    return struck;
}

static void after_any_failed_write_the_last_committed_state_is_there(void **state)
{
    (void)state;
    const char *base = fresh_path("base.gpkg"), *path = fresh_path("fault.gpkg");
    bool all = getenv("SPINNEY_LONG") != NULL;
    long runs = 0;
    store_close(small_wood(base));
    for (int kind = 0; kind < KINDS; kind++) {
        long stride = all || kind == SYNC_FAULT ? 1 : 2, n = 1 + kind % stride;
        while (run_with_fault(base, path, (enum kind)kind, n)) {
            n += stride;
            runs++;
        }
        print_message("%s: up to write %ld\n", kind_names[kind], n);
    }
    assert_true(runs > 100);
    print_message("%ld faults\n", runs);
}

static void a_new_file_is_whole_or_not_there(void **state)
{
    (void)state;
    bool all = getenv("SPINNEY_LONG") != NULL;
    for (int kind = 0; kind < KINDS; kind++)
        for (long n = 1 + kind;; n += all || kind == SYNC_FAULT ? 1 : 23) {
            const char *path = fresh_path("new.gpkg");
            struct programme programme = a_programme();
            struct store *store = NULL;
            char pattern[220];
            glob_t found = {0};
            disarm();
            fault.kind = (enum kind)kind;
            fault.countdown = n;
            enum outcome outcome = store_create(path, &programme, "V001", &store, &why);
            bool struck = fault.struck;
            store_close(store);
            disarm();
            snprintf(pattern, sizeof pattern, "%s.part-*", path);
            assert_int_equal(glob(pattern, 0, NULL, &found), GLOB_NOMATCH);
            if (access(path, F_OK) == 0) {
                store = NULL;
                good(store_open(path, STORE_WRITE, &store, &why), &why);
                assert_int_equal(count_rows(store, NOUN_PROGRAMME), 1);
                store_close(store);
            } else {
                assert_int_not_equal(outcome, OUTCOME_OK);
            }
            if (!struck)
                break;
        }
}

static void an_older_file_that_cannot_be_brought_forward_stays_as_it_was(void **state)
{
    (void)state;
    const char *base = fresh_path("older.gpkg"), *path = fresh_path("forward.gpkg");
    bool all = getenv("SPINNEY_LONG") != NULL;
    long runs = 0;
    store_close(small_wood(base));
    make_older(base);
    for (int kind = 0; kind < KINDS; kind++)
        for (long n = 1 + kind;; n += all || kind == SYNC_FAULT ? 1 : 29, runs++) {
            struct store *store = NULL;
            char command[300];
            copy_file(base, path);
            disarm();
            fault.kind = (enum kind)kind;
            fault.countdown = n;
            enum outcome outcome = store_open(path, STORE_WRITE, &store, &why);
            bool struck = fault.struck;
            if (outcome == OUTCOME_OK)
                store_close(store);
            disarm();
            store = NULL;
            good(store_open(path, STORE_WRITE, &store, &why), &why);
            assert_int_equal(count_rows(store, NOUN_PLOT), 2);
            assert_int_equal(count_rows(store, NOUN_ISSUED_DOCUMENT), 0);
            store_close(store);
            snprintf(command, sizeof command, "rm -f %s*", path);
            (void)!system(command);
            if (!struck)
                break;
        }
    print_message("%ld faults\n", runs);
    assert_true(runs > 30);
}

static void a_full_disk_is_said_in_plain_words(void **state)
{
    (void)state;
    const char *path = fresh_path("words.gpkg");
    struct store *store = small_wood(path);
    struct plant plant = a_plant(1, 1);
    store_close(store);
    store = NULL;
    good(store_open(path, STORE_WRITE, &store, &why), &why);
    good(store_begin(store, "V001", "Plant", &why), &why);
    good(store_add(store, NOUN_PLANT, &plant, 1, &why), &why);
    fault.kind = FULL_FROM_THEN_ON;
    fault.countdown = 1;
    assert_int_equal(store_commit(store, &why), OUTCOME_SYSTEM);
    assert_non_null(strstr(why.sentence, "no room left on the disk"));
    disarm();
    plant.uuid = (struct uuid){0};
    good(store_begin(store, "V001", "Plant again", &why), &why);
    good(store_add(store, NOUN_PLANT, &plant, 1, &why), &why);
    good(store_commit(store, &why), &why);
    assert_int_equal(count_rows(store, NOUN_PLANT), 1);
    store_close(store);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_full_disk_is_said_in_plain_words),
        cmocka_unit_test(a_new_file_is_whole_or_not_there),
        cmocka_unit_test(an_older_file_that_cannot_be_brought_forward_stays_as_it_was),
        cmocka_unit_test(after_any_failed_write_the_last_committed_state_is_there),
    };
    shim_register();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
