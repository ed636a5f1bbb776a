/* SPDX-License-Identifier: GPL-3.0-or-later
 * Light in the stand: crowns are spread over cells and sheets of air, light comes down from above and from four sides
 * at 45°, and each plant takes up its share of what its cells take (Monsi & Saeki 1953 in every cell).
 *
 * Workload: here goes most of the time of a run. Cost per year is cells × sheets × 5 rays plus a few cells a plant, all in
 * long loops without branches; a plot of 1,000 plants at 3/m² has some 1,600 cells and fits the cache. */
#include "stand/inside.h"
#include "stand/quick.h"
#include <stdlib.h>
#include <string.h>

enum { BAND_CELLS = 4096 };

/* The lowest sheet over the first cell of a row; the next sheet is band_cells on. */
static float *row_leaf(const struct air *air, int row)
{
    size_t band = (size_t)row / air->band;
    return air->leaf + band * air->band_cells * STAND_SHEETS + ((size_t)row - band * air->band) * air->columns;
}

void air_new(struct air *air, const struct around *around)
{
    *air = (struct air){.columns = around->columns,
                        .rows = around->rows,
                        .cells = around->columns * around->rows,
                        .x0 = around->x0,
                        .y0 = around->y0,
                        .cell_m = around->cell_m,
                        .endless = around->endless,
                        .inside = around->inside,
                        .n_inside = around->n_inside};
    air->band = air->columns >= BAND_CELLS ? 1 : BAND_CELLS / air->columns;
    air->band = air->band > air->rows ? air->rows : air->band;
    air->band_cells = air->band * air->columns;
    air->bands = (air->rows + air->band - 1) / air->band;
    air->leaf = memory_get(air->bands * air->band_cells * STAND_SHEETS, sizeof *air->leaf);
    air->cover = memory_get(air->cells, sizeof *air->cover);
    air->sum = memory_get(air->cells, sizeof *air->sum);
    air->keep = memory_get(air->columns + air->rows, sizeof *air->keep);
    for (int d = 0; d < STAND_RAYS; d++) {
        air->ray[d] = memory_get(air->cells, sizeof *air->ray[d]);
        air->dark_to[d] = around->dark_to[d];
        air->through[d] = around->through[d];
        air->share[d] = around->share[d];
    }
}

void air_free(struct air *air)
{
    free(air->leaf);
    free(air->cover);
    free(air->keep);
    free(air->sum);
    for (int d = 0; d < STAND_RAYS; d++)
        free(air->ray[d]);
    *air = (struct air){0};
}

size_t air_bytes(const struct around *around)
{
    return around->columns * around->rows * (STAND_SHEETS + STAND_RAYS + 1) * sizeof(float);
}

void crowns_year(struct crowd *crowd, const struct kind_now *kinds)
{
    for (size_t i = 0; i < crowd->n; i++) {
        const struct kind_now *kind = &kinds[crowd->kind[i]];
        float crown = kind->crown * quick_three_quarters(0.5f * crowd->diameter[i]);
        float depth = crowd->height[i] - crowd->base[i], most = 0.65f * depth + 0.05f; /* a crown is not a plate */
        crown = crown > most ? most : crown;
        crowd->crown[i] = crown;
        float over = kind->leaf_most * (1.0f - quick_exp(-LEAF_PACK * depth / kind->leaf_most));
        crowd->leaf[i] = over * PI_F * crown * crown * crowd->foliage[i];
    }
}

/* Where a crown lies: a square of the crown's area over cells, an upright run over sheets, and the share of each. */
enum { SPAN = 96 };
struct footprint {
    int column, row, sheet;
    int columns, rows, sheets;
    float across[SPAN], along[SPAN], up[STAND_SHEETS + 1];
    float side; ///< of the square [m]
};

