/* SPDX-License-Identifier: GPL-3.0-or-later
 * Water in the soil from texture, organic matter, density and stones: Saxton & Rawls 2006. */
#include "ground/ground.h"
#include <math.h>

static const double PARTICLE_DENSITY = 2.65; /* g/cm³, as the paper takes it */

static enum outcome input_check(const struct soil_water_input *in, struct failure *why)
{
    double sand = in->sand_pct, clay = in->clay_pct, organic = in->organic_matter_pct;
    if (!is_known(sand) || !is_known(clay) || sand < 0 || clay < 0 || sand + clay > 100 + 1e-9) {
        fail(why, OUTCOME_DATA, "Sand and clay must be known, not negative and together at most 100 %%.");
        return failure_remedy(why, "Give per cent by mass of the fine earth, or a texture class.");
    }
    if (is_known(organic) && (organic < 0 || organic > 60)) {
        fail(why, OUTCOME_DATA, "Organic matter of %g %% cannot be used; it must lie between 0 and 60.", organic);
        return failure_remedy(why, "It is a percentage by mass; laboratory figures in g/kg are ten times as large.");
    }
    if (is_known(in->bulk_density_g_cm3) && (in->bulk_density_g_cm3 < 0.05 || in->bulk_density_g_cm3 >= PARTICLE_DENSITY)) {
        fail(why, OUTCOME_DATA, "A bulk density of %g g/cm³ cannot be; solid mineral is 2.65.", in->bulk_density_g_cm3);
        return failure_remedy(why, "Figures in kg/m³ are a thousand times as large.");
    }
    if (is_known(in->density_factor) && (in->density_factor <= 0 || in->density_factor > 2))
        return fail(why, OUTCOME_DATA, "A density factor of %g cannot be used; the paper's range is 0.9 to 1.3.", in->density_factor);
    if (is_known(in->stones_volume_pct) && (in->stones_volume_pct < 0 || in->stones_volume_pct >= 100))
        return fail(why, OUTCOME_DATA, "Stones of %g %% by volume cannot be; they must lie between 0 and 100.", in->stones_volume_pct);
    return OUTCOME_OK;
}

/* Equations 1–6 of the paper. Sand and clay enter as fractions, organic matter in per cent. */
static void normal_density(double s, double c, double om, struct soil_water *out)
{
    double wilt = -0.024 * s + 0.487 * c + 0.006 * om + 0.005 * s * om - 0.013 * c * om + 0.068 * s * c + 0.031;
    double field = -0.251 * s + 0.195 * c + 0.011 * om + 0.006 * s * om - 0.027 * c * om + 0.452 * s * c + 0.299;
    double drain = 0.278 * s + 0.034 * c + 0.022 * om - 0.018 * s * om - 0.027 * c * om - 0.584 * s * c + 0.078;
    out->wilting_point = wilt + (0.14 * wilt - 0.02);
    out->field_capacity = field + (1.283 * field * field - 0.374 * field - 0.015);
    out->drainable = drain + (0.636 * drain - 0.107);
    out->saturation = out->field_capacity + out->drainable - 0.097 * s + 0.043;
    out->normal_density_g_cm3 = (1 - out->saturation) * PARTICLE_DENSITY;
    double d = out->drainable;
    double entry = -21.67 * s - 27.93 * c - 81.97 * d + 71.12 * s * d + 8.29 * c * d + 14.05 * s * c + 27.16;
    out->air_entry_kpa = entry + (0.02 * entry * entry - 0.113 * entry - 0.70);
}

/* Equations 7–10: another density than the normal one. Saturation must stay above field capacity. */
static void density_apply(const struct soil_water_input *in, struct soil_water *out)
{
    double normal = out->normal_density_g_cm3, saturation = out->saturation;
    out->density_g_cm3 =
        is_known(in->bulk_density_g_cm3) ? in->bulk_density_g_cm3 : normal * (is_known(in->density_factor) ? in->density_factor : 1);
    out->density_factor = out->density_g_cm3 / normal;
    if (out->density_factor < 0.9 - 1e-12 || out->density_factor > 1.3 + 1e-12)
        out->flags |= SOIL_DENSITY_OUTSIDE;
    out->saturation = 1 - out->density_g_cm3 / PARTICLE_DENSITY;
    out->field_capacity -= 0.2 * (saturation - out->saturation);
    if (out->saturation <= out->field_capacity || out->field_capacity <= out->wilting_point) {
        out->flags |= SOIL_NO_AIR_SPACE;
        out->field_capacity = unknown_real();
    }
}

static void curves_fit(struct soil_water *out)
{
    if (!is_known(out->field_capacity)) {
        out->slope_b = out->intercept_a_kpa = out->lambda = out->conductivity_mm_h = out->available = unknown_real();
        return;
    }
    out->slope_b = (log(1500) - log(33)) / (log(out->field_capacity) - log(out->wilting_point));
    out->lambda = 1 / out->slope_b;
    out->intercept_a_kpa = exp(log(33) + out->slope_b * log(out->field_capacity));
    out->conductivity_mm_h = 1930 * pow(out->saturation - out->field_capacity, 3 - out->lambda);
    out->available = out->field_capacity - out->wilting_point;
}

