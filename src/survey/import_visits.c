/* SPDX-License-Identifier: GPL-3.0-or-later
 * The visit plant records belong to: a survey the programme knows, or a new one for each site and run of days. */
#include "survey/import.h"
#include <stdlib.h>
#include <string.h>

struct day_entry {
    int64_t site;
    int32_t day;
    size_t entry;
};

static int day_order(const void *a, const void *b)
{
    const struct day_entry *x = a, *y = b;
    if (x->site != y->site)
        return x->site < y->site ? -1 : 1;
    if (x->day != y->day)
        return x->day < y->day ? -1 : 1;
    return x->entry < y->entry ? -1 : x->entry > y->entry;
}

const struct visit *survey_visit_find(const struct survey_ground *ground, int64_t site, int32_t day, int within_days)
{
    const struct visit *best = NULL;
    int32_t least = within_days + 1;
    for (size_t i = 0; i < ground->n_visits; i++) {
        const struct visit *v = &ground->visits[i];
        int32_t last = v->to_on == DATE_UNKNOWN ? v->from_on : v->to_on;
        int32_t gap = day < v->from_on ? v->from_on - day : day > last ? day - last : 0;
        if (v->site_id != site || (v->kind != VISIT_KIND_CENSUS && v->kind != VISIT_KIND_AS_PLANTED_CENSUS) || gap >= least)
            continue;
        best = v;
        least = gap;
    }
    return best;
}

struct visit survey_visit_new(int64_t site, int64_t plot, int32_t day, enum visit_kind kind)
{
    struct visit v;
    noun_init(NOUN_VISIT, &v);
    v.site_id = site;
    v.plot_id = plot;
    v.kind = kind != VISIT_KIND_UNKNOWN ? kind : VISIT_KIND_CENSUS;
    v.time_point = v.kind == VISIT_KIND_AS_PLANTED_CENSUS ? TIME_POINT_AS_PLANTED : TIME_POINT_FOLLOW_UP;
    v.method = VISIT_METHOD_EVERY_PLANT;
    v.from_on = v.to_on = day;
    return v;
}

void visits_settle(struct running *r)
{
    struct import_result *out = r->result;
    struct day_entry *days = memory_get(r->n_entries + 1, sizeof *days);
    size_t n = 0, room = 0;
    struct visit *visits = NULL;
    for (size_t i = 0; i < r->n_entries; i++) {
        struct plant_record *record = record_at(r, i);
        if (r->entries[i].refused != NULL || r->entries[i].empty)
            continue;
        if (r->options->visit_id != 0) {
            record->visit_id = r->options->visit_id;
            continue;
        }
        if (record->observed_on == DATE_UNKNOWN || r->entries[i].site_id == 0)
            continue;
        const struct visit *known = survey_visit_find(r->ground, r->entries[i].site_id, record->observed_on, 0);
        record->visit_id = known == NULL ? 0 : known->id;
        if (record->visit_id == 0)
            days[n++] = (struct day_entry){r->entries[i].site_id, record->observed_on, i};
    }
    qsort(days, n, sizeof *days, day_order);
    for (size_t i = 0; i < n; i++) {
        bool fresh = i == 0 || days[i].site != days[i - 1].site || days[i].day - days[i - 1].day > SAME_VISIT_DAYS;
        if (fresh) {
            visits = column_room(visits, out->n_visits, &room, sizeof *visits);
            visits[out->n_visits++] =
                survey_visit_new(days[i].site, r->entries[days[i].entry].plot_id, days[i].day, r->options->visit_kind);
        }
        struct visit *v = &visits[out->n_visits - 1];
        v->to_on = days[i].day;
        if (v->plot_id != r->entries[days[i].entry].plot_id)
            v->plot_id = 0;
        ((struct plant_record *)record_at(r, days[i].entry))->visit_id = -(int64_t)out->n_visits;
    }
    out->visits = arena_array(r->arena, out->n_visits, sizeof *visits);
    if (out->n_visits > 0)
        memcpy(out->visits, visits, out->n_visits * sizeof *visits);
    free(visits);
    free(days);
}
