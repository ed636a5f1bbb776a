/* SPDX-License-Identifier: GPL-3.0-or-later
 * Least value of a smooth function: Nocedal & Wright 2006, chapter 6, with differences for slopes. */
#include "stats/minimise.h"
#include "base/base.h"
#include "stats/dense.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

struct search {
    minimise_function f;
    void *data;
    const double *scale;
    size_t n;
    int evaluations;
    double *probe; ///< n
};

static double value_at(struct search *s, const double *x)
{
    s->evaluations++;
    double v = s->f(s->data, x);
    return isnan(v) ? INFINITY : v;
}

/* Central differences; `step` is a share of the scale. */
static void slopes(struct search *s, const double *x, double step, double *g)
{
    memcpy(s->probe, x, s->n * sizeof *x);
    for (size_t i = 0; i < s->n; i++) {
        double h = step * s->scale[i];
        s->probe[i] = x[i] + h;
        double above = value_at(s, s->probe);
        s->probe[i] = x[i] - h;
        double below = value_at(s, s->probe);
        s->probe[i] = x[i];
        g[i] = (above - below) / (2 * h);
    }
}

static double largest(const double *g, const double *scale, size_t n)
{
    double most = 0;
    for (size_t i = 0; i < n; i++)
        most = fmax(most, fabs(g[i] * scale[i]));
    return most;
}

/* Move along d from x until the value has fallen enough (Armijo); false if it never does. */
static bool walk(struct search *s, const double *x, double *value, const double *d, const double *g, double *to)
{
    double slope = 0, step = 1;
    for (size_t i = 0; i < s->n; i++)
        slope += g[i] * d[i];
    if (!(slope < 0))
        return false;
    for (int k = 0; k < 30; k++) {
        for (size_t i = 0; i < s->n; i++)
            to[i] = x[i] + step * d[i];
        double v = value_at(s, to);
        if (v <= *value + 1e-4 * step * slope) {
            *value = v;
            return true;
        }
        /* minimum of the parabola through what is known, within bounds */
        double fit = isfinite(v) ? -slope * step * step / (2 * (v - *value - slope * step)) : step / 4;
        step = fmin(step / 2, fmax(step / 10, fit));
    }
    return false;
}

static void update(double *inverse, const double *move, const double *change, size_t n)
{
    double curvature = 0, form = 0;
    double *hy = memory_get(n, sizeof *hy);
    for (size_t i = 0; i < n; i++) {
        curvature += move[i] * change[i];
        hy[i] = 0;
        for (size_t j = 0; j < n; j++)
            hy[i] += inverse[i * n + j] * change[j];
    }
    for (size_t i = 0; i < n; i++)
        form += change[i] * hy[i];
    if (curvature > 1e-14)
        for (size_t i = 0; i < n; i++)
            for (size_t j = 0; j < n; j++)
                inverse[i * n + j] +=
                    (1 + form / curvature) * move[i] * move[j] / curvature - (hy[i] * move[j] + move[i] * hy[j]) / curvature;
    free(hy);
}

