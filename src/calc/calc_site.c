/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of site/: root protection areas, reach on clay, stand-offs, stale replies. */
#include "calc/calc_rooms.h"
#include "site/site.h"
#include <math.h>
#include <string.h>

#define COUNT(list) (sizeof(list) / sizeof *(list))

static enum outcome impossible_stem(double metres, struct failure *why)
{
    fail(why, OUTCOME_DATA, "A stem of %g m is not possible.", metres);
    failure_at(why, NULL, 0, "stem_diameters");
    if (metres > 5 && metres <= 500)
        return failure_remedy(why, "If it was measured in cm, write %g.", metres / 100);
    return failure_remedy(why, "Give each diameter in metres, measured 1.5 m above the ground.");
}

static enum outcome root_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n = 0;
    double *stems = calc_numbers(in, "stem_diameters", &arena, &n);
    for (size_t i = 0; i < n; i++)
        if (!(stems[i] > 0 && stems[i] <= 5)) {
            enum outcome outcome = impossible_stem(stems[i], why);
            arena_clear(&arena);
            return outcome;
        }
    double stem = site_stem_combined_m(stems, n), radius = site_root_radius_m(stem > 5 ? 5 : stem);
    calc_put(result, "stem", stem);
    calc_put(result, "radius", radius);
    calc_put(result, "area", M_PI * radius * radius);
    if (n > 1)
        calc_say(result,
                 n <= 5 ? "%zu stems: square root of the sum of squares = %.4g m"
                        : "%zu stems: square root of n times the squared mean = %.4g m",
                 n, stem);
    calc_say(result, "12 × %.4g m = %.4g m%s", stem, 12 * stem, 12 * stem > 15 ? ", capped at 15 m (707 m²)" : "");
    calc_say(result, "No excavation inside; an arboriculturist decides.");
    arena_clear(&arena);
    return OUTCOME_OK;
}

static enum outcome veteran_run(const json_t *in, json_t *result, struct failure *why)
{
    double stem = calc_number(in, "stem_diameter", NAN), crown = calc_number(in, "canopy_radius", NAN);
    if (is_known(stem) && !(stem > 0 && stem <= 5))
        return impossible_stem(stem, why);
    double radius = site_veteran_radius_m(stem, crown);
    if (!is_known(radius))
        return fail(why, OUTCOME_DATA, "Neither the stem nor the crown is known.");
    calc_put(result, "radius", radius);
    calc_say(result, "the larger of 15 × stem and crown + 5 m%s", is_known(stem) && is_known(crown) ? "" : "; one of the two is not known");
    return OUTCOME_OK;
}

static enum outcome clay_run(const json_t *in, json_t *result, struct failure *why)
{
    const char *word = calc_word(in, "demand", "unknown");
    int demand = word_find(WORDS_WATER_DEMAND, word);
    double height = calc_number(in, "height", NAN);
    if (demand < 0)
        return fail(why, OUTCOME_USAGE, "Water demand is low, moderate, high or unknown, not “%s”.", word);
    if (!(height > 0 && height <= 120))
        return fail(why, OUTCOME_DATA, "A mature height of %g m is not possible.", height);
    double zone = site_clay_zone_m((enum water_demand)demand, height);
    calc_put(result, "reach", zone);
    calc_say(result, "%g × %g m%s", zone / height, height, demand == 0 ? "; water demand not known, taken as high" : "");
    calc_say(result, "On shrinkable clay only; the height is the mature one. An engineer decides about a building.");
    return OUTCOME_OK;
}

static enum outcome standoff_run(const json_t *in, json_t *result, struct failure *why)
{
    const char *key = calc_word(in, "key", "");
    for (size_t i = 0; i < site_n_defaults; i++)
        if (text_same(site_defaults[i].key, key) ||
            (strncmp(site_defaults[i].key, "standoff.", 9) == 0 && text_same(site_defaults[i].key + 9, key))) {
            const struct site_default *d = &site_defaults[i];
            calc_put(result, "standoff", d->metres);
            calc_put(result, "meanwhile", d->meanwhile_m);
            calc_put_word(result, "grade", site_grade_word(d->grade));
            calc_put_word(result, "from", d->source);
            if (!is_known(d->metres))
                calc_say(result, "No figure is known: %g m is drawn meanwhile, which clears nothing. Ask: %s.", d->meanwhile_m, d->source);
            calc_say(result, "A local rule “%s” replaces it.", d->key);
            return OUTCOME_OK;
        }
    struct text keys = {0};
    for (size_t i = 0; i < site_n_defaults; i++)
        text_print(&keys, "%s%s", i == 0 ? "" : ", ", site_defaults[i].key);
    fail(why, OUTCOME_USAGE, "There is no stand-off “%s”.", key);
    failure_remedy(why, "One of: %.900s.", text_get(&keys));
    text_free(&keys);
    return OUTCOME_USAGE;
}

