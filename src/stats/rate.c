/* SPDX-License-Identifier: GPL-3.0-or-later
 * Counts per effort and relative growth; p values of several tests. */
#include "stats/rate.h"
#include "stats/order.h"
#include "stats/proportion.h"
#include <gsl/gsl_randist.h>
#include <math.h>
#include <stdlib.h>

static enum outcome count_check(double count, double effort, struct failure *why)
{
    if (!(count >= 0) || count != floor(count) || count > 1e9)
        return fail(why, OUTCOME_DATA, "A count must be a whole number from 0; it is %g.", count);
    if (!(effort > 0) || !isfinite(effort)) {
        fail(why, OUTCOME_DATA, "The effort must be above 0; it is %g.", effort);
        return failure_remedy(why, "A visit without effort says nothing about a rate: leave it out.");
    }
    return OUTCOME_OK;
}

enum outcome rate_exact(double count, double effort, double level, struct estimate *out, struct failure *why)
{
    enum outcome outcome = level_check(level, why);
    if (outcome != OUTCOME_OK || (outcome = count_check(count, effort, why)) != OUTCOME_OK)
        return outcome;
    double tail = (1 - level) / 2;
    *out = (struct estimate){count / effort, sqrt(count) / effort, count == 0 ? 0 : gamma_quantile(tail, count) / effort,
                             gamma_quantile(1 - tail, count + 1) / effort, effort};
    return OUTCOME_OK;
}

/* Two-sided binomial p: all outcomes no likelier than the one seen (R's binom.test, factor 1 + 1e-7). */
static double binomial_two_sided(double x, double n, double p)
{
    double seen = gsl_ran_binomial_pdf((unsigned)x, p, (unsigned)n) * (1 + 1e-7), total = 0;
    for (unsigned i = 0; i <= (unsigned)n; i++) {
        double each = gsl_ran_binomial_pdf(i, p, (unsigned)n);
        total += each <= seen ? each : 0;
    }
    return fmin(1, total);
}

enum outcome rate_ratio(double count1, double effort1, double count2, double effort2, double level, struct estimate *out, double *p,
                        struct failure *why)
{
    enum outcome outcome = count_check(count1, effort1, why);
    if (outcome != OUTCOME_OK || (outcome = count_check(count2, effort2, why)) != OUTCOME_OK)
        return outcome;
    if (count1 + count2 == 0)
        return fail(why, OUTCOME_DATA, "Nothing was counted in either group: a ratio of rates is not defined.");
    struct estimate share;
    if ((outcome = proportion_exact(count1, count1 + count2, level, &share, why)) != OUTCOME_OK)
        return outcome;
    double scale = effort2 / effort1;
    *out = (struct estimate){count2 > 0 ? count1 / count2 * scale : INFINITY, unknown_real(), share.low / (1 - share.low) * scale,
                             share.high < 1 ? share.high / (1 - share.high) * scale : INFINITY, count1 + count2};
    if (count1 > 0 && count2 > 0)
        out->se = sqrt(1 / count1 + 1 / count2); /* of its logarithm */
    *p = binomial_two_sided(count1, count1 + count2, effort1 / (effort1 + effort2));
    return OUTCOME_OK;
}

static enum outcome size_check(double w, size_t row, double years, struct failure *why)
{
    if (!(years > 0) || !isfinite(years))
        return fail(why, OUTCOME_DATA, "Growth needs a span above 0; it is %g.", years);
    if (w > 0 && isfinite(w))
        return OUTCOME_OK;
    fail(why, OUTCOME_DATA, "Size %zu is %g; relative growth needs sizes above 0.", row + 1, w);
    return failure_remedy(why, "A dead plant has no size: leave it unknown, not 0.");
}

struct moments {
    double n, mean, squares;
};

static void moments_add(struct moments *m, double x)
{
    m->n += 1;
    double d = x - m->mean;
    m->mean += d / m->n;
    m->squares += d * (x - m->mean);
}

