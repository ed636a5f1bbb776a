/* SPDX-License-Identifier: GPL-3.0-or-later
 * Loading the ledger of care. */
#include "work/care_load.h"
#include <string.h>

struct care_rows {
    struct site *sites;
    struct plot *plots;
    struct comparison *comparisons;
    struct comparison_plot *members;
    struct plant *plants;
    size_t n_sites, n_plots, n_comparisons, n_members, n_plants;
};

static enum outcome rows_load(struct store *store, struct arena *arena, struct care_rows *r, struct care_groups *out, struct failure *why)
{
    const struct {
        enum noun noun;
        void **rows;
        size_t *n;
    } wanted[] = {{NOUN_SITE, (void **)&r->sites, &r->n_sites},
                  {NOUN_PLOT, (void **)&r->plots, &r->n_plots},
                  {NOUN_COMPARISON, (void **)&r->comparisons, &r->n_comparisons},
                  {NOUN_COMPARISON_PLOT, (void **)&r->members, &r->n_members},
                  {NOUN_PLANT, (void **)&r->plants, &r->n_plants},
                  {NOUN_CARE_EVENT, (void **)&out->events, &out->n_events}};
    for (size_t i = 0; i < sizeof wanted / sizeof *wanted; i++) {
        enum outcome outcome = load_all(store, wanted[i].noun, arena, wanted[i].rows, wanted[i].n, why);
        if (outcome != OUTCOME_OK)
            return outcome;
    }
    return OUTCOME_OK;
}

static enum outcome plot_take(const struct care_rows *r, const struct plot *plot, const struct site *site, struct care_group *group,
                              struct arena *arena, struct failure *why)
{
    struct shape outline;
    enum outcome outcome = load_shape(plot->wkb, arena, &outline, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct care_plot *one = &group->plots[group->n++];
    *one = (struct care_plot){.id = plot->id, .code = arena_print(arena, "%s/%s", site->code, plot->code)};
    one->area_m2 = is_known(plot->net_area_m2)      ? plot->net_area_m2
                   : outline.kind == SHAPE_POLYGONS ? shape_area_m2(&outline)
                                                    : unknown_real();
    for (size_t i = 0; i < r->n_plants; i++)
        one->plants += r->plants[i].plot_id == plot->id;
    return OUTCOME_OK;
}

static bool is_member(const struct care_rows *r, int64_t comparison, int64_t plot)
{
    for (size_t i = 0; i < r->n_members; i++)
        if (r->members[i].comparison_id == comparison && r->members[i].plot_id == plot)
            return true;
    return false;
}

/* comparison 0: all planted plots of the site. */
static enum outcome group_take(const struct care_rows *r, const struct site *site, int64_t comparison, const char *name,
                               enum watering_basis basis, double tolerance_pct, struct arena *arena, struct care_groups *out,
                               struct failure *why)
{
    struct care_group *group = &out->at[out->n];
    *group = (struct care_group){.site = site, .name = name, .plots = arena_array(arena, r->n_plots + 1, sizeof *group->plots)};
    for (size_t p = 0; p < r->n_plots; p++) {
        const struct plot *plot = &r->plots[p];
        if (plot->site_id != site->id || plot->planted_on == DATE_UNKNOWN || (comparison != 0 && !is_member(r, comparison, plot->id)))
            continue;
        enum outcome outcome = plot_take(r, plot, site, group, arena, why);
        if (outcome != OUTCOME_OK)
            return outcome;
    }
    if (group->n < 2)
        return OUTCOME_OK;
    out->n++;
    return care_compare(out->events, out->n_events, group->plots, group->n, DATE_UNKNOWN, DATE_UNKNOWN, basis, tolerance_pct, arena,
                        &group->ledger, why);
}

enum outcome care_groups_load(struct store *store, int64_t site, enum watering_basis basis, double tolerance_pct, struct arena *arena,
                              struct care_groups *out, struct failure *why)
{
    struct care_rows r = {.n_sites = 0};
    *out = (struct care_groups){.n = 0};
    enum outcome outcome = rows_load(store, arena, &r, out, why);
    out->at = arena_array(arena, r.n_comparisons + r.n_sites + 1, sizeof *out->at);
    for (size_t s = 0; outcome == OUTCOME_OK && s < r.n_sites; s++) {
        bool any = false;
        if (site != 0 && r.sites[s].id != site)
            continue;
        for (size_t c = 0; outcome == OUTCOME_OK && c < r.n_comparisons; c++)
            if (r.comparisons[c].site_id == r.sites[s].id) {
                any = true;
                outcome = group_take(&r, &r.sites[s], r.comparisons[c].id, r.comparisons[c].name, basis, tolerance_pct, arena, out, why);
            }
        if (!any && outcome == OUTCOME_OK)
            outcome = group_take(&r, &r.sites[s], 0, r.sites[s].name, basis, tolerance_pct, arena, out, why);
    }
    return outcome;
}

enum outcome unequal_care_told(struct store *store, int64_t site, json_t *note, struct arena *arena, struct failure *why)
{
    struct care_groups groups;
    json_t *list = json_array();
    enum outcome outcome = care_groups_load(store, site, WATERING_BY_AREA, 10, arena, &groups, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < groups.n; i++)
        for (size_t k = 0; k < groups.at[i].ledger.n_unequal; k++) {
            const struct care_inequality *one = &groups.at[i].ledger.unequal[k];
            if (strcmp(one->what, "hours") == 0)
                continue;
            note_caution(note, "UNEQUAL CARE", one->words, NULL);
            json_array_append_new(list, json_string(one->words));
        }
    json_object_set_new(note_data(note), "unequal_care", list);
    return outcome;
}
