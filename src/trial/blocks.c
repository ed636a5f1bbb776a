/* SPDX-License-Identifier: GPL-3.0-or-later
 * Which kinds of plot on which sites: sites as blocks, the variance of the contrasts asked made least. Every way is tried
 * where that can be done; else one site after another is exchanged from many starts. A dozen sites, four kinds. */
#include "trial/trial.h"
#include <math.h>
#include <string.h>

enum { PLANTED = TRIAL_KIND_U, SUBSETS = 1 << PLANTED, MOST_TRIED = 400000, STARTS = 60, CONTRASTS = 4 };

static const double contrasts[CONTRASTS][PLANTED] = {
    {1, -1, 0, 0},  /* recipe: D − C */
    {0, -1, 1, 0},  /* soil: P − C */
    {1, 0, -1, 0},  /* density: D − P */
    {1, 1, -1, -1}, /* together: (D − N) − (P − C) */
};

/* Information on the kinds: each site gives diag(1) − 11'/k over the kinds it holds (John & Williams 1995, section 1.3). */
static void information_add(unsigned kinds, double sign, double m[PLANTED][PLANTED])
{
    double k = __builtin_popcount(kinds & (SUBSETS - 1));
    for (size_t i = 0; i < PLANTED; i++)
        for (size_t j = 0; j < PLANTED; j++)
            if ((kinds >> i & 1) && (kinds >> j & 1))
                m[i][j] += sign * ((i == j ? 1 : 0) - 1 / k);
}

/* Variance of a contrast, c' M⁻ c; unknown if c is not in the space of M. M is solved by elimination with the largest pivot. */
static double contrast_variance(double (*information)[PLANTED], const double *c)
{
    double a[PLANTED][PLANTED + 1];
    bool used[PLANTED] = {false};
    size_t pivot_of[PLANTED];
    memset(pivot_of, 0xff, sizeof pivot_of);
    for (size_t i = 0; i < PLANTED; i++) {
        memcpy(a[i], information[i], sizeof information[i]);
        a[i][PLANTED] = c[i];
    }
    for (size_t column = 0; column < PLANTED; column++) {
        size_t best = SIZE_MAX;
        for (size_t i = 0; i < PLANTED; i++)
            if (!used[i] && fabs(a[i][column]) > 1e-9 && (best == SIZE_MAX || fabs(a[i][column]) > fabs(a[best][column])))
                best = i;
        if (best == SIZE_MAX)
            continue;
        used[best] = true;
        pivot_of[column] = best;
        for (size_t i = 0; i < PLANTED; i++) {
            double times = i == best ? 0 : a[i][column] / a[best][column];
            for (size_t j = column; times != 0 && j <= PLANTED; j++)
                a[i][j] -= times * a[best][j];
        }
    }
    double sum = 0;
    for (size_t i = 0; i < PLANTED; i++)
        if (!used[i] && fabs(a[i][PLANTED]) > 1e-7)
            return unknown_real();
    for (size_t column = 0; column < PLANTED; column++)
        if (pivot_of[column] != SIZE_MAX)
            sum += c[column] * a[pivot_of[column]][PLANTED] / a[pivot_of[column]][column];
    return sum;
}

/* Mean variance of what is asked; infinite where one of them is not determined. */
static double criterion(double (*information)[PLANTED], unsigned asked)
{
    double sum = 0;
    int n = 0;
    for (unsigned q = 0; q < CONTRASTS; q++) {
        if (!(asked >> q & 1))
            continue;
        double variance = contrast_variance(information, contrasts[q]);
        if (!is_known(variance))
            return (double)INFINITY;
        sum += variance;
        n++;
    }
    return sum / n;
}

struct search {
    struct trial_block *blocks;
    size_t n, most;
    unsigned asked;
    unsigned now[40], best[40];
    double least;
    size_t least_added, tried;
    double information[PLANTED][PLANTED];
};