enum outcome rgr_paired(const double *w1, const double *w2, size_t n, double years, double level, struct estimate *out, struct failure *why)
{
    enum outcome outcome = level_check(level, why);
    struct moments m = {0};
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++) {
        if (!is_known(w1[i]) || !is_known(w2[i]))
            continue;
        if ((outcome = size_check(w1[i], i, years, why)) == OUTCOME_OK && (outcome = size_check(w2[i], i, years, why)) == OUTCOME_OK)
            moments_add(&m, log(w2[i] / w1[i]) / years);
    }
    if (outcome != OUTCOME_OK)
        return outcome;
    if (m.n < 2)
        return fail(why, OUTCOME_DATA, "Relative growth needs at least two plants measured both times; there are %g.", m.n);
    *out = estimate_student(m.mean, sqrt(m.squares / (m.n - 1) / m.n), m.n - 1, level, m.n);
    return OUTCOME_OK;
}

static enum outcome log_moments(const double *w, size_t n, double years, struct moments *m, struct failure *why)
{
    enum outcome outcome = OUTCOME_OK;
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++)
        if (is_known(w[i]) && (outcome = size_check(w[i], i, years, why)) == OUTCOME_OK)
            moments_add(m, log(w[i]));
    if (outcome == OUTCOME_OK && m->n < 2)
        return fail(why, OUTCOME_DATA, "Relative growth needs at least two sizes at each time.");
    return outcome;
}

enum outcome rgr_unpaired(const double *w1, size_t n1, const double *w2, size_t n2, double years, double level, struct estimate *out,
                          double *spread, struct failure *why)
{
    struct moments a = {0}, b = {0};
    enum outcome outcome = level_check(level, why);
    if (outcome != OUTCOME_OK || (outcome = log_moments(w1, n1, years, &a, why)) != OUTCOME_OK ||
        (outcome = log_moments(w2, n2, years, &b, why)) != OUTCOME_OK)
        return outcome;
    double v1 = a.squares / (a.n - 1), v2 = b.squares / (b.n - 1), e1 = v1 / a.n, e2 = v2 / b.n;
    double df = e1 + e2 > 0 ? (e1 + e2) * (e1 + e2) / (e1 * e1 / (a.n - 1) + e2 * e2 / (b.n - 1)) : INFINITY;
    *out = estimate_student((b.mean - a.mean) / years, sqrt(e1 + e2) / years, df, level, a.n + b.n);
    *spread = sqrt(v1 + v2) / years;
    return OUTCOME_OK;
}

static size_t *known_order(const double *p, size_t n, size_t *known)
{
    size_t *index = memory_get(n + 1, sizeof *index), *order = NULL;
    double *value = memory_get(n + 1, sizeof *value);
    *known = 0;
    for (size_t i = 0; i < n; i++)
        if (is_known(p[i])) {
            index[*known] = i;
            value[(*known)++] = p[i];
        }
    order = order_by(value, NULL, *known);
    for (size_t i = 0; i < *known; i++)
        order[i] = index[order[i]];
    free(index);
    free(value);
    return order;
}

void adjust_holm(const double *p, size_t n, double *out)
{
    size_t k = 0, *order = known_order(p, n, &k);
    double most = 0;
    for (size_t i = 0; i < n; i++)
        out[i] = unknown_real();
    for (size_t i = 0; i < k; i++) {
        most = fmax(most, fmin(1, p[order[i]] * (double)(k - i)));
        out[order[i]] = most;
    }
    free(order);
}

void adjust_benjamini_hochberg(const double *p, size_t n, double *out)
{
    size_t k = 0, *order = known_order(p, n, &k);
    double least = 1;
    for (size_t i = 0; i < n; i++)
        out[i] = unknown_real();
    for (size_t i = k; i-- > 0;) {
        least = fmin(least, p[order[i]] * (double)k / (double)(i + 1));
        out[order[i]] = least;
    }
    free(order);
}
