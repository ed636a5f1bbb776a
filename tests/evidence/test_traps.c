/* SPDX-License-Identifier: GPL-3.0-or-later
 * Traps of the trade in which the usual reading misleads, beside those of the other tests (docs/methods/traps.md lists all). Each test
 * works out the usual reading too and shows that it says something else. Invented data. */
#include "evidence/curves.h"
#include "evidence/findings.h"
#include "evidence/increments.h"
#include "evidence/squares.h"
#include "geo/geo.h"
#include "ground/ground.h"
#include "made.h"
#include "money/money.h"

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

static const char *const codes[] = {"A", "B", "C", "D", "E", "F", "G", "H"};

/* A plot of n plants of which `alive` live `days` after planting. */
static size_t plot_put(struct town *t, size_t site, const char *code, enum regime regime, int32_t planted, int days, int alive, int n)
{
    size_t plot = made_plot(&t->made, site, code, regime, regime == REGIME_DENSE_PREPARED ? 3 : 1, 100, planted),
           visit[2] = {made_visit(&t->made, site, planted + 5, true), made_visit(&t->made, site, planted + days, false)};
    for (int i = 0; i < n; i++) {
        size_t plant = made_plant(&t->made, plot, "Acer campestre", ORIGIN_FIRST_PLANTING);
        made_record(&t->made, visit[0], plant, STATUS_ALIVE, 50);
        made_record(&t->made, visit[1], plant, i < alive ? STATUS_ALIVE : STATUS_DEAD_STANDING, 60);
    }
    return plot;
}

/* 80 % at 10 months and 80 % at 14 months are not alike: 23.5 and 17.4 % die in a year (trade.md, computed; Sheil et al. 1995). */
static void eighty_per_cent_is_not_always_the_same(void **state)
{
    (void)state;
    struct town t = {0};
    struct plot_survival s[2];
    struct failure why = {0};
    size_t site = made_site(&t.made, "A");
    plot_put(&t, site, "D1", REGIME_DENSE_PREPARED, date_make(2022, 1, 1), 304, 80, 100);
    plot_put(&t, site, "C1", REGIME_CONVENTIONAL, date_make(2022, 1, 1), 426, 80, 100);
    town_read(&t);
    for (int k = 0; k < 2; k++)
        assert_int_equal(evidence_survival(&t.lives[k], SIZE_MAX, 0.95, &t.made.arena, &s[k], &why), OUTCOME_OK);
    assert_near(s[0].survival.value, s[1].survival.value, 0); /* the usual reading: no difference */
    assert_near(1 - s[0].annual.value, 0.235, 0.002);
    assert_near(1 - s[1].annual.value, 0.174, 0.002);
    made_free(&t.made);
}

static void five_of_five_is_no_percentage(void **state)
{
    (void)state;
    struct town t = {0};
    struct plot_survival s;
    struct failure why = {0};
    plot_put(&t, made_site(&t.made, "A"), "D1", REGIME_DENSE_PREPARED, date_make(2022, 1, 1), 400, 5, 5);
    town_read(&t);
    assert_int_equal(evidence_survival(&t.lives[0], SIZE_MAX, 0.95, &t.made.arena, &s, &why), OUTCOME_OK);
    assert_non_null(strstr(s.sentence, "5 of 5 alive (interval 57–100 %)"));
    assert_null(strstr(s.sentence, "100 % alive"));
    assert_near(s.survival.low, 0.5655, 1e-4); /* Wilson 1927; Newcombe 1998 */
    made_free(&t.made);
}

/* 20 plants put in later and 10 never planted by the plan stand there too: counted naively 110 of 100 live. */
static void survival_never_passes_a_hundred(void **state)
{
    (void)state;
    struct town t = {0};
    struct plot_survival s;
    struct failure why = {0};
    size_t site = made_site(&t.made, "A"), plot = plot_put(&t, site, "D1", REGIME_DENSE_PREPARED, date_make(2022, 1, 1), 600, 80, 100),
           late = made_visit(&t.made, site, date_make(2022, 1, 1) + 601, false);
    for (int i = 0; i < 30; i++)
        made_record(&t.made, late, made_plant(&t.made, plot, "Acer campestre", i < 20 ? ORIGIN_REPLACEMENT : ORIGIN_NATURAL_ARRIVAL),
                    STATUS_ALIVE, 40);
    for (int i = 0; i < 3; i++) /* a plant the first census did not know of */
        made_record(&t.made, late, made_plant(&t.made, plot, "Acer campestre", ORIGIN_FIRST_PLANTING), STATUS_ALIVE, 40);
    town_read(&t);
    assert_int_equal(evidence_survival(&t.lives[0], SIZE_MAX, 0.95, &t.made.arena, &s, &why), OUTCOME_OK);
    assert_int_equal(s.planted, 100);
    assert_near(s.survival.value, 0.80, 1e-12);
    assert_true((80 + 30 + 3) / 100. > 1);
    assert_near(s.stocking_m2, 1.10, 0.031); /* what stands there is told apart from what survived */
    made_free(&t.made);
}

