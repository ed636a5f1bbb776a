/* SPDX-License-Identifier: GPL-3.0-or-later
 * Loading, storing and showing a layout. */
#include "work/laying.h"
#include "draw/draw.h"
#include "work/site_map.h"
#include <math.h>

static enum outcome species_prepare(const json_t *in, struct laying *laying, struct site_plant *plants, struct arena *arena,
                                    struct failure *why)
{
    double thorny = option_number(in, "thorny_edge_m", 0);
    laying->species = arena_array(arena, laying->n_lines, sizeof *laying->species);
    for (size_t i = 0; i < laying->n_lines; i++) {
        struct species_match match;
        enum outcome outcome = species_find(&laying->library, laying->lines[i].species, arena, &match, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        const struct species_fact *fact = match.fact;
        plants[i] = site_plant_of(fact, laying->lines[i].species, laying->lines[i].layer);
        laying->species[i] = (struct layout_species){.name = laying->lines[i].species,
                                                     .layer = laying->lines[i].layer,
                                                     .plants = (size_t)laying->lines[i].plants,
                                                     .tall = laying->lines[i].layer == LAYER_CANOPY && fact != NULL &&
                                                             is_known(fact->height_most_m) && fact->height_most_m >= 20,
                                                     .inside = fact != NULL && is_known(fact->shade.value) && fact->shade.value >= 3.5,
                                                     .edge_least_m = fact != NULL && fact->thorny == TRUTH_YES ? thorny : 0};
    }
    return OUTCOME_OK;
}

static enum outcome zones_prepare(struct laying *laying, const struct site_plant *plants, struct arena *arena, struct failure *why)
{
    struct site_species_zone *zones = NULL;
    size_t n = 0;
    enum outcome outcome = site_species_zones(&laying->ground.facts, plants, laying->n_lines, arena, &zones, &n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    laying->zones = arena_array(arena, n, sizeof *laying->zones);
    for (size_t i = 0; i < n; i++)
        laying->zones[laying->n_zones++] = (struct layout_zone){zones[i].why, &zones[i].ground, zones[i].forbids};
    return OUTCOME_OK;
}

enum outcome laying_wish(const json_t *in, struct laying *laying, struct arena *arena, struct failure *why)
{
    struct site_plant *plants = arena_array(arena, laying->n_lines, sizeof *plants);
    double length_m = 0, depth_m = 0;
    bool conventional = laying->ground.plot.regime == REGIME_CONVENTIONAL;
    const char *pattern = option_text(in, "pattern", conventional ? "rows" : "irregular");
    if (!text_same(pattern, "rows") && !text_same(pattern, "irregular"))
        return fail(why, OUTCOME_USAGE, "pattern: \"%.60s\" is neither irregular nor rows.", pattern);
    enum outcome outcome = species_prepare(in, laying, plants, arena, why);
    if (outcome == OUTCOME_OK)
        outcome = zones_prepare(laying, plants, arena, why);
    struct layout_wish *wish = &laying->wish;
    *wish = (struct layout_wish){.ground = &laying->ground.net.plantable,
                                 .pattern = text_same(pattern, "rows") ? LAYOUT_ROWS : LAYOUT_IRREGULAR,
                                 .species = laying->species,
                                 .n_species = laying->n_lines,
                                 .zones = laying->zones,
                                 .n_zones = laying->n_zones,
                                 .edge_m = option_number(in, "edge_m", 0.3),
                                 .least_m = option_number(in, "least_m", 0),
                                 .seed = (uint64_t)option_integer(in, "seed", laying->plan.seed)};
    if (outcome == OUTCOME_OK)
        outcome = layout_baseline(wish->ground, &wish->origin_x_m, &wish->origin_y_m, &wish->bearing_deg, &length_m, &depth_m, why);
    wish->bearing_deg = option_number(in, "bearing_deg", wish->bearing_deg);
    return outcome;
}

/* The plan that gets the positions: this one if it has none yet, else a new one with the same mix. */
static enum outcome plan_for(const struct job_context *context, struct laying *laying, struct arena *arena, struct failure *why)
{
    struct position *positions = NULL;
    size_t n = 0;
    enum outcome outcome = plan_parts_load(context->store, laying->plan.id, arena, NULL, NULL, &positions, &n, NULL, NULL, why);
    if (outcome != OUTCOME_OK || n == 0)
        return outcome;
    struct plan fresh;
    outcome = plan_next(context->store, &laying->ground.plot, arena, &fresh, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    fresh.settings = laying->plan.settings;
    fresh.proof = laying->plan.proof;
    fresh.net_area_m2 = laying->ground.net.net_m2;
    fresh.made_on = context->today;
    fresh.seed = (int64_t)laying->wish.seed;
    fresh.note = arena_print(arena, "mix of plan %lld", (long long)laying->plan.version);
    outcome = store_add(context->store, NOUN_PLAN, &fresh, 1, why);
    for (size_t i = 0; i < laying->n_lines; i++) {
        laying->lines[i].id = 0;
        laying->lines[i].uuid = (struct uuid){{0}};
        laying->lines[i].plan_id = fresh.id;
    }
    if (outcome == OUTCOME_OK)
        outcome = store_add(context->store, NOUN_MIX_LINE, laying->lines, laying->n_lines, why);
    laying->plan = fresh;
    return outcome;
}

static enum outcome rows_add(const struct job_context *context, struct laying *laying, struct arena *arena, struct failure *why)
{
    const struct layout *layout = &laying->layout;
    struct cell *cells = arena_array(arena, layout->n_cells, sizeof *cells);
    struct position *positions = arena_array(arena, layout->n_positions, sizeof *positions);
    double turn = (90.0 - laying->wish.bearing_deg) * 3.14159265358979323846 / 180.0, ux = cos(turn), uy = sin(turn);
    for (size_t i = 0; i < layout->n_cells; i++) {
        double along = layout->cells[i].column, across = layout->cells[i].row;
        double x = laying->wish.origin_x_m + ux * along - uy * across, y = laying->wish.origin_y_m + uy * along + ux * across;
        struct shape square = shape_rectangle(arena, x, y, 1, 1, turn);
        noun_init(NOUN_CELL, &cells[i]);
        cells[i].plan_id = laying->plan.id;
        cells[i].code = layout->cells[i].code;
        cells[i].row_index = layout->cells[i].row;
        cells[i].column_index = layout->cells[i].column;
        cells[i].wkb = shape_to_wkb(&square, arena);
    }
    enum outcome outcome = store_add(context->store, NOUN_CELL, cells, layout->n_cells, why);
    for (size_t i = 0; i < layout->n_positions; i++) {
        const struct layout_position *from = &layout->positions[i];
        noun_init(NOUN_POSITION, &positions[i]);
        positions[i].plan_id = laying->plan.id;
        positions[i].x_m = from->x_m;
        positions[i].y_m = from->y_m;
        positions[i].cell_id = cells[from->cell].id;
        positions[i].number = from->number;
        positions[i].species = laying->species[from->species].name;
        positions[i].layer = laying->species[from->species].layer;
    }
    if (outcome == OUTCOME_OK)
        outcome = store_add(context->store, NOUN_POSITION, positions, layout->n_positions, why);
    return outcome;
}

/// A place with the row it comes from.
struct sorting {
    struct layout_position place;
    struct position row;
};
static int by_cell(const void *a, const void *b)
{
    const struct layout_position *x = &((const struct sorting *)a)->place, *y = &((const struct sorting *)b)->place;
    return x->cell != y->cell ? (x->cell > y->cell) - (x->cell < y->cell) : (x->number > y->number) - (x->number < y->number);
}

/* The stored places as a layout to be judged. */
enum outcome laying_stored(const struct job_context *context, struct laying *laying, struct position **rows, struct arena *arena,
                           struct failure *why)
{
    struct position *positions = NULL;
    struct cell *cells = NULL;
    struct layout *out = &laying->layout;
    enum outcome outcome =
        plan_parts_load(context->store, laying->plan.id, arena, NULL, NULL, &positions, &out->n_positions, &cells, &out->n_cells, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (out->n_positions == 0 || out->n_cells == 0) {
        fail(why, OUTCOME_DATA, "Plan %lld of plot %s has no places yet.", (long long)laying->plan.version, laying->ground.plot.code);
        return failure_remedy(why, "Lay it out first.");
    }
    int64_t least = cells[0].id, most = least;
    for (size_t i = 0; i < out->n_cells; i++) {
        least = cells[i].id < least ? cells[i].id : least;
        most = cells[i].id > most ? cells[i].id : most;
    }
    uint32_t *cell_of = arena_array(arena, (size_t)(most - least) + 1, sizeof *cell_of);
    out->cells = arena_array(arena, out->n_cells, sizeof *out->cells);
    out->positions = arena_array(arena, out->n_positions, sizeof *out->positions);
    for (size_t i = 0; i < out->n_cells; i++) {
        cell_of[cells[i].id - least] = (uint32_t)i;
        snprintf(out->cells[i].code, sizeof out->cells[i].code, "%s", cells[i].code);
        out->cells[i].row = (uint32_t)cells[i].row_index;
        out->cells[i].column = (uint32_t)cells[i].column_index;
    }
    for (size_t i = 0; i < out->n_positions; i++) {
        struct layout_position *to = &out->positions[i];
        int64_t cell = positions[i].cell_id - least;
        *to = (struct layout_position){.x_m = positions[i].x_m, .y_m = positions[i].y_m, .species = LAYOUT_EMPTY};
        to->cell = cell >= 0 && cell <= most - least ? cell_of[cell] : 0;
        to->number = (uint32_t)positions[i].number;
        for (size_t j = 0; j < laying->n_lines; j++)
            if (text_same(laying->species[j].name, positions[i].species) && laying->species[j].layer == positions[i].layer)
                to->species = (int32_t)j;
    }
    out->ground_m2 = laying->ground.net.net_m2;
    struct sorting *order = arena_array(arena, out->n_positions, sizeof *order);
    for (size_t i = 0; i < out->n_positions; i++)
        order[i] = (struct sorting){out->positions[i], positions[i]};
    qsort(order, out->n_positions, sizeof *order, by_cell);
    for (size_t i = 0; i < out->n_positions; i++) {
        out->positions[i] = order[i].place;
        positions[i] = order[i].row;
    }
    if (rows != NULL)
        *rows = positions;
    for (size_t i = 0; i < out->n_positions; i++) {
        struct layout_cell *cell = &out->cells[out->positions[i].cell];
        if (cell->plants++ == 0)
            cell->first = (uint32_t)i;
    }
    return OUTCOME_OK;
}

enum outcome laying_figure(const struct laying *laying, json_t *section, struct arena *arena, struct failure *why)
{
    struct position *positions = arena_array(arena, laying->layout.n_positions, sizeof *positions);
    for (size_t i = 0; i < laying->layout.n_positions; i++)
        positions[i] = (struct position){.x_m = laying->layout.positions[i].x_m,
                                         .y_m = laying->layout.positions[i].y_m,
                                         .layer = laying->species[laying->layout.positions[i].species].layer};
    struct box box = shape_box(&laying->ground.outline);
    box = (struct box){box.x_least - 1, box.y_least - 1, box.x_most + 1, box.y_most + 1};
    struct site_map_wish wish = {.programme = &laying->ground.programme,
                                 .site = &laying->ground.site,
                                 .facts = &laying->ground.facts,
                                 .zones = laying->ground.net.zones,
                                 .n_zones = laying->ground.net.n_zones,
                                 .plots = &laying->ground.plot,
                                 .n_plots = 1,
                                 .positions = positions,
                                 .n_positions = laying->layout.n_positions,
                                 .extent = &box,
                                 .title = arena_print(arena, "Layout of %s/%s", laying->ground.site.code, laying->ground.plot.code)};
    return site_map_figure(&wish, section, arena, why);
}

static void quality_figure(json_t *section, const struct laying *laying);

void laying_quality(json_t *out, const struct laying *laying)
{
    const struct layout_quality *q = &laying->quality;
    const struct {
        const char *what, *unit;
        double value, chance, bound;
        int digits;
    } lines[] = {
        {"share of plants whose nearest neighbour is of their own species", "%", 100 * q->same_share, 100 * q->same_share_random,
         100 * q->same_share_bound, 1},
        {"nearest-neighbour distance, least", "m", q->nearest_least_m, unknown_real(), q->hexagon_m, 2},
        {"nearest-neighbour distance, mean", "m", q->nearest_mean_m,
         q->hexagon_m > 0 && q->density_m2 > 0 ? 0.5 / sqrt(q->density_m2) : unknown_real(), q->hexagon_m, 2},
        {"distance between future tall trees, mean", "m", q->tall_mean_m, q->tall_random_mean_m, q->tall_hexagon_m, 2},
        {"different layers in a square", "", q->layers_in_cell, q->layers_in_cell_random, unknown_real(), 2},
    };
    json_t *section = note_section(out, "How good it is, beside chance and the best there can be"), *table = section_table(section);
    quality_figure(section, laying);
    table_column(table, "what", "what", "", -1);
    table_column(table, "here", "here", "", 2);
    table_column(table, "chance", "by chance", "", 2);
    table_column(table, "bound", "no better than", "", 2);
    table_column(table, "unit", "unit", "", -1);
    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++) {
        json_t *row = table_row(table);
        row_text(row, lines[i].what);
        row_number(row, lines[i].value);
        row_number(row, lines[i].chance);
        row_number(row, lines[i].bound);
        row_text(row, lines[i].unit);
    }
}

enum outcome laying_load(const struct job_context *context, const char *plot, int64_t plan, struct arena *arena, struct laying *out,
                         struct failure *why)
{
    *out = (struct laying){.n_lines = 0};
    enum outcome outcome = plot_ground_load(context, plot, arena, &out->ground, why);
    if (outcome == OUTCOME_OK)
        outcome = library_load(context->store, out->ground.plot.library, arena, &out->library, why);
    if (outcome == OUTCOME_OK)
        outcome = load_plan(context->store, &out->ground.plot, plan, arena, &out->plan, why);
    if (outcome == OUTCOME_OK)
        outcome = plan_parts_load(context->store, out->plan.id, arena, &out->lines, &out->n_lines, NULL, NULL, NULL, NULL, why);
    if (outcome == OUTCOME_OK && out->n_lines == 0)
        outcome = fail(why, OUTCOME_DATA, "Plan %lld of plot %s has no species.", (long long)out->plan.version, out->ground.plot.code);
    return outcome;
}

enum outcome laying_store(const struct job_context *context, struct laying *laying, struct arena *arena, struct failure *why)
{
    enum outcome outcome = plan_for(context, laying, arena, why);
    if (outcome == OUTCOME_OK)
        outcome = rows_add(context, laying, arena, why);
    return outcome == OUTCOME_OK ? plan_choose(context->store, &laying->plan, arena, why) : outcome;
}

/* Like neighbours: this plan, chance with its spread over the simulated assignments, and the least there can be. */
static void quality_figure(json_t *section, const struct laying *laying)
{
    const struct layout_quality *q = &laying->quality;
    double u = unknown_real(), sd = 100 * q->same_share_simulated_sd, chance = 100 * q->same_share_simulated;
    char words[80];
    if (!is_known(q->same_share) || q->simulations == 0)
        return;
    snprintf(words, sizeof words, "mean of %zu chance assignments, ± 2 sd", q->simulations);
    const struct figure_row rows[] = {
        {.label = "this plan", .value = {100 * q->same_share, u, u}, .group = 1, .weight = 1},
        {.label = "by chance", .value = {chance, fmax(0, chance - 2 * sd), chance + 2 * sd}, .note = words},
        {.label = "no assignment is below", .value = {100 * q->same_share_bound, u, u}, .group = 2},
    };
    struct figure_intervals figure = {
        .head = {.title = "Plants whose nearest neighbour is of their own species", .x_title = "share of all plants [%]"},
        .rows = rows,
        .n_rows = 3,
        .unit = "%",
        .digits = 1,
        .reference = u};
    section_drawing(section, figure_intervals(&figure));
}
