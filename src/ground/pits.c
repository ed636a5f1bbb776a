/* SPDX-License-Identifier: GPL-3.0-or-later
 * Samples put in the order of their pits and depths; ties by index, so that the order is the same everywhere. */
#include "ground/pits.h"
#include <stdlib.h>
#include <string.h>

static int text_order(const char *a, const char *b)
{
    return strcmp(a == NULL ? "" : a, b == NULL ? "" : b);
}

static int pit_order(const struct soil_sample *a, const struct soil_sample *b)
{
    int order = a->site_id != b->site_id   ? (a->site_id < b->site_id ? -1 : 1)
                : a->plot_id != b->plot_id ? (a->plot_id < b->plot_id ? -1 : 1)
                                           : 0;
    if (order == 0)
        order = text_order(a->zone, b->zone);
    if (order == 0)
        order = text_order(a->composite, b->composite);
    if (order == 0)
        order = (int)a->time_point - (int)b->time_point;
    if (order == 0 && a->sampled_on != b->sampled_on)
        order = a->sampled_on < b->sampled_on ? -1 : 1;
    return order;
}

static int placed_order(const void *left, const void *right)
{
    const struct placed *a = left, *b = right;
    int order = pit_order(a->sample, b->sample);
    double ta = a->sample->depth_top_cm, tb = b->sample->depth_top_cm;
    if (order == 0 && is_known(ta) != is_known(tb))
        order = is_known(ta) ? -1 : 1;
    if (order == 0 && is_known(ta) && (ta < tb || ta > tb))
        order = ta < tb ? -1 : 1;
    return order != 0 ? order : a->index < b->index ? -1 : a->index > b->index;
}

struct placed *pits_place(const struct soil_sample *samples, size_t n, struct arena *arena)
{
    struct placed *placed = arena_array(arena, n == 0 ? 1 : n, sizeof *placed);
    for (size_t i = 0; i < n; i++)
        placed[i] = (struct placed){&samples[i], i};
    qsort(placed, n, sizeof *placed, placed_order);
    return placed;
}

bool pits_same(const struct soil_sample *a, const struct soil_sample *b)
{
    return pit_order(a, b) == 0;
}
