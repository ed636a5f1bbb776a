/* SPDX-License-Identifier: GPL-3.0-or-later
 * mix: which species and how many for a plot, by a solver, stored as a plan beside those that are there. */
#include "draw/draw.h"
#include "mix/mix.h"
#include "work/ground_place.h"
#include "work/jobs.h"
#include "work/plan_load.h"
#include "work/site_map.h"
#include <math.h>
#include <string.h>

static const struct option mix_options[] = {
    {"plot", OPTION_TEXT, false, "CODE", "which plot (the only one if not given)"},
    {"community", OPTION_TEXT, false, "ID", "reference community (the plot's, else the best match)"},
    {"library", OPTION_TEXT, false, "NAME", "species library"},
    {"density", OPTION_NUMBER, false, "PER_M2", "plants per square metre (the plot's if not given)"},
    {"total", OPTION_INTEGER, false, "N", "plants, instead of density × net area"},
    {"canopy", OPTION_TEXT, false, "MIN-MAX", "share of the layer in per cent, such as 35-50"},
    {"subcanopy", OPTION_TEXT, false, "MIN-MAX", "share of the layer in per cent"},
    {"shrub", OPTION_TEXT, false, "MIN-MAX", "share of the layer in per cent"},
    {"pioneer", OPTION_TEXT, false, "MIN-MAX", "share of pioneers in per cent"},
    {"tall_most", OPTION_NUMBER, false, "%", "greatest share of tall canopy trees"},
    {"species_most", OPTION_NUMBER, false, "%", "greatest share of one species"},
    {"genus_most", OPTION_NUMBER, false, "%", "greatest share of one genus"},
    {"family_most", OPTION_NUMBER, false, "%", "greatest share of one family"},
    {"pest_most", OPTION_NUMBER, false, "%", "greatest share of the hosts of one pest"},
    {"least_each", OPTION_INTEGER, false, "N", "plants of a species if it is used at all"},
    {"count_least", OPTION_INTEGER, false, "N", "species at least"},
    {"count_most", OPTION_INTEGER, false, "N", "species at most"},
    {"only", OPTION_TEXT, false, "NAME;NAME", "only these species"},
    {"without", OPTION_TEXT, false, "NAME;NAME", "not these species"},
    {"insist", OPTION_TEXT, false, "NAME;NAME", "these species although they fit the ground or the light poorly; said in the answer"},
    {"fix", OPTION_TEXT, false, "NAME=N", "exactly so many of a species; 0 keeps it out"},
    {"like", OPTION_TEXT, false, "PLOT", "the same shares as the chosen plan of another plot"},
    {"widen", OPTION_FLAG, false, NULL, "also species that fit but are not in the community"},
    {"ask_too", OPTION_FLAG, false, NULL, "also species for which something that decides is not known"},
    {"diversity", OPTION_NUMBER, false, "WEIGHT", "weight of evenness beside the community's composition (0 if not given)"},
    {"seconds", OPTION_NUMBER, false, "S", "limit of time for the solver (10 if not given)"},
    {"seed", OPTION_INTEGER, false, "N", "seed of the plan (the programme's if not given)"},
    {"try", OPTION_FLAG, false, NULL, "only show it, store nothing"},
};
static const char *const mix_bare[] = {"plot", NULL};

struct mixing {
    struct plot_ground ground;
    struct species_library library;
    struct species_place place;
    struct species_verdict *verdicts;
    size_t n_verdicts;
    const char *community;
    const struct species_verdict **insisted; ///< verdicts taken although the species fits poorly
    size_t n_insisted;
    bool widened; ///< species beyond the community were let in
    struct mix_species *species;
    const struct species_verdict **from; ///< verdict of each species
    size_t n;
    double *ground_m2; ///< plantable ground each species may stand on
    struct mix_wish *wishes;
    size_t n_wishes;
    struct mix_settings settings;
    struct mix_result result;
};

/* "35-50" in per cent into a share. */
static enum outcome share_read(const json_t *in, const char *name, struct mix_share *share, struct failure *why)
{
    const char *text = option_text(in, name, NULL);
    if (text == NULL)
        return OUTCOME_OK;
    char copy[80];
    snprintf(copy, sizeof copy, "%s", text);
    char *dash = strchr(copy, '-');
    double least = 0, most = 0;
    if (dash != NULL)
        *dash = '\0';
    if (!number_read(copy, &least) || !number_read(dash == NULL ? copy : dash + 1, &most) || least < 0 || most > 100 || least > most) {
        fail(why, OUTCOME_USAGE, "%s: \"%.60s\" is no range of per cent.", name, text);
        failure_remedy(why, "Write it like 35-50.");
        return OUTCOME_USAGE;
    }
    *share = (struct mix_share){least / 100, most / 100};
    return OUTCOME_OK;
}

