/* SPDX-License-Identifier: GPL-3.0-or-later
 * The face of stand/: how a planting may grow, crowd and die in the decades ahead, plant by plant, many times over.
 *
 * Nothing here is a prediction of one wood. A run is one way it may go; the ensemble shows how far the ways lie apart.
 * Parameters are illustrative where their source says so; records of the plot correct them (correct.c), and what was
 * foretold is held against what came (score.c). Methods, equations and sources: docs/methods/stand.md.
 * Typical: 1,000 plants, 30 years, 1,000 runs in some seconds; time goes into the light (light.c). Memory is linear in
 * plants × threads and in runs × years. Same seed and input give the same bytes on any number of threads or ranks. */
#ifndef SPINNEY_STAND_H
#define SPINNEY_STAND_H
#include "base/base.h"
#include "geo/shape.h"
#include "model/model.h"

/* ---- kinds of plants ---------------------------------------------------------------------------------------------- */

/// What is known of a species in general. Unknown: NaN or 0.
struct stand_traits {
    const char *name;
    enum layer layer;
    double height_most_m; ///< tallest on record
    double shade;         ///< tolerance 1 to 5 (Niinemets & Valladares 2006)
    double drought;       ///< tolerance 1 to 5, the same source
    double wood_g_cm3;    ///< dry wood density
    int growth;           ///< 1 slow, 2 medium, 3 fast; 0 unknown
    double height_20_m;   ///< height at 20 years, where the library has it
    enum truth wind_sown; ///< seeds that arrive by wind
};
/// What one kind of plant does, in the terms of the growth equations.
struct stand_kind {
    const char *name;
    enum layer layer;
    double height_most_m;    ///< height it tends to
    double height_rate_m;    ///< height a young plant in the open gains in a year
    double diameter_most_cm; ///< basal diameter it tends to
    double light_least;      ///< share of full light at which a leaf just pays for itself
    double leaf_most;        ///< leaf area over ground area within one full crown
    double crown_m;          ///< crown radius of an open-grown plant of 2 cm basal diameter
    double wood_t_m3;        ///< dry wood density
    double drought;          ///< extra death rate of a small plant in a year without any water [1/a]
    double age_most;         ///< years that 1 in 100 would reach by itself
    unsigned assumed;        ///< bits of enum stand_assumed: which of these rest on no figure for the species
};
enum stand_assumed { ASSUMED_HEIGHT = 1, ASSUMED_RATE = 2, ASSUMED_SHADE = 4, ASSUMED_DROUGHT = 8, ASSUMED_WOOD = 16 };
/// The kind that these traits make. Never fails: what is unknown takes the middle of its layer and is marked as assumed.
struct stand_kind stand_kind_of(const struct stand_traits *traits);

/// What is drawn anew for each run, as factors on a kind: 1 is the middle.
/// Growth in wood passes from its factor when young to that when grown as 8/(8 + height in m): saplings say little of trees.
enum stand_factor { FACTOR_GROWTH, FACTOR_HEIGHT, FACTOR_DEATH, FACTOR_LIGHT, FACTOR_YIELD, STAND_FACTORS };
extern const char *const stand_factor_words[STAND_FACTORS];
/// Spread of those factors as standard deviations of their logarithms, and of what all kinds of a run share.
struct stand_doubt {
    double kind[STAND_FACTORS];  ///< between kinds, each drawn for itself
    double place[STAND_FACTORS]; ///< shared by all kinds of a run
    double plant;                ///< between plants of a kind, for life
    double year;                 ///< of one plant from year to year
    double season;               ///< of all plants of a run from year to year, beside water, in growth
    double season_death;         ///< the same in the death rate of all but shade
};
/// Illustrative; docs/methods/stand.md says what each rests on.
struct stand_doubt stand_doubt_default(void);
/// Factors of every run: out[runs * n_kinds * STAND_FACTORS], run by run, kind by kind.
void stand_factors_draw(const struct stand_doubt *doubt, size_t n_kinds, size_t runs, uint64_t seed, double *out);

/* ---- ground, weather and what stands around ----------------------------------------------------------------------- */

