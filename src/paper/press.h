/* SPDX-License-Identifier: GPL-3.0-or-later
 * The page engine, for the files of paper/: where the pen is, words in lines, tables over pages. */
#ifndef SPINNEY_PAPER_PRESS_H
#define SPINNEY_PAPER_PRESS_H
#include "paper/document.h"
#include <pango/pangocairo.h>

#define PAGE_SHORT_PT 595.28 ///< A4, ISO 216
#define PAGE_LONG_PT 841.89
enum { MARGIN_PT = 40, HEAD_PT = 22, FOOT_PT = 22 };

struct press {
    const struct document *document;
    cairo_surface_t *surface;
    cairo_t *cr;
    PangoContext *context;
    double width, height, left, right, top, bottom; ///< of the page and of the room for text
    double y;                                       ///< where the next part begins
    size_t page, pages;                             ///< pages: counted in a first run, 0 until then
    bool landscape, open;                           ///< open: a page has been begun
    size_t *used_on;                                ///< page that leads to each set of rows first, from the first run
    const char **anchors;                           ///< of the document, so that no link leads nowhere
    struct arena arena;                             ///< of this run
    size_t n_anchors, n_headings;
    int outline[4];
    struct failure *why;
    enum outcome outcome;
};

/// How words are set.
struct setting {
    double size;
    enum ink ink;
    bool bold, italic;
    enum cell_align align;
};
void press_page(struct press *press, bool landscape); ///< end the page and begin another
void press_room(struct press *press, double height);  ///< begin another page where this much does not fit
bool press_at_top(const struct press *press);
void press_ink(struct press *press, enum ink ink);
void press_rule(struct press *press, double x1, double x2, double y, enum ink ink, double width);
/// Runs as one layout `width` wide (0: as wide as the words). The caller unrefs it.
PangoLayout *press_layout(struct press *press, const struct document_run *runs, size_t n, struct setting setting, double width);
PangoLayout *press_words(struct press *press, const char *words, struct setting setting, double width);
double layout_height(PangoLayout *layout);
double layout_width(PangoLayout *layout);
/// Draw lines `from` … `to` - 1 of a layout with its top at y; links of `runs` become links. Returns the height used.
double press_lines(struct press *press, PangoLayout *layout, int from, int to, double x, double y, const struct document_run *runs,
                   size_t n_runs);
/// Draw the whole of it, over pages where needed; moves y.
void press_flow(struct press *press, PangoLayout *layout, double x, const struct document_run *runs, size_t n_runs);
void press_tag(struct press *press, const char *tag);
void press_tag_end(struct press *press, const char *tag);
/// A place that links lead to, at the pen.
void press_anchor(struct press *press, const char *anchor, double x, double y);
void press_link(struct press *press, const char *link, double x, double y, double width, double height);
void press_mark(struct press *press, int layer, double x, double y, double radius);
void press_table(struct press *press, const struct document_table *table);
void press_used(struct press *press, int64_t rows); ///< a number that leads to a set of rows stands on this page
void press_rows(struct press *press);               ///< the sets of rows behind the numbers
char *press_valid(const char *words);               ///< g_free it
#endif
