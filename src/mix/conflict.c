/* SPDX-License-Identifier: GPL-3.0-or-later
 * Wishes that cannot be met together: the fewest that conflict, and how far each would have to give way alone.
 *
 * The smallest conflict is found by implicit hitting sets (Ignatiev, Previti, Liffiton & Marques-Silva 2015, Smallest MUS
 * extraction with minimal hitting set dualization, CP 2015, LNCS 9255: 173-182): every set of wishes whose removal makes
 * the rest possible must share a wish with every conflict, so the least set that meets all such sets found so far, once it
 * is itself a conflict, is a smallest one. */
#include "mix/mip.h"
#include <float.h>
#include <math.h>
#include <string.h>

enum { MOST_ROUNDS = 400, MOST_CHECKS = 20000 };
/* Whether the wishes in force can be met. The memory of each question goes back at its end. */
enum answer asking_ask(struct asking *a)
{
    struct arena arena = {0};
    struct solution solution = {.state = SOLVE_NOTHING};
    if (a->checks++ < MOST_CHECKS && a->outcome == OUTCOME_OK) {
        struct mip *g = mip_build(a->problem, true, &arena);
        a->outcome = mip_glpk(g, fmin(a->problem->seconds, 5), 0, a->problem->progress, &arena, &solution, a->why);
        if (a->outcome == OUTCOME_OK && solution.cancelled)
            a->outcome = fail(a->why, OUTCOME_CANCELLED, "The search for what conflicts was called off.");
    }
    arena_clear(&arena);
    if (solution.state == SOLVE_IMPOSSIBLE)
        return ANSWER_IMPOSSIBLE;
    if (solution.state == SOLVE_NOTHING) {
        a->undecided = true;
        return ANSWER_UNDECIDED;
    }
    return ANSWER_POSSIBLE;
}

static void wishes_only(struct problem *problem, const bool *in)
{
    for (size_t k = 0; k < problem->n_wishes; k++)
        problem->wishes[k].off = !in[k];
}

/* From a set of wishes that can be met to one that cannot grow; what is left out of it goes to `rest`. */
static void grow(struct asking *a, bool *in, bool *rest)
{
    struct problem *problem = a->problem;
    for (size_t k = 0; k < problem->n_wishes; k++) {
        rest[k] = false;
        if (in[k])
            continue;
        in[k] = true;
        wishes_only(problem, in);
        if (asking_ask(a) == ANSWER_IMPOSSIBLE) {
            in[k] = false;
            rest[k] = true;
        }
    }
}

/* The least set of wishes that meets every one of the sets: a small programme of its own. */
static bool meet_all(const struct asking *a, bool *const *sets, size_t n_sets, bool *in, struct failure *why)
{
    struct arena arena = {0};
    size_t n = a->problem->n_wishes, terms = 0;
    for (size_t s = 0; s < n_sets; s++)
        for (size_t k = 0; k < n; k++)
            terms += sets[s][k];
    struct mip g = {.n_cols = n, .n_rows = n_sets, .n_terms = terms};
    g.low = arena_array(&arena, n, sizeof *g.low);
    g.high = arena_array(&arena, n, sizeof *g.high);
    g.cost = arena_array(&arena, n, sizeof *g.cost);
    g.whole = arena_array(&arena, n, sizeof *g.whole);
    g.row_low = arena_array(&arena, n_sets + 1, sizeof *g.row_low);
    g.row_high = arena_array(&arena, n_sets + 1, sizeof *g.row_high);
    g.term_row = arena_array(&arena, terms + 1, sizeof *g.term_row);
    g.term_col = arena_array(&arena, terms + 1, sizeof *g.term_col);
    g.term = arena_array(&arena, terms + 1, sizeof *g.term);
    for (size_t k = 0; k < n; k++) {
        g.high[k] = 1;
        g.cost[k] = 1;
        g.whole[k] = true;
    }
    size_t t = 0;
    for (size_t s = 0; s < n_sets; s++) {
        g.row_low[s] = 1;
        g.row_high[s] = DBL_MAX;
        for (size_t k = 0; k < n; k++)
            if (sets[s][k]) {
                g.term_row[t] = s;
                g.term_col[t] = k;
                g.term[t++] = 1;
            }
    }
    struct solution solution;
    bool good = mip_glpk(&g, 5, 0, NULL, &arena, &solution, why) == OUTCOME_OK && solution.state == SOLVE_BEST;
    for (size_t k = 0; k < n && good; k++)
        in[k] = solution.x[k] > 0.5;
    arena_clear(&arena);
    return good;
}

