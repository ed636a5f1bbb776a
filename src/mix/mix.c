/* SPDX-License-Identifier: GPL-3.0-or-later
 * The face of mix/: settings, targets, solving one plot or several, and checking an answer against every wish. */
#include "mix/mip.h"
#include <math.h>
#include <string.h>

static struct mix_share share(double least, double most)
{
    return (struct mix_share){least, most};
}

struct mix_settings mix_settings_dense(int64_t total)
{
    double u = unknown_real();
    struct mix_settings s = {.total = total,
                             .pioneer = share(0.15, 0.30),
                             .tall_most = 0.20,
                             .species_most = 0.15,
                             .genus_most = 0.20,
                             .family_most = u,
                             .pest_most = u,
                             .least_each = total >= 100 ? 10 : 1,
                             .count_least = INT_UNKNOWN,
                             .count_most = 30,
                             .budget = u,
                             .weight_target = 1,
                             .weight_fit = 0.5,
                             .weight_diversity = 0.2,
                             .weight_price = 0,
                             .seconds = 10};
    for (int l = 0; l < LAYER_COUNT; l++)
        s.layer[l] = share(u, u);
    s.layer[LAYER_CANOPY] = share(0.35, 0.50);
    s.layer[LAYER_SUBCANOPY] = share(0.25, 0.30);
    s.layer[LAYER_SHRUB] = share(0.20, 0.35);
    return s;
}

int64_t mix_total(double density_m2, double area_m2)
{
    double plants = density_m2 * area_m2;
    return !(plants > 0) || plants > 1e12 ? 0 : (int64_t)floor(plants + 0.5);
}

double mix_shannon(const int64_t *plants, size_t n)
{
    double total = 0, h = 0;
    for (size_t i = 0; i < n; i++)
        total += (double)plants[i];
    if (total <= 0)
        return unknown_real();
    for (size_t i = 0; i < n; i++)
        if (plants[i] > 0)
            h -= (double)plants[i] / total * log((double)plants[i] / total);
    return h;
}

/* Middle of a layer's range; NaN where it is open at both ends. */
static double middle(struct mix_share s)
{
    if (!is_known(s.least) && !is_known(s.most))
        return unknown_real();
    return ((is_known(s.least) ? s.least : 0) + (is_known(s.most) ? s.most : 1)) / 2;
}

double *plot_target(const struct mix_species *species, size_t n, const struct mix_settings *settings, struct arena *arena)
{
    double weight[LAYER_COUNT] = {0}, shares[LAYER_COUNT] = {0}, all_weight = 0, all_shares = 0,
           *target = arena_array(arena, n, sizeof *target);
    bool open = false;
    for (size_t i = 0; i < n; i++)
        if (is_known(species[i].frequency) && species[i].frequency > 0)
            weight[species[i].layer] += species[i].frequency;
    for (int l = 0; l < LAYER_COUNT; l++) {
        if (weight[l] <= 0)
            continue;
        shares[l] = middle(settings->layer[l]);
        open |= !is_known(shares[l]);
        all_weight += weight[l];
        all_shares += is_known(shares[l]) ? shares[l] : 0;
    }
    for (size_t i = 0; i < n; i++) {
        double f = species[i].frequency;
        enum layer l = species[i].layer;
        if (!is_known(f) || all_weight <= 0)
            target[i] = unknown_real();
        else if (f <= 0)
            target[i] = 0;
        else if (open || all_shares <= 0) /* no shares to go by: the community's own */
            target[i] = (double)settings->total * f / all_weight;
        else
            target[i] = (double)settings->total * shares[l] / all_shares * f / weight[l];
    }
    return target;
}

static enum outcome species_check(const struct mix_species *species, size_t n, struct failure *why)
{
    if (n == 0) {
        fail(why, OUTCOME_DATA, "There is no species to make a mix of.");
        return failure_remedy(why, "Choose a reference community, or put species on the list.");
    }
    if (n > 5000)
        return fail(why, OUTCOME_USAGE, "A list of %zu species is too long for a mix; 5,000 are the most.", n);
    for (size_t i = 0; i < n; i++) {
        const struct mix_species *s = &species[i];
        if (text_blank(s->name))
            return fail(why, OUTCOME_DATA, "Species %zu has no name.", i + 1);
        if (s->layer < LAYER_UNKNOWN || s->layer >= LAYER_COUNT || (is_known(s->fit) && (s->fit < 0 || s->fit > 1)) ||
            (is_known(s->frequency) && s->frequency < 0) || (is_known(s->price) && s->price < 0) ||
            (s->stock != INT_UNKNOWN && s->stock < 0))
            return fail(why, OUTCOME_DATA, "%s has a figure outside its range (fit 0 to 1; frequency, price and stock not below 0).",
                        s->name);
        for (size_t k = 0; k < i; k++)
            if (strcmp(species[k].name, s->name) == 0)
                return fail(why, OUTCOME_DATA, "%s stands on the list twice.", s->name);
    }
    return OUTCOME_OK;
}

