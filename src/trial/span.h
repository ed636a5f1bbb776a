/* SPDX-License-Identifier: GPL-3.0-or-later
 * The additive model of plots as rows of zeros and ones, and which of its effects the plots determine. */
#ifndef SPINNEY_TRIAL_SPAN_H
#define SPINNEY_TRIAL_SPAN_H
#include "trial/trial.h"

/// Columns: one for each site, then for each factor one for each level but the first; a level that is not known is a
/// column of its own plot.
struct frame_of_plots {
    const struct trial_plot *plots;
    size_t n;
    const char **sites;
    size_t n_sites;
    const char **levels[TRIAL_FACTORS]; ///< known levels in order of appearance
    size_t n_levels[TRIAL_FACTORS];
    size_t n_unknown[TRIAL_FACTORS]; ///< plots whose level is not known
    size_t first[TRIAL_FACTORS];     ///< first column of the factor
    size_t last[TRIAL_FACTORS];      ///< one past its last
    size_t columns;
};
/// The plots something is planted on, with their indices in `all`. In the arena.
const struct trial_plot *plots_planted(const struct trial_plot *all, size_t n_all, struct arena *arena, size_t **index, size_t *n);
void frame_plots(const struct trial_plot *plots, size_t n, struct arena *arena, struct frame_of_plots *out);
/// The row of one plot; `unknown_of[factor]` is which unknown of the factor this plot is (only for the plots of the frame).
void frame_row(const struct frame_of_plots *frame, const struct trial_plot *plot, const size_t *unknown_of, double *row);

/// A span of rows kept in echelon form.
struct span {
    size_t columns, rank;
    double *rows; ///< rows[rank * columns], each with a leading 1
    size_t *lead; ///< column of the leading 1
};
void span_make(size_t columns, size_t room, struct arena *arena, struct span *out);
/// Take from a row what the span explains; true if something is left (`row` then holds it).
bool span_reduce(const struct span *span, double *row);
/// Add a row; false if it was in the span already. Room for it must be left.
bool span_add(struct span *span, const double *row, double *scratch);
/// The span of all plots of a frame.
void span_of_plots(const struct frame_of_plots *frame, size_t more, struct arena *arena, struct span *out);
/// Whether every difference between levels of a factor is determined. False where a level is not known.
bool span_tells(const struct span *span, const struct frame_of_plots *frame, enum trial_factor factor, double *scratch);
#endif
