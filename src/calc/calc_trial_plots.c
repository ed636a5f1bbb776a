/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of trial/ about which plots to plant, on which sites, and the closed forms behind power. */
#include "calc/calc_rooms.h"
#include "trial/trial.h"
#include <math.h>
#include <string.h>

#define COUNT(list) (sizeof(list) / sizeof *(list))

/* "DCP" or "D+C+P" as bits; "-" is none; UINT_MAX if it is neither. */
static unsigned kinds_read(const char *words)
{
    unsigned bits = 0;
    for (const char *p = words; *p != '\0'; p++) {
        size_t k = 0;
        if (*p == '+' || *p == '-')
            continue;
        while (k < TRIAL_KINDS && *p != trial_kind_letter((enum trial_kind)k)[0])
            k++;
        if (k == TRIAL_KINDS)
            return (unsigned)-1;
        bits |= 1u << k;
    }
    return bits;
}

static const char *kinds_write(unsigned kinds, char out[16])
{
    char *p = out;
    for (unsigned k = 0; k < TRIAL_KINDS; k++)
        if (kinds >> k & 1) {
            if (p != out)
                *p++ = '+';
            *p++ = trial_kind_letter((enum trial_kind)k)[0];
        }
    if (p == out)
        *p++ = '-';
    *p = '\0';
    return out;
}

static const struct calc_value sets_in[] = {
    {"asks", "", CALC_WORD, true, "recipe, soil, density, together, baseline, several joined by +"},
    {"usual_mix", "", CALC_WORD, false, "yes: the conventional plot has another mix; default no"},
};
static const struct calc_value sets_out[] = {
    {"best", "", CALC_WORD, false, "smallest set that answers all, such as D+C+P; null if none does"},
    {"plots", "", CALC_NUMBER, false, "plots in it"},
    {"sentence", "", CALC_WORD, false, "what may be said"},
    {"answering", "", CALC_WORDS, false, "every set that answers all, cheapest first"},
};

static enum outcome sets_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct trial_sets *sets = arena_alloc(&arena, sizeof *sets);
    unsigned asked = trial_questions_read(calc_word(in, "asks", ""));
    enum outcome outcome = trial_sets_make(asked, text_same(calc_word(in, "usual_mix", "no"), "yes"), 3, 1, 100, &arena, sets, why);
    if (outcome == OUTCOME_OK) {
        char words[16];
        const struct trial_set *best = sets->best == SIZE_MAX ? NULL : &sets->sets[sets->best];
        json_t *list = json_array();
        for (size_t i = 0; i < sets->n; i++)
            if ((sets->sets[i].answers & asked) == asked)
                json_array_append_new(list, json_string(kinds_write(sets->sets[i].kinds, words)));
        calc_put_word(result, "best", best == NULL ? NULL : kinds_write(best->kinds, words));
        calc_put(result, "plots", best == NULL ? unknown_real() : (double)best->n_plots);
        calc_put_word(result, "sentence", best == NULL ? NULL : best->sentence);
        json_object_set_new(result, "answering", list);
    }
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value blocks_in[] = {
    {"there", "", CALC_WORDS, true, "kinds that stand on each site, such as D+C,-,D+C+P"},
    {"room", "", CALC_NUMBERS, true, "plots that still fit on each"},
    {"asks", "", CALC_WORD, true, "recipe, soil, density, together, several joined by +"},
    {"most", "", CALC_NUMBER, false, "plots to add in all; default what fits"},
    {"seed", "", CALC_NUMBER, false, "default 1"},
};
static const struct calc_value blocks_out[] = {
    {"add", "", CALC_WORDS, true, "kinds to add on each site"},
    {"added", "", CALC_NUMBER, true, "plots added in all"},
    {"mean_variance", "", CALC_NUMBER, true, "of what is asked, in squares of the plots' spread about their site"},
    {"recipe", "", CALC_NUMBER, false, "variance of D − C"},
    {"soil", "", CALC_NUMBER, false, "of P − C"},
    {"density", "", CALC_NUMBER, false, "of D − P"},
    {"together", "", CALC_NUMBER, false, "of (D − N) − (P − C)"},
    {"df", "", CALC_NUMBER, true, "degrees of freedom"},
    {"every_way_tried", "", CALC_WORD, true, "yes or no"},
};

static enum outcome blocks_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n = json_array_size(json_object_get(in, "there")), n_room = 0;
    double *room = calc_numbers(in, "room", &arena, &n_room), most = calc_number(in, "most", unknown_real());
    struct trial_block *blocks = arena_array(&arena, n + 1, sizeof *blocks);
    struct trial_blocking found;
    enum outcome outcome = n == n_room ? OUTCOME_OK : fail(why, OUTCOME_USAGE, "There must be one room for each site.");
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        const char *words = json_string_value(json_array_get(json_object_get(in, "there"), i));
        unsigned kinds = kinds_read(words);
        if (kinds == (unsigned)-1 || !(room[i] >= 0 && room[i] <= 8))
            outcome =
                fail(why, OUTCOME_USAGE, "\"%.20s\" with room for %g is no site: letters D, C, P, N, U and room 0 to 8.", words, room[i]);
        else
            blocks[i] = (struct trial_block){.site = "site", .must = kinds, .room = (size_t)room[i]};
    }
    if (outcome == OUTCOME_OK)
        outcome = trial_blocks_choose(blocks, n, trial_questions_read(calc_word(in, "asks", "")),
                                      is_known(most) && most >= 0 ? (size_t)most : SIZE_MAX, (uint64_t)calc_number(in, "seed", 1), &arena,
                                      &found, why);
    if (outcome == OUTCOME_OK) {
        json_t *list = json_array();
        char words[16];
        for (size_t i = 0; i < n; i++)
            json_array_append_new(list, json_string(kinds_write(blocks[i].kinds & ~blocks[i].must, words)));
        json_object_set_new(result, "add", list);
        calc_put(result, "added", (double)found.added);
        calc_put(result, "mean_variance", found.mean);
        for (unsigned q = 0; q < TRIAL_ASKS_BASE; q++)
            calc_put(result, trial_question_word((enum trial_question)q), found.variance[q]);
        calc_put(result, "df", found.df);
        calc_put_word(result, "every_way_tried", found.all_tried ? "yes" : "no");
    }
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value power_in[] = {
    {"difference", "", CALC_NUMBER, true, "true difference"},
    {"se", "", CALC_NUMBER, true, "standard error of its estimate, above 0, same unit"},
    {"df", "", CALC_NUMBER, true, "degrees of freedom, 1 or more"},
    {"alpha", "", CALC_NUMBER, false, "risk of a false alarm, default 0.05"},
};
static const struct calc_value power_out[] = {{"power", "", CALC_NUMBER, true, "chance to find it"}};

