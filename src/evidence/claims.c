/* SPDX-License-Identifier: GPL-3.0-or-later
 * A sentence somebody wants to write, held against what the design and the records carry. */
#include "evidence/sites.h"
#include <ctype.h>
#include <string.h>

static bool says(const char *claim, const char *const *words, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (strstr(claim, words[i]) != NULL)
            return true;
    return false;
}

/* A list of words where a list is wanted. */
#define SAYS(claim, ...) says(claim, (const char *const[]){__VA_ARGS__}, sizeof((const char *const[]){__VA_ARGS__}) / sizeof(char *))

struct doubts {
    const char **list;
    size_t n;
};

static void doubt(struct doubts *doubts, const char *sentence)
{
    doubts->list[doubts->n++] = sentence;
}

static size_t sites_with_census(const struct evidence_facts *facts, const struct plot_lives *lives)
{
    size_t n = 0;
    for (size_t s = 0; s < facts->n_sites; s++) {
        bool found = false;
        for (size_t i = 0; i < facts->n_plots && !found; i++)
            found = facts->plots[i].site_id == facts->sites[s].id && lives[i].n_censuses > 0;
        n += found;
    }
    return n;
}

static bool first_sizes_missing(const struct evidence_facts *facts, const struct plot_lives *lives)
{
    for (size_t i = 0; i < facts->n_plots; i++)
        if (lives[i].n_censuses > 0 && lives[i].no_first_census)
            return true;
    return false;
}

/* Plots that differ in the named thing alone: do they show it? */
static void clean_doubt(struct doubts *doubts, const struct evidence_facts *facts, const struct plot_lives *lives,
                        const struct trial_table *design, enum trial_factor factor, struct arena *arena, bool *refused)
{
    struct paired_answer a;
    struct failure none;
    if (evidence_clean(facts, lives, design, factor, 0.95, arena, &a, &none) != OUTCOME_OK || a.n < 2 || a.verdict == PAIRED_A_HIGHER ||
        a.verdict == PAIRED_B_HIGHER)
        return;
    doubt(doubts,
          arena_print(arena, "Plots that differ in %s alone, on %zu sites, do not show it in survival: %+.0f points (%+.0f to %+.0f). %s",
                      trial_factor_word(factor), a.n, 100 * a.mean.value, 100 * a.mean.low, 100 * a.mean.high,
                      paired_reason_words(&a, arena)));
    *refused = true;
}

static void causal_doubts(struct doubts *doubts, const char *claim, const struct evidence_facts *facts, const struct plot_lives *lives,
                          const struct trial_table *design, struct arena *arena, bool *refused)
{
    static const struct {
        enum trial_factor factor;
        const char *word;
    } causes[] = {{TRIAL_DENSITY, "densit"},      {TRIAL_DENSITY, "dense"}, {TRIAL_PREPARATION, "soil"}, {TRIAL_PREPARATION, "preparation"},
                  {TRIAL_PREPARATION, "compost"}, {TRIAL_MIX, "mix"},       {TRIAL_MIX, "divers"},       {TRIAL_WATER, "water"}};
    bool because = SAYS(claim, "because", "due to", "caused", "thanks to", "owing to", "makes", "leads to");
    for (size_t i = 0; i < sizeof causes / sizeof *causes; i++) {
        if (strstr(claim, causes[i].word) == NULL)
            continue;
        const struct trial_attribution *one = design == NULL ? NULL : &design->factors[causes[i].factor];
        if (one == NULL || one->clean_pairs == 0) {
            doubt(doubts,
                  arena_print(arena, "No pair of plots differs in %s alone: %s", trial_factor_word(causes[i].factor),
                              one == NULL || one->sentence == NULL ? "nothing separates it from the rest of the recipe." : one->sentence));
            *refused = *refused || because || strstr(claim, "dense") != NULL;
        } else if (one->clean_sites < 6) {
            doubt(doubts, arena_print(arena, "Only %zu site%s a pair that differs in %s alone.", one->clean_sites,
                                      one->clean_sites == 1 ? " has" : "s have", trial_factor_word(causes[i].factor)));
            *refused = *refused || because;
        } else if (because)
            clean_doubt(doubts, facts, lives, design, causes[i].factor, arena, refused);
        return;
    }
    if (because) { /* a cause that no plot was given or denied on purpose */
        doubt(doubts, "The sentence names a cause that no pair of plots separates: nothing recorded of the plots tells it from all else in "
                      "which they, their ground and their years differ.");
        *refused = true;
    }
}

