/* SPDX-License-Identifier: GPL-3.0-or-later
 * Single figures of site/: root protection areas, the reach of roots on clay, and the table of default stand-offs. */
#include "site/site.h"
#include <math.h>

enum { MOST_STEM_M = 5, ROOT_FACTOR = 12, ROOT_MOST_M = 15, VETERAN_FACTOR = 15, VETERAN_MARGIN_M = 5 };

/* Where no figure is given, something is drawn meanwhile so that nobody plants there by oversight: the upper end of the
 * 3 to 6 m that water companies and telecom owners ask for, and more where more can go wrong. */
#define ASK_OPERATOR "operator's written reply; no general figure is known"

const struct site_default site_defaults[] = {
    {"standoff.buried_service.electricity", NAN, 6, GRADE_NONE, ASK_OPERATOR, "new plants from a buried electricity cable"},
    {"standoff.buried_service.gas", NAN, 6, GRADE_NONE, ASK_OPERATOR, "new plants from a gas pipe"},
    {"standoff.buried_service.drinking_water", 3, 3, GRADE_READ, "a water company's guidance (one read); the company's reply wins",
     "new plants from a water main"},
    {"standoff.buried_service.sewer", 6, 6, GRADE_PRACTICE, "common practice, no source: 3 to 6 m, the larger taken",
     "new plants from a sewer"},
    {"standoff.buried_service.telecom", 3, 3, GRADE_PRACTICE, "common practice, no source: 3 to 6 m", "new plants from a telecom cable"},
    {"standoff.buried_service.heat", NAN, 6, GRADE_NONE, ASK_OPERATOR, "new plants from a heat main"},
    {"standoff.buried_service.fuel", NAN, 15, GRADE_NONE, ASK_OPERATOR, "new plants from a fuel pipeline"},
    {"standoff.buried_service.lighting", 3, 3, GRADE_PRACTICE, "common practice, no source: 3 to 6 m",
     "new plants from a street lighting cable"},
    {"standoff.buried_service.signal", 3, 3, GRADE_PRACTICE, "common practice, no source: 3 to 6 m", "new plants from a signal cable"},
    {"standoff.buried_service.unlisted", NAN, 6, GRADE_NONE, ASK_OPERATOR, "new plants from a service of unknown kind"},
    {"standoff.overhead_line", 9, 9, GRADE_PUBLISHED,
     "HSE GS6 (from memory): consult within 9 m of a line on wood poles; 15 m on steel towers; the operator decides",
     "planting and machines from an overhead line"},
    {"standoff.existing_tree", NAN, 15, GRADE_PUBLISHED, "BS 5837:2012, 4.6 and annex D: 12 × stem diameter, at most 15 m",
     "root protection area; a rule here replaces the computed radius"},
    {"standoff.veteran_tree", NAN, 15, GRADE_READ, "standing advice for England: the larger of 15 × stem diameter and canopy + 5 m",
     "buffer of a veteran tree; a rule here replaces the computed radius"},
    {"standoff.building", 5, 5, GRADE_PRACTICE, "common practice, no source: light, gutters, access", "any planting from a building"},
    {"standoff.wall", 2, 2, GRADE_PUBLISHED, "BS 5837, table A.1 (from memory): masonry wall, direct damage only",
     "any planting from a wall"},
    {"standoff.path", 1, 1, GRADE_PRACTICE, "common practice, no source: 1 to 2 m", "set-back from a path"},
    {"standoff.road", 2, 2, GRADE_PRACTICE, "common practice, no source; the highway authority decides", "set-back from a carriageway"},
    {"standoff.railway", NAN, 10, GRADE_NONE, "the railway's written reply; no general figure is known", "any planting from a railway"},
    {"standoff.sight_line", 0, 0, GRADE_LOCAL, "the drawn area itself; the highway authority decides", "a sight line drawn as an area"},
    {"standoff.sight_line.line", 3, 3, GRADE_PRACTICE,
     "common practice, no source: open from 0.6 to 2.0 m above ground within 3 m of paths, entrances and crossings",
     "a sight line drawn as a line"},
    {"standoff.water", 10, 10, GRADE_PUBLISHED, "UK Forestry Standard (from memory): channel under 2 m wide", "a narrow watercourse"},
    {"standoff.water.wide", 20, 20, GRADE_PUBLISHED, "UK Forestry Standard (from memory): channel over 2 m wide, lakes",
     "a wide watercourse or a lake"},
    {"standoff.play_area", 2, 2, GRADE_PRACTICE, "common practice, no source: thorns at least 2 m from play",
     "any planting from a play area"},
    {"standoff.fence", 1, 1, GRADE_PRACTICE, "common practice, no source: 1 to 2 m", "set-back from a fence"},
    {"standoff.archaeology", 20, 20, GRADE_PUBLISHED, "UK Forestry Standard (from memory): open ground round known archaeology",
     "any planting from known archaeology"},
    {"standoff.contamination", NAN, 0, GRADE_NONE, "a contaminated-land specialist's advice", "ground known or thought to be contaminated"},
    {"standoff.invasive_plant", 7, 7, GRADE_PUBLISHED,
     "knotweed rhizomes: 3 m typical, 7 m historic precaution (from memory); the larger taken", "soil works from an invasive plant"},
    {"standoff.open_habitat", 0, 0, GRADE_LOCAL, "the drawn area itself; an ecologist decides", "valuable open ground"},
    {"standoff.street_furniture", 1.5, 1.5, GRADE_PUBLISHED, "BS 5837, table A.1 (from memory): light structure, direct damage only",
     "any planting from lamp posts, benches, signs"},
    {"standoff.soft_exclusion", 0, 0, GRADE_LOCAL, "the drawn area itself", "ground somebody wants kept free"},
    {"standoff.other", NAN, 0, GRADE_NONE, "whoever knows what it is", "anything else: its distance has to be given by hand"},
    /* Used by species, not for all planting. */
    {"keep.tall_tree.service_shallow", 3, 3, GRADE_PUBLISHED, "BS 5837, table A.1 (from memory): service less than 1 m deep, direct damage",
     "a future large tree from a service less than 1 m deep"},
    {"keep.tall_tree.service_deep", 2, 2, GRADE_PUBLISHED, "BS 5837, table A.1 (from memory): service deeper than 1 m, direct damage",
     "a future large tree from a deeper service"},
    {"keep.thorny", 2, 2, GRADE_PRACTICE, "common practice, no source: at least 2 m from paths and play", "thorny plants"},
    {"keep.hazard", 2, 2, GRADE_PRACTICE, "common practice, no source: as for thorns", "poisonous or irritant plants from paths and play"},
};
const size_t site_n_defaults = sizeof site_defaults / sizeof *site_defaults;

