/* SPDX-License-Identifier: GPL-3.0-or-later
 * Growth over sites: pairs of plots on the species they share, and all plots in one linear mixed model. */
#include "evidence/growth_inside.h"
#include "evidence/increments.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { LEAST_SHARED = 3 }; ///< plants of a species measured twice in each plot, to count as shared

/* Sums of one species in one plot. */
struct kind {
    const char *name;
    double gain[2];
    size_t n[2];
};

static void kinds_add(const struct plot_lives *lives, int side, struct kind *kinds, size_t *n_kinds, size_t from, size_t to)
{
    double seasons = growing_seasons(lives->censuses[from].to, lives->censuses[to].to);
    for (size_t p = 0; p < lives->n_plants; p++) {
        double a = growth_height(lives, p, from), b = growth_height(lives, p, to);
        size_t at = 0;
        if (!is_known(a) || !is_known(b) || lives->plants[p]->species == NULL)
            continue;
        while (at < *n_kinds && !text_same(kinds[at].name, lives->plants[p]->species))
            at++;
        if (at == *n_kinds)
            kinds[(*n_kinds)++] = (struct kind){.name = lives->plants[p]->species};
        kinds[at].gain[side] += (b - a) / seasons;
        kinds[at].n[side]++;
    }
}

static double mean_height(const struct plot_lives *lives, size_t census)
{
    double sum = 0;
    size_t n = 0;
    for (size_t p = 0; p < lives->n_plants; p++)
        if (is_known(growth_height(lives, p, census))) {
            sum += growth_height(lives, p, census);
            n++;
        }
    return n > 0 ? sum / (double)n : unknown_real();
}

/* False where the two share no species measured twice, or were not measured over the same time. */
static bool pair_make(const struct plot_lives *lives, size_t a, size_t b, struct arena *arena, struct growth_pair *out)
{
    size_t from[2], to[2], n_kinds = 0, species = 0;
    const size_t plots[2] = {a, b};
    double mean[2] = {0, 0};
    struct kind *kinds = arena_array(arena, lives[a].n_plants + lives[b].n_plants, sizeof *kinds);
    for (int side = 0; side < 2; side++)
        if (!growth_span(&lives[plots[side]], &from[side], &to[side]))
            return false;
    /* the two must have been measured within a season of each other, or seasons differ */
    if (abs(lives[a].censuses[to[0]].to - lives[b].censuses[to[1]].to) > 120 ||
        abs(lives[a].censuses[from[0]].to - lives[b].censuses[from[1]].to) > 120)
        return false;
    for (int side = 0; side < 2; side++)
        kinds_add(&lives[plots[side]], side, kinds, &n_kinds, from[side], to[side]);
    for (size_t k = 0; k < n_kinds; k++) {
        if (kinds[k].n[0] < LEAST_SHARED || kinds[k].n[1] < LEAST_SHARED)
            continue;
        for (int side = 0; side < 2; side++)
            mean[side] += kinds[k].gain[side] / (double)kinds[k].n[side];
        species++;
    }
    if (species == 0)
        return false;
    *out = (struct growth_pair){.site = lives[a].site,
                                .a = a,
                                .b = b,
                                .species = species,
                                .a_cm = mean[0] / (double)species,
                                .b_cm = mean[1] / (double)species,
                                .naive_cm = mean_height(&lives[a], to[0]) - mean_height(&lives[b], to[1]),
                                .first_cm = mean_height(&lives[a], from[0]) - mean_height(&lives[b], from[1])};
    return true;
}

static bool care_unequal(const struct plot_care *a, const struct plot_care *b)
{
    bool litres = is_known(a->litres_m2) && is_known(b->litres_m2);
    return litres ? fabs(a->litres_m2 - b->litres_m2) > 0.2 * fmax(a->litres_m2, b->litres_m2) : a->waterings != b->waterings;
}

static const char *pairs_sentence(const struct growth_pairs *g, enum regime a, enum regime b, struct arena *arena)
{
    const char *wa = word_of(WORDS_REGIME, (int)a), *wb = word_of(WORDS_REGIME, (int)b);
    if (g->n == 0)
        return "No site has both regimes with a shared species measured twice.";
    const struct estimate *m = &g->answer.mean;
    bool less = m->value < 0;
    const char *interval = !is_known(m->low) ? ""
                           : less            ? arena_print(arena, " (%.1f to %.1f)", -m->high, -m->low)
                                             : arena_print(arena, " (%.1f to %.1f)", m->low, m->high);
    char *out =
        arena_print(arena,
                    "On the species they share, the same plants gained %.1f cm%s a season %s in %s than in %s, over %zu site%s; mean "
                    "heights of whoever is alive differ by %+.0f cm.",
                    fabs(m->value), interval, less ? "less" : "more", wa, wb, g->n, g->n == 1 ? "" : "s", g->naive_cm.value);
    for (char *c = out; *c != '\0'; c++)
        if (*c == '_')
            *c = ' ';
    return out;
}

