/* SPDX-License-Identifier: GPL-3.0-or-later
 * distances: what is netted off a site, with the numbers used. register: what has been asked and answered.
 * stage: how far a site has come, with its gate. */
#include "work/jobs.h"
#include "work/site_map.h"
#include <stdio.h>

static const struct option distances_options[] = {
    {"site", OPTION_TEXT, false, "CODE", "which site (the only one if not given)"},
    {"plot", OPTION_TEXT, false, "CODE", "of this plot instead of the whole site"},
};
static const char *const distances_bare[] = {"site", NULL};

static void zones_table(json_t *note, const struct site_facts *facts, const struct site_net *net)
{
    json_t *table = section_table(note_section(note, "What is netted off, and the numbers used"));
    table_column(table, "constraint", "constraint", "", -1);
    table_column(table, "label", "label", "", -1);
    table_column(table, "standoff_m", "stand-off", "m", 1);
    table_column(table, "alone_m2", "alone", "m²", 1);
    table_column(table, "more_m2", "beyond those above", "m²", 1);
    table_column(table, "root_m2", "within root area", "m²", 1);
    table_column(table, "figures", "numbers used", "", -1);
    table_column(table, "source", "who says so", "", -1);
    for (size_t i = 0; i < net->n_zones; i++) {
        const struct site_zone *zone = &net->zones[i];
        const struct constraint *constraint = &facts->constraints[zone->constraint];
        json_t *row = table_row(table);
        row_text(row, word_of(WORDS_CONSTRAINT_KIND, (int)constraint->kind));
        row_text(row, constraint->label);
        row_number(row, zone->standoff_m);
        row_number(row, zone->alone_m2);
        row_number(row, zone->more_m2);
        row_number(row, zone->root_overlap_m2);
        row_print(row, "%s%s%s", zone->figures, zone->remark == NULL ? "" : " ", zone->remark == NULL ? "" : zone->remark);
        row_print(row, "%s (%s)", zone->source, site_grade_word(zone->grade));
        char where[40];
        snprintf(where, sizeof where, "id=%lld", (long long)constraint->id);
        figures_behind(table, note_rows(note, NOUN_CONSTRAINT, where, 1));
    }
}

