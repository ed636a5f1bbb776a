/* SPDX-License-Identifier: GPL-3.0-or-later
 * Irregular places with a least distance: many places by chance, thinned to exactly as many as wanted, then pushed apart
 * where two are still too close. Yuksel 2015 for the thinning; the pushing is a plain relaxation of hard discs. */
#include "layout/inside.h"
#include "layout/thin.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { TRIES_EACH = 5, MOST_ROUNDS = 300 };

/// How many plants each square metre may hold, so that every card carries about the same: the share of its ground, one
/// more or one less.
struct cards {
    size_t rows, columns;
    uint32_t *least, *most, *now;
};

static size_t card_of(const struct cards *cards, double u, double v)
{
    size_t i = u < 0 ? 0 : (size_t)u, j = v < 0 ? 0 : (size_t)v;
    i = i >= cards->columns ? cards->columns - 1 : i;
    j = j >= cards->rows ? cards->rows - 1 : j;
    return j * cards->columns + i;
}

static void cards_make(const struct scatter *w, struct arena *arena, struct cards *out)
{
    const struct outline *o = w->outline;
    struct arena scratch = {0};
    *out = (struct cards){.rows = (size_t)ceil(fmax(o->box.y_most, 1)), .columns = (size_t)ceil(fmax(o->box.x_most, 1))};
    size_t n = out->rows * out->columns;
    double *ground = arena_array(&scratch, n, sizeof *ground), density = (double)(w->n + w->n_fixed) / o->area_m2;
    out->least = arena_array(arena, n, sizeof *out->least);
    out->most = arena_array(arena, n, sizeof *out->most);
    out->now = arena_array(arena, n, sizeof *out->now);
    outline_squares(o, out->rows, out->columns, &scratch, ground);
    for (size_t k = 0; k < n; k++) {
        double share = nearbyint(density * ground[k]);
        out->least[k] = share > 1 && ground[k] > 0.5 ? (uint32_t)share - 1 : 0;
        out->most[k] = (uint32_t)share + 1;
    }
    for (size_t i = 0; i < w->n_fixed; i++) {
        size_t k = card_of(out, w->fixed[2 * i], w->fixed[2 * i + 1]);
        out->least[k] -= out->least[k] > 0;
        out->most[k] -= out->most[k] > 0;
    }
    /* An outline that crosses itself can make the shares add up to more than there are plants: then none is asked for. */
    size_t asked = 0;
    for (size_t k = 0; k < n; k++)
        asked += out->least[k];
    if (asked > w->n)
        memset(out->least, 0, n * sizeof *out->least);
    arena_clear(&scratch);
}

/// Places found by chance.
struct heapful {
    double *uv, *edge_far;
    size_t n, room;
};

static void heapful_add(struct heapful *h, double u, double v, double far)
{
    if (h->n == h->room) {
        h->room = h->room == 0 ? 4096 : 2 * h->room;
        h->uv = memory_resize(h->uv, h->room, 2 * sizeof *h->uv);
        h->edge_far = memory_resize(h->edge_far, h->room, sizeof *h->edge_far);
    }
    h->uv[2 * h->n] = u, h->uv[2 * h->n + 1] = v;
    h->edge_far[h->n++] = far;
}

/* Throw `each` places on average into every bucket that holds ground, keep those inside and off the outline. */
static void throw_places(const struct scatter *w, double each, double reach, struct random_stream *random, struct heapful *out)
{
    const struct outline *o = w->outline;
    out->n = 0;
    for (size_t k = 0; k < o->n_ground; k++) {
        size_t b = o->ground[k], tries = (size_t)each;
        double u0 = o->u0 + (double)(b % o->columns) * o->size, v0 = o->v0 + (double)(b / o->columns) * o->size;
        tries += random_uniform(random) < each - (double)tries;
        for (size_t i = 0; i < tries; i++) {
            double u = u0 + o->size * random_uniform(random), v = v0 + o->size * random_uniform(random);
            if (!outline_holds(o, u, v))
                continue;
            double far = outline_far(o, u, v, fmax(reach, w->edge_m));
            if (far >= w->edge_m)
                heapful_add(out, u, v, far);
        }
    }
}

