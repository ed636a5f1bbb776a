/* SPDX-License-Identifier: GPL-3.0-or-later
 * The non-parametric estimate of survival from intervals, with its optimality proven.
 * Workload: up to 10^5 lives, some hundred distinct days; one step costs one pass over the distinct ranges. */
#include "stats/sparse.h"
#include "stats/support.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double GAP = 1e-9; ///< of the total weight

struct work {
    struct support *s;
    double *sum;                           ///< m + 1: mass before each innermost interval
    double *gradient;                      ///< m
    double *slope, *curve, *target, *best; ///< m
    size_t *block;                         ///< m
};

static void cumulate(const double *mass, size_t m, double *sum)
{
    double total = 0;
    sum[0] = 0;
    for (size_t j = 0; j < m; j++)
        sum[j + 1] = total += mass[j];
}

static double loglik_of(const struct support *s, const double *sum)
{
    double total = 0;
    for (size_t i = 0; i < s->k; i++) {
        double d = sum[s->k_to[i] + 1] - sum[s->k_from[i]];
        if (!(d > 0))
            return -INFINITY;
        total += s->k_weight[i] * log(d);
    }
    return total;
}

/* Slope of the log-likelihood in the mass of each innermost interval; returns by how much the best could lie higher. */
static double gradient_of(struct work *w, const double *mass)
{
    const struct support *s = w->s;
    cumulate(mass, s->m, w->sum);
    memset(w->gradient, 0, s->m * sizeof *w->gradient);
    for (size_t i = 0; i < s->k; i++) {
        double each = s->k_weight[i] / (w->sum[s->k_to[i] + 1] - w->sum[s->k_from[i]]);
        w->gradient[s->k_from[i]] += each;
        if (s->k_to[i] + 1 < s->m)
            w->gradient[s->k_to[i] + 1] -= each;
    }
    double most = 0, total = 0;
    for (size_t j = 0; j < s->m; j++) {
        w->gradient[j] = total += w->gradient[j];
        most = fmax(most, total);
    }
    return most - s->total;
}

static void step_em(struct work *w)
{
    struct support *s = w->s;
    gradient_of(w, s->mass);
    double total = 0;
    for (size_t j = 0; j < s->m; j++)
        total += s->mass[j] *= w->gradient[j] / s->total;
    for (size_t j = 0; j < s->m; j++)
        s->mass[j] /= total;
}

/* Weighted isotonic regression in place: pools neighbours that fall (pool adjacent violators). */
static void isotonic(double *value, double *weight, size_t *size, size_t n)
{
    size_t blocks = 0;
    for (size_t j = 0; j < n; j++) {
        double v = value[j], h = weight[j];
        size_t length = 1;
        while (blocks > 0 && value[blocks - 1] >= v) {
            blocks--;
            v = (v * h + value[blocks] * weight[blocks]) / (h + weight[blocks]);
            h += weight[blocks];
            length += size[blocks];
        }
        value[blocks] = v;
        weight[blocks] = h;
        size[blocks++] = length;
    }
    for (size_t b = blocks, end = n; b-- > 0;)
        for (size_t c = size[b]; c > 0; c--)
            value[--end] = value[b];
}

/* Move from the present mass toward w->target (cumulative) as far as it helps; true if it did. */
static bool line_search(struct work *w, double before)
{
    struct support *s = w->s;
    double step = 1;
    for (int halvings = 0; halvings < 30; halvings++, step /= 2) {
        for (size_t j = 1; j < s->m; j++)
            w->best[j] = w->sum[j] + step * (w->target[j - 1] - w->sum[j]);
        w->best[0] = 0;
        w->best[s->m] = 1;
        if (loglik_of(s, w->best) > before) {
            for (size_t j = 0; j < s->m; j++)
                s->mass[j] = fmax(0, w->best[j + 1] - w->best[j]);
            return true;
        }
    }
    return false;
}

