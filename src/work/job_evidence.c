/* SPDX-License-Identifier: GPL-3.0-or-later
 * survival, growth, wildlife, cost: one finding each. findings: all of them with what may be said. claim: a sentence held
 * against the data. */
#include "work/behind.h"
#include "work/jobs.h"
#include <stdlib.h>
#include <string.h>
#include "work/no_difference.h"

static const struct option site_option[] = {
    {"site", OPTION_TEXT, false, "CODE", "which site (all if not given)"},
};
static const char *const site_bare[] = {"site", NULL};

/* Load, find the site, and start a note. */
static enum outcome evidence_begin(const struct job_context *context, const json_t *in, struct arena *arena, struct evidence *evidence,
                                   struct site *site, bool *one, struct failure *why)
{
    *one = option_text(in, "site", NULL) != NULL;
    enum outcome outcome = OUTCOME_OK;
    if (*one)
        outcome = load_site(context->store, option_text(in, "site", NULL), arena, site, why);
    return outcome == OUTCOME_OK ? evidence_load_site(context->store, *one ? site->id : 0, arena, evidence, why) : outcome;
}

static enum outcome note_end(enum outcome outcome, json_t *out, json_t **note, struct arena *arena)
{
    if (outcome == OUTCOME_OK)
        *note = out;
    else
        json_decref(out);
    arena_clear(arena);
    return outcome;
}

/* One kind of finding of a site or of all: what adds its sections, where they list their plots, and the answer by how many. */
struct finding_kind {
    enum outcome (*sections)(const struct evidence *evidence, const struct site *site, json_t *note, struct arena *arena,
                             struct failure *why);
    const char *list;
    const char *none, *some; ///< `some` gets the number of plots
    enum noun noun;          ///< rows it is found from, for what no smaller set is named of
};

static enum outcome finding_run(const struct finding_kind *finding, const struct job_context *context, const json_t *in, json_t **note,
                                struct failure *why)
{
    struct arena arena = {0};
    struct evidence evidence;
    struct site site;
    bool one = false;
    json_t *out = note_new();
    enum outcome outcome = evidence_begin(context, in, &arena, &evidence, &site, &one, why);
    if (outcome == OUTCOME_OK)
        outcome = finding->sections(&evidence, one ? &site : NULL, out, &arena, why);
    size_t n = json_array_size(json_object_get(json_object_get(out, "data"), finding->list));
    if (outcome == OUTCOME_OK && n == 0)
        note_answer(out, "%s", finding->none);
    else if (outcome == OUTCOME_OK)
        note_answer(out, "%zu %s", n, finding->some);
    if (outcome == OUTCOME_OK && finding->noun != NOUN_PROGRAMME)
        note_behind(out, note_rows(out, finding->noun, "", INT_UNKNOWN));
    return note_end(outcome, out, note, &arena);
}

static enum outcome survival_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    static const struct finding_kind finding = {
        survival_sections, "survival", "No plot has a census yet, so nothing is known of survival.",
        "plots: survival of the first planting, with bounds for what was not found; replacements apart.", NOUN_PLANT_RECORD};
    return finding_run(&finding, context, in, note, why);
}

const struct job job_survival = {
    .name = "survival",
    .summary = "how many of the first planting live, with intervals and bounds",
    .about = "Survival of each plot at its last census: counts, Wilson interval, bounds for plants not found, months and survival per "
             "year, originals "
             "apart from replacements, and how many live per square metre now.",
    .example = "spinney survival wood.gpkg LK",
    .access = JOB_LOOKS,
    .options = site_option,
    .n_options = 1,
    .bare = site_bare,
    .run = survival_run,
};

static const struct option growth_options[] = {
    {"site", OPTION_TEXT, false, "CODE", "which site (all if not given)"},
    {"edge_m", OPTION_NUMBER, false, "M", "width of the strip that counts as edge (2 if not given)"},
};

