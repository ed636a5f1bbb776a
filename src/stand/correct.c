/* SPDX-License-Identifier: GPL-3.0-or-later
 * Correcting the parameters of an ensemble by what two censuses say: a particle filter that weighs kinds apart. */
#include "stand/inside.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* How far form and season may be off in the logarithm of a kind's mean size, beside sampling; illustrative. */
static const double form_error = 0.15;
/* Likeness of fates within a kind on a plot; illustrative, as for survival within plots. */
static const double likeness = 0.03;
static const double shrink = 0.95;

double stand_alive_likelihood(size_t alive, size_t n, double p, double rho)
{
    p = fmin(1 - 1e-6, fmax(1e-6, p));
    double k = (double)alive, m = (double)n;
    if (rho <= 0)
        return lgamma(m + 1) - lgamma(k + 1) - lgamma(m - k + 1) + k * log(p) + (m - k) * log1p(-p);
    double sum = 1 / rho - 1, a = p * sum, b = (1 - p) * sum;
    return lgamma(m + 1) - lgamma(k + 1) - lgamma(m - k + 1) + lgamma(k + a) + lgamma(m - k + b) - lgamma(m + a + b) + lgamma(a + b) -
           lgamma(a) - lgamma(b);
}

double stand_expected_alive(const struct stand_result *result, size_t run, size_t kind, int seasons)
{
    double p = 1;
    size_t years = (size_t)result->years + 1;
    for (int year = 1; year <= seasons; year++) {
        size_t row = run * years + (size_t)year;
        double before = (double)result->kind_alive[(row - 1) * result->n_kinds + kind];
        double dead = (double)result->kind_expected[row * result->n_kinds + kind];
        p *= before > 0 ? fmax(0, 1 - dead / before) : 1;
    }
    return p;
}

/* Of a mean size that was seen, at the mean size of a run. */
static double size_likelihood(double told, size_t n, double seen, double sd)
{
    if (n == 0 || !(seen > 0) || !isfinite(told) || told <= 0)
        return 0;
    double spread = n > 1 && is_known(sd) ? sd / seen : 0.4;
    double off = log(seen / told), variance = spread * spread / (double)n + form_error * form_error;
    return -0.5 * off * off / variance;
}

static double kind_likelihood(const struct stand_result *result, size_t run, size_t kind, int seasons, const struct stand_seen *seen)
{
    double sum = 0;
    if (seen->n > 0)
        sum += stand_alive_likelihood(seen->alive, seen->n, stand_expected_alive(result, run, kind, seasons), likeness);
    size_t at = (run * ((size_t)result->years + 1) + (size_t)seasons) * result->n_kinds + kind;
    sum += size_likelihood((double)result->kind_height[at], seen->tall, seen->height_m, seen->height_sd);
    sum += size_likelihood((double)result->kind_diameter[at], seen->thick, seen->diameter_cm, seen->diameter_sd);
    return sum;
}

/* Weights from logarithms times a power; returns the effective number. */
static double weights_make(const double *logs, size_t n, double power, double *weights)
{
    double top = -INFINITY, sum = 0, squares = 0;
    for (size_t r = 0; r < n; r++)
        top = fmax(top, logs[r]);
    for (size_t r = 0; r < n; r++) {
        weights[r] = exp(power * (logs[r] - top));
        sum += weights[r];
    }
    for (size_t r = 0; r < n; r++) {
        weights[r] /= sum;
        squares += weights[r] * weights[r];
    }
    return 1 / squares;
}

/* Systematic resampling: which run each new one is taken from. */
static void resample(const double *weights, size_t n, struct random_stream *r, size_t *from)
{
    double at = random_uniform(r) / (double)n, sum = weights[0];
    size_t k = 0;
    for (size_t i = 0; i < n; i++) {
        double wanted = at + (double)i / (double)n;
        while (sum < wanted && k + 1 < n)
            sum += weights[++k];
        from[i] = k;
    }
}

struct filter {
    size_t runs, kinds;
    double *factors, *old, *logs, *weights; ///< logs[kinds * runs]
    size_t *from;
    struct random_stream random;
};

