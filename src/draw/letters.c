/* SPDX-License-Identifier: GPL-3.0-or-later
 * Words by Pango: one layout per drawing, unhinted metrics so that every output is set alike. */
#include "draw/inside.h"
#include <pango/pangocairo.h>

/* Open Sans (Apache 2.0), package fonts-open-sans: a humanist sans whose figures are tabular as drawn. */
const char letters_family[] = "Open Sans, Noto Sans, DejaVu Sans, sans-serif";

struct _PangoLayout *letters_set(const struct drawing *drawing, struct lettering lettering, const char *words)
{
    if (drawing->letters == NULL) {
        PangoContext *context = pango_font_map_create_context(pango_cairo_font_map_get_default());
        cairo_font_options_t *options = cairo_font_options_create();
        cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
        cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
        cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
        pango_cairo_context_set_font_options(context, options);
        cairo_font_options_destroy(options);
        pango_cairo_context_set_resolution(context, 72);
        pango_context_set_round_glyph_positions(context, FALSE);
        /* The layout is a cache: setting words does not change what the drawing is. */
        ((struct drawing *)(uintptr_t)drawing)->letters = pango_layout_new(context);
        g_object_unref(context);
    }
    lettering = lettering_whole(lettering);
    PangoLayout *layout = drawing->letters;
    PangoFontDescription *font = pango_font_description_new();
    pango_font_description_set_family_static(font, letters_family);
    pango_font_description_set_absolute_size(font, lettering.size_pt * PANGO_SCALE);
    pango_font_description_set_weight(font, lettering.bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
    pango_font_description_set_style(font, lettering.italic ? PANGO_STYLE_ITALIC : PANGO_STYLE_NORMAL);
    pango_layout_set_font_description(layout, font);
    pango_font_description_free(font);
    pango_layout_set_single_paragraph_mode(layout, TRUE);
    pango_layout_set_text(layout, words, -1);
    return layout;
}

void letters_free(struct drawing *drawing)
{
    if (drawing->letters != NULL)
        g_object_unref(drawing->letters);
    drawing->letters = NULL;
}

double draw_text_width(struct drawing *drawing, struct lettering lettering, const char *words)
{
    if (words == NULL || *words == '\0')
        return 0;
    PangoRectangle logical;
    pango_layout_get_extents(letters_set(drawing, lettering, words), NULL, &logical);
    return (double)logical.width / PANGO_SCALE;
}
