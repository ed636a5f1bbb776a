/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of species/. */
#include "calc/calc_rooms.h"
#include "species/species.h"
#include <math.h>
#include <string.h>

#define COUNT(list) (sizeof(list) / sizeof *(list))

static enum outcome library_of(const json_t *in, struct arena *arena, struct species_library *out, struct failure *why)
{
    return species_builtin(calc_word(in, "library", species_builtin_names[0]), arena, out, why);
}
/* The one species of a calculator: by any name the library knows, never by a misspelling. */
static enum outcome fact_of(const json_t *in, struct species_library *library, struct arena *arena, const struct species_fact **out,
                            struct failure *why)
{
    struct species_match match;
    enum outcome outcome = library_of(in, arena, library, why);
    if (outcome == OUTCOME_OK)
        outcome = species_find(library, calc_word(in, "name", ""), arena, &match, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (match.fact == NULL)
        return fail(why, OUTCOME_DATA, "%s", match.said);
    *out = match.fact;
    return OUTCOME_OK;
}
static void put_words(json_t *result, const char *name, const char *const *words, size_t n)
{
    json_t *list = json_array();
    for (size_t i = 0; i < n; i++)
        json_array_append_new(list, words[i] == NULL ? json_null() : json_string(words[i]));
    json_object_set_new(result, name, list);
}
/* Words as an array in the arena; "NA" is unknown. NULL if absent. */
static const char **words_of_input(const json_t *in, const char *name, struct arena *arena, size_t *n)
{
    const json_t *list = json_object_get(in, name);
    *n = json_array_size(list);
    const char **out = *n == 0 ? NULL : arena_array(arena, *n, sizeof *out);
    for (size_t i = 0; i < *n; i++) {
        const char *word = json_string_value(json_array_get(list, i));
        out[i] = word == NULL || strcmp(word, "NA") == 0 ? NULL : arena_text(arena, word);
    }
    return out;
}

/* ---- species_find ---- */

static const struct calc_value find_in[] = {
    {"name", "", CALC_WORD, true, "any name, as written"},
    {"library", "", CALC_WORD, false, "atlantic-europe (default) or eastern-north-america"},
};
static const struct calc_value find_out[] = {
    {"match", "", CALC_WORD, true, "exact, synonym, common_name, near, genus or none"},
    {"species", "", CALC_WORD, true, "name in the library; null unless exact, synonym or common name"},
    {"suggestions", "", CALC_WORDS, true, "nearest names; never put in the place of what was written"},
    {"said", "", CALC_WORD, true, "the answer in words"},
};

static enum outcome find_run(const json_t *in, json_t *result, struct failure *why)
{
    static const char *const kinds[] = {"none", "exact", "synonym", "common_name", "near", "genus"};
    struct arena arena = {0};
    struct species_library library;
    struct species_match match;
    enum outcome outcome = library_of(in, &arena, &library, why);
    if (outcome == OUTCOME_OK)
        outcome = species_find(&library, calc_word(in, "name", ""), &arena, &match, why);
    if (outcome == OUTCOME_OK) {
        const char *names[MATCH_SUGGESTIONS];
        for (size_t i = 0; i < match.n_suggestions; i++)
            names[i] = match.suggestion[i]->name;
        calc_put_word(result, "match", kinds[match.kind]);
        if (match.fact != NULL)
            calc_put_word(result, "species", match.fact->name);
        else
            json_object_set_new(result, "species", json_null());
        put_words(result, "suggestions", names, match.n_suggestions);
        calc_put_word(result, "said", match.said);
    }
    arena_clear(&arena);
    return outcome;
}

/* ---- ground ---- */

#define GROUND_INPUTS                                                                                                                      \
    {"ph", "", CALC_NUMBER, false, "pH in water"}, {"ph_spread", "", CALC_NUMBER, false, "its standard deviation, default 0.3"},           \
        {"moisture", "", CALC_WORD, false, "dry, fairly_dry, fresh, moist, wet or very_wet"},                                              \
        {"moisture_value", "", CALC_NUMBER, false, "the same on the indicator scale 0–10, instead of the word"},                           \
        {"nutrients", "", CALC_WORD, false, "very_poor, poor, medium, rich or very_rich"},                                                 \
        {"shade_pct", "%", CALC_NUMBER, false, "open sky taken by buildings and trees that are there"},                                    \
        {"water_mm", "mm", CALC_NUMBER, false, "available water over the rooting depth"},                                                  \
        {"wet_1to5", "", CALC_NUMBER, false, "waterlogging to stand, 1 none to 5 standing water"},                                         \
        {"coldest_c", "degC", CALC_NUMBER, false, "coldest night in about ten years"},                                                     \
    {                                                                                                                                      \
        "position", "", CALC_WORD, false, "open, edge or inside"                                                                           \
    }

static enum outcome ground_of(const json_t *in, struct species_ground *ground, struct failure *why)
{
    static const char *const positions[] = {"", "open", "edge", "inside"};
    double u = unknown_real();
    const char *moisture = calc_word(in, "moisture", NULL), *nutrients = calc_word(in, "nutrients", NULL),
               *position = calc_word(in, "position", NULL);
    *ground = species_place_new().ground;
    ground->ph = (struct figure){calc_number(in, "ph", u), calc_number(in, "ph_spread", 0.3)};
    if (moisture != NULL)
        ground->moisture = species_moisture_of(moisture);
    if (moisture != NULL && !is_known(ground->moisture.value))
        return fail(why, OUTCOME_USAGE, "“%.40s” is not a word for moisture.", moisture);
    if (json_object_get(in, "moisture_value") != NULL)
        ground->moisture = (struct figure){calc_number(in, "moisture_value", u), 0.4};
    if (nutrients != NULL)
        ground->nutrients = species_nutrients_of(nutrients);
    if (nutrients != NULL && !is_known(ground->nutrients.value))
        return fail(why, OUTCOME_USAGE, "“%.40s” is not a word for nutrients.", nutrients);
    ground->shade_pct = calc_number(in, "shade_pct", u);
    ground->water_mm = calc_number(in, "water_mm", u);
    ground->wet_1to5 = calc_number(in, "wet_1to5", u);
    ground->coldest_c = calc_number(in, "coldest_c", u);
    for (int i = 1; i < 4 && position != NULL; i++)
        if (text_same_nocase(position, positions[i]))
            ground->position = (enum species_position)i;
    if (position != NULL && ground->position == POSITION_UNKNOWN)
        return fail(why, OUTCOME_USAGE, "“%.40s” is not a position; use open, edge or inside.", position);
    return OUTCOME_OK;
}

/* ---- species_fit ---- */

static const struct calc_value fit_in[] = {
    {"name", "", CALC_WORD, true, "species"},
    {"library", "", CALC_WORD, false, "atlantic-europe (default) or eastern-north-america"},
    {"layer", "", CALC_WORD, false, "layer it is planted for; default its own"},
    GROUND_INPUTS,
};
static const struct calc_value fit_out[] = {
    {"fit", "", CALC_NUMBER, true, "0–1, the least of the factors that could be judged"},
    {"low", "", CALC_NUMBER, true, "over one standard deviation of the figures"},
    {"high", "", CALC_NUMBER, true, "over one standard deviation of the figures"},
    {"limiting", "", CALC_WORD, true, "factor that sets it; null if none could be judged"},
    {"known", "", CALC_NUMBER, true, "factors that could be judged, of 7"},
    {"factors", "", CALC_NUMBERS, true, "reaction, moisture, nutrients, light, drought, waterlogging, cold; null unknown"},
    {"species_values", "", CALC_NUMBERS, true, "figure of the species for each"},
    {"ground_values", "", CALC_NUMBERS, true, "figure of the ground for each"},
};

static enum outcome fit_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct species_library library;
    const struct species_fact *fact = NULL;
    struct species_ground ground;
    const char *word = calc_word(in, "layer", NULL);
    int layer = word == NULL ? 0 : word_find(WORDS_LAYER, word);
    enum outcome outcome =
        layer < 0 ? fail(why, OUTCOME_USAGE, "“%.40s” is not a layer.", word) : fact_of(in, &library, &arena, &fact, why);
    if (outcome == OUTCOME_OK)
        outcome = ground_of(in, &ground, why);
    if (outcome == OUTCOME_OK) {
        struct species_fit fit = species_fit(fact, &ground, (enum layer)layer);
        double parts[FIT_FACTORS], species[FIT_FACTORS], there[FIT_FACTORS];
        for (int i = 0; i < FIT_FACTORS; i++) {
            const struct fit_part *part = &fit.part[i];
            parts[i] = part->fit;
            species[i] = part->species;
            there[i] = part->ground;
            if (is_known(part->fit))
                calc_say(result, "%s: %s stands at %.2f%s, the ground at %.2f%s: %.3f (%.3f–%.3f)",
                         part->in_ph ? "pH" : fit_factor_word((enum fit_factor)i), fact->name, part->species,
                         part->estimated ? " (estimated)" : "", part->ground, part->ground_estimated ? " (from its pH)" : "", part->fit,
                         part->low, part->high);
        }
        calc_put(result, "fit", fit.fit);
        calc_put(result, "low", fit.low);
        calc_put(result, "high", fit.high);
        calc_put(result, "known", fit.n_known);
        if (fit.limiting < 0)
            json_object_set_new(result, "limiting", json_null());
        else
            calc_put_word(result, "limiting", fit_factor_word((enum fit_factor)fit.limiting));
        calc_put_all(result, "factors", parts, FIT_FACTORS);
        calc_put_all(result, "species_values", species, FIT_FACTORS);
        calc_put_all(result, "ground_values", there, FIT_FACTORS);
    }
    arena_clear(&arena);
    return outcome;
}

