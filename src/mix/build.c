/* SPDX-License-Identifier: GPL-3.0-or-later
 * From wishes to a mixed-integer programme.
 *
 * For each species a count n = L·y + s₁ + s₂ + …, where y says whether it is used, L is its least count if used and the
 * s are pieces of a convex cost between whole numbers, each at most its length times y. That is the convex hull for one
 * species, so the relaxation is tight and the search short (docs/methods/mix.md). */
#include "mix/mip.h"
#include <float.h>
#include <math.h>
#include <string.h>

/* ---- growing arrays ---- */

static void *grown(struct arena *arena, const void *old, size_t n, size_t room, size_t size)
{
    void *more = arena_array(arena, room, size);
    if (n > 0)
        memcpy(more, old, n * size);
    return more;
}

size_t mip_col(struct mip *g, struct arena *arena, double low, double high, double cost, bool whole)
{
    if (g->n_cols == g->cols_room) {
        g->cols_room = g->cols_room == 0 ? 512 : 2 * g->cols_room;
        g->low = grown(arena, g->low, g->n_cols, g->cols_room, sizeof *g->low);
        g->high = grown(arena, g->high, g->n_cols, g->cols_room, sizeof *g->high);
        g->cost = grown(arena, g->cost, g->n_cols, g->cols_room, sizeof *g->cost);
        g->whole = grown(arena, g->whole, g->n_cols, g->cols_room, sizeof *g->whole);
    }
    g->low[g->n_cols] = low;
    g->high[g->n_cols] = high;
    g->cost[g->n_cols] = cost;
    g->whole[g->n_cols] = whole;
    g->impossible |= low > high;
    return g->n_cols++;
}

size_t mip_row(struct mip *g, struct arena *arena, double low, double high)
{
    if (g->n_rows == g->rows_room) {
        g->rows_room = g->rows_room == 0 ? 512 : 2 * g->rows_room;
        g->row_low = grown(arena, g->row_low, g->n_rows, g->rows_room, sizeof *g->row_low);
        g->row_high = grown(arena, g->row_high, g->n_rows, g->rows_room, sizeof *g->row_high);
    }
    g->row_low[g->n_rows] = low;
    g->row_high[g->n_rows] = high;
    g->impossible |= low > high;
    return g->n_rows++;
}

void mip_term(struct mip *g, struct arena *arena, size_t row, size_t col, double value)
{
    if (g->n_terms == g->terms_room) {
        g->terms_room = g->terms_room == 0 ? 2048 : 2 * g->terms_room;
        g->term_row = grown(arena, g->term_row, g->n_terms, g->terms_room, sizeof *g->term_row);
        g->term_col = grown(arena, g->term_col, g->n_terms, g->terms_room, sizeof *g->term_col);
        g->term = grown(arena, g->term, g->n_terms, g->terms_room, sizeof *g->term);
    }
    g->term_row[g->n_terms] = row;
    g->term_col[g->n_terms] = col;
    g->term[g->n_terms++] = value;
}

/* ---- what a count costs ---- */

/// Bounds of one species on one plot.
struct bounds {
    double least, most; ///< if used
    bool must;          ///< it has to be used
    bool none;          ///< it cannot be
    bool contradict;    ///< it has to and cannot
};

static double cap(const struct problem *problem, enum wish_kind kind, size_t p, size_t what)
{
    return wish_value(problem, kind, p, what, HUGE_VAL);
}

static struct bounds species_bounds(const struct problem *problem, size_t p, size_t i)
{
    const struct mix_species *s = &problem->species[i];
    double most = (double)problem->plots[p].total;
    most = fmin(most, cap(problem, WISH_SPECIES_MOST, p, 0));
    most = fmin(most, cap(problem, WISH_LAYER_MOST, p, (size_t)s->layer));
    if (s->role == ROLE_PIONEER)
        most = fmin(most, cap(problem, WISH_PIONEER_MOST, p, 0));
    if (s->tall)
        most = fmin(most, cap(problem, WISH_TALL_MOST, p, 0));
    if (s->genus != NULL)
        most = fmin(most, cap(problem, WISH_GENUS_MOST, p, 0));
    if (s->family != NULL)
        most = fmin(most, cap(problem, WISH_FAMILY_MOST, p, 0));
    if (s->n_pests > 0)
        most = fmin(most, cap(problem, WISH_PEST_MOST, p, 0));
    most = fmin(most, cap(problem, WISH_STOCK, SIZE_MAX, i));
    if (s->health_stop != NULL || (problem->absent != NULL && problem->absent[p * problem->n + i]))
        most = 0;
    double own = cap(problem, WISH_ONE_MOST, p, i), least = wish_value(problem, WISH_ONE_LEAST, p, i, 0);
    double each = wish_value(problem, WISH_EACH_LEAST, p, 0, 1);
    if (own < each) /* few were asked for by name: the rule of the least count gives way */
        each = 1;
    struct bounds b = {.least = fmax(least, each), .most = floor(fmin(most, own)), .must = least > 0};
    b.none = b.most < b.least;
    b.contradict = b.must && b.none;
    return b;
}

