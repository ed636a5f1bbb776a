/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of trial/ about designs, lots and samples. */
#include "calc/calc_trial.h"
#include "trial/trial.h"
#include <string.h>

/* Words of a list, borrowed from the input; *n is 0 if absent. */
static const char **words_read(const json_t *in, const char *name, struct arena *arena, size_t *n)
{
    const json_t *list = json_object_get(in, name);
    *n = json_array_size(list);
    const char **words = arena_array(arena, *n + 1, sizeof *words);
    for (size_t i = 0; i < *n; i++)
        words[i] = json_string_value(json_array_get(list, i));
    return words;
}

static const char *const inputs_of[TRIAL_FACTORS] = {"density", "preparation", "mix", "fence", "watering", "stock", "planted"};

/* Plots from the lists; a factor left out is the same everywhere, "?" is not known. NULL with a failure. */
static struct trial_plot *plots_read(const json_t *in, struct arena *arena, size_t *n, struct failure *why)
{
    size_t n_sites = 0, n_drawn = 0;
    const char **codes = words_read(in, "codes", arena, n), **sites = words_read(in, "sites", arena, &n_sites);
    const char **drawn = words_read(in, "drawn", arena, &n_drawn);
    struct trial_plot *plots = arena_array(arena, *n + 1, sizeof *plots);
    if (*n > 200 || (n_sites != 0 && n_sites != *n) || (n_drawn != 0 && n_drawn != *n)) {
        fail(why, OUTCOME_DATA, "Every list must have one word for each of up to 200 plots.");
        return NULL;
    }
    for (size_t i = 0; i < *n; i++) {
        plots[i] = (struct trial_plot){.code = codes[i], .site = n_sites == 0 ? "the site" : sites[i]};
        if (n_drawn != 0 && !text_same(drawn[i], "?"))
            plots[i].allocation = text_same(drawn[i], "yes") ? ALLOCATION_METHOD_DRAWN_BY_LOT : ALLOCATION_METHOD_CHOSEN;
    }
    for (size_t f = 0; f < TRIAL_FACTORS; f++) {
        size_t m = 0;
        const char **levels = words_read(in, inputs_of[f], arena, &m);
        if (m != 0 && m != *n) {
            fail(why, OUTCOME_DATA, "There are %zu plots but %zu words for %s.", *n, m, inputs_of[f]);
            return NULL;
        }
        for (size_t i = 0; i < *n; i++)
            plots[i].levels[f] = m == 0 ? "same" : text_same(levels[i], "?") ? NULL : levels[i];
    }
    return plots;
}

static void words_put(json_t *result, const char *name, const char *const *words, size_t n)
{
    json_t *list = json_array();
    for (size_t i = 0; i < n; i++)
        json_array_append_new(list, json_string(words[i]));
    json_object_set_new(result, name, list);
}

enum outcome calc_compare_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct trial_table t;
    size_t n = 0, n_told = 0;
    struct trial_plot *plots = plots_read(in, &arena, &n, why);
    enum outcome outcome = plots == NULL ? OUTCOME_DATA : trial_compare(plots, n, &arena, &t, why);
    if (outcome == OUTCOME_OK) {
        const char **pairs = arena_array(&arena, t.n_pairs, sizeof *pairs), *factors[TRIAL_FACTORS], *told[TRIAL_FACTORS];
        for (size_t k = 0; k < t.n_pairs; k++)
            pairs[k] = t.pairs[k].sentence;
        for (size_t f = 0; f < TRIAL_FACTORS; f++) {
            factors[f] = t.factors[f].sentence;
            if (t.factors[f].estimable)
                told[n_told++] = trial_factor_word((enum trial_factor)f);
        }
        calc_put_word(result, "summary", t.summary);
        words_put(result, "pairs", pairs, t.n_pairs);
        words_put(result, "factors", factors, TRIAL_FACTORS);
        words_put(result, "separated", told, n_told);
        calc_put(result, "rank", (double)t.rank);
        calc_put(result, "columns", (double)t.columns);
    }
    arena_clear(&arena);
    return outcome;
}

