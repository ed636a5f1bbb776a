/* SPDX-License-Identifier: GPL-3.0-or-later
 * Loading for the findings. */
#include "work/evidence_load.h"
#include "work/treatments.h"
#include <stdlib.h>
#include <string.h>

static int by_id(const void *a, const void *b)
{
    int64_t x, y; /* every noun begins with its id */
    memcpy(&x, a, sizeof x);
    memcpy(&y, b, sizeof y);
    return (x > y) - (x < y);
}

/* Rows of a noun that refer by `field` to any of these rows, in order of id. */
static enum outcome load_of_all(struct store *store, enum noun noun, const char *field, const void *owners, size_t n_owners,
                                enum noun owner, struct arena *arena, void **rows, size_t *n, struct failure *why)
{
    size_t size = noun_infos[noun].size, room = 0;
    char *all = NULL;
    enum outcome outcome = OUTCOME_OK;
    *n = 0;
    for (size_t i = 0; outcome == OUTCOME_OK && i < n_owners; i++) {
        void *some = NULL;
        size_t k = 0;
        int64_t id = 0;
        memcpy(&id, (const char *)owners + i * noun_infos[owner].size, sizeof id);
        outcome = load_of(store, noun, field, id, arena, &some, &k, why);
        while (outcome == OUTCOME_OK && room < *n + k)
            all = column_room(all, room, &room, size);
        if (outcome == OUTCOME_OK && k > 0)
            memcpy(all + *n * size, some, k * size);
        *n += outcome == OUTCOME_OK ? k : 0;
    }
    *rows = arena_array(arena, *n, size);
    if (*n > 0) {
        memcpy(*rows, all, *n * size);
        qsort(*rows, *n, size, by_id);
    }
    free(all);
    return outcome;
}

/* What belongs to the plots of one site. */
static enum outcome site_rows(struct store *store, int64_t site, const struct plot *plots, size_t n_plots, struct arena *arena,
                              struct evidence_facts *f, struct failure *why)
{
    void *plants = NULL, *visits = NULL, *records = NULL, *care = NULL, *looks = NULL, *sightings = NULL;
    enum outcome outcome = load_of_all(store, NOUN_PLANT, "plot_id", plots, n_plots, NOUN_PLOT, arena, &plants, &f->n_plants, why);
    if (outcome == OUTCOME_OK)
        outcome = load_of(store, NOUN_VISIT, "site_id", site, arena, &visits, &f->n_visits, why);
    if (outcome == OUTCOME_OK)
        outcome = load_of_all(store, NOUN_PLANT_RECORD, "visit_id", visits, f->n_visits, NOUN_VISIT, arena, &records, &f->n_records, why);
    if (outcome == OUTCOME_OK)
        outcome = load_of_all(store, NOUN_CARE_EVENT, "plot_id", plots, n_plots, NOUN_PLOT, arena, &care, &f->n_care, why);
    if (outcome == OUTCOME_OK)
        outcome = load_of(store, NOUN_WILDLIFE_VISIT, "site_id", site, arena, &looks, &f->n_looks, why);
    if (outcome == OUTCOME_OK)
        outcome = load_of_all(store, NOUN_WILDLIFE_RECORD, "wildlife_visit_id", looks, f->n_looks, NOUN_WILDLIFE_VISIT, arena, &sightings,
                              &f->n_sightings, why);
    f->plants = plants;
    f->visits = visits;
    f->records = records;
    f->care = care;
    f->looks = looks;
    f->sightings = sightings;
    return outcome;
}

static enum outcome all_rows(struct store *store, struct arena *arena, struct evidence_facts *f, struct failure *why)
{
    const struct {
        enum noun noun;
        const void **rows;
        size_t *n;
    } wanted[] = {
        {NOUN_PLANT, (const void **)&f->plants, &f->n_plants},
        {NOUN_VISIT, (const void **)&f->visits, &f->n_visits},
        {NOUN_PLANT_RECORD, (const void **)&f->records, &f->n_records},
        {NOUN_CARE_EVENT, (const void **)&f->care, &f->n_care},
        {NOUN_WILDLIFE_VISIT, (const void **)&f->looks, &f->n_looks},
        {NOUN_WILDLIFE_RECORD, (const void **)&f->sightings, &f->n_sightings},
    };
    enum outcome outcome = OUTCOME_OK;
    for (size_t i = 0; outcome == OUTCOME_OK && i < sizeof wanted / sizeof *wanted; i++) {
        void *rows = NULL;
        outcome = load_all(store, wanted[i].noun, arena, &rows, wanted[i].n, why);
        *wanted[i].rows = rows;
    }
    return outcome;
}

enum outcome evidence_load(struct store *store, struct arena *arena, struct evidence *out, struct failure *why)
{
    return evidence_load_site(store, 0, arena, out, why);
}

enum outcome evidence_load_site(struct store *store, int64_t site, struct arena *arena, struct evidence *out, struct failure *why)
{
    struct trial_plot *treatments = NULL;
    struct plot *plots = NULL;
    void *sites = NULL;
    struct evidence_facts *f = &out->facts;
    *out = (struct evidence){.has_design = false};
    enum outcome outcome = load_programme(store, arena, &out->programme, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(store, NOUN_SITE, arena, &sites, &f->n_sites, why);
    f->sites = sites;
    if (outcome == OUTCOME_OK)
        outcome = treatments_load(store, site, arena, &treatments, &plots, &f->n_plots, why);
    if (outcome == OUTCOME_OK)
        outcome = site != 0 ? site_rows(store, site, plots, f->n_plots, arena, f, why) : all_rows(store, arena, f, why);
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
