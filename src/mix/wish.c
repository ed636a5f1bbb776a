/* SPDX-License-Identifier: GPL-3.0-or-later
 * The wishes behind a mix: taken from the settings as whole figures, and put into words again. */
#include "mix/mip.h"
#include <math.h>
#include <string.h>

static const char *const layer_names[LAYER_COUNT] = {"unknown layer", "canopy", "sub-canopy", "shrubs", "climbers", "ground layer"};

/* Shares to whole plants. A range that holds no whole number is widened to the two beside it: within one plant. */
static double plants_least(double share, double total)
{
    return ceil(share * total - 1e-9);
}
static double plants_most(double share, double total)
{
    return floor(share * total + 1e-9);
}

static void wish_add(struct problem *problem, size_t *room, struct arena *arena, struct wish wish)
{
    if (problem->n_wishes == *room) {
        size_t more = *room == 0 ? 64 : 2 * *room;
        struct wish *list = arena_array(arena, more, sizeof *list);
        if (*room > 0)
            memcpy(list, problem->wishes, *room * sizeof *list);
        problem->wishes = list;
        *room = more;
    }
    wish.asked = wish.value;
    wish.yields = wish.plot != SIZE_MAX && (problem->plots[wish.plot].yields & wish_part(&wish)) != 0;
    problem->wishes[problem->n_wishes++] = wish;
}

static enum outcome share_check(double share, const char *what, struct failure *why)
{
    if (!is_known(share) || (share >= 0 && share <= 1))
        return OUTCOME_OK;
    fail(why, OUTCOME_USAGE, "The share of %s is %.4g; it must lie between 0 and 1.", what, share);
    return failure_remedy(why, "Give 0.15 for 15 %%.");
}

