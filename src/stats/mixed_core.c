/* SPDX-License-Identifier: GPL-3.0-or-later
 * The random part of a mixed model in blocks: one block per pair of levels that meet in a row.
 * Workload: 10^5 rows, some thousand effects; the pattern is found once, then filled for every trial of theta. */
#include "stats/mixed_core.h"
#include "stats/order.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <suitesparse/cholmod.h>

struct block {
    size_t i, j;     ///< terms, i ≥ j
    size_t a, b;     ///< their levels
    size_t value_at; ///< columns_i × columns_j numbers of Z'WZ, row-major
};

struct core_inside {
    size_t blocks, values;
    struct block *block;
    uint32_t *row_block; ///< n × pairs of terms
    double *cross;       ///< values of Z'WZ
    size_t *place;       ///< per block and column of j: where its rows begin in x of the matrix
    size_t *place_at;    ///< per block
    cholmod_common common;
    cholmod_sparse *matrix;
    cholmod_factor *factor;
    bool started;
};

static size_t pair_of(size_t i, size_t j)
{
    return i * (i + 1) / 2 + j;
}

static enum outcome terms_check(size_t n, const struct random_term *terms, size_t n_terms, struct failure *why)
{
    if (n_terms == 0 || n_terms > 12)
        return fail(why, OUTCOME_USAGE, "A mixed model needs from 1 to 12 random terms; there are %zu.", n_terms);
    for (size_t t = 0; t < n_terms; t++) {
        if (terms[t].columns == 0 || terms[t].columns > 8 || (terms[t].z == NULL && terms[t].columns != 1))
            return fail(why, OUTCOME_USAGE, "Random term %zu has %zu columns.", t + 1, terms[t].columns);
        if (terms[t].levels < 2) {
            fail(why, OUTCOME_DATA, "Random term %zu has one level only: how far levels differ cannot be known from it.", t + 1);
            return failure_remedy(why, "With one plot or site, show it by itself; a second would be a first replicate.");
        }
        if (terms[t].levels * terms[t].columns > n * terms[t].columns)
            return fail(why, OUTCOME_DATA, "Random term %zu has more levels than there are rows.", t + 1);
        for (size_t i = 0; i < n; i++)
            require(terms[t].level[i] < terms[t].levels);
    }
    return OUTCOME_OK;
}

static void columns_scale(struct core *c, struct arena *arena)
{
    for (size_t t = 0; t < c->terms; t++) {
        size_t k = c->term[t].columns;
        c->z[t] = arena_array(arena, c->n * k, sizeof(double));
        c->scale[t] = arena_array(arena, k, sizeof(double));
        for (size_t r = 0; r < k; r++) {
            double squares = 0;
            for (size_t i = 0; i < c->n; i++)
                squares += c->term[t].z == NULL ? 1 : c->term[t].z[i * k + r] * c->term[t].z[i * k + r];
            c->scale[t][r] = squares > 0 ? sqrt(squares / (double)c->n) : 1;
            for (size_t i = 0; i < c->n; i++)
                c->z[t][i * k + r] = c->term[t].z == NULL ? 1 : c->term[t].z[i * k + r] / c->scale[t][r];
        }
    }
}

/* Blocks of one pair of different terms: sort the pairs of levels, number the distinct ones. */
static void blocks_find(struct core *c, size_t i, size_t j, size_t *room)
{
    struct core_inside *in = c->inside;
    size_t pairs = c->terms * (c->terms + 1) / 2, *key = memory_get(c->n, sizeof *key);
    for (size_t r = 0; r < c->n; r++)
        key[r] = i == j ? c->term[i].level[r] : c->term[i].level[r] * c->term[j].levels + c->term[j].level[r];
    size_t *order = order_by(NULL, key, c->n);
    for (size_t r = 0; r < c->n; r++) {
        if (r == 0 || key[order[r]] != key[order[r - 1]]) {
            in->block = column_room(in->block, in->blocks, room, sizeof *in->block);
            in->block[in->blocks++] = (struct block){i, j, c->term[i].level[order[r]], c->term[j].level[order[r]], in->values};
            in->values += c->term[i].columns * c->term[j].columns;
        }
        in->row_block[order[r] * pairs + pair_of(i, j)] = (uint32_t)(in->blocks - 1);
    }
    free(order);
    free(key);
}

