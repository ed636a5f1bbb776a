/* SPDX-License-Identifier: GPL-3.0-or-later
 * The face of trial/: which plots can answer which question, who gets which ground, how many to measure, and the rules
 * of judging sealed before the outcome. A handful of plots and factors; nothing here is large. */
#ifndef SPINNEY_TRIAL_H
#define SPINNEY_TRIAL_H
#include "base/base.h"
#include "model/model.h"

/* ------------------------------------------------------------------ what differs, and what may be said of it */

/// What a plot's treatment is made of.
enum trial_factor {
    TRIAL_DENSITY,     ///< plants per square metre
    TRIAL_PREPARATION, ///< loosening and amendments
    TRIAL_MIX,         ///< species and their shares
    TRIAL_FENCE,       ///< fence
    TRIAL_WATER,       ///< watering and other care
    TRIAL_STOCK,       ///< form, size and batch of the plants
    TRIAL_DATE,        ///< planting date and team
    TRIAL_FACTORS
};
/// Name of a factor ("preparation"), and of its effect in sentences ("soil").
const char *trial_factor_word(enum trial_factor factor);
const char *trial_effect_word(enum trial_factor factor);

/// A plot as the treatment designer sees it.
struct trial_plot {
    const char *code;                  ///< such as D or D1
    const char *site;                  ///< code of its site; plots are only compared within a site
    const char *levels[TRIAL_FACTORS]; ///< the level of each factor in words; NULL: not known. Equal text is the same level
    enum allocation_method allocation; ///< whether its ground was drawn by lot or chosen; unknown: not recorded
    bool unplanted;                    ///< nothing is planted on it: a baseline, in no difference between recipes
};

enum trial_mark { TRIAL_SAME, TRIAL_DIFFERS, TRIAL_NOT_KNOWN };

/// One pair of plots of a site: the difference a − b, factor by factor.
struct trial_pair {
    size_t a, b; ///< indices of the plots, the richer recipe first as given
    enum trial_mark marks[TRIAL_FACTORS];
    size_t n_differ, n_unknown;
    bool drawn;           ///< both plots got their ground by lot
    const char *sentence; ///< what the difference of these two can be given to
};

/// What can be said about one factor over all plots.
struct trial_attribution {
    enum trial_factor factor;
    bool varies;          ///< at least two levels, or some not known
    bool estimable;       ///< its effect is determined by the plots, if effects add up (rank condition)
    size_t clean_pairs;   ///< pairs that differ in this factor alone, with nothing unknown
    size_t clean_sites;   ///< sites that have such a pair
    unsigned alias;       ///< bit set of factors it cannot be told from (bit 1 << factor)
    const char *sentence; ///< "density effect = D − P", or what it moves together with
};

/// The whole difference table with sentences. Lives in the arena.
struct trial_table {
    struct trial_pair *pairs;
    size_t n_pairs;
    struct trial_attribution factors[TRIAL_FACTORS];
    size_t rank, columns; ///< of the additive model: a level per site, and each factor's differences
    const char *summary;  ///< one sentence for the head of the page
    const char **aliases; ///< for each combination of columns no plot shows: what moves together, in words
    size_t n_aliases;
};

/// Compare every pair of planted plots on the same site (indices are those of `plots`). Needs two plots or more on one site, else fails with OUTCOME_DATA.
enum outcome trial_compare(const struct trial_plot *plots, size_t n, struct arena *arena, struct trial_table *out, struct failure *why);

/// The cheapest addition that would separate a factor.
struct trial_addition {
    size_t n_plots; ///< how many plots it takes: 1 to 3; 0: nothing is needed
    struct trial_plot plots[3];
    size_t like[3];      ///< existing plot that each resembles most
    unsigned changed[3]; ///< factors in which it departs from that plot (bits)
    const char *sentence;
};
/// Enumerate additional plots (every combination of the levels that occur, on every site) and give the smallest set that
/// makes `factor` estimable; among equals the one with fewest departures from plots that exist. Up to three plots;
/// fails with OUTCOME_DATA where the factor has only one level or three do not do.
enum outcome trial_separate(const struct trial_plot *plots, size_t n, enum trial_factor factor, struct arena *arena,
                            struct trial_addition *out, struct failure *why);

/* ------------------------------------------------------------------ which plots to plant */

