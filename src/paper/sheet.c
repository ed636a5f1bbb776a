/* SPDX-License-Identifier: GPL-3.0-or-later
 * Workbooks in memory, over libxlsxwriter. */
#include "paper/sheet.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include <xlsxwriter.h>

enum { MOST_CELL = 32767, MOST_SHEETS = 250 }; /* limits of the format */

struct sheet {
    struct book *book;
    lxw_worksheet *sheet;
    char name[32];
};

struct book {
    struct arena arena;
    lxw_workbook *book;
    char path[64];
    lxw_format *strong, *numbers[5];
    struct sheet *sheets[MOST_SHEETS];
    size_t n;
};

struct book *book_new(const char *title, const char *author, int32_t date)
{
    struct book *book = memory_get(1, sizeof *book);
    *book = (struct book){0};
    snprintf(book->path, sizeof book->path, "/tmp/spinney-book-XXXXXX");
    int file = mkstemp(book->path);
    if (file >= 0)
        close(file);
    else
        book->path[0] = '\0';
    if (book->path[0] == '\0')
        return book;
    book->book = workbook_new(book->path);
    /* The day of the document, at midnight: the moment of writing would make each copy differ. */
    lxw_doc_properties properties = {.title = arena_text(&book->arena, title == NULL ? "" : title),
                                     .author = arena_text(&book->arena, author == NULL ? "" : author),
                                     .created = date == DATE_UNKNOWN ? 86400 : (time_t)date * 86400};
    workbook_set_properties(book->book, &properties);
    book->strong = workbook_add_format(book->book);
    format_set_bold(book->strong);
    format_set_bottom(book->strong, LXW_BORDER_THIN);
    static const char *const forms[] = {"0", "0.0", "0.00", "0.000", "0.0000"};
    for (int i = 0; i < 5; i++) {
        book->numbers[i] = workbook_add_format(book->book);
        format_set_num_format(book->numbers[i], forms[i]);
    }
    return book;
}

static bool name_taken(const struct book *book, const char *name)
{
    for (size_t i = 0; i < book->n; i++)
        if (text_same_nocase(book->sheets[i]->name, name))
            return true;
    return false;
}

struct sheet *sheet_new(struct book *book, const char *name)
{
    struct sheet *sheet = arena_alloc(&book->arena, sizeof *sheet);
    sheet->book = book;
    if (book->book == NULL || book->n == MOST_SHEETS)
        return sheet;
    /* ASCII letters, digits, spaces and dashes are allowed everywhere; the rest become dashes. */
    size_t n = 0;
    for (const char *at = name == NULL ? "" : name; *at != '\0' && n < 27; at++) {
        bool fine = (*at >= '0' && *at <= '9') || (*at >= 'A' && *at <= 'Z') || (*at >= 'a' && *at <= 'z') || *at == ' ' || *at == '-' ||
                    *at == '_';
        if (fine || n == 0 || sheet->name[n - 1] != '-')
            sheet->name[n++] = fine ? *at : '-';
    }
    if (n == 0)
        snprintf(sheet->name, sizeof sheet->name, "table");
    char plain[28];
    snprintf(plain, sizeof plain, "%.27s", sheet->name);
    for (unsigned again = 2; name_taken(book, sheet->name) && again < 1000; again++)
        snprintf(sheet->name, sizeof sheet->name, "%.26s %u", plain, again);
    sheet->sheet = workbook_add_worksheet(book->book, sheet->name);
    book->sheets[book->n++] = sheet;
    if (sheet->sheet != NULL)
        worksheet_freeze_panes(sheet->sheet, 1, 0);
    return sheet;
}

static lxw_row_t at_row(int row)
{
    return (lxw_row_t)row;
}

static lxw_col_t at_column(int column)
{
    return (lxw_col_t)column;
}

void sheet_head(struct sheet *sheet, int column, const char *words, double width)
{
    if (sheet->sheet == NULL)
        return;
    worksheet_write_string(sheet->sheet, 0, at_column(column), words == NULL ? "" : words, sheet->book->strong);
    worksheet_set_column(sheet->sheet, at_column(column), at_column(column), width, NULL);
}

void sheet_text(struct sheet *sheet, int row, int column, const char *words)
{
    if (sheet->sheet == NULL || words == NULL)
        return;
    if (strlen(words) > MOST_CELL)
        words = arena_text_n(&sheet->book->arena, words, MOST_CELL - 4);
    worksheet_write_string(sheet->sheet, at_row(row), at_column(column), words, NULL);
}

static lxw_format *number_form(const struct book *book, int digits)
{
    return digits < 0 ? NULL : book->numbers[digits > 4 ? 4 : digits];
}

void sheet_number(struct sheet *sheet, int row, int column, double x, int digits)
{
    if (sheet->sheet != NULL && is_known(x))
        worksheet_write_number(sheet->sheet, at_row(row), at_column(column), x, number_form(sheet->book, digits));
}

void sheet_formula(struct sheet *sheet, int row, int column, const char *formula, double value, int digits)
{
    if (sheet->sheet != NULL)
        worksheet_write_formula_num(sheet->sheet, at_row(row), at_column(column), formula, number_form(sheet->book, digits), value);
}

enum outcome book_close(struct book *book, struct text *out, struct failure *why)
{
    enum outcome outcome = OUTCOME_OK;
    struct arena arena = {0};
    char *bytes = NULL;
    size_t n = 0;
    if (book->book == NULL) {
        outcome = fail(why, OUTCOME_SYSTEM, "The workbook could not be written: no temporary file can be made in /tmp.");
    } else {
        lxw_error error = workbook_close(book->book);
        if (error != LXW_NO_ERROR)
            outcome = fail(why, OUTCOME_SYSTEM, "The workbook could not be written: %s", lxw_strerror(error));
        else
            outcome = file_read(book->path, 0, &arena, &bytes, &n, why);
        if (outcome == OUTCOME_OK)
            text_add_n(out, bytes, n);
        unlink(book->path);
    }
    arena_clear(&arena);
    arena_clear(&book->arena);
    free(book);
    return outcome;
}
