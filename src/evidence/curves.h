/* SPDX-License-Identifier: GPL-3.0-or-later
 * Lives over time of groups of plots: exact and between visits, with what was not found, by cause, and with the plot as the unit. */
#ifndef SPINNEY_EVIDENCE_CURVES_H
#define SPINNEY_EVIDENCE_CURVES_H
#include "evidence/evidence.h"

/// Causes of death that damage on the record tells, put together.
enum death_cause {
    DEATH_NOT_RECORDED,
    DEATH_DROUGHT,
    DEATH_WEATHER,  ///< waterlogging, frost or salt, wind
    DEATH_BROWSING, ///< deer, rabbits, voles
    DEATH_PEST,     ///< insects, fungi
    DEATH_PEOPLE,   ///< machines, vandals, trampling, dogs
    DEATH_SHADE,    ///< overtopped
    DEATH_CAUSES
};
const char *death_cause_words(enum death_cause cause);
enum death_cause death_cause_of(enum damage_agent damage);

struct curves_wish {
    const size_t *group; ///< per plot: index into `names`; SIZE_MAX: left out
    const char *const *names;
    size_t n_groups;
    double level;
    double not_found_dead; ///< chance that a plant that was not found is dead, for a view of its own; NaN: none
    size_t draws;          ///< of plots, for intervals that know plants of a plot are alike; 0: 400
    uint64_t seed;
};
struct group_curve {
    const char *name;
    size_t plots, plants, deaths, open; ///< open: not found at the last look, and never seen since
    struct survival_curve km;           ///< a death dated to the round that found it; not found: censored when last seen
    struct survival_curve worst, best;  ///< not found: dead when first missed; alive to the end. Empty where none is open
    struct survival_curve stated;       ///< dead with the chance wished for; empty where none was
    struct turnbull interval;           ///< death known only between two visits, optimality proven by `gap`
    double end;                         ///< last look, years
    struct estimate by_plot;            ///< survival at `end`, interval from whole plots drawn again; unknown under 5 plots
    struct estimate per_year;           ///< survival per year, mean over plots, Student t over plots
    struct estimate annual;             ///< survival per year of all plants together: S(t)^(1/t) at the last visit, limits likewise
    struct estimate share;              ///< alive at the last visit, mean over plots, Student t over plots
    size_t died_of[DEATH_CAUSES];
    struct incidence_curve causes; ///< share dead of each cause (of those with deaths); cause k of the curve is cause_of[k]
    enum death_cause cause_of[DEATH_CAUSES];
};
struct group_curves {
    struct group_curve *groups;
    size_t n, sites;
    struct group_test logrank;           ///< plants as if independent; chi-squared unknown under 2 groups
    struct group_test logrank_sites;     ///< the same with sites as strata; unknown where the groups never meet on a site
    struct interval_test interval_test;  ///< Sun's scores on the intervals, plants as if independent
    struct interval_test interval_sites; ///< shuffled within sites only
    bool has_interval_test, has_sites;
    struct shuffle_test by_plot; ///< annual survival of plots, labels shuffled over the plots of each site: the plot is the unit
    bool has_by_plot;            ///< at least two plots in two groups
    struct estimate difference;  ///< two groups of at least two plots: share of the first minus the second, Welch, by plot
    struct test welch;           ///< its test
    const char *rung;            ///< of the claim ladder: counted, compared, repeated
    const char *cannot;          ///< what a difference between these groups cannot tell
    const char *sentence;
};
/// Plots without a day of planting start at their first census. Fails with OUTCOME_DATA where no plot has two censuses.
enum outcome evidence_curves(const struct plot_lives *lives, size_t n_plots, const struct curves_wish *wish, struct arena *arena,
                             struct group_curves *out, struct failure *why);

/// Plants that are not of the first planting, apart: replacements and natural arrivals of a plot.
struct later_plants {
    const struct plot_lives *lives;
    enum origin origin;
    int64_t plants, alive, dead, open;
    struct estimate survival; ///< alive of alive + dead; natural arrivals count from when they were first seen
};
/// One for each plot and origin that occurs.
enum outcome evidence_later(const struct plot_lives *lives, size_t n_plots, double level, struct arena *arena, struct later_plants **out,
                            size_t *n, struct failure *why);

/// Share alive of `alive` + `dead` + `not_found`, each not found dead with chance q: (alive + (1 − q) not_found) / all, interval Wilson
/// on the effective number that the added variance n_f q (1 − q) leaves. Rubin 1987 for adding the variance of what was imputed.
enum outcome survival_stated(double alive, double dead, double not_found, double q, double level, struct estimate *out,
                             struct failure *why);
#endif