enum outcome calc_separate_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct trial_addition add;
    size_t n = 0, factor = TRIAL_FACTORS;
    const char *wanted = calc_word(in, "separate", "");
    struct trial_plot *plots = plots_read(in, &arena, &n, why);
    for (size_t f = 0; f < TRIAL_FACTORS; f++) {
        if (text_same(inputs_of[f], wanted))
            factor = f;
    }
    enum outcome outcome = plots == NULL ? OUTCOME_DATA : OUTCOME_OK;
    if (outcome == OUTCOME_OK && factor == TRIAL_FACTORS)
        outcome = fail(why, OUTCOME_USAGE, "\"%s\" is none of density, preparation, mix, fence, watering, stock, planted.", wanted);
    if (outcome == OUTCOME_OK)
        outcome = trial_separate(plots, n, (enum trial_factor)factor, &arena, &add, why);
    if (outcome == OUTCOME_OK) {
        calc_put(result, "plots", (double)add.n_plots);
        calc_put_word(result, "sentence", add.sentence);
    }
    arena_clear(&arena);
    return outcome;
}

static enum outcome seed_read(const json_t *in, uint64_t *seed, struct failure *why)
{
    double value = calc_number(in, "seed", 1);
    if (!(value >= 0 && value < 9e15))
        return fail(why, OUTCOME_USAGE, "The seed is a whole number from 0.");
    *seed = (uint64_t)value;
    return OUTCOME_OK;
}

enum outcome calc_lots_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct trial_allocation a;
    size_t n = 0, m = 0;
    uint64_t seed = 0;
    const char **pieces = words_read(in, "pieces", &arena, &n), **treatments = words_read(in, "treatments", &arena, &m);
    enum outcome outcome = seed_read(in, &seed, why);
    if (outcome == OUTCOME_OK && n != m)
        outcome = fail(why, OUTCOME_USAGE, "There are %zu pieces of ground and %zu treatments.", n, m);
    if (outcome == OUTCOME_OK)
        outcome = trial_draw(calc_word(in, "comparison", ""), pieces, treatments, n, seed, &arena, &a, why);
    if (outcome == OUTCOME_OK) {
        words_put(result, "received", a.treatments, n);
        calc_put_word(result, "sentence", a.sentence);
    }
    arena_clear(&arena);
    return outcome;
}

enum outcome calc_draw_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t *drawn = NULL, n_strata = 0;
    uint64_t seed = 0;
    const char *sentence = NULL, *word = calc_word(in, "rule", "random");
    double population = calc_number(in, "population", 0), n = calc_number(in, "n", 0),
           *given = calc_numbers(in, "strata", &arena, &n_strata);
    enum trial_rule rule = text_same(word, "every_kth") ? TRIAL_RULE_EVERY_KTH : n_strata > 0 ? TRIAL_RULE_BY_STRATUM : TRIAL_RULE_RANDOM;
    enum outcome outcome = seed_read(in, &seed, why);
    if (outcome == OUTCOME_OK &&
        (!(population >= 1 && population <= 1e7) || !(n >= 1 && n <= population) || (n_strata > 0 && n_strata != (size_t)population)))
        outcome = fail(why, OUTCOME_USAGE, "Draw 1 to all of up to 10 million; strata, where given, one number for each.");
    size_t *strata = arena_array(&arena, n_strata + 1, sizeof *strata);
    for (size_t i = 0; i < n_strata; i++)
        strata[i] = given[i] >= 0 && given[i] < 1e9 ? (size_t)given[i] : SIZE_MAX;
    if (outcome == OUTCOME_OK)
        outcome = trial_sample((size_t)population, (size_t)n, rule, strata, seed, &arena, &drawn, &sentence, why);
    if (outcome == OUTCOME_OK) {
        double *numbers = arena_array(&arena, (size_t)n, sizeof *numbers);
        for (size_t k = 0; k < (size_t)n; k++)
            numbers[k] = (double)drawn[k] + 1;
        calc_put_all(result, "drawn", numbers, (size_t)n);
        calc_put_word(result, "sentence", sentence);
    }
    arena_clear(&arena);
    return outcome;
}

enum outcome calc_version_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    const char *next = NULL;
    enum outcome outcome = trial_next_version(calc_word(in, "version", ""), &arena, &next, why);
    if (outcome == OUTCOME_OK)
        calc_put_word(result, "next", next);
    arena_clear(&arena);
    return outcome;
}

