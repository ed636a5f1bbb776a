/* SPDX-License-Identifier: GPL-3.0-or-later
 * Santamour's 10-20-30 rule of thumb for a town's trees (Santamour 1990, Proc. 7th Conf. METRIA: 57-65), strictly over. */
#include "species/species.h"
#include <string.h>

static double sum_of(const char *const *names, const double *plants, size_t n, const char *name)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        if (names[i] != NULL && strcmp(names[i], name) == 0)
            sum += plants[i];
    return sum;
}

enum outcome species_diversity(const char *const *species, const char *const *genus, const char *const *family, const double *plants,
                               size_t n, struct arena *arena, struct diversity_breach **out, size_t *n_out, double *unknown_plants,
                               struct failure *why)
{
    const char *const *levels[] = {species, genus, family};
    const char *const what[] = {"species", "genus", "family"};
    const double limits[] = {10, 20, 30};
    double total = 0, unknown = 0;
    for (size_t i = 0; i < n; i++) {
        if (!(plants[i] >= 0)) {
            fail(why, OUTCOME_DATA, "The count of %s is not a number of plants.", species[i] == NULL ? "a species" : species[i]);
            return failure_at(why, NULL, (long)i + 1, "plants");
        }
        total += plants[i];
        if (species[i] == NULL || genus[i] == NULL || family[i] == NULL)
            unknown += plants[i];
    }
    if (total <= 0)
        return fail(why, OUTCOME_DATA, "There are no plants to take shares of.");
    struct diversity_breach *list = arena_array(arena, 3 * n + 1, sizeof *list);
    size_t m = 0;
    for (size_t level = 0; level < 3; level++)
        for (size_t i = 0; i < n; i++) {
            const char *name = levels[level][i];
            bool had = name == NULL;
            for (size_t k = 0; k < i && !had; k++)
                had = text_same(levels[level][k], name);
            if (had)
                continue;
            double sum = sum_of(levels[level], plants, n, name);
            /* 30.0 % exactly is within: compared as whole numbers of plants, not as rounded shares */
            if (100 * sum > limits[level] * total)
                list[m++] = (struct diversity_breach){what[level], name, sum, 100 * sum / total, limits[level]};
        }
    *out = list;
    *n_out = m;
    *unknown_plants = unknown;
    return OUTCOME_OK;
}
