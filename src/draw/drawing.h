/* SPDX-License-Identifier: GPL-3.0-or-later
 * A drawing: ink on paper as a list of strokes, fills and words, that comes out the same as SVG, PDF and PNG.
 *
 * All lengths are points (1/72 inch), x to the right, y down. Colour is named by what it is for (enum ink), so that the
 * screen can have a night ground. A drawing belongs to one thread at a time; several threads may have one each. */
#ifndef SPINNEY_DRAW_DRAWING_H
#define SPINNEY_DRAW_DRAWING_H
#include "base/base.h"

struct _cairo; ///< cairo_t of cairo.h, so that this header needs no library

#define DRAW_PT_MM (72.0 / 25.4) ///< points in a millimetre

/// What ink is for. Colours are from Okabe & Ito 2008 ("Color universal design") but ink, soft, faint and paper.
enum ink {
    INK_NONE,      ///< not drawn
    INK_TEXT,      ///< words and main lines
    INK_SOFT,      ///< lesser words, axis lines
    INK_FAINT,     ///< guide lines
    INK_PAPER,     ///< the ground
    INK_WASH,      ///< a light tint of the ground: bands, table stripes
    INK_ACCENT,    ///< asks for action (blue)
    INK_CAUTION,   ///< be careful (vermillion)
    INK_CANOPY,    ///< bluish green
    INK_SUBCANOPY, ///< sky blue
    INK_SHRUB,     ///< reddish purple
    INK_CLIMBER,   ///< yellow
    INK_GROUND,    ///< orange
    INK_GROUP_1,   ///< blue
    INK_GROUP_2,   ///< black
    INK_GROUP_3,   ///< bluish green
    INK_GROUP_4,   ///< reddish purple
    INK_COUNT
};

/// Lines of groups are told apart by their dashes first: 1 solid, 2 dashed, 3 dotted, 4 dash and dot.
enum dash { DASH_SOLID, DASH_DASHED, DASH_DOTTED, DASH_DASH_DOT };

/// How something is drawn: stroke, fill or both.
struct pen {
    enum ink stroke, fill;
    double width_pt; ///< of the stroke; 0: 0.75
    enum dash dash;
    double fill_share; ///< opacity of the fill, 0 … 1; 0: 1
};

enum anchor { ANCHOR_START, ANCHOR_MIDDLE, ANCHOR_END };

/// How words are set. One humanist sans (Open Sans) in four sizes; figures are tabular.
struct lettering {
    double size_pt; ///< 0: 9
    enum ink ink;   ///< INK_NONE: INK_TEXT
    enum anchor anchor;
    bool bold, italic;
    double turn_deg; ///< anticlockwise, about the anchor
    bool halo;       ///< a rim of paper around the letters, for words over lines
};
enum { TEXT_SMALL = 7, TEXT_BODY = 9, TEXT_LARGE = 12, TEXT_TITLE = 16 }; ///< the four sizes, points

struct drawing;

/// An empty drawing. `title` and `about` are its text alternative (SVG title and desc); copied.
struct drawing *drawing_new(double width_pt, double height_pt, const char *title, const char *about);
void drawing_free(struct drawing *drawing);
double drawing_width_pt(const struct drawing *drawing);
double drawing_height_pt(const struct drawing *drawing);
void drawing_resize(struct drawing *drawing, double width_pt, double height_pt); ///< what is drawn stays where it is
const char *drawing_title(const struct drawing *drawing);
const char *drawing_about(const struct drawing *drawing);
void drawing_set_about(struct drawing *drawing, const char *about);

/* Strokes. */
void draw_line(struct drawing *drawing, double x1, double y1, double x2, double y2, struct pen pen);
void draw_box(struct drawing *drawing, double x, double y, double width, double height, struct pen pen);
void draw_disc(struct drawing *drawing, double x, double y, double radius, struct pen pen);
/// `n` points, x and y by turns; closed where asked.
void draw_polyline(struct drawing *drawing, const double *xy, size_t n, bool closed, struct pen pen);
/// A path of several rings filled by the even-odd rule: `ends[i]` is the count of points up to the end of ring i.
void draw_rings(struct drawing *drawing, const double *xy, const size_t *ends, size_t n_rings, struct pen pen);
/// Parallel lines inside rings, `gap` apart at `turn_deg`; the rings themselves are not drawn.
void draw_hatch(struct drawing *drawing, const double *xy, const size_t *ends, size_t n_rings, double turn_deg, double gap, struct pen pen);
/// Keep everything until draw_clip_end inside a box. Not nested.
void draw_clip(struct drawing *drawing, double x, double y, double width, double height);
void draw_clip_end(struct drawing *drawing);
/// A named group: an id-less <g> with a class in SVG, so that a page can reach its parts. May be nested.
void draw_group(struct drawing *drawing, const char *name);
void draw_group_end(struct drawing *drawing);

/* Words. `y` is the base line. */
void draw_text(struct drawing *drawing, double x, double y, struct lettering lettering, const char *words);
double draw_text_width(struct drawing *drawing, struct lettering lettering, const char *words);
/// Words over lines of at most `width`; returns the base line after the last. `leading` 0: 1.35 of the size.
double draw_text_wrapped(struct drawing *drawing, double x, double y, double width, double leading, struct lettering lettering,
                         const char *words);
/// Words cut with an ellipsis to fit `width`.
void draw_text_fitted(struct drawing *drawing, double x, double y, double width, struct lettering lettering, const char *words);

/// The mark of a layer, told by shape and weight first: canopy a filled disc, subcanopy a heavy square ring, shrub a
/// triangle, climber a diamond, ground a plus; 0 a small ring. `layer` is the model's order (1 canopy … 5 ground).
void draw_layer_mark(struct drawing *drawing, int layer, double x, double y, double radius);
const char *layer_mark_words(int layer); ///< "filled disc", for the legend's text alternative

/* Outputs: bytes repeatable for the same drawing and fonts. */
/// SVG text with real words, title and desc. No style block, no id, no outside request: colours are attributes, and
/// classes f-NAME and s-NAME (draw_stylesheet) let a page change them. Width and height in points where `sized`.
void drawing_svg(const struct drawing *drawing, bool sized, struct text *out);
/// A drawing from the SVG that drawing_svg wrote (that dialect only). NULL with a failure for anything else.
struct drawing *drawing_from_svg(const char *svg, size_t n, struct failure *why);
/// PNG at this resolution; `grey` as a grey photocopy would show it.
enum outcome drawing_png(const struct drawing *drawing, double dots_per_inch, bool grey, struct text *out, struct failure *why);
/// One PDF page of the drawing's size.
enum outcome drawing_pdf(const struct drawing *drawing, struct text *out, struct failure *why);
/// Paint at the origin of a Cairo context whose unit is the point.
void drawing_paint(const struct drawing *drawing, struct _cairo *cairo);

/// Style rules for a page that shows the SVG: names of inks as CSS variables --ink-NAME, by day and by night.
void draw_stylesheet(struct text *out);
const char *ink_name(enum ink ink); ///< "text", "accent", …
void ink_rgb(enum ink ink, bool night, double rgb[3]);
#endif