/// How the ground was made ready, as it acts on young plants. Illustrative.
struct stand_ground {
    double establish_death; ///< death rate in the first year from being planted [1/a]; halves every year after
    double growth;          ///< factor on growth
    double damage_death;    ///< death rate of a lone small plant from browsing, mowing, people [1/a]
    double damage_density;  ///< plants/m² around it at which that rate is halved
};
struct stand_ground stand_ground_prepared(void);
struct stand_ground stand_ground_unprepared(void);

/// Water factor of a year: actual over reference transpiration of the growing season, 1 no want of water, 0 none at all.
struct stand_weather {
    const double *water; ///< water[n]: years that are drawn from with replacement, each run anew
    size_t n;            ///< 0: an illustrative climate (beta, mean 0.90)
};
/// Mean stress factor of the days of a season: what a yearly water factor is. Unknown days are left out; NaN if more than a
/// third is unknown.
double stand_water_of_season(const double *stress, size_t n);

/// Something beside the plot that takes light: a building, a wall, a tree.
struct stand_shade {
    const struct shape *shape; ///< in the plot's metres
    double height_m;
    double reach_m; ///< crown radius around a point; 0 for others
    double through; ///< share of light that passes: 0 for a building
};
enum { STAND_RAYS = 5 }; ///< from above, then from south, north, east, west at 45°
/// Share of the growing season's light over open ground that comes from each, for a latitude: half of it from an even sky, half
/// from the sun of the summer half-year through clear air (Beer's law, 0.7 per air mass). share[STAND_RAYS] sums to 1.
enum outcome stand_sky_shares(double latitude_deg, double share[STAND_RAYS], struct failure *why);

/* ---- the look ahead ----------------------------------------------------------------------------------------------- */

struct stand_plant {
    double x_m, y_m;
    uint32_t kind;
    double height_m;    ///< at the start
    double diameter_cm; ///< basal; unknown: from the height (collar 1 cm per m, at least 0.4 cm)
    double age;         ///< years since it was planted; 0 fresh
};

struct stand_setting {
    const struct stand_kind *kinds;
    size_t n_kinds;
    const struct stand_plant *plants;
    size_t n_plants;
    const struct shape *outline; ///< of the plot; NULL: the box
    struct box box;              ///< used where outline is NULL
    bool endless;                ///< the box repeats on all sides (for tests of laws without edges)
    struct stand_ground ground;
    struct stand_weather weather;
    const struct stand_shade *shades;
    size_t n_shades;
    double sky[STAND_RAYS]; ///< of stand_sky_shares; all 0: that of 52° N
    double arrivals_m2;     ///< plants that come by themselves, per m² and year; 0: none
    const bool *arriving;   ///< arriving[n_kinds]; NULL: none
    const double *factors;  ///< factors[runs * n_kinds * STAND_FACTORS]; NULL: drawn from doubt
    struct stand_doubt doubt;
    int years;   ///< 1 … 100
    size_t runs; ///< 1 … 100,000
    uint64_t seed;
    const int *show; ///< years at which plants are tallied one by one, ascending, at most 16
    size_t n_show;
    bool inequality;                   ///< reckon Gini's coefficient too, which costs a sort a year
    int threads;                       ///< 0: as many as there are
    const struct stand_spread *spread; ///< NULL: all runs here
    const struct progress *progress;
};
void stand_setting_init(struct stand_setting *setting);

/// What is kept of each run and year.
enum stand_measure {
    STAND_ALIVE,      ///< plants
    STAND_BASAL,      ///< basal area at the collar [m²/ha]
    STAND_DIAMETER,   ///< quadratic mean basal diameter [cm]
    STAND_BREAST,     ///< quadratic mean diameter at 1.3 m of plants taller than 2 m, from the basal diameter by taper [cm]
    STAND_HEIGHT,     ///< mean height [m]
    STAND_TOP_HEIGHT, ///< mean height of the tallest 100 to the hectare, at least one [m]
    STAND_MASS,       ///< dry above-ground wood [kg/m²]
    STAND_LEAF,       ///< leaf area over ground area
    STAND_COVER,      ///< share of the ground under crowns
    STAND_FLOOR,      ///< share of full light that reaches the ground
    STAND_VARIATION,  ///< coefficient of variation of plant mass
    STAND_GINI,       ///< Gini's coefficient of plant mass; NaN where not asked for
    STAND_MATURE,     ///< canopy and subcanopy plants in full light at 8 m or more
    STAND_MEASURES
};
struct stand_measure_words {
    const char *name, *title, *unit;
    int digits;
};
extern const struct stand_measure_words stand_measures[STAND_MEASURES];
enum stand_death { DEATH_ESTABLISH, DEATH_SHADE, DEATH_DROUGHT, DEATH_DAMAGE, DEATH_AGE, STAND_DEATHS };
extern const char *const stand_death_words[STAND_DEATHS];
enum { STAND_LAYER_COUNT = 6 }; ///< by enum layer: unknown, canopy, subcanopy, shrub, climber, ground

