/* SPDX-License-Identifier: GPL-3.0-or-later
 * The face of money/: from the mix to an order, from unit costs to a budget, from a ledger to cost per established plant. */
#ifndef SPINNEY_MONEY_H
#define SPINNEY_MONEY_H
#include "base/base.h"
#include "model/model.h"

/* ---- order ---- */

struct order_need {
    const char *species;
    enum layer layer;
    int64_t plants;   ///< by the plan of one plot
    const char *plot; ///< which plot wants them
};
/// What a supplier offers for a species; members unknown where not told. `species` NULL: for every species not named.
struct order_offer {
    const char *species, *nursery, *provenance, *size_cm, *specification;
    enum stock_form stock;
    int64_t bundle;    ///< plants in a bundle; INT_UNKNOWN: sold singly
    double unit_price; ///< of one plant without tax
    double lead_weeks; ///< time the supplier needs
};
void order_offer_init(struct order_offer *offer);
struct order_settings {
    double reserve_pct; ///< share added for losses before planting, 5
    double loss_pct,
        certainty_pct;     ///< instead of that share: chance that a plant is lost before planting, and how sure to be; unknown: by share
    double beating_up_pct; ///< share added for the first replacement; 10–15 from the same batch is common
    int32_t ordered_on, planting_on; ///< DATE_UNKNOWN: the lead time is not checked, and that is said
    double lead_weeks;               ///< where the offer names none, 26
    double tax_pct;                  ///< unknown: totals with tax are unknown
};
void order_settings_init(struct order_settings *settings);
struct order_row {
    const char *species;
    enum layer layer;
    const char *nursery, *provenance, *size_cm;
    enum stock_form stock;
    const char *specification;     ///< what to write on the order
    int64_t needed;                ///< by the plans
    int64_t reserve;               ///< added by the shares, rounded up
    int64_t bundle;                ///< 1: sold singly
    int64_t ordered;               ///< rounded up to whole bundles
    int64_t surplus;               ///< ordered less needed less reserve
    double unit_price, amount;     ///< without tax; unknown where no price
    double lead_weeks, weeks_left; ///< unknown where there are no dates
    bool late;                     ///< the time left is shorter than the supplier needs
    const char *late_words;        ///< NULL if not late
    int32_t order_by;              ///< latest day to order; DATE_UNKNOWN where planting or lead time is not known
    const char *plots;             ///< "D1 19, D2 18"
};
struct order {
    struct order_row *rows; ///< by species name
    size_t n;
    int64_t needed, reserve, ordered, surplus;
    double amount, tax, amount_with_tax; ///< unknown where any price is
    size_t without_price, late;
    const char **notes;
    size_t n_notes;
};
/// One line per species over all plots. Fails with OUTCOME_DATA on negative counts, shares outside 0–100, bundles under 1.
enum outcome order_make(const struct order_need *needs, size_t n_needs, const struct order_offer *offers, size_t n_offers,
                        const struct order_settings *settings, struct arena *arena, struct order *out, struct failure *why);
/// Plants to order for `needed` and `reserve` in bundles.
enum outcome order_round(int64_t needed, double reserve_pct, int64_t bundle, int64_t *reserve, int64_t *ordered, int64_t *surplus,
                         struct failure *why);

/// Plants to take so that `needed` are left with this certainty when each is lost with the chance `loss` before it is planted:
/// the least n with P(Binomial(n, 1 − loss) ≥ needed) ≥ certainty. loss 0 to below 1, certainty 0.5 to 0.9999. Plants of one
/// lot are lost together more often than by such chance, so that this is the least that is sensible.
enum outcome order_expected_loss(int64_t needed, double loss, double certainty, int64_t *plants, struct failure *why);
/// The latest day to order for a delivery on `planting_on`, given the supplier's weeks; DATE_UNKNOWN where either is unknown.
int32_t order_latest_day(int32_t planting_on, double lead_weeks);

/// A paper to ask for with a species.
struct order_paper {
    const char *paper; ///< "plant passport"
    const char *words; ///< why, and what must be on it
    const char *source;
};
enum { MOST_PAPERS = 4 };
/// Papers to ask for with plants of this species within the European Union, as a prompt to ask and no advice: a passport for
/// every one, a supplier's document with master certificate for trees of the forest list, a passport valid for the protected
/// zone for hosts of fire blight. Returns how many. Other countries' rules differ: the caller says so.
size_t order_papers(const char *species, struct order_paper out[MOST_PAPERS]);

/* ---- budget ---- */

