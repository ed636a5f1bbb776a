/* SPDX-License-Identifier: GPL-3.0-or-later
 * Regression and mixed models: relations between fits, and what is refused. */
#include "stats/stats.h"
#include "../testlib.h"

enum { N = 240, PLOTS = 12 };
static double x[N * 2], y[N], z[N * 2], successes[N];
static size_t plot[N], kind[N], swapped[N];

static void data_make(uint64_t seed, double plot_sd)
{
    double effect[PLOTS];
    struct random_stream r = random_make(seed, 0);
    for (size_t p = 0; p < PLOTS; p++)
        effect[p] = plot_sd * random_normal(&r);
    for (size_t i = 0; i < N; i++) {
        plot[i] = i % PLOTS;
        kind[i] = i / 40;
        swapped[i] = PLOTS - 1 - plot[i];
        x[2 * i] = 1;
        x[2 * i + 1] = random_normal(&r);
        z[2 * i] = 1;
        z[2 * i + 1] = x[2 * i + 1];
        double mean = 2 + .5 * x[2 * i + 1] + effect[plot[i]];
        y[i] = mean + random_normal(&r);
        successes[i] = random_uniform(&r) < 1 / (1 + exp(-mean + 2));
    }
}

static struct design design_of(double *response)
{
    return (struct design){.n = N, .p = 2, .x = x, .y = response};
}

static void scaling_the_response_scales_the_fit(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct mixed_fit a, b;
    data_make(1, 1);
    struct random_term term = {PLOTS, plot, 1, NULL};
    struct design d = design_of(y);
    assert_int_equal(mixed_linear(&d, &term, 1, true, DF_SATTERTHWAITE, .95, &arena, &a, NULL), OUTCOME_OK);
    for (size_t i = 0; i < N; i++)
        y[i] *= 1000;
    assert_int_equal(mixed_linear(&d, &term, 1, true, DF_SATTERTHWAITE, .95, &arena, &b, NULL), OUTCOME_OK);
    for (size_t j = 0; j < 2; j++) {
        assert_near(b.beta[j].value / 1000, a.beta[j].value, 1e-7);
        assert_near(b.beta[j].se / 1000, a.beta[j].se, 1e-7);
        assert_near(b.df[j] / a.df[j], 1, 1e-3);
    }
    assert_near(b.term_covariance[0][0] / 1e6, a.term_covariance[0][0], 1e-6);
    arena_clear(&arena);
}

static void relabelling_plots_changes_nothing(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct mixed_fit a, b;
    data_make(2, 1);
    struct random_term one = {PLOTS, plot, 2, z}, other = {PLOTS, swapped, 2, z};
    struct design d = design_of(y);
    assert_int_equal(mixed_linear(&d, &one, 1, true, DF_NONE, .95, &arena, &a, NULL), OUTCOME_OK);
    assert_int_equal(mixed_linear(&d, &other, 1, true, DF_NONE, .95, &arena, &b, NULL), OUTCOME_OK);
    assert_near(a.loglik, b.loglik, 1e-8);
    assert_near(a.effect[0][0], b.effect[0][2 * (PLOTS - 1)], 1e-5);
    arena_clear(&arena);
}

static void without_spread_between_plots_the_fit_is_least_squares(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct mixed_fit mixed;
    struct model_fit plain;
    data_make(3, 0);
    for (size_t p = 0; p < PLOTS; p++) { /* take out what plots differ by, so that the variance must be nothing */
        double mean = 0;
        for (size_t i = p; i < N; i += PLOTS)
            mean += (y[i] - .5 * x[2 * i + 1]) / (N / PLOTS);
        for (size_t i = p; i < N; i += PLOTS)
            y[i] += 2 - mean;
    }
    struct random_term term = {PLOTS, plot, 1, NULL};
    struct design d = design_of(y);
    assert_int_equal(mixed_linear(&d, &term, 1, true, DF_NONE, .95, &arena, &mixed, NULL), OUTCOME_OK);
    assert_int_equal(model_fit(MODEL_LINEAR, 0, &d, .95, &arena, &plain, NULL), OUTCOME_OK);
    assert_true(mixed.singular);
    assert_near(mixed.beta[1].value, plain.beta[1].value, 1e-6);
    assert_near(mixed.beta[1].se, plain.beta[1].se, 1e-6);
    arena_clear(&arena);
}

static void trees_as_replicates_promise_too_much(void **state)
{
    (void)state; /* the trap: the error of a mean over few plots read from many trees */
    struct arena arena = {0};
    struct mixed_fit mixed;
    struct model_fit plain;
    data_make(4, 2);
    struct random_term term = {PLOTS, plot, 1, NULL};
    struct design d = design_of(y);
    assert_int_equal(mixed_linear(&d, &term, 1, true, DF_SATTERTHWAITE, .95, &arena, &mixed, NULL), OUTCOME_OK);
    assert_int_equal(model_fit(MODEL_LINEAR, 0, &d, .95, &arena, &plain, NULL), OUTCOME_OK);
    assert_true(mixed.beta[0].se > 3 * plain.beta[0].se);
    assert_true(mixed.df[0] < PLOTS);
    arena_clear(&arena);
}

