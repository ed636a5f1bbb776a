/* SPDX-License-Identifier: GPL-3.0-or-later
 * What planting keeps away from, what is left to plant, open questions, and cautions. */
#include "site/site.h"
#include "../testlib.h"

static struct arena arena;
static struct failure why;
static struct site site;
static struct constraint constraints[8];
static struct site_check checks[64];
static struct local_rule local[8];
static struct site_facts facts;

static int setup(void **state)
{
    (void)state;
    noun_init(NOUN_SITE, &site);
    site.id = 1;
    memset(&why, 0, sizeof why);
    for (size_t i = 0; i < 8; i++) {
        noun_init(NOUN_CONSTRAINT, &constraints[i]);
        constraints[i].site_id = 1;
        noun_init(NOUN_LOCAL_RULE, &local[i]);
    }
    for (size_t i = 0; i < 64; i++) {
        noun_init(NOUN_SITE_CHECK, &checks[i]);
        checks[i].site_id = 1;
    }
    facts =
        (struct site_facts){.site = &site, .constraints = constraints, .checks = checks, .rules = local, .today = date_make(2025, 11, 1)};
    return 0;
}

static int clear(void **state)
{
    (void)state;
    arena_clear(&arena);
    return 0;
}

static struct constraint *point_add(enum constraint_kind kind, double x, double y)
{
    struct constraint *c = &constraints[facts.n_constraints++];
    struct shape shape = shape_points(&arena, (double[]){x, y}, 1);
    c->kind = kind;
    c->wkb = shape_to_wkb(&shape, &arena);
    return c;
}

static struct constraint *box_add(enum constraint_kind kind, double x, double y, double width, double height)
{
    struct constraint *c = &constraints[facts.n_constraints++];
    struct shape shape = shape_rectangle(&arena, x, y, width, height, 0);
    c->kind = kind;
    c->wkb = shape_to_wkb(&shape, &arena);
    return c;
}

static void check_add(enum check_topic topic, enum check_state state, int32_t day)
{
    struct site_check *check = &checks[facts.n_checks++];
    check->topic = topic;
    check->state = state;
    check->replied_on = day;
    check->replied_by = "operator A";
}

static void all_clear(int32_t day)
{
    for (int t = 1; t < CHECK_TOPIC_COUNT; t++)
        check_add((enum check_topic)t, CHECK_STATE_CLEAR, day);
}

static const struct site_caution *caution(const char *code, const struct site_plan *plan)
{
    struct site_caution *list = NULL;
    assert_int_equal(site_cautions(&facts, plan, &arena, &list, &why), OUTCOME_OK);
    for (size_t i = 0; i < SITE_CAUTIONS; i++)
        if (strcmp(list[i].code, code) == 0)
            return &list[i];
    fail_msg("no caution %s", code);
    return NULL;
}

/* F07; BS 5837:2012: 0.8 m stem, 9.6 m; 1.4 m stem, capped at 15 m. */
static void a_tree_draws_its_root_protection_area_and_reports_the_overlap(void **state)
{
    (void)state;
    point_add(CONSTRAINT_KIND_EXISTING_TREE, 400000, 300000)->stem_diameter_m = 0.8;
    point_add(CONSTRAINT_KIND_EXISTING_TREE, 400500, 300000)->stem_diameter_m = 1.4;
    struct shape plot = shape_rectangle(&arena, 400000, 300000, 30, 30, 0);
    struct site_net net;
    assert_int_equal(site_net_off(&facts, &plot, &arena, &net, &why), OUTCOME_OK);
    assert_near(net.zones[0].standoff_m, 9.6, 1e-9);
    assert_near(net.zones[1].standoff_m, 15, 1e-9);
    assert_non_null(strstr(net.zones[1].figures, "capped at 15 m"));
    double quarter = 3.141592653589793 * 9.6 * 9.6 / 4;
    assert_near(net.zones[0].root_overlap_m2, quarter, 0.05);
    assert_near(net.root_overlap_m2, quarter, 0.05);
    assert_near(net.net_m2, 900 - quarter, 0.05);
    assert_near(net.zones[1].alone_m2, 0, 0);
}

