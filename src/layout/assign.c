/* SPDX-License-Identifier: GPL-3.0-or-later
 * Which species stands where. First the future tall trees as a group get places as evenly spread as they can be, then
 * layer by layer the others, and within each group species by species: always by thinning, so that every species is
 * spread over the whole plot. Then plants are exchanged until like neighbours are gone. */
#include "layout/inside.h"
#include "layout/thin.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { CHOICE = 8 }; /* places looked at for each one that is taken */

/// A choice to be made: from places not yet given, so many of each class.
struct taking {
    const struct mixing *mixing;
    const int32_t *group; ///< group[place]: who it is given to so far
    int32_t from;         ///< places of this group are open
    const size_t *wanted; ///< of each class
    size_t total;
    bool inside; ///< rather away from the outline
    struct random_stream *random;
};

/* Candidates: all places open, or a random part of each class where there are many more than needed. */
static size_t candidates(const struct taking *t, const size_t *open, uint32_t *out)
{
    const struct places *p = t->mixing->places;
    struct arena scratch = {0};
    size_t *left = arena_array(&scratch, p->n_classes + 1, sizeof *left), *take = arena_array(&scratch, p->n_classes + 1, sizeof *take);
    size_t n = 0;
    for (size_t c = 0; c < p->n_classes; c++) {
        left[c] = open[c];
        take[c] = t->wanted[c] == 0 ? 0 : CHOICE * t->wanted[c] + 32;
        take[c] = t->inside || take[c] > open[c] ? (t->wanted[c] == 0 ? 0 : open[c]) : take[c];
    }
    for (size_t i = 0; i < p->n; i++) {
        size_t c = p->class[i];
        if (t->mixing->fixed[i] || t->group[i] != t->from)
            continue;
        if (take[c] > 0 && (take[c] == left[c] || random_below(t->random, left[c]) < take[c])) {
            out[n++] = (uint32_t)i;
            take[c]--;
        }
        left[c]--;
    }
    arena_clear(&scratch);
    return n;
}

/* Choose; taken[place] is set. `mates` are places of plants that stand already and belong to the same. */
static void take(const struct taking *t, const uint32_t *mates, size_t n_mates, bool *taken)
{
    const struct places *p = t->mixing->places;
    struct arena scratch = {0};
    size_t *open = arena_array(&scratch, p->n_classes + 1, sizeof *open);
    uint32_t *pick = arena_array(&scratch, p->n + n_mates + 1, sizeof *pick);
    for (size_t i = 0; i < p->n; i++)
        open[p->class[i]] += !t->mixing->fixed[i] && t->group[i] == t->from;
    size_t n = candidates(t, open, pick), all = n + n_mates;
    memcpy(pick + n, mates, n_mates * sizeof *pick);
    double *uv = arena_array(&scratch, 2 * all + 1, sizeof *uv), *extra = arena_array(&scratch, all + 1, sizeof *extra);
    bool *anchor = arena_array(&scratch, all + 1, sizeof *anchor), *kept = arena_array(&scratch, all + 1, sizeof *kept);
    uint32_t *class = arena_array(&scratch, all + 1, sizeof *class);
    double reach = layout_hexagon_m(t->mixing->area_m2, (double)(t->total + n_mates + 1));
    for (size_t k = 0; k < all; k++) {
        size_t i = pick[k];
        uv[2 * k] = p->uv[2 * i], uv[2 * k + 1] = p->uv[2 * i + 1];
        anchor[k] = k >= n;
        class[k] = p->class[i];
        extra[k] = thin_crowding(2 * p->edge_far[i], reach);
        if (t->inside)
            extra[k] += 4 * pow(1 - fmin(p->edge_far[i], EDGE_REACH / 2) / (EDGE_REACH / 2), 2);
    }
    thin_points(&(struct thin){.uv = uv,
                               .n = all,
                               .keep = t->total,
                               .area_m2 = t->mixing->area_m2,
                               .extra = extra,
                               .anchor = anchor,
                               .class = class,
                               .class_keep = t->wanted,
                               .n_classes = p->n_classes},
                kept);
    for (size_t k = 0; k < n; k++)
        taken[pick[k]] = kept[k];
    arena_clear(&scratch);
}

/* Tall ones are group 0; the others by layer. */
static int32_t group_of(const struct layout_species *species)
{
    if (species->tall)
        return 0;
    return species->layer == LAYER_UNKNOWN ? LAYER_COUNT : (int32_t)species->layer;
}

