/* SPDX-License-Identifier: GPL-3.0-or-later
 * Any text as well-known text: refused with a sentence, or a shape whose own text reads back. */
#include "geo/geo.h"
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    struct arena arena = {0};
    struct failure why = {0};
    struct map_data map;
    const struct map_wish wish = {.to_crs = "EPSG:27700", .from_crs = "EPSG:27700"};
    char *text = arena_text_n(&arena, (const char *)data, n);
    enum outcome outcome = map_read_wkt(text, &wish, &arena, &map, &why);
    if (outcome != OUTCOME_OK && why.sentence[0] == '\0')
        abort();
    if (outcome == OUTCOME_OK && !map.features[0].refused) {
        struct text again = {0};
        shape_wkt(&map.features[0].shape, &again);
        struct shape back, *shape = &map.features[0].shape;
        if (map_read_wkt(text_get(&again), &wish, &arena, &map, &why) != OUTCOME_OK || map.features[0].refused)
            abort();
        if (shape_from_wkb(shape_to_wkb(shape, &arena), &arena, &back, &why) != OUTCOME_OK)
            abort();
        text_free(&again);
    }
    arena_clear(&arena);
    return 0;
}