static enum outcome range_add(struct problem *problem, size_t *room, struct arena *arena, struct mix_share share, enum wish_kind least,
                              size_t plot, size_t what, const char *name, struct failure *why)
{
    double total = (double)problem->plots[plot].total;
    enum outcome outcome = share_check(share.least, name, why);
    if (outcome == OUTCOME_OK)
        outcome = share_check(share.most, name, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (is_known(share.least) && is_known(share.most) && share.least > share.most)
        return fail(why, OUTCOME_USAGE, "The least share of %s, %.4g, is above its greatest, %.4g.", name, share.least, share.most);
    double low = is_known(share.least) ? plants_least(share.least, total) : 0;
    double high = is_known(share.most) ? plants_most(share.most, total) : total;
    if (low > high) { /* no whole number between: the two beside */
        double spare = low;
        low = high;
        high = spare;
    }
    if (low > 0)
        wish_add(problem, room, arena, (struct wish){.kind = least, .plot = plot, .what = what, .value = low, .end = 0});
    if (high < total)
        wish_add(problem, room, arena, (struct wish){.kind = least + 1, .plot = plot, .what = what, .value = high, .end = total});
    return OUTCOME_OK;
}

static enum outcome cap_add(struct problem *problem, size_t *room, struct arena *arena, double share, enum wish_kind kind, size_t plot,
                            const char *name, struct failure *why)
{
    double total = (double)problem->plots[plot].total;
    enum outcome outcome = share_check(share, name, why);
    if (outcome == OUTCOME_OK && is_known(share) && plants_most(share, total) < total)
        wish_add(problem, room, arena, (struct wish){.kind = kind, .plot = plot, .value = plants_most(share, total), .end = total});
    return outcome;
}

static enum outcome plot_wishes(struct problem *problem, size_t p, size_t *room, struct arena *arena, struct failure *why)
{
    const struct mix_settings *s = &problem->plots[p];
    double total = (double)s->total;
    if (s->total < 1 || s->total > 10000000) {
        fail(why, OUTCOME_USAGE, "A mix of %lld plants cannot be made.", (long long)s->total);
        return failure_remedy(why, "Give the number of plants, or density and area, so that it is at least one.");
    }
    enum outcome outcome = OUTCOME_OK;
    for (int l = 1; l < LAYER_COUNT && outcome == OUTCOME_OK; l++)
        outcome = range_add(problem, room, arena, s->layer[l], WISH_LAYER_LEAST, p, (size_t)l, layer_names[l], why);
    if (outcome == OUTCOME_OK)
        outcome = range_add(problem, room, arena, s->pioneer, WISH_PIONEER_LEAST, p, 0, "pioneers", why);
    const struct {
        double share;
        enum wish_kind kind;
        const char *name;
    } caps[] = {{s->tall_most, WISH_TALL_MOST, "tall trees"},
                {s->species_most, WISH_SPECIES_MOST, "one species"},
                {s->genus_most, WISH_GENUS_MOST, "one genus"},
                {s->family_most, WISH_FAMILY_MOST, "one family"},
                {s->pest_most, WISH_PEST_MOST, "hosts of one pest"}};
    for (size_t i = 0; i < sizeof caps / sizeof *caps && outcome == OUTCOME_OK; i++)
        outcome = cap_add(problem, room, arena, caps[i].share, caps[i].kind, p, caps[i].name, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (s->least_each > 1)
        wish_add(problem, room, arena, (struct wish){.kind = WISH_EACH_LEAST, .plot = p, .value = (double)s->least_each, .end = 1});
    if (s->count_least != INT_UNKNOWN && s->count_least > 0)
        wish_add(problem, room, arena, (struct wish){.kind = WISH_COUNT_LEAST, .plot = p, .value = (double)s->count_least, .end = 0});
    if (s->count_most != INT_UNKNOWN && s->count_most < (int64_t)problem->n)
        wish_add(problem, room, arena,
                 (struct wish){.kind = WISH_COUNT_MOST, .plot = p, .value = (double)s->count_most, .end = (double)problem->n});
    if (is_known(s->budget))
        wish_add(problem, room, arena, (struct wish){.kind = WISH_BUDGET, .plot = p, .value = s->budget, .end = HUGE_VAL});
    for (size_t i = 0; i < s->n_wishes; i++) {
        const struct mix_wish *w = &s->wishes[i];
        if (w->species >= problem->n || (w->least != INT_UNKNOWN && w->least < 0) || (w->most != INT_UNKNOWN && w->most < 0))
            return fail(why, OUTCOME_USAGE, "Wish %zu about one species names none, or a count below nothing.", i + 1);
        if (w->least != INT_UNKNOWN && w->least > 0)
            wish_add(problem, room, arena,
                     (struct wish){.kind = WISH_ONE_LEAST, .plot = p, .what = w->species, .value = (double)w->least, .reason = w->reason});
        if (w->most != INT_UNKNOWN && (double)w->most < total)
            wish_add(
                problem, room, arena,
                (struct wish){
                    .kind = WISH_ONE_MOST, .plot = p, .what = w->species, .value = (double)w->most, .end = total, .reason = w->reason});
    }
    return OUTCOME_OK;
}

enum outcome problem_wishes(struct problem *problem, double budget, struct arena *arena, struct failure *why)
{
    size_t room = 0;
    double all = 0;
    bool priced = is_known(budget);
    problem->wishes = NULL;
    problem->n_wishes = 0;
    for (size_t p = 0; p < problem->n_plots; p++) {
        enum outcome outcome = plot_wishes(problem, p, &room, arena, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        all += (double)problem->plots[p].total;
        priced |= is_known(problem->plots[p].budget);
    }
    for (size_t i = 0; i < problem->n; i++) {
        const struct mix_species *species = &problem->species[i];
        if (species->stock != INT_UNKNOWN && (double)species->stock < all)
            wish_add(problem, &room, arena,
                     (struct wish){.kind = WISH_STOCK, .plot = SIZE_MAX, .what = i, .value = (double)species->stock, .end = all});
        if (priced && !is_known(species->price)) {
            fail(why, OUTCOME_DATA, "A budget is set, but the price of %s is unknown.", species->name);
            return failure_remedy(why, "Give its price, keep it out of the list, or leave the budget open.");
        }
    }
    if (is_known(budget))
        wish_add(problem, &room, arena, (struct wish){.kind = WISH_BUDGET, .plot = SIZE_MAX, .value = budget, .end = HUGE_VAL});
    return OUTCOME_OK;
}

double wish_value(const struct problem *problem, enum wish_kind kind, size_t plot, size_t what, double otherwise)
{
    for (size_t i = 0; i < problem->n_wishes; i++) {
        const struct wish *w = &problem->wishes[i];
        if (w->kind == kind && w->plot == plot && w->what == what && !w->off) {
            /* several wishes about one species: the tighter counts */
            bool least = kind == WISH_ONE_LEAST, most = kind == WISH_ONE_MOST;
            if (!least && !most)
                return w->value;
            if (!is_known(otherwise) || (least && w->value > otherwise) || (most && w->value < otherwise))
                otherwise = w->value;
        }
    }
    return otherwise;
}

/* A count of plants with its share of the total. */
static const char *plants_words(const struct problem *problem, const struct wish *wish, double plants, struct arena *arena)
{
    if (wish->plot == SIZE_MAX)
        return arena_print(arena, "%.0f plants", plants);
    double total = (double)problem->plots[wish->plot].total;
    return arena_print(arena, "%.0f plant%s (%.3g %% of %.0f)", plants, plants == 1 ? "" : "s", 100 * plants / total, total);
}

const char *wish_figure(const struct problem *problem, const struct wish *wish, double figure, struct arena *arena)
{
    switch (wish->kind) {
    case WISH_BUDGET:
        return arena_print(arena, "%.2f", figure);
    case WISH_COUNT_LEAST:
    case WISH_COUNT_MOST:
        return arena_print(arena, "%.0f species", figure);
    case WISH_EACH_LEAST:
        return arena_print(arena, "%.0f plants of each", figure);
    default:
        return plants_words(problem, wish, figure, arena);
    }
}

const char *wish_words(const struct problem *problem, const struct wish *wish, struct arena *arena)
{
    const char *plants = plants_words(problem, wish, wish->asked, arena), *text = NULL;
    const char *name = wish->kind >= WISH_ONE_LEAST ? problem->species[wish->what].name : NULL;
    switch (wish->kind) {
    case WISH_LAYER_LEAST:
        text = arena_print(arena, "%s at least %s", layer_names[wish->what], plants);
        break;
    case WISH_LAYER_MOST:
        text = arena_print(arena, "%s at most %s", layer_names[wish->what], plants);
        break;
    case WISH_PIONEER_LEAST:
        text = arena_print(arena, "pioneers at least %s", plants);
        break;
    case WISH_PIONEER_MOST:
        text = arena_print(arena, "pioneers at most %s", plants);
        break;
    case WISH_TALL_MOST:
        text = arena_print(arena, "tall trees at most %s", plants);
        break;
    case WISH_SPECIES_MOST:
        text = arena_print(arena, "no species over %s", plants);
        break;
    case WISH_GENUS_MOST:
        text = arena_print(arena, "no genus over %s", plants);
        break;
    case WISH_FAMILY_MOST:
        text = arena_print(arena, "no family over %s", plants);
        break;
    case WISH_PEST_MOST:
        text = arena_print(arena, "hosts of one pest at most %s", plants);
        break;
    case WISH_EACH_LEAST:
        text = arena_print(arena, "at least %.0f plants of every species used", wish->asked);
        break;
    case WISH_COUNT_LEAST:
        text = arena_print(arena, "at least %.0f species", wish->asked);
        break;
    case WISH_COUNT_MOST:
        text = arena_print(arena, "at most %.0f species", wish->asked);
        break;
    case WISH_BUDGET:
        text = arena_print(arena, "at most %.2f for plants", wish->asked);
        break;
    case WISH_ONE_LEAST:
        text = arena_print(arena, "at least %.0f of %s", wish->asked, name);
        break;
    case WISH_ONE_MOST:
        text = wish->asked == 0 ? arena_print(arena, "no %s", name) : arena_print(arena, "at most %.0f of %s", wish->asked, name);
        break;
    case WISH_STOCK:
        text = arena_print(arena, "only %.0f of %s to be had", wish->asked, name);
        break;
    }
    if (wish->reason != NULL)
        text = arena_print(arena, "%s (%s)", text, wish->reason);
    if (problem->n_plots > 1 && wish->plot != SIZE_MAX && problem->names != NULL)
        text = arena_print(arena, "%s: %s", problem->names[wish->plot], text);
    else if (problem->n_plots > 1 && wish->plot != SIZE_MAX)
        text = arena_print(arena, "plot %zu: %s", wish->plot + 1, text);
    return text;
}

const char *wish_relax(const struct problem *problem, const struct wish *wish, double enough, struct arena *arena)
{
    if (!is_known(enough))
        return "Relaxing this one alone is not enough.";
    const char *plants = plants_words(problem, wish, enough, arena);
    switch (wish->kind) {
    case WISH_LAYER_LEAST:
    case WISH_PIONEER_LEAST:
        return arena_print(arena, "Lower it to %s.", plants);
    case WISH_SPECIES_MOST: {
        double total = (double)problem->plots[wish->plot].total;
        const char *raise = arena_print(arena, "Raise it to %s", plants);
        return wish->asked > 0 ? arena_print(arena, "%s, or offer more species: at this cap %.0f plants need at least %.0f.", raise, total,
                                             ceil(total / wish->asked))
                               : arena_print(arena, "%s.", raise);
    }
    case WISH_EACH_LEAST:
        return arena_print(arena, "Lower it to %.0f plants.", enough);
    case WISH_COUNT_LEAST:
        return arena_print(arena, "Lower it to %.0f species.", enough);
    case WISH_COUNT_MOST:
        return arena_print(arena, "Raise it to %.0f species.", enough);
    case WISH_BUDGET:
        return arena_print(arena, "Raise it to %.2f.", enough);
    case WISH_ONE_LEAST:
        return enough == 0 ? "Do without it." : arena_print(arena, "Lower it to %.0f.", enough);
    case WISH_STOCK:
        return arena_print(arena, "Find %.0f.", enough);
    default:
        return arena_print(arena, "Raise it to %s.", plants);
    }
}
