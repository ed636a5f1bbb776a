/* SPDX-License-Identifier: GPL-3.0-or-later
 * Invented drawings that show every figure and the map, for tests and for looking at. */
#include "samples.h"
#include <math.h>
#include <stdio.h>

static struct drawing *survival(void)
{
    static const double months[] = {0, 10, 22, 34, 46};
    static const double d[] = {100, 93, 86, 81, 78}, d_low[] = {100, 90, 82, 76, 71}, d_high[] = {100, 95, 90, 86, 84};
    static const double d_least[] = {100, 92, 84, 77, 73}, d_most[] = {100, 93.5, 88, 84, 82};
    static const double b[] = {100, 84, 71, 66, 64}, b_low[] = {100, 76, 61, 55, 52}, b_high[] = {100, 90, 79, 75, 74};
    static const int64_t d_n[] = {300, 300, 279, 258, 243}, b_n[] = {120, 120, 101, 85, 79};
    const struct figure_line lines[] = {
        {.name = "D1 dense", .x = months, .y = d, .low = d_low, .high = d_high, .n = 5, .least = d_least, .most = d_most, .at_risk = d_n},
        {.name = "B1 conventional", .x = months, .y = b, .low = b_low, .high = b_high, .n = 5, .at_risk = b_n},
    };
    return figure_lines(&(struct figure_lines){.head = {.title = "Plants alive since planting",
                                                        .x_title = "months after planting",
                                                        .y_title = "alive (% of plants put in)",
                                                        .foot = "Kaplan–Meier with 95 % log–log bands; fine dotted lines: all not-found "
                                                                "plants dead, all alive. One site: this pair differs in "
                                                                "preparation, density and mix together."},
                                               .lines = lines,
                                               .n_lines = 2,
                                               .steps = true,
                                               .y_least = 0,
                                               .y_most = 100});
}

static struct drawing *differences(void)
{
    static const struct figure_row rows[] = {
        {.label = "Alder Bank", .value = {14, 3, 25}, .weight = 0.4},
        {.label = "Brick Field", .value = {-3, -14, 8}, .weight = 0.3},
        {.label = "Canal End", .value = {9, -1, 19}, .weight = 0.5},
        {.label = "Depot Corner (B not reporting since 2023)", .value = {NAN, NAN, NAN}},
        {.label = "East Cutting", .value = {21, 8, 34}, .weight = 0.3},
        {.label = "All sites, with prediction", .value = {10, -2, 22}, .summary = true, .group = 1},
    };
    return figure_intervals(&(struct figure_intervals){
        .head = {.title = "Difference in survival at three years, D minus B, by site",
                 .x_title = "percentage points",
                 .foot = "Dot: difference within the site, larger with more plants. Shaded: differences smaller than 10 points "
                         "were called too small to matter before the outcome was known."},
        .rows = rows,
        .n_rows = 6,
        .unit = "points",
        .reference = 0,
        .margin = 10,
        .less = "B better",
        .more = "D better"});
}

static struct drawing *league(void)
{
    static const struct figure_row rows[] = {
        {.label = "Betula pendula", .value = {92, 86, 96}, .note = "92 % (86–96), 118 of 128"},
        {.label = "Corylus avellana", .value = {88, 81, 93}, .note = "88 % (81–93), 106 of 120"},
        {.label = "Quercus robur", .value = {74, 66, 81}, .note = "74 % (66–81), 96 of 130"},
        {.label = "Ilex aquifolium", .value = {NAN, 36, 92}, .note = "7 of 9 (interval 36–92 %)"},
        {.label = "Fagus sylvatica", .value = {41, 31, 52}, .note = "41 % (31–52), 37 of 90"},
    };
    return figure_intervals(&(struct figure_intervals){.head = {.title = "Alive at three years by species", .x_title = "% alive"},
                                                       .rows = rows,
                                                       .n_rows = 5,
                                                       .unit = "%",
                                                       .reference = NAN,
                                                       .x_least = 0,
                                                       .x_most = 100});
}