/* Value of n plants of a species, constant parts included. */
static double value_of(const struct problem *problem, size_t p, size_t i, double n)
{
    const struct mix_settings *w = &problem->plots[p];
    const struct mix_species *s = &problem->species[i];
    double target = problem->target == NULL ? unknown_real() : problem->target[p * problem->n + i], value = 0;
    if (is_known(target))
        value += w->weight_target * fabs(n - target);
    double fit = problem->fit == NULL ? s->fit : problem->fit[p * problem->n + i];
    value -= w->weight_fit * (is_known(fit) ? fit : 0.5) * n;
    if (is_known(s->price))
        value += w->weight_price * s->price * n;
    return value;
}
/* The diversity term is exact at breakpoints and linear between them. */
static double spread_of(const struct problem *problem, size_t p, double n)
{
    const struct mix_settings *w = &problem->plots[p];
    return n <= 0 ? 0 : w->weight_diversity * n * log(n / (double)w->total);
}

enum { MOST_POINTS = 256 };

/* Whole numbers between which the cost is linear: close together where the curve bends most. */
static size_t points_make(const struct problem *problem, size_t p, size_t i, double least, double most, double points[MOST_POINTS])
{
    double target = problem->target == NULL ? unknown_real() : problem->target[p * problem->n + i];
    const double kinks[] = {is_known(target) ? floor(target) : most, is_known(target) ? ceil(target) : most};
    bool curved = problem->plots[p].weight_diversity > 0;
    size_t n = 0;
    points[n++] = least;
    while (points[n - 1] < most && n < MOST_POINTS - 1) {
        double at = points[n - 1], next = !curved ? most : at < 20 ? at + 1 : at + floor(0.5 * sqrt(at));
        if (n >= MOST_POINTS - 8)
            next = most;
        for (size_t k = 0; k < 2; k++)
            if (kinks[k] > at && kinks[k] < next)
                next = kinks[k];
        points[n++] = fmin(next, most);
    }
    return n;
}

static double cost_at(const struct problem *problem, size_t p, size_t i, double n, const double *points, size_t n_points)
{
    double spread = 0;
    if (n > 0 && n_points > 0) {
        size_t k = 1;
        while (k + 1 < n_points && points[k] < n)
            k++;
        if (n_points == 1 || n <= points[0])
            spread = spread_of(problem, p, n);
        else {
            double a = points[k - 1], b = points[k], part = (n - a) / (b - a);
            spread = spread_of(problem, p, a) * (1 - part) + spread_of(problem, p, b) * part;
        }
    }
    return value_of(problem, p, i, n) + spread;
}

/* ---- one species on one plot ---- */

/// Columns of a plot that rows over species need.
struct plot_cols {
    size_t *plants, *used; ///< SIZE_MAX: none; used SIZE_MAX with a count column: always used or not needed
    size_t always;         ///< species that are used in any case
    bool counts;           ///< the number of species matters
};

