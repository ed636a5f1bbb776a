/* SPDX-License-Identifier: GPL-3.0-or-later
 * Quantities of a preparation: volumes, loads, nitrogen, water, fence, machine days, and what to be careful of. */
#include "ground/ground.h"
#include <math.h>
#include <stdio.h>
#include <stdarg.h>
#include <string.h>

void preparation_site_init(struct preparation_site *site)
{
    double unknown = unknown_real();
    *site = (struct preparation_site){.area_m2 = unknown,
                                      .outline_m = unknown,
                                      .plants = unknown,
                                      .near_water_m = unknown,
                                      .olsen_p_mg_l = unknown,
                                      .services_depth_m = unknown,
                                      .water_table_m = unknown,
                                      .lorry_payload_t = 16,
                                      .lorry_volume_m3 = 14,
                                      .mulch_density_t_m3 = 0.30,
                                      .excavator_m2_day = 150,
                                      .soil_organic_pct = unknown,
                                      .soil_density_t_m3 = unknown,
                                      .soil_sand_pct = unknown,
                                      .soil_clay_pct = unknown,
                                      .compost_moisture_pct = 40,
                                      .compost_organic_pct = 45,
                                      .blend_depth_m = 0.3};
}

static enum outcome depth_check(const char *what, const char *field, double depth_m, double most_m, struct failure *why)
{
    if (!is_known(depth_m) || (depth_m >= 0 && depth_m <= most_m))
        return OUTCOME_OK;
    fail(why, OUTCOME_DATA, "%s of %g m cannot be; it must lie between 0 and %g m.", what, depth_m, most_m);
    failure_at(why, NULL, 0, field);
    if (depth_m > 0 && depth_m / 100 <= most_m)
        return failure_remedy(why, "Depths are in metres. Was %g cm meant? That is %g m.", depth_m, depth_m / 100);
    return failure_remedy(why, "Depths are in metres below the surface.");
}

