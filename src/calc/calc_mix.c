/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of mix/. */
#include "calc/calc_rooms.h"

const struct calc calc_mix[] = {
    {0},
};
