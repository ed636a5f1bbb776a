/* SPDX-License-Identifier: GPL-3.0-or-later
 * weigh: regimes side by side before planting: what an established plant, a square metre and a square metre of canopy may cost,
 * the chance that one is cheaper, the survival at which they cost the same, and what drives it. */
#include "work/budgeting.h"
#include "work/jobs.h"
#include "work/site_map.h"
#include <math.h>
#include <string.h>

static const struct option weigh_options[] = {
    {"plots", OPTION_TEXT, false, "CODE;CODE", "which plots (all with a plan if not given)"},
    {"survival", OPTION_TEXT, false, "REGIME=L-M-H;…",
     "share established, per cent, least-likeliest-greatest, such as dense_prepared=55-75-88"},
    {"canopy", OPTION_TEXT, false, "REGIME=L-M-H;…",
     "share of the area under canopy at the end, per cent; without it nothing per m² of canopy"},
    {"rounds", OPTION_TEXT, false, "REGIME=N;…", "rounds of replacement, 0 to 5 (conventional=1, others 0)"},
    {"replaced_pct", OPTION_NUMBER, false, "%", "share of what is missing that a round replaces (80)"},
    {"replacement_cost", OPTION_TEXT, false, "L-M-H", "cost of one replacement plant, all in (2.50-4.00-7.00)"},
    {"replacement_survival", OPTION_TEXT, false, "L-M-H", "per cent of replacements established (40-65-85)"},
    {"price_spread", OPTION_TEXT, false, "L-H", "per cent by which every price may be lower or higher (15-35)"},
    {"years", OPTION_INTEGER, false, "N", "years of watering, weeding and monitoring (3)"},
    {"waterings", OPTION_INTEGER, false, "N", "waterings for each plot and year (6)"},
    {"weeding_hours", OPTION_NUMBER, false, "H", "weeding hours for each plot and year (6)"},
    {"prices", OPTION_FILE_IN, false, "FILE", "CSV: key,price with your own unit costs"},
    {"volunteer_low", OPTION_NUMBER, false, "PRICE", "low hourly value of volunteers (12.5)"},
    {"volunteer_task", OPTION_NUMBER, false, "PRICE", "hourly value of the task (21)"},
    {"draws", OPTION_INTEGER, false, "N", "draws of the simulation (10000)"},
    {"seed", OPTION_INTEGER, false, "N", "seed (the programme's if not given)"},
};

enum { MOST_COSTS = 24 };

/// One regime: its plots added up.
struct regime_plan {
    enum regime regime;
    const char *name;
    size_t plots;
    double area_m2, plants, volunteer_hours, spend;
    struct cost_range costs[MOST_COSTS];
    struct cost_plan plan;
    bool survival_given;
    struct cost_simulation found;
    double with_volunteers[3]; ///< spend with volunteers at the three rates
};
struct weighing {
    struct budgeting budgeting;
    struct regime_plan *regimes;
    size_t n, draws;
    uint64_t seed;
    double lower, higher; ///< of prices, shares
    json_t *out;
    struct arena *arena;
};

/* "L-M-H" as three numbers; false if it is not. */
static bool three_read(const char *text, double out[3])
{
    struct arena arena = {0};
    size_t n = 0;
    bool good = text != NULL;
    char *copy = arena_text(&arena, text == NULL ? "" : text), *rest = NULL;
    for (char *part = strtok_r(copy, "- ", &rest); part != NULL && good; part = strtok_r(NULL, "- ", &rest)) {
        good = n < 3 && number_read(part, &out[n]);
        n++;
    }
    arena_clear(&arena);
    return good && n == 3;
}

