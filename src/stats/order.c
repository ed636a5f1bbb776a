/* SPDX-License-Identifier: GPL-3.0-or-later
 * Sorted order of columns. */
#include "stats/order.h"
#include "base/base.h"
#include <stdlib.h>

struct key {
    size_t group, row;
    double value;
};

static int by_key(const void *a, const void *b)
{
    const struct key *x = a, *y = b;
    if (x->group != y->group)
        return x->group < y->group ? -1 : 1;
    if (x->value != y->value)
        return x->value < y->value ? -1 : 1;
    return x->row < y->row ? -1 : x->row > y->row;
}

size_t *order_by(const double *value, const size_t *group, size_t n)
{
    struct key *key = memory_get(n == 0 ? 1 : n, sizeof *key);
    size_t *index = memory_get(n == 0 ? 1 : n, sizeof *index);
    for (size_t i = 0; i < n; i++)
        key[i] = (struct key){group == NULL ? 0 : group[i], i, value == NULL ? 0 : value[i]};
    qsort(key, n, sizeof *key, by_key);
    for (size_t i = 0; i < n; i++)
        index[i] = key[i].row;
    free(key);
    return index;
}

size_t relabel(const size_t *label, size_t n, size_t *out)
{
    size_t *index = order_by(NULL, label, n), k = 0;
    for (size_t i = 0; i < n; i++) {
        if (i > 0 && label[index[i]] != label[index[i - 1]])
            k++;
        out[index[i]] = k;
    }
    free(index);
    return n == 0 ? 0 : k + 1;
}

void rank_average(const double *value, size_t n, double *rank)
{
    size_t *index = order_by(value, NULL, n);
    for (size_t i = 0, end = 0; i < n; i = end) {
        while (end < n && value[index[end]] == value[index[i]])
            end++;
        for (size_t k = i; k < end; k++)
            rank[index[k]] = ((double)i + (double)end + 1) / 2;
    }
    free(index);
}
