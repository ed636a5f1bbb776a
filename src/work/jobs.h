/* SPDX-License-Identifier: GPL-3.0-or-later
 * Every job, one file for each group: job_<group>.c. Add a job by its file, a line here and a line in jobs.c. */
#ifndef SPINNEY_WORK_JOBS_H
#define SPINNEY_WORK_JOBS_H
#include "model/model.h"
#include "work/job.h"

/// Density a regime is planted at where nobody says otherwise [1/m²]; unknown for other regimes. Common practice (T01, T02).
double regime_density_m2(enum regime regime);

extern const struct job job_new, job_look, job_map, job_backdrop;
extern const struct job job_site, job_constraint, job_plot;
extern const struct job job_distances, job_register, job_stage, job_screen, job_cautions, job_rule;
extern const struct job job_ground, job_prepare, job_preparations;
extern const struct job job_carbon, job_landmark, job_phenology;
extern const struct job job_benefits;
extern const struct job job_weather, job_rain, job_water, job_balance, job_tasks, job_tended, job_care, job_losses, job_replant,
    job_species, job_communities, job_library, job_releves;
extern const struct job job_split, job_protocol;
extern const struct job job_mix, job_layout, job_move;
extern const struct job job_design, job_sample;
extern const struct job job_mixes, job_substitute, job_mend;
extern const struct job job_compare, job_power;
extern const struct job job_sheet, job_cards, job_forms, job_planted;
extern const struct job job_order, job_budget;
extern const struct job job_import, job_held, job_decide;
extern const struct job job_ahead, job_skill, job_spacing;
extern const struct job job_survival, job_lives, job_growth, job_wildlife, job_cost, job_findings, job_claim, job_conclude, job_report;
extern const struct job job_league, job_sites, job_quality;
extern const struct job job_rows, job_add, job_change, job_remove;
extern const struct job job_log, job_undo, job_history, job_backup, job_verify, job_rescue, job_merge, job_settle, job_package, job_unpack,
    job_features;
extern const struct job job_recipe, job_adopt, job_fidelity;
extern const struct job job_calc, job_check;
extern const struct job job_returned, job_reconcile, job_delivered;
extern const struct job job_daypack;
extern const struct job job_weigh;
extern const struct job job_squares;
#endif
