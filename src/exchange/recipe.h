/* SPDX-License-Identifier: GPL-3.0-or-later
 * Recipes: written from what a site did, carried as one JSON text, followed elsewhere, and held against what was done there. */
#ifndef SPINNEY_EXCHANGE_RECIPE_H
#define SPINNEY_EXCHANGE_RECIPE_H
#include "exchange/exchange.h"

/// A unit cost that others may start from.
struct recipe_cost {
    const char *phase, *item, *unit, *currency;
    double unit_price; ///< without tax
    int64_t price_year;
};
/// A rule that must be filled in where the recipe is followed.
struct recipe_rule {
    const char *topic, *words, *unit;
};
/// All that a pack holds.
struct recipe_pack {
    const char *name, *version, *words;
    int32_t made_on;
    struct recipe_step *steps; ///< recipe_id and ids are 0
    size_t n_steps;
    struct recipe_rule *rules;
    size_t n_rules;
    struct recipe_cost *costs;
    size_t n_costs;
    struct protocol protocol; ///< version NULL: none
};

/// A pack from the dense plots of a site (0: of all sites): figures of their preparation, density, mix and care as they were done, with limits
/// of a tenth to either side for core figures and a third for adaptable ones (common practice, no source); steps that trade
/// practice forbids; local rules named without their value; unit prices of the ledger. OUTCOME_DATA where no dense plot is there.
enum outcome recipe_write(const struct exchange_set *set, int64_t site, const char *name, const char *version, const char *words,
                          int32_t today, struct arena *arena, struct recipe_pack *out, struct failure *why);
/// As JSON text in the arena, and back. Reading refuses what is no pack, is newer, or has a member that is not known, by name.
const char *recipe_text(const struct recipe_pack *pack, struct arena *arena);
enum outcome recipe_read(const char *text, size_t n, struct arena *arena, struct recipe_pack *out, struct failure *why);

enum fidelity { FIDELITY_NOT_KNOWN, FIDELITY_KEPT, FIDELITY_DEVIATED };
/// A step held against a plot, or against the site (plot 0).
struct fidelity_row {
    const struct recipe_step *step;
    int64_t plot;
    double figure; ///< what was done; NaN not known
    enum fidelity state;
    const char *words;              ///< what was found, in words
    const struct deviation *logged; ///< the deviation on record, or NULL
};
/// Every step of a recipe against what stands in the rows: each dense plot of the site, or the site. What nobody recorded is not known,
/// never kept. Forbidden steps that no record can show are not known.
enum outcome recipe_hold(const struct exchange_set *set, int64_t recipe, struct arena *arena, struct fidelity_row **out, size_t *n,
                         struct failure *why);
#endif
