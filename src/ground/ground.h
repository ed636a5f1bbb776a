/* SPDX-License-Identifier: GPL-3.0-or-later
 * The face of ground/: what kind of soil it is, what limits roots, how to prepare it, what goes in and what carbon lies in it. */
#ifndef SPINNEY_GROUND_H
#define SPINNEY_GROUND_H
#include "base/base.h"
#include "model/model.h"

/* ---- texture ---- */

/// USDA texture class of fine earth. Parts in per cent by mass, each 0–100. Fails with OUTCOME_DATA where they miss 100 by
/// more than `tolerance_pct`, naming the sum. One of the three may be unknown: it is then what is left to 100.
/// USDA Soil Survey Manual (Handbook 18, 2017), ch. 3, texture class definitions.
enum outcome texture_of(double sand_pct, double silt_pct, double clay_pct, double tolerance_pct, enum texture *out, struct failure *why);
/// Sand and clay [%] that stand for a class known only by feel: the mid-points printed in Saxton & Rawls 2006, table 3.
/// False for TEXTURE_UNKNOWN.
bool texture_midpoint(enum texture texture, double *sand_pct, double *clay_pct);
/// The class as words, "loamy sand"; "texture not known".
const char *texture_words(enum texture texture);

/* ---- water in the soil (Saxton & Rawls 2006, Soil Sci. Soc. Am. J. 70:1569–1578) ---- */

enum soil_flag {
    SOIL_ORGANIC_OUTSIDE = 1,  ///< organic matter of 8 % or more: outside the data the equations were fitted to
    SOIL_CLAY_OUTSIDE = 2,     ///< clay above 60 %
    SOIL_DENSITY_OUTSIDE = 4,  ///< density over normal density outside 0.9–1.3
    SOIL_NO_AIR_SPACE = 8,     ///< so dense that saturation would not exceed field capacity: those results are unknown
    SOIL_FROM_FEEL = 16,       ///< sand and clay are the mid-point of a class, not measured
    SOIL_ORGANIC_ASSUMED = 32, ///< organic matter was not known: 2.5 % of the published table is used
    SOIL_STONES_UNKNOWN = 64,  ///< stones not known: figures of the whole soil are unknown
};

struct soil_water_input {
    double sand_pct, clay_pct; ///< of the fine earth by mass
    double organic_matter_pct; ///< by mass (not carbon); unknown: 2.5, flagged
    double bulk_density_g_cm3; ///< of the fine earth; unknown: normal density times the factor
    double density_factor;     ///< used where the density is unknown; unknown: 1
    double stones_volume_pct;  ///< over 2 mm, of the whole soil by volume; unknown: whole-soil figures are unknown
};

struct soil_water {
    double wilting_point;           ///< water at 1500 kPa, m³/m³ of fine earth
    double field_capacity;          ///< water at 33 kPa
    double saturation;              ///< all pores full
    double drainable;               ///< saturation less field capacity before the density correction (S33)
    double normal_density_g_cm3;    ///< density the texture would have by itself
    double density_g_cm3;           ///< density used
    double density_factor;          ///< density used over normal density
    double available;               ///< field capacity less wilting point, m³/m³ of fine earth
    double available_whole;         ///< the same of the whole soil, stones taken off
    double conductivity_mm_h;       ///< saturated, fine earth
    double conductivity_whole_mm_h; ///< saturated, with stones
    double density_whole_g_cm3;     ///< with stones
    double air_entry_kpa;           ///< tension at which air enters
    double slope_b;                 ///< B of tension = A θ^−B
    double intercept_a_kpa;         ///< A of the same
    double lambda;                  ///< 1/B
    unsigned flags;                 ///< of enum soil_flag
};
/// Fails with OUTCOME_DATA where sand and clay are not parts of one whole, organic matter is not 0–60 % or a density cannot be.
enum outcome soil_water(const struct soil_water_input *in, struct soil_water *out, struct failure *why);
/// Tension [kPa] at a water content between wilting point and saturation (equations 11–13), and conductivity [mm/h] there
/// (equation 17). Unknown outside.
double soil_water_tension_kpa(const struct soil_water *soil, double theta);
double soil_water_conductivity_mm_h(const struct soil_water *soil, double theta);
/// The flags as sentences, one after another; "" for none. In the arena.
const char *soil_flags_words(unsigned flags, struct arena *arena);
struct soil_layer_water {
    double top_m, bottom_m; ///< below the surface
    double available_whole; ///< m³/m³
};
/// Available water [mm] of a pit down to `root_depth_m`, stones taken off. Layers from the surface down; where one is unknown or
/// there is a gap, the sum stops there. `known_to_m` (may be NULL) is how deep it reaches; unknown if not even the top is known.
double soil_available_mm(const struct soil_layer_water *layers, size_t n, double root_depth_m, double *known_to_m);

