/* SPDX-License-Identifier: GPL-3.0-or-later
 * What in the data raises each of the thirty-three cautions, with its numbers, and what is not checked. */
#include "site/cautions.h"
#include <ctype.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

static void set(const struct scene *s, struct site_caution *c, enum caution_state state, const char *format, ...)
    __attribute__((format(printf, 4, 5)));
static void set(const struct scene *s, struct site_caution *c, enum caution_state state, const char *format, ...)
{
    char words[900];
    va_list rest;
    va_start(rest, format);
    vsnprintf(words, sizeof words, format, rest);
    va_end(rest);
    c->state = state;
    c->figures = arena_text(s->arena, words);
}

static const struct site_topic *topic_of(const struct scene *s, enum check_topic topic)
{
    return &s->topics[(int)topic - 1];
}

static const char *number(const struct scene *s, double x)
{
    return short_number(s->arena, x);
}

/* Nearest constraint of a kind; SIZE_MAX none. Without an outline the distance is NaN and the first one counts. */
static size_t nearest(const struct scene *s, enum constraint_kind kind)
{
    size_t best = SIZE_MAX;
    for (size_t z = 0; z < s->n_zones; z++)
        if (s->facts->constraints[s->zones[z].constraint].kind == kind && (best == SIZE_MAX || s->distance_m[z] < s->distance_m[best]))
            best = z;
    return best;
}

static bool within(const struct scene *s, size_t z, double metres)
{
    return z != SIZE_MAX && (!is_known(s->distance_m[z]) || s->distance_m[z] <= metres);
}

static const char *where(const struct scene *s, size_t z)
{
    const char *name = constraint_name(&s->facts->constraints[s->zones[z].constraint], s->arena);
    if (!is_known(s->distance_m[z]))
        return arena_print(s->arena, "%s on the site (no plot drawn yet, so no distance)", name);
    return arena_print(s->arena, "%s, %s m from the plot", name, number(s, s->distance_m[z]));
}

/* By a topic of the register and a kind that is drawn: the common case. */
static void by_topic(const struct scene *s, struct site_caution *c, enum check_topic topic, enum constraint_kind kind, double metres)
{
    const struct site_topic *t = topic_of(s, topic);
    size_t z = kind == CONSTRAINT_KIND_UNKNOWN ? SIZE_MAX : nearest(s, kind);
    if (within(s, z, metres))
        set(s, c, CAUTION_RAISED, "%s; %s.", where(s, z), t->words);
    else if (t->state == CHECK_STATE_CONSTRAINED)
        set(s, c, CAUTION_RAISED, "%s.", t->words);
    else if (!t->passes)
        set(s, c, CAUTION_NOT_CHECKED, "%s.", t->words);
    else
        set(s, c, CAUTION_NO_TRIGGER, "%s.", t->words);
}

static const char *history_word(const struct scene *s, const char *const *words)
{
    const char *history = s->facts->site->history;
    for (; history != NULL && *words != NULL; words++)
        for (const char *at = strcasestr(history, *words); at != NULL; at = strcasestr(at + 1, *words))
            if (at == history || !isalpha((unsigned char)at[-1])) /* where a word begins */
                return *words;
    return NULL;
}

static bool history_raises(const struct scene *s, struct site_caution *c, const char *const *words)
{
    const char *word = history_word(s, words);
    if (word != NULL)
        set(s, c, CAUTION_RAISED, "The history of the site speaks of “%s”.", word);
    return word != NULL;
}

static double outline_m2(const struct scene *s)
{
    return s->plan->outline == NULL ? unknown_real() : shape_area_m2(s->plan->outline);
}

/* ---- one function per caution ---- */

static void services(const struct scene *s, struct site_caution *c)
{
    const struct site_topic *t = topic_of(s, CHECK_TOPIC_SERVICES);
    size_t z = nearest(s, CONSTRAINT_KIND_BURIED_SERVICE);
    if (within(s, z, 30))
        set(s, c, CAUTION_RAISED, "%s; %s.", where(s, z), t->words);
    else if (!t->passes)
        set(s, c, CAUTION_NOT_CHECKED, "%s. No line is drawn near, which says nothing.", t->words);
    else
        set(s, c, CAUTION_RAISED, "Planting and fencing dig. %s; private cables and pipes are in nobody's reply.", t->words);
}

