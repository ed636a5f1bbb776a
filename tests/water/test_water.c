/* SPDX-License-Identifier: GPL-3.0-or-later
 * water/: weather as agencies write it, evapotranspiration, balance, drought, aftercare tasks. */
#include "water/water.h"
#include "../testlib.h"

static struct weather_series read_text(const char *text, const char *form, struct arena *arena, enum outcome expect, struct failure *why)
{
    struct csv_table table;
    struct weather_series series = {0};
    assert_int_equal(csv_read("weather.csv", text, strlen(text), ',', 0, arena, &table, why), OUTCOME_OK);
    assert_int_equal(weather_read(&table, weather_form_find(form), arena, &series, why), expect);
    return series;
}

static struct weather_series de_bilt(struct arena *arena)
{
    const char *path = shared_path("data/knmi_debilt_daily/debilt_2010_2017.csv");
    struct weather_series series = {0};
    if (path == NULL)
        skip();
    char *bytes = NULL;
    size_t n = 0;
    struct csv_table table;
    struct failure why;
    assert_int_equal(file_read(path, 0, arena, &bytes, &n, &why), OUTCOME_OK);
    assert_int_equal(csv_read(path, bytes, n, ',', 0, arena, &table, &why), OUTCOME_OK);
    assert_int_equal(weather_read(&table, weather_form_find("nl_daily"), arena, &series, &why), OUTCOME_OK);
    return series;
}

/* The agency prints tenths of a millimetre, so half a tenth is the best agreement that can be asked; its own inputs are rounded too. */
static void makkink_reproduces_eight_years_of_the_agency(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct weather_series w = de_bilt(&arena);
    assert_int_equal(w.n, 2922);
    assert_int_equal(w.missing_days, 0);
    size_t compared = 0, beyond = 0;
    double worst = 0, ours = 0, theirs = 0;
    for (size_t i = 0; i < w.n; i++) {
        double eto = eto_makkink(w.t_mean_c[i], w.radiation_mj_m2[i]);
        if (!is_known(eto) || !is_known(w.evaporation_mm[i]))
            continue;
        double off = fabs(eto - w.evaporation_mm[i]);
        compared++;
        worst = fmax(worst, off);
        beyond += off > 0.05;
        ours += eto;
        theirs += w.evaporation_mm[i];
    }
    assert_int_equal(compared, 2922);
    assert_true(beyond <= 1);
    assert_true(worst < 0.0501);
    assert_near(ours, theirs, 2922 * 0.05 / 10);
    arena_clear(&arena);
}

static void a_seasons_deficit_agrees_with_the_agencys(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct weather_series w = de_bilt(&arena);
    double ours = 0, theirs = 0;
    size_t days = 0;
    for (size_t i = 0; i < w.n; i++)
        if (w.day[i] >= date_make(2013, 4, 1) && w.day[i] <= date_make(2013, 9, 30)) {
            ours += eto_makkink(w.t_mean_c[i], w.radiation_mj_m2[i]) - w.rain_mm[i];
            theirs += w.evaporation_mm[i] - w.rain_mm[i];
            days++;
        }
    assert_int_equal(days, 183);
    assert_near(ours, theirs, 1.0); /* 183 rounded days: a standard error of 0.4 mm */
    arena_clear(&arena);
}

static void penman_monteith_runs_on_the_same_series(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct weather_series w = de_bilt(&arena);
    double *eto = arena_array(&arena, w.n, sizeof *eto), fao = 0, makkink = 0;
    unsigned *fallbacks = arena_array(&arena, w.n, sizeof *fallbacks);
    assert_int_equal(weather_eto(&w, 52.10, 2, 10, eto, fallbacks, NULL), OUTCOME_OK);
    for (size_t i = 0; i < w.n; i++) {
        assert_true(is_known(eto[i]) && eto[i] >= 0 && eto[i] < 9);
        assert_true((fallbacks[i] & ETO_HUMIDITY_FROM_MEAN) != 0);
        fao += eto[i];
        makkink += w.evaporation_mm[i];
    }
    assert_true(fao / makkink > 0.9 && fao / makkink < 1.15); /* two formulas of one quantity */
    arena_clear(&arena);
}

