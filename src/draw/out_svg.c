/* SPDX-License-Identifier: GPL-3.0-or-later
 * A drawing as SVG text (SVG 1.1, W3C 2011): real words, no ids, no style block. */
#include "draw/inside.h"
#include <math.h>
#include <string.h>

char *number_short(double x, char *out)
{
    if (!(fabs(x) < 1e9))
        x = 0;
    long long hundredths = llround(x * 100);
    if (hundredths < 0) {
        *out++ = '-';
        hundredths = -hundredths;
    }
    char digits[24];
    int n = 0;
    long long whole = hundredths / 100, part = hundredths % 100;
    do {
        digits[n++] = (char)('0' + whole % 10);
        whole /= 10;
    } while (whole > 0);
    while (n > 0)
        *out++ = digits[--n];
    if (part > 0) {
        *out++ = '.';
        *out++ = (char)('0' + part / 10);
        if (part % 10 > 0)
            *out++ = (char)('0' + part % 10);
    }
    *out = '\0';
    return out;
}

static void add_number(struct text *out, double x)
{
    char number[40];
    text_add_n(out, number, (size_t)(number_short(x, number) - number));
}

static void add_attribute(struct text *out, const char *name, double x)
{
    text_add(out, " ");
    text_add(out, name);
    text_add(out, "=\"");
    add_number(out, x);
    text_add(out, "\"");
}

static void add_words(struct text *out, const char *words)
{
    for (const char *at = words; *at != '\0';) {
        size_t n = strcspn(at, "&<>\"");
        text_add_n(out, at, n);
        at += n;
        if (*at == '\0')
            break;
        text_add(out, *at == '&' ? "&amp;" : *at == '<' ? "&lt;" : *at == '>' ? "&gt;" : "&quot;");
        at++;
    }
}

static void add_pen(struct text *out, const struct pen *pen)
{
    static const char *const dash_names[] = {"", " d-dashed", " d-dotted", " d-dashdot"};
    char hex[8];
    text_add(out, " class=\"");
    if (pen->fill != INK_NONE) {
        text_add(out, "f-");
        text_add(out, ink_name(pen->fill));
    }
    if (pen->stroke != INK_NONE) {
        text_add(out, pen->fill == INK_NONE ? "s-" : " s-");
        text_add(out, ink_name(pen->stroke));
        text_add(out, dash_names[pen->dash]);
    }
    text_add(out, "\"");
    if (pen->fill != INK_NONE) {
        ink_hex(pen->fill, false, hex);
        text_add(out, " fill=\"");
        text_add(out, hex);
        text_add(out, "\"");
        if (pen->fill_share < 1)
            add_attribute(out, "fill-opacity", pen->fill_share);
    }
    if (pen->stroke == INK_NONE)
        return;
    ink_hex(pen->stroke, false, hex);
    text_add(out, " stroke=\"");
    text_add(out, hex);
    text_add(out, "\"");
    add_attribute(out, "stroke-width", pen->width_pt);
    double lengths[4];
    size_t n = dash_lengths(pen->dash, pen->width_pt, lengths);
    for (size_t i = 0; i < n; i++) {
        text_add(out, i == 0 ? " stroke-dasharray=\"" : " ");
        add_number(out, lengths[i]);
    }
    if (n > 0)
        text_add(out, "\"");
}

static void add_path(const struct drawing *drawing, const struct op *op, struct text *out)
{
    const double *xy = drawing->xy + op->at;
    text_add(out, "<path d=\"");
    size_t from = 0;
    for (size_t r = 0; r < op->n_rings; r++) {
        size_t end = drawing->ends[op->ends_at + r];
        for (size_t i = from; i < end; i++) {
            char pair[88], *at = pair;
            *at++ = i == from ? 'M' : 'L';
            at = number_short(xy[2 * i], at);
            *at++ = ' ';
            at = number_short(xy[2 * i + 1], at);
            text_add_n(out, pair, (size_t)(at - pair));
        }
        if (op->closed)
            text_add(out, "Z");
        from = end;
    }
    text_add(out, "\"");
    if (op->pen.fill != INK_NONE)
        text_add(out, " fill-rule=\"evenodd\"");
    add_pen(out, &op->pen);
    text_add(out, "/>\n");
}

