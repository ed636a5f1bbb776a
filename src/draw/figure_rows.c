/* SPDX-License-Identifier: GPL-3.0-or-later
 * Figures of rows: a dot and its interval, bars of a mix. */
#include "draw/axis.h"
#include "draw/inside.h"
#include "draw/marks.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

enum { ROW_PT = 15 };

static void row_words(const struct figure_intervals *figure, const struct figure_row *row, char out[160])
{
    char value[120];
    value_write(row->value, figure->digits, figure->unit, value);
    if (row->note == NULL)
        snprintf(out, 160, "%s", value);
    else
        snprintf(out, 160, "%.150s", row->note);
}

static void interval_draw(struct drawing *drawing, const struct figure_row *row, const struct axis *ax, double y)
{
    bool ends = is_known(row->value.low) && is_known(row->value.high);
    double low = ends ? axis_at(ax, fmax(row->value.low, ax->least)) : 0, high = ends ? axis_at(ax, fmin(row->value.high, ax->most)) : 0;
    enum ink ink = group_ink(row->group);
    if (row->summary && ends && is_known(row->value.value)) {
        double x = axis_at(ax, row->value.value);
        const double xy[8] = {low, y, x, y - 5, high, y, x, y + 5};
        draw_polyline(drawing, xy, 4, true, (struct pen){.stroke = INK_TEXT, .fill = ink, .width_pt = 0.8});
        return;
    }
    if (ends) {
        draw_line(drawing, low, y, high, y,
                  (struct pen){.stroke = ink, .width_pt = 1.4, .dash = is_known(row->value.value) ? DASH_SOLID : DASH_DOTTED});
        for (int side = 0; side < 2; side++) {
            double x = side == 0 ? low : high;
            bool beyond = side == 0 ? row->value.low < ax->least : row->value.high > ax->most;
            if (beyond) { /* an arrow: it goes on outside the picture */
                double d = side == 0 ? 4 : -4;
                draw_line(drawing, x, y, x + d, y - 3, (struct pen){.stroke = ink, .width_pt = 1});
                draw_line(drawing, x, y, x + d, y + 3, (struct pen){.stroke = ink, .width_pt = 1});
            } else {
                draw_line(drawing, x, y - 3, x, y + 3, (struct pen){.stroke = ink, .width_pt = 1});
            }
        }
    }
    if (is_known(row->value.value) && row->value.value >= ax->least && row->value.value <= ax->most)
        draw_group_mark(drawing, row->group, axis_at(ax, row->value.value), y,
                        row->weight > 0 ? 2 + 2.6 * sqrt(fmin(row->weight, 1)) : 3.2);
    else if (!ends && !is_known(row->value.value))
        draw_text(drawing, axis_at(ax, ax->least) + 4, y + 2.5, (struct lettering){.size_pt = TEXT_SMALL, .italic = true, .ink = INK_SOFT},
                  "not known");
}

static void intervals_about(struct drawing *drawing, const struct figure_intervals *figure)
{
    if (*drawing_about(drawing) != '\0')
        return;
    struct text about = {0};
    for (size_t i = 0; i < figure->n_rows; i++) {
        char value[120];
        value_write(figure->rows[i].value, figure->digits, figure->unit, value);
        text_print(&about, "%s%s: %s", i == 0 ? "" : "; ", figure->rows[i].label == NULL ? "" : figure->rows[i].label, value);
    }
    text_add(&about, ".");
    drawing_set_about(drawing, text_get(&about));
    text_free(&about);
}

