/* SPDX-License-Identifier: GPL-3.0-or-later
 * The whole plan: places, squares, species. */
#include "layout/inside.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_SPECIES = 512, MOST_ZONES = 256, MOST_PLANTS = 20000000 };

static enum outcome wish_check(const struct layout_wish *w, size_t *total, struct failure *why)
{
    *total = 0;
    if (w->n_species == 0 || w->n_species > MOST_SPECIES)
        return fail(why, OUTCOME_USAGE, "A plan takes 1 to %d species; %zu were given.", MOST_SPECIES, w->n_species);
    if (w->n_zones > MOST_ZONES)
        return fail(why, OUTCOME_USAGE, "A plan takes up to %d stand-off zones; %zu were given.", MOST_ZONES, w->n_zones);
    for (size_t s = 0; s < w->n_species; s++) {
        if (w->species[s].plants > MOST_PLANTS || (*total += w->species[s].plants) > MOST_PLANTS)
            return fail(why, OUTCOME_USAGE, "A plan takes up to %d plants.", MOST_PLANTS);
    }
    if (*total == 0)
        return fail(why, OUTCOME_USAGE, "There is nothing to plant: every species has the count 0.");
    for (size_t k = 0; k < w->n_fixed; k++) {
        if (w->fixed[k].species >= w->n_species)
            return fail(why, OUTCOME_USAGE, "Kept plant %zu is of no species of this plan.", k + 1);
    }
    if (w->n_fixed > *total) {
        fail(why, OUTCOME_DATA, "%zu plants are to be kept, but the plan asks for only %zu.", w->n_fixed, *total);
        return failure_remedy(why, "Raise the counts of the species, or do not keep them all.");
    }
    const double lengths[] = {w->edge_m, w->least_m, w->row_gap_m, w->plant_gap_m};
    for (size_t k = 0; k < 4; k++) {
        if (!(lengths[k] >= 0 && lengths[k] < 1e4))
            return fail(why, OUTCOME_USAGE, "Distances of a plan are 0 to 10,000 m; %g was given.", lengths[k]);
    }
    if (!isfinite(w->origin_x_m) || !isfinite(w->origin_y_m) || !isfinite(w->bearing_deg))
        return fail(why, OUTCOME_USAGE, "The baseline has no known first peg and bearing.");
    return OUTCOME_OK;
}

static void remark(struct layout *out, struct arena *arena, const char *text)
{
    const char **more = arena_array(arena, out->n_remarks + 1, sizeof *more);
    if (out->n_remarks > 0)
        memcpy(more, out->remarks, out->n_remarks * sizeof *more);
    more[out->n_remarks++] = text;
    out->remarks = more;
}

static enum outcome find_places(const struct layout_wish *w, const struct outline *outline, size_t free_places, const double *fixed,
                                const struct progress *progress, struct arena *arena, double *uv, struct layout *out, struct failure *why)
{
    double edge = w->edge_m > 0 ? w->edge_m : 0.10;
    if (w->pattern == LAYOUT_IRREGULAR) {
        struct scatter scatter = {outline, free_places, fixed, w->n_fixed, edge, w->least_m, w->seed};
        return scatter_places(&scatter, progress, uv, &out->least_m, why);
    }
    if (w->n_fixed > 0) {
        fail(why, OUTCOME_USAGE, "Plants that are kept do not fit into rows.");
        return failure_remedy(why, "Use the irregular pattern, or lay the rows out without them.");
    }
    size_t dropped = 0;
    struct rows rows = {outline, free_places, edge, w->row_gap_m, w->plant_gap_m};
    enum outcome outcome = rows_places(&rows, uv, &out->row_gap_m, &out->plant_gap_m, &dropped, why);
    if (outcome == OUTCOME_OK && dropped > 0)
        remark(out, arena,
               arena_print(arena, "The rows have %zu places more than plants; they are left out at the end of the last row.", dropped));
    out->least_m = floor(fmin(out->row_gap_m, out->plant_gap_m) * 100 + 1e-9) / 100;
    return outcome;
}

static void remark_thin_ground(const struct layout_wish *w, struct arena *arena, struct layout *out)
{
    double hexagon = layout_hexagon_m(out->ground_m2, (double)out->n_positions);
    if (w->pattern == LAYOUT_IRREGULAR && out->n_positions > 1 && out->least_m < 0.6 * hexagon)
        remark(out, arena,
               arena_print(arena,
                           "Plants stand only %.2f m apart at the closest: the ground is narrow or kept plants are close. In the open "
                           "this density would allow about %.2f m.",
                           out->least_m, 0.75 * hexagon));
}

enum outcome layout_plan(const struct layout_wish *w, const struct progress *progress, struct arena *arena, struct layout *out,
                         struct failure *why)
{
    size_t total = 0;
    struct arena scratch = {0};
    struct outline outline;
    struct layout plan = {0};
    struct frame frame = layout_frame_make(w->origin_x_m, w->origin_y_m, w->bearing_deg);
    enum outcome outcome = wish_check(w, &total, why);
    if (outcome == OUTCOME_OK)
        outcome = outline_make(w->ground, &frame, &scratch, &outline, why);
    if (outcome == OUTCOME_OK)
        outcome = squares_check(&outline, &frame, why);
    if (outcome == OUTCOME_OK && outline_crosses(&outline)) {
        fail(why, OUTCOME_DATA, "The outline of the ground crosses itself.");
        outcome = failure_remedy(why, "Mend the outline first: read it in again, or draw it without the crossing.");
    }
    if (outcome != OUTCOME_OK)
        goto done;
    plan.ground_m2 = outline.area_m2;
    size_t free_places = total - w->n_fixed;
    double *uv = arena_array(&scratch, total, 2 * sizeof *uv);
    int32_t *species = arena_array(&scratch, total, sizeof *species);
    bool *fixed = arena_array(&scratch, total, sizeof *fixed);
    for (size_t k = 0; k < w->n_fixed; k++) {
        double *at = uv + 2 * (free_places + k);
        frame_in(&frame, w->fixed[k].x_m, w->fixed[k].y_m, &at[0], &at[1]);
        species[free_places + k] = (int32_t)w->fixed[k].species;
        fixed[free_places + k] = true;
    }
    outcome = find_places(w, &outline, free_places, uv + 2 * free_places, progress, arena, uv, &plan, why);
    struct places places;
    if (outcome == OUTCOME_OK)
        outcome = places_make(w, &frame, &outline, uv, total, &scratch, &places, why);
    if (outcome == OUTCOME_OK) {
        struct mixing mixing = {w, &places, outline.area_m2, fixed, species};
        outcome = assign_species(&mixing, progress, &plan.swaps, why);
    }
    if (outcome == OUTCOME_OK)
        outcome = squares_make(&outline, &frame, arena, uv, species, fixed, total, &plan, why);
    if (outcome == OUTCOME_OK && !progress_tell(progress, 1, "plan ready"))
        outcome = OUTCOME_CANCELLED;
    if (outcome == OUTCOME_OK) {
        remark_thin_ground(w, arena, &plan);
        *out = plan;
    }
done:
    arena_clear(&scratch);
    return outcome;
}