static enum outcome growth_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct evidence evidence;
    struct site site;
    bool one = false;
    json_t *out = note_new();
    enum outcome outcome = evidence_begin(context, in, &arena, &evidence, &site, &one, why);
    if (outcome == OUTCOME_OK)
        outcome = growth_sections(&evidence, one ? &site : NULL, out, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = growth_more_sections(&evidence, one ? &site : NULL, option_number(in, "edge_m", 2), out, &arena, why);
    if (outcome == OUTCOME_OK)
        behind_remaining(&(struct behind){out, &evidence, &arena}, NOUN_PLANT_RECORD, "plant.plot=%s;height_cm=known", "height_cm=known");
    size_t n = json_array_size(json_object_get(note_data(out), "growth"));
    const json_t *pair = json_array_get(json_object_get(note_data(out), "growth_pairs"), 0);
    if (outcome == OUTCOME_OK && n == 0)
        note_answer(out, "No plot has been measured twice yet.");
    else if (outcome == OUTCOME_OK)
        note_answer(
            out,
            "%zu plots: height growth of the same plants, per plant planted, per m² and of the tallest, and beside them the mean of "
            "survivors that can flatter.%s%s",
            n, pair == NULL ? "" : " ", pair == NULL ? "" : json_string_value(json_object_get(pair, "sentence")));
    return note_end(outcome, out, note, &arena);
}

const struct job job_growth = {
    .name = "growth",
    .summary = "height growth that cannot flatter",
    .about =
        "Growth of each plot in several views: the same plants at both dates, height per plant planted with the dead at 0, per square "
        "metre, the tallest few, relative growth, season by season, at the edge and inside, how far crowns have closed; plots compared on "
        "the species they share; and all plots in one model.",
    .example = "spinney growth wood.gpkg LK",
    .access = JOB_LOOKS,
    .options = growth_options,
    .n_options = sizeof growth_options / sizeof *growth_options,
    .bare = site_bare,
    .run = growth_run,
};

static enum outcome wildlife_all(const struct evidence *evidence, const struct site *site, json_t *note, struct arena *arena,
                                 struct failure *why)
{
    enum outcome outcome = wildlife_sections(evidence, site, note, arena, why);
    if (outcome == OUTCOME_OK)
        outcome = wildlife_more_sections(evidence, site, note, arena, why);
    if (outcome == OUTCOME_OK)
        behind_remaining(&(struct behind){note, evidence, arena}, NOUN_WILDLIFE_RECORD, "wildlife_visit.plot=%s", "");
    return outcome;
}

static enum outcome wildlife_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    static const struct finding_kind finding = {
        wildlife_all, "wildlife", "Nobody has looked for wildlife on a plot here yet, which is not the same as none being there.",
        "plots and groups: wildlife per effort and at equal numbers of looks, empty looks counted.", NOUN_WILDLIFE_VISIT};
    return finding_run(&finding, context, in, note, why);
}

const struct job job_wildlife = {
    .name = "wildlife",
    .summary = "wildlife per effort, and richness at equal effort",
    .about = "Rates per unit of effort with the empty looks in, and how many kinds equal numbers of looks would have found on each plot of "
             "a site; accumulation curves, kinds at equal coverage, regimes over sites, before and after against the comparison, how "
             "unlike plots "
             "are, what came and went, fungi.",
    .example = "spinney wildlife wood.gpkg GL",
    .access = JOB_LOOKS,
    .options = site_option,
    .n_options = 1,
    .bare = site_bare,
    .run = wildlife_run,
};

static const enum regime compared[][2] = {{REGIME_DENSE_PREPARED, REGIME_CONVENTIONAL},
                                          {REGIME_DENSE_PREPARED, REGIME_SPARSE_PREPARED},
                                          {REGIME_SPARSE_PREPARED, REGIME_CONVENTIONAL},
                                          {REGIME_DENSE_PREPARED, REGIME_DENSE_UNPREPARED},
                                          {REGIME_DENSE_UNPREPARED, REGIME_CONVENTIONAL}};

bool regimes_compared(enum regime a, enum regime b)
{
    for (size_t i = 0; i < sizeof compared / sizeof *compared; i++)
        if (compared[i][0] == a && compared[i][1] == b)
            return true;
    return false;
}

enum outcome comparisons_all(const struct evidence *evidence, json_t *note, struct arena *arena, struct failure *why)
{
    enum outcome outcome = OUTCOME_OK;
    for (size_t i = 0; outcome == OUTCOME_OK && i < sizeof compared / sizeof *compared; i++)
        outcome = difference_sections(evidence, compared[i][0], compared[i][1], note, arena, why);
    return outcome;
}

