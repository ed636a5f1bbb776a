/* SPDX-License-Identifier: GPL-3.0-or-later
 * balance: the root zone of plots through a season. water: which plots need water on a day, litres and bowser runs. */
#include "draw/draw.h"
#include "work/jobs.h"
#include "work/site_map.h"
#include "work/water_load.h"
#include <math.h>
#include <string.h>

enum { MOST_LINES = 12 };

struct water_plots {
    struct programme programme;
    struct site site;
    struct site_weather weather;
    struct plot_water *plots;
    size_t n;
    struct care_event *care;
    size_t n_care;
};

static int32_t january_of(int32_t day)
{
    int year = 0, month = 0, of_month = 0;
    date_parts(day, &year, &month, &of_month);
    return date_make(year, 1, 1);
}

/* Planted plots of a site with weather, soil and care on a day. */
static enum outcome plots_load(const struct job_context *context, const json_t *in, const char *site, int32_t from, int32_t on,
                               struct arena *arena, struct water_plots *out, struct failure *why)
{
    void *rows = NULL, *care = NULL;
    size_t n = 0;
    const char *only = option_text(in, "plot", NULL);
    *out = (struct water_plots){.n = 0};
    enum outcome outcome = load_programme(context->store, arena, &out->programme, why);
    if (outcome == OUTCOME_OK)
        outcome = load_site(context->store, site, arena, &out->site, why);
    if (outcome == OUTCOME_OK)
        outcome = site_weather_load(context->store, &out->programme, &out->site, option_number(in, "elevation_m", unknown_real()),
                                    option_flag(in, "by_agency"), from, on, arena, &out->weather, why);
    if (outcome == OUTCOME_OK)
        outcome = load_of(context->store, NOUN_PLOT, "site_id", out->site.id, arena, &rows, &n, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(context->store, NOUN_CARE_EVENT, arena, &care, &out->n_care, why);
    out->care = care;
    out->plots = arena_array(arena, n + 1, sizeof *out->plots);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        const struct plot *plot = &((const struct plot *)rows)[i];
        bool here = plot->planted_on != DATE_UNKNOWN && plot->planted_on <= on && (plot->ended_on == DATE_UNKNOWN || plot->ended_on > on);
        if (here && (only == NULL || text_same_nocase(only, plot->code)))
            outcome = plot_water_load(context->store, &out->site, plot, on, option_number(in, "root_depth_m", unknown_real()),
                                      option_number(in, "coefficient", unknown_real()), arena, &out->plots[out->n++], why);
    }
    if (outcome == OUTCOME_OK && out->n == 0) {
        fail(why, OUTCOME_DATA, "No plot of site %s was planted by then.", out->site.code);
        outcome = failure_remedy(why, "Take a later day, or enter the planting first.");
    }
    return outcome;
}

static json_t *number_or_null(double x)
{
    return is_known(x) ? json_real(x) : json_null();
}

static void weather_sources(json_t *out, const struct water_plots *all)
{
    note_source(out, "%s", all->weather.words);
    note_source(out, "Root-zone balance: FAO-56 (Allen et al. 1998), chapter 8, with bounds where rain is not known.");
    note_unknown(out,
                 "Rooting depth and coefficients of young plantings are common practice without a source; weeds draw water too and are "
                 "not counted. Feel the ground at 15 cm before you trust a figure.");
    note_unknown(out, "The root zone is taken to be full on 1 January.");
    if (!all->weather.elevation_known)
        note_unknown(out, "The height of %s above the sea is not known.", all->site.code);
}

/* ---- balance ---- */

static const struct option balance_options[] = {
    {"site", OPTION_TEXT, false, "CODE", "which site (the only one if not given)"},
    {"plot", OPTION_TEXT, false, "CODE", "only this plot of it, such as D1"},
    {"from", OPTION_DATE, false, "DAY", "first day (1 January of the year of the last if not given)"},
    {"to", OPTION_DATE, false, "DAY", "last day (today if not given)"},
    {"root_depth_m", OPTION_NUMBER, false, "M", "depth of roots instead of what is usual in that growing season"},
    {"coefficient", OPTION_NUMBER, false, "KC", "crop coefficient instead of what is usual"},
    {"elevation_m", OPTION_NUMBER, false, "M", "height above the sea (the site's if not given)"},
    {"by_agency", OPTION_FLAG, false, NULL, "the station's own evaporation column instead of FAO-56"},
};
static const char *const balance_bare[] = {"site", "plot", NULL};

