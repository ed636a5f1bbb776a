/* SPDX-License-Identifier: GPL-3.0-or-later
 * Proportions, exact tests, clusters and leagues: relations that must hold, and what is refused. */
#include "stats/stats.h"
#include "../testlib.h"

static void mirrored_counts_mirror_the_interval(void **state)
{
    (void)state;
    for (double n = 1; n <= 40; n++)
        for (double x = 0; x <= n; x++) {
            struct estimate a, b;
            for (int corrected = 0; corrected < 2; corrected++) {
                assert_int_equal(proportion_wilson(x, n, .95, corrected, &a, NULL), OUTCOME_OK);
                assert_int_equal(proportion_wilson(n - x, n, .95, corrected, &b, NULL), OUTCOME_OK);
                assert_near(a.low, 1 - b.high, 1e-12);
                assert_true(a.low >= 0 && a.high <= 1 && a.low <= a.value && a.value <= a.high);
            }
            assert_int_equal(proportion_exact(x, n, .95, &a, NULL), OUTCOME_OK);
            assert_int_equal(proportion_exact(n - x, n, .95, &b, NULL), OUTCOME_OK);
            assert_near(a.low, 1 - b.high, 1e-12);
        }
}

static void none_of_n_has_a_lower_end_of_exactly_nothing(void **state)
{
    (void)state;
    struct estimate e;
    for (double n = 1; n < 200; n++) {
        assert_int_equal(proportion_wilson(0, n, .95, false, &e, NULL), OUTCOME_OK);
        assert_true(e.low == 0);
        assert_int_equal(proportion_wilson(n, n, .95, false, &e, NULL), OUTCOME_OK);
        assert_true(e.high == 1);
    }
}

static void nothing_looked_at_is_refused_with_a_remedy(void **state)
{
    (void)state;
    struct failure why = {0};
    struct estimate e = {.value = 7};
    assert_int_equal(proportion_wilson(0, 0, .95, false, &e, &why), OUTCOME_DATA);
    assert_true(why.sentence[0] != 0 && why.remedy[0] != 0);
    assert_near(e.value, 7, 0); /* untouched */
    assert_int_equal(proportion_wilson(5, 4, .95, false, &e, &why), OUTCOME_DATA);
    assert_int_equal(proportion_wilson(NAN, 4, .95, false, &e, &why), OUTCOME_DATA);
    assert_int_equal(proportion_wilson(1, 4, 95, false, &e, &why), OUTCOME_USAGE);
}

static void exchanging_groups_turns_the_difference_round(void **state)
{
    (void)state;
    struct estimate a, b;
    assert_int_equal(difference_newcombe(17, 30, 4, 25, .9, false, &a, NULL), OUTCOME_OK);
    assert_int_equal(difference_newcombe(4, 25, 17, 30, .9, false, &b, NULL), OUTCOME_OK);
    assert_near(a.low, -b.high, 1e-14);
    assert_near(a.high, -b.low, 1e-14);
}

static void fisher_does_not_care_which_way_the_table_lies(void **state)
{
    (void)state;
    struct fisher_result a, b;
    assert_int_equal(table_fisher((struct two_by_two){9, 3, 5, 14}, TWO_SIDED, .95, &a, NULL), OUTCOME_OK);
    assert_int_equal(table_fisher((struct two_by_two){9, 5, 3, 14}, TWO_SIDED, .95, &b, NULL), OUTCOME_OK);
    assert_near(a.p, b.p, 1e-13);
    assert_near(a.odds_ratio.value, b.odds_ratio.value, 1e-9);
}

