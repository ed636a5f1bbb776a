/* SPDX-License-Identifier: GPL-3.0-or-later
 * cautions: all thirty-three with what in the data raises them. rule: figures that hold here, with who said so. screen: what
 * was seen on a first walk over a site. */
#include "model/field.h"
#include "work/jobs.h"
#include "work/site_load.h"
#include <string.h>

static const struct option cautions_options[] = {
    {"site", OPTION_TEXT, false, "CODE", "which site (the only one if not given)"},
    {"plot", OPTION_TEXT, false, "CODE", "for this plot of it only"},
    {"moment", OPTION_TEXT, false, "WORD",
     "only those that belong to survey, design, order, ground_work, planting, care, records or report"},
};
static const char *const cautions_bare[] = {"site", NULL};

static const struct {
    const char *word;
    unsigned moment;
} moments[] = {{"survey", MOMENT_SURVEY},     {"design", MOMENT_DESIGN}, {"order", MOMENT_ORDER},     {"ground_work", MOMENT_GROUND_WORK},
               {"planting", MOMENT_PLANTING}, {"care", MOMENT_CARE},     {"records", MOMENT_RECORDS}, {"report", MOMENT_REPORT}};

static enum outcome moment_read(const char *word, unsigned *out, struct failure *why)
{
    *out = ~0u;
    for (size_t i = 0; word != NULL && i < sizeof moments / sizeof *moments; i++)
        if (text_same(moments[i].word, word)) {
            *out = moments[i].moment;
            return OUTCOME_OK;
        }
    if (word == NULL)
        return OUTCOME_OK;
    fail(why, OUTCOME_USAGE, "\"%.60s\" is no moment.", word);
    return failure_remedy(why, "There are: survey, design, order, ground_work, planting, care, records, report.");
}

static const char *moments_words(unsigned joined, struct arena *arena)
{
    struct text text = {0};
    for (size_t i = 0; i < sizeof moments / sizeof *moments; i++)
        if ((joined & moments[i].moment) != 0)
            text_print(&text, "%s%s", text.n == 0 ? "" : ", ", text_same(moments[i].word, "ground_work") ? "ground work" : moments[i].word);
    const char *out = arena_text(arena, text_get(&text));
    text_free(&text);
    return out;
}

static void cautions_tables(json_t *out, const struct site_caution *list, unsigned moment, size_t count[3], struct arena *arena)
{
    static const char *const titles[] = {"Not checked: the data that would decide are missing", "Raised by what is recorded",
                                         "Nothing recorded raises them, which is no pass"};
    static const char *const words[] = {"not checked", "raised", "no trigger"};
    static const enum caution_state order[] = {CAUTION_RAISED, CAUTION_NOT_CHECKED, CAUTION_NO_TRIGGER};
    json_t *data = json_array();
    for (size_t k = 0; k < 3; k++) {
        json_t *table = NULL;
        for (size_t i = 0; i < SITE_CAUTIONS; i++) {
            const struct site_caution *c = &list[i];
            if (c->state != order[k] || (c->moments & moment) == 0)
                continue;
            if (table == NULL) {
                table = section_table(note_section(out, titles[order[k]]));
                table_column(table, "code", "code", "", -1);
                table_column(table, "topic", "topic", "", -1);
                table_column(table, "figures", "what was found, with its numbers", "", -1);
                table_column(table, "words", "what to mind", "", -1);
                table_column(table, "defer", "who decides", "", -1);
                table_column(table, "moments", "belongs to", "", -1);
            }
            json_t *row = table_row(table);
            row_text(row, c->code);
            row_text(row, c->topic);
            row_text(row, c->figures);
            row_text(row, c->words);
            row_text(row, c->defer);
            row_text(row, moments_words(c->moments, arena));
            count[order[k]]++;
            json_array_append_new(data, json_pack("{s:s, s:s, s:s, s:s}", "code", c->code, "state", words[c->state], "figures", c->figures,
                                                  "defer", c->defer));
        }
    }
    json_object_set_new(note_data(out), "cautions", data);
}

