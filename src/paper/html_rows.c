/* SPDX-License-Identifier: GPL-3.0-or-later
 * The rows behind the numbers on a page of HTML: all of them, folded, with the size said. */
#include "paper/html_rows.h"
#include <stdio.h>
#include <string.h>

static const char *size_words(size_t bytes, char out[40])
{
    if (bytes < 1000000)
        snprintf(out, 40, "%zu kB", bytes / 1000 + (bytes % 1000 > 0));
    else
        snprintf(out, 40, "%.1f MB", (double)bytes / 1e6);
    return out;
}

static void add_back(struct text *out, int64_t number, size_t uses)
{
    if (uses == 0)
        return;
    text_add(out, " <span class=\"c\">Back to its number:");
    for (size_t k = 1; k <= uses; k++)
        text_print(out, " <a href=\"#u%lld-%zu\" aria-label=\"back from set %lld to place %zu\">%zu</a>", (long long)number, k,
                   (long long)number, k, k);
    text_add(out, "</span>");
}

/* Without closing tags of rows and cells, which HTML does not ask for: half the size. */
static void add_rows(struct text *out, const struct document_table *table)
{
    text_add(out, "<div class=\"wide\" tabindex=\"0\" role=\"region\" aria-label=\"rows\"><table><thead><tr>");
    for (size_t c = 0; c < table->n_columns; c++) {
        text_add(out, "<th scope=\"col\">");
        html_escaped(out, table->columns[c].title);
        if (table->columns[c].unit != NULL && *table->columns[c].unit != '\0') {
            text_add(out, " <span class=\"u\">");
            html_escaped(out, table->columns[c].unit);
            text_add(out, "</span>");
        }
    }
    text_add(out, "</thead><tbody>\n");
    for (size_t r = 0; r < table->n_rows; r++) {
        text_add(out, "<tr>");
        for (size_t c = 0; c < table->n_columns; c++) {
            text_add(out, "<td>");
            html_escaped(out, table->rows[r][c].words);
        }
        text_add(out, "\n");
    }
    text_add(out, "</tbody></table></div>");
}

static void add_together(struct text *out, const struct document_rows *set)
{
    text_print(out, "%zu rows: ", set->count);
    for (size_t i = 0; i < set->n_of; i++)
        text_print(out, "%s<a href=\"#r%lld\">r%lld</a>",
                   i == 0               ? ""
                   : i + 1 == set->n_of ? " and "
                                        : ", ",
                   (long long)set->of[i], (long long)set->of[i]);
    text_add(out, " together.");
}

static void add_selected(struct text *out, const struct document_rows *set)
{
    text_print(out, "%zu %s: ", set->count, set->count == 1 ? "row" : "rows");
    html_escaped(out, set->words);
    text_add(out, ".");
    if (set->remark != NULL) {
        text_add(out, " <strong>");
        html_escaped(out, set->remark);
        text_add(out, "</strong>");
    }
}

static void add_details(struct text *out, const struct document_rows *set)
{
    char size[40];
    struct text rows = {0};
    text_add(out, "<p class=\"c\"><code>");
    html_escaped(out, set->command);
    text_print(out, "</code> · SHA-256 <code>%.16s…</code></p>\n", set->fingerprint);
    if (set->table == NULL || set->count == 0)
        return;
    add_rows(&rows, set->table);
    text_print(out, "<details><summary>%s%zu %s, %s</summary>", set->count == 1 ? "The " : "All ", set->count,
               set->count == 1 ? "row" : "rows", size_words(rows.n, size));
    if (set->common != NULL) {
        text_add(out, "<p class=\"c\">The same in all of them: ");
        html_escaped(out, set->common);
        text_add(out, ".</p>");
    }
    text_add_n(out, rows.at, rows.n);
    text_add(out, "</details>");
    text_free(&rows);
}

void html_rows_add(struct text *out, const struct html_rows *sets)
{
    const struct document *document = sets->document;
    struct text all = {0};
    size_t n = 0, n_rows = 0;
    char size[40];
    for (size_t i = 0; i < document->n_rows; i++) {
        const struct document_rows *set = &document->rows[i];
        if (!set->used)
            continue;
        n++;
        n_rows += set->of == NULL ? set->count : 0;
        text_print(&all, "<div class=\"set\" id=\"r%zu\"><p><strong>r%zu</strong> ", i + 1, i + 1);
        (set->of != NULL ? add_together : add_selected)(&all, set);
        add_back(&all, (int64_t)i + 1, sets->uses[i]);
        text_add(&all, "</p>");
        if (set->of == NULL)
            add_details(&all, set);
        text_add(&all, "</div>\n");
    }
    text_print(out,
               "<p>%zu sets of rows, %zu lines in all, %s. Every list is whole; it is folded until it is opened, and folded lists are not "
               "printed. A number leads to its set, the set leads back.</p>\n",
               n, n_rows, size_words(all.n, size));
    if (all.n > 0)
        text_add_n(out, all.at, all.n);
    text_free(&all);
}
