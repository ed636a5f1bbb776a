/* SPDX-License-Identifier: GPL-3.0-or-later
 * A document as one page of HTML: everything inside, nothing asked of the network, and a printed form of its own. */
#include "paper/html_rows.h"
#include <glib.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char style[] =
    ":root{color-scheme:light dark}body{margin:0 auto;max-width:58rem;padding:1.2rem;background:var(--ink-paper);color:var(--ink-text);"
    "font:1rem/1.45 \"Open Sans\",\"Noto Sans\",\"DejaVu Sans\",sans-serif;font-variant-numeric:tabular-nums}\n"
    "h1{font-size:1.6rem;margin:.2em 0}h2{font-size:1.2rem;margin:1.6em 0 .4em}h3{font-size:1rem;margin:1.3em 0 "
    ".3em}h4{font-size:1rem;font-style:italic;margin:1em 0 .2em}\n"
    "header{border-bottom:2px solid var(--ink-text);margin-bottom:1rem}header p{margin:.1em 0;color:var(--ink-soft)}\n"
    "a{color:var(--ink-accent)}:target{outline:2px solid var(--ink-accent)}\n"
    "figure{margin:1rem 0}figure svg{display:block;max-width:100%;height:auto}figcaption,.small{font-size:.8rem;color:var(--ink-soft)}\n"
    ".wide{overflow-x:auto}table{border-collapse:collapse;width:100%;margin:.6rem 0;font-size:.9rem}"
    "caption{text-align:left;font-weight:700;padding-bottom:.3em}"
    "th{border-bottom:1.5px solid var(--ink-text);vertical-align:bottom}td{border-bottom:1px solid var(--ink-faint);vertical-align:top}"
    "th,td{padding:.2em .5em;text-align:left}.r{text-align:right}.m{text-align:center}.i{font-style:italic}.u{font-weight:400}\n"
    ".tall td{height:2em;border:1px solid var(--ink-faint)}td svg{width:1em;height:1em;vertical-align:-.12em;margin-right:.4em}\n"
    ".note{border-left:2px solid var(--ink-soft);padding-left:.8em}.caution{border-left:6px solid var(--ink-caution);padding-left:.8em}\n"
    ".fields{display:grid;grid-template-columns:repeat(auto-fit,minmax(11rem,1fr));gap:.6rem 1rem}.fields span{border-bottom:1px "
    "solid;min-height:2.6em;font-size:.8rem;color:var(--ink-soft)}\n"
    "p{white-space:pre-line}p,li{max-width:46rem}td .n,td.k{white-space:nowrap}.n{color:inherit;text-decoration:underline dotted "
    "var(--ink-accent);text-underline-offset:.2em}"
    ".n:hover,.n:focus-visible{color:var(--ink-accent);text-decoration-style:solid}sup{font-size:.7em;line-height:0}"
    ".set{border-top:1px solid var(--ink-faint);padding:.35rem 0;font-size:.85rem}.set p{margin:.15em 0}.set .c{color:var(--ink-soft)}"
    "code{font-family:\"DejaVu Sans Mono\",monospace;font-size:.85em;overflow-wrap:anywhere}summary{cursor:pointer}"
    ".set table{font-size:.8rem}.set td,.set th{padding:.1em .5em;white-space:nowrap}\n"
    "footer{border-top:1px solid var(--ink-faint);margin-top:2rem;font-size:.8rem;color:var(--ink-soft)}\n"
    "@media print{@page{size:A4;margin:14mm}body{max-width:none;padding:0;font-size:9.5pt}.break{break-before:page}"
    "thead{display:table-header-group}tr,figure,.caution{break-inside:avoid}h2,h3,h4{break-after:avoid}.wide{overflow:visible}a{color:"
    "inherit;text-decoration:none}td .n::after{content:attr(data-r);font-size:.62em;vertical-align:super;margin-left:.15em;color:#555}"
    ".set{break-inside:avoid;font-size:8pt}details{display:none}}\n";

