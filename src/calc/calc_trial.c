/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of trial/: how many plants, plots and sites. Those about designs and lots stand in calc_trial_design.c. */
#include "calc/calc_rooms.h"
#include "calc/calc_trial.h"
#include "stats/cluster.h"
#include "trial/trial.h"
#include <math.h>

static enum outcome sample_size_run(const json_t *in, json_t *result, struct failure *why)
{
    double exact = 0, n = 0, population = calc_number(in, "population", 0);
    enum outcome outcome = trial_sample_size(calc_number(in, "share", 0), calc_number(in, "half_width", 0),
                                             calc_number(in, "confidence", 0.95), population, &exact, &n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    calc_put(result, "exact", exact);
    calc_put(result, "plants", n);
    calc_say(result, "n0 = z² p (1 − p) / h²%s", population > 0 ? "; n = n0 / (1 + (n0 − 1) / N), rounded up" : ", rounded up");
    return OUTCOME_OK;
}

static enum outcome shares_n_run(const json_t *in, json_t *result, struct failure *why)
{
    double exact = 0, corrected = 0;
    enum outcome outcome = trial_two_shares_n(calc_number(in, "p1", 0), calc_number(in, "p2", 0), calc_number(in, "alpha", 0.05),
                                              calc_number(in, "power", 0.8), &exact, &corrected, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    calc_put(result, "exact", exact);
    calc_put(result, "exact_corrected", corrected);
    calc_put(result, "plants", ceil(exact - 1e-9));
    calc_put(result, "plants_corrected", ceil(corrected - 1e-9));
    calc_say(result, "Plants in each group, if they lived and died independently. Plants of one plot do not: see clusters_n.");
    return OUTCOME_OK;
}

static enum outcome shares_power_run(const json_t *in, json_t *result, struct failure *why)
{
    double plain = 0, corrected = 0, p1 = calc_number(in, "p1", 0), p2 = calc_number(in, "p2", 0), n = calc_number(in, "plants", 0);
    double alpha = calc_number(in, "alpha", 0.05);
    enum outcome outcome = trial_two_shares_power(p1, p2, n, alpha, false, &plain, why);
    if (outcome == OUTCOME_OK)
        outcome = trial_two_shares_power(p1, p2, n, alpha, true, &corrected, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    calc_put(result, "power", plain);
    calc_put(result, "power_corrected", corrected);
    return OUTCOME_OK;
}

static enum outcome clusters_run(const json_t *in, json_t *result, struct failure *why)
{
    double exact = 0, n = 0, m = calc_number(in, "plants", 0), icc = calc_number(in, "icc", 0);
    enum outcome outcome = trial_clusters_n(calc_number(in, "p1", 0), calc_number(in, "p2", 0), m, icc, calc_number(in, "alpha", 0.05),
                                            calc_number(in, "power", 0.8), &exact, &n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    calc_put(result, "exact", exact);
    calc_put(result, "plots", n);
    calc_put(result, "design_effect", design_effect(m, 0, icc));
    calc_say(result, "Rounded up, and one more because the normal stands in for t.");
    return OUTCOME_OK;
}

static enum outcome effective_run(const json_t *in, json_t *result, struct failure *why)
{
    double m = calc_number(in, "plants", 0), icc = calc_number(in, "icc", 0), cv = calc_number(in, "cv", 0);
    if (!(m >= 1) || !(icc >= 0 && icc <= 1) || !(cv >= 0))
        return fail(why, OUTCOME_DATA, "Plants in a plot are one or more, the likeness 0 to 1, the variation zero or more.");
    double effect = design_effect(m, cv, icc);
    calc_put(result, "design_effect", effect);
    calc_put(result, "effective", m / effect);
    calc_put(result, "limit", icc > 0 ? 1 / icc : unknown_real());
    return OUTCOME_OK;
}

static enum outcome half_width_run(const json_t *in, json_t *result, struct failure *why)
{
    double width = 0;
    enum outcome outcome =
        trial_paired_half_width(calc_number(in, "sites", 0), calc_number(in, "sd", 0), calc_number(in, "confidence", 0.95), &width, why);
    if (outcome == OUTCOME_OK)
        calc_put(result, "half_width", width);
    return outcome;
}

static enum outcome width_sites_run(const json_t *in, json_t *result, struct failure *why)
{
    double n = 0;
    enum outcome outcome =
        trial_paired_half_width_n(calc_number(in, "sd", 0), calc_number(in, "half_width", 0), calc_number(in, "confidence", 0.95), &n, why);
    if (outcome == OUTCOME_OK)
        calc_put(result, "sites", n);
    return outcome;
}

static enum outcome paired_power_run(const json_t *in, json_t *result, struct failure *why)
{
    double power = 0;
    enum outcome outcome = trial_paired_power(calc_number(in, "sites", 0), calc_number(in, "difference", 0), calc_number(in, "sd", 0),
                                              calc_number(in, "alpha", 0.05), &power, why);
    if (outcome == OUTCOME_OK)
        calc_put(result, "power", power);
    return outcome;
}

static enum outcome paired_n_run(const json_t *in, json_t *result, struct failure *why)
{
    double n = 0;
    enum outcome outcome = trial_paired_n(calc_number(in, "difference", 0), calc_number(in, "sd", 0), calc_number(in, "alpha", 0.05),
                                          calc_number(in, "power", 0.8), &n, why);
    if (outcome == OUTCOME_OK)
        calc_put(result, "sites", n);
    return outcome;
}

static enum outcome least_p_run(const json_t *in, json_t *result, struct failure *why)
{
    double pairs = calc_number(in, "pairs", 0), a = calc_number(in, "plots_a", 0), b = calc_number(in, "plots_b", 0);
    if (!(pairs >= 1) == !(a >= 1 && b >= 1))
        return fail(why, OUTCOME_DATA, "Give either the number of pairs, or the plots of both kinds.");
    calc_put(result, "p", pairs >= 1 ? trial_least_p_pairs(pairs) : trial_least_p_groups(a, b));
    calc_say(result, pairs >= 1 ? "2 / 2^n" : "1 / C(a + b, a), twice that when a = b");
    return OUTCOME_OK;
}

static enum outcome difference_sd_run(const json_t *in, json_t *result, struct failure *why)
{
    double between = calc_number(in, "sd_between", 0), within = calc_number(in, "sd_within", 0), m = calc_number(in, "plants", 0);
    if (!(between >= 0) || !(within >= 0) || !(m >= 1))
        return fail(why, OUTCOME_DATA, "Spreads are zero or more, plants one or more.");
    calc_put(result, "sd", trial_difference_sd(between, within, m));
    calc_say(result, "sqrt(sd_between² + 2 sd_within² / m)");
    return OUTCOME_OK;
}

static void simulated_put(json_t *result, const struct trial_simulated *s)
{
    calc_put(result, "power", s->power);
    calc_put(result, "power_se", s->power_se);
    calc_put(result, "naive_power", s->naive_power);
    calc_put(result, "naive_error", s->naive_error);
    calc_put(result, "half_width", s->half_width);
}

static enum outcome simulate_run(const json_t *in, json_t *result, struct failure *why)
{
    double sites = calc_number(in, "sites", 0), a = calc_number(in, "plants_a", 0), b = calc_number(in, "plants_b", a);
    double runs = calc_number(in, "runs", 0), seed = calc_number(in, "seed", 1);
    if (!(sites >= 2 && sites <= 1e6) || !(a >= 1 && a <= 1e7) || !(b >= 1 && b <= 1e7) || !(runs >= 0 && runs <= 1e6) ||
        !(seed >= 0 && seed < 9e15))
        return fail(why, OUTCOME_DATA, "Sites are two or more, plants one or more, runs up to a million, the seed zero or more.");
    struct trial_simulation w = {.sites = (size_t)sites, .plants_a = (size_t)a, .plants_b = (size_t)b};
    w.share_a = calc_number(in, "p1", 0), w.share_b = calc_number(in, "p2", 0), w.icc = calc_number(in, "icc", 0);
    w.site_icc = calc_number(in, "site_part", 0), w.alpha = calc_number(in, "alpha", 0.05);
    w.runs = (size_t)runs, w.seed = (uint64_t)seed;
    struct trial_simulated s;
    enum outcome outcome = trial_simulate(&w, NULL, &s, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    simulated_put(result, &s);
    return OUTCOME_OK;
}

static enum outcome measured_run(const json_t *in, json_t *result, struct failure *why)
{
    double sites = calc_number(in, "sites", 0), units = calc_number(in, "units", 0), runs = calc_number(in, "runs", 0);
    double seed = calc_number(in, "seed", 1);
    const char *measure = calc_word(in, "measure", "amount");
    if (!(sites >= 2 && sites <= 1e6) || !(units >= 1 && units <= 1e7) || !(runs >= 0 && runs <= 1e6) || !(seed >= 0 && seed < 9e15))
        return fail(why, OUTCOME_DATA, "Sites are two or more, units one or more, runs up to a million, the seed zero or more.");
    if (!text_same(measure, "amount") && !text_same(measure, "count"))
        return fail(why, OUTCOME_USAGE, "The measure is amount or count.");
    struct trial_measured w = {.sites = (size_t)sites, .units_a = (size_t)units, .units_b = (size_t)units, .runs = (size_t)runs};
    w.measure = text_same(measure, "count") ? TRIAL_MEASURE_COUNT : TRIAL_MEASURE_AMOUNT;
    w.mean_a = calc_number(in, "mean_a", 0), w.mean_b = calc_number(in, "mean_b", 0), w.sd_unit = calc_number(in, "sd_unit", 0);
    w.sd_plot = calc_number(in, "sd_plot", 0), w.alpha = calc_number(in, "alpha", 0.05), w.seed = (uint64_t)seed;
    struct trial_simulated s;
    enum outcome outcome = trial_simulate_measured(&w, NULL, &s, why);
    if (outcome == OUTCOME_OK)
        simulated_put(result, &s);
    return outcome;
}

static enum outcome buffer_run(const json_t *in, json_t *result, struct failure *why)
{
    double gap = trial_buffer_m(calc_number(in, "growth", 0), calc_number(in, "years", 0));
    if (!is_known(gap))
        return fail(why, OUTCOME_DATA, "Growth and years are zero or more.");
    calc_put(result, "gap", gap);
    return OUTCOME_OK;
}

#define SHARES                                                                                                                             \
    {"p1", "", CALC_NUMBER, true, "share expected in one, 0-1"},                                                                           \
    {                                                                                                                                      \
        "p2", "", CALC_NUMBER, true, "share expected in the other, 0-1"                                                                    \
    }
#define ALPHA                                                                                                                              \
    {                                                                                                                                      \
        "alpha", "", CALC_NUMBER, false, "two-sided risk of a false alarm, default 0.05"                                                   \
    }
#define POWER                                                                                                                              \
    {                                                                                                                                      \
        "power", "", CALC_NUMBER, false, "chance wanted of finding the difference, default 0.8"                                            \
    }
#define CONFIDENCE                                                                                                                         \
    {                                                                                                                                      \
        "confidence", "", CALC_NUMBER, false, "default 0.95"                                                                               \
    }
static const struct calc_value sample_in[] = {{"share", "", CALC_NUMBER, true, "share expected, 0-1"},
                                              {"half_width", "", CALC_NUMBER, true, "wanted half-width of the interval, 0-1"},
                                              CONFIDENCE,
                                              {"population", "", CALC_NUMBER, false, "plants there are; left out: endless"}};
static const struct calc_value sample_out[] = {{"exact", "", CALC_NUMBER, false, "before rounding"},
                                               {"plants", "", CALC_NUMBER, false, "plants to measure"}};
static const struct calc_value shares_n_in[] = {SHARES, ALPHA, POWER};
static const struct calc_value shares_n_out[] = {{"exact", "", CALC_NUMBER, false, "per group before rounding"},
                                                 {"exact_corrected", "", CALC_NUMBER, false, "with continuity correction"},
                                                 {"plants", "", CALC_NUMBER, false, "per group"},
                                                 {"plants_corrected", "", CALC_NUMBER, false, "per group with continuity correction"}};
static const struct calc_value shares_power_in[] = {SHARES, {"plants", "", CALC_NUMBER, true, "plants in each group"}, ALPHA};
static const struct calc_value shares_power_out[] = {{"power", "", CALC_NUMBER, false, "chance of finding the difference"},
                                                     {"power_corrected", "", CALC_NUMBER, false, "with continuity correction"}};
static const struct calc_value clusters_in[] = {SHARES,
                                                {"plants", "", CALC_NUMBER, true, "plants measured in each plot"},
                                                {"icc", "", CALC_NUMBER, true, "likeness of plants of one plot, 0-1"},
                                                ALPHA,
                                                POWER};
static const struct calc_value clusters_out[] = {{"exact", "", CALC_NUMBER, false, "plots per kind before rounding"},
                                                 {"plots", "", CALC_NUMBER, false, "plots per kind, rounded up and one more"},
                                                 {"design_effect", "", CALC_NUMBER, false, "1 + (m − 1) icc"}};
static const struct calc_value effective_in[] = {{"plants", "", CALC_NUMBER, true, "plants in a plot"},
                                                 {"icc", "", CALC_NUMBER, true, "likeness of plants of one plot, 0-1"},
                                                 {"cv", "", CALC_NUMBER, false, "coefficient of variation of plot sizes, default 0"}};
static const struct calc_value effective_out[] = {{"design_effect", "", CALC_NUMBER, false, "how much the variance grows"},
                                                  {"effective", "", CALC_NUMBER, false, "independent plants that one plot is worth"},
                                                  {"limit", "", CALC_NUMBER, false, "no plot is ever worth more, 1 / icc"}};
static const struct calc_value half_width_in[] = {{"sites", "", CALC_NUMBER, true, "pairs of plots"},
                                                  {"sd", "points", CALC_NUMBER, true, "standard deviation of the differences"},
                                                  CONFIDENCE};
static const struct calc_value half_width_out[] = {{"half_width", "points", CALC_NUMBER, false, "t s / sqrt(n)"}};
static const struct calc_value width_sites_in[] = {{"sd", "points", CALC_NUMBER, true, "standard deviation of the differences"},
                                                   {"half_width", "points", CALC_NUMBER, true, "wanted half-width"},
                                                   CONFIDENCE};
static const struct calc_value sites_out[] = {{"sites", "", CALC_NUMBER, false, "sites with a pair of plots each"}};
static const struct calc_value paired_power_in[] = {{"sites", "", CALC_NUMBER, true, "pairs of plots"},
                                                    {"difference", "points", CALC_NUMBER, true, "true mean difference"},
                                                    {"sd", "points", CALC_NUMBER, true, "standard deviation of the differences"},
                                                    ALPHA};
static const struct calc_value power_out[] = {{"power", "", CALC_NUMBER, false, "chance of finding the difference, both tails"}};
static const struct calc_value paired_n_in[] = {{"difference", "points", CALC_NUMBER, true, "true mean difference"},
                                                {"sd", "points", CALC_NUMBER, true, "standard deviation of the differences"},
                                                ALPHA,
                                                POWER};
static const struct calc_value least_p_in[] = {{"pairs", "", CALC_NUMBER, false, "pairs of plots, drawn within each"},
                                               {"plots_a", "", CALC_NUMBER, false, "plots of one kind, drawn over all"},
                                               {"plots_b", "", CALC_NUMBER, false, "plots of the other"}};
static const struct calc_value least_p_out[] = {{"p", "", CALC_NUMBER, false, "smallest two-sided p that can come out"}};
static const struct calc_value difference_in[] = {{"sd_between", "", CALC_NUMBER, true, "spread of the true difference between sites"},
                                                  {"sd_within", "", CALC_NUMBER, true, "spread of plants within a plot"},
                                                  {"plants", "", CALC_NUMBER, true, "plants measured in each plot"}};
static const struct calc_value difference_out[] = {{"sd", "", CALC_NUMBER, false, "spread of the measured difference between sites"}};
static const struct calc_value simulate_in[] = {
    {"sites", "", CALC_NUMBER, true, "pairs of plots"},
    {"plants_a", "", CALC_NUMBER, true, "plants measured in each plot of the one kind"},
    {"plants_b", "", CALC_NUMBER, false, "of the other; default the same"},
    SHARES,
    {"icc", "", CALC_NUMBER, true, "likeness of plants of one plot, 0 to below 1"},
    {"site_part", "", CALC_NUMBER, false, "part of it that both plots of a site share, default 0"},
    ALPHA,
    {"runs", "", CALC_NUMBER, false, "default 2,000"},
    {"seed", "", CALC_NUMBER, false, "default 1"}};
static const struct calc_value simulate_out[] = {
    {"power", "", CALC_NUMBER, false, "share of runs where the paired t test finds it"},
    {"power_se", "", CALC_NUMBER, false, "its simulation error"},
    {"naive_power", "", CALC_NUMBER, false, "what counting plants as independent would claim"},
    {"naive_error", "", CALC_NUMBER, false, "how often that cries wolf when nothing differs"},
    {"half_width", "", CALC_NUMBER, false, "mean half-width of the interval of the difference"}};
static const struct calc_value measured_in[] = {
    {"measure", "", CALC_WORD, false, "amount (height, soil carbon; default) or count (richness)"},
    {"sites", "", CALC_NUMBER, true, "pairs of plots"},
    {"units", "", CALC_NUMBER, true, "plants, cores or traps measured in each plot"},
    {"mean_a", "", CALC_NUMBER, true, "expected in the one, in the unit of the measure"},
    {"mean_b", "", CALC_NUMBER, true, "in the other"},
    {"sd_unit", "", CALC_NUMBER, false, "spread of units within a plot (amounts)"},
    {"sd_plot", "", CALC_NUMBER, true, "spread of plots about their site (counts: of logarithms)"},
    ALPHA,
    {"runs", "", CALC_NUMBER, false, "default 2,000"},
    {"seed", "", CALC_NUMBER, false, "default 1"}};
static const struct calc_value buffer_in[] = {{"growth", "m/year", CALC_NUMBER, true, "height growth of the tallest"},
                                              {"years", "year", CALC_NUMBER, true, "length of the comparison"}};
static const struct calc_value buffer_out[] = {{"gap", "m", CALC_NUMBER, false, "gap to keep between the plots"}};

#define COUNT(list) (sizeof(list) / sizeof *(list))
#define DONNER "Donner & Klar 2000, Design and Analysis of Cluster Randomization Trials, ch. 5"
const struct calc calc_trial[] = {
    {"sample_size", "Plants to measure for a share", "Cochran 1977, Sampling Techniques, 3rd ed., eq. 4.1-4.2", sample_in, COUNT(sample_in),
     sample_out, COUNT(sample_out), sample_size_run},
    {"two_shares_n", "Plants per group to tell two shares apart",
     "Fleiss, Levin & Paik 2003, Statistical Methods for Rates and Proportions, ch. 4", shares_n_in, COUNT(shares_n_in), shares_n_out,
     COUNT(shares_n_out), shares_n_run},
    {"two_shares_power", "Chance of telling two shares apart", "Fleiss, Levin & Paik 2003, ch. 4; R power.prop.test", shares_power_in,
     COUNT(shares_power_in), shares_power_out, COUNT(shares_power_out), shares_power_run},
    {"clusters_n", "Plots per kind to tell two shares apart", DONNER, clusters_in, COUNT(clusters_in), clusters_out, COUNT(clusters_out),
     clusters_run},
    {"effective_plants", "What the plants of one plot are worth", DONNER "; unequal sizes Eldridge et al. 2006, Int J Epidemiol 35:1292",
     effective_in, COUNT(effective_in), effective_out, COUNT(effective_out), effective_run},
    {"paired_half_width", "Half-width of the interval of a mean difference over sites", "Student's t", half_width_in, COUNT(half_width_in),
     half_width_out, COUNT(half_width_out), half_width_run},
    {"paired_half_width_n", "Sites for an interval no wider than wanted", "Student's t", width_sites_in, COUNT(width_sites_in), sites_out,
     COUNT(sites_out), width_sites_run},
    {"paired_power", "Chance of finding a mean difference over sites", "Noncentral t: Johnson, Kotz & Balakrishnan 1995, vol. 2, ch. 31",
     paired_power_in, COUNT(paired_power_in), power_out, COUNT(power_out), paired_power_run},
    {"paired_n", "Sites to find a mean difference", "Noncentral t: Johnson, Kotz & Balakrishnan 1995, vol. 2, ch. 31", paired_n_in,
     COUNT(paired_n_in), sites_out, COUNT(sites_out), paired_n_run},
    {"least_p", "Smallest p a design can reach", "Number of ways to draw the lots: Edgington & Onghena 2007, Randomization Tests",
     least_p_in, COUNT(least_p_in), least_p_out, COUNT(least_p_out), least_p_run},
    {"difference_sd", "Spread of measured differences between sites", "Variance of a sum", difference_in, COUNT(difference_in),
     difference_out, COUNT(difference_out), difference_sd_run},
    {"survival_power_simulated", "Chance of finding a difference of survival, by simulation", "Simulation; paired t test on plot survivals",
     simulate_in, COUNT(simulate_in), simulate_out, COUNT(simulate_out), simulate_run},
    {"measured_power_simulated", "Chance of finding a difference of height, soil carbon or richness, by simulation",
     "Simulation; paired t test on plot means (counts: their logarithms)", measured_in, COUNT(measured_in), simulate_out,
     COUNT(simulate_out), measured_run},
    {"plot_gap", "Gap between plots that are compared", "Common practice, no source", buffer_in, COUNT(buffer_in), buffer_out,
     COUNT(buffer_out), buffer_run},
    {"plots_compare", "What the differences between plots can be given to", "Estimability: Searle 1971, Linear Models, section 5.4",
     calc_design_in, CALC_DESIGN_IN, calc_compare_out, CALC_COMPARE_OUT, calc_compare_run},
    {"plots_separate", "The fewest plots to add to separate a cause", "All combinations tried; Searle 1971, section 5.4", calc_separate_in,
     CALC_SEPARATE_IN, calc_separate_out, CALC_SEPARATE_OUT, calc_separate_run},
    {"lots_draw", "Who gets which ground, by lot", "Fisher-Yates shuffle: Knuth, The Art of Computer Programming, vol. 2, algorithm P",
     calc_lots_in, CALC_LOTS_IN, calc_lots_out, CALC_LOTS_OUT, calc_lots_run},
    {"sample_draw", "Which plants or squares are measured", "Knuth, vol. 2, algorithm S; Cochran 1977, ch. 8", calc_draw_in, CALC_DRAW_IN,
     calc_draw_out, CALC_DRAW_OUT, calc_draw_run},
    {"version_next", "The version after", "Common practice, no source", calc_version_in, CALC_VERSION_IN, calc_version_out,
     CALC_VERSION_OUT, calc_version_run},
    {0},
};
