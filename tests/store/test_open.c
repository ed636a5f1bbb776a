/* SPDX-License-Identifier: GPL-3.0-or-later
 * Opening: what is refused and in which words, older files brought forward, several openers, and readers of other programs. */
#include "help.h"
#include <sys/wait.h>
#include <fcntl.h>
#include "store/inside.h"
#include <sys/stat.h>

static struct arena arena;
static struct failure why;

static const char *small_file(const char *name)
{
    const char *path = fresh_path(name);
    store_close(small_wood(path));
    return path;
}

static void refused(const char *path, enum store_mode mode, const char *words)
{
    struct store *store = NULL;
    enum outcome outcome = store_open(path, mode, &store, &why);
    assert_int_not_equal(outcome, OUTCOME_OK);
    assert_null(store);
    if (strstr(why.sentence, words) == NULL)
        fail_msg("said \"%s\", wanted \"%s\"", why.sentence, words);
    assert_true(strlen(why.remedy) > 10);
    assert_string_equal(why.file, path);
}

static void write_file(const char *path, const void *bytes, size_t n)
{
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(bytes, 1, n, file), n);
    fclose(file);
}

static char *slurp(const char *path, size_t *n)
{
    char *bytes = NULL;
    good(file_read(path, 0, &arena, &bytes, n, &why), &why);
    return bytes;
}

static void once_closed_it_is_one_file(void **state)
{
    (void)state;
    const char *path = fresh_path("one.gpkg");
    char beside[200];
    struct store *store = small_wood(path);
    assert_string_equal(store_path(store), path);
    snprintf(beside, sizeof beside, "%s-wal", path);
    assert_int_equal(access(beside, F_OK), 0);
    store_close(store);
    assert_int_not_equal(access(beside, F_OK), 0);
    snprintf(beside, sizeof beside, "%s-shm", path);
    assert_int_not_equal(access(beside, F_OK), 0);
    store_close(NULL);
}

static void making_never_writes_over_a_file(void **state)
{
    (void)state;
    const char *path = fresh_path("there.gpkg");
    struct programme programme = a_programme();
    struct store *store = NULL;
    write_file(path, "letters", 7);
    assert_int_equal(store_create(path, &programme, "V001", &store, &why), OUTCOME_USAGE);
    size_t n = 0;
    assert_string_equal(slurp(path, &n), "letters");
    assert_int_not_equal(store_create("/nowhere/x.gpkg", &programme, "V001", &store, &why), OUTCOME_OK);
    const char *other = fresh_path("degrees.gpkg");
    programme.crs = 4326;
    assert_int_equal(store_create(other, &programme, "V001", &store, &why), OUTCOME_DATA);
    assert_string_equal(why.column, "crs");
    programme.crs = 2053; /* axes to the west and south */
    assert_int_equal(store_create(other, &programme, "V001", &store, &why), OUTCOME_DATA);
    programme.crs = 2263; /* feet */
    assert_int_equal(store_create(other, &programme, "V001", &store, &why), OUTCOME_DATA);
    assert_int_not_equal(access(other, F_OK), 0);
    programme.crs = 27700;
    good(store_create(other, &programme, "V001", &store, &why), &why);
    store_close(store);
}

static void what_is_no_programme_is_refused_in_words(void **state)
{
    (void)state;
    const char *path = fresh_path("no.gpkg");
    refused(path, STORE_READ, "no such file");
    write_file(path, "", 0);
    refused(path, STORE_READ, "empty");
    write_file(path, "name,date\n", 10);
    refused(path, STORE_WRITE, "not a programme file");
    unlink(path);
    meddle(path, "CREATE TABLE a(b)");
    refused(path, STORE_WRITE, "a database, but not a programme");
    meddle(path, "PRAGMA application_id=0x47504B47; PRAGMA user_version=10300; CREATE TABLE gpkg_contents(table_name TEXT)");
    refused(path, STORE_WRITE, "damaged");
    const char *foreign = fresh_path("foreign.gpkg");
    meddle(foreign, "PRAGMA application_id=0x47504B47; CREATE TABLE features(fid)");
    refused(foreign, STORE_READ, "GeoPackage made by another program");
}

