/* SPDX-License-Identifier: GPL-3.0-or-later
 * paper/: every square has its card once and sums agree; documents are repeatable, whole and self-contained. */
#include "samples.h"
#include "../testlib.h"

static size_t count_of(const char *text, const char *words)
{
    size_t n = 0;
    for (const char *at = text; (at = strstr(at, words)) != NULL; at += strlen(words))
        n++;
    return n;
}

static void every_square_has_its_card_once_and_the_sums_agree(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct cards cards;
    struct text out = {0};
    struct failure why;
    sample_cards(&arena, 15, 15, &cards);
    assert_int_equal(cards_html(&cards, &out, &why), OUTCOME_OK);
    size_t plants = 0;
    for (size_t i = 0; i < cards.n_cards; i++) {
        char words[160];
        snprintf(words, sizeof words, "font-size=\"32\" font-weight=\"700\" class=\"f-text\" fill=\"#1a1a1a\">%s<", cards.cards[i].code);
        assert_int_equal(count_of(text_get(&out), words), 1);
        plants += cards.cards[i].n_plants;
    }
    assert_int_equal(count_of(text_get(&out), "<g class=\"card\">"), 225);
    char sum[64];
    snprintf(sum, sizeof sum, "<strong>%zu</strong>", plants);
    assert_int_equal(count_of(text_get(&out), sum), 1);
    /* The numbers by species on the key add up to the same. */
    size_t listed = 0;
    const char *at = strstr(text_get(&out), "<tbody>"), *end = strstr(at, "</tbody>");
    for (at = strstr(at, "<td class=\"r\">"); at != NULL && at < end; at = strstr(at + 1, "<td class=\"r\">"))
        listed += strtoul(at + strlen("<td class=\"r\">"), NULL, 10);
    assert_int_equal(listed, plants);
    text_free(&out);
    arena_clear(&arena);
}

static void cards_come_by_row_and_column(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct cards cards;
    struct text out = {0};
    struct failure why;
    sample_cards(&arena, 4, 12, &cards);
    assert_int_equal(cards_html(&cards, &out, &why), OUTCOME_OK);
    const char *at = text_get(&out);
    for (int row = 0; row < 4; row++)
        for (int column = 1; column <= 12; column++) {
            char words[160];
            snprintf(words, sizeof words, "font-size=\"32\" font-weight=\"700\" class=\"f-text\" fill=\"#1a1a1a\">%c%02d<", 'A' + row,
                     column);
            at = strstr(at, words);
            assert_non_null(at);
        }
    text_free(&out);
    arena_clear(&arena);
}

static void cards_that_cannot_be_told_apart_are_refused(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct cards cards;
    struct text out = {0};
    struct failure why;
    sample_cards(&arena, 2, 2, &cards);
    struct card copies[4];
    memcpy(copies, cards.cards, sizeof copies);
    copies[3].code = copies[0].code;
    cards.cards = copies;
    assert_int_equal(cards_pdf(&cards, &out, NULL, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "comes twice"));
    copies[3].code = "X01";
    copies[3].n_plants = 40;
    assert_int_equal(cards_pdf(&cards, &out, NULL, &why), OUTCOME_DATA);
    cards.n_cards = 0;
    assert_int_equal(cards_pdf(&cards, &out, NULL, &why), OUTCOME_DATA);
    assert_int_equal(out.n, 0);
    text_free(&out);
    arena_clear(&arena);
}

/* Two sets by selection, the two together, and one that nothing leads to. */
static void rows_put(struct document *document)
{
    static const int64_t both[] = {1, 2};
    static const struct document_rows sets[] = {
        {.count = 2,
         .words = "records of the living",
         .command = "spinney rows FILE plant_record 'status=alive'",
         .first = "A (id 1)",
         .last = "B (id 2)",
         .fingerprint = "0123456789abcdef0123456789abcdef"},
        {.count = 0,
         .words = "records of <the dead>",
         .command = "spinney rows FILE plant_record 'status=missing'",
         .fingerprint = "fedcba9876543210fedcba9876543210"},
        {.of = both, .n_of = 2, .count = 2},
        {.count = 7, .words = "nobody asks for these", .command = "spinney rows FILE site", .fingerprint = "0"}};
    document->rows = arena_array(&document->arena, 4, sizeof *document->rows);
    memcpy(document->rows, sets, sizeof sets);
    document->n_rows = 4;
    struct document_table *table = document->rows[0].table = arena_alloc(&document->arena, sizeof *table);
    document_column(document, table, "id", NULL, ALIGN_RIGHT);
    for (int i = 1; i <= 2; i++)
        document_cell(document, document_row(document, table), "%d", 400 + i);
    document_rows_mark(document);
    document_add(document, PART_ROWS);
}

