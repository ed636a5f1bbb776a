/* SPDX-License-Identifier: GPL-3.0-or-later
 * What stands around a map: frame, coordinates, scale bar, north, legend. */
#include "draw/map_inside.h"
#include "draw/inside.h"
#include "draw/marks.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

enum { BAR_PT = 50, LEGEND_COLUMN_PT = 170, LEGEND_ROW_PT = 13 };

static bool layer_used(const struct map *map, int layer)
{
    for (size_t i = 0; i < map->n_plants; i++)
        if ((map->plants[i].layer >= 1 && map->plants[i].layer <= 5 ? map->plants[i].layer : 0) == layer)
            return true;
    return false;
}

static bool any_gone(const struct map *map)
{
    for (size_t i = 0; i < map->n_plants; i++)
        if (map->plants[i].gone)
            return true;
    return false;
}

static size_t legend_entries(const struct map *map, const struct canvas *canvas)
{
    size_t n = canvas->n_kinds + map_shows_outline(map) + (map->n_areas > 0) + (map->n_cells > 0) + any_gone(map);
    for (int layer = 0; layer <= 5; layer++)
        n += layer_used(map, layer);
    for (size_t i = 0; i < map->n_points; i++)
        n += map->points[i].peg;
    return n;
}

static size_t legend_columns(const struct map *map)
{
    double width = map->width_pt > 0 ? map->width_pt : 515;
    return (size_t)fmax(1, floor(width / LEGEND_COLUMN_PT));
}

double furniture_height(const struct map *map, const struct canvas *canvas)
{
    double height = 13 + BAR_PT;
    size_t columns = legend_columns(map), entries = legend_entries(map, canvas);
    if (map->legend && entries > 0)
        height += 6 + LEGEND_ROW_PT * (double)((entries + columns - 1) / columns);
    return height;
}

static void corner(struct drawing *drawing, double x, double y, enum anchor anchor, double east, double north)
{
    char words[64];
    snprintf(words, sizeof words, "E %.1f  N %.1f", east, north);
    draw_text(drawing, x, y, (struct lettering){.size_pt = TEXT_SMALL, .ink = INK_SOFT, .anchor = anchor}, words);
}

/* Four fields, black and white by turns; its length on paper is said so that a shrunken print is noticed. */
static void bar_draw(struct drawing *drawing, double x, double y, int scale)
{
    double bar_m = map_bar_m(scale), length = bar_m / scale * 1000 * DRAW_PT_MM;
    char words[160], number[64], mm[64];
    draw_group(drawing, "scale-bar");
    for (int i = 0; i < 4; i++)
        draw_box(drawing, x + length * i / 4, y, length / 4, 4, (struct pen){.fill = i % 2 == 0 ? INK_TEXT : INK_PAPER});
    draw_box(drawing, x, y, length, 4, (struct pen){.stroke = INK_TEXT, .width_pt = 0.5});
    for (int i = 0; i <= 4; i += 2) {
        double at_m = bar_m * i / 4;
        number_fixed(at_m, fabs(at_m - round(at_m)) > 1e-9 ? 1 : 0, number);
        snprintf(words, sizeof words, "%s%s", number, i == 4 ? " m" : "");
        draw_text(drawing, x + length * i / 4, y + 12, (struct lettering){.size_pt = TEXT_SMALL, .anchor = ANCHOR_MIDDLE}, words);
    }
    draw_group_end(drawing);
    number_fixed(bar_m / scale * 1000, 0, mm);
    snprintf(words, sizeof words, "1:%d", scale);
    draw_text(drawing, x + length + 22, y + 5, (struct lettering){.size_pt = TEXT_LARGE, .bold = true}, words);
    snprintf(words, sizeof words, "The bar is %s mm on paper: measure it before you set out.", mm);
    draw_text(drawing, x, y + 23, (struct lettering){.size_pt = TEXT_SMALL, .ink = INK_SOFT}, words);
}

static void north_draw(struct drawing *drawing, double x, double y, double convergence_deg)
{
    const double half[6] = {x, y - 17, x, y + 15, x - 5, y + 15}, other[6] = {x, y - 17, x, y + 15, x + 5, y + 15};
    draw_group(drawing, "north");
    draw_polyline(drawing, half, 3, true, (struct pen){.stroke = INK_TEXT, .width_pt = 0.7});
    draw_polyline(drawing, other, 3, true, (struct pen){.stroke = INK_TEXT, .fill = INK_TEXT, .width_pt = 0.7});
    draw_text(drawing, x + 9, y - 9, (struct lettering){.size_pt = TEXT_BODY, .bold = true}, "N");
    draw_text(drawing, x + 9, y + 1, (struct lettering){.size_pt = TEXT_SMALL, .ink = INK_SOFT}, "grid");
    if (is_known(convergence_deg)) {
        char words[64];
        snprintf(words, sizeof words, "true %.1f° %s", fabs(convergence_deg), convergence_deg < 0 ? "E" : "W");
        draw_text(drawing, x + 9, y + 10, (struct lettering){.size_pt = TEXT_SMALL, .ink = INK_SOFT}, words);
    }
    draw_group_end(drawing);
}

struct legend {
    struct drawing *drawing;
    double x, y;
    size_t i, columns;
};

