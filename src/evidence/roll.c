/* SPDX-License-Identifier: GPL-3.0-or-later
 * Every site that was ever started, planned or turned down: which report, which went silent, which were lost (F47). */
#include "evidence/sites.h"
#include <stdlib.h>
#include <string.h>

enum { SILENT_DAYS = 300, YEAR_DAYS = 365 };

const char *site_standing_words(enum site_standing standing)
{
    static const char *const words[] = {"planned", "rejected", "planted, no census yet", "reporting", "not reporting", "lost"};
    return words[standing];
}

/* The level of a factor that most plots of the same regime have; NULL where none has a majority. */
static const char *usual_level(const struct evidence_facts *facts, size_t plot, enum trial_factor factor)
{
    const char *best = NULL;
    size_t most = 0, all = 0;
    for (size_t i = 0; i < facts->n_plots; i++) {
        const char *level = facts->treatments[i].levels[factor];
        size_t n = 0;
        if (facts->plots[i].regime != facts->plots[plot].regime || level == NULL)
            continue;
        all++;
        for (size_t j = 0; j < facts->n_plots; j++)
            n += facts->plots[j].regime == facts->plots[plot].regime && text_same(facts->treatments[j].levels[factor], level);
        if (n > most) {
            most = n;
            best = level;
        }
    }
    return all >= 3 && 2 * most > all ? best : NULL;
}

/* Mixes and dates differ by site on purpose; density, preparation and fence are the recipe. */
static const char *deviations_of(const struct evidence_facts *facts, const struct site *site, struct arena *arena)
{
    static const enum trial_factor recipe[] = {TRIAL_DENSITY, TRIAL_PREPARATION, TRIAL_FENCE};
    struct text words = {0};
    for (size_t i = 0; facts->treatments != NULL && i < facts->n_plots; i++)
        for (size_t k = 0; facts->plots[i].site_id == site->id && k < sizeof recipe / sizeof *recipe; k++) {
            const char *level = facts->treatments[i].levels[recipe[k]], *usual = usual_level(facts, i, recipe[k]);
            if (level != NULL && usual != NULL && !text_same(level, usual))
                text_print(&words, "%s%s: %s %s where most have %s", words.n > 0 ? "; " : "", facts->plots[i].code,
                           trial_factor_word(recipe[k]), level, usual);
        }
    const char *out = words.n > 0 ? arena_text(arena, text_get(&words)) : NULL;
    text_free(&words);
    return out;
}

static void census_add(struct site_report *s, const struct plot_lives *one, size_t *plot_missed)
{
    *plot_missed = 0;
    for (size_t c = 0; c < one->n_censuses; c++) {
        int32_t to = one->censuses[c].to;
        if (s->last_on == DATE_UNKNOWN || to > s->last_on)
            s->last_on = to;
        if (c > 0 && !one->censuses[c - 1].as_planted)
            *plot_missed += (size_t)((to - one->censuses[c - 1].to + 180) / YEAR_DAYS) > 1
                                ? (size_t)((to - one->censuses[c - 1].to + 180) / YEAR_DAYS) - 1
                                : 0;
    }
    if (one->n_censuses > s->censuses)
        s->censuses = one->n_censuses;
}

static enum outcome site_fill(const struct evidence_facts *facts, const struct plot_lives *lives, struct site_report *s,
                              struct arena *arena, struct failure *why)
{
    for (size_t i = 0; i < facts->n_plots; i++) {
        size_t missed = 0;
        struct plot_survival survival;
        if (facts->plots[i].site_id != s->site->id || facts->plots[i].regime == REGIME_UNPLANTED)
            continue;
        s->plots++;
        s->ended += facts->plots[i].ended_on != DATE_UNKNOWN;
        if (lives[i].planted_on != DATE_UNKNOWN && (s->planted_on == DATE_UNKNOWN || lives[i].planted_on < s->planted_on))
            s->planted_on = lives[i].planted_on;
        census_add(s, &lives[i], &missed);
        s->missed = missed > s->missed ? missed : s->missed;
        if (lives[i].n_censuses == 0)
            continue;
        enum outcome outcome = evidence_survival(&lives[i], SIZE_MAX, 0.95, arena, &survival, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        s->planted += survival.planted;
        s->alive += survival.alive;
    }
    s->deviations = deviations_of(facts, s->site, arena);
    return OUTCOME_OK;
}

static enum site_standing standing_of(const struct site_report *s, int32_t as_of)
{
    if (s->site->stage == STAGE_REJECTED)
        return SITE_REJECTED;
    if (s->site->stage == STAGE_CLOSED || (s->plots > 0 && s->ended == s->plots))
        return SITE_LOST;
    if (s->last_on == DATE_UNKNOWN)
        return s->planted_on != DATE_UNKNOWN || s->site->stage == STAGE_PLANTED || s->site->stage == STAGE_MONITORED ? SITE_NO_CENSUS
                                                                                                                     : SITE_PLANNED;
    return as_of - s->last_on > SILENT_DAYS ? SITE_SILENT : SITE_REPORTING;
}

static const char *roll_sentence(const struct sites_roll *r, struct arena *arena)
{
    struct text words = {0};
    size_t started = r->count[SITE_REPORTING] + r->count[SITE_SILENT] + r->count[SITE_LOST] + r->count[SITE_NO_CENSUS], missed = 0;
    text_print(&words, "%zu site%s started, %zu reporting", started, started == 1 ? "" : "s", r->count[SITE_REPORTING]);
    static const enum site_standing rest[] = {SITE_SILENT, SITE_LOST, SITE_NO_CENSUS, SITE_REJECTED, SITE_PLANNED};
    for (size_t k = 0; k < sizeof rest / sizeof *rest; k++)
        if (r->count[rest[k]] > 0)
            text_print(&words, ", %zu %s", r->count[rest[k]], site_standing_words(rest[k]));
    for (size_t i = 0; i < r->n; i++)
        missed += r->sites[i].missed;
    if (missed > 0)
        text_print(&words, "; %zu census%s missed", missed, missed == 1 ? "" : "es");
    text_add(&words, ".");
    for (size_t i = 0; i < r->n; i++) {
        char day[16];
        if (r->sites[i].standing != SITE_SILENT)
            continue;
        date_write(r->sites[i].last_on, day);
        text_print(&words, " %s has not reported since %s.", r->sites[i].site->name, day);
    }
    const char *out = arena_text(arena, text_get(&words));
    text_free(&words);
    return out;
}

enum outcome evidence_roll(const struct evidence_facts *facts, const struct plot_lives *lives, struct arena *arena, struct sites_roll *out,
                           struct failure *why)
{
    struct sites_roll r = {.sites = arena_array(arena, facts->n_sites, sizeof *r.sites), .n = facts->n_sites, .as_of = DATE_UNKNOWN};
    for (size_t i = 0; i < facts->n_plots; i++)
        for (size_t c = 0; c < lives[i].n_censuses; c++)
            if (r.as_of == DATE_UNKNOWN || lives[i].censuses[c].to > r.as_of)
                r.as_of = lives[i].censuses[c].to;
    for (size_t i = 0; i < r.n; i++) {
        r.sites[i] = (struct site_report){.site = &facts->sites[i], .planted_on = DATE_UNKNOWN, .last_on = DATE_UNKNOWN};
        enum outcome outcome = site_fill(facts, lives, &r.sites[i], arena, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        r.sites[i].standing = standing_of(&r.sites[i], r.as_of);
        r.count[r.sites[i].standing]++;
    }
    r.sentence = roll_sentence(&r, arena);
    *out = r;
    return OUTCOME_OK;
}
