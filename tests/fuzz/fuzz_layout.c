/* SPDX-License-Identifier: GPL-3.0-or-later
 * Fuzz: any ring of corners, crossing itself or not, any counts, stand-offs and kept plants; and codes of squares. */
#include "layout/layout.h"
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    char code[32] = {0};
    uint32_t row = 0, column = 0;
    memcpy(code, data, n < 31 ? n : 31);
    if (layout_cell_read(code, &row, &column)) {
        char back[16];
        layout_cell_code(row, column, back);
        require(strcmp(back, code) == 0);
    }
    if (n < 16)
        return 0;
    double xy[2 * 65];
    size_t corners = (n - 8) / 2 > 64 ? 64 : (n - 8) / 2;
    for (size_t i = 0; i < corners; i++)
        xy[2 * i] = 500000 + data[8 + 2 * i] / 8.0, xy[2 * i + 1] = 5000000 + data[9 + 2 * i] / 8.0;
    xy[2 * corners] = xy[0], xy[2 * corners + 1] = xy[1];
    struct ring rings[2] = {{xy, corners + 1}, {xy, corners / 2 + 1}};
    struct shape_part part = {rings, data[7] % 5 == 0 ? 2 : 1};
    struct shape shape = {SHAPE_POLYGONS, &part, 1};
    struct layout_species species[3] = {{.name = "a", .layer = LAYER_CANOPY, .tall = true, .plants = data[0]},
                                        {.name = "b", .layer = LAYER_SHRUB, .plants = data[1], .inside = data[5] & 1},
                                        {.name = "c", .layer = LAYER_SHRUB, .plants = data[2] % 32u, .edge_least_m = data[5] % 3}};
    bool forbids[3] = {true, false, data[6] & 1};
    struct layout_zone zone = {"a stand-off", &shape, forbids};
    struct layout_fixed fixed = {xy[0], xy[1], data[3] % 3u};
    struct layout_wish wish = {.ground = &shape,
                               .origin_x_m = 500000,
                               .origin_y_m = 5000000,
                               .bearing_deg = 90,
                               .species = species,
                               .n_species = 3,
                               .zones = &zone,
                               .n_zones = data[6] >> 7,
                               .fixed = &fixed,
                               .n_fixed = data[4] >> 7,
                               .seed = data[4],
                               .pattern = data[7] & 1 ? LAYOUT_ROWS : LAYOUT_IRREGULAR};
    struct arena arena = {0};
    struct layout l;
    struct layout_quality q;
    struct layout_repair repair;
    struct failure why;
    if (layout_plan(&wish, NULL, &arena, &l, &why) == OUTCOME_OK) {
        require(l.n_positions == species[0].plants + species[1].plants + species[2].plants);
        layout_judge(&l, &wish, 3, &arena, &q, &why);
        species[0].plants -= species[0].plants / 3;
        layout_mend(&l, &wish, NULL, &arena, &repair, &why);
    }
    arena_clear(&arena);
    return 0;
}
