/* SPDX-License-Identifier: GPL-3.0-or-later
 * Lines with bands: survival steps, accumulation curves, time series; and fans as small multiples. */
#include "draw/axis.h"
#include "draw/inside.h"
#include "draw/marks.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* A run of points that grows. */
struct run {
    double *xy;
    size_t n, room;
};

static void run_add(struct run *run, double x, double y)
{
    run->xy = column_room(run->xy, run->n, &run->room, 2 * sizeof *run->xy);
    run->xy[2 * run->n] = x;
    run->xy[2 * run->n + 1] = y;
    run->n++;
}

/* Points of y over x from index a up to b, as steps where asked; backwards for the far edge of a band. */
static void run_series(struct run *run, const struct axis *ax, const struct axis *ay, const double *x, const double *y, size_t a, size_t b,
                       bool steps, bool back)
{
    for (size_t k = a; k < b; k++) {
        size_t i = back ? b - 1 - (k - a) : k;
        if (steps && !back && i > a)
            run_add(run, axis_at(ax, x[i]), axis_at(ay, y[i - 1]));
        run_add(run, axis_at(ax, x[i]), axis_at(ay, y[i]));
        if (steps && back && i > a)
            run_add(run, axis_at(ax, x[i]), axis_at(ay, y[i - 1]));
    }
}

static bool both_known(const double *x, const double *y, size_t i)
{
    return isfinite(x[i]) && isfinite(y[i]);
}

static void series_draw(struct drawing *drawing, const struct axis *ax, const struct axis *ay, const double *x, const double *y, size_t n,
                        bool steps, struct pen pen)
{
    for (size_t a = 0; a < n; a++) {
        if (!both_known(x, y, a))
            continue;
        size_t b = a;
        while (b < n && both_known(x, y, b))
            b++;
        struct run run = {0};
        run_series(&run, ax, ay, x, y, a, b, steps, false);
        if (run.n == 1)
            draw_disc(drawing, run.xy[0], run.xy[1], 1.5, (struct pen){.fill = pen.stroke});
        draw_polyline(drawing, run.xy, run.n, false, pen);
        free(run.xy);
        a = b;
    }
}

/* The band between low and high: a tint, and for odd groups a hatch, so that two bands differ in grey too. */
static void band_draw(struct drawing *drawing, const struct axis *ax, const struct axis *ay, const double *x, const double *low,
                      const double *high, size_t n, bool steps, struct pen pen, double hatch_deg)
{
    for (size_t a = 0; low != NULL && high != NULL && a < n; a++) {
        if (!both_known(x, low, a) || !isfinite(high[a]))
            continue;
        size_t b = a;
        while (b < n && both_known(x, low, b) && isfinite(high[b]))
            b++;
        struct run run = {0};
        run_series(&run, ax, ay, x, high, a, b, steps, false);
        run_series(&run, ax, ay, x, low, a, b, steps, true);
        if (pen.fill != INK_NONE)
            draw_polyline(drawing, run.xy, run.n, true, pen);
        if (hatch_deg != 0)
            draw_hatch(drawing, run.xy, &run.n, 1, hatch_deg, 4, (struct pen){.stroke = pen.fill, .width_pt = 0.25});
        free(run.xy);
        a = b;
    }
}

struct label {
    double y;
    size_t line;
};

static int label_by_y(const void *a, const void *b)
{
    const struct label *p = a, *q = b;
    return p->y != q->y ? (p->y > q->y) - (p->y < q->y) : (p->line > q->line) - (p->line < q->line);
}

static double last_known(const struct figure_line *line)
{
    for (size_t i = line->n; i > 0; i--)
        if (both_known(line->x, line->y, i - 1))
            return line->y[i - 1];
    return NAN;
}

