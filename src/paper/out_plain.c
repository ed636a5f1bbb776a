/* SPDX-License-Identifier: GPL-3.0-or-later
 * A document as plain text. */
#include "paper/document.h"
#include <glib.h>
#include <string.h>

/* Words over lines of `width` characters, each begun with `lead`. */
static void add_wrapped(struct text *out, const char *words, int width, const char *lead, const char *next)
{
    char *valid = g_utf8_make_valid(words, -1), *rest = NULL;
    long at = 0;
    bool first = true;
    for (char *word = strtok_r(valid, " \n", &rest); word != NULL; word = strtok_r(NULL, " \n", &rest)) {
        long n = g_utf8_strlen(word, -1);
        if (first || (at + 1 + n > width && width > 0)) {
            text_print(out, "%s%s%s", first ? "" : "\n", first ? lead : next, word);
            at = g_utf8_strlen(first ? lead : next, -1) + n;
        } else {
            text_print(out, " %s", word);
            at += 1 + n;
        }
        first = false;
    }
    text_add(out, "\n");
    g_free(valid);
}

static long words_width(const char *words)
{
    char *valid = g_utf8_make_valid(words == NULL ? "–" : words, -1);
    long n = g_utf8_strlen(valid, -1);
    g_free(valid);
    return n;
}

static void add_padded(struct text *out, const char *words, long width, bool right)
{
    char *valid = g_utf8_make_valid(words == NULL ? "–" : words, -1);
    long pad = width - g_utf8_strlen(valid, -1);
    for (long i = 0; right && i < pad; i++)
        text_add(out, " ");
    text_add(out, valid);
    for (long i = 0; !right && i < pad; i++)
        text_add(out, " ");
    g_free(valid);
}

static void add_table(struct text *out, const struct document_table *table)
{
    long widths[64];
    size_t n = table->n_columns < 64 ? table->n_columns : 64;
    if (table->caption != NULL)
        text_print(out, "%s\n", table->caption);
    for (size_t c = 0; c < n; c++) {
        const char *unit = table->columns[c].unit;
        widths[c] = words_width(table->columns[c].title) + (unit != NULL && *unit != '\0' ? words_width(unit) + 3 : 0);
        for (size_t r = 0; r < table->n_rows; r++)
            widths[c] = widths[c] > words_width(table->rows[r][c].words) ? widths[c] : words_width(table->rows[r][c].words);
    }
    for (size_t c = 0; c < n; c++) {
        struct text head = {0};
        const char *unit = table->columns[c].unit;
        text_add(&head, table->columns[c].title);
        if (unit != NULL && *unit != '\0')
            text_print(&head, " (%s)", unit);
        add_padded(out, text_get(&head), widths[c], table->columns[c].align == ALIGN_RIGHT);
        text_add(out, c + 1 < n ? "  " : "\n");
        text_free(&head);
    }
    for (size_t r = 0; r < table->n_rows; r++)
        for (size_t c = 0; c < n; c++) {
            add_padded(out, table->rows[r][c].words, widths[c], table->columns[c].align == ALIGN_RIGHT);
            text_add(out, c + 1 < n ? "  " : "\n");
        }
    text_add(out, "\n");
}

void document_plain(const struct document *document, int width, struct text *out)
{
    char date[16];
    date_write(document->date, date);
    add_wrapped(out, document->title, width, "", "");
    if (document->subtitle != NULL)
        add_wrapped(out, document->subtitle, width, "", "");
    if (*date != '\0')
        text_print(out, "%s\n", date);
    text_add(out, "\n");
    for (const struct document_part *part = document->first; part != NULL; part = part->next) {
        struct text words = {0};
        for (size_t i = 0; i < part->n_runs; i++)
            text_add(&words, part->runs[i].words);
        switch (part->kind) {
        case PART_HEADING:
        case PART_PARAGRAPH:
        case PART_NOTE:
            add_wrapped(out, text_get(&words), width, "", "");
            text_add(out, "\n");
            break;
        case PART_CAUTION:
            if (part->defer != NULL)
                text_print(&words, " Who decides: %s", part->defer);
            add_wrapped(out, text_get(&words), width, "Caution. ", "  ");
            text_add(out, "\n");
            break;
        case PART_LIST:
            for (size_t i = 0; i < part->n_runs; i++)
                add_wrapped(out, part->runs[i].words, width, "- ", "  ");
            text_add(out, "\n");
            break;
        case PART_TABLE:
            add_table(out, part->table);
            break;
        case PART_FIGURE:
            text_print(&words, "Figure: %s. %s", drawing_title(part->drawing), drawing_about(part->drawing));
            add_wrapped(out, text_get(&words), width, "", "  ");
            text_add(out, "\n");
            break;
        case PART_FIELDS:
            for (size_t i = 0; i < part->n_runs; i++)
                text_print(out, "%s: ______________________________\n", part->runs[i].words);
            text_add(out, "\n");
            break;
        case PART_ROWS:
            for (size_t i = 0; i < document->n_rows; i++)
                if (document->rows[i].used && document->rows[i].of == NULL)
                    text_print(out, "r%zu  %zu rows: %s\n", i + 1, document->rows[i].count, document->rows[i].command);
            text_add(out, "\n");
            break;
        case PART_PAGE_BREAK:
        case PART_BOOKMARK:
        case PART_ROOM:
            break;
        }
        text_free(&words);
    }
}
