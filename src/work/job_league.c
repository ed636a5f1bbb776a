/* SPDX-License-Identifier: GPL-3.0-or-later
 * league: which species lived, over the programme or ground by ground, few plants drawn towards the rest. */
#include "draw/draw.h"
#include "evidence/league.h"
#include "work/behind.h"
#include "work/jobs.h"
#include "work/site_map.h"
#include <math.h>

static const double LEVEL = 0.95;
enum { MOST_GROUPS = 40 };

static const struct option league_options[] = {
    {"site", OPTION_TEXT, false, "CODE", "only plots of this site"},
    {"by", OPTION_TEXT, false, "WORD", "all (if not given), site, regime or plot: a league for each"},
};
static const char *const league_bare[] = {"site", NULL};

static void league_table(const struct species_league *league, json_t *section, struct arena *arena)
{
    static const char *const titles[] = {
        "species", "plots", "counted", "on an average plot", "rank", "likely ranks", "chance above the rest", "advice"};
    json_t *table = section_table(section);
    for (size_t i = 0; i < sizeof titles / sizeof *titles; i++)
        table_column(table, titles[i], titles[i], i == 6 ? "%" : "", i == 4 ? 1 : i == 6 ? 0 : -1);
    for (size_t i = 0; i < league->n; i++) {
        const struct league_line *line = &league->lines[i];
        char shown[160];
        json_t *row = table_row(table);
        row_text(row, line->species);
        row_integer(row, (int64_t)line->plots);
        value_write_share((struct draw_value){100 * line->raw.value, 100 * line->raw.low, 100 * line->raw.high}, line->alive, line->known,
                          (int)league_rules_usual.least_shown, shown);
        row_text(row, shown);
        if (line->known < league_rules_usual.least_shown)
            row_text(row, "too few to show");
        else {
            value_write((struct draw_value){100 * line->fair.value, 100 * line->fair.low, 100 * line->fair.high}, 0, "%", shown);
            row_text(row, shown);
        }
        row_number(row, line->rank);
        row_print(row, "%.0f–%.0f", line->rank_low, line->rank_high);
        row_number(row, league->no_spread ? unknown_real() : 100 * line->p_above);
        row_text(row, league_verdict_words(line->verdict));
    }
    (void)arena;
}

static void league_figure(const struct species_league *league, const char *name, json_t *section, struct arena *arena)
{
    static const int mark_of[] = {[LEAGUE_TOO_FEW] = 2, [LEAGUE_MORE] = 3, [LEAGUE_KEEP] = 0, [LEAGUE_DROP] = 1};
    struct figure_row *rows = arena_array(arena, league->n, sizeof *rows);
    for (size_t i = 0; i < league->n; i++) {
        const struct league_line *line = &league->lines[i];
        bool few = line->known < league_rules_usual.least_shown;
        rows[i] = (struct figure_row){.label = line->species,
                                      .label_italic = true,
                                      .value = {few ? unknown_real() : 100 * line->fair.value, 100 * line->fair.low, 100 * line->fair.high},
                                      .note = arena_print(arena, "%lld of %lld: %s", (long long)line->alive, (long long)line->known,
                                                          league_verdict_words(line->verdict)),
                                      .group = mark_of[line->verdict]};
    }
    struct figure_intervals figure = {
        .head =
            {.title = arena_print(arena, "Survival of species, %s", name),
             .x_title = "alive on an average plot [%]",
             .foot =
                 "Partial pooling, 95 %: plots and regimes taken out, few plants drawn towards the line (the common survival). Triangle "
                 "plant more, disc keep, square drop, diamond or dotted too few to tell."},
        .rows = rows,
        .n_rows = league->n,
        .unit = "%",
        .reference = 100 * league->common,
        .less = "worse than most",
        .more = "better than most"};
    section_drawing(section, figure_intervals(&figure));
}

static json_t *number_or_null(double x)
{
    return isfinite(x) ? json_real(x) : json_null();
}

static json_t *league_json(const struct species_league *league, const char *name)
{
    json_t *lines = json_array();
    for (size_t i = 0; i < league->n; i++) {
        const struct league_line *line = &league->lines[i];
        json_array_append_new(lines, json_pack("{s:s, s:I, s:I, s:I, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:s}", "species",
                                               line->species, "plots", (json_int_t)line->plots, "alive", (json_int_t)line->alive, "known",
                                               (json_int_t)line->known, "fair", number_or_null(line->fair.value), "low",
                                               number_or_null(line->fair.low), "high", number_or_null(line->fair.high), "rank",
                                               number_or_null(line->rank), "rank_low", number_or_null(line->rank_low), "rank_high",
                                               number_or_null(line->rank_high), "p_above", number_or_null(line->p_above), "p_below",
                                               number_or_null(line->p_below), "advice", league_verdict_words(line->verdict)));
    }
    return json_pack("{s:s, s:I, s:I, s:o, s:b, s:o, s:s, s:o}", "group", name, "plots", (json_int_t)league->plots, "sites",
                     (json_int_t)league->sites, "common", number_or_null(league->common), "by_model", (int)league->by_model, "spread",
                     number_or_null(league->spread), "sentence", league->sentence, "species", lines);
}

