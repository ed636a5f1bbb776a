/* SPDX-License-Identifier: GPL-3.0-or-later
 * Care of plots that are compared: the ledger and the line that says it was unequal. */
#ifndef SPINNEY_WORK_CARE_LOAD_H
#define SPINNEY_WORK_CARE_LOAD_H
#include "water/water.h"
#include "work/load.h"

/// Plots that are compared: those of one comparison; on a site without one, its planted plots.
struct care_group {
    const struct site *site;
    const char *name;
    struct care_plot *plots;
    size_t n;
    struct care_ledger ledger;
};
struct care_groups {
    struct care_group *at;
    size_t n;
    struct care_event *events;
    size_t n_events;
};
/// Ledgers of a site (0: of all). Groups of fewer than two planted plots are left out. The arena owns everything.
enum outcome care_groups_load(struct store *store, int64_t site, enum watering_basis basis, double tolerance_pct, struct arena *arena,
                              struct care_groups *out, struct failure *why);
/// A caution on the note for each inequality of water, and data "unequal_care".
enum outcome unequal_care_told(struct store *store, int64_t site, json_t *note, struct arena *arena, struct failure *why);
#endif
