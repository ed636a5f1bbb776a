/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of layout/. */
#include "calc/calc_rooms.h"

const struct calc calc_layout[] = {
    {0},
};
