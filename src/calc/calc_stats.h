/* SPDX-License-Identifier: GPL-3.0-or-later
 * What the calculators of stats/ share. */
#ifndef SPINNEY_CALC_STATS_H
#define SPINNEY_CALC_STATS_H
#include "calc/calc_rooms.h"
#include "stats/stats.h"

enum { CALC_ESTIMATE_OUT = 5, CALC_TEST_OUT = 4 };
extern const struct calc_value calc_estimate_out[CALC_ESTIMATE_OUT]; ///< value, se, low, high, n
extern const struct calc_value calc_test_out[CALC_TEST_OUT];         ///< statistic, df, df2, p
void calc_put_estimate(json_t *result, const struct estimate *e);
void calc_put_test(json_t *result, const struct test *test);
/// Columns of several estimates: <prefix>value, <prefix>se, <prefix>low, <prefix>high.
void calc_put_estimates(json_t *result, const char *prefix, const struct estimate *e, size_t n);
/// Numbers as whole labels from 0, in order of size; *levels of them. NULL if absent.
size_t *calc_labels(const json_t *in, const char *name, struct arena *arena, size_t *n, size_t *levels);
/// Fails unless b has as many entries as a, or none where `optional`.
enum outcome calc_same_length(const char *a, size_t n_a, const char *b, size_t n_b, bool optional, struct failure *why);
double calc_level(const json_t *in); ///< "level", 0.95 if absent
#endif
