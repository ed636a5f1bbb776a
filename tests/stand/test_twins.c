/* SPDX-License-Identifier: GPL-3.0-or-later
 * Woods grown by the look ahead itself stand in for the truth: from their censuses the correction must find back what made them,
 * and its ranges must hold as much as they say. */
#include "woods.h"

#include "../testlib.h"

enum { PLANTS = 400, CENSUSES = 5 };

struct twin {
    struct stand_kind kinds[WOOD_KINDS];
    struct stand_plant plants[PLANTS];
    unsigned char fate[CENSUSES][PLANTS];
    double height[CENSUSES][PLANTS], diameter[CENSUSES][PLANTS];
    struct stand_census censuses[CENSUSES];
    struct stand_history history;
    struct stand_setting setting;
    struct arena arena;
};

/* Grow a truth with these factors and take a census of it every year. */
static void twin_make(struct twin *t, const double *factors, uint64_t seed)
{
    static const int show[CENSUSES] = {0, 1, 2, 3, 4};
    struct failure why = {0};
    struct stand_picture_plant *pictures[CENSUSES] = {NULL};
    size_t n[CENSUSES] = {0};
    wood_kinds(t->kinds);
    t->arena = (struct arena){0};
    stand_setting_init(&t->setting);
    t->setting.box = wood_plants(t->plants, PLANTS, 3, -1, seed);
    t->setting.kinds = t->kinds;
    t->setting.n_kinds = WOOD_KINDS;
    t->setting.plants = t->plants;
    t->setting.n_plants = PLANTS;
    struct stand_setting truth = t->setting;
    truth.seed = 1000003 * (seed + 1);
    truth.years = CENSUSES - 1;
    truth.runs = 1;
    truth.factors = factors;
    truth.show = show;
    truth.n_show = CENSUSES;
    assert_int_equal(stand_picture(&truth, 0, &t->arena, pictures, n, &why), OUTCOME_OK);
    for (int c = 0; c < CENSUSES; c++) {
        for (int i = 0; i < PLANTS; i++) {
            t->fate[c][i] = FATE_DEAD;
            t->height[c][i] = t->diameter[c][i] = unknown_real();
        }
        for (size_t k = 0; k < n[c]; k++) {
            size_t i = pictures[c][k].plant;
            t->fate[c][i] = FATE_ALIVE;
            t->height[c][i] = pictures[c][k].height_m;
            t->diameter[c][i] = pictures[c][k].diameter_cm;
        }
        t->censuses[c] =
            (struct stand_census){.fate = t->fate[c], .height_m = t->height[c], .diameter_cm = t->diameter[c], .seasons = c > 0};
    }
    t->history = (struct stand_history){t->plants, PLANTS, t->censuses, CENSUSES};
}

static double mean_log(const double *factors, size_t runs, enum stand_factor f)
{
    double sum = 0;
    for (size_t r = 0; r < runs; r++)
        for (size_t k = 0; k < WOOD_KINDS; k++)
            sum += log(factors[(r * WOOD_KINDS + k) * STAND_FACTORS + (size_t)f]);
    return sum / (double)(runs * WOOD_KINDS);
}

static void records_pull_the_parameters_towards_what_made_them(void **state)
{
    (void)state;
    static struct twin t;
    struct failure why = {0};
    struct stand_hindsight h;
    enum { RUNS = 200, TWINS = 8 };
    static const double made[] = {
        [FACTOR_GROWTH] = 0.65, [FACTOR_HEIGHT] = 0.7, [FACTOR_DEATH] = 2.2, [FACTOR_LIGHT] = 1, [FACTOR_YIELD] = 1};
    static double truth[WOOD_KINDS * STAND_FACTORS], factors[RUNS * WOOD_KINDS * STAND_FACTORS];
    double found[STAND_FACTORS] = {0};
    for (size_t i = 0; i < WOOD_KINDS * STAND_FACTORS; i++)
        truth[i] = made[i % STAND_FACTORS];
    for (uint64_t twin = 0; twin < TWINS; twin++) { /* several worlds: each has its own run of good and bad years */
        twin_make(&t, truth, 40 + twin);
        t.setting.runs = RUNS;
        stand_factors_draw(&t.setting.doubt, WOOD_KINDS, RUNS, 9 + twin, factors);
        assert_int_equal(stand_hindcast(&t.setting, &t.history, 5, factors, &t.arena, &h, &why), OUTCOME_OK);
        for (int f = 0; f < STAND_FACTORS; f++)
            found[f] += mean_log(factors, RUNS, (enum stand_factor)f) / TWINS;
        arena_clear(&t.arena);
    }
    printf("# factors found: growth %.2f (made with 0.65), height %.2f (0.70), death %.2f (2.20)\n", exp(found[FACTOR_GROWTH]),
           exp(found[FACTOR_HEIGHT]), exp(found[FACTOR_DEATH]));
    /* four seasons cannot tell a poor place from poor years, and tempering is careful: a third of the way at least */
    assert_true(found[FACTOR_GROWTH] < 0.33 * log(0.65));
    assert_true(found[FACTOR_HEIGHT] < 0.33 * log(0.7));
    assert_true(found[FACTOR_DEATH] > 0.33 * log(2.2));
}

