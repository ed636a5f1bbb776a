/* SPDX-License-Identifier: GPL-3.0-or-later
 * Plants that came later, kept apart from the first planting; and survival with a stated chance for what was not found. */
#include "evidence/curves.h"
#include <math.h>

static void later_count(const struct plot_lives *lives, enum origin origin, struct later_plants *out)
{
    for (size_t p = 0; p < lives->n_plants; p++) {
        if (lives->plants[p]->origin != origin)
            continue;
        enum life_state last = LIFE_NOT_SEEN;
        for (size_t c = 0; c < lives->n_censuses; c++) {
            enum life_state state = lives->states[p * lives->n_censuses + c];
            if (state != LIFE_NOT_SEEN)
                last = state;
        }
        out->plants++;
        out->alive += last == LIFE_ALIVE;
        out->dead += last == LIFE_DEAD;
        out->open += last == LIFE_NOT_FOUND || last == LIFE_NOT_SEEN;
    }
}

enum outcome evidence_later(const struct plot_lives *lives, size_t n_plots, double level, struct arena *arena, struct later_plants **out,
                            size_t *n, struct failure *why)
{
    static const enum origin origins[] = {ORIGIN_REPLACEMENT, ORIGIN_NATURAL_ARRIVAL};
    struct later_plants *rows = arena_array(arena, 2 * n_plots, sizeof *rows);
    enum outcome outcome = OUTCOME_OK;
    *n = 0;
    for (size_t i = 0; i < n_plots; i++)
        for (size_t k = 0; outcome == OUTCOME_OK && k < 2; k++) {
            struct later_plants *row = &rows[*n];
            *row = (struct later_plants){.lives = &lives[i], .origin = origins[k], .survival = estimate_unknown()};
            later_count(&lives[i], origins[k], row);
            if (row->plants == 0)
                continue;
            if (row->alive + row->dead > 0)
                outcome = proportion_wilson((double)row->alive, (double)(row->alive + row->dead), level, false, &row->survival, why);
            (*n)++;
        }
    *out = rows;
    return outcome;
}

enum outcome survival_stated(double alive, double dead, double not_found, double q, double level, struct estimate *out, struct failure *why)
{
    double n = alive + dead + not_found;
    if (!(alive >= 0 && dead >= 0 && not_found >= 0 && n > 0))
        return fail(why, OUTCOME_DATA, "There is no plant to count.");
    if (!(q >= 0 && q <= 1))
        return fail(why, OUTCOME_USAGE, "The chance that a plant not found is dead must lie between 0 and 1; it is %g.", q);
    double p = (alive + (1 - q) * not_found) / n, own = p * (1 - p) / n, added = not_found * q * (1 - q) / (n * n);
    double effective = own + added > 0 ? p * (1 - p) / (own + added) : n;
    enum outcome outcome = proportion_wilson(p * effective, effective, level, false, out, why);
    if (outcome == OUTCOME_OK) {
        out->se = sqrt(own + added);
        out->n = n;
    }
    return outcome;
}
