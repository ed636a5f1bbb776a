/* SPDX-License-Identifier: GPL-3.0-or-later
 * base/: dates, numbers as text, random numbers, comma-separated text. */
#include "base/base.h"
#include "../testlib.h"
#include <locale.h>

static void dates_go_there_and_back(void **state)
{
    (void)state;
    assert_int_equal(date_make(1970, 1, 1), 0);
    assert_int_equal(date_make(2000, 3, 1), 11017);
    for (int32_t day = date_make(1999, 12, 25); day < date_make(2101, 1, 10); day++) {
        int y = 0, m = 0, d = 0;
        date_parts(day, &y, &m, &d);
        assert_int_equal(date_make(y, m, d), day);
    }
    assert_int_equal(date_make(2023, 2, 29), DATE_UNKNOWN);
    int32_t out = 0;
    assert_false(date_read("03/04/2023", &out));
    assert_false(date_read("2023-13-01", &out));
    assert_true(date_read("2024-02-29", &out));
    char text[16];
    date_write(date_add_months(out, 12), text);
    assert_string_equal(text, "2025-02-28");
}

static void numbers_round_trip_under_a_comma_locale(void **state)
{
    (void)state;
    const char *had = setlocale(LC_NUMERIC, "de_DE.UTF-8");
    const double values[] = {0.1, 1.0 / 3, 1e300, 5e-324, -123456.789, 0, 78};
    for (size_t i = 0; i < sizeof values / sizeof *values; i++) {
        char out[40];
        double back = 0;
        number_write(values[i], out);
        assert_null(strchr(out, ','));
        assert_true(number_read(out, &back));
        assert_true(back == values[i]);
    }
    double x = 0;
    assert_false(number_read("1,5", &x));
    assert_false(number_read("1.5.2", &x));
    assert_false(number_read("nan", &x));
    assert_false(number_read("0x10", &x));
    assert_false(number_read("", &x));
    char out[64];
    number_fixed(2.345, 2, out);
    assert_string_equal(out, "2.35");
    number_fixed(-0.001, 1, out);
    assert_string_equal(out, "0.0");
    if (had != NULL)
        setlocale(LC_NUMERIC, "C");
}

/* Known answers of Random123 1.09, kat_vectors, philox 4x32 10. */
static void philox_gives_its_published_answers(void **state)
{
    (void)state;
    uint32_t zero[4] = {0}, key0[2] = {0}, out[4];
    random_philox(zero, key0, out);
    const uint32_t wanted0[4] = {0x6627e8d5, 0xe169c58d, 0xbc57ac4c, 0x9b00dbd8};
    assert_memory_equal(out, wanted0, sizeof out);
    const uint32_t pi[4] = {0x243f6a88, 0x85a308d3, 0x13198a2e, 0x03707344}, key1[2] = {0xa4093822, 0x299f31d0};
    const uint32_t wanted1[4] = {0xd16cfe09, 0x94fdcceb, 0x5001e420, 0x24126ea1};
    random_philox(pi, key1, out);
    assert_memory_equal(out, wanted1, sizeof out);
}

static void random_moments_are_right(void **state)
{
    (void)state;
    struct random_stream r = random_make(7, 1);
    double u = 0, n2 = 0, g = 0, p = 0;
    enum { N = 200000 };
    for (int i = 0; i < N; i++) {
        double x = random_normal(&r);
        u += random_uniform(&r);
        n2 += x * x;
        g += random_gamma(&r, 2.5);
        p += (double)random_poisson(&r, 47.5);
    }
    assert_near(u / N, 0.5, 0.004);
    assert_near(n2 / N, 1, 0.02);
    assert_near(g / N, 2.5, 0.02);
    assert_near(p / N, 47.5, 0.1);
}

static void csv_keeps_quotes_lines_and_blank_cells(void **state)
{
    (void)state;
    const char *text = "a,b\n\"x \"\"y\"\"\nz\",\n,3\n";
    struct arena arena = {0};
    struct csv_table table;
    struct failure why;
    assert_int_equal(csv_read("t.csv", text, strlen(text), ',', 0, &arena, &table, &why), OUTCOME_OK);
    assert_int_equal(table.rows, 3);
    assert_string_equal(csv_cell(&table, 1, 0), "x \"y\"\nz");
    assert_int_equal(table.lines[1], 2);
    assert_int_equal(table.lines[2], 4);
    assert_string_equal(csv_cell(&table, 2, 1), "3");
    assert_int_equal(csv_column(&table, "b"), 1);
    assert_int_equal(csv_read("t.csv", "a\0b", 3, ',', 0, &arena, &table, &why), OUTCOME_DATA);
    struct text out = {0};
    csv_add(&out, "=cmd()", true, true);
    csv_add(&out, "-4.5", false, true);
    csv_add(&out, "a,b", false, true);
    assert_string_equal(out.at, "\"'=cmd()\",-4.5,\"a,b\"");
    text_free(&out);
    arena_clear(&arena);
}

static void names_one_slip_apart_are_near(void **state)
{
    (void)state;
    assert_int_equal(text_distance("Quercus rober", "Quercus robur", 3), 1);
    assert_int_equal(text_distance("Betual pendula", "Betula pendula", 3), 1);
    assert_int_equal(text_distance("Acer", "Quercus", 2), 3);
}

static void uuids_are_marked_and_repeatable(void **state)
{
    (void)state;
    struct uuid a = uuid_from(1, 2), b = uuid_from(1, 2), c = uuid_fresh(), back;
    char text[37];
    assert_memory_equal(&a, &b, sizeof a);
    uuid_write(&c, text);
    assert_int_equal(text[14], '4');
    assert_true(uuid_read(text, &back));
    assert_memory_equal(&c, &back, sizeof c);
    assert_false(uuid_read("not-a-uuid", &back));
}

static void whole_numbers_are_written_without_an_exponent(void **state)
{
    (void)state;
    const struct {
        double x;
        const char *text;
    } cases[] = {{30, "30"},      {-1200, "-1200"}, {400000, "400000"},      {0.5, "0.5"},
                 {1e15, "1e+15"}, {1e-7, "1e-07"},  {123456.75, "123456.75"}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char out[40];
        number_write(cases[i].x, out);
        assert_string_equal(out, cases[i].text);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(whole_numbers_are_written_without_an_exponent),
        cmocka_unit_test(dates_go_there_and_back),
        cmocka_unit_test(numbers_round_trip_under_a_comma_locale),
        cmocka_unit_test(philox_gives_its_published_answers),
        cmocka_unit_test(random_moments_are_right),
        cmocka_unit_test(csv_keeps_quotes_lines_and_blank_cells),
        cmocka_unit_test(names_one_slip_apart_are_near),
        cmocka_unit_test(uuids_are_marked_and_repeatable),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
