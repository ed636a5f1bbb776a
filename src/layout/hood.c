/* SPDX-License-Identifier: GPL-3.0-or-later
 * Neighbourhoods of points. */
#include "layout/hood.h"
#include <math.h>
#include <stdlib.h>

void found_free(struct found *found)
{
    free(found->at);
    free(found->far2);
    *found = (struct found){0};
}

void hood_where(const struct hood *h, double u, double v, int64_t *column, int64_t *row)
{
    *column = (int64_t)floor((u - h->u0) / h->size);
    *row = (int64_t)floor((v - h->v0) / h->size);
}

size_t hood_bucket(const struct hood *h, int64_t column, int64_t row)
{
    if (column < 0 || row < 0 || column >= h->columns || row >= h->rows)
        return SIZE_MAX;
    uint64_t k = (uint64_t)row * (uint64_t)h->columns + (uint64_t)column;
    return h->hashed ? (size_t)((k * 0x9E3779B97F4A7C15ull) >> 20) % h->n_buckets : (size_t)k;
}

void hood_make(const double *uv, size_t n, double size, struct arena *arena, struct hood *out)
{
    struct hood h = {.uv = uv, .n = n, .size = size, .u0 = INFINITY, .v0 = INFINITY};
    require(n < UINT32_MAX && size > 0);
    double u1 = -INFINITY, v1 = -INFINITY;
    for (size_t i = 0; i < n; i++) {
        h.u0 = fmin(h.u0, uv[2 * i]), u1 = fmax(u1, uv[2 * i]);
        h.v0 = fmin(h.v0, uv[2 * i + 1]), v1 = fmax(v1, uv[2 * i + 1]);
    }
    if (n == 0)
        h.u0 = h.v0 = u1 = v1 = 0;
    h.size = fmax(size, fmax(u1 - h.u0, v1 - h.v0) / 1e9);
    h.columns = (int64_t)floor((u1 - h.u0) / h.size) + 1;
    h.rows = (int64_t)floor((v1 - h.v0) / h.size) + 1;
    double cells = (double)h.columns * (double)h.rows;
    h.hashed = cells > 4.0 * (double)n + 4096;
    h.n_buckets = h.hashed ? 2 * n + 1021 : (size_t)cells;
    h.start = arena_array(arena, h.n_buckets + 1, sizeof *h.start);
    h.item = arena_array(arena, n + 1, sizeof *h.item);
    struct arena scratch = {0};
    uint32_t *bucket = arena_array(&scratch, n + 1, sizeof *bucket);
    for (size_t i = 0; i < n; i++) {
        int64_t column = 0, row = 0;
        hood_where(&h, uv[2 * i], uv[2 * i + 1], &column, &row);
        bucket[i] = (uint32_t)hood_bucket(&h, column, row);
        h.start[bucket[i] + 1]++;
    }
    for (size_t b = 0; b < h.n_buckets; b++)
        h.start[b + 1] += h.start[b];
    for (size_t i = n; i-- > 0;)
        h.item[--h.start[bucket[i] + 1]] = (uint32_t)i;
    /* start[b + 1] now holds where bucket b begins: shift down. */
    for (size_t b = 0; b < h.n_buckets; b++)
        h.start[b] = h.start[b + 1];
    h.start[h.n_buckets] = (uint32_t)n;
    arena_clear(&scratch);
    *out = h;
}

static void found_add(struct found *found, uint32_t at, double far2)
{
    if (found->n == found->room) {
        found->room = found->room == 0 ? 64 : 2 * found->room;
        found->at = memory_resize(found->at, found->room, sizeof *found->at);
        found->far2 = memory_resize(found->far2, found->room, sizeof *found->far2);
    }
    found->at[found->n] = at;
    found->far2[found->n++] = far2;
}

static bool point_is_of(const struct hood *h, uint32_t i, int64_t column, int64_t row)
{
    int64_t c = 0, r = 0;
    if (!h->hashed)
        return true;
    hood_where(h, h->uv[2 * i], h->uv[2 * i + 1], &c, &r);
    return c == column && r == row;
}

void hood_within(const struct hood *h, double u, double v, double reach, size_t skip, struct found *out)
{
    int64_t c0 = 0, r0 = 0, c1 = 0, r1 = 0;
    hood_where(h, u - reach, v - reach, &c0, &r0);
    hood_where(h, u + reach, v + reach, &c1, &r1);
    out->n = 0;
    c0 = c0 < 0 ? 0 : c0, r0 = r0 < 0 ? 0 : r0;
    c1 = c1 >= h->columns ? h->columns - 1 : c1, r1 = r1 >= h->rows ? h->rows - 1 : r1;
    for (int64_t row = r0; row <= r1; row++) {
        for (int64_t column = c0; column <= c1; column++) {
            size_t b = hood_bucket(h, column, row);
            for (uint32_t m = h->start[b]; m < h->start[b + 1]; m++) {
                uint32_t i = h->item[m];
                double du = h->uv[2 * i] - u, dv = h->uv[2 * i + 1] - v, far2 = du * du + dv * dv;
                if (far2 <= reach * reach && i != skip && point_is_of(h, i, column, row))
                    found_add(out, i, far2);
            }
        }
    }
}

static void nearest_in(const struct hood *h, int64_t column, int64_t row, double u, double v, size_t skip, size_t *best, double *best2)
{
    size_t b = hood_bucket(h, column, row);
    if (b == SIZE_MAX)
        return;
    for (uint32_t m = h->start[b]; m < h->start[b + 1]; m++) {
        uint32_t i = h->item[m];
        double du = h->uv[2 * i] - u, dv = h->uv[2 * i + 1] - v, far2 = du * du + dv * dv;
        if (i != skip && (far2 < *best2 || (far2 == *best2 && i < *best)))
            *best = i, *best2 = far2;
    }
}

size_t hood_nearest(const struct hood *h, double u, double v, size_t skip, double *distance)
{
    int64_t c = 0, r = 0;
    size_t best = SIZE_MAX;
    double best2 = INFINITY;
    hood_where(h, u, v, &c, &r);
    for (int64_t ring = 0; ring <= 48; ring++) {
        double nearest = (double)(ring - 1) * h->size;
        if (ring > 0 && nearest > 0 && nearest * nearest > best2)
            goto done;
        for (int64_t row = r - ring; row <= r + ring; row++) {
            bool whole = row == r - ring || row == r + ring;
            for (int64_t column = c - ring; column <= c + ring; column += whole || ring == 0 ? 1 : 2 * ring)
                nearest_in(h, column, row, u, v, skip, &best, &best2);
        }
    }
    /* Far from everything else: look at all. */
    for (size_t b = 0; b < h->n_buckets; b++) {
        for (uint32_t m = h->start[b]; m < h->start[b + 1]; m++) {
            uint32_t i = h->item[m];
            double du = h->uv[2 * i] - u, dv = h->uv[2 * i + 1] - v, far2 = du * du + dv * dv;
            if (i != skip && (far2 < best2 || (far2 == best2 && i < best)))
                best = i, best2 = far2;
        }
    }
done:
    if (distance != NULL)
        *distance = best == SIZE_MAX ? unknown_real() : sqrt(best2);
    return best;
}
