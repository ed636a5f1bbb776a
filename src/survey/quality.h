/* SPDX-License-Identifier: GPL-3.0-or-later
 * How good the records of a survey are: who of the plants was found, what was measured twice and how alike, and whether figures heap.
 *
 * Typical: 30 visits, 25,000 records; must hold for 2 million. */
#ifndef SPINNEY_SURVEY_QUALITY_H
#define SPINNEY_SURVEY_QUALITY_H
#include "stats/stats.h"
#include "survey/survey.h"

/// Two looks at the same plants: at the same visit, by two observers or marked as a blind repeat.
struct twice {
    size_t pairs;                    ///< plants looked at twice
    struct estimate state;           ///< share with the same state, Wilson; target 0.98 (T70)
    struct estimate kappa;           ///< the same beyond chance; unknown where all have one state
    size_t named;                    ///< pairs for which one look names another species than planted
    struct estimate species;         ///< share with the same species, Wilson; target 0.95; unknown where species were not looked at
    size_t heights, diameters;       ///< pairs with both
    struct measure_agreement height; ///< second minus first, cm; unknown under 2 pairs
    struct estimate height_within, diameter_within; ///< share within 5 cm or 5 %, and within 1 mm; Wilson
};
/// Last digits of heights under 2 m.
struct digits {
    struct digit_heaping heaping;
    double low, high; ///< Wilson interval of the index
};
struct visit_quality {
    const struct visit *visit;
    const struct site *site;
    size_t due;            ///< plants that stood by then and were not known dead before; 0 in a sample
    size_t recorded;       ///< plants with a record
    struct estimate found; ///< of those due, recorded and found, Wilson; unknown in a sample
    size_t not_found;      ///< looked for, their place could not be confirmed
    size_t kept;           ///< unlikely values somebody kept, with the reason
    struct estimate again; ///< share of the recorded that was looked at twice, Wilson; target 0.10 (T70)
    struct twice twice;
    struct digits digits;
};
struct observer_quality {
    const char *observer; ///< pseudonym, in order of the alphabet: this is no ranking
    size_t records;
    struct digits digits;
    struct twice twice; ///< this observer's looks as the second
};
struct quality {
    struct visit_quality *visits; ///< censuses with records, by site and day
    size_t n_visits;
    struct observer_quality *observers;
    size_t n_observers;
    struct twice all;
    struct digits digits;
    size_t heaped; ///< observers whose heights heap
};
/// `site_id` 0: all sites. Fails only where an interval cannot be computed.
enum outcome survey_quality(const struct survey_ground *ground, int64_t site_id, double level, struct arena *arena, struct quality *out,
                            struct failure *why);
#endif
