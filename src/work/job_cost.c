/* SPDX-License-Identifier: GPL-3.0-or-later
 * cost: what was spent, split over plots by stated rules, in one year's money, held against the plants that live. */
#include "work/jobs.h"
#include "work/regime_costs.h"
#include <string.h>

static const struct option cost_options[] = {
    {"split", OPTION_TEXT, false, "WORDS", "how a shared line is split where it does not say: by area, by plants, equally (by area)"},
    {"price_year", OPTION_INTEGER, false, "YEAR", "bring all prices to this year's money, by an index"},
    {"index", OPTION_FILE_IN, false, "FILE", "CSV: year,index: the price index to do so"},
    {"with_tax", OPTION_FLAG, false, NULL, "amounts with tax, where a rate is recorded"},
    {"volunteer_low", OPTION_NUMBER, false, "PRICE", "low hourly value of volunteers (12.5)"},
    {"volunteer_task", OPTION_NUMBER, false, "PRICE", "hourly value of the task (21)"},
};

/* "year,index" rows. */
static enum outcome index_load(const struct job_context *context, const char *path, struct arena *arena, struct ledger_settings *settings,
                               struct failure *why)
{
    struct bytes bytes;
    struct csv_table table;
    enum outcome outcome = input_bytes(context, path, 1 << 20, arena, &bytes, why);
    if (outcome == OUTCOME_OK)
        outcome = csv_read(path, (const char *)bytes.at, bytes.n, ',', 1000, arena, &table, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    size_t year = csv_column(&table, "year"), value = csv_column(&table, "index");
    if (year == SIZE_MAX || value == SIZE_MAX) {
        fail(why, OUTCOME_DATA, "The index needs the columns year and index.");
        return failure_at(why, path, 1, NULL);
    }
    int64_t *years = arena_array(arena, table.rows + 1, sizeof *years);
    double *values = arena_array(arena, table.rows + 1, sizeof *values);
    size_t n = 0;
    for (size_t i = 1; i < table.rows; i++, n++) {
        if (!integer_read(csv_cell(&table, i, year), &years[n]) || !number_read(csv_cell(&table, i, value), &values[n]) ||
            !(values[n] > 0)) {
            fail(why, OUTCOME_DATA, "A row of the index cannot be read.");
            failure_at(why, path, table.lines[i], NULL);
            return failure_remedy(why, "Each row is a year and an index above zero, such as 2025,112.4.");
        }
    }
    settings->index_year = years;
    settings->index_value = values;
    settings->n_index = n;
    return OUTCOME_OK;
}

static enum outcome cost_settings(const struct job_context *context, const json_t *in, struct arena *arena, struct ledger_settings *out,
                                  struct failure *why)
{
    const char *split = option_text(in, "split", NULL), *path = option_text(in, "index", NULL);
    *out =
        (struct ledger_settings){.split = SPLIT_BY_AREA,
                                 .with_tax = option_flag(in, "with_tax"),
                                 .price_year = option_integer(in, "price_year", INT_UNKNOWN),
                                 .volunteer_rate = {0, option_number(in, "volunteer_low", 12.5), option_number(in, "volunteer_task", 21)}};
    if (split != NULL && !split_rule_read(split, &out->split)) {
        fail(why, OUTCOME_USAGE, "\"%.40s\" is no rule of splitting.", split);
        return failure_remedy(why, "Use \"by area\", \"by plants\" or \"equally\".");
    }
    if (path != NULL && out->price_year == INT_UNKNOWN) {
        fail(why, OUTCOME_USAGE, "An index was given but no year.");
        return failure_remedy(why, "Say in whose money: --price-year 2025");
    }
    return path == NULL ? OUTCOME_OK : index_load(context, path, arena, out, why);
}

static void cost_answer(json_t *out, const struct evidence *evidence, const struct ledger_settings *settings, struct arena *arena)
{
    size_t plots = json_array_size(json_object_get(note_data(out), "costs"));
    const json_t *pair = json_array_get(json_object_get(note_data(out), "regime_pairs"), 0);
    const char *year =
        settings->price_year == INT_UNKNOWN ? "" : arena_print(arena, " in the money of %lld", (long long)settings->price_year);
    if (plots == 0)
        note_answer(out, "No cost has been entered yet.");
    else if (pair == NULL || json_is_null(json_object_get(pair, "difference")))
        note_answer(out, "What %zu plots cost%s: per m², per plant planted, and per plant alive with its interval.", plots, year);
    else
        note_answer(out, "What %zu plots cost%s. Per established plant %s less %s: %s over %lld sites.", plots, year,
                    word_plain(WORDS_REGIME, word_find(WORDS_REGIME, json_string_value(json_object_get(pair, "a"))), arena),
                    word_plain(WORDS_REGIME, word_find(WORDS_REGIME, json_string_value(json_object_get(pair, "b"))), arena),
                    money_print(json_number_value(json_object_get(pair, "difference")), evidence->programme.currency, arena),
                    (long long)json_integer_value(json_object_get(pair, "sites")));
    if (settings->price_year == INT_UNKNOWN && plots > 0)
        note_unknown(out, "Prices stand as they were paid, of whatever year: price_year with an index brings them together.");
}

static enum outcome cost_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct evidence evidence;
    struct ledger_settings settings;
    json_t *out = note_new();
    enum outcome outcome = cost_settings(context, in, &arena, &settings, why);
    if (outcome == OUTCOME_OK)
        outcome = evidence_load(context->store, &arena, &evidence, why);
    if (outcome == OUTCOME_OK)
        outcome = cost_sections_by(context->store, &evidence, &settings, out, &arena, why);
    if (outcome == OUTCOME_OK) {
        cost_answer(out, &evidence, &settings, &arena);
        *note = out;
    } else {
        json_decref(out);
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_cost = {
    .name = "cost",
    .summary = "what was spent, per m², per plant planted and per plant alive",
    .about =
        "Splits the ledger over the plots by stated rules and in one year's money, and holds it against the plants that live, with the "
        "interval that the count allows; regimes over their sites with three intervals, their difference and the chance that one is "
        "cheaper; volunteers at three rates, monitoring apart. A plot with no plant alive gets a sentence, not a division.",
    .example = "spinney cost wood.gpkg --price-year 2025 --index prices.csv",
    .access = JOB_LOOKS,
    .options = cost_options,
    .n_options = sizeof cost_options / sizeof *cost_options,
    .run = cost_run,
};
