/* SPDX-License-Identifier: GPL-3.0-or-later
 * The face of water/: weather, reference evapotranspiration, root-zone balance, watering need, run-off, aftercare tasks. */
#ifndef SPINNEY_WATER_H
#define SPINNEY_WATER_H
#include "base/base.h"
#include "model/model.h"

/* ---- reference evapotranspiration ---- */

/// What had to be put in the place of a measurement. Bits of eto_result.fallbacks.
enum eto_fallback {
    ETO_HUMIDITY_FROM_MINIMUM = 1,   ///< vapour pressure from the lowest temperature (FAO-56 eq. 48)
    ETO_HUMIDITY_FROM_MEAN = 2,      ///< from mean humidity (eq. 19)
    ETO_RADIATION_FROM_SUNSHINE = 4, ///< Ångström (eq. 35)
    ETO_RADIATION_FROM_RANGE = 8,    ///< temperature range (eq. 50)
    ETO_WIND_ASSUMED = 16,           ///< 2 m/s (FAO-56, ch. 4)
    ETO_WIND_FLOORED = 32,           ///< raised to 0.5 m/s (FAO-56, ch. 4)
    ETO_RADIATION_CAPPED = 64,       ///< radiation above a clear sky's: the ratio is held at 1
};

/// Unknown members are not there; t_min_c, t_max_c, latitude_deg, elevation_m and day_of_year are needed.
struct eto_input {
    double t_min_c, t_max_c;
    double humidity_max_pct, humidity_min_pct; ///< the day's highest (goes with t_min) and lowest (with t_max)
    double humidity_mean_pct;
    double dew_point_c;
    double vapour_pressure_kpa; ///< actual; used before all others
    double wind_m_s, wind_height_m;
    double radiation_mj_m2; ///< global
    double sunshine_h;
    double soil_heat_mj_m2; ///< unknown: 0, right for a day
    double latitude_deg, elevation_m;
    int day_of_year; ///< 1–366
    bool coastal;    ///< for the temperature-range fall-back: 0.19 in place of 0.16
};
void eto_input_init(struct eto_input *in);
struct eto_result {
    double eto_mm; ///< per day
    double t_mean_c, slope, gamma, pressure_kpa, es_kpa, ea_kpa, wind_2m_m_s;
    double extraterrestrial, daylight_h, solar, clear_sky, net_short, net_long, net; ///< MJ/m²/d but for the hours
    double radiation_term_mm, aerodynamic_term_mm;
    unsigned fallbacks; ///< of enum eto_fallback
};
/// FAO-56 Penman–Monteith for one day. Every fall-back taken is named in the result. Fails with OUTCOME_DATA where the
/// temperatures are missing or crossed, or the place or day cannot be. Allen, Pereira, Raes & Smith 1998, eqs 3–52.
enum outcome eto_penman_monteith(const struct eto_input *in, struct eto_result *out, struct failure *why);
/// Hargreaves–Samani (FAO-56 eq. 52), from temperatures alone [mm].
enum outcome eto_hargreaves(double t_min_c, double t_max_c, double latitude_deg, int day_of_year, double *mm, struct failure *why);
/// Makkink after De Bruin 1987 as the Dutch weather service computes it, from mean temperature and global radiation [mm].
double eto_makkink(double t_mean_c, double radiation_mj_m2);
const char *eto_fallback_words(unsigned fallbacks, struct arena *arena); ///< "" for none
/* The pieces, for checking one number at a time. */
double vapour_pressure_kpa(double t_c);                                                                               ///< saturated, eq. 11
double vapour_pressure_slope(double t_c);                                                                             ///< kPa/°C, eq. 13
double air_pressure_kpa(double elevation_m);                                                                          ///< eq. 7
double psychrometric_kpa(double pressure_kpa);                                                                        ///< kPa/°C, eq. 8
double wind_at_2m(double wind_m_s, double height_m);                                                                  ///< eq. 47
double radiation_from_sunshine(double sunshine_h, double daylight_h, double extraterrestrial_mj_m2);                  ///< eq. 35
double radiation_from_range(double t_min_c, double t_max_c, double extraterrestrial_mj_m2, bool coastal);             ///< eq. 50
double radiation_net_long(double t_min_c, double t_max_c, double ea_kpa, double solar_mj_m2, double clear_sky_mj_m2); ///< eq. 39
/// Soil heat of a month from the mean temperatures of the months before and after it [MJ/m²/d], eq. 43.
double soil_heat_month(double t_before_c, double t_after_c);
struct sky {
    double distance;                           ///< inverse relative distance earth–sun, eq. 23
    double declination;                        ///< rad, eq. 24
    double sunset;                             ///< hour angle, rad, eq. 25
    double extraterrestrial_mj_m2, daylight_h; ///< eqs 21, 34
};
/// Polar day and night are handled: the hour angle is then π or 0.
enum outcome sky_at(double latitude_deg, int day_of_year, struct sky *out, struct failure *why);

