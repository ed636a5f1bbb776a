/* SPDX-License-Identifier: GPL-3.0-or-later
 * ahead: how a plot may grow, crowd and thin itself in the decades to come. */
#include "work/jobs.h"
#include "work/stand_figures.h"
#include "work/stand_told.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

static const struct option ahead_options[] = {
    {"plot", OPTION_TEXT, false, "CODE", "which plot (the only one if not given)"},
    {"years", OPTION_INTEGER, false, "N", "how far ahead, 1 to 60 (30 if not given)"},
    {"runs", OPTION_INTEGER, false, "N", "how many runs (200 if not given)"},
    {"show", OPTION_TEXT, false, "YEARS", "years to draw, such as 5,10,20,30"},
    {"plan", OPTION_INTEGER, false, "N", "start from this plan, not from what is recorded"},
    {"planned", OPTION_FLAG, false, NULL, "start from the chosen plan, not from what is recorded"},
    {"arrivals_m2", OPTION_NUMBER, false, "N",
     "birch and willow that come by themselves, per m² and year where there is light (none if not given)"},
    {"as_of", OPTION_DATE, false, "DAY", "know only what was recorded up to this day"},
    {"uncorrected", OPTION_FLAG, false, NULL, "do not let the censuses correct the parameters"},
    {"seed", OPTION_INTEGER, false, "N", "seed (the programme's if not given)"},
    {"keep", OPTION_FLAG, false, NULL, "keep the forecast with its day, to be held against later censuses (skill)"},
};
static const char *const ahead_bare[] = {"plot", NULL};

struct ahead {
    struct stand_start start;
    struct stand_setting setting;
    struct stand_result result;
    struct stand_hindsight hindsight;
    double *factors;
    bool corrected;
    size_t n_assumed;
    int show[16];
    size_t n_show;
};

static enum outcome show_read(const char *words, int years, struct ahead *ahead, struct failure *why)
{
    static const int usual[] = {5, 10, 20, 30, 45, 60};
    for (size_t k = 0; words == NULL && k < 6 && usual[k] < years; k++)
        ahead->show[ahead->n_show++] = usual[k];
    for (const char *at = words; at != NULL && *at != '\0';) {
        char *end = NULL;
        long year = strtol(at, &end, 10);
        if (end == at || year < 0 || year > years || (ahead->n_show > 0 && year <= ahead->show[ahead->n_show - 1]) || ahead->n_show >= 8)
            return fail(why, OUTCOME_USAGE, "show: give up to 8 ascending years from 0 to %d, such as 5,10,20.", years);
        ahead->show[ahead->n_show++] = (int)year;
        at = *end == ',' ? end + 1 : end;
        if (*end != ',' && *end != '\0')
            return fail(why, OUTCOME_USAGE, "show: \"%.60s\" is not a list of years.", words);
    }
    if (words == NULL)
        ahead->show[ahead->n_show++] = years;
    return OUTCOME_OK;
}

static void band_cell(json_t *row, double low, double middle, double high, int digits)
{
    if (!is_known(middle)) {
        row_text(row, "none in any run");
        return;
    }
    row_print(row, "%.*f (%.*f–%.*f)", digits, middle, digits, low, digits, high);
}

static void measures_table(const struct ahead *ahead, json_t *note)
{
    static const enum stand_measure shown[] = {STAND_ALIVE, STAND_TOP_HEIGHT, STAND_HEIGHT, STAND_DIAMETER, STAND_BASAL,
                                               STAND_COVER, STAND_FLOOR,      STAND_LEAF,   STAND_MASS,     STAND_MATURE};
    json_t *section = note_section(note, "In numbers"), *table = section_table(section);
    section_text(section, "The middle of %zu runs, and in brackets where 90 %% of them lie.", ahead->result.runs);
    table_column(table, "what", "what", "", -1);
    table_column(table, "unit", "unit", "", -1);
    for (size_t s = 0; s < ahead->n_show; s++) {
        char name[40], title[40];
        snprintf(name, sizeof name, "year_%d", ahead->show[s]);
        snprintf(title, sizeof title, "year %d", ahead->show[s]);
        table_column(table, name, title, "", -1);
    }
    for (size_t m = 0; m < sizeof shown / sizeof *shown; m++) {
        json_t *row = table_row(table);
        row_text(row, stand_measures[shown[m]].title);
        row_text(row, stand_measures[shown[m]].unit);
        for (size_t s = 0; s < ahead->n_show; s++)
            band_cell(row, stand_quantile(&ahead->result, shown[m], ahead->show[s], 0.05),
                      stand_quantile(&ahead->result, shown[m], ahead->show[s], 0.5),
                      stand_quantile(&ahead->result, shown[m], ahead->show[s], 0.95), stand_measures[shown[m]].digits);
    }
}

