/* SPDX-License-Identifier: GPL-3.0-or-later
 * Pooling estimates over sites, and paired differences between plots of a site. */
#ifndef SPINNEY_STATS_POOL_H
#define SPINNEY_STATS_POOL_H
#include "stats/estimate.h"

enum pool_method { POOL_FIXED, POOL_DERSIMONIAN_LAIRD, POOL_REML, POOL_PAULE_MANDEL };
struct pool_result {
    struct estimate effect;           ///< pooled; n is the number of sites
    struct test test;                 ///< of effect 0: z, or t on k − 1 with Hartung–Knapp
    double predict_low, predict_high; ///< where the effect of a new site lies (t on k − 2; Higgins, Thompson & Spiegelhalter 2009)
    double tau2, tau2_se;
    struct test q;            ///< heterogeneity
    double i2_percent, h2;    ///< as R's metafor: tau²/(tau² + typical variance)
    double *weight_percent;   ///< k
    struct estimate *without; ///< k: pooled effect with site i left out (k ≥ 3)
    double *tau2_without;     ///< k
};
/// effect[i] with variance[i] > 0 of k ≥ 2 sites. `hartung_knapp`: Hartung & Knapp 2001, Sidik & Jonkman 2002.
enum outcome pool_effects(const double *effect, const double *variance, size_t k, enum pool_method method, bool hartung_knapp, double level,
                          struct arena *arena, struct pool_result *out, struct failure *why);

/// Mean of paired differences with Student's t.
enum outcome paired_mean(const double *difference, size_t n, double level, struct estimate *out, struct test *test, struct failure *why);
/// Two independent samples with unequal variances (Welch).
enum outcome welch_difference(const double *a, size_t n_a, const double *b, size_t n_b, double level, struct estimate *out,
                              struct test *test, struct failure *why);
#endif
