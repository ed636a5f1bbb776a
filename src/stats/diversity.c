/* SPDX-License-Identifier: GPL-3.0-or-later
 * Diversity of one sample at its own, other and standardised sizes, with intervals; accumulation over sampling units. */
#include "stats/diversity_inside.h"
#include <math.h>
#include <stdlib.h>

static double chao_variance(const struct sample *s)
{
    double k = (s->n - 1) / s->n, f1 = s->f1, r = s->f2 > 0 ? f1 / s->f2 : 0;
    if (s->f2 > 0)
        return s->f2 * (k / 2 * r * r + k * k * r * r * r + k * k / 4 * r * r * r * r);
    double chao = (double)s->seen + s->f0;
    return fmax(0, k * f1 * (f1 - 1) / 2 + k * k * f1 * (2 * f1 - 1) * (2 * f1 - 1) / 4 - k * k * f1 * f1 * f1 * f1 / (4 * chao));
}

enum outcome diversity_of(const struct assemblage *a, struct diversity *out, struct failure *why)
{
    struct arena arena = {0};
    struct sample s;
    enum outcome outcome = sample_make(a, &arena, &s, why);
    if (outcome != OUTCOME_OK)
        goto done;
    *out = (struct diversity){.n = s.total, .seen = (double)s.seen, .once = s.f1, .twice = s.f2, .coverage = sample_coverage(&s, s.n)};
    for (int q = 0; q < 3; q++) {
        out->hill[q] = sample_hill(&s, q);
        double asymptotic = sample_asymptotic(&s, q);
        out->asymptotic[q] = isfinite(asymptotic) ? asymptotic : unknown_real();
    }
    out->chao_se = sqrt(chao_variance(&s));
    out->chao_corrected = s.incidence ? unknown_real() : (double)s.seen + s.f1 * (s.f1 - 1) / (2 * (s.f2 + 1));
done:
    arena_clear(&arena);
    return outcome;
}

static enum outcome order_check(int order, struct failure *why)
{
    return order >= 0 && order <= 2 ? OUTCOME_OK
                                    : fail(why, OUTCOME_USAGE, "The order of a Hill number must be 0, 1 or 2; it is %d.", order);
}

enum outcome diversity_at_size(const struct assemblage *a, double m, int order, double *out, struct failure *why)
{
    struct arena arena = {0};
    struct sample s;
    enum outcome outcome = order_check(order, why);
    if (outcome == OUTCOME_OK && !(m > 0 && isfinite(m)))
        outcome = fail(why, OUTCOME_USAGE, "The size must be above 0; it is %g.", m);
    if (outcome == OUTCOME_OK)
        outcome = sample_make(a, &arena, &s, why);
    if (outcome == OUTCOME_OK)
        *out = sample_at(&s, m, order);
    arena_clear(&arena);
    return outcome;
}

enum outcome diversity_coverage_at(const struct assemblage *a, double m, double *out, struct failure *why)
{
    struct arena arena = {0};
    struct sample s;
    enum outcome outcome = m > 0 && isfinite(m) ? OUTCOME_OK : fail(why, OUTCOME_USAGE, "The size must be above 0; it is %g.", m);
    if (outcome == OUTCOME_OK)
        outcome = sample_make(a, &arena, &s, why);
    if (outcome == OUTCOME_OK)
        *out = sample_coverage(&s, m);
    arena_clear(&arena);
    return outcome;
}

/* Size whose expected coverage is `coverage`; INFINITY where no size reaches it. */
static double size_for(const struct sample *s, double coverage)
{
    if (coverage > sample_coverage(s, s->n))
        return s->a < 1 ? s->n + log(s->total / s->f1 * (1 - coverage)) / log(s->a) - 1 : INFINITY;
    double low = 0, high = s->n;
    while (high - low > 1) {
        double middle = floor((low + high) / 2);
        *(sample_coverage(s, middle) <= coverage ? &low : &high) = middle;
    }
    double below = low == 0 ? 0 : sample_coverage(s, low), above = sample_coverage(s, high);
    return above > below ? low + (coverage - below) / (above - below) : high;
}

enum outcome diversity_at_coverage(const struct assemblage *a, double coverage, int order, double *out, double *size, struct failure *why)
{
    struct arena arena = {0};
    struct sample s;
    enum outcome outcome = order_check(order, why);
    if (outcome == OUTCOME_OK && !(coverage > 0 && coverage < 1))
        outcome = fail(why, OUTCOME_USAGE, "Coverage must lie between 0 and 1; it is %g.", coverage);
    if (outcome == OUTCOME_OK)
        outcome = sample_make(a, &arena, &s, why);
    if (outcome == OUTCOME_OK) {
        *size = size_for(&s, coverage);
        *out = isfinite(*size) ? sample_at(&s, *size, order) : unknown_real();
    }
    arena_clear(&arena);
    return outcome;
}

/* Chances of all kinds, seen and unseen, for the bootstrap (Chao et al. 2014, appendix G). Returns how many. */
static size_t community(const struct sample *s, double *p)
{
    double missing = 1 - sample_coverage(s, s->n), below = 0, scale = s->incidence ? s->total / s->n : 1;
    size_t unseen = (size_t)ceil(s->f0 - 1e-9);
    for (size_t i = 0; i < s->seen; i++)
        below += s->x[i] / s->n * pow(1 - s->x[i] / s->n, s->n);
    double w = below > 0 ? scale * missing / below : 0;
    for (size_t i = 0; i < s->seen; i++)
        p[i] = s->x[i] / s->n * (1 - w * pow(1 - s->x[i] / s->n, s->n));
    for (size_t i = 0; i < unseen; i++)
        p[s->seen + i] = fmin(1, scale * missing / (double)unseen);
    return s->seen + unseen;
}

