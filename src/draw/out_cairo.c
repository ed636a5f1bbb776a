/* SPDX-License-Identifier: GPL-3.0-or-later
 * A drawing painted by Cairo: onto a page, as a PDF of its own, as PNG. */
#include "draw/inside.h"
#include <cairo-pdf.h>
#include <math.h>
#include <pango/pangocairo.h>

static void ink_set(cairo_t *cr, enum ink ink, double share)
{
    double rgb[3];
    ink_rgb(ink, false, rgb);
    if (share < 1)
        cairo_set_source_rgba(cr, rgb[0], rgb[1], rgb[2], share);
    else
        cairo_set_source_rgb(cr, rgb[0], rgb[1], rgb[2]);
}

static void pen_use(cairo_t *cr, const struct pen *pen)
{
    if (pen->fill != INK_NONE) {
        ink_set(cr, pen->fill, pen->fill_share);
        if (pen->stroke == INK_NONE)
            cairo_fill(cr);
        else
            cairo_fill_preserve(cr);
    }
    if (pen->stroke != INK_NONE) {
        double lengths[4];
        size_t n = dash_lengths(pen->dash, pen->width_pt, lengths);
        ink_set(cr, pen->stroke, 1);
        cairo_set_line_width(cr, pen->width_pt);
        cairo_set_dash(cr, lengths, (int)n, 0);
        cairo_stroke(cr);
    }
    cairo_new_path(cr);
}

static void paint_text(const struct drawing *drawing, const struct op *op, const double *xy, cairo_t *cr)
{
    const struct lettering *l = &op->lettering;
    PangoLayout *layout = letters_set(drawing, *l, op->words);
    PangoRectangle logical;
    pango_layout_get_extents(layout, NULL, &logical);
    double width = (double)logical.width / PANGO_SCALE, base = (double)pango_layout_get_baseline(layout) / PANGO_SCALE;
    cairo_save(cr);
    cairo_translate(cr, xy[0], xy[1]);
    if (l->turn_deg != 0)
        cairo_rotate(cr, -l->turn_deg * G_PI / 180);
    cairo_move_to(cr, l->anchor == ANCHOR_START ? 0 : l->anchor == ANCHOR_MIDDLE ? -width / 2 : -width, -base);
    if (l->halo) {
        cairo_save(cr);
        pango_cairo_layout_path(cr, layout);
        ink_set(cr, INK_PAPER, 1);
        cairo_set_line_width(cr, 2);
        cairo_set_dash(cr, NULL, 0, 0);
        cairo_stroke(cr);
        cairo_restore(cr);
        cairo_move_to(cr, l->anchor == ANCHOR_START ? 0 : l->anchor == ANCHOR_MIDDLE ? -width / 2 : -width, -base);
    }
    ink_set(cr, l->ink, 1);
    pango_cairo_show_layout(cr, layout);
    cairo_restore(cr);
    cairo_new_path(cr);
}

static void paint_path(const struct drawing *drawing, const struct op *op, const double *xy, cairo_t *cr)
{
    size_t from = 0;
    for (size_t r = 0; r < op->n_rings; r++) {
        size_t end = drawing->ends[op->ends_at + r];
        for (size_t i = from; i < end; i++) {
            if (i == from)
                cairo_move_to(cr, xy[2 * i], xy[2 * i + 1]);
            else
                cairo_line_to(cr, xy[2 * i], xy[2 * i + 1]);
        }
        if (op->closed)
            cairo_close_path(cr);
        from = end;
    }
    pen_use(cr, &op->pen);
}

void drawing_paint(const struct drawing *drawing, struct _cairo *cr)
{
    cairo_save(cr);
    cairo_set_line_join(cr, CAIRO_LINE_JOIN_ROUND);
    cairo_set_fill_rule(cr, CAIRO_FILL_RULE_EVEN_ODD);
    cairo_new_path(cr);
    for (size_t i = 0; i < drawing->n_ops; i++) {
        const struct op *op = &drawing->ops[i];
        const double *xy = drawing->xy + op->at;
        switch (op->kind) {
        case OP_PATH:
            paint_path(drawing, op, xy, cr);
            break;
        case OP_DISC:
            cairo_arc(cr, xy[0], xy[1], xy[2], 0, 2 * G_PI);
            cairo_close_path(cr);
            pen_use(cr, &op->pen);
            break;
        case OP_BOX:
            cairo_rectangle(cr, xy[0], xy[1], xy[2], xy[3]);
            pen_use(cr, &op->pen);
            break;
        case OP_TEXT:
            paint_text(drawing, op, xy, cr);
            break;
        case OP_CLIP:
            cairo_save(cr);
            cairo_rectangle(cr, xy[0], xy[1], xy[2], xy[3]);
            cairo_clip(cr);
            break;
        case OP_CLIP_END:
            cairo_restore(cr);
            break;
        case OP_GROUP:
        case OP_GROUP_END:
            break;
        }
    }
    cairo_restore(cr);
}

