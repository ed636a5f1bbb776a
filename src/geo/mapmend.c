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
    if (job->wish.use == MAP_BOUNDARY && shape.kind == SHAPE_LINES && !map_lines_to_outlines(job, &shape, feature))
        return OUTCOME_OK;
    bool good = shape.kind == SHAPE_POLYGONS ? map_polygons_mend(job, &shape, feature) : map_simple_clean(job, &shape, feature);
    if (good && job->wish.use == MAP_BOUNDARY)
        good = map_boundary_sound(job, &shape, feature);
    if (good)
        feature->shape = shape;
    return OUTCOME_OK;
}
