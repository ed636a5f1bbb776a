/* SPDX-License-Identifier: GPL-3.0-or-later
 * What a recipe looks at, measured from the rows; steps written from it and held against it. */
#include "exchange/inside.h"
#include "exchange/recipe.h"
#include <math.h>
#include <string.h>

/* What is looked at. A topic of a plot is asked of every dense plot, one of a site once. */
struct topic {
    const char *name, *unit, *words;
    enum step_class class;
    bool of_site;
    double (*measure)(const struct exchange_set *set, const struct site *site, const struct plot *plot);
};

static const struct preparation *preparation_of(const struct exchange_set *set, const struct plot *plot)
{
    return plot->preparation_id == 0 ? NULL : exchange_find(set, NOUN_PREPARATION, plot->preparation_id);
}

static double loosened(const struct exchange_set *set, const struct site *site, const struct plot *plot)
{
    (void)site;
    const struct preparation *p = preparation_of(set, plot);
    return p == NULL ? unknown_real() : p->loosened_depth_m;
}

static double compost(const struct exchange_set *set, const struct site *site, const struct plot *plot)
{
    (void)site;
    const struct preparation *p = preparation_of(set, plot);
    return p == NULL ? unknown_real() : p->compost_depth_m;
}

static double mulch(const struct exchange_set *set, const struct site *site, const struct plot *plot)
{
    (void)site;
    const struct preparation *p = preparation_of(set, plot);
    return p == NULL ? unknown_real() : p->mulch_depth_m;
}

/* Plants of the first planting on the plot; what was planted, not what was foreseen. */
static size_t first_plants(const struct exchange_set *set, const struct plot *plot, const char **species, size_t room, size_t *n_species)
{
    const struct plant *plants = set->of[NOUN_PLANT].rows;
    size_t n = 0;
    *n_species = 0;
    for (size_t i = 0; i < set->of[NOUN_PLANT].n; i++) {
        if (plants[i].plot_id != plot->id || plants[i].origin != ORIGIN_FIRST_PLANTING)
            continue;
        n++;
        size_t at = 0;
        while (at < *n_species && !text_same(species[at], plants[i].species))
            at++;
        if (at == *n_species && at < room)
            species[(*n_species)++] = plants[i].species;
    }
    return n;
}

static double density(const struct exchange_set *set, const struct site *site, const struct plot *plot)
{
    (void)site;
    const char *species[200];
    size_t n_species = 0, n = first_plants(set, plot, species, 200, &n_species);
    return n == 0 || !is_known(plot->net_area_m2) || plot->net_area_m2 <= 0 ? unknown_real() : (double)n / plot->net_area_m2;
}

static double species_count(const struct exchange_set *set, const struct site *site, const struct plot *plot)
{
    (void)site;
    const char *species[200];
    size_t n_species = 0, n = first_plants(set, plot, species, 200, &n_species);
    return n == 0 ? unknown_real() : (double)n_species;
}

static double layers(const struct exchange_set *set, const struct site *site, const struct plot *plot)
{
    (void)site;
    const struct plant *plants = set->of[NOUN_PLANT].rows;
    bool there[LAYER_COUNT] = {false};
    double n = 0;
    bool any = false;
    for (size_t i = 0; i < set->of[NOUN_PLANT].n; i++)
        if (plants[i].plot_id == plot->id && plants[i].origin == ORIGIN_FIRST_PLANTING && plants[i].layer > 0) {
            any = true;
            n += !there[plants[i].layer];
            there[plants[i].layer] = true;
        }
    return any ? n : unknown_real();
}

static double weeks_to_census(const struct exchange_set *set, const struct site *site, const struct plot *plot)
{
    const struct visit *visits = set->of[NOUN_VISIT].rows;
    double weeks = unknown_real();
    for (size_t i = 0; i < set->of[NOUN_VISIT].n && plot->planted_on != DATE_UNKNOWN; i++) {
        bool here = visits[i].site_id == site->id && (visits[i].plot_id == 0 || visits[i].plot_id == plot->id);
        if (here && visits[i].kind == VISIT_KIND_AS_PLANTED_CENSUS && visits[i].from_on >= plot->planted_on)
            weeks = fmin(weeks, (visits[i].from_on - plot->planted_on) / 7.0);
    }
    return weeks;
}

