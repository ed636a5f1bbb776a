/* SPDX-License-Identifier: GPL-3.0-or-later
 * Findings as sections of a note: what it cost, and what the figures rest on. */
#include "money/money.h"
#include "stats/stats.h"
#include "work/behind.h"
#include "work/regime_costs.h"
#include <math.h>
#include <string.h>

static const double LEVEL = 0.95;

/* Which lines of the ledger. */
enum phases { PHASE_ANY, PHASE_MONITORING, PHASE_RECIPE };

struct money_rows {
    const struct cost_item *items;
    size_t n_items;
    const struct work_hours *hours;
    size_t n_hours;
    const struct ledger_plot *plots; ///< what shared lines are split by, in the order of the plots
};

static bool of_phase(enum cost_phase phase, enum phases wanted)
{
    return wanted == PHASE_ANY || (wanted == PHASE_MONITORING) == (phase == COST_PHASE_MONITORING);
}

/* Lines spent that a plot bears alone, with the plots of its site, and with all; and what shared lines are split by. */
static int64_t behind_money(const struct behind *behind, const struct money_rows *money, size_t plot, enum phases phases)
{
    static const char *const words[] = {[PHASE_ANY] = "", [PHASE_MONITORING] = ";phase=monitoring", [PHASE_RECIPE] = ";phase!=monitoring"};
    const struct plot *row = &behind->evidence->facts.plots[plot];
    const char *name = evidence_plot_name(behind->evidence, plot, behind->arena), *site = behind->evidence->lives[plot].site->code;
    const char *where[3] = {arena_print(behind->arena, "plot=%s;estimate!=yes%s", name, words[phases]),
                            arena_print(behind->arena, "site=%s;plot=unknown;estimate!=yes%s", site, words[phases]),
                            arena_print(behind->arena, "site=unknown;plot=unknown;estimate!=yes%s", words[phases])};
    int64_t n[3] = {0}, sets[5] = {0};
    double of_site = 0, of_all = 0; /* an unknown area makes the sum unknown, and nothing shared is given to anybody */
    for (size_t i = 0; i < behind->evidence->facts.n_plots; i++) {
        of_all += money->plots[i].area_m2;
        of_site += money->plots[i].site_id == row->site_id ? money->plots[i].area_m2 : 0;
    }
    for (size_t i = 0; i < money->n_items; i++) {
        const struct cost_item *item = &money->items[i];
        int whose = item->plot_id == row->id ? 0 : item->plot_id != 0 ? 3 : item->site_id == row->site_id ? 1 : item->site_id == 0 ? 2 : 3;
        bool given = whose == 0 || (whose == 1 ? of_site > 0 : of_all > 0);
        if (whose < 3 && given && item->estimate != TRUTH_YES && of_phase(item->phase, phases))
            n[whose]++;
    }
    for (size_t i = 0; i < 3; i++)
        sets[i] = i == 0 || n[i] > 0 ? note_rows(behind->note, NOUN_COST_ITEM, where[i], n[i]) : 0;
    if (n[1] > 0)
        sets[3] = note_rows(behind->note, NOUN_PLOT, arena_print(behind->arena, "site=%s", site), INT_UNKNOWN);
    if (n[2] > 0)
        sets[4] = note_rows(behind->note, NOUN_PLOT, "", (int64_t)behind->evidence->facts.n_plots);
    return note_rows_of(behind->note, sets, 5);
}

static int64_t behind_hours(const struct behind *behind, const struct money_rows *money, size_t plot)
{
    const struct plot *row = &behind->evidence->facts.plots[plot];
    const char *name = evidence_plot_name(behind->evidence, plot, behind->arena), *site = behind->evidence->lives[plot].site->code;
    int64_t n[2] = {0};
    for (size_t i = 0; i < money->n_hours; i++) {
        const struct work_hours *one = &money->hours[i];
        if (one->volunteer == TRUTH_YES && is_known(one->hours)) {
            n[0] += one->plot_id == row->id;
            n[1] += one->plot_id == 0 && one->site_id == row->site_id;
        }
    }
    const int64_t sets[] = {
        note_rows(behind->note, NOUN_WORK_HOURS, arena_print(behind->arena, "plot=%s;volunteer=yes;hours=known", name), n[0]),
        note_rows(behind->note, NOUN_WORK_HOURS, arena_print(behind->arena, "site=%s;plot=unknown;volunteer=yes;hours=known", site), n[1])};
    return note_rows_of(behind->note, sets, 2);
}

