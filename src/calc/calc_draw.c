/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of draw/. */
#include "calc/calc_rooms.h"
#include "draw/draw.h"

static enum outcome scale_run(const json_t *in, json_t *result, struct failure *why)
{
    double width = calc_number(in, "ground_width", 0), height = calc_number(in, "ground_height", 0);
    double paper_width = calc_number(in, "paper_width", 181.7), paper_height = calc_number(in, "paper_height", 200);
    if (!(width > 0) || !(height > 0) || !(paper_width > 0) || !(paper_height > 0))
        return fail(why, OUTCOME_DATA, "Ground and paper must have a width and a height above zero.");
    int scale = map_scale_fit(width, height, paper_width * DRAW_PT_MM, paper_height * DRAW_PT_MM);
    if (scale == 0) {
        fail(why, OUTCOME_DATA, "Ground of %g by %g m does not fit this paper at 1:10000.", width, height);
        return failure_remedy(why, "Show a part of it, or use larger paper.");
    }
    calc_put(result, "scale", scale);
    calc_put(result, "bar", map_bar_m(scale));
    calc_put(result, "bar_on_paper", map_bar_m(scale) / scale * 1000);
    calc_say(result, "%g m at 1:%d are %g mm; %g m are %g mm", width, scale, width / scale * 1000, height, height / scale * 1000);
    return OUTCOME_OK;
}

static const struct calc_value scale_in[] = {
    {"ground_width", "m", CALC_NUMBER, true, "width of the ground to show"},
    {"ground_height", "m", CALC_NUMBER, true, "height of the ground to show"},
    {"paper_width", "mm", CALC_NUMBER, false, "width of the paper inside its margins; 181.7, A4 upright"},
    {"paper_height", "mm", CALC_NUMBER, false, "height of the paper left for the map; 200"},
};
static const struct calc_value scale_out[] = {
    {"scale", "", CALC_NUMBER, false, "denominator of the largest scale that fits"},
    {"bar", "m", CALC_NUMBER, false, "length of the scale bar on the ground"},
    {"bar_on_paper", "mm", CALC_NUMBER, false, "length of the scale bar on paper"},
};

const struct calc calc_draw[] = {
    {"map_scale", "Scale of a map on a sheet", "arithmetic; scales as commonly drawn, no source", scale_in, 4, scale_out, 3, scale_run},
    {0},
};