static void add_text(const double *xy, const struct op *op, struct text *out)
{
    const struct lettering *l = &op->lettering;
    char hex[8];
    text_add(out, "<text");
    add_attribute(out, "x", xy[0]);
    add_attribute(out, "y", xy[1]);
    add_attribute(out, "font-size", l->size_pt);
    if (l->anchor != ANCHOR_START)
        text_add(out, l->anchor == ANCHOR_MIDDLE ? " text-anchor=\"middle\"" : " text-anchor=\"end\"");
    if (l->bold)
        text_add(out, " font-weight=\"700\"");
    if (l->italic)
        text_add(out, " font-style=\"italic\"");
    if (l->turn_deg != 0) {
        text_add(out, " transform=\"rotate(");
        add_number(out, -l->turn_deg);
        text_add(out, " ");
        add_number(out, xy[0]);
        text_add(out, " ");
        add_number(out, xy[1]);
        text_add(out, ")\"");
    }
    text_add(out, " class=\"f-");
    text_add(out, ink_name(l->ink));
    if (l->halo)
        text_add(out, " s-paper");
    ink_hex(l->ink, false, hex);
    text_print(out, "\" fill=\"%s\"", hex);
    if (l->halo) {
        ink_hex(INK_PAPER, false, hex);
        text_print(out, " stroke=\"%s\" stroke-width=\"2\" paint-order=\"stroke\"", hex);
    }
    text_add(out, ">");
    add_words(out, op->words);
    text_add(out, "</text>\n");
}

static void add_box(const char *element, const double *xy, struct text *out)
{
    text_add(out, element);
    add_attribute(out, "x", xy[0]);
    add_attribute(out, "y", xy[1]);
    add_attribute(out, "width", xy[2]);
    add_attribute(out, "height", xy[3]);
}

static void add_op(const struct drawing *drawing, const struct op *op, struct text *out)
{
    const double *xy = drawing->xy + op->at;
    switch (op->kind) {
    case OP_PATH:
        add_path(drawing, op, out);
        break;
    case OP_DISC:
        text_add(out, "<circle");
        add_attribute(out, "cx", xy[0]);
        add_attribute(out, "cy", xy[1]);
        add_attribute(out, "r", xy[2]);
        add_pen(out, &op->pen);
        text_add(out, "/>\n");
        break;
    case OP_BOX:
        add_box("<rect", xy, out);
        add_pen(out, &op->pen);
        text_add(out, "/>\n");
        break;
    case OP_TEXT:
        add_text(xy, op, out);
        break;
    case OP_CLIP: /* a nested viewport clips without an id */
        add_box("<svg", xy, out);
        text_add(out, " viewBox=\"");
        for (int i = 0; i < 4; i++) {
            text_add(out, i == 0 ? "" : " ");
            add_number(out, xy[i]);
        }
        text_add(out, "\" overflow=\"hidden\">\n");
        break;
    case OP_CLIP_END:
        text_add(out, "</svg>\n");
        break;
    case OP_GROUP:
        text_add(out, "<g class=\"");
        add_words(out, op->words);
        text_add(out, "\">\n");
        break;
    case OP_GROUP_END:
        text_add(out, "</g>\n");
        break;
    }
}

void drawing_svg(const struct drawing *drawing, bool sized, struct text *out)
{
    text_add(out, "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 ");
    add_number(out, drawing->width_pt);
    text_add(out, " ");
    add_number(out, drawing->height_pt);
    text_add(out, "\"");
    char number[40];
    if (sized) {
        number_short(drawing->width_pt, number);
        text_print(out, " width=\"%spt\"", number);
        number_short(drawing->height_pt, number);
        text_print(out, " height=\"%spt\"", number);
    }
    text_add(out, " role=\"img\" aria-label=\"");
    add_words(out, drawing->title);
    text_add(out, "\" class=\"drawing\" fill=\"none\" stroke-linejoin=\"round\" font-family=\"");
    add_words(out, letters_family);
    text_add(out, "\">\n<title>");
    add_words(out, drawing->title);
    text_add(out, "</title>\n<desc>");
    add_words(out, drawing->about);
    text_add(out, "</desc>\n");
    for (size_t i = 0; i < drawing->n_ops; i++)
        add_op(drawing, &drawing->ops[i], out);
    text_add(out, "</svg>\n");
}
