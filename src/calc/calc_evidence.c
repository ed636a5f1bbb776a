/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of evidence/. */
#include "calc/calc_stats.h"
#include "evidence/curves.h"
#include "evidence/increments.h"
#include "evidence/sites.h"
#include "evidence/squares.h"
#include <math.h>

#define LENGTH(a) (sizeof(a) / sizeof *(a))

static enum outcome run_verdict(const json_t *in, json_t *result, struct failure *why)
{
    static const char *const verdicts[] = {"cannot tell", "first higher", "second higher", "no difference worth having"};
    static const char *const reasons[] = {"clear", "few sites", "chance", "not found", "care"};
    struct arena arena = {0};
    struct paired_answer a;
    size_t n = 0, n_low = 0, n_high = 0, n_unequal = 0;
    double *d = calc_numbers(in, "difference", &arena, &n), *low = calc_numbers(in, "lowest", &arena, &n_low),
           *high = calc_numbers(in, "highest", &arena, &n_high), *unequal = calc_numbers(in, "unequal_care", &arena, &n_unequal);
    bool *spoiled = arena_array(&arena, n + 1, sizeof *spoiled);
    enum outcome outcome = calc_same_length("difference", n, "lowest", n_low, true, why);
    if (outcome == OUTCOME_OK)
        outcome = calc_same_length("difference", n, "highest", n_high, true, why);
    if (outcome == OUTCOME_OK)
        outcome = calc_same_length("difference", n, "unequal_care", n_unequal, true, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n_unequal; i++)
        spoiled[i] = unequal[i] > 0;
    struct paired_wish wish = {n,
                               d,
                               n_low > 0 && n_high > 0 ? low : NULL,
                               n_low > 0 && n_high > 0 ? high : NULL,
                               n_unequal > 0 ? spoiled : NULL,
                               calc_level(in),
                               calc_number(in, "margin", unknown_real()),
                               (size_t)fmax(1, fmin(1000, calc_number(in, "of_many", 1)))};
    if (outcome == OUTCOME_OK)
        outcome = evidence_paired(&wish, &a, why);
    if (outcome == OUTCOME_OK) {
        calc_put_word(result, "verdict", verdicts[a.verdict]);
        calc_put_word(result, "because", reasons[a.reason]);
        calc_put_estimate(result, &a.mean);
        calc_put(result, "p", a.p);
        calc_put(result, "p_least", a.p_least);
        calc_put(result, "detectable", a.detectable);
        calc_say(result, "%s", paired_reason_words(&a, &arena));
    }
    arena_clear(&arena);
    return outcome;
}

static enum outcome run_stated(const json_t *in, json_t *result, struct failure *why)
{
    struct estimate e;
    enum outcome outcome = survival_stated(calc_number(in, "alive", 0), calc_number(in, "dead", 0), calc_number(in, "not_found", 0),
                                           calc_number(in, "chance_dead", unknown_real()), calc_level(in), &e, why);
    if (outcome == OUTCOME_OK)
        calc_put_estimate(result, &e);
    return outcome;
}

static enum outcome run_seasons(const json_t *in, json_t *result, struct failure *why)
{
    int32_t from = DATE_UNKNOWN, to = DATE_UNKNOWN;
    if (!date_read(calc_word(in, "from", ""), &from) || !date_read(calc_word(in, "to", ""), &to))
        return fail(why, OUTCOME_USAGE, "from and to must be days such as 2024-09-14.");
    calc_put(result, "seasons", growing_seasons(from, to));
    calc_put(result, "years", date_years(from, to));
    return OUTCOME_OK;
}

static enum outcome run_cover(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n = 0;
    double *crown = calc_numbers(in, "crown", &arena, &n), area = calc_number(in, "area", unknown_real()), sum = 0;
    enum outcome outcome = area > 0 ? OUTCOME_OK : fail(why, OUTCOME_DATA, "The ground must have an area above 0 m2.");
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        if (!(crown[i] >= 0))
            outcome = fail(why, OUTCOME_DATA, "Crown width number %zu is not a width.", i + 1);
        sum += M_PI / 4 * crown[i] * crown[i] / 1e4;
    }
    if (outcome == OUTCOME_OK) {
        calc_put(result, "crowns", sum / area);
        calc_put(result, "covered", 100 * (1 - exp(-sum / area)));
    }
    arena_clear(&arena);
    return outcome;
}

