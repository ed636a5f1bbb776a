/* SPDX-License-Identifier: GPL-3.0-or-later
 * Dense plot beside comparison plot: first on each site, then over sites, and in sentences that keep to what the design carries. */
#include "evidence/sites.h"
#include "stats/stats.h"
#include <math.h>
#include <stdlib.h>

/* ---- care ---- */

enum outcome evidence_care(const struct evidence_facts *facts, struct arena *arena, struct plot_care **out, struct failure *why)
{
    (void)why;
    struct plot_care *care = arena_array(arena, facts->n_plots, sizeof *care);
    for (size_t i = 0; i < facts->n_plots; i++) {
        care[i].plot = &facts->plots[i];
        for (size_t j = 0; j < facts->n_care; j++) {
            const struct care_event *event = &facts->care[j];
            if (event->plot_id != facts->plots[i].id)
                continue;
            if (is_known(event->hours))
                care[i].hours += event->hours;
            if (event->kind != CARE_KIND_WATERING)
                continue;
            care[i].skipped += event->state == DONE_STATE_SKIPPED;
            if (event->state != DONE_STATE_SKIPPED) {
                care[i].waterings++;
                care[i].litres_m2 += event->litres_m2; /* unknown stays unknown */
            }
        }
    }
    *out = care;
    return OUTCOME_OK;
}

static void care_compare(const struct evidence_facts *facts, struct site_difference *pair, const struct plot_care *care, size_t a, size_t b,
                         struct arena *arena)
{
    (void)facts;
    const struct plot_care *x = &care[a], *y = &care[b];
    if (x->waterings + y->waterings + x->skipped + y->skipped == 0)
        return;
    double greater = fmax(x->litres_m2, y->litres_m2);
    bool litres = is_known(x->litres_m2) && is_known(y->litres_m2);
    pair->unequal_care = litres ? fabs(x->litres_m2 - y->litres_m2) > 0.2 * greater : x->waterings != y->waterings;
    const char *amounts = litres ? arena_print(arena, ", %.0f and %.0f L/m²", x->litres_m2, y->litres_m2) : "";
    pair->care =
        arena_print(arena, "%s: %s was watered %zu times and %s %zu times%s.", pair->unequal_care ? "Unequal care" : "Care was alike",
                    x->plot->code, x->waterings, y->plot->code, y->waterings, amounts);
}

/* ---- one site ---- */

/* The last censuses of two plots that fall within 120 days of each other. */
static bool censuses_match(const struct plot_lives *a, const struct plot_lives *b, size_t *at_a, size_t *at_b)
{
    for (size_t i = a->n_censuses; i-- > 0;)
        for (size_t j = b->n_censuses; j-- > 0;)
            if (!a->censuses[i].as_planted && !b->censuses[j].as_planted &&
                labs((long)a->censuses[i].to - (long)b->censuses[j].to) <= 120) {
                *at_a = i;
                *at_b = j;
                return true;
            }
    return false;
}

static void bounds_of(struct site_difference *pair)
{
    pair->lowest = pair->sa.lowest.value - pair->sb.highest.value;
    pair->highest = pair->sa.highest.value - pair->sb.lowest.value;
}

static const char *attribution_of(const struct evidence_facts *facts, size_t a, size_t b, struct arena *arena, struct failure *why)
{
    if (facts->treatments == NULL)
        return "What else differs between the plots is not known, so the difference cannot be given to anything.";
    struct trial_plot two[2] = {facts->treatments[a], facts->treatments[b]};
    struct trial_table table;
    if (trial_compare(two, 2, arena, &table, why) != OUTCOME_OK || table.n_pairs != 1)
        return "What differs between the plots could not be worked out.";
    return table.pairs[0].sentence;
}

static const char *pair_sentence(const struct site_difference *pair, struct arena *arena)
{
    const char *side = pair->difference.low > 0 ? "more" : pair->difference.high < 0 ? "fewer" : NULL;
    const char *a = pair->sa.lives->plot->code, *b = pair->sb.lives->plot->code;
    double points = 100 * pair->difference.value;
    const char *interval =
        arena_print(arena, "%+.0f points (%+.0f to %+.0f)", points, 100 * pair->difference.low, 100 * pair->difference.high);
    if (side == NULL)
        return arena_print(arena, "%s: no difference seen between %s and %s, %s; a smaller one could be missed.", pair->site->name, a, b,
                           interval);
    return arena_print(arena, "%s: %s plants of %s than of %s lived, %s. This is what these two plots did, not proof of a cause.",
                       pair->site->name, side, a, b, interval);
}