static void kinds_table(const struct ahead *ahead, json_t *note)
{
    const struct stand_result *r = &ahead->result;
    json_t *section = note_section(note, "What becomes of each kind"), *table = section_table(section);
    section_text(section,
                 "Living plants now and in year %d, and those of 8 m or more in full light then: middle and 90 %% of runs. "
                 "\"Assumed\" names what rests on no figure for the species.",
                 r->years);
    table_column(table, "species", "species", "", -1);
    table_column(table, "layer", "layer", "", -1);
    table_column(table, "now", "now", "", 0);
    table_column(table, "alive", "living then", "", -1);
    table_column(table, "height", "mean height then", "m", -1);
    table_column(table, "mature", "trees in full light then", "", -1);
    table_column(table, "gone", "runs in which it is gone", "%", 0);
    table_column(table, "assumed", "assumed", "", -1);
    for (size_t k = 0; k < r->n_kinds; k++) {
        const struct stand_kind *kind = &ahead->setting.kinds[k];
        double now = stand_quantile_of(r, r->kind_alive, r->n_kinds, k, 0, 0.5), gone = 0;
        if (!(now > 0) && !(ahead->setting.arrivals_m2 > 0 && ahead->start.arriving[k]))
            continue;
        for (size_t run = 0; run < r->runs; run++)
            gone += r->kind_alive[(run * ((size_t)r->years + 1) + (size_t)r->years) * r->n_kinds + k] < 0.5f;
        json_t *row = table_row(table);
        row_text(row, kind->name);
        row_text(row, word_of(WORDS_LAYER, (int)kind->layer));
        row_number(row, now);
        const float *arrays[] = {r->kind_alive, r->kind_height, r->kind_mature};
        for (size_t a = 0; a < 3; a++)
            band_cell(row, stand_quantile_of(r, arrays[a], r->n_kinds, k, r->years, 0.05),
                      stand_quantile_of(r, arrays[a], r->n_kinds, k, r->years, 0.5),
                      stand_quantile_of(r, arrays[a], r->n_kinds, k, r->years, 0.95), a == 1 ? 1 : 0);
        row_number(row, 100 * gone / (double)r->runs);
        row_print(row, "%s%s%s%s%s", kind->assumed & ASSUMED_HEIGHT ? "height " : "", kind->assumed & ASSUMED_RATE ? "pace " : "",
                  kind->assumed & ASSUMED_SHADE ? "shade " : "", kind->assumed & ASSUMED_DROUGHT ? "drought " : "",
                  kind->assumed & ASSUMED_WOOD ? "wood" : "");
    }
}

static void deaths_table(const struct ahead *ahead, json_t *note)
{
    const struct stand_result *r = &ahead->result;
    json_t *section = note_section(note, "What they die of"), *table = section_table(section);
    section_text(section, "Deaths in all runs, as a share of the plants there are now, mean of runs, by the end of each year shown.");
    table_column(table, "cause", "cause", "", -1);
    for (size_t s = 0; s < ahead->n_show; s++) {
        char name[40], title[40];
        snprintf(name, sizeof name, "year_%d", ahead->show[s]);
        snprintf(title, sizeof title, "by year %d", ahead->show[s]);
        table_column(table, name, title, "%", 1);
    }
    for (size_t cause = 0; cause < STAND_DEATHS; cause++) {
        json_t *row = table_row(table);
        double sum = 0;
        int year = 0;
        row_text(row, stand_death_words[cause]);
        for (size_t s = 0; s < ahead->n_show; s++) {
            for (; year <= ahead->show[s]; year++)
                sum += stand_mean_of(r, r->deaths, STAND_DEATHS, cause, year);
            row_number(row, 100 * sum / (double)r->n_plants);
        }
    }
}

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* First year in which a run meets a condition; quantiles over the runs, runs that never do count as later than all. */
static void first_year(const struct stand_result *r, double (*meets)(const struct stand_result *, size_t row), double out[3], double *never)
{
    double *first = memory_get(r->runs, sizeof *first);
    size_t years = (size_t)r->years + 1, late = 0;
    for (size_t run = 0; run < r->runs; run++) {
        first[run] = INFINITY;
        for (size_t year = 1; year < years && !isfinite(first[run]); year++)
            if (meets(r, run * years + year) > 0)
                first[run] = (double)year;
        late += isfinite(first[run]) ? 0 : 1;
    }
    qsort(first, r->runs, sizeof *first, ascending);
    static const double at[] = {0.05, 0.5, 0.95};
    for (int k = 0; k < 3; k++)
        out[k] = first[(size_t)(at[k] * (double)(r->runs - 1))];
    *never = (double)late / (double)r->runs;
    free(first);
}

