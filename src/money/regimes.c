/* SPDX-License-Identifier: GPL-3.0-or-later
 * Two regimes side by side: before planting by simulation over prices, survival and replacement; after it from sites, as
 * ratios whose spend and established plants vary together. */
#include "money/draws.h"
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdlib.h>

/* FNV-1a: a stream of its own for every name. */
static uint64_t name_stream(uint64_t seed, const char *name, const char *whose)
{
    uint64_t hash = 1469598103934665603u;
    for (const char *p = name; *p != '\0'; p++)
        hash = (hash ^ (unsigned char)*p) * 1099511628211u;
    for (const char *p = whose; *p != '\0'; p++)
        hash = (hash ^ (unsigned char)*p) * 1099511628211u;
    return seed ^ hash;
}

static double named_draw(const struct cost_range *range, uint64_t stream, size_t i)
{
    struct random_stream r = random_make(stream, i);
    return range_draw(&r, range);
}

struct columns {
    double *spend, *established, *each, *per_m2, *per_canopy;
};

static void plan_draw(const struct cost_plan *plan, const char *whose, uint64_t seed, size_t draws, const struct columns *o)
{
    bool canopy = is_known(plan->area_m2) && is_known(plan->canopy.mode);
    for (size_t i = 0; i < draws; i++)
        o->spend[i] = 0;
    for (size_t k = 0; k < plan->n_costs; k++) {
        uint64_t stream = name_stream(seed, plan->costs[k].name == NULL ? "a cost" : plan->costs[k].name, "");
        for (size_t i = 0; i < draws; i++)
            o->spend[i] += named_draw(&plan->costs[k], stream, i);
    }
    for (size_t i = 0; i < draws; i++) {
        double alive = plan->planted * named_draw(&plan->survival, name_stream(seed, "survival", whose), i);
        if (plan->rounds > 0) {
            double price = named_draw(&plan->replacement, name_stream(seed, "cost of a replacement", ""), i);
            double lives = named_draw(&plan->replacement_survival, name_stream(seed, "survival of replacements", whose), i);
            for (int round = 0; round < plan->rounds; round++) {
                double put = (plan->planted - alive) * plan->replaced_share;
                o->spend[i] += put * price;
                alive += put * lives;
            }
        }
        double cover = canopy ? plan->area_m2 * named_draw(&plan->canopy, name_stream(seed, "canopy", whose), i) : unknown_real();
        o->established[i] = alive;
        o->each[i] = alive > 0 ? o->spend[i] / alive : HUGE_VAL;
        o->per_m2[i] = o->spend[i] / plan->area_m2;
        o->per_canopy[i] = canopy && cover <= 0 ? HUGE_VAL : o->spend[i] / cover;
    }
}

static const struct cost_band nothing = {NAN, NAN, NAN};

static struct cost_simulation alone(const struct cost_plan *plan, const struct columns *o, double level, size_t draws, uint64_t seed)
{
    struct cost_simulation sim = {.seed = seed, .draws = draws};
    bool area = is_known(plan->area_m2);
    for (size_t i = 0; i < draws; i++)
        sim.share_none += isinf(o->each[i]) ? 1.0 / (double)draws : 0;
    sim.spend = band_of(o->spend, draws, level);
    sim.established = band_of(o->established, draws, level);
    sim.per_established = band_of(o->each, draws, level);
    sim.per_m2 = area ? band_of(o->per_m2, draws, level) : nothing;
    sim.per_m2_canopy = area && is_known(plan->canopy.mode) ? band_of(o->per_canopy, draws, level) : nothing;
    return sim;
}

/* a − b by draw, its band, and the share of draws with a below b. Where both are without limit they tie. */
static struct cost_band versus(const double *a, const double *b, size_t draws, double level, double *work, double *cheaper)
{
    double below = 0;
    for (size_t i = 0; i < draws; i++) {
        bool tie = isinf(a[i]) && isinf(b[i]);
        work[i] = tie ? 0 : a[i] - b[i];
        below += tie || work[i] == 0 ? 0.5 : work[i] < 0;
    }
    *cheaper = below / (double)draws;
    return band_of(work, draws, level);
}