/* Give the places of group `from` that `wanted` asks for to group `to`. */
static void give(struct taking *t, int32_t *group, int32_t to, const uint32_t *mates, size_t n_mates, bool *taken)
{
    size_t n = t->mixing->places->n, open = 0;
    for (size_t i = 0; i < n; i++)
        open += !t->mixing->fixed[i] && group[i] == t->from;
    memset(taken, 0, n * sizeof *taken);
    if (open == t->total) {
        for (size_t i = 0; i < n; i++)
            taken[i] = !t->mixing->fixed[i] && group[i] == t->from;
    } else if (t->total > 0) {
        take(t, mates, n_mates, taken);
    }
    for (size_t i = 0; i < n; i++)
        group[i] = taken[i] ? to : group[i];
}

enum { NOBODY = 1000, FIRST_SPECIES = 2000 };

/* Places of fixed plants of a group, or of one species (group ≥ FIRST_SPECIES). */
static size_t mates_list(const struct mixing *m, int32_t group, uint32_t *out)
{
    size_t n = 0;
    for (size_t i = 0; i < m->places->n; i++) {
        if (!m->fixed[i] || m->species[i] < 0)
            continue;
        int32_t g = group >= FIRST_SPECIES ? FIRST_SPECIES + m->species[i] : group_of(&m->wish->species[m->species[i]]);
        if (g == group)
            out[n++] = (uint32_t)i;
    }
    return n;
}

/* Species by species within a group, the rarest first; the commonest takes what is left. */
static void give_species(const struct mixing *m, struct taking *t, const size_t *quota, int32_t g, int32_t *group, uint32_t *mates,
                         bool *taken)
{
    size_t C = m->places->n_classes;
    bool *done = memory_get(m->wish->n_species, sizeof *done);
    memset(done, 0, m->wish->n_species * sizeof *done);
    for (;;) {
        size_t next = SIZE_MAX, least = SIZE_MAX;
        for (size_t s = 0; s < m->wish->n_species; s++) {
            size_t total = 0;
            for (size_t c = 0; c < C; c++)
                total += quota[s * C + c];
            if (!done[s] && group_of(&m->wish->species[s]) == g && total < least)
                least = total, next = s;
        }
        if (next == SIZE_MAX)
            break;
        done[next] = true;
        int32_t to = FIRST_SPECIES + (int32_t)next;
        t->from = g, t->wanted = quota + next * C, t->total = least, t->inside = m->wish->species[next].inside;
        give(t, group, to, mates, mates_list(m, to, mates), taken);
    }
    free(done);
}

static void give_all(const struct mixing *m, const size_t *quota, struct random_stream *random, const struct progress *progress)
{
    size_t n = m->places->n, C = m->places->n_classes, S = m->wish->n_species;
    struct arena scratch = {0};
    int32_t *group = arena_array(&scratch, n + 1, sizeof *group);
    size_t *wanted = arena_array(&scratch, C + 1, sizeof *wanted);
    bool *taken = arena_array(&scratch, n + 1, sizeof *taken);
    uint32_t *mates = arena_array(&scratch, n + 1, sizeof *mates);
    struct taking t = {.mixing = m, .group = group, .random = random};
    for (size_t i = 0; i < n; i++)
        group[i] = NOBODY;
    for (int32_t g = 0; g <= LAYER_COUNT; g++) {
        bool inside = true;
        t.from = NOBODY, t.wanted = wanted, t.total = 0;
        memset(wanted, 0, C * sizeof *wanted);
        for (size_t s = 0; s < S; s++) {
            if (group_of(&m->wish->species[s]) != g)
                continue;
            inside = inside && m->wish->species[s].inside;
            for (size_t c = 0; c < C; c++)
                wanted[c] += quota[s * C + c], t.total += quota[s * C + c];
        }
        if (t.total == 0)
            continue;
        t.inside = inside;
        give(&t, group, g, mates, mates_list(m, g, mates), taken);
        give_species(m, &t, quota, g, group, mates, taken);
        if (!progress_tell(progress, 0.45 + 0.3 * (double)g / LAYER_COUNT, "giving species their places"))
            break;
    }
    for (size_t i = 0; i < n; i++) {
        if (!m->fixed[i])
            m->species[i] = group[i] >= FIRST_SPECIES ? group[i] - FIRST_SPECIES : LAYOUT_EMPTY;
    }
    arena_clear(&scratch);
}