static void overhead(const struct scene *s, struct site_caution *c)
{
    by_topic(s, c, CHECK_TOPIC_OVERHEAD_LINES, CONSTRAINT_KIND_OVERHEAD_LINE, 30);
}

static void contaminated(const struct scene *s, struct site_caution *c)
{
    static const char *const words[] = {"gas work",     "tanner",  "railway", "dry clean", "garage", "landfill",  "tip",     "glasshouse",
                                        "timber treat", "cemeter", "dredg",   "orchard",   "firing", "factory",   "foundry", "ashes",
                                        "clinker",      "oil",     "petrol",  "works",     "depot",  "allotment", NULL};
    if (!history_raises(s, c, words))
        by_topic(s, c, CHECK_TOPIC_CONTAMINATION, CONSTRAINT_KIND_CONTAMINATION, 50);
}

static void asbestos(const struct scene *s, struct site_caution *c)
{
    static const char *const words[] = {"asbestos", "cement sheet", "lagging", NULL};
    if (!history_raises(s, c, words))
        by_topic(s, c, CHECK_TOPIC_ASBESTOS, CONSTRAINT_KIND_UNKNOWN, 0);
}

static void sharps(const struct scene *s, struct site_caution *c)
{
    static const char *const words[] = {"needle", "glass",    "litter", "dump",     "military", "barrack",
                                        "bomb",   "airfield", "range",  "ordnance", NULL};
    if (s->facts->site->sharps == TRUTH_YES)
        set(s, c, CAUTION_RAISED, "Needles, broken glass or other sharp litter was seen.");
    else if (!history_raises(s, c, words) && s->facts->site->sharps == TRUTH_NO)
        set(s, c, CAUTION_NO_TRIGGER, "Nobody saw sharp litter, and the history speaks of no military use.");
    else if (c->state != CAUTION_RAISED)
        set(s, c, CAUTION_NOT_CHECKED, "Litter, needles and military use are not recorded for this site.");
}

static void roads(const struct scene *s, struct site_caution *c)
{
    size_t road = nearest(s, CONSTRAINT_KIND_ROAD), sight = nearest(s, CONSTRAINT_KIND_SIGHT_LINE);
    if (within(s, road, 2))
        set(s, c, CAUTION_RAISED, "%s.", where(s, road));
    else if (within(s, sight, 0))
        set(s, c, CAUTION_RAISED, "%s.", where(s, sight));
    else
        by_topic(s, c, CHECK_TOPIC_HIGHWAY, CONSTRAINT_KIND_UNKNOWN, 0);
}

/* The species that reaches farthest beyond its distance to a building. */
static void clay(const struct scene *s, struct site_caution *c)
{
    size_t z = nearest(s, CONSTRAINT_KIND_BUILDING);
    enum clay_state clay = s->facts->site->clay;
    double reach = 0;
    const char *who = NULL;
    bool unknown = false;
    if (clay == CLAY_STATE_NOT_SHRINKABLE) {
        set(s, c, CAUTION_NO_TRIGGER, "The ground is recorded as not shrinkable.");
        return;
    }
    if (z == SIZE_MAX) {
        const struct site_topic *t = topic_of(s, CHECK_TOPIC_BUILDINGS);
        set(s, c, t->passes ? CAUTION_NO_TRIGGER : CAUTION_NOT_CHECKED, "No building is drawn; %s.", t->words);
        return;
    }
    for (size_t i = 0; i < s->plan->n_plants; i++) {
        const struct site_plant *p = &s->plan->plants[i];
        double zone = site_clay_zone_m(p->water_demand, is_known(p->clay_height_m) ? p->clay_height_m : p->mature_height_m);
        unknown |= !is_known(zone);
        if (zone > reach) {
            reach = zone;
            who = p->name;
        }
    }
    const char *state = clay == CLAY_STATE_UNKNOWN ? "clay: not checked; if it is shrinkable clay" : "shrinkable clay";
    if (who != NULL && within(s, z, reach))
        set(s, c, CAUTION_RAISED, "%s; %s: %s reaches %s m (1.25, 0.75 or 0.5 × mature height, by water demand).", where(s, z), state, who,
            number(s, reach));
    else if (s->plan->n_plants == 0 || unknown)
        set(s, c, CAUTION_NOT_CHECKED, "%s; %s: the reach of %s is not known.", where(s, z), state,
            s->plan->n_plants == 0 ? "species not yet chosen" : "some species");
    else
        set(s, c, clay == CLAY_STATE_UNKNOWN ? CAUTION_NOT_CHECKED : CAUTION_NO_TRIGGER, "%s; %s: the farthest reach is %s m (%s).",
            where(s, z), state, number(s, reach), who);
}

