/* SPDX-License-Identifier: GPL-3.0-or-later
 * Days against visits, planting and the survey window; and records that fit the same square of another plot. */
#include "survey/plausible.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

static const char *iso_day(struct arena *arena, int32_t day)
{
    char iso[16];
    date_write(day, iso);
    return arena_text(arena, iso);
}

static const struct visit *visit_of(const struct checking *c, int64_t id)
{
    static const struct visit *none = NULL;
    for (size_t i = 0; id > 0 && i < c->ground->n_visits; i++)
        if (c->ground->visits[i].id == id)
            return &c->ground->visits[i];
    return none;
}

struct visit_days {
    int64_t visit;
    int32_t day;
};

static int visit_days_order(const void *a, const void *b)
{
    const struct visit_days *x = a, *y = b;
    if (x->visit != y->visit)
        return x->visit < y->visit ? -1 : 1;
    return (x->day > y->day) - (x->day < y->day);
}

/* One remark for each visit with days outside the window. */
static void window_check(struct checking *c, struct visit_days *days, size_t n)
{
    qsort(days, n, sizeof *days, visit_days_order);
    for (size_t i = 0; i < n;) {
        size_t end = i, out = 0;
        int32_t first = DATE_UNKNOWN, last = DATE_UNKNOWN;
        for (; end < n && days[end].visit == days[i].visit; end++) {
            int year = 0, month = 0, day = 0;
            date_parts(days[end].day, &year, &month, &day);
            int mark = month * 100 + day;
            if (mark >= c->limits.window_from && mark <= c->limits.window_to)
                continue;
            first = out == 0 ? days[end].day : first;
            last = days[end].day;
            out++;
        }
        if (out > 0) {
            struct doubt *d =
                doubt_add(&c->doubts, "window", NO_ROW, "observed_on",
                          "%zu of %zu records of a census were made outside the survey window (%02d-%02d to %02d-%02d), from %s to %s.",
                          out, end - i, c->limits.window_from / 100, c->limits.window_from % 100, c->limits.window_to / 100,
                          c->limits.window_to % 100, iso_day(c->arena, first), iso_day(c->arena, last));
            d->rows = out;
            doubt_evidence(d, (double)out, (double)(end - i), unknown_real());
        }
        const struct visit *v = visit_of(c, days[i].visit);
        if (v != NULL && v->leaf_on == TRUTH_NO) {
            struct doubt *d =
                doubt_add(&c->doubts, "leafless", NO_ROW, "leaf_on",
                          "The census from %s was made without leaves: states and species are less certain than in the others.",
                          iso_day(c->arena, v->from_on));
            d->rows = end - i;
        }
        i = end;
    }
}

void days_check(struct checking *c)
{
    struct visit_days *days = memory_get(c->n + 1, sizeof *days);
    size_t n = 0;
    int64_t last_id = 0;
    const struct visit *v = NULL;
    for (size_t i = 0; i < c->n; i++) {
        const struct plant_record *r = &c->records[i];
        if (c->plant_of[i] == UINT32_MAX || r->observed_on == DATE_UNKNOWN)
            continue;
        if (r->visit_id != last_id) {
            last_id = r->visit_id;
            v = visit_of(c, last_id);
        }
        int32_t planted = plant_at(c, c->plant_of[i])->planted_on, to = v == NULL                  ? DATE_UNKNOWN
                                                                        : v->to_on == DATE_UNKNOWN ? v->from_on
                                                                                                   : v->to_on;
        if (c->limits.today != DATE_UNKNOWN && r->observed_on > c->limits.today) {
            struct doubt *d = doubt_add(&c->doubts, "future", (int64_t)i, "observed_on", "The day %s has not come yet.",
                                        iso_day(c->arena, r->observed_on));
            doubt_remedy(&c->doubts, d, "reject", "leave the row out");
        }
        if (planted != DATE_UNKNOWN && r->observed_on < planted) {
            struct doubt *d =
                doubt_add(&c->doubts, "before_planting", (int64_t)i, "observed_on", "Recorded on %s, before the plant was planted on %s.",
                          iso_day(c->arena, r->observed_on), iso_day(c->arena, planted));
            doubt_usual(&c->doubts, d, "the day is right: the day of planting is wrong");
        }
        if (v != NULL && v->from_on != DATE_UNKNOWN && (r->observed_on < v->from_on || r->observed_on > to)) {
            struct doubt *d =
                doubt_add(&c->doubts, "outside_visit", (int64_t)i, "observed_on", "The day %s lies outside the visit (%s to %s).",
                          iso_day(c->arena, r->observed_on), iso_day(c->arena, v->from_on), iso_day(c->arena, to));
            doubt_usual(&c->doubts, d, "the day is right: the visit took longer");
        }
        bool as_planted =
            (v != NULL && v->kind == VISIT_KIND_AS_PLANTED_CENSUS) || (planted != DATE_UNKNOWN && r->observed_on - planted < 120);
        if (!as_planted)
            days[n++] = (struct visit_days){r->visit_id, r->observed_on};
    }
    window_check(c, days, n);
    free(days);
}

/* ---- the same square of another plot ---- */

