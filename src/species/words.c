/* SPDX-License-Identifier: GPL-3.0-or-later
 * The words of species/, in tables and for people. */
#include "species/table.h"

const char *const form_words[] = {NULL, "tree", "shrub", "climber", "herb", "fern"};
const char *const growth_words[] = {NULL, "slow", "medium", "fast"};
const char *const native_words[] = {NULL, "yes", "no", "ancient", "doubtful"};
const char *const health_words[] = {NULL, "no_rule", "advice", "stop"};

static const char *word(const char *const *words, int n, int value)
{
    return value > 0 && value < n ? words[value] : "unknown";
}
const char *species_form_word(enum species_form form)
{
    return word(form_words, FORM_COUNT, (int)form);
}
const char *species_native_word(enum species_native native)
{
    static const char *const words[] = {NULL, "native", "not native", "long established, not native", "doubtfully native"};
    return word(words, NATIVE_COUNT, (int)native);
}
const char *species_health_word(enum species_health health)
{
    static const char *const words[] = {NULL, "no rule found", "advice", "STOP"};
    return health == HEALTH_UNKNOWN ? "not looked up" : word(words, HEALTH_COUNT, (int)health);
}
const char *fit_factor_word(enum fit_factor factor)
{
    static const char *const words[] = {"reaction", "moisture", "nutrients", "light", "drought", "waterlogging", "cold"};
    return (int)factor >= 0 && factor < FIT_FACTORS ? words[factor] : "unknown";
}
const char *species_stage_word(enum species_stage stage)
{
    static const char *const words[] = {"native here", "soil and moisture", "plant health", "conflicts with the place",
                                        "obtainable",  "layer and size",    "light",        "passed"};
    return (int)stage >= 0 && stage <= STAGE_PASSED ? words[stage] : "unknown";
}
