/* SPDX-License-Identifier: GPL-3.0-or-later
 * Repair of a plan after a substitution, a short delivery or a loss: new counts with the fewest positions changed. */
#include "layout/inside.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

/// The repair under way. Species S stands for "empty".
struct mending {
    const struct layout_wish *wish;
    struct places places;
    struct web web;
    int32_t *now;     ///< species of each position; S is empty
    const bool *held; ///< never moved
    bool *moved;
    size_t S, C;
    size_t *movable; ///< movable[species * C + class]: positions not held and not moved yet
    long *over;      ///< plants of each species beyond (below) the wanted number
};

static bool allowed(const struct mending *m, size_t species, size_t class)
{
    return species == m->S || m->places.allowed[species * m->C + class];
}

static bool step_open(const struct mending *m, size_t from, size_t to)
{
    for (size_t c = 0; c < m->C; c++) {
        if (m->movable[from * m->C + c] > 0 && allowed(m, to, c))
            return true;
    }
    return false;
}

/* The shortest chain of handing on from a species with too many to one with too few; chain[0] … chain[*n − 1]. */
static bool chain_find(const struct mending *m, size_t *chain, size_t *n, size_t *from, size_t *queue)
{
    size_t head = 0, tail = 0, nodes = m->S + 1;
    for (size_t s = 0; s < nodes; s++) {
        from[s] = SIZE_MAX;
        if (m->over[s] > 0)
            from[s] = s, queue[tail++] = s;
    }
    while (head < tail) {
        size_t s = queue[head++];
        for (size_t t = 0; t < nodes; t++) {
            if (from[t] != SIZE_MAX || !step_open(m, s, t))
                continue;
            from[t] = s;
            queue[tail++] = t;
            if (m->over[t] < 0) {
                *n = 0;
                size_t back = t;
                for (; from[back] != back; back = from[back])
                    chain[(*n)++] = back;
                chain[(*n)++] = back;
                for (size_t i = 0; i < *n / 2; i++) {
                    size_t keep = chain[i];
                    chain[i] = chain[*n - 1 - i], chain[*n - 1 - i] = keep;
                }
                return true;
            }
        }
    }
    return false;
}

/* How much worse the mixture gets when this position changes; tall trees beside tall ones count too. */
static double harm(const struct mending *m, size_t i, size_t from, size_t to)
{
    double harm = web_clash(&m->web, m->now, i, (int32_t)to) - web_clash(&m->web, m->now, i, (int32_t)from);
    bool tall_to = to < m->S && m->wish->species[to].tall, tall_from = from < m->S && m->wish->species[from].tall;
    if (tall_to == tall_from)
        return harm;
    double beside = 0;
    for (uint32_t k = m->web.start[i]; k < m->web.start[i + 1]; k++) {
        int32_t s = m->now[m->web.to[k]];
        if (s < (int32_t)m->S && m->wish->species[s].tall)
            beside += (double)m->web.weight[k];
    }
    return harm + (tall_to ? beside : -beside);
}

static void hand_on(struct mending *m, size_t from, size_t to)
{
    size_t best = SIZE_MAX;
    double least = INFINITY;
    for (size_t i = 0; i < m->places.n; i++) {
        if (m->now[i] != (int32_t)from || m->held[i] || m->moved[i] || !allowed(m, to, m->places.class[i]))
            continue;
        double h = harm(m, i, from, to);
        if (h < least)
            least = h, best = i;
    }
    require(best != SIZE_MAX);
    m->now[best] = (int32_t)to;
    m->moved[best] = true;
    m->movable[from * m->C + m->places.class[best]]--;
    m->over[from]--, m->over[to]++;
}

