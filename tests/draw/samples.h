/* SPDX-License-Identifier: GPL-3.0-or-later
 * Invented drawings that show every figure and the map, for tests and for looking at. */
#ifndef SPINNEY_TESTS_DRAW_SAMPLES_H
#define SPINNEY_TESTS_DRAW_SAMPLES_H
#include "draw/draw.h"

enum { SAMPLE_COUNT = 14 };
/// Sample 0 … SAMPLE_COUNT - 1; its name for a file in *name.
struct drawing *sample_draw(int which, const char **name);
/// A site with two plots, zones, squares and `n` plants. Everything lives in the arena.
void sample_map(struct arena *arena, size_t n, struct map *out);
/// A straight line of points, such as a pipe.
struct shape sample_line(struct arena *arena, double x1, double y1, double x2, double y2);
#endif
