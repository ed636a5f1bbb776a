/* SPDX-License-Identifier: GPL-3.0-or-later
 * Wildlife and fungi further: what equal effort would have found, how alike plots are, before and after against a
 * comparison. */
#ifndef SPINNEY_EVIDENCE_WILD_H
#define SPINNEY_EVIDENCE_WILD_H
#include "evidence/sites.h"

/// All looks in order of plot, group and day, with what each found.
struct wild_entry {
    size_t taxon; ///< within its group
    double count; ///< individuals; present but not counted is 1
};
struct wild_look {
    const struct wildlife_visit *visit;
    size_t plot; ///< index of the plot
    enum wildlife_group group;
    size_t first, n; ///< its entries
    double individuals;
    double effort;    ///< NaN: not recorded
    const char *unit; ///< of the effort
};
struct wild {
    struct wild_look *looks;
    size_t n_looks;
    struct wild_entry *entries;
    size_t n_entries;
    const char **taxa[WILDLIFE_GROUP_COUNT]; ///< names in alphabetical order
    size_t n_taxa[WILDLIFE_GROUP_COUNT];
    size_t uncounted; ///< sightings without a number
};
enum outcome evidence_wild(const struct evidence_facts *facts, struct arena *arena, struct wild *out, struct failure *why);

/// Kinds against looks of one plot and group: orders 0, 1 and 2, rarefied up to the looks made and extrapolated to twice as many.
struct wild_curve {
    const struct plot *plot;
    const struct site *site;
    enum wildlife_group group;
    size_t looks, taxa, once, n;
    double *m;                ///< looks, n of them
    struct estimate *hill[3]; ///< kinds at each m; intervals by bootstrap (Chao et al. 2014)
    double asymptote[3], coverage;
    double individuals[3];       ///< Hill numbers by individuals
    struct estimate at_coverage; ///< kinds at the coverage that all plots of the group on the site can give; interval unknown
    double common_coverage;
};
/// For every plot and group with two looks or more and a kind or more. `draws` of the bootstrap (0: 100).
enum outcome evidence_wild_curves(const struct evidence_facts *facts, const struct wild *wild, double level, size_t draws, uint64_t seed,
                                  struct arena *arena, struct wild_curve **out, size_t *n, struct failure *why);

/// Two regimes over sites for one group: rate per effort and kinds at equal numbers of looks.
struct wild_pair {
    const struct site *site;
    size_t a, b, looks[2], at_looks;
    double log_ratio;    ///< ln of rate a over rate b, half an individual added to each; NaN: efforts not known or in other units
    double kinds[2];     ///< at at_looks
    double raw[2];       ///< kinds found in all looks: what unequal effort distorts
    double before_after; ///< (a after − a before) − (b after − b before) of log rates; NaN: no looks before planting
};
struct wild_pairs {
    enum wildlife_group group;
    struct wild_pair *pairs;
    size_t n, n_rate, n_before;
    struct paired_answer rate, kinds, before_after; ///< of log_ratio, of kinds a − b, of before_after
    struct estimate raw;                            ///< of raw kinds a − b
    const char *sentence;
};
enum outcome evidence_wild_pairs(const struct evidence_facts *facts, const struct wild *wild, enum wildlife_group group, enum regime a,
                                 enum regime b, double level, struct arena *arena, struct wild_pairs *out, struct failure *why);

/// How unlike plots are for one group, by counts per look.
struct wild_likeness {
    enum wildlife_group group;
    size_t n, *plots;             ///< plots with looks, indices
    double *unlike;               ///< n × n, Bray–Curtis of individuals per look; NaN where both are empty
    struct permanova_result test; ///< regime, permuted within sites; only where has_test
    bool has_test;
    size_t regimes, sites;
};
/// Fails with OUTCOME_DATA under three plots.
enum outcome evidence_wild_likeness(const struct evidence_facts *facts, const struct wild *wild, enum wildlife_group group, uint64_t seed,
                                    struct arena *arena, struct wild_likeness *out, struct failure *why);

/// Kinds kept, lost and gained by a plot from one year to the next, with the looks that both years had.
struct wild_turnover {
    size_t plot;
    enum wildlife_group group;
    int from, to; ///< years
    size_t looks[2];
    struct turnover change;
};
enum outcome evidence_wild_turnover(const struct evidence_facts *facts, const struct wild *wild, struct arena *arena,
                                    struct wild_turnover **out, size_t *n, struct failure *why);

#endif
