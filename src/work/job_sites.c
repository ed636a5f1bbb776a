/* SPDX-License-Identifier: GPL-3.0-or-later
 * sites: across plots and sites. Which sites report; pairs of plots; pooling with a forest plot; all plots in one model. */
#include "draw/draw.h"
#include "evidence/sites.h"
#include "work/evidence_load.h"
#include "work/jobs.h"
#include "work/site_map.h"
#include <math.h>

static const double LEVEL = 0.95;

static const struct option sites_options[] = {
    {"first", OPTION_TEXT, false, "REGIME",
     "regime on the left of the difference, such as dense_prepared (all pairs that occur if not given)"},
    {"second", OPTION_TEXT, false, "REGIME", "regime on its right, such as conventional"},
    {"squares", OPTION_FLAG, false, NULL, "give every square metre its own effect in the model (slower)"},
};

static json_t *number_or_null(double x)
{
    return isfinite(x) ? json_real(x) : json_null();
}

/* ---- which sites report ---- */

static void roll_table(const struct sites_roll *roll, json_t *note, json_t *section, json_t *list, struct arena *arena)
{
    static const char *const titles[] = {
        "site", "standing", "plots", "planted", "last census", "censuses", "missed", "alive of planted", "departs from the recipe"};
    json_t *table = section_table(section);
    for (size_t i = 0; i < sizeof titles / sizeof *titles; i++)
        table_column(table, titles[i], titles[i], "", -1);
    for (size_t i = 0; i < roll->n; i++) {
        const struct site_report *s = &roll->sites[i];
        json_t *row = table_row(table);
        row_text(row, s->site->name);
        row_text(row, s->standing == SITE_SILENT ? arena_print(arena, "not reporting since %s", day_words(s->last_on, arena))
                                                 : site_standing_words(s->standing));
        row_integer(row, (int64_t)s->plots);
        row_text(row, s->planted_on == DATE_UNKNOWN ? NULL : day_words(s->planted_on, arena));
        row_text(row, s->last_on == DATE_UNKNOWN ? NULL : day_words(s->last_on, arena));
        row_integer(row, (int64_t)s->censuses);
        row_integer(row, (int64_t)s->missed);
        if (s->planted > 0)
            row_print(row, "%lld of %lld", (long long)s->alive, (long long)s->planted);
        else
            row_text(row, NULL);
        row_text(row, s->deviations == NULL ? "none known" : s->deviations);
        figures_behind(table, note_rows(note, NOUN_PLANT_RECORD,
                                        arena_print(arena, "plant.plot.site=%s;plant.origin=first_planting", s->site->code), INT_UNKNOWN));
        json_array_append_new(list,
                              json_pack("{s:s, s:s, s:I, s:I, s:I, s:I, s:s?}", "site", s->site->code, "standing",
                                        site_standing_words(s->standing), "plots", (json_int_t)s->plots, "missed", (json_int_t)s->missed,
                                        "planted", (json_int_t)s->planted, "alive", (json_int_t)s->alive, "deviations", s->deviations));
    }
}

enum outcome roll_section(const struct evidence *evidence, json_t *note, struct arena *arena, struct failure *why)
{
    struct sites_roll roll;
    enum outcome outcome = evidence_roll(&evidence->facts, evidence->lives, arena, &roll, why);
    if (outcome != OUTCOME_OK || roll.n == 0)
        return outcome;
    json_t *section = note_section(note, "Every site that was started, planned or turned down"), *list = json_array();
    section_text(section, "%s A site that stopped reporting or was given up stays in this list: leaving it out would flatter the rest.",
                 roll.sentence);
    roll_table(&roll, note, section, list, arena);
    json_object_set_new(note_data(note), "sites", list);
    json_object_set_new(note_data(note), "sites_sentence", json_string(roll.sentence));
    return OUTCOME_OK;
}

/* ---- pooling ---- */

