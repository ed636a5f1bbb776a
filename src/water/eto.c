/* SPDX-License-Identifier: GPL-3.0-or-later
 * Reference evapotranspiration of a day: FAO-56 Penman–Monteith with its fall-backs, Hargreaves, Makkink.
 * Equation numbers are those of Allen, Pereira, Raes & Smith 1998, FAO Irrigation and Drainage Paper 56. */
#include "water/water.h"
#include <math.h>

double vapour_pressure_kpa(double t_c)
{
    return 0.6108 * exp(17.27 * t_c / (t_c + 237.3));
}

double vapour_pressure_slope(double t_c)
{
    return 4098 * vapour_pressure_kpa(t_c) / ((t_c + 237.3) * (t_c + 237.3));
}

double air_pressure_kpa(double elevation_m)
{
    return 101.3 * pow((293 - 0.0065 * elevation_m) / 293, 5.26);
}

double psychrometric_kpa(double pressure_kpa)
{
    return 0.000665 * pressure_kpa;
}

double wind_at_2m(double wind_m_s, double height_m)
{
    return wind_m_s * 4.87 / log(67.8 * height_m - 5.42);
}

enum outcome sky_at(double latitude_deg, int day_of_year, struct sky *out, struct failure *why)
{
    if (!(latitude_deg >= -90 && latitude_deg <= 90)) {
        fail(why, OUTCOME_DATA, "A latitude of %g° cannot be; it must lie between −90 and 90.", latitude_deg);
        return failure_remedy(why, "Give decimal degrees, north positive.");
    }
    if (day_of_year < 1 || day_of_year > 366)
        return fail(why, OUTCOME_DATA, "There is no day %d of the year.", day_of_year);
    double turn = 2 * M_PI * day_of_year / 365, latitude = latitude_deg * M_PI / 180;
    struct sky sky = {.distance = 1 + 0.033 * cos(turn), .declination = 0.409 * sin(turn - 1.39)};
    double cosine = -tan(latitude) * tan(sky.declination);
    sky.sunset = cosine >= 1 ? 0 : cosine <= -1 ? M_PI : acos(cosine); /* polar night and day */
    sky.extraterrestrial_mj_m2 =
        fmax(0, 24 * 60 / M_PI * 0.0820 * sky.distance *
                    (sky.sunset * sin(latitude) * sin(sky.declination) + cos(latitude) * cos(sky.declination) * sin(sky.sunset)));
    sky.daylight_h = 24 / M_PI * sky.sunset;
    *out = sky;
    return OUTCOME_OK;
}

double radiation_from_sunshine(double sunshine_h, double daylight_h, double extraterrestrial_mj_m2)
{
    double share = daylight_h > 0 ? fmin(1, sunshine_h / daylight_h) : 0;
    return (0.25 + 0.50 * share) * extraterrestrial_mj_m2;
}

double radiation_from_range(double t_min_c, double t_max_c, double extraterrestrial_mj_m2, bool coastal)
{
    double by_range = (coastal ? 0.19 : 0.16) * sqrt(t_max_c - t_min_c) * extraterrestrial_mj_m2;
    return fmin(by_range, 0.75 * extraterrestrial_mj_m2);
}

double radiation_net_long(double t_min_c, double t_max_c, double ea_kpa, double solar_mj_m2, double clear_sky_mj_m2)
{
    double high = t_max_c + 273.16, low = t_min_c + 273.16, ratio = clear_sky_mj_m2 > 0 ? fmin(1, solar_mj_m2 / clear_sky_mj_m2) : 1;
    return 4.903e-9 * (pow(high, 4) + pow(low, 4)) / 2 * (0.34 - 0.14 * sqrt(ea_kpa)) * (1.35 * ratio - 0.35);
}

double soil_heat_month(double t_before_c, double t_after_c)
{
    return 0.07 * (t_after_c - t_before_c);
}

void eto_input_init(struct eto_input *in)
{
    double none = unknown_real();
    *in = (struct eto_input){none, none, none, none, none, none, none, none, none, none, none, none, none, none, 0, false};
}

static bool outside(double x, double low, double high)
{
    return is_known(x) && !(x >= low && x <= high);
}

