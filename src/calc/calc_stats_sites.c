/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of stats/: pooling over sites, pairs, permutation, growth, diversity, agreement. */
#include "calc/calc_stats.h"
#include <math.h>
#include <string.h>

static enum outcome run_pool(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct pool_result r;
    size_t k = 0, n_v = 0;
    double *y = calc_numbers(in, "effect", &arena, &k), *v = calc_numbers(in, "variance", &arena, &n_v);
    const char *method = calc_word(in, "method", "reml");
    enum outcome outcome = calc_same_length("effect", k, "variance", n_v, false, why);
    enum pool_method which = strcmp(method, "fixed") == 0 ? POOL_FIXED
                             : strcmp(method, "dl") == 0  ? POOL_DERSIMONIAN_LAIRD
                             : strcmp(method, "pm") == 0  ? POOL_PAULE_MANDEL
                                                          : POOL_REML;
    if (outcome == OUTCOME_OK && which == POOL_REML && strcmp(method, "reml") != 0)
        outcome = fail(why, OUTCOME_USAGE, "method is \"%.40s\"; it must be fixed, dl, reml or pm.", method);
    if (outcome == OUTCOME_OK)
        outcome = pool_effects(y, v, k, which, strcmp(calc_word(in, "hartung_knapp", "yes"), "no") != 0, calc_level(in), &arena, &r, why);
    if (outcome == OUTCOME_OK) {
        calc_put_estimate(result, &r.effect);
        calc_put(result, "p", r.test.p);
        calc_put(result, "tau2", r.tau2);
        calc_put(result, "tau2_se", r.tau2_se);
        calc_put(result, "q", r.q.statistic);
        calc_put(result, "q_p", r.q.p);
        calc_put(result, "i2", r.i2_percent);
        calc_put(result, "predict_low", r.predict_low);
        calc_put(result, "predict_high", r.predict_high);
        calc_put_all(result, "weight", r.weight_percent, k);
        calc_put_estimates(result, "without_", r.without, k);
    }
    arena_clear(&arena);
    return outcome;
}

static enum outcome run_paired(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct estimate mean;
    struct test test;
    struct sign_flip flip;
    size_t n = 0;
    double *d = calc_numbers(in, "difference", &arena, &n);
    enum outcome outcome = paired_mean(d, n, calc_level(in), &mean, &test, why);
    if (outcome == OUTCOME_OK)
        outcome = permute_sign_flip(d, n, calc_level(in), (size_t)calc_number(in, "draws", 9999), (uint64_t)calc_number(in, "seed", 1),
                                    &flip, why);
    if (outcome == OUTCOME_OK) {
        calc_put_estimate(result, &mean);
        calc_put(result, "t", test.statistic);
        calc_put(result, "t_p", test.p);
        calc_put(result, "flip_p", flip.p);
        calc_put(result, "flip_p_least", flip.p_least);
        calc_put(result, "flip_low", flip.low);
        calc_put(result, "flip_high", flip.high);
        calc_say(result, "%zu pairs: no test by sign flips can give a p below %g.", n, flip.p_least);
    }
    arena_clear(&arena);
    return outcome;
}

static enum outcome run_shuffle(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct shuffle_test t;
    size_t n = 0, n_group = 0, groups = 0, n_block = 0, blocks = 0;
    double *y = calc_numbers(in, "y", &arena, &n);
    size_t *group = calc_labels(in, "group", &arena, &n_group, &groups), *block = calc_labels(in, "block", &arena, &n_block, &blocks);
    enum outcome outcome = calc_same_length("y", n, "group", n_group, false, why);
    if (outcome == OUTCOME_OK)
        outcome = calc_same_length("y", n, "block", n_block, true, why);
    if (outcome == OUTCOME_OK)
        outcome = permute_groups(y, group, block, n, groups, (size_t)calc_number(in, "draws", 9999), (uint64_t)calc_number(in, "seed", 1),
                                 &t, why);
    if (outcome == OUTCOME_OK) {
        calc_put(result, "statistic", t.statistic);
        calc_put(result, "p", t.p);
        calc_put(result, "p_least", t.p_least);
        calc_put(result, "arrangements", t.arrangements);
        calc_put_word(result, "exact", t.exact ? "yes" : "no");
    }
    arena_clear(&arena);
    return outcome;
}

