/* SPDX-License-Identifier: GPL-3.0-or-later
 * ground/: texture, pores, questions, the limiting factor in words, quantities, carbon. */
#include "ground/ground.h"
#include "../testlib.h"

static struct soil_sample sample_make(double top, double bottom)
{
    struct soil_sample s;
    noun_init(NOUN_SOIL_SAMPLE, &s);
    s.site_id = 1;
    s.zone = "A";
    s.composite = "pit 1";
    s.depth_top_cm = top;
    s.depth_bottom_cm = bottom;
    return s;
}

static struct soil_sample clean_loam(double top, double bottom)
{
    struct soil_sample s = sample_make(top, bottom);
    s.sand_pct = 40;
    s.silt_pct = 40;
    s.clay_pct = 20;
    s.bulk_density_g_cm3 = 1.3;
    s.soc_pct = 1.5;
    s.stones_pct = 2;
    s.ph = 6.5;
    s.ph_method = PH_METHOD_WATER;
    s.mottles = TRUTH_NO;
    s.infiltration_mm_h = 60;
    return s;
}

static struct ground_judgement judge(const struct soil_sample *samples, size_t n, struct arena *arena)
{
    struct ground_options options = {.source = DENSITY_NRCS_CLASSES};
    struct ground_judgement out;
    struct failure why;
    assert_int_equal(ground_judge(samples, n, &options, arena, &out, &why), OUTCOME_OK);
    return out;
}

static void clean_loam_needs_no_deep_loosening(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct soil_sample samples[] = {clean_loam(0, 30), clean_loam(30, 60), clean_loam(60, 100)};
    struct ground_judgement out = judge(samples, 3, &arena);
    assert_int_equal(out.n_pits, 1);
    assert_int_equal(out.pits[0].n_limits, 0);
    assert_int_equal(out.pits[0].loosening, TRUTH_NO);
    assert_non_null(strstr(out.pits[0].statement, "No deep loosening needed here"));
    assert_near(out.pits[0].available_to_m, 1, 1e-12);
    assert_int_equal(out.n_questions, 0);
    arena_clear(&arena);
}

static void what_was_not_measured_is_not_known(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct soil_sample samples[] = {clean_loam(0, 30), sample_make(30, 60)};
    struct ground_judgement out = judge(samples, 2, &arena);
    assert_int_equal(out.pits[0].loosening, TRUTH_UNKNOWN);
    assert_non_null(strstr(out.pits[0].statement, "deeper is not known"));
    assert_null(strstr(out.pits[0].statement, "No deep loosening"));
    struct soil_sample bare = sample_make(0, 30);
    out = judge(&bare, 1, &arena);
    assert_int_equal(out.pits[0].loosening, TRUTH_UNKNOWN);
    assert_false(is_known(out.pits[0].available_mm));
    assert_non_null(strstr(out.pits[0].statement, "Not known:"));
    arena_clear(&arena);
}

static void compacted_layers_join_and_give_the_depth(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct soil_sample samples[] = {clean_loam(0, 15), clean_loam(15, 30), clean_loam(30, 45), clean_loam(45, 60)};
    samples[1].bulk_density_g_cm3 = 1.85;
    samples[2].penetration_mpa = 3.1;
    samples[2].near_field_capacity = TRUTH_YES;
    samples[2].made_ground_pct = 40;
    struct ground_judgement out = judge(samples, 4, &arena);
    const struct ground_pit *pit = &out.pits[0];
    assert_int_equal(pit->limits[0].kind, LIMIT_COMPACTED);
    assert_near(pit->limits[0].top_cm, 15, 0);
    assert_near(pit->limits[0].bottom_cm, 45, 0);
    assert_near(pit->loosen_to_cm, 45, 0);
    assert_non_null(strstr(pit->statement, "compacted 15–45 cm: 3.1 MPa"));
    assert_non_null(strstr(pit->statement, "rubble 42 % by volume"));
    assert_non_null(strstr(pit->statement, "Loosen to 45 cm"));
    arena_clear(&arena);
}

