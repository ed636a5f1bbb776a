/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of water/: aftercare. */
#include "calc/calc_rooms.h"
#include "water/water.h"
#include <math.h>

#define COUNT(list) (sizeof(list) / sizeof *(list))

static const struct calc_value care_in[] = {
    {"recipe", "", CALC_WORD, false, "dense (default) or comparison"},
    {"planted_on", "", CALC_WORD, true, "day of planting"},
};
static const struct calc_value care_out[] = {{"tasks", "", CALC_WORDS, true, "day and task"}};

static enum outcome care_run(const json_t *in, json_t *result, struct failure *why)
{
    int32_t planted = DATE_UNKNOWN;
    size_t n_rules = 0, n = 0;
    const struct care_rule *rules = care_rules(calc_word(in, "recipe", "dense"), &n_rules);
    if (rules == NULL || !date_read(calc_word(in, "planted_on", ""), &planted))
        return fail(why, OUTCOME_USAGE, "recipe is dense or comparison; planted_on is a day such as 2025-12-01.");
    struct arena arena = {0};
    const struct care_task *tasks = care_tasks("plot", planted, rules, n_rules, &arena, &n);
    json_t *list = json_array();
    for (size_t i = 0; i < n; i++) {
        char day[16];
        date_write(tasks[i].on, day);
        json_array_append_new(list, json_sprintf("%s %s", day, tasks[i].rule->words));
    }
    json_object_set_new(result, "tasks", list);
    arena_clear(&arena);
    return OUTCOME_OK;
}

static const struct calc_value fair_in[] = {
    {"plot", "", CALC_WORDS, true, "plots"},
    {"area_m2", "m2", CALC_NUMBERS, true, "their net areas"},
    {"plants", "", CALC_NUMBERS, true, "plants planted"},
    {"watering_plot", "", CALC_WORDS, true, "which plot each watering was of"},
    {"litres_m2", "L/m2", CALC_NUMBERS, true, "water given at each; NA for not recorded"},
    {"basis", "", CALC_WORD, false, "area (default) or plant"},
    {"tolerance_pct", "%", CALC_NUMBER, false, "of the larger, default 10"},
};
static const struct calc_value fair_out[] = {
    {"litres", "L", CALC_NUMBERS, true, "per m² or plant, of each plot"},
    {"unequal", "", CALC_WORDS, true, "what differs"},
    {"answer", "", CALC_WORD, true, "in one sentence"},
};

static enum outcome fair_fill(const json_t *in, struct arena *arena, struct care_plot **plots, size_t *n_plots, struct care_event **events,
                              size_t *n_events, struct failure *why)
{
    size_t n = 0, m = 0, k = 0;
    const json_t *names = json_object_get(in, "plot"), *of = json_object_get(in, "watering_plot");
    const double *area = calc_numbers(in, "area_m2", arena, &n), *plants = calc_numbers(in, "plants", arena, &m),
                 *litres = calc_numbers(in, "litres_m2", arena, &k);
    if (n != m || n != json_array_size(names) || k != json_array_size(of))
        return fail(why, OUTCOME_USAGE, "Each plot needs a name, an area and plants; each watering a plot and litres.");
    *plots = arena_array(arena, n + 1, sizeof **plots);
    *events = arena_array(arena, k + 1, sizeof **events);
    for (size_t i = 0; i < n; i++)
        (*plots)[i] = (struct care_plot){(int64_t)i + 1, json_string_value(json_array_get(names, i)), area[i], plants[i]};
    for (size_t e = 0; e < k; e++) {
        struct care_event *event = &(*events)[e];
        noun_init(NOUN_CARE_EVENT, event);
        event->kind = CARE_KIND_WATERING;
        event->state = DONE_STATE_DONE;
        event->litres_m2 = litres[e];
        event->hours = 0;
        for (size_t i = 0; i < n; i++)
            if (text_same((*plots)[i].code, json_string_value(json_array_get(of, e))))
                event->plot_id = (int64_t)i + 1;
        if (event->plot_id == 0)
            return fail(why, OUTCOME_DATA, "Watering %zu is of a plot that is not listed.", e + 1);
    }
    *n_plots = n;
    *n_events = k;
    return OUTCOME_OK;
}

