/* SPDX-License-Identifier: GPL-3.0-or-later
 * Pages, words and links of the page engine. */
#include "paper/press.h"
#include <cairo-pdf.h>
#include <string.h>

void press_ink(struct press *press, enum ink ink)
{
    double rgb[3];
    ink_rgb(ink, false, rgb);
    cairo_set_source_rgb(press->cr, rgb[0], rgb[1], rgb[2]);
}

void press_rule(struct press *press, double x1, double x2, double y, enum ink ink, double width)
{
    press_ink(press, ink);
    cairo_set_line_width(press->cr, width);
    cairo_move_to(press->cr, x1, y);
    cairo_line_to(press->cr, x2, y);
    cairo_stroke(press->cr);
}

bool press_at_top(const struct press *press)
{
    return press->y <= press->top + 0.5;
}

char *press_valid(const char *words)
{
    char *valid = g_utf8_make_valid(words == NULL ? "" : words, -1);
    for (char *at = valid; *at != '\0'; at++)
        if (((unsigned char)*at < 0x20 && *at != '\n') || *at == 0x7f)
            *at = ' ';
    return valid;
}

static void attribute_over(PangoAttrList *list, PangoAttribute *attribute, size_t from, size_t to)
{
    attribute->start_index = (guint)from;
    attribute->end_index = (guint)to;
    pango_attr_list_insert(list, attribute);
}

PangoLayout *press_layout(struct press *press, const struct document_run *runs, size_t n, struct setting setting, double width)
{
    PangoLayout *layout = pango_layout_new(press->context);
    PangoFontDescription *font = pango_font_description_from_string("Open Sans, Noto Sans, DejaVu Sans, sans-serif");
    pango_font_description_set_absolute_size(font, setting.size * PANGO_SCALE);
    if (setting.bold)
        pango_font_description_set_weight(font, PANGO_WEIGHT_BOLD);
    if (setting.italic)
        pango_font_description_set_style(font, PANGO_STYLE_ITALIC);
    pango_layout_set_font_description(layout, font);
    pango_font_description_free(font);
    PangoAttrList *list = pango_attr_list_new();
    struct text words = {0};
    for (size_t i = 0; i < n; i++) {
        char *valid = press_valid(runs[i].words);
        size_t from = words.n;
        text_add(&words, valid);
        g_free(valid);
        if (runs[i].strong)
            attribute_over(list, pango_attr_weight_new(PANGO_WEIGHT_BOLD), from, words.n);
        if (runs[i].italic)
            attribute_over(list, pango_attr_style_new(PANGO_STYLE_ITALIC), from, words.n);
        if (runs[i].raised) {
            attribute_over(list, pango_attr_rise_new((int)(0.32 * setting.size * PANGO_SCALE)), from, words.n);
            attribute_over(list, pango_attr_size_new_absolute((int)(0.66 * setting.size * PANGO_SCALE)), from, words.n);
        }
        if (runs[i].link != NULL) {
            double rgb[3];
            ink_rgb(INK_ACCENT, false, rgb);
            attribute_over(list, pango_attr_foreground_new((guint16)(rgb[0] * 65535), (guint16)(rgb[1] * 65535), (guint16)(rgb[2] * 65535)),
                           from, words.n);
            if (!runs[i].raised)
                attribute_over(list, pango_attr_underline_new(PANGO_UNDERLINE_SINGLE), from, words.n);
        }
    }
    pango_layout_set_text(layout, text_get(&words), (int)words.n);
    text_free(&words);
    pango_layout_set_attributes(layout, list);
    pango_attr_list_unref(list);
    pango_layout_set_wrap(layout, PANGO_WRAP_WORD_CHAR);
    pango_layout_set_alignment(layout, setting.align == ALIGN_RIGHT    ? PANGO_ALIGN_RIGHT
                                       : setting.align == ALIGN_MIDDLE ? PANGO_ALIGN_CENTER
                                                                       : PANGO_ALIGN_LEFT);
    if (width > 0)
        pango_layout_set_width(layout, (int)(width * PANGO_SCALE));
    return layout;
}

PangoLayout *press_words(struct press *press, const char *words, struct setting setting, double width)
{
    struct document_run run = {.words = words};
    return press_layout(press, &run, 1, setting, width);
}

