/* SPDX-License-Identifier: GPL-3.0-or-later
 * report: the monitoring report as HTML and PDF: maps, method, results with figures, limits, cautions, sources. Every table of
 * results leads to the rows it was counted from. */
#include "paper/paper.h"
#include "work/evidence_load.h"
#include "work/jobs.h"
#include "work/seal.h"
#include "work/rows.h"
#include "work/site_map.h"
#include <string.h>

static const struct option report_options[] = {
    {"pdf", OPTION_FILE_OUT, false, "FILE", "write the report as PDF"},
    {"html", OPTION_FILE_OUT, false, "FILE", "write the report as one HTML page"},
    {"title", OPTION_TEXT, false, "TEXT", "title of the report"},
    {"limits", OPTION_TEXT, false, "TEXT", "your own words for the section on limits; they stand beside ours, which cannot be left out"},
};

struct reporting {
    struct evidence evidence;
    struct document *document;
    json_t *findings; ///< a note with all results
    struct arena *arena;
    const struct job_context *context;
};

/* ---- what was done ---- */

static void sites_part(struct reporting *job)
{
    struct document *doc = job->document;
    const struct evidence_facts *facts = &job->evidence.facts;
    document_heading(doc, 1, "Sites and plots", "sites");
    struct document_table *table = document_table(doc, "All sites, also those rejected or not yet planted", "rows-sites");
    document_column(doc, table, "Site", NULL, ALIGN_LEFT);
    document_column(doc, table, "Stage", NULL, ALIGN_LEFT);
    document_column(doc, table, "Plot", NULL, ALIGN_LEFT);
    document_column(doc, table, "Regime", NULL, ALIGN_LEFT);
    document_column(doc, table, "Net area", "m²", ALIGN_RIGHT);
    document_column(doc, table, "Planted", NULL, ALIGN_LEFT);
    document_column(doc, table, "Plants", NULL, ALIGN_RIGHT);
    document_column(doc, table, "Censuses", NULL, ALIGN_RIGHT);
    for (size_t i = 0; i < facts->n_sites; i++) {
        bool any = false;
        for (size_t j = 0; j < facts->n_plots; j++) {
            if (facts->plots[j].site_id != facts->sites[i].id)
                continue;
            const struct plot_lives *lives = &job->evidence.lives[j];
            struct document_cell *row = document_row(doc, table);
            size_t first = 0;
            for (size_t p = 0; p < lives->n_plants; p++)
                first += lives->plants[p]->origin == ORIGIN_FIRST_PLANTING;
            document_cell(doc, &row[0], "%s", any ? "" : facts->sites[i].name);
            document_cell(doc, &row[1], "%s", any ? "" : word_plain(WORDS_STAGE, (int)facts->sites[i].stage, job->arena));
            document_cell(doc, &row[2], "%s", facts->plots[j].code);
            document_cell(doc, &row[3], "%s", word_plain(WORDS_REGIME, (int)facts->plots[j].regime, job->arena));
            if (is_known(facts->plots[j].net_area_m2))
                document_cell(doc, &row[4], "%.0f", facts->plots[j].net_area_m2);
            if (lives->planted_on != DATE_UNKNOWN)
                document_cell(doc, &row[5], "%s", day_words(lives->planted_on, job->arena));
            document_cell(doc, &row[6], "%zu", first);
            document_cell(doc, &row[7], "%zu", lives->n_censuses);
            any = true;
        }
        if (any)
            continue;
        struct document_cell *row = document_row(doc, table);
        document_cell(doc, &row[0], "%s", facts->sites[i].name);
        document_cell(doc, &row[1], "%s%s%s", word_plain(WORDS_STAGE, (int)facts->sites[i].stage, job->arena),
                      facts->sites[i].stage_reason == NULL ? "" : ": ",
                      facts->sites[i].stage_reason == NULL ? "" : facts->sites[i].stage_reason);
        document_cell(doc, &row[2], "no plot");
    }
}

