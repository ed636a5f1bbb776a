/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of stats/: regression, mixed models, clusters and leagues. */
#include "calc/calc_stats.h"
#include <math.h>
#include <string.h>

/* x1 … x9 side by side, as far as they are given. */
static double *columns_in(const json_t *in, size_t n, size_t *n_x, struct arena *arena)
{
    size_t p = 0;
    double *x = arena_array(arena, n * 9, sizeof *x), *column[9] = {NULL};
    for (int j = 1; j <= 9; j++) {
        char name[8];
        size_t rows = 0;
        snprintf(name, sizeof name, "x%d", j);
        double *one = calc_numbers(in, name, arena, &rows);
        if (rows == n)
            column[p++] = one;
    }
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < p; j++)
            x[i * p + j] = column[j][i];
    *n_x = n * p;
    return x;
}

/* y, x with `columns`, trials, weight, offset. The intercept is added unless intercept is "no". */
static enum outcome design_in(const json_t *in, struct design *out, struct arena *arena, struct failure *why)
{
    size_t n_x = 0, n_trials = 0, n_weight = 0, n_offset = 0, n = 0;
    double *y = calc_numbers(in, "y", arena, &n), *x = calc_numbers(in, "x", arena, &n_x);
    double *trials = calc_numbers(in, "trials", arena, &n_trials), *weight = calc_numbers(in, "weight", arena, &n_weight);
    double *offset = calc_numbers(in, "offset", arena, &n_offset);
    bool intercept = strcmp(calc_word(in, "intercept", "yes"), "no") != 0;
    if (n_x == 0 && n > 0)
        x = columns_in(in, n, &n_x, arena);
    if (n == 0 || n_x % n != 0)
        return fail(why, OUTCOME_USAGE, "x must hold, row after row, the same number of columns for each of the %zu values of y.", n);
    size_t given = n_x / n, p = given + intercept;
    double *full = arena_array(arena, n * p + 1, sizeof *full);
    for (size_t i = 0; i < n; i++) {
        if (intercept)
            full[i * p] = 1;
        for (size_t j = 0; j < given; j++)
            full[i * p + intercept + j] = x[i * given + j];
    }
    *out = (struct design){n, p, full, y, n_trials > 0 ? trials : NULL, n_weight > 0 ? weight : NULL, n_offset > 0 ? offset : NULL};
    enum outcome outcome = calc_same_length("y", n, "trials", n_trials, true, why);
    if (outcome == OUTCOME_OK)
        outcome = calc_same_length("y", n, "weight", n_weight, true, why);
    return outcome == OUTCOME_OK ? calc_same_length("y", n, "offset", n_offset, true, why) : outcome;
}

static enum outcome run_regression(const json_t *in, json_t *result, struct failure *why)
{
    static const char *const kinds[] = {"linear", "logistic", "cloglog", "poisson"};
    struct arena arena = {0};
    struct design design;
    struct model_fit fit;
    const char *wanted = calc_word(in, "kind", "linear");
    size_t kind = 0;
    while (kind < 4 && strcmp(kinds[kind], wanted) != 0)
        kind++;
    enum outcome outcome = kind < 4
                               ? design_in(in, &design, &arena, why)
                               : fail(why, OUTCOME_USAGE, "kind is \"%.40s\"; it must be linear, logistic, cloglog or poisson.", wanted);
    unsigned options = (strcmp(calc_word(in, "firth", "no"), "yes") == 0 ? (unsigned)MODEL_FIRTH : 0) |
                       (strcmp(calc_word(in, "quasi", "no"), "yes") == 0 ? (unsigned)MODEL_QUASI : 0);
    if (outcome == OUTCOME_OK)
        outcome = model_fit((enum model_kind)kind, options, &design, calc_level(in), &arena, &fit, why);
    if (outcome == OUTCOME_OK) {
        calc_put_estimates(result, "", fit.beta, fit.p);
        calc_put_all(result, "p", fit.p_value, fit.p);
        calc_put(result, "loglik", fit.loglik);
        calc_put(result, "deviance", fit.deviance);
        calc_put(result, "null_deviance", fit.null_deviance);
        calc_put(result, "dispersion", fit.dispersion);
        calc_put(result, "df", fit.df);
    }
    arena_clear(&arena);
    return outcome;
}

