/* SPDX-License-Identifier: GPL-3.0-or-later
 * Treatments in words. Two plots have the same level where the words are the same; what nobody recorded is not known. */
#include "work/treatments.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* What has not happened yet is alike in all plots it has not happened to: the plan is to hold it so. */
static const char NOT_YET[] = "not yet planted";

static const char *density_words(const struct plot *plot, struct arena *arena)
{
    char shown[40];
    if (!is_known(plot->density_m2))
        return NULL;
    number_write(plot->density_m2, shown);
    return arena_print(arena, "%s per m²", shown);
}

static enum outcome preparation_words(struct store *store, const struct plot *plot, struct arena *arena, const char **prepared,
                                      const char **fence, struct failure *why)
{
    struct preparation row;
    *prepared = *fence = NULL;
    if (plot->preparation_id == 0)
        return OUTCOME_OK;
    enum outcome outcome = store_get(store, NOUN_PREPARATION, plot->preparation_id, arena, &row, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    char loosened[64], compost[64], mulch[64];
    number_fixed(row.loosened_depth_m, 2, loosened);
    number_fixed(row.compost_depth_m * 100, 0, compost);
    number_fixed(row.mulch_depth_m * 100, 0, mulch);
    if (is_known(row.loosened_depth_m) && is_known(row.compost_depth_m) && is_known(row.mulch_depth_m))
        *prepared = row.loosened_depth_m + row.compost_depth_m + row.mulch_depth_m == 0
                        ? "none"
                        : arena_print(arena, "loosened %s m, compost %s cm, mulch %s cm", loosened, compost, mulch);
    if (is_known(row.fence_height_m))
        *fence = row.fence_height_m > 0 ? arena_print(arena, "fence %.1f m high", row.fence_height_m) : "no fence";
    return OUTCOME_OK;
}

static int line_compare(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

/* The species and their shares to the nearest tenth, in order of name. */
static enum outcome mix_words(struct store *store, const struct plot *plot, struct arena *arena, const char **out, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0, distinct = 0;
    *out = NULL;
    enum outcome outcome = load_of(store, NOUN_PLANT, "plot_id", plot->id, arena, &rows, &n, why);
    const struct plant *plants = rows;
    const char **names = NULL;
    if (outcome == OUTCOME_OK && n > 0) {
        names = arena_array(arena, n, sizeof *names);
        for (size_t i = 0; i < n; i++)
            if (plants[i].origin == ORIGIN_FIRST_PLANTING)
                names[distinct++] = plants[i].species;
    } else if (outcome == OUTCOME_OK) {
        struct plan plan;
        struct failure none;
        if (load_plan(store, plot, 0, arena, &plan, &none) != OUTCOME_OK)
            return OUTCOME_OK;
        outcome = load_of(store, NOUN_MIX_LINE, "plan_id", plan.id, arena, &rows, &n, why);
        names = arena_array(arena, n, sizeof *names);
        for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++)
            if (((struct mix_line *)rows)[i].plants > 0)
                names[distinct++] = ((struct mix_line *)rows)[i].species;
    }
    if (outcome != OUTCOME_OK || distinct == 0)
        return outcome;
    qsort(names, distinct, sizeof *names, line_compare);
    struct text words = {0};
    size_t species = 0;
    for (size_t i = 0; i < distinct; i++)
        if (i == 0 || !text_same(names[i], names[i - 1]))
            text_print(&words, "%s%s", species++ > 0 ? ", " : "", names[i]);
    *out = arena_print(arena, "%zu species: %s", species, text_get(&words));
    text_free(&words);
    return OUTCOME_OK;
}

/* Litres per square metre given in all, from the care ledger. */
static enum outcome water_words(struct store *store, const struct plot *plot, struct arena *arena, const char **out, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0, times = 0;
    double litres = 0;
    bool known = true;
    *out = NULL;
    enum outcome outcome = load_of(store, NOUN_CARE_EVENT, "plot_id", plot->id, arena, &rows, &n, why);
    const struct care_event *events = rows;
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        if (events[i].kind != CARE_KIND_WATERING || events[i].state == DONE_STATE_SKIPPED)
            continue;
        times++;
        known = known && is_known(events[i].litres_m2);
        litres += is_known(events[i].litres_m2) ? events[i].litres_m2 : 0;
    }
    if (outcome == OUTCOME_OK && n > 0)
        *out = times == 0 ? "not watered"
               : known ? arena_print(arena, "watered %s, %.0f L/m² in all", times == 1 ? "once" : arena_print(arena, "%zu times", times),
                                     litres)
                       : arena_print(arena, "watered %zu times", times);
    return outcome;
}

