/* SPDX-License-Identifier: GPL-3.0-or-later
 * Species league by partial pooling, so that three lucky plants do not lead. */
#include "evidence/league.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { DRAWS = 4000 };
const struct league_rules league_rules_usual = {10, 20, 0.9, 0.10, 0.30};

const char *league_verdict_words(enum league_verdict verdict)
{
    static const char *const words[] = {"too few to tell", "plant more", "keep", "drop"};
    return words[verdict];
}

/* One row for each species on each plot. */
struct cells {
    double *alive, *known;
    size_t *species, *plot, *regime, n, room_plots;
    const char **names;
    size_t n_names, plots, sites;
    const struct plot_lives **used; ///< plots, in order
};

static size_t species_find(struct cells *cells, const char *name)
{
    for (size_t i = 0; i < cells->n_names; i++)
        if (cells->names[i] == name || text_same(cells->names[i], name))
            return i;
    cells->names[cells->n_names] = name;
    return cells->n_names++;
}

static size_t species_most(const struct plot_lives *lives, const size_t *plots, size_t n)
{
    size_t most = 0;
    for (size_t i = 0; i < n; i++)
        most += lives[plots[i]].n_plants;
    return most < 20000 ? most : 20000;
}

static enum outcome cells_fill(const struct plot_lives *lives, const size_t *plots, size_t n_plots, struct arena *arena, struct cells *out,
                               struct failure *why)
{
    size_t most = species_most(lives, plots, n_plots);
    struct cells c = {.names = arena_array(arena, most + 1, sizeof *c.names), .used = arena_array(arena, n_plots, sizeof *c.used)};
    struct arena scratch = {0};
    size_t room[5] = {0};
    double *alive = memory_get(most + 1, sizeof *alive), *known = memory_get(most + 1, sizeof *known);
    for (size_t i = 0; i < n_plots; i++) {
        const struct plot_lives *one = &lives[plots[i]];
        struct plot_survival s;
        if (one->n_censuses == 0 || evidence_survival(one, SIZE_MAX, 0.95, &scratch, &s, why) != OUTCOME_OK || s.alive + s.dead == 0)
            continue;
        memset(alive, 0, (most + 1) * sizeof *alive);
        memset(known, 0, (most + 1) * sizeof *known);
        for (size_t p = 0; p < one->n_plants; p++) {
            enum life_state state = one->states[p * one->n_censuses + one->n_censuses - 1];
            if (!evidence_planted_first(one, p) || (state != LIFE_ALIVE && state != LIFE_DEAD) || one->plants[p]->species == NULL)
                continue;
            size_t at = species_find(&c, one->plants[p]->species);
            known[at]++;
            alive[at] += state == LIFE_ALIVE;
        }
        for (size_t k = 0; k < c.n_names; k++) {
            if (known[k] == 0)
                continue;
            c.alive = column_room(c.alive, c.n, &room[0], sizeof *c.alive);
            c.known = column_room(c.known, c.n, &room[1], sizeof *c.known);
            c.species = column_room(c.species, c.n, &room[2], sizeof *c.species);
            c.plot = column_room(c.plot, c.n, &room[3], sizeof *c.plot);
            c.regime = column_room(c.regime, c.n, &room[4], sizeof *c.regime);
            c.alive[c.n] = alive[k];
            c.known[c.n] = known[k];
            c.species[c.n] = k;
            c.regime[c.n] = (size_t)one->plot->regime;
            c.plot[c.n++] = c.plots;
        }
        bool fresh = true;
        for (size_t j = 0; j < c.plots; j++)
            fresh = fresh && c.used[j]->site != one->site;
        c.sites += fresh;
        c.used[c.plots++] = one;
    }
    free(alive);
    free(known);
    arena_clear(&scratch);
    *out = c;
    if (c.n_names < 2) {
        fail(why, OUTCOME_DATA, "Fewer than two species have plants with a known state, so there is nothing to rank.");
        return failure_remedy(why, "Import a census.");
    }
    return OUTCOME_OK;
}