/* level1 … level3, with slope1 … slope3 beside the intercept. */
static enum outcome terms_in(const json_t *in, size_t n, struct random_term *terms, size_t *n_terms, struct arena *arena,
                             struct failure *why)
{
    *n_terms = 0;
    for (int t = 1; t <= 3; t++) {
        char level[16], slope[16];
        snprintf(level, sizeof level, "level%d", t);
        snprintf(slope, sizeof slope, "slope%d", t);
        size_t n_level = 0, levels = 0, n_slope = 0;
        size_t *label = calc_labels(in, level, arena, &n_level, &levels);
        double *with = calc_numbers(in, slope, arena, &n_slope), *z = NULL;
        if (n_level == 0)
            continue;
        if (calc_same_length("y", n, level, n_level, false, why) != OUTCOME_OK ||
            calc_same_length("y", n, slope, n_slope, true, why) != OUTCOME_OK)
            return OUTCOME_USAGE;
        if (n_slope > 0) {
            z = arena_array(arena, 2 * n, sizeof *z);
            for (size_t i = 0; i < n; i++) {
                z[2 * i] = 1;
                z[2 * i + 1] = with[i];
            }
        }
        terms[(*n_terms)++] = (struct random_term){levels, label, n_slope > 0 ? 2 : 1, z};
    }
    return OUTCOME_OK;
}

static void put_mixed(json_t *result, const struct mixed_fit *fit, const struct random_term *terms, struct arena *arena)
{
    size_t n_variance = 0, n_effect = 0;
    for (size_t t = 0; t < fit->terms; t++) {
        n_variance += terms[t].columns * terms[t].columns;
        n_effect += terms[t].levels * terms[t].columns;
    }
    double *variance = arena_array(arena, n_variance, sizeof *variance), *effect = arena_array(arena, n_effect, sizeof *effect),
           *effect_se = arena_array(arena, n_effect, sizeof *effect_se);
    for (size_t t = 0, v = 0, e = 0; t < fit->terms; t++) {
        size_t k = terms[t].columns;
        memcpy(variance + v, fit->term_covariance[t], k * k * sizeof *variance);
        memcpy(effect + e, fit->effect[t], terms[t].levels * k * sizeof *effect);
        for (size_t a = 0; a < terms[t].levels * k; a++)
            effect_se[e + a] =
                fit->effect_covariance[t] == NULL ? unknown_real() : sqrt(fit->effect_covariance[t][a * terms[t].levels + a]);
        v += k * k;
        e += terms[t].levels * k;
    }
    calc_put_estimates(result, "", fit->beta, fit->p);
    calc_put_all(result, "df", fit->df, fit->p);
    calc_put_all(result, "p", fit->p_value, fit->p);
    calc_put_all(result, "variance", variance, n_variance);
    calc_put_all(result, "effect", effect, n_effect);
    calc_put_all(result, "effect_se", effect_se, n_effect);
    calc_put(result, "sigma", fit->sigma);
    calc_put(result, "loglik", fit->loglik);
    calc_put(result, "gradient", fit->gradient);
    calc_put(result, "evaluations", fit->evaluations);
    calc_put_word(result, "singular", fit->singular ? "yes" : "no");
}

