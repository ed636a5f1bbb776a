/* SPDX-License-Identifier: GPL-3.0-or-later
 * Invented plantings for the tests of stand/. */
#ifndef SPINNEY_TEST_WOODS_H
#define SPINNEY_TEST_WOODS_H
#include "stand/stand.h"
#include <math.h>

enum { WOOD_KINDS = 8 };
/* Heights and tolerances as in data/species/atlantic-europe.csv; wood density left unknown as there. */
static inline void wood_kinds(struct stand_kind *kinds)
{
    static const struct stand_traits traits[WOOD_KINDS] = {
        {"Quercus robur", LAYER_CANOPY, 30, 2.45, 2.95, NAN, 2, NAN, TRUTH_NO},
        {"Betula pendula", LAYER_CANOPY, 25, 2.03, 1.85, NAN, 3, NAN, TRUTH_YES},
        {"Carpinus betulus", LAYER_CANOPY, 25, 3.97, 2.66, NAN, 2, NAN, TRUTH_NO},
        {"Acer campestre", LAYER_SUBCANOPY, 15, 3.18, 2.93, NAN, 2, NAN, TRUTH_NO},
        {"Sorbus aucuparia", LAYER_SUBCANOPY, 15, 2.73, 2.11, NAN, 3, NAN, TRUTH_NO},
        {"Corylus avellana", LAYER_SHRUB, 6, 3.53, 3.04, NAN, 2, NAN, TRUTH_NO},
        {"Crataegus monogyna", LAYER_SHRUB, 8, 1.95, 3.46, NAN, 2, NAN, TRUTH_NO},
        {"Prunus spinosa", LAYER_SHRUB, 4, 1.9, 3.8, NAN, 2, NAN, TRUTH_NO},
    };
    for (int k = 0; k < WOOD_KINDS; k++) {
        struct stand_traits one = traits[k];
        one.wood_g_cm3 = unknown_real();
        one.height_20_m = unknown_real();
        kinds[k] = stand_kind_of(&one);
    }
}

/* `n` plants at `density` to the square metre, jittered in squares; the kinds in turn by lot, or all of `only`. */
static inline struct box wood_plants(struct stand_plant *plants, size_t n, double density, int only, uint64_t seed)
{
    size_t across = (size_t)ceil(sqrt((double)n));
    double step = 1 / sqrt(density);
    struct random_stream r = random_make(seed, 7);
    for (size_t i = 0; i < n; i++) {
        plants[i] = (struct stand_plant){.x_m = ((double)(i % across) + 0.1 + 0.8 * random_uniform(&r)) * step,
                                         .y_m = ((double)(i / across) + 0.1 + 0.8 * random_uniform(&r)) * step,
                                         .height_m = 0.4 + 0.2 * random_uniform(&r),
                                         .diameter_cm = unknown_real()};
        uint64_t kind = random_below(&r, WOOD_KINDS);
        plants[i].kind = only >= 0 ? (uint32_t)only : (uint32_t)kind;
    }
    double rows = ceil((double)n / (double)across);
    return (struct box){0, 0, (double)across * step, rows * step};
}
#endif
