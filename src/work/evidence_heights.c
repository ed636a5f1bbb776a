/* SPDX-License-Identifier: GPL-3.0-or-later
 * Findings as sections of a note: growth, in views that flatter and that do not. */
#include "stats/stats.h"
#include "work/behind.h"
#include <math.h>

static const double LEVEL = 0.95;

static void growth_columns(json_t *gains, json_t *heights)
{
    static const char *const gained[] = {"plot", "from", "to", "same plants, gain", "relative growth per year", "measured twice"},
                             *const stood[] = {"plot",
                                               "per plant planted, now",
                                               "per m², now",
                                               "tallest five per 100 m²",
                                               "mean of survivors then",
                                               "mean of survivors now"};
    for (size_t i = 0; i < sizeof gained / sizeof *gained; i++)
        table_column(gains, gained[i], gained[i], i == 3 ? "cm" : "", -1);
    for (size_t i = 0; i < sizeof stood / sizeof *stood; i++)
        table_column(heights, stood[i], stood[i], i > 0 ? "cm" : "", i == 2 || i == 3 ? 0 : -1);
}

static void shared_sections(const struct behind *behind, const struct site *site, json_t *section)
{
    const struct evidence *evidence = behind->evidence;
    for (size_t i = 0; i < evidence->facts.n_plots; i++)
        for (size_t j = i + 1; j < evidence->facts.n_plots; j++) {
            struct shared_growth shared;
            struct plot_growth a, b;
            struct failure none;
            if (evidence->lives[i].site->id != site->id || evidence->lives[j].site->id != site->id ||
                evidence_shared_growth(&evidence->lives[i], &evidence->lives[j], LEVEL, behind->arena, &shared, &none) != OUTCOME_OK ||
                shared.species == 0 || evidence_growth(&evidence->lives[i], LEVEL, behind->arena, &a, &none) != OUTCOME_OK ||
                evidence_growth(&evidence->lives[j], LEVEL, behind->arena, &b, &none) != OUTCOME_OK)
                continue;
            const int64_t sets[] = {behind_heights_both(behind, i, a.from, a.to), behind_heights_both(behind, j, b.from, b.to), -1};
            section_line(section, behind_all(behind, sets), "%s", shared.sentence);
        }
}

static void growth_rows(const struct behind *behind, size_t plot, const struct plot_growth *g, json_t *gains, json_t *heights)
{
    const int64_t both = behind_heights_both(behind, plot, g->from, g->to), all = behind_heights(behind, plot, g->to, false),
                  then = behind_heights(behind, plot, g->from, true), now = behind_heights(behind, plot, g->to, true),
                  planted[] = {now, behind_dead_planted(behind, plot, g->to), -1}, on_area[] = {all, behind_plot(behind, plot), -1};
    const char *name = evidence_plot_name(behind->evidence, plot, behind->arena);
    json_t *row = table_row(gains);
    row_text(row, name);
    row_text(row, day_words(g->lives->censuses[g->from].to, behind->arena));
    cell_behind(gains, then);
    row_text(row, day_words(g->lives->censuses[g->to].to, behind->arena));
    cell_behind(gains, now);
    row_estimate(row, g->same_plants_cm, 1, 0, "");
    row_estimate(row, g->rgr, 1, 2, "");
    row_integer(row, (int64_t)g->measured_both);
    cells_behind(gains, 3, both);
    row = table_row(heights);
    row_text(row, name);
    row_estimate(row, g->per_planted_cm, 1, 0, "");
    cell_behind(heights, behind_all(behind, planted));
    row_number(row, g->per_m2_cm);
    row_number(row, g->tallest_cm);
    cells_behind(heights, 2, behind_all(behind, on_area));
    row_estimate(row, g->survivors_before_cm, 1, 0, "");
    cell_behind(heights, then);
    row_estimate(row, g->survivors_now_cm, 1, 0, "");
    cell_behind(heights, now);
}

static json_t *growth_json(const struct behind *behind, size_t plot, const struct plot_growth *g)
{
    const int64_t both = behind_heights_both(behind, plot, g->from, g->to),
                  planted[] = {behind_heights(behind, plot, g->to, true), behind_dead_planted(behind, plot, g->to), -1};
    json_t *out = json_pack("{s:s, s:s}", "plot", evidence_plot_name(behind->evidence, plot, behind->arena), "sentence", g->sentence);
    const struct {
        const char *key;
        double value;
        int64_t set;
    } numbers[] = {{"same_plants_cm", g->same_plants_cm.value, both},
                   {"per_planted_cm", g->per_planted_cm.value, behind_all(behind, planted)},
                   {"survivors_now_cm", g->survivors_now_cm.value, planted[0]},
                   {"years", g->years, both}};
    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++) {
        json_object_set_new(out, numbers[i].key, isfinite(numbers[i].value) ? json_real(numbers[i].value) : json_null());
        data_behind(out, numbers[i].key, numbers[i].set);
    }
    return out;
}

enum outcome growth_sections(const struct evidence *evidence, const struct site *site, json_t *note, struct arena *arena,
                             struct failure *why)
{
    (void)why;
    const struct behind behind = {note, evidence, arena};
    json_t *list = json_array();
    for (size_t i = 0; i < evidence->facts.n_sites; i++) {
        const struct site *one = &evidence->facts.sites[i];
        json_t *section = NULL, *gains = NULL, *heights = NULL;
        if (site != NULL && one->id != site->id)
            continue;
        for (size_t j = 0; j < evidence->facts.n_plots; j++) {
            struct plot_growth g;
            struct failure none;
            if (evidence->lives[j].site->id != one->id || evidence_growth(&evidence->lives[j], LEVEL, arena, &g, &none) != OUTCOME_OK)
                continue;
            if (section == NULL) {
                section = note_section(note, arena_print(arena, "Growth at %s", one->name));
                gains = section_table(section);
                heights = section_table(
                    note_section(note, arena_print(arena, "Heights at %s, in views that flatter and that do not", one->name)));
                growth_columns(gains, heights);
            }
            growth_rows(&behind, j, &g, gains, heights);
            section_line(section, behind_heights_both(&behind, j, g.from, g.to), "%s", g.sentence);
            json_array_append_new(list, growth_json(&behind, j, &g));
        }
        if (section != NULL) {
            shared_sections(&behind, one, note_section(note, arena_print(arena, "The species that plots of %s share", one->name)));
        }
    }
    json_object_set_new(note_data(note), "growth", list);
    note_source(note,
                "Relative growth: Hoffmann & Poorter 2002, Ann Bot 90:37. Intervals: Student t over plants, the precision of these plots.");
    return OUTCOME_OK;
}
