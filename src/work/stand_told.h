/* SPDX-License-Identifier: GPL-3.0-or-later
 * Forecasts kept with their day, and forecasts held against what came, as sections of a note. */
#ifndef SPINNEY_WORK_STAND_TOLD_H
#define SPINNEY_WORK_STAND_TOLD_H
#include "work/note.h"
#include "work/stand_load.h"

/// What the censuses say of growth and death on this plot, against what was assumed before them.
void stand_learnt_section(const struct stand_setting *setting, const double *factors, json_t *note);
/// What each census would have been told by those before it, what came, and how good that was.
void stand_told_sections(const struct stand_start *start, const struct stand_hindsight *hindsight, json_t *note, struct arena *arena);
/// The table of skill of a list of forecasts, by what they are about.
void stand_skill_table(const struct stand_told *told, size_t n, json_t *section, struct arena *arena);
/// Store the forecast of 1, 2, 3, 5 and 10 seasons ahead as one step.
enum outcome stand_forecast_keep(const struct job_context *context, const struct stand_start *start, const struct stand_setting *setting,
                                 const struct stand_result *result, bool corrected, json_t *note, struct arena *arena, struct failure *why);
#endif
