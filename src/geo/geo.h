/* SPDX-License-Identifier: GPL-3.0-or-later
 * The face of geo/: shapes and what can be done with them, reference systems, map data in and out.
 * GDAL, GEOS and PROJ are spoken to here and nowhere else. Nothing here contacts a network: PROJ's network is off, and
 * GDAL sees only copies in memory of files that were read here first, through its readers for five formats and no more. */
#ifndef SPINNEY_GEO_H
#define SPINNEY_GEO_H
#include "geo/shape.h"

/* ---- many points against one shape ------------------------------------------------------------------------------- */

/// An index of a shape for many questions. Once made it is only read, so several threads may ask at once.
struct shape_finder;
/// Copies what it needs of `shape`, which need not live on. Fails with OUTCOME_DATA on a shape without points.
/// On the heap: free with shape_finder_free, which takes NULL.
enum outcome shape_finder_new(const struct shape *shape, struct shape_finder **out, struct failure *why);
void shape_finder_free(struct shape_finder *finder);
/// The same answer as shape_contains: inside or on the outline. Always false for points and lines.
bool shape_finder_contains(const struct shape_finder *finder, double x_m, double y_m);
/// Metres to the nearest point of the shape; 0 inside a polygon.
double shape_finder_distance(const struct shape_finder *finder, double x_m, double y_m);
/// Metres to the nearest point of the outline (or of the lines, or the nearest of the points), inside or out.
double shape_finder_outline_distance(const struct shape_finder *finder, double x_m, double y_m);

/* ---- shapes, further ---------------------------------------------------------------------------------------------- */

/// Centre of area of polygons, of length of lines, of the points. NaN for an empty shape.
void shape_centre(const struct shape *shape, double *x_m, double *y_m);
/// Whether the shape is valid (OGC simple features). If not, `words` gets the reason and the place, in at most `n` bytes.
bool shape_valid(const struct shape *shape, char *words, size_t n);
/// A copy that lives in `arena`.
struct shape shape_copy(const struct shape *shape, struct arena *arena);
/// One point, or several, x and y by turns.
struct shape shape_points(struct arena *arena, const double *xy, size_t n);
/// Points of all rings and runs together.
size_t shape_count(const struct shape *shape);
/// Pieces of `shape` narrower than twice `half_width_m` taken off (worn down and grown again, never beyond the shape).
enum outcome shape_without_necks(const struct shape *shape, double half_width_m, struct arena *arena, struct shape *out,
                                 struct failure *why);

/// Radius of the widest circle that fits in a polygon, to 1 cm; NaN for anything else.
double shape_widest_circle_m(const struct shape *shape);

/// A polygon cut by parallel strips into pieces of equal area.
struct split {
    size_t n;             ///< pieces
    struct shape *pieces; ///< pieces[n], from left to right looking along the bearing
    double piece_m2;      ///< area of each; they agree to 1 part in 1,000,000
    double strip_m2;      ///< area of the strips between them
    double bearing_deg;   ///< bearing the strips run along, 0 to 180, clockwise from grid north
};
/// Two halves of equal area with a strip of `buffer_m` (0 to 200) between them that runs along `bearing_deg`. With NaN the
/// bearing is chosen, to the degree, that keeps each half in the fewest parts and then loses least ground to the strip
/// (with no strip: has the shortest cut). Found by bisection on the exact cumulative area. Fails with OUTCOME_DATA when
/// nothing would be left, or the shape is not a polygon.
enum outcome shape_split_halves(const struct shape *shape, double bearing_deg, double buffer_m, struct arena *arena, struct split *out,
                                struct failure *why);
/// The same for 2 to 26 pieces.
enum outcome shape_split_pieces(const struct shape *shape, size_t n, double bearing_deg, double buffer_m, struct arena *arena,
                                struct split *out, struct failure *why);

/* ---- reference systems -------------------------------------------------------------------------------------------- */

/// What a reference system is, from PROJ's register.
struct crs_info {
    const char *code;                ///< such as EPSG:27700; NULL if it has none
    const char *name;                ///< its name
    const char *unit;                ///< unit of its axes: metre, degree, US survey foot …
    bool projected;                  ///< a plane grid, not degrees
    bool metric;                     ///< projected, in metres
    double west, south, east, north; ///< area of use in degrees; NaN unknown. west > east: over the antimeridian
    const char *area;                ///< area of use in words; NULL unknown
    const char *wkt;                 ///< WKT, ISO 19162:2019
};
/// `crs` as PROJ takes it: "EPSG:32630", "27700" (digits alone are an EPSG code), WKT, a PROJ string. Texts live in the arena.
enum outcome crs_describe(const char *crs, struct arena *arena, struct crs_info *out, struct failure *why);
/// A projected reference system in metres for a place: its UTM zone on WGS 84 (with the exceptions for south-west Norway and
/// Svalbard), or the polar stereographic grid beyond 84° N and 80° S. Degrees. Fails where the place is not on the globe.
enum outcome crs_choose(double longitude_deg, double latitude_deg, int *epsg, struct failure *why);

/// A way from one reference system to another. Points are always easting before northing, longitude before latitude.
struct crs_way;
/// On the heap: free with crs_way_free, which takes NULL. Not for several threads at once.
enum outcome crs_way_new(const char *from, const char *to, struct crs_way **out, struct failure *why);
void crs_way_free(struct crs_way *way);
/// In place; all or nothing: on failure `xy` is as it was. Fails with OUTCOME_DATA where a point has no image.
enum outcome crs_way_points(const struct crs_way *way, double *xy, size_t n, struct failure *why);
enum outcome crs_way_shape(const struct crs_way *way, const struct shape *shape, struct arena *arena, struct shape *out,
                           struct failure *why);
