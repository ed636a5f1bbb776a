/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of geo/. */
#include "calc/calc_rooms.h"

const struct calc calc_geo[] = {
    {0},
};