static void dry_penetrometer_readings_do_not_count(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct soil_sample s = sample_make(0, 60);
    s.penetration_mpa = 4.5;
    s.near_field_capacity = TRUTH_NO;
    struct ground_judgement out = judge(&s, 1, &arena);
    assert_int_equal(out.pits[0].n_limits, 0);
    assert_int_equal(out.pits[0].loosening, TRUTH_UNKNOWN);
    assert_non_null(strstr(out.pits[0].statement, "not comparable"));
    s.near_field_capacity = TRUTH_YES;
    out = judge(&s, 1, &arena);
    assert_int_equal(out.pits[0].loosening, TRUTH_YES);
    const char *words = NULL;
    assert_int_equal(penetration_judge(4.5, TRUTH_UNKNOWN, &words), PENETRATION_NOT_COMPARABLE);
    assert_non_null(strstr(words, "not recorded"));
    arena_clear(&arena);
}

static void zones_are_never_averaged(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct soil_sample samples[] = {clean_loam(0, 60), clean_loam(0, 60), clean_loam(0, 60)};
    samples[1].zone = "B";
    samples[1].bulk_density_g_cm3 = 1.85;
    samples[2].composite = "pit 2";
    struct ground_judgement out = judge(samples, 3, &arena);
    assert_int_equal(out.n_pits, 3);
    size_t yes = 0, no = 0;
    for (size_t i = 0; i < 3; i++) {
        yes += out.pits[i].loosening == TRUTH_YES;
        no += out.pits[i].loosening == TRUTH_NO;
    }
    assert_int_equal(yes, 1);
    assert_int_equal(no, 2);
    assert_non_null(strstr(out.answer, "needed at 1, not needed at 2"));
    arena_clear(&arena);
}

static bool asked(const struct soil_question *all, size_t n, enum question_kind kind, const char *field)
{
    for (size_t i = 0; i < n; i++)
        if (all[i].kind == kind && text_same(all[i].field, field))
            return true;
    return false;
}

static void slips_are_asked_about_and_nothing_is_changed(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct soil_sample samples[] = {clean_loam(0, 30), clean_loam(25, 60), clean_loam(80, 100)};
    samples[0].penetration_mpa = 2400;
    samples[0].soc_pct = 25;
    samples[1].soc_pct = 4;
    samples[1].carbon_method = CARBON_METHOD_LOSS_ON_IGNITION;
    samples[2].soc_pct = 4.8;
    samples[2].loi_pct = 5;
    samples[2].sand_pct = 60;
    size_t n = 0;
    const struct soil_question *all = soil_questions(samples, 3, &arena, &n);
    assert_true(asked(all, n, QUESTION_UNIT, "penetration_mpa"));
    assert_true(asked(all, n, QUESTION_UNIT, "soc_pct"));
    assert_true(asked(all, n, QUESTION_METHOD, "soc_pct"));
    assert_true(asked(all, n, QUESTION_LAYER_OVERLAP, "depth_top_cm"));
    assert_true(asked(all, n, QUESTION_LAYER_GAP, "depth_top_cm"));
    assert_true(asked(all, n, QUESTION_SUM, "sand_pct"));
    assert_near(samples[0].penetration_mpa, 2400, 0);
    arena_clear(&arena);
}

static void samples_given_in_any_order_say_the_same(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct soil_sample forward[] = {clean_loam(0, 30), clean_loam(30, 60), clean_loam(60, 100)}, back[3];
    forward[1].bulk_density_g_cm3 = 1.9;
    for (int i = 0; i < 3; i++)
        back[i] = forward[2 - i];
    assert_string_equal(judge(forward, 3, &arena).answer, judge(back, 3, &arena).answer);
    arena_clear(&arena);
}

