/* SPDX-License-Identifier: GPL-3.0-or-later
 * Loading what plans are made from and of. */
#include "work/plan_load.h"

enum outcome plot_ground_load(const struct job_context *context, const char *code, struct arena *arena, struct plot_ground *out,
                              struct failure *why)
{
    *out = (struct plot_ground){0};
    enum outcome outcome = load_programme(context->store, arena, &out->programme, why);
    if (outcome == OUTCOME_OK)
        outcome = load_plot(context->store, code, arena, &out->plot, &out->site, why);
    if (outcome == OUTCOME_OK)
        outcome = site_facts_load(context->store, &out->site, context->today, arena, &out->facts, why);
    if (outcome == OUTCOME_OK)
        outcome = load_shape(out->plot.wkb, arena, &out->outline, why);
    if (outcome == OUTCOME_OK && out->outline.kind != SHAPE_POLYGONS) {
        fail(why, OUTCOME_DATA, "Plot %s has no outline.", out->plot.code);
        outcome = failure_remedy(why, "Bring one in: spinney plot, or split its site.");
    }
    if (outcome == OUTCOME_OK)
        outcome = site_net_off(&out->facts, &out->outline, arena, &out->net, why);
    return outcome;
}

enum outcome plan_parts_load(struct store *store, int64_t plan, struct arena *arena, struct mix_line **lines, size_t *n_lines,
                             struct position **positions, size_t *n_positions, struct cell **cells, size_t *n_cells, struct failure *why)
{
    void *rows = NULL;
    enum outcome outcome = OUTCOME_OK;
    if (lines != NULL) {
        outcome = load_of(store, NOUN_MIX_LINE, "plan_id", plan, arena, &rows, n_lines, why);
        *lines = rows;
    }
    if (outcome == OUTCOME_OK && positions != NULL) {
        outcome = load_of(store, NOUN_POSITION, "plan_id", plan, arena, &rows, n_positions, why);
        *positions = rows;
    }
    if (outcome == OUTCOME_OK && cells != NULL) {
        outcome = load_of(store, NOUN_CELL, "plan_id", plan, arena, &rows, n_cells, why);
        *cells = rows;
    }
    return outcome;
}

enum outcome plan_next(struct store *store, const struct plot *plot, struct arena *arena, struct plan *out, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    noun_init(NOUN_PLAN, out);
    out->plot_id = plot->id;
    out->version = 1;
    enum outcome outcome = load_of(store, NOUN_PLAN, "plot_id", plot->id, arena, &rows, &n, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++)
        if (((struct plan *)rows)[i].version >= out->version)
            out->version = ((struct plan *)rows)[i].version + 1;
    return outcome;
}

enum outcome plan_choose(struct store *store, struct plan *plan, struct arena *arena, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    enum outcome outcome = load_of(store, NOUN_PLAN, "plot_id", plan->plot_id, arena, &rows, &n, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        struct plan *other = &((struct plan *)rows)[i];
        enum truth wanted = other->id == plan->id ? TRUTH_YES : TRUTH_NO;
        if (other->chosen == wanted || (wanted == TRUTH_NO && other->chosen == TRUTH_UNKNOWN))
            continue;
        other->chosen = wanted;
        outcome = store_change(store, NOUN_PLAN, other, why);
    }
    plan->chosen = TRUTH_YES;
    return outcome;
}
