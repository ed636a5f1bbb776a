/* SPDX-License-Identifier: GPL-3.0-or-later
 * Regression without random effects: linear, logistic, complementary log-log (grouped times) and Poisson. */
#ifndef SPINNEY_STATS_MODEL_H
#define SPINNEY_STATS_MODEL_H
#include "stats/estimate.h"

/// Rows of a design. x is n × p, row-major, with its intercept column if wanted; columns must not be dependent.
struct design {
    size_t n, p;
    const double *x;
    const double *y;      ///< response: a number; successes (of `trials`); a count
    const double *trials; ///< binomial: trials per row; NULL: 1 each
    const double *weight; ///< prior weights; NULL: 1
    const double *offset; ///< on the scale of the linear predictor; NULL: 0
};
enum model_kind { MODEL_LINEAR, MODEL_LOGISTIC, MODEL_CLOGLOG, MODEL_POISSON };
enum model_option {
    MODEL_FIRTH = 1, ///< logistic: penalised by Jeffreys' prior (Firth 1993, Biometrika 80:27)
    MODEL_QUASI = 2, ///< standard errors times the root of Pearson's dispersion, t on residual df
};
struct model_fit {
    size_t n, p;
    struct estimate *beta; ///< p of them; t limits where a dispersion is estimated, else normal
    double *p_value;       ///< p of them, two-sided
    double *covariance;    ///< p × p, row-major, dispersion included
    double *fitted;        ///< n: mean of the response (a proportion for the binomial)
    double loglik, deviance, null_deviance, pearson;
    double dispersion; ///< residual variance (linear), Pearson/df (quasi), else 1
    double df;         ///< residual degrees of freedom
    bool separated;    ///< some combination of columns splits successes from failures: estimates without end
    int iterations;
};
/// Fails with OUTCOME_DATA when columns are dependent, rows are too few, or (without Firth) the outcomes are separated.
enum outcome model_fit(enum model_kind kind, unsigned options, const struct design *design, double level, struct arena *arena,
                       struct model_fit *out, struct failure *why);
/// l'β with its interval; l has p entries.
struct estimate model_contrast(const struct model_fit *fit, const double *l, double level);
/// Whether L β = 0 (rows × p, row-major) holds: F where a dispersion is estimated, else Wald chi-squared.
enum outcome model_test(const struct model_fit *fit, const double *l, size_t rows, struct test *out, struct failure *why);
/// Likelihood-ratio test of nested fits to the same rows.
struct test model_compare(double loglik_small, double loglik_large, double df);
#endif
