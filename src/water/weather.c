/* SPDX-License-Identifier: GPL-3.0-or-later
 * Weather tables as agencies write them, into days without gaps; what was not recorded is unknown, never zero.
 * Typical: 10 to 50 years of days; parsing text dominates. */
#include "water/water.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define NONE NAN
#define AS_IS(column)                                                                                                                      \
    {                                                                                                                                      \
        column, 1, NONE, 0, NONE                                                                                                           \
    }
#define ABSENT                                                                                                                             \
    {                                                                                                                                      \
        NULL, 1, NONE, 0, NONE                                                                                                             \
    }
/* −1 in the Dutch form is a trace: less than 0.05 mm of rain or 0.05 h of sun; half of it is taken. */
static const struct weather_form forms[] = {
    {"plain", "Columns day, rain_mm, t_min_c, t_max_c, t_mean_c, humidity_pct, wind_m_s, radiation_mj_m2, sunshine_h", "day", false,
     AS_IS("rain_mm"), AS_IS("t_min_c"), AS_IS("t_max_c"), AS_IS("t_mean_c"), AS_IS("humidity_pct"), AS_IS("wind_m_s"),
     AS_IS("radiation_mj_m2"), AS_IS("sunshine_h"), AS_IS("evaporation_mm")},
    {"nl_daily",
     "Daily values of the Netherlands' weather service, in tenths",
     "YYYYMMDD",
     true,
     {"RH", 0.1, -1, 0.025, NONE},
     {"TN", 0.1, NONE, 0, NONE},
     {"TX", 0.1, NONE, 0, NONE},
     {"TG", 0.1, NONE, 0, NONE},
     {"UG", 1, NONE, 0, NONE},
     {"FG", 0.1, NONE, 0, NONE},
     {"Q", 0.01, NONE, 0, NONE},
     {"SQ", 0.1, -1, 0.025, NONE},
     {"EV24", 0.1, NONE, 0, NONE}},
    {"ghcn_daily",
     "Global Historical Climatology Network, daily, wide form in tenths",
     "DATE",
     false,
     {"PRCP", 0.1, NONE, 0, -9999},
     {"TMIN", 0.1, NONE, 0, -9999},
     {"TMAX", 0.1, NONE, 0, -9999},
     {"TAVG", 0.1, NONE, 0, -9999},
     ABSENT,
     {"AWND", 0.1, NONE, 0, -9999},
     ABSENT,
     ABSENT,
     ABSENT},
};

const struct weather_form *weather_form_get(size_t index)
{
    return index < sizeof forms / sizeof *forms ? &forms[index] : NULL;
}

const struct weather_form *weather_form_find(const char *name)
{
    for (size_t i = 0; i < sizeof forms / sizeof *forms; i++)
        if (text_same(forms[i].name, name))
            return &forms[i];
    return NULL;
}

enum { COLUMNS = 9 };
struct reading {
    int32_t day;
    size_t row; /* of the table, for messages */
    double value[COLUMNS];
};

/* What a day can hold; beyond it the unit is wrong. Order as in reading.value. */
static const struct {
    const char *what;
    double low, high;
} limits[COLUMNS] = {
    {"rain in mm", 0, 1900},
    {"lowest temperature in °C", -95, 60},
    {"highest temperature in °C", -95, 60},
    {"mean temperature in °C", -95, 60},
    {"humidity in %", 0, 100},
    {"wind in m/s", 0, 100},
    {"radiation in MJ/m²", 0, 60},
    {"sunshine in h", 0, 24},
    {"evaporation in mm", -2, 30},
};

static bool day_read(const char *cell, bool compact, int32_t *day)
{
    char text[16];
    if (cell == NULL)
        return false;
    if (!compact)
        return date_read(cell, day);
    if (strlen(cell) != 8 || strspn(cell, "0123456789") != 8)
        return false;
    snprintf(text, sizeof text, "%.4s-%.2s-%.2s", cell, cell + 4, cell + 6);
    return date_read(text, day);
}