static void forest_figure(const struct site_difference *pairs, const struct sites_pool *pool, const char *a, const char *b, json_t *section,
                          struct arena *arena)
{
    size_t n = pool->n;
    double most = 0, z = normal_quantile(0.5 + LEVEL / 2);
    struct figure_row *rows = arena_array(arena, n + 2, sizeof *rows);
    for (size_t i = 0; i < n; i++)
        most = fmax(most, pool->main->weight_percent[i]);
    for (size_t i = 0; i < n; i++) {
        double se = sqrt(pool->variance[i]);
        rows[i] = (struct figure_row){.label = pairs[i].site->name,
                                      .value = {100 * pool->effect[i], 100 * (pool->effect[i] - z * se), 100 * (pool->effect[i] + z * se)},
                                      .note = arena_print(arena, "%lld of %lld, %lld of %lld; weight %.0f %%", (long long)pairs[i].sa.alive,
                                                          (long long)(pairs[i].sa.alive + pairs[i].sa.dead), (long long)pairs[i].sb.alive,
                                                          (long long)(pairs[i].sb.alive + pairs[i].sb.dead), pool->main->weight_percent[i]),
                                      .weight = pool->main->weight_percent[i] / most,
                                      .group = 1};
    }
    const struct estimate *e = &pool->main->effect;
    rows[n] = (struct figure_row){.label = "pooled", .value = {100 * e->value, 100 * e->low, 100 * e->high}, .summary = true};
    size_t n_rows = n + 1;
    if (is_known(pool->main->predict_low))
        rows[n_rows++] = (struct figure_row){.label = "a new site would lie",
                                             .value = {unknown_real(), 100 * pool->main->predict_low, 100 * pool->main->predict_high}};
    struct figure_intervals figure = {
        .head =
            {.title = arena_print(arena, "Survival: %s less %s, pooled over sites", a, b),
             .x_title = "difference [percentage points]",
             .foot =
                 "Squares: sites, 95 % of these plots, size by weight (restricted likelihood). Diamond: Hartung–Knapp. Dotted: prediction "
                 "for a new site."},
        .rows = rows,
        .n_rows = n_rows,
        .unit = "points",
        .reference = 0,
        .less = arena_print(arena, "%s better", b),
        .more = arena_print(arena, "%s better", a),
        .margin = unknown_real()};
    section_drawing(section, figure_intervals(&figure));
}

static void pool_tables(const struct site_difference *pairs, const struct sites_pool *pool, json_t *section, json_t *note,
                        const char *heading, struct arena *arena)
{
    static const char *const titles[] = {"way", "difference",    "low",           "high", "p", "between sites (sd)",
                                         "I²",  "new site, low", "new site, high"};
    json_t *table = section_table(section);
    for (size_t i = 0; i < sizeof titles / sizeof *titles; i++)
        table_column(table, titles[i], titles[i],
                     i == 6            ? "%"
                     : i > 0 && i != 4 ? "points"
                                       : "",
                     i == 0   ? -1
                     : i == 4 ? 3
                     : i == 6 ? 0
                              : 1);
    for (int way = 0; way < POOL_WAYS; way++) {
        const struct pool_result *r = &pool->ways[way];
        const double cells[] = {100 * r->effect.value, 100 * r->effect.low, 100 * r->effect.high, r->test.p,
                                100 * sqrt(r->tau2),   r->i2_percent,       100 * r->predict_low, 100 * r->predict_high};
        json_t *row = table_row(table);
        row_text(row, pool->names[way]);
        for (size_t i = 0; i < sizeof cells / sizeof *cells; i++)
            row_number(row, cells[i]);
    }
    if (pool->most_without == SIZE_MAX)
        return;
    json_t *out = section_table(note_section(note, arena_print(arena, "%s with each site left out", heading)));
    table_column(out, "without", "without", "", -1);
    table_column(out, "pooled", "pooled difference", "points", 1);
    table_column(out, "low", "low", "points", 1);
    table_column(out, "high", "high", "points", 1);
    for (size_t i = 0; i < pool->n; i++) {
        json_t *row = table_row(out);
        row_text(row, pairs[i].site->name);
        row_number(row, 100 * pool->main->without[i].value);
        row_number(row, 100 * pool->main->without[i].low);
        row_number(row, 100 * pool->main->without[i].high);
    }
}

