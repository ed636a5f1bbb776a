/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of money/. */
#include "calc/calc_rooms.h"

const struct calc calc_money[] = {
    {0},
};
