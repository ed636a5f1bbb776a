/* SPDX-License-Identifier: GPL-3.0-or-later
 * A plot square by square: what lives where, and whether the dead lie together. */
#ifndef SPINNEY_EVIDENCE_SQUARES_H
#define SPINNEY_EVIDENCE_SQUARES_H
#include "evidence/evidence.h"

/// Whether neighbouring squares are alike: Moran's I (1950, Biometrika 37:17) with the four sides as neighbours, weighed 1.
struct clumping {
    size_t squares, pairs; ///< squares with a value; neighbouring pairs of them
    double i, expected;    ///< I, and −1/(n − 1), its mean if values lie by chance
    double p;              ///< one-sided: alike by chance alone, (1 + hits)/(1 + draws) of values shuffled over the squares
};
/// values[row * columns + column]; unknown squares are left out. Fails with OUTCOME_DATA under 8 squares with a value, without a
/// neighbouring pair, or where all values are the same. `draws` 999 if 0, seeded.
enum outcome squares_clumping(const double *values, size_t rows, size_t columns, size_t draws, uint64_t seed, struct clumping *out,
                              struct failure *why);

struct plot_squares {
    size_t rows, columns;
    double *alive, *known, *share; ///< row-major; share NaN where nothing is known
    bool *outside;                 ///< no plant of the first planting stood there
    size_t squares, empty;         ///< with a plant; of these with none alive, something known
    struct clumping clumping;
    bool has_clumping;
};
/// Squares by the plants' cell codes (row letter, column number). At a census. Fails with OUTCOME_DATA where no plant has a square.
enum outcome evidence_squares(const struct plot_lives *lives, size_t census, uint64_t seed, struct arena *arena, struct plot_squares *out,
                              struct failure *why);
/// "C07": row 2, column 6; "AA1": row 26. False if it is not a square.
bool square_place(const char *code, size_t *row, size_t *column);
#endif
