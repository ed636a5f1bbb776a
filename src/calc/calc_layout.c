/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of layout/. */
#include "calc/calc_rooms.h"
#include "layout/layout.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Points from the lists x and y; NULL with a failure where they do not pair up. */
static double *points_read(const json_t *in, struct arena *arena, size_t *n, struct failure *why)
{
    size_t n_x = 0, n_y = 0;
    double *x = calc_numbers(in, "x", arena, &n_x), *y = calc_numbers(in, "y", arena, &n_y);
    if (n_x != n_y || n_x < 2) {
        fail(why, OUTCOME_DATA, "There must be as many x as y, two at least; %zu and %zu were given.", n_x, n_y);
        return NULL;
    }
    double *xy = arena_array(arena, n_x, 2 * sizeof *xy);
    for (size_t i = 0; i < n_x; i++)
        xy[2 * i] = x[i], xy[2 * i + 1] = y[i];
    *n = n_x;
    return xy;
}

static enum outcome hexagon_run(const json_t *in, json_t *result, struct failure *why)
{
    double area = calc_number(in, "area", 0), n = calc_number(in, "plants", 0);
    if (!(area > 0) || !(n > 0))
        return fail(why, OUTCOME_DATA, "Area and plants must be above zero.");
    calc_put(result, "distance", layout_hexagon_m(area, n));
    calc_say(result, "d = sqrt(2 A / (sqrt(3) n)) = sqrt(2 × %g / (1.73205 × %g))", area, n);
    return OUTCOME_OK;
}

static enum outcome nearest_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n = 0;
    double *xy = points_read(in, &arena, &n, why);
    if (xy != NULL) {
        double *far = arena_array(&arena, n, sizeof *far), sum = 0, least = INFINITY;
        size_t *which = arena_array(&arena, n, sizeof *which);
        double *number = arena_array(&arena, n, sizeof *number);
        layout_nearest(xy, n, far, which);
        for (size_t i = 0; i < n; i++) {
            sum += far[i];
            least = fmin(least, far[i]);
            number[i] = (double)which[i] + 1;
        }
        calc_put_all(result, "distance", far, n);
        calc_put_all(result, "neighbour", number, n);
        calc_put(result, "mean", sum / (double)n);
        calc_put(result, "least", least);
    }
    arena_clear(&arena);
    return xy == NULL ? OUTCOME_DATA : OUTCOME_OK;
}

static enum outcome clark_evans_run(const json_t *in, json_t *result, struct failure *why)
{
    double mean = calc_number(in, "mean", 0), n = calc_number(in, "plants", 0), area = calc_number(in, "area", 0), r = 0, z = 0;
    if (!(mean >= 0) || !(n >= 2) || !(area > 0) || n > 1e12)
        return fail(why, OUTCOME_DATA, "The mean distance must be zero or more, the plants two or more, the area above zero.");
    layout_clark_evans(mean, (size_t)n, area, 0, &r, &z);
    calc_put(result, "r", r);
    calc_put(result, "z", z);
    double outline = calc_number(in, "outline", 0), corrected = unknown_real(), corrected_z = unknown_real();
    if (outline > 0)
        layout_clark_evans(mean, (size_t)n, area, outline, &corrected, &corrected_z);
    calc_put(result, "r_donnelly", corrected);
    calc_put(result, "z_donnelly", corrected_z);
    calc_say(result, "expected by chance 0.5 / sqrt(n / A) = %.6g m; R = mean / expected", 0.5 / sqrt(n / area));
    return OUTCOME_OK;
}

static enum outcome ripley_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n = 0, n_r = 0;
    double width = calc_number(in, "width", 0), height = calc_number(in, "height", 0);
    double *xy = points_read(in, &arena, &n, why), *r = calc_numbers(in, "r", &arena, &n_r);
    bool translate = text_same(calc_word(in, "correction", "none"), "translate"), good = xy != NULL;
    if (good && (!(width > 0) || !(height > 0))) {
        fail(why, OUTCOME_DATA, "Width and height must be above zero.");
        good = false;
    }
    double *k = arena_array(&arena, n_r + 1, sizeof *k), *l = arena_array(&arena, n_r + 1, sizeof *l);
    for (size_t i = 0; good && i < n_r; i++) {
        if (!(r[i] >= 0) || r[i] >= fmin(width, height)) {
            fail(why, OUTCOME_DATA, "Each r must be zero or more and less than the shorter side.");
            good = false;
            break;
        }
        k[i] = layout_ripley_k(xy, n, width, height, r[i], translate);
        l[i] = sqrt(k[i] / 3.14159265358979323846) - r[i];
    }
    if (good) {
        calc_put_all(result, "k", k, n_r);
        calc_put_all(result, "l_less_r", l, n_r);
    }
    arena_clear(&arena);
    return good ? OUTCOME_OK : OUTCOME_DATA;
}