static double waterings(const struct exchange_set *set, const struct site *site, const struct plot *plot)
{
    (void)site;
    const struct care_event *events = set->of[NOUN_CARE_EVENT].rows;
    double n = 0;
    bool any = false;
    for (size_t i = 0; i < set->of[NOUN_CARE_EVENT].n; i++) {
        bool first_year =
            plot->planted_on != DATE_UNKNOWN && events[i].done_on >= plot->planted_on && events[i].done_on < plot->planted_on + 365;
        if (events[i].plot_id != plot->id || !first_year)
            continue;
        any = true;
        n += events[i].kind == CARE_KIND_WATERING && events[i].state == DONE_STATE_DONE;
    }
    return any ? n : unknown_real();
}

static double comparison_plots(const struct exchange_set *set, const struct site *site, const struct plot *plot)
{
    (void)plot;
    const struct plot *plots = set->of[NOUN_PLOT].rows;
    double n = 0;
    for (size_t i = 0; i < set->of[NOUN_PLOT].n; i++)
        n += plots[i].site_id == site->id && (plots[i].regime == REGIME_CONVENTIONAL || plots[i].regime == REGIME_SPARSE_PREPARED);
    return n;
}

static double by_lot(const struct exchange_set *set, const struct site *site, const struct plot *plot)
{
    (void)plot;
    const struct allocation *draws = set->of[NOUN_ALLOCATION].rows;
    for (size_t i = 0; i < set->of[NOUN_ALLOCATION].n; i++) {
        const struct comparison *comparison = exchange_find(set, NOUN_COMPARISON, draws[i].comparison_id);
        if (comparison != NULL && comparison->site_id == site->id)
            return draws[i].method == ALLOCATION_METHOD_DRAWN_BY_LOT;
    }
    return unknown_real();
}

static double rules_locked(const struct exchange_set *set, const struct site *site, const struct plot *plot)
{
    (void)plot;
    const struct protocol *rules = set->of[NOUN_PROTOCOL].rows;
    const struct plot *plots = set->of[NOUN_PLOT].rows;
    int32_t planted = DATE_UNKNOWN;
    for (size_t i = 0; i < set->of[NOUN_PLOT].n; i++)
        if (plots[i].site_id == site->id && plots[i].planted_on != DATE_UNKNOWN &&
            (planted == DATE_UNKNOWN || plots[i].planted_on < planted))
            planted = plots[i].planted_on;
    for (size_t i = 0; i < set->of[NOUN_PROTOCOL].n; i++)
        if (rules[i].locked_on != DATE_UNKNOWN && (planted == DATE_UNKNOWN || rules[i].locked_on <= planted))
            return 1;
    return 0;
}

static double checked(const struct exchange_set *set, const struct site *site, enum check_topic topic)
{
    const struct site_check *checks = set->of[NOUN_SITE_CHECK].rows;
    for (size_t i = 0; i < set->of[NOUN_SITE_CHECK].n; i++)
        if (checks[i].site_id == site->id && checks[i].topic == topic &&
            (checks[i].state == CHECK_STATE_CLEAR || checks[i].state == CHECK_STATE_CONSTRAINED))
            return 1;
    return unknown_real(); /* not checked is not a no */
}

static double services_checked(const struct exchange_set *set, const struct site *site, const struct plot *plot)
{
    (void)plot;
    return checked(set, site, CHECK_TOPIC_SERVICES);
}

static double ground_checked(const struct exchange_set *set, const struct site *site, const struct plot *plot)
{
    (void)plot;
    return checked(set, site, CHECK_TOPIC_CONTAMINATION);
}

static double habitat_spared(const struct exchange_set *set, const struct site *site, const struct plot *plot)
{
    (void)plot;
    return checked(set, site, CHECK_TOPIC_OPEN_HABITAT);
}

static double invasive_checked(const struct exchange_set *set, const struct site *site, const struct plot *plot)
{
    (void)plot;
    return checked(set, site, CHECK_TOPIC_INVASIVE_PLANTS);
}

static double autumn_censuses(const struct exchange_set *set, const struct site *site, const struct plot *plot)
{
    (void)plot;
    const struct visit *visits = set->of[NOUN_VISIT].rows;
    double n = 0;
    for (size_t i = 0; i < set->of[NOUN_VISIT].n; i++)
        n += visits[i].site_id == site->id && visits[i].kind == VISIT_KIND_CENSUS;
    return n;
}

