/* SPDX-License-Identifier: GPL-3.0-or-later
 * Local search by exchange: like neighbours are taken apart, future tall trees are moved away from each other. Works
 * through places in a fixed order with one stream of random numbers, so the result does not depend on the machine. */
#include "layout/inside.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { SWEEPS = 24, TRIES = 48, WALK = 5 };
#define WEB_REACH 1.6    /* in units of the even distance: the ring of neighbours and part of the second */
#define NEAREST_WEIGHT 4 /* what a nearest neighbour of one's own kind counts beside a place in the ring */

void web_make(const double *uv, size_t n, double area_m2, struct arena *arena, struct web *out)
{
    struct arena scratch = {0};
    struct hood hood;
    struct found near = {0};
    double even = layout_hexagon_m(area_m2, (double)n), reach = WEB_REACH * even;
    *out = (struct web){.n = n};
    out->start = arena_array(arena, n + 1, sizeof *out->start);
    out->nearest = arena_array(arena, n + 1, sizeof *out->nearest);
    hood_make(uv, n, even, &scratch, &hood);
    for (size_t i = 0; i < n; i++) {
        hood_within(&hood, uv[2 * i], uv[2 * i + 1], reach, i, &near);
        out->start[i + 1] = out->start[i] + (uint32_t)near.n;
        out->nearest[i] = (uint32_t)hood_nearest(&hood, uv[2 * i], uv[2 * i + 1], i, NULL);
    }
    out->to = arena_array(arena, (size_t)out->start[n] + 1, sizeof *out->to);
    out->weight = arena_array(arena, (size_t)out->start[n] + 1, sizeof *out->weight);
    for (size_t i = 0; i < n; i++) {
        hood_within(&hood, uv[2 * i], uv[2 * i + 1], reach, i, &near);
        for (size_t m = 0; m < near.n; m++) {
            uint32_t at = out->start[i] + (uint32_t)m;
            double part = 1 - sqrt(near.far2[m]) / (1.05 * reach);
            out->to[at] = near.at[m];
            out->weight[at] = (float)(part * part + NEAREST_WEIGHT * ((out->nearest[i] == near.at[m]) + (out->nearest[near.at[m]] == i)));
        }
    }
    found_free(&near);
    arena_clear(&scratch);
}

double web_clash(const struct web *web, const int32_t *species, size_t place, int32_t mine)
{
    double clash = 0;
    for (uint32_t k = web->start[place]; k < web->start[place + 1]; k++) {
        if (species[web->to[k]] == mine)
            clash += (double)web->weight[k];
    }
    return clash;
}

static bool is_tall(const struct mixing *m, size_t place)
{
    return m->species[place] >= 0 && m->wish->species[m->species[place]].tall;
}

/* What the exchange of two places would add to the clashes. */
static double exchange_gain(const struct mixing *m, const struct web *web, size_t i, size_t j)
{
    int32_t a = m->species[i], b = m->species[j];
    double now = web_clash(web, m->species, i, a) + web_clash(web, m->species, j, b);
    m->species[i] = b, m->species[j] = a;
    double then = web_clash(web, m->species, i, b) + web_clash(web, m->species, j, a);
    m->species[i] = a, m->species[j] = b;
    return then - now;
}

/* Whether two places may exchange their plants; shade-bearers are not carried out to the outline. */
static bool may_exchange(const struct mixing *m, size_t i, size_t j)
{
    int32_t a = m->species[i], b = m->species[j];
    if (a == b || a < 0 || b < 0 || m->fixed[i] || m->fixed[j] || is_tall(m, i) != is_tall(m, j))
        return false;
    if (!places_allow(m->places, a, j) || !places_allow(m->places, b, i))
        return false;
    const struct places *p = m->places;
    bool a_in = m->wish->species[a].inside, b_in = m->wish->species[b].inside;
    if (a_in && !b_in && p->edge_far[j] < fmin(p->edge_far[i], EDGE_REACH / 4))
        return false;
    return !(b_in && !a_in && p->edge_far[i] < fmin(p->edge_far[j], EDGE_REACH / 4));
}

static size_t walk(const struct web *web, size_t from, struct random_stream *random)
{
    size_t steps = 1 + random_below(random, WALK), at = from;
    while (steps-- > 0) {
        uint32_t degree = web->start[at + 1] - web->start[at];
        if (degree == 0)
            return from;
        at = web->to[web->start[at] + (uint32_t)random_below(random, degree)];
    }
    return at;
}

/* Layers beside each other count a little, so that cells hold several. */
static bool try_place(const struct mixing *m, const struct web *web, size_t i, struct random_stream *random, size_t tries)
{
    size_t best = SIZE_MAX;
    double best_gain = -1e-6;
    for (size_t k = 0; k < tries; k++) {
        size_t j = k < tries * 3 / 4 ? walk(web, i, random) : random_below(random, web->n);
        if (j == i || !may_exchange(m, i, j))
            continue;
        double gain = exchange_gain(m, web, i, j);
        if (gain < best_gain)
            best_gain = gain, best = j;
    }
    if (best == SIZE_MAX)
        return false;
    int32_t a = m->species[i];
    m->species[i] = m->species[best];
    m->species[best] = a;
    return true;
}