/* Every point of a grid has one class, and small noise in the sum within the tolerance does not refuse it. */
static void the_triangle_is_covered(void **state)
{
    (void)state;
    size_t seen[TEXTURE_COUNT] = {0};
    for (int sand = 0; sand <= 100; sand++)
        for (int clay = 0; sand + clay <= 100; clay++) {
            enum texture class = TEXTURE_UNKNOWN, by_two = TEXTURE_UNKNOWN;
            assert_int_equal(texture_of(sand, 100 - sand - clay, clay, 0.5, &class, NULL), OUTCOME_OK);
            assert_int_equal(texture_of(sand, unknown_real(), clay, 0.5, &by_two, NULL), OUTCOME_OK);
            assert_int_equal(class, by_two);
            seen[class]++;
        }
    for (int i = 1; i < TEXTURE_COUNT; i++)
        assert_true(seen[i] > 0);
    for (int i = 1; i < TEXTURE_COUNT; i++) {
        double sand = 0, clay = 0;
        enum texture class = TEXTURE_UNKNOWN;
        assert_true(texture_midpoint((enum texture)i, &sand, &clay));
        assert_int_equal(texture_of(sand, 100 - sand - clay, clay, 0.5, &class, NULL), OUTCOME_OK);
        assert_int_equal(class, i);
    }
}

static void density_never_leaves_saturation_below_field_capacity(void **state)
{
    (void)state;
    double none = unknown_real();
    for (int sand = 0; sand <= 90; sand += 10)
        for (int clay = 5; sand + clay <= 100 && clay <= 60; clay += 5)
            for (double density = 0.8; density < 2.2; density += 0.1) {
                struct soil_water_input in = {sand, clay, 2, density, none, 0};
                struct soil_water out;
                if (soil_water(&in, &out, NULL) != OUTCOME_OK)
                    continue;
                if ((out.flags & SOIL_NO_AIR_SPACE) != 0)
                    assert_false(is_known(out.field_capacity));
                else
                    assert_true(out.saturation > out.field_capacity && out.field_capacity > out.wilting_point);
            }
}

static void quantities_scale_with_area_and_unknown_stays_unknown(void **state)
{
    (void)state;
    struct preparation p;
    noun_init(NOUN_PREPARATION, &p);
    p.loosened_depth_m = 0.8;
    p.bulking_factor = 1.3;
    p.settlement_pct = 15;
    p.compost_depth_m = 0.05;
    p.compost_density_t_m3 = 0.55;
    p.compost_n_kg_t = 7.5;
    struct preparation_site site;
    preparation_site_init(&site);
    struct preparation_quantities one, two;
    site.area_m2 = 100;
    assert_int_equal(preparation_quantities(&p, &site, &one, NULL), OUTCOME_OK);
    site.area_m2 = 200;
    assert_int_equal(preparation_quantities(&p, &site, &two, NULL), OUTCOME_OK);
    assert_near(two.loosened_m3, 2 * one.loosened_m3, 1e-9);
    assert_near(two.nitrogen_kg, 2 * one.nitrogen_kg, 1e-9);
    assert_near(two.nitrogen_kg_ha, one.nitrogen_kg_ha, 1e-9);
    assert_false(is_known(one.mulch_m3));
    assert_false(is_known(one.water_m3_year));
    assert_false(is_known(one.fence_m));
    p.mulch_depth_m = 0;
    assert_int_equal(preparation_quantities(&p, &site, &one, NULL), OUTCOME_OK);
    assert_near(one.mulch_m3, 0, 0);
    bool services = false;
    for (size_t i = 0; i < one.n_warnings; i++)
        services = services || strstr(one.warnings[i].words, "not checked") != NULL;
    assert_true(services);
    struct preparation_prices prices = {720, unknown_real(), 31, 22, 240, 85};
    const char *missing = NULL;
    p.fence_m = 40;
    assert_int_equal(preparation_quantities(&p, &site, &one, NULL), OUTCOME_OK);
    assert_false(is_known(preparation_cost(&one, &prices, 1, 0, &missing)));
    assert_string_equal(missing, "compost per m³");
    prices.compost_m3 = 38;
    assert_near(preparation_cost(&one, &prices, 1, 0, &missing), 200.0 / 150 * 720 + 10 * 38 + 40 * 22 + 240, 1e-9);
}