static double per_cent(const json_t *in, const char *name, double otherwise)
{
    return json_object_get(in, name) == NULL ? otherwise : option_number(in, name, 0) / 100;
}

/* Parts of the settings that nobody gave: they may give way. */
static unsigned defaults_of(const json_t *in)
{
    static const struct {
        const char *name;
        unsigned part;
    } parts[] = {{"canopy", MIX_PART_CANOPY},    {"subcanopy", MIX_PART_SUBCANOPY}, {"shrub", MIX_PART_SHRUB},
                 {"pioneer", MIX_PART_PIONEER},  {"tall_most", MIX_PART_TALL},      {"species_most", MIX_PART_SPECIES},
                 {"genus_most", MIX_PART_GENUS}, {"least_each", MIX_PART_EACH},     {"count_most", MIX_PART_COUNT}};
    unsigned defaults = 0;
    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++)
        if (json_object_get(in, parts[i].name) == NULL)
            defaults |= parts[i].part;
    return defaults;
}

static enum outcome settings_read(const json_t *in, struct mixing *mixing, struct failure *why)
{
    double density = option_number(in, "density", mixing->ground.plot.density_m2);
    int64_t total = option_integer(in, "total", is_known(density) ? mix_total(density, mixing->ground.net.net_m2) : 0);
    if (total <= 0) {
        fail(why, OUTCOME_DATA, "Plot %s has nothing to plant: %.1f m² plantable, density %s.", mixing->ground.plot.code,
             mixing->ground.net.net_m2, is_known(density) ? "given" : "unknown");
        return failure_remedy(why, "Give --density or --total, or look at: spinney distances FILE --plot %s", mixing->ground.plot.code);
    }
    struct mix_settings *s = &mixing->settings;
    *s = mix_settings_dense(total);
    enum outcome outcome = share_read(in, "canopy", &s->layer[LAYER_CANOPY], why);
    if (outcome == OUTCOME_OK)
        outcome = share_read(in, "subcanopy", &s->layer[LAYER_SUBCANOPY], why);
    if (outcome == OUTCOME_OK)
        outcome = share_read(in, "shrub", &s->layer[LAYER_SHRUB], why);
    if (outcome == OUTCOME_OK)
        outcome = share_read(in, "pioneer", &s->pioneer, why);
    s->yields = defaults_of(in);
    s->tall_most = per_cent(in, "tall_most", s->tall_most);
    s->species_most = per_cent(in, "species_most", s->species_most);
    s->genus_most = per_cent(in, "genus_most", s->genus_most);
    s->family_most = per_cent(in, "family_most", s->family_most);
    s->pest_most = per_cent(in, "pest_most", s->pest_most);
    s->least_each = option_integer(in, "least_each", s->least_each);
    s->count_least = option_integer(in, "count_least", s->count_least);
    s->count_most = option_integer(in, "count_most", s->count_most);
    s->weight_diversity = option_number(in, "diversity", s->weight_diversity);
    s->seconds = option_number(in, "seconds", 10);
    return outcome;
}

