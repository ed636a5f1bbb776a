/* SPDX-License-Identifier: GPL-3.0-or-later
 * Linear mixed models by profiled likelihood. Bates, Mächler, Bolker & Walker 2015, J Stat Softw 67(1), §3. */
#include "stats/dense.h"
#include "stats/minimise.h"
#include "stats/mixed_core.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

struct linear {
    struct core core;
    size_t n, p;
    bool reml;
    double *xy;       ///< n × (p + 1), rows times root weight: scaled columns, then the response less its least-squares fit
    double *cross;    ///< (p + 1)²: of xy
    double *zxy;      ///< q × (p + 1), column-major: Z'W[X y] before Λ'
    double *half;     ///< q × (p + 1): L⁻¹PΛ'Z'W[X y]
    double *rx;       ///< p × p: factor of X'V⁻¹X
    double *beta;     ///< p, scaled columns, added to the least-squares fit
    double rss;       ///< penalised residual sum of squares
    double ln_weight; ///< sum of log weights
    double ln_scale;  ///< twice the sum of logs of what the columns were divided by
};

/* Λ' of what is kept in zxy, into half. */
static void apply_lambda(struct linear *m)
{
    const struct core *c = &m->core;
    double sum[8];
    for (size_t t = 0; t < c->terms; t++) {
        size_t k = c->term[t].columns;
        const double *l = c->lambda + c->lambda_at[t];
        for (size_t col = 0; col <= m->p; col++)
            for (size_t a = 0; a < c->term[t].levels; a++) {
                size_t at = col * c->q + c->offset[t] + a * k;
                for (size_t r = 0; r < k; r++) {
                    sum[r] = 0;
                    for (size_t s = r; s < k; s++)
                        sum[r] += l[s * k + r] * m->zxy[at + s];
                }
                memcpy(m->half + at, sum, k * sizeof *sum);
            }
    }
}

/* Everything at theta; false where it cannot be had. */
static bool solve_at(struct linear *m, const double *theta)
{
    struct core *c = &m->core;
    size_t p = m->p, side = p + 1;
    core_theta(c, theta);
    if (!core_factor(c))
        return false;
    apply_lambda(m);
    core_solve_half(c, m->half, side);
    double corner[64], *right = p < 64 ? corner : memory_get(side, sizeof *right), yy = m->cross[side * side - 1];
    for (size_t a = 0; a <= p; a++)
        for (size_t b = 0; b <= a; b++) {
            double sum = 0;
            const double *ha = m->half + a * c->q, *hb = m->half + b * c->q;
            for (size_t i = 0; i < c->q; i++)
                sum += ha[i] * hb[i];
            double value = m->cross[a * side + b] - sum;
            if (a < p)
                m->rx[a * p + b] = m->rx[b * p + a] = value;
            else if (b < p)
                right[b] = value;
            else
                yy = value;
        }
    bool good = p == 0 || dense_cholesky(m->rx, p, 1e-12);
    if (good) {
        dense_forward(m->rx, p, right);
        for (size_t j = 0; j < p; j++)
            yy -= right[j] * right[j];
        memcpy(m->beta, right, p * sizeof *right);
        for (size_t i = p; i-- > 0;) {
            for (size_t k = i + 1; k < p; k++)
                m->beta[i] -= m->rx[k * p + i] * m->beta[k];
            m->beta[i] /= m->rx[i * p + i];
        }
        m->rss = yy;
        good = yy > 0;
    }
    if (right != corner)
        free(right);
    return good;
}

static double criterion(void *data, const double *theta)
{
    struct linear *m = data;
    if (!solve_at(m, theta))
        return INFINITY;
    double df = (double)m->n - (m->reml ? (double)m->p : 0), value = m->core.ln_det - m->ln_weight;
    if (m->reml)
        value += dense_ln_det(m->rx, m->p) + m->ln_scale;
    return value + df * (1 + log(2 * M_PI * m->rss / df));
}

/* With sigma free, for degrees of freedom: last variable is sigma. */
static double criterion_free(void *data, const double *x)
{
    struct linear *m = data;
    double sigma = x[m->core.n_theta], df = (double)m->n - (m->reml ? (double)m->p : 0);
    if (!(sigma > 0) || !solve_at(m, x))
        return INFINITY;
    return m->core.ln_det + (m->reml ? dense_ln_det(m->rx, m->p) : 0) + df * log(2 * M_PI * sigma * sigma) + m->rss / (sigma * sigma);
}

static void covariance_at(struct linear *m, double variance, const double *scale, double *out)
{
    dense_inverse(m->rx, m->p, out);
    for (size_t a = 0; a < m->p; a++)
        for (size_t b = 0; b < m->p; b++)
            out[a * m->p + b] *= variance / (scale[a] * scale[b]);
}

