/* SPDX-License-Identifier: GPL-3.0-or-later
 * Looking into a sheet. */
#include "survey/survey.h"

const struct sheet_cell *sheet_at(const struct sheet *sheet, size_t row, size_t column)
{
    return row < sheet->rows && column < sheet->widths[row] ? &sheet->cells[row][column] : NULL;
}

const char *sheet_text(const struct sheet *sheet, size_t row, size_t column)
{
    const struct sheet_cell *cell = sheet_at(sheet, row, column);
    return cell == NULL || text_blank(cell->text) ? NULL : cell->text;
}
