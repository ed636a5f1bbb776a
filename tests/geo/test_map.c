/* SPDX-License-Identifier: GPL-3.0-or-later
 * Reference systems, and map data in and out: what is mended with a word, and what is refused with a remedy. */
#include "geo/geo.h"
#include "../testlib.h"

static struct arena arena;
static struct failure why;
static struct map_data data;

static enum outcome read_text(const char *text, struct map_wish wish)
{
    memset(&why, 0, sizeof why);
    return map_read_bytes("test.geojson", (struct bytes){(const unsigned char *)text, strlen(text)}, &wish, &arena, &data, &why);
}

static enum outcome read_wkt(const char *text, const char *from, enum map_use use)
{
    memset(&why, 0, sizeof why);
    return map_read_wkt(text, &(struct map_wish){.to_crs = "EPSG:27700", .from_crs = from, .use = use}, &arena, &data, &why);
}

static bool said(const struct map_feature *f, const char *words)
{
    for (size_t i = 0; i < f->n_said; i++)
        if (strstr(f->said[i], words) != NULL)
            return true;
    fprintf(stderr, "not said: %s (refused %d: %s)\n", words, f->refused, f->refusal.sentence);
    for (size_t i = 0; i < f->n_said; i++)
        fprintf(stderr, "  said: %s\n", f->said[i]);
    return false;
}

static bool refused(const char *words)
{
    const struct map_feature *f = &data.features[0];
    if (f->refused && strstr(f->refusal.sentence, words) != NULL && f->refusal.remedy[0] != '\0')
        return true;
    fprintf(stderr, "wanted: %s; refused %d: %s / %s\n", words, f->refused, f->refusal.sentence, f->refusal.remedy);
    return false;
}

static void a_system_is_described_with_unit_and_area(void **state)
{
    (void)state;
    struct crs_info info;
    assert_int_equal(crs_describe("27700", &arena, &info, &why), OUTCOME_OK);
    assert_string_equal(info.code, "EPSG:27700");
    assert_string_equal(info.unit, "metre");
    assert_true(info.metric);
    assert_true(info.west < -7 && info.east > 1);
    assert_int_equal(crs_describe("EPSG:4326", &arena, &info, &why), OUTCOME_OK);
    assert_false(info.projected);
    assert_int_equal(crs_describe("EPSG:2263", &arena, &info, &why), OUTCOME_OK);
    assert_true(info.projected);
    assert_false(info.metric); /* US survey feet */
    assert_int_equal(crs_describe("EPSG:999999", &arena, &info, &why), OUTCOME_DATA);
    assert_int_equal(crs_describe("my field", &arena, &info, &why), OUTCOME_DATA);
}

static void the_zone_of_a_place_follows_the_grid_and_its_exceptions(void **state)
{
    (void)state;
    /* Zones and exceptions: NGA.STND.0037 (MGRS), from memory. */
    const struct {
        double lon, lat;
        int epsg;
    } cases[] = {{-2.3, 53.4, 32630}, {5.1, 52.1, 32631}, {4, 60, 32632},        {2.9, 60, 32631}, {10, 78, 32633}, {35, 78, 32637},
                 {179.9, 1, 32660},   {-180, 1, 32601},   {151.2, -33.9, 32756}, {0, 85, 32661},   {0, -81, 32761}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        int epsg = 0;
        assert_int_equal(crs_choose(cases[i].lon, cases[i].lat, &epsg, &why), OUTCOME_OK);
        assert_int_equal(epsg, cases[i].epsg);
    }
    int epsg;
    assert_int_equal(crs_choose(200, 0, &epsg, &why), OUTCOME_DATA);
    assert_int_equal(crs_choose(NAN, 0, &epsg, &why), OUTCOME_DATA);
}