static enum outcome value_read(const struct csv_table *table, size_t row, size_t column, const struct weather_column *form, int which,
                               size_t *traces, double *out, struct failure *why)
{
    struct arena arena = {0};
    const char *cell = csv_cell(table, row, column), *text = cell == NULL ? "" : text_trim(&arena, cell);
    double figure = 0;
    enum outcome outcome = OUTCOME_OK;
    *out = unknown_real();
    if (*text == '\0' || strcmp(text, "NA") == 0) {
        /* not recorded */
    } else if (!number_read(text, &figure)) {
        fail(why, OUTCOME_DATA, "\"%.40s\" is not a number.", text);
        outcome = failure_at(why, table->file, table->lines[row], form->name);
    } else if (!isnan(form->missing) && fabs(figure - form->missing) < 1e-9) {
        /* the agency's code for missing */
    } else if (!isnan(form->trace) && fabs(figure - form->trace) < 1e-9) {
        ++*traces;
        *out = form->trace_value;
    } else if (!(figure * form->scale >= limits[which].low && figure * form->scale <= limits[which].high)) {
        fail(why, OUTCOME_DATA, "%s gives %g for the %s, which cannot be.", text, figure * form->scale, limits[which].what);
        failure_at(why, table->file, table->lines[row], form->name);
        outcome = failure_remedy(why, "Check the form chosen: services write tenths, or codes such as -9999 for missing.");
    } else {
        *out = figure * form->scale;
    }
    arena_clear(&arena);
    return outcome;
}

static int reading_order(const void *left, const void *right)
{
    const struct reading *a = left, *b = right;
    return a->day != b->day ? (a->day < b->day ? -1 : 1) : a->row < b->row ? -1 : a->row > b->row;
}

/* Readings by day into columns without gaps. */
static enum outcome series_make(struct reading *readings, size_t n, const char *file, struct arena *arena, struct weather_series *out,
                                struct failure *why)
{
    qsort(readings, n, sizeof *readings, reading_order);
    int64_t span = n == 0 ? 0 : (int64_t)readings[n - 1].day - readings[0].day + 1;
    if (span > 400000) {
        fail(why, OUTCOME_DATA, "The days lie more than a thousand years apart.");
        return failure_at(why, file, 0, NULL);
    }
    struct weather_series series = {.n = (size_t)span};
    double **columns[COLUMNS] = {&series.rain_mm,  &series.t_min_c,         &series.t_max_c,    &series.t_mean_c,      &series.humidity_pct,
                                 &series.wind_m_s, &series.radiation_mj_m2, &series.sunshine_h, &series.evaporation_mm};
    series.day = arena_array(arena, series.n + 1, sizeof *series.day);
    for (int c = 0; c < COLUMNS; c++)
        *columns[c] = arena_array(arena, series.n + 1, sizeof(double));
    size_t next = 0;
    for (size_t i = 0; i < series.n; i++) {
        series.day[i] = readings[0].day + (int32_t)i;
        bool here = next < n && readings[next].day == series.day[i];
        for (int c = 0; c < COLUMNS; c++)
            (*columns[c])[i] = here ? readings[next].value[c] : unknown_real();
        series.missing_days += !here;
        if (here && next + 1 < n && readings[next + 1].day == readings[next].day) {
            char day[16];
            date_write(series.day[i], day);
            fail(why, OUTCOME_DATA, "The day %s comes twice.", day);
            failure_at(why, file, (long)readings[next + 1].row, NULL);
            return failure_remedy(why, "Keep one row for each day and place.");
        }
        next += here;
    }
    *out = series;
    return OUTCOME_OK;
}