/* Iterative convex minorant: Newton with the diagonal of the Hessian in the cumulative mass, kept in order. */
static bool step_icm(struct work *w)
{
    struct support *s = w->s;
    size_t m = s->m;
    if (m < 2)
        return false;
    cumulate(s->mass, m, w->sum);
    memset(w->slope, 0, m * sizeof *w->slope);
    memset(w->curve, 0, m * sizeof *w->curve);
    double before = 0;
    for (size_t i = 0; i < s->k; i++) {
        size_t a = s->k_from[i], b = s->k_to[i];
        double d = w->sum[b + 1] - w->sum[a], g = s->k_weight[i] / d;
        before += s->k_weight[i] * log(d);
        if (b + 1 < m) {
            w->slope[b] += g;
            w->curve[b] += g / d;
        }
        if (a > 0) {
            w->slope[a - 1] -= g;
            w->curve[a - 1] += g / d;
        }
    }
    for (size_t j = 0; j + 1 < m; j++)
        w->target[j] = w->sum[j + 1] + w->slope[j] / w->curve[j];
    isotonic(w->target, w->curve, w->block, m - 1);
    for (size_t j = 0; j + 1 < m; j++)
        w->target[j] = fmax(0, fmin(1, w->target[j]));
    return line_search(w, before);
}

struct newton {
    size_t n;            ///< points with mass
    size_t *point;       ///< their innermost interval
    size_t *next, *last; ///< per innermost interval: first point at or after; one past the last point at or before
};

static struct newton newton_make(const struct support *s)
{
    struct newton nt = {0, memory_get(s->m, sizeof(size_t)), memory_get(s->m, sizeof(size_t)), memory_get(s->m, sizeof(size_t))};
    for (size_t j = 0; j < s->m; j++) {
        nt.next[j] = nt.n;
        if (s->mass[j] > 0)
            nt.point[nt.n++] = j;
        nt.last[j] = nt.n;
    }
    return nt;
}

static void newton_free(struct newton *nt)
{
    free(nt->point);
    free(nt->next);
    free(nt->last);
}

/* Newton direction in the cumulative mass at the n − 1 inner boundaries between points with mass. */
static bool newton_direction(const struct work *w, const struct newton *nt, double *direction)
{
    const struct support *s = w->s;
    size_t inner = nt->n - 1;
    struct sparse a = sparse_make(inner, s->k + inner);
    memset(direction, 0, inner * sizeof *direction);
    for (size_t j = 0; j < inner; j++)
        sparse_add(&a, j, j, 0);
    for (size_t i = 0; i < s->k; i++) {
        size_t u = nt->next[s->k_from[i]], v = nt->last[s->k_to[i]]; /* points u … v − 1; boundaries u − 1 and v − 1 */
        double d = w->sum[s->k_to[i] + 1] - w->sum[s->k_from[i]], g = s->k_weight[i] / d, h = g / d;
        if (v <= inner) {
            direction[v - 1] += g;
            sparse_add(&a, v - 1, v - 1, h);
        }
        if (u > 0) {
            direction[u - 1] -= g;
            sparse_add(&a, u - 1, u - 1, h);
        }
        if (v <= inner && u > 0)
            sparse_add(&a, v - 1, u - 1, -h);
    }
    bool good = sparse_factor(&a) && sparse_solve(&a, direction);
    sparse_free(&a);
    return good;
}

/* One Newton step on the support; points whose mass it would take below zero are dropped. False when it no longer helps. */
static bool step_newton(struct work *w)
{
    struct support *s = w->s;
    struct newton nt = newton_make(s);
    bool better = false;
    if (nt.n < 2)
        goto done;
    cumulate(s->mass, s->m, w->sum);
    double before = loglik_of(s, w->sum), *move = w->slope, step = 1;
    if (!newton_direction(w, &nt, move))
        goto done;
    size_t blocked = SIZE_MAX;
    for (size_t q = 0; q < nt.n; q++) {
        double change = (q + 1 < nt.n ? move[q] : 0) - (q > 0 ? move[q - 1] : 0), mass = s->mass[nt.point[q]];
        if (change < 0 && mass + step * change < 0) {
            step = mass / -change;
            blocked = q;
        }
    }
    memcpy(w->best, s->mass, s->m * sizeof *s->mass);
    for (int halvings = 0; halvings < 20; halvings++, step /= 2, blocked = SIZE_MAX) {
        double total = 0;
        for (size_t q = 0; q < nt.n; q++) {
            double change = (q + 1 < nt.n ? move[q] : 0) - (q > 0 ? move[q - 1] : 0);
            double *mass = &s->mass[nt.point[q]];
            *mass = q == blocked ? 0 : fmax(0, w->best[nt.point[q]] + step * change);
            total += *mass;
        }
        for (size_t q = 0; q < nt.n; q++)
            s->mass[nt.point[q]] /= total;
        cumulate(s->mass, s->m, w->sum);
        double after = loglik_of(s, w->sum);
        better = after > before || (blocked != SIZE_MAX && after >= before);
        if (better)
            break;
    }
    if (!better)
        memcpy(s->mass, w->best, s->m * sizeof *s->mass);
done:
    newton_free(&nt);
    return better;
}

