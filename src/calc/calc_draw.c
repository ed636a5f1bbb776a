/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of draw/. */
#include "calc/calc_rooms.h"

const struct calc calc_draw[] = {
    {0},
};
