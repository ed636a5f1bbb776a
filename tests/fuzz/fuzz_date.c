/* SPDX-License-Identifier: GPL-3.0-or-later
 * Any text as a date, a number, a square: read or not, and a clear day written out reads back as itself. */
#include "survey/survey.h"
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    struct arena arena = {0};
    char *text = arena_text_n(&arena, (const char *)data, n);
    for (int order = DATE_ORDER_UNKNOWN; order <= DATE_YMD; order++) {
        struct date_read r = survey_date(text, (enum date_order)order);
        if ((r.reading == DATE_NOT || r.reading == DATE_AMBIGUOUS) != (r.date == DATE_UNKNOWN))
            abort();
        char iso[16];
        date_write(r.date, iso);
        if (r.date != DATE_UNKNOWN && survey_date(iso, (enum date_order)order).date != r.date)
            abort();
    }
    int row = 0, column = 0;
    char *code = cell_code_read(text, &row, &column, &arena);
    if (code != NULL && (row < 0 || column < 0 || cell_code_read(code, NULL, NULL, &arena) == NULL))
        abort();
    arena_clear(&arena);
    return 0;
}