/* Shares of a stretch from `low` to `high` in cells of 1; the number of cells, and the first. */
static int stretch(float low, float high, float *share, int most, int *first)
{
    int from = (int)low - (low < 0), to = (int)high - (high < 0);
    int n = to - from + 1;
    n = n > most ? most : n;
    float one = 1.0f / (high - low);
    for (int k = 0; k < n; k++) {
        float a = (float)(from + k), b = a + 1.0f;
        a = a < low ? low : a;
        b = b > high ? high : b;
        share[k] = b > a ? (b - a) * one : 0.0f;
    }
    *first = from;
    return n;
}

static void footprint_make(const struct air *air, const struct crowd *crowd, size_t i, struct footprint *f)
{
    float one = 1.0f / air->cell_m, side = 1.7724539f * crowd->crown[i];
    float least = 0.8f * air->cell_m;
    side = side < least ? least : side;
    float x = (float)((double)crowd->x[i] * one), y = (float)((double)crowd->y[i] * one), half = 0.5f * side * one;
    f->side = side;
    f->columns = stretch(x - half, x + half, f->across, SPAN, &f->column);
    f->rows = stretch(y - half, y + half, f->along, SPAN, &f->row);
    float per = 1.0f / air->sheet_m, low = crowd->base[i] * per, high = crowd->height[i] * per;
    high = high < low + 0.02f ? low + 0.02f : high;
    f->sheets = stretch(low, high, f->up, STAND_SHEETS, &f->sheet);
    if (f->sheet + f->sheets > air->sheets)
        f->sheets = air->sheets - f->sheet;
}

/* A cell beside the ground: from the other end where the ground is endless, else none. */
static int turned(int k, int n, bool endless)
{
    if (k >= 0 && k < n)
        return k;
    return endless ? ((k % n) + n) % n : -1;
}

static void crowns_add(struct air *air, const struct crowd *crowd)
{
    float per_cell = 1.0f / (air->cell_m * air->cell_m);
    struct footprint f;
    for (size_t i = 0; i < crowd->n; i++) {
        footprint_make(air, crowd, i, &f);
        float leaf = crowd->leaf[i] * per_cell, area = PI_F * crowd->crown[i] * crowd->crown[i] * per_cell;
        for (int r = 0; r < f.rows; r++) {
            int row = turned(f.row + r, (int)air->rows, air->endless);
            float *leaves = row < 0 ? NULL : row_leaf(air, row) + (size_t)f.sheet * air->band_cells;
            for (int c = 0; row >= 0 && c < f.columns; c++) {
                int column = turned(f.column + c, (int)air->columns, air->endless);
                if (column < 0)
                    continue;
                size_t cell = (size_t)row * air->columns + (size_t)column;
                float share = f.along[r] * f.across[c];
                air->cover[cell] += share * area;
                float *at = leaves + column;
                for (int s = 0; s < f.sheets; s++, at += air->band_cells)
                    *at += share * leaf * f.up[s];
            }
        }
    }
}

/* Move a field of light by whole cells: what comes in from outside is full light, or the other side where endless. */
static void ray_shift(struct air *air, float *ray, int by_column, int by_row)
{
    size_t columns = air->columns, rows = air->rows;
    if (by_row != 0) {
        size_t last = by_row > 0 ? rows - 1 : 0, first = by_row > 0 ? 0 : rows - 1;
        memcpy(air->keep, ray + last * columns, columns * sizeof *ray);
        if (by_row > 0)
            memmove(ray + columns, ray, (rows - 1) * columns * sizeof *ray);
        else
            memmove(ray, ray + columns, (rows - 1) * columns * sizeof *ray);
        for (size_t c = 0; c < columns; c++)
            ray[first * columns + c] = air->endless ? air->keep[c] : 1.0f;
    }
    for (size_t r = 0; by_column != 0 && r < rows; r++) {
        float *row = ray + r * columns;
        float end = air->endless ? row[by_column > 0 ? columns - 1 : 0] : 1.0f;
        if (by_column > 0)
            memmove(row + 1, row, (columns - 1) * sizeof *row);
        else
            memmove(row, row + 1, (columns - 1) * sizeof *row);
        row[by_column > 0 ? 0 : columns - 1] = end;
    }
}

/* The same arithmetic for several cells at once, as wide as the processor has it: every width gives the same bits, since each
 * cell is reckoned by itself and nothing is contracted. */