/* Whether a name stands in "A;B;C", through the library's names. A name it does not know is a failure. */
static enum outcome names_read(const struct species_library *library, const char *text, struct arena *arena,
                               const struct species_fact **out, size_t *n, struct failure *why)
{
    char *copy = arena_text(arena, text), *rest = NULL;
    for (char *part = strtok_r(copy, ";,", &rest); part != NULL && *n < 200; part = strtok_r(NULL, ";,", &rest)) {
        struct species_match match;
        part = text_trim(arena, part);
        if (*part == '\0')
            continue;
        enum outcome outcome = species_find(library, part, arena, &match, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        if (match.fact == NULL) {
            fail(why, OUTCOME_DATA, "%s", match.said);
            return failure_remedy(why, "Write the name as the library has it.");
        }
        out[(*n)++] = match.fact;
    }
    return OUTCOME_OK;
}

static bool among(const struct species_fact *fact, const struct species_fact *const *list, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (list[i] == fact)
            return true;
    return false;
}

static void species_put(struct mixing *mixing, const struct species_verdict *verdict, const struct community *community)
{
    struct mix_species *out = &mixing->species[mixing->n];
    const struct species_fact *fact = verdict->fact;
    *out = (struct mix_species){.name = fact->name,
                                .genus = fact->genus,
                                .family = fact->family,
                                .layer = fact->layer,
                                .role = fact->role,
                                .tall = fact->layer == LAYER_CANOPY && is_known(fact->height_most_m) && fact->height_most_m >= 20 &&
                                        fact->role != ROLE_PIONEER,
                                .pests = (const char *const *)fact->pests,
                                .n_pests = fact->n_pests,
                                .fit = verdict->fit.fit,
                                .frequency = unknown_real(),
                                .price = unknown_real(),
                                .stock = INT_UNKNOWN,
                                .health_stop = fact->health == HEALTH_STOP ? fact->health_note : NULL};
    for (size_t i = 0; community != NULL && i < community->n_species; i++)
        if (community->species[i].fact == fact && community->species[i].constancy > 0)
            out->frequency =
                is_known(out->frequency) ? fmax(out->frequency, community->species[i].constancy) : community->species[i].constancy;
    mixing->from[mixing->n++] = verdict;
}

static bool in_community(const struct community *community, const struct species_fact *fact)
{
    for (size_t i = 0; community != NULL && i < community->n_species; i++)
        if (community->species[i].fact == fact && community->species[i].constancy > 0)
            return true;
    return community == NULL;
}

/* Species wanted although they fit poorly are judged anew with fit left out: what is not native, not healthy or too near
 * something stays out. */
static enum outcome insist(const json_t *in, struct mixing *mixing, struct arena *arena, struct failure *why)
{
    const struct species_fact *wanted[200];
    struct species_verdict *again = NULL;
    struct species_place place = mixing->place;
    size_t n_wanted = 0, n = 0;
    enum outcome outcome = names_read(&mixing->library, option_text(in, "insist", ""), arena, wanted, &n_wanted, why);
    if (outcome != OUTCOME_OK || n_wanted == 0)
        return outcome;
    place.fit_least = 0;
    outcome = species_filter(&mixing->library, &place, arena, &again, &n, why);
    mixing->insisted = arena_array(arena, n_wanted, sizeof *mixing->insisted);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        struct species_verdict *verdict = &mixing->verdicts[i];
        bool poor = verdict->answer == ANSWER_OUT && again[i].answer != ANSWER_OUT;
        if (!poor || !among(verdict->fact, wanted, n_wanted))
            continue;
        again[i].why_in = arena_print(arena, "Wanted although it fits poorly: %s", verdict->why_out);
        *verdict = again[i];
        mixing->insisted[mixing->n_insisted++] = verdict;
    }
    return outcome;
}

