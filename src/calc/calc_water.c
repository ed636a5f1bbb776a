/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of water/. */
#include "calc/calc_rooms.h"

const struct calc calc_water[] = {
    {0},
};
