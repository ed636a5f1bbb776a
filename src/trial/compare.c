/* SPDX-License-Identifier: GPL-3.0-or-later
 * The difference table: every pair of plots of a site, factor by factor, and the plain sentences that follow from it. */
#include "trial/span.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

static const char *const factor_words[TRIAL_FACTORS] = {"density",  "preparation", "mix",          "fence",
                                                        "watering", "plant stock", "planting date"};
static const char *const effect_words[TRIAL_FACTORS] = {"density", "soil", "mix", "fence", "watering", "plant stock", "planting date"};

const char *trial_factor_word(enum trial_factor factor)
{
    return factor_words[factor];
}

const char *trial_effect_word(enum trial_factor factor)
{
    return effect_words[factor];
}

/* The number a level begins with, or NaN. */
static double level_number(const char *level)
{
    char *end = NULL;
    if (level == NULL)
        return unknown_real();
    double number = strtod(level, &end);
    return end == level ? unknown_real() : number;
}

static bool level_none(const char *level)
{
    const char *const nothing[] = {"none", "no", "not prepared", "unprepared", "without", "0"};
    for (size_t i = 0; i < sizeof nothing / sizeof *nothing; i++) {
        if (text_same_nocase(level, nothing[i]))
            return true;
    }
    return false;
}

/* Whether b has the richer recipe, so that the difference is written b − a: denser, or something where a has nothing. */
static bool richer(const struct trial_plot *a, const struct trial_plot *b)
{
    double da = level_number(a->levels[TRIAL_DENSITY]), db = level_number(b->levels[TRIAL_DENSITY]);
    if (is_known(da) && is_known(db) && da != db)
        return db > da;
    for (size_t f = 1; f < TRIAL_FACTORS; f++) {
        bool na = level_none(a->levels[f]), nb = level_none(b->levels[f]);
        if (na != nb)
            return na;
    }
    return false;
}

/* "density", "density and mix", "density, preparation and mix". */
static char *words_of_bits(unsigned bits, struct arena *arena)
{
    struct text text = {0};
    size_t n = (size_t)__builtin_popcount(bits), seen = 0;
    for (size_t f = 0; f < TRIAL_FACTORS; f++) {
        if (!(bits >> f & 1))
            continue;
        text_print(&text, "%s%s", seen == 0 ? "" : seen + 1 == n ? " and " : ", ", factor_words[f]);
        seen++;
    }
    char *out = arena_text(arena, text_get(&text));
    text_free(&text);
    return out;
}

static const char *pair_sentence(const struct trial_plot *plots, const struct trial_pair *p, struct arena *arena)
{
    const char *a = plots[p->a].code, *b = plots[p->b].code;
    unsigned differ = 0, unknown = 0;
    enum trial_factor only = TRIAL_FACTORS;
    for (size_t f = 0; f < TRIAL_FACTORS; f++) {
        if (p->marks[f] == TRIAL_DIFFERS)
            differ |= 1u << f, only = (enum trial_factor)f;
        if (p->marks[f] == TRIAL_NOT_KNOWN)
            unknown |= 1u << f;
    }
    const char *chosen = p->drawn ? ""
                                  : " The ground was not drawn by lot, or the draw is not recorded, so a difference between the two "
                                    "pieces of ground is mixed in.";
    const char *hidden = unknown == 0 ? ""
                                      : arena_print(arena,
                                                    " Whether they differ in %s is not known; until it is recorded the difference "
                                                    "cannot be given to any one cause.",
                                                    words_of_bits(unknown, arena));
    if (p->n_differ == 0)
        return arena_print(arena, "%s and %s %s: a difference between them is place and chance.%s%s", a, b,
                           unknown == 0 ? "have the same recipe" : "differ in nothing that is recorded", hidden, chosen);
    if (p->n_differ == 1 && unknown == 0)
        return arena_print(arena, "%s effect = %s − %s: they differ in %s alone.%s", effect_words[only], a, b, factor_words[only], chosen);
    if (p->n_differ == 1)
        return arena_print(arena, "%s − %s would show the %s effect if nothing else differed.%s%s", a, b, effect_words[only], hidden,
                           chosen);
    return arena_print(arena,
                       "%s − %s shows the whole recipe only: %s differ together, so the difference cannot be given to any one of them.%s%s",
                       a, b, words_of_bits(differ, arena), hidden, chosen);
}

