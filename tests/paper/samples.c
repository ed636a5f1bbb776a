/* SPDX-License-Identifier: GPL-3.0-or-later
 * Invented content for documents, for tests and for looking at. */
#include "samples.h"
#include <stdio.h>

static const struct {
    const char *species, *local;
    int layer;
} kinds[] = {{"Quercus robur", "pedunculate oak", 1},
             {"Betula pendula", "silver birch", 1},
             {"Acer campestre", "field maple", 2},
             {"Sorbus aucuparia", "rowan", 2},
             {"Corylus avellana", "hazel", 3},
             {"Crataegus monogyna", "hawthorn", 3},
             {"Viburnum opulus", NULL, 3},
             {"Lonicera periclymenum", "honeysuckle", 4}};

void sample_cards(struct arena *arena, int rows, int columns, struct cards *out)
{
    size_t n = (size_t)(rows * columns);
    struct card *cards = arena_array(arena, n, sizeof *cards);
    struct random_stream r = random_make(4, 1);
    size_t *order = arena_array(arena, n, sizeof *order);
    for (size_t i = 0; i < n; i++)
        order[i] = i;
    random_shuffle(&r, order, n);
    for (size_t i = 0; i < n; i++) {
        int row = (int)order[i] / columns, column = (int)order[i] % columns;
        size_t m = order[i] == 5 ? 0 : order[i] == 6 ? 7 : order[i] % 11 == 0 ? 4 : order[i] % 7 == 0 ? 2 : 3;
        struct card_plant *plants = arena_array(arena, m + 1, sizeof *plants);
        for (size_t p = 0; p < m; p++) {
            size_t kind = (order[i] * 3 + p * 3 + random_below(&r, 2)) % 8;
            plants[p] = (struct card_plant){
                kinds[kind].species, kinds[kind].local, kinds[kind].layer, 0.15 + 0.7 * random_uniform(&r), 0.15 + 0.7 * random_uniform(&r),
                (int)p + 1};
        }
        cards[i] = (struct card){arena_print(arena, "%c%02d", 'A' + row, column + 1), row, column, plants, m, row == 0};
    }
    *out = (struct cards){.programme = "Hedge and Thicket",
                          .site = "Alder Bank",
                          .site_code = "AB",
                          .plot_code = "D1",
                          .plan = "plan 2 of 2026-11-02",
                          .cards = cards,
                          .n_cards = n,
                          .date = date_make(2026, 11, 2),
                          .up_north_known = true,
                          .up_deg = 25};
}