static enum outcome input_check(const struct eto_input *in, struct failure *why)
{
    if (!is_known(in->t_min_c) || !is_known(in->t_max_c))
        return fail(why, OUTCOME_DATA, "The lowest and highest temperature of the day are needed.");
    if (in->t_min_c > in->t_max_c)
        return fail(why, OUTCOME_DATA, "The lowest temperature (%g °C) is above the highest (%g °C).", in->t_min_c, in->t_max_c);
    if (outside(in->t_min_c, -90, 60) || outside(in->t_max_c, -90, 60)) {
        fail(why, OUTCOME_DATA, "Temperatures of %g and %g °C cannot be.", in->t_min_c, in->t_max_c);
        return failure_remedy(why, "Some services write tenths of a degree.");
    }
    if (!(in->elevation_m >= -500 && in->elevation_m <= 9000))
        return fail(why, OUTCOME_DATA, "The elevation must be known and lie between −500 and 9,000 m.");
    const struct {
        const char *what;
        double value, low, high;
    } limits[] = {
        {"Mean humidity", in->humidity_mean_pct, 0, 100},
        {"Highest humidity", in->humidity_max_pct, 0, 100},
        {"Lowest humidity", in->humidity_min_pct, 0, 100},
        {"Wind", in->wind_m_s, 0, 80},
        {"Radiation", in->radiation_mj_m2, 0, 60},
        {"Sunshine", in->sunshine_h, 0, 24},
        {"Vapour pressure", in->vapour_pressure_kpa, 0, 15},
        {"Height of the wind", in->wind_height_m, 0.5, 200},
        {"Dew point", in->dew_point_c, -90, 60},
    };
    for (size_t i = 0; i < sizeof limits / sizeof *limits; i++)
        if (outside(limits[i].value, limits[i].low, limits[i].high))
            return fail(why, OUTCOME_DATA, "%s of %g cannot be; it must lie between %g and %g.", limits[i].what, limits[i].value,
                        limits[i].low, limits[i].high);
    return OUTCOME_OK;
}

/* Actual vapour pressure, best source first: eqs 14, 17, 19, 48. */
static double actual_vapour(const struct eto_input *in, double es, unsigned *fallbacks)
{
    double low = vapour_pressure_kpa(in->t_min_c), high = vapour_pressure_kpa(in->t_max_c);
    if (is_known(in->vapour_pressure_kpa))
        return in->vapour_pressure_kpa;
    if (is_known(in->dew_point_c))
        return vapour_pressure_kpa(in->dew_point_c);
    if (is_known(in->humidity_max_pct) && is_known(in->humidity_min_pct))
        return (low * in->humidity_max_pct + high * in->humidity_min_pct) / 200;
    if (is_known(in->humidity_mean_pct)) {
        *fallbacks |= ETO_HUMIDITY_FROM_MEAN;
        return in->humidity_mean_pct / 100 * es;
    }
    *fallbacks |= ETO_HUMIDITY_FROM_MINIMUM;
    return low;
}

/* Global radiation: measured, from sunshine (eq. 35), or from the range of temperature (eq. 50). */
static double solar_radiation(const struct eto_input *in, const struct sky *sky, unsigned *fallbacks)
{
    if (is_known(in->radiation_mj_m2))
        return in->radiation_mj_m2;
    if (is_known(in->sunshine_h)) {
        *fallbacks |= ETO_RADIATION_FROM_SUNSHINE;
        return radiation_from_sunshine(in->sunshine_h, sky->daylight_h, sky->extraterrestrial_mj_m2);
    }
    *fallbacks |= ETO_RADIATION_FROM_RANGE;
    return radiation_from_range(in->t_min_c, in->t_max_c, sky->extraterrestrial_mj_m2, in->coastal);
}

static double wind_speed(const struct eto_input *in, unsigned *fallbacks)
{
    if (!is_known(in->wind_m_s)) {
        *fallbacks |= ETO_WIND_ASSUMED;
        return 2;
    }
    double height = is_known(in->wind_height_m) ? in->wind_height_m : 2,
           wind = height > 2 || height < 2 ? wind_at_2m(in->wind_m_s, height) : in->wind_m_s;
    if (wind < 0.5) {
        *fallbacks |= ETO_WIND_FLOORED;
        return 0.5;
    }
    return wind;
}