const char *site_grade_word(enum site_grade grade)
{
    static const char *const words[] = {"no figure", "read in the source", "published, from memory", "common practice", "decided locally"};
    return words[grade];
}

static bool stem_possible(double diameter_m)
{
    return diameter_m > 0 && diameter_m <= MOST_STEM_M;
}

double site_stem_combined_m(const double *diameters_m, size_t n)
{
    double sum = 0, squares = 0;
    for (size_t i = 0; i < n; i++) {
        if (!stem_possible(diameters_m[i]))
            return unknown_real();
        sum += diameters_m[i];
        squares += diameters_m[i] * diameters_m[i];
    }
    if (n == 0)
        return unknown_real();
    double mean = sum / (double)n;
    return n <= 5 ? sqrt(squares) : sqrt(mean * mean * (double)n);
}

double site_root_radius_m(double diameter_m)
{
    return stem_possible(diameter_m) ? fmin(ROOT_FACTOR * diameter_m, ROOT_MOST_M) : unknown_real();
}

double site_veteran_radius_m(double diameter_m, double canopy_radius_m)
{
    double by_stem = stem_possible(diameter_m) ? VETERAN_FACTOR * diameter_m : unknown_real();
    double by_crown = canopy_radius_m >= 0 ? canopy_radius_m + VETERAN_MARGIN_M : unknown_real();
    return fmax(by_stem, by_crown); /* fmax passes over one NaN */
}

double site_clay_zone_m(enum water_demand demand, double mature_height_m)
{
    double reach = water_demand_reach(demand == WATER_DEMAND_UNKNOWN ? WATER_DEMAND_HIGH : demand);
    return mature_height_m >= 0 ? reach * mature_height_m : unknown_real();
}
