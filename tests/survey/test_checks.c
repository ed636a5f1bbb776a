/* SPDX-License-Identifier: GPL-3.0-or-later
 * Mistakes in soil, wildlife, weather, cost and hour tables; digit preference; agreement of second measurements. */
#include "common.h"
#include "testlib.h"

static void plant_soils(struct town *town, struct soil_sample *soils, double ph, double soc, double n)
{
    for (int i = 0; i < 6; i++) {
        struct soil_sample *s = &soils[i];
        noun_init(NOUN_SOIL_SAMPLE, s);
        s->id = i + 1;
        s->site_id = 1;
        s->plot_id = 10 + i / 3;
        s->sampled_on = date_make(2021, 10, 1);
        s->depth_top_cm = 0;
        s->depth_bottom_cm = 10;
        s->ph = ph + 0.1 * (i % 3);
        s->soc_pct = soc + 0.1 * (i % 3);
        s->total_n_pct = n;
    }
    town->ground.soils = soils;
    town->ground.n_soils = 6;
}

static const char *const soil_said[] = {"site:=LK",        "ph_method:=unknown",  "?carbon_method=dry_combustion",
                                        "?unit:soc_pct=%", "?unit:total_n_pct=%", NULL};

static void loss_on_ignition_headed_as_carbon_is_held(void **state)
{
    (void)state;
    struct town *town = town_make();
    struct soil_sample soils[6];
    plant_soils(town, soils, 6.5, 2.0, 0.16);
    struct trip t = bring(town, RECORD_SOIL,
                          "plot,date,depth from (cm),depth to "
                          "(cm),SOC\nD1,2025-10-01,0,10,3.5\nD1,2025-10-01,0,10,3.6\nC1,2025-10-01,0,10,3.4\nC1,2025-10-01,0,10,3.5\n",
                          soil_said);
    const struct held *held = NULL;
    assert_int_equal(held_by(&t.result, "loi_as_soc", &held), 4);
    assert_true(remedy_offered(doubt_of(held, "loi_as_soc"), "correct:loi_pct=3.5;soc_pct=;carbon_method=loss_on_ignition"));
    t = bring(town, RECORD_SOIL,
              "plot,date,depth from (cm),depth to "
              "(cm),SOC\nD1,2025-10-01,0,10,2.2\nD1,2025-10-01,0,10,2.3\nC1,2025-10-01,0,10,2.1\nC1,2025-10-01,0,10,2.0\n",
              soil_said);
    assert_int_equal(t.result.n_held, 0);
    town_free(town);
}

static void nitrogen_in_grams_per_kilogram_is_held(void **state)
{
    (void)state;
    struct town *town = town_make();
    struct trip t =
        bring(town, RECORD_SOIL,
              "plot,date,depth from (cm),depth to (cm),SOC,total N\nD1,2025-10-01,0,10,2.4,0.2\nC1,2025-10-01,0,10,2.4,2.0\n", soil_said);
    const struct held *held = NULL;
    assert_int_equal(held_by(&t.result, "g_kg_as_pct", &held), 1);
    assert_true(remedy_offered(doubt_of(held, "g_kg_as_pct"), "correct:total_n_pct=0.2"));
    town_free(town);
}

static void a_unit_in_the_heading_is_converted_and_none_is_asked(void **state)
{
    (void)state;
    struct town *town = town_make();
    static const char *const said[] = {"site:=LK", "?carbon_method=unknown", NULL};
    struct trip t = bring(town, RECORD_SOIL, "plot,date,SOC (g/kg),total N [%]\nD1,2025-10-01,24,0.2\n", said);
    assert_null(asked(&t, "unit:soc_pct"));
    assert_int_equal(t.result.n_ready, 1);
    assert_near(((struct soil_sample *)t.result.ready)->soc_pct, 2.4, 0);
    t = bring(town, RECORD_SOIL, "plot,date,SOC\nD1,2025-10-01,24\n", said);
    assert_non_null(asked(&t, "unit:soc_pct"));
    assert_int_equal(t.result.n_ready, 0);
    town_free(town);
}

