/* SPDX-License-Identifier: GPL-3.0-or-later
 * Survival of all plots in one logistic mixed model: regimes fixed; sites, plots, species and squares random. */
#include "evidence/sites.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Rows of the model and the levels they belong to. */
struct rows {
    double *alive, *known;
    size_t *regime, *site, *plot, *species, *square; ///< regime: index into `regimes`
    size_t n;
    enum regime regimes[32];
    size_t n_regimes, n_sites, n_plots, n_species, n_squares;
    const char **species_names, **square_names;
    const struct site **sites;
    double *plot_share;
    size_t *plot_regime, *plot_site;
};

static size_t name_at(const char **names, size_t *n, size_t from, const char *name)
{
    for (size_t i = from; i < *n; i++)
        if (names[i] == name || text_same(names[i], name))
            return i;
    names[*n] = name;
    return (*n)++;
}

static bool counts(const struct plot_lives *one, size_t plant, enum life_state *state)
{
    *state = one->states[plant * one->n_censuses + one->n_censuses - 1];
    return evidence_planted_first(one, plant) && (*state == LIFE_ALIVE || *state == LIFE_DEAD);
}

/* Plants of one plot, put together by species, or by species and square. */
static void plot_rows(const struct plot_lives *one, bool squares, struct rows *r)
{
    size_t first_row = r->n, first_square = r->n_squares;
    double alive = 0, known = 0;
    for (size_t p = 0; p < one->n_plants; p++) {
        enum life_state state;
        if (!counts(one, p, &state))
            continue;
        size_t species = name_at(r->species_names, &r->n_species, 0, one->plants[p]->species == NULL ? "" : one->plants[p]->species);
        size_t square = squares ? name_at(r->square_names, &r->n_squares, first_square,
                                          one->plants[p]->cell_code == NULL ? "" : one->plants[p]->cell_code)
                                : 0;
        size_t at = first_row;
        while (at < r->n && (r->species[at] != species || r->square[at] != square))
            at++;
        if (at == r->n) {
            r->species[at] = species;
            r->square[at] = square;
            r->plot[at] = r->n_plots;
            r->n++;
        }
        r->known[at]++;
        r->alive[at] += state == LIFE_ALIVE;
        known++;
        alive += state == LIFE_ALIVE;
    }
    if (r->n == first_row)
        return;
    size_t site = 0, regime = 0;
    while (site < r->n_sites && r->sites[site] != one->site)
        site++;
    if (site == r->n_sites)
        r->sites[r->n_sites++] = one->site;
    while (regime < r->n_regimes && r->regimes[regime] != one->plot->regime)
        regime++;
    if (regime == r->n_regimes)
        r->regimes[r->n_regimes++] = one->plot->regime;
    for (size_t i = first_row; i < r->n; i++) {
        r->site[i] = site;
        r->regime[i] = regime;
    }
    r->plot_share[r->n_plots] = alive / known;
    r->plot_regime[r->n_plots] = regime;
    r->plot_site[r->n_plots++] = site;
}

static bool regime_taken(enum regime regime)
{
    return regime != REGIME_UNPLANTED && regime != REGIME_OTHER_REGIME && (int)regime != 0;
}

static struct rows rows_make(const struct plot_lives *lives, size_t n_plots, bool squares, struct arena *arena)
{
    size_t room = 0;
    struct rows r = {.n = 0};
    for (size_t i = 0; i < n_plots; i++)
        room += lives[i].n_plants;
    r.alive = arena_array(arena, room, sizeof(double));
    r.known = arena_array(arena, room, sizeof(double));
    size_t **columns[] = {&r.regime, &r.site, &r.plot, &r.species, &r.square};
    for (size_t k = 0; k < 5; k++)
        *columns[k] = arena_array(arena, room, sizeof(size_t));
    r.species_names = arena_array(arena, room + 1, sizeof(char *));
    r.square_names = arena_array(arena, room + 1, sizeof(char *));
    r.sites = arena_array(arena, n_plots, sizeof *r.sites);
    r.plot_share = arena_array(arena, n_plots, sizeof(double));
    r.plot_regime = arena_array(arena, n_plots, sizeof(size_t));
    r.plot_site = arena_array(arena, n_plots, sizeof(size_t));
    /* the conventional recipe, where there is one, is what others are held against */
    for (size_t i = 0; i < n_plots && r.n_regimes == 0; i++)
        if (lives[i].n_censuses > 0 && lives[i].n_plants > 0 && lives[i].plot->regime == REGIME_CONVENTIONAL)
            r.regimes[r.n_regimes++] = REGIME_CONVENTIONAL;
    for (size_t i = 0; i < n_plots; i++)
        if (lives[i].n_censuses > 0 && regime_taken(lives[i].plot->regime))
            plot_rows(&lives[i], squares, &r);
    return r;
}

