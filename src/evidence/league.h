/* SPDX-License-Identifier: GPL-3.0-or-later
 * Species league: how species lived, cleared of the plots they stood in and drawn towards one another as far as chance asks. */
#ifndef SPINNEY_EVIDENCE_LEAGUE_H
#define SPINNEY_EVIDENCE_LEAGUE_H
#include "evidence/evidence.h"

/// What to do with a species. Rules of thumb, common practice, no source; the limits are in struct league_rules.
enum league_verdict { LEAGUE_TOO_FEW, LEAGUE_MORE, LEAGUE_KEEP, LEAGUE_DROP };
const char *league_verdict_words(enum league_verdict verdict); ///< "plant more", "keep", "drop", "too few to tell"

struct league_rules {
    int64_t least_shown;  ///< plants under which no percentage is shown (10)
    int64_t least_judged; ///< plants under which nothing is advised (20)
    double sure;          ///< chance asked for before advising (0.9)
    double margin;        ///< how far under the common survival a species must lie to be dropped (0.10)
    double widest;        ///< interval wider than this: too few to tell (0.30)
};
extern const struct league_rules league_rules_usual;

struct league_line {
    const char *species;
    size_t plots;
    int64_t alive, known;             ///< first planting, alive of alive + dead at the last census of each plot
    struct estimate raw;              ///< Wilson
    struct estimate fair;             ///< chance on an average plot, partially pooled
    double rank, rank_low, rank_high; ///< 1 is best
    double p_above, p_below;          ///< chance that it lies above the common survival; below it by the margin
    enum league_verdict verdict;
};
struct species_league {
    struct league_line *lines; ///< best first by `fair`
    size_t n, plots, sites;
    double common;  ///< survival of an average species on an average plot
    bool by_model;  ///< logistic mixed model with plot and species effects; else the beta-binomial of counts
    double spread;  ///< sd of species effects (logits) or NaN
    bool no_spread; ///< species differ no more than chance would have it
    const char *sentence;
};
/// Plots whose index is in `plots`; those without a census are passed over. Fails with OUTCOME_DATA where fewer than two
/// species have a known state. Bates et al. 2015; Morris 1983 (J Am Stat Assoc 78:47) for the reason; ranks from draws of
/// the species effects together, seeded. Intervals are of species against one another: how good the sites were is not in them.
enum outcome evidence_league(const struct plot_lives *lives, const size_t *plots, size_t n_plots, const struct league_rules *rules,
                             double level, uint64_t seed, struct arena *arena, struct species_league *out, struct failure *why);
#endif