/* Compost over subsoil: the plain spline overshoots here, the filtered one may not. */
static void the_filtered_spline_stays_monotone(void **state)
{
    (void)state;
    struct random_stream r = random_make(7, 0);
    bool plain_overshoots = false;
    for (int round = 0; round < 200; round++) {
        double x[7] = {0}, y[7] = {0}, slope[7], plain[7];
        size_t n = 3 + (size_t)random_below(&r, 5);
        for (size_t i = 1; i < n; i++) {
            x[i] = x[i - 1] + 0.05 + random_uniform(&r);
            y[i] = y[i - 1] + (random_uniform(&r) < 0.4 ? 0.001 : 10 * random_uniform(&r));
        }
        assert_int_equal(spline_fit(x, y, n, true, slope, NULL), OUTCOME_OK);
        assert_int_equal(spline_fit(x, y, n, false, plain, NULL), OUTCOME_OK);
        double before = y[0], before_plain = y[0];
        for (int k = 1; k <= 500; k++) {
            double at = x[n - 1] * k / 500, value = spline_at(x, y, slope, n, fmin(at, x[n - 1])),
                   other = spline_at(x, y, plain, n, fmin(at, x[n - 1]));
            assert_true(value >= before - 1e-9);
            plain_overshoots = plain_overshoots || other < before_plain - 1e-6;
            before = value;
            before_plain = other;
        }
    }
    assert_true(plain_overshoots);
}

static void nothing_is_extrapolated(void **state)
{
    (void)state;
    double mass[] = {1000, 2000}, stock[] = {20, 30}, out = 0;
    assert_int_equal(carbon_at_mass(mass, stock, 2, 2500, CARBON_MONOTONE, &out, NULL), OUTCOME_OK);
    assert_false(is_known(out));
    struct carbon_layer layers[] = {{0, 10, 2, unknown_real(), 1.2, 0}, {15, 30, 1, unknown_real(), 1.3, 0}};
    double fixed[2];
    struct failure why = {0};
    assert_int_equal(carbon_fixed_depth(layers, 2, fixed, &why), OUTCOME_DATA);
    layers[1].top_cm = 10;
    layers[1].stones_pct = unknown_real();
    assert_int_equal(carbon_fixed_depth(layers, 2, fixed, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "Stones"));
}

static void alternatives_stand_side_by_side_and_may_be_nothing(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct soil_sample open[] = {clean_loam(0, 30), clean_loam(30, 70)}, hard[] = {clean_loam(0, 30), clean_loam(30, 70)};
    hard[1].bulk_density_g_cm3 = 1.85;
    struct preparation list[4];
    const double depths[] = {0, 0.5, 0.8, 80};
    for (int i = 0; i < 4; i++) {
        noun_init(NOUN_PREPARATION, &list[i]);
        list[i].loosened_depth_m = depths[i];
        list[i].bulking_factor = 1.3;
        list[i].settlement_pct = 15;
        list[i].compost_depth_m = list[i].mulch_depth_m = 0;
        list[i].fence_m = 40;
    }
    struct preparation_site site;
    preparation_site_init(&site);
    site.area_m2 = 150;
    struct preparation_prices prices = {720, 38, 31, 22, 240, 85};
    struct ground_judgement judged = judge(open, 2, &arena);
    const struct preparation_alternative *out = preparation_compare(list, 4, &site, &prices, 0, 0, judged.pits, 1, &arena);
    assert_non_null(strstr(out[0].words, "no deep loosening is needed"));
    assert_non_null(strstr(out[2].words, "say why"));
    assert_near(out[0].cost, 880, 1e-9);
    assert_near(out[2].cost, 880 + 720, 1e-9);
    assert_false(out[3].possible);
    assert_non_null(strstr(out[3].why.remedy, "80 cm"));
    judged = judge(hard, 2, &arena);
    out = preparation_compare(list, 4, &site, &prices, 0, 0, judged.pits, 1, &arena);
    assert_non_null(strstr(out[0].words, "Leaves the compacted layer"));
    assert_non_null(strstr(out[1].words, "Stops at 50 cm"));
    assert_non_null(strstr(out[2].words, "Goes through"));
    out = preparation_compare(list, 1, &site, &prices, 0, 0, NULL, 0, &arena);
    assert_non_null(strstr(out[0].words, "not surveyed"));
    arena_clear(&arena);
}

