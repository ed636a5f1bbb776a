/* SPDX-License-Identifier: GPL-3.0-or-later
 * The face of layout/: where each plant stands, in which square metre, and which species stands where.
 *
 * Typical sizes: 100 to 2,000 plants on 50 to 700 m2; must hold for 1,000,000. Time and memory grow with the number of
 * plants (times its logarithm) and the corners of the outline. The same wish and seed give the same plan on any machine
 * and any number of threads, and moving the whole site by whole metres moves the plan with it. */
#ifndef SPINNEY_LAYOUT_H
#define SPINNEY_LAYOUT_H
#include "base/base.h"
#include "geo/shape.h"
#include "model/model.h"

enum layout_pattern {
    LAYOUT_IRREGULAR, ///< irregular with a least distance: the dense plot
    LAYOUT_ROWS,      ///< straight rows along the baseline: the conventional plot
};

enum { LAYOUT_EMPTY = -1 }; ///< species of a position where nothing stands

/// A species to be planted.
struct layout_species {
    const char *name;    ///< scientific name, for sentences
    enum layer layer;    ///< layer it is planted for
    size_t plants;       ///< how many, fixed ones among them
    bool tall;           ///< a future tall tree (canopy dominant): these are spread as evenly as the ground allows
    bool inside;         ///< bears shade: rather inside than at the outline (a wish, not a rule)
    double edge_least_m; ///< least distance to the outline of the ground, holes too; 0: as any plant (thorny ones: T55, 2 m)
};

/// Ground where some species may not stand: a stand-off already drawn as a polygon.
struct layout_zone {
    const char *why;            ///< what it is, for sentences, such as "within 12.5 m of the ward block"
    const struct shape *ground; ///< polygons in programme metres
    const bool *forbids;        ///< forbids[n_species]
};

/// A plant that already stands and is kept.
struct layout_fixed {
    double x_m, y_m; ///< programme metres
    size_t species;  ///< index into the species
};

/// What is wanted. All lengths in metres, all coordinates in the programme's metric system.
struct layout_wish {
    const struct shape *ground; ///< plantable polygons: one or several parts, with holes
    enum layout_pattern pattern;
    double origin_x_m, origin_y_m;        ///< first peg of the baseline: outer corner of cell A01
    double bearing_deg;                   ///< from the first peg to the second, clockwise from grid north; ground lies to its left
    const struct layout_species *species; ///< their counts make up the number of plants
    size_t n_species;                     ///< 1 to 512
    const struct layout_zone *zones;
    size_t n_zones; ///< 0 to 256
    const struct layout_fixed *fixed;
    size_t n_fixed;
    double edge_m;      ///< no plant closer to the outline than this; 0: 0.10 m
    double least_m;     ///< irregular: least distance between two plants that must be kept; 0: as large as can be had
    double row_gap_m;   ///< rows: distance between rows; 0: square spacing from the density
    double plant_gap_m; ///< rows: distance in the row; 0: from the density and the row distance
    uint64_t seed;
};

/// One place for one plant.
struct layout_position {
    double x_m, y_m;          ///< programme metres
    double along_m, across_m; ///< from the cell's corner nearest the first peg: along the baseline, away from it; 0.0 to 1.0 by 0.1
    uint32_t cell;            ///< index into the cells
    uint32_t number;          ///< number within the cell, from 1
    int32_t species;          ///< index into the wish's species, or LAYOUT_EMPTY
    bool fixed;               ///< stood there already
};

/// One square metre of the grid that holds ground.
struct layout_cell {
    char code[16];          ///< row letter and column number, such as C07
    uint32_t row, column;   ///< from the baseline and from the first peg, zero first
    double ground_m2;       ///< how much of it is plantable: 1 for a whole one
    uint32_t first, plants; ///< its positions are positions[first] to positions[first + plants − 1]
};

/// How good a plan is, with what chance alone would give.
struct layout_quality {
    size_t plants;          ///< positions that hold a plant
    double area_m2;         ///< plantable ground
    double density_m2;      ///< plants per square metre
    double nearest_least_m; ///< smallest distance between two plants
    double nearest_mean_m;  ///< mean distance to the nearest neighbour
    double nearest_most_m;  ///< largest distance to the nearest neighbour
    double hexagon_m;       ///< distance in the densest even packing of as many: sqrt(2 A / (sqrt(3) n)); no pattern keeps more in the open
    double clark_evans;     ///< R without edge correction: 1 random, above 1 regular, 2.149 hexagonal
    double clark_evans_z;   ///< its standard normal deviate
    double clark_evans_donnelly;      ///< R with Donnelly's edge correction
    double same_share;                ///< share of plants whose nearest neighbour is of the same species
    double same_share_random;         ///< expectation of it when species are given out by chance (closed form)
    double same_share_simulated;      ///< mean of it over simulated chance assignments
    double same_share_simulated_sd;   ///< its spread between them
    size_t simulations;               ///< how many
    double same_share_bound;          ///< no assignment with these counts on these positions is below this
    size_t tall;                      ///< future tall trees
    double tall_least_m, tall_mean_m; ///< nearest-neighbour distance among them: least, mean; unknown below two
    double tall_random_mean_m;        ///< expected mean, had they been chosen by chance: 0.5 / sqrt(density)
    double tall_hexagon_m;            ///< as hexagon_m, for the tall ones
    double tall_clark_evans;          ///< R among them
    double layers_in_cell;            ///< mean number of different layers in cells with two plants or more
    double layers_in_cell_random;     ///< the same by chance (simulated)
};

