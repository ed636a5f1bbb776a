/* SPDX-License-Identifier: GPL-3.0-or-later
 * Times the fits of stats/ on a CSV file: bench_stats WHAT FILE. Driven by bench_stats.sh, which times R on the same data. */
#include "stats/stats.h"
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

static double now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

struct data {
    struct csv_table table;
    struct arena arena;
    size_t n;
};

static double *column(struct data *d, const char *name)
{
    size_t j = csv_column(&d->table, name);
    double *out = arena_array(&d->arena, d->n, sizeof *out);
    for (size_t i = 0; j != SIZE_MAX && i < d->n; i++)
        if (!number_read(csv_cell(&d->table, i + 1, j), &out[i]))
            out[i] = INFINITY;
    return out;
}

static size_t *labels(struct data *d, const char *name, size_t *levels)
{
    double *v = column(d, name);
    size_t *out = arena_array(&d->arena, d->n, sizeof *out);
    *levels = 0;
    for (size_t i = 0; i < d->n; i++) {
        out[i] = (size_t)v[i] - 1;
        *levels = out[i] + 1 > *levels ? out[i] + 1 : *levels;
    }
    return out;
}

static enum outcome run_times(struct data *d, const char *what, double *answer, struct failure *why)
{
    double *time = column(d, "time"), *died = column(d, "died");
    size_t groups = 0, *group = labels(d, "group", &groups);
    bool *event = arena_array(&d->arena, d->n, sizeof *event);
    for (size_t i = 0; i < d->n; i++)
        event[i] = died[i] > 0;
    struct lives lives = {d->n, time, event, NULL, group, NULL};
    struct survival_curve curve;
    struct group_test test;
    double start = now_s();
    enum outcome outcome = strcmp(what, "kaplan-meier") == 0 ? survival_kaplan_meier(&lives, SURVIVAL_LOGLOG, .95, &d->arena, &curve, why)
                                                             : survival_logrank(&lives, groups, 0, &d->arena, &test, why);
    printf("%.6f ", now_s() - start);
    if (outcome == OUTCOME_OK)
        *answer = strcmp(what, "kaplan-meier") == 0 ? curve.survival[curve.n / 2] : test.test.statistic;
    return outcome;
}

static enum outcome run_intervals(struct data *d, double *answer, struct failure *why)
{
    struct interval_lives lives = {d->n, column(d, "left"), column(d, "right"), NULL};
    struct turnbull t;
    double start = now_s();
    enum outcome outcome = survival_turnbull(&lives, &d->arena, &t, why);
    printf("%.6f ", now_s() - start);
    if (outcome == OUTCOME_OK) {
        *answer = t.loglik;
        fprintf(stderr, "  turnbull: %zu lives, %zu candidates, %zu with mass, %d steps, proven gap %.2g\n", d->n, t.candidates, t.n,
                t.iterations, t.gap);
    }
    return outcome;
}

static enum outcome run_model(struct data *d, const char *what, double *answer, struct failure *why)
{
    double *y = column(d, "y"), *a = column(d, "a"), *b = column(d, "b"), *x = arena_array(&d->arena, d->n * 3, sizeof *x);
    for (size_t i = 0; i < d->n; i++) {
        x[3 * i] = 1;
        x[3 * i + 1] = a[i];
        x[3 * i + 2] = b[i];
    }
    struct random_term terms[2] = {{0, NULL, 1, NULL}, {0, NULL, 1, NULL}};
    terms[0].level = labels(d, "plot", &terms[0].levels);
    terms[1].level = labels(d, "kind", &terms[1].levels);
    struct design design = {.n = d->n, .p = 3, .x = x, .y = y};
    struct model_fit plain;
    struct mixed_fit mixed;
    double start = now_s();
    enum outcome outcome = strcmp(what, "logistic") == 0 ? model_fit(MODEL_LOGISTIC, 0, &design, .95, &d->arena, &plain, why)
                           : strcmp(what, "lmm") == 0    ? mixed_linear(&design, terms, 2, true, DF_NONE, .95, &d->arena, &mixed, why)
                                                         : mixed_logistic(&design, terms, 2, 1, .95, &d->arena, &mixed, why);
    printf("%.6f ", now_s() - start);
    if (outcome == OUTCOME_OK)
        *answer = strcmp(what, "logistic") == 0 ? plain.loglik : mixed.loglik;
    if (outcome == OUTCOME_OK && strcmp(what, "logistic") != 0)
        fprintf(stderr, "  %s: %d trials of the variances, slope left %.2g\n", what, mixed.evaluations, mixed.gradient);
    return outcome;
}

static enum outcome run_diversity(struct data *d, double *answer, struct failure *why)
{
    struct assemblage a = {column(d, "count"), d->n, 0};
    double m[20];
    struct estimate e[20];
    for (int i = 0; i < 20; i++)
        m[i] = 25 * (i + 1);
    double start = now_s();
    enum outcome outcome = diversity_intervals(&a, m, 20, 0, .95, 50, 1, &d->arena, e, why);
    printf("%.6f ", now_s() - start);
    *answer = e[3].value;
    return outcome;
}

int main(int count, char **word)
{
    struct data d = {0};
    struct failure why = {0};
    char *bytes = NULL;
    size_t n = 0;
    double answer = unknown_real();
    if (count != 3) {
        fprintf(stderr, "bench_stats kaplan-meier|logrank|turnbull|logistic|lmm|glmm|diversity FILE\n");
        return 2;
    }
    enum outcome outcome = file_read(word[2], 0, &d.arena, &bytes, &n, &why);
    if (outcome == OUTCOME_OK)
        outcome = csv_read(word[2], bytes, n, ',', 0, &d.arena, &d.table, &why);
    d.n = outcome == OUTCOME_OK ? d.table.rows - 1 : 0;
    const char *what = word[1];
    if (outcome == OUTCOME_OK)
        outcome = strcmp(what, "turnbull") == 0                  ? run_intervals(&d, &answer, &why)
                  : strcmp(what, "diversity") == 0               ? run_diversity(&d, &answer, &why)
                  : *what == 'k' || strcmp(what, "logrank") == 0 ? run_times(&d, what, &answer, &why)
                                                                 : run_model(&d, what, &answer, &why);
    if (outcome != OUTCOME_OK)
        fprintf(stderr, "%s %s\n", why.sentence, why.remedy);
    else
        printf("%.10g\n", answer);
    arena_clear(&d.arena);
    return (int)outcome;
}
