/* SPDX-License-Identifier: GPL-3.0-or-later
 * species/: the tables that are shipped, tables of others, names, fit, communities, relevés, the filter. */
#include "species/species.h"
#include "../testlib.h"

static struct arena arena;
static struct species_library atlantic, america;

static int set_up(void **state)
{
    (void)state;
    struct failure why = {0};
    char line[3000];
    if (species_builtin("atlantic-europe", &arena, &atlantic, &why) != OUTCOME_OK ||
        species_builtin("eastern-north-america", &arena, &america, &why) != OUTCOME_OK) {
        failure_print(&why, line, sizeof line);
        print_error("%s\n", line);
        return -1;
    }
    return 0;
}
static int tear_down(void **state)
{
    (void)state;
    arena_clear(&arena);
    return 0;
}

static const struct species_fact *fact(const char *name)
{
    struct species_match match;
    struct failure why = {0};
    assert_int_equal(species_find(&atlantic, name, &arena, &match, &why), OUTCOME_OK);
    if (match.fact == NULL)
        fail_msg("no %s", name);
    return match.fact;
}
static struct species_match find(const char *name)
{
    struct species_match match;
    struct failure why = {0};
    assert_int_equal(species_find(&atlantic, name, &arena, &match, &why), OUTCOME_OK);
    assert_non_null(match.said);
    return match;
}

static void the_shipped_tables_are_whole(void **state)
{
    (void)state;
    assert_true(atlantic.n_facts >= 100);
    assert_true(america.n_facts >= 50);
    assert_true(atlantic.n_communities >= 8);
    assert_int_equal(america.n_communities, 0);
    for (size_t i = 0; i < america.n_facts; i++)
        assert_true(america.facts[i].form == FORM_TREE || america.facts[i].form == FORM_SHRUB);
    for (size_t c = 0; c < atlantic.n_communities; c++) {
        const struct community *community = &atlantic.communities[c];
        assert_true(community->n_species > 10);
        assert_true(community->ph.least < community->ph.most);
        for (size_t i = 0; i < community->n_species; i++) {
            assert_in_range(community->species[i].constancy, 1, 5);
            assert_int_not_equal(community->species[i].layer, LAYER_UNKNOWN);
        }
    }
    /* every source code of every row is explained */
    struct bytes sources = species_table("sources.csv");
    struct csv_table table;
    struct failure why = {0};
    assert_int_equal(csv_read("sources.csv", (const char *)sources.at, sources.n, ',', 0, &arena, &table, &why), OUTCOME_OK);
    for (size_t i = 0; i < atlantic.n_facts + america.n_facts; i++) {
        const struct species_fact *f = i < atlantic.n_facts ? &atlantic.facts[i] : &america.facts[i - atlantic.n_facts];
        char *rest = NULL, *codes = arena_text(&arena, f->sources);
        for (char *code = strtok_r(codes, " ", &rest); code != NULL; code = strtok_r(NULL, " ", &rest)) {
            bool known = false;
            for (size_t r = 1; r < table.rows; r++)
                known |= strcmp(csv_cell(&table, r, 0), code) == 0;
            if (!known)
                fail_msg("%s cites %s, which sources.csv does not explain", f->name, code);
        }
    }
}

/* EIVE 1.0 (Dengler et al. 2023) for ten species, as printed in its table to one decimal: light, moisture, reaction, nutrients. */
static void indicator_values_are_those_of_eive(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        double l, m, r, n;
    } rows[] = {{"Alnus glutinosa", 5.2, 7.2, 5.7, 5.9},
                {"Betula pendula", 6.8, 4.4, 4.4, 3.6},
                {"Corylus avellana", 5.4, 4.4, 5.7, 5.7},
                {"Crataegus monogyna", 6.9, 4.0, 6.9, 4.5},
                {"Fagus sylvatica", 3.0, 4.6, 5.9, 4.9},
                {"Ilex aquifolium", 3.7, 4.4, 4.4, 5.0},
                {"Quercus robur", 6.2, 4.8, 5.2, 4.5},
                {"Sambucus nigra", 5.9, 4.8, 6.3, 8.6},
                {"Hyacinthoides non-scripta", 4.6, 4.3, 6.0, 5.7},
                {"Mercurialis perennis", 1.8, 4.9, 7.5, 6.9}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        const struct species_fact *f = fact(rows[i].name);
        assert_near(f->light.value, rows[i].l, 1e-9);
        assert_near(f->moisture.value, rows[i].m, 1e-9);
        assert_near(f->reaction.value, rows[i].r, 1e-9);
        assert_near(f->nutrients.value, rows[i].n, 1e-9);
    }
}

