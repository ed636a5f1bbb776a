/* SPDX-License-Identifier: GPL-3.0-or-later
 * Findings as sections of a note: sentence, table, figure, what is not known. The jobs and the report use the same. */
#include "draw/draw.h"
#include "evidence/sites.h"
#include "money/money.h"
#include "stats/stats.h"
#include "work/behind.h"
#include "work/site_map.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double LEVEL = 0.95;

/* ---- survival ---- */

static void columns_add(json_t *table, const char *const titles[], size_t n)
{
    for (size_t i = 0; i < n; i++)
        table_column(table, titles[i], titles[i], "", -1);
}

static void survival_columns(json_t *counts, json_t *rates)
{
    static const char *const counted[] = {"plot",      "regime",  "planted",           "alive", "dead", "not found",
                                          "no record", "removed", "replacements alive"};
    static const char *const rated[] = {
        "plot", "census", "months", "cohort survival", "bounds, %", "survival per year", "alive now per m²"};
    columns_add(counts, counted, sizeof counted / sizeof *counted);
    columns_add(rates, rated, sizeof rated / sizeof *rated);
}

/* The rows behind what is said of a plot's survival. */
struct survival_sets {
    int64_t counted[6]; ///< planted, alive, dead, not found, not seen, removed
    int64_t known, bounds, replacements, time, stocking;
};

static struct survival_sets survival_sets(const struct behind *behind, const struct plot_survival *s)
{
    static const enum life_state states[] = {LIFE_ALIVE, LIFE_DEAD, LIFE_NOT_FOUND, LIFE_NOT_SEEN, LIFE_REMOVED};
    size_t plot = behind_index(behind, s->lives);
    struct survival_sets out = {.known = behind_known(behind, plot, s->census), .bounds = behind_bounds(behind, plot, s->census)};
    out.counted[0] = behind_planted(behind, plot);
    for (size_t i = 0; i < 5; i++)
        out.counted[i + 1] = behind_state(behind, plot, s->census, states[i], "first_planting");
    const char *name = evidence_plot_name(behind->evidence, plot, behind->arena);
    int64_t replacing =
        s->replacements > 0
            ? note_rows(behind->note, NOUN_PLANT, arena_print(behind->arena, "plot=%s;origin=replacement", name), s->replacements)
            : note_rows(behind->note, NOUN_PLANT, arena_print(behind->arena, "plot=%s", name), (int64_t)s->lives->n_plants);
    int64_t alive = s->replacements_alive > 0 ? behind_state(behind, plot, s->census, LIFE_ALIVE, "replacement") : 0;
    const int64_t replacements[] = {replacing, alive, -1}, time[] = {behind_plot(behind, plot), out.known, -1},
                  stocking[] = {out.counted[1], alive,
                                s->arrivals_alive > 0 ? behind_state(behind, plot, s->census, LIFE_ALIVE, "natural_arrival") : 0,
                                behind_plot(behind, plot), -1};
    out.replacements = behind_all(behind, replacements);
    out.time = behind_all(behind, time);
    out.stocking = behind_all(behind, stocking);
    return out;
}

