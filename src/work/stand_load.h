/* SPDX-License-Identifier: GPL-3.0-or-later
 * What the look ahead starts from: the plants of a plot as recorded or as planned, their kinds, the light and the water. */
#ifndef SPINNEY_WORK_STAND_LOAD_H
#define SPINNEY_WORK_STAND_LOAD_H
#include "stand/stand.h"
#include "work/plan_load.h"

/// One census of a plot: what was seen of each plant, in the order of stand_start.plants.
struct stand_census_seen {
    int32_t on;
    size_t n_seen;
    enum status *status; ///< unknown where there is no record
    double *height_m;    ///< NaN where not measured
    double *diameter_cm; ///< NaN where not measured at the collar
};
/// A plot ready to be looked ahead. Everything in the arena.
struct stand_start {
    struct plot_ground ground;
    struct species_library library;
    struct stand_kind *kinds;
    size_t n_kinds;
    struct stand_plant *plants; ///< every plant that was put in or planned
    int32_t *planted_on;        ///< [n_plants]; DATE_UNKNOWN: planned only
    size_t n_plants;
    bool recorded;                      ///< from plants in the ground, else from the plan
    struct stand_census_seen *censuses; ///< in order of date
    size_t n_censuses;
    struct stand_shade *shades;
    size_t n_shades;
    double latitude_deg;
    double *water; ///< yearly factors reckoned from weather; n_water 0: none
    int *water_year;
    size_t n_water;
    bool prepared;
    const char **unknown; ///< sentences
    size_t n_unknown;
};
/// Plants from the records where there are any, else from the plan (0: the chosen one).
enum outcome stand_start_load(const struct job_context *context, const char *plot, int64_t plan, bool from_plan, struct arena *arena,
                              struct stand_start *out, struct failure *why);
/// The plants alive at a census (SIZE_MAX: as planted), as they stood: plants[n], which[n] says which of start->plants.
void stand_state_at(const struct stand_start *start, size_t census, struct arena *arena, struct stand_plant **plants, size_t **which,
                    size_t *n, size_t *n_assumed);
/// A setting for this start with everything but plants, years, runs and seed.
void stand_setting_of(const struct stand_start *start, struct stand_setting *setting);
#endif