static void one_level_cannot_show_a_spread(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct mixed_fit fit;
    struct failure why = {0};
    static size_t same[N];
    data_make(5, 1);
    struct random_term term = {1, same, 1, NULL};
    struct design d = design_of(y);
    assert_int_equal(mixed_linear(&d, &term, 1, true, DF_NONE, .95, &arena, &fit, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "one level only"));
    arena_clear(&arena);
}

static void quadrature_comes_near_laplace_and_stands_still(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct mixed_fit laplace, nine, more;
    data_make(6, .8);
    struct random_term term = {PLOTS, plot, 1, NULL};
    struct design d = design_of(successes);
    assert_int_equal(mixed_logistic(&d, &term, 1, 1, .95, &arena, &laplace, NULL), OUTCOME_OK);
    assert_int_equal(mixed_logistic(&d, &term, 1, 15, .95, &arena, &nine, NULL), OUTCOME_OK);
    assert_int_equal(mixed_logistic(&d, &term, 1, 25, .95, &arena, &more, NULL), OUTCOME_OK);
    assert_near(laplace.loglik, more.loglik, .2); /* an approximation: 20 plants a plot, error of order 1 over that per plot */
    assert_near(nine.loglik, more.loglik, 1e-6);
    assert_near(nine.beta[1].value, more.beta[1].value, 1e-5);
    struct random_term two[2] = {{PLOTS, plot, 1, NULL}, {6, kind, 1, NULL}};
    assert_int_equal(mixed_logistic(&d, two, 2, 9, .95, &arena, &more, NULL), OUTCOME_USAGE);
    arena_clear(&arena);
}

static void a_species_that_all_lived_is_refused_or_penalised(void **state)
{
    (void)state;
    struct arena arena = {0};
    double columns[] = {1, 0, 1, 1}, lived[] = {6, 10}, planted[] = {10, 10};
    struct design d = {.n = 2, .p = 2, .x = columns, .y = lived, .trials = planted};
    struct model_fit fit;
    struct failure why = {0};
    assert_int_equal(model_fit(MODEL_LOGISTIC, 0, &d, .95, &arena, &fit, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.remedy, "penalised"));
    assert_int_equal(model_fit(MODEL_LOGISTIC, MODEL_FIRTH, &d, .95, &arena, &fit, &why), OUTCOME_OK);
    /* two groups: Firth's estimate is the log odds with a half added to every cell */
    assert_near(fit.beta[0].value, log(6.5 / 4.5), 1e-8);
    assert_near(fit.beta[0].value + fit.beta[1].value, log(10.5 / .5), 1e-8);
    arena_clear(&arena);
}

static void dependent_columns_are_refused(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct model_fit fit;
    struct failure why = {0};
    data_make(7, 1);
    for (size_t i = 0; i < N; i++)
        x[2 * i + 1] = 3;
    struct design d = design_of(y);
    assert_int_equal(model_fit(MODEL_LINEAR, 0, &d, .95, &arena, &fit, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "depend on each other"));
    arena_clear(&arena);
}

static void a_contrast_of_one_column_is_that_column(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct mixed_fit fit;
    struct estimate e;
    double p = 0, l[] = {0, 1};
    data_make(8, 1);
    struct random_term term = {PLOTS, plot, 2, z};
    struct design d = design_of(y);
    assert_int_equal(mixed_linear(&d, &term, 1, true, DF_SATTERTHWAITE, .95, &arena, &fit, NULL), OUTCOME_OK);
    assert_int_equal(mixed_contrast(&fit, l, .95, &e, &p, NULL), OUTCOME_OK);
    assert_near(e.low, fit.beta[1].low, 1e-12);
    assert_near(p, fit.p_value[1], 1e-12);
    arena_clear(&arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(scaling_the_response_scales_the_fit),
        cmocka_unit_test(relabelling_plots_changes_nothing),
        cmocka_unit_test(without_spread_between_plots_the_fit_is_least_squares),
        cmocka_unit_test(trees_as_replicates_promise_too_much),
        cmocka_unit_test(one_level_cannot_show_a_spread),
        cmocka_unit_test(quadrature_comes_near_laplace_and_stands_still),
        cmocka_unit_test(a_species_that_all_lived_is_refused_or_penalised),
        cmocka_unit_test(dependent_columns_are_refused),
        cmocka_unit_test(a_contrast_of_one_column_is_that_column),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
