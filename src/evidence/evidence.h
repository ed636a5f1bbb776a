/* SPDX-License-Identifier: GPL-3.0-or-later
 * The face of evidence/: from records to findings. What happened, how sure that is, what the design lets one say of it, and
 * what cannot be said. Pure: rows in, results and sentences out.
 *
 * Typical: 6 sites, 20 plots, 5,000 plants, 25,000 records; must hold for 200 sites and 2 million records. */
#ifndef SPINNEY_EVIDENCE_H
#define SPINNEY_EVIDENCE_H
#include "model/model.h"
#include "evidence/phenology.h"
#include "stats/stats.h"
#include "trial/trial.h"

/// Rows the findings rest on, as loaded (ordered by id). Everything is borrowed.
struct evidence_facts {
    const struct site *sites;
    size_t n_sites;
    const struct plot *plots;
    size_t n_plots;
    const struct plant *plants;
    size_t n_plants;
    const struct visit *visits;
    size_t n_visits;
    const struct plant_record *records;
    size_t n_records;
    const struct care_event *care;
    size_t n_care;
    const struct wildlife_visit *looks;
    size_t n_looks;
    const struct wildlife_record *sightings;
    size_t n_sightings;
    const struct trial_plot *treatments; ///< one per plot, in order; NULL: differences between plots are not known
};

/* ---- lives of plants ---------------------------------------------------------------------------------------------- */

/// What is known of a plant at a census. Standing of the words: alive, alive with dieback and resprouting are alive;
/// dead standing, missing (its place was found, it was not) and replaced are dead; removed on purpose is neither.
enum life_state {
    LIFE_NOT_SEEN, ///< no record at this census, and none later or earlier that settles it
    LIFE_ALIVE,
    LIFE_DEAD,
    LIFE_NOT_FOUND, ///< looked for, its place could not be confirmed
    LIFE_REMOVED,
};

/// One census of one plot: its visit's records, or those of several visits within 45 days.
struct census {
    int32_t from, to; ///< first and last day of its records
    bool as_planted;  ///< the one after planting, the denominator
    bool sample;      ///< only part of the plants were looked at
    bool leaf_off;    ///< recorded as made without leaves, when deadness is hard to judge
    size_t n_records;
};

/// A plot with its censuses in order and the state of every plant at each.
struct plot_lives {
    const struct plot *plot;
    const struct site *site;
    struct census *censuses;
    size_t n_censuses;
    const struct plant **plants; ///< all plants of the plot, whatever their origin
    size_t n_plants;
    enum life_state *states;          ///< states[plant * n_censuses + census]
    double *heights_cm;               ///< the same order; NaN not measured
    double *crowns_cm;                ///< crown widths, the same order; NaN not measured
    const struct plant_record **last; ///< the latest record of each plant, NULL none
    enum damage_agent *cause;         ///< of each plant: damage on the record that first found it dead; unknown: none recorded, or alive
    const struct plant_record **deciding; ///< the order of states: the record each state rests on, NULL where not seen
    const struct plant_record **measured; ///< the same order: the record each height stands in, NULL not measured
    size_t revived;                       ///< plants seen dead and alive later: alive in between
    bool no_first_census;                 ///< no as-planted census: the plan is the denominator
    int32_t planted_on;                   ///< day of planting; DATE_UNKNOWN
};
/// Lives of every plot, in the order of the plots. Records of plants of other plots are passed over.
enum outcome evidence_lives(const struct evidence_facts *facts, struct arena *arena, struct plot_lives **out, struct failure *why);

/// Whether a plant belongs to the first planting as the as-planted census found it (or by the plan where there was none).
bool evidence_planted_first(const struct plot_lives *lives, size_t plant);

/// Survival of the first planting of a plot at a census.
struct plot_survival {
    const struct plot_lives *lives;
    size_t census;     ///< index
    int64_t planted;   ///< alive at the as-planted census, or by the plan where there was none
    int64_t looked_at; ///< of these, with an answer at this census (alive, dead or not found)
    int64_t alive, dead, not_found, removed, not_seen;
    struct estimate survival;        ///< alive of alive + dead, Wilson; unknown below 1
    struct estimate lowest, highest; ///< if all not found (and, in a census of every plant, not seen) were dead, or alive
    double years;                    ///< from planting
    double months;
    struct estimate annual; ///< survival per year; unknown under half a year
    int64_t replacements, replacements_alive, arrivals_alive;
    double stocking_m2; ///< everything alive per m² of net area; NaN without an area or in a sample
    const char *sentence;
};
/// At the last census, or at `census` (SIZE_MAX: last). Fails with OUTCOME_DATA where the plot has no census.
enum outcome evidence_survival(const struct plot_lives *lives, size_t census, double level, struct arena *arena, struct plot_survival *out,
                               struct failure *why);

/// When plants of the first planting died, in years from planting, as far as visits tell.
struct plot_curve {
    size_t n;             ///< lives
    double *left, *right; ///< last seen alive, first seen dead; INFINITY: not seen dead
    double *open;         ///< first look from which on it was not found, nor seen again; NaN: it was accounted for to the end
    double *end;          ///< last look at the plot
    size_t *plant;        ///< index of the plant in its plot
    size_t *species;      ///< index into `names`
    const char **names;
    size_t n_names;
};
enum outcome evidence_times(const struct plot_lives *lives, struct arena *arena, struct plot_curve *out, struct failure *why);