static struct document *note_made(void)
{
    struct document *document = document_new("Survival in D1, third year");
    struct failure why;
    json_t *note = sample_note();
    document->date = date_make(2026, 11, 2);
    assert_int_equal(note_to_document(document, note, NULL, 1, &why), OUTCOME_OK);
    json_decref(note);
    rows_put(document);
    return document;
}

static void the_same_document_gives_the_same_bytes(void **state)
{
    (void)state;
    struct text out[2][3] = {{{0}}};
    struct failure why;
    for (int again = 0; again < 2; again++) {
        struct document *document = note_made();
        assert_int_equal(document_pdf(document, &out[again][0], NULL, &why), OUTCOME_OK);
        assert_int_equal(document_html(document, &out[again][1], &why), OUTCOME_OK);
        assert_int_equal(document_xlsx(document, &out[again][2], &why), OUTCOME_OK);
        document_free(document);
        if (again == 0)
            sleep(2); /* a clock that crept into the bytes would show; the zip format counts in two seconds */
    }
    for (int kind = 0; kind < 3; kind++) {
        assert_int_equal(out[0][kind].n, out[1][kind].n);
        assert_memory_equal(out[0][kind].at, out[1][kind].at, out[0][kind].n);
        text_free(&out[0][kind]);
        text_free(&out[1][kind]);
    }
}

/* Everything that would make a browser fetch, and everything that runs. */
static void html_asks_nothing_of_the_network(void **state)
{
    (void)state;
    struct document *document = note_made();
    struct text out = {0};
    struct failure why;
    document_paragraph(document, "%s", "<img src=x onerror=alert(1)>");
    struct document_part *part = document_paragraph(document, "%s", "");
    document_words(document, part, "a link", "javascript:alert(1)", false);
    document_words(document, part, "another", "https://example.org/\"onclick=\"x", false);
    assert_int_equal(document_html(document, &out, &why), OUTCOME_OK);
    static const char *const never[] = {"<script", "<link",       " src=",   "url(",    "@import",
                                        "<img",    "javascript:", "<iframe", "<object", "onclick=\""};
    for (size_t i = 0; i < sizeof never / sizeof *never; i++)
        if (i != 2 && count_of(text_get(&out), never[i]) != 0)
            fail_msg("the page holds %s", never[i]);
    assert_int_equal(count_of(text_get(&out), " src="), 1); /* only as words */
    assert_non_null(strstr(text_get(&out), "&lt;img src=x"));
    text_free(&out);
    document_free(document);
}

static void every_link_inside_a_page_leads_somewhere(void **state)
{
    (void)state;
    struct document *document = note_made();
    struct text out = {0};
    struct failure why;
    size_t links = 0;
    assert_int_equal(document_html(document, &out, &why), OUTCOME_OK);
    for (const char *at = text_get(&out); (at = strstr(at, "href=\"#")) != NULL; links++) {
        char id[120];
        at += strlen("href=\"#");
        snprintf(id, sizeof id, " id=\"%.*s\"", (int)strcspn(at, "\""), at);
        assert_int_equal(count_of(text_get(&out), id), 1);
    }
    assert_true(links >= 1);
    text_free(&out);
    document_free(document);
}