static void pair_mark(const struct trial_plot *plots, struct trial_pair *p, struct arena *arena)
{
    const struct trial_plot *a = &plots[p->a], *b = &plots[p->b];
    for (size_t f = 0; f < TRIAL_FACTORS; f++) {
        if (a->levels[f] == NULL || b->levels[f] == NULL)
            p->marks[f] = TRIAL_NOT_KNOWN, p->n_unknown++;
        else if (!text_same(a->levels[f], b->levels[f]))
            p->marks[f] = TRIAL_DIFFERS, p->n_differ++;
    }
    p->drawn = a->allocation == ALLOCATION_METHOD_DRAWN_BY_LOT && b->allocation == ALLOCATION_METHOD_DRAWN_BY_LOT;
    p->sentence = pair_sentence(plots, p, arena);
}

static bool pair_clean(const struct trial_pair *p, size_t factor)
{
    return p->n_differ == 1 && p->n_unknown == 0 && p->marks[factor] == TRIAL_DIFFERS;
}

/* Factors that move together: joined wherever a combination of columns that no plot shows takes in both. */
static void aliases(const struct frame_of_plots *frame, const struct span *span, struct arena *arena, struct trial_attribution *out)
{
    bool *leads = arena_array(arena, frame->columns, sizeof *leads);
    for (size_t k = 0; k < span->rank; k++)
        leads[span->lead[k]] = true;
    unsigned group[TRIAL_FACTORS];
    for (size_t f = 0; f < TRIAL_FACTORS; f++)
        group[f] = 1u << f;
    for (size_t c = 0; c < frame->columns; c++) {
        if (leads[c])
            continue;
        /* The combination that belongs to the free column c: 1 there, and minus its entry for each leading column. */
        unsigned in = 0;
        for (size_t f = 0; f < TRIAL_FACTORS; f++) {
            if (c >= frame->first[f] && c < frame->last[f])
                in |= 1u << f;
            for (size_t k = 0; k < span->rank; k++) {
                bool mine = span->lead[k] >= frame->first[f] && span->lead[k] < frame->last[f];
                if (mine && fabs(span->rows[k * span->columns + c]) > 1e-9)
                    in |= 1u << f;
            }
        }
        unsigned joined = in;
        for (size_t f = 0; f < TRIAL_FACTORS; f++)
            joined |= group[f] & in ? group[f] : 0;
        for (size_t f = 0; f < TRIAL_FACTORS; f++)
            group[f] = joined >> f & 1 ? group[f] | joined : group[f];
    }
    for (size_t f = 0; f < TRIAL_FACTORS; f++)
        out[f].alias = out[f].estimable || !out[f].varies ? 0 : group[f] & ~(1u << f);
}

/* What a column stands for: "density 3 per m²", "site LK", "mix not known (1)". */
static const char *column_words(const struct frame_of_plots *frame, size_t column, struct arena *arena)
{
    if (column < frame->n_sites)
        return arena_print(arena, "site %s", frame->sites[column]);
    for (size_t f = 0; f < TRIAL_FACTORS; f++) {
        size_t known = frame->n_levels[f] > 0 ? frame->n_levels[f] - 1 : 0;
        if (column < frame->first[f] || column >= frame->last[f])
            continue;
        if (column - frame->first[f] < known)
            return arena_print(arena, "%s %.60s", factor_words[f], frame->levels[f][column - frame->first[f] + 1]);
        return arena_print(arena, "%s not known (%zu)", factor_words[f], column - frame->first[f] - known + 1);
    }
    return "?";
}

/* Every column that no plot determines, written as what it cannot be told from: "density 1 per m² moves with preparation none". */
static void alias_words(const struct frame_of_plots *frame, const struct span *span, struct trial_table *t, struct arena *arena)
{
    bool *leads = arena_array(arena, frame->columns, sizeof *leads);
    for (size_t k = 0; k < span->rank; k++)
        leads[span->lead[k]] = true;
    t->aliases = arena_array(arena, frame->columns - span->rank + 1, sizeof *t->aliases);
    for (size_t c = 0; c < frame->columns; c++) {
        if (leads[c])
            continue;
        struct text text = {0};
        size_t said = 0;
        text_print(&text, "%s = ", column_words(frame, c, arena));
        for (size_t k = 0; k < span->rank; k++) {
            double times = span->rows[k * span->columns + c];
            if (fabs(times) < 1e-9)
                continue;
            bool one = fabs(fabs(times) - 1) < 1e-9;
            text_print(&text, "%s", times < 0 ? said == 0 ? "− " : " − " : said == 0 ? "" : " + ");
            if (!one)
                text_print(&text, "%.3g × ", fabs(times));
            text_add(&text, column_words(frame, span->lead[k], arena));
            said++;
        }
        if (said == 0)
            text_add(&text, "nothing that any plot shows");
        t->aliases[t->n_aliases++] = arena_text(arena, text_get(&text));
        text_free(&text);
    }
}

