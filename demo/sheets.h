/* SPDX-License-Identifier: GPL-3.0-or-later
 * A census sheet of the demonstration while it is being written, and the mistakes planted in it. */
#ifndef SPINNEY_DEMO_SHEETS_H
#define SPINNEY_DEMO_SHEETS_H
#include "lives.h"

enum { SHEET_COLUMNS = 14 };
struct sheet_row {
    size_t life;
    char site[8], plot[8], tag[28], cell[16], number[8], species[44], status[24], damage[24], date[16], observer[8], note[40];
    double height, diameter; ///< cm and mm; 0: not measured
    bool comma;              ///< the diameter with a decimal comma
    bool used;               ///< a mistake is planted here already
};
enum sheet_style { STYLE_COMMA, STYLE_SEMICOLON, STYLE_SLASHES, STYLE_XLSX };
struct sheet {
    struct sheet_row *rows;
    size_t n;
    enum sheet_style style;
    const char *name;
};
void sheet_cells(const struct sheet *sheet, size_t i, char cells[SHEET_COLUMNS][48]);
const char *const *sheet_headings(const struct sheet *sheet);
void sheet_put(const struct sheet *sheet, const char *folder, const char *name);
void sheet_workbook(const struct sheet *sheet, const char *folder, const char *name);
/// Plant the mistakes of this census in the sheet, and note them with their truth and with what would mend them.
void mistakes_plant(struct lives *lives, struct sheet *sheet, int year, enum site_number site);
#endif
