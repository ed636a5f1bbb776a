/* SPDX-License-Identifier: GPL-3.0-or-later
 * What the simulations of money/ share: drawing from ranges, and the middle and ends of draws. */
#ifndef SPINNEY_MONEY_DRAWS_H
#define SPINNEY_MONEY_DRAWS_H
#include "money/money.h"

enum outcome plan_check(const struct cost_plan *plan, double level, size_t draws, struct failure *why);
/// One draw of a PERT range.
double range_draw(struct random_stream *r, const struct cost_range *range);
/// Median and interval of draws (type 7 of Hyndman & Fan 1996); infinite draws stay infinite.
struct cost_band band_of(const double *draw, size_t n, double level);
#endif
