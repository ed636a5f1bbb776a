/* SPDX-License-Identifier: GPL-3.0-or-later
 * A wood from the side and from above: crowns and stems to scale, a panel for each year shown. */
#include "draw/axis.h"
#include "draw/inside.h"
#include "draw/marks.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

/* Layers told apart by line first: heavy, plain, dashed, dotted; and by the weight of their tint. */
static struct pen crown_pen(int layer, bool side)
{
    static const enum ink inks[] = {INK_SOFT, INK_CANOPY, INK_SUBCANOPY, INK_SHRUB, INK_CLIMBER, INK_GROUND};
    static const double widths[] = {0.5, 1.0, 0.8, 0.6, 0.6, 0.5}, shares[] = {0.15, 0.34, 0.26, 0.18, 0.18, 0.15};
    static const enum dash dashes[] = {DASH_SOLID, DASH_SOLID, DASH_SOLID, DASH_DASHED, DASH_DOTTED, DASH_DOTTED};
    int k = layer < 0 || layer > 5 ? 0 : layer;
    return (struct pen){.stroke = side || k == 0 ? inks[k] : INK_TEXT,
                        .fill = inks[k],
                        .width_pt = side ? widths[k] : 0.6 * widths[k],
                        .dash = dashes[k],
                        .fill_share = shares[k]};
}

static int by_height(const void *a, const void *b)
{
    const struct figure_crown *p = a, *q = b;
    return p->height_m != q->height_m ? (p->height_m > q->height_m) - (p->height_m < q->height_m) : (p->x_m > q->x_m) - (p->x_m < q->x_m);
}

/* Far crowns first. */
static int by_depth(const void *a, const void *b)
{
    const struct figure_crown *p = a, *q = b;
    return p->y_m != q->y_m ? (p->y_m < q->y_m) - (p->y_m > q->y_m) : (p->x_m > q->x_m) - (p->x_m < q->x_m);
}

static struct figure_crown *sorted(const struct figure_crown_panel *panel, int (*order)(const void *, const void *))
{
    struct figure_crown *copy = memory_get(panel->n + 1, sizeof *copy);
    for (size_t i = 0; i < panel->n; i++)
        copy[i] = panel->crowns[i];
    qsort(copy, panel->n, sizeof *copy, order);
    return copy;
}

/* The layers that occur, with what their mark is. */
static double key_draw(struct drawing *drawing, const struct figure_crowns *figure, double x, double y)
{
    for (int layer = 1; layer <= 5; layer++) {
        bool any = false;
        for (size_t p = 0; p < figure->n_panels; p++)
            for (size_t i = 0; i < figure->panels[p].n; i++)
                any = any || figure->panels[p].crowns[i].layer == layer;
        if (!any)
            continue;
        draw_disc(drawing, x + 5, y - 3, 4.5, crown_pen(layer, figure->side));
        if (!figure->side)
            draw_layer_mark(drawing, layer, x + 5, y - 3, 1.6);
        draw_text(drawing, x + 13, y, (struct lettering){.size_pt = TEXT_SMALL}, layer_name(layer));
        x += 24 + draw_text_width(drawing, (struct lettering){.size_pt = TEXT_SMALL}, layer_name(layer));
    }
    return x;
}

/* One tree from the side: stem, and a crown that is an egg for trees and a low round for shrubs. */
static void tree_draw(struct drawing *drawing, const struct figure_crown *crown, double x, double ground, double scale)
{
    enum { STEPS = 20 };
    double xy[2 * STEPS], depth = crown->height_m - crown->base_m, wide = crown->radius_m;
    for (int k = 0; k < STEPS; k++) {
        double turn = 2 * 3.14159265358979 * k / STEPS, up = -cos(turn);
        double at = crown->base_m + depth * (0.5 + 0.5 * up);
        double lean = crown->layer == 1 || crown->layer == 2 ? 1 - 0.25 * up : 1;
        xy[2 * k] = x + scale * wide * sin(turn) * lean;
        xy[2 * k + 1] = ground - scale * at;
    }
    draw_line(drawing, x, ground, x, ground - scale * (crown->base_m + 0.6 * depth),
              (struct pen){.stroke = INK_TEXT, .width_pt = fmax(0.4, scale * crown->stem_m)});
    draw_polyline(drawing, xy, STEPS, true, crown_pen(crown->layer, true));
}

