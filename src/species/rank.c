/* SPDX-License-Identifier: GPL-3.0-or-later
 * Reference communities ranked by how well they match the ground and the user's own relevés. */
#include "species/species.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Middle of a constancy class as a share of stands. */
static double class_share(int constancy)
{
    return constancy < 1 ? 0 : 0.2 * constancy - 0.1;
}

/* 1 in the middle of the envelope, 0.61 at its edge; the ground's own spread widens it. */
static double envelope(struct range range, struct figure ground)
{
    if (!is_known(range.least) || !is_known(range.most) || !is_known(ground.value))
        return unknown_real();
    double half = (range.most - range.least) / 2, spread = is_known(ground.spread) ? ground.spread : 0.4;
    double width = hypot(half < 0.25 ? 0.25 : half, spread), away = (ground.value - (range.least + range.most) / 2) / width;
    return exp(-0.5 * away * away);
}

/* Strongest constancy of a name over the layers of a community. */
static double share_of(const struct community *community, const char *name)
{
    double most = 0;
    for (size_t i = 0; i < community->n_species; i++)
        if (strcmp(community->species[i].name, name) == 0)
            most = fmax(most, class_share(community->species[i].constancy));
    return most;
}
double community_frequency(const struct community *community, const struct species_fact *fact)
{
    return share_of(community, fact->name);
}
bool species_tall(const struct species_fact *fact)
{
    if (fact->layer != LAYER_CANOPY || fact->form != FORM_TREE)
        return false;
    return is_known(fact->clay_height_m) ? fact->clay_height_m >= 20 : is_known(fact->height_most_m) && fact->height_most_m >= 30;
}
static bool seen_before(const struct community *community, size_t at)
{
    for (size_t i = 0; i < at; i++)
        if (strcmp(community->species[i].name, community->species[at].name) == 0)
            return true;
    return false;
}

/* Sørensen's coefficient with constancies in place of presence. */
static double likeness(const struct community *a, const struct community *b)
{
    double both = 0, all = 0;
    for (size_t i = 0; i < a->n_species; i++)
        if (!seen_before(a, i)) {
            double mine = share_of(a, a->species[i].name);
            both += fmin(mine, share_of(b, a->species[i].name));
            all += mine;
        }
    for (size_t i = 0; i < b->n_species; i++)
        if (!seen_before(b, i))
            all += share_of(b, b->species[i].name);
    return all > 0 ? 2 * both / all : unknown_real();
}

static double native_share(const struct community *community, size_t region)
{
    double native = 0, all = 0;
    for (size_t i = 0; i < community->n_species; i++) {
        const struct species_fact *fact = community->species[i].fact;
        if (fact == NULL || (fact->form != FORM_TREE && fact->form != FORM_SHRUB) || seen_before(community, i))
            continue;
        double share = share_of(community, fact->name);
        all += share;
        if (fact->native[region] == NATIVE_YES)
            native += share;
    }
    return all > 0 ? native / all : unknown_real();
}

static double mean_of(const double *parts, size_t n)
{
    double logs = 0;
    int known = 0;
    for (size_t i = 0; i < n; i++)
        if (is_known(parts[i])) {
            logs += log(parts[i] < 1e-12 ? 1e-12 : parts[i]);
            known++;
        }
    return known == 0 ? unknown_real() : exp(logs / known);
}

static void part_say(struct text *out, const char *what, double part)
{
    if (is_known(part))
        text_print(out, "%s%s %s", out->n == 0 ? "" : ", ", what,
                   part > 0.6   ? "within its range"
                   : part > 0.2 ? "near the edge of its range"
                                : "outside its range");
}

static int by_match(const void *left, const void *right)
{
    const struct community_match *a = left, *b = right;
    double x = is_known(a->match) ? a->match : -1, y = is_known(b->match) ? b->match : -1;
    return x > y ? -1 : x < y ? 1 : strcmp(a->community->id, b->community->id);
}

enum outcome species_rank_communities(const struct species_library *library, const struct species_ground *ground, const char *region,
                                      const struct community *own, struct arena *arena, struct community_match **out, size_t *n,
                                      struct failure *why)
{
    size_t where = species_region(library, region);
    if (library->n_communities == 0)
        return fail(why, OUTCOME_DATA, "The library %s has no reference communities.", library->name);
    if (region != NULL && where == SIZE_MAX)
        return species_library_suits(library, region, why);
    struct community_match *list = arena_array(arena, library->n_communities, sizeof *list);
    struct figure reaction = ground->reaction;
    for (size_t i = 0; i < library->n_communities; i++) {
        const struct community *community = &library->communities[i];
        struct community_match *match = &list[i];
        match->community = community;
        match->ph = envelope(community->ph, ground->ph);
        match->moisture = envelope(community->moisture, ground->moisture);
        match->reaction = envelope(community->reaction, reaction);
        match->nutrients = envelope(community->nutrients, ground->nutrients);
        /* Mean indicator values do not tell dry ground from fresh: there the community's own words decide. */
        if (is_known(match->moisture) && ground->moisture.value < 4.3 && community->moisture_words != NULL &&
            strstr(community->moisture_words, "dry") == NULL)
            match->moisture *= 0.6;
        match->shared = own == NULL ? unknown_real() : likeness(community, own);
        match->native_share = where == SIZE_MAX ? unknown_real() : native_share(community, where);
        match->match = mean_of((double[]){match->ph, match->moisture, match->reaction, match->nutrients, match->shared}, 5);
        struct text text = {0};
        part_say(&text, "pH", match->ph);
        part_say(&text, "moisture", match->moisture);
        part_say(&text, "reaction", match->reaction);
        part_say(&text, "nutrients", match->nutrients);
        if (is_known(match->shared))
            text_print(&text, "%s%.0f %% alike to your stands", text.n == 0 ? "" : ", ", 100 * match->shared);
        if (is_known(match->native_share) && match->native_share < 0.7)
            text_print(&text, "%sonly %.0f %% of its woody plants are native here", text.n == 0 ? "" : ", ", 100 * match->native_share);
        match->why = arena_text(arena, text.n == 0 ? "nothing known of the ground to judge it by" : text_get(&text));
        text_free(&text);
    }
    qsort(list, library->n_communities, sizeof *list, by_match);
    *out = list;
    *n = library->n_communities;
    return OUTCOME_OK;
}
