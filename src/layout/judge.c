/* SPDX-License-Identifier: GPL-3.0-or-later
 * How good a plan is, beside what chance alone would give and what no plan can beat. */
#include "layout/inside.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { SIMULATIONS = 200, SIMULATED_MOST = 20000000 };

/// The plants of a plan without its empty positions.
struct plants {
    double *xy, *near_m;
    size_t *nearest;
    int32_t *species;
    uint32_t *cell;
    size_t n;
};

static double same_share(const struct plants *p, const int32_t *species)
{
    size_t same = 0;
    for (size_t i = 0; i < p->n; i++)
        same += species[i] == species[p->nearest[i]];
    return (double)same / (double)p->n;
}

/* Mean number of different layers in cells with two plants or more. Plants are ordered by cell. */
static double layers_in_cells(const struct plants *p, const struct layout_wish *wish, const int32_t *species)
{
    double sum = 0, cells = 0;
    for (size_t i = 0; i < p->n;) {
        size_t j = i;
        unsigned seen = 0;
        for (; j < p->n && p->cell[j] == p->cell[i]; j++)
            seen |= 1u << wish->species[species[j]].layer;
        if (j - i >= 2) {
            cells++;
            sum += __builtin_popcount(seen);
        }
        i = j;
    }
    return cells > 0 ? sum / cells : unknown_real();
}

/* The most plants of which no two are nearest neighbours of each other, one way or the other. The nearest-neighbour
 * graph is a forest (apart from ties, whose few extra edges are left out, which can only raise the number and so lower
 * the bound): leaves first. */
static size_t most_apart(const struct plants *p, struct arena *scratch)
{
    size_t n = p->n, apart = 0, tail = 0;
    uint32_t *degree = arena_array(scratch, n + 1, sizeof *degree), *queue = arena_array(scratch, 2 * n + 1, sizeof *queue);
    uint32_t *start = arena_array(scratch, n + 2, sizeof *start), *to = arena_array(scratch, 2 * n + 1, sizeof *to);
    for (int fill = 0; fill < 2; fill++) {
        for (size_t i = 0; i < n; i++) {
            size_t j = p->nearest[i];
            if (j < i && p->nearest[j] == i)
                continue;
            if (fill) {
                to[start[i] + degree[i]] = (uint32_t)j, to[start[j] + degree[j]] = (uint32_t)i;
            }
            degree[i]++, degree[j]++;
        }
        for (size_t i = 0; i < n && !fill; i++)
            start[i + 1] = start[i] + degree[i];
        if (!fill)
            memset(degree, 0, n * sizeof *degree);
    }
    uint8_t *state = arena_array(scratch, n + 1, sizeof *state); /* 1 taken, 2 beside one taken */
    for (size_t i = 0; i < n; i++) {
        if (degree[i] <= 1)
            queue[tail++] = (uint32_t)i;
    }
    for (size_t head = 0; head < tail; head++) {
        uint32_t i = queue[head];
        if (state[i] != 0)
            continue;
        state[i] = 1, apart++;
        for (uint32_t k = start[i]; k < start[i + 1]; k++) {
            uint32_t j = to[k];
            if (state[j] != 0)
                continue;
            state[j] = 2;
            for (uint32_t q = start[j]; q < start[j + 1]; q++) {
                if (state[to[q]] == 0 && --degree[to[q]] <= 1 && tail < 2 * n)
                    queue[tail++] = to[q];
            }
        }
    }
    for (size_t i = 0; i < n; i++)
        apart += state[i] == 0;
    return apart;
}

static double bound(const struct plants *p, size_t n_species, struct arena *scratch)
{
    size_t *count = arena_array(scratch, n_species + 1, sizeof *count), apart = most_apart(p, scratch), forced = 0;
    for (size_t i = 0; i < p->n; i++)
        count[p->species[i]]++;
    for (size_t s = 0; s < n_species; s++)
        forced += count[s] > apart ? count[s] - apart : 0;
    return (double)forced / (double)p->n;
}

static void simulate(const struct plants *p, const struct layout_wish *wish, size_t runs, struct arena *scratch, struct layout_quality *q)
{
    struct random_stream random = random_make(wish->seed, STREAM_JUDGE);
    size_t *order = arena_array(scratch, p->n, sizeof *order);
    int32_t *species = arena_array(scratch, p->n, sizeof *species);
    double sum = 0, sum2 = 0, layers = 0;
    for (size_t i = 0; i < p->n; i++)
        order[i] = i;
    for (size_t k = 0; k < runs; k++) {
        random_shuffle(&random, order, p->n);
        for (size_t i = 0; i < p->n; i++)
            species[i] = p->species[order[i]];
        double share = same_share(p, species);
        sum += share, sum2 += share * share;
        layers += layers_in_cells(p, wish, species);
    }
    double mean = sum / (double)runs;
    q->simulations = runs;
    q->same_share_simulated = mean;
    q->same_share_simulated_sd = runs < 2 ? unknown_real() : sqrt(fmax(0, (sum2 - (double)runs * mean * mean) / (double)(runs - 1)));
    q->layers_in_cell_random = layers / (double)runs;
}

