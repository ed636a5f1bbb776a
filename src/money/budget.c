/* SPDX-License-Identifier: GPL-3.0-or-later
 * The budget of plots from unit costs: lines, totals, per plant, per square metre, and at other areas. */
#include "money/money.h"
#include <math.h>
#include <string.h>

/* Invented to be of a plausible size, for the user to replace. EUR without tax, 2025. */
static const struct budget_price defaults[] = {
    {"services_search", "services search", COST_PHASE_SCREENING, PER_SITE, 380, "illustrative", 2025},
    {"soil_survey", "soil survey and laboratory", COST_PHASE_SURVEY, PER_SITE, 620, "illustrative", 2025},
    {"loosening", "breaking up the ground", COST_PHASE_PREPARATION, PER_M2_LOOSENED, 4.80, "illustrative: 720 a day, 150 m² a day", 2025},
    {"compost", "compost, delivered", COST_PHASE_PREPARATION, PER_M3_COMPOST, 38, "illustrative", 2025},
    {"mulch", "mulch, delivered", COST_PHASE_PREPARATION, PER_M3_MULCH, 31, "illustrative", 2025},
    {"plants", "plants", COST_PHASE_PLANTS, PER_PLANT, 0.95, "illustrative", 2025},
    {"tags", "tags", COST_PHASE_MONITORING, PER_PLANT, 0.28, "illustrative", 2025},
    {"fence", "fence", COST_PHASE_PROTECTION, PER_M_FENCE, 22, "illustrative", 2025},
    {"gate", "gate", COST_PHASE_PROTECTION, PER_GATE, 240, "illustrative", 2025},
    {"watering", "bowser visit", COST_PHASE_WATERING, PER_WATERING, 85, "illustrative", 2025},
    {"weeding", "weeding by contract", COST_PHASE_WEEDING, PER_WEEDING_HOUR, 29, "illustrative", 2025},
    {"coordinator", "coordination", COST_PHASE_OVERHEAD, PER_COORDINATOR_HOUR, 29, "illustrative", 2025},
    {"monitoring", "counting and measuring", COST_PHASE_MONITORING, PER_MONITORING_HOUR, 29, "illustrative", 2025},
};

const struct budget_price *budget_defaults(size_t *n)
{
    *n = sizeof defaults / sizeof *defaults;
    return defaults;
}

const char *budget_driver_unit(enum budget_driver driver)
{
    static const char *const units[BUDGET_DRIVERS] = {"site", "plant", "m", "gate", "m2", "m3", "m3", "visit", "h", "h", "h"};
    return units[driver];
}

void budget_plot_init(struct budget_plot *plot)
{
    *plot = (struct budget_plot){.plants_amount = unknown_real()};
}

bool split_rule_read(const char *words, enum split_rule *out)
{
    static const char *const rules[] = {"by area", "by plants", "equally"};
    for (int i = 0; i < 3; i++)
        if (words != NULL && text_same_nocase(words, rules[i])) {
            *out = (enum split_rule)i;
            return true;
        }
    return false;
}

/* Share of a plot in what its site pays for; unknown where the rule cannot be followed. */
static double site_share(const struct budget_plot *plots, size_t n, size_t at, enum split_rule rule)
{
    double own = 0, all = 0;
    for (size_t i = 0; i < n; i++) {
        if (plots[i].site_id != plots[at].site_id)
            continue;
        double weight = rule == SPLIT_BY_AREA ? plots[i].area_m2 : rule == SPLIT_BY_PLANTS ? (double)plots[i].plants : 1;
        all += weight;
        if (i == at)
            own = weight;
    }
    return all > 0 ? own / all : unknown_real();
}

static double quantity_of(const struct budget_plot *plot, enum budget_driver driver, double share)
{
    switch (driver) {
    case PER_SITE:
        return share;
    case PER_PLANT:
        return (double)plot->plants;
    case PER_M_FENCE:
        return plot->fence_m;
    case PER_GATE:
        return plot->gates;
    case PER_M2_LOOSENED:
        return plot->loosened_m2;
    case PER_M3_COMPOST:
        return plot->compost_m3;
    case PER_M3_MULCH:
        return plot->mulch_m3;
    case PER_WATERING:
        return plot->watering_visits;
    case PER_WEEDING_HOUR:
        return plot->weeding_hours;
    case PER_COORDINATOR_HOUR:
        return plot->coordinator_hours;
    case PER_MONITORING_HOUR:
        return plot->monitoring_hours;
    case BUDGET_DRIVERS:
        break;
    }
    return unknown_real();
}

static void total_finish(struct budget_total *total, double plants, double area, double hours, const double rate[3])
{
    total->amount = total->recipe + total->monitoring;
    total->per_plant = plants > 0 ? total->recipe / plants : unknown_real();
    total->per_m2 = area > 0 ? total->recipe / area : unknown_real();
    for (int k = 0; k < 3; k++)
        total->volunteers[k] = total->recipe + (is_known(hours) && hours <= 0 ? 0 : hours * rate[k]);
}

