/* SPDX-License-Identifier: GPL-3.0-or-later
 * Buffer, subtract, intersect, unite, distance and validity of shapes, by GEOS's reentrant C interface. */
#include "geo/geo.h"
#include "geo/region.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Sides to a quarter circle: the outline of a buffer lies at most r·(1 − cos(π/128)) = 0.03 % of r inside the true arc. */
enum { QUARTER_SIDES = 32 };

static void heard(const char *message, void *who)
{
    struct region *r = who;
    snprintf(r->message, sizeof r->message, "%s", message);
}

void region_start(struct region *r)
{
    *r = (struct region){.geos = GEOS_init_r()};
    require(r->geos != NULL);
    GEOSContext_setErrorMessageHandler_r(r->geos, heard, r);
}

void region_end(struct region *r)
{
    GEOS_finish_r(r->geos);
    r->geos = NULL;
}

static GEOSCoordSequence *run_make(struct region *r, const struct ring *ring)
{
    return GEOSCoordSeq_copyFromBuffer_r(r->geos, ring->xy, (unsigned)ring->n, 0, 0);
}

static GEOSGeometry *polygon_make(struct region *r, const struct shape_part *part)
{
    if (part->n_rings == 0)
        return GEOSGeom_createEmptyPolygon_r(r->geos);
    GEOSGeometry **holes = memory_get(part->n_rings, sizeof(GEOSGeometry *));
    GEOSGeometry *outer = NULL, *made = NULL;
    size_t n = 0;
    for (size_t k = 0; k < part->n_rings; k++) {
        GEOSCoordSequence *run = run_make(r, &part->rings[k]);
        GEOSGeometry *ring = run == NULL ? NULL : GEOSGeom_createLinearRing_r(r->geos, run);
        if (ring == NULL)
            goto done;
        if (k == 0)
            outer = ring;
        else
            holes[n++] = ring;
    }
    made = GEOSGeom_createPolygon_r(r->geos, outer, holes, (unsigned)n);
    outer = NULL;
    n = 0;
done:
    if (outer != NULL)
        GEOSGeom_destroy_r(r->geos, outer);
    for (size_t k = 0; k < n; k++)
        GEOSGeom_destroy_r(r->geos, holes[k]);
    free(holes);
    return made;
}

static GEOSGeometry *part_make(struct region *r, enum shape_kind kind, const struct shape_part *part)
{
    if (kind == SHAPE_POLYGONS)
        return polygon_make(r, part);
    GEOSCoordSequence *run = part->n_rings == 0 ? NULL : run_make(r, part->rings);
    if (run == NULL)
        return NULL;
    return kind == SHAPE_POINTS ? GEOSGeom_createPoint_r(r->geos, run) : GEOSGeom_createLineString_r(r->geos, run);
}

GEOSGeometry *region_from_shape(struct region *r, const struct shape *shape)
{
    static const int multi[] = {GEOS_GEOMETRYCOLLECTION, GEOS_MULTIPOINT, GEOS_MULTILINESTRING, GEOS_MULTIPOLYGON};
    if (shape->n_parts == 1 && shape->kind != SHAPE_NONE)
        return part_make(r, shape->kind, shape->parts);
    GEOSGeometry **parts = memory_get(shape->n_parts == 0 ? 1 : shape->n_parts, sizeof(GEOSGeometry *)), *made = NULL;
    size_t n = 0;
    for (; n < shape->n_parts; n++) {
        parts[n] = part_make(r, shape->kind, &shape->parts[n]);
        if (parts[n] == NULL)
            break;
    }
    if (n == shape->n_parts)
        made = GEOSGeom_createCollection_r(r->geos, multi[shape->kind], parts, (unsigned)n);
    else
        for (size_t i = 0; i < n; i++)
            GEOSGeom_destroy_r(r->geos, parts[i]);
    free(parts);
    return made;
}