static enum outcome candidates(const json_t *in, struct mixing *mixing, struct arena *arena, struct failure *why)
{
    const struct species_fact *only[200], *without[200];
    size_t n_only = 0, n_without = 0;
    const struct community *community = mixing->community == NULL ? NULL : species_community(&mixing->library, mixing->community);
    enum outcome outcome = names_read(&mixing->library, option_text(in, "only", ""), arena, only, &n_only, why);
    if (outcome == OUTCOME_OK)
        outcome = names_read(&mixing->library, option_text(in, "without", ""), arena, without, &n_without, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    mixing->n = mixing->n_wishes = 0;
    mixing->species = arena_array(arena, mixing->n_verdicts, sizeof *mixing->species);
    mixing->from = arena_array(arena, mixing->n_verdicts, sizeof *mixing->from);
    for (size_t i = 0; i < mixing->n_verdicts; i++) {
        const struct species_verdict *verdict = &mixing->verdicts[i];
        bool woody = verdict->fact->layer == LAYER_CANOPY || verdict->fact->layer == LAYER_SUBCANOPY || verdict->fact->layer == LAYER_SHRUB;
        bool asked = among(verdict->fact, only, n_only);
        bool good = verdict->answer == ANSWER_IN || (verdict->answer == ANSWER_ASK && (option_flag(in, "ask_too") || asked));
        if (!asked && n_only == 0 && !mixing->widened && option_text(in, "like", NULL) == NULL && !in_community(community, verdict->fact))
            continue;
        if (!woody || among(verdict->fact, without, n_without) || (n_only > 0 && !asked) || !good)
            continue;
        species_put(mixing, verdict, community);
    }
    size_t waiting = 0;
    for (size_t i = 0; i < mixing->n_verdicts; i++)
        waiting += mixing->verdicts[i].answer == ANSWER_ASK && in_community(community, mixing->verdicts[i].fact);
    if (mixing->n == 0 && waiting > 0) {
        fail(why, OUTCOME_DATA, "No species can be chosen for plot %s yet: of %zu species something that decides is not known.",
             mixing->ground.plot.code, waiting);
        return failure_remedy(
            why, "Survey the ground first (spinney ground FILE %s says what is missing), or take them all the same with --ask-too.",
            mixing->ground.site.code);
    }
    if (mixing->n == 0) {
        fail(why, OUTCOME_DATA, "No woody species of %s is left for plot %s.", mixing->library.name, mixing->ground.plot.code);
        return failure_remedy(why, "See why with: spinney species FILE --site %s --all", mixing->ground.site.code);
    }
    return OUTCOME_OK;
}

/* Without its full stop, to stand inside another sentence. */
static const char *reason_trim(const char *reason, struct arena *arena)
{
    char *out = arena_text(arena, reason);
    size_t n = strlen(out);
    while (n > 0 && out[n - 1] == '.')
        out[--n] = '\0';
    return out;
}

/* Species that share the same narrow ground must fit on it together. Where they do not, their greatest numbers come down
 * in proportion; true if any did. */
static bool ground_tighten(struct mixing *mixing)
{
    double density = (double)mixing->settings.total / mixing->ground.net.net_m2;
    bool changed = false;
    for (size_t i = 0; i < mixing->n; i++) {
        double room = 0.8 * mixing->ground_m2[i] * density, wanted = 0;
        if (mixing->ground_m2[i] > 0.999 * mixing->ground.net.net_m2)
            continue;
        for (size_t j = 0; j < mixing->n; j++)
            if (mixing->ground_m2[j] <= mixing->ground_m2[i])
                wanted += (double)mixing->result.plants[j];
        if (wanted <= room)
            continue;
        for (size_t k = 0; k < mixing->n_wishes; k++) {
            struct mix_wish *wish = &mixing->wishes[k];
            int64_t now = mixing->result.plants[wish->species];
            if (wish->least != INT_UNKNOWN || now == 0 || mixing->ground_m2[wish->species] > mixing->ground_m2[i])
                continue;
            wish->most = (int64_t)floor((double)now * room / wanted);
            if (wish->most < mixing->settings.least_each)
                wish->most = 0;
            changed = true;
        }
        if (changed)
            return true;
    }
    return false;
}

/* Species that may not stand everywhere get no more plants than their ground holds. */
static enum outcome ground_wishes(struct mixing *mixing, struct arena *arena, struct failure *why)
{
    struct site_plant *plants = arena_array(arena, mixing->n, sizeof *plants);
    struct site_species_zone *zones = NULL;
    size_t n = 0;
    for (size_t i = 0; i < mixing->n; i++)
        plants[i] = site_plant_of(mixing->from[i]->fact, mixing->species[i].name, mixing->species[i].layer);
    enum outcome outcome = site_species_zones(&mixing->ground.facts, plants, mixing->n, arena, &zones, &n, why);
    mixing->wishes = arena_array(arena, mixing->n + 200, sizeof *mixing->wishes);
    double density = (double)mixing->settings.total / mixing->ground.net.net_m2;
    mixing->ground_m2 = arena_array(arena, mixing->n, sizeof *mixing->ground_m2);
    for (size_t i = 0; outcome == OUTCOME_OK && i < mixing->n; i++) {
        mixing->ground_m2[i] = mixing->ground.net.net_m2;
        struct shape left = mixing->ground.net.plantable;
        const char *reason = NULL;
        for (size_t j = 0; outcome == OUTCOME_OK && j < n; j++) {
            if (!zones[j].forbids[i])
                continue;
            struct shape rest;
            outcome = shape_subtract(&left, &zones[j].ground, arena, &rest, why);
            left = rest;
            reason = zones[j].why;
        }
        double ground_m2 = outcome == OUTCOME_OK ? shape_area_m2(&left) : 0;
        mixing->ground_m2[i] = ground_m2;
        if (reason == NULL || ground_m2 > 0.999 * mixing->ground.net.net_m2)
            continue;
        /* of the places on its ground it takes at most every third, so that a layout remains to be found */
        int64_t most = (int64_t)floor(ground_m2 * density / 3);
        mixing->wishes[mixing->n_wishes++] = (struct mix_wish){
            i, INT_UNKNOWN, most, arena_print(arena, "only %.0f m² are far enough: %s", ground_m2, reason_trim(reason, arena))};
    }
    return outcome;
}

/* "Quercus robur=30;Salix caprea=0" */
static enum outcome wishes_read(const json_t *in, struct mixing *mixing, struct arena *arena, struct failure *why)
{
    char *copy = arena_text(arena, option_text(in, "fix", "")), *rest = NULL;
    size_t room = mixing->n_wishes + 200;
    for (char *part = strtok_r(copy, ";", &rest); part != NULL && mixing->n_wishes < room; part = strtok_r(NULL, ";", &rest)) {
        char *equals = strchr(part, '=');
        int64_t plants = 0;
        const struct species_fact *fact[1];
        size_t n = 0;
        if (equals == NULL)
            return fail(why, OUTCOME_USAGE, "fix: \"%.80s\" is not NAME=N.", part);
        *equals = '\0';
        if (!integer_read(equals + 1, &plants) || plants < 0)
            return fail(why, OUTCOME_USAGE, "fix: \"%.80s\" is no number of plants.", equals + 1);
        enum outcome outcome = names_read(&mixing->library, part, arena, fact, &n, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        size_t at = 0;
        while (at < mixing->n && mixing->from[at]->fact != fact[0])
            at++;
        if (at == mixing->n && plants == 0)
            continue;
        if (at == mixing->n) {
            fail(why, OUTCOME_DATA, "%s is not among the species that may be used on plot %s.", fact[0]->name, mixing->ground.plot.code);
            return failure_remedy(why, "See why with: spinney species FILE --site %s --all", mixing->ground.site.code);
        }
        mixing->wishes[mixing->n_wishes++] = (struct mix_wish){at, plants, plants, "fixed by the planner"};
    }
    mixing->settings.wishes = mixing->wishes;
    mixing->settings.n_wishes = mixing->n_wishes;
    return OUTCOME_OK;
}

static enum outcome community_choose(const json_t *in, struct mixing *mixing, struct arena *arena, struct failure *why)
{
    struct community_match *matches = NULL;
    size_t n = 0;
    mixing->community = option_text(in, "community", mixing->ground.plot.community);
    if (mixing->community != NULL) {
        if (species_community(&mixing->library, mixing->community) != NULL)
            return OUTCOME_OK;
        fail(why, OUTCOME_DATA, "The library %s has no community \"%.60s\".", mixing->library.name, mixing->community);
        return failure_remedy(why, "List them with: spinney communities FILE");
    }
    enum outcome outcome =
        species_rank_communities(&mixing->library, &mixing->place.ground, mixing->place.region, NULL, arena, &matches, &n, why);
    if (outcome == OUTCOME_OK && n > 0)
        mixing->community = matches[0].community->id;
    return outcome;
}

/* Aim at the shares of another plot's chosen plan instead of the community's. */
static enum outcome like_plot(const struct job_context *context, const json_t *in, struct mixing *mixing, struct arena *arena,
                              struct failure *why)
{
    struct plot other;
    struct plan plan;
    struct mix_line *lines = NULL;
    size_t n = 0;
    if (option_text(in, "like", NULL) == NULL)
        return OUTCOME_OK;
    enum outcome outcome = load_plot(context->store, option_text(in, "like", NULL), arena, &other, NULL, why);
    if (outcome == OUTCOME_OK)
        outcome = load_plan(context->store, &other, 0, arena, &plan, why);
    if (outcome == OUTCOME_OK)
        outcome = plan_parts_load(context->store, plan.id, arena, &lines, &n, NULL, NULL, NULL, NULL, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    size_t kept = 0;
    for (size_t i = 0; i < mixing->n; i++) {
        for (size_t j = 0; j < n; j++) {
            if (lines[j].plants > 0 && text_same(lines[j].species, mixing->species[i].name)) {
                mixing->species[kept] = mixing->species[i];
                mixing->from[kept] = mixing->from[i];
                mixing->species[kept++].frequency = (double)lines[j].plants;
                break;
            }
        }
    }
    mixing->n = kept;
    mixing->settings.least_each = 1;
    mixing->settings.count_least = INT_UNKNOWN;
    return kept > 0 ? OUTCOME_OK : fail(why, OUTCOME_DATA, "None of the species of plot %s may be used here.", other.code);
}

static enum outcome mix_store(const struct job_context *context, const json_t *in, struct mixing *mixing, struct plan *plan,
                              struct arena *arena, struct failure *why)
{
    struct mix_line *lines = arena_array(arena, mixing->n, sizeof *lines);
    size_t n = 0;
    enum outcome outcome = plan_next(context->store, &mixing->ground.plot, arena, plan, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    char *settings = json_dumps(in, JSON_COMPACT | JSON_SORT_KEYS);
    plan->seed = option_integer(in, "seed", mixing->ground.programme.seed);
    plan->settings = arena_text(arena, settings);
    plan->proof = mixing->result.proof;
    plan->net_area_m2 = mixing->ground.net.net_m2;
    plan->made_on = context->today;
    free(settings);
    outcome = store_begin(
        context->store, context->author,
        arena_print(arena, "mix of plot %s/%s, plan %lld", mixing->ground.site.code, mixing->ground.plot.code, (long long)plan->version),
        why);
    if (outcome != OUTCOME_OK)
        return outcome;
    outcome = store_add(context->store, NOUN_PLAN, plan, 1, why);
    for (size_t i = 0; i < mixing->n; i++) {
        if (mixing->result.plants[i] == 0)
            continue;
        noun_init(NOUN_MIX_LINE, &lines[n]);
        lines[n].plan_id = plan->id;
        lines[n].species = mixing->species[i].name;
        lines[n].layer = mixing->species[i].layer;
        lines[n].plants = mixing->result.plants[i];
        lines[n++].reason = mixing->from[i]->why_in;
    }
    if (outcome == OUTCOME_OK)
        outcome = store_add(context->store, NOUN_MIX_LINE, lines, n, why);
    if (outcome == OUTCOME_OK)
        outcome = plan_choose(context->store, plan, arena, why);
    if (outcome == OUTCOME_OK && !text_same(mixing->ground.plot.community, mixing->community)) {
        mixing->ground.plot.community = mixing->community;
        outcome = store_change(context->store, NOUN_PLOT, &mixing->ground.plot, why);
    }
    outcome = store_end(context->store, outcome, why);
    return outcome;
}

static void mix_figure(json_t *section, const struct mixing *mixing, struct arena *arena)
{
    struct figure_bar *bars = arena_array(arena, mixing->n, sizeof *bars);
    size_t n = 0;
    for (enum layer layer = LAYER_CANOPY; layer < LAYER_COUNT; layer++)
        for (size_t i = 0; i < mixing->n; i++)
            if (mixing->species[i].layer == layer && mixing->result.plants[i] > 0)
                bars[n++] = (struct figure_bar){.label = mixing->species[i].name,
                                                .label_italic = true,
                                                .value = (double)mixing->result.plants[i],
                                                .layer = (int)layer,
                                                .aim_low = unknown_real(),
                                                .aim_high = unknown_real()};
    struct figure_bars figure = {
        .head = {.title = arena_print(arena, "Mix of plot %s/%s", mixing->ground.site.code, mixing->ground.plot.code), .x_title = "plants"},
        .bars = bars,
        .n_bars = n,
        .unit = "",
        .by_layer = true};
    section_drawing(section, figure_bars(&figure));
}

static void mix_tables(json_t *out, const struct mixing *mixing)
{
    json_t *section = note_section(out, "Species and numbers"), *table = section_table(section), *list = json_array();
    table_column(table, "species", "species", "", -1);
    table_column(table, "common", "English name", "", -1);
    table_column(table, "layer", "layer", "", -1);
    table_column(table, "plants", "plants", "", -1);
    table_column(table, "share", "share", "%", 1);
    table_column(table, "fit", "fit, 0–1", "", 2);
    table_column(table, "why", "why it is in", "", -1);
    for (enum layer layer = LAYER_CANOPY; layer < LAYER_COUNT; layer++) {
        for (size_t i = 0; i < mixing->n; i++) {
            if (mixing->species[i].layer != layer || mixing->result.plants[i] == 0)
                continue;
            json_t *row = table_row(table);
            row_text(row, mixing->species[i].name);
            row_text(row, mixing->from[i]->fact->common_name);
            row_text(row, word_of(WORDS_LAYER, (int)layer));
            row_integer(row, mixing->result.plants[i]);
            row_number(row, 100.0 * (double)mixing->result.plants[i] / (double)mixing->settings.total);
            row_number(row, mixing->species[i].fit);
            row_text(row, mixing->from[i]->why_in);
            json_array_append_new(list, json_pack("{s:s, s:s, s:I}", "species", mixing->species[i].name, "layer",
                                                  word_of(WORDS_LAYER, (int)layer), "plants", (json_int_t)mixing->result.plants[i]));
        }
    }
    json_object_set_new(note_data(out), "mix", list);
    struct arena arena = {0};
    mix_figure(section, mixing, &arena);
    arena_clear(&arena);
}

static void conflict_table(json_t *out, const struct mix_result *result)
{
    json_t *table =
        section_table(note_section(out, result->conflict_smallest ? "The fewest wishes that conflict" : "Wishes that conflict"));
    table_column(table, "wish", "wish", "", -1);
    table_column(table, "relax", "what would do", "", -1);
    for (size_t i = 0; i < result->n_conflict; i++) {
        json_t *row = table_row(table);
        row_text(row, result->conflict[i].wish);
        row_text(row, result->conflict[i].relax);
    }
}

static void relaxed_table(json_t *out, const struct mix_result *result)
{
    if (result->n_relaxed == 0)
        return;
    json_t *section = note_section(out, "Usual wishes that gave way"), *table = section_table(section), *list = json_array();
    section_text(section,
                 "%s These are only usual figures (common practice). To hold one, give it yourself: what you ask for is never relaxed.",
                 result->relaxed_words);
    table_column(table, "wish", "usual wish", "", -1);
    table_column(table, "to", "here", "", -1);
    for (size_t i = 0; i < result->n_relaxed; i++) {
        json_t *row = table_row(table);
        row_text(row, result->relaxed[i].wish);
        row_text(row, result->relaxed[i].to);
        json_array_append_new(list, json_pack("{s:s, s:f, s:o}", "wish", result->relaxed[i].wish, "asked", result->relaxed[i].asked, "to",
                                              is_known(result->relaxed[i].enough) ? json_real(result->relaxed[i].enough) : json_null()));
    }
    json_object_set_new(note_data(out), "relaxed", list);
}

static json_t *mix_note(const struct mixing *mixing, const struct plan *plan, bool stored)
{
    json_t *out = note_new();
    bool impossible = mixing->result.state == MIX_IMPOSSIBLE || mixing->result.state == MIX_NOTHING;
    const char *code = mixing->ground.plot.code, *relaxed = mixing->result.relaxed_words;
    if (impossible)
        note_answer(out, "No mix for %s/%s: %s", mixing->ground.site.code, code, mixing->result.proof);
    else if (stored)
        note_answer(out, "Plan %lld of %s/%s: %lld plants of %lld species on %.1f m². %s%s%s", (long long)plan->version,
                    mixing->ground.site.code, code, (long long)mixing->settings.total, (long long)mixing->result.species_used,
                    mixing->ground.net.net_m2, mixing->result.proof, relaxed == NULL ? "" : " ", relaxed == NULL ? "" : relaxed);
    else
        note_answer(out, "%s/%s: %lld plants of %lld species on %.1f m². %s%s%s", mixing->ground.site.code, code,
                    (long long)mixing->settings.total, (long long)mixing->result.species_used, mixing->ground.net.net_m2,
                    mixing->result.proof, relaxed == NULL ? "" : " ", relaxed == NULL ? "" : relaxed);
    if (impossible)
        conflict_table(out, &mixing->result);
    else
        mix_tables(out, mixing);
    if (!impossible)
        relaxed_table(out, &mixing->result);
    for (size_t i = 0; i < mixing->n_wishes; i++)
        if (mixing->wishes[i].least == INT_UNKNOWN)
            note_unknown(out, "%s: at most %lld plants, %s.", mixing->species[mixing->wishes[i].species].name,
                         (long long)mixing->wishes[i].most, mixing->wishes[i].reason);
    if (impossible && !mixing->widened)
        note_unknown(out, "Only species of the community were offered; --widen offers all that fit.");
    for (size_t i = 0; i < mixing->n_insisted; i++)
        note_unknown(out, "%s: %s", mixing->insisted[i]->fact->name, mixing->insisted[i]->why_in);
    if (mixing->place.region == NULL)
        note_unknown(out, "The region of site %s is not set, so nobody has checked what is native here.", mixing->ground.site.code);
    if (mixing->ground.site.clay == CLAY_STATE_UNKNOWN)
        note_unknown(out, "Shrinkable clay: not checked.");
    if (!is_known(mixing->place.ground.ph.value))
        note_unknown(out, "pH: not measured, so no species was judged by it.");
    if (!is_known(mixing->place.ground.moisture.value))
        note_unknown(out, "Moisture: mottles, standing water and infiltration were not looked at.");
    if (mixing->community != NULL)
        note_source(out, "Composition aimed at: community %s of the library %s.", mixing->community, mixing->library.name);
    note_source(out, "Solved by %s.", mixing->result.solver);
    json_t *data = note_data(out);
    json_object_set_new(data, "total", json_integer(mixing->settings.total));
    json_object_set_new(data, "species_used", json_integer(mixing->result.species_used));
    json_object_set_new(data, "gap", json_real(is_known(mixing->result.gap) ? mixing->result.gap : -1));
    json_object_set_new(data, "possible", json_boolean(!impossible));
    json_object_set_new(data, "proven", json_boolean(mixing->result.state == MIX_BEST));
    if (impossible)
        json_object_set_new(data, "holds", json_false());
    if (stored)
        json_object_set_new(data, "plan", json_integer(plan->version));
    return out;
}

static enum outcome mix_try(const struct job_context *context, const json_t *in, struct mixing *mixing, struct arena *arena,
                            struct failure *why)
{
    enum outcome outcome = candidates(in, mixing, arena, why);
    if (outcome == OUTCOME_OK)
        outcome = like_plot(context, in, mixing, arena, why);
    if (outcome == OUTCOME_OK)
        outcome = ground_wishes(mixing, arena, why);
    if (outcome == OUTCOME_OK)
        outcome = wishes_read(in, mixing, arena, why);
    for (int round = 0; outcome == OUTCOME_OK && round < 12; round++) {
        outcome = mix_solve(mixing->species, mixing->n, &mixing->settings, arena, context->progress, &mixing->result, why);
        bool found = outcome == OUTCOME_OK && (mixing->result.state == MIX_BEST || mixing->result.state == MIX_FOUND);
        if (!found || !ground_tighten(mixing))
            break;
    }
    return outcome;
}

static enum outcome mix_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct mixing mixing = {.n = 0};
    struct plan plan = {.version = 0};
    enum outcome outcome = plot_ground_load(context, option_text(in, "plot", NULL), &arena, &mixing.ground, why);
    if (outcome == OUTCOME_OK)
        outcome = library_load(context->store, option_text(in, "library", mixing.ground.plot.library), &arena, &mixing.library, why);
    if (outcome == OUTCOME_OK && mixing.ground.site.region != NULL)
        outcome = species_library_suits(&mixing.library, mixing.ground.site.region, why);
    if (outcome == OUTCOME_OK)
        outcome = place_load(context->store, &mixing.ground.facts, &mixing.ground.outline, &arena, &mixing.place, why);
    if (outcome == OUTCOME_OK)
        outcome = community_choose(in, &mixing, &arena, why);
    if (outcome == OUTCOME_OK) {
        mixing.place.community = mixing.community;
        outcome = species_filter(&mixing.library, &mixing.place, &arena, &mixing.verdicts, &mixing.n_verdicts, why);
    }
    if (outcome == OUTCOME_OK)
        outcome = insist(in, &mixing, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = settings_read(in, &mixing, why);
    if (outcome == OUTCOME_OK) {
        mixing.widened = option_flag(in, "widen");
        outcome = mix_try(context, in, &mixing, &arena, why);
    }
    bool found = outcome == OUTCOME_OK && (mixing.result.state == MIX_BEST || mixing.result.state == MIX_FOUND);
    bool stored = found && !option_flag(in, "try");
    if (stored)
        outcome = mix_store(context, in, &mixing, &plan, &arena, why);
    if (outcome == OUTCOME_OK)
        *note = mix_note(&mixing, &plan, stored);
    arena_clear(&arena);
    return outcome;
}

const struct job job_mix = {
    .name = "mix",
    .summary = "which species and how many for a plot, proven best or with its gap",
    .about =
        "Chooses whole numbers of plants by a mixed-integer programme: layer shares, caps per species, genus, family and shared pest, "
        "least "
        "count per species used, what the constraints forbid, near the composition of the reference community. Wishes that cannot be met "
        "together are named, with which to relax. The result is a new plan beside those that are there.",
    .example = "spinney mix wood.gpkg LK/D1 --count-least 18 --species-most 12",
    .access = JOB_WRITES,
    .options = mix_options,
    .n_options = sizeof mix_options / sizeof *mix_options,
    .bare = mix_bare,
    .run = mix_run,
};