static void roots(const struct scene *s, struct site_caution *c)
{
    size_t trees = 0;
    const char *who = NULL;
    for (size_t z = 0; z < s->n_zones; z++) {
        const struct site_zone *zone = &s->zones[z];
        if (!is_known(zone->root_area_m2))
            continue;
        trees++;
        double radius = fmax(sqrt(zone->root_area_m2 / M_PI), zone->standoff_m);
        if (within(s, z, radius) && who == NULL)
            who = arena_print(s->arena, "%s; its root protection area or buffer reaches %s m (%s)", where(s, z), number(s, radius),
                              zone->figures);
    }
    if (who != NULL)
        set(s, c, CAUTION_RAISED, "%s.", who);
    else if (trees > 0 && s->plan->outline != NULL)
        set(s, c, CAUTION_NO_TRIGGER, "%zu trees drawn, none whose root protection area the plot meets.", trees);
    else
        by_topic(s, c, CHECK_TOPIC_PROTECTED_TREES, CONSTRAINT_KIND_UNKNOWN, 0);
}

static void water(const struct scene *s, struct site_caution *c)
{
    size_t z = nearest(s, CONSTRAINT_KIND_WATER);
    if (within(s, z, 5) || z == SIZE_MAX)
        by_topic(s, c, CHECK_TOPIC_WATER, CONSTRAINT_KIND_WATER, 5);
    else
        set(s, c, CAUTION_NO_TRIGGER, "%s.", where(s, z));
}

static bool undecided(const struct scene *s, struct site_caution *c)
{
    if (s->plan->preparation == NULL)
        set(s, c, CAUTION_NOT_CHECKED, "How the ground is prepared is not decided yet.");
    return s->plan->preparation == NULL;
}

static double depth_or_zero(double depth_m)
{
    return is_known(depth_m) ? depth_m : 0;
}

static void handling(const struct scene *s, struct site_caution *c)
{
    if (undecided(s, c))
        return;
    const struct preparation *p = s->plan->preparation;
    double depth = depth_or_zero(p->compost_depth_m) + depth_or_zero(p->mulch_depth_m), area = outline_m2(s);
    if (depth <= 0)
        set(s, c, CAUTION_NO_TRIGGER, "No compost or mulch is planned; tools and plants are still carried.");
    else if (is_known(area))
        set(s, c, CAUTION_RAISED, "%s m³ of compost and mulch to be moved (%s m over %s m²).", number(s, depth * area), number(s, depth),
            number(s, area));
    else
        set(s, c, CAUTION_RAISED, "%s m of compost and mulch to be spread.", number(s, depth));
}

static void machines(const struct scene *s, struct site_caution *c)
{
    if (undecided(s, c))
        return;
    double depth = s->plan->preparation->loosened_depth_m;
    if (!is_known(depth))
        set(s, c, CAUTION_NOT_CHECKED, "The depth of loosening is not recorded.");
    else
        set(s, c, depth > 0 ? CAUTION_RAISED : CAUTION_NO_TRIGGER, "Loosened to %s m.", number(s, depth));
}

static void stability(const struct scene *s, struct site_caution *c)
{
    static const enum constraint_kind kinds[] = {CONSTRAINT_KIND_PATH, CONSTRAINT_KIND_PLAY_AREA, CONSTRAINT_KIND_ROAD,
                                                 CONSTRAINT_KIND_RAILWAY, CONSTRAINT_KIND_BUILDING};
    double tallest = 0;
    bool unknown = s->plan->n_plants == 0;
    for (size_t i = 0; i < s->plan->n_plants; i++) {
        if (is_known(s->plan->plants[i].mature_height_m))
            tallest = fmax(tallest, s->plan->plants[i].mature_height_m);
        else
            unknown = true;
    }
    for (size_t k = 0; k < sizeof kinds / sizeof *kinds && tallest > 0; k++) {
        size_t z = nearest(s, kinds[k]);
        if (within(s, z, tallest)) {
            set(s, c, CAUTION_RAISED, "%s; the tallest species grows to %s m.", where(s, z), number(s, tallest));
            return;
        }
    }
    if (s->plan->age_years != INT_UNKNOWN && s->plan->age_years >= 5)
        set(s, c, CAUTION_RAISED, "The planting is %lld years old.", (long long)s->plan->age_years);
    else if (unknown)
        set(s, c, CAUTION_NOT_CHECKED, s->plan->n_plants == 0 ? "Species are not chosen yet." : "Mature heights are not all known.");
    else
        set(s, c, CAUTION_NO_TRIGGER, "No path, play area, road, railway or building is drawn within %s m, the tallest mature height.",
            number(s, tallest));
}