/// Dense plot against comparison plot on one site.
struct site_difference {
    const struct site *site;
    size_t a, b; ///< indices of the plots' lives; the difference is a − b
    struct plot_survival sa, sb;
    struct estimate difference; ///< Newcombe; the precision of these two plots, not evidence about the treatment
    double lowest, highest;     ///< with all not found read against and for
    const char *attribution;    ///< what the difference may be given to
    bool unequal_care;
    const char *care; ///< sentence about care, NULL if nothing is recorded
    const char *sentence;
};
/// All sites with a plot of regime `a` and one of regime `b` that have a census in the same year of age.
enum outcome evidence_pairs(const struct evidence_facts *facts, const struct plot_lives *lives, enum regime a, enum regime b, double level,
                            struct arena *arena, struct site_difference **out, size_t *n, struct failure *why);

/// The same over sites: the site is the replicate.
struct sites_difference {
    size_t sites;
    struct estimate mean; ///< Student t over sites, in shares; interval unknown under 2 sites
    double sd;            ///< between sites
    double p, p_least;    ///< exact sign flips; unknown under 5 sites
    double detectable;    ///< difference that 80 % of such programmes would find; unknown under 2 sites
    size_t positive;      ///< sites where a − b is above zero
    const char *rung;     ///< counted, compared, repeated, attributed
    const char *sentence;
    const char *cannot; ///< what this comparison cannot tell
};
enum outcome evidence_over_sites(const struct site_difference *pairs, size_t n, const struct trial_table *design, const char *a_words,
                                 const char *b_words, double level, struct arena *arena, struct sites_difference *out, struct failure *why);

/* ---- growth ------------------------------------------------------------------------------------------------------- */

/// Height of the first planting of a plot from one census to a later one, in views that together cannot flatter.
struct plot_growth {
    const struct plot_lives *lives;
    size_t from, to; ///< census indices
    double years;
    struct estimate same_plants_cm;                        ///< mean gain of plants alive and measured at both; Student t
    struct estimate per_planted_cm;                        ///< mean height now per plant planted, the dead counting 0
    double per_m2_cm;                                      ///< summed height now per m² of net area; NaN unknown
    struct estimate survivors_before_cm, survivors_now_cm; ///< mean of whoever was alive then and now: the view that flatters
    double tallest_cm;                                     ///< mean of the tallest five per 100 m²; NaN under that many measured
    size_t measured, measured_both;
    struct estimate rgr;  ///< relative growth per year of the same plants
    const char *sentence; ///< says when the mean of survivors rose because short plants died
};
enum outcome evidence_growth(const struct plot_lives *lives, double level, struct arena *arena, struct plot_growth *out,
                             struct failure *why);

/// Same-plant gain on species that both plots have in numbers, species counting alike in both.
struct shared_growth {
    size_t species;
    const char *names;
    struct estimate a_cm, b_cm, difference_cm; ///< means over species; difference by species, Student t
    const char *sentence;
};
enum outcome evidence_shared_growth(const struct plot_lives *a, const struct plot_lives *b, double level, struct arena *arena,
                                    struct shared_growth *out, struct failure *why);

/* ---- wildlife ----------------------------------------------------------------------------------------------------- */

struct plot_wildlife {
    const struct plot *plot;
    const struct site *site;
    enum wildlife_group group;
    size_t looks, looks_empty, looks_without_effort;
    double effort;           ///< summed, in `effort_unit`
    const char *effort_unit; ///< NULL: mixed or not recorded
    double individuals;
    size_t taxa;
    struct estimate rate;     ///< individuals per unit of effort, by looks (bootstrap-free: Student t over looks)
    struct estimate richness; ///< expected taxa at `at_looks` looks (sample-based rarefaction)
    size_t at_looks;          ///< looks at which all plots of the group on this site are compared
    double coverage;          ///< sample coverage of the looks
};
/// Every plot and group that was looked at; plots of one site are compared at the least number of looks any of them has.
enum outcome evidence_wildlife(const struct evidence_facts *facts, double level, struct arena *arena, struct plot_wildlife **out, size_t *n,
                               struct failure *why);

/* ---- care --------------------------------------------------------------------------------------------------------- */

struct plot_care {
    const struct plot *plot;
    size_t waterings, skipped;
    double litres_m2; ///< NaN: some waterings without a figure
    double hours;     ///< known hours of all care
};
enum outcome evidence_care(const struct evidence_facts *facts, struct arena *arena, struct plot_care **out, struct failure *why);

/* ---- claims ------------------------------------------------------------------------------------------------------- */

/// A sentence somebody wants to write, with the reasons it may not hold here.
struct claim_check {
    bool refused; ///< it claims more than the design carries
    const char **reasons;
    size_t n_reasons;
    const char *instead; ///< what may be said
};
enum outcome evidence_claim(const char *claim, const struct evidence_facts *facts, const struct plot_lives *lives,
                            const struct trial_table *design, struct arena *arena, struct claim_check *out, struct failure *why);
#endif
