/* SPDX-License-Identifier: GPL-3.0-or-later
 * evidence/: what pairs of plots allow one to conclude, pooling, the model over sites, and the roll of sites. Invented data. */
#include "evidence/sites.h"
#include "made.h"
#include "testlib.h"

static struct paired_answer judge(const double *d, const double *low, const double *high, const bool *unequal, size_t n, double margin)
{
    struct paired_wish wish = {n, d, low, high, unequal, 0.95, margin, 1};
    struct paired_answer answer;
    struct failure why = {0};
    assert_int_equal(evidence_paired(&wish, &answer, &why), OUTCOME_OK);
    return answer;
}

static void three_sites_are_not_enough_whatever_they_show(void **state)
{
    (void)state;
    const double d[] = {0.20, 0.21, 0.22};
    struct paired_answer a = judge(d, NULL, NULL, NULL, 3, unknown_real());
    assert_int_equal(a.verdict, PAIRED_CANNOT_TELL);
    assert_int_equal(a.reason, REASON_FEW_SITES);
    assert_false(is_known(a.p));
}

/* trade.md, tests with few sites: 5 pairs can never give p < 0.05 by sign flips (2/32 = 0.0625), 6 can (0.031). */
static void five_sites_cannot_and_six_can(void **state)
{
    (void)state;
    const double d[] = {0.20, 0.25, 0.15, 0.22, 0.18, 0.21};
    struct paired_answer five = judge(d, NULL, NULL, NULL, 5, unknown_real()), six = judge(d, NULL, NULL, NULL, 6, unknown_real());
    assert_near(five.p_least, 0.0625, 1e-12);
    assert_true(five.mean.low > 0); /* Student's interval alone would say yes */
    assert_int_equal(five.verdict, PAIRED_CANNOT_TELL);
    assert_near(six.p, 0.03125, 1e-12);
    assert_int_equal(six.verdict, PAIRED_A_HIGHER);
    assert_int_equal(six.hangs_on, SIZE_MAX);
}

static void plants_not_found_can_take_the_verdict_away(void **state)
{
    (void)state;
    const double d[] = {0.10, 0.12, 0.08, 0.11, 0.09, 0.10, 0.12}, low[] = {-0.05, -0.02, -0.06, -0.03, -0.04, -0.05, -0.01},
                 high[] = {0.12, 0.14, 0.10, 0.13, 0.11, 0.12, 0.14};
    assert_int_equal(judge(d, NULL, NULL, NULL, 7, unknown_real()).verdict, PAIRED_A_HIGHER);
    struct paired_answer a = judge(d, low, high, NULL, 7, unknown_real());
    assert_int_equal(a.verdict, PAIRED_CANNOT_TELL);
    assert_int_equal(a.reason, REASON_NOT_FOUND);
}

static void care_that_was_unequal_takes_the_verdict_away(void **state)
{
    (void)state;
    const double d[] = {0.20, 0.22, 0.18, 0.21, 0.19, 0.20, 0.01, 0.00};
    const bool unequal[] = {true, true, true, true, true, true, false, false};
    struct paired_answer a = judge(d, NULL, NULL, unequal, 8, unknown_real());
    assert_int_equal(a.verdict, PAIRED_CANNOT_TELL);
    assert_int_equal(a.reason, REASON_CARE);
    assert_int_equal(a.fair, 2);
}

static void no_difference_worth_having_is_an_answer(void **state)
{
    (void)state;
    const double d[] = {0.01, -0.01, 0.00, 0.02, -0.02, 0.01};
    assert_int_equal(judge(d, NULL, NULL, NULL, 6, unknown_real()).verdict, PAIRED_CANNOT_TELL);
    assert_int_equal(judge(d, NULL, NULL, NULL, 6, 0.05).verdict, PAIRED_NO_WORTHWHILE);
    assert_int_equal(judge(d, NULL, NULL, NULL, 6, 0.01).verdict, PAIRED_CANNOT_TELL);
}

static void one_bad_site_widens_and_does_not_decide(void **state)
{
    (void)state;
    const double d[] = {0.01, -0.01, 0.02, -0.02, 0.00, 0.70};
    assert_int_equal(judge(d, NULL, NULL, NULL, 6, unknown_real()).verdict, PAIRED_CANNOT_TELL);
}