static json_t *survival_json(const struct behind *behind, const char *name, const struct plot_survival *s)
{
    json_t *out = json_pack("{s:s, s:I, s:I, s:I, s:I, s:I, s:I, s:s}", "plot", name, "planted", (json_int_t)s->planted, "alive",
                            (json_int_t)s->alive, "dead", (json_int_t)s->dead, "not_found", (json_int_t)s->not_found, "not_seen",
                            (json_int_t)s->not_seen, "replacements_alive", (json_int_t)s->replacements_alive, "sentence", s->sentence);
    const struct {
        const char *key;
        double value;
    } numbers[] = {{"survival", s->survival.value}, {"low", s->survival.low}, {"high", s->survival.high},  {"lowest", s->lowest.value},
                   {"highest", s->highest.value},   {"years", s->years},      {"annual", s->annual.value}, {"stocking_m2", s->stocking_m2}};
    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++)
        json_object_set_new(out, numbers[i].key, isfinite(numbers[i].value) ? json_real(numbers[i].value) : json_null());
    struct survival_sets sets = survival_sets(behind, s);
    static const char *const bounded[] = {"lowest", "highest"}, *const rated[] = {"survival", "low", "high", "annual"};
    data_behind(out, "planted", sets.counted[0]);
    data_behind(out, "alive", sets.counted[1]);
    data_behind(out, "dead", sets.counted[2]);
    data_behind(out, "not_found", sets.counted[3]);
    data_behind(out, "not_seen", sets.counted[4]);
    data_behind(out, "replacements_alive", sets.replacements);
    data_behind(out, "years", sets.time);
    data_behind(out, "stocking_m2", sets.stocking);
    for (size_t i = 0; i < 4; i++)
        data_behind(out, rated[i], sets.known);
    for (size_t i = 0; i < 2; i++)
        data_behind(out, bounded[i], sets.bounds);
    return out;
}

static void survival_rows(const struct behind *behind, json_t *counts, json_t *rates, const char *name, const struct plot_survival *s,
                          struct arena *arena)
{
    char shown[160], number[64];
    const int64_t counted[] = {s->planted, s->alive, s->dead, s->not_found, s->not_seen, s->removed};
    struct survival_sets sets = survival_sets(behind, s);
    json_t *row = table_row(counts);
    row_text(row, name);
    row_text(row, word_plain(WORDS_REGIME, (int)s->lives->plot->regime, arena));
    for (size_t i = 0; i < sizeof counted / sizeof *counted; i++) {
        row_integer(row, counted[i]);
        cell_behind(counts, sets.counted[i]);
    }
    row_print(row, "%lld of %lld", (long long)s->replacements_alive, (long long)s->replacements);
    cell_behind(counts, sets.replacements);
    row = table_row(rates);
    row_text(row, name);
    row_text(row, day_words(s->lives->censuses[s->census].to, arena));
    number_fixed(s->months, 1, number);
    row_text(row, is_known(s->months) ? number : NULL);
    cells_behind(rates, 2, sets.time);
    struct draw_value value = {100 * s->survival.value, 100 * s->survival.low, 100 * s->survival.high};
    value_write_share(value, s->alive, s->alive + s->dead, 10, shown);
    row_text(row, s->alive + s->dead == 0 ? NULL : shown);
    cell_behind(rates, sets.known);
    row_range(row, 100 * s->lowest.value, 100 * s->highest.value);
    cell_behind(rates, sets.bounds);
    row_estimate(row, s->annual, 100, 0, "%");
    cell_behind(rates, sets.time);
    number_fixed(s->stocking_m2, 2, number);
    row_text(row, is_known(s->stocking_m2) ? number : NULL);
    cell_behind(rates, sets.stocking);
}

