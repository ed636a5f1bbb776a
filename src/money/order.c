/* SPDX-License-Identifier: GPL-3.0-or-later
 * The order list: what the plans of several plots need, with reserve, in whole bundles, and whether there is time. */
#include "money/money.h"
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

void order_offer_init(struct order_offer *offer)
{
    *offer = (struct order_offer){.bundle = INT_UNKNOWN, .unit_price = unknown_real(), .lead_weeks = unknown_real()};
}

void order_settings_init(struct order_settings *settings)
{
    *settings = (struct order_settings){.reserve_pct = 5,
                                        .loss_pct = unknown_real(),
                                        .certainty_pct = unknown_real(),
                                        .ordered_on = DATE_UNKNOWN,
                                        .planting_on = DATE_UNKNOWN,
                                        .lead_weeks = 26,
                                        .tax_pct = unknown_real()};
}

enum outcome order_round(int64_t needed, double reserve_pct, int64_t bundle, int64_t *reserve, int64_t *ordered, int64_t *surplus,
                         struct failure *why)
{
    if (needed < 0 || needed > 1000000000)
        return fail(why, OUTCOME_DATA, "A count of %lld plants cannot be ordered.", (long long)needed);
    if (!(reserve_pct >= 0 && reserve_pct <= 100)) {
        fail(why, OUTCOME_DATA, "A reserve of %g %% cannot be; it must lie between 0 and 100.", reserve_pct);
        return failure_remedy(why, "Usual are 5 %% for losses, and 10 to 15 %% more for the first replacement.");
    }
    if (bundle < 1 || bundle > 100000)
        return fail(why, OUTCOME_DATA, "A bundle of %lld plants cannot be.", (long long)bundle);
    int64_t extra = (int64_t)ceil((double)needed * reserve_pct / 100 - 1e-9);
    int64_t bundles = (needed + extra + bundle - 1) / bundle;
    *reserve = extra;
    *ordered = bundles * bundle;
    *surplus = *ordered - needed - extra;
    return OUTCOME_OK;
}

static int need_order(const void *left, const void *right)
{
    const struct order_need *const *a = left, *const *b = right;
    int order = strcmp((*a)->species, (*b)->species);
    return order != 0 ? order : *a < *b ? -1 : *a > *b;
}

static const struct order_offer *offer_find(const struct order_offer *offers, size_t n, const char *species)
{
    const struct order_offer *general = NULL;
    for (size_t i = 0; i < n; i++) {
        if (offers[i].species == NULL)
            general = general == NULL ? &offers[i] : general;
        else if (text_same(offers[i].species, species))
            return &offers[i];
    }
    return general;
}

static const char *stock_words(enum stock_form stock)
{
    return stock == STOCK_FORM_BARE_ROOT    ? "bare-root"
           : stock == STOCK_FORM_CELL_GROWN ? "cell-grown"
           : stock == STOCK_FORM_POT        ? "pot-grown"
                                            : "form to be agreed";
}

/* What to write on the order, so that what comes can be held against it. Common practice, no source. */
static const char *specification_make(const struct order_row *row, struct arena *arena)
{
    return arena_print(
        arena,
        "%s, %s, height %s, provenance %s; plant passport on each lot; grown in: to be stated; no substitution without written approval.",
        row->species, stock_words(row->stock), row->size_cm == NULL ? "to be agreed" : arena_print(arena, "%s cm", row->size_cm),
        row->provenance == NULL ? "to be stated" : row->provenance);
}

static void lead_check(struct order_row *row, const struct order_offer *offer, const struct order_settings *settings, struct arena *arena)
{
    row->lead_weeks = offer != NULL && is_known(offer->lead_weeks) ? offer->lead_weeks : settings->lead_weeks;
    row->weeks_left = settings->ordered_on == DATE_UNKNOWN || settings->planting_on == DATE_UNKNOWN
                          ? unknown_real()
                          : (settings->planting_on - settings->ordered_on) / 7.0;
    row->order_by = order_latest_day(settings->planting_on, row->lead_weeks);
    row->late = is_known(row->weeks_left) && is_known(row->lead_weeks) && row->weeks_left < row->lead_weeks;
    if (row->late)
        row->late_words =
            arena_print(arena, "Ordered %.0f weeks before planting; the supplier needs %.0f. Ask now what is in stock, or plant later.",
                        floor(row->weeks_left), ceil(row->lead_weeks));
}