/// The kinds of plot that are chosen from.
enum trial_kind {
    TRIAL_KIND_D, ///< dense on prepared ground, full mix
    TRIAL_KIND_C, ///< conventional: sparse, not prepared
    TRIAL_KIND_P, ///< sparse on prepared ground, the mix of D
    TRIAL_KIND_N, ///< dense, not prepared, the mix of D
    TRIAL_KIND_U, ///< not planted: baseline for soil, wildlife and what arrives by itself
    TRIAL_KINDS
};
const char *trial_kind_letter(enum trial_kind kind);
const char *trial_kind_word(enum trial_kind kind);
/// What can be asked; bits of 1 << question.
enum trial_question {
    TRIAL_ASKS_RECIPE,  ///< does the whole recipe do better than what is usual? D − C
    TRIAL_ASKS_SOIL,    ///< does the preparation? P − C, or D − N
    TRIAL_ASKS_DENSITY, ///< does the density? D − P, or N − C
    TRIAL_ASKS_BOTH,    ///< does the preparation do more where planting is dense? (D − N) − (P − C)
    TRIAL_ASKS_BASE,    ///< what would have come by itself? U
    TRIAL_QUESTIONS
};
const char *trial_question_word(enum trial_question question);
/// Read "recipe", "soil", "density", "together", "baseline", several joined by "," or ";" into bits; 0 if one is none of these.
unsigned trial_questions_read(const char *words);

/// A set of kinds on one site and what it can answer.
struct trial_set {
    unsigned kinds;   ///< bits of 1 << kind
    unsigned answers; ///< bits of the questions answered by pairs that differ in one thing alone
    size_t n_plots;
    double plants;        ///< over all its plots
    const char *sentence; ///< what may be said: trial_compare's summary, or why nothing
};
struct trial_sets {
    struct trial_set sets[1 << TRIAL_KINDS]; ///< every set of two kinds or more, cheapest first (plots, then plants)
    size_t n;
    size_t best; ///< index of the first that answers all that is asked; SIZE_MAX: none does
};
/// Every set of kinds held against the questions asked. `usual_mix`: the conventional plot carries another mix than the rest.
/// `dense_m2`, `sparse_m2` [1/m²] and `area_m2` of a plot give the plants.
enum outcome trial_sets_make(unsigned asked, bool usual_mix, double dense_m2, double sparse_m2, double area_m2, struct arena *arena,
                             struct trial_sets *out, struct failure *why);

/// A site as a block: what stands on it, what else fits, what is chosen.
struct trial_block {
    const char *site;
    unsigned must;  ///< kinds that are there already, or must be
    size_t room;    ///< plots that fit beside those
    unsigned kinds; ///< out: with those that are there
};
struct trial_blocking {
    size_t plots, added;
    double variance
        [TRIAL_QUESTIONS]; ///< of each contrast, in squared standard deviations of a plot within its site; unknown where not determined
    double df;             ///< plots − sites that hold any − kinds in use + 1
    size_t pairs[TRIAL_QUESTIONS]; ///< sites that hold the pair itself
    bool all_tried;                ///< every way was tried; false: exchanges from many starts
    double mean;                   ///< the mean variance of what was asked: what is made least
    size_t tried;
};
/// Choose which kinds to add on which sites, `most_added` plots in all (SIZE_MAX: what fits), so that the mean variance of the
/// contrasts asked is least in the model plot = site + kind + chance (A-optimal in those contrasts; U has no contrast and is
/// added by the caller). Of equals the fewest plots. Up to 40 sites. Fails with OUTCOME_DATA where no choice determines them.
/// D − C, P − C, D − P and (D − N) − (P − C) are the contrasts of the first four questions.
enum outcome trial_blocks_choose(struct trial_block *blocks, size_t n, unsigned asked, size_t most_added, uint64_t seed,
                                 struct arena *arena, struct trial_blocking *out, struct failure *why);

/* ------------------------------------------------------------------ allocation by lot */

