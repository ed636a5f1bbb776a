/* SPDX-License-Identifier: GPL-3.0-or-later
 * lives: survival over time of groups of plots, by plants and by plots. */
#include "draw/draw.h"
#include "work/evidence_load.h"
#include "work/jobs.h"
#include "work/site_map.h"
#include <math.h>

static const struct option lives_options[] = {
    {"site", OPTION_TEXT, false, "CODE", "only plots of this site"},
    {"by", OPTION_TEXT, false, "WORD", "regime, site or plot (regime if not given)"},
};
static const char *const lives_bare[] = {"site", NULL};

enum { MOST_GROUPS = 40 };

struct grouping {
    size_t *group;
    const char *names[MOST_GROUPS];
    size_t n;
};

static enum outcome plots_group(const struct evidence *evidence, const struct site *site, const char *by, struct arena *arena,
                                struct grouping *out, struct failure *why)
{
    out->group = arena_array(arena, evidence->facts.n_plots, sizeof *out->group);
    for (size_t i = 0; i < evidence->facts.n_plots; i++) {
        const struct plot_lives *lives = &evidence->lives[i];
        out->group[i] = SIZE_MAX;
        if ((site != NULL && lives->site->id != site->id) || lives->n_censuses < 2)
            continue;
        const char *name = text_same(by, "regime") ? word_plain(WORDS_REGIME, (int)lives->plot->regime, arena)
                           : text_same(by, "site") ? lives->site->name
                                                   : evidence_plot_name(evidence, i, arena);
        size_t at = 0;
        while (at < out->n && !text_same(out->names[at], name))
            at++;
        if (at == MOST_GROUPS) {
            fail(why, OUTCOME_DATA, "There are more than %d groups.", MOST_GROUPS);
            return failure_remedy(why, "Take one site, or group by regime.");
        }
        if (at == out->n)
            out->names[out->n++] = name;
        out->group[i] = at;
    }
    return OUTCOME_OK;
}

static void curves_figure(json_t *section, const struct group_curves *curves, struct arena *arena)
{
    struct figure_line *lines = arena_array(arena, curves->n, sizeof *lines);
    for (size_t g = 0; g < curves->n; g++) {
        const struct survival_curve *km = &curves->groups[g].km;
        double *x = arena_array(arena, km->n + 1, sizeof *x), *y = arena_array(arena, km->n + 1, sizeof *y),
               *low = arena_array(arena, km->n + 1, sizeof *low), *high = arena_array(arena, km->n + 1, sizeof *high);
        y[0] = low[0] = high[0] = 100;
        for (size_t i = 0; i < km->n; i++) {
            x[i + 1] = km->time[i];
            y[i + 1] = 100 * km->survival[i];
            low[i + 1] = 100 * km->low[i];
            high[i + 1] = 100 * km->high[i];
        }
        lines[g] = (struct figure_line){.name = curves->groups[g].name, .x = x, .y = y, .low = low, .high = high, .n = km->n + 1};
    }
    struct figure_lines figure = {
        .head = {.title = "Survival over time",
                 .x_title = "years after planting",
                 .y_title = "alive [%]",
                 .foot = "Kaplan–Meier, a death dated to the visit that found it; 95 % log-log bands, plants as if independent."},
        .lines = lines,
        .n_lines = curves->n,
        .steps = true,
        .y_least = 0,
        .y_most = 100,
        .from_zero = true};
    section_drawing(section, figure_lines(&figure));
}

static json_t *number_or_null(double x)
{
    return isfinite(x) ? json_real(x) : json_null();
}

