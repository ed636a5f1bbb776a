/* SPDX-License-Identifier: GPL-3.0-or-later
 * Loading what a preparation is worked out from. */
#include "work/preparing.h"
#include <math.h>
#include <string.h>

/// A mean that leaves out what is not known.
struct mean {
    double sum;
    size_t n;
};
static void mean_add(struct mean *mean, double x)
{
    if (is_known(x)) {
        mean->sum += x;
        mean->n++;
    }
}
static double mean_of(const struct mean *mean)
{
    return mean->n == 0 ? unknown_real() : mean->sum / (double)mean->n;
}

static size_t zones_count(const struct soil_sample *samples, size_t n)
{
    size_t zones = 0;
    for (size_t i = 0; i < n; i++) {
        bool had = false;
        for (size_t k = 0; k < i && !had; k++)
            had = text_same(samples[k].zone, samples[i].zone);
        zones += !had;
    }
    return zones;
}

/* The soil that compost is blended into: the layers that begin in the top 30 cm. Zones are never averaged. */
static void soil_figures(struct preparing *p, const struct soil_sample *samples, size_t n)
{
    struct mean organic = {0}, density = {0}, sand = {0}, clay = {0};
    struct preparation_site *ground = &p->ground;
    for (size_t i = 0; i < n; i++) {
        const struct soil_sample *s = &samples[i];
        if (is_known(s->olsen_p_mg_l) && !(ground->olsen_p_mg_l >= s->olsen_p_mg_l))
            ground->olsen_p_mg_l = s->olsen_p_mg_l;
        if (is_known(s->water_table_cm) && !(ground->water_table_m <= s->water_table_cm / 100))
            ground->water_table_m = s->water_table_cm / 100;
        if (!(s->depth_top_cm < 30))
            continue;
        mean_add(&organic, is_known(s->soc_pct) ? 1.724 * s->soc_pct : s->loi_pct);
        mean_add(&density, s->bulk_density_g_cm3);
        mean_add(&sand, s->sand_pct);
        mean_add(&clay, s->clay_pct);
    }
    if (p->n_zones > 1) {
        p->soil_from =
            "Several soil zones: their texture, density and organic matter are not averaged, so what follows from them is unknown.";
        return;
    }
    ground->soil_organic_pct = mean_of(&organic);
    ground->soil_density_t_m3 = mean_of(&density);
    ground->soil_sand_pct = mean_of(&sand);
    ground->soil_clay_pct = mean_of(&clay);
}

static enum outcome soil_load(const struct job_context *context, struct preparing *p, struct arena *arena, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0, own = 0, kept = 0;
    enum outcome outcome = load_of(context->store, NOUN_SOIL_SAMPLE, "site_id", p->site.id, arena, &rows, &n, why);
    struct soil_sample *samples = rows;
    for (size_t i = 0; i < n; i++)
        own += samples[i].plot_id == p->plot.id;
    for (size_t i = 0; i < n; i++) {
        bool before = samples[i].time_point == TIME_POINT_BEFORE_WORKS || samples[i].time_point == TIME_POINT_UNKNOWN;
        if (before && (own == 0 ? samples[i].plot_id == 0 : samples[i].plot_id == p->plot.id))
            samples[kept++] = samples[i];
    }
    p->soil = (struct ground_judgement){.n_pits = 0};
    p->n_zones = zones_count(samples, kept);
    p->soil_from = kept == 0 ? "The ground was not surveyed."
                   : own > 0 ? "Soil of this plot."
                             : "Soil of the site; this plot has no sample of its own.";
    if (outcome == OUTCOME_OK && kept > 0) {
        soil_figures(p, samples, kept);
        outcome = ground_judge(samples, kept, &(struct ground_options){0}, arena, &p->soil, why);
    }
    return outcome;
}

enum outcome preparing_load(const struct job_context *context, const char *code, double area_m2, struct arena *arena, struct preparing *out,
                            struct failure *why)
{
    *out = (struct preparing){.n_zones = 0};
    struct preparation_site *ground = &out->ground;
    preparation_site_init(ground);
    enum outcome outcome = load_plot(context->store, code, arena, &out->plot, &out->site, why);
    if (outcome == OUTCOME_OK)
        outcome = load_shape(out->plot.wkb, arena, &out->outline, why);
    if (outcome == OUTCOME_OK)
        outcome = site_facts_load(context->store, &out->site, context->today, arena, &out->facts, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    bool drawn = out->outline.kind == SHAPE_POLYGONS;
    double drawn_m2 = drawn ? shape_area_m2(&out->outline) : unknown_real();
    ground->area_m2 = is_known(area_m2) ? area_m2 : is_known(out->plot.net_area_m2) ? out->plot.net_area_m2 : drawn_m2;
    ground->outline_m = drawn ? shape_length_m(&out->outline) : unknown_real();
    ground->plants = is_known(out->plot.density_m2) ? out->plot.density_m2 * ground->area_m2 : unknown_real();
    for (size_t i = 0; i < out->facts.n_constraints; i++) {
        const struct constraint *constraint = &out->facts.constraints[i];
        struct shape thing;
        double distance = 0;
        if (constraint->kind == CONSTRAINT_KIND_BURIED_SERVICE && is_known(constraint->depth_m) &&
            !(ground->services_depth_m < constraint->depth_m))
            ground->services_depth_m = constraint->depth_m;
        if (constraint->kind == CONSTRAINT_KIND_WATER && load_shape(constraint->wkb, arena, &thing, NULL) == OUTCOME_OK &&
            shape_distance(&out->outline, &thing, &distance, NULL) == OUTCOME_OK && !(ground->near_water_m < distance))
            ground->near_water_m = distance;
    }
    return soil_load(context, out, arena, why);
}
