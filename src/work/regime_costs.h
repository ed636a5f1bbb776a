/* SPDX-License-Identifier: GPL-3.0-or-later
 * What regimes cost, from the ledger and the plants that live, with the site as the unit. */
#ifndef SPINNEY_WORK_REGIME_COSTS_H
#define SPINNEY_WORK_REGIME_COSTS_H
#include "money/money.h"
#include "work/evidence_load.h"

/// The sections of cost_sections by the caller's settings (split, tax, price year, index, rates).
enum outcome cost_sections_by(struct store *store, const struct evidence *evidence, const struct ledger_settings *settings, json_t *note,
                              struct arena *arena, struct failure *why);
/// The sets of a note (work/note.h) behind what one plot cost: lines of the ledger, plants counted, its own row; 0: none.
struct cost_rows {
    int64_t spend, alive, plot;
};
/// Regimes over their sites: cost per established plant with three intervals, differences between regimes on the sites that have
/// both, and the chance that one is cheaper. Needs a plot with spend and a census; adds nothing otherwise.
enum outcome regime_costs_sections(const struct evidence *evidence, const struct ledger *ledger, const struct cost_rows *rows, json_t *note,
                                   struct arena *arena, struct failure *why);
#endif