static void ph_in_another_solution_is_held(void **state)
{
    (void)state;
    struct town *town = town_make();
    struct soil_sample soils[6];
    plant_soils(town, soils, 6.5, 2.0, 0.16);
    const char *text =
        "plot,date,depth from (cm),depth to (cm),pH\nD1,2025-10-01,0,10,5.9\nD1,2025-10-01,0,10,6.0\nC1,2025-10-01,0,10,5.9\n";
    struct trip t = bring(town, RECORD_SOIL, text, soil_said);
    assert_int_equal(held_by(&t.result, "ph_method_mixed", NULL), 3); /* by the shift alone */
    for (int i = 0; i < 6; i++)
        soils[i].ph_method = PH_METHOD_WATER;
    static const char *const salt[] = {"site:=LK", "?ph_method=calcium_chloride", NULL};
    t = bring(town, RECORD_SOIL, text, salt);
    assert_int_equal(held_by(&t.result, "ph_method_mixed", NULL), 3);
    static const char *const open[] = {"site:=LK", NULL};
    t = bring(town, RECORD_SOIL, text, open);
    assert_non_null(asked(&t, "ph_method"));
    town_free(town);
}

static void lead_of_nought_is_held_and_a_limit_is_read(void **state)
{
    (void)state;
    struct town *town = town_make();
    struct trip t = bring(town, RECORD_SOIL, "plot,date,lead\nD1,2025-10-01,0\nD1,2025-10-02,<5\nD1,2025-10-03,120\n", soil_said);
    assert_int_equal(held_by(&t.result, "below_detection_zero", NULL), 1);
    const struct soil_sample *ready = t.result.ready;
    assert_int_equal(t.result.n_ready, 2);
    assert_near(ready[0].lead_mg_kg, 5, 0);
    assert_int_equal(ready[0].lead_below_detection, TRUTH_YES);
    town_free(town);
}

static const char wildlife[] = "plot,date,group,minutes,taxon,count\n"
                               "D1,2023-05-01,birds,10,Great tit,2\nC1,2023-05-01,birds,10,Robin,1\n"
                               "D1,2023-06-01,birds,10,Robin,1\nC1,2023-06-01,birds,10,Robin,1\n"
                               "D1,2023-07-01,birds,10,Wren,1\nC1,2023-07-01,birds,10,,0\n"
                               "D1,2023-08-01,birds,10,Wren,1\n"
                               "D1,2023-09-01,birds,,Wren,1\nC1,2023-09-01,birds,10,,\n";

static void wildlife_zeros_efforts_and_missing_rounds(void **state)
{
    (void)state;
    struct town *town = town_make();
    static const char *const said[] = {"site:=LK", NULL};
    struct trip t = bring(town, RECORD_WILDLIFE, wildlife, said);
    const struct doubt *d = NULL;
    assert_int_equal(t.result.read, 9);
    assert_int_equal(held_by(&t.result, "effort_blank", NULL), 1);
    assert_int_equal(held_by(&t.result, "zero_or_blank", NULL), 1);
    assert_int_equal(remarked(&t.result, "missing_zero", &d), 1);
    assert_non_null(strstr(d->sentence, "2023-08-01"));
    assert_int_equal(t.result.n_zero, 1);
    assert_int_equal(t.result.n_ready, 6);
    assert_int_equal(t.result.n_looks, 7); /* the true zero among them; the two held ones wait */
    for (size_t i = 0; i < t.result.n_ready; i++) {
        int64_t look = -((struct wildlife_record *)t.result.ready)[i].wildlife_visit_id - 1;
        assert_true(look >= 0 && (size_t)look < t.result.n_looks);
    }
    town_free(town);
}