/* Names at the right end of their lines, pushed apart, each with a piece of its line. */
static void names_draw(struct drawing *drawing, const struct figure_lines *figure, const struct axis *ay, double x)
{
    struct label *labels = memory_get(figure->n_lines + 1, sizeof *labels);
    size_t n = 0;
    for (size_t i = 0; i < figure->n_lines; i++) {
        double y = last_known(&figure->lines[i]);
        if (isfinite(y) && figure->lines[i].name != NULL)
            labels[n++] = (struct label){axis_at(ay, y), i};
    }
    qsort(labels, n, sizeof *labels, label_by_y);
    for (size_t i = 1; i < n; i++)
        labels[i].y = fmax(labels[i].y, labels[i - 1].y + 11);
    double low = fmax(ay->from_pt, ay->to_pt);
    if (n > 0 && labels[n - 1].y > low)
        for (size_t i = n; i > 0; i--)
            labels[i - 1].y = fmin(labels[i - 1].y, i == n ? low : labels[i].y - 11);
    for (size_t i = 0; i < n; i++) {
        int group = (int)labels[i].line;
        draw_line(drawing, x + 4, labels[i].y, x + 24, labels[i].y,
                  (struct pen){.stroke = group_ink(group), .width_pt = 1.5, .dash = group_dash(group)});
        draw_text(drawing, x + 28, labels[i].y + 2.5, (struct lettering){.size_pt = TEXT_SMALL, .bold = true}, figure->lines[group].name);
    }
    free(labels);
}

static double names_width(struct drawing *drawing, const struct figure_lines *figure)
{
    double width = 0;
    for (size_t i = 0; i < figure->n_lines; i++)
        width = fmax(width, draw_text_width(drawing, (struct lettering){.size_pt = TEXT_SMALL, .bold = true}, figure->lines[i].name));
    return width > 0 ? width + 32 : 6;
}

static size_t at_risk_rows(const struct figure_lines *figure)
{
    size_t n = 0;
    for (size_t i = 0; i < figure->n_lines; i++)
        n += figure->lines[i].at_risk != NULL;
    return n;
}

/* Counts still followed, under the ticks they belong to. */
static void at_risk_draw(struct drawing *drawing, const struct figure_lines *figure, const struct axis *ax, double left, double y)
{
    draw_text(drawing, left, y, (struct lettering){.size_pt = TEXT_SMALL, .ink = INK_SOFT}, "still followed:");
    for (size_t i = 0; i < figure->n_lines; i++) {
        const struct figure_line *line = &figure->lines[i];
        if (line->at_risk == NULL)
            continue;
        y += 9;
        draw_text_fitted(drawing, left, y, ax->from_pt - left - 12, (struct lettering){.size_pt = TEXT_SMALL, .bold = true}, line->name);
        double last = -INFINITY;
        for (size_t j = 0; j < line->n; j++) {
            double x = axis_at(ax, line->x[j]);
            if (!isfinite(x) || line->at_risk[j] == INT_UNKNOWN || x < last + 24)
                continue;
            char words[32];
            snprintf(words, sizeof words, "%lld", (long long)line->at_risk[j]);
            draw_text(drawing, x, y, (struct lettering){.size_pt = TEXT_SMALL, .anchor = ANCHOR_MIDDLE}, words);
            last = x;
        }
    }
}

static void lines_about(struct drawing *drawing, const struct figure_lines *figure)
{
    if (*drawing_about(drawing) != '\0')
        return;
    struct text about = {0};
    text_print(&about, "%s%sover %s.", figure->head.y_title == NULL ? "Values" : figure->head.y_title, " ",
               figure->head.x_title == NULL ? "the horizontal axis" : figure->head.x_title);
    for (size_t i = 0; i < figure->n_lines; i++) {
        const struct figure_line *line = &figure->lines[i];
        for (size_t j = line->n; j > 0; j--) {
            if (!both_known(line->x, line->y, j - 1))
                continue;
            struct draw_value value = {line->y[j - 1], line->low == NULL ? unknown_real() : line->low[j - 1],
                                       line->high == NULL ? unknown_real() : line->high[j - 1]};
            char words[120], x[64];
            value_write(value, fabs(value.value) < 10 ? 2 : 0, "", words);
            if (figure->x_dates)
                date_write((int32_t)line->x[j - 1], x);
            else
                number_fixed(line->x[j - 1], line->x[j - 1] == floor(line->x[j - 1]) ? 0 : 1, x);
            text_print(&about, " %s ends at %s (at %s).", line->name == NULL ? "The line" : line->name, words, x);
            break;
        }
    }
    drawing_set_about(drawing, text_get(&about));
    text_free(&about);
}

