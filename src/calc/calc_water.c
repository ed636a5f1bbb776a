/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of water/. */
#include "calc/calc_rooms.h"
#include "water/water.h"
#include <math.h>
#include <string.h>

#define COUNT(list) (sizeof(list) / sizeof *(list))
#define FAO "Allen, Pereira, Raes & Smith 1998, FAO Irrigation and Drainage Paper 56, "
#define TR55 "USDA-SCS 1986, TR-55, "

static bool whole(double x)
{
    return is_known(x) && fabs(x) < 1e6 && floor(x) >= x;
}

/* ---- evapotranspiration ---- */

static const struct calc_value eto_in[] = {
    {"t_min_c", "degC", CALC_NUMBER, true, "lowest temperature"},
    {"t_max_c", "degC", CALC_NUMBER, true, "highest temperature"},
    {"latitude_deg", "deg", CALC_NUMBER, true, "latitude, north positive"},
    {"elevation_m", "m", CALC_NUMBER, true, "elevation"},
    {"day_of_year", "", CALC_NUMBER, true, "1–366"},
    {"humidity_max_pct", "%", CALC_NUMBER, false, "highest relative humidity"},
    {"humidity_min_pct", "%", CALC_NUMBER, false, "lowest relative humidity"},
    {"humidity_mean_pct", "%", CALC_NUMBER, false, "mean relative humidity"},
    {"dew_point_c", "degC", CALC_NUMBER, false, "dew point"},
    {"vapour_pressure_kpa", "kPa", CALC_NUMBER, false, "actual vapour pressure; before all others"},
    {"wind_m_s", "m/s", CALC_NUMBER, false, "mean wind; left out: 2"},
    {"wind_height_m", "m", CALC_NUMBER, false, "height of the wind, default 2"},
    {"radiation_mj_m2", "MJ/m2", CALC_NUMBER, false, "global radiation"},
    {"sunshine_h", "h", CALC_NUMBER, false, "hours of sunshine"},
    {"soil_heat_mj_m2", "MJ/m2", CALC_NUMBER, false, "soil heat, default 0"},
    {"coastal", "", CALC_WORD, false, "yes or no (default), for radiation from the range of temperature"},
};
static const struct calc_value eto_out[] = {
    {"eto_mm", "mm", CALC_NUMBER, true, "reference evapotranspiration of the day"},
    {"slope", "kPa/degC", CALC_NUMBER, true, "of the vapour pressure curve"},
    {"pressure_kpa", "kPa", CALC_NUMBER, true, "air pressure"},
    {"gamma", "kPa/degC", CALC_NUMBER, true, "psychrometric constant"},
    {"es_kpa", "kPa", CALC_NUMBER, true, "saturation vapour pressure"},
    {"ea_kpa", "kPa", CALC_NUMBER, true, "actual vapour pressure"},
    {"wind_2m_m_s", "m/s", CALC_NUMBER, true, "wind at 2 m"},
    {"extraterrestrial", "MJ/m2", CALC_NUMBER, true, "radiation above the air"},
    {"daylight_h", "h", CALC_NUMBER, true, "hours of daylight"},
    {"solar", "MJ/m2", CALC_NUMBER, true, "global radiation used"},
    {"clear_sky", "MJ/m2", CALC_NUMBER, true, "that of a clear sky"},
    {"net_short", "MJ/m2", CALC_NUMBER, true, "net short-wave"},
    {"net_long", "MJ/m2", CALC_NUMBER, true, "net long-wave"},
    {"net", "MJ/m2", CALC_NUMBER, true, "net radiation"},
    {"radiation_term_mm", "mm", CALC_NUMBER, true, "part from radiation"},
    {"aerodynamic_term_mm", "mm", CALC_NUMBER, true, "part from the air"},
    {"fallbacks", "", CALC_WORD, true, "what stood in for measurements; empty for nothing"},
};