static void blank_rain_is_not_nought_and_a_long_dry_run_is_asked(void **state)
{
    (void)state;
    struct town *town = town_make();
    struct text text = {0};
    struct random_stream random = random_make(5, 5);
    text_add(&text, "date,rain (mm),tmin,tmax\n");
    for (int i = 0; i < 730; i++) {
        char iso[16];
        date_write(date_make(2022, 1, 1) + i, iso);
        bool blank = i >= 100 && i < 107, zero = i >= 400 && i < 421;
        double rain = random_uniform(&random) < 0.5 ? 0 : 0.5 + 6 * random_uniform(&random);
        text_print(&text, "%s,", iso);
        if (!blank)
            text_print(&text, "%.1f", zero ? 0 : rain);
        text_print(&text, ",%d,%d\n", i == 50 ? 20 : 5, 15);
    }
    static const char *const said[] = {"?unit:t_min_c=degC", "?unit:t_max_c=degC", NULL};
    struct trip t = bring(town, RECORD_WEATHER, text_get(&text), said);
    const struct doubt *blank = NULL, *dry = NULL;
    assert_int_equal(remarked(&t.result, "rain_blank", &blank), 1);
    assert_int_equal(blank->rows, 7);
    assert_int_equal(remarked(&t.result, "rain_zero_run", &dry), 1);
    assert_true(dry->rows >= 21);
    assert_int_equal(held_by(&t.result, "t_min_above_max", NULL), 1);
    const struct weather_day *ready = t.result.ready;
    size_t unknown = 0;
    for (size_t i = 0; i < t.result.n_ready; i++)
        unknown += !is_known(ready[i].rain_mm);
    assert_int_equal(unknown, 7);
    text_free(&text);
    town_free(town);
}

static void tax_in_some_prices_is_held(void **state)
{
    (void)state;
    struct town *town = town_make();
    const char *text = "date;phase;item;qty;unit "
                       "price;amount\n2022-01-10;plants;whips;100;0,95;95,00\n2022-01-11;plants;whips;100;1,1495;114,95\n2022-01-12;plants;"
                       "whips;200;0,95;190,00\n"
                       "2022-01-12;fence;fence;10;22;266,20\n2022-01-12;mulch;mulch;10;31;400\n";
    static const char *const said[] = {"site:=LK", "?tax=mixed", "?word:phase:mulch=preparation", NULL};
    struct trip t = bring(town, RECORD_COSTS, text, said);
    assert_int_equal(held_by(&t.result, "tax_mixed", NULL), 2);
    assert_int_equal(held_by(&t.result, "amount_differs", NULL), 1);
    assert_int_equal(t.result.n_ready, 2);
    static const char *const open[] = {"site:=LK", "?word:phase:mulch=preparation", NULL};
    t = bring(town, RECORD_COSTS, text, open);
    assert_non_null(asked(&t, "tax"));
    assert_int_equal(t.result.n_ready, 0);
    town_free(town);
}

static void prices_with_tax_are_kept_without(void **state)
{
    (void)state;
    struct town *town = town_make();
    static const char *const said[] = {"site:=LK", "tax_pct:=21", NULL};
    struct trip t = bring(town, RECORD_COSTS, "date,phase,item,amount incl. VAT\n2022-01-10,plants,whips,121.00\n", said);
    assert_int_equal(t.result.n_ready, 1);
    assert_near(((struct cost_item *)t.result.ready)->amount, 100, 1e-9);
    town_free(town);
}

static void a_volunteer_day_entered_twice_is_held(void **state)
{
    (void)state;
    struct town *town = town_make();
    static const char *const said[] = {"site:=LK", NULL};
    struct trip t =
        bring(town, RECORD_HOURS,
              "date,task,people,hours\n2022-02-19,planting,45,157.5\n2022-02-20,planting,40,140\n2022-02-19,Planting,45,160\n", said);
    assert_int_equal(held_by(&t.result, "day_doubled", NULL), 1);
    assert_int_equal(t.result.n_ready, 2);
    town_free(town);
}