/* The facts in the shared folder, where it is there: the re-tabling lost and changed nothing that it took over. */
static void the_table_agrees_with_the_facts_it_was_made_from(void **state)
{
    (void)state;
    const char *path = shared_path("species/atlantic-europe.csv");
    if (path == NULL)
        skip();
    char *bytes = NULL;
    size_t n = 0;
    struct failure why = {0};
    struct csv_table table;
    assert_int_equal(file_read(path, 0, &arena, &bytes, &n, &why), OUTCOME_OK);
    assert_int_equal(csv_read(path, bytes, n, ',', 0, &arena, &table, &why), OUTCOME_OK);
    static const char *const columns[] = {"light_L", "moisture_F", "reaction_R", "nutrient_N", "shade_tolerance_1to5"};
    for (size_t r = 1; r < table.rows; r++) {
        const struct species_fact *f = fact(csv_cell(&table, r, csv_column(&table, "scientific_name")));
        const double mine[] = {f->light.value, f->moisture.value, f->reaction.value, f->nutrients.value, f->shade.value};
        for (size_t c = 0; c < 5; c++) {
            const char *cell = csv_cell(&table, r, csv_column(&table, columns[c]));
            double x = 0;
            if (text_blank(cell))
                assert_false(is_known(mine[c]));
            else {
                assert_true(number_read(cell, &x));
                assert_true(mine[c] == x);
            }
        }
        const char *thorny = csv_cell(&table, r, csv_column(&table, "thorny"));
        assert_int_equal(f->thorny, *thorny == 'y' ? TRUTH_YES : TRUTH_NO);
    }
}

static void a_name_matches_in_any_dress(void **state)
{
    (void)state;
    static const char *const dresses[] = {"Quercus robur", "quercus ROBUR", "  Quercus   robur ", "Quercus robur L.",
                                          "Quercus_robur", "Quércus robur", "Quercus × robur"};
    for (size_t i = 0; i < sizeof dresses / sizeof *dresses; i++) {
        struct species_match match = find(dresses[i]);
        assert_int_equal(match.kind, MATCH_EXACT);
        assert_string_equal(match.fact->name, "Quercus robur");
    }
    assert_string_equal(find("Quercus petraea (Matt.) Liebl.").fact->name, "Quercus petraea");
    assert_string_equal(find("Rubus fruticosus").fact->name, "Rubus fruticosus agg.");
    struct species_match cultivar = find("Quercus robur 'Fastigiata'");
    assert_int_equal(cultivar.kind, MATCH_EXACT);
    assert_true(cultivar.cultivar);
    assert_non_null(strstr(cultivar.said, "cultivar"));
}

/* F10 */
static void quercus_rober_is_suggested_never_corrected(void **state)
{
    (void)state;
    struct species_match match = find("Quercus rober");
    assert_int_equal(match.kind, MATCH_NEAR);
    assert_null(match.fact);
    assert_string_equal(match.suggestion[0]->name, "Quercus robur");
    assert_int_equal(match.edits[0], 1);
    assert_non_null(strstr(match.said, "Nothing has been changed"));
}

static void a_synonym_is_told(void **state)
{
    (void)state;
    struct species_match match = find("Rosa pimpinellifolia L.");
    assert_int_equal(match.kind, MATCH_SYNONYM);
    assert_string_equal(match.fact->name, "Rosa spinosissima");
    assert_non_null(strstr(match.said, "another name"));
    assert_int_equal(find("Pedunculate oak").kind, MATCH_COMMON);
}