/* ---- weather tables ---- */

/// How one agency writes a column. `scale` turns the figure into ours; `trace` is the code for "less than can be measured".
struct weather_column {
    const char *name; ///< NULL: not there
    double scale;
    double trace;       ///< unknown: none
    double trace_value; ///< in our unit
    double missing;     ///< code for missing; unknown: none (blank is always missing)
};
struct weather_form {
    const char *name, *title;
    const char *day;  ///< column of the date
    bool compact_day; ///< 20240914 rather than 2024-09-14
    struct weather_column rain, t_min, t_max, t_mean, humidity, wind, radiation, sunshine, evaporation;
};
/// Forms by number, the first is 0; NULL past the end. "plain" is our own columns with units in their names.
const struct weather_form *weather_form_get(size_t index);
const struct weather_form *weather_form_find(const char *name);
/// Days in unbroken order; unknown where nothing was recorded.
struct weather_series {
    int32_t *day;
    double *rain_mm, *t_min_c, *t_max_c, *t_mean_c, *humidity_pct, *wind_m_s, *radiation_mj_m2, *sunshine_h, *evaporation_mm;
    size_t n;
    size_t traces;       ///< cells that held the code for a trace
    size_t missing_days; ///< days between the first and the last that had no row
};
/// Row 0 is the header. A day that comes twice is refused; what is not a number, or cannot be, names its row and column.
/// The arena owns the columns.
enum outcome weather_read(const struct csv_table *table, const struct weather_form *form, struct arena *arena, struct weather_series *out,
                          struct failure *why);
/// The same from the programme's rows in any order; gaps become unknown.
enum outcome weather_from_days(const struct weather_day *days, size_t n, struct arena *arena, struct weather_series *out,
                               struct failure *why);
/// Reference evapotranspiration of each day: eto_mm[n] (unknown where temperatures are), fallbacks[n] may be NULL. Wind is taken
/// at `wind_height_m` (10 is usual).
enum outcome weather_eto(const struct weather_series *weather, double latitude_deg, double elevation_m, double wind_height_m,
                         double *eto_mm, unsigned *fallbacks, struct failure *why);

/* ---- root-zone balance (FAO-56 ch. 8) ---- */

struct balance_setting {
    double field_capacity, wilting_point; ///< m³/m³, stones taken off
    double root_depth_m;
    double depletion_fraction; ///< p of the table for 5 mm/d; trees 0.50–0.70
    double crop_coefficient;   ///< Kc
    double start_depletion_mm; ///< 0: field capacity
    double runoff_share;       ///< of rain, 0–1
    bool adjust_fraction;      ///< p + 0.04 (5 − ETc), eq. of table 22
};
struct balance_day {
    double depletion_mm;          ///< at the end of the day; unknown where not known
    double stress;                ///< Ks, 1 none
    double evapotranspiration_mm; ///< actual
    double drainage_mm;           ///< below the root zone
    double readily_mm;            ///< RAW that day
};
/// One result a day, out[n]. Unknown rain or evapotranspiration makes the day and those after it unknown, until a day whose known
/// rain and watering fill the whole store whatever was in it. `irrigation_mm` may be NULL (none was given).
enum outcome balance_run(const struct balance_setting *setting, const double *rain_mm, const double *eto_mm, const double *irrigation_mm,
                         size_t n, struct balance_day *out, struct failure *why);
