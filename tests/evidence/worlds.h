/* SPDX-License-Identifier: GPL-3.0-or-later
 * Programmes drawn from a known truth in which the usual reading misleads, and what spinney and that reading say of each. */
#ifndef SPINNEY_TESTS_EVIDENCE_WORLDS_H
#define SPINNEY_TESTS_EVIDENCE_WORLDS_H
#include "made.h"

enum world {
    WORLD_NO_EFFECT,        ///< the recipe does nothing
    WORLD_PREPARATION_ONLY, ///< loosened ground helps, density does nothing; a third plot, prepared and sparse, on each site
    WORLD_SURVIVOR_BIAS,    ///< every plant grows alike; on the dense plots short ones die
    WORLD_UNEVEN_EFFORT,    ///< the same animals everywhere; the dense plots are looked at three times as often
    WORLD_TAGS_LOST,        ///< the recipe does nothing; labels of dead plants are lost, mostly on the dense plots
    WORLD_WATERING,         ///< only water helps, and only the dense plots were watered
    WORLD_BAD_PLOT,         ///< the recipe does nothing; one conventional plot was flooded
    WORLD_REAL,             ///< the recipe helps: to see that "cannot tell" is not all that is ever said
    WORLD_COUNT
};
struct world_said {
    bool right;           ///< what spinney says agrees with the truth
    bool cannot_tell;     ///< it says that it cannot tell
    bool wrong;           ///< neither
    bool naive_wrong;     ///< the usual reading, at the same level, says what is not so
    double figure, naive; ///< what each puts in figures, in the unit of the world
};
const char *world_words(enum world world);
const char *world_naive_words(enum world world); ///< what the usual reading is
const char *world_unit(enum world world);
/// One programme of `sites` sites drawn with `seed`, and judged at 95 %.
struct world_said world_run(enum world world, size_t sites, uint64_t seed);
#endif