static void longitude_comes_first_whatever_the_register_says(void **state)
{
    (void)state;
    struct crs_way *way = NULL;
    assert_int_equal(crs_way_new("EPSG:4326", "EPSG:32631", &way, &why), OUTCOME_OK);
    double xy[2] = {3, 0};
    assert_int_equal(crs_way_points(way, xy, 1, &why), OUTCOME_OK);
    assert_near(xy[0], 500000, 1e-6); /* by the definition of the grid */
    assert_near(xy[1], 0, 1e-6);
    double bad[4] = {3, 1, 3, 91};
    assert_int_equal(crs_way_points(way, bad, 2, &why), OUTCOME_DATA);
    assert_near(bad[0], 3, 0);
    crs_way_free(way);
}

static void a_closed_polygon_comes_in_and_the_system_is_chosen(void **state)
{
    (void)state;
    assert_int_equal(
        read_text("{\"type\":\"Feature\",\"properties\":{\"name\":\"north\",\"n\":3,\"x\":1.5,\"no\":null},\"geometry\":{\"type\":"
                  "\"Polygon\",\"coordinates\":[[[-2.3,53.4],[-2.299,53.4],[-2.299,53.401],[-2.3,53.401],[-2.3,53.4]]]}}",
                  (struct map_wish){.use = MAP_BOUNDARY}),
        OUTCOME_OK);
    assert_string_equal(data.to_crs, "EPSG:32630");
    assert_int_equal(data.n, 1);
    assert_false(data.features[0].refused);
    assert_near(shape_area_m2(&data.features[0].shape), 7400, 50); /* 66.5 m by 111.3 m */
    assert_int_equal(data.features[0].n_values, 4);
    assert_string_equal(data.features[0].values[0], "north");
    assert_string_equal(data.features[0].values[1], "3");
    assert_string_equal(data.features[0].values[2], "1.5");
    assert_null(data.features[0].values[3]);
    assert_int_equal(data.features[0].n_said, 0);
}

static void swapped_degrees_are_put_right_only_where_no_other_reading_exists(void **state)
{
    (void)state;
    const char *swapped = "{\"type\":\"Polygon\",\"coordinates\":[[[-33.9,151.2],[-33.9,151.201],[-33.899,151.201],[-33.9,151.2]]]}";
    assert_int_equal(read_text(swapped, (struct map_wish){0}), OUTCOME_OK);
    assert_true(said(&data.features[0], "wrong way round"));
    assert_string_equal(data.to_crs, "EPSG:32756");
    /* Both readings exist: refused, with a hint because the other one lies at the site. */
    struct crs_way *way = NULL;
    double at[2] = {-2.3, 53.4};
    assert_int_equal(crs_way_new("EPSG:4326", "EPSG:32630", &way, &why), OUTCOME_OK);
    assert_int_equal(crs_way_points(way, at, 1, &why), OUTCOME_OK);
    crs_way_free(way);
    struct shape site = shape_rectangle(&arena, at[0], at[1], 100, 100, 0);
    const char *both = "{\"type\":\"Polygon\",\"coordinates\":[[[53.4,-2.3],[53.4,-2.299],[53.401,-2.299],[53.4,-2.3]]]}";
    assert_int_equal(read_text(both, (struct map_wish){.to_crs = "EPSG:32630", .near = &site}), OUTCOME_OK);
    assert_true(data.features[0].refused);
    assert_int_equal(read_text(both, (struct map_wish){.to_crs = "EPSG:32630", .near = &site, .swap = true}), OUTCOME_OK);
    assert_false(data.features[0].refused);
}

static void a_feature_on_another_continent_is_refused(void **state)
{
    (void)state;
    const char *far = "{\"type\":\"Polygon\",\"coordinates\":[[[151.2,-33.9],[151.201,-33.9],[151.201,-33.899],[151.2,-33.9]]]}";
    assert_int_equal(read_text(far, (struct map_wish){.to_crs = "EPSG:27700"}), OUTCOME_OK);
    assert_true(refused("outside the area"));
    struct shape site = shape_rectangle(&arena, 380000, 390000, 100, 100, 0);
    const char *off = "{\"type\":\"Polygon\",\"coordinates\":[[[0.1,51.5],[0.101,51.5],[0.101,51.501],[0.1,51.5]]]}";
    assert_int_equal(read_text(off, (struct map_wish){.to_crs = "EPSG:27700", .near = &site}), OUTCOME_OK);
    assert_true(refused("km from the site"));
}

