/* SPDX-License-Identifier: GPL-3.0-or-later
 * The look ahead: the same bytes however it is run, sizes and counts that can be, bad input refused, light as it should be. */
#include "stand/quick.h"
#include "woods.h"

#include "../testlib.h"

struct fixture {
    struct stand_kind kinds[WOOD_KINDS];
    struct stand_plant plants[400];
    struct stand_setting setting;
    struct arena arena;
};

static void fixture_make(struct fixture *f, size_t n, double density)
{
    wood_kinds(f->kinds);
    f->arena = (struct arena){0};
    stand_setting_init(&f->setting);
    f->setting.box = wood_plants(f->plants, n, density, -1, 5);
    f->setting.kinds = f->kinds;
    f->setting.n_kinds = WOOD_KINDS;
    f->setting.plants = f->plants;
    f->setting.n_plants = n;
    f->setting.years = 20;
    f->setting.runs = 12;
}

static size_t measures(const struct stand_result *r)
{
    return r->runs * ((size_t)r->years + 1) * STAND_MEASURES;
}

static void any_number_of_threads_gives_the_same_bytes(void **state)
{
    (void)state;
    static struct fixture f;
    static const int show[] = {5, 20};
    struct stand_result one, many;
    struct failure why = {0};
    fixture_make(&f, 400, 3);
    f.setting.show = show;
    f.setting.n_show = 2;
    f.setting.threads = 1;
    assert_int_equal(stand_look_ahead(&f.setting, &f.arena, &one, &why), OUTCOME_OK);
    f.setting.threads = 5;
    assert_int_equal(stand_look_ahead(&f.setting, &f.arena, &many, &why), OUTCOME_OK);
    assert_memory_equal(one.measure, many.measure, measures(&one) * sizeof(float));
    assert_memory_equal(one.plant_height, many.plant_height, 800 * sizeof(uint64_t));
    assert_memory_equal(one.plant_mature, many.plant_mature, 800 * sizeof(uint32_t));
    arena_clear(&f.arena);
}

static void fewer_runs_are_the_first_of_more(void **state)
{
    (void)state;
    static struct fixture f;
    struct stand_result few, more;
    struct failure why = {0};
    fixture_make(&f, 200, 2);
    f.setting.runs = 4;
    assert_int_equal(stand_look_ahead(&f.setting, &f.arena, &few, &why), OUTCOME_OK);
    f.setting.runs = 9;
    assert_int_equal(stand_look_ahead(&f.setting, &f.arena, &more, &why), OUTCOME_OK);
    assert_memory_equal(few.measure, more.measure, measures(&few) * sizeof(float));
    arena_clear(&f.arena);
}

static void nothing_shrinks_nobody_rises_from_the_dead_and_deaths_add_up(void **state)
{
    (void)state;
    static struct fixture f;
    struct stand_result r;
    struct failure why = {0};
    fixture_make(&f, 400, 4);
    assert_int_equal(stand_look_ahead(&f.setting, &f.arena, &r, &why), OUTCOME_OK);
    for (size_t run = 0; run < r.runs; run++)
        for (size_t year = 1; year <= 20; year++) {
            size_t row = run * 21 + year;
            const float *now = r.measure + row * STAND_MEASURES, *before = now - STAND_MEASURES;
            double dead = 0;
            for (int k = 0; k < STAND_DEATHS; k++)
                dead += (double)r.deaths[row * STAND_DEATHS + (size_t)k];
            assert_near((double)before[STAND_ALIVE] - (double)now[STAND_ALIVE], dead, 0.01);
            assert_true(now[STAND_TOP_HEIGHT] < 40 && now[STAND_MASS] > 0 && now[STAND_COVER] >= 0 && now[STAND_COVER] <= 1);
            assert_true(now[STAND_FLOOR] > 0 && now[STAND_FLOOR] <= 1.0001f);
        }
    arena_clear(&f.arena);
}

static void a_plant_alone_grows_taller_than_one_in_a_thicket_is_thick(void **state)
{
    (void)state;
    static struct fixture f;
    struct stand_result alone, crowd;
    struct failure why = {0};
    fixture_make(&f, 4, 0.01);
    f.setting.runs = 40;
    assert_int_equal(stand_look_ahead(&f.setting, &f.arena, &alone, &why), OUTCOME_OK);
    f.setting.box = wood_plants(f.plants, 400, 5, -1, 5);
    f.setting.n_plants = 400;
    assert_int_equal(stand_look_ahead(&f.setting, &f.arena, &crowd, &why), OUTCOME_OK);
    double slender_alone = stand_quantile(&alone, STAND_HEIGHT, 12, 0.5) / stand_quantile(&alone, STAND_DIAMETER, 12, 0.5);
    double slender_crowd = stand_quantile(&crowd, STAND_HEIGHT, 12, 0.5) / stand_quantile(&crowd, STAND_DIAMETER, 12, 0.5);
    assert_true(slender_crowd > 1.15 * slender_alone);
    assert_true(stand_quantile(&alone, STAND_DIAMETER, 12, 0.5) > 1.3 * stand_quantile(&crowd, STAND_DIAMETER, 12, 0.5));
    arena_clear(&f.arena);
}