/* Sites planted in the drought year lost more; dense plots stand mostly on them. Pooled, dense looks worse; within sites it is better. */
static void seasons_of_planting_are_compared_within_sites(void **state)
{
    (void)state;
    struct town t = {0};
    struct site_difference *pairs = NULL;
    struct paired_answer a;
    struct failure why = {0};
    size_t n = 0;
    double alive[2] = {0, 0}, all[2] = {0, 0};
    for (int s = 0; s < 8; s++) {
        bool drought = s < 4;
        size_t site = made_site(&t.made, codes[s]);
        int32_t day = date_make(drought ? 2023 : 2022, 2, 1);
        int size[2] = {drought ? 300 : 60, drought ? 60 : 300}, base = drought ? 50 : 85;
        for (int k = 0; k < 2; k++) {
            int share = base + (k == 0 ? 6 : 0) + s % 3 - 1;
            plot_put(&t, site, k == 0 ? "D1" : "C1", k == 0 ? REGIME_DENSE_PREPARED : REGIME_CONVENTIONAL, day, 600, size[k] * share / 100,
                     size[k]);
            alive[k] += size[k] * share / 100.0;
            all[k] += size[k];
        }
    }
    town_read(&t);
    assert_true(alive[0] / all[0] < alive[1] / all[1] - 0.15); /* the usual reading */
    assert_int_equal(evidence_pairs(&t.facts, t.lives, REGIME_DENSE_PREPARED, REGIME_CONVENTIONAL, 0.95, &t.made.arena, &pairs, &n, &why),
                     OUTCOME_OK);
    assert_int_equal(evidence_pairs_judge(pairs, n, 0.95, unknown_real(), &t.made.arena, &a, &why), OUTCOME_OK);
    assert_int_equal(a.verdict, PAIRED_A_HIGHER);
    made_free(&t.made);
}

/* In a thicket the dead are not noticed: 40 plants of the dense plot simply have no record. Of those recorded all live. */
static void the_dead_that_nobody_noticed_are_not_alive(void **state)
{
    (void)state;
    struct town t = {0};
    struct plot_survival s;
    struct failure why = {0};
    size_t site = made_site(&t.made, "A"), plot = made_plot(&t.made, site, "D1", REGIME_DENSE_PREPARED, 3, 100, date_make(2022, 1, 1)),
           visit[2] = {made_visit(&t.made, site, date_make(2022, 1, 6), true), made_visit(&t.made, site, date_make(2023, 9, 1), false)};
    for (int i = 0; i < 100; i++) {
        size_t plant = made_plant(&t.made, plot, "Acer campestre", ORIGIN_FIRST_PLANTING);
        made_record(&t.made, visit[0], plant, STATUS_ALIVE, 50);
        if (i < 60)
            made_record(&t.made, visit[1], plant, STATUS_ALIVE, 80);
    }
    town_read(&t);
    assert_int_equal(evidence_survival(&t.lives[0], SIZE_MAX, 0.95, &t.made.arena, &s, &why), OUTCOME_OK);
    assert_near(s.survival.value, 1, 0); /* the usual reading */
    assert_near(s.lowest.value, 0.60, 1e-12);
    assert_non_null(strstr(s.sentence, "40 were not found: between 60 and 100 %"));
    made_free(&t.made);
}

/* The first pilot site was the best; with the later ones there is nothing. */
static void the_first_site_is_not_the_rule(void **state)
{
    (void)state;
    const double all[] = {0.30, 0.02, -0.03, 0.01, 0.00, -0.02, 0.03};
    struct paired_wish first = {.n = 1, .difference = all, .level = 0.95, .margin = unknown_real()},
                       later = {.n = 7, .difference = all, .level = 0.95, .margin = unknown_real()};
    struct paired_answer a;
    struct failure why = {0};
    assert_int_equal(evidence_paired(&first, &a, &why), OUTCOME_OK);
    assert_int_equal(a.verdict, PAIRED_CANNOT_TELL);
    assert_false(is_known(a.mean.low));
    assert_int_equal(evidence_paired(&later, &a, &why), OUTCOME_OK);
    assert_int_equal(a.verdict, PAIRED_CANNOT_TELL);
    assert_true(a.mean.value < 0.06);
}