static void grid_metres_in_geojson_ask_for_their_system(void **state)
{
    (void)state;
    const char *metres = "{\"type\":\"Polygon\",\"coordinates\":[[[380000,390000],[380100,390000],[380100,390100],[380000,390000]]]}";
    assert_int_equal(read_text(metres, (struct map_wish){.to_crs = "EPSG:27700"}), OUTCOME_OK);
    assert_true(refused("no longitude and latitude"));
    assert_int_equal(read_text(metres, (struct map_wish){.to_crs = "EPSG:27700", .from_crs = "EPSG:27700"}), OUTCOME_OK);
    assert_false(data.features[0].refused);
    assert_near(shape_area_m2(&data.features[0].shape), 5000, 1e-6);
}

static void a_bow_tie_is_split_and_said(void **state)
{
    (void)state;
    assert_int_equal(read_wkt("POLYGON((0 0, 100 100, 100 0, 0 100, 0 0))", "EPSG:27700", MAP_BOUNDARY), OUTCOME_OK);
    assert_true(said(&data.features[0], "crossed itself at 50.00, 50.00"));
    assert_near(shape_area_m2(&data.features[0].shape), 5000, 1e-6);
    assert_true(shape_valid(&data.features[0].shape, NULL, 0));
    /* A small loop at a corner is left out, with its share. */
    assert_int_equal(read_wkt("POLYGON((0 0, 100 0, 100 100, -1 1, -1 0.4, 0 0.4, 0 0))", "EPSG:27700", MAP_BOUNDARY), OUTCOME_OK);
    assert_false(data.features[0].refused);
}

static void slivers_are_dropped_and_counted(void **state)
{
    (void)state;
    assert_int_equal(read_wkt("MULTIPOLYGON(((0 0,50 0,50 50,0 50,0 0),(10 10,10.1 10,10.1 10.1,10 10)),((60 0,60.1 0,60.1 0.1,60 0)),"
                              "((70 0,70.1 0,70.1 0.1,70 0)))",
                              "EPSG:27700", MAP_BOUNDARY),
                     OUTCOME_OK);
    assert_true(said(&data.features[0], "Slivers under 0.1 m² dropped: 2"));
    assert_true(said(&data.features[0], "Holes under 0.1 m² filled: 1"));
    assert_near(shape_area_m2(&data.features[0].shape), 2500, 1e-9);
}

static void heights_curves_and_collections_are_flattened_with_a_word(void **state)
{
    (void)state;
    assert_int_equal(read_wkt("POLYGON Z((0 0 1,10 0 1,10 10 2,0 10 2,0 0 1))", "EPSG:27700", MAP_BOUNDARY), OUTCOME_OK);
    assert_true(said(&data.features[0], "Height coordinates left out"));
    assert_int_equal(read_wkt("CURVEPOLYGON(CIRCULARSTRING(0 0,10 10,20 0,10 -10,0 0))", "EPSG:27700", MAP_BOUNDARY), OUTCOME_OK);
    assert_true(said(&data.features[0], "Curves were turned"));
    assert_near(shape_area_m2(&data.features[0].shape), 314.16, 0.5);
    assert_int_equal(
        read_wkt("GEOMETRYCOLLECTION(POINT(1 1),LINESTRING(0 0,1 1),POLYGON((0 0,10 0,10 10,0 0)))", "EPSG:27700", MAP_BOUNDARY),
        OUTCOME_OK);
    assert_true(said(&data.features[0], "polygons were kept"));
    assert_near(shape_area_m2(&data.features[0].shape), 50, 1e-9);
}

