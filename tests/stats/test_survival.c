/* SPDX-License-Identifier: GPL-3.0-or-later
 * Time to death: relations between the estimators, the proof of optimality, and what is refused. */
#include "stats/stats.h"
#include "../testlib.h"

enum { MOST = 100000 };
static double left[MOST], right[MOST], weight[MOST], times[MOST];
static bool died[MOST];
static size_t group[MOST];

/* Visits about once a year, one in ten missed; deaths are found at the next visit made. */
static void visits_make(size_t n, uint64_t seed, double jitter)
{
    for (size_t i = 0; i < n; i++) {
        struct random_stream r = random_make(seed, i);
        double life = 6 * pow(-log(random_uniform(&r)), 1 / 1.2);
        left[i] = 0;
        right[i] = INFINITY;
        group[i] = i % 2;
        for (int v = 1; v <= 10 && isinf(right[i]); v++) {
            double at = v + jitter * (random_uniform(&r) - .5);
            if (random_uniform(&r) < .1)
                continue;
            *(life > at ? &left[i] : &right[i]) = at;
        }
    }
}

/* Largest slope of the log-likelihood in mass put anywhere, over n: 1 at the best. */
static double dual(const struct turnbull *t, size_t n, const double *points, size_t n_points)
{
    double *slope = memory_get(n_points, sizeof *slope), most = 0;
    memset(slope, 0, n_points * sizeof *slope);
    for (size_t i = 0; i < n; i++) {
        double inside = 0;
        for (size_t j = 0; j < t->n; j++)
            inside += t->left[j] >= left[i] && t->right[j] <= right[i] ? t->mass[j] : 0;
        assert_true(inside > 0);
        for (size_t k = 0; k < n_points; k++)
            slope[k] += left[i] < points[k] && points[k] <= right[i] ? 1 / inside : 0;
    }
    for (size_t k = 0; k < n_points; k++)
        most = fmax(most, slope[k] / (double)n);
    free(slope);
    return most;
}

static void the_estimate_from_visits_is_proven_best(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 20; seed++) {
        struct arena arena = {0};
        struct turnbull t;
        visits_make(150, seed, seed % 2 ? 1.5 : 0.2);
        struct interval_lives lives = {150, left, right, NULL};
        assert_int_equal(survival_turnbull(&lives, &arena, &t, NULL), OUTCOME_OK);
        assert_true(t.gap <= 1.5e-6);
        double total = 0, points[400];
        for (size_t j = 0; j < t.n; j++)
            total += t.mass[j];
        assert_near(total, 1, 1e-12);
        size_t k = 0;
        for (size_t i = 0; i < 150; i++)
            if (isfinite(right[i]))
                points[k++] = right[i];
        points[k++] = 1e6;
        assert_near(dual(&t, 150, points, k), 1, 1e-7);
        arena_clear(&arena);
    }
}

static void a_worse_estimate_fails_the_proof(void **state)
{
    (void)state; /* planted failure: the dual test must notice mass moved by one per cent */
    struct arena arena = {0};
    struct turnbull t;
    visits_make(150, 3, .2);
    struct interval_lives lives = {150, left, right, NULL};
    assert_int_equal(survival_turnbull(&lives, &arena, &t, NULL), OUTCOME_OK);
    t.mass[0] += .01;
    t.mass[1] -= .01;
    double points[151];
    size_t k = 0;
    for (size_t i = 0; i < 150; i++)
        if (isfinite(right[i]))
            points[k++] = right[i];
    assert_true(dual(&t, 150, points, k) > 1 + 1e-4);
    arena_clear(&arena);
}

