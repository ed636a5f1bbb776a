/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of stats/: proportions, differences and exact tests; what the other files of calculators share. */
#include "calc/calc_stats.h"
#include <string.h>

const struct calc_value calc_estimate_out[CALC_ESTIMATE_OUT] = {
    {"value", "", CALC_NUMBER, false, "the estimate"},
    {"se", "", CALC_NUMBER, false, "standard error"},
    {"low", "", CALC_NUMBER, false, "lower end of the interval"},
    {"high", "", CALC_NUMBER, false, "upper end of the interval"},
    {"n", "", CALC_NUMBER, false, "number it rests on"},
};
const struct calc_value calc_test_out[CALC_TEST_OUT] = {
    {"statistic", "", CALC_NUMBER, false, "test statistic"},
    {"df", "", CALC_NUMBER, false, "degrees of freedom"},
    {"df2", "", CALC_NUMBER, false, "denominator degrees of freedom of an F"},
    {"p", "", CALC_NUMBER, false, "two-sided p"},
};

void calc_put_estimate(json_t *result, const struct estimate *e)
{
    calc_put(result, "value", e->value);
    calc_put(result, "se", e->se);
    calc_put(result, "low", e->low);
    calc_put(result, "high", e->high);
    calc_put(result, "n", e->n);
}

void calc_put_test(json_t *result, const struct test *test)
{
    calc_put(result, "statistic", test->statistic);
    calc_put(result, "df", test->df);
    calc_put(result, "df2", test->df2);
    calc_put(result, "p", test->p);
}

void calc_put_estimates(json_t *result, const char *prefix, const struct estimate *e, size_t n)
{
    static const char *const names[] = {"value", "se", "low", "high"};
    double *column = memory_get(n == 0 ? 1 : n, sizeof *column);
    for (size_t c = 0; c < 4; c++) {
        char name[80];
        snprintf(name, sizeof name, "%s%s", prefix, names[c]);
        for (size_t i = 0; i < n; i++)
            column[i] = c == 0 ? e[i].value : c == 1 ? e[i].se : c == 2 ? e[i].low : e[i].high;
        calc_put_all(result, name, column, n);
    }
    free(column);
}

static int by_number(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y;
}

size_t *calc_labels(const json_t *in, const char *name, struct arena *arena, size_t *n, size_t *levels)
{
    double *value = calc_numbers(in, name, arena, n), *sorted = arena_array(arena, *n + 1, sizeof *sorted);
    *levels = 0;
    if (*n == 0)
        return NULL;
    memcpy(sorted, value, *n * sizeof *value);
    qsort(sorted, *n, sizeof *sorted, by_number);
    for (size_t i = 0; i < *n; i++)
        if (i == 0 || sorted[i] > sorted[*levels - 1])
            sorted[(*levels)++] = sorted[i];
    size_t *label = arena_array(arena, *n, sizeof *label);
    for (size_t i = 0; i < *n; i++)
        while (label[i] + 1 < *levels && sorted[label[i]] < value[i])
            label[i]++;
    return label;
}

enum outcome calc_same_length(const char *a, size_t n_a, const char *b, size_t n_b, bool optional, struct failure *why)
{
    if (n_a == n_b || (optional && n_b == 0))
        return OUTCOME_OK;
    fail(why, OUTCOME_USAGE, "%s has %zu values but %s has %zu.", a, n_a, b, n_b);
    failure_remedy(why, "Give one value of each per row.");
    return OUTCOME_USAGE;
}

double calc_level(const json_t *in)
{
    return calc_number(in, "level", 0.95);
}

static bool said(const json_t *in, const char *name, const char *word)
{
    return strcmp(calc_word(in, name, ""), word) == 0;
}

