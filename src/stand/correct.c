/* SPDX-License-Identifier: GPL-3.0-or-later
 * Correcting the parameters of an ensemble by what two censuses say: a particle filter that weighs kinds apart. */
#include "stand/inside.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* How far form and season may be off in a kind's mean gain in size, as a share of it; illustrative. */
static const double form_error = 0.25;
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

/* Of a mean size that was seen, at the mean size of a run that started from `start`. What is in doubt is the gain: form and season by
 * form_error of it, its mean over n plants by half of it over root n, and measuring by 2 % of the size. */
static double size_likelihood(double start, double told, size_t n, double seen)
{
    if (n == 0 || !(seen > 0) || !isfinite(told) || told <= 0 || !isfinite(start))
        return 0;
    double gain = fmax(0.02, (told - start) / told), off = log(seen / told);
    double variance = gain * gain * (form_error * form_error + 0.25 / (double)n) + 0.02 * 0.02;
    return -0.5 * (off * off / variance + log(variance));
}

static double kind_likelihood(const struct stand_result *result, size_t run, size_t kind, int seasons, const struct stand_seen *seen)
{
    double sum = 0;
    if (seen->n > 0)
        sum += stand_alive_likelihood(seen->alive, seen->n, stand_expected_alive(result, run, kind, seasons), likeness);
    size_t first = run * ((size_t)result->years + 1) * result->n_kinds + kind, at = first + (size_t)seasons * result->n_kinds;
    sum += size_likelihood((double)result->kind_height[first], (double)result->kind_height[at], seen->tall, seen->height_m);
    sum += size_likelihood((double)result->kind_diameter[first], (double)result->kind_diameter[at], seen->thick, seen->diameter_cm);
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

/* The largest exponent up to `most` that leaves a third of the runs counting. */
static double share_find(struct filter *f, const double *logs, double most)
{
    double least = (double)f->runs / 3, low = 0, high = most;
    if (weights_make(logs, f->runs, most, f->weights) >= least)
        return most;
    for (int step = 0; step < 40; step++) {
        double middle = (low + high) / 2;
        if (weights_make(logs, f->runs, middle, f->weights) < least)
            high = middle;
        else
            low = middle;
    }
    return low;
}

/* All kinds together. */
static double place_stage(struct filter *f, struct stand_correction *out)
{
    double *sum = memory_get(f->runs, sizeof *sum);
    for (size_t k = 0; k < f->kinds; k++)
        for (size_t r = 0; r < f->runs; r++)
            sum[r] += f->logs[k * f->runs + r];
    double share = share_find(f, sum, out->place_left);
    out->place_weight = weights_make(sum, f->runs, share, f->weights);
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
    return share;
}

/* A kind for itself, with the evidence it has left. */
static void kind_stage(struct filter *f, size_t k, struct stand_correction *out)
{
    memcpy(f->old, f->factors, f->runs * f->kinds * STAND_FACTORS * sizeof *f->factors);
    double *logs = f->logs + k * f->runs, share = share_find(f, logs, out->kind_left[k]);
    weights_make(logs, f->runs, share, f->weights);
    resample(f->weights, f->runs, &f->random, f->from);
    kind_move(f, k, f->weights);
    out->kind_left[k] -= share;
}

static void correction_begin(const struct stand_seen *seen, size_t kinds, struct arena *arena, struct stand_correction *out)
{
    *out = (struct stand_correction){.place_left = 0.5};
    out->kind_left = arena_array(arena, kinds, sizeof *out->kind_left);
    for (size_t k = 0; k < kinds; k++) {
        out->kinds_told += seen[k].n > 0;
        out->kind_left[k] = seen[k].n > 0 ? 1 : 0;
    }
}

enum outcome stand_correct(const struct stand_result *result, int seasons, const struct stand_seen *seen, uint64_t seed, double *factors,
                           struct arena *arena, struct stand_correction *out, struct failure *why)
{
    if (seasons < 1 || seasons > result->years)
        return fail(why, OUTCOME_USAGE, "The runs do not reach %d seasons.", seasons);
    size_t runs = result->runs, kinds = result->n_kinds, wide = kinds * STAND_FACTORS;
    if (out->rounds == 0)
        correction_begin(seen, kinds, arena, out);
    out->most_left = 0;
    if (out->kinds_told == 0)
        return OUTCOME_OK;
    struct filter f = {
        .runs = runs, .kinds = kinds, .factors = factors, .random = random_make(seed ^ 0x434f5252ull, (uint64_t)out->rounds)};
    f.old = memory_get(runs * wide, sizeof *f.old);
    f.logs = memory_get(kinds * runs, sizeof *f.logs);
    f.weights = memory_get(runs, sizeof *f.weights);
    f.from = memory_get(runs, sizeof *f.from);
    for (size_t k = 0; k < kinds; k++)
        for (size_t r = 0; r < runs; r++)
            f.logs[k * runs + r] = out->kind_left[k] > 0 ? kind_likelihood(result, r, k, seasons, &seen[k]) : 0;
    memcpy(f.old, factors, runs * wide * sizeof *factors);
    double used = out->place_left > 0 ? place_stage(&f, out) : 0;
    out->place_left = fmax(0, out->place_left - used);
    for (size_t k = 0; k < kinds; k++) {
        out->kind_left[k] = fmax(0, out->kind_left[k] - used);
        if (out->kind_left[k] > 0)
            kind_stage(&f, k, out);
        out->kind_left[k] = out->kind_left[k] < 0.01 ? 0 : out->kind_left[k];
        out->most_left = fmax(out->most_left, out->kind_left[k]);
    }
    out->rounds++;
    free(f.old);
    free(f.logs);
    free(f.weights);
    free(f.from);
    return OUTCOME_OK;
}