double layout_height(PangoLayout *layout)
{
    PangoRectangle logical;
    pango_layout_get_extents(layout, NULL, &logical);
    return (double)logical.height / PANGO_SCALE;
}

double layout_width(PangoLayout *layout)
{
    PangoRectangle logical;
    pango_layout_get_extents(layout, NULL, &logical);
    return (double)logical.width / PANGO_SCALE;
}

void press_tag(struct press *press, const char *tag)
{
    cairo_tag_begin(press->cr, tag, NULL);
}

void press_tag_end(struct press *press, const char *tag)
{
    cairo_tag_end(press->cr, tag);
}

static size_t anchor_number(const struct press *press, const char *anchor)
{
    for (size_t i = 0; anchor != NULL && i < press->n_anchors; i++)
        if (strcmp(press->anchors[i], anchor) == 0)
            return i + 1;
    return 0;
}

void press_anchor(struct press *press, const char *anchor, double x, double y)
{
    size_t number = anchor_number(press, anchor);
    if (number == 0)
        return;
    char name[80];
    snprintf(name, sizeof name, "name='a%zu' x=%.1f y=%.1f", number, x, y);
    cairo_tag_begin(press->cr, CAIRO_TAG_DEST, name);
    cairo_tag_end(press->cr, CAIRO_TAG_DEST);
}

/* Addresses go in only where they cannot break out of the attribute and lead to the web or a mailbox. */
static bool address_fine(const char *link)
{
    if (strncmp(link, "https://", 8) != 0 && strncmp(link, "http://", 7) != 0 && strncmp(link, "mailto:", 7) != 0)
        return false;
    for (const char *at = link; *at != '\0'; at++)
        if ((unsigned char)*at <= 0x20 || (unsigned char)*at >= 0x7f || strchr("'\\\"<>", *at) != NULL)
            return false;
    return strlen(link) < 600;
}

void press_link(struct press *press, const char *link, double x, double y, double width, double height)
{
    char attributes[800];
    if (link == NULL || width <= 0)
        return;
    if (link[0] == '#') {
        size_t number = anchor_number(press, link + 1);
        if (number == 0)
            return;
        snprintf(attributes, sizeof attributes, "rect=[%.1f %.1f %.1f %.1f] dest='a%zu'", x, y, width, height, number);
    } else if (address_fine(link)) {
        snprintf(attributes, sizeof attributes, "rect=[%.1f %.1f %.1f %.1f] uri='%s'", x, y, width, height, link);
    } else {
        return;
    }
    cairo_tag_begin(press->cr, CAIRO_TAG_LINK, attributes);
    cairo_tag_end(press->cr, CAIRO_TAG_LINK);
}

/* Links of runs that cross a line, as rectangles over it. */
static void line_links(struct press *press, PangoLayoutLine *line, double x, double y, double height, const struct document_run *runs,
                       size_t n)
{
    size_t from = 0;
    int start = line->start_index, length = line->length;
    for (size_t i = 0; i < n; i++) {
        char *valid = press_valid(runs[i].words);
        size_t to = from + strlen(valid);
        g_free(valid);
        if (runs[i].link != NULL && (int)from < start + length && (int)to > start) {
            int *ranges = NULL, n_ranges = 0;
            pango_layout_line_get_x_ranges(line, (int)from, (int)to, &ranges, &n_ranges);
            for (int r = 0; r < n_ranges; r++)
                press_link(press, runs[i].link, x + (double)ranges[2 * r] / PANGO_SCALE, y,
                           (double)(ranges[2 * r + 1] - ranges[2 * r]) / PANGO_SCALE, height);
            g_free(ranges);
        }
        from = to;
    }
}

double press_lines(struct press *press, PangoLayout *layout, int from, int to, double x, double y, const struct document_run *runs,
                   size_t n_runs)
{
    PangoLayoutIter *iter = pango_layout_get_iter(layout);
    double used = 0, first = 0;
    int i = 0;
    do {
        if (i >= to)
            break;
        if (i >= from) {
            PangoRectangle logical;
            pango_layout_iter_get_line_extents(iter, NULL, &logical);
            double base = (double)pango_layout_iter_get_baseline(iter) / PANGO_SCALE, top = (double)logical.y / PANGO_SCALE,
                   height = (double)logical.height / PANGO_SCALE;
            if (i == from)
                first = top;
            PangoLayoutLine *line = pango_layout_iter_get_line_readonly(iter);
            double at = x + (double)logical.x / PANGO_SCALE;
            cairo_move_to(press->cr, at, y + base - first);
            pango_cairo_show_layout_line(press->cr, line);
            line_links(press, line, x, y + top - first, height, runs, n_runs);
            used = top + height - first;
        }
        i++;
    } while (pango_layout_iter_next_line(iter));
    pango_layout_iter_free(iter);
    return used;
}

