/* SPDX-License-Identifier: GPL-3.0-or-later
 * Distances by species: how far each keeps from each constraint, as figures, as zones for layout, and asked of a place. */
#include "site/sitefigure.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void keep_raise(struct site_keep *keep, double metres, enum site_grade grade, const char *source, const char *why)
{
    if (metres <= keep->metres)
        return;
    keep->metres = metres;
    keep->grade = grade;
    keep->source = source;
    keep->why = why;
}

static void keep_building(const struct site_facts *facts, const struct site_plant *plant, const char *name, struct arena *arena,
                          struct site_keep *keep)
{
    double reach = water_demand_reach(plant->water_demand == WATER_DEMAND_UNKNOWN ? WATER_DEMAND_HIGH : plant->water_demand);
    if (facts->site->clay == CLAY_STATE_NOT_SHRINKABLE)
        return;
    bool if_clay = facts->site->clay == CLAY_STATE_UNKNOWN;
    double height = is_known(plant->clay_height_m) ? plant->clay_height_m : plant->mature_height_m;
    double zone = site_clay_zone_m(plant->water_demand, height);
    const char *demand = plant->water_demand == WATER_DEMAND_UNKNOWN
                             ? "water demand not known, taken as high"
                             : arena_print(arena, "%s water demand", plain_word(arena, WORDS_WATER_DEMAND, (int)plant->water_demand));
    keep->if_clay = if_clay;
    if (!is_known(zone)) {
        keep->figure_known = false;
        keep->why = arena_print(arena, "%s from %s: its mature height is not known, so its reach on %sclay is not.", plant->name, name,
                                if_clay ? "(possible) " : "");
        return;
    }
    keep_raise(keep, zone, GRADE_READ, "NHBC Standards 4.2: 1.25, 0.75 or 0.5 × mature height; an engineer decides",
               arena_print(arena, "%s %s m from %s%s: %s × %s m mature height (%s).", plant->name, short_number(arena, zone), name,
                           if_clay ? ", if the ground is shrinkable clay, which is not checked" : " on shrinkable clay",
                           short_number(arena, reach), short_number(arena, height), demand));
}

static void keep_overhead(const struct site_plant *plant, const char *name, struct arena *arena, struct site_keep *keep)
{
    if (!is_known(plant->mature_height_m)) {
        keep->figure_known = false;
        keep->why = arena_print(arena, "%s from %s: its mature height is not known.", plant->name, name);
        return;
    }
    keep_raise(keep, plant->mature_height_m, GRADE_PUBLISHED, "HSE GS6 (from memory): mature height must fall clear; the operator decides",
               arena_print(arena, "%s %s m from %s: its mature height, so that it falls clear.", plant->name,
                           short_number(arena, plant->mature_height_m), name));
}

/* A mature stem of the 600 mm class: a canopy species, as far as is recorded. */
static enum outcome keep_service(const struct site_facts *facts, const struct constraint *c, const struct site_plant *plant,
                                 const char *name, struct arena *arena, struct site_keep *keep, struct failure *why)
{
    struct figure figure;
    if (plant->layer != LAYER_CANOPY && plant->layer != LAYER_UNKNOWN)
        return OUTCOME_OK;
    bool deep = is_known(c->depth_m) && c->depth_m >= 1;
    enum outcome outcome = figure_find(facts, deep ? "keep.tall_tree.service_deep" : "keep.tall_tree.service_shallow", arena, &figure, why);
    if (outcome == OUTCOME_OK)
        keep_raise(keep, figure.value, figure.grade, figure.source,
                   arena_print(arena, "%s %s m from %s: a future large tree beside a service %s.", plant->name,
                               short_number(arena, figure.value), name,
                               deep                   ? "deeper than 1 m"
                               : is_known(c->depth_m) ? "less than 1 m deep"
                                                      : "of unknown depth"));
    return outcome;
}

