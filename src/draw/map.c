/* SPDX-License-Identifier: GPL-3.0-or-later
 * The map: ground to paper at a stated scale. */
#include "draw/map_inside.h"
#include "draw/inside.h"
#include "draw/marks.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

const int map_scales[] = {50, 100, 200, 500, 1000, 1250, 2500, 5000, 10000, 25000, 50000, 100000, 0};

enum { COORDINATES_PT = 13, LEAST_FRAME_PT = 120 };

static double points_per_metre(int scale)
{
    return 1000.0 * DRAW_PT_MM / scale;
}

int map_scale_fit(double ground_width_m, double ground_height_m, double paper_width_pt, double paper_height_pt)
{
    for (const int *scale = map_scales; *scale != 0; scale++)
        if (ground_width_m * points_per_metre(*scale) <= paper_width_pt * (1 + 1e-9) &&
            ground_height_m * points_per_metre(*scale) <= paper_height_pt * (1 + 1e-9))
            return *scale;
    return 0;
}

double map_bar_m(int scale)
{
    static const double steps[] = {5, 2, 1};
    double most = 0.08 * scale; /* 8 cm on paper */
    for (double power = pow(10, floor(log10(most))); power > 0; power /= 10)
        for (size_t i = 0; i < 3; i++)
            if (steps[i] * power <= most * (1 + 1e-9))
                return steps[i] * power;
    return most;
}

void canvas_point(const struct canvas *canvas, double x_m, double y_m, double *x, double *y)
{
    *x = canvas->left + (x_m - canvas->west_m) * canvas->pt_m;
    *y = canvas->top + canvas->height - (y_m - canvas->south_m) * canvas->pt_m;
}

size_t canvas_rings(const struct canvas *canvas, const struct shape_part *part, double **xy, size_t **ends)
{
    size_t n = 0;
    for (size_t r = 0; r < part->n_rings; r++)
        n += part->rings[r].n;
    *xy = memory_get(2 * n + 1, sizeof **xy);
    *ends = memory_get(part->n_rings + 1, sizeof **ends);
    n = 0;
    for (size_t r = 0; r < part->n_rings; r++) {
        for (size_t i = 0; i < part->rings[r].n; i++, n++)
            canvas_point(canvas, part->rings[r].xy[2 * i], part->rings[r].xy[2 * i + 1], &(*xy)[2 * n], &(*xy)[2 * n + 1]);
        (*ends)[r] = n;
    }
    return part->n_rings;
}

int canvas_kind(struct canvas *canvas, const char *kind, bool caution)
{
    const char *name = kind == NULL ? "constraint" : kind;
    for (size_t i = 0; i < canvas->n_kinds; i++)
        if (strcmp(canvas->kinds[i], name) == 0)
            return (int)i;
    if (canvas->n_kinds == MOST_KINDS - 1)
        name = "other constraints";
    if (canvas->n_kinds == MOST_KINDS)
        return MOST_KINDS - 1;
    canvas->kinds[canvas->n_kinds] = name;
    canvas->kind_caution[canvas->n_kinds] = caution;
    return (int)canvas->n_kinds++;
}

void kind_fill(struct drawing *drawing, int kind, bool caution, const double *xy, const size_t *ends, size_t n_rings)
{
    /* Angle, gap and second angle of each kind: told apart without colour. */
    static const double ways[MOST_KINDS][3] = {{45, 4, 0}, {-45, 4, 0}, {90, 4, 0},   {0, 4, 0},     {45, 6, -45}, {0, 6, 90},
                                               {20, 7, 0}, {-20, 7, 0}, {70, 2.5, 0}, {-70, 2.5, 0}, {30, 9, -30}, {60, 9, -60}};
    struct pen pen = {.stroke = caution ? INK_CAUTION : INK_SOFT, .width_pt = 0.45};
    if (kind >= 6)
        pen.dash = DASH_DASHED;
    draw_hatch(drawing, xy, ends, n_rings, ways[kind][0], ways[kind][1], pen);
    if (ways[kind][2] != 0)
        draw_hatch(drawing, xy, ends, n_rings, ways[kind][2], ways[kind][1], pen);
    draw_rings(drawing, xy, ends, n_rings, (struct pen){.stroke = pen.stroke, .width_pt = 0.8, .dash = DASH_DASHED});
}

