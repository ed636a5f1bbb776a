/* SPDX-License-Identifier: GPL-3.0-or-later
 * Survival of the first planting of a plot, with bounds for what was not found, and by time. */
#include "evidence/evidence.h"
#include "stats/stats.h"
#include <math.h>
#include <string.h>

bool evidence_planted_first(const struct plot_lives *lives, size_t plant)
{
    if (lives->plants[plant]->origin != ORIGIN_FIRST_PLANTING)
        return false;
    if (lives->no_first_census)
        return true;
    enum life_state at_first = lives->states[plant * lives->n_censuses];
    return at_first == LIFE_ALIVE || at_first == LIFE_DEAD || at_first == LIFE_REMOVED;
}

/* The census of a plot that has been planted: alive when planted is presumed where the first census found it dead soon after. */
static void states_count(const struct plot_lives *lives, size_t census, struct plot_survival *out)
{
    for (size_t p = 0; p < lives->n_plants; p++) {
        enum life_state state = lives->states[p * lives->n_censuses + census];
        enum origin origin = lives->plants[p]->origin;
        if (origin == ORIGIN_REPLACEMENT) {
            out->replacements++;
            out->replacements_alive += state == LIFE_ALIVE;
        }
        if (origin == ORIGIN_NATURAL_ARRIVAL)
            out->arrivals_alive += state == LIFE_ALIVE;
        if (!evidence_planted_first(lives, p))
            continue;
        out->planted++;
        out->alive += state == LIFE_ALIVE;
        out->dead += state == LIFE_DEAD;
        out->not_found += state == LIFE_NOT_FOUND;
        out->removed += state == LIFE_REMOVED;
        out->not_seen += state == LIFE_NOT_SEEN;
    }
    out->looked_at = out->alive + out->dead + out->not_found;
}

static enum outcome bounds_fill(struct plot_survival *out, double level, struct failure *why)
{
    const struct census *census = &out->lives->censuses[out->census];
    double open = (double)out->not_found + (census->sample ? 0 : (double)out->not_seen);
    double known = (double)(out->alive + out->dead), all = known + open;
    out->survival = out->lowest = out->highest = estimate_unknown();
    enum outcome outcome = OUTCOME_OK;
    if (known > 0)
        outcome = proportion_wilson((double)out->alive, known, level, false, &out->survival, why);
    if (outcome == OUTCOME_OK && all > 0)
        outcome = proportion_wilson((double)out->alive, all, level, false, &out->lowest, why);
    if (outcome == OUTCOME_OK && all > 0)
        outcome = proportion_wilson((double)out->alive + open, all, level, false, &out->highest, why);
    return outcome;
}

static const char *share_words(const struct plot_survival *s, struct arena *arena)
{
    long long alive = (long long)s->alive, known = (long long)(s->alive + s->dead);
    double low = 100 * s->survival.low, high = 100 * s->survival.high;
    if (known == 0)
        return "none of its plants has a known state";
    if (known < 10)
        return arena_print(arena, "%lld of %lld alive (interval %.0f–%.0f %%)", alive, known, low, high);
    return arena_print(arena, "%.0f %% alive (%.0f–%.0f), %lld of %lld", 100 * s->survival.value, low, high, alive, known);
}

static const char *survival_sentence(const struct plot_survival *s, struct arena *arena)
{
    const struct plot_lives *lives = s->lives;
    const struct census *census = &lives->censuses[s->census];
    char day[16];
    date_write(census->to, day);
    const char *open = "";
    int64_t unknown = s->not_found + (census->sample ? 0 : s->not_seen);
    if (unknown > 0)
        open = arena_print(arena, " %lld were not found: between %.0f and %.0f %% if all of them were dead, or alive.", (long long)unknown,
                           100 * s->lowest.value, 100 * s->highest.value);
    const char *when =
        is_known(s->months) ? arena_print(arena, " %.0f months after planting (%s)", s->months, day) : arena_print(arena, " on %s", day);
    const char *base = lives->no_first_census ? " The as-planted census is missing, so the plan is the denominator." : "";
    const char *part = census->sample ? " Only a sample was looked at." : "";
    const char *leaves = census->leaf_off ? " It was done without leaves, when dormant and dead look alike." : "";
    return arena_print(arena, "%s/%s: %s of the first planting%s.%s%s%s%s", lives->site->code, lives->plot->code, share_words(s, arena),
                       when, open, base, part, leaves);
}

