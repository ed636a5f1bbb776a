/* SPDX-License-Identifier: GPL-3.0-or-later
 * A document as PDF, run twice: once to count the pages, once to print "page n of N". */
#include "paper/press.h"
#include <cairo-pdf.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

static cairo_status_t keep(void *closure, const unsigned char *data, unsigned n)
{
    text_add_n(closure, (const char *)data, n);
    return CAIRO_STATUS_SUCCESS;
}

static cairo_status_t drop(void *closure, const unsigned char *data, unsigned n)
{
    (void)closure, (void)data, (void)n;
    return CAIRO_STATUS_SUCCESS;
}

static void words_flow(struct press *press, const char *words, struct setting setting, double x, double width, const char *tag)
{
    PangoLayout *layout = press_words(press, words, setting, width);
    press_tag(press, tag);
    press_ink(press, setting.ink == INK_NONE ? INK_TEXT : setting.ink);
    press_flow(press, layout, x, NULL, 0);
    press_tag_end(press, tag);
    g_object_unref(layout);
}

static void revisions_set(struct press *press)
{
    const struct document *document = press->document;
    if (document->n_revisions == 0)
        return;
    struct document_column columns[4] = {{.title = "Version", .weight = 1},
                                         {.title = "Date", .weight = 1.2},
                                         {.title = "By", .weight = 1},
                                         {.title = "What changed", .weight = 6}};
    struct document_cell *cells = memory_get(4 * document->n_revisions, sizeof *cells),
                         **rows = memory_get(document->n_revisions, sizeof *rows);
    for (size_t i = 0; i < document->n_revisions; i++) {
        const struct document_revision *revision = &document->revisions[i];
        const char *words[4] = {revision->version, revision->date, revision->who, revision->words};
        rows[i] = cells + 4 * i;
        for (size_t c = 0; c < 4; c++)
            rows[i][c] = (struct document_cell){.words = words[c]};
    }
    struct document_table table = {.columns = columns, .n_columns = 4, .rows = rows, .n_rows = document->n_revisions, .narrow = true};
    press_table(press, &table);
    free(cells);
    free(rows);
}

static void title_set(struct press *press)
{
    const struct document *document = press->document;
    double width = press->right - press->left;
    words_flow(press, document->title, (struct setting){.size = TEXT_TITLE, .bold = true}, press->left, width, "H1");
    if (document->subtitle != NULL)
        words_flow(press, document->subtitle, (struct setting){.size = TEXT_LARGE, .ink = INK_SOFT}, press->left, width, "P");
    char date[16] = "", line[400];
    date_write(document->date, date);
    snprintf(line, sizeof line, "%.300s%s%s", document->author == NULL ? "" : document->author,
             document->author == NULL || *date == '\0' ? "" : ", ", date);
    if (*line != '\0')
        words_flow(press, line, (struct setting){.size = TEXT_BODY}, press->left, width, "P");
    press->y += 4;
    press_rule(press, press->left, press->right, press->y, INK_TEXT, 1.4);
    press->y += 8;
    revisions_set(press);
}

/* An entry of the outline that leads here. */
static void outline_add(struct press *press, const struct document_part *part)
{
    char name[64], link[64];
    press->n_headings++;
    snprintf(name, sizeof name, "name='h%zu' x=%.1f y=%.1f", press->n_headings, press->left, press->y);
    cairo_tag_begin(press->cr, CAIRO_TAG_DEST, name);
    cairo_tag_end(press->cr, CAIRO_TAG_DEST);
    press_anchor(press, part->anchor, press->left, press->y);
    snprintf(link, sizeof link, "dest='h%zu'", press->n_headings);
    int parent = 0;
    for (int level = part->level - 1; level > 0 && parent == 0; level--)
        parent = press->outline[level];
    char *valid = press_valid(part->n_runs > 0 ? part->runs[0].words : "");
    press->outline[part->level] =
        cairo_pdf_surface_add_outline(press->surface, parent, valid, link, part->level == 1 ? CAIRO_PDF_OUTLINE_FLAG_OPEN : 0);
    g_free(valid);
    for (int level = part->level + 1; level < 4; level++)
        press->outline[level] = 0;
}

