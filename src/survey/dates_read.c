/* SPDX-License-Identifier: GPL-3.0-or-later
 * Dates as people write them. */
#include "survey/words.h"
#include <ctype.h>
#include <string.h>
#include <strings.h>

/* Names and usual short forms, folded; English, French, German, Dutch, Spanish. */
static const struct {
    const char *name;
    int month;
} months[] = {
    {"jan", 1},        {"january", 1}, {"janv", 1},      {"janvier", 1},   {"januar", 1},     {"jaenner", 1},   {"janner", 1},
    {"januari", 1},    {"ene", 1},     {"enero", 1},     {"feb", 2},       {"febr", 2},       {"february", 2},  {"fev", 2},
    {"fevr", 2},       {"fevrier", 2}, {"februar", 2},   {"februari", 2},  {"febrero", 2},    {"mar", 3},       {"march", 3},
    {"mars", 3},       {"marz", 3},    {"maerz", 3},     {"mrz", 3},       {"maart", 3},      {"mrt", 3},       {"marzo", 3},
    {"apr", 4},        {"april", 4},   {"avr", 4},       {"avril", 4},     {"abr", 4},        {"abril", 4},     {"may", 5},
    {"mai", 5},        {"mei", 5},     {"mayo", 5},      {"jun", 6},       {"june", 6},       {"juin", 6},      {"juni", 6},
    {"junio", 6},      {"jul", 7},     {"july", 7},      {"juil", 7},      {"juillet", 7},    {"juli", 7},      {"julio", 7},
    {"aug", 8},        {"august", 8},  {"aou", 8},       {"aout", 8},      {"augustus", 8},   {"ago", 8},       {"agosto", 8},
    {"sep", 9},        {"sept", 9},    {"september", 9}, {"septembre", 9}, {"septiembre", 9}, {"oct", 10},      {"october", 10},
    {"octobre", 10},   {"okt", 10},    {"oktober", 10},  {"octubre", 10},  {"nov", 11},       {"november", 11}, {"novembre", 11},
    {"noviembre", 11}, {"dec", 12},    {"december", 12}, {"decembre", 12}, {"dez", 12},       {"dezember", 12}, {"dic", 12},
    {"diciembre", 12},
};

/// Numbers and month names of a text in their order, and the mark behind each.
struct date_parts_read {
    struct {
        int value;   ///< of digits
        int digits;  ///< how many; 0: a month name
        int month;   ///< of a name
        char before; ///< mark before it, 0 at the start
    } part[4];
    int n;
};

static int month_named(const char *text, size_t n, struct arena *arena)
{
    char *folded = text_fold(arena_text_n(arena, text, n), arena);
    for (size_t i = 0; i < sizeof months / sizeof *months; i++)
        if (strcmp(months[i].name, folded) == 0)
            return months[i].month;
    return 0;
}

static bool weekday(const char *text, size_t n)
{
    static const char *const days[] = {"mon", "tue", "wed", "thu", "fri", "sat", "sun", "mo", "di", "mi", "do", "fr", "sa", "so"};
    for (size_t i = 0; i < sizeof days / sizeof *days; i++)
        if (n == strlen(days[i]) && strncasecmp(text, days[i], n) == 0)
            return true;
    return false;
}

static bool parts_take(const char *p, struct date_parts_read *out, struct arena *arena)
{
    char before = 0;
    while (*p != '\0') {
        if (isdigit((unsigned char)*p)) {
            const char *from = p;
            int value = 0;
            for (; isdigit((unsigned char)*p); p++)
                value = p - from < 8 ? value * 10 + (*p - '0') : value;
            if (p - from > 8 || out->n >= 4)
                return false;
            if (*p == ':' && out->n >= 3)
                return true; /* a time of day behind */
            if (out->n == 3)
                return isspace((unsigned char)before) || before == 'T';
            out->part[out->n].value = value;
            out->part[out->n].digits = (int)(p - from);
            out->part[out->n++].before = before;
            before = 0;
        } else if (isalpha((unsigned char)*p) || (unsigned char)*p >= 0x80) {
            const char *from = p;
            while (isalpha((unsigned char)*p) || (unsigned char)*p >= 0x80)
                p++;
            size_t n = (size_t)(p - from);
            if (out->n == 3 && (n == 1 || before == ' '))
                return *from == 'T' || *from == 'Z' || before == ' ';
            bool ordinal = out->n > 0 && (before == 0) && n == 2 &&
                           (strncasecmp(from, "st", 2) == 0 || strncasecmp(from, "nd", 2) == 0 || strncasecmp(from, "rd", 2) == 0 ||
                            strncasecmp(from, "th", 2) == 0 || strncasecmp(from, "er", 2) == 0);
            int month = ordinal || n > 24 ? 0 : month_named(from, n, arena);
            if (month == 0 && !ordinal && !(n == 2 && strncasecmp(from, "de", 2) == 0) && !(out->n == 0 && weekday(from, n)))
                return false;
            if (month != 0) {
                if (out->n >= 3)
                    return false;
                out->part[out->n].month = month;
                out->part[out->n].digits = 0;
                out->part[out->n++].before = before;
            }
            before = 0;
        } else if (strchr(" ./-,_'", *p) != NULL) {
            before = before == 0 || before == ' ' ? *p : before;
            p++;
        } else {
            return false;
        }
    }
    return true;
}

