/* SPDX-License-Identifier: GPL-3.0-or-later
 * The order list as a document and as a workbook. */
#include "paper/order_list.h"
#include "paper/sheet.h"
#include <stdio.h>

static void text_cell(struct document *document, struct document_cell *cell, const char *words)
{
    if (words != NULL)
        document_cell(document, cell, "%s", words);
}

static void number_cell(struct document *document, struct document_cell *cell, double x, int digits)
{
    char words[80];
    if (!is_known(x))
        return;
    value_write_number(x, digits, words);
    document_cell(document, cell, "%s", words);
}

static double count(int64_t n)
{
    return n == INT_UNKNOWN ? unknown_real() : (double)n;
}

static const char *layer_words(int layer)
{
    static const char *const words[] = {NULL, "canopy", "subcanopy", "shrub", "climber", "ground"};
    return words[layer >= 0 && layer <= 5 ? layer : 0];
}

static void lines_add(struct document *document, const struct order_list *list)
{
    struct document_table *table = document_table(document, NULL, "lines");
    document_column(document, table, "Scientific name", NULL, ALIGN_LEFT);
    document_column(document, table, "Name", NULL, ALIGN_LEFT);
    document_column(document, table, "Form", NULL, ALIGN_LEFT);
    document_column(document, table, "Size", "cm", ALIGN_LEFT);
    document_column(document, table, "Seed source", NULL, ALIGN_LEFT);
    document_column(document, table, "Needed", NULL, ALIGN_RIGHT);
    document_column(document, table, "Reserve", NULL, ALIGN_RIGHT);
    document_column(document, table, "Bundle", NULL, ALIGN_RIGHT);
    document_column(document, table, "To order", NULL, ALIGN_RIGHT);
    document_column(document, table, "Price of one", list->currency, ALIGN_RIGHT);
    document_column(document, table, "Amount", list->currency, ALIGN_RIGHT);
    document_column(document, table, "Wanted by", NULL, ALIGN_LEFT);
    table->columns[0].italic = true;
    table->narrow = true;
    double sum = 0, plants = 0;
    size_t no_price = 0, no_count = 0, priced = 0;
    for (size_t i = 0; i < list->n_lines; i++) {
        const struct order_list_line *line = &list->lines[i];
        struct document_cell *row = document_row(document, table);
        double amount = count(line->ordered) * line->unit_price;
        text_cell(document, &row[0], line->species);
        row[0].layer = line->layer;
        text_cell(document, &row[1], line->local);
        text_cell(document, &row[2], line->stock);
        text_cell(document, &row[3], line->size_cm);
        text_cell(document, &row[4], line->provenance);
        number_cell(document, &row[5], count(line->needed), 0);
        number_cell(document, &row[6], count(line->reserve), 0);
        number_cell(document, &row[7], count(line->bundle), 0);
        number_cell(document, &row[8], count(line->ordered), 0);
        row[8].strong = true;
        number_cell(document, &row[9], line->unit_price, 2);
        number_cell(document, &row[10], amount, 2);
        text_cell(document, &row[11], line->deliver_by);
        no_count += line->ordered == INT_UNKNOWN;
        no_price += !is_known(line->unit_price);
        plants += line->ordered == INT_UNKNOWN ? 0 : (double)line->ordered;
        sum += is_known(amount) ? amount : 0;
        priced += is_known(amount);
    }
    struct document_cell *last = document_row(document, table);
    for (size_t c = 0; c < table->n_columns; c++) {
        last[c].words = " ";
        last[c].strong = true;
    }
    last[0].words = "all lines";
    number_cell(document, &last[8], plants, 0);
    if (priced > 0)
        number_cell(document, &last[10], sum, 2);
    else
        last[10].words = NULL; /* nothing is known: not 0 */
    if (no_price > 0 || no_count > 0)
        document_note(document,
                      arena_print(&document->arena, "The sum leaves out what is not known: %zu of %zu lines have no price, %zu no count.",
                                  no_price, list->n_lines, no_count));
}

static void conditions_add(struct document *document, const struct order_list *list)
{
    bool any = false;
    for (size_t i = 0; i < list->n_lines; i++) {
        const struct order_list_line *line = &list->lines[i];
        if (line->substitution == NULL && line->health == NULL && line->note == NULL)
            continue;
        if (!any)
            document_heading(document, 1, "Conditions by line", NULL);
        any = true;
        struct document_part *part = document_paragraph(document, "%s", "");
        document_words(document, part, line->species == NULL ? "Species not stated" : line->species, NULL, true);
        const char *const words[3][2] = {
            {" Substitution: ", line->substitution}, {" Plant health: ", line->health}, {" Note: ", line->note}};
        for (int w = 0; w < 3; w++)
            if (words[w][1] != NULL) {
                document_words(document, part, words[w][0], NULL, false);
                document_words(document, part, words[w][1], NULL, false);
                document_words(document, part, ".", NULL, false);
            }
    }
    if (list->n_terms > 0)
        document_heading(document, 1, "Terms", NULL);
    for (size_t i = 0; i < list->n_terms; i++)
        document_paragraph(document, "%s", list->terms[i]);
}

