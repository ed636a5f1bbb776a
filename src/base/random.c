/* SPDX-License-Identifier: GPL-3.0-or-later
 * Counter-based random numbers and the few distributions that the rooms need. */
#include "base/random.h"
#include "base/outcome.h"
#include <math.h>

void random_philox(const uint32_t counter[4], const uint32_t key[2], uint32_t out[4])
{
    uint32_t c[4] = {counter[0], counter[1], counter[2], counter[3]};
    uint32_t k0 = key[0], k1 = key[1];
    for (int round = 0; round < 10; round++) {
        uint64_t p0 = (uint64_t)0xD2511F53u * c[0], p1 = (uint64_t)0xCD9E8D57u * c[2];
        uint32_t next[4] = {(uint32_t)(p1 >> 32) ^ c[1] ^ k0, (uint32_t)p1, (uint32_t)(p0 >> 32) ^ c[3] ^ k1, (uint32_t)p0};
        c[0] = next[0], c[1] = next[1], c[2] = next[2], c[3] = next[3];
        k0 += 0x9E3779B9u;
        k1 += 0xBB67AE85u;
    }
    out[0] = c[0], out[1] = c[1], out[2] = c[2], out[3] = c[3];
}

struct random_stream random_make(uint64_t seed, uint64_t stream)
{
    return (struct random_stream){.seed = seed, .stream = stream};
}

uint32_t random_u32(struct random_stream *r)
{
    if (r->left == 0) {
        uint64_t at = r->count / 4;
        uint32_t counter[4] = {(uint32_t)at, (uint32_t)(at >> 32), (uint32_t)r->stream, (uint32_t)(r->stream >> 32)};
        uint32_t key[2] = {(uint32_t)r->seed, (uint32_t)(r->seed >> 32)};
        random_philox(counter, key, r->block);
        r->left = 4;
    }
    r->count++;
    return r->block[4 - r->left--];
}

double random_uniform(struct random_stream *r)
{
    uint64_t high = random_u32(r), low = random_u32(r);
    uint64_t bits = (high << 20) ^ (low >> 12);
    return ((double)bits + 0.5) * 0x1p-52;
}

uint64_t random_below(struct random_stream *r, uint64_t n)
{
    require(n > 0);
    uint64_t limit = UINT64_MAX - UINT64_MAX % n;
    for (;;) {
        uint64_t high = random_u32(r);
        uint64_t value = (high << 32) | random_u32(r);
        if (value < limit)
            return value % n;
    }
}

double random_normal(struct random_stream *r)
{
    double u = random_uniform(r), v = random_uniform(r);
    return sqrt(-2.0 * log(u)) * cos(6.283185307179586477 * v);
}

double random_gamma(struct random_stream *r, double shape)
{
    require(shape > 0);
    if (shape < 1)
        return random_gamma(r, shape + 1) * pow(random_uniform(r), 1.0 / shape);
    double d = shape - 1.0 / 3.0, c = 1.0 / sqrt(9.0 * d);
    for (;;) {
        double x = random_normal(r), v = 1.0 + c * x;
        if (v <= 0)
            continue;
        v = v * v * v;
        if (log(random_uniform(r)) < 0.5 * x * x + d - d * v + d * log(v))
            return d * v;
    }
}

double random_beta(struct random_stream *r, double a, double b)
{
    double x = random_gamma(r, a), y = random_gamma(r, b);
    return x / (x + y);
}

int64_t random_poisson(struct random_stream *r, double mean)
{
    require(mean >= 0 && mean <= 1e6);
    int64_t total = 0;
    while (mean > 30) {
        double half = floor(mean * 7.0 / 8.0), x = random_gamma(r, half);
        if (x > mean) {
            int64_t n = 0;
            for (double i = 1; i < half; i++)
                n += random_uniform(r) < mean / x;
            return total + n;
        }
        total += (int64_t)half;
        mean -= x;
    }
    double limit = exp(-mean), product = random_uniform(r);
    for (; product > limit; total++)
        product *= random_uniform(r);
    return total;
}

void random_shuffle(struct random_stream *r, size_t *index, size_t n)
{
    for (size_t i = n; i > 1; i--) {
        size_t j = (size_t)random_below(r, i), swap = index[i - 1];
        index[i - 1] = index[j];
        index[j] = swap;
    }
}