static enum outcome run_wilson(const json_t *in, json_t *result, struct failure *why)
{
    struct estimate e;
    enum outcome outcome =
        proportion_wilson(calc_number(in, "x", 0), calc_number(in, "n", 0), calc_level(in), said(in, "correction", "yes"), &e, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    calc_put_estimate(result, &e);
    calc_say(result, "p = x/n = %g; limits are the values of p at which the score test just rejects.", e.value);
    return OUTCOME_OK;
}

static enum outcome run_exact(const json_t *in, json_t *result, struct failure *why)
{
    struct estimate e;
    enum outcome outcome = proportion_exact(calc_number(in, "x", 0), calc_number(in, "n", 0), calc_level(in), &e, why);
    if (outcome == OUTCOME_OK)
        calc_put_estimate(result, &e);
    return outcome;
}

static enum outcome run_newcombe(const json_t *in, json_t *result, struct failure *why)
{
    struct estimate e;
    enum outcome outcome = difference_newcombe(calc_number(in, "x1", 0), calc_number(in, "n1", 0), calc_number(in, "x2", 0),
                                               calc_number(in, "n2", 0), calc_level(in), said(in, "correction", "yes"), &e, why);
    if (outcome == OUTCOME_OK)
        calc_put_estimate(result, &e);
    return outcome;
}

static enum outcome run_noninferior(const json_t *in, json_t *result, struct failure *why)
{
    struct noninferiority r;
    enum outcome outcome = difference_noninferior(calc_number(in, "x1", 0), calc_number(in, "n1", 0), calc_number(in, "x2", 0),
                                                  calc_number(in, "n2", 0), calc_number(in, "margin", 0), calc_level(in), &r, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    calc_put_estimate(result, &r.difference);
    calc_put(result, "p", r.p);
    calc_put_word(result, "verdict", r.shown ? "not worse" : r.refuted ? "worse" : "cannot tell");
    return OUTCOME_OK;
}

static struct two_by_two table_in(const json_t *in)
{
    return (struct two_by_two){calc_number(in, "a", 0), calc_number(in, "b", 0), calc_number(in, "c", 0), calc_number(in, "d", 0)};
}

static enum outcome alternative_in(const json_t *in, enum alternative *out, struct failure *why)
{
    *out = said(in, "alternative", "less") ? FIRST_LESS : said(in, "alternative", "greater") ? FIRST_GREATER : TWO_SIDED;
    if (*out != TWO_SIDED || strcmp(calc_word(in, "alternative", "two-sided"), "two-sided") == 0)
        return OUTCOME_OK;
    return fail(why, OUTCOME_USAGE, "alternative is \"%.40s\"; it must be two-sided, less or greater.", calc_word(in, "alternative", ""));
}

static enum outcome run_fisher(const json_t *in, json_t *result, struct failure *why)
{
    enum alternative alternative;
    struct fisher_result r;
    enum outcome outcome = alternative_in(in, &alternative, why);
    if (outcome != OUTCOME_OK || (outcome = table_fisher(table_in(in), alternative, calc_level(in), &r, why)) != OUTCOME_OK)
        return outcome;
    calc_put(result, "p", r.p);
    calc_put(result, "odds_ratio", r.odds_ratio.value);
    calc_put(result, "low", r.odds_ratio.low);
    calc_put(result, "high", r.odds_ratio.high);
    return OUTCOME_OK;
}

static enum outcome run_unconditional(const json_t *in, json_t *result, struct failure *why)
{
    enum alternative alternative;
    struct unconditional_result r = {.p = unknown_real()};
    enum outcome outcome = alternative_in(in, &alternative, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    outcome = (said(in, "order", "fisher") ? table_boschloo : table_barnard)(table_in(in), alternative, &r, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    calc_put(result, "statistic", r.statistic);
    calc_put(result, "p", r.p);
    calc_put(result, "nuisance", r.nuisance);
    return OUTCOME_OK;
}

static enum outcome run_risk_ratio(const json_t *in, json_t *result, struct failure *why)
{
    struct estimate e;
    enum outcome outcome = table_risk_ratio(table_in(in), calc_level(in), &e, why);
    if (outcome == OUTCOME_OK)
        calc_put_estimate(result, &e);
    return outcome;
}

static enum outcome run_odds_ratio(const json_t *in, json_t *result, struct failure *why)
{
    struct estimate e;
    enum outcome outcome = table_odds_ratio(table_in(in), calc_level(in), &e, why);
    if (outcome == OUTCOME_OK)
        calc_put_estimate(result, &e);
    return outcome;
}

static enum outcome run_mcnemar(const json_t *in, json_t *result, struct failure *why)
{
    struct paired_result r;
    enum outcome outcome = table_mcnemar(table_in(in), calc_level(in), &r, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    calc_put_estimate(result, &r.difference);
    calc_put(result, "statistic", r.mcnemar.statistic);
    calc_put(result, "p", r.p);
    calc_put(result, "mid_p", r.mid_p);
    return OUTCOME_OK;
}

static enum outcome run_annual(const json_t *in, json_t *result, struct failure *why)
{
    struct estimate e;
    enum outcome outcome =
        survival_annual(calc_number(in, "alive", 0), calc_number(in, "n", 0), calc_number(in, "years", 0), calc_level(in), &e, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    calc_put_estimate(result, &e);
    calc_put(result, "mortality", 1 - e.value);
    return OUTCOME_OK;
}

static enum outcome run_rate(const json_t *in, json_t *result, struct failure *why)
{
    struct estimate e;
    enum outcome outcome = rate_exact(calc_number(in, "count", 0), calc_number(in, "effort", 0), calc_level(in), &e, why);
    if (outcome == OUTCOME_OK)
        calc_put_estimate(result, &e);
    return outcome;
}

static enum outcome run_rate_ratio(const json_t *in, json_t *result, struct failure *why)
{
    struct estimate e;
    double p = 0;
    enum outcome outcome = rate_ratio(calc_number(in, "count1", 0), calc_number(in, "effort1", 0), calc_number(in, "count2", 0),
                                      calc_number(in, "effort2", 0), calc_level(in), &e, &p, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    calc_put_estimate(result, &e);
    calc_put(result, "p", p);
    return OUTCOME_OK;
}

#define LEVEL_IN                                                                                                                           \
    {                                                                                                                                      \
        "level", "", CALC_NUMBER, false, "level of the interval, 0.95 if left out"                                                         \
    }
#define LENGTH(a) (sizeof(a) / sizeof *(a))

static const struct calc_value one_in[] = {
    {"x", "", CALC_NUMBER, true, "how many have the property, 0 … n"},
    {"n", "", CALC_NUMBER, true, "how many were looked at, above 0"},
    LEVEL_IN,
    {"correction", "", CALC_WORD, false, "yes: with continuity correction; no if left out"},
};
static const struct calc_value two_in[] = {
    {"x1", "", CALC_NUMBER, true, "how many of the first group"},
    {"n1", "", CALC_NUMBER, true, "size of the first group"},
    {"x2", "", CALC_NUMBER, true, "how many of the second group"},
    {"n2", "", CALC_NUMBER, true, "size of the second group"},
    LEVEL_IN,
    {"correction", "", CALC_WORD, false, "yes: with continuity correction; no if left out"},
};
static const struct calc_value margin_in[] = {
    {"x1", "", CALC_NUMBER, true, "how many of the first group"},
    {"n1", "", CALC_NUMBER, true, "size of the first group"},
    {"x2", "", CALC_NUMBER, true, "how many of the second group"},
    {"n2", "", CALC_NUMBER, true, "size of the second group"},
    {"margin", "", CALC_NUMBER, true, "largest loss that would still be accepted, 0 … 1"},
    LEVEL_IN,
};
static const struct calc_value table_in_values[] = {
    {"a", "", CALC_NUMBER, true, "first group, with the property"},
    {"b", "", CALC_NUMBER, true, "first group, without"},
    {"c", "", CALC_NUMBER, true, "second group, with the property"},
    {"d", "", CALC_NUMBER, true, "second group, without"},
    LEVEL_IN,
    {"alternative", "", CALC_WORD, false, "two-sided (default), less, greater: of the first group"},
    {"order", "", CALC_WORD, false, "how tables are ordered: score (default) or fisher"},
};
static const struct calc_value pairs_in[] = {
    {"a", "", CALC_NUMBER, true, "pairs in which both have the property"},
    {"b", "", CALC_NUMBER, true, "pairs in which only the first has it"},
    {"c", "", CALC_NUMBER, true, "pairs in which only the second has it"},
    {"d", "", CALC_NUMBER, true, "pairs in which neither has it"},
    LEVEL_IN,
};
static const struct calc_value noninferior_out[] = {
    {"value", "", CALC_NUMBER, false, "first minus second"},
    {"low", "", CALC_NUMBER, false, "lower end"},
    {"high", "", CALC_NUMBER, false, "upper end"},
    {"p", "", CALC_NUMBER, false, "one-sided p that the first is worse by the margin or more"},
    {"verdict", "", CALC_WORD, false, "not worse, worse, or cannot tell"},
};
static const struct calc_value fisher_out[] = {
    {"p", "", CALC_NUMBER, false, "p"},
    {"odds_ratio", "", CALC_NUMBER, false, "conditional maximum likelihood"},
    {"low", "", CALC_NUMBER, false, "lower end"},
    {"high", "", CALC_NUMBER, false, "upper end"},
};
static const struct calc_value unconditional_out[] = {
    {"statistic", "", CALC_NUMBER, false, "pooled z, or Fisher's p"},
    {"p", "", CALC_NUMBER, false, "p"},
    {"nuisance", "", CALC_NUMBER, false, "common proportion at which p is reached"},
};
static const struct calc_value mcnemar_out[] = {
    {"value", "", CALC_NUMBER, false, "difference of proportions"},
    {"low", "", CALC_NUMBER, false, "lower end"},
    {"high", "", CALC_NUMBER, false, "upper end"},
    {"statistic", "", CALC_NUMBER, false, "McNemar's chi-squared"},
    {"p", "", CALC_NUMBER, false, "exact p"},
    {"mid_p", "", CALC_NUMBER, false, "mid-p"},
};
static const struct calc_value annual_in[] = {
    {"alive", "plants", CALC_NUMBER, true, "alive at the end"},
    {"n", "plants", CALC_NUMBER, true, "alive at the start"},
    {"years", "a", CALC_NUMBER, true, "years between, above 0"},
    LEVEL_IN,
};
static const struct calc_value annual_out[] = {
    {"value", "per year", CALC_NUMBER, false, "share that lives through a year"},
    {"low", "per year", CALC_NUMBER, false, "lower end"},
    {"high", "per year", CALC_NUMBER, false, "upper end"},
    {"mortality", "per year", CALC_NUMBER, false, "1 minus it"},
};
static const struct calc_value rate_in[] = {
    {"count", "", CALC_NUMBER, true, "how many were counted, a whole number"},
    {"effort", "", CALC_NUMBER, true, "effort: hours, traps, square metres; above 0"},
    LEVEL_IN,
};
static const struct calc_value rates_in[] = {
    {"count1", "", CALC_NUMBER, true, "first count"},
    {"effort1", "", CALC_NUMBER, true, "first effort"},
    {"count2", "", CALC_NUMBER, true, "second count"},
    {"effort2", "", CALC_NUMBER, true, "second effort, same unit"},
    LEVEL_IN,
};
static const struct calc_value ratio_out[] = {
    {"value", "", CALC_NUMBER, false, "first rate over second"},
    {"low", "", CALC_NUMBER, false, "lower end"},
    {"high", "", CALC_NUMBER, false, "upper end"},
    {"p", "", CALC_NUMBER, false, "two-sided exact p"},
};

const struct calc calc_stats[] = {
    {"wilson", "Proportion with its score interval", "Wilson 1927; Newcombe 1998, Stat Med 17:857, methods 3 and 4", one_in, LENGTH(one_in),
     calc_estimate_out, CALC_ESTIMATE_OUT, run_wilson},
    {"clopper_pearson", "Proportion with its exact interval", "Clopper & Pearson 1934, Biometrika 26:404", one_in, 3, calc_estimate_out,
     CALC_ESTIMATE_OUT, run_exact},
    {"newcombe", "Difference of two proportions", "Newcombe 1998, Stat Med 17:873, methods 10 and 11", two_in, LENGTH(two_in),
     calc_estimate_out, CALC_ESTIMATE_OUT, run_newcombe},
    {"noninferiority", "Is the first worse by less than a margin?", "Newcombe 1998; Farrington & Manning 1990, Stat Med 9:1447", margin_in,
     LENGTH(margin_in), noninferior_out, LENGTH(noninferior_out), run_noninferior},
    {"fisher", "Fisher's exact test of two groups", "Fisher 1935; two-sided by likelihood of tables, as R's fisher.test", table_in_values,
     6, fisher_out, LENGTH(fisher_out), run_fisher},
    {"exact_unconditional", "Barnard's and Boschloo's exact tests of two groups",
     "Barnard 1945; Suissa & Shuster 1985; Boschloo 1970, Stat Neerl 24:1", table_in_values, LENGTH(table_in_values), unconditional_out,
     LENGTH(unconditional_out), run_unconditional},
    {"risk_ratio", "Ratio of two proportions", "Katz et al. 1978, Biometrics 34:469", table_in_values, 5, calc_estimate_out,
     CALC_ESTIMATE_OUT, run_risk_ratio},
    {"odds_ratio", "Odds ratio of a table", "Woolf 1955, Ann Hum Genet 19:251", table_in_values, 5, calc_estimate_out, CALC_ESTIMATE_OUT,
     run_odds_ratio},
    {"mcnemar", "Paired yes and no", "McNemar 1947; Newcombe 1998, Stat Med 17:2635, method 10", pairs_in, LENGTH(pairs_in), mcnemar_out,
     LENGTH(mcnemar_out), run_mcnemar},
    {"survival_annual", "Survival per year", "Sheil, Burslem & Alder 1995, J Ecol 83:331, with Wilson limits", annual_in, LENGTH(annual_in),
     annual_out, LENGTH(annual_out), run_annual},
    {"rate", "Count per effort", "Garwood 1936, Biometrika 28:437", rate_in, LENGTH(rate_in), calc_estimate_out, CALC_ESTIMATE_OUT,
     run_rate},
    {"rate_ratio", "Ratio of two rates", "Przyborowski & Wilenski 1940, conditional on the total; as R's poisson.test", rates_in,
     LENGTH(rates_in), ratio_out, LENGTH(ratio_out), run_rate_ratio},
    {0},
};