static int dimension_of(struct region *r, const GEOSGeometry *g)
{
    return GEOSisEmpty_r(r->geos, g) == 1 ? -1 : GEOSGeom_getDimensions_r(r->geos, g);
}

static struct ring run_copy(struct region *r, const GEOSGeometry *g, struct arena *arena)
{
    const GEOSCoordSequence *run = GEOSGeom_getCoordSeq_r(r->geos, g);
    unsigned n = 0;
    struct ring ring = {0};
    if (run == NULL || GEOSCoordSeq_getSize_r(r->geos, run, &n) == 0)
        return ring;
    ring.n = n;
    ring.xy = arena_array(arena, n == 0 ? 1 : n, 2 * sizeof(double));
    GEOSCoordSeq_copyToBuffer_r(r->geos, run, ring.xy, 0, 0);
    return ring;
}

static double turn_of(const struct ring *ring)
{
    double sum = 0;
    for (size_t i = 0; i + 1 < ring->n; i++)
        sum += (ring->xy[2 * i] - ring->xy[0]) * (ring->xy[2 * i + 3] - ring->xy[1]) -
               (ring->xy[2 * i + 2] - ring->xy[0]) * (ring->xy[2 * i + 1] - ring->xy[1]);
    return sum;
}

static void ring_reverse(struct ring *ring)
{
    for (size_t i = 0, j = ring->n; i + 1 < j; i++) {
        j--;
        for (size_t k = 0; k < 2; k++) {
            double swap = ring->xy[2 * i + k];
            ring->xy[2 * i + k] = ring->xy[2 * j + k];
            ring->xy[2 * j + k] = swap;
        }
    }
}

static void part_copy(struct region *r, const GEOSGeometry *g, struct arena *arena, struct shape_part *part)
{
    bool polygon = GEOSGeomTypeId_r(r->geos, g) == GEOS_POLYGON;
    int holes = polygon ? GEOSGetNumInteriorRings_r(r->geos, g) : 0;
    part->n_rings = 1 + (size_t)(holes < 0 ? 0 : holes);
    part->rings = arena_array(arena, part->n_rings, sizeof *part->rings);
    for (size_t k = 0; k < part->n_rings; k++) {
        const GEOSGeometry *ring = g;
        if (polygon)
            ring = k == 0 ? GEOSGetExteriorRing_r(r->geos, g) : GEOSGetInteriorRingN_r(r->geos, g, (int)k - 1);
        part->rings[k] = run_copy(r, ring, arena);
        if (polygon && (turn_of(&part->rings[k]) > 0) != (k == 0))
            ring_reverse(&part->rings[k]);
    }
}

/* Count (parts NULL) or copy the simple members of one dimension. */
static size_t members(struct region *r, const GEOSGeometry *g, int dimension, struct arena *arena, struct shape_part *parts)
{
    int type = GEOSGeomTypeId_r(r->geos, g);
    if (type >= GEOS_MULTIPOINT) {
        size_t n = 0;
        int of = GEOSGetNumGeometries_r(r->geos, g);
        for (int i = 0; i < of; i++)
            n += members(r, GEOSGetGeometryN_r(r->geos, g, i), dimension, arena, parts == NULL ? NULL : parts + n);
        return n;
    }
    if (dimension_of(r, g) != dimension)
        return 0;
    if (parts != NULL)
        part_copy(r, g, arena, parts);
    return 1;
}

enum outcome region_to_shape(struct region *r, const GEOSGeometry *g, struct arena *arena, struct shape *out, struct failure *why)
{
    if (g == NULL)
        return fail(why, OUTCOME_DATA, "The shapes could not be worked out (%s).", r->message);
    int dimension = dimension_of(r, g);
    struct shape shape = {.kind = dimension < 0 ? SHAPE_NONE : (enum shape_kind)(dimension + 1)};
    if (dimension >= 0) {
        shape.n_parts = members(r, g, dimension, arena, NULL);
        shape.parts = arena_array(arena, shape.n_parts == 0 ? 1 : shape.n_parts, sizeof *shape.parts);
        members(r, g, dimension, arena, shape.parts);
    }
    *out = shape;
    return OUTCOME_OK;
}

