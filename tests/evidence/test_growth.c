/* SPDX-License-Identifier: GPL-3.0-or-later
 * evidence/: growth that cannot flatter. Invented data. */
#include "evidence/increments.h"
#include "geo/geo.h"
#include "made.h"
#include "testlib.h"

struct town {
    struct made made;
    struct evidence_facts facts;
    struct plot_lives *lives;
};

static void town_read(struct town *t)
{
    struct failure why = {0};
    t->facts = made_facts(&t->made);
    assert_int_equal(evidence_lives(&t->facts, &t->made.arena, &t->lives, &why), OUTCOME_OK);
}

static size_t grown(struct made *m, size_t plot, const char *species, const size_t visits[2], double from, double to, bool lives)
{
    size_t plant = made_plant(m, plot, species, ORIGIN_FIRST_PLANTING);
    made_record(m, visits[0], plant, STATUS_ALIVE, from);
    made_record(m, visits[1], plant, lives ? STATUS_ALIVE : STATUS_DEAD_STANDING, lives ? to : unknown_real());
    return plant;
}

static void seasons_are_counted_not_years(void **state)
{
    (void)state;
    int32_t march = date_make(2022, 3, 1), october = date_make(2022, 10, 1);
    assert_near(growing_seasons(march, october), 1, 1e-12);
    assert_near(growing_seasons(october, date_make(2023, 3, 31)), 0, 1e-12); /* a winter is no growth */
    assert_near(growing_seasons(march, date_make(2025, 10, 1)), 4, 1e-12);
    assert_near(growing_seasons(date_make(2022, 7, 1), october), 92. / 183, 1e-12);
    assert_near(growing_seasons(date_make(2022, 7, 1), date_make(2023, 7, 1)), 1, 1e-12);
    assert_near(growing_seasons(october, march), 0, 0);
    assert_false(is_known(growing_seasons(DATE_UNKNOWN, march)));
}

/* F39: small plants die; the mean of survivors rises by far more than any plant grew. */
static void the_mean_rises_when_short_plants_die_and_growth_does_not(void **state)
{
    (void)state;
    struct town t = {0};
    size_t site = made_site(&t.made, "A"), plot = made_plot(&t.made, site, "D1", REGIME_DENSE_PREPARED, 3, 100, date_make(2022, 2, 1)),
           visits[2] = {made_visit(&t.made, site, date_make(2022, 3, 1), true), made_visit(&t.made, site, date_make(2022, 10, 1), false)};
    struct plot_seasons s;
    struct plot_growth g;
    struct failure why = {0};
    for (int i = 0; i < 50; i++)
        grown(&t.made, plot, "Acer campestre", visits, 30 + i % 5, 0, false);
    for (int i = 0; i < 50; i++)
        grown(&t.made, plot, "Acer campestre", visits, 80 + i % 5, 90 + i % 5, true);
    town_read(&t);
    assert_int_equal(evidence_seasons(&t.lives[0], 0.95, &t.made.arena, &s, &why), OUTCOME_OK);
    assert_near(s.steps[0].gain_cm.value, 10, 1e-9);
    assert_near(s.steps[0].naive_cm.value, 35, 1e-9);
    assert_near(s.steps[0].rgr.value, (log(90. / 80) + log(91. / 81) + log(92. / 82) + log(93. / 83) + log(94. / 84)) / 5, 1e-9);
    assert_int_equal(evidence_growth(&t.lives[0], 0.95, &t.made.arena, &g, &why), OUTCOME_OK);
    assert_non_null(strstr(g.sentence, "because short plants died"));
    assert_near(g.per_planted_cm.value, 46, 1e-9);
    made_free(&t.made);
}

/* Six sites. Each species gains the same in both plots, but the dense plot is mostly hazel, the other mostly birch, and dense plants
 * started 10 cm taller. */
