/* SPDX-License-Identifier: GPL-3.0-or-later
 * budget: what the plots cost, and what an established plant may cost. */
#include "ground/ground.h"
#include "work/budgeting.h"
#include "work/jobs.h"
#include <math.h>
#include <string.h>

static const struct option budget_options[] = {
    {"plots", OPTION_TEXT, false, "CODE;CODE", "which plots (all with a plan if not given)"},
    {"years", OPTION_INTEGER, false, "N", "years of watering, weeding and monitoring (3 if not given)"},
    {"survival_low", OPTION_NUMBER, false, "%", "least share established (45 if not given)"},
    {"survival_mode", OPTION_NUMBER, false, "%", "most likely (70 if not given)"},
    {"survival_high", OPTION_NUMBER, false, "%", "greatest (88 if not given)"},
    {"prices", OPTION_FILE_IN, false, "FILE", "CSV: key,price with your own unit costs; keys as in the table"},
    {"weeding_hours", OPTION_NUMBER, false, "H", "weeding hours for each plot and year (6 if not given)"},
    {"waterings", OPTION_INTEGER, false, "N", "waterings for each plot and year (6 if not given)"},
    {"volunteer_low", OPTION_NUMBER, false, "PRICE", "low hourly value of volunteers (12.5 if not given)"},
    {"volunteer_task", OPTION_NUMBER, false, "PRICE", "hourly value of the task (21 if not given)"},
    {"seed", OPTION_INTEGER, false, "N", "seed of the simulation"},
};

static enum outcome prices_load(const struct job_context *context, const json_t *in, struct arena *arena, struct budgeting *job,
                                struct failure *why)
{
    const struct budget_price *defaults = budget_defaults(&job->n_prices);
    job->prices = arena_array(arena, job->n_prices, sizeof *job->prices);
    memcpy(job->prices, defaults, job->n_prices * sizeof *job->prices);
    const char *path = option_text(in, "prices", NULL);
    if (path == NULL)
        return OUTCOME_OK;
    struct bytes bytes;
    struct csv_table table = {.rows = 0};
    enum outcome outcome = input_bytes(context, path, 1 << 20, arena, &bytes, why);
    if (outcome == OUTCOME_OK)
        outcome = csv_read(path, (const char *)bytes.at, bytes.n, ',', 1000, arena, &table, why);
    size_t key = outcome == OUTCOME_OK ? csv_column(&table, "key") : 0, price = outcome == OUTCOME_OK ? csv_column(&table, "price") : 0;
    if (outcome == OUTCOME_OK && (key == SIZE_MAX || price == SIZE_MAX)) {
        fail(why, OUTCOME_DATA, "The price table needs the columns key and price.");
        outcome = failure_at(why, path, 1, NULL);
    }
    for (size_t i = 1; outcome == OUTCOME_OK && i < table.rows; i++) {
        bool found = false;
        for (size_t j = 0; j < job->n_prices && !found; j++)
            if (text_same(job->prices[j].key, csv_cell(&table, i, key))) {
                found = true;
                if (!number_read(csv_cell(&table, i, price), &job->prices[j].price) || job->prices[j].price < 0) {
                    fail(why, OUTCOME_DATA, "\"%.60s\" is no price.", csv_cell(&table, i, price));
                    outcome = failure_at(why, path, table.lines[i], "price");
                }
                job->prices[j].source = "given by the user";
            }
        if (!found) {
            fail(why, OUTCOME_DATA, "There is no unit cost \"%.60s\".", csv_cell(&table, i, key));
            failure_at(why, path, table.lines[i], "key");
            outcome = failure_remedy(why, "The keys are in the first column of the budget's price table.");
        }
    }
    return outcome;
}