static enum dissimilarity kind_in(const json_t *in)
{
    const char *word = calc_word(in, "kind", "bray");
    return strcmp(word, "sorensen") == 0  ? SORENSEN
           : strcmp(word, "jaccard") == 0 ? JACCARD
           : strcmp(word, "ruzicka") == 0 ? RUZICKA
                                          : BRAY_CURTIS;
}

static enum outcome run_permanova(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct permanova_result r;
    size_t cells = 0, n = (size_t)calc_number(in, "sites", 0), n_x = 0, n_columns = 0, n_group = 0, groups = 0, n_block = 0, blocks = 0;
    double *table = calc_numbers(in, "table", &arena, &cells), *x = calc_numbers(in, "x", &arena, &n_x);
    double *wide = calc_numbers(in, "columns", &arena, &n_columns);
    size_t *group = calc_labels(in, "group", &arena, &n_group, &groups), *block = calc_labels(in, "block", &arena, &n_block, &blocks);
    size_t *columns = arena_array(&arena, n_columns + 1, sizeof *columns), all = 0;
    for (size_t t = 0; t < n_columns; t++)
        all += columns[t] = wide[t] >= 1 ? (size_t)wide[t] : 1;
    enum outcome outcome = OUTCOME_OK;
    if (n == 0 || cells % n != 0 || n_x != n * all || (n_group != 0 && n_group != n) || (n_block != 0 && n_block != n))
        outcome = fail(why, OUTCOME_USAGE, "table, x, group and block must have a row for each of the %zu sites.", n);
    if (outcome == OUTCOME_OK) {
        double *distance = arena_array(&arena, n * n, sizeof *distance);
        dissimilarity_all(kind_in(in), table, n, cells / n, distance);
        outcome = permanova(distance, n, x, columns, n_columns, group, groups, block, (size_t)calc_number(in, "draws", 999),
                            (uint64_t)calc_number(in, "seed", 1), &arena, &r, why);
    }
    if (outcome == OUTCOME_OK) {
        calc_put_all(result, "ss", r.ss, n_columns + 2);
        calc_put_all(result, "df", r.df, n_columns + 2);
        calc_put_all(result, "f", r.f, n_columns);
        calc_put_all(result, "r2", r.r2, n_columns + 2);
        calc_put_all(result, "p", r.p, n_columns);
        calc_put(result, "dispersion_f", group == NULL ? unknown_real() : r.dispersion.statistic);
        calc_put_all(result, "dispersion_mean", r.dispersion_mean, group == NULL ? 0 : groups);
    }
    arena_clear(&arena);
    return outcome;
}

static enum outcome run_dissimilarity(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n = 0, m = 0;
    double *a = calc_numbers(in, "a", &arena, &n), *b = calc_numbers(in, "b", &arena, &m);
    enum outcome outcome = calc_same_length("a", n, "b", m, false, why);
    if (outcome == OUTCOME_OK) {
        static const enum dissimilarity kinds[] = {BRAY_CURTIS, SORENSEN, JACCARD, RUZICKA};
        static const char *const names[] = {"bray_curtis", "sorensen", "jaccard", "ruzicka"};
        for (size_t i = 0; i < 4; i++)
            calc_put(result, names[i], dissimilarity_of(kinds[i], a, b, n));
        struct turnover t = turnover_of(a, b, n);
        calc_put(result, "kept", t.kept);
        calc_put(result, "lost", t.lost);
        calc_put(result, "gained", t.gained);
    }
    arena_clear(&arena);
    return outcome;
}

