/* SPDX-License-Identifier: GPL-3.0-or-later
 * What the tests of the programme file share. */
#include "help.h"
#include "model/model_json.h"
#include "store/inside.h"
#include <stdarg.h>

static char folder[64];

static void folder_remove(void)
{
    char command[128];
    snprintf(command, sizeof command, "rm -rf %s", folder);
    (void)!system(command);
}

const char *fresh_path(const char *name)
{
    static char paths[8][160];
    static unsigned next;
    if (folder[0] == '\0') {
        snprintf(folder, sizeof folder, "/tmp/spinney-test-XXXXXX");
        assert_non_null(mkdtemp(folder));
        atexit(folder_remove);
    }
    char *path = paths[next++ % 8];
    snprintf(path, 160, "%s/%u-%s", folder, next, name);
    return path;
}

void good(enum outcome outcome, const struct failure *why)
{
    char words[2048];
    if (outcome == OUTCOME_OK)
        return;
    failure_print(why, words, sizeof words);
    fail_msg("outcome %d: %s", (int)outcome, words);
}

struct programme a_programme(void)
{
    struct programme row;
    noun_init(NOUN_PROGRAMME, &row);
    row.name = "Invented small woods";
    row.crs = 25832;
    row.currency = "EUR";
    row.seed = 7;
    return row;
}

struct site a_site(const char *code)
{
    struct site row;
    noun_init(NOUN_SITE, &row);
    row.code = code;
    row.name = "Meadow behind the school";
    row.stage = STAGE_IDEA;
    return row;
}

struct plot a_plot(int64_t site, const char *code)
{
    struct plot row;
    noun_init(NOUN_PLOT, &row);
    row.site_id = site;
    row.code = code;
    row.regime = REGIME_DENSE_PREPARED;
    return row;
}

struct plant a_plant(int64_t plot, int number)
{
    struct plant row;
    noun_init(NOUN_PLANT, &row);
    row.plot_id = plot;
    row.number = number;
    row.species = "Quercus robur";
    row.origin = ORIGIN_FIRST_PLANTING;
    row.x_m = 500000 + number * 0.5;
    row.y_m = 5700000 + number * 0.25;
    return row;
}

static void put(unsigned char **p, const void *value, size_t n)
{
    memcpy(*p, value, n); /* the machines this runs on are little-endian */
    *p += n;
}

struct bytes square_wkb(struct arena *arena, double x_m, double y_m, double side_m)
{
    double xy[10] = {x_m, y_m, x_m + side_m, y_m, x_m + side_m, y_m + side_m, x_m, y_m + side_m, x_m, y_m};
    uint32_t type = 3, one = 1, five = 5;
    unsigned char *at = arena_alloc(arena, 93), *p = at;
    put(&p, "\1", 1);
    put(&p, &type, 4);
    put(&p, &one, 4);
    put(&p, &five, 4);
    put(&p, xy, sizeof xy);
    return (struct bytes){at, 93};
}

struct store *small_wood(const char *path)
{
    struct arena arena = {0};
    struct failure why = {0};
    struct store *store = NULL;
    struct programme programme = a_programme();
    good(store_create(path, &programme, "V001", &store, &why), &why);
    good(store_begin(store, "V001", "Add a site and its plots", &why), &why);
    struct site site = a_site("S1");
    site.wkb = square_wkb(&arena, 500000, 5700000, 100);
    good(store_add(store, NOUN_SITE, &site, 1, &why), &why);
    struct plot plots[2] = {a_plot(site.id, "D1"), a_plot(site.id, "C1")};
    plots[0].wkb = square_wkb(&arena, 500000, 5700000, 10);
    good(store_add(store, NOUN_PLOT, plots, 2, &why), &why);
    good(store_commit(store, &why), &why);
    arena_clear(&arena);
    return store;
}

int64_t count_rows(struct store *store, enum noun noun)
{
    struct failure why = {0};
    int64_t n = 0;
    good(store_count(store, noun, NULL, 0, &n, &why), &why);
    return n;
}

uint64_t state_of(struct store *store)
{
    uint64_t hash = 1469598103934665603u; /* FNV-1a */
    for (int noun = 0; noun < NOUN_COUNT; noun++) {
        struct arena arena = {0};
        struct failure why = {0};
        void *rows = NULL;
        size_t n = 0;
        good(store_load(store, (enum noun)noun, NULL, 0, true, &arena, &rows, &n, &why), &why);
        for (size_t i = 0; i < n; i++) {
            json_t *json = row_json((enum noun)noun, (const char *)rows + i * noun_infos[noun].size);
            char *text = json_dumps(json, JSON_COMPACT);
            for (const char *p = text; *p != '\0'; p++)
                hash = (hash ^ (unsigned char)*p) * 1099511628211u;
            free(text);
            json_decref(json);
        }
        arena_clear(&arena);
    }
    return hash;
}

const char *shell(int *status, const char *format, ...)
{
    static char out[65536];
    char command[4096];
    va_list list;
    va_start(list, format);
    vsnprintf(command, sizeof command, format, list);
    va_end(list);
    FILE *pipe = popen(command, "r");
    assert_non_null(pipe);
    size_t n = fread(out, 1, sizeof out - 1, pipe);
    out[n] = '\0';
    *status = pclose(pipe);
    return out;
}

/* Run SQL on the file as another program would, but with the functions the triggers need. */
void meddle(const char *path, const char *sql)
{
    struct failure why = {0};
    sqlite3 *db = NULL;
    char *error = NULL;
    good(sql_connect(path, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, &db, &why), &why);
    sqlite3_db_config(db, SQLITE_DBCONFIG_DEFENSIVE, 0, NULL);
    sqlite3_exec(db, "PRAGMA foreign_keys=OFF", NULL, NULL, NULL);
    if (sqlite3_exec(db, sql, NULL, NULL, &error) != SQLITE_OK)
        fail_msg("%s", error);
    sqlite3_close(db);
}

/* The file as layout 0 had it: additions logged row by row; and two fields and a noun that were not thought of yet. */
void make_older(const char *path)
{
    meddle(path, "DROP INDEX spinney_change_added; DROP INDEX spinney_change_row;"
                 "INSERT INTO spinney_change(step_id, noun, row_id, kind) WITH RECURSIVE r(s, n, i, l) AS"
                 " (SELECT step_id, noun, row_id, last_row_id FROM spinney_change WHERE kind = 'added' UNION ALL SELECT s, n, i + 1, l "
                 "FROM r WHERE i < l)"
                 " SELECT s, n, i, 'added' FROM r; DELETE FROM spinney_change WHERE last_row_id IS NOT NULL;"
                 "ALTER TABLE spinney_change DROP COLUMN last_row_id; CREATE INDEX spinney_change_noun ON spinney_change(noun, row_id);"
                 "ALTER TABLE plot DROP COLUMN note; ALTER TABLE visit DROP COLUMN leaf_on;"
                 "DROP TABLE issued_document; DELETE FROM gpkg_contents WHERE table_name = 'issued_document';"
                 "UPDATE spinney_about SET value = '0' WHERE key = 'store_version'");
}
