/* SPDX-License-Identifier: GPL-3.0-or-later
 * Logistic mixed models: Laplace's approximation, and adaptive Gauss–Hermite quadrature for one grouping.
 * Bates et al. 2015 for the penalised weighted least squares; Pinheiro & Bates 1995, J Comput Graph Stat 4:12 for the quadrature. */
#include "stats/dense.h"
#include "stats/minimise.h"
#include "stats/mixed_core.h"
#include <gsl/gsl_integration.h>
#include <gsl/gsl_sf_gamma.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

struct logistic {
    struct core core;
    const struct design *d;
    size_t n, p;
    int nodes;
    double *fixed, *random, *weight, *residual; ///< n
    double *trial, *step;                       ///< q
    double *node, *node_weight;                 ///< nodes
    double *level_sum, *level_base, *level_sd, *level_total;
    double constant; ///< Σ log of binomial coefficients
};

static double trials_of(const struct logistic *m, size_t i)
{
    return m->d->trials == NULL ? 1 : m->d->trials[i];
}

/* log(1 + exp(x)) without overflow. */
static double softplus(double x)
{
    return x > 0 ? x + log1p(exp(-x)) : log1p(exp(x));
}

/* Penalised deviance at u: −2 log-likelihood (without constant) + |u|². Fills random = ZΛu. */
static double penalised(struct logistic *m, const double *u)
{
    double sum = 0;
    core_predict(&m->core, u, m->random);
    for (size_t i = 0; i < m->n; i++) {
        double eta = m->fixed[i] + m->random[i];
        sum -= m->d->y[i] * eta - trials_of(m, i) * softplus(eta);
    }
    sum *= 2;
    for (size_t k = 0; k < m->core.q; k++)
        sum += u[k] * u[k];
    return sum;
}

static bool weigh(struct logistic *m)
{
    for (size_t i = 0; i < m->n; i++) {
        double mean = 1 / (1 + exp(-(m->fixed[i] + m->random[i])));
        m->weight[i] = trials_of(m, i) * mean * (1 - mean);
        m->residual[i] = m->d->y[i] - trials_of(m, i) * mean;
    }
    core_weigh(&m->core, m->weight);
    return core_factor(&m->core);
}

/* Conditional modes at the present theta and fixed part; leaves the factor there. Returns the penalised deviance. */
static double modes(struct logistic *m)
{
    size_t q = m->core.q;
    double *u = m->core.u, now = penalised(m, u);
    for (int iteration = 0; iteration < 100; iteration++) {
        double most = 0, share = 1, next = INFINITY;
        if (!weigh(m))
            return INFINITY;
        core_cross(&m->core, m->residual, 1, m->step);
        for (size_t k = 0; k < q; k++)
            m->step[k] -= u[k];
        core_solve(&m->core, m->step, 1);
        for (int halvings = 0; halvings < 30; halvings++, share /= 2) {
            for (size_t k = 0; k < q; k++)
                m->trial[k] = u[k] + share * m->step[k];
            next = penalised(m, m->trial);
            if (next <= now + 1e-12 * (fabs(now) + 1))
                break;
        }
        for (size_t k = 0; k < q; k++)
            most = fmax(most, fabs(share * m->step[k]));
        memcpy(u, m->trial, q * sizeof *u);
        now = next;
        if (most < 1e-8)
            break;
    }
    return weigh(m) ? now : INFINITY;
}

/* −2 log of the integral over each level by quadrature around its mode. */
static double quadrature(struct logistic *m)
{
    const struct random_term *t = m->core.term;
    size_t levels = t->levels;
    double lambda = m->core.lambda[0], sum = 0;
    for (size_t a = 0; a < levels; a++) {
        m->level_sd[a] = 1;
        m->level_total[a] = 0;
    }
    for (size_t i = 0; i < m->n; i++)
        m->level_sd[t->level[i]] += lambda * lambda * m->core.z[0][i] * m->core.z[0][i] * m->weight[i];
    for (size_t a = 0; a < levels; a++)
        m->level_sd[a] = 1 / sqrt(m->level_sd[a]);
    for (int k = -1; k < m->nodes; k++) {
        double x = k < 0 ? 0 : m->node[k];
        for (size_t a = 0; a < levels; a++) {
            double u = m->core.u[a] + M_SQRT2 * m->level_sd[a] * x;
            m->level_sum[a] = -u * u / 2;
        }
        for (size_t i = 0; i < m->n; i++) {
            size_t a = t->level[i];
            double u = m->core.u[a] + M_SQRT2 * m->level_sd[a] * x, eta = m->fixed[i] + lambda * m->core.z[0][i] * u;
            m->level_sum[a] += m->d->y[i] * eta - trials_of(m, i) * softplus(eta);
        }
        for (size_t a = 0; a < levels; a++) {
            if (k < 0)
                m->level_base[a] = m->level_sum[a];
            else
                m->level_total[a] += m->node_weight[k] * exp(x * x + m->level_sum[a] - m->level_base[a]);
        }
    }
    for (size_t a = 0; a < levels; a++)
        sum -= 2 * (m->level_base[a] + log(m->level_sd[a] * m->level_total[a] / sqrt(M_PI)));
    return sum;
}

