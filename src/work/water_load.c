/* SPDX-License-Identifier: GPL-3.0-or-later
 * Loading for the water jobs. */
#include "work/water_load.h"
#include "ground/ground.h"
#include <math.h>
#include <string.h>

enum { USUAL_WIND_HEIGHT_M = 10 };

/* The site's own day goes before the programme's. */
static struct weather_day *days_of(const struct weather_day *rows, size_t n, int64_t site, struct arena *arena, size_t *n_out)
{
    struct weather_day *out = arena_array(arena, n + 1, sizeof *out);
    int32_t first = INT32_MAX, last = INT32_MIN;
    *n_out = 0;
    for (size_t i = 0; i < n; i++)
        if (rows[i].day != DATE_UNKNOWN && (rows[i].site_id == site || rows[i].site_id == 0)) {
            first = rows[i].day < first ? rows[i].day : first;
            last = rows[i].day > last ? rows[i].day : last;
        }
    if (first > last || last - first > 400000)
        return out;
    const struct weather_day **at = arena_array(arena, (size_t)(last - first) + 1, sizeof *at);
    for (size_t i = 0; i < n; i++)
        if (rows[i].day != DATE_UNKNOWN && (rows[i].site_id == site || (rows[i].site_id == 0 && at[rows[i].day - first] == NULL)))
            at[rows[i].day - first] = &rows[i];
    for (int32_t i = 0; i <= last - first; i++)
        if (at[i] != NULL)
            out[(*n_out)++] = *at[i];
    return out;
}