static void a_stem_typed_in_centimetres_is_refused_with_the_figure_in_metres(void **state)
{
    (void)state;
    point_add(CONSTRAINT_KIND_EXISTING_TREE, 0, 0)->stem_diameter_m = 80;
    struct site_zone *zones;
    size_t n;
    assert_int_equal(site_zones(&facts, &arena, &zones, &n, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "80 m is not possible"));
    assert_non_null(strstr(why.remedy, "0.8"));
    assert_int_equal(why.row, 1);
}

static void two_zones_that_overlap_are_netted_off_once(void **state)
{
    (void)state;
    struct constraint *a = box_add(CONSTRAINT_KIND_SOFT_EXCLUSION, 400000, 300000, 10, 30);
    box_add(CONSTRAINT_KIND_SOFT_EXCLUSION, 400005, 300000, 10, 30);
    (void)a;
    struct shape plot = shape_rectangle(&arena, 400000, 300000, 30, 30, 0);
    struct site_net net;
    assert_int_equal(site_net_off(&facts, &plot, &arena, &net, &why), OUTCOME_OK);
    assert_near(net.zones[0].alone_m2, 300, 1e-6);
    assert_near(net.zones[1].alone_m2, 300, 1e-6);
    assert_near(net.zones[1].more_m2, 150, 1e-6);
    assert_near(net.net_m2, 450, 1e-6);
    assert_near(net.least_width_m, 15, 0.05);
}

static void a_service_without_a_figure_is_drawn_but_never_cleared(void **state)
{
    (void)state;
    all_clear(date_make(2025, 10, 1));
    struct constraint *gas = point_add(CONSTRAINT_KIND_BURIED_SERVICE, 400010, 300010);
    gas->service = SERVICE_KIND_GAS;
    struct shape plot = shape_rectangle(&arena, 400000, 300000, 30, 30, 0);
    struct site_net net;
    assert_int_equal(site_net_off(&facts, &plot, &arena, &net, &why), OUTCOME_OK);
    assert_false(net.zones[0].figure_known);
    assert_false(net.figures_complete);
    assert_near(net.zones[0].standoff_m, 6, 0);
    assert_non_null(strstr(net.zones[0].remark, "clears nothing"));
    /* The operator's figure settles it. */
    struct local_rule *rule = &local[facts.n_rules++];
    rule->topic = "standoff.buried_service.gas";
    rule->value_num = 4;
    rule->unit = "m";
    rule->said_by = "gas operator";
    rule->said_on = date_make(2025, 9, 1);
    assert_int_equal(site_net_off(&facts, &plot, &arena, &net, &why), OUTCOME_OK);
    assert_true(net.zones[0].figure_known);
    assert_true(net.figures_complete);
    assert_near(net.zones[0].standoff_m, 4, 0);
    assert_non_null(strstr(net.zones[0].source, "gas operator, 2025-09-01"));
    gas->standoff_m = 8;
    gas->standoff_source = "letter of 3 October";
    assert_int_equal(site_net_off(&facts, &plot, &arena, &net, &why), OUTCOME_OK);
    assert_near(net.zones[0].standoff_m, 8, 0);
    assert_string_equal(net.zones[0].source, "letter of 3 October");
}

static void no_drawing_and_no_reply_is_not_checked(void **state)
{
    (void)state;
    struct shape plot = shape_rectangle(&arena, 400000, 300000, 30, 30, 0);
    struct site_net net;
    struct site_plan plan = site_plan_new();
    assert_int_equal(site_net_off(&facts, &plot, &arena, &net, &why), OUTCOME_OK);
    assert_false(net.figures_complete);
    assert_true(net.n_open >= 2);
    assert_non_null(strstr(net.open[0], "services: not checked"));
    plan.outline = &plot;
    const struct site_caution *c = caution("C01", &plan);
    assert_int_equal(c->state, CAUTION_NOT_CHECKED);
    assert_non_null(strstr(c->figures, "services: not checked"));
}

