/* SPDX-License-Identifier: GPL-3.0-or-later
 * conclude: what was found, kept as rows of the file: the sentence, its numbers, its rung of the claim ladder, the rows it rests
 * on with their fingerprint. A later one stands beside the one before; nothing kept is rewritten. */
#include "work/evidence_load.h"
#include "work/jobs.h"
#include "work/rows.h"
#include <string.h>

static const struct option conclude_options[] = {
    {"keep", OPTION_FLAG, false, NULL, "store what is found today beside what was kept before"},
};

/* The selections of a set as JSON, and one fingerprint over all their rows. */
static enum outcome set_told(struct rows_finder *finder, const json_t *note, int64_t set, struct finding *row, struct failure *why)
{
    const json_t *sets = json_object_get(note, "rows"), *one = json_array_get(sets, (size_t)set - 1), *of = json_object_get(one, "of");
    json_t *list = json_array();
    struct text prints = {0};
    enum outcome outcome = OUTCOME_OK;
    size_t n = of == NULL ? 1 : json_array_size(of);
    for (size_t i = 0; set > 0 && i < n && outcome == OUTCOME_OK; i++) {
        const json_t *part = of == NULL ? one : json_array_get(sets, (size_t)json_integer_value(json_array_get(of, i)) - 1);
        const char *where = json_string_value(json_object_get(part, "where"));
        int noun = noun_find(json_string_value(json_object_get(part, "noun")));
        const void **rows = NULL;
        size_t n_rows = 0;
        outcome = noun < 0 ? OUTCOME_OK : rows_find(finder, (enum noun)noun, where, &rows, &n_rows, why);
        if (outcome != OUTCOME_OK || noun < 0)
            continue;
        json_array_append_new(list,
                              json_pack("{s:s, s:s, s:I}", "noun", noun_infos[noun].name, "where", where, "count", (json_int_t)n_rows));
        text_print(&prints, "%s\n", rows_fingerprint((enum noun)noun, rows, n_rows, finder->arena));
    }
    char *words = json_dumps(list, JSON_COMPACT);
    row->selections = arena_text(finder->arena, words);
    row->fingerprint = text_fingerprint(text_get(&prints), finder->arena);
    free(words);
    json_decref(list);
    text_free(&prints);
    return outcome;
}

static double number_of(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);
    return json_is_number(value) ? json_number_value(value) : unknown_real();
}

/* One comparison of the findings as a row. */
static enum outcome comparison_row(struct rows_finder *finder, const json_t *note, const json_t *one, int32_t today, struct finding *row,
                                   struct failure *why)
{
    struct arena *arena = finder->arena;
    noun_init(NOUN_FINDING, row);
    row->about =
        arena_print(arena, "survival %s %s", json_string_value(json_object_get(one, "a")), json_string_value(json_object_get(one, "b")));
    row->statement = arena_text(arena, json_string_value(json_object_get(one, "sentence")));
    int rung = word_find(WORDS_CLAIM_RUNG, json_string_value(json_object_get(one, "rung")));
    row->rung = rung < 0 ? CLAIM_RUNG_COUNTED : (enum claim_rung)rung;
    row->value = 100 * number_of(one, "mean");
    row->low = 100 * number_of(one, "low");
    row->high = 100 * number_of(one, "high");
    if (!is_known(number_of(one, "mean")))
        row->value = unknown_real();
    if (!is_known(number_of(one, "low")))
        row->low = row->high = unknown_real();
    row->unit = "percentage points";
    row->sites = json_integer_value(json_object_get(one, "sites"));
    row->method = "difference of survival by site, then Student t and exact sign flips over sites";
    row->cannot = arena_text(arena, json_string_value(json_object_get(one, "cannot")));
    row->made_on = today;
    return set_told(finder, note, json_integer_value(json_object_get(json_object_get(one, "behind"), "mean")), row, why);
}

static const struct finding *kept_before(const struct finding *kept, size_t n, const char *about)
{
    const struct finding *last = NULL;
    for (size_t i = 0; i < n; i++)
        if (text_same(kept[i].about, about))
            last = &kept[i];
    return last;
}

