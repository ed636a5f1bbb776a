/* SPDX-License-Identifier: GPL-3.0-or-later
 * Reads back the SVG that out_svg.c writes, so that a figure kept in a note can be printed. No other SVG. */
#include "draw/inside.h"
#include <expat.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_DEPTH = 64, MOST_BYTES = 64 << 20 };

struct reading {
    struct drawing *drawing;
    struct text words; ///< of the element being read
    struct lettering lettering;
    double x, y;
    int depth;
    char open[MOST_DEPTH]; ///< s svg, c clip, g group, t title, d desc, w words, . other
    bool bad;
};

static const char *attribute(const char **attributes, const char *name)
{
    for (; attributes[0] != NULL; attributes += 2)
        if (strcmp(attributes[0], name) == 0)
            return attributes[1];
    return NULL;
}

/* A number of the form -12.34, the only one written. */
static bool number_take(const char **at, double *x)
{
    const char *a = *at;
    while (*a == ' ')
        a++;
    bool negative = *a == '-';
    a += negative;
    double whole = 0, place = 1;
    int n = 0;
    for (; *a >= '0' && *a <= '9' && n < 12; a++, n++)
        whole = 10 * whole + (*a - '0');
    if (n == 0)
        return false;
    if (*a == '.')
        for (a++; *a >= '0' && *a <= '9' && place < 1e4; a++) {
            whole = 10 * whole + (*a - '0');
            place *= 10;
        }
    *x = (negative ? -whole : whole) / place;
    *at = a;
    return true;
}

static double number_of(struct reading *r, const char **attributes, const char *name, double otherwise)
{
    const char *a = attribute(attributes, name);
    double x = otherwise;
    if (a != NULL && !number_take(&a, &x))
        r->bad = true;
    return x;
}

/* The inks and dash that the classes name. */
static struct pen pen_of(struct reading *r, const char **attributes)
{
    struct pen pen = {.width_pt = number_of(r, attributes, "stroke-width", 0.75),
                      .fill_share = number_of(r, attributes, "fill-opacity", 1)};
    const char *class = attribute(attributes, "class");
    while (class != NULL && *class != '\0') {
        size_t n = strcspn(class, " ");
        if (strncmp(class, "f-", 2) == 0)
            pen.fill = ink_find(class + 2, n - 2);
        else if (strncmp(class, "s-", 2) == 0)
            pen.stroke = ink_find(class + 2, n - 2);
        else if (n == 8 && strncmp(class, "d-dashed", n) == 0)
            pen.dash = DASH_DASHED;
        else if (n == 8 && strncmp(class, "d-dotted", n) == 0)
            pen.dash = DASH_DOTTED;
        else if (n == 9 && strncmp(class, "d-dashdot", n) == 0)
            pen.dash = DASH_DASH_DOT;
        class += n + (class[n] == ' ');
    }
    return pen;
}

static void path_read(struct reading *r, const char **attributes)
{
    const char *d = attribute(attributes, "d");
    double *xy = NULL;
    size_t *ends = NULL, n = 0, room = 0, n_ends = 0, room_ends = 0;
    bool closed = false;
    while (d != NULL && *d != '\0') {
        char command = *d++;
        if (command == 'Z') {
            closed = true;
            continue;
        }
        double x = 0, y = 0;
        if ((command != 'M' && command != 'L') || !number_take(&d, &x) || !number_take(&d, &y)) {
            r->bad = true;
            break;
        }
        if (command == 'M' && n > 0) {
            ends = column_room(ends, n_ends, &room_ends, sizeof *ends);
            ends[n_ends++] = n;
        }
        xy = column_room(xy, n, &room, 2 * sizeof *xy);
        xy[2 * n] = x;
        xy[2 * n + 1] = y;
        n++;
    }
    struct pen pen = pen_of(r, attributes);
    if (n_ends == 0) {
        draw_polyline(r->drawing, xy, n, closed, pen);
    } else {
        ends = column_room(ends, n_ends, &room_ends, sizeof *ends);
        ends[n_ends++] = n;
        draw_rings(r->drawing, xy, ends, n_ends, pen);
    }
    free(xy);
    free(ends);
}

static void text_begin(struct reading *r, const char **attributes)
{
    const char *anchor = attribute(attributes, "text-anchor"), *turn = attribute(attributes, "transform");
    struct pen pen = pen_of(r, attributes);
    r->lettering = (struct lettering){.size_pt = number_of(r, attributes, "font-size", TEXT_BODY),
                                      .ink = pen.fill,
                                      .halo = pen.stroke == INK_PAPER,
                                      .bold = attribute(attributes, "font-weight") != NULL,
                                      .italic = attribute(attributes, "font-style") != NULL,
                                      .anchor = anchor == NULL     ? ANCHOR_START
                                                : anchor[0] == 'm' ? ANCHOR_MIDDLE
                                                                   : ANCHOR_END};
    if (turn != NULL) {
        const char *at = strchr(turn, '(');
        double angle = 0;
        if (at == NULL || (at++, !number_take(&at, &angle)))
            r->bad = true;
        r->lettering.turn_deg = -angle;
    }
    r->x = number_of(r, attributes, "x", 0);
    r->y = number_of(r, attributes, "y", 0);
    r->words.n = 0;
}

