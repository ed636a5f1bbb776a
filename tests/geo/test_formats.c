/* SPDX-License-Identifier: GPL-3.0-or-later
 * The five formats as GDAL's own tool writes them (skipped where it is not installed), and zips made to do harm. */
#include "geo/geo.h"
#include "../testlib.h"
#include <zip.h>

static struct arena arena;
static struct failure why;
static struct map_data data;
static char folder[] = "/tmp/spinney-formats-XXXXXX";
static bool tool;

static const char *source =
    "{\"type\":\"FeatureCollection\",\"features\":["
    "{\"type\":\"Feature\",\"properties\":{\"name\":\"D\\u00f6rfchen\",\"n\":2,\"x\":0.5},\"geometry\":{\"type\":\"Polygon\","
    "\"coordinates\":"
    "[[[-2.3,53.4],[-2.299,53.4],[-2.299,53.401],[-2.3,53.401],[-2.3,53.4]]]}},"
    "{\"type\":\"Feature\",\"properties\":{\"name\":\"b\",\"n\":null,\"x\":1e-9},\"geometry\":{\"type\":\"MultiPolygon\",\"coordinates\":"
    "[[[[-2.31,53.4],[-2.309,53.4],[-2.309,53.401],[-2.31,53.4]]],[[[-2.32,53.4],[-2.319,53.4],[-2.319,53.401],[-2.32,53.4]]]]}}]}";

static const char *at(const char *name)
{
    return arena_print(&arena, "%s/%s", folder, name);
}

static bool run(const char *command)
{
    return system(arena_print(&arena, "cd %s && %s >/dev/null 2>&1", folder, command)) == 0;
}

static enum outcome read_file(const char *name, const char *from)
{
    memset(&why, 0, sizeof why);
    return map_read_path(at(name), &(struct map_wish){.to_crs = "EPSG:27700", .from_crs = from, .use = MAP_BOUNDARY}, &arena, &data, &why);
}

static int setup(void **state)
{
    (void)state;
    if (mkdtemp(folder) == NULL)
        return 1;
    if (file_write(at("a.geojson"), source, strlen(source), &why) != OUTCOME_OK)
        return 1;
    tool = run("ogr2ogr --version");
    return 0;
}

static int teardown(void **state)
{
    (void)state;
    int left = system(arena_print(&arena, "rm -rf %s", folder));
    arena_clear(&arena);
    return left;
}

static void is_the_source(const char *format, double tolerance)
{
    assert_string_equal(data.format, format);
    assert_int_equal(data.n, 2);
    assert_int_equal(data.n_refused, 0);
    assert_near(shape_area_m2(&data.features[0].shape), 7393, 60);
    static double first;
    if (strcmp(format, "GeoJSON") == 0)
        first = shape_area_m2(&data.features[0].shape);
    assert_near(shape_area_m2(&data.features[0].shape), first, tolerance);
    assert_int_equal(data.features[1].shape.n_parts, 2);
}

static void each_format_gives_the_same_shapes(void **state)
{
    (void)state;
    assert_int_equal(read_file("a.geojson", NULL), OUTCOME_OK);
    is_the_source("GeoJSON", 0);
    assert_string_equal(data.features[0].values[0], "Dörfchen");
    assert_null(data.features[1].values[1]);
    if (!tool)
        skip();
    assert_true(run(
        "ogr2ogr -f GPKG a.gpkg a.geojson -nlt MULTIPOLYGON && ogr2ogr -f GPKG grid.gpkg a.geojson -t_srs EPSG:27700 -nlt MULTIPOLYGON"));
    assert_int_equal(read_file("a.gpkg", NULL), OUTCOME_OK);
    is_the_source("GeoPackage", 1e-4);
    assert_string_equal(data.features[0].values[0], "Dörfchen");
    assert_int_equal(read_file("grid.gpkg", NULL), OUTCOME_OK);
    is_the_source("GeoPackage", 1e-2);
    assert_true(run("mkdir -p s && ogr2ogr -f 'ESRI Shapefile' s/a.shp a.geojson -lco ENCODING=UTF-8"));
    assert_int_equal(read_file("s/a.shp", NULL), OUTCOME_OK);
    is_the_source("ESRI Shapefile", 1e-4);
    assert_string_equal(data.features[0].values[0], "Dörfchen");
    assert_true(run("ogr2ogr -f KML a.kml a.geojson"));
    assert_int_equal(read_file("a.kml", NULL), OUTCOME_OK);
    is_the_source("KML", 1e-4);
    assert_true(run("ogr2ogr -f 'ESRI Shapefile' s/latin.shp a.geojson -lco ENCODING=ISO-8859-1"));
    assert_int_equal(read_file("s/latin.shp", NULL), OUTCOME_OK);
    assert_string_equal(data.features[0].values[0], "Dörfchen");
}