static void unknown_names_and_traits_are_unknown(void **state)
{
    (void)state;
    struct species_match match = find("Metasequoia glyptostroboides");
    assert_int_equal(match.kind, MATCH_NONE);
    assert_null(match.fact);
    assert_non_null(strstr(match.said, "unknown"));
    struct species_match genus = find("Salix sp.");
    assert_int_equal(genus.kind, MATCH_GENUS);
    assert_true(genus.n_suggestions > 3);
    assert_null(genus.fact);
    struct species_match form = find("Populus nigra subsp. betulifolia");
    assert_int_equal(form.kind, MATCH_NEAR);
    assert_string_equal(form.suggestion[0]->name, "Populus nigra");
    assert_int_equal(fact("Hippophae rhamnoides")->water_demand, WATER_DEMAND_UNKNOWN);
    assert_false(is_known(fact("Hippophae rhamnoides")->clay_height_m));
    assert_string_equal(species_health_word(HEALTH_UNKNOWN), "not looked up");
}

static enum outcome read_mine(const char *text, struct species_library *library, struct species_problems *problems, struct failure *why)
{
    *problems = (struct species_problems){0};
    return species_library_read("mine.csv", text, strlen(text), &arena, library, problems, why);
}

static void a_table_of_another_region_is_read_row_by_row(void **state)
{
    (void)state;
    struct species_library mine;
    struct species_problems problems;
    struct failure why = {0};
    const char *text = "name,layer,light,thorny,native_hill_country,x_mine\n"
                       "Alpha prima,canopy,7.5,no,yes,1\n"
                       "Beta secunda,roof,5,no,yes,2\n"
                       "Gamma tertia,shrub,\"7,5\",no,yes,3\n"
                       "Delta quarta,shrub,11,no,yes,4\n"
                       "Alpha prima,shrub,3,,,5\n"
                       ",shrub,3,,,6\n"
                       "Epsilon quinta,shrub,,,maybe,7\n"
                       "Zeta sexta,shrub,,,,8\n"
                       "Eta septima,shrub,1,no,yes,8,9\n";
    assert_int_equal(read_mine(text, &mine, &problems, &why), OUTCOME_OK);
    assert_int_equal(mine.n_facts, 2);
    assert_int_equal(problems.refused, 7);
    static const struct {
        long row;
        const char *column;
    } wanted[] = {{3, "layer"}, {4, "light"}, {5, "light"}, {6, "name"}, {7, "name"}, {8, "native_hill_country"}, {10, ""}};
    for (size_t i = 0; i < problems.n; i++) {
        assert_int_equal(problems.list[i].row, wanted[i].row);
        assert_string_equal(problems.list[i].column, wanted[i].column);
        assert_string_equal(problems.list[i].file, "mine.csv");
        assert_true(problems.list[i].sentence[0] != '\0');
    }
    assert_int_equal(mine.facts[1].thorny, TRUTH_UNKNOWN);
    assert_int_equal(mine.facts[1].native[0], NATIVE_UNKNOWN);
    assert_int_equal(species_region(&mine, "Hill Country"), 0);
    assert_int_equal(read_mine("name,ligth\nA b,3\n", &mine, &problems, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.remedy, "light"));
    assert_int_equal(read_mine("layer\ncanopy\n", &mine, &problems, &why), OUTCOME_DATA);
    assert_int_equal(read_mine("name\n", &mine, &problems, &why), OUTCOME_DATA);
    assert_int_equal(read_mine("", &mine, &problems, &why), OUTCOME_DATA);
}

static void the_american_list_is_never_offered_in_europe(void **state)
{
    (void)state;
    static const char *const regions[] = {"great_britain", "Ireland", "atlantic europe", "Wendmar Lowland", ""};
    for (size_t i = 0; i < sizeof regions / sizeof *regions; i++) {
        struct failure why = {0};
        struct species_place place = species_place_new();
        place.region = regions[i];
        struct species_verdict *list;
        size_t n;
        assert_int_equal(species_filter(&america, &place, &arena, &list, &n, &why), OUTCOME_DATA);
        assert_true(why.remedy[0] != '\0');
    }
}

