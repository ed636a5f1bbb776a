/* SPDX-License-Identifier: GPL-3.0-or-later
 * Carbon of a plot from its samples: stocks of composites by zone and time, and what changed, was added and was gained. */
#include "ground/pits.h"
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

struct composite {
    struct carbon_layer *layers;
    size_t n;
    double *mass, *stock; /* cumulative */
};
/* Composites of one zone at one time. */
struct round {
    const struct placed *first;
    size_t n_samples;
    struct composite *composites;
    size_t n, left_out;
};
struct surveying {
    struct arena *arena;
    struct placed *placed;
    struct round *rounds;
    size_t n_rounds;
};

static bool texts_same(const char *a, const char *b)
{
    return strcmp(a == NULL ? "" : a, b == NULL ? "" : b) == 0;
}

static bool same_round(const struct soil_sample *a, const struct soil_sample *b)
{
    return texts_same(a->zone, b->zone) && a->time_point == b->time_point && a->sampled_on == b->sampled_on;
}

static int round_order(const void *left, const void *right)
{
    const struct placed *a = left, *b = right;
    const struct soil_sample *s = a->sample, *t = b->sample;
    int order = strcmp(s->zone == NULL ? "" : s->zone, t->zone == NULL ? "" : t->zone);
    if (order == 0)
        order = (int)s->time_point - (int)t->time_point;
    if (order == 0 && s->sampled_on != t->sampled_on)
        order = s->sampled_on < t->sampled_on ? -1 : 1;
    if (order == 0)
        order = strcmp(s->composite == NULL ? "" : s->composite, t->composite == NULL ? "" : t->composite);
    if (order == 0 && (s->depth_top_cm < t->depth_top_cm || s->depth_top_cm > t->depth_top_cm))
        order = s->depth_top_cm < t->depth_top_cm ? -1 : 1;
    return order != 0 ? order : a->index < b->index ? -1 : a->index > b->index;
}

/* Own value, else the mean of the same layer in the same round; unknown if there is none. */
static double layer_value(const struct round *round, const struct soil_sample *s, double own, double (*pick)(const struct soil_sample *))
{
    if (is_known(own))
        return own;
    double sum = 0;
    size_t n = 0;
    for (size_t i = 0; i < round->n_samples; i++) {
        const struct soil_sample *other = round->first[i].sample;
        double value = pick(other);
        if (is_known(value) && fabs(other->depth_top_cm - s->depth_top_cm) < 1e-6 &&
            fabs(other->depth_bottom_cm - s->depth_bottom_cm) < 1e-6) {
            sum += value;
            n++;
        }
    }
    return n > 0 ? sum / (double)n : unknown_real();
}

static double pick_density(const struct soil_sample *s)
{
    return s->bulk_density_g_cm3;
}

static double pick_stones(const struct soil_sample *s)
{
    return s->stones_pct;
}

/* Carbon figures that are really losses on ignition are not taken as carbon. */
static bool has_carbon(const struct soil_sample *s)
{
    return is_known(s->soc_pct) && s->carbon_method != CARBON_METHOD_LOSS_ON_IGNITION && is_known(s->depth_top_cm) &&
           is_known(s->depth_bottom_cm);
}

static void composite_add(struct surveying *s, struct round *round, size_t from, size_t to)
{
    struct composite c = {.layers = arena_array(s->arena, to - from + 1, sizeof *c.layers)};
    for (size_t i = from; i < to; i++) {
        const struct soil_sample *sample = round->first[i].sample;
        if (!has_carbon(sample))
            continue;
        c.layers[c.n++] = (struct carbon_layer){sample->depth_top_cm,
                                                sample->depth_bottom_cm,
                                                sample->soc_pct,
                                                sample->loi_pct,
                                                layer_value(round, sample, sample->bulk_density_g_cm3, pick_density),
                                                layer_value(round, sample, sample->stones_pct, pick_stones)};
    }
    if (c.n == 0)
        return;
    c.mass = arena_array(s->arena, c.n, sizeof *c.mass);
    c.stock = arena_array(s->arena, c.n, sizeof *c.stock);
    if (carbon_mineral_mass(c.layers, c.n, c.mass, NULL) != OUTCOME_OK || carbon_fixed_depth(c.layers, c.n, c.stock, NULL) != OUTCOME_OK)
        round->left_out++;
    else
        round->composites[round->n++] = c;
}

