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

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_line_per_species_over_all_plots),
        cmocka_unit_test(a_missing_price_leaves_the_total_unknown),
        cmocka_unit_test(what_a_site_pays_is_shared_over_its_plots),
        cmocka_unit_test(every_euro_arrives_once),
        cmocka_unit_test(prices_are_only_deflated_by_an_index_that_was_given),
        cmocka_unit_test(same_seed_same_interval),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
