/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of survey/: growth against limits, digit preference, agreement of second measurements, dates and figures as
 * people write them, swapped coordinates, carbon to nitrogen against unit slips. */
#include "calc/calc_rooms.h"
#include "survey/survey.h"
#include <math.h>
#include <string.h>

#define COUNT(a) (sizeof(a) / sizeof *(a))

/* ---- growth ---- */

static const struct calc_value growth_in[] = {
    {"before", "", CALC_NUMBER, true, "size last time, above 0; any unit, the same in all inputs (height in cm, diameter in mm)"},
    {"now", "", CALC_NUMBER, true, "size this time"},
    {"years", "year", CALC_NUMBER, true, "time between; below 1 counts as a whole season"},
    {"gain_limit", "", CALC_NUMBER, false, "greatest plausible gain in a year; 150 (cm of height)"},
    {"shrink_share", "", CALC_NUMBER, false, "share of the size that may be lost without a damage code; 0.15"},
    {"shrink_floor", "", CALC_NUMBER, false, "loss up to which it is measuring error; 3"},
};
static const struct calc_value growth_out[] = {
    {"gain", "", CALC_NUMBER, true, "now minus before"},
    {"per_year", "1/year", CALC_NUMBER, true, "gain a year; below half a year the gain itself"},
    {"share", "", CALC_NUMBER, true, "gain over before"},
    {"verdict", "", CALC_WORD, true, "plausible, shrunk, too_fast, ten_times, tenth or metres"},
};
static enum outcome growth_run(const json_t *in, json_t *result, struct failure *why)
{
    double before = calc_number(in, "before", NAN), now = calc_number(in, "now", NAN), years = calc_number(in, "years", NAN);
    if (!(before > 0) || !(now >= 0) || !(years >= 0))
        return fail(why, OUTCOME_DATA, "before must be above 0, now and years not below 0.");
    struct size_change g = size_change_of(before, now, years, calc_number(in, "gain_limit", 150), calc_number(in, "shrink_share", 0.15),
                                          calc_number(in, "shrink_floor", 3));
    calc_put(result, "gain", g.gain);
    calc_put(result, "per_year", g.per_year);
    calc_put(result, "share", g.share);
    calc_put_word(result, "verdict",
                  g.tenfold && g.too_fast ? "ten_times"
                  : g.metres              ? "metres"
                  : g.tenth               ? "tenth"
                  : g.too_fast            ? "too_fast"
                  : g.shrunk              ? "shrunk"
                                          : "plausible");
    calc_say(result, "gain %g - %g = %g; %g of the size before", now, before, g.gain, g.share);
    return OUTCOME_OK;
}

/* ---- heaping ---- */

static const struct calc_value heaping_in[] = {
    {"height_cm", "cm", CALC_NUMBERS, true, "heights of one observer; those of 2 m and more are left out"}};
static const struct calc_value heaping_out[] = {
    {"n", "", CALC_NUMBER, true, "heights used"},
    {"on_five", "", CALC_NUMBER, true, "of them ending in 0 or 5"},
    {"index", "", CALC_NUMBER, true, "Whipple's index: 100 no preference, 500 all on 0 or 5"},
    {"p_value", "", CALC_NUMBER, true, "chance of as many or more without preference (binomial, 1/5)"},
    {"verdict", "", CALC_WORD, true, "heaped or not_heaped"},
};
static enum outcome heaping_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n = 0;
    double *height = calc_numbers(in, "height_cm", &arena, &n);
    struct digit_heaping h = observer_heaping(height, n);
    arena_clear(&arena);
    if (h.n == 0)
        return fail(why, OUTCOME_DATA, "No height below 2 m was given.");
    calc_put(result, "n", (double)h.n);
    calc_put(result, "on_five", (double)h.on_five);
    calc_put(result, "index", h.index);
    calc_put(result, "p_value", h.p_value);
    calc_put_word(result, "verdict", h.heaped ? "heaped" : "not_heaped");
    calc_say(result, "5 x %zu / %zu x 100 = %g", h.on_five, h.n, h.index);
    return OUTCOME_OK;
}

/* ---- agreement ---- */

