/* SPDX-License-Identifier: GPL-3.0-or-later
 * How good the records of a survey are. */
#include "survey/quality.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

/// Two records of one plant at one visit; the repeat, or the later observer, second.
struct pair {
    const struct plant_record *first, *second;
};
struct weighing {
    const struct survey_ground *ground;
    int64_t site; ///< 0: all
    double level;
    struct arena *arena;
    const struct plant_record **records; ///< by visit, plant, blind repeat last, observer, id
    size_t n;
    struct pair *pairs;
};

static int text_order(const char *a, const char *b)
{
    return strcmp(a == NULL ? "" : a, b == NULL ? "" : b);
}

static int record_order(const void *x, const void *y)
{
    const struct plant_record *a = *(const struct plant_record *const *)x, *b = *(const struct plant_record *const *)y;
    if (a->visit_id != b->visit_id)
        return a->visit_id < b->visit_id ? -1 : 1;
    if (a->plant_id != b->plant_id)
        return a->plant_id < b->plant_id ? -1 : 1;
    if ((a->repeat == TRUTH_YES) != (b->repeat == TRUTH_YES))
        return a->repeat == TRUTH_YES ? 1 : -1;
    int order = text_order(a->observer, b->observer);
    return order != 0 ? order : (a->id > b->id) - (a->id < b->id);
}

static enum outcome share_of(size_t x, size_t n, double level, struct estimate *out, struct failure *why)
{
    *out = estimate_unknown();
    return n == 0 ? OUTCOME_OK : proportion_wilson((double)x, (double)n, level, false, out, why);
}

static enum outcome digits_of(const double *height, size_t n, double level, struct digits *out, struct failure *why)
{
    struct estimate share;
    *out = (struct digits){.heaping = observer_heaping(height, n), .low = unknown_real(), .high = unknown_real()};
    enum outcome outcome = share_of(out->heaping.on_five, out->heaping.n, level, &share, why);
    if (outcome == OUTCOME_OK && out->heaping.n > 0) {
        out->low = 500 * share.low;
        out->high = 500 * share.high;
    }
    return outcome;
}

/* ---- looked at twice ---- */

static enum outcome kappa_of(const struct pair *pairs, size_t n, double level, struct estimate *out, struct failure *why)
{
    double table[STATUS_COUNT * STATUS_COUNT] = {0}, agreed = 0;
    size_t used[STATUS_COUNT] = {0}, kinds = 0;
    *out = estimate_unknown();
    for (size_t i = 0; i < n; i++) {
        used[pairs[i].first->status]++;
        used[pairs[i].second->status]++;
        table[(size_t)pairs[i].first->status * STATUS_COUNT + (size_t)pairs[i].second->status]++;
    }
    for (size_t s = 0; s < STATUS_COUNT; s++)
        kinds += used[s] > 0;
    if (kinds < 2 || n < 2)
        return OUTCOME_OK; /* one state alone: nothing to agree on beyond chance */
    double *small = memory_get(kinds * kinds, sizeof *small);
    size_t row = 0;
    for (size_t a = 0; a < STATUS_COUNT; a++) {
        size_t column = 0;
        if (used[a] == 0)
            continue;
        for (size_t b = 0; b < STATUS_COUNT; b++)
            if (used[b] > 0)
                small[row * kinds + column++] = table[a * STATUS_COUNT + b];
        row++;
    }
    struct failure none;
    if (agreement_kappa(small, kinds, 0, level, out, &agreed, &none) != OUTCOME_OK)
        *out = estimate_unknown();
    free(small);
    (void)why;
    return OUTCOME_OK;
}