static void thorns(const struct scene *s, struct site_caution *c)
{
    struct text names = {0};
    size_t n = 0;
    bool unknown = s->plan->n_plants == 0;
    for (size_t i = 0; i < s->plan->n_plants; i++) {
        const struct site_plant *p = &s->plan->plants[i];
        unknown |= p->thorny == TRUTH_UNKNOWN;
        if (p->thorny == TRUTH_YES || !text_blank(p->hazard))
            text_print(&names, "%s%s (%s)", n++ == 0 ? "" : ", ", p->name, text_blank(p->hazard) ? "thorny" : p->hazard);
    }
    size_t play = nearest(s, CONSTRAINT_KIND_PLAY_AREA), path = nearest(s, CONSTRAINT_KIND_PATH), z = play != SIZE_MAX ? play : path;
    if (n > 0)
        set(s, c, CAUTION_RAISED, "%s%s%s.", text_get(&names), z == SIZE_MAX ? "; no path or play area is drawn" : "; ",
            z == SIZE_MAX ? "" : where(s, z));
    else if (unknown)
        set(s, c, CAUTION_NOT_CHECKED, s->plan->n_plants == 0 ? "Species are not chosen yet." : "Not recorded for every species.");
    else
        set(s, c, CAUTION_NO_TRIGGER, "No chosen species is recorded as thorny or poisonous; what is not recorded may still be.");
    text_free(&names);
}

static void outdoors(const struct scene *s, struct site_caution *c)
{
    set(s, c, CAUTION_RAISED, "Shown before every day outdoors.");
}

static void hazardous(const struct scene *s, struct site_caution *c)
{
    static const char *const words[] = {"hogweed", "hemlock", "ragwort", NULL};
    for (size_t z = 0; z < s->n_zones; z++) {
        const char *label = s->facts->constraints[s->zones[z].constraint].label;
        for (size_t k = 0; label != NULL && words[k] != NULL; k++)
            if (strcasestr(label, words[k]) != NULL) {
                set(s, c, CAUTION_RAISED, "%s.", where(s, z));
                return;
            }
    }
    by_topic(s, c, CHECK_TOPIC_INVASIVE_PLANTS, CONSTRAINT_KIND_UNKNOWN, 0);
}

static void weather(const struct scene *s, struct site_caution *c)
{
    set(s, c, CAUTION_RAISED, "Shown before every day outdoors; no forecast is read here.");
}

static void chemicals(const struct scene *s, struct site_caution *c)
{
    enum truth used = s->facts->site->chemicals;
    set(s, c,
        used == TRUTH_YES  ? CAUTION_RAISED
        : used == TRUTH_NO ? CAUTION_NO_TRIGGER
                           : CAUTION_NOT_CHECKED,
        used == TRUTH_YES  ? "Herbicide, treated timber or fuel is to be used."
        : used == TRUTH_NO ? "None is to be used."
                           : "Herbicide, treated timber and fuel are not recorded.");
}

static void plant_health(const struct scene *s, struct site_caution *c)
{
    if (s->plan->n_plants > 0)
        set(s, c, CAUTION_RAISED, "%zu species to be brought in; %s.", s->plan->n_plants, topic_of(s, CHECK_TOPIC_PLANT_HEALTH)->words);
    else
        by_topic(s, c, CHECK_TOPIC_PLANT_HEALTH, CONSTRAINT_KIND_UNKNOWN, 0);
}

static void invasive(const struct scene *s, struct site_caution *c)
{
    by_topic(s, c, CHECK_TOPIC_INVASIVE_PLANTS, CONSTRAINT_KIND_INVASIVE_PLANT, INFINITY);
}

