/* SPDX-License-Identifier: GPL-3.0-or-later
 * The list of all jobs, in the order of the loop. */
#include "work/jobs.h"

const struct job *const jobs[] = {
    &job_new,      &job_look,       &job_map,                                                   /* the programme */
    &job_site,     &job_constraint, &job_distances,   &job_register, &job_stage,                /* the ground above */
    &job_ground,   &job_prepare,                                                                /* the ground below */
    &job_plot,     &job_split,      &job_protocol,                                              /* plots to be compared */
    &job_library,  &job_species,    &job_communities, &job_mix,      &job_layout, &job_substitute, &job_mend,               /* what grows and where */
    &job_compare,  &job_power,      &job_sheet,       &job_cards,    &job_forms,  &job_planted, /* setting out */
    &job_order,    &job_budget,                                                                 /* money */
    &job_import,   &job_held,       &job_decide,                                                /* records */
    &job_ahead,                                                                                 /* what may come */
    &job_survival, &job_lives,      &job_growth,      &job_league, &job_sites, &job_wildlife, &job_cost,   &job_findings, &job_claim, &job_report, /* evidence */
    &job_rows,     &job_add,        &job_change,      &job_remove,                /* the rows themselves */
    &job_log,      &job_undo,       &job_history,     &job_backup,   &job_verify, /* nothing lost */
    &job_calc,     &job_check,                                                    /* single numbers */
};
const size_t n_jobs = sizeof jobs / sizeof *jobs;
