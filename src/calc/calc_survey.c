/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of survey/. */
#include "calc/calc_rooms.h"

const struct calc calc_survey[] = {
    {0},
};