/* ---- community_rank ---- */

static const struct calc_value rank_in[] = {
    {"library", "", CALC_WORD, false, "atlantic-europe (default)"},
    {"region", "", CALC_WORD, false, "region whose native share is told"},
    GROUND_INPUTS,
};
static const struct calc_value rank_out[] = {
    {"communities", "", CALC_WORDS, true, "best match first"},
    {"match", "", CALC_NUMBERS, true, "0–1 for each"},
    {"native_share", "", CALC_NUMBERS, true, "of its woody constancy; null without region"},
    {"why", "", CALC_WORDS, true, "in words"},
};

static enum outcome rank_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct species_library library;
    struct species_ground ground;
    struct community_match *list = NULL;
    size_t n = 0;
    enum outcome outcome = library_of(in, &arena, &library, why);
    if (outcome == OUTCOME_OK)
        outcome = ground_of(in, &ground, why);
    if (outcome == OUTCOME_OK)
        outcome = species_rank_communities(&library, &ground, calc_word(in, "region", NULL), NULL, &arena, &list, &n, why);
    if (outcome == OUTCOME_OK) {
        const char **ids = arena_array(&arena, n, sizeof *ids), **words = arena_array(&arena, n, sizeof *words);
        double *match = arena_array(&arena, n, sizeof *match), *native = arena_array(&arena, n, sizeof *native);
        for (size_t i = 0; i < n; i++) {
            ids[i] = list[i].community->id;
            words[i] = list[i].why;
            match[i] = list[i].match;
            native[i] = list[i].native_share;
        }
        put_words(result, "communities", ids, n);
        calc_put_all(result, "match", match, n);
        calc_put_all(result, "native_share", native, n);
        put_words(result, "why", words, n);
    }
    arena_clear(&arena);
    return outcome;
}

