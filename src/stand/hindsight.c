/* SPDX-License-Identifier: GPL-3.0-or-later
 * A plot with its censuses: the state at each, what is seen between two, and what each would have been told by those before. */
#include "stand/inside.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Mean of a size over the living of a kind at a census (SIZE_MAX: all kinds); NaN where none was measured. */
static double living_mean(const struct stand_history *history, const struct stand_census *census, const double *size, size_t kind)
{
    double sum = 0;
    size_t n = 0;
    for (size_t i = 0; i < history->n; i++)
        if (census->fate[i] == FATE_ALIVE && is_known(size[i]) && (kind == SIZE_MAX || history->plants[i].kind == kind)) {
            sum += size[i];
            n++;
        }
    return n == 0 ? unknown_real() : sum / (double)n;
}

void stand_state(const struct stand_history *history, size_t at, struct arena *arena, struct stand_plant **out, size_t **which, size_t *n,
                 size_t *n_assumed)
{
    const struct stand_census *census = &history->censuses[at];
    *out = arena_array(arena, history->n + 1, sizeof **out);
    *which = arena_array(arena, history->n + 1, sizeof **which);
    *n = *n_assumed = 0;
    double since = 0, all = living_mean(history, census, census->height_m, SIZE_MAX);
    size_t kinds = 0;
    for (size_t i = 0; i < history->n; i++)
        kinds = history->plants[i].kind >= kinds ? history->plants[i].kind + 1 : kinds;
    double *means = memory_get(kinds + 1, sizeof *means);
    for (size_t k = 0; k < kinds; k++)
        means[k] = living_mean(history, census, census->height_m, k);
    for (size_t c = 1; c <= at; c++)
        since += history->censuses[c].seasons;
    for (size_t i = 0; i < history->n; i++) {
        if (census->fate[i] != FATE_ALIVE)
            continue;
        struct stand_plant plant = history->plants[i];
        double height = census->height_m[i];
        *n_assumed += !is_known(height);
        if (!is_known(height) && census->height_like_m != NULL)
            height = census->height_like_m[i];
        if (!is_known(height))
            height = is_known(means[plant.kind]) ? means[plant.kind] : all;
        plant.height_m = is_known(height) ? fmin(80, fmax(0.02, height)) : plant.height_m;
        plant.diameter_cm = census->diameter_cm[i];
        plant.age = fmax(0, plant.age + since);
        (*which)[*n] = i;
        (*out)[(*n)++] = plant;
    }
    free(means);
}

/* Mean and standard deviation taken on by one. */
static void moment_add(double x, size_t *n, double *mean, double *square)
{
    double off = x - *mean;
    *n += 1;
    *mean += off / (double)*n;
    *square += off * (x - *mean);
}

void stand_between(const struct stand_history *history, size_t at, size_t n_kinds, struct stand_seen *seen)
{
    const struct stand_census *before = &history->censuses[at], *after = &history->censuses[at + 1];
    memset(seen, 0, n_kinds * sizeof *seen);
    for (size_t i = 0; i < history->n; i++) {
        struct stand_seen *kind = &seen[history->plants[i].kind];
        if (before->fate[i] != FATE_ALIVE || after->fate[i] == FATE_UNKNOWN)
            continue;
        kind->n++;
        if (after->fate[i] != FATE_ALIVE)
            continue;
        kind->alive++;
        if (is_known(after->height_m[i]) && after->height_m[i] > 0)
            moment_add(after->height_m[i], &kind->tall, &kind->height_m, &kind->height_sd);
        if (is_known(after->diameter_cm[i]) && after->diameter_cm[i] > 0)
            moment_add(after->diameter_cm[i], &kind->thick, &kind->diameter_cm, &kind->diameter_sd);
    }
    for (size_t k = 0; k < n_kinds; k++) {
        seen[k].height_sd = seen[k].tall > 1 ? sqrt(seen[k].height_sd / (double)(seen[k].tall - 1)) : unknown_real();
        seen[k].diameter_sd = seen[k].thick > 1 ? sqrt(seen[k].diameter_sd / (double)(seen[k].thick - 1)) : unknown_real();
    }
}

struct walk {
    const struct stand_setting *setting;
    const struct stand_history *history;
    const struct stand_result *result;
    const struct stand_seen *seen, *last; ///< of this interval and of the one before (NULL: none)
    size_t census, least;
    int seasons, last_seasons;
    double *runs;
    struct arena *arena;
    struct stand_hindsight *out;
};

static struct stand_told *told_add(struct walk *w, enum stand_told_of of, size_t kind, size_t n, double seen)
{
    struct stand_told *told = &w->out->told[w->out->n_told++];
    *told = stand_tell(w->runs, w->result->runs, seen, w->arena);
    told->of = of;
    told->kind = kind;
    told->n = n;
    told->census = w->census + 1;
    return told;
}

/* Living of those whose fate is known, in each run. */
static double run_alive(const struct walk *w, size_t run, size_t kind)
{
    size_t years = (size_t)w->result->years + 1, kinds = w->result->n_kinds;
    double start = (double)w->result->kind_alive[run * years * kinds + kind];
    double end = (double)w->result->kind_alive[(run * years + (size_t)w->seasons) * kinds + kind];
    return start > 0 ? end * (double)w->seen[kind].n / start : 0;
}