/* ---- stock: form, size, supplier and batch of every species, from the plants themselves or from the order ---- */

/// What is known of the plants of one species.
struct stock_line {
    const char *species;
    enum stock_form form;
    const char *size_cm, *nursery, *batch; ///< NULL: not told
    int32_t ordered_on;                    ///< DATE_UNKNOWN: told by the plants, not by an order
};
/// Plots whose plants are of the same stock, species by species.
struct stock_group {
    struct stock_line *lines;
    size_t n, room;
    const char *words;
};

/* The newest order line of a species; where another was taken in its place, the line it came for. */
static const struct order_line *order_of(const struct order_line *orders, size_t n, const struct delivery_line *came, size_t n_came,
                                         const char *species)
{
    const struct order_line *best = NULL;
    for (size_t i = 0; i < n; i++) {
        bool meant = text_same(orders[i].species, species);
        for (size_t j = 0; j < n_came && !meant; j++)
            meant = came[j].order_line_id == orders[i].id && came[j].state == DELIVERY_STATE_ACCEPTED &&
                    text_same(came[j].offered_species, species);
        if (meant && (best == NULL || orders[i].ordered_on >= best->ordered_on))
            best = &orders[i];
    }
    return best;
}

static bool stock_told(const struct stock_line *line)
{
    /* one line of one order is one stock, whatever else was written on it */
    return line->form != STOCK_FORM_UNKNOWN || line->size_cm != NULL || line->nursery != NULL || line->batch != NULL ||
           line->ordered_on != DATE_UNKNOWN;
}

static bool same_or_silent(const char *a, const char *b)
{
    return a == NULL ? b == NULL : text_same(a, b);
}

static bool stock_same(const struct stock_line *a, const struct stock_line *b)
{
    return a->form == b->form && a->ordered_on == b->ordered_on && same_or_silent(a->size_cm, b->size_cm) &&
           same_or_silent(a->nursery, b->nursery) && same_or_silent(a->batch, b->batch);
}

static const struct stock_line *stock_find(const struct stock_group *group, const char *species)
{
    for (size_t i = 0; i < group->n; i++)
        if (text_same(group->lines[i].species, species))
            return &group->lines[i];
    return NULL;
}

static void stock_add(struct stock_group *group, struct stock_line line, struct arena *arena)
{
    if (group->n == group->room) {
        struct stock_line *more = arena_array(arena, group->room * 2 + 8, sizeof *more);
        if (group->n > 0)
            memcpy(more, group->lines, group->n * sizeof *more);
        group->lines = more;
        group->room = group->room * 2 + 8;
    }
    group->lines[group->n++] = line;
}

/* The stock of every species of a plot; `whole` false where one of them is told nowhere. */
static enum outcome plot_stock(struct store *store, const struct plot *plot, const struct order_line *orders, size_t n_orders,
                               const struct delivery_line *came, size_t n_came, struct arena *arena, struct stock_group *out, bool *whole,
                               struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    *whole = true;
    enum outcome outcome = load_of(store, NOUN_PLANT, "plot_id", plot->id, arena, &rows, &n, why);
    const struct plant *plants = rows;
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        if (plants[i].origin != ORIGIN_FIRST_PLANTING)
            continue;
        struct stock_line line = {
            .species = plants[i].species, .form = plants[i].stock, .batch = plants[i].batch, .ordered_on = DATE_UNKNOWN};
        const struct stock_line *known = stock_find(out, line.species);
        if (known != NULL && (plants[i].stock == STOCK_FORM_UNKNOWN && plants[i].batch == NULL))
            continue;
        if (known != NULL && known->form == line.form && same_or_silent(known->batch, line.batch))
            continue;
        const struct order_line *order = order_of(orders, n_orders, came, n_came, line.species);
        if (order != NULL && line.batch == NULL && (line.form == STOCK_FORM_UNKNOWN || line.form == order->stock))
            line = (struct stock_line){line.species, order->stock, order->size_cm, order->nursery, NULL, order->ordered_on};
        if (known == NULL)
            stock_add(out, line, arena);
        else if (!stock_same(known, &line)) /* two batches of one species on one plot */
            ((struct stock_line *)(uintptr_t)known)->batch =
                arena_print(arena, "%s and %s", known->batch == NULL ? "a batch not named" : known->batch,
                            line.batch == NULL ? "a batch not named" : line.batch);
    }
    struct plan plan;
    struct failure none;
    if (outcome == OUTCOME_OK && n == 0 && load_plan(store, plot, 0, arena, &plan, &none) == OUTCOME_OK) {
        outcome = load_of(store, NOUN_MIX_LINE, "plan_id", plan.id, arena, &rows, &n, why);
        for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
            const struct mix_line *mix = &((struct mix_line *)rows)[i];
            const struct order_line *order = order_of(orders, n_orders, came, n_came, mix->species);
            struct stock_line line = {.species = mix->species, .ordered_on = DATE_UNKNOWN};
            if (order != NULL)
                line = (struct stock_line){mix->species, order->stock, order->size_cm, order->nursery, NULL, order->ordered_on};
            if (mix->plants > 0)
                stock_add(out, line, arena);
        }
    }
    for (size_t i = 0; i < out->n; i++)
        *whole = *whole && stock_told(&out->lines[i]);
    *whole = *whole && out->n > 0;
    return outcome;
}

