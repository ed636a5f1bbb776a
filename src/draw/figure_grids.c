/* SPDX-License-Identifier: GPL-3.0-or-later
 * Figures on a grid: soil by depth, a calendar of work, values by square. */
#include "draw/axis.h"
#include "draw/inside.h"
#include "draw/marks.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

static double deepest_cm(const struct figure_profile *figure)
{
    double deep = 0;
    for (size_t i = 0; i < figure->n_lines; i++)
        for (size_t j = 0; j < figure->lines[i].n; j++)
            if (isfinite(figure->lines[i].layers[j].bottom_cm))
                deep = fmax(deep, figure->lines[i].layers[j].bottom_cm);
    return deep;
}

static void profile_line(struct drawing *drawing, const struct figure_profile_line *line, int group, const struct axis *ax,
                         const struct axis *ay)
{
    double last_x = NAN, last_y = NAN;
    struct pen pen = {.stroke = group_ink(group), .width_pt = 1.6, .dash = group_dash(group)};
    for (size_t j = 0; j < line->n; j++) {
        const struct figure_layer *layer = &line->layers[j];
        double top = axis_at(ay, layer->top_cm), bottom = axis_at(ay, layer->bottom_cm);
        if (!is_known(layer->value.value) || !isfinite(top) || !isfinite(bottom)) {
            last_x = NAN;
            continue;
        }
        double x = axis_at(ax, layer->value.value), y = (top + bottom) / 2;
        if (is_known(last_x) && fabs(last_y - top) < 0.5)
            draw_line(drawing, last_x, top, x, top, pen);
        draw_line(drawing, x, top, x, bottom, pen);
        if (is_known(layer->value.low) && is_known(layer->value.high)) {
            double at = y + 4 * group;
            draw_line(drawing, axis_at(ax, layer->value.low), at, axis_at(ax, layer->value.high), at,
                      (struct pen){.stroke = pen.stroke, .width_pt = 0.9});
            draw_group_mark(drawing, group, x, at, 2.4);
        } else {
            draw_group_mark(drawing, group, x, y, 2.4);
        }
        last_x = x;
        last_y = bottom;
    }
}

static void profile_about(struct drawing *drawing, const struct figure_profile *figure)
{
    if (*drawing_about(drawing) != '\0')
        return;
    struct text about = {0};
    for (size_t i = 0; i < figure->n_lines; i++) {
        text_print(&about, "%s%s:", i == 0 ? "" : " ", figure->lines[i].name == NULL ? "Profile" : figure->lines[i].name);
        for (size_t j = 0; j < figure->lines[i].n; j++) {
            const struct figure_layer *layer = &figure->lines[i].layers[j];
            char value[120];
            value_write(layer->value, fabs(layer->value.value) < 10 ? 2 : 0, "", value);
            text_print(&about, " %g–%g cm %s%s", layer->top_cm, layer->bottom_cm, value, j + 1 < figure->lines[i].n ? "," : ".");
        }
    }
    drawing_set_about(drawing, text_get(&about));
    text_free(&about);
}

