/* SPDX-License-Identifier: GPL-3.0-or-later
 * Reference systems and ways between them, by PROJ with its network off. */
#include "geo/geo.h"
#include <ctype.h>
#include <math.h>
#include <proj.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_CRS_TEXT = 20000 };

struct crs_way {
    PJ_CONTEXT *context;
    PJ *way;
    bool from_degrees, to_degrees;
    bool ballpark; ///< the change of datum is not known to PROJ
    char from[200], to[200];
    double west, south, east, north; ///< area of use of the target
};

static PJ_CONTEXT *context_make(void)
{
    PJ_CONTEXT *context = proj_context_create();
    require(context != NULL);
    proj_context_set_enable_network(context, 0);
    proj_log_level(context, PJ_LOG_NONE);
    return context;
}

static bool all_digits(const char *a)
{
    size_t n = strlen(a);
    return n > 0 && n < 8 && strspn(a, "0123456789") == n;
}

static PJ *crs_make(PJ_CONTEXT *context, const char *crs, struct failure *why)
{
    char code[32];
    while (crs != NULL && isspace((unsigned char)*crs))
        crs++;
    if (text_blank(crs)) {
        fail(why, OUTCOME_DATA, "No reference system is named.");
        failure_remedy(why, "Give one as an EPSG code, such as EPSG:27700.");
        return NULL;
    }
    if (strlen(crs) > MOST_CRS_TEXT) {
        fail(why, OUTCOME_DATA, "The description of the reference system is longer than %d bytes.", MOST_CRS_TEXT);
        return NULL;
    }
    if (all_digits(crs)) {
        snprintf(code, sizeof code, "EPSG:%s", crs);
        crs = code;
    }
    PJ *made = proj_create(context, crs);
    if (made != NULL && !proj_is_crs(made)) {
        proj_destroy(made);
        made = NULL;
    }
    if (made == NULL) {
        fail(why, OUTCOME_DATA, "“%.60s” is not a reference system that is known here.", crs);
        failure_remedy(why, "Give an EPSG code, such as EPSG:27700, WKT, or a PROJ string with +type=crs.");
    }
    return made;
}

/* The horizontal part of a compound or bound system. */
static PJ *crs_plane(PJ_CONTEXT *context, PJ *crs)
{
    PJ *part = NULL;
    if (proj_get_type(crs) == PJ_TYPE_COMPOUND_CRS)
        part = proj_crs_get_sub_crs(context, crs, 0);
    else if (proj_get_type(crs) == PJ_TYPE_BOUND_CRS)
        part = proj_get_source_crs(context, crs);
    if (part == NULL)
        return crs;
    proj_destroy(crs);
    return crs_plane(context, part);
}

static bool is_degrees(PJ *plane)
{
    PJ_TYPE type = proj_get_type(plane);
    return type == PJ_TYPE_GEOGRAPHIC_2D_CRS || type == PJ_TYPE_GEOGRAPHIC_3D_CRS;
}

static const char *unit_of(PJ_CONTEXT *context, PJ *plane, double *factor)
{
    const char *unit = NULL;
    PJ *axes = proj_crs_get_coordinate_system(context, plane);
    *factor = NAN;
    if (axes != NULL)
        proj_cs_get_axis_info(context, axes, 0, NULL, NULL, NULL, factor, &unit, NULL, NULL);
    static _Thread_local char kept[80];
    snprintf(kept, sizeof kept, "%s", unit == NULL ? "" : unit);
    proj_destroy(axes);
    return kept;
}

static void area_of(PJ_CONTEXT *context, PJ *crs, double box[4], const char **name)
{
    if (!proj_get_area_of_use(context, crs, &box[0], &box[1], &box[2], &box[3], name) || box[0] <= -999)
        box[0] = box[1] = box[2] = box[3] = NAN;
}

