/* SPDX-License-Identifier: GPL-3.0-or-later
 * Polygons in the frame of the baseline: u along it, v away from it, in metres from the first peg. Answers many
 * thousand questions "inside?" and "how far from the outline?" quickly by a grid of buckets over the edges. */
#ifndef SPINNEY_LAYOUT_OUTLINE_H
#define SPINNEY_LAYOUT_OUTLINE_H
#include "base/base.h"
#include "geo/shape.h"

/// The frame: where the first peg stands and which way the baseline runs.
struct frame {
    double x_m, y_m;         ///< first peg, programme metres
    double along_x, along_y; ///< unit vector of the baseline; v runs to its left
};
struct frame layout_frame_make(double x_m, double y_m, double bearing_deg);
void frame_in(const struct frame *frame, double x, double y, double *u, double *v);
void frame_out(const struct frame *frame, double u, double v, double *x, double *y);

struct edge {
    double u0, v0, u1, v1;
};
/// Corners are rounded to 0.1 mm of the frame, so that a site moved by whole metres gives the same numbers.
struct outline {
    struct edge *edges; ///< outer rings anticlockwise, holes clockwise
    size_t n_edges;
    struct box box; ///< in the frame (x is u, y is v)
    double area_m2, length_m;
    double size, u0, v0; ///< buckets: side, corner
    size_t columns, rows;
    uint32_t *start, *item; ///< edges touching bucket b: item[start[b]] …
    bool *corner;           ///< whether the lower left corner of bucket b is inside
    size_t *ground;         ///< buckets that hold ground, row by row
    size_t n_ground;
};

/// Everything lives in the arena. Fails with OUTCOME_DATA where there is no area.
enum outcome outline_make(const struct shape *shape, const struct frame *frame, struct arena *arena, struct outline *out,
                          struct failure *why);
/// Whether the area by the corners and the area inside (by a sample of places) are far apart: the outline crosses itself.
bool outline_crosses(const struct outline *outline);
bool outline_holds(const struct outline *outline, double u, double v);
/// Distance to the nearest edge, or `reach` if that is nearer than any.
double outline_far(const struct outline *outline, double u, double v, double reach);
/// Plantable area of each square metre of the frame: out[rows * columns], row by row, exact (Green's theorem edge by edge).
void outline_squares(const struct outline *outline, size_t rows, size_t columns, struct arena *scratch, double *out);
#endif