/// A plan of one plot. Lives in the arena it was made in.
struct layout {
    struct layout_position *positions; ///< ordered by cell, then number
    size_t n_positions;
    struct layout_cell *cells; ///< ordered by row, then column; every cell that holds ground or a plant, once
    size_t n_cells;
    uint32_t rows, columns; ///< extent of the grid
    double least_m;         ///< the least distance that holds between any two plants (fixed ones apart), rounded down to the centimetre
    double row_gap_m, plant_gap_m; ///< rows: the distances used; 0 otherwise
    double ground_m2;              ///< plantable ground
    uint64_t swaps;                ///< exchanges made while looking for a better assignment
    const char **remarks;          ///< sentences a planner should read: what was rounded, moved, not reached
    size_t n_remarks;
};

/// Where a baseline may go: along the longest side of the smallest rectangle round the ground, ground on its left.
/// `bearing_deg` clockwise from grid north; `length_m` and `depth_m` of that rectangle. Fails with OUTCOME_DATA without area.
enum outcome layout_baseline(const struct shape *ground, double *x_m, double *y_m, double *bearing_deg, double *length_m, double *depth_m,
                             struct failure *why);

/// Positions, cells and species: the whole plan. Exactly as many plants as the species ask for, or a failure that says
/// which wish to relax: OUTCOME_DATA when the plants do not fit, a species has fewer allowed places than plants (with
/// the zones in the way), or the ground lies behind the baseline; OUTCOME_USAGE for a senseless wish.
enum outcome layout_plan(const struct layout_wish *wish, const struct progress *progress, struct arena *arena, struct layout *out,
                         struct failure *why);

/// Quality of a plan (species as in the wish it was made from). `simulations` chance assignments (0: 200, fewer for large plans).
enum outcome layout_judge(const struct layout *layout, const struct layout_wish *wish, size_t simulations, struct arena *arena,
                          struct layout_quality *out, struct failure *why);

/// One position whose species changes.
struct layout_move {
    size_t position;  ///< index into the layout's positions
    int32_t from, to; ///< species, or LAYOUT_EMPTY
};
/// What a repair came to.
struct layout_repair {
    struct layout_move *moves; ///< ordered by position
    size_t n_moves;
    size_t least_moves; ///< no repair to these counts takes fewer
};
/// New counts after a substitution, a short delivery or a loss: change as few positions as possible, and among those the
/// ones that leave the mixture best. `wish->species[].plants` holds the new counts (their sum may be below the number of
/// positions: some stay empty). `planted[n_positions]` (may be NULL) marks plants already in the ground: never moved.
/// `positions[].species` of `layout` is changed. Fails with OUTCOME_DATA, and changes nothing, where it cannot be done.
enum outcome layout_mend(struct layout *layout, const struct layout_wish *wish, const bool *planted, struct arena *arena,
                         struct layout_repair *out, struct failure *why);

/// Code of a cell from its zero-based row and column: 2, 6 → "C07"; after Z comes AA.
void layout_cell_code(uint32_t row, uint32_t column, char out[16]);
/// And back; false if it is not a code.
bool layout_cell_read(const char *code, uint32_t *row, uint32_t *column);

/* Single computations. Distances in metres, areas in square metres, `xy` by turns. */

/// Distance of the densest even (hexagonal) packing of n points on an area.
double layout_hexagon_m(double area_m2, double n);
/// Distance of each of n points to its nearest neighbour, and which that is (`which` may be NULL). n ≥ 2.
void layout_nearest(const double *xy, size_t n, double *distance_m, size_t *which);
/// Clark & Evans 1954: R, z. Donnelly 1978 where `outline_m` > 0.
void layout_clark_evans(double mean_m, size_t n, double area_m2, double outline_m, double *r, double *z);
/// Share of plants expected to have a nearest neighbour of their own species when species are given out by chance.
double layout_random_share(const double *counts, size_t n_species);
/// Ripley's K at `r_m`; `translate` corrects for the edge of an upright rectangle of these sides (Ohser 1983), else none.
double layout_ripley_k(const double *xy, size_t n, double width_m, double height_m, double r_m, bool translate);
/// Share of a rectangle farther than `edge_m` from its outline (T04).
double layout_interior_share(double width_m, double height_m, double edge_m);
#endif
