/* SPDX-License-Identifier: GPL-3.0-or-later
 * From records to the state of every plant at every census of its plot. */
#include "evidence/evidence.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { CENSUS_DAYS = 45 }; ///< records at most so many days apart are one census

static enum life_state state_of(enum status status)
{
    switch (status) {
    case STATUS_ALIVE:
    case STATUS_ALIVE_DIEBACK:
    case STATUS_RESPROUTING:
        return LIFE_ALIVE;
    case STATUS_DEAD_STANDING:
    case STATUS_MISSING:
    case STATUS_REPLACED:
        return LIFE_DEAD;
    case STATUS_NOT_FOUND:
        return LIFE_NOT_FOUND;
    case STATUS_REMOVED:
        return LIFE_REMOVED;
    default:
        return LIFE_NOT_SEEN;
    }
}

static const struct visit *visit_find(const struct evidence_facts *facts, int64_t id)
{
    size_t low = 0, high = facts->n_visits;
    while (low < high) {
        size_t middle = (low + high) / 2;
        if (facts->visits[middle].id < id)
            low = middle + 1;
        else
            high = middle;
    }
    return low < facts->n_visits && facts->visits[low].id == id ? &facts->visits[low] : NULL;
}

/* A record with what it needs beside it. */
struct seen {
    size_t plot, plant; ///< index of the plot, and of the plant within the plot
    const struct plant_record *record;
    const struct visit *visit;
};

struct lookup {
    int64_t id;
    size_t plot, within;
};

static int by_id(const void *a, const void *b)
{
    int64_t x = ((const struct lookup *)a)->id, y = ((const struct lookup *)b)->id;
    return (x > y) - (x < y);
}

static int by_plot_and_day(const void *a, const void *b)
{
    const struct seen *x = a, *y = b;
    if (x->plot != y->plot)
        return x->plot < y->plot ? -1 : 1;
    if (x->record->observed_on != y->record->observed_on)
        return x->record->observed_on < y->record->observed_on ? -1 : 1;
    return (x->record->id > y->record->id) - (x->record->id < y->record->id);
}

/* Plants of each plot, and where each plant is found. */
static struct lookup *plants_place(const struct evidence_facts *facts, struct plot_lives *lives, struct arena *arena)
{
    struct lookup *plots = arena_array(arena, facts->n_plots, sizeof *plots), *out = arena_array(arena, facts->n_plants, sizeof *out);
    for (size_t i = 0; i < facts->n_plots; i++)
        plots[i] = (struct lookup){facts->plots[i].id, i, 0};
    qsort(plots, facts->n_plots, sizeof *plots, by_id);
    for (size_t i = 0; i < facts->n_plants; i++) {
        struct lookup key = {.id = facts->plants[i].plot_id};
        const struct lookup *found = bsearch(&key, plots, facts->n_plots, sizeof *plots, by_id);
        out[i] = (struct lookup){facts->plants[i].id, found == NULL ? SIZE_MAX : found->plot, 0};
        if (found != NULL)
            out[i].within = lives[found->plot].n_plants++;
    }
    for (size_t i = 0; i < facts->n_plots; i++)
        lives[i].plants = arena_array(arena, lives[i].n_plants, sizeof *lives[i].plants);
    for (size_t i = 0; i < facts->n_plants; i++)
        if (out[i].plot != SIZE_MAX)
            lives[out[i].plot].plants[out[i].within] = &facts->plants[i];
    qsort(out, facts->n_plants, sizeof *out, by_id);
    return out;
}