int32_t order_latest_day(int32_t planting_on, double lead_weeks)
{
    if (planting_on == DATE_UNKNOWN || !is_known(lead_weeks))
        return DATE_UNKNOWN;
    return planting_on - (int32_t)ceil(lead_weeks * 7 - 1e-9);
}

/* P(at most n − needed of n are lost) ≥ certainty. */
static bool enough_left(int64_t needed, int64_t n, double loss, double certainty)
{
    return n >= needed && gsl_cdf_binomial_P((unsigned)(n - needed), loss, (unsigned)n) >= certainty;
}

enum outcome order_expected_loss(int64_t needed, double loss, double certainty, int64_t *plants, struct failure *why)
{
    if (needed < 0 || needed > 10000000)
        return fail(why, OUTCOME_DATA, "A count of %lld plants cannot be ordered.", (long long)needed);
    if (!(loss >= 0 && loss < 1) || !(certainty >= 0.5 && certainty <= 0.9999)) {
        fail(why, OUTCOME_DATA, "A loss lies from 0 to below 100 %%, certainty between 50 and 99.99 %%.");
        return failure_remedy(why, "Say for example that 4 %% are lost and that 95 %% is sure enough.");
    }
    *plants = needed;
    if (needed == 0 || loss <= 0)
        return OUTCOME_OK;
    /* more plants are never less sure: double the extra until it is enough, then halve between */
    int64_t low = needed - 1, high = needed;
    while (!enough_left(needed, high, loss, certainty) && high < needed * 100 + 1000) {
        int64_t step = high - needed + 1;
        low = high;
        high += step;
    }
    while (high - low > 1) {
        int64_t middle = low + (high - low) / 2;
        *(enough_left(needed, middle, loss, certainty) ? &high : &low) = middle;
    }
    if (!enough_left(needed, high, loss, certainty))
        return fail(why, OUTCOME_DATA, "With such losses no sensible order is enough.");
    *plants = high;
    return OUTCOME_OK;
}