static void a_rule_in_another_unit_is_refused(void **state)
{
    (void)state;
    point_add(CONSTRAINT_KIND_BUILDING, 0, 0);
    struct local_rule *rule = &local[facts.n_rules++];
    rule->topic = "standoff.building";
    rule->value_num = 20;
    rule->unit = "ft";
    struct site_zone *zones;
    size_t n;
    assert_int_equal(site_zones(&facts, &arena, &zones, &n, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "ft"));
}

static void the_sites_own_newest_rule_beats_the_programmes(void **state)
{
    (void)state;
    point_add(CONSTRAINT_KIND_BUILDING, 0, 0);
    const struct {
        int64_t site;
        double metres;
        int32_t day;
    } said[] = {{0, 9, date_make(2025, 5, 1)}, {1, 7, date_make(2024, 5, 1)}, {1, 6, date_make(2023, 5, 1)}, {2, 3, date_make(2025, 9, 1)}};
    for (size_t i = 0; i < 4; i++) {
        struct local_rule *rule = &local[facts.n_rules++];
        rule->site_id = said[i].site;
        rule->topic = "standoff.building";
        rule->value_num = said[i].metres;
        rule->said_on = said[i].day;
    }
    struct site_zone *zones;
    size_t n;
    assert_int_equal(site_zones(&facts, &arena, &zones, &n, &why), OUTCOME_OK);
    assert_near(zones[0].standoff_m, 7, 0);
    assert_near(zones[0].default_m, 5, 0);
}

static const struct site_plant hawthorn = {.name = "Crataegus monogyna",
                                           .layer = LAYER_SHRUB,
                                           .mature_height_m = 10,
                                           .clay_height_m = 10,
                                           .water_demand = WATER_DEMAND_HIGH,
                                           .thorny = TRUTH_YES};
static const struct site_plant birch = {.name = "Betula pendula",
                                        .layer = LAYER_CANOPY,
                                        .mature_height_m = 25,
                                        .clay_height_m = 14,
                                        .water_demand = WATER_DEMAND_LOW,
                                        .thorny = TRUTH_NO};

/* F08: unknown clay still counts, labelled; hawthorn 10 m from a building: 10 × 1.25 = 12.5 m (NHBC 4.2). */
static void hawthorn_by_a_building_is_flagged_if_clay(void **state)
{
    (void)state;
    box_add(CONSTRAINT_KIND_BUILDING, 400000, 300000, 20, 10)->label = "the ward block";
    const struct site_plant plants[] = {hawthorn, birch};
    struct site_keep *keeps;
    size_t n;
    assert_int_equal(site_species_distance(&facts, &hawthorn, &arena, &keeps, &n, &why), OUTCOME_OK);
    assert_near(keeps[0].metres, 12.5, 1e-9);
    assert_true(keeps[0].if_clay);
    assert_non_null(strstr(keeps[0].why, "not checked"));
    struct site_watch *watch = NULL;
    assert_int_equal(site_watch_new(&facts, plants, 2, &watch, &why), OUTCOME_OK);
    struct site_answer answer = site_watch_ask(watch, 0, 400010, 300020);
    assert_false(answer.allowed);
    assert_near(answer.distance_m, 10, 1e-9);
    assert_near(answer.clearance_m, -2.5, 1e-9);
    answer = site_watch_ask(watch, 1, 400010, 300020); /* birch: 0.5 × 14 = 7 m */
    assert_true(answer.allowed);
    assert_near(answer.keep_m, 7, 1e-9);
    site_watch_free(watch);
    site.clay = CLAY_STATE_NOT_SHRINKABLE;
    assert_int_equal(site_species_distance(&facts, &hawthorn, &arena, &keeps, &n, &why), OUTCOME_OK);
    assert_near(keeps[0].metres, 5, 1e-9);
    assert_false(keeps[0].if_clay);
}