/* ---- species_clay_zone ---- */

static const struct calc_value zone_in[] = {
    {"name", "", CALC_WORD, false, "species; or give demand and height"},
    {"library", "", CALC_WORD, false, "atlantic-europe (default) or eastern-north-america"},
    {"demand", "", CALC_WORD, false, "low, moderate or high"},
    {"height_m", "m", CALC_NUMBER, false, "mature height"},
};
static const struct calc_value zone_out[] = {
    {"zone_m", "m", CALC_NUMBER, true, "reach on shrinkable clay; null if demand or height is unknown"},
    {"factor", "", CALC_NUMBER, true, "of the mature height"},
};

static enum outcome zone_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct species_library library;
    const struct species_fact *fact = NULL;
    const char *word = calc_word(in, "demand", NULL);
    int demand = word == NULL ? 0 : word_find(WORDS_WATER_DEMAND, word);
    double height = calc_number(in, "height_m", unknown_real());
    enum outcome outcome = demand < 0 ? fail(why, OUTCOME_USAGE, "“%.40s” is not low, moderate or high.", word) : OUTCOME_OK;
    if (outcome == OUTCOME_OK && json_object_get(in, "name") != NULL) {
        outcome = fact_of(in, &library, &arena, &fact, why);
        if (outcome == OUTCOME_OK) {
            demand = demand != 0 ? demand : (int)fact->water_demand;
            height = is_known(height) ? height : fact->clay_height_m;
        }
    }
    if (outcome == OUTCOME_OK) {
        double zone = species_clay_zone_m((enum water_demand)demand, height);
        calc_put(result, "zone_m", zone);
        calc_put(result, "factor", species_clay_zone_m((enum water_demand)demand, 1));
        calc_say(result, "An engineer decides; this is no judgement of risk to buildings.");
    }
    arena_clear(&arena);
    return outcome;
}

