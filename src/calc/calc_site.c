/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of site/. */
#include "calc/calc_rooms.h"

const struct calc calc_site[] = {
    {0},
};