static void reference_draw(struct drawing *drawing, const struct figure_intervals *figure, const struct axis *ax, double top, double y_axis)
{
    if (!is_known(figure->reference) || figure->reference < ax->least || figure->reference > ax->most)
        return;
    double x = axis_at(ax, figure->reference);
    if (is_known(figure->margin) && figure->margin > 0) {
        double a = axis_at(ax, fmax(ax->least, figure->reference - figure->margin)),
               b = axis_at(ax, fmin(ax->most, figure->reference + figure->margin));
        draw_box(drawing, a, top, b - a, y_axis - top, (struct pen){.fill = INK_WASH});
        draw_line(drawing, a, top, a, y_axis, (struct pen){.stroke = INK_SOFT, .width_pt = 0.4, .dash = DASH_DOTTED});
        draw_line(drawing, b, top, b, y_axis, (struct pen){.stroke = INK_SOFT, .width_pt = 0.4, .dash = DASH_DOTTED});
    }
    draw_line(drawing, x, top - 2, x, y_axis, (struct pen){.stroke = INK_TEXT, .width_pt = 0.9});
    struct lettering small = {.size_pt = TEXT_SMALL, .ink = INK_SOFT};
    if (figure->less != NULL) {
        struct arena arena = {0};
        small.anchor = ANCHOR_END;
        draw_text(drawing, x - 5, top - 4, small, arena_print(&arena, "← %s", figure->less));
        arena_clear(&arena);
    }
    if (figure->more != NULL) {
        struct arena arena = {0};
        small.anchor = ANCHOR_START;
        draw_text(drawing, x + 5, top - 4, small, arena_print(&arena, "%s →", figure->more));
        arena_clear(&arena);
    }
}

struct drawing *figure_intervals(const struct figure_intervals *figure)
{
    bool summary = false;
    double least = INFINITY, most = -INFINITY;
    for (size_t i = 0; i < figure->n_rows; i++) {
        summary = summary || figure->rows[i].summary;
        axis_take(&least, &most, figure->rows[i].value.value);
        axis_take(&least, &most, figure->rows[i].value.low);
        axis_take(&least, &most, figure->rows[i].value.high);
    }
    bool words_above = figure->less != NULL || figure->more != NULL;
    double above = words_above ? 14 : 4, below = figure->head.x_title == NULL ? 16 : 26;
    struct frame frame =
        frame_make(&figure->head, "Intervals", 470, above + ROW_PT * (double)figure->n_rows + (summary ? 6 : 0) + 4 + below);
    struct drawing *drawing = frame.drawing;
    if (figure->n_rows == 0)
        return frame_empty(&frame, "Nothing to compare yet.");
    axis_take(&least, &most, figure->reference);
    if (is_known(figure->reference) && is_known(figure->margin) && figure->margin > 0) {
        axis_take(&least, &most, figure->reference - figure->margin);
        axis_take(&least, &most, figure->reference + figure->margin);
    }
    if (is_known(figure->reference) && isfinite(least) && isfinite(most)) { /* room for the words on either side of the line */
        double room = 0.25 * (most - least);
        if (figure->less != NULL)
            least = fmin(least, figure->reference - room);
        if (figure->more != NULL)
            most = fmax(most, figure->reference + room);
    }
    if (figure->x_least < figure->x_most) {
        least = figure->x_least;
        most = figure->x_most;
    }
    double label = 0, note = 0, width = frame.right - frame.left;
    for (size_t i = 0; i < figure->n_rows; i++) {
        char words[160];
        row_words(figure, &figure->rows[i], words);
        label = fmax(label,
                     draw_text_width(drawing, (struct lettering){.bold = figure->rows[i].summary, .italic = figure->rows[i].label_italic},
                                     figure->rows[i].label));
        note = fmax(note, draw_text_width(drawing, (struct lettering){.size_pt = TEXT_SMALL}, words));
    }
    label = fmin(label, 0.4 * width);
    note = fmin(note, 0.36 * width);
    double top = frame.top + above, y_axis = frame.bottom - below;
    double step = (y_axis - top - (summary ? 6 : 0) - 4) / (double)figure->n_rows;
    struct axis ax =
        axis_make(least, most, frame.left + label + 12, frame.right - note - 12, width < 300 ? 3 : 5, figure->x_least >= figure->x_most);
    axis_draw_below(drawing, &ax, top, y_axis, figure->head.x_title);
    reference_draw(drawing, figure, &ax, top, y_axis);
    double y = top + step / 2 + 2;
    bool set_off = false;
    for (size_t i = 0; i < figure->n_rows; i++, y += step) {
        const struct figure_row *row = &figure->rows[i];
        char words[160];
        if (row->summary && !set_off) {
            draw_line(drawing, frame.left, y - step / 2 + 3, frame.right, y - step / 2 + 3,
                      (struct pen){.stroke = INK_SOFT, .width_pt = 0.5});
            y += 6;
            set_off = true;
        }
        row_words(figure, row, words);
        draw_text_fitted(drawing, frame.left, y + 3, label, (struct lettering){.bold = row->summary, .italic = row->label_italic},
                         row->label);
        interval_draw(drawing, row, &ax, y);
        draw_text_fitted(drawing, ax.to_pt + 12, y + 2.5, note, (struct lettering){.size_pt = TEXT_SMALL}, words);
    }
    intervals_about(drawing, figure);
    return drawing;
}

