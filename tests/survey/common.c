/* SPDX-License-Identifier: GPL-3.0-or-later
 * The small invented programme of the tests. */
#include "common.h"
#include "testlib.h"

enum { ROWS = 8, COLUMNS = 8, NUMBERS = 2, PLANTS = ROWS * COLUMNS * NUMBERS };

static const char *const species[] = {"Quercus robur",    "Betula pendula", "Alnus glutinosa",
                                      "Corylus avellana", "Prunus avium",   "Prunus padus"};
static const struct survey_name known_names[] = {
    {"Quercus robur", "Quercus robur"},       {"Quercus pedunculata", "Quercus robur"}, {"Betula pendula", "Betula pendula"},
    {"Betula alba", "Betula pendula"},        {"Alnus glutinosa", "Alnus glutinosa"},   {"Corylus avellana", "Corylus avellana"},
    {"Prunus avium", "Prunus avium"},         {"Prunus padus", "Prunus padus"},         {"Frangula alnus", "Frangula alnus"},
    {"Cornus sanguinea", "Cornus sanguinea"}, {"Acer campestre", "Acer campestre"}};

struct town *town_make(void)
{
    struct town *town = calloc(1, sizeof *town);
    struct arena *a = &town->arena;
    struct site *sites = arena_array(a, 2, sizeof *sites);
    struct plot *plots = arena_array(a, 3, sizeof *plots);
    struct visit *visits = arena_array(a, 4, sizeof *visits);
    static const char *const site_codes[] = {"LK", "BS"}, *const plot_codes[] = {"D1", "C1", "D1"};
    for (int i = 0; i < 2; i++) {
        noun_init(NOUN_SITE, &sites[i]);
        sites[i].id = i + 1;
        sites[i].code = site_codes[i];
        sites[i].name = i == 0 ? "Lockside Bank" : "Ballast Siding";
    }
    for (int i = 0; i < 3; i++) {
        noun_init(NOUN_PLOT, &plots[i]);
        plots[i].id = 10 + i;
        plots[i].site_id = i < 2 ? 1 : 2;
        plots[i].code = plot_codes[i];
        plots[i].planted_on = date_make(2022, 2, 20);
    }
    for (int i = 0; i < 4; i++) {
        noun_init(NOUN_VISIT, &visits[i]);
        visits[i].id = 100 + i;
        visits[i].site_id = 1;
        visits[i].kind = VISIT_KIND_CENSUS;
        visits[i].from_on = date_make(2022 + i, 9, 10);
        visits[i].to_on = date_make(2022 + i, 9, 20);
    }
    town->plants = arena_array(a, 2 * PLANTS, sizeof *town->plants);
    for (int plot = 0; plot < 2; plot++)
        for (int i = 0; i < PLANTS; i++) {
            struct plant *p = &town->plants[plot * PLANTS + i];
            noun_init(NOUN_PLANT, p);
            p->id = 1000 + plot * PLANTS + i;
            p->plot_id = 10 + plot;
            p->cell_code = arena_print(a, "%c%02d", 'A' + i / (COLUMNS * NUMBERS), i / NUMBERS % COLUMNS + 1);
            p->number = i % NUMBERS + 1;
            p->tag = arena_print(a, "%c-%04d", plot == 0 ? 'D' : 'C', i + 1);
            p->species = species[(i * 7 + i / 5 + plot * 3) % 6];
            p->origin = ORIGIN_FIRST_PLANTING;
            p->planted_on = plots[plot].planted_on;
        }
    town->room = 20000;
    town->records = arena_array(a, town->room, sizeof *town->records);
    town->ground = (struct survey_ground){.sites = sites,
                                          .n_sites = 2,
                                          .plots = plots,
                                          .n_plots = 3,
                                          .plants = town->plants,
                                          .n_plants = 2 * PLANTS,
                                          .visits = visits,
                                          .n_visits = 4,
                                          .records = town->records,
                                          .names = known_names,
                                          .n_names = sizeof known_names / sizeof *known_names};
    return town;
}

void town_free(struct town *town)
{
    arena_clear(&town->arena);
    free(town);
}

struct plant *town_plant(struct town *town, int plot, int row, int column, int number)
{
    return &town->plants[plot * PLANTS + (row - 1) * COLUMNS * NUMBERS + (column - 1) * NUMBERS + number - 1];
}