static void exact_times_give_the_kaplan_meier_curve(void **state)
{
    (void)state;
    struct arena arena = {0};
    size_t n = 500;
    for (size_t i = 0; i < n; i++) {
        struct random_stream r = random_make(8, i);
        times[i] = ceil(40 * -log(random_uniform(&r)));
        died[i] = random_uniform(&r) < .7;
        left[i] = times[i];
        right[i] = died[i] ? times[i] : INFINITY;
    }
    struct lives exact = {n, times, died, NULL, NULL, NULL};
    struct interval_lives lives = {n, left, right, NULL};
    struct survival_curve curve;
    struct turnbull t;
    assert_int_equal(survival_kaplan_meier(&exact, SURVIVAL_LOG, .95, &arena, &curve, NULL), OUTCOME_OK);
    assert_int_equal(survival_turnbull(&lives, &arena, &t, NULL), OUTCOME_OK);
    for (size_t i = 0; i < curve.n; i++) {
        double low = 0, high = 0;
        turnbull_at(&t, curve.time[i], &low, &high);
        assert_near(high, curve.survival[i], 1e-6);
    }
    arena_clear(&arena);
}

static void a_hundred_thousand_lives_of_any_days_converge(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct turnbull t;
    visits_make(MOST, 11, .9);
    struct interval_lives lives = {MOST, left, right, NULL};
    struct failure why = {0};
    assert_int_equal(survival_turnbull(&lives, &arena, &t, &why), OUTCOME_OK);
    assert_true(t.gap <= 1e-8 * MOST);
    print_message("  100,000 lives with %zu candidates: %zu carry mass after %d steps, gap %.2g\n", t.candidates, t.n, t.iterations, t.gap);
    double low = 0, high = 0;
    turnbull_at(&t, 5, &low, &high);
    assert_true(low < exp(-pow(5 / 6., 1.2)) + .02 && high > exp(-pow(5 / 6., 1.2)) - .02);
    arena_clear(&arena);
}

static void weights_count_like_rows(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct turnbull a, b;
    visits_make(60, 4, 1);
    for (size_t i = 0; i < 60; i++) {
        weight[i] = (double)(i % 3);
        for (size_t k = 0; k < i % 3; k++) {
        }
    }
    size_t n = 60;
    struct interval_lives weighted = {60, left, right, weight};
    assert_int_equal(survival_turnbull(&weighted, &arena, &a, NULL), OUTCOME_OK);
    double l2[120], r2[120];
    n = 0;
    for (size_t i = 0; i < 60; i++)
        for (size_t k = 0; k < i % 3; k++) {
            l2[n] = left[i];
            r2[n++] = right[i];
        }
    struct interval_lives rows = {n, l2, r2, NULL};
    assert_int_equal(survival_turnbull(&rows, &arena, &b, NULL), OUTCOME_OK);
    assert_near(a.loglik, b.loglik, 1e-6);
    arena_clear(&arena);
}

static void order_of_rows_does_not_matter(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct interval_test a, b;
    visits_make(200, 9, .5);
    struct interval_lives lives = {200, left, right, NULL};
    assert_int_equal(survival_interval_test(&lives, group, 2, NULL, SCORES_SUN, FORM_PERMUTATION, 0, 0, &arena, &a, NULL), OUTCOME_OK);
    for (size_t i = 0; i < 100; i++) {
        size_t g = group[i];
        double l = left[i], r = right[i];
        left[i] = left[199 - i], right[i] = right[199 - i], group[i] = group[199 - i];
        left[199 - i] = l, right[199 - i] = r, group[199 - i] = g;
    }
    assert_int_equal(survival_interval_test(&lives, group, 2, NULL, SCORES_SUN, FORM_PERMUTATION, 0, 0, &arena, &b, NULL), OUTCOME_OK);
    assert_near(a.test.statistic, b.test.statistic, 1e-6);
    arena_clear(&arena);
}

static void a_death_before_it_was_last_seen_alive_is_refused(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct turnbull t;
    struct failure why = {0};
    double l[] = {1, 5}, r[] = {2, 4};
    struct interval_lives lives = {2, l, r, NULL};
    assert_int_equal(survival_turnbull(&lives, &arena, &t, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "Life 2"));
    arena_clear(&arena);
}