static enum outcome run_diversity(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct diversity d;
    struct assemblage a = {.units = calc_number(in, "units", 0)};
    a.count = calc_numbers(in, "count", &arena, &a.kinds);
    double size = calc_number(in, "size", NAN), coverage = calc_number(in, "coverage", NAN);
    double at_size[3], at_coverage[3], covered = unknown_real(), reached = unknown_real(), low[3], high[3];
    enum outcome outcome = diversity_of(&a, &d, why);
    for (int q = 0; q < 3; q++) {
        at_size[q] = at_coverage[q] = low[q] = high[q] = unknown_real();
        if (outcome == OUTCOME_OK && !isnan(size))
            outcome = diversity_at_size(&a, size, q, &at_size[q], why);
        if (outcome == OUTCOME_OK && !isnan(coverage))
            outcome = diversity_at_coverage(&a, coverage, q, &at_coverage[q], &reached, why);
        double m = isnan(size) ? (a.units > 0 ? a.units : d.n) : size;
        struct estimate e = estimate_unknown();
        if (outcome == OUTCOME_OK && calc_number(in, "draws", 0) > 0)
            outcome = diversity_intervals(&a, &m, 1, q, calc_level(in), (size_t)calc_number(in, "draws", 0),
                                          (uint64_t)calc_number(in, "seed", 1), &arena, &e, why);
        low[q] = e.low;
        high[q] = e.high;
    }
    if (outcome == OUTCOME_OK && !isnan(size))
        outcome = diversity_coverage_at(&a, size, &covered, why);
    if (outcome == OUTCOME_OK) {
        calc_put_all(result, "hill", d.hill, 3);
        calc_put_all(result, "asymptotic", d.asymptotic, 3);
        calc_put(result, "chao_se", d.chao_se);
        calc_put(result, "chao_corrected", d.chao_corrected);
        calc_put(result, "sample_coverage", d.coverage);
        calc_put_all(result, "at_size", at_size, 3);
        calc_put(result, "coverage_at_size", covered);
        calc_put_all(result, "at_coverage", at_coverage, 3);
        calc_put(result, "size_at_coverage", reached);
        calc_put_all(result, "low", low, 3);
        calc_put_all(result, "high", high, 3);
    }
    arena_clear(&arena);
    return outcome;
}

static enum outcome run_rgr(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct estimate e;
    size_t n1 = 0, n2 = 0;
    double *w1 = calc_numbers(in, "first", &arena, &n1), *w2 = calc_numbers(in, "second", &arena, &n2), spread = unknown_real();
    bool paired = strcmp(calc_word(in, "same_plants", "no"), "yes") == 0;
    enum outcome outcome = paired ? calc_same_length("first", n1, "second", n2, false, why) : OUTCOME_OK;
    if (outcome == OUTCOME_OK)
        outcome = paired ? rgr_paired(w1, w2, n1, calc_number(in, "time", 0), calc_level(in), &e, why)
                         : rgr_unpaired(w1, n1, w2, n2, calc_number(in, "time", 0), calc_level(in), &e, &spread, why);
    if (outcome == OUTCOME_OK) {
        calc_put_estimate(result, &e);
        calc_put(result, "spread", spread);
    }
    arena_clear(&arena);
    return outcome;
}

static enum outcome run_adjust(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n = 0;
    double *p = calc_numbers(in, "p", &arena, &n), *out = arena_array(&arena, n + 1, sizeof *out);
    enum outcome outcome = OUTCOME_OK;
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++)
        if (is_known(p[i]) && !(p[i] >= 0 && p[i] <= 1))
            outcome = fail(why, OUTCOME_DATA, "p number %zu is %g; it must lie between 0 and 1.", i + 1, p[i]);
    if (outcome == OUTCOME_OK) {
        adjust_holm(p, n, out);
        calc_put_all(result, "holm", out, n);
        adjust_benjamini_hochberg(p, n, out);
        calc_put_all(result, "benjamini_hochberg", out, n);
    }
    arena_clear(&arena);
    return outcome;
}

