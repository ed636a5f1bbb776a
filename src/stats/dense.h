/* SPDX-License-Identifier: GPL-3.0-or-later
 * Small dense matrices, row-major. Private to stats/. */
#ifndef SPINNEY_STATS_DENSE_H
#define SPINNEY_STATS_DENSE_H
#include <stdbool.h>
#include <stddef.h>

/// Lower Cholesky factor of the symmetric a (n × n), in place; false if a pivot falls below `tiny` of its diagonal.
bool dense_cholesky(double *a, size_t n, double tiny);
/// Solve L L' x = b in place.
void dense_solve(const double *l, size_t n, double *b);
/// Solve L x = b in place (forward half only).
void dense_forward(const double *l, size_t n, double *b);
/// Inverse of L L' into out (n × n).
void dense_inverse(const double *l, size_t n, double *out);
/// log of the determinant of L L'.
double dense_ln_det(const double *l, size_t n);
/// out (n × m) = a (n × k) · b (k × m).
void dense_multiply(const double *a, const double *b, double *out, size_t n, size_t k, size_t m);
/// x' A x.
double dense_form(const double *a, const double *x, size_t n);
/// u' V⁻ u leaving out, from the end, what depends on the rest; *rank says how many were kept. V is symmetric.
double dense_wald(const double *u, const double *v, size_t n, size_t *rank);
#endif