static void one_minus_survival_of_one_cause_overstates_it(void **state)
{
    (void)state; /* the trap: other causes read as censoring */
    double t[] = {1, 2, 2, 3, 4, 5, 6, 7, 8, 9};
    size_t cause[] = {1, 2, 1, 0, 1, 2, 0, 1, 2, 0};
    bool first[10];
    for (size_t i = 0; i < 10; i++)
        first[i] = cause[i] == 1;
    struct arena arena = {0};
    struct incidence_curve c;
    struct survival_curve naive;
    struct lives lives = {10, t, first, NULL, NULL, NULL};
    assert_int_equal(incidence_aalen_johansen(t, cause, NULL, 10, 2, .95, &arena, &c, NULL), OUTCOME_OK);
    assert_int_equal(survival_kaplan_meier(&lives, SURVIVAL_LOG, .95, &arena, &naive, NULL), OUTCOME_OK);
    assert_near(1 - survival_at(&naive, 7).value, 0.5555556, 1e-7);
    assert_near(c.incidence[6 * 2], 0.4722222, 1e-7);
    for (size_t i = 0; i < c.n; i++)
        assert_near(c.incidence[2 * i] + c.incidence[2 * i + 1] + c.survival[i], 1, 1e-14);
    arena_clear(&arena);
}

static void beyond_the_last_look_survival_is_unknown(void **state)
{
    (void)state;
    double t[] = {1, 2, 3};
    bool d[] = {true, false, false};
    struct arena arena = {0};
    struct survival_curve c;
    struct lives lives = {3, t, d, NULL, NULL, NULL};
    assert_int_equal(survival_kaplan_meier(&lives, SURVIVAL_LOG, .95, &arena, &c, NULL), OUTCOME_OK);
    assert_false(is_known(survival_at(&c, 3.5).value));
    assert_false(is_known(survival_quantile(&c, .5).value));
    assert_false(is_known(survival_restricted_mean(&c, 4).value));
    arena_clear(&arena);
}

struct count {
    const bool *died;
    size_t n;
};

static enum outcome share_dead(void *data, const double *w, double *out, struct failure *why)
{
    (void)why;
    const struct count *c = data;
    double sum = 0, total = 0;
    for (size_t i = 0; i < c->n; i++) {
        sum += c->died[i] ? w[i] : 0;
        total += w[i];
    }
    *out = sum / total;
    return OUTCOME_OK;
}

static void drawing_plots_again_is_wider_than_drawing_plants(void **state)
{
    (void)state;
    size_t plot[400], plant[400], lost = 0;
    for (size_t i = 0; i < 400; i++) {
        plot[i] = i / 40;
        plant[i] = i;
        died[i] = (i * 7 + i / 40) % 10 < plot[i]; /* plots from none to nine in ten dead */
    }
    struct count c = {died, 400};
    struct estimate by_plot, by_plant, again;
    assert_int_equal(bootstrap_clusters(share_dead, &c, plot, NULL, 400, 1, 500, 3, .95, NULL, &by_plot, &lost, NULL), OUTCOME_OK);
    assert_int_equal(bootstrap_clusters(share_dead, &c, plant, NULL, 400, 1, 500, 3, .95, NULL, &by_plant, &lost, NULL), OUTCOME_OK);
    assert_int_equal(bootstrap_clusters(share_dead, &c, plot, NULL, 400, 1, 500, 3, .95, NULL, &again, &lost, NULL), OUTCOME_OK);
    assert_true(by_plot.high - by_plot.low > 2 * (by_plant.high - by_plant.low));
    assert_memory_equal(&by_plot, &again, sizeof again);
    for (size_t i = 0; i < 400; i++)
        plot[i] %= 4;
    assert_int_equal(bootstrap_clusters(share_dead, &c, plot, NULL, 400, 1, 500, 3, .95, NULL, &again, &lost, NULL), OUTCOME_DATA);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_estimate_from_visits_is_proven_best),
        cmocka_unit_test(a_worse_estimate_fails_the_proof),
        cmocka_unit_test(exact_times_give_the_kaplan_meier_curve),
        cmocka_unit_test(a_hundred_thousand_lives_of_any_days_converge),
        cmocka_unit_test(weights_count_like_rows),
        cmocka_unit_test(order_of_rows_does_not_matter),
        cmocka_unit_test(a_death_before_it_was_last_seen_alive_is_refused),
        cmocka_unit_test(one_minus_survival_of_one_cause_overstates_it),
        cmocka_unit_test(beyond_the_last_look_survival_is_unknown),
        cmocka_unit_test(drawing_plots_again_is_wider_than_drawing_plants),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