static void rounds_make(struct surveying *s, size_t n)
{
    s->rounds = arena_array(s->arena, n + 1, sizeof *s->rounds);
    for (size_t i = 0; i < n;) {
        struct round *round = &s->rounds[s->n_rounds++];
        size_t end = i + 1;
        while (end < n && same_round(s->placed[i].sample, s->placed[end].sample))
            end++;
        *round = (struct round){.first = s->placed + i, .n_samples = end - i};
        round->composites = arena_array(s->arena, end - i, sizeof *round->composites);
        for (size_t from = 0; from < round->n_samples;) {
            size_t to = from + 1;
            while (to < round->n_samples && texts_same(round->first[from].sample->composite, round->first[to].sample->composite))
                to++;
            composite_add(s, round, from, to);
            from = to;
        }
        i = end;
    }
}

/* The deepest depth that every composite of a zone has as a limit; unknown if there is none. */
static double common_depth(const struct round *rounds, size_t n)
{
    const struct composite *first = NULL;
    for (size_t r = 0; r < n && first == NULL; r++)
        first = rounds[r].n > 0 ? &rounds[r].composites[0] : NULL;
    if (first == NULL)
        return unknown_real();
    for (size_t k = first->n; k-- > 0;) {
        double depth = first->layers[k].bottom_cm;
        bool all = true;
        for (size_t r = 0; r < n && all; r++)
            for (size_t c = 0; c < rounds[r].n && all; c++) {
                bool here = false;
                for (size_t l = 0; l < rounds[r].composites[c].n; l++)
                    here = here || fabs(rounds[r].composites[c].layers[l].bottom_cm - depth) < 1e-6;
                all = here;
            }
        if (all)
            return depth;
    }
    return unknown_real();
}

static size_t layer_at(const struct composite *c, double depth)
{
    for (size_t l = 0; l < c->n; l++)
        if (fabs(c->layers[l].bottom_cm - depth) < 1e-6)
            return l;
    return c->n;
}

struct spread {
    double mean, sd, low, high;
    size_t n;
};

static struct spread spread_of(const double *x, size_t n, double level)
{
    struct spread s = {unknown_real(), unknown_real(), unknown_real(), unknown_real(), n};
    double sum = 0, squares = 0;
    for (size_t i = 0; i < n; i++)
        sum += x[i];
    if (n == 0 || !is_known(sum))
        return s;
    s.mean = sum / (double)n;
    if (n < 2)
        return s;
    for (size_t i = 0; i < n; i++)
        squares += (x[i] - s.mean) * (x[i] - s.mean);
    s.sd = sqrt(squares / (double)(n - 1));
    double half = gsl_cdf_tdist_Pinv(0.5 + level / 2, (double)(n - 1)) * s.sd / sqrt((double)n);
    s.low = s.mean - half;
    s.high = s.mean + half;
    return s;
}

/* Welch's interval for a difference of two means. */
static void welch(const struct spread *a, const struct spread *b, double level, double *difference, double *low, double *high)
{
    *difference = a->mean - b->mean;
    *low = *high = unknown_real();
    double va = a->sd * a->sd / (double)a->n, vb = b->sd * b->sd / (double)b->n;
    if (a->n < 2 || b->n < 2 || !(va + vb > 0))
        return;
    double df = (va + vb) * (va + vb) / (va * va / (double)(a->n - 1) + vb * vb / (double)(b->n - 1));
    double half = gsl_cdf_tdist_Pinv(0.5 + level / 2, df) * sqrt(va + vb);
    *low = *difference - half;
    *high = *difference + half;
}