static size_t added_by(const struct trial_block *block, unsigned kinds)
{
    return (size_t)__builtin_popcount(kinds & ~block->must);
}

static bool fits(const struct trial_block *block, unsigned kinds)
{
    return (kinds & block->must) == block->must && added_by(block, kinds) <= block->room;
}

static void judge(struct search *s, size_t added)
{
    s->tried++;
    double value = criterion(s->information, s->asked);
    if (value < s->least - 1e-9 || (value < s->least + 1e-9 && added < s->least_added)) {
        s->least = value;
        s->least_added = added;
        memcpy(s->best, s->now, sizeof s->best);
    }
}

static bool same_block(const struct trial_block *a, const struct trial_block *b)
{
    return a->must == b->must && a->room == b->room;
}

/* Every way; sites that are alike take their sets in ascending order, so that none is tried twice. */
static void try_all(struct search *s, size_t at, size_t added)
{
    if (at == s->n) {
        judge(s, added);
        return;
    }
    unsigned from = at > 0 && same_block(&s->blocks[at], &s->blocks[at - 1]) ? s->now[at - 1] : 0;
    for (unsigned kinds = from; kinds < SUBSETS; kinds++) {
        size_t more = added_by(&s->blocks[at], kinds);
        if (!fits(&s->blocks[at], kinds) || added + more > s->most)
            continue;
        s->now[at] = kinds;
        information_add(kinds, 1, s->information);
        try_all(s, at + 1, added + more);
        information_add(kinds, -1, s->information);
    }
}

/* How many ways there are, counted only as far as it matters. */
static double ways(const struct trial_block *blocks, size_t n)
{
    double all = 1;
    for (size_t i = 0; i < n;) {
        size_t alike = 1;
        double sets = 0;
        while (i + alike < n && same_block(&blocks[i], &blocks[i + alike]))
            alike++;
        for (unsigned kinds = 0; kinds < SUBSETS; kinds++)
            sets += fits(&blocks[i], kinds);
        for (size_t k = 0; k < alike; k++) /* multisets of `alike` out of `sets` */
            all *= (sets + (double)k) / (double)(k + 1);
        i += alike;
    }
    return all;
}

/* One start: fill at random, then change one site, or two at a time, as long as it gets better. */
static void exchange(struct search *s, struct random_stream *random)
{
    size_t added = 0;
    memset(s->information, 0, sizeof s->information);
    for (size_t i = 0; i < s->n; i++) {
        unsigned kinds = (unsigned)(random_uniform(random) * SUBSETS);
        if (!fits(&s->blocks[i], kinds) || added + added_by(&s->blocks[i], kinds) > s->most)
            kinds = s->blocks[i].must;
        s->now[i] = kinds;
        added += added_by(&s->blocks[i], kinds);
        information_add(kinds, 1, s->information);
    }
    judge(s, added);
    double now = criterion(s->information, s->asked);
    for (bool better = true; better;) {
        better = false;
        for (size_t i = 0; i < s->n; i++) {
            for (size_t j = i; j < s->n; j++) {
                for (unsigned a = 0; a < SUBSETS; a++) {
                    for (unsigned b = 0; b < (i == j ? 1u : (unsigned)SUBSETS); b++) {
                        unsigned was_a = s->now[i], was_b = s->now[j];
                        size_t count = added - added_by(&s->blocks[i], was_a) + added_by(&s->blocks[i], a);
                        if (!fits(&s->blocks[i], a) || (i != j && !fits(&s->blocks[j], b)))
                            continue;
                        if (i != j)
                            count = count - added_by(&s->blocks[j], was_b) + added_by(&s->blocks[j], b);
                        if (count > s->most)
                            continue;
                        information_add(was_a, -1, s->information);
                        information_add(a, 1, s->information);
                        s->now[i] = a;
                        if (i != j) {
                            information_add(was_b, -1, s->information);
                            information_add(b, 1, s->information);
                            s->now[j] = b;
                        }
                        double then = criterion(s->information, s->asked);
                        if (then < now - 1e-9 || (then < now + 1e-9 && count < added)) {
                            now = then;
                            added = count;
                            better = true;
                            judge(s, added);
                            continue;
                        }
                        information_add(a, -1, s->information);
                        information_add(was_a, 1, s->information);
                        s->now[i] = was_a;
                        if (i != j) {
                            information_add(b, -1, s->information);
                            information_add(was_b, 1, s->information);
                            s->now[j] = was_b;
                        }
                    }
                }
            }
        }
    }
}