static enum ink layer_ink(int layer)
{
    static const enum ink inks[] = {INK_SOFT, INK_CANOPY, INK_SUBCANOPY, INK_SHRUB, INK_CLIMBER, INK_GROUND};
    return inks[layer >= 0 && layer <= 5 ? layer : 0];
}

/* Bars by layer: fill, then a hatch of its own, so that a grey copy tells them apart. */
static void bar_fill(struct drawing *drawing, int layer, double x, double y, double width, double height)
{
    draw_box(drawing, x, y, width, height,
             (struct pen){.fill = layer_ink(layer), .stroke = INK_TEXT, .width_pt = 0.5, .fill_share = layer == 0 ? 0.35 : 0.85});
    const double xy[8] = {x, y, x + width, y, x + width, y + height, x, y + height};
    size_t end = 4;
    struct pen line = {.stroke = INK_TEXT, .width_pt = 0.35};
    if (layer == 2)
        draw_hatch(drawing, xy, &end, 1, 90, 5, line);
    else if (layer == 3)
        draw_hatch(drawing, xy, &end, 1, 45, 4, line);
    else if (layer == 4)
        draw_hatch(drawing, xy, &end, 1, -45, 4, line);
    else if (layer == 5) {
        draw_hatch(drawing, xy, &end, 1, 45, 5, line);
        draw_hatch(drawing, xy, &end, 1, -45, 5, line);
    }
}

static size_t layers_used(const struct figure_bars *figure, double sums[6])
{
    size_t n = 0;
    bool used[6] = {false};
    for (size_t i = 0; i < figure->n_bars; i++) {
        int layer = figure->bars[i].layer >= 0 && figure->bars[i].layer <= 5 ? figure->bars[i].layer : 0;
        if (is_known(figure->bars[i].value))
            sums[layer] += figure->bars[i].value;
        n += !used[layer];
        used[layer] = true;
    }
    return n;
}

static void bar_draw(struct drawing *drawing, const struct figure_bars *figure, const struct figure_bar *bar, double left, double label,
                     const struct axis *ax, double y)
{
    char words[160], number[80];
    value_write_number(bar->value, figure->digits, number);
    snprintf(words, sizeof words, "%.75s%s%.20s", number, figure->unit != NULL && *figure->unit != '\0' ? " " : "",
             figure->unit == NULL ? "" : figure->unit);
    draw_text_fitted(drawing, left, y + 3, label, (struct lettering){.italic = bar->label_italic}, bar->label);
    double x = axis_at(ax, is_known(bar->value) ? bar->value : 0);
    if (is_known(bar->value))
        bar_fill(drawing, bar->layer, ax->from_pt, y - 4.5, x - ax->from_pt, 9);
    if (is_known(bar->aim_low) && is_known(bar->aim_high) && bar->aim_high > 0) {
        double a = axis_at(ax, bar->aim_low), b = axis_at(ax, bar->aim_high);
        struct pen pen = {.stroke = INK_TEXT, .width_pt = 1.1};
        draw_line(drawing, a, y + 5.8, b, y + 5.8, pen);
        draw_line(drawing, a, y + 2.5, a, y + 5.8, pen);
        draw_line(drawing, b, y + 2.5, b, y + 5.8, pen);
        x = fmax(x, b);
    }
    draw_text(drawing, x + 5, y + 2.7, (struct lettering){.size_pt = TEXT_SMALL}, bar->note != NULL ? bar->note : words);
}