static void root_begin(struct reading *r, const char **attributes)
{
    const char *box = attribute(attributes, "viewBox"), *class = attribute(attributes, "class");
    double n[4] = {0};
    for (int i = 0; i < 4 && box != NULL; i++)
        if (!number_take(&box, &n[i]))
            box = NULL;
    if (box == NULL || class == NULL || strcmp(class, "drawing") != 0) {
        r->bad = true;
        return;
    }
    r->drawing = drawing_new(n[2], n[3], NULL, NULL);
}

static void XMLCALL begin(void *who, const char *name, const char **attributes)
{
    struct reading *r = who;
    if (r->bad)
        return;
    char kind = '.';
    if (r->depth >= MOST_DEPTH - 1 || (r->depth == 0 && strcmp(name, "svg") != 0)) {
        r->bad = true;
        return;
    }
    if (r->depth == 0) {
        kind = 's';
        root_begin(r, attributes);
    } else if (strcmp(name, "svg") == 0) {
        kind = 'c';
        draw_clip(r->drawing, number_of(r, attributes, "x", 0), number_of(r, attributes, "y", 0), number_of(r, attributes, "width", 0),
                  number_of(r, attributes, "height", 0));
    } else if (strcmp(name, "g") == 0) {
        const char *class = attribute(attributes, "class");
        kind = 'g';
        draw_group(r->drawing, class == NULL ? "" : class);
    } else if (strcmp(name, "path") == 0) {
        path_read(r, attributes);
    } else if (strcmp(name, "circle") == 0) {
        draw_disc(r->drawing, number_of(r, attributes, "cx", 0), number_of(r, attributes, "cy", 0), number_of(r, attributes, "r", 0),
                  pen_of(r, attributes));
    } else if (strcmp(name, "rect") == 0) {
        draw_box(r->drawing, number_of(r, attributes, "x", 0), number_of(r, attributes, "y", 0), number_of(r, attributes, "width", 0),
                 number_of(r, attributes, "height", 0), pen_of(r, attributes));
    } else if (strcmp(name, "text") == 0) {
        kind = 'w';
        text_begin(r, attributes);
    } else if (strcmp(name, "title") == 0 || strcmp(name, "desc") == 0) {
        kind = name[0] == 't' ? 't' : 'd';
        r->words.n = 0;
    } else {
        r->bad = true;
    }
    r->open[r->depth++] = kind;
}

static void XMLCALL end(void *who, const char *name)
{
    struct reading *r = who;
    (void)name;
    if (r->bad)
        return;
    char kind = r->open[--r->depth];
    const char *words = r->words.n == 0 ? "" : text_get(&r->words);
    if (kind == 'c')
        draw_clip_end(r->drawing);
    else if (kind == 'g')
        draw_group_end(r->drawing);
    else if (kind == 'w')
        draw_text(r->drawing, r->x, r->y, r->lettering, words);
    else if (kind == 't' && r->depth == 1)
        r->drawing->title = words_clean(&r->drawing->arena, words);
    else if (kind == 'd' && r->depth == 1)
        drawing_set_about(r->drawing, words);
}

static void XMLCALL characters(void *who, const char *words, int n)
{
    struct reading *r = who;
    if (!r->bad && r->depth > 0 && strchr("wtd", r->open[r->depth - 1]) != NULL)
        text_add_n(&r->words, words, (size_t)n);
}

static void XMLCALL no_doctype(void *who, const char *name, const char *system, const char *public, int internal)
{
    struct reading *r = who;
    (void)name, (void)system, (void)public, (void)internal;
    r->bad = true;
}

struct drawing *drawing_from_svg(const char *svg, size_t n, struct failure *why)
{
    struct reading reading = {0};
    XML_Parser parser = XML_ParserCreate("UTF-8");
    require(parser != NULL);
    XML_SetUserData(parser, &reading);
    XML_SetElementHandler(parser, begin, end);
    XML_SetCharacterDataHandler(parser, characters);
    XML_SetStartDoctypeDeclHandler(parser, no_doctype);
    bool read = n <= MOST_BYTES && XML_Parse(parser, svg, (int)n, 1) == XML_STATUS_OK && !reading.bad;
    XML_ParserFree(parser);
    text_free(&reading.words);
    if (read && reading.drawing != NULL)
        return reading.drawing;
    drawing_free(reading.drawing);
    fail(why, OUTCOME_DATA, "This is not a figure that spinney drew.");
    return NULL;
}
