/* SPDX-License-Identifier: GPL-3.0-or-later
 * money/: orders, budgets, the ledger given to plots, cost per established plant. */
#include "money/money.h"
#include "../testlib.h"

static void one_line_per_species_over_all_plots(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct order_need needs[] = {
        {"Quercus robur", LAYER_CANOPY, 19, "D1"}, {"Corylus avellana", LAYER_SHRUB, 40, "D1"}, {"Quercus robur", LAYER_CANOPY, 18, "D2"}};
    struct order_offer offer;
    order_offer_init(&offer);
    offer.bundle = 25;
    offer.unit_price = 0.95;
    offer.lead_weeks = 26;
    struct order_settings settings;
    order_settings_init(&settings);
    settings.reserve_pct = 0;
    settings.tax_pct = 20;
    settings.ordered_on = date_make(2025, 11, 10);
    settings.planting_on = date_make(2025, 12, 1);
    struct order order;
    assert_int_equal(order_make(needs, 3, &offer, 1, &settings, &arena, &order, NULL), OUTCOME_OK);
    assert_int_equal(order.n, 2);
    assert_string_equal(order.rows[1].species, "Quercus robur");
    assert_string_equal(order.rows[1].plots, "D1 19, D2 18");
    assert_int_equal(order.rows[1].ordered, 50);
    assert_int_equal(order.rows[1].surplus, 13);
    assert_int_equal(order.late, 2);
    assert_non_null(strstr(order.rows[0].late_words, "3 weeks"));
    assert_near(order.amount, 100 * 0.95, 1e-9);
    assert_near(order.amount_with_tax, 114, 1e-9);
    assert_non_null(strstr(order.rows[0].specification, "no substitution"));
    arena_clear(&arena);
}

static void a_missing_price_leaves_the_total_unknown(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct order_need needs[] = {{"A", LAYER_CANOPY, 10, "D1"}, {"B", LAYER_CANOPY, 10, "D1"}};
    struct order_offer offers[2];
    order_offer_init(&offers[0]);
    order_offer_init(&offers[1]);
    offers[0].species = "A";
    offers[0].unit_price = 1;
    offers[1].species = "B";
    struct order_settings settings;
    order_settings_init(&settings);
    struct order order;
    assert_int_equal(order_make(needs, 2, offers, 2, &settings, &arena, &order, NULL), OUTCOME_OK);
    assert_false(is_known(order.amount));
    assert_int_equal(order.without_price, 1);
    assert_true(order.n_notes >= 2);
    needs[0].plants = -1;
    struct failure why;
    assert_int_equal(order_make(needs, 2, offers, 2, &settings, &arena, &order, &why), OUTCOME_DATA);
    arena_clear(&arena);
}

static void what_a_site_pays_is_shared_over_its_plots(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct budget_plot plots[2];
    for (int i = 0; i < 2; i++) {
        budget_plot_init(&plots[i]);
        plots[i].site_id = 1;
        plots[i].area_m2 = i == 0 ? 100 : 300;
        plots[i].plants = 300;
    }
    struct budget_price prices[] = {{"search", "search", COST_PHASE_SCREENING, PER_SITE, 400, "a quote", 2025},
                                    {"plants", "plants", COST_PHASE_PLANTS, PER_PLANT, 1, "a quote", 2025},
                                    {"count", "counting", COST_PHASE_MONITORING, PER_MONITORING_HOUR, 29, "a quote", 2025}};
    plots[0].plants_amount = 270;
    plots[0].monitoring_hours = 2;
    plots[0].volunteer_hours = 10;
    struct budget_settings settings = {.split = SPLIT_BY_AREA, .volunteer_rate = {0, 12.5, 21}};
    struct budget budget;
    assert_int_equal(budget_make(plots, 2, prices, 3, &settings, &arena, &budget, NULL), OUTCOME_OK);
    assert_near(budget.totals[0].recipe, 100 + 270, 1e-9);
    assert_near(budget.totals[1].recipe, 300 + 300, 1e-9);
    assert_near(budget.totals[0].monitoring, 58, 1e-9);
    assert_near(budget.totals[0].per_m2, 3.7, 1e-9);
    assert_near(budget.totals[0].volunteers[1], 370 + 125, 1e-9);
    assert_near(budget.all.recipe, 970, 1e-9);
    prices[0].price = unknown_real();
    assert_int_equal(budget_make(plots, 2, prices, 3, &settings, &arena, &budget, NULL), OUTCOME_OK);
    assert_false(is_known(budget.all.recipe));
    arena_clear(&arena);
}

static struct cost_item item_make(int64_t site, int64_t plot, double amount)
{
    struct cost_item item;
    noun_init(NOUN_COST_ITEM, &item);
    item.site_id = site;
    item.plot_id = plot;
    item.amount = amount;
    item.phase = COST_PHASE_SURVEY;
    item.item = "x";
    return item;
}