static void unclosed_rings_are_closed_and_repeats_left_out(void **state)
{
    (void)state;
    assert_int_equal(read_text("{\"type\":\"Polygon\",\"coordinates\":[[[380000,390000],[380100,390000],[380100,390000],[380100,390100],"
                               "[380000,390100]]]}",
                               (struct map_wish){.to_crs = "EPSG:27700", .from_crs = "EPSG:27700"}),
                     OUTCOME_OK);
    assert_true(said(&data.features[0], "not closed"));
    assert_near(shape_area_m2(&data.features[0].shape), 10000, 1e-6);
    assert_int_equal(read_wkt("POLYGON((0 0,100 0,100 0,100 100,0 100))", "EPSG:27700", MAP_BOUNDARY), OUTCOME_OK);
    assert_true(said(&data.features[0], "repeated their neighbour"));
    assert_true(said(&data.features[0], "not closed"));
    assert_near(shape_area_m2(&data.features[0].shape), 10000, 1e-6);
    assert_int_equal(read_wkt("LINESTRING(0 0,10 0,10 10,0 0)", "EPSG:27700", MAP_BOUNDARY), OUTCOME_OK);
    assert_true(said(&data.features[0], "closed line"));
    assert_int_equal(read_wkt("LINESTRING(0 0,10 0,10 10)", "EPSG:27700", MAP_BOUNDARY), OUTCOME_OK);
    assert_true(refused("a line"));
    assert_int_equal(read_wkt("LINESTRING(0 0,10 0,10 10)", "EPSG:27700", MAP_ANY), OUTCOME_OK);
    assert_near(shape_length_m(&data.features[0].shape), 20, 1e-9);
}

static void absurd_areas_empty_and_flat_geometry_are_refused(void **state)
{
    (void)state;
    assert_int_equal(read_wkt("POLYGON((0 0,90000 0,90000 90000,0 0))", "EPSG:27700", MAP_BOUNDARY), OUTCOME_OK);
    assert_true(refused("km²"));
    assert_int_equal(read_wkt("POLYGON((0 0,0.9 0,0.9 0.9,0 0))", "EPSG:27700", MAP_BOUNDARY), OUTCOME_OK);
    assert_true(refused("less than"));
    assert_int_equal(read_wkt("POLYGON EMPTY", "EPSG:27700", MAP_BOUNDARY), OUTCOME_OK);
    assert_true(refused("no geometry"));
    assert_int_equal(read_wkt("POLYGON((0 0,10 10,20 20,0 0))", "EPSG:27700", MAP_BOUNDARY), OUTCOME_OK);
    assert_true(data.features[0].refused);
    assert_int_equal(read_wkt("POINT(1 1)", "EPSG:27700", MAP_BOUNDARY), OUTCOME_OK);
    assert_true(refused("a point"));
    assert_int_equal(read_wkt("POLYGON((0 0,nan 10,20 20,0 0))", "EPSG:27700", MAP_ANY) == OUTCOME_OK && !data.features[0].refused, false);
    assert_int_equal(read_wkt("POLYGON((0 0,1e999 10,20 20,0 0))", "EPSG:27700", MAP_ANY) == OUTCOME_OK && !data.features[0].refused,
                     false);
    assert_int_equal(read_text("{\"type\":\"Feature\",\"properties\":{},\"geometry\":null}", (struct map_wish){.to_crs = "EPSG:27700"}),
                     OUTCOME_OK);
    assert_true(refused("no geometry"));
}

static void text_without_a_system_asks_for_it(void **state)
{
    (void)state;
    assert_int_equal(read_wkt("POLYGON((0 0,10 0,10 10,0 0))", NULL, MAP_BOUNDARY), OUTCOME_DATA);
    assert_non_null(strstr(why.remedy, "--crs"));
    assert_int_equal(read_wkt("SRID=27700;POLYGON((0 0,10 0,10 10,0 0))", NULL, MAP_BOUNDARY), OUTCOME_OK);
    assert_int_equal(read_wkt("POLYGON((0 0,10 0,10 10,0 0)) and more", "EPSG:27700", MAP_BOUNDARY), OUTCOME_DATA);
    assert_int_equal(read_wkt("my garden", "EPSG:27700", MAP_BOUNDARY), OUTCOME_DATA);
    assert_true(why.remedy[0] != '\0');
}