/* Trade practice: what makes the wood what it is is core; what the ground decides is adaptable; shortcuts are forbidden. */
static const struct topic topics[] = {
    {"services_checked", NULL, "No digging before the owners of buried services have answered and a competent person has traced them",
     STEP_CLASS_FORBIDDEN, true, services_checked},
    {"contamination_checked", NULL, "No soil moved before the history of the ground was looked up and doubtful ground tested",
     STEP_CLASS_FORBIDDEN, true, ground_checked},
    {"open_habitat_spared", NULL, "No planting on flower-rich or otherwise valuable open ground", STEP_CLASS_FORBIDDEN, true,
     habitat_spared},
    {"invasive_checked", NULL, "No earth moved from ground with invasive plants", STEP_CLASS_FORBIDDEN, true, invasive_checked},
    {"loosened_depth_m", "m", "Loosen compacted ground to this depth; not where it is loose already", STEP_CLASS_ADAPTABLE, false,
     loosened},
    {"compost_depth_m", "m", "Work in this depth of compost, by what the ground lacks", STEP_CLASS_ADAPTABLE, false, compost},
    {"mulch_depth_m", "m", "Cover with this depth of mulch", STEP_CLASS_ADAPTABLE, false, mulch},
    {"density_m2", "1/m2", "Plant so many to the square metre of net area", STEP_CLASS_CORE, false, density},
    {"species_count", NULL, "Mix so many native species of the local reference community", STEP_CLASS_ADAPTABLE, false, species_count},
    {"layers", NULL, "Plant so many height layers", STEP_CLASS_CORE, false, layers},
    {"comparison_plots", NULL, "Plant a comparison plot beside the dense one", STEP_CLASS_CORE, true, comparison_plots},
    {"drawn_by_lot", NULL, "Give the treatments to the pieces of ground by recorded lot", STEP_CLASS_CORE, true, by_lot},
    {"rules_locked", NULL, "Write the rules of judging down before planting", STEP_CLASS_CORE, true, rules_locked},
    {"weeks_to_first_census", "week", "Record every plant within so many weeks of planting", STEP_CLASS_CORE, false, weeks_to_census},
    {"waterings_first_year", NULL, "Water so many times in the first year, the comparison plot alike", STEP_CLASS_ADAPTABLE, false,
     waterings},
    {"censuses", NULL, "Come back for a census each autumn", STEP_CLASS_CORE, true, autumn_censuses},
};
enum { N_TOPICS = sizeof topics / sizeof *topics };

static const struct topic *topic_find(const char *name)
{
    for (size_t i = 0; i < N_TOPICS; i++)
        if (text_same(topics[i].name, name))
            return &topics[i];
    return NULL;
}

static bool dense(const struct plot *plot, int64_t site)
{
    return (site == 0 || plot->site_id == site) && (plot->regime == REGIME_DENSE_PREPARED || plot->regime == REGIME_DENSE_UNPREPARED);
}

/* Limits within which a step still counts as kept. Yes-or-no topics and least counts only have a least; weeks only a most. */
static void limits(struct recipe_step *step, const struct topic *topic)
{
    double slack = topic->class == STEP_CLASS_CORE ? 0.1 : 1.0 / 3;
    bool count = topic->of_site || strcmp(topic->name, "layers") == 0;
    step->least = step->most = unknown_real();
    if (strcmp(topic->name, "weeks_to_first_census") == 0) {
        step->figure = step->most = 4;
    } else if (count) {
        step->figure = strcmp(topic->name, "layers") == 0 ? step->figure : 1;
        step->least = step->figure;
    } else if (is_known(step->figure)) {
        step->least = step->figure * (1 - slack);
        step->most = strcmp(topic->name, "species_count") == 0 || strcmp(topic->name, "waterings_first_year") == 0
                         ? unknown_real()
                         : step->figure * (1 + slack);
    }
}