/* The part of "REGIME=WORDS;…" that belongs to a regime; NULL if there is none. Unknown regimes are refused. */
static enum outcome part_of(const char *option, const char *list, const char *regime, struct arena *arena, const char **out,
                            struct failure *why)
{
    char *copy = arena_text(arena, list == NULL ? "" : list), *rest = NULL;
    *out = NULL;
    for (char *part = strtok_r(copy, ";, ", &rest); part != NULL; part = strtok_r(NULL, ";, ", &rest)) {
        char *sign = strchr(part, '=');
        if (sign != NULL)
            *sign = '\0';
        if (sign == NULL || word_find(WORDS_REGIME, part) <= 0) {
            fail(why, OUTCOME_USAGE, "\"%.60s\" is not understood in %s.", part, option);
            return failure_remedy(why, "Write regime=values, such as dense_prepared=55-75-88;conventional=40-60-80.");
        }
        if (text_same(part, regime))
            *out = sign + 1;
    }
    return OUTCOME_OK;
}

static enum outcome share_range(const char *option, const char *words, const double usual[3], const char *name, struct cost_range *out,
                                struct failure *why)
{
    double v[3] = {usual[0], usual[1], usual[2]};
    if (words != NULL && !three_read(words, v)) {
        fail(why, OUTCOME_USAGE, "\"%.40s\" is not a range in %s.", words, option);
        return failure_remedy(why, "Write least-likeliest-greatest in per cent, such as 55-75-88.");
    }
    *out = (struct cost_range){name, v[0] / 100, v[1] / 100, v[2] / 100};
    return OUTCOME_OK;
}

static struct regime_plan *regime_of(struct weighing *job, enum regime regime)
{
    for (size_t i = 0; i < job->n; i++)
        if (job->regimes[i].regime == regime)
            return &job->regimes[i];
    struct regime_plan *fresh = &job->regimes[job->n++];
    *fresh = (struct regime_plan){.regime = regime, .name = word_of(WORDS_REGIME, (int)regime)};
    return fresh;
}

/* Quantities of the plots of each regime, and its costs by item without monitoring. */
static enum outcome regimes_add(struct weighing *job, struct failure *why)
{
    const struct budgeting *b = &job->budgeting;
    job->regimes = arena_array(job->arena, REGIME_COUNT + 1, sizeof *job->regimes);
    for (size_t i = 0; i < b->n; i++) {
        struct regime_plan *r = regime_of(job, b->rows[i]->regime);
        r->plots++;
        r->area_m2 += b->plots[i].area_m2;
        r->plants += (double)b->plots[i].plants;
        r->volunteer_hours += b->plots[i].volunteer_hours;
    }
    for (size_t k = 0; k < b->budget.n_lines; k++) {
        const struct budget_line *line = &b->budget.lines[k];
        struct regime_plan *r = regime_of(job, b->rows[line->plot]->regime);
        size_t at = 0;
        if (line->phase == COST_PHASE_MONITORING || line->amount == 0)
            continue;
        if (!is_known(line->amount))
            return fail(why, OUTCOME_DATA, "What %s costs on plot %s is not known.", line->item, b->names[line->plot]);
        while (at < r->plan.n_costs && !text_same(r->costs[at].name, line->item))
            at++;
        if (at == r->plan.n_costs) {
            if (at == MOST_COSTS)
                return fail(why, OUTCOME_DATA, "There are more than %d kinds of cost.", MOST_COSTS);
            r->plan.n_costs++;
            r->costs[at] = (struct cost_range){line->item, 0, 0, 0};
        }
        r->costs[at].mode += line->amount;
        r->spend += line->amount;
    }
    return OUTCOME_OK;
}

