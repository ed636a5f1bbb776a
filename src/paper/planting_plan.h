/* SPDX-License-Identifier: GPL-3.0-or-later
 * The planting plan: map at true scale, numbers used, species, differences between plots, allocation, cautions. */
#ifndef SPINNEY_PAPER_PLANTING_PLAN_H
#define SPINNEY_PAPER_PLANTING_PLAN_H
#include "paper/document.h"

struct plan_zone_line {
    const char *kind, *label;
    double standoff_m;      ///< used; unknown shown as such
    const char *source;     ///< who says so
    const char *checked_on; ///< NULL: not checked
};
struct plan_species_line {
    const char *species, *local;
    int layer;
    const int64_t *plants; ///< by plot, in the order of `plots`; INT_UNKNOWN where not in the mix
};
struct plan_plot {
    const char *code, *regime, *preparation;
    double net_area_m2, density_m2;
    int64_t plants; ///< INT_UNKNOWN: summed from the species lines
};
struct plan_difference {
    const char *what;          ///< "planting density"
    const char *const *values; ///< by plot
};
struct plan_caution {
    const char *code, *words, *defer;
};
struct planting_plan {
    const char *programme, *organisation, *site, *site_code, *place; ///< place: grid reference or address
    const char *crs;
    int32_t date;
    const char *language;
    struct map map;            ///< drawn at its scale, or the largest that fits the page
    const struct map *details; ///< further maps, such as one per plot with squares; each on its own page
    size_t n_details;
    const struct plan_plot *plots;
    size_t n_plots;
    const struct plan_species_line *species;
    size_t n_species;
    const struct plan_zone_line *zones;
    size_t n_zones;
    const struct plan_difference *differences;
    size_t n_differences;
    const char *allocation; ///< paragraph; NULL: "No allocation is recorded."
    const char *protocol;   ///< version; NULL: none locked
    const char *proof;      ///< "proven optimal", or the gap
    const struct plan_caution *cautions;
    size_t n_cautions;
    const char *const *unknown; ///< what is not known or not checked
    size_t n_unknown;
    const char *const *sources;
    size_t n_sources;
    const struct document_revision *revisions;
    size_t n_revisions;
};
/// The document; release with document_free. `*scale` of the first map may be NULL.
enum outcome planting_plan_document(const struct planting_plan *plan, struct document **out, int *scale, struct failure *why);
#endif
