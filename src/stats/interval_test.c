/* SPDX-License-Identifier: GPL-3.0-or-later
 * Comparing groups whose deaths are known only between visits. Fay & Shaw 2010, J Stat Softw 36(2); Fay 1999, Stat Med 18:273. */
#include "stats/dense.h"
#include "stats/order.h"
#include "stats/support.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* The pooled estimate, seen from each life: survival at its left and right end, and points with mass before them. */
struct pooled {
    size_t n, points;
    double *survival; ///< points + 1: survival after that many points; 1 first, 0 last
    double *hazard;   ///< points
    size_t *u, *v;    ///< n: points before the left end; points up to the right end
};

static void pooled_make(const struct support *s, struct arena *arena, struct pooled *p)
{
    size_t *before = arena_array(arena, s->m + 1, sizeof *before);
    p->n = s->n;
    p->survival = arena_array(arena, s->m + 1, sizeof(double));
    p->hazard = arena_array(arena, s->m + 1, sizeof(double));
    p->survival[0] = 1;
    double total = 0;
    for (size_t j = 0; j < s->m; j++) {
        before[j] = p->points;
        if (s->mass[j] <= 1e-12)
            continue;
        p->hazard[p->points] = s->mass[j] / p->survival[p->points];
        total += s->mass[j];
        p->survival[++p->points] = fmax(0, 1 - total);
    }
    before[s->m] = p->points;
    p->survival[p->points] = 0;
    p->hazard[p->points - 1] = 1;
    p->u = arena_array(arena, s->n, sizeof *p->u);
    p->v = arena_array(arena, s->n, sizeof *p->v);
    for (size_t i = 0; i < s->n; i++) {
        p->u[i] = before[s->from[i]];
        p->v[i] = before[s->to[i] + 1];
    }
}

static double x_ln_x(double s)
{
    return s > 0 ? s * log(s) : 0;
}

static double score_of(enum interval_scores kind, double sl, double sr, double al, double ar)
{
    if (kind == SCORES_WILCOXON)
        return sl + sr - 1;
    if (kind == SCORES_FINKELSTEIN)
        return (x_ln_x(sl) - x_ln_x(sr)) / (sl - sr);
    return -(sl * al - (sr > 0 ? sr * ar : 0)) / (sl - sr);
}

static void scores_fill(const struct pooled *p, enum interval_scores kind, double *scores, struct arena *arena)
{
    double *sum = arena_array(arena, p->points + 1, sizeof *sum);
    for (size_t j = 0; j < p->points; j++)
        sum[j + 1] = sum[j] + p->hazard[j];
    for (size_t i = 0; i < p->n; i++)
        scores[i] = score_of(kind, p->survival[p->u[i]], p->survival[p->v[i]], sum[p->u[i]], sum[p->v[i]]);
}

struct grouped {
    const size_t *group, *stratum;
    const double *weight;
    size_t n, groups;
};

static double weight_of(const struct grouped *g, size_t i)
{
    return g->weight == NULL ? 1 : g->weight[i];
}

/* Score sums less their expectation in each stratum, and their permutation variance, both added up over strata. */
static void permutation_moments(const struct grouped *g, const double *scores, double *u, double *variance)
{
    size_t k = g->groups, *index = order_by(NULL, g->stratum, g->n);
    double *size = memory_get(k, sizeof *size);
    memset(u, 0, k * sizeof *u);
    memset(variance, 0, k * k * sizeof *variance);
    for (size_t from = 0, to = 0; from < g->n; from = to) {
        double total = 0, sum = 0, squares = 0;
        memset(size, 0, k * sizeof *size);
        for (; to < g->n && (g->stratum == NULL || g->stratum[index[to]] == g->stratum[index[from]]); to++) {
            double w = weight_of(g, index[to]);
            size[g->group[index[to]]] += w;
            total += w;
            sum += w * scores[index[to]];
        }
        for (size_t i = from; i < to; i++) {
            double c = scores[index[i]] - sum / total, w = weight_of(g, index[i]);
            squares += w * c * c;
            u[g->group[index[i]]] += w * c;
        }
        for (size_t a = 0; a < k && total > 1; a++)
            for (size_t b = 0; b < k; b++)
                variance[a * k + b] += squares / (total - 1) * ((a == b ? size[a] : 0) - size[a] * size[b] / total);
    }
    free(size);
    free(index);
}

