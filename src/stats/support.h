/* SPDX-License-Identifier: GPL-3.0-or-later
 * Interval-censored lives reduced to innermost intervals and the ranges of them that each life allows. Private to stats/. */
#ifndef SPINNEY_STATS_SUPPORT_H
#define SPINNEY_STATS_SUPPORT_H
#include "stats/survival.h"

struct support {
    size_t m;             ///< innermost intervals, in order of time
    double *left, *right; ///< m
    size_t n;             ///< lives
    size_t *from, *to;    ///< n: first and last innermost interval inside each life's own
    size_t k;             ///< distinct (from, to)
    size_t *k_from, *k_to;
    double *k_weight, total;
    double *mass; ///< m, once solved
    double loglik, gap;
    int iterations;
};
enum outcome support_make(const struct interval_lives *lives, struct arena *arena, struct support *out, struct failure *why);
/// Maximise; fails with OUTCOME_DATA if the dual condition could not be met (it always can: a broken promise, told honestly).
enum outcome support_solve(struct support *s, struct failure *why);
#endif
