/* SPDX-License-Identifier: GPL-3.0-or-later
 * Yes/no counts that come in clusters (plots): how alike plants of a plot are, and what that does to an interval. */
#ifndef SPINNEY_STATS_CLUSTER_H
#define SPINNEY_STATS_CLUSTER_H
#include "stats/estimate.h"

/// y[i] of n[i] in each of k clusters. analysis of variance for a binary outcome; Fleiss & Cuzick 1979.
struct cluster_spread {
    double n0, msb, msw;
    double icc_anova;         ///< may be negative; reported as it is
    double icc_fleiss_cuzick; ///< may be negative
    double p;                 ///< pooled proportion
    double mean_size, cv_size;
    double deff_size;           ///< 1 + ((cv² + 1) mean − 1) icc, icc cut at 0 (Eldridge et al. 2006, Int J Epidemiol 35:1292)
    double rao_scott_se;        ///< linearised (Rao & Scott 1992, Biometrics 48:577)
    double deff;                ///< from it; unknown when p is 0 or 1
    double effective_n;         ///< N/deff
    struct estimate proportion; ///< Wilson with the effective number (not above N) and Student's t on k − 1 df
};
/// k ≥ 2, some n[i] > 1. One cluster is refused: between-cluster spread cannot be known.
enum outcome cluster_proportion(const double *y, const double *n, size_t k, double level, struct cluster_spread *out, struct failure *why);
/// 1 + ((cv² + 1) mean − 1) icc.
double design_effect(double mean_size, double cv_size, double icc);

/// A league of k members by partial pooling: y[i] of n[i], p[i] from a beta distribution fitted to all (empirical Bayes).
struct league {
    size_t k;
    double a, b, mean, icc; ///< the fitted beta; icc = 1/(a + b + 1)
    double loglik;
    bool no_spread;                           ///< the members differ no more than by chance: all shrink to the mean
    struct estimate *each;                    ///< posterior mean, sd, equal-tailed interval; n is n[i]
    double *rank_mean, *rank_low, *rank_high; ///< rank 1 is the highest p; from posterior draws
    double *p_top, *p_bottom;                 ///< chance of being among the best and the worst `tail`
    double *p_rank;                           ///< k × k, row-major: chance that member i has rank j + 1
};
/// `tail` members count as top and bottom (3 if 0). Ranks from `draws` (4,000 if 0) posterior draws, seeded.
enum outcome league_beta_binomial(const double *y, const double *n, size_t k, double level, size_t tail, size_t draws, uint64_t seed,
                                  struct arena *arena, struct league *out, struct failure *why);
#endif
