/* SPDX-License-Identifier: GPL-3.0-or-later
 * Intervals of proportions, differences and ratios in closed form. */
#include "stats/proportion.h"
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <math.h>

static enum outcome counts_check(double x, double n, double level, struct failure *why)
{
    if (level_check(level, why) != OUTCOME_OK)
        return OUTCOME_USAGE;
    if (!(n > 0) || !isfinite(n)) {
        fail(why, OUTCOME_DATA, "A proportion of nothing is not defined: the number looked at is %g.", n);
        failure_remedy(why, "Leave out groups in which nothing was looked at.");
        return OUTCOME_DATA;
    }
    if (!(x >= 0 && x <= n))
        return fail(why, OUTCOME_DATA, "The count %g does not lie between 0 and the number looked at, %g.", x, n);
    return OUTCOME_OK;
}

static struct estimate wilson(double x, double n, double z, bool corrected)
{
    double p = x / n, z2 = z * z, below = 2 * (n + z2);
    struct estimate e = {p, sqrt(p * (1 - p) / n), 0, 1, n};
    if (corrected) {
        e.low = (2 * n * p + z2 - 1 - z * sqrt(z2 - 2 - 1 / n + 4 * p * (n * (1 - p) + 1))) / below;
        e.high = (2 * n * p + z2 + 1 + z * sqrt(z2 + 2 - 1 / n + 4 * p * (n * (1 - p) - 1))) / below;
        e.low = fmax(0, e.low);
        e.high = fmin(1, e.high);
    } else {
        double half = z * sqrt(z2 + 4 * n * p * (1 - p));
        e.low = (2 * n * p + z2 - half) / below;
        e.high = (2 * n * p + z2 + half) / below;
    }
    if (x == 0)
        e.low = 0;
    if (x == n)
        e.high = 1;
    return e;
}

static double two_sided_z(double level)
{
    return normal_quantile(1 - (1 - level) / 2);
}

enum outcome proportion_wilson(double x, double n, double level, bool corrected, struct estimate *out, struct failure *why)
{
    enum outcome outcome = counts_check(x, n, level, why);
    if (outcome == OUTCOME_OK)
        *out = wilson(x, n, two_sided_z(level), corrected);
    return outcome;
}

