/* SPDX-License-Identifier: GPL-3.0-or-later
 * Exact tests of a table of two rows and two columns: Fisher, Barnard, Boschloo. */
#include "stats/proportion.h"
#include <math.h>
#include <stdlib.h>

static double ln_choose(double n, double k)
{
    int sign = 0;
    return lgamma_r(n + 1, &sign) - lgamma_r(k + 1, &sign) - lgamma_r(n - k + 1, &sign);
}

static enum outcome table_check(struct two_by_two t, double most, struct failure *why)
{
    double cells[4] = {t.a, t.b, t.c, t.d};
    for (size_t i = 0; i < 4; i++)
        if (!(cells[i] >= 0) || cells[i] != floor(cells[i]))
            return fail(why, OUTCOME_DATA, "A table of counts holds %g, which is not a whole number from 0.", cells[i]);
    if (t.a + t.b == 0 || t.c + t.d == 0)
        return fail(why, OUTCOME_DATA, "One of the two groups is empty.");
    if (t.a + t.b > most || t.c + t.d > most) {
        fail(why, OUTCOME_DATA, "A group has more than %g members; this exact test would take too long.", most);
        return failure_remedy(why, "Use the score interval of the difference instead.");
    }
    return OUTCOME_OK;
}

/* All tables with the same margins: weights of the first cell, low … low + n − 1, on the log scale at odds ratio 1. */
struct margins {
    double low;
    size_t n;
    double *ln;
};

static struct margins margins_make(double m, double other, double k, struct arena *arena)
{
    struct margins s = {.low = fmax(0, k - other)};
    s.n = (size_t)(fmin(k, m) - s.low) + 1;
    s.ln = arena_array(arena, s.n, sizeof *s.ln);
    double most = -INFINITY;
    for (size_t i = 0; i < s.n; i++) {
        s.ln[i] = ln_choose(m, s.low + (double)i) + ln_choose(other, k - s.low - (double)i);
        most = fmax(most, s.ln[i]);
    }
    for (size_t i = 0; i < s.n; i++)
        s.ln[i] -= most;
    return s;
}

/* Chances at log odds ratio psi: of each, scaled; returns the mean, and the chances at or below and at or above x. */
static double noncentral(const struct margins *s, double psi, double x, double *below, double *above)
{
    double most = -INFINITY, total = 0, mean = 0, lower = 0, upper = 0;
    for (size_t i = 0; i < s->n; i++)
        most = fmax(most, s->ln[i] + psi * (double)i);
    for (size_t i = 0; i < s->n; i++) {
        double w = exp(s->ln[i] + psi * (double)i - most), at = s->low + (double)i;
        total += w;
        mean += w * at;
        lower += at <= x ? w : 0;
        upper += at >= x ? w : 0;
    }
    *below = lower / total;
    *above = upper / total;
    return mean / total;
}

enum seek { SEEK_MEAN, SEEK_LOW, SEEK_HIGH };

/* Log odds ratio at which the mean is x, or the upper (lower) tail at x is `tail`. Monotone: halving. */
static double odds_seek(const struct margins *s, enum seek seek, double x, double tail)
{
    double low = -60, high = 60, below = 0, above = 0;
    for (int i = 0; i < 120; i++) {
        double middle = (low + high) / 2, mean = noncentral(s, middle, x, &below, &above);
        bool up = seek == SEEK_MEAN ? mean < x : seek == SEEK_LOW ? above < tail : below > tail;
        if (up)
            low = middle;
        else
            high = middle;
    }
    return exp((low + high) / 2);
}

enum outcome table_fisher(struct two_by_two t, enum alternative alternative, double level, struct fisher_result *out, struct failure *why)
{
    enum outcome outcome = table_check(t, 1e7, why);
    if (outcome != OUTCOME_OK || (outcome = level_check(level, why)) != OUTCOME_OK)
        return outcome;
    struct arena arena = {0};
    struct margins s = margins_make(t.a + t.b, t.c + t.d, t.a + t.c, &arena);
    double below = 0, above = 0, total = 0, unlikely = 0;
    noncentral(&s, 0, t.a, &below, &above);
    double seen = s.ln[(size_t)(t.a - s.low)];
    for (size_t i = 0; i < s.n; i++) {
        double w = exp(s.ln[i]);
        total += w;
        unlikely += w <= exp(seen) * (1 + 1e-7) ? w : 0;
    }
    double p = alternative == FIRST_LESS ? below : alternative == FIRST_GREATER ? above : unlikely / total;
    out->p = fmin(1, p);
    double first = s.low, last = s.low + (double)(s.n - 1), tail = (1 - level) / 2;
    out->odds_ratio = estimate_unknown();
    out->odds_ratio.n = t.a + t.b + t.c + t.d;
    if (s.n > 1) {
        out->odds_ratio.value = t.a == first ? 0 : t.a == last ? INFINITY : odds_seek(&s, SEEK_MEAN, t.a, 0);
        out->odds_ratio.low = t.a == first ? 0 : odds_seek(&s, SEEK_LOW, t.a, tail);
        out->odds_ratio.high = t.a == last ? INFINITY : odds_seek(&s, SEEK_HIGH, t.a, tail);
    }
    arena_clear(&arena);
    return OUTCOME_OK;
}