/* ---- density that restricts roots ---- */

enum density_source { DENSITY_NRCS_CLASSES, DENSITY_NRCS_GENERAL, DENSITY_URBAN_TREES, DENSITY_LECTURE, DENSITY_SOURCES };
enum density_verdict { DENSITY_UNKNOWN, DENSITY_GOOD, DENSITY_BETWEEN, DENSITY_AFFECTS, DENSITY_RESTRICTS };
struct density_source_info {
    const char *name;  ///< to choose it by
    const char *title; ///< publication
    const char *grade; ///< how far it was checked
};
extern const struct density_source_info density_sources[DENSITY_SOURCES];
struct density_limit {
    enum texture texture;
    double clay_from_pct, clay_below_pct; ///< where the class is split by clay
    double good_below;                    ///< g/cm³; unknown where the source names none
    double affects_from;                  ///< g/cm³; unknown where the source names none
    double restricts_above;               ///< g/cm³
};
/// Rows of one source.
const struct density_limit *density_limits(enum density_source source, size_t *n);
bool density_source_find(const char *name, enum density_source *out);
struct density_judgement {
    enum density_verdict verdict;
    struct density_limit limit; ///< the row it was held against
    char words[320];            ///< "1.50 g/cm³ is above the restricting value of 1.47 g/cm³ (clay; USDA-NRCS …)"
};
/// `clay_pct` may be unknown. Fails where the source has no row for the class, or the density is not between 0.05 and 2.65.
enum outcome density_judge(enum density_source source, enum texture texture, double clay_pct, double bulk_density_g_cm3,
                           struct density_judgement *out, struct failure *why);
/// Density of the fine earth from a ring with stones. Masses in g, volume in cm³; stones taken as 2.65 g/cm³.
enum outcome density_fine_earth(double mass_g, double stones_g, double volume_cm3, double *out, struct failure *why);

/* ---- bands of single readings ---- */

enum penetration_state {
    PENETRATION_UNKNOWN,
    PENETRATION_NOT_COMPARABLE,
    PENETRATION_FREE,
    PENETRATION_RESTRICTING,
    PENETRATION_NEARLY_NO_ROOTS
};
/// Under 2, 2–3, over 3 MPa (Sinnett et al. 2008); only near field capacity. `words` says which, and why not.
enum penetration_state penetration_judge(double mpa, enum truth near_field_capacity, const char **words);
enum infiltration_state { INFILTRATION_UNKNOWN, INFILTRATION_POOR, INFILTRATION_SLOW, INFILTRATION_FINE, INFILTRATION_DROUGHTY };
/// Under 10, 10–25, 25–250, over 250 mm/h. Common practice, no source.
enum infiltration_state infiltration_judge(double mm_h, const char **words);
enum ph_state { PH_UNKNOWN, PH_OUTSIDE, PH_ACID, PH_TOLERABLE, PH_COMFORTABLE, PH_LIME };
/// Bands are for pH in water; a value in a salt solution reads lower, and `words` says so.
enum ph_state ph_judge(double ph, enum ph_method method, const char **words);
/// Rate of the last of successive fills (the wettest): fall [mm] over minutes.
enum outcome infiltration_from_fills(const double *fall_mm, const double *minutes, size_t n, double *mm_h, struct failure *why);
struct worm_count {
    size_t pits;                              ///< counted
    double mean_per_pit, per_m2, least, most; ///< pits of 20 × 20 cm
    const char *words;                        ///< with the reminder that pits of one site are one replicate
};
/// Unknown counts are left out and not taken as 0. Fails where none is known or one is negative.
enum outcome worms_judge(const double *counts, size_t n, struct worm_count *out, struct failure *why);