/* The middle of what the plots did; NaN where none is known. */
static double typical(const struct exchange_set *set, int64_t site, const struct topic *topic)
{
    const struct plot *plots = set->of[NOUN_PLOT].rows;
    double values[200];
    size_t n = 0;
    for (size_t i = 0; i < set->of[NOUN_PLOT].n && n < 200; i++) {
        const struct site *here = exchange_find(set, NOUN_SITE, plots[i].site_id);
        if (!dense(&plots[i], site) || plots[i].regime != REGIME_DENSE_PREPARED || here == NULL)
            continue;
        double value = topic->measure(set, here, &plots[i]);
        if (is_known(value)) {
            size_t at = n++;
            for (; at > 0 && values[at - 1] > value; at--)
                values[at] = values[at - 1];
            values[at] = value;
        }
    }
    return n == 0 ? unknown_real() : n % 2 == 1 ? values[n / 2] : (values[n / 2 - 1] + values[n / 2]) / 2;
}

static void costs_of(const struct exchange_set *set, int64_t site, struct arena *arena, struct recipe_pack *out)
{
    const struct cost_item *items = set->of[NOUN_COST_ITEM].rows;
    const struct programme *programme = exchange_programme(set);
    out->costs = arena_array(arena, set->of[NOUN_COST_ITEM].n + 1, sizeof *out->costs);
    for (size_t i = 0; i < set->of[NOUN_COST_ITEM].n; i++) {
        bool known = false;
        if ((site != 0 && items[i].site_id != site && items[i].site_id != 0) || !is_known(items[i].unit_price))
            continue;
        for (size_t k = 0; k < out->n_costs && !known; k++)
            known = text_same(out->costs[k].item, items[i].item) && out->costs[k].unit_price == items[i].unit_price;
        if (!known)
            out->costs[out->n_costs++] =
                (struct recipe_cost){word_of(WORDS_COST_PHASE, (int)items[i].phase), items[i].item,       items[i].unit,
                                     programme == NULL ? NULL : programme->currency, items[i].unit_price, items[i].price_year};
    }
}

static void rules_of(const struct exchange_set *set, struct arena *arena, struct recipe_pack *out)
{
    static const struct recipe_rule usual[] = {
        {"standoff.buried_service", "Distance that the owners of buried services ask for", "m"},
        {"standoff.building", "Distance of trees from buildings, by the ground they stand on", "m"},
        {"standoff.sight_line", "What must stay low beside roads and crossings, and how low", "m"},
        {"dig.permit", "Who gives the permit to dig, and for how long", NULL},
        {"native.region", "Which region species and seed must come from", NULL},
        {"water.source", "Where water may be taken, by whose leave", NULL},
        {"people.young", "What holds for volunteers under age", NULL},
    };
    const struct local_rule *rules = set->of[NOUN_LOCAL_RULE].rows;
    size_t n = sizeof usual / sizeof *usual;
    out->rules = arena_array(arena, n + set->of[NOUN_LOCAL_RULE].n + 1, sizeof *out->rules);
    memcpy(out->rules, usual, sizeof usual);
    out->n_rules = n;
    for (size_t i = 0; i < set->of[NOUN_LOCAL_RULE].n; i++) {
        bool known = false;
        for (size_t k = 0; k < out->n_rules && !known; k++)
            known = text_same(out->rules[k].topic, rules[i].topic);
        if (!known)
            out->rules[out->n_rules++] = (struct recipe_rule){rules[i].topic, rules[i].words, rules[i].unit};
    }
}

enum outcome recipe_write(const struct exchange_set *set, int64_t site, const char *name, const char *version, const char *words,
                          int32_t today, struct arena *arena, struct recipe_pack *out, struct failure *why)
{
    const struct plot *plots = set->of[NOUN_PLOT].rows;
    const struct protocol *rules = set->of[NOUN_PROTOCOL].rows;
    size_t n_dense = 0;
    for (size_t i = 0; i < set->of[NOUN_PLOT].n; i++)
        n_dense += dense(&plots[i], site) && plots[i].regime == REGIME_DENSE_PREPARED;
    if (n_dense == 0) {
        fail(why, OUTCOME_DATA, "There is no dense prepared plot to write a recipe from.");
        return failure_remedy(why, "Give a site that has one.");
    }
    struct recipe_pack pack = {.name = name, .version = version, .words = words, .made_on = today};
    pack.steps = arena_array(arena, N_TOPICS, sizeof *pack.steps);
    for (size_t i = 0; i < N_TOPICS; i++) {
        struct recipe_step *step = &pack.steps[pack.n_steps];
        noun_init(NOUN_RECIPE_STEP, step);
        step->figure = topics[i].of_site ? 1 : typical(set, site, &topics[i]);
        limits(step, &topics[i]);
        if (!is_known(step->figure))
            continue; /* nobody recorded it: it cannot be handed on */
        step->number = (int64_t)++pack.n_steps;
        step->class = topics[i].class;
        step->topic = topics[i].name;
        step->words = topics[i].words;
        step->unit = topics[i].unit;
    }
    noun_init(NOUN_PROTOCOL, &pack.protocol);
    for (size_t i = 0; i < set->of[NOUN_PROTOCOL].n; i++)
        if (rules[i].locked_on != DATE_UNKNOWN)
            pack.protocol = rules[i];
    costs_of(set, site, arena, &pack);
    rules_of(set, arena, &pack);
    *out = pack;
    return OUTCOME_OK;
}