/* Take wishes out one by one as long as the rest still conflicts: none of what is left can be spared. */
static void shrink(struct asking *a, bool *in)
{
    struct problem *problem = a->problem;
    for (size_t k = 0; k < problem->n_wishes; k++) {
        if (!in[k])
            continue;
        in[k] = false;
        wishes_only(problem, in);
        if (asking_ask(a) != ANSWER_IMPOSSIBLE)
            in[k] = true;
    }
}

/* Fills `in` with the conflict, and `fewest` with the smallest set of wishes found whose removal makes the rest possible;
 * true if the conflict is proven to be a smallest one. */
static bool smallest(struct asking *a, bool *in, bool *fewest, struct arena *arena)
{
    struct problem *problem = a->problem;
    size_t n = problem->n_wishes, n_sets = 0, least = SIZE_MAX;
    bool **sets = arena_array(arena, MOST_ROUNDS, sizeof *sets);
    memset(in, 0, n * sizeof *in);
    while (a->outcome == OUTCOME_OK && n_sets < MOST_ROUNDS && a->checks < MOST_CHECKS) {
        if (n_sets > 0 && !meet_all(a, sets, n_sets, in, a->why))
            break;
        wishes_only(problem, in);
        enum answer answer = asking_ask(a);
        if (answer == ANSWER_IMPOSSIBLE)
            return !a->undecided;
        if (answer == ANSWER_UNDECIDED)
            break;
        sets[n_sets] = arena_array(arena, n + 1, sizeof **sets);
        grow(a, in, sets[n_sets]);
        size_t size = 0;
        for (size_t k = 0; k < n; k++)
            size += sets[n_sets][k];
        if (size > 0 && size < least) {
            least = size;
            memcpy(fewest, sets[n_sets], n * sizeof *fewest);
        }
        if (size == 0) /* everything can be met after all: the first answer was a time-out in disguise */
            break;
        n_sets++;
    }
    for (size_t k = 0; k < n; k++)
        in[k] = true;
    shrink(a, in);
    return false;
}

static bool raises(enum wish_kind kind)
{
    return kind != WISH_LAYER_LEAST && kind != WISH_PIONEER_LEAST && kind != WISH_EACH_LEAST && kind != WISH_COUNT_LEAST &&
           kind != WISH_ONE_LEAST;
}

static bool enough_at(struct asking *a, struct wish *wish, double value)
{
    double had = wish->value;
    wish->value = value;
    enum answer answer = asking_ask(a);
    wish->value = had;
    return answer == ANSWER_POSSIBLE;
}

/* Least change of one wish that makes everything possible, all others as they stand; NaN if none does. */
double asking_enough(struct asking *a, struct wish *wish)
{
    double bad = wish->asked, good = wish->end;
    if (good == HUGE_VAL) { /* money: doubled until it is enough */
        good = fmax(1, wish->asked);
        for (int i = 0; i < 40 && !enough_at(a, wish, good); i++)
            good *= 2;
    }
    if (!enough_at(a, wish, good))
        return unknown_real();
    double step = wish->kind == WISH_BUDGET ? 0.01 : 1;
    while (fabs(good - bad) > step * 1.0001) {
        double middle = raises(wish->kind) ? floor((good + bad) / 2 / step) * step : ceil((good + bad) / 2 / step) * step;
        if (fabs(middle - bad) < step / 2 || fabs(middle - good) < step / 2)
            break;
        if (enough_at(a, wish, middle))
            good = middle;
        else
            bad = middle;
    }
    return good;
}

/* Changes that would do together: the wishes of the set give way whole, then each is drawn back as far as the others, as
 * they then stand, allow. */
