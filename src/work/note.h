/* SPDX-License-Identifier: GPL-3.0-or-later
 * A note: what a job answers. A sentence that answers the question, figures, tables with units, what to be careful of,
 * what is not known, where it comes from. The command line prints it, the workbench shows it, documents take it in. */
#ifndef SPINNEY_WORK_NOTE_H
#define SPINNEY_WORK_NOTE_H
#include "base/base.h"
#include <jansson.h>

/* A note is a JSON object, so that every face has the same thing:
 *   answer    text: the one sentence
 *   sections  [ {title, text?, table?, figure?} … ] in reading order
 *     table   {columns: [{name, title, unit, digits?}], rows: [[cell …] …]}; a cell is null (unknown), number or text
 *     figure  {title, svg, alt}
 *   cautions  [ {code, words, defer} … ]
 *   unknown   [ text … ]  what is not known or not checked
 *   sources   [ text … ]
 *   written   [ {kind, path} … ] files that were written
 *   data      the same in full precision, for other programs
 *   step      id of the step in the change log, where something was changed */

json_t *note_new(void);
void note_answer(json_t *note, const char *format, ...) __attribute__((format(printf, 2, 3)));
/// Start a section; returns it (borrowed).
json_t *note_section(json_t *note, const char *title);
void section_text(json_t *section, const char *format, ...) __attribute__((format(printf, 2, 3)));
/// Start the table of a section; returns it (borrowed). Columns first, then rows.
json_t *section_table(json_t *section);
/// `digits` after the point when shown; −1: as it is.
void table_column(json_t *table, const char *name, const char *title, const char *unit, int digits);
/// A new empty row (borrowed); fill from the left.
json_t *table_row(json_t *table);
void row_text(json_t *row, const char *cell); ///< NULL: unknown
void row_print(json_t *row, const char *format, ...) __attribute__((format(printf, 2, 3)));
void row_number(json_t *row, double cell);   ///< NaN: unknown
void row_integer(json_t *row, int64_t cell); ///< INT_UNKNOWN: unknown
void section_figure(json_t *section, const char *title, const char *svg, const char *alt);
void note_caution(json_t *note, const char *code, const char *words, const char *defer);
void note_unknown(json_t *note, const char *format, ...) __attribute__((format(printf, 2, 3)));
void note_source(json_t *note, const char *format, ...) __attribute__((format(printf, 2, 3)));
void note_written(json_t *note, const char *kind, const char *path);
/// The object under "data" (borrowed), made when first asked for.
json_t *note_data(json_t *note);

/// The note as plain text for a terminal `width` columns wide. Figures are named, not drawn.
void note_print(const json_t *note, int width, struct text *out);
#endif
