/* SPDX-License-Identifier: GPL-3.0-or-later
 * A programme as free-format MPS text, which most solvers read. */
#include "mix/mip.h"
#include <float.h>
#include <string.h>

static void number(struct text *out, double x)
{
    char digits[40];
    number_write(x, digits);
    text_add(out, digits);
}

static void row_kinds(const struct mip *g, struct text *out)
{
    text_add(out, "NAME mix FREE\nROWS\n N cost\n");
    for (size_t r = 0; r < g->n_rows; r++) {
        bool low = g->row_low[r] > -DBL_MAX, high = g->row_high[r] < DBL_MAX;
        char kind = low && high && g->row_low[r] == g->row_high[r] ? 'E' : high ? 'L' : low ? 'G' : 'N';
        text_print(out, " %c r%zu\n", kind, r);
    }
}

/* Terms by column: positions sorted by counting. */
static size_t *terms_by_column(const struct mip *g, size_t *starts, struct arena *arena)
{
    size_t *order = arena_array(arena, g->n_terms + 1, sizeof *order);
    for (size_t t = 0; t < g->n_terms; t++)
        starts[g->term_col[t] + 1]++;
    for (size_t c = 0; c < g->n_cols; c++)
        starts[c + 1] += starts[c];
    size_t *at = arena_array(arena, g->n_cols + 1, sizeof *at);
    for (size_t t = 0; t < g->n_terms; t++)
        order[starts[g->term_col[t]] + at[g->term_col[t]]++] = t;
    return order;
}

static void columns(const struct mip *g, struct text *out, struct arena *arena)
{
    size_t *starts = arena_array(arena, g->n_cols + 2, sizeof *starts), *order = terms_by_column(g, starts, arena);
    text_add(out, "COLUMNS\n");
    bool whole = false;
    for (size_t c = 0; c < g->n_cols; c++) {
        if (g->whole[c] != whole)
            text_print(out, " M%zu 'MARKER' '%s'\n", c, whole ? "INTEND" : "INTORG");
        whole = g->whole[c];
        text_print(out, " x%zu cost ", c);
        number(out, g->cost[c]);
        text_add(out, "\n");
        for (size_t k = starts[c]; k < starts[c + 1]; k++) {
            text_print(out, " x%zu r%zu ", c, g->term_row[order[k]]);
            number(out, g->term[order[k]]);
            text_add(out, "\n");
        }
    }
    if (whole)
        text_add(out, " Mend 'MARKER' 'INTEND'\n");
}

static void right_sides(const struct mip *g, struct text *out)
{
    text_add(out, "RHS\n");
    if (g->constant != 0) {
        text_add(out, " RHS cost "); /* by convention with the sign turned */
        number(out, -g->constant);
        text_add(out, "\n");
    }
    for (size_t r = 0; r < g->n_rows; r++) {
        bool low = g->row_low[r] > -DBL_MAX, high = g->row_high[r] < DBL_MAX;
        if (!low && !high)
            continue;
        text_print(out, " RHS r%zu ", r);
        number(out, high ? g->row_high[r] : g->row_low[r]);
        text_add(out, "\n");
    }
    text_add(out, "RANGES\n");
    for (size_t r = 0; r < g->n_rows; r++)
        if (g->row_low[r] > -DBL_MAX && g->row_high[r] < DBL_MAX && g->row_low[r] != g->row_high[r]) {
            text_print(out, " RNG r%zu ", r);
            number(out, g->row_high[r] - g->row_low[r]);
            text_add(out, "\n");
        }
}

char *mip_mps(const struct mip *g, struct arena *arena)
{
    struct text out = {0};
    row_kinds(g, &out);
    columns(g, &out, arena);
    right_sides(g, &out);
    text_add(&out, "BOUNDS\n");
    for (size_t c = 0; c < g->n_cols; c++) {
        text_print(&out, " LO BND x%zu ", c);
        number(&out, g->low[c]);
        text_print(&out, "\n UP BND x%zu ", c);
        number(&out, g->high[c]);
        text_add(&out, "\n");
    }
    text_add(&out, "ENDATA\n");
    char *text = arena_text(arena, text_get(&out));
    text_free(&out);
    return text;
}
