/* SPDX-License-Identifier: GPL-3.0-or-later
 * Axes: round ticks, dates, and the frame that figures share. */
#include "draw/axis.h"
#include "draw/inside.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

void axis_take(double *least, double *most, double x)
{
    if (isfinite(x)) {
        *least = fmin(*least, x);
        *most = fmax(*most, x);
    }
}

void axis_take_all(double *least, double *most, const double *x, size_t n)
{
    for (size_t i = 0; x != NULL && i < n; i++)
        axis_take(least, most, x[i]);
}

struct axis axis_make(double least, double most, double from_pt, double to_pt, int wanted, bool round)
{
    if (!(isfinite(least) && isfinite(most))) {
        least = 0;
        most = 1;
    }
    if (!(most - least > 1e-9 * fmax(fabs(least), fabs(most)))) {
        double room = least == 0 ? 1 : 0.1 * fabs(least);
        least -= room;
        most += room;
    }
    double rough = (most - least) / fmax(wanted, 1), power = pow(10, floor(log10(rough))), of = rough / power;
    double step = power * (of <= 1.0001 ? 1 : of <= 2.0001 ? 2 : of <= 5.0001 ? 5 : 10);
    struct axis axis = {.from_pt = from_pt, .to_pt = to_pt};
    axis.digits = (int)fmax(0, -floor(log10(step) + 1e-9));
    if (round) {
        least = step * floor(least / step + 1e-9);
        most = step * ceil(most / step - 1e-9);
    }
    axis.least = least;
    axis.most = most;
    long long first = (long long)ceil(least / step - 1e-9);
    for (long long i = first; (double)i * step <= most + 1e-9 * step && axis.n_ticks < MOST_TICKS; i++) {
        char words[80];
        axis.ticks[axis.n_ticks] = (double)i * step;
        value_write_number((double)i * step, axis.digits, words);
        snprintf(axis.labels[axis.n_ticks++], 24, "%.23s", words);
    }
    return axis;
}

struct axis axis_make_dates(double least, double most, double from_pt, double to_pt)
{
    static const char *const months[] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
    if (!(isfinite(least) && isfinite(most)) || most <= least)
        most = least + 365;
    struct axis axis = {.least = least, .most = most, .from_pt = from_pt, .to_pt = to_pt};
    double width = fabs(to_pt - from_pt), days = most - least;
    int every = 1; /* months */
    static const int steps[] = {1, 2, 3, 6, 12, 24, 60, 120, 240};
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++) {
        every = steps[i];
        if (days / 30.44 / every * 34 <= width)
            break;
    }
    int year = 0, month = 0, day = 0;
    date_parts((int32_t)least, &year, &month, &day);
    month = (month - 1) / every * every + 1;
    if (every > 12)
        year = year / (every / 12) * (every / 12);
    int before = -1;
    for (int guard = 0; axis.n_ticks < MOST_TICKS && guard < 400; guard++) {
        int32_t at = date_make(year, month, 1);
        if (at == DATE_UNKNOWN || (double)at > most)
            break;
        if ((double)at >= least) {
            axis.ticks[axis.n_ticks] = at;
            if (every >= 12)
                snprintf(axis.labels[axis.n_ticks++], 24, "%d", year);
            else if (year != before)
                snprintf(axis.labels[axis.n_ticks++], 24, "%s %d", months[month - 1], year);
            else
                snprintf(axis.labels[axis.n_ticks++], 24, "%s", months[month - 1]);
            before = year;
        }
        month += every;
        while (month > 12) {
            month -= 12;
            year++;
        }
    }
    return axis;
}

double axis_at(const struct axis *axis, double x)
{
    return axis->from_pt + (x - axis->least) / (axis->most - axis->least) * (axis->to_pt - axis->from_pt);
}

double axis_label_width(struct drawing *drawing, const struct axis *axis)
{
    double width = 0;
    for (size_t i = 0; i < axis->n_ticks; i++)
        width = fmax(width, draw_text_width(drawing, (struct lettering){.size_pt = TEXT_SMALL}, axis->labels[i]));
    return width;
}