bool region_valid(struct region *r, const GEOSGeometry *g, char *reason, size_t n, double at[2])
{
    char *words = NULL;
    GEOSGeometry *place = NULL;
    char valid = GEOSisValidDetail_r(r->geos, g, 0, &words, &place);
    at[0] = at[1] = NAN;
    if (place != NULL && GEOSisEmpty_r(r->geos, place) == 0) {
        GEOSGeomGetX_r(r->geos, place, &at[0]);
        GEOSGeomGetY_r(r->geos, place, &at[1]);
    }
    snprintf(reason, n, "%s", valid == 1 ? "" : words != NULL ? words : r->message);
    if (words != NULL)
        GEOSFree_r(r->geos, words);
    if (place != NULL)
        GEOSGeom_destroy_r(r->geos, place);
    return valid == 1;
}

bool shape_valid(const struct shape *shape, char *words, size_t n)
{
    struct region r;
    char reason[200];
    double at[2];
    region_start(&r);
    GEOSGeometry *g = region_from_shape(&r, shape);
    bool valid = g != NULL && region_valid(&r, g, reason, sizeof reason, at);
    if (!valid && words != NULL && g == NULL)
        snprintf(words, n, "%s", r.message);
    else if (words != NULL && valid)
        snprintf(words, n, "%s", "");
    else if (words != NULL)
        snprintf(words, n, "%s at %.2f, %.2f", reason, at[0], at[1]);
    if (g != NULL)
        GEOSGeom_destroy_r(r.geos, g);
    region_end(&r);
    return valid;
}

/* A valid GEOS geometry of a shape, or a failure that says what is wrong with it. */
static enum outcome take(struct region *r, const struct shape *shape, GEOSGeometry **out, struct failure *why)
{
    char reason[200];
    double at[2];
    GEOSGeometry *g = region_from_shape(r, shape);
    if (g == NULL)
        return fail(why, OUTCOME_DATA, "A shape is not well formed (%s).", r->message);
    if (shape->kind == SHAPE_POLYGONS && !region_valid(r, g, reason, sizeof reason, at)) {
        GEOSGeom_destroy_r(r->geos, g);
        fail(why, OUTCOME_DATA, "An outline is not valid: %s at %.2f, %.2f.", reason, at[0], at[1]);
        return failure_remedy(why, "Draw it again, or import it so that it can be mended.");
    }
    *out = g;
    return OUTCOME_OK;
}

enum outcome region_mend(const struct shape *shape, struct arena *arena, struct shape *out, struct failure *why)
{
    struct region r;
    region_start(&r);
    GEOSGeometry *g = region_from_shape(&r, shape), *mended = NULL;
    GEOSMakeValidParams *how = GEOSMakeValidParams_create_r(r.geos);
    GEOSMakeValidParams_setMethod_r(r.geos, how, GEOS_MAKE_VALID_STRUCTURE);
    GEOSMakeValidParams_setKeepCollapsed_r(r.geos, how, 0);
    if (g != NULL)
        mended = GEOSMakeValidWithParams_r(r.geos, g, how);
    enum outcome outcome = region_to_shape(&r, mended, arena, out, why);
    GEOSMakeValidParams_destroy_r(r.geos, how);
    if (g != NULL)
        GEOSGeom_destroy_r(r.geos, g);
    if (mended != NULL)
        GEOSGeom_destroy_r(r.geos, mended);
    region_end(&r);
    return outcome;
}

static GEOSGeometry *buffer_make(struct region *r, const GEOSGeometry *g, double distance_m)
{
    return GEOSBuffer_r(r->geos, g, distance_m, QUARTER_SIDES);
}