enum outcome eto_penman_monteith(const struct eto_input *in, struct eto_result *out, struct failure *why)
{
    struct sky sky;
    enum outcome outcome = input_check(in, why);
    if (outcome == OUTCOME_OK)
        outcome = sky_at(in->latitude_deg, in->day_of_year, &sky, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct eto_result r = {0};
    r.t_mean_c = (in->t_min_c + in->t_max_c) / 2; /* also where an hourly mean is known: FAO-56, ch. 3 */
    r.slope = vapour_pressure_slope(r.t_mean_c);
    r.pressure_kpa = air_pressure_kpa(in->elevation_m);
    r.gamma = psychrometric_kpa(r.pressure_kpa);
    r.es_kpa = (vapour_pressure_kpa(in->t_min_c) + vapour_pressure_kpa(in->t_max_c)) / 2;
    r.ea_kpa = actual_vapour(in, r.es_kpa, &r.fallbacks);
    r.wind_2m_m_s = wind_speed(in, &r.fallbacks);
    r.extraterrestrial = sky.extraterrestrial_mj_m2;
    r.daylight_h = sky.daylight_h;
    r.solar = solar_radiation(in, &sky, &r.fallbacks);
    r.clear_sky = (0.75 + 2e-5 * in->elevation_m) * r.extraterrestrial;
    r.net_short = 0.77 * r.solar;
    if (r.clear_sky > 0 && r.solar > r.clear_sky)
        r.fallbacks |= ETO_RADIATION_CAPPED;
    r.net_long = radiation_net_long(in->t_min_c, in->t_max_c, r.ea_kpa, r.solar, r.clear_sky);
    r.net = r.net_short - r.net_long;
    double heat = is_known(in->soil_heat_mj_m2) ? in->soil_heat_mj_m2 : 0, below = r.slope + r.gamma * (1 + 0.34 * r.wind_2m_m_s);
    r.radiation_term_mm = 0.408 * r.slope * (r.net - heat) / below;
    r.aerodynamic_term_mm = r.gamma * 900 / (r.t_mean_c + 273) * r.wind_2m_m_s * (r.es_kpa - r.ea_kpa) / below;
    r.eto_mm = fmax(0, r.radiation_term_mm + r.aerodynamic_term_mm);
    *out = r;
    return OUTCOME_OK;
}

enum outcome eto_hargreaves(double t_min_c, double t_max_c, double latitude_deg, int day_of_year, double *mm, struct failure *why)
{
    struct sky sky;
    if (!is_known(t_min_c) || !is_known(t_max_c) || t_min_c > t_max_c)
        return fail(why, OUTCOME_DATA, "The lowest and highest temperature are needed, the lowest not above the highest.");
    enum outcome outcome = sky_at(latitude_deg, day_of_year, &sky, why);
    if (outcome == OUTCOME_OK)
        *mm = fmax(0, 0.0023 * ((t_min_c + t_max_c) / 2 + 17.8) * sqrt(t_max_c - t_min_c) * 0.408 * sky.extraterrestrial_mj_m2);
    return outcome;
}

double eto_makkink(double t_mean_c, double radiation_mj_m2)
{
    if (!is_known(t_mean_c) || !is_known(radiation_mj_m2))
        return unknown_real();
    double warm = 237.3 + t_mean_c, es_hpa = 6.107 * pow(10, 7.5 * t_mean_c / warm), slope = 7.5 * 237.3 / (warm * warm) * log(10) * es_hpa;
    double gamma = 0.646 + 0.0006 * t_mean_c, latent_mj_kg = (2501 - 2.375 * t_mean_c) / 1000;
    return 0.65 * slope / (slope + gamma) * radiation_mj_m2 / latent_mj_kg;
}

const char *eto_fallback_words(unsigned fallbacks, struct arena *arena)
{
    static const struct {
        unsigned bit;
        const char *words;
    } all[] = {
        {ETO_HUMIDITY_FROM_MINIMUM, "Humidity was not measured: the dew point is taken as the lowest temperature."},
        {ETO_HUMIDITY_FROM_MEAN, "Vapour pressure is from mean humidity."},
        {ETO_RADIATION_FROM_SUNSHINE, "Radiation was not measured: it is from hours of sunshine."},
        {ETO_RADIATION_FROM_RANGE, "Radiation was not measured: it is from the range of temperature."},
        {ETO_WIND_ASSUMED, "Wind was not measured: 2 m/s is taken."},
        {ETO_WIND_FLOORED, "Wind was raised to 0.5 m/s."},
        {ETO_RADIATION_CAPPED, "Radiation was above a clear sky's: the ratio is held at 1."},
    };
    struct text text = {0};
    for (size_t i = 0; i < sizeof all / sizeof *all; i++)
        if ((fallbacks & all[i].bit) != 0)
            text_print(&text, "%s%s", text.n > 0 ? " " : "", all[i].words);
    const char *out = arena_text(arena, text_get(&text));
    text_free(&text);
    return out;
}
