/* SPDX-License-Identifier: GPL-3.0-or-later
 * layout/: properties that every plan must have, on plain and on awkward ground. */
#include "layout/layout.h"

#include "../testlib.h"

enum { MOST_CORNERS = 64 };

/// Ground made of rings written out by hand.
struct ground {
    double xy[8][2 * MOST_CORNERS];
    struct ring rings[8];
    struct shape_part parts[8];
    struct shape shape;
    size_t n_rings;
};

/* Add a ring of n corners (closed here); `part` true begins a new part, false makes a hole in the last one. */
static void ground_add(struct ground *g, bool part, const double *xy, size_t n, double dx, double dy)
{
    size_t r = g->n_rings++;
    for (size_t i = 0; i <= n; i++) {
        g->xy[r][2 * i] = xy[2 * (i % n)] + dx;
        g->xy[r][2 * i + 1] = xy[2 * (i % n) + 1] + dy;
    }
    g->rings[r] = (struct ring){g->xy[r], n + 1};
    if (part)
        g->parts[g->shape.n_parts++] = (struct shape_part){&g->rings[r], 0};
    g->parts[g->shape.n_parts - 1].n_rings++;
    g->shape.kind = SHAPE_POLYGONS;
    g->shape.parts = g->parts;
}

static void ground_box(struct ground *g, double x, double y, double w, double h)
{
    const double xy[] = {x, y, x + w, y, x + w, y + h, x, y + h};
    ground_add(g, true, xy, 4, 0, 0);
}

/* Independent of the code under test: the even-odd rule over all rings, and the distance to every edge. */
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

static double edge_far(const struct shape *shape, double x, double y)
{
    double best = INFINITY;
    for (size_t p = 0; p < shape->n_parts; p++) {
        for (size_t r = 0; r < shape->parts[p].n_rings; r++) {
            const struct ring *ring = &shape->parts[p].rings[r];
            for (size_t i = 0; i + 1 < ring->n; i++) {
                const double *a = ring->xy + 2 * i, *b = a + 2;
                double dx = b[0] - a[0], dy = b[1] - a[1], t = ((x - a[0]) * dx + (y - a[1]) * dy) / (dx * dx + dy * dy);
                t = fmin(1, fmax(0, t));
                best = fmin(best, hypot(x - a[0] - t * dx, y - a[1] - t * dy));
            }
        }
    }
    return best;
}

/* Twenty species: five tall, and shares like those of a real mix. */
enum { KINDS = 20 };
static void species_make(struct layout_species *species, size_t plants)
{
    static const size_t share[KINDS] = {9, 8, 7, 6, 5, 5, 5, 5, 6, 6, 5, 5, 4, 4, 5, 5, 3, 3, 2, 2};
    static char names[KINDS][12];
    size_t given = 0;
    for (size_t s = 0; s < KINDS; s++) {
        snprintf(names[s], sizeof names[s], "kind %zu", s);
        species[s] = (struct layout_species){.name = names[s], .tall = s < 3};
        species[s].layer = s < 7 ? LAYER_CANOPY : s < 13 ? LAYER_SUBCANOPY : LAYER_SHRUB;
        species[s].plants = plants * share[s] / 100;
        given += species[s].plants;
    }
    for (size_t s = 0; given < plants; s = (s + 1) % KINDS, given++)
        species[s].plants++;
}

static struct layout_wish wish_make(const struct ground *g, const struct layout_species *species)
{
    struct layout_wish wish = {.ground = &g->shape, .bearing_deg = 90, .species = species, .n_species = KINDS, .seed = 7};
    wish.origin_x_m = wish.origin_y_m = INFINITY;
    for (size_t r = 0; r < g->n_rings; r++) {
        for (size_t i = 0; i < g->rings[r].n; i++) {
            wish.origin_x_m = fmin(wish.origin_x_m, g->xy[r][2 * i]);
            wish.origin_y_m = fmin(wish.origin_y_m, g->xy[r][2 * i + 1]);
        }
    }
    return wish;
}