/* One of many is significant: what was looked at afterwards must be clearer (trade.md, multiple outcomes). */
static void what_was_found_afterwards_must_be_clearer(void **state)
{
    (void)state;
    const double d[] = {0.20, 0.25, 0.15, 0.22, 0.18, 0.21};
    struct paired_wish wish = {.n = 6, .difference = d, .level = 0.95, .margin = unknown_real(), .of_many = 1};
    struct paired_answer a;
    struct failure why = {0};
    assert_int_equal(evidence_paired(&wish, &a, &why), OUTCOME_OK);
    assert_int_equal(a.verdict, PAIRED_A_HIGHER);
    wish.of_many = 3; /* 0.05/3 lies below 2/64, the least p of six sites */
    assert_int_equal(evidence_paired(&wish, &a, &why), OUTCOME_OK);
    assert_int_equal(a.verdict, PAIRED_CANNOT_TELL);
    assert_int_equal(a.reason, REASON_FEW_SITES);
}

static void sides_swap_with_the_sign(void **state)
{
    (void)state;
    const double d[] = {-0.20, -0.25, -0.15, -0.22, -0.18, -0.21};
    assert_int_equal(judge(d, NULL, NULL, NULL, 6, unknown_real()).verdict, PAIRED_B_HIGHER);
}

/* ---- whole programmes ---- */

struct town {
    struct made made;
    struct evidence_facts facts;
    struct plot_lives *lives;
};

/* Sites with a dense and a conventional plot of 100 plants each; alive[s] of each at autumn 2. */
static struct town town_make(const int alive[][2], size_t n)
{
    static const char *const codes[] = {"A", "B", "C", "D", "E", "F", "G", "H"}, *const kinds[] = {"Betula pendula", "Acer campestre"};
    struct town t = {0};
    int32_t day = date_make(2022, 2, 1);
    for (size_t s = 0; s < n; s++) {
        size_t site = made_site(&t.made, codes[s]), first = made_visit(&t.made, site, day + 5, true),
               last = made_visit(&t.made, site, day + 590, false);
        for (int k = 0; k < 2; k++) {
            size_t plot = made_plot(&t.made, site, k == 0 ? "D1" : "C1", k == 0 ? REGIME_DENSE_PREPARED : REGIME_CONVENTIONAL,
                                    k == 0 ? 3 : 1, 100, day);
            for (int i = 0; i < 100; i++) {
                size_t plant = made_plant(&t.made, plot, kinds[i % 2], ORIGIN_FIRST_PLANTING);
                made_record(&t.made, first, plant, STATUS_ALIVE, 50);
                made_record(&t.made, last, plant, i < alive[s][k] ? STATUS_ALIVE : STATUS_DEAD_STANDING, 70);
            }
        }
    }
    return t;
}

static void town_read(struct town *t)
{
    struct failure why = {0};
    t->facts = made_facts(&t->made);
    assert_int_equal(evidence_lives(&t->facts, &t->made.arena, &t->lives, &why), OUTCOME_OK);
}

static void pooling_weighs_sites_and_leaves_each_out(void **state)
{
    (void)state;
    const int alive[6][2] = {{90, 70}, {85, 70}, {95, 60}, {80, 75}, {88, 66}, {70, 69}};
    struct town t = town_make(alive, 6);
    struct site_difference *pairs = NULL;
    struct sites_pool pool;
    struct failure why = {0};
    size_t n = 0;
    town_read(&t);
    assert_int_equal(evidence_pairs(&t.facts, t.lives, REGIME_DENSE_PREPARED, REGIME_CONVENTIONAL, 0.95, &t.made.arena, &pairs, &n, &why),
                     OUTCOME_OK);
    assert_int_equal(n, 6);
    assert_int_equal(evidence_pool(pairs, n, 0.95, &t.made.arena, &pool, &why), OUTCOME_OK);
    assert_near(pool.effect[0], 0.20, 1e-12);
    assert_near(pool.variance[0], 91. / 102 * 11 / 102 / 102 + 71. / 102 * 31 / 102 / 102, 1e-12);
    struct pool_result reml;
    assert_int_equal(pool_effects(pool.effect, pool.variance, n, POOL_REML, true, 0.95, &t.made.arena, &reml, &why), OUTCOME_OK);
    assert_near(pool.main->effect.value, reml.effect.value, 1e-12);
    assert_true(pool.main->predict_low < pool.main->effect.low && pool.main->predict_high > pool.main->effect.high);
    assert_true(pool.most_without < 6);
    assert_int_equal(evidence_pool(pairs, 1, 0.95, &t.made.arena, &pool, &why), OUTCOME_DATA);
    made_free(&t.made);
}

