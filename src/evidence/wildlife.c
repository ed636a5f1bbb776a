/* SPDX-License-Identifier: GPL-3.0-or-later
 * Wildlife by effort: rates with the empty looks in, and richness at equal numbers of looks. */
#include "evidence/evidence.h"
#include "stats/stats.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

struct taxa {
    const char **names;
    double *looks; ///< looks in which each was seen
    size_t n, room_names, room_looks;
};

static size_t taxon_index(struct taxa *taxa, const char *name)
{
    for (size_t i = 0; i < taxa->n; i++)
        if (text_same_nocase(taxa->names[i], name))
            return i;
    taxa->names = column_room(taxa->names, taxa->n, &taxa->room_names, sizeof *taxa->names);
    taxa->looks = column_room(taxa->looks, taxa->n, &taxa->room_looks, sizeof *taxa->looks);
    taxa->names[taxa->n] = name;
    taxa->looks[taxa->n] = 0;
    return taxa->n++;
}

/* Effort of a look in its own unit, else in minutes. */
static double effort_of(const struct wildlife_visit *look, const char **unit)
{
    if (is_known(look->effort_value) && look->effort_unit != NULL) {
        *unit = look->effort_unit;
        return look->effort_value;
    }
    *unit = "min";
    return look->minutes;
}

/* One look added: its individuals per effort go to `rates`. */
static void look_add(const struct evidence_facts *facts, const struct wildlife_visit *look, struct plot_wildlife *row, struct taxa *taxa,
                     double *rates, size_t *n_rates, bool *mixed)
{
    const char *unit = NULL;
    double effort = effort_of(look, &unit), individuals = 0;
    size_t lines = 0;
    row->looks++;
    bool *seen = memory_get(taxa->n + facts->n_sightings + 1, sizeof *seen);
    for (size_t i = 0; i < facts->n_sightings; i++) {
        const struct wildlife_record *sighting = &facts->sightings[i];
        if (sighting->wildlife_visit_id != look->id)
            continue;
        lines++;
        double count = sighting->count == INT_UNKNOWN ? 1 : (double)sighting->count;
        if (count <= 0)
            continue;
        size_t at = taxon_index(taxa, sighting->taxon);
        individuals += count;
        if (!seen[at])
            taxa->looks[at]++;
        seen[at] = true;
    }
    free(seen);
    row->looks_empty += lines == 0 || individuals == 0;
    row->individuals += individuals;
    if (!is_known(effort) || effort <= 0) {
        row->looks_without_effort++;
        return;
    }
    if (row->effort_unit != NULL && !text_same(row->effort_unit, unit))
        *mixed = true;
    row->effort_unit = unit;
    row->effort += effort;
    rates[(*n_rates)++] = individuals / effort;
}

static enum outcome rate_fill(struct plot_wildlife *row, const double *rates, size_t n, double level)
{
    double sum = 0, squares = 0;
    row->rate = estimate_unknown();
    if (n == 0 || row->effort_unit == NULL)
        return OUTCOME_OK;
    for (size_t i = 0; i < n; i++)
        sum += rates[i];
    double mean = sum / (double)n;
    for (size_t i = 0; i < n; i++)
        squares += (rates[i] - mean) * (rates[i] - mean);
    row->rate.value = mean;
    row->rate.n = (double)n;
    if (n > 1) {
        row->rate = estimate_student(mean, sqrt(squares / (double)(n - 1) / (double)n), (double)n - 1, level, (double)n);
        row->rate.low = fmax(0, row->rate.low);
    }
    return OUTCOME_OK;
}

static int by_place(const void *a, const void *b)
{
    const struct wildlife_visit *x = *(const struct wildlife_visit *const *)a, *y = *(const struct wildlife_visit *const *)b;
    if (x->plot_id != y->plot_id)
        return x->plot_id < y->plot_id ? -1 : 1;
    if (x->group != y->group)
        return x->group < y->group ? -1 : 1;
    return (x->id > y->id) - (x->id < y->id);
}

