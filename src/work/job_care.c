/* SPDX-License-Identifier: GPL-3.0-or-later
 * tasks: the aftercare calendar of planted plots. tended: what was done, partly done or left. care: the ledger of compared plots. */
#include "work/care_load.h"
#include "work/jobs.h"
#include "work/water_load.h"
#include <stdlib.h>
#include <string.h>

/* ---- tasks ---- */

static const struct option tasks_options[] = {
    {"site", OPTION_TEXT, false, "CODE", "only this site (all planted plots if not given)"},
    {"from", OPTION_DATE, false, "DAY", "tasks from this day (all if not given)"},
    {"to", OPTION_DATE, false, "DAY", "tasks to this day"},
    {"ics", OPTION_FILE_OUT, false, "FILE", "write them for the calendar of a phone (iCalendar)"},
    {"open", OPTION_FLAG, false, NULL, "only what is not settled yet"},
};
static const char *const tasks_bare[] = {"site", NULL};

enum { NEAR_DAYS = 21 }; /* an entry of the same kind this near a task without a name is taken for it; common practice, no source */

static const char *recipe_of(const struct plot *plot)
{
    return plot->regime == REGIME_DENSE_PREPARED || plot->regime == REGIME_DENSE_UNPREPARED ||
                   (plot->regime == REGIME_OTHER_REGIME && plot->density_m2 >= 2)
               ? "dense"
               : "comparison";
}

static struct care_task *plot_tasks(const struct plot *plot, struct arena *arena, size_t *n)
{
    size_t n_rules = 0;
    char uuid[37];
    const struct care_rule *rules = care_rules(recipe_of(plot), &n_rules);
    uuid_write(&plot->uuid, uuid);
    return care_tasks(arena_text(arena, uuid), plot->planted_on, rules, n_rules, arena, n);
}

/* The entry that answers a task: by its identifier, else of the same kind near its day and itself without one. */
static const struct care_event *event_of(const struct care_event *events, size_t n, int64_t plot, const struct care_task *task)
{
    const struct care_event *near = NULL;
    for (size_t i = n; i > 0; i--) {
        const struct care_event *e = &events[i - 1];
        if (e->plot_id != plot)
            continue;
        if (text_same(e->task, task->uid))
            return e;
        int64_t apart = llabs((long long)e->done_on - task->on);
        if (e->task == NULL && e->kind == task->rule->kind && apart <= NEAR_DAYS &&
            (near == NULL || apart < llabs((long long)near->done_on - task->on)))
            near = e;
    }
    return near;
}

struct tasking {
    json_t *table, *list;
    const struct care_event *events;
    size_t n_events;
    int32_t today, from, to;
    bool open_only;
    size_t done, partly, skipped, skipped_water, overdue, ahead, spared;
    struct text calendar;
};

static const char *trigger_words(const struct weather_series *weather, const struct care_task *task, int32_t planted_on, bool *spared,
                                 struct arena *arena)
{
    struct drought_rule rule = drought_rule_default(false);
    if (weather == NULL)
        return "on the drought trigger; no weather is held";
    struct drought_answer answer = drought_judge(&rule, weather, task->on, planted_on, arena);
    *spared = answer.state == DROUGHT_NO || answer.state == DROUGHT_OFF_SEASON;
    return *spared ? arena_print(arena, "not needed: %s", answer.words) : arena_print(arena, "overdue; trigger: %s", answer.words);
}