static void a_wall_to_the_south_slows_what_grows_behind_it(void **state)
{
    (void)state;
    static struct fixture f;
    struct stand_result open, shaded, north;
    struct failure why = {0};
    fixture_make(&f, 300, 3);
    assert_int_equal(stand_look_ahead(&f.setting, &f.arena, &open, &why), OUTCOME_OK);
    struct shape south = shape_rectangle(&f.arena, -20, -6, 60, 4, 0), far = shape_rectangle(&f.arena, -20, 14, 60, 4, 0);
    struct stand_shade shade = {&south, 12, 0, 0};
    f.setting.shades = &shade;
    f.setting.n_shades = 1;
    assert_int_equal(stand_look_ahead(&f.setting, &f.arena, &shaded, &why), OUTCOME_OK);
    shade.shape = &far;
    assert_int_equal(stand_look_ahead(&f.setting, &f.arena, &north, &why), OUTCOME_OK);
    double a = stand_quantile(&open, STAND_MASS, 10, 0.5), b = stand_quantile(&shaded, STAND_MASS, 10, 0.5),
           c = stand_quantile(&north, STAND_MASS, 10, 0.5);
    assert_true(b < 0.9 * a);
    assert_true(b < c && c < a);
    arena_clear(&f.arena);
}

static void dry_years_cost_growth_and_lives(void **state)
{
    (void)state;
    static struct fixture f;
    struct stand_result wet, dry;
    struct failure why = {0};
    static const double good[] = {1.0}, bad[] = {0.5};
    fixture_make(&f, 300, 3);
    f.setting.weather = (struct stand_weather){good, 1};
    assert_int_equal(stand_look_ahead(&f.setting, &f.arena, &wet, &why), OUTCOME_OK);
    f.setting.weather = (struct stand_weather){bad, 1};
    assert_int_equal(stand_look_ahead(&f.setting, &f.arena, &dry, &why), OUTCOME_OK);
    assert_true(stand_quantile(&dry, STAND_ALIVE, 5, 0.5) < 0.85 * stand_quantile(&wet, STAND_ALIVE, 5, 0.5));
    assert_true(stand_quantile(&dry, STAND_HEIGHT, 5, 0.5) < 0.9 * stand_quantile(&wet, STAND_HEIGHT, 5, 0.5));
    arena_clear(&f.arena);
}

static void damage_falls_as_the_thicket_is_denser(void **state)
{
    (void)state;
    static struct fixture f;
    struct failure why = {0};
    double share[2];
    static const double densities[] = {0.5, 5};
    for (int k = 0; k < 2; k++) {
        struct stand_result r;
        fixture_make(&f, 400, densities[k]);
        f.setting.runs = 30;
        assert_int_equal(stand_look_ahead(&f.setting, &f.arena, &r, &why), OUTCOME_OK);
        share[k] = 0;
        for (int year = 1; year <= 4; year++)
            share[k] += stand_mean_of(&r, r.deaths, STAND_DEATHS, DEATH_DAMAGE, year);
        arena_clear(&f.arena);
    }
    assert_true(share[1] < 0.5 * share[0]);
}

static void arrivals_come_only_where_they_are_asked_for_and_there_is_light(void **state)
{
    (void)state;
    static struct fixture f;
    struct stand_result none, some;
    struct failure why = {0};
    static const bool arriving[WOOD_KINDS] = {false, true};
    fixture_make(&f, 40, 0.1);
    f.setting.arriving = arriving;
    assert_int_equal(stand_look_ahead(&f.setting, &f.arena, &none, &why), OUTCOME_OK);
    f.setting.arrivals_m2 = 0.05;
    assert_int_equal(stand_look_ahead(&f.setting, &f.arena, &some, &why), OUTCOME_OK);
    assert_true(stand_quantile(&none, STAND_ALIVE, 10, 1) <= 40);
    assert_true(stand_quantile(&some, STAND_ALIVE, 10, 0.5) > 100);
    assert_true(stand_quantile_of(&some, some.kind_alive, WOOD_KINDS, 2, 10, 1) <= 40);
    arena_clear(&f.arena);
}