#if defined(__x86_64__) && defined(__linux__) && defined(__GNUC__) && !defined(__clang__) && !defined(__SANITIZE_ADDRESS__)
#define WIDE __attribute__((target_clones("avx512f", "avx2", "default")))
#else
#define WIDE
#endif

#define SPECK 1e-3f

/* Light through one sheet, all cells at once; leaf area becomes light taken up per leaf area. */
WIDE static void sheet_pass(const float *share, size_t n, float *restrict leaf, float *restrict a, float *restrict s, float *restrict o,
                            float *restrict e, float *restrict w)
{
    const float w0 = share[0], w1 = share[1], w2 = share[2], w3 = share[3], w4 = share[4];
    /* a thousandth of leaf is added for the quotient and taken off again, so that empty air needs no branch */
    const float back0 = quick_exp(RAY_ABOVE * SPECK), back1 = quick_exp(RAY_ASIDE * SPECK);
    for (size_t i = 0; i < n; i++) {
        float area = leaf[i] + SPECK, one = 1.0f / area;
        float above = quick_exp_down(-RAY_ABOVE * area), aside = quick_exp_down(-RAY_ASIDE * area);
        float taken0 = (1.0f - above) * one, taken1 = (1.0f - aside) * one;
        leaf[i] = taken0 * w0 * a[i] + taken1 * (w1 * s[i] + w2 * o[i] + w3 * e[i] + w4 * w[i]);
        above *= back0;
        aside *= back1;
        a[i] *= above;
        s[i] *= aside;
        o[i] *= aside;
        e[i] *= aside;
        w[i] *= aside;
    }
}

/* One ray through one sheet where buildings and trees stand around; `z` is the height of the sheet's middle. */
WIDE static void ray_pass_dimmed(size_t n, float z, float k, float share, const float *restrict leaf, const float *restrict dark_to,
                                 const float *restrict through, float *restrict ray, float *restrict sum)
{
    const float back = quick_exp(k * SPECK);
    for (size_t i = 0; i < n; i++) {
        float area = leaf[i] + SPECK, pass = quick_exp_down(-k * area), taken = (1.0f - pass) / area;
        float shut = (float)(z < dark_to[i]), open = 1.0f - shut * (1.0f - through[i]);
        sum[i] += share * open * ray[i] * taken;
        ray[i] *= pass * back;
    }
}

/* One sheet over one band, which begins at cell `from`. */
static void band_pass(const struct air *air, int sheet, float *leaf, size_t from, size_t n)
{
    if (air->dark_to[0] == NULL) {
        sheet_pass(air->share, n, leaf, air->ray[0] + from, air->ray[1] + from, air->ray[2] + from, air->ray[3] + from, air->ray[4] + from);
        return;
    }
    float z = ((float)sheet + 0.5f) * air->sheet_m;
    memset(air->sum, 0, n * sizeof *air->sum);
    for (int d = 0; d < STAND_RAYS; d++)
        ray_pass_dimmed(n, z, d == 0 ? RAY_ABOVE : RAY_ASIDE, air->share[d], leaf, air->dark_to[d] + from, air->through[d] + from,
                        air->ray[d] + from, air->sum);
    memcpy(leaf, air->sum, n * sizeof *leaf);
}

static void light_down(struct air *air)
{
    for (int d = 0; d < STAND_RAYS; d++)
        for (size_t i = 0; i < air->cells; i++)
            air->ray[d][i] = 1.0f;
    static const int columns[STAND_RAYS] = {0, 0, 0, -1, 1}, rows[STAND_RAYS] = {0, 1, -1, 0, 0};
    for (int sheet = air->sheets - 1; sheet >= 0; sheet--) {
        int above = (int)((float)(sheet + 1) * air->sheet_m / air->cell_m + 0.5f);
        int here = (int)((float)sheet * air->sheet_m / air->cell_m + 0.5f);
        for (int step = here; sheet < air->sheets - 1 && step < above; step++)
            for (int d = 1; d < STAND_RAYS; d++)
                ray_shift(air, air->ray[d], columns[d], rows[d]);
        for (size_t band = 0; band < air->bands; band++) {
            size_t from = band * air->band_cells, n = air->cells - from < air->band_cells ? air->cells - from : air->band_cells;
            band_pass(air, sheet, air->leaf + (band * STAND_SHEETS + (size_t)sheet) * air->band_cells, from, n);
        }
    }
}

