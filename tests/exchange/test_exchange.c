/* SPDX-License-Identifier: GPL-3.0-or-later
 * exchange/: what may leave, moved places, coded people, and tables that come back as they were. */
#include "exchange/exchange.h"
#include "../testlib.h"

static struct exchange_terms plain_terms(void)
{
    return (struct exchange_terms){.licence = "CC-BY-4.0", .version = "0", .square_m = 1000, .made_on = date_make(2026, 1, 2)};
}

/* A set with one site, one plot and two plants. */
struct small {
    struct programme programme;
    struct site site;
    struct plot plot;
    struct plant plants[2];
    struct exchange_set set;
};

static void small_init(struct small *small, struct arena *arena)
{
    noun_init(NOUN_PROGRAMME, &small->programme);
    small->programme.id = 1, small->programme.uuid = uuid_from(1, 1), small->programme.name = "Somebody's wood";
    small->programme.crs = 32630, small->programme.currency = "EUR", small->programme.seed = 1;
    noun_init(NOUN_SITE, &small->site);
    small->site.id = 1, small->site.uuid = uuid_from(1, 2), small->site.code = "A", small->site.name = "Somebody's yard";
    small->site.stage = STAGE_IDEA, small->site.owner = "Somebody";
    struct shape square = shape_rectangle(arena, 500010.25, 5700020.5, 40, 30, 0.3);
    small->site.wkb = shape_to_wkb(&square, arena);
    noun_init(NOUN_PLOT, &small->plot);
    small->plot.id = 1, small->plot.uuid = uuid_from(1, 3), small->plot.site_id = 1, small->plot.code = "D1";
    small->plot.regime = REGIME_DENSE_PREPARED, small->plot.note = "ask Somebody";
    for (int i = 0; i < 2; i++) {
        struct plant *plant = &small->plants[i];
        noun_init(NOUN_PLANT, plant);
        plant->id = i + 1, plant->uuid = uuid_from(1, 10 + (uint64_t)i), plant->plot_id = 1, plant->species = "Quercus robur";
        plant->origin = i == 0 ? ORIGIN_FIRST_PLANTING : ORIGIN_REPLACEMENT;
        plant->x_m = 500012.5 + 0.1 * i, plant->y_m = 5700031.75, plant->tag = i == 0 ? "=1+1" : "'5";
        plant->replaces_id = i == 0 ? 0 : 1;
    }
    small->set = (struct exchange_set){0};
    small->set.of[NOUN_PROGRAMME] = (struct exchange_rows){&small->programme, 1};
    small->set.of[NOUN_SITE] = (struct exchange_rows){&small->site, 1};
    small->set.of[NOUN_PLOT] = (struct exchange_rows){&small->plot, 1};
    small->set.of[NOUN_PLANT] = (struct exchange_rows){small->plants, 2};
}

static void free_text_of_people_is_withheld_unless_listed_as_open(void **state)
{
    (void)state;
    static const char *const never_open[] = {"note",    "owner", "asked_of",     "replied_by", "payer",
                                             "said_by", "words", "organisation", "team",       "reference"};
    for (int noun = 0; noun < NOUN_COUNT; noun++)
        for (size_t j = 0; j < noun_infos[noun].n_fields; j++)
            for (size_t k = 0; k < sizeof never_open / sizeof *never_open; k++)
                if (strcmp(noun_infos[noun].fields[j].name, never_open[k]) == 0 &&
                    noun != NOUN_RECIPE_STEP) /* a step is method, not people */
                    assert_int_equal(exchange_care_of((enum noun)noun, &noun_infos[noun].fields[j]), CARE_WITHHELD);
    assert_int_equal(exchange_care_of(NOUN_PLANT_RECORD, noun_field(NOUN_PLANT_RECORD, "observer")), CARE_CODED);
    assert_int_equal(exchange_care_of(NOUN_PLANT_RECORD, noun_field(NOUN_PLANT_RECORD, "height_cm")), CARE_OPEN);
    /* a part of a listed name is not that name */
    struct field part = *noun_field(NOUN_PLANT, "species");
    part.name = "spec";
    assert_int_equal(exchange_care_of(NOUN_PLANT, &part), CARE_WITHHELD);
}