static enum outcome plots_check(const struct budget_plot *plots, size_t n, const struct budget_price *prices, size_t n_prices,
                                struct failure *why)
{
    if (n == 0)
        return fail(why, OUTCOME_DATA, "There is no plot to budget for.");
    for (size_t i = 0; i < n; i++)
        if (plots[i].plants < 0 || (is_known(plots[i].area_m2) && plots[i].area_m2 < 0))
            return fail(why, OUTCOME_DATA, "Plot %s has a negative area or number of plants.",
                        plots[i].code == NULL ? "without code" : plots[i].code);
    for (size_t i = 0; i < n_prices; i++)
        if (is_known(prices[i].price) && prices[i].price < 0) {
            fail(why, OUTCOME_DATA, "The price of %s is negative.", prices[i].item);
            return failure_at(why, NULL, 0, prices[i].key);
        }
    return OUTCOME_OK;
}

static void notes_make(const struct budget_price *prices, size_t n_prices, struct arena *arena, struct budget *budget)
{
    size_t illustrative = 0, years = 0;
    int64_t year = INT_UNKNOWN;
    budget->notes = arena_array(arena, n_prices + 4, sizeof *budget->notes);
    for (size_t i = 0; i < n_prices; i++) {
        illustrative += prices[i].source != NULL && strstr(prices[i].source, "illustrative") != NULL;
        years += year != INT_UNKNOWN && prices[i].price_year != INT_UNKNOWN && prices[i].price_year != year;
        if (prices[i].price_year != INT_UNKNOWN)
            year = prices[i].price_year;
        if (!is_known(prices[i].price))
            budget->notes[budget->n_notes++] = arena_print(arena, "No price for %s.", prices[i].item);
    }
    if (illustrative > 0)
        budget->notes[budget->n_notes++] =
            arena_print(arena, "%zu of %zu unit prices are illustrative: replace them with your own before you rely on the sum.",
                        illustrative, n_prices);
    if (years > 0)
        budget->notes[budget->n_notes++] = "The prices are of different years and were not brought to one.";
    else if (year != INT_UNKNOWN)
        budget->notes[budget->n_notes++] = arena_print(arena, "Prices of %lld, without tax.", (long long)year);
}

enum outcome budget_make(const struct budget_plot *plots, size_t n_plots, const struct budget_price *prices, size_t n_prices,
                         const struct budget_settings *settings, struct arena *arena, struct budget *out, struct failure *why)
{
    enum outcome outcome = plots_check(plots, n_plots, prices, n_prices, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct budget budget = {0};
    budget.lines = arena_array(arena, n_plots * n_prices + 1, sizeof *budget.lines);
    budget.totals = arena_array(arena, n_plots, sizeof *budget.totals);
    double plants = 0, area = 0, hours = 0;
    for (size_t i = 0; i < n_plots; i++) {
        double share = site_share(plots, n_plots, i, settings->split);
        struct budget_total *total = &budget.totals[i];
        for (size_t k = 0; k < n_prices; k++) {
            const struct budget_price *price = &prices[k];
            double quantity = quantity_of(&plots[i], price->driver, share);
            if (is_known(quantity) && quantity <= 0)
                continue;
            struct budget_line *line = &budget.lines[budget.n_lines++];
            *line = (struct budget_line){
                i, price->item, price->phase, price->driver, quantity, price->price, quantity * price->price, price->source};
            if (price->phase == COST_PHASE_PLANTS && price->driver == PER_PLANT && is_known(plots[i].plants_amount)) {
                line->amount = plots[i].plants_amount;
                line->price = line->amount / quantity;
                line->source = "the order";
            }
            *(price->phase == COST_PHASE_MONITORING ? &total->monitoring : &total->recipe) += line->amount;
        }
        total_finish(total, (double)plots[i].plants, plots[i].area_m2, plots[i].volunteer_hours, settings->volunteer_rate);
        budget.all.recipe += total->recipe;
        budget.all.monitoring += total->monitoring;
        plants += (double)plots[i].plants;
        area += plots[i].area_m2;
        hours += plots[i].volunteer_hours;
    }
    total_finish(&budget.all, plants, area, hours, settings->volunteer_rate);
    notes_make(prices, n_prices, arena, &budget);
    *out = budget;
    return OUTCOME_OK;
}

enum outcome budget_curve(double fixed, double per_m2, double fence_m, double fence_price, double area0_m2, const double *area_m2, size_t n,
                          double *out, struct failure *why)
{
    if (!(area0_m2 > 0))
        return fail(why, OUTCOME_DATA, "The area at which the fence was measured must be above 0.");
    for (size_t i = 0; i < n; i++)
        if (!(area_m2[i] > 0))
            return fail(why, OUTCOME_DATA, "Area %zu must be above 0.", i + 1);
    for (size_t i = 0; i < n; i++)
        out[i] = (fixed + per_m2 * area_m2[i] + fence_price * fence_m * sqrt(area_m2[i] / area0_m2)) / area_m2[i];
    return OUTCOME_OK;
}