const struct calc_value calc_design_in[CALC_DESIGN_IN] = {
    {"codes", "", CALC_WORDS, true, "code of each plot, such as D,C,P"},
    {"sites", "", CALC_WORDS, false, "site of each; left out: one site"},
    {"drawn", "", CALC_WORDS, false, "whether its ground was drawn by lot: yes, no or ?"},
    {"density", "", CALC_WORDS, false, "level of each plot, ? for not known; left out: the same everywhere"},
    {"preparation", "", CALC_WORDS, false, "likewise"},
    {"mix", "", CALC_WORDS, false, "likewise"},
    {"fence", "", CALC_WORDS, false, "likewise"},
    {"watering", "", CALC_WORDS, false, "likewise"},
    {"stock", "", CALC_WORDS, false, "likewise"},
    {"planted", "", CALC_WORDS, false, "likewise"},
};
const struct calc_value calc_compare_out[CALC_COMPARE_OUT] = {
    {"summary", "", CALC_WORD, false, "the one sentence"},
    {"pairs", "", CALC_WORDS, false, "what the difference of each pair can be given to"},
    {"factors", "", CALC_WORDS, false, "what can be said of each factor"},
    {"separated", "", CALC_WORDS, false, "factors whose effect the plots determine, if effects add up"},
    {"rank", "", CALC_NUMBER, false, "rank of the additive model"},
    {"columns", "", CALC_NUMBER, false, "its columns: sites and differences of levels"},
};
const struct calc_value calc_separate_in[CALC_SEPARATE_IN] = {
    {"separate", "", CALC_WORD, true, "factor to separate, named as the inputs are"},
    {"codes", "", CALC_WORDS, true, "code of each plot, such as D,C,P"},
    {"sites", "", CALC_WORDS, false, "site of each; left out: one site"},
    {"drawn", "", CALC_WORDS, false, "whether its ground was drawn by lot: yes, no or ?"},
    {"density", "", CALC_WORDS, false, "level of each plot, ? for not known; left out: the same everywhere"},
    {"preparation", "", CALC_WORDS, false, "likewise"},
    {"mix", "", CALC_WORDS, false, "likewise"},
    {"fence", "", CALC_WORDS, false, "likewise"},
    {"watering", "", CALC_WORDS, false, "likewise"},
    {"stock", "", CALC_WORDS, false, "likewise"},
    {"planted", "", CALC_WORDS, false, "likewise"},
};
const struct calc_value calc_separate_out[CALC_SEPARATE_OUT] = {
    {"plots", "", CALC_NUMBER, false, "how many more it takes"},
    {"sentence", "", CALC_WORD, false, "which"},
};
const struct calc_value calc_lots_in[CALC_LOTS_IN] = {
    {"comparison", "", CALC_WORD, false, "name of the comparison, part of the draw"},
    {"pieces", "", CALC_WORDS, true, "pieces of ground in order"},
    {"treatments", "", CALC_WORDS, true, "as many treatments"},
    {"seed", "", CALC_NUMBER, false, "default 1"},
};
const struct calc_value calc_lots_out[CALC_LOTS_OUT] = {
    {"received", "", CALC_WORDS, false, "treatment of each piece, in their order"},
    {"sentence", "", CALC_WORD, false, "for the record"},
};
const struct calc_value calc_draw_in[CALC_DRAW_IN] = {
    {"population", "", CALC_NUMBER, true, "how many there are"},
    {"n", "", CALC_NUMBER, true, "how many are drawn"},
    {"rule", "", CALC_WORD, false, "random (default) or every_kth"},
    {"strata", "", CALC_NUMBERS, false, "stratum of each, from 0: then drawn in proportion"},
    {"seed", "", CALC_NUMBER, false, "default 1"},
};
const struct calc_value calc_draw_out[CALC_DRAW_OUT] = {
    {"drawn", "", CALC_NUMBERS, false, "which, counted from 1"},
    {"sentence", "", CALC_WORD, false, "for the record"},
};
const struct calc_value calc_version_in[CALC_VERSION_IN] = {{"version", "", CALC_WORD, true, "such as 1.0"}};
const struct calc_value calc_version_out[CALC_VERSION_OUT] = {{"next", "", CALC_WORD, false, "such as 1.1"}};
