/* SPDX-License-Identifier: GPL-3.0-or-later
 * Text and numbers as text, independent of the locale. */
#include "base/text.h"
#include "base/outcome.h"
#include <ctype.h>
#include <errno.h>
#include <locale.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

static void text_reserve(struct text *text, size_t more)
{
    size_t need = text->n + more + 1;
    if (need <= text->room)
        return;
    size_t room = text->room < 64 ? 64 : text->room;
    while (room < need)
        room *= 2;
    text->at = memory_resize(text->at, room, 1);
    text->room = room;
}

void text_add_n(struct text *text, const char *more, size_t n)
{
    text_reserve(text, n);
    memcpy(text->at + text->n, more, n);
    text->n += n;
    text->at[text->n] = '\0';
}

void text_add(struct text *text, const char *more)
{
    text_add_n(text, more, strlen(more));
}

void text_print(struct text *text, const char *format, ...)
{
    va_list list, again;
    va_start(list, format);
    va_copy(again, list);
    int n = vsnprintf(NULL, 0, format, list);
    va_end(list);
    require(n >= 0);
    text_reserve(text, (size_t)n);
    vsnprintf(text->at + text->n, (size_t)n + 1, format, again);
    va_end(again);
    text->n += (size_t)n;
}

void text_free(struct text *text)
{
    free(text->at);
    *text = (struct text){0};
}

const char *text_get(const struct text *text)
{
    return text->at == NULL ? "" : text->at;
}

bool text_same(const char *a, const char *b)
{
    return a == b || (a != NULL && b != NULL && strcmp(a, b) == 0);
}

bool text_same_nocase(const char *a, const char *b)
{
    return a == b || (a != NULL && b != NULL && strcasecmp(a, b) == 0);
}

bool text_blank(const char *a)
{
    if (a == NULL)
        return true;
    for (; *a != '\0'; a++)
        if (!isspace((unsigned char)*a))
            return false;
    return true;
}

char *text_trim(struct arena *arena, const char *a)
{
    if (a == NULL)
        return NULL;
    while (isspace((unsigned char)*a))
        a++;
    size_t n = strlen(a);
    while (n > 0 && isspace((unsigned char)a[n - 1]))
        n--;
    return arena_text_n(arena, a, n);
}

int text_distance(const char *a, const char *b, int limit)
{
    enum { LONGEST = 200 };
    size_t n = strlen(a), m = strlen(b);
    if (n > LONGEST || m > LONGEST)
        return strcmp(a, b) == 0 ? 0 : limit + 1;
    int rows[3][LONGEST + 1];
    for (size_t j = 0; j <= m; j++)
        rows[0][j] = (int)j;
    int *before = rows[2], *last = rows[0], *now = rows[1];
    for (size_t i = 1; i <= n; i++) {
        now[0] = (int)i;
        int least = now[0];
        for (size_t j = 1; j <= m; j++) {
            int best = last[j - 1] + (a[i - 1] != b[j - 1]);
            if (last[j] + 1 < best)
                best = last[j] + 1;
            if (now[j - 1] + 1 < best)
                best = now[j - 1] + 1;
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] && before[j - 2] + 1 < best)
                best = before[j - 2] + 1;
            now[j] = best;
            if (best < least)
                least = best;
        }
        if (least > limit)
            return limit + 1;
        int *spare = before;
        before = last;
        last = now;
        now = spare;
    }
    return last[m] > limit ? limit + 1 : last[m];
}

double unknown_real(void)
{
    return (double)NAN;
}

bool is_known(double x)
{
    return !isnan(x);
}

static void point_for_comma(char *a)
{
    const char *mark = localeconv()->decimal_point;
    size_t n = strlen(mark);
    if (strcmp(mark, ".") == 0)
        return;
    char *found = strstr(a, mark);
    if (found == NULL)
        return;
    *found = '.';
    memmove(found + 1, found + n, strlen(found + n) + 1);
}

void number_write(double x, char out[40])
{
    if (isnan(x)) {
        out[0] = '\0';
        return;
    }
    for (int digits = 1; digits <= 17; digits++) {
        snprintf(out, 40, "%.*g", digits, x);
        if (strtod(out, NULL) == x)
            break;
    }
    if (fabs(x) >= 1 && fabs(x) < 1e15 && strchr(out, 'e') != NULL)
        snprintf(out, 40, "%.0f", x); /* 30, not 3e+01: only whole numbers come here */
    point_for_comma(out);
}

void number_fixed(double x, int digits, char out[64])
{
    if (isnan(x)) {
        out[0] = '\0';
        return;
    }
    double scale = pow(10.0, digits);
    double nudged = fabs(x) < 1e15 / scale ? copysign(floor(fabs(x) * scale * (1 + 4e-16) + 0.5) / scale, x) : x;
    if (nudged == 0)
        nudged = 0;
    snprintf(out, 64, "%.*f", digits, nudged);
    point_for_comma(out);
}

bool number_read(const char *a, double *x)
{
    if (a == NULL)
        return false;
    char copy[80];
    size_t n = 0;
    bool point = false, digit = false, exponent = false;
    for (const char *p = a; *p != '\0'; p++) {
        bool sign = (*p == '-' || *p == '+') && (p == a || p[-1] == 'e' || p[-1] == 'E');
        if (isdigit((unsigned char)*p)) {
            digit = true;
        } else if (*p == '.' && !point && !exponent) {
            point = true;
        } else if ((*p == 'e' || *p == 'E') && digit && !exponent) {
            exponent = true;
        } else if (!sign) {
            return false;
        }
        if (n + 8 >= sizeof copy)
            return false;
        if (*p == '.') {
            const char *mark = localeconv()->decimal_point;
            n += (size_t)snprintf(copy + n, sizeof copy - n, "%.4s", mark);
        } else {
            copy[n++] = *p;
        }
    }
    if (!digit)
        return false;
    copy[n] = '\0';
    char *end = NULL;
    errno = 0;
    double value = strtod(copy, &end);
    if (*end != '\0' || !isfinite(value))
        return false;
    *x = value;
    return true;
}

bool integer_read(const char *a, int64_t *x)
{
    if (a == NULL || *a == '\0' || isspace((unsigned char)*a))
        return false;
    char *end = NULL;
    errno = 0;
    long long value = strtoll(a, &end, 10);
    if (end == a || *end != '\0' || errno != 0 || value == INT64_MIN)
        return false;
    *x = value;
    return true;
}
