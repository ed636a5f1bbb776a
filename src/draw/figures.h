/* SPDX-License-Identifier: GPL-3.0-or-later
 * The figures: plain series in, a drawing out. Every figure copes with no data by saying so. The caller frees the
 * drawing. Where `about` is NULL the text alternative is made from the data. */
#ifndef SPINNEY_DRAW_FIGURES_H
#define SPINNEY_DRAW_FIGURES_H
#include "draw/drawing.h"
#include "draw/value.h"
#include "geo/shape.h"

/// What every figure has. Sizes 0: a default that suits a page; heights of row figures follow from their rows.
struct figure_head {
    const char *title;             ///< a short sentence or name; may be NULL
    const char *about;             ///< text alternative; NULL: made from the data
    const char *x_title, *y_title; ///< with unit in brackets, such as "months after planting"
    const char *foot;              ///< one line under the figure: method, source, what is not known
    double width_pt, height_pt;
};

/// A line over x with an interval band. Arrays of n; low, high may be NULL; x ascending. Unknown y breaks the line.
struct figure_line {
    const char *name;
    const double *x, *y, *low, *high;
    size_t n;
    const double *least, *most; ///< bounds where some are not found: all dead, all alive; may be NULL
    const int64_t *at_risk;     ///< counts under the axis, by point; may be NULL
    double observed_to;         ///< beyond this x the line is extrapolated and drawn thin; NaN or 0: none
};
struct figure_lines {
    struct figure_head head;
    const struct figure_line *lines;
    size_t n_lines;         ///< told apart by dashes, four at the most by group, then repeated
    bool steps;             ///< hold each value until the next x (survival)
    bool x_dates;           ///< x is a day number (base/dates.h)
    bool from_zero;         ///< y axis starts at zero
    double y_least, y_most; ///< axis limits; equal: from the data
    double mark_y;          ///< a threshold line with `mark_words`; used where mark_words is not NULL
    const char *mark_words;
};
/// Survival steps, accumulation curves, time series: lines with bands. Survival: steps = true, y in per cent, 0–100.
struct drawing *figure_lines(const struct figure_lines *figure);

/// One row of an interval figure.
struct figure_row {
    const char *label;
    struct draw_value value;
    const char *note;  ///< words at the right, such as "234 of 300"; NULL: the value itself is written
    double weight;     ///< size of the mark, 0 … 1; 0: plain
    int group;         ///< 0 …: kind of mark (disc, square, diamond, triangle)
    bool label_italic; ///< scientific names
    bool summary;      ///< a diamond over the whole interval, set off by a line
};
struct figure_intervals {
    struct figure_head head;
    const struct figure_row *rows;
    size_t n_rows;
    const char *unit;
    int digits;
    double reference;        ///< a vertical line, such as 0 for differences; NaN: none
    const char *less, *more; ///< what lies left and right of it: "B better", "D better"; may be NULL
    double margin;           ///< smallest difference worth having: a band ± this around the reference; 0 or NaN: none
    double x_least, x_most;  ///< axis limits; equal: from the data
};
/// Paired differences, league lists (no reference), cost ranges: one dot and its interval to a row.
struct drawing *figure_intervals(const struct figure_intervals *figure);

/// Single values of one group with their mean and interval.
struct figure_strip {
    const char *name;
    const double *values; ///< unknown ones are counted and named, not drawn
    size_t n;
    struct draw_value mean; ///< unknown: not drawn
};
struct figure_strips {
    struct figure_head head;
    const struct figure_strip *strips;
    size_t n_strips;
    const char *unit;
    int digits;
};
/// Dot strips side by side, same scale; dots spread sideways in a fixed pattern.
struct drawing *figure_strips(const struct figure_strips *figure);