enum outcome shape_buffer(const struct shape *shape, double distance_m, struct arena *arena, struct shape *out, struct failure *why)
{
    struct region r;
    GEOSGeometry *g = NULL, *made = NULL;
    if (!isfinite(distance_m) || fabs(distance_m) > 1e6)
        return fail(why, OUTCOME_USAGE, "A buffer of %g m makes no sense.", distance_m);
    region_start(&r);
    enum outcome outcome = take(&r, shape, &g, why);
    if (outcome == OUTCOME_OK) {
        made = buffer_make(&r, g, distance_m);
        outcome = region_to_shape(&r, made, arena, out, why);
        GEOSGeom_destroy_r(r.geos, g);
    }
    if (made != NULL)
        GEOSGeom_destroy_r(r.geos, made);
    region_end(&r);
    return outcome;
}

enum outcome shape_without_necks(const struct shape *shape, double half_width_m, struct arena *arena, struct shape *out,
                                 struct failure *why)
{
    struct region r;
    GEOSGeometry *g = NULL, *worn = NULL, *grown = NULL, *made = NULL;
    region_start(&r);
    enum outcome outcome = take(&r, shape, &g, why);
    if (outcome == OUTCOME_OK) {
        worn = buffer_make(&r, g, -half_width_m);
        grown = worn == NULL ? NULL : buffer_make(&r, worn, half_width_m);
        made = grown == NULL ? NULL : GEOSIntersection_r(r.geos, grown, g);
        outcome = region_to_shape(&r, made, arena, out, why);
    }
    GEOSGeometry *all[] = {g, worn, grown, made};
    for (size_t i = 0; i < 4; i++)
        if (all[i] != NULL)
            GEOSGeom_destroy_r(r.geos, all[i]);
    region_end(&r);
    return outcome;
}

typedef GEOSGeometry *(*pair_op)(GEOSContextHandle_t, const GEOSGeometry *, const GEOSGeometry *);

static enum outcome pair(pair_op op, const struct shape *a, const struct shape *b, struct arena *arena, struct shape *out,
                         struct failure *why)
{
    struct region r;
    GEOSGeometry *ga = NULL, *gb = NULL, *made = NULL;
    region_start(&r);
    enum outcome outcome = take(&r, a, &ga, why);
    if (outcome == OUTCOME_OK)
        outcome = take(&r, b, &gb, why);
    if (outcome == OUTCOME_OK) {
        made = op(r.geos, ga, gb);
        outcome = region_to_shape(&r, made, arena, out, why);
    }
    if (outcome == OUTCOME_OK && op == GEOSIntersection_r && a->kind == SHAPE_POLYGONS && b->kind == SHAPE_POLYGONS &&
        out->kind != SHAPE_POLYGONS)
        *out = (struct shape){0}; /* they touch only */
    GEOSGeometry *all[] = {ga, gb, made};
    for (size_t i = 0; i < 3; i++)
        if (all[i] != NULL)
            GEOSGeom_destroy_r(r.geos, all[i]);
    region_end(&r);
    return outcome;
}

enum outcome shape_subtract(const struct shape *a, const struct shape *b, struct arena *arena, struct shape *out, struct failure *why)
{
    return pair(GEOSDifference_r, a, b, arena, out, why);
}

enum outcome shape_intersect(const struct shape *a, const struct shape *b, struct arena *arena, struct shape *out, struct failure *why)
{
    return pair(GEOSIntersection_r, a, b, arena, out, why);
}

