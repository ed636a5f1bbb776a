/* SPDX-License-Identifier: GPL-3.0-or-later
 * benefit/: masses that wood can have, errors that do not cancel, rain that is not made, noise that is hardly taken off. */
#include "benefit/benefit.h"
#include "../testlib.h"
#include <math.h>

/* No plant weighs more than a cylinder of dense wood and half as much again in branches. */
static void no_sapling_outweighs_its_stem_and_branches(void **state)
{
    (void)state;
    for (double d = 2; d <= 118; d *= 1.3)
        for (double h = 15; h <= 1100; h *= 1.4) {
            struct benefit_range mass;
            unsigned flags = 0;
            double slender = h * 10 / d;
            if (slender < 30 || slender > 150)
                continue;
            assert_int_equal(sapling_mass(d, h, &mass, &flags, NULL), OUTCOME_OK);
            double cylinder_g = 1.2 * 3.14159265 * (d / 20) * (d / 20) * h;
            assert_true(mass.value < 1.5 * cylinder_g);
            assert_true(mass.low < mass.value && mass.value < mass.high);
            assert_int_equal(flags, 0);
        }
}

static void the_error_of_many_plants_does_not_cancel(void **state)
{
    (void)state;
    enum { N = 500 };
    static double d[N], h[N];
    for (int i = 0; i < N; i++) {
        d[i] = i == 3 ? unknown_real() : 10 + i % 7;
        h[i] = 120;
    }
    struct stand_mass all;
    struct benefit_range one;
    assert_int_equal(sapling_stand(d, h, N, &all, NULL), OUTCOME_OK);
    assert_int_equal(sapling_mass(10, 120, &one, NULL, NULL), OUTCOME_OK);
    assert_int_equal(all.measured, N - 1);
    assert_int_equal(all.unknown, 1);
    assert_near(all.mass_kg.high / all.mass_kg.value, one.high / one.value, 1e-9);
}

static void sizes_that_cannot_be_are_refused(void **state)
{
    (void)state;
    struct benefit_range mass;
    struct failure why;
    assert_int_equal(sapling_mass(0, 50, &mass, NULL, &why), OUTCOME_DATA);
    assert_int_equal(sapling_mass(5, -1, &mass, NULL, &why), OUTCOME_DATA);
    assert_int_equal(tree_mass("oak_beech", 1, &mass, &why), OUTCOME_DATA);
    assert_int_equal(tree_mass("cactus", 10, &mass, &why), OUTCOME_USAGE);
}

static void a_canopy_never_keeps_more_than_fell(void **state)
{
    (void)state;
    double before = 0;
    struct canopy canopy = {0.6, 0.8, 0.1};
    for (double rain = 0; rain < 80; rain += 0.1) {
        double lost = 0, full = 0;
        assert_int_equal(canopy_storm(&canopy, rain, &lost, &full, NULL), OUTCOME_OK);
        assert_true(lost >= before - 1e-12 && lost <= 0.6 * rain + 1e-12);
        before = lost;
    }
    struct failure why;
    double lost = 0, full = 0;
    canopy.evaporation_rain = 0.7;
    assert_int_equal(canopy_storm(&canopy, 5, &lost, &full, &why), OUTCOME_DATA);
}

static void a_narrow_wood_takes_off_nothing_in_most_bands(void **state)
{
    (void)state;
    double bands[NOISE_BANDS];
    assert_int_equal(noise_foliage(9, bands, NULL), OUTCOME_OK);
    for (int i = 0; i < NOISE_BANDS; i++)
        assert_near(bands[i], 0, 0);
    struct failure why;
    assert_int_equal(noise_foliage(-1, bands, &why), OUTCOME_DATA);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_sapling_outweighs_its_stem_and_branches),
        cmocka_unit_test(the_error_of_many_plants_does_not_cancel),
        cmocka_unit_test(sizes_that_cannot_be_are_refused),
        cmocka_unit_test(a_canopy_never_keeps_more_than_fell),
        cmocka_unit_test(a_narrow_wood_takes_off_nothing_in_most_bands),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
