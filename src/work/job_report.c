/* SPDX-License-Identifier: GPL-3.0-or-later
 * report: the monitoring report as HTML and PDF: maps, method, results with figures, limits, cautions, sources. Every number
 * leads to the rows it was computed from. */
#include "paper/paper.h"
#include "work/evidence_load.h"
#include "work/jobs.h"
#include "work/report.h"
#include "work/rows.h"
#include <string.h>

static const struct option report_options[] = {
    {"pdf", OPTION_FILE_OUT, false, "FILE", "write the report as PDF"},
    {"html", OPTION_FILE_OUT, false, "FILE", "write the report as one HTML page"},
    {"title", OPTION_TEXT, false, "TEXT", "title of the report"},
    {"limits", OPTION_TEXT, false, "TEXT",
     "your own words on what is not known, in this report; they stand beside those of the program, which cannot be left out. To keep "
     "them in the file for every report: spinney change FILE programme 1 limits_words=TEXT"},
};

/* ---- results ---- */

static enum outcome results_make(struct reporting *job, struct failure *why)
{
    struct evidence *evidence = &job->evidence;
    json_t *note = job->findings;
    enum outcome outcome = comparisons_all(evidence, note, job->arena, why);
    if (outcome == OUTCOME_OK)
        outcome = survival_sections(evidence, NULL, note, job->arena, why);
    if (outcome == OUTCOME_OK)
        outcome = growth_sections(evidence, NULL, note, job->arena, why);
    if (outcome == OUTCOME_OK)
        outcome = wildlife_sections(evidence, NULL, note, job->arena, why);
    if (outcome == OUTCOME_OK)
        outcome = care_sections(evidence, note, job->arena, why);
    if (outcome == OUTCOME_OK)
        outcome = ground_sections(job->context->store, evidence, note, job->arena, why);
    if (outcome == OUTCOME_OK)
        outcome = carbon_sections(job->context->store, evidence, NULL, note, job->arena, why);
    if (outcome == OUTCOME_OK)
        outcome = cost_sections(job->context->store, evidence, note, job->arena, why);
    if (outcome == OUTCOME_OK)
        outcome = quality_sections(job->context->store, evidence, note, job->arena, why);
    return outcome;
}

static enum outcome report_build(struct reporting *job, const json_t *in, struct failure *why)
{
    struct document *doc = job->document;
    doc->kind = "Monitoring report";
    doc->subject = job->evidence.programme.name;
    doc->author = job->evidence.programme.organisation;
    doc->date = job->context->today;
    enum outcome outcome = results_make(job, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    report_summary(job);
    outcome = report_sites(job, why);
    if (outcome == OUTCOME_OK)
        outcome = report_method(job, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    json_t *unknown = json_incref(json_object_get(job->findings, "unknown"));
    json_object_del(job->findings, "unknown");
    outcome = note_to_document(doc, job->findings, "Results", 1, why);
    if (unknown != NULL)
        json_object_set(job->findings, "unknown", unknown);
    json_decref(unknown);
    if (outcome != OUTCOME_OK)
        return outcome;
    report_limits(job, option_text(in, "limits", NULL));
    outcome = report_counts(job, why);
    if (outcome == OUTCOME_OK)
        outcome = report_files(job, why);
    return outcome == OUTCOME_OK ? rows_to_document(doc, job->findings, job->context->store, true, 1, why) : outcome;
}

static enum outcome report_write(const json_t *in, const struct reporting *job, json_t *note, struct failure *why)
{
    static const char *const names[] = {"pdf", "html"};
    enum outcome outcome = OUTCOME_OK;
    for (int i = 0; i < 2 && outcome == OUTCOME_OK; i++) {
        const char *path = option_text(in, names[i], NULL);
        struct text bytes = {0};
        size_t pages = 0;
        if (path == NULL)
            continue;
        outcome = i == 0 ? document_pdf(job->document, &bytes, &pages, why) : document_html(job->document, &bytes, why);
        if (outcome == OUTCOME_OK)
            outcome = file_write(path, bytes.at, bytes.n, why);
        if (outcome == OUTCOME_OK)
            note_written(note, "report", path);
        text_free(&bytes);
    }
    return outcome;
}

static enum outcome report_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct reporting job = {.arena = &arena, .context = context, .findings = note_new()};
    enum outcome outcome = evidence_load(context->store, &arena, &job.evidence, why);
    job.document = document_new(option_text(in, "title", "Monitoring report"));
    if (outcome == OUTCOME_OK)
        outcome = report_build(&job, in, why);
    if (outcome == OUTCOME_OK) {
        json_t *out = note_new();
        const json_t *first = json_array_get(json_object_get(note_data(job.findings), "comparisons"), 0);
        const char *sentence = json_string_value(json_object_get(first, "sentence"));
        note_answer(out, "The report is made. Its first sentence: %s",
                    sentence == NULL ? "there is no pair of plots with a census to compare yet." : sentence);
        size_t sets = 0;
        for (size_t i = 0; i < job.document->n_rows; i++)
            sets += job.document->rows[i].used;
        json_object_set_new(note_data(out), "sets", json_integer((json_int_t)sets));
        outcome = report_write(in, &job, out, why);
        if (outcome == OUTCOME_OK)
            *note = out;
        else
            json_decref(out);
    }
    document_free(job.document);
    json_decref(job.findings);
    arena_clear(&arena);
    return outcome;
}

const struct job job_report = {
    .name = "report",
    .summary = "the monitoring report as HTML and PDF",
    .about = "Writes the report of the whole programme: in short, sites with maps, method with protocol and lots, results with figures and "
             "the rung each claim "
             "reaches, what we do not know, cautions, sources, and the rows behind the figures. The section on limits can be added to, not "
             "removed.",
    .example = "spinney report wood.gpkg --pdf report.pdf --html report.html",
    .access = JOB_LOOKS,
    .options = report_options,
    .n_options = sizeof report_options / sizeof *report_options,
    .run = report_run,
};
