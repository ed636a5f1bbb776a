/* SPDX-License-Identifier: GPL-3.0-or-later
 * Regression without random effects, by weighted least squares repeated until it stands still.
 * McCullagh & Nelder 1989, Generalized Linear Models, chapter 2. */
#include "stats/model.h"
#include "stats/dense.h"
#include <gsl/gsl_sf_gamma.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

struct fitting {
    enum model_kind kind;
    unsigned options;
    const struct design *d;
    size_t n, p;
    double *scale;                                ///< p: root mean square of each column
    double *cross;                                ///< p × p: factor of the scaled X'WX
    double *right;                                ///< p
    double *eta, *mean, *weight, *residual, *hat; ///< n; residual is on the scale of the predictor, times weight
};

static double at(const double *x, size_t i, double otherwise)
{
    return x == NULL ? otherwise : x[i];
}

static double mean_of(enum model_kind kind, double eta)
{
    switch (kind) {
    case MODEL_LOGISTIC:
        return 1 / (1 + exp(-eta));
    case MODEL_CLOGLOG:
        return -expm1(-exp(fmin(eta, 700)));
    case MODEL_POISSON:
        return exp(eta);
    default:
        return eta;
    }
}

/* −2 log-likelihood of a row against the saturated one. */
static double deviance_of(enum model_kind kind, double y, double m, double mean)
{
    if (kind == MODEL_LINEAR)
        return (y - mean) * (y - mean);
    if (kind == MODEL_POISSON)
        return 2 * ((y > 0 ? y * log(y / mean) : 0) - (y - mean));
    mean = fmin(fmax(mean, 1e-300), 1 - 1e-16);
    return 2 * ((y > 0 ? y * log(y / (m * mean)) : 0) + (m > y ? (m - y) * log((m - y) / (m * (1 - mean))) : 0));
}

static double loglik_of(enum model_kind kind, double y, double m, double mean)
{
    if (kind == MODEL_POISSON)
        return (y > 0 ? y * log(mean) : 0) - mean - gsl_sf_lngamma(y + 1);
    double choices = gsl_sf_lngamma(m + 1) - gsl_sf_lngamma(y + 1) - gsl_sf_lngamma(m - y + 1);
    return choices + (y > 0 ? y * log(mean) : 0) + (m > y ? (m - y) * log1p(-mean) : 0);
}

/* Predictor, mean, weights and weighted working residuals at beta; returns the deviance. */
static double prepare(struct fitting *f, const double *beta)
{
    double deviance = 0;
    for (size_t i = 0; i < f->n; i++) {
        const double *x = f->d->x + i * f->p;
        double eta = at(f->d->offset, i, 0), w = at(f->d->weight, i, 1), m = at(f->d->trials, i, 1), y = f->d->y[i];
        for (size_t j = 0; j < f->p; j++)
            eta += x[j] * beta[j];
        double mean = mean_of(f->kind, eta);
        f->eta[i] = eta;
        f->mean[i] = mean;
        deviance += w * deviance_of(f->kind, y, m, mean);
        switch (f->kind) {
        case MODEL_LINEAR:
            f->weight[i] = w;
            f->residual[i] = w * (y - mean);
            break;
        case MODEL_LOGISTIC:
            f->weight[i] = w * m * mean * (1 / (1 + exp(eta)));
            f->residual[i] = w * (y - m * mean);
            break;
        case MODEL_CLOGLOG: {
            double slope = exp(eta - exp(fmin(eta, 700))), variance = fmax(mean * exp(-exp(fmin(eta, 700))), 1e-300);
            f->weight[i] = w * m * slope * slope / variance;
            f->residual[i] = w * (y - m * mean) * slope / variance;
            break;
        }
        default:
            f->weight[i] = w * mean;
            f->residual[i] = w * (y - mean);
        }
    }
    return deviance;
}

/* Factor of the scaled X'WX into f->cross. */
static bool factor(struct fitting *f)
{
    size_t p = f->p;
    memset(f->cross, 0, p * p * sizeof *f->cross);
    for (size_t i = 0; i < f->n; i++) {
        const double *x = f->d->x + i * p;
        for (size_t a = 0; a < p; a++) {
            double wx = f->weight[i] * x[a] / f->scale[a];
            if (wx == 0)
                continue;
            for (size_t b = 0; b <= a; b++)
                f->cross[a * p + b] += wx * x[b] / f->scale[b];
        }
    }
    for (size_t a = 0; a < p; a++)
        for (size_t b = 0; b < a; b++)
            f->cross[b * p + a] = f->cross[a * p + b];
    return dense_cholesky(f->cross, p, 1e-11);
}

