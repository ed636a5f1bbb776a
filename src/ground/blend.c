/* SPDX-License-Identifier: GPL-3.0-or-later
 * Blending amendments: carbon to nitrogen by mass, organic matter after mixing. */
#include "ground/ground.h"
#include <math.h>

static enum outcome amendment_check(const struct amendment *a, size_t i, struct failure *why)
{
    const struct {
        const char *what;
        double value, most;
    } shares[] = {{"moisture_pct", a->moisture_pct, 95}, {"carbon_pct", a->carbon_pct, 100}, {"nitrogen_pct", a->nitrogen_pct, 100}};
    for (size_t k = 0; k < 3; k++)
        if (!is_known(shares[k].value) || shares[k].value < 0 || shares[k].value > shares[k].most) {
            fail(why, OUTCOME_DATA, "%s of material %zu (%s) must be known and lie between 0 and %g %%.", shares[k].what, i + 1,
                 a->name == NULL ? "no name" : a->name, shares[k].most);
            return failure_at(why, NULL, 0, shares[k].what);
        }
    return OUTCOME_OK;
}

static const char *ratio_words(double ratio)
{
    return ratio > 30   ? "Above 30: soil life takes nitrogen away from the plants while it breaks down. Keep it on the surface."
           : ratio < 20 ? "Below 20: it gives nitrogen off."
                        : "Between 20 and 30: it neither gives nor takes much nitrogen.";
}

enum outcome blend_mix(const struct amendment *parts, size_t n, struct blend *out, struct failure *why)
{
    struct blend blend = {0};
    for (size_t i = 0; i < n; i++) {
        enum outcome outcome = amendment_check(&parts[i], i, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        if (!is_known(parts[i].wet_t) || parts[i].wet_t < 0)
            return fail(why, OUTCOME_DATA, "The mass of material %zu must be known and not negative.", i + 1);
        double dry = parts[i].wet_t * (1 - parts[i].moisture_pct / 100);
        blend.dry_t += dry;
        blend.carbon_t += dry * parts[i].carbon_pct / 100;
        blend.nitrogen_t += dry * parts[i].nitrogen_pct / 100;
    }
    if (blend.nitrogen_t <= 0)
        return fail(why, OUTCOME_DATA, "There is no nitrogen in the blend, so it has no ratio of carbon to nitrogen.");
    blend.ratio = blend.carbon_t / blend.nitrogen_t;
    blend.words = ratio_words(blend.ratio);
    *out = blend;
    return OUTCOME_OK;
}

enum outcome blend_for_ratio(const struct amendment *a, const struct amendment *b, double target, double *dry_b_per_a, struct failure *why)
{
    enum outcome outcome = amendment_check(a, 0, why);
    if (outcome == OUTCOME_OK)
        outcome = amendment_check(b, 1, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (!(target > 0))
        return fail(why, OUTCOME_DATA, "The ratio aimed at must be above 0.");
    double over = a->carbon_pct - target * a->nitrogen_pct, under = target * b->nitrogen_pct - b->carbon_pct;
    if (fabs(over) < 1e-12) {
        *dry_b_per_a = 0;
        return OUTCOME_OK;
    }
    if (fabs(under) < 1e-12 || over / under < 0) {
        fail(why, OUTCOME_DATA, "No mix of the two reaches a ratio of %g: theirs are %.1f and %.1f.", target,
             a->carbon_pct / a->nitrogen_pct, b->carbon_pct / b->nitrogen_pct);
        return failure_remedy(why, "Aim between the two, or take another material.");
    }
    *dry_b_per_a = over / under;
    return OUTCOME_OK;
}

static enum outcome soil_check(double om, double density, double depth, double amendment_om, struct failure *why)
{
    if (!(om >= 0 && om <= 60) || !(amendment_om > 0 && amendment_om <= 100))
        return fail(why, OUTCOME_DATA, "Organic matter of the soil must lie between 0 and 60 %%, of the amendment between 0 and 100 %%.");
    if (!(density > 0 && density <= 2.65))
        return fail(why, OUTCOME_DATA, "The density of the soil must lie between 0 and 2.65 t/m³.");
    if (!(depth > 0 && depth <= 2)) {
        fail(why, OUTCOME_DATA, "A mixing depth of %g m cannot be; it must lie between 0 and 2 m.", depth);
        return failure_remedy(why, "Depths are in metres.");
    }
    return OUTCOME_OK;
}

enum outcome blend_organic_matter(double soil_om_pct, double density_t_m3, double depth_m, double dry_t_ha, double amendment_om_pct,
                                  double *om_pct, struct failure *why)
{
    enum outcome outcome = soil_check(soil_om_pct, density_t_m3, depth_m, amendment_om_pct, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (!(dry_t_ha >= 0))
        return fail(why, OUTCOME_DATA, "The amount of amendment must be known and not negative.");
    double soil = 10000 * density_t_m3 * depth_m;
    *om_pct = (soil_om_pct * soil + amendment_om_pct * dry_t_ha) / (soil + dry_t_ha);
    return OUTCOME_OK;
}

enum outcome blend_for_organic_matter(double soil_om_pct, double density_t_m3, double depth_m, double target_om_pct,
                                      double amendment_om_pct, double *dry_t_ha, struct failure *why)
{
    enum outcome outcome = soil_check(soil_om_pct, density_t_m3, depth_m, amendment_om_pct, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (target_om_pct < soil_om_pct || !is_known(target_om_pct)) {
        fail(why, OUTCOME_DATA, "The soil already holds %g %% organic matter; the aim of %g %% is lower.", soil_om_pct, target_om_pct);
        return failure_remedy(why, "Nothing needs to be added.");
    }
    if (target_om_pct >= amendment_om_pct)
        return fail(why, OUTCOME_DATA, "An amendment with %g %% organic matter cannot bring the soil to %g %%.", amendment_om_pct,
                    target_om_pct);
    *dry_t_ha = 10000 * density_t_m3 * depth_m * (target_om_pct - soil_om_pct) / (amendment_om_pct - target_om_pct);
    return OUTCOME_OK;
}