/* "D − P" where the codes are the same at every site, else "D1 − P1 at BS, D − Q at FB". */
static char *clean_contrasts(const struct trial_plot *plots, const struct trial_table *t, size_t factor, struct arena *arena)
{
    struct text text = {0};
    const struct trial_pair *first = NULL;
    size_t sites = 0, named = 0;
    bool alike = true;
    const char *last_site = NULL;
    for (size_t k = 0; k < t->n_pairs; k++) {
        const struct trial_pair *p = &t->pairs[k];
        if (!pair_clean(p, factor))
            continue;
        sites += !text_same(last_site, plots[p->a].site);
        last_site = plots[p->a].site;
        first = first == NULL ? p : first;
        alike = alike && text_same(plots[p->a].code, plots[first->a].code) && text_same(plots[p->b].code, plots[first->b].code);
    }
    if (alike && first != NULL) {
        text_print(&text, "%s − %s", plots[first->a].code, plots[first->b].code);
        if (sites > 1)
            text_print(&text, " at each of %zu sites", sites);
    } else {
        for (size_t k = 0; k < t->n_pairs && named < 6; k++) {
            const struct trial_pair *p = &t->pairs[k];
            if (pair_clean(p, factor))
                text_print(&text, "%s%s − %s%s%s", named++ == 0 ? "" : ", ", plots[p->a].code, plots[p->b].code, sites > 1 ? " at " : "",
                           sites > 1 ? plots[p->a].site : "");
        }
    }
    char *out = arena_text(arena, text_get(&text));
    text_free(&text);
    return out;
}

static bool differs_within(const struct trial_table *t, size_t factor)
{
    for (size_t k = 0; k < t->n_pairs; k++) {
        if (t->pairs[k].marks[factor] == TRIAL_DIFFERS)
            return true;
    }
    return false;
}

static void attribute(const struct trial_plot *plots, const struct frame_of_plots *frame, const struct span *span, struct trial_table *t,
                      struct arena *arena)
{
    double *scratch = arena_array(arena, frame->columns, sizeof *scratch);
    for (size_t f = 0; f < TRIAL_FACTORS; f++) {
        struct trial_attribution *a = &t->factors[f];
        const char *site = NULL;
        a->factor = (enum trial_factor)f;
        a->varies = frame->n_levels[f] > 1 || frame->n_unknown[f] > 0;
        a->estimable = span_tells(span, frame, a->factor, scratch);
        for (size_t k = 0; k < t->n_pairs; k++) {
            if (!pair_clean(&t->pairs[k], f))
                continue;
            a->clean_pairs++;
            a->clean_sites += !text_same(site, plots[t->pairs[k].a].site);
            site = plots[t->pairs[k].a].site;
        }
    }
    aliases(frame, span, arena, t->factors);
    for (size_t f = 0; f < TRIAL_FACTORS; f++) {
        struct trial_attribution *a = &t->factors[f];
        if (!a->varies)
            a->sentence = arena_print(arena, "%s is the same in every plot.", factor_words[f]);
        else if (a->clean_pairs > 0)
            a->sentence = arena_print(arena, "%s effect = %s", effect_words[f], clean_contrasts(plots, t, f, arena));
        else if (frame->n_unknown[f] > 0)
            a->sentence = arena_print(arena, "%s is not known for %zu of %zu plots: its effect cannot be told from anything else.",
                                      factor_words[f], frame->n_unknown[f], frame->n);
        else if (a->estimable)
            a->sentence = arena_print(
                arena, "No pair differs in %s alone; its effect follows from the plots together only if effects add up.", factor_words[f]);
        else if (a->alias != 0)
            a->sentence = arena_print(arena, "%s moves together with %s: its effect cannot be told from theirs.", factor_words[f],
                                      words_of_bits(a->alias, arena));
        else
            a->sentence = differs_within(t, f) ? arena_print(arena,
                                                             "%s differs within a site only together with something else: not all its "
                                                             "effects can be told from those of other things and of the place.",
                                                             factor_words[f])
                                               : arena_print(arena,
                                                             "%s differs only between sites: its effect cannot be told from that of "
                                                             "the place.",
                                                             factor_words[f]);
    }
}