static void heading_set(struct press *press, const struct document_part *part)
{
    static const double sizes[] = {TEXT_LARGE, TEXT_LARGE, TEXT_BODY, TEXT_BODY};
    static const char *const tags[] = {"H1", "H2", "H3", "H4"};
    press->y += press_at_top(press) ? 0 : part->level == 1 ? 10 : 6;
    press_room(press, 100); /* a heading does not stand alone at the foot */
    outline_add(press, part);
    words_flow(press, part->n_runs > 0 ? part->runs[0].words : "",
               (struct setting){.size = sizes[part->level], .bold = part->level != 3, .italic = part->level == 3}, press->left,
               press->right - press->left, tags[part->level]);
    press->y += part->level == 1 ? 4 : 2;
}

/* Runs with marks of rows made links; free them. */
static struct document_run *runs_linked(struct press *press, const struct document_part *part, char (**links)[32])
{
    struct document_run *runs = memory_get(part->n_runs + 1, sizeof *runs);
    *links = memory_get(part->n_runs + 1, sizeof **links);
    for (size_t i = 0; i < part->n_runs; i++) {
        runs[i] = part->runs[i];
        if (runs[i].rows <= 0)
            continue;
        snprintf((*links)[i], 32, "#r%lld", (long long)runs[i].rows);
        runs[i].link = (*links)[i];
        press_used(press, runs[i].rows);
    }
    return runs;
}

static void paragraph_set(struct press *press, const struct document_part *part)
{
    char(*links)[32] = NULL;
    struct document_run *runs = runs_linked(press, part, &links);
    PangoLayout *layout = press_layout(press, runs, part->n_runs, (struct setting){.size = TEXT_BODY}, press->right - press->left);
    pango_layout_set_line_spacing(layout, 1.05f);
    press_tag(press, "P");
    press_anchor(press, part->anchor, press->left, press->y);
    press_ink(press, INK_TEXT);
    press_flow(press, layout, press->left, runs, part->n_runs);
    press_tag_end(press, "P");
    press->y += 6;
    free(runs);
    free(links);
    g_object_unref(layout);
}

static void list_set(struct press *press, const struct document_part *part)
{
    press_tag(press, "L");
    press_anchor(press, part->anchor, press->left, press->y);
    for (size_t i = 0; i < part->n_runs; i++) {
        PangoLayout *layout = press_layout(press, &part->runs[i], 1, (struct setting){.size = TEXT_BODY}, press->right - press->left - 16);
        char mark[24] = "–";
        if (part->numbered)
            snprintf(mark, sizeof mark, "%zu.", i + 1);
        press_room(press, fmin(layout_height(layout), 40));
        PangoLayout *bullet = press_words(press, mark, (struct setting){.size = TEXT_BODY}, 0);
        press_tag(press, "LI");
        press_ink(press, INK_TEXT);
        press_lines(press, bullet, 0, 1, press->left + 2, press->y, NULL, 0);
        press_flow(press, layout, press->left + 16, &part->runs[i], 1);
        press_tag_end(press, "LI");
        press->y += 2;
        g_object_unref(bullet);
        g_object_unref(layout);
    }
    press_tag_end(press, "L");
    press->y += 4;
}

/* A note or a caution: a bar at the left edge, and for a caution who decides. */
static void aside_set(struct press *press, const struct document_part *part)
{
    bool caution = part->kind == PART_CAUTION;
    struct document_run runs[8] = {0};
    size_t n = 0;
    if (caution) {
        runs[n++] = (struct document_run){.words = "Caution", .strong = true};
        if (part->code != NULL) {
            runs[n++] = (struct document_run){.words = " ", .strong = true};
            runs[n++] = (struct document_run){.words = part->code, .strong = true};
        }
        runs[n++] = (struct document_run){.words = ". ", .strong = true};
    }
    for (size_t i = 0; i < part->n_runs && n < 6; i++)
        runs[n++] = part->runs[i];
    if (part->defer != NULL) {
        runs[n++] = (struct document_run){.words = " Who decides: ", .strong = true};
        runs[n++] = (struct document_run){.words = part->defer};
    }
    PangoLayout *layout = press_layout(press, runs, n, (struct setting){.size = TEXT_BODY}, press->right - press->left - 14);
    double tall = layout_height(layout);
    if (tall < press->bottom - press->top)
        press_room(press, tall + 4);
    press_tag(press, caution ? "Note" : "P");
    press_anchor(press, part->anchor, press->left, press->y);
    size_t page = press->page;
    double top = press->y;
    press->y += 2;
    press_ink(press, INK_TEXT);
    press_flow(press, layout, press->left + 12, runs, n);
    press_tag_end(press, caution ? "Note" : "P");
    if (press->page != page)
        top = press->top;
    press_ink(press, caution ? INK_CAUTION : INK_SOFT);
    cairo_rectangle(press->cr, press->left + 2, top, caution ? 4 : 1.2, press->y - top + 2);
    cairo_fill(press->cr);
    press->y += 8;
    g_object_unref(layout);
}