static void nests(const struct scene *s, struct site_caution *c)
{
    const struct site_topic *t = topic_of(s, CHECK_TOPIC_PROTECTED_SPECIES);
    const struct site *site = s->facts->site;
    int from = s->plan->month_from != 0 ? s->plan->month_from : site->works_from == INT_UNKNOWN ? 0 : (int)site->works_from;
    int to = s->plan->month_to != 0 ? s->plan->month_to : site->works_to == INT_UNKNOWN ? from : (int)site->works_to;
    bool season = false;
    if (from >= 1 && from <= 12 && to >= 1 && to <= 12)
        for (int m = from;; m = m % 12 + 1) {
            season |= m >= 3 && m <= 8;
            if (m == to)
                break;
        }
    if (season)
        set(s, c, CAUTION_RAISED, "The works from month %d to month %d touch March to August; %s.", from, to, t->words);
    else if (t->state == CHECK_STATE_CONSTRAINED)
        set(s, c, CAUTION_RAISED, "%s.", t->words);
    else if (from == 0 || !t->passes)
        set(s, c, CAUTION_NOT_CHECKED, "%s%s.", from == 0 ? "The months of the works are not known; " : "", t->words);
    else
        set(s, c, CAUTION_NO_TRIGGER, "Works from month %d to month %d; %s.", from, to, t->words);
}

static void open_ground(const struct scene *s, struct site_caution *c)
{
    double most = is_known(s->plan->species_per_m2) ? s->plan->species_per_m2 : s->facts->site->species_per_m2;
    if (most >= 9)
        set(s, c, CAUTION_RAISED, "%s plant species in one square metre, 9 or more (English grassland keys, from memory).",
            number(s, most));
    else
        by_topic(s, c, CHECK_TOPIC_OPEN_HABITAT, CONSTRAINT_KIND_OPEN_HABITAT, INFINITY);
}

static void archaeology(const struct scene *s, struct site_caution *c)
{
    by_topic(s, c, CHECK_TOPIC_ARCHAEOLOGY, CONSTRAINT_KIND_ARCHAEOLOGY, 50);
}

static void felling(const struct scene *s, struct site_caution *c)
{
    size_t z = nearest(s, CONSTRAINT_KIND_VETERAN_TREE), tree = nearest(s, CONSTRAINT_KIND_EXISTING_TREE);
    if (within(s, z, 15))
        set(s, c, CAUTION_RAISED, "%s.", where(s, z));
    else if (within(s, tree, 15))
        set(s, c, CAUTION_RAISED, "%s.", where(s, tree));
    else
        by_topic(s, c, CHECK_TOPIC_PROTECTED_TREES, CONSTRAINT_KIND_UNKNOWN, 0);
}

static void drainage(const struct scene *s, struct site_caution *c)
{
    const struct preparation *p = s->plan->preparation;
    const struct site *site = s->facts->site;
    if (p != NULL && p->mound_m > 0)
        set(s, c, CAUTION_RAISED, "Mounded %s m above the surroundings.", number(s, p->mound_m));
    else if (site->clay == CLAY_STATE_SHRINKABLE)
        set(s, c, CAUTION_RAISED, "Clay ground.");
    else if (site->slope_pct >= 5)
        set(s, c, CAUTION_RAISED, "A slope of %s %%.", number(s, site->slope_pct));
    else if (!undecided(s, c))
        by_topic(s, c, CHECK_TOPIC_FLOOD_DRAINAGE, CONSTRAINT_KIND_UNKNOWN, 0);
}

static void soil_movement(const struct scene *s, struct site_caution *c)
{
    if (undecided(s, c))
        return;
    const struct preparation *p = s->plan->preparation;
    double in = depth_or_zero(p->compost_depth_m) + depth_or_zero(p->mulch_depth_m);
    if (in > 0 || depth_or_zero(p->loosened_depth_m) > 0)
        set(s, c, CAUTION_RAISED, "%s m of compost and mulch come in; loosened to %s m, rubble may go out.", number(s, in),
            number(s, depth_or_zero(p->loosened_depth_m)));
    else
        set(s, c, CAUTION_NO_TRIGGER, "Nothing is recorded as coming in or going out.");
}