void area_fill(struct drawing *drawing, enum map_fill fill, const double *xy, const size_t *ends, size_t n_rings)
{
    struct pen pen = {.stroke = INK_FAINT, .width_pt = 0.5};
    switch (fill) {
    case MAP_FILL_WASH:
        draw_rings(drawing, xy, ends, n_rings, (struct pen){.fill = INK_WASH});
        break;
    case MAP_FILL_HATCH:
        draw_hatch(drawing, xy, ends, n_rings, 45, 8, pen);
        break;
    case MAP_FILL_HATCH_BACK:
        draw_hatch(drawing, xy, ends, n_rings, -45, 8, pen);
        break;
    case MAP_FILL_CROSS:
        draw_hatch(drawing, xy, ends, n_rings, 45, 10, pen);
        draw_hatch(drawing, xy, ends, n_rings, -45, 10, pen);
        break;
    case MAP_FILL_DOTS:
        pen.stroke = INK_SOFT;
        pen.dash = DASH_DOTTED;
        draw_hatch(drawing, xy, ends, n_rings, 0, 6, pen);
        break;
    case MAP_FILL_LEVEL:
        draw_hatch(drawing, xy, ends, n_rings, 0, 6, pen);
        break;
    case MAP_FILL_NONE:
    default:
        break;
    }
}

bool canvas_label(struct canvas *canvas, double x, double y, struct lettering lettering, const char *words)
{
    if (words == NULL || *words == '\0')
        return true;
    lettering.anchor = ANCHOR_MIDDLE;
    lettering.halo = true;
    lettering = lettering_whole(lettering);
    double half = draw_text_width(canvas->drawing, lettering, words) / 2 + 1, up = 0.75 * lettering.size_pt, down = 0.3 * lettering.size_pt;
    if (x < canvas->left || x > canvas->left + canvas->width || y < canvas->top - 12 || y > canvas->top + canvas->height + 12)
        return false; /* not on this sheet */
    x = fmin(fmax(x, canvas->left + half + 2), canvas->left + canvas->width - half - 2);
    static const double tries[] = {0, 10, -10, 20, -20, 30, -30};
    for (size_t t = 0; t < sizeof tries / sizeof *tries; t++) {
        double at = fmin(fmax(y + tries[t] + 0.35 * lettering.size_pt, canvas->top + up + 2), canvas->top + canvas->height - down - 2);
        struct box box = {x - half, at - up, x + half, at + down};
        bool free_place = true;
        for (size_t i = 0; i < canvas->n_labels && free_place; i++)
            free_place = box.x_least > canvas->labels[i].x_most || box.x_most < canvas->labels[i].x_least ||
                         box.y_least > canvas->labels[i].y_most || box.y_most < canvas->labels[i].y_least;
        if (!free_place)
            continue;
        draw_text(canvas->drawing, x, at, lettering, words);
        if (canvas->n_labels < MOST_LABELS)
            canvas->labels[canvas->n_labels++] = box;
        return true;
    }
    return false;
}

/* A point well inside: the middle of the widest level run through the shape. */
static bool inner_point(const double *xy, const size_t *ends, size_t n_rings, double *x, double *y)
{
    double top = INFINITY, bottom = -INFINITY, best = 0;
    size_t n = n_rings == 0 ? 0 : ends[n_rings - 1];
    for (size_t i = 0; i < n; i++) {
        top = fmin(top, xy[2 * i + 1]);
        bottom = fmax(bottom, xy[2 * i + 1]);
    }
    static const double shares[] = {0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8};
    for (size_t k = 0; k < sizeof shares / sizeof *shares; k++) {
        double level = top + shares[k] * (bottom - top), cuts[64];
        size_t m = 0, from = 0;
        for (size_t r = 0; r < n_rings; r++) {
            for (size_t i = from; i < ends[r]; i++) {
                size_t j = i + 1 < ends[r] ? i + 1 : from;
                double a = xy[2 * i + 1], b = xy[2 * j + 1];
                if ((a <= level) != (b <= level) && m < 64)
                    cuts[m++] = xy[2 * i] + (level - a) / (b - a) * (xy[2 * j] - xy[2 * i]);
            }
            from = ends[r];
        }
        for (size_t i = 1; i < m; i++)
            for (size_t j = i; j > 0 && cuts[j] < cuts[j - 1]; j--) {
                double swap = cuts[j];
                cuts[j] = cuts[j - 1];
                cuts[j - 1] = swap;
            }
        for (size_t i = 0; i + 1 < m; i += 2)
            if (cuts[i + 1] - cuts[i] > best * 1.15) {
                best = cuts[i + 1] - cuts[i];
                *x = (cuts[i] + cuts[i + 1]) / 2;
                *y = level;
            }
    }
    return best > 0;
}