static struct drawing *costs(void)
{
    static const struct figure_row rows[] = {
        {.label = "D, volunteer hours not counted", .value = {11.4, 9.8, 13.9}},
        {.label = "D, at the minimum wage", .value = {19.7, 17.0, 24.1}},
        {.label = "B, volunteer hours not counted", .value = {5.2, 4.1, 7.7}, .group = 1},
        {.label = "B, at the minimum wage", .value = {8.9, 7.0, 13.2}, .group = 1},
    };
    return figure_intervals(
        &(struct figure_intervals){.head = {.title = "Cost of one established tree", .x_title = "EUR of 2025, without tax"},
                                   .rows = rows,
                                   .n_rows = 4,
                                   .unit = "EUR",
                                   .digits = 2,
                                   .reference = NAN,
                                   .x_least = 0,
                                   .x_most = 30});
}

static struct drawing *strips(void)
{
    static double a[180], b[60];
    struct random_stream r = random_make(5, 1);
    for (int i = 0; i < 180; i++)
        a[i] = i % 23 == 0 ? NAN : fmax(20, 165 + 48 * random_normal(&r));
    for (int i = 0; i < 60; i++)
        b[i] = fmax(15, 128 + 40 * random_normal(&r));
    const struct figure_strip strips[] = {{.name = "D1 dense", .values = a, .n = 180, .mean = {165, 158, 172}},
                                          {.name = "B1 conventional", .values = b, .n = 60, .mean = {128, 118, 138}}};
    return figure_strips(
        &(struct figure_strips){.head = {.title = "Height of the plants alive, third year",
                                         .y_title = "height (cm)",
                                         .foot = "Bar: mean with 95 % interval. Survivors only: this is not the growth of the plot."},
                                .strips = strips,
                                .n_strips = 2,
                                .unit = "cm"});
}

static struct drawing *fans(void)
{
    static double x[21], mid[4][21], lo[4][21], hi[4][21], lo2[4][21], hi2[4][21], sx[4] = {0, 1, 2, 3}, sy[4] = {0.45, 0.8, 1.3, 1.9};
    for (int k = 0; k < 4; k++)
        for (int i = 0; i < 21; i++) {
            x[i] = i;
            mid[k][i] = (12 - 2 * k) * pow(1 - exp(-0.11 * i), 1.3) + 0.4;
            lo[k][i] = mid[k][i] * 0.6;
            hi[k][i] = mid[k][i] * 1.45;
            lo2[k][i] = mid[k][i] * 0.82;
            hi2[k][i] = mid[k][i] * 1.2;
        }
    static struct figure_fan fans[4];
    static const char *const names[] = {"Betula pendula", "Quercus robur", "Corylus avellana", "Fagus sylvatica"};
    for (int k = 0; k < 4; k++)
        fans[k] = (struct figure_fan){.name = names[k],
                                      .x = x,
                                      .middle = mid[k],
                                      .low = {lo[k], lo2[k]},
                                      .high = {hi[k], hi2[k]},
                                      .n = 21,
                                      .seen_x = sx,
                                      .seen_y = sy,
                                      .n_seen = k == 0 ? 4 : 0};
    return figure_fans(
        &(struct figure_fans){.head = {.title = "Top height foreseen", .x_title = "years after planting", .y_title = "height (m)"},
                              .fans = fans,
                              .n_fans = 4,
                              .range_words = "tints: middle 90 % and 50 % of 200 runs; dots: measured"});
}

