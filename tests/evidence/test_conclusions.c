/* SPDX-License-Identifier: GPL-3.0-or-later
 * Wrong-conclusion trial, short form (bench_conclusions has the long one): programmes drawn from a known truth in which the usual
 * reading misleads. Invented data. */
#include "worlds.h"

#include "testlib.h"

enum { RUNS = 40, SITES = 8 };

static void check(enum world world, size_t naive_least)
{
    size_t wrong = 0, naive = 0;
    for (uint64_t i = 0; i < RUNS; i++) {
        struct world_said said = world_run(world, SITES, i);
        wrong += said.wrong;
        naive += said.naive_wrong;
    }
    print_message("%s: wrong %zu of %d, the usual reading %zu\n", world_words(world), wrong, RUNS, naive);
    assert_true(wrong <= RUNS / 20);
    assert_true(naive >= naive_least);
}

static void no_effect_is_not_found(void **state)
{
    (void)state;
    check(WORLD_NO_EFFECT, 5);
}
static void density_gets_no_credit_for_loosened_ground(void **state)
{
    (void)state;
    check(WORLD_PREPARATION_ONLY, 35);
}
static void survivors_do_not_make_growth(void **state)
{
    (void)state;
    check(WORLD_SURVIVOR_BIAS, 35);
}
static void more_looking_does_not_make_kinds(void **state)
{
    (void)state;
    check(WORLD_UNEVEN_EFFORT, 35);
}
static void lost_labels_do_not_make_survivors(void **state)
{
    (void)state;
    check(WORLD_TAGS_LOST, 35);
}
static void water_is_not_the_recipe(void **state)
{
    (void)state;
    check(WORLD_WATERING, 35);
}
static void one_flooded_plot_does_not_decide(void **state)
{
    (void)state;
    check(WORLD_BAD_PLOT, 20);
}

static void what_is_real_is_found(void **state)
{
    (void)state;
    size_t right = 0, wrong = 0;
    for (uint64_t i = 0; i < RUNS; i++) {
        struct world_said said = world_run(WORLD_REAL, SITES, i);
        right += said.right;
        wrong += said.wrong;
    }
    assert_true(right >= RUNS * 3 / 4);
    assert_int_equal(wrong, 0);
}

static void the_same_seed_gives_the_same_programme(void **state)
{
    (void)state;
    struct world_said a = world_run(WORLD_NO_EFFECT, SITES, 7), b = world_run(WORLD_NO_EFFECT, SITES, 7);
    assert_near(a.figure, b.figure, 0);
    assert_near(a.naive, b.naive, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_effect_is_not_found),
        cmocka_unit_test(density_gets_no_credit_for_loosened_ground),
        cmocka_unit_test(survivors_do_not_make_growth),
        cmocka_unit_test(more_looking_does_not_make_kinds),
        cmocka_unit_test(lost_labels_do_not_make_survivors),
        cmocka_unit_test(water_is_not_the_recipe),
        cmocka_unit_test(one_flooded_plot_does_not_decide),
        cmocka_unit_test(what_is_real_is_found),
        cmocka_unit_test(the_same_seed_gives_the_same_programme),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
