/* SPDX-License-Identifier: GPL-3.0-or-later
 * Any bytes as a table of species, of communities or of synonyms: refused with a reason, or rows that can be used. */
#include "species/species.h"
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

static void use(const struct species_library *library, struct arena *arena)
{
    struct failure why = {0};
    struct species_place place = species_place_new();
    struct species_verdict *verdicts = NULL;
    struct species_match match;
    size_t n = 0;
    place.region = library->n_regions > 0 ? library->regions[0] : NULL;
    place.ground.moisture = species_moisture_of("fresh");
    if (species_filter(library, &place, arena, &verdicts, &n, &why) == OUTCOME_OK)
        for (size_t i = 0; i < n; i++)
            if (verdicts[i].why_in[0] == '\0' || verdicts[i].why_out[0] == '\0')
                abort();
    for (size_t i = 0; i < library->n_facts && i < 20; i++)
        if (species_find(library, library->facts[i].name, arena, &match, &why) == OUTCOME_OK && match.kind != MATCH_EXACT &&
            match.kind != MATCH_COMMON && match.fact != NULL && match.kind != MATCH_SYNONYM)
            abort();
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    if (n > 100000)
        return 0;
    struct arena arena = {0};
    struct failure why = {0};
    struct species_library library = {0}, other = {0};
    struct species_problems problems = {0};
    const char *bytes = (const char *)data;
    if (species_library_read("table", bytes, n, &arena, &library, &problems, &why) == OUTCOME_OK)
        use(&library, &arena);
    else if (why.sentence[0] == '\0')
        abort();
    if (problems.n > problems.refused)
        abort();
    for (size_t i = 0; i < problems.n; i++)
        if (problems.list[i].sentence[0] == '\0' || problems.list[i].row < 1)
            abort();
    static const char base[] = "name,native_here\nQuercus robur,yes\n";
    struct species_problems none = {0};
    if (species_library_read("base", base, sizeof base - 1, &arena, &other, &none, &why) != OUTCOME_OK)
        abort();
    if (species_communities_read("table", bytes, n, &arena, &other, &none, &why) == OUTCOME_OK) {
        struct community_match *list = NULL;
        size_t m = 0;
        struct species_ground ground = species_place_new().ground;
        ground.ph = (struct figure){6, 0.3};
        if (other.n_communities < 50 &&
            species_rank_communities(&other, &ground, "here", &other.communities[0], &arena, &list, &m, &why) != OUTCOME_OK)
            abort();
    }
    if (species_synonyms_read("table", bytes, n, &arena, &other, &none, &why) == OUTCOME_OK)
        use(&other, &arena);
    arena_clear(&arena);
    return 0;
}
