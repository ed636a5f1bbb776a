/* SPDX-License-Identifier: GPL-3.0-or-later
 * lives: survival over time of groups of plots, by plants and by plots. */
#include "draw/draw.h"
#include "evidence/curves.h"
#include "work/behind.h"
#include "work/jobs.h"
#include "work/site_map.h"
#include <math.h>
#include <stdlib.h>

static const struct option lives_options[] = {
    {"site", OPTION_TEXT, false, "CODE", "only plots of this site"},
    {"by", OPTION_TEXT, false, "WORD", "regime, site, cohort or plot (regime if not given)"},
    {"not_found_dead", OPTION_NUMBER, false, "CHANCE", "a second view: plants not found were dead with this chance, 0 to 1"},
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
                           : text_same(by, "cohort")
                               ? (lives->plot->cohort_year != INT_UNKNOWN
                                      ? arena_print(arena, "planted in season %lld", (long long)lives->plot->cohort_year)
                                  : lives->planted_on != DATE_UNKNOWN
                                      ? arena_print(arena, "planted in season %.4s", day_words(lives->planted_on + 92, arena))
                                      : "season not known")
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

/* A curve at a time: 100 % before its first step; unknown past its end where something is still open. */
static double step_at(const struct survival_curve *curve, const double *values, double t)
{
    double value = 1;
    for (size_t i = 0; i < curve->n && curve->time[i] <= t + 1e-12; i++)
        value = values[i];
    return 100 * value;
}

static int up(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Kaplan–Meier of a group with its band, and the bounds of what was not found, on the times of all three. */
static struct figure_line km_line(const struct group_curve *g, struct arena *arena)
{
    size_t room = g->km.n + g->worst.n + g->best.n + 1, n = 0;
    double *column[6];
    for (int k = 0; k < 6; k++)
        column[k] = arena_array(arena, room, sizeof(double));
    double *x = column[0];
    int64_t *risk = arena_array(arena, room, sizeof *risk);
    const struct survival_curve *of[] = {&g->km, &g->worst, &g->best};
    x[n++] = 0;
    for (int k = 0; k < 3; k++)
        for (size_t i = 0; i < of[k]->n; i++)
            x[n++] = of[k]->time[i];
    qsort(x, n, sizeof *x, up);
    size_t m = 0;
    for (size_t i = 0; i < n; i++)
        if (m == 0 || x[i] > x[m - 1] + 1e-9)
            x[m++] = x[i];
    for (size_t i = 0; i < m; i++) {
        column[1][i] = step_at(&g->km, g->km.survival, x[i]);
        column[2][i] = step_at(&g->km, g->km.low, x[i]);
        column[3][i] = step_at(&g->km, g->km.high, x[i]);
        if (g->open > 0) {
            column[4][i] = step_at(&g->worst, g->worst.survival, x[i]);
            column[5][i] = step_at(&g->best, g->best.survival, x[i]);
        }
        double under = 0;
        for (size_t k = 0; k < g->km.n && g->km.time[k] <= x[i] + 1e-9; k++)
            under += g->km.deaths[k] + g->km.censored[k];
        risk[i] = (int64_t)llround(g->km.start_n - under);
    }
    return (struct figure_line){.name = g->name,
                                .x = x,
                                .y = column[1],
                                .low = column[2],
                                .high = column[3],
                                .n = m,
                                .least = g->open > 0 ? column[4] : NULL,
                                .most = g->open > 0 ? column[5] : NULL};
}

static void curves_figure(json_t *section, const struct group_curves *curves, struct arena *arena)
{
    struct figure_line *lines = arena_array(arena, curves->n, sizeof *lines);
    for (size_t g = 0; g < curves->n; g++)
        lines[g] = km_line(&curves->groups[g], arena);
    struct figure_lines figure = {
        .head =
            {.title = "Survival over time",
             .x_title = "years after planting",
             .y_title = "alive [%]",
             .foot =
                 "Kaplan–Meier, a death dated to the round that found it; 95 % log-log bands, plants as if independent. Thin lines: all "
                 "not found dead, or alive."},
        .lines = lines,
        .n_lines = curves->n,
        .steps = true,
        .y_least = 0,
        .y_most = 100,
        .from_zero = true};
    section_drawing(section, figure_lines(&figure));
}

/* Between visits: a level piece where the curve is known, a slanted one where deaths lie somewhere between two looks. */
static void intervals_figure(json_t *section, const struct group_curves *curves, struct arena *arena)
{
    struct figure_line *lines = arena_array(arena, curves->n, sizeof *lines);
    for (size_t g = 0; g < curves->n; g++) {
        const struct turnbull *t = &curves->groups[g].interval;
        double *x = arena_array(arena, 2 * t->n + 2, sizeof *x), *y = arena_array(arena, 2 * t->n + 2, sizeof *y), last = 100;
        size_t n = 0;
        y[n] = last;
        x[n++] = 0;
        for (size_t i = 0; i < t->n; i++) {
            x[n] = t->left[i];
            y[n++] = last;
            if (!isfinite(t->right[i]))
                break;
            last = 100 * t->survival[i];
            x[n] = t->right[i];
            y[n++] = last;
        }
        if (x[n - 1] < curves->groups[g].end) {
            x[n] = curves->groups[g].end;
            y[n++] = last;
        }
        lines[g] = (struct figure_line){.name = curves->groups[g].name, .x = x, .y = y, .n = n};
    }
    struct figure_lines figure = {
        .head = {.title = "As far as the visits tell",
                 .x_title = "years after planting",
                 .y_title = "alive [%]",
                 .foot =
                     "Non-parametric estimate for deaths between two looks (Turnbull). Inside a slanted piece the curve is not determined: "
                     "anything from its upper to its lower end fits equally well."},
        .lines = lines,
        .n_lines = curves->n,
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
                                         "plots drawn again, low",
                                         "plots drawn again, high",
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
        double lowest = 0; /* what never died as far as anybody saw */
        size_t end = one->km.n;
        if (end == 0)
            continue;
        for (size_t i = 0; i < one->interval.n; i++)
            lowest += isfinite(one->interval.right[i]) ? 0 : one->interval.mass[i];
        json_t *row = table_row(table);
        row_text(row, one->name);
        row_integer(row, (int64_t)one->plots);
        row_integer(row, (int64_t)one->plants);
        row_integer(row, (int64_t)one->deaths);
        row_number(row, 100 * one->km.survival[end - 1]);
        row_number(row, 100 * one->km.low[end - 1]);
        row_number(row, 100 * one->km.high[end - 1]);
        row_number(row, 100 * one->by_plot.low);
        row_number(row, 100 * one->by_plot.high);
        row_number(row, 100 * lowest);
        row_number(row, 100 * one->share.value);
        row_number(row, 100 * one->annual.value);
        row_number(row, 100 * one->annual.low);
        row_number(row, 100 * one->annual.high);
        row_number(row, 100 * one->per_year.value);
        row_number(row, 100 * one->per_year.low);
        row_number(row, 100 * one->per_year.high);
        json_t *data = json_pack("{s:s, s:I, s:I, s:I, s:I}", "group", one->name, "plots", (json_int_t)one->plots, "plants",
                                 (json_int_t)one->plants, "deaths", (json_int_t)one->deaths, "not_found", (json_int_t)one->open);
        const struct {
            const char *key;
            double value;
        } numbers[] = {{"km", one->km.survival[end - 1]},   {"km_low", one->km.low[end - 1]},
                       {"km_high", one->km.high[end - 1]},  {"turnbull", lowest},
                       {"gap", one->interval.gap},          {"by_plot_low", one->by_plot.low},
                       {"by_plot_high", one->by_plot.high}, {"share", one->share.value},
                       {"annual", one->annual.value},       {"annual_low", one->annual.low},
                       {"annual_high", one->annual.high},   {"per_year", one->per_year.value}};
        for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++)
            json_object_set_new(data, numbers[i].key, number_or_null(numbers[i].value));
        json_array_append_new(list, data);
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
    if (curves->has_sites) {
        row = table_row(table);
        row_text(row, "log-rank, sites as strata");
        row_number(row, curves->logrank_sites.test.statistic);
        row_number(row, curves->logrank_sites.test.p);
        row_text(row, "the plant, compared within sites only");
        row = table_row(table);
        row_text(row, "interval-censored log-rank (Sun), sites as strata");
        row_number(row, curves->interval_sites.test.statistic);
        row_number(row, curves->interval_sites.test.p);
        row_text(row, "the plant, compared within sites only");
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
        row_text(row, curves->has_sites ? "shuffling labels over the plots of each site, survival per year"
                                        : "shuffling labels over plots, survival per year");
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

/* Last value of a curve, per cent. */
static double end_of(const struct survival_curve *curve, const double *values)
{
    return curve->n == 0 ? unknown_real() : 100 * values[curve->n - 1];
}

static void open_table(json_t *out, const struct group_curves *curves, double chance)
{
    size_t open = 0;
    for (size_t g = 0; g < curves->n; g++)
        open += curves->groups[g].open;
    if (open == 0)
        return;
    json_t *section = note_section(out, "Plants that were not found"), *table = section_table(section);
    section_text(section,
                 "The curve above takes a plant out of the count when it was last seen, which presumes that lost labels say nothing of "
                 "life or death. The bounds presume nothing.%s",
                 is_known(chance) ? "" : " A chance of your own can be tried with not_found_dead.");
    const char *stated = "at the stated chance";
    const char *const titles[] = {"group", "not found", "all dead", "all alive", stated, "low", "high"};
    for (size_t i = 0; i < (is_known(chance) ? 7 : 4); i++)
        table_column(table, titles[i], titles[i], i >= 2 ? "%" : "", i >= 2 ? 1 : -1);
    for (size_t g = 0; g < curves->n; g++) {
        const struct group_curve *one = &curves->groups[g];
        if (one->open == 0)
            continue;
        json_t *row = table_row(table);
        row_text(row, one->name);
        row_integer(row, (int64_t)one->open);
        row_number(row, end_of(&one->worst, one->worst.survival));
        row_number(row, end_of(&one->best, one->best.survival));
        if (is_known(chance)) {
            row_number(row, end_of(&one->stated, one->stated.survival));
            row_number(row, end_of(&one->stated, one->stated.low));
            row_number(row, end_of(&one->stated, one->stated.high));
        }
    }
}

static void causes_table(json_t *out, const struct group_curves *curves)
{
    size_t deaths = 0, none = 0;
    for (size_t g = 0; g < curves->n; g++) {
        deaths += curves->groups[g].deaths;
        none += curves->groups[g].died_of[DEATH_NOT_RECORDED];
    }
    if (deaths == 0)
        return;
    json_t *section = note_section(out, "What they died of"), *table = section_table(section), *list = json_array();
    section_text(section,
                 "Causes compete: a plant that was mown cannot die of drought. Shares are of all plants by the last look "
                 "(Aalen–Johansen); with survival they add to 100 %%. %zu of %zu deaths have no cause recorded.",
                 none, deaths);
    static const char *const titles[] = {"group", "cause", "deaths", "dead of it", "low", "high"};
    for (size_t i = 0; i < sizeof titles / sizeof *titles; i++)
        table_column(table, titles[i], titles[i], i >= 3 ? "%" : "", i >= 3 ? 1 : -1);
    for (size_t g = 0; g < curves->n; g++) {
        const struct group_curve *one = &curves->groups[g];
        const struct incidence_curve *c = &one->causes;
        for (size_t k = 0; c->n > 0 && k < c->causes; k++) {
            size_t at = (c->n - 1) * c->causes + k;
            json_t *row = table_row(table);
            row_text(row, one->name);
            row_text(row, death_cause_words(one->cause_of[k]));
            row_integer(row, (int64_t)one->died_of[one->cause_of[k]]);
            row_number(row, 100 * c->incidence[at]);
            row_number(row, 100 * c->low[at]);
            row_number(row, 100 * c->high[at]);
            json_array_append_new(list, json_pack("{s:s, s:s, s:I, s:o}", "group", one->name, "cause", death_cause_words(one->cause_of[k]),
                                                  "deaths", (json_int_t)one->died_of[one->cause_of[k]], "share",
                                                  number_or_null(c->incidence[at])));
        }
    }
    json_object_set_new(note_data(out), "causes", list);
}

static enum outcome later_table(const struct evidence *evidence, const struct site *site, json_t *out, struct arena *arena,
                                struct failure *why)
{
    struct later_plants *rows = NULL;
    size_t n = 0;
    enum outcome outcome = evidence_later(evidence->lives, evidence->facts.n_plots, 0.95, arena, &rows, &n, why);
    json_t *table = NULL;
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        char shown[160];
        if (site != NULL && rows[i].lives->site->id != site->id)
            continue;
        if (table == NULL) {
            static const char *const titles[] = {"plot", "what", "plants", "alive", "dead", "not found", "survival"};
            json_t *section = note_section(out, "Plants that came later");
            section_text(section, "Replacements and natural arrivals are in none of the curves: a replacement is not a survivor.");
            table = section_table(section);
            for (size_t k = 0; k < sizeof titles / sizeof *titles; k++)
                table_column(table, titles[k], titles[k], "", -1);
        }
        json_t *row = table_row(table);
        const int64_t counts[] = {rows[i].plants, rows[i].alive, rows[i].dead, rows[i].open};
        row_print(row, "%s/%s", rows[i].lives->site->code, rows[i].lives->plot->code);
        row_text(row, rows[i].origin == ORIGIN_REPLACEMENT ? "replacements" : "natural arrivals");
        for (size_t k = 0; k < 4; k++)
            row_integer(row, counts[k]);
        value_write_share((struct draw_value){100 * rows[i].survival.value, 100 * rows[i].survival.low, 100 * rows[i].survival.high},
                          rows[i].alive, rows[i].alive + rows[i].dead, 10, shown);
        row_text(row, rows[i].alive + rows[i].dead == 0 ? NULL : shown);
    }
    return outcome;
}

/* The rows behind: of a group's line its plots' records, of the rest those of all groups. */
static void lives_behind(json_t *out, const struct evidence *evidence, const struct grouping *grouping, struct arena *arena)
{
    const struct behind behind = {out, evidence, arena};
    size_t *plots = arena_array(arena, evidence->facts.n_plots, sizeof *plots), n = 0;
    const json_t *sections = json_object_get(out, "sections");
    for (size_t g = 0; g < grouping->n; g++) {
        n = 0;
        for (size_t i = 0; i < evidence->facts.n_plots; i++)
            if (grouping->group[i] == g)
                plots[n++] = i;
        for (size_t s = 0; s < json_array_size(sections); s++)
            table_behind(json_object_get(json_array_get(sections, s), "table"), grouping->names[g], behind_plots(&behind, plots, n, NULL));
    }
    n = 0;
    for (size_t i = 0; i < evidence->facts.n_plots; i++)
        if (grouping->group[i] != SIZE_MAX)
            plots[n++] = i;
    note_behind(out, behind_plots(&behind, plots, n, NULL));
}

static enum outcome lives_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct evidence evidence = {0};
    struct site site;
    struct grouping grouping = {.n = 0};
    struct group_curves curves;
    const char *by = option_text(in, "by", "regime");
    bool one = option_text(in, "site", NULL) != NULL;
    enum outcome outcome = OUTCOME_OK;
    if (!text_same(by, "regime") && !text_same(by, "site") && !text_same(by, "cohort") && !text_same(by, "plot"))
        outcome = fail(why, OUTCOME_USAGE, "by: \"%.60s\" is none of regime, site, cohort and plot.", by);
    if (outcome == OUTCOME_OK && one)
        outcome = load_site(context->store, option_text(in, "site", NULL), &arena, &site, why);
    if (outcome == OUTCOME_OK)
        outcome = evidence_load_site(context->store, one ? site.id : 0, &arena, &evidence, why);
    if (outcome == OUTCOME_OK)
        outcome = plots_group(&evidence, one ? &site : NULL, by, &arena, &grouping, why);
    struct curves_wish wish = {.group = grouping.group,
                               .names = grouping.names,
                               .n_groups = grouping.n,
                               .level = 0.95,
                               .not_found_dead = option_number(in, "not_found_dead", unknown_real()),
                               .seed = outcome == OUTCOME_OK ? (uint64_t)evidence.programme.seed : 1};
    if (outcome == OUTCOME_OK)
        outcome = evidence_curves(evidence.lives, evidence.facts.n_plots, &wish, &arena, &curves, why);
    if (outcome == OUTCOME_OK) {
        json_t *out = note_new();
        double gap = 0;
        note_answer(out, "%s", curves.sentence);
        curves_figure(note_section(out, "Over time"), &curves, &arena);
        curves_tables(out, &curves);
        json_t *between = note_section(out, "Between two looks");
        for (size_t g = 0; g < curves.n; g++)
            gap = fmax(gap, curves.groups[g].interval.gap);
        section_text(between,
                     "A death is only known to lie between two looks. The estimate is proven best: no other curve has a log-likelihood "
                     "higher by more than %.1g (dual condition, checked at every interval).",
                     gap);
        intervals_figure(between, &curves, &arena);
        open_table(out, &curves, wish.not_found_dead);
        causes_table(out, &curves);
        outcome = later_table(&evidence, one ? &site : NULL, out, &arena, why);
        section_text(note_section(out, "How far this carries"), "[%s] %s", curves.rung, curves.sentence);
        note_unknown(out, "%s", curves.cannot);
        if (text_same(by, "cohort"))
            note_unknown(out, "Seasons of planting differ in weather and in ground at once: that a season did worse does not say why.");
        note_source(
            out, "Kaplan & Meier 1958; Turnbull 1976, JRSS-B 38:290, optimality proven by the dual gap; Sun 1996, Stat Med 15:1387; Aalen "
                 "& Johansen 1978; intervals with plots drawn again: percentile bootstrap of whole plots (Efron & Tibshirani 1993).");
        lives_behind(out, &evidence, &grouping, &arena);
        *note = out;
        if (outcome != OUTCOME_OK) {
            json_decref(out);
            *note = NULL;
        }
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
