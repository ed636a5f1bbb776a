/* SPDX-License-Identifier: GPL-3.0-or-later
 * How many plants of each species go to each class of places: in proportion where the rules allow (iterative
 * proportional fitting, Deming & Stephan 1940), made whole and feasible by augmenting paths (Ford & Fulkerson 1956). */
#include "layout/inside.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { FITTING_ROUNDS = 300 };

/* Real shares by scaling rows to plants and columns to places in turn. */
static void fit(const struct share *w, double *x, const double *column_wanted)
{
    size_t S = w->n_species, C = w->n_classes;
    for (int round = 0; round < FITTING_ROUNDS; round++) {
        double worst = 0;
        for (size_t c = 0; c < C; c++) {
            double sum = 0;
            for (size_t s = 0; s < S; s++)
                sum += x[s * C + c];
            for (size_t s = 0; s < S && sum > 0; s++)
                x[s * C + c] *= column_wanted[c] / sum;
        }
        for (size_t s = 0; s < S; s++) {
            double sum = 0;
            for (size_t c = 0; c < C; c++)
                sum += x[s * C + c];
            if (sum > 0)
                worst = fmax(worst, fabs((double)w->plants[s] / sum - 1));
            for (size_t c = 0; c < C && sum > 0; c++)
                x[s * C + c] *= (double)w->plants[s] / sum;
        }
        if (worst < 1e-9)
            break;
    }
}

/// Search state of one augmenting path: species are nodes 0 … S − 1, classes S … S + C − 1.
struct search {
    size_t *from, *queue;
    bool *seen;
};

/* Breadth first from one species to a class with room; returns that class's node or SIZE_MAX. */
static size_t path_find(const struct share *w, const size_t *quota, const size_t *room, size_t start, struct search *p)
{
    size_t S = w->n_species, C = w->n_classes, head = 0, tail = 0;
    memset(p->seen, 0, (S + C) * sizeof *p->seen);
    p->queue[tail++] = start;
    p->seen[start] = true;
    while (head < tail) {
        size_t node = p->queue[head++];
        for (size_t k = 0; k < (node < S ? C : S); k++) {
            size_t next = node < S ? S + k : k;
            bool open = node < S ? w->allowed[node * C + k] : quota[k * C + (node - S)] > 0;
            if (!open || p->seen[next])
                continue;
            p->seen[next] = true;
            p->from[next] = node;
            if (next >= S && room[next - S] > 0)
                return next;
            p->queue[tail++] = next;
        }
    }
    return SIZE_MAX;
}

/* Push as many plants as the path bears; returns how many. */
static size_t path_push(const struct share *w, size_t *quota, size_t *room, size_t start, size_t end, size_t most, const struct search *p)
{
    size_t S = w->n_species, C = w->n_classes, n = most < room[end - S] ? most : room[end - S];
    for (size_t node = end; node != start; node = p->from[node]) {
        if (node < S && quota[node * C + (p->from[node] - S)] < n)
            n = quota[node * C + (p->from[node] - S)];
    }
    for (size_t node = end; node != start; node = p->from[node]) {
        if (node >= S)
            quota[p->from[node] * C + (node - S)] += n;
        else
            quota[node * C + (p->from[node] - S)] -= n;
    }
    room[end - S] -= n;
    return n;
}

bool share_out(const struct share *w, size_t *quota, bool *squeezed, size_t *short_by)
{
    size_t S = w->n_species, C = w->n_classes, total = 0, open = 0;
    struct arena scratch = {0};
    double *x = arena_array(&scratch, S * C + 1, sizeof *x), *column = arena_array(&scratch, C + 1, sizeof *column);
    size_t *room = arena_array(&scratch, C + 1, sizeof *room);
    struct search path = {arena_array(&scratch, S + C + 1, sizeof(size_t)), arena_array(&scratch, S + C + 1, sizeof(size_t)),
                          arena_array(&scratch, S + C + 1, sizeof(bool))};
    for (size_t s = 0; s < S; s++)
        total += w->plants[s];
    for (size_t c = 0; c < C; c++)
        open += w->places[c];
    for (size_t c = 0; c < C; c++) {
        room[c] = w->places[c];
        column[c] = open == 0 ? 0 : (double)w->places[c] * (double)total / (double)open;
        for (size_t s = 0; s < S; s++)
            x[s * C + c] = w->allowed[s * C + c] ? column[c] * (double)w->plants[s] * (w->lean == NULL ? 1 : w->lean[s * C + c]) : 0;
    }
    fit(w, x, column);
    bool good = true;
    size_t *missing = arena_array(&scratch, S + 1, sizeof *missing);
    for (size_t s = 0; s < S; s++) {
        missing[s] = w->plants[s];
        for (size_t c = 0; c < C; c++) {
            size_t n = (size_t)floor(x[s * C + c] + 1e-7);
            n = n > room[c] ? room[c] : n;
            n = n > missing[s] ? missing[s] : n;
            quota[s * C + c] = n;
            room[c] -= n;
            missing[s] -= n;
        }
    }
    *short_by = 0;
    memset(squeezed, 0, S * sizeof *squeezed);
    for (size_t s = 0; s < S; s++) {
        while (missing[s] > 0) {
            size_t end = path_find(w, quota, room, s, &path);
            if (end == SIZE_MAX) {
                good = false;
                *short_by += missing[s];
                for (size_t k = 0; k < S; k++)
                    squeezed[k] = squeezed[k] || path.seen[k];
                break;
            }
            missing[s] -= path_push(w, quota, room, s, end, missing[s], &path);
        }
    }
    arena_clear(&scratch);
    return good;
}