static void zones_by_species_forbid_exactly_those_that_reach_farther(void **state)
{
    (void)state;
    box_add(CONSTRAINT_KIND_BUILDING, 400000, 300000, 20, 10);
    box_add(CONSTRAINT_KIND_PATH, 400000, 300100, 50, 2);
    const struct site_plant plants[] = {hawthorn, birch};
    struct site_species_zone *zones;
    size_t n;
    assert_int_equal(site_species_zones(&facts, plants, 2, &arena, &zones, &n, &why), OUTCOME_OK);
    assert_int_equal(n, 3); /* building at 7 m and 12.5 m, path at 2 m */
    assert_near(zones[0].metres, 7, 1e-9);
    assert_true(zones[0].forbids[0] && zones[0].forbids[1]);
    assert_near(zones[1].metres, 12.5, 1e-9);
    assert_true(zones[1].forbids[0] && !zones[1].forbids[1]);
    assert_near(zones[2].metres, 2, 1e-9);
    assert_true(zones[2].forbids[0] && !zones[2].forbids[1]);
    assert_true(shape_contains(&zones[1].ground, 400010, 300022));
    assert_false(shape_contains(&zones[1].ground, 400010, 300023));
    /* The watch and the zones agree on a grid of places. */
    struct site_watch *watch = NULL;
    assert_int_equal(site_watch_new(&facts, plants, 2, &watch, &why), OUTCOME_OK);
    for (int i = 0; i < 40; i++)
        for (int k = 0; k < 40; k++) {
            double x = 399990 + i * 1.01, y = 299990 + k * 1.01;
            bool in_zone = shape_contains(&zones[1].ground, x, y), allowed = site_watch_ask(watch, 0, x, y).allowed;
            assert_false(in_zone && allowed);
        }
    site_watch_free(watch);
}

/* F02: a services reply dated 140 days ago is stale; the limit can be changed. */
static void an_old_services_reply_is_stale(void **state)
{
    (void)state;
    check_add(CHECK_TOPIC_SERVICES, CHECK_STATE_CLEAR, facts.today - 140);
    struct site_topic *topics;
    size_t n;
    assert_int_equal(site_register(&facts, &arena, &topics, &n, &why), OUTCOME_OK);
    assert_int_equal(n, CHECK_TOPIC_COUNT - 1);
    assert_true(topics[0].stale);
    assert_false(topics[0].passes);
    assert_non_null(strstr(topics[0].words, "stale since"));
    assert_int_equal(topics[0].stale_on, facts.today - 50);
    local[0].topic = "stale_days.services";
    local[0].value_num = 180;
    facts.n_rules = 1;
    assert_int_equal(site_register(&facts, &arena, &topics, &n, &why), OUTCOME_OK);
    assert_false(topics[0].stale);
    assert_true(topics[0].passes);
}

static void not_applicable_needs_a_reason(void **state)
{
    (void)state;
    checks[0].topic = CHECK_TOPIC_RAILWAY;
    checks[0].state = CHECK_STATE_NOT_APPLICABLE;
    facts.n_checks = 1;
    assert_int_equal(site_check_sound(&checks[0], &why), OUTCOME_DATA);
    struct site_topic *topics;
    size_t n;
    assert_int_equal(site_register(&facts, &arena, &topics, &n, &why), OUTCOME_OK);
    assert_false(topics[CHECK_TOPIC_RAILWAY - 1].passes);
    checks[0].reason = "no railway within 2 km";
    assert_int_equal(site_check_sound(&checks[0], &why), OUTCOME_OK);
    assert_int_equal(site_register(&facts, &arena, &topics, &n, &why), OUTCOME_OK);
    assert_true(topics[CHECK_TOPIC_RAILWAY - 1].passes);
}

