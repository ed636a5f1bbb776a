/* SPDX-License-Identifier: GPL-3.0-or-later
 * The names of the species library, for the check of names in records. */
#include "work/names_load.h"
#include "work/site_load.h"

enum outcome names_load(struct store *store, struct arena *arena, struct name_pair **out, size_t *n, struct failure *why)
{
    struct species_library library;
    enum outcome outcome = library_load(store, NULL, arena, &library, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct name_pair *pairs = arena_array(arena, library.n_facts + library.n_synonyms, sizeof *pairs);
    *n = 0;
    for (size_t i = 0; i < library.n_facts; i++)
        pairs[(*n)++] = (struct name_pair){library.facts[i].name, library.facts[i].name};
    for (size_t i = 0; i < library.n_synonyms; i++)
        pairs[(*n)++] = (struct name_pair){library.synonyms[i].name, library.synonyms[i].accepted};
    *out = pairs;
    return OUTCOME_OK;
}
