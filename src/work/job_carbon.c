/* SPDX-License-Identifier: GPL-3.0-or-later
 * carbon: soil carbon of each plot, what was brought in apart from what was gained since, and where the figure may be cinder. */
#include "ground/ground.h"
#include "draw/draw.h"
#include "work/jobs.h"
#include "work/load.h"
#include "work/site_map.h"

static const struct option carbon_options[] = {
    {"site", OPTION_TEXT, false, "CODE", "only plots of this site (all if not given)"},
};
static const char *const carbon_bare[] = {"site", NULL};

static void row_range(json_t *row, double value, double low, double high)
{
    char shown[120];
    struct draw_value v = {value, low, high};
    value_write(v, 1, "", shown);
    row_text(row, is_known(value) ? shown : NULL);
}

static json_t *number_or_null(double x)
{
    return is_known(x) ? json_real(x) : json_null();
}

/* Mean carbon to nitrogen of the samples, and how many of them look like cinder. */
static size_t cinder_count(const struct soil_sample *samples, size_t n, double *ratio, size_t *known)
{
    size_t doubtful = 0;
    *known = 0;
    *ratio = 0;
    for (size_t i = 0; i < n; i++) {
        double one = carbon_nitrogen_ratio(samples[i].soc_pct, samples[i].total_n_pct);
        if (!is_known(one) || samples[i].carbon_method == CARBON_METHOD_LOSS_ON_IGNITION)
            continue;
        doubtful += carbon_may_be_cinder(samples[i].soc_pct, samples[i].total_n_pct) == TRUTH_YES;
        *ratio += one;
        ++*known;
    }
    *ratio = *known == 0 ? unknown_real() : *ratio / (double)*known;
    return doubtful;
}

struct carbon_tables {
    json_t *rounds, *differences, *list;
    struct figure_row *rows;
    size_t n_rows;
    size_t gained, detected, cinder;
};

static void plot_told(const char *name, const struct carbon_survey *found, double ratio, bool cinder, struct carbon_tables *t,
                      struct arena *arena)
{
    for (size_t i = 0; i < found->n_rounds; i++) {
        const struct carbon_round *r = &found->rounds[i];
        json_t *row = table_row(t->rounds);
        row_text(row, name);
        row_text(row, word_plain(WORDS_TIME_POINT, (int)r->time_point, arena));
        row_text(row, day_words(r->sampled_on, arena));
        row_print(row, "%zu%s", r->composites, r->left_out > 0 ? arena_print(arena, " (%zu left out)", r->left_out) : "");
        row_number(row, r->depth_cm);
        row_range(row, r->fixed_mean, r->fixed_low, r->fixed_high);
        row_range(row, r->mass_mean, r->mass_low, r->mass_high);
    }
    for (size_t i = 0; i < found->n_differences; i++) {
        const struct carbon_difference *d = &found->differences[i];
        json_t *row = table_row(t->differences);
        bool gained = text_same(d->what, "gained"), sure = is_known(d->mass_low) && (d->mass_low > 0 || d->mass_high < 0);
        t->gained += gained;
        t->detected += gained && sure && !cinder;
        row_text(row, name);
        row_text(row, d->what);
        row_range(row, d->mass, d->mass_low, d->mass_high);
        row_range(row, d->fixed, d->fixed_low, d->fixed_high);
        row_number(row, d->detectable_pct);
        row_text(row, d->words);
        if (!text_same(d->what, "changed"))
            t->rows[t->n_rows++] = (struct figure_row){.label = arena_print(arena, "%s %s", name, d->what),
                                                       .value = {d->mass, d->mass_low, d->mass_high},
                                                       .group = gained ? 1 : 0};
        json_array_append_new(t->list, json_pack("{s:s, s:s, s:o, s:o, s:o, s:o, s:b, s:o}", "plot", name, "what", d->what, "mass",
                                                 number_or_null(d->mass), "low", number_or_null(d->mass_low), "high",
                                                 number_or_null(d->mass_high), "ratio", number_or_null(ratio), "cinder", (int)cinder,
                                                 "detectable_pct", number_or_null(d->detectable_pct)));
    }
}

static void columns_add(struct carbon_tables *t, json_t *out)
{
    static const char *const rounds[] = {
        "plot", "when", "day", "composites", "to depth [cm]", "to that depth [t/ha]", "to one mineral mass [t/ha]"};
    static const char *const differences[] = {"plot",    "what", "to one mineral mass [t/ha]", "to one depth [t/ha]", "could be found [%]",
                                              "in words"};
    json_t *section = note_section(out, "Brought in, and gained since");
    section_text(section, "Brought in is compost and mulch carried to the plot; it is no gain of the wood. Stocks at one depth change when "
                          "ground is loosened; those at one mineral mass do not.");
    t->differences = section_table(section);
    for (size_t i = 0; i < sizeof differences / sizeof *differences; i++)
        table_column(t->differences, differences[i], differences[i], "", i == 4 ? 0 : -1);
    t->rounds = section_table(note_section(out, "Stocks at each sampling"));
    for (size_t i = 0; i < sizeof rounds / sizeof *rounds; i++)
        table_column(t->rounds, rounds[i], rounds[i], "", i == 4 ? 0 : -1);
    t->list = json_array();
    json_object_set_new(note_data(out), "carbon", t->list);
}

