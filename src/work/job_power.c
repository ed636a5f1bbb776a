/* SPDX-License-Identifier: GPL-3.0-or-later
 * power: what so many sites, plots and plants could find, by closed form and by simulation side by side, and how many are
 * needed; the least p a design can reach; how many plants to look at on one plot. */
#include "trial/trial.h"
#include "work/jobs.h"
#include "work/note.h"
#include "work/site_map.h"
#include <math.h>
#include <string.h>

static const struct option power_options[] = {
    {"measure", OPTION_TEXT, false, "WORD", "survival, height, carbon or kinds (survival if not given)"},
    {"sites", OPTION_INTEGER, false, "N", "sites with a pair of plots (6 if not given)"},
    {"plants_a", OPTION_INTEGER, false, "N", "plants, cores or traps measured in each dense plot (300; other measures 30, 5, 6)"},
    {"plants_b", OPTION_INTEGER, false, "N", "the same in each comparison plot (100; 30, 5, 6)"},
    {"share_a", OPTION_NUMBER, false, "%", "survival expected in the dense plots (80)"},
    {"share_b", OPTION_NUMBER, false, "%", "survival expected in the comparison plots (65)"},
    {"icc", OPTION_NUMBER, false, "X", "likeness of plants of one plot (0.08, a planning assumption)"},
    {"site_icc", OPTION_NUMBER, false, "X", "part of it that both plots of a site share (0.5)"},
    {"mean_a", OPTION_NUMBER, false, "X", "mean expected in the dense plots: height cm, carbon %, kinds per trap"},
    {"mean_b", OPTION_NUMBER, false, "X", "mean expected in the comparison plots"},
    {"sd_unit", OPTION_NUMBER, false, "X", "spread of plants or cores within a plot"},
    {"sd_plot", OPTION_NUMBER, false, "X", "spread of plots about their site (kinds: of the logarithm)"},
    {"half_width", OPTION_NUMBER, false, "POINTS", "instead: how many plants of one plot for a survival within ± so many points"},
    {"share", OPTION_NUMBER, false, "%", "survival expected there (80)"},
    {"population", OPTION_INTEGER, false, "N", "plants the plot has (endless if not given)"},
    {"difference", OPTION_NUMBER, false, "POINTS", "and: how many sites for a difference between plots of so many points"},
    {"sd_sites", OPTION_NUMBER, false, "POINTS", "spread of that difference over sites (12, a planning assumption)"},
    {"wanted", OPTION_NUMBER, false, "%", "power wanted (80)"},
    {"runs", OPTION_INTEGER, false, "N", "simulated programmes (2000)"},
    {"seed", OPTION_INTEGER, false, "N", "seed (1)"},
};

/// What is measured, with planning assumptions for where nothing is said.
struct measure {
    const char *name, *unit, *units; ///< "height", "cm", "plants"
    int64_t n;
    double mean_a, mean_b, sd_unit, sd_plot;
};
static const struct measure measures[] = {
    {"height", "cm", "plants", 30, 160, 140, 45, 15},
    {"carbon", "% carbon", "cores", 5, 3.0, 2.5, 0.55, 0.3},
    {"kinds", "kinds", "traps", 6, 12, 9, 0, 0.25},
};

/// One programme as asked for: closed form at any number of sites, simulation at this one.
struct asked {
    const struct measure *measure; ///< NULL: survival
    struct trial_simulation survival;
    struct trial_measured measured;
    double difference, sd; ///< of the differences between plots, over sites; shares, the measure's unit, or logarithms
    double scale;          ///< what to multiply by for people: 100 points
    const char *unit;
};

