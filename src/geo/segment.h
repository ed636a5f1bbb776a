/* SPDX-License-Identifier: GPL-3.0-or-later
 * One segment of an outline against one point: shared by the plain walk and by the index, so that both answer alike. */
#ifndef SPINNEY_GEO_SEGMENT_H
#define SPINNEY_GEO_SEGMENT_H

/// How a ray from the point towards greater x meets the segment: not, across it, or the point lies on it (within 1 µm).
enum crossing { CROSSING_NONE, CROSSING_RIGHT, CROSSING_ON };
enum crossing segment_crossing(const double *a, const double *b, double x, double y);
double segment_distance_squared(const double *a, const double *b, double x, double y);
#endif