static void traces_and_gaps_are_neither_zero_nor_minus_one(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct failure why;
    struct weather_series w =
        read_text("STN,YYYYMMDD,TN,TX,RH,Q\n260,20240101,10,50,-1,300\n260,20240103,-10,40,,250\n", "nl_daily", &arena, OUTCOME_OK, &why);
    assert_int_equal(w.n, 3);
    assert_int_equal(w.missing_days, 1);
    assert_int_equal(w.traces, 1);
    assert_near(w.rain_mm[0], 0.025, 1e-12);
    assert_false(is_known(w.rain_mm[1]));
    assert_false(is_known(w.rain_mm[2]));
    assert_near(w.t_min_c[2], -1, 1e-12);
    assert_near(w.radiation_mj_m2[0], 3, 1e-12);
    assert_false(is_known(w.wind_m_s[0]));
    w = read_text("STATION,DATE,PRCP,TMAX,TMIN\nX,2024-01-01,12,-9999,-5\n", "ghcn_daily", &arena, OUTCOME_OK, &why);
    assert_near(w.rain_mm[0], 1.2, 1e-12);
    assert_false(is_known(w.t_max_c[0]));
    arena_clear(&arena);
}

static void bad_rows_are_refused_with_their_place(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct failure why;
    read_text("day,rain_mm\n2024-01-01,1\n2024-01-01,2\n", "plain", &arena, OUTCOME_DATA, &why);
    assert_non_null(strstr(why.sentence, "comes twice"));
    read_text("day,rain_mm\n2024-01-01,x\n", "plain", &arena, OUTCOME_DATA, &why);
    assert_int_equal(why.row, 2);
    assert_string_equal(why.column, "rain_mm");
    read_text("day,rain_mm\n2024-01-01,-9999\n", "plain", &arena, OUTCOME_DATA, &why);
    read_text("day,t_max_c\n2024-01-01,215\n", "plain", &arena, OUTCOME_DATA, &why);
    assert_non_null(strstr(why.remedy, "tenths"));
    read_text("day,rain_mm\n01/02/2024,1\n", "plain", &arena, OUTCOME_DATA, &why);
    read_text("date,rain\n2024-01-01,1\n", "plain", &arena, OUTCOME_DATA, &why);
    read_text("day,rain_mm\n", "plain", &arena, OUTCOME_DATA, &why);
    arena_clear(&arena);
}

static void programme_rows_in_any_order_make_unbroken_days(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct weather_day days[3];
    for (int i = 0; i < 3; i++) {
        noun_init(NOUN_WEATHER_DAY, &days[i]);
        days[i].day = date_make(2024, 5, i == 0 ? 4 : i == 1 ? 1 : 2);
        days[i].rain_mm = i;
    }
    struct weather_series w;
    assert_int_equal(weather_from_days(days, 3, &arena, &w, NULL), OUTCOME_OK);
    assert_int_equal(w.n, 4);
    assert_near(w.rain_mm[0], 1, 0);
    assert_false(is_known(w.rain_mm[2]));
    assert_near(w.rain_mm[3], 0, 0);
    assert_int_equal(weather_from_days(days, 0, &arena, &w, NULL), OUTCOME_OK);
    assert_int_equal(w.n, 0);
    arena_clear(&arena);
}

/* Rain and watering less what is used and drained is what the store gained. */
static void the_balance_closes(void **state)
{
    (void)state;
    enum { N = 2000 };
    static double rain[N], eto[N], water[N];
    static struct balance_day days[N];
    struct random_stream r = random_make(11, 0);
    for (int i = 0; i < N; i++) {
        rain[i] = random_uniform(&r) < 0.3 ? 15 * random_uniform(&r) : 0;
        eto[i] = 6 * random_uniform(&r);
        water[i] = random_uniform(&r) < 0.05 ? 15 : 0;
    }
    struct balance_setting s = {0.28, 0.14, 0.5, 0.55, 0.9, 10, 0.1, true};
    assert_int_equal(balance_run(&s, rain, eto, water, N, days, NULL), OUTCOME_OK);
    double before = s.start_depletion_mm, total = balance_total_mm(&s);
    for (int i = 0; i < N; i++) {
        double gain = rain[i] * 0.9 + water[i] - days[i].evapotranspiration_mm - days[i].drainage_mm;
        assert_true(days[i].depletion_mm >= 0 && days[i].depletion_mm <= total);
        assert_true(days[i].stress >= 0 && days[i].stress <= 1);
        assert_near(before - days[i].depletion_mm, gain, 1e-9);
        before = days[i].depletion_mm;
    }
}

