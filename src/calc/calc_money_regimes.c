/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of money/ about regimes beside each other: over sites, and before planting. */
#include "calc/calc_rooms.h"
#include "money/money.h"

#define COUNT(list) (sizeof(list) / sizeof *(list))

static void band_put(json_t *result, const char *name, struct cost_band band)
{
    calc_put_all(result, name, (const double[]){band.median, band.low, band.high}, 3);
}

static const struct calc_value sites_in[] = {
    {"spend", "currency", CALC_NUMBERS, true, "spend of each site"},
    {"established", "", CALC_NUMBERS, true, "plants established on each"},
    {"level", "", CALC_NUMBER, false, "of the intervals, default 0.95"},
    {"draws", "", CALC_NUMBER, false, "sites drawn again, default 20,000"},
    {"seed", "", CALC_NUMBER, false, "default 1"},
};
static const struct calc_value sites_out[] = {
    {"estimate", "currency", CALC_NUMBER, true, "per established plant; null where none is"},
    {"se", "currency", CALC_NUMBER, true, "by linearisation"},
    {"linear", "currency", CALC_NUMBERS, true, "low and high, t with n − 1"},
    {"fieller", "currency", CALC_NUMBERS, true, "low and high, with the covariance; null where the set is no interval"},
    {"bootstrap", "currency", CALC_NUMBERS, true, "low and high, sites drawn again"},
};

static enum outcome sites_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n = 0, m = 0;
    double *spend = calc_numbers(in, "spend", &arena, &n), *established = calc_numbers(in, "established", &arena, &m);
    struct ratio_units out;
    enum outcome outcome = n == m
                               ? cost_ratio_units(spend, established, n, calc_number(in, "level", 0.95),
                                                  (size_t)calc_number(in, "draws", 20000), (uint64_t)calc_number(in, "seed", 1), &out, why)
                               : fail(why, OUTCOME_USAGE, "There must be as many counts as amounts.");
    if (outcome == OUTCOME_OK) {
        calc_put(result, "estimate", out.estimate);
        calc_put(result, "se", out.se);
        calc_put_all(result, "linear", (double[]){out.linear_low, out.linear_high}, 2);
        calc_put_all(result, "fieller", (double[]){out.fieller_low, out.fieller_high}, 2);
        calc_put_all(result, "bootstrap", (double[]){out.bootstrap_low, out.bootstrap_high}, 2);
    }
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value pair_in[] = {
    {"spend_a", "currency", CALC_NUMBERS, true, "spend of one regime on each site"},
    {"established_a", "", CALC_NUMBERS, true, "its plants established"},
    {"spend_b", "currency", CALC_NUMBERS, true, "of the other, on the same sites"},
    {"established_b", "", CALC_NUMBERS, true, "its plants established"},
    {"level", "", CALC_NUMBER, false, "of the intervals, default 0.95"},
    {"draws", "", CALC_NUMBER, false, "sites drawn again, default 20,000"},
    {"seed", "", CALC_NUMBER, false, "default 1"},
};
static const struct calc_value pair_out[] = {
    {"difference", "currency", CALC_NUMBER, true, "a − b, per established plant"},
    {"se", "currency", CALC_NUMBER, true, "by linearisation"},
    {"linear", "currency", CALC_NUMBERS, true, "low and high, t with n − 1"},
    {"bootstrap", "currency", CALC_NUMBERS, true, "low and high, sites drawn again"},
    {"chance_a_cheaper", "", CALC_NUMBER, true, "share of these draws"},
};

