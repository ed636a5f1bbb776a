/* SPDX-License-Identifier: GPL-3.0-or-later
 * species: look a name up, or list which fit a site and why. communities: reference vegetation by match to the ground.
 * library: load another region's table. */
#include "draw/draw.h"
#include "work/ground_place.h"
#include "work/jobs.h"
#include "work/releves_load.h"
#include "work/site_load.h"
#include "work/site_map.h"
#include <sodium.h>
#include <stdlib.h>
#include <string.h>

static const struct option species_options[] = {
    {"name", OPTION_TEXT, false, "NAME", "look this name up"},
    {"site", OPTION_TEXT, false, "CODE", "which species fit this site"},
    {"community", OPTION_TEXT, false, "ID", "only species of this reference community"},
    {"library", OPTION_TEXT, false, "NAME", "species library (the programme's own, else atlantic-europe)"},
    {"plot", OPTION_TEXT, false, "CODE", "which species fit this plot: its own distances from buildings"},
    {"position", OPTION_TEXT, false, "WORD", "where in the planting light is judged: open, edge or inside (each layer's own if not given)"},
    {"all", OPTION_FLAG, false, NULL, "list also those that are out, with the reason"},
};
static const char *const species_bare[] = {"name", NULL};

static void fact_note(json_t *out, const struct species_fact *fact)
{
    json_t *table = section_table(note_section(out, fact->name));
    table_column(table, "what", "what", "", -1);
    table_column(table, "value", "value", "", -1);
    table_column(table, "standing", "how sure", "", -1);
    const struct {
        const char *column, *title;
        struct species_value value;
    } numbers[] = {
        {"light", "light (0 shade – 10 full light, EIVE)", fact->light},
        {"moisture", "moisture (0 dry – 10 wet, EIVE)", fact->moisture},
        {"reaction", "reaction (0 acid – 10 base-rich, EIVE)", fact->reaction},
        {"nutrients", "nutrients (0 poor – 10 rich, EIVE)", fact->nutrients},
        {"shade", "shade tolerance (1–5)", fact->shade},
        {"drought", "drought tolerance (1–5)", fact->drought},
        {"waterlogging", "waterlogging tolerance (1–5)", fact->waterlogging},
    };
    const struct {
        const char *column, *title, *value;
    } words[] = {
        {"family", "family", fact->family},
        {"common_name", "English name", fact->common_name},
        {"layer", "layer", fact->layer == LAYER_UNKNOWN ? NULL : word_of(WORDS_LAYER, (int)fact->layer)},
        {"role", "role in the succession", fact->role == ROLE_UNKNOWN ? NULL : word_of(WORDS_ROLE, (int)fact->role)},
        {"thorny", "thorny", fact->thorny == TRUTH_UNKNOWN ? NULL : word_of(WORDS_TRUTH, (int)fact->thorny)},
        {"hazard", "hazard recorded", fact->hazard == NULL ? "none recorded, which is not harmless" : fact->hazard},
        {"water_demand", "water demand on shrinkable clay (NHBC)",
         fact->water_demand == WATER_DEMAND_UNKNOWN ? NULL : word_of(WORDS_WATER_DEMAND, (int)fact->water_demand)},
        {"health", "plant health", fact->health_note},
        {"size_cm", "usual nursery size, cm", fact->size_cm},
        {"not_by_default", "not offered unless asked for", fact->not_by_default},
    };
    for (size_t i = 0; i < sizeof words / sizeof *words; i++) {
        if (words[i].value == NULL && text_same(words[i].column, "not_by_default"))
            continue;
        json_t *row = table_row(table);
        row_text(row, words[i].title);
        row_text(row, words[i].value);
        row_text(row, species_uncertain(fact, words[i].column)     ? "two readings differ"
                      : species_from_memory(fact, words[i].column) ? "from memory"
                                                                   : "read");
    }
    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++) {
        json_t *row = table_row(table);
        row_text(row, numbers[i].title);
        row_number(row, numbers[i].value.value);
        row_text(row, species_from_memory(fact, numbers[i].column) ? "from memory" : "read");
    }
}

