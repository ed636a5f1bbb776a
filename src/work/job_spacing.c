/* SPDX-License-Identifier: GPL-3.0-or-later
 * spacing: what may come of one to five plants to the square metre, with and without preparation. */
#include "draw/draw.h"
#include "work/jobs.h"
#include "work/site_map.h"
#include "work/stand_figures.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

static const struct option spacing_options[] = {
    {"plot", OPTION_TEXT, false, "CODE", "whose ground, light and species (the only plot if not given)"},
    {"years", OPTION_INTEGER, false, "N", "how far ahead, 5 to 60 (30 if not given)"},
    {"runs", OPTION_INTEGER, false, "N", "runs of each (40 if not given)"},
    {"seed", OPTION_INTEGER, false, "N", "seed (the programme's if not given)"},
};
static const char *const spacing_bare[] = {"plot", NULL};

enum { DENSITIES = 5, WAYS = 2 * DENSITIES };

struct spacing {
    struct stand_start start;
    struct stand_result results[WAYS]; ///< prepared 1 … 5, then unprepared 1 … 5
    size_t planted[WAYS];
    int years;
};

/* Plants over the outline in shaken squares, species by their shares among the plants of the plot. */
static struct stand_plant *plants_scatter(const struct stand_start *start, double density, uint64_t seed, struct arena *arena, size_t *n)
{
    struct box box = shape_box(&start->ground.outline);
    double step = 1 / sqrt(density);
    size_t room = (size_t)((box.x_most - box.x_least) / step + 2) * (size_t)((box.y_most - box.y_least) / step + 2);
    struct stand_plant *plants = arena_array(arena, room + 1, sizeof *plants);
    struct random_stream r = random_make(seed, 31);
    *n = 0;
    for (double y = box.y_least; y < box.y_most && *n < room; y += step)
        for (double x = box.x_least; x < box.x_most && *n < room; x += step) {
            double px = x + (0.15 + 0.7 * random_uniform(&r)) * step, py = y + (0.15 + 0.7 * random_uniform(&r)) * step;
            const struct stand_plant *like = &start->plants[random_below(&r, start->n_plants)];
            if (!shape_contains(&start->ground.outline, px, py))
                continue;
            plants[*n] = *like;
            plants[*n].x_m = px;
            plants[*n].y_m = py;
            plants[*n].age = 0;
            plants[(*n)++].diameter_cm = unknown_real();
        }
    return plants;
}

static enum outcome ways_run(const struct job_context *context, const json_t *in, struct spacing *spacing, struct arena *arena,
                             struct failure *why)
{
    enum outcome outcome = OUTCOME_OK;
    for (int way = 0; way < WAYS && outcome == OUTCOME_OK; way++) {
        struct stand_setting setting;
        stand_setting_of(&spacing->start, &setting);
        setting.ground = way < DENSITIES ? stand_ground_prepared() : stand_ground_unprepared();
        setting.seed = (uint64_t)option_integer(in, "seed", spacing->start.ground.programme.seed);
        setting.plants = plants_scatter(&spacing->start, 1 + way % DENSITIES, setting.seed, arena, &setting.n_plants);
        setting.years = spacing->years;
        setting.runs = (size_t)option_integer(in, "runs", 40);
        setting.spread = context->spread;
        spacing->planted[way] = setting.n_plants;
        if (!progress_tell(context->progress, way / (double)WAYS, "looking ahead"))
            return fail(why, OUTCOME_CANCELLED, "The look ahead was called off.");
        outcome = setting.n_plants == 0 ? fail(why, OUTCOME_DATA, "Plot %s is too small to hold a plant.", spacing->start.ground.plot.code)
                                        : stand_look_ahead(&setting, arena, &spacing->results[way], why);
    }
    return outcome;
}