static bool lines_limits(const struct figure_lines *figure, double limits[4])
{
    double x0 = INFINITY, x1 = -INFINITY, y0 = INFINITY, y1 = -INFINITY;
    for (size_t i = 0; i < figure->n_lines; i++) {
        const struct figure_line *line = &figure->lines[i];
        axis_take_all(&x0, &x1, line->x, line->n);
        axis_take_all(&y0, &y1, line->y, line->n);
        axis_take_all(&y0, &y1, line->low, line->n);
        axis_take_all(&y0, &y1, line->high, line->n);
        axis_take_all(&y0, &y1, line->least, line->n);
        axis_take_all(&y0, &y1, line->most, line->n);
    }
    bool any = isfinite(x0) && isfinite(y0);
    if (figure->from_zero) { /* a band may dip below nothing; the axis does not */
        double least = INFINITY, most = -INFINITY;
        for (size_t i = 0; i < figure->n_lines; i++)
            axis_take_all(&least, &most, figure->lines[i].y, figure->lines[i].n);
        y0 = least >= 0 ? 0 : fmin(y0, 0);
    }
    if (figure->mark_words != NULL)
        axis_take(&y0, &y1, figure->mark_y);
    if (figure->y_least < figure->y_most) {
        y0 = figure->y_least;
        y1 = figure->y_most;
    }
    limits[0] = x0;
    limits[1] = x1;
    limits[2] = y0;
    limits[3] = y1;
    return any;
}

static void one_line_draw(struct drawing *drawing, const struct figure_lines *figure, size_t i, const struct axis *ax,
                          const struct axis *ay)
{
    const struct figure_line *line = &figure->lines[i];
    struct pen pen = {.stroke = group_ink((int)i), .width_pt = 1.5, .dash = group_dash((int)i)};
    struct pen fine = {.stroke = pen.stroke, .width_pt = 0.6, .dash = DASH_DOTTED};
    if (line->least != NULL)
        series_draw(drawing, ax, ay, line->x, line->least, line->n, figure->steps, fine);
    if (line->most != NULL)
        series_draw(drawing, ax, ay, line->x, line->most, line->n, figure->steps, fine);
    size_t seen = line->n;
    if (line->observed_to > 0)
        for (seen = 0; seen < line->n && line->x[seen] <= line->observed_to;)
            seen++;
    series_draw(drawing, ax, ay, line->x, line->y, seen, figure->steps, pen);
    if (seen < line->n && seen > 0) {
        pen.width_pt = 0.7;
        series_draw(drawing, ax, ay, line->x + seen - 1, line->y + seen - 1, line->n - seen + 1, figure->steps, pen);
        draw_group_mark(drawing, (int)i, axis_at(ax, line->x[seen - 1]), axis_at(ay, line->y[seen - 1]), 3);
    }
}

