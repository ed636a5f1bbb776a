/* SPDX-License-Identifier: GPL-3.0-or-later
 * Carbon that is not humus: cinder, coal and soot burn in the laboratory's furnace like organic carbon. */
#include "ground/ground.h"

double carbon_nitrogen_ratio(double carbon_pct, double nitrogen_pct)
{
    return is_known(carbon_pct) && is_known(nitrogen_pct) && nitrogen_pct > 0 ? carbon_pct / nitrogen_pct : unknown_real();
}

enum truth carbon_may_be_cinder(double carbon_pct, double nitrogen_pct)
{
    enum { USUAL_MOST = 25 };
    double ratio = carbon_nitrogen_ratio(carbon_pct, nitrogen_pct);
    return !is_known(ratio) ? TRUTH_UNKNOWN : ratio > USUAL_MOST ? TRUTH_YES : TRUTH_NO;
}
