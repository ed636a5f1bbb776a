/* SPDX-License-Identifier: GPL-3.0-or-later
 * Height growth in views that together cannot flatter: the same plants, per plant planted, per square metre, the tallest
 * few, and beside them the mean of survivors that does flatter. */
#include "evidence/evidence.h"
#include "stats/stats.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { LEAST_SHARED = 3 }; ///< plants of a species measured twice in each plot, to count as shared

static struct estimate mean_of(const double *x, size_t n, double level)
{
    if (n == 0)
        return estimate_unknown();
    double mean = sum_exactly(x, n) / (double)n, squares = 0;
    for (size_t i = 0; i < n; i++)
        squares += (x[i] - mean) * (x[i] - mean);
    if (n == 1) {
        struct estimate one = estimate_unknown();
        one.value = mean;
        one.n = 1;
        return one;
    }
    return estimate_student(mean, sqrt(squares / (double)(n - 1) / (double)n), (double)n - 1, level, (double)n);
}

static int greater_first(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x < y) - (x > y);
}

/* Number of first-planting plants with a height at a census. */
static size_t measured_at(const struct plot_lives *lives, size_t census)
{
    size_t n = 0;
    for (size_t p = 0; p < lives->n_plants; p++)
        n += lives->plants[p]->origin == ORIGIN_FIRST_PLANTING && is_known(lives->heights_cm[p * lives->n_censuses + census]);
    return n;
}

static enum outcome censuses_choose(const struct plot_lives *lives, size_t *from, size_t *to, struct failure *why)
{
    size_t m = lives->n_censuses, first = SIZE_MAX, last = SIZE_MAX;
    for (size_t c = 0; c < m; c++) {
        if (measured_at(lives, c) < 3)
            continue;
        if (first == SIZE_MAX)
            first = c;
        last = c;
    }
    if (first == SIZE_MAX || first == last) {
        fail(why, OUTCOME_DATA, "Plot %s/%s has no two censuses with heights.", lives->site->code, lives->plot->code);
        return failure_remedy(why, "Growth needs the same plants measured twice.");
    }
    *from = first;
    *to = last;
    return OUTCOME_OK;
}

struct columns {
    double *gain, *before, *now, *all, *planted, *both_before, *both_now;
    size_t n_gain, n_before, n_now, n_all, n_planted;
};

static struct columns columns_fill(const struct plot_lives *lives, size_t from, size_t to, struct arena *arena)
{
    size_t n = lives->n_plants, m = lives->n_censuses;
    struct columns c = {.gain = arena_array(arena, n, sizeof(double)),
                        .before = arena_array(arena, n, sizeof(double)),
                        .now = arena_array(arena, n, sizeof(double)),
                        .all = arena_array(arena, n, sizeof(double)),
                        .planted = arena_array(arena, n, sizeof(double)),
                        .both_before = arena_array(arena, n, sizeof(double)),
                        .both_now = arena_array(arena, n, sizeof(double))};
    for (size_t p = 0; p < n; p++) {
        double before = lives->heights_cm[p * m + from], now = lives->heights_cm[p * m + to];
        enum life_state state = lives->states[p * m + to];
        if (is_known(now))
            c.all[c.n_all++] = now;
        if (lives->plants[p]->origin != ORIGIN_FIRST_PLANTING)
            continue;
        if (is_known(before))
            c.before[c.n_before++] = before;
        if (is_known(now))
            c.now[c.n_now++] = now;
        if (is_known(before) && is_known(now)) {
            c.both_before[c.n_gain] = before;
            c.both_now[c.n_gain] = now;
            c.gain[c.n_gain++] = now - before;
        }
        if (is_known(now) || state == LIFE_DEAD)
            c.planted[c.n_planted++] = state == LIFE_DEAD ? 0 : now;
    }
    return c;
}

static const char *growth_sentence(const struct plot_growth *g, struct arena *arena)
{
    const char *name = arena_print(arena, "%s/%s", g->lives->site->code, g->lives->plot->code);
    double naive = g->survivors_now_cm.value - g->survivors_before_cm.value, same = g->same_plants_cm.value;
    if (!is_known(same))
        return arena_print(arena, "%s: no plant was measured twice.", name);
    const char *fair = arena_print(arena, "the same %zu plants grew %.0f cm (%.0f to %.0f) in %.1f years", g->measured_both, same,
                                   g->same_plants_cm.low, g->same_plants_cm.high, g->years);
    if (naive - same > 5 && naive > 1.15 * same)
        return arena_print(arena, "%s: %s; the mean of survivors rose by %.0f cm because short plants died.", name, fair, naive);
    if (same - naive > 5 && same > 1.15 * naive)
        return arena_print(
            arena, "%s: %s; the mean of whoever was alive rose by %.0f cm only, because tall kinds died or fewer of them were measured.",
            name, fair, naive);
    return arena_print(arena, "%s: %s.", name, fair);
}