static enum outcome findings_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    (void)in;
    struct arena arena = {0};
    struct evidence evidence;
    json_t *out = note_new();
    enum outcome outcome = evidence_load(context->store, &arena, &evidence, why);
    if (outcome == OUTCOME_OK)
        outcome = findings_records(context->store, &evidence, out, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = comparisons_all(&evidence, out, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = no_difference_section(context->store, &evidence, out, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = survival_sections(&evidence, NULL, out, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = growth_sections(&evidence, NULL, out, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = wildlife_sections(&evidence, NULL, out, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = care_sections(&evidence, out, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = cost_sections(context->store, &evidence, out, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = quality_sections(context->store, &evidence, out, &arena, why);
    if (outcome == OUTCOME_OK) {
        const json_t *first = json_array_get(json_object_get(note_data(out), "comparisons"), 0);
        const char *sentence = json_string_value(json_object_get(first, "sentence"));
        if (sentence != NULL)
            note_answer(out, "%s", sentence);
        answer_behind(out, json_integer_value(json_object_get(json_object_get(first, "behind"), "mean")));
        if (sentence == NULL)
            note_answer(out, "There is no pair of plots with a census to compare yet.");
        if (evidence.has_design)
            note_unknown(out, "%s", evidence.design.summary);
    }
    return note_end(outcome, out, note, &arena);
}

const struct job job_findings = {
    .name = "findings",
    .summary = "everything that can be said so far, and what cannot",
    .about = "All findings of the programme: each pair of regimes on each site and over sites with the rung of the claim ladder it "
             "reaches, survival, growth, "
             "wildlife, care and cost, and what this comparison cannot tell.",
    .example = "spinney findings wood.gpkg",
    .access = JOB_LOOKS,
    .run = findings_run,
};

static const struct option claim_options[] = {
    {"words", OPTION_TEXT, true, "TEXT", "the sentence somebody wants to write"},
    {"keep", OPTION_FLAG, false, NULL, "store the sentence with what was found against it"},
    {"by", OPTION_TEXT, false, "TEXT", "who wants to write it, for what is kept"},
    {"where", OPTION_TEXT, false, "TEXT", "where it is to stand, for what is kept"},
};
static const char *const claim_bare[] = {"words", NULL};

/* The rung that the sentence claims, as far as its words tell: a cause, several sites, a comparison, a count. */
static enum claim_rung rung_claimed(const char *words)
{
    static const struct {
        const char *word;
        enum claim_rung rung;
    } told[] = {{"because", CLAIM_RUNG_ATTRIBUTED},  {"due to", CLAIM_RUNG_ATTRIBUTED},   {"thanks to", CLAIM_RUNG_ATTRIBUTED},
                {"caused", CLAIM_RUNG_ATTRIBUTED},   {"owing to", CLAIM_RUNG_ATTRIBUTED}, {"makes", CLAIM_RUNG_ATTRIBUTED},
                {"leads to", CLAIM_RUNG_ATTRIBUTED}, {"always", CLAIM_RUNG_REPEATED},     {"everywhere", CLAIM_RUNG_REPEATED},
                {"on average", CLAIM_RUNG_REPEATED}, {"in general", CLAIM_RUNG_REPEATED}, {"dense plots", CLAIM_RUNG_REPEATED},
                {"more", CLAIM_RUNG_COMPARED},       {"better", CLAIM_RUNG_COMPARED},     {"faster", CLAIM_RUNG_COMPARED},
                {"than", CLAIM_RUNG_COMPARED},       {"times", CLAIM_RUNG_COMPARED}};
    for (size_t i = 0; i < sizeof told / sizeof *told; i++)
        if (strcasestr(words, told[i].word) != NULL)
            return told[i].rung;
    return CLAIM_RUNG_COUNTED;
}

/* The highest rung that any comparison of the programme reaches. */
static enum outcome rung_carried(const struct evidence *evidence, struct arena *arena, enum claim_rung *out, struct failure *why)
{
    json_t *scratch = note_new(), *one = NULL;
    size_t i = 0;
    enum outcome outcome = comparisons_all(evidence, scratch, arena, why);
    *out = CLAIM_RUNG_COUNTED;
    json_array_foreach(json_object_get(json_object_get(scratch, "data"), "comparisons"), i, one)
    {
        int rung = word_find(WORDS_CLAIM_RUNG, json_string_value(json_object_get(one, "rung")));
        *out = rung > (int)*out ? (enum claim_rung)rung : *out;
    }
    json_decref(scratch);
    return outcome;
}

static enum outcome claim_keep(const struct job_context *context, const json_t *in, const struct claim_check *check,
                               enum claim_rung claimed, enum claim_rung carried, json_t *reasons, struct arena *arena, struct failure *why)
{
    struct claim row;
    char *list = json_dumps(reasons, JSON_COMPACT);
    noun_init(NOUN_CLAIM, &row);
    row.words = option_text(in, "words", "");
    row.given_by = option_text(in, "by", NULL);
    row.where_used = option_text(in, "where", NULL);
    row.held_on = context->today;
    row.rung = claimed;
    row.carried = carried;
    row.refused = check->refused ? TRUTH_YES : TRUTH_NO;
    row.reasons = arena_text(arena, list);
    row.instead = check->instead;
    free(list);
    enum outcome outcome = store_begin(context->store, context->author, "keep a claim", why);
    if (outcome != OUTCOME_OK)
        return outcome;
    return store_end(context->store, store_add(context->store, NOUN_CLAIM, &row, 1, why), why);
}

static enum outcome claim_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct evidence evidence;
    struct claim_check check;
    enum claim_rung claimed = rung_claimed(option_text(in, "words", "")), carried = CLAIM_RUNG_COUNTED;
    json_t *out = note_new();
    enum outcome outcome = evidence_load(context->store, &arena, &evidence, why);
    if (outcome == OUTCOME_OK)
        outcome = evidence_claim(option_text(in, "words", ""), &evidence.facts, evidence.lives,
                                 evidence.has_design ? &evidence.design : NULL, &arena, &check, why);
    if (outcome == OUTCOME_OK)
        outcome = rung_carried(&evidence, &arena, &carried, why);
    if (outcome == OUTCOME_OK) {
        check.refused = check.refused || claimed > carried;
        note_answer(out, "%s %s", check.refused ? "This says more than the data carry." : "This needs its limits beside it.",
                    check.instead);
        json_t *table = section_table(note_section(out, "Why it may not hold")), *list = json_array();
        table_column(table, "reason", "reason", "", -1);
        if (claimed > carried) {
            const char *words = arena_print(&arena, "The sentence claims \"%s\"; the records and the design carry \"%s\" at the most.",
                                            word_of(WORDS_CLAIM_RUNG, (int)claimed), word_of(WORDS_CLAIM_RUNG, (int)carried));
            row_text(table_row(table), words);
            json_array_append_new(list, json_string(words));
        }
        for (size_t i = 0; i < check.n_reasons; i++) {
            row_text(table_row(table), check.reasons[i]);
            json_array_append_new(list, json_string(check.reasons[i]));
        }
        json_object_set_new(note_data(out), "refused", json_boolean(check.refused));
        json_object_set_new(note_data(out), "reasons", list);
        json_object_set_new(note_data(out), "claimed", json_string(word_of(WORDS_CLAIM_RUNG, (int)claimed)));
        json_object_set_new(note_data(out), "carried", json_string(word_of(WORDS_CLAIM_RUNG, (int)carried)));
        if (option_flag(in, "keep"))
            outcome = claim_keep(context, in, &check, claimed, carried, list, &arena, why);
    }
    return note_end(outcome, out, note, &arena);
}

const struct job job_claim = {
    .name = "claim",
    .summary = "hold a sentence against the data",
    .about = "Takes a sentence that somebody wants to write about the programme and lists the reasons it may not hold here, from the "
             "design and the records, with the rung it claims and the rung they carry. With --keep both are stored.",
    .example = "spinney claim wood.gpkg 'The dense plots grew three times faster because of density'",
    .access = JOB_WRITES,
    .options = claim_options,
    .n_options = sizeof claim_options / sizeof *claim_options,
    .bare = claim_bare,
    .run = claim_run,
};
