/* SPDX-License-Identifier: GPL-3.0-or-later
 * Blank forms for the field. */
#include "paper/forms.h"
#include <stdio.h>
#include <string.h>

enum { WRITE_PT = 20 }; ///< height of a row to write in with a cold hand

static struct document *form_begin(const struct form_head *head, bool landscape)
{
    struct document *document = document_new(head->title);
    struct arena *arena = &document->arena;
    document->kind = arena_print(arena, "%s%s%s", head->title == NULL ? "Form" : head->title, head->version == NULL ? "" : ", ",
                                 head->version == NULL ? "" : head->version);
    document->subject = arena_print(arena, "%s%s%s", head->site == NULL ? "" : head->site, head->plot == NULL ? "" : ", plot ",
                                    head->plot == NULL ? "" : head->plot);
    document->author = arena_text(arena, head->programme);
    document->subtitle = document->subject;
    document->date = head->date;
    document->landscape = landscape;
    if (head->n_fields > 0)
        document_fields(document, head->fields, head->n_fields);
    if (head->n_rules > 0) {
        struct document_part *list = document_list(document, true);
        for (size_t i = 0; i < head->n_rules; i++)
            document_words(document, list, head->rules[i], NULL, false);
    }
    return document;
}

static void blank_rows(struct document *document, struct document_table *table, size_t n)
{
    for (size_t r = 0; r < n; r++) {
        struct document_cell *row = document_row(document, table);
        for (size_t c = 0; c < table->n_columns; c++)
            row[c].words = " ";
    }
}

struct document *form_document(const struct form *form)
{
    struct document *document = form_begin(&form->head, form->landscape);
    struct document_table *table = document_table(document, NULL, NULL);
    table->row_height_pt = WRITE_PT;
    for (size_t c = 0; c < form->n_columns; c++) {
        document_column(document, table, form->columns[c].title, form->columns[c].unit, ALIGN_LEFT);
        table->columns[c].weight = form->columns[c].weight;
    }
    for (size_t r = 0; r < form->n_rows; r++) {
        struct document_cell *row = document_row(document, table);
        for (size_t c = 0; c < form->n_columns; c++) {
            const char *words = form->cells[r * form->n_columns + c];
            document_cell(document, &row[c], "%s", words == NULL ? " " : words);
        }
    }
    blank_rows(document, table, form->blank_rows);
    return document;
}

static const char *const census_rules[] = {
    "Walk in the order of the sheet. Every line gets a state; an empty line means not visited.",
    ("States: A alive, D alive with dieback, R resprouting, S dead standing, M missing (place found, no plant), N not found (place not "
     "found)."),
    "Height from the soil to the highest living tip, in cm. Diameter at the root collar, in mm.",
    "Write what you see, not what ought to be there. Another species than printed: write its name in the last column.",
};

static void census_columns(struct document *document, struct document_table *table, const struct census_sheet *sheet)
{
    static const struct {
        const char *title, *unit;
        double weight;
    } columns[] = {{"Square", NULL, 1.3},
                   {"No.", NULL, 0.8},
                   {"Tag", NULL, 1.5},
                   {"Species", NULL, 4.2},
                   {"Last state", NULL, 2.1},
                   {"Last height", "cm", 1.3},
                   {"State", "A D R S M N", 1.9},
                   {"Height", "cm", 1.5},
                   {"Diameter", "mm", 1.6},
                   {"Damage, other species, remarks", NULL, 4.6}};
    for (size_t i = 0; i < 10; i++) {
        if ((i == 4 || i == 5) && (sheet->first || !sheet->show_last))
            continue;
        document_column(document, table, columns[i].title, columns[i].unit, i == 5 ? ALIGN_RIGHT : ALIGN_LEFT);
        table->columns[table->n_columns - 1].weight = columns[i].weight;
        table->columns[table->n_columns - 1].italic = i == 3;
    }
}

