/* SPDX-License-Identifier: GPL-3.0-or-later
 * The treatment of each plot in words, out of its rows, for the difference table. */
#ifndef SPINNEY_WORK_TREATMENTS_H
#define SPINNEY_WORK_TREATMENTS_H
#include "trial/trial.h"
#include "work/load.h"

/// Plots of a site (0: all sites) as the treatment designer sees them; *plots has n entries in the same order as *rows.
enum outcome treatments_load(struct store *store, int64_t site, struct arena *arena, struct trial_plot **plots, struct plot **rows,
                             size_t *n, struct failure *why);
#endif
