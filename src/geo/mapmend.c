/* SPDX-License-Identifier: GPL-3.0-or-later
 * One geometry of a map file into a shape of the programme: flattened, linearised, moved, mended with a sentence for each
 * thing done, or refused with reason and remedy. Nothing is mended unless only one reading is possible. */
#include "geo/mapread.h"
#include "geo/region.h"
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

void say(struct arena *arena, const char ***list, size_t *n, const char *format, ...)
{
    char words[1000];
    va_list rest;
    va_start(rest, format);
    vsnprintf(words, sizeof words, format, rest);
    va_end(rest);
    const char **longer = arena_array(arena, *n + 1, sizeof *longer);
    if (*n > 0)
        memcpy(longer, *list, *n * sizeof *longer);
    longer[*n] = arena_text(arena, words);
    *list = longer;
    (*n)++;
}
#define SAID job->arena, &feature->said, &feature->n_said

void map_refuse(struct map_feature *feature, const char *remedy, const char *sentence, ...)
{
    char words[FAILURE_TEXT];
    va_list rest;
    va_start(rest, sentence);
    vsnprintf(words, sizeof words, sentence, rest);
    va_end(rest);
    feature->refused = true;
    feature->shape = (struct shape){0};
    fail(&feature->refusal, OUTCOME_DATA, "%s", words);
    failure_remedy(&feature->refusal, "%s", remedy);
    failure_at(&feature->refusal, NULL, feature->number, NULL);
}

struct map_feature *map_feature_add(struct map_job *job)
{
    job->out->features = column_room(job->out->features, job->out->n, &job->room, sizeof *job->out->features);
    struct map_feature *feature = &job->out->features[job->out->n++];
    memset(feature, 0, sizeof *feature);
    return feature;
}

void map_ways_close(struct map_job *job)
{
    crs_way_free(job->way);
    crs_way_free(job->globe);
    job->way = job->globe = NULL;
}

