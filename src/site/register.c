/* SPDX-License-Identifier: GPL-3.0-or-later
 * The register of checks: where each question about a site stands, what has gone stale, and what a stage still lacks. */
#include "site/sitefigure.h"
#include <string.h>

/* Days after which a reply is stale, where the trade has a figure; a rule "stale_days.TOPIC" replaces it. */
enum { SERVICE_DAYS = 90 };

static int days_of(const struct site_facts *facts, enum check_topic topic, struct arena *arena)
{
    const struct local_rule *rule = rule_find(facts, arena_print(arena, "stale_days.%s", word_of(WORDS_CHECK_TOPIC, (int)topic)));
    if (rule != NULL && rule->value_num >= 0 && rule->value_num < 40000)
        return (int)rule->value_num;
    return topic == CHECK_TOPIC_SERVICES || topic == CHECK_TOPIC_OVERHEAD_LINES ? SERVICE_DAYS : 0;
}

enum outcome site_check_sound(const struct site_check *check, struct failure *why)
{
    if (check->state == CHECK_STATE_NOT_APPLICABLE && text_blank(check->reason)) {
        fail(why, OUTCOME_DATA, "“Not applicable” needs a reason.");
        failure_at(why, NULL, 0, "reason");
        return failure_remedy(why, "Say why it does not apply here, and who says so.");
    }
    if ((check->state == CHECK_STATE_CLEAR || check->state == CHECK_STATE_CONSTRAINED) && check->replied_on == DATE_UNKNOWN) {
        fail(why, OUTCOME_DATA, "A reply needs the day it came.");
        return failure_at(why, NULL, 0, "replied_on");
    }
    if (check->asked_on != DATE_UNKNOWN && check->replied_on != DATE_UNKNOWN && check->replied_on < check->asked_on) {
        fail(why, OUTCOME_DATA, "The reply is dated before the question.");
        return failure_at(why, NULL, 0, "replied_on");
    }
    return OUTCOME_OK;
}

/* How little settled a check is; the greatest of a topic counts. */
enum settled { SETTLED_NOT_APPLICABLE, SETTLED_CLEAR, SETTLED_CONSTRAINED, SETTLED_STALE, SETTLED_ASKED, SETTLED_NOT };

struct standing {
    enum settled settled;
    int32_t stale_on;
};

static struct standing stands(const struct site_facts *facts, const struct site_check *check, int days)
{
    struct standing s = {SETTLED_NOT, DATE_UNKNOWN};
    if (check->state == CHECK_STATE_NOT_APPLICABLE)
        s.settled = text_blank(check->reason) ? SETTLED_NOT : SETTLED_NOT_APPLICABLE;
    else if (check->state == CHECK_STATE_ASKED)
        s.settled = SETTLED_ASKED;
    else if (check->state == CHECK_STATE_CLEAR || check->state == CHECK_STATE_CONSTRAINED) {
        s.settled = check->state == CHECK_STATE_CLEAR ? SETTLED_CLEAR : SETTLED_CONSTRAINED;
        if (days > 0 && check->replied_on != DATE_UNKNOWN)
            s.stale_on = check->replied_on + days;
        if (check->expires_on != DATE_UNKNOWN && (s.stale_on == DATE_UNKNOWN || check->expires_on < s.stale_on))
            s.stale_on = check->expires_on;
        bool dated = s.stale_on != DATE_UNKNOWN;
        bool over = dated && (facts->today == DATE_UNKNOWN || facts->today > s.stale_on);
        if (over || (days > 0 && !dated) || check->replied_on == DATE_UNKNOWN)
            s.settled = SETTLED_STALE;
    }
    return s;
}

static bool drawn(const struct site_facts *facts, enum constraint_kind kind)
{
    for (size_t i = 0; i < facts->n_constraints; i++)
        if (facts->constraints[i].kind == kind && constraint_here(facts, &facts->constraints[i]))
            return true;
    return false;
}

/* Constraint kind that shows what a reply of "constrained" means; 0 none. */
static enum constraint_kind kind_of(enum check_topic topic)
{
    switch (topic) {
    case CHECK_TOPIC_SERVICES:
        return CONSTRAINT_KIND_BURIED_SERVICE;
    case CHECK_TOPIC_OVERHEAD_LINES:
        return CONSTRAINT_KIND_OVERHEAD_LINE;
    case CHECK_TOPIC_CONTAMINATION:
        return CONSTRAINT_KIND_CONTAMINATION;
    case CHECK_TOPIC_BUILDINGS:
        return CONSTRAINT_KIND_BUILDING;
    case CHECK_TOPIC_INVASIVE_PLANTS:
        return CONSTRAINT_KIND_INVASIVE_PLANT;
    case CHECK_TOPIC_OPEN_HABITAT:
        return CONSTRAINT_KIND_OPEN_HABITAT;
    case CHECK_TOPIC_ARCHAEOLOGY:
        return CONSTRAINT_KIND_ARCHAEOLOGY;
    case CHECK_TOPIC_PROTECTED_TREES:
        return CONSTRAINT_KIND_EXISTING_TREE;
    case CHECK_TOPIC_WATER:
        return CONSTRAINT_KIND_WATER;
    case CHECK_TOPIC_HIGHWAY:
        return CONSTRAINT_KIND_SIGHT_LINE;
    case CHECK_TOPIC_RAILWAY:
        return CONSTRAINT_KIND_RAILWAY;
    default:
        return CONSTRAINT_KIND_UNKNOWN;
    }
}