static enum outcome asked_read(const json_t *in, struct asked *out, struct failure *why)
{
    const char *name = option_text(in, "measure", "survival");
    size_t sites = (size_t)option_integer(in, "sites", 6), runs = (size_t)option_integer(in, "runs", 2000);
    uint64_t seed = (uint64_t)option_integer(in, "seed", 1);
    out->measure = NULL;
    for (size_t i = 0; i < sizeof measures / sizeof *measures; i++)
        if (text_same(measures[i].name, name))
            out->measure = &measures[i];
    if (out->measure == NULL && !text_same(name, "survival")) {
        fail(why, OUTCOME_USAGE, "There is no measure \"%.40s\".", name);
        return failure_remedy(why, "Use survival, height, carbon or kinds.");
    }
    if (out->measure == NULL) {
        out->survival = (struct trial_simulation){.sites = sites,
                                                  .plants_a = (size_t)option_integer(in, "plants_a", 300),
                                                  .plants_b = (size_t)option_integer(in, "plants_b", 100),
                                                  .share_a = option_number(in, "share_a", 80) / 100,
                                                  .share_b = option_number(in, "share_b", 65) / 100,
                                                  .icc = option_number(in, "icc", 0.08),
                                                  .site_icc = option_number(in, "site_icc", 0.5),
                                                  .alpha = 0.05,
                                                  .runs = runs,
                                                  .seed = seed};
        const struct trial_simulation *w = &out->survival;
        out->difference = w->share_a - w->share_b;
        out->sd = trial_survival_difference_sd(w->share_a, w->share_b, (double)w->plants_a, (double)w->plants_b, w->icc, w->site_icc);
        out->scale = 100;
        out->unit = "points";
        return OUTCOME_OK;
    }
    bool count = text_same(name, "kinds");
    out->measured = (struct trial_measured){.measure = count ? TRIAL_MEASURE_COUNT : TRIAL_MEASURE_AMOUNT,
                                            .sites = sites,
                                            .units_a = (size_t)option_integer(in, "plants_a", out->measure->n),
                                            .units_b = (size_t)option_integer(in, "plants_b", out->measure->n),
                                            .mean_a = option_number(in, "mean_a", out->measure->mean_a),
                                            .mean_b = option_number(in, "mean_b", out->measure->mean_b),
                                            .sd_unit = option_number(in, "sd_unit", out->measure->sd_unit),
                                            .sd_plot = option_number(in, "sd_plot", out->measure->sd_plot),
                                            .alpha = 0.05,
                                            .runs = runs,
                                            .seed = seed};
    const struct trial_measured *w = &out->measured;
    out->scale = 1;
    out->unit = count ? "in the logarithm" : out->measure->unit;
    if (count && !(w->mean_a > 0 && w->mean_b > 0))
        return fail(why, OUTCOME_USAGE, "Mean numbers of kinds must be above zero.");
    out->difference = count ? log(w->mean_a / w->mean_b) : w->mean_a - w->mean_b;
    out->sd = count ? trial_count_difference_sd(w->sd_plot, w->mean_a, w->mean_b, (double)w->units_a, (double)w->units_b)
                    : trial_amount_difference_sd(w->sd_plot, w->sd_unit, (double)w->units_a, (double)w->units_b);
    return OUTCOME_OK;
}

static size_t sites_of(const struct asked *asked)
{
    return asked->measure == NULL ? asked->survival.sites : asked->measured.sites;
}

/* Power over the number of sites by closed form, with the simulated point. */
static void curve_figure(json_t *section, const struct asked *asked, const struct trial_simulated *found, struct arena *arena)
{
    enum { MOST = 30 };
    double *x = arena_array(arena, MOST, sizeof *x), *y = arena_array(arena, MOST, sizeof *y);
    double at = (double)sites_of(asked), simulated = 100 * found->power, low = 100 * fmax(0, found->power - 1.96 * found->power_se),
           high = 100 * fmin(1, found->power + 1.96 * found->power_se);
    size_t n = 0;
    struct failure none;
    for (double sites = 2; sites < MOST + 2; sites++) {
        double power = 0;
        if (trial_paired_power(sites, asked->difference, asked->sd, 0.05, &power, &none) != OUTCOME_OK)
            return;
        x[n] = sites;
        y[n++] = 100 * power;
    }
    struct figure_line lines[2] = {{.name = "closed form", .x = x, .y = y, .n = n},
                                   {.name = "simulated", .x = &at, .y = &simulated, .low = &low, .high = &high, .n = 1}};
    struct figure_lines figure = {.head = {.title = "Chance to find the difference, by the number of sites",
                                           .x_title = "sites with a pair of plots",
                                           .y_title = "found in % of such programmes"},
                                  .lines = lines,
                                  .n_lines = at <= MOST + 1 ? 2 : 1,
                                  .y_least = 0,
                                  .y_most = 100,
                                  .mark_y = 80,
                                  .mark_words = "80 %"};
    section_drawing(section, figure_lines(&figure));
}

static void line_add(json_t *table, const char *what, double value, const char *unit)
{
    json_t *row = table_row(table);
    row_text(row, what);
    row_number(row, value);
    row_text(row, unit);
}