static double closed(const struct stand_result *r, size_t row)
{
    return (double)r->measure[row * STAND_MEASURES + STAND_COVER] - 0.9;
}
static double dark(const struct stand_result *r, size_t row)
{
    return 0.05 - (double)r->measure[row * STAND_MEASURES + STAND_FLOOR];
}
static double thinning(const struct stand_result *r, size_t row)
{
    double alive = (double)r->measure[row * STAND_MEASURES + STAND_ALIVE], shaded = (double)r->deaths[row * STAND_DEATHS + DEATH_SHADE];
    return shaded - 0.03 * (alive + shaded);
}

static void moments_table(const struct ahead *ahead, json_t *note)
{
    static const struct {
        const char *what, *means;
        double (*meets)(const struct stand_result *, size_t);
    } lines[] = {
        {"crowns cover 90 % of the ground", "weeding and watering lose their point; the thicket shelters itself", closed},
        {"less than 5 % of the light reaches the ground",
         "light-demanding shrubs and field layer go; a gap deserves thought if they are wanted", dark},
        {"more than 3 % a year are shaded out", "the wood thins itself; thinning deserves thought only where a kind that matters is losing",
         thinning},
    };
    json_t *section = note_section(note, "When something deserves thought"), *table = section_table(section);
    section_text(section, "First year of it: middle of the runs and where 90 %% of them lie. Prompts to go and look, not instructions.");
    table_column(table, "what", "what", "", -1);
    table_column(table, "year", "years ahead", "", -1);
    table_column(table, "never", "runs without it", "%", 0);
    table_column(table, "means", "what to think of", "", -1);
    for (size_t k = 0; k < sizeof lines / sizeof *lines; k++) {
        double years[3], never = 0;
        char words[3][24];
        first_year(&ahead->result, lines[k].meets, years, &never);
        for (int q = 0; q < 3; q++)
            snprintf(words[q], sizeof words[q], isfinite(years[q]) ? "%.0f" : "later", years[q]);
        json_t *row = table_row(table);
        row_text(row, lines[k].what);
        row_print(row, "%s (%s–%s)", words[1], words[0], words[2]);
        row_number(row, 100 * never);
        row_text(row, lines[k].means);
    }
}

