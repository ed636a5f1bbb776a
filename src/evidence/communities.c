/* SPDX-License-Identifier: GPL-3.0-or-later
 * Kinds against looks, how alike plots are, and what came and went from year to year. */
#include "evidence/wild.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { POINTS = 21 };

/* Looks of one plot and group lie together. */
static size_t run_end(const struct wild *w, size_t from)
{
    size_t to = from + 1;
    while (to < w->n_looks && w->looks[to].plot == w->looks[from].plot && w->looks[to].group == w->looks[from].group)
        to++;
    return to;
}

static const struct site *site_of(const struct evidence_facts *facts, size_t plot)
{
    for (size_t i = 0; i < facts->n_sites; i++)
        if (facts->sites[i].id == facts->plots[plot].site_id)
            return &facts->sites[i];
    return NULL;
}

/* Looks in which each kind was found, and individuals of each. */
static size_t kinds_count(const struct wild *w, size_t from, size_t to, double *looks, double *individuals)
{
    size_t n = 0;
    for (size_t i = from; i < to; i++)
        for (size_t e = w->looks[i].first; e < w->looks[i].first + w->looks[i].n; e++) {
            n += looks[w->entries[e].taxon]++ == 0;
            individuals[w->entries[e].taxon] += w->entries[e].count;
        }
    return n;
}

static enum outcome curve_fill(const struct assemblage *by_looks, const struct assemblage *by_counts, double level, size_t draws,
                               uint64_t seed, struct arena *arena, struct wild_curve *c, struct failure *why)
{
    struct diversity d, counts;
    c->m = arena_array(arena, POINTS + 1, sizeof(double));
    double most = 2 * (double)c->looks, last = 0;
    for (int k = 0; k < POINTS; k++) { /* whole numbers of looks, closer where the curve bends, the looks made among them */
        double m = round(1 + (most - 1) * k * k / ((POINTS - 1) * (POINTS - 1)));
        if (m > last && last < (double)c->looks && m > (double)c->looks)
            c->m[c->n++] = last = (double)c->looks;
        if (m > last && c->n <= POINTS)
            c->m[c->n++] = last = m;
    }
    enum outcome outcome = diversity_of(by_looks, &d, why);
    if (outcome == OUTCOME_OK)
        outcome = diversity_of(by_counts, &counts, why);
    for (int order = 0; outcome == OUTCOME_OK && order < 3; order++) {
        c->hill[order] = arena_array(arena, c->n, sizeof(struct estimate));
        c->asymptote[order] = d.asymptotic[order];
        c->individuals[order] = counts.hill[order];
        outcome = diversity_intervals(by_looks, c->m, c->n, order, level, draws, seed, arena, c->hill[order], why);
    }
    c->once = (size_t)d.once;
    c->coverage = d.coverage;
    return outcome;
}

/* Kinds at the coverage that every plot of the site has when its looks are doubled at most. */
static enum outcome coverage_fill(struct wild_curve *curves, const struct assemblage *of, size_t n, struct failure *why)
{
    enum outcome outcome = OUTCOME_OK;
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        double least = 1;
        for (size_t j = 0; outcome == OUTCOME_OK && j < n; j++) {
            double c = 0;
            if (curves[j].site != curves[i].site || curves[j].group != curves[i].group)
                continue;
            outcome = diversity_coverage_at(&of[j], 2 * of[j].units, &c, why);
            least = fmin(least, c);
        }
        curves[i].at_coverage = estimate_unknown();
        curves[i].common_coverage = least;
        double size = 0;
        struct failure none;
        if (outcome == OUTCOME_OK && least >= 1 - 1e-12)
            curves[i].at_coverage.value = curves[i].asymptote[0];
        else if (outcome == OUTCOME_OK && least > 0 &&
                 diversity_at_coverage(&of[i], least, 0, &curves[i].at_coverage.value, &size, &none) != OUTCOME_OK)
            curves[i].at_coverage.value = unknown_real();
    }
    return outcome;
}

enum outcome evidence_wild_curves(const struct evidence_facts *facts, const struct wild *wild, double level, size_t draws, uint64_t seed,
                                  struct arena *arena, struct wild_curve **out, size_t *n, struct failure *why)
{
    size_t room = 0, made = 0;
    for (size_t i = 0; i < wild->n_looks; i = run_end(wild, i))
        room++;
    struct wild_curve *curves = arena_array(arena, room, sizeof *curves);
    struct assemblage *of = arena_array(arena, room, sizeof *of);
    enum outcome outcome = OUTCOME_OK;
    for (size_t from = 0, to = 0; outcome == OUTCOME_OK && from < wild->n_looks; from = to) {
        to = run_end(wild, from);
        const struct wild_look *look = &wild->looks[from];
        size_t taxa = wild->n_taxa[look->group];
        double *by_looks = arena_array(arena, taxa, sizeof *by_looks), *by_counts = arena_array(arena, taxa, sizeof *by_counts);
        struct wild_curve c = {
            .plot = &facts->plots[look->plot], .site = site_of(facts, look->plot), .group = look->group, .looks = to - from};
        c.taxa = kinds_count(wild, from, to, by_looks, by_counts);
        if (c.taxa == 0 || c.looks < 2)
            continue;
        struct assemblage counts = {by_counts, taxa, 0};
        of[made] = (struct assemblage){by_looks, taxa, (double)c.looks};
        outcome = curve_fill(&of[made], &counts, level, draws == 0 ? 100 : draws, seed, arena, &c, why);
        curves[made++] = c;
    }
    if (outcome == OUTCOME_OK)
        outcome = coverage_fill(curves, of, made, why);
    *out = curves;
    *n = made;
    return outcome;
}