static void cells_free(struct cells *c)
{
    free(c->alive);
    free(c->known);
    free(c->species);
    free(c->plot);
    free(c->regime);
}

/* Intercept, and a column for each regime but the first that occurs. */
static double *design_make(const struct cells *c, size_t *p, struct arena *arena)
{
    size_t column[64] = {0}, first = c->regime[0];
    *p = 1;
    for (size_t i = 0; i < c->n; i++)
        if (c->regime[i] != first && c->regime[i] < 64 && column[c->regime[i]] == 0)
            column[c->regime[i]] = (*p)++;
    double *x = arena_array(arena, c->n * *p, sizeof *x);
    for (size_t i = 0; i < c->n; i++) {
        x[i * *p] = 1;
        if (c->regime[i] != first && c->regime[i] < 64)
            x[i * *p + column[c->regime[i]]] = 1;
    }
    return x;
}

/* Linear predictor of an average plot: mean over rows' fixed parts, each regime as often as it has plants. */
static double average_eta(const double *x, const double *beta, size_t p, const struct cells *c)
{
    double sum = 0, weight = 0;
    for (size_t i = 0; i < c->n; i++) {
        double eta = 0;
        for (size_t j = 0; j < p; j++)
            eta += x[i * p + j] * beta[j];
        sum += c->known[i] * eta;
        weight += c->known[i];
    }
    return sum / weight;
}

/* Lower factor of a symmetric matrix that may be without spread in some directions. */
static void factor_of(const double *v, size_t n, double *l)
{
    for (size_t j = 0; j < n; j++)
        for (size_t i = j; i < n; i++) {
            double sum = v[i * n + j];
            for (size_t k = 0; k < j; k++)
                sum -= l[i * n + k] * l[j * n + k];
            l[i * n + j] = i == j ? sqrt(fmax(sum, 0)) : l[j * n + j] > 1e-12 ? sum / l[j * n + j] : 0;
        }
}

