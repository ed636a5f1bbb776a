/* SPDX-License-Identifier: GPL-3.0-or-later
 * Across plots and sites: what the pairs of plots allow one to conclude, pooling, a model with effects of sites, plots,
 * species and squares, and which sites report. */
#ifndef SPINNEY_EVIDENCE_SITES_H
#define SPINNEY_EVIDENCE_SITES_H
#include "evidence/evidence.h"

/* ---- what paired sites allow one to conclude ------------------------------------------------------------------------ */

enum paired_verdict {
    PAIRED_CANNOT_TELL,
    PAIRED_A_HIGHER,
    PAIRED_B_HIGHER,
    PAIRED_NO_WORTHWHILE, ///< the whole interval lies within the margin that was said to matter
};
enum paired_reason {
    REASON_CLEAR,
    REASON_FEW_SITES, ///< fewer than 6: no arrangement of signs can reach the level
    REASON_CHANCE,    ///< chance alone could do it
    REASON_NOT_FOUND, ///< it hangs on what the plants that were not found did
    REASON_CARE,      ///< the plots were not cared for alike on so many sites that too few are left
};
/// Differences a − b of one outcome, one for each site.
struct paired_wish {
    size_t n;
    const double *difference;
    const double *lowest, *highest; ///< with what was not found read against and for a; NULL: nothing is open
    const bool *unequal_care;       ///< NULL: alike, or not known
    double level, margin;           ///< margin in the unit of the difference; NaN: none was set
    size_t of_many;                 ///< outcomes looked at afterwards with this one, itself among them; 0 or 1: it was asked beforehand
};
struct paired_answer {
    size_t n, fair;                  ///< sites; of these with care alike
    size_t positive;                 ///< sites with a above b
    struct estimate mean;            ///< over all sites, Student t; interval unknown under 2
    struct estimate fair_mean;       ///< over sites with care alike
    struct estimate lowest, highest; ///< means of the bounds; unknown where nothing is open
    double sd, p, p_least;           ///< between sites; exact sign flips and the least p so many sites can give, unknown under 5
    double detectable;               ///< difference found by four of five such programmes; unknown under 2
    size_t hangs_on;                 ///< the one site without which the verdict would not stand; SIZE_MAX: none or several
    enum paired_verdict verdict;
    enum paired_reason reason;
    size_t of_many; ///< as wished
};
enum { OUTCOMES_AFTER = 3 }; ///< growth, kinds and individuals of wildlife: looked at beside survival, the outcome asked beforehand
/// A side is called higher only where Student's interval leaves out 0, the exact sign flips reach the level, both hold for the
/// bounds of what was not found, and both hold on the sites that were cared for alike. Where several outcomes are looked at afterwards
/// the level of the verdict is 1 − (1 − level)/of_many (Bonferroni; Dunn 1961, J Am Stat Assoc 56:52); intervals keep `level`. Fails with OUTCOME_USAGE on a bad level.
enum outcome evidence_paired(const struct paired_wish *wish, struct paired_answer *out, struct failure *why);
/// The verdict in words, for "a" and "b" as named: "dense prepared lived better …" is the caller's; this says why or why not.
const char *paired_reason_words(const struct paired_answer *answer, struct arena *arena);

/// The pairs of evidence_pairs judged so.
enum outcome evidence_pairs_judge(const struct site_difference *pairs, size_t n, double level, double margin, struct arena *arena,
                                  struct paired_answer *out, struct failure *why);

/// Survival of the plots that differ in one thing alone, one pair for each site (the first), judged over sites: the only ground for
/// naming a cause. `a` is the plot with the higher level by the treatments' order of the difference table. `n` is the sites.
enum outcome evidence_clean(const struct evidence_facts *facts, const struct plot_lives *lives, const struct trial_table *design,
                            enum trial_factor factor, double level, struct arena *arena, struct paired_answer *out, struct failure *why);

/* ---- pooling -------------------------------------------------------------------------------------------------------- */

enum { POOL_WAYS = 6 };
struct sites_pool {
    size_t n;
    double *effect, *variance;          ///< difference in shares and its variance (Agresti & Caffo 2000)
    struct pool_result ways[POOL_WAYS]; ///< DerSimonian–Laird, REML, Paule–Mandel; each plain, then with Hartung–Knapp
    const char *names[POOL_WAYS];
    const struct pool_result *main; ///< REML with Hartung–Knapp
    size_t most_without;            ///< site whose leaving out moves the pooled effect most; SIZE_MAX under 3
    const char *sentence;
};
/// Fails with OUTCOME_DATA under 2 sites.
enum outcome evidence_pool(const struct site_difference *pairs, size_t n, double level, struct arena *arena, struct sites_pool *out,
                           struct failure *why);

/* ---- all plots in one model ------------------------------------------------------------------------------------------ */

enum { MODEL_TERMS = 4 };
struct regime_effect {
    enum regime regime;
    size_t plots;
    int64_t alive, known;
    double survival;      ///< on an average site and plot, for an average species
    struct estimate odds; ///< odds ratio to the reference; unknown for the reference; se on the log scale
    double p;
};
struct sites_model {
    struct regime_effect *regimes; ///< the reference first
    size_t n, sites, plots, species, squares;
    double df; ///< between plots within sites
    struct {
        const char *name;
        double sd, median_odds; ///< on the log-odds scale; median odds ratio of two of them (Larsen & Merlo 2005)
    } terms[MODEL_TERMS];
    size_t n_terms;
    bool singular;
    struct shuffle_test shuffle; ///< regimes shuffled over plots within sites
    bool has_shuffle;
    const char *sentence;
};
/// Logistic mixed model (Laplace) of the first planting at the last census of each plot that has a regime in common with
/// others: regimes fixed; sites, plots, species and, where `squares`, squares random. Intervals with Student's t on plots − sites −
/// (regimes − 1) degrees of freedom (between–within: Li & Redden 2015, BMC Med Res Methodol 15:38). Fails with OUTCOME_DATA under two regimes,
/// two sites or one degree of freedom.
enum outcome evidence_sites_model(const struct plot_lives *lives, size_t n_plots, bool squares, double level, uint64_t seed,
                                  struct arena *arena, struct sites_model *out, struct failure *why);

/* ---- which sites report ---------------------------------------------------------------------------------------------- */

enum site_standing { SITE_PLANNED, SITE_REJECTED, SITE_NO_CENSUS, SITE_REPORTING, SITE_SILENT, SITE_LOST };
const char *site_standing_words(enum site_standing standing);
struct site_report {
    const struct site *site;
    enum site_standing standing;
    size_t plots, ended, censuses, missed; ///< missed: gaps between censuses that held one more
    int32_t planted_on, last_on;           ///< first planting, last census day; DATE_UNKNOWN
    int64_t planted, alive;                ///< first planting, and alive of it at each plot's last census
    const char *deviations;                ///< where its plots depart from what most plots of their regime got; NULL: none known
};
struct sites_roll {
    struct site_report *sites;
    size_t n, count[6]; ///< by standing
    int32_t as_of;      ///< last census day of the programme
    const char *sentence;
};
/// Every site, none left out. Silent: its last census lies more than 300 days before the programme's last; lost: all plots ended
/// or the site is closed (common practice, no source).
enum outcome evidence_roll(const struct evidence_facts *facts, const struct plot_lives *lives, struct arena *arena, struct sites_roll *out,
                           struct failure *why);
#endif