/* Light that a leaf takes up in a crown of this shape with no other plant near, per leaf area. */
static float alone(const struct air *air, float leaf, float side)
{
    float over = leaf / (side * side);
    float k = air->share[0] * RAY_ABOVE + (1.0f - air->share[0]) * RAY_ASIDE;
    return over < 1e-3f ? k : (1.0f - quick_exp(-k * over)) / over;
}

/* The lowest branches that no longer pay are lost: the base of the crown rises, by a third of its depth in a year at most. */
static float base_raised(const struct air *air, const struct crowd *crowd, size_t i, const struct footprint *f, float least)
{
    int column = turned((int)(crowd->x[i] / air->cell_m), (int)air->columns, air->endless);
    int row = turned((int)(crowd->y[i] / air->cell_m), (int)air->rows, air->endless);
    if (column < 0 || row < 0)
        return crowd->base[i];
    const float *leaves = row_leaf(air, row) + column;
    int sheet = f->sheet;
    while (sheet < f->sheet + f->sheets - 1 && leaves[(size_t)sheet * air->band_cells] < least)
        sheet++;
    float base = sheet == f->sheet ? crowd->base[i] : (float)sheet * air->sheet_m;
    float most = crowd->base[i] + (crowd->height[i] - crowd->base[i]) / 3.0f;
    return base < crowd->base[i] ? crowd->base[i] : base > most ? most : base;
}

static void light_back(const struct air *air, struct crowd *crowd, const struct kind_now *kinds)
{
    struct footprint f;
    float full = air->share[0] * RAY_ABOVE + (1.0f - air->share[0]) * RAY_ASIDE;
    for (size_t i = 0; i < crowd->n; i++) {
        footprint_make(air, crowd, i, &f);
        float taken = 0, found = 0, top = 0;
        for (int r = 0; r < f.rows; r++) {
            int row = turned(f.row + r, (int)air->rows, air->endless);
            const float *leaves = row < 0 ? NULL : row_leaf(air, row) + (size_t)f.sheet * air->band_cells;
            for (int c = 0; row >= 0 && c < f.columns; c++) {
                int column = turned(f.column + c, (int)air->columns, air->endless);
                if (column < 0)
                    continue;
                float share = f.along[r] * f.across[c], sum = 0;
                const float *at = leaves + column;
                for (int s = 0; s < f.sheets; s++, at += air->band_cells)
                    sum += *at * f.up[s];
                taken += share * sum;
                top += share * at[-(ptrdiff_t)air->band_cells];
                found += share;
            }
        }
        float by_itself = alone(air, crowd->leaf[i], f.side);
        crowd->taken[i] = taken + (1.0f - found) * by_itself; /* what leans over the rim has open light */
        crowd->alone[i] = by_itself;
        crowd->top[i] = (top + (1.0f - found) * full) / full;
        crowd->base[i] = base_raised(air, crowd, i, &f, kinds[crowd->kind[i]].least);
    }
}

void light_year(struct air *air, struct crowd *crowd, const struct kind_now *kinds)
{
    float tallest = 0.5f;
    for (size_t i = 0; i < crowd->n; i++)
        tallest = crowd->height[i] > tallest ? crowd->height[i] : tallest;
    air->sheets = STAND_SHEETS;
    air->sheet_m = tallest * 1.001f / STAND_SHEETS;
    memset(air->leaf, 0, air->bands * air->band_cells * STAND_SHEETS * sizeof *air->leaf);
    memset(air->cover, 0, air->cells * sizeof *air->cover);
    crowns_year(crowd, kinds);
    crowns_add(air, crowd);
    light_down(air);
    light_back(air, crowd, kinds);
}
