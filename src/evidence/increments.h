/* SPDX-License-Identifier: GPL-3.0-or-later
 * Growth further: season by season, at the edge and inside, how far crowns have closed, plots held against each other on the same
 * kinds of plant, and all plots in one model. */
#ifndef SPINNEY_EVIDENCE_INCREMENTS_H
#define SPINNEY_EVIDENCE_INCREMENTS_H
#include "evidence/sites.h"

/// Growing seasons between two days: one for each 1 April to 30 September, in part where a day lies within. Common practice for the
/// temperate north, no source.
double growing_seasons(int32_t from, int32_t to);

/// Growth of the same plants from one census to the next.
struct season_growth {
    size_t from, to; ///< census indices
    double seasons, years;
    size_t n;                 ///< plants alive and measured at both
    struct estimate gain_cm;  ///< per growing season, Student t over plants
    struct estimate rgr;      ///< mean of (ln h2 − ln h1)/seasons; plants of height 0 left out
    struct estimate naive_cm; ///< mean of all alive now less mean of all alive then, per season: the reading that flatters
    bool crosses;             ///< one of the two censuses lies inside a growing season: the share of it is guessed by days
};
struct plot_seasons {
    const struct plot_lives *lives;
    struct season_growth *steps;
    size_t n;
    struct estimate first_cm; ///< height at the first census that measured, all of the first planting
    const char *sentence;     ///< NULL where nothing was measured twice
};
/// Censuses under half a growing season apart are passed over.
enum outcome evidence_seasons(const struct plot_lives *lives, double level, struct arena *arena, struct plot_seasons *out,
                              struct failure *why);

/// Middle and spread of the heights of the same plants over time: those alive and measured at the last census that measured.
struct plot_fan {
    size_t n;                                                             ///< censuses at which at least 10 of them were measured
    double *years, *middle, *low_half, *high_half, *low_most, *high_most; ///< cm: median, 25–75 %, 5–95 %
    size_t plants;
};
enum outcome evidence_fan(const struct plot_lives *lives, struct arena *arena, struct plot_fan *out, struct failure *why);

/// Survival and growth of the outer strip of a plot against its inside.
struct edge_growth {
    const struct plot_lives *lives;
    double strip_m, inside_share;  ///< width of the strip; share of the ground inside it
    int64_t alive[2], known[2];    ///< edge, inside
    struct estimate survival[2];   ///< Wilson
    struct estimate gain_cm[2];    ///< per growing season, the same plants, first to last measured census
    struct estimate difference_cm; ///< edge less inside, Welch; the precision of this plot
    const char *sentence;
};
/// Fails with OUTCOME_DATA where the plot has no outline, plants no place, or one of the two has under 10 plants.
enum outcome evidence_edge(const struct plot_lives *lives, double strip_m, double level, struct arena *arena, struct edge_growth *out,
                           struct failure *why);

/// How much of the ground crowns cover, from crown widths at a census.
struct canopy_closure {
    size_t census, measured, alive;
    double crowns_m2_m2; ///< crown area over net area, overlaps counted twice; unmeasured plants taken as the mean of the measured
    double closed;       ///< 1 − exp(−crowns): share covered if crowns lie by chance (Crookston & Stage 1999, RMRS-GTR-24)
};
/// Fails with OUTCOME_DATA where under 10 crowns were measured or the area is not known.
enum outcome evidence_canopy(const struct plot_lives *lives, struct arena *arena, struct canopy_closure *out, struct failure *why);

/// Same-plant gain per growing season of two regimes, site by site, on the species both plots have, species counting alike.
struct growth_pair {
    const struct site *site;
    size_t a, b, species;
    double a_cm, b_cm; ///< per season
    double naive_cm;   ///< mean height of whoever is alive now, a less b
    double first_cm;   ///< mean height at the start, a less b; NaN not measured
    bool unequal_care;
};
struct growth_pairs {
    struct growth_pair *pairs;
    size_t n;
    struct paired_answer answer; ///< of a_cm − b_cm
    struct estimate naive_cm;    ///< of naive_cm: what mean heights would have said
    const char *sentence;
};
enum outcome evidence_growth_pairs(const struct evidence_facts *facts, const struct plot_lives *lives, enum regime a, enum regime b,
                                   double level, struct arena *arena, struct growth_pairs *out, struct failure *why);

/// Gain per growing season of every plant measured at the first and the last census, in a linear mixed model: regimes and height at
/// the start fixed, site, plot and species random; restricted likelihood, Satterthwaite's degrees of freedom.
struct growth_model {
    enum regime *regimes; ///< the reference first
    size_t n, plants, plots, sites, species;
    struct estimate *gain_cm; ///< of each regime less the reference, cm per season; the reference: its own gain at mean start height
    double *df, *p;
    double per_start; ///< cm of gain for each cm of height at the start
    double sd_site, sd_plot, sd_species, sd_plant;
    const char *sentence;
};
/// Fails with OUTCOME_DATA under two regimes, two sites or four plots.
enum outcome evidence_growth_model(const struct plot_lives *lives, size_t n_plots, double level, struct arena *arena,
                                   struct growth_model *out, struct failure *why);

/// Whether plants of plot a are taller than the gap to plot b is wide, at the last census of a: then b may stand in its shade.
struct shading {
    double gap_m, tallest_m; ///< between the outlines; mean of the tallest tenth of the plants measured (three at least)
    bool shades;
};
/// Fails with OUTCOME_DATA where an outline or heights are missing.
enum outcome evidence_shading(const struct plot_lives *a, const struct plot_lives *b, struct arena *arena, struct shading *out,
                              struct failure *why);
#endif
