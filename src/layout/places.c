/* SPDX-License-Identifier: GPL-3.0-or-later
 * Which species may stand where: places that allow the same species make a class. */
#include "layout/inside.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { ZONE_WORDS = 4, MOST_CLASSES = 20000 };

/// What decides a place: how many of the edge distances it keeps, and the zones it lies in.
struct mark {
    uint64_t zones[ZONE_WORDS];
    uint32_t edges;
};

bool places_allow(const struct places *places, int32_t species, size_t place)
{
    return species < 0 || places->allowed[(size_t)species * places->n_classes + places->class[place]];
}

/* Different edge distances, ascending; among them where the inside begins, if a species would rather be there. */
static size_t edges_list(const struct layout_wish *wish, double *edges)
{
    size_t n = 0;
    for (size_t t = 0; t < 2 * wish->n_species; t++) {
        size_t s = t / 2;
        double e = t % 2 == 0 ? wish->species[s].edge_least_m : wish->species[s].inside ? INSIDE_M : 0;
        size_t k = 0;
        while (k < n && edges[k] < e)
            k++;
        if (!(e > 0) || (k < n && edges[k] == e))
            continue;
        memmove(edges + k + 1, edges + k, (n - k) * sizeof *edges);
        edges[k] = e;
        n++;
    }
    return n;
}

/* The class of a mark, a new one where it was not seen; open addressing. SIZE_MAX when there are too many. */
static size_t mark_class(struct mark *marks, size_t *n, uint32_t *table, size_t room, const struct mark *mark)
{
    uint64_t h = mark->edges;
    for (size_t k = 0; k < ZONE_WORDS; k++)
        h = (h ^ mark->zones[k]) * 0x9E3779B97F4A7C15ull, h ^= h >> 29;
    for (size_t i = h % room;; i = (i + 1) % room) {
        if (table[i] == 0) {
            if (*n == MOST_CLASSES)
                return SIZE_MAX;
            marks[*n] = *mark;
            table[i] = (uint32_t)++ * n;
            return *n - 1;
        }
        if (memcmp(&marks[table[i] - 1], mark, sizeof *mark) == 0)
            return table[i] - 1;
    }
}

static void allow(const struct layout_wish *wish, const double *edges, const struct mark *marks, struct places *out)
{
    for (size_t c = 0; c < out->n_classes; c++) {
        out->blamed[c] = SIZE_MAX;
        out->inner[c] = marks[c].edges > 0 && edges[marks[c].edges - 1] >= INSIDE_M;
        for (size_t z = wish->n_zones; z-- > 0;) {
            if (marks[c].zones[z / 64] >> (z % 64) & 1)
                out->blamed[c] = z;
        }
        for (size_t s = 0; s < wish->n_species; s++) {
            double e = wish->species[s].edge_least_m;
            bool good = !(e > 0) || (marks[c].edges > 0 && edges[marks[c].edges - 1] >= e);
            for (size_t z = 0; z < wish->n_zones && good; z++)
                good = !(marks[c].zones[z / 64] >> (z % 64) & 1) || !wish->zones[z].forbids[s];
            out->allowed[s * out->n_classes + c] = good;
        }
    }
}

enum outcome places_make(const struct layout_wish *wish, const struct frame *frame, const struct outline *outline, const double *uv,
                         size_t n, struct arena *arena, struct places *out, struct failure *why)
{
    struct arena scratch = {0};
    enum outcome outcome = OUTCOME_OK;
    struct outline *zones = arena_array(&scratch, wish->n_zones + 1, sizeof *zones);
    double *edges = arena_array(&scratch, 2 * wish->n_species + 1, sizeof *edges);
    struct mark *marks = arena_array(&scratch, MOST_CLASSES, sizeof *marks);
    size_t room = 4 * MOST_CLASSES + 1, n_edges = edges_list(wish, edges);
    uint32_t *table = arena_array(&scratch, room, sizeof *table);
    *out = (struct places){.uv = uv, .n = n};
    out->class = arena_array(arena, n + 1, sizeof *out->class);
    out->edge_far = arena_array(arena, n + 1, sizeof *out->edge_far);
    for (size_t z = 0; z < wish->n_zones; z++) {
        outcome = outline_make(wish->zones[z].ground, frame, &scratch, &zones[z], why);
        if (outcome != OUTCOME_OK) {
            fail(why, outcome, "The zone \"%s\" is no polygon with an area.", wish->zones[z].why == NULL ? "" : wish->zones[z].why);
            goto done;
        }
    }
    double reach = n_edges > 0 ? fmax(EDGE_REACH, edges[n_edges - 1] * 1.001) : EDGE_REACH;
    for (size_t i = 0; i < n; i++) {
        struct mark mark = {0};
        out->edge_far[i] = outline_far(outline, uv[2 * i], uv[2 * i + 1], reach);
        while (mark.edges < n_edges && edges[mark.edges] <= out->edge_far[i])
            mark.edges++;
        for (size_t z = 0; z < wish->n_zones; z++) {
            if (outline_holds(&zones[z], uv[2 * i], uv[2 * i + 1]))
                mark.zones[z / 64] |= (uint64_t)1 << (z % 64);
        }
        size_t class = mark_class(marks, &out->n_classes, table, room, &mark);
        if (class == SIZE_MAX) {
            outcome = fail(why, OUTCOME_DATA, "The stand-offs overlap in more than %d different ways.", MOST_CLASSES);
            goto done;
        }
        out->class[i] = (uint32_t) class;
    }
    out->allowed = arena_array(arena, wish->n_species * (out->n_classes + 1), sizeof *out->allowed);
    out->blamed = arena_array(arena, out->n_classes + 1, sizeof *out->blamed);
    out->inner = arena_array(arena, out->n_classes + 1, sizeof *out->inner);
    allow(wish, edges, marks, out);
done:
    arena_clear(&scratch);
    return outcome;
}