static enum outcome gather(const struct scatter *w, double reach, struct heapful *out, struct failure *why)
{
    const struct outline *o = w->outline;
    size_t enough = TRIES_EACH * w->n < 64 ? 64 : TRIES_EACH * w->n;
    double open = fmax(o->area_m2 - o->length_m * w->edge_m, 0.05 * o->area_m2);
    double each = 1.1 * (double)enough * o->size * o->size / open;
    struct random_stream random = random_make(w->seed, STREAM_SCATTER);
    for (int again = 0; again < 8; again++) {
        if (each * (double)o->n_ground > 4e8)
            break;
        throw_places(w, each, reach, &random, out);
        if (out->n >= 3 * w->n && out->n >= 16)
            return OUTCOME_OK;
        each *= out->n == 0 ? 8 : fmin(8, 1.2 * (double)enough / (double)out->n);
    }
    fail(why, OUTCOME_DATA, "The ground is too narrow for %zu plants: hardly any of it is %.2f m or more from the outline.", w->n,
         w->edge_m);
    return failure_remedy(why, "Widen the plot, lower the number of plants, or let them stand nearer to the outline.");
}

static bool may_stand(const struct scatter *w, double u, double v)
{
    return outline_holds(w->outline, u, v) && outline_far(w->outline, u, v, w->edge_m + 0.01) >= w->edge_m;
}

/* Squared distance from candidate `i` to the nearest one kept. */
static double kept_near2(const struct hood *hood, const bool *kept, size_t i, double reach, struct found *near)
{
    double best = reach * reach;
    hood_within(hood, hood->uv[2 * i], hood->uv[2 * i + 1], reach, i, near);
    for (size_t m = 0; m < near->n; m++) {
        if (kept[near->at[m]] && near->far2[m] < best)
            best = near->far2[m];
    }
    return best;
}

/* Squares that hold too many hand their most crowded plant to the roomiest place in a square near by. */
static void cards_even(const struct heapful *found, size_t candidates, struct cards *cards, double hexagon, bool *kept)
{
    struct arena scratch = {0};
    struct hood hood;
    struct found near = {0}, around = {0};
    hood_make(found->uv, found->n, hexagon, &scratch, &hood);
    memset(cards->now, 0, cards->rows * cards->columns * sizeof *cards->now);
    for (size_t i = 0; i < candidates; i++)
        cards->now[card_of(cards, found->uv[2 * i], found->uv[2 * i + 1])] += kept[i];
    for (size_t i = 0; i < candidates; i++) {
        size_t card = card_of(cards, found->uv[2 * i], found->uv[2 * i + 1]), best = SIZE_MAX;
        if (!kept[i] || cards->now[card] <= cards->most[card])
            continue;
        double best2 = 0;
        kept[i] = false;
        hood_within(&hood, found->uv[2 * i], found->uv[2 * i + 1], 2.5, i, &around);
        for (size_t m = 0; m < around.n; m++) {
            size_t j = around.at[m], there = j >= candidates ? card : card_of(cards, found->uv[2 * j], found->uv[2 * j + 1]);
            if (kept[j] || there == card || cards->now[there] >= cards->most[there])
                continue;
            double room2 = kept_near2(&hood, kept, j, hexagon, &near);
            if (room2 > best2)
                best2 = room2, best = j;
        }
        kept[best == SIZE_MAX ? i : best] = true;
        if (best != SIZE_MAX) {
            cards->now[card]--;
            cards->now[card_of(cards, found->uv[2 * best], found->uv[2 * best + 1])]++;
        }
    }
    found_free(&near);
    found_free(&around);
    arena_clear(&scratch);
}

/* Whether a plant may move from one square to another without making one too full or too empty. */
static bool card_step(struct cards *cards, double u0, double v0, double u1, double v1, bool strict)
{
    size_t from = card_of(cards, u0, v0), to = card_of(cards, u1, v1);
    if (from == to)
        return true;
    if (strict && (cards->now[from] <= cards->least[from] || cards->now[to] >= cards->most[to]))
        return false;
    cards->now[from]--, cards->now[to]++;
    return true;
}