static struct drawing *accumulation(void)
{
    static double x[40], y[40], lo[40], hi[40], y2[40], lo2[40], hi2[40];
    for (int i = 0; i < 40; i++) {
        x[i] = i + 1;
        y[i] = 34 * (1 - exp(-0.09 * x[i]));
        lo[i] = y[i] - 2 - 0.05 * i;
        hi[i] = y[i] + 2 + 0.12 * i;
        y2[i] = 22 * (1 - exp(-0.12 * x[i]));
        lo2[i] = y2[i] - 2.5;
        hi2[i] = y2[i] + 2.5 + 0.1 * i;
    }
    const struct figure_line lines[] = {{.name = "dense", .x = x, .y = y, .low = lo, .high = hi, .n = 40, .observed_to = 24},
                                        {.name = "conventional", .x = x, .y = y2, .low = lo2, .high = hi2, .n = 40, .observed_to = 11}};
    return figure_lines(&(struct figure_lines){.head = {.title = "Flower visitors: species found with effort",
                                                        .x_title = "watches of 15 minutes",
                                                        .y_title = "species",
                                                        .foot = "Marks: effort made; thin lines beyond them are extrapolated."},
                                               .lines = lines,
                                               .n_lines = 2,
                                               .from_zero = true});
}

static struct drawing *mix(void)
{
    static const struct figure_bar bars[] = {
        {.label = "Quercus robur", .label_italic = true, .value = 112, .layer = 1, .aim_low = 90, .aim_high = 130},
        {.label = "Betula pendula", .label_italic = true, .value = 84, .layer = 1, .aim_low = 60, .aim_high = 110},
        {.label = "Acer campestre", .label_italic = true, .value = 75, .layer = 2, .aim_low = 60, .aim_high = 90},
        {.label = "Sorbus aucuparia", .label_italic = true, .value = 60, .layer = 2, .aim_low = 60, .aim_high = 90},
        {.label = "Corylus avellana", .label_italic = true, .value = 140, .layer = 3, .aim_low = 100, .aim_high = 150},
        {.label = "Crataegus monogyna", .label_italic = true, .value = 98, .layer = 3, .aim_low = 60, .aim_high = 110},
        {.label = "Lonicera periclymenum", .label_italic = true, .value = 20, .layer = 4},
        {.label = "Primula vulgaris", .label_italic = true, .value = 35, .layer = 5},
    };
    return figure_bars(
        &(struct figure_bars){.head = {.title = "The mix of D1 by layer", .x_title = "plants", .foot = "Bracket: the range asked for."},
                              .bars = bars,
                              .n_bars = 8,
                              .unit = "plants",
                              .by_layer = true});
}

static struct drawing *profile(void)
{
    static const struct figure_layer before[] = {{0, 10, {1.1, 0.8, 1.5}, "topsoil, clay loam"},
                                                 {10, 30, {2.6, 2.1, 3.1}, "brick, compacted"},
                                                 {30, 60, {3.4, 2.9, 3.9}, "clay, grey mottles"}};
    static const struct figure_layer after[] = {
        {0, 10, {0.5, 0.3, 0.7}, NULL}, {10, 30, {0.9, 0.6, 1.3}, NULL}, {30, 60, {2.3, 1.8, 2.9}, NULL}};
    static const struct figure_profile_line lines[] = {{"before works", before, 3}, {"after loosening", after, 3}};
    return figure_profile(
        &(struct figure_profile){.head = {.title = "Penetration resistance near field capacity", .x_title = "resistance (MPa)"},
                                 .lines = lines,
                                 .n_lines = 2,
                                 .mark_x = 2,
                                 .mark_words = "2 MPa: roots held back"});
}

static struct drawing *calendar(void)
{
    static const char *const rows[] = {"Watering", "Weeding", "Fence check", "Census", "Replacement planting"};
    int32_t y = date_make(2026, 1, 1);
    const struct figure_span spans[] = {{0, y + 120, y + 126, 1, NULL},        {0, y + 140, y + 146, 2, "half"},
                                        {0, y + 160, y + 166, 3, "no bowser"}, {0, y + 180, y + 250, 0, NULL},
                                        {1, y + 130, y + 150, 1, NULL},        {1, y + 190, y + 215, 0, "second pass"},
                                        {2, y + 31, y + 32, 1, NULL},          {2, y + 212, y + 213, 0, NULL},
                                        {3, y + 243, y + 273, 0, "6 weeks"},   {4, y + 320, y + 350, 0, "if lost"}};
    return figure_calendar(&(struct figure_calendar){.head = {.title = "Care foreseen and done, 2026"},
                                                     .rows = rows,
                                                     .n_rows = 5,
                                                     .spans = spans,
                                                     .n_spans = 10,
                                                     .from = y,
                                                     .to = date_make(2026, 12, 31),
                                                     .today = y + 170});
}

