/* SPDX-License-Identifier: GPL-3.0-or-later
 * Parts of the monitoring report beside its results: sites and maps, method, limits, counts by census, files. */
#include "work/behind.h"
#include "work/report.h"
#include "work/seal.h"
#include "work/site_map.h"
#include <string.h>

/* ---- in short ---- */

void report_summary(struct reporting *job)
{
    struct document *doc = job->document;
    const json_t *comparisons = json_object_get(note_data(job->findings), "comparisons");
    document_heading(doc, 1, "In short", "short");
    for (size_t i = 0; i < json_array_size(comparisons) && i < 3; i++) {
        const json_t *one = json_array_get(comparisons, i);
        struct document_part *part = document_paragraph(doc, "%s [%s]", json_string_value(json_object_get(one, "sentence")),
                                                        json_string_value(json_object_get(one, "rung")));
        document_behind(doc, part, json_integer_value(json_object_get(json_object_get(one, "behind"), "mean")));
    }
    if (json_array_size(comparisons) == 0)
        document_paragraph(doc, "There is no pair of plots with a census to compare yet.");
    struct document_part *part = document_paragraph(
        doc, "In square brackets stands the rung of the claim: counted, compared (two plots differed here), repeated (on several sites), "
             "attributed (the design separates the cause). What this comparison cannot tell stands in a part of its own: ");
    document_words(doc, part, "What we do not know", "#limits", false);
    document_words(doc, part, ".", NULL, false);
}

/* ---- what was done ---- */

static void site_row(struct reporting *job, const struct behind *behind, size_t plot, const struct site *site, bool first, json_t *table)
{
    const struct plot_lives *lives = &job->evidence.lives[plot];
    const struct plot *own = &job->evidence.facts.plots[plot];
    const char *name = evidence_plot_name(&job->evidence, plot, job->arena);
    json_t *row = table_row(table);
    int64_t planted = 0;
    for (size_t p = 0; p < lives->n_plants; p++)
        planted += lives->plants[p]->origin == ORIGIN_FIRST_PLANTING;
    row_text(row, first ? site->name : "");
    row_text(row, first ? word_plain(WORDS_STAGE, (int)site->stage, job->arena) : "");
    row_text(row, own->code);
    row_text(row, word_plain(WORDS_REGIME, (int)own->regime, job->arena));
    row_number(row, own->net_area_m2);
    cell_behind(table, behind_plot(behind, plot));
    row_text(row, lives->planted_on == DATE_UNKNOWN ? NULL : day_words(lives->planted_on, job->arena));
    cell_behind(table, behind_plot(behind, plot));
    row_integer(row, planted);
    cell_behind(table, planted > 0
                           ? note_rows(job->findings, NOUN_PLANT, arena_print(job->arena, "plot=%s;origin=first_planting", name), planted)
                           : behind_plot(behind, plot));
    row_integer(row, (int64_t)lives->n_censuses);
    cell_behind(table, note_rows(job->findings, NOUN_VISIT, arena_print(job->arena, "site=%s;kind=as_planted_census|census", site->code),
                                 INT_UNKNOWN));
}

static enum outcome maps_part(struct reporting *job, struct failure *why);

enum outcome report_sites(struct reporting *job, struct failure *why)
{
    static const char *const titles[] = {"Site", "Stage", "Plot", "Regime", "Net area", "Planted", "Plants", "Censuses"};
    const struct evidence_facts *facts = &job->evidence.facts;
    const struct behind behind = {job->findings, &job->evidence, job->arena};
    json_t *part = note_new(), *section = note_section(part, ""), *table = section_table(section);
    for (size_t i = 0; i < sizeof titles / sizeof *titles; i++)
        table_column(table, titles[i], titles[i], i == 4 ? "m²" : "", i == 4 ? 0 : -1);
    for (size_t i = 0; i < facts->n_sites; i++) {
        const struct site *site = &facts->sites[i];
        bool any = false;
        for (size_t j = 0; j < facts->n_plots; j++)
            if (facts->plots[j].site_id == site->id) {
                site_row(job, &behind, j, site, !any, table);
                any = true;
            }
        if (any)
            continue;
        json_t *row = table_row(table);
        row_text(row, site->name);
        row_text(row, word_plain(WORDS_STAGE, (int)site->stage, job->arena));
        row_text(row, "none");
        for (int k = 0; k < 5; k++)
            row_text(row, "");
        if (site->stage_reason != NULL)
            section_line(section, 0, "%s: %s.", site->name, site->stage_reason);
    }
    document_heading(job->document, 1, "Sites and plots", "sites");
    enum outcome outcome = note_to_document(job->document, part, NULL, 2, why);
    json_decref(part);
    return outcome == OUTCOME_OK ? maps_part(job, why) : outcome;
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

enum outcome report_method(struct reporting *job, struct failure *why)
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
    struct document_part *lots = document_paragraph(doc, "%zu of %zu recorded allocations were drawn by lot.", by_lot, m);
    document_behind(doc, lots, note_rows(job->findings, NOUN_ALLOCATION, "", (int64_t)m));
    if (job->evidence.has_design)
        document_paragraph(doc, "%s", job->evidence.design.summary);
    document_paragraph(doc, "Survival counts the first planting only; a plant recorded dead and alive later was alive in between; missing "
                            "plants whose place was confirmed are dead; plants "
                            "not found are bounded, not guessed; plants removed on purpose are left out. Intervals are for 95 %%.");
    return OUTCOME_OK;
}

