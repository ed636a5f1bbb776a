/* SPDX-License-Identifier: GPL-3.0-or-later
 * The fewest plots to add so that a named cause can be told from the others: all combinations are tried. */
#include "trial/span.h"
#include <stdlib.h>
#include <math.h>
#include <string.h>

enum { MOST_CANDIDATES = 20000, MOST_DISTINCT = 400 };

/// A plot that might be added: levels by number, what of it the present plots do not explain, and how far it departs.
struct candidate {
    struct trial_plot plot;
    double *rest;
    size_t like;
    unsigned changed;
    double density; ///< for the cheaper of equals
    bool lone;      ///< differs from a present plot in the wanted factor alone
};

struct hunt {
    const struct frame_of_plots *frame;
    const struct span *span;
    enum trial_factor factor;
    struct candidate *all;
    size_t n;
    struct arena *arena;
};

static size_t departures(const struct candidate *c)
{
    return (size_t)__builtin_popcount(c->changed);
}

/* Fewer departures first, then a clean pair, then the sparser planting (fewer plants to buy). */
static int candidate_order(const void *a, const void *b)
{
    const struct candidate *x = a, *y = b;
    if (departures(x) != departures(y))
        return departures(x) < departures(y) ? -1 : 1;
    if (x->lone != y->lone)
        return x->lone ? -1 : 1;
    if (x->density != y->density)
        return x->density < y->density ? -1 : 1;
    int site = strcmp(x->plot.site, y->plot.site);
    if (site != 0)
        return site;
    for (size_t f = 0; f < TRIAL_FACTORS; f++) {
        int level = strcmp(x->plot.levels[f] == NULL ? "" : x->plot.levels[f], y->plot.levels[f] == NULL ? "" : y->plot.levels[f]);
        if (level != 0)
            return level;
    }
    return 0;
}

static void candidate_judge(const struct hunt *h, struct candidate *c)
{
    const struct trial_plot *plots = h->frame->plots;
    size_t best = SIZE_MAX;
    for (size_t i = 0; i < h->frame->n; i++) {
        unsigned changed = 0;
        if (!text_same(plots[i].site, c->plot.site))
            continue;
        for (size_t f = 0; f < TRIAL_FACTORS; f++)
            changed |= text_same(plots[i].levels[f], c->plot.levels[f]) ? 0 : 1u << f;
        if (changed == 1u << h->factor)
            c->lone = true;
        if ((size_t)__builtin_popcount(changed) < best) {
            best = (size_t)__builtin_popcount(changed);
            c->like = i, c->changed = changed;
        }
    }
    c->density = c->plot.levels[TRIAL_DENSITY] == NULL ? 0 : atof(c->plot.levels[TRIAL_DENSITY]);
}

/* Every combination of known levels on every site that adds something; of those that add the same, the cheapest. */
static bool candidates_make(struct hunt *h)
{
    const struct frame_of_plots *frame = h->frame;
    size_t combinations = frame->n_sites, none[TRIAL_FACTORS] = {0};
    for (size_t f = 0; f < TRIAL_FACTORS; f++) {
        combinations *= frame->n_levels[f] == 0 ? 1 : frame->n_levels[f];
        if (combinations > MOST_CANDIDATES)
            return false;
    }
    h->all = arena_array(h->arena, combinations, sizeof *h->all);
    for (size_t k = 0; k < combinations; k++) {
        struct candidate c = {.plot = {.code = "new", .site = frame->sites[k % frame->n_sites]}};
        size_t left = k / frame->n_sites;
        bool whole = true;
        for (size_t f = 0; f < TRIAL_FACTORS; f++) {
            size_t levels = frame->n_levels[f] == 0 ? 1 : frame->n_levels[f];
            c.plot.levels[f] = frame->n_levels[f] == 0 ? NULL : frame->levels[f][left % levels];
            left /= levels;
            whole = whole && (c.plot.levels[f] != NULL || frame->n_levels[f] == 0);
        }
        c.rest = arena_array(h->arena, frame->columns, sizeof *c.rest);
        frame_row(frame, &c.plot, none, c.rest);
        /* A level nobody knows stays unknown for the new plot too: leave it out of the row. */
        for (size_t f = 0; f < TRIAL_FACTORS; f++) {
            if (frame->n_levels[f] == 0 && frame->n_unknown[f] > 0)
                c.rest[frame->first[f]] = 0;
        }
        if (!span_reduce(h->span, c.rest))
            continue;
        candidate_judge(h, &c);
        h->all[h->n++] = c;
    }
    qsort(h->all, h->n, sizeof *h->all, candidate_order);
    /* Keep the first of those that add the same. */
    size_t kept = 0;
    for (size_t i = 0; i < h->n && kept < MOST_DISTINCT; i++) {
        bool seen = false;
        for (size_t j = 0; j < kept && !seen; j++) {
            seen = true;
            for (size_t c = 0; c < frame->columns && seen; c++)
                seen = fabs(h->all[i].rest[c] - h->all[j].rest[c]) < 1e-9;
        }
        if (!seen)
            h->all[kept++] = h->all[i];
    }
    h->n = kept;
    return true;
}