static void a_number_leads_to_its_rows_and_they_lead_back(void **state)
{
    (void)state;
    struct document *document = note_made();
    struct text out = {0};
    struct failure why;
    assert_int_equal(document_html(document, &out, &why), OUTCOME_OK);
    const char *page = text_get(&out);
    assert_int_equal(count_of(page, "href=\"#r1\">20</a>") + count_of(page, "title=\"r1: its 2 rows\">20</a>"), 1);
    for (int set = 1; set <= 3; set++) {
        char there[40], back[40];
        snprintf(there, sizeof there, "data-r=\"r%d\"", set);
        snprintf(back, sizeof back, "aria-label=\"back from set %d to", set);
        assert_true(count_of(page, there) > 20);
        assert_int_equal(count_of(page, there), count_of(page, back)); /* as many ways back as there */
    }
    assert_int_equal(count_of(page, "<td>401"), 1); /* the rows themselves, all of them, once */
    assert_int_equal(count_of(page, "<td>402"), 1);
    assert_non_null(strstr(page, "All 2 rows, 1 kB"));
    assert_null(strstr(page, "nobody asks for these"));
    assert_null(strstr(page, "<the dead>"));
    assert_non_null(strstr(page, "spinney rows FILE plant_record 'status=alive'"));
    text_free(&out);
    document_free(document);
}

static void a_set_that_is_not_there_is_no_link(void **state)
{
    (void)state;
    struct document *document = document_new("Gone");
    struct text out = {0};
    struct failure why;
    struct document_part *part = document_paragraph(document, "%s", "12 plants");
    document_behind(document, part, 9);
    document_rows_mark(document);
    assert_int_equal(document_html(document, &out, &why), OUTCOME_OK);
    assert_null(strstr(text_get(&out), "r9"));
    assert_int_equal(document_pdf(document, &out, NULL, &why), OUTCOME_OK);
    text_free(&out);
    document_free(document);
}

static void a_link_to_nowhere_does_not_spoil_the_pdf(void **state)
{
    (void)state;
    struct document *document = document_new("Links");
    struct text out = {0};
    struct failure why;
    struct document_part *part = document_paragraph(document, "%s", "");
    document_words(document, part, "nowhere", "#not-there", false);
    document_words(document, part, "broken", "https://example.org/'] uri='x", false);
    size_t pages = 0;
    assert_int_equal(document_pdf(document, &out, &pages, &why), OUTCOME_OK);
    assert_int_equal(pages, 1);
    assert_int_equal(memcmp(out.at, "%PDF-1.", 7), 0);
    text_free(&out);
    document_free(document);
}

static void no_date_means_no_date_in_the_file(void **state)
{
    (void)state;
    struct document *document = document_new("Undated");
    struct text out = {0};
    struct failure why;
    document_paragraph(document, "words");
    assert_int_equal(document_pdf(document, &out, NULL, &why), OUTCOME_OK);
    for (size_t i = 0; i + 12 < out.n; i++)
        assert_true(memcmp(out.at + i, "CreationDate", 12) != 0);
    text_free(&out);
    document_free(document);
}

static void a_map_is_never_shrunk_to_fit(void **state)
{
    (void)state;
    struct document *document = document_new("Too large");
    struct text out = {0};
    struct failure why;
    document_figure(document, drawing_new(900, 900, "Large map", NULL), NULL)->true_scale = true;
    assert_int_equal(document_pdf(document, &out, NULL, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "falsify its scale"));
    assert_int_equal(out.n, 0);
    document->first->true_scale = false; /* any other figure may be */
    assert_int_equal(document_pdf(document, &out, NULL, &why), OUTCOME_OK);
    text_free(&out);
    document_free(document);
}

static void a_cell_longer_than_a_page_goes_on_over_pages(void **state)
{
    (void)state;
    struct document *document = document_new("Long");
    struct document_table *table = document_table(document, NULL, NULL);
    document_column(document, table, "What", NULL, ALIGN_LEFT);
    document_column(document, table, "Words", NULL, ALIGN_LEFT);
    struct text words = {0}, out = {0};
    for (int i = 0; i < 4000; i++)
        text_print(&words, "word%d ", i);
    struct document_cell *row = document_row(document, table);
    document_cell(document, &row[0], "long");
    document_cell(document, &row[1], "%s", text_get(&words));
    struct failure why;
    size_t pages = 0;
    assert_int_equal(document_pdf(document, &out, &pages, &why), OUTCOME_OK);
    assert_true(pages > 3 && pages < 20);
    text_free(&words);
    text_free(&out);
    document_free(document);
}

