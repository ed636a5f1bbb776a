/* SPDX-License-Identifier: GPL-3.0-or-later
 * Pooling, permutation, diversity, rates and agreement: relations that must hold, and what is refused. */
#include "stats/stats.h"
#include "../testlib.h"

static void sites_that_agree_pool_like_one_effect(void **state)
{
    (void)state;
    double y[] = {.3, .3, .3, .3}, v[] = {.01, .02, .05, .04};
    struct arena arena = {0};
    struct pool_result fixed, random;
    assert_int_equal(pool_effects(y, v, 4, POOL_FIXED, false, .95, &arena, &fixed, NULL), OUTCOME_OK);
    for (enum pool_method m = POOL_DERSIMONIAN_LAIRD; m <= POOL_PAULE_MANDEL; m++) {
        assert_int_equal(pool_effects(y, v, 4, m, false, .95, &arena, &random, NULL), OUTCOME_OK);
        assert_near(random.tau2, 0, 1e-12);
        assert_near(random.effect.se, fixed.effect.se, 1e-12);
    }
    arena_clear(&arena);
}

static void a_site_far_off_widens_the_prediction(void **state)
{
    (void)state;
    double y[] = {.3, .35, .28, .31, 2}, v[] = {.01, .02, .02, .02, .02};
    struct arena arena = {0};
    struct pool_result near4, all5;
    assert_int_equal(pool_effects(y, v, 4, POOL_REML, true, .95, &arena, &near4, NULL), OUTCOME_OK);
    assert_int_equal(pool_effects(y, v, 5, POOL_REML, true, .95, &arena, &all5, NULL), OUTCOME_OK);
    assert_true(all5.predict_high - all5.predict_low > 3 * (near4.predict_high - near4.predict_low));
    assert_true(all5.predict_low < all5.effect.low && all5.predict_high > all5.effect.high);
    assert_near(all5.without[4].value, near4.effect.value, 1e-10);
    arena_clear(&arena);
}

static void three_pairs_can_never_convince(void **state)
{
    (void)state;
    double d[] = {5, 6, 7};
    struct sign_flip f;
    assert_int_equal(permute_sign_flip(d, 3, .95, 0, 1, &f, NULL), OUTCOME_OK);
    assert_near(f.p, .25, 1e-12);
    assert_near(f.p_least, .25, 1e-12);
    assert_false(is_known(f.low));
}

static void drawn_flips_come_near_all_flips(void **state)
{
    (void)state;
    double d[30];
    struct sign_flip all, drawn;
    struct random_stream r = random_make(3, 0);
    for (int i = 0; i < 30; i++)
        d[i] = random_normal(&r) + .3;
    assert_int_equal(permute_sign_flip(d, 22, .95, 0, 1, &all, NULL), OUTCOME_OK);
    assert_true(all.exact);
    for (int i = 22; i < 30; i++)
        d[i] = 0; /* zero differences change no sum: the exact p stays */
    assert_int_equal(permute_sign_flip(d, 30, .95, 40000, 1, &drawn, NULL), OUTCOME_OK);
    assert_false(drawn.exact);
    assert_near(drawn.p, all.p, .01);
}

static void shuffling_stays_in_its_block(void **state)
{
    (void)state; /* the trap: sites differ far more than regimes; free shuffling sees nothing */
    double y[] = {1, 2, 11, 12, 21, 22, 31, 32, 41, 42, 51, 52};
    size_t group[] = {0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1}, block[] = {0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5, 5};
    struct shuffle_test in, free_;
    assert_int_equal(permute_groups(y, group, block, 12, 2, 0, 1, &in, NULL), OUTCOME_OK);
    assert_int_equal(permute_groups(y, group, NULL, 12, 2, 0, 1, &free_, NULL), OUTCOME_OK);
    assert_near(in.arrangements, 64, 0);
    assert_near(in.p, 2 / 64., 1e-12);
    assert_near(in.p_least, 2 / 64., 1e-12);
    assert_true(free_.p > .5);
    size_t apart[] = {0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1};
    struct failure why = {0};
    assert_int_equal(permute_groups(y, apart, block, 12, 2, 0, 1, &in, &why), OUTCOME_DATA);
}

static void diversity_at_the_sample_size_is_the_sample(void **state)
{
    (void)state;
    double count[] = {40, 12, 7, 3, 2, 2, 1, 1, 1};
    struct assemblage a = {count, 9, 0};
    struct diversity d;
    double at = 0, before = 0, cover = 0, size = 0;
    assert_int_equal(diversity_of(&a, &d, NULL), OUTCOME_OK);
    for (int q = 0; q < 3; q++) {
        assert_int_equal(diversity_at_size(&a, d.n, q, &at, NULL), OUTCOME_OK);
        assert_near(at, d.hill[q], 1e-12);
        before = 0;
        for (double m = 1; m < 300; m += 3.5) {
            assert_int_equal(diversity_at_size(&a, m, q, &at, NULL), OUTCOME_OK);
            assert_true(at >= before - 1e-12);
            before = at;
        }
        assert_int_equal(diversity_at_size(&a, 1e7, q, &at, NULL), OUTCOME_OK);
        assert_near(at, d.asymptotic[q], 1e-3);
    }
    assert_int_equal(diversity_at_coverage(&a, .9, 0, &at, &size, NULL), OUTCOME_OK);
    assert_int_equal(diversity_coverage_at(&a, size, &cover, NULL), OUTCOME_OK);
    assert_near(cover, .9, 1e-9);
}