struct drawing *figure_profile(const struct figure_profile *figure)
{
    struct frame frame = frame_make(&figure->head, "Soil by depth", 330, 280);
    struct drawing *drawing = frame.drawing;
    double least = INFINITY, most = -INFINITY, deep = deepest_cm(figure);
    for (size_t i = 0; i < figure->n_lines; i++)
        for (size_t j = 0; j < figure->lines[i].n; j++) {
            struct draw_value value = figure->lines[i].layers[j].value;
            axis_take(&least, &most, value.value);
            axis_take(&least, &most, value.low);
            axis_take(&least, &most, value.high);
        }
    if (!isfinite(least) || deep <= 0)
        return frame_empty(&frame, "No depth layers to show.");
    if (figure->mark_words != NULL)
        axis_take(&least, &most, figure->mark_x);
    if (least > 0)
        least = 0;
    double top = frame.top + (figure->head.x_title == NULL ? 30 : 40), bottom = frame.bottom - 4 - (figure->n_lines > 1 ? 14 : 0);
    struct axis ay = axis_make(0, deep, top, bottom, 6, false);
    double words = 0;
    for (size_t i = 0; i < figure->n_lines && words <= 0; i++)
        for (size_t j = 0; j < figure->lines[i].n; j++)
            if (figure->lines[i].layers[j].words != NULL)
                words =
                    fmax(words, draw_text_width(drawing, (struct lettering){.size_pt = TEXT_SMALL}, figure->lines[i].layers[j].words) + 10);
    words = fmin(words, 0.35 * frame.right);
    double left = frame.left + axis_label_width(drawing, &ay) + 8;
    struct axis ax = axis_make(least, most, left, frame.right - words - 8, 5, true);
    for (size_t i = 0; i < ax.n_ticks; i++) { /* the scale stands on top, where the surface is */
        double x = axis_at(&ax, ax.ticks[i]);
        draw_line(drawing, x, top, x, bottom, (struct pen){.stroke = INK_FAINT, .width_pt = 0.4});
        draw_text(drawing, x, top - 4, (struct lettering){.size_pt = TEXT_SMALL, .ink = INK_SOFT, .anchor = ANCHOR_MIDDLE}, ax.labels[i]);
    }
    if (figure->head.x_title != NULL)
        draw_text(drawing, (ax.from_pt + ax.to_pt) / 2, top - 14, (struct lettering){.size_pt = TEXT_SMALL, .anchor = ANCHOR_MIDDLE},
                  figure->head.x_title);
    draw_text(drawing, frame.left, top - 26 + (figure->head.x_title == NULL ? 10 : 0), (struct lettering){.size_pt = TEXT_SMALL},
              figure->head.y_title == NULL ? "depth below the surface (cm)" : figure->head.y_title);
    axis_draw_left(drawing, &ay, ax.from_pt, ax.to_pt);
    draw_line(drawing, ax.from_pt, top, frame.right, top, (struct pen){.stroke = INK_TEXT, .width_pt = 1.6});
    if (figure->mark_words != NULL) {
        double x = axis_at(&ax, figure->mark_x);
        draw_line(drawing, x, top, x, bottom, (struct pen){.stroke = INK_CAUTION, .width_pt = 0.9, .dash = DASH_DASHED});
    }
    for (size_t i = 0; i < figure->n_lines; i++)
        profile_line(drawing, &figure->lines[i], (int)i, &ax, &ay);
    if (figure->mark_words != NULL) { /* over the lines, so that it can be read */
        double x = axis_at(&ax, figure->mark_x);
        bool end = x > (ax.from_pt + ax.to_pt) / 2;
        draw_text(drawing, end ? x - 4 : x + 4, bottom - 4,
                  (struct lettering){.size_pt = TEXT_SMALL, .halo = true, .anchor = end ? ANCHOR_END : ANCHOR_START}, figure->mark_words);
    }
    const struct figure_profile_line *first = figure->n_lines > 0 ? &figure->lines[0] : NULL;
    for (size_t j = 0; words > 0 && j < first->n; j++) {
        double a = axis_at(&ay, first->layers[j].top_cm), b = axis_at(&ay, first->layers[j].bottom_cm);
        draw_line(drawing, ax.to_pt + 6, b, frame.right, b, (struct pen){.stroke = INK_SOFT, .width_pt = 0.5});
        draw_text_fitted(drawing, ax.to_pt + 8, (a + b) / 2 + 2.5, words - 2, (struct lettering){.size_pt = TEXT_SMALL},
                         first->layers[j].words);
    }
    double x = ax.from_pt;
    for (size_t i = 0; i < figure->n_lines && figure->n_lines > 1; i++) {
        draw_line(drawing, x, frame.bottom - 5, x + 22, frame.bottom - 5,
                  (struct pen){.stroke = group_ink((int)i), .width_pt = 1.6, .dash = group_dash((int)i)});
        draw_group_mark(drawing, (int)i, x + 11, frame.bottom - 5, 2.4);
        draw_text(drawing, x + 27, frame.bottom - 2.5, (struct lettering){.size_pt = TEXT_SMALL}, figure->lines[i].name);
        x += 40 + draw_text_width(drawing, (struct lettering){.size_pt = TEXT_SMALL}, figure->lines[i].name);
    }
    profile_about(drawing, figure);
    return drawing;
}

