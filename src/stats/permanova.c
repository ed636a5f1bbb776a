/* SPDX-License-Identifier: GPL-3.0-or-later
 * Permutational analysis of variance of distances. Anderson 2001, Austral Ecol 26:32; McArdle & Anderson 2001, Ecology 82:290. */
#include "stats/order.h"
#include "stats/permute.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

struct manova {
    size_t n, terms;
    double *g;     ///< n × n: centred −½ d²
    double *basis; ///< columns of n: orthonormal, term after term
    size_t *ends;  ///< end of each term among the columns
    double total;
};

static void centre(const double *distance, size_t n, double *g)
{
    double *mean = memory_get(n, sizeof *mean), all = 0;
    for (size_t i = 0; i < n; i++) {
        mean[i] = 0;
        for (size_t j = 0; j < n; j++)
            mean[i] -= distance[i * n + j] * distance[i * n + j] / 2 / (double)n;
        all += mean[i] / (double)n;
    }
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < n; j++)
            g[i * n + j] = -distance[i * n + j] * distance[i * n + j] / 2 - mean[i] - mean[j] + all;
    free(mean);
}

/* Make v orthogonal to 1 and to the columns so far (twice, against rounding); false if nothing is left of it. */
static bool orthogonal(const double *basis, size_t columns, size_t n, double *v)
{
    double before = 0, after = 0, mean = 0;
    for (size_t i = 0; i < n; i++)
        mean += v[i] / (double)n;
    for (size_t i = 0; i < n; i++) {
        v[i] -= mean;
        before += v[i] * v[i];
    }
    for (int pass = 0; pass < 2; pass++)
        for (size_t c = 0; c < columns; c++) {
            double dot = 0;
            for (size_t i = 0; i < n; i++)
                dot += basis[c * n + i] * v[i];
            for (size_t i = 0; i < n; i++)
                v[i] -= dot * basis[c * n + i];
        }
    for (size_t i = 0; i < n; i++)
        after += v[i] * v[i];
    if (!(after > 1e-14 * before) || after == 0)
        return false;
    for (size_t i = 0; i < n; i++)
        v[i] /= sqrt(after);
    return true;
}

static void squares(const struct manova *m, const size_t *order, double *ss)
{
    size_t n = m->n;
    for (size_t t = 0, c = 0; t < m->terms; t++) {
        ss[t] = 0;
        for (; c < m->ends[t]; c++) {
            const double *q = m->basis + c * n;
            for (size_t i = 0; i < n; i++) {
                const double *row = m->g + order[i] * n;
                double sum = 0;
                for (size_t j = 0; j < n; j++)
                    sum += row[order[j]] * q[j];
                ss[t] += q[i] * sum;
            }
        }
    }
}

static void ratios(const struct manova *m, const double *ss, const double *df, double *f)
{
    double rest = m->total;
    for (size_t t = 0; t < m->terms; t++)
        rest -= ss[t];
    for (size_t t = 0; t < m->terms; t++)
        f[t] = ss[t] / df[t] / (rest / df[m->terms]);
}

/* Distance of each row to the centroid of its group, and the F of those distances. */
static void dispersion(const double *distance, size_t n, const size_t *group, size_t groups, struct arena *arena,
                       struct permanova_result *out)
{
    double *size = arena_array(arena, groups, sizeof *size), *inside = arena_array(arena, groups, sizeof *inside);
    double *to = arena_array(arena, n, sizeof *to), *mean = arena_array(arena, groups, sizeof *mean);
    for (size_t i = 0; i < n; i++)
        size[group[i]] += 1;
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < n; j++)
            if (group[i] == group[j]) {
                double d2 = distance[i * n + j] * distance[i * n + j];
                to[i] += d2 / size[group[i]];
                inside[group[i]] += d2 / 2 / (size[group[i]] * size[group[i]]);
            }
    double all = 0, between = 0, within = 0, used = 0;
    for (size_t i = 0; i < n; i++) {
        to[i] = sqrt(fabs(to[i] - inside[group[i]]));
        mean[group[i]] += to[i] / size[group[i]];
        all += to[i] / (double)n;
    }
    for (size_t i = 0; i < n; i++)
        within += (to[i] - mean[group[i]]) * (to[i] - mean[group[i]]);
    for (size_t g = 0; g < groups; g++) {
        between += size[g] * (mean[g] - all) * (mean[g] - all);
        used += size[g] > 0;
        mean[g] = size[g] > 0 ? mean[g] : unknown_real();
    }
    double df = used - 1, df2 = (double)n - used, f = df > 0 && df2 > 0 && within > 0 ? between / df / (within / df2) : unknown_real();
    out->dispersion_mean = mean;
    out->dispersion = (struct test){f, df, df2, is_known(f) ? f_upper(f, df, df2) : unknown_real()};
}

