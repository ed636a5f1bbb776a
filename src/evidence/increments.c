/* SPDX-License-Identifier: GPL-3.0-or-later
 * Growth of the same plants season by season, as a fan over time, at the edge and inside, and how far crowns have closed. */
#include "evidence/increments.h"
#include "evidence/growth_inside.h"
#include "geo/geo.h"
#include <math.h>
#include <stdlib.h>

enum { LEAST_FAN = 10, LEAST_SIDE = 10, LEAST_CROWNS = 10, SPRING_MONTH = 4, AUTUMN_MONTH = 10 };

double growing_seasons(int32_t from, int32_t to)
{
    double sum = 0;
    int year = 0, last = 0, month = 0, day = 0;
    if (from == DATE_UNKNOWN || to == DATE_UNKNOWN || to <= from)
        return from == DATE_UNKNOWN || to == DATE_UNKNOWN ? unknown_real() : 0;
    date_parts(from, &year, &month, &day);
    date_parts(to, &last, &month, &day);
    for (; year <= last; year++) {
        int32_t spring = date_make(year, SPRING_MONTH, 1), autumn = date_make(year, AUTUMN_MONTH, 1);
        int32_t a = from > spring ? from : spring, b = to < autumn ? to : autumn;
        if (b > a)
            sum += (double)(b - a) / (double)(autumn - spring);
    }
    return sum;
}

static bool inside_season(int32_t day)
{
    int year = 0, month = 0, of_month = 0;
    date_parts(day, &year, &month, &of_month);
    return month >= SPRING_MONTH && month < AUTUMN_MONTH - 1; /* September is when censuses are made: growth is all but done */
}

double growth_height(const struct plot_lives *lives, size_t plant, size_t census)
{
    return lives->plants[plant]->origin == ORIGIN_FIRST_PLANTING && lives->states[plant * lives->n_censuses + census] == LIFE_ALIVE
               ? lives->heights_cm[plant * lives->n_censuses + census]
               : unknown_real();
}

struct estimate growth_mean(const double *x, size_t n, double level)
{
    struct estimate out = estimate_unknown();
    double squares = 0;
    if (n == 0)
        return out;
    double mean = sum_exactly(x, n) / (double)n;
    for (size_t i = 0; i < n; i++)
        squares += (x[i] - mean) * (x[i] - mean);
    out.value = mean;
    out.n = (double)n;
    return n == 1 ? out : estimate_student(mean, sqrt(squares / (double)(n - 1) / (double)n), (double)n - 1, level, (double)n);
}

bool growth_span(const struct plot_lives *lives, size_t *from, size_t *to)
{
    size_t first = SIZE_MAX, last = SIZE_MAX;
    for (size_t c = 0; c < lives->n_censuses; c++) {
        size_t n = 0;
        for (size_t p = 0; p < lives->n_plants && n < 3; p++)
            n += is_known(growth_height(lives, p, c));
        if (n < 3)
            continue;
        first = first == SIZE_MAX ? c : first;
        last = c;
    }
    *from = first;
    *to = last;
    return first != SIZE_MAX && growing_seasons(lives->censuses[first].to, lives->censuses[last].to) >= 0.5;
}

/* ---- season by season ---- */

static struct season_growth step_of(const struct plot_lives *lives, size_t from, size_t to, double level, struct arena *arena)
{
    struct season_growth s = {.from = from,
                              .to = to,
                              .seasons = growing_seasons(lives->censuses[from].to, lives->censuses[to].to),
                              .years = date_years(lives->censuses[from].to, lives->censuses[to].to),
                              .crosses = inside_season(lives->censuses[from].to) || inside_season(lives->censuses[to].to)};
    size_t m = lives->n_plants, n_log = 0, n_then = 0, n_now = 0;
    double *gain = arena_array(arena, m, sizeof *gain), *logs = arena_array(arena, m, sizeof *logs), then = 0, now = 0;
    for (size_t p = 0; p < m; p++) {
        double a = growth_height(lives, p, from), b = growth_height(lives, p, to);
        if (is_known(a)) {
            then += a;
            n_then++;
        }
        if (is_known(b)) {
            now += b;
            n_now++;
        }
        if (!is_known(a) || !is_known(b))
            continue;
        gain[s.n++] = (b - a) / s.seasons;
        if (a > 0 && b > 0)
            logs[n_log++] = (log(b) - log(a)) / s.seasons;
    }
    s.gain_cm = growth_mean(gain, s.n, level);
    s.rgr = growth_mean(logs, n_log, level);
    s.naive_cm = estimate_unknown();
    if (n_then > 0 && n_now > 0)
        s.naive_cm.value = (now / (double)n_now - then / (double)n_then) / s.seasons;
    return s;
}