static void alive_tell(struct walk *w, size_t kind)
{
    size_t n = 0, alive = 0, kinds = w->result->n_kinds, last_n = 0, last_alive = 0;
    memset(w->runs, 0, w->result->runs * sizeof *w->runs);
    for (size_t k = kind == SIZE_MAX ? 0 : kind; k < (kind == SIZE_MAX ? kinds : kind + 1); k++) {
        n += w->seen[k].n;
        alive += w->seen[k].alive;
        last_n += w->last == NULL ? 0 : w->last[k].n;
        last_alive += w->last == NULL ? 0 : w->last[k].alive;
        for (size_t r = 0; r < w->result->runs; r++)
            w->runs[r] += run_alive(w, r, k);
    }
    if (n < w->least)
        return;
    struct stand_told *told = told_add(w, TOLD_ALIVE, kind, n, (double)alive);
    told->start = (double)n;
    if (last_n == 0)
        return;
    double share = pow(((double)last_alive + 0.5) / ((double)last_n + 1), (double)w->seasons / w->last_seasons);
    told->plain_crps = stand_crps_counts(n, share * ((double)last_n + 1), (1 - share) * ((double)last_n + 1), alive);
}

static void size_tell(struct walk *w, enum stand_told_of of, size_t kind)
{
    const struct stand_seen *seen = &w->seen[kind], *last = w->last == NULL ? NULL : &w->last[kind];
    bool height = of == TOLD_HEIGHT;
    size_t n = height ? seen->tall : seen->thick, years = (size_t)w->result->years + 1;
    const float *array = height ? w->result->kind_height : w->result->kind_diameter;
    if (n < w->least)
        return;
    for (size_t r = 0; r < w->result->runs; r++)
        w->runs[r] = (double)array[(r * years + (size_t)w->seasons) * w->result->n_kinds + kind];
    struct stand_told *told = told_add(w, of, kind, n, height ? seen->height_m : seen->diameter_cm);
    const struct stand_census *census = &w->history->censuses[w->census];
    told->start = living_mean(w->history, census, height ? census->height_m : census->diameter_cm, kind);
    if (last != NULL && w->census > 0) {
        const struct stand_census *before = &w->history->censuses[w->census - 1];
        double earlier = living_mean(w->history, before, height ? before->height_m : before->diameter_cm, kind);
        double gain = (told->start - earlier) * (double)w->seasons / w->last_seasons;
        told->plain_crps = is_known(earlier) ? stand_crps_normal(told->start + gain, 0.5 * fabs(gain), told->seen) : unknown_real();
    }
}

/* One step of the walk: from a census to the next. */
static enum outcome walk_step(struct walk *w, double *factors, struct failure *why)
{
    struct stand_setting setting = *w->setting;
    struct stand_result result;
    struct stand_plant *plants = NULL;
    size_t *which = NULL, assumed = 0;
    const struct stand_census *next = &w->history->censuses[w->census + 1];
    stand_state(w->history, w->census, w->arena, &plants, &which, &setting.n_plants, &assumed);
    if (setting.n_plants == 0)
        return OUTCOME_OK;
    setting.plants = plants;
    setting.years = w->seasons;
    setting.factors = factors;
    setting.seed = w->setting->seed + 1000 * (w->census + 1);
    setting.n_show = 0;
    setting.arrivals_m2 = 0;
    setting.inequality = false;
    if (next->weather.n > 0)
        setting.weather = next->weather;
    enum outcome outcome = stand_look_ahead(&setting, w->arena, &result, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    w->result = &result;
    alive_tell(w, SIZE_MAX);
    for (size_t k = 0; k < setting.n_kinds; k++) {
        alive_tell(w, k);
        size_tell(w, TOLD_HEIGHT, k);
        size_tell(w, TOLD_DIAMETER, k);
    }
    w->result = NULL;
    struct stand_correction *correction = &w->out->corrections[w->out->n_corrections++];
    outcome = stand_correct(&result, w->seasons, w->seen, setting.seed, factors, w->arena, correction, why);
    while (outcome == OUTCOME_OK && correction->most_left > 0 && correction->rounds < STAND_ROUNDS) {
        struct arena room = {0}; /* other luck, so that no run is taken for its luck twice */
        setting.seed += 77;
        outcome = stand_look_ahead(&setting, &room, &result, why);
        if (outcome == OUTCOME_OK)
            outcome = stand_correct(&result, w->seasons, w->seen, setting.seed, factors, w->arena, correction, why);
        arena_clear(&room);
    }
    return outcome;
}

enum outcome stand_hindcast(const struct stand_setting *setting, const struct stand_history *history, size_t least, double *factors,
                            struct arena *arena, struct stand_hindsight *out, struct failure *why)
{
    size_t steps = history->n_censuses > 0 ? history->n_censuses - 1 : 0, kinds = setting->n_kinds;
    *out = (struct stand_hindsight){0};
    out->told = arena_array(arena, steps * (3 * kinds + 1) + 1, sizeof *out->told);
    out->corrections = arena_array(arena, steps + 1, sizeof *out->corrections);
    struct stand_seen *seen = arena_array(arena, 2 * kinds, sizeof *seen), *last = NULL;
    struct walk walk = {.setting = setting, .history = history, .least = least, .arena = arena, .out = out};
    walk.runs = arena_array(arena, setting->runs, sizeof *walk.runs);
    enum outcome outcome = OUTCOME_OK;
    for (size_t c = 0; c < steps && outcome == OUTCOME_OK; c++) {
        int seasons = history->censuses[c + 1].seasons;
        if (seasons < 1 || seasons > 30)
            continue;
        struct stand_seen *here = last == seen ? seen + kinds : seen;
        stand_between(history, c, kinds, here);
        walk.seen = here;
        walk.last = last;
        walk.census = c;
        walk.seasons = seasons;
        outcome = walk_step(&walk, factors, why);
        walk.last_seasons = seasons;
        last = here;
    }
    return outcome;
}
