/* SPDX-License-Identifier: GPL-3.0-or-later
 * Plausibility of plant records against the last survey and within the file. Typical: a few hundred to 2 million new
 * records; series are laid out by counting, so that the whole is linear but for sorting within a plant. */
#include "survey/plausible.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

struct survey_limits survey_limits_usual(void)
{
    return (struct survey_limits){.shrink_share = 0.15,
                                  .shrink_floor_cm = 3,
                                  .shrink_any_cm = 10,
                                  .shrink_floor_mm = 1,
                                  .height_gain_cm_year = 150,
                                  .diameter_gain_mm_year = 20,
                                  .outlier_z = 6,
                                  .window_from = 815,
                                  .window_to = 930,
                                  .today = DATE_UNKNOWN};
}

/* ---- plants by id ---- */

struct id_map {
    int64_t *ids;
    uint32_t *at;
    size_t slots;
};

static size_t id_slot(const struct id_map *map, int64_t id)
{
    size_t at = (size_t)(((uint64_t)id * 0x9E3779B97F4A7C15u) >> 20) & (map->slots - 1);
    while (map->at[at] != 0 && map->ids[at] != id)
        at = (at + 1) & (map->slots - 1);
    return at;
}

static struct id_map id_map_make(const struct checking *c)
{
    struct id_map map = {.slots = 64};
    while (map.slots < c->n_plants * 2)
        map.slots *= 2;
    map.ids = memory_get(map.slots, sizeof *map.ids);
    map.at = memory_get(map.slots, sizeof *map.at);
    for (size_t i = 0; i < c->n_plants; i++) {
        int64_t id = i < c->ground->n_plants ? c->ground->plants[i].id : -(int64_t)(i - c->ground->n_plants) - 1;
        size_t at = id_slot(&map, id);
        map.ids[at] = id;
        map.at[at] = (uint32_t)i + 1;
    }
    return map;
}

static int seen_order(const void *a, const void *b)
{
    const struct seen *x = a, *y = b;
    if (x->day != y->day)
        return x->day < y->day ? -1 : 1;
    bool x_new = x->at >= 0, y_new = y->at >= 0;
    if (x_new != y_new)
        return x_new ? 1 : -1;
    return abs(x->at) < abs(y->at) ? -1 : abs(x->at) > abs(y->at);
}

/* The species of every plant as a number; equal names, in any case of letters, are equal. */
static void species_number(struct checking *c)
{
    size_t slots = 4096, n = 0;
    uint32_t *table = memory_get(slots, sizeof *table);
    const char **names = memory_get(slots, sizeof *names);
    c->species_id = memory_get(c->n_plants + 1, sizeof *c->species_id);
    for (size_t p = 0; p < c->n_plants; p++) {
        const char *name = plant_at(c, (uint32_t)p)->species;
        name = name == NULL ? "" : name;
        uint64_t h = 1469598103934665603u;
        for (const char *q = name; *q != '\0'; q++)
            h = (h ^ (uint64_t)(unsigned char)(*q | 0x20)) * 1099511628211u;
        size_t at = (size_t)(h % slots);
        while (table[at] != 0 && !text_same_nocase(names[table[at] - 1], name))
            at = (at + 1) % slots;
        if (table[at] == 0 && n < slots / 2) {
            names[n++] = name;
            table[at] = (uint32_t)n;
        }
        c->species_id[p] = table[at];
    }
    c->n_species = (uint32_t)n;
    free(table);
    free(names);
}

