/* SPDX-License-Identifier: GPL-3.0-or-later
 * The thirty-three cautions: when each is shown, its words, and who decides. */
#include "site/cautions.h"
#include <math.h>
#include <string.h>

struct site_plan site_plan_new(void)
{
    return (struct site_plan){.species_per_m2 = unknown_real(), .n_sites = INT_UNKNOWN, .age_years = INT_UNKNOWN};
}

enum {
    DIG = MOMENT_GROUND_WORK | MOMENT_PLANTING,
    PLAN = MOMENT_SURVEY | MOMENT_DESIGN,
    DAYS = MOMENT_SURVEY | MOMENT_GROUND_WORK | MOMENT_PLANTING | MOMENT_CARE | MOMENT_RECORDS,
};

static const struct rule {
    const char *code, *topic;
    unsigned moments;
    const char *words, *defer;
} rules[SITE_CAUTIONS] = {
    {"C01", "buried services", PLAN | DIG,
     "A drawing tells where a cable or pipe may be, never where it is. Locate it, mark it, dig by hand, and stop when the ground says "
     "otherwise.",
     "each operator's written reply, and a person competent in locating services"},
    {"C02", "overhead lines", PLAN | DIG, "Machines reach higher than one thinks, and trees grow into what hangs above them.",
     "the line's operator"},
    {"C03", "contaminated ground", PLAN | DIG,
     "Digging can bring up what lies buried and open a way to water. Do not dig, bag or sift before somebody qualified has looked.",
     "a contaminated-land specialist and the local regulator"},
    {"C04", "asbestos", PLAN | DIG, "If there may be asbestos: stop, leave it, keep people away. Do not break, sweep or bag it.",
     "a licensed asbestos contractor and the land owner"},
    {"C05", "needles, glass, ordnance", DAYS,
     "Nothing sharp or unknown is picked up by hand. An unknown metal body: everybody goes back, and it is reported.",
     "the site lead with a sharps kit; the police for ordnance"},
    {"C06", "roads and verges", PLAN | DIG | MOMENT_CARE,
     "A bright vest does not manage traffic. Plants must not hide a child or a junction.",
     "the highway authority and qualified traffic management"},
    {"C07", "clay and buildings", PLAN,
     "On clay, roots dry the ground under foundations, and taking trees away lets it swell. No risk to a building is judged here.",
     "a structural or geotechnical engineer; the insurer"},
    {"C08", "root protection areas", PLAN | DIG, "Cut or pressed roots can kill a grown tree years later. Move the plot, not the tree.",
     "an arboriculturist; the tree officer"},
    {"C09", "water", DAYS, "Work in pairs, nobody waters alone, a throw-line is at hand, and children stay away from the edge.",
     "the water safety plan; the navigation or flood authority"},
    {"C10", "lifting and carrying", DIG | MOMENT_CARE,
     "Split it, share it, roll it. A cubic metre of wet soil weighs about 1.7 t. Screen: 25 kg, or 16 kg, close to the body.",
     "the organisation's safety lead"},
    {"C11", "machines and holes", MOMENT_GROUND_WORK, "No volunteer within the reach of a machine, and nobody down in an excavation.",
     "a competent contractor; construction-safety duties"},
    {"C12", "stability of trees", MOMENT_DESIGN | MOMENT_CARE | MOMENT_REPORT,
     "Close planting makes tall, thin stems. Settle who inspects, how often, and who pays.", "a tree-risk assessor; the land owner"},
    {"C13", "thorns and poison", MOMENT_DESIGN | MOMENT_ORDER | MOMENT_PLANTING,
     "Know what stands where. Thorns at least 2 m from paths and play; think of children, horses and livestock at the edge.",
     "the national list of toxic plants; the school; the livestock owner"},
    {"C14", "ticks, rats, soil", DAYS,
     "Cover the skin and look it over afterwards. Ill after soil or standing water: tell the doctor what you did.",
     "public-health advice; a doctor"},
    {"C15", "hazardous plants", DAYS, "Do not cut or touch giant hogweed, hemlock or ragwort.", "a trained contractor"},
    {"C16", "heat, cold, storm", DAYS, "Call it off early; another day will do.", "the site lead, who may stop the work"},
    {"C17", "chemicals", DIG | MOMENT_CARE,
     "The default is none. Otherwise a certificated user, the label, no volunteers, and a sign with the dates.",
     "pesticide law; the water body's approval"},
    {"C18", "plant health", MOMENT_ORDER | MOMENT_PLANTING | MOMENT_CARE,
     "In doubt: do not unload, do not move it, photograph and report. Brush boots between sites.", "the national plant-health service"},
    {"C19", "invasive plants", PLAN | DIG, "Whoever moves the soil moves the plant, and that may be an offence.",
     "the environment regulator"},
    {"C20", "protected animals and nests", PLAN | DIG | MOMENT_CARE,
     "Where a used nest or shelter is found, the work stops there that day.", "an ecologist; the licensing body"},
    {"C21", "valuable open ground", PLAN, "Planting may take more from this place than it gives. Ask before you plant.", "an ecologist"},
    {"C22", "archaeology", PLAN | DIG, "Stop, leave it where it lies, mark it, call. What is loosened is lost as evidence.",
     "the county or national heritage service"},
    {"C23", "felling and pruning", PLAN | DIG | MOMENT_CARE, "A tree may be protected though nobody remembers why.",
     "the tree officer or forest authority"},
    {"C24", "flood, drainage, neighbours", PLAN | MOMENT_GROUND_WORK, "Raised ground sends its water somewhere. Show where.",
     "the drainage authority; the neighbour"},
    {"C25", "soil and waste", MOMENT_DESIGN | MOMENT_GROUND_WORK,
     "Soil that leaves is mostly waste before the law; soil that comes needs papers.", "the waste regulator"},
    {"C26", "fire", MOMENT_DESIGN | MOMENT_GROUND_WORK | MOMENT_CARE, "Keep a mown strip free, and no straw where fires are set.",
     "the fire service"},
    {"C27", "people's data", MOMENT_PLANTING | MOMENT_RECORDS | MOMENT_REPORT,
     "Collect the least, ask first, say how to be taken out. Never a child's name; photographs only with a guardian's consent; no exact "
     "times and places of children's groups.",
     "data-protection law; the safeguarding lead"},
    {"C28", "sensitive wildlife", MOMENT_RECORDS | MOMENT_REPORT,
     "Nests, setts, roosts and rare plants leave this file only as a blurred square.", "the record centre's policy"},
    {"C29", "fungi and berries", MOMENT_RECORDS, "A name given here is no leave to eat.", "nobody here: never eat by a record"},
    {"C30", "carbon and climate", MOMENT_REPORT, "Small plots store little. The figure has a wide range, and part of it came as compost.",
     "an independent verifier; no claim of offsetting"},
    {"C31", "what figures can say", MOMENT_REPORT,
     "Differences may come from the preparation of the soil, the mix or the care as well as from density.",
     "a statistician, before a decision hangs on it"},
    {"C32", "alone, at dusk, in conflict", DAYS, "Do not confront anyone. Leave, telephone, write it down later.",
     "the police or neighbourhood team"},
    {"C33", "anything legal", DAYS | PLAN | MOMENT_ORDER | MOMENT_REPORT,
     "Law differs by place and changes. This is a prompt to ask, not advice.", "a local adviser"},
};