static enum outcome eto_run(const json_t *in, json_t *result, struct failure *why)
{
    double none = unknown_real(), day = calc_number(in, "day_of_year", 0);
    if (!whole(day))
        return fail(why, OUTCOME_DATA, "day_of_year is a whole number.");
    struct eto_input input;
    eto_input_init(&input);
    const struct {
        const char *name;
        double *to;
    } fields[] = {
        {"t_min_c", &input.t_min_c},
        {"t_max_c", &input.t_max_c},
        {"latitude_deg", &input.latitude_deg},
        {"elevation_m", &input.elevation_m},
        {"humidity_max_pct", &input.humidity_max_pct},
        {"humidity_min_pct", &input.humidity_min_pct},
        {"humidity_mean_pct", &input.humidity_mean_pct},
        {"dew_point_c", &input.dew_point_c},
        {"vapour_pressure_kpa", &input.vapour_pressure_kpa},
        {"wind_m_s", &input.wind_m_s},
        {"wind_height_m", &input.wind_height_m},
        {"radiation_mj_m2", &input.radiation_mj_m2},
        {"sunshine_h", &input.sunshine_h},
        {"soil_heat_mj_m2", &input.soil_heat_mj_m2},
    };
    for (size_t i = 0; i < COUNT(fields); i++)
        *fields[i].to = calc_number(in, fields[i].name, none);
    input.day_of_year = (int)day;
    input.coastal = text_same(calc_word(in, "coastal", "no"), "yes");
    struct eto_result r;
    enum outcome outcome = eto_penman_monteith(&input, &r, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    const struct {
        const char *name;
        double value;
    } all[] = {
        {"eto_mm", r.eto_mm},
        {"slope", r.slope},
        {"pressure_kpa", r.pressure_kpa},
        {"gamma", r.gamma},
        {"es_kpa", r.es_kpa},
        {"ea_kpa", r.ea_kpa},
        {"wind_2m_m_s", r.wind_2m_m_s},
        {"extraterrestrial", r.extraterrestrial},
        {"daylight_h", r.daylight_h},
        {"solar", r.solar},
        {"clear_sky", r.clear_sky},
        {"net_short", r.net_short},
        {"net_long", r.net_long},
        {"net", r.net},
        {"radiation_term_mm", r.radiation_term_mm},
        {"aerodynamic_term_mm", r.aerodynamic_term_mm},
    };
    for (size_t i = 0; i < COUNT(all); i++)
        calc_put(result, all[i].name, all[i].value);
    struct arena arena = {0};
    calc_put_word(result, "fallbacks", eto_fallback_words(r.fallbacks, &arena));
    arena_clear(&arena);
    return OUTCOME_OK;
}

static const struct calc_value hargreaves_in[] = {
    {"t_min_c", "degC", CALC_NUMBER, true, "lowest temperature"},
    {"t_max_c", "degC", CALC_NUMBER, true, "highest temperature"},
    {"latitude_deg", "deg", CALC_NUMBER, true, "latitude, north positive"},
    {"day_of_year", "", CALC_NUMBER, true, "1–366"},
};
static const struct calc_value one_eto_out[] = {{"eto_mm", "mm", CALC_NUMBER, true, "reference evapotranspiration of the day"}};

static enum outcome hargreaves_run(const json_t *in, json_t *result, struct failure *why)
{
    double day = calc_number(in, "day_of_year", 0), mm = 0;
    if (!whole(day))
        return fail(why, OUTCOME_DATA, "day_of_year is a whole number.");
    enum outcome outcome = eto_hargreaves(calc_number(in, "t_min_c", 0), calc_number(in, "t_max_c", 0), calc_number(in, "latitude_deg", 0),
                                          (int)day, &mm, why);
    if (outcome == OUTCOME_OK)
        calc_put(result, "eto_mm", mm);
    return outcome;
}

static const struct calc_value makkink_in[] = {
    {"t_mean_c", "degC", CALC_NUMBER, true, "mean temperature of the day"},
    {"radiation_mj_m2", "MJ/m2", CALC_NUMBER, true, "global radiation"},
};

static enum outcome makkink_run(const json_t *in, json_t *result, struct failure *why)
{
    (void)why;
    calc_put(result, "eto_mm", eto_makkink(calc_number(in, "t_mean_c", 0), calc_number(in, "radiation_mj_m2", 0)));
    return OUTCOME_OK;
}

static const struct calc_value vapour_in[] = {{"t_c", "degC", CALC_NUMBER, true, "temperature"}};
static const struct calc_value vapour_out[] = {
    {"vapour_pressure_kpa", "kPa", CALC_NUMBER, true, "saturated"},
    {"slope", "kPa/degC", CALC_NUMBER, true, "of the curve there"},
};

static enum outcome vapour_run(const json_t *in, json_t *result, struct failure *why)
{
    double t = calc_number(in, "t_c", 0);
    if (!(t > -100 && t < 150))
        return fail(why, OUTCOME_DATA, "A temperature of %g °C is outside the equation.", t);
    calc_put(result, "vapour_pressure_kpa", vapour_pressure_kpa(t));
    calc_put(result, "slope", vapour_pressure_slope(t));
    return OUTCOME_OK;
}

static const struct calc_value air_in[] = {{"elevation_m", "m", CALC_NUMBER, true, "elevation"}};
static const struct calc_value air_out[] = {
    {"pressure_kpa", "kPa", CALC_NUMBER, true, "air pressure"},
    {"gamma", "kPa/degC", CALC_NUMBER, true, "psychrometric constant"},
};

static enum outcome air_run(const json_t *in, json_t *result, struct failure *why)
{
    double z = calc_number(in, "elevation_m", 0);
    if (!(z >= -500 && z <= 9000))
        return fail(why, OUTCOME_DATA, "The elevation must lie between −500 and 9,000 m.");
    calc_put(result, "pressure_kpa", air_pressure_kpa(z));
    calc_put(result, "gamma", psychrometric_kpa(air_pressure_kpa(z)));
    return OUTCOME_OK;
}

static const struct calc_value wind_in[] = {
    {"wind_m_s", "m/s", CALC_NUMBER, true, "wind"},
    {"height_m", "m", CALC_NUMBER, true, "height it was measured at"},
};
static const struct calc_value wind_out[] = {{"wind_2m_m_s", "m/s", CALC_NUMBER, true, "wind at 2 m over grass"}};

static enum outcome wind_run(const json_t *in, json_t *result, struct failure *why)
{
    double height = calc_number(in, "height_m", 0);
    if (!(height >= 0.5 && height <= 200))
        return fail(why, OUTCOME_DATA, "The height must lie between 0.5 and 200 m.");
    calc_put(result, "wind_2m_m_s", wind_at_2m(calc_number(in, "wind_m_s", 0), height));
    return OUTCOME_OK;
}

static const struct calc_value sky_in[] = {
    {"latitude_deg", "deg", CALC_NUMBER, true, "latitude, north positive"},
    {"day_of_year", "", CALC_NUMBER, true, "1–366"},
};
static const struct calc_value sky_out[] = {
    {"distance", "", CALC_NUMBER, true, "inverse relative distance of the sun"},
    {"declination", "rad", CALC_NUMBER, true, "of the sun"},
    {"sunset", "rad", CALC_NUMBER, true, "hour angle of sunset"},
    {"extraterrestrial", "MJ/m2", CALC_NUMBER, true, "radiation above the air"},
    {"daylight_h", "h", CALC_NUMBER, true, "hours of daylight"},
};

static enum outcome sky_run(const json_t *in, json_t *result, struct failure *why)
{
    struct sky sky;
    double day = calc_number(in, "day_of_year", 0);
    if (!whole(day))
        return fail(why, OUTCOME_DATA, "day_of_year is a whole number.");
    enum outcome outcome = sky_at(calc_number(in, "latitude_deg", 0), (int)day, &sky, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    calc_put(result, "distance", sky.distance);
    calc_put(result, "declination", sky.declination);
    calc_put(result, "sunset", sky.sunset);
    calc_put(result, "extraterrestrial", sky.extraterrestrial_mj_m2);
    calc_put(result, "daylight_h", sky.daylight_h);
    return OUTCOME_OK;
}

static const struct calc_value sunshine_in[] = {
    {"sunshine_h", "h", CALC_NUMBER, true, "hours of sunshine"},
    {"daylight_h", "h", CALC_NUMBER, true, "hours of daylight"},
    {"extraterrestrial", "MJ/m2", CALC_NUMBER, true, "radiation above the air"},
};
static const struct calc_value solar_out[] = {{"solar", "MJ/m2", CALC_NUMBER, true, "global radiation"}};

static enum outcome sunshine_run(const json_t *in, json_t *result, struct failure *why)
{
    (void)why;
    calc_put(result, "solar",
             radiation_from_sunshine(calc_number(in, "sunshine_h", 0), calc_number(in, "daylight_h", 0),
                                     calc_number(in, "extraterrestrial", 0)));
    return OUTCOME_OK;
}

static const struct calc_value range_in[] = {
    {"t_min_c", "degC", CALC_NUMBER, true, "lowest temperature"},
    {"t_max_c", "degC", CALC_NUMBER, true, "highest temperature"},
    {"extraterrestrial", "MJ/m2", CALC_NUMBER, true, "radiation above the air"},
    {"coastal", "", CALC_WORD, false, "yes or no (default)"},
};

static enum outcome range_run(const json_t *in, json_t *result, struct failure *why)
{
    double low = calc_number(in, "t_min_c", 0), high = calc_number(in, "t_max_c", 0);
    if (low > high)
        return fail(why, OUTCOME_DATA, "The lowest temperature is above the highest.");
    calc_put(result, "solar",
             radiation_from_range(low, high, calc_number(in, "extraterrestrial", 0), text_same(calc_word(in, "coastal", "no"), "yes")));
    return OUTCOME_OK;
}

static const struct calc_value long_in[] = {
    {"t_min_c", "degC", CALC_NUMBER, true, "lowest temperature"},     {"t_max_c", "degC", CALC_NUMBER, true, "highest temperature"},
    {"ea_kpa", "kPa", CALC_NUMBER, true, "actual vapour pressure"},   {"solar", "MJ/m2", CALC_NUMBER, true, "global radiation"},
    {"clear_sky", "MJ/m2", CALC_NUMBER, true, "that of a clear sky"},
};
static const struct calc_value long_out[] = {{"net_long", "MJ/m2", CALC_NUMBER, true, "net long-wave radiation, outwards"}};

static enum outcome long_run(const json_t *in, json_t *result, struct failure *why)
{
    double ea = calc_number(in, "ea_kpa", 0);
    if (!(ea >= 0))
        return fail(why, OUTCOME_DATA, "The vapour pressure must not be negative.");
    calc_put(result, "net_long",
             radiation_net_long(calc_number(in, "t_min_c", 0), calc_number(in, "t_max_c", 0), ea, calc_number(in, "solar", 0),
                                calc_number(in, "clear_sky", 0)));
    return OUTCOME_OK;
}

static const struct calc_value heat_in[] = {
    {"t_before_c", "degC", CALC_NUMBER, true, "mean temperature of the month before"},
    {"t_after_c", "degC", CALC_NUMBER, true, "mean temperature of the month after"},
};
static const struct calc_value heat_out[] = {{"soil_heat_mj_m2", "MJ/m2", CALC_NUMBER, true, "into the soil, per day"}};

static enum outcome heat_run(const json_t *in, json_t *result, struct failure *why)
{
    (void)why;
    calc_put(result, "soil_heat_mj_m2", soil_heat_month(calc_number(in, "t_before_c", 0), calc_number(in, "t_after_c", 0)));
    return OUTCOME_OK;
}

/* ---- balance, drought, watering ---- */

static const struct calc_value balance_in[] = {
    {"field_capacity", "m3/m3", CALC_NUMBER, true, "of the whole soil"},
    {"wilting_point", "m3/m3", CALC_NUMBER, true, "of the whole soil"},
    {"root_depth_m", "m", CALC_NUMBER, true, "depth of the roots"},
    {"rain_mm", "mm", CALC_NUMBERS, true, "rain of each day; NA for not recorded"},
    {"eto_mm", "mm", CALC_NUMBERS, true, "reference evapotranspiration of each day; NA for unknown"},
    {"watering_mm", "mm", CALC_NUMBERS, false, "water given on each day"},
    {"depletion_fraction", "", CALC_NUMBER, false, "default 0.5"},
    {"crop_coefficient", "", CALC_NUMBER, false, "default 1"},
    {"start_depletion_mm", "mm", CALC_NUMBER, false, "default 0, field capacity"},
    {"runoff_share", "", CALC_NUMBER, false, "of rain, default 0"},
    {"adjust_fraction", "", CALC_WORD, false, "yes or no (default): p + 0.04 (5 − ETc)"},
};
static const struct calc_value balance_out[] = {
    {"total_mm", "mm", CALC_NUMBER, true, "total available water"},
    {"readily_mm", "mm", CALC_NUMBERS, true, "readily available water each day"},
    {"depletion_mm", "mm", CALC_NUMBERS, true, "at the end of each day; null where not known"},
    {"stress", "", CALC_NUMBERS, true, "Ks, 1 for none"},
    {"evapotranspiration_mm", "mm", CALC_NUMBERS, true, "actual"},
    {"drainage_mm", "mm", CALC_NUMBERS, true, "below the roots"},
};

static enum outcome balance_calc_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n = 0, m = 0, k = 0;
    const double *rain = calc_numbers(in, "rain_mm", &arena, &n), *eto = calc_numbers(in, "eto_mm", &arena, &m),
                 *water = calc_numbers(in, "watering_mm", &arena, &k);
    struct balance_setting s = {calc_number(in, "field_capacity", 0),   calc_number(in, "wilting_point", 0),
                                calc_number(in, "root_depth_m", 0),     calc_number(in, "depletion_fraction", 0.5),
                                calc_number(in, "crop_coefficient", 1), calc_number(in, "start_depletion_mm", 0),
                                calc_number(in, "runoff_share", 0),     text_same(calc_word(in, "adjust_fraction", "no"), "yes")};
    struct balance_day *days = arena_array(&arena, n + 1, sizeof *days);
    enum outcome outcome = n != m || (k != 0 && k != n)
                               ? fail(why, OUTCOME_USAGE, "There are %zu days of rain and %zu of evapotranspiration.", n, m)
                               : balance_run(&s, rain, eto, k == 0 ? NULL : water, n, days, why);
    if (outcome == OUTCOME_OK) {
        double *columns[5];
        for (int c = 0; c < 5; c++)
            columns[c] = arena_array(&arena, n + 1, sizeof(double));
        for (size_t i = 0; i < n; i++) {
            columns[0][i] = days[i].readily_mm;
            columns[1][i] = days[i].depletion_mm;
            columns[2][i] = days[i].stress;
            columns[3][i] = days[i].evapotranspiration_mm;
            columns[4][i] = days[i].drainage_mm;
        }
        calc_put(result, "total_mm", balance_total_mm(&s));
        for (int c = 0; c < 5; c++)
            calc_put_all(result, balance_out[c + 1].name, columns[c], n);
    }
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value drought_in[] = {
    {"rain_mm", "mm", CALC_NUMBERS, true, "rain of the days up to the day, in order; NA for not recorded"},
    {"day", "", CALC_WORD, true, "the day, the last of the rain"},
    {"planted_on", "", CALC_WORD, false, "day of planting; left out: not looked at"},
    {"soil", "", CALC_WORD, false, "sand_or_rubble, or other (default)"},
};
static const struct calc_value drought_out[] = {
    {"state", "", CALC_WORD, true, "yes, no, off season, not known"},
    {"rain_in_days_mm", "mm", CALC_NUMBER, true, "recorded in the last 14 days"},
    {"days_unknown", "", CALC_NUMBER, true, "days not recorded"},
    {"words", "", CALC_WORD, true, "the same in words"},
};

static enum outcome drought_run(const json_t *in, json_t *result, struct failure *why)
{
    static const char *const states[] = {"not known", "off season", "no", "yes"};
    int32_t day = DATE_UNKNOWN, planted = DATE_UNKNOWN;
    const char *planted_word = calc_word(in, "planted_on", NULL);
    if (!date_read(calc_word(in, "day", ""), &day) || (planted_word != NULL && !date_read(planted_word, &planted))) {
        fail(why, OUTCOME_DATA, "A day cannot be read.");
        return failure_remedy(why, "Write days as 2025-06-14.");
    }
    struct arena arena = {0};
    struct weather_series weather = {0};
    weather.rain_mm = calc_numbers(in, "rain_mm", &arena, &weather.n);
    weather.day = arena_array(&arena, weather.n + 1, sizeof *weather.day);
    for (size_t i = 0; i < weather.n; i++)
        weather.day[i] = day - (int32_t)(weather.n - 1 - i);
    struct drought_rule rule = drought_rule_default(text_same(calc_word(in, "soil", "other"), "sand_or_rubble"));
    struct drought_answer answer = drought_judge(&rule, &weather, day, planted, &arena);
    calc_put_word(result, "state", states[answer.state]);
    calc_put(result, "rain_in_days_mm", answer.rain_mm);
    calc_put(result, "days_unknown", answer.days_unknown);
    calc_put_word(result, "words", answer.words);
    arena_clear(&arena);
    return OUTCOME_OK;
}

static const struct calc_value watering_in[] = {
    {"area_m2", "m2", CALC_NUMBERS, false, "areas of the plots; for litres per square metre"},
    {"plants", "", CALC_NUMBERS, false, "plants on the plots; for litres per plant"},
    {"litres_each", "L", CALC_NUMBER, true, "on each square metre or plant"},
    {"bowser_l", "L", CALC_NUMBER, true, "what the bowser holds"},
};
static const struct calc_value watering_out[] = {
    {"litres", "L", CALC_NUMBERS, true, "for each plot"},
    {"total_l", "L", CALC_NUMBER, true, "for all"},
    {"runs", "", CALC_NUMBER, true, "of the bowser for all"},
};

static enum outcome watering_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n = 0, m = 0;
    const double *area = calc_numbers(in, "area_m2", &arena, &n), *plants = calc_numbers(in, "plants", &arena, &m);
    enum outcome outcome =
        (n == 0) == (m == 0) ? fail(why, OUTCOME_USAGE, "Give either area_m2 or plants: one rule for all plots.") : OUTCOME_OK;
    size_t count = n > 0 ? n : m;
    struct watering_plot *plots = arena_array(&arena, count + 1, sizeof *plots);
    struct watering_line *lines = arena_array(&arena, count + 1, sizeof *lines);
    for (size_t i = 0; i < count; i++)
        plots[i] = (struct watering_plot){NULL, n > 0 ? area[i] : unknown_real(), n > 0 ? unknown_real() : plants[i]};
    double total = 0, runs = 0;
    if (outcome == OUTCOME_OK)
        outcome = watering_need(plots, count, n > 0 ? WATERING_BY_AREA : WATERING_BY_PLANT, calc_number(in, "litres_each", 0),
                                calc_number(in, "bowser_l", 0), lines, &total, &runs, why);
    if (outcome == OUTCOME_OK) {
        double *litres = arena_array(&arena, count + 1, sizeof *litres);
        for (size_t i = 0; i < count; i++)
            litres[i] = lines[i].litres;
        calc_put_all(result, "litres", litres, count);
        calc_put(result, "total_l", total);
        calc_put(result, "runs", runs);
    }
    arena_clear(&arena);
    return outcome;
}

/* ---- run-off ---- */

static const struct calc_value runoff_in[] = {
    {"rain_mm", "mm", CALC_NUMBER, true, "rain of the storm"},
    {"curve_number", "", CALC_NUMBER, false, "0–100; or cover and group"},
    {"cover", "", CALC_WORD, false, "woods_good, brush_good, open_good, open_fair, open_poor, paved"},
    {"group", "", CALC_WORD, false, "hydrologic soil group A–D"},
    {"initial_ratio", "", CALC_NUMBER, false, "initial loss over storage, default 0.2"},
};
static const struct calc_value runoff_out[] = {
    {"runoff_mm", "mm", CALC_NUMBER, true, "run-off"},
    {"storage_mm", "mm", CALC_NUMBER, true, "S"},
    {"curve_number_used", "", CALC_NUMBER, true, "curve number"},
};

static enum outcome runoff_run(const json_t *in, json_t *result, struct failure *why)
{
    double number = calc_number(in, "curve_number", unknown_real()), runoff = 0, storage = 0;
    if (!is_known(number))
        number = runoff_cover_number(calc_word(in, "cover", ""), *calc_word(in, "group", " "));
    if (!is_known(number)) {
        fail(why, OUTCOME_USAGE, "Give a curve number, or a cover and a soil group that the table has.");
        return failure_remedy(why, "Newly planted, loosened ground is not \"woods good\".");
    }
    enum outcome outcome =
        runoff_curve_number(calc_number(in, "rain_mm", 0), number, calc_number(in, "initial_ratio", 0.2), &runoff, &storage, why);
    if (outcome == OUTCOME_OK) {
        calc_put(result, "runoff_mm", runoff);
        calc_put(result, "storage_mm", storage);
        calc_put(result, "curve_number_used", number);
    }
    return outcome;
}

static const struct calc_value composite_in[] = {
    {"area", "any", CALC_NUMBERS, true, "areas of the covers"},
    {"curve_number", "", CALC_NUMBERS, true, "their curve numbers"},
    {"rain_mm", "mm", CALC_NUMBER, true, "rain of the storm"},
};
static const struct calc_value composite_out[] = {
    {"runoff_mm", "mm", CALC_NUMBER, true, "weighted by area"},
    {"mean_number", "", CALC_NUMBER, true, "curve number weighted by area"},
    {"runoff_of_mean_mm", "mm", CALC_NUMBER, true, "run-off of that number; differs where covers differ much"},
};

static enum outcome composite_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n = 0, m = 0;
    const double *area = calc_numbers(in, "area", &arena, &n), *number = calc_numbers(in, "curve_number", &arena, &m);
    double runoff = 0, of_mean = 0, mean = 0;
    enum outcome outcome = n != m ? fail(why, OUTCOME_USAGE, "Each area needs a curve number.")
                                  : runoff_composite(area, number, n, calc_number(in, "rain_mm", 0), &runoff, &of_mean, &mean, why);
    if (outcome == OUTCOME_OK) {
        calc_put(result, "runoff_mm", runoff);
        calc_put(result, "mean_number", mean);
        calc_put(result, "runoff_of_mean_mm", of_mean);
    }
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value impervious_in[] = {
    {"pervious_number", "", CALC_NUMBER, true, "curve number of the pervious ground"},
    {"impervious_pct", "%", CALC_NUMBER, true, "impervious share of the whole"},
    {"unconnected_share", "", CALC_NUMBER, false, "of the impervious, 0–1, default 0"},
};
static const struct calc_value impervious_out[] = {{"curve_number", "", CALC_NUMBER, true, "of the whole"}};

static enum outcome impervious_run(const json_t *in, json_t *result, struct failure *why)
{
    double number = 0;
    enum outcome outcome = runoff_impervious(calc_number(in, "pervious_number", 0), calc_number(in, "impervious_pct", 0),
                                             calc_number(in, "unconnected_share", 0), &number, why);
    if (outcome == OUTCOME_OK)
        calc_put(result, "curve_number", number);
    return outcome;
}

#define TABLE(name) name##_in, COUNT(name##_in), name##_out, COUNT(name##_out), name##_run
const struct calc calc_water[] = {
    {"eto", "Reference evapotranspiration of a day", FAO "eqs 3–50", TABLE(eto)},
    {"eto_hargreaves", "The same from temperatures alone", FAO "eq. 52", hargreaves_in, COUNT(hargreaves_in), one_eto_out,
     COUNT(one_eto_out), hargreaves_run},
    {"eto_makkink", "The same from mean temperature and radiation",
     "De Bruin 1987; constants of the Netherlands' weather service (from memory, reproduces its series)", makkink_in, COUNT(makkink_in),
     one_eto_out, COUNT(one_eto_out), makkink_run},
    {"vapour_pressure", "Saturation vapour pressure and its slope", FAO "eqs 11, 13", TABLE(vapour)},
    {"air_pressure", "Air pressure and psychrometric constant", FAO "eqs 7, 8", TABLE(air)},
    {"wind_at_2m", "Wind at 2 m", FAO "eq. 47", TABLE(wind)},
    {"sky", "Radiation above the air and daylight", FAO "eqs 21–25, 34", TABLE(sky)},
    {"radiation_from_sunshine", "Global radiation from sunshine", FAO "eq. 35", sunshine_in, COUNT(sunshine_in), solar_out,
     COUNT(solar_out), sunshine_run},
    {"radiation_from_range", "Global radiation from the range of temperature", FAO "eq. 50", range_in, COUNT(range_in), solar_out,
     COUNT(solar_out), range_run},
    {"radiation_net_long", "Net long-wave radiation", FAO "eq. 39", TABLE(long)},
    {"soil_heat_month", "Soil heat of a month", FAO "eq. 43", TABLE(heat)},
    {"root_zone_balance", "Root-zone water balance", FAO "ch. 8, eqs 82–88", balance_in, COUNT(balance_in), balance_out, COUNT(balance_out),
     balance_calc_run},
    {"drought_trigger", "Whether to water", "under 10 mm in 14 days, April to September; common practice, no source", TABLE(drought)},
    {"watering_need", "Litres and bowser runs", "arithmetic", TABLE(watering)},
    {"runoff", "Run-off of a storm", TR55 "eqs 2-1 to 2-4; table 2-2 from memory", TABLE(runoff)},
    {"runoff_composite", "Run-off of several covers", TR55 "ch. 2", TABLE(composite)},
    {"runoff_impervious", "Curve number with impervious ground", TR55 "ch. 2, figures 2-3, 2-4", TABLE(impervious)},
    {0},
};