static enum outcome regime_fill(const json_t *in, struct weighing *job, struct regime_plan *r, struct failure *why)
{
    static const double usual_survival[3] = {45, 70, 88}, usual_again[3] = {40, 65, 85};
    const char *survival = NULL, *canopy = NULL, *rounds = NULL;
    double price[3] = {2.5, 4, 7};
    int64_t n_rounds = r->regime == REGIME_CONVENTIONAL ? 1 : 0;
    enum outcome outcome = part_of("survival", option_text(in, "survival", NULL), r->name, job->arena, &survival, why);
    if (outcome == OUTCOME_OK)
        outcome = part_of("canopy", option_text(in, "canopy", NULL), r->name, job->arena, &canopy, why);
    if (outcome == OUTCOME_OK)
        outcome = part_of("rounds", option_text(in, "rounds", NULL), r->name, job->arena, &rounds, why);
    if (outcome == OUTCOME_OK && rounds != NULL && !integer_read(rounds, &n_rounds))
        outcome = fail(why, OUTCOME_USAGE, "\"%.40s\" is no number of rounds.", rounds);
    if (outcome == OUTCOME_OK && option_text(in, "replacement_cost", NULL) != NULL &&
        !three_read(option_text(in, "replacement_cost", NULL), price))
        outcome = fail(why, OUTCOME_USAGE, "The cost of a replacement is three figures, such as 2.50-4.00-7.00.");
    for (size_t k = 0; k < r->plan.n_costs; k++) {
        r->costs[k].low = r->costs[k].mode * (1 - job->lower);
        r->costs[k].high = r->costs[k].mode * (1 + job->higher);
    }
    r->survival_given = survival != NULL;
    r->plan.costs = r->costs;
    r->plan.planted = r->plants;
    r->plan.area_m2 = r->area_m2;
    r->plan.rounds = (int)(n_rounds < 0 || n_rounds > 9 ? 9 : n_rounds);
    r->plan.replaced_share = option_number(in, "replaced_pct", 80) / 100;
    r->plan.replacement = (struct cost_range){"cost of a replacement", price[0], price[1], price[2]};
    if (outcome == OUTCOME_OK)
        outcome = share_range("survival", survival, usual_survival, "survival", &r->plan.survival, why);
    if (outcome == OUTCOME_OK)
        outcome = share_range("replacement_survival", option_text(in, "replacement_survival", NULL), usual_again,
                              "survival of replacements", &r->plan.replacement_survival, why);
    r->plan.canopy = (struct cost_range){"canopy", unknown_real(), unknown_real(), unknown_real()};
    if (outcome == OUTCOME_OK && canopy != NULL)
        outcome = share_range("canopy", canopy, usual_again, "canopy", &r->plan.canopy, why);
    for (size_t k = 0; k < 3; k++)
        r->with_volunteers[k] = r->spend + r->volunteer_hours * job->budgeting.settings.volunteer_rate[k];
    if (outcome == OUTCOME_OK)
        outcome = cost_simulate(&r->plan, 0.95, job->draws, job->seed, job->arena, &r->found, why);
    return outcome;
}

static const char *band_words(struct cost_band band, const char *currency, struct arena *arena)
{
    if (!is_known(band.median))
        return NULL;
    return arena_print(arena, band.low < 0 ? "%s (%s to %s)" : "%s (%s–%s)", money_print(band.median, currency, arena),
                       money_print(band.low, NULL, arena), money_print(band.high, NULL, arena));
}

static json_t *band_json(struct cost_band band)
{
    if (!is_known(band.median) || isinf(band.median))
        return json_null();
    return json_pack("[f,f,o]", band.median, band.low, isinf(band.high) ? json_null() : json_real(band.high));
}