static enum outcome heights_of(const struct pair *pairs, size_t n, double level, struct twice *out, struct failure *why)
{
    double *first = memory_get(n + 1, sizeof *first), *second = memory_get(n + 1, sizeof *second);
    size_t m = 0, close = 0, close_d = 0;
    for (size_t i = 0; i < n; i++) {
        const struct plant_record *a = pairs[i].first, *b = pairs[i].second;
        if (is_known(a->height_cm) && is_known(b->height_cm)) {
            first[m] = a->height_cm;
            second[m++] = b->height_cm;
            close += fabs(a->height_cm - b->height_cm) <= fmax(5, 0.05 * (a->height_cm + b->height_cm) / 2);
        }
        if (is_known(a->diameter_mm) && is_known(b->diameter_mm)) {
            out->diameters++;
            close_d += fabs(a->diameter_mm - b->diameter_mm) <= 1;
        }
    }
    out->heights = m;
    enum outcome outcome = share_of(close, m, level, &out->height_within, why);
    if (outcome == OUTCOME_OK)
        outcome = share_of(close_d, out->diameters, level, &out->diameter_within, why);
    struct failure none;
    out->height = (struct measure_agreement){estimate_unknown(), unknown_real(), unknown_real(), unknown_real(), unknown_real()};
    struct measure_agreement height;
    if (outcome == OUTCOME_OK && m >= 2 && agreement_measures(second, first, m, level, &height, &none) == OUTCOME_OK)
        out->height = height;
    free(first);
    free(second);
    return outcome;
}

static enum outcome twice_of(const struct pair *pairs, size_t n, double level, struct twice *out, struct failure *why)
{
    *out = (struct twice){.pairs = n};
    size_t same = 0, alike = 0;
    for (size_t i = 0; i < n; i++) {
        const struct plant_record *a = pairs[i].first, *b = pairs[i].second;
        same += a->status == b->status;
        out->named += a->species_seen != NULL || b->species_seen != NULL;
        alike += text_same_nocase(a->species_seen, b->species_seen) || (a->species_seen == NULL && b->species_seen == NULL);
    }
    enum outcome outcome = share_of(same, n, level, &out->state, why);
    if (outcome == OUTCOME_OK)
        outcome = share_of(alike, n, level, &out->species, why);
    if (outcome == OUTCOME_OK)
        outcome = kappa_of(pairs, n, level, &out->kappa, why);
    return outcome == OUTCOME_OK ? heights_of(pairs, n, level, out, why) : outcome;
}

/* ---- visits ---- */

static const struct site *site_of(const struct survey_ground *g, int64_t id)
{
    for (size_t i = 0; i < g->n_sites; i++)
        if (g->sites[i].id == id)
            return &g->sites[i];
    return NULL;
}

struct plant_day {
    int64_t plant, site, plot;
    int32_t from, dead; ///< stands from; known dead, gone or removed from (INT32_MAX: not)
};

static int plant_day_order(const void *a, const void *b)
{
    const struct plant_day *x = a, *y = b;
    return (x->plant > y->plant) - (x->plant < y->plant);
}

/* When each plant stood: from planting, or its first record, to the first record of its death that none contradicts later. */
static struct plant_day *days_of(struct weighing *w)
{
    const struct survey_ground *g = w->ground;
    struct plant_day *days = arena_array(w->arena, g->n_plants, sizeof *days);
    for (size_t i = 0; i < g->n_plants; i++) {
        days[i] =
            (struct plant_day){.plant = g->plants[i].id, .plot = g->plants[i].plot_id, .from = g->plants[i].planted_on, .dead = INT32_MAX};
        for (size_t k = 0; k < g->n_plots && days[i].site == 0; k++)
            days[i].site = g->plots[k].id == g->plants[i].plot_id ? g->plots[k].site_id : 0;
    }
    qsort(days, g->n_plants, sizeof *days, plant_day_order);
    for (int pass = 0; pass < 2; pass++)
        for (size_t i = 0; i < g->n_records; i++) {
            const struct plant_record *r = &g->records[i];
            struct plant_day key = {.plant = r->plant_id};
            struct plant_day *day = g->n_plants == 0 ? NULL : bsearch(&key, days, g->n_plants, sizeof *days, plant_day_order);
            if (day == NULL || r->observed_on == DATE_UNKNOWN)
                continue;
            bool gone = r->status == STATUS_DEAD_STANDING || r->status == STATUS_MISSING || r->status == STATUS_REMOVED ||
                        r->status == STATUS_REPLACED;
            if (pass == 0 && (day->from == DATE_UNKNOWN || r->observed_on < day->from))
                day->from = r->observed_on;
            if (pass == 0 && gone && r->observed_on < day->dead)
                day->dead = r->observed_on;
            if (pass == 1 && !gone && r->status != STATUS_NOT_FOUND && r->observed_on > day->dead)
                day->dead = INT32_MAX; /* alive later */
        }
    return days;
}