static void pieces_add(struct mip *g, const struct problem *problem, size_t p, size_t i, const struct bounds *b, size_t used, size_t plants,
                       struct arena *arena)
{
    double points[MOST_POINTS];
    double least = used == SIZE_MAX && !b->must ? 0 : b->least;
    size_t n = points_make(problem, p, i, least, b->most, points);
    double none = value_of(problem, p, i, 0), first = cost_at(problem, p, i, least, points, n);
    g->constant += used == SIZE_MAX ? first : none;
    if (used != SIZE_MAX)
        g->cost[used] = first - none;
    size_t row = mip_row(g, arena, used == SIZE_MAX ? least : 0, used == SIZE_MAX ? least : 0);
    mip_term(g, arena, row, plants, 1);
    if (used != SIZE_MAX)
        mip_term(g, arena, row, used, -least);
    for (size_t k = 1; k < n;) {
        double slope =
            (cost_at(problem, p, i, points[k], points, n) - cost_at(problem, p, i, points[k - 1], points, n)) / (points[k] - points[k - 1]);
        size_t from = k++;
        /* one piece as long as the slope stays */
        while (k < n && fabs((cost_at(problem, p, i, points[k], points, n) - cost_at(problem, p, i, points[k - 1], points, n)) /
                                 (points[k] - points[k - 1]) -
                             slope) < 1e-12)
            k++;
        double length = points[k - 1] - points[from - 1];
        size_t piece = mip_col(g, arena, 0, length, slope, false);
        mip_term(g, arena, row, piece, -1);
        if (used != SIZE_MAX) {
            size_t tie = mip_row(g, arena, -DBL_MAX, 0);
            mip_term(g, arena, tie, piece, 1);
            mip_term(g, arena, tie, used, -length);
        }
    }
}

static void species_add(struct mip *g, const struct problem *problem, size_t p, size_t i, struct plot_cols *cols, bool only_possible,
                        struct arena *arena)
{
    struct bounds b = species_bounds(problem, p, i);
    g->impossible |= b.contradict;
    cols->plants[i] = cols->used[i] = SIZE_MAX;
    if (b.none) {
        if (!only_possible)
            g->constant += value_of(problem, p, i, 0);
        return;
    }
    bool choice = !b.must && (b.least > 1 || cols->counts);
    cols->plants[i] = mip_col(g, arena, b.must ? b.least : 0, b.most, 0, true);
    cols->always += b.must;
    if (choice)
        cols->used[i] = mip_col(g, arena, 0, 1, 0, true);
    if (!only_possible) {
        pieces_add(g, problem, p, i, &b, cols->used[i], cols->plants[i], arena);
    } else if (choice) {
        size_t row = mip_row(g, arena, 0, DBL_MAX);
        mip_term(g, arena, row, cols->plants[i], 1);
        mip_term(g, arena, row, cols->used[i], -b.least);
        row = mip_row(g, arena, -DBL_MAX, 0);
        mip_term(g, arena, row, cols->plants[i], 1);
        mip_term(g, arena, row, cols->used[i], -b.most);
    }
}

/* ---- rows over species ---- */

struct building {
    struct mip *g;
    const struct problem *problem;
    const struct plot_cols *cols;
    size_t p;
    struct arena *arena;
};

typedef bool member_of(const struct mix_species *s, const void *what);
static bool in_layer(const struct mix_species *s, const void *what)
{
    return s->layer == *(const enum layer *)what;
}
static bool in_pioneers(const struct mix_species *s, const void *what)
{
    (void)what;
    return s->role == ROLE_PIONEER;
}
static bool in_tall(const struct mix_species *s, const void *what)
{
    (void)what;
    return s->tall;
}
static bool in_genus(const struct mix_species *s, const void *what)
{
    return text_same(s->genus, what);
}
static bool in_family(const struct mix_species *s, const void *what)
{
    return text_same(s->family, what);
}
static bool in_pest(const struct mix_species *s, const void *what)
{
    for (size_t i = 0; i < s->n_pests; i++)
        if (text_same(s->pests[i], what))
            return true;
    return false;
}
static bool in_all(const struct mix_species *s, const void *what)
{
    (void)s;
    (void)what;
    return true;
}

static void sum_row(const struct building *b, member_of *member, const void *what, double low, double high)
{
    double most = 0;
    size_t members = 0;
    for (size_t i = 0; i < b->problem->n; i++)
        if (member(&b->problem->species[i], what) && b->cols->plants[i] != SIZE_MAX) {
            most += b->g->high[b->cols->plants[i]];
            members++;
        }
    if (most < low)
        b->g->impossible = true;
    if (members == 0 || (low <= 0 && most <= high))
        return;
    size_t row = mip_row(b->g, b->arena, low <= 0 ? -DBL_MAX : low, high >= most ? DBL_MAX : high);
    for (size_t i = 0; i < b->problem->n; i++)
        if (member(&b->problem->species[i], what) && b->cols->plants[i] != SIZE_MAX)
            mip_term(b->g, b->arena, row, b->cols->plants[i], 1);
}

