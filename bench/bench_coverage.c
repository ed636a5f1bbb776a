/* SPDX-License-Identifier: GPL-3.0-or-later
 * How often 95 % intervals hold what is true, by simulation: bench_coverage [runs]. The table of docs/methods/coverage.md. */
#include "stats/stats.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

static double chance(double log_odds)
{
    return 1 / (1 + exp(-log_odds));
}

/* Mean of chance(eta + sd Z): sum over a fine grid of the normal. */
static double chance_mean(double eta, double sd)
{
    double sum = 0, weight = 0;
    for (int i = -400; i <= 400; i++) {
        double z = i / 50.0, w = exp(-z * z / 2);
        sum += w * chance(eta + sd * z);
        weight += w;
    }
    return sum / weight;
}

static double draw_binomial(struct random_stream *r, size_t n, double p)
{
    double x = 0;
    for (size_t i = 0; i < n; i++)
        x += random_uniform(r) < p;
    return x;
}

/* One run: interval and truth. False: the interval could not be had, which is counted. */
typedef bool (*coverage_run)(struct random_stream *r, struct arena *arena, struct estimate *out, double *truth);

static bool wilson(struct random_stream *r, struct arena *arena, struct estimate *out, double *truth)
{
    (void)arena;
    struct failure why;
    *truth = 0.78;
    return proportion_wilson(draw_binomial(r, 300, *truth), 300, 0.95, false, out, &why) == OUTCOME_OK;
}

static bool wilson_few(struct random_stream *r, struct arena *arena, struct estimate *out, double *truth)
{
    (void)arena;
    struct failure why;
    *truth = 0.5 + 0.45 * random_uniform(r); /* over many shares: at one share so few plants jump about */
    return proportion_wilson(draw_binomial(r, 20, *truth), 20, 0.95, false, out, &why) == OUTCOME_OK;
}

static bool newcombe(struct random_stream *r, struct arena *arena, struct estimate *out, double *truth)
{
    (void)arena;
    struct failure why;
    *truth = 0.8 - 0.65;
    return difference_newcombe(draw_binomial(r, 150, 0.8), 150, draw_binomial(r, 60, 0.65), 60, 0.95, false, out, &why) == OUTCOME_OK;
}

static bool clustered(struct random_stream *r, struct arena *arena, struct estimate *out, double *truth)
{
    (void)arena;
    struct failure why;
    struct cluster_spread spread;
    double y[16], n[16];
    *truth = chance_mean(1, 0.5);
    for (int i = 0; i < 16; i++) {
        n[i] = 60;
        y[i] = draw_binomial(r, 60, chance(1 + 0.5 * random_normal(r)));
    }
    if (cluster_proportion(y, n, 16, 0.95, &spread, &why) != OUTCOME_OK)
        return false;
    *out = spread.proportion;
    return true;
}

static bool naive_clustered(struct random_stream *r, struct arena *arena, struct estimate *out, double *truth)
{
    (void)arena;
    struct failure why;
    double y = 0;
    *truth = chance_mean(1, 0.5);
    for (int i = 0; i < 16; i++)
        y += draw_binomial(r, 60, chance(1 + 0.5 * random_normal(r)));
    return proportion_wilson(y, 16 * 60, 0.95, false, out, &why) == OUTCOME_OK;
}

static bool paired(struct random_stream *r, struct arena *arena, struct estimate *out, double *truth)
{
    (void)arena;
    struct failure why;
    struct test test;
    double d[8];
    *truth = chance_mean(1.4, 0.4) - chance_mean(0.8, 0.4);
    for (int i = 0; i < 8; i++)
        d[i] = draw_binomial(r, 150, chance(1.4 + 0.4 * random_normal(r))) / 150 -
               draw_binomial(r, 60, chance(0.8 + 0.4 * random_normal(r))) / 60;
    return paired_mean(d, 8, 0.95, out, &test, &why) == OUTCOME_OK;
}

static bool pooled_of(struct random_stream *r, struct arena *arena, bool knapp, struct estimate *out, double *truth)
{
    struct failure why;
    struct pool_result result;
    double effect[10], variance[10];
    *truth = 0.1;
    for (int i = 0; i < 10; i++) {
        variance[i] = 0.0005 + 0.002 * random_uniform(r);
        effect[i] = 0.1 + 0.08 * random_normal(r) + sqrt(variance[i]) * random_normal(r);
    }
    if (pool_effects(effect, variance, 10, POOL_REML, knapp, 0.95, arena, &result, &why) != OUTCOME_OK)
        return false;
    *out = result.effect;
    return true;
}

static bool pooled(struct random_stream *r, struct arena *arena, struct estimate *out, double *truth)
{
    return pooled_of(r, arena, true, out, truth);
}

static bool pooled_normal(struct random_stream *r, struct arena *arena, struct estimate *out, double *truth)
{
    return pooled_of(r, arena, false, out, truth);
}

