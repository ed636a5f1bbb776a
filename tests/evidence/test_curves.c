/* SPDX-License-Identifier: GPL-3.0-or-later
 * evidence/: lives over time, what was not found, causes, replacements apart. Invented data. */
#include "evidence/curves.h"
#include "made.h"
#include "testlib.h"

enum { SITES = 6, PLANTS = 60 };

struct town {
    struct made made;
    struct evidence_facts facts;
    struct plot_lives *lives;
    struct group_curves curves;
};

/* Six sites, each a dense and a conventional plot, looked at 0.6, 1.6 and 2.6 years after planting. */
static void town_build(struct town *t, int lost_labels)
{
    static const char *const codes[] = {"A", "B", "C", "D", "E", "F"};
    int32_t day = date_make(2022, 2, 1);
    for (size_t s = 0; s < SITES; s++) {
        size_t site = made_site(&t->made, codes[s]), visit[4] = {made_visit(&t->made, site, day + 3, true)};
        for (int v = 1; v < 4; v++)
            visit[v] = made_visit(&t->made, site, day + 220 + 365 * (v - 1) + (int)s, false);
        for (int k = 0; k < 2; k++) {
            size_t plot = made_plot(&t->made, site, k == 0 ? "D1" : "C1", k == 0 ? REGIME_DENSE_PREPARED : REGIME_CONVENTIONAL, 1, 60, day);
            for (int i = 0; i < PLANTS; i++) {
                size_t plant = made_plant(&t->made, plot, "Acer campestre", ORIGIN_FIRST_PLANTING);
                int dies_at = i < 6 + 8 * k ? 1 : i < 10 + 12 * k ? 2 : i < 14 + 14 * k ? 3 : 9;
                bool lost = k == 0 && i >= PLANTS - lost_labels;
                made_record(&t->made, visit[0], plant, STATUS_ALIVE, 50);
                for (int v = 1; v < 4; v++) {
                    if (lost && v == 3) {
                        made_record(&t->made, visit[v], plant, STATUS_NOT_FOUND, unknown_real());
                        continue;
                    }
                    size_t record = made_record(&t->made, visit[v], plant, v < dies_at ? STATUS_ALIVE : STATUS_DEAD_STANDING, 60);
                    t->made.records[record].damage = v < dies_at    ? DAMAGE_AGENT_NONE
                                                     : dies_at == 1 ? DAMAGE_AGENT_DROUGHT
                                                     : dies_at == 2 ? DAMAGE_AGENT_VOLE_BARK
                                                                    : DAMAGE_AGENT_UNKNOWN;
                }
            }
        }
    }
}

static void town_read(struct town *t, double chance)
{
    static const char *const names[] = {"dense", "conventional"};
    size_t group[2 * SITES];
    struct failure why = {0};
    t->facts = made_facts(&t->made);
    assert_int_equal(evidence_lives(&t->facts, &t->made.arena, &t->lives, &why), OUTCOME_OK);
    for (size_t i = 0; i < t->facts.n_plots; i++)
        group[i] = i % 2;
    struct curves_wish wish = {.group = group, .names = names, .n_groups = 2, .level = 0.95, .not_found_dead = chance, .seed = 1};
    assert_int_equal(evidence_curves(t->lives, t->facts.n_plots, &wish, &t->made.arena, &t->curves, &why), OUTCOME_OK);
}

static double last(const struct survival_curve *c)
{
    return c->survival[c->n - 1];
}

static void what_was_not_found_lies_between_its_bounds(void **state)
{
    (void)state;
    struct town t = {0};
    town_build(&t, 10);
    town_read(&t, 0.5);
    const struct group_curve *dense = &t.curves.groups[0];
    assert_int_equal(dense->open, 60);
    assert_near(last(&dense->worst), (46. - 10) / 60, 1e-9);
    assert_near(last(&dense->best), 46. / 60, 1e-9);
    assert_near(last(&dense->stated), 41. / 60, 1e-9);
    assert_true(last(&dense->worst) < last(&dense->km) && last(&dense->km) <= last(&dense->best));
    assert_int_equal(t.curves.groups[1].open, 0);
    assert_int_equal(t.curves.groups[1].worst.n, 0);
    made_free(&t.made);
}

/* Sites are looked at a day apart. Dated to the day, the curve would end far below the 46 of 60 that live on every site. */
static void looks_a_day_apart_do_not_pull_the_curve_down(void **state)
{
    (void)state;
    struct town t = {0};
    town_build(&t, 0);
    town_read(&t, unknown_real());
    double time[SITES * PLANTS];
    bool died[SITES * PLANTS];
    size_t n = 0;
    for (size_t i = 0; i < t.facts.n_plots; i += 2)
        for (int p = 0; p < PLANTS; p++, n++) {
            int dies_at = p < 6 ? 1 : p < 10 ? 2 : p < 14 ? 3 : 0;
            died[n] = dies_at > 0;
            time[n] = (220 + 365 * ((dies_at == 0 ? 3 : dies_at) - 1) + (double)i / 2) / 365.25;
        }
    struct lives naive = {.n = n, .time = time, .died = died};
    struct survival_curve curve;
    struct failure why = {0};
    assert_int_equal(survival_kaplan_meier(&naive, SURVIVAL_LOGLOG, 0.95, &t.made.arena, &curve, &why), OUTCOME_OK);
    assert_true(last(&curve) < 0.70);
    assert_near(last(&t.curves.groups[0].km), 46. / 60, 1e-9);
    made_free(&t.made);
}

