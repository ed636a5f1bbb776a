/* SPDX-License-Identifier: GPL-3.0-or-later
 * The tables of a document as sheets of a workbook. */
#include "paper/document.h"
#include "paper/sheet.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

/* A printed number back as a number: true minus, narrow spaces between thousands. */
static bool printed_number(const char *words, double *x, int *digits)
{
    char plain[64];
    size_t n = 0;
    for (const char *at = words; *at != '\0';) {
        if (n >= sizeof plain - 1)
            return false;
        if (strncmp(at, "\u202f", 3) == 0) {
            at += 3;
        } else if (strncmp(at, "−", 3) == 0) {
            plain[n++] = '-';
            at += 3;
        } else {
            plain[n++] = *at++;
        }
    }
    plain[n] = '\0';
    /* "007" and "1e5" are codes, not numbers */
    const char *first = plain[0] == '-' ? plain + 1 : plain;
    if ((first[0] == '0' && first[1] >= '0' && first[1] <= '9') || strpbrk(plain, "eE+") != NULL || !number_read(plain, x))
        return false;
    const char *point = strchr(plain, '.');
    *digits = point == NULL ? 0 : (int)strlen(point + 1);
    return true;
}

static void table_write(struct book *book, const struct document_table *table, const char *name)
{
    struct sheet *sheet = sheet_new(book, name);
    char head[300];
    for (size_t c = 0; c < table->n_columns; c++) {
        const struct document_column *column = &table->columns[c];
        bool unit = column->unit != NULL && *column->unit != '\0';
        snprintf(head, sizeof head, "%.200s%s%.60s%s", column->title, unit ? " (" : "", unit ? column->unit : "", unit ? ")" : "");
        sheet_head(sheet, (int)c, head, column->align == ALIGN_RIGHT ? 12 : 24);
    }
    for (size_t r = 0; r < table->n_rows; r++)
        for (size_t c = 0; c < table->n_columns; c++) {
            const char *words = table->rows[r][c].words;
            double x = 0;
            int digits = 0;
            if (words == NULL || strcmp(words, " ") == 0)
                continue;
            if (table->columns[c].align == ALIGN_RIGHT && printed_number(words, &x, &digits))
                sheet_number(sheet, (int)r + 1, (int)c, x, digits);
            else
                sheet_text(sheet, (int)r + 1, (int)c, words);
        }
}

enum outcome document_xlsx(const struct document *document, struct text *out, struct failure *why)
{
    struct book *book = book_new(document->title, document->author, document->date);
    const char *heading = NULL;
    size_t n = 0;
    for (const struct document_part *part = document->first; part != NULL; part = part->next) {
        if (part->kind == PART_HEADING && part->n_runs > 0)
            heading = part->runs[0].words;
        if (part->kind != PART_TABLE)
            continue;
        n++;
        table_write(book, part->table, part->table->caption != NULL ? part->table->caption : heading != NULL ? heading : "table");
    }
    if (n == 0) {
        struct sheet *sheet = sheet_new(book, "document");
        sheet_head(sheet, 0, document->title, 60);
        sheet_text(sheet, 1, 0, "This document has no tables.");
    }
    return book_close(book, out, why);
}