bool map_shows(const struct map *map, const struct shape *shape)
{
    if (map->extent == NULL || shape == NULL || shape->n_parts == 0)
        return shape != NULL && shape->n_parts > 0;
    struct box box = shape_box(shape);
    return box.x_least <= map->extent->x_most && box.x_most >= map->extent->x_least && box.y_least <= map->extent->y_most &&
           box.y_most >= map->extent->y_least;
}

static bool zone_shows(const struct map *map, const struct map_zone *zone)
{
    return map_shows(map, zone->shape) || map_shows(map, zone->standoff);
}

bool map_shows_outline(const struct map *map)
{
    if (map->outline == NULL || map->extent == NULL)
        return map->outline != NULL;
    struct box box = shape_box(map->outline); /* a boundary all around the sheet is not on it */
    return map_shows(map, map->outline) && !(box.x_least < map->extent->x_least && box.x_most > map->extent->x_most &&
                                             box.y_least < map->extent->y_least && box.y_most > map->extent->y_most);
}

/* What stands at a zone's heart: a building, a line of pipe, a stem. */
static void thing_draw(struct canvas *canvas, const struct shape *shape, int kind, bool caution)
{
    enum ink ink = caution ? INK_CAUTION : INK_TEXT;
    for (size_t p = 0; p < shape->n_parts; p++) {
        double *xy = NULL;
        size_t *ends = NULL, n = canvas_rings(canvas, &shape->parts[p], &xy, &ends), from = 0;
        if (shape->kind == SHAPE_POLYGONS)
            draw_rings(canvas->drawing, xy, ends, n, (struct pen){.stroke = ink, .fill = INK_FAINT, .fill_share = 0.7, .width_pt = 1});
        for (size_t r = 0; r < n && shape->kind == SHAPE_LINES; r++) {
            draw_polyline(canvas->drawing, xy + 2 * from, ends[r] - from, false,
                          (struct pen){.stroke = ink, .width_pt = 1.6, .dash = (enum dash)(kind % 4)});
            from = ends[r];
        }
        for (size_t i = 0; n > 0 && i < ends[n - 1] && shape->kind == SHAPE_POINTS; i++) {
            double x = xy[2 * i], y = xy[2 * i + 1];
            draw_disc(canvas->drawing, x, y, 3.2, (struct pen){.stroke = ink, .fill = INK_PAPER, .width_pt = 1});
            draw_disc(canvas->drawing, x, y, 0.9, (struct pen){.fill = ink});
        }
        free(xy);
        free(ends);
    }
}

static void zones_draw(struct canvas *canvas, const struct map *map)
{
    draw_group(canvas->drawing, "zones");
    for (size_t i = 0; i < map->n_zones; i++) {
        const struct map_zone *zone = &map->zones[i];
        if (!zone_shows(map, zone))
            continue;
        int kind = canvas_kind(canvas, zone->kind, zone->caution);
        for (size_t p = 0; zone->standoff != NULL && p < zone->standoff->n_parts; p++) {
            double *xy = NULL;
            size_t *ends = NULL, n = canvas_rings(canvas, &zone->standoff->parts[p], &xy, &ends);
            kind_fill(canvas->drawing, kind, zone->caution, xy, ends, n);
            free(xy);
            free(ends);
        }
    }
    for (size_t i = 0; i < map->n_zones; i++)
        if (map->zones[i].shape != NULL && zone_shows(map, &map->zones[i]))
            thing_draw(canvas, map->zones[i].shape, canvas_kind(canvas, map->zones[i].kind, map->zones[i].caution), map->zones[i].caution);
    draw_group_end(canvas->drawing);
}

static void shape_stroke(struct canvas *canvas, const struct shape *shape, struct pen pen, enum map_fill fill)
{
    for (size_t p = 0; shape != NULL && p < shape->n_parts; p++) {
        double *xy = NULL;
        size_t *ends = NULL, n = canvas_rings(canvas, &shape->parts[p], &xy, &ends);
        area_fill(canvas->drawing, fill, xy, ends, n);
        draw_rings(canvas->drawing, xy, ends, n, pen);
        free(xy);
        free(ends);
    }
}

