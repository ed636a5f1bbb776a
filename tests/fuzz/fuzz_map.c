/* SPDX-License-Identifier: GPL-3.0-or-later
 * Any bytes as a map file: refused with a sentence, or features that are valid or refused with one. */
#include "geo/geo.h"
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    struct arena arena = {0};
    struct failure why = {0};
    struct map_data map;
    enum outcome outcome =
        map_read_bytes("seed.wkt", (struct bytes){data, n},
                       &(struct map_wish){.to_crs = "EPSG:27700", .use = n % 2 == 0 ? MAP_ANY : MAP_BOUNDARY}, &arena, &map, &why);
    if (outcome != OUTCOME_OK && why.sentence[0] == '\0')
        abort();
    for (size_t i = 0; outcome == OUTCOME_OK && i < map.n; i++) {
        const struct map_feature *f = &map.features[i];
        if (f->refused ? f->refusal.sentence[0] == '\0' || f->refusal.remedy[0] == '\0' : shape_count(&f->shape) == 0)
            abort();
        if (!f->refused && f->shape.kind == SHAPE_POLYGONS && !shape_valid(&f->shape, NULL, 0))
            abort();
    }
    arena_clear(&arena);
    return 0;
}
