/* SPDX-License-Identifier: GPL-3.0-or-later
 * Findings put together from the parts of evidence/, each with what it presumes and what it may not be taken to mean. */
#include "evidence/findings.h"
#include "evidence/increments.h"
#include "evidence/wild.h"
#include <math.h>
#include <string.h>
#include <strings.h>

struct finding_light {
    size_t known, shaded; ///< sites
};

struct list {
    struct evidence_finding *rows;
    size_t n, room;
    struct arena *arena;
};

static struct evidence_finding *add(struct list *list, const struct evidence_finding *finding)
{
    if (list->n == list->room) {
        struct evidence_finding *wider = arena_array(list->arena, 2 * list->room + 16, sizeof *wider);
        if (list->n > 0)
            memcpy(wider, list->rows, list->n * sizeof *wider);
        list->rows = wider;
        list->room = 2 * list->room + 16;
    }
    list->rows[list->n] = *finding;
    return &list->rows[list->n++];
}

static void presume(struct evidence_finding *f, const char *words, const char *seen, bool holds)
{
    if (f->n_assumptions < MOST_ASSUMPTIONS)
        f->assumptions[f->n_assumptions++] = (struct assumption){words, seen, holds};
}

static const char *plain(const char *word, struct arena *arena)
{
    char *out = arena_text(arena, word);
    for (char *c = out; *c != '\0'; c++)
        if (*c == '_')
            *c = ' ';
    return out;
}

static const char *regime_plain(enum regime regime, struct arena *arena)
{
    return plain(word_of(WORDS_REGIME, (int)regime), arena);
}

/* Whether the outcome that a locked protocol names is this one. */
static bool asked(const char *primary, const char *const *words)
{
    for (size_t i = 0; primary != NULL && words[i] != NULL; i++)
        if (strcasestr(primary, words[i]) != NULL)
            return true;
    return false;
}

/* What every comparison over sites presumes. */
static void presume_sites(struct evidence_finding *f, const struct paired_answer *a, struct arena *arena)
{
    presume(f, "six sites at least, each one replicate", arena_print(arena, "%zu site%s", a->n, a->n == 1 ? "" : "s"), a->n >= 6);
    presume(f, "both plots of a site were cared for alike", arena_print(arena, "on %zu of %zu sites", a->fair, a->n), a->fair == a->n);
    if (a->verdict == PAIRED_A_HIGHER || a->verdict == PAIRED_B_HIGHER)
        presume(f, "no one site decides", a->hangs_on == SIZE_MAX ? "it stands with any site left out" : "leaving one out would undo it",
                a->hangs_on == SIZE_MAX);
    f->sites = a->n;
    f->p = a->p;
    f->p_least = a->p_least;
    f->verdict = a->verdict;
    f->reason = paired_reason_words(a, arena);
}

/* Plants taller than the gap is wide may shade the other plot. */
static void presume_light(struct finding_light *l, const struct plot_lives *a, const struct plot_lives *b, struct arena *arena)
{
    struct shading s[2];
    struct failure none;
    bool known = false;
    for (int k = 0; k < 2; k++)
        if (evidence_shading(k == 0 ? a : b, k == 0 ? b : a, arena, &s[k], &none) == OUTCOME_OK) {
            known = true;
            if (s[k].shades) {
                l->shaded++;
                k = 2;
            }
        }
    l->known += known;
}

static void presume_light_said(struct evidence_finding *f, const struct finding_light *l, struct arena *arena)
{
    if (l->known > 0)
        presume(f, "neither plot shades the other",
                arena_print(arena, "on %zu of %zu sites plants are taller than the gap is wide", l->shaded, l->known), l->shaded == 0);
}

static const char *may_not_words(const struct trial_table *design)
{
    return design != NULL && design->factors[TRIAL_DENSITY].clean_sites > 0
               ? "That any one part of the recipe did it, or that it will hold on other ground and in other years."
               : "That density did it: the plots differ in several things at once. Nor that it will hold on other ground and in other "
                 "years.";
}

