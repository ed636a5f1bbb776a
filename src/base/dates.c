/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calendar arithmetic on day numbers. */
#include "base/dates.h"
#include <ctype.h>
#include <stdio.h>
#include <string.h>

static int month_days(int year, int month)
{
    static const int days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
    return month == 2 && leap ? 29 : days[month - 1];
}

int32_t date_make(int year, int month, int day)
{
    if (year < 1 || year > 9999 || month < 1 || month > 12 || day < 1 || day > month_days(year, month))
        return DATE_UNKNOWN;
    int y = month <= 2 ? year - 1 : year;
    int era = y / 400;
    int of_era = y - era * 400;
    int of_year = (153 * (month + (month > 2 ? -3 : 9)) + 2) / 5 + day - 1;
    int day_of_era = of_era * 365 + of_era / 4 - of_era / 100 + of_year;
    return era * 146097 + day_of_era - 719468;
}

void date_parts(int32_t date, int *year, int *month, int *day)
{
    int z = date + 719468;
    int era = (z >= 0 ? z : z - 146096) / 146097;
    int day_of_era = z - era * 146097;
    int of_era = (day_of_era - day_of_era / 1460 + day_of_era / 36524 - day_of_era / 146096) / 365;
    int of_year = day_of_era - (365 * of_era + of_era / 4 - of_era / 100);
    int shifted = (5 * of_year + 2) / 153;
    *day = of_year - (153 * shifted + 2) / 5 + 1;
    *month = shifted < 10 ? shifted + 3 : shifted - 9;
    *year = of_era + era * 400 + (*month <= 2);
}

bool date_read(const char *a, int32_t *date)
{
    if (a == NULL || strlen(a) != 10 || a[4] != '-' || a[7] != '-')
        return false;
    for (int i = 0; i < 10; i++)
        if (i != 4 && i != 7 && !isdigit((unsigned char)a[i]))
            return false;
    int year = (a[0] - '0') * 1000 + (a[1] - '0') * 100 + (a[2] - '0') * 10 + (a[3] - '0');
    int month = (a[5] - '0') * 10 + (a[6] - '0'), day = (a[8] - '0') * 10 + (a[9] - '0');
    int32_t value = date_make(year, month, day);
    if (value == DATE_UNKNOWN)
        return false;
    *date = value;
    return true;
}

void date_write(int32_t date, char out[16])
{
    out[0] = '\0';
    if (date == DATE_UNKNOWN)
        return;
    int year = 0, month = 0, day = 0;
    date_parts(date, &year, &month, &day);
    snprintf(out, 16, "%04d-%02d-%02d", year % 10000, month % 100, day % 100);
}

int date_day_of_year(int32_t date)
{
    int year = 0, month = 0, day = 0;
    date_parts(date, &year, &month, &day);
    return date - date_make(year, 1, 1) + 1;
}

double date_years(int32_t from, int32_t to)
{
    return ((double)to - (double)from) / 365.25;
}

int32_t date_add_months(int32_t date, int months)
{
    int year = 0, month = 0, day = 0;
    date_parts(date, &year, &month, &day);
    int total = year * 12 + month - 1 + months;
    year = total / 12;
    month = total % 12 + 1;
    int last = month_days(year, month);
    return date_make(year, month, day > last ? last : day);
}