/* "ordered 15 June 2021: bare root 40-60 cm (North Nursery), cell grown 20-40 cm (North Nursery)". */
static const char *stock_words(const struct stock_group *group, struct arena *arena)
{
    struct text text = {0};
    const char *said[12];
    size_t n = 0;
    int32_t day = DATE_UNKNOWN;
    for (size_t i = 0; i < group->n; i++) {
        const struct stock_line *line = &group->lines[i];
        day = line->ordered_on == DATE_UNKNOWN ? day : line->ordered_on;
        const char *form = line->form == STOCK_FORM_UNKNOWN ? "form not told" : word_plain(WORDS_STOCK_FORM, (int)line->form, arena);
        const char *words =
            arena_print(arena, "%s%s%s%s%s%s%s%s%s", form, line->size_cm == NULL ? "" : " ", line->size_cm == NULL ? "" : line->size_cm,
                        line->size_cm == NULL ? "" : " cm", line->nursery == NULL ? "" : " (", line->nursery == NULL ? "" : line->nursery,
                        line->nursery == NULL ? "" : ")", line->batch == NULL ? "" : ", batch ", line->batch == NULL ? "" : line->batch);
        bool there = false;
        for (size_t j = 0; j < n && !there; j++)
            there = text_same(said[j], words);
        if (!there && n < sizeof said / sizeof *said)
            said[n++] = words;
    }
    if (day != DATE_UNKNOWN)
        text_print(&text, "ordered %s: ", day_words(day, arena));
    for (size_t j = 0; j < n; j++)
        text_print(&text, "%s%s", j == 0 ? "" : ", ", said[j]);
    const char *out = arena_text(arena, text_get(&text));
    text_free(&text);
    return out;
}

/* Put a plot with the first group it agrees with in every species they share, and shares one with; else it is a group. */
static struct stock_group *group_of(struct stock_group *groups, size_t *n_groups, const struct stock_group *plot, struct arena *arena)
{
    for (size_t g = 0; g < *n_groups; g++) {
        size_t shared = 0, against = 0;
        for (size_t i = 0; i < plot->n; i++) {
            const struct stock_line *line = stock_find(&groups[g], plot->lines[i].species);
            shared += line != NULL;
            against += line != NULL && !stock_same(line, &plot->lines[i]);
        }
        if (shared == 0 || against > 0)
            continue;
        for (size_t i = 0; i < plot->n; i++)
            if (stock_find(&groups[g], plot->lines[i].species) == NULL)
                stock_add(&groups[g], plot->lines[i], arena);
        return &groups[g];
    }
    groups[*n_groups] = (struct stock_group){.n = 0};
    for (size_t i = 0; i < plot->n; i++)
        stock_add(&groups[*n_groups], plot->lines[i], arena);
    return &groups[(*n_groups)++];
}

