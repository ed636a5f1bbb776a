/* SPDX-License-Identifier: GPL-3.0-or-later
 * Regimes over sites: ratios of sums whose parts vary together. */
#include "work/regime_costs.h"
#include <math.h>

static const double LEVEL = 0.95;
enum { DRAWS = 10000 };

/// A regime on the sites: spend without monitoring, plants alive, area; index of a site as in the facts.
struct regime_sites {
    double *spend, *alive, *area;
    bool *there;
    size_t n;           ///< sites that have it
    int64_t *behind[3]; ///< sets of its plots: ledger lines, plants, plots; behind[k][site * plots + i]
};

/* One set of what lies behind the plots of a regime on the sites it has, and that another has too if it is given. */
static int64_t rows_behind(const struct evidence *evidence, const struct regime_sites *r, const struct regime_sites *and, unsigned kinds,
                           json_t *note, struct arena *arena)
{
    size_t plots = evidence->facts.n_plots, n = 0;
    int64_t *sets = arena_array(arena, 3 * evidence->facts.n_sites * (plots + 1) + 1, sizeof *sets);
    for (size_t k = 0; k < evidence->facts.n_sites; k++)
        for (size_t i = 0; i < plots && r->there[k] && (and == NULL || and->there[k]); i++)
            for (size_t kind = 0; kind < 3; kind++)
                if ((kinds >> kind & 1) && r->behind[kind][k * plots + i] > 0)
                    sets[n++] = r->behind[kind][k * plots + i];
    return note_rows_of(note, sets, n);
}
enum { BEHIND_SPEND = 1, BEHIND_ALIVE = 2, BEHIND_PLOTS = 4 };

static void regimes_add(const struct evidence *evidence, const struct ledger *ledger, const struct cost_rows *rows, struct regime_sites *of,
                        struct arena *arena)
{
    const struct evidence_facts *f = &evidence->facts;
    for (size_t r = 0; r < REGIME_COUNT; r++) {
        of[r] = (struct regime_sites){.n = 0};
        of[r].spend = arena_array(arena, f->n_sites + 1, sizeof(double));
        of[r].alive = arena_array(arena, f->n_sites + 1, sizeof(double));
        of[r].area = arena_array(arena, f->n_sites + 1, sizeof(double));
        of[r].there = arena_array(arena, f->n_sites + 1, sizeof(bool));
        for (size_t kind = 0; kind < 3; kind++)
            of[r].behind[kind] = arena_array(arena, f->n_sites * f->n_plots + 1, sizeof(int64_t));
    }
    for (size_t i = 0; i < f->n_plots; i++) {
        const struct ledger_share *share = &ledger->shares[i];
        struct plot_survival s;
        struct failure none;
        struct regime_sites *r = &of[f->plots[i].regime];
        double recipe = share->amount[0] - share->by_phase[COST_PHASE_MONITORING];
        bool counted = evidence->lives[i].n_censuses > 0 &&
                       evidence_survival(&evidence->lives[i], SIZE_MAX, LEVEL, arena, &s, &none) == OUTCOME_OK && s.planted > 0;
        if (!counted || !(recipe > 0))
            continue;
        for (size_t k = 0; k < f->n_sites; k++) {
            if (f->sites[k].id != f->plots[i].site_id)
                continue;
            r->n += !r->there[k];
            r->there[k] = true;
            r->spend[k] += recipe;
            r->alive[k] += (double)s.alive;
            r->area[k] += f->plots[i].net_area_m2;
            r->behind[0][k * f->n_plots + i] = rows[i].spend;
            r->behind[1][k * f->n_plots + i] = rows[i].alive;
            r->behind[2][k * f->n_plots + i] = rows[i].plot;
        }
    }
}

/* Values of the sites where `with` (and `and`, if not NULL) is present, side by side. */
static size_t gather(const struct regime_sites *with, const struct regime_sites *and, const double *values, size_t n_sites, double *out)
{
    size_t n = 0;
    for (size_t k = 0; k < n_sites; k++)
        if (with->there[k] && (and == NULL || and->there[k]))
            out[n++] = values[k];
    return n;
}

static double sum_of(const double *x, size_t n)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += x[i];
    return sum;
}