/* One round of pushing; returns the least distance before it. uv holds n movable places, then the fixed ones. */
static double push_round(const struct scatter *w, struct cards *cards, double *uv, double target, bool strict, double *shift, size_t *close)
{
    size_t all = w->n + w->n_fixed;
    struct arena scratch = {0};
    struct hood hood;
    struct found near = {0};
    double least2 = INFINITY;
    *close = 0;
    hood_make(uv, all, target, &scratch, &hood);
    memset(shift, 0, 2 * all * sizeof *shift);
    for (size_t i = 0; i < w->n; i++) {
        hood_within(&hood, uv[2 * i], uv[2 * i + 1], target, i, &near);
        for (size_t m = 0; m < near.n; m++) {
            size_t j = near.at[m];
            double far = sqrt(near.far2[m]), du = uv[2 * i] - uv[2 * j], dv = uv[2 * i + 1] - uv[2 * j + 1];
            if (j < i || j >= w->n)
                least2 = fmin(least2, near.far2[m]), ++*close;
            if (far < 1e-6)
                du = i < j ? 1e-6 : -1e-6, dv = 0, far = 1e-6;
            /* Each gives way by half of what is missing (a fixed one does not move), and a hair more. */
            double step = (target - far) * (j >= w->n ? 1.0 : 0.5) * 1.02 + 1e-5;
            shift[2 * i] += du / far * step, shift[2 * i + 1] += dv / far * step;
        }
    }
    for (size_t i = 0; i < w->n; i++) {
        if (shift[2 * i] == 0 && shift[2 * i + 1] == 0)
            continue;
        double long_m = hypot(shift[2 * i], shift[2 * i + 1]), most = 0.25 * target;
        double part = long_m > most ? most / long_m : 1;
        for (int half = 0; half < 4; half++, part /= 2) {
            double u = uv[2 * i] + part * shift[2 * i], v = uv[2 * i + 1] + part * shift[2 * i + 1];
            if (may_stand(w, u, v) && card_step(cards, uv[2 * i], uv[2 * i + 1], u, v, strict)) {
                uv[2 * i] = u, uv[2 * i + 1] = v;
                break;
            }
        }
    }
    found_free(&near);
    arena_clear(&scratch);
    return *close == 0 ? target : sqrt(least2);
}

/* Least distance between any two, those between two fixed ones apart. */
static double least_of(const struct scatter *w, const double *uv, double about)
{
    struct arena scratch = {0};
    struct hood hood;
    double least = INFINITY;
    hood_make(uv, w->n + w->n_fixed, fmax(about, 0.05), &scratch, &hood);
    for (size_t i = 0; i < w->n; i++) {
        double far = 0;
        if (hood_nearest(&hood, uv[2 * i], uv[2 * i + 1], i, &far) != SIZE_MAX)
            least = fmin(least, far);
    }
    arena_clear(&scratch);
    return least;
}

/* To whole millimetres, where that does not leave the ground. */
static void settle(const struct scatter *w, double *uv)
{
    for (size_t i = 0; i < w->n; i++) {
        double u = nearbyint(uv[2 * i] * 1000) / 1000, v = nearbyint(uv[2 * i + 1] * 1000) / 1000;
        if (may_stand(w, u, v))
            uv[2 * i] = u, uv[2 * i + 1] = v;
    }
}

/* Push until every pair keeps `target`, as long as it helps; the best state seen is left in uv. */
static enum outcome push(const struct scatter *w, struct cards *cards, double *uv, double target, const struct progress *progress)
{
    size_t all = w->n + w->n_fixed, stale = 0;
    double *shift = memory_get(2 * all + 1, sizeof *shift), *best = memory_get(2 * all + 1, sizeof *best);
    double *before = memory_get(2 * all + 1, sizeof *before);
    double best_least = -1;
    enum outcome outcome = OUTCOME_OK;
    memset(cards->now, 0, cards->rows * cards->columns * sizeof *cards->now);
    for (size_t i = 0; i < w->n; i++)
        cards->now[card_of(cards, uv[2 * i], uv[2 * i + 1])]++;
    for (int round = 0; round < MOST_ROUNDS && stale < 60; round++) {
        size_t close = 0;
        memcpy(before, uv, 2 * all * sizeof *uv);
        double least = push_round(w, cards, uv, target, round < MOST_ROUNDS / 2, shift, &close);
        stale++;
        if (least > best_least + 1e-4)
            stale = 0;
        if (least > best_least) {
            best_least = least;
            memcpy(best, before, 2 * all * sizeof *uv);
        }
        if (close == 0)
            break;
        if (!progress_tell(progress, 0.3 + 0.1 * round / MOST_ROUNDS, "keeping plants apart")) {
            outcome = OUTCOME_CANCELLED;
            break;
        }
    }
    memcpy(uv, best, 2 * all * sizeof *uv);
    free(shift);
    free(best);
    free(before);
    return outcome;
}

