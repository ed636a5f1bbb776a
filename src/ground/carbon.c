/* SPDX-License-Identifier: GPL-3.0-or-later
 * Stocks of soil carbon to a depth and to a mass of mineral soil; what was added and what was gained; what could be detected. */
#include "ground/ground.h"
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_sf_gamma.h>
#include <math.h>
#include <stdlib.h>

static enum outcome layers_check(const struct carbon_layer *layers, size_t n, struct failure *why)
{
    double reached = 0;
    if (n == 0)
        return fail(why, OUTCOME_DATA, "No layer was given.");
    for (size_t i = 0; i < n; i++) {
        const struct carbon_layer *l = &layers[i];
        if (!is_known(l->top_cm) || !is_known(l->bottom_cm) || l->bottom_cm <= l->top_cm)
            return fail(why, OUTCOME_DATA, "Layer %zu needs an upper and a lower limit, the lower below the upper.", i + 1);
        if (fabs(l->top_cm - reached) > 1e-6) {
            fail(why, OUTCOME_DATA, "Layer %zu begins at %g cm, but the one above ends at %g cm.", i + 1, l->top_cm, reached);
            return failure_remedy(why, "A stock needs every layer from the surface down, without gap or overlap.");
        }
        if (!(l->density_g_cm3 > 0 && l->density_g_cm3 < 2.65))
            return fail(why, OUTCOME_DATA, "Layer %zu needs a bulk density between 0 and 2.65 g/cm³.", i + 1);
        if (!(l->carbon_pct >= 0 && l->carbon_pct <= 60)) {
            fail(why, OUTCOME_DATA, "Layer %zu needs organic carbon between 0 and 60 %%.", i + 1);
            return failure_remedy(why, "Laboratory figures in g/kg are ten times as large as per cent.");
        }
        if (!(l->stones_pct >= 0 && l->stones_pct < 100)) {
            fail(why, OUTCOME_DATA, "Stones of layer %zu are not known, so neither is its stock.", i + 1);
            return failure_remedy(why, "Write 0 where there are none over 2 mm.");
        }
        if (is_known(l->organic_pct) && !(l->organic_pct >= 0 && l->organic_pct < 100))
            return fail(why, OUTCOME_DATA, "Organic matter of layer %zu must lie between 0 and 100 %%.", i + 1);
        reached = l->bottom_cm;
    }
    return OUTCOME_OK;
}

/* Fine earth of a layer: 1 g/cm³ over 1 cm is 100 t/ha. */
static double fine_earth_t_ha(const struct carbon_layer *l)
{
    return 100 * l->density_g_cm3 * (l->bottom_cm - l->top_cm) * (1 - l->stones_pct / 100);
}

enum outcome carbon_fixed_depth(const struct carbon_layer *layers, size_t n, double *out, struct failure *why)
{
    enum outcome outcome = layers_check(layers, n, why);
    double sum = 0;
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++)
        out[i] = sum += layers[i].carbon_pct / 100 * fine_earth_t_ha(&layers[i]);
    return outcome;
}

enum outcome carbon_mineral_mass(const struct carbon_layer *layers, size_t n, double *out, struct failure *why)
{
    enum outcome outcome = layers_check(layers, n, why);
    double sum = 0;
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++) {
        double organic = is_known(layers[i].organic_pct) ? layers[i].organic_pct : 1.724 * layers[i].carbon_pct;
        out[i] = sum += fine_earth_t_ha(&layers[i]) * (1 - organic / 100);
    }
    return outcome;
}

/* Knots with the zero knot before them, on the heap: x, y, slopes. */
static double *knots_make(const double *mass, const double *stock, size_t n)
{
    double *knots = memory_get(3 * (n + 1), sizeof *knots);
    knots[0] = knots[n + 1] = 0;
    for (size_t i = 0; i < n; i++) {
        knots[i + 1] = mass[i];
        knots[n + 1 + i + 1] = stock[i];
    }
    return knots;
}

static double straight_at(const double *x, const double *y, size_t n, double at)
{
    if (!is_known(at) || at < x[0] || at > x[n - 1])
        return unknown_real();
    size_t i = 0;
    while (i + 2 < n && at > x[i + 1])
        i++;
    return y[i] + (y[i + 1] - y[i]) * (at - x[i]) / (x[i + 1] - x[i]);
}

static enum outcome at_masses(const double *mass, const double *stock, size_t n, const double *at, size_t n_at,
                              enum carbon_interpolation interpolation, double *out, struct failure *why)
{
    double *x = knots_make(mass, stock, n), *y = x + n + 1, *slope = y + n + 1;
    enum outcome outcome = spline_fit(x, y, n + 1, interpolation == CARBON_MONOTONE, slope, why);
    for (size_t i = 0; i < n_at && outcome == OUTCOME_OK; i++) {
        /* The deepest mass is often reached to within rounding. */
        double here = at[i] > x[n] && at[i] < x[n] * (1 + 1e-9) ? x[n] : at[i];
        out[i] = interpolation == CARBON_LINEAR ? straight_at(x, y, n + 1, here) : spline_at(x, y, slope, n + 1, here);
    }
    free(x);
    return outcome;
}

