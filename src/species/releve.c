/* SPDX-License-Identifier: GPL-3.0-or-later
 * Relevés of reference stands into a constancy table by layer. */
#include "species/species.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* One stand's cover of one name in one layer. */
struct line {
    const char *stand, *name;
    enum layer layer;
    double cover_pct;
};

static int by_layer_name_stand(const void *left, const void *right)
{
    const struct line *a = left, *b = right;
    if (a->layer != b->layer)
        return a->layer < b->layer ? -1 : 1;
    int names = strcmp(a->name, b->name);
    return names != 0 ? names : strcmp(a->stand, b->stand);
}

static enum outcome row_check(const struct releve_row *row, long number, struct failure *why)
{
    if (text_blank(row->stand) || text_blank(row->species)) {
        fail(why, OUTCOME_DATA, "A relevé needs a stand and a species.");
        return failure_at(why, NULL, number, text_blank(row->stand) ? "stand" : "species");
    }
    if (is_known(row->cover_pct) && (row->cover_pct < 0 || row->cover_pct > 100)) {
        fail(why, OUTCOME_DATA, "%s covers %.4g %% in stand %s: one species cannot cover more than 100 %% or less than nothing.",
             row->species, row->cover_pct, row->stand);
        failure_at(why, NULL, number, "cover_pct");
        return failure_remedy(why, "A layer may add up to more than 100 %%, one species may not: correct the figure.");
    }
    return OUTCOME_OK;
}

static bool merged(const char *name, const char *const *merge, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (text_same(name, merge[i]))
            return true;
    return false;
}

/* Names that the library knows by another name: told, and merged only where the user said so. */
static enum outcome names_settle(const struct species_library *library, struct line *lines, size_t n, const char *const *merge,
                                 size_t n_merge, struct arena *arena, struct releve_pair **pairs, size_t *n_pairs, struct failure *why)
{
    struct releve_pair *list = arena_array(arena, n + 1, sizeof *list);
    size_t m = 0;
    for (size_t i = 0; i < n; i++) {
        struct species_match match;
        enum outcome outcome = species_find(library, lines[i].name, arena, &match, why);
        if (outcome != OUTCOME_OK)
            return failure_at(why, NULL, (long)i + 1, "species");
        if (match.kind == MATCH_EXACT)
            lines[i].name = match.fact->name;
        if (match.kind != MATCH_SYNONYM && match.kind != MATCH_COMMON)
            continue;
        bool had = false;
        for (size_t k = 0; k < m; k++)
            had |= strcmp(list[k].name, lines[i].name) == 0;
        if (!had)
            list[m++] = (struct releve_pair){lines[i].name, match.fact->name};
        if (merged(lines[i].name, merge, n_merge))
            lines[i].name = match.fact->name;
    }
    *pairs = list;
    *n_pairs = m;
    return OUTCOME_OK;
}

static size_t stands_count(const struct releve_row *rows, size_t n)
{
    size_t stands = 0;
    for (size_t i = 0; i < n; i++) {
        size_t k = 0;
        while (k < i && strcmp(rows[k].stand, rows[i].stand) != 0)
            k++;
        stands += k == i;
    }
    return stands;
}

/* The run of lines of one name in one layer, as one line of the table. Merged names may meet in one stand: their cover adds
 * up there, to 100 % at the most. */
static struct community_species run_sum(const struct species_library *library, const struct line *lines, size_t n, size_t stands)
{
    size_t seen = 0, covered = 0;
    double cover = 0;
    for (size_t i = 0; i < n;) {
        double here = 0;
        bool known = false;
        size_t k = i;
        for (; k < n && strcmp(lines[k].stand, lines[i].stand) == 0; k++)
            if (is_known(lines[k].cover_pct)) {
                here += lines[k].cover_pct;
                known = true;
            }
        seen++;
        if (known) {
            cover += here > 100 ? 100 : here;
            covered++;
        }
        i = k;
    }
    struct community_species out = {.name = lines[0].name, .layer = lines[0].layer};
    /* up to 20 % of stands I, 21 to 40 II, … by whole numbers, so that 20 % exactly is I */
    out.constancy = (int)((5 * seen + stands - 1) / stands);
    out.cover_pct = covered == 0 ? unknown_real() : cover / (double)covered;
    for (size_t i = 0; i < library->n_facts; i++)
        if (strcmp(library->facts[i].name, out.name) == 0)
            out.fact = &library->facts[i];
    return out;
}

enum outcome species_constancy(const struct species_library *library, const struct releve_row *rows, size_t n, const char *const *merge,
                               size_t n_merge, struct arena *arena, struct community *out, struct releve_pair **pairs, size_t *n_pairs,
                               struct failure *why)
{
    if (n == 0)
        return fail(why, OUTCOME_DATA, "There are no relevés.");
    struct line *lines = arena_array(arena, n, sizeof *lines);
    for (size_t i = 0; i < n; i++) {
        enum outcome outcome = row_check(&rows[i], (long)i + 1, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        lines[i] = (struct line){rows[i].stand, rows[i].species, rows[i].layer, rows[i].cover_pct};
    }
    enum outcome outcome = names_settle(library, lines, n, merge, n_merge, arena, pairs, n_pairs, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    qsort(lines, n, sizeof *lines, by_layer_name_stand);
    double u = unknown_real();
    struct range open = {u, u};
    size_t stands = stands_count(rows, n);
    struct community table = {.id = "own",
                              .name = "your own stands",
                              .ph = open,
                              .moisture = open,
                              .reaction = open,
                              .nutrients = open,
                              .mean_moisture = u,
                              .mean_reaction = u,
                              .mean_nutrients = u,
                              .mean_light = u,
                              .samples = (double)stands};
    table.species = arena_array(arena, n, sizeof *table.species);
    for (size_t i = 0; i < n;) {
        size_t k = i;
        while (k < n && lines[k].layer == lines[i].layer && strcmp(lines[k].name, lines[i].name) == 0)
            k++;
        table.species[table.n_species++] = run_sum(library, &lines[i], k - i, stands);
        i = k;
    }
    *out = table;
    return OUTCOME_OK;
}