/* ---- survival ---- */

static void presume_records(struct evidence_finding *f, const struct site_difference *pairs, size_t n, const struct paired_answer *a,
                            const struct trial_table *design, struct arena *arena)
{
    size_t first = 0, drawn = 0, known = 0, open = 0, leaf_off = 0;
    for (size_t i = 0; i < n; i++) {
        const struct plot_survival *both[2] = {&pairs[i].sa, &pairs[i].sb};
        for (int k = 0; k < 2; k++) {
            first += !both[k]->lives->no_first_census;
            open += (size_t)both[k]->not_found;
            leaf_off += both[k]->lives->censuses[both[k]->census].leaf_off;
        }
        for (size_t j = 0; design != NULL && j < design->n_pairs; j++) {
            const struct trial_pair *p = &design->pairs[j];
            if ((p->a == pairs[i].a && p->b == pairs[i].b) || (p->a == pairs[i].b && p->b == pairs[i].a)) {
                known++;
                drawn += p->drawn;
            }
        }
    }
    presume(
        f, "plants not found do not decide",
        arena_print(arena, "%zu were not found; %s", open, a->reason == REASON_NOT_FOUND ? "they would" : "read either way it is the same"),
        a->reason != REASON_NOT_FOUND);
    presume(f, "what was planted was counted right after planting", arena_print(arena, "in %zu of %zu plots", first, 2 * n),
            first == 2 * n);
    if (design != NULL)
        presume(f, "the ground was given by lot", arena_print(arena, "on %zu of %zu sites", drawn, n), known > 0 && drawn == n);
    if (leaf_off > 0)
        presume(f, "the dead could be told from the dormant", arena_print(arena, "%zu plots were counted without leaves", leaf_off), false);
}

static enum outcome survival_add(struct list *list, const struct evidence_facts *facts, const struct plot_lives *lives,
                                 const struct trial_table *design, enum regime a, enum regime b, const struct findings_wish *wish,
                                 struct failure *why)
{
    static const char *const words[] = {"surviv", "alive", "establish", "mortality", NULL};
    struct arena *arena = list->arena;
    struct site_difference *pairs = NULL;
    struct sites_difference all;
    struct paired_answer answer;
    size_t n = 0;
    const char *wa = regime_plain(a, arena), *wb = regime_plain(b, arena);
    enum outcome outcome = evidence_pairs(facts, lives, a, b, wish->level, arena, &pairs, &n, why);
    if (outcome == OUTCOME_OK)
        outcome = evidence_over_sites(pairs, n, design, wa, wb, wish->level, arena, &all, why);
    if (outcome == OUTCOME_OK)
        outcome = evidence_pairs_judge(pairs, n, wish->level, wish->margin, arena, &answer, why);
    if (outcome != OUTCOME_OK || n == 0)
        return outcome;
    int64_t plants = 0;
    for (size_t i = 0; i < n; i++)
        plants += pairs[i].sa.alive + pairs[i].sa.dead + pairs[i].sb.alive + pairs[i].sb.dead;
    struct evidence_finding f = {
        .about = arena_print(arena, "survival %s %s", word_of(WORDS_REGIME, (int)a), word_of(WORDS_REGIME, (int)b)),
        .sentence = all.sentence,
        .rung = strcmp(all.rung, "attributed") == 0 ? "repeated" : all.rung, /* a pair of regimes differs in several things */
        .value = 100 * all.mean.value,
        .low = 100 * all.mean.low,
        .high = 100 * all.mean.high,
        .unit = "points",
        .beforehand = asked(wish->primary, words),
        .method = "Difference of shares alive, site by site; mean with Student's t, exact sign flips, bounds for what was not found.",
        .inputs =
            arena_print(arena, "%zu plots on %zu sites, %lld plants of the first planting with a known state", 2 * n, n, (long long)plants),
        .may = "What the whole recipe did on these sites.",
        .may_not = may_not_words(design)};
    presume_sites(&f, &answer, arena);
    presume_records(&f, pairs, n, &answer, design, arena);
    struct finding_light light = {0, 0};
    for (size_t i = 0; i < n; i++)
        presume_light(&light, &lives[pairs[i].a], &lives[pairs[i].b], arena);
    presume_light_said(&f, &light, arena);
    add(list, &f);
    return OUTCOME_OK;
}