/* Common practice, no source: what has to be answered before the ground is broken. */
static const enum check_topic needed_to_dig[] = {
    CHECK_TOPIC_SERVICES,     CHECK_TOPIC_OVERHEAD_LINES, CHECK_TOPIC_CONTAMINATION,   CHECK_TOPIC_ASBESTOS,
    CHECK_TOPIC_CLAY,         CHECK_TOPIC_BUILDINGS,      CHECK_TOPIC_INVASIVE_PLANTS, CHECK_TOPIC_PROTECTED_SPECIES,
    CHECK_TOPIC_OPEN_HABITAT, CHECK_TOPIC_ARCHAEOLOGY,    CHECK_TOPIC_PROTECTED_TREES, CHECK_TOPIC_FLOOD_DRAINAGE,
    CHECK_TOPIC_WATER,        CHECK_TOPIC_HIGHWAY,        CHECK_TOPIC_OWNER_CONSENT,   CHECK_TOPIC_PLANNING,
};

static bool is_needed(const struct site_facts *facts, enum check_topic topic, struct arena *arena)
{
    const struct local_rule *rule = rule_find(facts, arena_print(arena, "gate.ready_to_dig.%s", word_of(WORDS_CHECK_TOPIC, (int)topic)));
    if (rule != NULL)
        return rule->value_num != 0;
    for (size_t i = 0; i < sizeof needed_to_dig / sizeof *needed_to_dig; i++)
        if (needed_to_dig[i] == topic)
            return true;
    return false;
}

static void topic_words(const struct site_facts *facts, struct site_topic *t, enum settled worst, const struct site_check *last,
                        struct arena *arena)
{
    static const char *const states[] = {"not applicable", "clear", "constrained", "stale", "asked, no reply yet", "not checked"};
    const char *name = plain_word(arena, WORDS_CHECK_TOPIC, (int)t->topic);
    char day[16] = "", stale[16] = "";
    if (last != NULL)
        date_write(last->state == CHECK_STATE_ASKED ? last->asked_on : last->replied_on, day);
    date_write(t->stale_on, stale);
    const char *who = last == NULL ? NULL : text_blank(last->replied_by) ? last->asked_of : last->replied_by;
    if (last == NULL)
        t->words = arena_print(arena, "%s: not checked", name);
    else
        t->words = arena_print(arena, "%s: %s%s%s%s%s%s", name,
                               worst == SETTLED_STALE ? plain_word(arena, WORDS_CHECK_STATE, (int)t->state) : states[worst],
                               text_blank(who) && day[0] == '\0' ? "" : " (", text_blank(who) ? "" : who,
                               !text_blank(who) && day[0] != '\0' ? ", " : "", day, text_blank(who) && day[0] == '\0' ? "" : ")");
    if (worst == SETTLED_STALE)
        t->words = stale[0] != '\0' ? arena_print(arena, "%s, stale since %s", t->words, stale)
                                    : arena_print(arena, "%s, without a date: counts as stale", t->words);
    bool shown = kind_of(t->topic) == CONSTRAINT_KIND_UNKNOWN || drawn(facts, kind_of(t->topic));
    if (worst == SETTLED_NOT)
        t->missing = arena_print(arena,
                                 last != NULL && last->state == CHECK_STATE_NOT_APPLICABLE ? "%s: “not applicable” needs a reason."
                                                                                           : "%s: ask, and record who answered and when.",
                                 name);
    else if (worst == SETTLED_ASKED)
        t->missing = arena_print(arena, "%s: the reply is still to come.", name);
    else if (worst == SETTLED_STALE)
        t->missing = arena_print(arena, "%s: ask again.", name);
    else if (worst == SETTLED_CONSTRAINED && !shown)
        t->missing = arena_print(arena, "%s: the reply names a constraint, but none is drawn.", name);
    t->passes = t->missing == NULL;
}

/* Whether the same party has answered the same question again later. */
static bool superseded(const struct site_facts *facts, const struct site_check *check)
{
    if (text_blank(check->replied_by) || check->replied_on == DATE_UNKNOWN)
        return false;
    for (size_t i = 0; i < facts->n_checks; i++) {
        const struct site_check *later = &facts->checks[i];
        if (later != check && later->topic == check->topic && later->site_id == check->site_id && later->replied_on != DATE_UNKNOWN &&
            later->replied_on > check->replied_on && text_same_nocase(later->replied_by, check->replied_by))
            return true;
    }
    return false;
}

