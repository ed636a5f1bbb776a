/* SPDX-License-Identifier: GPL-3.0-or-later
 * Within paper/: the sets of rows behind numbers on a page of HTML. */
#ifndef SPINNEY_PAPER_HTML_ROWS_H
#define SPINNEY_PAPER_HTML_ROWS_H
#include "paper/document.h"

/// The sets of a document and how many links lead to each so far.
struct html_rows {
    const struct document *document;
    size_t *uses; ///< [n_rows]; the k-th link to set N has the anchor "uN-k"
};
/// Text with what means something in HTML escaped.
void html_escaped(struct text *out, const char *words);
/// All sets that are used, each with the way back, what it selects, and its rows folded.
void html_rows_add(struct text *out, const struct html_rows *sets);
#endif