static void ahead_limits(const struct ahead *ahead, json_t *note)
{
    const struct stand_start *start = &ahead->start;
    note_unknown(
        note,
        "Growth, shade and death follow published forms with illustrative parameters: the bands show how far runs differ, not how far "
        "the form itself is wrong. Until records of this plot have corrected them, read the shapes, not the figures.");
    note_unknown(
        note,
        "Not in it: new pests and diseases, storms, fire, deer beyond a general rate, root competition for water and nutrients plant by "
        "plant, resprouting, the plots and woods next door unless recorded, and what people will do.");
    note_unknown(note, "A small plot is all edge: light comes in from the sides and crowns lean out over the rim, so it bears more to the "
                       "square metre than "
                       "a wood does, as long as nothing stands beside it.");
    if (start->n_water < STAND_WATER_LEAST)
        note_unknown(note, "Fewer than %d growing seasons of weather are recorded: years ahead are drawn from an illustrative climate.",
                     STAND_WATER_LEAST);
    else
        note_unknown(note,
                     "Weather ahead is drawn from %zu recorded growing seasons (mean water factor %.2f, %s): the future may be drier.",
                     start->n_water, stand_water_of_season(start->water, start->n_water),
                     start->soil_known ? "soil as sampled" : "soil taken as loam");
    if (ahead->n_assumed > 0)
        note_unknown(note, "%zu living plants had no height at the last census and start at the mean of their kind.", ahead->n_assumed);
    for (size_t i = 0; i < start->n_unknown; i++)
        note_unknown(note, "%s", start->unknown[i]);
    note_caution(note, "C12", "Dense planting makes tall thin stems. Plan who inspects, how often, and who pays.",
                 "tree-risk assessor; landowner");
    note_source(
        note,
        "Light: Monsi & Saeki 1953; growth and death: after Botkin, Janak & Wallis 1972, J. Ecol. 60:849–872; tolerances: Niinemets & "
        "Valladares 2006, Ecol. Monogr. 76:521–547. Methods, parameters and what each rests on: docs/methods/stand.md.");
}

static enum outcome ahead_note(struct ahead *ahead, struct arena *arena, json_t **note, struct failure *why)
{
    const struct stand_result *r = &ahead->result;
    const struct plot_ground *ground = &ahead->start.ground;
    json_t *out = note_new();
    double low = stand_quantile(r, STAND_ALIVE, r->years, 0.05), high = stand_quantile(r, STAND_ALIVE, r->years, 0.95);
    note_answer(out,
                "Of %zu plants on %s/%s, %.0f may live in %d years (90 %% of %zu runs: %.0f–%.0f), the tallest about %.0f m; illustrative.",
                r->n_plants, ground->site.code, ground->plot.code, stand_quantile(r, STAND_ALIVE, r->years, 0.5), r->years, r->runs, low,
                high, stand_quantile(r, STAND_TOP_HEIGHT, r->years, 0.5));
    json_t *begin = note_section(out, "Where it starts");
    if (ahead->start.history.n_censuses > 0)
        section_text(begin, "From the census of %s: %zu living plants as they stood then; year 0 is that day. %s",
                     day_words(stand_begin_on(&ahead->start), arena), r->n_plants,
                     ahead->corrected ? "Growth and death were corrected by every census before it." : "");
    else
        section_text(begin, "From %s, %zu plants at nursery size; year 0 is the planting.",
                     ahead->start.recorded ? "the plants put in" : "the plan", r->n_plants);
    stand_stocking_figure(r, note_section(out, "How many live"), arena);
    stand_heights_figure(r, note_section(out, "How tall"), arena);
    stand_light_figure(r, note_section(out, "Closure and light"), arena);
    json_t *side = note_section(out, "From the side"), *above = note_section(out, "From above");
    enum outcome outcome = stand_pictures(&ahead->setting, r, &ground->outline, side, above, arena, why);
    stand_where_figure(&ahead->setting, r, &ground->outline, note_section(out, "Where trees may stand"), arena);
    measures_table(ahead, out);
    kinds_table(ahead, out);
    moments_table(ahead, out);
    deaths_table(ahead, out);
    if (ahead->corrected) {
        stand_learnt_section(&ahead->setting, ahead->factors, out);
        stand_told_sections(&ahead->start, &ahead->hindsight, out, arena);
    }
    ahead_limits(ahead, out);
    json_t *data = note_data(out);
    json_object_set_new(data, "seed", json_integer((json_int_t)ahead->setting.seed));
    json_object_set_new(data, "runs", json_integer((json_int_t)r->runs));
    json_t *alive = json_array();
    for (int year = 0; year <= r->years; year++) {
        json_t *one = json_object();
        json_object_set_new(one, "year", json_integer(year));
        for (int m = 0; m < STAND_MEASURES; m++) {
            double q = stand_quantile(r, (enum stand_measure)m, year, 0.5);
            json_object_set_new(one, stand_measures[m].name, is_known(q) ? json_real(q) : json_null());
        }
        json_array_append_new(alive, one);
    }
    json_object_set_new(data, "middle", alive);
    if (outcome == OUTCOME_OK)
        *note = out;
    else
        json_decref(out);
    return outcome;
}

