/* SPDX-License-Identifier: GPL-3.0-or-later
 * A table of an archive whose columns are terms of a standard: rows of cells, and its description in meta.xml. */
#ifndef SPINNEY_EXCHANGE_TERM_SHEET_H
#define SPINNEY_EXCHANGE_TERM_SHEET_H
#include "exchange/inside.h"

struct term_sheet {
    const char *file;         ///< such as event.csv
    const char *row_type;     ///< IRI of what a row is
    const char *const *terms; ///< names with their prefix (dwc:, dcterms:, eco:, obis:), ended by NULL; the first is the key
    size_t n_rows, at;
    struct text csv;
};

void terms_begin(struct term_sheet *sheet, const char *file, const char *row_type, const char *const *terms);
/// Fill cells from the left; blank: not known or does not apply. Every row must be ended when it is full.
void terms_cell(struct term_sheet *sheet, const char *cell);
void terms_number(struct term_sheet *sheet, double value, int digits); ///< NaN: blank; digits −1: shortest that reads back
void terms_end_row(struct term_sheet *sheet);
/// The `core` or `extension` element of meta.xml (Darwin Core text guidelines, TDWG 2009).
void terms_meta(const struct term_sheet *sheet, bool core, struct text *out);
/// XML text with its five special characters escaped; characters that XML 1.0 does not know become blanks.
void xml_add(struct text *out, const char *words);
#endif
