/* SPDX-License-Identifier: GPL-3.0-or-later
 * Labels are matched within the site and plot a row names; what fits several plants, or stands elsewhere, is held with the
 * reason and never guessed. */
#include "common.h"
#include "testlib.h"

/* The plants a dry run proposes become plants of the programme, as after taking the file. */
static void settle(struct town *town, const struct trip *t)
{
    for (size_t i = 0; i < t->result.n_plants; i++) {
        struct plant plant = t->result.plants[i];
        plant.id = 5000 + (int64_t)town->ground.n_plants;
        town->plants[town->ground.n_plants++] = plant;
    }
}

static void bare(struct town *town)
{
    town->ground.n_plants = 0;
}

static const char *reason_of(const struct trip *t)
{
    return t->result.n_held > 0 ? t->result.held[0].row.reason : t->why.sentence;
}

static void equal_plot_codes_and_labels_on_two_sites_are_kept_apart(void **state)
{
    (void)state;
    struct town *town = town_make();
    bare(town);
    const char *text = "plot,tag,date,status,species\nD1,1,2024-09-14,alive,Quercus robur\nD1,2,2024-09-14,alive,Quercus robur\n";
    static const char *const first[] = {"site:=LK", "?new_plants=make", NULL}, *const second[] = {"site:=BS", "?new_plants=make", NULL};
    struct trip t = bring(town, RECORD_PLANTS, text, first);
    assert_int_equal(t.result.n_plants, 2);
    settle(town, &t);
    t = bring(town, RECORD_PLANTS, text, second);
    if (t.result.n_ready != 2)
        fail_msg("%s", reason_of(&t));
    assert_int_equal(t.result.n_plants, 2);
    assert_int_equal(t.result.plants[0].plot_id, 12);
    settle(town, &t);
    /* the next census of each finds its own */
    const char *next = "plot,tag,date,status\nD1,1,2025-09-14,alive\nD1,2,2025-09-14,dead\n";
    for (int site = 0; site < 2; site++) {
        t = bring(town, RECORD_PLANTS, next, site == 0 ? first : second);
        assert_int_equal(t.result.n_ready, 2);
        assert_int_equal(t.result.n_plants, 0);
        assert_int_equal(((struct plant_record *)t.result.ready)[0].plant_id, 5000 + 2 * site);
    }
    town_free(town);
}

static void a_label_that_fits_several_plants_is_held_and_names_them(void **state)
{
    (void)state;
    struct town *town = town_make();
    town_plant(town, 0, 1, 1, 1)->tag = "7";
    town_plant(town, 1, 1, 1, 1)->tag = "7";
    const char *text = "tag,date,status\n7,2024-09-14,alive\n";
    static const char *const on_site[] = {"site:=LK", NULL}, *const in_plot[] = {"site:=LK", "plot:=C1", NULL},
                             *const elsewhere[] = {"site:=BS", NULL};
    const struct held *held = NULL;
    struct trip t = bring(town, RECORD_PLANTS, text, on_site);
    assert_int_equal(held_by(&t.result, "several_plants", &held), 1);
    assert_non_null(strstr(held->row.reason, "plot D1"));
    assert_non_null(strstr(held->row.reason, "plot C1"));
    t = bring(town, RECORD_PLANTS, text, in_plot);
    assert_int_equal(t.result.n_ready, 1);
    assert_int_equal(((struct plant_record *)t.result.ready)->plant_id, town_plant(town, 1, 1, 1, 1)->id);
    t = bring(town, RECORD_PLANTS, text, elsewhere);
    assert_int_equal(held_by(&t.result, "no_plant", NULL), 1);
    /* the same label twice in one plot */
    town_plant(town, 1, 2, 1, 1)->tag = "7";
    t = bring(town, RECORD_PLANTS, text, in_plot);
    assert_int_equal(held_by(&t.result, "several_plants", NULL), 1);
    town_free(town);
}

static void label_and_place_that_both_fit_two_plants_are_held(void **state)
{
    (void)state;
    struct town *town = town_make();
    struct plant *one = town_plant(town, 0, 1, 1, 1), *two = town_plant(town, 0, 1, 1, 2);
    two->tag = one->tag;
    two->number = one->number;
    const char *text = "plot,cell,number,tag,date,status\nD1,A01,1,D-0001,2024-09-14,alive\n";
    static const char *const said[] = {"site:=LK", NULL};
    struct trip t = bring(town, RECORD_PLANTS, text, said);
    assert_int_equal(held_by(&t.result, "several_plants", NULL), 1);
    town_free(town);
}

static void a_label_of_another_plot_is_held_until_somebody_says_how_labels_are_given(void **state)
{
    (void)state;
    struct town *town = town_make();
    const char *text = "plot,tag,date,status,species\nC1,D-0001,2024-09-14,alive,Quercus robur\n";
    static const char *const open[] = {"site:=LK", "?new_plants=make", NULL},
                             *const by_plot[] = {"site:=LK", "?new_plants=make", "?labels=plot", NULL},
                             *const by_site[] = {"site:=LK", "?new_plants=make", "?labels=site", NULL};
    struct trip t = bring(town, RECORD_PLANTS, text, open);
    assert_int_equal(t.result.n_held, 1);
    assert_int_equal(t.result.n_plants, 0);
    assert_non_null(asked(&t, "labels"));
    t = bring(town, RECORD_PLANTS, text, by_plot);
    assert_int_equal(t.result.n_plants, 1);
    assert_int_equal(t.result.n_ready, 1);
    json_t *kept = mapping_json(&t.mapping);
    struct mapping again;
    struct failure why = {0};
    assert_int_equal(mapping_from_json(kept, &t.book.sheets[0], &town->arena, &again, &why), OUTCOME_OK);
    assert_string_equal(again.labels, "plot");
    json_decref(kept);
    t = bring(town, RECORD_PLANTS, text, by_site);
    assert_int_equal(t.result.n_held, 1);
    assert_null(asked(&t, "labels"));
    town_free(town);
}