static void figure_set(struct press *press, const struct document_part *part)
{
    double room = press->right - press->left, wide = drawing_width_pt(part->drawing), tall = drawing_height_pt(part->drawing);
    char link[32], words[64];
    struct document_run runs[2] = {{.words = part->caption == NULL ? "" : part->caption}, {.words = words, .link = link}};
    bool behind = part->rows > 0 && press->document->n_rows > 0;
    snprintf(link, sizeof link, "#r%lld", (long long)part->rows);
    snprintf(words, sizeof words, "%sRows behind this figure: r%lld", part->caption == NULL ? "" : " ", (long long)part->rows);
    PangoLayout *caption =
        part->caption == NULL && !behind ? NULL : press_layout(press, runs, behind ? 2 : 1, (struct setting){.size = TEXT_SMALL}, room);
    if (behind)
        press_used(press, part->rows);
    double below = caption == NULL ? 0 : layout_height(caption) + 3, shrink = 1;
    press_room(press, tall + below);
    double most = press->bottom - press->y - below;
    if (wide > room + 0.5 || tall > most + 0.5)
        shrink = fmin(room / wide, most / tall);
    if (shrink < 1 && part->true_scale && press->outcome == OUTCOME_OK) {
        press->outcome =
            fail(press->why, OUTCOME_DATA, "The drawing \"%.100s\" is too large for the page, and shrinking it would falsify its scale.",
                 drawing_title(part->drawing));
        failure_remedy(press->why, "Choose a smaller scale or a larger sheet.");
    }
    press_tag(press, "Figure");
    press_anchor(press, part->anchor, press->left, press->y);
    cairo_save(press->cr);
    cairo_translate(press->cr, press->left, press->y);
    cairo_scale(press->cr, shrink, shrink);
    if (press->pages > 0) /* the first run only counts */
        drawing_paint(part->drawing, press->cr);
    cairo_restore(press->cr);
    press_tag_end(press, "Figure");
    press->y += tall * shrink + 3;
    if (caption != NULL) {
        press_tag(press, "P");
        press_ink(press, INK_SOFT);
        press_flow(press, caption, press->left, runs, behind ? 2 : 1);
        press_tag_end(press, "P");
        g_object_unref(caption);
    }
    press->y += 10;
}

static void fields_set(struct press *press, const struct document_part *part)
{
    size_t across = part->n_runs < 3 ? part->n_runs : press->landscape ? 4 : 3;
    if (across == 0)
        return;
    double width = (press->right - press->left + 12) / (double)across;
    for (size_t i = 0; i < part->n_runs; i++) {
        if (i % across == 0)
            press_room(press, 26);
        double x = press->left + width * (double)(i % across);
        PangoLayout *layout = press_words(press, part->runs[i].words, (struct setting){.size = TEXT_SMALL}, 0);
        press_ink(press, INK_SOFT);
        press_lines(press, layout, 0, 1, x, press->y, NULL, 0);
        press_rule(press, x, x + width - 12, press->y + 22, INK_TEXT, 0.6);
        g_object_unref(layout);
        if (i % across == across - 1 || i + 1 == part->n_runs)
            press->y += 28;
    }
    press->y += 4;
}

static void part_set(struct press *press, const struct document_part *part)
{
    switch (part->kind) {
    case PART_HEADING:
        heading_set(press, part);
        break;
    case PART_PARAGRAPH:
        paragraph_set(press, part);
        break;
    case PART_LIST:
        list_set(press, part);
        break;
    case PART_TABLE:
        press_anchor(press, part->anchor, press->left, press->y);
        press_table(press, part->table);
        break;
    case PART_FIGURE:
        figure_set(press, part);
        break;
    case PART_NOTE:
    case PART_CAUTION:
        aside_set(press, part);
        break;
    case PART_FIELDS:
        fields_set(press, part);
        break;
    case PART_PAGE_BREAK:
        if (!press_at_top(press) || press->landscape != part->landscape)
            press_page(press, part->landscape);
        break;
    case PART_BOOKMARK:
        outline_add(press, part);
        break;
    case PART_ROWS:
        press_rows(press);
        break;
    case PART_ROOM:
        press_room(press, part->height_pt);
        press->y += part->height_pt;
        break;
    }
}

