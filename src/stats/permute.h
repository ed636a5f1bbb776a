/* SPDX-License-Identifier: GPL-3.0-or-later
 * Permutation tests that keep to the design: sign flips of paired sites, shuffles within blocks, and distance matrices. */
#ifndef SPINNEY_STATS_PERMUTE_H
#define SPINNEY_STATS_PERMUTE_H
#include "stats/estimate.h"

struct sign_flip {
    double mean;
    double p;         ///< two-sided
    double p_least;   ///< the least p this many pairs can give: 2/2^n
    bool exact;       ///< all 2^n flips counted (n ≤ 24); else drawn
    double low, high; ///< interval by inverting the exact test; unknown where too few pairs or n > 24
};
/// Differences of n pairs; zeros stay in. Drawn with `seed` above 24 pairs (`draws`, 9,999 if 0).
enum outcome permute_sign_flip(const double *difference, size_t n, double level, size_t draws, uint64_t seed, struct sign_flip *out,
                               struct failure *why);

struct shuffle_test {
    double statistic; ///< F of one-way differences after taking out block means
    double p;
    bool exact;          ///< every arrangement counted
    double arrangements; ///< how many distinct ones the design has (INFINITY when past 1e15)
    double p_least;      ///< 1/arrangements at best (two equal groups: 2/arrangements)
};
/// Differences between groups when labels are shuffled only within blocks (NULL: one block). All arrangements are counted
/// up to 200,000 of them; else `draws` (9,999 if 0).
enum outcome permute_groups(const double *y, const size_t *group, const size_t *block, size_t n, size_t groups, size_t draws, uint64_t seed,
                            struct shuffle_test *out, struct failure *why);

/// Permutational analysis of variance of distances, terms in the order given (sequential).
struct permanova_result {
    size_t terms;
    double *ss, *df, *f, *r2, *p; ///< terms, then residual at [terms] and total at [terms + 1]
    double *dispersion_mean;      ///< per group: mean distance to its centroid; NULL without group
    struct test dispersion;       ///< F of those distances among groups (p from the F distribution)
    size_t draws;
};
/// `distance` n × n symmetric. Terms are columns of `x` (n × sum of columns[t], row-major, no intercept). Permutes within
/// `block` (NULL: freely). McArdle & Anderson 2001, Ecology 82:290; as vegan's adonis2 with by = "terms". `group`
/// (may be NULL) asks for the dispersion
/// of distances to group centroids (Anderson 2006, Biometrics 62:245; centroid form, distances by group).
enum outcome permanova(const double *distance, size_t n, const double *x, const size_t *columns, size_t terms, const size_t *group,
                       size_t groups, const size_t *block, size_t draws, uint64_t seed, struct arena *arena, struct permanova_result *out,
                       struct failure *why);
#endif