static enum outcome random_share_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n = 0;
    double *counts = calc_numbers(in, "counts", &arena, &n), total = 0;
    bool good = true;
    for (size_t s = 0; s < n; s++) {
        total += counts[s];
        good = good && counts[s] >= 0;
    }
    if (good && total >= 2) {
        double share = layout_random_share(counts, n);
        calc_put(result, "share", share);
        calc_put(result, "plants", total * share);
        calc_say(result, "sum of m (m − 1) over species, divided by N (N − 1), N = %g", total);
    }
    arena_clear(&arena);
    return good && total >= 2 ? OUTCOME_OK : fail(why, OUTCOME_DATA, "Counts must be zero or more, and two plants at least.");
}

static enum outcome interior_run(const json_t *in, json_t *result, struct failure *why)
{
    double width = calc_number(in, "width", 0), height = calc_number(in, "height", 0), edge = calc_number(in, "edge", 2);
    if (!(width > 0) || !(height > 0) || !(edge >= 0))
        return fail(why, OUTCOME_DATA, "Width and height must be above zero, the edge zero or more.");
    calc_put(result, "share", layout_interior_share(width, height, edge));
    calc_put(result, "interior", layout_interior_share(width, height, edge) * width * height);
    return OUTCOME_OK;
}

static enum outcome cell_run(const json_t *in, json_t *result, struct failure *why)
{
    double row = calc_number(in, "row", 0), column = calc_number(in, "column", 0);
    if (!(row >= 1 && row <= 1e6 && column >= 1 && column <= 1e6))
        return fail(why, OUTCOME_DATA, "Row and column count from 1.");
    char code[16];
    layout_cell_code((uint32_t)row - 1, (uint32_t)column - 1, code);
    calc_put_word(result, "code", code);
    return OUTCOME_OK;
}

/// A plan of a rectangle, for the calculator that makes one.
struct demo {
    double xy[10];
    struct ring ring;
    struct shape_part part;
    struct shape shape;
    struct layout_wish wish;
};

static struct layout_species *species_read(const json_t *in, struct arena *arena, size_t *n)
{
    size_t n_tall = 0;
    double *counts = calc_numbers(in, "counts", arena, n), *tall = calc_numbers(in, "tall", arena, &n_tall);
    struct layout_species *species = arena_array(arena, *n + 1, sizeof *species);
    for (size_t s = 0; s < *n; s++) {
        species[s].name = arena_print(arena, "species %zu", s + 1);
        species[s].layer = LAYER_CANOPY;
        species[s].plants = counts[s] >= 0 && counts[s] < 1e7 ? (size_t)counts[s] : SIZE_MAX;
        for (size_t k = 0; k < n_tall; k++)
            species[s].tall = species[s].tall || (size_t)tall[k] == s + 1;
    }
    return species;
}

static void plan_put(json_t *result, const struct layout *l, const struct layout_quality *q, struct arena *arena)
{
    size_t n = l->n_positions;
    double *x = arena_array(arena, n, sizeof *x), *y = arena_array(arena, n, sizeof *y), *s = arena_array(arena, n, sizeof *s);
    for (size_t i = 0; i < n; i++)
        x[i] = l->positions[i].x_m, y[i] = l->positions[i].y_m, s[i] = l->positions[i].species + 1;
    calc_put_all(result, "x", x, n);
    calc_put_all(result, "y", y, n);
    calc_put_all(result, "species", s, n);
    calc_put(result, "cells", (double)l->n_cells);
    calc_put(result, "least", l->least_m);
    calc_put(result, "nearest_mean", q->nearest_mean_m);
    calc_put(result, "clark_evans", q->clark_evans);
    calc_put(result, "clark_evans_donnelly", q->clark_evans_donnelly);
    calc_put(result, "same_share", q->same_share);
    calc_put(result, "same_share_random", q->same_share_random);
    calc_put(result, "same_share_simulated", q->same_share_simulated);
    calc_put(result, "same_share_bound", q->same_share_bound);
    calc_put(result, "tall_least", q->tall_least_m);
    calc_put(result, "tall_mean", q->tall_mean_m);
}