static const struct species_verdict *verdict_of(const struct species_place *place, const char *name)
{
    struct failure why = {0};
    struct species_verdict *list;
    size_t n;
    assert_int_equal(species_filter(&atlantic, place, &arena, &list, &n, &why), OUTCOME_OK);
    assert_int_equal(n, atlantic.n_facts);
    for (size_t i = 0; i < n; i++) {
        assert_true(list[i].why_in[0] != '\0' && list[i].why_out[0] != '\0');
        if (strcmp(list[i].fact->name, name) == 0)
            return &list[i];
    }
    fail_msg("no verdict on %s", name);
    return NULL;
}

static struct species_place loam(const char *region)
{
    struct species_place place = species_place_new();
    place.region = region;
    place.ground.ph = (struct figure){6.5, 0.3};
    place.ground.moisture = species_moisture_of("fresh");
    place.ground.nutrients = species_nutrients_of("medium");
    place.ground.shade_pct = 10;
    place.ground.position = POSITION_EDGE;
    place.clay = CLAY_STATE_NOT_SHRINKABLE;
    return place;
}

static void what_shipping_rules_out_is_not_offered(void **state)
{
    (void)state;
    static const char *const never[] = {"Fraxinus excelsior",  "Ulmus glabra",       "Ulmus minor",
                                        "Ulmus laevis",        "Buxus sempervirens", "Rubus fruticosus agg.",
                                        "Pteridium aquilinum", "Clematis vitalba",   "Acer pseudoplatanus"};
    static const char *const regions[] = {"great_britain", "ireland", "atlantic_europe"};
    for (size_t r = 0; r < 3; r++) {
        struct species_place place = loam(regions[r]);
        for (size_t i = 0; i < sizeof never / sizeof *never; i++)
            assert_int_equal(verdict_of(&place, never[i])->answer, ANSWER_OUT);
    }
    static const char *const not_irish[] = {"Acer pseudoplatanus", "Acer platanoides", "Fagus sylvatica",
                                            "Carpinus betulus",    "Tilia cordata",    "Tilia platyphyllos"};
    struct species_place ireland = loam("ireland");
    for (size_t i = 0; i < sizeof not_irish / sizeof *not_irish; i++) {
        const struct species_verdict *v = verdict_of(&ireland, not_irish[i]);
        assert_int_equal(v->answer, ANSWER_OUT);
        assert_int_equal(v->stage, STAGE_NATIVE);
    }
    assert_non_null(strstr(verdict_of(&ireland, "Fraxinus excelsior")->why_out, "STOP"));
    const struct species_verdict *oak = verdict_of(&ireland, "Quercus robur");
    assert_int_equal(oak->answer, ANSWER_IN);
    assert_non_null(strstr(oak->why_in, "Native in ireland"));
}

/* F08; NHBC Standards 4.2, table as printed in 2006. */
static void hawthorn_ten_metres_from_a_ward_on_clay_is_flagged(void **state)
{
    (void)state;
    struct species_place place = loam("atlantic_europe");
    place.clay = CLAY_STATE_SHRINKABLE;
    place.building_nearest_m = 10;
    const struct species_verdict *v = verdict_of(&place, "Crataegus monogyna");
    assert_near(v->clay_zone_m, 12.5, 1e-9);
    assert_near(v->keep_away_m, 12.5, 1e-9);
    assert_int_equal(v->answer, ANSWER_OUT);
    assert_int_equal(v->stage, STAGE_CONFLICT);
    assert_non_null(strstr(v->why_out, "12.5 m"));
    place.building_farthest_m = 20; /* part of the plot lies beyond: in, with a distance for the layout */
    v = verdict_of(&place, "Crataegus monogyna");
    assert_int_equal(v->answer, ANSWER_IN);
    assert_near(v->keep_away_m, 12.5, 1e-9);
    place.clay = CLAY_STATE_UNKNOWN;
    place.building_farthest_m = unknown_real();
    v = verdict_of(&place, "Crataegus monogyna");
    assert_int_equal(v->answer, ANSWER_ASK);
    assert_non_null(strstr(v->why_out, "not checked"));
    place.clay = CLAY_STATE_NOT_SHRINKABLE;
    assert_int_equal(verdict_of(&place, "Crataegus monogyna")->answer, ANSWER_IN);
    place.clay = CLAY_STATE_SHRINKABLE;
    assert_near(verdict_of(&place, "Betula pendula")->clay_zone_m, 7, 1e-9);
    assert_near(verdict_of(&place, "Quercus robur")->clay_zone_m, 25, 1e-9);
}

