/* SPDX-License-Identifier: GPL-3.0-or-later
 * The additive model of plots: its rows, their span, and what it determines. An effect is estimable exactly if its
 * contrast lies in the span of the rows (Searle 1971, Linear Models, section 5.4). */
#include "trial/span.h"
#include <math.h>
#include <string.h>

#define TINY 1e-9 /* the rows hold zeros and ones; anything below this is rounding */

static size_t find(const char *const *list, size_t n, const char *word)
{
    for (size_t i = 0; i < n; i++) {
        if (text_same(list[i], word))
            return i;
    }
    return SIZE_MAX;
}

void frame_plots(const struct trial_plot *plots, size_t n, struct arena *arena, struct frame_of_plots *out)
{
    *out = (struct frame_of_plots){.plots = plots, .n = n};
    out->sites = arena_array(arena, n, sizeof *out->sites);
    for (size_t i = 0; i < n; i++) {
        if (find(out->sites, out->n_sites, plots[i].site) == SIZE_MAX)
            out->sites[out->n_sites++] = plots[i].site;
    }
    out->columns = out->n_sites;
    for (size_t f = 0; f < TRIAL_FACTORS; f++) {
        out->levels[f] = arena_array(arena, n, sizeof *out->levels[f]);
        for (size_t i = 0; i < n; i++) {
            const char *level = plots[i].levels[f];
            if (level == NULL)
                out->n_unknown[f]++;
            else if (find(out->levels[f], out->n_levels[f], level) == SIZE_MAX)
                out->levels[f][out->n_levels[f]++] = level;
        }
        out->first[f] = out->columns;
        out->columns += (out->n_levels[f] > 0 ? out->n_levels[f] - 1 : 0) + out->n_unknown[f];
        out->last[f] = out->columns;
    }
}

void frame_row(const struct frame_of_plots *frame, const struct trial_plot *plot, const size_t *unknown_of, double *row)
{
    memset(row, 0, frame->columns * sizeof *row);
    size_t site = find(frame->sites, frame->n_sites, plot->site);
    if (site != SIZE_MAX)
        row[site] = 1;
    for (size_t f = 0; f < TRIAL_FACTORS; f++) {
        size_t known = frame->n_levels[f] > 0 ? frame->n_levels[f] - 1 : 0;
        if (plot->levels[f] == NULL) {
            row[frame->first[f] + known + unknown_of[f]] = 1;
            continue;
        }
        size_t level = find(frame->levels[f], frame->n_levels[f], plot->levels[f]);
        if (level != SIZE_MAX && level > 0)
            row[frame->first[f] + level - 1] = 1;
    }
}

void span_make(size_t columns, size_t room, struct arena *arena, struct span *out)
{
    *out = (struct span){.columns = columns};
    out->rows = arena_array(arena, (room + 1) * columns, sizeof *out->rows);
    out->lead = arena_array(arena, room + 1, sizeof *out->lead);
}

bool span_reduce(const struct span *span, double *row)
{
    for (size_t k = 0; k < span->rank; k++) {
        double times = row[span->lead[k]];
        if (fabs(times) < TINY)
            continue;
        for (size_t c = 0; c < span->columns; c++)
            row[c] -= times * span->rows[k * span->columns + c];
    }
    for (size_t c = 0; c < span->columns; c++) {
        if (fabs(row[c]) > TINY)
            return true;
    }
    return false;
}

bool span_add(struct span *span, const double *row, double *scratch)
{
    memcpy(scratch, row, span->columns * sizeof *scratch);
    if (!span_reduce(span, scratch))
        return false;
    size_t lead = 0;
    for (size_t c = 1; c < span->columns; c++) {
        if (fabs(scratch[c]) > fabs(scratch[lead]) + TINY)
            lead = c;
    }
    double scale = scratch[lead];
    double *own = span->rows + span->rank * span->columns;
    for (size_t c = 0; c < span->columns; c++)
        own[c] = scratch[c] / scale;
    /* Clear its leading column from the rows before, so that reducing goes through them in any order. */
    for (size_t k = 0; k < span->rank; k++) {
        double times = span->rows[k * span->columns + lead];
        for (size_t c = 0; c < span->columns; c++)
            span->rows[k * span->columns + c] -= times * own[c];
    }
    span->lead[span->rank++] = lead;
    return true;
}

void span_of_plots(const struct frame_of_plots *frame, size_t more, struct arena *arena, struct span *out)
{
    double *row = arena_array(arena, frame->columns, sizeof *row), *scratch = arena_array(arena, frame->columns, sizeof *scratch);
    size_t unknown_of[TRIAL_FACTORS] = {0};
    span_make(frame->columns, frame->n + more, arena, out);
    for (size_t i = 0; i < frame->n; i++) {
        frame_row(frame, &frame->plots[i], unknown_of, row);
        span_add(out, row, scratch);
        for (size_t f = 0; f < TRIAL_FACTORS; f++)
            unknown_of[f] += frame->plots[i].levels[f] == NULL;
    }
}

bool span_tells(const struct span *span, const struct frame_of_plots *frame, enum trial_factor factor, double *scratch)
{
    if (frame->n_unknown[factor] > 0 || frame->n_levels[factor] < 2)
        return false;
    for (size_t c = frame->first[factor]; c < frame->last[factor]; c++) {
        memset(scratch, 0, span->columns * sizeof *scratch);
        scratch[c] = 1;
        if (span_reduce(span, scratch))
            return false;
    }
    return true;
}