/* Records of plot-wide looks, in order of plot and day; health walks and incidents are no census. */
static struct seen *records_place(const struct evidence_facts *facts, const struct lookup *plants, struct arena *arena, size_t *n)
{
    struct seen *out = arena_array(arena, facts->n_records, sizeof *out);
    *n = 0;
    for (size_t i = 0; i < facts->n_records; i++) {
        struct lookup key = {.id = facts->records[i].plant_id};
        const struct lookup *found = bsearch(&key, plants, facts->n_plants, sizeof *plants, by_id);
        const struct visit *visit = visit_find(facts, facts->records[i].visit_id);
        if (found == NULL || found->plot == SIZE_MAX || facts->records[i].repeat == TRUTH_YES)
            continue;
        if (visit != NULL && (visit->kind == VISIT_KIND_HEALTH_WALK || visit->kind == VISIT_KIND_INCIDENT_VISIT))
            continue;
        out[(*n)++] = (struct seen){found->plot, found->within, &facts->records[i], visit};
    }
    qsort(out, *n, sizeof *out, by_plot_and_day);
    return out;
}

static bool first_kind(const struct seen *seen)
{
    return seen->visit != NULL && (seen->visit->kind == VISIT_KIND_AS_PLANTED_CENSUS || seen->visit->time_point == TIME_POINT_AS_PLANTED);
}

/* Cut the records of one plot into censuses; returns how many. A change between as-planted and later also cuts. */
static size_t censuses_cut(const struct seen *seen, size_t n, struct census *out, size_t *of_record)
{
    size_t count = 0;
    for (size_t i = 0; i < n; i++) {
        int32_t day = seen[i].record->observed_on;
        bool first = first_kind(&seen[i]);
        if (count == 0 || day - out[count - 1].from > CENSUS_DAYS || first != out[count - 1].as_planted)
            out[count++] = (struct census){.from = day, .as_planted = first};
        struct census *census = &out[count - 1];
        census->to = day;
        census->n_records++;
        census->sample = census->sample || (seen[i].visit != NULL && (seen[i].visit->method == VISIT_METHOD_SAMPLE_OF_CELLS ||
                                                                      seen[i].visit->method == VISIT_METHOD_SAMPLE_OF_PLANTS));
        census->leaf_off = census->leaf_off || (seen[i].visit != NULL && seen[i].visit->leaf_on == TRUTH_NO);
        of_record[i] = count - 1;
    }
    return count;
}

/* The next census after `c` that saw the plant alive; there is one. */
static size_t alive_after(const enum life_state *states, size_t c, size_t n)
{
    for (c++; c + 1 < n && states[c] != LIFE_ALIVE;)
        c++;
    return c;
}

/* What later and earlier looks settle: seen alive later means alive now; dead and never alive again stays dead. */
static void states_settle(struct plot_lives *lives)
{
    size_t n = lives->n_censuses;
    for (size_t p = 0; p < lives->n_plants; p++) {
        enum life_state *states = lives->states + p * n;
        const struct plant_record **by = lives->deciding + p * n, *dead_by = NULL, *removed_by = NULL;
        size_t last_alive = SIZE_MAX;
        for (size_t c = 0; c < n; c++)
            if (states[c] == LIFE_ALIVE)
                last_alive = c;
        bool begun = false, revived = false;
        for (size_t c = 0; c < n; c++) {
            bool later_alive = last_alive != SIZE_MAX && c < last_alive;
            if (states[c] == LIFE_DEAD && later_alive)
                revived = true;
            if (later_alive && begun && states[c] != LIFE_REMOVED && states[c] != LIFE_ALIVE) {
                states[c] = LIFE_ALIVE;
                by[c] = by[alive_after(states, c, n)];
            }
            if (states[c] == LIFE_ALIVE) /* what was written before is overtaken */
                dead_by = removed_by = NULL;
            else if (states[c] == LIFE_DEAD)
                dead_by = dead_by == NULL ? by[c] : dead_by;
            else if (states[c] == LIFE_REMOVED)
                removed_by = removed_by == NULL ? by[c] : removed_by;
            else if (removed_by != NULL || dead_by != NULL) {
                states[c] = removed_by != NULL ? LIFE_REMOVED : LIFE_DEAD;
                by[c] = removed_by != NULL ? removed_by : dead_by;
            }
            begun = begun || states[c] == LIFE_ALIVE;
        }
        lives->revived += revived;
    }
}

