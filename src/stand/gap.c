/* SPDX-License-Identifier: GPL-3.0-or-later
 * The diameter growth of the first gap models, to hold the look ahead beside (Botkin, Janak & Wallis 1972, J. Ecol. 60:849). */
#include "stand/stand.h"
#include <math.h>

double stand_gap_height_cm(const struct stand_gap *kind, double diameter_cm)
{
    double b2 = 2 * (kind->height_most_cm - 137) / kind->diameter_most_cm;
    double b3 = (kind->height_most_cm - 137) / (kind->diameter_most_cm * kind->diameter_most_cm);
    return 137 + b2 * diameter_cm - b3 * diameter_cm * diameter_cm;
}

double stand_gap_growth_cm(const struct stand_gap *kind, double diameter_cm)
{
    double b2 = 2 * (kind->height_most_cm - 137) / kind->diameter_most_cm;
    double b3 = (kind->height_most_cm - 137) / (kind->diameter_most_cm * kind->diameter_most_cm);
    double full = diameter_cm * stand_gap_height_cm(kind, diameter_cm) / (kind->diameter_most_cm * kind->height_most_cm);
    return fmax(0, kind->growth * diameter_cm * (1 - full) / (274 + 3 * b2 * diameter_cm - 4 * b3 * diameter_cm * diameter_cm));
}

double stand_gap_light(double light, bool tolerant)
{
    return fmax(0, tolerant ? 1 - exp(-4.64 * (light - 0.05)) : 2.24 * (1 - exp(-1.136 * (light - 0.08))));
}

double stand_gap_warmth(double degree_days, double least, double most)
{
    return fmax(0, 4 * (degree_days - least) * (most - degree_days) / ((most - least) * (most - least)));
}
