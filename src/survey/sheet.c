/* SPDX-License-Identifier: GPL-3.0-or-later
 * Tables of text: telling the kind of file, building a sheet, looking into it. */
#include "survey/sheet_private.h"
#include <ctype.h>
#include <sodium.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

const struct sheet_cell *record_sheet_at(const struct record_sheet *sheet, size_t row, size_t column)
{
    return row < sheet->rows && column < sheet->widths[row] ? &sheet->cells[row][column] : NULL;
}

const char *record_sheet_text(const struct record_sheet *sheet, size_t row, size_t column)
{
    const struct sheet_cell *cell = record_sheet_at(sheet, row, column);
    return cell == NULL || text_blank(cell->text) ? NULL : cell->text;
}

enum sheet_cell_kind text_kind(const char *text)
{
    if (text_blank(text))
        return SHEET_EMPTY;
    const char *p = text;
    while (*p == ' ')
        p++;
    if (*p == '-' || *p == '+')
        p++;
    bool digit = false, point = false;
    for (; isdigit((unsigned char)*p) || (*p == '.' && !point); p++) {
        digit = digit || *p != '.';
        point = point || *p == '.';
    }
    if (digit && (*p == 'e' || *p == 'E') &&
        (isdigit((unsigned char)p[1]) || ((p[1] == '-' || p[1] == '+') && isdigit((unsigned char)p[2]))))
        for (p += 2; isdigit((unsigned char)*p);)
            p++;
    while (*p == ' ')
        p++;
    return digit && *p == '\0' ? SHEET_NUMBER : SHEET_TEXT;
}

bool build_cell(struct sheet_build *build, size_t column, struct sheet_cell cell)
{
    if (column >= MOST_COLUMNS)
        return false;
    while (build->width <= column) {
        build->row = column_room(build->row, build->width, &build->row_room, sizeof *build->row);
        build->row[build->width++] = (struct sheet_cell){0};
    }
    build->row[column] = cell;
    return true;
}

bool build_row(struct sheet_build *build, long line)
{
    if (build->rows >= MOST_ROWS || build->total + build->width > MOST_CELLS)
        return false;
    build->cells = column_room(build->cells, build->rows, &build->cells_room, sizeof *build->cells);
    build->widths = column_room(build->widths, build->rows, &build->widths_room, sizeof *build->widths);
    build->lines = column_room(build->lines, build->rows, &build->lines_room, sizeof *build->lines);
    struct sheet_cell *row = arena_array(build->arena, build->width, sizeof *row);
    if (build->width > 0)
        memcpy(row, build->row, build->width * sizeof *row);
    build->cells[build->rows] = row;
    build->widths[build->rows] = build->width;
    build->lines[build->rows] = line;
    build->rows++;
    build->total += build->width;
    build->width = 0;
    return true;
}

void build_note(struct sheet_build *build, const char *format, ...)
{
    if (build->n_notes >= sizeof build->notes / sizeof *build->notes)
        return;
    char words[FAILURE_TEXT];
    va_list list;
    va_start(list, format);
    vsnprintf(words, sizeof words, format, list);
    va_end(list);
    build->notes[build->n_notes++] = arena_text(build->arena, words);
}

void build_free(struct sheet_build *build)
{
    free(build->cells);
    free(build->widths);
    free(build->lines);
    free(build->row);
    struct arena *arena = build->arena;
    *build = (struct sheet_build){.arena = arena};
}

static void *moved(struct arena *arena, const void *from, size_t n, size_t size)
{
    void *to = arena_array(arena, n, size);
    if (n > 0)
        memcpy(to, from, n * size);
    return to;
}

struct record_sheet build_done(struct sheet_build *build)
{
    struct record_sheet sheet = {.name = "", .encoding = "", .rows = build->rows};
    sheet.cells = moved(build->arena, build->cells, build->rows, sizeof *sheet.cells);
    sheet.widths = moved(build->arena, build->widths, build->rows, sizeof *sheet.widths);
    sheet.lines = moved(build->arena, build->lines, build->rows, sizeof *sheet.lines);
    sheet.notes = moved(build->arena, build->notes, build->n_notes, sizeof *sheet.notes);
    sheet.n_notes = build->n_notes;
    for (size_t i = 0; i < sheet.rows; i++)
        if (sheet.widths[i] > sheet.widest)
            sheet.widest = sheet.widths[i];
    build_free(build);
    return sheet;
}

enum outcome workbook_read(const char *file, const char *bytes, size_t n, struct arena *arena, struct workbook *out, struct failure *why)
{
    if (n == 0) {
        fail(why, OUTCOME_DATA, "The file is empty.");
        failure_at(why, file, 0, NULL);
        return failure_remedy(why, "Check that it was saved, and choose it again.");
    }
    struct workbook book = {0};
    enum outcome outcome = OUTCOME_OK;
    if (n >= 4 && memcmp(bytes, "PK\003\004", 4) == 0) {
        outcome = xlsx_read(file, bytes, n, arena, &book, why);
    } else if (n >= 8 && memcmp(bytes, "\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1", 8) == 0) {
        fail(why, OUTCOME_DATA, "This is an old binary spreadsheet, or one protected by a password; it cannot be read.");
        failure_at(why, file, 0, NULL);
        outcome = failure_remedy(why, "Save it without a password as XLSX or as CSV (UTF-8).");
    } else if (n >= 5 && memcmp(bytes, "%PDF-", 5) == 0) {
        fail(why, OUTCOME_DATA, "This is a PDF, not a table.");
        failure_at(why, file, 0, NULL);
        outcome = failure_remedy(why, "Ask for the spreadsheet it was made from, as XLSX or CSV.");
    } else {
        outcome = delimited_read(file, bytes, n, arena, &book, why);
    }
    if (outcome != OUTCOME_OK)
        return outcome;
    unsigned char hash[crypto_hash_sha256_BYTES];
    crypto_hash_sha256(hash, (const unsigned char *)bytes, n);
    sodium_bin2hex(book.sha256, sizeof book.sha256, hash, sizeof hash);
    *out = book;
    return OUTCOME_OK;
}
