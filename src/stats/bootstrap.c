/* SPDX-License-Identifier: GPL-3.0-or-later
 * Intervals from drawing whole clusters again and again. */
#include "stats/order.h"
#include "stats/survival.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

static int by_value(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y;
}

/* Quantile of sorted values, linear between order statistics (Hyndman & Fan 1996, type 7). */
static double quantile(const double *sorted, size_t n, double p)
{
    double at = p * (double)(n - 1);
    size_t low = (size_t)floor(at);
    return low + 1 >= n ? sorted[n - 1] : sorted[low] + (at - (double)low) * (sorted[low + 1] - sorted[low]);
}

struct clusters {
    size_t *of;     ///< n: compact cluster of each unit
    size_t *sorted; ///< clusters by stratum
    size_t *ends;   ///< end of each stratum in sorted
    size_t k, strata;
};

static struct clusters clusters_make(const size_t *cluster, const size_t *stratum, size_t n, struct arena *arena)
{
    struct clusters c = {.of = arena_array(arena, n, sizeof(size_t))};
    c.k = relabel(cluster, n, c.of);
    size_t *where = arena_array(arena, c.k, sizeof *where);
    for (size_t i = 0; i < n; i++)
        where[c.of[i]] = stratum == NULL ? 0 : stratum[i];
    size_t *index = order_by(NULL, where, c.k);
    c.sorted = arena_array(arena, c.k, sizeof(size_t));
    c.ends = arena_array(arena, c.k, sizeof(size_t));
    for (size_t i = 0; i < c.k; i++) {
        c.sorted[i] = index[i];
        if (i + 1 == c.k || where[index[i + 1]] != where[index[i]])
            c.ends[c.strata++] = i + 1;
    }
    free(index);
    return c;
}

static void draw(const struct clusters *c, struct random_stream *r, double *times)
{
    memset(times, 0, c->k * sizeof *times);
    for (size_t s = 0, from = 0; s < c->strata; from = c->ends[s++]) {
        size_t size = c->ends[s] - from;
        for (size_t i = 0; i < size; i++)
            times[c->sorted[from + random_below(r, size)]] += 1;
    }
}

static void summarise(const double *values, size_t draws, size_t m, size_t which, double level, double *column, struct estimate *out)
{
    size_t n = 0;
    double sum = 0, squares = 0;
    for (size_t b = 0; b < draws; b++)
        if (is_known(values[b * m + which]) && isfinite(values[b * m + which]))
            column[n++] = values[b * m + which];
    out->se = out->low = out->high = unknown_real();
    if (n < 2)
        return;
    for (size_t i = 0; i < n; i++)
        sum += column[i];
    for (size_t i = 0; i < n; i++)
        squares += (column[i] - sum / (double)n) * (column[i] - sum / (double)n);
    out->se = sqrt(squares / (double)(n - 1));
    if ((double)n < 0.9 * (double)draws)
        return;
    qsort(column, n, sizeof *column, by_value);
    out->low = quantile(column, n, (1 - level) / 2);
    out->high = quantile(column, n, 1 - (1 - level) / 2);
}

double bootstrap_level(double level, size_t k)
{
    return 1 - 2 * normal_upper(sqrt((double)k / (double)(k - 1)) * student_quantile(0.5 + level / 2, (double)k - 1));
}

enum outcome bootstrap_clusters(bootstrap_statistic statistic, void *data, const size_t *cluster, const size_t *stratum, size_t n, size_t m,
                                size_t draws, uint64_t seed, double level, const struct progress *progress, struct estimate *out,
                                size_t *failed, struct failure *why)
{
    enum outcome outcome = level_check(level, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (draws < 50)
        return fail(why, OUTCOME_USAGE, "An interval needs at least 50 draws; %zu were asked for.", draws);
    struct arena scratch = {0};
    struct clusters c = clusters_make(cluster, stratum, n, &scratch);
    double *weight = arena_array(&scratch, n, sizeof *weight), *times = arena_array(&scratch, c.k, sizeof *times);
    double *values = arena_array(&scratch, draws * m, sizeof *values), *one = arena_array(&scratch, m, sizeof *one);
    double *column = arena_array(&scratch, draws, sizeof *column);
    size_t lost = 0;
    if (c.k < 5) {
        fail(why, OUTCOME_DATA, "There are only %zu clusters; drawing them again says nothing about how far they differ.", c.k);
        outcome = failure_remedy(why, "At least 5 plots are needed; with fewer, show each plot by itself.");
        goto done;
    }
    for (size_t i = 0; i < n; i++)
        weight[i] = 1;
    if ((outcome = statistic(data, weight, one, why)) != OUTCOME_OK)
        goto done;
    for (size_t k = 0; k < m; k++)
        out[k] = (struct estimate){.value = one[k], .n = (double)c.k};
    for (size_t b = 0; b < draws; b++) {
        if (b % 16 == 0 && !progress_tell(progress, (double)b / (double)draws, "drawing plots again")) {
            outcome = fail(why, OUTCOME_CANCELLED, "Called off.");
            goto done;
        }
        struct random_stream r = random_make(seed, b);
        draw(&c, &r, times);
        for (size_t i = 0; i < n; i++)
            weight[i] = times[c.of[i]];
        bool good = statistic(data, weight, one, NULL) == OUTCOME_OK;
        lost += good ? 0 : 1;
        for (size_t k = 0; k < m; k++)
            values[b * m + k] = good ? one[k] : unknown_real();
    }
    if (failed != NULL)
        *failed = lost;
    if (lost * 10 > draws) {
        outcome = fail(why, OUTCOME_DATA, "%zu of %zu draws could not be computed: too little data for this interval.", lost, draws);
        goto done;
    }
    for (size_t k = 0; k < m; k++)
        summarise(values, draws, m, k, level, column, &out[k]);
done:
    arena_clear(&scratch);
    return outcome;
}
