/* SPDX-License-Identifier: GPL-3.0-or-later
 * What most jobs load first: the programme's row, a site or a plot by its code, shapes out of rows. */
#ifndef SPINNEY_WORK_LOAD_H
#define SPINNEY_WORK_LOAD_H
#include "geo/geo.h"
#include "store/store.h"
#include "work/job.h"
#include "work/note.h"

enum outcome load_programme(struct store *store, struct arena *arena, struct programme *out, struct failure *why);
/// The site with this code; with NULL the only one. OUTCOME_DATA names the codes there are.
enum outcome load_site(struct store *store, const char *code, struct arena *arena, struct site *out, struct failure *why);
/// The plot written "SITE/PLOT", or by its own code where only one has it; with NULL the only one.
enum outcome load_plot(struct store *store, const char *code, struct arena *arena, struct plot *out, struct site *site,
                       struct failure *why);
/// The plan of a plot: by version; 0: the chosen one, else the newest. OUTCOME_DATA if there is none.
enum outcome load_plan(struct store *store, const struct plot *plot, int64_t version, struct arena *arena, struct plan *out,
                       struct failure *why);
/// Rows of a noun that refer to `id` by `field`. The arena owns them.
enum outcome load_of(struct store *store, enum noun noun, const char *field, int64_t id, struct arena *arena, void **rows, size_t *n,
                     struct failure *why);
/// All rows of a noun.
enum outcome load_all(struct store *store, enum noun noun, struct arena *arena, void **rows, size_t *n, struct failure *why);
/// The shape of a row, or an empty one where none was given.
enum outcome load_shape(struct bytes wkb, struct arena *arena, struct shape *out, struct failure *why);
/// Whether a plot is on a list such as "LK/D1; C1", by name or code; NULL lists all.
bool plot_listed(const char *list, const char *name, const char *code);
/// "LK/D1". In the arena.
const char *plot_name(const struct site *sites, size_t n, const struct plot *plot, struct arena *arena);
/// "EPSG:32630". In the arena.
const char *crs_code(const struct programme *programme, struct arena *arena);
/// A day, or "unknown". In the arena.
const char *day_words(int32_t day, struct arena *arena);
/// The word of an enum value with blanks for underscores, as people read it. In the arena.
const char *word_plain(enum word_list list, int value, struct arena *arena);
/// The bytes of an OPTION_FILE_IN: what the browser sent, or the file at that path.
enum outcome input_bytes(const struct job_context *context, const char *path, size_t most, struct arena *arena, struct bytes *out,
                         struct failure *why);
#endif