static void uneven_effort_is_not_richness(void **state)
{
    (void)state; /* the trap: twice the counting of one community finds more kinds; at equal coverage they agree */
    double p[60], few[60] = {0}, many[60] = {0}, s_few = 0, s_many = 0, size = 0;
    struct random_stream r = random_make(5, 0);
    double total = 0;
    for (int i = 0; i < 60; i++)
        total += p[i] = pow(.92, i);
    for (int k = 0; k < 1000; k++) {
        double u = random_uniform(&r) * total;
        int i = 0;
        while (i < 59 && (u -= p[i]) > 0)
            i++;
        many[i] += 1;
        few[i] += k < 100;
    }
    struct diversity a, b;
    struct assemblage f = {few, 60, 0}, m = {many, 60, 0};
    assert_int_equal(diversity_of(&f, &a, NULL), OUTCOME_OK);
    assert_int_equal(diversity_of(&m, &b, NULL), OUTCOME_OK);
    assert_true(b.hill[0] > 1.3 * a.hill[0]);
    assert_int_equal(diversity_at_coverage(&f, .9, 0, &s_few, &size, NULL), OUTCOME_OK);
    assert_int_equal(diversity_at_coverage(&m, .9, 0, &s_many, &size, NULL), OUTCOME_OK);
    assert_true(fabs(s_few - s_many) < .2 * s_many);
}

static void all_kinds_seen_often_leave_nothing_to_find(void **state)
{
    (void)state;
    double count[] = {30, 20, 10};
    struct assemblage a = {count, 3, 0};
    struct diversity d;
    assert_int_equal(diversity_of(&a, &d, NULL), OUTCOME_OK);
    assert_near(d.coverage, 1, 0);
    assert_near(d.asymptotic[0], 3, 0);
    double none[] = {0, 0};
    struct assemblage empty = {none, 2, 0};
    assert_int_equal(diversity_of(&empty, &d, NULL), OUTCOME_DATA);
}

static void zero_counts_have_an_upper_end(void **state)
{
    (void)state;
    struct estimate e;
    double p = 0;
    assert_int_equal(rate_exact(0, 4, .95, &e, NULL), OUTCOME_OK);
    assert_near(e.low, 0, 0);
    assert_near(e.high, -log(.025) / 4, 1e-12);
    assert_int_equal(rate_exact(3, 0, .95, &e, NULL), OUTCOME_DATA);
    assert_int_equal(rate_ratio(0, 1, 0, 1, .95, &e, &p, NULL), OUTCOME_DATA);
}

static void dead_plants_are_no_zero_size(void **state)
{
    (void)state;
    double w1[] = {10, 12, 14}, w2[] = {20, 0, 30}, unknown[] = {20, NAN, 30};
    unknown[1] = unknown_real();
    struct estimate e;
    struct failure why = {0};
    assert_int_equal(rgr_paired(w1, w2, 3, 1, .95, &e, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.remedy, "unknown"));
    assert_int_equal(rgr_paired(w1, unknown, 3, 1, .95, &e, &why), OUTCOME_OK);
    assert_near(e.n, 2, 0);
    assert_near(e.value, (log(2) + log(30. / 14)) / 2, 1e-12);
}

static void unknown_p_values_stay_unknown(void **state)
{
    (void)state;
    double p[] = {.01, 0, .04}, out[3];
    p[1] = unknown_real();
    adjust_holm(p, 3, out);
    assert_near(out[0], .02, 1e-15);
    assert_false(is_known(out[1]));
    assert_near(out[2], .04, 1e-15);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sites_that_agree_pool_like_one_effect), cmocka_unit_test(a_site_far_off_widens_the_prediction),
        cmocka_unit_test(three_pairs_can_never_convince),        cmocka_unit_test(drawn_flips_come_near_all_flips),
        cmocka_unit_test(shuffling_stays_in_its_block),          cmocka_unit_test(diversity_at_the_sample_size_is_the_sample),
        cmocka_unit_test(uneven_effort_is_not_richness),         cmocka_unit_test(all_kinds_seen_often_leave_nothing_to_find),
        cmocka_unit_test(zero_counts_have_an_upper_end),         cmocka_unit_test(dead_plants_are_no_zero_size),
        cmocka_unit_test(unknown_p_values_stay_unknown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
