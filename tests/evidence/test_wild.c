/* SPDX-License-Identifier: GPL-3.0-or-later
 * evidence/: wildlife by effort, equal looks, before and after, likeness, years. Invented data. */
#include "evidence/wild.h"
#include "made.h"
#include "testlib.h"

static const char *const codes[] = {"A", "B", "C", "D", "E", "F", "G"};
static const char *const kinds[] = {"k01", "k02", "k03", "k04", "k05", "k06", "k07", "k08", "k09", "k10",
                                    "k11", "k12", "k13", "k14", "k15", "k16", "k17", "k18", "k19", "k20"};

/* Looks at a plot: kind k is seen with chance 1/(k + 2) on each, drawn from a stream; `more` multiplies individuals. */
static void looks_make(struct made *m, size_t plot, int n, int32_t from, struct random_stream *r, int more)
{
    for (int i = 0; i < n; i++) {
        size_t look = made_look(m, plot, from + i, WILDLIFE_GROUP_LITTER_ANIMALS, 10);
        for (int k = 0; k < 20; k++)
            if (random_uniform(r) < 1.0 / (k + 2))
                made_sighting(m, look, kinds[k], more);
    }
}

/* F43, trade.md: twice the looks find more kinds. The true community is the same everywhere. */
static void more_looks_are_not_more_kinds(void **state)
{
    (void)state;
    struct made m = {0};
    struct random_stream r = random_make(5, 0);
    struct wild wild;
    struct wild_pairs pairs;
    struct failure why = {0};
    for (int s = 0; s < 7; s++) {
        size_t site = made_site(&m, codes[s]);
        size_t d = made_plot(&m, site, "D1", REGIME_DENSE_PREPARED, 3, 100, date_make(2022, 2, 1)),
               c = made_plot(&m, site, "C1", REGIME_CONVENTIONAL, 1, 100, date_make(2022, 2, 1));
        looks_make(&m, d, 24, date_make(2023, 5, 1), &r, 1);
        looks_make(&m, c, 6, date_make(2023, 5, 1), &r, 1);
    }
    struct evidence_facts facts = made_facts(&m);
    assert_int_equal(evidence_wild(&facts, &m.arena, &wild, &why), OUTCOME_OK);
    assert_int_equal(evidence_wild_pairs(&facts, &wild, WILDLIFE_GROUP_LITTER_ANIMALS, REGIME_DENSE_PREPARED, REGIME_CONVENTIONAL, 0.95,
                                         &m.arena, &pairs, &why),
                     OUTCOME_OK);
    assert_int_equal(pairs.n, 7);
    assert_true(pairs.raw.low > 2); /* the naive reading: dense plots have many more kinds */
    assert_int_equal(pairs.kinds.verdict, PAIRED_CANNOT_TELL);
    assert_int_equal(pairs.pairs[0].at_looks, 6);
    assert_int_equal(pairs.rate.verdict, PAIRED_CANNOT_TELL);
    made_free(&m);
}

static void a_look_that_found_nothing_counts(void **state)
{
    (void)state;
    struct made m = {0};
    struct plot_wildlife *rows = NULL;
    struct failure why = {0};
    size_t n = 0, site = made_site(&m, "A"), plot = made_plot(&m, site, "D1", REGIME_DENSE_PREPARED, 3, 100, date_make(2022, 2, 1));
    for (int i = 0; i < 10; i++) {
        size_t look = made_look(&m, plot, date_make(2023, 5, 1) + i, WILDLIFE_GROUP_BIRDS, 10);
        if (i < 5)
            made_sighting(&m, look, "wren", 2);
    }
    struct evidence_facts facts = made_facts(&m);
    assert_int_equal(evidence_wildlife(&facts, 0.95, &m.arena, &rows, &n, &why), OUTCOME_OK);
    assert_int_equal(n, 1);
    assert_int_equal(rows[0].looks_empty, 5);
    assert_near(rows[0].rate.value, 10. / 100, 1e-12);
    made_free(&m);
}

/* Dense plots were put where four times as many animals lived already; planting changed nothing. */
static void what_was_there_before_is_taken_off(void **state)
{
    (void)state;
    struct made m = {0};
    struct random_stream r = random_make(11, 0);
    struct wild wild;
    struct wild_pairs pairs;
    struct failure why = {0};
    for (int s = 0; s < 7; s++) {
        size_t site = made_site(&m, codes[s]);
        for (int k = 0; k < 2; k++) {
            size_t plot = made_plot(&m, site, k == 0 ? "D1" : "C1", k == 0 ? REGIME_DENSE_PREPARED : REGIME_CONVENTIONAL, 1, 100,
                                    date_make(2022, 2, 1));
            looks_make(&m, plot, 12, date_make(2021, 5, 1), &r, k == 0 ? 4 : 1);
            looks_make(&m, plot, 12, date_make(2023, 5, 1), &r, k == 0 ? 4 : 1);
        }
    }
    struct evidence_facts facts = made_facts(&m);
    assert_int_equal(evidence_wild(&facts, &m.arena, &wild, &why), OUTCOME_OK);
    assert_int_equal(evidence_wild_pairs(&facts, &wild, WILDLIFE_GROUP_LITTER_ANIMALS, REGIME_DENSE_PREPARED, REGIME_CONVENTIONAL, 0.95,
                                         &m.arena, &pairs, &why),
                     OUTCOME_OK);
    assert_int_equal(pairs.rate.verdict, PAIRED_A_HIGHER); /* after planting alone: four times as many */
    assert_int_equal(pairs.n_before, 7);
    assert_int_equal(pairs.before_after.verdict, PAIRED_CANNOT_TELL);
    assert_near(pairs.before_after.mean.value, 0, 0.35);
    made_free(&m);
}

