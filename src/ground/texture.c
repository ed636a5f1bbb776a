/* SPDX-License-Identifier: GPL-3.0-or-later
 * Texture class of fine earth from sand, silt and clay. */
#include "ground/ground.h"
#include <math.h>

/* The boundaries of USDA Handbook 18 (2017), ch. 3. The parts must add up to 100; the classes then cover the triangle once. */
static enum texture class_of(double sand, double silt, double clay)
{
    if (clay >= 40)
        return silt >= 40 ? TEXTURE_SILTY_CLAY : sand > 45 ? TEXTURE_SANDY_CLAY : TEXTURE_CLAY;
    if (clay >= 35 && sand > 45)
        return TEXTURE_SANDY_CLAY;
    if (clay >= 27 && sand <= 20)
        return TEXTURE_SILTY_CLAY_LOAM;
    if (clay >= 27 && sand <= 45)
        return TEXTURE_CLAY_LOAM;
    if (clay >= 20 && silt < 28 && sand > 45)
        return TEXTURE_SANDY_CLAY_LOAM;
    if (silt >= 80 && clay < 12)
        return TEXTURE_SILT;
    if (silt >= 50)
        return TEXTURE_SILT_LOAM;
    if (clay >= 7 && silt >= 28 && sand <= 52)
        return TEXTURE_LOAM;
    if (silt + 1.5 * clay < 15)
        return TEXTURE_SAND;
    if (silt + 2 * clay < 30)
        return TEXTURE_LOAMY_SAND;
    return TEXTURE_SANDY_LOAM;
}

enum outcome texture_of(double sand_pct, double silt_pct, double clay_pct, double tolerance_pct, enum texture *out, struct failure *why)
{
    double part[3] = {sand_pct, silt_pct, clay_pct};
    static const char *const names[] = {"sand", "silt", "clay"};
    int unknown = -1, n_unknown = 0;
    double sum = 0;
    for (int i = 0; i < 3; i++) {
        if (!is_known(part[i])) {
            unknown = i;
            n_unknown++;
            continue;
        }
        if (part[i] < 0 || part[i] > 100) {
            fail(why, OUTCOME_DATA, "%s is %g %%; it must lie between 0 and 100.", names[i], part[i]);
            return failure_remedy(why, part[i] > 100 && part[i] <= 1000 ? "If it is in g/kg, divide by ten."
                                                                        : "Give per cent by mass of the fine earth.");
        }
        sum += part[i];
    }
    if (n_unknown > 1) {
        fail(why, OUTCOME_DATA, "Two of sand, silt and clay are needed for a texture class.");
        return failure_remedy(why, "Give them, or the class by feel.");
    }
    if (n_unknown == 1) {
        if (sum > 100 + tolerance_pct)
            return fail(why, OUTCOME_DATA, "The two parts given add up to %g %%, more than 100.", sum);
        part[unknown] = fmax(0, 100 - sum);
        sum = part[0] + part[1] + part[2];
    } else if (fabs(sum - 100) > tolerance_pct) {
        fail(why, OUTCOME_DATA, "Sand, silt and clay add up to %g %%, not to 100 ± %g %%.", sum, tolerance_pct);
        return failure_remedy(why, "Check the three figures (%g, %g, %g); they are shares of the fine earth under 2 mm, stones left out.",
                              sand_pct, silt_pct, clay_pct);
    }
    if (fabs(sum - 100) > 1e-9)
        for (int i = 0; i < 3; i++)
            part[i] *= 100 / sum;
    *out = class_of(part[0], part[1], part[2]);
    return OUTCOME_OK;
}

bool texture_midpoint(enum texture texture, double *sand_pct, double *clay_pct)
{
    /* Saxton & Rawls 2006, table 3, columns sand and clay. */
    static const struct {
        double sand, clay;
    } mid[TEXTURE_COUNT] = {
        [TEXTURE_SAND] = {88, 5},
        [TEXTURE_LOAMY_SAND] = {80, 5},
        [TEXTURE_SANDY_LOAM] = {65, 10},
        [TEXTURE_LOAM] = {40, 20},
        [TEXTURE_SILT_LOAM] = {20, 15},
        [TEXTURE_SILT] = {10, 5},
        [TEXTURE_SANDY_CLAY_LOAM] = {60, 25},
        [TEXTURE_CLAY_LOAM] = {30, 35},
        [TEXTURE_SILTY_CLAY_LOAM] = {10, 35},
        [TEXTURE_SANDY_CLAY] = {50, 40},
        [TEXTURE_SILTY_CLAY] = {10, 45},
        [TEXTURE_CLAY] = {25, 50},
    };
    if (texture <= TEXTURE_UNKNOWN || texture >= TEXTURE_COUNT)
        return false;
    *sand_pct = mid[texture].sand;
    *clay_pct = mid[texture].clay;
    return true;
}

const char *texture_words(enum texture texture)
{
    static const char *const words[TEXTURE_COUNT] = {
        [TEXTURE_UNKNOWN] = "texture not known",
        [TEXTURE_SAND] = "sand",
        [TEXTURE_LOAMY_SAND] = "loamy sand",
        [TEXTURE_SANDY_LOAM] = "sandy loam",
        [TEXTURE_LOAM] = "loam",
        [TEXTURE_SILT_LOAM] = "silt loam",
        [TEXTURE_SILT] = "silt",
        [TEXTURE_SANDY_CLAY_LOAM] = "sandy clay loam",
        [TEXTURE_CLAY_LOAM] = "clay loam",
        [TEXTURE_SILTY_CLAY_LOAM] = "silty clay loam",
        [TEXTURE_SANDY_CLAY] = "sandy clay",
        [TEXTURE_SILTY_CLAY] = "silty clay",
        [TEXTURE_CLAY] = "clay",
    };
    return words[texture >= 0 && texture < TEXTURE_COUNT ? texture : TEXTURE_UNKNOWN];
}