/* Setting and plants; then, where there are two censuses or more, what they teach. */
static enum outcome ahead_prepare(const struct job_context *context, const json_t *in, struct ahead *ahead, struct arena *arena,
                                  struct failure *why)
{
    struct stand_plant *plants = NULL;
    struct stand_setting *setting = &ahead->setting;
    stand_setting_of(&ahead->start, setting);
    stand_begin(&ahead->start, arena, &plants, &setting->n_plants, &ahead->n_assumed);
    setting->plants = plants;
    setting->years = (int)option_integer(in, "years", 30);
    setting->runs = (size_t)option_integer(in, "runs", 200);
    setting->seed = (uint64_t)option_integer(in, "seed", ahead->start.ground.programme.seed);
    setting->show = ahead->show;
    setting->n_show = ahead->n_show;
    setting->spread = context->spread;
    setting->arrivals_m2 = option_number(in, "arrivals_m2", 0);
    setting->arriving = ahead->start.arriving;
    if (!(setting->arrivals_m2 >= 0 && setting->arrivals_m2 <= 5))
        return fail(why, OUTCOME_USAGE, "arrivals_m2 lies between 0 and 5.");
    if (setting->n_plants == 0)
        return fail(why, OUTCOME_DATA, "No plant of %s/%s was alive at the last census.", ahead->start.ground.site.code,
                    ahead->start.ground.plot.code);
    ahead->factors = arena_array(arena, setting->runs * setting->n_kinds * STAND_FACTORS, sizeof *ahead->factors);
    stand_factors_draw(&setting->doubt, setting->n_kinds, setting->runs, setting->seed, ahead->factors);
    setting->factors = ahead->factors;
    enum outcome outcome = OUTCOME_OK;
    if (ahead->start.history.n_censuses > 1 && !option_flag(in, "uncorrected")) {
        outcome = stand_hindcast(setting, &ahead->start.history, 5, ahead->factors, arena, &ahead->hindsight, why);
        ahead->corrected = ahead->hindsight.n_corrections > 0;
    }
    setting->progress = context->progress;
    return outcome;
}

static enum outcome ahead_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct ahead ahead = {.n_show = 0};
    int64_t years = option_integer(in, "years", 30), runs = option_integer(in, "runs", 200);
    if (years < 1 || years > 60 || runs < 1 || runs > 20000)
        return fail(why, OUTCOME_USAGE, "years goes from 1 to 60, runs from 1 to 20,000.");
    enum outcome outcome = show_read(option_text(in, "show", NULL), (int)years, &ahead, why);
    bool planned = option_flag(in, "planned") || option_integer(in, "plan", 0) > 0;
    if (outcome == OUTCOME_OK)
        outcome = stand_start_load(context, option_text(in, "plot", NULL), option_integer(in, "plan", 0), planned,
                                   option_date(in, "as_of", DATE_UNKNOWN), &arena, &ahead.start, why);
    if (outcome == OUTCOME_OK)
        outcome = ahead_prepare(context, in, &ahead, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = stand_look_ahead(&ahead.setting, &arena, &ahead.result, why);
    json_t *out = NULL;
    if (outcome == OUTCOME_OK)
        outcome = ahead_note(&ahead, &arena, &out, why);
    if (outcome == OUTCOME_OK && option_flag(in, "keep"))
        outcome = stand_forecast_keep(context, &ahead.start, &ahead.setting, &ahead.result, ahead.corrected, out, &arena, why);
    if (outcome == OUTCOME_OK)
        *note = out;
    else
        json_decref(out);
    arena_clear(&arena);
    return outcome;
}

const struct job job_ahead = {
    .name = "ahead",
    .summary = "how a plot may grow, crowd and thin itself in the decades to come",
    .about =
        "Grows every plant of a plot from where it stands, many times over with other weather, other parameters and other luck: how many "
        "live, how tall, when the crowns close, what a section and a plan may look like, which become trees and where. Illustrative until "
        "records correct it.",
    .example = "spinney ahead wood.gpkg LK/D1 --years 30",
    .access = JOB_WRITES,
    .options = ahead_options,
    .n_options = sizeof ahead_options / sizeof *ahead_options,
    .bare = ahead_bare,
    .spreads = true,
    .run = ahead_run,
};
