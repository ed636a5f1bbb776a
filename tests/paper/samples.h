/* SPDX-License-Identifier: GPL-3.0-or-later
 * Invented content for documents, for tests and for looking at. */
#ifndef SPINNEY_TESTS_PAPER_SAMPLES_H
#define SPINNEY_TESTS_PAPER_SAMPLES_H
#include "paper/paper.h"

/// Cards of a plot of rows × columns squares with three plants each; everything in the arena, in no order.
void sample_cards(struct arena *arena, int rows, int columns, struct cards *out);
#endif