/* ---- questions: what was typed may be in another unit ---- */

enum question_kind { QUESTION_UNIT, QUESTION_LAYER_OVERLAP, QUESTION_LAYER_GAP, QUESTION_METHOD, QUESTION_SUM, QUESTION_UNLIKELY };
struct soil_question {
    enum question_kind kind;
    size_t sample;        ///< index of the sample, where it came from a table
    const char *field;    ///< of soil_sample
    double given;         ///< as typed; unknown where words were
    double suggested;     ///< value in the field's own unit if the answer is yes; unknown if there is none
    const char *sentence; ///< the question, answered by a person; nothing is changed by itself
};
/// Ask about one typed number: field as in soil_sample, or "depth_m" for a depth typed in metres. False: nothing to ask.
/// The sentence lives in the arena.
bool soil_question_number(const char *field, double typed, struct arena *arena, struct soil_question *out);
/// Ask about a whole table: numbers, layers of one composite that overlap or leave gaps, loss on ignition named as carbon,
/// g/kg given as per cent, sums of sand, silt and clay. The questions live in the arena.
struct soil_question *soil_questions(const struct soil_sample *samples, size_t n, struct arena *arena, size_t *n_out);

/* ---- what limits roots here ---- */

enum limit_kind {
    LIMIT_COMPACTED, ///< dense or hard to penetrate
    LIMIT_STONES,    ///< stones or made ground
    LIMIT_REFUSAL,   ///< the auger stopped
    LIMIT_WET,       ///< mottles, standing water or slow infiltration
    LIMIT_DROUGHTY,  ///< water runs through
    LIMIT_ACID,
    LIMIT_LIME,
    LIMIT_PH_OUTSIDE,
    LIMIT_RICH,        ///< phosphorus high: nettles, not woodland flora
    LIMIT_CONTAMINANT, ///< lead above the screening figure given: a specialist decides
    LIMIT_KINDS
};
struct ground_limit {
    enum limit_kind kind;
    double top_cm, bottom_cm; ///< where; unknown if not of a layer
    double value;             ///< the worst reading
    const char *words;        ///< "compacted 12–45 cm: 3.1 MPa near field capacity"
    const char *consequence;  ///< what it means for the design
};
struct ground_layer {
    size_t sample;        ///< index in the input
    enum texture texture; ///< class, laboratory before feel
    bool has_water, has_density;
    struct soil_water water;          ///< if has_water
    struct density_judgement density; ///< if has_density
    const char *words;                ///< one line about the layer
};
/// One composite, pit or point on one day: never mixed with another.
struct ground_pit {
    int64_t site_id, plot_id;
    const char *zone, *composite; ///< NULL: not named
    enum time_point time_point;
    int32_t sampled_on;
    struct ground_layer *layers; ///< from the top
    size_t n_layers;
    struct ground_limit *limits;
    size_t n_limits;
    const char **not_known; ///< what was not measured, in words
    size_t n_not_known;
    enum truth loosening;  ///< needed, not needed, or not known
    double loosen_to_cm;   ///< lower limit of the deepest compacted layer; unknown where none
    double available_mm;   ///< water over the rooting depth; unknown where not computable
    double available_to_m; ///< depth that figure reaches
    const char *statement; ///< the limiting factor and what to do, in words
};
struct ground_options {
    enum density_source source;
    double root_depth_m;      ///< 0: 1.0
    double lead_screen_mg_kg; ///< 0: not screened; the local regime decides
    double rich_olsen_p_mg_l; ///< 0: 25 (UK index 3 and above; from memory)
};
struct ground_judgement {
    struct ground_pit *pits;
    size_t n_pits;
    const char *answer; ///< all pits in a few sentences, zones kept apart
    struct soil_question *questions;
    size_t n_questions;
};
/// Judge samples of any number of sites, zones and composites. Everything lives in the arena. Never averages over zones.
enum outcome ground_judge(const struct soil_sample *samples, size_t n, const struct ground_options *options, struct arena *arena,
                          struct ground_judgement *out, struct failure *why);

