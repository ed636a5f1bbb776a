/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of geo/: reference systems, areas and lengths of a pasted shape, splitting. */
#include "calc/calc_rooms.h"
#include "geo/geo.h"
#include <math.h>
#include <string.h>

#define COUNT(list) (sizeof(list) / sizeof *(list))

static enum outcome describe_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct crs_info info;
    enum outcome outcome = crs_describe(calc_word(in, "crs", NULL), &arena, &info, why);
    if (outcome == OUTCOME_OK) {
        calc_put_word(result, "code", info.code == NULL ? "none" : info.code);
        calc_put_word(result, "name", info.name);
        calc_put_word(result, "unit", info.unit);
        calc_put_word(result, "kind", info.metric ? "plane grid in metres" : info.projected ? "plane grid" : "longitude and latitude");
        calc_put(result, "west", info.west);
        calc_put(result, "south", info.south);
        calc_put(result, "east", info.east);
        calc_put(result, "north", info.north);
        calc_put_word(result, "wkt", info.wkt);
    }
    arena_clear(&arena);
    return outcome;
}

static enum outcome choose_run(const json_t *in, json_t *result, struct failure *why)
{
    int epsg = 0;
    enum outcome outcome = crs_choose(calc_number(in, "longitude", NAN), calc_number(in, "latitude", NAN), &epsg, why);
    if (outcome == OUTCOME_OK)
        calc_put(result, "epsg", epsg);
    return outcome;
}

static enum outcome transform_run(const json_t *in, json_t *result, struct failure *why)
{
    struct crs_way *way = NULL;
    char words[300];
    double x = calc_number(in, "x", NAN), y = calc_number(in, "y", NAN), xy[2] = {x, y};
    enum outcome outcome = crs_way_new(calc_word(in, "from", NULL), calc_word(in, "to", NULL), &way, why);
    if (outcome == OUTCOME_OK)
        outcome = crs_way_points(way, xy, 1, why);
    if (outcome == OUTCOME_OK) {
        double accuracy = crs_way_accuracy_m(way, x, y, words, sizeof words);
        calc_put(result, "x", xy[0]);
        calc_put(result, "y", xy[1]);
        calc_put(result, "accuracy", accuracy);
        calc_say(result, "%s", words);
    }
    crs_way_free(way);
    return outcome;
}

/* The shape of the input "wkt", in "to" (default: a grid chosen from the place). */
static enum outcome shape_in(const json_t *in, struct arena *arena, json_t *result, struct shape *out, struct failure *why)
{
    struct map_data data;
    struct map_wish wish = {.to_crs = calc_word(in, "to", NULL), .from_crs = calc_word(in, "crs", NULL)};
    enum outcome outcome = map_read_wkt(calc_word(in, "wkt", ""), &wish, arena, &data, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    const struct map_feature *feature = &data.features[0];
    if (feature->refused) {
        if (why != NULL)
            *why = feature->refusal;
        return feature->refusal.kind;
    }
    for (size_t i = 0; i < data.n_said; i++)
        calc_say(result, "%s", data.said[i]);
    for (size_t i = 0; i < feature->n_said; i++)
        calc_say(result, "%s", feature->said[i]);
    *out = feature->shape;
    return OUTCOME_OK;
}

static enum outcome measure_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct shape shape;
    enum outcome outcome = shape_in(in, &arena, result, &shape, why);
    if (outcome == OUTCOME_OK) {
        size_t holes = 0;
        double x, y;
        for (size_t i = 0; shape.kind == SHAPE_POLYGONS && i < shape.n_parts; i++)
            holes += shape.parts[i].n_rings - 1;
        shape_centre(&shape, &x, &y);
        calc_put(result, "area", shape_area_m2(&shape));
        calc_put(result, "length", shape_length_m(&shape));
        calc_put(result, "parts", (double)shape.n_parts);
        calc_put(result, "holes", (double)holes);
        calc_put(result, "points", (double)shape_count(&shape));
        calc_put(result, "centre_x", x);
        calc_put(result, "centre_y", y);
        calc_put(result, "widest_circle", shape_widest_circle_m(&shape));
    }
    arena_clear(&arena);
    return outcome;
}

static enum outcome buffer_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct shape shape, wider;
    enum outcome outcome = shape_in(in, &arena, result, &shape, why);
    if (outcome == OUTCOME_OK)
        outcome = shape_buffer(&shape, calc_number(in, "distance", NAN), &arena, &wider, why);
    if (outcome == OUTCOME_OK) {
        calc_put(result, "area", shape_area_m2(&wider));
        calc_put(result, "length", shape_length_m(&wider));
    }
    arena_clear(&arena);
    return outcome;
}

