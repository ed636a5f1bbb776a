/* SPDX-License-Identifier: GPL-3.0-or-later
 * The user's own reference stands as a constancy table. */
#ifndef SPINNEY_WORK_RELEVES_LOAD_H
#define SPINNEY_WORK_RELEVES_LOAD_H
#include "species/species.h"
#include "work/load.h"

/// Constancy table of the stands recorded for a site (0: for all) and for the whole programme; *n_stands 0 and `out` untouched where
/// there are none. `pairs` (may be NULL): names that the library knows by another name.
enum outcome releves_load(struct store *store, int64_t site, const struct species_library *library, struct arena *arena,
                          struct community *out, size_t *n_stands, struct releve_pair **pairs, size_t *n_pairs, struct failure *why);
#endif
