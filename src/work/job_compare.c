/* SPDX-License-Identifier: GPL-3.0-or-later
 * compare: what differs between the plots, what may be said of it, and which plots would separate the causes. */
#include "trial/trial.h"
#include "work/care_load.h"
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
    size_t to_come = 0;
    for (size_t i = 0; i < n; i++)
        to_come += !plots[i].unplanted && text_same(plots[i].levels[TRIAL_DATE], "not yet planted");
    if (to_come > 0)
        note_unknown(out,
                     "%zu plots are not planted yet: plant stock, planting date and care count as alike between them. Hold them alike, and "
                     "this is what can be said; what then differs takes it away again.",
                     to_come);
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
        outcome = unequal_care_told(context->store, site.id, out, &arena, why);
        note_behind(out, note_rows(out, NOUN_PLOT, site.id == 0 ? "" : arena_print(&arena, "site=%s", site.code), (int64_t)n));
        if (outcome == OUTCOME_OK)
            *note = json_incref(out);
        json_decref(out);
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
