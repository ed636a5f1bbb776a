/* SPDX-License-Identifier: GPL-3.0-or-later
 * Sorted order of columns. Private to stats/. */
#ifndef SPINNEY_STATS_ORDER_H
#define SPINNEY_STATS_ORDER_H
#include <stddef.h>

/// Index of rows by `group` (may be NULL), then by `value` (may be NULL), then by row. Free with free().
size_t *order_by(const double *value, const size_t *group, size_t n);
/// Relabel whole numbers as 0 … k − 1 in their order; returns k.
size_t relabel(const size_t *label, size_t n, size_t *out);
/// Ranks from 1 with ties averaged.
void rank_average(const double *value, size_t n, double *rank);
#endif