static void regimes_table(struct weighing *job)
{
    const char *currency = job->budgeting.settings.currency;
    json_t *section = note_section(job->out, "Regime by regime"), *table = section_table(section), *list = json_array();
    section_text(section, "Median of the draws with the middle 95 %%; without monitoring and before volunteers. Per established plant, per "
                          "m² and per m² of canopy rank regimes differently: all belong side by side.");
    static const char *const titles[] = {"regime",
                                         "plots",
                                         "area",
                                         "plants",
                                         "spend with replacement",
                                         "established",
                                         "per established plant",
                                         "per m²",
                                         "per m² of canopy",
                                         "nothing established"};
    static const char *const units[] = {"", "", "m²", "", "", "plants", "", "", "", "% of draws"};
    for (size_t i = 0; i < sizeof titles / sizeof *titles; i++)
        table_column(table, titles[i], titles[i], units[i], i == 2 || i == 3 ? 0 : i == 9 ? 1 : -1);
    for (size_t i = 0; i < job->n; i++) {
        const struct regime_plan *r = &job->regimes[i];
        json_t *row = table_row(table);
        row_text(row, word_plain(WORDS_REGIME, (int)r->regime, job->arena));
        row_integer(row, (int64_t)r->plots);
        row_number(row, r->area_m2);
        row_number(row, r->plants);
        row_text(row, band_words(r->found.spend, currency, job->arena));
        row_print(row, "%.0f (%.0f–%.0f)", r->found.established.median, r->found.established.low, r->found.established.high);
        row_text(row, isinf(r->found.per_established.median) ? arena_print(job->arena, "no plants established; spend %s",
                                                                           money_print(r->found.spend.median, currency, job->arena))
                                                             : band_words(r->found.per_established, currency, job->arena));
        row_text(row, band_words(r->found.per_m2, currency, job->arena));
        row_text(row, band_words(r->found.per_m2_canopy, currency, job->arena));
        row_number(row, 100 * r->found.share_none);
        json_array_append_new(list,
                              json_pack("{s:s, s:f, s:f, s:f, s:o, s:o, s:o, s:[f,f,f]}", "regime", r->name, "plants", r->plants, "area_m2",
                                        r->area_m2, "spend", r->spend, "per_established", band_json(r->found.per_established), "per_m2",
                                        band_json(r->found.per_m2), "per_m2_canopy", band_json(r->found.per_m2_canopy), "with_volunteers",
                                        r->with_volunteers[0], r->with_volunteers[1], r->with_volunteers[2]));
    }
    json_object_set_new(note_data(job->out), "regimes", list);
    struct figure_row *rows = arena_array(job->arena, job->n + 1, sizeof *rows);
    size_t n = 0;
    for (size_t i = 0; i < job->n; i++) {
        struct cost_band band = job->regimes[i].found.per_established;
        if (!isinf(band.high))
            rows[n++] = (struct figure_row){.label = word_plain(WORDS_REGIME, (int)job->regimes[i].regime, job->arena),
                                            .value = {.value = band.median, .low = band.low, .high = band.high}};
    }
    struct figure_intervals figure = {
        .head = {.title = "Cost per established plant", .x_title = arena_print(job->arena, "%s per established plant", currency)},
        .rows = rows,
        .n_rows = n,
        .unit = currency,
        .digits = 1,
        .reference = unknown_real()};
    if (n > 0)
        section_drawing(section, figure_intervals(&figure));
}

static enum outcome pairs_table(struct weighing *job, struct failure *why)
{
    const char *currency = job->budgeting.settings.currency;
    json_t *section = note_section(job->out, "Side by side"), *table = section_table(section), *list = json_array();
    section_text(section, "Prices are drawn alike for both, survival for each on its own. Break-even: the share that must establish in the "
                          "first so that both cost "
                          "the same per established plant; above 100 %% it cannot.");
    static const char *const titles[] = {
        "pair",           "per established plant, difference", "cheaper per established plant", "per m², difference",
        "cheaper per m²", "per m² of canopy, difference",      "cheaper per m² of canopy",      "break-even survival"};
    for (size_t i = 0; i < sizeof titles / sizeof *titles; i++)
        table_column(table, titles[i], titles[i],
                     i == 2 || i == 4 || i == 6 ? "% of draws"
                     : i == 7                   ? "%"
                                                : "",
                     i == 2 || i == 4 || i == 6 || i == 7 ? 0 : -1);
    for (size_t i = 0; i < job->n; i++)
        for (size_t k = i + 1; k < job->n; k++) {
            const struct regime_plan *a = &job->regimes[i], *b = &job->regimes[k];
            struct cost_versus v;
            double even = unknown_real();
            struct failure none;
            enum outcome outcome = cost_compare(&a->plan, &b->plan, 0.95, job->draws, job->seed, job->arena, &v, why);
            if (outcome != OUTCOME_OK)
                return outcome;
            if (isinf(b->found.per_established.median) ||
                survival_break_even(a->spend, a->plants, b->found.per_established.median, &even, &none) != OUTCOME_OK)
                even = unknown_real();
            json_t *row = table_row(table);
            row_print(row, "%s − %s", word_plain(WORDS_REGIME, (int)a->regime, job->arena),
                      word_plain(WORDS_REGIME, (int)b->regime, job->arena));
            row_text(row, band_words(v.per_established, currency, job->arena));
            row_number(row, 100 * v.cheaper_established);
            row_text(row, band_words(v.per_m2, currency, job->arena));
            row_number(row, 100 * v.cheaper_m2);
            row_text(row, band_words(v.per_m2_canopy, currency, job->arena));
            row_number(row, 100 * v.cheaper_canopy);
            row_number(row, 100 * even);
            json_array_append_new(list, json_pack("{s:s, s:s, s:o, s:f, s:o, s:f, s:o, s:o}", "a", a->name, "b", b->name, "per_established",
                                                  band_json(v.per_established), "chance_established", v.cheaper_established, "per_m2",
                                                  band_json(v.per_m2), "chance_m2", is_known(v.cheaper_m2) ? v.cheaper_m2 : 0.0,
                                                  "chance_canopy", is_known(v.cheaper_canopy) ? json_real(v.cheaper_canopy) : json_null(),
                                                  "break_even", is_known(even) ? json_real(even) : json_null()));
        }
    json_object_set_new(note_data(job->out), "pairs", list);
    return OUTCOME_OK;
}