void town_census(struct town *town, int64_t visit, int32_t day, double height_cm)
{
    for (size_t i = 0; i < town->ground.n_plants; i++) {
        assert_true(town->ground.n_records < town->room);
        struct plant_record *r = &town->records[town->ground.n_records++];
        struct random_stream size = random_make(7, i), growth = random_make(8, i * 1000 + (size_t)visit);
        noun_init(NOUN_PLANT_RECORD, r);
        r->id = (int64_t)town->ground.n_records;
        r->visit_id = visit;
        r->plant_id = town->plants[i].id;
        r->observed_on = day;
        r->observer = i % 2 == 0 ? "V001" : "V002";
        r->status = STATUS_ALIVE;
        r->height_cm = round(height_cm * exp(0.3 * random_normal(&size) + 0.05 * random_normal(&growth)));
        r->diameter_mm = round(r->height_cm * 1.2) / 10;
        r->diameter_at = DIAMETER_HEIGHT_ROOT_COLLAR;
    }
}

struct plant_record *town_record(struct town *town, const struct plant *plant, int64_t visit)
{
    for (size_t i = 0; i < town->ground.n_records; i++)
        if (town->records[i].plant_id == plant->id && town->records[i].visit_id == visit)
            return &town->records[i];
    fail_msg("no such record");
    return NULL;
}

struct trip bring_bytes(struct town *town, enum record_kind kind, const char *bytes, size_t n, const char *const *said)
{
    struct trip trip = {0};
    struct arena *a = &town->arena;
    trip.outcome = workbook_read("table", bytes, n, a, &trip.book, &trip.why);
    if (trip.outcome == OUTCOME_OK)
        trip.outcome = mapping_guess(&trip.book.sheets[0], kind, &town->ground, a, &trip.mapping, &trip.why);
    for (size_t i = 0; said != NULL && said[i] != NULL && trip.outcome == OUTCOME_OK; i++) {
        if (said[i][0] == '?') {
            char *id = arena_text(a, said[i] + 1), *equals = strrchr(id, '=');
            *equals = '\0';
            trip.outcome = mapping_answer(&trip.mapping, id, equals + 1, a, &trip.why);
        } else {
            trip.outcome = mapping_set(&trip.mapping, &trip.book.sheets[0], said[i], a, &trip.why);
        }
    }
    struct import_options options = {.limits = survey_limits_usual()};
    options.limits.today = date_make(2026, 1, 1);
    if (trip.outcome == OUTCOME_OK)
        trip.outcome = import_dry_run(&trip.book, &trip.book.sheets[0], &trip.mapping, &town->ground, &options, a, &trip.result, &trip.why);
    if (trip.outcome == OUTCOME_OK)
        assert_adds_up(&trip.result);
    return trip;
}

struct trip bring(struct town *town, enum record_kind kind, const char *text, const char *const *said)
{
    return bring_bytes(town, kind, text, strlen(text), said);
}

const struct question *asked(const struct trip *trip, const char *id)
{
    for (size_t i = 0; i < trip->result.n_questions; i++)
        if (strcmp(trip->result.questions[i].id, id) == 0)
            return &trip->result.questions[i];
    return NULL;
}

const struct doubt *doubt_of(const struct held *held, const char *check)
{
    for (size_t i = 0; i < held->n_doubts; i++)
        if (strcmp(held->doubts[i].check->id, check) == 0)
            return &held->doubts[i];
    return NULL;
}

size_t held_by(const struct import_result *result, const char *check, const struct held **first)
{
    size_t n = 0;
    for (size_t i = 0; i < result->n_held; i++)
        if (doubt_of(&result->held[i], check) != NULL) {
            if (n == 0 && first != NULL)
                *first = &result->held[i];
            n++;
        }
    return n;
}

size_t remarked(const struct import_result *result, const char *check, const struct doubt **first)
{
    size_t n = 0;
    for (size_t i = 0; i < result->n_remarks; i++)
        if (strcmp(result->remarks[i].check->id, check) == 0) {
            if (n == 0 && first != NULL)
                *first = &result->remarks[i];
            n++;
        }
    return n;
}

bool remedy_offered(const struct doubt *doubt, const char *decision)
{
    for (size_t i = 0; doubt != NULL && i < doubt->n_remedies; i++)
        if (strcmp(doubt->remedies[i].decision, decision) == 0)
            return true;
    return false;
}

void assert_adds_up(const struct import_result *r)
{
    assert_int_equal(r->read, r->n_ready + r->n_held + r->n_refused + r->n_empty + r->n_zero);
    for (size_t i = 0; i < r->n_held; i++) {
        bool holds = false;
        for (size_t k = 0; k < r->held[i].n_doubts; k++)
            holds = holds || r->held[i].doubts[k].check->holds;
        assert_true(holds);
        assert_non_null(r->held[i].row.raw);
        assert_non_null(r->held[i].row.reason);
    }
}