enum outcome evidence_growth_pairs(const struct evidence_facts *facts, const struct plot_lives *lives, enum regime a, enum regime b,
                                   double level, struct arena *arena, struct growth_pairs *out, struct failure *why)
{
    struct growth_pairs g = {.pairs = arena_array(arena, facts->n_sites, sizeof *g.pairs)};
    struct plot_care *care = NULL;
    double *difference = arena_array(arena, facts->n_sites, sizeof *difference), *naive = arena_array(arena, facts->n_sites, sizeof *naive);
    bool *unequal = arena_array(arena, facts->n_sites, sizeof *unequal);
    enum outcome outcome = evidence_care(facts, arena, &care, why);
    for (size_t s = 0; outcome == OUTCOME_OK && s < facts->n_sites; s++) {
        size_t at[2] = {SIZE_MAX, SIZE_MAX};
        for (size_t i = 0; i < facts->n_plots; i++) {
            int side = facts->plots[i].regime == a ? 0 : facts->plots[i].regime == b ? 1 : -1;
            if (side >= 0 && facts->plots[i].site_id == facts->sites[s].id && lives[i].n_censuses > 0 && at[side] == SIZE_MAX)
                at[side] = i;
        }
        if (at[0] == SIZE_MAX || at[1] == SIZE_MAX || !pair_make(lives, at[0], at[1], arena, &g.pairs[g.n]))
            continue;
        g.pairs[g.n].unequal_care = unequal[g.n] = care_unequal(&care[at[0]], &care[at[1]]);
        difference[g.n] = g.pairs[g.n].a_cm - g.pairs[g.n].b_cm;
        naive[g.n] = g.pairs[g.n].naive_cm;
        g.n++;
    }
    if (outcome != OUTCOME_OK)
        return outcome;
    g.naive_cm = growth_mean(naive, g.n, level);
    struct paired_wish wish = {g.n, difference, NULL, NULL, unequal, level, unknown_real(), OUTCOMES_AFTER};
    outcome = evidence_paired(&wish, &g.answer, why);
    g.sentence = pairs_sentence(&g, a, b, arena);
    *out = g;
    return outcome;
}

/* ---- one model ---- */

struct columns {
    double *gain, *start;
    size_t *regime, *site, *plot, *species, n;
    enum regime regimes[32];
    size_t n_regimes, n_sites, n_plots, n_species;
    const char **names;
    const struct site **sites;
};

static size_t index_of(const void *const *list, size_t *n, const void *wanted)
{
    size_t at = 0;
    while (at < *n && list[at] != wanted)
        at++;
    return at;
}

static void plot_take(const struct plot_lives *lives, struct columns *c)
{
    size_t from = 0, to = 0, before = c->n, regime = 0;
    if (!growth_span(lives, &from, &to))
        return;
    double seasons = growing_seasons(lives->censuses[from].to, lives->censuses[to].to);
    while (regime < c->n_regimes && c->regimes[regime] != lives->plot->regime)
        regime++;
    size_t site = index_of((const void *const *)c->sites, &c->n_sites, lives->site);
    for (size_t p = 0; p < lives->n_plants; p++) {
        double a = growth_height(lives, p, from), b = growth_height(lives, p, to);
        const char *name = lives->plants[p]->species == NULL ? "" : lives->plants[p]->species;
        size_t species = 0;
        if (!is_known(a) || !is_known(b))
            continue;
        while (species < c->n_species && !text_same(c->names[species], name))
            species++;
        if (species == c->n_species)
            c->names[c->n_species++] = name;
        c->gain[c->n] = (b - a) / seasons;
        c->start[c->n] = a;
        c->regime[c->n] = regime;
        c->site[c->n] = site;
        c->plot[c->n] = c->n_plots;
        c->species[c->n++] = species;
    }
    if (c->n == before)
        return;
    if (regime == c->n_regimes)
        c->regimes[c->n_regimes++] = lives->plot->regime;
    if (site == c->n_sites)
        c->sites[c->n_sites++] = lives->site;
    c->n_plots++;
}

