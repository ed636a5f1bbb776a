/* SPDX-License-Identifier: GPL-3.0-or-later
 * Figures of a look ahead: fans over the years, a run from the side and from above, where trees may stand. */
#include "work/stand_figures.h"
#include "draw/draw.h"
#include "work/site_map.h"
#include <math.h>

const char *const stand_foot =
    "Illustrative: parameters are not fitted to this place unless the text says so. Bands: middle 50 % and 90 % of runs.";

/* Quantiles of a column over the years: middle, then 90 % and 50 % ranges. */
struct band {
    double *x, *middle, *low90, *high90, *low50, *high50;
    size_t n;
};

static struct band band_of(const struct stand_result *result, const float *array, size_t wide, size_t column, double scale,
                           struct arena *arena)
{
    size_t n = (size_t)result->years + 1;
    struct band band = {.n = n};
    double **columns[] = {&band.x, &band.middle, &band.low90, &band.high90, &band.low50, &band.high50};
    static const double at[] = {0, 0.5, 0.05, 0.95, 0.25, 0.75};
    for (size_t k = 0; k < 6; k++) {
        *columns[k] = arena_array(arena, n, sizeof(double));
        for (size_t year = 0; year < n; year++)
            (*columns[k])[year] = k == 0 ? (double)year : scale * stand_quantile_of(result, array, wide, column, (int)year, at[k]);
    }
    return band;
}

static struct figure_fan fan_of(const char *name, const struct band *band)
{
    return (struct figure_fan){.name = name,
                               .x = band->x,
                               .middle = band->middle,
                               .low = {band->low90, band->low50, NULL},
                               .high = {band->high90, band->high50, NULL},
                               .n = band->n};
}

void stand_stocking_figure(const struct stand_result *result, json_t *section, struct arena *arena)
{
    struct band band = band_of(result, result->measure, STAND_MEASURES, STAND_ALIVE, 1 / result->area_m2, arena);
    struct figure_fan fan = fan_of("living plants to the square metre", &band);
    struct figure_fans figure = {.head = {.title = "How many live", .x_title = "years ahead", .y_title = "plants/m²", .foot = stand_foot},
                                 .fans = &fan,
                                 .n_fans = 1,
                                 .range_words = "middle 50 % and 90 % of runs"};
    section_drawing(section, figure_fans(&figure));
}

void stand_heights_figure(const struct stand_result *result, json_t *section, struct arena *arena)
{
    static const char *const names[STAND_LAYER_COUNT] = {"layer unknown", "canopy", "subcanopy", "shrub", "climber", "ground"};
    struct figure_fan fans[STAND_LAYER_COUNT];
    struct band bands[STAND_LAYER_COUNT];
    size_t n = 0;
    for (size_t layer = 0; layer < STAND_LAYER_COUNT; layer++) {
        if (!is_known(stand_quantile_of(result, result->layer_height, STAND_LAYER_COUNT, layer, 0, 0.5)))
            continue;
        bands[n] = band_of(result, result->layer_height, STAND_LAYER_COUNT, layer, 1, arena);
        fans[n] = fan_of(names[layer], &bands[n]);
        n++;
    }
    struct figure_fans figure = {
        .head = {.title = "Mean height of the living, by layer", .x_title = "years ahead", .y_title = "m", .foot = stand_foot},
        .fans = fans,
        .n_fans = n,
        .range_words = "middle 50 % and 90 % of runs"};
    section_drawing(section, figure_fans(&figure));
}

void stand_light_figure(const struct stand_result *result, json_t *section, struct arena *arena)
{
    struct band cover = band_of(result, result->measure, STAND_MEASURES, STAND_COVER, 100, arena);
    struct band light = band_of(result, result->measure, STAND_MEASURES, STAND_FLOOR, 100, arena);
    struct figure_line lines[] = {
        {.name = "ground under crowns", .x = cover.x, .y = cover.middle, .low = cover.low90, .high = cover.high90, .n = cover.n},
        {.name = "light at the ground", .x = light.x, .y = light.middle, .low = light.low90, .high = light.high90, .n = light.n},
    };
    struct figure_lines figure = {.head = {.title = "Canopy closure and light",
                                           .x_title = "years ahead",
                                           .y_title = "% of the ground; % of full light",
                                           .foot = stand_foot},
                                  .lines = lines,
                                  .n_lines = 2,
                                  .y_least = 0,
                                  .y_most = 100};
    section_drawing(section, figure_lines(&figure));
}

static struct figure_crown crown_of(const struct stand_picture_plant *plant, enum layer layer)
{
    return (struct figure_crown){.x_m = plant->x_m,
                                 .y_m = plant->y_m,
                                 .height_m = plant->height_m,
                                 .base_m = plant->base_m,
                                 .radius_m = plant->crown_m,
                                 .stem_m = plant->diameter_cm / 100,
                                 .layer = (int)layer};
}

