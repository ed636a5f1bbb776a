/* SPDX-License-Identifier: GPL-3.0-or-later
 * From the soil samples and constraints of a site to the place that species are held against. */
#ifndef SPINNEY_WORK_GROUND_PLACE_H
#define SPINNEY_WORK_GROUND_PLACE_H
#include "work/site_load.h"

/// The place of a site, or of one plot of it: pH, moisture and nutrients from its samples, shade, clay, and what stands near.
/// Whatever was not measured stays unknown.
enum outcome place_load(struct store *store, const struct site_facts *facts, const struct shape *outline, struct arena *arena,
                        struct species_place *out, struct failure *why);
#endif
