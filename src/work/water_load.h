/* SPDX-License-Identifier: GPL-3.0-or-later
 * Weather, place and soil for the water jobs. */
#ifndef SPINNEY_WORK_WATER_LOAD_H
#define SPINNEY_WORK_WATER_LOAD_H
#include "water/water.h"
#include "work/load.h"

/// Weather of a site with its evapotranspiration. Everything lives in the arena.
struct site_weather {
    struct weather_series series; ///< the site's own days; where it has none, those of the programme
    double *eto_mm;
    unsigned fallbacks; ///< of the days asked for
    size_t no_rain, no_eto;
    double latitude_deg, elevation_m;
    bool elevation_known, by_agency;
    const char *words; ///< how evapotranspiration was had, with every fall-back named
};
/// Fall-backs are named for the days `from` to `to`. `elevation_m` unknown: the site's, else 0 and said so. `by_agency`: the station's own evaporation column instead of our own.
/// Fails with OUTCOME_DATA where there is no weather, or the site has no boundary to take the latitude from.
enum outcome site_weather_load(struct store *store, const struct programme *programme, const struct site *site, double elevation_m,
                               bool by_agency, int32_t from, int32_t to, struct arena *arena, struct site_weather *out,
                               struct failure *why);

/// What the root zone of a plot holds.
struct plot_water {
    struct plot plot;
    const char *name;
    struct young_stand stand;
    struct balance_setting setting;
    bool droughty;    ///< sand or rubble: the trigger holds one season longer
    double area_m2;   ///< net; unknown
    double plants;    ///< entered as planted, replacements too
    const char *soil; ///< words: from which samples, what was assumed; NULL: soil not known
};
/// Soil from the samples of the plot, else of the site. `root_depth_m` and `coefficient` unknown: as a young stand has them.
enum outcome plot_water_load(struct store *store, const struct site *site, const struct plot *plot, int32_t on, double root_depth_m,
                             double coefficient, struct arena *arena, struct plot_water *out, struct failure *why);

/// A plot's root zone over days. Arrays of n; the first day is `from`.
struct plot_season {
    int32_t from;
    size_t n;
    struct balance_day *days;             ///< unknown where the bounds are more than a millimetre apart
    struct balance_day *driest, *wettest; ///< as if unknown rain had been none, or a soaking
    double *rain_mm, *eto_mm, *given_mm;  ///< given: watering; 0 where none is recorded, unknown where litres are
    double total_mm;                      ///< TAW
    double worst_mm;                      ///< largest depletion; unknown if no day is known
    int32_t worst_on;
    size_t stressed, unknown;                                   ///< days with less water than the plants want; days not known
    double rain_sum, eto_sum, given_sum, used_sum, drained_sum; ///< over the days that are known
    double climatic_mm; ///< largest sum of evapotranspiration less rain since any earlier day, of known days
    int32_t climatic_on;
};
/// From field capacity on `from`. Fails with OUTCOME_DATA where the soil is not known or the days lie outside the weather.
enum outcome plot_season_make(const struct site_weather *weather, const struct plot_water *water, const struct care_event *care,
                              size_t n_care, int32_t from, int32_t to, struct arena *arena, struct plot_season *out, struct failure *why);
#endif