enum outcome proportion_exact(double x, double n, double level, struct estimate *out, struct failure *why)
{
    enum outcome outcome = counts_check(x, n, level, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    double tail = (1 - level) / 2, p = x / n;
    *out = (struct estimate){p, sqrt(p * (1 - p) / n), x == 0 ? 0 : beta_quantile(tail, x, n - x + 1),
                             x == n ? 1 : beta_quantile(1 - tail, x + 1, n - x), n};
    return OUTCOME_OK;
}

struct estimate difference_of(struct estimate first, struct estimate second)
{
    double d = first.value - second.value;
    return (struct estimate){d, hypot(first.se, second.se), d - hypot(first.value - first.low, second.high - second.value),
                             d + hypot(first.high - first.value, second.value - second.low), first.n + second.n};
}

enum outcome difference_newcombe(double x1, double n1, double x2, double n2, double level, bool corrected, struct estimate *out,
                                 struct failure *why)
{
    struct estimate first, second;
    enum outcome outcome = proportion_wilson(x1, n1, level, corrected, &first, why);
    if (outcome == OUTCOME_OK)
        outcome = proportion_wilson(x2, n2, level, corrected, &second, why);
    if (outcome == OUTCOME_OK)
        *out = difference_of(first, second);
    return outcome;
}

static enum outcome rows_check(struct two_by_two t, double level, struct failure *why)
{
    double cells[4] = {t.a, t.b, t.c, t.d};
    for (size_t i = 0; i < 4; i++)
        if (!(cells[i] >= 0) || cells[i] != floor(cells[i]) || cells[i] > 1e9)
            return fail(why, OUTCOME_DATA, "A table of counts holds %g, which is not a whole number from 0.", cells[i]);
    if (t.a + t.b == 0 || t.c + t.d == 0)
        return fail(why, OUTCOME_DATA, "One of the two groups is empty.");
    return level_check(level, why);
}

enum outcome table_risk_ratio(struct two_by_two t, double level, struct estimate *out, struct failure *why)
{
    enum outcome outcome = rows_check(t, level, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    double n1 = t.a + t.b, n2 = t.c + t.d, unknown = unknown_real();
    *out = (struct estimate){unknown, unknown, unknown, unknown, n1 + n2};
    if (t.a == 0 && t.c == 0)
        return OUTCOME_OK;
    out->value = (t.a / n1) / (t.c / n2);
    if (t.a == 0 || t.c == 0)
        return OUTCOME_OK;
    out->se = sqrt(1 / t.a - 1 / n1 + 1 / t.c - 1 / n2);
    out->low = out->value * exp(-two_sided_z(level) * out->se);
    out->high = out->value * exp(two_sided_z(level) * out->se);
    return OUTCOME_OK;
}

enum outcome table_odds_ratio(struct two_by_two t, double level, struct estimate *out, struct failure *why)
{
    enum outcome outcome = rows_check(t, level, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    double unknown = unknown_real();
    *out = (struct estimate){unknown, unknown, unknown, unknown, t.a + t.b + t.c + t.d};
    if (t.a * t.d == 0 && t.b * t.c == 0)
        return OUTCOME_OK;
    out->value = t.a * t.d / (t.b * t.c);
    if (t.a == 0 || t.b == 0 || t.c == 0 || t.d == 0)
        return OUTCOME_OK;
    out->se = sqrt(1 / t.a + 1 / t.b + 1 / t.c + 1 / t.d);
    out->low = out->value * exp(-two_sided_z(level) * out->se);
    out->high = out->value * exp(two_sided_z(level) * out->se);
    return OUTCOME_OK;
}

/* Correlation of the pairs, with Newcombe's continuity correction when positive (1998, Stat Med 17:2635, method 10). */
static double pair_correlation(struct two_by_two t)
{
    double margins = (t.a + t.b) * (t.c + t.d) * (t.a + t.c) * (t.b + t.d);
    if (margins <= 0)
        return 0;
    double top = t.a * t.d - t.b * t.c;
    if (top > 0)
        top = fmax(top - (t.a + t.b + t.c + t.d) / 2, 0);
    return top / sqrt(margins);
}

enum outcome table_mcnemar(struct two_by_two t, double level, struct paired_result *out, struct failure *why)
{
    double cells[4] = {t.a, t.b, t.c, t.d}, n = t.a + t.b + t.c + t.d;
    for (size_t i = 0; i < 4; i++)
        if (!(cells[i] >= 0) || cells[i] != floor(cells[i]))
            return fail(why, OUTCOME_DATA, "A table of counts holds %g, which is not a whole number from 0.", cells[i]);
    if (n == 0)
        return fail(why, OUTCOME_DATA, "There are no pairs.");
    if (level_check(level, why) != OUTCOME_OK)
        return OUTCOME_USAGE;
    unsigned least = (unsigned)fmin(t.b, t.c), discordant = (unsigned)(t.b + t.c);
    double tail = gsl_cdf_binomial_P(least, 0.5, discordant), at = gsl_ran_binomial_pdf(least, 0.5, discordant);
    out->p = fmin(1, 2 * tail);
    out->mid_p = fmin(1, t.b == t.c ? 1 : 2 * tail - at);
    out->mcnemar = (struct test){discordant == 0 ? 0 : (t.b - t.c) * (t.b - t.c) / (t.b + t.c), 1, unknown_real(), 0};
    out->mcnemar.p = chisq_upper(out->mcnemar.statistic, 1);
    struct estimate first = wilson(t.a + t.b, n, two_sided_z(level), false), second = wilson(t.a + t.c, n, two_sided_z(level), false);
    double phi = pair_correlation(t), d = first.value - second.value;
    double dl1 = first.value - first.low, du1 = first.high - first.value, dl2 = second.value - second.low, du2 = second.high - second.value;
    out->difference = (struct estimate){d, sqrt((t.b + t.c - (t.b - t.c) * (t.b - t.c) / n)) / n,
                                        d - sqrt(fmax(0, dl1 * dl1 - 2 * phi * dl1 * du2 + du2 * du2)),
                                        d + sqrt(fmax(0, du1 * du1 - 2 * phi * du1 * dl2 + dl2 * dl2)), n};
    return OUTCOME_OK;
}

/* Proportions of largest likelihood with p1 − p2 = d: Farrington & Manning 1990, Stat Med 9:1447, appendix. */
static void constrained(double x1, double n1, double x2, double n2, double d, double *p1, double *p2)
{
    double theta = n2 / n1, q1 = x1 / n1, q2 = x2 / n2;
    double a = 1 + theta, b = -(1 + theta + q1 + theta * q2 + d * (theta + 2)), c = d * d + d * (2 * q1 + theta + 1) + q1 + theta * q2;
    double e = -q1 * d * (1 + d);
    double v = b * b * b / (27 * a * a * a) - b * c / (6 * a * a) + e / (2 * a);
    double u = copysign(sqrt(fmax(0, b * b / (9 * a * a) - c / (3 * a))), v);
    double ratio = u == 0 ? 0 : fmax(-1, fmin(1, v / (u * u * u)));
    *p1 = fmax(0, fmin(1, 2 * u * cos((M_PI + acos(ratio)) / 3) - b / (3 * a)));
    *p2 = fmax(0, fmin(1, *p1 - d));
}

enum outcome difference_noninferior(double x1, double n1, double x2, double n2, double margin, double level, struct noninferiority *out,
                                    struct failure *why)
{
    if (!(margin > 0 && margin < 1)) {
        fail(why, OUTCOME_USAGE, "A margin must lie between 0 and 1; it is %g.", margin);
        failure_remedy(why, "Give the largest loss that would still be accepted, for example 0.1 for ten points.");
        return OUTCOME_USAGE;
    }
    struct estimate d;
    enum outcome outcome = difference_newcombe(x1, n1, x2, n2, level, false, &d, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    double p1 = 0, p2 = 0;
    constrained(x1, n1, x2, n2, -margin, &p1, &p2);
    double z = (d.value + margin) / sqrt(p1 * (1 - p1) / n1 + p2 * (1 - p2) / n2);
    *out = (struct noninferiority){d, normal_upper(z), d.low > -margin, d.high < -margin};
    return OUTCOME_OK;
}
