/* SPDX-License-Identifier: GPL-3.0-or-later
 * What was told and what came. */
#include "work/stand_told.h"
#include "draw/draw.h"
#include "work/site_map.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

void stand_learnt_section(const struct stand_setting *setting, const double *factors, json_t *note)
{
    json_t *section = note_section(note, "What the censuses say of this plot"), *table = section_table(section);
    section_text(section,
                 "Factors on what was assumed (1: as assumed), over all living plants: middle and 90 %% of runs, after all censuses.");
    table_column(table, "what", "what", "", -1);
    table_column(table, "factor", "factor", "", -1);
    table_column(table, "before", "90 % before any census", "", -1);
    double *x = memory_get(setting->runs, sizeof *x), doubt[STAND_FACTORS];
    for (size_t f = 0; f < STAND_FACTORS; f++) {
        for (size_t r = 0; r < setting->runs; r++) {
            double sum = 0;
            for (size_t i = 0; i < setting->n_plants; i++)
                sum += log(factors[(r * setting->n_kinds + setting->plants[i].kind) * STAND_FACTORS + f]);
            x[r] = exp(sum / (double)setting->n_plants);
        }
        qsort(x, setting->runs, sizeof *x, ascending);
        doubt[f] = sqrt(setting->doubt.place[f] * setting->doubt.place[f] +
                        setting->doubt.kind[f] * setting->doubt.kind[f] / (double)setting->n_kinds);
        size_t n = setting->runs - 1;
        json_t *row = table_row(table);
        row_text(row, stand_factor_words[f]);
        row_print(row, "%.2f (%.2f–%.2f)", x[n / 2], x[n / 20], x[n - n / 20]);
        row_print(row, "%.2f–%.2f", exp(-1.645 * doubt[f]), exp(1.645 * doubt[f]));
    }
    free(x);
}

void stand_skill_table(const struct stand_told *told, size_t n, json_t *section, struct arena *arena)
{
    static const struct {
        const char *words, *unit;
        int digits;
    } of[] = {{"living plants", "plants", 1}, {"mean height of the living", "m", 2}, {"mean collar diameter of the living", "cm", 2}};
    json_t *table = section_table(section);
    table_column(table, "what", "forecasts of", "", -1);
    table_column(table, "n", "number", "", 0);
    table_column(table, "in_50", "came within the 50 % range", "%", 0);
    table_column(table, "in_90", "came within the 90 % range", "%", 0);
    table_column(table, "bias", "told too high by, mean", "", 2);
    table_column(table, "miss", "off by, mean", "", 2);
    table_column(table, "crps", "score (CRPS, 0 is best)", "", 3);
    bool plain = false;
    for (size_t i = 0; i < n; i++)
        plain = plain || is_known(told[i].plain_crps);
    if (plain)
        table_column(table, "plain", "score of going on as before", "", 3);
    table_column(table, "unit", "unit", "", -1);
    struct stand_told *some = arena_array(arena, n + 1, sizeof *some);
    for (size_t k = 0; k < 3; k++)
        for (int all = 1; all >= 0; all--) {
            size_t m = 0;
            for (size_t i = 0; i < n; i++)
                if ((size_t)told[i].of == k && (told[i].kind == SIZE_MAX) == (all == 1))
                    some[m++] = told[i];
            if (m == 0)
                continue;
            struct stand_skill skill = stand_skill_of(some, m);
            json_t *row = table_row(table);
            row_print(row, "%s, %s", of[k].words, all ? "all kinds together" : "kind by kind");
            row_integer(row, (int64_t)skill.n);
            row_number(row, 100 * skill.in50);
            row_number(row, 100 * skill.in90);
            row_number(row, skill.bias);
            row_number(row, skill.miss);
            row_number(row, skill.crps);
            if (plain)
                row_number(row, skill.plain_crps);
            row_text(row, of[k].unit);
        }
}

void stand_told_sections(const struct stand_start *start, const struct stand_hindsight *hindsight, json_t *note, struct arena *arena)
{
    json_t *section = note_section(note, "What each census would have been told");
    struct figure_row *rows = arena_array(arena, hindsight->n_told + 1, sizeof *rows);
    size_t n = 0;
    for (size_t i = 0; i < hindsight->n_told; i++) {
        const struct stand_told *told = &hindsight->told[i];
        if (told->of != TOLD_ALIVE || told->kind != SIZE_MAX || told->n == 0)
            continue;
        double one = 100 / (double)told->n;
        bool within = told->seen >= told->low90 && told->seen <= told->high90;
        rows[n++] = (struct figure_row){
            .label = arena_print(arena, "told for %s", day_words(start->census_on[told->census], arena)),
            .value = {one * told->middle, one * told->low90, one * told->high90},
            .note = arena_print(arena, "came %.0f of %zu (%.0f %%)%s", told->seen, told->n, one * told->seen, within ? "" : ", outside")};
        rows[n++] =
            (struct figure_row){.label = "came", .value = {one * told->seen, unknown_real(), unknown_real()}, .note = "", .group = 1};
    }
    struct figure_intervals figure = {.head = {.title = "Living, of those alive at the census before",
                                               .x_title = "% of plants",
                                               .foot = "Told from the census before, with what had been learnt until then; 90 % of runs."},
                                      .rows = rows,
                                      .n_rows = n,
                                      .unit = "%",
                                      .digits = 0,
                                      .reference = unknown_real()};
    section_drawing(section, figure_intervals(&figure));
    section_text(section,
                 "Each census was foretold from the one before with what was known then, and only afterwards used to correct. Where "
                 "ranges are right, about half of what comes falls within the 50 %% range and nine in ten within the 90 %% range.");
    stand_skill_table(hindsight->told, hindsight->n_told, section, arena);
}

