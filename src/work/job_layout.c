/* SPDX-License-Identifier: GPL-3.0-or-later
 * layout: where each plant of a plan stands, in which square metre. */
#include "work/jobs.h"
#include "work/laying.h"
#include <math.h>

static const struct option layout_options[] = {
    {"plot", OPTION_TEXT, false, "CODE", "which plot (the only one if not given)"},
    {"plan", OPTION_INTEGER, false, "N", "which plan of it (the chosen one if not given)"},
    {"pattern", OPTION_TEXT, false, "WORD", "irregular or rows (by the plot's regime if not given)"},
    {"edge_m", OPTION_NUMBER, false, "M", "no plant nearer to the outline than this (0.3 if not given)"},
    {"thorny_edge_m", OPTION_NUMBER, false, "M",
     "thorny plants no nearer to the outline than this; paths and play areas that are drawn keep them 2 m away in any case"},
    {"least_m", OPTION_NUMBER, false, "M", "least distance between plants; as large as can be had if not given"},
    {"bearing_deg", OPTION_NUMBER, false, "DEG", "bearing of the baseline; along the longest side if not given"},
    {"seed", OPTION_INTEGER, false, "N", "seed (the plan's if not given)"},
    {"try", OPTION_FLAG, false, NULL, "only show it, store nothing"},
    {"stored", OPTION_FLAG, false, NULL, "judge the places that are stored instead of laying out anew"},
};
static const char *const layout_bare[] = {"plot", "plan", NULL};

static enum outcome layout_store(const struct job_context *context, struct laying *laying, struct arena *arena, struct failure *why)
{
    enum outcome outcome = store_begin(context->store, context->author,
                                       arena_print(arena, "layout of plot %s/%s", laying->ground.site.code, laying->ground.plot.code), why);
    if (outcome != OUTCOME_OK)
        return outcome;
    outcome = laying_store(context, laying, arena, why);
    outcome = store_end(context->store, outcome, why);
    return outcome;
}

static enum outcome layout_note(const struct laying *laying, bool stored, struct arena *arena, json_t **note, struct failure *why)
{
    json_t *out = note_new();
    const struct layout *layout = &laying->layout;
    note_answer(out, "%zu plants of %s/%s stand at least %.2f m apart in %zu squares of one metre%s.", layout->n_positions,
                laying->ground.site.code, laying->ground.plot.code, layout->least_m, layout->n_cells, stored ? "" : " (not stored)");
    enum outcome outcome = laying_figure(laying, note_section(out, "Map"), arena, why);
    laying_quality(out, laying);
    for (size_t i = 0; i < layout->n_remarks; i++)
        note_unknown(out, "%s", layout->remarks[i]);
    for (size_t i = 0; i < laying->ground.net.n_open; i++)
        note_unknown(out, "%s", laying->ground.net.open[i]);
    json_t *data = note_data(out);
    json_object_set_new(data, "plants", json_integer((json_int_t)layout->n_positions));
    json_object_set_new(data, "cells", json_integer((json_int_t)layout->n_cells));
    json_object_set_new(data, "least_m", json_real(layout->least_m));
    json_object_set_new(data, "same_neighbour_share", json_real(laying->quality.same_share));
    json_object_set_new(data, "seed", json_integer((json_int_t)laying->wish.seed));
    if (stored)
        json_object_set_new(data, "plan", json_integer(laying->plan.version));
    note_source(out, "Clark & Evans 1954, Ecology 35:445–453; methods in docs/methods/layout.md.");
    if (outcome == OUTCOME_OK)
        *note = out;
    else
        json_decref(out);
    return outcome;
}

static enum outcome layout_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct laying laying;
    bool judge = option_flag(in, "stored"), stored = !judge && !option_flag(in, "try");
    enum outcome outcome = laying_load(context, option_text(in, "plot", NULL), option_integer(in, "plan", 0), &arena, &laying, why);
    if (outcome == OUTCOME_OK)
        outcome = laying_wish(in, &laying, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = judge ? laying_stored(context, &laying, NULL, &arena, why)
                        : layout_plan(&laying.wish, context->progress, &arena, &laying.layout, why);
    if (outcome == OUTCOME_OK)
        outcome = layout_judge(&laying.layout, &laying.wish, 0, &arena, &laying.quality, why);
    if (outcome == OUTCOME_OK && judge)
        laying.layout.least_m = floor(100 * laying.quality.nearest_least_m) / 100;
    if (outcome == OUTCOME_OK && stored)
        outcome = layout_store(context, &laying, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = layout_note(&laying, stored || judge, &arena, note, why);
    arena_clear(&arena);
    return outcome;
}

const struct job job_layout = {
    .name = "layout",
    .summary = "where each plant stands, in numbered one-metre squares",
    .about = "Gives every plant of a plan its place: irregular with a least distance (or in rows), exact numbers, neighbours of different "
             "species, "
             "future tall trees apart, species kept from what they must keep from. Seeded: the same seed gives the same plan.",
    .example = "spinney layout wood.gpkg LK/D1",
    .access = JOB_WRITES,
    .options = layout_options,
    .n_options = sizeof layout_options / sizeof *layout_options,
    .bare = layout_bare,
    .run = layout_run,
};