static const struct calc_value agreement_in[] = {
    {"status_first", "", CALC_NUMBERS, false, "states of the first measurement as numbers (1 alive, 4 dead …), the same numbers in both"},
    {"status_second", "", CALC_NUMBERS, false, "states of the second, in the same order"},
    {"height_first_cm", "cm", CALC_NUMBERS, false, "heights of the first measurement"},
    {"height_second_cm", "cm", CALC_NUMBERS, false, "heights of the second, in the same order"},
};
static const struct calc_value agreement_out[] = {
    {"n", "", CALC_NUMBER, true, "pairs of states"},
    {"same", "", CALC_NUMBER, true, "pairs that agree"},
    {"kappa", "", CALC_NUMBER, true, "agreement beyond chance (Cohen's kappa)"},
    {"height_mean_cm", "cm", CALC_NUMBER, true, "mean of second minus first"},
    {"height_sd_cm", "cm", CALC_NUMBER, true, "standard deviation of the differences"},
    {"height_low_cm", "cm", CALC_NUMBER, true, "lower limit of agreement, mean − 1.96 SD"},
    {"height_high_cm", "cm", CALC_NUMBER, true, "upper limit of agreement, mean + 1.96 SD"},
    {"height_within", "", CALC_NUMBER, true, "pairs within 5 cm or 5 %"},
};
static enum outcome agreement_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n[4] = {0};
    double *values[4];
    static const char *const names[4] = {"status_first", "status_second", "height_first_cm", "height_second_cm"};
    for (int i = 0; i < 4; i++)
        values[i] = calc_numbers(in, names[i], &arena, &n[i]);
    enum outcome outcome = OUTCOME_OK;
    if (n[0] != n[1] || n[2] != n[3] || n[0] + n[2] == 0) {
        outcome = fail(why, OUTCOME_DATA, "Give as many second values as first ones.");
    } else {
        size_t pairs = n[0] > n[2] ? n[0] : n[2];
        struct plant_record *x = arena_array(&arena, pairs, sizeof *x), *y = arena_array(&arena, pairs, sizeof *y);
        for (size_t i = 0; i < pairs; i++) {
            noun_init(NOUN_PLANT_RECORD, &x[i]);
            noun_init(NOUN_PLANT_RECORD, &y[i]);
            if (i < n[0] && values[0][i] >= 1 && values[0][i] < STATUS_COUNT && values[1][i] >= 1 && values[1][i] < STATUS_COUNT) {
                x[i].status = (enum status)values[0][i];
                y[i].status = (enum status)values[1][i];
            }
            if (i < n[2]) {
                x[i].height_cm = values[2][i];
                y[i].height_cm = values[3][i];
            }
        }
        struct observer_agreement a = observer_agreement_of(x, y, pairs);
        calc_put(result, "n", (double)a.n);
        calc_put(result, "same", (double)a.same);
        calc_put(result, "kappa", a.kappa);
        calc_put(result, "height_mean_cm", a.height_mean_cm);
        calc_put(result, "height_sd_cm", a.height_sd_cm);
        calc_put(result, "height_low_cm", a.height_low_cm);
        calc_put(result, "height_high_cm", a.height_high_cm);
        calc_put(result, "height_within", (double)a.height_within);
    }
    arena_clear(&arena);
    return outcome;
}

/* ---- dates ---- */

static const struct calc_value date_in[] = {
    {"text", "", CALC_WORD, true, "a date as written, such as 03/04/2023 or Feb14"},
    {"order", "", CALC_WORD, false, "dmy, mdy or ymd, where it is known"},
};
static const struct calc_value date_out[] = {
    {"reading", "", CALC_WORD, true, "clear, ambiguous, month (only the month is known) or not_a_date"},
    {"day", "", CALC_WORD, true, "ISO 8601; empty where it is not known"},
};
static enum outcome date_run(const json_t *in, json_t *result, struct failure *why)
{
    (void)why;
    const char *order = calc_word(in, "order", "");
    struct date_read read = survey_date(calc_word(in, "text", ""), strcmp(order, "dmy") == 0   ? DATE_DMY
                                                                   : strcmp(order, "mdy") == 0 ? DATE_MDY
                                                                   : strcmp(order, "ymd") == 0 ? DATE_YMD
                                                                                               : DATE_ORDER_UNKNOWN);
    char iso[16];
    date_write(read.date, iso);
    static const char *const words[] = {"not_a_date", "clear", "ambiguous", "month"};
    calc_put_word(result, "reading", words[read.reading]);
    calc_put_word(result, "day", iso);
    return OUTCOME_OK;
}

/* ---- coordinates ---- */

static const struct calc_value coordinates_in[] = {
    {"latitude", "deg", CALC_NUMBER, true, "as written"},
    {"longitude", "deg", CALC_NUMBER, true, "as written"},
    {"home_latitude", "deg", CALC_NUMBER, true, "where it should be, about"},
    {"home_longitude", "deg", CALC_NUMBER, true, "where it should be, about"},
    {"reach_deg", "deg", CALC_NUMBER, false, "how far off is still there; 0.5"},
};
static const struct calc_value coordinates_out[] = {{"verdict", "", CALC_WORD, true, "as_given, swapped or elsewhere"}};
static enum outcome coordinates_run(const json_t *in, json_t *result, struct failure *why)
{
    (void)why;
    static const char *const words[] = {"as_given", "swapped", "elsewhere"};
    calc_put_word(
        result, "verdict",
        words[coordinates_check(calc_number(in, "latitude", NAN), calc_number(in, "longitude", NAN), calc_number(in, "home_latitude", NAN),
                                calc_number(in, "home_longitude", NAN), calc_number(in, "reach_deg", 0.5))]);
    return OUTCOME_OK;
}

const struct calc calc_survey[] = {
    {"growth_plausible", "Growth between two measurements against limits",
     "common practice, no source (limits of 150 cm and 20 mm a year, 15 % loss)", growth_in, COUNT(growth_in), growth_out,
     COUNT(growth_out), growth_run},
    {"observer_heaping", "Digit preference of an observer's heights",
     "Whipple's index: Shryock & Siegel 1976, The Methods and Materials of Demography, ch. 8 (recalled)", heaping_in, COUNT(heaping_in),
     heaping_out, COUNT(heaping_out), heaping_run},
    {"observer_agreement", "Agreement of two blind measurements",
     "Cohen 1960, Educ. Psychol. Meas. 20:37-46; Bland & Altman 1986, Lancet 327:307-310 (recalled)", agreement_in, COUNT(agreement_in),
     agreement_out, COUNT(agreement_out), agreement_run},
    {"date_reading", "What a date as written means", "ISO 8601 for the result; common practice, no source, for the ways of writing",
     date_in, COUNT(date_in), date_out, COUNT(date_out), date_run},
    {"coordinates_swapped", "Whether latitude and longitude were exchanged", "common practice, no source", coordinates_in,
     COUNT(coordinates_in), coordinates_out, COUNT(coordinates_out), coordinates_run},
    {0},
};