void html_escaped(struct text *out, const char *words)
{
    char *valid = g_utf8_make_valid(words == NULL ? "" : words, -1);
    for (const char *at = valid; *at != '\0'; at++) {
        if (*at == '&')
            text_add(out, "&amp;");
        else if (*at == '<')
            text_add(out, "&lt;");
        else if (*at == '>')
            text_add(out, "&gt;");
        else if (*at == '"')
            text_add(out, "&quot;");
        else if ((unsigned char)*at >= 0x20 || *at == '\n')
            text_add_n(out, at, 1);
        else
            text_add(out, " ");
    }
    g_free(valid);
}

static void add_anchor(struct text *out, const char *anchor)
{
    if (anchor == NULL)
        return;
    text_add(out, " id=\"");
    html_escaped(out, anchor);
    text_add(out, "\"");
}

static bool link_fine(const char *link)
{
    return link != NULL &&
           (link[0] == '#' || strncmp(link, "https://", 8) == 0 || strncmp(link, "http://", 7) == 0 || strncmp(link, "mailto:", 7) == 0);
}

/* A link to the set of rows behind, remembered so that the set leads back. */
static void add_behind(struct text *out, int64_t rows, struct html_rows *sets, const char *words)
{
    const struct document_rows *set = &sets->document->rows[rows - 1];
    text_print(out, "<a class=\"n\" id=\"u%lld-%zu\" href=\"#r%lld\" data-r=\"r%lld\" title=\"r%lld: its %zu %s\">", (long long)rows,
               ++sets->uses[rows - 1], (long long)rows, (long long)rows, (long long)rows, set->count, set->count == 1 ? "row" : "rows");
    html_escaped(out, words);
    text_add(out, "</a>");
}

static void add_run(struct text *out, const struct document_run *run, struct html_rows *sets)
{
    if (run->rows > 0 && sets->document->n_rows > 0) {
        text_add(out, run->raised ? "<sup>" : "");
        add_behind(out, run->rows, sets, run->words);
        text_add(out, run->raised ? "</sup>" : "");
        return;
    }
    bool link = link_fine(run->link);
    if (link) {
        text_add(out, "<a href=\"");
        html_escaped(out, run->link);
        text_add(out, "\">");
    }
    text_add(out, run->strong ? "<strong>" : "");
    text_add(out, run->italic ? "<em>" : "");
    html_escaped(out, run->words);
    text_add(out, run->italic ? "</em>" : "");
    text_add(out, run->strong ? "</strong>" : "");
    text_add(out, link ? "</a>" : "");
}

static void add_runs(struct text *out, const struct document_part *part, struct html_rows *sets)
{
    for (size_t i = 0; i < part->n_runs; i++)
        add_run(out, &part->runs[i], sets);
}

static const char *align_class(const struct document_column *column)
{
    if (column->align == ALIGN_RIGHT)
        return " class=\"r\"";
    if (column->align == ALIGN_MIDDLE)
        return " class=\"m\"";
    return column->italic ? " class=\"i\"" : "";
}

static void add_mark(struct text *out, int layer)
{
    struct drawing *mark = drawing_new(10, 10, layer_mark_words(layer), NULL);
    draw_layer_mark(mark, layer, 5, 5, 4);
    drawing_svg(mark, false, out);
    drawing_free(mark);
}

enum { SHORT_WORDS = 12, SHORT_ENOUGH = 44 }; ///< bytes of a cell that is a link as a whole; longer ones carry a mark

static void add_cell(struct text *out, const struct document_cell *cell, struct html_rows *sets)
{
    struct document_run run = {.words = cell->words == NULL ? "–" : cell->words, .link = cell->link, .strong = cell->strong};
    bool behind = cell->rows > 0 && sets->document->n_rows > 0 && cell->words != NULL;
    if (behind && strlen(cell->words) <= SHORT_ENOUGH)
        run.rows = cell->rows;
    add_run(out, &run, sets);
    if (behind && run.rows == 0) {
        char mark[32];
        snprintf(mark, sizeof mark, "r%lld", (long long)cell->rows);
        add_run(out, &(struct document_run){.words = mark, .raised = true, .rows = cell->rows}, sets);
    }
}