struct spot {
    uint64_t hash;
    uint32_t plant;
};

static int spot_order(const void *a, const void *b)
{
    const struct spot *x = a, *y = b;
    if (x->hash != y->hash)
        return x->hash < y->hash ? -1 : 1;
    return x->plant < y->plant ? -1 : x->plant > y->plant;
}

static uint64_t spot_hash(const struct plant *p)
{
    uint64_t h = 1469598103934665603u;
    for (const char *q = p->cell_code == NULL ? "" : p->cell_code; *q != '\0'; q++)
        h = (h ^ (uint64_t)(unsigned char)(*q | 0x20)) * 1099511628211u;
    return (h ^ (uint64_t)p->number) * 1099511628211u;
}

static const struct plot *plot_of(const struct checking *c, const struct plant *p)
{
    for (size_t i = 0; i < c->ground->n_plots; i++)
        if (c->ground->plots[i].id == p->plot_id)
            return &c->ground->plots[i];
    return NULL;
}

static bool seen_on_visit(const struct checking *c, uint32_t plant, const struct plant_record *r)
{
    for (uint32_t s = c->first[plant]; s < c->first[plant + 1]; s++) {
        const struct plant_record *o = record_seen(c, &c->series[s]);
        if (o->visit_id == r->visit_id && (r->visit_id != 0 || abs(o->observed_on - r->observed_on) <= 21))
            return true;
    }
    return false;
}

/* Whether a record could be of this plant: its name if written, its size since the last survey, its state. */
static bool could_be(struct checking *c, const struct plant_record *r, uint32_t plant)
{
    const struct plant *p = plant_at(c, plant);
    const char *meant = NULL;
    if (!text_blank(r->species_seen)) {
        enum name_verdict verdict = name_judge(c, r->species_seen, p->species, &meant);
        if (verdict != NAME_SAME && verdict != NAME_SYNONYM)
            return false;
    }
    const struct plant_record *b = record_before(c, plant, r->observed_on, r->visit_id, 0),
                              *size = record_before(c, plant, r->observed_on, r->visit_id, 1);
    if (b != NULL && status_over(b->status) && status_alive(r->status))
        return false;
    if (size == NULL || !is_known(r->height_cm) || !status_alive(r->status))
        return !text_blank(r->species_seen);
    struct size_change g = size_change_of(size->height_cm, r->height_cm, date_years(size->observed_on, r->observed_on),
                                          c->limits.height_gain_cm_year, c->limits.shrink_share, c->limits.shrink_floor_cm);
    return !g.shrunk && !g.too_fast;
}

void plots_check(struct checking *c)
{
    bool any = false;
    for (size_t i = 0; i < c->n && !any; i++)
        any = (c->odd[i] & (ODD_NAME | ODD_TWICE)) != 0;
    if (!any || c->ground->n_plots < 2)
        return;
    struct spot *spots = memory_get(c->ground->n_plants + 1, sizeof *spots);
    size_t n = 0;
    for (size_t p = 0; p < c->ground->n_plants; p++)
        if (c->ground->plants[p].cell_code != NULL && c->ground->plants[p].number != INT_UNKNOWN)
            spots[n++] = (struct spot){spot_hash(&c->ground->plants[p]), (uint32_t)p};
    qsort(spots, n, sizeof *spots, spot_order);
    for (size_t i = 0; i < c->n; i++) {
        if ((c->odd[i] & (ODD_NAME | ODD_TWICE)) == 0 || c->plant_of[i] == UINT32_MAX || c->plant_of[i] >= c->ground->n_plants)
            continue;
        const struct plant *own = plant_at(c, c->plant_of[i]);
        const struct plot *plot = plot_of(c, own);
        bool unfit = (c->odd[i] & (ODD_NAME | ODD_SIZE | ODD_STATE)) != 0;
        uint64_t h = spot_hash(own);
        size_t low = 0, high = n;
        while (low < high) {
            size_t m = (low + high) / 2;
            if (spots[m].hash < h)
                low = m + 1;
            else
                high = m;
        }
        for (; plot != NULL && unfit && low < n && spots[low].hash == h; low++) {
            const struct plant *q = plant_at(c, spots[low].plant);
            const struct plot *other = plot_of(c, q);
            if (other == NULL || other->id == plot->id || other->site_id != plot->site_id ||
                !text_same_nocase(q->cell_code, own->cell_code) || q->number != own->number ||
                seen_on_visit(c, spots[low].plant, &c->records[i]) || !could_be(c, &c->records[i], spots[low].plant))
                continue;
            struct doubt *d = doubt_add(&c->doubts, "wrong_plot", (int64_t)i, "plot",
                                        "The record does not fit plot %s, square %s number %lld (%s), but fits the same square of plot %s "
                                        "(%s), which has no record on this visit.",
                                        plot->code, own->cell_code, (long long)own->number, own->species, other->code, q->species);
            doubt_remedy(&c->doubts, d, arena_print(c->arena, "correct:plot=%s;species_seen=", other->code), "it is plot %s", other->code);
            doubt_usual(&c->doubts, d, "the plot is right as written");
            break;
        }
    }
    free(spots);
}
