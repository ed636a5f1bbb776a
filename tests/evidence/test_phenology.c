/* SPDX-License-Identifier: GPL-3.0-or-later
 * Growth stages out of weekly looks: intervals, skipped weeks, censoring, and years set beside each other. */
#include "evidence/phenology.h"
#include "../testlib.h"

struct looks {
    struct site site;
    struct plot plot;
    struct plant plants[8];
    struct phenology_record records[200];
    size_t n_plants, n;
};

static void looks_start(struct looks *l)
{
    l->n = l->n_plants = 0;
    noun_init(NOUN_SITE, &l->site);
    noun_init(NOUN_PLOT, &l->plot);
    l->site.id = l->plot.id = l->plot.site_id = 1;
    l->site.code = "GL";
}

static void look(struct looks *l, int64_t plant, const char *species, const char *day, enum phase_state state)
{
    struct phenology_record *r = &l->records[l->n++];
    noun_init(NOUN_PHENOLOGY_RECORD, r);
    r->id = (int64_t)l->n;
    r->plant_id = plant;
    r->phase = 11;
    r->state = state;
    assert_true(date_read(day, &r->seen_on));
    for (size_t i = 0; i < l->n_plants; i++)
        if (l->plants[i].id == plant)
            return;
    struct plant *p = &l->plants[l->n_plants++];
    noun_init(NOUN_PLANT, p);
    p->id = plant;
    p->plot_id = 1;
    p->species = species;
}

static struct phenology told(const struct looks *l, struct arena *arena)
{
    struct phenology_facts facts = {&l->site, 1, &l->plot, 1, l->plants, l->n_plants, l->records, l->n};
    struct phenology out;
    struct failure why;
    assert_int_equal(evidence_phenology(&facts, 0.95, arena, &out, &why), OUTCOME_OK);
    return out;
}

static void a_stage_lies_between_the_last_not_yet_and_the_first_reached(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct looks l;
    looks_start(&l);
    look(&l, 1, "Betula pendula", "2023-04-03", PHASE_STATE_NOT_YET);
    look(&l, 1, "Betula pendula", "2023-04-10", PHASE_STATE_REACHED);
    look(&l, 1, "Betula pendula", "2023-04-17", PHASE_STATE_REACHED);
    struct phenology out = told(&l, &arena);
    assert_int_equal(out.n_rows, 1);
    assert_int_equal(out.rows[0].dated, 1);
    assert_near(out.rows[0].after_day, 93, 1e-9);
    assert_near(out.rows[0].by_day, 100, 1e-9);
    arena_clear(&arena);
}

static void a_skipped_week_widens_the_interval_and_gives_no_day(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct looks l;
    looks_start(&l);
    look(&l, 1, "Betula pendula", "2023-04-03", PHASE_STATE_NOT_YET);
    look(&l, 1, "Betula pendula", "2023-04-17", PHASE_STATE_REACHED);
    struct phenology out = told(&l, &arena);
    assert_near(out.rows[0].widest_gap_d, 14, 1e-9);
    arena_clear(&arena);
}

static void what_was_reached_before_the_first_look_or_not_by_the_last_has_no_day(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct looks l;
    looks_start(&l);
    look(&l, 1, "Betula pendula", "2023-04-03", PHASE_STATE_ALREADY_OVER);
    look(&l, 2, "Betula pendula", "2023-04-03", PHASE_STATE_NOT_YET);
    look(&l, 3, "Betula pendula", "2023-04-03", PHASE_STATE_REACHED);
    look(&l, 3, "Betula pendula", "2023-04-10", PHASE_STATE_NOT_YET);
    struct phenology out = told(&l, &arena);
    assert_int_equal(out.rows[0].plants, 3);
    assert_int_equal(out.rows[0].dated, 0);
    assert_int_equal(out.rows[0].before, 1);
    assert_int_equal(out.rows[0].after, 1);
    assert_int_equal(out.rows[0].broken, 1);
    assert_false(is_known(out.rows[0].by_day));
    arena_clear(&arena);
}

/* Two species seven and fourteen days earlier: mean -10.5, standard error 3.5, Student's t on one degree of freedom 12.7062. */
static void years_are_compared_on_the_same_plants_and_species_count_alike(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct looks l;
    looks_start(&l);
    static const struct {
        int64_t plant;
        const char *species, *before, *by;
    } seen[] = {{1, "Betula pendula", "2023-04-10", "2023-04-17"},   {1, "Betula pendula", "2025-04-03", "2025-04-10"},
                {2, "Corylus avellana", "2023-04-15", "2023-04-22"}, {2, "Corylus avellana", "2025-04-01", "2025-04-08"},
                {3, "Corylus avellana", "2023-04-15", "2023-04-22"}, {3, "Corylus avellana", "2025-04-01", "2025-04-08"},
                {4, "Corylus avellana", "2025-05-01", "2025-05-08"}};
    for (size_t i = 0; i < sizeof seen / sizeof *seen; i++) {
        look(&l, seen[i].plant, seen[i].species, seen[i].before, PHASE_STATE_NOT_YET);
        look(&l, seen[i].plant, seen[i].species, seen[i].by, PHASE_STATE_REACHED);
    }
    struct phenology out = told(&l, &arena);
    assert_int_equal(out.n_shifts, 1);
    assert_int_equal(out.shifts[0].plants, 3);
    assert_int_equal(out.shifts[0].species, 2);
    assert_near(out.shifts[0].days.value, -10.5, 1e-9);
    assert_near(out.shifts[0].days.low, -10.5 - 12.7062 * 3.5, 1e-3);
    arena_clear(&arena);
}

static void no_records_are_told_and_not_an_empty_table(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct phenology_facts facts = {.n_records = 0};
    struct phenology out;
    struct failure why;
    assert_int_equal(evidence_phenology(&facts, 0.95, &arena, &out, &why), OUTCOME_DATA);
    arena_clear(&arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_stage_lies_between_the_last_not_yet_and_the_first_reached),
        cmocka_unit_test(a_skipped_week_widens_the_interval_and_gives_no_day),
        cmocka_unit_test(what_was_reached_before_the_first_look_or_not_by_the_last_has_no_day),
        cmocka_unit_test(years_are_compared_on_the_same_plants_and_species_count_alike),
        cmocka_unit_test(no_records_are_told_and_not_an_empty_table),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