static enum outcome programme_power(const struct job_context *context, const json_t *in, json_t *out, struct arena *arena,
                                    struct failure *why)
{
    struct asked asked;
    struct trial_simulated found;
    double closed = unknown_real(), half = unknown_real(), need = unknown_real(), wanted = option_number(in, "wanted", 80) / 100;
    struct failure none;
    enum outcome outcome = asked_read(in, &asked, why);
    if (outcome == OUTCOME_OK)
        outcome = asked.measure == NULL ? trial_simulate(&asked.survival, context->progress, &found, why)
                                        : trial_simulate_measured(&asked.measured, context->progress, &found, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    double sites = (double)sites_of(&asked);
    if (trial_paired_power(sites, asked.difference, asked.sd, 0.05, &closed, &none) != OUTCOME_OK)
        closed = unknown_real();
    if (trial_paired_half_width(sites, asked.sd, 0.95, &half, &none) != OUTCOME_OK)
        half = unknown_real();
    if (trial_paired_n(asked.difference, asked.sd, 0.05, wanted, &need, &none) != OUTCOME_OK)
        need = unknown_real();
    note_answer(
        out,
        "With %.0f sites, a true difference of %.3g %s would be found in %.0f %% of such programmes; the interval would reach ±%.2g "
        "%s. %s",
        sites, asked.scale * asked.difference, asked.unit, 100 * found.power, asked.scale * found.half_width, asked.unit,
        is_known(need) ? arena_print(arena, "For %.0f %% it takes %.0f sites.", 100 * wanted, need) : "");
    json_t *section = note_section(out, "What such a programme would find"), *table = section_table(section);
    table_column(table, "what", "what", "", -1);
    table_column(table, "value", "value", "", 3);
    table_column(table, "unit", "unit", "", -1);
    line_add(table, "power, simulated: paired test of plot values over sites", found.power, "share of programmes");
    line_add(table, "its simulation error (standard error)", found.power_se, "share of programmes");
    line_add(table, "power by closed form: noncentral t over the spread of differences", closed, "share of programmes");
    line_add(table, "spread of the differences between sites (standard deviation)", asked.scale * asked.sd, asked.unit);
    line_add(table, "mean half-width of the 95 % interval, simulated", asked.scale * found.half_width, asked.unit);
    line_add(table, "half-width by closed form", asked.scale * half, asked.unit);
    line_add(table, "sites needed by closed form", need, "sites");
    line_add(table, "smallest p that a test by re-drawing the lots can reach", trial_least_p_pairs(sites), "");
    line_add(table, "what counting plants as independent would claim as power", found.naive_power, "share of programmes");
    line_add(table, "how often that count cries wolf with no difference (should be 0.05)", found.naive_error, "share of programmes");
    curve_figure(section, &asked, &found, arena);
    json_t *data = note_data(out);
    json_object_set_new(data, "power", json_real(found.power));
    json_object_set_new(data, "power_se", json_real(found.power_se));
    json_object_set_new(data, "closed_form", is_known(closed) ? json_real(closed) : json_null());
    json_object_set_new(data, "half_width", json_real(found.half_width));
    json_object_set_new(data, "sites_needed", is_known(need) ? json_real(need) : json_null());
    json_object_set_new(data, "least_p", json_real(trial_least_p_pairs(sites)));
    json_object_set_new(data, "naive_error", json_real(found.naive_error));
    if (trial_least_p_pairs(sites) > 0.05)
        note_unknown(
            out, "With %.0f pairs a test by re-drawing the lots can never reach p below 0.05: show the differences and their range only.",
            sites);
    if (asked.measure == NULL)
        note_unknown(
            out, "The likeness of plants within a plot (%.2f) is a planning assumption: published values for such plantings are scarce.",
            asked.survival.icc);
    else
        note_unknown(out, "Spreads within and between plots are planning assumptions until your own survey gives them.");
    if (asked.measure != NULL && text_same(asked.measure->name, "carbon"))
        note_unknown(out, "A change of soil carbon within five years is usually too small to be seen, whatever the number of cores.");
    note_source(out,
                "Noncentral t: Johnson, Kotz & Balakrishnan 1995, vol. 2, ch. 31. Simulation: plots beta-binomial (survival), normal or "
                "Poisson with lognormal plots; judged by a paired t test; %zu programmes, seed %llu.",
                asked.measure == NULL ? asked.survival.runs : asked.measured.runs,
                (unsigned long long)(asked.measure == NULL ? asked.survival.seed : asked.measured.seed));
    return OUTCOME_OK;
}

/* How many plants of one plot, and how many sites. */
static enum outcome survey_size(const json_t *in, json_t *out, struct arena *arena, struct failure *why)
{
    double width = option_number(in, "half_width", unknown_real()), difference = option_number(in, "difference", unknown_real());
    double sd = option_number(in, "sd_sites", 12), share = option_number(in, "share", 80), wanted = option_number(in, "wanted", 80) / 100;
    double exact = 0, n = unknown_real(), within = unknown_real(), found = unknown_real();
    int64_t population = option_integer(in, "population", INT_UNKNOWN);
    enum outcome outcome = OUTCOME_OK;
    const char *plants = "", *sites = "";
    if (is_known(width)) {
        outcome = trial_sample_size(share / 100, width / 100, 0.95, population == INT_UNKNOWN ? 0 : (double)population, &exact, &n, why);
        plants = arena_print(arena, "%.0f plants%s tell the survival of that plot within ± %g points, where it is %g %%. ", n,
                             population == INT_UNKNOWN ? "" : arena_print(arena, " of %lld", (long long)population), width, share);
    }
    if (outcome == OUTCOME_OK && is_known(difference)) {
        outcome = trial_paired_half_width_n(sd, difference, 0.95, &within, why);
        if (outcome == OUTCOME_OK)
            outcome = trial_paired_n(difference, sd, 0.05, wanted, &found, why);
        sites = arena_print(
            arena,
            "A difference of %g points between plots takes %.0f sites for an interval of ± %g points, and %.0f to be found with %.0f %% "
            "power, where differences spread by %g points over sites.",
            difference, within, difference, found, 100 * wanted, sd);
    }
    if (outcome != OUTCOME_OK)
        return outcome;
    note_answer(out, "%s%s", plants, sites);
    json_t *table = section_table(note_section(out, "How many"));
    table_column(table, "what", "what", "", -1);
    table_column(table, "value", "number", "", -1);
    table_column(table, "unit", "unit", "", -1);
    if (is_known(n))
        line_add(table, "to know the survival of one plot: simple random sample", n, "plants");
    if (is_known(within)) {
        line_add(table, "for an interval no wider than the difference", within, "sites");
        line_add(table, "to find the difference", found, "sites");
    }
    json_object_set_new(note_data(out), "plants", is_known(n) ? json_real(n) : json_null());
    json_object_set_new(note_data(out), "sites_interval", is_known(within) ? json_real(within) : json_null());
    json_object_set_new(note_data(out), "sites_power", is_known(found) ? json_real(found) : json_null());
    if (is_known(n) && population != INT_UNKNOWN && population <= 400)
        note_unknown(out,
                     "Up to 300–400 plants two people see every plant in 2–3 hours (common practice, no source): no sample is needed.");
    note_unknown(out,
                 "More plants on one plot say more about that plot only. Between plots the site is the replicate: more plants never make "
                 "up for few sites.");
    note_source(out, "Cochran 1977, eq. 4.1–4.2 with finite population; Student's t and the noncentral t for sites.");
    return OUTCOME_OK;
}

static enum outcome power_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    json_t *out = note_new();
    bool survey = json_object_get(in, "half_width") != NULL || json_object_get(in, "difference") != NULL;
    enum outcome outcome = survey ? survey_size(in, out, &arena, why) : programme_power(context, in, out, &arena, why);
    if (outcome == OUTCOME_OK)
        *note = out;
    else
        json_decref(out);
    arena_clear(&arena);
    return outcome;
}

const struct job job_power = {
    .name = "power",
    .summary = "what a programme of so many sites and plants could find, and how many it takes",
    .about = "Tells how often a true difference of survival, height, soil carbon or number of kinds would be found, by closed form and by "
             "simulation with plots and sites as clusters, how wide the interval would be, and what counting plants as independent would "
             "wrongly claim. With half_width it says how many plants of a plot to look at; with difference how many sites.",
    .example = "spinney power --sites 6 --share-a 80 --share-b 65",
    .access = JOB_FREE,
    .options = power_options,
    .n_options = sizeof power_options / sizeof *power_options,
    .run = power_run,
};