/* What pairs that differ in one thing alone show. */
static enum outcome clean_add(struct list *list, const struct evidence_facts *facts, const struct plot_lives *lives,
                              const struct trial_table *design, enum trial_factor factor, const struct findings_wish *wish,
                              struct failure *why)
{
    struct arena *arena = list->arena;
    struct paired_answer a;
    if (design->factors[factor].clean_pairs == 0)
        return OUTCOME_OK;
    enum outcome outcome = evidence_clean(facts, lives, design, factor, wish->level, arena, &a, why);
    if (outcome != OUTCOME_OK || a.n == 0)
        return outcome;
    bool clear = a.verdict == PAIRED_A_HIGHER || a.verdict == PAIRED_B_HIGHER;
    const char *interval = is_known(a.mean.low) ? arena_print(arena, " (%+.0f to %+.0f)", 100 * a.mean.low, 100 * a.mean.high) : "";
    struct evidence_finding f = {.about = arena_print(arena, "survival %s alone", trial_factor_word(factor)),
                                 .rung = clear && a.n >= 6 ? "attributed"
                                         : a.n > 1         ? "repeated"
                                                           : "compared",
                                 .value = 100 * a.mean.value,
                                 .low = 100 * a.mean.low,
                                 .high = 100 * a.mean.high,
                                 .unit = "points",
                                 .method = "Plots of a site that differ in this one thing, with nothing unknown; judged like any pair.",
                                 .inputs = arena_print(arena, "%zu pairs of plots", a.n),
                                 .may = clear && a.n >= 6
                                            ? arena_print(arena, "What %s by itself did on these sites.", trial_factor_word(factor))
                                            : "What these pairs of plots did.",
                                 .may_not = "That it will hold on other ground and in other years."};
    f.sentence = arena_print(arena, "Plots that differ in %s alone, on %zu site%s: survival %+.0f points%s%s.", trial_factor_word(factor),
                             a.n, a.n == 1 ? "" : "s", 100 * a.mean.value, interval, clear ? "" : ", so no effect of it is shown");
    presume_sites(&f, &a, arena);
    add(list, &f);
    return OUTCOME_OK;
}

/* ---- growth and wildlife ---- */

static enum outcome growth_add(struct list *list, const struct evidence_facts *facts, const struct plot_lives *lives,
                               const struct trial_table *design, enum regime a, enum regime b, const struct findings_wish *wish,
                               struct failure *why)
{
    static const char *const words[] = {"grow", "height", NULL};
    struct arena *arena = list->arena;
    struct growth_pairs g;
    enum outcome outcome = evidence_growth_pairs(facts, lives, a, b, wish->level, arena, &g, why);
    if (outcome != OUTCOME_OK || g.n == 0)
        return outcome;
    double apart = 0;
    size_t with = 0;
    for (size_t i = 0; i < g.n; i++)
        if (is_known(g.pairs[i].first_cm)) {
            apart = fmax(apart, fabs(g.pairs[i].first_cm));
            with++;
        }
    struct evidence_finding f = {
        .about = arena_print(arena, "growth %s %s", word_of(WORDS_REGIME, (int)a), word_of(WORDS_REGIME, (int)b)),
        .sentence = g.sentence,
        .rung = g.n > 1 ? "repeated" : "compared",
        .value = g.answer.mean.value,
        .low = g.answer.mean.low,
        .high = g.answer.mean.high,
        .unit = "cm a growing season",
        .beforehand = asked(wish->primary, words),
        .method = "Gain of the same plants per growing season on the species both plots have, species counting alike; mean over "
                  "sites with Student's t, exact sign flips.",
        .inputs = arena_print(arena, "%zu plots on %zu sites", 2 * g.n, g.n),
        .may = "How plants that lived grew under the whole recipe on these sites.",
        .may_not = may_not_words(design)};
    presume_sites(&f, &g.answer, arena);
    presume(&f, "plants started at the same height", arena_print(arena, "they were %.0f cm apart at most", apart),
            with == g.n && apart <= 5);
    struct finding_light light = {0, 0};
    for (size_t i = 0; i < g.n; i++)
        presume_light(&light, &lives[g.pairs[i].a], &lives[g.pairs[i].b], arena);
    presume_light_said(&f, &light, arena);
    add(list, &f);
    return OUTCOME_OK;
}