enum outcome evidence_survival(const struct plot_lives *lives, size_t census, double level, struct arena *arena, struct plot_survival *out,
                               struct failure *why)
{
    if (lives->n_censuses == 0) {
        fail(why, OUTCOME_DATA, "Plot %s/%s has no census yet.", lives->site->code, lives->plot->code);
        return failure_remedy(why, "Import one: spinney import FILE census.csv");
    }
    if (census == SIZE_MAX)
        census = lives->n_censuses - 1;
    require(census < lives->n_censuses);
    struct plot_survival s = {.lives = lives,
                              .census = census,
                              .years = unknown_real(),
                              .months = unknown_real(),
                              .stocking_m2 = unknown_real(),
                              .annual = estimate_unknown()};
    states_count(lives, census, &s);
    enum outcome outcome = bounds_fill(&s, level, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (lives->planted_on != DATE_UNKNOWN && lives->censuses[census].to >= lives->planted_on) {
        s.years = date_years(lives->planted_on, lives->censuses[census].to);
        s.months = 12 * s.years;
    }
    if (is_known(s.years) && s.years >= 0.5 && s.alive + s.dead > 0)
        outcome = survival_annual((double)s.alive, (double)(s.alive + s.dead), s.years, level, &s.annual, why);
    if (is_known(lives->plot->net_area_m2) && lives->plot->net_area_m2 > 0 && !lives->censuses[census].sample)
        s.stocking_m2 = (double)(s.alive + s.replacements_alive + s.arrivals_alive) / lives->plot->net_area_m2;
    s.sentence = survival_sentence(&s, arena);
    *out = s;
    return outcome;
}

static size_t name_index(struct plot_curve *curve, const char *name)
{
    for (size_t i = 0; i < curve->n_names; i++)
        if (text_same(curve->names[i], name))
            return i;
    curve->names[curve->n_names] = name;
    return curve->n_names++;
}

enum outcome evidence_times(const struct plot_lives *lives, struct arena *arena, struct plot_curve *out, struct failure *why)
{
    if (lives->planted_on == DATE_UNKNOWN) {
        fail(why, OUTCOME_DATA, "The day of planting of plot %s/%s is not known.", lives->site->code, lives->plot->code);
        return failure_remedy(why, "Set planted_on of the plot.");
    }
    size_t n = lives->n_plants, m = lives->n_censuses;
    *out = (struct plot_curve){.left = arena_array(arena, n, sizeof(double)),
                               .right = arena_array(arena, n, sizeof(double)),
                               .open = arena_array(arena, n, sizeof(double)),
                               .end = arena_array(arena, n, sizeof(double)),
                               .plant = arena_array(arena, n, sizeof(size_t)),
                               .species = arena_array(arena, n, sizeof(size_t)),
                               .names = arena_array(arena, n, sizeof(char *))};
    for (size_t p = 0; p < n; p++) {
        double left = 0, right = HUGE_VAL, open = unknown_real(), end = 0;
        if (!evidence_planted_first(lives, p))
            continue;
        for (size_t c = 0; c < m; c++) {
            enum life_state state = lives->states[p * m + c];
            double t = fmax(0, date_years(lives->planted_on, lives->censuses[c].to));
            bool missed = state == LIFE_NOT_FOUND || (state == LIFE_NOT_SEEN && !lives->censuses[c].sample);
            end = fmax(end, t);
            if (state == LIFE_ALIVE)
                left = fmax(left, t);
            if (state == LIFE_DEAD && right == HUGE_VAL)
                right = fmax(t, left);
            open = !missed ? unknown_real() : is_known(open) ? open : t;
        }
        out->left[out->n] = left;
        out->right[out->n] = right;
        out->open[out->n] = open;
        out->end[out->n] = end;
        out->plant[out->n] = p;
        out->species[out->n++] = name_index(out, lives->plants[p]->species);
    }
    return OUTCOME_OK;
}