/* ---- what is not known ---- */

static void own_words(struct document *doc, const char *words)
{
    if (!text_blank(words))
        document_paragraph(doc, "In the words of the authors: %s", words);
}

void report_limits(struct reporting *job, const char *own)
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
    own_words(doc, job->evidence.programme.limits_words);
    own_words(doc, own);
}

/* ---- counts ---- */

enum outcome report_counts(struct reporting *job, struct failure *why)
{
    static const char *const titles[] = {"Plot", "From", "To", "Alive", "Dead", "Not found", "Removed", "No record", "Of"};
    static const enum life_state states[] = {LIFE_ALIVE, LIFE_DEAD, LIFE_NOT_FOUND, LIFE_REMOVED, LIFE_NOT_SEEN};
    const struct behind behind = {job->findings, &job->evidence, job->arena};
    json_t *part = note_new(), *table = section_table(note_section(part, ""));
    for (size_t i = 0; i < sizeof titles / sizeof *titles; i++)
        table_column(table, titles[i], titles[i], "", -1);
    for (size_t j = 0; j < job->evidence.facts.n_plots; j++) {
        const struct plot_lives *lives = &job->evidence.lives[j];
        for (size_t c = 0; c < lives->n_censuses; c++) {
            struct plot_survival s;
            struct failure none;
            if (evidence_survival(lives, c, 0.95, job->arena, &s, &none) != OUTCOME_OK || s.planted == 0)
                continue;
            json_t *row = table_row(table);
            int64_t sets[4];
            row_text(row, evidence_plot_name(&job->evidence, j, job->arena));
            row_text(row, day_words(lives->censuses[c].from, job->arena));
            row_print(row, "%s%s", day_words(lives->censuses[c].to, job->arena),
                      lives->censuses[c].as_planted ? ", as planted"
                      : lives->censuses[c].sample   ? ", sample"
                                                    : "");
            cells_behind(table, 2, note_rows_of(job->findings, sets, behind_states(&behind, j, c, sets)));
            const int64_t counts[] = {s.alive, s.dead, s.not_found, s.removed, s.not_seen};
            for (size_t k = 0; k < 5; k++) {
                row_integer(row, counts[k]);
                cell_behind(table, behind_state(&behind, j, c, states[k], "first_planting"));
            }
            row_integer(row, s.planted);
            cell_behind(table, behind_planted(&behind, j));
        }
    }
    document_heading(job->document, 1, "Plants of the first planting by state at each census", "counts");
    enum outcome outcome =
        json_array_size(json_object_get(table, "rows")) == 0 ? OUTCOME_OK : note_to_document(job->document, part, NULL, 2, why);
    if (json_array_size(json_object_get(table, "rows")) == 0)
        document_paragraph(job->document, "No plot has a census yet.");
    json_decref(part);
    return outcome;
}

/* ---- files ---- */

enum outcome report_files(struct reporting *job, struct failure *why)
{
    static const char *const titles[] = {"File", "Kind", "Day", "Read", "Taken", "Held", "SHA-256"};
    void *rows = NULL;
    size_t n = 0;
    enum outcome outcome = load_all(job->context->store, NOUN_IMPORT, job->arena, &rows, &n, why);
    if (outcome != OUTCOME_OK || n == 0)
        return outcome;
    json_t *part = note_new(), *section = note_section(part, ""), *table = section_table(section);
    section_line(section, 0, "Each file is kept whole in the programme, as it was handed over.");
    for (size_t i = 0; i < sizeof titles / sizeof *titles; i++)
        table_column(table, titles[i], titles[i], "", -1);
    for (size_t i = 0; i < n; i++) {
        const struct import *one = &((struct import *)rows)[i];
        if (one->undone == TRUTH_YES)
            continue;
        json_t *row = table_row(table);
        row_text(row, one->file_name);
        row_text(row, one->kind);
        row_text(row, day_words(one->imported_on, job->arena));
        row_integer(row, one->rows_read);
        row_integer(row, one->rows_taken);
        row_integer(row, one->rows_held);
        row_print(row, "%.16s…", one->sha256);
        cells_behind(table, 5, note_rows(job->findings, NOUN_IMPORT, arena_print(job->arena, "id=%lld", (long long)one->id), 1));
    }
    document_heading(job->document, 1, "Files that the records came from", "files");
    outcome = note_to_document(job->document, part, NULL, 2, why);
    json_decref(part);
    return outcome;
}