static void quasi_newton(struct search *s, double *x, double *value, double *g)
{
    size_t n = s->n;
    double *inverse = memory_get(n * n, sizeof *inverse), *d = memory_get(n, sizeof *d), *to = memory_get(n, sizeof *to);
    double *next = memory_get(n, sizeof *next);
    memset(inverse, 0, n * n * sizeof *inverse);
    slopes(s, x, 1e-4, g);
    double norm = largest(g, s->scale, n);
    for (size_t i = 0; i < n; i++)
        inverse[i * n + i] = s->scale[i] * s->scale[i] / fmax(norm, 1e-300) * 0.5;
    bool fresh = true;
    for (int iteration = 0; iteration < 200 && largest(g, s->scale, n) > 1e-6; iteration++) {
        for (size_t i = 0; i < n; i++) {
            d[i] = 0;
            for (size_t j = 0; j < n; j++)
                d[i] -= inverse[i * n + j] * g[j];
        }
        double before = *value;
        if (!walk(s, x, value, d, g, to))
            break;
        slopes(s, to, 1e-4, next);
        for (size_t i = 0; i < n; i++) {
            d[i] = to[i] - x[i];
            next[i] -= g[i];
        }
        if (fresh) { /* Nocedal & Wright 6.20: first scale from the first step */
            double sy = 0, yy = 0;
            for (size_t i = 0; i < n; i++) {
                sy += d[i] * next[i];
                yy += next[i] * next[i] * s->scale[i] * s->scale[i];
            }
            for (size_t i = 0; i < n && sy > 0; i++)
                inverse[i * n + i] = sy / yy * s->scale[i] * s->scale[i];
            fresh = sy <= 0;
        }
        update(inverse, d, next, n);
        for (size_t i = 0; i < n; i++) {
            x[i] = to[i];
            g[i] += next[i];
        }
        if (before - *value < 1e-13 * fabs(*value))
            break;
    }
    free(inverse);
    free(d);
    free(to);
    free(next);
}

static void hessian_at(struct search *s, const double *x, double *hessian)
{
    size_t n = s->n;
    double *up = memory_get(n, sizeof *up), *down = memory_get(n, sizeof *down), *at = memory_get(n, sizeof *at);
    const double step = 1e-3;
    for (size_t i = 0; i < n; i++) {
        double h = step * s->scale[i];
        memcpy(at, x, n * sizeof *x);
        at[i] = x[i] + h;
        slopes(s, at, step, up);
        at[i] = x[i] - h;
        slopes(s, at, step, down);
        for (size_t j = 0; j < n; j++)
            hessian[i * n + j] = (up[j] - down[j]) / (2 * h);
    }
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < i; j++)
            hessian[i * n + j] = hessian[j * n + i] = (hessian[i * n + j] + hessian[j * n + i]) / 2;
    free(up);
    free(down);
    free(at);
}

void minimise_hessian(minimise_function f, void *data, const double *x, const double *scale, size_t n, double *hessian)
{
    struct search s = {f, data, scale, n, 0, memory_get(n + 1, sizeof(double))};
    hessian_at(&s, x, hessian);
    free(s.probe);
}

/* One Newton step with differenced second derivatives, kept if the slopes shrink and the value does not rise. */
static void polish(struct search *s, double *x, double *value, double *g)
{
    size_t n = s->n;
    double *h = memory_get(n * n, sizeof *h), *to = memory_get(n, sizeof *to), *next = memory_get(n, sizeof *next);
    hessian_at(s, x, h);
    if (dense_cholesky(h, n, 1e-10)) {
        for (int k = 0; k < 3; k++) {
            memcpy(to, g, n * sizeof *g);
            dense_solve(h, n, to);
            for (size_t i = 0; i < n; i++)
                to[i] = x[i] - to[i];
            double v = value_at(s, to);
            slopes(s, to, 1e-4, next);
            if (!(v <= *value + 1e-9 * fmax(1, fabs(*value))) || !(largest(next, s->scale, n) < largest(g, s->scale, n)))
                break;
            memcpy(x, to, n * sizeof *x);
            memcpy(g, next, n * sizeof *g);
            *value = v;
        }
    }
    free(h);
    free(to);
    free(next);
}

struct minimum minimise(minimise_function f, void *data, double *x, const double *scale, size_t n)
{
    struct search s = {f, data, scale, n, 0, memory_get(n + 1, sizeof(double))};
    double *g = memory_get(n + 1, sizeof *g), value = value_at(&s, x);
    quasi_newton(&s, x, &value, g);
    if (n <= 24 && largest(g, scale, n) > 1e-7)
        polish(&s, x, &value, g);
    struct minimum m = {value, largest(g, scale, n), s.evaluations};
    free(s.probe);
    free(g);
    return m;
}
