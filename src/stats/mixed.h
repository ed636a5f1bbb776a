/* SPDX-License-Identifier: GPL-3.0-or-later
 * Mixed models: linear and logistic, with several, nested or crossed random effects and random slopes. */
#ifndef SPINNEY_STATS_MIXED_H
#define SPINNEY_STATS_MIXED_H
#include "stats/model.h"

/// One random term: every level has its own vector of effects on the columns of z, with a covariance to be estimated.
struct random_term {
    size_t levels;
    const size_t *level; ///< n: level of each row, 0 … levels − 1
    size_t columns;      ///< 1: intercept only
    const double *z;     ///< n × columns, row-major; NULL with columns 1: all ones
};
enum { MIXED_EFFECT_MOST = 250 };
enum df_method { DF_NONE, DF_SATTERTHWAITE };
struct mixed_fit {
    size_t n, p, terms;
    struct estimate *beta; ///< p; t limits with df where asked for
    double *df;            ///< p; unknown without df method
    double *p_value;       ///< p
    double *covariance;    ///< p × p, row-major
    double *theta;         ///< relative Cholesky factors, term by term, lower triangle by columns
    size_t n_theta;
    double **term_covariance;   ///< per term columns × columns, row-major (variance scale)
    double **effect;            ///< per term levels × columns: conditional modes
    double **effect_covariance; ///< per term levels × levels, row-major: of the modes, coefficients and variances taken as known;
                                ///< NULL for terms of several columns or more than MIXED_EFFECT_MOST levels
    double sigma;               ///< residual sd (linear); 1 otherwise
    double loglik;              ///< maximised; restricted where REML
    double criterion;           ///< −2 loglik
    bool reml, singular;        ///< singular: some variance at zero
    double gradient;            ///< largest absolute slope of the criterion at the end, bounds respected
    int evaluations;
    size_t n_parameters;                     ///< for degrees of freedom: theta and sigma, 0 without
    double *parameter_covariance, *jacobian; ///< n_parameters², and per parameter the p × p slopes of the covariance
};
/// Linear mixed model by profiled (restricted) likelihood with a sparse Cholesky factor (Bates, Mächler, Bolker & Walker
/// 2015, J Stat Softw 67(1), eq. 34 and 41). Design member trials must be NULL. Satterthwaite's degrees of freedom as
/// Kuznetsova, Brockhoff & Christensen 2017, J Stat Softw 82(13).
enum outcome mixed_linear(const struct design *design, const struct random_term *terms, size_t n_terms, bool reml, enum df_method df,
                          double level, struct arena *arena, struct mixed_fit *out, struct failure *why);
/// Logistic mixed model; `quadrature` 1 is Laplace, odd numbers to 25 adaptive Gauss–Hermite (one term with one column only).
enum outcome mixed_logistic(const struct design *design, const struct random_term *terms, size_t n_terms, int quadrature, double level,
                            struct arena *arena, struct mixed_fit *out, struct failure *why);
/// l'β with its interval and Satterthwaite df found anew where the fit carries df.
enum outcome mixed_contrast(const struct mixed_fit *fit, const double *l, double level, struct estimate *out, double *p,
                            struct failure *why);
/// Average over random effects of variance s² of a logistic chance at linear predictor eta (Zeger, Liang & Albert 1988).
double logistic_marginal(double eta, double variance);
#endif