enum outcome shape_unite(const struct shape *shapes, size_t n, struct arena *arena, struct shape *out, struct failure *why)
{
    struct region r;
    GEOSGeometry **parts = memory_get(n == 0 ? 1 : n, sizeof(GEOSGeometry *)), *all = NULL, *made = NULL;
    enum outcome outcome = OUTCOME_OK;
    size_t taken = 0;
    region_start(&r);
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++)
        if (shapes[i].n_parts > 0) {
            outcome = take(&r, &shapes[i], &parts[taken], why);
            taken += outcome == OUTCOME_OK;
        }
    if (outcome == OUTCOME_OK) {
        all = GEOSGeom_createCollection_r(r.geos, GEOS_GEOMETRYCOLLECTION, parts, (unsigned)taken);
        taken = 0;
        made = all == NULL ? NULL : GEOSUnaryUnion_r(r.geos, all);
        outcome = region_to_shape(&r, made, arena, out, why);
    }
    for (size_t i = 0; i < taken; i++)
        GEOSGeom_destroy_r(r.geos, parts[i]);
    if (all != NULL)
        GEOSGeom_destroy_r(r.geos, all);
    if (made != NULL)
        GEOSGeom_destroy_r(r.geos, made);
    free(parts);
    region_end(&r);
    return outcome;
}

enum outcome shape_distance(const struct shape *a, const struct shape *b, double *distance_m, struct failure *why)
{
    struct region r;
    GEOSGeometry *ga = NULL, *gb = NULL;
    double distance = NAN;
    if (shape_count(a) == 0 || shape_count(b) == 0)
        return fail(why, OUTCOME_DATA, "An empty shape has no distance to anything.");
    region_start(&r);
    enum outcome outcome = take(&r, a, &ga, why);
    if (outcome == OUTCOME_OK)
        outcome = take(&r, b, &gb, why);
    if (outcome == OUTCOME_OK && GEOSDistanceIndexed_r(r.geos, ga, gb, &distance) == 0)
        outcome = fail(why, OUTCOME_DATA, "The distance could not be worked out (%s).", r.message);
    /* The indexed distance looks at outlines only: one polygon inside another is at no distance. */
    if (outcome == OUTCOME_OK && distance > 0 && GEOSIntersects_r(r.geos, ga, gb) == 1)
        distance = 0;
    if (ga != NULL)
        GEOSGeom_destroy_r(r.geos, ga);
    if (gb != NULL)
        GEOSGeom_destroy_r(r.geos, gb);
    region_end(&r);
    if (outcome == OUTCOME_OK)
        *distance_m = distance;
    return outcome;
}

double shape_widest_circle_m(const struct shape *shape)
{
    struct region r;
    double radius = unknown_real();
    if (shape->kind != SHAPE_POLYGONS || !(shape_area_m2(shape) > 0))
        return radius;
    region_start(&r);
    GEOSGeometry *g = region_from_shape(&r, shape);
    GEOSGeometry *spoke = g == NULL ? NULL : GEOSMaximumInscribedCircle_r(r.geos, g, 0.01);
    if (spoke != NULL)
        GEOSLength_r(r.geos, spoke, &radius);
    if (spoke != NULL)
        GEOSGeom_destroy_r(r.geos, spoke);
    if (g != NULL)
        GEOSGeom_destroy_r(r.geos, g);
    region_end(&r);
    return radius;
}

enum outcome shape_from_wkt(const char *wkt, struct arena *arena, struct shape *out, struct failure *why)
{
    struct region r;
    region_start(&r);
    enum outcome outcome = OUTCOME_OK;
    char reason[200];
    GEOSWKTReader *reader = GEOSWKTReader_create_r(r.geos);
    GEOSGeometry *g = reader == NULL ? NULL : GEOSWKTReader_read_r(r.geos, reader, wkt);
    if (g == NULL)
        outcome = fail(why, OUTCOME_DATA, "The shape is no WKT: %s", r.message);
    else if (GEOSHasZ_r(r.geos, g))
        outcome = fail(why, OUTCOME_DATA, "The shape has a third coordinate.");
    else if (!region_valid(&r, g, reason, sizeof reason, (double[2]){0}))
        outcome = fail(why, OUTCOME_DATA, "The shape is not valid: %s.", reason);
    else
        outcome = region_to_shape(&r, g, arena, out, why);
    if (g != NULL)
        GEOSGeom_destroy_r(r.geos, g);
    if (reader != NULL)
        GEOSWKTReader_destroy_r(r.geos, reader);
    region_end(&r);
    return outcome;
}
