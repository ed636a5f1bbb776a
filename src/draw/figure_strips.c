/* SPDX-License-Identifier: GPL-3.0-or-later
 * Figures of single values: dot strips and histograms. */
#include "draw/axis.h"
#include "draw/inside.h"
#include "draw/marks.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* The known values of a series, in order. The caller frees them. */
static double *known_sorted(const double *values, size_t n, size_t *known)
{
    double *sorted = memory_get(n + 1, sizeof *sorted);
    *known = 0;
    for (size_t i = 0; i < n; i++)
        if (isfinite(values[i]))
            sorted[(*known)++] = values[i];
    qsort(sorted, *known, sizeof *sorted, ascending);
    return sorted;
}

/* Dots beside the middle line: each takes the nearest free place so that none hides another, within half a width. */
/* Returns how far they reach. */
static double strip_dots(struct drawing *drawing, const struct figure_strip *strip, int group, const struct axis *ay, double x, double half)
{
    size_t n = 0;
    double *sorted = known_sorted(strip->values, strip->n, &n);
    double radius = n > 300 ? 1.1 : n > 80 ? 1.5 : 2, gap = 2 * radius + 0.2;
    size_t places = (size_t)fmax(1, floor(2 * half / gap));
    double reach = radius, *taken = memory_get(places, sizeof *taken);
    for (size_t p = 0; p < places; p++)
        taken[p] = INFINITY;
    for (size_t i = 0; i < n; i++) {
        double y = axis_at(ay, sorted[i]);
        size_t best = 0;
        for (size_t p = 0; p < places; p++) {
            best = p;
            if (fabs(taken[p] - y) >= gap)
                break;
        }
        if (fabs(taken[best] - y) < gap) { /* full: the place left alone longest */
            best = i % places;
        }
        taken[best] = y;
        double side = (double)((best + 1) / 2) * gap * (best % 2 == 0 ? 1 : -1);
        reach = fmax(reach, fabs(side) + radius);
        draw_disc(drawing, x + side, y, radius,
                  group % 2 == 0 ? (struct pen){.fill = group_ink(group), .fill_share = 0.75}
                                 : (struct pen){.stroke = group_ink(group), .width_pt = 0.6});
    }
    free(taken);
    free(sorted);
    return reach;
}

static void strip_mean(struct drawing *drawing, struct draw_value mean, const struct axis *ay, double x)
{
    if (is_known(mean.low) && is_known(mean.high))
        draw_line(drawing, x, axis_at(ay, mean.low), x, axis_at(ay, mean.high), (struct pen){.stroke = INK_TEXT, .width_pt = 1.4});
    if (!is_known(mean.value))
        return;
    double y = axis_at(ay, mean.value);
    draw_line(drawing, x - 7, y, x + 7, y, (struct pen){.stroke = INK_TEXT, .width_pt = 2});
}

struct drawing *figure_strips(const struct figure_strips *figure)
{
    struct frame frame = frame_make(&figure->head, "Dot strips", 470, 250);
    struct drawing *drawing = frame.drawing;
    double least = INFINITY, most = -INFINITY;
    for (size_t i = 0; i < figure->n_strips; i++) {
        axis_take_all(&least, &most, figure->strips[i].values, figure->strips[i].n);
        axis_take(&least, &most, figure->strips[i].mean.low);
        axis_take(&least, &most, figure->strips[i].mean.high);
    }
    if (!isfinite(least))
        return frame_empty(&frame, "No values to show.");
    if (least > 0 && least < 0.5 * most)
        least = 0;
    double top = frame.top + (figure->head.y_title == NULL ? 6 : 18), y_axis = frame.bottom - 44;
    struct axis ay = axis_make(least, most, y_axis, top, 5, true);
    double left = frame.left + axis_label_width(drawing, &ay) + 6, wide = (frame.right - left) / (double)figure->n_strips;
    if (figure->head.y_title != NULL)
        draw_text(drawing, frame.left, frame.top + 8, (struct lettering){.size_pt = TEXT_SMALL}, figure->head.y_title);
    axis_draw_left(drawing, &ay, left, frame.right);
    struct text about = {0};
    for (size_t i = 0; i < figure->n_strips; i++) {
        const struct figure_strip *strip = &figure->strips[i];
        double x = left + wide * ((double)i + 0.42);
        size_t known = 0;
        free(known_sorted(strip->values, strip->n, &known));
        double reach = strip_dots(drawing, strip, (int)i, &ay, x, fmin(0.3 * wide, 60));
        strip_mean(drawing, strip->mean, &ay, x + reach + 12);
        char mean[120], count[64];
        value_write(strip->mean, figure->digits, figure->unit, mean);
        if (known == strip->n)
            snprintf(count, sizeof count, "n = %zu", known);
        else
            snprintf(count, sizeof count, "n = %zu, %zu not known", known, strip->n - known);
        struct lettering small = {.size_pt = TEXT_SMALL, .anchor = ANCHOR_MIDDLE}, strong = small;
        strong.bold = true;
        draw_text(drawing, x, y_axis + 12, strong, strip->name);
        draw_text(drawing, x, y_axis + 22, small, is_known(strip->mean.value) ? mean : "mean not known");
        small.ink = INK_SOFT;
        draw_text(drawing, x, y_axis + 32, small, count);
        text_print(&about, "%s%s: mean %s, %s", i == 0 ? "" : "; ", strip->name == NULL ? "" : strip->name, mean, count);
    }
    if (*drawing_about(drawing) == '\0')
        drawing_set_about(drawing, text_get(&about));
    text_free(&about);
    return drawing;
}

