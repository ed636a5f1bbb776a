/* SPDX-License-Identifier: GPL-3.0-or-later
 * Random numbers from a counter: the same seed, stream and count give the same number on any thread.
 * Philox4x32-10, Salmon, Moraes, Dror & Shaw 2011, Proc. SC11, doi 10.1145/2063384.2063405. */
#ifndef SPINNEY_BASE_RANDOM_H
#define SPINNEY_BASE_RANDOM_H
#include <stddef.h>
#include <stdint.h>

/// A stream of numbers. Streams of one seed are independent; copying a stream repeats it.
struct random_stream {
    uint64_t seed, stream, count; ///< count: numbers drawn so far
    uint32_t block[4];            ///< the last block made
    unsigned left;                ///< words of it not yet used
};
struct random_stream random_make(uint64_t seed, uint64_t stream);
uint32_t random_u32(struct random_stream *r);
double random_uniform(struct random_stream *r);                        ///< in (0, 1), never an end
uint64_t random_below(struct random_stream *r, uint64_t n);            ///< 0 … n − 1, without bias; n > 0
double random_normal(struct random_stream *r);                         ///< mean 0, variance 1 (Box–Muller)
double random_gamma(struct random_stream *r, double shape);            ///< scale 1; shape > 0 (Marsaglia & Tsang 2000)
double random_beta(struct random_stream *r, double a, double b);       ///< a, b > 0
int64_t random_poisson(struct random_stream *r, double mean);          ///< mean 0 … 1e6
void random_shuffle(struct random_stream *r, size_t *index, size_t n); ///< Fisher–Yates
/// Fill one block of four words from a counter and a key.
void random_philox(const uint32_t counter[4], const uint32_t key[2], uint32_t out[4]);
#endif
