/* SPDX-License-Identifier: GPL-3.0-or-later
 * A sample made ready for diversity: its counts above zero and logarithms of factorials. Private to stats/. */
#ifndef SPINNEY_STATS_DIVERSITY_INSIDE_H
#define SPINNEY_STATS_DIVERSITY_INSIDE_H
#include "stats/diversity.h"

struct sample {
    bool incidence;
    size_t seen;     ///< kinds seen
    double *x;       ///< their counts
    double n;        ///< individuals, or sampling units
    double total;    ///< individuals, or incidences
    double f1, f2;   ///< kinds seen once, twice
    double f0;       ///< estimated unseen
    double a;        ///< n f0/(n f0 + f1)
    double *ln_fact; ///< ln k! for k = 0 … n
};
enum outcome sample_make(const struct assemblage *a, struct arena *arena, struct sample *out, struct failure *why);
double sample_hill(const struct sample *s, int order);       ///< observed
double sample_asymptotic(const struct sample *s, int order); ///< estimated true
double sample_at(const struct sample *s, double m, int order);
double sample_coverage(const struct sample *s, double m);
#endif
