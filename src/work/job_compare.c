/* SPDX-License-Identifier: GPL-3.0-or-later
 * compare: what differs between the plots, what may be said of it, and which plots would separate the causes.
 * power: how many plants, plots and sites a question needs. */
#include "trial/trial.h"
#include "work/jobs.h"
#include "work/note.h"
#include "work/treatments.h"
#include <math.h>

static const struct option compare_options[] = {
    {"site", OPTION_TEXT, false, "CODE", "which site (all if not given)"},
};
static const char *const compare_bare[] = {"site", NULL};

static const char *mark_word(enum trial_mark mark)
{
    static const char *const words[] = {"same", "differs", "not known"};
    return words[mark];
}

static void levels_table(json_t *out, const struct trial_plot *plots, size_t n)
{
    json_t *table = section_table(note_section(out, "The plots"));
    table_column(table, "plot", "plot", "", -1);
    for (int factor = 0; factor < TRIAL_FACTORS; factor++)
        table_column(table, trial_factor_word((enum trial_factor)factor), trial_factor_word((enum trial_factor)factor), "", -1);
    table_column(table, "ground", "ground given", "", -1);
    for (size_t i = 0; i < n; i++) {
        json_t *row = table_row(table);
        row_print(row, "%s/%s", plots[i].site, plots[i].code);
        for (int factor = 0; factor < TRIAL_FACTORS; factor++)
            row_text(row, plots[i].levels[factor]);
        row_text(row, plots[i].allocation == ALLOCATION_METHOD_UNKNOWN        ? NULL
                      : plots[i].allocation == ALLOCATION_METHOD_DRAWN_BY_LOT ? "by lot"
                                                                              : "chosen");
    }
}

static void pairs_table(json_t *out, const struct trial_plot *plots, const struct trial_table *found)
{
    json_t *table = section_table(note_section(out, "Difference table"));
    table_column(table, "pair", "pair", "", -1);
    for (int factor = 0; factor < TRIAL_FACTORS; factor++)
        table_column(table, trial_factor_word((enum trial_factor)factor), trial_factor_word((enum trial_factor)factor), "", -1);
    table_column(table, "sentence", "what the difference may be given to", "", -1);
    for (size_t i = 0; i < found->n_pairs; i++) {
        const struct trial_pair *pair = &found->pairs[i];
        json_t *row = table_row(table);
        row_print(row, "%s: %s − %s", plots[pair->a].site, plots[pair->a].code, plots[pair->b].code);
        for (int factor = 0; factor < TRIAL_FACTORS; factor++)
            row_text(row, mark_word(pair->marks[factor]));
        row_text(row, pair->sentence);
    }
}

static void additions(json_t *out, const struct trial_plot *plots, size_t n, const struct trial_table *found, struct arena *arena)
{
    json_t *table = NULL;
    for (int factor = 0; factor < TRIAL_FACTORS; factor++) {
        struct trial_addition addition;
        struct failure none;
        if (!found->factors[factor].varies || found->factors[factor].clean_pairs > 0)
            continue;
        /* smallest number first; of equals the fewest departures: every set is tried */
        if (trial_separate(plots, n, (enum trial_factor)factor, arena, &addition, &none) != OUTCOME_OK || addition.n_plots == 0)
            continue;
        if (table == NULL) {
            table = section_table(note_section(out, "Plots that would separate a cause"));
            table_column(table, "cause", "cause", "", -1);
            table_column(table, "plots", "smallest addition", "", -1);
        }
        json_t *row = table_row(table);
        row_text(row, trial_effect_word((enum trial_factor)factor));
        row_text(row, addition.sentence);
    }
}

