/* SPDX-License-Identifier: GPL-3.0-or-later
 * Wildlife by effort: rates with the empty looks in, and richness at equal numbers of looks. */
#include "evidence/wild.h"
#include <math.h>
#include <stdlib.h>

/* What one plot and group adds up to. */
struct place {
    struct plot_wildlife row;
    double *in_looks; ///< looks in which each kind was seen
};

static void rate_fill(struct plot_wildlife *row, const double *rates, size_t n, double level)
{
    double squares = 0;
    row->rate = estimate_unknown();
    if (n == 0 || row->effort_unit == NULL)
        return;
    double mean = sum_exactly(rates, n) / (double)n;
    for (size_t i = 0; i < n; i++)
        squares += (rates[i] - mean) * (rates[i] - mean);
    row->rate.value = mean;
    row->rate.n = (double)n;
    if (n > 1) {
        row->rate = estimate_student(mean, sqrt(squares / (double)(n - 1) / (double)n), (double)n - 1, level, (double)n);
        row->rate.low = fmax(0, row->rate.low);
    }
}

/* Looks from `from` to `to` are of one plot and group. */
static void place_fill(const struct wild *w, size_t from, size_t to, double level, struct arena *arena, struct place *place)
{
    struct plot_wildlife *row = &place->row;
    double *rates = arena_array(arena, to - from, sizeof *rates);
    size_t n_rates = 0;
    bool mixed = false;
    place->in_looks = arena_array(arena, w->n_taxa[row->group], sizeof(double));
    for (size_t i = from; i < to; i++) {
        const struct wild_look *look = &w->looks[i];
        row->looks++;
        row->looks_empty += look->individuals == 0;
        row->individuals += look->individuals;
        for (size_t e = look->first; e < look->first + look->n; e++)
            row->taxa += place->in_looks[w->entries[e].taxon]++ == 0;
        if (!is_known(look->effort)) {
            row->looks_without_effort++;
            continue;
        }
        mixed = mixed || (row->effort_unit != NULL && !text_same(row->effort_unit, look->unit));
        row->effort_unit = look->unit;
        row->effort += look->effort;
        rates[n_rates++] = look->individuals / look->effort;
    }
    if (mixed)
        row->effort_unit = NULL;
    rate_fill(row, rates, n_rates, level);
}

/* Richness of each place at the least number of looks of its site and group; places of a site lie near each other. */
static enum outcome richness_fill(const struct wild *w, struct place *places, size_t n, double level, struct arena *arena,
                                  struct failure *why)
{
    enum outcome outcome = OUTCOME_OK;
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++) {
        struct plot_wildlife *row = &places[i].row;
        size_t least = row->looks;
        for (size_t j = 0; j < n; j++)
            if (places[j].row.site == row->site && places[j].row.group == row->group && places[j].row.looks < least)
                least = places[j].row.looks;
        row->at_looks = least;
        row->richness = estimate_unknown();
        row->coverage = unknown_real();
        if (row->taxa == 0) {
            row->richness.value = 0;
            continue;
        }
        struct assemblage a = {places[i].in_looks, w->n_taxa[row->group], (double)row->looks};
        struct diversity all;
        double size = (double)least;
        outcome = diversity_of(&a, &all, why);
        if (outcome != OUTCOME_OK)
            break;
        row->coverage = all.coverage;
        outcome = diversity_at_size(&a, size, 0, &row->richness.value, why);
        if (outcome == OUTCOME_OK && row->looks > 2)
            outcome = diversity_intervals(&a, &size, 1, 0, level, 200, 1, arena, &row->richness, why);
    }
    return outcome;
}

enum outcome evidence_wildlife(const struct evidence_facts *facts, double level, struct arena *arena, struct plot_wildlife **out, size_t *n,
                               struct failure *why)
{
    struct wild w;
    enum outcome outcome = evidence_wild(facts, arena, &w, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct place *places = arena_array(arena, w.n_looks, sizeof *places);
    size_t made = 0;
    for (size_t from = 0, to = 0; from < w.n_looks; from = to) {
        const struct plot *plot = &facts->plots[w.looks[from].plot];
        places[made].row = (struct plot_wildlife){.plot = plot, .group = w.looks[from].group};
        for (size_t j = 0; j < facts->n_sites; j++)
            if (facts->sites[j].id == plot->site_id)
                places[made].row.site = &facts->sites[j];
        for (to = from; to < w.n_looks && w.looks[to].plot == w.looks[from].plot && w.looks[to].group == w.looks[from].group;)
            to++;
        place_fill(&w, from, to, level, arena, &places[made++]);
    }
    outcome = richness_fill(&w, places, made, level, arena, why);
    struct plot_wildlife *rows = arena_array(arena, made, sizeof *rows);
    for (size_t i = 0; i < made; i++)
        rows[i] = places[i].row;
    *out = rows;
    *n = made;
    return outcome;
}