static int up(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Ranks and chances from draws of all species together. value(draw) is monotone in eta, so etas are ranked. */
static void draws_take(const double *eta, const double *factor, size_t n, double common, double margin_eta, double level, uint64_t seed,
                       struct league_line *lines, const size_t *line_of, struct arena *arena)
{
    double *rank = arena_array(arena, n * DRAWS, sizeof *rank), *draw = arena_array(arena, n, sizeof *draw),
           *z = arena_array(arena, n, sizeof *z);
    struct random_stream stream = random_make(seed, 41);
    double df = (double)n - 1;
    for (size_t d = 0; d < DRAWS; d++) {
        double wide = sqrt(df / (2 * random_gamma(&stream, df / 2))); /* Student's t: the spread itself is an estimate */
        for (size_t i = 0; i < n; i++)
            z[i] = random_normal(&stream);
        for (size_t i = 0; i < n; i++) {
            draw[i] = eta[i];
            for (size_t k = 0; k <= i; k++)
                draw[i] += wide * factor[i * n + k] * z[k];
            struct league_line *line = &lines[line_of[i]];
            line->p_above += (draw[i] > common) / (double)DRAWS;
            line->p_below += (draw[i] < margin_eta) / (double)DRAWS;
        }
        for (size_t i = 0; i < n; i++) {
            double r = 1;
            for (size_t k = 0; k < n; k++)
                r += draw[k] > draw[i] ? 1 : k != i && draw[k] == draw[i] ? 0.5 : 0;
            rank[i * DRAWS + d] = r;
        }
    }
    for (size_t i = 0; i < n; i++) {
        struct league_line *line = &lines[line_of[i]];
        line->rank = sum_exactly(rank + i * DRAWS, DRAWS) / DRAWS;
        qsort(rank + i * DRAWS, DRAWS, sizeof *rank, up);
        line->rank_low = rank[i * DRAWS + (size_t)floor((1 - level) / 2 * (DRAWS - 1))];
        line->rank_high = rank[i * DRAWS + (size_t)ceil((1 + level) / 2 * (DRAWS - 1))];
    }
}

static bool by_model(const struct cells *c, const struct league_rules *rules, double level, uint64_t seed, struct species_league *out,
                     struct arena *arena)
{
    struct failure none;
    struct mixed_fit fit;
    size_t p = 0, n = c->n_names;
    double *x = design_make(c, &p, arena);
    struct design design = {.n = c->n, .p = p, .x = x, .y = c->alive, .trials = c->known};
    struct random_term terms[2] = {{n, c->species, 1, NULL}, {c->plots, c->plot, 1, NULL}};
    if (c->plots < 2 || n > MIXED_EFFECT_MOST || c->n <= p + 2 ||
        mixed_logistic(&design, terms, 2, 1, level, arena, &fit, &none) != OUTCOME_OK)
        return false;
    double *beta = arena_array(arena, p, sizeof *beta), *eta = arena_array(arena, n, sizeof *eta),
           *factor = arena_array(arena, n * n, sizeof *factor);
    size_t *same = arena_array(arena, n, sizeof *same);
    for (size_t j = 0; j < p; j++)
        beta[j] = fit.beta[j].value;
    double middle = average_eta(x, beta, p, c), plots = fit.term_covariance[1][0], z = student_quantile((1 + level) / 2, (double)n - 1);
    out->spread = sqrt(fit.term_covariance[0][0]);
    out->no_spread = out->spread < 1e-3;
    out->common = logistic_marginal(middle, plots);
    for (size_t i = 0; i < n; i++) {
        double se = sqrt(fmax(0, fit.effect_covariance[0][i * n + i]));
        eta[i] = middle + fit.effect[0][i];
        same[i] = i;
        out->lines[i].fair = (struct estimate){logistic_marginal(eta[i], plots), unknown_real(), logistic_marginal(eta[i] - z * se, plots),
                                               logistic_marginal(eta[i] + z * se, plots), (double)out->lines[i].known};
    }
    /* the margin, undone through the same average over plots by halving */
    double wanted = out->common - rules->margin, low = -40, high = middle;
    for (int k = 0; k < 80; k++) {
        double half = (low + high) / 2;
        *(logistic_marginal(half, plots) < wanted ? &low : &high) = half;
    }
    factor_of(fit.effect_covariance[0], n, factor);
    draws_take(eta, factor, n, middle, low, level, seed, out->lines, same, arena);
    return true;
}

static enum outcome by_counts(const struct league_rules *rules, double level, uint64_t seed, struct species_league *out,
                              struct arena *arena, struct failure *why)
{
    struct league league;
    double *y = arena_array(arena, out->n, sizeof *y), *n = arena_array(arena, out->n, sizeof *n);
    for (size_t i = 0; i < out->n; i++) {
        y[i] = (double)out->lines[i].alive;
        n[i] = (double)out->lines[i].known;
    }
    enum outcome outcome = league_beta_binomial(y, n, out->n, level, 3, DRAWS, seed, arena, &league, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    out->common = league.mean;
    out->no_spread = league.no_spread;
    struct random_stream stream = random_make(seed, 42);
    for (size_t i = 0; i < out->n; i++) {
        struct league_line *line = &out->lines[i];
        line->fair = league.each[i];
        line->rank = league.rank_mean[i];
        line->rank_low = league.rank_low[i];
        line->rank_high = league.rank_high[i];
        for (int d = 0; d < DRAWS && !league.no_spread; d++) {
            double draw = random_beta(&stream, league.a + y[i], league.b + n[i] - y[i]);
            line->p_above += (draw > league.mean) / (double)DRAWS;
            line->p_below += (draw < league.mean - rules->margin) / (double)DRAWS;
        }
    }
    return OUTCOME_OK;
}

static enum league_verdict verdict_of(const struct league_line *line, const struct league_rules *rules)
{
    if (line->known < rules->least_judged)
        return LEAGUE_TOO_FEW;
    if (line->p_above >= rules->sure)
        return LEAGUE_MORE;
    if (line->p_below >= rules->sure)
        return LEAGUE_DROP;
    return line->fair.high - line->fair.low > rules->widest ? LEAGUE_TOO_FEW : LEAGUE_KEEP;
}

static int best_first(const void *a, const void *b)
{
    const struct league_line *x = a, *y = b;
    if (x->fair.value != y->fair.value)
        return x->fair.value < y->fair.value ? 1 : -1;
    return strcmp(x->species, y->species);
}

static const char *league_sentence(const struct species_league *l, struct arena *arena)
{
    struct text words = {0};
    static const enum league_verdict order[] = {LEAGUE_MORE, LEAGUE_DROP};
    for (int k = 0; k < 2; k++) {
        size_t n = 0;
        for (size_t i = 0; i < l->n; i++) {
            const struct league_line *line = &l->lines[order[k] == LEAGUE_DROP ? l->n - 1 - i : i];
            if (line->verdict == order[k] && n++ < 4)
                text_print(&words, "%s%s", n > 1 ? ", " : order[k] == LEAGUE_MORE ? " Plant more: " : " Drop: ", line->species);
        }
        if (n > 4)
            text_print(&words, " and %zu more", n - 4);
        if (n > 0)
            text_add(&words, ".");
    }
    size_t few = 0;
    for (size_t i = 0; i < l->n; i++)
        few += l->lines[i].verdict == LEAGUE_TOO_FEW;
    if (few > 0)
        text_print(&words, " %zu of %zu have too few plants to tell.", few, l->n);
    const char *out = arena_print(arena, "%zu species in %zu plot%s on %zu site%s%s.%s", l->n, l->plots, l->plots == 1 ? "" : "s", l->sites,
                                  l->sites == 1 ? "" : "s", l->no_spread ? " lived alike as far as can be seen" : "", text_get(&words));
    text_free(&words);
    return out;
}

enum outcome evidence_league(const struct plot_lives *lives, const size_t *plots, size_t n_plots, const struct league_rules *rules,
                             double level, uint64_t seed, struct arena *arena, struct species_league *out, struct failure *why)
{
    struct cells c;
    enum outcome outcome = cells_fill(lives, plots, n_plots, arena, &c, why);
    if (outcome == OUTCOME_OK) {
        struct species_league l = {.lines = arena_array(arena, c.n_names, sizeof *l.lines),
                                   .n = c.n_names,
                                   .plots = c.plots,
                                   .sites = c.sites,
                                   .spread = unknown_real()};
        for (size_t i = 0; i < l.n; i++)
            l.lines[i].species = c.names[i];
        for (size_t i = 0; i < c.n; i++) {
            struct league_line *line = &l.lines[c.species[i]];
            line->plots++;
            line->alive += (int64_t)c.alive[i];
            line->known += (int64_t)c.known[i];
        }
        for (size_t i = 0; outcome == OUTCOME_OK && i < l.n; i++)
            outcome = proportion_wilson((double)l.lines[i].alive, (double)l.lines[i].known, level, false, &l.lines[i].raw, why);
        if (outcome == OUTCOME_OK) {
            l.by_model = by_model(&c, rules, level, seed, &l, arena);
            if (!l.by_model)
                outcome = by_counts(rules, level, seed, &l, arena, why);
        }
        for (size_t i = 0; i < l.n; i++)
            if (l.no_spread) /* no interval can be had from no spread */
                l.lines[i].fair.low = l.lines[i].fair.high = unknown_real();
        for (size_t i = 0; i < l.n; i++)
            l.lines[i].verdict = verdict_of(&l.lines[i], rules);
        qsort(l.lines, l.n, sizeof *l.lines, best_first);
        l.sentence = league_sentence(&l, arena);
        *out = l;
    }
    cells_free(&c);
    return outcome;
}