enum outcome league_section(const struct evidence *evidence, const size_t *plots, size_t n, const char *name, json_t *note, bool figure,
                            struct arena *arena, struct failure *why)
{
    struct species_league league;
    enum outcome outcome =
        evidence_league(evidence->lives, plots, n, &league_rules_usual, LEVEL, (uint64_t)evidence->programme.seed, arena, &league, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    json_t *section = note_section(note, arena_print(arena, "Species league: %s", name)),
           *list = json_object_get(note_data(note), "leagues");
    section_text(section, "%s%s", league.sentence,
                 league.no_spread ? " Differences between species are no larger than chance makes them." : "");
    league_table(&league, section, arena);
    if (figure)
        league_figure(&league, name, section, arena);
    if (list == NULL) {
        list = json_array();
        json_object_set_new(note_data(note), "leagues", list);
    }
    json_array_append_new(list, league_json(&league, name));
    const struct behind behind = {note, evidence, arena};
    json_t *table = json_object_get(section, "table");
    for (size_t i = 0; i < league.n; i++)
        table_behind(table, league.lines[i].species, behind_plots(&behind, plots, n, league.lines[i].species));
    section_behind(section, behind_plots(&behind, plots, n, NULL));
    return OUTCOME_OK;
}

/* What a plot is called under this grouping. */
static const char *group_name(const struct evidence *evidence, size_t plot, const char *by, struct arena *arena)
{
    const struct plot_lives *lives = &evidence->lives[plot];
    return text_same(by, "all")      ? "all plots"
           : text_same(by, "site")   ? lives->site->name
           : text_same(by, "regime") ? word_plain(WORDS_REGIME, (int)lives->plot->regime, arena)
                                     : evidence_plot_name(evidence, plot, arena);
}

static enum outcome leagues_make(const struct evidence *evidence, const struct site *site, const char *by, json_t *note,
                                 struct arena *arena, struct failure *why)
{
    size_t n_plots = evidence->facts.n_plots, *group = arena_array(arena, n_plots, sizeof *group),
           *plots = arena_array(arena, n_plots, sizeof *plots), n_groups = 0, made = 0;
    const char *names[MOST_GROUPS];
    for (size_t i = 0; i < n_plots; i++) {
        group[i] = SIZE_MAX;
        if ((site != NULL && evidence->lives[i].site->id != site->id) || evidence->lives[i].n_censuses == 0)
            continue;
        const char *name = group_name(evidence, i, by, arena);
        size_t at = 0;
        while (at < n_groups && !text_same(names[at], name))
            at++;
        if (at == MOST_GROUPS) {
            fail(why, OUTCOME_DATA, "There are more than %d groups.", MOST_GROUPS);
            return failure_remedy(why, "Take one site, or group by regime.");
        }
        if (at == n_groups)
            names[n_groups++] = name;
        group[i] = at;
    }
    enum outcome outcome = OUTCOME_OK;
    for (size_t g = 0; outcome == OUTCOME_OK && g < n_groups; g++) {
        size_t n = 0;
        struct failure one = {0};
        for (size_t i = 0; i < n_plots; i++)
            if (group[i] == g)
                plots[n++] = i;
        outcome = league_section(evidence, plots, n, names[g], note, true, arena, &one);
        if (outcome == OUTCOME_DATA) {
            note_unknown(note, "%s: %s", names[g], one.sentence);
            outcome = OUTCOME_OK;
        } else if (outcome == OUTCOME_OK)
            made++;
        else
            *why = one;
    }
    if (outcome == OUTCOME_OK && made == 0)
        note_answer(note, "No plot has a census with two species or more yet, so there is no league.");
    return outcome;
}

static enum outcome league_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct evidence evidence;
    struct site site;
    const char *by = option_text(in, "by", "all");
    bool one = option_text(in, "site", NULL) != NULL;
    json_t *out = note_new();
    enum outcome outcome = OUTCOME_OK;
    if (!text_same(by, "all") && !text_same(by, "site") && !text_same(by, "regime") && !text_same(by, "plot"))
        outcome = fail(why, OUTCOME_USAGE, "by: \"%.60s\" is none of all, site, regime and plot.", by);
    if (outcome == OUTCOME_OK && one)
        outcome = load_site(context->store, option_text(in, "site", NULL), &arena, &site, why);
    if (outcome == OUTCOME_OK)
        outcome = evidence_load_site(context->store, one ? site.id : 0, &arena, &evidence, why);
    if (outcome == OUTCOME_OK)
        outcome = leagues_make(&evidence, one ? &site : NULL, by, out, &arena, why);
    if (outcome == OUTCOME_OK) {
        json_t *leagues = json_object_get(note_data(out), "leagues");
        if (json_array_size(leagues) > 0)
            note_answer(out, "%s", json_string_value(json_object_get(json_array_get(leagues, 0), "sentence")));
        note_unknown(out, "Species were not drawn by lot to plots: where a species was only tried on good ground, part of its rank is the "
                          "ground's. Advice is for survival only, not for what a species brings to a wood.");
        note_unknown(out,
                     "Advice is given from %lld plants and a chance of %.0f %%; \"drop\" asks for %.0f points under the common survival "
                     "(common practice, no source).",
                     (long long)league_rules_usual.least_judged, 100 * league_rules_usual.sure, 100 * league_rules_usual.margin);
        note_source(out, "Partial pooling: logistic mixed model with plot and species effects (Bates et al. 2015, J Stat Softw 67(1), "
                         "Laplace); where that cannot be fitted a beta fitted to all counts (Morris 1983, J Am Stat Assoc 78:47).");
        *note = out;
    } else
        json_decref(out);
    arena_clear(&arena);
    return outcome;
}

const struct job job_league = {
    .name = "league",
    .summary = "which species lived, with few plants drawn towards the rest",
    .about =
        "Ranks species by their survival on an average plot, plots and regimes taken out, with the ranks that the counts allow and plain "
        "advice: plant more, keep, drop, or too few to tell. Under ten plants no percentage is shown.",
    .example = "spinney league wood.gpkg --by site",
    .access = JOB_LOOKS,
    .options = league_options,
    .n_options = sizeof league_options / sizeof *league_options,
    .bare = league_bare,
    .run = league_run,
};