static const char *summary(const struct trial_table *t, struct arena *arena)
{
    struct text text = {0};
    unsigned mixed = 0;
    size_t clean = 0;
    /* Soil before density: the order in which a reader asks. */
    static const enum trial_factor order[TRIAL_FACTORS] = {TRIAL_PREPARATION, TRIAL_DENSITY, TRIAL_MIX, TRIAL_FENCE,
                                                           TRIAL_WATER,       TRIAL_STOCK,   TRIAL_DATE};
    for (size_t i = 0; i < TRIAL_FACTORS; i++) {
        const struct trial_attribution *a = &t->factors[order[i]];
        if (a->clean_pairs > 0)
            text_print(&text, "%s%s", clean++ == 0 ? "" : "; ", a->sentence);
        else if (a->varies)
            mixed |= 1u << order[i];
    }
    if (clean > 0)
        text_add(&text, ".");
    size_t n_mixed = (size_t)__builtin_popcount(mixed);
    if (n_mixed == 0 && clean == 0)
        text_add(&text, "The plots differ in nothing that is recorded.");
    else if (n_mixed > 0 && clean == 0)
        text_print(&text, "Whole recipe only: no pair of plots differs in one thing alone. Mixed together or not known: %s.",
                   words_of_bits(mixed, arena));
    else if (n_mixed > 0)
        text_print(&text, " Not separated: %s.", words_of_bits(mixed, arena));
    char *out = arena_text(arena, text_get(&text));
    text_free(&text);
    return out;
}

const struct trial_plot *plots_planted(const struct trial_plot *all, size_t n_all, struct arena *arena, size_t **index, size_t *n)
{
    struct trial_plot *plots = arena_array(arena, n_all + 1, sizeof *plots);
    *index = arena_array(arena, n_all + 1, sizeof **index);
    *n = 0;
    for (size_t i = 0; i < n_all; i++) {
        if (all[i].unplanted)
            continue;
        (*index)[*n] = i;
        plots[(*n)++] = all[i];
    }
    return plots;
}

enum outcome trial_compare(const struct trial_plot *all, size_t n_all, struct arena *arena, struct trial_table *out, struct failure *why)
{
    struct trial_table t = {0};
    struct frame_of_plots frame;
    struct span span;
    size_t *index = NULL, n = 0;
    const struct trial_plot *plots = plots_planted(all, n_all, arena, &index, &n);
    t.pairs = arena_array(arena, n * n / 2 + 1, sizeof *t.pairs);
    frame_plots(plots, n, arena, &frame);
    /* Site by site, so that the pairs of a site stand together. */
    for (size_t s = 0; s < frame.n_sites; s++) {
        for (size_t i = 0; i < n; i++) {
            for (size_t j = i + 1; j < n && text_same(plots[i].site, frame.sites[s]); j++) {
                if (!text_same(plots[j].site, frame.sites[s]))
                    continue;
                bool turn = richer(&plots[i], &plots[j]);
                struct trial_pair *p = &t.pairs[t.n_pairs++];
                p->a = turn ? j : i, p->b = turn ? i : j;
                pair_mark(plots, p, arena);
            }
        }
    }
    if (t.n_pairs == 0) {
        fail(why, OUTCOME_DATA, "There are no two plots on the same site to compare.");
        return failure_remedy(why, "Lay a comparison plot beside the dense one, on the same site.");
    }
    span_of_plots(&frame, 0, arena, &span);
    t.rank = span.rank, t.columns = frame.columns;
    attribute(plots, &frame, &span, &t, arena);
    alias_words(&frame, &span, &t, arena);
    t.summary = summary(&t, arena);
    for (size_t k = 0; k < t.n_pairs; k++)
        t.pairs[k].a = index[t.pairs[k].a], t.pairs[k].b = index[t.pairs[k].b];
    *out = t;
    return OUTCOME_OK;
}