static void finding_shown(json_t *table, const struct finding *row, const struct finding *before, bool fresh, struct arena *arena)
{
    const char *since =
        before == NULL ? "first kept now"
        : !text_same(before->fingerprint, row->fingerprint)
            ? arena_print(arena, "the rows have changed since %s", day_words(before->made_on, arena))
        : text_same(before->statement, row->statement)
            ? arena_print(arena, "as kept on %s", day_words(before->made_on, arena))
            : arena_print(arena, "same rows as on %s, another sentence: the method changed", day_words(before->made_on, arena));
    json_t *out = table_row(table);
    row_text(out, row->about);
    row_text(out, word_of(WORDS_CLAIM_RUNG, (int)row->rung));
    row_text(out, row->statement);
    row_text(out, before == NULL && !fresh ? "not kept yet" : since);
}

static enum outcome conclude_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct evidence evidence;
    struct rows_finder finder;
    void *kept = NULL;
    size_t n_kept = 0, stored = 0;
    bool keep = option_flag(in, "keep");
    json_t *found = note_new(), *out = note_new();
    rows_finder_begin(&finder, context->store, &arena);
    enum outcome outcome = evidence_load(context->store, &arena, &evidence, why);
    if (outcome == OUTCOME_OK)
        outcome = comparisons_all(&evidence, found, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(context->store, NOUN_FINDING, &arena, &kept, &n_kept, why);
    const json_t *list = json_object_get(json_object_get(found, "data"), "comparisons");
    size_t n = json_array_size(list);
    struct finding *rows = arena_array(&arena, n, sizeof *rows);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++)
        outcome = comparison_row(&finder, found, json_array_get(list, i), context->today, &rows[i], why);
    if (outcome == OUTCOME_OK && keep)
        outcome = store_begin(context->store, context->author, "keep the findings", why);
    json_t *table = section_table(note_section(out, "What is found, and what was kept before"));
    table_column(table, "about", "about", "", -1);
    table_column(table, "rung", "rung", "", -1);
    table_column(table, "statement", "sentence", "", -1);
    table_column(table, "since", "since it was kept", "", -1);
    bool begun = outcome == OUTCOME_OK && keep;
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        const struct finding *before = kept_before(kept, n_kept, rows[i].about);
        bool same =
            before != NULL && text_same(before->fingerprint, rows[i].fingerprint) && text_same(before->statement, rows[i].statement);
        if (keep && !same) {
            rows[i].supersedes_id = before == NULL ? 0 : before->id;
            outcome = store_add(context->store, NOUN_FINDING, &rows[i], 1, why);
            stored++;
        }
        finding_shown(table, &rows[i], before, keep, &arena);
    }
    if (begun)
        outcome = store_end(context->store, outcome, why);
    if (outcome == OUTCOME_OK) {
        if (keep)
            note_answer(out, "%zu findings are kept, each with its rung and the rows it rests on; %zu stand as they were kept before.",
                        stored, n - stored);
        else
            note_answer(out, "%zu findings, %zu rows of findings kept before. With --keep today's are stored beside them.", n, n_kept);
        json_object_set_new(note_data(out), "kept", json_integer((json_int_t)stored));
        note_behind(out, note_rows(out, NOUN_FINDING, "", INT_UNKNOWN));
        *note = json_incref(out);
    }
    json_decref(out);
    json_decref(found);
    arena_clear(&arena);
    return outcome;
}

const struct job job_conclude = {
    .name = "conclude",
    .summary = "keep what was found, with its rung and its rows",
    .about =
        "Holds today's comparisons beside those kept before, and stores them with --keep: sentence, interval, number of sites, rung of the "
        "claim ladder, what they may not be taken to mean, and the rows they rest on with a fingerprint, so that a reader sees whether the "
        "rows have changed since.",
    .example = "spinney conclude wood.gpkg --keep",
    .access = JOB_WRITES,
    .options = conclude_options,
    .n_options = 1,
    .run = conclude_run,
};