/* Every effect needs its diagonal also where its level has no row. */
static void diagonal_complete(struct core *c, size_t *room)
{
    struct core_inside *in = c->inside;
    for (size_t t = 0; t < c->terms; t++) {
        bool *seen = memory_get(c->term[t].levels, sizeof *seen);
        memset(seen, 0, c->term[t].levels * sizeof *seen);
        for (size_t r = 0; r < c->n; r++)
            seen[c->term[t].level[r]] = true;
        for (size_t a = 0; a < c->term[t].levels; a++)
            if (!seen[a]) {
                in->block = column_room(in->block, in->blocks, room, sizeof *in->block);
                in->block[in->blocks++] = (struct block){t, t, a, a, in->values};
                in->values += c->term[t].columns * c->term[t].columns;
            }
        free(seen);
    }
}

struct entry {
    size_t column, row, block;
};

static int by_column(const void *a, const void *b)
{
    const struct entry *x = a, *y = b;
    if (x->column != y->column)
        return x->column < y->column ? -1 : 1;
    return x->row < y->row ? -1 : x->row > y->row;
}

/* The lower triangle as compressed columns; remembers where each block column begins. */
static void matrix_make(struct core *c)
{
    struct core_inside *in = c->inside;
    size_t entries = 0, total = 0;
    in->place_at = memory_get(in->blocks, sizeof *in->place_at);
    for (size_t k = 0; k < in->blocks; k++) {
        in->place_at[k] = entries;
        entries += c->term[in->block[k].j].columns;
    }
    struct entry *entry = memory_get(entries, sizeof *entry);
    in->place = memory_get(entries, sizeof *in->place);
    for (size_t k = 0; k < in->blocks; k++) {
        const struct block *b = &in->block[k];
        for (size_t col = 0; col < c->term[b->j].columns; col++)
            entry[in->place_at[k] + col] =
                (struct entry){c->offset[b->j] + b->b * c->term[b->j].columns + col, c->offset[b->i] + b->a * c->term[b->i].columns, k};
    }
    qsort(entry, entries, sizeof *entry, by_column);
    for (size_t e = 0; e < entries; e++) {
        const struct block *b = &in->block[entry[e].block];
        total += b->i == b->j ? entry[e].row + c->term[b->i].columns - entry[e].column : c->term[b->i].columns;
    }
    in->matrix = cholmod_allocate_sparse(c->q, c->q, total, 1, 1, -1, CHOLMOD_REAL, &in->common);
    if (in->matrix == NULL)
        give_up("no memory for a sparse matrix", __FILE__, __LINE__);
    // cppcheck-suppress nullPointerRedundantCheck ; give_up does not return
    int *start = in->matrix->p, *row = in->matrix->i;
    size_t at = 0, column = 0;
    start[0] = 0;
    for (size_t e = 0; e < entries; e++) {
        const struct block *b = &in->block[entry[e].block];
        while (column < entry[e].column)
            start[++column] = (int)at;
        size_t col = entry[e].column - c->offset[b->j] - b->b * c->term[b->j].columns;
        in->place[in->place_at[entry[e].block] + col] = at;
        for (size_t r = b->i == b->j ? col : 0; r < c->term[b->i].columns; r++)
            row[at++] = (int)(entry[e].row + r);
    }
    while (column < c->q)
        start[++column] = (int)at;
    free(entry);
}