enum outcome evidence_growth(const struct plot_lives *lives, double level, struct arena *arena, struct plot_growth *out,
                             struct failure *why)
{
    struct plot_growth g = {.lives = lives, .per_m2_cm = unknown_real(), .tallest_cm = unknown_real(), .rgr = estimate_unknown()};
    enum outcome outcome = censuses_choose(lives, &g.from, &g.to, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct columns c = columns_fill(lives, g.from, g.to, arena);
    double area = lives->plot->net_area_m2;
    g.years = date_years(lives->censuses[g.from].to, lives->censuses[g.to].to);
    g.measured = c.n_now;
    g.measured_both = c.n_gain;
    g.same_plants_cm = mean_of(c.gain, c.n_gain, level);
    g.per_planted_cm = mean_of(c.planted, c.n_planted, level);
    g.survivors_before_cm = mean_of(c.before, c.n_before, level);
    g.survivors_now_cm = mean_of(c.now, c.n_now, level);
    bool whole = !lives->censuses[g.to].sample;
    if (is_known(area) && area > 0 && whole)
        g.per_m2_cm = sum_exactly(c.all, c.n_all) / area;
    size_t tallest = is_known(area) && area > 0 ? (size_t)ceil(5 * area / 100) : 0;
    qsort(c.all, c.n_all, sizeof *c.all, greater_first);
    if (tallest > 0 && tallest <= c.n_all && whole)
        g.tallest_cm = sum_exactly(c.all, tallest) / (double)tallest;
    if (c.n_gain > 1 && g.years >= 0.5) {
        size_t n = 0; /* a height of 0 has no logarithm */
        for (size_t i = 0; i < c.n_gain; i++)
            if (c.both_before[i] > 0 && c.both_now[i] > 0) {
                c.both_before[n] = c.both_before[i];
                c.both_now[n++] = c.both_now[i];
            }
        if (n > 1)
            outcome = rgr_paired(c.both_before, c.both_now, n, g.years, level, &g.rgr, why);
    }
    g.sentence = growth_sentence(&g, arena);
    *out = g;
    return outcome;
}

/* Mean same-plant gain of one species of a plot; unknown under LEAST_SHARED plants. */
static double species_gain(const struct plot_lives *lives, size_t from, size_t to, const char *species)
{
    double sum = 0;
    size_t n = 0, m = lives->n_censuses;
    for (size_t p = 0; p < lives->n_plants; p++) {
        double before = lives->heights_cm[p * m + from], now = lives->heights_cm[p * m + to];
        if (lives->plants[p]->origin != ORIGIN_FIRST_PLANTING || !is_known(before) || !is_known(now) ||
            !text_same(lives->plants[p]->species, species))
            continue;
        sum += now - before;
        n++;
    }
    return n >= LEAST_SHARED ? sum / (double)n : unknown_real();
}

enum outcome evidence_shared_growth(const struct plot_lives *a, const struct plot_lives *b, double level, struct arena *arena,
                                    struct shared_growth *out, struct failure *why)
{
    size_t from_a = 0, to_a = 0, from_b = 0, to_b = 0, n = 0;
    enum outcome outcome = censuses_choose(a, &from_a, &to_a, why);
    if (outcome == OUTCOME_OK)
        outcome = censuses_choose(b, &from_b, &to_b, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    const char **seen = arena_array(arena, a->n_plants, sizeof *seen);
    double *xa = arena_array(arena, a->n_plants, sizeof *xa), *xb = arena_array(arena, a->n_plants, sizeof *xb),
           *xd = arena_array(arena, a->n_plants, sizeof *xd);
    size_t n_seen = 0;
    struct text names = {0};
    for (size_t p = 0; p < a->n_plants; p++) {
        const char *species = a->plants[p]->species;
        bool done = false;
        for (size_t i = 0; i < n_seen && !done; i++)
            done = text_same(seen[i], species);
        if (done)
            continue;
        seen[n_seen++] = species;
        double ga = species_gain(a, from_a, to_a, species), gb = species_gain(b, from_b, to_b, species);
        if (!is_known(ga) || !is_known(gb))
            continue;
        xa[n] = ga;
        xb[n] = gb;
        xd[n++] = ga - gb;
        text_print(&names, "%s%s", n > 1 ? ", " : "", species);
    }
    *out = (struct shared_growth){.species = n,
                                  .names = arena_text(arena, text_get(&names)),
                                  .a_cm = mean_of(xa, n, level),
                                  .b_cm = mean_of(xb, n, level),
                                  .difference_cm = mean_of(xd, n, level)};
    text_free(&names);
    if (n == 0)
        out->sentence = arena_print(arena, "%s: %s and %s share no species with %d plants measured twice in each.", a->site->code,
                                    a->plot->code, b->plot->code, LEAST_SHARED);
    else
        out->sentence = arena_print(arena, "%s: on the %zu species that both have, the same plants gained %.0f cm in %s and %.0f cm in %s.",
                                    a->site->code, n, out->a_cm.value, a->plot->code, out->b_cm.value, b->plot->code);
    return OUTCOME_OK;
}