enum outcome evidence_seasons(const struct plot_lives *lives, double level, struct arena *arena, struct plot_seasons *out,
                              struct failure *why)
{
    struct plot_seasons s = {
        .lives = lives, .steps = arena_array(arena, lives->n_censuses + 1, sizeof *s.steps), .first_cm = estimate_unknown()};
    enum outcome outcome = level_check(level, why);
    size_t last = SIZE_MAX;
    struct text words = {0};
    for (size_t c = 0; outcome == OUTCOME_OK && c < lives->n_censuses; c++) {
        size_t n = 0;
        double *heights = arena_array(arena, lives->n_plants, sizeof *heights);
        for (size_t p = 0; p < lives->n_plants; p++)
            if (is_known(growth_height(lives, p, c)))
                heights[n++] = growth_height(lives, p, c);
        if (n < 3)
            continue;
        if (last == SIZE_MAX)
            s.first_cm = growth_mean(heights, n, level);
        else if (growing_seasons(lives->censuses[last].to, lives->censuses[c].to) < 0.5)
            continue;
        else {
            struct season_growth step = step_of(lives, last, c, level, arena);
            s.steps[s.n++] = step;
            text_print(&words, "%s%.0f cm", s.n > 1 ? ", then " : "", step.gain_cm.value);
        }
        last = c;
    }
    if (s.n > 0)
        s.sentence = arena_print(arena, "%s/%s: the same plants gained %s in a growing season.", lives->site->code, lives->plot->code,
                                 text_get(&words));
    text_free(&words);
    *out = s;
    return outcome;
}

/* ---- fan ---- */