static enum outcome budget_plot_load(const struct job_context *context, const json_t *in, const struct plot *plot, struct arena *arena,
                                     struct budget_plot *out, bool *planned, struct failure *why)
{
    struct plan plan;
    struct mix_line *lines = NULL;
    size_t n = 0;
    struct failure none;
    struct shape outline;
    struct preparation preparation;
    double years = (double)option_integer(in, "years", 3);
    *planned = load_plan(context->store, plot, 0, arena, &plan, &none) == OUTCOME_OK;
    if (!*planned)
        return OUTCOME_OK;
    budget_plot_init(out);
    enum outcome outcome = plan_parts_load(context->store, plan.id, arena, &lines, &n, NULL, NULL, NULL, NULL, why);
    if (outcome == OUTCOME_OK)
        outcome = load_shape(plot->wkb, arena, &outline, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    out->code = plot->code;
    out->site_id = plot->site_id;
    out->area_m2 = plan.net_area_m2;
    for (size_t i = 0; i < n; i++)
        out->plants += lines[i].plants;
    out->fence_m = outline.kind == SHAPE_POLYGONS ? shape_length_m(&outline) : unknown_real();
    out->gates = 1;
    out->watering_visits = (double)option_integer(in, "waterings", 6) * years;
    out->weeding_hours = option_number(in, "weeding_hours", 6) * years;
    out->coordinator_hours = 10 + 8 * years;
    out->monitoring_hours = (double)out->plants / 60.0 * (years + 1);
    out->volunteer_hours = (double)out->plants / 12.0 + out->weeding_hours;
    if (plot->preparation_id != 0) {
        struct preparation_site ground;
        struct preparation_quantities quantities;
        outcome = store_get(context->store, NOUN_PREPARATION, plot->preparation_id, arena, &preparation, why);
        preparation_site_init(&ground);
        ground.area_m2 = out->area_m2;
        ground.outline_m = out->fence_m;
        if (outcome == OUTCOME_OK)
            outcome = preparation_quantities(&preparation, &ground, &quantities, why);
        if (outcome == OUTCOME_OK) {
            out->loosened_m2 = preparation.loosened_depth_m > 0 ? out->area_m2 : 0;
            out->compost_m3 = quantities.compost_m3;
            out->mulch_m3 = quantities.mulch_m3;
            out->fence_m = is_known(preparation.fence_m) ? preparation.fence_m : out->fence_m;
        }
    }
    return outcome;
}

static void budget_tables(json_t *out, const struct budgeting *job, const struct cost_ratio *ratios, struct arena *arena)
{
    const char *currency = job->programme.currency;
    json_t *table = section_table(note_section(out, "Plots side by side")), *list = json_array();
    table_column(table, "plot", "plot", "", -1);
    table_column(table, "area", "area", "m²", 1);
    table_column(table, "plants", "plants", "", -1);
    table_column(table, "recipe", "recipe", currency, 0);
    table_column(table, "monitoring", "monitoring", currency, 0);
    table_column(table, "per_plant", "per plant", currency, 2);
    table_column(table, "per_m2", "per m²", currency, 2);
    table_column(table, "established", "per established plant, expected range", "", -1);
    for (size_t i = 0; i < job->n; i++) {
        const struct budget_total *total = &job->budget.totals[i];
        json_t *row = table_row(table);
        row_text(row, job->names[i]);
        row_number(row, job->plots[i].area_m2);
        row_integer(row, job->plots[i].plants);
        row_number(row, total->recipe);
        row_number(row, total->monitoring);
        row_number(row, total->per_plant);
        row_number(row, total->per_m2);
        row_text(row, ratios[i].words);
        json_array_append_new(list, json_pack("{s:s, s:f, s:f, s:f, s:f}", "plot", job->names[i], "recipe",
                                              is_known(total->recipe) ? total->recipe : -1.0, "per_m2",
                                              is_known(total->per_m2) ? total->per_m2 : -1.0, "per_plant",
                                              is_known(total->per_plant) ? total->per_plant : -1.0, "per_established",
                                              is_known(ratios[i].estimate) ? ratios[i].estimate : -1.0));
    }
    json_object_set_new(note_data(out), "plots", list);
    table = section_table(note_section(out, "Lines"));
    table_column(table, "plot", "plot", "", -1);
    table_column(table, "item", "item", "", -1);
    table_column(table, "phase", "phase", "", -1);
    table_column(table, "quantity", "quantity", "", 1);
    table_column(table, "unit", "unit", "", -1);
    table_column(table, "price", "price", currency, 2);
    table_column(table, "amount", "amount", currency, 2);
    table_column(table, "source", "source of the price", "", -1);
    for (size_t i = 0; i < job->budget.n_lines; i++) {
        const struct budget_line *line = &job->budget.lines[i];
        json_t *row = table_row(table);
        row_text(row, job->names[line->plot]);
        row_text(row, line->item);
        row_text(row, word_of(WORDS_COST_PHASE, (int)line->phase));
        row_number(row, line->quantity);
        row_text(row, budget_driver_unit(line->driver));
        row_number(row, line->price);
        row_number(row, line->amount);
        row_text(row, line->source);
    }
    (void)arena;
}

enum outcome budgeting_load(const struct job_context *context, const json_t *in, struct arena *arena, struct budgeting *job,
                            struct failure *why)
{
    void *rows = NULL, *site_rows = NULL;
    size_t n = 0, n_sites = 0;
    enum outcome outcome = load_programme(context->store, arena, &job->programme, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(context->store, NOUN_PLOT, arena, &rows, &n, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(context->store, NOUN_SITE, arena, &site_rows, &n_sites, why);
    if (outcome == OUTCOME_OK)
        outcome = prices_load(context, in, arena, job, why);
    job->plots = arena_array(arena, n, sizeof *job->plots);
    job->names = arena_array(arena, n, sizeof *job->names);
    job->rows = arena_array(arena, n, sizeof *job->rows);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        const struct plot *plot = &((struct plot *)rows)[i];
        const char *name = plot_name(site_rows, n_sites, plot, arena);
        bool planned = false;
        if (!plot_listed(option_text(in, "plots", NULL), name, plot->code))
            continue;
        outcome = budget_plot_load(context, in, plot, arena, &job->plots[job->n], &planned, why);
        if (planned) {
            job->rows[job->n] = plot;
            job->names[job->n++] = name;
        }
    }
    if (outcome == OUTCOME_OK && job->n == 0) {
        fail(why, OUTCOME_DATA, "No plot has a plan to budget for.");
        return failure_remedy(why, "Make one first: spinney mix FILE PLOT");
    }
    job->settings =
        (struct budget_settings){.split = SPLIT_BY_AREA,
                                 .currency = job->programme.currency,
                                 .volunteer_rate = {0, option_number(in, "volunteer_low", 12.5), option_number(in, "volunteer_task", 21)}};
    if (outcome == OUTCOME_OK)
        outcome = budget_make(job->plots, job->n, job->prices, job->n_prices, &job->settings, arena, &job->budget, why);
    return outcome;
}

/* What each plot's budget is reckoned from: the plot and its mix. Prices come from the program or from a file. */
static void budget_behind(json_t *note, const struct budgeting *job, struct arena *arena)
{
    const json_t *sections = json_object_get(note, "sections");
    for (size_t i = 0; i < job->n; i++) {
        const int64_t sets[] = {
            note_rows(note, NOUN_PLOT, arena_print(arena, "id=%s", job->names[i]), 1),
            note_rows(note, NOUN_MIX_LINE, arena_print(arena, "plan.plot=%s;plan.chosen=yes", job->names[i]), INT_UNKNOWN)};
        for (size_t s = 0; s < json_array_size(sections); s++)
            table_behind(json_object_get(json_array_get(sections, s), "table"), job->names[i], note_rows_of(note, sets, 2));
    }
    note_behind(note, note_rows(note, NOUN_MIX_LINE, "plan.chosen=yes", INT_UNKNOWN));
}

static enum outcome budget_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct budgeting job = {.n = 0};
    enum outcome outcome = budgeting_load(context, in, &arena, &job, why);
    const struct budget_settings settings = job.settings;
    struct cost_ratio *ratios = arena_array(&arena, job.n, sizeof *ratios);
    for (size_t i = 0; outcome == OUTCOME_OK && i < job.n; i++) {
        struct survival_belief belief = {.planted = (double)job.plots[i].plants,
                                         .alive = unknown_real(),
                                         .low = option_number(in, "survival_low", 45) / 100,
                                         .mode = option_number(in, "survival_mode", 70) / 100,
                                         .high = option_number(in, "survival_high", 88) / 100};
        outcome =
            cost_per_established(job.budget.totals[i].recipe, 0, &belief, 0.95, 20000,
                                 (uint64_t)option_integer(in, "seed", job.programme.seed), job.programme.currency, &arena, &ratios[i], why);
    }
    if (outcome == OUTCOME_OK) {
        json_t *out = note_new();
        note_answer(out, "%zu plots cost %s to establish and %s to watch, before volunteers.", job.n,
                    money_print(job.budget.all.recipe, job.programme.currency, &arena),
                    money_print(job.budget.all.monitoring, job.programme.currency, &arena));
        budget_tables(out, &job, ratios, &arena);
        section_text(note_section(out, "Volunteers"), "The recipe with volunteers valued at nothing, at %s and at %s an hour: %s, %s, %s.",
                     money_print(settings.volunteer_rate[1], settings.currency, &arena),
                     money_print(settings.volunteer_rate[2], settings.currency, &arena),
                     money_print(job.budget.all.volunteers[0], settings.currency, &arena),
                     money_print(job.budget.all.volunteers[1], settings.currency, &arena),
                     money_print(job.budget.all.volunteers[2], settings.currency, &arena));
        for (size_t i = 0; i < job.budget.n_notes; i++)
            note_unknown(out, "%s", job.budget.notes[i]);
        note_unknown(out, "Per plant, per m² and per established plant rank plots differently; all three belong side by side. None is cost "
                          "per m² of canopy.");
        note_source(out,
                    "Range of the cost per established plant: 20,000 draws of survival from a PERT range (%.0f–%.0f–%.0f %%), a planning "
                    "assumption.",
                    option_number(in, "survival_low", 45), option_number(in, "survival_mode", 70), option_number(in, "survival_high", 88));
        budget_behind(out, &job, &arena);
        *note = out;
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_budget = {
    .name = "budget",
    .summary = "what the plots cost: per plot, per plant, per m², per established plant",
    .about = "Budgets every plot that has a plan from unit costs that you can replace with your own, with monitoring kept apart, "
             "volunteers at three "
             "rates, and the expected cost per established plant as a range.",
    .example = "spinney budget wood.gpkg --years 3",
    .access = JOB_LOOKS,
    .options = budget_options,
    .n_options = sizeof budget_options / sizeof *budget_options,
    .run = budget_run,
};