/* Observed information of the grouped hazards (logits) for Sun's model: diagonal plus blocks; Hessian of the lives of one group. */
static void hessian_sun(const struct pooled *p, const struct grouped *g, size_t which, double *h)
{
    size_t m = p->points - 1, side = m + 1;
    double *square = memory_get(side * side + 1, sizeof *square), *below = memory_get(m + 2, sizeof *below),
           *ratio = memory_get(m + 2, sizeof *ratio);
    memset(square, 0, side * side * sizeof *square);
    memset(below, 0, (m + 2) * sizeof *below);
    memset(ratio, 0, (m + 2) * sizeof *ratio);
    for (size_t i = 0; i < p->n; i++) {
        if (g->group[i] != which)
            continue;
        size_t u = p->u[i], v = p->v[i] > m ? m : p->v[i];
        double w = weight_of(g, i), sv = p->survival[p->v[i]], r = sv / (p->survival[u] - sv);
        below[0] += w;
        below[u > m ? m : u] -= w;
        if (u >= v || r == 0)
            continue;
        ratio[u] += w * r;
        ratio[v] -= w * r;
        double block = w * r * (1 + r);
        square[u * side + u] += block;
        square[u * side + v] -= block;
        square[v * side + u] -= block;
        square[v * side + v] += block;
    }
    for (size_t a = 0; a < side; a++)
        for (size_t b = 1; b < side; b++)
            square[a * side + b] += square[a * side + b - 1];
    for (size_t a = 1; a < side; a++)
        for (size_t b = 0; b < side; b++)
            square[a * side + b] += square[(a - 1) * side + b];
    double under = 0, inside = 0;
    for (size_t a = 0; a < m; a++) {
        under += below[a];
        inside += ratio[a];
        for (size_t b = 0; b < m; b++)
            h[a * m + b] = -square[a * side + b] * p->hazard[a] * p->hazard[b];
        h[a * m + a] += (inside - under) * p->hazard[a] * (1 - p->hazard[a]);
    }
    free(square);
    free(below);
    free(ratio);
}

/* The same for Finkelstein's: parameters log(−log S) after each point but the last. */
static void hessian_finkelstein(const struct pooled *p, const struct grouped *g, size_t which, double *h)
{
    size_t m = p->points - 1;
    memset(h, 0, m * m * sizeof *h);
    for (size_t i = 0; i < p->n; i++) {
        if (g->group[i] != which)
            continue;
        size_t u = p->u[i], v = p->v[i];
        double w = weight_of(g, i), su = p->survival[u], sv = p->survival[v], d = su - sv;
        double u1 = u > 0 ? x_ln_x(su) : 0, v1 = v <= m ? x_ln_x(sv) : 0;
        double u2 = u > 0 ? u1 * (1 + log(su)) : 0, v2 = v <= m ? v1 * (1 + log(sv)) : 0;
        if (u > 0)
            h[(u - 1) * m + u - 1] += w * (u2 / d - u1 * u1 / (d * d));
        if (v <= m)
            h[(v - 1) * m + v - 1] += w * (-v2 / d - v1 * v1 / (d * d));
        if (u > 0 && v <= m) {
            h[(u - 1) * m + v - 1] += w * u1 * v1 / (d * d);
            h[(v - 1) * m + u - 1] += w * u1 * v1 / (d * d);
        }
    }
}

/* Variance of the score sums: information about the groups less what the baseline takes up. */
static bool score_variance(const struct pooled *p, const struct grouped *g, enum interval_scores kind, double *variance)
{
    size_t m = p->points - 1, k = g->groups;
    struct arena arena = {0};
    double *base = arena_array(&arena, m * m + 1, sizeof *base), *h = arena_array(&arena, m * m + 1, sizeof *h);
    double *cross = arena_array(&arena, k * m + 1, sizeof *cross), *solved = arena_array(&arena, k * m + 1, sizeof *solved);
    memset(variance, 0, k * k * sizeof *variance);
    for (size_t a = 0; a < k; a++) {
        (kind == SCORES_SUN ? hessian_sun : hessian_finkelstein)(p, g, a, h);
        for (size_t i = 0; i < m; i++)
            for (size_t j = 0; j < m; j++) {
                base[i * m + j] -= h[i * m + j];
                cross[a * m + i] -= h[i * m + j];
            }
        for (size_t i = 0; i < m; i++)
            variance[a * k + a] += cross[a * m + i];
    }
    bool good = dense_cholesky(base, m, 1e-13);
    for (size_t a = 0; good && a < k; a++) {
        memcpy(solved + a * m, cross + a * m, m * sizeof *solved);
        dense_solve(base, m, solved + a * m);
    }
    for (size_t a = 0; good && a < k; a++)
        for (size_t b = 0; b < k; b++)
            for (size_t i = 0; i < m; i++)
                variance[a * k + b] -= cross[a * m + i] * solved[b * m + i];
    arena_clear(&arena);
    return good;
}

