/* SPDX-License-Identifier: GPL-3.0-or-later
 * Least value of a smooth function of a few variables. Private to stats/. */
#ifndef SPINNEY_STATS_MINIMISE_H
#define SPINNEY_STATS_MINIMISE_H
#include <stddef.h>

/// Value at x; may be INFINITY where not defined.
typedef double (*minimise_function)(void *data, const double *x);
struct minimum {
    double value, gradient; ///< largest absolute slope at the end
    int evaluations;
};
/// Quasi-Newton (BFGS) with central differences, then Newton steps with differenced second derivatives where n ≤ 24.
/// `x` holds the start and gets the end; `scale` a typical size of change of each variable.
struct minimum minimise(minimise_function f, void *data, double *x, const double *scale, size_t n);
/// Second derivatives at x by central differences: n × n.
void minimise_hessian(minimise_function f, void *data, const double *x, const double *scale, size_t n, double *hessian);
#endif