static void span_draw(struct drawing *drawing, const struct figure_span *span, double a, double b, double y)
{
    const double xy[8] = {a, y - 4.5, b, y - 4.5, b, y + 4.5, a, y + 4.5};
    size_t end = 4;
    struct pen outline = {.stroke = INK_TEXT, .width_pt = 0.8};
    switch (span->state) {
    case 1:
        outline.fill = INK_GROUP_1;
        break;
    case 2:
        draw_hatch(drawing, xy, &end, 1, 45, 3, (struct pen){.stroke = INK_GROUP_1, .width_pt = 0.9});
        break;
    case 3:
        outline.stroke = INK_CAUTION;
        draw_line(drawing, a, y - 4.5, b, y + 4.5, (struct pen){.stroke = INK_CAUTION, .width_pt = 0.8});
        draw_line(drawing, a, y + 4.5, b, y - 4.5, (struct pen){.stroke = INK_CAUTION, .width_pt = 0.8});
        break;
    default:
        break;
    }
    draw_box(drawing, a, y - 4.5, b - a, 9, outline);
}

static void calendar_key(struct drawing *drawing, const struct figure_calendar *figure, double x, double y)
{
    static const char *const words[] = {"foreseen", "done", "partly done", "skipped"};
    for (int state = 0; state < 4; state++) {
        bool used = false;
        for (size_t i = 0; i < figure->n_spans; i++)
            used = used || figure->spans[i].state == state;
        if (!used)
            continue;
        span_draw(drawing, &(struct figure_span){.state = state}, x, x + 16, y - 2.5);
        draw_text(drawing, x + 20, y, (struct lettering){.size_pt = TEXT_SMALL}, words[state]);
        x += 32 + draw_text_width(drawing, (struct lettering){.size_pt = TEXT_SMALL}, words[state]);
    }
}

/* Whether another span of the row begins between two places. */
static bool span_between(const struct figure_calendar *figure, size_t row, const struct axis *ax, double a, double b)
{
    for (size_t i = 0; i < figure->n_spans; i++) {
        double x = axis_at(ax, figure->spans[i].from);
        if (figure->spans[i].row == row && x >= a && x < b)
            return true;
    }
    return false;
}

