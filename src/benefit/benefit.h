/* SPDX-License-Identifier: GPL-3.0-or-later
 * The face of benefit/: carbon, rain kept, noise, heat and dust of a small wood, each with its interval and its limits. */
#ifndef SPINNEY_BENEFIT_H
#define SPINNEY_BENEFIT_H
#include "base/base.h"
#include "model/model.h"

/// An estimate with what can be said about its error.
struct benefit_range {
    double value, low, high;
};

/* ---- carbon ---- */

enum sapling_flag {
    SAPLING_DIAMETER_OUTSIDE = 1, ///< basal diameter outside 1.84–118.4 mm
    SAPLING_HEIGHT_OUTSIDE = 2,   ///< height outside 13–1103 cm
};
/// Above-ground dry mass [g] with leaves from basal diameter [mm] and height [cm], bias of the logarithm corrected. Low and high: 95 % for the
/// mean of such plants at a site the equation has not seen (spread between studies and species), not for one plant. `flags` may be NULL.
/// Fails with OUTCOME_DATA on sizes that are not above 0. Fitted to Falster et al. 2015 (Ecology 96:1445), 446 deciduous plants of 27 species,
/// seven studies, mostly North American: no European calibration.
enum outcome sapling_mass(double diameter_mm, double height_cm, struct benefit_range *out, unsigned *flags, struct failure *why);
/// The same of many plants together: their masses add up, their common error does not cancel. Plants with unknown sizes are left out and counted.
struct stand_mass {
    struct benefit_range mass_kg; ///< of those measured
    size_t measured, unknown, outside;
};
enum outcome sapling_stand(const double *diameter_mm, const double *height_cm, size_t n, struct stand_mass *out, struct failure *why);
/// Above-ground dry mass [kg] of a tree from its diameter at breast height [cm], 2.5 and more. Groups: "aspen_alder_willow", "maple_birch",
/// "mixed_hardwood", "oak_beech". Low and high: ± 1.96 RMSE of the logarithm (0.236) for one tree. Jenkins et al. 2003, For Sci 49:12.
enum outcome tree_mass(const char *group, double dbh_cm, struct benefit_range *out, struct failure *why);
/// Share of the above-ground mass: "foliage", "roots", "bark" or "wood" of hardwoods (Jenkins et al. 2003); unknown for other words.
double tree_part(const char *part, double dbh_cm);
/// Carbon [kg] of above-ground dry mass with roots; root:shoot 0.38 (0.33–0.56, the two studies that dug), carbon 0.48 of dry mass.
struct benefit_range carbon_of(struct benefit_range above_kg);
double carbon_dioxide(double carbon_kg); ///< × 44/12

/* ---- rain kept by the canopy (Gash, Lloyd & Lachaud 1995, J Hydrol 170:79) ---- */

struct canopy {
    double cover;            ///< share of ground under crowns, 0–1
    double storage_mm;       ///< what the canopy holds, on the area of ground
    double evaporation_rain; ///< evaporation over rain rate while it rains, on the area of ground
};
/// Rain that wets the canopy full, and what one storm loses. Fails with OUTCOME_DATA where evaporation is as fast as rain.
enum outcome canopy_storm(const struct canopy *canopy, double rain_mm, double *lost_mm, double *saturating_mm, struct failure *why);

/* ---- noise (ISO 9613-2:1996, annex A, table A.1) ---- */

enum { NOISE_BANDS = 8 };
extern const int noise_bands_hz[NOISE_BANDS]; ///< 63 … 8000
/// Attenuation [dB] by dense foliage along a path of so many metres, each octave band. Below 10 m none; above 200 m as at 200 m.
enum outcome noise_foliage(double path_m, double out[NOISE_BANDS], struct failure *why);

/* ---- heat and dust ---- */

/// Mean heat taken up by evaporating so much a day over an area [kW]. It is a flow of heat, no fall of air temperature.
double heat_evaporated_kw(double mm_day, double area_m2, double t_c);
/// Dust settling on leaves in a year [g] on an area of ground: concentration [µg/m³], leaf area per ground, share blown off again. Speeds of
/// settling differ tenfold between studies: low, value and high take 0.03, 0.2 and 0.9 cm/s (Nowak et al. 2013, from memory).
struct benefit_range dust_year_g(double concentration_ug_m3, double leaf_area, double area_m2, double blown_off);
#endif