enum budget_driver {
    PER_SITE,
    PER_PLANT,
    PER_M_FENCE,
    PER_GATE,
    PER_M2_LOOSENED,
    PER_M3_COMPOST,
    PER_M3_MULCH,
    PER_WATERING, ///< one visit of the bowser to a plot
    PER_WEEDING_HOUR,
    PER_COORDINATOR_HOUR,
    PER_MONITORING_HOUR,
    BUDGET_DRIVERS
};
/// One unit cost; the table is data that the user edits.
struct budget_price {
    const char *key, *item;
    enum cost_phase phase;
    enum budget_driver driver;
    double price;       ///< without tax
    const char *source; ///< the defaults say "illustrative"
    int64_t price_year;
};
/// The illustrative defaults (EUR, 2025).
const struct budget_price *budget_defaults(size_t *n);
const char *budget_driver_unit(enum budget_driver driver);
/// Quantities of one plot over the years budgeted; unknown ones make the plot's total unknown, 0 is none.
struct budget_plot {
    const char *code;
    int64_t site_id;
    double area_m2; ///< net
    int64_t plants;
    double plants_amount; ///< from the order, without tax; unknown: plants × price
    double loosened_m2, compost_m3, mulch_m3, fence_m, gates;
    double watering_visits, weeding_hours, coordinator_hours, monitoring_hours, volunteer_hours;
};
void budget_plot_init(struct budget_plot *plot); ///< all 0 but plants_amount unknown
enum split_rule { SPLIT_BY_AREA, SPLIT_BY_PLANTS, SPLIT_EQUALLY };
bool split_rule_read(const char *words, enum split_rule *out); ///< "by area", "by plants", "equally"
struct budget_settings {
    enum split_rule split;    ///< how what is paid per site is shared over its plots
    double volunteer_rate[3]; ///< per hour: none (0), low, the task's; unknown: that total is unknown
    const char *currency;
};
struct budget_line {
    size_t plot; ///< index
    const char *item;
    enum cost_phase phase;
    enum budget_driver driver;
    double quantity, price, amount;
    const char *source;
};
struct budget_total {
    double amount;             ///< establishment and monitoring, without volunteers
    double recipe, monitoring; ///< what the recipe costs; what watching costs (research, not recipe)
    double per_plant, per_m2;  ///< of the recipe; unknown where there are no plants or no area
    double volunteers[3];      ///< recipe with volunteers at the three rates
};
struct budget {
    struct budget_line *lines;
    size_t n_lines;
    struct budget_total *totals; ///< one per plot, in order
    struct budget_total all;
    const char **notes; ///< which prices are illustrative, which years differ
    size_t n_notes;
};
enum outcome budget_make(const struct budget_plot *plots, size_t n_plots, const struct budget_price *prices, size_t n_prices,
                         const struct budget_settings *settings, struct arena *arena, struct budget *out, struct failure *why);
/// Cost per m² [currency/m²] of one recipe at other areas of the same shape: fixed costs stay, fence goes with the square root of
/// the area, the rest with the area. `fence_m` is the fence at `area0_m2`. out[n].
enum outcome budget_curve(double fixed, double per_m2, double fence_m, double fence_price, double area0_m2, const double *area_m2, size_t n,
                          double *out, struct failure *why);

/* ---- ledger ---- */

struct ledger_plot {
    int64_t id, site_id;
    const char *code;
    double area_m2;
    int64_t plants;
};
struct ledger_settings {
    enum split_rule split; ///< where a shared line names none
    bool with_tax;
    int64_t price_year;        ///< year all is brought to; INT_UNKNOWN: prices stay as they were paid
    const int64_t *index_year; ///< price index given by the user
    const double *index_value;
    size_t n_index;           ///< 0: nothing is deflated, and that is said
    double volunteer_rate[3]; ///< none (0), low, the task's
};
struct ledger_share {
    int64_t plot_id;
    double amount[3];                  ///< spent, with volunteers at the three rates
    double by_phase[COST_PHASE_COUNT]; ///< spent and in kind, without volunteers
    double estimated;                  ///< lines marked as budget, not in the others
    double volunteer_hours;
};
struct ledger {
    struct ledger_share *shares; ///< one per plot, in order
    size_t n;
    double total[3], estimated;
    const char **notes; ///< lines that could not be deflated, split or taxed
    size_t n_notes;
};
/// Give every line to plots. A line of a plot stays there; of a site it is split over that site's plots; of no site over all.
/// Hours marked volunteer are valued at the three rates; paid hours are not costed here (their invoices are).
enum outcome ledger_split(const struct cost_item *items, size_t n_items, const struct work_hours *hours, size_t n_hours,
                          const struct ledger_plot *plots, size_t n_plots, const struct ledger_settings *settings, struct arena *arena,
                          struct ledger *out, struct failure *why);
/// Price of one year in another's money by an index; unknown where either year has none.
double price_deflate(double amount, int64_t from_year, int64_t to_year, const int64_t *index_year, const double *index_value, size_t n);

/* ---- cost per established plant ---- */

struct survival_belief {
    double planted;
    double alive;           ///< counted as established; unknown: the range is used
    double low, mode, high; ///< share established, 0–1, where not counted yet (PERT distribution)
};
struct cost_ratio {
    double estimate;                  ///< spend over plants established; unknown where none are
    double low, high;                 ///< interval by simulation; high may be infinite
    double fieller_low, fieller_high; ///< unknown where Fieller's set is not an interval, or not counted
    double delta_low, delta_high;     ///< unknown where not counted
    uint64_t seed;
    size_t draws;
    const char *words; ///< "4.10 EUR (3.90–4.40) …", or "no plants established; spend 1,234 EUR"
};
/// Spend (with standard deviation, 0 if exact) over plants established, by draws from the Jeffreys posterior (counted) or the
/// PERT range (not yet counted). Same seed, same bytes. `level` such as 0.95. Words live in the arena.
enum outcome cost_per_established(double spend, double spend_sd, const struct survival_belief *belief, double level, size_t draws,
                                  uint64_t seed, const char *currency, struct arena *arena, struct cost_ratio *out, struct failure *why);