struct drawing *figure_calendar(const struct figure_calendar *figure)
{
    struct frame frame = frame_make(&figure->head, "Calendar", 470, 40 + 15 * (double)figure->n_rows);
    struct drawing *drawing = frame.drawing;
    if (figure->n_rows == 0 || figure->from == DATE_UNKNOWN || figure->to == DATE_UNKNOWN || figure->to <= figure->from)
        return frame_empty(&frame, "No work is foreseen.");
    double label = 0;
    for (size_t i = 0; i < figure->n_rows; i++)
        label = fmax(label, draw_text_width(drawing, (struct lettering){0}, figure->rows[i]));
    label = fmin(label, 0.35 * frame.right);
    double top = frame.top + 18, step = (frame.bottom - top - 18) / (double)figure->n_rows, bottom = top + step * (double)figure->n_rows;
    struct axis ax = axis_make_dates(figure->from, figure->to + 1, frame.left + label + 10, frame.right - 2);
    for (size_t i = 0; i < ax.n_ticks; i++) {
        double x = axis_at(&ax, ax.ticks[i]);
        draw_line(drawing, x, top - 2, x, bottom, (struct pen){.stroke = INK_FAINT, .width_pt = 0.5});
        double wide = draw_text_width(drawing, (struct lettering){.size_pt = TEXT_SMALL}, ax.labels[i]);
        if (x + 2 + wide <= frame.right)
            draw_text(drawing, x + 2, top - 5, (struct lettering){.size_pt = TEXT_SMALL, .ink = INK_SOFT}, ax.labels[i]);
    }
    struct text about = {0};
    for (size_t i = 0; i < figure->n_rows; i++) {
        double y = top + step * ((double)i + 0.5);
        draw_text_fitted(drawing, frame.left, y + 3, label, (struct lettering){0}, figure->rows[i]);
        draw_line(drawing, frame.left, y + step / 2, frame.right, y + step / 2, (struct pen){.stroke = INK_FAINT, .width_pt = 0.4});
        text_print(&about, "%s%s", i == 0 ? "Work by row: " : "; ", figure->rows[i]);
    }
    for (size_t i = 0; i < figure->n_spans; i++) {
        const struct figure_span *span = &figure->spans[i];
        if (span->row >= figure->n_rows || span->from == DATE_UNKNOWN || span->to < figure->from || span->from > figure->to)
            continue;
        int32_t to = span->to == DATE_UNKNOWN || span->to < span->from ? span->from : span->to;
        double a = axis_at(&ax, fmax(span->from, figure->from)), b = axis_at(&ax, fmin(to, figure->to) + 1),
               y = top + step * ((double)span->row + 0.5);
        if (b - a < 3)
            b = a + 3;
        span_draw(drawing, span, a, b, y);
        if (span->words != NULL)
            text_print(&about, "; %s: %s", figure->rows[span->row], span->words);
        double wide = span->words == NULL ? 0 : draw_text_width(drawing, (struct lettering){.size_pt = TEXT_SMALL}, span->words);
        if (wide > 0 && span->state != 1 && span->state != 3 && wide + 6 < b - a)
            draw_text(drawing, a + 3, y + 2.6, (struct lettering){.size_pt = TEXT_SMALL, .halo = true}, span->words);
        else if (wide > 0 && b + 3 + wide <= frame.right && !span_between(figure, span->row, &ax, b, b + 3 + wide))
            draw_text(drawing, b + 3, y + 2.6, (struct lettering){.size_pt = TEXT_SMALL, .halo = true}, span->words);
    }
    if (figure->today != DATE_UNKNOWN && figure->today >= figure->from && figure->today <= figure->to) {
        double x = axis_at(&ax, figure->today);
        draw_line(drawing, x, top - 2, x, bottom, (struct pen){.stroke = INK_ACCENT, .width_pt = 1.2});
        draw_text(drawing, x, bottom + 8, (struct lettering){.size_pt = TEXT_SMALL, .ink = INK_ACCENT, .anchor = ANCHOR_MIDDLE}, "today");
    }
    calendar_key(drawing, figure, frame.left, frame.bottom - 3);
    if (*drawing_about(drawing) == '\0')
        drawing_set_about(drawing, text_get(&about));
    text_free(&about);
    return drawing;
}

/* Row letters A … Z, AA …, as on the ground. */
static void row_letters(size_t row, char out[8])
{
    char back[8];
    size_t n = 0;
    for (row++; row > 0 && n < 6; row = (row - 1) / 26)
        back[n++] = (char)('A' + (row - 1) % 26);
    for (size_t i = 0; i < n; i++)
        out[i] = back[n - 1 - i];
    out[n] = '\0';
}

static void one_cell(struct drawing *drawing, const struct figure_cells *figure, size_t i, double x, double y, double side, double share)
{
    struct pen outline = {.stroke = INK_SOFT, .width_pt = 0.4};
    double value = figure->values[i];
    if (!is_known(value)) {
        const double xy[8] = {x, y, x + side, y, x + side, y + side, x, y + side};
        size_t end = 4;
        draw_hatch(drawing, xy, &end, 1, 45, 3, (struct pen){.stroke = INK_SOFT, .width_pt = 0.4});
        draw_box(drawing, x, y, side, side, outline);
        return;
    }
    outline.fill = share > 0 ? INK_GROUP_1 : INK_NONE;
    outline.fill_share = fmax(0.01, 0.92 * share);
    draw_box(drawing, x, y, side, side, outline);
    if (figure->write_values && side >= 13) {
        char words[64];
        number_fixed(value, figure->digits, words);
        draw_text(drawing, x + side / 2, y + side / 2 + 2.6,
                  (struct lettering){.size_pt = TEXT_SMALL, .anchor = ANCHOR_MIDDLE, .ink = share > 0.75 ? INK_PAPER : INK_TEXT}, words);
    }
}