static void legend_next(struct legend *legend, const char *words, double *x, double *y)
{
    *x = legend->x + LEGEND_COLUMN_PT * (double)(legend->i % legend->columns);
    *y = legend->y + LEGEND_ROW_PT * (double)(legend->i / legend->columns);
    draw_text_fitted(legend->drawing, *x + 26, *y + 7.5, LEGEND_COLUMN_PT - 30, (struct lettering){.size_pt = TEXT_SMALL}, words);
    legend->i++;
}

static void legend_draw(const struct map *map, const struct canvas *canvas, double y)
{
    struct legend legend = {canvas->drawing, canvas->left + 1, y, 0, legend_columns(map)};
    struct drawing *drawing = canvas->drawing;
    double x = 0;
    draw_group(drawing, "legend");
    if (map_shows_outline(map)) {
        legend_next(&legend, "site boundary", &x, &y);
        draw_line(drawing, x, y + 5, x + 20, y + 5, (struct pen){.stroke = INK_TEXT, .width_pt = 1.1, .dash = DASH_DASH_DOT});
    }
    if (map->n_areas > 0) {
        legend_next(&legend, "plot", &x, &y);
        draw_box(drawing, x, y, 20, 9, (struct pen){.stroke = INK_TEXT, .width_pt = 1.4});
    }
    if (map->n_cells > 0) {
        legend_next(&legend, "square, with its code where there is room", &x, &y);
        draw_box(drawing, x + 5, y, 9, 9, (struct pen){.stroke = INK_SOFT, .width_pt = 0.4});
    }
    for (size_t i = 0; i < canvas->n_kinds; i++) {
        legend_next(&legend, canvas->kinds[i], &x, &y);
        const double xy[8] = {x, y, x + 20, y, x + 20, y + 9, x, y + 9};
        size_t end = 4;
        kind_fill(drawing, (int)i, canvas->kind_caution[i], xy, &end, 1);
    }
    for (int k = 1; k <= 6; k++) {
        int layer = k % 6;
        if (!layer_used(map, layer))
            continue;
        legend_next(&legend, layer_name(layer), &x, &y);
        draw_layer_mark(drawing, layer, x + 10, y + 4.5, 3.4);
    }
    for (size_t i = 0; i < map->n_points; i++) {
        if (!map->points[i].peg)
            continue;
        char words[120];
        snprintf(words, sizeof words, "peg %.30s  E %.2f  N %.2f", map->points[i].label == NULL ? "" : map->points[i].label,
                 map->points[i].x_m, map->points[i].y_m);
        legend_next(&legend, words, &x, &y);
        draw_line(drawing, x + 5, y + 4.5, x + 15, y + 4.5, (struct pen){.stroke = INK_ACCENT, .width_pt = 0.9});
        draw_line(drawing, x + 10, y - 0.5, x + 10, y + 9.5, (struct pen){.stroke = INK_ACCENT, .width_pt = 0.9});
        draw_disc(drawing, x + 10, y + 4.5, 2.6, (struct pen){.stroke = INK_ACCENT, .width_pt = 0.9});
    }
    if (any_gone(map)) {
        legend_next(&legend, "dead, missing or not found", &x, &y);
        draw_disc(drawing, x + 10, y + 4.5, 2.4, (struct pen){.stroke = INK_TEXT, .width_pt = 0.5});
        draw_line(drawing, x + 5, y + 9, x + 15, y, (struct pen){.stroke = INK_CAUTION, .width_pt = 0.9});
    }
    draw_group_end(drawing);
}

void furniture_draw(const struct map *map, const struct canvas *canvas, int scale)
{
    struct drawing *drawing = canvas->drawing;
    double right = canvas->left + canvas->width, bottom = canvas->top + canvas->height;
    double east = canvas->west_m + canvas->width / canvas->pt_m, north = canvas->south_m + canvas->height / canvas->pt_m;
    draw_box(drawing, canvas->left, canvas->top, canvas->width, canvas->height, (struct pen){.stroke = INK_TEXT, .width_pt = 0.9});
    for (int i = 0; i < 4; i++) { /* corner ticks, as on a field sheet */
        double x = i % 2 == 0 ? canvas->left : right, y = i < 2 ? canvas->top : bottom, dx = i % 2 == 0 ? 6 : -6, dy = i < 2 ? 6 : -6;
        draw_line(drawing, x, y, x + dx, y, (struct pen){.stroke = INK_TEXT, .width_pt = 1.8});
        draw_line(drawing, x, y, x, y + dy, (struct pen){.stroke = INK_TEXT, .width_pt = 1.8});
    }
    corner(drawing, canvas->left, canvas->top - 4, ANCHOR_START, canvas->west_m, north);
    corner(drawing, right, canvas->top - 4, ANCHOR_END, east, north);
    corner(drawing, canvas->left, bottom + 9, ANCHOR_START, canvas->west_m, canvas->south_m);
    corner(drawing, right, bottom + 9, ANCHOR_END, east, canvas->south_m);
    draw_text(drawing, (canvas->left + right) / 2, bottom + 9, (struct lettering){.size_pt = TEXT_SMALL, .anchor = ANCHOR_MIDDLE},
              map->crs == NULL ? "reference system not stated" : map->crs);
    bar_draw(drawing, canvas->left + 4, bottom + 24, scale);
    north_draw(drawing, right - 62, bottom + 38, map->convergence_deg);
    if (map->legend)
        legend_draw(map, canvas, bottom + 13 + BAR_PT + 4);
}