static void what_is_not_a_note_is_refused(void **state)
{
    (void)state;
    struct failure why;
    json_t *others[] = {json_array(), json_object(), json_string("words"), json_pack("{s:i}", "answer", 3)};
    for (size_t i = 0; i < sizeof others / sizeof *others; i++) {
        struct document *document = document_new("x");
        assert_int_equal(note_to_document(document, others[i], NULL, 1, &why), OUTCOME_DATA);
        assert_null(document->first);
        document_free(document);
        json_decref(others[i]);
    }
}

static void a_note_loses_nothing_on_its_way_to_paper(void **state)
{
    (void)state;
    struct document *document = note_made();
    struct text out = {0};
    document_plain(document, 0, &out);
    const char *plain = text_get(&out);
    assert_non_null(strstr(plain, "78 % (71–84), 234 of 300"));
    assert_non_null(strstr(plain, "B1 was not visited in 2026."));
    assert_non_null(strstr(plain, "Wilson 1927"));
    assert_non_null(strstr(plain, "Who decides: the programme's analyst"));
    assert_non_null(strstr(plain, "not one of ours")); /* a figure we cannot draw is told in words */
    size_t figures = 0, rows = 0;
    for (const struct document_part *part = document->first; part != NULL; part = part->next) {
        figures += part->kind == PART_FIGURE;
        rows += part->table == NULL ? 0 : part->table->n_rows;
    }
    assert_int_equal(figures, 13);
    assert_int_equal(rows, 70);
    text_free(&out);
    document_free(document);
}

static void unknown_cells_are_shown_as_unknown(void **state)
{
    (void)state;
    struct document *document = document_new("x");
    struct failure why;
    json_t *note = json_pack("{s:s, s:[{s:s, s:{s:[{s:s,s:s,s:s}], s:[[n],[f],[i]]}}]}", "answer", "a", "sections", "title", "t", "table",
                             "columns", "name", "n", "title", "n", "unit", "", "rows", 0.125, 12345);
    assert_non_null(note);
    assert_int_equal(note_to_document(document, note, NULL, 1, &why), OUTCOME_OK);
    const struct document_table *table = document->last->table;
    assert_null(table->rows[0][0].words);
    assert_string_equal(table->rows[1][0].words, "0.125");
    assert_string_equal(table->rows[2][0].words, "12\u202f345");
    json_decref(note);
    document_free(document);
}

static void the_planting_plan_adds_up(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct planting_plan plan;
    struct document *document = NULL;
    struct failure why;
    struct text out = {0};
    int scale = 0;
    sample_plan(&arena, &plan);
    assert_int_equal(planting_plan_document(&plan, &document, &scale, &why), OUTCOME_OK);
    assert_int_equal(scale, 500);
    document_plain(document, 0, &out);
    const char *plain = text_get(&out);
    assert_non_null(strstr(plain, " 675   100.0  "));
    assert_non_null(strstr(plain, " 720\n"));
    assert_int_equal(count_of(plain, "not in it"), 3);
    assert_int_equal(count_of(plain, "not checked"), 4); /* two zones, an unknown, a heading */
    assert_non_null(strstr(plain, "cannot be given to one"));
    text_free(&out);
    size_t pages = 0;
    assert_int_equal(document_pdf(document, &out, &pages, &why), OUTCOME_OK);
    document_free(document);
    plan.map.scale = 50; /* will not fit */
    assert_int_equal(planting_plan_document(&plan, &document, &scale, &why), OUTCOME_DATA);
    text_free(&out);
    arena_clear(&arena);
}

