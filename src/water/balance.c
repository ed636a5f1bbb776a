/* SPDX-License-Identifier: GPL-3.0-or-later
 * The root-zone water balance, day by day: FAO-56, ch. 8, eqs 82–88. */
#include "water/water.h"
#include <math.h>

double balance_total_mm(const struct balance_setting *setting)
{
    return 1000 * (setting->field_capacity - setting->wilting_point) * setting->root_depth_m;
}

static enum outcome setting_check(const struct balance_setting *s, struct failure *why)
{
    if (!(s->wilting_point >= 0 && s->field_capacity > s->wilting_point && s->field_capacity < 1)) {
        fail(why, OUTCOME_DATA, "Field capacity must lie above the wilting point, both between 0 and 1 m³/m³.");
        return failure_remedy(why, "A figure of 28 %% is written 0.28.");
    }
    if (!(s->root_depth_m > 0 && s->root_depth_m <= 5)) {
        fail(why, OUTCOME_DATA, "A rooting depth of %g m cannot be used; it must lie above 0 and at most 5 m.", s->root_depth_m);
        return failure_remedy(why, "Depths are in metres.");
    }
    if (!(s->depletion_fraction >= 0.1 && s->depletion_fraction <= 0.8))
        return fail(why, OUTCOME_DATA, "The depletion fraction must lie between 0.1 and 0.8; FAO-56 gives 0.50 to 0.70 for trees.");
    if (!(s->crop_coefficient > 0 && s->crop_coefficient <= 2))
        return fail(why, OUTCOME_DATA, "The crop coefficient must lie above 0 and at most 2.");
    if (!(s->runoff_share >= 0 && s->runoff_share < 1))
        return fail(why, OUTCOME_DATA, "The share of rain that runs off must lie between 0 and 1.");
    if (!(s->start_depletion_mm >= 0 && s->start_depletion_mm <= balance_total_mm(s)))
        return fail(why, OUTCOME_DATA, "The depletion at the start must lie between 0 and the store of %.0f mm.", balance_total_mm(s));
    return OUTCOME_OK;
}

/* One day from a known start. Stress follows from the depletion at the start of the day. */
static struct balance_day day_run(const struct balance_setting *s, double total, double start, double rain, double water, double eto)
{
    struct balance_day day = {0};
    double crop = s->crop_coefficient * eto, fraction = s->depletion_fraction;
    if (s->adjust_fraction)
        fraction = fmin(0.8, fmax(0.1, fraction + 0.04 * (5 - crop)));
    day.readily_mm = fraction * total;
    day.stress = start <= day.readily_mm ? 1 : fmax(0, (total - start) / ((1 - fraction) * total));
    day.evapotranspiration_mm = day.stress * crop;
    double in = rain * (1 - s->runoff_share) + water;
    day.drainage_mm = fmax(0, in - day.evapotranspiration_mm - start);
    day.depletion_mm = fmin(total, fmax(0, start - in + day.evapotranspiration_mm + day.drainage_mm));
    return day;
}

enum outcome balance_run(const struct balance_setting *setting, const double *rain_mm, const double *eto_mm, const double *irrigation_mm,
                         size_t n, struct balance_day *out, struct failure *why)
{
    enum outcome outcome = setting_check(setting, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    for (size_t i = 0; i < n; i++)
        if (rain_mm[i] < 0 || (irrigation_mm != NULL && irrigation_mm[i] < 0))
            return fail(why, OUTCOME_DATA, "Rain or water of day %zu is negative; a code for missing or for a trace must be read as such.",
                        i + 1);
    double total = balance_total_mm(setting), depletion = setting->start_depletion_mm, none = unknown_real();
    for (size_t i = 0; i < n; i++) {
        double water = irrigation_mm == NULL ? 0 : irrigation_mm[i];
        bool weather = is_known(rain_mm[i]) && is_known(eto_mm[i]) && is_known(water);
        /* Enough water to fill an empty store makes the end of the day known whatever was before. */
        bool refilled = weather && !is_known(depletion) &&
                        rain_mm[i] * (1 - setting->runoff_share) + water >= total + setting->crop_coefficient * eto_mm[i];
        if (!weather || (!is_known(depletion) && !refilled)) {
            out[i] = (struct balance_day){none, none, none, none, none};
            depletion = none;
            continue;
        }
        out[i] = day_run(setting, total, refilled ? 0 : depletion, rain_mm[i], water, eto_mm[i]);
        if (refilled)
            out[i].stress = out[i].evapotranspiration_mm = out[i].drainage_mm = none;
        depletion = out[i].depletion_mm;
    }
    return OUTCOME_OK;
}

enum outcome balance_bounds(const struct balance_setting *setting, const double *rain_mm, const double *eto_mm, const double *irrigation_mm,
                            size_t n, double close_mm, struct balance_day *out, struct balance_day *driest, struct balance_day *wettest,
                            struct arena *arena, struct failure *why)
{
    enum outcome outcome = setting_check(setting, why);
    double *dry = arena_array(arena, n + 1, sizeof *dry), *wet = arena_array(arena, n + 1, sizeof *wet),
           *given = arena_array(arena, n + 1, sizeof *given), none = unknown_real();
    if (outcome != OUTCOME_OK)
        return outcome;
    for (size_t i = 0; i < n; i++) {
        double water = irrigation_mm == NULL ? 0 : irrigation_mm[i];
        bool open = !is_known(rain_mm[i]) || !is_known(water);
        given[i] = is_known(water) ? water : 0;
        dry[i] = is_known(rain_mm[i]) ? rain_mm[i] : 0;
        wet[i] = open ? dry[i] + 2 * balance_total_mm(setting) : dry[i];
    }
    outcome = balance_run(setting, dry, eto_mm, given, n, driest, why);
    if (outcome == OUTCOME_OK)
        outcome = balance_run(setting, wet, eto_mm, given, n, wettest, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++)
        out[i] = driest[i].depletion_mm - wettest[i].depletion_mm <= close_mm && is_known(rain_mm[i])
                     ? driest[i]
                     : (struct balance_day){none, none, none, none, none};
    return outcome;
}
