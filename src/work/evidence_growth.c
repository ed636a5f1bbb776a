/* SPDX-License-Identifier: GPL-3.0-or-later
 * Growth further, as sections of a note: seasons, fans, pairs over sites, one model, edge and inside, crowns. */
#include "draw/draw.h"
#include "evidence/increments.h"
#include "work/evidence_load.h"
#include "work/site_map.h"
#include <math.h>

static const double LEVEL = 0.95;
enum { MOST_FANS = 8 };

static json_t *number_or_null(double x)
{
    return isfinite(x) ? json_real(x) : json_null();
}

static void row_estimate(json_t *row, struct estimate e, int digits)
{
    char out[120];
    value_write((struct draw_value){e.value, e.low, e.high}, digits, "", out);
    row_text(row, is_known(e.value) ? out : NULL);
}

static bool wanted(const struct evidence *evidence, size_t plot, const struct site *site)
{
    return site == NULL || evidence->lives[plot].site->id == site->id;
}

/* ---- season by season ---- */

static enum outcome seasons_section(const struct evidence *evidence, const struct site *site, json_t *note, struct arena *arena,
                                    struct failure *why)
{
    static const char *const titles[] = {"plot",
                                         "from",
                                         "to",
                                         "growing seasons",
                                         "plants",
                                         "same plants, a season",
                                         "relative growth, a season",
                                         "mean of all alive, a season"};
    json_t *section = NULL, *table = NULL, *list = json_array();
    size_t crossing = 0;
    for (size_t i = 0; i < evidence->facts.n_plots; i++) {
        struct plot_seasons s;
        if (!wanted(evidence, i, site))
            continue;
        enum outcome outcome = evidence_seasons(&evidence->lives[i], LEVEL, arena, &s, why);
        if (outcome != OUTCOME_OK) {
            json_decref(list);
            return outcome;
        }
        for (size_t k = 0; k < s.n; k++) {
            const struct season_growth *g = &s.steps[k];
            if (section == NULL) {
                section = note_section(note, "Season by season");
                section_text(section,
                             "Plants grow from April to September, so gains are given for each growing season, not for each year. The "
                             "last column is the reading that flatters: it also rises when short plants die.");
                table = section_table(section);
                for (size_t t = 0; t < sizeof titles / sizeof *titles; t++)
                    table_column(table, titles[t], titles[t], t == 5 || t == 7 ? "cm" : "", t == 3 ? 1 : t == 7 ? 0 : -1);
            }
            json_t *row = table_row(table);
            row_text(row, evidence_plot_name(evidence, i, arena));
            row_text(row, day_words(s.lives->censuses[g->from].to, arena));
            row_text(row, day_words(s.lives->censuses[g->to].to, arena));
            row_number(row, g->seasons);
            row_integer(row, (int64_t)g->n);
            row_estimate(row, g->gain_cm, 0);
            row_estimate(row, g->rgr, 2);
            row_number(row, g->naive_cm.value);
            crossing += g->crosses;
            json_array_append_new(list, json_pack("{s:s, s:f, s:o, s:o, s:o}", "plot", evidence_plot_name(evidence, i, arena), "seasons",
                                                  g->seasons, "gain_cm", number_or_null(g->gain_cm.value), "rgr",
                                                  number_or_null(g->rgr.value), "naive_cm", number_or_null(g->naive_cm.value)));
        }
    }
    if (crossing > 0)
        note_unknown(note,
                     "%zu gains run from or to a census made inside a growing season; how much of it had passed is counted in days, and "
                     "plants do not grow evenly.",
                     crossing);
    json_object_set_new(note_data(note), "seasons", list);
    return OUTCOME_OK;
}

/* ---- fans ---- */

