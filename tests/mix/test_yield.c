/* SPDX-License-Identifier: GPL-3.0-or-later
 * mix/: defaults that nobody asked for give way by the least that will do, found again by trying every figure; what a
 * person asked for is never touched. */
#include "mix/mix.h"
#include "../testlib.h"

static struct arena arena;
static int tear_down(void **state)
{
    (void)state;
    arena_clear(&arena);
    return 0;
}

static struct mix_species *list_make(size_t n, uint64_t seed)
{
    static const enum layer layers[] = {LAYER_CANOPY, LAYER_SUBCANOPY, LAYER_SHRUB};
    struct random_stream r = random_make(seed, 2);
    struct mix_species *list = arena_array(&arena, n, sizeof *list);
    for (size_t i = 0; i < n; i++)
        list[i] = (struct mix_species){.name = arena_print(&arena, "Genus%zu species%zu", i / 2, i),
                                       .genus = arena_print(&arena, "Genus%zu", i / 2),
                                       .layer = layers[random_below(&r, 3)],
                                       .role = (enum role)(1 + random_below(&r, 3)),
                                       .tall = random_below(&r, 3) == 0,
                                       .fit = random_uniform(&r),
                                       .frequency = (double)random_below(&r, 6),
                                       .price = unknown_real(),
                                       .stock = INT_UNKNOWN};
    return list;
}

static struct mix_result solve(const struct mix_species *list, size_t n, const struct mix_settings *settings)
{
    struct mix_result out;
    struct failure why = {0};
    if (mix_solve(list, n, settings, &arena, NULL, &out, &why) != OUTCOME_OK)
        fail_msg("%s", why.sentence);
    return out;
}

/// One figure of the settings, as plants.
struct dial {
    double *share;
    bool least; ///< giving way means less of it
};
static size_t dials_of(struct mix_settings *s, struct dial out[16])
{
    size_t n = 0;
    for (enum layer l = LAYER_CANOPY; l <= LAYER_SHRUB; l++) {
        out[n++] = (struct dial){&s->layer[l].least, true};
        out[n++] = (struct dial){&s->layer[l].most, false};
    }
    out[n++] = (struct dial){&s->pioneer.least, true};
    out[n++] = (struct dial){&s->pioneer.most, false};
    out[n++] = (struct dial){&s->tall_most, false};
    out[n++] = (struct dial){&s->species_most, false};
    out[n++] = (struct dial){&s->genus_most, false};
    return n;
}

static bool possible(const struct mix_species *list, size_t n, const struct mix_settings *s)
{
    return solve(list, n, s).state == MIX_BEST;
}

/* Fewest plants by which one figure alone has to give way; −1 if none alone is enough. Every figure is tried. */
static int64_t least_alone(const struct mix_species *list, size_t n, struct mix_settings s)
{
    struct dial dials[16];
    size_t n_dials = dials_of(&s, dials);
    int64_t best = -1;
    for (size_t k = 0; k < n_dials; k++) {
        double had = *dials[k].share;
        for (int64_t give = 1; give <= s.total && (best < 0 || give < best); give++) {
            double figure =
                dials[k].least ? ceil(had * (double)s.total - 1e-9) - (double)give : floor(had * (double)s.total + 1e-9) + (double)give;
            if (figure < 0 || figure > (double)s.total)
                break;
            *dials[k].share = figure / (double)s.total;
            if (possible(list, n, &s))
                best = give;
        }
        *dials[k].share = had;
    }
    return best;
}

static void one_default_gives_way_by_the_fewest_plants_there_are(void **state)
{
    (void)state;
    int alone = 0, none = 0;
    for (uint64_t round = 0; round < 60; round++) {
        size_t n = 6 + round % 4;
        struct mix_species *list = list_make(n, 300 + round);
        struct mix_settings s = mix_settings_dense(40);
        s.least_each = 1;
        s.count_most = INT_UNKNOWN;
        s.species_most = 0.25;
        s.genus_most = 0.35;
        if (possible(list, n, &s)) {
            struct mix_settings same = s;
            same.yields = MIX_PART_ALL;
            assert_int_equal(solve(list, n, &same).n_relaxed, 0); /* nothing gives way without need */
            continue;
        }
        int64_t wanted = least_alone(list, n, s);
        s.yields = MIX_PART_ALL;
        struct mix_result mix = solve(list, n, &s);
        assert_int_equal(mix.state, MIX_BEST);
        assert_true(mix.n_relaxed > 0);
        assert_non_null(mix.relaxed_words);
        if (wanted < 0) {
            assert_true(mix.n_relaxed > 1);
            none++;
            continue;
        }
        assert_int_equal(mix.n_relaxed, 1);
        assert_near(fabs(mix.relaxed[0].enough - mix.relaxed[0].asked), (double)wanted, 0);
        alone++;
    }
    assert_true(alone >= 8 && none >= 3);
}

