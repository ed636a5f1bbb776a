/* SPDX-License-Identifier: GPL-3.0-or-later
 * A sparse symmetric positive definite matrix and its Cholesky factor. Chen, Davis, Hager & Rajamanickam 2008, ACM TOMS 35(3). */
#include "stats/sparse.h"
#include "base/base.h"
#include <stdlib.h>
#include <string.h>
#include <suitesparse/cholmod.h>

struct sparse_inside {
    cholmod_common common;
    cholmod_triplet *triplet;
    cholmod_factor *factor;
};

struct sparse sparse_make(size_t n, size_t room)
{
    struct sparse_inside *in = memory_get(1, sizeof *in);
    memset(in, 0, sizeof *in);
    cholmod_start(&in->common);
    in->common.print = 0;
    in->common.nmethods = 1;
    in->common.method[0].ordering = CHOLMOD_AMD;
    in->common.postorder = 1;
    in->triplet = cholmod_allocate_triplet(n, n, room < 16 ? 16 : room, -1, CHOLMOD_REAL, &in->common);
    if (in->triplet == NULL)
        give_up("no memory for a sparse matrix", __FILE__, __LINE__);
    return (struct sparse){n, in};
}

void sparse_free(struct sparse *a)
{
    if (a == NULL || a->inside == NULL)
        return;
    cholmod_free_triplet(&a->inside->triplet, &a->inside->common);
    cholmod_free_factor(&a->inside->factor, &a->inside->common);
    cholmod_finish(&a->inside->common);
    free(a->inside);
    a->inside = NULL;
}

void sparse_add(struct sparse *a, size_t i, size_t j, double value)
{
    struct sparse_inside *in = a->inside;
    cholmod_triplet *t = in->triplet;
    if (t->nnz == t->nzmax && !cholmod_reallocate_triplet(t->nzmax * 2, t, &in->common))
        give_up("no memory for a sparse matrix", __FILE__, __LINE__);
    ((int *)t->i)[t->nnz] = (int)(i > j ? i : j);
    ((int *)t->j)[t->nnz] = (int)(i > j ? j : i);
    ((double *)t->x)[t->nnz++] = value;
}

bool sparse_factor(struct sparse *a)
{
    struct sparse_inside *in = a->inside;
    cholmod_sparse *s = cholmod_triplet_to_sparse(in->triplet, 0, &in->common);
    cholmod_free_factor(&in->factor, &in->common);
    in->factor = s == NULL ? NULL : cholmod_analyze(s, &in->common);
    bool good = in->factor != NULL && cholmod_factorize(s, in->factor, &in->common) && in->factor->minor == in->factor->n;
    cholmod_free_sparse(&s, &in->common);
    return good;
}

bool sparse_solve(struct sparse *a, double *b)
{
    struct sparse_inside *in = a->inside;
    cholmod_dense right = {.nrow = a->n, .ncol = 1, .nzmax = a->n, .d = a->n, .x = b, .xtype = CHOLMOD_REAL, .dtype = CHOLMOD_DOUBLE};
    cholmod_dense *x = cholmod_solve(CHOLMOD_A, in->factor, &right, &in->common);
    if (x == NULL)
        return false;
    memcpy(b, x->x, a->n * sizeof *b);
    cholmod_free_dense(&x, &in->common);
    return true;
}