static void season_row(json_t *table, json_t *list, const struct plot_water *plot, const struct plot_season *s, struct arena *arena)
{
    const struct balance_day *last = &s->days[s->n - 1], *driest = &s->driest[s->n - 1], *wettest = &s->wettest[s->n - 1];
    json_t *row = table_row(table);
    row_text(row, plot->name);
    row_print(row, "%.0f", s->rain_sum);
    row_print(row, "%.0f", s->eto_sum);
    row_print(row, "%.0f", s->given_sum);
    row_print(row, "%.0f", s->total_mm);
    if (is_known(s->worst_mm))
        row_print(row, "%.0f on %s", s->worst_mm, day_words(s->worst_on, arena));
    else
        row_text(row, NULL);
    row_integer(row, (int64_t)s->stressed);
    row_integer(row, (int64_t)s->unknown);
    if (is_known(last->depletion_mm))
        row_print(row, "%.0f", last->depletion_mm);
    else if (is_known(driest->depletion_mm) && is_known(wettest->depletion_mm))
        row_print(row, "between %.0f and %.0f", wettest->depletion_mm, driest->depletion_mm);
    else
        row_text(row, NULL);
    json_array_append_new(list, json_pack("{s:s, s:o, s:o, s:f, s:f, s:f, s:f, s:I, s:I, s:o, s:f, s:s}", "plot", plot->name,
                                          "depletion_mm", number_or_null(last->depletion_mm), "worst_mm", number_or_null(s->worst_mm),
                                          "total_mm", s->total_mm, "rain_mm", s->rain_sum, "eto_mm", s->eto_sum, "given_mm", s->given_sum,
                                          "days_stressed", (json_int_t)s->stressed, "days_unknown", (json_int_t)s->unknown, "driest_mm",
                                          number_or_null(driest->depletion_mm), "climatic_mm", s->climatic_mm, "climatic_on",
                                          day_words(s->climatic_on, arena)));
}

static struct figure_line season_line(const struct plot_water *plot, const struct plot_season *s, struct arena *arena)
{
    double *x = arena_array(arena, s->n, sizeof *x), *y = arena_array(arena, s->n, sizeof *y), *low = arena_array(arena, s->n, sizeof *low),
           *high = arena_array(arena, s->n, sizeof *high);
    for (size_t i = 0; i < s->n; i++) {
        x[i] = s->from + (double)i;
        y[i] = s->days[i].depletion_mm;
        low[i] = s->wettest[i].depletion_mm;
        high[i] = s->driest[i].depletion_mm;
    }
    return (struct figure_line){.name = plot->plot.code, .x = x, .y = y, .low = low, .high = high, .n = s->n};
}

