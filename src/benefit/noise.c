/* SPDX-License-Identifier: GPL-3.0-or-later
 * What dense foliage takes off noise, by octave band: little, for a small wood. */
#include "benefit/benefit.h"
#include <math.h>

const int noise_bands_hz[NOISE_BANDS] = {63, 125, 250, 500, 1000, 2000, 4000, 8000};

enum outcome noise_foliage(double path_m, double out[NOISE_BANDS], struct failure *why)
{
    static const double narrow_db[NOISE_BANDS] = {0, 0, 1, 1, 1, 1, 2, 3};
    static const double each_db_m[NOISE_BANDS] = {0.02, 0.03, 0.04, 0.05, 0.06, 0.08, 0.09, 0.12};
    enum { MOST_M = 200 };
    if (!(path_m >= 0 && path_m < 100000)) {
        fail(why, OUTCOME_DATA, "A path of %g m through foliage cannot be.", path_m);
        return failure_remedy(why, "Give the metres of dense foliage between source and listener.");
    }
    for (int i = 0; i < NOISE_BANDS; i++)
        out[i] = path_m < 10 ? 0 : path_m < 20 ? narrow_db[i] : each_db_m[i] * fmin(path_m, MOST_M);
    return OUTCOME_OK;
}
