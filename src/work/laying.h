/* SPDX-License-Identifier: GPL-3.0-or-later
 * A layout being made, judged or mended for one plan: what it is made from, and what came of it. */
#ifndef SPINNEY_WORK_LAYING_H
#define SPINNEY_WORK_LAYING_H
#include "layout/layout.h"
#include "work/plan_load.h"

struct laying {
    struct plot_ground ground;
    struct species_library library;
    struct plan plan;
    struct mix_line *lines;
    size_t n_lines;
    struct layout_species *species;
    struct layout_zone *zones;
    size_t n_zones;
    struct layout_wish wish;
    struct layout layout;
    struct layout_quality quality;
};

/// Load a plot, its library, the plan (by number; 0: the chosen one) and its species.
enum outcome laying_load(const struct job_context *context, const char *plot, int64_t plan, struct arena *arena, struct laying *out,
                         struct failure *why);
/// Species, zones and the wish, by the options of `layout`. `lines` may have been changed since loading.
enum outcome laying_wish(const json_t *in, struct laying *laying, struct arena *arena, struct failure *why);
/// The stored places of the plan. `rows` (may be NULL) receives their rows, in the same order.
enum outcome laying_stored(const struct job_context *context, struct laying *laying, struct position **rows, struct arena *arena,
                           struct failure *why);
/// Store the layout as positions and squares, within a step: of this plan if it has none yet, else of a new one.
enum outcome laying_store(const struct job_context *context, struct laying *laying, struct arena *arena, struct failure *why);
/// The map of the layout, and the table of how good it is.
enum outcome laying_figure(const struct laying *laying, json_t *section, struct arena *arena, struct failure *why);
void laying_quality(json_t *out, const struct laying *laying);
#endif