static enum outcome species_name(const struct species_library *library, const char *name, json_t *out, struct arena *arena,
                                 struct failure *why)
{
    struct species_match match;
    enum outcome outcome = species_find(library, name, arena, &match, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    note_answer(out, "%s", match.said);
    if (match.fact != NULL)
        fact_note(out, match.fact);
    json_t *suggestions = json_array();
    for (size_t i = 0; i < match.n_suggestions; i++)
        json_array_append_new(suggestions, json_string(match.suggestion[i]->name));
    json_object_set_new(note_data(out), "found", match.fact == NULL ? json_null() : json_string(match.fact->name));
    json_object_set_new(note_data(out), "suggestions", suggestions);
    return OUTCOME_OK;
}

static void verdicts_table(json_t *out, const char *title, const struct species_verdict *verdicts, size_t n, enum species_answer answer)
{
    json_t *table = section_table(note_section(out, title));
    table_column(table, "species", "species", "", -1);
    table_column(table, "layer", "layer", "", -1);
    table_column(table, "fit", "fit, 0–1", "", 2);
    table_column(table, "constancy", "constancy", "class", -1);
    table_column(table, "why_in", "what speaks for it", "", -1);
    table_column(table, "why_out", "what speaks against it, or is not known", "", -1);
    for (size_t i = 0; i < n; i++) {
        if (verdicts[i].answer != answer)
            continue;
        json_t *row = table_row(table);
        row_text(row, verdicts[i].fact->name);
        row_text(row, word_of(WORDS_LAYER, (int)verdicts[i].fact->layer));
        row_number(row, verdicts[i].fit.fit);
        row_integer(row, verdicts[i].constancy);
        row_text(row, verdicts[i].why_in);
        row_text(row, verdicts[i].why_out);
    }
}

/* "0.82 (0.41–1.00)" of one factor; what the species figure was estimated from is marked. */
static void factor_cell(json_t *row, const struct fit_part *part)
{
    if (is_known(part->fit))
        row_print(row, "%.2f (%.2f–%.2f)%s", part->fit, part->low, part->high, part->estimated ? " est." : "");
    else
        row_text(row, NULL);
}

static void factors_table(json_t *out, const struct species_verdict *verdicts, size_t n, bool all)
{
    json_t *section = note_section(out, "Fit, factor by factor"), *table = section_table(section), *list = json_array();
    section_text(
        section,
        "0 does not fit, 1 fits; in brackets over one standard deviation of the indicator values and of the ground. The least known "
        "factor counts. \"est.\": the species figure was estimated from its other traits.");
    table_column(table, "species", "species", "", -1);
    table_column(table, "fit", "fit", "", -1);
    table_column(table, "limiting", "set by", "", -1);
    for (int k = 0; k < FIT_FACTORS; k++)
        table_column(table, fit_factor_word((enum fit_factor)k), fit_factor_word((enum fit_factor)k), "", -1);
    table_column(table, "clay", "reach on clay", "m", 1);
    for (size_t i = 0; i < n; i++) {
        const struct species_fit *fit = &verdicts[i].fit;
        if (verdicts[i].answer == ANSWER_OUT && !all)
            continue;
        json_t *row = table_row(table), *parts = json_object();
        row_text(row, verdicts[i].fact->name);
        if (is_known(fit->fit))
            row_print(row, "%.2f (%.2f–%.2f)", fit->fit, fit->low, fit->high);
        else
            row_text(row, NULL);
        row_text(row, fit->limiting < 0 ? NULL : fit_factor_word((enum fit_factor)fit->limiting));
        for (int k = 0; k < FIT_FACTORS; k++) {
            const struct fit_part *part = &fit->part[k];
            factor_cell(row, part);
            if (is_known(part->fit))
                json_object_set_new(parts, fit_factor_word((enum fit_factor)k), json_pack("[f, f, f]", part->fit, part->low, part->high));
        }
        row_number(row, verdicts[i].clay_zone_m);
        json_array_append_new(list, json_pack("{s:s, s:o, s:o}", "species", verdicts[i].fact->name, "fit",
                                              is_known(fit->fit) ? json_real(fit->fit) : json_null(), "parts", parts));
    }
    json_object_set_new(note_data(out), "fits", list);
}

/* The best fits with their spread, best first. */
static int by_fit(const void *a, const void *b)
{
    double x = (*(const struct species_verdict *const *)a)->fit.fit, y = (*(const struct species_verdict *const *)b)->fit.fit;
    return (x < y) - (x > y);
}
static void fits_figure(json_t *section, const struct species_verdict *verdicts, size_t n, struct arena *arena)
{
    const struct species_verdict **best = arena_array(arena, n + 1, sizeof *best);
    struct figure_row *rows = arena_array(arena, n + 1, sizeof *rows);
    size_t m = 0;
    for (size_t i = 0; i < n; i++)
        if (verdicts[i].answer == ANSWER_IN && is_known(verdicts[i].fit.fit))
            best[m++] = &verdicts[i];
    if (m < 2)
        return;
    qsort(best, m, sizeof *best, by_fit);
    m = m > 40 ? 40 : m;
    for (size_t i = 0; i < m; i++) {
        const struct species_fit *fit = &best[i]->fit;
        rows[i].label = best[i]->fact->name;
        rows[i].label_italic = true;
        rows[i].value = (struct draw_value){.value = fit->fit, .low = fit->low, .high = fit->high};
        rows[i].note = fit->limiting < 0 ? NULL : fit_factor_word((enum fit_factor)fit->limiting);
    }
    struct figure_intervals figure = {.head = {.title = "Fit to the ground, and what sets it", .x_title = "fit, 0 to 1"},
                                      .rows = rows,
                                      .n_rows = m,
                                      .reference = unknown_real(),
                                      .x_least = 0,
                                      .x_most = 1};
    section_drawing(section, figure_intervals(&figure));
}

static enum outcome position_read(const json_t *in, struct species_ground *ground, struct failure *why)
{
    static const char *const words[] = {"", "open", "edge", "inside"};
    const char *word = option_text(in, "position", NULL);
    for (int i = 1; word != NULL && i < 4; i++)
        if (text_same(words[i], word)) {
            ground->position = (enum species_position)i;
            return OUTCOME_OK;
        }
    return word == NULL ? OUTCOME_OK : fail(why, OUTCOME_USAGE, "\"%.40s\" is no position: open, edge or inside.", word);
}

static enum outcome species_site(const struct job_context *context, const json_t *in, const struct species_library *library, json_t *out,
                                 struct arena *arena, struct failure *why)
{
    struct site site;
    struct site_facts facts;
    struct species_place place;
    struct species_verdict *verdicts = NULL;
    size_t n = 0, count[3] = {0};
    struct plot plot;
    struct shape outline;
    bool of_plot = option_text(in, "plot", NULL) != NULL;
    enum outcome outcome = of_plot ? load_plot(context->store, option_text(in, "plot", NULL), arena, &plot, &site, why)
                                   : load_site(context->store, option_text(in, "site", NULL), arena, &site, why);
    if (outcome == OUTCOME_OK && of_plot)
        outcome = load_shape(plot.wkb, arena, &outline, why);
    if (outcome == OUTCOME_OK)
        outcome = site_facts_load(context->store, &site, context->today, arena, &facts, why);
    if (outcome == OUTCOME_OK)
        outcome = place_load(context->store, &facts, of_plot ? &outline : NULL, arena, &place, why);
    if (outcome == OUTCOME_OK)
        outcome = position_read(in, &place.ground, why);
    if (outcome == OUTCOME_OK) {
        place.community = option_text(in, "community", NULL);
        outcome = species_filter(library, &place, arena, &verdicts, &n, why);
    }
    if (outcome != OUTCOME_OK)
        return outcome;
    for (size_t i = 0; i < n; i++)
        count[verdicts[i].answer]++;
    note_answer(out, "For %s, %zu species fit, %zu need an answer first, %zu are out.", site.name, count[ANSWER_IN], count[ANSWER_ASK],
                count[ANSWER_OUT]);
    verdicts_table(out, "In", verdicts, n, ANSWER_IN);
    factors_table(out, verdicts, n, option_flag(in, "all"));
    fits_figure(note_section(out, "Fit with its spread"), verdicts, n, arena);
    if (site.clay == CLAY_STATE_UNKNOWN)
        note_unknown(out, "Shrinkable clay: not checked. Reaches are shown as if it were clay.");
    verdicts_table(out, "Something that decides is not known", verdicts, n, ANSWER_ASK);
    if (option_flag(in, "all"))
        verdicts_table(out, "Out", verdicts, n, ANSWER_OUT);
    if (place.region == NULL)
        note_unknown(out, "The region of site %s is not set, so nobody has checked what is native here.", site.code);
    return OUTCOME_OK;
}

static enum outcome species_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct species_library library;
    json_t *out = note_new();
    enum outcome outcome = library_load(context->store, option_text(in, "library", NULL), &arena, &library, why);
    if (outcome == OUTCOME_OK && option_text(in, "name", NULL) != NULL) {
        outcome = species_name(&library, option_text(in, "name", NULL), out, &arena, why);
    } else if (outcome == OUTCOME_OK && (option_text(in, "site", NULL) != NULL || option_text(in, "plot", NULL) != NULL)) {
        outcome = species_site(context, in, &library, out, &arena, why);
    } else if (outcome == OUTCOME_OK) {
        json_t *table = section_table(note_section(out, "Species"));
        table_column(table, "species", "species", "", -1);
        table_column(table, "common", "English name", "", -1);
        table_column(table, "layer", "layer", "", -1);
        table_column(table, "role", "role", "", -1);
        for (size_t i = 0; i < library.n_facts; i++) {
            json_t *row = table_row(table);
            row_text(row, library.facts[i].name);
            row_text(row, library.facts[i].common_name);
            row_text(row, word_of(WORDS_LAYER, (int)library.facts[i].layer));
            row_text(row, word_of(WORDS_ROLE, (int)library.facts[i].role));
        }
        note_answer(out, "The library %s holds %zu taxa and %zu reference communities.", library.name, library.n_facts,
                    library.n_communities);
    }
    if (outcome == OUTCOME_OK) {
        note_source(out, "Indicator values: EIVE 1.0, Dengler et al. 2023, Veg. Classif. Surv. 4:7–29; tolerances: Niinemets & Valladares "
                         "2006, Ecol. Monogr. 76:521–547. Columns and what is from memory: data/species/sources.csv.");
        *note = out;
    } else {
        json_decref(out);
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_species = {
    .name = "species",
    .summary = "look a species up, or see which fit a site and why",
    .about = "Looks a scientific or English name up (synonyms are told, misspellings suggested and never corrected), or lists for a site "
             "which species "
             "fit its ground and light, with what speaks for and against each. What is unknown is said, never taken for no.",
    .example = "spinney species wood.gpkg 'Quercus rober'",
    .access = JOB_LOOKS,
    .options = species_options,
    .n_options = sizeof species_options / sizeof *species_options,
    .bare = species_bare,
    .run = species_run,
};

static const struct option communities_options[] = {
    {"site", OPTION_TEXT, false, "CODE", "rank by match to this site's ground"},
    {"id", OPTION_TEXT, false, "ID", "show the species of this one"},
    {"library", OPTION_TEXT, false, "NAME", "species library"},
};
static const char *const communities_bare[] = {"site", NULL};

static void communities_table(json_t *out, const struct community_match *matches, size_t n)
{
    json_t *table = section_table(note_section(out, "Reference communities"));
    table_column(table, "id", "id", "", -1);
    table_column(table, "name", "community", "", -1);
    table_column(table, "match", "match, 0–1", "", 2);
    table_column(table, "why", "why", "", -1);
    table_column(table, "ph", "pH", "0–1", 2);
    table_column(table, "moisture", "moisture", "0–1", 2);
    table_column(table, "nutrients", "nutrients", "0–1", 2);
    table_column(table, "shared", "alike to your stands", "0–1", 2);
    for (size_t i = 0; i < n; i++) {
        json_t *row = table_row(table);
        row_text(row, matches[i].community->id);
        row_text(row, matches[i].community->name);
        row_number(row, matches[i].match);
        row_text(row, matches[i].why);
        row_number(row, matches[i].ph);
        row_number(row, matches[i].moisture);
        row_number(row, matches[i].nutrients);
        row_number(row, matches[i].shared);
    }
}

static enum outcome communities_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct species_library library;
    struct site site;
    struct site_facts facts;
    struct species_place place = species_place_new();
    struct community_match *matches = NULL;
    struct community own;
    size_t n = 0, stands = 0;
    json_t *out = note_new();
    const char *id = option_text(in, "id", NULL);
    enum outcome outcome = library_load(context->store, option_text(in, "library", NULL), &arena, &library, why);
    if (outcome == OUTCOME_OK && option_text(in, "site", NULL) != NULL) {
        outcome = load_site(context->store, option_text(in, "site", NULL), &arena, &site, why);
        if (outcome == OUTCOME_OK)
            outcome = site_facts_load(context->store, &site, context->today, &arena, &facts, why);
        if (outcome == OUTCOME_OK)
            outcome = place_load(context->store, &facts, NULL, &arena, &place, why);
    }
    if (outcome == OUTCOME_OK)
        outcome = releves_load(context->store, place.region == NULL && option_text(in, "site", NULL) == NULL ? 0 : site.id, &library,
                               &arena, &own, &stands, NULL, NULL, why);
    if (outcome == OUTCOME_OK)
        outcome = species_rank_communities(&library, &place.ground, place.region, stands > 0 ? &own : NULL, &arena, &matches, &n, why);
    if (outcome == OUTCOME_OK) {
        communities_table(out, matches, n);
        if (stands > 0)
            note_answer(out, "%zu reference communities in %s, best match to the ground and to your %zu stands first.", n, library.name,
                        stands);
        else
            note_answer(out, "%zu reference communities in %s, best match first.", n, library.name);
        json_object_set_new(note_data(out), "stands", json_integer((json_int_t)stands));
        if (n == 0)
            note_answer(out, "The library %s has no reference communities.", library.name);
        const struct community *one = id == NULL ? NULL : species_community(&library, id);
        if (id != NULL && one == NULL) {
            outcome = fail(why, OUTCOME_DATA, "There is no community \"%.60s\".", id);
        } else if (one != NULL) {
            json_t *section = note_section(out, one->name), *list = section_table(section);
            section_text(section, "%s", one->about);
            table_column(list, "species", "species", "", -1);
            table_column(list, "layer", "layer", "", -1);
            table_column(list, "constancy", "constancy class", "", -1);
            table_column(list, "advice", "advice", "", -1);
            for (size_t i = 0; i < one->n_species; i++) {
                json_t *row = table_row(list);
                row_text(row, one->species[i].name);
                row_text(row, word_of(WORDS_LAYER, (int)one->species[i].layer));
                row_integer(row, one->species[i].constancy == 0 ? INT_UNKNOWN : one->species[i].constancy);
                row_text(row, one->species[i].advice == NULL ? "" : one->species[i].advice);
            }
        }
        note_unknown(out, "What would grow here by nature is a hypothesis; urban fill has no natural analogue.");
    }
    if (outcome == OUTCOME_OK)
        *note = out;
    else
        json_decref(out);
    arena_clear(&arena);
    return outcome;
}

const struct job job_communities = {
    .name = "communities",
    .summary = "reference vegetation, ranked by match to the ground",
    .about =
        "Lists the reference communities of the library, ranked by how well they match the ground of a site, and their species by layer.",
    .example = "spinney communities wood.gpkg LK --id A04",
    .access = JOB_LOOKS,
    .options = communities_options,
    .n_options = sizeof communities_options / sizeof *communities_options,
    .bare = communities_bare,
    .run = communities_run,
};

static const struct option library_options[] = {
    {"facts", OPTION_FILE_IN, true, "FILE", "species table in the documented format (docs/species-format.md)"},
    {"communities", OPTION_TEXT, false, "FILE", "its reference communities"},
    {"name", OPTION_TEXT, true, "NAME", "name to choose it by"},
    {"region", OPTION_TEXT, false, "NAME", "where its species are native"},
    {"source", OPTION_TEXT, false, "TEXT", "where the table comes from"},
};
static const char *const library_bare[] = {"facts", NULL};

static enum outcome library_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct bytes facts;
    struct species_library library;
    struct species_problems problems = {0};
    struct library row;
    char *communities = NULL;
    size_t n_communities = 0;
    const char *path = option_text(in, "facts", "");
    noun_init(NOUN_LIBRARY, &row);
    enum outcome outcome = input_bytes(context, path, 32 << 20, &arena, &facts, why);
    if (outcome == OUTCOME_OK)
        outcome = species_library_read(path, (const char *)facts.at, facts.n, &arena, &library, &problems, why);
    if (outcome == OUTCOME_OK && option_text(in, "communities", NULL) != NULL && context->upload == NULL) {
        outcome = file_read(option_text(in, "communities", NULL), 32 << 20, &arena, &communities, &n_communities, why);
        if (outcome == OUTCOME_OK)
            outcome = species_communities_read(option_text(in, "communities", NULL), communities, n_communities, &arena, &library,
                                               &problems, why);
    }
    if (outcome == OUTCOME_OK) {
        unsigned char hash[crypto_hash_sha256_BYTES];
        char hex[2 * sizeof hash + 1];
        crypto_hash_sha256(hash, facts.at, facts.n);
        sodium_bin2hex(hex, sizeof hex, hash, sizeof hash);
        row.name = option_text(in, "name", NULL);
        row.region = option_text(in, "region", NULL);
        row.facts_csv = arena_text_n(&arena, (const char *)facts.at, facts.n);
        row.communities_csv = communities;
        row.sha256 = hex;
        row.source = option_text(in, "source", NULL);
        outcome = store_begin(context->store, context->author, arena_print(&arena, "species library %s", row.name), why);
        if (outcome == OUTCOME_OK) {
            outcome = store_add(context->store, NOUN_LIBRARY, &row, 1, why);
            outcome = store_end(context->store, outcome, why);
        }
    }
    if (outcome == OUTCOME_OK) {
        json_t *out = note_new();
        note_answer(out, "The library %s is in: %zu taxa, %zu communities; %zu rows were refused.", row.name, library.n_facts,
                    library.n_communities, problems.refused);
        if (problems.n > 0) {
            json_t *table = section_table(note_section(out, "Refused rows"));
            table_column(table, "row", "row", "", -1);
            table_column(table, "column", "column", "", -1);
            table_column(table, "why", "why, and what to do", "", -1);
            for (size_t i = 0; i < problems.n; i++) {
                json_t *line = table_row(table);
                row_integer(line, problems.list[i].row);
                row_text(line, problems.list[i].column);
                row_print(line, "%s %s", problems.list[i].sentence, problems.list[i].remedy);
            }
        }
        *note = out;
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_library = {
    .name = "library",
    .summary = "load another region's species table",
    .about = "Loads a species table of your own region in the documented format. Every row is checked; bad rows are listed with the reason "
             "and left out.",
    .example = "spinney library wood.gpkg my-region.csv --name my-region",
    .access = JOB_WRITES,
    .options = library_options,
    .n_options = sizeof library_options / sizeof *library_options,
    .bare = library_bare,
    .run = library_run,
};