enum outcome map_ways(struct map_job *job, const char *from, struct failure *why)
{
    struct crs_info info;
    map_ways_close(job);
    job->accuracy_said = false;
    enum outcome outcome = crs_describe(from, job->arena, &info, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    job->from = arena_text(job->arena, from);
    job->from_degrees = !info.projected;
    job->out->from_crs = info.name;
    outcome = crs_way_new(from, "OGC:CRS84", &job->globe, why);
    if (outcome != OUTCOME_OK || job->to == NULL)
        return outcome;
    outcome = crs_describe(job->to, job->arena, &job->to_info, why);
    if (outcome == OUTCOME_OK && !job->to_info.metric) {
        fail(why, OUTCOME_DATA, "The programme's reference system “%s” is not a plane grid in metres.", job->to_info.name);
        return failure_remedy(why, "Choose a projected one in metres, such as the UTM zone or the national grid.");
    }
    if (outcome == OUTCOME_OK)
        outcome = crs_way_new(from, job->to, &job->way, why);
    if (outcome == OUTCOME_OK)
        job->to = job->to_info.code != NULL ? job->to_info.code : job->to;
    return outcome;
}

/* ---- gathering parts ---- */

struct gathered {
    struct shape_part *parts[4]; ///< by dimension + 1, on the heap; rings in the arena
    size_t n[4], room[4];
    size_t odd; ///< members of kinds that cannot be taken
};

static size_t count_points(OGRGeometryH g, int depth)
{
    int members = OGR_G_GetGeometryCount(g);
    if (depth > MAP_MOST_DEPTH)
        return MAP_MOST_POINTS + 1;
    size_t n = members > 0 ? 0 : (size_t)OGR_G_GetPointCount(g);
    for (int i = 0; i < members && n <= MAP_MOST_POINTS; i++)
        n += count_points(OGR_G_GetGeometryRef(g, i), depth + 1);
    return n;
}

static struct ring run_take(struct arena *arena, OGRGeometryH g)
{
    int n = OGR_G_GetPointCount(g);
    struct ring ring = {.n = (size_t)(n < 0 ? 0 : n)};
    ring.xy = arena_array(arena, ring.n + 1, 2 * sizeof(double)); /* room to close it */
    if (ring.n > 0)
        OGR_G_GetPoints(g, ring.xy, 2 * sizeof(double), ring.xy + 1, 2 * sizeof(double), NULL, 0);
    return ring;
}

static struct shape_part *part_add(struct gathered *all, enum shape_kind kind)
{
    all->parts[kind] = column_room(all->parts[kind], all->n[kind], &all->room[kind], sizeof(struct shape_part));
    return &all->parts[kind][all->n[kind]++];
}

static void gather(struct arena *arena, OGRGeometryH g, struct gathered *all)
{
    OGRwkbGeometryType type = wkbFlatten(OGR_G_GetGeometryType(g));
    if (OGR_G_IsEmpty(g))
        return;
    if (type == wkbPoint || type == wkbLineString || type == wkbLinearRing) {
        struct shape_part *part = part_add(all, type == wkbPoint ? SHAPE_POINTS : SHAPE_LINES);
        part->n_rings = 1;
        part->rings = arena_array(arena, 1, sizeof *part->rings);
        part->rings[0] = run_take(arena, g);
    } else if (type == wkbPolygon || type == wkbTriangle) {
        struct shape_part *part = part_add(all, SHAPE_POLYGONS);
        part->n_rings = (size_t)OGR_G_GetGeometryCount(g);
        part->rings = arena_array(arena, part->n_rings, sizeof *part->rings);
        for (size_t k = 0; k < part->n_rings; k++)
            part->rings[k] = run_take(arena, OGR_G_GetGeometryRef(g, (int)k));
    } else if (OGR_G_GetGeometryCount(g) > 0) {
        for (int i = 0; i < OGR_G_GetGeometryCount(g); i++)
            gather(arena, OGR_G_GetGeometryRef(g, i), all);
    } else
        all->odd++;
}

/* The highest kind that was found; what is lower is left out with a word. */
static struct shape chosen(struct map_job *job, struct gathered *all, struct map_feature *feature)
{
    static const char *const names[] = {"", "points", "lines", "polygons"};
    enum shape_kind kind = all->n[3] > 0 ? SHAPE_POLYGONS : all->n[2] > 0 ? SHAPE_LINES : all->n[1] > 0 ? SHAPE_POINTS : SHAPE_NONE;
    for (int lower = 1; lower < (int)kind; lower++)
        if (all->n[lower] > 0)
            say(SAID, "A collection of several kinds: its %s were kept, %zu %s left out.", names[kind], all->n[lower], names[lower]);
    if (all->odd > 0)
        say(SAID, "%zu members of a kind that is not read were left out.", all->odd);
    struct shape shape = {.kind = kind, .n_parts = all->n[kind]};
    shape.parts = arena_array(job->arena, shape.n_parts == 0 ? 1 : shape.n_parts, sizeof *shape.parts);
    if (shape.n_parts > 0)
        memcpy(shape.parts, all->parts[kind], shape.n_parts * sizeof *shape.parts);
    for (size_t i = 0; i < 4; i++)
        free(all->parts[i]);
    return shape;
}

/* ---- coordinates ---- */

static void swap_all(struct shape *shape)
{
    for (size_t i = 0; i < shape->n_parts; i++)
        for (size_t k = 0; k < shape->parts[i].n_rings; k++)
            for (size_t j = 0; j < shape->parts[i].rings[k].n; j++) {
                double *p = shape->parts[i].rings[k].xy + 2 * j, x = p[0];
                p[0] = p[1];
                p[1] = x;
            }
}

/* False if refused: numbers that are none, degrees that are none. Swaps where only so the place exists. */
static bool coordinates_sound(struct map_job *job, struct shape *shape, struct map_feature *feature)
{
    for (size_t i = 0; i < shape->n_parts; i++)
        for (size_t k = 0; k < shape->parts[i].n_rings; k++)
            for (size_t j = 0; j < 2 * shape->parts[i].rings[k].n; j++)
                if (!isfinite(shape->parts[i].rings[k].xy[j])) {
                    map_refuse(feature, "Draw it again, or export it again from where it came.",
                               "A coordinate is not a number (or endless), at point %zu.", j / 2 + 1);
                    return false;
                }
    if (job->wish.swap)
        swap_all(shape);
    struct box box = shape_box(shape);
    if (!job->from_degrees)
        return true;
    bool fits = box.x_least >= -360 && box.x_most <= 360 && box.y_least >= -90 && box.y_most <= 90;
    bool fits_swapped = box.y_least >= -180 && box.y_most <= 180 && box.x_least >= -90 && box.x_most <= 90;
    if (fits)
        return true;
    if (!fits_swapped || job->wish.swap) {
        map_refuse(feature, "If these are metres of a grid, name its reference system (--crs), for example EPSG:27700.",
                   "%.9g, %.9g is no longitude and latitude.", box.x_least, box.y_least);
        return false;
    }
    swap_all(shape);
    say(SAID, "Latitude and longitude were the wrong way round (a latitude of %.2f does not exist): put right.",
        fabs(box.y_least) > fabs(box.y_most) ? box.y_least : box.y_most);
    return true;
}

/* Choose the programme's system from the first place met. */
static enum outcome system_choose(struct map_job *job, const struct shape *shape, struct failure *why)
{
    struct box box = shape_box(shape);
    double centre[2] = {(box.x_least + box.x_most) / 2, (box.y_least + box.y_most) / 2};
    int epsg = 0;
    enum outcome outcome = crs_way_points(job->globe, centre, 1, why);
    if (outcome == OUTCOME_OK)
        outcome = crs_choose(centre[0], centre[1], &epsg, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    job->to = arena_print(job->arena, "EPSG:%d", epsg);
    say(job->arena, &job->out->said, &job->out->n_said,
        "The reference system EPSG:%d was chosen from the place (longitude %.4f, latitude %.4f).", epsg, centre[0], centre[1]);
    return OUTCOME_OK;
}

static double away_m(const struct box *a, const struct box *b)
{
    double dx = fmax(fmax(a->x_least - b->x_most, b->x_least - a->x_most), 0);
    double dy = fmax(fmax(a->y_least - b->y_most, b->y_least - a->y_most), 0);
    return hypot(dx, dy);
}

/* Whether the swapped reading would lie near the site: then the remedy says so. */
static bool swap_would_fit(struct map_job *job, const struct shape *raw)
{
    struct box box = shape_box(raw), site = shape_box(job->wish.near);
    double middle[2] = {(box.y_least + box.y_most) / 2, (box.x_least + box.x_most) / 2};
    if (!job->from_degrees || crs_way_points(job->way, middle, 1, NULL) != OUTCOME_OK)
        return false;
    struct box at = {middle[0], middle[1], middle[0], middle[1]};
    return away_m(&at, &site) <= job->wish.near_most_m;
}

/* Said once a layer: how far out the change of reference system may be. */
static void accuracy_say(struct map_job *job, const struct shape *raw)
{
    char words[300];
    struct box box = shape_box(raw);
    double accuracy = crs_way_accuracy_m(job->way, box.x_least, box.y_least, words, sizeof words);
    if (job->accuracy_said || accuracy < 0.5)
        return;
    job->accuracy_said = true;
    if (is_known(accuracy))
        say(job->arena, &job->out->said, &job->out->n_said, "The change from “%s” to “%s” holds to about %.1f m (%s).", job->out->from_crs,
            job->to_info.name, accuracy, words);
    else if (strcmp(job->out->from_crs, job->to_info.name) != 0)
        say(job->arena, &job->out->said, &job->out->n_said, "How well the change from “%s” to “%s” holds is not stated (%s).",
            job->out->from_crs, job->to_info.name, words);
}

/* Move into the programme's system; refuse what lies outside its area of use or far from the site. */
static bool moved(struct map_job *job, const struct shape *raw, struct shape *shape, struct map_feature *feature)
{
    struct failure why = {0};
    struct box box = shape_box(raw);
    double middle[2] = {(box.x_least + box.x_most) / 2, (box.y_least + box.y_most) / 2};
    const struct crs_info *to = &job->to_info;
    bool on_globe = crs_way_points(job->globe, middle, 1, &why) == OUTCOME_OK;
    const double margin = 3; /* half a UTM zone: sites on the border of two */
    bool across = to->west > to->east;
    bool within = on_globe && (!is_known(to->west) || ((across ? middle[0] >= to->west - margin || middle[0] <= to->east + margin
                                                               : middle[0] >= to->west - margin && middle[0] <= to->east + margin) &&
                                                       middle[1] >= to->south - margin && middle[1] <= to->north + margin));
    /* the same figures the other way round lie where the programme does: latitude stands before longitude */
    bool turned = on_globe && is_known(to->west) && !across && middle[1] >= to->west - margin && middle[1] <= to->east + margin &&
                  middle[0] >= to->south - margin && middle[0] <= to->north + margin;
    if (!within) {
        map_refuse(feature,
                   turned ? "Read the other way round it lies within: latitude and longitude may be swapped, then say --swap."
                          : "Check the file's reference system (--crs) and whether it is the right file.",
                   on_globe ? "It lies at longitude %.4f, latitude %.4f, outside the area where “%s” holds (%s)."
                            : "Its place cannot be worked out (%.6g, %.6g in “%s”).%s",
                   middle[0], middle[1], on_globe ? to->name : job->out->from_crs, on_globe ? (to->area == NULL ? "" : to->area) : "");
        return false;
    }
    if (crs_way_shape(job->way, raw, job->arena, shape, &why) != OUTCOME_OK) {
        map_refuse(feature, why.remedy, "%s", why.sentence);
        return false;
    }
    if (job->wish.near != NULL && shape_count(job->wish.near) > 0) {
        struct box here = shape_box(shape), site = shape_box(job->wish.near);
        double far = away_m(&here, &site);
        if (far > job->wish.near_most_m) {
            bool swapped = swap_would_fit(job, raw);
            map_refuse(feature,
                       swapped ? "Latitude and longitude may be the wrong way round: say --swap if they are."
                               : "Check the file's reference system (--crs) and whether it belongs to this site.",
                       "It lies %.0f km from the site (longitude %.4f, latitude %.4f).", far / 1000, middle[0], middle[1]);
            return false;
        }
    }
    return true;
}

/* ---- mending ---- */

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
static bool simple_clean(struct map_job *job, struct shape *shape, struct map_feature *feature)
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
static bool lines_to_outlines(struct map_job *job, struct shape *shape, struct map_feature *feature)
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

static bool polygons_mend(struct map_job *job, struct shape *shape, struct map_feature *feature)
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

static bool boundary_sound(struct map_job *job, const struct shape *shape, struct map_feature *feature)
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

/* Flatten, linearise, count. NULL if refused; *made is the copy to destroy. */
static enum outcome flat(struct map_job *job, OGRGeometryH g, OGRGeometryH *made, struct map_feature *feature, struct failure *why)
{
    size_t points = g == NULL ? 0 : count_points(g, 0);
    *made = NULL;
    if (points > MAP_MOST_POINTS) {
        map_refuse(feature, "Simplify it to what can be seen on the ground.", "It has more than %d points.", MAP_MOST_POINTS);
        return OUTCOME_OK;
    }
    job->points += points;
    if (job->points > MAP_MOST_ALL_POINTS)
        return fail(why, OUTCOME_DATA, "The file has more than %d points in all.", MAP_MOST_ALL_POINTS);
    if (g == NULL || points == 0 || OGR_G_IsEmpty(g)) {
        map_refuse(feature, "Draw it, or leave it out.", "It has no geometry.");
        return OUTCOME_OK;
    }
    if (OGR_G_Is3D(g))
        say(SAID, "Height coordinates left out.");
    if (OGR_G_IsMeasured(g))
        say(SAID, "Measures along the line left out.");
    bool curved = OGR_G_HasCurveGeometry(g, TRUE);
    *made = curved ? OGR_G_GetLinearGeometry(g, 0, NULL) : OGR_G_Clone(g);
    if (curved)
        say(SAID, "Curves were turned into short straight pieces (4° of arc each).");
    if (*made == NULL)
        map_refuse(feature, "Save it as a plain polygon.", "Its curves cannot be turned into straight pieces.");
    else
        OGR_G_FlattenTo2D(*made);
    return OUTCOME_OK;
}

enum outcome map_take(struct map_job *job, OGRGeometryH geometry, struct map_feature *feature, struct failure *why)
{
    OGRGeometryH plain = NULL;
    struct gathered all = {0};
    struct shape shape = {0};
    enum outcome outcome = flat(job, geometry, &plain, feature, why);
    if (outcome != OUTCOME_OK || plain == NULL)
        return outcome;
    gather(job->arena, plain, &all);
    OGR_G_DestroyGeometry(plain);
    struct shape raw = chosen(job, &all, feature);
    if (raw.kind == SHAPE_NONE) {
        map_refuse(feature, "Save it as points, lines or polygons.", "Its geometry is of a kind that is not read.");
        return OUTCOME_OK;
    }
    if (!coordinates_sound(job, &raw, feature))
        return OUTCOME_OK;
    if (job->way == NULL) { /* the layer's way waits for the choice of a system */
        outcome = job->to == NULL ? system_choose(job, &raw, why) : OUTCOME_OK;
        if (outcome == OUTCOME_OK)
            outcome = map_ways(job, job->from, why);
        if (outcome != OUTCOME_OK)
            return outcome;
    }
    if (!moved(job, &raw, &shape, feature))
        return OUTCOME_OK;
    accuracy_say(job, &raw);
    if (job->wish.use == MAP_BOUNDARY && shape.kind == SHAPE_POINTS) {
        map_refuse(feature, "Draw an outline, or bring the points in as constraints.", "It is a point, and a boundary has to be an area.");
        return OUTCOME_OK;
    }
    if (job->wish.use == MAP_BOUNDARY && shape.kind == SHAPE_LINES && !lines_to_outlines(job, &shape, feature))
        return OUTCOME_OK;
    bool good = shape.kind == SHAPE_POLYGONS ? polygons_mend(job, &shape, feature) : simple_clean(job, &shape, feature);
    if (good && job->wish.use == MAP_BOUNDARY)
        good = boundary_sound(job, &shape, feature);
    if (good)
        feature->shape = shape;
    return OUTCOME_OK;
}

/* ---- repeats ---- */

struct print_of {
    uint64_t hash;
    size_t i;
};

static int by_hash(const void *a, const void *b)
{
    const struct print_of *p = a, *q = b;
    if (p->hash != q->hash)
        return p->hash < q->hash ? -1 : 1;
    return (p->i > q->i) - (p->i < q->i);
}

static uint64_t shape_hash(const struct shape *shape)
{
    uint64_t hash = 1469598103934665603u + (uint64_t)shape->kind; /* FNV-1a over the coordinates' bytes */
    for (size_t i = 0; i < shape->n_parts; i++)
        for (size_t k = 0; k < shape->parts[i].n_rings; k++) {
            const unsigned char *at = (const unsigned char *)shape->parts[i].rings[k].xy;
            for (size_t j = 0; j < shape->parts[i].rings[k].n * 2 * sizeof(double); j++)
                hash = (hash ^ at[j]) * 1099511628211u;
        }
    return hash;
}

static bool shape_same(const struct shape *a, const struct shape *b)
{
    if (a->kind != b->kind || a->n_parts != b->n_parts)
        return false;
    for (size_t i = 0; i < a->n_parts; i++) {
        if (a->parts[i].n_rings != b->parts[i].n_rings)
            return false;
        for (size_t k = 0; k < a->parts[i].n_rings; k++) {
            const struct ring *p = &a->parts[i].rings[k], *q = &b->parts[i].rings[k];
            if (p->n != q->n || memcmp(p->xy, q->xy, p->n * 2 * sizeof(double)) != 0)
                return false;
        }
    }
    return true;
}

static bool values_same(const struct map_feature *a, const struct map_feature *b)
{
    if (a->n_values != b->n_values)
        return false;
    for (size_t i = 0; i < a->n_values; i++)
        if (!text_same(a->keys[i], b->keys[i]) || !text_same(a->values[i], b->values[i]))
            return false;
    return true;
}

void map_finish(struct map_job *job)
{
    size_t n = job->out->n, kept = 0;
    struct map_feature *features = job->out->features;
    struct print_of *prints = memory_get(n + 1, sizeof *prints);
    for (size_t i = 0; i < n; i++)
        if (!features[i].refused)
            prints[kept++] = (struct print_of){shape_hash(&features[i].shape), i};
    qsort(prints, kept, sizeof *prints, by_hash);
    for (size_t i = 1; i < kept; i++)
        for (size_t k = i; k-- > 0 && i - k < 50 && prints[k].hash == prints[i].hash;) {
            struct map_feature *feature = &features[prints[i].i], *before = &features[prints[k].i];
            if (before->refused || !shape_same(&feature->shape, &before->shape))
                continue;
            if (values_same(feature, before))
                map_refuse(feature, "Nothing is lost: the first one is kept.", "It repeats feature %ld of layer %s, point for point.",
                           before->number, before->layer);
            else
                say(SAID, "It has the same shape as feature %ld of layer %s, with other attributes: look whether both are meant.",
                    before->number, before->layer);
            break;
        }
    free(prints);
    for (size_t i = 0; i < n; i++)
        job->out->n_refused += features[i].refused;
}
