/* SPDX-License-Identifier: GPL-3.0-or-later
 * A sparse symmetric positive definite matrix and its Cholesky factor, over CHOLMOD. Private to stats/. */
#ifndef SPINNEY_STATS_SPARSE_H
#define SPINNEY_STATS_SPARSE_H
#include <stdbool.h>
#include <stddef.h>

struct sparse {
    size_t n;
    struct sparse_inside *inside;
};
/// An empty n × n matrix with room for about `room` entries.
struct sparse sparse_make(size_t n, size_t room);
void sparse_free(struct sparse *a); ///< safe on {0} and twice
/// Add to an entry; give each pair (i, j) one way round only. Entries of the same place are summed.
void sparse_add(struct sparse *a, size_t i, size_t j, double value);
/// Factor what was added. False if the matrix is not positive definite.
bool sparse_factor(struct sparse *a);
/// Solve A x = b in place, after sparse_factor.
bool sparse_solve(struct sparse *a, double *b);
#endif