/* Reserve for losses before planting by chance; the share for the first replacement comes on top. */
static enum outcome reserve_by_loss(struct order_row *row, const struct order_settings *settings, struct failure *why)
{
    int64_t plants = 0, extra = 0, ordered = 0, surplus = 0;
    enum outcome outcome = order_expected_loss(row->needed, settings->loss_pct / 100, settings->certainty_pct / 100, &plants, why);
    if (outcome == OUTCOME_OK)
        outcome = order_round(row->needed, settings->beating_up_pct, 1, &extra, &ordered, &surplus, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    row->reserve = plants - row->needed + extra;
    row->ordered = (row->needed + row->reserve + row->bundle - 1) / row->bundle * row->bundle;
    row->surplus = row->ordered - row->needed - row->reserve;
    return OUTCOME_OK;
}

static enum outcome row_make(const struct order_need *const *needs, size_t n, const struct order_offer *offer,
                             const struct order_settings *settings, struct arena *arena, struct order_row *row, struct failure *why)
{
    *row = (struct order_row){
        .species = needs[0]->species, .layer = needs[0]->layer, .bundle = 1, .unit_price = unknown_real(), .amount = unknown_real()};
    struct text plots = {0};
    for (size_t i = 0; i < n; i++) {
        if (needs[i]->plants < 0) {
            text_free(&plots);
            fail(why, OUTCOME_DATA, "%s has a count of %lld plants.", needs[i]->species, (long long)needs[i]->plants);
            return failure_remedy(why, "Counts are 0 or more.");
        }
        row->needed += needs[i]->plants;
        text_print(&plots, "%s%s %lld", i > 0 ? ", " : "", needs[i]->plot == NULL ? "plot" : needs[i]->plot, (long long)needs[i]->plants);
    }
    row->plots = arena_text(arena, text_get(&plots));
    text_free(&plots);
    if (offer != NULL) {
        row->nursery = offer->nursery;
        row->provenance = offer->provenance;
        row->size_cm = offer->size_cm;
        row->stock = offer->stock;
        row->bundle = offer->bundle == INT_UNKNOWN ? 1 : offer->bundle;
        row->unit_price = offer->unit_price;
        row->specification = offer->specification;
    }
    if (row->specification == NULL)
        row->specification = specification_make(row, arena);
    enum outcome outcome = order_round(row->needed, settings->reserve_pct + settings->beating_up_pct, row->bundle, &row->reserve,
                                       &row->ordered, &row->surplus, why);
    if (outcome != OUTCOME_OK)
        return failure_at(why, NULL, 0, row->species);
    if (is_known(settings->loss_pct)) {
        outcome = reserve_by_loss(row, settings, why);
        if (outcome != OUTCOME_OK)
            return failure_at(why, NULL, 0, row->species);
    }
    row->amount = (double)row->ordered * row->unit_price;
    row->order_by = DATE_UNKNOWN;
    lead_check(row, offer, settings, arena);
    return OUTCOME_OK;
}

static void totals_make(const struct order_settings *settings, struct arena *arena, struct order *order)
{
    order->amount = 0;
    for (size_t i = 0; i < order->n; i++) {
        const struct order_row *row = &order->rows[i];
        order->needed += row->needed;
        order->reserve += row->reserve;
        order->ordered += row->ordered;
        order->surplus += row->surplus;
        order->without_price += !is_known(row->unit_price);
        order->late += row->late;
        order->amount += row->amount;
    }
    if (order->without_price > 0)
        order->amount = unknown_real();
    order->tax = order->amount * settings->tax_pct / 100;
    order->amount_with_tax = order->amount + order->tax;
    order->notes = arena_array(arena, 6, sizeof *order->notes);
    if (order->without_price > 0)
        order->notes[order->n_notes++] =
            arena_print(arena, "%zu of %zu lines have no price, so the total is not known.", order->without_price, order->n);
    if (!is_known(settings->tax_pct))
        order->notes[order->n_notes++] = "No tax rate was given; totals are without tax.";
    if (settings->ordered_on == DATE_UNKNOWN || settings->planting_on == DATE_UNKNOWN)
        order->notes[order->n_notes++] = "Lead times: not checked (the day of ordering or of planting is not known).";
    if (order->late > 0)
        order->notes[order->n_notes++] =
            arena_print(arena, "%zu of %zu lines are ordered later than the supplier needs.", order->late, order->n);
    if (order->surplus > 0)
        order->notes[order->n_notes++] =
            arena_print(arena, "Whole bundles leave %lld plants over: say where they go.", (long long)order->surplus);
}

enum outcome order_make(const struct order_need *needs, size_t n_needs, const struct order_offer *offers, size_t n_offers,
                        const struct order_settings *settings, struct arena *arena, struct order *out, struct failure *why)
{
    struct order order = {0};
    if (n_needs == 0) {
        fail(why, OUTCOME_DATA, "There is nothing to order.");
        return failure_remedy(why, "Choose a plan with a mix first.");
    }
    const struct order_need **sorted = arena_array(arena, n_needs, sizeof *sorted);
    for (size_t i = 0; i < n_needs; i++) {
        if (text_blank(needs[i].species))
            return fail(why, OUTCOME_DATA, "Line %zu of the mix has no species.", i + 1);
        sorted[i] = &needs[i];
    }
    qsort(sorted, n_needs, sizeof *sorted, need_order);
    order.rows = arena_array(arena, n_needs, sizeof *order.rows);
    for (size_t i = 0; i < n_needs;) {
        size_t end = i + 1;
        while (end < n_needs && text_same(sorted[i]->species, sorted[end]->species))
            end++;
        enum outcome outcome =
            row_make(sorted + i, end - i, offer_find(offers, n_offers, sorted[i]->species), settings, arena, &order.rows[order.n], why);
        if (outcome != OUTCOME_OK)
            return outcome;
        order.n++;
        i = end;
    }
    totals_make(settings, arena, &order);
    *out = order;
    return OUTCOME_OK;
}
