/* SPDX-License-Identifier: GPL-3.0-or-later
 * Invented content for documents, for tests and for looking at. */
#ifndef SPINNEY_TESTS_PAPER_SAMPLES_H
#define SPINNEY_TESTS_PAPER_SAMPLES_H
#include "paper/paper.h"

/// Cards of a plot of rows × columns squares with three plants each; everything in the arena, in no order.
void sample_cards(struct arena *arena, int rows, int columns, struct cards *out);
/// A planting plan of two plots with a map and a detail; everything in the arena.
void sample_plan(struct arena *arena, struct planting_plan *out);
void sample_order(struct arena *arena, struct order_list *out);
/// A census sheet of n plants, four to a square.
void sample_census(struct arena *arena, size_t n, struct census_sheet *out);
/// A note with sections, a table, one of our figures, cautions and unknowns; the caller releases it.
json_t *sample_note(void);
#endif
