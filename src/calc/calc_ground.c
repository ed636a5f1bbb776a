/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of ground/. */
#include "calc/calc_rooms.h"

const struct calc calc_ground[] = {
    {0},
};