static enum outcome distances_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct programme programme;
    struct site site;
    struct plot plot;
    struct site_facts facts;
    struct site_net net;
    struct shape outline = {0};
    void *plots = NULL;
    size_t n_plots = 0;
    bool of_plot = option_text(in, "plot", NULL) != NULL;
    enum outcome outcome = load_programme(context->store, &arena, &programme, why);
    if (outcome == OUTCOME_OK)
        outcome = of_plot ? load_plot(context->store, option_text(in, "plot", NULL), &arena, &plot, &site, why)
                          : load_site(context->store, option_text(in, "site", NULL), &arena, &site, why);
    if (outcome == OUTCOME_OK)
        outcome = load_shape(of_plot ? plot.wkb : site.wkb, &arena, &outline, why);
    if (outcome == OUTCOME_OK && outline.kind != SHAPE_POLYGONS) {
        fail(why, OUTCOME_DATA, "%s has no outline.", of_plot ? plot.code : site.code);
        outcome = failure_remedy(why, "Bring one in first.");
    }
    if (outcome == OUTCOME_OK)
        outcome = site_facts_load(context->store, &site, context->today, &arena, &facts, why);
    if (outcome == OUTCOME_OK)
        outcome = site_net_off(&facts, &outline, &arena, &net, why);
    if (outcome == OUTCOME_OK)
        outcome = load_of(context->store, NOUN_PLOT, "site_id", site.id, &arena, &plots, &n_plots, why);
    if (outcome != OUTCOME_OK)
        goto done;
    json_t *out = note_new();
    note_answer(out, "Of %.1f m² of %s, %.1f m² are left to plant as far as is recorded.%s", net.gross_m2, of_plot ? plot.code : site.code,
                net.net_m2, net.figures_complete ? "" : " Some distances are not known or not checked: see below.");
    struct site_map_wish wish = {.programme = &programme,
                                 .site = &site,
                                 .facts = &facts,
                                 .zones = net.zones,
                                 .n_zones = net.n_zones,
                                 .plantable = &net.plantable,
                                 .plots = plots,
                                 .n_plots = n_plots,
                                 .title = arena_print(&arena, "%s: what planting keeps away from", site.name)};
    outcome = site_map_figure(&wish, note_section(out, "Map"), &arena, why);
    zones_table(out, &facts, &net);
    if (net.root_overlap_m2 > 0)
        section_text(note_section(out, "Root protection areas"),
                     "%.1f m² of the outline lie within root protection areas: no digging there. Move the plot, not the tree.",
                     net.root_overlap_m2);
    if (is_known(net.least_width_m) && net.least_width_m < 4)
        note_unknown(out, "The widest circle that fits is %.1f m across: under 4 m this is a hedge, not a wood (common practice).",
                     net.least_width_m);
    for (size_t i = 0; i < net.n_open; i++)
        note_unknown(out, "%s", net.open[i]);
    struct site_plan plan;
    if (outcome == OUTCOME_OK)
        outcome = site_plan_load(context->store, &facts, of_plot ? &plot : NULL, &arena, &plan, why);
    if (outcome == OUTCOME_OK)
        outcome = cautions_note(context->store, &facts, &plan, MOMENT_SURVEY | MOMENT_DESIGN | MOMENT_GROUND_WORK, out, &arena, why);
    const int64_t sets[] = {of_plot ? note_rows(out, NOUN_PLOT, arena_print(&arena, "id=%lld", (long long)plot.id), 1)
                                    : note_rows(out, NOUN_SITE, arena_print(&arena, "id=%lld", (long long)site.id), 1),
                            note_rows(out, NOUN_CONSTRAINT, arena_print(&arena, "site=%s", site.code), (int64_t)facts.n_constraints)};
    note_behind(out, note_rows_of(out, sets, 2));
    json_object_set_new(note_data(out), "gross_m2", json_real(net.gross_m2));
    json_object_set_new(note_data(out), "net_m2", json_real(net.net_m2));
    json_object_set_new(note_data(out), "root_overlap_m2", json_real(net.root_overlap_m2));
    json_object_set_new(note_data(out), "figures_complete", json_boolean(net.figures_complete));
    if (outcome == OUTCOME_OK)
        *note = out;
    else
        json_decref(out);
done:
    arena_clear(&arena);
    return outcome;
}

const struct job job_distances = {
    .name = "distances",
    .summary = "what may be planted of a site, with the distances used",
    .about = "Draws the stand-off of every constraint, the root protection areas of trees and what else keeps planting away, nets them off "
             "and shows "
             "the numbers and who says so. What nobody checked is shown as not checked.",
    .example = "spinney distances wood.gpkg LK",
    .access = JOB_LOOKS,
    .options = distances_options,
    .n_options = sizeof distances_options / sizeof *distances_options,
    .bare = distances_bare,
    .run = distances_run,
};

static const struct option register_options[] = {
    {"site", OPTION_TEXT, false, "CODE", "which site (the only one if not given)"},
    {"topic", OPTION_TEXT, false, "WORD", "record an answer about this topic, such as services or contamination"},
    {"state", OPTION_TEXT, false, "WORD", "not_checked, asked, clear, constrained or not_applicable"},
    {"asked_of", OPTION_TEXT, false, "TEXT", "of whom"},
    {"asked_on", OPTION_DATE, false, "DAY", "when asked"},
    {"reply", OPTION_TEXT, false, "TEXT", "what was answered"},
    {"replied_by", OPTION_TEXT, false, "TEXT", "by whom"},
    {"replied_on", OPTION_DATE, false, "DAY", "when answered"},
    {"expires_on", OPTION_DATE, false, "DAY", "when it goes stale"},
    {"evidence", OPTION_TEXT, false, "TEXT", "file or reference"},
    {"reason", OPTION_TEXT, false, "TEXT", "why it does not apply"},
};
static const char *const register_bare[] = {"site", NULL};