/* Survival by census as steps, with the bounds of what was not found. */
static enum outcome survival_figure(const struct behind *behind, const struct site *site, json_t *section, struct arena *arena,
                                    struct failure *why)
{
    const struct evidence *evidence = behind->evidence;
    size_t n_shown = 0, room = 0;
    for (size_t i = 0; i < evidence->facts.n_plots; i++)
        room += evidence->lives[i].n_censuses;
    int64_t *shown = arena_array(arena, 4 * room, sizeof *shown);
    struct figure_line *lines = arena_array(arena, evidence->facts.n_plots, sizeof *lines);
    size_t n = 0;
    for (size_t i = 0; i < evidence->facts.n_plots; i++) {
        const struct plot_lives *lives = &evidence->lives[i];
        if (lives->site != site || lives->n_censuses == 0 || lives->planted_on == DATE_UNKNOWN)
            continue;
        size_t m = lives->n_censuses + 1, k = 0;
        double *x = arena_array(arena, m, sizeof *x), *y = arena_array(arena, m, sizeof *y), *low = arena_array(arena, m, sizeof *low),
               *high = arena_array(arena, m, sizeof *high), *least = arena_array(arena, m, sizeof *least),
               *most = arena_array(arena, m, sizeof *most);
        int64_t *risk = arena_array(arena, m, sizeof *risk);
        for (size_t c = 0; c < lives->n_censuses; c++) {
            struct plot_survival s;
            enum outcome outcome = evidence_survival(lives, c, LEVEL, arena, &s, why);
            if (outcome != OUTCOME_OK)
                return outcome;
            n_shown += behind_states(behind, i, c, shown + n_shown);
            if (k == 0) {
                x[k] = 0;
                y[k] = low[k] = high[k] = least[k] = most[k] = 100;
                risk[k++] = s.planted;
            }
            x[k] = s.months;
            y[k] = 100 * s.survival.value;
            low[k] = 100 * s.survival.low;
            high[k] = 100 * s.survival.high;
            least[k] = 100 * s.lowest.value;
            most[k] = 100 * s.highest.value;
            risk[k++] = s.alive;
        }
        lines[n] = (struct figure_line){
            .name = lives->plot->code, .x = x, .y = y, .low = low, .high = high, .n = k, .least = least, .most = most, .at_risk = risk};
        n++;
    }
    if (n == 0)
        return OUTCOME_OK;
    struct figure_lines figure = {
        .head = {.title = arena_print(arena, "%s: survival of the first planting", site->name),
                 .x_title = "months after planting",
                 .y_title = "alive [%]",
                 .height_pt = 235,
                 .foot = "Counts of alive plants below. Bands: 95 % Wilson; outer bounds: all not found dead, or alive."},
        .lines = lines,
        .n_lines = n,
        .y_least = 0,
        .y_most = 100,
        .from_zero = true};
    section_drawing(section, figure_lines(&figure));
    figure_behind(section, note_rows_of(behind->note, shown, n_shown));
    return OUTCOME_OK;
}

enum outcome survival_sections(const struct evidence *evidence, const struct site *site, json_t *note, struct arena *arena,
                               struct failure *why)
{
    const struct behind behind = {note, evidence, arena};
    json_t *list = json_object_get(note_data(note), "survival");
    if (list == NULL) {
        list = json_array();
        json_object_set_new(note_data(note), "survival", list);
    }
    for (size_t i = 0; i < evidence->facts.n_sites; i++) {
        const struct site *one = &evidence->facts.sites[i];
        json_t *section = NULL, *counts = NULL, *rates = NULL;
        if (site != NULL && one->id != site->id)
            continue;
        for (size_t j = 0; j < evidence->facts.n_plots; j++) {
            struct plot_survival s;
            if (evidence->lives[j].site->id != one->id || evidence->lives[j].n_censuses == 0)
                continue;
            enum outcome outcome = evidence_survival(&evidence->lives[j], SIZE_MAX, LEVEL, arena, &s, why);
            if (outcome != OUTCOME_OK)
                return outcome;
            if (s.planted == 0)
                continue;
            if (section == NULL) {
                section = note_section(note, arena_print(arena, "Survival at %s", one->name));
                rates = section_table(section);
                counts = section_table(note_section(note, arena_print(arena, "Counts at %s", one->name)));
                survival_columns(counts, rates);
            }
            const char *name = evidence_plot_name(evidence, j, arena);
            survival_rows(&behind, counts, rates, name, &s, arena);
            section_line(section, behind_bounds(&behind, j, s.census), "%s", s.sentence);
            json_array_append_new(list, survival_json(&behind, name, &s));
            if (evidence->lives[j].revived > 0)
                note_unknown(note, "%s: %zu plants were recorded dead and alive later; they count as alive in between.", name,
                             evidence->lives[j].revived);
        }
        enum outcome outcome = section == NULL ? OUTCOME_OK : survival_figure(&behind, one, section, arena, why);
        if (outcome != OUTCOME_OK)
            return outcome;
    }
    note_source(note, "Survival: Wilson 1927; differences: Newcombe 1998, Stat Med 17:873, method 10; per year: Sheil, Burslem & Alder "
                      "1995, J Ecol 83:331.");
    return OUTCOME_OK;
}