/* The level of every plot in words; plots of the same stock have the same words, others never do. */
static enum outcome stock_levels(struct store *store, const struct plot *rows, size_t n, struct trial_plot *plots, struct arena *arena,
                                 struct failure *why)
{
    void *orders = NULL, *came = NULL;
    size_t n_orders = 0, n_came = 0, n_groups = 0;
    struct stock_group *groups = arena_array(arena, n + 1, sizeof *groups), **mine = arena_array(arena, n + 1, sizeof *mine);
    enum outcome outcome = load_all(store, NOUN_ORDER_LINE, arena, &orders, &n_orders, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(store, NOUN_DELIVERY_LINE, arena, &came, &n_came, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        struct stock_group plot = {.n = 0};
        bool whole = false;
        outcome = plot_stock(store, &rows[i], orders, n_orders, came, n_came, arena, &plot, &whole, why);
        if (outcome == OUTCOME_OK && whole)
            mine[i] = group_of(groups, &n_groups, &plot, arena);
    }
    for (size_t g = 0; outcome == OUTCOME_OK && g < n_groups; g++) {
        const char *words = stock_words(&groups[g], arena);
        for (size_t other = 0, same = 1; other < g; other++)
            if (text_same(groups[other].words, words))
                words = arena_print(arena, "%s (other batches, %zu)", stock_words(&groups[g], arena), ++same);
        groups[g].words = words;
    }
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++)
        plots[i].levels[TRIAL_STOCK] = mine[i] != NULL ? mine[i]->words : rows[i].planted_on == DATE_UNKNOWN ? NOT_YET : NULL;
    return outcome;
}

static enum outcome allocation_of(struct store *store, const struct plot *plot, struct arena *arena, enum allocation_method *out,
                                  struct failure *why)
{
    void *members = NULL, *allocations = NULL;
    size_t n = 0, m = 0;
    *out = ALLOCATION_METHOD_UNKNOWN;
    enum outcome outcome = load_of(store, NOUN_COMPARISON_PLOT, "plot_id", plot->id, arena, &members, &n, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        outcome = load_of(store, NOUN_ALLOCATION, "comparison_id", ((struct comparison_plot *)members)[i].comparison_id, arena,
                          &allocations, &m, why);
        if (outcome == OUTCOME_OK && m > 0)
            *out = ((struct allocation *)allocations)[m - 1].method;
    }
    return outcome;
}

enum outcome treatments_load(struct store *store, int64_t site, struct arena *arena, struct trial_plot **plots, struct plot **rows,
                             size_t *n, struct failure *why)
{
    void *plot_rows = NULL, *site_rows = NULL;
    size_t n_sites = 0;
    enum outcome outcome = site == 0 ? load_all(store, NOUN_PLOT, arena, &plot_rows, n, why)
                                     : load_of(store, NOUN_PLOT, "site_id", site, arena, &plot_rows, n, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(store, NOUN_SITE, arena, &site_rows, &n_sites, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct plot *all = plot_rows;
    struct trial_plot *out = arena_array(arena, *n, sizeof *out);
    for (size_t i = 0; outcome == OUTCOME_OK && i < *n; i++) {
        out[i].code = all[i].code;
        out[i].unplanted = all[i].regime == REGIME_UNPLANTED;
        for (size_t j = 0; j < n_sites; j++)
            if (((struct site *)site_rows)[j].id == all[i].site_id)
                out[i].site = ((struct site *)site_rows)[j].code;
        out[i].levels[TRIAL_DENSITY] = density_words(&all[i], arena);
        outcome = preparation_words(store, &all[i], arena, &out[i].levels[TRIAL_PREPARATION], &out[i].levels[TRIAL_FENCE], why);
        if (outcome == OUTCOME_OK)
            outcome = mix_words(store, &all[i], arena, &out[i].levels[TRIAL_MIX], why);
        if (outcome == OUTCOME_OK)
            outcome = water_words(store, &all[i], arena, &out[i].levels[TRIAL_WATER], why);
        if (outcome == OUTCOME_OK)
            outcome = allocation_of(store, &all[i], arena, &out[i].allocation, why);
        out[i].levels[TRIAL_DATE] = all[i].planted_on == DATE_UNKNOWN ? NOT_YET : day_words(all[i].planted_on, arena);
        if (all[i].planted_on == DATE_UNKNOWN && out[i].levels[TRIAL_WATER] == NULL)
            out[i].levels[TRIAL_WATER] = NOT_YET;
    }
    if (outcome == OUTCOME_OK)
        outcome = stock_levels(store, all, *n, out, arena, why);
    *plots = out;
    *rows = all;
    return outcome;
}
