/* SPDX-License-Identifier: GPL-3.0-or-later
 * Solving a programme with GLPK, and a problem as a whole: solve, check, explain. */
#include "mix/mip.h"
#include <float.h>
#include <glpk.h>
#include <math.h>
#include <setjmp.h>
#include <stdlib.h>
#include <string.h>

/// What the callback shares with the search.
struct searching {
    const struct progress *progress;
    double bound, gap; ///< gap: absolute
    bool cancelled;
};

static void on_node(glp_tree *tree, void *info)
{
    struct searching *searching = info;
    int best = glp_ios_best_node(tree);
    if (best != 0)
        searching->bound = glp_ios_node_bound(tree, best);
    if (glp_ios_reason(tree) == GLP_ISELECT && best != 0 && searching->gap > 0 && glp_mip_status(glp_ios_get_prob(tree)) == GLP_FEAS &&
        glp_mip_obj_val(glp_ios_get_prob(tree)) - searching->bound <= searching->gap)
        glp_ios_terminate(tree);
    if (glp_ios_reason(tree) == GLP_ISELECT && !progress_tell(searching->progress, 0.5, "searching for the best mix")) {
        searching->cancelled = true;
        glp_ios_terminate(tree);
    }
}

static int bound_kind(double low, double high)
{
    bool open_low = low <= -DBL_MAX, open_high = high >= DBL_MAX;
    return open_low && open_high ? GLP_FR : open_low ? GLP_UP : open_high ? GLP_LO : low == high ? GLP_FX : GLP_DB;
}

static void mip_load(const struct mip *g, glp_prob *lp, struct arena *arena)
{
    if (g->n_rows > 0)
        glp_add_rows(lp, (int)g->n_rows);
    if (g->n_cols > 0)
        glp_add_cols(lp, (int)g->n_cols);
    glp_set_obj_dir(lp, GLP_MIN);
    glp_set_obj_coef(lp, 0, g->constant);
    for (size_t r = 0; r < g->n_rows; r++)
        glp_set_row_bnds(lp, (int)r + 1, bound_kind(g->row_low[r], g->row_high[r]), g->row_low[r], g->row_high[r]);
    for (size_t c = 0; c < g->n_cols; c++) {
        glp_set_col_bnds(lp, (int)c + 1, bound_kind(g->low[c], g->high[c]), g->low[c], g->high[c]);
        glp_set_obj_coef(lp, (int)c + 1, g->cost[c]);
        if (g->whole[c])
            glp_set_col_kind(lp, (int)c + 1, GLP_IV);
    }
    int *rows = arena_array(arena, g->n_terms + 1, sizeof *rows), *cols = arena_array(arena, g->n_terms + 1, sizeof *cols);
    double *terms = arena_array(arena, g->n_terms + 1, sizeof *terms);
    for (size_t t = 0; t < g->n_terms; t++) {
        rows[t + 1] = (int)g->term_row[t] + 1;
        cols[t + 1] = (int)g->term_col[t] + 1;
        terms[t + 1] = g->term[t];
    }
    glp_load_matrix(lp, (int)g->n_terms, rows, cols, terms);
}

static void solution_take(const struct mip *g, glp_prob *lp, int code, const struct searching *searching, struct arena *arena,
                          struct solution *out)
{
    int status = glp_mip_status(lp);
    out->cancelled = searching->cancelled;
    out->bound = searching->bound;
    if (code == GLP_ENOPFS || code == GLP_ENODFS || status == GLP_NOFEAS) {
        out->state = SOLVE_IMPOSSIBLE;
        return;
    }
    if (status != GLP_OPT && status != GLP_FEAS) {
        out->state = SOLVE_NOTHING;
        return;
    }
    out->x = arena_array(arena, g->n_cols + 1, sizeof *out->x);
    for (size_t c = 0; c < g->n_cols; c++)
        out->x[c] = glp_mip_col_val(lp, (int)c + 1);
    /* GLPK calls an answer optimal also where it stopped at the gap asked for */
    out->state = status == GLP_OPT && code == 0 ? SOLVE_BEST : SOLVE_FOUND;
    if (out->state == SOLVE_BEST)
        out->bound = glp_mip_obj_val(lp);
}

