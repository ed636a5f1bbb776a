/* SPDX-License-Identifier: GPL-3.0-or-later
 * Which kinds of plot a question needs: every set of kinds is held against the difference table. */
#include "trial/trial.h"
#include <stdlib.h>
#include <string.h>

static const char *const letters[TRIAL_KINDS] = {"D", "C", "P", "N", "U"};
static const char *const kind_words[TRIAL_KINDS] = {"dense on prepared ground", "conventional", "sparse on prepared ground",
                                                    "dense on ground not prepared", "not planted"};
static const char *const question_words[TRIAL_QUESTIONS] = {"recipe", "soil", "density", "together", "baseline"};

const char *trial_kind_letter(enum trial_kind kind)
{
    return letters[kind];
}

const char *trial_kind_word(enum trial_kind kind)
{
    return kind_words[kind];
}

const char *trial_question_word(enum trial_question question)
{
    return question_words[question];
}

unsigned trial_questions_read(const char *words)
{
    struct arena arena = {0};
    unsigned bits = 0;
    bool good = words != NULL;
    char *copy = arena_text(&arena, words == NULL ? "" : words), *rest = NULL;
    for (char *part = strtok_r(copy, ",;+ ", &rest); part != NULL && good; part = strtok_r(NULL, ",;+ ", &rest)) {
        size_t q = 0;
        while (q < TRIAL_QUESTIONS && !text_same_nocase(part, question_words[q]))
            q++;
        good = q < TRIAL_QUESTIONS;
        bits |= good ? 1u << q : 0;
    }
    arena_clear(&arena);
    return good ? bits : 0;
}

/* A plot of a kind as the difference table sees it; what is held equal has one level. */
static struct trial_plot plot_of_kind(enum trial_kind kind, bool usual_mix)
{
    bool dense = kind == TRIAL_KIND_D || kind == TRIAL_KIND_N, prepared = kind == TRIAL_KIND_D || kind == TRIAL_KIND_P;
    struct trial_plot plot = {
        .code = letters[kind], .site = "a site", .allocation = ALLOCATION_METHOD_DRAWN_BY_LOT, .unplanted = kind == TRIAL_KIND_U};
    for (size_t f = 0; f < TRIAL_FACTORS; f++)
        plot.levels[f] = "equal";
    plot.levels[TRIAL_DENSITY] = dense ? "3" : "1";
    plot.levels[TRIAL_PREPARATION] = prepared ? "full" : "none";
    if (usual_mix && kind == TRIAL_KIND_C)
        plot.levels[TRIAL_MIX] = "usual";
    return plot;
}

static unsigned answers_of(unsigned kinds, const struct trial_table *table, const struct trial_plot *plots)
{
    unsigned out = 0;
    size_t soil = 0;
    if ((kinds & 3u) == 3u)
        out |= 1u << TRIAL_ASKS_RECIPE;
    for (size_t k = 0; k < table->n_pairs; k++) {
        const struct trial_pair *pair = &table->pairs[k];
        if (pair->n_differ != 1 || pair->n_unknown != 0)
            continue;
        soil += pair->marks[TRIAL_PREPARATION] == TRIAL_DIFFERS;
        out |= pair->marks[TRIAL_PREPARATION] == TRIAL_DIFFERS ? 1u << TRIAL_ASKS_SOIL : 0;
        out |= pair->marks[TRIAL_DENSITY] == TRIAL_DIFFERS ? 1u << TRIAL_ASKS_DENSITY : 0;
    }
    out |= soil >= 2 ? 1u << TRIAL_ASKS_BOTH : 0; /* at either density */
    out |= kinds >> TRIAL_KIND_U & 1 ? 1u << TRIAL_ASKS_BASE : 0;
    (void)plots;
    return out;
}

static int set_order(const void *a, const void *b)
{
    const struct trial_set *x = a, *y = b;
    if (x->n_plots != y->n_plots)
        return x->n_plots < y->n_plots ? -1 : 1;
    if (x->plants != y->plants)
        return x->plants < y->plants ? -1 : 1;
    return x->kinds < y->kinds ? -1 : x->kinds > y->kinds;
}

enum outcome trial_sets_make(unsigned asked, bool usual_mix, double dense_m2, double sparse_m2, double area_m2, struct arena *arena,
                             struct trial_sets *out, struct failure *why)
{
    if (asked == 0 || asked >= 1u << TRIAL_QUESTIONS) {
        fail(why, OUTCOME_USAGE, "Nothing that can be asked was named.");
        return failure_remedy(why, "Ask for recipe, soil, density, together or baseline, several joined by a comma.");
    }
    if (!(dense_m2 > 0 && sparse_m2 > 0 && area_m2 > 0))
        return fail(why, OUTCOME_USAGE, "Densities and the area of a plot must be above zero.");
    out->n = 0;
    out->best = SIZE_MAX;
    for (unsigned kinds = 1; kinds < 1u << TRIAL_KINDS; kinds++) {
        struct trial_plot plots[TRIAL_KINDS];
        struct trial_table table = {0};
        struct failure none;
        struct trial_set set = {.kinds = kinds};
        for (enum trial_kind kind = 0; kind < TRIAL_KINDS; kind++) {
            if (!(kinds >> kind & 1))
                continue;
            plots[set.n_plots++] = plot_of_kind(kind, usual_mix);
            bool dense = kind == TRIAL_KIND_D || kind == TRIAL_KIND_N;
            set.plants += kind == TRIAL_KIND_U ? 0 : area_m2 * (dense ? dense_m2 : sparse_m2);
        }
        if (set.n_plots < 2)
            continue;
        bool pair = trial_compare(plots, set.n_plots, arena, &table, &none) == OUTCOME_OK;
        set.answers = answers_of(kinds, &table, plots);
        set.sentence =
            pair ? table.summary : "One planted plot beside ground that is not planted: before and after, and what came by itself.";
        out->sets[out->n++] = set;
    }
    qsort(out->sets, out->n, sizeof *out->sets, set_order);
    for (size_t i = 0; i < out->n && out->best == SIZE_MAX; i++)
        if ((out->sets[i].answers & asked) == asked)
            out->best = i;
    return OUTCOME_OK;
}
