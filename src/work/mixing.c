/* SPDX-License-Identifier: GPL-3.0-or-later
 * What a mix is made from: the options read, the species that may stand there, what the ground leaves them. */
#include "work/mixing.h"
#include "work/releves_load.h"
#include <math.h>
#include <string.h>

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
enum outcome mixing_names(const struct species_library *library, const char *text, struct arena *arena, const struct species_fact **out,
                          size_t *n, struct failure *why)
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

void mixing_put(struct mixing *mixing, const struct species_verdict *verdict)
{
    struct mix_species *out = &mixing->species[mixing->n];
    const struct species_fact *fact = verdict->fact;
    const struct community *community = mixing->community == NULL ? NULL : species_community(&mixing->library, mixing->community);
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
    enum outcome outcome = mixing_names(&mixing->library, option_text(in, "insist", ""), arena, wanted, &n_wanted, why);
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
    enum outcome outcome = mixing_names(&mixing->library, option_text(in, "only", ""), arena, only, &n_only, why);
    if (outcome == OUTCOME_OK)
        outcome = mixing_names(&mixing->library, option_text(in, "without", ""), arena, without, &n_without, why);
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
        mixing_put(mixing, verdict);
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
bool mixing_tighten(struct mixing *mixing)
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
enum outcome mixing_ground(struct mixing *mixing, struct arena *arena, struct failure *why)
{
    struct site_plant *plants = arena_array(arena, mixing->n, sizeof *plants);
    struct site_species_zone *zones = NULL;
    size_t n = 0;
    for (size_t i = 0; i < mixing->n; i++)
        plants[i] = site_plant_of(mixing->from[i]->fact, mixing->species[i].name, mixing->species[i].layer);
    enum outcome outcome = site_species_zones(&mixing->ground.facts, plants, mixing->n, arena, &zones, &n, why);
    mixing->wishes = arena_array(arena, mixing->n + 200, sizeof *mixing->wishes);
    mixing->n_wishes = 0;
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
    mixing->settings.wishes = mixing->wishes;
    mixing->settings.n_wishes = mixing->n_wishes;
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
        enum outcome outcome = mixing_names(&mixing->library, part, arena, fact, &n, why);
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

static enum outcome community_choose(const struct job_context *context, const json_t *in, struct mixing *mixing, struct arena *arena,
                                     struct failure *why)
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
    struct community own;
    size_t stands = 0;
    enum outcome outcome = releves_load(context->store, mixing->ground.site.id, &mixing->library, arena, &own, &stands, NULL, NULL, why);
    if (outcome == OUTCOME_OK)
        outcome = species_rank_communities(&mixing->library, &mixing->place.ground, mixing->place.region, stands > 0 ? &own : NULL, arena,
                                           &matches, &n, why);
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

enum outcome mixing_store(const struct job_context *context, const json_t *in, struct mixing *mixing, struct plan *plan, const char *note,
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
    plan->proof = mixing->result.relaxed_words == NULL ? mixing->result.proof
                                                       : arena_print(arena, "%s %s", mixing->result.proof, mixing->result.relaxed_words);
    plan->net_area_m2 = mixing->ground.net.net_m2;
    plan->made_on = context->today;
    plan->note = note;
    free(settings);
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
    return outcome;
}

enum outcome mixing_species(const struct job_context *context, const json_t *in, struct mixing *mixing, struct arena *arena,
                            struct failure *why)
{
    enum outcome outcome = candidates(in, mixing, arena, why);
    if (outcome == OUTCOME_OK)
        outcome = like_plot(context, in, mixing, arena, why);
    if (outcome == OUTCOME_OK)
        outcome = mixing_ground(mixing, arena, why);
    return outcome == OUTCOME_OK ? wishes_read(in, mixing, arena, why) : outcome;
}

enum outcome mixing_solve(const struct job_context *context, struct mixing *mixing, struct arena *arena, struct failure *why)
{
    enum outcome outcome = OUTCOME_OK;
    for (int round = 0; outcome == OUTCOME_OK && round < 12; round++) {
        outcome = mix_solve(mixing->species, mixing->n, &mixing->settings, arena, context->progress, &mixing->result, why);
        bool found = outcome == OUTCOME_OK && (mixing->result.state == MIX_BEST || mixing->result.state == MIX_FOUND);
        if (!found || !mixing_tighten(mixing))
            break;
    }
    return outcome;
}

enum outcome mixing_load(const struct job_context *context, const char *plot, const json_t *in, struct arena *arena, struct mixing *out,
                         struct failure *why)
{
    *out = (struct mixing){.n = 0};
    enum outcome outcome = plot_ground_load(context, plot, arena, &out->ground, why);
    if (outcome == OUTCOME_OK)
        outcome = library_load(context->store, option_text(in, "library", out->ground.plot.library), arena, &out->library, why);
    if (outcome == OUTCOME_OK && out->ground.site.region != NULL)
        outcome = species_library_suits(&out->library, out->ground.site.region, why);
    if (outcome == OUTCOME_OK)
        outcome = place_load(context->store, &out->ground.facts, &out->ground.outline, arena, &out->place, why);
    if (outcome == OUTCOME_OK)
        outcome = community_choose(context, in, out, arena, why);
    if (outcome == OUTCOME_OK) {
        out->place.community = out->community;
        outcome = species_filter(&out->library, &out->place, arena, &out->verdicts, &out->n_verdicts, why);
    }
    if (outcome == OUTCOME_OK)
        outcome = insist(in, out, arena, why);
    out->widened = option_flag(in, "widen");
    return outcome == OUTCOME_OK ? settings_read(in, out, why) : outcome;
}
