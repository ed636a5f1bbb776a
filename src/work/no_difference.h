/* SPDX-License-Identifier: GPL-3.0-or-later
 * Sites where dense planting on prepared ground made no difference worth having, and whether the ground needed preparing. */
#ifndef SPINNEY_WORK_NO_DIFFERENCE_H
#define SPINNEY_WORK_NO_DIFFERENCE_H
#include "work/evidence_load.h"

/// A section with a sentence for each site whose whole interval lies within the protocol's margin (10 points where none is set); and
/// data "no_difference". Nothing where there is none.
enum outcome no_difference_section(struct store *store, const struct evidence *evidence, json_t *note, struct arena *arena,
                                   struct failure *why);
#endif