static const char *const about_words[] = {"alive", "height", "diameter"};
static const char *const about_units[] = {"plants", "m", "cm"};

/* One row from the runs of a column; false where too few runs have it. */
static bool forecast_fill(struct forecast *row, double *x, size_t n, struct arena *arena)
{
    size_t kept = 0;
    for (size_t i = 0; i < n; i++)
        if (isfinite(x[i]))
            x[kept++] = x[i];
    if (10 * kept < 9 * n)
        return false;
    qsort(x, kept, sizeof *x, ascending);
    struct text spread = {0};
    double *at[] = {&row->low_90, &row->low_50, &row->middle, &row->high_50, &row->high_90};
    static const int levels[] = {5, 25, 50, 75, 95};
    for (int level = 1; level <= 99; level++) {
        double place = level / 100.0 * (double)(kept - 1), part = place - floor(place);
        size_t low = (size_t)place, high = low + 1 < kept ? low + 1 : low;
        double q = x[low] + part * (x[high] - x[low]);
        char words[64];
        number_fixed(q, 3, words);
        text_print(&spread, "%s%s", level == 1 ? "[" : ",", words);
        for (size_t k = 0; k < 5; k++)
            if (levels[k] == level)
                *at[k] = q;
    }
    text_add(&spread, "]");
    row->spread = arena_text(arena, text_get(&spread));
    text_free(&spread);
    return true;
}

/* Column of the runs for a kind (SIZE_MAX: all) in a year. */
static void column_take(const struct stand_result *r, enum stand_told_of of, size_t kind, int year, double *x)
{
    size_t years = (size_t)r->years + 1;
    for (size_t run = 0; run < r->runs; run++) {
        size_t row = run * years + (size_t)year;
        if (kind == SIZE_MAX)
            x[run] = of == TOLD_ALIVE ? (double)r->measure[row * STAND_MEASURES + STAND_ALIVE]
                                      : (double)r->measure[row * STAND_MEASURES + STAND_HEIGHT];
        else
            x[run] = (double)(of == TOLD_ALIVE    ? r->kind_alive
                              : of == TOLD_HEIGHT ? r->kind_height
                                                  : r->kind_diameter)[row * r->n_kinds + kind];
    }
}

enum outcome stand_forecast_keep(const struct job_context *context, const struct stand_start *start, const struct stand_setting *setting,
                                 const struct stand_result *result, bool corrected, json_t *note, struct arena *arena, struct failure *why)
{
    static const int ahead[] = {1, 2, 3, 5, 10};
    int32_t from = stand_begin_on(start);
    if (from == DATE_UNKNOWN)
        return fail(why, OUTCOME_DATA, "A forecast is kept from the day of planting on: plot %s has none.", start->ground.plot.code);
    struct forecast *rows = arena_array(arena, 5 * (3 * setting->n_kinds + 2), sizeof *rows);
    double *x = memory_get(result->runs, sizeof *x);
    size_t n = 0;
    for (size_t k = 0; k < 5 && ahead[k] <= result->years; k++)
        for (size_t kind = 0; kind <= setting->n_kinds; kind++)
            for (int of = 0; of < 3; of++) {
                bool all = kind == setting->n_kinds;
                size_t column = all ? SIZE_MAX : kind;
                if (all && of == TOLD_DIAMETER)
                    continue;
                if (!all && stand_quantile_of(result, result->kind_alive, result->n_kinds, kind, 0, 0.5) < 5)
                    continue;
                struct forecast *row = &rows[n];
                noun_init(NOUN_FORECAST, row);
                column_take(result, (enum stand_told_of)of, column, 0, x);
                row->start_value = x[0];
                column_take(result, (enum stand_told_of)of, column, ahead[k], x);
                if (!forecast_fill(row, x, result->runs, arena))
                    continue;
                row->plot_id = start->ground.plot.id;
                row->about = about_words[of];
                row->unit = about_units[of];
                row->species = all ? NULL : setting->kinds[kind].name;
                row->made_on = context->today;
                row->from_on = from;
                row->for_on = date_add_months(from, 12 * ahead[k]);
                row->seasons = ahead[k];
                row->runs = (int64_t)result->runs;
                row->seed = (int64_t)setting->seed;
                row->method =
                    corrected ? "look ahead, first form; corrected by the censuses before" : "look ahead, first form; not corrected";
                n++;
            }
    free(x);
    json_object_set_new(note_data(note), "kept", json_integer((json_int_t)n));
    if (context->spread != NULL && context->spread->rank > 0)
        return OUTCOME_OK; /* the first process keeps it */
    enum outcome outcome =
        store_begin(context->store, context->author,
                    arena_print(arena, "forecast for plot %s/%s", start->ground.site.code, start->ground.plot.code), why);
    if (outcome == OUTCOME_OK)
        outcome = store_end(context->store, store_add(context->store, NOUN_FORECAST, rows, n, why), why);
    return outcome;
}