/* Leverages for the penalty, added to the residual: (½ − mean) h. */
static void firth(struct fitting *f)
{
    double *z = memory_get(f->p, sizeof *z);
    for (size_t i = 0; i < f->n; i++) {
        for (size_t j = 0; j < f->p; j++)
            z[j] = f->d->x[i * f->p + j] / f->scale[j];
        dense_forward(f->cross, f->p, z);
        double h = 0;
        for (size_t j = 0; j < f->p; j++)
            h += z[j] * z[j];
        f->residual[i] += h * f->weight[i] * (0.5 - f->mean[i]);
    }
    free(z);
}

static void step_of(struct fitting *f, double *step)
{
    memset(step, 0, f->p * sizeof *step);
    for (size_t i = 0; i < f->n; i++)
        for (size_t j = 0; j < f->p; j++)
            step[j] += f->residual[i] * f->d->x[i * f->p + j] / f->scale[j];
    dense_solve(f->cross, f->p, step);
    for (size_t j = 0; j < f->p; j++)
        step[j] /= f->scale[j];
}

/* Does moving on along `way` never make any row worse and some better? Then the estimates have no end. */
static bool separates(const struct fitting *f, const double *way)
{
    double most = 0;
    for (size_t i = 0; i < f->n; i++)
        f->hat[i] = 0;
    for (size_t i = 0; i < f->n; i++) {
        for (size_t j = 0; j < f->p; j++)
            f->hat[i] += way[j] * f->d->x[i * f->p + j];
        most = fmax(most, fabs(f->hat[i]));
    }
    if (!(most > 1e-3)) /* steps that have died out lead nowhere */
        return false;
    for (size_t i = 0; i < f->n; i++) {
        double y = f->d->y[i], m = at(f->d->trials, i, 1), move = f->hat[i] / most;
        bool none = y == 0, all = f->kind != MODEL_POISSON && y == m;
        if ((move > 1e-4 && !all) || (move < -1e-4 && !none))
            return false;
    }
    return true;
}

static double penalty(struct fitting *f)
{
    return f->options & MODEL_FIRTH ? dense_ln_det(f->cross, f->p) : 0;
}

static enum outcome dependent(const struct fitting *f, struct failure *why)
{
    (void)f;
    fail(why, OUTCOME_DATA, "The columns of the model depend on each other: their effects cannot be told apart.");
    return failure_remedy(why, "Leave out a column that the others already say, or a class without rows.");
}

/* Iterate from f's beta. */
static enum outcome iterate(struct fitting *f, double *beta, struct model_fit *out, struct failure *why)
{
    size_t p = f->p;
    double *step = memory_get(p, sizeof *step), *old = memory_get(p, sizeof *old), deviance = prepare(f, beta);
    enum outcome outcome = OUTCOME_OK;
    if (!factor(f)) {
        outcome = dependent(f, why);
        goto done;
    }
    double target = deviance - penalty(f);
    int last = f->kind == MODEL_LINEAR ? 2 : 100;
    for (out->iterations = 1; out->iterations <= last; out->iterations++) {
        if (f->options & MODEL_FIRTH)
            firth(f);
        step_of(f, step);
        memcpy(old, beta, p * sizeof *beta);
        double before = target, share = 1, size = 0;
        bool sound = false;
        for (int halvings = 0; halvings < 25 && !sound; halvings++, share /= 2) {
            for (size_t j = 0; j < p; j++)
                beta[j] = old[j] + share * step[j];
            deviance = prepare(f, beta);
            sound = isfinite(deviance) && factor(f);
            target = deviance - penalty(f);
            sound = sound && target <= before + 1e-9 * (fabs(before) + 1);
        }
        if (!sound) {
            memcpy(beta, old, p * sizeof *beta);
            prepare(f, beta);
            out->separated = separates(f, step);
            if (!factor(f) && !out->separated)
                outcome = dependent(f, why);
            break;
        }
        for (size_t j = 0; j < p; j++)
            size = fmax(size, fabs(beta[j] - old[j]) * f->scale[j]);
        if (size < 1e-11 * (1 + fabs(beta[0]) * f->scale[0]) || (size < 1e-6 && fabs(target - before) <= 1e-15 * fabs(target)))
            break;
        if (out->iterations > 12 && size > 0.05 && separates(f, step)) {
            out->separated = true;
            break;
        }
    }
    if (out->separated && !(f->options & MODEL_FIRTH)) {
        fail(why, OUTCOME_DATA, "Some combination of the columns splits all successes from all failures: the estimates have no end.");
        outcome = failure_remedy(why, "Use the penalised fit, which always has an end, or put classes together.");
    }
    out->deviance = deviance;
done:
    free(step);
    free(old);
    return outcome;
}