/// Everything in one block of arrays; year runs from 0 to years.
struct stand_result {
    size_t runs, n_kinds, n_plants, n_show;
    int years;
    double area_m2;
    float *measure;         ///< [run][year][STAND_MEASURES]
    float *kind_alive;      ///< [run][year][kind] plants of the first planting and arrivals
    float *kind_height;     ///< [run][year][kind] mean height [m]; NaN where none lives
    float *kind_diameter;   ///< [run][year][kind] mean basal diameter [cm]
    float *kind_mature;     ///< [run][year][kind]
    float *kind_expected;   ///< [run][year][kind] expected deaths of that year (sum of probabilities)
    float *layer_height;    ///< [run][year][STAND_LAYER_COUNT] mean height [m]
    float *deaths;          ///< [run][year][STAND_DEATHS] deaths in the year that ends then
    float *over;            ///< [run][year][4] overtopped plants, their deaths, others, their deaths
    uint32_t *plant_alive;  ///< [show][plant] runs in which it lives
    uint32_t *plant_mature; ///< [show][plant] runs in which it is mature
    uint64_t *plant_height; ///< [show][plant] sum of heights where alive [mm]
};
/// How runs are spread over processes: each takes runs rank, rank + ranks, …; `gather` fills the rest of an array of
/// runs × bytes from the others, and `add` sums arrays over ranks. NULL where there is one process.
struct stand_spread {
    int rank, ranks;
    void *who;
    enum outcome (*gather)(void *who, void *at, size_t runs, size_t bytes, struct failure *why);
    enum outcome (*add)(void *who, uint64_t *at, size_t n, struct failure *why);
};
/// Run the ensemble. Arena memory. Fails with OUTCOME_DATA where a plant has no place or size that can be, OUTCOME_USAGE where a
/// number asked for is out of range, OUTCOME_CANCELLED where the progress calls it off.
enum outcome stand_look_ahead(const struct stand_setting *setting, struct arena *arena, struct stand_result *out, struct failure *why);

/// A plant of one run in one year.
struct stand_picture_plant {
    uint32_t plant, kind;                                    ///< index into the plants; SIZE: an arrival
    double x_m, y_m, height_m, base_m, crown_m, diameter_cm; ///< base: height of the lowest living branch
};
/// Run one run again and give its living plants in each of the show years: pictures[n_show], n[n_show]. Arena memory.
enum outcome stand_picture(const struct stand_setting *setting, size_t run, struct arena *arena, struct stand_picture_plant **pictures,
                           size_t *n, struct failure *why);
/// The run nearest to the middle of all, by stocking, top height and mass over the years.
size_t stand_middle_run(const struct stand_result *result);

/// Quantile over runs of a measure in a year; probabilities 0 to 1. NaN where no run has it. R's type 7.
double stand_quantile(const struct stand_result *result, enum stand_measure measure, int year, double probability);
/// The same of any [run][year][wide] array of the result.
double stand_quantile_of(const struct stand_result *result, const float *array, size_t wide, size_t column, int year, double probability);
double stand_mean_of(const struct stand_result *result, const float *array, size_t wide, size_t column, int year);

/* ---- laws ---------------------------------------------------------------------------------------------------------- */