/// Stated accuracy of the way in metres for a place in its source system; NaN unknown. `words` gets its name.
double crs_way_accuracy_m(const struct crs_way *way, double x, double y, char *words, size_t n);

/* ---- reading map data --------------------------------------------------------------------------------------------- */

/* Limits on what is read, against files made to do harm. Beyond them the file is refused with a sentence. */
enum {
    MAP_MOST_BYTES = 128 << 20,    ///< of a file, and of all that a zip holds when unpacked
    MAP_MOST_ZIP_ENTRIES = 200,    ///< files in a zip
    MAP_MOST_ZIP_RATIO = 200,      ///< unpacked bytes for each packed byte of an entry over 1 MiB
    MAP_MOST_DEPTH = 40,           ///< brackets or elements inside each other
    MAP_MOST_FEATURES = 100000,    ///< in a file
    MAP_MOST_POINTS = 1000000,     ///< in a feature
    MAP_MOST_ALL_POINTS = 5000000, ///< in a file
    MAP_MOST_FIELDS = 500,         ///< attributes of a feature
    MAP_MOST_WKT = 16 << 20,       ///< bytes of pasted text
};

enum map_use { MAP_ANY, MAP_BOUNDARY }; ///< any geometry, or polygons only (a closed line is taken as an outline)

/// What is wanted of a map file. `{0}` is: everything, into a reference system chosen from the first feature.
struct map_wish {
    const char *to_crs;       ///< the programme's reference system; NULL: crs_choose of the first feature with a place
    const char *from_crs;     ///< stands in where the file names none; beats the file only where the file's is a default
    const char *layer;        ///< this layer alone; NULL: all
    enum map_use use;         ///< what the shapes are for
    bool swap;                ///< latitude and longitude are the wrong way round in this file
    const struct shape *near; ///< the site, in to_crs; features farther from it than near_most_m are refused. NULL: no check
    double near_most_m;       ///< 0: 20,000 m
    double area_least_m2;     ///< of a boundary; 0: 1 m²
    double area_most_m2;      ///< of a boundary; 0: 10 km²
    double sliver_m2;         ///< parts and holes under this are left out, counted; 0: 0.1 m²
    double scrap_pct;         ///< after mending a crossing: parts under this share are left out, with a word; 0: 5 %
    struct progress progress;
};

/// One feature as it came, mended or refused.
struct map_feature {
    const char *layer;   ///< layer of the file
    long number;         ///< from 1 in its layer, in the order of the file
    const char **keys;   ///< names of its attributes
    const char **values; ///< the same as text; NULL unknown
    size_t n_values;
    bool refused;           ///< shape is empty and `refusal` says why
    struct failure refusal; ///< reason and remedy
    struct shape shape;     ///< in the programme's reference system, valid
    const char **said;      ///< what was mended or is worth a look, a sentence each
    size_t n_said;
};

/// What a file held.
struct map_data {
    const char *format;   ///< GeoJSON, GeoPackage, ESRI Shapefile, KML, WKT
    const char *from_crs; ///< name of the reference system it was read in
    const char *to_crs;   ///< code of the one it is now in
    struct map_feature *features;
    size_t n, n_refused;
    const char **said; ///< about the file as a whole
    size_t n_said;
};

/// Read GeoJSON, GeoPackage, Shapefile (with its siblings, or zipped), KML or KMZ. Fails as a whole where the file cannot be
/// read, names no reference system and wish->from_crs is NULL, or goes over a limit; single features are refused one by one.
/// Everything lives in the arena.
enum outcome map_read_path(const char *path, const struct map_wish *wish, struct arena *arena, struct map_data *out, struct failure *why);
/// The same from bytes; `name` tells the format by its ending where the bytes do not.
enum outcome map_read_bytes(const char *name, struct bytes bytes, const struct map_wish *wish, struct arena *arena, struct map_data *out,
                            struct failure *why);
/// Pasted WKT, one geometry (EWKT's leading "SRID=…;" is understood). Without one, or wish->from_crs, it is asked for.
enum outcome map_read_wkt(const char *wkt, const struct map_wish *wish, struct arena *arena, struct map_data *out, struct failure *why);

/* ---- writing ------------------------------------------------------------------------------------------------------ */

/// A feature to write. Values that read as numbers are written as such.
struct map_out {
    const char *id;            ///< NULL: none
    const struct shape *shape; ///< in `crs`
    const char *const *keys;
    const char *const *values; ///< NULL: null
    size_t n_values;
};
/// GeoJSON (RFC 7946) of features in `crs`: WGS 84, longitude first, 8 decimals (about 1 mm), outer rings anticlockwise.
enum outcome map_write_geojson(const char *crs, const struct map_out *features, size_t n, struct text *out, struct failure *why);
/// WKT of a shape, in its own coordinates.
void shape_wkt(const struct shape *shape, struct text *out);
/// WKT as shape_wkt writes it, back to the same shape, to the last bit. Nothing is mended: fails with OUTCOME_DATA on what is no
/// WKT, is not valid, or has a third coordinate. For text that people paste there is map_read_wkt.
enum outcome shape_from_wkt(const char *wkt, struct arena *arena, struct shape *out, struct failure *why);
#endif
