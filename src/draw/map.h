/* SPDX-License-Identifier: GPL-3.0-or-later
 * Maps at a stated, true scale: outline, plots, what to keep away from, squares and plants.
 * Typical: one site of up to 10,000 plants; time goes into marks and hatching. */
#ifndef SPINNEY_DRAW_MAP_H
#define SPINNEY_DRAW_MAP_H
#include "draw/drawing.h"
#include "geo/shape.h"

/// How an area is filled on a grey photocopy.
enum map_fill { MAP_FILL_NONE, MAP_FILL_WASH, MAP_FILL_HATCH, MAP_FILL_HATCH_BACK, MAP_FILL_CROSS, MAP_FILL_DOTS, MAP_FILL_LEVEL };

/// A plot or any named area.
struct map_area {
    const struct shape *shape;
    const char *label; ///< written at its middle; may be NULL
    bool heavy;        ///< a heavy outline
    enum map_fill fill;
};
/// A constraint and the ground it takes out.
struct map_zone {
    const struct shape *shape;    ///< the thing itself; may be NULL
    const struct shape *standoff; ///< the ground kept free around it; may be NULL
    const char *kind;             ///< words for the legend, such as "gas main"; zones of one kind share a hatch
    const char *label;            ///< on the map, such as "gas 3.0 m"; may be NULL
    bool caution;                 ///< in the caution colour: can hurt
};
struct map_plant {
    double x_m, y_m;
    int layer;         ///< 1 canopy … 5 ground; 0 unknown
    const char *label; ///< code of the species beside the mark where there is room; may be NULL
    bool gone;         ///< dead or missing: mark struck through
};
struct map_cell {
    const struct shape *shape;
    const char *code;
};
struct map_point {
    double x_m, y_m;
    const char *label;
    bool peg; ///< a peg with its coordinates, else a plain label
};
struct map {
    const char *title, *about;
    const struct shape *outline; ///< of the site; may be NULL
    const char *outline_label;
    const struct map_area *areas;
    size_t n_areas;
    const struct map_zone *zones;
    size_t n_zones;
    const struct map_cell *cells;
    size_t n_cells;
    const struct map_plant *plants;
    size_t n_plants;
    const struct map_point *points;
    size_t n_points;
    const char *crs;            ///< "EPSG:28992, Amersfoort / RD New"; NULL: "reference system not stated"
    double convergence_deg;     ///< true north west of grid north, negative east; NaN: only grid north shown
    const struct box *extent;   ///< ground to show; NULL: all of it with a margin
    int scale;                  ///< denominator; 0: the largest of map_scales that fits
    double width_pt, height_pt; ///< of the drawing with its margin; 0: 515 × 640
    bool legend;                ///< draw the legend below
};
extern const int map_scales[]; ///< 50, 100, 200, 500, 1000, 1250, 2500, 5000, 10000, 25000, 50000, 100000, ended by 0
/// Fails with OUTCOME_DATA where nothing has a place, or where the asked scale does not fit. `*scale` may be NULL.
enum outcome map_draw(const struct map *map, struct drawing **out, int *scale, struct failure *why);
/// The scale chosen for ground of this size on paper of this size: the largest that fits; 0 if none.
int map_scale_fit(double ground_width_m, double ground_height_m, double paper_width_pt, double paper_height_pt);
/// Length of the scale bar in metres for a scale: 1, 2 or 5 times a power of ten, 3 to 8 cm long on paper.
double map_bar_m(int scale);
#endif
