/* SPDX-License-Identifier: GPL-3.0-or-later
 * A league by partial pooling: beta-binomial, fitted by maximum likelihood, ranked by draws from what is then known. */
#include "stats/cluster.h"
#include "stats/minimise.h"
#include "stats/order.h"
#include "stats/proportion.h"
#include <gsl/gsl_sf_gamma.h>
#include <math.h>
#include <stdlib.h>

struct counts {
    const double *y, *n;
    size_t k;
};

/* x: logit of the mean, log of a + b. */
static double minus_loglik(void *data, const double *x)
{
    const struct counts *c = data;
    if (fabs(x[0]) > 40 || x[1] > 25 || x[1] < -20)
        return INFINITY;
    double total = exp(x[1]), a = total / (1 + exp(-x[0])), b = total / (1 + exp(x[0])), sum = 0;
    for (size_t i = 0; i < c->k; i++) {
        sum += c->y[i] > 0 ? gsl_sf_lnpoch(a, c->y[i]) : 0;
        sum += c->n[i] > c->y[i] ? gsl_sf_lnpoch(b, c->n[i] - c->y[i]) : 0;
        sum -= gsl_sf_lnpoch(total, c->n[i]);
    }
    return -sum;
}

static double binomial_loglik(const struct counts *c, double p)
{
    double sum = 0;
    for (size_t i = 0; i < c->k; i++)
        sum += (c->y[i] > 0 ? c->y[i] * log(p) : 0) + (c->n[i] > c->y[i] ? (c->n[i] - c->y[i]) * log1p(-p) : 0);
    return sum;
}

static double ln_choices(const struct counts *c)
{
    double sum = 0;
    for (size_t i = 0; i < c->k; i++)
        sum += gsl_sf_lngamma(c->n[i] + 1) - gsl_sf_lngamma(c->y[i] + 1) - gsl_sf_lngamma(c->n[i] - c->y[i] + 1);
    return sum;
}

static void rank_draws(struct league *l, const double *y, const double *n, size_t tail, size_t draws, uint64_t seed, double level)
{
    size_t k = l->k;
    double *value = memory_get(k, sizeof *value);
    for (size_t d = 0; d < draws; d++) {
        struct random_stream r = random_make(seed, d);
        for (size_t i = 0; i < k; i++)
            value[i] = l->no_spread ? random_uniform(&r) : -random_beta(&r, l->a + y[i], l->b + n[i] - y[i]);
        size_t *order = order_by(value, NULL, k);
        for (size_t j = 0; j < k; j++)
            l->p_rank[order[j] * k + j] += 1 / (double)draws;
        free(order);
    }
    free(value);
    for (size_t i = 0; i < k; i++) {
        double sum = 0;
        l->rank_low[i] = l->rank_high[i] = 0;
        for (size_t j = 0; j < k; j++) {
            double p = l->p_rank[i * k + j];
            sum += p;
            l->rank_mean[i] += p * (double)(j + 1);
            l->p_top[i] += j < tail ? p : 0;
            l->p_bottom[i] += j + tail >= k ? p : 0;
            if (l->rank_low[i] == 0 && sum >= (1 - level) / 2 - 1e-12)
                l->rank_low[i] = (double)(j + 1);
            if (l->rank_high[i] == 0 && sum >= 1 - (1 - level) / 2 - 1e-12)
                l->rank_high[i] = (double)(j + 1);
        }
        l->rank_high[i] = l->rank_high[i] == 0 ? (double)k : l->rank_high[i];
    }
}

static void league_room(struct league *l, size_t k, struct arena *arena)
{
    *l = (struct league){
        .k = k, .each = arena_array(arena, k, sizeof(struct estimate)), .p_rank = arena_array(arena, k * k, sizeof(double))};
    double **columns[] = {&l->rank_mean, &l->rank_low, &l->rank_high, &l->p_top, &l->p_bottom};
    for (size_t i = 0; i < 5; i++)
        *columns[i] = arena_array(arena, k, sizeof(double));
}

enum outcome league_beta_binomial(const double *y, const double *n, size_t k, double level, size_t tail, size_t draws, uint64_t seed,
                                  struct arena *arena, struct league *out, struct failure *why)
{
    enum outcome outcome = level_check(level, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (k < 3)
        return fail(why, OUTCOME_DATA, "A league needs at least three members; there are %zu.", k);
    struct counts c = {y, n, k};
    double sum = 0, total = 0;
    for (size_t i = 0; i < k; i++) {
        if (!(n[i] > 0) || !(y[i] >= 0 && y[i] <= n[i]))
            return fail(why, OUTCOME_DATA, "Member %zu has %g of %g; leave out members of which none was looked at.", i + 1, y[i], n[i]);
        sum += y[i];
        total += n[i];
    }
    league_room(out, k, arena);
    double p = sum / total, x[2] = {log((sum + 0.5) / (total - sum + 0.5)), log(10)}, scale[2] = {1, 1};
    double flat = binomial_loglik(&c, p), best = -INFINITY;
    out->no_spread = sum == 0 || sum == total;
    if (!out->no_spread) {
        struct minimum m = minimise(minus_loglik, &c, x, scale, 2);
        best = -m.value;
        out->no_spread = best < flat + 1e-6 || x[1] > 15;
    }
    out->loglik = (out->no_spread ? flat : best) + ln_choices(&c);
    out->a = out->no_spread ? INFINITY : exp(x[1]) / (1 + exp(-x[0]));
    out->b = out->no_spread ? INFINITY : exp(x[1]) / (1 + exp(x[0]));
    out->mean = out->no_spread ? p : out->a / (out->a + out->b);
    out->icc = out->no_spread ? 0 : 1 / (out->a + out->b + 1);
    for (size_t i = 0; i < k; i++) {
        double a = out->a + y[i], b = out->b + n[i] - y[i], tail_p = (1 - level) / 2;
        if (out->no_spread)
            (void)proportion_wilson(sum, total, level, false, &out->each[i], NULL);
        else
            out->each[i] = (struct estimate){a / (a + b), sqrt(a * b / ((a + b) * (a + b) * (a + b + 1))), beta_quantile(tail_p, a, b),
                                             beta_quantile(1 - tail_p, a, b), n[i]};
        out->each[i].n = n[i];
    }
    rank_draws(out, y, n, tail == 0 ? 3 : tail, draws == 0 ? 4000 : draws, seed, level);
    return OUTCOME_OK;
}