static void repeats_are_refused_and_shared_shapes_said(void **state)
{
    (void)state;
    const char *three = "{\"type\":\"FeatureCollection\",\"features\":["
                        "{\"type\":\"Feature\",\"properties\":{\"a\":1},\"geometry\":{\"type\":\"Point\",\"coordinates\":[-2.3,53.4]}},"
                        "{\"type\":\"Feature\",\"properties\":{\"a\":1},\"geometry\":{\"type\":\"Point\",\"coordinates\":[-2.3,53.4]}},"
                        "{\"type\":\"Feature\",\"properties\":{\"a\":2},\"geometry\":{\"type\":\"Point\",\"coordinates\":[-2.3,53.4]}}]}";
    assert_int_equal(read_text(three, (struct map_wish){0}), OUTCOME_OK);
    assert_int_equal(data.n, 3);
    assert_int_equal(data.n_refused, 1);
    assert_true(data.features[1].refused);
    assert_true(said(&data.features[2], "same shape as feature 1"));
}

static void a_ring_of_a_hundred_thousand_points_comes_in_whole(void **state)
{
    (void)state;
    struct text text = {0};
    text_add(&text, "POLYGON((");
    const int n = 100000;
    for (int i = 0; i <= n; i++) {
        double turn = 2 * 3.141592653589793 * (double)(i % n) / n;
        text_print(&text, "%s%.4f %.4f", i == 0 ? "" : ",", 400000 + (900 + 60 * sin(40 * turn)) * cos(turn),
                   300000 + (900 + 60 * sin(40 * turn)) * sin(turn));
    }
    text_add(&text, "))");
    assert_int_equal(read_wkt(text_get(&text), "EPSG:27700", MAP_BOUNDARY), OUTCOME_OK);
    assert_false(data.features[0].refused);
    assert_true(shape_count(&data.features[0].shape) > 99000);
    struct split split;
    assert_int_equal(shape_split_halves(&data.features[0].shape, NAN, 5, &arena, &split, &why), OUTCOME_OK);
    assert_near(shape_area_m2(&split.pieces[0]) / shape_area_m2(&split.pieces[1]), 1, 1e-6);
    text_free(&text);
}

static void hostile_files_are_refused(void **state)
{
    (void)state;
    struct text text = {0};
    for (int i = 0; i < 5000; i++)
        text_add(&text, "{\"type\":\"GeometryCollection\",\"geometries\":[");
    assert_int_equal(read_text(text_get(&text), (struct map_wish){0}), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "brackets"));
    text_free(&text);
    for (int i = 0; i < 5000; i++)
        text_add(&text, "GEOMETRYCOLLECTION(");
    assert_int_equal(read_wkt(text_get(&text), "EPSG:27700", MAP_ANY), OUTCOME_DATA);
    text_free(&text);
    assert_int_equal(read_text("<?xml version=\"1.0\"?><!DOCTYPE kml [<!ENTITY a \"b\">]><kml>&a;</kml>", (struct map_wish){0}),
                     OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "entities"));
    text_add(&text, "<kml>");
    for (int i = 0; i < 500; i++)
        text_add(&text, "<Folder>");
    assert_int_equal(read_text(text_get(&text), (struct map_wish){0}), OUTCOME_DATA);
    text_free(&text);
    assert_int_equal(read_text("{", (struct map_wish){0}), OUTCOME_DATA);
    assert_int_equal(read_text("", (struct map_wish){0}), OUTCOME_DATA);
    assert_int_equal(read_text("PK\x03\x04 not a zip", (struct map_wish){0}), OUTCOME_DATA);
    assert_int_equal(map_read_path("/vsicurl/http://127.0.0.1/x.geojson", &(struct map_wish){0}, &arena, &data, &why), OUTCOME_SYSTEM);
}