/// A figure with a range: PERT over low, mode, high; all the same for a figure that is known.
struct cost_range {
    const char *name;
    double low, mode, high;
};
/// A regime whose costs, survival and replacement are ranges.
struct cost_plan {
    const struct cost_range *costs; ///< spent on the plot whatever lives
    size_t n_costs;
    double planted;
    struct cost_range survival;             ///< share of the first planting established at the end, 0–1
    int rounds;                             ///< of replacement, 0–5
    double replaced_share;                  ///< of what is missing, in each round, 0–1
    struct cost_range replacement;          ///< cost of one replacement plant, all in
    struct cost_range replacement_survival; ///< share of replacements established
    double area_m2;                         ///< unknown: nothing per m²
    struct cost_range canopy;               ///< share of the area under canopy at the end; mode unknown: nothing per m² of canopy
};
struct cost_band {
    double median, low, high; ///< over the draws; high may be infinite
};
struct cost_driver {
    const char *name;
    double rank_correlation; ///< Spearman's, with cost per established plant
};
struct cost_simulation {
    struct cost_band spend, established, per_established, per_m2, per_m2_canopy; ///< unknown members where not asked for
    struct cost_driver *drivers;                                                 ///< strongest first; only figures that have a range
    size_t n_drivers;
    double share_none; ///< of the draws with no plant established
    uint64_t seed;
    size_t draws;
};
/// Same seed, same bytes. Chance of single plants is not drawn: the ranges are of what is to be expected.
enum outcome cost_simulate(const struct cost_plan *plan, double level, size_t draws, uint64_t seed, struct arena *arena,
                           struct cost_simulation *out, struct failure *why);
/// Two regimes side by side: what is drawn for a figure of the same name is drawn alike in both (a dear year is dear for both);
/// survival, replacement and canopy are drawn for each on its own. Differences are a − b; chances are shares of the draws.
struct cost_versus {
    struct cost_band spend, per_established, per_m2, per_m2_canopy;        ///< differences; unknown members where not asked for
    double cheaper_spend, cheaper_established, cheaper_m2, cheaper_canopy; ///< chance that a costs less; ties count half
    struct cost_simulation a, b;                                           ///< each alone, from the same draws (no drivers)
    uint64_t seed;
    size_t draws;
};
enum outcome cost_compare(const struct cost_plan *a, const struct cost_plan *b, double level, size_t draws, uint64_t seed,
                          struct arena *arena, struct cost_versus *out, struct failure *why);

/// Cost over plants established from several sites (or plots): a ratio of sums whose parts vary together.
struct ratio_units {
    double estimate;                      ///< Σ spend / Σ established; unknown where none is established
    double se;                            ///< by linearisation (Cochran 1977, eq. 6.13 without finite population)
    double linear_low, linear_high;       ///< t with n − 1 degrees of freedom
    double fieller_low, fieller_high;     ///< with the covariance; unknown where the set is no interval
    double bootstrap_low, bootstrap_high; ///< units drawn again with replacement, percentiles; high may be infinite
    size_t n;
};
/// `spend` and `established` of n units, 0 or more. With one unit the intervals are unknown. Same seed, same bytes.
enum outcome cost_ratio_units(const double *spend, const double *established, size_t n, double level, size_t draws, uint64_t seed,
                              struct ratio_units *out, struct failure *why);
/// Difference of two such ratios on the same units (sites that have both): a − b.
struct ratio_versus {
    double difference, se, low, high;     ///< t with n − 1 degrees of freedom on linearised values
    double bootstrap_low, bootstrap_high; ///< sites drawn again
    double cheaper;                       ///< share of these draws in which a costs less; unknown with fewer than two sites
    size_t n;
};
enum outcome cost_ratio_versus(const double *spend_a, const double *established_a, const double *spend_b, const double *established_b,
                               size_t n, double level, size_t draws, uint64_t seed, struct ratio_versus *out, struct failure *why);
/// Fieller's interval for the ratio a/b of two independent normal estimates; false where the denominator may be zero.
bool ratio_fieller(double a, double se_a, double b, double se_b, double level, double *low, double *high);
/// Share that must live for a regime to cost the same per established plant as another: spend / (planted × other's cost).
/// Above 1 it cannot; the caller says so.
enum outcome survival_break_even(double spend, double planted, double other_cost, double *share, struct failure *why);
/// "1,234 EUR" or "4.10 EUR": two decimals under 100. In the arena.
const char *money_print(double amount, const char *currency, struct arena *arena);
#endif
