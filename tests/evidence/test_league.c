/* SPDX-License-Identifier: GPL-3.0-or-later
 * evidence/: the species league. Invented data. */
#include "evidence/league.h"
#include "made.h"
#include "testlib.h"

struct league_case {
    struct made made;
    struct species_league league;
};

/* Plots of `n` plants of a species, of which `alive` live, on a plot. */
static void species_put(struct made *m, size_t plot, const size_t visits[2], const char *species, int alive, int n)
{
    for (int i = 0; i < n; i++) {
        size_t plant = made_plant(m, plot, species, ORIGIN_FIRST_PLANTING);
        made_record(m, visits[0], plant, STATUS_ALIVE, 50);
        made_record(m, visits[1], plant, i < alive ? STATUS_ALIVE : STATUS_DEAD_STANDING, 60);
    }
}

static void league_of(struct league_case *c)
{
    struct evidence_facts facts = made_facts(&c->made);
    struct plot_lives *lives = NULL;
    struct failure why = {0};
    size_t plots[8];
    for (size_t i = 0; i < facts.n_plots; i++)
        plots[i] = i;
    assert_int_equal(evidence_lives(&facts, &c->made.arena, &lives, &why), OUTCOME_OK);
    assert_int_equal(evidence_league(lives, plots, facts.n_plots, &league_rules_usual, 0.95, 1, &c->made.arena, &c->league, &why),
                     OUTCOME_OK);
}

static const struct league_line *line_of(const struct species_league *l, const char *species)
{
    for (size_t i = 0; i < l->n; i++)
        if (text_same(l->lines[i].species, species))
            return &l->lines[i];
    fail_msg("%s is not in the league", species);
    return NULL;
}

static struct league_case plots_make(size_t plots, const int of[][3][2])
{
    static const char *const codes[] = {"D1", "D2", "D3", "D4"}, *const sites[] = {"A", "B", "C", "D"},
                             *const species[] = {"Crataegus monogyna", "Betula pendula", "Tilia cordata"};
    struct league_case c = {0};
    int32_t day = date_make(2022, 2, 1);
    for (size_t i = 0; i < plots; i++) {
        size_t site = made_site(&c.made, sites[i]), plot = made_plot(&c.made, site, codes[i], REGIME_DENSE_PREPARED, 3, 100, day);
        size_t visits[2] = {made_visit(&c.made, site, day + 5, true), made_visit(&c.made, site, day + 600, false)};
        for (int k = 0; k < 3; k++)
            species_put(&c.made, plot, visits, species[k], of[i][k][0], of[i][k][1]);
    }
    league_of(&c);
    return c;
}

static void three_lucky_plants_do_not_lead(void **state)
{
    (void)state;
    const int of[3][3][2] = {{{90, 100}, {60, 100}, {3, 3}}, {{85, 100}, {55, 100}, {0, 0}}, {{92, 100}, {65, 100}, {0, 0}}};
    struct league_case c = plots_make(3, of);
    const struct league_line *lucky = line_of(&c.league, "Tilia cordata"), *hawthorn = line_of(&c.league, "Crataegus monogyna");
    assert_near(lucky->raw.value, 1, 0); /* the naive reading puts it first */
    assert_string_equal(c.league.lines[0].species, "Crataegus monogyna");
    assert_true(lucky->fair.value < hawthorn->fair.value);
    assert_int_equal(lucky->verdict, LEAGUE_TOO_FEW);
    assert_int_equal(hawthorn->verdict, LEAGUE_MORE);
    assert_int_equal(line_of(&c.league, "Betula pendula")->verdict, LEAGUE_DROP);
    assert_true(lucky->rank_low <= 1 && lucky->rank_high >= 2);
    made_free(&c.made);
}

/* Birch stands on the good plots only, lime on the bad one only: counted together birch wins, plot by plot lime does. */
static void a_species_of_bad_ground_is_not_punished_for_the_ground(void **state)
{
    (void)state;
    const int of[3][3][2] = {{{95, 100}, {90, 100}, {0, 0}}, {{96, 100}, {90, 100}, {0, 0}}, {{40, 100}, {10, 40}, {45, 100}}};
    struct league_case c = plots_make(3, of);
    const struct league_line *birch = line_of(&c.league, "Betula pendula"), *lime = line_of(&c.league, "Tilia cordata");
    assert_true(birch->raw.value > lime->raw.value + 0.2);
    assert_true(lime->fair.value > birch->fair.value);
    made_free(&c.made);
}

static void one_plot_falls_back_on_counts(void **state)
{
    (void)state;
    const int of[1][3][2] = {{{90, 100}, {50, 100}, {9, 10}}};
    struct league_case c = plots_make(1, of);
    assert_false(c.league.by_model);
    assert_string_equal(c.league.lines[0].species, "Crataegus monogyna");
    made_free(&c.made);
}

static void species_alike_share_ranks(void **state)
{
    (void)state;
    const int of[2][3][2] = {{{80, 100}, {80, 100}, {80, 100}}, {{80, 100}, {80, 100}, {80, 100}}};
    struct league_case c = plots_make(2, of);
    assert_true(c.league.no_spread);
    for (size_t i = 0; i < c.league.n; i++) {
        assert_int_equal(c.league.lines[i].verdict, LEAGUE_KEEP);
        assert_near(c.league.lines[i].rank, 2, 0.2);
    }
    made_free(&c.made);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(three_lucky_plants_do_not_lead),
        cmocka_unit_test(a_species_of_bad_ground_is_not_punished_for_the_ground),
        cmocka_unit_test(one_plot_falls_back_on_counts),
        cmocka_unit_test(species_alike_share_ranks),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
