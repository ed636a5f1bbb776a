/* SPDX-License-Identifier: GPL-3.0-or-later
 * layout/ on real outlines: 460 public green spaces (Trafford, OGL v3), among them some of several parts and with holes,
 * and on an outline of a hundred thousand corners. */
#include "geo/geo.h"
#include "layout/layout.h"

#include "../testlib.h"

/* The even-odd rule over all rings, written here and not taken from the code under test. */
static bool holds(const struct shape *shape, double x, double y)
{
    bool in = false;
    for (size_t p = 0; p < shape->n_parts; p++) {
        for (size_t r = 0; r < shape->parts[p].n_rings; r++) {
            const struct ring *ring = &shape->parts[p].rings[r];
            for (size_t i = 0; i + 1 < ring->n; i++) {
                const double *a = ring->xy + 2 * i, *b = a + 2;
                if ((a[1] > y) != (b[1] > y) && x < a[0] + (y - a[1]) * (b[0] - a[0]) / (b[1] - a[1]))
                    in = !in;
            }
        }
    }
    return in;
}

static void check(const struct shape *ground, size_t plants, double area_m2)
{
    struct layout_species species[4] = {{.name = "a", .layer = LAYER_CANOPY, .tall = true, .plants = plants / 5},
                                        {.name = "b", .layer = LAYER_SUBCANOPY, .plants = plants / 3},
                                        {.name = "c", .layer = LAYER_SHRUB, .plants = plants / 4}};
    species[3] = (struct layout_species){.name = "d", .layer = LAYER_SHRUB};
    species[3].plants = plants - species[0].plants - species[1].plants - species[2].plants;
    struct layout_wish wish = {.ground = ground, .species = species, .n_species = 4, .seed = 3};
    struct arena arena = {0};
    struct layout l;
    struct failure why = {0};
    double length = 0, depth = 0, cells = 0;
    assert_int_equal(layout_baseline(ground, &wish.origin_x_m, &wish.origin_y_m, &wish.bearing_deg, &length, &depth, &why), OUTCOME_OK);
    if (layout_plan(&wish, NULL, &arena, &l, &why) != OUTCOME_OK)
        fail_msg("%.1f m² of %.0f by %.0f m: %s %s", area_m2, length, depth, why.sentence, why.remedy);
    assert_int_equal(l.n_positions, plants);
    assert_near(l.ground_m2, area_m2, 1e-3 * area_m2);
    for (size_t i = 0; i < plants; i++) {
        assert_true(holds(ground, l.positions[i].x_m, l.positions[i].y_m));
        for (size_t j = i + 1; j < plants; j++)
            assert_true(hypot(l.positions[i].x_m - l.positions[j].x_m, l.positions[i].y_m - l.positions[j].y_m) >= l.least_m - 1e-6);
    }
    for (size_t c = 0; c < l.n_cells; c++)
        cells += l.cells[c].ground_m2;
    /* Squares with less than 0.01 m² are not listed: at most a sliver along the outline. */
    assert_near(cells, area_m2, 1e-3 * area_m2 + 0.5);
    arena_clear(&arena);
}

static void every_real_outline_gets_a_plan(void **state)
{
    (void)state;
    const char *path = shared_path("data/greenspace_polygons/trafford_greenspaces.geojson");
    struct arena arena = {0};
    struct map_data map;
    struct map_wish wish = {.to_crs = "EPSG:27700", .use = MAP_BOUNDARY};
    struct failure why = {0};
    if (path == NULL)
        skip();
    if (map_read_path(path, &wish, &arena, &map, &why) != OUTCOME_OK)
        fail_msg("%s", why.sentence);
    size_t done = 0, holed = 0, parted = 0;
    for (size_t k = 0; k < map.n; k++) {
        const struct shape *s = &map.features[k].shape;
        double area = map.features[k].refused ? 0 : shape_area_m2(s);
        struct box box = map.features[k].refused ? (struct box){0} : shape_box(s);
        /* A plot, not a park: up to four hectares, and parts that lie within one tape grid. */
        if (area < 30 || area > 40000 || (box.x_most - box.x_least) * (box.y_most - box.y_least) > 4e6)
            continue;
        check(s, area < 130 ? (size_t)(3 * area) : 400, area);
        done++;
        parted += s->n_parts > 1;
        for (size_t p = 0; p < s->n_parts; p++)
            holed += s->parts[p].n_rings > 1;
    }
    assert_true(done > 250 && holed >= 1 && parted >= 5);
    arena_clear(&arena);
}

static void an_outline_of_a_hundred_thousand_corners_is_no_trouble(void **state)
{
    (void)state;
    enum { CORNERS = 100000 };
    double *xy = memory_get(2 * (CORNERS + 1), sizeof *xy), twice = 0;
    for (size_t i = 0; i <= CORNERS; i++) {
        double t = 6.283185307179586 * (double)(i % CORNERS) / CORNERS, r = 12 + 0.4 * sin(300 * t) + 2 * cos(5 * t);
        xy[2 * i] = 400000 + r * cos(t), xy[2 * i + 1] = 300000 + r * sin(t);
    }
    for (size_t i = 0; i < CORNERS; i++)
        twice += (xy[2 * i] - 400000) * (xy[2 * i + 3] - 300000) - (xy[2 * i + 2] - 400000) * (xy[2 * i + 1] - 300000);
    struct ring ring = {xy, CORNERS + 1};
    struct shape_part part = {&ring, 1};
    struct shape shape = {SHAPE_POLYGONS, &part, 1};
    check(&shape, 1000, twice / 2);
    free(xy);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_real_outline_gets_a_plan),
        cmocka_unit_test(an_outline_of_a_hundred_thousand_corners_is_no_trouble),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