static enum outcome split_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct shape shape;
    struct split split;
    double pieces = calc_number(in, "pieces", 2);
    if (!(pieces >= 2 && pieces <= 26 && pieces == floor(pieces)))
        return fail(why, OUTCOME_USAGE, "A plot is split into 2 to 26 pieces, not %g.", pieces);
    enum outcome outcome = shape_in(in, &arena, result, &shape, why);
    if (outcome == OUTCOME_OK)
        outcome =
            shape_split_pieces(&shape, (size_t)pieces, calc_number(in, "bearing", NAN), calc_number(in, "gap", 0), &arena, &split, why);
    if (outcome == OUTCOME_OK) {
        double *areas = arena_array(&arena, split.n, sizeof *areas);
        for (size_t i = 0; i < split.n; i++) {
            struct text wkt = {0};
            areas[i] = shape_area_m2(&split.pieces[i]);
            shape_wkt(&split.pieces[i], &wkt);
            calc_say(result, "piece %zu: %s", i + 1, text_get(&wkt));
            text_free(&wkt);
        }
        calc_put_all(result, "areas", areas, split.n);
        calc_put(result, "strip", split.strip_m2);
        calc_put(result, "bearing", split.bearing_deg);
    }
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value describe_in[] = {{"crs", "", CALC_WORD, true, "EPSG:27700, 27700, WKT or a PROJ string"}};
static const struct calc_value describe_out[] = {
    {"code", "", CALC_WORD, false, "code, or none"},
    {"name", "", CALC_WORD, false, "name"},
    {"unit", "", CALC_WORD, false, "unit of its axes"},
    {"kind", "", CALC_WORD, false, "plane grid in metres, plane grid, or longitude and latitude"},
    {"west", "deg", CALC_NUMBER, false, "area of use"},
    {"south", "deg", CALC_NUMBER, false, "area of use"},
    {"east", "deg", CALC_NUMBER, false, "area of use"},
    {"north", "deg", CALC_NUMBER, false, "area of use"},
    {"wkt", "", CALC_WORD, false, "WKT, ISO 19162:2019"},
};
static const struct calc_value choose_in[] = {{"longitude", "deg", CALC_NUMBER, true, "−180 to 180"},
                                              {"latitude", "deg", CALC_NUMBER, true, "−90 to 90"}};
static const struct calc_value choose_out[] = {{"epsg", "", CALC_NUMBER, false, "code of the grid"}};
static const struct calc_value transform_in[] = {{"from", "", CALC_WORD, true, "reference system of the point"},
                                                 {"to", "", CALC_WORD, true, "the other reference system"},
                                                 {"x", "", CALC_NUMBER, true, "easting or longitude"},
                                                 {"y", "", CALC_NUMBER, true, "northing or latitude"}};
static const struct calc_value transform_out[] = {
    {"x", "", CALC_NUMBER, false, "easting or longitude"},
    {"y", "", CALC_NUMBER, false, "northing or latitude"},
    {"accuracy", "m", CALC_NUMBER, false, "stated accuracy of the way; unknown if not stated"}};
#define SHAPE_IN                                                                                                                           \
    {"wkt", "", CALC_WORD, true, "the shape as well-known text, x first"},                                                                 \
        {"crs", "", CALC_WORD, false, "its reference system; may stand in the text as SRID=…;"},                                           \
    {                                                                                                                                      \
        "to", "", CALC_WORD, false, "grid to measure in; default: chosen from the place"                                                   \
    }
static const struct calc_value measure_in[] = {SHAPE_IN};
static const struct calc_value measure_out[] = {{"area", "m2", CALC_NUMBER, false, "area, holes taken off, in the plane of the grid"},
                                                {"length", "m", CALC_NUMBER, false, "length of lines, or of all rings"},
                                                {"parts", "", CALC_NUMBER, false, "parts"},
                                                {"holes", "", CALC_NUMBER, false, "holes"},
                                                {"points", "", CALC_NUMBER, false, "points"},
                                                {"centre_x", "m", CALC_NUMBER, false, "centre"},
                                                {"centre_y", "m", CALC_NUMBER, false, "centre"},
                                                {"widest_circle", "m", CALC_NUMBER, false, "radius of the widest circle that fits"}};
static const struct calc_value buffer_in[] = {SHAPE_IN, {"distance", "m", CALC_NUMBER, true, "stand-off; below 0 inwards"}};
static const struct calc_value buffer_out[] = {{"area", "m2", CALC_NUMBER, false, "area of the zone, the shape with it"},
                                               {"length", "m", CALC_NUMBER, false, "its outline"}};
static const struct calc_value split_in[] = {SHAPE_IN,
                                             {"gap", "m", CALC_NUMBER, false, "width of the strips between pieces, default 0"},
                                             {"bearing", "deg", CALC_NUMBER, false, "bearing of the strips; default: the best"},
                                             {"pieces", "", CALC_NUMBER, false, "2 (default) to 26"}};
static const struct calc_value split_out[] = {{"areas", "m2", CALC_NUMBERS, false, "area of each piece"},
                                              {"strip", "m2", CALC_NUMBER, false, "area of the strips"},
                                              {"bearing", "deg", CALC_NUMBER, false, "bearing of the strips"}};

const struct calc calc_geo[] = {
    {"crs_describe", "What a reference system is", "EPSG Geodetic Parameter Dataset, through PROJ", describe_in, COUNT(describe_in),
     describe_out, COUNT(describe_out), describe_run},
    {"crs_choose", "A grid in metres for a place",
     "UTM zones of 6 degrees with the exceptions for south-west Norway and Svalbard (NGA.STND.0037, from memory)", choose_in,
     COUNT(choose_in), choose_out, COUNT(choose_out), choose_run},
    {"point_transform", "A point in another reference system", "PROJ", transform_in, COUNT(transform_in), transform_out,
     COUNT(transform_out), transform_run},
    {"shape_measure", "Area and length of a shape", "Shoelace formula; Pythagoras; in the plane of the grid", measure_in, COUNT(measure_in),
     measure_out, COUNT(measure_out), measure_run},
    {"shape_buffer", "Area within a distance of a shape", "GEOS, 32 sides to a quarter circle", buffer_in, COUNT(buffer_in), buffer_out,
     COUNT(buffer_out), buffer_run},
    {"shape_split", "Pieces of equal area with strips between", "Bisection on the exact cumulative area across the strips", split_in,
     COUNT(split_in), split_out, COUNT(split_out), split_run},
    {0},
};
