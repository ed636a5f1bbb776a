/* SPDX-License-Identifier: GPL-3.0-or-later
 * What the quantities of a preparation need of a plot: its area, what lies near and under it, its soil. */
#ifndef SPINNEY_WORK_PREPARING_H
#define SPINNEY_WORK_PREPARING_H
#include "ground/ground.h"
#include "work/site_load.h"

struct preparing {
    struct plot plot;
    struct site site;
    struct shape outline;
    struct site_facts facts;
    struct preparation_site ground; ///< unknown where nothing was recorded
    struct ground_judgement soil;   ///< pits of the plot, or of its site where none is the plot's own; n_pits 0: not surveyed
    size_t n_zones;                 ///< soil zones among them
    const char *soil_from;          ///< where the soil figures come from, in words
};
/// Load a plot with its ground. `area_m2` unknown: the plot's own.
enum outcome preparing_load(const struct job_context *context, const char *code, double area_m2, struct arena *arena, struct preparing *out,
                            struct failure *why);
#endif
