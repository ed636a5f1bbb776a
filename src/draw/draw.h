/* SPDX-License-Identifier: GPL-3.0-or-later
 * The face of draw/: one drawing model with three outputs, the figures and the map. Knows plain series and shapes only. */
#ifndef SPINNEY_DRAW_H
#define SPINNEY_DRAW_H
#include "draw/drawing.h"
#include "draw/figures.h"
#include "draw/map.h"
#include "draw/value.h"
#endif