static void drivers_table(struct weighing *job)
{
    json_t *section = note_section(job->out, "What drives the cost per established plant"), *table = section_table(section),
           *list = json_array();
    section_text(section, "Spearman's rank correlation over the draws, the five strongest of each regime. Near 1 or −1 it decides; near 0 "
                          "it does not matter.");
    table_column(table, "regime", "regime", "", -1);
    table_column(table, "driver", "figure", "", -1);
    table_column(table, "correlation", "rank correlation", "", 2);
    for (size_t i = 0; i < job->n; i++)
        for (size_t k = 0; k < job->regimes[i].found.n_drivers && k < 5; k++) {
            const struct cost_driver *driver = &job->regimes[i].found.drivers[k];
            json_t *row = table_row(table);
            row_text(row, word_plain(WORDS_REGIME, (int)job->regimes[i].regime, job->arena));
            row_text(row, driver->name);
            row_number(row, driver->rank_correlation);
            json_array_append_new(list, json_pack("{s:s, s:s, s:f}", "regime", job->regimes[i].name, "driver", driver->name, "correlation",
                                                  driver->rank_correlation));
        }
    json_object_set_new(note_data(job->out), "drivers", list);
}

static void volunteers_table(struct weighing *job)
{
    const struct budget_settings *s = &job->budgeting.settings;
    json_t *table = section_table(note_section(job->out, "Volunteers at three rates"));
    table_column(table, "regime", "regime", "", -1);
    table_column(table, "hours", "hours", "h", 0);
    for (size_t k = 0; k < 3; k++)
        table_column(table, "rate",
                     k == 0 ? "valued at nothing"
                            : arena_print(job->arena, "at %s an hour", money_print(s->volunteer_rate[k], s->currency, job->arena)),
                     s->currency, 0);
    for (size_t i = 0; i < job->n; i++) {
        json_t *row = table_row(table);
        row_text(row, word_plain(WORDS_REGIME, (int)job->regimes[i].regime, job->arena));
        row_number(row, job->regimes[i].volunteer_hours);
        for (size_t k = 0; k < 3; k++)
            row_number(row, job->regimes[i].with_volunteers[k]);
    }
}