static void cells_draw(struct canvas *canvas, const struct map *map)
{
    if (map->n_cells == 0)
        return;
    draw_group(canvas->drawing, "squares");
    for (size_t i = 0; i < map->n_cells; i++) {
        shape_stroke(canvas, map->cells[i].shape, (struct pen){.stroke = INK_SOFT, .width_pt = 0.3}, MAP_FILL_NONE);
    }
    draw_group_end(canvas->drawing);
}

static void plants_draw(struct canvas *canvas, const struct map *map)
{
    if (map->n_plants == 0)
        return;
    draw_group(canvas->drawing, "plants");
    double radius = fmin(3.4, fmax(1.1, 0.11 * canvas->pt_m));
    for (size_t i = 0; i < map->n_plants; i++) {
        const struct map_plant *plant = &map->plants[i];
        double x = 0, y = 0;
        canvas_point(canvas, plant->x_m, plant->y_m, &x, &y);
        draw_layer_mark(canvas->drawing, plant->layer, x, y, radius);
        if (plant->gone) {
            draw_line(canvas->drawing, x - 1.5 * radius, y + 1.5 * radius, x + 1.5 * radius, y - 1.5 * radius,
                      (struct pen){.stroke = INK_CAUTION, .width_pt = 0.9});
        }
        if (plant->label != NULL && canvas->pt_m >= 40)
            draw_text(canvas->drawing, x + radius + 1.5, y + 2.5, (struct lettering){.size_pt = TEXT_SMALL, .halo = true}, plant->label);
    }
    draw_group_end(canvas->drawing);
}

/* How many plants lie under words in a box of the sheet. */
static size_t plants_under(const struct canvas *canvas, const struct map *map, double x1, double y1, double x2, double y2)
{
    size_t n = 0;
    for (size_t i = 0; i < map->n_plants; i++) {
        double x = 0, y = 0;
        canvas_point(canvas, map->plants[i].x_m, map->plants[i].y_m, &x, &y);
        n += x > x1 - 3 && x < x2 + 3 && y > y1 - 3 && y < y2 + 3;
    }
    return n;
}

/* Codes of squares, each in the corner where it hides least. */
static void codes_draw(struct canvas *canvas, const struct map *map)
{
    draw_group(canvas->drawing, "codes");
    for (size_t i = 0; i < map->n_cells; i++) {
        struct box box = shape_box(map->cells[i].shape);
        double left = 0, top = 0, width = (box.x_most - box.x_least) * canvas->pt_m, height = (box.y_most - box.y_least) * canvas->pt_m;
        struct lettering small = {.size_pt = TEXT_SMALL, .ink = INK_SOFT, .halo = true};
        canvas_point(canvas, box.x_least, box.y_most, &left, &top);
        if (width < 20 || left + width < canvas->left || left > canvas->left + canvas->width || top + height < canvas->top ||
            top > canvas->top + canvas->height)
            continue;
        double wide = draw_text_width(canvas->drawing, small, map->cells[i].code), best_x = 0, best_y = 0;
        size_t least = SIZE_MAX;
        for (int c = 0; c < 4; c++) {
            double x = left + (c % 2 == 0 ? 1.5 : width - wide - 1.5), y = top + (c < 2 ? 6.5 : height - 1.5);
            size_t n = plants_under(canvas, map, x, y - 5.5, x + wide, y);
            if (n < least) {
                least = n;
                best_x = x;
                best_y = y;
            }
        }
        draw_text_fitted(canvas->drawing, best_x, best_y, width - 2, small, map->cells[i].code);
    }
    draw_group_end(canvas->drawing);
}

static void points_draw(struct canvas *canvas, const struct map *map)
{
    for (size_t i = 0; i < map->n_points; i++) {
        const struct map_point *point = &map->points[i];
        double x = 0, y = 0;
        canvas_point(canvas, point->x_m, point->y_m, &x, &y);
        if (!point->peg) {
            canvas_label(canvas, x, y, (struct lettering){.size_pt = TEXT_SMALL}, point->label);
            continue;
        }
        draw_line(canvas->drawing, x - 5, y, x + 5, y, (struct pen){.stroke = INK_ACCENT, .width_pt = 0.9});
        draw_line(canvas->drawing, x, y - 5, x, y + 5, (struct pen){.stroke = INK_ACCENT, .width_pt = 0.9});
        draw_disc(canvas->drawing, x, y, 2.6, (struct pen){.stroke = INK_ACCENT, .width_pt = 0.9});
        canvas_label(canvas, x - 9, y + 8, (struct lettering){.size_pt = TEXT_SMALL, .bold = true}, point->label);
    }
}