enum outcome weather_read(const struct csv_table *table, const struct weather_form *form, struct arena *arena, struct weather_series *out,
                          struct failure *why)
{
    const struct weather_column *columns[COLUMNS] = {&form->rain, &form->t_min,     &form->t_max,    &form->t_mean,     &form->humidity,
                                                     &form->wind, &form->radiation, &form->sunshine, &form->evaporation};
    size_t at[COLUMNS], day_at = csv_column(table, form->day), found = 0, traces = 0;
    if (table->rows < 2)
        return fail(why, OUTCOME_DATA, "The weather table has no day in it.");
    for (int c = 0; c < COLUMNS; c++) {
        at[c] = columns[c]->name == NULL ? SIZE_MAX : csv_column(table, columns[c]->name);
        found += at[c] != SIZE_MAX;
    }
    if (day_at == SIZE_MAX || found == 0) {
        fail(why, OUTCOME_DATA, "The table has no column %s of the form %s.", day_at == SIZE_MAX ? form->day : "with weather", form->name);
        failure_at(why, table->file, 1, form->day);
        return failure_remedy(why, "The first row must name the columns; choose the form of the service that wrote the file.");
    }
    struct reading *readings = memory_get(table->rows, sizeof *readings);
    enum outcome outcome = OUTCOME_OK;
    size_t n = 0;
    for (size_t row = 1; row < table->rows && outcome == OUTCOME_OK; row++) {
        if (table->widths[row] == 0 || (table->widths[row] == 1 && text_blank(csv_cell(table, row, 0))))
            continue;
        struct reading *reading = &readings[n++];
        reading->row = (size_t)table->lines[row];
        char *trimmed = text_trim(arena, csv_cell(table, row, day_at) == NULL ? "" : csv_cell(table, row, day_at));
        if (!day_read(trimmed, form->compact_day, &reading->day)) {
            fail(why, OUTCOME_DATA, "\"%.40s\" is no day as this form writes it.", trimmed);
            failure_at(why, table->file, table->lines[row], form->day);
            outcome = failure_remedy(why, form->compact_day ? "It writes days as 20240914." : "It writes days as 2024-09-14.");
            break;
        }
        for (int c = 0; c < COLUMNS && outcome == OUTCOME_OK; c++) {
            reading->value[c] = unknown_real();
            if (at[c] != SIZE_MAX)
                outcome = value_read(table, row, at[c], columns[c], c, &traces, &reading->value[c], why);
        }
    }
    if (outcome == OUTCOME_OK)
        outcome = series_make(readings, n, table->file, arena, out, why);
    if (outcome == OUTCOME_OK)
        out->traces = traces;
    free(readings);
    return outcome;
}

enum outcome weather_from_days(const struct weather_day *days, size_t n, struct arena *arena, struct weather_series *out,
                               struct failure *why)
{
    struct reading *readings = memory_get(n == 0 ? 1 : n, sizeof *readings);
    size_t kept = 0;
    for (size_t i = 0; i < n; i++) {
        if (days[i].day == DATE_UNKNOWN)
            continue;
        readings[kept++] = (struct reading){days[i].day,
                                            i + 1,
                                            {days[i].rain_mm, days[i].t_min_c, days[i].t_max_c, days[i].t_mean_c, days[i].humidity_pct,
                                             days[i].wind_m_s, days[i].radiation_mj_m2, days[i].sunshine_h, days[i].evaporation_mm}};
    }
    enum outcome outcome = series_make(readings, kept, NULL, arena, out, why);
    free(readings);
    return outcome;
}

enum outcome weather_eto(const struct weather_series *weather, double latitude_deg, double elevation_m, double wind_height_m,
                         double *eto_mm, unsigned *fallbacks, struct failure *why)
{
    for (size_t i = 0; i < weather->n; i++) {
        struct eto_input in;
        eto_input_init(&in);
        in.t_min_c = weather->t_min_c[i];
        in.t_max_c = weather->t_max_c[i];
        eto_mm[i] = unknown_real();
        if (fallbacks != NULL)
            fallbacks[i] = 0;
        if (!is_known(in.t_min_c) || !is_known(in.t_max_c))
            continue;
        in.humidity_mean_pct = weather->humidity_pct[i];
        in.wind_m_s = weather->wind_m_s[i];
        in.wind_height_m = wind_height_m;
        in.radiation_mj_m2 = weather->radiation_mj_m2[i];
        in.sunshine_h = weather->sunshine_h[i];
        in.latitude_deg = latitude_deg;
        in.elevation_m = elevation_m;
        in.day_of_year = date_day_of_year(weather->day[i]);
        struct eto_result result;
        enum outcome outcome = eto_penman_monteith(&in, &result, why);
        if (outcome != OUTCOME_OK) {
            char day[16];
            date_write(weather->day[i], day);
            failure_at(why, NULL, 0, day);
            return outcome;
        }
        eto_mm[i] = result.eto_mm;
        if (fallbacks != NULL)
            fallbacks[i] = result.fallbacks;
    }
    return OUTCOME_OK;
}
