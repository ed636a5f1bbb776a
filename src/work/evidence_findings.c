/* SPDX-License-Identifier: GPL-3.0-or-later
 * The findings as records at the head of the note: five plain sentences, then each with its numbers and what it presumes. */
#include "evidence/findings.h"
#include "work/evidence_load.h"
#include <math.h>

static json_t *number_or_null(double x)
{
    return isfinite(x) ? json_real(x) : json_null();
}

/* The protocol that is locked now: the newest locked one. */
static enum outcome protocol_find(struct store *store, const char **primary, double *margin, struct arena *arena, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    int32_t newest = DATE_UNKNOWN;
    enum outcome outcome = load_all(store, NOUN_PROTOCOL, arena, &rows, &n, why);
    *primary = NULL;
    *margin = unknown_real();
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        const struct protocol *p = &((const struct protocol *)rows)[i];
        if (p->locked_on == DATE_UNKNOWN || (newest != DATE_UNKNOWN && p->locked_on < newest))
            continue;
        newest = p->locked_on;
        *primary = p->primary_outcome;
        *margin = p->margin_points / 100; /* unknown stays unknown */
    }
    return outcome;
}

static const char *verdict_word(const struct evidence_finding *f)
{
    return f->verdict == PAIRED_CANNOT_TELL     ? "cannot be told"
           : f->verdict == PAIRED_NO_WORTHWHILE ? "no difference worth having"
           : f->verdict == PAIRED_A_HIGHER      ? "the first is higher"
                                                : "the second is higher";
}

static json_t *finding_json(const struct evidence_finding *f)
{
    json_t *assumptions = json_array();
    for (size_t i = 0; i < f->n_assumptions; i++)
        json_array_append_new(assumptions, json_pack("{s:s, s:s, s:b}", "presumed", f->assumptions[i].words, "seen", f->assumptions[i].seen,
                                                     "holds", (int)f->assumptions[i].holds));
    return json_pack("{s:s, s:s, s:s, s:o, s:o, s:o, s:s, s:I, s:o, s:o, s:o, s:b, s:s, s:s, s:s, s:s, s:s, s:s, s:o}", "about", f->about,
                     "sentence", f->sentence, "rung", f->rung, "value", number_or_null(f->value), "low", number_or_null(f->low), "high",
                     number_or_null(f->high), "unit", f->unit, "sites", (json_int_t)f->sites, "p", number_or_null(f->p), "p_least",
                     number_or_null(f->p_least), "p_adjusted", number_or_null(f->p_adjusted), "beforehand", (int)f->beforehand, "verdict",
                     verdict_word(f), "because", f->reason, "method", f->method, "inputs", f->inputs, "may", f->may, "may_not", f->may_not,
                     "assumptions", assumptions);
}

static void findings_table(const struct evidence_finding *list, size_t n, json_t *note, const char *primary)
{
    static const char *const titles[] = {"finding", "rung", "asked", "sites", "verdict", "p", "p, several looked at", "least p"};
    json_t *section = note_section(note, "Findings, one by one"), *table = section_table(section);
    section_text(section, "%s p comes from sign flips over sites; those found afterwards are adjusted for being several (Holm).",
                 primary == NULL
                     ? "No protocol is locked, so none of these was asked beforehand."
                     : "What a locked protocol names as its primary outcome was asked beforehand; all else was found afterwards.");
    for (size_t t = 0; t < sizeof titles / sizeof *titles; t++)
        table_column(table, titles[t], titles[t], "", t >= 5 ? 3 : -1);
    for (size_t i = 0; i < n; i++) {
        const struct evidence_finding *f = &list[i];
        json_t *row = table_row(table);
        row_text(row, f->sentence);
        row_text(row, f->rung);
        row_text(row, f->beforehand ? "beforehand" : "afterwards");
        row_integer(row, (int64_t)f->sites);
        row_text(row, verdict_word(f));
        row_number(row, f->p);
        row_number(row, f->p_adjusted);
        row_number(row, f->p_least);
    }
}

static void presumed_table(const struct evidence_finding *list, size_t n, json_t *note)
{
    json_t *section = note_section(note, "What each finding presumes, and may be taken to mean"), *table = section_table(section);
    static const char *const titles[] = {"finding about", "presumed", "what the records say", "holds"};
    for (size_t t = 0; t < sizeof titles / sizeof *titles; t++)
        table_column(table, titles[t], titles[t], "", -1);
    for (size_t i = 0; i < n; i++) {
        const struct evidence_finding *f = &list[i];
        for (size_t k = 0; k < f->n_assumptions; k++) {
            json_t *row = table_row(table);
            row_text(row, f->about);
            row_text(row, f->assumptions[k].words);
            row_text(row, f->assumptions[k].seen);
            row_text(row, f->assumptions[k].holds ? "yes" : "no");
        }
    }
    json_t *meaning = section_table(note_section(note, "What may be said of each, and what not"));
    table_column(meaning, "about", "finding about", "", -1);
    table_column(meaning, "may", "it may be taken to mean", "", -1);
    table_column(meaning, "not", "it may not be taken to mean", "", -1);
    for (size_t i = 0; i < n; i++) {
        json_t *row = table_row(meaning);
        row_text(row, list[i].about);
        row_text(row, list[i].may);
        row_text(row, list[i].may_not);
    }
}

enum outcome findings_records(struct store *store, const struct evidence *evidence, json_t *note, struct arena *arena, struct failure *why)
{
    enum regime pairs[REGIME_COUNT * REGIME_COUNT][2];
    struct findings_wish wish = {.pairs = (const enum regime(*)[2])pairs, .level = 0.95};
    struct evidence_finding *list = NULL;
    const struct trial_table *design = evidence->has_design ? &evidence->design : NULL;
    const char *plainly[5];
    size_t n = 0;
    for (int a = 1; a < REGIME_COUNT; a++)
        for (int b = 1; b < REGIME_COUNT; b++)
            if (regimes_compared((enum regime)a, (enum regime)b)) {
                pairs[wish.n_pairs][0] = (enum regime)a;
                pairs[wish.n_pairs++][1] = (enum regime)b;
            }
    enum outcome outcome = protocol_find(store, &wish.primary, &wish.margin, arena, why);
    if (outcome == OUTCOME_OK)
        outcome = evidence_findings(&evidence->facts, evidence->lives, design, &wish, arena, &list, &n, why);
    if (outcome != OUTCOME_OK || n == 0)
        return outcome;
    evidence_plainly(&evidence->facts, evidence->lives, design, list, n, arena, plainly);
    json_t *section = note_section(note, "In five sentences"), *records = json_array(), *sentences = json_array();
    for (size_t i = 0; i < 5; i++) {
        section_line(section, 0, "%s", plainly[i]);
        json_array_append_new(sentences, json_string(plainly[i]));
    }
    findings_table(list, n, note, wish.primary);
    presumed_table(list, n, note);
    for (size_t i = 0; i < n; i++)
        json_array_append_new(records, finding_json(&list[i]));
    json_object_set_new(note_data(note), "findings", records);
    json_object_set_new(note_data(note), "plainly", sentences);
    return OUTCOME_OK;
}