enum outcome cost_compare(const struct cost_plan *a, const struct cost_plan *b, double level, size_t draws, uint64_t seed,
                          struct arena *arena, struct cost_versus *out, struct failure *why)
{
    enum outcome outcome = plan_check(a, level, draws, why);
    if (outcome == OUTCOME_OK)
        outcome = plan_check(b, level, draws, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    (void)arena;
    double *columns = memory_get(11 * draws, sizeof *columns), *work = columns + 10 * draws;
    struct columns o[2];
    for (size_t k = 0; k < 2; k++) {
        double *at = columns + 5 * k * draws;
        o[k] = (struct columns){at, at + draws, at + 2 * draws, at + 3 * draws, at + 4 * draws};
    }
    plan_draw(a, "a", seed, draws, &o[0]);
    plan_draw(b, "b", seed, draws, &o[1]);
    bool area = is_known(a->area_m2) && is_known(b->area_m2), canopy = area && is_known(a->canopy.mode) && is_known(b->canopy.mode);
    struct cost_versus v = {
        .seed = seed, .draws = draws, .per_m2 = nothing, .per_m2_canopy = nothing, .cheaper_m2 = NAN, .cheaper_canopy = NAN};
    v.a = alone(a, &o[0], level, draws, seed);
    v.b = alone(b, &o[1], level, draws, seed);
    v.spend = versus(o[0].spend, o[1].spend, draws, level, work, &v.cheaper_spend);
    v.per_established = versus(o[0].each, o[1].each, draws, level, work, &v.cheaper_established);
    if (area)
        v.per_m2 = versus(o[0].per_m2, o[1].per_m2, draws, level, work, &v.cheaper_m2);
    if (canopy)
        v.per_m2_canopy = versus(o[0].per_canopy, o[1].per_canopy, draws, level, work, &v.cheaper_canopy);
    free(columns);
    *out = v;
    return OUTCOME_OK;
}

/* ---- ratios over sites ---- */

static enum outcome units_check(const double *spend, const double *established, size_t n, double level, size_t draws, struct failure *why)
{
    for (size_t i = 0; i < n; i++)
        if (!(spend[i] >= 0) || !(established[i] >= 0) || isinf(spend[i]) || isinf(established[i]))
            return fail(why, OUTCOME_DATA, "Spend and established plants of every site must be known and not negative.");
    if (n == 0)
        return fail(why, OUTCOME_DATA, "There is no site to work from.");
    if (!(level > 0 && level < 1) || draws < 100 || draws > 1000000)
        return fail(why, OUTCOME_USAGE, "The level must lie between 0 and 1, and the draws between 100 and 1,000,000.");
    return OUTCOME_OK;
}

static double sum_of(const double *x, size_t n)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += x[i];
    return sum;
}

/* Σ y / Σ x over n units drawn again; without limit where none is established. */
static double ratio_again(const double *y, const double *x, const size_t *drawn, size_t n)
{
    double sy = 0, sx = 0;
    for (size_t k = 0; k < n; k++) {
        sy += y[drawn[k]];
        sx += x[drawn[k]];
    }
    return sx > 0 ? sy / sx : HUGE_VAL;
}

static void draw_again(struct random_stream *r, size_t n, size_t *drawn)
{
    for (size_t k = 0; k < n; k++) {
        size_t i = (size_t)(random_uniform(r) * (double)n);
        drawn[k] = i < n ? i : n - 1;
    }
}

/* Fieller's limits with covariance: all θ with (ȳ − θ x̄)² ≤ t² (v_yy − 2θ v_xy + θ² v_xx). */
static void fieller_units(const double *y, const double *x, size_t n, double t, struct ratio_units *out)
{
    double my = sum_of(y, n) / (double)n, mx = sum_of(x, n) / (double)n, yy = 0, xx = 0, xy = 0, k = (double)n * (double)(n - 1);
    for (size_t i = 0; i < n; i++) {
        yy += (y[i] - my) * (y[i] - my) / k;
        xx += (x[i] - mx) * (x[i] - mx) / k;
        xy += (x[i] - mx) * (y[i] - my) / k;
    }
    double a = mx * mx - t * t * xx, b = -2 * (mx * my - t * t * xy), c = my * my - t * t * yy, root = b * b - 4 * a * c;
    if (!(a > 0) || !(root >= 0))
        return;
    out->fieller_low = (-b - sqrt(root)) / (2 * a);
    out->fieller_high = (-b + sqrt(root)) / (2 * a);
}