enum outcome mix_solve_joint(const struct mix_species *species, size_t n, const struct mix_joint *joint, struct arena *arena,
                             const struct progress *progress, struct mix_result *out, struct failure *why)
{
    enum outcome outcome = species_check(species, n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (joint->n_plots == 0 || joint->n_plots > 1000)
        return fail(why, OUTCOME_USAGE, "A joint mix needs 1 to 1,000 plots, not %zu.", joint->n_plots);
    double *target = arena_array(arena, joint->n_plots * n, sizeof *target);
    struct mix_species *here = arena_array(arena, n, sizeof *here);
    memcpy(here, species, n * sizeof *here);
    for (size_t p = 0; p < joint->n_plots; p++) {
        for (size_t i = 0; i < n && joint->frequency != NULL; i++)
            here[i].frequency = joint->frequency[p * n + i];
        memcpy(target + p * n, plot_target(here, n, &joint->plots[p], arena), n * sizeof *target);
    }
    struct problem problem = {.species = species,
                              .n = n,
                              .plots = joint->plots,
                              .n_plots = joint->n_plots,
                              .bundle = joint->bundle,
                              .surplus = is_known(joint->weight_surplus) ? joint->weight_surplus : 0.2,
                              .target = target,
                              .fit = joint->fit,
                              .absent = joint->absent,
                              .names = joint->names,
                              .seconds = joint->seconds > 0 ? joint->seconds : 10,
                              .gap = joint->plots[0].gap > 0 ? joint->plots[0].gap : 0,
                              .progress = progress};
    outcome = problem_wishes(&problem, joint->budget, arena, why);
    return outcome == OUTCOME_OK ? problem_solve(&problem, arena, out, why) : outcome;
}

enum outcome mix_solve(const struct mix_species *species, size_t n, const struct mix_settings *settings, struct arena *arena,
                       const struct progress *progress, struct mix_result *out, struct failure *why)
{
    struct mix_joint one = {
        .plots = settings, .n_plots = 1, .budget = unknown_real(), .weight_surplus = unknown_real(), .seconds = settings->seconds};
    return mix_solve_joint(species, n, &one, arena, progress, out, why);
}

enum outcome mix_write_mps(const struct mix_species *species, size_t n, const struct mix_settings *settings, struct arena *arena,
                           char **out, struct failure *why)
{
    enum outcome outcome = species_check(species, n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct problem problem = {
        .species = species, .n = n, .plots = settings, .n_plots = 1, .target = plot_target(species, n, settings, arena), .surplus = 0.2};
    outcome = problem_wishes(&problem, unknown_real(), arena, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    const struct mip *g = mip_build(&problem, false, arena);
    if (g->impossible)
        return fail(why, OUTCOME_DATA, "The wishes contradict each other before any solving; there is no programme to write.");
    *out = mip_mps(g, arena);
    return OUTCOME_OK;
}

/* ---- an answer against every wish, without the programme ---- */

static bool has_pest(const struct mix_species *s, const char *pest)
{
    for (size_t k = 0; k < s->n_pests; k++)
        if (text_same(s->pests[k], pest))
            return true;
    return false;
}

/* Largest sum over species that share a name. */
static double largest(const struct problem *problem, const int64_t *plants, enum wish_kind kind)
{
    double most = 0;
    for (size_t i = 0; i < problem->n; i++) {
        const struct mix_species *s = &problem->species[i];
        size_t names = kind == WISH_PEST_MOST ? s->n_pests : 1;
        for (size_t k = 0; k < names; k++) {
            const char *name = kind == WISH_PEST_MOST ? s->pests[k] : kind == WISH_GENUS_MOST ? s->genus : s->family;
            double sum = 0;
            for (size_t j = 0; j < problem->n && name != NULL; j++) {
                const struct mix_species *t = &problem->species[j];
                if (kind == WISH_PEST_MOST ? has_pest(t, name) : text_same(kind == WISH_GENUS_MOST ? t->genus : t->family, name))
                    sum += (double)plants[j];
            }
            most = fmax(most, sum);
        }
    }
    return most;
}

static bool wish_met(const struct problem *problem, const struct wish *w, const int64_t *all)
{
    const int64_t *plants = w->plot == SIZE_MAX ? all : all + w->plot * problem->n;
    size_t plots = w->plot == SIZE_MAX ? problem->n_plots : 1;
    double sum = 0, used = 0, money = 0, least = HUGE_VAL, most = 0, one = 0;
    for (size_t p = 0; p < plots; p++)
        for (size_t i = 0; i < problem->n; i++) {
            const struct mix_species *s = &problem->species[i];
            double n = (double)plants[p * problem->n + i];
            bool in = w->kind <= WISH_LAYER_MOST     ? (size_t)s->layer == w->what
                      : w->kind <= WISH_PIONEER_MOST ? s->role == ROLE_PIONEER
                                                     : s->tall;
            sum += in ? n : 0;
            used += n > 0;
            money += n > 0 ? n * s->price : 0;
            most = fmax(most, n);
            one += i == w->what ? n : 0;
            double own = w->plot == SIZE_MAX ? HUGE_VAL : wish_value(problem, WISH_ONE_MOST, w->plot, i, HUGE_VAL);
            if (n > 0 && own >= w->value) /* asked for by name in smaller numbers: no least count */
                least = fmin(least, n);
        }
    switch (w->kind) {
    case WISH_LAYER_LEAST:
    case WISH_PIONEER_LEAST:
        return sum >= w->value;
    case WISH_LAYER_MOST:
    case WISH_PIONEER_MOST:
    case WISH_TALL_MOST:
        return sum <= w->value;
    case WISH_SPECIES_MOST:
        return most <= w->value;
    case WISH_GENUS_MOST:
    case WISH_FAMILY_MOST:
    case WISH_PEST_MOST:
        return largest(problem, plants, w->kind) <= w->value;
    case WISH_EACH_LEAST:
        return least >= w->value;
    case WISH_COUNT_LEAST:
        return used >= w->value;
    case WISH_COUNT_MOST:
        return used <= w->value;
    case WISH_BUDGET:
        return money <= w->value * (1 + 1e-9) + 1e-6;
    case WISH_ONE_LEAST:
        return one >= w->value;
    case WISH_ONE_MOST:
    case WISH_STOCK:
        return one <= w->value;
    }
    return false;
}

const char *problem_breach(const struct problem *problem, const int64_t *plants, struct arena *arena)
{
    for (size_t p = 0; p < problem->n_plots; p++) {
        int64_t sum = 0;
        for (size_t i = 0; i < problem->n; i++) {
            int64_t n = plants[p * problem->n + i];
            sum += n;
            if (n < 0)
                return arena_print(arena, "%s has fewer than no plants", problem->species[i].name);
            if (n > 0 && problem->absent != NULL && problem->absent[p * problem->n + i])
                return arena_print(arena, "%s does not belong there", problem->species[i].name);
            if (n > 0 && problem->species[i].health_stop != NULL)
                return arena_print(arena, "%s is stopped by plant health", problem->species[i].name);
        }
        if (sum != problem->plots[p].total)
            return arena_print(arena, "%lld plants in place of %lld", (long long)sum, (long long)problem->plots[p].total);
    }
    for (size_t k = 0; k < problem->n_wishes; k++)
        if (!problem->wishes[k].off && !wish_met(problem, &problem->wishes[k], plants))
            return wish_words(problem, &problem->wishes[k], arena);
    return NULL;
}

const char *problem_unmet(const struct problem *problem, const int64_t *plants, struct arena *arena)
{
    struct text text = {0};
    for (size_t k = 0; k < problem->n_wishes; k++)
        if (problem->wishes[k].yields && !wish_met(problem, &problem->wishes[k], plants))
            text_print(&text, "%s%s", text.n == 0 ? "Usual wishes that it does not keep: " : "; ",
                       wish_words(problem, &problem->wishes[k], arena));
    const char *words = text.n == 0 ? NULL : arena_print(arena, "%s.", text_get(&text));
    text_free(&text);
    return words;
}