static enum outcome scene_distances(struct scene *s, struct failure *why)
{
    s->distance_m = arena_array(s->arena, s->n_zones + 1, sizeof *s->distance_m);
    for (size_t z = 0; z < s->n_zones; z++) {
        const struct constraint *c = &s->facts->constraints[s->zones[z].constraint];
        struct shape drawn;
        s->distance_m[z] = unknown_real();
        if (s->plan->outline == NULL)
            continue;
        enum outcome outcome = shape_from_wkb(c->wkb, s->arena, &drawn, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        struct shape from = distance_origin(c, &drawn, s->arena);
        outcome = shape_distance(s->plan->outline, &from, &s->distance_m[z], why);
        if (outcome != OUTCOME_OK)
            return outcome;
    }
    return OUTCOME_OK;
}

enum outcome site_cautions(const struct site_facts *facts, const struct site_plan *plan, struct arena *arena, struct site_caution **out,
                           struct failure *why)
{
    struct scene s = {.facts = facts, .plan = plan, .arena = arena};
    struct site_topic *topics = NULL;
    struct site_zone *zones = NULL;
    size_t n_topics = 0;
    enum outcome outcome = site_register(facts, arena, &topics, &n_topics, why);
    if (outcome == OUTCOME_OK)
        outcome = site_zones(facts, arena, &zones, &s.n_zones, why);
    s.topics = topics;
    s.zones = zones;
    if (outcome == OUTCOME_OK)
        outcome = scene_distances(&s, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct site_caution *list = arena_array(arena, SITE_CAUTIONS, sizeof *list);
    for (size_t i = 0; i < SITE_CAUTIONS; i++) {
        list[i] = (struct site_caution){.code = rules[i].code,
                                        .topic = rules[i].topic,
                                        .moments = rules[i].moments,
                                        .words = rules[i].words,
                                        .defer = rules[i].defer,
                                        .figures = ""};
        caution_judge(i, &s, &list[i]);
    }
    *out = list;
    return OUTCOME_OK;
}