static struct drawing *heat(void)
{
    static double values[8 * 12];
    static bool outside[8 * 12];
    struct random_stream r = random_make(3, 1);
    for (int i = 0; i < 96; i++) {
        values[i] = i % 17 == 3 ? NAN : (double)random_below(&r, 4);
        outside[i] = i / 12 >= 6 && i % 12 >= 9;
    }
    return figure_cells(&(struct figure_cells){.head = {.title = "Plants dead or missing, by square"},
                                               .rows = 8,
                                               .columns = 12,
                                               .values = values,
                                               .outside = outside,
                                               .unit = "plants",
                                               .write_values = true});
}

static struct drawing *histogram(void)
{
    static double values[240];
    struct random_stream r = random_make(9, 1);
    for (int i = 0; i < 240; i++)
        values[i] = i % 40 == 7 ? NAN : 40 + 60 * random_gamma(&r, 2.2);
    return figure_histogram(
        &(struct figure_histogram){.head = {.title = "Heights of all plants, second year", .x_title = "height (cm)", .y_title = "plants"},
                                   .values = values,
                                   .n = 240,
                                   .mark_x = 60,
                                   .mark_words = "established above 60 cm"});
}

static struct drawing *water(void)
{
    static double day[365], store[365], rain[365];
    int32_t from = date_make(2025, 3, 1);
    struct random_stream r = random_make(2, 1);
    double s = 60;
    for (int i = 0; i < 365; i++) {
        double p = random_uniform(&r) < 0.35 ? 6 * random_gamma(&r, 0.8) : 0, e = 1.9 - 1.6 * cos(2 * acos(-1) * (i + 60) / 365.0);
        s = fmax(0, fmin(80, s + p - e));
        day[i] = from + i;
        store[i] = i > 200 && i < 215 ? NAN : s;
        rain[i] = 40;
    }
    const struct figure_line lines[] = {{.name = "root-zone water", .x = day, .y = store, .n = 365}};
    (void)rain;
    return figure_lines(&(struct figure_lines){.head = {.title = "Water the roots can reach",
                                                        .y_title = "mm",
                                                        .foot = "Gap: a fortnight without weather records; unknown, not zero."},
                                               .lines = lines,
                                               .n_lines = 1,
                                               .x_dates = true,
                                               .from_zero = true,
                                               .mark_y = 25,
                                               .mark_words = "water below 25 mm"});
}

struct shape sample_line(struct arena *arena, double x1, double y1, double x2, double y2)
{
    struct shape_part *part = arena_alloc(arena, sizeof *part);
    part->rings = arena_alloc(arena, sizeof *part->rings);
    part->n_rings = 1;
    part->rings->n = 2;
    part->rings->xy = arena_array(arena, 4, sizeof(double));
    part->rings->xy[0] = x1;
    part->rings->xy[1] = y1;
    part->rings->xy[2] = x2;
    part->rings->xy[3] = y2;
    return (struct shape){SHAPE_LINES, part, 1};
}

static struct shape *kept(struct arena *arena, struct shape shape)
{
    struct shape *copy = arena_alloc(arena, sizeof *copy);
    *copy = shape;
    return copy;
}