static void kml_comes_in_with_its_names(void **state)
{
    (void)state;
    const char *kml = "<?xml version=\"1.0\" encoding=\"UTF-8\"?><kml "
                      "xmlns=\"http://www.opengis.net/kml/2.2\"><Document><Placemark><name>Meadow end</name>"
                      "<Polygon><outerBoundaryIs><LinearRing><coordinates>-2.3,53.4,0 -2.299,53.4,0 -2.299,53.401,0 -2.3,53.4,0"
                      "</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark></Document></kml>";
    assert_int_equal(read_text(kml, (struct map_wish){.to_crs = "EPSG:27700", .use = MAP_BOUNDARY}), OUTCOME_OK);
    assert_string_equal(data.format, "KML");
    assert_false(data.features[0].refused);
    assert_string_equal(data.features[0].values[0], "Meadow end");
    assert_true(said(&data.features[0], "Height"));
}

static void what_is_written_comes_back_to_a_millimetre(void **state)
{
    (void)state;
    struct shape r = shape_rectangle(&arena, 380000, 390000, 30, 20, 0.3);
    const char *keys[] = {"code", "n", "odd"}, *values[] = {"A \"1\"", "12", "007"};
    struct map_out out = {.id = "x", .shape = &r, .keys = keys, .values = values, .n_values = 3};
    struct text text = {0};
    assert_int_equal(map_write_geojson("EPSG:27700", &out, 1, &text, &why), OUTCOME_OK);
    assert_non_null(strstr(text_get(&text), "\"n\":12,\"odd\":\"007\""));
    assert_int_equal(read_text(text_get(&text), (struct map_wish){.to_crs = "EPSG:27700"}), OUTCOME_OK);
    const struct ring *back = &data.features[0].shape.parts[0].rings[0];
    assert_int_equal(back->n, 5);
    for (size_t i = 0; i < 10; i++)
        assert_near(back->xy[i], r.parts[0].rings[0].xy[i], 0.0015);
    assert_true(back->n == 5 && shape_area_m2(&data.features[0].shape) > 599.8);
    text_free(&text);
}

/* Total and perimeter computed with R's sf, in shared/data/README.md. */
static void the_real_green_spaces_come_in_with_their_known_area(void **state)
{
    (void)state;
    const char *path = shared_path("data/greenspace_polygons/trafford_greenspaces.geojson");
    if (path == NULL)
        skip();
    assert_int_equal(map_read_path(path, &(struct map_wish){.to_crs = "EPSG:27700"}, &arena, &data, &why), OUTCOME_OK);
    double area = 0, length = 0;
    size_t multi = 0, holes = 0, mended = 0;
    for (size_t i = 0; i < data.n; i++) {
        const struct map_feature *f = &data.features[i];
        area += shape_area_m2(&f->shape);
        length += shape_length_m(&f->shape);
        multi += f->shape.n_parts > 1;
        bool hole = false;
        for (size_t k = 0; k < f->shape.n_parts; k++)
            hole |= f->shape.parts[k].n_rings > 1;
        holes += hole;
        mended += f->n_said > 0;
        assert_true(f->refused || shape_valid(&f->shape, NULL, 0));
        if (f->refused || f->n_said > 0)
            print_message("%zu: %s%s\n", i, f->refused ? f->refusal.sentence : "", f->n_said > 0 ? f->said[0] : "");
    }
    print_message("area %.1f, perimeter %.1f, multi %zu, holes %zu, mended %zu, refused %zu\n", area, length, multi, holes, mended,
                  data.n_refused);
    assert_int_equal(data.n, 460);
    assert_near(area, 9823600, 500);
    assert_near(length, 238913, 20);
}