static void add_table(struct text *out, const struct document_part *part, struct html_rows *sets)
{
    const struct document_table *table = part->table;
    bool blanks = false;
    text_add(out, "<div class=\"wide\" tabindex=\"0\" role=\"region\" aria-label=\"");
    html_escaped(out, table->caption != NULL ? table->caption : "Table");
    text_add(out, "\"><table");
    add_anchor(out, part->anchor);
    text_add(out, table->row_height_pt > 0 ? " class=\"tall\">" : ">");
    if (table->caption != NULL) {
        text_add(out, "<caption>");
        html_escaped(out, table->caption);
        text_add(out, "</caption>");
    }
    text_add(out, "<thead><tr>");
    for (size_t c = 0; c < table->n_columns; c++) {
        text_print(out, "<th scope=\"col\"%s>", table->columns[c].align == ALIGN_LEFT ? "" : align_class(&table->columns[c]));
        html_escaped(out, table->columns[c].title);
        if (table->columns[c].unit != NULL && *table->columns[c].unit != '\0') {
            text_add(out, "<br><span class=\"u\">");
            html_escaped(out, table->columns[c].unit);
            text_add(out, "</span>");
        }
        text_add(out, "</th>");
    }
    text_add(out, "</tr></thead>\n<tbody>\n");
    for (size_t r = 0; r < table->n_rows; r++) {
        text_add(out, "<tr>");
        for (size_t c = 0; c < table->n_columns; c++) {
            const struct document_cell *cell = &table->rows[r][c];
            const char *look = align_class(&table->columns[c]);
            bool short_words = cell->words != NULL && strlen(cell->words) <= SHORT_WORDS;
            text_print(out, "<td%s", *look == '\0' && short_words ? " class=\"k\"" : look);
            add_anchor(out, cell->anchor);
            text_add(out, ">");
            if (cell->layer > 0)
                add_mark(out, cell->layer);
            add_cell(out, cell, sets);
            text_add(out, "</td>");
            blanks = blanks || cell->words == NULL;
        }
        text_add(out, "</tr>\n");
    }
    text_add(out, "</tbody></table>");
    if (blanks || table->n_rows == 0)
        text_add(out, table->n_rows == 0 ? "<p class=\"small\">No rows.</p>" : "<p class=\"small\">– not known</p>");
    text_add(out, "</div>\n");
}

static void add_heading(struct text *out, const struct document_part *part, int level, size_t *n, struct html_rows *sets)
{
    text_print(out, "<h%d", level);
    if (part->anchor != NULL)
        add_anchor(out, part->anchor);
    else
        text_print(out, " id=\"part-%zu\"", ++*n);
    text_add(out, ">");
    add_runs(out, part, sets);
    text_print(out, "</h%d>\n", level);
}