static void play_areas_keep_poisonous_plants_out(void **state)
{
    (void)state;
    struct species_place place = loam("atlantic_europe");
    place.play_area = TRUTH_YES;
    static const char *const poisonous[] = {"Taxus baccata", "Euonymus europaeus", "Ligustrum vulgare", "Rhamnus cathartica",
                                            "Daphne laureola"};
    for (size_t i = 0; i < sizeof poisonous / sizeof *poisonous; i++)
        assert_int_equal(verdict_of(&place, poisonous[i])->answer, ANSWER_OUT);
    assert_int_equal(verdict_of(&place, "Corylus avellana")->stage, STAGE_CONFLICT); /* pollen: asks */
    assert_int_equal(verdict_of(&place, "Corylus avellana")->answer, ANSWER_ASK);
    const struct species_verdict *blackthorn = verdict_of(&place, "Crataegus monogyna");
    assert_int_equal(blackthorn->answer, ANSWER_IN);
    assert_non_null(strstr(blackthorn->why_out, "2 m"));
    assert_non_null(strstr(verdict_of(&place, "Acer campestre")->why_out, "No hazard recorded"));
}

static void permuting_the_rows_changes_no_verdict(void **state)
{
    (void)state;
    struct species_place place = loam("great_britain");
    struct failure why = {0};
    struct species_verdict *list, *back;
    size_t n, m;
    assert_int_equal(species_filter(&atlantic, &place, &arena, &list, &n, &why), OUTCOME_OK);
    struct species_library turned = atlantic;
    turned.facts = arena_array(&arena, n, sizeof *turned.facts);
    for (size_t i = 0; i < n; i++)
        turned.facts[i] = atlantic.facts[n - 1 - i];
    assert_int_equal(species_filter(&turned, &place, &arena, &back, &m, &why), OUTCOME_OK);
    for (size_t i = 0; i < n; i++) {
        assert_int_equal(list[i].answer, back[n - 1 - i].answer);
        assert_string_equal(list[i].why_out, back[n - 1 - i].why_out);
    }
}

static void fit_falls_with_distance_and_names_its_limit(void **state)
{
    (void)state;
    struct species_ground ground = loam("ireland").ground;
    double last = 2;
    for (double f = 7.2; f >= 3; f -= 0.4) { /* alder stands at 7.2 */
        ground.moisture.value = f;
        struct species_fit fit = species_fit(fact("Alnus glutinosa"), &ground, LAYER_UNKNOWN);
        assert_true(fit.part[FIT_MOISTURE].fit < last);
        last = fit.part[FIT_MOISTURE].fit;
        assert_true(fit.low <= fit.fit && fit.fit <= fit.high);
        assert_true(fit.fit >= 0 && fit.fit <= 1);
    }
    struct species_fit dry = species_fit(fact("Alnus glutinosa"), &ground, LAYER_UNKNOWN);
    assert_int_equal(dry.limiting, FIT_MOISTURE);
    /* by hand: EIVE 7.2 against 4.6 with width 1.5: exp(−½ (2.6/1.5)²) */
    ground.moisture.value = 4.6;
    assert_near(species_fit(fact("Alnus glutinosa"), &ground, LAYER_UNKNOWN).part[FIT_MOISTURE].fit, exp(-0.5 * (2.6 / 1.5) * (2.6 / 1.5)),
                1e-12);
    struct species_ground nothing = species_place_new().ground;
    struct species_fit none = species_fit(fact("Corylus avellana"), &nothing, LAYER_UNKNOWN);
    assert_false(is_known(none.fit));
    assert_int_equal(none.n_known, 0);
    assert_int_equal(none.limiting, -1);
}