static enum outcome balance_job_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    static const char *const titles[] = {"plot",
                                         "rain [mm]",
                                         "evapotranspiration [mm]",
                                         "watered [mm]",
                                         "root zone holds [mm]",
                                         "driest [mm short]",
                                         "days short of water",
                                         "days not known",
                                         "short on the last day [mm]"};
    struct arena arena = {0};
    struct water_plots all;
    int32_t to = option_date(in, "to", context->today), from = option_date(in, "from", january_of(to));
    struct plot_season worst = {.n = 0};
    const char *worst_name = NULL;
    json_t *out = note_new(), *list = json_array();
    enum outcome outcome = plots_load(context, in, option_text(in, "site", NULL), from, to, &arena, &all, why);
    struct figure_line *lines = arena_array(&arena, all.n + 1, sizeof *lines);
    size_t n_lines = 0;
    json_t *section = note_section(out, "The season, plot by plot"), *table = section_table(section);
    for (size_t i = 0; i < sizeof titles / sizeof *titles; i++)
        table_column(table, titles[i], titles[i], "", -1);
    json_object_set_new(note_data(out), "plots", list);
    for (size_t i = 0; outcome == OUTCOME_OK && i < all.n; i++) {
        struct plot_season s;
        if (all.plots[i].soil == NULL) {
            note_unknown(out, "%s: the soil is not known, so no balance can be made.", all.plots[i].name);
            continue;
        }
        outcome = plot_season_make(&all.weather, &all.plots[i], all.care, all.n_care, from, to, &arena, &s, why);
        if (outcome != OUTCOME_OK)
            break;
        season_row(table, list, &all.plots[i], &s, &arena);
        if (n_lines < MOST_LINES)
            lines[n_lines++] = season_line(&all.plots[i], &s, &arena);
        if (worst_name == NULL || s.stressed > worst.stressed) {
            worst = s;
            worst_name = all.plots[i].name;
        }
        note_unknown(out, "%s: %s Roots to %.0f cm, coefficient %.2f%s.", all.plots[i].name, all.plots[i].soil,
                     100 * all.plots[i].stand.root_depth_m, all.plots[i].stand.coefficient,
                     all.plots[i].stand.mulched ? ", mulched" : ", not mulched");
    }
    if (outcome == OUTCOME_OK && worst_name == NULL) {
        fail(why, OUTCOME_DATA, "The soil of no plot of %s is known.", all.site.code);
        outcome = failure_remedy(why, "Add a soil sample with sand, silt and clay, or a texture by feel.");
    }
    if (outcome == OUTCOME_OK) {
        struct figure_lines figure = {.head = {.title = arena_print(&arena, "Water missing from the root zone, %s", all.site.code),
                                               .x_title = "day",
                                               .y_title = "short of full [mm]",
                                               .foot = "Bands: between no rain and a soaking on days whose rain is not known."},
                                      .lines = lines,
                                      .n_lines = n_lines,
                                      .x_dates = true,
                                      .from_zero = true};
        section_drawing(note_section(out, "Through the season"), figure_lines(&figure));
        note_answer(
            out, "%s from %s to %s: %.0f mm of rain against %.0f mm of evapotranspiration; %s was short of water on %zu %s, driest %s.",
            all.site.code, day_words(worst.from, &arena), day_words(worst.from + (int32_t)worst.n - 1, &arena), worst.rain_sum,
            worst.eto_sum, worst_name, worst.stressed, worst.stressed == 1 ? "day" : "days",
            is_known(worst.worst_mm) ? arena_print(&arena, "on %s with %.0f mm missing", day_words(worst.worst_on, &arena), worst.worst_mm)
                                     : "not known");
        note_source(out, "Largest sum of evapotranspiration less rain: %.1f mm, on %s.", worst.climatic_mm,
                    day_words(worst.climatic_on, &arena));
        weather_sources(out, &all);
        *note = json_incref(out);
    }
    json_decref(out);
    arena_clear(&arena);
    return outcome;
}

const struct job job_balance = {
    .name = "balance",
    .summary = "the water of the root zone through a season",
    .about =
        "Follows the root zone of each plot day by day from rain, reference evapotranspiration, watering, texture, stones, rooting depth, "
        "mulch and cover. Days whose rain is not known lie between bounds; missing is not zero.",
    .example = "spinney balance wood.gpkg FB --to 2023-09-30",
    .access = JOB_LOOKS,
    .options = balance_options,
    .n_options = sizeof balance_options / sizeof *balance_options,
    .bare = balance_bare,
    .run = balance_job_run,
};

/* ---- water ---- */

static const struct option water_options[] = {
    {"sites", OPTION_TEXT, false, "CODE;CODE", "which sites (all with planted plots if not given)"},
    {"on", OPTION_DATE, false, "DAY", "for which day (today if not given)"},
    {"litres", OPTION_NUMBER, false, "L", "litres on each square metre, or each plant (15 if not given)"},
    {"by", OPTION_TEXT, false, "WORD", "area or plants (area if not given); the same rule for every plot that is compared"},
    {"bowser_l", OPTION_NUMBER, false, "L", "what the bowser holds (1000 if not given)"},
    {"elevation_m", OPTION_NUMBER, false, "M", "height above the sea (the sites' if not given)"},
    {"by_agency", OPTION_FLAG, false, NULL, "the station's own evaporation column instead of FAO-56"},
};
static const char *const water_bare[] = {"sites", NULL};

struct needing {
    json_t *table, *list;
    double litres, bowser_l, sum_l;
    enum watering_basis basis;
    size_t yes, unknown, off, no;
};