static void the_order_says_what_its_sum_leaves_out(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct order_list list;
    struct text out = {0};
    sample_order(&arena, &list);
    struct document *document = order_list_document(&list);
    document_plain(document, 0, &out);
    double sum = 0;
    for (size_t i = 0; i < list.n_lines; i++)
        if (is_known(list.lines[i].unit_price) && list.lines[i].ordered != INT_UNKNOWN)
            sum += list.lines[i].unit_price * (double)list.lines[i].ordered;
    char words[80];
    value_write_number(sum, 2, words);
    assert_non_null(strstr(text_get(&out), words));
    assert_non_null(strstr(text_get(&out), "2 of 9 lines have no price, 1 no count"));
    text_free(&out);
    document_free(document);
    arena_clear(&arena);
}

static void an_order_without_any_price_has_no_sum(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct order_list list;
    struct text out = {0};
    sample_order(&arena, &list);
    struct order_list_line *lines = arena_array(&arena, list.n_lines, sizeof *lines);
    memcpy(lines, list.lines, list.n_lines * sizeof *lines);
    for (size_t i = 0; i < list.n_lines; i++)
        lines[i].unit_price = unknown_real();
    list.lines = lines;
    struct document *document = order_list_document(&list);
    document_plain(document, 0, &out);
    assert_null(strstr(text_get(&out), "0.00"));
    assert_non_null(strstr(text_get(&out), "9 of 9 lines have no price"));
    text_free(&out);
    document_free(document);
    arena_clear(&arena);
}

static void a_blind_census_sheet_does_not_show_last_heights(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct census_sheet sheet;
    sample_census(&arena, 90, &sheet);
    for (int blind = 0; blind < 2; blind++) {
        struct text out = {0};
        sheet.show_last = blind == 0;
        struct document *document = census_sheet_document(&sheet);
        document_plain(document, 0, &out);
        assert_int_equal(count_of(text_get(&out), " D0"), 90);
        assert_int_equal(strstr(text_get(&out), "Last height") != NULL, blind == 0);
        assert_int_equal(strstr(text_get(&out), "  alive  ") != NULL, blind == 0);
        text_free(&out);
        document_free(document);
    }
    arena_clear(&arena);
}

static void the_reconciliation_sheet_has_every_card_once(void **state)
{
    (void)state;
    static const char *const codes[] = {"A01", "A02", "A03", "B01", "B02"};
    static const int64_t plants[] = {3, 3, 2, INT_UNKNOWN, 4};
    struct text out = {0};
    struct document *document = reconciliation_document(&(struct form_head){.site = "Alder Bank", .date = DATE_UNKNOWN}, codes, plants, 5);
    document_plain(document, 0, &out);
    for (int i = 0; i < 5; i++)
        assert_int_equal(count_of(text_get(&out), codes[i]), 1);
    assert_non_null(strstr(text_get(&out), "5 cards, 12 plants."));
    text_free(&out);
    document_free(document);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_square_has_its_card_once_and_the_sums_agree),
        cmocka_unit_test(cards_come_by_row_and_column),
        cmocka_unit_test(cards_that_cannot_be_told_apart_are_refused),
        cmocka_unit_test(the_same_document_gives_the_same_bytes),
        cmocka_unit_test(html_asks_nothing_of_the_network),
        cmocka_unit_test(every_link_inside_a_page_leads_somewhere),
        cmocka_unit_test(a_number_leads_to_its_rows_and_they_lead_back),
        cmocka_unit_test(a_set_that_is_not_there_is_no_link),
        cmocka_unit_test(a_link_to_nowhere_does_not_spoil_the_pdf),
        cmocka_unit_test(no_date_means_no_date_in_the_file),
        cmocka_unit_test(a_map_is_never_shrunk_to_fit),
        cmocka_unit_test(a_cell_longer_than_a_page_goes_on_over_pages),
        cmocka_unit_test(what_is_not_a_note_is_refused),
        cmocka_unit_test(a_note_loses_nothing_on_its_way_to_paper),
        cmocka_unit_test(unknown_cells_are_shown_as_unknown),
        cmocka_unit_test(the_planting_plan_adds_up),
        cmocka_unit_test(the_order_says_what_its_sum_leaves_out),
        cmocka_unit_test(an_order_without_any_price_has_no_sum),
        cmocka_unit_test(a_blind_census_sheet_does_not_show_last_heights),
        cmocka_unit_test(the_reconciliation_sheet_has_every_card_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
