/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of benefit/. */
#include "calc/calc_rooms.h"

const struct calc calc_benefit[] = {
    {0},
};
