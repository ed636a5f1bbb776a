/* SPDX-License-Identifier: GPL-3.0-or-later
 * Any bytes as the well-known binary of a shape: refused, or a shape that writes and reads back the same. */
#include "geo/geo.h"
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    struct arena arena = {0};
    struct failure why = {0};
    struct shape shape, back;
    if (shape_from_wkb((struct bytes){data, n}, &arena, &shape, &why) == OUTCOME_OK) {
        struct bytes once = shape_to_wkb(&shape, &arena);
        if (once.n > 0) {
            if (shape_from_wkb(once, &arena, &back, &why) != OUTCOME_OK)
                abort();
            struct bytes twice = shape_to_wkb(&back, &arena);
            if (once.n != twice.n || memcmp(once.at, twice.at, once.n) != 0)
                abort();
        }
        shape_area_m2(&shape);
        shape_valid(&shape, NULL, 0);
    } else if (why.sentence[0] == '\0')
        abort();
    arena_clear(&arena);
    return 0;
}
