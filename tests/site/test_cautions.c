/* SPDX-License-Identifier: GPL-3.0-or-later
 * Every one of the thirty-three cautions: what raises it, with its numbers, and what does not. */
#include "site/site.h"
#include "../testlib.h"

static struct arena arena;
static struct failure why;
static struct site site;
static struct constraint constraints[4];
static struct site_check checks[4];
static struct site_facts facts;
static struct site_plan plan;
static struct shape plot;
static struct preparation preparation;
static struct site_plant plants[2];

/* A plot of 30 × 30 m in November, two species, mulch but nothing dug, nothing drawn and nothing asked. */
static void scene(void)
{
    arena_clear(&arena);
    noun_init(NOUN_SITE, &site);
    site.id = 1;
    noun_init(NOUN_PREPARATION, &preparation);
    preparation.loosened_depth_m = preparation.compost_depth_m = preparation.mulch_depth_m = preparation.mound_m = 0;
    for (size_t i = 0; i < 4; i++) {
        noun_init(NOUN_CONSTRAINT, &constraints[i]);
        noun_init(NOUN_SITE_CHECK, &checks[i]);
        constraints[i].site_id = checks[i].site_id = 1;
    }
    plants[0] = (struct site_plant){"Betula pendula", LAYER_CANOPY, 25, 14, WATER_DEMAND_LOW, TRUTH_NO, NULL};
    plants[1] = (struct site_plant){"Corylus avellana", LAYER_SHRUB, 8, 8, WATER_DEMAND_LOW, TRUTH_NO, NULL};
    facts = (struct site_facts){.site = &site, .constraints = constraints, .checks = checks, .today = date_make(2026, 11, 1)};
    plot = shape_rectangle(&arena, 400000, 300000, 30, 30, 0);
    plan = site_plan_new();
    plan.outline = &plot;
    plan.preparation = &preparation;
    plan.plants = plants;
    plan.n_plants = 2;
    plan.month_from = plan.month_to = 11;
    plan.volunteers = plan.children = TRUTH_NO;
}
/* A thing `away` metres east of the plot. */
static struct constraint *thing(enum constraint_kind kind, double away)
{
    struct constraint *c = &constraints[facts.n_constraints++];
    struct shape shape = kind == CONSTRAINT_KIND_EXISTING_TREE || kind == CONSTRAINT_KIND_VETERAN_TREE
                             ? shape_points(&arena, (double[]){400030 + away, 300015}, 1)
                             : shape_rectangle(&arena, 400030 + away, 300000, 5, 30, 0);
    c->kind = kind;
    c->wkb = shape_to_wkb(&shape, &arena);
    return c;
}
static void reply(enum check_topic topic, enum check_state state)
{
    struct site_check *c = &checks[facts.n_checks++];
    c->topic = topic;
    c->state = state;
    c->replied_by = "the office asked";
    c->replied_on = date_make(2026, 10, 20);
}