/* Caps of genera, families and pests: one row for each name that at least two species share. */
static void named_rows(const struct building *b, member_of *member, enum wish_kind kind)
{
    const struct problem *problem = b->problem;
    double high = wish_value(problem, kind, b->p, 0, HUGE_VAL);
    if (high == HUGE_VAL)
        return;
    for (size_t i = 0; i < problem->n; i++) {
        const struct mix_species *s = &problem->species[i];
        size_t names = kind == WISH_PEST_MOST ? s->n_pests : 1;
        for (size_t k = 0; k < names; k++) {
            const char *name = kind == WISH_PEST_MOST ? s->pests[k] : kind == WISH_GENUS_MOST ? s->genus : s->family;
            bool had = name == NULL;
            for (size_t j = 0; j < i && !had; j++)
                had = member(&problem->species[j], name);
            for (size_t j = 0; j < k && !had; j++)
                had = text_same(s->pests[j], name);
            if (!had)
                sum_row(b, member, name, 0, high);
        }
    }
}

static void count_row(const struct building *b, double low, double high)
{
    size_t choices = 0;
    for (size_t i = 0; i < b->problem->n; i++)
        choices += b->cols->used[i] != SIZE_MAX;
    low -= (double)b->cols->always;
    high -= (double)b->cols->always;
    if (low > (double)choices || high < 0) {
        b->g->impossible = true;
        return;
    }
    if (choices == 0)
        return;
    size_t row = mip_row(b->g, b->arena, low <= 0 ? -DBL_MAX : low, high == HUGE_VAL ? DBL_MAX : high);
    for (size_t i = 0; i < b->problem->n; i++)
        if (b->cols->used[i] != SIZE_MAX)
            mip_term(b->g, b->arena, row, b->cols->used[i], 1);
}

static void budget_row(const struct building *b, double money)
{
    size_t row = mip_row(b->g, b->arena, -DBL_MAX, money);
    for (size_t i = 0; i < b->problem->n; i++)
        if (b->cols->plants[i] != SIZE_MAX)
            mip_term(b->g, b->arena, row, b->cols->plants[i], b->problem->species[i].price);
}

static void plot_add(struct mip *g, const struct problem *problem, size_t p, bool only_possible, struct arena *arena)
{
    double low = wish_value(problem, WISH_COUNT_LEAST, p, 0, 0), high = wish_value(problem, WISH_COUNT_MOST, p, 0, HUGE_VAL);
    struct plot_cols cols = {.plants = &g->plants_col[p * problem->n], .counts = low > 0 || high < HUGE_VAL};
    cols.used = arena_array(arena, problem->n, sizeof *cols.used);
    for (size_t i = 0; i < problem->n; i++)
        species_add(g, problem, p, i, &cols, only_possible, arena);
    struct building b = {g, problem, &cols, p, arena};
    double total = (double)problem->plots[p].total;
    /* the total always, even where the bounds alone would hold it */
    size_t row = mip_row(g, arena, total, total);
    for (size_t i = 0; i < problem->n; i++)
        if (cols.plants[i] != SIZE_MAX)
            mip_term(g, arena, row, cols.plants[i], 1);
    sum_row(&b, in_all, NULL, total, HUGE_VAL); /* only marks what cannot be */
    for (enum layer l = LAYER_CANOPY; l < LAYER_COUNT; l++)
        sum_row(&b, in_layer, &l, wish_value(problem, WISH_LAYER_LEAST, p, (size_t)l, 0), cap(problem, WISH_LAYER_MOST, p, (size_t)l));
    sum_row(&b, in_pioneers, NULL, wish_value(problem, WISH_PIONEER_LEAST, p, 0, 0), cap(problem, WISH_PIONEER_MOST, p, 0));
    sum_row(&b, in_tall, NULL, 0, cap(problem, WISH_TALL_MOST, p, 0));
    named_rows(&b, in_genus, WISH_GENUS_MOST);
    named_rows(&b, in_family, WISH_FAMILY_MOST);
    named_rows(&b, in_pest, WISH_PEST_MOST);
    if (cols.counts)
        count_row(&b, low, high);
    double money = cap(problem, WISH_BUDGET, p, 0);
    if (money < HUGE_VAL)
        budget_row(&b, money);
}

