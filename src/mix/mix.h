/* SPDX-License-Identifier: GPL-3.0-or-later
 * The face of mix/: which species and how many, as whole numbers, by a mixed-integer programme.
 *
 * Typical size: 20 to 120 species for one plot of some hundred plants, or up to 20 plots that share an order. The answer
 * is proven best or comes with its gap; wishes that cannot be met together are named, the fewest that conflict, with what
 * to relax and by how much. Methods: docs/methods/mix.md. */
#ifndef SPINNEY_MIX_H
#define SPINNEY_MIX_H
#include "base/base.h"
#include "model/model.h"

/// A species that may go into the mix. Owned by the caller.
struct mix_species {
    const char *name;
    const char *genus;  ///< NULL: unknown, no cap of genus is applied to it
    const char *family; ///< NULL: unknown
    enum layer layer;
    enum role role;
    bool tall;                ///< a tall canopy dominant
    const char *const *pests; ///< organisms it shares with others
    size_t n_pests;
    double fit;              ///< 0 to 1; NaN unknown: counted as the middle, 0.5
    double frequency;        ///< weight in the reference community, 0 or more; NaN: none is aimed at
    double price;            ///< of one plant; NaN unknown
    int64_t stock;           ///< plants that can be had; INT_UNKNOWN no limit known
    const char *health_stop; ///< why plant health forbids it; NULL nothing known
};
/// A wish about one species.
struct mix_wish {
    size_t species;      ///< index
    int64_t least, most; ///< plants; INT_UNKNOWN open. least = most: fixed. most 0: kept out
    const char *reason;  ///< such as "toxic, beside a play area"
};
/// Parts of the settings that can stand at a default nobody asked for by name; joined in `yields`.
enum mix_part {
    MIX_PART_CANOPY = 1,
    MIX_PART_SUBCANOPY = 2,
    MIX_PART_SHRUB = 4,
    MIX_PART_PIONEER = 8,
    MIX_PART_TALL = 16,
    MIX_PART_SPECIES = 32,
    MIX_PART_GENUS = 64,
    MIX_PART_EACH = 128,
    MIX_PART_COUNT = 256, ///< greatest number of species
    MIX_PART_ALL = 511
};
/// Shares are parts of the total, 0 to 1.
struct mix_share {
    double least, most; ///< NaN open
};
struct mix_settings {
    int64_t total; ///< plants wanted, exactly
    struct mix_share layer[LAYER_COUNT];
    struct mix_share pioneer;                                ///< role pioneer
    double tall_most;                                        ///< tall canopy dominants; NaN open
    double species_most, genus_most, family_most, pest_most; ///< greatest share of one; NaN open
    int64_t least_each;                                      ///< plants of a species if it is used at all (1: no rule)
    int64_t count_least, count_most;                         ///< number of species; INT_UNKNOWN open
    double budget;                                           ///< greatest sum of prices; NaN open
    const struct mix_wish *wishes;
    size_t n_wishes;
    unsigned yields; ///< joined mix_part: defaults that give way by the least that will do where wishes conflict; 0: none
    /* What is aimed at: sum of weight × term, in plants. */
    double weight_target;    ///< plants away from the community's composition
    double weight_fit;       ///< fit × plants
    double weight_diversity; ///< total × Shannon entropy (nats), piecewise linear between whole numbers
    double weight_price;     ///< plants per unit of money
    /* Effort. */
    double seconds; ///< limit of time; an answer that was cut short says so
    double gap;     ///< plants short of the best, per plant planted, at which the search may stop; 0: proven best
};
/// Defaults for a dense plot: trade.md T05 to T08, graded common practice. They do not yield: set `yields` for that.
struct mix_settings mix_settings_dense(int64_t total);
/// Plants for an area: density × area, to the nearest whole plant.
int64_t mix_total(double density_m2, double area_m2);

