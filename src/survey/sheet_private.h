/* SPDX-License-Identifier: GPL-3.0-or-later
 * What the two readers of tables share. */
#ifndef SPINNEY_SURVEY_SHEET_PRIVATE_H
#define SPINNEY_SURVEY_SHEET_PRIVATE_H
#include "survey/survey.h"

enum { MOST_SHEETS = 64, MOST_COLUMNS = 4096, MOST_ROWS = 2000000 };
enum { MOST_CELLS = 60000000 };

/// A sheet being built on the heap, moved into the arena when done.
struct sheet_build {
    struct arena *arena;
    struct sheet_cell **cells;
    size_t *widths;
    long *lines;
    size_t rows, cells_room, widths_room, lines_room;
    size_t total;           ///< cells so far
    struct sheet_cell *row; ///< the row being filled
    size_t width, row_room;
    const char *notes[32];
    size_t n_notes;
};
/// Put a cell at `column` of the row being filled, with empty ones before it. False beyond the limits.
bool build_cell(struct sheet_build *build, size_t column, struct sheet_cell cell);
/// End the row being filled; `line` is its place in the file. False beyond the limits.
bool build_row(struct sheet_build *build, long line);
void build_note(struct sheet_build *build, const char *format, ...) __attribute__((format(printf, 2, 3)));
/// Move into the arena and free the heap; the build is empty afterwards.
struct record_sheet build_done(struct sheet_build *build);
void build_free(struct sheet_build *build);
/// SHEET_EMPTY, SHEET_NUMBER or SHEET_TEXT by how the text looks.
enum sheet_cell_kind text_kind(const char *text);

enum outcome delimited_read(const char *file, const char *bytes, size_t n, struct arena *arena, struct workbook *out, struct failure *why);
enum outcome xlsx_read(const char *file, const char *bytes, size_t n, struct arena *arena, struct workbook *out, struct failure *why);
#endif
