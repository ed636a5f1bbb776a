/* SPDX-License-Identifier: GPL-3.0-or-later
 * Loading for the findings. */
#include "work/evidence_load.h"
#include "work/treatments.h"

enum outcome evidence_load(struct store *store, struct arena *arena, struct evidence *out, struct failure *why)
{
    struct trial_plot *treatments = NULL;
    struct plot *plots = NULL;
    struct evidence_facts *f = &out->facts;
    *out = (struct evidence){.has_design = false};
    const struct {
        enum noun noun;
        const void **rows;
        size_t *n;
    } wanted[] = {
        {NOUN_SITE, (const void **)&f->sites, &f->n_sites},
        {NOUN_PLANT, (const void **)&f->plants, &f->n_plants},
        {NOUN_VISIT, (const void **)&f->visits, &f->n_visits},
        {NOUN_PLANT_RECORD, (const void **)&f->records, &f->n_records},
        {NOUN_CARE_EVENT, (const void **)&f->care, &f->n_care},
        {NOUN_WILDLIFE_VISIT, (const void **)&f->looks, &f->n_looks},
        {NOUN_WILDLIFE_RECORD, (const void **)&f->sightings, &f->n_sightings},
    };
    enum outcome outcome = load_programme(store, arena, &out->programme, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < sizeof wanted / sizeof *wanted; i++) {
        void *rows = NULL;
        outcome = load_all(store, wanted[i].noun, arena, &rows, wanted[i].n, why);
        *wanted[i].rows = rows;
    }
    if (outcome == OUTCOME_OK)
        outcome = treatments_load(store, 0, arena, &treatments, &plots, &f->n_plots, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    for (size_t i = 0; i < f->n_plots && outcome == OUTCOME_OK; i++) {
        struct shape outline; /* a plot that was never laid out has its whole outline for area */
        if (is_known(plots[i].net_area_m2))
            continue;
        outcome = load_shape(plots[i].wkb, arena, &outline, why);
        if (outcome == OUTCOME_OK && outline.kind == SHAPE_POLYGONS)
            plots[i].net_area_m2 = shape_area_m2(&outline);
    }
    if (outcome != OUTCOME_OK)
        return outcome;
    f->plots = plots;
    f->treatments = treatments;
    struct failure none;
    out->has_design = trial_compare(treatments, f->n_plots, arena, &out->design, &none) == OUTCOME_OK;
    return evidence_lives(f, arena, &out->lives, why);
}

const char *evidence_plot_name(const struct evidence *evidence, size_t plot, struct arena *arena)
{
    return arena_print(arena, "%s/%s", evidence->lives[plot].site->code, evidence->facts.plots[plot].code);
}