static void every_euro_arrives_once(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct ledger_plot plots[] = {{1, 1, "D1", 100, 300}, {2, 1, "C1", 100, 100}, {3, 2, "D2", 50, 150}};
    struct cost_item items[] = {item_make(1, 1, 100), item_make(1, 0, 200), item_make(0, 0, 550), item_make(1, 1, 77), item_make(9, 0, 5)};
    items[1].split = "by plants";
    items[2].split = "equally";
    items[3].estimate = TRUTH_YES;
    struct ledger_settings settings = {.split = SPLIT_BY_AREA, .price_year = INT_UNKNOWN};
    struct ledger ledger;
    assert_int_equal(ledger_split(items, 5, NULL, 0, plots, 3, &settings, &arena, &ledger, NULL), OUTCOME_OK);
    assert_near(ledger.shares[0].amount[0], 100 + 150 + 550.0 / 3, 1e-9);
    assert_near(ledger.shares[1].amount[0], 50 + 550.0 / 3, 1e-9);
    assert_near(ledger.total[0], 850, 1e-9);
    assert_near(ledger.estimated, 77, 1e-9);
    assert_int_equal(ledger.n_notes, 1); /* the line of an unknown site is named */
    items[1].split = "by the moon";
    struct failure why;
    assert_int_equal(ledger_split(items, 5, NULL, 0, plots, 3, &settings, &arena, &ledger, &why), OUTCOME_DATA);
    arena_clear(&arena);
}

static void prices_are_only_deflated_by_an_index_that_was_given(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct ledger_plot plot = {1, 1, "D1", 100, 300};
    struct cost_item items[] = {item_make(1, 1, 100), item_make(1, 1, 100)};
    items[0].price_year = 2021;
    items[1].paid_on = date_make(2019, 5, 1);
    items[0].tax_pct = 20;
    struct ledger_settings settings = {.price_year = 2025};
    struct ledger ledger;
    assert_int_equal(ledger_split(items, 2, NULL, 0, &plot, 1, &settings, &arena, &ledger, NULL), OUTCOME_OK);
    assert_near(ledger.total[0], 200, 1e-9);
    assert_non_null(strstr(ledger.notes[0], "No price index"));
    int64_t year[] = {2021, 2025};
    double value[] = {100, 121};
    settings.index_year = year;
    settings.index_value = value;
    settings.n_index = 2;
    settings.with_tax = true;
    assert_int_equal(ledger_split(items, 2, NULL, 0, &plot, 1, &settings, &arena, &ledger, NULL), OUTCOME_OK);
    assert_near(ledger.total[0], 120 * 1.21 + 100, 1e-9);
    assert_int_equal(ledger.n_notes, 2);
    arena_clear(&arena);
}

static void same_seed_same_interval(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct survival_belief belief = {300, 240, unknown_real(), unknown_real(), unknown_real()};
    struct cost_ratio a, b, c;
    assert_int_equal(cost_per_established(3000, 100, &belief, 0.95, 5000, 7, "EUR", &arena, &a, NULL), OUTCOME_OK);
    assert_int_equal(cost_per_established(3000, 100, &belief, 0.95, 5000, 7, "EUR", &arena, &b, NULL), OUTCOME_OK);
    assert_int_equal(cost_per_established(3000, 100, &belief, 0.95, 5000, 8, "EUR", &arena, &c, NULL), OUTCOME_OK);
    assert_memory_equal(&a.low, &b.low, 2 * sizeof(double));
    assert_true(a.low < c.low || a.low > c.low);
    assert_string_equal(a.words, b.words);
    belief.alive = 400;
    struct failure why;
    assert_int_equal(cost_per_established(3000, 0, &belief, 0.95, 5000, 7, "EUR", &arena, &a, &why), OUTCOME_DATA);
    double low = 0, high = 0;
    assert_false(ratio_fieller(10, 1, 1, 1, 0.95, &low, &high));
    assert_string_equal(money_print(1234567, "EUR", &arena), "1,234,567 EUR");
    assert_string_equal(money_print(4.1, "EUR", &arena), "4.10 EUR");
    assert_string_equal(money_print(unknown_real(), "EUR", &arena), "not known");
    arena_clear(&arena);
}

static void a_reserve_leaves_enough_and_one_less_would_not(void **state)
{
    (void)state;
    struct failure why = {0};
    int64_t plants = 0, more = 0;
    assert_int_equal(order_expected_loss(300, 0.04, 0.95, &plants, &why), OUTCOME_OK);
    assert_int_equal(plants, 319); /* R: pbinom(19, 319, 0.04) is 0.967, pbinom(18, 318, 0.04) 0.944 */
    assert_int_equal(order_expected_loss(300, 0, 0.95, &plants, &why), OUTCOME_OK);
    assert_int_equal(plants, 300);
    assert_int_equal(order_expected_loss(300, 0.04, 0.99, &plants, &why), OUTCOME_OK);
    assert_int_equal(order_expected_loss(300, 0.08, 0.99, &more, &why), OUTCOME_OK);
    assert_true(plants > 319 && more > plants);
    assert_int_equal(order_expected_loss(300, 1, 0.95, &plants, &why), OUTCOME_DATA);
    assert_int_equal(order_latest_day(date_make(2027, 2, 10), 26), date_make(2026, 8, 12));
    assert_int_equal(order_latest_day(DATE_UNKNOWN, 26), DATE_UNKNOWN);
}