/* Rank and alias table: what the plots determine if effects add up, and what moves together. */
static void rank_section(json_t *out, const struct trial_table *found)
{
    json_t *section = note_section(out, "Rank and aliases"), *list = json_array();
    section_text(
        section, "If effects add up, the plots determine %zu of %zu unknowns (a level for each site, and each factor's differences)%s",
        found->rank, found->columns,
        found->n_aliases == 0 ? ": all of them."
                              : "; each of the others equals a sum of these in every plot, so that no analysis can tell them apart.");
    if (found->n_aliases > 0) {
        json_t *table = section_table(section);
        table_column(table, "alias", "in every plot", "", -1);
        for (size_t i = 0; i < found->n_aliases; i++)
            row_text(table_row(table), found->aliases[i]);
    }
    for (size_t i = 0; i < found->n_aliases; i++)
        json_array_append_new(list, json_string(found->aliases[i]));
    json_object_set_new(note_data(out), "aliases", list);
    json_object_set_new(note_data(out), "columns", json_integer((json_int_t)found->columns));
}

/* Plots nobody plants are a baseline; stock read from an order is what was ordered. */
static void baselines_and_doubts(json_t *out, struct store *store, const struct trial_plot *plots, size_t n, struct arena *arena)
{
    void *orders = NULL, *came = NULL;
    size_t n_orders = 0, n_came = 0;
    struct failure none;
    for (size_t i = 0; i < n; i++)
        if (plots[i].unplanted)
            note_unknown(out,
                         "%s/%s is not planted: a baseline for soil, wildlife and what arrives by itself. It is in no difference "
                         "between recipes.",
                         plots[i].site, plots[i].code);
    if (load_all(store, NOUN_ORDER_LINE, arena, &orders, &n_orders, &none) == OUTCOME_OK && n_orders > 0 &&
        load_all(store, NOUN_DELIVERY_LINE, arena, &came, &n_came, &none) == OUTCOME_OK && n_came == 0)
        note_unknown(out, "Plant stock is taken from the order; no delivery is recorded, so what came may differ from it.");
}

