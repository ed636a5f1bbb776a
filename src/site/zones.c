/* SPDX-License-Identifier: GPL-3.0-or-later
 * The zone of every constraint, and what is left of a wanted plot when they are netted off. */
#include "site/sitefigure.h"
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

enum { MOST_STANDOFF_M = 500 };

void add_sentence(struct arena *arena, const char ***list, size_t *n, const char *format, ...)
{
    char words[1200];
    va_list rest;
    va_start(rest, format);
    vsnprintf(words, sizeof words, format, rest);
    va_end(rest);
    const char **longer = arena_array(arena, *n + 1, sizeof *longer);
    if (*n > 0)
        memcpy(longer, *list, *n * sizeof *longer);
    longer[(*n)++] = arena_text(arena, words);
    *list = longer;
}

const char *short_number(struct arena *arena, double x)
{
    char number[64];
    number_fixed(x, 2, number);
    size_t n = strlen(number);
    while (n > 0 && number[n - 1] == '0')
        n--;
    if (n > 0 && number[n - 1] == '.')
        n--;
    return arena_text_n(arena, number, n);
}

const char *plain_word(struct arena *arena, enum word_list list, int value)
{
    char *word = arena_text(arena, word_of(list, value));
    for (char *c = word; *c != '\0'; c++)
        *c = *c == '_' ? ' ' : *c;
    return word;
}

const char *constraint_name(const struct constraint *c, struct arena *arena)
{
    if (!text_blank(c->label))
        return c->label;
    if (c->kind == CONSTRAINT_KIND_BURIED_SERVICE && c->service != SERVICE_KIND_UNKNOWN)
        return arena_print(arena, "the buried %s service", plain_word(arena, WORDS_SERVICE_KIND, (int)c->service));
    return arena_print(arena, "the %s", plain_word(arena, WORDS_CONSTRAINT_KIND, (int)c->kind));
}

bool constraint_here(const struct site_facts *facts, const struct constraint *c)
{
    return c->wkb.n > 0 && (c->site_id == facts->site->id || c->site_id == 0);
}

const struct local_rule *rule_find(const struct site_facts *facts, const char *key)
{
    const struct local_rule *best = NULL;
    for (size_t i = 0; i < facts->n_rules; i++) {
        const struct local_rule *rule = &facts->rules[i];
        bool own = rule->site_id == facts->site->id && rule->site_id != 0;
        if (!text_same(rule->topic, key) || !is_known(rule->value_num) || (rule->site_id != 0 && !own))
            continue;
        bool best_own = best != NULL && best->site_id != 0;
        if (best == NULL || (own && !best_own) || (own == best_own && rule->said_on >= best->said_on))
            best = rule;
    }
    return best;
}

static enum outcome rule_distance(const struct local_rule *rule, struct failure *why)
{
    if (!text_blank(rule->unit) && !text_same(rule->unit, "m")) {
        fail(why, OUTCOME_DATA, "The local rule “%s” is in “%s”, and a distance has to be in metres.", rule->topic, rule->unit);
        return failure_remedy(why, "Write it in m.");
    }
    if (!(rule->value_num >= 0 && rule->value_num <= MOST_STANDOFF_M)) {
        fail(why, OUTCOME_DATA, "The local rule “%s” of %g m is not between 0 and %d m.", rule->topic, rule->value_num, MOST_STANDOFF_M);
        return failure_remedy(why, "Ask %s again.", text_blank(rule->said_by) ? "whoever gave it" : rule->said_by);
    }
    return OUTCOME_OK;
}

