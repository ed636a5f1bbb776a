/* SPDX-License-Identifier: GPL-3.0-or-later
 * Aftercare tasks from the planting date, and as an iCalendar (RFC 5545) with identifiers that stay the same. */
#include "water/water.h"
#include <stdlib.h>
#include <string.h>

/* Common practice, no source: the calendar of the northern hemisphere's Atlantic lowland. */
static const struct care_rule dense[] = {
    {"firm_1", CARE_KIND_FIRMING, "Firm wind-rocked plants; mulch top-up; fence check", 1, 3, 15, false},
    {"weed_survey_1", CARE_KIND_INSPECTION, "Weed survey; firm again where needed", 1, 4, 15, false},
    {"weed_1a", CARE_KIND_WEEDING, "Hand weed tall competitors within 30 cm of stems; no strimmer inside the fence", 1, 5, 15, false},
    {"water_1a", CARE_KIND_WATERING, "Water on the drought trigger, the same rule for every plot", 1, 6, 1, true},
    {"weed_1b", CARE_KIND_WEEDING, "Hand weed; look for vandalism", 1, 6, 15, false},
    {"water_1b", CARE_KIND_WATERING, "Water on the drought trigger; check mulch depth", 1, 7, 1, true},
    {"health_1", CARE_KIND_INSPECTION, "Mid-season health walk: damage by cause", 1, 8, 1, false},
    {"water_1c", CARE_KIND_WATERING, "Water on the drought trigger; litter; fence", 1, 8, 10, true},
    {"census_1", CARE_KIND_UNKNOWN, "Autumn census while leaves are on", 1, 9, 1, false},
    {"replace_1", CARE_KIND_INSPECTION, "Decide on replacement: cause before plants", 1, 10, 15, false},
    {"fence_1", CARE_KIND_FENCE_CHECK, "Fence, gate, access; winter browsing", 2, 1, 20, false},
    {"weed_2a", CARE_KIND_WEEDING, "Hand weed", 2, 5, 15, false},
    {"water_2", CARE_KIND_WATERING, "Water on the drought trigger, the same rule for every plot", 2, 6, 15, true},
    {"weed_2b", CARE_KIND_WEEDING, "Hand weed; re-mulch thin spots", 2, 7, 1, false},
    {"census_2", CARE_KIND_UNKNOWN, "Census in the same four weeks as last year; re-tag", 2, 9, 1, false},
    {"fence_2", CARE_KIND_FENCE_CHECK, "Fence, gate, access; winter browsing", 3, 1, 20, false},
    {"weed_3", CARE_KIND_WEEDING, "Last planned weeding", 3, 6, 1, false},
    {"census_3", CARE_KIND_UNKNOWN, "Establishment census at the end of the third growing season", 3, 9, 1, false},
    {"census_5", CARE_KIND_UNKNOWN, "Census of year 5, with soil and wildlife", 5, 9, 1, false},
};
static const struct care_rule comparison[] = {
    {"firm_1", CARE_KIND_FIRMING, "Firm wind-rocked plants; mulch top-up; fence check", 1, 3, 15, false},
    {"weed_1a", CARE_KIND_WEEDING, "Hand weed within 30 cm of stems; no strimmer near stems", 1, 5, 15, false},
    {"water_1a", CARE_KIND_WATERING, "Water on the drought trigger, the same rule for every plot", 1, 6, 1, true},
    {"weed_1b", CARE_KIND_WEEDING, "Hand weed", 1, 6, 15, false},
    {"water_1b", CARE_KIND_WATERING, "Water on the drought trigger", 1, 7, 1, true},
    {"health_1", CARE_KIND_INSPECTION, "Mid-season health walk: damage by cause", 1, 8, 1, false},
    {"water_1c", CARE_KIND_WATERING, "Water on the drought trigger", 1, 8, 10, true},
    {"census_1", CARE_KIND_UNKNOWN, "Autumn census while leaves are on", 1, 9, 1, false},
    {"replace_1", CARE_KIND_REPLACEMENT_PLANTING, "Replace once if survival is under the policy's figure", 1, 11, 15, false},
    {"weed_2a", CARE_KIND_WEEDING, "Hand weed", 2, 5, 15, false},
    {"water_2", CARE_KIND_WATERING, "Water on the drought trigger, the same rule for every plot", 2, 6, 15, true},
    {"weed_2b", CARE_KIND_WEEDING, "Hand weed", 2, 7, 1, false},
    {"census_2", CARE_KIND_UNKNOWN, "Census in the same four weeks as last year; re-tag", 2, 9, 1, false},
    {"weed_3a", CARE_KIND_WEEDING, "Hand weed", 3, 5, 15, false},
    {"weed_3b", CARE_KIND_WEEDING, "Hand weed", 3, 7, 1, false},
    {"census_3", CARE_KIND_UNKNOWN, "Establishment census at the end of the third growing season", 3, 9, 1, false},
    {"census_5", CARE_KIND_UNKNOWN, "Census of year 5, with soil and wildlife", 5, 9, 1, false},
};

