/* SPDX-License-Identifier: GPL-3.0-or-later
 * Writes every sample document into a folder: paper_show FOLDER. For looking at. */
#include "samples.h"
#include <stdio.h>

static void put(const char *folder, const char *name, enum outcome outcome, struct text *out, const struct failure *why)
{
    char path[1000], words[3000];
    struct failure other;
    snprintf(path, sizeof path, "%s/%s", folder, name);
    failure_print(why, words, sizeof words);
    if (outcome != OUTCOME_OK || (outcome = file_write(path, text_get(out), out->n, &other)) != OUTCOME_OK)
        fprintf(stderr, "%s: %s\n", name, words);
    text_free(out);
}

int main(int n, char **arguments)
{
    struct arena arena = {0};
    struct failure why = {0};
    struct text out = {0};
    if (n < 2)
        return 2;
    struct cards cards;
    sample_cards(&arena, 15, 15, &cards);
    put(arguments[1], "cards.pdf", cards_pdf(&cards, &out, NULL, &why), &out, &why);
    put(arguments[1], "cards.html", cards_html(&cards, &out, &why), &out, &why);
    struct planting_plan plan;
    struct document *document = NULL;
    sample_plan(&arena, &plan);
    enum outcome outcome = planting_plan_document(&plan, &document, NULL, &why);
    put(arguments[1], "plan.pdf", outcome == OUTCOME_OK ? document_pdf(document, &out, NULL, &why) : outcome, &out, &why);
    if (outcome == OUTCOME_OK)
        put(arguments[1], "plan.html", document_html(document, &out, &why), &out, &why);
    document_free(document);
    struct order_list order;
    sample_order(&arena, &order);
    document = order_list_document(&order);
    put(arguments[1], "order.pdf", document_pdf(document, &out, NULL, &why), &out, &why);
    document_free(document);
    put(arguments[1], "order.xlsx", order_list_xlsx(&order, &out, &why), &out, &why);
    struct census_sheet census;
    sample_census(&arena, 90, &census);
    document = census_sheet_document(&census);
    put(arguments[1], "census.pdf", document_pdf(document, &out, NULL, &why), &out, &why);
    document_free(document);
    const char **codes = arena_array(&arena, cards.n_cards, sizeof *codes);
    int64_t *counts = arena_array(&arena, cards.n_cards, sizeof *counts);
    for (size_t i = 0; i < cards.n_cards; i++) {
        codes[i] = arena_print(&arena, "%c%02d", (int)('A' + i / 15), (int)(i % 15) + 1);
        counts[i] = 3;
    }
    struct form_head head = {.site = "Alder Bank", .plot = "D1", .version = "form 1", .date = date_make(2026, 11, 20)};
    document = reconciliation_document(&head, codes, counts, cards.n_cards);
    put(arguments[1], "cards-back.pdf", document_pdf(document, &out, NULL, &why), &out, &why);
    document_free(document);
    document = sign_in_document(&head, 24);
    put(arguments[1], "sign-in.pdf", document_pdf(document, &out, NULL, &why), &out, &why);
    document_free(document);
    document = document_new("Survival in D1, third year");
    document->date = date_make(2026, 11, 2);
    json_t *note = sample_note();
    outcome = note_to_document(document, note, NULL, 1, &why);
    put(arguments[1], "note.pdf", outcome == OUTCOME_OK ? document_pdf(document, &out, NULL, &why) : outcome, &out, &why);
    put(arguments[1], "note.html", document_html(document, &out, &why), &out, &why);
    document_plain(document, 78, &out);
    put(arguments[1], "note.txt", OUTCOME_OK, &out, &why);
    put(arguments[1], "note.xlsx", document_xlsx(document, &out, &why), &out, &why);
    document_free(document);
    json_decref(note);
    arena_clear(&arena);
    return 0;
}
