/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of stats/. */
#include "calc/calc_rooms.h"

const struct calc calc_stats[] = {
    {0},
};