static int up(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Quantile type 7 of sorted values (Hyndman & Fan 1996). */
static double quantile(const double *x, size_t n, double q)
{
    double at = q * (double)(n - 1);
    size_t i = (size_t)floor(at);
    return i + 1 < n ? x[i] + (at - (double)i) * (x[i + 1] - x[i]) : x[n - 1];
}

enum outcome evidence_fan(const struct plot_lives *lives, struct arena *arena, struct plot_fan *out, struct failure *why)
{
    size_t from = 0, to = 0, m = lives->n_censuses;
    if (!growth_span(lives, &from, &to) || lives->planted_on == DATE_UNKNOWN)
        return fail(why, OUTCOME_DATA, "Plot %s/%s has no two censuses with heights, or no day of planting.", lives->site->code,
                    lives->plot->code);
    struct plot_fan f = {.n = 0};
    double **columns[] = {&f.years, &f.middle, &f.low_half, &f.high_half, &f.low_most, &f.high_most};
    for (size_t k = 0; k < 6; k++)
        *columns[k] = arena_array(arena, m, sizeof(double));
    double *heights = arena_array(arena, lives->n_plants, sizeof *heights);
    for (size_t c = 0; c < m; c++) {
        size_t n = 0;
        for (size_t p = 0; p < lives->n_plants; p++)
            if (is_known(growth_height(lives, p, to)) && is_known(growth_height(lives, p, c)))
                heights[n++] = growth_height(lives, p, c);
        f.plants = c == to ? n : f.plants;
        if (n < LEAST_FAN)
            continue;
        qsort(heights, n, sizeof *heights, up);
        static const double at[] = {0.5, 0.25, 0.75, 0.05, 0.95};
        f.years[f.n] = fmax(0, date_years(lives->planted_on, lives->censuses[c].to));
        for (size_t k = 0; k < 5; k++)
            (*columns[k + 1])[f.n] = quantile(heights, n, at[k]);
        f.n++;
    }
    *out = f;
    return f.n > 1 ? OUTCOME_OK
                   : fail(why, OUTCOME_DATA, "Fewer than %d plants of %s/%s were measured twice.", LEAST_FAN, lives->site->code,
                          lives->plot->code);
}

/* ---- edge and inside ---- */

static const char *edge_sentence(const struct edge_growth *e, struct arena *arena)
{
    double d = e->difference_cm.value;
    const char *growth = !is_known(d) ? "growth could not be compared"
                         : e->difference_cm.low > 0 || e->difference_cm.high < 0
                             ? arena_print(arena, "plants of the edge grew %.0f cm a season %s (%.0f to %.0f)", fabs(d),
                                           d > 0 ? "more" : "less", fmin(fabs(e->difference_cm.low), fabs(e->difference_cm.high)),
                                           fmax(fabs(e->difference_cm.low), fabs(e->difference_cm.high)))
                             : arena_print(arena, "no difference in growth was seen (%+.0f to %+.0f cm a season)", e->difference_cm.low,
                                           e->difference_cm.high);
    return arena_print(arena,
                       "%s/%s: %.0f %% of the ground is inside a %.0f m edge; %lld of %lld lived at the edge and %lld of %lld inside; %s.",
                       e->lives->site->code, e->lives->plot->code, 100 * e->inside_share, e->strip_m, (long long)e->alive[0],
                       (long long)e->known[0], (long long)e->alive[1], (long long)e->known[1], growth);
}

/* Share of the ground further than the strip from the outline, by the area of the shrunk outline. */
static enum outcome inside_share(const struct shape *outline, double strip_m, struct arena *arena, double *out, struct failure *why)
{
    struct shape inner;
    enum outcome outcome = shape_buffer(outline, -strip_m, arena, &inner, why);
    if (outcome == OUTCOME_OK)
        *out = shape_area_m2(&inner) / shape_area_m2(outline);
    return outcome;
}

static enum outcome sides_fill(const struct shape_finder *finder, struct edge_growth *e, double level, struct arena *arena,
                               struct failure *why)
{
    const struct plot_lives *lives = e->lives;
    size_t from = 0, to = 0, n[2] = {0, 0};
    bool grown = growth_span(lives, &from, &to);
    double seasons = grown ? growing_seasons(lives->censuses[from].to, lives->censuses[to].to) : 1, *gain[2];
    gain[0] = arena_array(arena, lives->n_plants, sizeof(double));
    gain[1] = arena_array(arena, lives->n_plants, sizeof(double));
    for (size_t p = 0; p < lives->n_plants; p++) {
        const struct plant *plant = lives->plants[p];
        if (!evidence_planted_first(lives, p) || !is_known(plant->x_m) || !is_known(plant->y_m))
            continue;
        int side = shape_finder_contains(finder, plant->x_m, plant->y_m) &&
                   shape_finder_outline_distance(finder, plant->x_m, plant->y_m) >= e->strip_m;
        enum life_state state = lives->states[p * lives->n_censuses + lives->n_censuses - 1];
        e->known[side] += state == LIFE_ALIVE || state == LIFE_DEAD;
        e->alive[side] += state == LIFE_ALIVE;
        if (grown && is_known(growth_height(lives, p, from)) && is_known(growth_height(lives, p, to)))
            gain[side][n[side]++] = (growth_height(lives, p, to) - growth_height(lives, p, from)) / seasons;
    }
    if (e->known[0] < LEAST_SIDE || e->known[1] < LEAST_SIDE)
        return fail(why, OUTCOME_DATA, "Plot %s/%s has fewer than %d plants at the edge or inside it.", lives->site->code,
                    lives->plot->code, LEAST_SIDE);
    enum outcome outcome = OUTCOME_OK;
    for (int side = 0; outcome == OUTCOME_OK && side < 2; side++) {
        e->gain_cm[side] = growth_mean(gain[side], n[side], level);
        outcome = proportion_wilson((double)e->alive[side], (double)e->known[side], level, false, &e->survival[side], why);
    }
    struct test test;
    struct failure none;
    if (n[0] < 2 || n[1] < 2 || welch_difference(gain[0], n[0], gain[1], n[1], level, &e->difference_cm, &test, &none) != OUTCOME_OK)
        e->difference_cm = estimate_unknown();
    return outcome;
}

enum outcome evidence_edge(const struct plot_lives *lives, double strip_m, double level, struct arena *arena, struct edge_growth *out,
                           struct failure *why)
{
    struct shape outline;
    struct edge_growth e = {.lives = lives, .strip_m = strip_m};
    if (lives->n_censuses == 0 || lives->plot->wkb.n == 0)
        return fail(why, OUTCOME_DATA, "Plot %s/%s has no outline or no census.", lives->site->code, lives->plot->code);
    if (!(strip_m > 0))
        return fail(why, OUTCOME_USAGE, "The width of the edge must be above 0 m; it is %g.", strip_m);
    enum outcome outcome = shape_from_wkb(lives->plot->wkb, arena, &outline, why);
    if (outcome == OUTCOME_OK)
        outcome = inside_share(&outline, strip_m, arena, &e.inside_share, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct shape_finder *finder = NULL;
    outcome = shape_finder_new(&outline, &finder, why);
    if (outcome == OUTCOME_OK)
        outcome = sides_fill(finder, &e, level, arena, why);
    shape_finder_free(finder);
    if (outcome == OUTCOME_OK)
        e.sentence = edge_sentence(&e, arena);
    *out = e;
    return outcome;
}

/* ---- canopy ---- */

enum outcome evidence_canopy(const struct plot_lives *lives, struct arena *arena, struct canopy_closure *out, struct failure *why)
{
    (void)arena;
    double area = lives->plot->net_area_m2;
    for (size_t c = lives->n_censuses; c-- > 0;) {
        struct canopy_closure k = {.census = c};
        double sum = 0;
        for (size_t p = 0; p < lives->n_plants; p++) {
            double crown = lives->crowns_cm[p * lives->n_censuses + c];
            k.alive += lives->states[p * lives->n_censuses + c] == LIFE_ALIVE;
            if (!is_known(crown))
                continue;
            k.measured++;
            sum += M_PI / 4 * crown * crown / 1e4;
        }
        if (k.measured < LEAST_CROWNS || !is_known(area) || area <= 0)
            continue;
        double alive = lives->censuses[c].sample ? (double)k.measured : (double)k.alive;
        k.crowns_m2_m2 = sum / (double)k.measured * alive / area;
        k.closed = 1 - exp(-k.crowns_m2_m2);
        *out = k;
        return OUTCOME_OK;
    }
    return fail(why, OUTCOME_DATA, "Plot %s/%s has no census with %d crown widths, or no area.", lives->site->code, lives->plot->code,
                LEAST_CROWNS);
}

/* ---- shade ---- */

enum outcome evidence_shading(const struct plot_lives *a, const struct plot_lives *b, struct arena *arena, struct shading *out,
                              struct failure *why)
{
    struct shape first, second;
    struct shading s = {.shades = false};
    double *heights = arena_array(arena, a->n_plants, sizeof *heights);
    size_t n = 0;
    for (size_t p = 0; a->n_censuses > 0 && p < a->n_plants; p++) {
        double h = a->heights_cm[p * a->n_censuses + a->n_censuses - 1];
        if (is_known(h))
            heights[n++] = h;
    }
    if (n < 3 || a->plot->wkb.n == 0 || b->plot->wkb.n == 0)
        return fail(why, OUTCOME_DATA, "Plots %s and %s have no outlines, or fewer than three heights were measured.", a->plot->code,
                    b->plot->code);
    enum outcome outcome = shape_from_wkb(a->plot->wkb, arena, &first, why);
    if (outcome == OUTCOME_OK)
        outcome = shape_from_wkb(b->plot->wkb, arena, &second, why);
    if (outcome == OUTCOME_OK)
        outcome = shape_distance(&first, &second, &s.gap_m, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    qsort(heights, n, sizeof *heights, up);
    size_t tallest = n / 10 > 3 ? n / 10 : 3;
    s.tallest_m = sum_exactly(heights + n - tallest, tallest) / (double)tallest / 100;
    s.shades = s.tallest_m > s.gap_m;
    *out = s;
    return OUTCOME_OK;
}