struct document *order_list_document(const struct order_list *list)
{
    static const char *const fields[] = {"Ordered by", "Date", "Accepted by the nursery"};
    char title[200];
    snprintf(title, sizeof title, "Order list%s%.150s", list->supplier == NULL ? "" : " for ",
             list->supplier == NULL ? "" : list->supplier);
    struct document *document = document_new(title);
    struct arena *arena = &document->arena;
    document->kind = "Order list";
    document->subject = arena_text(arena, list->supplier == NULL ? list->programme : list->supplier);
    document->subtitle = arena_text(arena, list->programme);
    document->author = arena_text(arena, list->organisation);
    document->date = list->date;
    document->landscape = true;
    if (list->contact != NULL)
        document_paragraph(document, "Contact: %s.", list->contact);
    document_paragraph(
        document, "Plants to order are those needed by the plans with their reserve, rounded up to whole bundles. Prices are without tax.");
    lines_add(document, list);
    conditions_add(document, list);
    document_fields(document, fields, 3);
    return document;
}

enum outcome order_list_xlsx(const struct order_list *list, struct text *out, struct failure *why)
{
    static const char *const heads[] = {"scientific_name", "name",         "layer",        "form",     "size_cm",    "seed_source",
                                        "needed",          "reserve",      "bundle",       "to_order", "unit_price", "amount",
                                        "wanted_by",       "substitution", "plant_health", "note"};
    static const double widths[] = {26, 20, 11, 12, 9, 18, 9, 9, 8, 9, 10, 11, 12, 24, 24, 24};
    struct book *book = book_new("Order list", list->organisation, list->date);
    struct sheet *sheet = sheet_new(book, "lines");
    for (int c = 0; c < 16; c++)
        sheet_head(sheet, c, heads[c], widths[c]);
    double plants = 0, amount = 0;
    size_t priced = 0;
    for (size_t i = 0; i < list->n_lines; i++) {
        const struct order_list_line *line = &list->lines[i];
        int row = (int)i + 1;
        const char *words[] = {line->species, line->local, layer_words(line->layer), line->stock, line->size_cm, line->provenance};
        for (int c = 0; c < 6; c++)
            sheet_text(sheet, row, c, words[c]);
        sheet_number(sheet, row, 6, count(line->needed), 0);
        sheet_number(sheet, row, 7, count(line->reserve), 0);
        sheet_number(sheet, row, 8, count(line->bundle), 0);
        sheet_number(sheet, row, 9, count(line->ordered), 0);
        sheet_number(sheet, row, 10, line->unit_price, 2);
        double cost = count(line->ordered) * line->unit_price;
        if (is_known(cost)) {
            char formula[64];
            snprintf(formula, sizeof formula, "=J%d*K%d", row + 1, row + 1);
            sheet_formula(sheet, row, 11, formula, cost, 2);
            amount += cost;
            priced++;
        }
        plants += line->ordered == INT_UNKNOWN ? 0 : (double)line->ordered;
        const char *more[] = {line->deliver_by, line->substitution, line->health, line->note};
        for (int c = 0; c < 4; c++)
            sheet_text(sheet, row, 12 + c, more[c]);
    }
    if (list->n_lines > 0) {
        int row = (int)list->n_lines + 2;
        char formula[64];
        sheet_text(sheet, row, 0, "all lines (unknown ones left out)");
        snprintf(formula, sizeof formula, "=SUM(J2:J%zu)", list->n_lines + 1);
        sheet_formula(sheet, row, 9, formula, plants, 0);
        snprintf(formula, sizeof formula, "=SUM(L2:L%zu)", list->n_lines + 1);
        if (priced > 0)
            sheet_formula(sheet, row, 11, formula, amount, 2);
    }
    struct sheet *terms = sheet_new(book, "conditions");
    sheet_head(terms, 0, "what", 18);
    sheet_head(terms, 1, "words", 90);
    const char *const facts[][2] = {{"programme", list->programme},
                                    {"organisation", list->organisation},
                                    {"supplier", list->supplier},
                                    {"contact", list->contact},
                                    {"currency", list->currency}};
    int row = 1;
    for (int i = 0; i < 5; i++, row++) {
        sheet_text(terms, row, 0, facts[i][0]);
        sheet_text(terms, row, 1, facts[i][1] == NULL ? "not known" : facts[i][1]);
    }
    for (size_t i = 0; i < list->n_terms; i++, row++) {
        sheet_text(terms, row, 0, "term");
        sheet_text(terms, row, 1, list->terms[i]);
    }
    return book_close(book, out, why);
}