static enum outcome maps_part(struct reporting *job, struct failure *why)
{
    const struct evidence_facts *facts = &job->evidence.facts;
    enum outcome outcome = OUTCOME_OK;
    for (size_t i = 0; outcome == OUTCOME_OK && i < facts->n_sites; i++) {
        struct site_facts around;
        struct site_zone *zones = NULL;
        struct plot *plots = arena_array(job->arena, facts->n_plots, sizeof *plots);
        struct map map;
        struct drawing *drawing = NULL;
        size_t n = 0, n_zones = 0;
        for (size_t j = 0; j < facts->n_plots; j++)
            if (facts->plots[j].site_id == facts->sites[i].id)
                plots[n++] = facts->plots[j];
        if (n == 0)
            continue;
        outcome = site_facts_load(job->context->store, &facts->sites[i], job->context->today, job->arena, &around, why);
        if (outcome == OUTCOME_OK)
            outcome = site_zones(&around, job->arena, &zones, &n_zones, why);
        struct site_map_wish wish = {.programme = &job->evidence.programme,
                                     .site = &facts->sites[i],
                                     .facts = &around,
                                     .zones = zones,
                                     .n_zones = n_zones,
                                     .plots = plots,
                                     .n_plots = n,
                                     .title = facts->sites[i].name};
        if (outcome == OUTCOME_OK)
            outcome = site_map_fill(&wish, job->arena, &map, why);
        if (outcome == OUTCOME_OK && (map.outline != NULL || map.n_areas > 0)) {
            map.height_pt = 420;
            outcome = map_draw(&map, &drawing, NULL, why);
        }
        if (outcome == OUTCOME_OK && drawing != NULL)
            document_figure(job->document, drawing, facts->sites[i].name);
    }
    return outcome;
}

