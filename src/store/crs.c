/* SPDX-License-Identifier: GPL-3.0-or-later
 * The definition of the programme's reference system, from PROJ's copy of the EPSG dataset. */
#include "store/inside.h"
#include <math.h>
#include <proj.h>
#include <stdio.h>

static bool axes_fit(PJ_CONTEXT *context, const PJ *crs)
{
    PJ *system = proj_crs_get_coordinate_system(context, crs);
    bool east = false, north = false;
    int n = system == NULL ? 0 : proj_cs_get_axis_count(context, system);
    for (int i = 0; i < n; i++) {
        const char *direction = NULL;
        double to_metre = 0;
        if (!proj_cs_get_axis_info(context, system, i, NULL, NULL, &direction, &to_metre, NULL, NULL, NULL) || fabs(to_metre - 1) > 1e-12)
            break;
        east = east || text_same_nocase(direction, "east");
        north = north || text_same_nocase(direction, "north");
    }
    proj_destroy(system);
    return n == 2 && east && north;
}

enum outcome crs_define(int64_t epsg, struct arena *arena, const char **name, const char **wkt, struct failure *why)
{
    char code[32] = "";
    snprintf(code, sizeof code, "%lld", (long long)epsg);
    PJ_CONTEXT *context = proj_context_create();
    proj_log_level(context, PJ_LOG_NONE);
    PJ *crs = proj_create_from_database(context, "EPSG", code, PJ_CATEGORY_CRS, 0, NULL);
    const char *const options[] = {"MULTILINE=NO", NULL};
    const char *text = NULL;
    if (crs != NULL && proj_get_type(crs) == PJ_TYPE_PROJECTED_CRS && axes_fit(context, crs))
        text = proj_as_wkt(context, crs, PJ_WKT1_GDAL, options);
    enum outcome outcome = OUTCOME_OK;
    if (text != NULL) {
        *name = arena_text(arena, proj_get_name(crs));
        *wkt = arena_text(arena, text);
    } else {
        outcome = fail(why, OUTCOME_DATA, "EPSG:%s %s.", code,
                       crs == NULL ? "is not a reference system that is known here"
                                   : "is not a projected system in metres with axes east and north");
        failure_at(why, NULL, 0, "crs");
        failure_remedy(why, "Name a projected metric system, such as the UTM zone or the national grid of the first site.");
    }
    proj_destroy(crs);
    proj_context_destroy(context);
    return outcome;
}