struct drawing *figure_cells(const struct figure_cells *figure)
{
    double width = figure->head.width_pt > 0 ? figure->head.width_pt : 470;
    double side = figure->columns == 0 ? 16 : fmin(24, (width - 26) / (double)figure->columns);
    struct frame frame = frame_make(&figure->head, "Values by square", 470, 44 + side * (double)figure->rows);
    struct drawing *drawing = frame.drawing;
    size_t n = figure->rows * figure->columns, known = 0, unknown = 0;
    double least = INFINITY, most = -INFINITY;
    for (size_t i = 0; i < n; i++) {
        if (figure->outside != NULL && figure->outside[i])
            continue;
        axis_take(&least, &most, figure->values[i]);
        known += is_known(figure->values[i]);
        unknown += !is_known(figure->values[i]);
    }
    if (known + unknown == 0)
        return frame_empty(&frame, "No squares to show.");
    if (known > 0 && least > 0)
        least = 0;
    double left = frame.left + 24, top = frame.top + 14;
    for (size_t r = 0; r < figure->rows; r++) {
        char letters[8];
        row_letters(r, letters);
        double y = top + side * (double)(figure->rows - 1 - r); /* row A lies at the baseline, below */
        draw_text(drawing, left - 5, y + side / 2 + 2.6, (struct lettering){.size_pt = TEXT_SMALL, .ink = INK_SOFT, .anchor = ANCHOR_END},
                  letters);
        for (size_t c = 0; c < figure->columns; c++) {
            size_t i = r * figure->columns + c;
            if (figure->outside == NULL || !figure->outside[i])
                one_cell(drawing, figure, i, left + side * (double)c, y, side,
                         most > least ? (figure->values[i] - least) / (most - least) : 0);
        }
    }
    for (size_t c = 0; c < figure->columns; c++) {
        char words[24];
        snprintf(words, sizeof words, "%02zu", c + 1);
        if (side >= 11 || c % 5 == 4 || c == 0)
            draw_text(drawing, left + side * ((double)c + 0.5), top - 4,
                      (struct lettering){.size_pt = TEXT_SMALL, .ink = INK_SOFT, .anchor = ANCHOR_MIDDLE}, words);
    }
    double y = top + side * (double)figure->rows + 10, x = left;
    /* As many steps as there are values to write, five at the most. */
    double apart = (most - least) * pow(10, figure->digits);
    int steps = most > least ? (int)fmin(4, fmax(1, floor(apart + 1e-9))) : 0;
    for (int i = 0; i <= steps && known > 0; i++) {
        double share = steps == 0 ? 0 : (double)i / steps;
        char words[80], label[110];
        value_write_number(least + share * (most - least), figure->digits, words);
        snprintf(label, sizeof label, "%.60s%s%.20s", words, i == steps && figure->unit != NULL && *figure->unit != '\0' ? " " : "",
                 i == steps && figure->unit != NULL ? figure->unit : "");
        draw_box(
            drawing, x, y - 4, 12, 12,
            (struct pen){
                .stroke = INK_SOFT, .width_pt = 0.4, .fill = share > 0 ? INK_GROUP_1 : INK_NONE, .fill_share = fmax(0.01, 0.92 * share)});
        draw_text(drawing, x + 15, y + 5, (struct lettering){.size_pt = TEXT_SMALL}, label);
        x += 27 + draw_text_width(drawing, (struct lettering){.size_pt = TEXT_SMALL}, label);
    }
    if (unknown > 0) {
        const double xy[8] = {x, y - 4, x + 12, y - 4, x + 12, y + 8, x, y + 8};
        size_t end = 4;
        draw_hatch(drawing, xy, &end, 1, 45, 3, (struct pen){.stroke = INK_SOFT, .width_pt = 0.4});
        draw_box(drawing, x, y - 4, 12, 12, (struct pen){.stroke = INK_SOFT, .width_pt = 0.4});
        draw_text(drawing, x + 15, y + 5, (struct lettering){.size_pt = TEXT_SMALL}, "not known");
    }
    if (*drawing_about(drawing) == '\0') {
        struct arena arena = {0};
        char low[80], high[80];
        value_write_number(known > 0 ? least : unknown_real(), figure->digits, low);
        value_write_number(known > 0 ? most : unknown_real(), figure->digits, high);
        drawing_set_about(
            drawing, arena_print(&arena, "%zu squares with values on a scale from %s to %s, %zu not known.", known, low, high, unknown));
        arena_clear(&arena);
    }
    return drawing;
}