static void need_row(struct needing *needing, const struct water_plots *all, const struct plot_water *plot, int32_t on, struct arena *arena)
{
    struct drought_rule rule = drought_rule_default(plot->droughty);
    struct drought_answer answer = drought_judge(&rule, &all->weather.series, on, plot->plot.planted_on, arena);
    struct watering_plot one = {plot->name, plot->area_m2, plot->plants};
    struct watering_line line = {unknown_real(), unknown_real()};
    struct failure none;
    struct plot_season s;
    double total = 0, runs = 0, missing = unknown_real();
    if (plot_season_make(&all->weather, plot, all->care, all->n_care, january_of(on), on, arena, &s, &none) == OUTCOME_OK &&
        s.from + (int32_t)s.n - 1 == on)
        missing = s.days[s.n - 1].depletion_mm;
    (void)watering_need(&one, 1, needing->basis, needing->litres, needing->bowser_l, &line, &total, &runs, &none);
    bool yes = answer.state == DROUGHT_YES;
    needing->yes += yes;
    needing->unknown += answer.state == DROUGHT_UNKNOWN;
    needing->off += answer.state == DROUGHT_OFF_SEASON;
    needing->no += answer.state == DROUGHT_NO;
    needing->sum_l += yes ? line.litres : 0;
    json_t *row = table_row(needing->table);
    row_text(row, plot->name);
    row_text(row, answer.words);
    row_number(row, missing);
    row_number(row, is_known(missing) ? missing * plot->area_m2 : unknown_real());
    row_number(row, yes ? line.litres : answer.state == DROUGHT_UNKNOWN ? unknown_real() : 0);
    row_number(row, yes ? line.runs : answer.state == DROUGHT_UNKNOWN ? unknown_real() : 0);
    static const char *const states[] = {"unknown", "off", "no", "yes"};
    json_array_append_new(needing->list,
                          json_pack("{s:s, s:s, s:f, s:i, s:o, s:o, s:s}", "plot", plot->name, "trigger", states[answer.state], "rain_mm",
                                    answer.rain_mm, "days_unknown", answer.days_unknown, "litres",
                                    yes                               ? number_or_null(line.litres)
                                    : answer.state == DROUGHT_UNKNOWN ? json_null()
                                                                      : json_real(0),
                                    "missing_mm", number_or_null(missing), "words", answer.words));
}

static enum outcome site_need(const struct job_context *context, const json_t *in, const char *code, bool asked, int32_t on,
                              struct needing *needing, json_t *out, struct arena *arena, struct failure *why)
{
    struct water_plots all;
    struct failure none = {0};
    enum outcome outcome = plots_load(context, in, code, january_of(on), on, arena, &all, &none);
    if (outcome != OUTCOME_OK) {
        if (!asked && outcome == OUTCOME_DATA)
            return OUTCOME_OK; /* a site without a planted plot */
        *why = none;
        return outcome;
    }
    for (size_t i = 0; i < all.n; i++)
        need_row(needing, &all, &all.plots[i], on, arena);
    const json_t *sources = json_object_get(out, "sources"), *last = json_array_get(sources, json_array_size(sources) - 1);
    if (last == NULL || strcmp(json_string_value(last), all.weather.words) != 0)
        note_source(out, "%s", all.weather.words);
    if (!all.weather.elevation_known)
        note_unknown(out, "The height of %s above the sea is not known.", all.site.code);
    return OUTCOME_OK;
}