static struct columns columns_make(const struct plot_lives *lives, size_t n_plots, struct arena *arena)
{
    size_t room = 1;
    struct columns c = {.n = 0};
    for (size_t i = 0; i < n_plots; i++)
        room += lives[i].n_plants;
    c.gain = arena_array(arena, room, sizeof(double));
    c.start = arena_array(arena, room, sizeof(double));
    size_t **labels[] = {&c.regime, &c.site, &c.plot, &c.species};
    for (size_t k = 0; k < 4; k++)
        *labels[k] = arena_array(arena, room, sizeof(size_t));
    c.names = arena_array(arena, room, sizeof(char *));
    c.sites = arena_array(arena, n_plots + 1, sizeof *c.sites);
    for (int pass = 0; pass < 2; pass++) /* conventional plots first: the reference, where there are any */
        for (size_t i = 0; i < n_plots; i++)
            if ((lives[i].plot->regime == REGIME_CONVENTIONAL) == (pass == 0) && lives[i].plot->regime != REGIME_UNPLANTED)
                plot_take(&lives[i], &c);
    return c;
}

static const char *model_sentence(const struct growth_model *m, struct arena *arena)
{
    struct text words = {0};
    text_print(&words, "The same plants of %s gained %.0f cm a season", word_of(WORDS_REGIME, (int)m->regimes[0]), m->gain_cm[0].value);
    for (size_t i = 1; i < m->n; i++)
        text_print(&words, "; %s %+.1f cm (%+.1f to %+.1f)", word_of(WORDS_REGIME, (int)m->regimes[i]), m->gain_cm[i].value,
                   m->gain_cm[i].low, m->gain_cm[i].high);
    text_print(&words, "; start height, site, plot and species taken into account (%zu plants, %zu plots, %zu sites).", m->plants, m->plots,
               m->sites);
    char *out = arena_text(arena, text_get(&words));
    for (char *c = out; *c != '\0'; c++)
        if (*c == '_')
            *c = ' ';
    text_free(&words);
    return out;
}

enum outcome evidence_growth_model(const struct plot_lives *lives, size_t n_plots, double level, struct arena *arena,
                                   struct growth_model *out, struct failure *why)
{
    struct columns c = columns_make(lives, n_plots, arena);
    if (c.n_regimes < 2 || c.n_sites < 2 || c.n_plots < 4 || c.n_plots <= c.n_sites) {
        fail(why, OUTCOME_DATA, "A model of growth needs two regimes, two sites and four plots measured twice; there are %zu, %zu and %zu.",
             c.n_regimes, c.n_sites, c.n_plots);
        return failure_remedy(why, "Compare the plots of a site first: spinney growth FILE SITE");
    }
    size_t p = c.n_regimes + 1, n_terms = 2;
    double *x = arena_array(arena, c.n * p, sizeof *x), mean = sum_exactly(c.start, c.n) / (double)c.n;
    for (size_t i = 0; i < c.n; i++) {
        x[i * p] = 1;
        if (c.regime[i] > 0)
            x[i * p + c.regime[i]] = 1;
        x[i * p + p - 1] = c.start[i] - mean;
    }
    struct random_term terms[3] = {{c.n_sites, c.site, 1, NULL}, {c.n_plots, c.plot, 1, NULL}, {c.n_species, c.species, 1, NULL}};
    n_terms += c.n_species > 1;
    struct design design = {.n = c.n, .p = p, .x = x, .y = c.gain};
    struct mixed_fit fit;
    enum outcome outcome = mixed_linear(&design, terms, n_terms, true, DF_SATTERTHWAITE, level, arena, &fit, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct growth_model m = {.regimes = arena_array(arena, c.n_regimes, sizeof *m.regimes),
                             .n = c.n_regimes,
                             .plants = c.n,
                             .plots = c.n_plots,
                             .sites = c.n_sites,
                             .species = c.n_species,
                             .gain_cm = fit.beta,
                             .df = fit.df,
                             .p = fit.p_value,
                             .per_start = fit.beta[p - 1].value,
                             .sd_site = sqrt(fit.term_covariance[0][0]),
                             .sd_plot = sqrt(fit.term_covariance[1][0]),
                             .sd_species = n_terms > 2 ? sqrt(fit.term_covariance[2][0]) : unknown_real(),
                             .sd_plant = fit.sigma};
    memcpy(m.regimes, c.regimes, c.n_regimes * sizeof *m.regimes);
    m.sentence = model_sentence(&m, arena);
    *out = m;
    return OUTCOME_OK;
}