static void light_wanting_shrubs_do_not_fit_inside(void **state)
{
    (void)state;
    struct species_ground ground = loam("ireland").ground;
    ground.position = POSITION_INSIDE;
    double inside = species_fit(fact("Prunus spinosa"), &ground, LAYER_SHRUB).part[FIT_LIGHT].fit;
    ground.position = POSITION_EDGE;
    double edge = species_fit(fact("Prunus spinosa"), &ground, LAYER_SHRUB).part[FIT_LIGHT].fit;
    assert_true(edge > inside);
    ground.position = POSITION_INSIDE;
    assert_near(species_fit(fact("Ilex aquifolium"), &ground, LAYER_SUBCANOPY).part[FIT_LIGHT].fit, 1, 1e-12);
}

static const char *best_community(double ph, const char *moisture, const char *nutrients)
{
    struct species_ground ground = species_place_new().ground;
    ground.ph = (struct figure){ph, 0.3};
    ground.moisture = species_moisture_of(moisture);
    ground.nutrients = species_nutrients_of(nutrients);
    struct community_match *list;
    size_t n;
    struct failure why = {0};
    assert_int_equal(species_rank_communities(&atlantic, &ground, "great_britain", NULL, &arena, &list, &n, &why), OUTCOME_OK);
    assert_int_equal(n, atlantic.n_communities);
    for (size_t i = 1; i < n; i++)
        assert_true(list[i - 1].match >= list[i].match);
    return list[0].community->id;
}

/* Ground as the classification's own accounts describe it (Rodwell 1991): each should find its own community first. */
static void ground_finds_its_community(void **state)
{
    (void)state;
    assert_string_equal(best_community(3.7, "dry", "very_poor"), "dry-sand-oak-birch");
    assert_string_equal(best_community(6.6, "very_wet", "medium"), "alder-carr");
    assert_string_equal(best_community(6.5, "moist", "rich"), "oak-ash-hazel");
    assert_string_equal(best_community(4.8, "fresh", "medium"), "lowland-oak-bluebell");
}

static void own_stands_rank_their_own_community_first(void **state)
{
    (void)state;
    for (size_t c = 0; c < atlantic.n_communities; c++) {
        struct species_ground nothing = species_place_new().ground;
        struct community_match *list;
        size_t n;
        struct failure why = {0};
        assert_int_equal(species_rank_communities(&atlantic, &nothing, NULL, &atlantic.communities[c], &arena, &list, &n, &why),
                         OUTCOME_OK);
        assert_string_equal(list[0].community->id, atlantic.communities[c].id);
        assert_near(list[0].shared, 1, 1e-12);
    }
}

/* F09 */
static void releves_make_a_constancy_table(void **state)
{
    (void)state;
    struct releve_row rows[] = {{"R1", "Quercus robur", LAYER_CANOPY, 60},       {"R2", "Quercus robur", LAYER_CANOPY, 40},
                                {"R3", "Quercus robur", LAYER_CANOPY, 50},       {"R1", "Corylus avellana", LAYER_SHRUB, 80},
                                {"R2", "Rosa pimpinellifolia", LAYER_SHRUB, 70}, {"R3", "Rosa spinosissima", LAYER_SHRUB, 5},
                                {"R4", "Betula pendula", LAYER_CANOPY, 90},      {"R4", "Quercus robur", LAYER_CANOPY, 50},
                                {"R5", "Betula pendula", LAYER_CANOPY, 10}};
    size_t n = sizeof rows / sizeof *rows, n_pairs = 0;
    struct community table;
    struct releve_pair *pairs;
    struct failure why = {0};
    assert_int_equal(species_constancy(&atlantic, rows, n, NULL, 0, &arena, &table, &pairs, &n_pairs, &why), OUTCOME_OK);
    assert_int_equal(n_pairs, 1);
    assert_string_equal(pairs[0].accepted, "Rosa spinosissima");
    assert_int_equal(table.n_species, 5); /* not merged unasked */
    for (size_t i = 0; i < table.n_species; i++) {
        if (strcmp(table.species[i].name, "Quercus robur") == 0) {
            assert_int_equal(table.species[i].constancy, 4); /* 4 of 5: 80 % is IV */
            assert_near(table.species[i].cover_pct, 50, 1e-12);
        }
        if (strcmp(table.species[i].name, "Corylus avellana") == 0)
            assert_int_equal(table.species[i].constancy, 1); /* 1 of 5: 20 % is I */
    }
    const char *merge[] = {"Rosa pimpinellifolia"};
    assert_int_equal(species_constancy(&atlantic, rows, n, merge, 1, &arena, &table, &pairs, &n_pairs, &why), OUTCOME_OK);
    assert_int_equal(table.n_species, 4);
    rows[3].cover_pct = 130;
    assert_int_equal(species_constancy(&atlantic, rows, n, NULL, 0, &arena, &table, &pairs, &n_pairs, &why), OUTCOME_DATA);
    assert_int_equal(why.row, 4);
}