/* ---- differences ---- */

static void difference_figure(json_t *section, const struct site_difference *pairs, size_t n, const struct sites_difference *all,
                              const char *a, const char *b, double margin, struct arena *arena)
{
    struct figure_row *rows = arena_array(arena, n + 1, sizeof *rows);
    for (size_t i = 0; i < n; i++)
        rows[i] =
            (struct figure_row){.label = pairs[i].site->name,
                                .value = {100 * pairs[i].difference.value, 100 * pairs[i].difference.low, 100 * pairs[i].difference.high},
                                .group = pairs[i].unequal_care ? 1 : 0,
                                .note = pairs[i].unequal_care ? "unequal care" : NULL};
    if (n > 1)
        rows[n] = (struct figure_row){
            .label = "mean over sites", .value = {100 * all->mean.value, 100 * all->mean.low, 100 * all->mean.high}, .summary = true};
    struct figure_intervals figure = {
        .head = {.title = arena_print(arena, "Survival: %s less %s", a, b),
                 .x_title = "difference [percentage points]",
                 .foot = "Sites: 95 % Newcombe, the precision of these plots. Mean: Student t over sites; the site is the replicate."},
        .rows = rows,
        .n_rows = n > 1 ? n + 1 : n,
        .unit = "points",
        .digits = 0,
        .reference = 0,
        .less = arena_print(arena, "%s better", b),
        .more = arena_print(arena, "%s better", a),
        .margin = margin};
    section_drawing(section, figure_intervals(&figure));
}

