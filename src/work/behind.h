/* SPDX-License-Identifier: GPL-3.0-or-later
 * Which rows the numbers of findings come from, as sets of a note (work/note.h): states at a census, heights, costs. */
#ifndef SPINNEY_WORK_BEHIND_H
#define SPINNEY_WORK_BEHIND_H
#include "work/evidence_load.h"

/// What the sets are made for; everything is borrowed.
struct behind {
    json_t *note;
    const struct evidence *evidence;
    struct arena *arena;
};

/// The records (of plants not seen: the plants) that decide a state of a plot's plants at a census. `counts_as`:
/// "first_planting", "replacement", "natural_arrival".
int64_t behind_state(const struct behind *behind, size_t plot, size_t census, enum life_state state, const char *counts_as);
/// The plants that survival is counted of: their records at the as-planted census, or the plants of the plan.
int64_t behind_planted(const struct behind *behind, size_t plot);
/// Alive and dead of the first planting at a census.
int64_t behind_known(const struct behind *behind, size_t plot, size_t census);
/// The same with those not found and, in a census of every plant, not seen: what the bounds are of.
int64_t behind_bounds(const struct behind *behind, size_t plot, size_t census);
/// The pieces of the two, so that larger sets can be made of them without naming what nobody points at. Return how many.
size_t behind_known_parts(const struct behind *behind, size_t plot, size_t census, int64_t out[2]);
size_t behind_states(const struct behind *behind, size_t plot, size_t census, int64_t out[4]);
/// Records in which heights stand: at one census, of the first planting or of all.
int64_t behind_heights(const struct behind *behind, size_t plot, size_t census, bool first_planting);
/// Both records of each plant of the first planting that has a height at both censuses.
int64_t behind_heights_both(const struct behind *behind, size_t plot, size_t from, size_t to);
/// The plot's own row: area, day of planting.
int64_t behind_plot(const struct behind *behind, size_t plot);
/// Deaths of whatever belongs to the first planting by its origin, which heights per plant planted count as 0.
int64_t behind_dead_planted(const struct behind *behind, size_t plot, size_t census);
/// Waterings of a plot, also those skipped.
int64_t behind_watering(const struct behind *behind, size_t plot);
/// Every record of the first planting of these plots, of one species (NULL: all).
int64_t behind_plots(const struct behind *behind, const size_t *plots, size_t n, const char *species);
/// Several sets as one, ended by −1.
int64_t behind_all(const struct behind *behind, const int64_t *sets);
/// Index of a plot's lives.
size_t behind_index(const struct behind *behind, const struct plot_lives *lives);

/// Whatever of a note leads nowhere yet: in rows that begin with a plot's name to that plot's rows, the rest to those of all
/// plots. `of_plot` holds "%s" where the plot's name goes; `of_all` is the same selection without it.
void behind_remaining(const struct behind *behind, enum noun noun, const char *of_plot, const char *of_all);

/* Cells as findings print them. */

/// "12 % (8–17)": an estimate times `scale` with its interval; unknown where it is.
void row_estimate(json_t *row, struct estimate e, double scale, int digits, const char *unit);
/// "−4 to −2".
void row_range(json_t *row, double low, double high);
#endif
