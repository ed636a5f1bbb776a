/* SPDX-License-Identifier: GPL-3.0-or-later
 * Proportions in clusters: likeness within, design effect, effective number. */
#include "stats/cluster.h"
#include "stats/proportion.h"
#include <math.h>

double design_effect(double mean_size, double cv_size, double icc)
{
    return 1 + ((cv_size * cv_size + 1) * mean_size - 1) * icc;
}

static enum outcome clusters_check(const double *y, const double *n, size_t k, double level, struct failure *why)
{
    if (level_check(level, why) != OUTCOME_OK)
        return OUTCOME_USAGE;
    if (k < 2) {
        fail(why, OUTCOME_DATA, "There is only one plot: how far plots differ cannot be known from it.");
        return failure_remedy(why, "Trees of one plot are not replicates; show the plot by itself.");
    }
    double total = 0;
    for (size_t i = 0; i < k; i++) {
        if (!(n[i] > 0) || !(y[i] >= 0 && y[i] <= n[i]))
            return fail(why, OUTCOME_DATA, "Plot %zu has %g of %g; leave out plots in which nothing was looked at.", i + 1, y[i], n[i]);
        total += n[i];
    }
    return total > (double)k ? OUTCOME_OK
                             : fail(why, OUTCOME_DATA, "Every plot holds one plant only: likeness within plots cannot be known.");
}

enum outcome cluster_proportion(const double *y, const double *n, size_t k, double level, struct cluster_spread *out, struct failure *why)
{
    enum outcome outcome = clusters_check(y, n, k, level, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    double total = 0, squares = 0, sum = 0, between = 0, inside = 0, clusters = (double)k;
    for (size_t i = 0; i < k; i++) {
        total += n[i];
        squares += n[i] * n[i];
        sum += y[i];
        between += y[i] * y[i] / n[i];
        inside += y[i] * (n[i] - y[i]) / n[i];
    }
    double p = sum / total, spread = 0, sizes = 0;
    out->p = p;
    out->n0 = (total - squares / total) / (clusters - 1);
    out->msb = (between - sum * sum / total) / (clusters - 1);
    out->msw = (sum - between) / (total - clusters);
    double below = out->msb + (out->n0 - 1) * out->msw;
    out->icc_anova = below > 0 ? (out->msb - out->msw) / below : unknown_real();
    out->icc_fleiss_cuzick = p > 0 && p < 1 ? 1 - inside / ((total - clusters) * p * (1 - p)) : unknown_real();
    out->mean_size = total / clusters;
    for (size_t i = 0; i < k; i++) {
        spread += (y[i] - p * n[i]) * (y[i] - p * n[i]);
        sizes += (n[i] - out->mean_size) * (n[i] - out->mean_size);
    }
    out->cv_size = sqrt(sizes / (clusters - 1)) / out->mean_size;
    out->deff_size = is_known(out->icc_anova) ? design_effect(out->mean_size, out->cv_size, fmax(0, out->icc_anova)) : unknown_real();
    double variance = clusters / (clusters - 1) * spread / (total * total);
    out->rao_scott_se = sqrt(variance);
    bool some = p > 0 && p < 1;
    out->deff = some ? variance / (p * (1 - p) / total) : unknown_real();
    out->effective_n = some ? total / out->deff : unknown_real();
    /* a design effect below 1, or unknown because all plots agree fully, does not add to what was counted */
    double effective = some && out->deff > 1 ? out->effective_n : total;
    double t = student_quantile(1 - (1 - level) / 2, clusters - 1), normal_level = 1 - 2 * normal_upper(t);
    outcome = proportion_wilson(p * effective, effective, fmin(normal_level, 1 - 1e-15), false, &out->proportion, why);
    out->proportion.se = some ? out->rao_scott_se : unknown_real();
    return outcome;
}