/* Fans of a measure for the five densities, prepared, with the middle of unprepared ground as dots. */
static void densities_figure(const struct spacing *spacing, enum stand_measure measure, double per_area, const char *title,
                             const char *unit, json_t *section, struct arena *arena)
{
    struct figure_fan fans[DENSITIES];
    size_t years = (size_t)spacing->years + 1;
    for (size_t k = 0; k < DENSITIES; k++) {
        const struct stand_result *r = &spacing->results[k], *bare = &spacing->results[DENSITIES + k];
        double *columns[8];
        static const double at[] = {0, 0.5, 0.05, 0.95, 0.25, 0.75};
        for (size_t c = 0; c < 8; c++)
            columns[c] = arena_array(arena, years, sizeof(double));
        size_t seen = 0;
        for (size_t year = 0; year < years; year++) {
            double scale = per_area > 0 ? per_area / r->area_m2 : 1;
            columns[0][year] = (double)year;
            for (size_t c = 1; c < 6; c++)
                columns[c][year] = scale * stand_quantile(r, measure, (int)year, at[c]);
            if (year % 5 == 0) {
                columns[6][seen] = (double)year;
                columns[7][seen++] = scale * stand_quantile(bare, measure, (int)year, 0.5);
            }
        }
        fans[k] = (struct figure_fan){.name = arena_print(arena, "%zu to the m²", k + 1),
                                      .x = columns[0],
                                      .middle = columns[1],
                                      .low = {columns[2], columns[4], NULL},
                                      .high = {columns[3], columns[5], NULL},
                                      .n = years,
                                      .seen_x = columns[6],
                                      .seen_y = columns[7],
                                      .n_seen = seen};
    }
    struct figure_fans figure = {
        .head = {.title = title,
                 .x_title = "years after planting",
                 .y_title = unit,
                 .foot = "Prepared ground; dots: middle of the runs on unprepared ground. Illustrative, not fitted to this place."},
        .fans = fans,
        .n_fans = DENSITIES,
        .range_words = "middle 50 % and 90 % of runs"};
    section_drawing(section, figure_fans(&figure));
}

/* First year in which the middle run has crowns over nine tenths of the ground; 0 never. */
static int closed_in(const struct stand_result *r)
{
    for (int year = 1; year <= r->years; year++)
        if (stand_quantile(r, STAND_COVER, year, 0.5) >= 0.9)
            return year;
    return 0;
}

static void middle_cell(json_t *row, const struct stand_result *r, enum stand_measure measure, int year, double scale, int digits)
{
    row_print(row, "%.*f (%.*f–%.*f)", digits, scale * stand_quantile(r, measure, year, 0.5), digits,
              scale * stand_quantile(r, measure, year, 0.05), digits, scale * stand_quantile(r, measure, year, 0.95));
}

static void ways_table(const struct spacing *spacing, json_t *note)
{
    json_t *section = note_section(note, "Beside each other"), *table = section_table(section);
    int half = spacing->years >= 10 ? 10 : spacing->years;
    char title[60];
    section_text(section, "Middle of the runs and where 90 %% of them lie.");
    table_column(table, "density", "planted", "1/m²", 0);
    table_column(table, "ground", "ground", "", -1);
    table_column(table, "three", "living in year 3", "%", -1);
    snprintf(title, sizeof title, "living in year %d", half);
    table_column(table, "ten", title, "1/m²", -1);
    snprintf(title, sizeof title, "living in year %d", spacing->years);
    table_column(table, "end", title, "1/m²", -1);
    table_column(table, "closed", "crowns over 90 % of the ground in year", "", -1);
    snprintf(title, sizeof title, "tallest in year %d", half);
    table_column(table, "top", title, "m", -1);
    snprintf(title, sizeof title, "trees in full light in year %d", spacing->years);
    table_column(table, "mature", title, "1/100 m²", -1);
    table_column(table, "wood", "wood then", "kg/m²", -1);
    for (int way = 0; way < WAYS; way++) {
        const struct stand_result *r = &spacing->results[way];
        json_t *row = table_row(table);
        row_number(row, 1 + way % DENSITIES);
        row_text(row, way < DENSITIES ? "prepared" : "not prepared");
        middle_cell(row, r, STAND_ALIVE, 3, 100.0 / (double)spacing->planted[way], 0);
        middle_cell(row, r, STAND_ALIVE, half, 1 / r->area_m2, 2);
        middle_cell(row, r, STAND_ALIVE, spacing->years, 1 / r->area_m2, 2);
        int closed = closed_in(r);
        row_print(row, closed > 0 ? "%d" : "later", closed);
        middle_cell(row, r, STAND_TOP_HEIGHT, half, 1, 1);
        middle_cell(row, r, STAND_MATURE, spacing->years, 100 / r->area_m2, 1);
        middle_cell(row, r, STAND_MASS, spacing->years, 1, 1);
    }
}