enum outcome support_solve(struct support *s, struct failure *why)
{
    enum { MOST = 20000 };
    struct arena arena = {0};
    struct work w = {.s = s};
    double **columns[] = {&w.sum, &w.gradient, &w.slope, &w.curve, &w.target, &w.best};
    for (size_t c = 0; c < sizeof columns / sizeof *columns; c++)
        *columns[c] = arena_array(&arena, s->m + 1, sizeof(double));
    w.block = arena_array(&arena, s->m + 1, sizeof *w.block);
    for (size_t j = 0; j < s->m; j++)
        s->mass[j] = 1 / (double)s->m;
    double gap = INFINITY;
    s->iterations = 0;
    for (int i = 0; i < 3; i++, s->iterations++)
        step_em(&w);
    for (int round = 0; s->iterations < MOST; round++) {
        for (int i = 0; i < 10; i++, s->iterations += 2) {
            step_icm(&w);
            step_em(&w);
        }
        gap = gradient_of(&w, s->mass);
        if (gap <= GAP * s->total)
            break;
        step_icm(&w); /* it alone sets mass to exactly zero; Newton then works on what is left */
        for (int i = 0; i < 50 && step_newton(&w); i++)
            s->iterations++;
        gap = gradient_of(&w, s->mass);
        if (gap <= GAP * s->total)
            break;
    }
    s->gap = fmax(0, gap);
    s->loglik = loglik_of(s, w.sum);
    arena_clear(&arena);
    if (gap > 1e-8 * s->total)
        return fail(why, OUTCOME_DATA, "The survival estimate did not reach its proven best: a gap of %g in log-likelihood is left.", gap);
    return OUTCOME_OK;
}

enum outcome survival_turnbull(const struct interval_lives *lives, struct arena *arena, struct turnbull *out, struct failure *why)
{
    struct support s;
    enum outcome outcome = support_make(lives, arena, &s, why);
    if (outcome != OUTCOME_OK || (outcome = support_solve(&s, why)) != OUTCOME_OK)
        return outcome;
    double **columns[] = {&out->left, &out->right, &out->mass, &out->survival}, before = 0;
    for (size_t c = 0; c < 4; c++)
        *columns[c] = arena_array(arena, s.m, sizeof(double));
    out->n = 0;
    for (size_t j = 0; j < s.m; j++) {
        if (!(s.mass[j] > 1e-12))
            continue;
        out->left[out->n] = s.left[j];
        out->right[out->n] = s.right[j];
        out->mass[out->n] = s.mass[j];
        before += s.mass[j];
        out->survival[out->n++] = fmax(0, 1 - before);
    }
    out->survival[out->n - 1] = 0;
    out->loglik = s.loglik;
    out->gap = s.gap;
    out->candidates = s.m;
    out->iterations = s.iterations;
    return OUTCOME_OK;
}

void turnbull_at(const struct turnbull *curve, double t, double *lowest, double *highest)
{
    *lowest = *highest = 1;
    for (size_t j = 0; j < curve->n; j++) {
        if (curve->right[j] <= t)
            *lowest = *highest = curve->survival[j];
        else if (curve->left[j] < t)
            *lowest = curve->survival[j];
    }
}