static enum outcome plan_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct layout layout;
    struct layout_quality quality;
    double w = calc_number(in, "width", 0), h = calc_number(in, "height", 0), seed = calc_number(in, "seed", 1);
    if (!(w > 0 && h > 0 && w * h < 1e6) || !(seed >= 0 && seed < 9e15))
        return fail(why, OUTCOME_DATA, "Width and height must be above zero and make less than a square kilometre; the seed 0 or more.");
    size_t n = 0;
    struct layout_species *species = species_read(in, &arena, &n);
    struct demo d = {.xy = {0, 0, w, 0, w, h, 0, h, 0, 0}};
    d.ring = (struct ring){d.xy, 5};
    d.part = (struct shape_part){&d.ring, 1};
    d.shape = (struct shape){SHAPE_POLYGONS, &d.part, 1};
    d.wish = (struct layout_wish){.ground = &d.shape, .bearing_deg = 90, .species = species, .n_species = n, .seed = (uint64_t)seed};
    d.wish.least_m = calc_number(in, "least", 0);
    d.wish.pattern = text_same(calc_word(in, "pattern", "irregular"), "rows") ? LAYOUT_ROWS : LAYOUT_IRREGULAR;
    d.wish.row_gap_m = calc_number(in, "row_gap", 0), d.wish.plant_gap_m = calc_number(in, "plant_gap", 0);
    enum outcome outcome = layout_plan(&d.wish, NULL, &arena, &layout, why);
    if (outcome == OUTCOME_OK)
        outcome = layout_judge(&layout, &d.wish, 0, &arena, &quality, why);
    if (outcome == OUTCOME_OK)
        plan_put(result, &layout, &quality, &arena);
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value hexagon_in[] = {{"area", "m2", CALC_NUMBER, true, "ground"}, {"plants", "", CALC_NUMBER, true, "plants"}};
static const struct calc_value hexagon_out[] = {{"distance", "m", CALC_NUMBER, false, "distance in the densest even packing"}};
static const struct calc_value nearest_in[] = {{"x", "m", CALC_NUMBERS, true, "positions, first coordinate"},
                                               {"y", "m", CALC_NUMBERS, true, "positions, second coordinate"}};
static const struct calc_value nearest_out[] = {{"distance", "m", CALC_NUMBERS, false, "distance to the nearest neighbour"},
                                                {"neighbour", "", CALC_NUMBERS, false, "which it is, from 1"},
                                                {"mean", "m", CALC_NUMBER, false, "mean of the distances"},
                                                {"least", "m", CALC_NUMBER, false, "smallest of them"}};
static const struct calc_value clark_in[] = {{"mean", "m", CALC_NUMBER, true, "mean distance to the nearest neighbour"},
                                             {"plants", "", CALC_NUMBER, true, "plants, 2 or more"},
                                             {"area", "m2", CALC_NUMBER, true, "ground"},
                                             {"outline", "m", CALC_NUMBER, false, "length of the outline, for Donnelly's correction"}};
static const struct calc_value clark_out[] = {{"r", "", CALC_NUMBER, false, "1 by chance, above even, below clumped, 2.149 at most"},
                                              {"z", "", CALC_NUMBER, false, "standard normal deviate"},
                                              {"r_donnelly", "", CALC_NUMBER, false, "corrected for the outline"},
                                              {"z_donnelly", "", CALC_NUMBER, false, "its deviate"}};
static const struct calc_value ripley_in[] = {{"x", "m", CALC_NUMBERS, true, "positions from the corner of the rectangle"},
                                              {"y", "m", CALC_NUMBERS, true, "positions"},
                                              {"width", "m", CALC_NUMBER, true, "rectangle along x"},
                                              {"height", "m", CALC_NUMBER, true, "rectangle along y"},
                                              {"r", "m", CALC_NUMBERS, true, "distances to look to"},
                                              {"correction", "", CALC_WORD, false, "none (default) or translate"}};
static const struct calc_value ripley_out[] = {{"k", "m2", CALC_NUMBERS, false, "K(r)"},
                                               {"l_less_r", "m", CALC_NUMBERS, false, "sqrt(K / pi) − r: below 0 is even"}};
static const struct calc_value share_in[] = {{"counts", "", CALC_NUMBERS, true, "plants of each species"}};
static const struct calc_value share_out[] = {{"share", "", CALC_NUMBER, false, "expected share with a like nearest neighbour"},
                                              {"plants", "", CALC_NUMBER, false, "expected number of them"}};
static const struct calc_value interior_in[] = {{"width", "m", CALC_NUMBER, true, "one side"},
                                                {"height", "m", CALC_NUMBER, true, "the other"},
                                                {"edge", "m", CALC_NUMBER, false, "depth of the edge, default 2"}};