/* Whatever truly fell on the days nobody read, the true store lies between the bounds; where they meet, it is known. */
static void bounds_hold_whatever_fell_on_days_nobody_read(void **state)
{
    (void)state;
    enum { N = 400 };
    static double rain[N], read[N], eto[N];
    static struct balance_day truth[N], known[N], driest[N], wettest[N];
    struct arena arena = {0};
    struct balance_setting s = {.field_capacity = 0.28,
                                .wilting_point = 0.14,
                                .root_depth_m = 0.4,
                                .depletion_fraction = 0.5,
                                .crop_coefficient = 0.8,
                                .adjust_fraction = true};
    size_t again = 0, apart = 0;
    for (uint64_t seed = 0; seed < 20; seed++) {
        struct random_stream r = random_make(seed, 3);
        for (int i = 0; i < N; i++) {
            rain[i] = random_uniform(&r) < 0.3 ? 25 * random_uniform(&r) : 0;
            eto[i] = 5 * random_uniform(&r);
            read[i] = random_uniform(&r) < 0.05 ? unknown_real() : rain[i];
        }
        assert_int_equal(balance_run(&s, rain, eto, NULL, N, truth, NULL), OUTCOME_OK);
        assert_int_equal(balance_bounds(&s, read, eto, NULL, N, 1e-9, known, driest, wettest, &arena, NULL), OUTCOME_OK);
        for (int i = 0; i < N; i++) {
            assert_true(wettest[i].depletion_mm <= truth[i].depletion_mm + 1e-9);
            assert_true(driest[i].depletion_mm >= truth[i].depletion_mm - 1e-9);
            apart += !is_known(known[i].depletion_mm);
            if (is_known(known[i].depletion_mm)) {
                assert_near(known[i].depletion_mm, truth[i].depletion_mm, 1e-6);
                again += i > 0 && !is_known(known[i - 1].depletion_mm);
            }
        }
    }
    assert_true(apart > 100 && again > 10);
    arena_clear(&arena);
}

static void days_of_the_programme_carry_all_that_a_station_measured(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct weather_day day;
    struct weather_series series;
    noun_init(NOUN_WEATHER_DAY, &day);
    day.day = date_make(2024, 6, 1);
    day.t_mean_c = 17.5;
    day.sunshine_h = 9.25;
    day.evaporation_mm = 4.1;
    assert_int_equal(weather_from_days(&day, 1, &arena, &series, NULL), OUTCOME_OK);
    assert_near(series.t_mean_c[0], 17.5, 0);
    assert_near(series.sunshine_h[0], 9.25, 0);
    assert_near(series.evaporation_mm[0], 4.1, 0);
    assert_false(is_known(series.rain_mm[0]));
    arena_clear(&arena);
}

static void a_bowser_a_thousandth_too_full_makes_no_run_of_its_own(void **state)
{
    (void)state;
    struct watering_plot plot = {"D1", 200.01, 600};
    struct watering_line line;
    double total = 0, runs = 0;
    assert_int_equal(watering_need(&plot, 1, WATERING_BY_AREA, 15, 1000, &line, &total, &runs, NULL), OUTCOME_OK);
    assert_near(line.runs, 3, 0);
    plot.area_m2 = 201;
    assert_int_equal(watering_need(&plot, 1, WATERING_BY_AREA, 15, 1000, &line, &total, &runs, NULL), OUTCOME_OK);
    assert_near(runs, 4, 0);
}

static void drought_needs_every_day(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct weather_series none = {0};
    struct drought_rule rule = drought_rule_default(false);
    struct drought_answer answer = drought_judge(&rule, &none, date_make(2025, 6, 14), date_make(2024, 12, 1), &arena);
    assert_int_equal(answer.state, DROUGHT_UNKNOWN);
    assert_int_equal(answer.days_unknown, 14);
    arena_clear(&arena);
}

static void tasks_move_with_planting_and_keep_their_identifiers(void **state)
{
    (void)state;
    struct arena arena = {0};
    size_t n_rules = 0, n = 0, later = 0;
    const struct care_rule *rules = care_rules("dense", &n_rules);
    const struct care_task *tasks = care_tasks("0b5c", date_make(2025, 12, 1), rules, n_rules, &arena, &n);
    const struct care_task *moved = care_tasks("0b5c", date_make(2026, 12, 1), rules, n_rules, &arena, &later);
    assert_int_equal(n, n_rules);
    assert_int_equal(later, n);
    for (size_t i = 0; i < n; i++) {
        assert_string_equal(tasks[i].uid, moved[i].uid);
        assert_int_equal(moved[i].on, date_add_months(tasks[i].on, 12));
        assert_true(i == 0 || tasks[i].on >= tasks[i - 1].on);
    }
    care_tasks("0b5c", date_make(2026, 3, 20), rules, n_rules, &arena, &later); /* planted after the first task would fall */
    assert_int_equal(later, n - 1);
    assert_null(care_rules("other", &n_rules));
    arena_clear(&arena);
}

