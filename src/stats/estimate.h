/* SPDX-License-Identifier: GPL-3.0-or-later
 * An estimate with its uncertainty, and the few distribution functions that every part of stats/ needs. */
#ifndef SPINNEY_STATS_ESTIMATE_H
#define SPINNEY_STATS_ESTIMATE_H
#include "base/base.h"

/// How every estimate travels. Members that are not known or not defined are unknown_real(); is_known() tells.
struct estimate {
    double value; ///< the estimate, in the unit of what is estimated
    double se;    ///< standard error, same unit
    double low;   ///< lower end of the interval at the level asked for
    double high;  ///< upper end; may be INFINITY where the data set no upper bound
    double n;     ///< number it rests on (plants, plots, or an effective number)
};

/// A test: statistic, degrees of freedom and p. `df2` is unknown unless the reference is F; both unknown for an exact test.
struct test {
    double statistic; ///< as the function says (chi-squared, F, t, z …)
    double df, df2;   ///< degrees of freedom
    double p;         ///< two-sided unless the function says otherwise
};

/// All members unknown.
struct estimate estimate_unknown(void);
struct test test_unknown(void);
/// value ± quantile · se.
struct estimate estimate_normal(double value, double se, double level, double n);
/// The same with Student's t on `df`; df unknown or infinite: normal.
struct estimate estimate_student(double value, double se, double df, double level, double n);

double normal_quantile(double p);             ///< p in (0,1)
double normal_upper(double z);                ///< P(Z > z)
double student_quantile(double p, double df); ///< df > 0, not necessarily whole; infinite: normal
double student_two_sided(double t, double df);
double chisq_upper(double x, double df);
double chisq_quantile(double p, double df);
double f_upper(double x, double df1, double df2);
double beta_quantile(double p, double a, double b);
double gamma_quantile(double p, double shape); ///< scale 1
/// Sum with Neumaier's compensation.
double sum_exactly(const double *x, size_t n);
/// Whether `level` lies in [0.5, 1): fails with OUTCOME_USAGE if not.
enum outcome level_check(double level, struct failure *why);
#endif
