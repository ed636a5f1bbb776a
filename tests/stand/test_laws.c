/* SPDX-License-Identifier: GPL-3.0-or-later
 * Laws of crowded stands that nothing in stand/ was fitted to: self-thinning, Reineke's slope, inequality, constant final
 * yield, death among the overtopped. Ground without edges, one species, so that the law is about crowding alone. */
#include "woods.h"

#include "../testlib.h"

struct trial {
    struct stand_kind kinds[WOOD_KINDS];
    struct stand_plant plants[2500];
    struct stand_setting setting;
    struct stand_result result;
    struct arena arena;
};

static void grow(struct trial *t, size_t n, double density, int only, int years, size_t runs)
{
    struct failure why = {0};
    wood_kinds(t->kinds);
    stand_setting_init(&t->setting);
    t->setting.box = wood_plants(t->plants, n, density, only, 3);
    t->setting.kinds = t->kinds;
    t->setting.n_kinds = WOOD_KINDS;
    t->setting.plants = t->plants;
    t->setting.n_plants = n;
    t->setting.endless = true;
    t->setting.years = years;
    t->setting.runs = runs;
    t->setting.inequality = true;
    t->arena = (struct arena){0};
    assert_int_equal(stand_look_ahead(&t->setting, &t->arena, &t->result, &why), OUTCOME_OK);
}

static double middle(const struct trial *t, enum stand_measure m, int year)
{
    return stand_quantile(&t->result, m, year, 0.5);
}

/* Slope of log mean mass on log density, and of log density on log diameter at 1.3 m, while crowding kills: from the year in
 * which half of the plants have gone to the last with 0.08 plants to the square metre. */
static void slopes(const struct trial *t, double *yoda, double *reineke)
{
    double n[101], w[101], d[101], cut, r;
    size_t k = 0;
    for (int year = 1; year <= t->result.years; year++) {
        double alive = middle(t, STAND_ALIVE, year), per_m2 = alive / t->result.area_m2;
        if (alive > 0.5 * (double)t->result.n_plants || per_m2 < 0.08)
            continue;
        n[k] = log10(per_m2);
        w[k] = log10(1000 * middle(t, STAND_MASS, year) / per_m2);
        d[k] = log10(middle(t, STAND_BREAST, year));
        k++;
    }
    assert_true(k >= 15);
    stand_axis(n, w, k, yoda, &cut, &r);
    assert_true(r < -0.99);
    stand_axis(d, n, k, reineke, &cut, &r);
    assert_true(r < -0.99);
}

static void a_crowded_stand_thins_itself_along_a_slope_near_minus_three_halves(void **state)
{
    (void)state;
    static const int kinds[] = {0, 1, 2, 4};
    double sum = 0, sum_reineke = 0;
    for (size_t k = 0; k < 4; k++) {
        static struct trial t;
        double yoda, reineke;
        grow(&t, 2000, 5, kinds[k], 60, 8);
        slopes(&t, &yoda, &reineke);
        printf("# %s: mass on density %.2f, density on diameter %.2f\n", t.kinds[kinds[k]].name, yoda, reineke);
        /* Yoda et al. 1963: -3/2; West, Brown & Enquist 1997: -4/3; stands of trees spread between about -1.2 and -1.8 (Weller 1987,
         * Ecol. Monogr. 57:23, from memory) */
        assert_true(yoda < -1.2 && yoda > -1.8);
        assert_true(reineke < -1.3 && reineke > -2.1);
        sum += yoda / 4;
        sum_reineke += reineke / 4;
        arena_clear(&t.arena);
    }
    assert_near(sum, -1.5, 0.15);
    assert_near(sum_reineke, -1.605, 0.25); /* Reineke 1933 */
}

static void inequality_of_size_rises_while_they_crowd_and_falls_as_the_small_die(void **state)
{
    (void)state;
    static struct trial t;
    grow(&t, 2000, 5, -1, 60, 8);
    double top = 0;
    int at = 0;
    for (int year = 0; year <= 60; year++)
        if (middle(&t, STAND_GINI, year) > top) {
            top = middle(&t, STAND_GINI, year);
            at = year;
        }
    printf("# Gini %.2f at planting, %.2f in year %d, %.2f in year 60\n", middle(&t, STAND_GINI, 0), top, at, middle(&t, STAND_GINI, 60));
    assert_true(at >= 5 && at <= 35);
    assert_true(top > middle(&t, STAND_GINI, 0) + 0.2);
    assert_true(top > middle(&t, STAND_GINI, 60) + 0.05);
    arena_clear(&t.arena);
}

static void final_yield_does_not_depend_on_the_density_planted(void **state)
{
    (void)state;
    static const double densities[] = {1, 2, 3, 5};
    double young[4], old[4];
    for (size_t k = 0; k < 4; k++) {
        static struct trial t;
        grow(&t, 1600, densities[k], -1, 40, 8);
        young[k] = middle(&t, STAND_MASS, 5);
        old[k] = middle(&t, STAND_MASS, 40);
        printf("# %g/m²: %.2f kg/m² in year 5, %.1f in year 40\n", densities[k], young[k], old[k]);
        arena_clear(&t.arena);
    }
    /* Kira, Ogawa & Sakazaki 1953; Shinozaki & Kira 1956: yield rises with density when young, and levels out */
    assert_true(young[3] > 2 * young[0]);
    for (size_t k = 1; k < 4; k++)
        assert_near(old[k] / old[0], 1.0, 0.25);
}

static void more_of_the_overtopped_die(void **state)
{
    (void)state;
    static struct trial t;
    grow(&t, 2000, 3, -1, 30, 8);
    double over = 0, over_dead = 0, others = 0, others_dead = 0;
    for (int year = 8; year <= 30; year++) {
        over += stand_mean_of(&t.result, t.result.over, 4, 0, year);
        over_dead += stand_mean_of(&t.result, t.result.over, 4, 1, year);
        others += stand_mean_of(&t.result, t.result.over, 4, 2, year);
        others_dead += stand_mean_of(&t.result, t.result.over, 4, 3, year);
    }
    printf("# deaths a year: overtopped %.1f %%, others %.1f %%\n", 100 * over_dead / over, 100 * others_dead / others);
    assert_true(over_dead / over > 2 * others_dead / others);
    arena_clear(&t.arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_crowded_stand_thins_itself_along_a_slope_near_minus_three_halves),
        cmocka_unit_test(inequality_of_size_rises_while_they_crowd_and_falls_as_the_small_die),
        cmocka_unit_test(final_yield_does_not_depend_on_the_density_planted),
        cmocka_unit_test(more_of_the_overtopped_die),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
