/* SPDX-License-Identifier: GPL-3.0-or-later
 * mixes: the mixes of several plots and sites at once, with one order: whole bundles, stock, one budget. */
#include "draw/draw.h"
#include "work/jobs.h"
#include "work/mixing.h"
#include "work/site_map.h"
#include <math.h>
#include <string.h>

static const struct option mixes_options[] = {
    {"plots", OPTION_TEXT, false, "CODE;CODE", "which plots (all that have an outline, a density and nothing planted yet, if not given)"},
    {"bundle", OPTION_INTEGER, false, "N", "plants are ordered in multiples of this (1 if not given)"},
    {"bundles", OPTION_TEXT, false, "NAME=N;NAME=N", "other bundle sizes of single species"},
    {"stock", OPTION_TEXT, false, "NAME=N;NAME=N", "plants of a species that can be had in all"},
    {"prices", OPTION_TEXT, false, "NAME=X;NAME=X", "price of one plant of single species, without tax"},
    {"price", OPTION_NUMBER, false, "X", "price of one plant of the other species"},
    {"budget", OPTION_NUMBER, false, "X", "greatest sum for the plants of all plots, as ordered"},
    {"library", OPTION_TEXT, false, "NAME", "species library"},
    {"canopy", OPTION_TEXT, false, "MIN-MAX", "share of the layer on each plot in per cent, such as 35-50"},
    {"subcanopy", OPTION_TEXT, false, "MIN-MAX", "share of the layer in per cent"},
    {"shrub", OPTION_TEXT, false, "MIN-MAX", "share of the layer in per cent"},
    {"pioneer", OPTION_TEXT, false, "MIN-MAX", "share of pioneers in per cent"},
    {"tall_most", OPTION_NUMBER, false, "%", "greatest share of tall canopy trees"},
    {"species_most", OPTION_NUMBER, false, "%", "greatest share of one species"},
    {"genus_most", OPTION_NUMBER, false, "%", "greatest share of one genus"},
    {"family_most", OPTION_NUMBER, false, "%", "greatest share of one family"},
    {"pest_most", OPTION_NUMBER, false, "%", "greatest share of the hosts of one pest"},
    {"least_each", OPTION_INTEGER, false, "N", "plants of a species on a plot if it is used there at all"},
    {"count_least", OPTION_INTEGER, false, "N", "species on each plot at least"},
    {"count_most", OPTION_INTEGER, false, "N", "species on each plot at most"},
    {"without", OPTION_TEXT, false, "NAME;NAME", "not these species"},
    {"widen", OPTION_FLAG, false, NULL, "also species that fit a plot but are not in its community"},
    {"ask_too", OPTION_FLAG, false, NULL, "also species for which something that decides is not known"},
    {"diversity", OPTION_NUMBER, false, "WEIGHT", "weight of evenness beside the composition of the communities"},
    {"seconds", OPTION_NUMBER, false, "S", "limit of time for the solver (10 if not given)"},
    {"seed", OPTION_INTEGER, false, "N", "seed of the plans (the programme's if not given)"},
    {"try", OPTION_FLAG, false, NULL, "only show it, store nothing"},
};
static const char *const mixes_bare[] = {"plots", NULL};

enum { MOST_PLOTS = 60 };
struct joining {
    struct mixing plots[MOST_PLOTS];
    const char *names[MOST_PLOTS];
    size_t n_plots;
    struct mix_species *species; ///< of all plots, each once
    size_t n;
    size_t **at;             ///< at[plot][its species] is the index among all
    double *frequency, *fit; ///< [plots × n]
    bool *absent;            ///< [plots × n] does not belong there
    int64_t *bundle;         ///< [n]
    struct mix_settings settings[MOST_PLOTS];
    struct mix_joint joint;
    struct mix_result result;
};

