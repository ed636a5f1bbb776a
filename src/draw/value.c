/* SPDX-License-Identifier: GPL-3.0-or-later
 * One form for values everywhere. */
#include "draw/value.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

static void plain(double x, int digits, char out[64])
{
    char text[64];
    number_fixed(x, digits, text);
    if (text[0] == '-')
        snprintf(out, 64, "−%.58s", text + 1);
    else
        snprintf(out, 64, "%.60s", text);
}

void value_write_number(double x, int digits, char out[80])
{
    if (!is_known(x)) {
        snprintf(out, 80, "not known");
        return;
    }
    static const char thin[] = "\u202f"; /* narrow space that does not break */
    char text[64], *o = out;
    plain(x, digits, text);
    size_t lead = strspn(text, "0123456789") == 0 ? strlen("−") : 0, whole = strcspn(text + lead, ".");
    bool set_apart = whole > 4; /* 4 digits stand together (ISO 80000-1, 7.3.1, allows either) */
    for (size_t i = 0; text[i] != '\0' && o < out + 70; i++) {
        if (set_apart && i > lead && i < lead + whole && (lead + whole - i) % 3 == 0) {
            memcpy(o, thin, strlen(thin));
            o += strlen(thin);
        }
        *o++ = text[i];
    }
    *o = '\0';
}

void value_write(struct draw_value value, int digits, const char *unit, char out[120])
{
    char v[64], l[64], h[64], u[24] = "";
    if (unit != NULL && *unit != '\0')
        snprintf(u, sizeof u, " %.20s", unit);
    plain(value.value, digits, v);
    plain(value.low, digits, l);
    plain(value.high, digits, h);
    bool both = is_known(value.low) && is_known(value.high);
    const char *between = both && (value.low < 0 || value.high < 0) ? " to " : "–";
    if (is_known(value.value) && both)
        snprintf(out, 120, "%.30s%.22s (%.30s%s%.30s)", v, u, l, between, h);
    else if (is_known(value.value))
        snprintf(out, 120, "%.60s%s", v, u);
    else if (both)
        snprintf(out, 120, "between %.40s and %.40s%s", l, h, u);
    else
        snprintf(out, 120, "not known");
}

void value_write_share(struct draw_value value, int64_t k, int64_t n, int n_least, char out[160])
{
    char words[120], l[64], h[64];
    if (n_least == 0)
        n_least = 10;
    if (k == INT_UNKNOWN || n == INT_UNKNOWN || n <= 0) {
        snprintf(out, 160, "not known");
        return;
    }
    if (n < n_least) {
        plain(value.low, 0, l);
        plain(value.high, 0, h);
        if (is_known(value.low) && is_known(value.high))
            snprintf(out, 160, "%lld of %lld (interval %.40s–%.40s %%)", (long long)k, (long long)n, l, h);
        else
            snprintf(out, 160, "%lld of %lld", (long long)k, (long long)n);
        return;
    }
    value_write(value, 0, "%", words);
    snprintf(out, 160, "%.110s, %lld of %lld", words, (long long)k, (long long)n);
}