static enum outcome run_kappa(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct estimate kappa;
    size_t cells = 0;
    double *table = calc_numbers(in, "table", &arena, &cells), share = 0;
    size_t k = (size_t)lround(sqrt((double)cells));
    const char *weights = calc_word(in, "weights", "none");
    enum outcome outcome = k * k == cells ? OUTCOME_OK : fail(why, OUTCOME_USAGE, "The table must be square; it has %zu cells.", cells);
    if (outcome == OUTCOME_OK)
        outcome = agreement_kappa(table, k,
                                  strcmp(weights, "linear") == 0    ? 1
                                  : strcmp(weights, "squared") == 0 ? 2
                                                                    : 0,
                                  calc_level(in), &kappa, &share, why);
    if (outcome == OUTCOME_OK) {
        calc_put_estimate(result, &kappa);
        calc_put(result, "agreed", share);
    }
    arena_clear(&arena);
    return outcome;
}

static enum outcome run_agreement(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct measure_agreement m;
    size_t n = 0, k = 0;
    double *a = calc_numbers(in, "a", &arena, &n), *b = calc_numbers(in, "b", &arena, &k);
    enum outcome outcome = calc_same_length("a", n, "b", k, false, why);
    if (outcome == OUTCOME_OK)
        outcome = agreement_measures(a, b, n, calc_level(in), &m, why);
    if (outcome == OUTCOME_OK) {
        calc_put_estimate(result, &m.bias);
        calc_put(result, "limit_low", m.limit_low);
        calc_put(result, "limit_high", m.limit_high);
        calc_put(result, "technical_error", m.technical_error);
        calc_put(result, "icc", m.icc);
    }
    arena_clear(&arena);
    return outcome;
}

static enum outcome run_heaping(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct heaping h;
    size_t n = 0;
    double *value = calc_numbers(in, "value", &arena, &n);
    enum outcome outcome = heaping_digits(value, n, calc_number(in, "step", 1), &h, why);
    if (outcome == OUTCOME_OK) {
        calc_put_all(result, "count", h.count, 10);
        calc_put(result, "statistic", h.chisq.statistic);
        calc_put(result, "p", h.chisq.p);
        calc_put(result, "whipple", h.whipple);
        calc_put(result, "favourite", h.favourite);
    }
    arena_clear(&arena);
    return outcome;
}

#define LENGTH(a) (sizeof(a) / sizeof *(a))
#define LEVEL_IN                                                                                                                           \
    {                                                                                                                                      \
        "level", "", CALC_NUMBER, false, "level of the interval, 0.95 if left out"                                                         \
    }
#define DRAWS_IN                                                                                                                           \
    {"draws", "", CALC_NUMBER, false, "random draws where not all can be counted"},                                                        \
    {                                                                                                                                      \
        "seed", "", CALC_NUMBER, false, "seed of the draws, 1 if left out"                                                                 \
    }

