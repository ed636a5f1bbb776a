/* SPDX-License-Identifier: GPL-3.0-or-later
 * Selections of rows, the sets behind the numbers of a note, findings and claims as rows: what a person types is what is found. */
#include "help.h"
#include "work/note.h"
#include "work/rows.h"
#include <string.h>
#include <unistd.h>

/* Five lines of the ledger on two sites, one with a name that must be quoted. */
static void ledger(struct desk *desk)
{
    json_decref(desk_do(desk, "add", NULL,
                        "{'noun': 'cost_item', 'set': 'site_id=1;plot_id=1;phase=plants;item=whips;amount=120;paid_on=2024-02-01'}"));
    json_decref(
        desk_do(desk, "add", NULL, "{'noun': 'cost_item', 'set': 'site_id=1;phase=survey;item=soil;amount=300.5;paid_on=2024-03-01'}"));
    json_decref(
        desk_do(desk, "add", NULL, "{'noun': 'cost_item', 'set': 'site_id=2;phase=plants;item=whips;amount=80;paid_on=2025-02-01'}"));
    json_decref(desk_do(desk, "add", NULL,
                        "{'noun': 'cost_item', 'set': '{\\\"item\\\": \\\"stakes; ties | labels\\\", \\\"amount\\\": 10, \\\"phase\\\": "
                        "\\\"protection\\\"}'}"));
    json_decref(desk_do(desk, "add", NULL, "{'noun': 'cost_item', 'set': 'site_id=1;phase=reporting;item=print;amount=0'}"));
}

static int64_t found(struct desk *desk, const char *noun, const char *where)
{
    json_t *options = json_pack("{s:s, s:s}", "noun", noun, "where", where), *note = NULL;
    const struct job_context context = {.store = desk->store, .author = "V001", .today = date_make(2026, 11, 25)};
    enum outcome outcome = job_run(job_find("rows"), &context, options, &note, &desk->why);
    int64_t n = outcome == OUTCOME_OK ? json_integer_value(json_object_get(json_object_get(note, "data"), "count")) : -1;
    json_decref(options);
    json_decref(note);
    return n;
}

static void a_selection_finds_what_it_says(void **state)
{
    (void)state;
    struct desk *desk = desk_open();
    ledger(desk);
    static const struct {
        const char *where;
        int64_t n;
    } cases[] = {
        {"", 5},
        {"phase=plants", 2},
        {"phase!=plants", 3},
        {"phase=plants|survey", 3},
        {"site=LK", 3},
        {"site=LK;plot=unknown", 2},
        {"site=unknown", 1},
        {"plot=LK/D1", 1},
        {"plot.regime=dense_prepared", 1},
        {"plot.site=LK", 1},
        {"amount>=120", 2},
        {"amount<=80", 3},
        {"amount=0", 1},
        {"amount=80..300", 2},
        {"paid_on=2024-01-01..2024-12-31", 2},
        {"paid_on>=2025-01-01", 1},
        {"paid_on=known", 3},
        {"item=\"stakes; ties | labels\"", 1},
        {"item=whips ; phase=plants", 2},
        {"id=2..4", 3},
        {"id=1|5", 2},
        {"item=\"unknown\"", 0}, /* the word, not what is not known */
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        int64_t n = found(desk, "cost_item", cases[i].where);
        if (n != cases[i].n)
            fail_msg("%s finds %lld, not %lld", cases[i].where, (long long)n, (long long)cases[i].n);
    }
    desk_close(desk);
}

static void what_is_no_selection_is_refused_with_the_reason(void **state)
{
    (void)state;
    struct desk *desk = desk_open();
    ledger(desk);
    static const char *const wrong[] = {"nonsense",     "colour=red", "phase=gardening",     "amount=much",   "paid_on=soon", "site=ZZ",
                                        "item.phase=x", "=5",         "plot.site.owner.x=1", "amount=1..many"};
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        assert_int_equal(found(desk, "cost_item", wrong[i]), -1);
        assert_true(strlen(desk->why.sentence) > 10);
    }
    assert_int_equal(found(desk, "plant", "state=alive"), -1); /* a state is that at a census */
    assert_int_equal(found(desk, "plant", "census=sometime"), -1);
    assert_int_equal(found(desk, "plant", "census=last;state=asleep"), -1);
    assert_int_equal(found(desk, "plant_record", "counts_as=first_planting"), -1);
    assert_int_equal(found(desk, "cost_item", "census=last"), -1); /* a ledger has none */
    desk_close(desk);
}