static enum outcome design_check(enum model_kind kind, unsigned options, const struct design *d, struct failure *why)
{
    if (d->p == 0 || d->n < d->p + (kind == MODEL_LINEAR ? 1 : 0))
        return fail(why, OUTCOME_DATA, "There are %zu rows for %zu columns: too few.", d->n, d->p);
    if ((options & MODEL_FIRTH) && kind != MODEL_LOGISTIC)
        return fail(why, OUTCOME_USAGE, "The penalised fit is for logistic models only.");
    for (size_t i = 0; i < d->n; i++) {
        double y = d->y[i], m = at(d->trials, i, 1), w = at(d->weight, i, 1);
        bool binomial = kind == MODEL_LOGISTIC || kind == MODEL_CLOGLOG;
        if (!isfinite(y) || !(w >= 0) || (kind == MODEL_POISSON && y < 0) || (binomial && !(y >= 0 && y <= m && m > 0)))
            return fail(why, OUTCOME_DATA, "Row %zu: the response %g does not fit the model.", i + 1, y);
        for (size_t j = 0; j < d->p; j++)
            if (!isfinite(d->x[i * d->p + j]))
                return fail(why, OUTCOME_DATA, "Row %zu: column %zu of the model is not known.", i + 1, j + 1);
    }
    return OUTCOME_OK;
}

static void start(struct fitting *f, double *beta)
{
    memset(beta, 0, f->p * sizeof *beta);
    if (f->kind == MODEL_LINEAR)
        return;
    /* one least-squares step toward the link of slightly shrunken data, as McCullagh & Nelder advise */
    for (size_t i = 0; i < f->n; i++) {
        double m = at(f->d->trials, i, 1), y = f->d->y[i], w = at(f->d->weight, i, 1), q = (y + 0.5) / (m + 1);
        double link = f->kind == MODEL_POISSON ? log(y + 0.1) : f->kind == MODEL_CLOGLOG ? log(-log1p(-q)) : log(q / (1 - q));
        f->weight[i] = f->kind == MODEL_POISSON ? w * (y + 0.1) : w * m * q * (1 - q);
        f->residual[i] = f->weight[i] * (link - at(f->d->offset, i, 0));
    }
    if (factor(f))
        step_of(f, beta);
}

static void columns_scale(struct fitting *f)
{
    for (size_t j = 0; j < f->p; j++) {
        double squares = 0;
        for (size_t i = 0; i < f->n; i++)
            squares += f->d->x[i * f->p + j] * f->d->x[i * f->p + j];
        f->scale[j] = squares > 0 ? sqrt(squares / (double)f->n) : 1;
    }
}

static void summarise(struct fitting *f, const double *beta, double level, struct model_fit *out)
{
    size_t n = f->n, p = f->p;
    double rows = 0, log_weight = 0;
    out->loglik = out->pearson = 0;
    for (size_t i = 0; i < n; i++) {
        double w = at(f->d->weight, i, 1), m = at(f->d->trials, i, 1), y = f->d->y[i], mean = f->mean[i];
        rows += w > 0;
        if (w == 0)
            continue;
        log_weight += log(w);
        double variance = f->kind == MODEL_LINEAR ? 1 : f->kind == MODEL_POISSON ? mean : m * mean * (1 - mean);
        double off = y - (f->kind == MODEL_LOGISTIC || f->kind == MODEL_CLOGLOG ? m * mean : mean);
        if (variance > 0)
            out->pearson += w * off * off / variance;
        if (f->kind != MODEL_LINEAR)
            out->loglik += w * loglik_of(f->kind, y, m, mean);
    }
    out->df = rows - (double)p;
    bool estimated = f->kind == MODEL_LINEAR || (f->options & MODEL_QUASI);
    out->dispersion = estimated ? (out->df > 0 ? out->pearson / out->df : unknown_real()) : 1;
    if (f->kind == MODEL_LINEAR)
        out->loglik = 0.5 * (log_weight - rows * (log(2 * M_PI) + 1 - log(rows) + log(out->pearson)));
    dense_inverse(f->cross, p, out->covariance);
    for (size_t a = 0; a < p; a++)
        for (size_t b = 0; b < p; b++)
            out->covariance[a * p + b] *= out->dispersion / (f->scale[a] * f->scale[b]);
    for (size_t j = 0; j < p; j++) {
        double se = sqrt(out->covariance[j * p + j]), df = estimated ? out->df : INFINITY;
        out->beta[j] = estimate_student(beta[j], se, df, level, rows);
        out->p_value[j] = student_two_sided(beta[j] / se, df);
    }
    memcpy(out->fitted, f->mean, n * sizeof *f->mean);
}

