/* SPDX-License-Identifier: GPL-3.0-or-later
 * Any bytes as a figure of ours: refused with a sentence, or a drawing whose own SVG reads back to itself. */
#include "draw/draw.h"
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    struct failure why = {0};
    struct drawing *first = drawing_from_svg((const char *)data, n, &why);
    if (first == NULL) {
        if (why.sentence[0] == '\0')
            abort();
        return 0;
    }
    struct text once = {0}, twice = {0};
    drawing_svg(first, true, &once);
    struct drawing *second = drawing_from_svg(text_get(&once), once.n, &why);
    if (second == NULL)
        abort();
    drawing_svg(second, true, &twice);
    if (once.n != twice.n || memcmp(once.at, twice.at, once.n) != 0)
        abort();
    drawing_free(first);
    drawing_free(second);
    text_free(&once);
    text_free(&twice);
    return 0;
}
