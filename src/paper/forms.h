/* SPDX-License-Identifier: GPL-3.0-or-later
 * Blank forms for the field: census sheets by square, card reconciliation, sign-in. */
#ifndef SPINNEY_PAPER_FORMS_H
#define SPINNEY_PAPER_FORMS_H
#include "paper/document.h"

/// What stands at the head of every form.
struct form_head {
    const char *title, *version; ///< "Annual census", "form 1"
    const char *programme, *site, *plot;
    int32_t date;              ///< of printing
    const char *const *fields; ///< lines to write on, such as "Date", "Observers", "Start", "End"
    size_t n_fields;
    const char *const *rules; ///< how to fill it in
    size_t n_rules;
};
struct form_column {
    const char *title, *unit;
    double weight; ///< share of the width
};
/// A general form: rows with printed cells (NULL: empty to write in), then `blank_rows` empty ones.
struct form {
    struct form_head head;
    const struct form_column *columns;
    size_t n_columns;
    const char *const *cells; ///< cells[row * n_columns + column]
    size_t n_rows, blank_rows;
    bool landscape;
};
struct document *form_document(const struct form *form);

/// A plant to be recorded, in walking order.
struct census_plant {
    const char *cell;
    int number;
    const char *species, *tag, *last_state; ///< NULL: none
    int layer;
    double last_height_cm; ///< unknown where there is none
};
struct census_sheet {
    struct form_head head;
    const struct census_plant *plants;
    size_t n_plants;
    bool first;        ///< as planted: no last height
    bool show_last;    ///< last height on the sheet; blind where false
    size_t spare_rows; ///< for natural arrivals and finds
};
/// Census sheet: a row for every plant by square, with room for what was seen.
struct document *census_sheet_document(const struct census_sheet *sheet);
/// Card reconciliation: every square once, issued, returned, planted, left over; sums to fill in.
struct document *reconciliation_document(const struct form_head *head, const char *const *codes, const int64_t *plants, size_t n);
/// Sign-in with no more about people than needed.
struct document *sign_in_document(const struct form_head *head, size_t rows);
#endif