static void a_shapefile_without_its_reference_system_asks_for_it(void **state)
{
    (void)state;
    if (!tool)
        skip();
    assert_true(run("mkdir -p p && ogr2ogr -f 'ESRI Shapefile' p/a.shp a.geojson -t_srs EPSG:27700 && rm p/a.prj"));
    assert_int_equal(read_file("p/a.shp", NULL), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, ".prj"));
    assert_non_null(strstr(why.remedy, "--crs"));
    assert_int_equal(read_file("p/a.shp", "EPSG:27700"), OUTCOME_OK);
    is_the_source("ESRI Shapefile", 1e-2);
    assert_true(run("rm p/a.shx")); /* its index can be made again */
    assert_int_equal(read_file("p/a.shp", "EPSG:27700"), OUTCOME_OK);
    assert_true(run("rm p/a.dbf"));
    assert_int_equal(read_file("p/a.shp", "EPSG:27700"), OUTCOME_OK);
    assert_int_equal(data.n, 2);
}

/* A zip of files in memory. */
static struct bytes zip_make(const char *const *names, const void *const *contents, const size_t *sizes, size_t n)
{
    zip_error_t error;
    zip_source_t *buffer = zip_source_buffer_create(NULL, 0, 0, &error);
    zip_source_keep(buffer);
    zip_t *zip = zip_open_from_source(buffer, ZIP_TRUNCATE, &error);
    for (size_t i = 0; i < n; i++)
        zip_file_add(zip, names[i], zip_source_buffer(zip, contents[i], sizes[i], 0), ZIP_FL_OVERWRITE);
    zip_close(zip);
    zip_source_open(buffer);
    zip_source_seek(buffer, 0, SEEK_END);
    size_t size = (size_t)zip_source_tell(buffer);
    unsigned char *bytes = arena_alloc(&arena, size);
    zip_source_seek(buffer, 0, SEEK_SET);
    zip_source_read(buffer, bytes, size);
    zip_source_close(buffer);
    zip_source_free(buffer);
    return (struct bytes){bytes, size};
}

static void zipped_files_are_read(void **state)
{
    (void)state;
    const char *names[] = {"some folder/Map 1.GeoJSON"};
    const void *contents[] = {source};
    size_t sizes[] = {strlen(source)};
    struct bytes zip = zip_make(names, contents, sizes, 1);
    assert_int_equal(map_read_bytes("a.zip", zip, &(struct map_wish){.to_crs = "EPSG:27700"}, &arena, &data, &why), OUTCOME_OK);
    assert_int_equal(data.n, 2);
    if (!tool)
        skip();
    assert_true(run("mkdir -p z/in && ogr2ogr -f 'ESRI Shapefile' z/in/a.shp a.geojson && ogr2ogr -f KML z/doc.kml a.geojson"));
    static const char *const endings[] = {"in/a.shp", "in/a.shx", "in/a.dbf", "in/a.prj"};
    const void *four[4];
    size_t four_sizes[4];
    for (size_t i = 0; i < 4; i++) {
        char *bytes;
        assert_int_equal(file_read(at(arena_print(&arena, "z/%s", endings[i])), 0, &arena, &bytes, &four_sizes[i], &why), OUTCOME_OK);
        four[i] = bytes;
    }
    zip = zip_make(endings, four, four_sizes, 4);
    assert_int_equal(map_read_bytes("a.zip", zip, &(struct map_wish){.to_crs = "EPSG:27700"}, &arena, &data, &why), OUTCOME_OK);
    is_the_source("ESRI Shapefile", 1e-4);
    char *kml;
    assert_int_equal(file_read(at("z/doc.kml"), 0, &arena, &kml, &sizes[0], &why), OUTCOME_OK);
    names[0] = "doc.kml";
    contents[0] = kml;
    zip = zip_make(names, contents, sizes, 1);
    assert_int_equal(map_read_bytes("a.kmz", zip, &(struct map_wish){.to_crs = "EPSG:27700"}, &arena, &data, &why), OUTCOME_OK);
    is_the_source("KML", 1e-4);
}