struct drawing *figure_lines(const struct figure_lines *figure)
{
    size_t risk = at_risk_rows(figure);
    struct frame frame = frame_make(&figure->head, "Lines", 470, 240 + (risk > 0 ? 12 + 9 * (double)risk : 0));
    struct drawing *drawing = frame.drawing;
    double limits[4];
    if (!lines_limits(figure, limits))
        return frame_empty(&frame, "No values to show.");
    double below = (figure->head.x_title == NULL ? 16 : 26) + (risk > 0 ? 12 + 9 * (double)risk : 0);
    double y_axis = frame.bottom - below, top = frame.top + (figure->head.y_title == NULL ? 6 : 18);
    struct axis ay = axis_make(limits[2], limits[3], y_axis, top, 5, true);
    double label = axis_label_width(drawing, &ay) + 6, right = frame.right - names_width(drawing, figure);
    if (risk > 0)
        for (size_t i = 0; i < figure->n_lines; i++)
            label = fmax(
                label,
                fmin(70, draw_text_width(drawing, (struct lettering){.size_pt = TEXT_SMALL, .bold = true}, figure->lines[i].name) + 14));
    struct axis ax = figure->x_dates ? axis_make_dates(limits[0], limits[1], frame.left + label, right)
                                     : axis_make(limits[0], limits[1], frame.left + label, right, 7, false);
    if (figure->head.y_title != NULL)
        draw_text(drawing, frame.left, frame.top + 8, (struct lettering){.size_pt = TEXT_SMALL}, figure->head.y_title);
    axis_draw_left(drawing, &ay, ax.from_pt, ax.to_pt);
    axis_draw_below(drawing, &ax, y_axis, y_axis, figure->head.x_title);
    draw_clip(drawing, ax.from_pt - 3, top - 3, ax.to_pt - ax.from_pt + 6, y_axis - top + 6);
    for (size_t i = 0; i < figure->n_lines; i++) {
        const struct figure_line *line = &figure->lines[i];
        band_draw(drawing, &ax, &ay, line->x, line->low, line->high, line->n, figure->steps,
                  (struct pen){.fill = group_ink((int)i), .fill_share = 0.16}, i % 2 == 1 ? -45 : 0);
    }
    for (size_t i = 0; i < figure->n_lines; i++)
        one_line_draw(drawing, figure, i, &ax, &ay);
    draw_clip_end(drawing);
    if (figure->mark_words != NULL && figure->mark_y >= ay.least && figure->mark_y <= ay.most) {
        double y = axis_at(&ay, figure->mark_y);
        draw_line(drawing, ax.from_pt, y, ax.to_pt, y, (struct pen){.stroke = INK_CAUTION, .width_pt = 0.8, .dash = DASH_DASHED});
        draw_text(drawing, ax.from_pt + 4, y - 3, (struct lettering){.size_pt = TEXT_SMALL, .halo = true}, figure->mark_words);
    }
    names_draw(drawing, figure, &ay, ax.to_pt);
    if (risk > 0)
        at_risk_draw(drawing, figure, &ax, frame.left, y_axis + (figure->head.x_title == NULL ? 24 : 34));
    lines_about(drawing, figure);
    return drawing;
}

static void fan_draw(struct drawing *drawing, const struct figure_fan *fan, const struct axis *ax, const struct axis *ay)
{
    static const double tints[3] = {0.14, 0.2, 0.28};
    for (int i = 0; i < 3 && fan->low[i] != NULL; i++)
        band_draw(drawing, ax, ay, fan->x, fan->low[i], fan->high[i], fan->n, false,
                  (struct pen){.fill = INK_GROUP_1, .fill_share = tints[i]}, 0);
    series_draw(drawing, ax, ay, fan->x, fan->middle, fan->n, false, (struct pen){.stroke = INK_GROUP_1, .width_pt = 1.5});
    for (size_t i = 0; i < fan->n_seen; i++)
        if (both_known(fan->seen_x, fan->seen_y, i))
            draw_disc(drawing, axis_at(ax, fan->seen_x[i]), axis_at(ay, fan->seen_y[i]), 2,
                      (struct pen){.fill = INK_PAPER, .stroke = INK_TEXT, .width_pt = 0.9});
}