static _Thread_local jmp_buf glpk_broke;
static void on_error(void *info)
{
    (void)info;
    longjmp(glpk_broke, 1);
}

/* Between setjmp and the end nothing of ours is held but the arena, which survives; GLPK's memory is freed whole. */
static bool glpk_run(const struct mip *g, double seconds, struct searching *searching, struct arena *arena, struct solution *out)
{
    if (setjmp(glpk_broke) != 0) {
        glp_error_hook(NULL, NULL);
        glp_free_env();
        return false;
    }
    glp_error_hook(on_error, NULL);
    glp_term_out(GLP_OFF);
    glp_prob *lp = glp_create_prob();
    mip_load(g, lp, arena);
    glp_iocp control;
    glp_init_iocp(&control);
    control.msg_lev = GLP_MSG_OFF;
    control.presolve = GLP_ON;
    control.br_tech = GLP_BR_DTH;
    control.bt_tech = GLP_BT_BLB;
    control.mir_cuts = GLP_ON;
    control.cov_cuts = GLP_ON;
    control.tm_lim = seconds >= 2000000 ? INT32_MAX : (int)(1000 * seconds);
    control.cb_func = on_node;
    control.cb_info = searching;
    int code = glp_intopt(lp, &control);
    solution_take(g, lp, code, searching, arena, out);
    glp_delete_prob(lp);
    glp_error_hook(NULL, NULL);
    return true;
}

enum outcome mip_glpk(const struct mip *mip, double seconds, double gap, const struct progress *progress, struct arena *arena,
                      struct solution *out, struct failure *why)
{
    struct searching searching = {.progress = progress, .bound = -DBL_MAX, .gap = gap};
    *out = (struct solution){.state = SOLVE_IMPOSSIBLE, .bound = -DBL_MAX};
    out->solver = arena_print(arena, "GLPK %s", glp_version());
    if (mip->impossible)
        return OUTCOME_OK;
    if (mip->n_cols > 2000000 || mip->n_terms > 20000000)
        return fail(why, OUTCOME_USAGE, "The programme is too large: %zu columns.", mip->n_cols);
    if (!glpk_run(mip, seconds, &searching, arena, out)) {
        fail(why, OUTCOME_SYSTEM, "The solver GLPK broke down on this mix.");
        return failure_remedy(why, "Try with fewer rules; this is a fault to report.");
    }
    return OUTCOME_OK;
}

/* ---- a problem as a whole ---- */

static void counts_take(const struct problem *problem, const struct mip *g, const double *x, struct arena *arena, struct mix_result *out)
{
    size_t n = problem->n * problem->n_plots;
    out->plants = arena_array(arena, n, sizeof *out->plants);
    out->ordered = arena_array(arena, problem->n, sizeof *out->ordered);
    for (size_t k = 0; k < n; k++)
        out->plants[k] = g->plants_col[k] == SIZE_MAX ? 0 : (int64_t)llround(x[g->plants_col[k]]);
    for (size_t i = 0; i < problem->n; i++) {
        if (g->bundles_col[i] != SIZE_MAX)
            out->ordered[i] = problem->bundle[i] * (int64_t)llround(x[g->bundles_col[i]]);
        else
            for (size_t p = 0; p < problem->n_plots; p++)
                out->ordered[i] += out->plants[p * problem->n + i];
    }
}

static void result_describe(const struct problem *problem, struct mix_result *out)
{
    out->cost = 0;
    out->off_target = unknown_real();
    out->target = problem->target;
    int64_t *sums = memory_get(problem->n, sizeof *sums);
    for (size_t i = 0; i < problem->n; i++) {
        for (size_t p = 0; p < problem->n_plots; p++) {
            int64_t plants = out->plants[p * problem->n + i];
            sums[i] += plants;
            double target = problem->target == NULL ? unknown_real() : problem->target[p * problem->n + i];
            if (is_known(target))
                out->off_target = (is_known(out->off_target) ? out->off_target : 0) + fabs((double)plants - target);
        }
        out->species_used += sums[i] > 0;
        if (sums[i] > 0)
            out->cost = is_known(out->cost) && is_known(problem->species[i].price) ? out->cost + (double)sums[i] * problem->species[i].price
                                                                                   : unknown_real();
    }
    out->shannon = mix_shannon(sums, problem->n);
    free(sums);
}

