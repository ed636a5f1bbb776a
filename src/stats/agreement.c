/* SPDX-License-Identifier: GPL-3.0-or-later
 * How well two observers agree, and whether figures heap on favourite digits. */
#include "stats/rate.h"
#include <math.h>

static double kappa_weight(size_t i, size_t j, size_t k, int weights)
{
    if (weights == 0)
        return i == j ? 1 : 0;
    double apart = fabs((double)i - (double)j) / (double)(k - 1);
    return 1 - (weights == 1 ? apart : apart * apart);
}

enum outcome agreement_kappa(const double *table, size_t k, int weights, double level, struct estimate *kappa, double *agreed_share,
                             struct failure *why)
{
    enum outcome outcome = level_check(level, why);
    double n = 0, seen = 0, chance = 0, agreed = 0;
    if (outcome != OUTCOME_OK)
        return outcome;
    if (k < 2)
        return fail(why, OUTCOME_DATA, "Agreement needs at least two classes.");
    for (size_t i = 0; i < k * k; i++) {
        if (!(table[i] >= 0))
            return fail(why, OUTCOME_DATA, "The table of agreement holds %g.", table[i]);
        n += table[i];
    }
    if (n == 0)
        return fail(why, OUTCOME_DATA, "Nothing was judged by both observers.");
    struct arena arena = {0};
    double *row = arena_array(&arena, 4 * k, sizeof *row), *column = row + k, *row_mean = row + 2 * k, *column_mean = row + 3 * k;
    for (size_t i = 0; i < k; i++)
        for (size_t j = 0; j < k; j++) {
            row[i] += table[i * k + j] / n;
            column[j] += table[i * k + j] / n;
            agreed += i == j ? table[i * k + j] / n : 0;
        }
    for (size_t i = 0; i < k; i++)
        for (size_t j = 0; j < k; j++) {
            double w = kappa_weight(i, j, k, weights);
            seen += w * table[i * k + j] / n;
            chance += w * row[i] * column[j];
            row_mean[i] += w * column[j];
            column_mean[j] += w * row[i];
        }
    *agreed_share = agreed;
    *kappa = estimate_unknown();
    kappa->n = n;
    if (chance < 1) {
        double sum = 0, value = (seen - chance) / (1 - chance);
        for (size_t i = 0; i < k; i++)
            for (size_t j = 0; j < k; j++) {
                double d = kappa_weight(i, j, k, weights) * (1 - chance) - (row_mean[i] + column_mean[j]) * (1 - seen);
                sum += table[i * k + j] / n * d * d;
            }
        double off = seen * chance - 2 * chance + seen;
        *kappa = estimate_normal(value, sqrt(fmax(0, sum - off * off) / n) / ((1 - chance) * (1 - chance)), level, n);
    }
    arena_clear(&arena);
    return OUTCOME_OK;
}

enum outcome agreement_measures(const double *a, const double *b, size_t n, double level, struct measure_agreement *out,
                                struct failure *why)
{
    enum outcome outcome = level_check(level, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    double k = 0, mean_a = 0, mean_b = 0, squares = 0;
    for (size_t i = 0; i < n; i++) {
        if (!is_known(a[i]) || !is_known(b[i]))
            continue;
        k += 1;
        mean_a += a[i];
        mean_b += b[i];
        squares += (a[i] - b[i]) * (a[i] - b[i]);
    }
    if (k < 3)
        return fail(why, OUTCOME_DATA, "Agreement needs at least three things measured by both; there are %g.", k);
    mean_a /= k;
    mean_b /= k;
    double mean = (mean_a + mean_b) / 2, between = 0, total = 0, difference = 0;
    for (size_t i = 0; i < n; i++) {
        if (!is_known(a[i]) || !is_known(b[i]))
            continue;
        double each = (a[i] + b[i]) / 2, d = a[i] - b[i] - (mean_a - mean_b);
        between += 2 * (each - mean) * (each - mean);
        total += (a[i] - mean) * (a[i] - mean) + (b[i] - mean) * (b[i] - mean);
        difference += d * d;
    }
    double observers = k * ((mean_a - mean) * (mean_a - mean) + (mean_b - mean) * (mean_b - mean));
    double ms_rows = between / (k - 1), ms_columns = observers, ms_rest = (total - between - observers) / (k - 1);
    double sd = sqrt(difference / (k - 1)), z = normal_quantile(1 - (1 - level) / 2),
           below = ms_rows + ms_rest + 2 / k * (ms_columns - ms_rest);
    out->bias = estimate_student(mean_a - mean_b, sd / sqrt(k), k - 1, level, k);
    out->limit_low = out->bias.value - z * sd;
    out->limit_high = out->bias.value + z * sd;
    out->technical_error = sqrt(squares / (2 * k));
    out->icc = below > 0 ? (ms_rows - ms_rest) / below : unknown_real();
    return OUTCOME_OK;
}

enum outcome heaping_digits(const double *value, size_t n, double step, struct heaping *out, struct failure *why)
{
    if (!(step > 0))
        return fail(why, OUTCOME_USAGE, "The smallest division read must be above 0; it is %g.", step);
    *out = (struct heaping){.favourite = 0};
    double total = 0;
    for (size_t i = 0; i < n; i++) {
        if (!is_known(value[i]))
            continue;
        int digit = (int)fmod(fabs(round(value[i] / step)), 10);
        out->count[digit] += 1;
        total += 1;
    }
    if (total < 50) {
        fail(why, OUTCOME_DATA, "Last digits say nothing below 50 figures; there are %g.", total);
        return failure_remedy(why, "Put more visits or observers together.");
    }
    double statistic = 0;
    for (int d = 0; d < 10; d++) {
        statistic += (out->count[d] - total / 10) * (out->count[d] - total / 10) / (total / 10);
        if (out->count[d] > out->count[out->favourite])
            out->favourite = d;
    }
    out->chisq = (struct test){statistic, 9, unknown_real(), chisq_upper(statistic, 9)};
    out->share_0_or_5 = (out->count[0] + out->count[5]) / total;
    out->whipple = 500 * out->share_0_or_5;
    return OUTCOME_OK;
}