static enum outcome fair_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct care_plot *plots = NULL;
    struct care_event *events = NULL;
    size_t n = 0, k = 0;
    bool by_plant = text_same(calc_word(in, "basis", "area"), "plant");
    struct care_ledger out;
    enum outcome outcome = fair_fill(in, &arena, &plots, &n, &events, &k, why);
    if (outcome == OUTCOME_OK)
        outcome = care_compare(events, k, plots, n, DATE_UNKNOWN, DATE_UNKNOWN, by_plant ? WATERING_BY_PLANT : WATERING_BY_AREA,
                               calc_number(in, "tolerance_pct", 10), &arena, &out, why);
    if (outcome == OUTCOME_OK) {
        double *litres = arena_array(&arena, n + 1, sizeof *litres);
        json_t *words = json_array();
        for (size_t i = 0; i < n; i++)
            litres[i] = by_plant ? out.totals[i].litres_plant : out.totals[i].litres_m2;
        for (size_t i = 0; i < out.n_unequal; i++)
            json_array_append_new(words, json_string(out.unequal[i].words));
        calc_put_all(result, "litres", litres, n);
        json_object_set_new(result, "unequal", words);
        calc_put_word(result, "answer", out.answer);
    }
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value replacement_in[] = {
    {"recipe", "", CALC_WORD, true, "dense or comparison"},
    {"planted", "", CALC_NUMBER, true, "plants of the first planting"},
    {"alive", "", CALC_NUMBER, false, "of them; left out: not counted"},
    {"area_m2", "m2", CALC_NUMBER, false, "net area, for a dense plot"},
    {"largest_gap_m2", "m2", CALC_NUMBER, false, "largest piece without a living plant, for a dense plot"},
    {"autumn", "", CALC_NUMBER, false, "autumns since planting, default 1"},
    {"replaced_before", "", CALC_WORD, false, "yes or no (default)"},
    {"cause_is_ground", "", CALC_WORD, false, "yes, no or unknown (default)"},
    {"layer", "", CALC_WORDS, false, "layers of a dense plot"},
    {"layer_target", "", CALC_NUMBERS, false, "plants planted in each"},
    {"layer_alive", "", CALC_NUMBERS, false, "living in each"},
};
static const struct calc_value replacement_out[] = {
    {"replace", "", CALC_WORD, true, "yes, no or not known"},
    {"replacements", "", CALC_NUMBER, true, "how many"},
    {"words", "", CALC_WORD, true, "why"},
};

static enum outcome replacement_run(const json_t *in, json_t *result, struct failure *why)
{
    const char *recipe = calc_word(in, "recipe", "");
    double none = unknown_real(), autumn = calc_number(in, "autumn", 1);
    int cause = word_find(WORDS_TRUTH, calc_word(in, "cause_is_ground", "unknown"));
    struct arena arena = {0};
    size_t n = 0, m = 0;
    const json_t *names = json_object_get(in, "layer");
    const double *target = calc_numbers(in, "layer_target", &arena, &n), *alive = calc_numbers(in, "layer_alive", &arena, &m);
    enum outcome outcome = OUTCOME_OK;
    if ((!text_same(recipe, "dense") && !text_same(recipe, "comparison")) || n != m || n != json_array_size(names) ||
        !(autumn >= 0 && autumn < 100))
        outcome = fail(why, OUTCOME_USAGE, "recipe is dense or comparison; each layer needs a name, a target and the living.");
    struct replacement_layer *layers = arena_array(&arena, n + 1, sizeof *layers);
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++)
        layers[i] = (struct replacement_layer){json_string_value(json_array_get(names, i)), target[i], alive[i]};
    if (outcome == OUTCOME_OK) {
        struct replacement_case what = {text_same(recipe, "dense"),
                                        calc_number(in, "planted", none),
                                        calc_number(in, "alive", none),
                                        calc_number(in, "area_m2", none),
                                        calc_number(in, "largest_gap_m2", none),
                                        (int)autumn,
                                        text_same(calc_word(in, "replaced_before", "no"), "yes"),
                                        layers,
                                        n,
                                        cause < 0 ? TRUTH_UNKNOWN : (enum truth)cause};
        struct replacement_policy policy = replacement_policy_default();
        struct replacement_advice advice = replacement_advise(&what, &policy, &arena);
        calc_put_word(result, "replace", advice.replace == TRUTH_YES ? "yes" : advice.replace == TRUTH_NO ? "no" : "not known");
        calc_put(result, "replacements", advice.plants);
        calc_put_word(result, "words", advice.words);
    }
    arena_clear(&arena);
    return outcome;
}

#define TABLE(name) name##_in, COUNT(name##_in), name##_out, COUNT(name##_out), name##_run
const struct calc calc_water_care[] = {
    {"care_tasks", "Aftercare tasks from the planting date", "common practice, no source", TABLE(care)},
    {"care_fairness", "Whether plots were watered alike", "arithmetic; tolerance is common practice, no source", TABLE(fair)},
    {"replacement_advice", "Whether losses are to be replaced", "policy limits are common practice, no source", TABLE(replacement)},
    {0},
};