enum outcome carbon_at_mass(const double *mass_t_ha, const double *stock_t_ha, size_t n, double at_t_ha,
                            enum carbon_interpolation interpolation, double *out, struct failure *why)
{
    return at_masses(mass_t_ha, stock_t_ha, n, &at_t_ha, 1, interpolation, out, why);
}

enum outcome carbon_equivalent_mass(const struct carbon_layer *layers, size_t n, const struct carbon_layer *reference, size_t n_reference,
                                    enum carbon_interpolation interpolation, double *out, struct failure *why)
{
    double *mass = memory_get(n == 0 ? 1 : n, sizeof *mass), *stock = memory_get(n == 0 ? 1 : n, sizeof *stock);
    double *at = memory_get(n_reference == 0 ? 1 : n_reference, sizeof *at);
    enum outcome outcome = carbon_mineral_mass(layers, n, mass, why);
    if (outcome == OUTCOME_OK)
        outcome = carbon_fixed_depth(layers, n, stock, why);
    if (outcome == OUTCOME_OK)
        outcome = carbon_mineral_mass(reference, n_reference, at, why);
    if (outcome == OUTCOME_OK)
        outcome = at_masses(mass, stock, n, at, n_reference, interpolation, out, why);
    free(mass);
    free(stock);
    free(at);
    return outcome;
}

struct carbon_change carbon_change(double before_t_ha, double after_amendment_t_ha, double now_t_ha)
{
    struct carbon_change change = {.change_t_ha = now_t_ha - before_t_ha,
                                   .added_t_ha = after_amendment_t_ha - before_t_ha,
                                   .gained_t_ha = now_t_ha - after_amendment_t_ha};
    if (!is_known(change.change_t_ha))
        change.change_t_ha = unknown_real();
    if (!is_known(after_amendment_t_ha)) {
        change.added_t_ha = change.gained_t_ha = unknown_real();
        change.words = "Not sampled after amendment: added compost cannot be told from what the ground gained.";
    } else {
        change.words = "Carbon brought in with amendments stands apart from what the ground gained since.";
    }
    return change;
}

/* P(T ≤ t) of the noncentral t: the normal probability averaged over s = √(χ²/ν), by Simpson's rule where s has weight. */
static double noncentral_t(double t, double df, double ncp)
{
    enum { PANELS = 4000 };
    double width = 10 / sqrt(2 * df), low = fmax(0, 1 - width), high = 1 + width, h = (high - low) / PANELS, sum = 0;
    double scale = log(2) + df / 2 * log(df / 2) - gsl_sf_lngamma(df / 2);
    for (int i = 0; i <= PANELS; i++) {
        double s = low + h * i;
        double density = s > 0 ? exp(scale + (df - 1) * log(s) - df * s * s / 2) : (df <= 1 ? exp(scale) : 0);
        sum += (i == 0 || i == PANELS ? 1 : i % 2 == 1 ? 4 : 2) * density * gsl_cdf_ugaussian_P(t * s - ncp);
    }
    return sum * h / 3;
}

static double power_of(double effect, double n, double alpha)
{
    double df = 2 * n - 2, critical = gsl_cdf_tdist_Pinv(1 - alpha / 2, df), ncp = effect * sqrt(n / 2);
    return 1 - noncentral_t(critical, df, ncp) + noncentral_t(-critical, df, ncp);
}

enum outcome carbon_detectable(double cv_pct, double n_per_group, double power, double alpha, bool exact, double *pct, struct failure *why)
{
    if (!(cv_pct > 0 && cv_pct < 1000))
        return fail(why, OUTCOME_DATA, "The coefficient of variation must be above 0 %%.");
    if (!(n_per_group >= 2 && n_per_group < 1e6))
        return fail(why, OUTCOME_DATA, "Two samples or more are needed in each group; %g were given.", n_per_group);
    if (!(alpha > 0 && alpha < 1) || !(power > alpha && power < 1))
        return fail(why, OUTCOME_DATA, "The error rate must lie between 0 and 1, and the power between it and 1.");
    double effect = (gsl_cdf_ugaussian_Pinv(1 - alpha / 2) + gsl_cdf_ugaussian_Pinv(power)) * sqrt(2 / n_per_group);
    if (exact) {
        double low = 0, high = effect;
        while (power_of(high, n_per_group, alpha) < power && high < 1e6)
            high *= 2;
        for (int i = 0; i < 200 && high - low > 1e-12 * high; i++) {
            double middle = (low + high) / 2;
            if (power_of(middle, n_per_group, alpha) < power)
                low = middle;
            else
                high = middle;
        }
        effect = (low + high) / 2;
    }
    *pct = cv_pct * effect;
    return OUTCOME_OK;
}