static void a_site_moves_whole_to_the_middle_of_its_square(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct small small;
    struct exchange_set out;
    struct exchange_withheld held;
    struct exchange_terms terms = plain_terms();
    small_init(&small, &arena);
    assert_int_equal(exchange_withhold(&small.set, &terms, &arena, &out, &held, NULL), OUTCOME_OK);
    struct shape before, after;
    const struct site *site = out.of[NOUN_SITE].rows;
    assert_int_equal(shape_from_wkb(small.site.wkb, &arena, &before, NULL), OUTCOME_OK);
    assert_int_equal(shape_from_wkb(site->wkb, &arena, &after, NULL), OUTCOME_OK);
    double x, y;
    shape_centre(&after, &x, &y);
    assert_near(x, 500500, 0.51);
    assert_near(y, 5700500, 0.51);
    assert_near(shape_area_m2(&after), shape_area_m2(&before), 1e-6);
    const struct plant *plants = out.of[NOUN_PLANT].rows;
    double moved_x = plants[0].x_m - small.plants[0].x_m, site_x = after.parts[0].rings[0].xy[0] - before.parts[0].rings[0].xy[0];
    assert_near(moved_x, site_x, 1e-9);
    assert_near(plants[1].x_m - plants[0].x_m, 0.1, 1e-9);
    assert_string_equal(site->name, "A");
    assert_null(site->owner);
    assert_string_equal(small.site.owner, "Somebody"); /* the rows given are left alone */
    assert_int_equal(held.fields[NOUN_SITE], 2);
    arena_clear(&arena);
}

/* A river in its true place beside sites that were moved would tell where they lie. */
static void landmarks_do_not_give_the_sites_away(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct small small;
    struct exchange_set out;
    struct exchange_withheld held;
    struct exchange_terms terms = plain_terms();
    struct landmark river;
    small_init(&small, &arena);
    noun_init(NOUN_LANDMARK, &river);
    struct shape shape = shape_rectangle(&arena, 500000, 5700000, 400, 30, 0);
    river.id = 1, river.kind = LANDMARK_KIND_RIVER, river.label = "Telm", river.wkb = shape_to_wkb(&shape, &arena);
    small.set.of[NOUN_LANDMARK] = (struct exchange_rows){&river, 1};
    assert_int_equal(exchange_withhold(&small.set, &terms, &arena, &out, &held, NULL), OUTCOME_OK);
    const struct landmark *left = out.of[NOUN_LANDMARK].rows;
    assert_int_equal(left->wkb.n, 0);
    assert_null(left->label);
    assert_true(river.wkb.n > 0);
    arena_clear(&arena);
}

static void a_package_reads_back_to_the_same_rows(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct small small;
    struct exchange_set back;
    struct exchange_files files = {0};
    struct exchange_terms terms = plain_terms();
    terms.keep_names = terms.keep_places = true;
    small_init(&small, &arena);
    assert_int_equal(exchange_package(&small.set, &terms, &arena, &files, NULL), OUTCOME_OK);
    struct failure why = {0};
    assert_int_equal(exchange_read(files.file, files.n, &arena, &back, &why), OUTCOME_OK);
    const struct plant *plants = back.of[NOUN_PLANT].rows;
    assert_int_equal(back.of[NOUN_PLANT].n, 2);
    assert_string_equal(plants[0].tag, "=1+1");
    assert_string_equal(plants[1].tag, "'5");
    assert_true(plants[0].x_m == small.plants[0].x_m);
    assert_int_equal(plants[1].replaces_id, plants[0].id);
    assert_memory_equal(&plants[1].uuid, &small.plants[1].uuid, sizeof(struct uuid));
    const struct site *site = back.of[NOUN_SITE].rows;
    assert_int_equal(site->wkb.n, small.site.wkb.n);
    assert_memory_equal(site->wkb.at, small.site.wkb.at, site->wkb.n);
    assert_string_equal(site->owner, "Somebody");
    arena_clear(&arena);
}

static void two_rows_with_one_identity_are_refused(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct small small;
    struct exchange_set back;
    struct exchange_files files = {0};
    struct exchange_terms terms = plain_terms();
    struct failure why = {0};
    small_init(&small, &arena);
    small.plants[1].uuid = small.plants[0].uuid;
    assert_int_equal(exchange_package(&small.set, &terms, &arena, &files, NULL), OUTCOME_OK);
    assert_int_equal(exchange_read(files.file, files.n, &arena, &back, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "same id"));
    assert_string_equal(why.file, "data/plant.csv");
    arena_clear(&arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(free_text_of_people_is_withheld_unless_listed_as_open),
        cmocka_unit_test(a_site_moves_whole_to_the_middle_of_its_square),
        cmocka_unit_test(landmarks_do_not_give_the_sites_away),
        cmocka_unit_test(a_package_reads_back_to_the_same_rows),
        cmocka_unit_test(two_rows_with_one_identity_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