static void fans_about(struct drawing *drawing, const struct figure_fans *figure)
{
    if (*drawing_about(drawing) != '\0')
        return;
    struct text about = {0};
    text_print(&about, "%s: one panel each", figure->head.y_title == NULL ? "Ranges over time" : figure->head.y_title);
    for (size_t i = 0; i < figure->n_fans; i++) {
        const struct figure_fan *fan = &figure->fans[i];
        if (fan->n == 0)
            continue;
        struct draw_value value = {fan->middle[fan->n - 1], fan->low[0] == NULL ? unknown_real() : fan->low[0][fan->n - 1],
                                   fan->high[0] == NULL ? unknown_real() : fan->high[0][fan->n - 1]};
        char words[120];
        value_write(value, fabs(value.value) < 10 ? 1 : 0, "", words);
        text_print(&about, "; %s ends at %s", fan->name == NULL ? "panel" : fan->name, words);
    }
    text_add(&about, ".");
    drawing_set_about(drawing, text_get(&about));
    text_free(&about);
}

struct drawing *figure_fans(const struct figure_fans *figure)
{
    double width = figure->head.width_pt > 0 ? figure->head.width_pt : 470;
    size_t across = figure->n_fans < 1 ? 1 : width < 300 ? 1 : figure->n_fans < 3 ? figure->n_fans : 3;
    size_t down = (figure->n_fans + across - 1) / across;
    double panel_height = across == 1 ? 200 : 130;
    struct frame frame = frame_make(&figure->head, "Fans", 470, 28 + panel_height * (double)(down == 0 ? 1 : down));
    struct drawing *drawing = frame.drawing;
    double x0 = INFINITY, x1 = -INFINITY, y0 = INFINITY, y1 = -INFINITY;
    for (size_t i = 0; i < figure->n_fans; i++) {
        const struct figure_fan *fan = &figure->fans[i];
        axis_take_all(&x0, &x1, fan->x, fan->n);
        axis_take_all(&y0, &y1, fan->middle, fan->n);
        for (int k = 0; k < 3 && fan->low[k] != NULL; k++) {
            axis_take_all(&y0, &y1, fan->low[k], fan->n);
            axis_take_all(&y0, &y1, fan->high[k], fan->n);
        }
        axis_take_all(&x0, &x1, fan->seen_x, fan->n_seen);
        axis_take_all(&y0, &y1, fan->seen_y, fan->n_seen);
    }
    if (!isfinite(x0) || !isfinite(y0))
        return frame_empty(&frame, "No values to show.");
    if (figure->head.y_title != NULL)
        draw_text(drawing, frame.left, frame.top + 8, (struct lettering){.size_pt = TEXT_SMALL}, figure->head.y_title);
    if (figure->range_words != NULL)
        draw_text(drawing, frame.right, frame.top + 8, (struct lettering){.size_pt = TEXT_SMALL, .ink = INK_SOFT, .anchor = ANCHOR_END},
                  figure->range_words);
    double top = frame.top + 12, tall = (frame.bottom - 14 - top) / (double)down;
    struct axis ay = axis_make(fmin(y0, 0), y1, 0, 1, 4, true);
    double label = axis_label_width(drawing, &ay) + 6, wide = (frame.right - label + 10) / (double)across;
    for (size_t i = 0; i < figure->n_fans; i++) {
        double left = frame.left + label + wide * (double)(i % across), y = top + tall * (double)(i / across);
        ay.from_pt = y + tall - 16;
        ay.to_pt = y + 16;
        struct axis ax = axis_make(x0, x1, left, left + wide - 14, 4, false);
        struct axis bare = ay;
        if (i % across != 0)
            for (size_t k = 0; k < bare.n_ticks; k++)
                bare.labels[k][0] = '\0';
        axis_draw_left(drawing, &bare, ax.from_pt, ax.to_pt);
        axis_draw_below(drawing, &ax, ay.from_pt, ay.from_pt,
                        i + across >= figure->n_fans && i == figure->n_fans - 1 ? figure->head.x_title : NULL);
        draw_text_fitted(drawing, left, y + 11, wide - 14, (struct lettering){.size_pt = TEXT_SMALL, .bold = true}, figure->fans[i].name);
        fan_draw(drawing, &figure->fans[i], &ax, &ay);
    }
    fans_about(drawing, figure);
    return drawing;
}