static enum outcome mend_all(struct mending *m, struct failure *why)
{
    size_t nodes = m->S + 1, n = 0;
    size_t *chain = memory_get(3 * nodes, sizeof *chain);
    bool wanting = true, found = true;
    while (wanting && found) {
        wanting = false;
        for (size_t s = 0; s < nodes; s++)
            wanting = wanting || m->over[s] < 0;
        if (!wanting)
            break;
        found = chain_find(m, chain, &n, chain + nodes, chain + 2 * nodes);
        for (size_t k = 0; found && k + 1 < n; k++)
            hand_on(m, chain[k], chain[k + 1]);
    }
    free(chain);
    if (!wanting)
        return OUTCOME_OK;
    for (size_t s = 0; s < m->S; s++) {
        if (m->over[s] < 0) {
            fail(why, OUTCOME_DATA, "%ld plants of %s find no place: what could give way is planted already, or a stand-off forbids it.",
                 -m->over[s], m->wish->species[s].name);
            return failure_remedy(why, "Choose another species for them, or lift planted ones.");
        }
    }
    return fail(why, OUTCOME_DATA, "More plants are in the ground already than the new counts allow.");
}

static void mending_count(struct mending *m, const struct layout *layout)
{
    for (size_t i = 0; i < m->places.n; i++) {
        int32_t s = layout->positions[i].species;
        m->now[i] = s < 0 ? (int32_t)m->S : s;
        m->over[m->now[i]]++;
        if (!m->held[i])
            m->movable[(size_t)m->now[i] * m->C + m->places.class[i]]++;
    }
}

enum outcome layout_mend(struct layout *layout, const struct layout_wish *w, const bool *planted, struct arena *arena,
                         struct layout_repair *out, struct failure *why)
{
    size_t n = layout->n_positions, S = w->n_species, total = 0;
    struct arena scratch = {0};
    struct outline outline;
    struct frame frame = layout_frame_make(w->origin_x_m, w->origin_y_m, w->bearing_deg);
    struct mending m = {.wish = w, .S = S};
    enum outcome outcome = outline_make(w->ground, &frame, &scratch, &outline, why);
    if (outcome != OUTCOME_OK)
        goto done;
    for (size_t s = 0; s < S; s++)
        total += w->species[s].plants;
    if (total > n) {
        fail(why, OUTCOME_DATA, "The plan has %zu places; the new counts ask for %zu.", n, total);
        outcome = failure_remedy(why, "Make a new plan beside this one, or lower the counts by %zu.", total - n);
        goto done;
    }
    double *uv = arena_array(&scratch, n + 1, 2 * sizeof *uv);
    bool *held = arena_array(&scratch, n + 1, sizeof *held);
    for (size_t i = 0; i < n; i++) {
        frame_in(&frame, layout->positions[i].x_m, layout->positions[i].y_m, &uv[2 * i], &uv[2 * i + 1]);
        held[i] = layout->positions[i].fixed || (planted != NULL && planted[i]);
    }
    outcome = places_make(w, &frame, &outline, uv, n, &scratch, &m.places, why);
    if (outcome != OUTCOME_OK)
        goto done;
    web_make(uv, n, outline.area_m2, &scratch, &m.web);
    m.C = m.places.n_classes, m.held = held;
    m.now = arena_array(&scratch, n + 1, sizeof *m.now);
    m.moved = arena_array(&scratch, n + 1, sizeof *m.moved);
    m.movable = arena_array(&scratch, (S + 1) * (m.C + 1), sizeof *m.movable);
    m.over = arena_array(&scratch, S + 1, sizeof *m.over);
    mending_count(&m, layout);
    for (size_t s = 0; s < S; s++)
        m.over[s] -= (long)w->species[s].plants;
    m.over[S] -= (long)(n - total);
    struct layout_repair repair = {0};
    for (size_t s = 0; s <= S; s++)
        repair.least_moves += m.over[s] > 0 ? (size_t)m.over[s] : 0;
    outcome = mend_all(&m, why);
    if (outcome != OUTCOME_OK)
        goto done;
    repair.moves = arena_array(arena, n + 1, sizeof *repair.moves);
    for (size_t i = 0; i < n; i++) {
        int32_t to = m.now[i] == (int32_t)S ? LAYOUT_EMPTY : m.now[i], from = layout->positions[i].species;
        if (to == from)
            continue;
        repair.moves[repair.n_moves++] = (struct layout_move){i, from, to};
        layout->positions[i].species = to;
    }
    *out = repair;
done:
    arena_clear(&scratch);
    return outcome;
}