static bool predicted(struct random_stream *r, struct arena *arena, struct estimate *out, double *truth)
{
    struct failure why;
    struct pool_result result;
    double effect[10], variance[10];
    for (int i = 0; i < 10; i++) {
        variance[i] = 0.0005 + 0.002 * random_uniform(r);
        effect[i] = 0.1 + 0.08 * random_normal(r) + sqrt(variance[i]) * random_normal(r);
    }
    *truth = 0.1 + 0.08 * random_normal(r);
    if (pool_effects(effect, variance, 10, POOL_REML, true, 0.95, arena, &result, &why) != OUTCOME_OK)
        return false;
    *out = (struct estimate){result.effect.value, 0, result.predict_low, result.predict_high, 10};
    return true;
}

enum { SITES = 10, KINDS = 12, ROWS = SITES * 2 * KINDS };

/* Two plots on each of ten sites, twelve species in each; effect of the recipe 0.6. */
struct rows {
    double x[ROWS * 2], y[ROWS], trials[ROWS], species[KINDS];
    size_t site[ROWS], plot[ROWS], kind[ROWS];
};

static void rows_draw(struct random_stream *r, bool counts, struct rows *out)
{
    size_t at = 0;
    for (size_t k = 0; k < KINDS; k++)
        out->species[k] = 0.5 * random_normal(r);
    for (size_t s = 0; s < SITES; s++) {
        double of_site = 0.6 * random_normal(r);
        for (size_t p = 0; p < 2; p++) {
            double of_plot = 0.35 * random_normal(r);
            for (size_t k = 0; k < KINDS; k++, at++) {
                double eta = 0.8 + 0.6 * (double)p + of_site + of_plot + out->species[k];
                out->x[2 * at] = 1;
                out->x[2 * at + 1] = (double)p;
                out->site[at] = s;
                out->plot[at] = 2 * s + p;
                out->kind[at] = k;
                out->trials[at] = p == 0 ? 5 : 12;
                out->y[at] = counts ? draw_binomial(r, (size_t)out->trials[at], chance(eta)) : eta + 0.7 * random_normal(r);
            }
        }
    }
}

static bool logistic_fit(struct random_stream *r, struct arena *arena, struct rows *rows, struct mixed_fit *fit)
{
    struct failure why;
    rows_draw(r, true, rows);
    struct random_term terms[3] = {{SITES, rows->site, 1, NULL}, {2 * SITES, rows->plot, 1, NULL}, {KINDS, rows->kind, 1, NULL}};
    struct design design = {.n = ROWS, .p = 2, .x = rows->x, .y = rows->y, .trials = rows->trials};
    return mixed_logistic(&design, terms, 3, 1, 0.95, arena, fit, &why) == OUTCOME_OK;
}

static bool logistic(struct random_stream *r, struct arena *arena, struct estimate *out, double *truth)
{
    struct rows *rows = arena_alloc(arena, sizeof *rows);
    struct mixed_fit fit;
    *truth = 0.6;
    if (!logistic_fit(r, arena, rows, &fit))
        return false;
    *out = estimate_student(fit.beta[1].value, fit.beta[1].se, SITES - 1, 0.95, ROWS); /* plots − sites − 1 */
    return true;
}

static bool species_apart(struct random_stream *r, struct arena *arena, struct estimate *out, double *truth)
{
    struct rows *rows = arena_alloc(arena, sizeof *rows);
    struct mixed_fit fit;
    if (!logistic_fit(r, arena, rows, &fit))
        return false;
    *truth = rows->species[0] - rows->species[1];
    const double *v = fit.effect_covariance[2], *e = fit.effect[2];
    *out = estimate_student(e[0] - e[1], sqrt(v[0] + v[KINDS + 1] - 2 * v[1]), KINDS - 1, 0.95, ROWS);
    return true;
}

static bool linear(struct random_stream *r, struct arena *arena, struct estimate *out, double *truth)
{
    struct rows *rows = arena_alloc(arena, sizeof *rows);
    struct failure why;
    struct mixed_fit fit;
    *truth = 0.6;
    rows_draw(r, false, rows);
    struct random_term terms[3] = {{SITES, rows->site, 1, NULL}, {2 * SITES, rows->plot, 1, NULL}, {KINDS, rows->kind, 1, NULL}};
    struct design design = {.n = ROWS, .p = 2, .x = rows->x, .y = rows->y};
    if (mixed_linear(&design, terms, 3, true, DF_SATTERTHWAITE, 0.95, arena, &fit, &why) != OUTCOME_OK)
        return false;
    *out = fit.beta[1];
    return true;
}

static bool kaplan_meier(struct random_stream *r, struct arena *arena, struct estimate *out, double *truth)
{
    enum { N = 200 };
    double time[N];
    bool died[N];
    struct failure why;
    struct survival_curve curve;
    *truth = exp(-0.4);
    for (int i = 0; i < N; i++) {
        double life = -log(random_uniform(r)) / 0.2, look = 1 + 3 * random_uniform(r);
        time[i] = fmin(life, look);
        died[i] = life <= look;
    }
    struct lives lives = {.n = N, .time = time, .died = died};
    if (survival_kaplan_meier(&lives, SURVIVAL_LOGLOG, 0.95, arena, &curve, &why) != OUTCOME_OK)
        return false;
    *out = survival_at(&curve, 2);
    return true;
}