static void judge_tall(const struct plants *p, const struct layout_wish *wish, double area_m2, struct arena *scratch,
                       struct layout_quality *q)
{
    double *xy = arena_array(scratch, p->n, 2 * sizeof *xy), *far = arena_array(scratch, p->n, sizeof *far), sum = 0, z = 0;
    for (size_t i = 0; i < p->n; i++) {
        if (!wish->species[p->species[i]].tall)
            continue;
        xy[2 * q->tall] = p->xy[2 * i], xy[2 * q->tall + 1] = p->xy[2 * i + 1];
        q->tall++;
    }
    q->tall_least_m = q->tall_mean_m = q->tall_random_mean_m = q->tall_hexagon_m = q->tall_clark_evans = unknown_real();
    if (q->tall < 2)
        return;
    layout_nearest(xy, q->tall, far, NULL);
    q->tall_least_m = INFINITY;
    for (size_t i = 0; i < q->tall; i++) {
        sum += far[i];
        q->tall_least_m = fmin(q->tall_least_m, far[i]);
    }
    q->tall_mean_m = sum / (double)q->tall;
    q->tall_random_mean_m = 0.5 * sqrt(area_m2 / (double)q->tall);
    q->tall_hexagon_m = layout_hexagon_m(area_m2, (double)q->tall);
    layout_clark_evans(q->tall_mean_m, q->tall, area_m2, 0, &q->tall_clark_evans, &z);
}

static double outline_length(const struct shape *ground)
{
    double sum = 0;
    for (size_t p = 0; p < ground->n_parts; p++) {
        for (size_t r = 0; r < ground->parts[p].n_rings; r++) {
            const struct ring *ring = &ground->parts[p].rings[r];
            for (size_t i = 0; i + 1 < ring->n; i++)
                sum += hypot(ring->xy[2 * i + 2] - ring->xy[2 * i], ring->xy[2 * i + 3] - ring->xy[2 * i + 1]);
        }
    }
    return sum;
}

enum outcome layout_judge(const struct layout *layout, const struct layout_wish *wish, size_t simulations, struct arena *arena,
                          struct layout_quality *out, struct failure *why)
{
    struct arena scratch = {0};
    struct layout_quality q = {.area_m2 = layout->ground_m2, .nearest_least_m = INFINITY};
    size_t room = layout->n_positions + 1;
    (void)arena;
    struct plants p = {arena_array(&scratch, room, 2 * sizeof(double)), arena_array(&scratch, room, sizeof(double)),
                       arena_array(&scratch, room, sizeof(size_t)),     arena_array(&scratch, room, sizeof(int32_t)),
                       arena_array(&scratch, room, sizeof(uint32_t)),   0};
    for (size_t i = 0; i < layout->n_positions; i++) {
        const struct layout_position *at = &layout->positions[i];
        if (at->species < 0)
            continue;
        /* From the first peg, so that far-off coordinates cost no digits. */
        p.xy[2 * p.n] = at->x_m - wish->origin_x_m, p.xy[2 * p.n + 1] = at->y_m - wish->origin_y_m;
        p.species[p.n] = at->species, p.cell[p.n] = at->cell;
        p.n++;
    }
    if (p.n < 2) {
        arena_clear(&scratch);
        return fail(why, OUTCOME_DATA, "A plan with fewer than two plants has no neighbours to judge.");
    }
    layout_nearest(p.xy, p.n, p.near_m, p.nearest);
    double sum = 0, z = 0, *counts = arena_array(&scratch, wish->n_species, sizeof *counts);
    for (size_t i = 0; i < p.n; i++) {
        sum += p.near_m[i];
        q.nearest_least_m = fmin(q.nearest_least_m, p.near_m[i]), q.nearest_most_m = fmax(q.nearest_most_m, p.near_m[i]);
        counts[p.species[i]]++;
    }
    q.plants = p.n, q.density_m2 = (double)p.n / q.area_m2, q.nearest_mean_m = sum / (double)p.n;
    q.hexagon_m = layout_hexagon_m(q.area_m2, (double)p.n);
    layout_clark_evans(q.nearest_mean_m, p.n, q.area_m2, outline_length(wish->ground), &q.clark_evans_donnelly, &z);
    layout_clark_evans(q.nearest_mean_m, p.n, q.area_m2, 0, &q.clark_evans, &q.clark_evans_z);
    q.same_share = same_share(&p, p.species);
    q.same_share_random = layout_random_share(counts, wish->n_species);
    q.same_share_bound = bound(&p, wish->n_species, &scratch);
    q.layers_in_cell = layers_in_cells(&p, wish, p.species);
    size_t runs = simulations > 0 ? simulations : SIMULATIONS;
    if (simulations == 0 && runs * p.n > SIMULATED_MOST)
        runs = SIMULATED_MOST / p.n < 5 ? 5 : SIMULATED_MOST / p.n;
    simulate(&p, wish, runs, &scratch, &q);
    judge_tall(&p, wish, q.area_m2, &scratch, &q);
    *out = q;
    arena_clear(&scratch);
    return OUTCOME_OK;
}
