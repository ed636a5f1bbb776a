/* SPDX-License-Identifier: GPL-3.0-or-later
 * A plot square by square. */
#include "evidence/squares.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { LEAST_SQUARES = 8, MOST_SIDE = 400 };

bool square_place(const char *code, size_t *row, size_t *column)
{
    size_t r = 0, c = 0, letters = 0, digits = 0;
    for (; code != NULL && *code >= 'A' && *code <= 'Z' && letters < 3; code++, letters++)
        r = 26 * r + (size_t)(*code - 'A') + 1;
    for (; code != NULL && *code >= '0' && *code <= '9' && digits < 4; code++, digits++)
        c = 10 * c + (size_t)(*code - '0');
    if (code == NULL || *code != '\0' || letters == 0 || digits == 0 || c == 0 || r > MOST_SIDE || c > MOST_SIDE)
        return false;
    *row = r - 1;
    *column = c - 1;
    return true;
}

/* Pairs of neighbours among the squares that have a value: indices into the list of those. */
struct net {
    size_t n, n_pairs, *pairs;
    double *value;
};

static struct net net_make(const double *values, size_t rows, size_t columns)
{
    struct net net = {.pairs = memory_get(4 * rows * columns + 1, sizeof(size_t)), .value = memory_get(rows * columns + 1, sizeof(double))};
    size_t *at = memory_get(rows * columns + 1, sizeof *at);
    for (size_t i = 0; i < rows * columns; i++)
        if (is_known(values[i])) {
            at[i] = net.n;
            net.value[net.n++] = values[i];
        } else
            at[i] = SIZE_MAX;
    for (size_t r = 0; r < rows; r++)
        for (size_t c = 0; c < columns; c++) {
            size_t i = r * columns + c;
            if (at[i] == SIZE_MAX)
                continue;
            if (c + 1 < columns && at[i + 1] != SIZE_MAX) {
                net.pairs[2 * net.n_pairs] = at[i];
                net.pairs[2 * net.n_pairs++ + 1] = at[i + 1];
            }
            if (r + 1 < rows && at[i + columns] != SIZE_MAX) {
                net.pairs[2 * net.n_pairs] = at[i];
                net.pairs[2 * net.n_pairs++ + 1] = at[i + columns];
            }
        }
    free(at);
    return net;
}

static double products(const struct net *net, const double *value)
{
    double sum = 0;
    for (size_t k = 0; k < net->n_pairs; k++)
        sum += value[net->pairs[2 * k]] * value[net->pairs[2 * k + 1]];
    return sum;
}

enum outcome squares_clumping(const double *values, size_t rows, size_t columns, size_t draws, uint64_t seed, struct clumping *out,
                              struct failure *why)
{
    struct net net = net_make(values, rows, columns);
    double mean = net.n > 0 ? sum_exactly(net.value, net.n) / (double)net.n : 0, squares = 0;
    enum outcome outcome = OUTCOME_OK;
    for (size_t i = 0; i < net.n; i++) {
        net.value[i] -= mean;
        squares += net.value[i] * net.value[i];
    }
    if (net.n < LEAST_SQUARES || net.n_pairs == 0)
        outcome = fail(why, OUTCOME_DATA, "Clumping needs %d squares with a value, some of them neighbours; there are %zu.", LEAST_SQUARES,
                       net.n);
    else if (!(squares > 1e-12))
        outcome = fail(why, OUTCOME_DATA, "All squares have the same value.");
    else {
        double seen = products(&net, net.value), *shuffled = memory_get(net.n, sizeof *shuffled);
        size_t hits = 0, *order = memory_get(net.n, sizeof *order);
        draws = draws == 0 ? 999 : draws;
        for (size_t d = 0; d < draws; d++) {
            struct random_stream r = random_make(seed, d);
            for (size_t i = 0; i < net.n; i++)
                order[i] = i;
            random_shuffle(&r, order, net.n);
            for (size_t i = 0; i < net.n; i++)
                shuffled[i] = net.value[order[i]];
            hits += products(&net, shuffled) >= seen - 1e-12 * squares;
        }
        *out = (struct clumping){net.n, net.n_pairs, (double)net.n / (double)net.n_pairs * seen / squares, -1 / (double)(net.n - 1),
                                 (1 + (double)hits) / (1 + (double)draws)};
        free(shuffled);
        free(order);
    }
    free(net.pairs);
    free(net.value);
    return outcome;
}

enum outcome evidence_squares(const struct plot_lives *lives, size_t census, uint64_t seed, struct arena *arena, struct plot_squares *out,
                              struct failure *why)
{
    struct plot_squares s = {.rows = 0};
    size_t row = 0, column = 0;
    require(census < lives->n_censuses);
    for (size_t p = 0; p < lives->n_plants; p++)
        if (evidence_planted_first(lives, p) && square_place(lives->plants[p]->cell_code, &row, &column)) {
            s.rows = row + 1 > s.rows ? row + 1 : s.rows;
            s.columns = column + 1 > s.columns ? column + 1 : s.columns;
        }
    size_t n = s.rows * s.columns;
    if (n == 0) {
        fail(why, OUTCOME_DATA, "No plant of %s/%s has a square.", lives->site->code, lives->plot->code);
        return failure_remedy(why, "Squares come with a planting plan that was set out.");
    }
    s.alive = arena_array(arena, n, sizeof(double));
    s.known = arena_array(arena, n, sizeof(double));
    s.share = arena_array(arena, n, sizeof(double));
    s.outside = arena_array(arena, n, sizeof(bool));
    memset(s.outside, true, n * sizeof(bool));
    for (size_t p = 0; p < lives->n_plants; p++) {
        enum life_state state = lives->states[p * lives->n_censuses + census];
        if (!evidence_planted_first(lives, p) || !square_place(lives->plants[p]->cell_code, &row, &column))
            continue;
        size_t at = row * s.columns + column;
        s.squares += s.outside[at];
        s.outside[at] = false;
        s.known[at] += state == LIFE_ALIVE || state == LIFE_DEAD;
        s.alive[at] += state == LIFE_ALIVE;
    }
    for (size_t i = 0; i < n; i++) {
        s.share[i] = s.known[i] > 0 ? s.alive[i] / s.known[i] : unknown_real();
        s.empty += s.known[i] > 0 && s.alive[i] == 0;
    }
    struct failure none;
    s.has_clumping = squares_clumping(s.share, s.rows, s.columns, 999, seed, &s.clumping, &none) == OUTCOME_OK;
    *out = s;
    return OUTCOME_OK;
}
