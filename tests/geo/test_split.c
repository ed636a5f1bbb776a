/* SPDX-License-Identifier: GPL-3.0-or-later
 * Equal halves with a strip between them. */
#include "geo/geo.h"
#include "../testlib.h"

static struct arena arena;
static struct failure why;

static struct shape polygon(const double *xy, size_t n)
{
    struct shape shape = {.kind = SHAPE_POLYGONS, .n_parts = 1, .parts = arena_array(&arena, 1, sizeof *shape.parts)};
    shape.parts[0].n_rings = 1;
    shape.parts[0].rings = arena_array(&arena, 1, sizeof(struct ring));
    shape.parts[0].rings[0] = (struct ring){.xy = arena_array(&arena, n, 2 * sizeof(double)), .n = n};
    memcpy(shape.parts[0].rings[0].xy, xy, 2 * n * sizeof(double));
    return shape;
}

static void a_rectangle_is_cut_into_halves_of_known_area(void **state)
{
    (void)state;
    struct shape r = shape_rectangle(&arena, 400000, 300000, 45, 10, 0);
    struct split split;
    assert_int_equal(shape_split_halves(&r, 0, 5, &arena, &split, &why), OUTCOME_OK);
    assert_near(split.piece_m2, 200, 1e-6);
    assert_near(split.strip_m2, 50, 1e-6);
    double d;
    assert_int_equal(shape_distance(&split.pieces[0], &split.pieces[1], &d, &why), OUTCOME_OK);
    assert_near(d, 5, 1e-6);
    struct box left = shape_box(&split.pieces[0]);
    assert_near(left.x_least, 400000, 1e-6);
    assert_near(left.x_most, 400020, 1e-6);
}

static void the_best_bearing_makes_the_shortest_cut(void **state)
{
    (void)state;
    for (double turn = 0; turn < 180; turn += 37) {
        struct shape r = shape_rectangle(&arena, 400000, 300000, 45, 10, -turn * 3.141592653589793 / 180);
        struct split split;
        assert_int_equal(shape_split_halves(&r, NAN, 5, &arena, &split, &why), OUTCOME_OK);
        double off = fabs(fmod(split.bearing_deg - turn + 540, 180));
        assert_near(fmin(off, 180 - off), 0, 1.01);
        assert_near(split.piece_m2, 200, 0.5);
    }
}

static void halves_of_an_irregular_plot_with_a_hole_agree_to_a_millionth_at_every_bearing(void **state)
{
    (void)state;
    struct shape l = polygon((double[]){0, 0, 40, 0, 40, 12, 15, 14, 13, 33, 0, 30, 0, 0}, 7),
                 hole = shape_rectangle(&arena, 5, 5, 3, 4, 0.4), both;
    assert_int_equal(shape_subtract(&l, &hole, &arena, &both, &why), OUTCOME_OK);
    for (double bearing = 0; bearing < 180; bearing += 7) {
        struct split split;
        assert_int_equal(shape_split_halves(&both, bearing, 3, &arena, &split, &why), OUTCOME_OK);
        double a = shape_area_m2(&split.pieces[0]), b = shape_area_m2(&split.pieces[1]), d;
        assert_near(a / b, 1, 1e-6);
        assert_near(a + b + split.strip_m2, shape_area_m2(&both), 1e-6);
        assert_int_equal(shape_distance(&split.pieces[0], &split.pieces[1], &d, &why), OUTCOME_OK);
        assert_true(d >= 3 - 1e-6);
    }
}

static void five_pieces_are_equal(void **state)
{
    (void)state;
    struct shape l = polygon((double[]){0, 0, 80, 5, 70, 32, 15, 24, 13, 43, 0, 30, 0, 0}, 7);
    struct split split;
    assert_int_equal(shape_split_pieces(&l, 5, 20, 1.5, &arena, &split, &why), OUTCOME_OK);
    for (size_t i = 0; i < 5; i++)
        assert_near(shape_area_m2(&split.pieces[i]) / split.piece_m2, 1, 1e-6);
}

static void a_gap_wider_than_the_plot_is_refused(void **state)
{
    (void)state;
    struct shape r = shape_rectangle(&arena, 0, 0, 8, 8, 0);
    struct split split;
    assert_int_equal(shape_split_halves(&r, 0, 9, &arena, &split, &why), OUTCOME_DATA);
    assert_true(why.remedy[0] != '\0');
    assert_int_equal(shape_split_halves(&r, NAN, 50, &arena, &split, &why), OUTCOME_DATA);
    assert_int_equal(shape_split_halves(&r, 0, -1, &arena, &split, &why), OUTCOME_USAGE);
}

static int clear(void **state)
{
    (void)state;
    arena_clear(&arena);
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_teardown(a_rectangle_is_cut_into_halves_of_known_area, clear),
        cmocka_unit_test_teardown(the_best_bearing_makes_the_shortest_cut, clear),
        cmocka_unit_test_teardown(halves_of_an_irregular_plot_with_a_hole_agree_to_a_millionth_at_every_bearing, clear),
        cmocka_unit_test_teardown(five_pieces_are_equal, clear),
        cmocka_unit_test_teardown(a_gap_wider_than_the_plot_is_refused, clear),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
