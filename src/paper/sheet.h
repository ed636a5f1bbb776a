/* SPDX-License-Identifier: GPL-3.0-or-later
 * Workbooks (Office Open XML, ECMA-376) in memory, for the files of paper/. Text is always written as text: nothing
 * that a person typed can become a formula. */
#ifndef SPINNEY_PAPER_SHEET_H
#define SPINNEY_PAPER_SHEET_H
#include "base/base.h"

struct book;
struct sheet;
struct book *book_new(const char *title, const char *author, int32_t date);
/// A sheet of this name, made to fit what workbooks allow (31 characters, none of []:*?/\, no name twice).
struct sheet *sheet_new(struct book *book, const char *name);
void sheet_head(struct sheet *sheet, int column, const char *words, double width);
void sheet_text(struct sheet *sheet, int row, int column, const char *words);      ///< NULL: left empty
void sheet_number(struct sheet *sheet, int row, int column, double x, int digits); ///< unknown: left empty
void sheet_formula(struct sheet *sheet, int row, int column, const char *formula, double value, int digits);
/// Write the whole and free it. Bytes depend only on the content.
enum outcome book_close(struct book *book, struct text *out, struct failure *why);
#endif