/* F01: "ready to dig" without services replies is refused, with the missing items. */
static void the_gate_to_digging_lists_what_is_missing(void **state)
{
    (void)state;
    struct site_gate gate;
    all_clear(date_make(2025, 10, 1));
    assert_int_equal(site_stage_gate(&facts, STAGE_READY_TO_DIG, &arena, &gate, &why), OUTCOME_OK);
    assert_true(gate.open);
    checks[CHECK_TOPIC_SERVICES - 1].state = CHECK_STATE_ASKED;
    assert_int_equal(site_stage_gate(&facts, STAGE_READY_TO_DIG, &arena, &gate, &why), OUTCOME_OK);
    assert_false(gate.open);
    assert_int_equal(gate.n_missing, 1);
    assert_non_null(strstr(gate.missing[0], "services"));
    facts.n_checks = 0;
    assert_int_equal(site_stage_gate(&facts, STAGE_READY_TO_DIG, &arena, &gate, &why), OUTCOME_OK);
    assert_int_equal(gate.n_missing, 16);
    assert_int_equal(site_stage_gate(&facts, STAGE_IDEA, &arena, &gate, &why), OUTCOME_OK);
    assert_true(gate.open);
    assert_int_equal(site_stage_gate(&facts, STAGE_REJECTED, &arena, &gate, &why), OUTCOME_OK);
    assert_false(gate.open);
}

static void one_operator_still_to_answer_holds_the_whole_topic(void **state)
{
    (void)state;
    check_add(CHECK_TOPIC_SERVICES, CHECK_STATE_CLEAR, date_make(2025, 10, 1));
    check_add(CHECK_TOPIC_SERVICES, CHECK_STATE_ASKED, DATE_UNKNOWN);
    struct site_topic *topics;
    size_t n;
    assert_int_equal(site_register(&facts, &arena, &topics, &n, &why), OUTCOME_OK);
    assert_int_equal(topics[0].state, CHECK_STATE_ASKED);
    assert_int_equal(topics[0].n_checks, 2);
    assert_false(topics[0].passes);
}

static void with_nothing_recorded_no_caution_says_no_trigger(void **state)
{
    (void)state;
    struct site_plan plan = site_plan_new();
    struct site_caution *list = NULL;
    assert_int_equal(site_cautions(&facts, &plan, &arena, &list, &why), OUTCOME_OK);
    for (size_t i = 0; i < SITE_CAUTIONS; i++) {
        char code[8];
        snprintf(code, sizeof code, "C%02zu", i + 1);
        assert_string_equal(list[i].code, code);
        assert_true(list[i].state != CAUTION_NO_TRIGGER);
        assert_true(list[i].words[0] != '\0' && list[i].defer[0] != '\0' && list[i].figures[0] != '\0' && list[i].moments != 0);
        assert_null(strstr(list[i].words, "safe "));
        assert_null(strstr(list[i].figures, "safe"));
    }
}

