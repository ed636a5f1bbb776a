/* SPDX-License-Identifier: GPL-3.0-or-later
 * The ledger given to plots: split rules, tax, price year, volunteers at three rates. */
#include "money/money.h"
#include <math.h>
#include <string.h>

double price_deflate(double amount, int64_t from_year, int64_t to_year, const int64_t *index_year, const double *index_value, size_t n)
{
    if (from_year == to_year)
        return amount;
    double from = unknown_real(), to = unknown_real();
    for (size_t i = 0; i < n; i++) {
        if (index_year[i] == from_year)
            from = index_value[i];
        if (index_year[i] == to_year)
            to = index_value[i];
    }
    return from > 0 && to > 0 ? amount * to / from : unknown_real();
}

struct splitting {
    const struct ledger_plot *plots;
    size_t n_plots;
    const struct ledger_settings *settings;
    struct arena *arena;
    struct ledger *out;
    double *weight; /* of each plot in the line at hand; sums to 1 */
    size_t undeflated, untaxed, unsplit, unyeared;
};

/* Whose line it is: a plot's, a site's plots', or everybody's. False where no plot can take it. */
static bool weights_set(struct splitting *s, int64_t plot_id, int64_t site_id, enum split_rule rule)
{
    double all = 0;
    for (size_t i = 0; i < s->n_plots; i++) {
        const struct ledger_plot *plot = &s->plots[i];
        bool takes = plot_id > 0 ? plot->id == plot_id : site_id > 0 ? plot->site_id == site_id : true;
        double weight = plot_id > 0 || rule == SPLIT_EQUALLY ? 1 : rule == SPLIT_BY_AREA ? plot->area_m2 : (double)plot->plants;
        s->weight[i] = takes ? weight : 0;
        all += s->weight[i];
    }
    if (!(all > 0))
        return false;
    for (size_t i = 0; i < s->n_plots; i++)
        s->weight[i] /= all;
    return true;
}

static double amount_of(struct splitting *s, const struct cost_item *item)
{
    const struct ledger_settings *settings = s->settings;
    double amount = item->amount;
    if (settings->with_tax) {
        if (is_known(item->tax_pct))
            amount *= 1 + item->tax_pct / 100;
        else
            s->untaxed++;
    }
    if (settings->price_year == INT_UNKNOWN || settings->n_index == 0)
        return amount;
    int64_t year = item->price_year;
    if (year == INT_UNKNOWN && item->paid_on != DATE_UNKNOWN) {
        int y = 0, m = 0, d = 0;
        date_parts(item->paid_on, &y, &m, &d);
        year = y;
    }
    double deflated = year == INT_UNKNOWN ? unknown_real()
                                          : price_deflate(amount, year, settings->price_year, settings->index_year, settings->index_value,
                                                          settings->n_index);
    if (is_known(deflated))
        return deflated;
    s->undeflated++;
    return amount;
}

static enum outcome item_split(struct splitting *s, const struct cost_item *item, size_t i, struct failure *why)
{
    enum split_rule rule = s->settings->split;
    if (!is_known(item->amount)) {
        fail(why, OUTCOME_DATA, "Line %zu of the ledger (%s) has no amount.", i + 1, item->item == NULL ? "no name" : item->item);
        return failure_remedy(why, "Write the amount without tax, or 0 with a note where it cost nothing.");
    }
    if (!text_blank(item->split) && !split_rule_read(item->split, &rule)) {
        fail(why, OUTCOME_DATA, "Line %zu of the ledger is split \"%s\", which is no rule.", i + 1, item->split);
        return failure_remedy(why, "Write by area, by plants or equally.");
    }
    if (!weights_set(s, item->plot_id, item->site_id, rule)) {
        s->unsplit++;
        return OUTCOME_OK;
    }
    double amount = amount_of(s, item);
    for (size_t k = 0; k < s->n_plots; k++) {
        struct ledger_share *share = &s->out->shares[k];
        double part = s->weight[k] * amount;
        if (item->estimate == TRUTH_YES) {
            share->estimated += part;
            continue;
        }
        share->by_phase[item->phase] += part;
        for (int r = 0; r < 3; r++)
            share->amount[r] += part;
    }
    return OUTCOME_OK;
}

static void hours_split(struct splitting *s, const struct work_hours *hours)
{
    if (hours->volunteer != TRUTH_YES || !is_known(hours->hours))
        return;
    if (!weights_set(s, hours->plot_id, hours->site_id, s->settings->split)) {
        s->unsplit++;
        return;
    }
    for (size_t k = 0; k < s->n_plots; k++) {
        struct ledger_share *share = &s->out->shares[k];
        double part = s->weight[k] * hours->hours;
        share->volunteer_hours += part;
        for (int r = 0; r < 3; r++)
            share->amount[r] += part * s->settings->volunteer_rate[r];
    }
}

static void notes_make(struct splitting *s)
{
    struct ledger *out = s->out;
    out->notes = arena_array(s->arena, 6, sizeof *out->notes);
    if (s->settings->price_year != INT_UNKNOWN && s->settings->n_index == 0)
        out->notes[out->n_notes++] = "No price index was given: prices stand as they were paid, in their own years.";
    if (s->undeflated > 0)
        out->notes[out->n_notes++] =
            arena_print(s->arena, "%zu lines have no year in the price index and stand as they were paid.", s->undeflated);
    if (s->untaxed > 0)
        out->notes[out->n_notes++] = arena_print(s->arena, "%zu lines have no tax rate and stand without tax.", s->untaxed);
    if (s->unsplit > 0)
        out->notes[out->n_notes++] = arena_print(
            s->arena, "%zu lines could not be given to a plot and are not in the sums: no plot, or the split rule has nothing to go by.",
            s->unsplit);
}

enum outcome ledger_split(const struct cost_item *items, size_t n_items, const struct work_hours *hours, size_t n_hours,
                          const struct ledger_plot *plots, size_t n_plots, const struct ledger_settings *settings, struct arena *arena,
                          struct ledger *out, struct failure *why)
{
    if (n_plots == 0)
        return fail(why, OUTCOME_DATA, "There is no plot to give the ledger to.");
    struct ledger ledger = {.n = n_plots};
    ledger.shares = arena_array(arena, n_plots, sizeof *ledger.shares);
    struct splitting s = {.plots = plots, .n_plots = n_plots, .settings = settings, .arena = arena, .out = &ledger};
    s.weight = arena_array(arena, n_plots, sizeof *s.weight);
    for (size_t i = 0; i < n_plots; i++)
        ledger.shares[i].plot_id = plots[i].id;
    for (size_t i = 0; i < n_items; i++) {
        enum outcome outcome = item_split(&s, &items[i], i, why);
        if (outcome != OUTCOME_OK)
            return outcome;
    }
    for (size_t i = 0; i < n_hours; i++)
        hours_split(&s, &hours[i]);
    for (size_t i = 0; i < n_plots; i++) {
        ledger.estimated += ledger.shares[i].estimated;
        for (int r = 0; r < 3; r++)
            ledger.total[r] += ledger.shares[i].amount[r];
    }
    notes_make(&s);
    *out = ledger;
    return OUTCOME_OK;
}
