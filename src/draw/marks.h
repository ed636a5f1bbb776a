/* SPDX-License-Identifier: GPL-3.0-or-later
 * Marks, inks and dashes of groups and layers, for the files of draw/. */
#ifndef SPINNEY_DRAW_MARKS_H
#define SPINNEY_DRAW_MARKS_H
#include "draw/drawing.h"
const char *layer_name(int layer);
/// Group 0 disc, 1 open square, 2 diamond, 3 open triangle, then again.
void draw_group_mark(struct drawing *drawing, int group, double x, double y, double radius);
enum ink group_ink(int group);
enum dash group_dash(int group);
#endif
