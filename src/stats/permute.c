/* SPDX-License-Identifier: GPL-3.0-or-later
 * Sign flips of pairs and shuffles within blocks. Fisher 1935, The Design of Experiments, §21; Hartigan 1969,
 * J Am Stat Assoc 64:1303 for the interval from means of subsets. */
#include "stats/permute.h"
#include "stats/dense.h"
#include "stats/order.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { EXACT_PAIRS = 24, INTERVAL_PAIRS = 20, EXACT_ARRANGEMENTS = 200000 };

/* Share of all sign patterns with a sum as far from 0; the first sign is held, for the two halves mirror each other. */
static double flips_all(const double *d, size_t n, double seen, double slack)
{
    size_t half = (size_t)1 << (n - 1), hits = 0;
    double sum = 0, sign[EXACT_PAIRS];
    for (size_t i = 0; i < n; i++) {
        sign[i] = 1;
        sum += d[i];
    }
    for (size_t g = 0;;) {
        hits += fabs(sum) >= seen - slack;
        if (++g == half)
            break;
        size_t bit = (size_t)__builtin_ctzll(g) + 1; /* Gray code: one sign changes at a time */
        sign[bit] = -sign[bit];
        sum += 2 * sign[bit] * d[bit];
        if (g % 4096 == 0) { /* rounding must not build up */
            sum = 0;
            for (size_t i = 0; i < n; i++)
                sum += sign[i] * d[i];
        }
    }
    return (double)hits / (double)half;
}

static int by_value(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y;
}

static void interval_set(const double *d, size_t n, double level, struct sign_flip *out)
{
    size_t all = (size_t)1 << n, k = (size_t)floor((1 - level) / 2 * (double)all + 1e-9);
    if (k < 1)
        return;
    double *mean = memory_get(all, sizeof *mean);
    mean[0] = 0; /* holds sums first: of a subset without its lowest member, plus that member */
    for (size_t s = 1; s < all; s++)
        mean[s] = mean[s & (s - 1)] + d[__builtin_ctzll(s)];
    for (size_t s = 1; s < all; s++)
        mean[s] /= (double)__builtin_popcountll(s);
    qsort(mean + 1, all - 1, sizeof *mean, by_value);
    out->low = mean[k];
    out->high = mean[all - k];
    free(mean);
}

