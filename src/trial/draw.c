/* SPDX-License-Identifier: GPL-3.0-or-later
 * Which plants or squares are measured: drawn by a stated rule. */
#include "trial/trial.h"
#include <math.h>
#include <string.h>

enum { STREAM_SAMPLE = 6 };

/* Every set of `take` of the list equally likely, in order of the list (Knuth, algorithm S). */
static size_t take_random(const size_t *list, size_t n, size_t take, struct random_stream *random, size_t *out)
{
    size_t taken = 0;
    for (size_t i = 0; i < n && taken < take; i++) {
        if (random_below(random, n - i) < take - taken)
            out[taken++] = list[i];
    }
    return taken;
}

/* How many of each stratum: in proportion by largest remainder, one each where n allows. */
static void share_strata(const size_t *size, size_t strata, size_t population, size_t n, struct arena *scratch, size_t *take)
{
    double *over = arena_array(scratch, strata, sizeof *over);
    size_t given = 0, filled = 0;
    for (size_t s = 0; s < strata; s++)
        filled += size[s] > 0;
    for (size_t s = 0; s < strata; s++) {
        double exact = (double)n * (double)size[s] / (double)population;
        take[s] = (size_t)floor(exact);
        over[s] = exact - floor(exact);
        if (take[s] == 0 && size[s] > 0 && n >= filled)
            take[s] = 1, over[s] = 0;
        given += take[s];
    }
    while (given != n) {
        size_t best = SIZE_MAX;
        for (size_t s = 0; s < strata; s++) {
            bool can = given < n ? take[s] < size[s] : take[s] > 1;
            if (can &&
                (best == SIZE_MAX || (given < n ? over[s] > over[best] : over[s] - (double)take[s] < over[best] - (double)take[best])))
                best = s;
        }
        if (given < n)
            take[best]++, over[best] -= 1, given++;
        else
            take[best]--, over[best] += 1, given--;
    }
}

static void take_strata(const size_t *strata, size_t population, size_t n, struct random_stream *random, struct arena *scratch, size_t *out)
{
    size_t groups = 0, taken = 0;
    for (size_t i = 0; i < population; i++)
        groups = strata[i] >= groups ? strata[i] + 1 : groups;
    size_t *size = arena_array(scratch, groups, sizeof *size), *take = arena_array(scratch, groups, sizeof *take);
    size_t *list = arena_array(scratch, population, sizeof *list);
    bool *chosen = arena_array(scratch, population, sizeof *chosen);
    for (size_t i = 0; i < population; i++)
        size[strata[i]]++;
    share_strata(size, groups, population, n, scratch, take);
    for (size_t s = 0; s < groups; s++) {
        size_t m = 0;
        for (size_t i = 0; i < population; i++) {
            if (strata[i] == s)
                list[m++] = i;
        }
        m = take_random(list, m, take[s], random, out);
        for (size_t k = 0; k < m; k++)
            chosen[out[k]] = true;
    }
    for (size_t i = 0; i < population; i++) {
        if (chosen[i])
            out[taken++] = i;
    }
}

enum outcome trial_sample(size_t population, size_t n, enum trial_rule rule, const size_t *strata, uint64_t seed, struct arena *arena,
                          size_t **drawn, const char **sentence, struct failure *why)
{
    if (n == 0 || n > population)
        return fail(why, OUTCOME_USAGE, "%zu cannot be drawn from %zu.", n, population);
    if (rule == TRIAL_RULE_BY_STRATUM && strata == NULL)
        return fail(why, OUTCOME_USAGE, "Drawing by stratum needs the strata.");
    for (size_t i = 0; rule == TRIAL_RULE_BY_STRATUM && i < population; i++) {
        if (strata[i] >= 1000000)
            return fail(why, OUTCOME_USAGE, "Strata are numbered from 0 to 999,999.");
    }
    struct arena scratch = {0};
    struct random_stream random = random_make(seed, STREAM_SAMPLE);
    size_t *out = arena_array(arena, population, sizeof *out), *all = arena_array(&scratch, population, sizeof *all);
    for (size_t i = 0; i < population; i++)
        all[i] = i;
    unsigned long long told = seed;
    if (rule == TRIAL_RULE_EVERY_KTH) {
        /* A start anywhere in the first step, steps of N / n, rounded down: every one equally likely. */
        double step = (double)population / (double)n, start = random_uniform(&random) * step;
        for (size_t k = 0; k < n; k++) {
            size_t at = (size_t)floor(start + (double)k * step);
            out[k] = at >= population ? population - 1 : at;
        }
        *sentence =
            arena_print(arena, "%zu of %zu: every %.4g-th along the list from a random start, seed %llu.", n, population, step, told);
    } else if (rule == TRIAL_RULE_BY_STRATUM) {
        take_strata(strata, population, n, &random, &scratch, out);
        *sentence = arena_print(arena,
                                "%zu of %zu: by chance within each stratum, in proportion to its size (one at least where the number "
                                "allows), seed %llu.",
                                n, population, told);
    } else {
        take_random(all, population, n, &random, out);
        *sentence = arena_print(arena, "%zu of %zu: by chance, every set of %zu equally likely, seed %llu.", n, population, n, told);
    }
    *drawn = out;
    arena_clear(&scratch);
    return OUTCOME_OK;
}
