/* SPDX-License-Identifier: GPL-3.0-or-later
 * How many plants, plots and sites: closed forms. */
#include "stats/estimate.h"
#include "trial/trial.h"
#include <math.h>

#define MOST_N 1e9

static bool inside(double p)
{
    return p > 0 && p < 1;
}

static enum outcome risks_check(double alpha, double power, struct failure *why)
{
    if (!(alpha > 0 && alpha < 0.5))
        return fail(why, OUTCOME_USAGE, "The risk of a false alarm must lie between 0 and 0.5; %g was given.", alpha);
    if (!(power > alpha && power < 1))
        return fail(why, OUTCOME_USAGE, "The power must lie between the risk of a false alarm and 1; %g was given.", power);
    return OUTCOME_OK;
}

enum outcome trial_sample_size(double share, double half_width, double confidence, double population, double *exact, double *n,
                               struct failure *why)
{
    if (!(share >= 0 && share <= 1))
        return fail(why, OUTCOME_USAGE, "A share lies between 0 and 1; %g was given.", share);
    if (!inside(half_width) || !inside(confidence))
        return fail(why, OUTCOME_USAGE, "Half-width and confidence lie between 0 and 1; %g and %g were given.", half_width, confidence);
    if (!(population >= 0))
        return fail(why, OUTCOME_USAGE, "The population cannot be below zero.");
    double z = normal_quantile(0.5 + confidence / 2), n0 = z * z * share * (1 - share) / (half_width * half_width);
    if (population > 0)
        n0 = n0 / (1 + (n0 - 1) / population);
    *exact = n0;
    *n = fmax(1, ceil(n0 - 1e-9));
    return OUTCOME_OK;
}

static enum outcome shares_check(double p1, double p2, struct failure *why)
{
    if (!(p1 >= 0 && p1 <= 1 && p2 >= 0 && p2 <= 1))
        return fail(why, OUTCOME_USAGE, "Shares lie between 0 and 1; %g and %g were given.", p1, p2);
    if (p1 == p2)
        return fail(why, OUTCOME_USAGE, "The two shares are the same: no number of plants tells them apart.");
    return OUTCOME_OK;
}