void sample_map(struct arena *arena, size_t n, struct map *out)
{
    const double x0 = 155000, y0 = 463000;
    struct failure why;
    struct shape pipe = sample_line(arena, x0 - 2, y0 + 22, x0 + 42, y0 + 30), pipe_room = {0};
    struct shape tree = {SHAPE_POINTS, NULL, 1}, tree_room = {0};
    tree.parts = sample_line(arena, x0 + 36, y0 + 6, 0, 0).parts;
    tree.parts->rings->n = 1;
    shape_buffer(&pipe, 3, arena, &pipe_room, &why);
    shape_buffer(&tree, 4.8, arena, &tree_room, &why);
    struct shape house = shape_rectangle(arena, x0 - 1, y0 + 33, 12, 7, 0), house_room = {0};
    shape_buffer(&house, 3, arena, &house_room, &why);
    struct map_area *areas = arena_array(arena, 2, sizeof *areas);
    areas[0] = (struct map_area){kept(arena, shape_rectangle(arena, x0 + 2, y0 + 2, 15, 15, 0)), "D1", true, MAP_FILL_NONE};
    areas[1] = (struct map_area){kept(arena, shape_rectangle(arena, x0 + 19, y0 + 2, 12, 15, 0)), "B1", true, MAP_FILL_WASH};
    struct map_zone *zones = arena_array(arena, 3, sizeof *zones);
    zones[0] = (struct map_zone){kept(arena, pipe), kept(arena, pipe_room), "gas main, stand-off 3.0 m", "gas 3.0 m", true};
    zones[1] = (struct map_zone){kept(arena, tree), kept(arena, tree_room), "root protection area of a tree", "oak, 4.8 m", false};
    zones[2] = (struct map_zone){kept(arena, house), kept(arena, house_room), "building, stand-off 3.0 m", "shed 3.0 m", false};
    struct map_cell *cells = arena_array(arena, 225, sizeof *cells);
    for (size_t i = 0; i < 225; i++) {
        cells[i].shape = kept(arena, shape_rectangle(arena, x0 + 2 + (double)(i % 15), y0 + 2 + (double)(i / 15), 1, 1, 0));
        cells[i].code = arena_print(arena, "%c%02d", (int)('A' + i / 15), (int)(i % 15 + 1));
    }
    struct map_plant *plants = arena_array(arena, n, sizeof *plants);
    struct random_stream r = random_make(11, 1);
    for (size_t i = 0; i < n; i++) {
        static const int layers[] = {1, 2, 3, 1, 3, 2, 3, 1, 5, 4};
        plants[i] =
            (struct map_plant){x0 + 2 + 15 * random_uniform(&r), y0 + 2 + 15 * random_uniform(&r), layers[i % 10], NULL, i % 29 == 0};
    }
    struct map_point *points = arena_array(arena, 2, sizeof *points);
    points[0] = (struct map_point){x0 + 2, y0 + 2, "P1", true};
    points[1] = (struct map_point){x0 + 17, y0 + 2, "P2", true};
    *out = (struct map){.title = "Alder Bank: plots and what to keep away from",
                        .outline = kept(arena, shape_rectangle(arena, x0 - 2, y0 - 2, 44, 43, 0)),
                        .outline_label = "Alder Bank",
                        .areas = areas,
                        .n_areas = 2,
                        .zones = zones,
                        .n_zones = 3,
                        .cells = cells,
                        .n_cells = 225,
                        .plants = plants,
                        .n_plants = n,
                        .points = points,
                        .n_points = 2,
                        .crs = "EPSG:28992, Amersfoort / RD New",
                        .convergence_deg = -0.4,
                        .legend = true};
}

static struct drawing *site_map(void)
{
    struct arena arena = {0};
    struct map map;
    struct drawing *drawing = NULL;
    struct failure why;
    sample_map(&arena, 675, &map);
    if (map_draw(&map, &drawing, NULL, &why) != OUTCOME_OK)
        drawing = drawing_new(10, 10, why.sentence, NULL);
    arena_clear(&arena);
    return drawing;
}

struct drawing *sample_draw(int which, const char **name)
{
    static const struct {
        const char *name;
        struct drawing *(*draw)(void);
    } samples[SAMPLE_COUNT] = {
        {"survival", survival}, {"differences", differences},   {"league", league}, {"costs", costs},     {"strips", strips},
        {"fans", fans},         {"accumulation", accumulation}, {"mix", mix},       {"profile", profile}, {"calendar", calendar},
        {"heat", heat},         {"histogram", histogram},       {"water", water},   {"map", site_map}};
    *name = samples[which].name;
    return samples[which].draw();
}