static enum outcome plots_named(const struct job_context *context, const json_t *in, struct joining *j, struct arena *arena,
                                struct failure *why)
{
    const char *text = option_text(in, "plots", NULL);
    void *rows = NULL, *sites = NULL;
    size_t n = 0, n_sites = 0;
    if (text != NULL) {
        char *copy = arena_text(arena, text), *rest = NULL;
        for (char *part = strtok_r(copy, ";,", &rest); part != NULL; part = strtok_r(NULL, ";,", &rest)) {
            if (j->n_plots == MOST_PLOTS)
                return fail(why, OUTCOME_USAGE, "At most %d plots can be mixed at once.", MOST_PLOTS);
            j->names[j->n_plots++] = text_trim(arena, part);
        }
        return OUTCOME_OK;
    }
    enum outcome outcome = load_all(context->store, NOUN_PLOT, arena, &rows, &n, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(context->store, NOUN_SITE, arena, &sites, &n_sites, why);
    const struct plot *plots = rows;
    for (size_t i = 0; outcome == OUTCOME_OK && i < n && j->n_plots < MOST_PLOTS; i++)
        if (plots[i].wkb.n > 0 && plots[i].density_m2 > 0 && plots[i].planted_on == DATE_UNKNOWN && plots[i].ended_on == DATE_UNKNOWN)
            j->names[j->n_plots++] = plot_name(sites, n_sites, &plots[i], arena);
    if (outcome == OUTCOME_OK && j->n_plots == 0) {
        fail(why, OUTCOME_DATA, "No plot waits for a mix: none has an outline, a density and is not planted yet.");
        outcome = failure_remedy(why, "Name them: spinney mixes FILE 'LK/D1;BS/D1'");
    }
    return outcome;
}

/* One list of species for all plots; each plot keeps its own fit and frequency, and the greatest numbers its ground allows. */
static void species_join(struct joining *j, struct arena *arena)
{
    size_t room = 1;
    for (size_t p = 0; p < j->n_plots; p++)
        room += j->plots[p].n;
    j->species = arena_array(arena, room, sizeof *j->species);
    j->at = arena_array(arena, j->n_plots, sizeof *j->at);
    for (size_t p = 0; p < j->n_plots; p++) {
        j->at[p] = arena_array(arena, j->plots[p].n + 1, sizeof **j->at);
        for (size_t i = 0; i < j->plots[p].n; i++) {
            size_t k = 0;
            while (k < j->n && !text_same(j->species[k].name, j->plots[p].species[i].name))
                k++;
            if (k == j->n)
                j->species[j->n++] = j->plots[p].species[i];
            j->at[p][i] = k;
        }
    }
    j->frequency = arena_array(arena, j->n_plots * j->n, sizeof *j->frequency);
    j->fit = arena_array(arena, j->n_plots * j->n, sizeof *j->fit);
    j->absent = arena_array(arena, j->n_plots * j->n, sizeof *j->absent);
    for (size_t p = 0; p < j->n_plots; p++) {
        for (size_t k = 0; k < j->n; k++) {
            j->frequency[p * j->n + k] = j->fit[p * j->n + k] = unknown_real();
            j->absent[p * j->n + k] = true;
        }
        for (size_t i = 0; i < j->plots[p].n; i++) {
            j->frequency[p * j->n + j->at[p][i]] = j->plots[p].species[i].frequency;
            j->fit[p * j->n + j->at[p][i]] = j->plots[p].species[i].fit;
            j->absent[p * j->n + j->at[p][i]] = false;
        }
    }
}

/* The wishes of each plot in terms of the common list. */
static void wishes_join(struct joining *j, struct arena *arena)
{
    for (size_t p = 0; p < j->n_plots; p++) {
        const struct mixing *plot = &j->plots[p];
        struct mix_wish *wishes = arena_array(arena, plot->n_wishes + 1, sizeof *wishes);
        for (size_t i = 0; i < plot->n_wishes; i++) {
            wishes[i] = plot->wishes[i];
            wishes[i].species = j->at[p][plot->wishes[i].species];
        }
        j->settings[p] = plot->settings;
        j->settings[p].wishes = wishes;
        j->settings[p].n_wishes = plot->n_wishes;
    }
}

/* "NAME=X;…": a figure for single species of the common list. Names that no plot uses are said and passed over. */
static enum outcome figures_read(const json_t *in, const char *option, const struct joining *j, double *out, json_t *note,
                                 struct arena *arena, struct failure *why)
{
    char *copy = arena_text(arena, option_text(in, option, "")), *rest = NULL;
    for (char *part = strtok_r(copy, ";", &rest); part != NULL; part = strtok_r(NULL, ";", &rest)) {
        char *equals = strchr(part, '=');
        double x = 0;
        const struct species_fact *fact[200];
        size_t n = 0, k = 0;
        if (equals == NULL || !number_read(text_trim(arena, equals + 1), &x) || x < 0) {
            fail(why, OUTCOME_USAGE, "%s: \"%.80s\" is not NAME=NUMBER.", option, part);
            return failure_remedy(why, "Write it like 'Betula pendula=200'.");
        }
        *equals = '\0';
        enum outcome outcome = mixing_names(&j->plots[0].library, part, arena, fact, &n, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        if (n != 1)
            return fail(why, OUTCOME_USAGE, "%s: \"%.80s\" names no species.", option, part);
        while (k < j->n && !text_same(j->species[k].name, fact[0]->name))
            k++;
        if (k < j->n)
            out[k] = x;
        else
            note_unknown(note, "%s: %s is on the list of none of these plots.", option, fact[0]->name);
    }
    return OUTCOME_OK;
}

static enum outcome order_read(const json_t *in, struct joining *j, json_t *note, struct arena *arena, struct failure *why)
{
    double *stock = arena_array(arena, j->n, sizeof *stock), *price = arena_array(arena, j->n, sizeof *price);
    double *bundle = arena_array(arena, j->n, sizeof *bundle);
    int64_t usual = option_integer(in, "bundle", 1);
    j->bundle = arena_array(arena, j->n, sizeof *j->bundle);
    for (size_t k = 0; k < j->n; k++) {
        stock[k] = unknown_real();
        price[k] = option_number(in, "price", unknown_real());
        bundle[k] = (double)(usual < 1 ? 1 : usual);
    }
    enum outcome outcome = figures_read(in, "stock", j, stock, note, arena, why);
    if (outcome == OUTCOME_OK)
        outcome = figures_read(in, "prices", j, price, note, arena, why);
    if (outcome == OUTCOME_OK)
        outcome = figures_read(in, "bundles", j, bundle, note, arena, why);
    bool bundled = false;
    for (size_t k = 0; k < j->n; k++) {
        j->species[k].stock = is_known(stock[k]) ? (int64_t)floor(stock[k]) : INT_UNKNOWN;
        j->species[k].price = price[k];
        j->bundle[k] = bundle[k] < 1 ? 1 : (int64_t)floor(bundle[k]);
        bundled |= j->bundle[k] > 1;
    }
    j->joint = (struct mix_joint){.plots = j->settings,
                                  .n_plots = j->n_plots,
                                  .bundle = bundled ? j->bundle : NULL,
                                  .budget = option_number(in, "budget", unknown_real()),
                                  .weight_surplus = 0.2,
                                  .seconds = option_number(in, "seconds", 10),
                                  .frequency = j->frequency,
                                  .fit = j->fit,
                                  .absent = j->absent,
                                  .names = j->names};
    return outcome;
}

/* Solve, and hold species that share narrow ground to what fits on it together. */
static enum outcome joint_solve(const struct job_context *context, struct joining *j, struct arena *arena, struct failure *why)
{
    enum outcome outcome = OUTCOME_OK;
    for (int round = 0; outcome == OUTCOME_OK && round < 4; round++) {
        bool changed = false;
        wishes_join(j, arena);
        outcome = mix_solve_joint(j->species, j->n, &j->joint, arena, context->progress, &j->result, why);
        if (outcome != OUTCOME_OK || j->result.plants == NULL)
            return outcome;
        for (size_t p = 0; p < j->n_plots; p++) {
            struct mixing *plot = &j->plots[p];
            plot->result = j->result;
            plot->result.species_used = 0;
            plot->result.plants = arena_array(arena, plot->n + 1, sizeof *plot->result.plants);
            for (size_t i = 0; i < plot->n; i++) {
                plot->result.plants[i] = j->result.plants[p * j->n + j->at[p][i]];
                plot->result.species_used += plot->result.plants[i] > 0;
            }
            changed |= mixing_tighten(plot);
        }
        if (!changed)
            break;
    }
    return outcome;
}

static enum outcome mixes_store(const struct job_context *context, const json_t *in, struct joining *j, struct plan *plans,
                                struct arena *arena, struct failure *why)
{
    enum outcome outcome = store_begin(context->store, context->author, arena_print(arena, "mixes of %zu plots", j->n_plots), why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct text list = {0};
    for (size_t p = 0; p < j->n_plots; p++)
        text_print(&list, "%s%s", p == 0 ? "" : ", ", j->names[p]);
    const char *note = arena_print(arena, "mixed together with one order: %s", text_get(&list));
    text_free(&list);
    for (size_t p = 0; p < j->n_plots && outcome == OUTCOME_OK; p++)
        outcome = mixing_store(context, in, &j->plots[p], &plans[p], note, arena, why);
    return store_end(context->store, outcome, why);
}

static void mixes_figure(json_t *section, const struct joining *j, struct arena *arena)
{
    struct figure_bar *bars = arena_array(arena, j->n, sizeof *bars);
    size_t n = 0;
    for (enum layer layer = LAYER_CANOPY; layer < LAYER_COUNT; layer++)
        for (size_t k = 0; k < j->n; k++)
            if (j->species[k].layer == layer && j->result.ordered[k] > 0)
                bars[n++] = (struct figure_bar){.label = j->species[k].name,
                                                .label_italic = true,
                                                .value = (double)j->result.ordered[k],
                                                .layer = (int)layer,
                                                .aim_low = unknown_real(),
                                                .aim_high = unknown_real()};
    struct figure_bars figure = {
        .head = {.title = "What is ordered for all plots", .x_title = "plants"}, .bars = bars, .n_bars = n, .unit = "", .by_layer = true};
    section_drawing(section, figure_bars(&figure));
}

static void mixes_tables(json_t *out, const struct joining *j, struct arena *arena)
{
    json_t *section = note_section(out, "Species, plots and the order"), *table = section_table(section), *list = json_array();
    table_column(table, "species", "species", "", -1);
    table_column(table, "layer", "layer", "", -1);
    for (size_t p = 0; p < j->n_plots; p++)
        table_column(table, arena_print(arena, "plot_%zu", p + 1), j->names[p], "", -1);
    table_column(table, "planted", "planted in all", "", -1);
    table_column(table, "ordered", "ordered", "", -1);
    for (enum layer layer = LAYER_CANOPY; layer < LAYER_COUNT; layer++)
        for (size_t k = 0; k < j->n; k++) {
            int64_t sum = 0;
            if (j->species[k].layer != layer || j->result.ordered[k] == 0)
                continue;
            json_t *row = table_row(table), *counts = json_array();
            row_text(row, j->species[k].name);
            row_text(row, word_of(WORDS_LAYER, (int)layer));
            for (size_t p = 0; p < j->n_plots; p++) {
                int64_t plants = j->result.plants[p * j->n + k];
                sum += plants;
                row_integer(row, plants);
                json_array_append_new(counts, json_integer(plants));
            }
            row_integer(row, sum);
            row_integer(row, j->result.ordered[k]);
            json_array_append_new(list, json_pack("{s:s, s:o, s:I, s:I}", "species", j->species[k].name, "plots", counts, "planted",
                                                  (json_int_t)sum, "ordered", (json_int_t)j->result.ordered[k]));
        }
    json_object_set_new(note_data(out), "mix", list);
    mixes_figure(section, j, arena);
}

static void plots_table(json_t *out, const struct joining *j)
{
    json_t *table = section_table(note_section(out, "Plots"));
    table_column(table, "plot", "plot", "", -1);
    table_column(table, "community", "follows", "", -1);
    table_column(table, "plants", "plants", "", -1);
    table_column(table, "species", "species", "", -1);
    table_column(table, "offered", "species that belong there", "", -1);
    table_column(table, "shannon", "Shannon entropy", "nats", 2);
    for (size_t p = 0; p < j->n_plots; p++) {
        json_t *row = table_row(table);
        row_text(row, j->names[p]);
        row_text(row, j->plots[p].community);
        row_integer(row, j->plots[p].settings.total);
        row_integer(row, j->plots[p].result.species_used);
        row_integer(row, (int64_t)j->plots[p].n);
        row_number(row, mix_shannon(j->plots[p].result.plants, j->plots[p].n));
    }
}

static json_t *mixes_note(json_t *out, const struct joining *j, bool stored, struct arena *arena)
{
    int64_t planted = 0, ordered = 0;
    double money = 0;
    json_t *data = note_data(out);
    bool found = j->result.plants != NULL;
    json_object_set_new(data, "possible", json_boolean(found));
    json_object_set_new(data, "proven", json_boolean(j->result.state == MIX_BEST));
    if (!found) {
        struct mixing shown = {.result = j->result};
        note_answer(out, "No mixes for these %zu plots: %s", j->n_plots, j->result.proof);
        mixing_sections(out, &shown);
        return out;
    }
    for (size_t p = 0; p < j->n_plots; p++)
        planted += j->plots[p].settings.total;
    for (size_t k = 0; k < j->n; k++) {
        ordered += j->result.ordered[k];
        money += j->result.ordered[k] > 0 ? (double)j->result.ordered[k] * j->species[k].price : 0;
    }
    note_answer(out, "%lld plants of %lld species for %zu plots; %lld are ordered, %lld of them surplus.%s %s%s%s", (long long)planted,
                (long long)j->result.species_used, j->n_plots, (long long)ordered, (long long)(ordered - planted),
                is_known(money) ? arena_print(arena, " They cost %.2f.", money) : "", j->result.proof,
                j->result.relaxed_words == NULL ? "" : " ", j->result.relaxed_words == NULL ? "" : j->result.relaxed_words);
    plots_table(out, j);
    mixes_tables(out, j, arena);
    struct mixing shown = {.result = j->result};
    if (shown.result.n_relaxed > 0)
        mixing_relaxed(out, &shown.result);
    if (!is_known(money))
        note_unknown(out, "What it costs: the price of at least one species that is used was not given.");
    if (!stored)
        note_unknown(out, "Nothing is stored.");
    note_source(out, "Solved by %s.", j->result.solver);
    json_object_set_new(data, "gap", json_real(is_known(j->result.gap) ? j->result.gap : -1));
    json_object_set_new(data, "objective", json_real(j->result.objective));
    json_object_set_new(data, "planted", json_integer(planted));
    json_object_set_new(data, "ordered", json_integer(ordered));
    json_object_set_new(data, "cost", is_known(money) ? json_real(money) : json_null());
    return out;
}

static enum outcome mixes_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct joining *j = arena_alloc(&arena, sizeof *j);
    struct plan plans[MOST_PLOTS];
    json_t *out = note_new(), *each = json_deep_copy(in);
    *j = (struct joining){.n = 0};
    json_object_del(each, "plots");
    enum outcome outcome = plots_named(context, in, j, &arena, why);
    for (size_t p = 0; p < j->n_plots && outcome == OUTCOME_OK; p++) {
        outcome = mixing_load(context, j->names[p], each, &arena, &j->plots[p], why);
        if (outcome == OUTCOME_OK)
            outcome = mixing_species(context, each, &j->plots[p], &arena, why);
        j->names[p] =
            outcome != OUTCOME_OK ? j->names[p] : arena_print(&arena, "%s/%s", j->plots[p].ground.site.code, j->plots[p].ground.plot.code);
    }
    if (outcome == OUTCOME_OK) {
        species_join(j, &arena);
        outcome = order_read(in, j, out, &arena, why);
    }
    if (outcome == OUTCOME_OK)
        outcome = joint_solve(context, j, &arena, why);
    bool stored = outcome == OUTCOME_OK && j->result.plants != NULL && !option_flag(in, "try");
    if (stored)
        outcome = mixes_store(context, each, j, plans, &arena, why);
    if (outcome == OUTCOME_OK)
        *note = mixes_note(out, j, stored, &arena);
    else
        json_decref(out);
    json_decref(each);
    arena_clear(&arena);
    return outcome;
}

const struct job job_mixes = {
    .name = "mixes",
    .summary = "the mixes of several plots and sites at once, with one order",
    .about =
        "Chooses the numbers of all plots together: each follows its own community and ground, and species that do not belong somewhere "
        "stay "
        "out of there; what they share is the order, with whole bundles, stock, prices and one budget. Proven best, or the best found with "
        "its gap when the time is up. Each plot gets a new plan, all as one step.",
    .example = "spinney mixes wood.gpkg 'LK/D1;BS/D1' --bundle 25 --price 0.95 --budget 900",
    .access = JOB_WRITES,
    .options = mixes_options,
    .n_options = sizeof mixes_options / sizeof *mixes_options,
    .bare = mixes_bare,
    .run = mixes_run,
};