static void clear_services(void)
{
    reply(CHECK_TOPIC_SERVICES, CHECK_STATE_CLEAR);
}
static void gas_main(void)
{
    thing(CONSTRAINT_KIND_BURIED_SERVICE, 12)->service = SERVICE_KIND_GAS;
}
static void line_29(void)
{
    thing(CONSTRAINT_KIND_OVERHEAD_LINE, 29);
}
static void line_31(void)
{
    thing(CONSTRAINT_KIND_OVERHEAD_LINE, 31);
    reply(CHECK_TOPIC_OVERHEAD_LINES, CHECK_STATE_CLEAR);
}
static void tannery(void)
{
    site.history = "Tannery until 1931";
}
static void sheets(void)
{
    site.history = "cement sheet in the hedge";
}
static void needles(void)
{
    site.sharps = TRUTH_YES;
}
static void no_needles(void)
{
    site.sharps = TRUTH_NO;
}
static void road_near(void)
{
    thing(CONSTRAINT_KIND_ROAD, 1.5);
}
static void road_far(void)
{
    thing(CONSTRAINT_KIND_ROAD, 40);
    reply(CHECK_TOPIC_HIGHWAY, CHECK_STATE_CLEAR);
}
static void oak_near_house(void)
{
    thing(CONSTRAINT_KIND_BUILDING, 20)->label = "school";
    plants[0] = (struct site_plant){"Quercus robur", LAYER_CANOPY, 40, 20, WATER_DEMAND_HIGH, TRUTH_NO, NULL};
    site.clay = CLAY_STATE_SHRINKABLE;
}
static void oak_no_clay(void)
{
    oak_near_house();
    site.clay = CLAY_STATE_NOT_SHRINKABLE;
}
static void oak_clay_unknown(void)
{
    oak_near_house();
    site.clay = CLAY_STATE_UNKNOWN;
}
static void tree_roots(void)
{
    thing(CONSTRAINT_KIND_EXISTING_TREE, 5)->stem_diameter_m = 0.5;
}
static void tree_far(void)
{
    thing(CONSTRAINT_KIND_EXISTING_TREE, 20)->stem_diameter_m = 0.5;
    reply(CHECK_TOPIC_PROTECTED_TREES, CHECK_STATE_CLEAR);
}
static void brook(void)
{
    thing(CONSTRAINT_KIND_WATER, 4);
}
static void brook_far(void)
{
    thing(CONSTRAINT_KIND_WATER, 60);
}
static void compost(void)
{
    preparation.compost_depth_m = 0.05;
}
static void dug(void)
{
    preparation.loosened_depth_m = 0.8;
}
static void path_under_birch(void)
{
    thing(CONSTRAINT_KIND_PATH, 20);
}
static void path_beyond(void)
{
    thing(CONSTRAINT_KIND_PATH, 26);
}
static void thorny(void)
{
    thing(CONSTRAINT_KIND_PLAY_AREA, 8);
    plants[1] = (struct site_plant){"Prunus spinosa", LAYER_SHRUB, 4, 4, WATER_DEMAND_LOW, TRUTH_YES, NULL};
}
static void hogweed(void)
{
    thing(CONSTRAINT_KIND_INVASIVE_PLANT, 3)->label = "giant hogweed";
}
static void no_weeds(void)
{
    reply(CHECK_TOPIC_INVASIVE_PLANTS, CHECK_STATE_CLEAR);
}
static void chemicals(void)
{
    site.chemicals = TRUTH_YES;
}
static void no_chemicals(void)
{
    site.chemicals = TRUTH_NO;
}
static void knotweed(void)
{
    thing(CONSTRAINT_KIND_INVASIVE_PLANT, 11)->label = "knotweed";
}
static void in_april(void)
{
    plan.month_from = 4;
    plan.month_to = 5;
}
static void over_new_year(void)
{
    plan.month_from = 11;
    plan.month_to = 2;
    reply(CHECK_TOPIC_PROTECTED_SPECIES, CHECK_STATE_CLEAR);
}
static void flowers(void)
{
    site.species_per_m2 = 9;
}
static void few_flowers(void)
{
    site.species_per_m2 = 8;
    reply(CHECK_TOPIC_OPEN_HABITAT, CHECK_STATE_CLEAR);
}
static void barrow(void)
{
    thing(CONSTRAINT_KIND_ARCHAEOLOGY, 45);
}
static void no_barrow(void)
{
    reply(CHECK_TOPIC_ARCHAEOLOGY, CHECK_STATE_CLEAR);
}
static void veteran(void)
{
    thing(CONSTRAINT_KIND_VETERAN_TREE, 14)->canopy_radius_m = 6;
}
static void mound(void)
{
    preparation.mound_m = 0.3;
}
static void slope(void)
{
    site.slope_pct = 8;
}
static void dry_flat(void)
{
    reply(CHECK_TOPIC_FLOOD_DRAINAGE, CHECK_STATE_CLEAR);
}
static void straw(void)
{
    preparation.mulch_depth_m = 0.15;
    preparation.mulch_kind = "straw";
}
static void no_mulch(void)
{
    reply(CHECK_TOPIC_FIRE, CHECK_STATE_CLEAR);
}
static void children(void)
{
    plan.children = TRUTH_YES;
}
static void setts(void)
{
    plan.sensitive = 2;
}
static void no_setts(void)
{
    reply(CHECK_TOPIC_PROTECTED_SPECIES, CHECK_STATE_CLEAR);
}
static void lone(void)
{
    site.lone_work = TRUTH_YES;
}
static void trouble(void)
{
    plan.trouble = 3;
}
static void company(void)
{
    site.lone_work = TRUTH_NO;
}
static void one_site(void)
{
    plan.n_sites = 1;
}
static void old(void)
{
    plan.age_years = 6;
}
static void nothing(void)
{
}