const struct care_rule *care_rules(const char *recipe, size_t *n)
{
    if (text_same(recipe, "dense")) {
        *n = sizeof dense / sizeof *dense;
        return dense;
    }
    if (text_same(recipe, "comparison")) {
        *n = sizeof comparison / sizeof *comparison;
        return comparison;
    }
    *n = 0;
    return NULL;
}

static int task_order(const void *left, const void *right)
{
    const struct care_task *a = left, *b = right;
    return a->on != b->on ? (a->on < b->on ? -1 : 1) : strcmp(a->rule->key, b->rule->key);
}

struct care_task *care_tasks(const char *plot_uid, int32_t planted_on, const struct care_rule *rules, size_t n_rules, struct arena *arena,
                             size_t *n_out)
{
    struct care_task *tasks = arena_array(arena, n_rules + 1, sizeof *tasks);
    int year = 0, month = 0, day = 0;
    *n_out = 0;
    if (planted_on == DATE_UNKNOWN)
        return tasks;
    date_parts(planted_on, &year, &month, &day);
    int first = month >= 7 ? year + 1 : year;
    for (size_t i = 0; i < n_rules; i++) {
        int32_t on = date_make(first + rules[i].season - 1, rules[i].month, rules[i].day);
        if (on == DATE_UNKNOWN || on < planted_on)
            continue;
        /* No date in the identifier: when planting moves, a calendar moves the task and does not double it. */
        tasks[(*n_out)++] = (struct care_task){&rules[i], on, arena_print(arena, "%s-%s@spinney", plot_uid, rules[i].key)};
    }
    qsort(tasks, *n_out, sizeof *tasks, task_order);
    return tasks;
}

/* A content line with text escaped and folded at 75 octets, never inside a UTF-8 sequence (RFC 5545, 3.1, 3.3.11). */
static void line_add(struct text *out, const char *name, const char *value)
{
    struct text line = {0};
    text_add(&line, name);
    for (const char *c = value; *c != '\0'; c++) {
        if (*c == '\\' || *c == ';' || *c == ',')
            text_add_n(&line, "\\", 1);
        if (*c == '\n')
            text_add(&line, "\\n");
        else if ((unsigned char)*c >= ' ')
            text_add_n(&line, c, 1);
    }
    const char *at = text_get(&line);
    size_t left = line.n, room = 75;
    while (left > room) {
        size_t cut = room;
        while (cut > 1 && ((unsigned char)at[cut] & 0xC0) == 0x80)
            cut--;
        text_add_n(out, at, cut);
        text_add(out, "\r\n ");
        at += cut;
        left -= cut;
        room = 74;
    }
    text_add_n(out, at, left);
    text_add(out, "\r\n");
    text_free(&line);
}

static void day_add(struct text *out, const char *name, int32_t on)
{
    int year = 0, month = 0, day = 0;
    date_parts(on, &year, &month, &day);
    text_print(out, "%s;VALUE=DATE:%04d%02d%02d\r\n", name, year, month, day);
}

enum outcome care_calendar(const struct care_task *tasks, size_t n, const char *plot_name, const char *stamp, struct text *out,
                           struct failure *why)
{
    if (stamp == NULL || strlen(stamp) != 16 || stamp[8] != 'T' || stamp[15] != 'Z') {
        fail(why, OUTCOME_USAGE, "A calendar needs the moment it was made.");
        return failure_remedy(why, "Write it as 20260101T000000Z.");
    }
    struct arena arena = {0};
    text_add(out, "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//spinney//aftercare//EN\r\nCALSCALE:GREGORIAN\r\n");
    for (size_t i = 0; i < n; i++) {
        text_add(out, "BEGIN:VEVENT\r\n");
        line_add(out, "UID:", tasks[i].uid);
        line_add(out, "DTSTAMP:", stamp);
        day_add(out, "DTSTART", tasks[i].on);
        day_add(out, "DTEND", tasks[i].on + 1);
        line_add(out, "SUMMARY:", arena_print(&arena, "%s: %s", plot_name == NULL ? "Plot" : plot_name, tasks[i].rule->words));
        if (tasks[i].rule->on_trigger)
            line_add(out, "DESCRIPTION:", "Only if the drought trigger is on; if skipped, record why.");
        text_add(out, "TRANSP:TRANSPARENT\r\nEND:VEVENT\r\n");
    }
    text_add(out, "END:VCALENDAR\r\n");
    arena_clear(&arena);
    return OUTCOME_OK;
}