/* Covariance of (theta, sigma) and slopes of the covariance of beta in them, for Satterthwaite's degrees of freedom. */
static bool degrees_prepare(struct linear *m, const double *theta, double sigma, const double *scale, struct arena *arena,
                            struct mixed_fit *fit)
{
    size_t k = m->core.n_theta + 1, p = m->p;
    double *x = memory_get(3 * k, sizeof *x), *step = x + k, *probe = x + 2 * k, *h = memory_get(k * k, sizeof *h);
    double *above = memory_get(2 * p * p, sizeof *above), *below = above + p * p;
    memcpy(x, theta, (k - 1) * sizeof *x);
    x[k - 1] = sigma;
    for (size_t i = 0; i < k; i++)
        step[i] = i + 1 < k ? 1 : sigma;
    fit->parameter_covariance = arena_array(arena, k * k, sizeof(double));
    fit->jacobian = arena_array(arena, k * p * p, sizeof(double));
    minimise_hessian(criterion_free, m, x, step, k, h);
    bool good = dense_cholesky(h, k, 1e-8);
    if (good) {
        dense_inverse(h, k, fit->parameter_covariance);
        for (size_t i = 0; i < k * k; i++)
            fit->parameter_covariance[i] *= 2;
    }
    for (size_t i = 0; i < k && good; i++) {
        double d = 1e-4 * step[i], s = sigma * sigma;
        memcpy(probe, x, k * sizeof *x);
        if (i + 1 == k) {
            solve_at(m, x);
            covariance_at(m, 2 * sigma, scale, fit->jacobian + i * p * p);
            (void)s;
            continue;
        }
        probe[i] = x[i] + d;
        good = good && solve_at(m, probe);
        covariance_at(m, s, scale, above);
        probe[i] = x[i] - d;
        good = good && solve_at(m, probe);
        covariance_at(m, s, scale, below);
        for (size_t e = 0; e < p * p; e++)
            fit->jacobian[i * p * p + e] = (above[e] - below[e]) / (2 * d);
    }
    fit->n_parameters = good ? k : 0;
    free(x);
    free(h);
    free(above);
    return good;
}

static double degrees_of(const struct mixed_fit *fit, const double *l)
{
    size_t k = fit->n_parameters, p = fit->p;
    if (k == 0)
        return unknown_real();
    double *g = memory_get(k, sizeof *g), v = dense_form(fit->covariance, l, p);
    for (size_t i = 0; i < k; i++)
        g[i] = dense_form(fit->jacobian + i * p * p, l, p);
    double below = dense_form(fit->parameter_covariance, g, k);
    free(g);
    return below > 0 ? 2 * v * v / below : INFINITY;
}

