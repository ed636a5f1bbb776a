/* SPDX-License-Identifier: GPL-3.0-or-later
 * Treatments in words. Two plots have the same level where the words are the same; what nobody recorded is not known. */
#include "work/treatments.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

static const char *density_words(const struct plot *plot, struct arena *arena)
{
    char shown[40];
    if (!is_known(plot->density_m2))
        return NULL;
    number_write(plot->density_m2, shown);
    return arena_print(arena, "%s per m²", shown);
}

static enum outcome preparation_words(struct store *store, const struct plot *plot, struct arena *arena, const char **prepared,
                                      const char **fence, struct failure *why)
{
    struct preparation row;
    *prepared = *fence = NULL;
    if (plot->preparation_id == 0)
        return OUTCOME_OK;
    enum outcome outcome = store_get(store, NOUN_PREPARATION, plot->preparation_id, arena, &row, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    char loosened[64], compost[64], mulch[64];
    number_fixed(row.loosened_depth_m, 2, loosened);
    number_fixed(row.compost_depth_m * 100, 0, compost);
    number_fixed(row.mulch_depth_m * 100, 0, mulch);
    if (is_known(row.loosened_depth_m) && is_known(row.compost_depth_m) && is_known(row.mulch_depth_m))
        *prepared = row.loosened_depth_m + row.compost_depth_m + row.mulch_depth_m == 0
                        ? "none"
                        : arena_print(arena, "loosened %s m, compost %s cm, mulch %s cm", loosened, compost, mulch);
    if (is_known(row.fence_height_m))
        *fence = row.fence_height_m > 0 ? arena_print(arena, "fence %.1f m high", row.fence_height_m) : "no fence";
    return OUTCOME_OK;
}

static int line_compare(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

/* The species and their shares to the nearest tenth, in order of name. */
static enum outcome mix_words(struct store *store, const struct plot *plot, struct arena *arena, const char **out, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0, distinct = 0;
    *out = NULL;
    enum outcome outcome = load_of(store, NOUN_PLANT, "plot_id", plot->id, arena, &rows, &n, why);
    const struct plant *plants = rows;
    const char **names = NULL;
    if (outcome == OUTCOME_OK && n > 0) {
        names = arena_array(arena, n, sizeof *names);
        for (size_t i = 0; i < n; i++)
            if (plants[i].origin == ORIGIN_FIRST_PLANTING)
                names[distinct++] = plants[i].species;
    } else if (outcome == OUTCOME_OK) {
        struct plan plan;
        struct failure none;
        if (load_plan(store, plot, 0, arena, &plan, &none) != OUTCOME_OK)
            return OUTCOME_OK;
        outcome = load_of(store, NOUN_MIX_LINE, "plan_id", plan.id, arena, &rows, &n, why);
        names = arena_array(arena, n, sizeof *names);
        for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++)
            if (((struct mix_line *)rows)[i].plants > 0)
                names[distinct++] = ((struct mix_line *)rows)[i].species;
    }
    if (outcome != OUTCOME_OK || distinct == 0)
        return outcome;
    qsort(names, distinct, sizeof *names, line_compare);
    struct text words = {0};
    size_t species = 0;
    for (size_t i = 0; i < distinct; i++)
        if (i == 0 || !text_same(names[i], names[i - 1]))
            text_print(&words, "%s%s", species++ > 0 ? ", " : "", names[i]);
    *out = arena_print(arena, "%zu species: %s", species, text_get(&words));
    text_free(&words);
    return OUTCOME_OK;
}

/* Litres per square metre given in all, from the care ledger. */
static enum outcome water_words(struct store *store, const struct plot *plot, struct arena *arena, const char **out, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0, times = 0;
    double litres = 0;
    bool known = true;
    *out = NULL;
    enum outcome outcome = load_of(store, NOUN_CARE_EVENT, "plot_id", plot->id, arena, &rows, &n, why);
    const struct care_event *events = rows;
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        if (events[i].kind != CARE_KIND_WATERING || events[i].state == DONE_STATE_SKIPPED)
            continue;
        times++;
        known = known && is_known(events[i].litres_m2);
        litres += is_known(events[i].litres_m2) ? events[i].litres_m2 : 0;
    }
    if (outcome == OUTCOME_OK && n > 0)
        *out = times == 0 ? "not watered"
               : known    ? arena_print(arena, "watered %zu times, %.0f L/m² in all", times, litres)
                          : arena_print(arena, "watered %zu times", times);
    return outcome;
}

static enum outcome allocation_of(struct store *store, const struct plot *plot, struct arena *arena, enum allocation_method *out,
                                  struct failure *why)
{
    void *members = NULL, *allocations = NULL;
    size_t n = 0, m = 0;
    *out = ALLOCATION_METHOD_UNKNOWN;
    enum outcome outcome = load_of(store, NOUN_COMPARISON_PLOT, "plot_id", plot->id, arena, &members, &n, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        outcome = load_of(store, NOUN_ALLOCATION, "comparison_id", ((struct comparison_plot *)members)[i].comparison_id, arena,
                          &allocations, &m, why);
        if (outcome == OUTCOME_OK && m > 0)
            *out = ((struct allocation *)allocations)[m - 1].method;
    }
    return outcome;
}

enum outcome treatments_load(struct store *store, int64_t site, struct arena *arena, struct trial_plot **plots, struct plot **rows,
                             size_t *n, struct failure *why)
{
    void *plot_rows = NULL, *site_rows = NULL;
    size_t n_sites = 0;
    enum outcome outcome = site == 0 ? load_all(store, NOUN_PLOT, arena, &plot_rows, n, why)
                                     : load_of(store, NOUN_PLOT, "site_id", site, arena, &plot_rows, n, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(store, NOUN_SITE, arena, &site_rows, &n_sites, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct plot *all = plot_rows;
    struct trial_plot *out = arena_array(arena, *n, sizeof *out);
    for (size_t i = 0; outcome == OUTCOME_OK && i < *n; i++) {
        out[i].code = all[i].code;
        for (size_t j = 0; j < n_sites; j++)
            if (((struct site *)site_rows)[j].id == all[i].site_id)
                out[i].site = ((struct site *)site_rows)[j].code;
        out[i].levels[TRIAL_DENSITY] = density_words(&all[i], arena);
        outcome = preparation_words(store, &all[i], arena, &out[i].levels[TRIAL_PREPARATION], &out[i].levels[TRIAL_FENCE], why);
        if (outcome == OUTCOME_OK)
            outcome = mix_words(store, &all[i], arena, &out[i].levels[TRIAL_MIX], why);
        if (outcome == OUTCOME_OK)
            outcome = water_words(store, &all[i], arena, &out[i].levels[TRIAL_WATER], why);
        if (outcome == OUTCOME_OK)
            outcome = allocation_of(store, &all[i], arena, &out[i].allocation, why);
        out[i].levels[TRIAL_DATE] = all[i].planted_on == DATE_UNKNOWN ? NULL : day_words(all[i].planted_on, arena);
    }
    *plots = out;
    *rows = all;
    return outcome;
}