/* Width of a class: 2 (quartile range) n^(-1/3), Freedman & Diaconis 1981, Z. Wahrscheinlichkeitstheorie 57, 453. */
static int classes_wanted(const double *sorted, size_t n)
{
    double range = sorted[n - 1] - sorted[0], quartiles = sorted[3 * n / 4] - sorted[n / 4];
    double width = 2 * quartiles / cbrt((double)n);
    if (!(width > 0) || !(range > 0))
        return 8;
    return (int)fmin(40, fmax(4, ceil(range / width)));
}

struct drawing *figure_histogram(const struct figure_histogram *figure)
{
    struct frame frame = frame_make(&figure->head, "Histogram", 470, 200);
    struct drawing *drawing = frame.drawing;
    size_t n = 0;
    double *sorted = known_sorted(figure->values, figure->n, &n);
    if (n == 0) {
        free(sorted);
        return frame_empty(&frame, "No values to show.");
    }
    int classes = figure->classes > 0 ? figure->classes : classes_wanted(sorted, n);
    double least = sorted[0], most = sorted[n - 1];
    if (figure->mark_words != NULL)
        axis_take(&least, &most, figure->mark_x);
    struct axis ax = axis_make(least, most, 0, 1, classes, true);
    double step = ax.n_ticks > 1 ? ax.ticks[1] - ax.ticks[0] : 1;
    size_t n_classes = (size_t)fmax(1, round((ax.most - ax.least) / step)), tallest = 0;
    size_t *counts = memory_get(n_classes, sizeof *counts);
    for (size_t i = 0; i < n_classes; i++)
        counts[i] = 0;
    for (size_t i = 0; i < n; i++) {
        double at = floor((sorted[i] - ax.least) / step + 1e-9);
        size_t class = at < 0 ? 0 : at >= (double)n_classes ? n_classes - 1 : (size_t)at;
        counts[class]++;
        tallest = counts[class] > tallest ? counts[class] : tallest;
    }
    double below = figure->head.x_title == NULL ? 16 : 26, y_axis = frame.bottom - below;
    struct axis ay = axis_make(0, (double)tallest, y_axis, frame.top + 18, 4, true);
    ax.from_pt = frame.left + axis_label_width(drawing, &ay) + 6;
    ax.to_pt = frame.right - 6;
    draw_text(drawing, frame.left, frame.top + 8, (struct lettering){.size_pt = TEXT_SMALL},
              figure->head.y_title == NULL ? "count" : figure->head.y_title);
    char words[80];
    if (n == figure->n)
        snprintf(words, sizeof words, "n = %zu", n);
    else
        snprintf(words, sizeof words, "n = %zu, %zu not known", n, figure->n - n);
    draw_text(drawing, frame.right - 6, frame.top + 8, (struct lettering){.size_pt = TEXT_SMALL, .ink = INK_SOFT, .anchor = ANCHOR_END},
              words);
    axis_draw_left(drawing, &ay, ax.from_pt, ax.to_pt);
    for (size_t i = 0; i < n_classes; i++) {
        double a = axis_at(&ax, ax.least + step * (double)i), b = axis_at(&ax, ax.least + step * (double)(i + 1)),
               y = axis_at(&ay, (double)counts[i]);
        if (counts[i] > 0)
            draw_box(drawing, a, y, b - a, y_axis - y,
                     (struct pen){.fill = INK_GROUP_1, .fill_share = 0.3, .stroke = INK_TEXT, .width_pt = 0.6});
    }
    axis_draw_below(drawing, &ax, y_axis, y_axis, figure->head.x_title);
    if (figure->mark_words != NULL) {
        double x = axis_at(&ax, figure->mark_x);
        bool left = x > (ax.from_pt + ax.to_pt) / 2;
        draw_line(drawing, x, frame.top + 14, x, y_axis, (struct pen){.stroke = INK_CAUTION, .width_pt = 1, .dash = DASH_DASHED});
        draw_text(drawing, left ? x - 4 : x + 4, frame.top + 24,
                  (struct lettering){.size_pt = TEXT_SMALL, .halo = true, .anchor = left ? ANCHOR_END : ANCHOR_START}, figure->mark_words);
    }
    if (*drawing_about(drawing) == '\0') {
        struct arena arena = {0};
        char low[64], high[64], middle[64];
        number_fixed(sorted[0], ax.digits + 1, low);
        number_fixed(sorted[n - 1], ax.digits + 1, high);
        number_fixed(n % 2 == 1 ? sorted[n / 2] : (sorted[n / 2 - 1] + sorted[n / 2]) / 2, ax.digits + 1, middle);
        drawing_set_about(drawing, arena_print(&arena, "%s, from %s to %s, middle value %s.", words, low, high, middle));
        arena_clear(&arena);
    }
    free(counts);
    free(sorted);
    return drawing;
}