static const struct trigger {
    const char *code;
    void (*make)(void);
    enum caution_state state;
    const char *figures; ///< what must stand in its figures
} triggers[] = {
    {"C01", gas_main, CAUTION_RAISED, "12 m"},
    {"C01", clear_services, CAUTION_RAISED, "nobody's reply"},
    {"C01", nothing, CAUTION_NOT_CHECKED, "not checked"},
    {"C02", line_29, CAUTION_RAISED, "29 m"},
    {"C02", line_31, CAUTION_NO_TRIGGER, "overhead lines"},
    {"C03", tannery, CAUTION_RAISED, "tanner"},
    {"C03", nothing, CAUTION_NOT_CHECKED, "contamination: not checked"},
    {"C04", sheets, CAUTION_RAISED, "cement sheet"},
    {"C05", needles, CAUTION_RAISED, "sharp litter"},
    {"C05", no_needles, CAUTION_NO_TRIGGER, "Nobody saw"},
    {"C05", nothing, CAUTION_NOT_CHECKED, "not recorded"},
    {"C06", road_near, CAUTION_RAISED, "1.5 m"},
    {"C06", road_far, CAUTION_NO_TRIGGER, "highway"},
    {"C07", oak_near_house, CAUTION_RAISED, "25 m"}, /* 1.25 × 20 */
    {"C07", oak_clay_unknown, CAUTION_RAISED, "clay: not checked"},
    {"C07", oak_no_clay, CAUTION_NO_TRIGGER, "not shrinkable"},
    {"C08", tree_roots, CAUTION_RAISED, "6 m"}, /* 12 × 0.5 */
    {"C08", tree_far, CAUTION_NO_TRIGGER, "1 trees"},
    {"C09", brook, CAUTION_RAISED, "4 m"},
    {"C09", brook_far, CAUTION_NO_TRIGGER, "60 m"},
    {"C10", compost, CAUTION_RAISED, "45 m³"}, /* 900 m² × 5 cm */
    {"C10", nothing, CAUTION_NO_TRIGGER, "No compost"},
    {"C11", dug, CAUTION_RAISED, "0.8 m"},
    {"C11", nothing, CAUTION_NO_TRIGGER, "0 m"},
    {"C12", path_under_birch, CAUTION_RAISED, "25 m"},
    {"C12", old, CAUTION_RAISED, "6 years"},
    {"C12", path_beyond, CAUTION_NO_TRIGGER, "25 m"},
    {"C13", thorny, CAUTION_RAISED, "Prunus spinosa"},
    {"C13", nothing, CAUTION_NO_TRIGGER, "No chosen species"},
    {"C14", nothing, CAUTION_RAISED, "every day"},
    {"C15", hogweed, CAUTION_RAISED, "giant hogweed"},
    {"C15", no_weeds, CAUTION_NO_TRIGGER, "invasive plants"},
    {"C16", nothing, CAUTION_RAISED, "every day"},
    {"C17", chemicals, CAUTION_RAISED, "to be used"},
    {"C17", no_chemicals, CAUTION_NO_TRIGGER, "None"},
    {"C17", nothing, CAUTION_NOT_CHECKED, "not recorded"},
    {"C18", nothing, CAUTION_RAISED, "2 species"},
    {"C19", knotweed, CAUTION_RAISED, "11 m"},
    {"C19", no_weeds, CAUTION_NO_TRIGGER, "invasive plants"},
    {"C20", in_april, CAUTION_RAISED, "month 4 to month 5"},
    {"C20", over_new_year, CAUTION_NO_TRIGGER, "month 11 to month 2"},
    {"C20", nothing, CAUTION_NOT_CHECKED, "protected species"},
    {"C21", flowers, CAUTION_RAISED, "9 plant species"},
    {"C21", few_flowers, CAUTION_NO_TRIGGER, "open habitat"},
    {"C22", barrow, CAUTION_RAISED, "45 m"},
    {"C22", no_barrow, CAUTION_NO_TRIGGER, "archaeology"},
    {"C23", veteran, CAUTION_RAISED, "14 m"},
    {"C23", nothing, CAUTION_NOT_CHECKED, "protected trees"},
    {"C24", mound, CAUTION_RAISED, "0.3 m"},
    {"C24", slope, CAUTION_RAISED, "8 %"},
    {"C24", dry_flat, CAUTION_NO_TRIGGER, "flood drainage"},
    {"C25", dug, CAUTION_RAISED, "0.8 m"},
    {"C25", nothing, CAUTION_NO_TRIGGER, "Nothing is recorded"},
    {"C26", straw, CAUTION_RAISED, "straw"},
    {"C26", no_mulch, CAUTION_NO_TRIGGER, "fire"},
    {"C27", children, CAUTION_RAISED, "Children come"},
    {"C27", nothing, CAUTION_NO_TRIGGER, "Neither volunteers nor children"},
    {"C28", setts, CAUTION_RAISED, "2 records"},
    {"C28", no_setts, CAUTION_NO_TRIGGER, "protected species"},
    {"C29", nothing, CAUTION_RAISED, "fungi"},
    {"C30", nothing, CAUTION_RAISED, "carbon"},
    {"C31", one_site, CAUTION_RAISED, "1 site;"},
    {"C32", lone, CAUTION_RAISED, "works alone"},
    {"C32", trouble, CAUTION_RAISED, "3 incidents"},
    {"C32", company, CAUTION_NO_TRIGGER, "Nobody works alone"},
    {"C33", nothing, CAUTION_RAISED, "Always shown"},
};

