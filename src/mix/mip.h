/* SPDX-License-Identifier: GPL-3.0-or-later
 * A mixed-integer programme as plain arrays, the wishes it is made from, and the solvers behind it. Private to mix/. */
#ifndef SPINNEY_MIX_MIP_H
#define SPINNEY_MIX_MIP_H
#include "mix/mix.h"

/* ---- what is asked ---- */

enum wish_kind {
    WISH_LAYER_LEAST,
    WISH_LAYER_MOST,
    WISH_PIONEER_LEAST,
    WISH_PIONEER_MOST,
    WISH_TALL_MOST,
    WISH_SPECIES_MOST,
    WISH_GENUS_MOST,
    WISH_FAMILY_MOST,
    WISH_PEST_MOST,
    WISH_EACH_LEAST,
    WISH_COUNT_LEAST,
    WISH_COUNT_MOST,
    WISH_BUDGET,
    WISH_ONE_LEAST, ///< of one species
    WISH_ONE_MOST,
    WISH_STOCK
};
/// One wish with its figure in whole plants, species or units of money.
struct wish {
    enum wish_kind kind;
    size_t plot;  ///< SIZE_MAX: over all plots
    size_t what;  ///< layer or species
    double value; ///< figure in force
    double asked; ///< figure asked for
    double end;   ///< figure at which it asks for nothing any more
    bool off;     ///< left out for now
    bool yields;  ///< a default nobody asked for by name: it may give way
    const char *reason;
};

struct problem {
    const struct mix_species *species;
    size_t n;
    const struct mix_settings *plots;
    size_t n_plots;
    const int64_t *bundle;    ///< NULL: none
    double surplus;           ///< weight of a surplus plant
    const double *fit;        ///< [n_plots × n], NULL: the species' own
    const bool *absent;       ///< [n_plots × n], NULL: none
    const char *const *names; ///< [n_plots], NULL: by number
    const double *target;     ///< [n_plots × n] composition aimed at; NaN: none for that species
    struct wish *wishes;
    size_t n_wishes;
    double seconds, gap;
    const struct progress *progress;
};

/// All wishes of the plots, of the stock and of the shared budget. Fails where a setting is out of its range.
enum outcome problem_wishes(struct problem *problem, double budget, struct arena *arena, struct failure *why);
/// Composition aimed at, from frequencies and layer shares. [n]
double *plot_target(const struct mix_species *species, size_t n, const struct mix_settings *settings, struct arena *arena);
const char *wish_words(const struct problem *problem, const struct wish *wish, struct arena *arena);
const char *wish_relax(const struct problem *problem, const struct wish *wish, double enough, struct arena *arena);
/// A figure of this wish in words, such as "108 plants (36 % of 300)".
const char *wish_figure(const struct problem *problem, const struct wish *wish, double figure, struct arena *arena);
/// The part of the settings that a wish comes from; 0: none that can be a default.
unsigned wish_part(const struct wish *wish);
/// The figure in force, or `otherwise` if there is no such wish or it is off.
double wish_value(const struct problem *problem, enum wish_kind kind, size_t plot, size_t what, double otherwise);

/* ---- the programme ---- */

struct mip {
    size_t n_cols, n_rows, n_terms, cols_room, rows_room, terms_room;
    double *low, *high, *cost;  ///< of columns
    bool *whole;                ///< integer columns
    double *row_low, *row_high; ///< −DBL_MAX, DBL_MAX: open
    size_t *term_row, *term_col;
    double *term;
    double constant;     ///< added to the objective
    bool impossible;     ///< bounds already contradict each other
    size_t *plants_col;  ///< [n_plots × n] column of the count, SIZE_MAX where it is zero
    size_t *bundles_col; ///< [n] column of the number of bundles, SIZE_MAX: none
};
/// Grow a programme by a column, a row, a term; the index of the new one.
size_t mip_col(struct mip *g, struct arena *arena, double low, double high, double cost, bool whole);
size_t mip_row(struct mip *g, struct arena *arena, double low, double high);
void mip_term(struct mip *g, struct arena *arena, size_t row, size_t col, double value);
/// Build the programme of the wishes that are in force; without an objective if `only_possible`. The arena owns it.
struct mip *mip_build(const struct problem *problem, bool only_possible, struct arena *arena);
/// Value of the objective for given counts, by the same functions. `ordered` may be NULL.
double problem_value(const struct problem *problem, const int64_t *plants, const int64_t *ordered);
/// The first wish or fact that given counts break, in words; NULL if none.
const char *problem_breach(const struct problem *problem, const int64_t *plants, struct arena *arena);

/// Usual wishes (that may yield) which given counts do not keep, in a sentence; NULL if there are none.
const char *problem_unmet(const struct problem *problem, const int64_t *plants, struct arena *arena);

enum solve_state { SOLVE_BEST, SOLVE_FOUND, SOLVE_IMPOSSIBLE, SOLVE_NOTHING };
struct solution {
    enum solve_state state;
    double *x; ///< [n_cols]
    double bound;
    bool cancelled;
    const char *solver;
};
/// `gap` is absolute, in units of the objective.
enum outcome mip_glpk(const struct mip *mip, double seconds, double gap, const struct progress *progress, struct arena *arena,
                      struct solution *out, struct failure *why);
/// Through the program `cbc` as a child; *there is false if it is not installed.
enum outcome mip_cbc(const struct mip *mip, double seconds, double gap, struct arena *arena, bool *there, struct solution *out,
                     struct failure *why);
char *mip_mps(const struct mip *mip, struct arena *arena);

/// Solve a problem whose wishes are set, and fill the result (state, counts, bounds, conflict).
enum outcome problem_solve(struct problem *problem, struct arena *arena, struct mix_result *out, struct failure *why);
enum outcome problem_conflict(struct problem *problem, struct arena *arena, struct mix_result *out, struct failure *why);

/* ---- whether wishes can be met ---- */

enum answer { ANSWER_POSSIBLE, ANSWER_IMPOSSIBLE, ANSWER_UNDECIDED };
/// A row of questions about one problem.
struct asking {
    struct problem *problem;
    size_t checks;
    bool undecided; ///< some question ran out of time
    enum outcome outcome;
    struct failure *why;
};
/// Whether the wishes in force can be met.
enum answer asking_ask(struct asking *a);
/// Least change of one wish that makes the wishes in force possible; NaN if none does.
double asking_enough(struct asking *a, struct wish *wish);

/// Let defaults give way: where it can be done, `value` (or `off`) of as few of them as possible is set to what will do, as near
/// to what was asked as the others then allow. *yielded false: they cannot help, and nothing was changed.
enum outcome problem_yield(struct problem *problem, struct arena *arena, bool *yielded, struct failure *why);
/// Say in the result which defaults gave way.
void problem_yielded(const struct problem *problem, struct arena *arena, struct mix_result *out);
#endif
