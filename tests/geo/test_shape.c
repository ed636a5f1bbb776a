/* SPDX-License-Identifier: GPL-3.0-or-later
 * Shapes: well-known binary, areas, containment, and the index against the plain walk. */
#include "geo/geo.h"
#include "../testlib.h"

static struct arena arena;
static struct failure why;

static struct shape ring_of(const double *xy, size_t n)
{
    struct shape shape = {.kind = SHAPE_POLYGONS, .n_parts = 1, .parts = arena_array(&arena, 1, sizeof *shape.parts)};
    shape.parts[0].n_rings = 1;
    shape.parts[0].rings = arena_array(&arena, 1, sizeof(struct ring));
    shape.parts[0].rings[0] = (struct ring){.xy = arena_array(&arena, n, 2 * sizeof(double)), .n = n};
    memcpy(shape.parts[0].rings[0].xy, xy, 2 * n * sizeof(double));
    return shape;
}

/* A wavy outline of n points round (500000, 5700000). */
static struct shape wavy(size_t n, uint64_t seed)
{
    struct random_stream r = random_make(seed, 1);
    double *xy = arena_array(&arena, n + 1, 2 * sizeof(double));
    for (size_t i = 0; i < n; i++) {
        double turn = 2 * 3.141592653589793 * (double)i / (double)n, reach = 40 + 10 * sin(7 * turn) + 2 * random_uniform(&r);
        xy[2 * i] = 500000 + reach * cos(turn);
        xy[2 * i + 1] = 5700000 + reach * sin(turn);
    }
    memcpy(xy + 2 * n, xy, 2 * sizeof(double));
    return ring_of(xy, n + 1);
}

static void a_rectangle_has_its_area_outline_and_box(void **state)
{
    (void)state;
    struct shape r = shape_rectangle(&arena, 500000, 5700000, 20, 10, 0);
    assert_near(shape_area_m2(&r), 200, 1e-9);
    assert_near(shape_length_m(&r), 60, 1e-9);
    struct box box = shape_box(&r);
    assert_near(box.x_most - box.x_least, 20, 1e-9);
    assert_near(box.y_most - box.y_least, 10, 1e-9);
    struct shape turned = shape_rectangle(&arena, 500000, 5700000, 20, 10, 0.7);
    assert_near(shape_area_m2(&turned), 200, 1e-6);
}

static void well_known_binary_comes_back_the_same(void **state)
{
    (void)state;
    struct shape r = wavy(101, 3), back;
    struct bytes wkb = shape_to_wkb(&r, &arena);
    assert_int_equal(shape_from_wkb(wkb, &arena, &back, &why), OUTCOME_OK);
    struct bytes again = shape_to_wkb(&back, &arena);
    assert_int_equal(wkb.n, again.n);
    assert_memory_equal(wkb.at, again.at, wkb.n);
}

static void a_flat_ring_is_not_turned_at_each_reading(void **state)
{
    (void)state;
    struct shape flat = ring_of((double[]){0, 0, 5, 5, 9, 9, 0, 0}, 4), back;
    struct bytes once = shape_to_wkb(&flat, &arena);
    assert_int_equal(shape_from_wkb(once, &arena, &back, &why), OUTCOME_OK);
    struct bytes twice = shape_to_wkb(&back, &arena);
    assert_memory_equal(once.at, twice.at, once.n);
}

/* Comb of 400 tall teeth: long segments reach through many strips of the index. */
static void a_comb_is_found_as_the_plain_walk_finds_it(void **state)
{
    (void)state;
    enum { TEETH = 400 };
    double *xy = arena_array(&arena, 2 * TEETH + 3, 2 * sizeof(double));
    size_t n = 0;
    for (size_t i = 0; i < 2 * TEETH; i++, n++) {
        xy[2 * n] = (double)i;
        xy[2 * n + 1] = i % 2 == 0 ? 10 : 1000;
    }
    const double end[6] = {2 * TEETH, 0, 0, 0, 0, 10};
    memcpy(xy + 2 * n, end, sizeof end);
    struct shape comb = ring_of(xy, n + 3);
    struct shape_finder *finder = NULL;
    struct random_stream r = random_make(3, 0);
    assert_int_equal(shape_finder_new(&comb, &finder, &why), OUTCOME_OK);
    for (int i = 0; i < 4000; i++) {
        double x = 820 * random_uniform(&r) - 10, y = 1020 * random_uniform(&r) - 10;
        if (i % 4 == 0)
            y = i % 8 == 0 ? 10 : 1000; /* level with the corners */
        assert_int_equal(shape_finder_contains(finder, x, y), shape_contains(&comb, x, y));
    }
    shape_finder_free(finder);
}

static void every_truncation_of_well_known_binary_is_refused(void **state)
{
    (void)state;
    struct shape a = wavy(9, 3), back;
    struct bytes wkb = shape_to_wkb(&a, &arena);
    for (size_t n = 0; n < wkb.n; n++) {
        assert_int_equal(shape_from_wkb((struct bytes){wkb.at, n}, &arena, &back, &why), OUTCOME_DATA);
        assert_true(why.sentence[0] != '\0');
    }
}

static void a_point_on_the_outline_is_inside_and_one_in_a_hole_is_not(void **state)
{
    (void)state;
    struct shape outer = shape_rectangle(&arena, 0, 0, 10, 10, 0), hole = shape_rectangle(&arena, 4, 4, 2, 2, 0), ring;
    assert_int_equal(shape_subtract(&outer, &hole, &arena, &ring, &why), OUTCOME_OK);
    assert_near(shape_area_m2(&ring), 96, 1e-9);
    assert_true(shape_contains(&ring, 0, 5));
    assert_true(shape_contains(&ring, 10, 10));
    assert_true(shape_contains(&ring, 4, 5));
    assert_false(shape_contains(&ring, 5, 5));
    assert_false(shape_contains(&ring, 10.001, 5));
    assert_true(shape_contains(&ring, 3.999, 5));
}