static void fire(const struct scene *s, struct site_caution *c)
{
    size_t z = nearest(s, CONSTRAINT_KIND_BUILDING);
    if (within(s, z, 3))
        set(s, c, CAUTION_RAISED, "%s.", where(s, z));
    else if (!undecided(s, c)) {
        const struct preparation *p = s->plan->preparation;
        if (depth_or_zero(p->mulch_depth_m) > 0)
            set(s, c, CAUTION_RAISED, "Mulch %s m deep (%s); %s.", number(s, p->mulch_depth_m),
                text_blank(p->mulch_kind) ? "kind not recorded" : p->mulch_kind, topic_of(s, CHECK_TOPIC_FIRE)->words);
        else
            by_topic(s, c, CHECK_TOPIC_FIRE, CONSTRAINT_KIND_UNKNOWN, 0);
    }
}

static void people(const struct scene *s, struct site_caution *c)
{
    const char *topic = topic_of(s, CHECK_TOPIC_DATA_PROTECTION)->words;
    enum truth volunteers = s->plan->volunteers != TRUTH_UNKNOWN ? s->plan->volunteers : s->facts->site->volunteers;
    enum truth children = s->plan->children != TRUTH_UNKNOWN ? s->plan->children : s->facts->site->children;
    if (volunteers == TRUTH_NO && children == TRUTH_NO)
        set(s, c, CAUTION_NO_TRIGGER, "Neither volunteers nor children are expected; %s.", topic);
    else
        set(s, c, CAUTION_RAISED, "%s; %s.",
            children == TRUTH_YES     ? "Children come"
            : volunteers == TRUTH_YES ? "Volunteers come"
                                      : "Who comes is not recorded",
            topic);
}

static void wildlife(const struct scene *s, struct site_caution *c)
{
    if (s->plan->sensitive > 0)
        set(s, c, CAUTION_RAISED, "%lld records are marked sensitive.", (long long)s->plan->sensitive);
    else
        by_topic(s, c, CHECK_TOPIC_PROTECTED_SPECIES, CONSTRAINT_KIND_UNKNOWN, 0);
}

static void edible(const struct scene *s, struct site_caution *c)
{
    set(s, c, CAUTION_RAISED, "Shown with every record of fungi or fruit.");
}

static void carbon(const struct scene *s, struct site_caution *c)
{
    set(s, c, CAUTION_RAISED, "Shown with every figure of carbon or CO₂.");
}

static void honesty(const struct scene *s, struct site_caution *c)
{
    if (s->plan->n_sites == INT_UNKNOWN)
        set(s, c, CAUTION_RAISED, "The number of sites is not given; one site is one replicate, however many plants it has.");
    else
        set(s, c, CAUTION_RAISED, "Based on %lld %s; one site is one replicate, however many plants it has.", (long long)s->plan->n_sites,
            s->plan->n_sites == 1 ? "site" : "sites");
}

static void alone(const struct scene *s, struct site_caution *c)
{
    enum truth lone = s->facts->site->lone_work;
    if (lone == TRUTH_YES || s->plan->trouble > 0)
        set(s, c, CAUTION_RAISED, "%s%lld incidents of vandalism, theft or fire are recorded here.",
            lone == TRUTH_YES ? "Somebody works alone or at dusk; " : "", (long long)s->plan->trouble);
    else
        set(s, c, lone == TRUTH_NO ? CAUTION_NO_TRIGGER : CAUTION_NOT_CHECKED,
            lone == TRUTH_NO ? "Nobody works alone, and no trouble is recorded."
                             : "Who works alone, and where trouble has been, is not recorded.");
}

static void law(const struct scene *s, struct site_caution *c)
{
    set(s, c, CAUTION_RAISED, "Always shown.");
}

void caution_judge(size_t caution, const struct scene *scene, struct site_caution *out)
{
    static void (*const judges[SITE_CAUTIONS])(const struct scene *s, struct site_caution *c) = {
        services,  overhead, contaminated,  asbestos,  sharps,  roads,     clay,         roots,    water,   handling,    machines,
        stability, thorns,   outdoors,      hazardous, weather, chemicals, plant_health, invasive, nests,   open_ground, archaeology,
        felling,   drainage, soil_movement, fire,      people,  wildlife,  edible,       carbon,   honesty, alone,       law};
    require(caution < SITE_CAUTIONS);
    judges[caution](scene, out);
}
