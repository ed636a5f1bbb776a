/* SPDX-License-Identifier: GPL-3.0-or-later
 * Whether plots that are to be compared had the same care: water by the basis chosen, waterings, hours. */
#include "water/water.h"
#include <math.h>

static void event_add(struct care_total *total, const struct care_event *event)
{
    bool done = event->state == DONE_STATE_DONE || event->state == DONE_STATE_PARTLY;
    if (event->kind == CARE_KIND_WATERING) {
        total->waterings += event->state == DONE_STATE_DONE;
        total->partly += event->state == DONE_STATE_PARTLY;
        total->skipped += event->state == DONE_STATE_SKIPPED;
        total->skipped_without_reason += event->state == DONE_STATE_SKIPPED && text_blank(event->why);
        if (done)
            total->litres_m2 += event->litres_m2; /* unknown litres make the sum unknown */
    }
    if (done)
        total->hours_m2 += event->hours;
}

static bool differ(double a, double b, double tolerance_pct)
{
    return fabs(a - b) > tolerance_pct / 100 * fmax(a, b) + 1e-9;
}

static void unequal_add(struct care_ledger *ledger, size_t a, size_t b, const char *what, double x, double y, const char *words)
{
    ledger->unequal[ledger->n_unequal++] = (struct care_inequality){a, b, what, x, y, words};
}

static bool pair_compare(struct care_ledger *ledger, const struct care_plot *plots, size_t a, size_t b, enum watering_basis basis,
                         double tolerance_pct, struct arena *arena)
{
    const struct care_total *x = &ledger->totals[a], *y = &ledger->totals[b];
    double wx = basis == WATERING_BY_AREA ? x->litres_m2 : x->litres_plant, wy = basis == WATERING_BY_AREA ? y->litres_m2 : y->litres_plant;
    const char *unit = basis == WATERING_BY_AREA ? "L/m²" : "L a plant", *ca = plots[a].code == NULL ? "a plot" : plots[a].code,
               *cb = plots[b].code == NULL ? "another" : plots[b].code;
    bool known = is_known(wx) && is_known(wy);
    if (known && differ(wx, wy, tolerance_pct))
        unequal_add(ledger, a, b, "water", wx, wy,
                    arena_print(arena, "Unequal care: %s had %.1f %s of water, %s %.1f.", ca, wx, unit, cb, wy));
    if (x->waterings + x->partly != y->waterings + y->partly)
        unequal_add(ledger, a, b, "waterings", (double)(x->waterings + x->partly), (double)(y->waterings + y->partly),
                    arena_print(arena, "Unequal care: %s was watered %zu times, %s %zu times.", ca, x->waterings + x->partly, cb,
                                y->waterings + y->partly));
    if (is_known(x->hours_m2) && is_known(y->hours_m2) && differ(x->hours_m2, y->hours_m2, tolerance_pct))
        unequal_add(ledger, a, b, "hours", x->hours_m2, y->hours_m2,
                    arena_print(arena, "Different work: %s had %.2f h/m² of care, %s %.2f; count it with the cost.", ca, x->hours_m2, cb,
                                y->hours_m2));
    return known;
}

enum outcome care_compare(const struct care_event *events, size_t n_events, const struct care_plot *plots, size_t n_plots, int32_t from,
                          int32_t to, enum watering_basis basis, double tolerance_pct, struct arena *arena, struct care_ledger *out,
                          struct failure *why)
{
    if (n_plots < 2)
        return fail(why, OUTCOME_DATA, "Two plots or more are needed to compare their care.");
    if (!(tolerance_pct >= 0 && tolerance_pct <= 100))
        return fail(why, OUTCOME_USAGE, "The tolerance must lie between 0 and 100 %%.");
    struct care_ledger ledger = {.totals = arena_array(arena, n_plots, sizeof *ledger.totals)};
    ledger.unequal = arena_array(arena, 3 * n_plots * (n_plots - 1) / 2 + 1, sizeof *ledger.unequal);
    for (size_t i = 0; i < n_events; i++)
        for (size_t p = 0; p < n_plots; p++)
            if (events[i].plot_id == plots[p].id && (from == DATE_UNKNOWN || events[i].done_on >= from) &&
                (to == DATE_UNKNOWN || events[i].done_on <= to))
                event_add(&ledger.totals[p], &events[i]);
    for (size_t p = 0; p < n_plots; p++) {
        struct care_total *total = &ledger.totals[p];
        total->litres_plant = plots[p].plants > 0 ? total->litres_m2 * plots[p].area_m2 / plots[p].plants : unknown_real();
        total->hours_m2 = plots[p].area_m2 > 0 ? total->hours_m2 / plots[p].area_m2 : unknown_real();
    }
    size_t unknown = 0, care = 0;
    for (size_t a = 0; a < n_plots; a++)
        for (size_t b = a + 1; b < n_plots; b++)
            unknown += !pair_compare(&ledger, plots, a, b, basis, tolerance_pct, arena);
    for (size_t i = 0; i < ledger.n_unequal; i++)
        care += !text_same(ledger.unequal[i].what, "hours");
    ledger.answer = care > 0      ? "Unequal care: a difference between these plots may come from it."
                    : unknown > 0 ? "Whether care was equal is not known: waterings without litres, or plots without area or plants."
                                  : "Water was given alike, within the tolerance.";
    *out = ledger;
    return OUTCOME_OK;
}
