/* SPDX-License-Identifier: GPL-3.0-or-later
 * A note: what a job answers. A sentence that answers the question, figures, tables with units, what to be careful of,
 * what is not known, where it comes from. The command line prints it, the workbench shows it, documents take it in. */
#ifndef SPINNEY_WORK_NOTE_H
#define SPINNEY_WORK_NOTE_H
#include "model/model.h"
#include <jansson.h>

/* A note is a JSON object, so that every face has the same thing:
 *   answer    text: the one sentence
 *   sections  [ {title, text?, table?, figure?} … ] in reading order
 *     table   {columns: [{name, title, unit, digits?}], rows: [[cell …] …]}; a cell is null (unknown), number or text
 *             behind  [[set or null …] …] beside rows, where cells lead to the rows they were computed from
 *     figure  {title, svg, alt, behind?: set}
 *     text    lines; text_behind [set or null …] beside them
 *   cautions  [ {code, words, defer} … ]
 *   unknown   [ text … ]  what is not known or not checked
 *   sources   [ text … ]
 *   written   [ {kind, path} … ] files that were written
 *   data      the same in full precision, for other programs
 *   rows      [ {set, noun, where, count} | {set, of: [set …], count} … ] the sets of rows behind numbers: a selection as
 *             `spinney rows` takes it (work/rows.h), or several sets together; answer_behind is that of the answer
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
/// Name the rows that a number was computed from, by kind and selection (work/rows.h); `count` of them, INT_UNKNOWN where not
/// counted. Returns the number of the set, the same for the same selection; sets are counted from 1.
int64_t note_rows(json_t *note, enum noun noun, const char *where, int64_t count);
/// Several sets together as one; 0 among them is passed over, and of one set it is that set. Returns 0 where none is left.
int64_t note_rows_of(json_t *note, const int64_t *sets, size_t n);
/// Tie the last cell of the last row of a table to a set; 0: not.
void cell_behind(json_t *table, int64_t set);
/// Tie the last `n` cells of the last row to one set.
void cells_behind(json_t *table, size_t n, int64_t set);
/// Tie every cell of the last row that holds a figure and leads nowhere yet, but the first.
void figures_behind(json_t *table, int64_t set);
/// The same for every row that begins with these words (NULL: every row).
void table_behind(json_t *table, const char *first, int64_t set);
/// Whatever of a section holds a figure and leads nowhere yet: cells, lines of text, the drawing.
void section_behind(json_t *section, int64_t set);
/// The same for the answer and every section of a note.
void note_behind(json_t *note, int64_t set);
/// Add a line to a section's text with the set that its numbers come from (0: none).
void section_line(json_t *section, int64_t set, const char *format, ...) __attribute__((format(printf, 3, 4)));
void figure_behind(json_t *section, int64_t set);
void answer_behind(json_t *note, int64_t set);
/// Beside a value of the data: its set under "behind".
void data_behind(json_t *object, const char *key, int64_t set);

/// The object under "data" (borrowed), made when first asked for.
json_t *note_data(json_t *note);

/// Drop what a note only needs while it is made; job_run does so.
void note_close(json_t *note);
/// The note as plain text for a terminal `width` columns wide. Figures are named, not drawn.
void note_print(const json_t *note, int width, struct text *out);
#endif
