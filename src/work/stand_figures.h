/* SPDX-License-Identifier: GPL-3.0-or-later
 * Sections of a note that show a look ahead. */
#ifndef SPINNEY_WORK_STAND_FIGURES_H
#define SPINNEY_WORK_STAND_FIGURES_H
#include "stand/stand.h"
#include "work/note.h"
#include "work/stand_load.h"

/// Words under every figure of a look ahead.
extern const char *const stand_foot;
void stand_stocking_figure(const struct stand_result *result, json_t *section, struct arena *arena);
/// Mean height by layer, a panel each; `seen` dots from the censuses where there are any (years since the start, may be NULL).
void stand_heights_figure(const struct stand_result *result, json_t *section, struct arena *arena);
void stand_light_figure(const struct stand_result *result, json_t *section, struct arena *arena);
/// A run from the side and from above in the show years.
enum outcome stand_pictures(const struct stand_setting *setting, const struct stand_result *result, const struct shape *outline,
                            json_t *side, json_t *above, struct arena *arena, struct failure *why);
/// How likely each plant is a tree in the canopy at the last show year.
void stand_where_figure(const struct stand_setting *setting, const struct stand_result *result, const struct shape *outline,
                        json_t *section, struct arena *arena);
#endif