/* ---- reaction_of_ph ---- */

static const struct calc_value reaction_in[] = {{"ph", "", CALC_NUMBER, true, "pH in water"}};
static const struct calc_value reaction_out[] = {
    {"reaction", "", CALC_NUMBER, true, "on the indicator scale 0–10"},
    {"spread", "", CALC_NUMBER, true, "standard deviation"},
};
static enum outcome reaction_run(const json_t *in, json_t *result, struct failure *why)
{
    (void)why;
    struct figure reaction = species_reaction_of_ph(calc_number(in, "ph", unknown_real()));
    calc_put(result, "reaction", reaction.value);
    calc_put(result, "spread", reaction.spread);
    return OUTCOME_OK;
}

/* ---- diversity_rule ---- */

static const struct calc_value rule_in[] = {
    {"species", "", CALC_WORDS, true, "name of each line; NA unknown"},
    {"genus", "", CALC_WORDS, true, "its genus"},
    {"family", "", CALC_WORDS, true, "its family"},
    {"plants", "", CALC_NUMBERS, true, "plants of it"},
};
static const struct calc_value rule_out[] = {
    {"over", "", CALC_NUMBER, true, "number of species, genera and families over their share"},
    {"names", "", CALC_WORDS, true, "which"},
    {"share_pct", "%", CALC_NUMBERS, true, "their shares"},
    {"limit_pct", "%", CALC_NUMBERS, true, "10 species, 20 genus, 30 family"},
    {"unknown_plants", "", CALC_NUMBER, true, "plants whose species, genus or family is unknown"},
};
static enum outcome rule_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n[4], n_out = 0;
    const char **species = words_of_input(in, "species", &arena, &n[0]), **genus = words_of_input(in, "genus", &arena, &n[1]),
               **family = words_of_input(in, "family", &arena, &n[2]);
    double *plants = calc_numbers(in, "plants", &arena, &n[3]), unknown = 0;
    struct diversity_breach *list = NULL;
    enum outcome outcome = n[0] != n[1] || n[0] != n[2] || n[0] != n[3]
                               ? fail(why, OUTCOME_USAGE, "species, genus, family and plants must be of one length.")
                               : species_diversity(species, genus, family, plants, n[0], &arena, &list, &n_out, &unknown, why);
    if (outcome == OUTCOME_OK) {
        const char **names = arena_array(&arena, n_out + 1, sizeof *names);
        double *shares = arena_array(&arena, n_out + 1, sizeof *shares), *limits = arena_array(&arena, n_out + 1, sizeof *limits);
        for (size_t i = 0; i < n_out; i++) {
            names[i] = list[i].name;
            shares[i] = list[i].share_pct;
            limits[i] = list[i].limit_pct;
            calc_say(result, "%s %s: %.4g %% is over %.4g %%", list[i].what, list[i].name, list[i].share_pct, list[i].limit_pct);
        }
        calc_put(result, "over", (double)n_out);
        put_words(result, "names", names, n_out);
        calc_put_all(result, "share_pct", shares, n_out);
        calc_put_all(result, "limit_pct", limits, n_out);
        calc_put(result, "unknown_plants", unknown);
    }
    arena_clear(&arena);
    return outcome;
}

/* ---- species_constancy ---- */

