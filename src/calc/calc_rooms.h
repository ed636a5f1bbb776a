/* SPDX-License-Identifier: GPL-3.0-or-later
 * The tables of calculators, one per room, each ended by a calculator without name. */
#ifndef SPINNEY_CALC_ROOMS_H
#define SPINNEY_CALC_ROOMS_H
#include "calc/calc.h"
extern const struct calc calc_stats[];
extern const struct calc calc_stats_survival[];
extern const struct calc calc_stats_models[];
extern const struct calc calc_stats_sites[];
extern const struct calc calc_geo[];
extern const struct calc calc_site[];
extern const struct calc calc_species[];
extern const struct calc calc_ground[];
extern const struct calc calc_ground_stock[];
extern const struct calc calc_water[];
extern const struct calc calc_water_care[];
extern const struct calc calc_water_young[];
extern const struct calc calc_mix[];
extern const struct calc calc_layout[];
extern const struct calc calc_trial[];
extern const struct calc calc_trial_plots[];
extern const struct calc calc_survey[];
extern const struct calc calc_money[];
extern const struct calc calc_money_regimes[];
extern const struct calc calc_stand[];
extern const struct calc calc_benefit[];
extern const struct calc calc_evidence[];
extern const struct calc calc_draw[];
#endif
