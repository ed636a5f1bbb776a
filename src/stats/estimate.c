/* SPDX-License-Identifier: GPL-3.0-or-later
 * Estimates, and distribution functions over GSL. */
#include "stats/estimate.h"
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
#include <math.h>

/* GSL ends the process on its errors unless told otherwise; its functions then return NaN, which callers check. */
__attribute__((constructor)) static void gsl_quiet(void)
{
    gsl_set_error_handler_off();
}

struct estimate estimate_unknown(void)
{
    double u = unknown_real();
    return (struct estimate){u, u, u, u, u};
}

struct test test_unknown(void)
{
    double u = unknown_real();
    return (struct test){u, u, u, u};
}

struct estimate estimate_normal(double value, double se, double level, double n)
{
    return estimate_student(value, se, INFINITY, level, n);
}

struct estimate estimate_student(double value, double se, double df, double level, double n)
{
    double q = student_quantile(1 - (1 - level) / 2, isnan(df) ? INFINITY : df);
    return (struct estimate){value, se, value - q * se, value + q * se, n};
}

double normal_quantile(double p)
{
    return gsl_cdf_ugaussian_Pinv(p);
}

double normal_upper(double z)
{
    return gsl_cdf_ugaussian_Q(z);
}

double student_quantile(double p, double df)
{
    if (!(df < 1e9))
        return gsl_cdf_ugaussian_Pinv(p);
    double t = gsl_cdf_tdist_Pinv(p, df);
    /* one Newton step: GSL's inverse is good to about 1e-9 */
    double density = exp(lgamma((df + 1) / 2) - lgamma(df / 2)) / sqrt(df * M_PI) * pow(1 + t * t / df, -(df + 1) / 2);
    double step = t > 0 ? -(gsl_cdf_tdist_Q(t, df) - (1 - p)) / density : (gsl_cdf_tdist_P(t, df) - p) / density;
    return isfinite(step) ? t - step : t;
}

double student_two_sided(double t, double df)
{
    return !(df < 1e9) ? 2 * gsl_cdf_ugaussian_Q(fabs(t)) : 2 * gsl_cdf_tdist_Q(fabs(t), df);
}

double chisq_upper(double x, double df)
{
    return df <= 0 ? unknown_real() : gsl_cdf_chisq_Q(x, df);
}

double chisq_quantile(double p, double df)
{
    return 2 * gamma_quantile(p, df / 2);
}

double f_upper(double x, double df1, double df2)
{
    return !(df2 < 1e9) ? gsl_cdf_chisq_Q(x * df1, df1) : gsl_cdf_fdist_Q(x, df1, df2);
}

/* GSL's inverses of beta and gamma stop at about 1e-6 to 1e-9; halving on the distribution function itself, then Newton. */
static double invert(double (*cdf)(double, double, double), double p, double a, double b, double low, double high)
{
    for (int i = 0; i < 400 && high - low > 4e-16 * fabs(high); i++) {
        double middle = low + (high - low) / 2;
        if (cdf(middle, a, b) < p)
            low = middle;
        else
            high = middle;
    }
    return low + (high - low) / 2;
}

static double beta_cdf(double x, double a, double b)
{
    return gsl_cdf_beta_P(x, a, b);
}

static double beta_cdf_flipped(double x, double a, double b)
{
    return gsl_cdf_beta_P(x, b, a);
}

double beta_quantile(double p, double a, double b)
{
    if (p <= 0 || p >= 1)
        return p <= 0 ? 0 : 1;
    return p <= 0.5 ? invert(beta_cdf, p, a, b, 0, 1) : 1 - invert(beta_cdf_flipped, 1 - p, a, b, 0, 1);
}

static double gamma_cdf(double x, double shape, double unused)
{
    (void)unused;
    return gsl_cdf_gamma_P(x, shape, 1);
}

double gamma_quantile(double p, double shape)
{
    if (p <= 0)
        return 0;
    double high = shape + 10 * sqrt(shape) + 10;
    while (gsl_cdf_gamma_P(high, shape, 1) < p)
        high *= 2;
    return invert(gamma_cdf, p, shape, 0, 0, high);
}

double sum_exactly(const double *x, size_t n)
{
    double sum = 0, rest = 0;
    for (size_t i = 0; i < n; i++) {
        double t = sum + x[i];
        rest += fabs(sum) >= fabs(x[i]) ? (sum - t) + x[i] : (x[i] - t) + sum;
        sum = t;
    }
    return sum + rest;
}

enum outcome level_check(double level, struct failure *why)
{
    if (level >= 0.5 && level < 1)
        return OUTCOME_OK;
    fail(why, OUTCOME_USAGE, "The level of an interval must be from 0.5 to below 1; it is %g.", level);
    failure_remedy(why, "Use 0.95 for a 95 %% interval.");
    return OUTCOME_USAGE;
}
