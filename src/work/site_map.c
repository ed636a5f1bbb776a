/* SPDX-License-Identifier: GPL-3.0-or-later
 * The map of a site out of its rows. */
#include "work/site_map.h"

static bool can_hurt(enum constraint_kind kind)
{
    return kind == CONSTRAINT_KIND_BURIED_SERVICE || kind == CONSTRAINT_KIND_OVERHEAD_LINE || kind == CONSTRAINT_KIND_CONTAMINATION ||
           kind == CONSTRAINT_KIND_INVASIVE_PLANT || kind == CONSTRAINT_KIND_RAILWAY;
}

static enum outcome zones_fill(const struct site_map_wish *wish, struct arena *arena, struct map *map, struct failure *why)
{
    const struct site_facts *facts = wish->facts;
    if (facts == NULL || facts->n_constraints == 0)
        return OUTCOME_OK;
    struct map_zone *zones = arena_array(arena, facts->n_constraints, sizeof *zones);
    for (size_t i = 0; i < facts->n_constraints; i++) {
        const struct constraint *constraint = &facts->constraints[i];
        struct shape *shape = arena_alloc(arena, sizeof *shape);
        enum outcome outcome = load_shape(constraint->wkb, arena, shape, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        if (shape->kind == SHAPE_NONE)
            continue;
        struct map_zone *zone = &zones[map->n_zones++];
        zone->shape = shape;
        zone->kind = word_plain(WORDS_CONSTRAINT_KIND, (int)constraint->kind, arena);
        zone->caution = can_hurt(constraint->kind);
        zone->label = constraint->label;
        for (size_t j = 0; j < wish->n_zones; j++)
            if (wish->zones[j].constraint == i) {
                char metres[64];
                number_fixed(wish->zones[j].standoff_m, 1, metres);
                zone->standoff = &wish->zones[j].ground;
                zone->label = arena_print(arena, "%s %s m%s", constraint->label == NULL ? zone->kind : constraint->label, metres,
                                          wish->zones[j].figure_known ? "" : "?");
            }
    }
    map->zones = zones;
    return OUTCOME_OK;
}

static enum outcome areas_fill(const struct site_map_wish *wish, struct arena *arena, struct map *map, struct failure *why)
{
    struct map_area *areas = arena_array(arena, wish->n_plots + 1, sizeof *areas);
    if (wish->plantable != NULL && wish->plantable->kind != SHAPE_NONE)
        areas[map->n_areas++] = (struct map_area){wish->plantable, wish->n_plots == 0 ? "plantable" : NULL, false, MAP_FILL_WASH};
    for (size_t i = 0; i < wish->n_plots; i++) {
        struct shape *shape = arena_alloc(arena, sizeof *shape);
        enum outcome outcome = load_shape(wish->plots[i].wkb, arena, shape, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        if (shape->kind != SHAPE_NONE)
            areas[map->n_areas++] = (struct map_area){shape, wish->plots[i].code, true, MAP_FILL_NONE};
    }
    map->areas = areas;
    return OUTCOME_OK;
}

static enum outcome plants_fill(const struct site_map_wish *wish, struct arena *arena, struct map *map, struct failure *why)
{
    struct map_plant *plants = arena_array(arena, wish->n_positions, sizeof *plants);
    for (size_t i = 0; i < wish->n_positions; i++)
        plants[i] = (struct map_plant){wish->positions[i].x_m, wish->positions[i].y_m, (int)wish->positions[i].layer, NULL, false};
    struct map_cell *cells = arena_array(arena, wish->n_cells, sizeof *cells);
    for (size_t i = 0; i < wish->n_cells; i++) {
        struct shape *shape = arena_alloc(arena, sizeof *shape);
        enum outcome outcome = load_shape(wish->cells[i].wkb, arena, shape, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        cells[i] = (struct map_cell){shape, wish->cells[i].code};
    }
    map->plants = plants;
    map->n_plants = wish->n_positions;
    map->cells = cells;
    map->n_cells = wish->n_cells;
    return OUTCOME_OK;
}

enum outcome site_map_fill(const struct site_map_wish *wish, struct arena *arena, struct map *map, struct failure *why)
{
    struct shape *outline = arena_alloc(arena, sizeof *outline);
    struct crs_info info;
    const char *code = crs_code(wish->programme, arena);
    *map = (struct map){.title = wish->title, .outline_label = wish->site->code, .legend = true, .extent = wish->extent};
    map->convergence_deg = unknown_real();
    enum outcome outcome = load_shape(wish->site->wkb, arena, outline, why);
    if (outcome == OUTCOME_OK && outline->kind != SHAPE_NONE)
        map->outline = outline;
    map->crs = crs_describe(code, arena, &info, NULL) == OUTCOME_OK ? arena_print(arena, "%s, %s", code, info.name) : code;
    if (outcome == OUTCOME_OK)
        outcome = areas_fill(wish, arena, map, why);
    if (outcome == OUTCOME_OK)
        outcome = zones_fill(wish, arena, map, why);
    if (outcome == OUTCOME_OK)
        outcome = plants_fill(wish, arena, map, why);
    return outcome;
}

void section_drawing(json_t *section, struct drawing *drawing)
{
    struct text svg = {0};
    drawing_svg(drawing, false, &svg);
    section_figure(section, drawing_title(drawing), text_get(&svg), drawing_about(drawing));
    text_free(&svg);
    drawing_free(drawing);
}

enum outcome site_map_figure(const struct site_map_wish *wish, json_t *section, struct arena *arena, struct failure *why)
{
    struct map map;
    struct drawing *drawing = NULL;
    enum outcome outcome = site_map_fill(wish, arena, &map, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (map.outline == NULL && map.n_areas == 0 && map.n_zones == 0) {
        section_text(section, "Nothing of this site is drawn yet.");
        return OUTCOME_OK;
    }
    outcome = map_draw(&map, &drawing, NULL, why);
    if (outcome == OUTCOME_OK)
        section_drawing(section, drawing);
    return outcome;
}