/// Reineke's stand density index: stems/ha × (Dq / 25.4)^1.605, Dq in cm (Reineke 1933).
double stand_density_index(double stems_ha, double dq_cm);
/// Stems/ha at which the index reaches `index` at this diameter.
double stand_density_most(double index, double dq_cm);
/// Yoda's line: mean dry mass [g] at stems/m² for log10 K (Yoda et al. 1963).
double stand_yoda_mass(double stems_m2, double log10_k);
double stand_gini(const double *x, size_t n, struct arena *arena); ///< Gini's coefficient, n/(n−1) corrected (Weiner & Solbrig 1984)
/// Slope and intercept of y on x by reduced major axis (both vary), with r. NaN under 3 points.
void stand_axis(const double *x, const double *y, size_t n, double *slope, double *intercept, double *r);
/// Hegyi's index of a plant: sum of (d_j/d_i)/(L + 1) within `radius_m`, or without the + 1 where `plain` (Hegyi 1974).
double stand_hegyi(double d_i, const double *d, const double *distance_m, size_t n, double radius_m, bool plain);
/// Light left under a leaf area: exp(−k L) (Monsi & Saeki 1953), and the leaf area that leaves a share.
double stand_light_under(double leaf_area, double k);
double stand_leaf_from_light(double share, double k);
/// Dry above-ground wood of one plant [kg]: density × form × π/4 d² h with form 0.55.
double stand_mass_kg(double diameter_cm, double height_m, double wood_t_m3);
double stand_diameter_cm(double mass_kg, double height_m, double wood_t_m3);
/// Diameter at 1.3 m of a stem: basal × (1 − 1.3/h)^0.7; 0 up to 1.3 m. Illustrative taper.
double stand_breast_cm(double diameter_cm, double height_m);
/// Height beyond which a stem of this basal diameter would buckle under itself, at safety 2 (McMahon 1973) [m].
double stand_height_limit_m(double diameter_cm);
/// Net growth of a square metre of leaf that takes up `light` (share of full light per leaf area) [kg/a].
double stand_leaf_growth(double light, double light_least);

/// A species of the first gap models: G, and the largest diameter and height [cm].
struct stand_gap {
    double growth, diameter_most_cm, height_most_cm;
};
double stand_gap_height_cm(const struct stand_gap *kind, double diameter_cm);
/// Undiminished growth in diameter in a year [cm], never below 0 (Botkin, Janak & Wallis 1972).
double stand_gap_growth_cm(const struct stand_gap *kind, double diameter_cm);
double stand_gap_light(double light, bool tolerant);                    ///< share left by shade; light 0 … 1
double stand_gap_warmth(double degree_days, double least, double most); ///< share left by warmth, 0 outside the limits

/* ---- corrected by what was recorded ------------------------------------------------------------------------------- */

/// What two censuses say of one kind between them. n 0: nothing known.
struct stand_seen {
    size_t n;        ///< living at the first and known to live or not at the second
    size_t alive;    ///< of those, living at the second
    size_t tall;     ///< of those, with a height at the second
    double height_m; ///< their mean height at the second
    double height_sd;
    size_t thick; ///< of those, with a basal diameter at the second
    double diameter_cm, diameter_sd;
};
/// How far a correction has come. Exponents say how much of the evidence has been used.
struct stand_correction {
    double place_left;   ///< of the half that all kinds together may weigh with
    double *kind_left;   ///< [n_kinds] of each kind's own evidence
    double most_left;    ///< the largest of those; 0: done
    double place_weight; ///< runs that still counted at last (effective number)
    size_t kinds_told;   ///< kinds that had records
    int rounds;
};
enum { STAND_ROUNDS = 5 }; ///< a correction ends after so many; what is left then is not used
/// Correct the factors of all runs by what was seen of each kind `seasons` after the start of `result`, which must have been
/// run with these factors: runs that foretold it better are taken more often (particle filter; Gordon, Salmond & Smith 1993), first
/// all kinds together, then each kind for itself, each time with so much of the evidence as leaves a third of the runs counting; what
/// is drawn is shrunk towards the mean and shaken (Liu & West 2001, 0.95) so that runs stay apart. As long as most_left is above 0,
/// run again with the new factors and call again. `out` is {0} at first. factors[runs * n_kinds * STAND_FACTORS] change in place.
enum outcome stand_correct(const struct stand_result *result, int seasons, const struct stand_seen *seen, uint64_t seed, double *factors,
                           struct arena *arena, struct stand_correction *out, struct failure *why);
/// Log-likelihood of `alive` of n at chance p with likeness within a kind `rho` (beta-binomial).
double stand_alive_likelihood(size_t alive, size_t n, double p, double rho);
/// Chance that a plant of a kind lives `seasons` on in a run: product of one less the expected share of deaths of each year.
double stand_expected_alive(const struct stand_result *result, size_t run, size_t kind, int seasons);

/* ---- forecasts held against what came ------------------------------------------------------------------------------- */