static void fans_figure(const struct evidence *evidence, const struct site *site, json_t *note, struct arena *arena)
{
    struct figure_fan fans[MOST_FANS];
    size_t n = 0, left = 0;
    for (size_t i = 0; i < evidence->facts.n_plots; i++) {
        struct plot_fan fan;
        struct failure none;
        if (!wanted(evidence, i, site) || evidence_fan(&evidence->lives[i], arena, &fan, &none) != OUTCOME_OK)
            continue;
        if (n == MOST_FANS) {
            left++;
            continue;
        }
        fans[n] = (struct figure_fan){.name = arena_print(arena, "%s, %zu plants", evidence_plot_name(evidence, i, arena), fan.plants),
                                      .x = fan.years,
                                      .middle = fan.middle,
                                      .low = {fan.low_most, fan.low_half, NULL},
                                      .high = {fan.high_most, fan.high_half, NULL},
                                      .n = fan.n};
        n++;
    }
    if (n == 0)
        return;
    json_t *section = note_section(note, "Heights of the same plants");
    if (left > 0)
        section_text(section, "The first %d plots are drawn; give a site to see the others.", (int)MOST_FANS);
    struct figure_fans figure = {
        .head = {.title = site == NULL ? "Heights of the same plants" : arena_print(arena, "%s: heights of the same plants", site->name),
                 .x_title = "years after planting",
                 .y_title = "height [cm]",
                 .foot = "Plants of the first planting that are alive and measured at the last census: nothing here "
                         "rises because short plants died."},
        .fans = fans,
        .n_fans = n,
        .range_words = "middle 50 % and 90 % of plants"};
    section_drawing(section, figure_fans(&figure));
}

/* ---- pairs over sites ---- */

static void pairs_figure(const struct growth_pairs *g, const char *a, const char *b, json_t *section, struct arena *arena)
{
    struct figure_row *rows = arena_array(arena, g->n + 2, sizeof *rows);
    for (size_t i = 0; i < g->n; i++)
        rows[i] = (struct figure_row){.label = g->pairs[i].site->name,
                                      .value = {g->pairs[i].a_cm - g->pairs[i].b_cm, unknown_real(), unknown_real()},
                                      .group = g->pairs[i].unequal_care ? 1 : 0,
                                      .note = arena_print(arena, "%+.1f cm on %zu species%s", g->pairs[i].a_cm - g->pairs[i].b_cm,
                                                          g->pairs[i].species, g->pairs[i].unequal_care ? "; unequal care" : "")};
    rows[g->n] = (struct figure_row){.label = "mean over sites",
                                     .value = {g->answer.mean.value, g->answer.mean.low, g->answer.mean.high},
                                     .summary = is_known(g->answer.mean.low)};
    struct figure_intervals figure = {
        .head = {.title = arena_print(arena, "Growth: %s less %s", a, b),
                 .x_title = "gain of the same plants [cm a growing season]",
                 .foot = "Species that both plots of a site have, counting alike. Mean: Student t over sites; the site is the replicate."},
        .rows = rows,
        .n_rows = g->n + 1,
        .unit = "cm",
        .digits = 1,
        .reference = 0,
        .less = arena_print(arena, "%s grew more", b),
        .more = arena_print(arena, "%s grew more", a),
        .margin = unknown_real()};
    section_drawing(section, figure_intervals(&figure));
}