static void task_told(struct tasking *t, const char *name, const struct plot *plot, const struct care_task *task,
                      const struct weather_series *weather, struct arena *arena)
{
    const struct care_event *event = event_of(t->events, t->n_events, plot->id, task);
    bool past = task->on < t->today, spared = false;
    const char *state = "to come", *words = task->rule->on_trigger ? "to come, if the drought trigger is on" : "to come";
    if (event != NULL) {
        state = word_of(WORDS_DONE_STATE, (int)event->state);
        words = event->why == NULL ? arena_print(arena, "%s on %s", state, day_words(event->done_on, arena))
                                   : arena_print(arena, "%s on %s: %s", state, day_words(event->done_on, arena), event->why);
        t->done += event->state == DONE_STATE_DONE;
        t->partly += event->state == DONE_STATE_PARTLY;
        t->skipped += event->state == DONE_STATE_SKIPPED;
        t->skipped_water += event->state == DONE_STATE_SKIPPED && event->kind == CARE_KIND_WATERING;
    } else if (past && task->rule->kind == CARE_KIND_UNKNOWN) {
        state = words = "see the censuses";
    } else if (past) {
        words = task->rule->on_trigger ? trigger_words(weather, task, plot->planted_on, &spared, arena)
                                       : "overdue: nobody wrote down what became of it";
        state = spared ? "not needed" : "overdue";
        t->spared += spared;
        t->overdue += !spared;
    } else {
        t->ahead++;
    }
    if (t->open_only && (event != NULL || spared || text_same(state, "see the censuses")))
        return;
    json_t *row = table_row(t->table);
    row_text(row, day_words(task->on, arena));
    row_text(row, name);
    row_text(row, task->rule->key);
    row_text(row, task->rule->words);
    row_text(row, words);
    json_array_append_new(t->list, json_pack("{s:s, s:s, s:s, s:s, s:s, s:s, s:s?}", "on", day_words(task->on, arena), "plot", name, "task",
                                             task->rule->key, "uid", task->uid, "words", task->rule->words, "state", state, "why",
                                             event == NULL ? NULL : event->why));
}

/* The events of one plot's calendar, without its head and foot. */
static enum outcome calendar_add(struct text *out, const struct care_task *tasks, size_t n, const char *name, const char *stamp,
                                 struct failure *why)
{
    struct text one = {0};
    enum outcome outcome = care_calendar(tasks, n, name, stamp, &one, why);
    const char *text = text_get(&one), *first = outcome == OUTCOME_OK ? strstr(text, "BEGIN:VEVENT") : NULL,
               *end = first == NULL ? NULL : strstr(text, "END:VCALENDAR");
    if (out->n == 0 && outcome == OUTCOME_OK)
        text_add_n(out, text, first == NULL ? 0 : (size_t)(first - text));
    if (first != NULL && end != NULL)
        text_add_n(out, first, (size_t)(end - first));
    text_free(&one);
    return outcome;
}

static enum outcome site_tasks(const struct job_context *context, const struct programme *programme, const struct site *site,
                               const struct plot *plots, size_t n, struct tasking *t, struct arena *arena, struct failure *why)
{
    struct site_weather weather;
    struct failure none = {0};
    char stamp[24], day[16];
    bool has = site_weather_load(context->store, programme, site, unknown_real(), false, INT32_MIN, INT32_MAX, arena, &weather, &none) ==
               OUTCOME_OK;
    enum outcome outcome = OUTCOME_OK;
    date_write(context->today, day);
    snprintf(stamp, sizeof stamp, "%.4s%.2s%.2sT000000Z", day, day + 5, day + 8);
    for (size_t p = 0; p < n && outcome == OUTCOME_OK; p++) {
        size_t n_tasks = 0, kept = 0;
        if (plots[p].site_id != site->id || plots[p].planted_on == DATE_UNKNOWN)
            continue;
        struct care_task *tasks = plot_tasks(&plots[p], arena, &n_tasks);
        const char *name = arena_print(arena, "%s/%s", site->code, plots[p].code);
        for (size_t i = 0; i < n_tasks; i++) {
            bool gone = plots[p].ended_on != DATE_UNKNOWN && tasks[i].on > plots[p].ended_on;
            if (gone || (t->from != DATE_UNKNOWN && tasks[i].on < t->from) || (t->to != DATE_UNKNOWN && tasks[i].on > t->to))
                continue;
            tasks[kept++] = tasks[i];
            task_told(t, name, &plots[p], &tasks[kept - 1], has ? &weather.series : NULL, arena);
        }
        outcome = calendar_add(&t->calendar, tasks, kept, name, stamp, why);
    }
    return outcome;
}

static int row_order(const void *a, const void *b)
{
    const json_t *x = *(json_t *const *)a, *y = *(json_t *const *)b;
    int order = strcmp(json_string_value(json_array_get(x, 0)), json_string_value(json_array_get(y, 0)));
    return order != 0 ? order : strcmp(json_string_value(json_array_get(x, 1)), json_string_value(json_array_get(y, 1)));
}

