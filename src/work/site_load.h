/* SPDX-License-Identifier: GPL-3.0-or-later
 * All that is recorded of one site, and the species library it draws on. */
#ifndef SPINNEY_WORK_SITE_LOAD_H
#define SPINNEY_WORK_SITE_LOAD_H
#include "site/site.h"
#include "species/species.h"
#include "work/load.h"

/// Constraints, checks and local rules of a site. The arena owns everything.
enum outcome site_facts_load(struct store *store, const struct site *site, int32_t today, struct arena *arena, struct site_facts *out,
                             struct failure *why);
/// A species library by name: one loaded into the programme, else a built-in one; NULL: the programme's own if it has one,
/// else "atlantic-europe".
enum outcome library_load(struct store *store, const char *name, struct arena *arena, struct species_library *out, struct failure *why);
/// What site/ needs to know of a species.
struct site_plant site_plant_of(const struct species_fact *fact, const char *name, enum layer layer);
/// What is planned on a site, for its cautions: the outline and preparation of this plot (NULL: all plots of the site, or its boundary),
/// the species of their chosen plans, age, incidents, sensitive records. Whatever is not recorded stays unknown.
enum outcome site_plan_load(struct store *store, const struct site_facts *facts, const struct plot *plot, struct arena *arena,
                            struct site_plan *out, struct failure *why);
/// The cautions of a site at a moment (MOMENT_…), those raised and those not checked, into the note.
enum outcome cautions_note(struct store *store, const struct site_facts *facts, const struct site_plan *plan, unsigned moments,
                           json_t *note, struct arena *arena, struct failure *why);
/// Only those raised.
enum outcome cautions_raised_note(const struct site_facts *facts, const struct site_plan *plan, unsigned moments, json_t *note,
                                  struct arena *arena, struct failure *why);
#endif