static void layer_head_draw(struct drawing *drawing, const struct figure_bars *figure, int layer, double sum, double left, double y)
{
    char number[80], words[160];
    value_write_number(sum, figure->digits, number);
    snprintf(words, sizeof words, "%s: %.80s%s%.20s", layer_name(layer), number, figure->unit != NULL && *figure->unit != '\0' ? " " : "",
             figure->unit == NULL ? "" : figure->unit);
    draw_layer_mark(drawing, layer, left + 5, y, 4);
    draw_text(drawing, left + 14, y + 3, (struct lettering){.bold = true, .halo = true}, words);
}

struct drawing *figure_bars(const struct figure_bars *figure)
{
    double sums[6] = {0}, most = 0, label = 0, note = 0;
    size_t heads = layers_used(figure, sums);
    if (!figure->by_layer)
        heads = 0;
    double below = figure->head.x_title == NULL ? 16 : 26;
    struct frame frame = frame_make(&figure->head, "Bars", 470, ROW_PT * (double)(figure->n_bars + heads) + 6 + below);
    struct drawing *drawing = frame.drawing;
    if (figure->n_bars == 0)
        return frame_empty(&frame, "Nothing to show yet.");
    struct text about = {0};
    for (size_t i = 0; i < figure->n_bars; i++) {
        const struct figure_bar *bar = &figure->bars[i];
        char number[80];
        value_write_number(bar->value, figure->digits, number);
        text_print(&about, "%s%s: %s%s%s", i == 0 ? "" : "; ", bar->label == NULL ? "" : bar->label, number,
                   figure->unit != NULL && *figure->unit != '\0' ? " " : "", figure->unit == NULL ? "" : figure->unit);
        if (is_known(bar->value))
            most = fmax(most, bar->value);
        if (is_known(bar->aim_high))
            most = fmax(most, bar->aim_high);
        label = fmax(label, draw_text_width(drawing, (struct lettering){.italic = bar->label_italic}, bar->label));
        note =
            fmax(note, draw_text_width(drawing, (struct lettering){.size_pt = TEXT_SMALL}, bar->note != NULL ? bar->note : number) +
                           (bar->note == NULL ? draw_text_width(drawing, (struct lettering){.size_pt = TEXT_SMALL}, figure->unit) + 2 : 0));
    }
    if (*drawing_about(drawing) == '\0')
        drawing_set_about(drawing, text_get(&about));
    text_free(&about);
    double width = frame.right - frame.left;
    label = fmin(label, 0.45 * width);
    note = fmin(note + 8, 0.4 * width);
    struct axis ax = axis_make(0, most, frame.left + label + 10, frame.right - note, width < 300 ? 3 : 5, false);
    double y_axis = frame.bottom - below;
    axis_draw_below(drawing, &ax, frame.top + 2, y_axis, figure->head.x_title);
    double y = frame.top + 10, step = (y_axis - frame.top - 6) / (double)(figure->n_bars + heads);
    for (int layer = figure->by_layer ? 1 : 6; layer <= 6; layer++) {
        bool headed = false;
        for (size_t i = 0; i < figure->n_bars; i++) {
            const struct figure_bar *bar = &figure->bars[i];
            if (figure->by_layer && (bar->layer >= 1 && bar->layer <= 5 ? bar->layer : 6) != layer)
                continue;
            if (figure->by_layer && !headed) {
                layer_head_draw(drawing, figure, layer % 6, sums[layer % 6], frame.left, y);
                y += step;
                headed = true;
            }
            bar_draw(drawing, figure, bar, frame.left, label, &ax, y);
            y += step;
        }
    }
    return drawing;
}
