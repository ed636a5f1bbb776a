/* SPDX-License-Identifier: GPL-3.0-or-later
 * Plots with their plans as quantities to budget, and the unit costs: what budget and weigh share. */
#ifndef SPINNEY_WORK_BUDGETING_H
#define SPINNEY_WORK_BUDGETING_H
#include "money/money.h"
#include "work/plan_load.h"

/// Names and plots stand in the same order; rows[i] is the plot's own row.
struct budgeting {
    struct programme programme;
    struct budget_plot *plots;
    const char **names;
    size_t n;
    struct budget_price *prices;
    size_t n_prices;
    const struct plot **rows;
    struct budget_settings settings;
    struct budget budget;
};

/// Load every plot with a plan (option "plots"), prices (option "prices") and what they come to (options "years", "waterings",
/// "weeding_hours", "volunteer_low", "volunteer_task"). OUTCOME_DATA where no plot has a plan.
enum outcome budgeting_load(const struct job_context *context, const json_t *in, struct arena *arena, struct budgeting *out,
                            struct failure *why);
#endif