static enum outcome water_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    static const char *const titles[] = {"plot",           "drought trigger", "root zone short [mm]",
                                         "to fill it [L]", "by the rule [L]", "bowser runs"};
    struct arena arena = {0};
    void *sites = NULL;
    size_t n = 0;
    int32_t on = option_date(in, "on", context->today);
    const char *asked = option_text(in, "sites", NULL), *by = option_text(in, "by", "area");
    struct needing needing = {.litres = option_number(in, "litres", 15), .bowser_l = option_number(in, "bowser_l", 1000)};
    json_t *out = note_new();
    enum outcome outcome = OUTCOME_OK;
    if (!text_same(by, "area") && !text_same(by, "plants"))
        outcome = fail(why, OUTCOME_USAGE, "by: \"%.40s\" is neither area nor plants.", by);
    if (outcome == OUTCOME_OK && (!(needing.litres > 0 && needing.litres <= 500) || !(needing.bowser_l > 0))) {
        fail(why, OUTCOME_DATA, "%g litres on each and a bowser of %g litres cannot be.", needing.litres, needing.bowser_l);
        outcome = failure_remedy(why, "Usual are 10 to 20 L on a square metre.");
    }
    needing.basis = text_same(by, "plants") ? WATERING_BY_PLANT : WATERING_BY_AREA;
    json_t *section = note_section(out, "Plots");
    needing.table = section_table(section);
    needing.list = json_array();
    json_object_set_new(note_data(out), "plots", needing.list);
    for (size_t i = 0; i < sizeof titles / sizeof *titles; i++)
        table_column(needing.table, titles[i], titles[i], "", i >= 2 ? 0 : -1);
    if (outcome == OUTCOME_OK)
        outcome = load_all(context->store, NOUN_SITE, &arena, &sites, &n, why);
    char *copy = asked == NULL ? NULL : arena_text(&arena, asked), *rest = NULL;
    for (char *part = copy == NULL ? NULL : strtok_r(copy, "; ,", &rest); outcome == OUTCOME_OK && part != NULL;
         part = strtok_r(NULL, "; ,", &rest))
        outcome = site_need(context, in, part, true, on, &needing, out, &arena, why);
    for (size_t i = 0; outcome == OUTCOME_OK && asked == NULL && i < n; i++)
        outcome = site_need(context, in, ((const struct site *)sites)[i].code, false, on, &needing, out, &arena, why);
    if (outcome == OUTCOME_OK && json_array_size(needing.list) == 0) {
        fail(why, OUTCOME_DATA, "No planted plot with weather was found for %s.", day_words(on, &arena));
        outcome = failure_remedy(why, "Bring weather in (spinney weather, spinney rain), or take another day.");
    }
    if (outcome == OUTCOME_OK) {
        double runs = ceil(needing.sum_l / needing.bowser_l * (1 - 1e-3));
        if (needing.yes > 0)
            note_answer(out, "On %s %zu %s water: %.0f litres by the rule of %g L on each %s, %.0f bowser %s.%s", day_words(on, &arena),
                        needing.yes, needing.yes == 1 ? "plot wants" : "plots want", needing.sum_l, needing.litres,
                        needing.basis == WATERING_BY_AREA ? "square metre" : "plant", runs, runs == 1 ? "run" : "runs",
                        needing.unknown > 0 ? " For others it is not known: rain was not recorded." : "");
        else if (needing.unknown > 0)
            note_answer(out, "On %s it is not known whether %zu %s water: rain was not recorded. Feel the ground at 15 cm.",
                        day_words(on, &arena), needing.unknown, needing.unknown == 1 ? "plot wants" : "plots want");
        else
            note_answer(out, "On %s the drought trigger is off on all %zu plots.", day_words(on, &arena), json_array_size(needing.list));
        json_object_set_new(note_data(out), "litres", json_real(needing.sum_l));
        json_object_set_new(note_data(out), "runs", json_real(runs));
        note_caution(out, "FAIR",
                     "Water every plot of a comparison by the same rule, or write down that it was not: unequal care cannot be told from "
                     "the treatment afterwards.",
                     NULL);
        note_source(
            out, "Trigger: under 10 mm in 14 days, April to September, in the first two growing seasons, three on sand and rubble; common "
                 "practice, no source.");
        *note = json_incref(out);
    }
    json_decref(out);
    arena_clear(&arena);
    return outcome;
}

const struct job job_water = {
    .name = "water",
    .summary = "which plots want water on a day, with litres and bowser runs",
    .about = "Judges the drought trigger of every planted plot on a day, tells how much is missing from its root zone, and the litres and "
             "bowser "
             "runs that one rule for all plots makes. Days without a reading are not dry days.",
    .example = "spinney water wood.gpkg --on 2026-06-14 --litres 15 --bowser-l 1000",
    .access = JOB_LOOKS,
    .options = water_options,
    .n_options = sizeof water_options / sizeof *water_options,
    .bare = water_bare,
    .run = water_run,
};
