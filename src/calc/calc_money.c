/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of money/. */
#include "calc/calc_rooms.h"
#include "money/money.h"
#include <math.h>
#include <string.h>

#define COUNT(list) (sizeof(list) / sizeof *(list))

static bool whole(double x)
{
    return is_known(x) && fabs(x) < 1e15 && floor(x) >= x;
}

static const struct calc_value bundle_in[] = {
    {"plants", "", CALC_NUMBER, true, "plants needed by the plans, a whole number"},
    {"reserve_pct", "%", CALC_NUMBER, false, "added for losses and first replacement, 0–100, default 0"},
    {"bundle", "", CALC_NUMBER, false, "plants in a bundle, default 1"},
    {"unit_price", "currency", CALC_NUMBER, false, "price of one without tax"},
};
static const struct calc_value bundle_out[] = {
    {"reserve", "", CALC_NUMBER, true, "plants added by the share, rounded up"},
    {"ordered", "", CALC_NUMBER, true, "in whole bundles"},
    {"surplus", "", CALC_NUMBER, true, "ordered beyond need and reserve"},
    {"amount", "currency", CALC_NUMBER, true, "without tax"},
};

static enum outcome bundle_run(const json_t *in, json_t *result, struct failure *why)
{
    double plants = calc_number(in, "plants", 0), bundle = calc_number(in, "bundle", 1);
    if (!whole(plants) || !whole(bundle))
        return fail(why, OUTCOME_DATA, "Plants and bundles are whole numbers.");
    int64_t reserve = 0, ordered = 0, surplus = 0;
    enum outcome outcome =
        order_round((int64_t)plants, calc_number(in, "reserve_pct", 0), (int64_t)bundle, &reserve, &ordered, &surplus, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    calc_put(result, "reserve", (double)reserve);
    calc_put(result, "ordered", (double)ordered);
    calc_put(result, "surplus", (double)surplus);
    calc_put(result, "amount", (double)ordered * calc_number(in, "unit_price", unknown_real()));
    return OUTCOME_OK;
}

static const struct calc_value loss_in[] = {
    {"plants", "", CALC_NUMBER, true, "plants needed in the ground, a whole number"},
    {"loss_pct", "%", CALC_NUMBER, true, "chance that a plant is lost before it is planted, 0 to below 100"},
    {"certainty_pct", "%", CALC_NUMBER, false, "how sure to be, 50–99.99, default 95"},
};
static const struct calc_value loss_out[] = {{"take", "", CALC_NUMBER, true, "plants to take"},
                                             {"reserve", "", CALC_NUMBER, true, "of them beyond need"}};

static enum outcome loss_run(const json_t *in, json_t *result, struct failure *why)
{
    double plants = calc_number(in, "plants", 0);
    int64_t take = 0;
    if (!whole(plants))
        return fail(why, OUTCOME_DATA, "Plants are a whole number.");
    enum outcome outcome =
        order_expected_loss((int64_t)plants, calc_number(in, "loss_pct", 0) / 100, calc_number(in, "certainty_pct", 95) / 100, &take, why);
    if (outcome == OUTCOME_OK) {
        calc_put(result, "take", (double)take);
        calc_put(result, "reserve", (double)take - plants);
    }
    return outcome;
}

static const struct calc_value papers_in[] = {{"species", "", CALC_WORD, true, "scientific name"}};
static const struct calc_value papers_out[] = {{"papers", "", CALC_WORDS, true, "to ask for"},
                                               {"words", "", CALC_WORDS, true, "why, and what must be on them"},
                                               {"sources", "", CALC_WORDS, true, "where from"}};

static enum outcome papers_run(const json_t *in, json_t *result, struct failure *why)
{
    struct order_paper papers[MOST_PAPERS];
    size_t n = order_papers(calc_word(in, "species", NULL), papers);
    json_t *names = json_array(), *words = json_array(), *sources = json_array();
    (void)why;
    for (size_t i = 0; i < n; i++) {
        json_array_append_new(names, json_string(papers[i].paper));
        json_array_append_new(words, json_string(papers[i].words));
        json_array_append_new(sources, json_string(papers[i].source));
    }
    json_object_set_new(result, "papers", names);
    json_object_set_new(result, "words", words);
    json_object_set_new(result, "sources", sources);
    return OUTCOME_OK;
}

static const struct calc_value lead_in[] = {
    {"ordered_on", "", CALC_WORD, true, "day of ordering, such as 2025-10-01"},
    {"planting_on", "", CALC_WORD, true, "day of planting"},
    {"lead_weeks", "week", CALC_NUMBER, true, "time the supplier needs"},
};
static const struct calc_value lead_out[] = {
    {"weeks_left", "week", CALC_NUMBER, true, "between the two days"},
    {"late", "", CALC_WORD, true, "yes or no"},
    {"order_by", "", CALC_WORD, true, "latest day to order"},
    {"words", "", CALC_WORD, true, "what to do; null if in time"},
};

static enum outcome lead_run(const json_t *in, json_t *result, struct failure *why)
{
    struct order_settings settings;
    order_settings_init(&settings);
    settings.lead_weeks = calc_number(in, "lead_weeks", 0);
    if (!date_read(calc_word(in, "ordered_on", ""), &settings.ordered_on) ||
        !date_read(calc_word(in, "planting_on", ""), &settings.planting_on)) {
        fail(why, OUTCOME_DATA, "A day cannot be read.");
        return failure_remedy(why, "Write days as 2025-10-01.");
    }
    struct arena arena = {0};
    struct order_need need = {"plants", LAYER_UNKNOWN, 1, NULL};
    struct order order;
    enum outcome outcome = order_make(&need, 1, NULL, 0, &settings, &arena, &order, why);
    if (outcome == OUTCOME_OK) {
        calc_put(result, "weeks_left", order.rows[0].weeks_left);
        char day[16];
        date_write(order.rows[0].order_by, day);
        calc_put_word(result, "late", order.rows[0].late ? "yes" : "no");
        calc_put_word(result, "order_by", day);
        calc_put_word(result, "words", order.rows[0].late_words);
    }
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value established_in[] = {
    {"spend", "currency", CALC_NUMBER, true, "all establishment spend to date, with replacements and incidents"},
    {"spend_sd", "currency", CALC_NUMBER, false, "its standard deviation, default 0"},
    {"planted", "", CALC_NUMBER, true, "plants planted"},
    {"alive", "", CALC_NUMBER, false, "counted as established; or give low, mode and high"},
    {"low", "", CALC_NUMBER, false, "lowest share expected to establish, 0–1"},
    {"mode", "", CALC_NUMBER, false, "likeliest share"},
    {"high", "", CALC_NUMBER, false, "highest share"},
    {"level", "", CALC_NUMBER, false, "of the interval, default 0.95"},
    {"draws", "", CALC_NUMBER, false, "default 20000"},
    {"seed", "", CALC_NUMBER, false, "default 1"},
    {"currency", "", CALC_WORD, false, "ISO 4217, default EUR"},
};
static const struct calc_value established_out[] = {
    {"estimate", "currency", CALC_NUMBER, true, "per established plant; null where none is"},
    {"low", "currency", CALC_NUMBER, true, "interval by simulation"},
    {"high", "currency", CALC_NUMBER, true, "interval by simulation"},
    {"fieller_low", "currency", CALC_NUMBER, true, "Fieller's interval, where counted"},
    {"fieller_high", "currency", CALC_NUMBER, true, "Fieller's interval"},
    {"delta_low", "currency", CALC_NUMBER, true, "interval by the delta method, where counted"},
    {"delta_high", "currency", CALC_NUMBER, true, "interval by the delta method"},
    {"words", "", CALC_WORD, true, "the same in words"},
};

static enum outcome established_run(const json_t *in, json_t *result, struct failure *why)
{
    double none = unknown_real(), seed = calc_number(in, "seed", 1), draws = calc_number(in, "draws", 20000);
    struct survival_belief belief = {calc_number(in, "planted", none), calc_number(in, "alive", none), calc_number(in, "low", none),
                                     calc_number(in, "mode", none), calc_number(in, "high", none)};
    if (!whole(seed) || seed < 0 || !whole(draws) || draws < 0)
        return fail(why, OUTCOME_USAGE, "seed and draws are whole numbers, 0 or more.");
    struct arena arena = {0};
    struct cost_ratio out;
    enum outcome outcome =
        cost_per_established(calc_number(in, "spend", none), calc_number(in, "spend_sd", 0), &belief, calc_number(in, "level", 0.95),
                             (size_t)draws, (uint64_t)seed, calc_word(in, "currency", "EUR"), &arena, &out, why);
    if (outcome == OUTCOME_OK) {
        calc_put(result, "estimate", out.estimate);
        calc_put(result, "low", out.low);
        calc_put(result, "high", out.high);
        calc_put(result, "fieller_low", out.fieller_low);
        calc_put(result, "fieller_high", out.fieller_high);
        calc_put(result, "delta_low", out.delta_low);
        calc_put(result, "delta_high", out.delta_high);
        calc_put_word(result, "words", out.words);
    }
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value fieller_in[] = {
    {"a", "", CALC_NUMBER, true, "estimate above the line"}, {"se_a", "", CALC_NUMBER, true, "its standard error"},
    {"b", "", CALC_NUMBER, true, "estimate below the line"}, {"se_b", "", CALC_NUMBER, true, "its standard error"},
    {"level", "", CALC_NUMBER, false, "default 0.95"},
};
static const struct calc_value fieller_out[] = {
    {"ratio", "", CALC_NUMBER, true, "a over b"},
    {"low", "", CALC_NUMBER, true, "null where the set is no interval: b may be zero"},
    {"high", "", CALC_NUMBER, true, "the same"},
};

static enum outcome fieller_run(const json_t *in, json_t *result, struct failure *why)
{
    double a = calc_number(in, "a", 0), b = calc_number(in, "b", 0), low = 0, high = 0, level = calc_number(in, "level", 0.95);
    if (fabs(b) <= 0 || !(level > 0 && level < 1))
        return fail(why, OUTCOME_DATA, "The estimate below the line must not be 0, and the level lies between 0 and 1.");
    bool held = ratio_fieller(a, calc_number(in, "se_a", 0), b, calc_number(in, "se_b", 0), level, &low, &high);
    calc_put(result, "ratio", a / b);
    calc_put(result, "low", held ? low : unknown_real());
    calc_put(result, "high", held ? high : unknown_real());
    return OUTCOME_OK;
}

static const struct calc_value even_in[] = {
    {"spend", "currency", CALC_NUMBER, true, "spend of this regime"},
    {"planted", "", CALC_NUMBER, true, "plants planted in it"},
    {"other_cost", "currency", CALC_NUMBER, true, "the other's cost per established plant"},
};
static const struct calc_value even_out[] = {
    {"share", "", CALC_NUMBER, true, "that must establish for both to cost the same; above 1 it cannot"},
    {"words", "", CALC_WORD, true, "the same in words"},
};

static enum outcome even_run(const json_t *in, json_t *result, struct failure *why)
{
    double share = 0;
    enum outcome outcome =
        survival_break_even(calc_number(in, "spend", 0), calc_number(in, "planted", 0), calc_number(in, "other_cost", 0), &share, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct arena arena = {0};
    calc_put(result, "share", share);
    calc_put_word(result, "words",
                  share > 1 ? "It cannot: more than every plant would have to live."
                            : arena_print(&arena, "%.0f %% must establish.", 100 * share));
    arena_clear(&arena);
    return OUTCOME_OK;
}

static const struct calc_value curve_in[] = {
    {"fixed", "currency", CALC_NUMBER, true, "costs of the site whatever its area"},
    {"per_m2", "currency/m2", CALC_NUMBER, true, "costs that go with the area"},
    {"fence_m", "m", CALC_NUMBER, true, "fence at the area it was measured at"},
    {"fence_price", "currency/m", CALC_NUMBER, true, "price of a metre of fence"},
    {"measured_m2", "m2", CALC_NUMBER, true, "area at which the fence was measured"},
    {"area_m2", "m2", CALC_NUMBERS, true, "areas wanted, of the same shape"},
};
static const struct calc_value curve_out[] = {{"cost_m2", "currency/m2", CALC_NUMBERS, true, "cost per square metre at each area"}};

static enum outcome curve_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n = 0;
    const double *area = calc_numbers(in, "area_m2", &arena, &n);
    double *out = arena_array(&arena, n + 1, sizeof *out);
    enum outcome outcome = budget_curve(calc_number(in, "fixed", 0), calc_number(in, "per_m2", 0), calc_number(in, "fence_m", 0),
                                        calc_number(in, "fence_price", 0), calc_number(in, "measured_m2", 0), area, n, out, why);
    if (outcome == OUTCOME_OK)
        calc_put_all(result, "cost_m2", out, n);
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value deflate_in[] = {
    {"amount", "currency", CALC_NUMBER, true, "as paid"},           {"from_year", "", CALC_NUMBER, true, "year it was paid"},
    {"to_year", "", CALC_NUMBER, true, "year of the money wanted"}, {"index_year", "", CALC_NUMBERS, true, "years of a price index"},
    {"index_value", "", CALC_NUMBERS, true, "its values"},
};
static const struct calc_value deflate_out[] = {
    {"amount_then", "currency", CALC_NUMBER, true, "in that year's money; null where the index has no such year"}};

static enum outcome deflate_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n = 0, m = 0;
    const double *years = calc_numbers(in, "index_year", &arena, &n), *values = calc_numbers(in, "index_value", &arena, &m);
    double from = calc_number(in, "from_year", 0), to = calc_number(in, "to_year", 0);
    enum outcome outcome =
        n != m || !whole(from) || !whole(to) ? fail(why, OUTCOME_USAGE, "Years are whole numbers, each with its value.") : OUTCOME_OK;
    int64_t *year = arena_array(&arena, n + 1, sizeof *year);
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++)
        year[i] = whole(years[i]) ? (int64_t)years[i] : INT_UNKNOWN;
    if (outcome == OUTCOME_OK)
        calc_put(result, "amount_then", price_deflate(calc_number(in, "amount", 0), (int64_t)from, (int64_t)to, year, values, n));
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value split_in[] = {
    {"amount", "currency", CALC_NUMBER, true, "shared cost"},
    {"rule", "", CALC_WORD, true, "by area, by plants or equally"},
    {"area_m2", "m2", CALC_NUMBERS, true, "areas of the plots"},
    {"plants", "", CALC_NUMBERS, true, "plants on the plots"},
    {"volunteer_hours", "h", CALC_NUMBER, false, "shared hours of volunteers, default 0"},
    {"rates", "currency/h", CALC_NUMBERS, false, "three rates, default 0,0,0"},
};
static const struct calc_value split_out[] = {
    {"share", "currency", CALC_NUMBERS, true, "of each plot"},
    {"totals", "currency", CALC_NUMBERS, true, "of all plots with volunteers at each of the three rates"},
};

static enum outcome split_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n = 0, m = 0, n_rates = 0;
    const double *area = calc_numbers(in, "area_m2", &arena, &n), *plants = calc_numbers(in, "plants", &arena, &m),
                 *rates = calc_numbers(in, "rates", &arena, &n_rates);
    struct ledger_settings settings = {.price_year = INT_UNKNOWN};
    enum outcome outcome = OUTCOME_OK;
    if (n != m || (n_rates != 0 && n_rates != 3) || !split_rule_read(calc_word(in, "rule", ""), &settings.split)) {
        outcome = fail(why, OUTCOME_USAGE, "Give an area and a number of plants for each plot, a rule, and three rates or none.");
        failure_remedy(why, "The rules are by area, by plants, equally.");
    }
    struct ledger_plot *plots = arena_array(&arena, n + 1, sizeof *plots);
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++)
        plots[i] = (struct ledger_plot){(int64_t)i + 1, 1, NULL, area[i], whole(plants[i]) ? (int64_t)plants[i] : 0};
    for (size_t r = 0; r < n_rates; r++)
        settings.volunteer_rate[r] = rates[r];
    struct cost_item item;
    struct work_hours hours;
    noun_init(NOUN_COST_ITEM, &item);
    noun_init(NOUN_WORK_HOURS, &hours);
    item.amount = calc_number(in, "amount", 0);
    hours.volunteer = TRUTH_YES;
    hours.hours = calc_number(in, "volunteer_hours", 0);
    struct ledger ledger;
    if (outcome == OUTCOME_OK)
        outcome = ledger_split(&item, 1, &hours, 1, plots, n, &settings, &arena, &ledger, why);
    if (outcome == OUTCOME_OK) {
        double *share = arena_array(&arena, n + 1, sizeof *share);
        for (size_t i = 0; i < n; i++)
            share[i] = ledger.shares[i].amount[0];
        calc_put_all(result, "share", share, n);
        calc_put_all(result, "totals", ledger.total, 3);
    }
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value budget_in[] = {
    {"area_m2", "m2", CALC_NUMBER, true, "net area"},        {"plants", "", CALC_NUMBER, true, "plants"},
    {"loosened_m2", "m2", CALC_NUMBER, false, "default 0"},  {"compost_m3", "m3", CALC_NUMBER, false, "default 0"},
    {"mulch_m3", "m3", CALC_NUMBER, false, "default 0"},     {"fence_m", "m", CALC_NUMBER, false, "default 0"},
    {"gates", "", CALC_NUMBER, false, "default 0"},          {"watering_visits", "", CALC_NUMBER, false, "default 0"},
    {"weeding_hours", "h", CALC_NUMBER, false, "default 0"}, {"monitoring_hours", "h", CALC_NUMBER, false, "default 0"},
};
static const struct calc_value budget_out[] = {
    {"recipe", "EUR", CALC_NUMBER, true, "without monitoring, at the illustrative unit prices"},
    {"monitoring", "EUR", CALC_NUMBER, true, "monitoring"},
    {"per_plant", "EUR", CALC_NUMBER, true, "recipe per plant"},
    {"per_m2", "EUR/m2", CALC_NUMBER, true, "recipe per square metre"},
    {"notes", "", CALC_WORDS, true, "what the prices are"},
};

static enum outcome budget_run(const json_t *in, json_t *result, struct failure *why)
{
    struct budget_plot plot;
    budget_plot_init(&plot);
    double plants = calc_number(in, "plants", 0);
    if (!whole(plants))
        return fail(why, OUTCOME_DATA, "Plants are a whole number.");
    plot.plants = (int64_t)plants;
    plot.area_m2 = calc_number(in, "area_m2", 0);
    plot.loosened_m2 = calc_number(in, "loosened_m2", 0);
    plot.compost_m3 = calc_number(in, "compost_m3", 0);
    plot.mulch_m3 = calc_number(in, "mulch_m3", 0);
    plot.fence_m = calc_number(in, "fence_m", 0);
    plot.gates = calc_number(in, "gates", 0);
    plot.watering_visits = calc_number(in, "watering_visits", 0);
    plot.weeding_hours = calc_number(in, "weeding_hours", 0);
    plot.monitoring_hours = calc_number(in, "monitoring_hours", 0);
    struct arena arena = {0};
    struct budget_settings settings = {.currency = "EUR"};
    size_t n = 0;
    const struct budget_price *prices = budget_defaults(&n);
    struct budget budget;
    enum outcome outcome = budget_make(&plot, 1, prices, n, &settings, &arena, &budget, why);
    if (outcome == OUTCOME_OK) {
        calc_put(result, "recipe", budget.all.recipe);
        calc_put(result, "monitoring", budget.all.monitoring);
        calc_put(result, "per_plant", budget.all.per_plant);
        calc_put(result, "per_m2", budget.all.per_m2);
        json_t *notes = json_array();
        for (size_t i = 0; i < budget.n_notes; i++)
            json_array_append_new(notes, json_string(budget.notes[i]));
        json_object_set_new(result, "notes", notes);
        for (size_t i = 0; i < budget.n_lines; i++)
            calc_say(result, "%s: %g × %g = %.2f (%s)", budget.lines[i].item, budget.lines[i].quantity, budget.lines[i].price,
                     budget.lines[i].amount, budget.lines[i].source);
    }
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value simulation_in[] = {
    {"cost_name", "", CALC_WORDS, true, "what is paid for, one word each"},
    {"cost_low", "currency", CALC_NUMBERS, true, "lowest of each"},
    {"cost_mode", "currency", CALC_NUMBERS, true, "likeliest of each"},
    {"cost_high", "currency", CALC_NUMBERS, true, "highest of each"},
    {"planted", "", CALC_NUMBER, true, "plants planted first"},
    {"survival", "", CALC_NUMBERS, true, "share established at the end: low, likeliest, high"},
    {"rounds", "", CALC_NUMBER, false, "of replacement, 0–5, default 0"},
    {"replaced_share", "", CALC_NUMBER, false, "of what is missing, in each round, default 1"},
    {"replacement", "currency", CALC_NUMBERS, false, "cost of one replacement: low, likeliest, high"},
    {"replacement_survival", "", CALC_NUMBERS, false, "share of replacements established: low, likeliest, high"},
    {"area_m2", "m2", CALC_NUMBER, false, "net area"},
    {"canopy", "", CALC_NUMBERS, false, "share of the area under canopy at the end: low, likeliest, high"},
    {"level", "", CALC_NUMBER, false, "of the intervals, default 0.95"},
    {"draws", "", CALC_NUMBER, false, "default 10000"},
    {"seed", "", CALC_NUMBER, false, "default 1"},
};
static const struct calc_value simulation_out[] = {
    {"spend", "currency", CALC_NUMBERS, true, "median, low, high"},
    {"established", "", CALC_NUMBERS, true, "plants: median, low, high"},
    {"per_established", "currency", CALC_NUMBERS, true, "median, low, high"},
    {"per_m2", "currency/m2", CALC_NUMBERS, true, "median, low, high"},
    {"per_m2_canopy", "currency/m2", CALC_NUMBERS, true, "median, low, high"},
    {"driver", "", CALC_WORDS, true, "what drives cost per established plant, strongest first"},
    {"rank_correlation", "", CALC_NUMBERS, true, "Spearman's, of each driver"},
};

/* Three numbers as a range; unknown where they were left out. */
static enum outcome range_read(const json_t *in, const char *name, struct cost_range *out, struct failure *why)
{
    struct arena arena = {0};
    size_t n = 0;
    const double *three = calc_numbers(in, name, &arena, &n);
    double none = unknown_real();
    *out = n == 3 ? (struct cost_range){name, three[0], three[1], three[2]} : (struct cost_range){name, none, none, none};
    arena_clear(&arena);
    return n == 0 || n == 3 ? OUTCOME_OK : fail(why, OUTCOME_USAGE, "%s needs three numbers: low, likeliest, high.", name);
}

static void band_put(json_t *result, const char *name, struct cost_band band)
{
    calc_put_all(result, name, (const double[]){band.median, band.low, band.high}, 3);
}

static enum outcome simulation_plan(const json_t *in, struct arena *arena, struct cost_plan *plan, struct failure *why)
{
    size_t n[3] = {0};
    const double *low = calc_numbers(in, "cost_low", arena, &n[0]), *mode = calc_numbers(in, "cost_mode", arena, &n[1]),
                 *high = calc_numbers(in, "cost_high", arena, &n[2]);
    const json_t *names = json_object_get(in, "cost_name");
    double rounds = calc_number(in, "rounds", 0);
    if (n[0] != n[1] || n[0] != n[2] || n[0] != json_array_size(names) || !whole(rounds) || fabs(rounds) > 100)
        return fail(why, OUTCOME_USAGE, "Each cost needs a name and three figures; rounds are a whole number.");
    struct cost_range *costs = arena_array(arena, n[0] + 1, sizeof *costs);
    for (size_t i = 0; i < n[0]; i++)
        costs[i] = (struct cost_range){json_string_value(json_array_get(names, i)), low[i], mode[i], high[i]};
    *plan = (struct cost_plan){.costs = costs,
                               .n_costs = n[0],
                               .planted = calc_number(in, "planted", 0),
                               .rounds = (int)rounds,
                               .replaced_share = calc_number(in, "replaced_share", 1),
                               .area_m2 = calc_number(in, "area_m2", unknown_real())};
    enum outcome outcome = range_read(in, "survival", &plan->survival, why);
    if (outcome == OUTCOME_OK)
        outcome = range_read(in, "replacement", &plan->replacement, why);
    if (outcome == OUTCOME_OK)
        outcome = range_read(in, "replacement_survival", &plan->replacement_survival, why);
    return outcome == OUTCOME_OK ? range_read(in, "canopy", &plan->canopy, why) : outcome;
}

static enum outcome simulation_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct cost_plan plan;
    struct cost_simulation out;
    double draws = calc_number(in, "draws", 10000), seed = calc_number(in, "seed", 1);
    enum outcome outcome = !whole(draws) || !whole(seed) || draws < 0 || seed < 0
                               ? fail(why, OUTCOME_USAGE, "seed and draws are whole numbers, 0 or more.")
                               : simulation_plan(in, &arena, &plan, why);
    if (outcome == OUTCOME_OK)
        outcome = cost_simulate(&plan, calc_number(in, "level", 0.95), (size_t)draws, (uint64_t)seed, &arena, &out, why);
    if (outcome == OUTCOME_OK) {
        band_put(result, "spend", out.spend);
        band_put(result, "established", out.established);
        band_put(result, "per_established", out.per_established);
        band_put(result, "per_m2", out.per_m2);
        band_put(result, "per_m2_canopy", out.per_m2_canopy);
        json_t *names = json_array();
        double *strength = arena_array(&arena, out.n_drivers + 1, sizeof *strength);
        for (size_t i = 0; i < out.n_drivers; i++) {
            json_array_append_new(names, json_string(out.drivers[i].name));
            strength[i] = out.drivers[i].rank_correlation;
        }
        json_object_set_new(result, "driver", names);
        calc_put_all(result, "rank_correlation", strength, out.n_drivers);
    }
    arena_clear(&arena);
    return outcome;
}

#define TABLE(name) name##_in, COUNT(name##_in), name##_out, COUNT(name##_out), name##_run
const struct calc calc_money[] = {
    {"order_bundle", "Plants to order with reserve in whole bundles", "arithmetic; shares are common practice, no source", TABLE(bundle)},
    {"order_reserve", "Plants to take so that enough are left to plant",
     "binomial distribution; plants of one lot are lost together more often", TABLE(loss)},
    {"order_papers", "Papers to ask for with plants",
     "Regulation (EU) 2016/2031; Directive 1999/105/EC, Annex I (from memory); EPPO: hosts of fire blight", TABLE(papers)},
    {"order_lead_time", "Whether there is time to order", "arithmetic; lead times are common practice, no source", TABLE(lead)},
    {"plot_budget", "Budget of a plot from the illustrative unit prices", "unit prices are illustrative", TABLE(budget)},
    {"cost_curve", "Cost per square metre at other areas", "fixed costs, area and outline; common practice, no source", TABLE(curve)},
    {"cost_split", "A shared cost and volunteers given to plots", "common practice, no source", TABLE(split)},
    {"price_deflate", "An amount in another year's money", "ratio of a price index given by the user", TABLE(deflate)},
    {"cost_per_established", "Cost per established plant with its interval",
     "simulation from the Jeffreys posterior or a PERT range; Fieller 1954, J. R. Stat. Soc. B 16:175", TABLE(established)},
    {"cost_simulation", "Cost per established plant when prices, survival and replacement are ranges",
     "simulation from PERT ranges; Spearman's rank correlation", TABLE(simulation)},
    {"ratio_interval", "Fieller's interval for a ratio", "Fieller 1954, J. R. Stat. Soc. B 16:175", TABLE(fieller)},
    {"survival_break_even", "Survival at which two regimes cost the same per established plant", "arithmetic", TABLE(even)},
    {0},
};
