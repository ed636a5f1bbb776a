/* SPDX-License-Identifier: GPL-3.0-or-later
 * Tables as they come: encodings, delimiters, broken quotes, comment lines; spreadsheets with dates, formulas, merged cells,
 * several sheets; and hostile files. XLSX files are made by libxlsxwriter and by hand with libzip. */
#include "common.h"
#include "testlib.h"
#include <xlsxwriter.h>
#include <zip.h>

static struct record_sheet *csv_sheet(struct arena *arena, const char *bytes, size_t n)
{
    static struct workbook book;
    struct failure why = {0};
    if (workbook_read("t.csv", bytes, n, arena, &book, &why) != OUTCOME_OK)
        fail_msg("%s", why.sentence);
    return &book.sheets[0];
}

static void encodings_are_told_apart_and_letters_come_out_right(void **state)
{
    (void)state;
    struct arena arena = {0};
    static const char utf8[] = "Parzelle;H\303\266he\nD1;45\n", bom[] = "\357\273\277Parzelle;H\303\266he\nD1;45\n",
                      latin[] = "Parzelle;H\366he\nD1;45\n", little[] = "\377\376P\0;\0\366\0\n\0D\0;\0005\0\n\0",
                      big[] = "\376\377\0P\0;\0\366\0\n\0D\0;\0005\0\n";
    const struct record_sheet *s = csv_sheet(&arena, utf8, sizeof utf8 - 1);
    assert_string_equal(s->encoding, "UTF-8");
    assert_string_equal(record_sheet_text(s, 0, 1), "H\303\266he");
    s = csv_sheet(&arena, bom, sizeof bom - 1);
    assert_string_equal(record_sheet_text(s, 0, 0), "Parzelle");
    s = csv_sheet(&arena, latin, sizeof latin - 1);
    assert_string_equal(s->encoding, "Windows-1252");
    assert_string_equal(record_sheet_text(s, 0, 1), "H\303\266he");
    s = csv_sheet(&arena, little, sizeof little - 1);
    assert_string_equal(s->encoding, "UTF-16LE");
    assert_string_equal(record_sheet_text(s, 0, 1), "\303\266");
    s = csv_sheet(&arena, big, sizeof big - 1);
    assert_string_equal(s->encoding, "UTF-16BE");
    assert_string_equal(record_sheet_text(s, 1, 1), "5");
    arena_clear(&arena);
}