static void care_words_of_four_languages_are_read(void **state)
{
    (void)state;
    struct town *town = town_make();
    static const char *const said[] = {"site:=LK", NULL};
    struct trip t =
        bring(town, RECORD_CARE,
              "Datum;Parzelle;Arbeit;Stand\n3.4.2023;D1;Bew\303\244sserung;erledigt\n4.4.2023;C1;j\303\244ten;teilweise\n", said);
    assert_int_equal(t.result.n_ready, 2);
    const struct care_event *ready = t.result.ready;
    assert_int_equal(ready[0].kind, CARE_KIND_WATERING);
    assert_int_equal(ready[1].kind, CARE_KIND_WEEDING);
    assert_int_equal(ready[1].state, DONE_STATE_PARTLY);
    assert_int_equal(ready[0].done_on, date_make(2023, 4, 3));
    town_free(town);
}

/* ---- observers ---- */

static void heaping_is_found_and_even_digits_are_not(void **state)
{
    (void)state;
    double even[200], heaped[200];
    for (int i = 0; i < 200; i++) {
        even[i] = i % 100 + 40;
        heaped[i] = 5.0 * (i % 20) + 40;
    }
    struct digit_heaping a = observer_heaping(even, 200), b = observer_heaping(heaped, 200);
    assert_near(a.index, 100, 1e-9); /* Whipple's index of even digits is 100 by its definition */
    assert_near(b.index, 500, 1e-9); /* and 500 where all end in 0 or 5 */
    assert_false(a.heaped);
    assert_true(b.heaped);
}

static void agreement_gives_kappa_of_a_worked_example(void **state)
{
    (void)state;
    /* Two readers, 50 cases: 20 both yes, 15 both no, 5 and 10 apart: agreement 0.70, by chance 0.50, kappa 0.40. A worked
     * example common in textbooks; from memory. */
    struct plant_record x[50], y[50];
    for (int i = 0; i < 50; i++) {
        noun_init(NOUN_PLANT_RECORD, &x[i]);
        noun_init(NOUN_PLANT_RECORD, &y[i]);
        x[i].status = i < 25 ? STATUS_ALIVE : STATUS_DEAD_STANDING;
        y[i].status = i < 20 || (i >= 25 && i < 35) ? STATUS_ALIVE : STATUS_DEAD_STANDING;
        x[i].height_cm = 50;
        y[i].height_cm = i % 2 == 0 ? 52 : 50;
    }
    struct observer_agreement a = observer_agreement_of(x, y, 50);
    assert_near(a.kappa, 0.4, 1e-12);
    assert_near(a.height_mean_cm, 1, 1e-12);
    assert_near(a.height_high_cm - a.height_low_cm, 2 * 1.96 * sqrt(50.0 / 49.0), 1e-9);
    assert_int_equal(a.height_within, 50);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(loss_on_ignition_headed_as_carbon_is_held),
        cmocka_unit_test(nitrogen_in_grams_per_kilogram_is_held),
        cmocka_unit_test(a_unit_in_the_heading_is_converted_and_none_is_asked),
        cmocka_unit_test(ph_in_another_solution_is_held),
        cmocka_unit_test(lead_of_nought_is_held_and_a_limit_is_read),
        cmocka_unit_test(wildlife_zeros_efforts_and_missing_rounds),
        cmocka_unit_test(blank_rain_is_not_nought_and_a_long_dry_run_is_asked),
        cmocka_unit_test(tax_in_some_prices_is_held),
        cmocka_unit_test(prices_with_tax_are_kept_without),
        cmocka_unit_test(a_volunteer_day_entered_twice_is_held),
        cmocka_unit_test(care_words_of_four_languages_are_read),
        cmocka_unit_test(heaping_is_found_and_even_digits_are_not),
        cmocka_unit_test(agreement_gives_kappa_of_a_worked_example),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