/// What solving each plot by itself tells about all of them together.
struct apart {
    double bound;               ///< no answer for all is better than this; −DBL_MAX unknown
    int64_t *plants;            ///< the plots' own answers, NULL if one of them has none
    bool proven;                ///< every plot's own answer is proven best
    bool impossible;            ///< one plot alone cannot be met
    struct mix_result conflict; ///< and what conflicts there
};

/* Defaults of one plot that cannot be met give way in the whole problem; true if any did. */
static enum outcome one_yields(struct problem *problem, struct problem *one, size_t p, struct arena *arena, bool *yielded,
                               struct failure *why)
{
    enum outcome outcome = problem_yield(one, arena, yielded, why);
    size_t k = 0;
    for (size_t i = 0; i < problem->n_wishes && outcome == OUTCOME_OK && *yielded; i++)
        if (problem->wishes[i].plot == p || problem->wishes[i].plot == SIZE_MAX) {
            problem->wishes[i].value = one->wishes[k].value;
            problem->wishes[i].off = one->wishes[k++].off;
        }
    return outcome;
}

/* The wishes of one plot, and of what is shared those that hold for it alone as well. */
static enum outcome solve_apart(struct problem *problem, struct arena *arena, struct apart *out, struct failure *why)
{
    double share = problem->seconds / (4 * (double)problem->n_plots);
    double u = unknown_real();
    *out = (struct apart){.plants = arena_array(arena, problem->n * problem->n_plots, sizeof *out->plants),
                          .proven = true,
                          .conflict = {.off_target = u, .cost = u, .shannon = u, .objective = u, .bound = u, .gap = u}};
    for (size_t p = 0; p < problem->n_plots; p++) {
        struct problem one = *problem;
        one.plots = &problem->plots[p];
        one.n_plots = 1;
        one.bundle = NULL;
        one.target = problem->target == NULL ? NULL : problem->target + p * problem->n;
        one.absent = problem->absent == NULL ? NULL : problem->absent + p * problem->n;
        one.fit = problem->fit == NULL ? NULL : problem->fit + p * problem->n;
        one.wishes = arena_array(arena, problem->n_wishes + 1, sizeof *one.wishes);
        one.n_wishes = 0;
        for (size_t k = 0; k < problem->n_wishes; k++)
            if (problem->wishes[k].plot == p || problem->wishes[k].plot == SIZE_MAX) {
                one.wishes[one.n_wishes] = problem->wishes[k];
                if (problem->wishes[k].plot == p)
                    one.wishes[one.n_wishes].plot = 0;
                one.n_wishes++;
            }
        struct mip *g = mip_build(&one, false, arena);
        struct solution solution;
        enum outcome outcome = mip_glpk(g, share, 0, problem->progress, arena, &solution, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        bool yielded = false;
        if (solution.state == SOLVE_IMPOSSIBLE)
            outcome = one_yields(problem, &one, p, arena, &yielded, why);
        if (outcome == OUTCOME_OK && yielded) {
            g = mip_build(&one, false, arena);
            outcome = mip_glpk(g, share, 0, problem->progress, arena, &solution, why);
        }
        if (outcome != OUTCOME_OK)
            return outcome;
        if (solution.cancelled)
            return fail(why, OUTCOME_CANCELLED, "The search for a mix was called off.");
        if (solution.state == SOLVE_IMPOSSIBLE && !out->impossible) {
            outcome = problem_conflict(&one, arena, &out->conflict, why);
            if (problem->names != NULL)
                out->conflict.proof = arena_print(arena, "%s: %s", problem->names[p], out->conflict.proof);
        }
        if (outcome != OUTCOME_OK)
            return outcome;
        out->impossible |= solution.state == SOLVE_IMPOSSIBLE;
        out->proven &= solution.state == SOLVE_BEST;
        out->bound = out->bound <= -DBL_MAX || solution.bound <= -DBL_MAX ? -DBL_MAX : out->bound + solution.bound;
        for (size_t i = 0; i < problem->n && out->plants != NULL && solution.x != NULL; i++)
            out->plants[p * problem->n + i] = g->plants_col[i] == SIZE_MAX ? 0 : (int64_t)llround(solution.x[g->plants_col[i]]);
        if (solution.x == NULL)
            out->plants = NULL;
    }
    return OUTCOME_OK;
}

/* Whole bundles for given counts; false where the stock does not hold them. */
static bool order_make(const struct problem *problem, const int64_t *plants, int64_t *ordered)
{
    for (size_t i = 0; i < problem->n; i++) {
        int64_t bundle = problem->bundle == NULL || problem->bundle[i] < 1 ? 1 : problem->bundle[i];
        ordered[i] = 0;
        for (size_t p = 0; p < problem->n_plots; p++)
            ordered[i] += plants[p * problem->n + i];
        ordered[i] = (ordered[i] + bundle - 1) / bundle * bundle;
        if ((double)ordered[i] > wish_value(problem, WISH_STOCK, SIZE_MAX, i, HUGE_VAL))
            return false;
    }
    return true;
}
static bool order_affordable(const struct problem *problem, const int64_t *ordered)
{
    double money = wish_value(problem, WISH_BUDGET, SIZE_MAX, 0, HUGE_VAL), sum = 0;
    for (size_t i = 0; i < problem->n && money < HUGE_VAL; i++)
        sum += (double)ordered[i] * problem->species[i].price;
    return sum <= money * (1 + 1e-9);
}

static void result_judge(const struct problem *problem, double bound, double total, struct arena *arena, struct mix_result *out)
{
    out->bound = fmin(bound, out->objective);
    out->gap = (out->objective - out->bound) / total;
    bool best = out->gap <= problem->gap + 1e-9;
    out->state = best ? MIX_BEST : MIX_FOUND;
    if (best && problem->gap <= 0)
        out->proof = "Proven: no mix within these wishes comes closer to what was aimed at.";
    else if (best)
        out->proof = arena_print(arena, "Proven to lie within %.3g plants in 100 of the best there can be.", 100 * problem->gap);
    else
        out->proof =
            arena_print(arena, "The best found in %.3g s; it may fall short of the best there can be by up to %.3g plants (%.3g in 100).",
                        problem->seconds, out->objective - out->bound, 100 * out->gap);
}

/* Take given counts as the answer if they are allowed and better than what `out` holds. */
static bool answer_offer(const struct problem *problem, const int64_t *plants, struct arena *arena, struct mix_result *out)
{
    int64_t *ordered = arena_array(arena, problem->n, sizeof *ordered);
    if (plants == NULL || !order_make(problem, plants, ordered) || !order_affordable(problem, ordered) ||
        problem_breach(problem, plants, arena) != NULL)
        return false;
    double value = problem_value(problem, plants, ordered);
    if (out->plants != NULL && value >= out->objective)
        return false;
    size_t n = problem->n * problem->n_plots;
    out->plants = arena_array(arena, n, sizeof *plants);
    memcpy(out->plants, plants, n * sizeof *plants);
    out->ordered = ordered;
    out->objective = value;
    return true;
}

/* What conflicts; and where defaults can give way, the answer without it. */
static enum outcome solve_impossible(struct problem *problem, struct arena *arena, struct mix_result *out, struct failure *why)
{
    bool yielded = false;
    bool several = problem->n_plots > 1;
    enum outcome outcome = several ? problem_yield(problem, arena, &yielded, why) : problem_conflict(problem, arena, out, why);
    if (outcome == OUTCOME_OK && !several)
        outcome = problem_yield(problem, arena, &yielded, why);
    if (outcome == OUTCOME_OK && several && !yielded)
        outcome = problem_conflict(problem, arena, out, why);
    if (outcome != OUTCOME_OK || !yielded)
        return outcome;
    struct mix_result first = *out;
    outcome = problem_solve(problem, arena, out, why);
    out->conflict = first.conflict;
    out->n_conflict = first.n_conflict;
    out->conflict_smallest = first.conflict_smallest;
    out->together = first.together;
    out->n_together = first.n_together;
    problem_yielded(problem, arena, out);
    return outcome;
}

enum outcome problem_solve(struct problem *problem, struct arena *arena, struct mix_result *out, struct failure *why)
{
    double u = unknown_real(), total = 0;
    *out = (struct mix_result){.off_target = u, .cost = u, .shannon = u, .objective = u, .bound = u, .gap = u};
    for (size_t p = 0; p < problem->n_plots; p++)
        total += (double)problem->plots[p].total;
    struct apart apart = {.bound = -DBL_MAX};
    struct solution solution = {.state = SOLVE_NOTHING, .bound = -DBL_MAX};
    bool there = false, bundled = problem->bundle != NULL;
    enum outcome outcome = problem->n_plots > 1 ? solve_apart(problem, arena, &apart, why) : OUTCOME_OK;
    if (outcome != OUTCOME_OK)
        return outcome;
    out->solver = arena_print(arena, "GLPK %s", glp_version());
    if (apart.impossible) {
        const char *solver = out->solver;
        *out = apart.conflict;
        out->solver = solver;
        return OUTCOME_OK;
    }
    answer_offer(problem, apart.plants, arena, out);
    if (out->plants != NULL && apart.proven && out->objective - apart.bound <= problem->gap * total + 1e-7) {
        result_describe(problem, out); /* nothing is scarce: each plot's own best is the best of all */
        result_judge(problem, apart.bound, total, arena, out);
        problem_yielded(problem, arena, out);
        return OUTCOME_OK;
    }
    struct mip *g = mip_build(problem, false, arena);
    if (!g->impossible && (bundled || problem->n_plots > 1) && g->n_cols > 1000)
        outcome = mip_cbc(g, (g->n_cols > 20000 ? 0.5 : 0.7) * problem->seconds,
                          /* it overruns its limit on large ones */ problem->gap * total, arena, &there, &solution, why);
    if (outcome == OUTCOME_OK && !there)
        outcome = mip_glpk(g, problem->seconds, problem->gap * total, problem->progress, arena, &solution, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (solution.cancelled)
        return fail(why, OUTCOME_CANCELLED, "The search for a mix was called off.");
    out->solver = solution.solver;
    if (solution.state == SOLVE_IMPOSSIBLE && out->plants != NULL)
        return fail(why, OUTCOME_SYSTEM, "The solver calls a mix impossible that was found.");
    if (solution.state == SOLVE_IMPOSSIBLE)
        return solve_impossible(problem, arena, out, why);
    if (solution.state != SOLVE_NOTHING) {
        struct mix_result answer = {.objective = u};
        counts_take(problem, g, solution.x, arena, &answer);
        const char *breach = problem_breach(problem, answer.plants, arena);
        if (breach != NULL)
            return fail(why, OUTCOME_SYSTEM, "The solver's answer breaks a wish: %s.", breach);
        if (!answer_offer(problem, answer.plants, arena, out) && out->plants == NULL)
            return fail(why, OUTCOME_SYSTEM, "The solver's answer cannot be ordered.");
    }
    if (out->plants == NULL) {
        out->state = MIX_NOTHING;
        out->proof = arena_print(arena, "No mix was found within %.3g s; it is not known whether there is one.", problem->seconds);
        return OUTCOME_OK;
    }
    result_describe(problem, out);
    result_judge(problem, solution.state == SOLVE_BEST && problem->gap <= 0 ? out->objective : fmax(solution.bound, apart.bound), total,
                 arena, out);
    problem_yielded(problem, arena, out);
    return OUTCOME_OK;
}