/* ---- holding ------------------------------------------------------------------------------------------------------ */

static const struct deviation *logged(const struct exchange_set *set, int64_t step, int64_t plot)
{
    const struct deviation *rows = set->of[NOUN_DEVIATION].rows;
    for (size_t i = 0; i < set->of[NOUN_DEVIATION].n; i++)
        if (rows[i].recipe_step_id == step && (rows[i].plot_id == plot || rows[i].plot_id == 0 || plot == 0))
            return &rows[i];
    return NULL;
}

static void judge(const struct exchange_set *set, const struct recipe_step *step, const struct topic *topic, const struct site *site,
                  const struct plot *plot, struct arena *arena, struct fidelity_row *row)
{
    double value = topic == NULL ? unknown_real() : topic->measure(set, site, plot);
    *row = (struct fidelity_row){.step = step,
                                 .plot = plot == NULL ? 0 : plot->id,
                                 .figure = value,
                                 .state = FIDELITY_NOT_KNOWN,
                                 .logged = logged(set, step->id, plot == NULL ? 0 : plot->id)};
    char shown[64] = "";
    if (is_known(value))
        number_fixed(value, value == floor(value) ? 0 : 2, shown);
    if (topic == NULL)
        row->words = "this program cannot tell from the records";
    else if (!is_known(value))
        row->words = topic->class == STEP_CLASS_FORBIDDEN ? "not checked, or not recorded" : "not recorded";
    else {
        bool short_of = is_known(step->least) && value < step->least - 1e-9, beyond = is_known(step->most) && value > step->most + 1e-9;
        row->state = short_of || beyond ? FIDELITY_DEVIATED : FIDELITY_KEPT;
        row->words = arena_print(arena, "%s%s%s%s", shown, step->unit == NULL ? "" : " ", step->unit == NULL ? "" : step->unit,
                                 short_of ? ", less than the recipe"
                                 : beyond ? ", more than the recipe"
                                          : "");
    }
    if (row->logged != NULL && row->state != FIDELITY_KEPT)
        row->state = FIDELITY_DEVIATED;
}

enum outcome recipe_hold(const struct exchange_set *set, int64_t recipe, struct arena *arena, struct fidelity_row **out, size_t *n,
                         struct failure *why)
{
    const struct recipe *kept = exchange_find(set, NOUN_RECIPE, recipe);
    const struct recipe_step *steps = set->of[NOUN_RECIPE_STEP].rows;
    const struct plot *plots = set->of[NOUN_PLOT].rows;
    const struct site *site = kept == NULL || kept->site_id == 0 ? NULL : exchange_find(set, NOUN_SITE, kept->site_id);
    if (site == NULL)
        return fail(why, OUTCOME_DATA, "The recipe is followed on no site.");
    size_t room = set->of[NOUN_RECIPE_STEP].n * (set->of[NOUN_PLOT].n + 1) + 1;
    *out = arena_array(arena, room, sizeof **out);
    *n = 0;
    for (size_t i = 0; i < set->of[NOUN_RECIPE_STEP].n; i++) {
        const struct topic *topic = topic_find(steps[i].topic);
        if (steps[i].recipe_id != recipe)
            continue;
        if (topic == NULL || topic->of_site) {
            judge(set, &steps[i], topic, site, NULL, arena, &(*out)[(*n)++]);
            continue;
        }
        for (size_t k = 0; k < set->of[NOUN_PLOT].n; k++)
            if (dense(&plots[k], site->id) && plots[k].regime == REGIME_DENSE_PREPARED)
                judge(set, &steps[i], topic, site, &plots[k], arena, &(*out)[(*n)++]);
    }
    return OUTCOME_OK;
}