static void what_a_person_asked_for_is_named_and_never_relaxed(void **state)
{
    (void)state;
    struct mix_species *list = list_make(12, 5);
    for (size_t i = 0; i < 12; i++)
        list[i].role = ROLE_PIONEER;
    struct mix_settings s = mix_settings_dense(120);
    s.yields = MIX_PART_ALL & ~(unsigned)MIX_PART_PIONEER;
    struct mix_result mix = solve(list, 12, &s);
    assert_int_equal(mix.state, MIX_IMPOSSIBLE);
    assert_int_equal(mix.n_relaxed, 0);
    assert_int_equal(mix.n_conflict, 1);
    assert_non_null(strstr(mix.conflict[0].wish, "pioneers at most"));
    s.yields = MIX_PART_ALL;
    mix = solve(list, 12, &s);
    assert_int_equal(mix.state, MIX_BEST);
    bool named = false;
    for (size_t i = 0; i < mix.n_relaxed; i++)
        named |= strstr(mix.relaxed[i].wish, "pioneers at most 36 plants") != NULL && strstr(mix.relaxed[i].to, "120 plants") != NULL;
    assert_true(named);
}

/* Four species, one of them in each of two layers only: several defaults have to give way, and every plant is still there. */
static void where_many_give_way_the_total_still_holds(void **state)
{
    (void)state;
    struct mix_species *list = list_make(4, 9);
    for (size_t i = 0; i < 4; i++) {
        list[i].layer = LAYER_SHRUB;
        list[i].role = i == 0 ? ROLE_MID : ROLE_PIONEER;
    }
    struct mix_settings s = mix_settings_dense(300);
    s.yields = MIX_PART_ALL;
    struct mix_result mix = solve(list, 4, &s);
    assert_int_equal(mix.state, MIX_BEST);
    assert_true(mix.n_relaxed >= 3);
    assert_int_equal(mix.plants[0] + mix.plants[1] + mix.plants[2] + mix.plants[3], 300);
}

/* Two plots, each with its own defaults: the one that cannot gives way, the other keeps all its wishes. */
static void of_several_plots_only_the_one_that_cannot_gives_way(void **state)
{
    (void)state;
    size_t n = 24;
    struct mix_species *list = list_make(n, 77);
    struct mix_settings plots[2] = {mix_settings_dense(300), mix_settings_dense(300)};
    struct mix_wish wishes[24];
    size_t n_wishes = 0;
    for (size_t i = 0; i < n; i++)
        if (list[i].role != ROLE_PIONEER && list[i].layer == LAYER_CANOPY)
            wishes[n_wishes++] = (struct mix_wish){i, INT_UNKNOWN, 0, "does not belong there"};
    plots[0].yields = plots[1].yields = MIX_PART_ALL;
    plots[1].wishes = wishes;
    plots[1].n_wishes = n_wishes;
    assert_int_equal(solve(list, n, &plots[0]).n_relaxed, 0);
    struct mix_joint joint = {.plots = plots, .n_plots = 2, .budget = unknown_real(), .weight_surplus = 0.2, .seconds = 20};
    struct mix_result out;
    struct failure why = {0};
    assert_int_equal(mix_solve_joint(list, n, &joint, &arena, NULL, &out, &why), OUTCOME_OK);
    assert_true(out.state == MIX_BEST || out.state == MIX_FOUND);
    assert_true(out.n_relaxed > 0);
    for (size_t i = 0; i < out.n_relaxed; i++)
        assert_non_null(strstr(out.relaxed[i].wish, "plot 2:"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_default_gives_way_by_the_fewest_plants_there_are),
        cmocka_unit_test(what_a_person_asked_for_is_named_and_never_relaxed),
        cmocka_unit_test(where_many_give_way_the_total_still_holds),
        cmocka_unit_test(of_several_plots_only_the_one_that_cannot_gives_way),
    };
    return cmocka_run_group_tests_name("mix yields", tests, NULL, tear_down);
}