static void result(const struct search *s, struct trial_blocking *out)
{
    double m[PLANTED][PLANTED] = {{0}};
    unsigned used = 0;
    size_t sites = 0;
    static const unsigned pairs[CONTRASTS] = {3, 6, 5, 15};
    for (size_t i = 0; i < s->n; i++) {
        s->blocks[i].kinds = s->best[i] | (s->blocks[i].must & ~(unsigned)(SUBSETS - 1));
        unsigned planted = s->best[i] & (SUBSETS - 1);
        if (planted != 0) {
            information_add(planted, 1, m);
            sites++;
        }
        used |= planted;
        out->plots += (size_t)__builtin_popcount(planted);
        out->added += added_by(&s->blocks[i], s->best[i]);
        for (size_t q = 0; q < CONTRASTS; q++)
            out->pairs[q] += (planted & pairs[q]) == pairs[q];
    }
    for (size_t q = 0; q < TRIAL_QUESTIONS; q++)
        out->variance[q] = q < CONTRASTS ? contrast_variance(m, contrasts[q]) : unknown_real();
    out->df = (double)out->plots - (double)sites - (double)__builtin_popcount(used) + 1;
    out->mean = s->least;
    out->tried = s->tried;
}

enum outcome trial_blocks_choose(struct trial_block *blocks, size_t n, unsigned asked, size_t most_added, uint64_t seed,
                                 struct arena *arena, struct trial_blocking *out, struct failure *why)
{
    unsigned wanted = asked & ((1u << CONTRASTS) - 1);
    if (n == 0 || n > 40)
        return fail(why, OUTCOME_USAGE, "Between 1 and 40 sites can be planned together.");
    if (wanted == 0)
        return fail(why, OUTCOME_USAGE, "Nothing that is a difference between plots was asked.");
    struct search *s = arena_alloc(arena, sizeof *s);
    *s = (struct search){.blocks = blocks, .n = n, .most = most_added, .asked = wanted, .least = (double)INFINITY, .least_added = SIZE_MAX};
    struct trial_blocking found = {.all_tried = ways(blocks, n) <= MOST_TRIED};
    for (size_t i = 0; i < n; i++)
        blocks[i].must &= (1u << TRIAL_KINDS) - 1;
    unsigned unplanted[40];
    for (size_t i = 0; i < n; i++) { /* U has no contrast: kept aside */
        unplanted[i] = blocks[i].must & 1u << TRIAL_KIND_U;
        blocks[i].must &= SUBSETS - 1;
    }
    if (found.all_tried) {
        try_all(s, 0, 0);
    } else {
        for (uint64_t start = 0; start < (n <= 12 ? STARTS : 8); start++) {
            struct random_stream random = random_make(seed, start);
            exchange(s, &random);
        }
    }
    if (isfinite(s->least))
        result(s, &found);
    for (size_t i = 0; i < n; i++) {
        blocks[i].must |= unplanted[i];
        blocks[i].kinds |= unplanted[i];
    }
    if (!isfinite(s->least)) {
        fail(why, OUTCOME_DATA, "With these sites and so few plots to add, what is asked is not determined.");
        return failure_remedy(why, "Allow more plots, or room for two or three on a site.");
    }
    *out = found;
    return OUTCOME_OK;
}