static struct fitting fitting_make(enum model_kind kind, unsigned options, const struct design *d, struct arena *arena)
{
    struct fitting f = {.kind = kind, .options = options, .d = d, .n = d->n, .p = d->p};
    double **wide[] = {&f.eta, &f.mean, &f.weight, &f.residual, &f.hat};
    for (size_t i = 0; i < 5; i++)
        *wide[i] = arena_array(arena, d->n, sizeof(double));
    f.scale = arena_array(arena, d->p, sizeof(double));
    f.right = arena_array(arena, d->p, sizeof(double));
    f.cross = arena_array(arena, d->p * d->p, sizeof(double));
    columns_scale(&f);
    return f;
}

static double null_deviance(enum model_kind kind, const struct design *d, struct arena *arena)
{
    double *ones = arena_array(arena, d->n, sizeof *ones), beta = 0;
    for (size_t i = 0; i < d->n; i++)
        ones[i] = 1;
    struct design flat = *d;
    flat.p = 1;
    flat.x = ones;
    struct fitting f = fitting_make(kind, 0, &flat, arena);
    struct model_fit fit = {0};
    start(&f, &beta);
    return iterate(&f, &beta, &fit, NULL) == OUTCOME_OK ? fit.deviance : unknown_real();
}

enum outcome model_fit(enum model_kind kind, unsigned options, const struct design *design, double level, struct arena *arena,
                       struct model_fit *out, struct failure *why)
{
    enum outcome outcome = level_check(level, why);
    if (outcome != OUTCOME_OK || (outcome = design_check(kind, options, design, why)) != OUTCOME_OK)
        return outcome;
    size_t n = design->n, p = design->p;
    struct arena scratch = {0};
    struct fitting f = fitting_make(kind, options, design, &scratch);
    double *beta = arena_array(&scratch, p, sizeof *beta);
    struct model_fit fit = {.n = n, .p = p};
    start(&f, beta);
    outcome = iterate(&f, beta, &fit, why);
    if (outcome == OUTCOME_OK) {
        fit.beta = arena_array(arena, p, sizeof *fit.beta);
        fit.p_value = arena_array(arena, p, sizeof(double));
        fit.covariance = arena_array(arena, p * p, sizeof(double));
        fit.fitted = arena_array(arena, n, sizeof(double));
        summarise(&f, beta, level, &fit);
        fit.null_deviance = null_deviance(kind, design, &scratch);
        *out = fit;
    }
    arena_clear(&scratch);
    return outcome;
}

static double reference_df(const struct model_fit *fit)
{
    return fit->dispersion != 1 ? fit->df : INFINITY;
}

struct estimate model_contrast(const struct model_fit *fit, const double *l, double level)
{
    double value = 0;
    for (size_t j = 0; j < fit->p; j++)
        value += l[j] * fit->beta[j].value;
    return estimate_student(value, sqrt(dense_form(fit->covariance, l, fit->p)), reference_df(fit), level, fit->beta[0].n);
}

enum outcome model_test(const struct model_fit *fit, const double *l, size_t rows, struct test *out, struct failure *why)
{
    size_t p = fit->p, rank = 0;
    double *value = memory_get(rows + 1, sizeof *value), *lv = memory_get(rows * p + 1, sizeof *lv),
           *v = memory_get(rows * rows + 1, sizeof *v);
    dense_multiply(l, fit->covariance, lv, rows, p, p);
    for (size_t a = 0; a < rows; a++) {
        value[a] = 0;
        for (size_t j = 0; j < p; j++)
            value[a] += l[a * p + j] * fit->beta[j].value;
        for (size_t b = 0; b < rows; b++) {
            v[a * rows + b] = 0;
            for (size_t j = 0; j < p; j++)
                v[a * rows + b] += lv[a * p + j] * l[b * p + j];
        }
    }
    double chi = dense_wald(value, v, rows, &rank), df2 = reference_df(fit);
    free(value);
    free(lv);
    free(v);
    if (rank == 0)
        return fail(why, OUTCOME_USAGE, "The contrast holds nothing but zeros.");
    bool f = isfinite(df2);
    double df = (double)rank;
    *out = (struct test){f ? chi / df : chi, df, f ? df2 : unknown_real(), f ? f_upper(chi / df, df, df2) : chisq_upper(chi, df)};
    return OUTCOME_OK;
}

struct test model_compare(double loglik_small, double loglik_large, double df)
{
    double statistic = fmax(0, 2 * (loglik_large - loglik_small));
    return (struct test){statistic, df, unknown_real(), chisq_upper(statistic, df)};
}