static enum outcome visit_weigh(struct weighing *w, const struct plant_day *days, const struct visit *visit, size_t from, size_t to,
                                struct visit_quality *out, struct failure *why)
{
    double *heights = memory_get(to - from + 1, sizeof *heights);
    size_t n_heights = 0, n_pairs = 0, found = 0;
    *out = (struct visit_quality){.visit = visit, .site = site_of(w->ground, visit->site_id), .found = estimate_unknown()};
    for (size_t i = from; i < to; i++) {
        const struct plant_record *r = w->records[i];
        bool same_plant = i > from && w->records[i - 1]->plant_id == r->plant_id;
        if (same_plant && (i < 2 || i - 1 == from || w->records[i - 2]->plant_id != r->plant_id))
            w->pairs[n_pairs++] = (struct pair){w->records[i - 1], r};
        if (!same_plant) {
            out->recorded++;
            out->not_found += r->status == STATUS_NOT_FOUND;
        }
        out->kept += !text_blank(r->confirmed);
        bool alive = r->status == STATUS_ALIVE || r->status == STATUS_ALIVE_DIEBACK || r->status == STATUS_RESPROUTING;
        if (alive && is_known(r->height_cm))
            heights[n_heights++] = r->height_cm;
    }
    bool sample = visit->method == VISIT_METHOD_SAMPLE_OF_CELLS || visit->method == VISIT_METHOD_SAMPLE_OF_PLANTS;
    int32_t last = visit->to_on == DATE_UNKNOWN ? visit->from_on : visit->to_on;
    for (size_t i = 0; !sample && i < w->ground->n_plants; i++)
        out->due += days[i].site == visit->site_id && (visit->plot_id == 0 || days[i].plot == visit->plot_id) &&
                    days[i].from != DATE_UNKNOWN && days[i].from <= last && days[i].dead >= visit->from_on;
    found = out->recorded - out->not_found;
    enum outcome outcome = share_of(n_pairs, out->recorded, w->level, &out->again, why);
    if (outcome == OUTCOME_OK && out->due > 0)
        outcome = share_of(found < out->due ? found : out->due, out->due, w->level, &out->found, why);
    if (outcome == OUTCOME_OK)
        outcome = twice_of(w->pairs, n_pairs, w->level, &out->twice, why);
    if (outcome == OUTCOME_OK)
        outcome = digits_of(heights, n_heights, w->level, &out->digits, why);
    free(heights);
    return outcome;
}

static int visit_order(const void *a, const void *b)
{
    const struct visit_quality *x = a, *y = b;
    int order = text_order(x->site == NULL ? NULL : x->site->code, y->site == NULL ? NULL : y->site->code);
    if (order != 0)
        return order;
    if (x->visit->from_on != y->visit->from_on)
        return x->visit->from_on < y->visit->from_on ? -1 : 1;
    return (x->visit->id > y->visit->id) - (x->visit->id < y->visit->id);
}

static enum outcome visits_weigh(struct weighing *w, struct quality *out, struct failure *why)
{
    const struct survey_ground *g = w->ground;
    const struct plant_day *days = days_of(w);
    enum outcome outcome = OUTCOME_OK;
    out->visits = arena_array(w->arena, g->n_visits, sizeof *out->visits);
    for (size_t from = 0, to = 0; from < w->n && outcome == OUTCOME_OK; from = to) {
        const struct visit *visit = NULL;
        for (to = from; to < w->n && w->records[to]->visit_id == w->records[from]->visit_id; to++)
            continue;
        for (size_t i = 0; i < g->n_visits && visit == NULL; i++)
            visit = g->visits[i].id == w->records[from]->visit_id ? &g->visits[i] : NULL;
        if (visit != NULL)
            outcome = visit_weigh(w, days, visit, from, to, &out->visits[out->n_visits++], why);
    }
    qsort(out->visits, out->n_visits, sizeof *out->visits, visit_order);
    return outcome;
}

/* ---- observers ---- */

static int observer_order(const void *x, const void *y)
{
    const struct plant_record *a = *(const struct plant_record *const *)x, *b = *(const struct plant_record *const *)y;
    int order = text_order(a->observer, b->observer);
    return order != 0 ? order : (a->id > b->id) - (a->id < b->id);
}