static void together_make(struct asking *a, const bool *set, struct arena *arena, struct mix_result *out)
{
    struct problem *problem = a->problem;
    size_t n = problem->n_wishes;
    for (size_t k = 0; k < n; k++) {
        problem->wishes[k].off = false;
        if (set[k])
            problem->wishes[k].off = true;
    }
    if (asking_ask(a) != ANSWER_POSSIBLE)
        return;
    out->together = arena_array(arena, n + 1, sizeof *out->together);
    for (size_t k = 0; k < n && a->outcome == OUTCOME_OK; k++) {
        if (!set[k])
            continue;
        struct wish *wish = &problem->wishes[k];
        wish->off = false;
        wish->value = asking_enough(a, wish);
        if (!is_known(wish->value)) { /* it can only be left out */
            wish->value = wish->asked;
            wish->off = true;
            continue;
        }
        out->together[out->n_together++] = (struct mix_conflict){.wish = wish_words(problem, wish, arena),
                                                                 .asked = wish->asked,
                                                                 .enough = wish->value,
                                                                 .relax = wish_relax(problem, wish, wish->value, arena)};
    }
    for (size_t k = 0; k < n; k++) {
        problem->wishes[k].off = false;
        problem->wishes[k].value = problem->wishes[k].asked;
    }
}

static double enough_of(struct asking *a, struct wish *wish)
{
    for (size_t k = 0; k < a->problem->n_wishes; k++)
        a->problem->wishes[k].off = false;
    return asking_enough(a, wish);
}

static void conflict_say(const struct problem *problem, const struct mix_result *out, struct text *text)
{
    if (out->n_conflict == 0) {
        double total = 0;
        for (size_t p = 0; p < problem->n_plots; p++)
            total += (double)problem->plots[p].total;
        text_print(text, "No mix of %.0f plants can be made of this list at all: none of its species may be planted.", total);
        return;
    }
    text_print(text,
               out->n_conflict == 1 ? "This wish cannot be met with the species on the list: " : "These wishes cannot be met together: ");
    for (size_t k = 0; k < out->n_conflict; k++)
        text_print(text, "%s%s", k == 0 ? "" : k + 1 == out->n_conflict ? " and " : "; ", out->conflict[k].wish);
    text_print(text, ".");
    if (out->n_together > 0)
        text_print(text, " It can be met with:");
    for (size_t k = 0; k < out->n_together; k++) {
        const char *relax = out->together[k].relax;
        size_t length = strcspn(relax, ",.");
        while (relax[length] == '.' && relax[length + 1] != '\0' && relax[length + 1] != ' ') /* a decimal point */
            length += 1 + strcspn(relax + length + 1, ",.");
        text_print(text, "%s %s → %c%.*s", k == 0 ? "" : ";", out->together[k].wish, relax[0] == '\0' ? ' ' : (char)(relax[0] | 0x20),
                   (int)length - 1, relax + 1);
    }
    if (out->n_together > 0)
        text_print(text, ".");
}

enum outcome problem_conflict(struct problem *problem, struct arena *arena, struct mix_result *out, struct failure *why)
{
    struct asking a = {.problem = problem, .outcome = OUTCOME_OK, .why = why};
    bool *in = arena_array(arena, problem->n_wishes + 1, sizeof *in), *fewest = arena_array(arena, problem->n_wishes + 1, sizeof *fewest);
    out->state = MIX_IMPOSSIBLE;
    out->conflict_smallest = smallest(&a, in, fewest, arena);
    out->conflict = arena_array(arena, problem->n_wishes + 1, sizeof *out->conflict);
    for (size_t k = 0; k < problem->n_wishes && a.outcome == OUTCOME_OK; k++) {
        if (!in[k])
            continue;
        struct wish *wish = &problem->wishes[k];
        double enough = enough_of(&a, wish);
        out->conflict[out->n_conflict++] = (struct mix_conflict){.wish = wish_words(problem, wish, arena),
                                                                 .asked = wish->asked,
                                                                 .enough = enough,
                                                                 .relax = wish_relax(problem, wish, enough, arena)};
    }
    if (a.outcome == OUTCOME_OK && out->n_conflict > 0)
        together_make(&a, fewest, arena, out);
    if (a.outcome != OUTCOME_OK)
        return a.outcome;
    struct text text = {0};
    conflict_say(problem, out, &text);
    out->proof = arena_text(arena, text_get(&text));
    text_free(&text);
    return OUTCOME_OK;
}