bool checking_start(struct checking *c)
{
    c->n_plants = c->ground->n_plants + c->n_fresh;
    struct id_map map = id_map_make(c);
    c->plant_of = memory_get(c->n + 1, sizeof *c->plant_of);
    c->where = memory_get(c->n + 1, sizeof *c->where);
    c->odd = memory_get(c->n + 1, 1);
    c->first = memory_get(c->n_plants + 2, sizeof *c->first);
    uint32_t *old_plant = memory_get(c->ground->n_records + 1, sizeof *old_plant);
    bool *touched = memory_get(c->n_plants + 1, sizeof *touched);
    for (size_t i = 0; i < c->n; i++) {
        uint32_t p = map.at[id_slot(&map, c->records[i].plant_id)];
        c->plant_of[i] = p == 0 ? UINT32_MAX : p - 1;
        if (p != 0) {
            touched[p - 1] = true;
            c->first[p]++;
        }
    }
    for (size_t i = 0; i < c->ground->n_records; i++) {
        uint32_t p = map.at[id_slot(&map, c->ground->records[i].plant_id)];
        old_plant[i] = p == 0 || !touched[p - 1] ? UINT32_MAX : p - 1;
        if (old_plant[i] != UINT32_MAX)
            c->first[p]++;
    }
    for (size_t p = 0; p < c->n_plants; p++)
        c->first[p + 1] += c->first[p];
    uint32_t *fill = memory_get(c->n_plants + 1, sizeof *fill);
    memcpy(fill, c->first, (c->n_plants + 1) * sizeof *fill);
    c->series = memory_get((size_t)c->first[c->n_plants] + 1, sizeof *c->series);
    for (size_t i = 0; i < c->ground->n_records; i++)
        if (old_plant[i] != UINT32_MAX)
            c->series[fill[old_plant[i]]++] = (struct seen){c->ground->records[i].observed_on, -1 - (int32_t)i};
    for (size_t i = 0; i < c->n; i++)
        if (c->plant_of[i] != UINT32_MAX)
            c->series[fill[c->plant_of[i]]++] = (struct seen){c->records[i].observed_on, (int32_t)i};
    for (size_t p = 0; p < c->n_plants; p++) {
        size_t n = c->first[p + 1] - c->first[p];
        if (n > 1)
            qsort(c->series + c->first[p], n, sizeof *c->series, seen_order);
    }
    for (size_t s = 0; s < c->first[c->n_plants]; s++)
        if (c->series[s].at >= 0)
            c->where[c->series[s].at] = (uint32_t)s;
    species_number(c);
    free(fill);
    free(touched);
    free(old_plant);
    free(map.ids);
    free(map.at);
    return true;
}

void checking_end(struct checking *c)
{
    free(c->plant_of);
    free(c->first);
    free(c->series);
    free(c->where);
    free(c->odd);
    free(c->species_id);
    free(c->height.at);
    free(c->diameter.at);
    free(c->height_first.at);
    free(c->diameter_first.at);
    free(c->doubts.at);
}

const struct plant_record *record_before(const struct checking *c, uint32_t plant, int32_t day, int64_t visit, int measure)
{
    for (uint32_t s = c->first[plant + 1]; s > c->first[plant]; s--) {
        const struct plant_record *r = record_seen(c, &c->series[s - 1]);
        if (r->observed_on == DATE_UNKNOWN || r->observed_on >= day || (visit != 0 && r->visit_id == visit) || r->status == STATUS_UNKNOWN)
            continue;
        if (measure == 0 || (status_alive(r->status) && is_known(measure == 1 ? r->height_cm : r->diameter_mm) &&
                             (measure == 1 ? r->height_cm : r->diameter_mm) > 0))
            return r;
    }
    return NULL;
}

/* ---- how growth runs ---- */

struct keyed {
    int64_t key;
    double x;
};

static int keyed_order(const void *a, const void *b)
{
    const struct keyed *x = a, *y = b;
    if (x->key != y->key)
        return x->key < y->key ? -1 : 1;
    return (x->x > y->x) - (x->x < y->x);
}

static double middle(const struct keyed *k, size_t n)
{
    return n % 2 == 1 ? k[n / 2].x : (k[n / 2 - 1].x + k[n / 2].x) / 2;
}