/* x: theta, then beta. */
static double deviance(void *data, const double *x)
{
    struct logistic *m = data;
    const double *beta = x + m->core.n_theta;
    core_theta(&m->core, x);
    for (size_t i = 0; i < m->n; i++) {
        m->fixed[i] = m->d->offset == NULL ? 0 : m->d->offset[i];
        for (size_t j = 0; j < m->p; j++)
            m->fixed[i] += m->d->x[i * m->p + j] * beta[j];
    }
    double value = modes(m);
    if (!isfinite(value)) {
        memset(m->core.u, 0, m->core.q * sizeof(double));
        return INFINITY;
    }
    return (m->nodes > 1 ? quadrature(m) : value + m->core.ln_det) - 2 * m->constant;
}

static void nodes_make(struct logistic *m, struct arena *arena)
{
    gsl_integration_fixed_workspace *w = gsl_integration_fixed_alloc(gsl_integration_fixed_hermite, (size_t)m->nodes, 0, 1, 0, 0);
    if (w == NULL)
        give_up("no memory for quadrature", __FILE__, __LINE__);
    m->node = arena_array(arena, (size_t)m->nodes, sizeof(double));
    m->node_weight = arena_array(arena, (size_t)m->nodes, sizeof(double));
    memcpy(m->node, gsl_integration_fixed_nodes(w), (size_t)m->nodes * sizeof(double));
    memcpy(m->node_weight, gsl_integration_fixed_weights(w), (size_t)m->nodes * sizeof(double));
    gsl_integration_fixed_free(w);
}

static void logistic_room(struct logistic *m, struct arena *arena)
{
    double **rows[] = {&m->fixed, &m->random, &m->weight, &m->residual};
    for (size_t i = 0; i < 4; i++)
        *rows[i] = arena_array(arena, m->n, sizeof(double));
    m->trial = arena_array(arena, m->core.q, sizeof(double));
    m->step = arena_array(arena, m->core.q, sizeof(double));
    double **levels[] = {&m->level_sum, &m->level_base, &m->level_sd, &m->level_total};
    for (size_t i = 0; i < 4; i++)
        *levels[i] = arena_array(arena, m->core.q, sizeof(double));
    for (size_t i = 0; i < m->n; i++) {
        double k = trials_of(m, i), y = m->d->y[i];
        m->constant += gsl_sf_lngamma(k + 1) - gsl_sf_lngamma(y + 1) - gsl_sf_lngamma(k - y + 1);
    }
}

/* Covariance of beta given theta, from the weighted cross products at the modes; for when the curvature fails. */
static bool covariance_given_theta(struct logistic *m, double *out, struct arena *arena)
{
    size_t p = m->p, q = m->core.q;
    double *wx = arena_array(arena, m->n * p, sizeof *wx), *half = arena_array(arena, q * p, sizeof *half);
    for (size_t i = 0; i < m->n; i++)
        for (size_t j = 0; j < p; j++)
            wx[i * p + j] = m->weight[i] * m->d->x[i * p + j];
    core_cross(&m->core, wx, p, half);
    core_solve_half(&m->core, half, p);
    double *cross = arena_array(arena, p * p, sizeof *cross);
    for (size_t a = 0; a < p; a++)
        for (size_t b = 0; b < p; b++) {
            for (size_t i = 0; i < m->n; i++)
                cross[a * p + b] += m->d->x[i * p + a] * wx[i * p + b];
            for (size_t k = 0; k < q; k++)
                cross[a * p + b] -= half[a * q + k] * half[b * q + k];
        }
    bool good = dense_cholesky(cross, p, 1e-12);
    if (good)
        dense_inverse(cross, p, out);
    return good;
}