enum outcome difference_sections(const struct evidence *evidence, enum regime a, enum regime b, json_t *note, struct arena *arena,
                                 struct failure *why)
{
    struct site_difference *pairs = NULL;
    struct sites_difference all;
    struct paired_answer judged;
    size_t n = 0;
    const char *wa = word_plain(WORDS_REGIME, (int)a, arena), *wb = word_plain(WORDS_REGIME, (int)b, arena);
    enum outcome outcome = evidence_pairs(&evidence->facts, evidence->lives, a, b, LEVEL, arena, &pairs, &n, why);
    if (outcome == OUTCOME_OK)
        outcome = evidence_over_sites(pairs, n, evidence->has_design ? &evidence->design : NULL, wa, wb, LEVEL, arena, &all, why);
    if (outcome == OUTCOME_OK)
        outcome = evidence_pairs_judge(pairs, n, LEVEL, unknown_real(), arena, &judged, why);
    if (outcome != OUTCOME_OK || n == 0)
        return outcome;
    const char *verdict = judged.verdict == PAIRED_A_HIGHER   ? arena_print(arena, "%s survived better", wa)
                          : judged.verdict == PAIRED_B_HIGHER ? arena_print(arena, "%s survived better", wb)
                                                              : "it cannot be told which survived better";
    json_t *section = note_section(note, arena_print(arena, "%s beside %s", wa, wb)), *table = section_table(section), *list = json_array();
    const struct behind behind = {note, evidence, arena};
    int64_t *sets = arena_array(arena, 4 * n, sizeof *sets);
    size_t n_sets = 0;
    for (size_t i = 0; i < n; i++) {
        n_sets += behind_known_parts(&behind, pairs[i].a, pairs[i].sa.census, sets + n_sets);
        n_sets += behind_known_parts(&behind, pairs[i].b, pairs[i].sb.census, sets + n_sets);
    }
    const int64_t every = note_rows_of(note, sets, n_sets);
    section_line(section, every, "[%s] %s", all.rung, all.sentence);
    section_line(section, every, "Verdict: %s. %s", verdict, paired_reason_words(&judged, arena));
    section_line(section, every, "%s", all.cannot);
    table_column(table, "site", "site", "", -1);
    table_column(table, "a", wa, "", -1);
    table_column(table, "b", wb, "", -1);
    table_column(table, "difference", "difference, points", "", -1);
    table_column(table, "bounds", "with not found against and for", "points", -1);
    json_t *reasons = section_table(note_section(note, arena_print(arena, "What may explain it: %s beside %s", wa, wb)));
    table_column(reasons, "site", "site", "", -1);
    table_column(reasons, "care", "care", "", -1);
    table_column(reasons, "attribution", "the difference may be given to", "", -1);
    for (size_t i = 0; i < n; i++) {
        char shown[160];
        json_t *row = table_row(table);
        row_text(row, pairs[i].site->name);
        const struct plot_survival *both[2] = {&pairs[i].sa, &pairs[i].sb};
        for (int k = 0; k < 2; k++) {
            struct draw_value value = {100 * both[k]->survival.value, 100 * both[k]->survival.low, 100 * both[k]->survival.high};
            value_write_share(value, both[k]->alive, both[k]->alive + both[k]->dead, 10, shown);
            row_text(row, shown);
            cell_behind(table, behind_known(&behind, k == 0 ? pairs[i].a : pairs[i].b, both[k]->census));
        }
        const int64_t known[] = {behind_known(&behind, pairs[i].a, pairs[i].sa.census),
                                 behind_known(&behind, pairs[i].b, pairs[i].sb.census), -1},
                      open[] = {behind_bounds(&behind, pairs[i].a, pairs[i].sa.census),
                                behind_bounds(&behind, pairs[i].b, pairs[i].sb.census), -1},
                      cared[] = {behind_watering(&behind, pairs[i].a), behind_watering(&behind, pairs[i].b), -1};
        row_estimate(row, pairs[i].difference, 100, 0, "");
        cell_behind(table, behind_all(&behind, known));
        row_range(row, 100 * pairs[i].lowest, 100 * pairs[i].highest);
        cell_behind(table, behind_all(&behind, open));
        row = table_row(reasons);
        row_text(row, pairs[i].site->name);
        row_text(row, pairs[i].care == NULL ? "not recorded" : pairs[i].care);
        cell_behind(reasons, behind_all(&behind, cared));
        row_text(row, pairs[i].attribution);
        json_array_append_new(list, json_pack("{s:s, s:f, s:f, s:f, s:b, s:s}", "site", pairs[i].site->code, "difference",
                                              pairs[i].difference.value, "low", pairs[i].difference.low, "high", pairs[i].difference.high,
                                              "unequal_care", (int)pairs[i].unequal_care, "sentence", pairs[i].sentence));
        if (pairs[i].unequal_care)
            note_caution(note, "C31", arena_print(arena, "%s: %s The difference there is partly care.", pairs[i].site->name, pairs[i].care),
                         "a statistician, for decisions");
    }
    difference_figure(section, pairs, n, &all, wa, wb, unknown_real(), arena);
    figure_behind(section, every);
    json_t *summary = json_pack("{s:s, s:s, s:s, s:s, s:I, s:s, s:s, s:o}", "verdict", verdict, "verdict_because",
                                paired_reason_words(&judged, arena), "a", word_of(WORDS_REGIME, (int)a), "b", word_of(WORDS_REGIME, (int)b),
                                "sites", (json_int_t)n, "rung", all.rung, "sentence", all.sentence, "pairs", list);
    const struct {
        const char *key;
        double value;
    } numbers[] = {{"mean", all.mean.value}, {"low", all.mean.low},         {"high", all.mean.high}, {"sd", all.sd}, {"p", all.p},
                   {"p_least", all.p_least}, {"detectable", all.detectable}};
    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++)
        json_object_set_new(summary, numbers[i].key, isfinite(numbers[i].value) ? json_real(numbers[i].value) : json_null());
    json_object_set_new(summary, "cannot", json_string(all.cannot));
    static const char *const counted[] = {"sites", "mean", "low", "high", "sd", "p", "p_least", "detectable"};
    for (size_t i = 0; i < sizeof counted / sizeof *counted; i++)
        data_behind(summary, counted[i], every);
    json_t *comparisons = json_object_get(note_data(note), "comparisons");
    if (comparisons == NULL) {
        comparisons = json_array();
        json_object_set_new(note_data(note), "comparisons", comparisons);
    }
    json_array_append_new(comparisons, summary);
    note_source(note, "Over sites: Student t and exact sign flips; unit of inference is the site (Hurlbert 1984, Ecol Monogr 54:187).");
    return OUTCOME_OK;
}