enum mix_state {
    MIX_BEST,       ///< proven best within the gap asked for
    MIX_FOUND,      ///< an answer with its gap; time ran out
    MIX_IMPOSSIBLE, ///< the wishes cannot be met together; see the conflict
    MIX_NOTHING     ///< time ran out before any answer
};
/// A wish that is part of the smallest conflict, or a default that gave way.
struct mix_conflict {
    const char *wish;  ///< what was asked for, in words
    double asked;      ///< its figure (plants, species or money)
    double enough;     ///< its figure that would do if this alone gave way; NaN: it alone cannot
    const char *relax; ///< what to do about it, in words
    const char *to;    ///< of a default that gave way: the figure it came to, in words; else NULL
};
struct mix_result {
    enum mix_state state;
    int64_t *plants;  ///< [n_plots × n_species], plot by plot
    double objective; ///< value of what was aimed at; smaller is better
    double bound;     ///< nothing better than this exists
    double gap;       ///< (objective − bound) / plants of all plots: how far from the best it may be, per plant
    int64_t species_used;
    double shannon;    ///< of the counts, in nats, exact
    double off_target; ///< plants away from the composition aimed at; NaN none was
    const double *target; ///< [n_plots × n] that composition, in plants; NaN: none for that species; NULL where there is no answer
    double cost;       ///< sum of prices of what is planted; NaN if a used species has none
    int64_t *ordered;  ///< [n] plants to order for all plots, in whole bundles where there are any
    struct mix_conflict *conflict;
    size_t n_conflict;
    bool conflict_smallest; ///< no smaller set of wishes conflicts; false: none of these can be left out, but a smaller set may exist
    struct mix_conflict *together; ///< changes that would do together: few wishes, each no further than it must give way
    size_t n_together;
    struct mix_conflict *relaxed; ///< defaults that gave way; what they conflicted with stands in `conflict`
    size_t n_relaxed;
    const char *relaxed_words; ///< which default gave way by how much and why, in a sentence; NULL if none did
    const char *proof;         ///< how good it is, or what conflicts, in a sentence
    const char *solver;        ///< name and version
};
/// Counts for one plot. OUTCOME_OK also for MIX_IMPOSSIBLE: that is an answer. The arena owns the result.
enum outcome mix_solve(const struct mix_species *species, size_t n, const struct mix_settings *settings, struct arena *arena,
                       const struct progress *progress, struct mix_result *out, struct failure *why);

/// Several plots that share stock, budget and bundles.
struct mix_joint {
    const struct mix_settings *plots; ///< one per plot
    size_t n_plots;
    const int64_t *bundle; ///< per species: plants are ordered in multiples of it, and the surplus counts against the answer; NULL: one
    double budget;         ///< over all plots, what is ordered; NaN open
    double weight_surplus; ///< plants off target that one surplus plant is worth (0.2)
    double seconds;
    const double *frequency;  ///< [n_plots × n] where plots follow different communities; NULL: the species' own
    const double *fit;        ///< [n_plots × n] where plots stand on different ground; NULL: the species' own
    const bool *absent;       ///< [n_plots × n] species that do not belong on a plot; NULL: all may stand everywhere
    const char *const *names; ///< [n_plots] for sentences; NULL: plot 1, plot 2 …
};
/// A large joint programme is given to the solver cbc where that is installed, else to GLPK; the result says which.
enum outcome mix_solve_joint(const struct mix_species *species, size_t n, const struct mix_joint *joint, struct arena *arena,
                             const struct progress *progress, struct mix_result *out, struct failure *why);

/// A substitution offered for a species of a mix.
enum mix_check_state { CHECK_PASS, CHECK_WARN, CHECK_STOP };
struct mix_check {
    enum mix_check_state state;
    const char *sentence;
};
struct mix_substitution {
    int64_t *plants; ///< [n] counts afterwards
    int64_t moved;   ///< plants of other species that had to change as well
    struct mix_check *checks;
    size_t n_checks;
    bool stopped;      ///< a check says STOP
    const char *needs; ///< what is still missing before it may be accepted (approver, date), or NULL
};
/// Put `to` in place of `from` with the least change to the rest. `approver` may be NULL, `date` DATE_UNKNOWN: said in `needs`.
enum outcome mix_substitute(const struct mix_species *species, size_t n, const struct mix_settings *settings, const int64_t *plants,
                            size_t from, size_t to, const char *approver, int32_t date, struct arena *arena, struct mix_substitution *out,
                            struct failure *why);

/// Counts nearest to wanted ones.
struct mix_nearest {
    bool found;
    int64_t *plants;   ///< [n], NULL if there are none
    const char *words; ///< usual wishes they do not keep, or what conflicts; NULL nothing to say
};
/// Counts that keep the settings with the least sum of differences from `wanted` [n], such as those of a plan that a nursery
/// cannot deliver whole. Weights of the settings are not used; wishes that may yield are not kept but named where broken.
enum outcome mix_nearest(const struct mix_species *species, size_t n, const struct mix_settings *settings, const double *wanted,
                         struct arena *arena, struct mix_nearest *out, struct failure *why);

/// Shannon entropy (nats) of counts; 0 for one species; NaN for none.
double mix_shannon(const int64_t *plants, size_t n);

/// The programme as free-format MPS text, for another solver. The arena owns it.
enum outcome mix_write_mps(const struct mix_species *species, size_t n, const struct mix_settings *settings, struct arena *arena,
                           char **out, struct failure *why);
#endif