/* Every anchor once, so that links can be checked. */
static void anchors_gather(struct press *press)
{
    const struct document *document = press->document;
    size_t room = 0;
    for (size_t i = 0; i < document->n_rows; i++)
        if (document->rows[i].used) {
            press->anchors = column_room(press->anchors, press->n_anchors, &room, sizeof *press->anchors);
            press->anchors[press->n_anchors++] = arena_print(&press->arena, "r%zu", i + 1);
        }
    for (const struct document_part *part = document->first; part != NULL; part = part->next) {
        if (part->anchor != NULL) {
            press->anchors = column_room(press->anchors, press->n_anchors, &room, sizeof *press->anchors);
            press->anchors[press->n_anchors++] = part->anchor;
        }
        for (size_t r = 0; part->table != NULL && r < part->table->n_rows; r++)
            for (size_t c = 0; c < part->table->n_columns; c++)
                if (part->table->rows[r][c].anchor != NULL) {
                    press->anchors = column_room(press->anchors, press->n_anchors, &room, sizeof *press->anchors);
                    press->anchors[press->n_anchors++] = part->table->rows[r][c].anchor;
                }
    }
}

static void metadata_set(cairo_surface_t *surface, const struct document *document)
{
    char date[16], moment[40];
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_TITLE, document->title);
    if (document->author != NULL)
        cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_AUTHOR, document->author);
    if (document->subtitle != NULL)
        cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_SUBJECT, document->subtitle);
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATOR, document->made_by == NULL ? "spinney" : document->made_by);
    date_write(document->date, date);
    snprintf(moment, sizeof moment, "%s%s", date, *date == '\0' ? "" : "T00:00:00Z");
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATE_DATE, moment);
}

static PangoContext *context_new(void)
{
    PangoContext *context = pango_font_map_create_context(pango_cairo_font_map_get_default());
    cairo_font_options_t *options = cairo_font_options_create();
    cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    pango_cairo_context_set_font_options(context, options);
    cairo_font_options_destroy(options);
    pango_cairo_context_set_resolution(context, 72);
    pango_context_set_round_glyph_positions(context, FALSE);
    return context;
}

/* One run over the document; `out` NULL only counts. */
static enum outcome press_run(const struct document *document, struct text *out, size_t pages, size_t *used_on, size_t *counted,
                              struct failure *why)
{
    struct press press = {.document = document, .pages = pages, .used_on = used_on, .why = why};
    press.surface = cairo_pdf_surface_create_for_stream(out == NULL ? drop : keep, out, PAGE_SHORT_PT, PAGE_LONG_PT);
    metadata_set(press.surface, document);
    press.cr = cairo_create(press.surface);
    press.context = context_new();
    anchors_gather(&press);
    press_page(&press, document->landscape);
    press_tag(&press, "Document"); /* after the page's size, which empties the page */
    if (!document->plain_first)
        title_set(&press);
    for (const struct document_part *part = document->first; part != NULL && press.outcome == OUTCOME_OK; part = part->next)
        part_set(&press, part);
    press_tag_end(&press, "Document");
    cairo_show_page(press.cr);
    cairo_status_t status = cairo_status(press.cr);
    cairo_destroy(press.cr);
    cairo_surface_finish(press.surface);
    if (status == CAIRO_STATUS_SUCCESS)
        status = cairo_surface_status(press.surface);
    cairo_surface_destroy(press.surface);
    g_object_unref(press.context);
    free(press.anchors);
    arena_clear(&press.arena);
    *counted = press.page;
    if (press.outcome != OUTCOME_OK)
        return press.outcome;
    return status == CAIRO_STATUS_SUCCESS
               ? OUTCOME_OK
               : fail(why, OUTCOME_SYSTEM, "The document could not be made: %s.", cairo_status_to_string(status));
}

enum outcome document_pdf(const struct document *document, struct text *out, size_t *pages, struct failure *why)
{
    size_t n = 0, again = 0, before = out->n, *used_on = memory_get(document->n_rows + 1, sizeof *used_on);
    enum outcome outcome = press_run(document, NULL, 0, used_on, &n, why);
    if (outcome == OUTCOME_OK)
        outcome = press_run(document, out, n, used_on, &again, why);
    free(used_on);
    if (outcome != OUTCOME_OK)
        out->n = before;
    else if (pages != NULL)
        *pages = n;
    return outcome;
}