/// Which piece of ground got which treatment.
struct trial_allocation {
    enum allocation_method method;
    uint64_t seed;
    size_t n;
    const char **pieces;     ///< in the order drawn from
    const char **treatments; ///< what each received
    const char *sentence;    ///< for the protocol and the report
    const char *reason;      ///< why chosen, where not drawn
};
/// Draw: treatments go to pieces in an order that depends on the seed and the name of the comparison alone. As many
/// treatments as pieces (repeat a treatment to give it several). Names must differ. Fails with OUTCOME_USAGE.
enum outcome trial_draw(const char *comparison, const char *const *pieces, const char *const *treatments, size_t n, uint64_t seed,
                        struct arena *arena, struct trial_allocation *out, struct failure *why);
/// Choose instead of draw: refused without a reason of at least three words, which is printed in every report.
enum outcome trial_choose(const char *const *pieces, const char *const *treatments, size_t n, const char *reason, struct arena *arena,
                          struct trial_allocation *out, struct failure *why);

/* ------------------------------------------------------------------ the rules of judging */

/// Whether a draft can be locked on this day: every rule filled in, not locked before, and no result recorded yet
/// (`first_result` is the day of the first follow-up record, or DATE_UNKNOWN). Locking after a result is refused
/// unless `late_reason` is given; the sentence in `remark` then says so. `remark` is NULL when there is none.
enum outcome trial_lock(struct protocol *protocol, int32_t day, int32_t first_result, const char *late_reason, struct arena *arena,
                        const char **remark, struct failure *why);
/// A change of a locked protocol: a new draft with the next version (1.0 → 1.1), which supersedes the old and says what
/// differs. A draft keeps its version. `reason` is required when the old one is locked. The old one is never touched.
enum outcome trial_amend(const struct protocol *old, const struct protocol *wanted, const char *reason, struct arena *arena,
                         struct protocol *out, struct failure *why);
/// The version after: "1.0" → "1.1", "1.9" → "1.10". Fails with OUTCOME_DATA if it is not a version.
enum outcome trial_next_version(const char *version, struct arena *arena, const char **out, struct failure *why);
/// Sentences that say what differs between two versions, one for each field; returns how many.
size_t trial_differences(const struct protocol *a, const struct protocol *b, struct arena *arena, const char ***sentences);

/* ------------------------------------------------------------------ how many, and which */

/// Plants needed to know a share to ± `half_width` (0–1) at this confidence, in simple random sampling of a finite
/// population (`population` 0: endless). Rounded up. Cochran 1977, eq. 4.1–4.2.
enum outcome trial_sample_size(double share, double half_width, double confidence, double population, double *exact, double *n,
                               struct failure *why);
/// Plants per group to tell two shares apart. `exact` without continuity correction, `corrected` with. Fleiss, Levin & Paik 2003, §4.3.
enum outcome trial_two_shares_n(double p1, double p2, double alpha, double power, double *exact, double *corrected, struct failure *why);
/// Power of that comparison with n per group (`corrected`: with continuity correction).
enum outcome trial_two_shares_power(double p1, double p2, double n, double alpha, bool corrected, double *power, struct failure *why);
/// Plots per arm for two shares with m plants in each: Donner & Klar 2000; one is added where the normal stands in for t.
enum outcome trial_clusters_n(double p1, double p2, double m, double icc, double alpha, double power, double *exact, double *n,
                              struct failure *why);
/// Half-width of the confidence interval for the mean of n paired differences with this standard deviation.
enum outcome trial_paired_half_width(double n, double sd, double confidence, double *half_width, struct failure *why);
/// Smallest number of pairs (sites) whose interval is no wider than ± half_width.
enum outcome trial_paired_half_width_n(double sd, double half_width, double confidence, double *n, struct failure *why);
/// Power of the two-sided paired t test with n pairs (both tails), by the noncentral t.
enum outcome trial_paired_power(double n, double difference, double sd, double alpha, double *power, struct failure *why);
/// Smallest n with at least this power.
enum outcome trial_paired_n(double difference, double sd, double alpha, double power, double *n, struct failure *why);
/// Power of the two-sided t test of any contrast with this standard error and degrees of freedom (1 or more), by the noncentral t.
enum outcome trial_contrast_power(double difference, double se, double df, double alpha, double *power, struct failure *why);
/// Standard deviation between sites of the difference of two plots' survivals, for plants alike within plots (beta-binomial,
/// likeness `icc`, of which both plots of a site share the part `site_icc` through correlated normal deviates; then approximate).
/// n_a and n_b plants. var = p q (icc + (1 − icc)/n) for each plot, less twice what they share.
double trial_survival_difference_sd(double share_a, double share_b, double n_a, double n_b, double icc, double site_icc);
/// The same for measures: amounts sd_plot² (2) + sd_unit² (1/n_a + 1/n_b); counts on the log scale sd_plot² (2) + 1/(n_a m_a) + 1/(n_b m_b).
double trial_amount_difference_sd(double sd_plot, double sd_unit, double n_a, double n_b);
double trial_count_difference_sd(double sd_plot, double mean_a, double mean_b, double n_a, double n_b);
/// Smallest two-sided p value that a test by re-drawing the lots can reach: n pairs, 2 / 2^n (T12).
double trial_least_p_pairs(double n);
/// The same for a plots of one kind drawn against b of another: 1 / C(a+b, a), doubled when a = b.
double trial_least_p_groups(double a, double b);