static void draw_individuals(struct random_stream *r, const double *sum, size_t kinds, double n, double *count)
{
    for (double i = 0; i < n; i++) {
        double u = random_uniform(r) * sum[kinds - 1];
        size_t low = 0, high = kinds - 1;
        while (low < high) {
            size_t middle = (low + high) / 2;
            if (sum[middle] < u)
                low = middle + 1;
            else
                high = middle;
        }
        count[low] += 1;
    }
}

static void draw_units(struct random_stream *r, const double *p, size_t kinds, double units, double *count)
{
    for (size_t k = 0; k < kinds; k++)
        for (double u = 0; u < units; u++)
            count[k] += random_uniform(r) < p[k];
}

static void spread(const struct sample *s, const double *p, size_t kinds, const double *m, size_t k, int order, size_t draws, uint64_t seed,
                   double *mean, double *squares)
{
    struct arena scratch = {0};
    double *sum = arena_array(&scratch, kinds, sizeof *sum), total = 0;
    for (size_t i = 0; i < kinds; i++)
        sum[i] = total += p[i];
    for (size_t d = 0; d < draws; d++) {
        struct arena inner = {0};
        struct random_stream r = random_make(seed, d);
        double *count = arena_array(&inner, kinds, sizeof *count);
        if (s->incidence)
            draw_units(&r, p, kinds, s->n, count);
        else
            draw_individuals(&r, sum, kinds, s->n, count);
        struct assemblage again = {count, kinds, s->incidence ? s->n : 0};
        struct sample drawn;
        bool good = sample_make(&again, &inner, &drawn, NULL) == OUTCOME_OK;
        for (size_t i = 0; i < k; i++) {
            double v = good ? sample_at(&drawn, m[i], order) : 0, off = v - mean[i];
            mean[i] += off / (double)(d + 1);
            squares[i] += off * (v - mean[i]);
        }
        arena_clear(&inner);
    }
    arena_clear(&scratch);
}

enum outcome diversity_intervals(const struct assemblage *a, const double *m, size_t k, int order, double level, size_t draws,
                                 uint64_t seed, struct arena *arena, struct estimate *out, struct failure *why)
{
    struct sample s;
    enum outcome outcome = order_check(order, why);
    if (outcome != OUTCOME_OK || (outcome = level_check(level, why)) != OUTCOME_OK ||
        (outcome = sample_make(a, arena, &s, why)) != OUTCOME_OK)
        return outcome;
    for (size_t i = 0; i < k; i++)
        if (!(m[i] > 0 && isfinite(m[i])))
            return fail(why, OUTCOME_USAGE, "The size must be above 0; it is %g.", m[i]);
    if (s.f0 > 1e6)
        return fail(why, OUTCOME_DATA, "Almost every kind was seen once only: the sample is too small for intervals.");
    double *p = arena_array(arena, s.seen + (size_t)ceil(s.f0) + 1, sizeof *p);
    double *mean = arena_array(arena, k + 1, sizeof *mean), *squares = arena_array(arena, k + 1, sizeof *squares);
    size_t kinds = community(&s, p);
    draws = draws == 0 ? 200 : draws;
    spread(&s, p, kinds, m, k, order, draws, seed, mean, squares);
    for (size_t i = 0; i < k; i++) {
        out[i] = estimate_normal(sample_at(&s, m[i], order), sqrt(squares[i] / (double)(draws - 1)), level, s.n);
        out[i].low = fmax(0, out[i].low);
    }
    return OUTCOME_OK;
}

enum outcome diversity_accumulation(const struct assemblage *incidence, double *mean, struct failure *why)
{
    struct arena arena = {0};
    struct sample s;
    enum outcome outcome = incidence->units > 0 ? sample_make(incidence, &arena, &s, why)
                                                : fail(why, OUTCOME_USAGE, "Accumulation needs the number of sampling units.");
    for (size_t t = 1; outcome == OUTCOME_OK && t <= (size_t)incidence->units; t++)
        mean[t - 1] = sample_at(&s, (double)t, 0);
    arena_clear(&arena);
    return outcome;
}

double dissimilarity_of(enum dissimilarity kind, const double *a, const double *b, size_t kinds)
{
    double apart = 0, together = 0, most = 0, both = 0, one = 0;
    for (size_t i = 0; i < kinds; i++) {
        apart += fabs(a[i] - b[i]);
        together += a[i] + b[i];
        most += fmax(a[i], b[i]);
        both += a[i] > 0 && b[i] > 0;
        one += (a[i] > 0) != (b[i] > 0);
    }
    if (together == 0)
        return unknown_real();
    switch (kind) {
    case SORENSEN:
        return one / (2 * both + one);
    case JACCARD:
        return one / (both + one);
    case RUZICKA:
        return apart / most;
    default:
        return apart / together;
    }
}

void dissimilarity_all(enum dissimilarity kind, const double *table, size_t sites, size_t kinds, double *out)
{
    for (size_t i = 0; i < sites; i++)
        for (size_t j = 0; j <= i; j++)
            out[i * sites + j] = out[j * sites + i] = i == j ? 0 : dissimilarity_of(kind, table + i * kinds, table + j * kinds, kinds);
}

struct turnover turnover_of(const double *before, const double *after, size_t kinds)
{
    struct turnover t = {0};
    for (size_t i = 0; i < kinds; i++) {
        t.kept += before[i] > 0 && after[i] > 0;
        t.lost += before[i] > 0 && !(after[i] > 0);
        t.gained += !(before[i] > 0) && after[i] > 0;
    }
    double all = t.kept + t.lost + t.gained;
    t.share = all > 0 ? (t.lost + t.gained) / all : unknown_real();
    return t;
}