static enum outcome power_run(const json_t *in, json_t *result, struct failure *why)
{
    double power = 0;
    enum outcome outcome = trial_contrast_power(calc_number(in, "difference", 0), calc_number(in, "se", 0), calc_number(in, "df", 0),
                                                calc_number(in, "alpha", 0.05), &power, why);
    if (outcome == OUTCOME_OK)
        calc_put(result, "power", power);
    return outcome;
}

static const struct calc_value survival_in[] = {
    {"p1", "", CALC_NUMBER, true, "survival in plots of one kind, 0–1"},
    {"p2", "", CALC_NUMBER, true, "in the other"},
    {"plants_a", "", CALC_NUMBER, true, "plants measured in each plot of one kind"},
    {"plants_b", "", CALC_NUMBER, false, "of the other; default the same"},
    {"icc", "", CALC_NUMBER, true, "likeness of plants of one plot, 0–1"},
    {"site_part", "", CALC_NUMBER, false, "part of it that both plots of a site share, default 0"},
};
static const struct calc_value amount_in[] = {
    {"sd_plot", "", CALC_NUMBER, true, "spread of plots about their site (counts: of the logarithm)"},
    {"sd_unit", "", CALC_NUMBER, false, "spread of plants or cores within a plot; left out: counts"},
    {"units_a", "", CALC_NUMBER, true, "plants, cores or traps in each plot of one kind"},
    {"units_b", "", CALC_NUMBER, false, "of the other; default the same"},
    {"mean_a", "", CALC_NUMBER, false, "counts: mean per trap of one kind"},
    {"mean_b", "", CALC_NUMBER, false, "of the other"},
};
static const struct calc_value sd_out[] = {{"sd", "", CALC_NUMBER, true, "spread of the differences over sites"}};

static enum outcome survival_run(const json_t *in, json_t *result, struct failure *why)
{
    double a = calc_number(in, "p1", 0), b = calc_number(in, "p2", 0), n = calc_number(in, "plants_a", 0),
           m = calc_number(in, "plants_b", n);
    double icc = calc_number(in, "icc", 0), part = calc_number(in, "site_part", 0);
    if (!(a >= 0 && a <= 1 && b >= 0 && b <= 1 && n >= 1 && m >= 1 && icc >= 0 && icc <= 1 && part >= 0 && part <= 1))
        return fail(why, OUTCOME_USAGE, "Shares lie between 0 and 1; a plot has a plant at least.");
    calc_put(result, "sd", trial_survival_difference_sd(a, b, n, m, icc, part));
    return OUTCOME_OK;
}

static enum outcome amount_run(const json_t *in, json_t *result, struct failure *why)
{
    double plot = calc_number(in, "sd_plot", -1), unit = calc_number(in, "sd_unit", unknown_real());
    double n = calc_number(in, "units_a", 0), m = calc_number(in, "units_b", n), a = calc_number(in, "mean_a", unknown_real()),
           b = calc_number(in, "mean_b", a);
    if (!(plot >= 0 && n >= 1 && m >= 1) || (is_known(unit) ? !(unit >= 0) : !(a > 0 && b > 0)))
        return fail(why, OUTCOME_USAGE, "Spreads are zero or more, a plot has a unit at least; counts need means above zero.");
    calc_put(result, "sd", is_known(unit) ? trial_amount_difference_sd(plot, unit, n, m) : trial_count_difference_sd(plot, a, b, n, m));
    return OUTCOME_OK;
}

const struct calc calc_trial_plots[] = {
    {"plot_sets", "Which plots to plant for the question asked", "All sets tried; Searle 1971, Linear Models, section 5.4", sets_in,
     COUNT(sets_in), sets_out, COUNT(sets_out), sets_run},
    {"plots_over_sites", "Which plots to add on which sites",
     "Least variance of the contrasts asked, sites as blocks: John & Williams 1995, ch. 1-2", blocks_in, COUNT(blocks_in), blocks_out,
     COUNT(blocks_out), blocks_run},
    {"contrast_power", "Chance of finding a difference with this standard error",
     "Noncentral t: Johnson, Kotz & Balakrishnan 1995, vol. 2, ch. 31", power_in, COUNT(power_in), power_out, COUNT(power_out), power_run},
    {"survival_difference_sd", "Spread over sites of differences of survival between plots", "Variance of beta-binomial shares",
     survival_in, COUNT(survival_in), sd_out, COUNT(sd_out), survival_run},
    {"measure_difference_sd", "Spread over sites of differences of a measure between plots",
     "Variance of a sum; counts by the delta method", amount_in, COUNT(amount_in), sd_out, COUNT(sd_out), amount_run},
    {0},
};
