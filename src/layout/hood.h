/* SPDX-License-Identifier: GPL-3.0-or-later
 * Neighbourhoods of points: a grid of buckets, hashed where the box is much larger than the points need. */
#ifndef SPINNEY_LAYOUT_HOOD_H
#define SPINNEY_LAYOUT_HOOD_H
#include "base/base.h"

struct hood {
    const double *uv; ///< the points, by turns; owned by the caller
    size_t n;
    double size, u0, v0;
    int64_t columns, rows;
    size_t n_buckets;
    bool hashed;
    uint32_t *start, *item;
};
/// Indices found, with squared distances; grows as needed. `{0}` is empty; free with found_free.
struct found {
    uint32_t *at;
    double *far2;
    size_t n, room;
};
void found_free(struct found *found);

/// `size` is the side of a bucket: about the distance that will be asked for. n below 2^32.
void hood_make(const double *uv, size_t n, double size, struct arena *arena, struct hood *out);
/// All points within `reach` of a place, but not the point `skip` (SIZE_MAX: none).
void hood_within(const struct hood *hood, double u, double v, double reach, size_t skip, struct found *out);
/// The nearest point to a place, but not `skip`; SIZE_MAX if there is none. Ties go to the lower index.
size_t hood_nearest(const struct hood *hood, double u, double v, size_t skip, double *distance);
/// Items of one bucket; the caller checks that they are of this very bucket when `hashed`.
size_t hood_bucket(const struct hood *hood, int64_t column, int64_t row);
void hood_where(const struct hood *hood, double u, double v, int64_t *column, int64_t *row);
#endif