static void curves_tables(json_t *out, const struct group_curves *curves)
{
    json_t *table = section_table(note_section(out, "Groups")), *list = json_array();
    static const char *const titles[] = {"group",
                                         "plots",
                                         "plants",
                                         "deaths",
                                         "alive at the end, %",
                                         "low",
                                         "high",
                                         "between two visits: alive at the end, %",
                                         "alive at the end, mean of plots, %",
                                         "survival per year, all plants, %",
                                         "low",
                                         "high",
                                         "survival per year, mean of plots, %",
                                         "low",
                                         "high"};
    for (size_t i = 0; i < sizeof titles / sizeof *titles; i++)
        table_column(table, titles[i], titles[i], "", i >= 4 ? 1 : -1);
    for (size_t g = 0; g < curves->n; g++) {
        const struct group_curve *one = &curves->groups[g];
        double lowest = unknown_real(), highest = unknown_real();
        size_t end = one->km.n;
        if (end == 0)
            continue;
        turnbull_at(&one->interval, one->km.time[end - 1], &lowest, &highest);
        json_t *row = table_row(table);
        row_text(row, one->name);
        row_integer(row, (int64_t)one->plots);
        row_integer(row, (int64_t)one->plants);
        row_integer(row, (int64_t)one->deaths);
        row_number(row, 100 * one->km.survival[end - 1]);
        row_number(row, 100 * one->km.low[end - 1]);
        row_number(row, 100 * one->km.high[end - 1]);
        row_number(row, 100 * lowest);
        row_number(row, 100 * one->share.value);
        row_number(row, 100 * one->annual.value);
        row_number(row, 100 * one->annual.low);
        row_number(row, 100 * one->annual.high);
        row_number(row, 100 * one->per_year.value);
        row_number(row, 100 * one->per_year.low);
        row_number(row, 100 * one->per_year.high);
        json_array_append_new(list, json_pack("{s:s, s:I, s:I, s:I, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "group", one->name,
                                              "plots", (json_int_t)one->plots, "plants", (json_int_t)one->plants, "deaths",
                                              (json_int_t)one->deaths, "km", number_or_null(one->km.survival[end - 1]), "km_low",
                                              number_or_null(one->km.low[end - 1]), "km_high", number_or_null(one->km.high[end - 1]),
                                              "turnbull", number_or_null(lowest), "per_year", number_or_null(one->per_year.value), "share",
                                              number_or_null(one->share.value), "annual", number_or_null(one->annual.value), "annual_low",
                                              number_or_null(one->annual.low), "annual_high", number_or_null(one->annual.high)));
    }
    json_object_set_new(note_data(out), "groups", list);
    table = section_table(note_section(out, "Tests"));
    table_column(table, "test", "test", "", -1);
    table_column(table, "statistic", "statistic", "", 3);
    table_column(table, "p", "p", "", 4);
    table_column(table, "unit", "what counts as one", "", -1);
    json_t *row = NULL;
    if (is_known(curves->logrank.test.p)) {
        row = table_row(table);
        row_text(row, "log-rank, deaths dated to the visit that found them");
        row_number(row, curves->logrank.test.statistic);
        row_number(row, curves->logrank.test.p);
        row_text(row, "the plant: too sure, since plants of one plot are alike");
    }
    if (curves->has_interval_test) {
        row = table_row(table);
        row_text(row, "interval-censored log-rank (Sun)");
        row_number(row, curves->interval_test.test.statistic);
        row_number(row, curves->interval_test.test.p);
        row_text(row, "the plant: too sure, since plants of one plot are alike");
    }
    if (is_known(curves->welch.p)) {
        row = table_row(table);
        row_text(row, "Welch's t, share alive at the end");
        row_number(row, curves->welch.statistic);
        row_number(row, curves->welch.p);
        row_text(row, "the plot");
    }
    if (curves->has_by_plot) {
        row = table_row(table);
        row_text(row, "shuffling labels over plots, survival per year");
        row_number(row, curves->by_plot.statistic);
        row_number(row, curves->by_plot.p);
        row_text(row, "the plot");
    }
    json_t *data = note_data(out);
    json_object_set_new(data, "logrank", number_or_null(curves->logrank.test.statistic));
    json_object_set_new(data, "logrank_p", number_or_null(curves->logrank.test.p));
    json_object_set_new(data, "rung", json_string(curves->rung));
    json_object_set_new(data, "sentence", json_string(curves->sentence));
    json_object_set_new(data, "cannot", json_string(curves->cannot));
    json_object_set_new(data, "difference", number_or_null(curves->difference.value));
    json_object_set_new(data, "difference_low", number_or_null(curves->difference.low));
    json_object_set_new(data, "difference_high", number_or_null(curves->difference.high));
    json_object_set_new(data, "welch_t", number_or_null(curves->welch.statistic));
    json_object_set_new(data, "welch_df", number_or_null(curves->welch.df));
    json_object_set_new(data, "welch_p", number_or_null(curves->welch.p));
    json_object_set_new(data, "by_plot_f", curves->has_by_plot ? number_or_null(curves->by_plot.statistic) : json_null());
    json_object_set_new(data, "by_plot_p", curves->has_by_plot ? number_or_null(curves->by_plot.p) : json_null());
}

static enum outcome lives_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct evidence evidence;
    struct site site;
    struct grouping grouping = {.n = 0};
    struct group_curves curves;
    const char *by = option_text(in, "by", "regime");
    bool one = option_text(in, "site", NULL) != NULL;
    enum outcome outcome = OUTCOME_OK;
    if (!text_same(by, "regime") && !text_same(by, "site") && !text_same(by, "plot"))
        outcome = fail(why, OUTCOME_USAGE, "by: \"%.60s\" is none of regime, site and plot.", by);
    if (outcome == OUTCOME_OK)
        outcome = evidence_load(context->store, &arena, &evidence, why);
    if (outcome == OUTCOME_OK && one)
        outcome = load_site(context->store, option_text(in, "site", NULL), &arena, &site, why);
    if (outcome == OUTCOME_OK)
        outcome = plots_group(&evidence, one ? &site : NULL, by, &arena, &grouping, why);
    if (outcome == OUTCOME_OK)
        outcome =
            evidence_curves(evidence.lives, evidence.facts.n_plots, grouping.group, grouping.names, grouping.n, 0.95, &arena, &curves, why);
    if (outcome == OUTCOME_OK) {
        json_t *out = note_new();
        note_answer(out, "%s", curves.sentence);
        curves_figure(note_section(out, "Over time"), &curves, &arena);
        curves_tables(out, &curves);
        section_text(note_section(out, "How far this carries"), "[%s] %s", curves.rung, curves.sentence);
        note_unknown(out, "%s", curves.cannot);
        note_source(out,
                    "Kaplan & Meier 1958; Turnbull 1976, JRSS-B 38:290, optimality proven by the dual gap; Sun 1996, Stat Med 15:1387.");
        *note = out;
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_lives = {
    .name = "lives",
    .summary = "survival over time, by plants and honestly by plots",
    .about = "Survival curves of groups of plots: with deaths dated to the visit that found them, and with deaths known only between two "
             "visits. Tests that "
             "count plants as independent stand beside the one that shuffles over plots.",
    .example = "spinney lives wood.gpkg --by regime",
    .access = JOB_LOOKS,
    .options = lives_options,
    .n_options = sizeof lives_options / sizeof *lives_options,
    .bare = lives_bare,
    .run = lives_run,
};