static void the_calendar_is_folded_and_ends_its_lines(void **state)
{
    (void)state;
    struct arena arena = {0};
    size_t n_rules = 0, n = 0;
    const struct care_rule *rules = care_rules("dense", &n_rules);
    const struct care_task *tasks = care_tasks("0b5c", date_make(2025, 12, 1), rules, n_rules, &arena, &n);
    struct text out = {0};
    struct failure why;
    assert_int_equal(care_calendar(tasks, n, "Plot D1; Größe, “Ü” ÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄ", "20260101T000000Z", &out, &why), OUTCOME_OK);
    size_t begins = 0;
    for (const char *line = text_get(&out); *line != '\0';) {
        const char *end = strstr(line, "\r\n");
        assert_non_null(end);
        assert_true(end - line <= 75);
        assert_null(memchr(line, '\n', (size_t)(end - line)));
        assert_true(((unsigned char)line[0] & 0xC0) != 0x80);
        begins += strncmp(line, "BEGIN:VEVENT", 12) == 0;
        line = end + 2;
    }
    assert_int_equal(begins, n);
    assert_non_null(strstr(text_get(&out), "Plot D1\\; Größe\\,"));
    assert_non_null(strstr(text_get(&out), "DTSTART;VALUE=DATE:20260901"));
    assert_int_equal(care_calendar(tasks, n, "x", "now", &out, &why), OUTCOME_USAGE);
    text_free(&out);
    arena_clear(&arena);
}

static struct care_event water_make(int64_t plot, double litres, enum done_state done, const char *why)
{
    struct care_event event;
    noun_init(NOUN_CARE_EVENT, &event);
    event.plot_id = plot;
    event.kind = CARE_KIND_WATERING;
    event.state = done;
    event.litres_m2 = litres;
    event.hours = 1;
    event.done_on = date_make(2025, 7, 1);
    event.why = why;
    return event;
}

static void a_skipped_watering_is_counted_and_unequal_care_is_said(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct care_plot plots[] = {{1, "D1", 100, 300}, {2, "C1", 100, 100}, {3, "P1", 100, 100}};
    struct care_event events[] = {water_make(1, 15, DONE_STATE_DONE, NULL), water_make(2, unknown_real(), DONE_STATE_SKIPPED, "hose ban"),
                                  water_make(2, unknown_real(), DONE_STATE_SKIPPED, NULL), water_make(3, 15, DONE_STATE_DONE, NULL),
                                  water_make(1, 15, DONE_STATE_DONE, NULL)};
    struct care_ledger out;
    events[4].done_on = date_make(2026, 7, 1);
    assert_int_equal(care_compare(events, 5, plots, 3, DATE_UNKNOWN, date_make(2025, 12, 31), WATERING_BY_AREA, 10, &arena, &out, NULL),
                     OUTCOME_OK);
    assert_near(out.totals[0].litres_m2, 15, 1e-12);
    assert_int_equal(out.totals[1].skipped, 2);
    assert_int_equal(out.totals[1].skipped_without_reason, 1);
    assert_near(out.totals[1].litres_m2, 0, 0);
    bool between_d_and_p = false, between_d_and_c = false;
    for (size_t i = 0; i < out.n_unequal; i++) {
        between_d_and_p = between_d_and_p || (out.unequal[i].a == 0 && out.unequal[i].b == 2);
        between_d_and_c = between_d_and_c || (out.unequal[i].a == 0 && out.unequal[i].b == 1 && text_same(out.unequal[i].what, "water"));
    }
    assert_false(between_d_and_p);
    assert_true(between_d_and_c);
    arena_clear(&arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(makkink_reproduces_eight_years_of_the_agency),
        cmocka_unit_test(a_seasons_deficit_agrees_with_the_agencys),
        cmocka_unit_test(penman_monteith_runs_on_the_same_series),
        cmocka_unit_test(traces_and_gaps_are_neither_zero_nor_minus_one),
        cmocka_unit_test(bad_rows_are_refused_with_their_place),
        cmocka_unit_test(programme_rows_in_any_order_make_unbroken_days),
        cmocka_unit_test(the_balance_closes),
        cmocka_unit_test(bounds_hold_whatever_fell_on_days_nobody_read),
        cmocka_unit_test(days_of_the_programme_carry_all_that_a_station_measured),
        cmocka_unit_test(a_bowser_a_thousandth_too_full_makes_no_run_of_its_own),
        cmocka_unit_test(drought_needs_every_day),
        cmocka_unit_test(tasks_move_with_planting_and_keep_their_identifiers),
        cmocka_unit_test(the_calendar_is_folded_and_ends_its_lines),
        cmocka_unit_test(a_skipped_watering_is_counted_and_unequal_care_is_said),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