static bool covariance_find(struct logistic *m, const double *x, const double *scale, double *out, struct arena *arena)
{
    size_t p = m->p, k = m->core.n_theta + p;
    double *h = arena_array(arena, k * k, sizeof *h), *inverse = arena_array(arena, k * k, sizeof *inverse);
    minimise_hessian(deviance, m, x, scale, k, h);
    (void)deviance(m, x);
    if (!dense_cholesky(h, k, 1e-9))
        return covariance_given_theta(m, out, arena);
    dense_inverse(h, k, inverse);
    for (size_t a = 0; a < p; a++)
        for (size_t b = 0; b < p; b++)
            out[a * p + b] = 2 * inverse[(m->core.n_theta + a) * k + m->core.n_theta + b];
    return true;
}

static enum outcome quadrature_check(const struct random_term *terms, size_t n_terms, int nodes, struct failure *why)
{
    if (nodes == 1)
        return OUTCOME_OK;
    if (nodes < 1 || nodes > 25 || nodes % 2 == 0)
        return fail(why, OUTCOME_USAGE, "Quadrature points must be an odd number from 1 to 25; %d were asked for.", nodes);
    return n_terms == 1 && terms[0].columns == 1
               ? OUTCOME_OK
               : fail(why, OUTCOME_USAGE, "Quadrature is for one random intercept only; use 1 (Laplace).");
}

enum outcome mixed_logistic(const struct design *design, const struct random_term *terms, size_t n_terms, int nodes, double level,
                            struct arena *arena, struct mixed_fit *out, struct failure *why)
{
    struct arena scratch = {0};
    struct model_fit glm;
    struct logistic m = {.d = design, .n = design->n, .p = design->p, .nodes = nodes};
    require(design->weight == NULL);
    enum outcome outcome = quadrature_check(terms, n_terms, nodes, why);
    if (outcome != OUTCOME_OK || (outcome = model_fit(MODEL_LOGISTIC, 0, design, level, &scratch, &glm, why)) != OUTCOME_OK ||
        (outcome = core_make(&m.core, design->n, terms, n_terms, &scratch, why)) != OUTCOME_OK)
        goto done;
    size_t p = m.p, k = m.core.n_theta;
    logistic_room(&m, &scratch);
    if (nodes > 1)
        nodes_make(&m, &scratch);
    double *x = arena_array(&scratch, k + p, sizeof *x), *scale = arena_array(&scratch, k + p, sizeof *scale);
    core_theta_start(&m.core, x);
    for (size_t i = 0; i < k + p; i++) {
        x[i] = i < k ? x[i] : glm.beta[i - k].value;
        scale[i] = i < k ? 0.5 : 2 * glm.beta[i - k].se;
    }
    struct minimum least = minimise(deviance, &m, x, scale, k + p);
    core_theta_settle(&m.core, x);
    memset(m.core.u, 0, m.core.q * sizeof(double));
    struct mixed_fit fit = {
        .n = m.n, .p = p, .terms = n_terms, .n_theta = k, .sigma = 1, .gradient = least.gradient, .evaluations = least.evaluations};
    fit.criterion = deviance(&m, x);
    fit.loglik = -fit.criterion / 2;
    fit.covariance = arena_array(arena, p * p + 1, sizeof(double));
    if (!isfinite(fit.criterion) || !covariance_find(&m, x, scale, fit.covariance, &scratch)) {
        outcome = fail(why, OUTCOME_DATA, "The logistic mixed model could not be fitted to these data.");
        goto done;
    }
    fit.theta = arena_array(arena, k, sizeof(double));
    memcpy(fit.theta, x, k * sizeof *x);
    core_report(&m.core, m.core.u, 1, arena, &fit);
    fit.singular = core_singular(&m.core);
    core_theta_report(&m.core, fit.theta);
    fit.beta = arena_array(arena, p + 1, sizeof *fit.beta);
    fit.df = arena_array(arena, p + 1, sizeof(double));
    fit.p_value = arena_array(arena, p + 1, sizeof(double));
    for (size_t j = 0; j < p; j++) {
        fit.df[j] = unknown_real();
        fit.beta[j] = estimate_normal(x[k + j], sqrt(fit.covariance[j * p + j]), level, (double)m.n);
        fit.p_value[j] = 2 * normal_upper(fabs(x[k + j] / fit.beta[j].se));
    }
    *out = fit;
done:
    core_free(&m.core);
    arena_clear(&scratch);
    return outcome;
}

double logistic_marginal(double eta, double variance)
{
    double c = 16 * sqrt(3) / (15 * M_PI);
    return 1 / (1 + exp(-eta / sqrt(1 + c * c * variance)));
}