double balance_total_mm(const struct balance_setting *setting); ///< TAW
/// The same between bounds where rain or watering of some days is not known: `driest` as if none had come, `wettest` as if the whole
/// store had been filled on each such day. Where the two are within `close_mm` of each other after a soaking, the day is known again:
/// out[i] is then driest[i], else unknown. Unknown evapotranspiration stays unknown in all three. Arrays of n; bounds must not be NULL.
enum outcome balance_bounds(const struct balance_setting *setting, const double *rain_mm, const double *eto_mm, const double *irrigation_mm,
                            size_t n, double close_mm, struct balance_day *out, struct balance_day *driest, struct balance_day *wettest,
                            struct arena *arena, struct failure *why);

/// What a young planting draws from the ground.
struct young_stand {
    double root_depth_m;
    double leaves;      ///< part of the coefficient that the plants draw
    double bare_ground; ///< part that evaporates from the ground between them
    double coefficient; ///< Kc, the sum
    bool mulched;
};
/// By growing season after planting (1 first; 3 and later alike). Rooting depth 0.30, 0.45, 0.60 m, no deeper than the ground was
/// loosened (but at least 0.30 m; unknown: not limited); leaves 0.30, 0.50, 0.80; ground 0.50: common practice, no source.
/// Mulch of 5 cm or more over all the ground halves what evaporates from it (FAO-56 ch. 10: 5 % for each 10 % covered).
struct young_stand young_stand_usual(int season, double mulch_depth_m, double loosened_depth_m);
/// Number of the growing season on a day, 1 first: planting from July to June belongs to the season of the year of that June.
/// 0 or less before planting; 1 where the day of planting is not known.
int growing_season(int32_t day, int32_t planted_on);

/* ---- drought trigger and watering ---- */

enum drought_state { DROUGHT_UNKNOWN, DROUGHT_OFF_SEASON, DROUGHT_NO, DROUGHT_YES };
struct drought_rule {
    double rain_mm;              ///< under this, 10
    int days;                    ///< in so many days, 14
    int first_month, last_month; ///< 4–9, northern hemisphere
    int seasons;                 ///< growing seasons after planting in which it holds: 2, on sand and rubble 3
};
struct drought_rule drought_rule_default(bool sand_or_rubble); ///< common practice, no source
struct drought_answer {
    enum drought_state state;
    double rain_mm; ///< known to have fallen
    int days_unknown;
    const char *words;
};
/// At the end of `day`. Days not recorded are unknown, not dry: the answer is "not known" unless what is known already reaches
/// the threshold. Words live in the arena.
struct drought_answer drought_judge(const struct drought_rule *rule, const struct weather_series *weather, int32_t day, int32_t planted_on,
                                    struct arena *arena);
enum watering_basis { WATERING_BY_AREA, WATERING_BY_PLANT };
struct watering_plot {
    const char *plot;
    double area_m2, plants;
};
struct watering_line {
    double litres;
    double runs; ///< of the bowser for this plot alone
};
/// Litres for a list of plots under one rule, and bowser runs for all together. `lines` has n entries.
enum outcome watering_need(const struct watering_plot *plots, size_t n, enum watering_basis basis, double litres_each, double bowser_l,
                           struct watering_line *lines, double *total_l, double *runs, struct failure *why);

/* ---- run-off (USDA TR-55, 1986, eqs 2-1 to 2-4) ---- */

/// Run-off [mm] of a storm [mm] on a curve number above 0 to 100; initial loss `ratio` × S (0.2).
enum outcome runoff_curve_number(double rain_mm, double curve_number, double ratio, double *runoff_mm, double *storage_mm,
                                 struct failure *why);
/// Several covers: run-off weighted by area, and for comparison the run-off of the area-weighted curve number.
enum outcome runoff_composite(const double *area, const double *curve_number, size_t n, double rain_mm, double *by_runoff_mm,
                              double *by_number_mm, double *mean_number, struct failure *why);
/// Curve number with impervious ground (98): all connected (`unconnected_share` 0), or a share of it not (below 30 % impervious).
enum outcome runoff_impervious(double pervious_number, double impervious_pct, double unconnected_share, double *number,
                               struct failure *why);
/// Curve number of a cover in its condition on hydrologic soil group 'A'–'D': "woods_good", "brush_good", "open_good", "open_fair",
/// "open_poor", "paved". TR-55 table 2-2, from memory. Unknown if there is none.
double runoff_cover_number(const char *cover, char group);

