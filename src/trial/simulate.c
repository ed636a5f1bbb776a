/* SPDX-License-Identifier: GPL-3.0-or-later
 * Power by simulation: pairs of plots on sites, plants within a plot alike, judged as the evidence will be judged. Each
 * run has its own stream of random numbers, so the result does not depend on the number of threads. */
#include "stats/estimate.h"
#include "trial/trial.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { GRID = 4096, CHUNK = 100 };
#define NULL_STREAM (1 + ((uint64_t)1 << 40)) /* where the runs without a difference begin */

/// What one run came to.
struct run {
    bool rejects, naive;
    double half_width;
};

/// Survival of a plot of one kind: quantiles of a beta distribution at the middles of equal steps of probability.
struct survival_of_plots {
    double at[GRID];
};

static void survival_make(double share, double icc, struct survival_of_plots *out)
{
    for (size_t k = 0; k < GRID; k++) {
        double u = ((double)k + 0.5) / GRID;
        /* icc = 1 / (a + b + 1) for a beta-binomial. */
        bool spread = icc > 1e-9 && share > 0 && share < 1;
        out->at[k] = spread ? beta_quantile(u, share * (1 / icc - 1), (1 - share) * (1 / icc - 1)) : share;
    }
}

static double survivors(double p, size_t plants, struct random_stream *random)
{
    size_t n = 0;
    for (size_t i = 0; i < plants; i++)
        n += random_uniform(random) < p;
    return (double)n;
}

/* Survival of a plot whose site and own luck are these normal deviates. */
static double plot_survival(const struct survival_of_plots *of, double site, double own, double site_part)
{
    double u = normal_upper(-(sqrt(site_part) * site + sqrt(1 - site_part) * own));
    size_t k = (size_t)(u * GRID);
    return of->at[k >= GRID ? GRID - 1 : k];
}

static struct run run_once(const struct trial_simulation *w, const struct survival_of_plots *a, const struct survival_of_plots *b,
                           double t_limit, double z_limit, uint64_t stream)
{
    struct random_stream random = random_make(w->seed, stream);
    double sum = 0, sum2 = 0, alive_a = 0, alive_b = 0, k = (double)w->sites;
    for (size_t s = 0; s < w->sites; s++) {
        double site = random_normal(&random), own_a = random_normal(&random), own_b = random_normal(&random);
        double ya = survivors(plot_survival(a, site, own_a, w->site_icc), w->plants_a, &random);
        double yb = survivors(plot_survival(b, site, own_b, w->site_icc), w->plants_b, &random);
        double d = ya / (double)w->plants_a - yb / (double)w->plants_b;
        alive_a += ya, alive_b += yb, sum += d, sum2 += d * d;
    }
    double mean = sum / k, variance = fmax(0, (sum2 - k * mean * mean) / (k - 1)), se = sqrt(variance / k);
    double na = k * (double)w->plants_a, nb = k * (double)w->plants_b, pool = (alive_a + alive_b) / (na + nb);
    double naive_se = sqrt(pool * (1 - pool) * (1 / na + 1 / nb));
    struct run run = {.half_width = t_limit * se};
    run.rejects = fabs(mean) > t_limit * se + 1e-12;
    run.naive = fabs(alive_a / na - alive_b / nb) > z_limit * naive_se + 1e-12;
    return run;
}

/* All runs of one truth, chunk by chunk; false when called off. */
static bool runs_all(const struct trial_simulation *w, const struct survival_of_plots *a, const struct survival_of_plots *b, size_t runs,
                     uint64_t first_stream, const struct progress *progress, double done, struct run *out)
{
    double t_limit = student_quantile(1 - w->alpha / 2, (double)w->sites - 1), z_limit = normal_quantile(1 - w->alpha / 2);
    for (size_t start = 0; start < runs; start += CHUNK) {
        size_t end = start + CHUNK < runs ? start + CHUNK : runs;
#pragma omp parallel for schedule(static)
        for (size_t i = start; i < end; i++)
            out[i] = run_once(w, a, b, t_limit, z_limit, first_stream + i);
        if (!progress_tell(progress, done + 0.5 * (double)end / (double)runs, "simulating comparisons"))
            return false;
    }
    return true;
}