enum outcome pool_section(const struct evidence *evidence, enum regime a, enum regime b, json_t *note, struct arena *arena,
                          struct failure *why)
{
    struct site_difference *pairs = NULL;
    struct sites_pool pool;
    size_t n = 0;
    const char *wa = word_plain(WORDS_REGIME, (int)a, arena), *wb = word_plain(WORDS_REGIME, (int)b, arena),
               *heading = arena_print(arena, "Pooled: %s beside %s", wa, wb);
    enum outcome outcome = evidence_pairs(&evidence->facts, evidence->lives, a, b, LEVEL, arena, &pairs, &n, why);
    if (outcome != OUTCOME_OK || n < 2)
        return outcome;
    outcome = evidence_pool(pairs, n, LEVEL, arena, &pool, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    json_t *section = note_section(note, heading), *list = json_object_get(note_data(note), "pooled");
    section_text(section, "%s%s", pool.sentence,
                 n < 5 ? " With so few sites the spread between them is hardly known: read the interval as a guess." : "");
    pool_tables(pairs, &pool, section, note, heading, arena);
    forest_figure(pairs, &pool, wa, wb, section, arena);
    if (list == NULL) {
        list = json_array();
        json_object_set_new(note_data(note), "pooled", list);
    }
    const struct pool_result *m = pool.main;
    json_array_append_new(list, json_pack("{s:s, s:s, s:I, s:o, s:o, s:o, s:o, s:o, s:o, s:s}", "a", word_of(WORDS_REGIME, (int)a), "b",
                                          word_of(WORDS_REGIME, (int)b), "sites", (json_int_t)n, "value", number_or_null(m->effect.value),
                                          "low", number_or_null(m->effect.low), "high", number_or_null(m->effect.high), "tau",
                                          number_or_null(sqrt(m->tau2)), "predict_low", number_or_null(m->predict_low), "predict_high",
                                          number_or_null(m->predict_high), "sentence", pool.sentence));
    note_source(note,
                "Pooling: DerSimonian & Laird 1986; Viechtbauer 2005 (restricted likelihood); Paule & Mandel 1982; Hartung & Knapp 2001; "
                "prediction: Higgins, Thompson & Spiegelhalter 2009; variances: Agresti & Caffo 2000, Am Stat 54:280.");
    return OUTCOME_OK;
}

/* ---- all plots in one model ---- */

static void model_tables(const struct sites_model *m, json_t *section, json_t *note, struct arena *arena)
{
    static const char *const titles[] = {"regime", "plots", "counted", "survival on an average site", "odds ratio", "low", "high", "p"};
    json_t *table = section_table(section);
    for (size_t i = 0; i < sizeof titles / sizeof *titles; i++)
        table_column(table, titles[i], titles[i], i == 3 ? "%" : "", i == 3 ? 0 : i == 7 ? 3 : i >= 4 ? 2 : -1);
    for (size_t i = 0; i < m->n; i++) {
        const struct regime_effect *e = &m->regimes[i];
        json_t *row = table_row(table);
        row_print(row, "%s%s", word_plain(WORDS_REGIME, (int)e->regime, arena), i == 0 ? " (reference)" : "");
        row_integer(row, (int64_t)e->plots);
        row_print(row, "%lld of %lld", (long long)e->alive, (long long)e->known);
        row_number(row, 100 * e->survival);
        row_number(row, e->odds.value);
        row_number(row, e->odds.low);
        row_number(row, e->odds.high);
        row_number(row, e->p);
    }
    json_t *spread = section_table(note_section(note, "How far things of a kind differ"));
    table_column(spread, "what", "what", "", -1);
    table_column(spread, "sd", "spread (sd of log odds)", "", 2);
    table_column(spread, "median", "odds ratio of two of them, median", "", 2);
    for (size_t t = 0; t < m->n_terms; t++) {
        json_t *row = table_row(spread);
        row_text(row, m->terms[t].name);
        row_number(row, m->terms[t].sd);
        row_number(row, m->terms[t].median_odds);
    }
}

enum outcome model_section(const struct evidence *evidence, bool squares, json_t *note, struct arena *arena, struct failure *why)
{
    struct sites_model m;
    struct failure one = {0};
    enum outcome outcome =
        evidence_sites_model(evidence->lives, evidence->facts.n_plots, squares, LEVEL, (uint64_t)evidence->programme.seed, arena, &m, &one);
    if (outcome == OUTCOME_DATA) {
        note_unknown(note, "%s", one.sentence);
        return OUTCOME_OK;
    }
    if (outcome != OUTCOME_OK) {
        *why = one;
        return outcome;
    }
    json_t *section = note_section(note, "All plots in one model");
    section_text(section, "%s%s%s", m.sentence,
                 m.has_shuffle ? arena_print(arena, " Shuffling regimes over the plots of each site gives p %.3f (least reachable %.2g).",
                                             m.shuffle.p, m.shuffle.p_least)
                               : "",
                 m.singular ? " Some spread was found to be nil, which so few plots cannot prove." : "");
    model_tables(&m, section, note, arena);
    json_t *regimes = json_array();
    for (size_t i = 0; i < m.n; i++)
        json_array_append_new(regimes,
                              json_pack("{s:s, s:o, s:o, s:o, s:o, s:o}", "regime", word_of(WORDS_REGIME, (int)m.regimes[i].regime),
                                        "survival", number_or_null(m.regimes[i].survival), "odds", number_or_null(m.regimes[i].odds.value),
                                        "low", number_or_null(m.regimes[i].odds.low), "high", number_or_null(m.regimes[i].odds.high), "p",
                                        number_or_null(m.regimes[i].p)));
    json_t *terms = json_object();
    for (size_t t = 0; t < m.n_terms; t++)
        json_object_set_new(terms, m.terms[t].name, number_or_null(m.terms[t].sd));
    json_object_set_new(note_data(note), "model",
                        json_pack("{s:o, s:o, s:f, s:s}", "regimes", regimes, "spread_sd", terms, "df", m.df, "sentence", m.sentence));
    note_unknown(note, "The model adds what the regimes have in common over sites; like the pairs it cannot tell density from what always "
                       "comes with it.");
    note_source(note,
                "Model: logistic with random effects of site, plot, species%s (Laplace; Bates et al. 2015, J Stat Softw 67(1)); degrees of "
                "freedom between–within (Li & Redden 2015, BMC Med Res Methodol 15:38); median odds ratio: Larsen & Merlo 2005, Am J "
                "Epidemiol 161:81.",
                squares ? " and square" : "");
    return OUTCOME_OK;
}

/* ---- the job ---- */

static enum outcome regime_named(const json_t *in, const char *name, int *regime, struct failure *why)
{
    const char *word = option_text(in, name, NULL);
    *regime = word == NULL ? 0 : word_find(WORDS_REGIME, word);
    return *regime >= 0 ? OUTCOME_OK
                        : fail(why, OUTCOME_USAGE,
                               "%s: \"%.60s\" is no regime; regimes are dense_prepared, conventional, sparse_prepared, "
                               "dense_unprepared, unplanted.",
                               name, word);
}

static enum outcome pairs_all(const struct evidence *evidence, int first, int second, json_t *note, struct arena *arena,
                              struct failure *why)
{
    enum outcome outcome = OUTCOME_OK;
    for (int a = 1; outcome == OUTCOME_OK && a < REGIME_COUNT; a++)
        for (int b = 1; outcome == OUTCOME_OK && b < REGIME_COUNT; b++) {
            bool wanted = first > 0 || second > 0 ? (first == 0 || a == first) && (second == 0 || b == second) && a != b
                                                  : regimes_compared((enum regime)a, (enum regime)b);
            if (!wanted || (first > 0 && second == 0 && !regimes_compared((enum regime)a, (enum regime)b) && b != REGIME_CONVENTIONAL))
                continue;
            outcome = difference_sections(evidence, (enum regime)a, (enum regime)b, note, arena, why);
            if (outcome == OUTCOME_OK)
                outcome = pool_section(evidence, (enum regime)a, (enum regime)b, note, arena, why);
        }
    return outcome;
}

static enum outcome sites_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct evidence evidence;
    int first = 0, second = 0;
    json_t *out = note_new();
    enum outcome outcome = regime_named(in, "first", &first, why);
    if (outcome == OUTCOME_OK)
        outcome = regime_named(in, "second", &second, why);
    if (outcome == OUTCOME_OK)
        outcome = evidence_load(context->store, &arena, &evidence, why);
    if (outcome == OUTCOME_OK)
        outcome = roll_section(&evidence, out, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = pairs_all(&evidence, first, second, out, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = model_section(&evidence, option_flag(in, "squares"), out, &arena, why);
    if (outcome == OUTCOME_OK) {
        const json_t *pair = json_array_get(json_object_get(note_data(out), "comparisons"), 0);
        const char *sentence = json_string_value(json_object_get(pair, "sentence")),
                   *roll = json_string_value(json_object_get(note_data(out), "sites_sentence"));
        note_answer(out, "%s %s", roll == NULL ? "There is no site yet." : roll,
                    sentence == NULL ? "No two plots of a site can be compared yet." : sentence);
        if (evidence.has_design)
            note_unknown(out, "%s", evidence.design.summary);
        note_behind(out, note_rows(out, NOUN_PLANT_RECORD, "plant.origin=first_planting", INT_UNKNOWN));
        *note = out;
    } else
        json_decref(out);
    arena_clear(&arena);
    return outcome;
}

const struct job job_sites = {
    .name = "sites",
    .summary = "across plots and sites: pairs, pooling, one model, and who reports",
    .about =
        "Lists every site with those lost or silent; compares the two plots of each site first and says what so many sites can show at "
        "best; pools the differences in the usual ways with a forest plot and the range of a new site; and fits all plots in one model "
        "with effects of site, plot and species.",
    .example = "spinney sites wood.gpkg --first dense_prepared --second conventional",
    .access = JOB_LOOKS,
    .options = sites_options,
    .n_options = sizeof sites_options / sizeof *sites_options,
    .run = sites_run,
};