static void side_panel(struct drawing *drawing, const struct figure_crowns *figure, const struct figure_crown_panel *panel, double left,
                       double ground, double scale, double top_m)
{
    struct axis axis = axis_make(0, top_m, ground, ground - scale * top_m, top_m * scale > 70 ? 4 : 2, false);
    double right = left + scale * (figure->ground.x_most - figure->ground.x_least);
    for (size_t i = 0; i < axis.n_ticks; i++) {
        double y = axis_at(&axis, axis.ticks[i]);
        draw_line(drawing, left, y, right, y, (struct pen){.stroke = INK_FAINT, .width_pt = 0.4});
        draw_text(drawing, left - 4, y + 2.5, (struct lettering){.size_pt = TEXT_SMALL, .ink = INK_SOFT, .anchor = ANCHOR_END},
                  axis.labels[i]);
    }
    draw_clip(drawing, left, ground - scale * top_m - 1, right - left, scale * top_m + 2);
    struct figure_crown *crowns = sorted(panel, by_depth);
    for (size_t i = 0; i < panel->n; i++)
        tree_draw(drawing, &crowns[i], left + scale * (crowns[i].x_m - figure->ground.x_least), ground, scale);
    free(crowns);
    draw_clip_end(drawing);
    draw_line(drawing, left, ground, right, ground, (struct pen){.stroke = INK_TEXT, .width_pt = 1.2});
    draw_text(drawing, left, ground - scale * top_m - 5, (struct lettering){.size_pt = TEXT_BODY, .bold = true}, panel->name);
}

static double tallest_m(const struct figure_crown_panel *panel)
{
    double most = 1;
    for (size_t i = 0; i < panel->n; i++)
        most = fmax(most, panel->crowns[i].height_m);
    return most;
}

/* Height of a row of panels: its tallest tree and a little sky. */
static double row_m(const struct figure_crowns *figure, size_t row, size_t columns)
{
    double most = 1;
    for (size_t p = row * columns; p < (row + 1) * columns && p < figure->n_panels; p++)
        most = fmax(most, tallest_m(&figure->panels[p]));
    return 1.05 * most;
}

static struct drawing *side_draw(const struct figure_crowns *figure)
{
    enum { AXIS = 18, GAP = 10, HEAD = 18 };
    double wide_m = figure->ground.x_most - figure->ground.x_least;
    double width = figure->head.width_pt > 0 ? figure->head.width_pt : 515, scale = 0, height = 0;
    size_t best = 1;
    for (size_t columns = 1; columns <= 3 && columns <= figure->n_panels; columns++) {
        double sum = 0;
        for (size_t row = 0; row * columns < figure->n_panels; row++)
            sum += row_m(figure, row, columns);
        double fits = fmin((width - 12) / (double)columns - AXIS - GAP, 560 * wide_m / sum) / wide_m;
        if (fits > 0.8 * scale) { /* smaller, but more fit on a page */
            scale = fits;
            best = columns;
        }
    }
    for (size_t row = 0; row * best < figure->n_panels; row++)
        height += scale * row_m(figure, row, best) + HEAD;
    struct frame frame = frame_make(&figure->head, "A wood from the side", width, height + 24);
    double y = frame.top;
    for (size_t row = 0; row * best < figure->n_panels; row++) {
        y += scale * row_m(figure, row, best) + HEAD;
        for (size_t p = row * best; p < (row + 1) * best && p < figure->n_panels; p++)
            side_panel(frame.drawing, figure, &figure->panels[p],
                       frame.left + AXIS + (double)(p - row * best) * (scale * wide_m + AXIS + GAP), y, scale, row_m(figure, row, best));
    }
    double end = key_draw(frame.drawing, figure, frame.left + AXIS, frame.bottom - 3);
    draw_text(frame.drawing, end + 6, frame.bottom - 3, (struct lettering){.size_pt = TEXT_SMALL, .ink = INK_SOFT},
              "heights in metres; heights and widths to one scale");
    return frame.drawing;
}