static cairo_status_t keep(void *closure, const unsigned char *data, unsigned n)
{
    text_add_n(closure, (const char *)data, n);
    return CAIRO_STATUS_SUCCESS;
}

static enum outcome ended(cairo_status_t status, const char *what, struct failure *why)
{
    if (status == CAIRO_STATUS_SUCCESS)
        return OUTCOME_OK;
    return fail(why, OUTCOME_SYSTEM, "The %s could not be drawn: %s.", what, cairo_status_to_string(status));
}

static void turn_grey(cairo_surface_t *image)
{
    cairo_surface_flush(image);
    unsigned char *data = cairo_image_surface_get_data(image);
    int width = cairo_image_surface_get_width(image), height = cairo_image_surface_get_height(image);
    int stride = cairo_image_surface_get_stride(image);
    for (int y = 0; y < height; y++) {
        uint32_t *row = (uint32_t *)(void *)(data + (ptrdiff_t)y * stride);
        for (int x = 0; x < width; x++) {
            uint32_t p = row[x];
            /* luma of ITU-R BT.601, as copiers and pdf tools use */
            uint32_t grey = (299 * (p >> 16 & 255) + 587 * (p >> 8 & 255) + 114 * (p & 255) + 500) / 1000;
            row[x] = (p & 0xff000000u) | grey << 16 | grey << 8 | grey;
        }
    }
    cairo_surface_mark_dirty(image);
}

enum outcome drawing_png(const struct drawing *drawing, double dots_per_inch, bool grey, struct text *out, struct failure *why)
{
    double scale = dots_per_inch / 72, width = ceil(drawing->width_pt * scale), height = ceil(drawing->height_pt * scale);
    if (!(width >= 1 && height >= 1 && width <= 20000 && height <= 20000 && width * height <= 2e8)) {
        fail(why, OUTCOME_USAGE, "A picture of %.0f by %.0f dots cannot be made.", width, height);
        return failure_remedy(why, "Ask for a lower resolution.");
    }
    cairo_surface_t *image = cairo_image_surface_create(CAIRO_FORMAT_RGB24, (int)width, (int)height);
    cairo_t *cr = cairo_create(image);
    cairo_set_source_rgb(cr, 1, 1, 1);
    cairo_paint(cr);
    cairo_scale(cr, scale, scale);
    drawing_paint(drawing, cr);
    cairo_status_t status = cairo_status(cr);
    cairo_destroy(cr);
    if (status == CAIRO_STATUS_SUCCESS && grey)
        turn_grey(image);
    if (status == CAIRO_STATUS_SUCCESS)
        status = cairo_surface_write_to_png_stream(image, keep, out);
    cairo_surface_destroy(image);
    return ended(status, "picture", why);
}

enum outcome drawing_pdf(const struct drawing *drawing, struct text *out, struct failure *why)
{
    cairo_surface_t *page = cairo_pdf_surface_create_for_stream(keep, out, drawing->width_pt, drawing->height_pt);
    cairo_pdf_surface_set_metadata(page, CAIRO_PDF_METADATA_TITLE, drawing->title);
    /* No day: the same drawing gives the same bytes. */
    cairo_pdf_surface_set_metadata(page, CAIRO_PDF_METADATA_CREATE_DATE, "");
    cairo_t *cr = cairo_create(page);
    drawing_paint(drawing, cr);
    cairo_status_t status = cairo_status(cr);
    cairo_destroy(cr);
    cairo_surface_finish(page);
    if (status == CAIRO_STATUS_SUCCESS)
        status = cairo_surface_status(page);
    cairo_surface_destroy(page);
    return ended(status, "page", why);
}