static enum outcome wild_add(struct list *list, const struct evidence_facts *facts, const struct wild *wild,
                             const struct trial_table *design, enum regime a, enum regime b, const struct findings_wish *wish,
                             struct failure *why)
{
    static const char *const words[] = {"wildlife", "species", "kinds", "richness", NULL};
    struct arena *arena = list->arena;
    enum outcome outcome = OUTCOME_OK;
    for (int g = 1; outcome == OUTCOME_OK && g < WILDLIFE_GROUP_COUNT; g++) {
        struct wild_pairs w;
        if (wild->n_taxa[g] == 0)
            continue;
        outcome = evidence_wild_pairs(facts, wild, (enum wildlife_group)g, a, b, wish->level, arena, &w, why);
        if (outcome != OUTCOME_OK || w.n == 0)
            continue;
        struct evidence_finding f = {
            .about = arena_print(arena, "kinds %s %s %s", word_of(WORDS_WILDLIFE_GROUP, g), word_of(WORDS_REGIME, (int)a),
                                 word_of(WORDS_REGIME, (int)b)),
            .sentence = w.sentence,
            .rung = w.n > 1 ? "repeated" : "compared",
            .value = w.kinds.mean.value,
            .low = w.kinds.mean.low,
            .high = w.kinds.mean.high,
            .unit = "kinds",
            .beforehand = asked(wish->primary, words),
            .method = "Kinds that equal numbers of looks would have found (rarefaction), site by site; mean with Student's t, exact "
                      "sign flips.",
            .inputs = arena_print(arena, "looks on %zu sites", w.n),
            .may = "What was found at equal effort on these plots.",
            .may_not = may_not_words(design)};
        presume_sites(&f, &w.kinds, arena);
        presume(&f, "what was there before planting is known", arena_print(arena, "on %zu of %zu sites", w.n_before, w.n),
                w.n_before == w.n);
        add(list, &f);
    }
    return outcome;
}

/* ---- all ---- */

static void adjust(struct list *list)
{
    double *p = arena_array(list->arena, list->n, sizeof *p), *holm = arena_array(list->arena, list->n, sizeof *holm);
    for (size_t i = 0; i < list->n; i++)
        p[i] = list->rows[i].beforehand ? unknown_real() : list->rows[i].p;
    adjust_holm(p, list->n, holm);
    for (size_t i = 0; i < list->n; i++)
        list->rows[i].p_adjusted = list->rows[i].beforehand ? list->rows[i].p : holm[i];
}