/* ---- likeness ---- */

/* Regimes as columns of a design, the first that occurs left out. */
static double *regimes_design(const struct evidence_facts *facts, struct wild_likeness *l, size_t *columns, size_t *group,
                              struct arena *arena)
{
    enum regime regimes[32];
    for (size_t i = 0; i < l->n; i++) {
        size_t g = 0;
        while (g < l->regimes && regimes[g] != facts->plots[l->plots[i]].regime)
            g++;
        if (g == l->regimes)
            regimes[l->regimes++] = facts->plots[l->plots[i]].regime;
        group[i] = g;
    }
    *columns = l->regimes - 1;
    double *x = arena_array(arena, l->n * l->regimes, sizeof *x);
    for (size_t i = 0; i < l->n; i++)
        if (group[i] > 0)
            x[i * *columns + group[i] - 1] = 1;
    return x;
}

static bool likeness_known(const struct wild_likeness *l)
{
    for (size_t i = 0; i < l->n * l->n; i++)
        if (!is_known(l->unlike[i]))
            return false;
    return true;
}

enum outcome evidence_wild_likeness(const struct evidence_facts *facts, const struct wild *wild, enum wildlife_group group, uint64_t seed,
                                    struct arena *arena, struct wild_likeness *out, struct failure *why)
{
    struct wild_likeness l = {.group = group, .plots = arena_array(arena, facts->n_plots, sizeof *l.plots)};
    size_t taxa = wild->n_taxa[group], columns = 0;
    double *table = arena_array(arena, facts->n_plots * (taxa + 1), sizeof *table);
    size_t *sites = arena_array(arena, facts->n_plots, sizeof *sites), *regime = arena_array(arena, facts->n_plots, sizeof *regime);
    for (size_t from = 0, to = 0; from < wild->n_looks; from = to) {
        to = run_end(wild, from);
        if (wild->looks[from].group != group)
            continue;
        double *row = table + l.n * taxa;
        for (size_t i = from; i < to; i++)
            for (size_t e = wild->looks[i].first; e < wild->looks[i].first + wild->looks[i].n; e++)
                row[wild->entries[e].taxon] += wild->entries[e].count / (double)(to - from);
        sites[l.n] = (size_t)facts->plots[wild->looks[from].plot].site_id;
        bool fresh = true;
        for (size_t j = 0; j < l.n; j++)
            fresh = fresh && sites[j] != sites[l.n];
        l.sites += fresh;
        l.plots[l.n++] = wild->looks[from].plot;
    }
    if (l.n < 3)
        return fail(why, OUTCOME_DATA, "Likeness needs looks on three plots; there are %zu.", l.n);
    l.unlike = arena_array(arena, l.n * l.n, sizeof *l.unlike);
    dissimilarity_all(BRAY_CURTIS, table, l.n, taxa, l.unlike);
    double *x = regimes_design(facts, &l, &columns, regime, arena);
    struct failure none;
    l.has_test = columns > 0 && l.n > columns + 2 && likeness_known(&l) &&
                 permanova(l.unlike, l.n, x, &columns, 1, regime, l.regimes, l.sites > 1 ? sites : NULL, 999, seed, arena, &l.test,
                           &none) == OUTCOME_OK;
    *out = l;
    return OUTCOME_OK;
}

/* ---- years ---- */

static int year_of(int32_t day)
{
    int year = 0, month = 0, of_month = 0;
    date_parts(day, &year, &month, &of_month);
    return year;
}

enum outcome evidence_wild_turnover(const struct evidence_facts *facts, const struct wild *wild, struct arena *arena,
                                    struct wild_turnover **out, size_t *n, struct failure *why)
{
    (void)facts;
    (void)why;
    struct wild_turnover *rows = arena_array(arena, wild->n_looks, sizeof *rows);
    *n = 0;
    for (size_t from = 0, to = 0; from < wild->n_looks; from = to) {
        to = run_end(wild, from);
        size_t taxa = wild->n_taxa[wild->looks[from].group];
        double *before = NULL;
        size_t before_looks = 0;
        int before_year = 0;
        for (size_t a = from, b = from; a < to; a = b) { /* looks are in order of day: years lie together */
            int year = year_of(wild->looks[a].visit->seen_on);
            while (b < to && year_of(wild->looks[b].visit->seen_on) == year)
                b++;
            double *now = arena_array(arena, taxa, sizeof *now), *counts = arena_array(arena, taxa, sizeof *counts);
            kinds_count(wild, a, b, now, counts);
            if (before != NULL) {
                rows[*n] = (struct wild_turnover){.plot = wild->looks[from].plot,
                                                  .group = wild->looks[from].group,
                                                  .from = before_year,
                                                  .to = year,
                                                  .looks = {before_looks, b - a},
                                                  .change = turnover_of(before, now, taxa)};
                (*n)++;
            }
            before = now;
            before_looks = b - a;
            before_year = year;
        }
    }
    *out = rows;
    return OUTCOME_OK;
}