/* The tables at least as extreme as the one seen: for each x1 the runs of x2. */
struct region {
    size_t n1, n2, runs, room;
    size_t *row, *from, *to; ///< x1, first and last x2 of each run
};

static void region_add(struct region *r, size_t row, size_t from, size_t to)
{
    if (r->runs == r->room) {
        r->room = r->room == 0 ? 64 : r->room * 2;
        r->row = memory_resize(r->row, r->room, sizeof *r->row);
        r->from = memory_resize(r->from, r->room, sizeof *r->from);
        r->to = memory_resize(r->to, r->room, sizeof *r->to);
    }
    r->row[r->runs] = row;
    r->from[r->runs] = from;
    r->to[r->runs++] = to;
}

/* Is (x1, x2) at least as extreme? `value` holds a number per table that is larger the more extreme. */
static struct region region_make(const double *value, size_t n1, size_t n2, double least)
{
    struct region r = {.n1 = n1, .n2 = n2};
    for (size_t i = 0; i <= n1; i++) {
        size_t start = SIZE_MAX;
        for (size_t j = 0; j <= n2 + 1; j++) {
            bool in = j <= n2 && value[i * (n2 + 1) + j] >= least;
            if (in && start == SIZE_MAX)
                start = j;
            if (!in && start != SIZE_MAX) {
                region_add(&r, i, start, j - 1);
                start = SIZE_MAX;
            }
        }
    }
    return r;
}

static void binomial_all(double *out, const double *ln_choices, size_t n, double theta)
{
    for (size_t i = 0; i <= n; i++)
        out[i] = exp(ln_choices[i] + (double)i * log(theta) + (double)(n - i) * log1p(-theta));
}

struct chance {
    const struct region *region;
    double *ln1, *ln2, *p1, *sum2;
};

static double chance_at(const struct chance *c, double theta)
{
    if (theta <= 0 || theta >= 1)
        theta = theta <= 0 ? 1e-300 : 1 - 1e-16;
    size_t n1 = c->region->n1, n2 = c->region->n2;
    binomial_all(c->p1, c->ln1, n1, theta);
    binomial_all(c->sum2 + 1, c->ln2, n2, theta);
    c->sum2[0] = 0;
    for (size_t j = 1; j <= n2 + 1; j++)
        c->sum2[j] += c->sum2[j - 1];
    double total = 0;
    for (size_t r = 0; r < c->region->runs; r++)
        total += c->p1[c->region->row[r]] * (c->sum2[c->region->to[r] + 1] - c->sum2[c->region->from[r]]);
    return total;
}

static double golden(const struct chance *c, double low, double high, double *best)
{
    const double ratio = 0.61803398874989485;
    double x1 = high - ratio * (high - low), x2 = low + ratio * (high - low), f1 = chance_at(c, x1), f2 = chance_at(c, x2);
    for (int i = 0; i < 60 && high - low > 1e-12; i++) {
        if (f1 < f2) {
            low = x1;
            x1 = x2;
            f1 = f2;
            x2 = low + ratio * (high - low);
            f2 = chance_at(c, x2);
        } else {
            high = x2;
            x2 = x1;
            f2 = f1;
            x1 = high - ratio * (high - low);
            f1 = chance_at(c, x1);
        }
    }
    *best = f1 > f2 ? f1 : f2;
    return f1 > f2 ? x1 : x2;
}

/* Supremum over the common proportion: a grid fine enough for polynomials of this degree, then every local peak near the top. */
static void supremum(const struct region *region, struct unconditional_result *out)
{
    struct arena arena = {0};
    size_t n1 = region->n1, n2 = region->n2, grid = n1 + n2 > 500 ? 2000 : 1000;
    struct chance c = {region, arena_array(&arena, n1 + 1, sizeof(double)), arena_array(&arena, n2 + 1, sizeof(double)),
                       arena_array(&arena, n1 + 1, sizeof(double)), arena_array(&arena, n2 + 2, sizeof(double))};
    for (size_t i = 0; i <= n1; i++)
        c.ln1[i] = ln_choose((double)n1, (double)i);
    for (size_t j = 0; j <= n2; j++)
        c.ln2[j] = ln_choose((double)n2, (double)j);
    double *value = arena_array(&arena, grid + 1, sizeof *value), most = 0;
    for (size_t g = 0; g <= grid; g++) {
        value[g] = chance_at(&c, (double)g / (double)grid);
        if (value[g] > most) {
            most = value[g];
            out->nuisance = (double)g / (double)grid;
        }
    }
    out->p = most;
    for (size_t g = 1; g < grid; g++) {
        if (value[g] < value[g - 1] || value[g] < value[g + 1] || value[g] < 0.98 * most)
            continue;
        double best = 0, at = golden(&c, (double)(g - 1) / (double)grid, (double)(g + 1) / (double)grid, &best);
        if (best > out->p) {
            out->p = best;
            out->nuisance = at;
        }
    }
    out->p = fmin(1, out->p);
    arena_clear(&arena);
}

