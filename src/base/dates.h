/* SPDX-License-Identifier: GPL-3.0-or-later
 * Days as whole numbers since 1970-01-01 in the proleptic Gregorian calendar (ISO 8601). */
#ifndef SPINNEY_BASE_DATES_H
#define SPINNEY_BASE_DATES_H
#include <stdbool.h>
#include <stdint.h>

#define DATE_UNKNOWN INT32_MIN

/// Day number, or DATE_UNKNOWN if there is no such day. Years 1 to 9999.
int32_t date_make(int year, int month, int day);
void date_parts(int32_t date, int *year, int *month, int *day);
/// "2024-09-14" only; false for anything else, also for days that do not exist.
bool date_read(const char *a, int32_t *date);
/// Writes "2024-09-14", or "" for DATE_UNKNOWN.
void date_write(int32_t date, char out[16]);
/// Day of the year, 1 to 366.
int date_day_of_year(int32_t date);
/// Years from a to b, of 365.25 days.
double date_years(int32_t from, int32_t to);
/// The same day and month `months` later; the last of the month where there is no such day.
int32_t date_add_months(int32_t date, int months);
#endif
