/* SPDX-License-Identifier: GPL-3.0-or-later
 * Heat taken up by evaporation, and dust settling on leaves. */
#include "benefit/benefit.h"

double heat_evaporated_kw(double mm_day, double area_m2, double t_c)
{
    double lambda = 2.501 - 0.002361 * t_c; /* MJ/kg */
    return mm_day * area_m2 * lambda * 1000 / 86400;
}

struct benefit_range dust_year_g(double concentration_ug_m3, double leaf_area, double area_m2, double blown_off)
{
    const double each = concentration_ug_m3 * leaf_area * area_m2 * (1 - blown_off) * 86400 * 365 / 1e6 / 100; /* for 1 cm/s */
    return (struct benefit_range){0.2 * each, 0.03 * each, 0.9 * each};
}