static enum outcome check_add(const struct job_context *context, const json_t *in, const struct site *site, struct arena *arena,
                              int64_t *id, struct failure *why)
{
    static const char *const fields[] = {"topic",      "state",      "asked_of",   "asked_on", "reply",
                                         "replied_by", "replied_on", "expires_on", "evidence", "reason"};
    struct site_check check;
    noun_init(NOUN_SITE_CHECK, &check);
    check.site_id = site->id;
    for (size_t i = 0; i < sizeof fields / sizeof *fields; i++) {
        const char *text = option_text(in, fields[i], text_same(fields[i], "state") ? "asked" : NULL);
        enum outcome outcome = field_read(noun_field(NOUN_SITE_CHECK, fields[i]), &check, text, arena, why);
        if (outcome != OUTCOME_OK)
            return outcome;
    }
    enum outcome outcome = site_check_sound(&check, why);
    if (outcome == OUTCOME_OK)
        outcome = store_begin(context->store, context->author,
                              arena_print(arena, "check of %s on site %s", option_text(in, "topic", ""), site->code), why);
    if (outcome != OUTCOME_OK)
        return outcome;
    outcome = store_add(context->store, NOUN_SITE_CHECK, &check, 1, why);
    outcome = store_end(context->store, outcome, why);
    *id = check.id;
    return outcome;
}

static enum outcome register_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct site site;
    struct site_facts facts;
    struct site_topic *topics = NULL;
    size_t n = 0, open = 0;
    int64_t added = 0;
    enum outcome outcome = load_site(context->store, option_text(in, "site", NULL), &arena, &site, why);
    if (outcome == OUTCOME_OK && option_text(in, "topic", NULL) != NULL)
        outcome = check_add(context, in, &site, &arena, &added, why);
    if (outcome == OUTCOME_OK)
        outcome = site_facts_load(context->store, &site, context->today, &arena, &facts, why);
    if (outcome == OUTCOME_OK)
        outcome = site_register(&facts, &arena, &topics, &n, why);
    if (outcome != OUTCOME_OK)
        goto done;
    json_t *out = note_new(), *table = section_table(note_section(out, "Checks register"));
    table_column(table, "topic", "topic", "", -1);
    table_column(table, "state", "state", "", -1);
    table_column(table, "words", "what is recorded", "", -1);
    table_column(table, "needed", "needed before digging", "", -1);
    table_column(table, "missing", "what to do", "", -1);
    for (size_t i = 0; i < n; i++) {
        json_t *row = table_row(table);
        row_text(row, word_of(WORDS_CHECK_TOPIC, (int)topics[i].topic));
        row_print(row, "%s%s", word_of(WORDS_CHECK_STATE, (int)topics[i].state), topics[i].stale ? ", stale" : "");
        row_text(row, topics[i].words);
        row_text(row, topics[i].needed ? "yes" : "no");
        row_text(row, topics[i].missing == NULL ? "nothing" : topics[i].missing);
        open += topics[i].needed && !topics[i].passes;
    }
    note_answer(out,
                open == 0 ? "Every check needed before digging on %s is answered and fresh."
                          : "On %s, %zu checks needed before digging are open.",
                site.code, open);
    for (size_t i = 0; i < n; i++)
        if (topics[i].needed && !topics[i].passes)
            note_unknown(out, "%s", topics[i].words);
    json_object_set_new(note_data(out), "open", json_integer((json_int_t)open));
    if (added != 0)
        json_object_set_new(note_data(out), "id", json_integer(added));
    *note = out;
done:
    arena_clear(&arena);
    return outcome;
}

const struct job job_register = {
    .name = "register",
    .summary = "checks of a site: what was asked, of whom, and what was answered",
    .about = "Shows every topic that has to be asked about with its state, and records an answer. What nobody asked stays \"not checked\"; "
             "a reply can "
             "go stale; \"not applicable\" needs a reason.",
    .example = "spinney register wood.gpkg LK --topic services --state clear --replied-by 'operator A' --replied-on 2026-10-02",
    .access = JOB_WRITES,
    .options = register_options,
    .n_options = sizeof register_options / sizeof *register_options,
    .bare = register_bare,
    .run = register_run,
};