static const struct calc_value constancy_in[] = {
    {"stands", "", CALC_WORDS, true, "stand of each record"},
    {"species", "", CALC_WORDS, true, "species of each record"},
    {"cover_pct", "%", CALC_NUMBERS, false, "cover of each record, 0–100; NA present"},
    {"layers", "", CALC_WORDS, false, "layer of each record; default canopy"},
    {"merge", "", CALC_WORDS, false, "names to merge into the library's name for them"},
    {"library", "", CALC_WORD, false, "atlantic-europe (default) or eastern-north-america"},
};
static const struct calc_value constancy_out[] = {
    {"names", "", CALC_WORDS, true, "species, by layer and name"},
    {"class", "", CALC_NUMBERS, true, "1 to 5 for I to V"},
    {"mean_cover_pct", "%", CALC_NUMBERS, true, "where present; null without cover"},
    {"other_names", "", CALC_WORDS, true, "names that the library knows under another; merged only when asked"},
};
static enum outcome constancy_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct species_library library;
    size_t n = 0, n_species = 0, n_cover = 0, n_layers = 0, n_merge = 0, n_pairs = 0;
    const char **stands = words_of_input(in, "stands", &arena, &n), **species = words_of_input(in, "species", &arena, &n_species),
               **layers = words_of_input(in, "layers", &arena, &n_layers), **merge = words_of_input(in, "merge", &arena, &n_merge);
    double *cover = calc_numbers(in, "cover_pct", &arena, &n_cover);
    struct community table;
    struct releve_pair *pairs = NULL;
    enum outcome outcome = n != n_species || (n_cover != 0 && n_cover != n) || (n_layers != 0 && n_layers != n)
                               ? fail(why, OUTCOME_USAGE, "stands, species, cover_pct and layers must be of one length.")
                               : library_of(in, &arena, &library, why);
    struct releve_row *rows = arena_array(&arena, n + 1, sizeof *rows);
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++) {
        int layer = n_layers == 0 ? LAYER_CANOPY : word_find(WORDS_LAYER, layers[i]);
        rows[i] = (struct releve_row){stands[i], species[i], (enum layer)(layer < 0 ? 0 : layer), n_cover == 0 ? unknown_real() : cover[i]};
    }
    if (outcome == OUTCOME_OK)
        outcome = species_constancy(&library, rows, n, merge, n_merge, &arena, &table, &pairs, &n_pairs, why);
    if (outcome == OUTCOME_OK) {
        const char **names = arena_array(&arena, table.n_species, sizeof *names),
                   **others = arena_array(&arena, n_pairs + 1, sizeof *others);
        double *classes = arena_array(&arena, table.n_species, sizeof *classes), *mean = arena_array(&arena, table.n_species, sizeof *mean);
        for (size_t i = 0; i < table.n_species; i++) {
            names[i] = table.species[i].name;
            classes[i] = table.species[i].constancy;
            mean[i] = table.species[i].cover_pct;
        }
        for (size_t i = 0; i < n_pairs; i++)
            others[i] = arena_print(&arena, "%s = %s", pairs[i].name, pairs[i].accepted);
        put_words(result, "names", names, table.n_species);
        calc_put_all(result, "class", classes, table.n_species);
        calc_put_all(result, "mean_cover_pct", mean, table.n_species);
        put_words(result, "other_names", others, n_pairs);
    }
    arena_clear(&arena);
    return outcome;
}

/* ---- species_verdict ---- */