/* ---- preparation: quantities ---- */

/// What the quantities need beside the recipe. preparation_site_init gives the usual figures; unknown means not checked.
struct preparation_site {
    double area_m2;                      ///< prepared
    double outline_m;                    ///< fence where the preparation names none; unknown: the fence is unknown
    double plants;                       ///< for water gained per plant; unknown: that is unknown
    double near_water_m;                 ///< distance to open water; unknown: not checked
    double olsen_p_mg_l;                 ///< unknown: not measured
    double services_depth_m;             ///< shallowest service under the plot; unknown: not checked
    double water_table_m;                ///< unknown: not checked
    double lorry_payload_t;              ///< 16, common practice
    double lorry_volume_m3;              ///< 14, common practice
    double mulch_density_t_m3;           ///< 0.30, woodchip, common practice
    double excavator_m2_day;             ///< 150 loosened, common practice
    double soil_organic_pct;             ///< before, for the blend; unknown
    double soil_density_t_m3;            ///< dry, in place; unknown
    double soil_sand_pct, soil_clay_pct; ///< for water gained; unknown
    double compost_moisture_pct;         ///< 40, common practice
    double compost_organic_pct;          ///< of the dry mass; 45, common practice
    double blend_depth_m;                ///< 0.3
};
void preparation_site_init(struct preparation_site *site);
struct preparation_warning {
    char code[8]; ///< threshold or caution, such as T31
    char words[400];
};
struct preparation_quantities {
    double in_place_m3, loosened_m3, settled_m3; ///< soil as it lies, broken up, after settlement
    double raised_loose_m, raised_settled_m;     ///< how far the surface stands above the ground around, compost included
    double mound_soil_m3;                        ///< more soil needed to stand at the mound's height after settlement
    double compost_m3, compost_t;
    double compost_loads_mass, compost_loads_volume, compost_loads; ///< whole lorries: by mass, by volume, the larger
    double compost_share_pct;                                       ///< of the top 30 cm, by volume
    double nitrogen_kg, nitrogen_kg_ha;                             ///< total N in the compost
    double mulch_m3, mulch_t, mulch_loads_mass, mulch_loads_volume, mulch_loads;
    double fence_m, fence_posts; ///< posts each 2 m
    double water_m3_visit, water_m3_year;
    double machine_days;
    double organic_after_pct;  ///< organic matter of the blended depth
    double water_gain_l_plant; ///< available water gained in the blended and loosened depth, per plant
    struct preparation_warning warnings[16];
    size_t n_warnings;
};
/// Fails with OUTCOME_DATA for depths that cannot be (100 typed for 100 cm): says which and what was probably meant.
/// Unknown members of `preparation` give unknown quantities, never zero; a depth of 0 is none.
enum outcome preparation_quantities(const struct preparation *preparation, const struct preparation_site *site,
                                    struct preparation_quantities *out, struct failure *why);
