/* SPDX-License-Identifier: GPL-3.0-or-later
 * What the files that read map data share: the job in hand, and the way of one geometry through it. */
#ifndef SPINNEY_GEO_MAPREAD_H
#define SPINNEY_GEO_MAPREAD_H
#include "geo/geo.h"
#include <ogr_api.h>

/// A file being read.
struct map_job {
    struct map_wish wish; ///< with defaults filled in
    struct arena *arena;
    struct map_data *out;
    size_t room;    ///< of out->features, on the heap until the end
    size_t points;  ///< read so far
    const char *to; ///< reference system of the programme; NULL until chosen
    struct crs_info to_info;
    struct crs_way *way, *globe; ///< of the present layer: to the programme, and to longitude and latitude
    const char *from;            ///< reference system of the present layer
    bool accuracy_said;          ///< whether the accuracy of the present layer's way was said
    bool from_degrees;           ///< whether the present layer is in degrees
};

/// Sentences being gathered in the arena.
void say(struct arena *arena, const char ***list, size_t *n, const char *format, ...) __attribute__((format(printf, 4, 5)));
/// Where a feature's sentences go, for say().
#define SAID job->arena, &feature->said, &feature->n_said
/// A new feature at the end of the list.
struct map_feature *map_feature_add(struct map_job *job);
/// Ways for a layer in the reference system `from`. Closes those of the layer before.
enum outcome map_ways(struct map_job *job, const char *from, struct failure *why);
void map_ways_close(struct map_job *job);
/// One geometry (NULL: none) into a feature: mended, moved to the programme's system, or refused. Fails only where the whole
/// file goes over a limit or no programme system can be chosen.
enum outcome map_take(struct map_job *job, OGRGeometryH geometry, struct map_feature *feature, struct failure *why);
/// Mending: false where the feature was refused. Lines and points without repeats; closed lines as outlines; polygons whose rings are
/// closed, do not cross and are no slivers; an outline that can be a boundary.
bool map_simple_clean(struct map_job *job, struct shape *shape, struct map_feature *feature);
bool map_lines_to_outlines(struct map_job *job, struct shape *shape, struct map_feature *feature);
bool map_polygons_mend(struct map_job *job, struct shape *shape, struct map_feature *feature);
bool map_boundary_sound(struct map_job *job, const struct shape *shape, struct map_feature *feature);
/// Mark features that repeat an earlier one; count what is refused.
void map_finish(struct map_job *job);
/// Refuse a feature.
void map_refuse(struct map_feature *feature, const char *remedy, const char *sentence, ...) __attribute__((format(printf, 3, 4)));

/* Looks at bytes before GDAL sees them. */
enum map_format { MAP_UNKNOWN, MAP_GEOJSON, MAP_KML, MAP_GPKG, MAP_SHP, MAP_ZIP, MAP_WKT };
enum map_format map_format_of(const char *name, struct bytes bytes);
enum outcome map_scan(enum map_format format, struct bytes bytes, struct failure *why);
/// Brackets inside each other, outside quotes.
size_t map_depth(struct bytes bytes, const char *open, const char *close);
#endif
