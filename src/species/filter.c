/* SPDX-License-Identifier: GPL-3.0-or-later
 * From a list to a planting list: filters in the order of work, each species with what speaks for and against it. */
#include "species/species.h"
#include <math.h>
#include <string.h>

struct judging {
    const struct species_library *library;
    const struct species_place *place;
    size_t region;
    const struct community *community;
    struct arena *arena;
};
/// One species under judgement; the first stage that does not let it pass stands.
struct judged {
    struct species_verdict verdict;
    struct text in, out;
};

struct species_place species_place_new(void)
{
    double u = unknown_real();
    struct figure f = {u, u};
    struct species_ground ground = {f, f, f, f, u, u, u, u, POSITION_UNKNOWN};
    return (struct species_place){.ground = ground,
                                  .building_nearest_m = u,
                                  .building_farthest_m = u,
                                  .overhead_clearance_m = u,
                                  .sight_height_m = u,
                                  .fit_least = 0.2};
}

double species_clay_zone_m(enum water_demand demand, double height_m)
{
    return water_demand_reach(demand) * height_m;
}

bool species_open_ground(double species_per_m2)
{
    return is_known(species_per_m2) && species_per_m2 >= 9;
}

static void say(struct text *text, const char *sentence)
{
    text_print(text, "%s%s", text->n == 0 ? "" : " ", sentence);
}
/* `answer` at this stage with its reason; a later stage never overrides an earlier one, and OUT beats ASK at one stage. */
static void rule(struct judged *j, enum species_stage stage, enum species_answer answer, const char *sentence)
{
    say(&j->out, sentence);
    struct species_verdict *v = &j->verdict;
    if (v->answer == ANSWER_OUT || (v->answer == ANSWER_ASK && answer == ANSWER_ASK))
        return;
    v->answer = answer;
    v->stage = stage;
}

static void judge_native(const struct judging *g, struct judged *j)
{
    const struct species_fact *fact = j->verdict.fact;
    enum species_native native = fact->native[g->region];
    const char *region = g->library->regions[g->region];
    const char *memory = species_from_memory(fact, arena_print(g->arena, "native_%s", region)) ? " (from memory)" : "";
    if (native == NATIVE_YES || (native == NATIVE_ANCIENT && g->place->ancient_ok))
        say(&j->in, arena_print(g->arena, "%s in %s%s.", native == NATIVE_YES ? "Native" : "Long established", region, memory));
    else if (native == NATIVE_DOUBTFUL || native == NATIVE_UNKNOWN)
        rule(j, STAGE_NATIVE, ANSWER_ASK,
             arena_print(g->arena, "Whether it is native in %s is %s%s: ask the record centre.", region,
                         native == NATIVE_UNKNOWN ? "unknown" : "doubtful", memory));
    else
        rule(j, STAGE_NATIVE, ANSWER_OUT,
             arena_print(g->arena, "%s in %s%s.", native == NATIVE_ANCIENT ? "Long established but not native" : "Not native", region,
                         memory));
}

/* The least factor of the ground itself, light apart. */
static double ground_fit(const struct species_fit *fit, int *factor)
{
    double least = unknown_real();
    *factor = -1;
    for (int i = 0; i < FIT_FACTORS; i++)
        if (i != FIT_LIGHT && is_known(fit->part[i].fit) && (*factor < 0 || fit->part[i].fit < least)) {
            least = fit->part[i].fit;
            *factor = i;
        }
    return least;
}

static void judge_ground(const struct judging *g, struct judged *j)
{
    int factor = -1;
    double fit = ground_fit(&j->verdict.fit, &factor);
    if (factor < 0) {
        rule(j, STAGE_GROUND, ANSWER_ASK, "How it fits the ground is unknown: the ground or its needs are not known.");
        return;
    }
    const struct fit_part *part = &j->verdict.fit.part[factor];
    const char *word = part->in_ph ? "pH" : fit_factor_word((enum fit_factor)factor);
    const char *figures = arena_print(g->arena, "%s sets it: the species stands at %.1f%s, the ground at %.1f%s", word, part->species,
                                      part->estimated ? " (estimated)" : "", part->ground, part->ground_estimated ? " (from its pH)" : "");
    if (fit < g->place->fit_least)
        rule(j, STAGE_GROUND, ANSWER_OUT,
             arena_print(g->arena, "Fits the ground poorly, %.2f (%.2f–%.2f) of 1; %s.", fit, part->low, part->high, figures));
    else
        say(&j->in, arena_print(g->arena, "Fits the ground %.2f (%.2f–%.2f) of 1; %s.", fit, part->low, part->high, figures));
}