static enum outcome pair_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n[4] = {0};
    double *sa = calc_numbers(in, "spend_a", &arena, &n[0]), *ea = calc_numbers(in, "established_a", &arena, &n[1]),
           *sb = calc_numbers(in, "spend_b", &arena, &n[2]), *eb = calc_numbers(in, "established_b", &arena, &n[3]);
    struct ratio_versus out;
    enum outcome outcome = n[0] == n[1] && n[1] == n[2] && n[2] == n[3]
                               ? cost_ratio_versus(sa, ea, sb, eb, n[0], calc_number(in, "level", 0.95),
                                                   (size_t)calc_number(in, "draws", 20000), (uint64_t)calc_number(in, "seed", 1), &out, why)
                               : fail(why, OUTCOME_USAGE, "All four lists must be of the same sites.");
    if (outcome == OUTCOME_OK) {
        calc_put(result, "difference", out.difference);
        calc_put(result, "se", out.se);
        calc_put_all(result, "linear", (double[]){out.low, out.high}, 2);
        calc_put_all(result, "bootstrap", (double[]){out.bootstrap_low, out.bootstrap_high}, 2);
        calc_put(result, "chance_a_cheaper", out.cheaper);
    }
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value versus_in[] = {
    {"cost_name", "", CALC_WORDS, true, "costs; the same name is drawn alike in both regimes"},
    {"cost_a", "currency", CALC_NUMBERS, true, "low, mode, high of the first, of the second …, for regime a"},
    {"cost_b", "currency", CALC_NUMBERS, true, "the same for regime b"},
    {"planted_a", "", CALC_NUMBER, true, "plants"},
    {"planted_b", "", CALC_NUMBER, true, "plants"},
    {"survival_a", "", CALC_NUMBERS, true, "low, mode, high share established"},
    {"survival_b", "", CALC_NUMBERS, true, "low, mode, high"},
    {"area_a", "m²", CALC_NUMBER, false, "area"},
    {"area_b", "m²", CALC_NUMBER, false, "area"},
    {"draws", "", CALC_NUMBER, false, "default 10,000"},
    {"seed", "", CALC_NUMBER, false, "default 1"},
};
static const struct calc_value versus_out[] = {
    {"per_established", "currency", CALC_NUMBERS, true, "median, low, high of a − b"},
    {"chance_established", "", CALC_NUMBER, true, "that a costs less per established plant"},
    {"per_m2", "currency/m²", CALC_NUMBERS, false, "median, low, high of a − b"},
    {"chance_m2", "", CALC_NUMBER, false, "that a costs less per m²"},
};

static enum outcome versus_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct cost_plan plans[2];
    struct cost_versus out;
    size_t n = json_array_size(json_object_get(in, "cost_name"));
    static const char *const names[2][4] = {{"cost_a", "planted_a", "survival_a", "area_a"},
                                            {"cost_b", "planted_b", "survival_b", "area_b"}};
    enum outcome outcome = OUTCOME_OK;
    for (size_t k = 0; k < 2 && outcome == OUTCOME_OK; k++) {
        size_t m = 0, s = 0;
        double *costs = calc_numbers(in, names[k][0], &arena, &m), *survival = calc_numbers(in, names[k][2], &arena, &s);
        if (m != 3 * n || s != 3) {
            outcome = fail(why, OUTCOME_USAGE, "Every range has three figures: low, mode, high.");
            break;
        }
        struct cost_range *ranges = arena_array(&arena, n + 1, sizeof *ranges);
        for (size_t i = 0; i < n; i++)
            ranges[i] = (struct cost_range){json_string_value(json_array_get(json_object_get(in, "cost_name"), i)), costs[3 * i],
                                            costs[3 * i + 1], costs[3 * i + 2]};
        plans[k] = (struct cost_plan){.costs = ranges,
                                      .n_costs = n,
                                      .planted = calc_number(in, names[k][1], 0),
                                      .survival = {"survival", survival[0], survival[1], survival[2]},
                                      .area_m2 = calc_number(in, names[k][3], unknown_real()),
                                      .canopy = {"canopy", unknown_real(), unknown_real(), unknown_real()}};
    }
    if (outcome == OUTCOME_OK)
        outcome = cost_compare(&plans[0], &plans[1], 0.95, (size_t)calc_number(in, "draws", 10000), (uint64_t)calc_number(in, "seed", 1),
                               &arena, &out, why);
    if (outcome == OUTCOME_OK) {
        band_put(result, "per_established", out.per_established);
        calc_put(result, "chance_established", out.cheaper_established);
        band_put(result, "per_m2", out.per_m2);
        calc_put(result, "chance_m2", out.cheaper_m2);
    }
    arena_clear(&arena);
    return outcome;
}

#define TABLE(name) name##_in, COUNT(name##_in), name##_out, COUNT(name##_out), name##_run
const struct calc calc_money_regimes[] = {
    {"cost_over_sites", "Cost per established plant over sites, with three intervals",
     "ratio of sums: Cochran 1977, section 6.4; Fieller 1954 with covariance; Efron & Tibshirani 1993, ch. 13", TABLE(sites)},
    {"cost_difference_over_sites", "Difference of cost per established plant between two regimes over sites",
     "linearised difference of ratios: Cochran 1977, section 6.4; sites drawn again: Efron & Tibshirani 1993", TABLE(pair)},
    {"cost_versus", "Two regimes side by side before planting, and the chance that one is cheaper",
     "simulation from PERT ranges, prices shared", TABLE(versus)},
    {0},
};
