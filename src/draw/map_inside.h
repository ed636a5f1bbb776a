/* SPDX-License-Identifier: GPL-3.0-or-later
 * What the files of the map share: where ground lies on paper, and the ways of filling. */
#ifndef SPINNEY_DRAW_MAP_INSIDE_H
#define SPINNEY_DRAW_MAP_INSIDE_H
#include "draw/map.h"

enum { MOST_KINDS = 12, MOST_LABELS = 400 };

/// The sheet: ground at (west_m, south_m) lies at the lower left corner of the frame.
struct canvas {
    struct drawing *drawing;
    double left, top, width, height; ///< of the frame, points
    double west_m, south_m, pt_m;    ///< points to the metre
    const char *kinds[MOST_KINDS];   ///< of zones, in order of coming
    bool kind_caution[MOST_KINDS];
    size_t n_kinds;
    struct box labels[MOST_LABELS]; ///< taken by words, in points
    size_t n_labels;
};
void canvas_point(const struct canvas *canvas, double x_m, double y_m, double *x, double *y);
/// Rings of a shape in points; the arrays are the caller's to free. Returns how many rings.
size_t canvas_rings(const struct canvas *canvas, const struct shape_part *part, double **xy, size_t **ends);
/// Number of a zone's kind, remembered; MOST_KINDS - 1 for all beyond.
int canvas_kind(struct canvas *canvas, const char *kind, bool caution);
/// Fill rings in the manner of a kind of zone.
void kind_fill(struct drawing *drawing, int kind, bool caution, const double *xy, const size_t *ends, size_t n_rings);
void area_fill(struct drawing *drawing, enum map_fill fill, const double *xy, const size_t *ends, size_t n_rings);
/// Words near a point where no others are; true if a free place was found.
bool canvas_label(struct canvas *canvas, double x, double y, struct lettering lettering, const char *words);
/// Whether any of a shape may lie on the sheet; whether the site's boundary does.
bool map_shows(const struct map *map, const struct shape *shape);
bool map_shows_outline(const struct map *map);
/// Height that the furniture below the frame takes, and drawing it.
double furniture_height(const struct map *map, const struct canvas *canvas);
void furniture_draw(const struct map *map, const struct canvas *canvas, int scale);
#endif