static void permute(const struct manova *m, const size_t *block, size_t draws, uint64_t seed, struct permanova_result *out)
{
    struct arena arena = {0};
    size_t n = m->n, *by_block = order_by(NULL, block, n), *order = arena_array(&arena, n, sizeof *order);
    size_t *shuffled = arena_array(&arena, n, sizeof *shuffled), *hits = arena_array(&arena, m->terms, sizeof *hits);
    double *ss = arena_array(&arena, m->terms, sizeof *ss), *f = arena_array(&arena, m->terms, sizeof *f);
    for (size_t d = 0; d < draws; d++) {
        struct random_stream r = random_make(seed, d);
        memcpy(shuffled, by_block, n * sizeof *shuffled);
        for (size_t from = 0, to = 0; from < n; from = to) {
            while (to < n && (block == NULL || block[by_block[to]] == block[by_block[from]]))
                to++;
            random_shuffle(&r, shuffled + from, to - from);
        }
        for (size_t i = 0; i < n; i++)
            order[by_block[i]] = shuffled[i];
        squares(m, order, ss);
        ratios(m, ss, out->df, f);
        for (size_t t = 0; t < m->terms; t++)
            hits[t] += f[t] >= out->f[t] * (1 - 1e-9);
    }
    for (size_t t = 0; t < m->terms; t++)
        out->p[t] = (1 + (double)hits[t]) / (1 + (double)draws);
    free(by_block);
    arena_clear(&arena);
}

enum outcome permanova(const double *distance, size_t n, const double *x, const size_t *columns, size_t terms, const size_t *group,
                       size_t groups, const size_t *block, size_t draws, uint64_t seed, struct arena *arena, struct permanova_result *out,
                       struct failure *why)
{
    size_t wide = 0, kept = 0;
    for (size_t t = 0; t < terms; t++)
        wide += columns[t];
    if (n < 3 || terms == 0)
        return fail(why, OUTCOME_DATA, "Distances of at least three plots and one term are needed.");
    for (size_t i = 0; i < n * n; i++)
        if (!(distance[i] >= 0) || !isfinite(distance[i])) {
            fail(why, OUTCOME_DATA, "The distance between rows %zu and %zu is not known.", i / n + 1, i % n + 1);
            return failure_remedy(why, "Leave out plots in which nothing was found; two of them have no distance.");
        }
    struct manova m = {.n = n, .terms = terms, .g = arena_array(arena, n * n, sizeof(double))};
    m.basis = arena_array(arena, n * (wide + 1), sizeof(double));
    m.ends = arena_array(arena, terms, sizeof(size_t));
    *out = (struct permanova_result){.terms = terms, .draws = draws};
    double **rows[] = {&out->ss, &out->df, &out->f, &out->r2, &out->p};
    for (size_t c = 0; c < 5; c++) {
        *rows[c] = arena_array(arena, terms + 2, sizeof(double));
        for (size_t t = 0; t < terms + 2; t++)
            (*rows[c])[t] = unknown_real();
    }
    centre(distance, n, m.g);
    for (size_t t = 0, at = 0; t < terms; t++) {
        size_t before = kept;
        for (size_t c = 0; c < columns[t]; c++, at++) {
            double *v = m.basis + kept * n;
            for (size_t i = 0; i < n; i++)
                v[i] = x[i * wide + at];
            kept += orthogonal(m.basis, kept, n, v);
        }
        m.ends[t] = kept;
        out->df[t] = (double)(kept - before);
        if (kept == before)
            return fail(why, OUTCOME_DATA, "Term %zu says nothing that the terms before it do not say.", t + 1);
    }
    if (n < kept + 2)
        return fail(why, OUTCOME_DATA, "There are too few plots (%zu) for these terms.", n);
    for (size_t i = 0; i < n; i++)
        m.total += m.g[i * n + i];
    size_t *same = arena_array(arena, n, sizeof *same);
    for (size_t i = 0; i < n; i++)
        same[i] = i;
    squares(&m, same, out->ss);
    out->df[terms] = (double)(n - kept - 1);
    out->df[terms + 1] = (double)(n - 1);
    out->ss[terms + 1] = out->ss[terms] = m.total;
    for (size_t t = 0; t < terms; t++)
        out->ss[terms] -= out->ss[t];
    ratios(&m, out->ss, out->df, out->f);
    for (size_t t = 0; t < terms + 2; t++)
        out->r2[t] = out->ss[t] / m.total;
    if (draws > 0)
        permute(&m, block, draws, seed, out);
    if (group != NULL)
        dispersion(distance, n, group, groups, arena, out);
    return OUTCOME_OK;
}
