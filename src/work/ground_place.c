/* SPDX-License-Identifier: GPL-3.0-or-later
 * What a species meets at a site, from what was recorded there. */
#include "work/ground_place.h"
#include "ground/ground.h"
#include <math.h>

/* Mean and standard deviation of the known values. */
static struct figure figure_of(const double *values, size_t n, double least_spread)
{
    double sum = 0, squares = 0;
    size_t known = 0;
    for (size_t i = 0; i < n; i++)
        if (is_known(values[i])) {
            sum += values[i];
            known++;
        }
    if (known == 0)
        return (struct figure){unknown_real(), unknown_real()};
    double mean = sum / (double)known;
    for (size_t i = 0; i < n; i++)
        if (is_known(values[i]))
            squares += (values[i] - mean) * (values[i] - mean);
    double spread = known > 1 ? sqrt(squares / (double)(known - 1)) : least_spread;
    return (struct figure){mean, fmax(spread, least_spread)};
}

/* pH in a salt solution reads about half a unit lower than in water (common practice, no source). */
static double ph_in_water(const struct soil_sample *sample)
{
    if (!is_known(sample->ph))
        return unknown_real();
    return sample->ph_method == PH_METHOD_CALCIUM_CHLORIDE || sample->ph_method == PH_METHOD_POTASSIUM_CHLORIDE ? sample->ph + 0.5
                                                                                                                : sample->ph;
}

/* How wet, in words, from mottles, standing water and how fast water goes in; unknown where none was looked at. */
static struct figure moisture_of(const struct soil_sample *samples, size_t n)
{
    bool looked = false, mottled = false, standing = false, droughty = false, slow = false;
    for (size_t i = 0; i < n; i++) {
        looked =
            looked || samples[i].mottles != TRUTH_UNKNOWN || is_known(samples[i].water_table_cm) || is_known(samples[i].infiltration_mm_h);
        mottled = mottled || samples[i].mottles == TRUTH_YES;
        standing = standing || (is_known(samples[i].water_table_cm) && samples[i].water_table_cm < 40);
        droughty = droughty || (is_known(samples[i].infiltration_mm_h) && samples[i].infiltration_mm_h > 250);
        slow = slow || (is_known(samples[i].infiltration_mm_h) && samples[i].infiltration_mm_h < 10);
    }
    if (!looked)
        return (struct figure){unknown_real(), unknown_real()};
    return species_moisture_of(standing ? "wet" : mottled || slow ? "moist" : droughty ? "fairly_dry" : "fresh");
}

/* Nutrients from available phosphorus where it was measured (Olsen; bands: common practice, no source). */
static struct figure nutrients_of(const struct soil_sample *samples, size_t n)
{
    double sum = 0;
    size_t known = 0;
    for (size_t i = 0; i < n; i++)
        if (is_known(samples[i].olsen_p_mg_l) && !(samples[i].depth_top_cm >= 30)) {
            sum += samples[i].olsen_p_mg_l;
            known++;
        }
    if (known == 0)
        return (struct figure){unknown_real(), unknown_real()};
    double p = sum / (double)known;
    struct figure out = species_nutrients_of(p < 10 ? "poor" : p <= 25 ? "medium" : p <= 45 ? "rich" : "very_rich");
    out.spread = 1.0; /* phosphorus alone says little of nitrogen */
    return out;
}

/* Available water where pits of one zone were described deep enough; several zones are not averaged. */
static enum outcome water_of(const struct soil_sample *samples, size_t n, struct arena *arena, double *mm, struct failure *why)
{
    struct ground_judgement soil;
    double sum = 0;
    size_t known = 0;
    *mm = unknown_real();
    if (n == 0)
        return OUTCOME_OK;
    enum outcome outcome = ground_judge(samples, n, &(struct ground_options){0}, arena, &soil, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < soil.n_pits; i++) {
        if (!text_same(soil.pits[i].zone, soil.pits[0].zone))
            return OUTCOME_OK;
        if (is_known(soil.pits[i].available_mm) && soil.pits[i].available_to_m >= 0.6) {
            sum += soil.pits[i].available_mm;
            known++;
        }
    }
    if (outcome == OUTCOME_OK && known > 0)
        *mm = sum / (double)known;
    return outcome;
}