static void a_value_is_quoted_so_that_it_comes_back(void **state)
{
    (void)state;
    static const char *const values[] = {"plain", "a;b", "a|b", "say \"yes\"", "unknown", "known", "1..2", " led by a blank", "", "Ö/ß"};
    struct arena arena = {0};
    for (size_t i = 0; i < sizeof values / sizeof *values; i++) {
        struct rows_condition *conditions = NULL;
        struct failure why;
        size_t n = 0;
        const char *where = arena_print(&arena, "item=%s;phase=plants", rows_value(values[i], &arena));
        assert_int_equal(rows_parse(where, &arena, &conditions, &n, &why), OUTCOME_OK);
        assert_int_equal(n, 2);
        assert_int_equal(conditions[0].n, 1);
        assert_string_equal(conditions[0].values[0], values[i]);
    }
    arena_clear(&arena);
}

static void the_same_rows_are_one_set_and_sets_together_are_flat(void **state)
{
    (void)state;
    json_t *note = note_new();
    int64_t a = note_rows(note, NOUN_SITE, "code=LK", 1), b = note_rows(note, NOUN_PLOT, "site=LK", 2),
            again = note_rows(note, NOUN_SITE, "code=LK", 1);
    assert_int_equal(a, again);
    assert_int_not_equal(a, b);
    int64_t both = note_rows_of(note, (const int64_t[]){a, 0, b}, 3), more = note_rows_of(note, (const int64_t[]){both, a}, 2);
    assert_int_equal(both, more); /* what is in it already adds nothing */
    assert_int_equal(note_rows_of(note, (const int64_t[]){a, 0}, 2), a);
    assert_int_equal(note_rows_of(note, (const int64_t[]){0, 0}, 2), 0);
    const json_t *set = json_array_get(json_object_get(note, "rows"), (size_t)both - 1);
    assert_int_equal(json_integer_value(json_object_get(set, "count")), 3);
    assert_int_equal(json_array_size(json_object_get(set, "of")), 2);
    int64_t uncounted = note_rows_of(note, (const int64_t[]){a, note_rows(note, NOUN_VISIT, "", INT_UNKNOWN)}, 2);
    assert_true(json_is_null(json_object_get(json_array_get(json_object_get(note, "rows"), (size_t)uncounted - 1), "count")));
    json_decref(note);
}

static void only_figures_are_tied_and_none_twice(void **state)
{
    (void)state;
    json_t *note = note_new(), *section = note_section(note, "S"), *table = section_table(section);
    table_column(table, "plot", "plot", "", -1);
    table_column(table, "n", "n", "", -1);
    table_column(table, "words", "words", "", -1);
    json_t *row = table_row(table);
    row_text(row, "LK/D1");
    row_integer(row, 7);
    cell_behind(table, 4);
    row_text(row, "no figure");
    row = table_row(table);
    row_text(row, "BS/D1");
    row_number(row, unknown_real());
    row_text(row, "3 of 4");
    section_line(section, 0, "Three plots.");
    section_line(section, 0, "3 plots.");
    note_answer(note, "%s", "No figure here.");
    note_behind(note, 9);
    const json_t *behind = json_object_get(table, "behind"), *text = json_object_get(section, "text_behind");
    const json_t *first = json_array_get(behind, 0), *second = json_array_get(behind, 1);
    assert_true(json_is_null(json_array_get(first, 0))); /* a name, though it holds a digit */
    assert_int_equal(json_integer_value(json_array_get(first, 1)), 4);
    assert_true(json_is_null(json_array_get(first, 2)));
    assert_true(json_is_null(json_array_get(second, 1)));
    assert_int_equal(json_integer_value(json_array_get(second, 2)), 9);
    assert_true(json_is_null(json_array_get(text, 0)));
    assert_int_equal(json_integer_value(json_array_get(text, 1)), 9);
    assert_null(json_object_get(note, "answer_behind"));
    json_decref(note);
}

