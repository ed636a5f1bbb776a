/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of trial/ about designs, lots and samples, for the table in calc_trial.c. */
#ifndef SPINNEY_CALC_TRIAL_H
#define SPINNEY_CALC_TRIAL_H
#include "calc/calc.h"

enum {
    CALC_DESIGN_IN = 10,
    CALC_COMPARE_OUT = 6,
    CALC_SEPARATE_IN = 11,
    CALC_SEPARATE_OUT = 2,
    CALC_LOTS_IN = 4,
    CALC_LOTS_OUT = 2,
    CALC_DRAW_IN = 5,
    CALC_DRAW_OUT = 2,
    CALC_VERSION_IN = 1,
    CALC_VERSION_OUT = 1
};
extern const struct calc_value calc_design_in[CALC_DESIGN_IN], calc_compare_out[CALC_COMPARE_OUT], calc_separate_in[CALC_SEPARATE_IN];
extern const struct calc_value calc_separate_out[CALC_SEPARATE_OUT], calc_lots_in[CALC_LOTS_IN], calc_lots_out[CALC_LOTS_OUT];
extern const struct calc_value calc_draw_in[CALC_DRAW_IN], calc_draw_out[CALC_DRAW_OUT], calc_version_in[CALC_VERSION_IN];
extern const struct calc_value calc_version_out[CALC_VERSION_OUT];
enum outcome calc_compare_run(const json_t *in, json_t *result, struct failure *why);
enum outcome calc_separate_run(const json_t *in, json_t *result, struct failure *why);
enum outcome calc_lots_run(const json_t *in, json_t *result, struct failure *why);
enum outcome calc_draw_run(const json_t *in, json_t *result, struct failure *why);
enum outcome calc_version_run(const json_t *in, json_t *result, struct failure *why);
#endif