static int year_full(int value, int digits, bool *short_year)
{
    if (digits == 4)
        return value >= 1800 && value <= 2200 ? value : 0;
    if (digits != 2)
        return 0;
    *short_year = true;
    return value < 70 ? 2000 + value : 1900 + value;
}

static struct date_read made(int year, int month, int day, struct date_read so_far)
{
    so_far.date = year == 0 ? DATE_UNKNOWN : date_make(year, month, day);
    so_far.reading = so_far.date == DATE_UNKNOWN ? DATE_NOT : DATE_CLEAR;
    return so_far;
}

/* Three parts of digits. */
static struct date_read three_numbers(const struct date_parts_read *p, enum date_order order)
{
    struct date_read out = {.date = DATE_UNKNOWN};
    int a = p->part[0].value, b = p->part[1].value, c = p->part[2].value;
    int da = p->part[0].digits, dc = p->part[2].digits;
    if (p->part[1].digits > 2)
        return out;
    if (da == 4)
        return dc <= 2 ? made(year_full(a, 4, &out.short_year), b, c, out) : out;
    if (da > 2)
        return out;
    if (order == DATE_YMD && dc <= 2)
        return made(year_full(a, da, &out.short_year), b, c, out);
    if (da == 2 && a > 31 && dc <= 2)
        return made(year_full(a, da, &out.short_year), b, c, out);
    int year = year_full(c, dc, &out.short_year);
    if (year == 0)
        return out;
    bool dots = p->part[1].before == '.' && p->part[2].before == '.';
    if (order == DATE_MDY)
        return made(year, a, b, out);
    if (order == DATE_DMY || dots || a == b || (a > 12 && b <= 12))
        return made(year, b, a, out);
    if (b > 12 && a <= 12)
        return made(year, a, b, out);
    if (a <= 12 && b <= 12 && a > 0 && b > 0)
        out.reading = DATE_AMBIGUOUS;
    return out;
}

static struct date_read month_only(int year, int month, struct date_read out)
{
    out = made(year, month, 1, out);
    if (out.reading == DATE_CLEAR) {
        out.reading = DATE_MONTH;
        out.approximate = true;
    }
    return out;
}

static struct date_read parts_date(const struct date_parts_read *p, enum date_order order)
{
    struct date_read out = {.date = DATE_UNKNOWN};
    if (p->n == 1 && p->part[0].digits == 8)
        return made(p->part[0].value / 10000, p->part[0].value / 100 % 100, p->part[0].value % 100, out);
    if (p->n == 2) {
        if (p->part[0].digits == 0 && p->part[1].digits >= 2)
            return month_only(year_full(p->part[1].value, p->part[1].digits, &out.short_year), p->part[0].month, out);
        if (p->part[1].digits == 0 && p->part[0].digits == 4)
            return month_only(year_full(p->part[0].value, 4, &out.short_year), p->part[1].month, out);
        if (p->part[0].digits == 4 && p->part[1].digits == 2)
            return month_only(year_full(p->part[0].value, 4, &out.short_year), p->part[1].value, out);
        if (p->part[1].digits == 4 && p->part[0].digits >= 1 && p->part[0].digits <= 2)
            return month_only(year_full(p->part[1].value, 4, &out.short_year), p->part[0].value, out);
        return out;
    }
    if (p->n != 3)
        return out;
    if (p->part[1].digits == 0) { /* 3 April 2023, 2023 April 3 */
        if (p->part[0].digits == 4)
            return made(year_full(p->part[0].value, 4, &out.short_year), p->part[1].month, p->part[2].value, out);
        return p->part[0].digits >= 1 && p->part[0].digits <= 2
                   ? made(year_full(p->part[2].value, p->part[2].digits, &out.short_year), p->part[1].month, p->part[0].value, out)
                   : out;
    }
    if (p->part[0].digits == 0) /* April 3, 2023 */
        return p->part[1].digits <= 2
                   ? made(year_full(p->part[2].value, p->part[2].digits, &out.short_year), p->part[0].month, p->part[1].value, out)
                   : out;
    return p->part[2].digits == 0 ? out : three_numbers(p, order);
}

struct date_read survey_date(const char *text, enum date_order order)
{
    struct date_read out = {.date = DATE_UNKNOWN};
    if (text_blank(text) || strlen(text) > 60)
        return out;
    while (isspace((unsigned char)*text))
        text++;
    int32_t iso = 0;
    char head[12] = "";
    strncpy(head, text, 10);
    if (date_read(head, &iso) && (text[10] == '\0' || text[10] == 'T' || isspace((unsigned char)text[10]))) {
        out.date = iso;
        out.reading = DATE_CLEAR;
        return out;
    }
    struct arena arena = {0};
    struct date_parts_read parts = {0};
    if (parts_take(text, &parts, &arena))
        out = parts_date(&parts, order);
    arena_clear(&arena);
    return out;
}