static size_t pairs_all(struct weighing *w)
{
    size_t n = 0;
    for (size_t i = 1; i < w->n; i++) {
        const struct plant_record *a = w->records[i - 1], *b = w->records[i];
        bool first = i < 2 || w->records[i - 2]->visit_id != b->visit_id || w->records[i - 2]->plant_id != b->plant_id;
        if (a->visit_id == b->visit_id && a->plant_id == b->plant_id && first)
            w->pairs[n++] = (struct pair){a, b};
    }
    return n;
}

static enum outcome observers_weigh(struct weighing *w, struct quality *out, struct failure *why)
{
    size_t n_pairs = pairs_all(w), n_heights = 0;
    double *heights = memory_get(w->n + 1, sizeof *heights);
    struct pair *own = memory_get(n_pairs + 1, sizeof *own);
    const struct plant_record **records = memory_get(w->n + 1, sizeof *records);
    memcpy(records, w->records, w->n * sizeof *records);
    qsort(records, w->n, sizeof *records, observer_order);
    enum outcome outcome = twice_of(w->pairs, n_pairs, w->level, &out->all, why);
    size_t groups = 0;
    for (size_t i = 0; i < w->n; i++)
        groups += i == 0 || text_order(records[i]->observer, records[i - 1]->observer) != 0;
    out->observers = arena_array(w->arena, groups, sizeof *out->observers);
    for (size_t from = 0, to = 0; from < w->n && outcome == OUTCOME_OK; from = to) {
        struct observer_quality *one = &out->observers[out->n_observers];
        size_t n_own = 0;
        n_heights = 0;
        for (to = from; to < w->n && text_order(records[to]->observer, records[from]->observer) == 0; to++) {
            enum status s = records[to]->status;
            if ((s == STATUS_ALIVE || s == STATUS_ALIVE_DIEBACK || s == STATUS_RESPROUTING) && is_known(records[to]->height_cm))
                heights[n_heights++] = records[to]->height_cm;
        }
        *one = (struct observer_quality){.observer = records[from]->observer, .records = to - from};
        for (size_t p = 0; p < n_pairs; p++)
            if (text_order(w->pairs[p].second->observer, one->observer) == 0)
                own[n_own++] = w->pairs[p];
        outcome = digits_of(heights, n_heights, w->level, &one->digits, why);
        if (outcome == OUTCOME_OK)
            outcome = twice_of(own, n_own, w->level, &one->twice, why);
        out->heaped += one->digits.heaping.heaped;
        out->n_observers += !text_blank(one->observer);
    }
    n_heights = 0;
    for (size_t i = 0; i < w->n; i++)
        if (is_known(records[i]->height_cm))
            heights[n_heights++] = records[i]->height_cm;
    if (outcome == OUTCOME_OK)
        outcome = digits_of(heights, n_heights, w->level, &out->digits, why);
    free(heights);
    free(own);
    free(records);
    return outcome;
}

enum outcome survey_quality(const struct survey_ground *ground, int64_t site_id, double level, struct arena *arena, struct quality *out,
                            struct failure *why)
{
    struct weighing w = {.ground = ground, .site = site_id, .level = level, .arena = arena};
    struct quality quality = {.n_visits = 0};
    w.records = arena_array(arena, ground->n_records, sizeof *w.records);
    w.pairs = arena_array(arena, ground->n_records, sizeof *w.pairs);
    for (size_t i = 0; i < ground->n_records; i++) {
        const struct visit *visit = NULL;
        for (size_t k = 0; site_id != 0 && k < ground->n_visits && visit == NULL; k++)
            visit = ground->visits[k].id == ground->records[i].visit_id ? &ground->visits[k] : NULL;
        if (site_id == 0 || (visit != NULL && visit->site_id == site_id))
            w.records[w.n++] = &ground->records[i];
    }
    qsort(w.records, w.n, sizeof *w.records, record_order);
    enum outcome outcome = visits_weigh(&w, &quality, why);
    if (outcome == OUTCOME_OK)
        outcome = observers_weigh(&w, &quality, why);
    if (outcome == OUTCOME_OK)
        *out = quality;
    return outcome;
}
