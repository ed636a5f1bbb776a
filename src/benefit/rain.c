/* SPDX-License-Identifier: GPL-3.0-or-later
 * Rain kept by a sparse canopy, storm by storm. */
#include "benefit/benefit.h"
#include <math.h>

enum outcome canopy_storm(const struct canopy *canopy, double rain_mm, double *lost_mm, double *saturating_mm, struct failure *why)
{
    double c = canopy->cover, ratio = canopy->evaporation_rain / c, storage = canopy->storage_mm / c;
    if (!(c > 0 && c <= 1) || !(canopy->storage_mm >= 0) || !(canopy->evaporation_rain > 0) || !(rain_mm >= 0)) {
        fail(why, OUTCOME_DATA, "Cover lies above 0 and up to 1; storage and rain are not negative; evaporation over rain is above 0.");
        return failure_remedy(why, "Usual are a storage of 0.6 to 1.2 mm in leaf, and evaporation 0.06 to 0.20 of the rain rate.");
    }
    if (ratio >= 1)
        return fail(why, OUTCOME_DATA, "Evaporation over cover is as fast as the rain: the canopy would never be wet.");
    double full = -storage / ratio * log(1 - ratio);
    *saturating_mm = full;
    *lost_mm = rain_mm < full ? c * rain_mm : c * full + c * ratio * (rain_mm - full);
    return OUTCOME_OK;
}