static void delimiters_are_told_apart_also_beside_decimal_commas(void **state)
{
    (void)state;
    struct arena arena = {0};
    static const struct {
        const char *text;
        char delimiter;
    } cases[] = {{"plot,h\nD1,4\n", ','},
                 {"plot;h;d\nD1;45,5;3,2\nD1;46,5;3,1\n", ';'},
                 {"plot\th\nD1\t4,5\n", '\t'},
                 {"plot|h\nD1|4\n", '|'},
                 {"sep=;\nplot;h\nD1;4\n", ';'},
                 {"plot  tree  dbh\n1  2  3.5\n1  3  3.6\n", ' '},
                 {"# a, b; c\nplot;note\nD1;\"x, y, z\"\nD2;\"u, v, w\"\n", ';'}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
        assert_int_equal(csv_sheet(&arena, cases[i].text, strlen(cases[i].text))->delimiter, cases[i].delimiter);
    const struct record_sheet *s = csv_sheet(&arena, cases[4].text, strlen(cases[4].text));
    assert_int_equal(s->rows, 2);
    assert_int_equal(s->lines[1], 3);
    s = csv_sheet(&arena, cases[5].text, strlen(cases[5].text));
    assert_string_equal(record_sheet_text(s, 2, 2), "3.6");
    arena_clear(&arena);
}

static void text_is_kept_exactly_and_a_stray_quote_swallows_nothing(void **state)
{
    (void)state;
    struct arena arena = {0};
    const char *text =
        "plot,note,h\r\nD1, two  blanks ,4\r\nD1,\"said \"\"no\"\", twice\nover\",5\r\nD1,\"never closed,6\r\nD1,5\" pot,7\rD2,x,8\n";
    const struct record_sheet *s = csv_sheet(&arena, text, strlen(text));
    assert_int_equal(s->rows, 6);
    assert_string_equal(s->cells[1][1].text, " two  blanks ");
    assert_string_equal(s->cells[2][1].text, "said \"no\", twice\nover");
    assert_int_equal(s->lines[3], 5);
    assert_string_equal(s->cells[3][1].text, "\"never closed");
    assert_string_equal(s->cells[4][1].text, "5\" pot");
    assert_string_equal(s->cells[5][2].text, "8");
    arena_clear(&arena);
}

static void what_is_no_table_is_refused_in_words(void **state)
{
    (void)state;
    struct arena arena = {0};
    static const struct {
        const char *bytes;
        size_t n;
    } cases[] = {{"", 0},
                 {"\320\317\021\340\241\261\032\341xxxx", 12},
                 {"%PDF-1.7 x", 10},
                 {"a\0b\001\002\003xyz\0\0q", 12},
                 {"PK\003\004garbage", 11}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct workbook book;
        struct failure why = {0};
        assert_int_equal(workbook_read("x", cases[i].bytes, cases[i].n, &arena, &book, &why), OUTCOME_DATA);
        assert_true(why.sentence[0] != '\0' && why.remedy[0] != '\0');
    }
    arena_clear(&arena);
}

/* ---- spreadsheets ---- */

static char *file_of(struct arena *arena, const char *path, size_t *n)
{
    char *bytes = NULL;
    struct failure why = {0};
    assert_int_equal(file_read(path, 0, arena, &bytes, n, &why), OUTCOME_OK);
    unlink(path);
    return bytes;
}

static char *temporary(struct arena *arena)
{
    char path[] = "/tmp/spinney-test-XXXXXX";
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    close(fd);
    return arena_text(arena, path);
}

static void spreadsheet_gives_text_numbers_dates_formulas_and_merged_cells(void **state)
{
    (void)state;
    struct arena arena = {0};
    char *path = temporary(&arena);
    lxw_workbook *w = workbook_new(path);
    lxw_worksheet *a = workbook_add_worksheet(w, "Read me"), *b = workbook_add_worksheet(w, "Aufnahme 2023");
    lxw_format *day = workbook_add_format(w), *metres = workbook_add_format(w), *short_day = workbook_add_format(w);
    format_set_num_format(day, "dd/mm/yyyy");
    format_set_num_format(metres, "0.00\" m\"");
    format_set_num_format(short_day, "d-mmm");
    worksheet_write_string(a, 0, 0, "Notes", NULL);
    worksheet_merge_range(b, 0, 0, 2, 0, "D1", NULL);
    worksheet_write_string(b, 0, 1, "h\303\266her", NULL);
    worksheet_write_number(b, 0, 2, 45.5, metres);
    lxw_datetime d = {2023, 4, 3, 0, 0, 0}, s = {2024, 2, 1, 0, 0, 0}, t = {2023, 4, 3, 10, 30, 0};
    worksheet_write_datetime(b, 1, 1, &d, day);
    worksheet_write_datetime(b, 1, 2, &s, short_day);
    worksheet_write_datetime(b, 1, 3, &t, day);
    worksheet_write_formula_num(b, 2, 1, "=C1*2", NULL, 91);
    worksheet_write_boolean(b, 2, 2, 1, NULL);
    worksheet_hide(a);
    worksheet_activate(b);
    assert_int_equal(workbook_close(w), LXW_NO_ERROR);
    size_t n = 0;
    char *bytes = file_of(&arena, path, &n);
    struct workbook book;
    struct failure why = {0};
    assert_int_equal(workbook_read("t.xlsx", bytes, n, &arena, &book, &why), OUTCOME_OK);
    assert_int_equal(book.n, 2);
    const struct record_sheet *x = &book.sheets[1];
    assert_string_equal(x->name, "Aufnahme 2023");
    assert_true(book.sheets[0].hidden);
    for (size_t row = 0; row < 3; row++) {
        assert_string_equal(record_sheet_text(x, row, 0), "D1");
        assert_int_equal(record_sheet_at(x, row, 0)->merged, row > 0);
    }
    assert_string_equal(record_sheet_text(x, 0, 1), "h\303\266her");
    assert_string_equal(record_sheet_text(x, 0, 2), "45.5");
    assert_int_equal(record_sheet_at(x, 0, 2)->kind, SHEET_NUMBER); /* "m" in quotes is no month */
    assert_string_equal(record_sheet_text(x, 1, 1), "2023-04-03");
    assert_int_equal(record_sheet_at(x, 1, 1)->kind, SHEET_DATE);
    assert_string_equal(record_sheet_text(x, 1, 2), "2024-02-01");
    assert_string_equal(record_sheet_text(x, 1, 3), "2023-04-03T10:30");
    assert_string_equal(record_sheet_text(x, 2, 1), "91");
    assert_true(record_sheet_at(x, 2, 1)->formula);
    assert_int_equal(record_sheet_at(x, 2, 2)->kind, SHEET_TRUTH);
    assert_int_equal(x->n_notes, 2);
    arena_clear(&arena);
}

static char *package(struct arena *arena, const char *workbook_xml, const char *strings, const char *sheet, size_t *n)
{
    static const char rels[] =
        "<Relationships><Relationship Id=\"r1\" Type=\"x/officeDocument\" Target=\"xl/workbook.xml\"/></Relationships>";
    static const char book_rels[] = "<Relationships><Relationship Id=\"r1\" Type=\"x/worksheet\" Target=\"worksheets/sheet1.xml\"/>"
                                    "<Relationship Id=\"r2\" Type=\"x/sharedStrings\" Target=\"/xl/sharedStrings.xml\"/></Relationships>";
    char *path = temporary(arena);
    unlink(path);
    zip_t *zip = zip_open(path, ZIP_CREATE | ZIP_TRUNCATE, NULL);
    assert_non_null(zip);
    const char *parts[][2] = {{"_rels/.rels", rels},
                              {"xl/workbook.xml", workbook_xml},
                              {"xl/_rels/workbook.xml.rels", book_rels},
                              {"xl/sharedStrings.xml", strings},
                              {"xl/worksheets/sheet1.xml", sheet}};
    for (size_t i = 0; i < 5; i++)
        assert_true(zip_file_add(zip, parts[i][0], zip_source_buffer(zip, parts[i][1], strlen(parts[i][1]), 0), 0) >= 0);
    assert_int_equal(zip_close(zip), 0);
    return file_of(arena, path, n);
}

static const char book_xml[] =
    "<workbook xmlns:r=\"x\"><workbookPr date1904=\"0\"/><sheets><sheet name=\"S\" r:id=\"r1\"/></sheets></workbook>";

static void inline_strings_phonetic_text_and_missing_references_are_read(void **state)
{
    (void)state;
    struct arena arena = {0};
    size_t n = 0;
    char *bytes =
        package(&arena, book_xml, "<sst><si><r><t>rich </t></r><r><t>text</t></r><rPh><t>no</t></rPh></si></sst>",
                "<worksheet><sheetData><row><c t=\"s\"><v>0</v></c><c t=\"inlineStr\"><is><t>in line</t></is></c><c><v>7</v></c></row>"
                "<row r=\"5\"><c r=\"C5\" t=\"e\"><v>#DIV/0!</v></c><c r=\"D5\" t=\"s\"><v>99</v></c></row></sheetData></worksheet>",
                &n);
    struct workbook book;
    struct failure why = {0};
    assert_int_equal(workbook_read("t.xlsx", bytes, n, &arena, &book, &why), OUTCOME_OK);
    const struct record_sheet *s = &book.sheets[0];
    assert_string_equal(record_sheet_text(s, 0, 0), "rich text");
    assert_string_equal(record_sheet_text(s, 0, 1), "in line");
    assert_string_equal(record_sheet_text(s, 0, 2), "7");
    assert_int_equal(s->lines[1], 5);
    assert_int_equal(record_sheet_at(s, 1, 2)->kind, SHEET_FAULT);
    arena_clear(&arena);
}

static void hostile_spreadsheets_are_refused(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct text blanks = {0}, deep = {0};
    text_add(&blanks, "<worksheet><sheetData>");
    for (int i = 0; i < 2000; i++) { /* 64 MB of blanks that pack to almost nothing */
        static char line[32769];
        memset(line, ' ', sizeof line - 1);
        text_add(&blanks, line);
    }
    text_add(&blanks, "</sheetData></worksheet>");
    for (int i = 0; i < 100; i++)
        text_add(&deep, "<a>");
    const char *sheets[] = {
        "<!DOCTYPE x [<!ENTITY a \"aaaaaaaaaa\"><!ENTITY b \"&a;&a;&a;&a;\">]><worksheet>&b;</worksheet>", text_get(&blanks),
        text_get(&deep), "<worksheet><sheetData><row><c r=\"ZZZ1\"><v>1</v></c></row></sheetData></worksheet>", "<worksheet><sheetData>"};
    for (size_t i = 0; i < sizeof sheets / sizeof *sheets; i++) {
        size_t n = 0;
        char *bytes = package(&arena, book_xml, "<sst/>", sheets[i], &n);
        struct workbook book;
        struct failure why = {0};
        assert_int_equal(workbook_read("t.xlsx", bytes, n, &arena, &book, &why), OUTCOME_DATA);
        assert_true(why.remedy[0] != '\0');
    }
    text_free(&blanks);
    text_free(&deep);
    arena_clear(&arena);
}

static void every_cut_of_a_spreadsheet_is_refused_or_read_without_harm(void **state)
{
    (void)state;
    struct arena arena = {0};
    size_t n = 0;
    char *bytes = package(&arena, book_xml, "<sst><si><t>a</t></si></sst>",
                          "<worksheet><sheetData><row><c t=\"s\"><v>0</v></c></row></sheetData></worksheet>", &n);
    for (size_t cut = 0; cut < n; cut += 7) {
        struct arena own = {0};
        struct workbook book;
        struct failure why = {0};
        workbook_read("t.xlsx", bytes, cut, &own, &book, &why);
        arena_clear(&own);
    }
    arena_clear(&arena);
}

/* ---- dates ---- */

static void dates_as_people_write_them(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        enum date_order order;
        enum date_reading reading;
        int year, month, day;
    } cases[] = {{"2023-04-03", DATE_ORDER_UNKNOWN, DATE_CLEAR, 2023, 4, 3},
                 {"2023-04-03T10:30", DATE_MDY, DATE_CLEAR, 2023, 4, 3},
                 {"3.4.2023", DATE_ORDER_UNKNOWN, DATE_CLEAR, 2023, 4, 3},
                 {"03/04/2023", DATE_ORDER_UNKNOWN, DATE_AMBIGUOUS, 0, 0, 0},
                 {"03/04/2023", DATE_DMY, DATE_CLEAR, 2023, 4, 3},
                 {"03/04/2023", DATE_MDY, DATE_CLEAR, 2023, 3, 4},
                 {"14/04/2023", DATE_ORDER_UNKNOWN, DATE_CLEAR, 2023, 4, 14},
                 {"04/14/2023", DATE_ORDER_UNKNOWN, DATE_CLEAR, 2023, 4, 14},
                 {"14/04/2023", DATE_MDY, DATE_NOT, 0, 0, 0},
                 {"4/4/2023", DATE_ORDER_UNKNOWN, DATE_CLEAR, 2023, 4, 4},
                 {"3/4/23", DATE_DMY, DATE_CLEAR, 2023, 4, 3},
                 {"3/4/85", DATE_DMY, DATE_CLEAR, 1985, 4, 3},
                 {"3 April 2023", DATE_ORDER_UNKNOWN, DATE_CLEAR, 2023, 4, 3},
                 {"April 3rd, 2023", DATE_ORDER_UNKNOWN, DATE_CLEAR, 2023, 4, 3},
                 {"3 avr. 2023", DATE_ORDER_UNKNOWN, DATE_CLEAR, 2023, 4, 3},
                 {"3. M\303\244rz 2023", DATE_ORDER_UNKNOWN, DATE_CLEAR, 2023, 3, 3},
                 {"3 maart 2023", DATE_ORDER_UNKNOWN, DATE_CLEAR, 2023, 3, 3},
                 {"1er ao\303\273t 2023", DATE_ORDER_UNKNOWN, DATE_CLEAR, 2023, 8, 1},
                 {"Feb14", DATE_ORDER_UNKNOWN, DATE_MONTH, 2014, 2, 1},
                 {"Sep-2023", DATE_ORDER_UNKNOWN, DATE_MONTH, 2023, 9, 1},
                 {"2023-09", DATE_ORDER_UNKNOWN, DATE_MONTH, 2023, 9, 1},
                 {"20230403", DATE_ORDER_UNKNOWN, DATE_CLEAR, 2023, 4, 3},
                 {"30.2.2023", DATE_ORDER_UNKNOWN, DATE_NOT, 0, 0, 0},
                 {"2023", DATE_ORDER_UNKNOWN, DATE_NOT, 0, 0, 0},
                 {"45", DATE_ORDER_UNKNOWN, DATE_NOT, 0, 0, 0},
                 {"1-2", DATE_ORDER_UNKNOWN, DATE_NOT, 0, 0, 0},
                 {"2-Jan", DATE_ORDER_UNKNOWN, DATE_NOT, 0, 0, 0},
                 {"", DATE_ORDER_UNKNOWN, DATE_NOT, 0, 0, 0},
                 {"3/4/2023 10:30:00", DATE_DMY, DATE_CLEAR, 2023, 4, 3},
                 {"sometime in May", DATE_ORDER_UNKNOWN, DATE_NOT, 0, 0, 0}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct date_read r = survey_date(cases[i].text, cases[i].order);
        int32_t wanted = cases[i].year == 0 ? DATE_UNKNOWN : date_make(cases[i].year, cases[i].month, cases[i].day);
        if (r.reading != cases[i].reading || r.date != wanted)
            fail_msg("%s: reading %d, day %d", cases[i].text, (int)r.reading, (int)r.date);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(encodings_are_told_apart_and_letters_come_out_right),
        cmocka_unit_test(delimiters_are_told_apart_also_beside_decimal_commas),
        cmocka_unit_test(text_is_kept_exactly_and_a_stray_quote_swallows_nothing),
        cmocka_unit_test(what_is_no_table_is_refused_in_words),
        cmocka_unit_test(spreadsheet_gives_text_numbers_dates_formulas_and_merged_cells),
        cmocka_unit_test(inline_strings_phonetic_text_and_missing_references_are_read),
        cmocka_unit_test(hostile_spreadsheets_are_refused),
        cmocka_unit_test(every_cut_of_a_spreadsheet_is_refused_or_read_without_harm),
        cmocka_unit_test(dates_as_people_write_them),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
