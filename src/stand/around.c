/* SPDX-License-Identifier: GPL-3.0-or-later
 * What a plot has around it: its ground in cells, the sky's light by direction, and what stands in its way. */
#include "geo/geo.h"
#include "stand/inside.h"
#include <math.h>

static const double radian = 3.14159265358979323846 / 180;

/* Sun of one hour: adds its beam on level ground to the ray it comes along. */
static void sun_add(double latitude, double declination, double hour, double beam[STAND_RAYS])
{
    double up = sin(latitude) * sin(declination) + cos(latitude) * cos(declination) * cos(hour);
    if (up < 0.05)
        return;
    double light = up * pow(0.7, 1 / up);
    double east = -cos(declination) * sin(hour);
    double north = cos(latitude) * sin(declination) - sin(latitude) * cos(declination) * cos(hour);
    if (up > cos(30 * radian))
        beam[0] += light;
    else if (fabs(east) > fabs(north))
        beam[east > 0 ? 3 : 4] += light;
    else
        beam[north > 0 ? 2 : 1] += light;
}

enum outcome stand_sky_shares(double latitude_deg, double share[STAND_RAYS], struct failure *why)
{
    if (!is_known(latitude_deg) || fabs(latitude_deg) > 66)
        return fail(why, OUTCOME_DATA, "Light is reckoned for latitudes from 66° S to 66° N.");
    double beam[STAND_RAYS] = {0}, sum = 0;
    for (int day = 0; day < 183; day += 3) { /* the half-year around midsummer */
        double declination = (latitude_deg < 0 ? -1 : 1) * 23.45 * radian * sin(day * 3.14159265358979323846 / 183);
        for (int half_hour = -18; half_hour <= 18; half_hour++)
            sun_add(latitude_deg * radian, declination, half_hour * 7.5 * radian, beam);
    }
    for (int d = 0; d < STAND_RAYS; d++)
        sum += beam[d];
    for (int d = 0; d < STAND_RAYS; d++) {
        double even = d == 0 ? 0.25 : 0.1875; /* an even sky: sin² 30° from within 30° of the zenith */
        share[d] = 0.5 * even + 0.5 * beam[d] / sum;
    }
    return OUTCOME_OK;
}

static double cell_size(const struct stand_setting *setting, double area_m2)
{
    double spacing = setting->n_plants == 0 ? 1 : sqrt(area_m2 / (double)setting->n_plants);
    return fmin(1.0, fmax(0.4, 0.87 * spacing));
}

/* Height of the shadow's edge over a cell along a ray of 45°, or the height of a crown right above it. */
static enum outcome shade_add(const struct stand_setting *setting, const struct stand_shade *shade, struct around *around,
                              struct failure *why)
{
    struct shape_finder *finder = NULL;
    static const double dx[STAND_RAYS] = {0, 0, 0, 1, -1}, dy[STAND_RAYS] = {0, -1, 1, 0, 0};
    enum outcome outcome = shape_finder_new(shade->shape, &finder, why);
    (void)setting;
    if (outcome != OUTCOME_OK || !(shade->height_m > 0)) {
        shape_finder_free(finder);
        return outcome;
    }
    for (size_t cell = 0; cell < around->columns * around->rows; cell++) {
        double x = around->x0 + ((double)(cell % around->columns) + 0.5) * (double)around->cell_m;
        double y = around->y0 + ((double)(cell / around->columns) + 0.5) * (double)around->cell_m;
        double step = fmax(0.25, fmin(1, shade->height_m / 40));
        if (shape_finder_distance(finder, x, y) > shade->height_m + shade->reach_m)
            continue;
        for (int d = 0; d < STAND_RAYS; d++)
            for (double away = 0; away <= (d == 0 ? 0 : shade->height_m); away += step) {
                if (shape_finder_distance(finder, x + dx[d] * away, y + dy[d] * away) > shade->reach_m)
                    continue;
                float to = (float)(shade->height_m - away), through = (float)shade->through;
                if (to > around->dark_to[d][cell])
                    around->dark_to[d][cell] = to;
                if (through < around->through[d][cell])
                    around->through[d][cell] = through;
                break;
            }
    }
    shape_finder_free(finder);
    return OUTCOME_OK;
}

static enum outcome inside_mark(const struct stand_setting *setting, struct around *around, struct failure *why)
{
    struct shape_finder *finder = NULL;
    enum outcome outcome = setting->outline == NULL ? OUTCOME_OK : shape_finder_new(setting->outline, &finder, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    for (size_t cell = 0; cell < around->columns * around->rows; cell++) {
        double x = around->x0 + ((double)(cell % around->columns) + 0.5) * (double)around->cell_m;
        double y = around->y0 + ((double)(cell / around->columns) + 0.5) * (double)around->cell_m;
        bool in = finder != NULL
                      ? shape_finder_contains(finder, x, y)
                      : x >= setting->box.x_least && x <= setting->box.x_most && y >= setting->box.y_least && y <= setting->box.y_most;
        around->inside[cell] = in ? 1 : 0;
        around->n_inside += in;
    }
    shape_finder_free(finder);
    return OUTCOME_OK;
}

enum outcome around_make(const struct stand_setting *setting, struct arena *arena, struct around *out, struct failure *why)
{
    struct box box = setting->box;
    double width = box.x_most - box.x_least, height = box.y_most - box.y_least;
    double area = setting->outline != NULL ? shape_area_m2(setting->outline) : width * height;
    double cell = cell_size(setting, area);
    *out = (struct around){.endless = setting->endless, .x0 = box.x_least, .y0 = box.y_least};
    if (setting->endless) { /* whole cells, so that the far side meets the near one */
        cell = width / fmax(1, floor(width / cell + 0.5));
        out->columns = (size_t)floor(width / cell + 0.5);
        out->rows = (size_t)fmax(1, floor(height / cell + 0.5));
    } else {
        out->x0 -= 2 * cell;
        out->y0 -= 2 * cell;
        out->columns = (size_t)ceil(width / cell) + 4;
        out->rows = (size_t)ceil(height / cell) + 4;
    }
    out->cell_m = (float)cell;
    if (out->columns > 40000 || out->rows > 40000 || out->columns * out->rows > 40000000)
        return fail(why, OUTCOME_USAGE, "The ground is too wide to be looked at plant by plant (%.0f by %.0f m).", width, height);
    size_t cells = out->columns * out->rows;
    out->inside = arena_alloc(arena, cells);
    double share[STAND_RAYS] = {0}, sum = 0;
    for (int d = 0; d < STAND_RAYS; d++)
        sum += setting->sky[d];
    enum outcome outcome = OUTCOME_OK;
    if (!(sum > 0))
        outcome = stand_sky_shares(52, share, why);
    for (int d = 0; d < STAND_RAYS && outcome == OUTCOME_OK; d++) {
        out->share[d] = (float)(sum > 0 ? setting->sky[d] / sum : share[d]);
        if (setting->n_shades == 0)
            continue;
        out->dark_to[d] = arena_array(arena, cells, sizeof(float));
        out->through[d] = arena_array(arena, cells, sizeof(float));
        for (size_t k = 0; k < cells; k++)
            out->through[d][k] = 1;
    }
    if (outcome == OUTCOME_OK)
        outcome = inside_mark(setting, out, why);
    for (size_t s = 0; s < setting->n_shades && outcome == OUTCOME_OK; s++)
        outcome = shade_add(setting, &setting->shades[s], out, why);
    return outcome;
}
