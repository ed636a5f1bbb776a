/* SPDX-License-Identifier: GPL-3.0-or-later
 * Small dense matrices, row-major. */
#include "stats/dense.h"
#include "base/base.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

bool dense_cholesky(double *a, size_t n, double tiny)
{
    for (size_t j = 0; j < n; j++) {
        double *rj = a + j * n, pivot = rj[j];
        for (size_t k = 0; k < j; k++)
            pivot -= rj[k] * rj[k];
        if (!(pivot > tiny * fabs(rj[j])) || !(pivot > 0))
            return false;
        rj[j] = sqrt(pivot);
        for (size_t i = j + 1; i < n; i++) {
            double *ri = a + i * n, sum = ri[j];
            for (size_t k = 0; k < j; k++)
                sum -= ri[k] * rj[k];
            ri[j] = sum / rj[j];
        }
        memset(rj + j + 1, 0, (n - j - 1) * sizeof *rj);
    }
    return true;
}

void dense_forward(const double *l, size_t n, double *b)
{
    for (size_t i = 0; i < n; i++) {
        for (size_t k = 0; k < i; k++)
            b[i] -= l[i * n + k] * b[k];
        b[i] /= l[i * n + i];
    }
}

void dense_solve(const double *l, size_t n, double *b)
{
    dense_forward(l, n, b);
    for (size_t i = n; i-- > 0;) {
        for (size_t k = i + 1; k < n; k++)
            b[i] -= l[k * n + i] * b[k];
        b[i] /= l[i * n + i];
    }
}

void dense_inverse(const double *l, size_t n, double *out)
{
    double *column = memory_get(n == 0 ? 1 : n, sizeof *column);
    for (size_t j = 0; j < n; j++) {
        memset(column, 0, n * sizeof *column);
        column[j] = 1;
        dense_solve(l, n, column);
        for (size_t i = 0; i < n; i++)
            out[i * n + j] = column[i];
    }
    free(column);
}

double dense_ln_det(const double *l, size_t n)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += 2 * log(l[i * n + i]);
    return sum;
}

void dense_multiply(const double *a, const double *b, double *out, size_t n, size_t k, size_t m)
{
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < m; j++) {
            double sum = 0;
            for (size_t t = 0; t < k; t++)
                sum += a[i * k + t] * b[t * m + j];
            out[i * m + j] = sum;
        }
}

double dense_form(const double *a, const double *x, size_t n)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < n; j++)
            sum += x[i] * a[i * n + j] * x[j];
    return sum;
}

double dense_wald(const double *u, const double *v, size_t n, size_t *rank)
{
    double *l = memory_get(n * n + 1, sizeof *l), *b = memory_get(n + 1, sizeof *b), statistic = 0;
    size_t kept = 0, *row = memory_get(n + 1, sizeof *row);
    for (size_t i = 0; i < n; i++) {
        /* new row of the factor over the rows kept so far */
        double pivot = v[i * n + i], value = u[i];
        for (size_t k = 0; k < kept; k++) {
            double sum = v[i * n + row[k]];
            for (size_t t = 0; t < k; t++)
                sum -= l[kept * n + t] * l[k * n + t];
            l[kept * n + k] = sum / l[k * n + k];
            pivot -= l[kept * n + k] * l[kept * n + k];
            value -= l[kept * n + k] * b[k];
        }
        if (!(pivot > 1e-9 * v[i * n + i]) || !(v[i * n + i] > 0))
            continue;
        l[kept * n + kept] = sqrt(pivot);
        b[kept] = value / l[kept * n + kept];
        statistic += b[kept] * b[kept];
        row[kept++] = i;
    }
    free(l);
    free(b);
    free(row);
    *rank = kept;
    return statistic;
}
