/* SPDX-License-Identifier: GPL-3.0-or-later
 * Axes: round ticks, dates, and the frame that figures share. */
#ifndef SPINNEY_DRAW_AXIS_H
#define SPINNEY_DRAW_AXIS_H
#include "draw/figures.h"

enum { MOST_TICKS = 24 };

/// A straight axis from data to points.
struct axis {
    double least, most;    ///< data
    double from_pt, to_pt; ///< where they lie
    double ticks[MOST_TICKS];
    char labels[MOST_TICKS][24];
    size_t n_ticks;
    int digits;
};
/// Widen least and most to hold x; unknown x is passed over. Start with INFINITY and -INFINITY.
void axis_take(double *least, double *most, double x);
void axis_take_all(double *least, double *most, const double *x, size_t n);
/// Round ticks of 1, 2 or 5 times a power of ten, about `wanted` of them; limits widened to ticks where `round`.
struct axis axis_make(double least, double most, double from_pt, double to_pt, int wanted, bool round);
/// Ticks at days, months or years for day numbers.
struct axis axis_make_dates(double least, double most, double from_pt, double to_pt);
double axis_at(const struct axis *axis, double x);
/// Guide lines and labels. `x0`…`x1` is the extent across.
void axis_draw_below(struct drawing *drawing, const struct axis *axis, double y_top, double y, const char *title);
void axis_draw_left(struct drawing *drawing, const struct axis *axis, double x, double x_right);
double axis_label_width(struct drawing *drawing, const struct axis *axis);

/// The sheet of a figure with its title and foot; gives what is left for the picture.
struct frame {
    struct drawing *drawing;
    double left, right, top, bottom; ///< of the free room
};
/// `height_pt` without title and foot is what the picture needs; the drawing's height is made to fit.
struct frame frame_make(const struct figure_head *head, const char *kind, double width_pt, double height_pt);
/// Words in the middle of the frame where there is nothing to draw.
struct drawing *frame_empty(struct frame *frame, const char *words);
#endif