static void every_kind_of_fixture_is_read_or_refused_with_a_reason(void **state)
{
    (void)state;
    static const char *const files[] = {"feature/one",
                                        "featurecollection/one",
                                        "geometry/geometrycollection-xyz",
                                        "geometry/geometrycollection",
                                        "geometry/linestring-xyz",
                                        "geometry/linestring",
                                        "geometry/multilinestring-xyz",
                                        "geometry/multilinestring",
                                        "geometry/multipoint-xyz",
                                        "geometry/multipoint",
                                        "geometry/multipolygon-xyz",
                                        "geometry/multipolygon",
                                        "geometry/point-xyz",
                                        "geometry/point",
                                        "geometry/polygon-xyz",
                                        "geometry/polygon"};
    for (size_t i = 0; i < sizeof files / sizeof *files; i++) {
        char name[200];
        snprintf(name, sizeof name, "data/geojson_fixtures/%s.geojson", files[i]);
        const char *path = shared_path(name);
        if (path == NULL)
            skip();
        memset(&why, 0, sizeof why);
        enum outcome outcome = map_read_path(path, &(struct map_wish){0}, &arena, &data, &why);
        if (outcome != OUTCOME_OK) {
            print_message("%s: %s %s\n", files[i], why.sentence, why.remedy);
            assert_true(why.sentence[0] != '\0' && why.remedy[0] != '\0');
            continue;
        }
        for (size_t k = 0; k < data.n; k++) {
            const struct map_feature *f = &data.features[k];
            print_message("%s: %s%s (%zu points)\n", files[i], f->refused ? f->refusal.sentence : "", f->n_said > 0 ? f->said[0] : "",
                          shape_count(&f->shape));
            assert_true(f->refused ? f->refusal.sentence[0] != '\0' && f->refusal.remedy[0] != '\0' : shape_count(&f->shape) > 0);
        }
    }
}

static int clear(void **state)
{
    (void)state;
    arena_clear(&arena);
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_teardown(a_system_is_described_with_unit_and_area, clear),
        cmocka_unit_test_teardown(the_zone_of_a_place_follows_the_grid_and_its_exceptions, clear),
        cmocka_unit_test_teardown(longitude_comes_first_whatever_the_register_says, clear),
        cmocka_unit_test_teardown(a_closed_polygon_comes_in_and_the_system_is_chosen, clear),
        cmocka_unit_test_teardown(swapped_degrees_are_put_right_only_where_no_other_reading_exists, clear),
        cmocka_unit_test_teardown(a_feature_on_another_continent_is_refused, clear),
        cmocka_unit_test_teardown(grid_metres_in_geojson_ask_for_their_system, clear),
        cmocka_unit_test_teardown(a_bow_tie_is_split_and_said, clear),
        cmocka_unit_test_teardown(slivers_are_dropped_and_counted, clear),
        cmocka_unit_test_teardown(heights_curves_and_collections_are_flattened_with_a_word, clear),
        cmocka_unit_test_teardown(unclosed_rings_are_closed_and_repeats_left_out, clear),
        cmocka_unit_test_teardown(absurd_areas_empty_and_flat_geometry_are_refused, clear),
        cmocka_unit_test_teardown(text_without_a_system_asks_for_it, clear),
        cmocka_unit_test_teardown(repeats_are_refused_and_shared_shapes_said, clear),
        cmocka_unit_test_teardown(a_ring_of_a_hundred_thousand_points_comes_in_whole, clear),
        cmocka_unit_test_teardown(hostile_files_are_refused, clear),
        cmocka_unit_test_teardown(kml_comes_in_with_its_names, clear),
        cmocka_unit_test_teardown(what_is_written_comes_back_to_a_millimetre, clear),
        cmocka_unit_test_teardown(the_real_green_spaces_come_in_with_their_known_area, clear),
        cmocka_unit_test_teardown(every_kind_of_fixture_is_read_or_refused_with_a_reason, clear),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