/// Standard deviation between sites of the difference of two plots' means, from its parts.
/// Sites differ in the difference by `sd_between`; each plot's mean of m plants adds sd_within² / m.
double trial_difference_sd(double sd_between, double sd_within, double m);

/// A simulated comparison of survival: pairs of plots on sites.
struct trial_simulation {
    size_t sites;              ///< pairs of plots, 2 or more
    size_t plants_a, plants_b; ///< plants measured in each plot
    double share_a, share_b;   ///< survival expected in each, 0–1
    double icc;                ///< likeness of plants of one plot, 0 to below 1 (beta-distributed plot survival)
    double site_icc;           ///< part of the icc that both plots of a site share, 0–1
    double alpha;
    size_t runs; ///< 0: 2,000
    uint64_t seed;
};
struct trial_simulated {
    double power, power_se; ///< share of runs where the paired t test on plot survivals rejects
    double naive_power;     ///< what counting plants as independent would claim (two-share z test)
    double naive_error;     ///< how often that test cries wolf when there is no difference
    double half_width;      ///< mean half-width of the 95 % interval of the difference
};
enum outcome trial_simulate(const struct trial_simulation *wish, const struct progress *progress, struct trial_simulated *out,
                            struct failure *why);

/// What is measured on the units (plants, cores, traps) of a plot.
enum trial_measure {
    TRIAL_MEASURE_AMOUNT, ///< height, soil carbon: normal within and between plots, in its own unit
    TRIAL_MEASURE_COUNT,  ///< kinds or individuals per trap or visit: Poisson, plots spread on the log scale
};
/// A simulated comparison of height, soil carbon or richness: pairs of plots on sites, judged by a paired t test on plot
/// means (counts: on the logarithm of plot means, half an individual added to each plot).
struct trial_measured {
    enum trial_measure measure;
    size_t sites;            ///< pairs of plots, 2 or more
    size_t units_a, units_b; ///< units measured in each plot
    double mean_a, mean_b;   ///< expected in each; counts: above zero
    double sd_unit;          ///< spread of units within a plot (amounts only)
    double sd_plot;          ///< spread of a plot's own value about its site's (counts: of its logarithm)
    double alpha;
    size_t runs; ///< 0: 2,000
    uint64_t seed;
};
/// `half_width` is in the unit of the amount, or of the natural logarithm of the ratio. `naive_*` count units as independent.
enum outcome trial_simulate_measured(const struct trial_measured *wish, const struct progress *progress, struct trial_simulated *out,
                                     struct failure *why);

/// How a sample is drawn.
enum trial_rule {
    TRIAL_RULE_RANDOM,     ///< every set of n equally likely
    TRIAL_RULE_EVERY_KTH,  ///< every k-th along the list from a random start, k = N / n
    TRIAL_RULE_BY_STRATUM, ///< as random, within each stratum in proportion (largest remainder), one each at least where n allows
};
/// Draw n of N things (cells or plants) by a stated rule. `strata[N]` numbers from 0 (only for BY_STRATUM). `drawn[n]`
/// ascending, in the arena; `sentence` is for the protocol. Deterministic in the seed.
enum outcome trial_sample(size_t population, size_t n, enum trial_rule rule, const size_t *strata, uint64_t seed, struct arena *arena,
                          size_t **drawn, const char **sentence, struct failure *why);

/// Gap wanted between plots: the height the taller one will reach in the period (T10), given metres a year and years.
double trial_buffer_m(double growth_m_year, double years);
#endif