static enum outcome input_check(const struct preparation *p, const struct preparation_site *site, struct failure *why)
{
    if (!is_known(site->area_m2) || site->area_m2 <= 0 || site->area_m2 > 1e7) {
        fail(why, OUTCOME_DATA, "The area to prepare must be known, above 0 and at most 10,000,000 m².");
        return failure_at(why, NULL, 0, "area_m2");
    }
    enum outcome outcome = depth_check("A loosened depth", "loosened_depth_m", p->loosened_depth_m, 2, why);
    if (outcome == OUTCOME_OK)
        outcome = depth_check("A compost depth", "compost_depth_m", p->compost_depth_m, 0.5, why);
    if (outcome == OUTCOME_OK)
        outcome = depth_check("A mulch depth", "mulch_depth_m", p->mulch_depth_m, 0.5, why);
    if (outcome == OUTCOME_OK)
        outcome = depth_check("A mound", "mound_m", p->mound_m, 1, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (is_known(p->bulking_factor) && (p->bulking_factor < 1 || p->bulking_factor > 2)) {
        fail(why, OUTCOME_DATA, "A bulking factor of %g cannot be; loose soil takes 1 to 2 times its volume in place.", p->bulking_factor);
        failure_at(why, NULL, 0, "bulking_factor");
        return failure_remedy(
            why, p->bulking_factor > 2 && p->bulking_factor <= 100 ? "A swell of %g %% is a factor of %g." : "Usual are 1.2 to 1.4.",
            p->bulking_factor, 1 + p->bulking_factor / 100);
    }
    if (is_known(p->settlement_pct) && (p->settlement_pct < 0 || p->settlement_pct > 60)) {
        fail(why, OUTCOME_DATA, "A settlement of %g %% cannot be; it must lie between 0 and 60.", p->settlement_pct);
        return failure_at(why, NULL, 0, "settlement_pct");
    }
    return OUTCOME_OK;
}

/* A depth of zero asks for nothing, whatever else is unknown. */
static double times_depth(double depth_m, double other)
{
    return is_known(depth_m) && depth_m <= 0 ? 0 : depth_m * other;
}

static double loads(double amount, double each)
{
    return is_known(amount) && amount <= 0 ? 0 : ceil(amount / each - 1e-9);
}

static void soil_volumes(const struct preparation *p, const struct preparation_site *site, struct preparation_quantities *q)
{
    double depth = p->loosened_depth_m, left = 1 - p->settlement_pct / 100;
    q->in_place_m3 = times_depth(depth, site->area_m2);
    q->loosened_m3 = times_depth(depth, site->area_m2 * p->bulking_factor);
    q->settled_m3 = times_depth(depth, site->area_m2 * p->bulking_factor * left);
    q->raised_loose_m = (q->loosened_m3 - q->in_place_m3) / site->area_m2 + p->compost_depth_m;
    q->raised_settled_m = (q->settled_m3 - q->in_place_m3) / site->area_m2 + times_depth(p->compost_depth_m, left);
    q->mound_soil_m3 =
        times_depth(p->mound_m, 1) > 0 ? fmax(0, (p->mound_m - q->raised_settled_m) * site->area_m2) : times_depth(p->mound_m, 1);
    if (p->mound_m > 0 && !is_known(q->raised_settled_m))
        q->mound_soil_m3 = unknown_real();
    q->machine_days = times_depth(depth, 1) > 0 ? site->area_m2 / site->excavator_m2_day : times_depth(depth, 1);
}

static void materials(const struct preparation *p, const struct preparation_site *site, struct preparation_quantities *q)
{
    double compost = p->compost_depth_m;
    q->compost_m3 = times_depth(compost, site->area_m2);
    q->compost_t = times_depth(compost, site->area_m2 * p->compost_density_t_m3);
    q->compost_share_pct = is_known(compost) ? 100 * compost / (0.3 + compost) : unknown_real();
    q->nitrogen_kg = times_depth(compost, site->area_m2 * p->compost_density_t_m3 * p->compost_n_kg_t);
    q->nitrogen_kg_ha = q->nitrogen_kg / site->area_m2 * 10000;
    q->compost_loads_mass = loads(q->compost_t, site->lorry_payload_t);
    q->compost_loads_volume = loads(q->compost_m3, site->lorry_volume_m3);
    q->compost_loads = is_known(q->compost_loads_mass) && is_known(q->compost_loads_volume)
                           ? fmax(q->compost_loads_mass, q->compost_loads_volume)
                           : unknown_real();
    q->mulch_m3 = times_depth(p->mulch_depth_m, site->area_m2);
    q->mulch_t = times_depth(p->mulch_depth_m, site->area_m2 * site->mulch_density_t_m3);
    q->mulch_loads_mass = loads(q->mulch_t, site->lorry_payload_t);
    q->mulch_loads_volume = loads(q->mulch_m3, site->lorry_volume_m3);
    q->mulch_loads = is_known(q->mulch_loads_mass) && is_known(q->mulch_loads_volume) ? fmax(q->mulch_loads_mass, q->mulch_loads_volume)
                                                                                      : unknown_real();
    q->fence_m = is_known(p->fence_m) ? p->fence_m : site->outline_m;
    q->fence_posts = is_known(q->fence_m) ? ceil(q->fence_m / 2) : unknown_real();
    q->water_m3_visit = p->water_l_m2 * site->area_m2 / 1000;
    q->water_m3_year = p->waterings_year == INT_UNKNOWN ? unknown_real()
                       : p->waterings_year <= 0         ? 0
                                                        : q->water_m3_visit * (double)p->waterings_year;
}

/* Organic matter after blending, and the water that it adds at normal density; loosening itself is not counted as water. */
static void blend_effects(const struct preparation *p, const struct preparation_site *site, struct preparation_quantities *q)
{
    q->organic_after_pct = q->water_gain_l_plant = unknown_real();
    double dry_t_ha = times_depth(p->compost_depth_m, p->compost_density_t_m3 * 10000 * (1 - site->compost_moisture_pct / 100));
    double after = unknown_real();
    if (!is_known(site->soil_organic_pct) || !is_known(site->soil_density_t_m3) || !is_known(dry_t_ha) ||
        blend_organic_matter(site->soil_organic_pct, site->soil_density_t_m3, site->blend_depth_m, dry_t_ha, site->compost_organic_pct,
                             &after, NULL) != OUTCOME_OK)
        return;
    q->organic_after_pct = after;
    double none = unknown_real();
    struct soil_water_input in = {site->soil_sand_pct, site->soil_clay_pct, site->soil_organic_pct, none, 1, 0};
    struct soil_water was, is;
    if (soil_water(&in, &was, NULL) != OUTCOME_OK || (was.flags & SOIL_ORGANIC_OUTSIDE) != 0)
        return;
    in.organic_matter_pct = after;
    if (soil_water(&in, &is, NULL) != OUTCOME_OK || (is.flags & SOIL_ORGANIC_OUTSIDE) != 0 || !(site->plants > 0))
        return;
    q->water_gain_l_plant = (is.available - was.available) * site->blend_depth_m * site->area_m2 * 1000 / site->plants;
}

static void warn(struct preparation_quantities *q, const char *code, const char *format, ...) __attribute__((format(printf, 3, 4)));
static void warn(struct preparation_quantities *q, const char *code, const char *format, ...)
{
    if (q->n_warnings == sizeof q->warnings / sizeof *q->warnings)
        return;
    struct preparation_warning *warning = &q->warnings[q->n_warnings++];
    snprintf(warning->code, sizeof warning->code, "%s", code);
    va_list list;
    va_start(list, format);
    vsnprintf(warning->words, sizeof warning->words, format, list);
    va_end(list);
}

static void digging_warnings(const struct preparation *p, const struct preparation_site *site, struct preparation_quantities *q)
{
    if (!(p->loosened_depth_m > 0))
        return;
    if (!is_known(site->services_depth_m))
        warn(q, "C01",
             "Services under the plot: not checked. Drawings show where a pipe or cable might be, not where it is. Each operator's written "
             "reply and a "
             "person competent in service location decide.");
    else if (site->services_depth_m <= p->loosened_depth_m + 0.5)
        warn(q, "C01",
             "A service lies %g m deep and the ground would be broken up to %g m. Stop: do not loosen here before its operator has agreed "
             "in writing.",
             site->services_depth_m, p->loosened_depth_m);
    if (site->water_table_m <= p->loosened_depth_m)
        warn(q, "T29", "Water stands at %g m, above the loosened depth of %g m: stop above the water.", site->water_table_m,
             p->loosened_depth_m);
    if (p->loosened_depth_m > 1)
        warn(q, "T29", "Deeper than the usual 0.6 to 1.0 m: say why.");
    if (p->loosened_depth_m > 1.2)
        warn(q, "T41",
             "Never enter an excavation deeper than 1.2 m that is not supported, and none at all in loose fill. A competent contractor "
             "decides.");
    if (p->bulking_factor < 1.2 || p->bulking_factor > 1.4)
        warn(q, "T30", "A bulking factor of %g lies outside the usual 1.2 to 1.4.", p->bulking_factor);
    if (p->settlement_pct < 10 || p->settlement_pct > 20)
        warn(q, "T30", "A settlement of %g %% lies outside the usual 10 to 20 %%.", p->settlement_pct);
    if (q->raised_settled_m > 0.1)
        warn(q, "C24",
             "The surface will stand about %.0f cm above the ground around. Raised ground sends water somewhere: show where; the drainage "
             "authority and the "
             "neighbour decide.",
             100 * q->raised_settled_m);
}

static void material_warnings(const struct preparation *p, const struct preparation_site *site, struct preparation_quantities *q)
{
    if (p->compost_depth_m > 0) {
        if (is_known(q->nitrogen_kg_ha))
            /* 170 kg/ha of manure nitrogen is the yearly limit of Directive 91/676/EEC, annex III (from memory). */
            warn(q, "T31", "The compost brings about %.0f kg of nitrogen on the plot, %.0f kg/ha%s.", q->nitrogen_kg, q->nitrogen_kg_ha,
                 q->nitrogen_kg_ha > 170 ? ", more than a farm may spread as manure in a year (170 kg/ha)" : "");
        if (p->compost_depth_m > 0.1 + 1e-9)
            warn(q, "T31", "%g cm of compost is more than the usual 5 to 10 cm.", 100 * p->compost_depth_m);
        if (q->compost_share_pct > 25 + 1e-9)
            warn(q, "T31", "Mixed into 30 cm of soil the compost makes up %.0f %% of the volume; up to 25 %% is usual.",
                 q->compost_share_pct);
        if (!is_known(site->near_water_m))
            warn(q, "T31", "Distance to open water: not checked.");
        else if (site->near_water_m < 10 && p->compost_depth_m > 0.05 + 1e-9)
            warn(q, "T31", "Open water is %g m away: no more than 5 cm of compost within 10 m of it.", site->near_water_m);
        if (!is_known(site->olsen_p_mg_l))
            warn(q, "T31", "Available phosphorus: not measured.");
        else if (site->olsen_p_mg_l > 25 && p->compost_depth_m > 0.05 + 1e-9)
            warn(q, "T31", "Phosphorus is already high (%g mg/L): use 5 cm of compost at the most, or none.", site->olsen_p_mg_l);
        warn(q, "C25",
             "What comes in needs a certificate: mature, sanitised, without plastic or glass, carbon to nitrogen under 20, no peat.");
    }
    bool straw = p->mulch_kind != NULL && strstr(p->mulch_kind, "straw") != NULL;
    if (p->mulch_depth_m > 0 && p->mulch_depth_m < 0.05)
        warn(q, "T34", "Mulch under 5 cm does not hold weeds back.");
    if (p->mulch_depth_m > (straw ? 0.20 : 0.15) + 1e-9)
        warn(q, "T34", "%g cm of mulch is more than the usual %s.", 100 * p->mulch_depth_m, straw ? "15 to 20 cm of straw" : "10 to 15 cm");
    if (p->mulch_depth_m > 0 && straw)
        warn(q, "C26", "Straw burns and shelters voles: keep a mown break, and use none where fires are set. The fire service can advise.");
}

enum outcome preparation_quantities(const struct preparation *preparation, const struct preparation_site *site,
                                    struct preparation_quantities *out, struct failure *why)
{
    enum outcome outcome = input_check(preparation, site, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct preparation_quantities q = {0};
    soil_volumes(preparation, site, &q);
    materials(preparation, site, &q);
    blend_effects(preparation, site, &q);
    digging_warnings(preparation, site, &q);
    material_warnings(preparation, site, &q);
    *out = q;
    return OUTCOME_OK;
}

double preparation_cost(const struct preparation_quantities *quantities, const struct preparation_prices *prices, double gates,
                        double bowser_visits, const char **missing)
{
    const struct {
        double quantity, price;
        const char *name;
    } lines[] = {
        {quantities->machine_days, prices->excavator_day, "excavator day"},
        {quantities->compost_m3, prices->compost_m3, "compost per m³"},
        {quantities->mulch_m3, prices->mulch_m3, "mulch per m³"},
        {quantities->fence_m, prices->fence_m, "fence per m"},
        {gates, prices->gate, "gate"},
        {bowser_visits, prices->bowser_visit, "bowser visit"},
    };
    double sum = 0;
    const char *first = NULL;
    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++) {
        if (is_known(lines[i].quantity) && lines[i].quantity <= 0)
            continue;
        if (first == NULL && (!is_known(lines[i].quantity) || !is_known(lines[i].price)))
            first = lines[i].name;
        sum += lines[i].quantity * lines[i].price;
    }
    if (missing != NULL)
        *missing = first;
    return first != NULL ? unknown_real() : sum;
}
