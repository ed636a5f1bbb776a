/* SPDX-License-Identifier: GPL-3.0-or-later
 * Writes a small programme file with something in every kind of layer, for programs of others to read: make_wood FILE. */
#include "help.h"

static struct arena arena;
static struct failure why;

static void must(enum outcome outcome)
{
    char words[2048];
    if (outcome == OUTCOME_OK)
        return;
    failure_print(&why, words, sizeof words);
    fprintf(stderr, "%s\n", words);
    exit(3);
}

static struct bytes line_wkb(double x_m, double y_m)
{
    struct {
        uint32_t type, n;
        double xy[6];
    } line = {2, 3, {x_m, y_m, x_m + 20, y_m, x_m + 20, y_m + 5.5}};
    unsigned char *at = arena_alloc(&arena, 57);
    at[0] = 1;
    memcpy(at + 1, &line.type, 4);
    memcpy(at + 5, &line.n, 4);
    memcpy(at + 9, line.xy, sizeof line.xy);
    return (struct bytes){at, 57};
}

static void constraints(struct store *store)
{
    struct constraint row[2];
    noun_init(NOUN_CONSTRAINT, &row[0]);
    row[0].site_id = 1;
    row[0].kind = CONSTRAINT_KIND_BURIED_SERVICE;
    row[0].service = SERVICE_KIND_GAS;
    row[1] = row[0];
    row[1].kind = CONSTRAINT_KIND_BUILDING;
    row[1].service = SERVICE_KIND_UNKNOWN;
    row[1].height_m = 6.25;
    row[1].checked_on = date_make(2024, 2, 29);
    row[0].wkb = line_wkb(500040, 5700040);
    row[1].wkb = square_wkb(&arena, 500060, 5700060, 8);
    must(store_add(store, NOUN_CONSTRAINT, row, 2, &why));
}

static void plants_and_records(struct store *store)
{
    struct plant plants[60];
    struct plant_record records[60];
    struct visit visit;
    noun_init(NOUN_VISIT, &visit);
    visit.site_id = 1;
    visit.kind = VISIT_KIND_CENSUS;
    visit.from_on = date_make(2025, 9, 14);
    visit.leaf_on = TRUTH_YES;
    must(store_add(store, NOUN_VISIT, &visit, 1, &why));
    for (int i = 0; i < 60; i++) {
        plants[i] = a_plant(1 + i % 2, i + 1);
        plants[i].planted_on = date_make(2024, 11, 20);
    }
    must(store_add(store, NOUN_PLANT, plants, 60, &why));
    for (int i = 0; i < 60; i++) {
        noun_init(NOUN_PLANT_RECORD, &records[i]);
        records[i].visit_id = visit.id;
        records[i].plant_id = plants[i].id;
        records[i].observed_on = visit.from_on;
        records[i].status = i % 5 == 0 ? STATUS_NOT_FOUND : STATUS_ALIVE;
        records[i].height_cm = i % 5 == 0 ? unknown_real() : 30 + i * 1.5;
        records[i].repeat = TRUTH_NO;
    }
    must(store_add(store, NOUN_PLANT_RECORD, records, 60, &why));
}

int main(int argc, char **argv)
{
    if (argc != 2) {
        fprintf(stderr, "usage: make_wood FILE\n");
        return 2;
    }
    struct store *store = small_wood(argv[1]);
    must(store_begin(store, "V001", "Fill", &why));
    constraints(store);
    plants_and_records(store);
    must(store_commit(store, &why));
    store_close(store);
    arena_clear(&arena);
    return 0;
}