/// Unit prices in the programme's currency without tax; unknown ones leave the cost unknown where they are needed.
struct preparation_prices {
    double excavator_day, compost_m3, mulch_m3, fence_m, gate, bowser_visit;
};
/// Cost of a preparation; `missing` (may be NULL) names the first price that was needed and not given.
double preparation_cost(const struct preparation_quantities *quantities, const struct preparation_prices *prices, double gates,
                        double bowser_visits, const char **missing);

/// One way to prepare a plot beside others.
struct preparation_alternative {
    const struct preparation *preparation;
    bool possible; ///< false: `why` says what is refused, and the rest is not filled in
    struct failure why;
    struct preparation_quantities quantities;
    double cost;               ///< without tax; unknown where a price is missing
    const char *missing_price; ///< the first price that was needed and not given; NULL
    const char *words;         ///< what it does to the ground as surveyed; also that no loosening is needed
};
/// Alternatives side by side, out[n] in the arena, in the order given. `pits` are those of the plot (n_pits 0: not surveyed).
struct preparation_alternative *preparation_compare(const struct preparation *list, size_t n, const struct preparation_site *site,
                                                    const struct preparation_prices *prices, double gates, double bowser_visits,
                                                    const struct ground_pit *pits, size_t n_pits, struct arena *arena);

/* ---- blending ---- */

struct amendment {
    const char *name;
    double wet_t;        ///< mass as delivered
    double moisture_pct; ///< water, of the wet mass
    double carbon_pct;   ///< of the dry mass
    double nitrogen_pct; ///< of the dry mass
};
struct blend {
    double dry_t, carbon_t, nitrogen_t, ratio; ///< C:N = sum of C over sum of N
    const char *words;                         ///< what the ratio does with nitrogen
};
enum outcome blend_mix(const struct amendment *parts, size_t n, struct blend *out, struct failure *why);
/// Dry mass of `b` for one of `a` that brings the mix to `target` C:N. Fails where no positive amount does.
enum outcome blend_for_ratio(const struct amendment *a, const struct amendment *b, double target, double *dry_b_per_a, struct failure *why);
/// Organic matter [%] after mixing `dry_t_ha` with organic share `amendment_om_pct` into `depth_m` of soil of `density_t_m3`.
enum outcome blend_organic_matter(double soil_om_pct, double density_t_m3, double depth_m, double dry_t_ha, double amendment_om_pct,
                                  double *om_pct, struct failure *why);
/// The dry mass [t/ha] that brings the soil to `target_om_pct`.
enum outcome blend_for_organic_matter(double soil_om_pct, double density_t_m3, double depth_m, double target_om_pct,
                                      double amendment_om_pct, double *dry_t_ha, struct failure *why);

/* ---- carbon ---- */

struct carbon_layer {
    double top_cm, bottom_cm;
    double carbon_pct;    ///< organic carbon, of fine earth by mass
    double organic_pct;   ///< organic matter, for the mineral mass; unknown: 1.724 × carbon
    double density_g_cm3; ///< fine earth
    double stones_pct;    ///< by volume; unknown is not taken as 0: the call fails
};
/// Cumulative stocks [t/ha] to the lower limit of each layer; `out` has n entries. Layers from the surface down without gaps.
enum outcome carbon_fixed_depth(const struct carbon_layer *layers, size_t n, double *out, struct failure *why);
/// Cumulative mineral masses [t/ha]; the same rules.
enum outcome carbon_mineral_mass(const struct carbon_layer *layers, size_t n, double *out, struct failure *why);
enum carbon_interpolation { CARBON_LINEAR, CARBON_MONOTONE };
/// Stocks of `layers` at the cumulative mineral masses of `reference`: out[n_reference], unknown where that mass was not reached
/// (never extrapolated). Linear: Ellert & Bettany 1995, Wendt & Hauser 2013; monotone: Hyman-filtered cubic spline through
/// (0, 0), von Haden, Yang & DeLucia 2020, Glob. Change Biol. 26:3759.
enum outcome carbon_equivalent_mass(const struct carbon_layer *layers, size_t n, const struct carbon_layer *reference, size_t n_reference,
                                    enum carbon_interpolation interpolation, double *out, struct failure *why);
