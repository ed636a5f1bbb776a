/* SPDX-License-Identifier: GPL-3.0-or-later
 * When to water and how much: the drought trigger, litres and bowser runs. */
#include "water/water.h"
#include <math.h>

struct drought_rule drought_rule_default(bool sand_or_rubble)
{
    return (struct drought_rule){.rain_mm = 10, .days = 14, .first_month = 4, .last_month = 9, .seasons = sand_or_rubble ? 3 : 2};
}

int growing_season(int32_t day, int32_t planted_on)
{
    if (planted_on == DATE_UNKNOWN)
        return 1;
    int year = 0, month = 0, dom = 0, planted_year = 0;
    date_parts(planted_on, &planted_year, &month, &dom);
    int first = month >= 7 ? planted_year + 1 : planted_year;
    date_parts(day, &year, &month, &dom);
    return year - first + 1;
}

struct drought_answer drought_judge(const struct drought_rule *rule, const struct weather_series *weather, int32_t day, int32_t planted_on,
                                    struct arena *arena)
{
    struct drought_answer answer = {0};
    int year = 0, month = 0, dom = 0;
    date_parts(day, &year, &month, &dom);
    for (int back = 0; back < rule->days; back++) {
        int64_t at = weather->n == 0 ? -1 : (int64_t)day - back - weather->day[0];
        double rain = at >= 0 && at < (int64_t)weather->n ? weather->rain_mm[at] : unknown_real();
        if (is_known(rain))
            answer.rain_mm += rain;
        else
            answer.days_unknown++;
    }
    int season = growing_season(day, planted_on);
    if (month < rule->first_month || month > rule->last_month) {
        answer.state = DROUGHT_OFF_SEASON;
        answer.words = arena_print(arena, "Off: the trigger holds from month %d to %d.", rule->first_month, rule->last_month);
    } else if (planted_on != DATE_UNKNOWN && (day < planted_on || season > rule->seasons)) {
        answer.state = DROUGHT_OFF_SEASON;
        answer.words = day < planted_on ? "Off: not planted yet."
                                        : arena_print(arena, "Off: the trigger holds for the first %d growing seasons; this is number %d.",
                                                      rule->seasons, season);
    } else if (answer.rain_mm >= rule->rain_mm) {
        answer.state = DROUGHT_NO;
        answer.words = arena_print(arena, "No: %.1f mm fell in %d days%s.", answer.rain_mm, rule->days,
                                   answer.days_unknown > 0 ? ", perhaps more" : "");
    } else if (answer.days_unknown > 0) {
        answer.state = DROUGHT_UNKNOWN;
        answer.words = arena_print(arena, "Not known: %.1f mm were recorded, but %d of %d days were not. Feel the ground at 15 cm.",
                                   answer.rain_mm, answer.days_unknown, rule->days);
    } else {
        answer.state = DROUGHT_YES;
        answer.words = arena_print(arena, "Yes: only %.1f mm fell in %d days, under %g mm. Water all plots by the same rule.",
                                   answer.rain_mm, rule->days, rule->rain_mm);
    }
    return answer;
}

enum outcome watering_need(const struct watering_plot *plots, size_t n, enum watering_basis basis, double litres_each, double bowser_l,
                           struct watering_line *lines, double *total_l, double *runs, struct failure *why)
{
    if (!(litres_each >= 0 && litres_each <= 500)) {
        fail(why, OUTCOME_DATA, "%g litres on each cannot be; it must lie between 0 and 500.", litres_each);
        return failure_remedy(why, "Usual are 10 to 20 L/m², or 10 to 15 L a plant where they stand one to the square metre.");
    }
    if (!(bowser_l > 0))
        return fail(why, OUTCOME_DATA, "The bowser must hold more than 0 litres.");
    double sum = 0;
    for (size_t i = 0; i < n; i++) {
        double count = basis == WATERING_BY_AREA ? plots[i].area_m2 : plots[i].plants;
        if (is_known(count) && count < 0)
            return fail(why, OUTCOME_DATA, "Plot %zu has a negative area or number of plants.", i + 1);
        double litres = is_known(count) ? count * litres_each : unknown_real();
        lines[i].litres = litres;
        lines[i].runs = is_known(litres) ? ceil(litres / bowser_l * (1 - 1e-3)) : litres; /* a thousandth too much is no run of its own */
        sum += lines[i].litres;
    }
    *total_l = is_known(sum) ? sum : unknown_real();
    *runs = is_known(sum) ? ceil(sum / bowser_l * (1 - 1e-3)) : unknown_real();
    return OUTCOME_OK;
}