enum outcome crs_describe(const char *crs, struct arena *arena, struct crs_info *out, struct failure *why)
{
    enum outcome outcome = OUTCOME_DATA;
    PJ_CONTEXT *context = context_make();
    PJ *whole = crs_make(context, crs, why), *plane = NULL;
    if (whole == NULL)
        goto done;
    double box[4], factor;
    const char *area = NULL;
    struct crs_info info = {.name = arena_text(arena, proj_get_name(whole))};
    area_of(context, whole, box, &area);
    info.area = arena_text(arena, area);
    info.west = box[0], info.south = box[1], info.east = box[2], info.north = box[3];
    const char *authority = proj_get_id_auth_name(whole, 0), *code = proj_get_id_code(whole, 0);
    if (authority != NULL && code != NULL)
        info.code = arena_print(arena, "%s:%s", authority, code);
    const char *const options[] = {"MULTILINE=NO", NULL};
    const char *wkt = proj_as_wkt(context, whole, PJ_WKT2_2019, options);
    info.wkt = arena_text(arena, wkt == NULL ? "" : wkt);
    plane = crs_plane(context, proj_clone(context, whole));
    info.unit = arena_text(arena, unit_of(context, plane, &factor));
    info.projected = proj_get_type(plane) == PJ_TYPE_PROJECTED_CRS;
    info.metric = info.projected && factor == 1;
    if (!info.projected && !is_degrees(plane)) {
        fail(why, OUTCOME_DATA, "“%s” is neither a plane grid nor longitude and latitude.", info.name);
        failure_remedy(why, "Name the reference system of the positions on the ground.");
        goto done;
    }
    *out = info;
    outcome = OUTCOME_OK;
done:
    proj_destroy(plane);
    proj_destroy(whole);
    proj_context_destroy(context);
    return outcome;
}

enum outcome crs_choose(double longitude_deg, double latitude_deg, int *epsg, struct failure *why)
{
    if (!(longitude_deg >= -180 && longitude_deg <= 180 && latitude_deg >= -90 && latitude_deg <= 90)) {
        fail(why, OUTCOME_DATA, "Longitude %g, latitude %g is not a place on the globe.", longitude_deg, latitude_deg);
        return failure_remedy(why, "Longitude goes from −180 to 180, latitude from −90 to 90.");
    }
    int zone = (int)floor((longitude_deg + 180) / 6) + 1;
    zone = zone > 60 ? 60 : zone;
    if (latitude_deg >= 56 && latitude_deg < 64 && longitude_deg >= 3 && longitude_deg < 12)
        zone = 32;
    if (latitude_deg >= 72 && longitude_deg >= 0 && longitude_deg < 42)
        zone = longitude_deg < 9 ? 31 : longitude_deg < 21 ? 33 : longitude_deg < 33 ? 35 : 37;
    *epsg = latitude_deg > 84 ? 32661 : latitude_deg < -80 ? 32761 : latitude_deg >= 0 ? 32600 + zone : 32700 + zone;
    return OUTCOME_OK;
}

static PJ *way_between(PJ_CONTEXT *context, PJ *from, PJ *to, bool ballpark)
{
    const char *const strict[] = {"ALLOW_BALLPARK=NO", NULL};
    PJ *way = proj_create_crs_to_crs_from_pj(context, from, to, NULL, ballpark ? NULL : strict);
    PJ *straight = way == NULL ? NULL : proj_normalize_for_visualization(context, way);
    proj_destroy(way);
    return straight;
}

enum outcome crs_way_new(const char *from, const char *to, struct crs_way **out, struct failure *why)
{
    struct crs_way *way = memory_get(1, sizeof *way);
    memset(way, 0, sizeof *way);
    way->context = context_make();
    enum outcome outcome = OUTCOME_DATA;
    PJ *a = crs_make(way->context, from, why), *b = a == NULL ? NULL : crs_make(way->context, to, why);
    if (a == NULL || b == NULL)
        goto done;
    a = crs_plane(way->context, a);
    b = crs_plane(way->context, b);
    snprintf(way->from, sizeof way->from, "%s", proj_get_name(a));
    snprintf(way->to, sizeof way->to, "%s", proj_get_name(b));
    way->from_degrees = is_degrees(a);
    way->to_degrees = is_degrees(b);
    double box[4];
    area_of(way->context, b, box, NULL);
    way->west = box[0], way->south = box[1], way->east = box[2], way->north = box[3];
    way->way = way_between(way->context, a, b, false);
    if (way->way == NULL) {
        way->way = way_between(way->context, a, b, true);
        way->ballpark = true;
    }
    if (way->way == NULL) {
        fail(why, OUTCOME_DATA, "There is no known way from “%s” to “%s”.", way->from, way->to);
        goto done;
    }
    outcome = OUTCOME_OK;
done:
    proj_destroy(a);
    proj_destroy(b);
    if (outcome == OUTCOME_OK) {
        *out = way;
        return outcome;
    }
    crs_way_free(way);
    return outcome;
}

