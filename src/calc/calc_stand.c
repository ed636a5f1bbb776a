/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of stand/. */
#include "calc/calc_rooms.h"

const struct calc calc_stand[] = {
    {0},
};