static void a_newer_file_is_refused_and_not_touched(void **state)
{
    (void)state;
    const char *path = small_file("newer.gpkg");
    meddle(path, "UPDATE spinney_about SET value = '2' WHERE key = 'store_version'");
    size_t n = 0, m = 0;
    char *before = slurp(path, &n);
    refused(path, STORE_WRITE, "newer version");
    refused(path, STORE_READ, "newer version");
    char *after = slurp(path, &m);
    assert_int_equal(n, m);
    assert_memory_equal(before, after, n);
}

static void a_damaged_file_is_refused_in_words(void **state)
{
    (void)state;
    const char *path = small_file("damaged.gpkg");
    size_t n = 0;
    char *bytes = slurp(path, &n);
    const char *cut = fresh_path("cut.gpkg");
    write_file(cut, bytes, n / 2);
    refused(cut, STORE_READ, "damaged");
    for (size_t i = 4096 * 8; i < 4096 * 60; i++)
        bytes[i] = (char)(i * 31);
    const char *noise = fresh_path("noise.gpkg");
    write_file(noise, bytes, n);
    refused(noise, STORE_WRITE, "damaged");
}

static void rows_removed_by_another_program_are_noticed(void **state)
{
    (void)state;
    const char *path = small_file("removed.gpkg");
    meddle(path, "DELETE FROM site WHERE fid = 1");
    refused(path, STORE_WRITE, "plot 1 refers to a site that is not in the file");
    struct store *store = NULL;
    const char **findings = NULL;
    size_t n = 0;
    good(store_open(path, STORE_READ, &store, &why), &why);
    assert_int_equal(count_rows(store, NOUN_PLOT), 2);
    good(store_verify(store, &arena, &findings, &n, &why), &why);
    assert_int_equal(n, 2);
    assert_non_null(strstr(findings[0], "2 references lead nowhere"));
    assert_non_null(strstr(findings[1], "1 rows of site were removed by another program"));
    store_close(store);
}

static void a_broken_spatial_index_is_made_anew(void **state)
{
    (void)state;
    const char *path = small_file("index.gpkg");
    meddle(path, "DELETE FROM rtree_plot_geom");
    struct store *store = NULL;
    const char **findings = NULL;
    size_t n = 0;
    good(store_open(path, STORE_READ, &store, &why), &why);
    good(store_verify(store, &arena, &findings, &n, &why), &why);
    assert_int_equal(n, 1);
    assert_non_null(strstr(findings[0], "spatial index of plot"));
    store_close(store);
    good(store_open(path, STORE_WRITE, &store, &why), &why);
    good(store_verify(store, &arena, &findings, &n, &why), &why);
    assert_int_equal(n, 0);
    store_close(store);
}

