/* SPDX-License-Identifier: GPL-3.0-or-later
 * Loading what site/ and species/ work on. */
#include "work/site_load.h"
#include <string.h>

enum outcome site_facts_load(struct store *store, const struct site *site, int32_t today, struct arena *arena, struct site_facts *out,
                             struct failure *why)
{
    void *constraints = NULL, *checks = NULL, *rules = NULL;
    struct site *copy = arena_alloc(arena, sizeof *copy);
    *copy = *site;
    *out = (struct site_facts){.site = copy, .today = today};
    enum outcome outcome = load_of(store, NOUN_CONSTRAINT, "site_id", site->id, arena, &constraints, &out->n_constraints, why);
    if (outcome == OUTCOME_OK)
        outcome = load_of(store, NOUN_SITE_CHECK, "site_id", site->id, arena, &checks, &out->n_checks, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(store, NOUN_LOCAL_RULE, arena, &rules, &out->n_rules, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct local_rule *kept = rules;
    size_t n = 0;
    for (size_t i = 0; i < out->n_rules; i++)
        if (kept[i].site_id == 0 || kept[i].site_id == site->id)
            kept[n++] = kept[i];
    out->n_rules = n;
    out->constraints = constraints;
    out->checks = checks;
    out->rules = kept;
    return OUTCOME_OK;
}

enum outcome library_load(struct store *store, const char *name, struct arena *arena, struct species_library *out, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    enum outcome outcome = store == NULL ? OUTCOME_OK : load_all(store, NOUN_LIBRARY, arena, &rows, &n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    const struct library *own = rows;
    for (size_t i = 0; i < n; i++) {
        if (name != NULL && !text_same(own[i].name, name))
            continue;
        struct species_problems problems = {0};
        size_t bytes = own[i].facts_csv == NULL ? 0 : strlen(own[i].facts_csv);
        outcome = species_library_read(own[i].name, own[i].facts_csv, bytes, arena, out, &problems, why);
        if (outcome == OUTCOME_OK && own[i].communities_csv != NULL)
            outcome =
                species_communities_read(own[i].name, own[i].communities_csv, strlen(own[i].communities_csv), arena, out, &problems, why);
        return outcome;
    }
    return species_builtin(name == NULL ? species_builtin_names[0] : name, arena, out, why);
}

struct site_plant site_plant_of(const struct species_fact *fact, const char *name, enum layer layer)
{
    struct site_plant out = {.name = name, .layer = layer, .mature_height_m = unknown_real(), .clay_height_m = unknown_real()};
    if (fact == NULL)
        return out;
    out.name = fact->name;
    out.layer = layer == LAYER_UNKNOWN ? fact->layer : layer;
    out.mature_height_m = fact->height_most_m;
    out.clay_height_m = fact->clay_height_m;
    out.water_demand = fact->water_demand;
    out.thorny = fact->thorny;
    out.hazard = fact->hazard;
    return out;
}

enum outcome cautions_note(struct store *store, const struct site_facts *facts, const struct site_plan *plan, unsigned moments,
                           json_t *note, struct arena *arena, struct failure *why)
{
    (void)store;
    struct site_caution *cautions = NULL;
    enum outcome outcome = site_cautions(facts, plan, arena, &cautions, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < SITE_CAUTIONS; i++) {
        if ((cautions[i].moments & moments) == 0 || cautions[i].state == CAUTION_NO_TRIGGER)
            continue;
        if (cautions[i].state == CAUTION_RAISED)
            note_caution(note, cautions[i].code,
                         arena_print(arena, "%s%s%s", cautions[i].words, cautions[i].figures == NULL ? "" : " ",
                                     cautions[i].figures == NULL ? "" : cautions[i].figures),
                         cautions[i].defer);
        else
            note_unknown(note, "%s %s: not checked. %s", cautions[i].code, cautions[i].topic,
                         cautions[i].figures == NULL ? "" : cautions[i].figures);
    }
    return outcome;
}