static double pooled_z(double x1, double n1, double x2, double n2)
{
    double p = (x1 + x2) / (n1 + n2), variance = p * (1 - p) * (1 / n1 + 1 / n2);
    return variance <= 0 ? 0 : (x1 / n1 - x2 / n2) / sqrt(variance);
}

static void region_free(struct region *r)
{
    free(r->row);
    free(r->from);
    free(r->to);
}

enum outcome table_barnard(struct two_by_two t, enum alternative alternative, struct unconditional_result *out, struct failure *why)
{
    enum outcome outcome = table_check(t, 2000, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    size_t n1 = (size_t)(t.a + t.b), n2 = (size_t)(t.c + t.d);
    double *value = memory_get((n1 + 1) * (n2 + 1), sizeof *value);
    for (size_t i = 0; i <= n1; i++)
        for (size_t j = 0; j <= n2; j++) {
            double z = pooled_z((double)i, (double)n1, (double)j, (double)n2);
            value[i * (n2 + 1) + j] = alternative == TWO_SIDED ? fabs(z) : alternative == FIRST_GREATER ? z : -z;
        }
    double z = pooled_z(t.a, (double)n1, t.c, (double)n2);
    *out = (struct unconditional_result){z, 1, 0.5};
    double seen = alternative == TWO_SIDED ? fabs(z) : alternative == FIRST_GREATER ? z : -z;
    /* ties in the ordering must fall on the same side whatever the rounding */
    struct region region = region_make(value, n1, n2, seen - 1e-10);
    supremum(&region, out);
    region_free(&region);
    free(value);
    return OUTCOME_OK;
}

static int by_weight(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y;
}

/* Fisher's p of every table with k events in all, put at its place in `value`, negated. */
static void fisher_margin(double *value, size_t n1, size_t n2, size_t k, enum alternative alternative, struct arena *arena)
{
    struct margins s = margins_make((double)n1, (double)n2, (double)k, arena);
    double *w = arena_array(arena, s.n, sizeof *w), *sorted = arena_array(arena, s.n, sizeof *sorted), total = 0;
    for (size_t i = 0; i < s.n; i++) {
        w[i] = exp(s.ln[i]);
        sorted[i] = w[i];
        total += w[i];
    }
    qsort(sorted, s.n, sizeof *sorted, by_weight);
    double *sum = arena_array(arena, s.n + 1, sizeof *sum), lower = 0;
    for (size_t i = 0; i < s.n; i++)
        sum[i + 1] = sum[i] + sorted[i];
    for (size_t i = 0; i < s.n; i++) {
        double p = 0;
        if (alternative == TWO_SIDED) {
            size_t from = 0, to = s.n;
            while (from < to) {
                size_t middle = (from + to) / 2;
                if (sorted[middle] <= w[i] * (1 + 1e-7))
                    from = middle + 1;
                else
                    to = middle;
            }
            p = sum[from] / total;
        } else {
            p = alternative == FIRST_LESS ? (lower + w[i]) / total : 1 - lower / total;
        }
        lower += w[i];
        size_t x1 = (size_t)s.low + i;
        value[x1 * (n2 + 1) + (k - x1)] = -p;
    }
}

enum outcome table_boschloo(struct two_by_two t, enum alternative alternative, struct unconditional_result *out, struct failure *why)
{
    enum outcome outcome = table_check(t, 2000, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    size_t n1 = (size_t)(t.a + t.b), n2 = (size_t)(t.c + t.d);
    double *value = memory_get((n1 + 1) * (n2 + 1), sizeof *value);
    for (size_t k = 0; k <= n1 + n2; k++) {
        struct arena arena = {0};
        fisher_margin(value, n1, n2, k, alternative, &arena);
        arena_clear(&arena);
    }
    double seen = value[(size_t)t.a * (n2 + 1) + (size_t)t.c];
    *out = (struct unconditional_result){-seen, 1, 0.5};
    struct region region = region_make(value, n1, n2, seen * (1 + 1e-9) - 1e-14);
    supremum(&region, out);
    region_free(&region);
    free(value);
    return OUTCOME_OK;
}