static void a_genus_on_a_list_of_papers_is_not_taken_for_its_neighbour(void **state)
{
    (void)state;
    struct order_paper papers[MOST_PAPERS];
    assert_int_equal(order_papers("Sorbus aucuparia", papers), 2);
    assert_int_equal(order_papers("Sorbaria sorbifolia", papers), 1);
    assert_int_equal(order_papers("Quercus robur", papers), 2);
    assert_int_equal(order_papers("Quercus ilex", papers), 1);
    assert_int_equal(order_papers("Populus tremula", papers), 2); /* the whole genus is listed */
    assert_int_equal(order_papers(NULL, papers), 1);
}

static void ratios_over_sites_do_not_mind_order_and_follow_the_currency(void **state)
{
    (void)state;
    struct failure why = {0};
    struct ratio_units one, turned, cents;
    const double spend[] = {2400, 3100, 1500, 2800, 2000, 2600}, alive[] = {210, 240, 150, 160, 190, 230};
    const double spend_turned[] = {2600, 2000, 2800, 1500, 3100, 2400}, alive_turned[] = {230, 190, 160, 150, 240, 210};
    double spend_cents[6];
    for (size_t i = 0; i < 6; i++)
        spend_cents[i] = 100 * spend[i];
    assert_int_equal(cost_ratio_units(spend, alive, 6, 0.95, 1000, 1, &one, &why), OUTCOME_OK);
    assert_int_equal(cost_ratio_units(spend_turned, alive_turned, 6, 0.95, 1000, 1, &turned, &why), OUTCOME_OK);
    assert_int_equal(cost_ratio_units(spend_cents, alive, 6, 0.95, 1000, 1, &cents, &why), OUTCOME_OK);
    assert_near(one.estimate, turned.estimate, 1e-12);
    assert_near(one.fieller_high, turned.fieller_high, 1e-9);
    assert_near(cents.fieller_low, 100 * one.fieller_low, 1e-7);
    assert_near(cents.bootstrap_high, 100 * one.bootstrap_high, 1e-7);
    assert_true(one.fieller_low < one.estimate && one.estimate < one.fieller_high);
    const double none[] = {0, 0};
    assert_int_equal(cost_ratio_units(spend, none, 2, 0.95, 1000, 1, &one, &why), OUTCOME_OK);
    assert_false(is_known(one.estimate) || is_known(one.fieller_low));
    assert_int_equal(cost_ratio_units(spend, alive, 1, 0.95, 1000, 1, &one, &why), OUTCOME_OK);
    assert_true(is_known(one.estimate) && !is_known(one.linear_low));
}

static void a_regime_is_not_cheaper_than_itself(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct failure why = {0};
    struct cost_versus v;
    const struct cost_range costs[] = {{"ground", 800, 1000, 1500}, {"fence", 300, 400, 500}};
    struct cost_plan plan = {.costs = costs,
                             .n_costs = 2,
                             .planted = 300,
                             .survival = {"survival", 0.7, 0.7, 0.7},
                             .area_m2 = 100,
                             .canopy = {"canopy", unknown_real(), unknown_real(), unknown_real()}};
    assert_int_equal(cost_compare(&plan, &plan, 0.95, 2000, 3, &arena, &v, &why), OUTCOME_OK);
    assert_near(v.per_established.high, 0, 1e-12); /* prices are drawn alike */
    assert_near(v.cheaper_established, 0.5, 1e-12);
    assert_false(is_known(v.per_m2_canopy.median));
    struct cost_plan dead = plan;
    dead.survival = (struct cost_range){"survival", 0, 0, 0};
    assert_int_equal(cost_compare(&dead, &plan, 0.95, 2000, 3, &arena, &v, &why), OUTCOME_OK);
    assert_near(v.cheaper_established, 0, 1e-12);
    assert_near(v.cheaper_m2, 0.5, 1e-12);
    assert_near(v.a.share_none, 1, 1e-9);
    arena_clear(&arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_reserve_leaves_enough_and_one_less_would_not),
        cmocka_unit_test(a_genus_on_a_list_of_papers_is_not_taken_for_its_neighbour),
        cmocka_unit_test(ratios_over_sites_do_not_mind_order_and_follow_the_currency),
        cmocka_unit_test(a_regime_is_not_cheaper_than_itself),
        cmocka_unit_test(one_line_per_species_over_all_plots),
        cmocka_unit_test(a_missing_price_leaves_the_total_unknown),
        cmocka_unit_test(what_a_site_pays_is_shared_over_its_plots),
        cmocka_unit_test(every_euro_arrives_once),
        cmocka_unit_test(prices_are_only_deflated_by_an_index_that_was_given),
        cmocka_unit_test(same_seed_same_interval),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
