/* SPDX-License-Identifier: GPL-3.0-or-later
 * Mending shapes of a map file: repeated points, open rings, crossings, slivers; lines taken as outlines. */
#include "geo/mapread.h"
#include "geo/region.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Drops points that repeat their neighbour; for a polygon closes the ring. The gap it closed, or 0. */
static double ring_clean(struct ring *ring, bool polygon, size_t *repeated)
{
    size_t n = 0;
    for (size_t j = 0; j < ring->n; j++) {
        const double *p = ring->xy + 2 * j;
        if (n > 0 && p[0] == ring->xy[2 * n - 2] && p[1] == ring->xy[2 * n - 1]) {
            (*repeated)++;
            continue;
        }
        memmove(ring->xy + 2 * n++, p, 2 * sizeof(double));
    }
    ring->n = n;
    if (!polygon || n < 3)
        return 0;
    double gap = hypot(ring->xy[0] - ring->xy[2 * n - 2], ring->xy[1] - ring->xy[2 * n - 1]);
    if (gap > 0) {
        memcpy(ring->xy + 2 * n, ring->xy, 2 * sizeof(double));
        ring->n++;
    }
    return gap;
}

/* Lines and points: repeats out, parts of no length out. */
bool map_simple_clean(struct map_job *job, struct shape *shape, struct map_feature *feature)
{
    size_t repeated = 0, kept = 0;
    for (size_t i = 0; i < shape->n_parts; i++) {
        struct shape_part *part = &shape->parts[i];
        ring_clean(&part->rings[0], false, &repeated);
        if (part->rings[0].n >= (shape->kind == SHAPE_LINES ? 2u : 1u))
            shape->parts[kept++] = *part;
    }
    if (repeated > 0)
        say(SAID, "%zu points that repeated their neighbour were left out.", repeated);
    if (kept < shape->n_parts)
        say(SAID, "%zu lines without length were left out.", shape->n_parts - kept);
    shape->n_parts = kept;
    if (kept == 0)
        map_refuse(feature, "Draw it again.", "It has no length.");
    return kept > 0;
}

/* Closed lines as outlines, where outlines are wanted. False if refused. */
bool map_lines_to_outlines(struct map_job *job, struct shape *shape, struct map_feature *feature)
{
    for (size_t i = 0; i < shape->n_parts; i++) {
        const struct ring *ring = &shape->parts[i].rings[0];
        size_t n = ring->n;
        if (n < 4 || hypot(ring->xy[0] - ring->xy[2 * n - 2], ring->xy[1] - ring->xy[2 * n - 1]) > 0.01) {
            map_refuse(feature, "Close the line into an outline, or bring it in as a constraint.",
                       "It is a line that does not come back to its start, and a boundary has to be an area.");
            return false;
        }
    }
    shape->kind = SHAPE_POLYGONS;
    say(SAID, shape->n_parts == 1 ? "A closed line was taken as the outline of an area." : "%zu closed lines were taken as outlines.",
        shape->n_parts);
    return true;
}

static bool rings_clean(struct map_job *job, struct shape *shape, struct map_feature *feature)
{
    size_t repeated = 0, unclosed = 0, thin = 0, parts = 0;
    double gap_most = 0;
    for (size_t i = 0; i < shape->n_parts; i++) {
        struct shape_part *part = &shape->parts[i];
        size_t kept = 0;
        bool outer = false;
        for (size_t k = 0; k < part->n_rings; k++) {
            double gap = ring_clean(&part->rings[k], true, &repeated);
            unclosed += gap > 0;
            gap_most = fmax(gap_most, gap);
            if (part->rings[k].n >= 4) {
                outer = outer || k == 0;
                part->rings[kept++] = part->rings[k];
            } else
                thin++;
        }
        part->n_rings = kept;
        if (outer)
            shape->parts[parts++] = *part;
    }
    shape->n_parts = parts;
    if (repeated > 0)
        say(SAID, "%zu points that repeated their neighbour were left out.", repeated);
    if (unclosed > 0)
        say(SAID, "%zu rings were not closed: closed with a straight line (the longest %.2f m).", unclosed, gap_most);
    if (thin > 0)
        say(SAID, "%zu rings of fewer than three different points were left out.", thin);
    if (parts == 0)
        map_refuse(feature, "Draw the outline again.", "Its outline has fewer than three different points.");
    return parts > 0;
}

static int by_area_down(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x < y) - (x > y);
}

static double part_area(const struct shape *shape, size_t i)
{
    struct shape one = {.kind = SHAPE_POLYGONS, .parts = &shape->parts[i], .n_parts = 1};
    return shape_area_m2(&one);
}