struct shares {
    const double *x;
    size_t n;
};

static enum outcome weighted_mean(void *data, const double *weight, double *out, struct failure *why)
{
    (void)why;
    const struct shares *s = data;
    double sum = 0, all = 0;
    for (size_t i = 0; i < s->n; i++) {
        sum += weight[i] * s->x[i];
        all += weight[i];
    }
    out[0] = sum / all;
    return OUTCOME_OK;
}

static bool bootstrap(struct random_stream *r, struct arena *arena, struct estimate *out, double *truth)
{
    (void)arena;
    enum { PLOTS = 24, EACH = 30 };
    static double x[PLOTS * EACH];
    static size_t cluster[PLOTS * EACH];
    struct failure why;
    size_t failed = 0;
    *truth = chance_mean(1, 0.5);
    for (size_t p = 0; p < PLOTS; p++) {
        double own = chance(1 + 0.5 * random_normal(r));
        for (size_t i = 0; i < EACH; i++) {
            x[p * EACH + i] = random_uniform(r) < own;
            cluster[p * EACH + i] = p;
        }
    }
    struct shares shares = {x, PLOTS * EACH};
    return bootstrap_clusters(weighted_mean, &shares, cluster, NULL, PLOTS * EACH, 1, 400, random_u32(r), bootstrap_level(0.95, PLOTS),
                              NULL, out, &failed, &why) == OUTCOME_OK;
}

static bool rarefied(struct random_stream *r, struct arena *arena, struct estimate *out, double *truth)
{
    enum { TAXA = 20, LOOKS = 24 };
    double seen[TAXA] = {0}, m = 12;
    struct failure why;
    *truth = 0;
    for (int k = 0; k < TAXA; k++) {
        double p = 1.0 / (k + 2);
        seen[k] = draw_binomial(r, LOOKS, p);
        *truth += 1 - pow(1 - p, m);
    }
    struct assemblage a = {seen, TAXA, LOOKS};
    return diversity_intervals(&a, &m, 1, 0, 0.95, 100, random_u32(r), arena, out, &why) == OUTCOME_OK;
}

int main(int count, char **word)
{
    static const struct {
        const char *words;
        coverage_run run;
        bool usual; ///< shown beside, not ours
    } rows[] = {
        {"share alive, 300 plants (Wilson)", wilson, false},
        {"share alive, 20 plants (Wilson)", wilson_few, false},
        {"difference of two plots (Newcombe)", newcombe, false},
        {"share alive over 16 plots of 60, plants of a plot alike", clustered, false},
        {"  the same, plants counted as independent", naive_clustered, true},
        {"survival at a time, 200 plants (Kaplan–Meier, log-log)", kaplan_meier, false},
        {"share alive, 24 plots drawn again", bootstrap, false},
        {"mean difference over 8 sites (Student)", paired, false},
        {"pooled difference over 10 sites (restricted likelihood, Hartung–Knapp)", pooled, false},
        {"  the same, normal interval", pooled_normal, true},
        {"difference of a new site (prediction)", predicted, false},
        {"odds ratio of regimes, 10 sites (logistic mixed model, t)", logistic, false},
        {"two of 12 species apart (effects of that model, t)", species_apart, false},
        {"growth of regimes, 10 sites (linear mixed model, Satterthwaite)", linear, false},
        {"kinds at half the looks (rarefaction, bootstrap)", rarefied, false},
    };
    size_t runs = count > 1 ? (size_t)strtoul(word[1], NULL, 10) : 2000;
    printf("%zu runs each, level 95 %%; ± is twice the standard error of the simulation\n\n| interval | holds the truth | ± | too high | "
           "too low "
           "| could not be had |\n|---|---|---|---|---|---|\n",
           runs);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        size_t held = 0, above = 0, below = 0, none = 0;
        for (size_t k = 0; k < runs; k++) {
            struct random_stream r = random_make(9000 + i, k);
            struct arena arena = {0};
            struct estimate e = estimate_unknown();
            double truth = 0;
            bool had = rows[i].run(&r, &arena, &e, &truth) && !isnan(e.low) && !isnan(e.high);
            none += !had;
            held += had && e.low <= truth && truth <= e.high;
            above += had && e.low > truth;
            below += had && e.high < truth;
            arena_clear(&arena);
        }
        double p = (double)held / (double)(runs - none);
        printf("| %s | %.1f %% | %.1f | %zu | %zu | %zu |%s\n", rows[i].words, 100 * p, 200 * sqrt(p * (1 - p) / (double)(runs - none)),
               above, below, none, rows[i].usual || (p >= 0.93 && p <= 0.97) ? "" : "  <-- outside 93 to 97 %");
        fflush(stdout);
    }
    return 0;
}