/* ---- aftercare tasks ---- */

struct care_rule {
    const char *key;     ///< part of the stable identifier
    enum care_kind kind; ///< CARE_KIND_UNKNOWN for looks and counts
    const char *words;
    int season;      ///< growing season after planting, 1 first
    int month, day;  ///< in that season's calendar year (northern hemisphere)
    bool on_trigger; ///< only if the drought trigger is on
};
/// Rules of a recipe: "dense" or "comparison"; NULL if there is none. Common practice, no source.
const struct care_rule *care_rules(const char *recipe, size_t *n);
struct care_task {
    const struct care_rule *rule;
    int32_t on;
    const char *uid; ///< the same for the same plot, rule and season, whenever it is made
};
/// Tasks of a plot from its planting date: planting from July to the end of June belongs to the growing season of the year in
/// which that June lies. What would fall before planting is left out. In order of date, in the arena.
struct care_task *care_tasks(const char *plot_uid, int32_t planted_on, const struct care_rule *rules, size_t n_rules, struct arena *arena,
                             size_t *n_out);
/// The tasks as an iCalendar (RFC 5545) text added to `out`; `stamp` is the moment, such as "20260101T000000Z".
enum outcome care_calendar(const struct care_task *tasks, size_t n, const char *plot_name, const char *stamp, struct text *out,
                           struct failure *why);

/* ---- equal care ---- */

struct care_plot {
    int64_t id;
    const char *code;
    double area_m2, plants; ///< net area; plants planted
};
struct care_total {
    double litres_m2;                                          ///< water given; unknown if a watering that was done has no litres
    double litres_plant;                                       ///< the same per plant
    size_t waterings, partly, skipped, skipped_without_reason; ///< visits to water
    double hours_m2;                                           ///< of all care; unknown if a visit that was done has no hours
};
struct care_inequality {
    size_t a, b;      ///< plots, by index
    const char *what; ///< "water", "waterings" or "hours"
    double a_value, b_value;
    const char *words; ///< the line that goes into the comparison
};
struct care_ledger {
    struct care_total *totals; ///< one per plot, in order
    struct care_inequality *unequal;
    size_t n_unequal;
    const char *answer; ///< equal, unequal and in what, or not known
};
/// Care of plots that are to be compared, between two days (DATE_UNKNOWN: no limit). Water is compared per m² or per plant, as
/// was chosen before planting; a difference of more than `tolerance_pct` of the larger is unequal. Arena memory.
enum outcome care_compare(const struct care_event *events, size_t n_events, const struct care_plot *plots, size_t n_plots, int32_t from,
                          int32_t to, enum watering_basis basis, double tolerance_pct, struct arena *arena, struct care_ledger *out,
                          struct failure *why);

/* ---- replacing losses ---- */

struct replacement_layer {
    const char *name;
    double target, alive; ///< plants
};
/// What the policy needs to know; unknown is unknown. The limits are common practice, no source; replacement_policy_default.
struct replacement_case {
    bool dense;            ///< dense plot, else a comparison plot at about one to the square metre
    double planted, alive; ///< of the first planting; not found counts as neither
    double area_m2;
    double largest_gap_m2; ///< largest piece without a living plant
    int autumn;            ///< autumns since planting, 1 first
    bool replaced_before;
    const struct replacement_layer *layers;
    size_t n_layers;
    enum truth cause_is_ground; ///< whether the losses come from the ground (wet hollow, refusal)
};
struct replacement_policy {
    double survival;    ///< comparison plot: replace under this share, 0.85
    int last_year;      ///< and not after this autumn, 2
    double gap_m2;      ///< dense plot: a gap above this, 2
    double density_m2;  ///< or fewer living plants than this, 2
    double layer_share; ///< or a layer under this share of its target, 0.6
};
struct replacement_policy replacement_policy_default(void);
struct replacement_advice {
    enum truth replace;
    double plants; ///< that would bring it back; unknown where not known
    const char *words;
};
struct replacement_advice replacement_advise(const struct replacement_case *what, const struct replacement_policy *policy,
                                             struct arena *arena);
#endif
