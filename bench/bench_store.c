/* SPDX-License-Identifier: GPL-3.0-or-later
 * Speed of the programme file at its largest: 200,000 plants and 2 million records, written, opened, loaded, beside a plain
 * SELECT of the same columns by the sqlite3 shell. Usage: bench_store [plants] [records]; prints seconds. */
#include "store/store.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

static struct failure why;

static double now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

static void must(enum outcome outcome)
{
    char words[2048];
    if (outcome == OUTCOME_OK)
        return;
    failure_print(&why, words, sizeof words);
    fprintf(stderr, "%s\n", words);
    exit(3);
}

static double say(const char *what, double since)
{
    double now = now_s();
    printf("%-52s %8.2f s\n", what, now - since);
    return now_s();
}

static void add_site(struct store *store)
{
    struct site site;
    struct plot plot;
    struct visit visit;
    noun_init(NOUN_SITE, &site);
    noun_init(NOUN_PLOT, &plot);
    noun_init(NOUN_VISIT, &visit);
    site.code = "S1";
    site.name = "Bench";
    site.stage = STAGE_PLANTED;
    must(store_add(store, NOUN_SITE, &site, 1, &why));
    plot.site_id = visit.site_id = site.id;
    plot.code = "D1";
    plot.regime = REGIME_DENSE_PREPARED;
    must(store_add(store, NOUN_PLOT, &plot, 1, &why));
    visit.kind = VISIT_KIND_CENSUS;
    visit.from_on = date_make(2025, 9, 1);
    for (int i = 0; i < 10; i++) {
        visit.uuid = (struct uuid){0};
        must(store_add(store, NOUN_VISIT, &visit, 1, &why));
    }
}

static void add_plants(struct store *store, size_t n)
{
    static const char *const species[] = {"Quercus robur", "Carpinus betulus", "Corylus avellana", "Rosa canina", "Sorbus aucuparia"};
    struct plant *plants = memory_get(n, sizeof *plants);
    struct random_stream r = random_make(1, 1);
    for (size_t i = 0; i < n; i++) {
        noun_init(NOUN_PLANT, &plants[i]);
        plants[i].plot_id = 1;
        plants[i].number = 1 + (int64_t)(i % 3);
        plants[i].species = species[random_below(&r, 5)];
        plants[i].layer = (enum layer)(1 + random_below(&r, 4));
        plants[i].origin = ORIGIN_FIRST_PLANTING;
        plants[i].planted_on = date_make(2024, 11, 20);
        plants[i].x_m = 500000 + 300 * random_uniform(&r);
        plants[i].y_m = 5700000 + 300 * random_uniform(&r);
    }
    must(store_add(store, NOUN_PLANT, plants, n, &why));
    free(plants);
}

static void add_records(struct store *store, size_t n, size_t plants)
{
    struct plant_record *records = memory_get(n, sizeof *records);
    struct random_stream r = random_make(1, 2);
    for (size_t i = 0; i < n; i++) {
        noun_init(NOUN_PLANT_RECORD, &records[i]);
        records[i].visit_id = 1 + (int64_t)(i / plants % 10);
        records[i].plant_id = 1 + (int64_t)(i % plants);
        records[i].observed_on = date_make(2025, 9, 1 + (int)random_below(&r, 20));
        records[i].observer = "V017";
        records[i].status = (enum status)(1 + random_below(&r, 6));
        records[i].height_cm = 10 + 200 * random_uniform(&r);
        records[i].diameter_mm = 4 + 20 * random_uniform(&r);
        records[i].damage = (enum damage_agent)(1 + random_below(&r, 17));
    }
    must(store_add(store, NOUN_PLANT_RECORD, records, n, &why));
    free(records);
}

static void load_all(struct store *store, enum noun noun, const char *what)
{
    struct arena arena = {0};
    void *rows = NULL;
    size_t n = 0;
    double since = now_s();
    must(store_load(store, noun, NULL, 0, false, &arena, &rows, &n, &why));
    char line[120];
    snprintf(line, sizeof line, "load %zu %s", n, what);
    say(line, since);
    arena_clear(&arena);
}

static void shell_select(const char *path, const char *table)
{
    char command[4096] = "", columns[2048] = "fid, uuid";
    const struct noun_info *info = &noun_infos[noun_find(table)];
    for (size_t i = 0; i < info->n_fields; i++) {
        strcat(columns, ", \"");
        strcat(columns, info->fields[i].name);
        strcat(columns, "\"");
    }
    snprintf(command, sizeof command, "sqlite3 %s 'SELECT %s FROM %s WHERE deleted_at IS NULL ORDER BY fid' > /dev/null", path, columns,
             table);
    double since = now_s();
    if (system(command) != 0)
        printf("(sqlite3 is not installed)\n");
    snprintf(command, sizeof command, "sqlite3 shell, the same columns of %s", table);
    say(command, since);
}

int main(int argc, char **argv)
{
    size_t plants = argc > 1 ? (size_t)atol(argv[1]) : 200000, records = argc > 2 ? (size_t)atol(argv[2]) : 2000000;
    char path[] = "/tmp/bench-store-XXXXXX.gpkg", command[128];
    struct programme programme;
    struct store *store = NULL;
    int handle = mkstemps(path, 5);
    close(handle);
    unlink(path);
    noun_init(NOUN_PROGRAMME, &programme);
    programme.name = "Bench";
    programme.crs = 25832;
    programme.currency = "EUR";
    programme.seed = 1;
    double since = now_s();
    must(store_create(path, &programme, "bench", &store, &why));
    since = say("make a programme file", since);
    must(store_begin(store, "bench", "fill", &why));
    add_site(store);
    since = now_s();
    add_plants(store, plants);
    since = say("add the plants", since);
    add_records(store, records, plants);
    since = say("add the records", since);
    must(store_commit(store, &why));
    since = say("commit", since);
    store_close(store);
    since = say("close, back to one file", since);
    must(store_open(path, STORE_WRITE, &store, &why));
    since = say("open with all checks", since);
    load_all(store, NOUN_PLANT, "plants");
    load_all(store, NOUN_PLANT_RECORD, "records");
    since = now_s();
    must(store_undo(store, 2, "bench", NULL, &why));
    since = say("take the whole step back", since);
    must(store_undo(store, 3, "bench", NULL, &why));
    say("and bring it again", since);
    store_close(store);
    shell_select(path, "plant");
    shell_select(path, "plant_record");
    snprintf(command, sizeof command, "ls -l %s | awk '{print \"file: \" $5 / 1e6 \" MB\"}'", path);
    (void)!system(command);
    unlink(path);
    return 0;
}