/* What shared lines are split by: the net area, or of a plot that has none (not planted, or not worked out) its outline. */
static enum outcome plot_area(const struct plot *plot, struct arena *arena, double *area, struct failure *why)
{
    struct shape outline;
    *area = plot->net_area_m2;
    if (is_known(*area))
        return OUTCOME_OK;
    enum outcome outcome = load_shape(plot->wkb, arena, &outline, why);
    if (outcome == OUTCOME_OK && outline.kind == SHAPE_POLYGONS)
        *area = shape_area_m2(&outline);
    return outcome;
}

enum outcome cost_sections(struct store *store, const struct evidence *evidence, json_t *note, struct arena *arena, struct failure *why)
{
    struct ledger_settings settings = {
        .split = SPLIT_BY_AREA, .with_tax = false, .price_year = INT_UNKNOWN, .volunteer_rate = {0, 12.5, 21}};
    return cost_sections_by(store, evidence, &settings, note, arena, why);
}

enum outcome cost_sections_by(struct store *store, const struct evidence *evidence, const struct ledger_settings *settings, json_t *note,
                              struct arena *arena, struct failure *why)
{
    void *items = NULL, *hours = NULL;
    size_t n_items = 0, n_hours = 0, n = evidence->facts.n_plots;
    struct ledger ledger;
    struct ledger_plot *plots = arena_array(arena, n, sizeof *plots);
    enum outcome outcome = load_all(store, NOUN_COST_ITEM, arena, &items, &n_items, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(store, NOUN_WORK_HOURS, arena, &hours, &n_hours, why);
    if (outcome != OUTCOME_OK || n_items == 0)
        return outcome;
    for (size_t i = 0; i < n; i++) {
        const struct plot *plot = &evidence->facts.plots[i];
        double area = 0;
        outcome = plot_area(plot, arena, &area, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        plots[i] = (struct ledger_plot){plot->id, plot->site_id, plot->code, area, (int64_t)evidence->lives[i].n_plants};
    }
    outcome = ledger_split(items, n_items, hours, n_hours, plots, n, settings, arena, &ledger, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    const char *currency = evidence->programme.currency;
    const struct behind behind = {note, evidence, arena};
    const struct money_rows money = {items, n_items, hours, n_hours, plots};
    json_t *section = note_section(note, "What it cost"), *table = section_table(section), *list = json_array();
    section_text(section, "Per plant alive, per m² and per plant planted rank plots differently; all are shown. Monitoring is kept apart: "
                          "it is research, not recipe.");
    static const char *const titles[] = {"plot",
                                         "spent",
                                         "of that monitoring",
                                         "per m²",
                                         "per plant planted",
                                         "per plant alive",
                                         "with volunteers, low rate",
                                         "with volunteers, task rate"};
    for (size_t i = 0; i < sizeof titles / sizeof *titles; i++)
        table_column(table, titles[i], titles[i], i == 0 || i == 5 ? "" : currency, i == 0 ? -1 : i == 3 || i == 4 ? 2 : 0);
    struct cost_rows *rows = arena_array(arena, n + 1, sizeof *rows);
    for (size_t i = 0; i < n; i++) {
        struct plot_survival s;
        struct failure none;
        struct cost_ratio ratio = {.words = "not counted yet", .estimate = unknown_real()};
        const struct ledger_share *share = &ledger.shares[i];
        double recipe = share->amount[0] - share->by_phase[COST_PHASE_MONITORING], area = evidence->facts.plots[i].net_area_m2;
        bool counted = evidence->lives[i].n_censuses > 0 &&
                       evidence_survival(&evidence->lives[i], SIZE_MAX, LEVEL, arena, &s, &none) == OUTCOME_OK && s.planted > 0;
        if (share->amount[0] == 0 && !counted)
            continue;
        if (counted) {
            struct survival_belief belief = {.planted = (double)(s.alive + s.dead),
                                             .alive = (double)s.alive,
                                             .low = unknown_real(),
                                             .mode = unknown_real(),
                                             .high = unknown_real()};
            outcome =
                cost_per_established(recipe, 0, &belief, LEVEL, 10000, (uint64_t)evidence->programme.seed, currency, arena, &ratio, why);
            if (outcome != OUTCOME_OK)
                return outcome;
        }
        const int64_t spent = behind_money(&behind, &money, i, PHASE_ANY), on_recipe = behind_money(&behind, &money, i, PHASE_RECIPE),
                      per_area[] = {on_recipe, behind_plot(&behind, i), -1},
                      per_planted[] = {on_recipe, counted ? behind_planted(&behind, i) : 0, -1},
                      per_alive[] = {on_recipe, counted ? behind_known(&behind, i, s.census) : 0, -1},
                      with_hours[] = {spent, behind_hours(&behind, &money, i), -1};
        rows[i] = (struct cost_rows){on_recipe, counted ? behind_known(&behind, i, s.census) : 0, behind_plot(&behind, i)};
        json_t *row = table_row(table);
        row_text(row, evidence_plot_name(evidence, i, arena));
        row_number(row, share->amount[0]);
        cell_behind(table, spent);
        row_number(row, share->by_phase[COST_PHASE_MONITORING]);
        cell_behind(table, behind_money(&behind, &money, i, PHASE_MONITORING));
        row_number(row, is_known(area) && area > 0 ? recipe / area : unknown_real());
        cell_behind(table, behind_all(&behind, per_area));
        row_number(row, counted && s.planted > 0 ? recipe / (double)s.planted : unknown_real());
        cell_behind(table, behind_all(&behind, per_planted));
        row_text(row, ratio.words);
        cell_behind(table, behind_all(&behind, per_alive));
        row_number(row, share->amount[1]);
        row_number(row, share->amount[2]);
        cells_behind(table, 2, behind_all(&behind, with_hours));
        json_t *object = json_pack("{s:s, s:f}", "plot", evidence_plot_name(evidence, i, arena), "recipe", recipe);
        json_object_set_new(object, "per_m2", is_known(area) && area > 0 ? json_real(recipe / area) : json_null());
        json_object_set_new(object, "per_alive", is_known(ratio.estimate) ? json_real(ratio.estimate) : json_null());
        data_behind(object, "recipe", on_recipe);
        data_behind(object, "per_m2", behind_all(&behind, per_area));
        data_behind(object, "per_alive", behind_all(&behind, per_alive));
        json_array_append_new(list, object);
    }
    for (size_t i = 0; i < ledger.n_notes; i++)
        note_unknown(note, "%s", ledger.notes[i]);
    json_object_set_new(note_data(note), "costs", list);
    size_t before = json_array_size(json_object_get(note, "sections"));
    outcome = regime_costs_sections(evidence, &ledger, rows, note, arena, why);
    const int64_t all[] = {note_rows(note, NOUN_COST_ITEM, "estimate!=yes", INT_UNKNOWN),
                           note_rows(note, NOUN_PLOT, "", (int64_t)evidence->facts.n_plots),
                           note_rows(note, NOUN_PLANT_RECORD, "census=last;counts_as=first_planting", INT_UNKNOWN)};
    for (; before < json_array_size(json_object_get(note, "sections")); before++)
        section_behind(json_array_get(json_object_get(note, "sections"), before), note_rows_of(note, all, 3));
    return outcome;
}

/* ---- what the figures rest on ---- */

enum outcome quality_sections(struct store *store, const struct evidence *evidence, json_t *note, struct arena *arena, struct failure *why)
{
    struct store_where waiting = {.field = "state", .text = "waiting"};
    int64_t held = 0;
    enum outcome outcome = store_count(store, NOUN_HELD_ROW, &waiting, 1, &held, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    size_t in_stage[STAGE_COUNT] = {0}, reporting = 0;
    for (size_t i = 0; i < evidence->facts.n_sites; i++) {
        in_stage[evidence->facts.sites[i].stage]++;
        bool any = false;
        for (size_t j = 0; j < evidence->facts.n_plots && !any; j++)
            any = evidence->lives[j].site->id == evidence->facts.sites[i].id && evidence->lives[j].n_censuses > 0;
        reporting += any;
    }
    size_t planted = in_stage[STAGE_PLANTED] + in_stage[STAGE_MONITORED] + in_stage[STAGE_HANDED_OVER] + in_stage[STAGE_CLOSED];
    const int64_t sets[] = {note_rows(note, NOUN_SITE, "", (int64_t)evidence->facts.n_sites),
                            note_rows(note, NOUN_PLANT_RECORD, "", (int64_t)evidence->facts.n_records),
                            held > 0 ? note_rows(note, NOUN_HELD_ROW, "state=waiting", held) : 0};
    section_line(note_section(note, "What the figures rest on"), note_rows_of(note, sets, 3),
                 "%zu sites planted, %zu with a census, %zu rejected, %zu still being planned. %zu plant records.%s", planted, reporting,
                 in_stage[STAGE_REJECTED], evidence->facts.n_sites - planted - in_stage[STAGE_REJECTED], evidence->facts.n_records,
                 held > 0 ? arena_print(arena, " %lld doubtful rows wait for a decision and are in none of these figures.", (long long)held)
                          : "");
    if (held > 0)
        note_unknown(note, "%lld doubtful rows wait for a decision; see spinney held.", (long long)held);
    for (size_t j = 0; j < evidence->facts.n_plots; j++)
        if (evidence->lives[j].n_censuses > 0 && evidence->lives[j].no_first_census)
            note_unknown(note,
                         "%s: no as-planted census, so deaths before the first census cannot be told from plants that were never there.",
                         evidence_plot_name(evidence, j, arena));
    json_object_set_new(note_data(note), "held", json_integer(held));
    return OUTCOME_OK;
}