static const struct calc_value verdict_in[] = {
    {"name", "", CALC_WORD, true, "species"},
    {"region", "", CALC_WORD, true, "where it must be native, such as ireland"},
    {"library", "", CALC_WORD, false, "atlantic-europe (default) or eastern-north-america"},
    {"community", "", CALC_WORD, false, "id of the reference community"},
    {"clay", "", CALC_WORD, false, "shrinkable or not_shrinkable; left out: not checked"},
    {"building_m", "m", CALC_NUMBER, false, "from a building to the nearest planting place"},
    {"building_far_m", "m", CALC_NUMBER, false, "and to the farthest"},
    {"play_area", "", CALC_WORD, false, "yes or no; left out: not checked"},
    {"overhead_m", "m", CALC_NUMBER, false, "greatest height that may grow under a line"},
    GROUND_INPUTS,
};
static const struct calc_value verdict_out[] = {
    {"answer", "", CALC_WORD, true, "in, ask or out"},
    {"stage", "", CALC_WORD, true, "where it was held or went out"},
    {"fit", "", CALC_NUMBER, true, "0–1"},
    {"clay_zone_m", "m", CALC_NUMBER, true, "reach on shrinkable clay"},
    {"keep_away_m", "m", CALC_NUMBER, true, "distance from buildings to keep in the layout; null none"},
    {"why_in", "", CALC_WORD, true, "what speaks for it"},
    {"why_out", "", CALC_WORD, true, "what speaks against it or is not known"},
};
static enum outcome verdict_run(const json_t *in, json_t *result, struct failure *why)
{
    static const char *const answers[] = {"in", "ask", "out"};
    struct arena arena = {0};
    struct species_library library;
    const struct species_fact *fact = NULL;
    struct species_place place = species_place_new();
    struct species_verdict *list = NULL;
    size_t n = 0;
    const char *clay = calc_word(in, "clay", NULL), *play = calc_word(in, "play_area", NULL);
    place.region = calc_word(in, "region", NULL);
    place.community = calc_word(in, "community", NULL);
    place.building_nearest_m = calc_number(in, "building_m", unknown_real());
    place.building_farthest_m = calc_number(in, "building_far_m", unknown_real());
    place.overhead_clearance_m = calc_number(in, "overhead_m", unknown_real());
    int clay_value = clay == NULL ? 0 : word_find(WORDS_CLAY_STATE, clay), play_value = play == NULL ? 0 : word_find(WORDS_TRUTH, play);
    enum outcome outcome = clay_value < 0 || play_value < 0
                               ? fail(why, OUTCOME_USAGE, "clay is shrinkable or not_shrinkable, play_area yes or no.")
                               : fact_of(in, &library, &arena, &fact, why);
    place.clay = (enum clay_state)(clay_value < 0 ? 0 : clay_value);
    place.play_area = (enum truth)(play_value < 0 ? 0 : play_value);
    if (outcome == OUTCOME_OK)
        outcome = ground_of(in, &place.ground, why);
    if (outcome == OUTCOME_OK)
        outcome = species_filter(&library, &place, &arena, &list, &n, why);
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++) {
        if (list[i].fact != fact)
            continue;
        calc_put_word(result, "answer", answers[list[i].answer]);
        calc_put_word(result, "stage", species_stage_word(list[i].stage));
        calc_put(result, "fit", list[i].fit.fit);
        calc_put(result, "clay_zone_m", list[i].clay_zone_m);
        calc_put(result, "keep_away_m", list[i].keep_away_m);
        calc_put_word(result, "why_in", list[i].why_in);
        calc_put_word(result, "why_out", list[i].why_out);
    }
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value open_in[] = {{"species_m2", "1/m2", CALC_NUMBER, true, "plant species in the richest square metre"}};
static const struct calc_value open_out[] = {{"ask_first", "", CALC_WORD, true, "yes: planting could lower the worth of this place"}};
static enum outcome open_run(const json_t *in, json_t *result, struct failure *why)
{
    (void)why;
    calc_put_word(result, "ask_first", species_open_ground(calc_number(in, "species_m2", unknown_real())) ? "yes" : "no");
    return OUTCOME_OK;
}

#define CALC(name, title, source, run)                                                                                                     \
    {                                                                                                                                      \
#name, title, source, run##_in, COUNT(run##_in), run##_out, COUNT(run##_out), run##_run                                            \
    }

const struct calc calc_species[] = {
    CALC(species_find, "A name looked up in the species library", "data/species/synonyms.csv; distance of letters after Damerau 1964",
         find),
    CALC(species_fit, "Fit of a species to a place, factor by factor",
         "EIVE 1.0 (Dengler et al. 2023), Niinemets & Valladares 2006; curves common practice, no source", fit),
    CALC(species_verdict, "What speaks for and against a species at a place", "docs/methods/species.md", verdict),
    CALC(community_rank, "Reference communities ranked by match to the ground",
         "Rodwell 1991 (constancy), EIVE 1.0 (envelopes); pH ranges from memory", rank),
    CALC(species_constancy, "Constancy classes from relevés", "Braun-Blanquet's classes I to V of 20 % each", constancy),
    CALC(species_clay_zone, "Reach of a species on shrinkable clay", "NHBC Standards chapter 4.2: 1.25, 0.75, 0.5 × mature height", zone),
    CALC(species_reaction_of_ph, "Reaction on the indicator scale from pH", "line through the library's communities; their pH from memory",
         reaction),
    CALC(diversity_rule, "Shares over 10 % species, 20 % genus, 30 % family", "Santamour 1990, Proc. 7th Conf. METRIA: 57–65", rule),
    CALC(open_ground, "Whether open ground calls for an ecologist before planting",
         "9 species per square metre, English grassland keys, from memory", open),
    {0},
};