static const struct calc_value pool_in[] = {
    {"effect", "", CALC_NUMBERS, true, "effect of each site"},
    {"variance", "", CALC_NUMBERS, true, "its variance (squared standard error)"},
    {"method", "", CALC_WORD, false, "reml (default), dl, pm or fixed"},
    {"hartung_knapp", "", CALC_WORD, false, "yes (default) or no"},
    LEVEL_IN,
};
static const struct calc_value pool_out[] = {
    {"value", "", CALC_NUMBER, false, "pooled effect"},
    {"se", "", CALC_NUMBER, false, "standard error"},
    {"low", "", CALC_NUMBER, false, "lower end"},
    {"high", "", CALC_NUMBER, false, "upper end"},
    {"p", "", CALC_NUMBER, false, "two-sided p"},
    {"tau2", "", CALC_NUMBER, false, "variance between sites"},
    {"tau2_se", "", CALC_NUMBER, false, "its standard error"},
    {"q", "", CALC_NUMBER, false, "heterogeneity, chi-squared"},
    {"q_p", "", CALC_NUMBER, false, "its p"},
    {"i2", "%", CALC_NUMBER, false, "share of variance that is between sites"},
    {"predict_low", "", CALC_NUMBER, false, "a new site: lower end"},
    {"predict_high", "", CALC_NUMBER, false, "a new site: upper end"},
    {"weight", "%", CALC_NUMBERS, false, "weight of each site"},
    {"without_value", "", CALC_NUMBERS, false, "pooled effect with each site left out"},
};
static const struct calc_value paired_in[] = {{"difference", "any", CALC_NUMBERS, true, "difference of each pair"}, LEVEL_IN, DRAWS_IN};
static const struct calc_value paired_out[] = {
    {"value", "any", CALC_NUMBER, false, "mean difference"},
    {"low", "any", CALC_NUMBER, false, "lower end, Student's t"},
    {"high", "any", CALC_NUMBER, false, "upper end"},
    {"t", "", CALC_NUMBER, false, "t"},
    {"t_p", "", CALC_NUMBER, false, "p of t"},
    {"flip_p", "", CALC_NUMBER, false, "p by sign flips"},
    {"flip_p_least", "", CALC_NUMBER, false, "least p that so many pairs can give"},
    {"flip_low", "any", CALC_NUMBER, false, "lower end by sign flips"},
    {"flip_high", "any", CALC_NUMBER, false, "upper end by sign flips"},
};
static const struct calc_value shuffle_in[] = {
    {"y", "any", CALC_NUMBERS, true, "values"},
    {"group", "", CALC_NUMBERS, true, "group as a number"},
    {"block", "", CALC_NUMBERS, false, "block as a number: labels are shuffled inside only"},
    DRAWS_IN,
};
static const struct calc_value shuffle_out[] = {
    {"statistic", "", CALC_NUMBER, false, "F"},
    {"p", "", CALC_NUMBER, false, "p"},
    {"p_least", "", CALC_NUMBER, false, "least p this design can give"},
    {"arrangements", "", CALC_NUMBER, false, "arrangements the design has"},
    {"exact", "", CALC_WORD, false, "yes: all were counted"},
};
static const struct calc_value permanova_in[] = {
    {"table", "", CALC_NUMBERS, true, "counts, site after site"},
    {"sites", "", CALC_NUMBER, true, "number of sites"},
    {"x", "", CALC_NUMBERS, true, "columns of the terms, site after site"},
    {"columns", "", CALC_NUMBERS, true, "how many columns each term has"},
    {"group", "", CALC_NUMBERS, false, "groups for the test of dispersion"},
    {"block", "", CALC_NUMBERS, false, "permute within blocks only"},
    {"kind", "", CALC_WORD, false, "bray (default), sorensen, jaccard or ruzicka"},
    DRAWS_IN,
};
static const struct calc_value permanova_out[] = {
    {"ss", "", CALC_NUMBERS, false, "sums of squares: terms, residual, total"},
    {"df", "", CALC_NUMBERS, false, "degrees of freedom"},
    {"f", "", CALC_NUMBERS, false, "pseudo-F of the terms"},
    {"r2", "", CALC_NUMBERS, false, "shares"},
    {"p", "", CALC_NUMBERS, false, "p by permutation"},
    {"dispersion_f", "", CALC_NUMBER, false, "F of distances to group centroids"},
    {"dispersion_mean", "", CALC_NUMBERS, false, "mean distance by group"},
};
static const struct calc_value two_rows_in[] = {
    {"a", "", CALC_NUMBERS, true, "first row of counts"},
    {"b", "", CALC_NUMBERS, true, "second row of counts"},
    LEVEL_IN,
};
static const struct calc_value dissimilarity_out[] = {
    {"bray_curtis", "", CALC_NUMBER, false, "of counts"},
    {"sorensen", "", CALC_NUMBER, false, "of presence"},
    {"jaccard", "", CALC_NUMBER, false, "of presence"},
    {"ruzicka", "", CALC_NUMBER, false, "of counts"},
    {"kept", "kinds", CALC_NUMBER, false, "in both"},
    {"lost", "kinds", CALC_NUMBER, false, "in the first only"},
    {"gained", "kinds", CALC_NUMBER, false, "in the second only"},
};
static const struct calc_value diversity_in[] = {
    {"count", "", CALC_NUMBERS, true, "individuals of each kind, or units in which it was found"},
    {"units", "", CALC_NUMBER, false, "number of sampling units, for counts of units"},
    {"size", "", CALC_NUMBER, false, "size to standardise to"},
    {"coverage", "", CALC_NUMBER, false, "coverage to standardise to, 0 … 1"},
    LEVEL_IN,
    DRAWS_IN,
};
static const struct calc_value diversity_out[] = {
    {"hill", "kinds", CALC_NUMBERS, false, "observed, orders 0, 1, 2"},
    {"asymptotic", "kinds", CALC_NUMBERS, false, "estimated true, orders 0, 1, 2"},
    {"chao_se", "kinds", CALC_NUMBER, false, "standard error of the first"},
    {"chao_corrected", "kinds", CALC_NUMBER, false, "bias-corrected Chao1 without (n − 1)/n"},
    {"sample_coverage", "", CALC_NUMBER, false, "coverage of the sample"},
    {"at_size", "kinds", CALC_NUMBERS, false, "at the size asked for"},
    {"coverage_at_size", "", CALC_NUMBER, false, "coverage at that size"},
    {"at_coverage", "kinds", CALC_NUMBERS, false, "at the coverage asked for"},
    {"size_at_coverage", "", CALC_NUMBER, false, "size that reaches it"},
    {"low", "kinds", CALC_NUMBERS, false, "lower ends at the size, by bootstrap where draws are asked for"},
    {"high", "kinds", CALC_NUMBERS, false, "upper ends"},
};
static const struct calc_value rgr_in[] = {
    {"first", "any", CALC_NUMBERS, true, "sizes at the first time"},
    {"second", "any", CALC_NUMBERS, true, "sizes at the second time"},
    {"time", "any", CALC_NUMBER, true, "time between"},
    {"same_plants", "", CALC_WORD, false, "yes: the same plants in the same order"},
    LEVEL_IN,
};
static const struct calc_value rgr_out[] = {
    {"value", "per time", CALC_NUMBER, false, "relative growth rate"},
    {"se", "per time", CALC_NUMBER, false, "standard error"},
    {"low", "per time", CALC_NUMBER, false, "lower end"},
    {"high", "per time", CALC_NUMBER, false, "upper end"},
    {"spread", "per time", CALC_NUMBER, false, "spread among plants (different plants only)"},
};
static const struct calc_value adjust_in[] = {{"p", "", CALC_NUMBERS, true, "p values"}};
static const struct calc_value adjust_out[] = {
    {"holm", "", CALC_NUMBERS, false, "Holm"},
    {"benjamini_hochberg", "", CALC_NUMBERS, false, "Benjamini & Hochberg"},
};
static const struct calc_value kappa_in[] = {
    {"table", "", CALC_NUMBERS, true, "counts, first observer by row"},
    {"weights", "", CALC_WORD, false, "none (default), linear or squared"},
    LEVEL_IN,
};
static const struct calc_value kappa_out[] = {
    {"value", "", CALC_NUMBER, false, "kappa"},         {"se", "", CALC_NUMBER, false, "standard error"},
    {"low", "", CALC_NUMBER, false, "lower end"},       {"high", "", CALC_NUMBER, false, "upper end"},
    {"agreed", "", CALC_NUMBER, false, "share agreed"},
};
static const struct calc_value agreement_out[] = {
    {"value", "any", CALC_NUMBER, false, "bias, first less second"},
    {"low", "any", CALC_NUMBER, false, "lower end"},
    {"high", "any", CALC_NUMBER, false, "upper end"},
    {"limit_low", "any", CALC_NUMBER, false, "lower limit of agreement"},
    {"limit_high", "any", CALC_NUMBER, false, "upper limit of agreement"},
    {"technical_error", "any", CALC_NUMBER, false, "technical error of measurement"},
    {"icc", "", CALC_NUMBER, false, "intraclass correlation of single measurements"},
};
static const struct calc_value heaping_in[] = {
    {"value", "any", CALC_NUMBERS, true, "figures as read"},
    {"step", "any", CALC_NUMBER, false, "smallest division read, 1 if left out"},
};
static const struct calc_value heaping_out[] = {
    {"count", "", CALC_NUMBERS, false, "figures ending in 0 … 9"},
    {"statistic", "", CALC_NUMBER, false, "chi-squared on 9 degrees of freedom"},
    {"p", "", CALC_NUMBER, false, "p"},
    {"whipple", "", CALC_NUMBER, false, "100 even … 500 all end in 0 or 5"},
    {"favourite", "", CALC_NUMBER, false, "digit most used"},
};

