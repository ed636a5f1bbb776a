/* SPDX-License-Identifier: GPL-3.0-or-later
 * From intervals of death to innermost intervals: Turnbull 1976, JRSS-B 38:290. */
#include "stats/support.h"
#include <math.h>
#include <stdlib.h>

/* Ends in the order of the line: closed left end at t, right end at t, open left end just after t. */
enum side { SIDE_EXACT = 0, SIDE_RIGHT = 1, SIDE_LEFT = 2 };
struct end {
    double time;
    enum side side;
};

static int by_place(const void *a, const void *b)
{
    const struct end *x = a, *y = b;
    if (x->time != y->time)
        return x->time < y->time ? -1 : 1;
    return (int)x->side - (int)y->side;
}

static struct end left_of(const struct interval_lives *lives, size_t i)
{
    return (struct end){lives->left[i], lives->left[i] == lives->right[i] ? SIDE_EXACT : SIDE_LEFT};
}

static enum outcome intervals_check(const struct interval_lives *lives, struct failure *why)
{
    if (lives->n == 0)
        return fail(why, OUTCOME_DATA, "There are no lives to follow.");
    for (size_t i = 0; i < lives->n; i++) {
        double l = lives->left[i], r = lives->right[i], w = lives->weight == NULL ? 1 : lives->weight[i];
        if (!(l >= 0 && r >= l && isfinite(l)))
            return fail(why, OUTCOME_DATA, "Life %zu is said to end between %g and %g; the second must not be before the first.", i + 1, l,
                        r);
        if (!(w >= 0 && isfinite(w)))
            return fail(why, OUTCOME_DATA, "Life %zu has the weight %g.", i + 1, w);
    }
    return OUTCOME_OK;
}

/* First innermost interval whose left end is not before `end`. */
static size_t first_from(const struct end *lefts, size_t m, struct end end)
{
    size_t low = 0, high = m;
    while (low < high) {
        size_t middle = (low + high) / 2;
        if (by_place(&lefts[middle], &end) < 0)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

/* One past the last innermost interval whose right end is not after `time`. */
static size_t last_to(const double *right, size_t m, double time)
{
    size_t low = 0, high = m;
    while (low < high) {
        size_t middle = (low + high) / 2;
        if (right[middle] <= time)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

struct pair {
    size_t from, to;
    double weight;
};

static int by_range(const void *a, const void *b)
{
    const struct pair *x = a, *y = b;
    if (x->from != y->from)
        return x->from < y->from ? -1 : 1;
    return x->to < y->to ? -1 : x->to > y->to;
}

static void collapse(struct support *s, const struct interval_lives *lives, struct arena *arena)
{
    struct pair *pair = memory_get(s->n, sizeof *pair);
    for (size_t i = 0; i < s->n; i++)
        pair[i] = (struct pair){s->from[i], s->to[i], lives->weight == NULL ? 1 : lives->weight[i]};
    qsort(pair, s->n, sizeof *pair, by_range);
    s->k_from = arena_array(arena, s->n, sizeof *s->k_from);
    s->k_to = arena_array(arena, s->n, sizeof *s->k_to);
    s->k_weight = arena_array(arena, s->n, sizeof *s->k_weight);
    s->k = 0;
    for (size_t i = 0; i < s->n; i++) {
        s->total += pair[i].weight;
        if (s->k > 0 && s->k_from[s->k - 1] == pair[i].from && s->k_to[s->k - 1] == pair[i].to) {
            s->k_weight[s->k - 1] += pair[i].weight;
        } else if (pair[i].weight > 0) {
            s->k_from[s->k] = pair[i].from;
            s->k_to[s->k] = pair[i].to;
            s->k_weight[s->k++] = pair[i].weight;
        }
    }
    free(pair);
}

enum outcome support_make(const struct interval_lives *lives, struct arena *arena, struct support *out, struct failure *why)
{
    enum outcome outcome = intervals_check(lives, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    size_t n = lives->n, ends = 0;
    struct end *end = memory_get(2 * n, sizeof *end);
    for (size_t i = 0; i < n; i++) {
        if (lives->weight != NULL && lives->weight[i] == 0)
            continue;
        end[ends++] = left_of(lives, i);
        end[ends++] = (struct end){lives->right[i], SIDE_RIGHT};
    }
    qsort(end, ends, sizeof *end, by_place);
    *out = (struct support){.n = n};
    for (size_t i = 1; i < ends; i++)
        out->m += end[i].side == SIDE_RIGHT && end[i - 1].side != SIDE_RIGHT;
    if (out->m == 0) {
        free(end);
        return fail(why, OUTCOME_DATA, "All lives have the weight 0.");
    }
    struct end *lefts = arena_array(arena, out->m, sizeof *lefts);
    out->left = arena_array(arena, out->m, sizeof(double));
    out->right = arena_array(arena, out->m, sizeof(double));
    for (size_t i = 1, j = 0; i < ends; i++)
        if (end[i].side == SIDE_RIGHT && end[i - 1].side != SIDE_RIGHT) {
            lefts[j] = end[i - 1];
            out->left[j] = end[i - 1].time;
            out->right[j++] = end[i].time;
        }
    free(end);
    out->from = arena_array(arena, n, sizeof *out->from);
    out->to = arena_array(arena, n, sizeof *out->to);
    for (size_t i = 0; i < n; i++) {
        size_t past = last_to(out->right, out->m, lives->right[i]);
        out->from[i] = first_from(lefts, out->m, left_of(lives, i));
        out->to[i] = past > 0 ? past - 1 : 0;
    }
    collapse(out, lives, arena);
    out->mass = arena_array(arena, out->m, sizeof(double));
    return OUTCOME_OK;
}