static void range_cell(json_t *row, double low, double high, const char *currency, struct arena *arena)
{
    if (is_known(low) && is_known(high))
        row_text(row,
                 arena_print(arena, low < 0 ? "%s to %s" : "%s–%s", money_print(low, NULL, arena), money_print(high, currency, arena)));
    else
        row_text(row, NULL);
}

static json_t *known_json(double x)
{
    return is_known(x) && !isinf(x) ? json_real(x) : json_null();
}

static enum outcome regimes_table(const struct evidence *evidence, const struct regime_sites *of, json_t *note, struct arena *arena,
                                  struct failure *why)
{
    const char *currency = evidence->programme.currency;
    size_t n_sites = evidence->facts.n_sites;
    json_t *section = note_section(note, "What each regime cost, over its sites"), *table = section_table(section), *list = json_array();
    section_text(
        section,
        "Spend without monitoring over plants of the first planting alive. The site is the unit: spend and plants vary together over "
        "sites. "
        "Fieller's set is the honest one where it exists; the linearised interval is too narrow where few plants live; drawing few "
        "sites again is too narrow as well.");
    static const char *const titles[] = {
        "regime", "sites", "spend", "alive", "per established plant", "Fieller's interval", "linearised", "sites drawn again", "per m²"};
    for (size_t i = 0; i < sizeof titles / sizeof *titles; i++)
        table_column(table, titles[i], titles[i], i == 2 || i == 8 ? currency : "", i == 2 || i == 3 ? 0 : i == 8 ? 2 : -1);
    double *spend = arena_array(arena, n_sites + 1, sizeof *spend), *alive = arena_array(arena, n_sites + 1, sizeof *alive),
           *area = arena_array(arena, n_sites + 1, sizeof *area);
    for (size_t r = 0; r < REGIME_COUNT; r++) {
        struct ratio_units ratio;
        if (of[r].n == 0)
            continue;
        size_t n = gather(&of[r], NULL, of[r].spend, n_sites, spend);
        gather(&of[r], NULL, of[r].alive, n_sites, alive);
        gather(&of[r], NULL, of[r].area, n_sites, area);
        enum outcome outcome = cost_ratio_units(spend, alive, n, LEVEL, DRAWS, (uint64_t)evidence->programme.seed, &ratio, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        json_t *row = table_row(table);
        row_text(row, word_plain(WORDS_REGIME, (int)r, arena));
        const int64_t both = rows_behind(evidence, &of[r], NULL, BEHIND_SPEND | BEHIND_ALIVE, note, arena);
        row_integer(row, (int64_t)n);
        cell_behind(table, rows_behind(evidence, &of[r], NULL, BEHIND_PLOTS, note, arena));
        row_number(row, sum_of(spend, n));
        cell_behind(table, rows_behind(evidence, &of[r], NULL, BEHIND_SPEND, note, arena));
        row_number(row, sum_of(alive, n));
        cell_behind(table, rows_behind(evidence, &of[r], NULL, BEHIND_ALIVE, note, arena));
        row_text(row, is_known(ratio.estimate)
                          ? money_print(ratio.estimate, currency, arena)
                          : arena_print(arena, "no plants established; spend %s", money_print(sum_of(spend, n), currency, arena)));
        range_cell(row, ratio.fieller_low, ratio.fieller_high, currency, arena);
        range_cell(row, ratio.linear_low, ratio.linear_high, currency, arena);
        range_cell(row, ratio.bootstrap_low, ratio.bootstrap_high, currency, arena);
        cells_behind(table, 4, both);
        row_number(row, sum_of(spend, n) / sum_of(area, n));
        cell_behind(table, rows_behind(evidence, &of[r], NULL, BEHIND_SPEND | BEHIND_PLOTS, note, arena));
        json_array_append_new(list, json_pack("{s:s, s:I, s:o, s:[o,o], s:[o,o], s:o}", "regime", word_of(WORDS_REGIME, (int)r), "sites",
                                              (json_int_t)n, "per_established", known_json(ratio.estimate), "fieller",
                                              known_json(ratio.fieller_low), known_json(ratio.fieller_high), "linear",
                                              known_json(ratio.linear_low), known_json(ratio.linear_high), "per_m2",
                                              known_json(sum_of(spend, n) / sum_of(area, n))));
    }
    json_object_set_new(note_data(note), "regime_costs", list);
    return OUTCOME_OK;
}

static enum outcome pairs_table(const struct evidence *evidence, const struct regime_sites *of, json_t *note, struct arena *arena,
                                struct failure *why)
{
    const char *currency = evidence->programme.currency;
    size_t n_sites = evidence->facts.n_sites;
    json_t *table = NULL, *list = json_array();
    double *v[4];
    for (size_t k = 0; k < 4; k++)
        v[k] = arena_array(arena, n_sites + 1, sizeof *v[k]);
    for (size_t a = 0; a < REGIME_COUNT; a++)
        for (size_t b = a + 1; b < REGIME_COUNT; b++) {
            struct ratio_versus found;
            size_t n = gather(&of[a], &of[b], of[a].spend, n_sites, v[0]);
            if (n == 0)
                continue;
            gather(&of[a], &of[b], of[a].alive, n_sites, v[1]);
            gather(&of[a], &of[b], of[b].spend, n_sites, v[2]);
            gather(&of[a], &of[b], of[b].alive, n_sites, v[3]);
            enum outcome outcome =
                cost_ratio_versus(v[0], v[1], v[2], v[3], n, LEVEL, DRAWS, (uint64_t)evidence->programme.seed, &found, why);
            if (outcome != OUTCOME_OK)
                return outcome;
            if (table == NULL) {
                json_t *section = note_section(note, "Regimes beside each other, on the sites that have both");
                section_text(
                    section,
                    "Cost per established plant, the first less the second. The chance that the first is cheaper is the share of the draws "
                    "of sites in which it is; with fewer than six sites it says little.");
                table = section_table(section);
                table_column(table, "pair", "pair", "", -1);
                table_column(table, "sites", "sites", "", -1);
                table_column(table, "difference", "difference", currency, 2);
                table_column(table, "interval", "interval over sites", "", -1);
                table_column(table, "cheaper", "first is cheaper", "% of draws", 0);
            }
            json_t *row = table_row(table);
            row_print(row, "%s − %s", word_plain(WORDS_REGIME, (int)a, arena), word_plain(WORDS_REGIME, (int)b, arena));
            const int64_t sides[] = {rows_behind(evidence, &of[a], &of[b], BEHIND_SPEND | BEHIND_ALIVE, note, arena),
                                     rows_behind(evidence, &of[b], &of[a], BEHIND_SPEND | BEHIND_ALIVE, note, arena)};
            const int64_t plots[] = {rows_behind(evidence, &of[a], &of[b], BEHIND_PLOTS, note, arena),
                                     rows_behind(evidence, &of[b], &of[a], BEHIND_PLOTS, note, arena)};
            row_integer(row, (int64_t)n);
            cell_behind(table, note_rows_of(note, plots, 2));
            row_number(row, found.difference);
            range_cell(row, found.low, found.high, currency, arena);
            row_number(row, 100 * found.cheaper);
            cells_behind(table, 3, note_rows_of(note, sides, 2));
            json_array_append_new(list, json_pack("{s:s, s:s, s:I, s:o, s:[o,o], s:o}", "a", word_of(WORDS_REGIME, (int)a), "b",
                                                  word_of(WORDS_REGIME, (int)b), "sites", (json_int_t)n, "difference",
                                                  known_json(found.difference), "interval", known_json(found.low), known_json(found.high),
                                                  "chance_a_cheaper", known_json(found.cheaper)));
        }
    json_object_set_new(note_data(note), "regime_pairs", list);
    return OUTCOME_OK;
}

enum outcome regime_costs_sections(const struct evidence *evidence, const struct ledger *ledger, const struct cost_rows *rows, json_t *note,
                                   struct arena *arena, struct failure *why)
{
    struct regime_sites of[REGIME_COUNT];
    size_t any = 0;
    regimes_add(evidence, ledger, rows, of, arena);
    for (size_t r = 0; r < REGIME_COUNT; r++)
        any += of[r].n;
    if (any == 0)
        return OUTCOME_OK;
    enum outcome outcome = regimes_table(evidence, of, note, arena, why);
    return outcome == OUTCOME_OK ? pairs_table(evidence, of, note, arena, why) : outcome;
}
