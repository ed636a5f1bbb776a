/* SPDX-License-Identifier: GPL-3.0-or-later
 * How many kinds, how even, how alike: Hill numbers, coverage, interpolation and extrapolation, dissimilarity. */
#ifndef SPINNEY_STATS_DIVERSITY_H
#define SPINNEY_STATS_DIVERSITY_H
#include "stats/estimate.h"

/// A sample: counts of individuals per kind, or (incidence) in how many of `units` sampling units each kind was found.
struct assemblage {
    const double *count; ///< whole numbers ≥ 0
    size_t kinds;
    double units; ///< 0: individuals; else number of sampling units, every count at most this
};
struct diversity {
    double n;                 ///< individuals, or incidences
    double seen, once, twice; ///< kinds seen, seen once, seen twice
    double hill[3];           ///< observed, orders 0, 1, 2
    double asymptotic[3];     ///< estimated true values, orders 0, 1, 2 (Chao1 or Chao2 with (n − 1)/n; Chao & Jost)
    double coverage;          ///< of the sample (Chao & Jost 2012)
    double chao_corrected;    ///< Chao1 bias-corrected without the factor, as vegan's estimateR (individuals only)
    double chao_se;           ///< of asymptotic[0]
};
enum outcome diversity_of(const struct assemblage *a, struct diversity *out, struct failure *why);
/// Hill number of order 0, 1 or 2 at size m (individuals or units; need not be whole): rarefied below, extrapolated above.
/// Chao et al. 2014, Ecol Monogr 84:45; extrapolation of order 1 in the later form of R iNEXT 3, of order 2 exact.
enum outcome diversity_at_size(const struct assemblage *a, double m, int order, double *out, struct failure *why);
/// Expected coverage of a sample of size m.
enum outcome diversity_coverage_at(const struct assemblage *a, double m, double *out, struct failure *why);
/// Hill number at a coverage in (0, 1), and the size that reaches it. Beyond twice the sample it is still given: `size`
/// tells. Between whole sizes linear.
enum outcome diversity_at_coverage(const struct assemblage *a, double coverage, int order, double *out, double *size, struct failure *why);
/// Intervals by the bootstrap of Chao et al. 2014 (unseen kinds added): at sizes m[0 … k−1], `draws` (200 if 0).
enum outcome diversity_intervals(const struct assemblage *a, const double *m, size_t k, int order, double level, size_t draws,
                                 uint64_t seed, struct arena *arena, struct estimate *out, struct failure *why);
/// Mean richness of all subsets of 1 … units sampling units: mean[units] (Ugland, Gray & Ellingsen 2003; exact).
enum outcome diversity_accumulation(const struct assemblage *incidence, double *mean, struct failure *why);

enum dissimilarity { BRAY_CURTIS, SORENSEN, JACCARD, RUZICKA };
/// Between two rows of counts; unknown where both are empty.
double dissimilarity_of(enum dissimilarity kind, const double *a, const double *b, size_t kinds);
/// Among `sites` rows of a table (sites × kinds, row-major); out is sites × sites.
void dissimilarity_all(enum dissimilarity kind, const double *table, size_t sites, size_t kinds, double *out);
/// Kinds lost and gained between two times, as counts and as a share of both times together.
struct turnover {
    double kept, lost, gained, share;
};
struct turnover turnover_of(const double *before, const double *after, size_t kinds);
#endif