/* Coldest night on record, where the record is a year long at least. */
static enum outcome cold_of(struct store *store, const struct site *site, struct arena *arena, double *coldest_c, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0, known = 0;
    double least = unknown_real();
    enum outcome outcome = load_all(store, NOUN_WEATHER_DAY, arena, &rows, &n, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        const struct weather_day *day = &((const struct weather_day *)rows)[i];
        if (!is_known(day->t_min_c) || (day->site_id != 0 && day->site_id != site->id))
            continue;
        known++;
        if (!(day->t_min_c >= least))
            least = day->t_min_c;
    }
    *coldest_c = known >= 365 ? least : unknown_real();
    return outcome;
}

static enum outcome near_things(const struct site_facts *facts, const struct shape *outline, struct arena *arena, struct species_place *out,
                                struct failure *why)
{
    for (size_t i = 0; i < facts->n_constraints; i++) {
        const struct constraint *constraint = &facts->constraints[i];
        struct shape thing;
        double near = 0;
        enum outcome outcome = load_shape(constraint->wkb, arena, &thing, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        if (thing.kind == SHAPE_NONE || outline->kind == SHAPE_NONE)
            continue;
        outcome = shape_distance(outline, &thing, &near, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        struct box box = shape_box(outline);
        double across = hypot(box.x_most - box.x_least, box.y_most - box.y_least);
        if (constraint->kind == CONSTRAINT_KIND_BUILDING && !(out->building_nearest_m <= near)) {
            out->building_nearest_m = near;
            out->building_farthest_m = near + across;
        }
        if (constraint->kind == CONSTRAINT_KIND_PLAY_AREA && near <= 5)
            out->play_area = TRUTH_YES;
        if (constraint->kind == CONSTRAINT_KIND_SIGHT_LINE && near <= 1)
            out->sight_line = TRUTH_YES;
        if (constraint->kind == CONSTRAINT_KIND_OVERHEAD_LINE && near <= 10 && is_known(constraint->height_m) &&
            !(out->overhead_clearance_m <= constraint->height_m - 3))
            out->overhead_clearance_m = constraint->height_m - 3;
    }
    return OUTCOME_OK;
}

enum outcome place_load(struct store *store, const struct site_facts *facts, const struct shape *outline, struct arena *arena,
                        struct species_place *out, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    struct shape boundary = {0};
    *out = species_place_new();
    out->region = facts->site->region;
    out->clay = facts->site->clay;
    enum outcome outcome = load_of(store, NOUN_SOIL_SAMPLE, "site_id", facts->site->id, arena, &rows, &n, why);
    if (outcome == OUTCOME_OK && outline == NULL) {
        outcome = load_shape(facts->site->wkb, arena, &boundary, why);
        outline = &boundary;
    }
    if (outcome != OUTCOME_OK)
        return outcome;
    const struct soil_sample *samples = rows;
    double *ph = arena_array(arena, n + 1, sizeof *ph);
    for (size_t i = 0; i < n; i++)
        ph[i] = samples[i].depth_top_cm < 35 || !is_known(samples[i].depth_top_cm) ? ph_in_water(&samples[i]) : unknown_real();
    out->ground.ph = figure_of(ph, n, 0.3);
    out->ground.moisture = moisture_of(samples, n);
    out->ground.nutrients = nutrients_of(samples, n);
    out->ground.shade_pct = facts->site->shade_pct;
    outcome = water_of(samples, n, arena, &out->ground.water_mm, why);
    if (outcome == OUTCOME_OK)
        outcome = cold_of(store, facts->site, arena, &out->ground.coldest_c, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    return near_things(facts, outline, arena, out, why);
}