static void add_part(struct text *out, const struct document_part *part, size_t *n_headings, struct html_rows *sets)
{
    switch (part->kind) {
    case PART_HEADING:
        add_heading(out, part, part->level + 1, n_headings, sets);
        break;
    case PART_PARAGRAPH:
    case PART_NOTE:
    case PART_CAUTION:
        text_add(out, "<p");
        add_anchor(out, part->anchor);
        text_add(out, part->kind == PART_NOTE      ? " class=\"note\">"
                      : part->kind == PART_CAUTION ? " class=\"caution\"><strong>Caution"
                                                   : ">");
        if (part->kind == PART_CAUTION) {
            text_add(out, part->code == NULL ? "" : " ");
            html_escaped(out, part->code);
            text_add(out, ".</strong> ");
        }
        add_runs(out, part, sets);
        if (part->defer != NULL) {
            text_add(out, " <strong>Who decides:</strong> ");
            html_escaped(out, part->defer);
        }
        text_add(out, "</p>\n");
        break;
    case PART_LIST:
        text_add(out, part->numbered ? "<ol" : "<ul");
        add_anchor(out, part->anchor);
        text_add(out, ">");
        for (size_t i = 0; i < part->n_runs; i++) {
            text_add(out, "<li>");
            add_run(out, &part->runs[i], sets);
            text_add(out, "</li>\n");
        }
        text_add(out, part->numbered ? "</ol>\n" : "</ul>\n");
        break;
    case PART_TABLE:
        add_table(out, part, sets);
        break;
    case PART_FIGURE:
        text_add(out, "<figure");
        add_anchor(out, part->anchor);
        text_add(out, ">\n");
        drawing_svg(part->drawing, true, out);
        if (part->caption != NULL || part->rows > 0) {
            text_add(out, "<figcaption>");
            html_escaped(out, part->caption);
            text_add(out, part->caption != NULL && part->rows > 0 ? " " : "");
            if (part->rows > 0 && sets->document->n_rows > 0)
                add_behind(out, part->rows, sets, "The rows behind this figure");
            text_add(out, "</figcaption>");
        }
        text_add(out, "</figure>\n");
        break;
    case PART_FIELDS:
        text_add(out, "<div class=\"fields\">");
        for (size_t i = 0; i < part->n_runs; i++) {
            text_add(out, "<span>");
            html_escaped(out, part->runs[i].words);
            text_add(out, "</span>");
        }
        text_add(out, "</div>\n");
        break;
    case PART_PAGE_BREAK:
        text_add(out, "<div class=\"break\"></div>\n");
        break;
    case PART_BOOKMARK:
        if (part->anchor != NULL) {
            text_add(out, "<span");
            add_anchor(out, part->anchor);
            text_add(out, "></span>");
        }
        break;
    case PART_ROWS:
        html_rows_add(out, sets);
        break;
    case PART_ROOM:
        break;
    }
}

static void add_revisions(struct text *out, const struct document *document)
{
    if (document->n_revisions == 0)
        return;
    text_add(out, "<div class=\"wide\"><table><thead><tr><th scope=\"col\">Version</th><th scope=\"col\">Date</th><th scope=\"col\">By</th>"
                  "<th scope=\"col\">What changed</th></tr></thead><tbody>\n");
    for (size_t i = 0; i < document->n_revisions; i++) {
        const struct document_revision *revision = &document->revisions[i];
        const char *words[4] = {revision->version, revision->date, revision->who, revision->words};
        text_add(out, "<tr>");
        for (int c = 0; c < 4; c++) {
            text_add(out, "<td>");
            html_escaped(out, words[c] == NULL ? "–" : words[c]);
            text_add(out, "</td>");
        }
        text_add(out, "</tr>\n");
    }
    text_add(out, "</tbody></table></div>\n");
}

enum outcome document_html(const struct document *document, struct text *out, struct failure *why)
{
    (void)why;
    char date[16];
    size_t n_headings = 0;
    struct html_rows sets = {document, memory_get(document->n_rows + 1, sizeof(size_t))};
    date_write(document->date, date);
    text_add(out, "<!DOCTYPE html>\n<html lang=\"");
    html_escaped(out, document->language == NULL ? "en" : document->language);
    text_add(out, "\">\n<head><meta charset=\"utf-8\">\n<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; "
                  "style-src 'unsafe-inline'; img-src data:\">\n"
                  "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>");
    html_escaped(out, document->title);
    text_add(out, "</title>\n<style>\n");
    draw_stylesheet(out);
    text_add(out, style);
    text_add(out, "</style></head>\n<body>\n<header><h1>");
    html_escaped(out, document->title);
    text_add(out, "</h1>\n");
    const char *lines[] = {document->subtitle, document->author, *date == '\0' ? NULL : date};
    for (size_t i = 0; i < 3; i++)
        if (lines[i] != NULL) {
            text_add(out, "<p>");
            html_escaped(out, lines[i]);
            text_add(out, "</p>\n");
        }
    text_add(out, "</header>\n<main>\n");
    add_revisions(out, document);
    for (const struct document_part *part = document->first; part != NULL; part = part->next)
        add_part(out, part, &n_headings, &sets);
    free(sets.uses);
    text_add(out, "</main>\n<footer>");
    html_escaped(out, document->made_by == NULL ? "spinney" : document->made_by);
    text_add(out, "</footer>\n</body></html>\n");
    return OUTCOME_OK;
}