/* Shares of runs, from the runs under the wished truth and under no difference. */
static void runs_sum(const struct run *found, const struct run *nothing, size_t runs, struct trial_simulated *out)
{
    double n = (double)runs;
    struct trial_simulated sum = {0};
    for (size_t i = 0; i < runs; i++) {
        sum.power += found[i].rejects / n, sum.naive_power += found[i].naive / n;
        sum.half_width += found[i].half_width / n, sum.naive_error += nothing[i].naive / n;
    }
    sum.power_se = sqrt(sum.power * (1 - sum.power) / n);
    *out = sum;
}

static enum outcome wish_check(const struct trial_simulation *w, size_t runs, struct failure *why)
{
    if (w->sites < 2 || w->plants_a < 1 || w->plants_b < 1)
        return fail(why, OUTCOME_USAGE, "A simulation needs two sites and one plant in each plot at least.");
    if (!(w->share_a >= 0 && w->share_a <= 1 && w->share_b >= 0 && w->share_b <= 1))
        return fail(why, OUTCOME_USAGE, "Survival lies between 0 and 1.");
    if (!(w->icc >= 0 && w->icc < 1 && w->site_icc >= 0 && w->site_icc <= 1))
        return fail(why, OUTCOME_USAGE, "Likeness within plots is 0 to below 1; the part that sites share 0 to 1.");
    if (!(w->alpha > 0 && w->alpha < 0.5))
        return fail(why, OUTCOME_USAGE, "The risk of a false alarm must lie between 0 and 0.5.");
    if ((double)w->sites * (double)(w->plants_a + w->plants_b) * (double)runs > 2e10)
        return fail(why, OUTCOME_USAGE, "That is more than 10 billion simulated plants: ask for fewer runs.");
    return OUTCOME_OK;
}