struct summary {
    struct spread fixed, mass;
};

static struct summary round_summarise(struct surveying *s, const struct round *round, double depth, double reference_mass, double level,
                                      struct carbon_round *out)
{
    double *fixed = arena_array(s->arena, round->n + 1, sizeof *fixed), *mass = arena_array(s->arena, round->n + 1, sizeof *mass);
    for (size_t c = 0; c < round->n; c++) {
        const struct composite *one = &round->composites[c];
        fixed[c] = is_known(depth) ? one->stock[layer_at(one, depth)] : unknown_real();
        mass[c] = unknown_real();
        if (is_known(reference_mass))
            (void)carbon_at_mass(one->mass, one->stock, one->n, reference_mass, CARBON_LINEAR, &mass[c], NULL);
    }
    struct summary sum = {spread_of(fixed, round->n, level), spread_of(mass, round->n, level)};
    const struct soil_sample *first = round->first[0].sample;
    *out = (struct carbon_round){first->zone,  first->time_point, first->sampled_on, round->n,       round->left_out,
                                 depth,        sum.fixed.mean,    sum.fixed.low,     sum.fixed.high, sum.mass.mean,
                                 sum.mass.low, sum.mass.high,     sum.fixed.sd,      sum.mass.sd,    reference_mass};
    return sum;
}

static void difference_add(struct carbon_survey *out, const char *zone, const char *what, const struct summary *later,
                           const struct summary *earlier, double level, struct arena *arena)
{
    struct carbon_difference d = {.zone = zone, .what = what, .detectable_pct = unknown_real()};
    welch(&later->fixed, &earlier->fixed, level, &d.fixed, &d.fixed_low, &d.fixed_high);
    welch(&later->mass, &earlier->mass, level, &d.mass, &d.mass_low, &d.mass_high);
    double spread = sqrt((later->fixed.sd * later->fixed.sd + earlier->fixed.sd * earlier->fixed.sd) / 2); /* pooled, groups alike */
    if (later->fixed.n >= 2 && earlier->fixed.n >= 2 && spread > 0) {
        double n = (double)(later->fixed.n < earlier->fixed.n ? later->fixed.n : earlier->fixed.n);
        (void)carbon_detectable(100 * spread / earlier->fixed.mean, n, 0.8, 1 - level, true, &d.detectable_pct, NULL);
    }
    bool use_mass = is_known(d.mass);
    double value = use_mass ? d.mass : d.fixed, low = use_mass ? d.mass_low : d.fixed_low, high = use_mass ? d.mass_high : d.fixed_high;
    const char *how = use_mass ? "at the same mineral mass" : "to the same depth";
    if (!is_known(value))
        d.words = arena_print(arena, "How much carbon was %s is not known.", what);
    else if (!is_known(low))
        d.words = arena_print(arena, "Carbon %s: %+.1f t/ha %s; one composite gives no interval.", what, value, how);
    else
        d.words = arena_print(
            arena, "Carbon %s: %+.1f t/ha (%.1f to %.1f) %s%s", what, value, low, high, how,
            low <= 0 && high >= 0
                ? arena_print(arena, ". No difference seen; less than about %.0f %% of the stock could be missed.", d.detectable_pct)
                : ".");
    out->differences[out->n_differences++] = d;
}