/* Words last, over everything: plots first, for they matter most. */
static void labels_draw(struct canvas *canvas, const struct map *map)
{
    for (int pass = 0; pass < 2; pass++) {
        size_t n = pass == 0 ? map->n_areas : map->n_zones;
        for (size_t i = 0; i < n; i++) {
            const struct shape *shape = pass == 0                        ? map->areas[i].shape
                                        : map->zones[i].standoff != NULL ? map->zones[i].standoff
                                                                         : map->zones[i].shape;
            const char *words = pass == 0 ? map->areas[i].label : map->zones[i].label;
            if (!map_shows(map, shape) || words == NULL)
                continue;
            double *xy = NULL, x = 0, y = 0;
            size_t *ends = NULL, n_rings = canvas_rings(canvas, &shape->parts[0], &xy, &ends);
            bool inside = shape->kind == SHAPE_POLYGONS && inner_point(xy, ends, n_rings, &x, &y);
            if (!inside && n_rings > 0 && ends[0] > 0) {
                x = xy[2 * (ends[0] / 2)];
                y = xy[2 * (ends[0] / 2) + 1] - 8;
            }
            struct lettering lettering =
                pass == 0 ? (struct lettering){.size_pt = TEXT_LARGE, .bold = true} : (struct lettering){.size_pt = TEXT_SMALL};
            /* Over planted squares a plot's name would hide plants: it stands at the upper edge. */
            if (pass == 0 && (map->n_plants > 0 || map->n_cells > 0)) {
                struct box box = shape_box(shape);
                canvas_point(canvas, (box.x_least + box.x_most) / 2, box.y_most, &x, &y);
                y -= 9;
            }
            if (pass == 1 && map->zones[i].shape != NULL && map->zones[i].shape->kind == SHAPE_POINTS)
                y += 11; /* off the mark of the thing itself */
            canvas_label(canvas, x, y, lettering, words);
            free(xy);
            free(ends);
        }
    }
    if (map_shows_outline(map) && map->outline_label != NULL) {
        struct box box = shape_box(map->outline);
        double x = 0, y = 0;
        canvas_point(canvas, box.x_least, box.y_least, &x, &y);
        canvas_label(canvas, x + 30, y + 8, (struct lettering){.size_pt = TEXT_BODY, .italic = true}, map->outline_label);
    }
}

static void box_take(struct box *box, const struct shape *shape)
{
    if (shape == NULL || shape->n_parts == 0)
        return;
    struct box other = shape_box(shape);
    box->x_least = fmin(box->x_least, other.x_least);
    box->y_least = fmin(box->y_least, other.y_least);
    box->x_most = fmax(box->x_most, other.x_most);
    box->y_most = fmax(box->y_most, other.y_most);
}

static struct box map_ground(const struct map *map)
{
    struct box box = {INFINITY, INFINITY, -INFINITY, -INFINITY};
    if (map->extent != NULL)
        return *map->extent;
    box_take(&box, map->outline);
    for (size_t i = 0; i < map->n_areas; i++)
        box_take(&box, map->areas[i].shape);
    for (size_t i = 0; i < map->n_cells; i++)
        box_take(&box, map->cells[i].shape);
    for (size_t i = 0; map->outline == NULL && i < map->n_zones; i++) {
        box_take(&box, map->zones[i].shape);
        box_take(&box, map->zones[i].standoff);
    }
    for (size_t i = 0; i < map->n_plants + map->n_points; i++) {
        double x = i < map->n_plants ? map->plants[i].x_m : map->points[i - map->n_plants].x_m;
        double y = i < map->n_plants ? map->plants[i].y_m : map->points[i - map->n_plants].y_m;
        if (!isfinite(x) || !isfinite(y))
            continue;
        box.x_least = fmin(box.x_least, x);
        box.y_least = fmin(box.y_least, y);
        box.x_most = fmax(box.x_most, x);
        box.y_most = fmax(box.y_most, y);
    }
    return box;
}