/* The longest line across the ground that the section follows: west to east, or south to north where that is longer. */
static void side_take(const struct stand_picture_plant *plants, size_t n, const struct stand_setting *setting, struct box box,
                      struct figure_crown_panel *panel, struct arena *arena)
{
    bool turned = box.y_most - box.y_least > 1.3 * (box.x_most - box.x_least);
    double middle = turned ? (box.x_least + box.x_most) / 2 : (box.y_least + box.y_most) / 2;
    struct figure_crown *crowns = arena_array(arena, n + 1, sizeof *crowns);
    for (size_t i = 0; i < n; i++) {
        double across = turned ? plants[i].x_m : plants[i].y_m;
        if (fabs(across - middle) > 1.5)
            continue;
        struct figure_crown *crown = &crowns[panel->n++];
        *crown = crown_of(&plants[i], setting->kinds[plants[i].kind].layer);
        crown->x_m = turned ? plants[i].y_m - box.y_least + box.x_least : plants[i].x_m;
        crown->y_m = across;
    }
    panel->crowns = crowns;
}

enum outcome stand_pictures(const struct stand_setting *setting, const struct stand_result *result, const struct shape *outline,
                            json_t *side, json_t *above, struct arena *arena, struct failure *why)
{
    struct stand_picture_plant *pictures[16] = {NULL};
    struct figure_crown_panel sides[16] = {{0}}, tops[16] = {{0}};
    size_t n[16] = {0};
    enum outcome outcome = stand_picture(setting, stand_middle_run(result), arena, pictures, n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct box box = outline != NULL ? shape_box(outline) : setting->box;
    for (size_t s = 0; s < setting->n_show; s++) {
        struct figure_crown *crowns = arena_array(arena, n[s] + 1, sizeof *crowns);
        for (size_t i = 0; i < n[s]; i++)
            crowns[i] = crown_of(&pictures[s][i], setting->kinds[pictures[s][i].kind].layer);
        const char *name = setting->show[s] == 0 ? "now" : arena_print(arena, "year %d", setting->show[s]);
        tops[s] = (struct figure_crown_panel){.name = name, .crowns = crowns, .n = n[s]};
        sides[s].name = name;
        side_take(pictures[s], n[s], setting, box, &sides[s], arena);
    }
    const char *foot = "One run, the one nearest to the middle of all: a possible wood, not this wood. Illustrative.";
    bool turned = box.y_most - box.y_least > 1.3 * (box.x_most - box.x_least);
    struct box strip = box;
    if (turned)
        strip.x_most = box.x_least + box.y_most - box.y_least;
    strip.x_least -= 4;
    strip.x_most += 4;
    struct figure_crowns figure = {.head = {.title = turned ? "From the side: a strip 3 m wide, south (left) to north"
                                                            : "From the side: a strip 3 m wide, west (left) to east",
                                            .foot = foot},
                                   .panels = sides,
                                   .n_panels = setting->n_show,
                                   .ground = strip,
                                   .side = true};
    section_drawing(side, figure_crowns(&figure));
    figure = (struct figure_crowns){.head = {.title = "From above", .foot = foot},
                                    .panels = tops,
                                    .n_panels = setting->n_show,
                                    .ground = (struct box){box.x_least - 1, box.y_least - 1, box.x_most + 1, box.y_most + 1},
                                    .outline = outline};
    section_drawing(above, figure_crowns(&figure));
    return OUTCOME_OK;
}

void stand_where_figure(const struct stand_setting *setting, const struct stand_result *result, const struct shape *outline,
                        json_t *section, struct arena *arena)
{
    struct box box = outline != NULL ? shape_box(outline) : setting->box;
    size_t last = result->n_show - 1, n = 0;
    struct figure_crown *crowns = arena_array(arena, setting->n_plants + 1, sizeof *crowns);
    for (size_t i = 0; i < setting->n_plants; i++) {
        double share = (double)result->plant_mature[last * result->n_plants + i] / (double)result->runs;
        if (share > 0)
            crowns[n++] = (struct figure_crown){.x_m = setting->plants[i].x_m,
                                                .y_m = setting->plants[i].y_m,
                                                .height_m = share,
                                                .radius_m = 1.6 * sqrt(share),
                                                .layer = (int)setting->kinds[setting->plants[i].kind].layer};
    }
    struct figure_crown_panel panel = {arena_print(arena, "year %d", result->years), crowns, n,
                                       arena_print(arena, "%zu of %zu plants in some run", n, setting->n_plants)};
    struct figure_crowns figure = {
        .head = {.title = "Where trees in full light may stand",
                 .about = arena_print(arena, "%zu of %zu plants are trees of 8 m or more in full light in at least one run in year %d.", n,
                                      setting->n_plants, result->years),
                 .foot = "Area of each disc: share of runs in which that plant is a tree of 8 m or more in full light (a radius of 1.6 m "
                         "would be all runs)."},
        .panels = &panel,
        .n_panels = 1,
        .ground = (struct box){box.x_least - 2, box.y_least - 2, box.x_most + 2, box.y_most + 2},
        .outline = outline};
    if (n > 0)
        section_drawing(section, figure_crowns(&figure));
}
