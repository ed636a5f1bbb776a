/* SPDX-License-Identifier: GPL-3.0-or-later
 * The rules of judging: versions, what differs between them, and when they may be locked. */
#include "trial/trial.h"
#include <math.h>
#include <string.h>

/// A rule in words, where it stands in the struct and what it is called.
struct rule {
    size_t at;
    const char *name;
};
static const struct rule rules[] = {
    {offsetof(struct protocol, primary_outcome), "the primary outcome"},
    {offsetof(struct protocol, survey_window), "the survey window"},
    {offsetof(struct protocol, established), "what counts as established"},
    {offsetof(struct protocol, replacement_policy), "the replacement policy"},
    {offsetof(struct protocol, stopping_rules), "the stopping rules"},
    {offsetof(struct protocol, analysis_plan), "the analysis plan"},
};
enum { N_RULES = sizeof rules / sizeof *rules };

static const char *rule_of(const struct protocol *protocol, size_t k)
{
    const char *text = NULL;
    memcpy(&text, (const char *)protocol + rules[k].at, sizeof text);
    return text;
}

enum outcome trial_next_version(const char *version, struct arena *arena, const char **out, struct failure *why)
{
    const char *point = version == NULL ? NULL : strrchr(version, '.');
    int64_t major = 0, minor = 0;
    char head[24] = {0};
    bool good = point != NULL && (size_t)(point - version) < sizeof head;
    if (good)
        memcpy(head, version, (size_t)(point - version));
    good = good && integer_read(head, &major) && integer_read(point + 1, &minor) && major >= 0 && minor >= 0 && minor < INT32_MAX;
    if (!good) {
        fail(why, OUTCOME_DATA, "\"%s\" is not a version such as 1.0.", version == NULL ? "" : version);
        return failure_remedy(why, "Give the rules a version of two numbers with a point between.");
    }
    *out = arena_print(arena, "%lld.%lld", (long long)major, (long long)minor + 1);
    return OUTCOME_OK;
}

size_t trial_differences(const struct protocol *a, const struct protocol *b, struct arena *arena, const char ***sentences)
{
    const char **out = arena_array(arena, N_RULES + 1, sizeof *out);
    size_t n = 0;
    for (size_t k = 0; k < N_RULES; k++) {
        const char *was = rule_of(a, k), *is = rule_of(b, k);
        bool had = !text_blank(was), has = !text_blank(is);
        if (had && has && !text_same(was, is))
            out[n++] = arena_print(arena, "Changed %s: was \"%s\", is \"%s\".", rules[k].name, was, is);
        else if (!had && has)
            out[n++] = arena_print(arena, "Added %s: \"%s\".", rules[k].name, is);
        else if (had && !has)
            out[n++] = arena_print(arena, "Took out %s: was \"%s\".", rules[k].name, was);
    }
    bool had = is_known(a->margin_points), has = is_known(b->margin_points);
    if (had && has && a->margin_points != b->margin_points)
        out[n++] = arena_print(arena, "Changed the smallest worthwhile difference: was %g points, is %g points.", a->margin_points,
                               b->margin_points);
    else if (!had && has)
        out[n++] = arena_print(arena, "Added the smallest worthwhile difference: %g points.", b->margin_points);
    else if (had && !has)
        out[n++] = arena_print(arena, "Took out the smallest worthwhile difference: was %g points.", a->margin_points);
    *sentences = out;
    return n;
}

enum outcome trial_amend(const struct protocol *old, const struct protocol *wanted, const char *reason, struct arena *arena,
                         struct protocol *out, struct failure *why)
{
    const char **sentences = NULL;
    size_t n = trial_differences(old, wanted, arena, &sentences);
    bool locked = old->locked_on != DATE_UNKNOWN;
    struct protocol next = *wanted;
    if (n == 0)
        return fail(why, OUTCOME_DATA, "Nothing differs from version %s.", old->version == NULL ? "" : old->version);
    if (locked && text_blank(reason)) {
        fail(why, OUTCOME_USAGE, "Version %s is locked; a change needs a reason.", old->version == NULL ? "" : old->version);
        return failure_remedy(why, "Say why the rules change: it is printed beside both versions in every report.");
    }
    next.locked_on = DATE_UNKNOWN;
    if (!locked) {
        next.id = old->id, next.uuid = old->uuid;
        next.version = old->version, next.differs = old->differs, next.supersedes_id = old->supersedes_id;
        *out = next;
        return OUTCOME_OK;
    }
    enum outcome outcome = trial_next_version(old->version, arena, &next.version, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct text text = {0};
    for (size_t k = 0; k < n; k++)
        text_print(&text, "%s%s", k == 0 ? "" : " ", sentences[k]);
    text_print(&text, " Reason: %s", reason);
    next.differs = arena_text(arena, text_get(&text));
    text_free(&text);
    next.id = 0;
    memset(&next.uuid, 0, sizeof next.uuid);
    next.supersedes_id = old->id;
    *out = next;
    return OUTCOME_OK;
}

enum outcome trial_lock(struct protocol *protocol, int32_t day, int32_t first_result, const char *late_reason, struct arena *arena,
                        const char **remark, struct failure *why)
{
    char text[16], result[16];
    const char *next = NULL;
    *remark = NULL;
    if (protocol->locked_on != DATE_UNKNOWN) {
        date_write(protocol->locked_on, text);
        fail(why, OUTCOME_DATA, "Version %s was locked on %s already.", protocol->version, text);
        return failure_remedy(why, "Change it: that makes the next version and leaves this one as it is.");
    }
    if (day == DATE_UNKNOWN)
        return fail(why, OUTCOME_USAGE, "The day of locking is not known.");
    if (trial_next_version(protocol->version, arena, &next, why) != OUTCOME_OK)
        return OUTCOME_DATA;
    for (size_t k = 0; k < N_RULES; k++) {
        if (text_blank(rule_of(protocol, k))) {
            fail(why, OUTCOME_DATA, "The rules cannot be locked: %s is not written down.", rules[k].name);
            return failure_remedy(why, "Fill it in, even if it says \"none\".");
        }
    }
    if (!is_known(protocol->margin_points)) {
        fail(why, OUTCOME_DATA, "The rules cannot be locked: the smallest worthwhile difference is not written down.");
        return failure_remedy(why, "Say how many percentage points would change what you do.");
    }
    if (first_result != DATE_UNKNOWN && first_result <= day) {
        date_write(day, text);
        date_write(first_result, result);
        if (text_blank(late_reason)) {
            fail(why, OUTCOME_DATA,
                 "Results have been recorded since %s: rules locked on %s were not set down before the outcome was known.", result, text);
            return failure_remedy(why, "Say why they are locked late; every report will print that they were.");
        }
        *remark = arena_print(arena,
                              "Locked on %s, after the first result of %s: these rules were not set down before the outcome was known. "
                              "Reason given: %s",
                              text, result, late_reason);
    }
    protocol->locked_on = day;
    return OUTCOME_OK;
}