enum outcome mixed_contrast(const struct mixed_fit *fit, const double *l, double level, struct estimate *out, double *p,
                            struct failure *why)
{
    enum outcome outcome = level_check(level, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    double value = 0, df = fit->n_parameters > 0 ? degrees_of(fit, l) : INFINITY;
    for (size_t j = 0; j < fit->p; j++)
        value += l[j] * fit->beta[j].value;
    *out = estimate_student(value, sqrt(dense_form(fit->covariance, l, fit->p)), df, level, (double)fit->n);
    *p = student_two_sided(out->value / out->se, df);
    return OUTCOME_OK;
}

/* Weighted, scaled and centred copies of the data, and their cross products. */
static enum outcome linear_prepare(struct linear *m, const struct design *d, const struct model_fit *ols, const double *scale,
                                   struct arena *arena)
{
    size_t n = d->n, p = d->p, side = p + 1;
    m->xy = arena_array(arena, n * side, sizeof(double));
    double *weighted = arena_array(arena, n * side, sizeof(double));
    for (size_t i = 0; i < n; i++) {
        double w = d->weight == NULL ? 1 : d->weight[i];
        m->ln_weight += log(w);
        for (size_t j = 0; j < p; j++)
            m->xy[i * side + j] = d->x[i * p + j] / scale[j];
        m->xy[i * side + p] = d->y[i] - ols->fitted[i];
        for (size_t j = 0; j < side; j++)
            weighted[i * side + j] = w * m->xy[i * side + j];
    }
    m->cross = arena_array(arena, side * side, sizeof(double));
    for (size_t i = 0; i < n; i++)
        for (size_t a = 0; a < side; a++)
            for (size_t b = 0; b < side; b++)
                m->cross[a * side + b] += m->xy[i * side + a] * weighted[i * side + b];
    m->zxy = arena_array(arena, m->core.q * side, sizeof(double));
    m->half = arena_array(arena, m->core.q * side, sizeof(double));
    m->rx = arena_array(arena, p * p + 1, sizeof(double));
    m->beta = arena_array(arena, p + 1, sizeof(double));
    for (size_t t = 0; t < m->core.terms; t++) /* Z'W[X y] with Λ the identity */
        for (size_t r = 0; r < m->core.term[t].columns; r++)
            m->core.lambda[m->core.lambda_at[t] + r * m->core.term[t].columns + r] = 1;
    core_cross(&m->core, weighted, side, m->zxy);
    core_weigh(&m->core, d->weight);
    return OUTCOME_OK;
}

static void linear_effects(struct linear *m)
{
    size_t q = m->core.q;
    apply_lambda(m);
    double *u = m->core.u;
    memcpy(u, m->half + m->p * q, q * sizeof *u);
    for (size_t j = 0; j < m->p; j++)
        for (size_t i = 0; i < q; i++)
            u[i] -= m->half[j * q + i] * m->beta[j];
    core_solve(&m->core, u, 1);
}

enum outcome mixed_linear(const struct design *design, const struct random_term *terms, size_t n_terms, bool reml, enum df_method df,
                          double level, struct arena *arena, struct mixed_fit *out, struct failure *why)
{
    struct arena scratch = {0};
    struct model_fit ols;
    struct linear m = {.n = design->n, .p = design->p, .reml = reml};
    require(design->trials == NULL);
    enum outcome outcome = model_fit(MODEL_LINEAR, 0, design, level, &scratch, &ols, why);
    if (outcome != OUTCOME_OK || (outcome = core_make(&m.core, design->n, terms, n_terms, &scratch, why)) != OUTCOME_OK)
        goto done;
    for (size_t i = 0; i < design->n; i++)
        if (design->weight != NULL && !(design->weight[i] > 0)) {
            outcome = fail(why, OUTCOME_DATA, "Row %zu has the weight %g; weights must be above 0.", i + 1, design->weight[i]);
            goto done;
        }
    size_t p = design->p, k = m.core.n_theta;
    double *scale = arena_array(&scratch, p + 1, sizeof *scale), *theta = arena_array(arena, k, sizeof *theta);
    double *step = arena_array(&scratch, k, sizeof *step);
    for (size_t j = 0; j < p; j++) {
        for (size_t i = 0; i < design->n; i++)
            scale[j] += design->x[i * p + j] * design->x[i * p + j];
        scale[j] = sqrt(scale[j] / (double)design->n);
        m.ln_scale += 2 * log(scale[j]);
    }
    linear_prepare(&m, design, &ols, scale, &scratch);
    core_theta_start(&m.core, theta);
    for (size_t i = 0; i < k; i++)
        step[i] = 1;
    struct minimum least = minimise(criterion, &m, theta, step, k);
    core_theta_settle(&m.core, theta);
    struct mixed_fit fit = {
        .n = design->n, .p = p, .terms = n_terms, .theta = theta, .n_theta = k, .reml = reml, .gradient = least.gradient};
    fit.evaluations = least.evaluations;
    fit.criterion = criterion(&m, theta);
    if (!isfinite(fit.criterion)) {
        outcome = fail(why, OUTCOME_DATA,
                       "The mixed model could not be fitted: the response leaves nothing to explain, or columns depend on each other.");
        goto done;
    }
    fit.loglik = -fit.criterion / 2;
    fit.sigma = sqrt(m.rss / ((double)m.n - (reml ? (double)p : 0)));
    fit.beta = arena_array(arena, p + 1, sizeof *fit.beta);
    fit.df = arena_array(arena, p + 1, sizeof(double));
    fit.p_value = arena_array(arena, p + 1, sizeof(double));
    fit.covariance = arena_array(arena, p * p + 1, sizeof(double));
    covariance_at(&m, fit.sigma * fit.sigma, scale, fit.covariance);
    linear_effects(&m);
    core_report(&m.core, m.core.u, fit.sigma * fit.sigma, arena, &fit);
    fit.singular = core_singular(&m.core);
    double *value = arena_array(&scratch, p + 1, sizeof *value), *l = arena_array(&scratch, p + 1, sizeof *l);
    for (size_t j = 0; j < p; j++)
        value[j] = ols.beta[j].value + m.beta[j] / scale[j];
    if (df == DF_SATTERTHWAITE && !degrees_prepare(&m, theta, fit.sigma, scale, arena, &fit)) {
        outcome = fail(why, OUTCOME_DATA, "Degrees of freedom could not be found: the variances are not determined by these data.");
        goto done;
    }
    for (size_t j = 0; j < p; j++) {
        l[j] = 1;
        fit.df[j] = df == DF_NONE ? unknown_real() : degrees_of(&fit, l);
        l[j] = 0;
        fit.beta[j] = estimate_student(value[j], sqrt(fit.covariance[j * p + j]), fit.df[j], level, (double)fit.n);
        fit.p_value[j] = student_two_sided(value[j] / fit.beta[j].se, df == DF_NONE ? INFINITY : fit.df[j]);
    }
    core_theta_report(&m.core, theta);
    *out = fit;
done:
    core_free(&m.core);
    arena_clear(&scratch);
    return outcome;
}