void axis_draw_below(struct drawing *drawing, const struct axis *axis, double y_top, double y, const char *title)
{
    double last = -INFINITY;
    for (size_t i = 0; i < axis->n_ticks; i++) {
        double x = axis_at(axis, axis->ticks[i]),
               half = draw_text_width(drawing, (struct lettering){.size_pt = TEXT_SMALL}, axis->labels[i]) / 2;
        if (y_top < y)
            draw_line(drawing, x, y_top, x, y, (struct pen){.stroke = INK_FAINT, .width_pt = 0.4});
        draw_line(drawing, x, y, x, y + 3, (struct pen){.stroke = INK_SOFT, .width_pt = 0.6});
        double at = fmin(fmax(x, half), fmax(half, drawing_width_pt(drawing) - half)); /* words stay on the sheet */
        if (at - half < last + 4)
            continue;
        draw_text(drawing, at, y + 11, (struct lettering){.size_pt = TEXT_SMALL, .ink = INK_SOFT, .anchor = ANCHOR_MIDDLE},
                  axis->labels[i]);
        last = at + half;
    }
    draw_line(drawing, fmin(axis->from_pt, axis->to_pt), y, fmax(axis->from_pt, axis->to_pt), y,
              (struct pen){.stroke = INK_SOFT, .width_pt = 0.6});
    if (title != NULL)
        draw_text(drawing, (axis->from_pt + axis->to_pt) / 2, y + 22, (struct lettering){.size_pt = TEXT_SMALL, .anchor = ANCHOR_MIDDLE},
                  title);
}

void axis_draw_left(struct drawing *drawing, const struct axis *axis, double x, double x_right)
{
    for (size_t i = 0; i < axis->n_ticks; i++) {
        double y = axis_at(axis, axis->ticks[i]);
        draw_line(drawing, x, y, x_right, y, (struct pen){.stroke = INK_FAINT, .width_pt = 0.4});
        draw_text(drawing, x - 4, y + 2.5, (struct lettering){.size_pt = TEXT_SMALL, .ink = INK_SOFT, .anchor = ANCHOR_END},
                  axis->labels[i]);
    }
}

struct frame frame_make(const struct figure_head *head, const char *kind, double width_pt, double height_pt)
{
    double width = head->width_pt > 0 ? head->width_pt : width_pt;
    const char *title = head->title != NULL ? head->title : kind;
    struct drawing *drawing = drawing_new(width, height_pt, title, head->about);
    double top = 2;
    if (head->title != NULL)
        top = draw_text_wrapped(drawing, 0, 9, width, 12, (struct lettering){.size_pt = TEXT_BODY, .bold = true}, head->title) - 4;
    double bottom = top + height_pt;
    if (head->height_pt > 0)
        bottom = fmax(top + 40, head->height_pt);
    double y = bottom;
    if (head->foot != NULL) {
        struct drawing *trial = drawing_new(width, 1, NULL, NULL); /* how many lines the foot takes */
        double tall = draw_text_wrapped(trial, 0, 0, width, 9.5, (struct lettering){.size_pt = TEXT_SMALL}, head->foot);
        drawing_free(trial);
        if (head->height_pt > 0)
            bottom = fmax(top + 40, head->height_pt - tall - 4);
        y = draw_text_wrapped(drawing, 0, bottom + 10, width, 9.5, (struct lettering){.size_pt = TEXT_SMALL, .ink = INK_SOFT}, head->foot) -
            6;
    }
    drawing_resize(drawing, width, y);
    return (struct frame){drawing, 0, width, top, bottom};
}

struct drawing *frame_empty(struct frame *frame, const char *words)
{
    draw_text(frame->drawing, (frame->left + frame->right) / 2, (frame->top + frame->bottom) / 2,
              (struct lettering){.ink = INK_SOFT, .anchor = ANCHOR_MIDDLE, .italic = true}, words);
    if (*drawing_about(frame->drawing) == '\0')
        drawing_set_about(frame->drawing, words);
    return frame->drawing;
}
