/* SPDX-License-Identifier: GPL-3.0-or-later
 * Laws of crowded stands and the single equations of growth, as functions that can be checked one number at a time;
 * quantiles over runs. */
#include "stand/inside.h"
#include <math.h>
#include <stdlib.h>

static const double circle = 3.14159265358979323846;

double stand_density_index(double stems_ha, double dq_cm)
{
    return stems_ha * pow(dq_cm / 25.4, 1.605);
}

double stand_density_most(double index, double dq_cm)
{
    return index * pow(25.4 / dq_cm, 1.605);
}

double stand_yoda_mass(double stems_m2, double log10_k)
{
    return pow(10, log10_k) * pow(stems_m2, -1.5);
}

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

double stand_mean_sorted_gini(double *x, size_t n)
{
    double sum = 0, weighted = 0;
    qsort(x, n, sizeof *x, ascending);
    for (size_t i = 0; i < n; i++) {
        sum += x[i];
        weighted += (2.0 * (double)i - (double)n + 1) * x[i];
    }
    return weighted / ((double)(n - 1) * sum);
}

double stand_gini(const double *x, size_t n, struct arena *arena)
{
    double *copy = arena_array(arena, n, sizeof *copy);
    for (size_t i = 0; i < n; i++)
        copy[i] = x[i];
    return n < 2 ? unknown_real() : stand_mean_sorted_gini(copy, n);
}

void stand_axis(const double *x, const double *y, size_t n, double *slope, double *intercept, double *r)
{
    double mx = 0, my = 0, xx = 0, yy = 0, xy = 0;
    *slope = *intercept = *r = unknown_real();
    if (n < 3)
        return;
    for (size_t i = 0; i < n; i++) {
        mx += x[i] / (double)n;
        my += y[i] / (double)n;
    }
    for (size_t i = 0; i < n; i++) {
        xx += (x[i] - mx) * (x[i] - mx);
        yy += (y[i] - my) * (y[i] - my);
        xy += (x[i] - mx) * (y[i] - my);
    }
    if (!(xx > 0) || !(yy > 0))
        return;
    *slope = (xy < 0 ? -1 : 1) * sqrt(yy / xx);
    *intercept = my - *slope * mx;
    *r = xy / sqrt(xx * yy);
}

double stand_hegyi(double d_i, const double *d, const double *distance_m, size_t n, double radius_m, bool plain)
{
    double sum = 0;
    for (size_t j = 0; j < n; j++)
        if (distance_m[j] <= radius_m)
            sum += d[j] / d_i / (distance_m[j] + (plain ? 0 : 1));
    return sum;
}

double stand_light_under(double leaf_area, double k)
{
    return exp(-k * leaf_area);
}

double stand_leaf_from_light(double share, double k)
{
    return -log(share) / k;
}

double stand_mass_kg(double diameter_cm, double height_m, double wood_t_m3)
{
    return 0.1 * (double)FORM * wood_t_m3 * circle / 4 * diameter_cm * diameter_cm * height_m;
}

double stand_diameter_cm(double mass_kg, double height_m, double wood_t_m3)
{
    return sqrt(mass_kg / (0.1 * (double)FORM * wood_t_m3 * circle / 4 * height_m));
}

double stand_breast_cm(double diameter_cm, double height_m)
{
    return height_m <= 1.3 ? 0 : diameter_cm * pow(1 - 1.3 / height_m, 0.7);
}

double stand_height_limit_m(double diameter_cm)
{
    return (double)BUCKLE * pow(diameter_cm, 2.0 / 3.0);
}

double stand_leaf_growth(double light, double light_least)
{
    double least = 0.65 * light_least, upkeep = least / (1 + least / (double)LEAF_HALF);
    return (double)LEAF_GAIN * (light / (1 + light / (double)LEAF_HALF) - upkeep);
}

double stand_water_of_season(const double *stress, size_t n)
{
    double sum = 0;
    size_t known = 0;
    for (size_t i = 0; i < n; i++)
        if (is_known(stress[i])) {
            sum += stress[i];
            known++;
        }
    return n == 0 || 3 * known < 2 * n ? unknown_real() : sum / (double)known;
}

double stand_quantile_of(const struct stand_result *result, const float *array, size_t wide, size_t column, int year, double probability)
{
    double *values = memory_get(result->runs, sizeof *values), out = unknown_real();
    size_t n = 0, years = (size_t)result->years + 1;
    for (size_t r = 0; r < result->runs; r++) {
        double value = (double)array[(r * years + (size_t)year) * wide + column];
        if (isfinite(value))
            values[n++] = value;
    }
    qsort(values, n, sizeof *values, ascending);
    if (n > 0) {
        double at = probability * (double)(n - 1), part = at - floor(at);
        size_t low = (size_t)at, high = low + 1 < n ? low + 1 : low;
        out = values[low] + part * (values[high] - values[low]);
    }
    free(values);
    return out;
}

double stand_quantile(const struct stand_result *result, enum stand_measure measure, int year, double probability)
{
    return stand_quantile_of(result, result->measure, STAND_MEASURES, measure, year, probability);
}

double stand_mean_of(const struct stand_result *result, const float *array, size_t wide, size_t column, int year)
{
    double sum = 0;
    size_t n = 0, years = (size_t)result->years + 1;
    for (size_t r = 0; r < result->runs; r++) {
        double value = (double)array[(r * years + (size_t)year) * wide + column];
        if (isfinite(value)) {
            sum += value;
            n++;
        }
    }
    return n == 0 ? unknown_real() : sum / (double)n;
}

size_t stand_middle_run(const struct stand_result *result)
{
    static const enum stand_measure looked[] = {STAND_ALIVE, STAND_TOP_HEIGHT, STAND_MASS};
    size_t years = (size_t)result->years + 1, best = 0;
    double *away = memory_get(result->runs, sizeof *away);
    for (size_t k = 0; k < 3; k++)
        for (int year = 1; year <= result->years; year += result->years > 12 ? result->years / 12 : 1) {
            double middle = stand_quantile(result, looked[k], year, 0.5);
            double spread = stand_quantile(result, looked[k], year, 0.75) - stand_quantile(result, looked[k], year, 0.25);
            for (size_t r = 0; r < result->runs; r++) {
                double value = (double)result->measure[(r * years + (size_t)year) * STAND_MEASURES + looked[k]];
                double off = isfinite(value) ? (value - middle) / (spread + 1e-6 * fabs(middle) + 1e-9) : 10;
                away[r] += fmin(100, off * off);
            }
        }
    for (size_t r = 1; r < result->runs; r++)
        if (away[r] < away[best])
            best = r;
    free(away);
    return best;
}