enum outcome trial_simulate(const struct trial_simulation *w, const struct progress *progress, struct trial_simulated *out,
                            struct failure *why)
{
    size_t runs = w->runs > 0 ? w->runs : 2000;
    enum outcome outcome = wish_check(w, runs, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct survival_of_plots *of = memory_get(3, sizeof *of);
    struct run *list = memory_get(2 * runs, sizeof *list);
    survival_make(w->share_a, w->icc, &of[0]);
    survival_make(w->share_b, w->icc, &of[1]);
    survival_make((w->share_a + w->share_b) / 2, w->icc, &of[2]);
    if (runs_all(w, &of[0], &of[1], runs, 1, progress, 0, list) &&
        runs_all(w, &of[2], &of[2], runs, NULL_STREAM, progress, 0.5, list + runs))
        runs_sum(list, list + runs, runs, out);
    else
        outcome = fail(why, OUTCOME_CANCELLED, "The simulation was called off.");
    free(list);
    free(of);
    return outcome;
}

/* Mean of the units of one plot, or its total count. `value` is the plot's own mean. */
static double plot_measure(const struct trial_measured *w, double value, size_t units, struct random_stream *random)
{
    double sum = 0;
    if (w->measure == TRIAL_MEASURE_COUNT)
        return (double)random_poisson(random, fmin(value * (double)units, 1e6));
    for (size_t i = 0; i < units; i++)
        sum += value + w->sd_unit * random_normal(random);
    return sum / (double)units;
}

static struct run measured_once(const struct trial_measured *w, double mean_a, double mean_b, double t_limit, double z_limit,
                                uint64_t stream)
{
    struct random_stream random = random_make(w->seed, stream);
    bool count = w->measure == TRIAL_MEASURE_COUNT;
    double k = (double)w->sites, ma = (double)w->units_a, mb = (double)w->units_b, sum = 0, sum2 = 0, total_a = 0, total_b = 0;
    double level = count ? w->sd_plot * w->sd_plot / 2 : 0; /* so that the mean over plots is the mean asked for */
    for (size_t s = 0; s < w->sites; s++) {
        double own_a = w->sd_plot * random_normal(&random) - level, own_b = w->sd_plot * random_normal(&random) - level;
        double ya = plot_measure(w, count ? mean_a * exp(own_a) : mean_a + own_a, w->units_a, &random);
        double yb = plot_measure(w, count ? mean_b * exp(own_b) : mean_b + own_b, w->units_b, &random);
        double d = count ? log((ya + 0.5) / ma) - log((yb + 0.5) / mb) : ya - yb;
        total_a += ya, total_b += yb, sum += d, sum2 += d * d;
    }
    double mean = sum / k, se = sqrt(fmax(0, (sum2 - k * mean * mean) / (k - 1)) / k);
    struct run run = {.half_width = t_limit * se, .rejects = fabs(mean) > t_limit * se + 1e-12};
    if (count)
        run.naive = fabs(log((total_a + 0.5) / (k * ma)) - log((total_b + 0.5) / (k * mb))) >
                    z_limit * sqrt(1 / (total_a + 0.5) + 1 / (total_b + 0.5));
    else
        run.naive =
            fabs(total_a - total_b) / k > z_limit * sqrt((w->sd_unit * w->sd_unit + w->sd_plot * w->sd_plot) * (1 / ma + 1 / mb) / k);
    return run;
}

static bool measured_all(const struct trial_measured *w, double mean_a, double mean_b, size_t runs, uint64_t first_stream,
                         const struct progress *progress, double done, struct run *out)
{
    double t_limit = student_quantile(1 - w->alpha / 2, (double)w->sites - 1), z_limit = normal_quantile(1 - w->alpha / 2);
    for (size_t start = 0; start < runs; start += CHUNK) {
        size_t end = start + CHUNK < runs ? start + CHUNK : runs;
#pragma omp parallel for schedule(static)
        for (size_t i = start; i < end; i++)
            out[i] = measured_once(w, mean_a, mean_b, t_limit, z_limit, first_stream + i);
        if (!progress_tell(progress, done + 0.5 * (double)end / (double)runs, "simulating comparisons"))
            return false;
    }
    return true;
}

enum outcome trial_simulate_measured(const struct trial_measured *w, const struct progress *progress, struct trial_simulated *out,
                                     struct failure *why)
{
    size_t runs = w->runs > 0 ? w->runs : 2000;
    bool count = w->measure == TRIAL_MEASURE_COUNT;
    enum outcome outcome = OUTCOME_OK;
    if (w->sites < 2 || w->units_a < 1 || w->units_b < 1)
        return fail(why, OUTCOME_USAGE, "A simulation needs two sites and one unit in each plot at least.");
    if (!isfinite(w->mean_a) || !isfinite(w->mean_b) || (count && !(w->mean_a > 0 && w->mean_b > 0)))
        return fail(why, OUTCOME_USAGE, "The means must be known; of counts they must be above zero.");
    if (!(w->sd_plot >= 0) || (!count && !(w->sd_unit >= 0)) || !(w->sd_plot + (count ? 1 : w->sd_unit) > 0) || (count && w->sd_plot > 5))
        return fail(why, OUTCOME_USAGE, "Spreads are zero or more, and not all zero; that of logarithms of counts is 5 at the most.");
    if (!(w->alpha > 0 && w->alpha < 0.5))
        return fail(why, OUTCOME_USAGE, "The risk of a false alarm must lie between 0 and 0.5.");
    if ((double)w->sites * (double)(w->units_a + w->units_b) * (double)runs > 2e10)
        return fail(why, OUTCOME_USAGE, "That is more than 10 billion simulated units: ask for fewer runs.");
    struct run *list = memory_get(2 * runs, sizeof *list);
    double mean = (w->mean_a + w->mean_b) / 2;
    if (measured_all(w, w->mean_a, w->mean_b, runs, 1, progress, 0, list) &&
        measured_all(w, mean, mean, runs, NULL_STREAM, progress, 0.5, list + runs))
        runs_sum(list, list + runs, runs, out);
    else
        outcome = fail(why, OUTCOME_CANCELLED, "The simulation was called off.");
    free(list);
    return outcome;
}
