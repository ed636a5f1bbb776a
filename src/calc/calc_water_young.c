/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of water/: what a young planting draws, and the root zone between bounds. */
#include "calc/calc_rooms.h"
#include "water/water.h"

#define COUNT(list) (sizeof(list) / sizeof *(list))

static const struct calc_value young_in[] = {
    {"on", "", CALC_WORD, true, "day"},
    {"planted_on", "", CALC_WORD, true, "day of planting"},
    {"mulch_depth_m", "m", CALC_NUMBER, false, "left out: not known, taken as bare"},
    {"loosened_depth_m", "m", CALC_NUMBER, false, "left out: not known, roots are not limited by it"},
};
static const struct calc_value young_out[] = {
    {"season", "", CALC_NUMBER, true, "growing season after planting, 1 first"},
    {"root_depth_m", "m", CALC_NUMBER, true, "depth of the roots"},
    {"leaves", "", CALC_NUMBER, true, "part of the coefficient that plants draw"},
    {"bare_ground", "", CALC_NUMBER, true, "part that evaporates from the ground"},
    {"coefficient", "", CALC_NUMBER, true, "crop coefficient"},
};

static enum outcome young_run(const json_t *in, json_t *result, struct failure *why)
{
    int32_t on = DATE_UNKNOWN, planted = DATE_UNKNOWN;
    if (!date_read(calc_word(in, "on", ""), &on) || !date_read(calc_word(in, "planted_on", ""), &planted)) {
        fail(why, OUTCOME_DATA, "A day cannot be read.");
        return failure_remedy(why, "Write days as 2025-06-14.");
    }
    int season = growing_season(on, planted);
    struct young_stand stand =
        young_stand_usual(season, calc_number(in, "mulch_depth_m", unknown_real()), calc_number(in, "loosened_depth_m", unknown_real()));
    calc_put(result, "season", season);
    calc_put(result, "root_depth_m", stand.root_depth_m);
    calc_put(result, "leaves", stand.leaves);
    calc_put(result, "bare_ground", stand.bare_ground);
    calc_put(result, "coefficient", stand.coefficient);
    return OUTCOME_OK;
}

static const struct calc_value bounds_in[] = {
    {"field_capacity", "m3/m3", CALC_NUMBER, true, "of the whole soil"},
    {"wilting_point", "m3/m3", CALC_NUMBER, true, "of the whole soil"},
    {"root_depth_m", "m", CALC_NUMBER, true, "depth of the roots"},
    {"rain_mm", "mm", CALC_NUMBERS, true, "rain of each day; NA for not recorded"},
    {"eto_mm", "mm", CALC_NUMBERS, true, "reference evapotranspiration of each day"},
    {"start_depletion_mm", "mm", CALC_NUMBER, false, "default 0, field capacity"},
    {"close_mm", "mm", CALC_NUMBER, false, "bounds this near count as one (default 1)"},
};
static const struct calc_value bounds_out[] = {
    {"depletion_mm", "mm", CALC_NUMBERS, true, "at the end of each day; null where the bounds are apart"},
    {"driest_mm", "mm", CALC_NUMBERS, true, "as if unknown rain had been none"},
    {"wettest_mm", "mm", CALC_NUMBERS, true, "as if it had been a soaking"},
};

static enum outcome bounds_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n = 0, m = 0;
    const double *rain = calc_numbers(in, "rain_mm", &arena, &n), *eto = calc_numbers(in, "eto_mm", &arena, &m);
    struct balance_setting s = {.field_capacity = calc_number(in, "field_capacity", 0),
                                .wilting_point = calc_number(in, "wilting_point", 0),
                                .root_depth_m = calc_number(in, "root_depth_m", 0),
                                .depletion_fraction = 0.5,
                                .crop_coefficient = 1,
                                .start_depletion_mm = calc_number(in, "start_depletion_mm", 0)};
    struct balance_day *days[3];
    for (int k = 0; k < 3; k++)
        days[k] = arena_array(&arena, n + 1, sizeof *days[k]);
    enum outcome outcome =
        n != m ? fail(why, OUTCOME_USAGE, "There are %zu days of rain and %zu of evapotranspiration.", n, m)
               : balance_bounds(&s, rain, eto, NULL, n, calc_number(in, "close_mm", 1), days[0], days[1], days[2], &arena, why);
    for (int k = 0; k < 3 && outcome == OUTCOME_OK; k++) {
        double *column = arena_array(&arena, n + 1, sizeof *column);
        for (size_t i = 0; i < n; i++)
            column[i] = days[k][i].depletion_mm;
        calc_put_all(result, bounds_out[k].name, column, n);
    }
    arena_clear(&arena);
    return outcome;
}

const struct calc calc_water_young[] = {
    {"young_stand", "Roots and coefficient of a young planting", "common practice, no source; mulch after FAO-56, chapter 10", young_in,
     COUNT(young_in), young_out, COUNT(young_out), young_run},
    {"root_zone_bounds", "Root-zone water where some rain is not known", "FAO-56 ch. 8, run twice", bounds_in, COUNT(bounds_in), bounds_out,
     COUNT(bounds_out), bounds_run},
    {0},
};