static void weigh_answer(struct weighing *job)
{
    const json_t *pair = json_array_get(json_object_get(note_data(job->out), "pairs"), 0);
    const char *currency = job->budgeting.settings.currency;
    const struct regime_plan *a = &job->regimes[0], *b = &job->regimes[job->n > 1 ? 1 : 0];
    if (job->n < 2)
        note_answer(job->out, "%s: an established plant may cost %s, a square metre %s.",
                    word_plain(WORDS_REGIME, (int)a->regime, job->arena), band_words(a->found.per_established, currency, job->arena),
                    band_words(a->found.per_m2, currency, job->arena));
    else
        note_answer(job->out,
                    "An established plant may cost %s in %s plots and %s in %s plots; the first is cheaper per established plant in %.0f "
                    "%% and per m² in %.0f %% of the draws.",
                    band_words(a->found.per_established, currency, job->arena), word_plain(WORDS_REGIME, (int)a->regime, job->arena),
                    band_words(b->found.per_established, currency, job->arena), word_plain(WORDS_REGIME, (int)b->regime, job->arena),
                    100 * json_number_value(json_object_get(pair, "chance_established")),
                    100 * json_number_value(json_object_get(pair, "chance_m2")));
}

static void weigh_doubts(const json_t *in, struct weighing *job)
{
    const struct budgeting *b = &job->budgeting;
    for (size_t i = 0; i < job->n; i++)
        if (!job->regimes[i].survival_given)
            note_unknown(job->out, "Survival of %s is the usual range of 45–70–88 %%, an assumption: give your own.",
                         word_plain(WORDS_REGIME, (int)job->regimes[i].regime, job->arena));
    if (option_text(in, "canopy", NULL) == NULL)
        note_unknown(job->out, "Canopy is not given, so nothing is said per m² of canopy; a look ahead can give its range.");
    for (size_t i = 0; i < b->budget.n_notes; i++)
        note_unknown(job->out, "%s", b->budget.notes[i]);
    note_unknown(job->out, "Every price may be %.0f %% lower or %.0f %% higher, each on its own: an assumption.", 100 * job->lower,
                 100 * job->higher);
    note_source(job->out, "%zu draws from PERT ranges, seed %llu; Spearman's rank correlation; prices of the same name drawn alike.",
                job->draws, (unsigned long long)job->seed);
}

static enum outcome weigh_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct weighing *job = arena_alloc(&arena, sizeof *job);
    *job = (struct weighing){.out = note_new(), .arena = &arena, .draws = (size_t)option_integer(in, "draws", 10000)};
    double low = 15, high = 35;
    const char *spread = option_text(in, "price_spread", NULL);
    enum outcome outcome = OUTCOME_OK;
    if (spread != NULL && (sscanf(spread, "%lf-%lf", &low, &high) != 2 || !(low >= 0 && low <= 100 && high >= 0 && high <= 1000))) {
        fail(why, OUTCOME_USAGE, "\"%.40s\" is no spread of prices.", spread);
        outcome = failure_remedy(why, "Write lower-higher in per cent, such as 15-35.");
    }
    job->lower = low / 100;
    job->higher = high / 100;
    if (outcome == OUTCOME_OK)
        outcome = budgeting_load(context, in, &arena, &job->budgeting, why);
    job->seed = (uint64_t)option_integer(in, "seed", job->budgeting.programme.seed);
    if (outcome == OUTCOME_OK)
        outcome = regimes_add(job, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < job->n; i++)
        outcome = regime_fill(in, job, &job->regimes[i], why);
    if (outcome == OUTCOME_OK) {
        regimes_table(job);
        outcome = pairs_table(job, why);
    }
    if (outcome == OUTCOME_OK) {
        drivers_table(job);
        volunteers_table(job);
        weigh_answer(job);
        weigh_doubts(in, job);
        *note = job->out;
    } else {
        json_decref(job->out);
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_weigh = {
    .name = "weigh",
    .summary = "regimes side by side: what an established plant may cost, and the chance that one is cheaper",
    .about = "Simulates prices, survival and rounds of replacement for each regime that has planned plots: cost per established plant, per "
             "m² and "
             "per m² of canopy with ranges, the difference between regimes and the chance that one is cheaper, the survival at which they "
             "cost the same, what drives the result, and volunteers at three rates.",
    .example = "spinney weigh wood.gpkg --survival 'dense_prepared=55-75-88;conventional=40-60-80'",
    .access = JOB_LOOKS,
    .options = weigh_options,
    .n_options = sizeof weigh_options / sizeof *weigh_options,
    .run = weigh_run,
};