/* New factors of one kind from the runs named, shrunk and shaken in logarithms. */
static void kind_move(struct filter *f, size_t kind, const double *weights)
{
    for (size_t q = 0; q < STAND_FACTORS; q++) {
        double mean = 0, variance = 0;
        for (size_t r = 0; r < f->runs; r++)
            mean += weights[r] * log(f->old[(r * f->kinds + kind) * STAND_FACTORS + q]);
        for (size_t r = 0; r < f->runs; r++) {
            double off = log(f->old[(r * f->kinds + kind) * STAND_FACTORS + q]) - mean;
            variance += weights[r] * off * off;
        }
        double shake = sqrt((1 - shrink * shrink) * variance);
        for (size_t r = 0; r < f->runs; r++) {
            double x = log(f->old[(f->from[r] * f->kinds + kind) * STAND_FACTORS + q]);
            f->factors[(r * f->kinds + kind) * STAND_FACTORS + q] =
                exp(shrink * x + (1 - shrink) * mean + shake * random_normal(&f->random));
        }
    }
}

/* All kinds together: as much of the weight as leaves a third of the runs counting. */
static double place_stage(struct filter *f, struct stand_correction *out)
{
    double *sum = memory_get(f->runs, sizeof *sum), low = 0, high = 1;
    for (size_t k = 0; k < f->kinds; k++)
        for (size_t r = 0; r < f->runs; r++)
            sum[r] += f->logs[k * f->runs + r];
    double least = (double)f->runs / 3;
    if (weights_make(sum, f->runs, 1, f->weights) < least)
        for (int step = 0; step < 40; step++) {
            double middle = (low + high) / 2;
            if (weights_make(sum, f->runs, middle, f->weights) < least)
                high = middle;
            else
                low = middle;
        }
    else
        low = 1;
    out->place_share = low;
    out->place_weight = weights_make(sum, f->runs, low, f->weights);
    resample(f->weights, f->runs, &f->random, f->from);
    for (size_t k = 0; k < f->kinds; k++)
        kind_move(f, k, f->weights);
    double *moved = memory_get(f->kinds * f->runs, sizeof *moved); /* what each new run had foretold goes with it */
    for (size_t k = 0; k < f->kinds; k++)
        for (size_t r = 0; r < f->runs; r++)
            moved[k * f->runs + r] = f->logs[k * f->runs + f->from[r]];
    memcpy(f->logs, moved, f->kinds * f->runs * sizeof *moved);
    free(moved);
    free(sum);
    return low;
}

enum outcome stand_correct(const struct stand_result *result, int seasons, const struct stand_seen *seen, uint64_t seed, double *factors,
                           struct arena *arena, struct stand_correction *out, struct failure *why)
{
    if (seasons < 1 || seasons > result->years)
        return fail(why, OUTCOME_USAGE, "The runs do not reach %d seasons.", seasons);
    size_t runs = result->runs, kinds = result->n_kinds, wide = kinds * STAND_FACTORS;
    struct filter f = {.runs = runs, .kinds = kinds, .factors = factors, .random = random_make(seed ^ 0x434f5252ull, (uint64_t)seasons)};
    f.old = memory_get(runs * wide, sizeof *f.old);
    f.logs = memory_get(kinds * runs, sizeof *f.logs);
    f.weights = memory_get(runs, sizeof *f.weights);
    f.from = memory_get(runs, sizeof *f.from);
    *out = (struct stand_correction){.place_weight = (double)runs};
    out->kind_weight = arena_array(arena, kinds, sizeof *out->kind_weight);
    for (size_t k = 0; k < kinds; k++) {
        out->kinds_told += seen[k].n > 0;
        for (size_t r = 0; r < runs; r++)
            f.logs[k * runs + r] = kind_likelihood(result, r, k, seasons, &seen[k]);
    }
    memcpy(f.old, factors, runs * wide * sizeof *factors);
    double used = out->kinds_told > 0 ? place_stage(&f, out) : 0;
    for (size_t k = 0; k < kinds; k++) {
        out->kind_weight[k] = (double)runs;
        if (seen[k].n == 0 || used >= 1)
            continue;
        memcpy(f.old, factors, runs * wide * sizeof *factors);
        out->kind_weight[k] = weights_make(f.logs + k * runs, runs, 1 - used, f.weights);
        resample(f.weights, runs, &f.random, f.from);
        kind_move(&f, k, f.weights);
    }
    free(f.old);
    free(f.logs);
    free(f.weights);
    free(f.from);
    return OUTCOME_OK;
}