/* Rounds of one zone, [from, to): before works, after amendment, and every later one. */
static void zone_compare(struct surveying *s, size_t from, size_t to, double level, struct carbon_survey *out)
{
    double depth = common_depth(s->rounds + from, to - from), reference = unknown_real();
    const struct summary *before = NULL, *amended = NULL;
    struct summary *sums = arena_array(s->arena, to - from, sizeof *sums);
    /* The mass that every composite reached: deeper would have to be guessed for some. */
    for (size_t r = from; r < to && is_known(depth); r++)
        for (size_t c = 0; c < s->rounds[r].n; c++) {
            const struct composite *one = &s->rounds[r].composites[c];
            double mass = one->mass[layer_at(one, depth)];
            reference = is_known(reference) ? fmin(reference, mass) : mass;
        }
    for (size_t r = from; r < to; r++) {
        const struct round *round = &s->rounds[r];
        if (round->n == 0 && round->left_out == 0)
            continue; /* nothing about carbon was sampled then */
        sums[r - from] = round_summarise(s, round, depth, reference, level, &out->rounds[out->n_rounds++]);
        enum time_point when = round->first[0].sample->time_point;
        if (round->n > 0 && when == TIME_POINT_BEFORE_WORKS && before == NULL)
            before = &sums[r - from];
        if (round->n > 0 && when == TIME_POINT_AFTER_AMENDMENT && amended == NULL)
            amended = &sums[r - from];
    }
    const char *zone = s->rounds[from].first[0].sample->zone;
    if (before != NULL && amended != NULL)
        difference_add(out, zone, "added", amended, before, level, s->arena);
    bool followed = false;
    for (size_t r = from; r < to; r++)
        if (s->rounds[r].n > 0 && s->rounds[r].first[0].sample->time_point == TIME_POINT_FOLLOW_UP) {
            followed = true;
            if (before != NULL)
                difference_add(out, zone, "changed", &sums[r - from], before, level, s->arena);
            if (amended != NULL)
                difference_add(out, zone, "gained", &sums[r - from], amended, level, s->arena);
        }
    if (followed && amended == NULL)
        out->notes[out->n_notes++] =
            arena_print(s->arena, "%s%s: not sampled after amendment, so added compost cannot be told from what the ground gained.",
                        zone == NULL ? "Plot" : "Zone ", zone == NULL ? "" : zone);
}

enum outcome carbon_survey(const struct soil_sample *samples, size_t n, double level, struct arena *arena, struct carbon_survey *out,
                           struct failure *why)
{
    if (!(level > 0 && level < 1))
        return fail(why, OUTCOME_USAGE, "The level must lie between 0 and 1.");
    struct surveying s = {.arena = arena, .placed = arena_array(arena, n + 1, sizeof *s.placed)};
    size_t carbon = 0, named = 0;
    for (size_t i = 0; i < n; i++) {
        s.placed[i] = (struct placed){&samples[i], i};
        carbon += has_carbon(&samples[i]);
        named += is_known(samples[i].soc_pct) && samples[i].carbon_method == CARBON_METHOD_LOSS_ON_IGNITION;
    }
    if (carbon == 0) {
        fail(why, OUTCOME_DATA, "No sample has organic carbon with its depth.");
        return failure_remedy(why, named > 0 ? "Loss on ignition is not carbon: have dry combustion done."
                                             : "Give soc_pct with the depth of each layer.");
    }
    qsort(s.placed, n, sizeof *s.placed, round_order);
    rounds_make(&s, n);
    struct carbon_survey survey = {0};
    survey.rounds = arena_array(arena, s.n_rounds, sizeof *survey.rounds);
    survey.differences = arena_array(arena, 2 * s.n_rounds + 1, sizeof *survey.differences);
    survey.notes = arena_array(arena, s.n_rounds + 2, sizeof *survey.notes);
    size_t left_out = 0;
    for (size_t from = 0; from < s.n_rounds;) {
        size_t to = from + 1;
        while (to < s.n_rounds && texts_same(s.rounds[from].first[0].sample->zone, s.rounds[to].first[0].sample->zone))
            to++;
        zone_compare(&s, from, to, level, &survey);
        from = to;
    }
    for (size_t r = 0; r < s.n_rounds; r++)
        left_out += s.rounds[r].left_out;
    if (left_out > 0)
        survey.notes[survey.n_notes++] =
            arena_print(arena, "%zu composites are left out: a density, stones or a layer of theirs is not known.", left_out);
    if (named > 0)
        survey.notes[survey.n_notes++] = arena_print(arena, "%zu figures come from loss on ignition and are not taken as carbon.", named);
    *out = survey;
    return OUTCOME_OK;
}