void press_flow(struct press *press, PangoLayout *layout, double x, const struct document_run *runs, size_t n_runs)
{
    int n = pango_layout_get_line_count(layout), from = 0;
    if (n == 0)
        return;
    double line = layout_height(layout) / n;
    while (from < n) {
        int fit = (int)((press->bottom - press->y) / line + 1e-6);
        /* Neither one line alone below nor one alone above, where there are enough. */
        if (fit < n - from && (fit < 2 || n - from - fit < 2) && n - from > 3)
            fit = fit < 3 ? 0 : fit - 1;
        if (fit <= 0) {
            if (press_at_top(press))
                fit = 1;
            else {
                press_page(press, press->landscape);
                continue;
            }
        }
        int to = from + fit < n ? from + fit : n;
        press->y += press_lines(press, layout, from, to, x, press->y, runs, n_runs);
        from = to;
    }
}

void press_mark(struct press *press, int layer, double x, double y, double radius)
{
    struct drawing *mark = drawing_new(1, 1, NULL, NULL);
    draw_layer_mark(mark, layer, 0, 0, radius);
    cairo_save(press->cr);
    cairo_translate(press->cr, x, y);
    drawing_paint(mark, press->cr);
    cairo_restore(press->cr);
    drawing_free(mark);
}

/* Running head and foot. */
static void furniture(struct press *press)
{
    const struct document *document = press->document;
    struct setting small = {.size = TEXT_SMALL, .ink = INK_SOFT};
    char words[300], date[16] = "";
    double y = MARGIN_PT - 6;
    press_ink(press, INK_SOFT);
    snprintf(words, sizeof words, "%.140s%s%.140s", document->kind == NULL ? document->title : document->kind,
             document->subject == NULL ? "" : " · ", document->subject == NULL ? "" : document->subject);
    PangoLayout *layout = press_words(press, words, small, 0);
    press_lines(press, layout, 0, 1, press->left, y - 10, NULL, 0);
    g_object_unref(layout);
    if (document->author != NULL) {
        layout = press_words(press, document->author, small, 0);
        press_lines(press, layout, 0, 1, press->right - layout_width(layout), y - 10, NULL, 0);
        g_object_unref(layout);
    }
    press_rule(press, press->left, press->right, y + 3, INK_FAINT, 0.5);
    date_write(document->date, date);
    press_ink(press, INK_SOFT);
    snprintf(words, sizeof words, "%s%s%s", document->made_by == NULL ? "spinney" : document->made_by, *date == '\0' ? "" : " · ", date);
    y = press->height - MARGIN_PT + 2;
    layout = press_words(press, words, small, 0);
    press_lines(press, layout, 0, 1, press->left, y, NULL, 0);
    g_object_unref(layout);
    snprintf(words, sizeof words, "page %zu of %zu", press->page, press->pages == 0 ? 1 : press->pages);
    layout = press_words(press, words, small, 0);
    press_lines(press, layout, 0, 1, press->right - layout_width(layout), y, NULL, 0);
    g_object_unref(layout);
}

void press_page(struct press *press, bool landscape)
{
    if (press->open)
        cairo_show_page(press->cr);
    press->landscape = landscape;
    press->width = landscape ? PAGE_LONG_PT : PAGE_SHORT_PT;
    press->height = landscape ? PAGE_SHORT_PT : PAGE_LONG_PT;
    cairo_pdf_surface_set_size(press->surface, press->width, press->height);
    press->left = MARGIN_PT;
    press->right = press->width - MARGIN_PT;
    press->top = MARGIN_PT + HEAD_PT - 12;
    press->bottom = press->height - MARGIN_PT - FOOT_PT + 14;
    press->y = press->top;
    press->page++;
    press->open = true;
    furniture(press);
}

void press_room(struct press *press, double height)
{
    if (press->y + height > press->bottom && !press_at_top(press))
        press_page(press, press->landscape);
}