/* Names the species that cannot all be placed, and what is in their way. */
static enum outcome squeezed_tell(const struct mixing *m, const size_t *plants, const size_t *open, const bool *squeezed,
                                  struct failure *why)
{
    const struct layout_wish *w = m->wish;
    size_t C = m->places->n_classes, wanted = 0, room = 0, named = 0;
    bool *zone = memory_get(w->n_zones + 1, sizeof *zone);
    memset(zone, 0, (w->n_zones + 1) * sizeof *zone);
    struct text names = {0}, ways = {0};
    for (size_t s = 0; s < w->n_species; s++) {
        if (!squeezed[s])
            continue;
        wanted += plants[s];
        text_print(&names, "%s%s", named++ == 0 ? "" : ", ", w->species[s].name);
        zone[w->n_zones] = zone[w->n_zones] || w->species[s].edge_least_m > 0;
        for (size_t z = 0; z < w->n_zones; z++)
            zone[z] = zone[z] || w->zones[z].forbids[s];
    }
    for (size_t c = 0; c < C; c++) {
        bool any = false;
        for (size_t s = 0; s < w->n_species; s++)
            any = any || (squeezed[s] && m->places->allowed[s * C + c]);
        room += any ? open[c] : 0;
    }
    for (size_t z = 0; z < w->n_zones; z++) {
        if (zone[z])
            text_print(&ways, "%s%s", ways.n == 0 ? "" : "; ", w->zones[z].why == NULL ? "a stand-off" : w->zones[z].why);
    }
    if (zone[w->n_zones])
        text_print(&ways, "%sthe distance to the outline", ways.n == 0 ? "" : "; ");
    fail(why, OUTCOME_DATA, "%zu plants of %s may only stand on %zu of the places. In the way: %s.", wanted, text_get(&names), room,
         ways.n == 0 ? "plants that are kept" : text_get(&ways));
    text_free(&names);
    text_free(&ways);
    free(zone);
    return failure_remedy(why, "Lower their number by %zu, give them to a species that may stand there, or review the stand-off.",
                          wanted > room ? wanted - room : 1);
}

enum outcome assign_species(const struct mixing *m, const struct progress *progress, uint64_t *swaps, struct failure *why)
{
    size_t C = m->places->n_classes, S = m->wish->n_species, n = m->places->n, short_by = 0;
    struct arena scratch = {0};
    enum outcome outcome = OUTCOME_OK;
    size_t *plants = arena_array(&scratch, S, sizeof *plants), *open = arena_array(&scratch, C + 1, sizeof *open);
    size_t *quota = arena_array(&scratch, S * C + 1, sizeof *quota);
    bool *squeezed = arena_array(&scratch, S, sizeof *squeezed);
    for (size_t s = 0; s < S; s++)
        plants[s] = m->wish->species[s].plants;
    for (size_t i = 0; i < n; i++) {
        if (!m->fixed[i])
            open[m->places->class[i]]++;
        else if (plants[m->species[i]]-- == 0) {
            outcome =
                fail(why, OUTCOME_DATA, "More plants of %s stand already than the plan asks for.", m->wish->species[m->species[i]].name);
            outcome = failure_remedy(why, "Raise its number, or do not keep them all.");
            goto done;
        }
    }
    double *lean = arena_array(&scratch, S * C + 1, sizeof *lean);
    for (size_t k = 0; k < S * C; k++)
        lean[k] = m->wish->species[k / C].inside && !m->places->inner[k % C] ? 1e-3 : 1;
    if (!share_out(&(struct share){S, C, plants, open, m->places->allowed, lean}, quota, squeezed, &short_by)) {
        outcome = squeezed_tell(m, plants, open, squeezed, why);
        goto done;
    }
    struct random_stream random = random_make(m->wish->seed, STREAM_GIVE);
    give_all(m, quota, &random, progress);
    if (!progress_tell(progress, 0.75, "exchanging like neighbours")) {
        outcome = OUTCOME_CANCELLED;
        goto done;
    }
    struct web web;
    web_make(m->places->uv, n, m->area_m2, &scratch, &web);
    *swaps = swap_tall(m, &web);
    *swaps += swap_mix(m, &web, m->wish->seed);
done:
    arena_clear(&scratch);
    return outcome;
}
