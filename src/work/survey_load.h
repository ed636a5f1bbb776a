/* SPDX-License-Identifier: GPL-3.0-or-later
 * What imports and decisions are held against: everything the programme already knows. */
#ifndef SPINNEY_WORK_SURVEY_LOAD_H
#define SPINNEY_WORK_SURVEY_LOAD_H
#include "survey/survey.h"
#include "work/load.h"
#include "work/names_load.h"

/// Everything an import of this kind is checked against. Plant records are loaded for plants only.
enum outcome survey_ground_load(struct store *store, enum record_kind kind, struct arena *arena, struct survey_ground *out,
                                struct failure *why);
#endif