static enum outcome plot_add(const struct job_context *context, const struct plot *plot, const char *name, struct carbon_tables *t,
                             json_t *out, struct arena *arena, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0, known = 0;
    double ratio = 0;
    struct carbon_survey found;
    struct failure none = {0};
    enum outcome outcome = load_of(context->store, NOUN_SOIL_SAMPLE, "plot_id", plot->id, arena, &rows, &n, why);
    if (outcome != OUTCOME_OK || n == 0)
        return outcome;
    size_t doubtful = cinder_count(rows, n, &ratio, &known);
    bool cinder = known > 0 && 2 * doubtful > known;
    t->cinder += cinder;
    if (cinder)
        note_caution(out, "CINDER",
                     arena_print(arena,
                                 "%s: carbon to nitrogen is %.0f on the mean of %zu samples. Part of this carbon may be cinder, coal or "
                                 "soot, which the laboratory cannot tell from humus: no stock of it is a gain of the wood.",
                                 name, ratio, known),
                     "a soil laboratory that can tell black carbon apart");
    if (carbon_survey(rows, n, 0.95, arena, &found, &none) != OUTCOME_OK) {
        note_unknown(out, "%s: %s", name, none.sentence);
        return OUTCOME_OK;
    }
    plot_told(name, &found, ratio, cinder, t, arena);
    for (size_t i = 0; i < found.n_notes; i++)
        note_unknown(out, "%s: %s", name, found.notes[i]);
    return OUTCOME_OK;
}

static enum outcome carbon_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct site site = {.id = 0};
    void *plots = NULL, *sites = NULL;
    size_t n = 0, n_sites = 0;
    struct carbon_tables t = {.n_rows = 0};
    json_t *out = note_new();
    enum outcome outcome =
        option_text(in, "site", NULL) == NULL ? OUTCOME_OK : load_site(context->store, option_text(in, "site", NULL), &arena, &site, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(context->store, NOUN_SITE, &arena, &sites, &n_sites, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(context->store, NOUN_PLOT, &arena, &plots, &n, why);
    t.rows = arena_array(&arena, 2 * n + 1, sizeof *t.rows);
    columns_add(&t, out);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        const struct plot *plot = &((const struct plot *)plots)[i];
        if (site.id == 0 || plot->site_id == site.id)
            outcome = plot_add(context, plot, plot_name(sites, n_sites, plot, &arena), &t, out, &arena, why);
    }
    if (outcome == OUTCOME_OK && json_array_size(t.list) == 0) {
        fail(why, OUTCOME_DATA, "No plot has carbon sampled at two times.");
        outcome = failure_remedy(why, "Bring in the laboratory's table with plot, time point, depths and density.");
    }
    if (outcome == OUTCOME_OK) {
        struct figure_intervals figure = {.head = {.title = "Carbon brought in, and gained since",
                                                   .x_title = "t/ha to one mineral mass",
                                                   .foot = "Welch's t interval between composites. Gained: now less after amendment."},
                                          .rows = t.rows,
                                          .n_rows = t.n_rows,
                                          .unit = "t/ha",
                                          .digits = 1,
                                          .reference = 0,
                                          .less = "lost",
                                          .more = "more"};
        if (t.n_rows > 0)
            section_drawing(note_section(out, "In one picture"), figure_intervals(&figure));
        const char *warned = t.cinder == 0 ? "" : arena_print(&arena, " On %zu plots the carbon may be partly cinder.", t.cinder);
        if (t.gained == 0)
            note_answer(out, "Whether soil carbon was gained is not known: no plot was sampled after amendment and again.%s", warned);
        else if (t.detected == 0)
            note_answer(out, "No change of soil carbon since the ground was prepared can be told from chance on any of %zu plots.%s",
                        t.gained, warned);
        else
            note_answer(out, "Since the ground was prepared soil carbon has changed by more than chance on %zu of %zu plots.%s", t.detected,
                        t.gained, warned);
        note_source(out, "Stocks to one mineral mass: Wendt & Hauser 2013; von Haden, Yang & DeLucia 2020. Ratio of carbon to nitrogen "
                         "above 25 as a doubt: common practice, no source.");
        *note = json_incref(out);
    }
    json_decref(out);
    arena_clear(&arena);
    return outcome;
}

const struct job job_carbon = {
    .name = "carbon",
    .summary = "soil carbon: brought in, and gained since",
    .about = "Gives soil carbon of each plot before works, after amendment and now, to one depth and to one mineral mass, with what was "
             "carried in kept apart from what was gained since, the smallest change that could have been found, and a doubt where carbon "
             "may be cinder.",
    .example = "spinney carbon wood.gpkg BS",
    .access = JOB_LOOKS,
    .options = carbon_options,
    .n_options = sizeof carbon_options / sizeof *carbon_options,
    .bare = carbon_bare,
    .run = carbon_run,
};