static enum outcome keep_people(const struct site_facts *facts, const struct site_plant *plant, const char *name, struct arena *arena,
                                struct site_keep *keep, struct failure *why)
{
    struct figure thorny, hazard;
    enum outcome outcome = figure_find(facts, "keep.thorny", arena, &thorny, why);
    if (outcome == OUTCOME_OK)
        outcome = figure_find(facts, "keep.hazard", arena, &hazard, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (plant->thorny == TRUTH_YES)
        keep_raise(keep, thorny.value, thorny.grade, thorny.source,
                   arena_print(arena, "%s %s m from %s: thorny.", plant->name, short_number(arena, thorny.value), name));
    if (!text_blank(plant->hazard))
        keep_raise(keep, hazard.value, hazard.grade, hazard.source,
                   arena_print(arena, "%s %s m from %s: %s.", plant->name, short_number(arena, hazard.value), name, plant->hazard));
    return OUTCOME_OK;
}

static enum outcome keep_make(const struct site_facts *facts, const struct site_zone *zone, const struct site_plant *plant,
                              struct arena *arena, struct site_keep *keep, struct failure *why)
{
    const struct constraint *c = &facts->constraints[zone->constraint];
    const char *name = constraint_name(c, arena);
    *keep = (struct site_keep){
        .constraint = zone->constraint,
        .figure_known = zone->figure_known,
        .metres = zone->standoff_m,
        .grade = zone->grade,
        .source = zone->source,
        .why = arena_print(arena, "%s m from %s, as any planting (%s).", short_number(arena, zone->standoff_m), name, zone->figures)};
    switch (c->kind) {
    case CONSTRAINT_KIND_BUILDING:
        keep_building(facts, plant, name, arena, keep);
        return OUTCOME_OK;
    case CONSTRAINT_KIND_OVERHEAD_LINE:
        keep_overhead(plant, name, arena, keep);
        return OUTCOME_OK;
    case CONSTRAINT_KIND_BURIED_SERVICE:
        return keep_service(facts, c, plant, name, arena, keep, why);
    case CONSTRAINT_KIND_PATH:
    case CONSTRAINT_KIND_ROAD:
    case CONSTRAINT_KIND_PLAY_AREA:
    case CONSTRAINT_KIND_FENCE:
        return keep_people(facts, plant, name, arena, keep, why);
    default:
        return OUTCOME_OK;
    }
}

enum outcome site_species_distance(const struct site_facts *facts, const struct site_plant *plant, struct arena *arena,
                                   struct site_keep **keeps, size_t *n, struct failure *why)
{
    struct site_zone *zones = NULL;
    size_t of = 0;
    enum outcome outcome = site_zones(facts, arena, &zones, &of, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct site_keep *list = arena_array(arena, of + 1, sizeof *list);
    for (size_t i = 0; i < of && outcome == OUTCOME_OK; i++)
        outcome = keep_make(facts, &zones[i], plant, arena, &list[i], why);
    if (outcome != OUTCOME_OK)
        return outcome;
    *keeps = list;
    *n = of;
    return OUTCOME_OK;
}

/* keeps[plant * n_zones + zone] */
static enum outcome all_keeps(const struct site_facts *facts, const struct site_zone *zones, size_t n_zones,
                              const struct site_plant *plants, size_t n_plants, struct arena *arena, struct site_keep **out,
                              struct failure *why)
{
    struct site_keep *keeps = arena_array(arena, n_zones * n_plants + 1, sizeof *keeps);
    enum outcome outcome = OUTCOME_OK;
    for (size_t p = 0; p < n_plants; p++)
        for (size_t z = 0; z < n_zones && outcome == OUTCOME_OK; z++)
            outcome = keep_make(facts, &zones[z], &plants[p], arena, &keeps[p * n_zones + z], why);
    *out = keeps;
    return outcome;
}

static int by_value(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

enum outcome site_species_zones(const struct site_facts *facts, const struct site_plant *plants, size_t n_plants, struct arena *arena,
                                struct site_species_zone **out, size_t *n, struct failure *why)
{
    struct site_zone *zones = NULL;
    struct site_keep *keeps = NULL;
    size_t n_zones = 0, made = 0;
    enum outcome outcome = site_zones(facts, arena, &zones, &n_zones, why);
    if (outcome == OUTCOME_OK)
        outcome = all_keeps(facts, zones, n_zones, plants, n_plants, arena, &keeps, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct site_species_zone *list = arena_array(arena, n_zones * n_plants + 1, sizeof *list);
    double *distances = arena_array(arena, n_plants + 1, sizeof *distances);
    for (size_t z = 0; z < n_zones; z++) {
        const struct constraint *c = &facts->constraints[zones[z].constraint];
        struct shape drawn, from;
        size_t k = 0;
        for (size_t p = 0; p < n_plants; p++)
            if (keeps[p * n_zones + z].metres > zones[z].standoff_m + 1e-6)
                distances[k++] = keeps[p * n_zones + z].metres;
        qsort(distances, k, sizeof *distances, by_value);
        outcome = shape_from_wkb(c->wkb, arena, &drawn, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        from = distance_origin(c, &drawn, arena);
        for (size_t i = 0; i < k; i++) {
            if (i > 0 && distances[i] <= distances[i - 1] + 1e-6)
                continue;
            struct site_species_zone *zone = &list[made++];
            zone->constraint = zones[z].constraint;
            zone->metres = distances[i];
            zone->forbids = arena_array(arena, n_plants, sizeof *zone->forbids);
            for (size_t p = 0; p < n_plants; p++) {
                const struct site_keep *keep = &keeps[p * n_zones + z];
                zone->forbids[p] = keep->metres >= distances[i] - 1e-6;
                if (zone->why == NULL && fabs(keep->metres - distances[i]) <= 1e-6)
                    zone->why = keep->why;
            }
            outcome = shape_buffer(&from, distances[i], arena, &zone->ground, why);
            if (outcome != OUTCOME_OK)
                return outcome;
        }
    }
    *out = list;
    *n = made;
    return OUTCOME_OK;
}

/* ---- many places ---- */

struct site_watch {
    struct arena arena;
    size_t n_zones, n_plants;
    struct shape_finder **finders;
    struct site_keep *keeps;
};

enum outcome site_watch_new(const struct site_facts *facts, const struct site_plant *plants, size_t n_plants, struct site_watch **out,
                            struct failure *why)
{
    struct site_watch *watch = memory_get(1, sizeof *watch);
    struct site_zone *zones = NULL;
    memset(watch, 0, sizeof *watch);
    watch->n_plants = n_plants;
    enum outcome outcome = site_zones(facts, &watch->arena, &zones, &watch->n_zones, why);
    if (outcome == OUTCOME_OK)
        outcome = all_keeps(facts, zones, watch->n_zones, plants, n_plants, &watch->arena, &watch->keeps, why);
    watch->finders = arena_array(&watch->arena, watch->n_zones + 1, sizeof(struct shape_finder *));
    for (size_t z = 0; z < watch->n_zones && outcome == OUTCOME_OK; z++) {
        const struct constraint *c = &facts->constraints[zones[z].constraint];
        struct shape drawn;
        outcome = shape_from_wkb(c->wkb, &watch->arena, &drawn, why);
        struct shape from = outcome == OUTCOME_OK ? distance_origin(c, &drawn, &watch->arena) : (struct shape){0};
        if (outcome == OUTCOME_OK)
            outcome = shape_finder_new(&from, &watch->finders[z], why);
    }
    if (outcome != OUTCOME_OK) {
        site_watch_free(watch);
        return outcome;
    }
    *out = watch;
    return OUTCOME_OK;
}

void site_watch_free(struct site_watch *watch)
{
    if (watch == NULL)
        return;
    for (size_t z = 0; watch->finders != NULL && z < watch->n_zones; z++)
        shape_finder_free(watch->finders[z]);
    arena_clear(&watch->arena);
    free(watch);
}

struct site_answer site_watch_ask(const struct site_watch *watch, size_t plant, double x_m, double y_m)
{
    struct site_answer answer = {
        .allowed = true, .clearance_m = unknown_real(), .constraint = SIZE_MAX, .distance_m = unknown_real(), .keep_m = unknown_real()};
    require(plant < watch->n_plants);
    for (size_t z = 0; z < watch->n_zones; z++) {
        const struct site_keep *keep = &watch->keeps[plant * watch->n_zones + z];
        double distance = shape_finder_distance(watch->finders[z], x_m, y_m), clearance = distance - keep->metres;
        if (clearance < -1e-6 || distance == 0)
            answer.allowed = false;
        if (is_known(answer.clearance_m) && clearance >= answer.clearance_m)
            continue;
        answer.clearance_m = clearance;
        answer.constraint = keep->constraint;
        answer.distance_m = distance;
        answer.keep_m = keep->metres;
        answer.why = keep->why;
    }
    return answer;
}