enum outcome core_make(struct core *c, size_t n, const struct random_term *terms, size_t n_terms, struct arena *arena, struct failure *why)
{
    *c = (struct core){.n = n, .terms = n_terms, .term = terms};
    enum outcome outcome = terms_check(n, terms, n_terms, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    c->z = arena_array(arena, n_terms, sizeof *c->z);
    c->scale = arena_array(arena, n_terms, sizeof *c->scale);
    c->offset = arena_array(arena, n_terms, sizeof *c->offset);
    c->theta_at = arena_array(arena, n_terms, sizeof *c->theta_at);
    c->lambda_at = arena_array(arena, n_terms, sizeof *c->lambda_at);
    size_t lambda = 0;
    for (size_t t = 0; t < n_terms; t++) {
        size_t k = terms[t].columns;
        c->offset[t] = c->q;
        c->theta_at[t] = c->n_theta;
        c->lambda_at[t] = lambda;
        c->q += terms[t].levels * k;
        c->n_theta += k * (k + 1) / 2;
        lambda += k * k;
    }
    c->lambda = arena_array(arena, lambda, sizeof(double));
    c->u = arena_array(arena, c->q, sizeof(double));
    columns_scale(c, arena);
    struct core_inside *in = c->inside = arena_alloc(arena, sizeof *in);
    cholmod_start(&in->common);
    in->started = true;
    in->common.print = 0;
    in->common.final_ll = 1;
    in->common.nmethods = 1;
    in->common.method[0].ordering = CHOLMOD_AMD;
    in->common.postorder = 1;
    in->row_block = memory_get(n * n_terms * (n_terms + 1) / 2, sizeof *in->row_block);
    size_t room = 0;
    for (size_t i = 0; i < n_terms; i++)
        for (size_t j = 0; j <= i; j++)
            blocks_find(c, i, j, &room);
    diagonal_complete(c, &room);
    in->cross = memory_get(in->values, sizeof *in->cross);
    matrix_make(c);
    return OUTCOME_OK;
}

void core_free(struct core *c)
{
    if (c->inside == NULL || !c->inside->started)
        return;
    struct core_inside *in = c->inside;
    cholmod_free_sparse(&in->matrix, &in->common);
    cholmod_free_factor(&in->factor, &in->common);
    cholmod_finish(&in->common);
    free(in->block);
    free(in->row_block);
    free(in->cross);
    free(in->place);
    free(in->place_at);
    in->started = false;
}

void core_weigh(struct core *c, const double *weight)
{
    struct core_inside *in = c->inside;
    size_t pairs = c->terms * (c->terms + 1) / 2;
    memset(in->cross, 0, in->values * sizeof *in->cross);
    for (size_t r = 0; r < c->n; r++) {
        double w = weight == NULL ? 1 : weight[r];
        for (size_t i = 0; i < c->terms; i++)
            for (size_t j = 0; j <= i; j++) {
                size_t ki = c->term[i].columns, kj = c->term[j].columns;
                const double *zi = c->z[i] + r * ki, *zj = c->z[j] + r * kj;
                double *value = in->cross + in->block[in->row_block[r * pairs + pair_of(i, j)]].value_at;
                for (size_t a = 0; a < ki; a++)
                    for (size_t b = 0; b < kj; b++)
                        value[a * kj + b] += w * zi[a] * zj[b];
            }
    }
}

void core_theta(struct core *c, const double *theta)
{
    for (size_t t = 0; t < c->terms; t++) {
        size_t k = c->term[t].columns;
        double *l = c->lambda + c->lambda_at[t];
        const double *from = theta + c->theta_at[t];
        for (size_t col = 0; col < k; col++)
            for (size_t row = col; row < k; row++)
                l[row * k + col] = *from++;
    }
}

void core_theta_start(const struct core *c, double *theta)
{
    for (size_t t = 0; t < c->terms; t++)
        for (size_t col = 0, at = c->theta_at[t]; col < c->term[t].columns; col++)
            for (size_t row = col; row < c->term[t].columns; row++)
                theta[at++] = row == col ? 1 : 0;
}

void core_theta_settle(const struct core *c, double *theta)
{
    for (size_t t = 0; t < c->terms; t++)
        for (size_t col = 0, at = c->theta_at[t], k = c->term[t].columns; col < k; at += k - col, col++)
            if (theta[at] < 0)
                for (size_t r = 0; r < k - col; r++)
                    theta[at + r] = -theta[at + r];
}

void core_theta_report(const struct core *c, double *theta)
{
    for (size_t t = 0; t < c->terms; t++)
        for (size_t col = 0, at = c->theta_at[t], k = c->term[t].columns; col < k; col++)
            for (size_t r = col; r < k; r++)
                theta[at++] /= c->scale[t][r];
}

bool core_singular(const struct core *c)
{
    for (size_t t = 0; t < c->terms; t++)
        for (size_t k = c->term[t].columns, r = 0; r < k; r++)
            if (fabs(c->lambda[c->lambda_at[t] + r * k + r]) < 1e-4)
                return true;
    return false;
}

/* Entry (row, col) of T_i' M T_j. */
static double block_entry(const double *ti, size_t ki, const double *m, const double *tj, size_t kj, size_t row, size_t col)
{
    double sum = 0;
    for (size_t a = row; a < ki; a++) /* T is lower triangular: T[a][row] is 0 above */
        for (size_t b = col; b < kj; b++)
            sum += ti[a * ki + row] * m[a * kj + b] * tj[b * kj + col];
    return sum;
}

static double ln_det_of(const cholmod_factor *f)
{
    double sum = 0;
    const double *x = f->x;
    if (f->is_super) {
        const int *super = f->super, *pi = f->pi, *px = f->px;
        for (size_t s = 0; s < f->nsuper; s++) {
            size_t columns = (size_t)(super[s + 1] - super[s]), rows = (size_t)(pi[s + 1] - pi[s]);
            for (size_t k = 0; k < columns; k++)
                sum += 2 * log(x[(size_t)px[s] + k * (rows + 1)]);
        }
    } else {
        const int *p = f->p;
        for (size_t k = 0; k < f->n; k++)
            sum += f->is_ll ? 2 * log(x[p[k]]) : log(x[p[k]]);
    }
    return sum;
}

bool core_factor(struct core *c)
{
    struct core_inside *in = c->inside;
    double *x = in->matrix->x;
    for (size_t k = 0; k < in->blocks; k++) {
        const struct block *b = &in->block[k];
        size_t ki = c->term[b->i].columns, kj = c->term[b->j].columns;
        const double *ti = c->lambda + c->lambda_at[b->i], *tj = c->lambda + c->lambda_at[b->j], *m = in->cross + b->value_at;
        for (size_t col = 0; col < kj; col++) {
            size_t at = in->place[in->place_at[k] + col];
            for (size_t row = b->i == b->j ? col : 0; row < ki; row++)
                x[at++] = (b->i == b->j && row == col ? 1 : 0) +
                          (ki == 1 && kj == 1 ? ti[0] * m[0] * tj[0] : block_entry(ti, ki, m, tj, kj, row, col));
        }
    }
    if (in->factor == NULL)
        in->factor = cholmod_analyze(in->matrix, &in->common);
    if (in->factor == NULL || !cholmod_factorize(in->matrix, in->factor, &in->common) || in->factor->minor != in->factor->n)
        return false;
    c->ln_det = ln_det_of(in->factor);
    return isfinite(c->ln_det);
}

void core_cross(const struct core *c, const double *x, size_t m, double *out)
{
    memset(out, 0, c->q * m * sizeof *out);
    double sum[8];
    for (size_t t = 0; t < c->terms; t++) {
        size_t k = c->term[t].columns;
        for (size_t i = 0; i < c->n; i++) {
            size_t at = c->offset[t] + c->term[t].level[i] * k;
            for (size_t col = 0; col < m; col++)
                for (size_t r = 0; r < k; r++)
                    out[col * c->q + at + r] += c->z[t][i * k + r] * x[i * m + col];
        }
        const double *l = c->lambda + c->lambda_at[t];
        for (size_t col = 0; col < m; col++)
            for (size_t a = 0; a < c->term[t].levels; a++) {
                double *v = out + col * c->q + c->offset[t] + a * k;
                for (size_t r = 0; r < k; r++) {
                    sum[r] = 0;
                    for (size_t s = r; s < k; s++)
                        sum[r] += l[s * k + r] * v[s];
                }
                memcpy(v, sum, k * sizeof *v);
            }
    }
}

static void solve(struct core *c, int system, double *b, size_t m)
{
    struct core_inside *in = c->inside;
    cholmod_dense right = {.nrow = c->q, .ncol = m, .nzmax = c->q * m, .d = c->q, .x = b, .xtype = CHOLMOD_REAL, .dtype = CHOLMOD_DOUBLE};
    cholmod_dense *x = cholmod_solve(system, in->factor, &right, &in->common);
    if (x == NULL)
        give_up("no memory to solve with a sparse factor", __FILE__, __LINE__);
    // cppcheck-suppress nullPointerRedundantCheck ; give_up does not return
    memcpy(b, x->x, c->q * m * sizeof *b);
    cholmod_free_dense(&x, &in->common);
}

void core_solve_half(struct core *c, double *b, size_t m)
{
    solve(c, CHOLMOD_P, b, m);
    solve(c, CHOLMOD_L, b, m);
}

void core_solve(struct core *c, double *b, size_t m)
{
    solve(c, CHOLMOD_A, b, m);
}

/* Λu of one level. */
static void effect_of(const struct core *c, size_t t, size_t level, const double *u, double *out)
{
    size_t k = c->term[t].columns;
    const double *l = c->lambda + c->lambda_at[t], *v = u + c->offset[t] + level * k;
    for (size_t r = 0; r < k; r++) {
        out[r] = 0;
        for (size_t s = 0; s <= r; s++)
            out[r] += l[r * k + s] * v[s];
    }
}

void core_predict(const struct core *c, const double *u, double *out)
{
    memset(out, 0, c->n * sizeof *out);
    for (size_t t = 0; t < c->terms; t++) {
        size_t k = c->term[t].columns;
        double *effect = memory_get(c->term[t].levels * k, sizeof *effect);
        for (size_t a = 0; a < c->term[t].levels; a++)
            effect_of(c, t, a, u, effect + a * k);
        for (size_t i = 0; i < c->n; i++)
            for (size_t r = 0; r < k; r++)
                out[i] += c->z[t][i * k + r] * effect[c->term[t].level[i] * k + r];
        free(effect);
    }
}

/* Covariance of the modes of one term: variance λ² times its part of A⁻¹ (Bates et al. 2015, §3.1; lme4's condVar). */
static double *conditional_of(struct core *c, size_t t, double variance, struct arena *arena)
{
    size_t levels = c->term[t].levels;
    if (c->term[t].columns != 1 || levels > MIXED_EFFECT_MOST)
        return NULL;
    double *out = arena_array(arena, levels * levels, sizeof *out), *unit = memory_get(c->q * levels, sizeof *unit);
    double lambda = c->lambda[c->lambda_at[t]] / c->scale[t][0];
    memset(unit, 0, c->q * levels * sizeof *unit);
    for (size_t a = 0; a < levels; a++)
        unit[a * c->q + c->offset[t] + a] = 1;
    core_solve(c, unit, levels);
    for (size_t a = 0; a < levels; a++)
        for (size_t b = 0; b < levels; b++)
            out[a * levels + b] = variance * lambda * lambda * unit[a * c->q + c->offset[t] + b];
    free(unit);
    return out;
}

void core_report(struct core *c, const double *u, double variance, struct arena *arena, struct mixed_fit *fit)
{
    fit->term_covariance = arena_array(arena, c->terms, sizeof *fit->term_covariance);
    fit->effect = arena_array(arena, c->terms, sizeof *fit->effect);
    fit->effect_covariance = arena_array(arena, c->terms, sizeof *fit->effect_covariance);
    for (size_t t = 0; t < c->terms; t++) {
        size_t k = c->term[t].columns;
        const double *l = c->lambda + c->lambda_at[t];
        double *v = fit->term_covariance[t] = arena_array(arena, k * k, sizeof(double));
        double *e = fit->effect[t] = arena_array(arena, c->term[t].levels * k, sizeof(double));
        fit->effect_covariance[t] = conditional_of(c, t, variance, arena);
        for (size_t a = 0; a < k; a++)
            for (size_t b = 0; b < k; b++) {
                for (size_t s = 0; s <= (a < b ? a : b); s++)
                    v[a * k + b] += variance * l[a * k + s] * l[b * k + s];
                v[a * k + b] /= c->scale[t][a] * c->scale[t][b];
            }
        for (size_t a = 0; a < c->term[t].levels; a++) {
            effect_of(c, t, a, u, e + a * k);
            for (size_t r = 0; r < k; r++)
                e[a * k + r] /= c->scale[t][r];
        }
    }
}