static void the_index_answers_as_the_plain_walk_does(void **state)
{
    (void)state;
    struct shape shape = wavy(2000, 5);
    struct shape_finder *finder = NULL;
    struct random_stream r = random_make(11, 0);
    assert_int_equal(shape_finder_new(&shape, &finder, &why), OUTCOME_OK);
    size_t inside = 0;
    for (int i = 0; i < 3000; i++) {
        double x = 500000 + 120 * (random_uniform(&r) - 0.5), y = 5700000 + 120 * (random_uniform(&r) - 0.5), d = 0;
        bool plain = shape_contains(&shape, x, y);
        inside += plain;
        assert_int_equal(shape_finder_contains(finder, x, y), plain);
        if (i % 10 == 0) {
            struct shape point = shape_points(&arena, (double[]){x, y}, 1);
            assert_int_equal(shape_distance(&shape, &point, &d, &why), OUTCOME_OK);
            assert_near(shape_finder_distance(finder, x, y), d, 1e-7);
        }
    }
    assert_in_range(inside, 500, 2500);
    const double *corner = shape.parts[0].rings[0].xy + 2 * 77;
    assert_true(shape_finder_contains(finder, corner[0], corner[1]));
    assert_near(shape_finder_outline_distance(finder, corner[0], corner[1]), 0, 1e-9);
    shape_finder_free(finder);
}

static void a_buffered_point_has_nearly_the_area_of_its_circle(void **state)
{
    (void)state;
    struct shape point = shape_points(&arena, (double[]){500000, 5700000}, 1), circle;
    assert_int_equal(shape_buffer(&point, 9.6, &arena, &circle, &why), OUTCOME_OK);
    double full = 3.141592653589793 * 9.6 * 9.6;
    assert_near(shape_area_m2(&circle) / full, 1, 5e-4); /* 128 sides: short by (2π/128)²/6 = 0.04 % */
    assert_true(shape_area_m2(&circle) < full);
}

static void areas_add_up_when_one_shape_is_cut_by_another(void **state)
{
    (void)state;
    struct shape a = wavy(300, 1), b = shape_rectangle(&arena, 500010, 5700005, 60, 60, 0.3), both, rest, all;
    assert_int_equal(shape_intersect(&a, &b, &arena, &both, &why), OUTCOME_OK);
    assert_int_equal(shape_subtract(&a, &b, &arena, &rest, &why), OUTCOME_OK);
    assert_near(shape_area_m2(&both) + shape_area_m2(&rest), shape_area_m2(&a), 1e-4);
    assert_int_equal(shape_unite((struct shape[]){a, b}, 2, &arena, &all, &why), OUTCOME_OK);
    assert_near(shape_area_m2(&all), shape_area_m2(&b) + shape_area_m2(&rest), 1e-4);
}

static void a_crossed_outline_is_refused_with_its_place(void **state)
{
    (void)state;
    struct shape bow = ring_of((double[]){0, 0, 10, 10, 10, 0, 0, 10, 0, 0}, 5), out;
    assert_int_equal(shape_buffer(&bow, 1, &arena, &out, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "5.00, 5.00"));
}

static void shapes_that_only_touch_have_nothing_in_common(void **state)
{
    (void)state;
    struct shape a = shape_rectangle(&arena, 0, 0, 10, 10, 0), b = shape_rectangle(&arena, 10, 0, 10, 10, 0), out;
    double d = 9;
    assert_int_equal(shape_intersect(&a, &b, &arena, &out, &why), OUTCOME_OK);
    assert_int_equal(out.n_parts, 0);
    assert_int_equal(shape_distance(&a, &b, &d, &why), OUTCOME_OK);
    assert_near(d, 0, 0);
}

static void one_polygon_within_another_is_at_no_distance(void **state)
{
    (void)state;
    struct shape a = shape_rectangle(&arena, 0, 0, 100, 100, 0), b = shape_rectangle(&arena, 40, 40, 10, 10, 0);
    double d = 9;
    assert_int_equal(shape_distance(&a, &b, &d, &why), OUTCOME_OK);
    assert_near(d, 0, 0);
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
        cmocka_unit_test_teardown(a_rectangle_has_its_area_outline_and_box, clear),
        cmocka_unit_test_teardown(well_known_binary_comes_back_the_same, clear),
        cmocka_unit_test_teardown(a_flat_ring_is_not_turned_at_each_reading, clear),
        cmocka_unit_test_teardown(a_comb_is_found_as_the_plain_walk_finds_it, clear),
        cmocka_unit_test_teardown(every_truncation_of_well_known_binary_is_refused, clear),
        cmocka_unit_test_teardown(a_point_on_the_outline_is_inside_and_one_in_a_hole_is_not, clear),
        cmocka_unit_test_teardown(the_index_answers_as_the_plain_walk_does, clear),
        cmocka_unit_test_teardown(a_buffered_point_has_nearly_the_area_of_its_circle, clear),
        cmocka_unit_test_teardown(areas_add_up_when_one_shape_is_cut_by_another, clear),
        cmocka_unit_test_teardown(a_crossed_outline_is_refused_with_its_place, clear),
        cmocka_unit_test_teardown(shapes_that_only_touch_have_nothing_in_common, clear),
        cmocka_unit_test_teardown(one_polygon_within_another_is_at_no_distance, clear),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
