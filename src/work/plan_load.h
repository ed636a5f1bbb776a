/* SPDX-License-Identifier: GPL-3.0-or-later
 * A plot with everything a plan of it needs: its site, what is plantable, the species library, the mix. */
#ifndef SPINNEY_WORK_PLAN_LOAD_H
#define SPINNEY_WORK_PLAN_LOAD_H
#include "work/site_load.h"

struct plot_ground {
    struct programme programme;
    struct site site;
    struct plot plot;
    struct site_facts facts;
    struct shape outline;
    struct site_net net;
};
/// Load a plot and net its ground. OUTCOME_DATA where it has no outline.
enum outcome plot_ground_load(const struct job_context *context, const char *code, struct arena *arena, struct plot_ground *out,
                              struct failure *why);
/// Mix lines, positions and cells of a plan. Any of the three outputs may be NULL.
enum outcome plan_parts_load(struct store *store, int64_t plan, struct arena *arena, struct mix_line **lines, size_t *n_lines,
                             struct position **positions, size_t *n_positions, struct cell **cells, size_t *n_cells, struct failure *why);
/// A new plan row of the plot with the next version, not yet stored.
enum outcome plan_next(struct store *store, const struct plot *plot, struct arena *arena, struct plan *out, struct failure *why);
/// Make this plan the chosen one and no other of its plot; within a step.
enum outcome plan_choose(struct store *store, struct plan *plan, struct arena *arena, struct failure *why);
#endif