/* The dense plot has grown taller than the gap: the other grows less because it stands in shade. */
static void a_neighbour_in_the_shade_is_named(void **state)
{
    (void)state;
    struct town t = {0};
    struct shading s;
    struct failure why = {0};
    size_t site = made_site(&t.made, "A"), plot[2];
    plot[0] = plot_put(&t, site, "D1", REGIME_DENSE_PREPARED, date_make(2022, 1, 1), 1300, 40, 50);
    plot[1] = plot_put(&t, site, "C1", REGIME_CONVENTIONAL, date_make(2022, 1, 1), 1300, 40, 50);
    struct shape outline[2] = {shape_rectangle(&t.made.arena, 0, 0, 10, 10, 0), shape_rectangle(&t.made.arena, 12, 0, 10, 10, 0)};
    for (int k = 0; k < 2; k++)
        t.made.plots[plot[k]].wkb = shape_to_wkb(&outline[k], &t.made.arena);
    for (size_t i = 0; i < t.made.n_records; i++)
        if (t.made.visits[t.made.records[i].visit_id - 1].kind == VISIT_KIND_CENSUS &&
            t.made.plants[t.made.records[i].plant_id - 1].plot_id == 1)
            t.made.records[i].height_cm = 320;
    town_read(&t);
    assert_int_equal(evidence_shading(&t.lives[0], &t.lives[1], &t.made.arena, &s, &why), OUTCOME_OK);
    assert_near(s.gap_m, 2, 1e-9);
    assert_near(s.tallest_m, 3.2, 1e-9);
    assert_true(s.shades);
    assert_int_equal(evidence_shading(&t.lives[1], &t.lives[0], &t.made.arena, &s, &why), OUTCOME_OK);
    assert_false(s.shades);
    made_free(&t.made);
}

/* Observers who write to the next 5 cm: nothing in the mean shows it. */
static void favourite_digits_show(void **state)
{
    (void)state;
    double heaped[200], even[200], sums[2] = {0, 0};
    struct heaping h;
    struct failure why = {0};
    for (int i = 0; i < 200; i++) {
        even[i] = 40 + i * 7 % 60;
        heaped[i] = 5 * round(even[i] / 5);
        sums[0] += even[i];
        sums[1] += heaped[i];
    }
    assert_near(sums[0] / 200, sums[1] / 200, 1); /* the means agree */
    assert_int_equal(heaping_digits(heaped, 200, 1, &h, &why), OUTCOME_OK);
    assert_true(h.whipple > 400 && h.chisq.p < 1e-6);
    assert_int_equal(heaping_digits(even, 200, 1, &h, &why), OUTCOME_OK);
    assert_true(h.chisq.p > 0.05);
}

/* Loosening spreads the same soil over more depth: the stock to a fixed depth falls by a quarter and nothing was lost. */
static void loosened_ground_has_not_lost_its_carbon(void **state)
{
    (void)state;
    struct carbon_layer before = {0, 30, 2, 3.448, 1.4, 0}, after = {0, 40, 2, 3.448, 1.05, 0}, top = {0, 30, 2, 3.448, 1.05, 0};
    double fixed[2], same = 0;
    struct failure why = {0};
    assert_int_equal(carbon_fixed_depth(&before, 1, &fixed[0], &why), OUTCOME_OK);
    assert_int_equal(carbon_fixed_depth(&top, 1, &fixed[1], &why), OUTCOME_OK);
    assert_near(fixed[1] / fixed[0], 0.75, 1e-9); /* the usual reading */
    assert_int_equal(carbon_equivalent_mass(&after, 1, &before, 1, CARBON_LINEAR, &same, &why), OUTCOME_OK);
    assert_near(same, fixed[0], 1e-9);
}

/* Three times the plants share the same digging: dearer by the square metre, cheaper by the plant. Both are told. */
static void money_by_the_plant_flatters_density(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct cost_ratio dense, sparse, none;
    struct failure why = {0};
    struct survival_belief d = {300, 231, unknown_real(), unknown_real(), unknown_real()},
                           c = {100, 63, unknown_real(), unknown_real(), unknown_real()},
                           dead = {100, 0, unknown_real(), unknown_real(), unknown_real()};
    assert_int_equal(cost_per_established(2500, 0, &d, 0.95, 2000, 1, "EUR", &arena, &dense, &why), OUTCOME_OK);
    assert_int_equal(cost_per_established(1100, 0, &c, 0.95, 2000, 1, "EUR", &arena, &sparse, &why), OUTCOME_OK);
    assert_true(dense.estimate < sparse.estimate);
    assert_true(2500. / 100 > 1100. / 100);
    assert_int_equal(cost_per_established(1100, 0, &dead, 0.95, 2000, 1, "EUR", &arena, &none, &why), OUTCOME_OK);
    assert_false(is_known(none.estimate));
    assert_non_null(strstr(none.words, "no plants established"));
    arena_clear(&arena);
}