static void mix_and_first_size_are_not_read_as_growth(void **state)
{
    (void)state;
    static const char *const codes[] = {"A", "B", "C", "D", "E", "F"};
    struct town t = {0};
    struct growth_pairs pairs;
    struct growth_model model;
    struct failure why = {0};
    for (int s = 0; s < 6; s++) {
        size_t site = made_site(&t.made, codes[s]), visits[2] = {made_visit(&t.made, site, date_make(2022, 3, 1), true),
                                                                 made_visit(&t.made, site, date_make(2023, 10, 1), false)};
        for (int k = 0; k < 2; k++) {
            size_t plot = made_plot(&t.made, site, k == 0 ? "D1" : "C1", k == 0 ? REGIME_DENSE_PREPARED : REGIME_CONVENTIONAL, 1, 100,
                                    date_make(2022, 2, 1));
            for (int i = 0; i < 60; i++) {
                bool birch = k == 0 ? i < 15 : i < 45;
                double start = (k == 0 ? 60 : 50) + i % 3, noise = (i * 7 + s * 3 + k) % 11 - 5;
                grown(&t.made, plot, birch ? "Betula pendula" : "Corylus avellana", visits, start,
                      start + (birch ? 140 : 40) + 2 * s + noise + (s % 2 ? 1 : -1) * (k ? 0.6 : -0.4), true);
            }
        }
    }
    town_read(&t);
    assert_int_equal(
        evidence_growth_pairs(&t.facts, t.lives, REGIME_DENSE_PREPARED, REGIME_CONVENTIONAL, 0.95, &t.made.arena, &pairs, &why),
        OUTCOME_OK);
    assert_int_equal(pairs.n, 6);
    assert_true(pairs.naive_cm.high < -20); /* what mean heights say: the dense plots are far behind */
    assert_int_equal(pairs.answer.verdict, PAIRED_CANNOT_TELL);
    assert_near(pairs.answer.mean.value, 0, 1.5);
    assert_near(pairs.pairs[0].first_cm, 10, 1e-9);
    assert_int_equal(evidence_growth_model(t.lives, t.facts.n_plots, 0.95, &t.made.arena, &model, &why), OUTCOME_OK);
    assert_true(model.gain_cm[1].low < 0 && model.gain_cm[1].high > 0);
    assert_int_equal(model.regimes[0], REGIME_CONVENTIONAL);
    assert_int_equal(model.species, 2);
    made_free(&t.made);
}

/* trade.md, edge effect: a 10 by 10 m plot with a 2 m edge is only 36 % inside. */
static void the_edge_of_a_small_plot_is_most_of_it(void **state)
{
    (void)state;
    struct town t = {0};
    size_t site = made_site(&t.made, "A"), plot = made_plot(&t.made, site, "D1", REGIME_DENSE_PREPARED, 1, 100, date_make(2022, 2, 1)),
           visits[2] = {made_visit(&t.made, site, date_make(2022, 3, 1), true), made_visit(&t.made, site, date_make(2022, 10, 1), false)};
    struct shape square = shape_rectangle(&t.made.arena, 0, 0, 10, 10, 0);
    struct edge_growth e;
    struct failure why = {0};
    t.made.plots[plot].wkb = shape_to_wkb(&square, &t.made.arena);
    for (int i = 0; i < 100; i++) {
        double x = i % 10 + 0.5, y = i / 10 + 0.5;
        bool inside = x > 2 && x < 8 && y > 2 && y < 8;
        size_t plant = grown(&t.made, plot, "Acer campestre", visits, 50, inside ? 60 + i % 3 : 70 + i % 3, i % 4 > 0);
        t.made.plants[plant].x_m = x;
        t.made.plants[plant].y_m = y;
    }
    town_read(&t);
    assert_int_equal(evidence_edge(&t.lives[0], 2, 0.95, &t.made.arena, &e, &why), OUTCOME_OK);
    assert_near(e.inside_share, 0.36, 1e-9);
    assert_int_equal(e.known[0], 64);
    assert_int_equal(e.known[1], 36);
    assert_true(e.difference_cm.low > 8 && e.difference_cm.high < 12);
    assert_int_equal(evidence_edge(&t.lives[0], 20, 0.95, &t.made.arena, &e, &why), OUTCOME_DATA);
    made_free(&t.made);
}

static void crowns_that_overlap_do_not_cover_twice(void **state)
{
    (void)state;
    struct town t = {0};
    size_t site = made_site(&t.made, "A"), plot = made_plot(&t.made, site, "D1", REGIME_DENSE_PREPARED, 1, 50, date_make(2022, 2, 1)),
           visits[2] = {made_visit(&t.made, site, date_make(2022, 3, 1), true), made_visit(&t.made, site, date_make(2022, 10, 1), false)};
    struct canopy_closure k;
    struct failure why = {0};
    for (int i = 0; i < 50; i++)
        grown(&t.made, plot, "Acer campestre", visits, 50, 60, true);
    town_read(&t);
    assert_int_equal(evidence_canopy(&t.lives[0], &t.made.arena, &k, &why), OUTCOME_DATA);
    for (size_t i = 0; i < t.made.n_records; i++)
        if (t.made.records[i].visit_id == (int64_t)visits[1] + 1 && i % 4 == 1)
            t.made.records[i].crown_cm = 200 / sqrt(M_PI); /* one square metre each */
    town_read(&t);
    assert_int_equal(evidence_canopy(&t.lives[0], &t.made.arena, &k, &why), OUTCOME_OK);
    assert_near(k.crowns_m2_m2, 1, 1e-9);
    assert_near(k.closed, 1 - exp(-1), 1e-9);
    made_free(&t.made);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(seasons_are_counted_not_years),
        cmocka_unit_test(the_mean_rises_when_short_plants_die_and_growth_does_not),
        cmocka_unit_test(mix_and_first_size_are_not_read_as_growth),
        cmocka_unit_test(the_edge_of_a_small_plot_is_most_of_it),
        cmocka_unit_test(crowns_that_overlap_do_not_cover_twice),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
