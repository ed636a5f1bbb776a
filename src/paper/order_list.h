/* SPDX-License-Identifier: GPL-3.0-or-later
 * The order list for a nursery, to print and as a workbook. */
#ifndef SPINNEY_PAPER_ORDER_LIST_H
#define SPINNEY_PAPER_ORDER_LIST_H
#include "paper/document.h"

struct order_list_line {
    const char *species, *local, *stock, *size_cm, *provenance; ///< NULL: not stated
    int layer;
    int64_t needed, reserve, bundle, ordered; ///< plants; INT_UNKNOWN: not known
    double unit_price;                        ///< without tax
    const char *deliver_by, *substitution, *health, *note;
};
struct order_list {
    const char *programme, *organisation, *supplier, *currency, *contact;
    int32_t date;
    const struct order_list_line *lines;
    size_t n_lines;
    const char *const *terms; ///< paragraphs under the table
    size_t n_terms;
};
/// The document (PDF and HTML by document_pdf, document_html); release with document_free.
struct document *order_list_document(const struct order_list *list);
/// A workbook with one sheet of lines and one of conditions; sums are formulas, everything else values.
enum outcome order_list_xlsx(const struct order_list *list, struct text *out, struct failure *why);
#endif
