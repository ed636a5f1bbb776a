/* SPDX-License-Identifier: GPL-3.0-or-later
 * Run-off of a storm by curve numbers: USDA TR-55 (1986), eqs 2-1 to 2-4. */
#include "water/water.h"
#include <math.h>

enum outcome runoff_curve_number(double rain_mm, double curve_number, double ratio, double *runoff_mm, double *storage_mm,
                                 struct failure *why)
{
    if (!(curve_number > 0 && curve_number <= 100)) {
        fail(why, OUTCOME_DATA, "A curve number of %g cannot be; it must lie above 0 and at most 100.", curve_number);
        return failure_remedy(why, "A run-off coefficient of 0 to 1 is another thing.");
    }
    if (!(rain_mm >= 0 && rain_mm < 3000))
        return fail(why, OUTCOME_DATA, "The rain of a storm must lie between 0 and 3,000 mm.");
    if (!(ratio >= 0 && ratio <= 1))
        return fail(why, OUTCOME_DATA, "The initial loss must lie between 0 and 1 of the storage; TR-55 takes 0.2.");
    double storage = 25400 / curve_number - 254, over = rain_mm - ratio * storage;
    *runoff_mm = over > 0 ? over * over / (over + storage) : 0;
    if (storage_mm != NULL)
        *storage_mm = storage;
    return OUTCOME_OK;
}

enum outcome runoff_composite(const double *area, const double *curve_number, size_t n, double rain_mm, double *by_runoff_mm,
                              double *by_number_mm, double *mean_number, struct failure *why)
{
    double all = 0, runoff = 0, number = 0;
    for (size_t i = 0; i < n; i++) {
        double one = 0;
        if (!(area[i] >= 0))
            return fail(why, OUTCOME_DATA, "Area %zu must be known and not negative.", i + 1);
        enum outcome outcome = runoff_curve_number(rain_mm, curve_number[i], 0.2, &one, NULL, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        all += area[i];
        runoff += area[i] * one;
        number += area[i] * curve_number[i];
    }
    if (!(all > 0))
        return fail(why, OUTCOME_DATA, "The areas add up to nothing.");
    *by_runoff_mm = runoff / all;
    *mean_number = number / all;
    return runoff_curve_number(rain_mm, *mean_number, 0.2, by_number_mm, NULL, why);
}

enum outcome runoff_impervious(double pervious_number, double impervious_pct, double unconnected_share, double *number, struct failure *why)
{
    if (!(pervious_number > 0 && pervious_number <= 98) || !(impervious_pct >= 0 && impervious_pct <= 100) ||
        !(unconnected_share >= 0 && unconnected_share <= 1))
        return fail(
            why, OUTCOME_DATA,
            "The curve number must lie between 0 and 98, impervious ground between 0 and 100 %%, the unconnected share between 0 and 1.");
    if (unconnected_share > 0 && impervious_pct >= 30) {
        fail(why, OUTCOME_DATA, "TR-55 counts unconnected impervious ground only below 30 %% of the whole; this is %g %%.", impervious_pct);
        return failure_remedy(why, "Take it as connected.");
    }
    *number = pervious_number + impervious_pct / 100 * (98 - pervious_number) * (1 - 0.5 * unconnected_share);
    return OUTCOME_OK;
}

double runoff_cover_number(const char *cover, char group)
{
    static const struct {
        const char *cover;
        double number[4];
    } table[] = {
        {"woods_good", {30, 55, 70, 77}}, {"brush_good", {30, 48, 65, 73}}, {"open_good", {39, 61, 74, 80}},
        {"open_fair", {49, 69, 79, 84}},  {"open_poor", {68, 79, 86, 89}},  {"paved", {98, 98, 98, 98}},
    };
    if (group < 'A' || group > 'D')
        return unknown_real();
    for (size_t i = 0; i < sizeof table / sizeof *table; i++)
        if (text_same(table[i].cover, cover))
            return table[i].number[group - 'A'];
    return unknown_real();
}