static json_t *spacing_note(const struct spacing *spacing, struct arena *arena)
{
    const struct plot_ground *ground = &spacing->start.ground;
    const struct stand_result *one = &spacing->results[0], *five = &spacing->results[4];
    json_t *out = note_new();
    note_answer(out,
                "On %s/%s, from 1 and from 5 plants to the m² about %.1f and %.1f may live on each m² in year %d; the crowns close about "
                "year %d and "
                "%d; illustrative.",
                ground->site.code, ground->plot.code, stand_quantile(one, STAND_ALIVE, spacing->years, 0.5) / one->area_m2,
                stand_quantile(five, STAND_ALIVE, spacing->years, 0.5) / five->area_m2, spacing->years, closed_in(one), closed_in(five));
    densities_figure(spacing, STAND_ALIVE, 1, "Living plants to the square metre", "plants/m²", note_section(out, "How many live"), arena);
    densities_figure(spacing, STAND_TOP_HEIGHT, 0, "Height of the tallest 100 to the hectare", "m", note_section(out, "How tall"), arena);
    ways_table(spacing, out);
    note_unknown(out, "That unprepared ground is worse is put in here (more deaths at first, slower growth), not found: this cannot show "
                      "whether preparation "
                      "is worth it. Only plots with and without it can.");
    note_unknown(out, "Parameters are illustrative, alike at every density, and not corrected by the records of the plot: look at the "
                      "differences in shape.");
    for (size_t i = 0; i < spacing->start.n_unknown; i++)
        note_unknown(out, "%s", spacing->start.unknown[i]);
    note_source(out, "Methods, parameters and what each rests on: docs/methods/stand.md. Final yield alike over densities: Kira, Ogawa & "
                     "Sakazaki 1953.");
    return out;
}

static enum outcome spacing_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct spacing spacing = {.years = (int)option_integer(in, "years", 30)};
    int64_t runs = option_integer(in, "runs", 40);
    if (spacing.years < 5 || spacing.years > 60 || runs < 4 || runs > 2000)
        return fail(why, OUTCOME_USAGE, "years goes from 5 to 60, runs from 4 to 2,000.");
    enum outcome outcome = stand_start_load(context, option_text(in, "plot", NULL), 0, false, DATE_UNKNOWN, &arena, &spacing.start, why);
    if (outcome == OUTCOME_OK)
        outcome = ways_run(context, in, &spacing, &arena, why);
    if (outcome == OUTCOME_OK)
        *note = spacing_note(&spacing, &arena);
    arena_clear(&arena);
    return outcome;
}

const struct job job_spacing = {
    .name = "spacing",
    .summary = "what may come of one to five plants to the square metre, with and without preparation",
    .about = "Plants the species of a plot over its ground at 1, 2, 3, 4 and 5 to the square metre, on prepared and unprepared ground, and "
             "looks "
             "ahead: how many live, how tall, when the crowns close, how many trees come of it. Illustrative.",
    .example = "spinney spacing wood.gpkg LK/D1 --years 30",
    .access = JOB_LOOKS,
    .options = spacing_options,
    .n_options = sizeof spacing_options / sizeof *spacing_options,
    .bare = spacing_bare,
    .spreads = true,
    .run = spacing_run,
};