static void zips_made_to_do_harm_are_refused(void **state)
{
    (void)state;
    size_t big = 40u << 20;
    char *zeros = memory_get(big, 1);
    memset(zeros, ' ', big);
    zeros[0] = '{';
    const char *names[] = {"a.geojson"};
    const void *contents[] = {zeros};
    struct bytes bomb = zip_make(names, contents, &big, 1);
    assert_true(bomb.n < 200000);
    assert_int_equal(map_read_bytes("a.zip", bomb, &(struct map_wish){0}, &arena, &data, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "times over"));
    free(zeros);
    enum { MANY = MAP_MOST_ZIP_ENTRIES + 1 };
    const char *many[MANY];
    const void *same[MANY];
    size_t sizes[MANY];
    for (size_t i = 0; i < MANY; i++) {
        many[i] = arena_print(&arena, "%zu.geojson", i);
        same[i] = source;
        sizes[i] = strlen(source);
    }
    struct bytes crowd = zip_make(many, same, sizes, MANY);
    assert_int_equal(map_read_bytes("a.zip", crowd, &(struct map_wish){0}, &arena, &data, &why), OUTCOME_DATA);
    const char *inner_names[] = {"b.geojson"};
    const void *inner[] = {bomb.at};
    struct bytes nested = zip_make(inner_names, inner, &bomb.n, 1);
    assert_int_equal(map_read_bytes("a.zip", nested, &(struct map_wish){0}, &arena, &data, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "zip inside a zip"));
    const char *escape[] = {"../../../tmp/escape.geojson"};
    const void *plain[] = {source};
    size_t size = strlen(source);
    struct bytes out = zip_make(escape, plain, &size, 1);
    assert_int_equal(map_read_bytes("a.zip", out, &(struct map_wish){.to_crs = "EPSG:27700"}, &arena, &data, &why), OUTCOME_OK);
    assert_int_not_equal(access("/tmp/escape.geojson", F_OK), 0);
}

static void a_geopackage_with_stored_queries_or_damage_is_refused(void **state)
{
    (void)state;
    if (!tool || !run("python3 -c 'import sqlite3'"))
        skip();
    assert_true(run(
        "ogr2ogr -f GPKG v.gpkg a.geojson -nlt MULTIPOLYGON && python3 -c \"import sqlite3; c=sqlite3.connect('v.gpkg'); "
        "c.execute('create view endless as with recursive t(n) as (select 1 union all select n+1 from t) select n from t'); c.commit()\""));
    assert_int_equal(read_file("v.gpkg", NULL), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "views"));
    assert_true(run("ogr2ogr -f GPKG d.gpkg a.geojson -nlt MULTIPOLYGON"));
    char *bytes;
    size_t n;
    assert_int_equal(file_read(at("d.gpkg"), 0, &arena, &bytes, &n, &why), OUTCOME_OK);
    struct random_stream r = random_make(5, 0);
    for (int round = 0; round < 60; round++) {
        struct arena small = {0};
        unsigned char *hurt = arena_alloc(&small, n);
        memcpy(hurt, bytes, n);
        for (int i = 0; i < 200; i++)
            hurt[100 + random_below(&r, n - 100)] = (unsigned char)random_below(&r, 256);
        memset(&why, 0, sizeof why);
        enum outcome outcome = map_read_bytes("d.gpkg", (struct bytes){hurt, round % 3 == 0 ? n / 2 : n},
                                              &(struct map_wish){.to_crs = "EPSG:27700"}, &small, &data, &why);
        assert_true(outcome == OUTCOME_OK || why.sentence[0] != '\0');
        arena_clear(&small);
    }
}

static void layers_can_be_chosen_by_name(void **state)
{
    (void)state;
    if (!tool)
        skip();
    assert_true(run("ogr2ogr -f GPKG l.gpkg a.geojson -nln first -nlt MULTIPOLYGON && ogr2ogr -f GPKG -update l.gpkg a.geojson -nln second "
                    "-nlt MULTIPOLYGON"));
    assert_int_equal(map_read_path(at("l.gpkg"), &(struct map_wish){.to_crs = "EPSG:27700", .layer = "second"}, &arena, &data, &why),
                     OUTCOME_OK);
    assert_int_equal(data.n, 2);
    assert_string_equal(data.features[0].layer, "second");
    assert_int_equal(map_read_path(at("l.gpkg"), &(struct map_wish){.to_crs = "EPSG:27700", .layer = "third"}, &arena, &data, &why),
                     OUTCOME_DATA);
    assert_non_null(strstr(why.remedy, "first, second"));
    assert_int_equal(map_read_path(at("l.gpkg"), &(struct map_wish){.to_crs = "EPSG:27700"}, &arena, &data, &why), OUTCOME_OK);
    assert_int_equal(data.n, 4);
    assert_int_equal(data.n_refused, 2); /* the second layer repeats the first */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_format_gives_the_same_shapes),
        cmocka_unit_test(a_shapefile_without_its_reference_system_asks_for_it),
        cmocka_unit_test(zipped_files_are_read),
        cmocka_unit_test(zips_made_to_do_harm_are_refused),
        cmocka_unit_test(a_geopackage_with_stored_queries_or_damage_is_refused),
        cmocka_unit_test(layers_can_be_chosen_by_name),
    };
    return cmocka_run_group_tests(tests, setup, teardown);
}