static void ranges_hold_what_they_say_where_the_form_is_right(void **state)
{
    (void)state;
    static struct twin t;
    enum { RUNS = 100, TWINS = 25 };
    static double truth[WOOD_KINDS * STAND_FACTORS], factors[RUNS * WOOD_KINDS * STAND_FACTORS];
    double n[2][2] = {{0}}, in50[2][2] = {{0}}, in90[2][2] = {{0}};
    for (uint64_t twin = 0; twin < TWINS; twin++) {
        struct failure why = {0};
        struct stand_hindsight h;
        struct stand_doubt doubt = stand_doubt_default();
        stand_factors_draw(&doubt, WOOD_KINDS, 1, 500 + twin, truth);
        twin_make(&t, truth, twin);
        t.setting.runs = RUNS;
        stand_factors_draw(&doubt, WOOD_KINDS, RUNS, 9, factors);
        assert_int_equal(stand_hindcast(&t.setting, &t.history, 10, factors, &t.arena, &h, &why), OUTCOME_OK);
        for (size_t i = 0; i < h.n_told; i++) {
            const struct stand_told *told = &h.told[i];
            size_t of = told->of == TOLD_ALIVE ? 0 : 1, later = told->census > 1;
            n[of][later] += 1;
            in50[of][later] += told->seen >= told->low50 && told->seen <= told->high50;
            in90[of][later] += told->seen >= told->low90 && told->seen <= told->high90;
        }
        arena_clear(&t.arena);
    }
    for (size_t of = 0; of < 2; of++)
        for (size_t later = 0; later < 2; later++) {
            double half = in50[of][later] / n[of][later], most = in90[of][later] / n[of][later];
            printf("# %s, %s: of %.0f forecasts %.0f %% in the 50 %% range, %.0f %% in the 90 %% range\n", of == 0 ? "living" : "sizes",
                   later ? "corrected" : "before", n[of][later], 100 * half, 100 * most);
            /* counts are whole numbers, so ranges of few plants hold more; 25 worlds only, whose kinds share their luck */
            assert_true(half > 0.35 && half < 0.85);
            assert_true(most > 0.80);
        }
}

static void a_census_that_says_nothing_changes_little(void **state)
{
    (void)state;
    static struct twin t;
    struct failure why = {0};
    struct stand_hindsight h;
    enum { RUNS = 200 };
    static double truth[WOOD_KINDS * STAND_FACTORS], factors[RUNS * WOOD_KINDS * STAND_FACTORS];
    for (size_t i = 0; i < WOOD_KINDS * STAND_FACTORS; i++)
        truth[i] = 1;
    twin_make(&t, truth, 2);
    for (int c = 1; c < CENSUSES; c++)
        memset(t.fate[c], FATE_UNKNOWN, PLANTS);
    t.setting.runs = RUNS;
    stand_factors_draw(&t.setting.doubt, WOOD_KINDS, RUNS, 9, factors);
    double before = mean_log(factors, RUNS, FACTOR_DEATH), first = factors[17];
    assert_int_equal(stand_hindcast(&t.setting, &t.history, 5, factors, &t.arena, &h, &why), OUTCOME_OK);
    assert_int_equal(h.n_told, 0);
    assert_near(mean_log(factors, RUNS, FACTOR_DEATH), before, 1e-12);
    assert_near(factors[17], first, 0);
    arena_clear(&t.arena);
}

static void scores_are_known_where_they_can_be_reckoned_by_hand(void **state)
{
    (void)state;
    double two[] = {3, 1}, tie[] = {2, 2, 2, 5};
    assert_near(stand_crps(two, 2, 2), 0.5, 1e-12);
    assert_near(stand_rank(tie, 4, 2), 3 * 0.5 / 4, 1e-12);
    assert_near(stand_crps_counts(1, 1, 1, 1), 0.25, 1e-12); /* even chance of 0 and 1 */
    assert_near(stand_crps_normal(5, 0, 3), 2, 1e-12);
    assert_near(stand_alive_likelihood(3, 5, 0.4, 0), log(10 * 0.064 * 0.36), 1e-9);
    struct stand_told told[] = {{.seen = 5, .middle = 6, .low50 = 5, .high50 = 7, .low90 = 4, .high90 = 8, .crps = 0.5, .plain_crps = 1},
                                {.seen = 9, .middle = 6, .low50 = 5, .high50 = 7, .low90 = 4, .high90 = 8, .crps = 2, .plain_crps = 1}};
    struct stand_skill skill = stand_skill_of(told, 2);
    assert_near(skill.in50, 0.5, 1e-12);
    assert_near(skill.in90, 0.5, 1e-12);
    assert_near(skill.bias, -1, 1e-12);
    assert_near(skill.miss, 2, 1e-12);
    assert_near(skill.skill, -0.25, 1e-12); /* worse than the plain rule, and said so */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(records_pull_the_parameters_towards_what_made_them),
        cmocka_unit_test(ranges_hold_what_they_say_where_the_form_is_right),
        cmocka_unit_test(a_census_that_says_nothing_changes_little),
        cmocka_unit_test(scores_are_known_where_they_can_be_reckoned_by_hand),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