/* Equations 19–22, the volume share of stones being the measured one. */
static void stones_apply(const struct soil_water_input *in, struct soil_water *out)
{
    if (!is_known(in->stones_volume_pct)) {
        out->flags |= SOIL_STONES_UNKNOWN;
        out->available_whole = out->conductivity_whole_mm_h = out->density_whole_g_cm3 = unknown_real();
        return;
    }
    double by_volume = in->stones_volume_pct / 100, alpha = out->density_g_cm3 / PARTICLE_DENSITY;
    double by_mass = by_volume / (alpha + by_volume * (1 - alpha));
    out->density_whole_g_cm3 = out->density_g_cm3 * (1 - by_volume) + by_volume * PARTICLE_DENSITY;
    out->available_whole = out->available * (1 - by_volume);
    out->conductivity_whole_mm_h = out->conductivity_mm_h * (1 - by_mass) / (1 - by_mass * (1 - 1.5 * alpha));
}

enum outcome soil_water(const struct soil_water_input *in, struct soil_water *out, struct failure *why)
{
    enum outcome outcome = input_check(in, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct soil_water soil = {0};
    double organic = in->organic_matter_pct;
    if (!is_known(organic)) {
        organic = 2.5;
        soil.flags |= SOIL_ORGANIC_ASSUMED;
    }
    if (organic >= 8)
        soil.flags |= SOIL_ORGANIC_OUTSIDE;
    if (in->clay_pct > 60)
        soil.flags |= SOIL_CLAY_OUTSIDE;
    normal_density(in->sand_pct / 100, in->clay_pct / 100, organic, &soil);
    if (soil.wilting_point <= 0 || soil.saturation >= 1 || soil.saturation <= 0) {
        fail(why, OUTCOME_DATA, "With sand %g %%, clay %g %% and organic matter %g %% the equations leave their range.", in->sand_pct,
             in->clay_pct, organic);
        return failure_remedy(why, "They were fitted to organic matter below 8 %% and clay up to 60 %%.");
    }
    density_apply(in, &soil);
    curves_fit(&soil);
    stones_apply(in, &soil);
    *out = soil;
    return OUTCOME_OK;
}

double soil_water_tension_kpa(const struct soil_water *soil, double theta)
{
    if (!is_known(theta) || !is_known(soil->field_capacity) || theta < soil->wilting_point - 1e-12 || theta > soil->saturation + 1e-12)
        return unknown_real();
    if (theta <= soil->field_capacity)
        return soil->intercept_a_kpa * pow(theta, -soil->slope_b);
    /* A straight line from 33 kPa to the air entry at saturation. */
    return 33 - (theta - soil->field_capacity) * (33 - soil->air_entry_kpa) / (soil->saturation - soil->field_capacity);
}

double soil_water_conductivity_mm_h(const struct soil_water *soil, double theta)
{
    if (!is_known(theta) || !is_known(soil->field_capacity) || theta <= 0 || theta > soil->saturation + 1e-12)
        return unknown_real();
    return soil->conductivity_mm_h * pow(theta / soil->saturation, 3 + 2 / soil->lambda);
}

const char *soil_flags_words(unsigned flags, struct arena *arena)
{
    static const struct {
        unsigned flag;
        const char *words;
    } all[] = {
        {SOIL_ORGANIC_OUTSIDE, "Organic matter of 8 % or more lies outside the soils these equations were fitted to."},
        {SOIL_CLAY_OUTSIDE, "Clay above 60 % lies outside the soils these equations were fitted to."},
        {SOIL_DENSITY_OUTSIDE, "The density is outside 0.9 to 1.3 times the normal density of this texture."},
        {SOIL_NO_AIR_SPACE,
         "So dense that the equations leave no pores above field capacity: field capacity and what follows from it are not known."},
        {SOIL_FROM_FEEL, "Sand and clay stand for a class by feel; they were not measured."},
        {SOIL_ORGANIC_ASSUMED, "Organic matter is not known; 2.5 % of the published table was used."},
        {SOIL_STONES_UNKNOWN, "Stones are not known: figures of the whole soil are not known."},
    };
    struct text text = {0};
    for (size_t i = 0; i < sizeof all / sizeof *all; i++)
        if ((flags & all[i].flag) != 0)
            text_print(&text, "%s%s", text.n > 0 ? " " : "", all[i].words);
    const char *out = arena_text(arena, text_get(&text));
    text_free(&text);
    return out;
}

double soil_available_mm(const struct soil_layer_water *layers, size_t n, double root_depth_m, double *known_to_m)
{
    double sum = 0, reached = 0;
    for (size_t i = 0; i < n && reached < root_depth_m; i++) {
        if (!is_known(layers[i].available_whole) || !is_known(layers[i].top_m) || !is_known(layers[i].bottom_m) ||
            layers[i].top_m > reached + 1e-9)
            break;
        double bottom = fmin(layers[i].bottom_m, root_depth_m);
        if (bottom <= reached)
            continue;
        sum += 1000 * layers[i].available_whole * (bottom - reached);
        reached = bottom;
    }
    if (known_to_m != NULL)
        *known_to_m = reached > 0 ? reached : unknown_real();
    return reached > 0 ? sum : unknown_real();
}
