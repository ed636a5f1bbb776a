/* SPDX-License-Identifier: GPL-3.0-or-later
 * Comma-separated text (RFC 4180) in and out, over libcsv. */
#ifndef SPINNEY_BASE_CSV_H
#define SPINNEY_BASE_CSV_H
#include "base/memory.h"
#include "base/outcome.h"
#include "base/text.h"

/// A table of text as it stood in a file. Rows may differ in length; a cell that is not there is NULL.
struct csv_table {
    const char *file;    ///< name for messages
    size_t rows;         ///< rows read, the header among them if there is one
    size_t widest;       ///< cells of the longest row
    const char ***cells; ///< cells[row][column], UTF-8
    size_t *widths;      ///< cells of each row
    long *lines;         ///< line of the file where each row began, from 1
};

/// Read `n` bytes with this delimiter. A UTF-8 mark at the start is passed over. Refuses NUL bytes and more than
/// `most_rows` rows (0: 20 million). The arena owns everything.
enum outcome csv_read(const char *file, const char *bytes, size_t n, char delimiter, size_t most_rows, struct arena *arena,
                      struct csv_table *out, struct failure *why);
/// A whole file read into memory; `most` bytes at the most (0: 1 GiB). The arena owns it, ended by NUL.
enum outcome file_read(const char *path, size_t most, struct arena *arena, char **out, size_t *n, struct failure *why);
/// Write so that the file is whole or not there: beside it first, then renamed over.
enum outcome file_write(const char *path, const void *bytes, size_t n, struct failure *why);
/// Cell by row and column; NULL outside.
const char *csv_cell(const struct csv_table *table, size_t row, size_t column);
/// Column of a header cell (row 0), or SIZE_MAX.
size_t csv_column(const struct csv_table *table, const char *name);
/// Add one cell with quotes where needed; `first` is false when a delimiter goes before it. Cells that a spreadsheet
/// would take for a formula (= + - @ at the start of text) are led by an apostrophe when `guard` is true.
void csv_add(struct text *out, const char *cell, bool first, bool guard);
#endif