enum outcome evidence_claim(const char *claim, const struct evidence_facts *facts, const struct plot_lives *lives,
                            const struct trial_table *design, struct arena *arena, struct claim_check *out, struct failure *why)
{
    if (text_blank(claim))
        return fail(why, OUTCOME_USAGE, "There is no sentence to look at.");
    char *lower = arena_text(arena, claim);
    for (char *p = lower; *p != '\0'; p++)
        *p = (char)tolower((unsigned char)*p);
    struct doubts doubts = {arena_array(arena, 40, sizeof(char *)), 0};
    bool refused = false;
    size_t sites = sites_with_census(facts, lives);
    causal_doubts(&doubts, lower, facts, lives, design, arena, &refused);
    bool growth = SAYS(lower, "grew", "grow", "faster", "taller", "height"),
         survival = SAYS(lower, "surviv", "alive", "died", "dead", "mortality", "establish");
    if (growth) {
        doubt(&doubts, "Mean height of whoever is alive rises when short plants die (survivor bias): use the same plants at both dates.");
        doubt(&doubts, "Plots with other species, or other shares of them, have other heights: compare species that both have.");
        doubt(&doubts, first_sizes_missing(facts, lives)
                           ? "Sizes at planting are missing for some plots: bigger plants at the start stay bigger."
                           : "Plants may have differed in size at planting: compare gains, not heights.");
        if (SAYS(lower, "faster", "times"))
            doubt(&doubts, "Better ground grows plants faster; loosened and composted soil must be told from density.");
    }
    if (survival)
        doubt(&doubts, "What was not found counts neither as alive nor as dead: give the bounds. Replacements are not survivors.");
    if (growth || survival || SAYS(lower, "%", "times", "more", "better", "proves", "proven", "significant"))
        doubt(&doubts, arena_print(arena, "It rests on %zu site%s: the site is the replicate, not the plant.%s", sites,
                                   sites == 1 ? "" : "s", sites < 5 ? " That is too few to generalise." : ""));
    if (SAYS(lower, "proves", "proven", "proof", "guarantee", "always")) {
        doubt(&doubts, "No trial of this size proves anything; say what was seen, and how often.");
        refused = true;
    }
    if (SAYS(lower, "carbon", "co2", "climate", "offset")) {
        doubt(&doubts, "Small plots store little, the range is wide, and compost that was brought in is not carbon that was gained.");
        refused = refused || SAYS(lower, "offset", "neutral", "climate");
    }
    if (SAYS(lower, "species", "biodiversity", "bees", "birds", "wildlife", "returned"))
        doubt(&doubts, "More looks find more kinds: compare at equal effort, and with ground that was not planted. Birds use a plot; they "
                       "do not live in it.");
    if (SAYS(lower, "native forest", "forest"))
        doubt(&doubts, "A few hundred square metres are a plot, not a forest.");
    if (doubts.n == 0)
        doubt(&doubts, "Nothing in the wording is recognised; a number still needs its count, its interval, its dates and its source.");
    *out = (struct claim_check){.refused = refused, .reasons = doubts.list, .n_reasons = doubts.n};
    out->instead = refused ? "Say what was counted, on how many sites, with the interval, and that the whole recipe was compared unless a "
                             "pair of plots separates a cause."
                           : "It may stand with the count, the interval, the number of sites and these limits beside it.";
    return OUTCOME_OK;
}
