/* SPDX-License-Identifier: GPL-3.0-or-later
 * What the parts of growth share. Private to evidence/. */
#ifndef SPINNEY_EVIDENCE_GROWTH_INSIDE_H
#define SPINNEY_EVIDENCE_GROWTH_INSIDE_H
#include "evidence/evidence.h"

/// Height of a plant of the first planting at a census; NaN: not of it, not alive, not measured.
double growth_height(const struct plot_lives *lives, size_t plant, size_t census);
/// Mean with Student's t.
struct estimate growth_mean(const double *x, size_t n, double level);
/// First and last census that measured three plants or more; false where they are under half a growing season apart.
bool growth_span(const struct plot_lives *lives, size_t *from, size_t *to);
#endif