const struct calc calc_stats_sites[] = {
    {"pool_sites", "Effects pooled over sites",
     "DerSimonian & Laird 1986; Viechtbauer 2005; Paule & Mandel 1982; Hartung & Knapp 2001; Higgins et al. 2009", pool_in, LENGTH(pool_in),
     pool_out, LENGTH(pool_out), run_pool},
    {"paired_difference", "Mean difference of paired plots", "Student 1908; Fisher 1935, The Design of Experiments, §21", paired_in,
     LENGTH(paired_in), paired_out, LENGTH(paired_out), run_paired},
    {"shuffle_test", "Do groups differ, by shuffling within blocks?", "Fisher 1935; Pitman 1937", shuffle_in, LENGTH(shuffle_in),
     shuffle_out, LENGTH(shuffle_out), run_shuffle},
    {"permanova", "Do communities differ?", "Anderson 2001, Austral Ecol 26:32; McArdle & Anderson 2001, Ecology 82:290", permanova_in,
     LENGTH(permanova_in), permanova_out, LENGTH(permanova_out), run_permanova},
    {"dissimilarity", "How unlike are two communities?", "Bray & Curtis 1957; Sørensen 1948; Jaccard 1912; Ružička 1958", two_rows_in, 2,
     dissimilarity_out, LENGTH(dissimilarity_out), run_dissimilarity},
    {"diversity", "Hill numbers, coverage, and both standardised", "Chao et al. 2014, Ecol Monogr 84:45; Chao & Jost 2012, Ecology 93:2533",
     diversity_in, LENGTH(diversity_in), diversity_out, LENGTH(diversity_out), run_diversity},
    {"relative_growth", "Relative growth rate without the classical bias", "Hoffmann & Poorter 2002, Ann Bot 90:37", rgr_in, LENGTH(rgr_in),
     rgr_out, LENGTH(rgr_out), run_rgr},
    {"adjust_p", "p values of several tests", "Holm 1979, Scand J Stat 6:65; Benjamini & Hochberg 1995, J R Stat Soc B 57:289", adjust_in,
     LENGTH(adjust_in), adjust_out, LENGTH(adjust_out), run_adjust},
    {"kappa", "Agreement of two observers on classes", "Cohen 1960, 1968; Fleiss, Cohen & Everitt 1969, Psychol Bull 72:323", kappa_in,
     LENGTH(kappa_in), kappa_out, LENGTH(kappa_out), run_kappa},
    {"measure_agreement", "Agreement of two observers on measurements",
     "Bland & Altman 1986, Lancet 327:307; Dahlberg 1940; McGraw & Wong 1996, Psychol Methods 1:30, ICC(A,1)", two_rows_in,
     LENGTH(two_rows_in), agreement_out, LENGTH(agreement_out), run_agreement},
    {"heaping", "Do figures heap on favourite digits?", "Chi-squared of last digits; Whipple's index", heaping_in, LENGTH(heaping_in),
     heaping_out, LENGTH(heaping_out), run_heaping},
    {0},
};
