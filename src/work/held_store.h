/* SPDX-License-Identifier: GPL-3.0-or-later
 * Storing what comes of a decided row: its record, and the plant, visit or look it needs and no other row has brought. */
#ifndef SPINNEY_WORK_HELD_STORE_H
#define SPINNEY_WORK_HELD_STORE_H
#include "survey/survey.h"
#include "work/job.h"

/// Make room for `n` decisions in ground's plants and visits.
void held_ground_reserve(struct survey_ground *ground, size_t n, struct arena *arena);
/// Within a step. `after` and `record` as survey_decide gave them. What is added is found in `ground` from then on (held_ground_reserve made
/// room). Looks of one import are shared: `rows` are all held rows, so that rows of the same look find the one already stored.
enum outcome held_store(const struct job_context *context, enum noun noun, struct held_row *after, void *record, struct held_row *rows,
                        size_t n_rows, struct survey_ground *ground, struct arena *arena, struct failure *why);
#endif
