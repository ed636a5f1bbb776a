/* SPDX-License-Identifier: GPL-3.0-or-later
 * Loading what imports are held against. */
#include "work/survey_load.h"

enum outcome survey_ground_load(struct store *store, enum record_kind kind, struct arena *arena, struct survey_ground *out,
                                struct failure *why)
{
    struct wanted {
        enum noun noun;
        const void **rows;
        size_t *n;
        bool needed;
    };
    *out = (struct survey_ground){0};
    bool plants = kind == RECORD_PLANTS;
    const struct wanted wanted[] = {
        {NOUN_SITE, (const void **)&out->sites, &out->n_sites, true},
        {NOUN_PLOT, (const void **)&out->plots, &out->n_plots, true},
        {NOUN_PLANT, (const void **)&out->plants, &out->n_plants, plants || kind == RECORD_PHENOLOGY},
        {NOUN_VISIT, (const void **)&out->visits, &out->n_visits, true},
        {NOUN_PLANT_RECORD, (const void **)&out->records, &out->n_records, plants},
        {NOUN_SOIL_SAMPLE, (const void **)&out->soils, &out->n_soils, kind == RECORD_SOIL},
        {NOUN_WILDLIFE_VISIT, (const void **)&out->looks, &out->n_looks, kind == RECORD_WILDLIFE},
        {NOUN_WORK_HOURS, (const void **)&out->hours, &out->n_hours, kind == RECORD_HOURS},
        {NOUN_WEATHER_DAY, (const void **)&out->weather, &out->n_weather, kind == RECORD_WEATHER},
        {NOUN_COST_ITEM, (const void **)&out->costs, &out->n_costs, kind == RECORD_COSTS},
        {NOUN_IMPORT, (const void **)&out->imports, &out->n_imports, true},
        {NOUN_CELL, (const void **)&out->cells, &out->n_cells, plants},
        {NOUN_PLAN, (const void **)&out->plans, &out->n_plans, plants},
    };
    for (size_t i = 0; i < sizeof wanted / sizeof *wanted; i++) {
        void *rows = NULL;
        if (!wanted[i].needed)
            continue;
        enum outcome outcome = load_all(store, wanted[i].noun, arena, &rows, wanted[i].n, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        *wanted[i].rows = rows;
    }
    if (!plants) {
        void *rows = NULL;
        enum outcome outcome = load_all(store, record_noun(kind), arena, &rows, &out->n_already, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        out->already = rows;
    }
    struct name_pair *pairs = NULL;
    size_t n = 0;
    enum outcome outcome = names_load(store, arena, &pairs, &n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct survey_name *names = arena_array(arena, n, sizeof *names);
    for (size_t i = 0; i < n; i++)
        names[i] = (struct survey_name){pairs[i].name, pairs[i].accepted};
    out->names = names;
    out->n_names = n;
    return OUTCOME_OK;
}