static const struct option stage_options[] = {
    {"site", OPTION_TEXT, true, "CODE", "which site"},
    {"to", OPTION_TEXT, false, "WORD",
     "idea, screened, consented, surveyed, designed, ready_to_dig, planted, monitored, handed_over, closed or rejected"},
    {"reason", OPTION_TEXT, false, "TEXT", "why; needed for rejected and closed"},
};
static const char *const stage_bare[] = {"site", "to", NULL};

static enum outcome stage_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct site site;
    struct site_facts facts;
    struct site_gate gate;
    const char *word = option_text(in, "to", NULL), *reason = option_text(in, "reason", NULL);
    int to = word_find(WORDS_STAGE, word);
    enum outcome outcome = load_site(context->store, option_text(in, "site", NULL), &arena, &site, why);
    if (outcome == OUTCOME_OK && word != NULL && to <= 0)
        outcome = fail(why, OUTCOME_USAGE, "\"%.60s\" is no stage.", word);
    if (outcome == OUTCOME_OK && (to == STAGE_REJECTED || to == STAGE_CLOSED) && text_blank(reason)) {
        fail(why, OUTCOME_DATA, "A site is %s for a reason.", word);
        outcome = failure_remedy(why, "Give it with --reason: the site stays visible with it, so that it does not come back unnoticed.");
    }
    if (outcome == OUTCOME_OK && reason != NULL)
        site.stage_reason = reason;
    if (outcome == OUTCOME_OK)
        outcome = site_facts_load(context->store, &site, context->today, &arena, &facts, why);
    if (outcome == OUTCOME_OK && to <= 0)
        to = site.stage < STAGE_READY_TO_DIG ? STAGE_READY_TO_DIG : (int)site.stage;
    if (outcome == OUTCOME_OK)
        outcome = site_stage_gate(&facts, (enum stage)to, &arena, &gate, why);
    if (outcome != OUTCOME_OK)
        goto done;
    struct text list = {0};
    for (size_t i = 0; i < gate.n_missing; i++)
        text_print(&list, "%s%s", i > 0 ? " " : "", gate.missing[i]);
    if (word != NULL && !gate.open) {
        fail(why, OUTCOME_DATA, "Site %s cannot be %s yet.", site.code, word);
        outcome = failure_remedy(why, "%.1000s", text_get(&list));
    } else if (word != NULL) {
        site.stage = (enum stage)to;
        outcome = store_begin(context->store, context->author, arena_print(&arena, "site %s is %s", site.code, word), why);
        if (outcome == OUTCOME_OK) {
            outcome = store_change(context->store, NOUN_SITE, &site, why);
            outcome = store_end(context->store, outcome, why);
        }
    }
    text_free(&list);
    if (outcome == OUTCOME_OK) {
        json_t *out = note_new();
        note_answer(out, word == NULL ? "Site %s is at %s. Before %s: %zu things are missing." : "Site %s is now %s.", site.code,
                    word_plain(WORDS_STAGE, (int)site.stage, &arena), word_plain(WORDS_STAGE, to, &arena), gate.n_missing);
        for (size_t i = 0; i < gate.n_missing; i++)
            note_unknown(out, "%s", gate.missing[i]);
        json_object_set_new(note_data(out), "open", json_boolean(gate.open));
        *note = out;
    }
done:
    arena_clear(&arena);
    return outcome;
}

const struct job job_stage = {
    .name = "stage",
    .summary = "how far a site has come, and what stands before the next stage",
    .about = "Shows what is missing before a stage, or moves the site there. A gate that is not met refuses and lists what is missing.",
    .example = "spinney stage wood.gpkg LK ready_to_dig",
    .access = JOB_WRITES,
    .options = stage_options,
    .n_options = sizeof stage_options / sizeof *stage_options,
    .bare = stage_bare,
    .run = stage_run,
};
