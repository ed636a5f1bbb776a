/* SPDX-License-Identifier: GPL-3.0-or-later
 * The drawing as a list of operations. */
#include "draw/inside.h"
#include <glib.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

struct drawing *drawing_new(double width_pt, double height_pt, const char *title, const char *about)
{
    struct drawing *drawing = memory_get(1, sizeof *drawing);
    *drawing = (struct drawing){.width_pt = width_pt, .height_pt = height_pt};
    drawing->title = words_clean(&drawing->arena, title == NULL ? "" : title);
    drawing->about = words_clean(&drawing->arena, about == NULL ? "" : about);
    return drawing;
}

void drawing_free(struct drawing *drawing)
{
    if (drawing == NULL)
        return;
    letters_free(drawing);
    free(drawing->ops);
    free(drawing->xy);
    free(drawing->ends);
    arena_clear(&drawing->arena);
    free(drawing);
}

double drawing_width_pt(const struct drawing *drawing)
{
    return drawing->width_pt;
}

double drawing_height_pt(const struct drawing *drawing)
{
    return drawing->height_pt;
}

void drawing_resize(struct drawing *drawing, double width_pt, double height_pt)
{
    drawing->width_pt = width_pt;
    drawing->height_pt = height_pt;
}

const char *drawing_title(const struct drawing *drawing)
{
    return drawing->title;
}

const char *drawing_about(const struct drawing *drawing)
{
    return drawing->about;
}

void drawing_set_about(struct drawing *drawing, const char *about)
{
    drawing->about = words_clean(&drawing->arena, about == NULL ? "" : about);
}

char *words_clean(struct arena *arena, const char *words)
{
    char *valid = g_utf8_make_valid(words, -1);
    char *copy = arena_text(arena, valid);
    g_free(valid);
    for (char *at = copy; *at != '\0'; at++)
        if ((unsigned char)*at < 0x20 || *at == 0x7f)
            *at = ' ';
    return copy;
}

struct op *op_add(struct drawing *drawing, enum op_kind kind, size_t n_numbers, double **numbers)
{
    drawing->ops = column_room(drawing->ops, drawing->n_ops, &drawing->room_ops, sizeof *drawing->ops);
    while (drawing->n_xy + n_numbers > drawing->room_xy) {
        drawing->room_xy = drawing->room_xy == 0 ? 1024 : 2 * drawing->room_xy;
        drawing->xy = memory_resize(drawing->xy, drawing->room_xy, sizeof *drawing->xy);
    }
    struct op *op = &drawing->ops[drawing->n_ops++];
    *op = (struct op){.kind = kind, .at = drawing->n_xy};
    if (numbers != NULL)
        *numbers = drawing->xy + drawing->n_xy;
    drawing->n_xy += n_numbers;
    return op;
}

struct pen pen_whole(struct pen pen)
{
    if (!(pen.width_pt >= 0.005))
        pen.width_pt = 0.75;
    if (!(pen.fill_share >= 0.005))
        pen.fill_share = 1;
    return pen;
}

struct lettering lettering_whole(struct lettering lettering)
{
    if (!(lettering.size_pt >= 0.005))
        lettering.size_pt = TEXT_BODY;
    if (lettering.ink == INK_NONE)
        lettering.ink = INK_TEXT;
    if (fabs(lettering.turn_deg) < 0.005)
        lettering.turn_deg = 0;
    return lettering;
}

size_t dash_lengths(enum dash dash, double width_pt, double out[4])
{
    double w = width_pt < 0.75 ? 0.75 : width_pt;
    switch (dash) {
    case DASH_DASHED:
        out[0] = 5 * w;
        out[1] = 3 * w;
        return 2;
    case DASH_DOTTED:
        out[0] = 1.2 * w;
        out[1] = 2 * w;
        return 2;
    case DASH_DASH_DOT:
        out[0] = 6 * w;
        out[1] = 2 * w;
        out[2] = 1.2 * w;
        out[3] = 2 * w;
        return 4;
    case DASH_SOLID:
    default:
        return 0;
    }
}

static void ring_end(struct drawing *drawing, struct op *op, size_t end)
{
    if (op->n_rings == 0)
        op->ends_at = drawing->n_ends;
    drawing->ends = column_room(drawing->ends, drawing->n_ends, &drawing->room_ends, sizeof *drawing->ends);
    drawing->ends[drawing->n_ends++] = end;
    op->n_rings++;
}

void draw_polyline(struct drawing *drawing, const double *xy, size_t n, bool closed, struct pen pen)
{
    if (n < 2)
        return;
    double *numbers = NULL;
    struct op *op = op_add(drawing, OP_PATH, 2 * n, &numbers);
    memcpy(numbers, xy, 2 * n * sizeof *xy);
    op->n = n;
    op->closed = closed;
    op->pen = pen_whole(pen);
    ring_end(drawing, op, n);
}