/* Rows in order of day over all plots. */
static void rows_sort(json_t *table)
{
    json_t *rows = json_object_get(table, "rows"), *sorted = json_array();
    size_t n = json_array_size(rows);
    json_t **at = memory_get(n + 1, sizeof *at);
    for (size_t i = 0; i < n; i++)
        at[i] = json_array_get(rows, i);
    qsort(at, n, sizeof *at, row_order);
    for (size_t i = 0; i < n; i++)
        json_array_append(sorted, at[i]);
    json_object_set_new(table, "rows", sorted);
    free(at);
}

static enum outcome tasks_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    static const char *const titles[] = {"day", "plot", "task", "what", "how it stands"};
    struct arena arena = {0};
    struct programme programme;
    struct site only = {.id = 0};
    void *sites = NULL, *plots = NULL, *events = NULL;
    size_t n_sites = 0, n_plots = 0;
    struct tasking t = {.today = context->today,
                        .from = option_date(in, "from", DATE_UNKNOWN),
                        .to = option_date(in, "to", DATE_UNKNOWN),
                        .open_only = option_flag(in, "open")};
    const char *ics = option_text(in, "ics", NULL);
    json_t *out = note_new();
    t.table = section_table(note_section(out, "Tasks"));
    t.list = json_array();
    json_object_set_new(note_data(out), "tasks", t.list);
    for (size_t i = 0; i < sizeof titles / sizeof *titles; i++)
        table_column(t.table, titles[i], titles[i], "", -1);
    enum outcome outcome = load_programme(context->store, &arena, &programme, why);
    if (outcome == OUTCOME_OK && option_text(in, "site", NULL) != NULL)
        outcome = load_site(context->store, option_text(in, "site", NULL), &arena, &only, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(context->store, NOUN_SITE, &arena, &sites, &n_sites, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(context->store, NOUN_PLOT, &arena, &plots, &n_plots, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(context->store, NOUN_CARE_EVENT, &arena, &events, &t.n_events, why);
    t.events = events;
    for (size_t s = 0; outcome == OUTCOME_OK && s < n_sites; s++)
        if (only.id == 0 || ((const struct site *)sites)[s].id == only.id)
            outcome = site_tasks(context, &programme, &((const struct site *)sites)[s], plots, n_plots, &t, &arena, why);
    if (outcome == OUTCOME_OK && t.calendar.n == 0) {
        fail(why, OUTCOME_DATA, "Nothing is planted yet, so there are no tasks.");
        outcome = failure_remedy(why, "Tasks follow from the day of planting: spinney planted FILE PLOT");
    }
    if (outcome == OUTCOME_OK && ics != NULL) {
        text_add(&t.calendar, "END:VCALENDAR\r\n");
        outcome = file_write(ics, t.calendar.at, t.calendar.n, why);
    }
    if (outcome == OUTCOME_OK) {
        rows_sort(t.table);
        note_answer(out, "%zu tasks done, %zu partly, %zu skipped%s, %zu not needed, %zu overdue, %zu to come.", t.done, t.partly,
                    t.skipped, t.skipped_water > 0 ? arena_print(&arena, " (%zu of them waterings)", t.skipped_water) : "", t.spared,
                    t.overdue, t.ahead);
        if (ics != NULL)
            note_written(out, "calendar", ics);
        note_source(
            out, "Tasks by recipe, from the day of planting: common practice, no source. A task keeps its identifier when planting moves.");
        note_unknown(out, "An entry without a task's name is taken for the task of its kind within %d days.", NEAR_DAYS);
        json_object_set_new(note_data(out), "counts",
                            json_pack("{s:I, s:I, s:I, s:I, s:I, s:I}", "done", (json_int_t)t.done, "partly", (json_int_t)t.partly,
                                      "skipped", (json_int_t)t.skipped, "overdue", (json_int_t)t.overdue, "not_needed",
                                      (json_int_t)t.spared, "to_come", (json_int_t)t.ahead));
        *note = json_incref(out);
    }
    json_decref(out);
    text_free(&t.calendar);
    arena_clear(&arena);
    return outcome;
}

const struct job job_tasks = {
    .name = "tasks",
    .summary = "aftercare tasks of planted plots, also as a calendar for phones",
    .about =
        "Lists the aftercare of every planted plot by its recipe, moved with the day of planting, and how each task stands: done, partly, "
        "skipped and why, not needed, overdue or to come. The calendar's identifiers stay, so that a phone moves a task and does not "
        "double it.",
    .example = "spinney tasks wood.gpkg LK --ics aftercare.ics",
    .access = JOB_LOOKS,
    .options = tasks_options,
    .n_options = sizeof tasks_options / sizeof *tasks_options,
    .bare = tasks_bare,
    .run = tasks_run,
};

/* ---- tended ---- */

static const struct option tended_options[] = {
    {"plot", OPTION_TEXT, false, "CODE", "which plot (the only one if not given)"},
    {"task", OPTION_TEXT, false, "KEY", "which task of the calendar, such as water_1a"},
    {"kind", OPTION_TEXT, false, "WORD",
     "what was done, where it is no task: watering, weeding, mulching, firming, fence_check, litter, pruning …"},
    {"state", OPTION_TEXT, false, "WORD", "done, partly or skipped (done if not given)"},
    {"on", OPTION_DATE, false, "DAY", "day (today if not given)"},
    {"litres_m2", OPTION_NUMBER, false, "L/M2", "water given on each square metre"},
    {"litres", OPTION_NUMBER, false, "L", "water given in all, instead"},
    {"hours", OPTION_NUMBER, false, "H", "hours of all people together"},
    {"who", OPTION_TEXT, false, "WHO", "team"},
    {"why", OPTION_TEXT, false, "TEXT", "why only partly, or skipped; needed then"},
};
static const char *const tended_bare[] = {"plot", "task", NULL};

static enum outcome task_find(const json_t *in, const struct plot *plot, struct care_event *event, struct arena *arena, struct failure *why)
{
    const char *key = option_text(in, "task", NULL);
    size_t n = 0;
    if (key == NULL && option_text(in, "kind", NULL) == NULL)
        return fail(why, OUTCOME_USAGE, "Say which task it was, or with --kind what was done.");
    if (key == NULL)
        return field_read(noun_field(NOUN_CARE_EVENT, "kind"), event, option_text(in, "kind", NULL), arena, why);
    struct care_task *tasks = plot_tasks(plot, arena, &n);
    struct text list = {0};
    for (size_t i = 0; i < n; i++) {
        if (text_same_nocase(tasks[i].rule->key, key) || text_same(tasks[i].uid, key)) {
            event->task = tasks[i].uid;
            event->kind = tasks[i].rule->kind == CARE_KIND_UNKNOWN ? CARE_KIND_INSPECTION : tasks[i].rule->kind;
            text_free(&list);
            return OUTCOME_OK;
        }
        text_print(&list, "%s%s", i > 0 ? ", " : "", tasks[i].rule->key);
    }
    fail(why, OUTCOME_DATA, "The plot has no task \"%.40s\".", key);
    failure_remedy(why, "Its tasks are: %.900s.", list.n == 0 ? "none, as it is not planted" : text_get(&list));
    text_free(&list);
    return OUTCOME_DATA;
}

static enum outcome tended_fill(const struct job_context *context, const json_t *in, const struct plot *plot, struct care_event *event,
                                struct arena *arena, struct failure *why)
{
    noun_init(NOUN_CARE_EVENT, event);
    event->plot_id = plot->id;
    event->done_on = option_date(in, "on", context->today);
    event->litres_m2 = option_number(in, "litres_m2", unknown_real());
    event->hours = option_number(in, "hours", unknown_real());
    event->who = option_text(in, "who", NULL);
    event->why = option_text(in, "why", NULL);
    enum outcome outcome = task_find(in, plot, event, arena, why);
    if (outcome == OUTCOME_OK)
        outcome = field_read(noun_field(NOUN_CARE_EVENT, "state"), event, option_text(in, "state", "done"), arena, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (event->state != DONE_STATE_DONE && text_blank(event->why)) {
        fail(why, OUTCOME_DATA, "Why was it %s?", event->state == DONE_STATE_PARTLY ? "only partly done" : "skipped");
        failure_at(why, NULL, 0, "why");
        return failure_remedy(why, "Say it with --why; the report shows it beside the figures.");
    }
    if (event->done_on > context->today) {
        fail(why, OUTCOME_DATA, "That day has not come yet.");
        return failure_at(why, NULL, 0, "on");
    }
    if (plot->planted_on != DATE_UNKNOWN && event->done_on < plot->planted_on) {
        fail(why, OUTCOME_DATA, "The plot was planted on %s, later than that.", day_words(plot->planted_on, arena));
        return failure_at(why, NULL, 0, "on");
    }
    double litres = option_number(in, "litres", unknown_real());
    if (is_known(litres)) {
        struct shape outline;
        outcome = load_shape(plot->wkb, arena, &outline, why);
        double area = is_known(plot->net_area_m2)      ? plot->net_area_m2
                      : outline.kind == SHAPE_POLYGONS ? shape_area_m2(&outline)
                                                       : unknown_real();
        if (outcome == OUTCOME_OK && !(area > 0))
            outcome = fail(why, OUTCOME_DATA, "The area of the plot is not known; give litres on the square metre instead.");
        event->litres_m2 = litres / area;
    }
    for (size_t i = 0; outcome == OUTCOME_OK && i < noun_infos[NOUN_CARE_EVENT].n_fields; i++)
        outcome = field_check(&noun_infos[NOUN_CARE_EVENT].fields[i], event, why);
    return outcome;
}

static enum outcome tended_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct plot plot;
    struct site site;
    struct care_event event;
    enum outcome outcome = load_plot(context->store, option_text(in, "plot", NULL), &arena, &plot, &site, why);
    if (outcome == OUTCOME_OK)
        outcome = tended_fill(context, in, &plot, &event, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = store_begin(context->store, context->author, arena_print(&arena, "care of %s/%s", site.code, plot.code), why);
    if (outcome == OUTCOME_OK)
        outcome = store_end(context->store, store_add(context->store, NOUN_CARE_EVENT, &event, 1, why), why);
    if (outcome == OUTCOME_OK) {
        json_t *out = note_new();
        note_answer(out, "%s/%s: %s %s on %s%s%s.", site.code, plot.code, word_plain(WORDS_CARE_KIND, (int)event.kind, &arena),
                    word_of(WORDS_DONE_STATE, (int)event.state), day_words(event.done_on, &arena),
                    is_known(event.litres_m2) ? arena_print(&arena, ", %.1f L on each square metre", event.litres_m2) : "",
                    event.why == NULL ? "" : arena_print(&arena, ": %s", event.why));
        if (event.kind == CARE_KIND_WATERING && event.state != DONE_STATE_SKIPPED && !is_known(event.litres_m2))
            note_unknown(out, "How much water was given is not known, so that care of compared plots cannot be held against each other.");
        json_object_set_new(note_data(out), "id", json_integer(event.id));
        outcome = unequal_care_told(context->store, site.id, out, &arena, why);
        if (outcome == OUTCOME_OK)
            *note = json_incref(out);
        json_decref(out);
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_tended = {
    .name = "tended",
    .summary = "what was done to a plot, partly done or left, and why",
    .about =
        "Writes down a task of the calendar, or any other care: done, partly or skipped with the reason, litres, hours, team. Says at once "
        "where plots that are compared are no longer cared for alike.",
    .example = "spinney tended wood.gpkg LK/D1 water_1a --state skipped --why 'bowser broken'",
    .access = JOB_WRITES,
    .options = tended_options,
    .n_options = sizeof tended_options / sizeof *tended_options,
    .bare = tended_bare,
    .run = tended_run,
};

/* ---- care ---- */

static const struct option care_options[] = {
    {"site", OPTION_TEXT, false, "CODE", "only this site (all if not given)"},
    {"by", OPTION_TEXT, false, "WORD", "area or plants: what water is compared by, as was chosen before planting (area if not given)"},
    {"tolerance_pct", OPTION_NUMBER, false, "%", "difference that still counts as alike, of the larger (10 if not given)"},
};
static const char *const care_bare[] = {"site", NULL};

static enum outcome care_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    static const char *const titles[] = {"compared", "plot",         "watered",           "partly",
                                         "skipped",  "water [L/m²]", "water [L a plant]", "hours a m²"};
    struct arena arena = {0};
    struct site site = {.id = 0};
    struct care_groups groups = {.n = 0};
    const char *by = option_text(in, "by", "area");
    size_t unequal = 0;
    json_t *out = note_new(), *list = json_array();
    json_t *table = section_table(note_section(out, "Care of plots that are compared"));
    for (size_t i = 0; i < sizeof titles / sizeof *titles; i++)
        table_column(table, titles[i], titles[i], "", i == 5 || i == 6 ? 1 : i == 7 ? 2 : -1);
    enum outcome outcome = text_same(by, "area") || text_same(by, "plants")
                               ? OUTCOME_OK
                               : fail(why, OUTCOME_USAGE, "by: \"%.40s\" is neither area nor plants.", by);
    if (outcome == OUTCOME_OK && option_text(in, "site", NULL) != NULL)
        outcome = load_site(context->store, option_text(in, "site", NULL), &arena, &site, why);
    if (outcome == OUTCOME_OK)
        outcome = care_groups_load(context->store, site.id, text_same(by, "area") ? WATERING_BY_AREA : WATERING_BY_PLANT,
                                   option_number(in, "tolerance_pct", 10), &arena, &groups, why);
    for (size_t i = 0; i < groups.n; i++) {
        const struct care_group *group = &groups.at[i];
        for (size_t p = 0; p < group->n; p++) {
            const struct care_total *total = &group->ledger.totals[p];
            json_t *row = table_row(table);
            row_text(row, group->name);
            row_text(row, group->plots[p].code);
            row_integer(row, (int64_t)total->waterings);
            row_integer(row, (int64_t)total->partly);
            row_print(row, "%zu%s", total->skipped,
                      total->skipped_without_reason > 0 ? arena_print(&arena, " (%zu without a reason)", total->skipped_without_reason)
                                                        : "");
            row_number(row, total->litres_m2);
            row_number(row, total->litres_plant);
            row_number(row, total->hours_m2);
        }
        bool water = false;
        for (size_t k = 0; k < group->ledger.n_unequal; k++) {
            const struct care_inequality *one = &group->ledger.unequal[k];
            bool hours = strcmp(one->what, "hours") == 0;
            water = water || !hours;
            if (hours)
                note_unknown(out, "%s", one->words);
            else
                note_caution(out, "UNEQUAL CARE", one->words, NULL);
            json_array_append_new(list, json_pack("{s:s, s:s, s:s, s:f, s:f, s:s}", "a", group->plots[one->a].code, "b",
                                                  group->plots[one->b].code, "what", one->what, "a_value", one->a_value, "b_value",
                                                  one->b_value, "words", one->words));
        }
        unequal += water;
        if (!water)
            note_unknown(out, "%s: %s", group->name, group->ledger.answer);
    }
    if (outcome == OUTCOME_OK && groups.n == 0) {
        fail(why, OUTCOME_DATA, "No two planted plots are compared yet.");
        outcome = failure_remedy(why, "Split a site, or add the plots to a comparison.");
    }
    if (outcome == OUTCOME_OK) {
        if (unequal == 0)
            note_answer(out, "Nothing recorded says that compared plots were watered unequally, in %zu %s.", groups.n,
                        groups.n == 1 ? "comparison" : "comparisons");
        else
            note_answer(out, "Unequal care in %zu of %zu comparisons: part of the difference between their plots may be water.", unequal,
                        groups.n);
        json_object_set_new(note_data(out), "unequal", list);
        list = NULL;
        *note = json_incref(out);
    }
    json_decref(list);
    json_decref(out);
    arena_clear(&arena);
    return outcome;
}

const struct job job_care = {
    .name = "care",
    .summary = "whether plots that are compared were cared for alike",
    .about = "Sums water, visits and hours of the plots of each comparison, with what was skipped and why, and says where they were not "
             "cared for "
             "alike. The same line goes into the comparison and the findings.",
    .example = "spinney care wood.gpkg TS",
    .access = JOB_LOOKS,
    .options = care_options,
    .n_options = sizeof care_options / sizeof *care_options,
    .bare = care_bare,
    .run = care_run,
};