enum outcome figure_find(const struct site_facts *facts, const char *key, struct arena *arena, struct figure *out, struct failure *why)
{
    struct figure figure = {.value = 0, .default_m = unknown_real(), .source = "no figure is known"};
    for (size_t i = 0; i < site_n_defaults; i++)
        if (text_same(site_defaults[i].key, key)) {
            const struct site_default *d = &site_defaults[i];
            figure = (struct figure){is_known(d->metres), is_known(d->metres) ? d->metres : d->meanwhile_m, d->metres, d->grade, d->source};
        }
    const struct local_rule *rule = rule_find(facts, key);
    if (rule != NULL) {
        enum outcome outcome = rule_distance(rule, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        char day[16];
        date_write(rule->said_on, day);
        figure.known = true;
        figure.value = rule->value_num;
        figure.grade = GRADE_LOCAL;
        figure.source = arena_print(arena, "local rule: %s%s%s%s%s", text_blank(rule->said_by) ? "nobody named" : rule->said_by,
                                    day[0] != '\0' ? ", " : "", day, text_blank(rule->source) ? "" : ", ",
                                    text_blank(rule->source) ? "" : rule->source);
    }
    *out = figure;
    return OUTCOME_OK;
}

/* ---- one zone ---- */

static bool is_tree(enum constraint_kind kind)
{
    return kind == CONSTRAINT_KIND_EXISTING_TREE || kind == CONSTRAINT_KIND_VETERAN_TREE;
}

/* Channels over 2 m wide: an area is as wide as twice its size over its outline, for a long shape. */
static bool water_wide(const struct shape *shape)
{
    return shape->kind == SHAPE_POLYGONS && 2 * shape_area_m2(shape) / shape_length_m(shape) > 2;
}

static const char *key_of(const struct constraint *c, const struct shape *shape, struct arena *arena)
{
    if (c->kind == CONSTRAINT_KIND_BURIED_SERVICE) {
        enum service_kind service = c->service == SERVICE_KIND_UNKNOWN ? SERVICE_KIND_UNLISTED : c->service;
        return arena_print(arena, "standoff.buried_service.%s", word_of(WORDS_SERVICE_KIND, (int)service));
    }
    if (c->kind == CONSTRAINT_KIND_WATER && water_wide(shape))
        return "standoff.water.wide";
    if (c->kind == CONSTRAINT_KIND_SIGHT_LINE && shape->kind == SHAPE_LINES)
        return "standoff.sight_line.line";
    if (c->kind == CONSTRAINT_KIND_UNKNOWN)
        return "standoff.other";
    return arena_print(arena, "standoff.%s", word_of(WORDS_CONSTRAINT_KIND, (int)c->kind));
}

static enum outcome stem_check(const struct constraint *c, struct arena *arena, struct failure *why)
{
    if (!is_known(c->stem_diameter_m) || (c->stem_diameter_m > 0 && c->stem_diameter_m <= 5))
        return OUTCOME_OK;
    fail(why, OUTCOME_DATA, "%s: a stem of %s m is not possible.", constraint_name(c, arena), short_number(arena, c->stem_diameter_m));
    failure_at(why, NULL, 0, "stem_diameter_m");
    if (c->stem_diameter_m > 5 && c->stem_diameter_m <= 500)
        return failure_remedy(why, "If it was measured in cm, write %s.", short_number(arena, c->stem_diameter_m / 100));
    return failure_remedy(why, "Give the diameter in metres, measured 1.5 m above the ground.");
}

/* Computed radius of a tree into the figure; the sentence of its numbers. */
static void tree_figure(const struct constraint *c, struct arena *arena, struct site_zone *zone, struct figure *figure)
{
    double stems = c->stem_count == INT_UNKNOWN || c->stem_count < 1 ? 1 : (double)c->stem_count;
    double stem = c->stem_diameter_m * sqrt(stems), most = stem > 5 ? 5 : stem; /* many stems together may pass 5 m; NaN stays */
    double root = site_root_radius_m(most), radius = root;
    const char *several = stems > 1
                              ? arena_print(arena, " (%g stems of %s m: √%g × %s = %s m)", stems, short_number(arena, c->stem_diameter_m),
                                            stems, short_number(arena, c->stem_diameter_m), short_number(arena, stem))
                              : "";
    zone->figures = arena_print(arena, "12 × %s m stem = %s m%s%s", short_number(arena, stem), short_number(arena, 12 * stem),
                                12 * stem > 15 ? ", capped at 15 m" : "", several);
    if (c->kind == CONSTRAINT_KIND_VETERAN_TREE) {
        radius = site_veteran_radius_m(most, c->canopy_radius_m);
        zone->figures =
            arena_print(arena, "the larger of 15 × %s m stem and %s m crown + 5 m", is_known(stem) ? short_number(arena, stem) : "unknown",
                        is_known(c->canopy_radius_m) ? short_number(arena, c->canopy_radius_m) : "unknown");
    }
    if (is_known(radius) && figure->grade != GRADE_LOCAL) {
        figure->value = radius;
        figure->known = is_known(stem) && (c->kind == CONSTRAINT_KIND_EXISTING_TREE || is_known(c->canopy_radius_m));
    } else if (!is_known(radius))
        zone->figures = "stem diameter not recorded";
    figure->default_m = radius;
    double drawn = is_known(root) ? root : 15;
    zone->root_area_m2 = M_PI * drawn * drawn;
}

static const char *remark_of(const struct site_zone *zone, const struct constraint *c, struct arena *arena)
{
    if (!zone->figure_known && is_tree(c->kind))
        return arena_print(arena, "%s not recorded: %s m drawn meanwhile. Measure it.",
                           is_known(c->stem_diameter_m) ? "The reach of the crown is" : "The stem is",
                           short_number(arena, zone->standoff_m));
    if (!zone->figure_known)
        return arena_print(arena, "No distance is known for it: %s m drawn meanwhile, which clears nothing. Ask: %s.",
                           short_number(arena, zone->standoff_m), zone->source);
    if (is_known(zone->default_m) && zone->standoff_m < zone->default_m - 0.005)
        return arena_print(arena, "%s m is less than the usual %s m: look who said so.", short_number(arena, zone->standoff_m),
                           short_number(arena, zone->default_m));
    if (c->kind == CONSTRAINT_KIND_BURIED_SERVICE && c->checked_on == DATE_UNKNOWN)
        return "Its position was not checked on the ground: a drawn line may be half a metre out, or more.";
    return NULL;
}

struct shape distance_origin(const struct constraint *c, const struct shape *drawn, struct arena *arena)
{
    double at[2];
    if (!is_tree(c->kind) || drawn->kind == SHAPE_POINTS)
        return *drawn;
    shape_centre(drawn, &at[0], &at[1]); /* an outline of the crown: the stem is taken at its centre */
    return shape_points(arena, at, 1);
}

static enum outcome zone_shape(const struct constraint *c, const struct shape *drawn, double distance_m, struct arena *arena,
                               struct shape *out, struct failure *why)
{
    struct shape from = distance_origin(c, drawn, arena);
    if (distance_m == 0 && from.kind == SHAPE_POLYGONS) {
        *out = from;
        return OUTCOME_OK;
    }
    /* A line or point with no stand-off still takes the ground it stands on. */
    return shape_buffer(&from, fmax(distance_m, 0.05), arena, out, why);
}

static enum outcome zone_make(const struct site_facts *facts, size_t i, struct arena *arena, struct site_zone *zone, struct failure *why)
{
    const struct constraint *c = &facts->constraints[i];
    struct shape drawn;
    struct figure figure;
    *zone = (struct site_zone){.constraint = i, .root_area_m2 = unknown_real()};
    enum outcome outcome = shape_from_wkb(c->wkb, arena, &drawn, why);
    if (outcome == OUTCOME_OK)
        outcome = stem_check(c, arena, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    zone->key = key_of(c, &drawn, arena);
    outcome = figure_find(facts, zone->key, arena, &figure, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (is_tree(c->kind))
        tree_figure(c, arena, zone, &figure);
    if (is_known(c->standoff_m)) {
        if (!(c->standoff_m >= 0 && c->standoff_m <= MOST_STANDOFF_M)) {
            fail(why, OUTCOME_DATA, "%s: a stand-off of %g m is not between 0 and %d m.", constraint_name(c, arena), c->standoff_m,
                 MOST_STANDOFF_M);
            return failure_at(why, NULL, 0, "standoff_m");
        }
        figure.known = true;
        figure.value = c->standoff_m;
        figure.grade = GRADE_LOCAL;
        figure.source = text_blank(c->standoff_source) ? "set by hand, nobody named" : c->standoff_source;
        zone->figures = arena_print(arena, "%s m set for this one", short_number(arena, c->standoff_m));
    } else if (figure.grade == GRADE_LOCAL || zone->figures == NULL)
        zone->figures = figure.known ? arena_print(arena, "%s m", short_number(arena, figure.value)) : "no figure";
    zone->figure_known = figure.known;
    zone->standoff_m = figure.value;
    zone->default_m = figure.default_m;
    zone->grade = figure.known ? figure.grade : GRADE_NONE;
    zone->source = figure.source;
    zone->remark = remark_of(zone, c, arena);
    return zone_shape(c, &drawn, zone->standoff_m, arena, &zone->ground, why);
}

enum outcome site_zones(const struct site_facts *facts, struct arena *arena, struct site_zone **out, size_t *n, struct failure *why)
{
    struct site_zone *zones = arena_array(arena, facts->n_constraints + 1, sizeof *zones);
    size_t made = 0;
    for (size_t i = 0; i < facts->n_constraints; i++) {
        if (!constraint_here(facts, &facts->constraints[i]))
            continue;
        enum outcome outcome = zone_make(facts, i, arena, &zones[made++], why);
        if (outcome != OUTCOME_OK) {
            if (why != NULL)
                why->row = (long)i + 1;
            return outcome;
        }
    }
    *out = zones;
    *n = made;
    return OUTCOME_OK;
}

/* ---- netting off ---- */

static bool boxes_meet(const struct shape *a, const struct shape *b)
{
    struct box p = shape_box(a), q = shape_box(b);
    return p.x_least <= q.x_most && q.x_least <= p.x_most && p.y_least <= q.y_most && q.y_least <= p.y_most;
}

static enum outcome root_circle(const struct site_zone *zone, const struct constraint *c, struct arena *arena, struct shape *out,
                                struct failure *why)
{
    struct shape drawn;
    enum outcome outcome = shape_from_wkb(c->wkb, arena, &drawn, why);
    return outcome != OUTCOME_OK ? outcome : zone_shape(c, &drawn, sqrt(zone->root_area_m2 / M_PI), arena, out, why);
}

/* What each zone takes of the outline: clips[i] (empty where they do not meet), and the tree's root protection area. */
static enum outcome zone_clip(const struct site_facts *facts, const struct shape *outline, struct site_zone *zone, struct shape *clip,
                              struct shape *roots, size_t *n_roots, struct arena *arena, struct failure *why)
{
    const struct constraint *c = &facts->constraints[zone->constraint];
    enum outcome outcome = OUTCOME_OK;
    struct shape both = {0}, circle;
    if (is_tree(c->kind)) {
        outcome = root_circle(zone, c, arena, &circle, why);
        if (outcome == OUTCOME_OK && boxes_meet(outline, &circle))
            outcome = shape_intersect(outline, &circle, arena, &both, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        zone->root_overlap_m2 = shape_area_m2(&both);
        if (zone->root_overlap_m2 > 0)
            roots[(*n_roots)++] = both;
    }
    *clip = (struct shape){0};
    if (boxes_meet(outline, &zone->ground))
        outcome = shape_intersect(outline, &zone->ground, arena, clip, why);
    if (outcome == OUTCOME_OK && clip->kind != SHAPE_POLYGONS)
        *clip = (struct shape){0};
    zone->alone_m2 = shape_area_m2(clip);
    return outcome;
}

/* What clip i takes beyond those before it: only neighbours whose boxes meet are looked at. */
static enum outcome clip_more(const struct shape *clips, size_t i, double *more_m2, struct arena *arena, struct failure *why)
{
    struct shape *before = arena_array(arena, i + 1, sizeof *before), all, rest;
    size_t n = 0;
    *more_m2 = shape_area_m2(&clips[i]);
    for (size_t k = 0; k < i && clips[i].n_parts > 0; k++)
        if (clips[k].n_parts > 0 && boxes_meet(&clips[i], &clips[k]))
            before[n++] = clips[k];
    if (n == 0)
        return OUTCOME_OK;
    enum outcome outcome = shape_unite(before, n, arena, &all, why);
    if (outcome == OUTCOME_OK)
        outcome = shape_subtract(&clips[i], &all, arena, &rest, why);
    if (outcome == OUTCOME_OK)
        *more_m2 = shape_area_m2(&rest);
    return outcome;
}

static void open_questions(const struct site_facts *facts, struct site_net *net, const struct site_topic *topics, size_t n_topics,
                           struct arena *arena)
{
    net->figures_complete = true;
    for (size_t i = 0; i < net->n_zones; i++)
        if (!net->zones[i].figure_known) {
            net->figures_complete = false;
            add_sentence(arena, &net->open, &net->n_open, "%s: %s", constraint_name(&facts->constraints[net->zones[i].constraint], arena),
                         net->zones[i].remark);
        }
    for (size_t i = 0; i < n_topics; i++)
        if ((topics[i].topic == CHECK_TOPIC_SERVICES || topics[i].topic == CHECK_TOPIC_OVERHEAD_LINES) && !topics[i].passes) {
            net->figures_complete = false;
            add_sentence(arena, &net->open, &net->n_open, "%s. %s", topics[i].words, topics[i].missing);
        }
    if (facts->site->clay == CLAY_STATE_UNKNOWN)
        add_sentence(arena, &net->open, &net->n_open, "clay: not checked. Distances by species are shown as if it were shrinkable clay.");
}

enum outcome site_net_off(const struct site_facts *facts, const struct shape *outline, struct arena *arena, struct site_net *out,
                          struct failure *why)
{
    struct site_net net = {.gross_m2 = shape_area_m2(outline)};
    if (outline->kind != SHAPE_POLYGONS || !(net.gross_m2 > 0)) {
        fail(why, OUTCOME_DATA, "The wanted plot has no area.");
        return failure_remedy(why, "Draw its outline.");
    }
    enum outcome outcome = site_zones(facts, arena, &net.zones, &net.n_zones, why);
    struct shape left = *outline, *roots = arena_array(arena, net.n_zones + 1, sizeof *roots), united, taken;
    struct shape *clips = arena_array(arena, net.n_zones + 1, sizeof *clips);
    size_t n_roots = 0, n_topics = 0;
    struct site_topic *topics = NULL;
    for (size_t i = 0; i < net.n_zones && outcome == OUTCOME_OK; i++)
        outcome = zone_clip(facts, outline, &net.zones[i], &clips[i], roots, &n_roots, arena, why);
    for (size_t i = 0; i < net.n_zones && outcome == OUTCOME_OK; i++)
        outcome = clip_more(clips, i, &net.zones[i].more_m2, arena, why);
    if (outcome == OUTCOME_OK)
        outcome = shape_unite(clips, net.n_zones, arena, &taken, why);
    if (outcome == OUTCOME_OK && taken.n_parts > 0)
        outcome = shape_subtract(outline, &taken, arena, &left, why);
    if (outcome == OUTCOME_OK && left.kind != SHAPE_POLYGONS)
        left = (struct shape){0};
    if (outcome == OUTCOME_OK)
        outcome = shape_unite(roots, n_roots, arena, &united, why);
    if (outcome == OUTCOME_OK)
        outcome = site_register(facts, arena, &topics, &n_topics, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    net.root_overlap_m2 = shape_area_m2(&united);
    net.plantable = left;
    net.net_m2 = shape_area_m2(&left);
    net.least_width_m = 2 * shape_widest_circle_m(&left);
    open_questions(facts, &net, topics, n_topics, arena);
    *out = net;
    return OUTCOME_OK;
}