static enum outcome latitude_of(const struct programme *programme, const struct site *site, struct arena *arena, double *latitude_deg,
                                struct failure *why)
{
    struct shape shape;
    struct crs_way *way = NULL;
    double xy[2] = {0, 0};
    enum outcome outcome = load_shape(site->wkb, arena, &shape, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (shape.kind == SHAPE_NONE) {
        fail(why, OUTCOME_DATA, "Site %s has no boundary, so its latitude is not known.", site->code);
        return failure_remedy(why, "Bring its boundary in first.");
    }
    shape_centre(&shape, &xy[0], &xy[1]);
    outcome = crs_way_new(crs_code(programme, arena), "EPSG:4326", &way, why);
    if (outcome == OUTCOME_OK)
        outcome = crs_way_points(way, xy, 1, why);
    crs_way_free(way);
    *latitude_deg = xy[1];
    return outcome;
}

static void weather_count(struct site_weather *out, const unsigned *fallbacks, int32_t from, int32_t to)
{
    for (size_t i = 0; i < out->series.n; i++) {
        if (out->series.day[i] < from || out->series.day[i] > to)
            continue;
        out->no_rain += !is_known(out->series.rain_mm[i]);
        out->no_eto += !is_known(out->eto_mm[i]);
        out->fallbacks |= fallbacks[i];
    }
}

enum outcome site_weather_load(struct store *store, const struct programme *programme, const struct site *site, double elevation_m,
                               bool by_agency, int32_t from, int32_t to, struct arena *arena, struct site_weather *out, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0, kept = 0;
    *out = (struct site_weather){.by_agency = by_agency};
    enum outcome outcome = load_all(store, NOUN_WEATHER_DAY, arena, &rows, &n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct weather_day *days = days_of(rows, n, site->id, arena, &kept);
    if (kept == 0) {
        fail(why, OUTCOME_DATA, "There is no weather for site %s.", site->code);
        return failure_remedy(why,
                              "Bring a station's file in (spinney weather FILE station.csv), or type what the gauge read (spinney rain).");
    }
    out->elevation_known = is_known(elevation_m) || is_known(site->elevation_m);
    out->elevation_m = is_known(elevation_m) ? elevation_m : is_known(site->elevation_m) ? site->elevation_m : 0;
    outcome = weather_from_days(days, kept, arena, &out->series, why);
    if (outcome == OUTCOME_OK)
        outcome = latitude_of(programme, site, arena, &out->latitude_deg, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    out->eto_mm = arena_array(arena, out->series.n + 1, sizeof *out->eto_mm);
    unsigned *fallbacks = arena_array(arena, out->series.n + 1, sizeof *fallbacks);
    double wind_m = USUAL_WIND_HEIGHT_M;
    for (size_t i = 0; i < kept; i++)
        if (days[i].day >= from && days[i].day <= to && is_known(days[i].wind_height_m))
            wind_m = days[i].wind_height_m;
    if (by_agency) {
        memcpy(out->eto_mm, out->series.evaporation_mm, out->series.n * sizeof *out->eto_mm);
        weather_count(out, fallbacks, from, to);
        out->words = "Evapotranspiration: the station's own column.";
        return OUTCOME_OK;
    }
    outcome = weather_eto(&out->series, out->latitude_deg, out->elevation_m, wind_m, out->eto_mm, fallbacks, why);
    weather_count(out, fallbacks, from, to);
    const char *stood_in = eto_fallback_words(out->fallbacks, arena);
    out->words = arena_print(
        arena, "Evapotranspiration: FAO-56 Penman–Monteith at the site's latitude, %.0f m%s, wind at %.0f m. %s%s", out->elevation_m,
        out->elevation_known ? "" : " (height not known: 0 taken)", wind_m,
        stood_in[0] == '\0' ? "Nothing had to be put in the place of a measurement." : "In the place of measurements: ", stood_in);
    return outcome;
}

/* ---- soil ---- */

/* Mean field capacity and wilting point of the whole soil, over samples that lie above `depth_m` and have a texture. */
static size_t soil_mean(const struct soil_sample *samples, size_t n, int64_t plot, double depth_m, double *capacity, double *wilting,
                        bool *droughty, unsigned *flags)
{
    size_t used = 0;
    *capacity = *wilting = 0;
    for (size_t i = 0; i < n; i++) {
        const struct soil_sample *s = &samples[i];
        struct soil_water_input in = {.sand_pct = s->sand_pct,
                                      .clay_pct = s->clay_pct,
                                      .organic_matter_pct = is_known(s->soc_pct) ? 1.724 * s->soc_pct : unknown_real(),
                                      .bulk_density_g_cm3 = s->bulk_density_g_cm3,
                                      .density_factor = unknown_real(),
                                      .stones_volume_pct = s->stones_pct};
        struct soil_water water;
        struct failure none;
        unsigned felt = 0;
        if ((plot != 0 && s->plot_id != plot) || (is_known(s->depth_top_cm) && s->depth_top_cm / 100 >= depth_m))
            continue;
        if (!is_known(in.sand_pct) || !is_known(in.clay_pct)) {
            if (s->texture == TEXTURE_UNKNOWN || !texture_midpoint(s->texture, &in.sand_pct, &in.clay_pct))
                continue;
            felt = SOIL_FROM_FEEL;
        }
        if (soil_water(&in, &water, &none) != OUTCOME_OK || !is_known(water.available))
            continue;
        double whole = is_known(s->stones_pct) ? 1 - s->stones_pct / 100 : 1;
        *capacity += water.field_capacity * whole;
        *wilting += water.wilting_point * whole;
        *flags |= water.flags | felt;
        *droughty = *droughty || in.sand_pct >= 85 || s->stones_pct >= 35 || s->made_ground_pct >= 35;
        used++;
    }
    *capacity /= (double)used;
    *wilting /= (double)used;
    return used;
}

enum outcome plot_water_load(struct store *store, const struct site *site, const struct plot *plot, int32_t on, double root_depth_m,
                             double coefficient, struct arena *arena, struct plot_water *out, struct failure *why)
{
    void *rows = NULL, *plants = NULL;
    size_t n = 0, n_plants = 0, used = 0;
    unsigned flags = 0;
    struct preparation preparation;
    struct shape outline;
    bool whole_site = false;
    noun_init(NOUN_PREPARATION, &preparation);
    *out = (struct plot_water){.plot = *plot, .name = arena_print(arena, "%s/%s", site->code, plot->code)};
    enum outcome outcome = load_of(store, NOUN_SOIL_SAMPLE, "site_id", site->id, arena, &rows, &n, why);
    if (outcome == OUTCOME_OK)
        outcome = load_of(store, NOUN_PLANT, "plot_id", plot->id, arena, &plants, &n_plants, why);
    if (outcome == OUTCOME_OK && plot->preparation_id != 0)
        outcome = store_get(store, NOUN_PREPARATION, plot->preparation_id, arena, &preparation, why);
    if (outcome == OUTCOME_OK)
        outcome = load_shape(plot->wkb, arena, &outline, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    out->area_m2 = is_known(plot->net_area_m2)      ? plot->net_area_m2
                   : outline.kind == SHAPE_POLYGONS ? shape_area_m2(&outline)
                                                    : unknown_real();
    out->plants = (double)n_plants;
    out->stand = young_stand_usual(growing_season(on, plot->planted_on), preparation.mulch_depth_m, preparation.loosened_depth_m);
    if (is_known(root_depth_m))
        out->stand.root_depth_m = root_depth_m;
    if (is_known(coefficient))
        out->stand.coefficient = coefficient;
    out->setting = (struct balance_setting){.root_depth_m = out->stand.root_depth_m,
                                            .depletion_fraction = 0.5,
                                            .crop_coefficient = out->stand.coefficient,
                                            .adjust_fraction = true};
    double *capacity = &out->setting.field_capacity, *wilting = &out->setting.wilting_point;
    used = soil_mean(rows, n, plot->id, out->stand.root_depth_m, capacity, wilting, &out->droughty, &flags);
    if (used == 0) {
        whole_site = true;
        used = soil_mean(rows, n, 0, out->stand.root_depth_m, capacity, wilting, &out->droughty, &flags);
    }
    if (used > 0)
        out->soil = arena_print(arena, "%zu %s of the %s to %.0f cm: field capacity %.3f, wilting point %.3f m³/m³, stones taken off. %s",
                                used, used == 1 ? "layer" : "layers", whole_site ? "site" : "plot", 100 * out->stand.root_depth_m,
                                *capacity, *wilting, soil_flags_words(flags & ~(unsigned)SOIL_STONES_UNKNOWN, arena));
    return OUTCOME_OK;
}

/* ---- a season ---- */

/* Water given on each day [mm = L/m²]. */
static void given_fill(const struct care_event *care, size_t n, int64_t plot, struct plot_season *out)
{
    for (size_t i = 0; i < n; i++) {
        bool done = care[i].state == DONE_STATE_DONE || care[i].state == DONE_STATE_PARTLY;
        int64_t at = (int64_t)care[i].done_on - out->from;
        if (care[i].plot_id == plot && care[i].kind == CARE_KIND_WATERING && done && at >= 0 && at < (int64_t)out->n)
            out->given_mm[at] += care[i].litres_m2;
    }
}

static void season_sum(struct plot_season *s)
{
    double run = 0;
    s->worst_mm = unknown_real();
    s->worst_on = s->climatic_on = DATE_UNKNOWN;
    for (size_t i = 0; i < s->n; i++) {
        const struct balance_day *d = &s->days[i];
        bool known = is_known(s->rain_mm[i]) && is_known(s->eto_mm[i]);
        s->rain_sum += is_known(s->rain_mm[i]) ? s->rain_mm[i] : 0;
        s->eto_sum += is_known(s->eto_mm[i]) ? s->eto_mm[i] : 0;
        s->given_sum += is_known(s->given_mm[i]) ? s->given_mm[i] : 0;
        run = known ? fmax(0, run + s->eto_mm[i] - s->rain_mm[i]) : run;
        if (run > s->climatic_mm) {
            s->climatic_mm = run;
            s->climatic_on = s->from + (int32_t)i;
        }
        if (!is_known(d->depletion_mm)) {
            s->unknown++;
            continue;
        }
        s->stressed += d->stress < 1 - 1e-9;
        s->used_sum += d->evapotranspiration_mm;
        s->drained_sum += d->drainage_mm;
        if (!is_known(s->worst_mm) || d->depletion_mm > s->worst_mm) {
            s->worst_mm = d->depletion_mm;
            s->worst_on = s->from + (int32_t)i;
        }
    }
}

enum outcome plot_season_make(const struct site_weather *weather, const struct plot_water *water, const struct care_event *care,
                              size_t n_care, int32_t from, int32_t to, struct arena *arena, struct plot_season *out, struct failure *why)
{
    const struct weather_series *s = &weather->series;
    int32_t first = from < s->day[0] ? s->day[0] : from, last = s->day[s->n - 1] < to ? s->day[s->n - 1] : to;
    *out = (struct plot_season){.from = first};
    if (water->soil == NULL) {
        fail(why, OUTCOME_DATA, "The soil of %s is not known: no texture, or no density that fits it.", water->name);
        return failure_remedy(why, "Add a soil sample with sand, silt and clay, or a texture by feel.");
    }
    if (first > last) {
        fail(why, OUTCOME_DATA, "There is no weather for these days.");
        return failure_remedy(why, "See which days are held: spinney weather FILE");
    }
    out->n = (size_t)(last - first) + 1;
    size_t at = (size_t)(first - s->day[0]);
    out->days = arena_array(arena, out->n, sizeof *out->days);
    out->given_mm = arena_array(arena, out->n, sizeof *out->given_mm);
    out->rain_mm = s->rain_mm + at;
    out->eto_mm = weather->eto_mm + at;
    given_fill(care, n_care, water->plot.id, out);
    out->total_mm = balance_total_mm(&water->setting);
    out->driest = arena_array(arena, out->n, sizeof *out->driest);
    out->wettest = arena_array(arena, out->n, sizeof *out->wettest);
    enum outcome outcome = balance_bounds(&water->setting, out->rain_mm, out->eto_mm, out->given_mm, out->n, 1, out->days, out->driest,
                                          out->wettest, arena, why);
    if (outcome == OUTCOME_OK)
        season_sum(out);
    return outcome;
}