static struct habits habits_of(struct keyed *k, size_t n, size_t least)
{
    struct habits out = {0};
    size_t room = 0;
    qsort(k, n, sizeof *k, keyed_order);
    for (size_t i = 0; i < n;) {
        size_t end = i;
        while (end < n && k[end].key == k[i].key)
            end++;
        if (end - i >= least) {
            double median = middle(k + i, end - i);
            for (size_t j = i; j < end; j++)
                k[j].x = fabs(k[j].x - median);
            qsort(k + i, end - i, sizeof *k, keyed_order);
            double spread = 1.4826 * middle(k + i, end - i);
            out.at = column_room(out.at, out.n, &room, sizeof *out.at);
            out.at[out.n++] = (struct growth_habit){k[i].key, median, spread < 0.05 ? 0.05 : spread, end - i};
        }
        i = end;
    }
    return out;
}

const struct growth_habit *habit_find(const struct habits *habits, int64_t key)
{
    size_t low = 0, high = habits->n;
    while (low < high) {
        size_t m = (low + high) / 2;
        if (habits->at[m].key < key)
            low = m + 1;
        else
            high = m;
    }
    return low < habits->n && habits->at[low].key == key ? &habits->at[low] : NULL;
}

void habits_make(struct checking *c)
{
    struct keyed *pairs = memory_get(c->n + 1, sizeof *pairs), *firsts = memory_get(c->n + 1, sizeof *firsts);
    for (int measure = 1; measure <= 2; measure++) {
        size_t n = 0, m = 0;
        for (size_t i = 0; i < c->n; i++) {
            const struct plant_record *r = &c->records[i];
            double now = measure == 1 ? r->height_cm : r->diameter_mm;
            if (c->plant_of[i] == UINT32_MAX || !status_alive(r->status) || !is_known(now) || now <= 0)
                continue;
            const struct plant_record *b = record_before(c, c->plant_of[i], r->observed_on, r->visit_id, measure);
            if (b != NULL && (measure == 1 || b->diameter_at == r->diameter_at || b->diameter_at == DIAMETER_HEIGHT_UNKNOWN ||
                              r->diameter_at == DIAMETER_HEIGHT_UNKNOWN))
                pairs[n++] = (struct keyed){r->visit_id, log(now / (measure == 1 ? b->height_cm : b->diameter_mm))};
            else if (b == NULL)
                firsts[m++] = (struct keyed){c->species_id[c->plant_of[i]], log(now)};
        }
        *(measure == 1 ? &c->height : &c->diameter) = habits_of(pairs, n, 20);
        *(measure == 1 ? &c->height_first : &c->diameter_first) = habits_of(firsts, m, 15);
    }
    free(pairs);
    free(firsts);
}

/* ---- the whole ---- */

enum outcome plants_check(const struct plant_record *records, const struct record_place *places, size_t n, const struct plant *fresh,
                          size_t n_fresh, const struct survey_ground *ground, const struct survey_limits *limits,
                          const struct progress *progress, struct arena *arena, struct doubt **out, size_t *n_out, struct failure *why)
{
    if (n > INT32_MAX / 2 || ground->n_records > INT32_MAX / 2 || ground->n_plants + n_fresh > INT32_MAX / 2)
        return fail(why, OUTCOME_DATA, "More than a thousand million records cannot be checked at once.");
    struct checking c = {.records = records,
                         .places = places,
                         .n = n,
                         .fresh = fresh,
                         .n_fresh = n_fresh,
                         .ground = ground,
                         .limits = *limits,
                         .progress = progress,
                         .arena = arena,
                         .doubts = {.arena = arena}};
    enum outcome outcome = OUTCOME_OK;
    checking_start(&c);
    habits_make(&c);
    c.names = names_make(&c);
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++) {
        if (c.plant_of[i] != UINT32_MAX) {
            twice_check(&c, i);
            states_check(&c, i);
            sizes_check(&c, i);
            names_check(&c, i);
        }
        if (i % 50000 == 0 && !progress_tell(progress, 0.4 + 0.5 * (double)i / (double)(n + 1), "comparing with the last survey"))
            outcome = fail(why, OUTCOME_CANCELLED, "Called off while checking; nothing was changed.");
    }
    if (outcome == OUTCOME_OK) {
        days_check(&c);
        plots_check(&c);
        swaps_check(&c);
        observers_check(&c);
        doubts_done(&c.doubts, out, n_out);
    }
    checking_end(&c);
    return outcome;
}