/* ---- wildlife ---- */

struct wildlife_sets {
    int64_t looks, all, site_looks;
};

/* Looks of a group on a plot, with what was seen on them, and the looks of all plots of the site that share the number. */
static struct wildlife_sets wildlife_sets(json_t *note, const struct plot_wildlife *row, struct arena *arena)
{
    const char *group = word_of(WORDS_WILDLIFE_GROUP, (int)row->group);
    struct wildlife_sets out = {0};
    out.looks = note_rows(note, NOUN_WILDLIFE_VISIT, arena_print(arena, "plot=%s/%s;group=%s", row->site->code, row->plot->code, group),
                          (int64_t)row->looks);
    const int64_t sets[] = {out.looks, note_rows(note, NOUN_WILDLIFE_RECORD,
                                                 arena_print(arena, "wildlife_visit.plot=%s/%s;wildlife_visit.group=%s", row->site->code,
                                                             row->plot->code, group),
                                                 INT_UNKNOWN)};
    out.all = note_rows_of(note, sets, 2);
    out.site_looks = note_rows(note, NOUN_WILDLIFE_VISIT, arena_print(arena, "plot.site=%s;group=%s", row->site->code, group), INT_UNKNOWN);
    return out;
}

enum outcome wildlife_sections(const struct evidence *evidence, const struct site *site, json_t *note, struct arena *arena,
                               struct failure *why)
{
    struct plot_wildlife *rows = NULL;
    size_t n = 0;
    enum outcome outcome = evidence_wildlife(&evidence->facts, LEVEL, arena, &rows, &n, why);
    if (outcome != OUTCOME_OK || n == 0)
        return outcome;
    json_t *section = note_section(note, "Wildlife by effort"), *table = section_table(section), *list = json_array();
    section_text(section, "Rates are individuals per unit of effort with the empty looks in; richness is what equal numbers of looks would "
                          "have found. Raw totals over unequal effort say nothing.");
    static const char *const titles[] = {"plot",           "group",   "looks", "of them empty", "effort", "rate", "taxa at equal looks",
                                         "looks compared", "coverage"};
    for (size_t i = 0; i < sizeof titles / sizeof *titles; i++)
        table_column(table, titles[i], titles[i], "", i == 8 ? 2 : -1);
    for (size_t i = 0; i < n; i++) {
        if (site != NULL && rows[i].site->id != site->id)
            continue;
        struct wildlife_sets sets = wildlife_sets(note, &rows[i], arena);
        json_t *row = table_row(table);
        row_print(row, "%s/%s", rows[i].site->code, rows[i].plot->code);
        row_text(row, word_plain(WORDS_WILDLIFE_GROUP, (int)rows[i].group, arena));
        row_integer(row, (int64_t)rows[i].looks);
        cell_behind(table, sets.looks);
        row_integer(row, (int64_t)rows[i].looks_empty);
        cell_behind(table, sets.all);
        if (rows[i].effort_unit == NULL)
            row_text(row, NULL);
        else
            row_print(row, "%.0f %s", rows[i].effort, rows[i].effort_unit);
        cell_behind(table, sets.looks);
        row_estimate(row, rows[i].rate, 1, 2, "");
        row_estimate(row, rows[i].richness, 1, 1, "");
        cells_behind(table, 2, sets.all);
        row_integer(row, (int64_t)rows[i].at_looks);
        cell_behind(table, sets.site_looks);
        row_number(row, rows[i].coverage);
        cell_behind(table, sets.all);
        json_array_append_new(list, json_pack("{s:s, s:s, s:I, s:I, s:f}", "plot",
                                              arena_print(arena, "%s/%s", rows[i].site->code, rows[i].plot->code), "group",
                                              word_of(WORDS_WILDLIFE_GROUP, (int)rows[i].group), "looks", (json_int_t)rows[i].looks, "taxa",
                                              (json_int_t)rows[i].taxa, "rate", isfinite(rows[i].rate.value) ? rows[i].rate.value : -1.0));
        if (rows[i].looks_without_effort > 0)
            note_unknown(note, "%s/%s, %s: %zu looks have no effort recorded and are left out of the rate.", rows[i].site->code,
                         rows[i].plot->code, word_of(WORDS_WILDLIFE_GROUP, (int)rows[i].group), rows[i].looks_without_effort);
    }
    json_object_set_new(note_data(note), "wildlife", list);
    note_source(note, "Richness at equal looks: sample-based rarefaction, Chao et al. 2014, Ecol Monogr 84:45.");
    return OUTCOME_OK;
}