static void what_cannot_be_is_refused_with_words(void **state)
{
    (void)state;
    static struct fixture f;
    struct stand_result r;
    struct failure why = {0};
    fixture_make(&f, 20, 1);
    f.plants[3].height_m = -1;
    assert_int_equal(stand_look_ahead(&f.setting, &f.arena, &r, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "Plant 4"));
    f.plants[3].height_m = 0.5;
    f.plants[5].x_m = NAN;
    assert_int_equal(stand_look_ahead(&f.setting, &f.arena, &r, &why), OUTCOME_DATA);
    f.plants[5].x_m = 1;
    f.setting.years = 0;
    assert_int_equal(stand_look_ahead(&f.setting, &f.arena, &r, &why), OUTCOME_USAGE);
    f.setting.years = 10;
    f.setting.runs = 0;
    assert_int_equal(stand_look_ahead(&f.setting, &f.arena, &r, &why), OUTCOME_USAGE);
    arena_clear(&f.arena);
}

static bool never(void *who, double done, const char *what)
{
    (void)who, (void)done, (void)what;
    return false;
}

static void it_can_be_called_off(void **state)
{
    (void)state;
    static struct fixture f;
    struct stand_result r;
    struct failure why = {0};
    struct progress progress = {never, NULL};
    fixture_make(&f, 100, 2);
    f.setting.progress = &progress;
    assert_int_equal(stand_look_ahead(&f.setting, &f.arena, &r, &why), OUTCOME_CANCELLED);
    arena_clear(&f.arena);
}

static void the_picture_is_of_the_run_it_names(void **state)
{
    (void)state;
    static struct fixture f;
    static const int show[] = {7};
    struct stand_result r;
    struct stand_picture_plant *picture = NULL;
    struct failure why = {0};
    size_t n = 0;
    fixture_make(&f, 200, 3);
    f.setting.show = show;
    f.setting.n_show = 1;
    assert_int_equal(stand_look_ahead(&f.setting, &f.arena, &r, &why), OUTCOME_OK);
    size_t run = stand_middle_run(&r);
    assert_int_equal(stand_picture(&f.setting, run, &f.arena, &picture, &n, &why), OUTCOME_OK);
    assert_near((double)n, (double)r.measure[(run * 21 + 7) * STAND_MEASURES + STAND_ALIVE], 0.1);
    for (size_t i = 0; i < n; i++)
        assert_true(picture[i].base_m < picture[i].height_m && picture[i].crown_m > 0);
    arena_clear(&f.arena);
}

static void quick_functions_keep_close_to_the_library(void **state)
{
    (void)state;
    for (double x = -40; x <= 40; x += 0.0137) {
        float y = (float)x;
        assert_near((double)quick_exp(y) / exp((double)y), 1, 5e-7);
    }
    for (double x = 1e-6; x < 1e6; x *= 1.01) {
        float y = (float)x;
        assert_near((double)quick_log(y), log((double)y), 1e-6 + 2e-7 * fabs(log((double)y)));
        assert_near((double)quick_three_quarters(y) / pow((double)y, 0.75), 1, 1e-6);
        assert_near((double)quick_two_thirds(y) / pow((double)y, 2.0 / 3), 1, 3e-6);
    }
}

static void light_comes_more_from_the_south_in_the_north_and_sums_to_one(void **state)
{
    (void)state;
    double share[STAND_RAYS], south[STAND_RAYS];
    struct failure why = {0};
    assert_int_equal(stand_sky_shares(52, share, &why), OUTCOME_OK);
    assert_near(share[0] + share[1] + share[2] + share[3] + share[4], 1, 1e-12);
    assert_true(share[1] > share[2]);
    assert_near(share[3], share[4], 1e-9);
    assert_int_equal(stand_sky_shares(-52, south, &why), OUTCOME_OK);
    assert_near(south[2], share[1], 1e-9);
    assert_int_equal(stand_sky_shares(80, share, &why), OUTCOME_DATA);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(any_number_of_threads_gives_the_same_bytes),
        cmocka_unit_test(fewer_runs_are_the_first_of_more),
        cmocka_unit_test(nothing_shrinks_nobody_rises_from_the_dead_and_deaths_add_up),
        cmocka_unit_test(a_plant_alone_grows_taller_than_one_in_a_thicket_is_thick),
        cmocka_unit_test(a_wall_to_the_south_slows_what_grows_behind_it),
        cmocka_unit_test(dry_years_cost_growth_and_lives),
        cmocka_unit_test(damage_falls_as_the_thicket_is_denser),
        cmocka_unit_test(arrivals_come_only_where_they_are_asked_for_and_there_is_light),
        cmocka_unit_test(what_cannot_be_is_refused_with_words),
        cmocka_unit_test(it_can_be_called_off),
        cmocka_unit_test(the_picture_is_of_the_run_it_names),
        cmocka_unit_test(quick_functions_keep_close_to_the_library),
        cmocka_unit_test(light_comes_more_from_the_south_in_the_north_and_sums_to_one),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