static void judge_health(const struct judging *g, struct judged *j)
{
    const struct species_fact *fact = j->verdict.fact;
    if (fact->health == HEALTH_STOP)
        rule(j, STAGE_HEALTH, ANSWER_OUT,
             arena_print(g->arena, "STOP, plant health%s%s: %s.", fact->health_date == NULL ? "" : " as of ",
                         fact->health_date == NULL ? "" : fact->health_date, fact->health_note == NULL ? "no note" : fact->health_note));
    else if (fact->health == HEALTH_ADVICE)
        say(&j->out, arena_print(g->arena, "Plant health, ask the national service (notes of %s): %s.",
                                 fact->health_date == NULL ? "unknown date, from memory" : fact->health_date,
                                 fact->health_note == NULL ? "no note" : fact->health_note));
    else if (fact->health == HEALTH_UNKNOWN)
        say(&j->out, "Plant health was not looked up.");
    if (fact->not_by_default != NULL) {
        const char *sentence = arena_print(g->arena, "Not offered by default: %s.", fact->not_by_default);
        if (g->place->unasked)
            say(&j->out, sentence);
        else
            rule(j, STAGE_HEALTH, ANSWER_OUT, sentence);
    }
}

static void judge_clay(const struct judging *g, struct judged *j)
{
    const struct species_fact *fact = j->verdict.fact;
    const struct species_place *place = g->place;
    if (place->clay == CLAY_STATE_NOT_SHRINKABLE)
        return;
    const char *if_clay = place->clay == CLAY_STATE_UNKNOWN ? "If the ground is shrinkable clay (not checked): " : "On shrinkable clay: ";
    bool listed = is_known(fact->clay_height_m);
    double height = listed ? fact->clay_height_m : fact->height_most_m;
    double zone = species_clay_zone_m(fact->water_demand, height), near = place->building_nearest_m, far = place->building_farthest_m;
    j->verdict.clay_zone_m = zone;
    if (!is_known(near)) {
        say(&j->out, "Distance to buildings: not checked.");
        return;
    }
    if (!is_known(zone)) {
        double worst = species_clay_zone_m(WATER_DEMAND_HIGH, height);
        if (!is_known(worst) || near < worst)
            rule(j, STAGE_CONFLICT, ANSWER_ASK,
                 arena_print(g->arena, "%sits water demand is unknown and a building stands at %.1f m; ask an engineer.", if_clay, near));
        return;
    }
    if (near >= zone)
        return;
    static const char *const demand[] = {"unknown", "low", "moderate", "high"};
    const char *sentence =
        arena_print(g->arena, "%s%s water demand%s, reach %.1f m (%.4g × %s %.1f m), and a building stands at %.1f m; an engineer decides.",
                    if_clay, demand[fact->water_demand], text_same(fact->water_demand_of, "genus") ? " of the genus" : "", zone,
                    zone / height, listed ? "mature height" : "highest recorded height", height, near);
    j->verdict.keep_away_m = zone;
    if (is_known(far) && far >= zone)
        say(&j->out, sentence);
    else /* a height that the table does not give is an upper bound: asked, not decided */
        rule(j, STAGE_CONFLICT, listed && place->clay == CLAY_STATE_SHRINKABLE ? ANSWER_OUT : ANSWER_ASK, sentence);
}

/* What a hazard note is about. Words of the tables; anything else counts as a hazard to people. */
static bool has_word(const char *text, const char *const *words)
{
    for (; *words != NULL; words++)
        if (strcasestr(text, *words) != NULL)
            return true;
    return false;
}
static bool only_thorns(const char *hazard)
{
    static const char *const thorns[] = {"thorn", "prickle", "spine", "spiny", "sharp", NULL};
    static const char *const harm[] = {"tox", "poison", "cyan", "irrit", "purg", "vomit", "allerg", "burn", "blister", NULL};
    return has_word(hazard, thorns) && !has_word(hazard, harm);
}
static bool only_animals(const char *hazard)
{
    static const char *const animals[] = {"livestock", "horse", NULL}, *const people[] = {"people", "child",     "skin",
                                                                                          "highly", "all parts", NULL};
    return has_word(hazard, animals) && !has_word(hazard, people);
}
static bool slight(const char *hazard)
{
    static const char *const mild[] = {"mildly",  "allergen",           "pollen",      "confusable", "salicyl",
                                       "oxalate", "raw berries mildly", "in quantity", NULL};
    static const char *const strong[] = {"highly", "very", "dangerous", NULL};
    return has_word(hazard, mild) && !has_word(hazard, strong);
}