/* Share of permutations within strata with a statistic as large. */
static double permuted_p(const struct grouped *g, const double *scores, double seen, uint64_t seed, size_t draws)
{
    size_t n = g->n, k = g->groups, hits = 0, rank = 0, *index = order_by(NULL, g->stratum, n);
    size_t *place = memory_get(n, sizeof *place);
    double *u = memory_get(k, sizeof *u), *variance = memory_get(k * k, sizeof *variance);
    permutation_moments(g, scores, u, variance);
    double *centred = memory_get(n, sizeof *centred);
    for (size_t from = 0, to = 0; from < n; from = to) {
        double sum = 0;
        while (to < n && (g->stratum == NULL || g->stratum[index[to]] == g->stratum[index[from]]))
            sum += scores[index[to++]];
        for (size_t i = from; i < to; i++)
            centred[i] = scores[index[i]] - sum / (double)(to - from);
    }
    for (size_t d = 0; d < draws; d++) {
        struct random_stream r = random_make(seed, d);
        for (size_t from = 0, to = 0; from < n; from = to) {
            while (to < n && (g->stratum == NULL || g->stratum[index[to]] == g->stratum[index[from]])) {
                place[to] = g->group[index[to]];
                to++;
            }
            random_shuffle(&r, place + from, to - from);
        }
        memset(u, 0, k * sizeof *u);
        for (size_t i = 0; i < n; i++)
            u[place[i]] += centred[i];
        hits += dense_wald(u, variance, k, &rank) >= seen * (1 - 1e-9);
    }
    free(index);
    free(place);
    free(u);
    free(variance);
    free(centred);
    return (1 + (double)hits) / (1 + (double)draws);
}

static enum outcome request_check(const struct interval_lives *lives, const size_t *group, size_t groups, enum interval_scores scores,
                                  enum interval_form form, size_t draws, struct failure *why)
{
    if (groups < 2)
        return fail(why, OUTCOME_USAGE, "A comparison needs at least two groups.");
    for (size_t i = 0; i < lives->n; i++)
        require(group[i] < groups);
    if (form == FORM_SCORE && scores == SCORES_WILCOXON)
        return fail(why, OUTCOME_USAGE, "The score form exists for Sun's and Finkelstein's scores only.");
    if (form == FORM_EXACT && draws == 0)
        return fail(why, OUTCOME_USAGE, "A test by permutation needs a number of draws.");
    for (size_t i = 0; form == FORM_EXACT && lives->weight != NULL && i < lives->n; i++)
        if (lives->weight[i] != 1)
            return fail(why, OUTCOME_USAGE, "A test by permutation takes every life once, without weights.");
    return OUTCOME_OK;
}

enum outcome survival_interval_test(const struct interval_lives *lives, const size_t *group, size_t groups, const size_t *stratum,
                                    enum interval_scores scores, enum interval_form form, uint64_t seed, size_t draws, struct arena *arena,
                                    struct interval_test *out, struct failure *why)
{
    struct support s;
    enum outcome outcome = request_check(lives, group, groups, scores, form, draws, why);
    if (outcome != OUTCOME_OK || (outcome = support_make(lives, arena, &s, why)) != OUTCOME_OK ||
        (outcome = support_solve(&s, why)) != OUTCOME_OK)
        return outcome;
    struct pooled p = {0};
    pooled_make(&s, arena, &p);
    struct grouped g = {group, stratum, lives->weight, lives->n, groups};
    out->groups = groups;
    out->gap = s.gap;
    out->scores = arena_array(arena, lives->n, sizeof(double));
    out->score_sum = arena_array(arena, groups, sizeof(double));
    out->size = arena_array(arena, groups, sizeof(double));
    double *variance = arena_array(arena, groups * groups, sizeof *variance);
    scores_fill(&p, scores, out->scores, arena);
    for (size_t i = 0; i < lives->n; i++)
        out->size[group[i]] += weight_of(&g, i);
    permutation_moments(&g, out->scores, out->score_sum, variance);
    if (form == FORM_SCORE) {
        if (p.points < 2 || p.points > 1500)
            return fail(why, OUTCOME_DATA, "The score form needs from 2 to 1,500 times with deaths; there are %zu.", p.points);
        memset(out->score_sum, 0, groups * sizeof(double));
        for (size_t i = 0; i < lives->n; i++)
            out->score_sum[group[i]] += weight_of(&g, i) * out->scores[i];
        if (!score_variance(&p, &g, scores, variance))
            return fail(why, OUTCOME_DATA, "The information matrix is singular; use the permutation form.");
    }
    size_t rank = 0;
    double statistic = dense_wald(out->score_sum, variance, groups, &rank);
    if (rank == 0)
        return fail(why, OUTCOME_DATA, "All plants carry the same information about death: the groups cannot be compared.");
    out->test = (struct test){statistic, (double)rank, unknown_real(), chisq_upper(statistic, (double)rank)};
    if (form == FORM_EXACT)
        out->test.p = permuted_p(&g, out->scores, statistic, seed, draws);
    out->z = groups == 2 ? copysign(sqrt(statistic), out->score_sum[0]) : unknown_real();
    return OUTCOME_OK;
}