static enum outcome method_part(struct reporting *job, struct failure *why)
{
    struct document *doc = job->document;
    void *protocols = NULL, *allocations = NULL;
    size_t n = 0, m = 0, by_lot = 0;
    enum outcome outcome = load_all(job->context->store, NOUN_PROTOCOL, job->arena, &protocols, &n, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(job->context->store, NOUN_ALLOCATION, job->arena, &allocations, &m, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    document_heading(doc, 1, "Method", "method");
    const struct protocol *rows = protocols;
    if (n == 0)
        document_paragraph(doc, "No protocol was written down, so every result below was looked for after the fact.");
    for (size_t i = 0; i < n; i++) {
        document_paragraph(doc, "Protocol %s, %s%s. Primary outcome: %s. Established means: %s.", rows[i].version,
                           rows[i].locked_on == DATE_UNKNOWN ? "never locked" : "locked on ",
                           rows[i].locked_on == DATE_UNKNOWN ? "" : day_words(rows[i].locked_on, job->arena), rows[i].primary_outcome,
                           rows[i].established == NULL ? "not stated" : rows[i].established);
        if (rows[i].differs != NULL)
            document_paragraph(doc, "It differs from the version before: %s", rows[i].differs);
        struct seal_state seal;
        outcome = seal_check(job->context->store, &rows[i], job->arena, &seal, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        document_paragraph(doc, "%s%s%s", seal.sentence, seal.late == NULL ? "" : " ", seal.late == NULL ? "" : seal.late);
        for (size_t k = 0; k < seal.n_changes; k++)
            document_note(doc, seal.changes[k]);
    }
    for (size_t i = 0; i < m; i++) {
        const struct allocation *one = &((struct allocation *)allocations)[i];
        by_lot += one->method == ALLOCATION_METHOD_DRAWN_BY_LOT;
        if (one->method == ALLOCATION_METHOD_CHOSEN)
            document_note(doc, arena_print(job->arena, "In one comparison the ground was chosen, not drawn by lot: %s",
                                           one->reason == NULL ? "no reason recorded." : one->reason));
    }
    document_paragraph(doc, "%zu of %zu recorded allocations were drawn by lot.", by_lot, m);
    if (job->evidence.has_design)
        document_paragraph(doc, "%s", job->evidence.design.summary);
    document_paragraph(doc, "Survival counts the first planting only; a plant recorded dead and alive later was alive in between; missing "
                            "plants whose place was confirmed are dead; plants "
                            "not found are bounded, not guessed; plants removed on purpose are left out. Intervals are for 95 %%.");
    return OUTCOME_OK;
}

/* ---- where the numbers come from ---- */

static void counts_part(struct reporting *job)
{
    struct document *doc = job->document;
    document_heading(doc, 1, "Rows behind the figures", "rows-behind");
    document_paragraph(doc, "Each line counts plant records of one plot at one census. The records themselves: spinney rows FILE "
                            "plant_record, or the layer of that name in any GIS.");
    struct document_table *table = document_table(doc, "Plants of the first planting by state at each census", "rows-counts");
    static const char *const titles[] = {"Plot", "From", "To", "Alive", "Dead", "Not found", "Removed", "No record", "Of"};
    for (size_t i = 0; i < sizeof titles / sizeof *titles; i++)
        document_column(doc, table, titles[i], NULL, i < 3 ? ALIGN_LEFT : ALIGN_RIGHT);
    for (size_t j = 0; j < job->evidence.facts.n_plots; j++) {
        const struct plot_lives *lives = &job->evidence.lives[j];
        for (size_t c = 0; c < lives->n_censuses; c++) {
            struct plot_survival s;
            struct failure none;
            if (evidence_survival(lives, c, 0.95, job->arena, &s, &none) != OUTCOME_OK || s.planted == 0)
                continue;
            struct document_cell *row = document_row(doc, table);
            document_cell(doc, &row[0], "%s", evidence_plot_name(&job->evidence, j, job->arena));
            document_cell(doc, &row[1], "%s", day_words(lives->censuses[c].from, job->arena));
            document_cell(doc, &row[2], "%s%s", day_words(lives->censuses[c].to, job->arena),
                          lives->censuses[c].as_planted ? ", as planted"
                          : lives->censuses[c].sample   ? ", sample"
                                                        : "");
            const int64_t counts[] = {s.alive, s.dead, s.not_found, s.removed, s.not_seen, s.planted};
            for (size_t k = 0; k < 6; k++)
                document_cell(doc, &row[3 + k], "%lld", (long long)counts[k]);
        }
    }
}

static enum outcome imports_part(struct reporting *job, struct failure *why)
{
    struct document *doc = job->document;
    void *rows = NULL;
    size_t n = 0;
    enum outcome outcome = load_all(job->context->store, NOUN_IMPORT, job->arena, &rows, &n, why);
    if (outcome != OUTCOME_OK || n == 0)
        return outcome;
    struct document_table *table = document_table(doc, "Files the records came from; each is kept whole in the programme", "rows-files");
    static const char *const titles[] = {"File", "Kind", "Day", "Read", "Taken", "Held", "SHA-256"};
    for (size_t i = 0; i < sizeof titles / sizeof *titles; i++)
        document_column(doc, table, titles[i], NULL, i >= 3 && i <= 5 ? ALIGN_RIGHT : ALIGN_LEFT);
    for (size_t i = 0; i < n; i++) {
        const struct import *one = &((struct import *)rows)[i];
        struct document_cell *row = document_row(doc, table);
        if (one->undone == TRUTH_YES)
            continue;
        document_cell(doc, &row[0], "%s", one->file_name);
        document_cell(doc, &row[1], "%s", one->kind);
        document_cell(doc, &row[2], "%s", day_words(one->imported_on, job->arena));
        document_cell(doc, &row[3], "%lld", (long long)one->rows_read);
        document_cell(doc, &row[4], "%lld", (long long)one->rows_taken);
        document_cell(doc, &row[5], "%lld", (long long)one->rows_held);
        document_cell(doc, &row[6], "%.16s…", one->sha256);
    }
    return OUTCOME_OK;
}

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
        outcome = cost_sections(job->context->store, evidence, note, job->arena, why);
    if (outcome == OUTCOME_OK)
        outcome = quality_sections(job->context->store, evidence, note, job->arena, why);
    return outcome;
}

/* The limits stand in every report; own words are added, never instead. */
static void limits_part(struct reporting *job, const char *own)
{
    struct document *doc = job->document;
    const json_t *unknown = json_object_get(job->findings, "unknown");
    document_heading(doc, 1, "What we do not know", "limits");
    struct document_part *list = document_list(doc, false);
    document_words(doc, list,
                   "The site is the replicate. Many plants on few sites are still few sites; intervals of one plot tell how well that plot "
                   "was counted, not how the next site will do.",
                   NULL, false);
    if (job->evidence.has_design)
        document_words(doc, list, job->evidence.design.summary, NULL, false);
    for (size_t i = 0; i < json_array_size(unknown); i++)
        document_words(doc, list, json_string_value(json_array_get(unknown, i)), NULL, false);
    document_words(doc, list, "Results other than the primary outcome were not asked beforehand: read them as hints.", NULL, false);
    if (own != NULL)
        document_paragraph(doc, "In the words of the authors: %s", own);
}

static void summary_part(struct reporting *job)
{
    struct document *doc = job->document;
    const json_t *comparisons = json_object_get(note_data(job->findings), "comparisons");
    document_heading(doc, 1, "In short", "short");
    struct document_part *list = document_list(doc, false);
    for (size_t i = 0; i < json_array_size(comparisons) && i < 3; i++) {
        const json_t *one = json_array_get(comparisons, i);
        document_words(doc, list,
                       arena_print(job->arena, "%s [%s]", json_string_value(json_object_get(one, "sentence")),
                                   json_string_value(json_object_get(one, "rung"))),
                       "#rows-counts", false);
    }
    if (json_array_size(comparisons) == 0)
        document_words(doc, list, "There is no pair of plots with a census to compare yet.", NULL, false);
    document_words(doc, list, "What this comparison cannot tell stands in its own section.", "#limits", false);
    document_paragraph(doc, "In square brackets stands the rung of the claim: counted, compared (two plots differed here), repeated (on "
                            "several sites), attributed (the design separates the cause).");
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
    summary_part(job);
    sites_part(job);
    outcome = maps_part(job, why);
    if (outcome == OUTCOME_OK)
        outcome = method_part(job, why);
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
    limits_part(job, option_text(in, "limits", NULL));
    counts_part(job);
    outcome = imports_part(job, why);
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