static void values_another_program_spoilt_are_named_not_read_as_something_else(void **state)
{
    (void)state;
    static const struct {
        const char *sql, *words;
    } cases[] = {
        {"UPDATE plot SET regime = 'wild' WHERE fid = 2", "regime"},
        {"UPDATE plot SET planted_on = '2024-13-01' WHERE fid = 2", "planted_on"},
        {"UPDATE plot SET density_m2 = 'many' WHERE fid = 2", "density_m2"},
        {"UPDATE plot SET geom = x'475001' WHERE fid = 1", "geom"},
        {"UPDATE plot SET uuid = 'x' WHERE fid = 1", "uuid"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        const char *path = small_file("spoilt.gpkg"), **findings = NULL;
        struct store *store = NULL;
        void *rows = NULL;
        size_t n = 0;
        meddle(path, cases[i].sql);
        good(store_open(path, STORE_READ, &store, &why), &why);
        assert_int_equal(store_load(store, NOUN_PLOT, NULL, 0, false, &arena, &rows, &n, &why), OUTCOME_DATA);
        assert_string_equal(why.column, cases[i].words);
        good(store_verify(store, &arena, &findings, &n, &why), &why);
        assert_true(n >= 1);
        store_close(store);
    }
    const char *path = small_file("toomuch.gpkg"), **findings = NULL;
    struct store *store = NULL;
    size_t n = 0;
    meddle(path, "UPDATE plot SET density_m2 = 4000; INSERT INTO plot(site_id, code, regime) VALUES (1, 'X', 'conventional')");
    good(store_open(path, STORE_WRITE, &store, &why), &why);
    good(store_verify(store, &arena, &findings, &n, &why), &why);
    assert_int_equal(n, 2); /* the first row out of bounds, and how many more */
    store_close(store);
}

static void rows_another_program_added_are_taken_in_as_a_step(void **state)
{
    (void)state;
    const char *path = small_file("added.gpkg"), **findings = NULL;
    struct store *store = NULL;
    size_t n = 0;
    meddle(path, "INSERT INTO plot(site_id, code, regime) VALUES (1, 'X1', 'conventional'), (1, 'X2', 'conventional')");
    good(store_open(path, STORE_READ, &store, &why), &why);
    assert_int_equal(count_rows(store, NOUN_PLOT), 4);
    good(store_verify(store, &arena, &findings, &n, &why), &why);
    assert_int_equal(n, 2); /* the log does not know them, and they have no uuid */
    store_close(store);
    good(store_open(path, STORE_WRITE, &store, &why), &why);
    good(store_verify(store, &arena, &findings, &n, &why), &why);
    assert_int_equal(n, 0);
    struct store_step *steps = NULL;
    good(store_steps(store, 1, &arena, &steps, &n, &why), &why);
    assert_string_equal(steps[0].author, "another program");
    assert_int_equal(steps[0].changes, 2);
    good(store_undo(store, steps[0].id, "V001", NULL, &why), &why);
    assert_int_equal(count_rows(store, NOUN_PLOT), 2);
    store_close(store);
}

static void a_writer_that_comes_after_a_reader_does_not_disturb_it(void **state)
{
    (void)state;
    const char *path = small_file("after.gpkg");
    struct store *reader = NULL, *writer = NULL;
    good(store_open(path, STORE_READ, &reader, &why), &why);
    assert_int_equal(count_rows(reader, NOUN_PLANT), 0);
    good(store_open(path, STORE_WRITE, &writer, &why), &why);
    struct plant plant = a_plant(1, 1);
    good(store_begin(writer, "V001", "Plant", &why), &why);
    good(store_add(writer, NOUN_PLANT, &plant, 1, &why), &why);
    assert_int_equal(count_rows(reader, NOUN_PLANT), 0);
    good(store_commit(writer, &why), &why);
    assert_int_equal(count_rows(reader, NOUN_PLANT), 1);
    store_close(writer);
    assert_int_equal(count_rows(reader, NOUN_PLANT), 1);
    store_close(reader);
}

/* GDAL's own writer appends to a layer; the file stays ours. */
static void rows_that_gdal_appends_are_read(void **state)
{
    (void)state;
    int status = 0;
    const char *path = small_file("gdal.gpkg");
    char json[220];
    shell(&status, "ogr2ogr --version");
    if (status != 0) {
        print_message("skip: ogr2ogr is not installed\n");
        skip();
    }
    snprintf(json, sizeof json, "%s.json", path);
    static const char text[] =
        "{\"type\":\"FeatureCollection\",\"crs\":{\"type\":\"name\",\"properties\":{\"name\":\"urn:ogc:def:crs:EPSG::25832\"}},"
        "\"features\":[{\"type\":\"Feature\",\"properties\":{\"plot_id\":1,\"species\":\"Corylus "
        "avellana\",\"origin\":\"natural_arrival\"},"
        "\"geometry\":{\"type\":\"Point\",\"coordinates\":[500003.5,5700004.25]}}]}";
    write_file(json, text, sizeof text - 1);
    const char *said = shell(&status, "ogr2ogr -append -nln plant %s %s 2>&1", path, json);
    if (status != 0)
        fail_msg("%s", said);
    struct store *store = NULL;
    struct plant plant;
    const char **findings = NULL;
    size_t n = 0;
    good(store_open(path, STORE_WRITE, &store, &why), &why);
    good(store_get(store, NOUN_PLANT, 1, &arena, &plant, &why), &why);
    assert_string_equal(plant.species, "Corylus avellana");
    assert_near(plant.x_m, 500003.5, 0);
    assert_near(plant.y_m, 5700004.25, 0);
    assert_false(uuid_unset(&plant.uuid));
    good(store_verify(store, &arena, &findings, &n, &why), &why);
    if (n > 0)
        fail_msg("%s", findings[0]);
    store_close(store);
}

static void an_older_file_is_brought_forward_after_a_copy(void **state)
{
    (void)state;
    const char *path = small_file("older.gpkg");
    char copy[220];
    int status = 0;
    make_older(path);
    snprintf(copy, sizeof copy, "%s.before-layout-1.gpkg", path);
    struct store *store = NULL;
    good(store_open(path, STORE_WRITE, &store, &why), &why);
    assert_int_equal(access(copy, F_OK), 0);
    struct plot plot;
    good(store_get(store, NOUN_PLOT, 2, &arena, &plot, &why), &why);
    assert_string_equal(plot.code, "C1");
    assert_null(plot.note);
    plot.note = "now there is room for it";
    good(store_begin(store, "V001", "Note", &why), &why);
    good(store_change(store, NOUN_PLOT, &plot, &why), &why);
    struct issued_document document;
    noun_init(NOUN_ISSUED_DOCUMENT, &document);
    document.kind = "report";
    document.file_name = "r.pdf";
    document.sha256 = "00";
    document.made_on = date_make(2025, 1, 1);
    good(store_add(store, NOUN_ISSUED_DOCUMENT, &document, 1, &why), &why);
    good(store_commit(store, &why), &why);
    struct store_past *past = NULL;
    size_t n = 0;
    good(store_history(store, NOUN_PLOT, 2, &arena, &past, &n, &why), &why);
    assert_int_equal(n, 2);
    assert_string_equal(past[0].kind, "added");
    const char **findings = NULL;
    good(store_verify(store, &arena, &findings, &n, &why), &why);
    if (n > 0)
        fail_msg("%s", findings[0]);
    good(store_undo(store, 3, "V001", NULL, &why), &why);
    good(store_undo(store, 2, "V001", NULL, &why), &why);
    assert_int_equal(count_rows(store, NOUN_PLOT), 0);
    store_close(store);
    /* the copy is the older file, whole */
    assert_string_equal(
        shell(&status, "sqlite3 %s 'SELECT value FROM spinney_about WHERE key = \"store_version\"; SELECT count(*) FROM plot'", copy),
        "0\n2\n");
    good(store_open(path, STORE_WRITE, &store, &why), &why); /* and it is not done twice */
    store_close(store);
    snprintf(copy, sizeof copy, "%s.before-layout-1-2.gpkg", path);
    assert_int_not_equal(access(copy, F_OK), 0);
}

static void a_field_younger_than_the_file_is_unknown_when_looking(void **state)
{
    (void)state;
    const char *path = small_file("younger.gpkg");
    char copy[220];
    meddle(path,
           "ALTER TABLE plot DROP COLUMN note; DROP TABLE issued_document; DELETE FROM gpkg_contents WHERE table_name = 'issued_document'");
    struct store *store = NULL;
    struct store_where noted = {"note", 0, ""};
    int64_t n = 0;
    good(store_open(path, STORE_READ, &store, &why), &why);
    assert_int_equal(count_rows(store, NOUN_PLOT), 2);
    assert_int_equal(count_rows(store, NOUN_ISSUED_DOCUMENT), 0);
    good(store_count(store, NOUN_PLOT, &noted, 1, &n, &why), &why);
    assert_int_equal(n, 2);
    assert_int_equal(store_begin(store, "V001", "Write", &why), OUTCOME_USAGE);
    store_close(store);
    snprintf(copy, sizeof copy, "%s.before-layout-1.gpkg", path);
    assert_int_not_equal(access(copy, F_OK), 0);
    good(store_open(path, STORE_WRITE, &store, &why), &why);
    store_close(store);
    good(store_open(path, STORE_READ, &store, &why), &why);
    assert_int_equal(state_of(store) != 0, true);
    store_close(store);
}

static void writers_take_turns_and_readers_go_on(void **state)
{
    (void)state;
    const char *path = small_file("turns.gpkg");
    struct store *one = NULL, *two = NULL, *reader = NULL;
    good(store_open(path, STORE_WRITE, &one, &why), &why);
    good(store_open(path, STORE_WRITE, &two, &why), &why);
    good(store_open(path, STORE_READ, &reader, &why), &why);
    store_patience(two, 50);
    good(store_begin(one, "V001", "Plant", &why), &why);
    struct plant plant = a_plant(1, 1), other = a_plant(1, 2);
    good(store_add(one, NOUN_PLANT, &plant, 1, &why), &why);
    assert_int_equal(store_begin(two, "V002", "Plant too", &why), OUTCOME_SYSTEM);
    assert_non_null(strstr(why.sentence, "Another program is writing"));
    assert_int_equal(count_rows(reader, NOUN_PLANT), 0);
    good(store_commit(one, &why), &why);
    assert_int_equal(count_rows(reader, NOUN_PLANT), 1);
    good(store_begin(two, "V002", "Plant too", &why), &why);
    good(store_add(two, NOUN_PLANT, &other, 1, &why), &why);
    good(store_commit(two, &why), &why);
    assert_int_equal(count_rows(one, NOUN_PLANT), 2);
    store_close(one); /* with others still there */
    good(store_begin(two, "V002", "And more", &why), &why);
    other.uuid = (struct uuid){0};
    good(store_add(two, NOUN_PLANT, &other, 1, &why), &why);
    good(store_commit(two, &why), &why);
    assert_int_equal(count_rows(reader, NOUN_PLANT), 3);
    store_close(reader);
    store_close(two);
    char beside[200];
    snprintf(beside, sizeof beside, "%s-wal", path);
    assert_int_not_equal(access(beside, F_OK), 0);
    good(store_open(path, STORE_READ, &reader, &why), &why);
    assert_int_equal(count_rows(reader, NOUN_PLANT), 3);
    store_close(reader);
}

static void a_copy_made_while_open_is_whole_and_alone(void **state)
{
    (void)state;
    const char *path = fresh_path("origin.gpkg"), *copy = fresh_path("copy.gpkg");
    struct store *store = small_wood(path), *again = NULL;
    good(store_backup(store, copy, &why), &why);
    assert_int_equal(store_backup(store, copy, &why), OUTCOME_USAGE);
    good(store_open(copy, STORE_READ, &again, &why), &why);
    assert_true(state_of(again) == state_of(store));
    store_close(again);
    store_close(store);
}

static void a_file_that_may_not_be_written_can_be_looked_at(void **state)
{
    (void)state;
    if (geteuid() == 0) {
        print_message("skip: the superuser may write anything\n");
        skip();
    }
    const char *path = small_file("readonly.gpkg");
    struct store *store = NULL;
    chmod(path, 0444);
    good(store_open(path, STORE_READ, &store, &why), &why);
    store_close(store);
    refused(path, STORE_WRITE, "may not be written");
}

/* Whether another process would be kept from writing the file whole (SQLite's shared lock, os.h: byte 0x40000002, 510 bytes). */
static bool held_against_others(const char *path)
{
    int told[2] = {0};
    char answer = 0;
    assert_int_equal(pipe(told), 0);
    pid_t child = fork();
    if (child == 0) {
        struct flock lock = {.l_type = F_WRLCK, .l_whence = SEEK_SET, .l_start = 0x40000002, .l_len = 510};
        int file = open(path, O_RDWR | O_CLOEXEC);
        answer = file >= 0 && fcntl(file, F_GETLK, &lock) == 0 && lock.l_type != F_UNLCK ? 'y' : 'n';
        (void)!write(told[1], &answer, 1);
        _exit(0);
    }
    assert_int_equal(read(told[0], &answer, 1), 1);
    waitpid(child, NULL, 0);
    close(told[0]);
    close(told[1]);
    return answer == 'y';
}

static void opening_again_keeps_the_locks_of_what_is_open(void **state)
{
    (void)state;
    const char *path = fresh_path("locks.gpkg");
    struct store *writer = small_wood(path), *again = NULL, *joined = NULL;
    assert_int_equal(count_rows(writer, NOUN_PLOT), 2);
    assert_true(held_against_others(path));
    for (int i = 0; i < 2; i++) {
        good(store_open(path, i == 0 ? STORE_READ : STORE_WRITE, &again, &why), &why);
        assert_true(held_against_others(path));
        good(store_join(again, &joined, &why), &why);
        assert_int_equal(count_rows(joined, NOUN_PLOT), 2);
        store_close(joined);
        store_close(again);
        assert_true(held_against_others(path));
    }
    store_close(writer);
    assert_false(held_against_others(path));
}

static void what_others_commit_is_seen_by_its_number(void **state)
{
    (void)state;
    const char *path = fresh_path("seen.gpkg");
    struct store *writer = small_wood(path), *watch = NULL;
    struct site site = a_site("S9");
    int64_t before = 0, after = 0, own = 0;
    good(store_open(path, STORE_READ, &watch, &why), &why);
    good(store_seen(watch, &before, &why), &why);
    good(store_seen(writer, &own, &why), &why);
    good(store_begin(writer, "V001", "one more", &why), &why);
    good(store_add(writer, NOUN_SITE, &site, 1, &why), &why);
    good(store_seen(watch, &after, &why), &why);
    assert_int_equal(after, before); /* not before it is committed */
    good(store_commit(writer, &why), &why);
    good(store_seen(watch, &after, &why), &why);
    assert_int_not_equal(after, before);
    good(store_seen(writer, &after, &why), &why);
    assert_int_equal(after, own); /* one's own commits are no news */
    store_gather(writer);
    store_close(watch);
    store_close(writer);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(opening_again_keeps_the_locks_of_what_is_open),
        cmocka_unit_test(what_others_commit_is_seen_by_its_number),
        cmocka_unit_test(once_closed_it_is_one_file),
        cmocka_unit_test(making_never_writes_over_a_file),
        cmocka_unit_test(what_is_no_programme_is_refused_in_words),
        cmocka_unit_test(a_newer_file_is_refused_and_not_touched),
        cmocka_unit_test(a_damaged_file_is_refused_in_words),
        cmocka_unit_test(rows_removed_by_another_program_are_noticed),
        cmocka_unit_test(a_broken_spatial_index_is_made_anew),
        cmocka_unit_test(values_another_program_spoilt_are_named_not_read_as_something_else),
        cmocka_unit_test(rows_another_program_added_are_taken_in_as_a_step),
        cmocka_unit_test(a_writer_that_comes_after_a_reader_does_not_disturb_it),
        cmocka_unit_test(rows_that_gdal_appends_are_read),
        cmocka_unit_test(an_older_file_is_brought_forward_after_a_copy),
        cmocka_unit_test(a_field_younger_than_the_file_is_unknown_when_looking),
        cmocka_unit_test(writers_take_turns_and_readers_go_on),
        cmocka_unit_test(a_copy_made_while_open_is_whole_and_alone),
        cmocka_unit_test(a_file_that_may_not_be_written_can_be_looked_at),
    };
    int failed = cmocka_run_group_tests(tests, NULL, NULL);
    arena_clear(&arena);
    return failed;
}