struct document *census_sheet_document(const struct census_sheet *sheet)
{
    static const char *const usual[] = {"Date", "Observers", "Leaf on (yes, no)", "Start", "End", "Weather"};
    struct form_head head = sheet->head;
    if (head.title == NULL)
        head.title = sheet->first ? "Census as planted" : "Census";
    if (head.n_fields == 0) {
        head.fields = usual;
        head.n_fields = 6;
    }
    if (head.n_rules == 0) {
        head.rules = census_rules;
        head.n_rules = 4;
    }
    struct document *document = form_begin(&head, true);
    document_paragraph(document, "%zu plants on this form%s.", sheet->n_plants,
                       sheet->first || sheet->show_last ? "" : "; the last heights are left out so that nobody reads them first");
    struct document_table *table = document_table(document, NULL, NULL);
    table->row_height_pt = WRITE_PT;
    census_columns(document, table, sheet);
    bool last = !sheet->first && sheet->show_last;
    for (size_t i = 0; i < sheet->n_plants; i++) {
        const struct census_plant *plant = &sheet->plants[i];
        struct document_cell *row = document_row(document, table);
        for (size_t c = 0; c < table->n_columns; c++)
            row[c].words = " ";
        bool again = i > 0 && text_same(plant->cell, sheet->plants[i - 1].cell);
        document_cell(document, &row[0], "%s", plant->cell == NULL ? " " : plant->cell);
        row[0].strong = !again;
        if (plant->number > 0)
            document_cell(document, &row[1], "%d", plant->number);
        document_cell(document, &row[2], "%s", plant->tag == NULL ? " " : plant->tag);
        document_cell(document, &row[3], "%s", plant->species == NULL ? " " : plant->species);
        row[3].layer = plant->layer;
        if (last && plant->last_state != NULL)
            document_cell(document, &row[4], "%s", plant->last_state);
        if (last && is_known(plant->last_height_cm))
            document_cell(document, &row[5], "%.0f", plant->last_height_cm);
    }
    if (sheet->spare_rows > 0) {
        document_heading(document, 2, "Natural arrivals, and plants not on the list", NULL);
        struct document_table *spare = document_table(document, NULL, NULL);
        spare->row_height_pt = WRITE_PT;
        census_columns(document, spare, sheet);
        blank_rows(document, spare, sheet->spare_rows);
    }
    return document;
}

struct document *reconciliation_document(const struct form_head *head, const char *const *codes, const int64_t *plants, size_t n)
{
    static const char *const usual[] = {
        "Date", "Card checker", "Plants delivered", "Plants in reserve at the start", "Plants in reserve at the end", "Signed"};
    static const char *const rules[] = {
        "Tick a card out when it is given to a team and back when it is returned. A card that is not back counts as not planted.",
        "At the end: planted by the cards + reserve left + dead or discarded = delivered. Write down any difference; do not squeeze "
        "left-over plants in at the edge."};
    struct form_head whole = *head;
    if (whole.title == NULL)
        whole.title = "Cards out and back";
    if (whole.n_fields == 0) {
        whole.fields = usual;
        whole.n_fields = 6;
    }
    if (whole.n_rules == 0) {
        whole.rules = rules;
        whole.n_rules = 2;
    }
    struct document *document = form_begin(&whole, false);
    int64_t sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += plants[i] == INT_UNKNOWN ? 0 : plants[i];
    document_paragraph(document, "%zu cards, %lld plants.", n, (long long)sum);
    struct document_table *table = document_table(document, NULL, NULL);
    static const char *const titles[] = {"Square", "Plants", "Out", "Back", "Planted"};
    for (int half = 0; half < 2; half++)
        for (int c = 0; c < 5; c++) {
            document_column(document, table, titles[c], NULL, c == 1 ? ALIGN_RIGHT : ALIGN_LEFT);
            table->columns[table->n_columns - 1].weight = c == 4 ? 1.4 : 1;
        }
    table->row_height_pt = 15;
    size_t down = (n + 1) / 2;
    for (size_t r = 0; r < down; r++) {
        struct document_cell *row = document_row(document, table);
        for (size_t c = 0; c < 10; c++)
            row[c].words = " ";
        for (size_t half = 0; half < 2; half++) {
            size_t i = r + half * down;
            if (i >= n)
                continue;
            document_cell(document, &row[5 * half], "%s", codes[i]);
            row[5 * half].strong = true;
            if (plants[i] != INT_UNKNOWN)
                document_cell(document, &row[5 * half + 1], "%lld", (long long)plants[i]);
        }
    }
    return document;
}

struct document *sign_in_document(const struct form_head *head, size_t rows)
{
    static const char *const rules[] = {
        ("A first name or pseudonym is enough. This sheet is kept for counting hours and for emergencies on the day, and is not put into "
         "the programme file."),
        "Under-age helpers come with a responsible adult: write the adult and the number, not the children's names.",
        "Brief heard: tick only when you were at the briefing. Photo: yes or no; no is fine."};
    static const struct form_column columns[] = {{"Name or pseudonym", NULL, 4},
                                                 {"Group, with number under age", NULL, 3},
                                                 {"In", "time", 1.2},
                                                 {"Out", "time", 1.2},
                                                 {"Brief heard", NULL, 1.4},
                                                 {"Photo", "yes/no", 1.2}};
    struct form form = {.head = *head, .columns = columns, .n_columns = 6, .blank_rows = rows};
    if (form.head.title == NULL)
        form.head.title = "Sign-in";
    if (form.head.n_rules == 0) {
        form.head.rules = rules;
        form.head.n_rules = 3;
    }
    return form_document(&form);
}