static void cautions_carry_the_numbers_that_raised_them(void **state)
{
    (void)state;
    struct shape plot = shape_rectangle(&arena, 400000, 300000, 30, 30, 0);
    const struct site_plant plants[] = {hawthorn, birch};
    struct preparation preparation;
    noun_init(NOUN_PREPARATION, &preparation);
    preparation.loosened_depth_m = 0.8;
    preparation.compost_depth_m = 0.05;
    preparation.mulch_depth_m = 0.1;
    preparation.mulch_kind = "straw";
    preparation.mound_m = 0.3;
    box_add(CONSTRAINT_KIND_BUILDING, 400040, 300000, 10, 10)->label = "school";
    box_add(CONSTRAINT_KIND_ROAD, 400000, 299990, 30, 9);
    point_add(CONSTRAINT_KIND_EXISTING_TREE, 400000, 300035)->stem_diameter_m = 0.5;
    struct site_plan plan = site_plan_new();
    plan.outline = &plot;
    plan.plants = plants;
    plan.n_plants = 2;
    plan.preparation = &preparation;
    plan.month_from = 11;
    plan.month_to = 2;
    plan.species_per_m2 = 11;
    plan.n_sites = 1;
    site.history = "Old gas works, later wash house";
    const struct {
        const char *code;
        enum caution_state state;
        const char *words;
    } cases[] = {{"C03", CAUTION_RAISED, "gas work"},
                 {"C06", CAUTION_RAISED, "1 m from the plot"},
                 {"C07", CAUTION_RAISED, "12.5 m"},
                 {"C08", CAUTION_RAISED, "6 m"},
                 {"C10", CAUTION_RAISED, "135 m³"},
                 {"C11", CAUTION_RAISED, "0.8 m"},
                 {"C12", CAUTION_RAISED, "25 m"},
                 {"C13", CAUTION_RAISED, "Crataegus"},
                 {"C20", CAUTION_NOT_CHECKED, "protected species"},
                 {"C21", CAUTION_RAISED, "11 plant species"},
                 {"C24", CAUTION_RAISED, "0.3 m"},
                 {"C26", CAUTION_RAISED, "straw"},
                 {"C31", CAUTION_RAISED, "1 site;"}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        const struct site_caution *c = caution(cases[i].code, &plan);
        if (c->state != cases[i].state || strstr(c->figures, cases[i].words) == NULL)
            fail_msg("%s is %d: %s", c->code, (int)c->state, c->figures);
    }
    plan.month_to = 4;
    assert_int_equal(caution("C20", &plan)->state, CAUTION_RAISED);
}

/* The species keeps from a line of unknown depth, an overhead line, and a veteran tree without a stem. */
static void unknown_figures_stay_unknown(void **state)
{
    (void)state;
    struct site_plant unknown = {.name = "Sorbus", .mature_height_m = unknown_real(), .clay_height_m = unknown_real()};
    point_add(CONSTRAINT_KIND_OVERHEAD_LINE, 0, 0);
    point_add(CONSTRAINT_KIND_VETERAN_TREE, 100, 0)->canopy_radius_m = 6;
    point_add(CONSTRAINT_KIND_BUILDING, 200, 0);
    point_add(CONSTRAINT_KIND_EXISTING_TREE, 300, 0);
    struct site_keep *keeps;
    size_t n;
    assert_int_equal(site_species_distance(&facts, &unknown, &arena, &keeps, &n, &why), OUTCOME_OK);
    for (size_t i = 0; i < 4; i++)
        assert_false(keeps[i].figure_known);
    assert_near(keeps[1].metres, 11, 1e-9);
    assert_near(keeps[3].metres, 15, 1e-9);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
#define TEST(name) cmocka_unit_test_setup_teardown(name, setup, clear)
        TEST(a_tree_draws_its_root_protection_area_and_reports_the_overlap),
        TEST(a_stem_typed_in_centimetres_is_refused_with_the_figure_in_metres),
        TEST(two_zones_that_overlap_are_netted_off_once),
        TEST(a_service_without_a_figure_is_drawn_but_never_cleared),
        TEST(no_drawing_and_no_reply_is_not_checked),
        TEST(a_rule_in_another_unit_is_refused),
        TEST(the_sites_own_newest_rule_beats_the_programmes),
        TEST(hawthorn_by_a_building_is_flagged_if_clay),
        TEST(zones_by_species_forbid_exactly_those_that_reach_farther),
        TEST(an_old_services_reply_is_stale),
        TEST(not_applicable_needs_a_reason),
        TEST(the_gate_to_digging_lists_what_is_missing),
        TEST(one_operator_still_to_answer_holds_the_whole_topic),
        TEST(with_nothing_recorded_no_caution_says_no_trigger),
        TEST(cautions_carry_the_numbers_that_raised_them),
        TEST(unknown_figures_stay_unknown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
