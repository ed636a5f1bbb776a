/* SPDX-License-Identifier: GPL-3.0-or-later
 * Private to ground/: samples put in the order of their pits and depths. */
#ifndef SPINNEY_GROUND_PITS_H
#define SPINNEY_GROUND_PITS_H
#include "ground/ground.h"

struct placed {
    const struct soil_sample *sample;
    size_t index; ///< in the table as given
};
/// Samples by pit (site, plot, zone, composite, time point, day), within it from the top; in the arena.
struct placed *pits_place(const struct soil_sample *samples, size_t n, struct arena *arena);
bool pits_same(const struct soil_sample *a, const struct soil_sample *b);
#endif
