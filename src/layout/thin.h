/* SPDX-License-Identifier: GPL-3.0-or-later
 * Thinning: take points away one by one, always the most crowded, until as many are left as wanted. What is left is
 * spread evenly but irregularly. Weighted sample elimination, Yuksel 2015, Comput. Graph. Forum 34(2):25-32. */
#ifndef SPINNEY_LAYOUT_THIN_H
#define SPINNEY_LAYOUT_THIN_H
#include "base/base.h"

struct thin {
    const double *uv; ///< points by turns
    size_t n;
    size_t keep;              ///< how many that are no anchors shall be left
    double area_m2;           ///< ground that those left (and the anchors) share
    const double *extra;      ///< crowding added to each point from outside (NULL: none)
    const bool *anchor;       ///< points that stay whatever comes (NULL: none)
    const uint32_t *class;    ///< class of each point (NULL: one class)
    const size_t *class_keep; ///< never fewer than these of each class
    size_t n_classes;
};
/// Crowding of two points at this distance, in the units of `extra`; `reach` is the distance where it ends.
double thin_crowding(double distance, double reach);
/// kept[n]: whether the point is left, anchors too. Sequential, hence the same on any machine.
void thin_points(const struct thin *thin, bool *kept);
#endif