/* Richness of each row at the least number of looks of its site and group. */
static enum outcome richness_fill(struct plot_wildlife *rows, struct taxa *taxa, size_t n, double level, struct arena *arena,
                                  struct failure *why)
{
    enum outcome outcome = OUTCOME_OK;
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++) {
        size_t least = rows[i].looks;
        for (size_t j = 0; j < n; j++)
            if (rows[j].site == rows[i].site && rows[j].group == rows[i].group && rows[j].looks < least)
                least = rows[j].looks;
        rows[i].at_looks = least;
        rows[i].taxa = taxa[i].n;
        rows[i].richness = estimate_unknown();
        rows[i].coverage = unknown_real();
        if (taxa[i].n == 0) {
            rows[i].richness.value = 0;
            continue;
        }
        struct assemblage a = {taxa[i].looks, taxa[i].n, (double)rows[i].looks};
        struct diversity all;
        double size = (double)least;
        outcome = diversity_of(&a, &all, why);
        if (outcome != OUTCOME_OK)
            break;
        rows[i].coverage = all.coverage;
        outcome = diversity_at_size(&a, size, 0, &rows[i].richness.value, why);
        if (outcome == OUTCOME_OK && rows[i].looks > 2)
            outcome = diversity_intervals(&a, &size, 1, 0, level, 200, 1, arena, &rows[i].richness, why);
    }
    return outcome;
}

enum outcome evidence_wildlife(const struct evidence_facts *facts, double level, struct arena *arena, struct plot_wildlife **out, size_t *n,
                               struct failure *why)
{
    const struct wildlife_visit **looks = arena_array(arena, facts->n_looks, sizeof *looks);
    struct plot_wildlife *rows = arena_array(arena, facts->n_looks, sizeof *rows);
    struct taxa *taxa = arena_array(arena, facts->n_looks, sizeof *taxa);
    double *rates = arena_array(arena, facts->n_looks, sizeof *rates);
    size_t n_looks = 0, n_rates = 0;
    bool mixed = false;
    *n = 0;
    for (size_t i = 0; i < facts->n_looks; i++)
        if (facts->looks[i].plot_id != 0)
            looks[n_looks++] = &facts->looks[i];
    qsort(looks, n_looks, sizeof *looks, by_place);
    for (size_t i = 0; i < n_looks; i++) {
        bool fresh = *n == 0 || rows[*n - 1].plot->id != looks[i]->plot_id || rows[*n - 1].group != looks[i]->group;
        if (fresh) {
            const struct plot *plot = NULL;
            for (size_t j = 0; j < facts->n_plots; j++)
                if (facts->plots[j].id == looks[i]->plot_id)
                    plot = &facts->plots[j];
            if (plot == NULL)
                continue;
            rows[*n] = (struct plot_wildlife){.plot = plot, .group = looks[i]->group};
            for (size_t j = 0; j < facts->n_sites; j++)
                if (facts->sites[j].id == plot->site_id)
                    rows[*n].site = &facts->sites[j];
            (*n)++;
            n_rates = 0;
            mixed = false;
        }
        look_add(facts, looks[i], &rows[*n - 1], &taxa[*n - 1], rates, &n_rates, &mixed);
        bool last = i + 1 == n_looks || looks[i + 1]->plot_id != looks[i]->plot_id || looks[i + 1]->group != looks[i]->group;
        if (last && mixed)
            rows[*n - 1].effort_unit = NULL;
        if (last)
            rate_fill(&rows[*n - 1], rates, n_rates, level);
    }
    enum outcome outcome = richness_fill(rows, taxa, *n, level, arena, why);
    for (size_t i = 0; i < *n; i++) {
        free(taxa[i].names);
        free(taxa[i].looks);
    }
    *out = rows;
    return outcome;
}