static enum outcome pairs_section(const struct evidence *evidence, enum regime a, enum regime b, json_t *note, struct arena *arena,
                                  struct failure *why)
{
    struct growth_pairs g;
    const char *wa = word_plain(WORDS_REGIME, (int)a, arena), *wb = word_plain(WORDS_REGIME, (int)b, arena);
    enum outcome outcome = evidence_growth_pairs(&evidence->facts, evidence->lives, a, b, LEVEL, arena, &g, why);
    if (outcome != OUTCOME_OK || g.n == 0)
        return outcome;
    static const char *const titles[] = {"site",       "species shared",         "first, a season",      "second, a season",
                                         "difference", "mean heights differ by", "they started apart by"};
    json_t *section = note_section(note, arena_print(arena, "Growth: %s beside %s", wa, wb)), *table = section_table(section);
    const char *verdict = g.answer.verdict == PAIRED_A_HIGHER   ? arena_print(arena, "%s grew more", wa)
                          : g.answer.verdict == PAIRED_B_HIGHER ? arena_print(arena, "%s grew more", wb)
                                                                : "it cannot be told which grew more";
    section_text(section, "%s Verdict: %s. %s", g.sentence, verdict, paired_reason_words(&g.answer, arena));
    for (size_t t = 0; t < sizeof titles / sizeof *titles; t++)
        table_column(table, titles[t], t == 2 ? wa : t == 3 ? wb : titles[t], t >= 2 ? "cm" : "", t >= 2 ? 1 : -1);
    for (size_t i = 0; i < g.n; i++) {
        json_t *row = table_row(table);
        row_text(row, g.pairs[i].site->name);
        row_integer(row, (int64_t)g.pairs[i].species);
        row_number(row, g.pairs[i].a_cm);
        row_number(row, g.pairs[i].b_cm);
        row_number(row, g.pairs[i].a_cm - g.pairs[i].b_cm);
        row_number(row, g.pairs[i].naive_cm);
        row_number(row, g.pairs[i].first_cm);
    }
    pairs_figure(&g, wa, wb, section, arena);
    json_t *list = json_object_get(note_data(note), "growth_pairs");
    if (list == NULL) {
        list = json_array();
        json_object_set_new(note_data(note), "growth_pairs", list);
    }
    json_array_append_new(list,
                          json_pack("{s:s, s:s, s:I, s:o, s:o, s:o, s:o, s:s, s:s}", "a", word_of(WORDS_REGIME, (int)a), "b",
                                    word_of(WORDS_REGIME, (int)b), "sites", (json_int_t)g.n, "mean_cm", number_or_null(g.answer.mean.value),
                                    "low", number_or_null(g.answer.mean.low), "high", number_or_null(g.answer.mean.high), "naive_cm",
                                    number_or_null(g.naive_cm.value), "verdict", verdict, "sentence", g.sentence));
    return OUTCOME_OK;
}

/* ---- one model ---- */

static enum outcome model_part(const struct evidence *evidence, json_t *note, struct arena *arena, struct failure *why)
{
    struct growth_model m;
    struct failure one = {0};
    enum outcome outcome = evidence_growth_model(evidence->lives, evidence->facts.n_plots, LEVEL, arena, &m, &one);
    if (outcome == OUTCOME_DATA) {
        note_unknown(note, "%s", one.sentence);
        return OUTCOME_OK;
    }
    if (outcome != OUTCOME_OK) {
        *why = one;
        return outcome;
    }
    json_t *section = note_section(note, "Growth of all plots in one model"), *table = section_table(section);
    section_text(section,
                 "%s A centimetre more at the start goes with %+.2f cm of gain a season. Left over: sites differ by %.1f cm (sd), plots "
                 "by %.1f, species by %.1f, plants by %.1f.",
                 m.sentence, m.per_start, m.sd_site, m.sd_plot, m.sd_species, m.sd_plant);
    static const char *const titles[] = {"regime", "gain a season", "low", "high", "degrees of freedom", "p"};
    for (size_t t = 0; t < sizeof titles / sizeof *titles; t++)
        table_column(table, titles[t], titles[t], t >= 1 && t <= 3 ? "cm" : "", t == 0 ? -1 : t == 5 ? 3 : 1);
    for (size_t i = 0; i < m.n; i++) {
        json_t *row = table_row(table);
        row_print(row, "%s%s", word_plain(WORDS_REGIME, (int)m.regimes[i], arena), i == 0 ? " (all of it)" : ", less the first");
        row_number(row, m.gain_cm[i].value);
        row_number(row, m.gain_cm[i].low);
        row_number(row, m.gain_cm[i].high);
        row_number(row, m.df[i]);
        row_number(row, i == 0 ? unknown_real() : m.p[i]);
    }
    note_source(
        note, "Growth model: linear with random effects of site, plot and species, restricted likelihood (Bates et al. 2015, J Stat Softw "
              "67(1)), Satterthwaite's degrees of freedom (Kuznetsova, Brockhoff & Christensen 2017, J Stat Softw 82(13)).");
    return OUTCOME_OK;
}

/* ---- edge, crowns ---- */

