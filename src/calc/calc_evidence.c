/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of evidence/. */
#include "calc/calc_rooms.h"

const struct calc calc_evidence[] = {
    {0},
};
