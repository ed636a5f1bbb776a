/* SPDX-License-Identifier: GPL-3.0-or-later
 * What the other files of geo/ need from GEOS: turning shapes into its geometries and back, and mending. */
#ifndef SPINNEY_GEO_REGION_H
#define SPINNEY_GEO_REGION_H
#include "geo/shape.h"
#include <geos_c.h>

/// A GEOS context with its last message; each call of a public function has its own.
struct region {
    GEOSContextHandle_t geos;
    char message[400];
};
void region_start(struct region *r);
void region_end(struct region *r);
/// NULL on failure, with r->message. Rings must be closed. The caller destroys it.
GEOSGeometry *region_from_shape(struct region *r, const struct shape *shape);
/// Keeps the members of the highest dimension. Fails with OUTCOME_DATA on NULL.
enum outcome region_to_shape(struct region *r, const GEOSGeometry *g, struct arena *arena, struct shape *out, struct failure *why);
/// Whether valid; else reason and place. Rings must be closed.
bool region_valid(struct region *r, const GEOSGeometry *g, char *reason, size_t n, double at[2]);
/// Make polygons valid: outer rings joined, inner rings taken off (GEOS "structure" method).
enum outcome region_mend(const struct shape *shape, struct arena *arena, struct shape *out, struct failure *why);
#endif