static void causes_and_survival_add_to_one(void **state)
{
    (void)state;
    struct town t = {0};
    town_build(&t, 0);
    town_read(&t, unknown_real());
    for (int g = 0; g < 2; g++) {
        const struct incidence_curve *c = &t.curves.groups[g].causes;
        double sum = c->survival[c->n - 1];
        assert_int_equal(c->causes, 3);
        for (size_t k = 0; k < c->causes; k++)
            sum += c->incidence[(c->n - 1) * c->causes + k];
        assert_near(sum, 1, 1e-12);
    }
    assert_int_equal(t.curves.groups[1].died_of[DEATH_DROUGHT], SITES * 14);
    assert_int_equal(t.curves.groups[1].died_of[DEATH_BROWSING], SITES * 8);
    assert_int_equal(t.curves.groups[1].died_of[DEATH_NOT_RECORDED], SITES * 6);
    made_free(&t.made);
}

static void the_estimate_between_looks_is_proven_and_agrees_where_looks_agree(void **state)
{
    (void)state;
    struct town t = {0};
    town_build(&t, 0);
    town_read(&t, unknown_real());
    for (int g = 0; g < 2; g++) {
        const struct group_curve *one = &t.curves.groups[g];
        double low = 0, high = 0;
        assert_true(one->interval.gap <= 1e-8 * (double)one->plants);
        turnbull_at(&one->interval, one->end, &low, &high);
        assert_near(low, last(&one->km), 1e-6); /* nobody missed a look: both are the share alive at the end */
    }
    made_free(&t.made);
}

static void plots_are_the_unit_and_sites_the_strata(void **state)
{
    (void)state;
    struct town t = {0};
    town_build(&t, 0);
    town_read(&t, unknown_real());
    assert_true(t.curves.has_sites && t.curves.has_by_plot);
    assert_true(t.curves.by_plot.p >= t.curves.by_plot.p_least - 1e-12);
    assert_near(t.curves.by_plot.p_least, 2. / 64, 1e-9); /* six pairs: no test of these plots can go below */
    assert_true(t.curves.logrank.test.p < t.curves.by_plot.p);
    assert_true(t.curves.groups[0].by_plot.low <= last(&t.curves.groups[0].km));
    made_free(&t.made);
}

static void replacements_are_in_no_curve_and_stand_apart(void **state)
{
    (void)state;
    struct town t = {0};
    struct later_plants *later = NULL;
    struct failure why = {0};
    size_t n = 0;
    town_build(&t, 0);
    size_t visit = made_visit(&t.made, 0, date_make(2024, 10, 20), false);
    for (int i = 0; i < 20; i++)
        made_record(&t.made, visit, made_plant(&t.made, 1, "Acer campestre", ORIGIN_REPLACEMENT),
                    i < 15 ? STATUS_ALIVE : STATUS_DEAD_STANDING, 60);
    town_read(&t, unknown_real());
    assert_int_equal(t.curves.groups[1].plants, SITES * PLANTS);
    assert_int_equal(evidence_later(t.lives, t.facts.n_plots, 0.95, &t.made.arena, &later, &n, &why), OUTCOME_OK);
    assert_int_equal(n, 1);
    assert_int_equal(later[0].plants, 20);
    assert_int_equal(later[0].alive, 15);
    made_free(&t.made);
}

static void removed_on_purpose_is_no_death(void **state)
{
    (void)state;
    struct town t = {0};
    town_build(&t, 0);
    size_t deaths[2];
    town_read(&t, unknown_real());
    deaths[0] = t.curves.groups[0].deaths;
    for (size_t i = 0; i < t.made.n_records; i++) /* the last look of the last plant of the first plot */
        if (t.made.records[i].plant_id == PLANTS)
            t.made.records[i].status =
                t.made.visits[t.made.records[i].visit_id - 1].from_on > date_make(2024, 1, 1) ? STATUS_REMOVED : STATUS_ALIVE;
    town_read(&t, unknown_real());
    deaths[1] = t.curves.groups[0].deaths;
    assert_int_equal(deaths[0], deaths[1]);
    assert_int_equal(t.curves.groups[0].open, 0);
    made_free(&t.made);
}

/* At chance 0 and 1 it is Wilson's interval of the bounds; between, what is not known widens it. */
static void a_stated_chance_widens_and_meets_the_bounds(void **state)
{
    (void)state;
    struct estimate e, w;
    struct failure why = {0};
    assert_int_equal(survival_stated(200, 60, 40, 1, 0.95, &e, &why), OUTCOME_OK);
    assert_int_equal(proportion_wilson(200, 300, 0.95, false, &w, &why), OUTCOME_OK);
    assert_near(e.low, w.low, 1e-12);
    assert_int_equal(survival_stated(200, 60, 40, 0, 0.95, &e, &why), OUTCOME_OK);
    assert_int_equal(proportion_wilson(240, 300, 0.95, false, &w, &why), OUTCOME_OK);
    assert_near(e.high, w.high, 1e-12);
    assert_int_equal(survival_stated(200, 60, 40, 0.5, 0.95, &e, &why), OUTCOME_OK);
    assert_int_equal(proportion_wilson(220, 300, 0.95, false, &w, &why), OUTCOME_OK);
    assert_true(e.high - e.low > w.high - w.low);
    assert_int_equal(survival_stated(200, 60, 40, 1.5, 0.95, &e, &why), OUTCOME_USAGE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_was_not_found_lies_between_its_bounds),
        cmocka_unit_test(looks_a_day_apart_do_not_pull_the_curve_down),
        cmocka_unit_test(causes_and_survival_add_to_one),
        cmocka_unit_test(the_estimate_between_looks_is_proven_and_agrees_where_looks_agree),
        cmocka_unit_test(plots_are_the_unit_and_sites_the_strata),
        cmocka_unit_test(replacements_are_in_no_curve_and_stand_apart),
        cmocka_unit_test(removed_on_purpose_is_no_death),
        cmocka_unit_test(a_stated_chance_widens_and_meets_the_bounds),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
