/* SPDX-License-Identifier: GPL-3.0-or-later
 * What the files of layout/ hand to each other. Positions are in the frame of the baseline (u along, v away from it). */
#ifndef SPINNEY_LAYOUT_INSIDE_H
#define SPINNEY_LAYOUT_INSIDE_H
#include "layout/hood.h"
#include "layout/layout.h"
#include "layout/outline.h"

/// Streams of random numbers, one for each thing that is drawn.
enum { STREAM_SCATTER = 1, STREAM_GIVE = 2, STREAM_SWAP = 3, STREAM_JUDGE = 4, STREAM_EDGE = 5 };

/* ---- where plants stand */
struct scatter {
    const struct outline *outline;
    size_t n;            ///< places to find
    const double *fixed; ///< places taken already, by turns
    size_t n_fixed;
    double edge_m, least_m;
    uint64_t seed;
};
/// uv[2 * n]: irregular places inside, no two closer than *least_m (fixed ones counted too, as far as they allow).
enum outcome scatter_places(const struct scatter *wish, const struct progress *progress, double *uv, double *least_m, struct failure *why);

struct rows {
    const struct outline *outline;
    size_t n;
    double edge_m, row_gap_m, plant_gap_m; ///< gaps as wished; 0: from the density
};
/// uv[2 * n]: rows along the baseline; the gaps used come back. *dropped: places the rows had beyond n.
enum outcome rows_places(const struct rows *wish, double *uv, double *row_gap_m, double *plant_gap_m, size_t *dropped, struct failure *why);

/* ---- which species may stand where: places with the same answer make a class */
struct places {
    const double *uv;
    size_t n;
    uint32_t *class; ///< of each place
    size_t n_classes;
    bool *allowed;    ///< allowed[species * n_classes + class]
    bool *inner;      ///< inner[class]: at least INSIDE_M from the outline
    size_t *blamed;   ///< blamed[class]: lowest zone index that holds the class, SIZE_MAX: none
    double *edge_far; ///< distance of each place to the outline, up to EDGE_REACH
};
#define EDGE_REACH 8.0
#define INSIDE_M 2.0 /* the inside begins here (T04) */
enum outcome places_make(const struct layout_wish *wish, const struct frame *frame, const struct outline *outline, const double *uv,
                         size_t n, struct arena *arena, struct places *out, struct failure *why);

/* ---- how many of each species in each class */
struct share {
    size_t n_species, n_classes;
    const size_t *plants; ///< of each species
    const size_t *places; ///< of each class; at least as many in all
    const bool *allowed;  ///< allowed[species * n_classes + class]
    const double *lean;   ///< lean[species * n_classes + class]: how much rather there than in proportion; NULL: 1
};
/// quota[species * n_classes + class], in proportion as far as the rules let it. False if it cannot be done: then
/// `squeezed[species]` marks a set of species with too few places for them all, `short_by` how many plants.
bool share_out(const struct share *wish, size_t *quota, bool *squeezed, size_t *short_by);

/* ---- which species stands where */
struct mixing {
    const struct layout_wish *wish;
    const struct places *places;
    double area_m2;
    const bool *fixed; ///< of each place
    int32_t *species;  ///< of each place: fixed ones come in filled
};
enum outcome assign_species(const struct mixing *mixing, const struct progress *progress, uint64_t *swaps, struct failure *why);

/// Neighbours of each place with how much they matter: from `start[i]` to `start[i + 1]`.
struct web {
    size_t n;
    uint32_t *start, *to;
    float *weight;
    uint32_t *nearest; ///< the nearest neighbour
};
void web_make(const double *uv, size_t n, double area_m2, struct arena *arena, struct web *out);
/// Crowding of a place by its own kind, were this species there.
double web_clash(const struct web *web, const int32_t *species, size_t place, int32_t mine);
/// Swap plants between places until like neighbours are gone or nothing helps. `tall[species]`: only swapped among themselves.
uint64_t swap_mix(const struct mixing *mixing, const struct web *web, uint64_t seed);
/// Move tall plants to nearby places of others where that widens the least distances among them.
uint64_t swap_tall(const struct mixing *mixing, const struct web *web);
bool places_allow(const struct places *places, int32_t species, size_t place);

/* ---- one-metre squares */
/// Cells of the outline and of the positions; positions are sorted into them and numbered. Fails where the grid is too large
/// or something lies behind the baseline.
enum outcome squares_make(const struct outline *outline, const struct frame *frame, struct arena *arena, const double *uv,
                          const int32_t *species, const bool *fixed, size_t n, struct layout *out, struct failure *why);
/// Fails with a remedy where the ground lies behind the baseline or before the first peg.
enum outcome squares_check(const struct outline *outline, const struct frame *frame, struct failure *why);
#endif
