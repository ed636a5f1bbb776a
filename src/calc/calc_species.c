/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of species/. */
#include "calc/calc_rooms.h"

const struct calc calc_species[] = {
    {0},
};
