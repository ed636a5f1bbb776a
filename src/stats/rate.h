/* SPDX-License-Identifier: GPL-3.0-or-later
 * Counts per effort, relative growth, several tests at once, agreement of observers, and heaped figures. */
#ifndef SPINNEY_STATS_RATE_H
#define SPINNEY_STATS_RATE_H
#include "stats/estimate.h"

/// Count per unit of effort with exact Poisson limits (Garwood 1936). count ≥ 0 whole, effort > 0.
enum outcome rate_exact(double count, double effort, double level, struct estimate *out, struct failure *why);
/// Rate 1 over rate 2, exact conditional (binomial) limits and two-sided p as R's poisson.test.
enum outcome rate_ratio(double count1, double effort1, double count2, double effort2, double level, struct estimate *out, double *p,
                        struct failure *why);

/// Relative growth per time unit of the same plants: mean of (ln w2 − ln w1)/years. Pairs with an unknown are left out;
/// a size that is not positive is refused. Hoffmann & Poorter 2002, Ann Bot 90:37.
enum outcome rgr_paired(const double *w1, const double *w2, size_t n, double years, double level, struct estimate *out,
                        struct failure *why);
/// From two samples of different plants: difference of mean logarithms; `spread` is the sd among plants, (var1 + var2)^½/years.
enum outcome rgr_unpaired(const double *w1, size_t n1, const double *w2, size_t n2, double years, double level, struct estimate *out,
                          double *spread, struct failure *why);

/// p values adjusted for being many; unknown stays unknown and does not count. Holm 1979; Benjamini & Hochberg 1995.
void adjust_holm(const double *p, size_t n, double *out);
void adjust_benjamini_hochberg(const double *p, size_t n, double *out);

/// Cohen's kappa of two observers from a k × k table of counts. weights 0: none, 1: linear, 2: squared. se after Fleiss,
/// Cohen & Everitt 1969 (large sample).
enum outcome agreement_kappa(const double *table, size_t k, int weights, double level, struct estimate *kappa, double *agreed_share,
                             struct failure *why);
/// Two observers measuring the same things: bias, limits of agreement (Bland & Altman 1986), technical error of
/// measurement (Dahlberg 1940), intraclass correlation of single measurements, two-way, absolute agreement (McGraw & Wong 1996).
struct measure_agreement {
    struct estimate bias;
    double limit_low, limit_high, technical_error, icc;
};
enum outcome agreement_measures(const double *a, const double *b, size_t n, double level, struct measure_agreement *out,
                                struct failure *why);
/// Whether last digits are evenly used: values divided by `step` (the smallest division read, > 0) and rounded.
struct heaping {
    double count[10];
    struct test chisq;   ///< on 9 df
    double share_0_or_5; ///< expected 0.2
    double whipple;      ///< 100: even … 500: all end in 0 or 5
    int favourite;       ///< digit most used
};
enum outcome heaping_digits(const double *value, size_t n, double step, struct heaping *out, struct failure *why);
#endif