static enum outcome compare_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct site site = {.id = 0};
    struct trial_plot *plots = NULL;
    struct plot *rows = NULL;
    struct trial_table found;
    size_t n = 0;
    enum outcome outcome =
        option_text(in, "site", NULL) == NULL ? OUTCOME_OK : load_site(context->store, option_text(in, "site", NULL), &arena, &site, why);
    if (outcome == OUTCOME_OK)
        outcome = treatments_load(context->store, site.id, &arena, &plots, &rows, &n, why);
    if (outcome == OUTCOME_OK)
        outcome = trial_compare(plots, n, &arena, &found, why);
    if (outcome == OUTCOME_OK) {
        json_t *out = note_new(), *list = json_array();
        note_answer(out, "%s", found.summary);
        pairs_table(out, plots, &found);
        json_t *table = section_table(note_section(out, "What can be told apart"));
        table_column(table, "factor", "factor", "", -1);
        table_column(table, "pairs", "pairs that differ in it alone", "", -1);
        table_column(table, "sites", "on sites", "", -1);
        table_column(table, "sentence", "in words", "", -1);
        for (int factor = 0; factor < TRIAL_FACTORS; factor++) {
            const struct trial_attribution *one = &found.factors[factor];
            if (!one->varies)
                continue;
            json_t *row = table_row(table);
            row_text(row, trial_factor_word((enum trial_factor)factor));
            row_integer(row, (int64_t)one->clean_pairs);
            row_integer(row, (int64_t)one->clean_sites);
            row_text(row, one->sentence);
            json_array_append_new(list,
                                  json_pack("{s:s, s:b, s:I, s:s?}", "factor", trial_factor_word((enum trial_factor)factor), "estimable",
                                            (int)one->estimable, "clean_pairs", (json_int_t)one->clean_pairs, "sentence", one->sentence));
        }
        rank_section(out, &found);
        additions(out, plots, n, &found, &arena);
        baselines_and_doubts(out, context->store, plots, n, &arena);
        levels_table(out, plots, n);
        json_object_set_new(note_data(out), "factors", list);
        json_object_set_new(note_data(out), "rank", json_integer((json_int_t)found.rank));
        *note = out;
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_compare = {
    .name = "compare",
    .summary = "what differs between plots, and what may be said of it",
    .about = "Lists every difference between each pair of plots of a site and says in words what a difference in outcome could be given "
             "to, and which "
             "plots would have to be added to separate the causes.",
    .example = "spinney compare wood.gpkg LK",
    .access = JOB_LOOKS,
    .options = compare_options,
    .n_options = sizeof compare_options / sizeof *compare_options,
    .bare = compare_bare,
    .run = compare_run,
};

static const struct option power_options[] = {
    {"sites", OPTION_INTEGER, false, "N", "sites with a pair of plots (6 if not given)"},
    {"plants_a", OPTION_INTEGER, false, "N", "plants in each dense plot (300)"},
    {"plants_b", OPTION_INTEGER, false, "N", "plants in each comparison plot (100)"},
    {"share_a", OPTION_NUMBER, false, "%", "survival expected in the dense plots (80)"},
    {"share_b", OPTION_NUMBER, false, "%", "survival expected in the comparison plots (65)"},
    {"icc", OPTION_NUMBER, false, "X", "likeness of plants of one plot (0.08, a planning assumption)"},
    {"site_icc", OPTION_NUMBER, false, "X", "part of it that both plots of a site share (0.5)"},
    {"runs", OPTION_INTEGER, false, "N", "simulated programmes (2000)"},
    {"seed", OPTION_INTEGER, false, "N", "seed (1)"},
};

static enum outcome power_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct trial_simulation wish = {.sites = (size_t)option_integer(in, "sites", 6),
                                    .plants_a = (size_t)option_integer(in, "plants_a", 300),
                                    .plants_b = (size_t)option_integer(in, "plants_b", 100),
                                    .share_a = option_number(in, "share_a", 80) / 100,
                                    .share_b = option_number(in, "share_b", 65) / 100,
                                    .icc = option_number(in, "icc", 0.08),
                                    .site_icc = option_number(in, "site_icc", 0.5),
                                    .alpha = 0.05,
                                    .runs = (size_t)option_integer(in, "runs", 2000),
                                    .seed = (uint64_t)option_integer(in, "seed", 1)};
    struct trial_simulated found;
    enum outcome outcome = trial_simulate(&wish, context->progress, &found, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    json_t *out = note_new(), *table = section_table(note_section(out, "What such a programme would find"));
    note_answer(out,
                "With %zu sites, a true difference of %.0f points would be found in %.0f %% of such programmes; the interval would reach "
                "±%.0f points.",
                wish.sites, 100 * (wish.share_a - wish.share_b), 100 * found.power, 100 * found.half_width);
    table_column(table, "what", "what", "", -1);
    table_column(table, "value", "value", "", 3);
    const struct {
        const char *what;
        double value;
    } lines[] = {
        {"power: paired test of plot survivals over sites", found.power},
        {"its simulation error (standard error)", found.power_se},
        {"what counting plants as independent would claim", found.naive_power},
        {"how often that count cries wolf with no difference (should be 0.05)", found.naive_error},
        {"mean half-width of the 95 % interval, as a share", found.half_width},
        {"smallest p that this many pairs can reach", trial_least_p_pairs((double)wish.sites)},
    };
    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++) {
        json_t *row = table_row(table);
        row_text(row, lines[i].what);
        row_number(row, lines[i].value);
    }
    json_object_set_new(note_data(out), "power", json_real(found.power));
    json_object_set_new(note_data(out), "half_width", json_real(found.half_width));
    note_unknown(out,
                 "The likeness of plants within a plot (%.2f) is a planning assumption: published values for such plantings are scarce.",
                 wish.icc);
    *note = out;
    return OUTCOME_OK;
}

const struct job job_power = {
    .name = "power",
    .summary = "what a programme of so many sites and plants could find",
    .about = "Simulates programmes with plots and sites as clusters and tells how often a true difference would be found, how wide the "
             "interval would "
             "be, and what counting plants as independent would wrongly claim.",
    .example = "spinney power --sites 6 --share-a 80 --share-b 65",
    .access = JOB_FREE,
    .options = power_options,
    .n_options = sizeof power_options / sizeof *power_options,
    .run = power_run,
};