static const struct calc_value interior_out[] = {{"share", "", CALC_NUMBER, false, "share of the ground beyond the edge"},
                                                 {"interior", "m2", CALC_NUMBER, false, "that ground"}};
static const struct calc_value cell_in[] = {{"row", "", CALC_NUMBER, true, "row from the baseline, from 1"},
                                            {"column", "", CALC_NUMBER, true, "column from the first peg, from 1"}};
static const struct calc_value cell_out[] = {{"code", "", CALC_WORD, false, "such as C07"}};
static const struct calc_value plan_in[] = {{"width", "m", CALC_NUMBER, true, "rectangle along the baseline"},
                                            {"height", "m", CALC_NUMBER, true, "rectangle away from it"},
                                            {"counts", "", CALC_NUMBERS, true, "plants of each species"},
                                            {"tall", "", CALC_NUMBERS, false, "numbers of the species that are future tall trees"},
                                            {"seed", "", CALC_NUMBER, false, "default 1"},
                                            {"pattern", "", CALC_WORD, false, "irregular (default) or rows"},
                                            {"least", "m", CALC_NUMBER, false, "least distance that must be kept"},
                                            {"row_gap", "m", CALC_NUMBER, false, "between rows"},
                                            {"plant_gap", "m", CALC_NUMBER, false, "in the row"}};
static const struct calc_value plan_out[] = {
    {"x", "m", CALC_NUMBERS, false, "positions"},
    {"y", "m", CALC_NUMBERS, false, "positions"},
    {"species", "", CALC_NUMBERS, false, "species of each, from 1"},
    {"cells", "", CALC_NUMBER, false, "square metres that hold ground"},
    {"least", "m", CALC_NUMBER, false, "least distance kept, rounded down to the centimetre"},
    {"nearest_mean", "m", CALC_NUMBER, false, "mean distance to the nearest neighbour"},
    {"clark_evans", "", CALC_NUMBER, false, "R without edge correction"},
    {"clark_evans_donnelly", "", CALC_NUMBER, false, "R with Donnelly's correction"},
    {"same_share", "", CALC_NUMBER, false, "share of plants whose nearest neighbour is of their species"},
    {"same_share_random", "", CALC_NUMBER, false, "the same expected by chance, closed form"},
    {"same_share_simulated", "", CALC_NUMBER, false, "the same by chance, simulated"},
    {"same_share_bound", "", CALC_NUMBER, false, "no assignment is below this"},
    {"tall_least", "m", CALC_NUMBER, false, "least distance between future tall trees"},
    {"tall_mean", "m", CALC_NUMBER, false, "mean nearest distance between them"}};

#define COUNT(list) (sizeof(list) / sizeof *(list))
const struct calc calc_layout[] = {
    {"hexagon_distance", "Distance in the densest even packing", "Geometry of the triangular lattice", hexagon_in, COUNT(hexagon_in),
     hexagon_out, COUNT(hexagon_out), hexagon_run},
    {"nearest_neighbours", "Distance of each plant to its nearest neighbour", "Definition", nearest_in, COUNT(nearest_in), nearest_out,
     COUNT(nearest_out), nearest_run},
    {"clark_evans", "Index of Clark and Evans: even, random or clumped",
     "Clark & Evans 1954, Ecology 35:445-453; correction Donnelly 1978, in Hodder (ed.), Simulation Methods in Archaeology, 91-95",
     clark_in, COUNT(clark_in), clark_out, COUNT(clark_out), clark_evans_run},
    {"ripley_k", "Ripley's K in a rectangle", "Ripley 1976, J. Appl. Prob. 13:255-266; translation correction Ohser 1983", ripley_in,
     COUNT(ripley_in), ripley_out, COUNT(ripley_out), ripley_run},
    {"random_neighbour_share", "Share of like nearest neighbours by chance",
     "Expectation under random labelling: Pielou 1961, J. Ecol. 49:255-269", share_in, COUNT(share_in), share_out, COUNT(share_out),
     random_share_run},
    {"interior_share", "Share of a rectangular plot beyond its edge", "Geometry", interior_in, COUNT(interior_in), interior_out,
     COUNT(interior_out), interior_run},
    {"cell_code", "Code of a square metre from its row and column", "Common practice, no source", cell_in, COUNT(cell_in), cell_out,
     COUNT(cell_out), cell_run},
    {"layout_plan", "A planting plan of a rectangle, with its quality",
     "Weighted sample elimination: Yuksel 2015, Comput. Graph. Forum 34(2):25-32", plan_in, COUNT(plan_in), plan_out, COUNT(plan_out),
     plan_run},
    {0},
};