static void curves_pass_through_what_was_seen_and_grow(void **state)
{
    (void)state;
    struct made m = {0};
    struct random_stream r = random_make(3, 0);
    struct wild wild;
    struct wild_curve *curves = NULL;
    struct failure why = {0};
    size_t n = 0, site = made_site(&m, "A");
    for (int k = 0; k < 3; k++)
        looks_make(&m, made_plot(&m, site, codes[k], REGIME_DENSE_PREPARED, 3, 100, date_make(2022, 2, 1)), 8 + 4 * k,
                   date_make(2023, 5, 1), &r, 1);
    struct evidence_facts facts = made_facts(&m);
    assert_int_equal(evidence_wild(&facts, &m.arena, &wild, &why), OUTCOME_OK);
    assert_int_equal(evidence_wild_curves(&facts, &wild, 0.95, 50, 1, &m.arena, &curves, &n, &why), OUTCOME_OK);
    assert_int_equal(n, 3);
    for (size_t i = 0; i < n; i++) {
        bool passed = false;
        for (size_t k = 0; k < curves[i].n; k++) {
            if (k > 0)
                assert_true(curves[i].hill[0][k].value >= curves[i].hill[0][k - 1].value - 1e-9);
            if (curves[i].m[k] == (double)curves[i].looks) {
                assert_near(curves[i].hill[0][k].value, (double)curves[i].taxa, 1e-9);
                passed = true;
            }
            assert_true(curves[i].hill[1][k].value <= curves[i].hill[0][k].value + 1e-9);
        }
        assert_true(passed);
        assert_true(curves[i].asymptote[0] >= (double)curves[i].taxa);
        assert_near(curves[i].common_coverage, curves[0].common_coverage, 1e-12);
    }
    made_free(&m);
}

static void plots_alike_are_alike_and_years_turn_over(void **state)
{
    (void)state;
    struct made m = {0};
    struct wild wild;
    struct wild_likeness l;
    struct wild_turnover *rows = NULL;
    struct failure why = {0};
    size_t n = 0, site = made_site(&m, "A");
    for (int k = 0; k < 3; k++) {
        size_t plot = made_plot(&m, site, codes[k], REGIME_DENSE_PREPARED, 3, 100, date_make(2022, 2, 1));
        for (int year = 2023; year < 2025; year++) {
            size_t look = made_look(&m, plot, date_make(year, 5, 1), WILDLIFE_GROUP_BIRDS, 10);
            made_sighting(&m, look, "wren", 2);
            made_sighting(&m, look, k == 2 ? "robin" : year == 2023 ? "Dunnock" : "dunnock", 2);
            if (year == 2024)
                made_sighting(&m, look, "tit", 4);
        }
    }
    struct evidence_facts facts = made_facts(&m);
    assert_int_equal(evidence_wild(&facts, &m.arena, &wild, &why), OUTCOME_OK);
    assert_int_equal(wild.n_taxa[WILDLIFE_GROUP_BIRDS], 4); /* letters large or small make no new kind */
    assert_int_equal(evidence_wild_likeness(&facts, &wild, WILDLIFE_GROUP_BIRDS, 1, &m.arena, &l, &why), OUTCOME_OK);
    assert_near(l.unlike[1], 0, 1e-12);
    assert_near(l.unlike[2], 4. / 12, 1e-12); /* 2 and 2 of 6 individuals per look in neither's other: |2−0| + |0−2| over 12 */
    assert_int_equal(evidence_wild_turnover(&facts, &wild, &m.arena, &rows, &n, &why), OUTCOME_OK);
    assert_int_equal(n, 3);
    assert_near(rows[0].change.kept, 2, 0);
    assert_near(rows[0].change.gained, 1, 0);
    made_free(&m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(more_looks_are_not_more_kinds),
        cmocka_unit_test(a_look_that_found_nothing_counts),
        cmocka_unit_test(what_was_there_before_is_taken_off),
        cmocka_unit_test(curves_pass_through_what_was_seen_and_grow),
        cmocka_unit_test(plots_alike_are_alike_and_years_turn_over),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