static enum outcome stale_run(const json_t *in, json_t *result, struct failure *why)
{
    struct site site;
    struct site_check check;
    struct local_rule rule;
    struct arena arena = {0};
    struct site_topic *topics = NULL;
    size_t n = 0;
    noun_init(NOUN_SITE, &site);
    noun_init(NOUN_SITE_CHECK, &check);
    noun_init(NOUN_LOCAL_RULE, &rule);
    int topic = word_find(WORDS_CHECK_TOPIC, calc_word(in, "topic", "services"));
    int32_t today = DATE_UNKNOWN;
    if (topic <= 0)
        return fail(why, OUTCOME_USAGE, "“%s” is not a topic of the register.", calc_word(in, "topic", ""));
    if (!date_read(calc_word(in, "replied_on", ""), &check.replied_on) || !date_read(calc_word(in, "today", ""), &today))
        return fail(why, OUTCOME_USAGE, "A day is written as 2025-09-14.");
    check.topic = (enum check_topic)topic;
    check.state = CHECK_STATE_CLEAR;
    double days = calc_number(in, "days", NAN);
    rule.topic = arena_print(&arena, "stale_days.%s", word_of(WORDS_CHECK_TOPIC, topic));
    rule.value_num = days;
    struct site_facts facts = {.site = &site, .checks = &check, .n_checks = 1, .rules = &rule, .n_rules = is_known(days), .today = today};
    enum outcome outcome = site_register(&facts, &arena, &topics, &n, why);
    if (outcome == OUTCOME_OK) {
        char day[16];
        date_write(topics[topic - 1].stale_on, day);
        calc_put_word(result, "state", topics[topic - 1].stale ? "stale" : "fresh");
        calc_put_word(result, "stale_on", day[0] == '\0' ? "never" : day);
        calc_say(result, "%s", topics[topic - 1].words);
    }
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value root_in[] = {
    {"stem_diameters", "m", CALC_NUMBERS, true, "diameter of each stem 1.5 m above the ground, to 5"}};
static const struct calc_value root_out[] = {{"stem", "m", CALC_NUMBER, false, "one diameter that stands for all stems"},
                                             {"radius", "m", CALC_NUMBER, false, "radius of the root protection area"},
                                             {"area", "m2", CALC_NUMBER, false, "its area"}};
static const struct calc_value veteran_in[] = {{"stem_diameter", "m", CALC_NUMBER, false, "diameter 1.5 m above the ground"},
                                               {"canopy_radius", "m", CALC_NUMBER, false, "reach of the crown"}};
static const struct calc_value veteran_out[] = {{"radius", "m", CALC_NUMBER, false, "radius of the buffer"}};
static const struct calc_value clay_in[] = {{"demand", "", CALC_WORD, false, "low, moderate, high; default unknown, taken as high"},
                                            {"height", "m", CALC_NUMBER, true, "mature height, to 120"}};
static const struct calc_value clay_out[] = {{"reach", "m", CALC_NUMBER, false, "from the stem, on shrinkable clay"}};
static const struct calc_value standoff_in[] = {{"key", "", CALC_WORD, true, "such as building, buried_service.gas, standoff.water"}};
static const struct calc_value standoff_out[] = {{"standoff", "m", CALC_NUMBER, false, "default; unknown where somebody has to be asked"},
                                                 {"meanwhile", "m", CALC_NUMBER, false, "drawn while there is no figure"},
                                                 {"grade", "", CALC_WORD, false, "evidence behind it"},
                                                 {"from", "", CALC_WORD, false, "source"}};
static const struct calc_value stale_in[] = {
    {"topic", "", CALC_WORD, false, "default services"},
    {"replied_on", "", CALC_WORD, true, "day of the reply"},
    {"today", "", CALC_WORD, true, "day to judge by"},
    {"days", "day", CALC_NUMBER, false, "limit; default 90 for services and overhead lines, none for others"}};
static const struct calc_value stale_out[] = {{"state", "", CALC_WORD, false, "fresh or stale"},
                                              {"stale_on", "", CALC_WORD, false, "last day it holds"}};

const struct calc calc_site[] = {
    {"root_protection_radius", "Root protection area of a tree",
     "BS 5837:2012, 4.6 and annex D: 12 × stem diameter, at most 15 m; rule for more than five stems from memory", root_in, COUNT(root_in),
     root_out, COUNT(root_out), root_run},
    {"veteran_tree_radius", "Buffer of a veteran tree", "Standing advice for England: the larger of 15 × stem diameter and canopy + 5 m",
     veteran_in, COUNT(veteran_in), veteran_out, COUNT(veteran_out), veteran_run},
    {"clay_zone", "Reach of a plant's roots on shrinkable clay", "NHBC Standards, chapter 4.2: 1.25, 0.75 or 0.5 × mature height", clay_in,
     COUNT(clay_in), clay_out, COUNT(clay_out), clay_run},
    {"standoff", "Default stand-off of a kind of constraint", "The table of docs/methods/site.md, each line with its source", standoff_in,
     COUNT(standoff_in), standoff_out, COUNT(standoff_out), standoff_run},
    {"reply_stale", "Whether a reply has gone stale", "Common practice, no source: services after 90 days", stale_in, COUNT(stale_in),
     stale_out, COUNT(stale_out), stale_run},
    {0},
};
