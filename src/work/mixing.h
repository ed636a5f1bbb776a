/* SPDX-License-Identifier: GPL-3.0-or-later
 * A mix being made for one plot: what it is made from, and what came of it. */
#ifndef SPINNEY_WORK_MIXING_H
#define SPINNEY_WORK_MIXING_H
#include "mix/mix.h"
#include "work/ground_place.h"
#include "work/plan_load.h"

struct mixing {
    struct plot_ground ground;
    struct species_library library;
    struct species_place place;
    struct species_verdict *verdicts;
    size_t n_verdicts;
    const char *community;
    const struct species_verdict **insisted; ///< verdicts taken although the species fits poorly
    size_t n_insisted;
    bool widened; ///< species beyond the community were let in
    struct mix_species *species;
    const struct species_verdict **from; ///< verdict of each species
    size_t n;
    double *ground_m2; ///< plantable ground each species may stand on
    struct mix_wish *wishes;
    size_t n_wishes;
    struct mix_settings settings;
    struct mix_result result;
};

/// Load a plot and all that bears on its mix, by the options of `mix`: ground, library, place, community, verdicts, settings.
enum outcome mixing_load(const struct job_context *context, const char *plot, const json_t *in, struct arena *arena, struct mixing *out,
                         struct failure *why);
/// The species that may be used, the wishes about single ones, and the ground each may stand on.
enum outcome mixing_species(const struct job_context *context, const json_t *in, struct mixing *mixing, struct arena *arena,
                            struct failure *why);
/// Wishes that follow from the ground alone: no species gets more plants than the ground it may stand on holds.
enum outcome mixing_ground(struct mixing *mixing, struct arena *arena, struct failure *why);
/// Solve it. Species that share narrow ground are held to what fits on it together.
enum outcome mixing_solve(const struct job_context *context, struct mixing *mixing, struct arena *arena, struct failure *why);
/// Lower the greatest numbers of species that share narrow ground and do not fit on it together; true if any came down.
bool mixing_tighten(struct mixing *mixing);
/// Put one species on the list, whatever its verdict.
void mixing_put(struct mixing *mixing, const struct species_verdict *verdict);
/// Store the counts as a new chosen plan, within a step. `in` are the options it was made with, `note` may be NULL.
enum outcome mixing_store(const struct job_context *context, const json_t *in, struct mixing *mixing, struct plan *plan, const char *note,
                          struct arena *arena, struct failure *why);
/// Species by the names in "A;B;C", through the library. At most 200.
enum outcome mixing_names(const struct species_library *library, const char *text, struct arena *arena, const struct species_fact **out,
                          size_t *n, struct failure *why);
/// The mix as sections of a note: table, figure, what gave way, what conflicts.
void mixing_sections(json_t *out, const struct mixing *mixing);
/// What gave way, as a section.
void mixing_relaxed(json_t *out, const struct mix_result *result);
#endif