static void above_panel(struct drawing *drawing, const struct figure_crowns *figure, const struct figure_crown_panel *panel, double left,
                        double top, double scale)
{
    struct box box = figure->ground;
    double width = scale * (box.x_most - box.x_least), height = scale * (box.y_most - box.y_least);
    draw_text(drawing, left, top - 4, (struct lettering){.size_pt = TEXT_BODY, .bold = true}, panel->name);
    draw_clip(drawing, left, top, width, height);
    struct figure_crown *crowns = sorted(panel, by_height);
    for (size_t i = 0; i < panel->n; i++) {
        double x = left + scale * (crowns[i].x_m - box.x_least), y = top + scale * (box.y_most - crowns[i].y_m);
        draw_disc(drawing, x, y, scale * crowns[i].radius_m, crown_pen(crowns[i].layer, false));
    }
    for (size_t i = 0; i < panel->n; i++) {
        double x = left + scale * (crowns[i].x_m - box.x_least), y = top + scale * (box.y_most - crowns[i].y_m);
        draw_layer_mark(drawing, crowns[i].layer, x, y, fmin(2.2, fmax(0.7, 0.35 * scale * crowns[i].radius_m)));
    }
    free(crowns);
    draw_clip_end(drawing);
    for (size_t k = 0; figure->outline != NULL && k < figure->outline->n_parts; k++)
        for (size_t r = 0; r < figure->outline->parts[k].n_rings; r++) {
            const struct ring *ring = &figure->outline->parts[k].rings[r];
            double *xy = memory_get(2 * ring->n + 1, sizeof *xy);
            for (size_t i = 0; i < ring->n; i++) {
                xy[2 * i] = left + scale * (ring->xy[2 * i] - box.x_least);
                xy[2 * i + 1] = top + scale * (box.y_most - ring->xy[2 * i + 1]);
            }
            draw_polyline(drawing, xy, ring->n, true, (struct pen){.stroke = INK_TEXT, .width_pt = 1.0});
            free(xy);
        }
    char words[80];
    snprintf(words, sizeof words, "%zu living", panel->n);
    draw_text(drawing, left + width, top - 4, (struct lettering){.size_pt = TEXT_SMALL, .ink = INK_SOFT, .anchor = ANCHOR_END},
              panel->note != NULL ? panel->note : words);
}

static struct drawing *above_draw(const struct figure_crowns *figure)
{
    double wide_m = figure->ground.x_most - figure->ground.x_least, high_m = figure->ground.y_most - figure->ground.y_least;
    double width = figure->head.width_pt > 0 ? figure->head.width_pt : 515, gap = 18, most_high = 420;
    size_t best = 1;
    double scale = 0;
    for (size_t columns = 1; columns <= 4 && columns <= figure->n_panels; columns++) { /* the arrangement with the largest pictures */
        size_t rows = (figure->n_panels + columns - 1) / columns;
        double fits = fmin((width - gap * (double)(columns + 1)) / ((double)columns * wide_m), most_high / ((double)rows * high_m));
        if (fits > scale) {
            scale = fits;
            best = columns;
        }
    }
    size_t rows = (figure->n_panels + best - 1) / best;
    struct frame frame = frame_make(&figure->head, "A wood from above", width, (double)rows * (scale * high_m + 22) + 24);
    for (size_t p = 0; p < figure->n_panels; p++)
        above_panel(frame.drawing, figure, &figure->panels[p], frame.left + (double)(p % best) * (scale * wide_m + gap),
                    frame.top + 16 + (double)(p / best) * (scale * high_m + 22), scale);
    double y = frame.bottom - 3, bar = wide_m > 40 ? 10 : wide_m > 12 ? 5 : 2;
    double x = key_draw(frame.drawing, figure, frame.left, y) + 6;
    draw_line(frame.drawing, x, y - 2, x + bar * scale, y - 2, (struct pen){.stroke = INK_TEXT, .width_pt = 1.6});
    char words[40];
    snprintf(words, sizeof words, "%.0f m; grid north up", bar);
    draw_text(frame.drawing, x + bar * scale + 5, y, (struct lettering){.size_pt = TEXT_SMALL}, words);
    return frame.drawing;
}

struct drawing *figure_crowns(const struct figure_crowns *figure)
{
    size_t n = 0;
    for (size_t p = 0; p < figure->n_panels; p++)
        n += figure->panels[p].n;
    if (n == 0 || !(figure->ground.x_most > figure->ground.x_least)) {
        struct frame frame = frame_make(&figure->head, "A wood", 330, 80);
        return frame_empty(&frame, "No living plants to show.");
    }
    struct drawing *drawing = figure->side ? side_draw(figure) : above_draw(figure);
    if (*drawing_about(drawing) == '\0') {
        struct text about = {0};
        for (size_t p = 0; p < figure->n_panels; p++) {
            double tall = figure->panels[p].n == 0 ? 0 : tallest_m(&figure->panels[p]);
            text_print(&about, "%s%s: %zu living plants, the tallest %.1f m.", p == 0 ? "" : " ", figure->panels[p].name,
                       figure->panels[p].n, tall);
        }
        drawing_set_about(drawing, text_get(&about));
        text_free(&about);
    }
    return drawing;
}
