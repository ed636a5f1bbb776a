/* SPDX-License-Identifier: GPL-3.0-or-later
 * Bands of single field readings: penetration, infiltration, pH, earthworms. */
#include "ground/ground.h"
#include <math.h>

enum penetration_state penetration_judge(double mpa, enum truth near_field_capacity, const char **words)
{
    static const char *const says[] = {
        [PENETRATION_UNKNOWN] = "Not measured.",
        [PENETRATION_NOT_COMPARABLE] =
            "Dry soil – not comparable: readings count only near field capacity, two or three days after good rain.",
        [PENETRATION_FREE] =
            "Under 2 MPa near field capacity: roots go freely (70 % of roots were found under 2 MPa; Sinnett et al. 2008).",
        [PENETRATION_RESTRICTING] = "2 to 3 MPa near field capacity: restricting.",
        [PENETRATION_NEARLY_NO_ROOTS] =
            "Over 3 MPa near field capacity: nearly no roots (9 % of roots were found above 3 MPa; Sinnett et al. 2008).",
    };
    static const char *const not_told = "Not comparable: it is not recorded whether the ground was near field capacity.";
    enum penetration_state state = !is_known(mpa)                     ? PENETRATION_UNKNOWN
                                   : near_field_capacity != TRUTH_YES ? PENETRATION_NOT_COMPARABLE
                                   : mpa < 2                          ? PENETRATION_FREE
                                   : mpa <= 3                         ? PENETRATION_RESTRICTING
                                                                      : PENETRATION_NEARLY_NO_ROOTS;
    if (words != NULL)
        *words = state == PENETRATION_NOT_COMPARABLE && near_field_capacity == TRUTH_UNKNOWN ? not_told : says[state];
    return state;
}

enum infiltration_state infiltration_judge(double mm_h, const char **words)
{
    static const char *const says[] = {
        [INFILTRATION_UNKNOWN] = "Not measured.",
        [INFILTRATION_POOR] = "Under 10 mm/h: poor. Mound, drain, or plant what stands wet.",
        [INFILTRATION_SLOW] = "10 to 25 mm/h: slow.",
        [INFILTRATION_FINE] = "25 to 250 mm/h: fine.",
        [INFILTRATION_DROUGHTY] = "Over 250 mm/h: water runs through; droughty.",
    };
    enum infiltration_state state = !is_known(mm_h) || mm_h < 0 ? INFILTRATION_UNKNOWN
                                    : mm_h < 10                 ? INFILTRATION_POOR
                                    : mm_h < 25                 ? INFILTRATION_SLOW
                                    : mm_h <= 250               ? INFILTRATION_FINE
                                                                : INFILTRATION_DROUGHTY;
    if (words != NULL)
        *words = says[state];
    return state;
}

enum ph_state ph_judge(double ph, enum ph_method method, const char **words)
{
    static const char *const water[] = {
        [PH_UNKNOWN] = "Not measured.",
        [PH_OUTSIDE] = "Outside 3.5 to 8.5: beyond what restored ground is planted at; find out why first.",
        [PH_ACID] = "Below 4.5: use the list for acid ground.",
        [PH_TOLERABLE] = "Tolerable.",
        [PH_COMFORTABLE] = "5.0 to 7.5: comfortable for most.",
        [PH_LIME] = "Above 7.8: use species that bear lime.",
    };
    static const char *const salt[] = {
        [PH_UNKNOWN] = "Not measured.",
        [PH_OUTSIDE] =
            "Outside 3.5 to 8.5, read in a salt solution, which usually reads lower than water: measure in water and find out why.",
        [PH_ACID] = ("Below 4.5 in a salt solution, which usually reads lower than water: measure in water before choosing the list for "
                     "acid ground."),
        [PH_TOLERABLE] = "Tolerable; read in a salt solution, which usually reads lower than water.",
        [PH_COMFORTABLE] = "5.0 to 7.5 in a salt solution, which usually reads lower than water: comfortable for most.",
        [PH_LIME] = "Above 7.8 even in a salt solution: use species that bear lime.",
    };
    enum ph_state state = !is_known(ph)          ? PH_UNKNOWN
                          : ph < 3.5 || ph > 8.5 ? PH_OUTSIDE
                          : ph < 4.5             ? PH_ACID
                          : ph > 7.8             ? PH_LIME
                          : ph >= 5 && ph <= 7.5 ? PH_COMFORTABLE
                                                 : PH_TOLERABLE;
    bool in_salt = method == PH_METHOD_CALCIUM_CHLORIDE || method == PH_METHOD_POTASSIUM_CHLORIDE;
    if (words != NULL)
        *words = in_salt ? salt[state] : water[state];
    return state;
}

enum outcome infiltration_from_fills(const double *fall_mm, const double *minutes, size_t n, double *mm_h, struct failure *why)
{
    if (n == 0)
        return fail(why, OUTCOME_DATA, "No fill was timed.");
    for (size_t i = 0; i < n; i++)
        if (!is_known(fall_mm[i]) || !is_known(minutes[i]) || fall_mm[i] < 0 || minutes[i] <= 0) {
            fail(why, OUTCOME_DATA, "Fill %zu needs a fall of 0 mm or more and a time above 0 minutes.", i + 1);
            return failure_remedy(why, "Water that did not fall in a day is a fall of 0 mm in 1440 minutes.");
        }
    *mm_h = 60 * fall_mm[n - 1] / minutes[n - 1];
    return OUTCOME_OK;
}

enum outcome worms_judge(const double *counts, size_t n, struct worm_count *out, struct failure *why)
{
    struct worm_count count = {.least = HUGE_VAL, .most = -HUGE_VAL};
    double sum = 0;
    for (size_t i = 0; i < n; i++) {
        if (!is_known(counts[i]))
            continue;
        if (counts[i] < 0 || counts[i] > 500 || floor(counts[i]) < counts[i])
            return fail(why, OUTCOME_DATA, "Pit %zu has %g worms; a count is a whole number from 0 to 500.", i + 1, counts[i]);
        count.pits++;
        sum += counts[i];
        count.least = fmin(count.least, counts[i]);
        count.most = fmax(count.most, counts[i]);
    }
    if (count.pits == 0) {
        fail(why, OUTCOME_DATA, "No pit has a count.");
        return failure_remedy(why, "A pit that was looked through and held none is 0; a pit that was not looked at is blank.");
    }
    count.mean_per_pit = sum / (double)count.pits;
    count.per_m2 = count.mean_per_pit / 0.04;
    count.words =
        count.mean_per_pit >= 16
            ? "Many, by the measure of farmland (16 or more a pit). Worms lie in patches: all pits of one site are one replicate."
            : "Fewer than 16 a pit, the measure for many in farmland. Worms lie in patches: all pits of one site are one replicate.";
    *out = count;
    return OUTCOME_OK;
}