void draw_rings(struct drawing *drawing, const double *xy, const size_t *ends, size_t n_rings, struct pen pen)
{
    if (n_rings == 0 || ends[n_rings - 1] < 3)
        return;
    size_t n = ends[n_rings - 1];
    double *numbers = NULL;
    struct op *op = op_add(drawing, OP_PATH, 2 * n, &numbers);
    memcpy(numbers, xy, 2 * n * sizeof *xy);
    op->n = n;
    op->closed = true;
    op->pen = pen_whole(pen);
    for (size_t i = 0; i < n_rings; i++)
        ring_end(drawing, op, ends[i]);
}

void draw_line(struct drawing *drawing, double x1, double y1, double x2, double y2, struct pen pen)
{
    const double xy[4] = {x1, y1, x2, y2};
    draw_polyline(drawing, xy, 2, false, pen);
}

void draw_box(struct drawing *drawing, double x, double y, double width, double height, struct pen pen)
{
    double *numbers = NULL;
    struct op *op = op_add(drawing, OP_BOX, 4, &numbers);
    numbers[0] = x;
    numbers[1] = y;
    numbers[2] = width < 0 ? 0 : width;
    numbers[3] = height < 0 ? 0 : height;
    op->pen = pen_whole(pen);
}

void draw_disc(struct drawing *drawing, double x, double y, double radius, struct pen pen)
{
    double *numbers = NULL;
    struct op *op = op_add(drawing, OP_DISC, 3, &numbers);
    numbers[0] = x;
    numbers[1] = y;
    numbers[2] = radius;
    op->pen = pen_whole(pen);
}

void draw_clip(struct drawing *drawing, double x, double y, double width, double height)
{
    double *numbers = NULL;
    op_add(drawing, OP_CLIP, 4, &numbers);
    numbers[0] = x;
    numbers[1] = y;
    numbers[2] = width;
    numbers[3] = height;
}

void draw_clip_end(struct drawing *drawing)
{
    op_add(drawing, OP_CLIP_END, 0, NULL);
}

void draw_group(struct drawing *drawing, const char *name)
{
    struct op *op = op_add(drawing, OP_GROUP, 0, NULL);
    op->words = words_clean(&drawing->arena, name);
}

void draw_group_end(struct drawing *drawing)
{
    op_add(drawing, OP_GROUP_END, 0, NULL);
}

void draw_text(struct drawing *drawing, double x, double y, struct lettering lettering, const char *words)
{
    if (words == NULL || *words == '\0')
        return;
    double *numbers = NULL;
    struct op *op = op_add(drawing, OP_TEXT, 2, &numbers);
    numbers[0] = x;
    numbers[1] = y;
    op->lettering = lettering_whole(lettering);
    op->words = words_clean(&drawing->arena, words);
}

double draw_text_wrapped(struct drawing *drawing, double x, double y, double width, double leading, struct lettering lettering,
                         const char *words)
{
    if (words == NULL || *words == '\0')
        return y;
    lettering = lettering_whole(lettering);
    if (leading <= 0)
        leading = 1.35 * lettering.size_pt;
    struct arena arena = {0};
    char *line = words_clean(&arena, words), *rest = line;
    while (*rest != '\0') {
        /* The longest run of whole words that fits; a single word that does not is set alone. */
        char *end = rest + strlen(rest), *fits = end;
        bool some = false;
        for (char *at = rest; at != NULL; at = *at == '\0' ? NULL : at + 1) {
            at = strchr(at, ' ');
            if (at == NULL)
                at = end;
            char kept = *at;
            *at = '\0';
            bool in = draw_text_width(drawing, lettering, rest) <= width;
            *at = kept;
            if (!in && some)
                break;
            fits = at;
            some = true;
            if (!in)
                break;
            if (at == end)
                break;
        }
        char kept = *fits;
        *fits = '\0';
        draw_text(drawing, x, y, lettering, rest);
        y += leading;
        *fits = kept;
        rest = kept == '\0' ? fits : fits + 1;
    }
    arena_clear(&arena);
    return y;
}

void draw_text_fitted(struct drawing *drawing, double x, double y, double width, struct lettering lettering, const char *words)
{
    if (words == NULL || draw_text_width(drawing, lettering, words) <= width) {
        draw_text(drawing, x, y, lettering, words);
        return;
    }
    struct arena arena = {0};
    char *copy = words_clean(&arena, words);
    size_t n = strlen(copy);
    while (n > 1) {
        n = (size_t)(g_utf8_find_prev_char(copy, copy + n) - copy);
        char *cut = arena_print(&arena, "%.*s…", (int)n, copy);
        if (n == 0 || draw_text_width(drawing, lettering, cut) <= width) {
            draw_text(drawing, x, y, lettering, cut);
            break;
        }
    }
    arena_clear(&arena);
}