/// Continuous ranked probability score of a sample of runs against what came, in the unit of both; 0 is best (Gneiting & Raftery 2007,
/// J. Am. Stat. Assoc. 102:359, eq. 21). Sorts `x`.
double stand_crps(double *x, size_t n, double seen);
/// The same of a beta-binomial number of n with shapes a and b, and of a normal distribution.
double stand_crps_counts(size_t n, double a, double b, size_t seen);
double stand_crps_normal(double mean, double sd, double seen);
/// The same from quantiles at evenly spaced levels 1/(n + 1) … n/(n + 1): twice the mean pinball loss.
double stand_crps_quantiles(const double *q, size_t n, double seen);
/// Share of runs below what came, half of those equal to it: even over 0 … 1 where forecasts are right.
double stand_rank(const double *x, size_t n, double seen);
enum stand_told_of { TOLD_ALIVE, TOLD_HEIGHT, TOLD_DIAMETER };
/// A forecast and what came.
struct stand_told {
    enum stand_told_of of;
    size_t census; ///< the one that came, counted from 0
    size_t kind;   ///< SIZE_MAX: all
    size_t n;      ///< plants it is about
    double start;  ///< the figure at the census before
    double seen, middle, low50, high50, low90, high90, crps;
    double rank;       ///< share of runs below what came
    double plain_crps; ///< of a plain rule for the same, which goes on as between the two censuses before: living beta-binomial with
                       ///< Jeffreys' prior, sizes normal with half the gain as standard deviation; NaN: none
};
/// From the runs of a column of the result in a year, times `scale`.
struct stand_told stand_tell(const double *runs, size_t n, double seen, struct arena *arena);
struct stand_skill {
    size_t n;
    double in50, in90;       ///< shares within the ranges
    double bias;             ///< mean of middle − seen
    double miss;             ///< mean of |middle − seen|
    double crps, plain_crps; ///< means; the plain one over those that have it
    double skill;            ///< 1 − crps/plain; below 0: the plain rule is better
};
struct stand_skill stand_skill_of(const struct stand_told *told, size_t n);

/* ---- a plot with its censuses --------------------------------------------------------------------------------------- */

enum stand_fate { FATE_UNKNOWN, FATE_ALIVE, FATE_DEAD };
/// One census, in the order of the history's plants.
struct stand_census {
    const unsigned char *fate;    ///< [n] enum stand_fate
    const double *height_m;       ///< [n] NaN: not measured
    const double *height_like_m;  ///< [n] what stands in for a height that was not measured, such as from a diameter; may be NULL
    const double *diameter_cm;    ///< [n] basal; NaN: not measured
    int seasons;                  ///< growing seasons since the census before; since planting for the first
    struct stand_weather weather; ///< water of those seasons where recorded; n 0: as in the setting
};
/// Everything that was ever put in, with what became of it.
struct stand_history {
    const struct stand_plant *plants; ///< [n] place, kind, size at planting; age in seasons at the first census (below 0: later)
    size_t n;
    const struct stand_census *censuses;
    size_t n_censuses;
};
/// The plants alive at a census as they stood: out[n] in the arena, which[n] says which of history->plants. What lives without a height
/// takes the mean of its kind there, then of all; n_assumed counts them.
void stand_state(const struct stand_history *history, size_t census, struct arena *arena, struct stand_plant **out, size_t **which,
                 size_t *n, size_t *n_assumed);
/// What is seen of each kind between a census and the next: seen[n_kinds].
void stand_between(const struct stand_history *history, size_t census, size_t n_kinds, struct stand_seen *seen);
struct stand_hindsight {
    struct stand_told *told; ///< what each census would have been told by all before it, and what came
    size_t n_told;
    struct stand_correction *corrections; ///< [n_censuses − 1]
    size_t n_corrections;
};
/// Walk through the censuses: from each, foretell the next with what was learnt so far, hold it against what came, then correct.
/// `setting` gives kinds, ground, light, runs and seed; factors[runs * n_kinds * STAND_FACTORS] are corrected in place. Kinds with
/// fewer than `least` plants are told of only within all. Censuses without a growing season between are passed over.
enum outcome stand_hindcast(const struct stand_setting *setting, const struct stand_history *history, size_t least, double *factors,
                            struct arena *arena, struct stand_hindsight *out, struct failure *why);
#endif