enum outcome cost_ratio_units(const double *spend, const double *established, size_t n, double level, size_t draws, uint64_t seed,
                              struct ratio_units *out, struct failure *why)
{
    enum outcome outcome = units_check(spend, established, n, level, draws, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    double sx = sum_of(established, n), unknown = unknown_real();
    *out = (struct ratio_units){sx > 0 ? sum_of(spend, n) / sx : unknown, unknown, unknown, unknown, unknown, unknown, unknown, unknown, n};
    if (n < 2 || !(sx > 0))
        return OUTCOME_OK;
    double t = gsl_cdf_tdist_Pinv(0.5 + level / 2, (double)n - 1), squares = 0;
    for (size_t i = 0; i < n; i++) {
        double rest = spend[i] - out->estimate * established[i];
        squares += rest * rest;
    }
    out->se = sqrt((double)n / (double)(n - 1) * squares) / sx;
    out->linear_low = out->estimate - t * out->se;
    out->linear_high = out->estimate + t * out->se;
    fieller_units(spend, established, n, t, out);
    double *again = memory_get(draws, sizeof *again);
    size_t *drawn = memory_get(n, sizeof *drawn);
    for (size_t i = 0; i < draws; i++) {
        struct random_stream r = random_make(seed, i);
        draw_again(&r, n, drawn);
        again[i] = ratio_again(spend, established, drawn, n);
    }
    struct cost_band band = band_of(again, draws, level);
    out->bootstrap_low = band.low;
    out->bootstrap_high = band.high;
    free(drawn);
    free(again);
    return OUTCOME_OK;
}

enum outcome cost_ratio_versus(const double *spend_a, const double *established_a, const double *spend_b, const double *established_b,
                               size_t n, double level, size_t draws, uint64_t seed, struct ratio_versus *out, struct failure *why)
{
    enum outcome outcome = units_check(spend_a, established_a, n, level, draws, why);
    if (outcome == OUTCOME_OK)
        outcome = units_check(spend_b, established_b, n, level, draws, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    double xa = sum_of(established_a, n), xb = sum_of(established_b, n), unknown = unknown_real();
    *out = (struct ratio_versus){unknown, unknown, unknown, unknown, unknown, unknown, unknown, n};
    if (!(xa > 0 && xb > 0))
        return OUTCOME_OK;
    double ra = sum_of(spend_a, n) / xa, rb = sum_of(spend_b, n) / xb, squares = 0, below = 0;
    out->difference = ra - rb;
    if (n < 2)
        return OUTCOME_OK;
    for (size_t i = 0; i < n; i++) {
        double rest = (spend_a[i] - ra * established_a[i]) / xa - (spend_b[i] - rb * established_b[i]) / xb;
        squares += rest * rest;
    }
    double t = gsl_cdf_tdist_Pinv(0.5 + level / 2, (double)n - 1);
    out->se = sqrt((double)n / (double)(n - 1) * squares);
    out->low = out->difference - t * out->se;
    out->high = out->difference + t * out->se;
    double *again = memory_get(draws, sizeof *again);
    size_t *drawn = memory_get(n, sizeof *drawn);
    for (size_t i = 0; i < draws; i++) {
        struct random_stream r = random_make(seed, i);
        draw_again(&r, n, drawn);
        double a = ratio_again(spend_a, established_a, drawn, n), b = ratio_again(spend_b, established_b, drawn, n);
        bool tie = isinf(a) && isinf(b);
        again[i] = tie ? 0 : a - b;
        below += tie || again[i] == 0 ? 0.5 : again[i] < 0;
    }
    struct cost_band band = band_of(again, draws, level);
    out->bootstrap_low = band.low;
    out->bootstrap_high = band.high;
    out->cheaper = below / (double)draws;
    free(drawn);
    free(again);
    return OUTCOME_OK;
}