static void a_fingerprint_is_that_of_the_content(void **state)
{
    (void)state;
    struct desk *desk = desk_open();
    ledger(desk);
    struct arena arena = {0};
    struct rows_finder finder;
    struct failure why;
    const void **rows = NULL;
    size_t n = 0;
    rows_finder_begin(&finder, desk->store, &arena);
    assert_int_equal(rows_find(&finder, NOUN_COST_ITEM, "phase=plants", &rows, &n, &why), OUTCOME_OK);
    const char *before = rows_fingerprint(NOUN_COST_ITEM, rows, n, &arena);
    assert_int_equal(strlen(before), 64);
    json_decref(desk_do(desk, "change", NULL, "{'noun': 'cost_item', 'id': 2, 'set': 'amount=301'}")); /* not one of them */
    rows_finder_begin(&finder, desk->store, &arena);
    assert_int_equal(rows_find(&finder, NOUN_COST_ITEM, "phase=plants", &rows, &n, &why), OUTCOME_OK);
    assert_string_equal(before, rows_fingerprint(NOUN_COST_ITEM, rows, n, &arena));
    json_decref(desk_do(desk, "change", NULL, "{'noun': 'cost_item', 'id': 3, 'set': 'amount=81'}"));
    rows_finder_begin(&finder, desk->store, &arena);
    assert_int_equal(rows_find(&finder, NOUN_COST_ITEM, "phase=plants", &rows, &n, &why), OUTCOME_OK);
    assert_string_not_equal(before, rows_fingerprint(NOUN_COST_ITEM, rows, n, &arena));
    /* SHA-256 of "abc": FIPS 180-4, the example of the standard */
    assert_string_equal(text_fingerprint("abc", &arena), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    arena_clear(&arena);
    desk_close(desk);
}

static void the_limits_can_be_added_to_and_not_left_out(void **state)
{
    (void)state;
    struct desk *desk = desk_open();
    char path[] = "/tmp/spinney-limits-XXXXXX.html";
    int file = mkstemps(path, 5);
    assert_true(file >= 0);
    json_decref(desk_do(desk, "change", NULL, "{'noun': 'programme', 'id': 1, 'set': 'limits_words=The gate stood open in May.'}"));
    for (int given = 0; given < 2; given++) {
        json_decref(desk_do(desk, "report", NULL, given ? "{'html': '%s', 'limits': ' '}" : "{'html': '%s'}", path));
        struct arena arena = {0};
        char *page = NULL;
        size_t n = 0;
        struct failure why;
        assert_int_equal(file_read(path, 50 << 20, &arena, &page, &n, &why), OUTCOME_OK);
        assert_non_null(strstr(page, "What we do not know"));
        assert_non_null(strstr(page, "The site is the replicate."));  /* ours stays */
        assert_non_null(strstr(page, "The gate stood open in May.")); /* theirs stands beside it */
        arena_clear(&arena);
    }
    unlink(path);
    desk_close(desk);
}

static void a_claim_above_its_rung_is_refused_and_kept(void **state)
{
    (void)state;
    struct desk *desk = desk_open();
    json_t *data = desk_do(desk, "claim", NULL, "{'words': 'The dense plot lives because of density', 'keep': true, 'by': 'V009'}");
    assert_true(json_is_true(json_object_get(data, "refused")));
    assert_string_equal(json_string_value(json_object_get(data, "claimed")), "attributed");
    assert_string_equal(json_string_value(json_object_get(data, "carried")), "counted"); /* nothing was counted even */
    json_decref(data);
    assert_int_equal(found(desk, "claim", "refused=yes;given_by=V009;rung=attributed"), 1);
    json_decref(desk_do(desk, "claim", NULL, "{'words': 'Seven plants were seen.'}")); /* without keep nothing is stored */
    assert_int_equal(desk_count(desk, NOUN_CLAIM), 1);
    json_decref(desk_do(desk, "conclude", NULL, "{'keep': true}")); /* nothing to compare: nothing kept */
    assert_int_equal(desk_count(desk, NOUN_FINDING), 0);
    desk_close(desk);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_selection_finds_what_it_says),
        cmocka_unit_test(what_is_no_selection_is_refused_with_the_reason),
        cmocka_unit_test(a_value_is_quoted_so_that_it_comes_back),
        cmocka_unit_test(the_same_rows_are_one_set_and_sets_together_are_flat),
        cmocka_unit_test(only_figures_are_tied_and_none_twice),
        cmocka_unit_test(a_fingerprint_is_that_of_the_content),
        cmocka_unit_test(the_limits_can_be_added_to_and_not_left_out),
        cmocka_unit_test(a_claim_above_its_rung_is_refused_and_kept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