void crs_way_free(struct crs_way *way)
{
    if (way == NULL)
        return;
    proj_destroy(way->way);
    proj_context_destroy(way->context);
    free(way);
}

static enum outcome no_image(const struct crs_way *way, double x, double y, struct failure *why)
{
    if (way->from_degrees && (fabs(y) > 90 || fabs(x) > 360)) {
        fail(why, OUTCOME_DATA, "%.6g, %.6g is no longitude and latitude.", x, y);
        return failure_remedy(why, "Longitude comes first. If these are metres of a grid, name its reference system (--crs).");
    }
    fail(why, OUTCOME_DATA, "The point %.9g, %.9g in “%s” has no place in “%s”.", x, y, way->from, way->to);
    return failure_remedy(why, "Check which reference system the coordinates are in.");
}

enum outcome crs_way_points(const struct crs_way *way, double *xy, size_t n, struct failure *why)
{
    double *moved = memory_get(n == 0 ? 1 : n, 2 * sizeof *moved);
    enum outcome outcome = OUTCOME_OK;
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++) {
        double x = xy[2 * i], y = xy[2 * i + 1];
        bool possible = isfinite(x) && isfinite(y) && !(way->from_degrees && (fabs(y) > 90 || fabs(x) > 360));
        proj_errno_reset(way->way);
        PJ_COORD from = proj_coord(x, y, 0, HUGE_VAL);
        PJ_COORD to = possible ? proj_trans(way->way, PJ_FWD, from) : proj_coord(HUGE_VAL, HUGE_VAL, 0, 0);
        moved[2 * i] = to.xy.x;
        moved[2 * i + 1] = to.xy.y;
        if (!isfinite(to.xy.x) || !isfinite(to.xy.y))
            outcome = no_image(way, x, y, why);
    }
    if (outcome == OUTCOME_OK)
        memcpy(xy, moved, n * 2 * sizeof *xy);
    free(moved);
    return outcome;
}

enum outcome crs_way_shape(const struct crs_way *way, const struct shape *shape, struct arena *arena, struct shape *out,
                           struct failure *why)
{
    struct shape moved = shape_copy(shape, arena);
    for (size_t i = 0; i < moved.n_parts; i++)
        for (size_t k = 0; k < moved.parts[i].n_rings; k++) {
            struct ring *ring = &moved.parts[i].rings[k];
            bool closed = ring->n > 1 && memcmp(ring->xy, ring->xy + 2 * (ring->n - 1), 2 * sizeof(double)) == 0;
            enum outcome outcome = crs_way_points(way, ring->xy, ring->n, why);
            if (outcome != OUTCOME_OK)
                return outcome;
            if (closed)
                memcpy(ring->xy + 2 * (ring->n - 1), ring->xy, 2 * sizeof(double)); /* to the last bit */
        }
    *out = moved;
    return OUTCOME_OK;
}

double crs_way_accuracy_m(const struct crs_way *way, double x, double y, char *words, size_t n)
{
    PJ_COORD ignored = proj_trans(way->way, PJ_FWD, proj_coord(x, y, 0, HUGE_VAL));
    (void)ignored;
    PJ *used = proj_trans_get_last_used_operation(way->way);
    double accuracy = NAN;
    const char *name = NULL;
    if (used != NULL) {
        PJ_PROJ_INFO info = proj_pj_info(used);
        accuracy = info.accuracy >= 0 ? info.accuracy : NAN;
        name = info.description;
    }
    if (words != NULL)
        snprintf(words, n, "%s%s", name == NULL ? "way not named" : name,
                 way->ballpark ? " (the change of datum is not known: metres to hundreds of metres out)" : "");
    proj_destroy(used);
    return way->ballpark ? unknown_real() : isnan(accuracy) ? unknown_real() : accuracy;
}