enum outcome evidence_findings(const struct evidence_facts *facts, const struct plot_lives *lives, const struct trial_table *design,
                               const struct findings_wish *wish, struct arena *arena, struct evidence_finding **out, size_t *n,
                               struct failure *why)
{
    struct list list = {.arena = arena};
    struct wild wild;
    enum outcome outcome = evidence_wild(facts, arena, &wild, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < wish->n_pairs; i++)
        outcome = survival_add(&list, facts, lives, design, wish->pairs[i][0], wish->pairs[i][1], wish, why);
    for (int f = 0; outcome == OUTCOME_OK && design != NULL && f < TRIAL_FACTORS; f++)
        outcome = clean_add(&list, facts, lives, design, (enum trial_factor)f, wish, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < wish->n_pairs; i++)
        outcome = growth_add(&list, facts, lives, design, wish->pairs[i][0], wish->pairs[i][1], wish, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < wish->n_pairs; i++)
        outcome = wild_add(&list, facts, &wild, design, wish->pairs[i][0], wish->pairs[i][1], wish, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    adjust(&list);
    struct evidence_finding *sorted = arena_array(arena, list.n, sizeof *sorted);
    for (int pass = 0, at = 0; pass < 2; pass++)
        for (size_t i = 0; i < list.n; i++)
            if (list.rows[i].beforehand == (pass == 0))
                sorted[at++] = list.rows[i];
    *out = sorted;
    *n = list.n;
    return OUTCOME_OK;
}

void evidence_plainly(const struct evidence_facts *facts, const struct plot_lives *lives, const struct trial_table *design,
                      const struct evidence_finding *findings, size_t n, struct arena *arena, const char *sentences[5])
{
    size_t sites = 0, plots = 0, failed = 0;
    int64_t alive = 0, known = 0;
    for (size_t s = 0; s < facts->n_sites; s++) {
        bool any = false;
        for (size_t i = 0; i < facts->n_plots; i++) {
            struct plot_survival p;
            struct failure none;
            if (facts->plots[i].site_id != facts->sites[s].id || lives[i].n_censuses == 0 ||
                evidence_survival(&lives[i], SIZE_MAX, 0.95, arena, &p, &none) != OUTCOME_OK)
                continue;
            any = true;
            plots++;
            alive += p.alive;
            known += p.alive + p.dead;
        }
        sites += any;
    }
    sentences[0] = arena_print(
        arena, "We planted %zu plots on %zu site%s and counted: %lld of %lld plants with a known state were alive when last seen.", plots,
        sites, sites == 1 ? "" : "s", (long long)alive, (long long)known);
    sentences[1] = n > 0 ? findings[0].sentence : "No two plots of one site can be compared yet.";
    bool density = design != NULL && design->factors[TRIAL_DENSITY].clean_sites > 0;
    const char *clean = NULL;
    for (size_t i = 0; i < n && clean == NULL; i++)
        if (strcmp(findings[i].about, "survival density alone") == 0)
            clean = findings[i].sentence;
    sentences[2] = n == 0 ? "So nothing can be said of any cause."
                   : !density
                       ? "The plots differ in several things at once, so this is what the whole recipe did; it cannot be given to density."
                       : clean;
    if (sentences[2] == NULL)
        sentences[2] = "Some plots differ in density alone, but they have no census to compare yet.";
    for (size_t k = 0; n > 0 && k < findings[0].n_assumptions; k++)
        failed += !findings[0].assumptions[k].holds;
    sentences[3] = "What the comparison presumes was checked and holds, as far as the records tell.";
    for (size_t k = 0; failed > 0 && k < findings[0].n_assumptions; k++)
        if (!findings[0].assumptions[k].holds) {
            sentences[3] =
                arena_print(arena, "Be careful: it presumes that %s; the records say: %s%s.", findings[0].assumptions[k].words,
                            findings[0].assumptions[k].seen, failed > 1 ? arena_print(arena, " (and %zu more such)", failed - 1) : "");
            break;
        }
    sentences[4] = sites < 6 ? "More sites would tell more than more plants: six at least, with both plots cared for alike."
                   : density ? "Counting the same plants again, both plots cared for alike, tells more than anything else."
                             : "A third plot that differs in density alone would tell what no count of the present plots can.";
}