/* Santamour 1990: 10 % species, 20 % genus, 30 % family, strictly over. */
static void diversity_rule_is_strict(void **state)
{
    (void)state;
    const char *species[300], *genus[300], *family[300];
    double plants[4] = {31, 30, 29, 210};
    species[0] = "A a", species[1] = "A b", species[2] = "B c", species[3] = NULL;
    genus[0] = genus[1] = "A", genus[2] = "B", genus[3] = NULL;
    family[0] = family[1] = family[2] = "F", family[3] = NULL;
    struct diversity_breach *list;
    size_t n;
    double unknown;
    struct failure why = {0};
    assert_int_equal(species_diversity(species, genus, family, plants, 4, &arena, &list, &n, &unknown, &why), OUTCOME_OK);
    assert_int_equal(n, 2); /* family has 90 of 300: 30 % exactly is within */
    assert_string_equal(list[0].name, "A a");
    assert_near(list[0].share_pct, 10.3333333333, 1e-9);
    assert_string_equal(list[1].what, "genus");
    assert_near(list[1].share_pct, 20.3333333333, 1e-9);
    assert_near(unknown, 210, 0);
}

static void weights_and_heights_for_the_mix(void **state)
{
    (void)state;
    const struct community *wood = species_community(&atlantic, "oak-ash-hazel");
    assert_near(community_frequency(wood, fact("Corylus avellana")), 0.9, 1e-12); /* V in the shrub layer */
    assert_near(community_frequency(wood, fact("Quercus robur")), 0.5, 1e-12);    /* III in the canopy, I among shrubs */
    assert_near(community_frequency(wood, fact("Calluna vulgaris")), 0, 0);
    assert_true(species_tall(fact("Quercus robur")) && species_tall(fact("Populus tremula")));
    assert_false(species_tall(fact("Betula pendula")) || species_tall(fact("Corylus avellana")));
}

/* F11 */
static void twelve_species_in_a_square_metre_call_for_care(void **state)
{
    (void)state;
    assert_true(species_open_ground(12));
    assert_true(species_open_ground(9));
    assert_false(species_open_ground(8));
    assert_false(species_open_ground(unknown_real()));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_shipped_tables_are_whole),
        cmocka_unit_test(indicator_values_are_those_of_eive),
        cmocka_unit_test(the_table_agrees_with_the_facts_it_was_made_from),
        cmocka_unit_test(a_name_matches_in_any_dress),
        cmocka_unit_test(quercus_rober_is_suggested_never_corrected),
        cmocka_unit_test(a_synonym_is_told),
        cmocka_unit_test(unknown_names_and_traits_are_unknown),
        cmocka_unit_test(a_table_of_another_region_is_read_row_by_row),
        cmocka_unit_test(the_american_list_is_never_offered_in_europe),
        cmocka_unit_test(what_shipping_rules_out_is_not_offered),
        cmocka_unit_test(hawthorn_ten_metres_from_a_ward_on_clay_is_flagged),
        cmocka_unit_test(play_areas_keep_poisonous_plants_out),
        cmocka_unit_test(permuting_the_rows_changes_no_verdict),
        cmocka_unit_test(fit_falls_with_distance_and_names_its_limit),
        cmocka_unit_test(light_wanting_shrubs_do_not_fit_inside),
        cmocka_unit_test(ground_finds_its_community),
        cmocka_unit_test(own_stands_rank_their_own_community_first),
        cmocka_unit_test(releves_make_a_constancy_table),
        cmocka_unit_test(diversity_rule_is_strict),
        cmocka_unit_test(weights_and_heights_for_the_mix),
        cmocka_unit_test(twelve_species_in_a_square_metre_call_for_care),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