/* Parts and holes under the sliver limit out; after a crossing was mended, small scraps too. */
static void slivers_drop(struct map_job *job, struct shape *shape, bool split, struct map_feature *feature)
{
    double whole = shape_area_m2(shape), dropped_m2 = 0, scrap_m2 = 0;
    double scrap = split ? fmin(job->wish.scrap_pct / 100 * whole, whole / 2) : 0;
    size_t dropped = 0, filled = 0, scraps = 0, parts = 0;
    for (size_t i = 0; i < shape->n_parts; i++) {
        double area = part_area(shape, i);
        if (area < job->wish.sliver_m2) {
            dropped++;
            dropped_m2 += area;
            continue;
        }
        if (area < scrap) {
            scraps++;
            scrap_m2 += area;
            continue;
        }
        struct shape_part part = shape->parts[i];
        size_t rings = 1;
        for (size_t k = 1; k < part.n_rings; k++) {
            struct shape_part hole = {.rings = &part.rings[k], .n_rings = 1};
            struct shape one = {.kind = SHAPE_POLYGONS, .parts = &hole, .n_parts = 1};
            if (shape_area_m2(&one) < job->wish.sliver_m2)
                filled++;
            else
                part.rings[rings++] = part.rings[k];
        }
        part.n_rings = rings;
        shape->parts[parts++] = part;
    }
    shape->n_parts = parts;
    if (dropped > 0)
        say(SAID, "Slivers under %g m² dropped: %zu (%.3f m² together).", job->wish.sliver_m2, dropped, dropped_m2);
    if (filled > 0)
        say(SAID, "Holes under %g m² filled: %zu.", job->wish.sliver_m2, filled);
    if (scraps > 0)
        say(SAID, "%zu scraps cut off by the crossing were left out (%.2f m², %.1f %% of the area): look whether that is right.", scraps,
            scrap_m2, 100 * scrap_m2 / whole);
}

static void crossing_say(struct map_job *job, const char *reason, const double at[2], const struct shape *shape,
                         struct map_feature *feature)
{
    double *areas = memory_get(shape->n_parts + 1, sizeof *areas), whole = shape_area_m2(shape);
    for (size_t i = 0; i < shape->n_parts; i++)
        areas[i] = part_area(shape, i);
    qsort(areas, shape->n_parts, sizeof *areas, by_area_down);
    bool crossing = strstr(reason, "Self-intersection") != NULL;
    if (shape->n_parts > 1)
        say(SAID, "The outline %s at %.2f, %.2f: it was split, and the larger part of %.0f %% kept%s",
            crossing ? "crossed itself" : "was not sound", at[0], at[1], 100 * areas[0] / whole,
            areas[1] / whole * 100 < job->wish.scrap_pct ? "." : " with the others.");
    else
        say(SAID, "The outline %s at %.2f, %.2f (%s): mended into one sound area of %.2f m².",
            crossing ? "crossed itself" : "was not sound", at[0], at[1], reason, whole);
    free(areas);
}

bool map_polygons_mend(struct map_job *job, struct shape *shape, struct map_feature *feature)
{
    struct region r;
    char reason[200] = "";
    double at[2];
    struct failure why = {0};
    if (!rings_clean(job, shape, feature))
        return false;
    region_start(&r);
    GEOSGeometry *g = region_from_shape(&r, shape);
    bool valid = g != NULL && region_valid(&r, g, reason, sizeof reason, at);
    if (g != NULL)
        GEOSGeom_destroy_r(r.geos, g);
    region_end(&r);
    struct shape sound;
    /* Also where it is valid: parts and rings come out in the order and the turning that every shape here has. */
    if (!valid) {
        if (region_mend(shape, job->arena, &sound, &why) != OUTCOME_OK || sound.kind != SHAPE_POLYGONS) {
            map_refuse(feature, "Draw the outline again.", "The outline crosses itself so that no area is left (%s).",
                       reason[0] != '\0' ? reason : "it is flat");
            return false;
        }
        *shape = sound;
        crossing_say(job, reason, at, shape, feature);
    } else if (shape_from_wkb(shape_to_wkb(shape, job->arena), job->arena, &sound, &why) == OUTCOME_OK)
        *shape = sound;
    slivers_drop(job, shape, !valid && shape->n_parts > 1, feature);
    if (shape->n_parts == 0)
        map_refuse(feature, "Draw the outline again.", "Nothing of %g m² or more is left of it.", job->wish.sliver_m2);
    return shape->n_parts > 0;
}

bool map_boundary_sound(struct map_job *job, const struct shape *shape, struct map_feature *feature)
{
    double area = shape_area_m2(shape);
    size_t holes = 0;
    if (area > job->wish.area_most_m2) {
        map_refuse(feature, "Check the reference system (--crs), and whether this is the site or its whole district.",
                   "It covers %.1f km², more than the %.1f km² that are taken for a site.", area / 1e6, job->wish.area_most_m2 / 1e6);
        return false;
    }
    if (area < job->wish.area_least_m2) {
        map_refuse(feature, "Check the unit of the coordinates and the reference system (--crs).",
                   "It covers %.2f m², less than the %.2f m² that are taken for a site.", area, job->wish.area_least_m2);
        return false;
    }
    if (area > 1e6)
        say(SAID, "It covers %.2f km²: large for planting.", area / 1e6);
    for (size_t i = 0; i < shape->n_parts; i++)
        holes += shape->parts[i].n_rings - 1;
    if (holes > 0)
        say(SAID, "It has %zu %s, kept.", holes, holes == 1 ? "hole" : "holes");
    if (shape->n_parts > 1)
        say(SAID, "It has %zu parts, all kept.", shape->n_parts);
    return true;
}