/* Thin what was found; all[] gets the places, then the fixed ones. The outline acts as a mirror, a blurred one so that
 * plants do not line up along it. */
static void thin_found(const struct scatter *w, struct heapful *found, struct cards *cards, double hexagon, double *all)
{
    size_t candidates = found->n, n = 0;
    struct random_stream random = random_make(w->seed, STREAM_EDGE);
    for (size_t i = 0; i < w->n_fixed; i++)
        heapful_add(found, w->fixed[2 * i], w->fixed[2 * i + 1], hexagon);
    double *extra = memory_get(found->n, sizeof *extra);
    bool *anchor = memory_get(found->n, sizeof *anchor), *kept = memory_get(found->n, sizeof *kept);
    uint32_t *card = memory_get(found->n, sizeof *card);
    size_t n_cards = cards->rows * cards->columns, *least = memory_get(n_cards, sizeof *least);
    for (size_t k = 0; k < n_cards; k++)
        least[k] = cards->least[k];
    for (size_t i = 0; i < found->n; i++) {
        double blur = 0.7 + 1.1 * random_uniform(&random);
        extra[i] = thin_crowding(2 * blur * found->edge_far[i], hexagon);
        anchor[i] = i >= candidates;
        card[i] = (uint32_t)card_of(cards, found->uv[2 * i], found->uv[2 * i + 1]);
    }
    thin_points(&(struct thin){.uv = found->uv,
                               .n = found->n,
                               .keep = w->n,
                               .area_m2 = w->outline->area_m2,
                               .extra = extra,
                               .anchor = anchor,
                               .class = card,
                               .class_keep = least,
                               .n_classes = n_cards},
                kept);
    cards_even(found, candidates, cards, hexagon, kept);
    for (size_t i = 0; i < found->n; i++) {
        if (kept[i]) {
            all[2 * n] = found->uv[2 * i], all[2 * n + 1] = found->uv[2 * i + 1];
            n++;
        }
    }
    free(least);
    free(card);
    free(extra);
    free(anchor);
    free(kept);
    require(n == w->n + w->n_fixed);
}

enum outcome scatter_places(const struct scatter *w, const struct progress *progress, double *uv, double *least_m, struct failure *why)
{
    const struct outline *o = w->outline;
    double hexagon = layout_hexagon_m(o->area_m2, (double)(w->n + w->n_fixed));
    struct heapful found = {0};
    struct arena scratch = {0};
    struct cards cards;
    if (w->n == 0) {
        *least_m = 0;
        return OUTCOME_OK;
    }
    if (w->least_m > 0.95 * hexagon) {
        fail(why, OUTCOME_DATA, "%zu plants on %.1f m² cannot all stand %.2f m apart: even the densest even pattern gives %.2f m.",
             w->n + w->n_fixed, o->area_m2, w->least_m, hexagon);
        return failure_remedy(why, "Ask for %.2f m or less, or for fewer plants.", floor(75 * hexagon) / 100);
    }
    enum outcome outcome = gather(w, hexagon, &found, why);
    double *all = NULL;
    if (outcome != OUTCOME_OK)
        goto done;
    if (!progress_tell(progress, 0.1, "thinning places to the number of plants")) {
        outcome = OUTCOME_CANCELLED;
        goto done;
    }
    cards_make(w, &scratch, &cards);
    all = memory_get(2 * (w->n + w->n_fixed), sizeof *all);
    thin_found(w, &found, &cards, hexagon, all);
    settle(w, all);
    outcome = push(w, &cards, all, w->least_m > 0 ? w->least_m + 0.003 : 0.75 * hexagon, progress);
    if (outcome != OUTCOME_OK)
        goto done;
    settle(w, all);
    double least = least_of(w, all, hexagon);
    if (w->least_m > 0 && least < w->least_m) {
        fail(why, OUTCOME_DATA, "A least distance of %.2f m could not be kept with %zu plants on this outline; %.2f m was reached.",
             w->least_m, w->n + w->n_fixed, floor(least * 100) / 100);
        outcome = failure_remedy(why, "Ask for a shorter least distance or fewer plants.");
        goto done;
    }
    memcpy(uv, all, 2 * w->n * sizeof *uv);
    *least_m = isfinite(least) ? floor(least * 100 + 1e-9) / 100 : 0;
done:
    arena_clear(&scratch);
    free(all);
    free(found.uv);
    free(found.edge_far);
    return outcome;
}