/// A panel of a fan: median and nested ranges over x.
struct figure_fan {
    const char *name;
    const double *x, *middle;
    const double *low[3], *high[3]; ///< widest first, such as 90 %, 50 %; NULL ends
    size_t n;
    const double *seen_x, *seen_y; ///< observations as dots; may be NULL
    size_t n_seen;
};
struct figure_fans {
    struct figure_head head;
    const struct figure_fan *fans; ///< small multiples with one scale
    size_t n_fans;
    const char *range_words; ///< what the ranges are: "middle 50 % and 90 % of runs"
};
struct drawing *figure_fans(const struct figure_fans *figure);

/// One bar: a count or share.
struct figure_bar {
    const char *label;
    bool label_italic; ///< scientific names
    double value;
    const char *note;         ///< at the bar's end; NULL: the value
    int layer;                ///< 0: none; bars of one layer stand together under its mark
    double aim_low, aim_high; ///< an aim drawn as a bracket; unknown or 0,0: none
};
struct figure_bars {
    struct figure_head head;
    const struct figure_bar *bars;
    size_t n_bars;
    const char *unit;
    int digits;
    bool by_layer; ///< head each layer with its mark, name and sum
};
struct drawing *figure_bars(const struct figure_bars *figure);

/// Counts of values in classes; `values` unknown are counted in the foot. `classes` 0: by Freedman & Diaconis 1981.
struct figure_histogram {
    struct figure_head head;
    const double *values;
    size_t n;
    int classes;
    double mark_x; ///< used where mark_words is not NULL
    const char *mark_words;
};
struct drawing *figure_histogram(const struct figure_histogram *figure);

/// A property by depth; layers top first.
struct figure_layer {
    double top_cm, bottom_cm;
    struct draw_value value;
    const char *words; ///< texture, colour: written in the layer; may be NULL
};
struct figure_profile_line {
    const char *name; ///< such as "before works"
    const struct figure_layer *layers;
    size_t n;
};
struct figure_profile {
    struct figure_head head;
    const struct figure_profile_line *lines;
    size_t n_lines;
    double mark_x;
    const char *mark_words; ///< such as "roots held back above 2 MPa"; NULL: no line
};
/// Soil profile: depth downwards from the mineral surface.
struct drawing *figure_profile(const struct figure_profile *figure);

/// A span of days on a row. `state`: 0 foreseen (outline), 1 done (filled), 2 partly (half hatched), 3 skipped (crossed).
struct figure_span {
    size_t row;
    int32_t from, to;
    int state;
    const char *words; ///< may be NULL
};
struct figure_calendar {
    struct figure_head head;
    const char *const *rows;
    size_t n_rows;
    const struct figure_span *spans;
    size_t n_spans;
    int32_t from, to; ///< first and last day shown
    int32_t today;    ///< a line; DATE_UNKNOWN: none
};
struct drawing *figure_calendar(const struct figure_calendar *figure);

/// Values by square of a plot; values[row * columns + column]; unknown squares are hatched, squares outside left out.
struct figure_cells {
    struct figure_head head;
    size_t rows, columns;
    const double *values;
    const bool *outside; ///< NULL: none
    const char *unit;
    int digits;
    bool write_values; ///< the number in the square as well as the tint
};
struct drawing *figure_cells(const struct figure_cells *figure);

/// One plant of a wood as it is drawn.
struct figure_crown {
    double x_m, y_m, height_m, base_m, radius_m, stem_m; ///< base: lowest living branch; stem: thickness
    int layer;                                           ///< 1 canopy … 5 ground; 0 unknown
};
struct figure_crown_panel {
    const char *name; ///< such as "year 10"
    const struct figure_crown *crowns;
    size_t n;
    const char *note; ///< beside the name from above; NULL: how many live
};
struct figure_crowns {
    struct figure_head head;
    const struct figure_crown_panel *panels;
    size_t n_panels;
    struct box ground;           ///< what is shown; from the side its x range alone
    const struct shape *outline; ///< of the plot, from above; may be NULL
    bool side;                   ///< a cross-section, else a plan view
};
/// A wood from the side or from above, a panel for each year, all to one scale.
struct drawing *figure_crowns(const struct figure_crowns *figure);
#endif
