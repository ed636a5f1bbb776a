/* SPDX-License-Identifier: GPL-3.0-or-later
 * Plane shapes in metres, as arrays that any room can walk through. */
#ifndef SPINNEY_GEO_SHAPE_H
#define SPINNEY_GEO_SHAPE_H
#include "base/base.h"

enum shape_kind { SHAPE_NONE, SHAPE_POINTS, SHAPE_LINES, SHAPE_POLYGONS };

/// A run of points, x and y by turns; of a polygon closed (the last repeats the first).
struct ring {
    double *xy; ///< xy[2 * n]
    size_t n;
};
/// A part: one run for points and lines; for a polygon the outer ring (anticlockwise) and then its holes (clockwise).
struct shape_part {
    struct ring *rings;
    size_t n_rings;
};
/// One or several parts of one kind. Everything lives in the arena it was made in. In the programme's reference system.
struct shape {
    enum shape_kind kind;
    struct shape_part *parts;
    size_t n_parts;
};
struct box {
    double x_least, y_least, x_most, y_most; ///< m
};

/// From and to ISO WKB (two-dimensional; point, line, polygon and their multi forms). Fails with OUTCOME_DATA.
enum outcome shape_from_wkb(struct bytes wkb, struct arena *arena, struct shape *out, struct failure *why);
struct bytes shape_to_wkb(const struct shape *shape, struct arena *arena);
double shape_area_m2(const struct shape *shape);  ///< holes taken off; 0 for points and lines
double shape_length_m(const struct shape *shape); ///< of lines; of polygons all rings
struct box shape_box(const struct shape *shape);
bool shape_contains(const struct shape *polygon, double x_m, double y_m); ///< inside or on the outline
/// Polygon with four corners: origin, then along the bearing `turn_rad` from the x axis.
struct shape shape_rectangle(struct arena *arena, double x_m, double y_m, double width_m, double height_m, double turn_rad);

/* By GEOS; every result is valid and lives in the arena. Fail with OUTCOME_DATA where the shapes are not valid. */
enum outcome shape_buffer(const struct shape *shape, double distance_m, struct arena *arena, struct shape *out, struct failure *why);
enum outcome shape_subtract(const struct shape *a, const struct shape *b, struct arena *arena, struct shape *out, struct failure *why);
enum outcome shape_intersect(const struct shape *a, const struct shape *b, struct arena *arena, struct shape *out, struct failure *why);
enum outcome shape_unite(const struct shape *shapes, size_t n, struct arena *arena, struct shape *out, struct failure *why);
/// Distance between the nearest points, in metres; 0 where they touch or overlap.
enum outcome shape_distance(const struct shape *a, const struct shape *b, double *distance_m, struct failure *why);
#endif
