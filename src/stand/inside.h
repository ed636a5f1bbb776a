/* SPDX-License-Identifier: GPL-3.0-or-later
 * What the files of stand/ share: one run as columns, the light above it, and the constants of growth. */
#ifndef SPINNEY_STAND_INSIDE_H
#define SPINNEY_STAND_INSIDE_H
#include "stand/stand.h"

/* Constants of the growth equations; docs/methods/stand.md says what each rests on. */
#define RAY_ABOVE 0.5f      ///< k of leaves seen from above (spherical leaf angles)
#define RAY_ASIDE 0.7071f   ///< the same along a ray of 45°, per unit of leaf area over ground
#define FORM 0.55f          ///< wood volume over basal area × height
#define LEAF_GAIN 1.7f      ///< wood made per m² leaf and year in full dim light [kg/m²]
#define LEAF_HALF 0.25f     ///< light per leaf area at which its use has fallen to half
#define LEAF_PACK 1.1f      ///< leaf area in a cubic metre of crown [1/m]
#define BUCKLE 2.084f       ///< height [m] over basal diameter^(2/3) [cm] at which a stem is within 2 of buckling
#define LEAF_KEPT 3.5f      ///< full foliage needs so many times the light that just pays
#define CHANCE_DEATH 0.005f ///< of an established plant by whatever is not named [1/a]
#define PI_F 3.14159265f

enum { STAND_SHEETS = 20 }; ///< layers of air that light passes

/// The air over a plot: leaf holds leaf area over ground area, then the light that a leaf there takes up.
struct air {
    size_t columns, rows, cells;
    double x0, y0;
    float cell_m, sheet_m;
    int sheets; ///< in use this year
    bool endless;
    float share[STAND_RAYS];
    size_t band, band_cells, bands; ///< rows of a band, its cells, and how many there are
    float *leaf;            ///< [bands][STAND_SHEETS][band_cells]: a band of rows lies together, so that wide ground stays in the cache
    float *ray[STAND_RAYS]; ///< [cells] light that has come so far along each
    float *cover;           ///< [cells] crown area over ground area
    float *sum;             ///< [cells] light taken up while rays are added
    float *keep;            ///< [columns + rows] for turning rows round
    const float *dark_to[STAND_RAYS]; ///< [cells] height up to which something beside the plot stands in the way; NULL: nothing
    const float *through[STAND_RAYS]; ///< [cells] share that passes it
    const unsigned char *inside;      ///< [cells] 1 where the ground is the plot's
    size_t n_inside;
};
/// What stands around, worked out once for all runs.
struct around {
    size_t columns, rows;
    double x0, y0;
    float cell_m;
    bool endless;
    float share[STAND_RAYS];
    float *dark_to[STAND_RAYS], *through[STAND_RAYS]; ///< NULL where nothing stands around
    unsigned char *inside;
    size_t n_inside;
};
enum outcome around_make(const struct stand_setting *setting, struct arena *arena, struct around *out, struct failure *why);
void air_new(struct air *air, const struct around *around);
void air_free(struct air *air);
size_t air_bytes(const struct around *around); ///< of one

/// Living plants of one run, in the order they came.
struct crowd {
    size_t n, room;
    float *x, *y, *height, *diameter, *crown, *base, *vigour, *nature, *age;
    float *leaf;          ///< leaf area [m²]
    float *taken, *alone; ///< light taken up, and what it would be with no other plant, per leaf area
    float *top;           ///< share of full light at the top of the crown
    float *around;        ///< plants/m² around
    float *foliage;       ///< share of its full leaf area that it bears
    uint32_t *id;         ///< place in the list of plants; arrivals go on from n_plants
    uint16_t *kind;
};
void crowd_new(struct crowd *crowd, size_t room);
void crowd_free(struct crowd *crowd);
void crowd_move(struct crowd *crowd, size_t from, size_t to);

/// A kind as it is in this run.
struct kind_now {
    float young, grown;                 ///< logarithms of the factors on growth in wood
    float least, upkeep;                ///< light that just pays [per leaf area]; cost of a m² of leaf [kg/a]
    float rate, height_most, size_most; ///< size: d² h [cm² m]
    float wood, leaf_most, crown, death, drought, age_death, shade_death;
    enum layer layer;
};
struct kind_now kind_now(const struct stand_kind *kind, const double *factors);

/// Crowns into the air, light down through it, and back to each plant.
void light_year(struct air *air, struct crowd *crowd, const struct kind_now *kinds);
/// Leaf area and crown radius of each plant from its size.
void crowns_year(struct crowd *crowd, const struct kind_now *kinds);

/// One run under way.
struct run {
    const struct stand_setting *setting;
    struct kind_now *kinds;
    struct crowd crowd;
    struct air air;
    uint64_t number;
    uint32_t next_id;
    float death_luck; ///< of the year, on all deaths but by shade
    float *expected;  ///< [n_kinds] expected deaths of the year
    float deaths[STAND_DEATHS], over[4];
    double *sort; ///< room for Gini's coefficient
    size_t sort_room;
    uint32_t *local; ///< plants in squares of 2 m
    size_t local_columns, local_rows;
};
void run_new(struct run *run, const struct stand_setting *setting, const struct around *around);
void run_free(struct run *run);
void run_start(struct run *run, size_t number, const double *factors);
/// One year: light, growth, death, arrivals. `water` is the year's factor.
void run_year(struct run *run, int year, double water);
double run_water(const struct stand_setting *setting, size_t number, int year);
bool plant_mature(const struct crowd *crowd, size_t i, const struct kind_now *kind);
double stand_mean_sorted_gini(double *x, size_t n); ///< sorts x
#endif