static void plan(const struct layout_wish *wish, struct arena *arena, struct layout *out)
{
    struct failure why = {0};
    if (layout_plan(wish, NULL, arena, out, &why) != OUTCOME_OK)
        fail_msg("%s %s", why.sentence, why.remedy);
}

/* Everything a plan promises. */
static void check_plan(const struct layout_wish *wish, const struct layout *l)
{
    size_t count[KINDS] = {0}, total = 0, in_cells = 0;
    double edge = wish->edge_m > 0 ? wish->edge_m : 0.10, ground = 0;
    for (size_t s = 0; s < wish->n_species; s++)
        total += wish->species[s].plants;
    assert_int_equal(l->n_positions, total);
    for (size_t i = 0; i < l->n_positions; i++) {
        const struct layout_position *p = &l->positions[i];
        assert_in_range(p->species, 0, KINDS - 1);
        count[p->species]++;
        if (!p->fixed) {
            assert_true(holds(wish->ground, p->x_m, p->y_m));
            assert_true(edge_far(wish->ground, p->x_m, p->y_m) > edge - 1e-3);
        }
        for (size_t j = i + 1; j < l->n_positions; j++)
            assert_true(hypot(p->x_m - l->positions[j].x_m, p->y_m - l->positions[j].y_m) > l->least_m - 1e-6 ||
                        (p->fixed && l->positions[j].fixed));
        assert_true(p->along_m >= 0 && p->along_m <= 1 && p->across_m >= 0 && p->across_m <= 1);
    }
    for (size_t s = 0; s < KINDS; s++)
        assert_int_equal(count[s], wish->species[s].plants);
    for (size_t c = 0; c < l->n_cells; c++) {
        const struct layout_cell *cell = &l->cells[c];
        uint32_t row = 0, column = 0;
        assert_true(layout_cell_read(cell->code, &row, &column));
        assert_int_equal(row, cell->row);
        assert_int_equal(column, cell->column);
        if (c > 0)
            assert_true(cell->row > cell[-1].row || (cell->row == cell[-1].row && cell->column > cell[-1].column));
        assert_int_equal(cell->first, in_cells);
        for (uint32_t k = 0; k < cell->plants; k++) {
            assert_int_equal(l->positions[cell->first + k].cell, c);
            assert_int_equal(l->positions[cell->first + k].number, k + 1);
        }
        in_cells += cell->plants;
        ground += cell->ground_m2;
    }
    assert_int_equal(in_cells, total);
    assert_near(ground, l->ground_m2, 0.01 * (double)l->n_cells);
}

static void three_hundred_plants_on_ten_by_ten_are_exact_apart_and_mixed(void **state)
{
    (void)state;
    struct ground g = {0};
    struct layout_species species[KINDS];
    struct arena arena = {0};
    struct layout l;
    struct layout_quality q;
    struct failure why;
    ground_box(&g, 0, 0, 10, 10);
    species_make(species, 300);
    struct layout_wish wish = wish_make(&g, species);
    plan(&wish, &arena, &l);
    check_plan(&wish, &l);
    assert_int_equal(l.n_cells, 100);
    assert_int_equal(layout_judge(&l, &wish, 0, &arena, &q, &why), OUTCOME_OK);
    /* Far more even than chance, but no grid; no like nearest neighbours though chance would give one in twenty. */
    assert_true(q.clark_evans > 1.5 && q.clark_evans < 1.9);
    assert_true(l.least_m >= 0.6 * q.hexagon_m);
    assert_true(q.same_share == 0 && q.same_share_random > 0.04);
    assert_near(q.same_share_simulated, q.same_share_random, 4 * q.same_share_simulated_sd / sqrt((double)q.simulations));
    assert_true(q.tall_least_m > 0.6 * q.tall_hexagon_m);
    assert_true(q.layers_in_cell > q.layers_in_cell_random);
    for (size_t c = 0; c < l.n_cells; c++)
        assert_in_range(l.cells[c].plants, 2, 4);
    arena_clear(&arena);
}