static void map_about(const struct map *map, struct drawing *drawing, int scale)
{
    if (map->about != NULL)
        return;
    struct text about = {0};
    text_print(&about, "Map at 1:%d, grid north up, %s. ", scale, map->crs == NULL ? "reference system not stated" : map->crs);
    for (size_t i = 0; i < map->n_areas; i++)
        if (map->areas[i].label != NULL)
            text_print(&about, "Plot %s. ", map->areas[i].label);
    for (size_t i = 0; i < map->n_zones; i++)
        text_print(&about, "Constraint: %s%s%s. ", map->zones[i].kind == NULL ? "" : map->zones[i].kind,
                   map->zones[i].label == NULL ? "" : ", ", map->zones[i].label == NULL ? "" : map->zones[i].label);
    text_print(&about, "%zu plants, %zu squares.", map->n_plants, map->n_cells);
    drawing_set_about(drawing, text_get(&about));
    text_free(&about);
}

enum outcome map_draw(const struct map *map, struct drawing **out, int *scale, struct failure *why)
{
    struct box ground = map_ground(map);
    double wide = ground.x_most - ground.x_least, tall = ground.y_most - ground.y_least;
    if (!isfinite(wide) || !isfinite(tall)) {
        fail(why, OUTCOME_DATA, "There is nothing to put on the map: no outline, plot, square or plant has a place.");
        return failure_remedy(why, "Draw or import the site's boundary first.");
    }
    double width = map->width_pt > 0 ? map->width_pt : 515, height = map->height_pt > 0 ? map->height_pt : 640;
    struct canvas canvas = {.left = 0.5, .top = COORDINATES_PT, .width = width - 1};
    canvas.drawing = drawing_new(width, height, map->title == NULL ? "Map" : map->title, map->about);
    for (size_t i = 0; i < map->n_zones; i++)
        if (zone_shows(map, &map->zones[i]))
            canvas_kind(&canvas, map->zones[i].kind, map->zones[i].caution);
    double below = furniture_height(map, &canvas), margin = map->extent != NULL ? 0 : 16;
    canvas.height = fmax(LEAST_FRAME_PT, height - COORDINATES_PT - below);
    int fits = map_scale_fit(wide, tall, canvas.width - 2 * margin, canvas.height - 2 * margin), used = map->scale > 0 ? map->scale : fits;
    if (used == 0 || (map->scale > 0 && (wide * points_per_metre(used) > canvas.width || tall * points_per_metre(used) > canvas.height))) {
        drawing_free(canvas.drawing);
        fail(why, OUTCOME_DATA, "Ground of %.0f by %.0f m does not fit the page at 1:%d.", wide, tall, used == 0 ? 10000 : used);
        return failure_remedy(why, fits > 0 ? "1:%d fits." : "Show a part of it.", fits);
    }
    canvas.pt_m = points_per_metre(used);
    canvas.height = fmin(canvas.height, fmax(LEAST_FRAME_PT, tall * canvas.pt_m + 2 * margin + 4));
    canvas.west_m = (ground.x_least + ground.x_most) / 2 - canvas.width / canvas.pt_m / 2;
    canvas.south_m = (ground.y_least + ground.y_most) / 2 - canvas.height / canvas.pt_m / 2;
    drawing_resize(canvas.drawing, width, COORDINATES_PT + canvas.height + below);
    draw_clip(canvas.drawing, canvas.left, canvas.top, canvas.width, canvas.height);
    for (size_t i = 0; i < map->n_areas; i++)
        shape_stroke(&canvas, map->areas[i].shape, (struct pen){0}, map->areas[i].fill);
    zones_draw(&canvas, map);
    cells_draw(&canvas, map);
    shape_stroke(&canvas, map->outline, (struct pen){.stroke = INK_TEXT, .width_pt = 1.1, .dash = DASH_DASH_DOT}, MAP_FILL_NONE);
    for (size_t i = 0; i < map->n_areas; i++)
        shape_stroke(&canvas, map->areas[i].shape, (struct pen){.stroke = INK_TEXT, .width_pt = map->areas[i].heavy ? 2 : 1.2},
                     MAP_FILL_NONE);
    plants_draw(&canvas, map);
    codes_draw(&canvas, map);
    points_draw(&canvas, map);
    labels_draw(&canvas, map);
    draw_clip_end(canvas.drawing);
    furniture_draw(map, &canvas, used);
    map_about(map, canvas.drawing, used);
    if (scale != NULL)
        *scale = used;
    *out = canvas.drawing;
    return OUTCOME_OK;
}
