/* SPDX-License-Identifier: GPL-3.0-or-later
 * A note as parts of a document. */
#include "paper/note_document.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

static const char *text_of(const json_t *object, const char *name)
{
    return json_string_value(json_object_get(object, name));
}

static void cell_write(struct document *document, struct document_cell *cell, const json_t *value, int digits)
{
    char words[80];
    if (json_is_string(value)) {
        document_cell(document, cell, "%s", json_string_value(value));
    } else if (json_is_integer(value)) {
        value_write_number((double)json_integer_value(value), 0, words);
        document_cell(document, cell, "%s", words);
    } else if (json_is_real(value)) {
        double x = json_real_value(value);
        if (digits < 0) /* as many as tell it apart, six at the most */
            for (digits = 0; digits < 6 && fabs(x - round(x * pow(10, digits)) / pow(10, digits)) > 1e-9 * fmax(1, fabs(x));)
                digits++;
        value_write_number(x, digits, words);
        document_cell(document, cell, "%s", words);
    } else if (json_is_boolean(value)) {
        document_cell(document, cell, "%s", json_is_true(value) ? "yes" : "no");
    }
}

/* Numbers stand at the right: a column is one of numbers if every known cell is. */
static bool column_of_numbers(const json_t *rows, size_t column)
{
    bool any = false;
    size_t i = 0;
    json_t *row = NULL;
    json_array_foreach(rows, i, row)
    {
        const json_t *cell = json_array_get(row, column);
        if (cell == NULL || json_is_null(cell))
            continue;
        if (!json_is_number(cell))
            return false;
        any = true;
    }
    return any;
}

static void table_add(struct document *document, const json_t *table, size_t number)
{
    const json_t *columns = json_object_get(table, "columns"), *rows = json_object_get(table, "rows");
    size_t i = 0, c = 0;
    json_t *column = NULL, *row = NULL;
    struct document_table *out = document_table(document, NULL, arena_print(&document->arena, "rows-%zu", number));
    json_array_foreach(columns, c, column)
    {
        const char *title = text_of(column, "title"), *name = text_of(column, "name");
        document_column(document, out, title != NULL && *title != '\0' ? title : name, text_of(column, "unit"),
                        column_of_numbers(rows, c) ? ALIGN_RIGHT : ALIGN_LEFT);
        out->columns[c].italic =
            name != NULL && (strcmp(name, "species") == 0 || strcmp(name, "scientific_name") == 0 || strcmp(name, "taxon") == 0);
    }
    out->narrow = out->n_columns > 8;
    const json_t *behind = json_object_get(table, "behind");
    json_array_foreach(rows, i, row)
    {
        struct document_cell *cells = document_row(document, out);
        for (c = 0; c < out->n_columns; c++)
            cells[c].rows = json_integer_value(json_array_get(json_array_get(behind, i), c));
        for (c = 0; c < out->n_columns; c++) {
            const json_t *digits = json_object_get(json_array_get(columns, c), "digits");
            cell_write(document, &cells[c], json_array_get(row, c), json_is_integer(digits) ? (int)json_integer_value(digits) : -1);
        }
    }
}

static void figure_add(struct document *document, const json_t *figure)
{
    const char *svg = text_of(figure, "svg"), *title = text_of(figure, "title"), *alt = text_of(figure, "alt");
    struct failure why;
    struct drawing *drawing = svg == NULL ? NULL : drawing_from_svg(svg, strlen(svg), &why);
    if (drawing != NULL) {
        /* what the drawing says itself is not said again below it */
        struct document_part *part = document_figure(document, drawing, text_same(title, drawing_title(drawing)) ? NULL : title);
        part->rows = json_integer_value(json_object_get(figure, "behind"));
        return;
    }
    struct document_part *part = document_paragraph(document, "%s", "");
    document_words(document, part, title == NULL ? "Figure" : title, NULL, true);
    document_words(document, part, alt == NULL ? ": not drawn here." : ": ", NULL, false);
    document_words(document, part, alt == NULL ? "" : alt, NULL, false);
}

/* The lines of a section's text, each with the rows its numbers come from. */
static void lines_add(struct document *document, const char *words, const json_t *behind)
{
    struct document_part *part = document_paragraph(document, "%s", "");
    for (size_t i = 0; words != NULL && *words != '\0'; i++) {
        size_t n = strcspn(words, "\n");
        document_words(document, part, arena_print(&document->arena, "%s%.*s", i > 0 ? "\n" : "", (int)n, words), NULL, false);
        document_behind(document, part, json_integer_value(json_array_get(behind, i)));
        words += words[n] == '\n' ? n + 1 : n;
    }
}

static bool same_words(const json_t *section, const json_t *before)
{
    return text_same(text_of(section, "title"), text_of(before, "title"));
}

static void texts_add(struct document *document, const json_t *texts, const char *heading, const char *anchor, int level)
{
    size_t i = 0;
    json_t *words = NULL;
    if (json_array_size(texts) == 0)
        return;
    document_heading(document, level, heading, anchor);
    struct document_part *list = document_list(document, false);
    json_array_foreach(texts, i, words) if (json_is_string(words)) document_words(document, list, json_string_value(words), NULL, false);
}

enum outcome note_to_document(struct document *document, const json_t *note, const char *heading, int level, struct failure *why)
{
    const json_t *sections = json_object_get(note, "sections"), *cautions = json_object_get(note, "cautions");
    const char *answer = text_of(note, "answer");
    if (!json_is_object(note) || (answer == NULL && json_array_size(sections) == 0))
        return fail(why, OUTCOME_DATA, "There is nothing to print: this is not a note with an answer or sections.");
    size_t tables = 0, i = 0;
    for (const struct document_part *part = document->first; part != NULL; part = part->next)
        tables += part->kind == PART_TABLE;
    if (heading != NULL)
        document_heading(document, level, heading, NULL);
    if (answer != NULL) {
        struct document_part *part = document_paragraph(document, "%s", "");
        document_words(document, part, answer, NULL, true);
        document_behind(document, part, json_integer_value(json_object_get(note, "answer_behind")));
    }
    json_t *section = NULL;
    const json_t *before = NULL;
    json_array_foreach(sections, i, section)
    {
        const char *title = text_of(section, "title"), *words = text_of(section, "text");
        const json_t *figure = json_object_get(section, "figure"), *table = json_object_get(section, "table");
        if (title != NULL && *title != '\0' && (before == NULL || !same_words(section, before)))
            document_heading(document, level + (heading != NULL), title, NULL);
        if (words != NULL)
            lines_add(document, words, json_object_get(section, "text_behind"));
        if (json_is_object(figure))
            figure_add(document, figure);
        if (json_is_object(table))
            table_add(document, table, ++tables);
        before = section;
    }
    json_t *caution = NULL;
    json_array_foreach(cautions, i, caution)
        document_caution(document, text_of(caution, "code"), text_of(caution, "words"), text_of(caution, "defer"));
    texts_add(document, json_object_get(note, "unknown"), "What is not known or not checked", NULL, level + (heading != NULL));
    texts_add(document, json_object_get(note, "sources"), "Sources", NULL, level + (heading != NULL));
    return OUTCOME_OK;
}