static enum outcome run_mixed(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct design design;
    struct mixed_fit fit;
    struct random_term terms[3];
    size_t n_terms = 0;
    bool logistic = strcmp(calc_word(in, "kind", "linear"), "logistic") == 0, reml = strcmp(calc_word(in, "reml", "yes"), "no") != 0;
    enum outcome outcome = design_in(in, &design, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = terms_in(in, design.n, terms, &n_terms, &arena, why);
    if (outcome == OUTCOME_OK && !logistic && design.trials != NULL)
        outcome = fail(why, OUTCOME_USAGE, "trials belong to a logistic model only.");
    if (outcome == OUTCOME_OK && logistic && design.weight != NULL)
        outcome = fail(why, OUTCOME_USAGE, "weights belong to a linear model only.");
    if (outcome == OUTCOME_OK && logistic)
        outcome = mixed_logistic(&design, terms, n_terms, (int)calc_number(in, "quadrature", 1), calc_level(in), &arena, &fit, why);
    else if (outcome == OUTCOME_OK)
        outcome = mixed_linear(&design, terms, n_terms, reml,
                               strcmp(calc_word(in, "df", "satterthwaite"), "none") == 0 ? DF_NONE : DF_SATTERTHWAITE, calc_level(in),
                               &arena, &fit, why);
    if (outcome == OUTCOME_OK)
        put_mixed(result, &fit, terms, &arena);
    arena_clear(&arena);
    return outcome;
}

static enum outcome run_cluster(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct cluster_spread s;
    size_t k = 0, n_n = 0;
    double *y = calc_numbers(in, "y", &arena, &k), *n = calc_numbers(in, "n", &arena, &n_n);
    enum outcome outcome = calc_same_length("y", k, "n", n_n, false, why);
    if (outcome == OUTCOME_OK)
        outcome = cluster_proportion(y, n, k, calc_level(in), &s, why);
    if (outcome == OUTCOME_OK) {
        calc_put_estimate(result, &s.proportion);
        calc_put(result, "n0", s.n0);
        calc_put(result, "msb", s.msb);
        calc_put(result, "msw", s.msw);
        calc_put(result, "icc", s.icc_anova);
        calc_put(result, "icc_fleiss_cuzick", s.icc_fleiss_cuzick);
        calc_put(result, "design_effect", s.deff);
        calc_put(result, "design_effect_size", s.deff_size);
        calc_put(result, "effective_n", s.effective_n);
    }
    arena_clear(&arena);
    return outcome;
}

static enum outcome run_design_effect(const json_t *in, json_t *result, struct failure *why)
{
    double mean = calc_number(in, "mean_size", 0), cv = calc_number(in, "cv_size", 0), icc = calc_number(in, "icc", 0);
    if (!(mean >= 1) || !(cv >= 0) || !(icc >= -1 && icc <= 1))
        return fail(why, OUTCOME_DATA, "A design effect needs a mean size from 1, a spread of sizes from 0 and a likeness from −1 to 1.");
    calc_put(result, "design_effect", design_effect(mean, cv, icc));
    return OUTCOME_OK;
}

static enum outcome run_league(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct league l;
    size_t k = 0, n_n = 0;
    double *y = calc_numbers(in, "y", &arena, &k), *n = calc_numbers(in, "n", &arena, &n_n);
    enum outcome outcome = calc_same_length("y", k, "n", n_n, false, why);
    if (outcome == OUTCOME_OK)
        outcome = league_beta_binomial(y, n, k, calc_level(in), (size_t)calc_number(in, "tail", 3), (size_t)calc_number(in, "draws", 4000),
                                       (uint64_t)calc_number(in, "seed", 1), &arena, &l, why);
    if (outcome == OUTCOME_OK) {
        calc_put(result, "a", l.a);
        calc_put(result, "b", l.b);
        calc_put(result, "mean", l.mean);
        calc_put(result, "icc", l.icc);
        calc_put(result, "loglik", l.loglik);
        calc_put_word(result, "spread", l.no_spread ? "none detectable" : "yes");
        calc_put_estimates(result, "", l.each, k);
        calc_put_all(result, "rank_mean", l.rank_mean, k);
        calc_put_all(result, "rank_low", l.rank_low, k);
        calc_put_all(result, "rank_high", l.rank_high, k);
        calc_put_all(result, "p_top", l.p_top, k);
        calc_put_all(result, "p_bottom", l.p_bottom, k);
    }
    arena_clear(&arena);
    return outcome;
}

#define LENGTH(a) (sizeof(a) / sizeof *(a))

static const struct calc_value regression_in[] = {
    {"y", "", CALC_NUMBERS, true, "response; successes; counts"},
    {"x", "", CALC_NUMBERS, false, "columns, row after row; none: mean only"},
    {"x1", "", CALC_NUMBERS, false, "column 1 by itself, instead of x"},
    {"x2", "", CALC_NUMBERS, false, "column 2 by itself, instead of x"},
    {"x3", "", CALC_NUMBERS, false, "column 3 by itself, instead of x"},
    {"x4", "", CALC_NUMBERS, false, "column 4 by itself, instead of x"},
    {"x5", "", CALC_NUMBERS, false, "column 5 by itself, instead of x"},
    {"x6", "", CALC_NUMBERS, false, "column 6 by itself, instead of x"},
    {"x7", "", CALC_NUMBERS, false, "column 7 by itself, instead of x"},
    {"x8", "", CALC_NUMBERS, false, "column 8 by itself, instead of x"},
    {"x9", "", CALC_NUMBERS, false, "column 9 by itself, instead of x"},
    {"intercept", "", CALC_WORD, false, "no: x holds its own; yes if left out"},
    {"trials", "", CALC_NUMBERS, false, "trials per row, 1 if left out"},
    {"weight", "", CALC_NUMBERS, false, "prior weights, 1 if left out"},
    {"offset", "", CALC_NUMBERS, false, "offset on the scale of the predictor"},
    {"kind", "", CALC_WORD, false, "linear (default), logistic, cloglog or poisson"},
    {"firth", "", CALC_WORD, false, "yes: penalised logistic fit"},
    {"quasi", "", CALC_WORD, false, "yes: errors widened by the dispersion"},
    {"level", "", CALC_NUMBER, false, "level of the interval, 0.95 if left out"},
};
static const struct calc_value regression_out[] = {
    {"value", "", CALC_NUMBERS, false, "coefficients, intercept first"},
    {"se", "", CALC_NUMBERS, false, "standard errors"},
    {"low", "", CALC_NUMBERS, false, "lower ends"},
    {"high", "", CALC_NUMBERS, false, "upper ends"},
    {"p", "", CALC_NUMBERS, false, "two-sided p"},
    {"loglik", "", CALC_NUMBER, false, "log-likelihood"},
    {"deviance", "", CALC_NUMBER, false, "residual deviance"},
    {"null_deviance", "", CALC_NUMBER, false, "deviance of the mean alone"},
    {"dispersion", "", CALC_NUMBER, false, "dispersion (residual variance of a linear model)"},
    {"df", "", CALC_NUMBER, false, "residual degrees of freedom"},
};
static const struct calc_value mixed_in[] = {
    {"y", "", CALC_NUMBERS, true, "response, or successes"},
    {"x", "", CALC_NUMBERS, false, "columns, row after row; none: mean only"},
    {"x1", "", CALC_NUMBERS, false, "column 1 by itself, instead of x"},
    {"x2", "", CALC_NUMBERS, false, "column 2 by itself, instead of x"},
    {"x3", "", CALC_NUMBERS, false, "column 3 by itself, instead of x"},
    {"x4", "", CALC_NUMBERS, false, "column 4 by itself, instead of x"},
    {"x5", "", CALC_NUMBERS, false, "column 5 by itself, instead of x"},
    {"x6", "", CALC_NUMBERS, false, "column 6 by itself, instead of x"},
    {"x7", "", CALC_NUMBERS, false, "column 7 by itself, instead of x"},
    {"x8", "", CALC_NUMBERS, false, "column 8 by itself, instead of x"},
    {"x9", "", CALC_NUMBERS, false, "column 9 by itself, instead of x"},
    {"intercept", "", CALC_WORD, false, "no: x holds its own; yes if left out"},
    {"trials", "", CALC_NUMBERS, false, "trials per row (logistic)"},
    {"weight", "", CALC_NUMBERS, false, "weights (linear)"},
    {"offset", "", CALC_NUMBERS, false, "offset (logistic)"},
    {"level1", "", CALC_NUMBERS, true, "grouping of each row, as a number"},
    {"slope1", "", CALC_NUMBERS, false, "column whose slope varies over it"},
    {"level2", "", CALC_NUMBERS, false, "second grouping"},
    {"slope2", "", CALC_NUMBERS, false, "column whose slope varies over it"},
    {"level3", "", CALC_NUMBERS, false, "third grouping"},
    {"slope3", "", CALC_NUMBERS, false, "column whose slope varies over it"},
    {"kind", "", CALC_WORD, false, "linear (default) or logistic"},
    {"reml", "", CALC_WORD, false, "no: maximum likelihood; yes if left out"},
    {"df", "", CALC_WORD, false, "satterthwaite (default) or none"},
    {"quadrature", "", CALC_NUMBER, false, "points: 1 Laplace (default), odd to 25"},
    {"level", "", CALC_NUMBER, false, "level of the interval, 0.95 if left out"},
};
static const struct calc_value mixed_out[] = {
    {"value", "", CALC_NUMBERS, false, "coefficients, intercept first"},
    {"se", "", CALC_NUMBERS, false, "standard errors"},
    {"low", "", CALC_NUMBERS, false, "lower ends"},
    {"high", "", CALC_NUMBERS, false, "upper ends"},
    {"df", "", CALC_NUMBERS, false, "degrees of freedom"},
    {"p", "", CALC_NUMBERS, false, "two-sided p"},
    {"variance", "", CALC_NUMBERS, false, "covariance of each grouping's effects, row after row"},
    {"effect", "", CALC_NUMBERS, false, "effects of the levels, grouping after grouping"},
    {"effect_se", "", CALC_NUMBERS, false, "their standard errors, coefficients and variances taken as known (random intercepts)"},
    {"sigma", "", CALC_NUMBER, false, "residual standard deviation (1 for logistic)"},
    {"loglik", "", CALC_NUMBER, false, "log-likelihood, restricted where REML"},
    {"gradient", "", CALC_NUMBER, false, "largest slope left"},
    {"evaluations", "", CALC_NUMBER, false, "trials of the variances"},
    {"singular", "", CALC_WORD, false, "yes: a variance of zero"},
};
static const struct calc_value counts_in[] = {
    {"y", "", CALC_NUMBERS, true, "how many of each cluster"},
    {"n", "", CALC_NUMBERS, true, "size of each cluster"},
    {"level", "", CALC_NUMBER, false, "level of the interval, 0.95 if left out"},
    {"tail", "", CALC_NUMBER, false, "how many count as top and bottom, 3 if left out"},
    {"draws", "", CALC_NUMBER, false, "draws for ranks, 4000 if left out"},
    {"seed", "", CALC_NUMBER, false, "seed of the draws, 1 if left out"},
};
static const struct calc_value cluster_out[] = {
    {"value", "", CALC_NUMBER, false, "pooled proportion"},
    {"se", "", CALC_NUMBER, false, "standard error by clusters"},
    {"low", "", CALC_NUMBER, false, "lower end"},
    {"high", "", CALC_NUMBER, false, "upper end"},
    {"n0", "", CALC_NUMBER, false, "mean size adjusted for spread"},
    {"msb", "", CALC_NUMBER, false, "mean square between"},
    {"msw", "", CALC_NUMBER, false, "mean square within"},
    {"icc", "", CALC_NUMBER, false, "intracluster correlation, analysis of variance"},
    {"icc_fleiss_cuzick", "", CALC_NUMBER, false, "the same after Fleiss & Cuzick"},
    {"design_effect", "", CALC_NUMBER, false, "from the linearised variance"},
    {"design_effect_size", "", CALC_NUMBER, false, "from sizes and correlation"},
    {"effective_n", "", CALC_NUMBER, false, "effective number"},
};
static const struct calc_value size_in[] = {
    {"mean_size", "", CALC_NUMBER, true, "mean size of a cluster"},
    {"cv_size", "", CALC_NUMBER, false, "coefficient of variation of sizes, 0 if left out"},
    {"icc", "", CALC_NUMBER, true, "intracluster correlation"},
};
static const struct calc_value size_out[] = {{"design_effect", "", CALC_NUMBER, false, "factor on the variance"}};
static const struct calc_value league_out[] = {
    {"a", "", CALC_NUMBER, false, "first parameter of the beta"},
    {"b", "", CALC_NUMBER, false, "second parameter"},
    {"mean", "", CALC_NUMBER, false, "mean of the beta"},
    {"icc", "", CALC_NUMBER, false, "1/(a + b + 1)"},
    {"loglik", "", CALC_NUMBER, false, "log-likelihood"},
    {"spread", "", CALC_WORD, false, "yes, or none detectable"},
    {"value", "", CALC_NUMBERS, false, "pooled estimate of each member"},
    {"se", "", CALC_NUMBERS, false, "posterior standard deviation"},
    {"low", "", CALC_NUMBERS, false, "lower ends"},
    {"high", "", CALC_NUMBERS, false, "upper ends"},
    {"rank_mean", "", CALC_NUMBERS, false, "mean rank, 1 the highest"},
    {"rank_low", "", CALC_NUMBERS, false, "lower ends of ranks"},
    {"rank_high", "", CALC_NUMBERS, false, "upper ends of ranks"},
    {"p_top", "", CALC_NUMBERS, false, "chance of being among the best"},
    {"p_bottom", "", CALC_NUMBERS, false, "chance of being among the worst"},
};

const struct calc calc_stats_models[] = {
    {"regression", "Linear, logistic, complementary log-log or Poisson regression",
     "McCullagh & Nelder 1989; Firth 1993, Biometrika 80:27 (penalised); Prentice & Gloeckler 1978, Biometrics 34:57 (grouped times)",
     regression_in, LENGTH(regression_in), regression_out, LENGTH(regression_out), run_regression},
    {"mixed_model", "Linear or logistic mixed model",
     "Bates et al. 2015, J Stat Softw 67(1); Kuznetsova et al. 2017, J Stat Softw 82(13); Pinheiro & Bates 1995 (quadrature)", mixed_in,
     LENGTH(mixed_in), mixed_out, LENGTH(mixed_out), run_mixed},
    {"clustered_proportion", "Proportion when plants stand in plots",
     "Fleiss & Cuzick 1979; Rao & Scott 1992, Biometrics 48:577; Wilson limits with the effective number and Student's t", counts_in, 3,
     cluster_out, LENGTH(cluster_out), run_cluster},
    {"design_effect", "Design effect from sizes and likeness", "Eldridge, Ashby & Kerry 2006, Int J Epidemiol 35:1292", size_in,
     LENGTH(size_in), size_out, LENGTH(size_out), run_design_effect},
    {"league", "A league by partial pooling",
     "Beta-binomial empirical Bayes; Tarone 1982; Gelman et al., Bayesian Data Analysis, chapter 5", counts_in, LENGTH(counts_in),
     league_out, LENGTH(league_out), run_league},
    {0},
};