static void the_model_finds_the_side_and_counts_its_freedom(void **state)
{
    (void)state;
    const int alive[6][2] = {{90, 70}, {85, 70}, {95, 60}, {80, 75}, {88, 66}, {70, 69}};
    struct town t = town_make(alive, 6);
    struct sites_model m;
    struct failure why = {0};
    town_read(&t);
    assert_int_equal(evidence_sites_model(t.lives, t.facts.n_plots, false, 0.95, 1, &t.made.arena, &m, &why), OUTCOME_OK);
    assert_int_equal(m.regimes[0].regime, REGIME_CONVENTIONAL);
    assert_near(m.df, 12 - 6 - 1, 0);
    assert_true(m.regimes[1].odds.low > 1 && m.regimes[1].survival > m.regimes[0].survival);
    assert_true(m.has_shuffle && m.shuffle.exact);
    assert_near(m.shuffle.p_least, 2.0 / 64, 1e-9);
    assert_int_equal(evidence_sites_model(t.lives, 2, false, 0.95, 1, &t.made.arena, &m, &why), OUTCOME_DATA);
    made_free(&t.made);
}

static void every_site_stays_on_the_roll(void **state)
{
    (void)state;
    const int alive[4][2] = {{90, 70}, {85, 70}, {95, 60}, {80, 75}};
    struct town t = town_make(alive, 4);
    struct sites_roll roll;
    struct failure why = {0};
    /* C goes on reporting a year later, D is given up, another is turned down, another is planned */
    size_t late = made_visit(&t.made, 2, date_make(2022, 2, 1) + 955, false);
    for (size_t p = 0; p < t.made.n_plants; p++)
        if (t.made.plants[p].plot_id == 5 || t.made.plants[p].plot_id == 6)
            made_record(&t.made, late, p, STATUS_ALIVE, 90);
    t.made.plots[6].ended_on = t.made.plots[7].ended_on = date_make(2024, 1, 1);
    t.made.sites[made_site(&t.made, "X")].stage = STAGE_REJECTED;
    t.made.sites[made_site(&t.made, "Y")].stage = STAGE_DESIGNED;
    town_read(&t);
    assert_int_equal(evidence_roll(&t.facts, t.lives, &t.made.arena, &roll, &why), OUTCOME_OK);
    assert_int_equal(roll.n, 6);
    assert_int_equal(roll.count[SITE_SILENT], 2);
    assert_int_equal(roll.count[SITE_REPORTING], 1);
    assert_int_equal(roll.count[SITE_LOST], 1);
    assert_int_equal(roll.count[SITE_REJECTED], 1);
    assert_int_equal(roll.count[SITE_PLANNED], 1);
    assert_non_null(strstr(roll.sentence, "A has not reported since 2023-09-14"));
    made_free(&t.made);
}

static void departing_from_the_recipe_is_named(void **state)
{
    (void)state;
    const int alive[3][2] = {{90, 70}, {85, 70}, {95, 60}};
    struct town t = town_make(alive, 3);
    struct sites_roll roll;
    struct failure why = {0};
    t.made.treatments[4].levels[TRIAL_DENSITY] = "2 per m2";
    town_read(&t);
    assert_int_equal(evidence_roll(&t.facts, t.lives, &t.made.arena, &roll, &why), OUTCOME_OK);
    assert_null(roll.sites[0].deviations);
    assert_non_null(strstr(roll.sites[2].deviations, "D1: density 2 per m2 where most have 3 per m2"));
    made_free(&t.made);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(three_sites_are_not_enough_whatever_they_show),
        cmocka_unit_test(five_sites_cannot_and_six_can),
        cmocka_unit_test(plants_not_found_can_take_the_verdict_away),
        cmocka_unit_test(care_that_was_unequal_takes_the_verdict_away),
        cmocka_unit_test(no_difference_worth_having_is_an_answer),
        cmocka_unit_test(one_bad_site_widens_and_does_not_decide),
        cmocka_unit_test(what_was_found_afterwards_must_be_clearer),
        cmocka_unit_test(sides_swap_with_the_sign),
        cmocka_unit_test(pooling_weighs_sites_and_leaves_each_out),
        cmocka_unit_test(the_model_finds_the_side_and_counts_its_freedom),
        cmocka_unit_test(every_site_stays_on_the_roll),
        cmocka_unit_test(departing_from_the_recipe_is_named),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