static void unconditional_tests_keep_their_level(void **state)
{
    (void)state; /* the chance of p at most .05 never passes .05, whatever the common proportion */
    enum { N1 = 9, N2 = 7 };
    double p[N1 + 1][N2 + 1], barnard[N1 + 1][N2 + 1];
    struct unconditional_result r;
    for (int i = 0; i <= N1; i++)
        for (int j = 0; j <= N2; j++) {
            struct two_by_two t = {i, N1 - i, j, N2 - j};
            assert_int_equal(table_boschloo(t, TWO_SIDED, &r, NULL), OUTCOME_OK);
            p[i][j] = r.p;
            assert_int_equal(table_barnard(t, TWO_SIDED, &r, NULL), OUTCOME_OK);
            barnard[i][j] = r.p;
            struct fisher_result f;
            assert_int_equal(table_fisher(t, TWO_SIDED, .95, &f, NULL), OUTCOME_OK);
            assert_true(p[i][j] <= f.p + 1e-9); /* Boschloo 1970: never more cautious than Fisher */
        }
    for (double q = .02; q < 1; q += .02) {
        double hit = 0, hit_barnard = 0;
        for (int i = 0; i <= N1; i++)
            for (int j = 0; j <= N2; j++) {
                double chance = exp(lgamma(N1 + 1.) - lgamma(i + 1.) - lgamma(N1 - i + 1.) + lgamma(N2 + 1.) - lgamma(j + 1.) -
                                    lgamma(N2 - j + 1.) + (i + j) * log(q) + (N1 + N2 - i - j) * log(1 - q));
                hit += p[i][j] <= .05 ? chance : 0;
                hit_barnard += barnard[i][j] <= .05 ? chance : 0;
            }
        assert_true(hit <= .05 + 1e-9 && hit_barnard <= .05 + 1e-9);
    }
}

static void one_plot_is_no_replicate(void **state)
{
    (void)state;
    struct cluster_spread s;
    struct failure why = {0};
    double y = 50, n = 80;
    assert_int_equal(cluster_proportion(&y, &n, 1, .95, &s, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "only one plot"));
}

static void plots_that_differ_much_widen_the_interval(void **state)
{
    (void)state; /* the trap: 400 trees of four plots read as 400 replicates */
    double y[] = {95, 90, 20, 15}, n[] = {100, 100, 100, 100};
    struct cluster_spread s;
    struct estimate naive;
    assert_int_equal(cluster_proportion(y, n, 4, .95, &s, NULL), OUTCOME_OK);
    assert_int_equal(proportion_wilson(220, 400, .95, false, &naive, NULL), OUTCOME_OK);
    assert_true(s.proportion.high - s.proportion.low > 5 * (naive.high - naive.low));
    assert_true(s.effective_n < 10);
}

static void three_lucky_plants_do_not_lead_the_league(void **state)
{
    (void)state; /* the trap: 3 of 3 ranks above 190 of 200 when read as 100 % */
    double y[] = {3, 190, 80, 40, 120, 60}, n[] = {3, 200, 100, 80, 200, 90};
    struct arena arena = {0};
    struct league l, again;
    assert_int_equal(league_beta_binomial(y, n, 6, .95, 1, 2000, 5, &arena, &l, NULL), OUTCOME_OK);
    assert_true(l.each[0].value < l.each[1].value);
    assert_true(l.p_top[1] > l.p_top[0]);
    assert_true(l.rank_high[0] - l.rank_low[0] >= 3); /* hardly known */
    double total = 0;
    for (size_t i = 0; i < 6; i++)
        total += l.p_top[i];
    assert_near(total, 1, 1e-9);
    assert_int_equal(league_beta_binomial(y, n, 6, .95, 1, 2000, 5, &arena, &again, NULL), OUTCOME_OK);
    assert_memory_equal(l.p_rank, again.p_rank, 36 * sizeof(double));
    arena_clear(&arena);
}

static void equal_members_show_no_spread(void **state)
{
    (void)state;
    double y[] = {5, 5, 5, 5}, n[] = {10, 10, 10, 10};
    struct arena arena = {0};
    struct league l;
    assert_int_equal(league_beta_binomial(y, n, 4, .95, 1, 500, 1, &arena, &l, NULL), OUTCOME_OK);
    assert_true(l.no_spread);
    arena_clear(&arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(mirrored_counts_mirror_the_interval),
        cmocka_unit_test(none_of_n_has_a_lower_end_of_exactly_nothing),
        cmocka_unit_test(nothing_looked_at_is_refused_with_a_remedy),
        cmocka_unit_test(exchanging_groups_turns_the_difference_round),
        cmocka_unit_test(fisher_does_not_care_which_way_the_table_lies),
        cmocka_unit_test(unconditional_tests_keep_their_level),
        cmocka_unit_test(one_plot_is_no_replicate),
        cmocka_unit_test(plots_that_differ_much_widen_the_interval),
        cmocka_unit_test(three_lucky_plants_do_not_lead_the_league),
        cmocka_unit_test(equal_members_show_no_spread),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