/// Stock at one cumulative mass, from cumulative masses and stocks of n layers (rising masses, zero knot added). Unknown beyond.
enum outcome carbon_at_mass(const double *mass_t_ha, const double *stock_t_ha, size_t n, double at_t_ha,
                            enum carbon_interpolation interpolation, double *out, struct failure *why);
/// Slopes at n ≥ 2 knots of the cubic spline of Forsythe, Malcolm & Moler; `hyman` filters them so that it is monotone (y must
/// then be). Hyman 1983; Dougherty, Edelman & Hyman 1989.
enum outcome spline_fit(const double *x, const double *y, size_t n, bool hyman, double *slope, struct failure *why);
/// Inside the knots; unknown outside.
double spline_at(const double *x, const double *y, const double *slope, size_t n, double at);
/// Carbon over total nitrogen by mass; unknown where either is, or nitrogen is 0.
double carbon_nitrogen_ratio(double carbon_pct, double nitrogen_pct);
/// Whether carbon found by dry combustion may be partly cinder, coal or soot: above 25 of carbon to one of nitrogen in mineral soil
/// (usual 8 to 20; common practice, no source). Fresh wood chip does the same: it is a doubt, not a finding.
enum truth carbon_may_be_cinder(double carbon_pct, double nitrogen_pct);
struct carbon_change {
    double change_t_ha; ///< now less before
    double added_t_ha;  ///< brought in: after amendment less before; unknown where not sampled
    double gained_t_ha; ///< change less added: since amendment; unknown if either is
    const char *words;
};
/// `before`, `after_amendment` (unknown: not sampled) and `now` [t/ha], all to the same depth or mass.
struct carbon_change carbon_change(double before_t_ha, double after_amendment_t_ha, double now_t_ha);
/// Mean stock of the composites of one zone at one time, with a t interval between composites.
struct carbon_round {
    const char *zone; ///< NULL: not named
    enum time_point time_point;
    int32_t sampled_on;
    size_t composites, left_out;              ///< taken; left out because a density, stones or a layer is not known
    double depth_cm;                          ///< to which the stocks reach
    double fixed_mean, fixed_low, fixed_high; ///< to that depth [t/ha]; low and high unknown for one composite
    double mass_mean, mass_low, mass_high;    ///< to the mineral mass that every composite of the zone reached [t/ha]
    double sd_fixed, sd_mass;
    double mineral_mass_t_ha; ///< that mass
};
struct carbon_difference {
    const char *zone;
    const char *what;                                               ///< "changed", "added" or "gained"
    double fixed, fixed_low, fixed_high, mass, mass_low, mass_high; ///< t/ha, Welch's t interval
    double detectable_pct; ///< smallest difference of means that these numbers of composites find with 80 % power, of the mean
    const char *words;
};
struct carbon_survey {
    struct carbon_round *rounds;
    size_t n_rounds;
    struct carbon_difference *differences;
    size_t n_differences;
    const char **notes;
    size_t n_notes;
};
/// Samples of one plot, all times. Composites carry carbon; density and stones come from the same sample or, where it has none,
/// from the mean of the samples of the same zone, day and layer. Zones stay apart. `level` 0.95. Everything lives in the arena.
enum outcome carbon_survey(const struct soil_sample *samples, size_t n, double level, struct arena *arena, struct carbon_survey *out,
                           struct failure *why);
/// Smallest difference [% of the mean] found with `power` at two-sided `alpha` by n samples in each of two groups.
/// `exact`: by the noncentral t distribution; otherwise the normal approximation of the usual tables, too small for few samples.
enum outcome carbon_detectable(double cv_pct, double n_per_group, double power, double alpha, bool exact, double *pct, struct failure *why);
#endif