uint64_t swap_mix(const struct mixing *m, const struct web *web, uint64_t seed)
{
    struct random_stream random = random_make(seed, STREAM_SWAP);
    uint64_t swaps = 0;
    for (int sweep = 0; sweep < SWEEPS; sweep++) {
        uint64_t before = swaps;
        for (size_t i = 0; i < web->n; i++) {
            if (m->fixed[i] || m->species[i] < 0)
                continue;
            double clash = web_clash(web, m->species, i, m->species[i]);
            if (clash <= 0)
                continue;
            /* A like nearest neighbour is worth more looking than one in the second ring. */
            swaps += try_place(m, web, i, &random, clash >= NEAREST_WEIGHT ? TRIES : TRIES / 6);
        }
        if (swaps - before <= web->n / 2000)
            break;
    }
    return swaps;
}

/// Tall trees by bucket, as lists that change while they move.
struct tall_grid {
    struct hood hood; ///< of all places, for its buckets
    uint32_t *head, *next;
};

static void tall_add(struct tall_grid *g, const double *uv, size_t i)
{
    int64_t c = 0, r = 0;
    hood_where(&g->hood, uv[2 * i], uv[2 * i + 1], &c, &r);
    size_t b = hood_bucket(&g->hood, c, r);
    g->next[i] = g->head[b];
    g->head[b] = (uint32_t)i;
}

static void tall_take(struct tall_grid *g, const double *uv, size_t i)
{
    int64_t c = 0, r = 0;
    hood_where(&g->hood, uv[2 * i], uv[2 * i + 1], &c, &r);
    uint32_t *link = &g->head[hood_bucket(&g->hood, c, r)];
    while (*link != i)
        link = &g->next[*link];
    *link = g->next[i];
}

/* Squared distance from a place to the nearest tall tree but `skip`, no more than `reach`. Ties do not matter here. */
static double tall_near2(const struct tall_grid *g, const double *uv, double u, double v, size_t skip, double reach)
{
    int64_t c0 = 0, r0 = 0, c1 = 0, r1 = 0;
    double best = reach * reach;
    hood_where(&g->hood, u - reach, v - reach, &c0, &r0);
    hood_where(&g->hood, u + reach, v + reach, &c1, &r1);
    for (int64_t r = r0; r <= r1; r++) {
        for (int64_t c = c0; c <= c1; c++) {
            size_t b = hood_bucket(&g->hood, c, r);
            for (uint32_t i = b == SIZE_MAX ? UINT32_MAX : g->head[b]; i != UINT32_MAX; i = g->next[i]) {
                double du = uv[2 * i] - u, dv = uv[2 * i + 1] - v;
                if (i != skip)
                    best = fmin(best, du * du + dv * dv);
            }
        }
    }
    return best;
}

/* The neighbour whose place would give this tall tree the most room; SIZE_MAX if none is better than where it stands. */
static size_t roomier(const struct mixing *m, const struct web *web, const struct tall_grid *g, size_t i, double here2, double reach)
{
    const double *uv = m->places->uv;
    size_t best = SIZE_MAX;
    double best2 = here2 * 1.0001;
    for (uint32_t k = web->start[i]; k < web->start[i + 1]; k++) {
        size_t j = web->to[k];
        if (m->fixed[j] || is_tall(m, j) || !places_allow(m->places, m->species[i], j) || !places_allow(m->places, m->species[j], i))
            continue;
        double there2 = tall_near2(g, uv, uv[2 * j], uv[2 * j + 1], i, reach);
        if (there2 > best2)
            best2 = there2, best = j;
    }
    return best;
}

uint64_t swap_tall(const struct mixing *m, const struct web *web)
{
    const double *uv = m->places->uv;
    size_t n = m->places->n, tall = 0;
    uint64_t swaps = 0;
    for (size_t i = 0; i < n; i++)
        tall += is_tall(m, i);
    if (tall < 2 || tall == n)
        return 0;
    struct arena scratch = {0};
    struct tall_grid g;
    double reach = layout_hexagon_m(m->area_m2, (double)tall);
    hood_make(uv, n, reach, &scratch, &g.hood);
    g.head = arena_array(&scratch, g.hood.n_buckets, sizeof *g.head);
    g.next = arena_array(&scratch, n, sizeof *g.next);
    memset(g.head, 0xff, g.hood.n_buckets * sizeof *g.head);
    for (size_t i = 0; i < n; i++) {
        if (is_tall(m, i))
            tall_add(&g, uv, i);
    }
    for (int sweep = 0; sweep < SWEEPS; sweep++) {
        uint64_t before = swaps;
        for (size_t i = 0; i < n; i++) {
            if (!is_tall(m, i) || m->fixed[i])
                continue;
            double here2 = tall_near2(&g, uv, uv[2 * i], uv[2 * i + 1], i, reach);
            if (here2 >= 0.9 * reach * reach)
                continue;
            size_t j = roomier(m, web, &g, i, here2, reach);
            if (j == SIZE_MAX)
                continue;
            tall_take(&g, uv, i);
            int32_t a = m->species[i];
            m->species[i] = m->species[j];
            m->species[j] = a;
            tall_add(&g, uv, j);
            swaps++;
        }
        if (swaps - before <= tall / 1000)
            break;
    }
    arena_clear(&scratch);
    return swaps;
}