static void plot_fill(struct plot_lives *lives, const struct seen *seen, size_t n, struct arena *arena)
{
    size_t *of_record = arena_array(arena, n, sizeof *of_record);
    lives->censuses = arena_array(arena, n, sizeof *lives->censuses);
    lives->n_censuses = censuses_cut(seen, n, lives->censuses, of_record);
    size_t cells = lives->n_plants * lives->n_censuses;
    lives->states = arena_array(arena, cells, sizeof *lives->states);
    lives->heights_cm = arena_array(arena, cells, sizeof *lives->heights_cm);
    lives->crowns_cm = arena_array(arena, cells, sizeof *lives->crowns_cm);
    lives->last = arena_array(arena, lives->n_plants, sizeof *lives->last);
    lives->cause = arena_array(arena, lives->n_plants, sizeof *lives->cause);
    lives->deciding = arena_array(arena, cells, sizeof *lives->deciding);
    lives->measured = arena_array(arena, cells, sizeof *lives->measured);
    for (size_t i = 0; i < cells; i++)
        lives->heights_cm[i] = lives->crowns_cm[i] = unknown_real();
    for (size_t i = 0; i < n; i++) {
        size_t cell = seen[i].plant * lives->n_censuses + of_record[i];
        enum life_state state = state_of(seen[i].record->status);
        /* two observers of one plant: an answer beats none, alive beats dead (a living bud is seen, its absence is inferred) */
        if (lives->states[cell] == LIFE_NOT_SEEN || lives->states[cell] == LIFE_NOT_FOUND || state == LIFE_ALIVE) {
            lives->states[cell] = state;
            lives->deciding[cell] = state == LIFE_NOT_SEEN ? NULL : seen[i].record;
        }
        if (is_known(seen[i].record->height_cm) && state == LIFE_ALIVE) {
            lives->heights_cm[cell] = seen[i].record->height_cm;
            lives->measured[cell] = seen[i].record;
        }
        if (is_known(seen[i].record->crown_cm) && state == LIFE_ALIVE)
            lives->crowns_cm[cell] = seen[i].record->crown_cm;
        lives->last[seen[i].plant] = seen[i].record;
        if (state == LIFE_DEAD && lives->cause[seen[i].plant] == 0)
            lives->cause[seen[i].plant] = seen[i].record->damage;
        else if (state == LIFE_ALIVE)
            lives->cause[seen[i].plant] = 0;
    }
    lives->no_first_census = lives->n_censuses == 0 || !lives->censuses[0].as_planted;
    states_settle(lives);
}

enum outcome evidence_lives(const struct evidence_facts *facts, struct arena *arena, struct plot_lives **out, struct failure *why)
{
    struct plot_lives *lives = arena_array(arena, facts->n_plots, sizeof *lives);
    for (size_t i = 0; i < facts->n_plots; i++) {
        lives[i].plot = &facts->plots[i];
        lives[i].planted_on = facts->plots[i].planted_on;
        for (size_t j = 0; j < facts->n_sites; j++)
            if (facts->sites[j].id == facts->plots[i].site_id)
                lives[i].site = &facts->sites[j];
        if (lives[i].site == NULL)
            return fail(why, OUTCOME_DATA, "Plot %s belongs to no site.", facts->plots[i].code);
    }
    size_t n = 0;
    struct lookup *plants = plants_place(facts, lives, arena);
    struct seen *seen = records_place(facts, plants, arena, &n);
    for (size_t i = 0, begin = 0; i < facts->n_plots; i++) {
        size_t end = begin;
        while (end < n && seen[end].plot == i)
            end++;
        for (size_t p = 0; lives[i].planted_on == DATE_UNKNOWN && p < lives[i].n_plants; p++)
            if (lives[i].plants[p]->origin == ORIGIN_FIRST_PLANTING)
                lives[i].planted_on = lives[i].plants[p]->planted_on;
        plot_fill(&lives[i], seen + begin, end - begin, arena);
        begin = end;
    }
    *out = lives;
    return OUTCOME_OK;
}