static const struct site_caution *judge(const char *code)
{
    struct site_caution *list = NULL;
    if (site_cautions(&facts, &plan, &arena, &list, &why) != OUTCOME_OK)
        fail_msg("%s", why.sentence);
    for (size_t i = 0; i < SITE_CAUTIONS; i++)
        if (strcmp(list[i].code, code) == 0)
            return &list[i];
    fail_msg("no caution %s", code);
    return NULL;
}

static void each_trigger_raises_its_caution_with_its_numbers_and_nothing_else_does(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof triggers / sizeof *triggers; i++) {
        scene();
        triggers[i].make();
        const struct site_caution *c = judge(triggers[i].code);
        if (c->state != triggers[i].state || strstr(c->figures, triggers[i].figures) == NULL)
            fail_msg("line %zu: %s is %d: %s", i, c->code, (int)c->state, c->figures);
        assert_true(c->words[0] != '\0' && c->defer[0] != '\0');
    }
}

/* trade.md names thirty-three; every one of them has a scene here that raises it. */
static void all_thirty_three_are_raised_somewhere(void **state)
{
    (void)state;
    for (int k = 1; k <= SITE_CAUTIONS; k++) {
        char code[8];
        bool raised = false;
        snprintf(code, sizeof code, "C%02d", k);
        for (size_t i = 0; i < sizeof triggers / sizeof *triggers; i++)
            raised |= strcmp(triggers[i].code, code) == 0 && triggers[i].state == CAUTION_RAISED;
        if (!raised)
            fail_msg("nothing here raises %s", code);
    }
}

/* F11: nine species and more in a square metre, and "not applicable" opens no gate. */
static void flower_rich_ground_is_not_waved_through(void **state)
{
    (void)state;
    struct site_gate gate;
    scene();
    site.species_per_m2 = 12;
    reply(CHECK_TOPIC_OPEN_HABITAT, CHECK_STATE_NOT_APPLICABLE);
    checks[0].reason = "it is only grass";
    assert_int_equal(site_stage_gate(&facts, STAGE_SCREENED, &arena, &gate, &why), OUTCOME_OK);
    assert_false(gate.open);
    assert_non_null(strstr(gate.missing[0], "C21"));
    assert_non_null(strstr(gate.missing[0], "12 plant species"));
    checks[0].state = CHECK_STATE_CLEAR;
    assert_int_equal(site_stage_gate(&facts, STAGE_SCREENED, &arena, &gate, &why), OUTCOME_OK);
    assert_true(gate.open);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_trigger_raises_its_caution_with_its_numbers_and_nothing_else_does),
        cmocka_unit_test(all_thirty_three_are_raised_somewhere),
        cmocka_unit_test(flower_rich_ground_is_not_waved_through),
    };
    int bad = cmocka_run_group_tests_name("cautions", tests, NULL, NULL);
    arena_clear(&arena);
    return bad;
}