static enum outcome run_clumping(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct clumping c;
    size_t n = 0, columns = (size_t)fmax(0, calc_number(in, "columns", 0));
    double *values = calc_numbers(in, "value", &arena, &n);
    enum outcome outcome =
        columns > 0 && n % columns == 0 ? OUTCOME_OK : fail(why, OUTCOME_USAGE, "%zu values do not fill rows of %zu squares.", n, columns);
    if (outcome == OUTCOME_OK)
        outcome = squares_clumping(values, n / columns, columns, (size_t)calc_number(in, "draws", 999),
                                   (uint64_t)calc_number(in, "seed", 1), &c, why);
    if (outcome == OUTCOME_OK) {
        calc_put(result, "moran", c.i);
        calc_put(result, "expected", c.expected);
        calc_put(result, "p", c.p);
        calc_put(result, "pairs", (double)c.pairs);
    }
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value clumping_in[] = {
    {"value", "any", CALC_NUMBERS, true, "value of each square, row after row"},
    {"columns", "squares", CALC_NUMBER, true, "squares in a row"},
    {"draws", "", CALC_NUMBER, false, "shuffles, 999 if left out"},
    {"seed", "", CALC_NUMBER, false, "seed of the shuffles, 1 if left out"},
};
static const struct calc_value clumping_out[] = {
    {"moran", "", CALC_NUMBER, false, "Moran's I, neighbours sharing a side"},
    {"expected", "", CALC_NUMBER, false, "its mean where values lie by chance"},
    {"p", "", CALC_NUMBER, false, "chance of neighbours so alike, by shuffling"},
    {"pairs", "pairs", CALC_NUMBER, false, "neighbouring pairs"},
};
static const struct calc_value seasons_in[] = {
    {"from", "", CALC_WORD, true, "first day, such as 2022-03-01"},
    {"to", "", CALC_WORD, true, "last day"},
};
static const struct calc_value seasons_out[] = {
    {"seasons", "seasons", CALC_NUMBER, false, "growing seasons between, 1 April to 30 September each, in part by days"},
    {"years", "years", CALC_NUMBER, false, "years between"},
};
static const struct calc_value cover_in[] = {
    {"crown", "cm", CALC_NUMBERS, true, "crown widths"},
    {"area", "m2", CALC_NUMBER, true, "ground they stand on"},
};
static const struct calc_value cover_out[] = {
    {"crowns", "m2/m2", CALC_NUMBER, false, "crown area over ground, overlaps counted twice"},
    {"covered", "%", CALC_NUMBER, false, "ground covered if crowns lie by chance"},
};
static const struct calc_value stated_in[] = {
    {"alive", "plants", CALC_NUMBER, true, "seen alive"},
    {"dead", "plants", CALC_NUMBER, true, "seen dead"},
    {"not_found", "plants", CALC_NUMBER, true, "not found"},
    {"chance_dead", "", CALC_NUMBER, true, "chance that one that was not found is dead, 0 … 1"},
    {"level", "", CALC_NUMBER, false, "level of the interval, 0.95 if left out"},
};
static const struct calc_value verdict_in[] = {
    {"difference", "any", CALC_NUMBERS, true, "first less second, one for each site"},
    {"lowest", "any", CALC_NUMBERS, false, "with what was not found read against the first"},
    {"highest", "any", CALC_NUMBERS, false, "with what was not found read for the first"},
    {"unequal_care", "", CALC_NUMBERS, false, "1 where the two plots were not cared for alike, else 0"},
    {"margin", "any", CALC_NUMBER, false, "smallest difference worth having"},
    {"of_many", "outcomes", CALC_NUMBER, false, "outcomes looked at afterwards, this one among them; 1: it was asked beforehand"},
    {"level", "", CALC_NUMBER, false, "level of the interval, 0.95 if left out"},
};
static const struct calc_value verdict_out[] = {
    {"verdict", "", CALC_WORD, false, "what may be concluded"},
    {"because", "", CALC_WORD, false, "why not more"},
    {"value", "any", CALC_NUMBER, false, "mean over sites"},
    {"se", "any", CALC_NUMBER, false, "standard error"},
    {"low", "any", CALC_NUMBER, false, "lower end, Student's t"},
    {"high", "any", CALC_NUMBER, false, "upper end"},
    {"p", "", CALC_NUMBER, false, "exact sign flips, from 5 sites"},
    {"p_least", "", CALC_NUMBER, false, "least p so many sites can give"},
    {"detectable", "any", CALC_NUMBER, false, "difference that four of five such programmes would find"},
};

const struct calc calc_evidence[] = {
    {"paired_verdict", "What may be concluded from pairs of plots on several sites",
     "Student 1908; Fisher 1935, The Design of Experiments, §21; bounds after Manski 2003, Partial Identification; the rules are ours",
     verdict_in, LENGTH(verdict_in), verdict_out, LENGTH(verdict_out), run_verdict},
    {"survival_not_found", "Survival with a stated chance for plants that were not found",
     "Wilson 1927 on the number left effective; Rubin 1987, Multiple Imputation, §3.3, for the variance added", stated_in,
     LENGTH(stated_in), calc_estimate_out, CALC_ESTIMATE_OUT, run_stated},
    {"growing_seasons", "Growing seasons between two days", "common practice, no source", seasons_in, LENGTH(seasons_in), seasons_out,
     LENGTH(seasons_out), run_seasons},
    {"canopy_cover", "Ground covered by crowns that may overlap", "Crookston & Stage 1999, RMRS-GTR-24", cover_in, LENGTH(cover_in),
     cover_out, LENGTH(cover_out), run_cover},
    {"clumping", "Are neighbouring squares alike?", "Moran 1950, Biometrika 37:17", clumping_in, LENGTH(clumping_in), clumping_out,
     LENGTH(clumping_out), run_clumping},
    {0},
};