static void labels_that_repeat_in_the_programmes_plots_are_known_to_be_by_plot(void **state)
{
    (void)state;
    struct town *town = town_make();
    for (int plot = 0; plot < 2; plot++)
        for (int i = 1; i <= 8; i++)
            town_plant(town, plot, 1, i, 1)->tag = arena_print(&town->arena, "%d", i);
    for (size_t i = 0; i < town->ground.n_plants; i++) {
        const char *tag = town->plants[i].tag;
        town->plants[i].tag = strlen(tag) > 1 ? NULL : tag;
    }
    town_plant(town, 0, 2, 1, 1)->tag = "9";
    const char *text = "plot,tag,date,status,species\nC1,9,2024-09-14,alive,Quercus robur\n";
    static const char *const said[] = {"site:=LK", "?new_plants=make", NULL};
    struct trip t = bring(town, RECORD_PLANTS, text, said);
    assert_int_equal(t.result.n_plants, 1);
    assert_int_equal(t.result.plants[0].plot_id, 11);
    assert_false(labels_by_plot(100, 1));
    assert_false(labels_by_plot(100, 9));
    assert_true(labels_by_plot(100, 10));
    assert_false(labels_by_plot(5, 1));
    town_free(town);
}

static void a_new_label_in_two_plots_of_one_file_is_held_unless_most_repeat(void **state)
{
    (void)state;
    struct town *town = town_make();
    bare(town);
    struct text odd = {0}, by_plot = {0};
    text_add(&odd, "plot,tag,date,status,species\n");
    text_add(&by_plot, "plot,tag,date,status,species\n");
    for (int i = 1; i <= 30; i++) {
        text_print(&odd, "D1,N-%d,2024-09-14,alive,Quercus robur\n", i);
        text_print(&by_plot, "D1,%d,2024-09-14,alive,Quercus robur\nC1,%d,2024-09-14,alive,Quercus robur\n", i, i);
    }
    text_add(&odd, "C1,N-3,2024-09-14,alive,Quercus robur\n");
    static const char *const said[] = {"site:=LK", "?new_plants=make", NULL};
    struct trip t = bring(town, RECORD_PLANTS, text_get(&odd), said);
    assert_int_equal(held_by(&t.result, "label_elsewhere", NULL), 2);
    assert_int_equal(t.result.n_ready, 29);
    t = bring(town, RECORD_PLANTS, text_get(&by_plot), said);
    assert_int_equal(t.result.n_ready, 60);
    text_free(&odd);
    text_free(&by_plot);
    town_free(town);
}

static void deciding_never_chooses_among_plots_of_one_code(void **state)
{
    (void)state;
    struct town *town = town_make();
    struct held_row row, after;
    struct plant_record record;
    struct failure why = {0};
    noun_init(NOUN_HELD_ROW, &row);
    row.id = row.import_id = row.row_number = 1;
    row.state = HELD_STATE_WAITING;
    row.kind = "open_question";
    row.raw = "{}";
    row.parsed = "{\"noun\":\"plant_record\",\"record\":{\"visit_id\":100,\"observed_on\":\"2022-09-14\",\"status\":\"alive\"},"
                 "\"keys\":{\"plot\":\"D1\",\"tag\":\"D-0001\"}}";
    struct decision accept = {"accept", "seen", "V001", 20000}, corrected = {"correct:site=LK", NULL, "V001", 20000};
    assert_int_equal(survey_decide(NOUN_PLANT_RECORD, &row, &accept, &town->ground, &town->arena, &after, &record, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "2 sites"));
    assert_int_equal(survey_decide(NOUN_PLANT_RECORD, &row, &corrected, &town->ground, &town->arena, &after, &record, &why), OUTCOME_OK);
    assert_int_equal(record.plant_id, town_plant(town, 0, 1, 1, 1)->id);
    town_free(town);
}

static void a_species_given_for_all_rows_is_remarked_once(void **state)
{
    (void)state;
    struct town *town = town_make();
    bare(town);
    const char *text = "plot,tag,date,status\nD1,1,2024-09-14,alive\nD1,2,2024-09-14,alive\n";
    static const char *const said[] = {"site:=LK", "?new_plants=make", "?species=Scalesia pedunculata", NULL};
    struct trip t = bring(town, RECORD_PLANTS, text, said);
    assert_int_equal(t.result.n_ready, 2);
    assert_int_equal(remarked(&t.result, "species_given", NULL), 1);
    assert_string_equal(t.result.plants[0].species, "Scalesia pedunculata");
    town_free(town);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(equal_plot_codes_and_labels_on_two_sites_are_kept_apart),
        cmocka_unit_test(a_label_that_fits_several_plants_is_held_and_names_them),
        cmocka_unit_test(label_and_place_that_both_fit_two_plants_are_held),
        cmocka_unit_test(a_label_of_another_plot_is_held_until_somebody_says_how_labels_are_given),
        cmocka_unit_test(labels_that_repeat_in_the_programmes_plots_are_known_to_be_by_plot),
        cmocka_unit_test(a_new_label_in_two_plots_of_one_file_is_held_unless_most_repeat),
        cmocka_unit_test(deciding_never_chooses_among_plots_of_one_code),
        cmocka_unit_test(a_species_given_for_all_rows_is_remarked_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