static void topic_make(const struct site_facts *facts, enum check_topic topic, struct arena *arena, struct site_topic *t)
{
    enum settled worst = SETTLED_NOT_APPLICABLE;
    const struct site_check *shown = NULL;
    int days = days_of(facts, topic, arena);
    *t = (struct site_topic){.topic = topic, .state = CHECK_STATE_NOT_CHECKED, .stale_on = DATE_UNKNOWN};
    for (size_t i = 0; i < facts->n_checks; i++) {
        const struct site_check *check = &facts->checks[i];
        if (check->topic != topic || (check->site_id != facts->site->id && check->site_id != 0) || superseded(facts, check))
            continue;
        struct standing s = stands(facts, check, days);
        t->n_checks++;
        if (s.stale_on != DATE_UNKNOWN && (t->stale_on == DATE_UNKNOWN || s.stale_on < t->stale_on))
            t->stale_on = s.stale_on;
        if (shown == NULL || s.settled > worst) {
            worst = s.settled;
            shown = check;
        }
    }
    if (shown == NULL || worst == SETTLED_NOT)
        t->state = CHECK_STATE_NOT_CHECKED;
    else
        t->state = shown->state;
    t->stale = worst == SETTLED_STALE && shown != NULL;
    t->needed = is_needed(facts, topic, arena);
    topic_words(facts, t, shown == NULL ? SETTLED_NOT : worst, shown, arena);
    if (topic == CHECK_TOPIC_CLAY && facts->site->clay != CLAY_STATE_UNKNOWN && shown == NULL) {
        /* The site itself says what its ground is. */
        t->state = facts->site->clay == CLAY_STATE_SHRINKABLE ? CHECK_STATE_CONSTRAINED : CHECK_STATE_CLEAR;
        t->words = facts->site->clay == CLAY_STATE_SHRINKABLE ? "clay: shrinkable, as recorded for the site"
                                                              : "clay: not shrinkable, as recorded for the site";
        t->missing = NULL;
        t->passes = true;
    }
}

enum outcome site_register(const struct site_facts *facts, struct arena *arena, struct site_topic **topics, size_t *n, struct failure *why)
{
    (void)why;
    size_t of = CHECK_TOPIC_COUNT - 1;
    struct site_topic *list = arena_array(arena, of, sizeof *list);
    for (size_t i = 0; i < of; i++)
        topic_make(facts, (enum check_topic)(i + 1), arena, &list[i]);
    *topics = list;
    *n = of;
    return OUTCOME_OK;
}

/* Topics that a stage before "ready to dig" asks for. Common practice, no source. */
static bool stage_needs(enum stage stage, const struct site_topic *t)
{
    if (stage == STAGE_IDEA || stage == STAGE_CLOSED || stage == STAGE_REJECTED || stage == STAGE_UNKNOWN)
        return false;
    if (stage > STAGE_PLANTED) /* the ground was broken under replies of their day; counting plants asks for no new ones */
        return false;
    if (stage >= STAGE_READY_TO_DIG)
        return t->needed;
    bool open = t->topic == CHECK_TOPIC_OPEN_HABITAT;
    bool consent = t->topic == CHECK_TOPIC_OWNER_CONSENT || t->topic == CHECK_TOPIC_PLANNING;
    bool ground = t->topic == CHECK_TOPIC_SERVICES || t->topic == CHECK_TOPIC_CONTAMINATION || t->topic == CHECK_TOPIC_CLAY;
    return (open && stage >= STAGE_SCREENED) || (consent && stage >= STAGE_CONSENTED) || (ground && stage >= STAGE_DESIGNED);
}

enum outcome site_stage_gate(const struct site_facts *facts, enum stage stage, struct arena *arena, struct site_gate *out,
                             struct failure *why)
{
    struct site_topic *topics = NULL;
    size_t n = 0;
    struct site_gate gate = {0};
    enum outcome outcome = site_register(facts, arena, &topics, &n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if ((stage == STAGE_REJECTED || stage == STAGE_CLOSED) && text_blank(facts->site->stage_reason))
        add_sentence(arena, &gate.missing, &gate.n_missing,
                     "A site is not %s without a reason: it comes back, and the reason is asked for.",
                     stage == STAGE_REJECTED ? "rejected" : "closed");
    for (size_t i = 0; i < n; i++)
        if (stage_needs(stage, &topics[i]) && !topics[i].passes)
            add_sentence(arena, &gate.missing, &gate.n_missing, "%s. %s", topics[i].words, topics[i].missing);
    const struct site_topic *open = &topics[(int)CHECK_TOPIC_OPEN_HABITAT - 1];
    bool asked = open->state == CHECK_STATE_CLEAR || open->state == CHECK_STATE_CONSTRAINED;
    if (stage_needs(stage, open) && facts->site->species_per_m2 >= 9 && open->passes && !asked)
        add_sentence(
            arena, &gate.missing, &gate.n_missing,
            "C21: %g plant species were found in one square metre; \"not applicable\" will not do. Planting may take more from this place "
            "than it gives: an ecologist has to be asked.",
            facts->site->species_per_m2);
    gate.open = gate.n_missing == 0;
    *out = gate;
    return OUTCOME_OK;
}