static enum outcome cautions_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct site site;
    struct plot plot;
    struct site_facts facts;
    struct site_plan plan;
    struct site_caution *list = NULL;
    unsigned moment = 0;
    size_t count[3] = {0};
    const char *code = option_text(in, "plot", NULL);
    enum outcome outcome = moment_read(option_text(in, "moment", NULL), &moment, why);
    if (outcome == OUTCOME_OK)
        outcome = code != NULL ? load_plot(context->store, code, &arena, &plot, &site, why)
                               : load_site(context->store, option_text(in, "site", NULL), &arena, &site, why);
    if (outcome == OUTCOME_OK)
        outcome = site_facts_load(context->store, &site, context->today, &arena, &facts, why);
    if (outcome == OUTCOME_OK)
        outcome = site_plan_load(context->store, &facts, code == NULL ? NULL : &plot, &arena, &plan, why);
    if (outcome == OUTCOME_OK)
        outcome = site_cautions(&facts, &plan, &arena, &list, why);
    if (outcome == OUTCOME_OK) {
        json_t *out = note_new();
        cautions_tables(out, list, moment, count, &arena);
        note_answer(
            out,
            "For %s%s%s, %zu cautions are raised and %zu cannot be judged yet, for nobody has looked. No caution means only that nothing "
            "recorded raises it.",
            site.code, code == NULL ? "" : "/", code == NULL ? "" : plot.code, count[CAUTION_RAISED], count[CAUTION_NOT_CHECKED]);
        note_source(out, "Triggers and their figures: docs/methods/site.md. They prompt to ask; who decides is named beside each.");
        json_object_set_new(note_data(out), "raised", json_integer((json_int_t)count[CAUTION_RAISED]));
        json_object_set_new(note_data(out), "not_checked", json_integer((json_int_t)count[CAUTION_NOT_CHECKED]));
        *note = out;
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_cautions = {
    .name = "cautions",
    .summary = "what to be careful of here, computed from your own map and data",
    .about = "Judges thirty-three cautions against what is recorded of a site or a plot: its constraints with their distances, soil, "
             "preparation, "
             "chosen species, months of the works, incidents. Each shows the numbers that raised it and who decides; what nobody looked at "
             "is \"not "
             "checked\", never a pass.",
    .example = "spinney cautions wood.gpkg LK --moment planting",
    .access = JOB_LOOKS,
    .options = cautions_options,
    .n_options = sizeof cautions_options / sizeof *cautions_options,
    .bare = cautions_bare,
    .run = cautions_run,
};

/* ---- rule ---- */

static const struct option rule_options[] = {
    {"key", OPTION_TEXT, false, "KEY", "which figure, such as standoff.path; without it all are listed"},
    {"value", OPTION_NUMBER, false, "X", "the figure that holds here"},
    {"unit", OPTION_TEXT, false, "UNIT", "its unit (m for a distance, days for stale_days)"},
    {"words", OPTION_TEXT, false, "TEXT", "the rule in words, also where it has no figure"},
    {"said_by", OPTION_TEXT, false, "WHO", "who said so; needed"},
    {"said_on", OPTION_DATE, false, "DAY", "when (today if not given)"},
    {"source", OPTION_TEXT, false, "TEXT", "document or page"},
    {"site", OPTION_TEXT, false, "CODE", "for this site only; without it for the whole programme"},
};
static const char *const rule_bare[] = {"key", "value", NULL};

static bool key_known(const char *key)
{
    for (size_t i = 0; i < site_n_defaults; i++)
        if (text_same(site_defaults[i].key, key))
            return true;
    static const char *const prefixes[] = {"stale_days.", "gate.ready_to_dig."};
    for (size_t i = 0; i < 2; i++)
        if (strncmp(key, prefixes[i], strlen(prefixes[i])) == 0)
            return word_find(WORDS_CHECK_TOPIC, key + strlen(prefixes[i])) > 0;
    return false;
}

static const char *unit_of(const char *key)
{
    return strncmp(key, "standoff.", 9) == 0 || strncmp(key, "keep.", 5) == 0 ? "m" : strncmp(key, "stale_days.", 11) == 0 ? "day" : NULL;
}

static enum outcome rule_add(const struct job_context *context, const json_t *in, struct arena *arena, bool *known, struct failure *why)
{
    struct local_rule rule;
    struct site site;
    const char *key = option_text(in, "key", NULL), *code = option_text(in, "site", NULL);
    noun_init(NOUN_LOCAL_RULE, &rule);
    *known = key_known(key);
    rule.topic = key;
    rule.value_num = option_number(in, "value", unknown_real());
    rule.unit = option_text(in, "unit", is_known(rule.value_num) ? unit_of(key) : NULL);
    rule.words = option_text(in, "words", NULL);
    rule.said_by = option_text(in, "said_by", NULL);
    rule.said_on = option_date(in, "said_on", context->today);
    rule.source = option_text(in, "source", NULL);
    if (text_blank(rule.said_by)) {
        fail(why, OUTCOME_DATA, "A local rule needs who said so.");
        return failure_remedy(why, "Give it with --said-by, and the day with --said-on.");
    }
    if (!is_known(rule.value_num) && text_blank(rule.words)) {
        fail(why, OUTCOME_DATA, "A local rule needs a figure or words.");
        return failure_remedy(why, "Give --value or --words.");
    }
    enum outcome outcome = code == NULL ? OUTCOME_OK : load_site(context->store, code, arena, &site, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    rule.site_id = code == NULL ? 0 : site.id;
    struct site_facts facts = {.site = &site, .rules = &rule, .n_rules = 1, .today = context->today};
    struct site_zone *zones = NULL;
    size_t n = 0;
    if (code != NULL) /* a figure that no distance can be is refused before it is stored */
        outcome = site_zones(&facts, arena, &zones, &n, why);
    if (outcome == OUTCOME_OK && is_known(rule.value_num) && (rule.value_num < 0 || (text_same(rule.unit, "m") && rule.value_num > 500))) {
        fail(why, OUTCOME_DATA, "%g %s cannot be.", rule.value_num, rule.unit == NULL ? "" : rule.unit);
        outcome = failure_remedy(why, "A distance lies between 0 and 500 m.");
    }
    if (outcome == OUTCOME_OK)
        outcome = store_begin(context->store, context->author, arena_print(arena, "local rule %s", key), why);
    if (outcome != OUTCOME_OK)
        return outcome;
    return store_end(context->store, store_add(context->store, NOUN_LOCAL_RULE, &rule, 1, why), why);
}

static void rules_table(json_t *out, const struct local_rule *rules, size_t n, const struct site *sites, size_t n_sites)
{
    json_t *table = section_table(note_section(out, "Rules that hold here"));
    table_column(table, "id", "id", "", -1);
    table_column(table, "key", "key", "", -1);
    table_column(table, "value", "figure", "", -1);
    table_column(table, "unit", "unit", "", -1);
    table_column(table, "words", "words", "", -1);
    table_column(table, "said_by", "who said so", "", -1);
    table_column(table, "said_on", "when", "", -1);
    table_column(table, "site", "for", "", -1);
    struct arena arena = {0};
    for (size_t i = 0; i < n; i++) {
        json_t *row = table_row(table);
        const char *code = "all sites";
        for (size_t k = 0; k < n_sites; k++)
            code = sites[k].id == rules[i].site_id ? sites[k].code : code;
        row_integer(row, rules[i].id);
        row_text(row, rules[i].topic);
        row_number(row, rules[i].value_num);
        row_text(row, rules[i].unit);
        row_text(row, rules[i].words == NULL ? "" : rules[i].words);
        row_text(row, rules[i].said_by);
        row_text(row, day_words(rules[i].said_on, &arena));
        row_text(row, code);
    }
    arena_clear(&arena);
}

static void defaults_table(json_t *out)
{
    json_t *section = note_section(out, "Figures used where no rule is given"), *table = section_table(section);
    section_text(
        section,
        "A rule with one of these keys replaces its figure. Two more kinds of key: stale_days.TOPIC (days after which a reply of the "
        "register is stale) and gate.ready_to_dig.TOPIC (1: needed before digging, 0: not).");
    table_column(table, "key", "key", "", -1);
    table_column(table, "metres", "figure", "m", -1);
    table_column(table, "about", "what for", "", -1);
    table_column(table, "source", "who says so", "", -1);
    table_column(table, "grade", "standing", "", -1);
    for (size_t i = 0; i < site_n_defaults; i++) {
        json_t *row = table_row(table);
        row_text(row, site_defaults[i].key);
        row_number(row, site_defaults[i].metres);
        row_text(row, site_defaults[i].about);
        row_text(row, site_defaults[i].source);
        row_text(row, site_grade_word(site_defaults[i].grade));
    }
}

static enum outcome rule_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    void *rules = NULL, *sites = NULL;
    size_t n = 0, n_sites = 0;
    bool adds = option_text(in, "key", NULL) != NULL, known = true;
    enum outcome outcome = adds ? rule_add(context, in, &arena, &known, why) : OUTCOME_OK;
    if (outcome == OUTCOME_OK)
        outcome = load_all(context->store, NOUN_LOCAL_RULE, &arena, &rules, &n, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(context->store, NOUN_SITE, &arena, &sites, &n_sites, why);
    if (outcome == OUTCOME_OK) {
        json_t *out = note_new();
        if (adds)
            note_answer(out, "The rule %s is stored, said by %s.", option_text(in, "key", ""), option_text(in, "said_by", ""));
        else
            note_answer(out, n == 0 ? "No local rule is stored: the general figures below are used." : "%zu local rules hold here.", n);
        if (!known)
            note_unknown(out, "No computation reads the key %s; the rule is kept in words and shown. Keys that are read stand below.",
                         option_text(in, "key", ""));
        if (n > 0)
            rules_table(out, rules, n, sites, n_sites);
        defaults_table(out);
        note_caution(out, "C33", "Law differs by place and changes. A rule here is what somebody said, on a day; it is no advice.",
                     "a local adviser");
        json_object_set_new(note_data(out), "rules", json_integer((json_int_t)n));
        *note = out;
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_rule = {
    .name = "rule",
    .summary = "figures and rules that hold here, with who said so and when",
    .about = "Lists the general figures with their standing and the local rules that replace them, or adds one. Distances, staleness of "
             "replies and "
             "what a gate asks for follow it at once. A later rule of the same key wins; none is ever lost (change and remove keep the "
             "history).",
    .example = "spinney rule wood.gpkg standoff.path 1.5 --said-by 'parks department' --said-on 2026-10-02",
    .access = JOB_WRITES,
    .options = rule_options,
    .n_options = sizeof rule_options / sizeof *rule_options,
    .bare = rule_bare,
    .run = rule_run,
};

/* ---- screen ---- */

static const struct option screen_options[] = {
    {"site", OPTION_TEXT, false, "CODE", "which site (the only one if not given)"},
    {"species_per_m2", OPTION_NUMBER, false, "N", "most plant species found in one square metre of the open ground"},
    {"sharps", OPTION_TEXT, false, "YES/NO", "needles, broken glass or other sharp litter seen"},
    {"volunteers", OPTION_TEXT, false, "YES/NO", "volunteers come"},
    {"children", OPTION_TEXT, false, "YES/NO", "children come"},
    {"lone_work", OPTION_TEXT, false, "YES/NO", "somebody works alone or at dusk"},
    {"chemicals", OPTION_TEXT, false, "YES/NO", "herbicide, treated timber or fuel is to be used"},
    {"works_from", OPTION_INTEGER, false, "MONTH", "month in which the works begin"},
    {"works_to", OPTION_INTEGER, false, "MONTH", "month in which they end"},
    {"history", OPTION_TEXT, false, "TEXT", "what was here before"},
    {"clay", OPTION_TEXT, false, "WORD", "shrinkable or not_shrinkable, where somebody has checked"},
    {"slope_pct", OPTION_NUMBER, false, "%", "slope"},
    {"shade_pct", OPTION_NUMBER, false, "%", "share of open sky taken by buildings and trees"},
};
static const char *const screen_bare[] = {"site", NULL};

static enum outcome screen_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct site site;
    size_t noted = 0;
    json_t *out = note_new();
    enum outcome outcome = load_site(context->store, option_text(in, "site", NULL), &arena, &site, why);
    json_t *table = section_table(note_section(out, "What was seen"));
    table_column(table, "what", "what", "", -1);
    table_column(table, "seen", "seen", "", -1);
    for (size_t i = 1; outcome == OUTCOME_OK && i < sizeof screen_options / sizeof *screen_options; i++) {
        const struct field *field = noun_field(NOUN_SITE, screen_options[i].name);
        const json_t *value = json_object_get(in, screen_options[i].name);
        char written[40];
        if (value != NULL) {
            if (json_is_number(value))
                number_write(json_number_value(value), written);
            outcome = field_read(field, &site, json_is_string(value) ? json_string_value(value) : written, &arena, why);
            noted++;
        }
        json_t *row = table_row(table);
        row_text(row, field->about);
        row_text(row, field_write(field, &site, &arena));
    }
    if (outcome == OUTCOME_OK && noted > 0) {
        outcome = store_begin(context->store, context->author, arena_print(&arena, "walk-over of site %s", site.code), why);
        if (outcome == OUTCOME_OK)
            outcome = store_end(context->store, store_change(context->store, NOUN_SITE, &site, why), why);
    }
    if (outcome == OUTCOME_OK) {
        if (noted > 0)
            note_answer(out, "%zu things are noted for %s.", noted, site.code);
        else
            note_answer(out, "What was seen of %s on a walk-over; what is unknown nobody has looked at.", site.code);
        if (species_open_ground(site.species_per_m2))
            note_caution(
                out, "C21",
                arena_print(&arena,
                            "%g plant species were found in one square metre, 9 or more: planting may take more from this place than it "
                            "gives. Ask before you plan.",
                            site.species_per_m2),
                "an ecologist");
        *note = out;
    } else {
        json_decref(out);
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_screen = {
    .name = "screen",
    .summary = "note what a first walk over a site showed",
    .about = "Notes what decides whether and how a place may be planted: plant species in a square metre of its open ground, sharp litter, "
             "who comes, "
             "months of the works. The cautions and the gates follow from it. Without anything to note it shows what is known.",
    .example = "spinney screen wood.gpkg LK --species-per-m2 12 --sharps no --children yes --works-from 11 --works-to 2",
    .access = JOB_WRITES,
    .options = screen_options,
    .n_options = sizeof screen_options / sizeof *screen_options,
    .bare = screen_bare,
    .run = screen_run,
};
