/* SPDX-License-Identifier: GPL-3.0-or-later
 * The grid of one-metre squares from the baseline, and which plant stands in which. */
#include "layout/inside.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_SQUARES = 16000000 };
#define SLACK_M 0.005 /* a corner this far behind the baseline counts as on it */

void layout_cell_code(uint32_t row, uint32_t column, char out[16])
{
    char letters[8];
    size_t n = 0;
    for (uint64_t k = (uint64_t)row + 1; k > 0; k = (k - 1) / 26)
        letters[n++] = (char)('A' + (k - 1) % 26);
    size_t i = 0;
    while (n > 0)
        out[i++] = letters[--n];
    snprintf(out + i, 16 - i, "%02lu", (unsigned long)column % 100000000 + 1);
}

bool layout_cell_read(const char *code, uint32_t *row, uint32_t *column)
{
    uint64_t letters = 0, number = 0;
    size_t i = 0;
    if (code == NULL)
        return false;
    for (; code[i] >= 'A' && code[i] <= 'Z' && i < 6; i++)
        letters = letters * 26 + (uint64_t)(code[i] - 'A') + 1;
    size_t digits = i;
    if (i == 0)
        return false;
    for (; code[i] >= '0' && code[i] <= '9' && i < digits + 8; i++)
        number = number * 10 + (uint64_t)(code[i] - '0');
    if (code[i] != '\0' || i < digits + 2 || number == 0)
        return false;
    if (i > digits + 2 && code[digits] == '0')
        return false;
    *row = (uint32_t)(letters - 1), *column = (uint32_t)(number - 1);
    return true;
}

enum outcome squares_check(const struct outline *o, const struct frame *frame, struct failure *why)
{
    double behind = -o->box.y_least, before = -o->box.x_least;
    if (behind > SLACK_M || before > SLACK_M) {
        double x = 0, y = 0;
        frame_out(frame, before > SLACK_M ? -before : 0, behind > SLACK_M ? -behind : 0, &x, &y);
        if (behind > SLACK_M)
            fail(why, OUTCOME_DATA, "The ground reaches %.2f m behind the baseline.", behind);
        else
            fail(why, OUTCOME_DATA, "The ground begins %.2f m before the first peg.", before);
        return failure_remedy(why, "Put the first peg at %.2f, %.2f or turn the baseline: the ground must lie to its left.", x, y);
    }
    if (ceil(o->box.x_most) * ceil(o->box.y_most) > MOST_SQUARES) {
        fail(why, OUTCOME_DATA, "The grid would have more than %d squares: the parts of the ground, or the peg, lie too far apart.",
             MOST_SQUARES);
        return failure_remedy(why, "Plan parts that lie far apart as plots of their own, each with its baseline.");
    }
    return OUTCOME_OK;
}

/// A plant on its way into its square.
struct settler {
    uint64_t square;
    double u, v;
    uint32_t at;
};

static int settler_order(const void *a, const void *b)
{
    const struct settler *x = a, *y = b;
    if (x->square != y->square)
        return x->square < y->square ? -1 : 1;
    if (x->v != y->v)
        return x->v < y->v ? -1 : 1;
    if (x->u != y->u)
        return x->u < y->u ? -1 : 1;
    return (x->at > y->at) - (x->at < y->at);
}

static double tenth(double a)
{
    double t = nearbyint(a * 10) / 10;
    return t < 0 ? 0 : t > 1 ? 1 : t;
}

/* The index of a square in its row or column; what lies a hair before the baseline belongs to the first. */
static enum outcome square_index(double a, const char *place, size_t plant, size_t *out, struct failure *why)
{
    if (a < -SLACK_M) {
        fail(why, OUTCOME_DATA, "Plant %zu stands %.2f m %s.", plant + 1, -a, place);
        return failure_remedy(why, "Move the first peg so that every plant lies to the left of the baseline.");
    }
    *out = a < 0 ? 0 : (size_t)floor(a);
    return OUTCOME_OK;
}

static void cells_list(const double *ground, size_t rows, size_t columns, const uint32_t *count, struct arena *arena, struct layout *out,
                       uint32_t *cell_of)
{
    size_t n = 0;
    for (size_t k = 0; k < rows * columns; k++)
        n += ground[k] >= 0.01 || count[k] > 0;
    out->cells = arena_array(arena, n, sizeof *out->cells);
    uint32_t first = 0;
    for (size_t k = 0; k < rows * columns; k++) {
        if (!(ground[k] >= 0.01 || count[k] > 0))
            continue;
        struct layout_cell *cell = &out->cells[out->n_cells];
        cell->row = (uint32_t)(k / columns), cell->column = (uint32_t)(k % columns);
        layout_cell_code(cell->row, cell->column, cell->code);
        cell->ground_m2 = ground[k];
        cell->first = first, cell->plants = count[k];
        first += count[k];
        cell_of[k] = (uint32_t)out->n_cells++;
    }
}

enum outcome squares_make(const struct outline *o, const struct frame *frame, struct arena *arena, const double *uv, const int32_t *species,
                          const bool *fixed, size_t n, struct layout *out, struct failure *why)
{
    struct arena scratch = {0};
    enum outcome outcome = OUTCOME_OK;
    double far_u = o->box.x_most, far_v = o->box.y_most;
    for (size_t i = 0; i < n; i++)
        far_u = fmax(far_u, uv[2 * i] + 1e-9), far_v = fmax(far_v, uv[2 * i + 1] + 1e-9);
    size_t columns = (size_t)ceil(far_u), rows = (size_t)ceil(far_v);
    if (far_u * far_v > 2.0 * MOST_SQUARES)
        return fail(why, OUTCOME_DATA, "Plants stand too far from the ground for one grid of squares.");
    struct settler *settlers = arena_array(&scratch, n, sizeof *settlers);
    uint32_t *count = arena_array(&scratch, rows * columns, sizeof *count);
    uint32_t *cell_of = arena_array(&scratch, rows * columns, sizeof *cell_of);
    double *ground = arena_array(&scratch, rows * columns, sizeof *ground);
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++) {
        size_t row = 0, column = 0;
        outcome = square_index(uv[2 * i + 1], "behind the baseline", i, &row, why);
        if (outcome == OUTCOME_OK)
            outcome = square_index(uv[2 * i], "before the first peg", i, &column, why);
        settlers[i] = (struct settler){(uint64_t)row * columns + column, uv[2 * i], uv[2 * i + 1], (uint32_t)i};
        count[outcome == OUTCOME_OK ? settlers[i].square : 0]++;
    }
    if (outcome != OUTCOME_OK)
        goto done;
    outline_squares(o, rows, columns, &scratch, ground);
    cells_list(ground, rows, columns, count, arena, out, cell_of);
    qsort(settlers, n, sizeof *settlers, settler_order);
    out->positions = arena_array(arena, n, sizeof *out->positions);
    out->n_positions = n;
    out->rows = (uint32_t)rows, out->columns = (uint32_t)columns;
    for (size_t k = 0; k < n; k++) {
        const struct settler *s = &settlers[k];
        struct layout_position *p = &out->positions[k];
        p->cell = cell_of[s->square];
        p->number = (uint32_t)(k - out->cells[p->cell].first) + 1;
        frame_out(frame, s->u, s->v, &p->x_m, &p->y_m);
        p->along_m = tenth(s->u - (double)out->cells[p->cell].column);
        p->across_m = tenth(s->v - (double)out->cells[p->cell].row);
        p->species = species[s->at];
        p->fixed = fixed[s->at];
    }
done:
    arena_clear(&scratch);
    return outcome;
}