/* What the plots share: stock, bundles, one purse. */
static void shared_add(struct mip *g, const struct problem *problem, bool only_possible, struct arena *arena)
{
    double money = wish_value(problem, WISH_BUDGET, SIZE_MAX, 0, HUGE_VAL);
    size_t purse = money < HUGE_VAL ? mip_row(g, arena, -DBL_MAX, money) : SIZE_MAX;
    for (size_t i = 0; i < problem->n; i++) {
        double stock = wish_value(problem, WISH_STOCK, SIZE_MAX, i, HUGE_VAL), most = 0;
        double bundle = problem->bundle == NULL || problem->bundle[i] < 1 ? 1 : (double)problem->bundle[i];
        for (size_t p = 0; p < problem->n_plots; p++)
            if (g->plants_col[p * problem->n + i] != SIZE_MAX)
                most += g->high[g->plants_col[p * problem->n + i]];
        if (most <= 0)
            continue;
        size_t ordered = SIZE_MAX;
        if (bundle > 1) {
            double bundles = fmin(ceil(most / bundle), floor(stock / bundle));
            /* surplus = bundle × bundles − plants */
            ordered = mip_col(g, arena, 0, bundles, only_possible ? 0 : problem->surplus * bundle, true);
            g->bundles_col[i] = ordered;
            size_t row = mip_row(g, arena, 0, bundle - 1);
            mip_term(g, arena, row, ordered, bundle);
            for (size_t p = 0; p < problem->n_plots; p++)
                if (g->plants_col[p * problem->n + i] != SIZE_MAX) {
                    mip_term(g, arena, row, g->plants_col[p * problem->n + i], -1);
                    if (!only_possible)
                        g->cost[g->plants_col[p * problem->n + i]] -= problem->surplus;
                }
        } else if (most > stock) {
            size_t row = mip_row(g, arena, -DBL_MAX, stock);
            for (size_t p = 0; p < problem->n_plots; p++)
                if (g->plants_col[p * problem->n + i] != SIZE_MAX)
                    mip_term(g, arena, row, g->plants_col[p * problem->n + i], 1);
        }
        if (purse == SIZE_MAX)
            continue;
        if (ordered != SIZE_MAX)
            mip_term(g, arena, purse, ordered, bundle * problem->species[i].price);
        else
            for (size_t p = 0; p < problem->n_plots; p++)
                if (g->plants_col[p * problem->n + i] != SIZE_MAX)
                    mip_term(g, arena, purse, g->plants_col[p * problem->n + i], problem->species[i].price);
    }
}

struct mip *mip_build(const struct problem *problem, bool only_possible, struct arena *arena)
{
    struct mip *g = arena_alloc(arena, sizeof *g);
    g->plants_col = arena_array(arena, problem->n_plots * problem->n, sizeof *g->plants_col);
    g->bundles_col = arena_array(arena, problem->n, sizeof *g->bundles_col);
    for (size_t i = 0; i < problem->n; i++)
        g->bundles_col[i] = SIZE_MAX;
    for (size_t p = 0; p < problem->n_plots; p++)
        plot_add(g, problem, p, only_possible, arena);
    shared_add(g, problem, only_possible, arena);
    return g;
}

double problem_value(const struct problem *problem, const int64_t *plants, const int64_t *ordered)
{
    double value = 0;
    for (size_t p = 0; p < problem->n_plots; p++)
        for (size_t i = 0; i < problem->n; i++) {
            struct bounds b = species_bounds(problem, p, i);
            double counts =
                wish_value(problem, WISH_COUNT_LEAST, p, 0, 0) + (wish_value(problem, WISH_COUNT_MOST, p, 0, HUGE_VAL) < HUGE_VAL ? 1 : 0);
            bool choice = !b.must && (b.least > 1 || counts > 0);
            double points[MOST_POINTS], n = (double)plants[p * problem->n + i];
            size_t n_points = b.none ? 0 : points_make(problem, p, i, !choice && !b.must ? 0 : b.least, b.most, points);
            value += cost_at(problem, p, i, n, points, n_points);
        }
    if (problem->bundle != NULL && ordered != NULL)
        for (size_t i = 0; i < problem->n; i++) {
            if (problem->bundle[i] <= 1)
                continue;
            int64_t planted = 0;
            for (size_t p = 0; p < problem->n_plots; p++)
                planted += plants[p * problem->n + i];
            value += problem->surplus * (double)(ordered[i] - planted);
        }
    return value;
}
