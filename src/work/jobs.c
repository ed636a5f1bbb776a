/* SPDX-License-Identifier: GPL-3.0-or-later
 * The list of all jobs, in the order of the loop. */
#include "work/jobs.h"

// clang-format off: one to a line, so that two people can add one
const struct job *const jobs[] = {
    /* the programme */
    &job_new,
    &job_look,
    &job_map,
    &job_backdrop,
    &job_landmark,
    /* the ground above */
    &job_site,
    &job_constraint,
    &job_distances,
    &job_register,
    &job_stage,
    &job_screen,
    &job_cautions,
    &job_rule,
    /* the ground below */
    &job_ground,
    &job_carbon,
    &job_prepare,
    &job_preparations,
    /* plots to be compared */
    &job_plot,
    &job_split,
    &job_protocol,
    /* what grows and where */
    &job_design,
    &job_sample,
    &job_library,
    &job_species,
    &job_communities,
    &job_releves,
    &job_mix,
    &job_mixes,
    &job_layout,
    &job_move,
    &job_substitute,
    &job_mend,
    /* setting out */
    &job_compare,
    &job_power,
    &job_sheet,
    &job_cards,
    &job_forms,
    &job_daypack,
    &job_returned,
    &job_planted,
    &job_reconcile,
    /* money */
    &job_order,
    &job_delivered,
    &job_budget,
    &job_weigh,
    /* water and aftercare */
    &job_weather,
    &job_rain,
    &job_water,
    &job_balance,
    &job_tasks,
    &job_tended,
    &job_care,
    &job_losses,
    &job_replant,
    /* records */
    &job_import,
    &job_held,
    &job_decide,
    /* what may come */
    &job_ahead,
    &job_skill,
    &job_spacing,
    /* evidence */
    &job_survival,
    &job_lives,
    &job_growth,
    &job_league,
    &job_quality,
    &job_sites,
    &job_squares,
    &job_wildlife,
    &job_benefits,
    &job_phenology,
    &job_cost,
    &job_findings,
    &job_claim,
    &job_conclude,
    &job_report,
    /* the rows themselves */
    &job_rows,
    &job_add,
    &job_change,
    &job_remove,
    /* nothing lost */
    &job_log,
    &job_undo,
    &job_history,
    &job_backup,
    &job_verify,
    &job_recipe,
    &job_adopt,
    &job_fidelity,
    &job_rescue,
    &job_merge,
    &job_settle,
    &job_package,
    &job_unpack,
    &job_features,
    /* single numbers */
    &job_calc,
    &job_check,
};
// clang-format on
const size_t n_jobs = sizeof jobs / sizeof *jobs;