/* ---- care ---- */

enum outcome care_sections(const struct evidence *evidence, json_t *note, struct arena *arena, struct failure *why)
{
    struct plot_care *care = NULL;
    enum outcome outcome = evidence_care(&evidence->facts, arena, &care, why);
    if (outcome != OUTCOME_OK || evidence->facts.n_care == 0)
        return outcome;
    json_t *section = note_section(note, "Care given to each plot"), *table = section_table(section);
    static const char *const titles[] = {"plot", "waterings", "skipped", "water, in all", "hours"};
    for (size_t i = 0; i < sizeof titles / sizeof *titles; i++)
        table_column(table, titles[i], titles[i], i == 3 ? "L/m²" : i == 4 ? "h" : "", i >= 3 ? 0 : -1);
    for (size_t i = 0; i < evidence->facts.n_plots; i++) {
        const char *name = evidence_plot_name(evidence, i, arena);
        json_t *row = table_row(table);
        row_text(row, name);
        row_integer(row, (int64_t)care[i].waterings);
        cell_behind(table, note_rows(note, NOUN_CARE_EVENT, arena_print(arena, "plot=%s;kind=watering;state!=skipped", name),
                                     (int64_t)care[i].waterings));
        row_integer(row, (int64_t)care[i].skipped);
        cell_behind(table, note_rows(note, NOUN_CARE_EVENT, arena_print(arena, "plot=%s;kind=watering;state=skipped", name),
                                     (int64_t)care[i].skipped));
        row_number(row, care[i].litres_m2);
        cell_behind(table, note_rows(note, NOUN_CARE_EVENT, arena_print(arena, "plot=%s;kind=watering;state!=skipped", name),
                                     (int64_t)care[i].waterings));
        bool timed = false; /* no hours written down is not no hours */
        for (size_t k = 0; k < evidence->facts.n_care && !timed; k++)
            timed = evidence->facts.care[k].plot_id == evidence->facts.plots[i].id && is_known(evidence->facts.care[k].hours);
        row_number(row, timed ? care[i].hours : unknown_real());
        cell_behind(table, note_rows(note, NOUN_CARE_EVENT, arena_print(arena, "plot=%s;hours=known", name), INT_UNKNOWN));
    }
    return OUTCOME_OK;
}
