/* SPDX-License-Identifier: GPL-3.0-or-later
 * What a young planting draws: rooting depth and coefficients by growing season and mulch. */
#include "water/water.h"
#include <math.h>

struct young_stand young_stand_usual(int season, double mulch_depth_m, double loosened_depth_m)
{
    static const double roots_m[] = {0.30, 0.45, 0.60}, leaves[] = {0.30, 0.50, 0.80};
    int at = season < 1 ? 0 : season > 3 ? 2 : season - 1;
    enum { HELD_BACK_CM = 30 };
    struct young_stand out = {.root_depth_m = roots_m[at], .leaves = leaves[at], .bare_ground = 0.50};
    /* unbroken compacted ground keeps roots in the top; where nobody loosened it that is assumed */
    if (is_known(loosened_depth_m))
        out.root_depth_m = fmin(out.root_depth_m, fmax(loosened_depth_m, HELD_BACK_CM / 100.0));
    /* FAO-56, chapter 10: organic mulch over all the ground takes off half of the evaporation from it */
    out.mulched = is_known(mulch_depth_m) && mulch_depth_m >= 0.05;
    if (out.mulched)
        out.bare_ground *= 0.5;
    out.coefficient = out.leaves + out.bare_ground;
    return out;
}