static enum outcome edge_section(const struct evidence *evidence, const struct site *site, double strip_m, json_t *note,
                                 struct arena *arena, struct failure *why)
{
    static const char *const titles[] = {
        "plot", "inside", "alive at the edge", "alive inside", "gain a season at the edge", "gain a season inside"};
    json_t *section = NULL, *table = NULL;
    for (size_t i = 0; i < evidence->facts.n_plots; i++) {
        struct edge_growth e;
        struct failure one = {0};
        char shown[160];
        if (!wanted(evidence, i, site))
            continue;
        enum outcome outcome = evidence_edge(&evidence->lives[i], strip_m, LEVEL, arena, &e, &one);
        if (outcome == OUTCOME_DATA)
            continue;
        if (outcome != OUTCOME_OK) {
            *why = one;
            return outcome;
        }
        if (section == NULL) {
            section = note_section(note, "Edge and inside");
            table = section_table(section);
            for (size_t t = 0; t < sizeof titles / sizeof *titles; t++)
                table_column(table, titles[t], titles[t], t == 1 ? "%" : t >= 4 ? "cm" : "", t == 1 ? 0 : -1);
        }
        section_line(section, 0, "%s", e.sentence);
        json_t *row = table_row(table);
        row_text(row, evidence_plot_name(evidence, i, arena));
        row_number(row, 100 * e.inside_share);
        for (int side = 0; side < 2; side++) {
            value_write_share((struct draw_value){100 * e.survival[side].value, 100 * e.survival[side].low, 100 * e.survival[side].high},
                              e.alive[side], e.known[side], 10, shown);
            row_text(row, shown);
        }
        row_estimate(row, e.gain_cm[0], 0);
        row_estimate(row, e.gain_cm[1], 0);
    }
    return OUTCOME_OK;
}

static void canopy_section(const struct evidence *evidence, const struct site *site, json_t *note, struct arena *arena)
{
    static const char *const titles[] = {"plot", "census", "crowns measured", "crown area per m²",
                                         "ground covered, if crowns lie by chance"};
    json_t *table = NULL;
    size_t without = 0;
    for (size_t i = 0; i < evidence->facts.n_plots; i++) {
        struct canopy_closure k;
        struct failure none;
        if (!wanted(evidence, i, site) || evidence->lives[i].n_censuses == 0)
            continue;
        if (evidence_canopy(&evidence->lives[i], arena, &k, &none) != OUTCOME_OK) {
            without++;
            continue;
        }
        if (table == NULL) {
            table = section_table(note_section(note, "How far crowns have closed"));
            for (size_t t = 0; t < sizeof titles / sizeof *titles; t++)
                table_column(table, titles[t], titles[t], t == 4 ? "%" : t == 3 ? "m²" : "", t == 3 ? 2 : t == 4 ? 0 : -1);
        }
        json_t *row = table_row(table);
        row_text(row, evidence_plot_name(evidence, i, arena));
        row_text(row, day_words(evidence->lives[i].censuses[k.census].to, arena));
        row_print(row, "%zu of %zu alive", k.measured, k.alive);
        row_number(row, k.crowns_m2_m2);
        row_number(row, 100 * k.closed);
    }
    if (without > 0)
        note_unknown(note, "Canopy closure of %zu plots: too few crown widths were measured.", without);
    if (table != NULL)
        note_source(note, "Cover from crowns: 1 − exp(−crown area per ground area), Crookston & Stage 1999, RMRS-GTR-24.");
}

enum outcome growth_more_sections(const struct evidence *evidence, const struct site *site, double strip_m, json_t *note,
                                  struct arena *arena, struct failure *why)
{
    enum outcome outcome = seasons_section(evidence, site, note, arena, why);
    if (outcome == OUTCOME_OK)
        fans_figure(evidence, site, note, arena);
    for (int a = 1; outcome == OUTCOME_OK && site == NULL && a < REGIME_COUNT; a++)
        for (int b = 1; outcome == OUTCOME_OK && b < REGIME_COUNT; b++)
            if (regimes_compared((enum regime)a, (enum regime)b))
                outcome = pairs_section(evidence, (enum regime)a, (enum regime)b, note, arena, why);
    if (outcome == OUTCOME_OK && site == NULL)
        outcome = model_part(evidence, note, arena, why);
    if (outcome == OUTCOME_OK)
        outcome = edge_section(evidence, site, strip_m, note, arena, why);
    if (outcome == OUTCOME_OK)
        canopy_section(evidence, site, note, arena);
    return outcome;
}