enum outcome permute_sign_flip(const double *difference, size_t n, double level, size_t draws, uint64_t seed, struct sign_flip *out,
                               struct failure *why)
{
    enum outcome outcome = level_check(level, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (n == 0)
        return fail(why, OUTCOME_DATA, "There are no pairs.");
    double size = 0, sum = 0;
    for (size_t i = 0; i < n; i++) {
        if (!isfinite(difference[i]))
            return fail(why, OUTCOME_DATA, "The difference of pair %zu is not known.", i + 1);
        size += fabs(difference[i]);
        sum += difference[i];
    }
    *out = (struct sign_flip){sum / (double)n, 1, pow(2, 1 - (double)n), n <= EXACT_PAIRS, unknown_real(), unknown_real()};
    double slack = 1e-9 * size;
    if (out->exact) {
        out->p = flips_all(difference, n, fabs(sum), slack);
        if (n <= INTERVAL_PAIRS)
            interval_set(difference, n, level, out);
        return OUTCOME_OK;
    }
    size_t hits = 0;
    draws = draws == 0 ? 9999 : draws;
    for (size_t b = 0; b < draws; b++) {
        struct random_stream r = random_make(seed, b);
        double total = 0;
        for (size_t i = 0; i < n; i++)
            total += random_u32(&r) & 1 ? difference[i] : -difference[i];
        hits += fabs(total) >= fabs(sum) - slack;
    }
    out->p = (1 + (double)hits) / (1 + (double)draws);
    return OUTCOME_OK;
}

struct blocks {
    size_t n, groups, count;
    size_t *row;   ///< rows in order of block
    size_t *end;   ///< end of each block
    size_t *label; ///< group at each place of row
    double *y;     ///< response less its block's mean, by place
    double *variance;
    double *u;
};

static struct blocks blocks_make(const double *y, const size_t *group, const size_t *block, size_t n, size_t groups, struct arena *arena)
{
    struct blocks b = {.n = n, .groups = groups};
    size_t *order = order_by(NULL, block, n);
    b.row = arena_array(arena, n, sizeof(size_t));
    b.end = arena_array(arena, n, sizeof(size_t));
    b.label = arena_array(arena, n, sizeof(size_t));
    b.y = arena_array(arena, n, sizeof(double));
    b.variance = arena_array(arena, groups * groups, sizeof(double));
    b.u = arena_array(arena, groups, sizeof(double));
    double *size = arena_array(arena, groups, sizeof *size);
    memcpy(b.row, order, n * sizeof *order);
    free(order);
    for (size_t from = 0, to = 0; from < n; from = to) {
        double sum = 0;
        memset(size, 0, groups * sizeof *size);
        for (; to < n && (block == NULL || block[b.row[to]] == block[b.row[from]]); to++) {
            sum += y[b.row[to]];
            size[group[b.row[to]]] += 1;
            b.label[to] = group[b.row[to]];
        }
        double m = (double)(to - from);
        for (size_t i = from; i < to; i++)
            b.y[i] = y[b.row[i]] - sum / m;
        for (size_t a = 0; a < groups; a++)
            for (size_t c = 0; c < groups; c++)
                b.variance[a * groups + c] += (a == c ? size[a] : 0) - size[a] * size[c] / m;
        b.end[b.count++] = to;
    }
    return b;
}

/* Sum of squares between groups given blocks: the same cross products serve every arrangement within blocks. */
static double between(struct blocks *b, size_t *rank)
{
    memset(b->u, 0, b->groups * sizeof *b->u);
    for (size_t i = 0; i < b->n; i++)
        b->u[b->label[i]] += b->y[i];
    return dense_wald(b->u, b->variance, b->groups, rank);
}

/* Next arrangement of labels in lexicographic order; false after the last, which leaves them sorted. */
static bool arrangement_next(size_t *label, size_t n)
{
    size_t i = n;
    while (i >= 2 && label[i - 2] >= label[i - 1])
        i--;
    bool more = i >= 2;
    if (more) {
        size_t j = n - 1;
        while (label[j] <= label[i - 2])
            j--;
        size_t swap = label[j];
        label[j] = label[i - 2];
        label[i - 2] = swap;
    }
    for (size_t a = more ? i - 1 : 0, z = n; a + 1 < z; a++) {
        size_t swap = label[a];
        label[a] = label[--z];
        label[z] = swap;
    }
    return more;
}

static bool blocks_next(struct blocks *b)
{
    for (size_t k = 0, from = 0; k < b->count; from = b->end[k++])
        if (arrangement_next(b->label + from, b->end[k] - from))
            return true;
    return false;
}

static double arrangements_of(const struct blocks *b)
{
    double total = 0;
    int sign = 0;
    for (size_t k = 0, from = 0; k < b->count; from = b->end[k++]) {
        total += lgamma_r((double)(b->end[k] - from) + 1, &sign);
        for (size_t g = 0; g < b->groups; g++) {
            double size = 0;
            for (size_t i = from; i < b->end[k]; i++)
                size += b->label[i] == g;
            total -= lgamma_r(size + 1, &sign);
        }
    }
    return total > log(1e15) ? INFINITY : round(exp(total));
}

/* Of two groups: are they of one size in every block, so that every split counts twice? */
static bool mirrored(const struct blocks *b)
{
    for (size_t k = 0, from = 0; k < b->count && b->groups == 2; from = b->end[k++]) {
        size_t first = 0;
        for (size_t i = from; i < b->end[k]; i++)
            first += b->label[i] == 0;
        if (2 * first != b->end[k] - from)
            return false;
    }
    return b->groups == 2;
}

static double share_all(struct blocks *b, double seen, double slack)
{
    size_t hits = 0, all = 0, rank = 0;
    for (size_t k = 0, from = 0; k < b->count; from = b->end[k++]) {
        size_t *order = order_by(NULL, b->label + from, b->end[k] - from), n = b->end[k] - from;
        for (size_t i = 0; i < n; i++)
            order[i] = b->label[from + order[i]];
        memcpy(b->label + from, order, n * sizeof *order);
        free(order);
    }
    do {
        all++;
        hits += between(b, &rank) >= seen - slack;
    } while (blocks_next(b));
    return (double)hits / (double)all;
}

static double share_drawn(struct blocks *b, double seen, double slack, size_t draws, uint64_t seed)
{
    size_t hits = 0, rank = 0, *start = memory_get(b->n, sizeof *start);
    memcpy(start, b->label, b->n * sizeof *start);
    for (size_t d = 0; d < draws; d++) {
        struct random_stream r = random_make(seed, d);
        memcpy(b->label, start, b->n * sizeof *start);
        for (size_t k = 0, from = 0; k < b->count; from = b->end[k++])
            random_shuffle(&r, b->label + from, b->end[k] - from);
        hits += between(b, &rank) >= seen - slack;
    }
    free(start);
    return (1 + (double)hits) / (1 + (double)draws);
}

enum outcome permute_groups(const double *y, const size_t *group, const size_t *block, size_t n, size_t groups, size_t draws, uint64_t seed,
                            struct shuffle_test *out, struct failure *why)
{
    struct arena arena = {0};
    enum outcome outcome = OUTCOME_OK;
    if (n < 2 || groups < 2)
        return fail(why, OUTCOME_DATA, "A comparison needs at least two groups and two values.");
    for (size_t i = 0; i < n; i++) {
        require(group[i] < groups);
        if (!isfinite(y[i]))
            return fail(why, OUTCOME_DATA, "Value %zu is not known.", i + 1);
    }
    struct blocks b = blocks_make(y, group, block, n, groups, &arena);
    size_t rank = 0;
    double seen = between(&b, &rank), total = 0;
    for (size_t i = 0; i < n; i++)
        total += b.y[i] * b.y[i];
    if (rank == 0) {
        fail(why, OUTCOME_DATA, "No block holds more than one group: there is nothing to shuffle.");
        outcome = failure_remedy(why, "Groups can be compared only where both stand in the same block.");
        goto done;
    }
    double df = (double)(n - b.count) - (double)rank, slack = 1e-9 * (total + seen);
    out->statistic = df > 0 && total - seen > 1e-12 * total ? seen / (double)rank / ((total - seen) / df) : unknown_real();
    out->arrangements = arrangements_of(&b);
    out->p_least = (mirrored(&b) ? 2 : 1) / out->arrangements;
    out->exact = out->arrangements <= EXACT_ARRANGEMENTS;
    out->p = out->exact ? share_all(&b, seen, slack) : share_drawn(&b, seen, slack, draws == 0 ? 9999 : draws, seed);
done:
    arena_clear(&arena);
    return outcome;
}