/* A wet hollow kills whole squares: the share alive is the same as where deaths lie by chance, the picture is not. */
static void the_dead_that_lie_together_are_seen(void **state)
{
    (void)state;
    double together[100], apart[100], sums[2] = {0, 0};
    struct clumping c;
    struct failure why = {0};
    struct random_stream r = random_make(5, 0);
    size_t order[100], row = 0, column = 0;
    for (size_t i = 0; i < 100; i++) {
        order[i] = i;
        together[i] = i % 10 < 4 && i / 10 < 6 ? 0 : 1;
    }
    random_shuffle(&r, order, 100);
    for (size_t i = 0; i < 100; i++) {
        apart[i] = together[order[i]];
        sums[0] += together[i];
        sums[1] += apart[i];
    }
    assert_near(sums[0], sums[1], 0);
    assert_int_equal(squares_clumping(together, 10, 10, 999, 1, &c, &why), OUTCOME_OK);
    assert_true(c.p <= 0.001 && c.i > 0.7);
    assert_int_equal(squares_clumping(apart, 10, 10, 999, 1, &c, &why), OUTCOME_OK);
    assert_true(c.p > 0.05);
    assert_true(square_place("C07", &row, &column) && row == 2 && column == 6);
    assert_true(square_place("AA1", &row, &column) && row == 26 && column == 0);
    assert_false(square_place("7C", &row, &column) || square_place("C0", &row, &column) || square_place(NULL, &row, &column));
}

/* Findings say of themselves what they presume and whether it holds, and whether they were asked beforehand. */
static void findings_carry_what_they_presume(void **state)
{
    (void)state;
    struct town t = {0};
    struct evidence_finding *list = NULL;
    struct trial_table design;
    struct failure why = {0};
    size_t n = 0, beforehand = 0, failing = 0;
    static const enum regime pairs[1][2] = {{REGIME_DENSE_PREPARED, REGIME_CONVENTIONAL}};
    for (int s = 0; s < 7; s++) {
        size_t site = made_site(&t.made, codes[s]),
               d = plot_put(&t, site, "D1", REGIME_DENSE_PREPARED, date_make(2022, 2, 1), 600, 85 + s % 3, 100);
        plot_put(&t, site, "C1", REGIME_CONVENTIONAL, date_make(2022, 2, 1), 600, 60 + s % 2, 100);
        if (s == 0)
            for (int i = 0; i < 5; i++)
                made_watering(&t.made, d, date_make(2022, 6, 1) + i, 15);
    }
    town_read(&t);
    assert_int_equal(trial_compare(t.facts.treatments, t.facts.n_plots, &t.made.arena, &design, &why), OUTCOME_OK);
    struct findings_wish wish = {.pairs = pairs, .n_pairs = 1, .primary = "Survival at autumn 3", .margin = unknown_real(), .level = 0.95};
    assert_int_equal(evidence_findings(&t.facts, t.lives, &design, &wish, &t.made.arena, &list, &n, &why), OUTCOME_OK);
    assert_true(n >= 2);
    assert_true(list[0].beforehand && strcmp(list[0].about, "survival dense_prepared conventional") == 0);
    assert_int_equal(list[0].verdict, PAIRED_A_HIGHER);
    assert_string_equal(list[0].rung, "repeated"); /* density and preparation differ together: never attributed */
    assert_non_null(strstr(list[0].may_not, "density"));
    for (size_t i = 0; i < n; i++) {
        beforehand += list[i].beforehand;
        if (!list[i].beforehand && is_known(list[i].p))
            assert_true(list[i].p_adjusted >= list[i].p - 1e-12);
    }
    assert_int_equal(beforehand, 1);
    for (size_t k = 0; k < list[0].n_assumptions; k++)
        failing += !list[0].assumptions[k].holds;
    assert_int_equal(failing, 1); /* care on one site */
    const char *plainly[5];
    evidence_plainly(&t.facts, t.lives, &design, list, n, &t.made.arena, plainly);
    for (int i = 0; i < 5; i++)
        assert_null(strstr(plainly[i], "because of density"));
    assert_non_null(strstr(plainly[3], "cared for alike"));
    made_free(&t.made);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(eighty_per_cent_is_not_always_the_same),
        cmocka_unit_test(five_of_five_is_no_percentage),
        cmocka_unit_test(survival_never_passes_a_hundred),
        cmocka_unit_test(seasons_of_planting_are_compared_within_sites),
        cmocka_unit_test(the_dead_that_nobody_noticed_are_not_alive),
        cmocka_unit_test(the_first_site_is_not_the_rule),
        cmocka_unit_test(a_neighbour_in_the_shade_is_named),
        cmocka_unit_test(favourite_digits_show),
        cmocka_unit_test(loosened_ground_has_not_lost_its_carbon),
        cmocka_unit_test(money_by_the_plant_flatters_density),
        cmocka_unit_test(the_dead_that_lie_together_are_seen),
        cmocka_unit_test(findings_carry_what_they_presume),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