static enum outcome pair_make(const struct evidence_facts *facts, const struct plot_lives *lives, const struct plot_care *care, size_t a,
                              size_t b, double level, struct arena *arena, struct site_difference *out, bool *made, struct failure *why)
{
    size_t at_a = 0, at_b = 0;
    *made = false;
    if (!censuses_match(&lives[a], &lives[b], &at_a, &at_b))
        return OUTCOME_OK;
    *out = (struct site_difference){.site = lives[a].site, .a = a, .b = b};
    enum outcome outcome = evidence_survival(&lives[a], at_a, level, arena, &out->sa, why);
    if (outcome == OUTCOME_OK)
        outcome = evidence_survival(&lives[b], at_b, level, arena, &out->sb, why);
    if (outcome != OUTCOME_OK || !is_known(out->sa.survival.value) || !is_known(out->sb.survival.value))
        return outcome;
    outcome = difference_newcombe((double)out->sa.alive, (double)(out->sa.alive + out->sa.dead), (double)out->sb.alive,
                                  (double)(out->sb.alive + out->sb.dead), level, false, &out->difference, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    bounds_of(out);
    care_compare(facts, out, care, a, b, arena);
    out->attribution = attribution_of(facts, a, b, arena, why);
    out->sentence = pair_sentence(out, arena);
    *made = true;
    return OUTCOME_OK;
}

enum outcome evidence_pairs(const struct evidence_facts *facts, const struct plot_lives *lives, enum regime a, enum regime b, double level,
                            struct arena *arena, struct site_difference **out, size_t *n, struct failure *why)
{
    struct plot_care *care = NULL;
    struct site_difference *pairs = arena_array(arena, facts->n_sites, sizeof *pairs);
    enum outcome outcome = evidence_care(facts, arena, &care, why);
    *n = 0;
    for (size_t s = 0; outcome == OUTCOME_OK && s < facts->n_sites; s++) {
        size_t at[2] = {SIZE_MAX, SIZE_MAX};
        for (size_t i = 0; i < facts->n_plots; i++) {
            if (facts->plots[i].site_id != facts->sites[s].id || lives[i].n_censuses == 0)
                continue;
            if (facts->plots[i].regime == a && at[0] == SIZE_MAX)
                at[0] = i;
            else if (facts->plots[i].regime == b && at[1] == SIZE_MAX)
                at[1] = i;
        }
        bool made = false;
        if (at[0] != SIZE_MAX && at[1] != SIZE_MAX)
            outcome = pair_make(facts, lives, care, at[0], at[1], level, arena, &pairs[*n], &made, why);
        *n += made;
    }
    *out = pairs;
    return outcome;
}

enum outcome evidence_clean(const struct evidence_facts *facts, const struct plot_lives *lives, const struct trial_table *design,
                            enum trial_factor factor, double level, struct arena *arena, struct paired_answer *out, struct failure *why)
{
    struct plot_care *care = NULL;
    struct site_difference *pairs = arena_array(arena, facts->n_sites, sizeof *pairs);
    enum outcome outcome = evidence_care(facts, arena, &care, why);
    size_t n = 0;
    for (size_t i = 0; outcome == OUTCOME_OK && i < design->n_pairs; i++) {
        const struct trial_pair *pair = &design->pairs[i];
        bool taken = pair->n_differ != 1 || pair->n_unknown > 0 || pair->marks[factor] != TRIAL_DIFFERS, made = false;
        for (size_t k = 0; k < n; k++)
            taken = taken || pairs[k].site == lives[pair->a].site;
        if (!taken)
            outcome = pair_make(facts, lives, care, pair->a, pair->b, level, arena, &pairs[n], &made, why);
        n += made;
    }
    return outcome == OUTCOME_OK ? evidence_pairs_judge(pairs, n, level, unknown_real(), arena, out, why) : outcome;
}

/* ---- over sites ---- */

/* The rung of the claim ladder that the data reach. */
static const char *rung_of(const struct sites_difference *d, const struct trial_table *design)
{
    bool clean = false;
    for (int f = 0; design != NULL && f < TRIAL_FACTORS; f++)
        clean = clean || (design->factors[f].clean_sites >= 6);
    if (d->sites >= 6 && is_known(d->mean.low) && (d->mean.low > 0 || d->mean.high < 0))
        return clean ? "attributed" : "repeated";
    return d->sites >= 2 ? "repeated" : d->sites == 1 ? "compared" : "counted";
}

static const char *over_sentence(const struct sites_difference *d, const char *a, const char *b, struct arena *arena)
{
    if (d->sites == 0)
        return arena_print(arena, "No site has both a %s and a %s plot with a census, so nothing can be compared.", a, b);
    const char *mean = arena_print(arena, "%+.0f points", 100 * d->mean.value);
    if (d->sites < 5)
        return arena_print(arena, "%s survived better than %s on %zu of %zu sites, on average %s. %zu %s – not enough to generalise.", a, b,
                           d->positive, d->sites, mean, d->sites, d->sites == 1 ? "site" : "sites");
    const char *interval = arena_print(arena, "%s (%+.0f to %+.0f) over %zu sites", mean, 100 * d->mean.low, 100 * d->mean.high, d->sites);
    if (d->mean.low > 0 || d->mean.high < 0)
        return arena_print(arena, "On %zu of %zu sites %s survived better than %s: on average %s (exact p %.3f, least reachable %.3f).",
                           d->positive, d->sites, a, b, interval, d->p, d->p_least);
    return arena_print(arena, "No difference seen between %s and %s: %s. Differences smaller than %.0f points could be missed.", a, b,
                       interval, 100 * d->detectable);
}

static const char *over_cannot(const struct site_difference *pairs, size_t n, const struct trial_table *design, struct arena *arena)
{
    struct text words = {0};
    size_t unequal = 0, chosen = 0;
    for (size_t i = 0; i < n; i++)
        unequal += pairs[i].unequal_care;
    for (size_t i = 0; design != NULL && i < design->n_pairs; i++)
        chosen += !design->pairs[i].drawn;
    bool density = design != NULL && design->factors[TRIAL_DENSITY].clean_pairs > 0;
    text_add(&words, density
                         ? "Density was separated from the rest of the recipe only where a pair differs in density alone; elsewhere the "
                           "whole recipe is compared."
                         : "The plots differ in several things at once, so the difference belongs to the whole recipe, not to density.");
    if (unequal > 0)
        text_print(&words, " On %zu of %zu sites the plots were not cared for alike: part of the difference there may be water.", unequal,
                   n);
    if (chosen > 0)
        text_add(&words, " Where the ground was chosen and not drawn by lot, the better piece may have got the favoured treatment.");
    text_add(&words, " The site is the replicate: thousands of plants on few sites are still few sites.");
    const char *out = arena_text(arena, text_get(&words));
    text_free(&words);
    return out;
}

enum outcome evidence_over_sites(const struct site_difference *pairs, size_t n, const struct trial_table *design, const char *a_words,
                                 const char *b_words, double level, struct arena *arena, struct sites_difference *out, struct failure *why)
{
    struct sites_difference d = {.sites = n,
                                 .mean = estimate_unknown(),
                                 .sd = unknown_real(),
                                 .p = unknown_real(),
                                 .p_least = unknown_real(),
                                 .detectable = unknown_real()};
    double *values = arena_array(arena, n, sizeof *values), sum = 0, squares = 0;
    enum outcome outcome = OUTCOME_OK;
    for (size_t i = 0; i < n; i++) {
        values[i] = pairs[i].difference.value;
        sum += values[i];
        d.positive += values[i] > 0;
    }
    if (n > 0)
        d.mean.value = sum / (double)n;
    d.mean.n = (double)n;
    for (size_t i = 0; i < n; i++)
        squares += (values[i] - d.mean.value) * (values[i] - d.mean.value);
    if (n >= 2) {
        d.sd = sqrt(squares / (double)(n - 1));
        d.mean = estimate_student(d.mean.value, d.sd / sqrt((double)n), (double)n - 1, level, (double)n);
        /* (t of the interval + t of 80 % power) standard errors */
        d.detectable = (student_quantile(0.5 + level / 2, (double)n - 1) + student_quantile(0.8, (double)n - 1)) * d.sd / sqrt((double)n);
    }
    if (n >= 5) {
        struct sign_flip flip;
        outcome = permute_sign_flip(values, n, level, 0, 1, &flip, why);
        d.p = flip.p;
        d.p_least = flip.p_least;
    }
    d.rung = rung_of(&d, design);
    d.sentence = over_sentence(&d, a_words, b_words, arena);
    d.cannot = over_cannot(pairs, n, design, arena);
    *out = d;
    return outcome;
}