static void judge_people(const struct judging *g, struct judged *j)
{
    const struct species_fact *fact = j->verdict.fact;
    const struct species_place *place = g->place;
    const char *hazard = fact->hazard != NULL && !only_thorns(fact->hazard) ? fact->hazard : NULL;
    if (place->livestock == TRUTH_YES && hazard != NULL && !slight(hazard))
        rule(j, STAGE_CONFLICT, ANSWER_ASK, arena_print(g->arena, "Livestock within reach: %s.", hazard));
    if (place->play_area != TRUTH_YES) {
        if (hazard != NULL)
            say(&j->out, arena_print(g->arena, "%s.", hazard));
        if (fact->thorny == TRUTH_YES)
            say(&j->out, "Thorny: keep it 2 m from paths and play.");
        return;
    }
    if (hazard != NULL && only_animals(hazard))
        say(&j->out, arena_print(g->arena, "%s.", hazard));
    else if (hazard != NULL && slight(hazard))
        rule(j, STAGE_CONFLICT, ANSWER_ASK, arena_print(g->arena, "Play area within reach: %s.", hazard));
    else if (hazard != NULL)
        rule(j, STAGE_CONFLICT, ANSWER_OUT, arena_print(g->arena, "Play area within reach: %s.", hazard));
    else if (species_uncertain(fact, "hazard"))
        rule(j, STAGE_CONFLICT, ANSWER_ASK, "Play area within reach: the sources differ on whether it is harmful.");
    else
        say(&j->out, "No hazard recorded, which does not mean there is none.");
    if (fact->thorny == TRUTH_YES)
        say(&j->out, "Thorny: 2 m or more from paths and play.");
    else if (fact->thorny == TRUTH_UNKNOWN)
        rule(j, STAGE_CONFLICT, ANSWER_ASK, "Whether it is thorny is unknown.");
}

static void judge_lines(const struct judging *g, struct judged *j)
{
    const struct species_fact *fact = j->verdict.fact;
    const struct species_place *place = g->place;
    if (is_known(place->overhead_clearance_m)) {
        if (!is_known(fact->height_most_m))
            rule(j, STAGE_CONFLICT, ANSWER_ASK, "Overhead line: how high it grows is unknown.");
        else if (fact->height_most_m > place->overhead_clearance_m)
            rule(j, STAGE_CONFLICT, ANSWER_OUT,
                 arena_print(g->arena, "Overhead line: it can reach %.3g m, %.3g m may grow there; the line operator decides.",
                             fact->height_most_m, place->overhead_clearance_m));
    }
    double sight = is_known(place->sight_height_m) ? place->sight_height_m : 0.6;
    if (place->sight_line == TRUTH_YES && (!is_known(fact->height_most_m) || fact->height_most_m > sight))
        say(&j->out, arena_print(g->arena, "Keep it out of the sight line, where %.2g m is the greatest height.", sight));
}

static void judge_supply(const struct judging *g, struct judged *j)
{
    const struct species_fact *fact = j->verdict.fact;
    if (g->place->obtainable == NULL)
        return;
    for (size_t i = 0; i < g->place->n_obtainable; i++)
        if (text_same_nocase(g->place->obtainable[i], fact->name)) {
            say(&j->in, "Obtainable.");
            return;
        }
    rule(j, STAGE_OBTAINABLE, ANSWER_OUT, "Not among the plants that can be had.");
}