static const char *model_sentence(const struct sites_model *m, struct arena *arena)
{
    struct text words = {0};
    text_print(&words, "Held against %s, the odds of living were", word_of(WORDS_REGIME, (int)m->regimes[0].regime));
    for (size_t i = 1; i < m->n; i++) {
        const struct regime_effect *e = &m->regimes[i];
        text_print(&words, "%s %.1f times as high (%.1f to %.1f) for %s", i > 1 ? "," : "", e->odds.value, e->odds.low, e->odds.high,
                   word_of(WORDS_REGIME, (int)e->regime));
    }
    text_print(&words, "; site, plot and species taken into account, %zu plots on %zu sites.", m->plots, m->sites);
    char *out = arena_text(arena, text_get(&words));
    for (char *c = out; *c != '\0'; c++)
        if (*c == '_')
            *c = ' ';
    text_free(&words);
    return out;
}

static void terms_report(const struct mixed_fit *fit, const char *const *names, struct sites_model *out)
{
    out->n_terms = fit->terms;
    for (size_t t = 0; t < fit->terms; t++) {
        double variance = fit->term_covariance[t][0];
        out->terms[t].name = names[t];
        out->terms[t].sd = sqrt(variance);
        out->terms[t].median_odds = exp(sqrt(2 * variance) * normal_quantile(0.75));
    }
}

static void regimes_report(const struct rows *r, const struct mixed_fit *fit, double level, struct sites_model *out)
{
    double variance = 0, q = student_quantile(0.5 + level / 2, out->df);
    for (size_t t = 0; t < fit->terms; t++)
        variance += fit->term_covariance[t][0];
    for (size_t g = 0; g < r->n_regimes; g++) {
        struct regime_effect *e = &out->regimes[g];
        double log_odds = g == 0 ? 0 : fit->beta[g].value;
        *e = (struct regime_effect){.regime = r->regimes[g], .odds = estimate_unknown(), .p = unknown_real()};
        e->survival = logistic_marginal(fit->beta[0].value + log_odds, variance);
        if (g > 0) {
            double se = fit->beta[g].se;
            e->odds = (struct estimate){exp(log_odds), se, exp(log_odds - q * se), exp(log_odds + q * se), (double)r->n_plots};
            e->p = student_two_sided(log_odds / se, out->df);
        }
        for (size_t i = 0; i < r->n_plots; i++)
            e->plots += r->plot_regime[i] == g;
        for (size_t i = 0; i < r->n; i++)
            if (r->regime[i] == g) {
                e->alive += (int64_t)r->alive[i];
                e->known += (int64_t)r->known[i];
            }
    }
}

enum outcome evidence_sites_model(const struct plot_lives *lives, size_t n_plots, bool squares, double level, uint64_t seed,
                                  struct arena *arena, struct sites_model *out, struct failure *why)
{
    struct rows r = rows_make(lives, n_plots, squares, arena);
    double df = (double)r.n_plots - (double)r.n_sites - ((double)r.n_regimes - 1);
    if (r.n_regimes < 2 || r.n_sites < 2 || df < 1) {
        fail(why, OUTCOME_DATA,
             "A model over sites needs two regimes, two sites and a plot to spare; there are %zu regime%s on %zu site%s in %zu plots.",
             r.n_regimes, r.n_regimes == 1 ? "" : "s", r.n_sites, r.n_sites == 1 ? "" : "s", r.n_plots);
        return failure_remedy(why, "Compare within sites first: spinney findings FILE");
    }
    double *x = arena_array(arena, r.n * r.n_regimes, sizeof *x);
    for (size_t i = 0; i < r.n; i++) {
        x[i * r.n_regimes] = 1;
        if (r.regime[i] > 0)
            x[i * r.n_regimes + r.regime[i]] = 1;
    }
    struct random_term terms[MODEL_TERMS] = {{r.n_sites, r.site, 1, NULL}, {r.n_plots, r.plot, 1, NULL}};
    const char *names[MODEL_TERMS] = {"site", "plot"};
    size_t n_terms = 2;
    if (r.n_species > 1) {
        names[n_terms] = "species";
        terms[n_terms++] = (struct random_term){r.n_species, r.species, 1, NULL};
    }
    if (squares && r.n_squares > r.n_plots) {
        names[n_terms] = "square";
        terms[n_terms++] = (struct random_term){r.n_squares, r.square, 1, NULL};
    }
    struct design design = {.n = r.n, .p = r.n_regimes, .x = x, .y = r.alive, .trials = r.known};
    struct mixed_fit fit;
    enum outcome outcome = mixed_logistic(&design, terms, n_terms, 1, level, arena, &fit, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct sites_model m = {.regimes = arena_array(arena, r.n_regimes, sizeof *m.regimes),
                            .n = r.n_regimes,
                            .sites = r.n_sites,
                            .plots = r.n_plots,
                            .species = r.n_species,
                            .squares = squares ? r.n_squares : 0,
                            .df = df,
                            .singular = fit.singular};
    terms_report(&fit, names, &m);
    regimes_report(&r, &fit, level, &m);
    struct failure none;
    m.has_shuffle =
        permute_groups(r.plot_share, r.plot_regime, r.plot_site, r.n_plots, r.n_regimes, 9999, seed, &m.shuffle, &none) == OUTCOME_OK;
    m.sentence = model_sentence(&m, arena);
    *out = m;
    return OUTCOME_OK;
}