static void carbon_of_zones_stays_apart_and_compost_is_not_a_gain(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct soil_sample samples[13];
    static const char *const names[] = {"a", "b", "c"};
    const double carbon[] = {1.5, 1.7, 1.6, 3.4, 3.6, 3.5, 3.3, 3.6, 3.4};
    for (int i = 0; i < 9; i++) {
        samples[i] = sample_make(0, 30);
        samples[i].composite = names[i % 3];
        samples[i].time_point = i < 3 ? TIME_POINT_BEFORE_WORKS : i < 6 ? TIME_POINT_AFTER_AMENDMENT : TIME_POINT_FOLLOW_UP;
        samples[i].sampled_on = date_make(2020 + i / 3, 3, 1);
        samples[i].soc_pct = carbon[i];
        samples[i].stones_pct = 5;
    }
    for (int i = 9; i < 12; i++) { /* rings carry the density of each time */
        samples[i] = samples[3 * (i - 9)];
        samples[i].composite = "ring";
        samples[i].soc_pct = unknown_real();
        samples[i].bulk_density_g_cm3 = 1.4 - 0.1 * (i - 9);
    }
    samples[12] = samples[0];
    samples[12].zone = "B";
    samples[12].soc_pct = 9;
    samples[12].bulk_density_g_cm3 = unknown_real();
    struct carbon_survey out;
    assert_int_equal(carbon_survey(samples, 13, 0.95, &arena, &out, NULL), OUTCOME_OK);
    assert_int_equal(out.n_differences, 3);
    assert_string_equal(out.differences[0].what, "added");
    assert_true(out.differences[0].mass > 25 && out.differences[0].mass_low > 0);
    assert_string_equal(out.differences[2].what, "gained");
    assert_true(out.differences[2].mass_low < 0 && out.differences[2].mass_high > 0);
    assert_non_null(strstr(out.differences[2].words, "No difference seen"));
    assert_near(out.rounds[0].fixed_mean, 1.6 * 1.4 * 30 * 0.95, 1e-9);
    assert_int_equal(out.rounds[out.n_rounds - 1].composites, 0); /* zone B has no density, and takes none from A */
    assert_int_equal(out.rounds[out.n_rounds - 1].left_out, 1);
    for (int i = 3; i < 6; i++)
        samples[i].soc_pct = unknown_real();
    assert_int_equal(carbon_survey(samples, 12, 0.95, &arena, &out, NULL), OUTCOME_OK);
    assert_int_equal(out.n_differences, 1);
    assert_non_null(strstr(out.notes[0], "cannot be told"));
    for (int i = 0; i < 12; i++)
        samples[i].carbon_method = CARBON_METHOD_LOSS_ON_IGNITION;
    struct failure why;
    assert_int_equal(carbon_survey(samples, 12, 0.95, &arena, &out, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.remedy, "dry combustion"));
    arena_clear(&arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(clean_loam_needs_no_deep_loosening),
        cmocka_unit_test(what_was_not_measured_is_not_known),
        cmocka_unit_test(compacted_layers_join_and_give_the_depth),
        cmocka_unit_test(dry_penetrometer_readings_do_not_count),
        cmocka_unit_test(zones_are_never_averaged),
        cmocka_unit_test(slips_are_asked_about_and_nothing_is_changed),
        cmocka_unit_test(samples_given_in_any_order_say_the_same),
        cmocka_unit_test(the_triangle_is_covered),
        cmocka_unit_test(density_never_leaves_saturation_below_field_capacity),
        cmocka_unit_test(quantities_scale_with_area_and_unknown_stays_unknown),
        cmocka_unit_test(the_filtered_spline_stays_monotone),
        cmocka_unit_test(nothing_is_extrapolated),
        cmocka_unit_test(alternatives_stand_side_by_side_and_may_be_nothing),
        cmocka_unit_test(carbon_of_zones_stays_apart_and_compost_is_not_a_gain),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