static void plot_of_225_cells_has_every_cell_once(void **state)
{
    (void)state;
    struct ground g = {0};
    struct layout_species species[KINDS];
    struct arena arena = {0};
    struct layout l;
    ground_box(&g, 0, 0, 15, 15);
    species_make(species, 675);
    struct layout_wish wish = wish_make(&g, species);
    plan(&wish, &arena, &l);
    check_plan(&wish, &l);
    assert_int_equal(l.n_cells, 225);
    assert_int_equal(l.rows, 15);
    assert_int_equal(l.columns, 15);
    assert_string_equal(l.cells[0].code, "A01");
    assert_string_equal(l.cells[36].code, "C07");
    assert_string_equal(l.cells[224].code, "O15");
    for (size_t c = 0; c < 225; c++)
        assert_near(l.cells[c].ground_m2, 1, 1e-9);
    arena_clear(&arena);
}

static void cell_codes_go_there_and_back(void **state)
{
    (void)state;
    char code[16];
    uint32_t row = 0, column = 0;
    layout_cell_code(25, 0, code);
    assert_string_equal(code, "Z01");
    layout_cell_code(26, 99, code);
    assert_string_equal(code, "AA100");
    layout_cell_code(701, 8, code);
    assert_string_equal(code, "ZZ09");
    layout_cell_code(702, 8, code);
    assert_string_equal(code, "AAA09");
    for (uint32_t r = 0; r < 2000; r += 7) {
        layout_cell_code(r, r, code);
        assert_true(layout_cell_read(code, &row, &column));
        assert_int_equal(row, r);
        assert_int_equal(column, r);
    }
    const char *const bad[] = {"", "7", "C", "C7", "C00", "c07", "C07x", "C007", "07C", "C-1"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        assert_false(layout_cell_read(bad[i], &row, &column));
}

/* L-shape, a hole, a sliver on a field, several parts, a strip four metres wide, a ring of many corners, a turned plot. */
static size_t awkward(size_t which, struct ground *g)
{
    const double ell[] = {0, 0, 20, 0, 20, 6, 7, 6, 7, 18, 0, 18};
    const double hole[] = {4, 4, 4, 9, 11, 9, 11, 4}, hole_b[] = {13, 2, 15, 2, 14, 3.5};
    const double sliver[] = {0, 0, 12, 0, 12, 10, 0.05, 10, 0.05, 40, 0, 40};
    const double wedge[] = {0, 0, 30, 0.2, 30, 7.3};
    double round[2 * 60];
    *g = (struct ground){0};
    switch (which) {
    case 0:
        ground_add(g, true, ell, 6, 0, 0);
        return 550;
    case 1:
        ground_box(g, 0, 0, 18, 12);
        ground_add(g, false, hole, 4, 0, 0);
        ground_add(g, false, hole_b, 3, 0, 0);
        return 530;
    case 2:
        ground_add(g, true, sliver, 6, 0, 0);
        return 360;
    case 3:
        ground_box(g, 0, 0, 8, 8);
        ground_box(g, 30, 5, 5.5, 9.25);
        ground_box(g, 12.3, 40.7, 1.2, 1.2);
        return 340;
    case 4:
        ground_box(g, 0, 0, 25, 4);
        return 300;
    case 5:
        for (size_t i = 0; i < 60; i++) {
            double t = 6.283185307179586 * (double)i / 60, r = i % 2 == 0 ? 9 : 7.5;
            round[2 * i] = 10 + r * cos(t), round[2 * i + 1] = 10 + r * sin(t);
        }
        ground_add(g, true, round, 60, 0, 0);
        return 600;
    default:
        ground_add(g, true, wedge, 3, 0, 0);
        return 300;
    }
}

static void awkward_ground_keeps_every_promise(void **state)
{
    (void)state;
    for (size_t which = 0; which < 7; which++) {
        struct ground g;
        struct layout_species species[KINDS];
        struct arena arena = {0};
        struct layout l;
        struct layout_quality q;
        struct failure why;
        species_make(species, awkward(which, &g));
        struct layout_wish wish = wish_make(&g, species);
        plan(&wish, &arena, &l);
        check_plan(&wish, &l);
        assert_int_equal(layout_judge(&l, &wish, 20, &arena, &q, &why), OUTCOME_OK);
        assert_true(l.least_m > 0.5 * q.hexagon_m);
        assert_true(q.same_share <= 0.02);
        assert_true(q.same_share_bound <= q.same_share + 1e-12);
        arena_clear(&arena);
    }
}

static void baseline_turned_with_the_plot_gives_the_same_cells(void **state)
{
    (void)state;
    double turn = 0.3571, c = cos(turn), s = sin(turn), x = 0, y = 0, bearing = 0, length = 0, depth = 0;
    double xy[] = {0, 0, 12 * c, 12 * s, 12 * c - 9 * s, 12 * s + 9 * c, -9 * s, 9 * c};
    struct ground g = {0};
    struct layout_species species[KINDS];
    struct arena arena = {0};
    struct layout l;
    struct failure why = {0};
    ground_add(&g, true, xy, 4, 611000, 5512000);
    assert_int_equal(layout_baseline(&g.shape, &x, &y, &bearing, &length, &depth, &why), OUTCOME_OK);
    assert_near(length, 12, 1e-3);
    assert_near(depth, 9, 1e-3);
    species_make(species, 324);
    struct layout_wish wish = wish_make(&g, species);
    wish.origin_x_m = x, wish.origin_y_m = y, wish.bearing_deg = bearing;
    plan(&wish, &arena, &l);
    check_plan(&wish, &l);
    assert_int_equal(l.n_cells, 108);
    arena_clear(&arena);
}

static void ground_behind_the_baseline_is_refused_with_where_to_put_the_peg(void **state)
{
    (void)state;
    struct ground g = {0};
    struct layout_species species[KINDS];
    struct arena arena = {0};
    struct layout l;
    struct failure why = {0};
    ground_box(&g, 100, 200, 10, 10);
    species_make(species, 300);
    struct layout_wish wish = wish_make(&g, species);
    wish.origin_y_m = 203;
    assert_int_equal(layout_plan(&wish, NULL, &arena, &l, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "3.00 m behind the baseline"));
    assert_non_null(strstr(why.remedy, "100.00, 200.00"));
    arena_clear(&arena);
}

static bool same_plan(const struct layout *a, const struct layout *b, double dx, double dy)
{
    if (a->n_positions != b->n_positions || a->n_cells != b->n_cells)
        return false;
    for (size_t i = 0; i < a->n_positions; i++) {
        const struct layout_position *p = &a->positions[i], *q = &b->positions[i];
        if (p->species != q->species || p->cell != q->cell || fabs(p->x_m + dx - q->x_m) > 1e-6 || fabs(p->y_m + dy - q->y_m) > 1e-6)
            return false;
    }
    return true;
}

static void the_same_seed_gives_the_same_plan_and_another_seed_another(void **state)
{
    (void)state;
    struct ground g = {0};
    struct layout_species species[KINDS];
    struct arena arena = {0};
    struct layout a, b, c;
    species_make(species, awkward(1, &g));
    struct layout_wish wish = wish_make(&g, species);
    plan(&wish, &arena, &a);
    plan(&wish, &arena, &b);
    assert_memory_equal(a.positions, b.positions, a.n_positions * sizeof *a.positions);
    wish.seed = 8;
    plan(&wish, &arena, &c);
    assert_false(same_plan(&a, &c, 0, 0));
    arena_clear(&arena);
}

static void moving_the_site_far_away_moves_the_plan_with_it(void **state)
{
    (void)state;
    struct ground g = {0}, far = {0};
    struct layout_species species[KINDS];
    struct arena arena = {0};
    struct layout a, b;
    const double ell[] = {0, 0, 20, 0, 20, 6, 7, 6, 7, 18, 0, 18};
    ground_add(&g, true, ell, 6, 0, 0);
    ground_add(&far, true, ell, 6, 3214567, 6543210);
    species_make(species, 550);
    struct layout_wish here = wish_make(&g, species), there = wish_make(&far, species);
    plan(&here, &arena, &a);
    plan(&there, &arena, &b);
    assert_true(same_plan(&a, &b, 3214567, 6543210));
    arena_clear(&arena);
}

static void the_order_of_the_species_list_changes_no_promise(void **state)
{
    (void)state;
    struct ground g = {0};
    struct layout_species species[KINDS], turned[KINDS];
    struct arena arena = {0};
    struct layout a, b;
    struct layout_quality qa, qb;
    struct failure why;
    species_make(species, awkward(0, &g));
    for (size_t s = 0; s < KINDS; s++)
        turned[s] = species[(s * 7 + 3) % KINDS];
    struct layout_wish wish = wish_make(&g, species), other = wish_make(&g, turned);
    plan(&wish, &arena, &a);
    plan(&other, &arena, &b);
    check_plan(&other, &b);
    /* The places are the same; only who stands where may differ. */
    for (size_t i = 0; i < a.n_positions; i++)
        assert_true(a.positions[i].x_m == b.positions[i].x_m && a.positions[i].y_m == b.positions[i].y_m);
    assert_int_equal(layout_judge(&a, &wish, 20, &arena, &qa, &why), OUTCOME_OK);
    assert_int_equal(layout_judge(&b, &other, 20, &arena, &qb, &why), OUTCOME_OK);
    assert_true(qa.same_share <= 0.005 && qb.same_share <= 0.005);
    assert_near(qa.same_share_random, qb.same_share_random, 1e-12);
    arena_clear(&arena);
}

static void stand_offs_are_kept_by_the_species_they_are_for(void **state)
{
    (void)state;
    struct ground g = {0}, near_wall = {0};
    struct layout_species species[KINDS];
    struct arena arena = {0};
    struct layout l;
    bool forbids[KINDS] = {true, true, true};
    ground_box(&g, 0, 0, 12, 12);
    ground_box(&near_wall, -5, -5, 10, 30);
    species_make(species, 432);
    species[13].edge_least_m = 2; /* thorny: T55 */
    species[16].inside = true;
    struct layout_zone zone = {"within 5 m of the wall", &near_wall.shape, forbids};
    struct layout_wish wish = wish_make(&g, species);
    wish.zones = &zone, wish.n_zones = 1;
    plan(&wish, &arena, &l);
    check_plan(&wish, &l);
    for (size_t i = 0; i < l.n_positions; i++) {
        const struct layout_position *p = &l.positions[i];
        if (p->species < 3)
            assert_true(p->x_m > 5);
        if (p->species == 13)
            assert_true(edge_far(&g.shape, p->x_m, p->y_m) >= 2 - 1e-3);
        if (p->species == 16)
            assert_true(edge_far(&g.shape, p->x_m, p->y_m) >= 1.5);
    }
    arena_clear(&arena);
}

static void too_few_allowed_places_are_reported_with_species_zone_and_number(void **state)
{
    (void)state;
    struct ground g = {0}, near_wall = {0};
    struct layout_species species[KINDS];
    struct arena arena = {0};
    struct layout l;
    struct failure why = {0};
    bool forbids[KINDS] = {true};
    ground_box(&g, 0, 0, 10, 10);
    ground_box(&near_wall, -1, -1, 12, 10);
    species_make(species, 300);
    species[0].plants += 40, species[5].plants = 0, species[4].plants -= 25 - 10;
    size_t total = 0;
    for (size_t s = 0; s < KINDS; s++)
        total += species[s].plants;
    assert_int_equal(total, 310);
    struct layout_zone zone = {"within 9 m of the ward block", &near_wall.shape, forbids};
    struct layout_wish wish = wish_make(&g, species);
    wish.zones = &zone, wish.n_zones = 1;
    assert_int_equal(layout_plan(&wish, NULL, &arena, &l, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "67 plants of kind 0 may only stand on"));
    assert_non_null(strstr(why.sentence, "within 9 m of the ward block"));
    arena_clear(&arena);
}

static void a_wished_least_distance_is_kept_or_refused(void **state)
{
    (void)state;
    struct ground g = {0};
    struct layout_species species[KINDS];
    struct arena arena = {0};
    struct layout l;
    struct failure why = {0};
    ground_box(&g, 0, 0, 10, 10);
    species_make(species, 300);
    struct layout_wish wish = wish_make(&g, species);
    wish.least_m = 0.50; /* the densest even packing has 0.62 */
    plan(&wish, &arena, &l);
    check_plan(&wish, &l);
    assert_true(l.least_m >= 0.50);
    wish.least_m = 0.62;
    assert_int_equal(layout_plan(&wish, NULL, &arena, &l, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "0.62 m"));
    arena_clear(&arena);
}

static void kept_plants_stay_and_count(void **state)
{
    (void)state;
    struct ground g = {0};
    struct layout_species species[KINDS];
    struct arena arena = {0};
    struct layout l;
    const struct layout_fixed fixed[] = {{2.5, 2.5, 0}, {7.25, 3.1, 4}, {5, 5, 0}};
    ground_box(&g, 0, 0, 10, 10);
    species_make(species, 300);
    struct layout_wish wish = wish_make(&g, species);
    wish.fixed = fixed, wish.n_fixed = 3;
    plan(&wish, &arena, &l);
    check_plan(&wish, &l);
    size_t seen = 0;
    for (size_t i = 0; i < l.n_positions; i++) {
        for (size_t k = 0; k < 3 && l.positions[i].fixed; k++)
            seen += fabs(l.positions[i].x_m - fixed[k].x_m) < 1e-9 && l.positions[i].species == (int32_t)fixed[k].species;
    }
    assert_int_equal(seen, 3);
    arena_clear(&arena);
}

static void rows_give_the_exact_number_or_say_what_would(void **state)
{
    (void)state;
    struct ground g = {0};
    struct layout_species species[KINDS];
    struct arena arena = {0};
    struct layout l;
    struct failure why = {0};
    ground_box(&g, 0, 0, 10, 10);
    species_make(species, 100);
    struct layout_wish wish = wish_make(&g, species);
    wish.pattern = LAYOUT_ROWS, wish.row_gap_m = wish.plant_gap_m = 1;
    plan(&wish, &arena, &l);
    check_plan(&wish, &l);
    for (size_t c = 0; c < 100; c++)
        assert_int_equal(l.cells[c].plants, 1);
    assert_near(l.least_m, 1, 1e-9);
    wish.row_gap_m = 2;
    assert_int_equal(layout_plan(&wish, NULL, &arena, &l, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "50 places"));
    /* Gaps left open are found: L-shaped ground at the same density. */
    struct ground ell;
    awkward(0, &ell);
    species_make(species, 204);
    wish = wish_make(&ell, species);
    wish.pattern = LAYOUT_ROWS;
    plan(&wish, &arena, &l);
    check_plan(&wish, &l);
    assert_true(l.row_gap_m > 0.85 && l.row_gap_m <= 1.01);
    arena_clear(&arena);
}

static void a_short_delivery_changes_as_few_places_as_it_must(void **state)
{
    (void)state;
    struct ground g = {0};
    struct layout_species species[KINDS];
    struct arena arena = {0};
    struct layout l;
    struct layout_repair repair;
    struct failure why = {0};
    bool planted[300] = {false};
    ground_box(&g, 0, 0, 10, 10);
    species_make(species, 300);
    struct layout_wish wish = wish_make(&g, species);
    plan(&wish, &arena, &l);
    /* 12 of kind 1 did not come: 288 of 300 (F18). */
    species[1].plants -= 12;
    assert_int_equal(layout_mend(&l, &wish, NULL, &arena, &repair, &why), OUTCOME_OK);
    assert_int_equal(repair.n_moves, 12);
    assert_int_equal(repair.least_moves, 12);
    for (size_t k = 0; k < repair.n_moves; k++)
        assert_true(repair.moves[k].from == 1 && repair.moves[k].to == LAYOUT_EMPTY);
    /* Then 9 of kind 2 are taken for kind 15; what is planted stays. */
    for (size_t i = 0; i < 150; i++)
        planted[i] = true;
    species[2].plants -= 9, species[15].plants += 9;
    assert_int_equal(layout_mend(&l, &wish, planted, &arena, &repair, &why), OUTCOME_OK);
    assert_int_equal(repair.n_moves, 9);
    for (size_t k = 0; k < repair.n_moves; k++)
        assert_true(repair.moves[k].position >= 150);
    size_t count = 0;
    for (size_t i = 0; i < l.n_positions; i++)
        count += l.positions[i].species == 15;
    assert_int_equal(count, species[15].plants);
    /* Nothing changes when it cannot be done: all that could give way is planted. */
    memset(planted, true, sizeof planted);
    species[3].plants--, species[4].plants++;
    assert_int_equal(layout_mend(&l, &wish, planted, &arena, &repair, &why), OUTCOME_DATA);
    arena_clear(&arena);
}

static void a_substitute_that_may_not_stand_there_is_handed_on(void **state)
{
    (void)state;
    struct ground g = {0}, wall = {0};
    struct layout_species species[KINDS];
    struct arena arena = {0};
    struct layout l;
    struct layout_repair repair;
    struct failure why = {0};
    bool forbids_new[KINDS] = {false};
    ground_box(&g, 0, 0, 10, 10);
    ground_box(&wall, -1, -1, 12, 6);
    species_make(species, 300);
    struct layout_wish wish = wish_make(&g, species);
    plan(&wish, &arena, &l);
    /* Kind 6 is replaced whole by kind 5, which may not stand in the lower half: others move over, twice as many moves
     * for those that stood there. */
    forbids_new[5] = true;
    size_t low = 0, wanted = species[6].plants;
    for (size_t i = 0; i < l.n_positions; i++)
        low += l.positions[i].species == 6 && l.positions[i].y_m < 5;
    struct layout_zone zone = {"within 5 m of the wall", &wall.shape, forbids_new};
    wish.zones = &zone, wish.n_zones = 1;
    species[5].plants += wanted, species[6].plants = 0;
    assert_int_equal(layout_mend(&l, &wish, NULL, &arena, &repair, &why), OUTCOME_OK);
    assert_int_equal(repair.least_moves, wanted);
    assert_int_equal(repair.n_moves, wanted + low);
    for (size_t k = 0; k < repair.n_moves; k++)
        assert_false(repair.moves[k].to == 5 && l.positions[repair.moves[k].position].y_m < 5);
    arena_clear(&arena);
}

static void figures_agree_with_closed_forms(void **state)
{
    (void)state;
    double hexagon[2 * 400], far[400], r = 0, z = 0, sum = 0;
    size_t n = 0;
    for (size_t j = 0; j < 20; j++) {
        for (size_t i = 0; i < 20; i++, n++)
            hexagon[2 * n] = (double)i + 0.5 * (double)(j % 2), hexagon[2 * n + 1] = 0.8660254037844386 * (double)j;
    }
    layout_nearest(hexagon, n, far, NULL);
    for (size_t i = 0; i < n; i++)
        sum += far[i];
    /* A hexagonal pattern has R = 2.1491 (Clark & Evans 1954, p. 447). */
    layout_clark_evans(sum / 400, 400, 400 * 0.8660254037844386, 0, &r, &z);
    assert_near(r, 2.1491, 1e-4);
    assert_near(layout_hexagon_m(400 * 0.8660254037844386, 400), 1, 1e-12);
    assert_near(layout_interior_share(15, 15, 2), 121.0 / 225, 1e-12);
    const double counts[] = {2, 1, 1};
    assert_near(layout_random_share(counts, 3), 2.0 / 12, 1e-15);
}

static void a_species_with_most_of_the_plants_has_a_bound_that_holds(void **state)
{
    (void)state;
    struct ground g = {0};
    struct layout_species species[2] = {{.name = "common", .layer = LAYER_CANOPY, .plants = 270},
                                        {.name = "rare", .layer = LAYER_SHRUB, .plants = 30}};
    struct arena arena = {0};
    struct layout l;
    struct layout_quality q;
    struct failure why = {0};
    ground_box(&g, 0, 0, 10, 10);
    struct layout_wish wish = wish_make(&g, species);
    wish.n_species = 2;
    plan(&wish, &arena, &l);
    assert_int_equal(layout_judge(&l, &wish, 50, &arena, &q, &why), OUTCOME_OK);
    assert_true(q.same_share_bound > 0.2);
    assert_true(q.same_share >= q.same_share_bound && q.same_share <= q.same_share_random);
    arena_clear(&arena);
}

static void an_outline_that_crosses_itself_is_refused(void **state)
{
    (void)state;
    struct ground g = {0};
    struct layout_species species[KINDS];
    struct arena arena = {0};
    struct layout l;
    struct failure why = {0};
    const double bow[] = {0, 0, 10, 8, 10, 0, 0, 9};
    ground_add(&g, true, bow, 4, 0, 0);
    species_make(species, 100);
    struct layout_wish wish = wish_make(&g, species);
    assert_int_equal(layout_plan(&wish, NULL, &arena, &l, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "crosses itself"));
    arena_clear(&arena);
}

static bool call_off(void *who, double done, const char *what)
{
    (void)who;
    (void)what;
    return done < 0.2;
}

static void a_plan_called_off_says_so_and_gives_nothing(void **state)
{
    (void)state;
    struct ground g = {0};
    struct layout_species species[KINDS];
    struct arena arena = {0};
    struct layout l = {.n_positions = 12345};
    struct failure why = {0};
    struct progress progress = {call_off, NULL};
    ground_box(&g, 0, 0, 10, 10);
    species_make(species, 300);
    struct layout_wish wish = wish_make(&g, species);
    assert_int_equal(layout_plan(&wish, &progress, &arena, &l, &why), OUTCOME_CANCELLED);
    assert_int_equal(l.n_positions, 12345);
    arena_clear(&arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(three_hundred_plants_on_ten_by_ten_are_exact_apart_and_mixed),
        cmocka_unit_test(plot_of_225_cells_has_every_cell_once),
        cmocka_unit_test(cell_codes_go_there_and_back),
        cmocka_unit_test(awkward_ground_keeps_every_promise),
        cmocka_unit_test(baseline_turned_with_the_plot_gives_the_same_cells),
        cmocka_unit_test(ground_behind_the_baseline_is_refused_with_where_to_put_the_peg),
        cmocka_unit_test(the_same_seed_gives_the_same_plan_and_another_seed_another),
        cmocka_unit_test(moving_the_site_far_away_moves_the_plan_with_it),
        cmocka_unit_test(the_order_of_the_species_list_changes_no_promise),
        cmocka_unit_test(stand_offs_are_kept_by_the_species_they_are_for),
        cmocka_unit_test(too_few_allowed_places_are_reported_with_species_zone_and_number),
        cmocka_unit_test(a_wished_least_distance_is_kept_or_refused),
        cmocka_unit_test(kept_plants_stay_and_count),
        cmocka_unit_test(rows_give_the_exact_number_or_say_what_would),
        cmocka_unit_test(a_short_delivery_changes_as_few_places_as_it_must),
        cmocka_unit_test(a_substitute_that_may_not_stand_there_is_handed_on),
        cmocka_unit_test(figures_agree_with_closed_forms),
        cmocka_unit_test(a_species_with_most_of_the_plants_has_a_bound_that_holds),
        cmocka_unit_test(an_outline_that_crosses_itself_is_refused),
        cmocka_unit_test(a_plan_called_off_says_so_and_gives_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