enum outcome trial_two_shares_n(double p1, double p2, double alpha, double power, double *exact, double *corrected, struct failure *why)
{
    enum outcome outcome = shares_check(p1, p2, why);
    if (outcome == OUTCOME_OK)
        outcome = risks_check(alpha, power, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    double za = normal_quantile(1 - alpha / 2), zb = normal_quantile(power), mean = (p1 + p2) / 2, d = fabs(p1 - p2);
    double root = za * sqrt(2 * mean * (1 - mean)) + zb * sqrt(p1 * (1 - p1) + p2 * (1 - p2));
    double n = root * root / (d * d), plus = 1 + sqrt(1 + 4 / (n * d));
    *exact = n;
    *corrected = n / 4 * plus * plus;
    return OUTCOME_OK;
}

enum outcome trial_two_shares_power(double p1, double p2, double n, double alpha, bool corrected, double *power, struct failure *why)
{
    enum outcome outcome = shares_check(p1, p2, why);
    if (outcome == OUTCOME_OK)
        outcome = risks_check(alpha, 0.99, why);
    if (outcome == OUTCOME_OK && !(n >= 1))
        outcome = fail(why, OUTCOME_USAGE, "There must be one plant at least in each group.");
    if (outcome != OUTCOME_OK)
        return outcome;
    double d = fabs(p1 - p2), mean = (p1 + p2) / 2, za = normal_quantile(1 - alpha / 2);
    if (corrected)
        n = n * d > 1 ? (n - 1 / d) * (n - 1 / d) / n : 0; /* the correction of the formula for n, turned round */
    double spread = p1 * (1 - p1) + p2 * (1 - p2), over = sqrt(n) * d - za * sqrt(2 * mean * (1 - mean));
    *power = spread > 0 ? normal_upper(-over / sqrt(spread)) : over > 0 ? 1 : 0;
    return OUTCOME_OK;
}

enum outcome trial_clusters_n(double p1, double p2, double m, double icc, double alpha, double power, double *exact, double *n,
                              struct failure *why)
{
    enum outcome outcome = shares_check(p1, p2, why);
    if (outcome == OUTCOME_OK)
        outcome = risks_check(alpha, power, why);
    if (outcome == OUTCOME_OK && (!(m >= 1) || !(icc >= 0 && icc <= 1)))
        outcome = fail(why, OUTCOME_USAGE, "Plants in a plot are one or more, the likeness within plots 0 to 1.");
    if (outcome != OUTCOME_OK)
        return outcome;
    double z = normal_quantile(1 - alpha / 2) + normal_quantile(power), d = p1 - p2;
    *exact = z * z * (p1 * (1 - p1) + p2 * (1 - p2)) * (1 + (m - 1) * icc) / (m * d * d);
    *n = ceil(*exact - 1e-9) + 1;
    return OUTCOME_OK;
}

enum outcome trial_paired_half_width(double n, double sd, double confidence, double *half_width, struct failure *why)
{
    if (!(n >= 2) || !(sd >= 0) || !inside(confidence))
        return fail(why, OUTCOME_USAGE, "Two pairs at least, a spread of zero or more and a confidence between 0 and 1 are needed.");
    *half_width = student_quantile(0.5 + confidence / 2, n - 1) * sd / sqrt(n);
    return OUTCOME_OK;
}

enum outcome trial_paired_half_width_n(double sd, double half_width, double confidence, double *n, struct failure *why)
{
    double width = 0, low = 2, high = 2;
    if (!(half_width > 0))
        return fail(why, OUTCOME_USAGE, "The half-width must be above zero.");
    enum outcome outcome = trial_paired_half_width(low, sd, confidence, &width, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    while (width > half_width && high < MOST_N) {
        low = high, high *= 2;
        trial_paired_half_width(high, sd, confidence, &width, why);
    }
    if (width > half_width)
        return fail(why, OUTCOME_DATA, "More than %g sites would be needed.", MOST_N);
    while (high - low > 1) {
        double middle = floor((low + high) / 2);
        trial_paired_half_width(middle, sd, confidence, &width, why);
        *(width > half_width ? &low : &high) = middle;
    }
    *n = high;
    return OUTCOME_OK;
}

/* P(|T| > t) for T noncentral t with this noncentrality: the normal probability averaged over the distribution of the
 * estimated spread s = sqrt(chi-squared / df), by Simpson's rule. Johnson, Kotz & Balakrishnan 1995, vol. 2, ch. 31. */
static double noncentral_beyond(double t, double df, double shift)
{
    enum { STEPS = 4000 };
    double wide = 14 / sqrt(2 * df), low = fmax(0, 1 - wide), high = 1 + wide, step = (high - low) / STEPS, sum = 0;
    double constant = log(2) + df / 2 * log(df / 2) - lgamma(df / 2);
    for (int i = 0; i <= STEPS; i++) {
        double s = low + step * i, weight = i == 0 || i == STEPS ? 1 : i % 2 == 1 ? 4 : 2;
        double density = s > 0 ? exp(constant + (df - 1) * log(s) - df * s * s / 2) : df == 1 ? exp(constant) : 0;
        sum += weight * density * (normal_upper(t * s - shift) + normal_upper(t * s + shift));
    }
    return sum * step / 3;
}

enum outcome trial_paired_power(double n, double difference, double sd, double alpha, double *power, struct failure *why)
{
    enum outcome outcome = risks_check(alpha, 0.99, why);
    if (outcome == OUTCOME_OK && (!(n >= 2) || !(sd > 0) || !isfinite(difference)))
        outcome = fail(why, OUTCOME_USAGE, "Two pairs at least and a spread above zero are needed.");
    if (outcome != OUTCOME_OK)
        return outcome;
    *power = noncentral_beyond(student_quantile(1 - alpha / 2, n - 1), n - 1, fabs(difference) / sd * sqrt(n));
    return OUTCOME_OK;
}

enum outcome trial_paired_n(double difference, double sd, double alpha, double power, double *n, struct failure *why)
{
    double got = 0, low = 1, high = 2;
    enum outcome outcome = risks_check(alpha, power, why);
    if (outcome == OUTCOME_OK && difference == 0)
        outcome = fail(why, OUTCOME_USAGE, "A difference of zero is never found.");
    if (outcome == OUTCOME_OK)
        outcome = trial_paired_power(high, difference, sd, alpha, &got, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    while (got < power && high < MOST_N) {
        low = high, high *= 2;
        trial_paired_power(high, difference, sd, alpha, &got, why);
    }
    if (got < power)
        return fail(why, OUTCOME_DATA, "More than %g sites would be needed.", MOST_N);
    while (high - low > 1) {
        double middle = floor((low + high) / 2);
        trial_paired_power(middle, difference, sd, alpha, &got, why);
        *(got < power ? &low : &high) = middle;
    }
    *n = high;
    return OUTCOME_OK;
}

enum outcome trial_contrast_power(double difference, double se, double df, double alpha, double *power, struct failure *why)
{
    enum outcome outcome = risks_check(alpha, 0.99, why);
    if (outcome == OUTCOME_OK && (!(df >= 1) || !(se > 0) || !isfinite(difference)))
        outcome = fail(why, OUTCOME_USAGE, "One degree of freedom at least and a standard error above zero are needed.");
    if (outcome == OUTCOME_OK)
        *power = noncentral_beyond(student_quantile(1 - alpha / 2, df), df, fabs(difference) / se);
    return outcome;
}

double trial_survival_difference_sd(double share_a, double share_b, double n_a, double n_b, double icc, double site_icc)
{
    double qa = share_a * (1 - share_a), qb = share_b * (1 - share_b);
    double va = qa * (icc + (1 - icc) / n_a), vb = qb * (icc + (1 - icc) / n_b);
    return sqrt(fmax(0, va + vb - 2 * site_icc * icc * sqrt(qa * qb)));
}

double trial_amount_difference_sd(double sd_plot, double sd_unit, double n_a, double n_b)
{
    return sqrt(2 * sd_plot * sd_plot + sd_unit * sd_unit * (1 / n_a + 1 / n_b));
}

double trial_count_difference_sd(double sd_plot, double mean_a, double mean_b, double n_a, double n_b)
{
    return sqrt(2 * sd_plot * sd_plot + 1 / (n_a * mean_a) + 1 / (n_b * mean_b));
}

double trial_least_p_pairs(double n)
{
    return n >= 1 ? fmin(1, 2 * exp2(-floor(n))) : unknown_real();
}

double trial_least_p_groups(double a, double b)
{
    if (!(a >= 1 && b >= 1))
        return unknown_real();
    a = floor(a), b = floor(b);
    double ways = 1, less = fmin(a, b);
    for (double k = 1; k <= less; k++)
        ways *= (a + b - less + k) / k;
    return fmin(1, (a == b ? 2 : 1) / nearbyint(ways));
}

double trial_difference_sd(double sd_between, double sd_within, double m)
{
    return sqrt(sd_between * sd_between + 2 * sd_within * sd_within / m);
}

double trial_buffer_m(double growth_m_year, double years)
{
    return growth_m_year >= 0 && years >= 0 ? growth_m_year * years : unknown_real();
}