/* Whether the present plots and these candidates determine the factor. */
static bool set_tells(const struct hunt *h, const size_t *set, size_t n, struct span *more, double *scratch)
{
    size_t keep = more->rank;
    struct span work = *more;
    memcpy(work.rows, h->span->rows, h->span->rank * h->span->columns * sizeof *work.rows);
    memcpy(work.lead, h->span->lead, h->span->rank * sizeof *work.lead);
    work.rank = h->span->rank;
    for (size_t k = 0; k < n; k++)
        span_add(&work, h->all[set[k]].rest, scratch);
    more->rank = keep;
    return span_tells(&work, h->frame, h->factor, scratch);
}

/* The best set of this size; cost is the sum of departures, sets are tried in order of the candidates. */
static bool best_set(const struct hunt *h, size_t size, size_t *best)
{
    struct span more;
    size_t set[3] = {0}, cheapest = SIZE_MAX, n = h->n;
    double *scratch = arena_array(h->arena, h->frame->columns, sizeof *scratch);
    span_make(h->span->columns, h->span->rank + 3, h->arena, &more);
    if (size == 3 && n > 60)
        n = 60; /* the sixty nearest to plots that exist */
    for (set[0] = 0; set[0] < n; set[0]++) {
        for (set[1] = size > 1 ? set[0] + 1 : 0; set[1] < (size > 1 ? n : 1); set[1]++) {
            for (set[2] = size > 2 ? set[1] + 1 : 0; set[2] < (size > 2 ? n : 1); set[2]++) {
                size_t cost = 0;
                for (size_t k = 0; k < size; k++)
                    cost += departures(&h->all[set[k]]);
                if (cost < cheapest && set_tells(h, set, size, &more, scratch)) {
                    cheapest = cost;
                    memcpy(best, set, sizeof set);
                }
            }
        }
    }
    return cheapest != SIZE_MAX;
}

static void tell(const struct hunt *h, struct trial_addition *out)
{
    struct text text = {0};
    bool lone = false;
    text_print(&text, "%zu more plot%s would separate %s.", out->n_plots, out->n_plots == 1 ? "" : "s", trial_factor_word(h->factor));
    for (size_t k = 0; k < out->n_plots; k++) {
        const struct trial_plot *like = &h->frame->plots[out->like[k]];
        text_print(&text, " On %s one like %s, but", out->plots[k].site, like->code);
        size_t said = 0;
        for (size_t f = 0; f < TRIAL_FACTORS; f++) {
            if (out->changed[k] >> f & 1)
                text_print(&text, "%s %s %s", said++ == 0 ? "" : ",", trial_factor_word((enum trial_factor)f),
                           out->plots[k].levels[f] == NULL ? "not known" : out->plots[k].levels[f]);
        }
        text_add(&text, ".");
    }
    for (size_t i = 0; i < h->n; i++)
        lone = lone || (h->all[i].lone && out->n_plots == 1 && text_same(h->all[i].plot.site, out->plots[0].site) &&
                        memcmp(h->all[i].plot.levels, out->plots[0].levels, sizeof out->plots[0].levels) == 0);
    text_add(&text, lone ? " It differs from a plot that exists in this alone." : " The effect then follows if effects add up.");
    out->sentence = arena_text(h->arena, text_get(&text));
    text_free(&text);
}

enum outcome trial_separate(const struct trial_plot *all, size_t n_all, enum trial_factor factor, struct arena *arena,
                            struct trial_addition *out, struct failure *why)
{
    size_t *index = NULL, n = 0;
    const struct trial_plot *plots = plots_planted(all, n_all, arena, &index, &n);
    struct frame_of_plots frame;
    struct span span;
    struct trial_addition add = {0};
    size_t best[3] = {0};
    frame_plots(plots, n, arena, &frame);
    if (frame.n_unknown[factor] > 0) {
        fail(why, OUTCOME_DATA, "The %s of %zu plots is not known; no further plot can make up for that.", trial_factor_word(factor),
             frame.n_unknown[factor]);
        return failure_remedy(why, "Record it for every plot first.");
    }
    if (frame.n_levels[factor] < 2) {
        fail(why, OUTCOME_DATA, "All plots have the same %s, so nothing is known of its effect.", trial_factor_word(factor));
        return failure_remedy(why, "Add a plot with another level of it that you want to know about.");
    }
    span_of_plots(&frame, 4, arena, &span);
    double *scratch = arena_array(arena, frame.columns, sizeof *scratch);
    if (span_tells(&span, &frame, factor, scratch)) {
        add.sentence = arena_print(arena, "The plots already separate %s.", trial_factor_word(factor));
        *out = add;
        return OUTCOME_OK;
    }
    struct hunt hunt = {.frame = &frame, .span = &span, .factor = factor, .arena = arena};
    if (!candidates_make(&hunt))
        return fail(why, OUTCOME_DATA, "The plots have too many different levels to try every addition.");
    for (size_t size = 1; size <= 3 && add.n_plots == 0; size++) {
        if (best_set(&hunt, size, best))
            add.n_plots = size;
    }
    if (add.n_plots == 0)
        return fail(why, OUTCOME_DATA, "Up to three more plots with levels that occur would not separate %s.", trial_factor_word(factor));
    for (size_t k = 0; k < add.n_plots; k++) {
        add.plots[k] = hunt.all[best[k]].plot;
        add.plots[k].code = arena_print(arena, "new %zu", k + 1);
        add.like[k] = hunt.all[best[k]].like;
        add.changed[k] = hunt.all[best[k]].changed;
    }
    tell(&hunt, &add);
    for (size_t k = 0; k < add.n_plots; k++)
        add.like[k] = index[add.like[k]];
    *out = add;
    return OUTCOME_OK;
}
