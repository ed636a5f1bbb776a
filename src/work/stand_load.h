/* SPDX-License-Identifier: GPL-3.0-or-later
 * What the look ahead starts from: the plants of a plot as recorded or as planned, their kinds, the light and the water. */
#ifndef SPINNEY_WORK_STAND_LOAD_H
#define SPINNEY_WORK_STAND_LOAD_H
#include "stand/stand.h"
#include "work/plan_load.h"

enum { STAND_WATER_LEAST = 5 }; ///< growing seasons that make a climate to draw from
/// A plot ready to be looked ahead. Everything in the arena.
struct stand_start {
    struct plot_ground ground;
    struct species_library library;
    struct stand_kind *kinds;
    size_t n_kinds;
    bool *arriving;             ///< [n_kinds] comes by itself: birch and willow of the library's
    struct stand_plant *plants; ///< every plant that was put in or planned
    int64_t *plant_id;          ///< [n_plants]; 0: planned only
    int32_t *planted_on;        ///< [n_plants]; DATE_UNKNOWN: planned only
    size_t n_plants;
    bool recorded;                 ///< from plants in the ground, else from the plan
    struct stand_history history;  ///< the same plants with their censuses, in order of date
    struct stand_census *censuses; ///< the same as history.censuses
    int32_t *census_on;            ///< [history.n_censuses]
    struct stand_shade *shades;
    size_t n_shades;
    double latitude_deg;
    double *water; ///< yearly factors reckoned from weather; n_water 0: none
    int *water_year;
    size_t n_water;
    bool soil_known; ///< the water factors rest on measured texture, else on loam
    bool prepared;
    const char **unknown; ///< sentences
    size_t n_unknown;
};
/// Plants from the records up to `as_of` (DATE_UNKNOWN: all) where there are any, else from the plan (0: the chosen one).
enum outcome stand_start_load(const struct job_context *context, const char *plot, int64_t plan, bool from_plan, int32_t as_of,
                              struct arena *arena, struct stand_start *out, struct failure *why);
/// The plants to begin with: those alive at the last census, else all; the number whose height was not measured.
void stand_begin(const struct stand_start *start, struct arena *arena, struct stand_plant **plants, size_t *n, size_t *n_assumed);
/// The day the look ahead begins: the last census, else planting, else unknown.
int32_t stand_begin_on(const struct stand_start *start);
/// Growing seasons between two days: middles of summer (1 July, in the south 1 January).
int stand_seasons(const struct stand_start *start, int32_t from, int32_t to);
/// A setting for this start with everything but plants, years, runs and seed.
void stand_setting_of(const struct stand_start *start, struct stand_setting *setting);
#endif