static void judge_layer(const struct judging *g, struct judged *j)
{
    const struct species_fact *fact = j->verdict.fact;
    static const char *const layers[] = {"unknown", "canopy", "subcanopy", "shrub layer", "climbers", "ground layer"};
    if (fact->layer == LAYER_UNKNOWN) {
        rule(j, STAGE_LAYER, ANSWER_ASK, "Its layer is unknown.");
        return;
    }
    bool later = fact->layer == LAYER_GROUND || fact->layer == LAYER_CLIMBER;
    if (later && !g->place->later_layers) {
        rule(j, STAGE_LAYER, ANSWER_OUT,
             fact->layer == LAYER_GROUND ? "Ground flora: planted once there is shade, not in the first planting."
                                         : "Climber: planted once the trees carry it, not in the first planting.");
        return;
    }
    say(&j->in, arena_print(g->arena, "For the %s%s.", layers[fact->layer],
                            species_uncertain(fact, "layer") ? " (the sources differ on the layer)" : ""));
}

static void judge_light(const struct judging *g, struct judged *j)
{
    const struct species_fact *fact = j->verdict.fact;
    const struct fit_part *light = &j->verdict.fit.part[FIT_LIGHT];
    if (is_known(light->fit) && light->fit < g->place->fit_least)
        rule(j, STAGE_LIGHT, ANSWER_OUT,
             arena_print(g->arena, "Too dark for it there: it stands at light %.1f%s, its place has about %.1f.", light->species,
                         light->estimated ? " (estimated)" : "", light->ground));
    if (fact->role == ROLE_PIONEER)
        say(&j->in, "Pioneer: a nurse that grows first and may die first.");
}

static int constancy_of(const struct judging *g, struct judged *j)
{
    int most = 0;
    if (g->community == NULL)
        return 0;
    for (size_t i = 0; i < g->community->n_species; i++) {
        const struct community_species *line = &g->community->species[i];
        if (line->fact != j->verdict.fact)
            continue;
        most = line->constancy > most ? line->constancy : most;
        if (line->advice != NULL && strstr(text_get(&j->out), line->advice) == NULL)
            say(&j->out, arena_print(g->arena, "Note of the community: %s.", line->advice));
    }
    return most;
}

static struct species_verdict judge(const struct judging *g, const struct species_fact *fact)
{
    static const char *const classes[] = {"", "I", "II", "III", "IV", "V"};
    struct judged j = {.verdict = {.fact = fact,
                                   .answer = ANSWER_IN,
                                   .stage = STAGE_PASSED,
                                   .fit = species_fit(fact, &g->place->ground, LAYER_UNKNOWN),
                                   .clay_zone_m = unknown_real(),
                                   .keep_away_m = unknown_real()}};
    judge_native(g, &j);
    j.verdict.constancy = constancy_of(g, &j);
    if (j.verdict.constancy > 0)
        say(&j.in, arena_print(g->arena, "Class %s in %s.", classes[j.verdict.constancy], g->community->name));
    judge_ground(g, &j);
    judge_health(g, &j);
    judge_clay(g, &j);
    judge_people(g, &j);
    judge_lines(g, &j);
    judge_supply(g, &j);
    judge_layer(g, &j);
    judge_light(g, &j);
    j.verdict.why_in = arena_text(g->arena, j.in.n == 0 ? "Nothing that was looked at speaks for it." : text_get(&j.in));
    j.verdict.why_out = arena_text(g->arena, j.out.n == 0 ? "Nothing that was looked at speaks against it." : text_get(&j.out));
    text_free(&j.in);
    text_free(&j.out);
    return j.verdict;
}

enum outcome species_filter(const struct species_library *library, const struct species_place *place, struct arena *arena,
                            struct species_verdict **out, size_t *n, struct failure *why)
{
    enum outcome outcome = species_library_suits(library, place->region, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct judging g = {library, place, species_region(library, place->region), NULL, arena};
    if (place->community != NULL && (g.community = species_community(library, place->community)) == NULL) {
        fail(why, OUTCOME_DATA, "The library %s has no community “%.80s”.", library->name, place->community);
        return failure_remedy(why, library->n_communities > 0 ? "It has %s and others." : "%sIt has none.",
                              library->n_communities > 0 ? library->communities[0].id : "");
    }
    struct species_verdict *list = arena_array(arena, library->n_facts, sizeof *list);
    for (size_t i = 0; i < library->n_facts; i++)
        list[i] = judge(&g, &library->facts[i]);
    *out = list;
    *n = library->n_facts;
    return OUTCOME_OK;
}
