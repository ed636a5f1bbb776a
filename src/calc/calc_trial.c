/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of trial/. */
#include "calc/calc_rooms.h"

const struct calc calc_trial[] = {
    {0},
};
