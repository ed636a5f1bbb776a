/* SPDX-License-Identifier: GPL-3.0-or-later
 * Deciding held rows, one by one and together, also of an import that itself brought the plants, the survey or the look. Invented. */
#include "help.h"

static const char *const take = "{'file': 'a.csv', 'kind': 'plants', 'take': true, 'answer': 'new_plants=make'}";

static json_t *decide(struct desk *desk, int64_t row, const char *what)
{
    return desk_do(desk, "decide", NULL, "{'rows': '%lld', 'what': '%s', 'reason': 'seen on the sheet'}", (long long)desk_held(desk, row),
                   what);
}

static void visits_of(struct desk *desk, struct visit **visits, size_t *n, struct arena *arena)
{
    void *rows = NULL;
    assert_int_equal(store_load(desk->store, NOUN_VISIT, NULL, 0, false, arena, &rows, n, &desk->why), OUTCOME_OK);
    *visits = rows;
}

static void held_rows_bring_their_plant_and_survey_when_kept_and_nothing_when_refused(void **state)
{
    (void)state;
    struct desk *desk = desk_open();
    /* no row is clear: a size of nought each, on one new plant twice and on another once */
    const char *file = "site,plot,tag,date,status,height_cm,species\nLK,D1,1,2022-09-14,alive,0,Quercus robur\n"
                       "LK,D1,1,2023-09-14,alive,0,Quercus robur\nLK,C1,9,2023-09-20,alive,0,Quercus robur\n";
    json_decref(desk_do(desk, "import", file, "%s", take));
    assert_int_equal(desk_count(desk, NOUN_HELD_ROW), 3);
    assert_int_equal(desk_count(desk, NOUN_PLANT), 0);
    assert_int_equal(desk_count(desk, NOUN_VISIT), 0);
    json_decref(decide(desk, 4, "reject"));
    assert_int_equal(desk_count(desk, NOUN_PLANT), 0);
    assert_int_equal(desk_count(desk, NOUN_VISIT), 0);
    json_decref(decide(desk, 2, "correct:height_cm="));
    assert_int_equal(desk_count(desk, NOUN_PLANT), 1);
    assert_int_equal(desk_count(desk, NOUN_VISIT), 1);
    json_decref(decide(desk, 3, "correct:height_cm=")); /* the same plant, another survey */
    assert_int_equal(desk_count(desk, NOUN_PLANT), 1);
    assert_int_equal(desk_count(desk, NOUN_VISIT), 2);
    assert_int_equal(desk_count(desk, NOUN_PLANT_RECORD), 2);
    for (int i = 0; i < 4; i++)
        json_decref(desk_do(desk, "undo", NULL, "{}"));
    assert_int_equal(desk_count(desk, NOUN_PLANT) + desk_count(desk, NOUN_VISIT) + desk_count(desk, NOUN_HELD_ROW), 0);
    desk_close(desk);
}

static void held_rows_decided_together_share_one_survey(void **state)
{
    (void)state;
    struct desk *desk = desk_open();
    struct arena arena = {0};
    const char *file = "site,plot,tag,date,status,height_cm,species\nLK,D1,1,2022-09-14,alive,0,Quercus robur\n"
                       "LK,D1,2,2022-09-16,alive,0,Quercus robur\nLK,C1,1,2022-09-12,alive,0,Quercus robur\n";
    json_decref(desk_do(desk, "import", file, "%s", take));
    json_t *data = desk_do(desk, "decide", NULL, "{'import': 1, 'what': 'correct:height_cm='}");
    assert_int_equal(json_integer_value(json_object_get(data, "corrected")), 3);
    json_decref(data);
    struct visit *visits = NULL;
    size_t n = 0;
    visits_of(desk, &visits, &n, &arena);
    assert_int_equal(n, 1);
    assert_int_equal(visits[0].from_on, date_make(2022, 9, 12));
    assert_int_equal(visits[0].to_on, date_make(2022, 9, 16));
    assert_int_equal(visits[0].plot_id, 0); /* two plots */
    assert_int_equal(desk_count(desk, NOUN_PLANT), 3);
    arena_clear(&arena);
    desk_close(desk);
}

static void held_rows_join_the_survey_their_import_made(void **state)
{
    (void)state;
    struct desk *desk = desk_open();
    const char *file = "site,plot,tag,date,status,height_cm,species\nLK,D1,1,2022-09-14,alive,80,Quercus robur\n"
                       "LK,D1,2,2022-09-14,alive,0,Quercus robur\nLK,D1,3,2022-09-15,,70,Quercus robur\n";
    json_decref(desk_do(desk, "import", file, "%s", take));
    assert_int_equal(desk_count(desk, NOUN_VISIT), 1);
    json_decref(decide(desk, 3, "correct:height_cm="));
    json_decref(decide(desk, 4, "correct:status=alive"));
    assert_int_equal(desk_count(desk, NOUN_VISIT), 1);
    assert_int_equal(desk_count(desk, NOUN_PLANT), 3);
    assert_int_equal(desk_count(desk, NOUN_PLANT_RECORD), 3);
    json_t *data = desk_do(desk, "held", NULL, "{'state': 'corrected'}");
    assert_int_equal(json_integer_value(json_object_get(data, "count")), 2);
    json_decref(data);
    desk_close(desk);
}

static void a_day_that_is_corrected_moves_the_record_to_its_survey(void **state)
{
    (void)state;
    struct desk *desk = desk_open();
    struct arena arena = {0};
    const char *file = "site,plot,tag,date,status,height_cm,species\nLK,D1,1,2022-09-14,alive,80,Quercus robur\n"
                       "LK,D1,2,2032-09-14,alive,70,Quercus robur\n";
    json_decref(desk_do(desk, "import", file, "%s", take));
    json_decref(decide(desk, 3, "correct:observed_on=2022-09-14"));
    struct visit *visits = NULL;
    size_t n = 0;
    visits_of(desk, &visits, &n, &arena);
    assert_int_equal(n, 1);
    void *rows = NULL;
    assert_int_equal(store_load(desk->store, NOUN_PLANT_RECORD, NULL, 0, false, &arena, &rows, &n, &desk->why), OUTCOME_OK);
    assert_int_equal(n, 2);
    assert_int_equal(((struct plant_record *)rows)[1].visit_id, visits[0].id);
    assert_int_equal(((struct plant_record *)rows)[1].observed_on, date_make(2022, 9, 14));
    arena_clear(&arena);
    desk_close(desk);
}

static void a_row_without_a_day_is_kept_once_it_has_one(void **state)
{
    (void)state;
    struct desk *desk = desk_open();
    const char *file = "site,plot,tag,date,status,height_cm,species\nLK,D1,1,,alive,80,Quercus robur\n";
    json_decref(
        desk_do(desk, "import", file, "{'file': 'a.csv', 'kind': 'plants', 'take': true, 'hold_open': true, 'answer': 'new_plants=make'}"));
    assert_null(desk_try(desk, "decide", NULL, "{'rows': '%lld', 'what': 'accept', 'reason': 'so it was'}", (long long)desk_held(desk, 2)));
    assert_true(desk_held(desk, 2) != 0); /* it still waits, and nothing was stored */
    assert_int_equal(desk_count(desk, NOUN_PLANT), 0);
    json_decref(decide(desk, 2, "correct:observed_on=2022-09-14"));
    assert_int_equal(desk_count(desk, NOUN_PLANT_RECORD), 1);
    assert_int_equal(desk_count(desk, NOUN_VISIT), 1);
    desk_close(desk);
}

static void a_corrected_label_means_the_plant_that_is_there(void **state)
{
    (void)state;
    struct desk *desk = desk_open();
    const char *first = "site,plot,tag,date,status,height_cm,species\nLK,D1,1,2022-09-14,alive,80,Quercus robur\n",
               *second = "site,plot,tag,date,status,height_cm\nLK,D1,11,2023-09-14,alive,0\n";
    json_decref(desk_do(desk, "import", first, "%s", take));
    json_decref(desk_do(desk, "import", second,
                        "{'file': 'b.csv', 'kind': 'plants', 'take': true, 'answer': 'new_plants=make;species=Quercus robur'}"));
    json_decref(decide(desk, 2, "correct:tag=1;height_cm="));
    assert_int_equal(desk_count(desk, NOUN_PLANT), 1); /* the plant the row seemed to bring is not made */
    assert_int_equal(desk_count(desk, NOUN_PLANT_RECORD), 2);
    desk_close(desk);
}

static void rows_held_by_two_checks_are_not_swept_along_with_one(void **state)
{
    (void)state;
    struct desk *desk = desk_open();
    const char *file = "site,plot,tag,date,status,height_cm,species\nLK,D1,1,2022-09-14,alive,0,Quercus robur\n"
                       "LK,D1,2,2032-09-14,alive,0,Quercus robur\n";
    json_decref(desk_do(desk, "import", file, "%s", take));
    json_t *data = desk_do(desk, "held", NULL, "{'check': 'zero_size'}");
    assert_int_equal(json_integer_value(json_object_get(data, "count")), 2); /* both are shown */
    json_decref(data);
    data = desk_do(desk, "decide", NULL, "{'check': 'zero_size', 'what': 'correct:height_cm='}");
    assert_int_equal(json_integer_value(json_object_get(data, "corrected")), 1);
    json_decref(data);
    assert_true(desk_held(desk, 3) != 0);
    desk_close(desk);
}

static void a_decision_that_fails_midway_leaves_nothing(void **state)
{
    (void)state;
    struct desk *desk = desk_open();
    const char *file = "site,plot,tag,date,status,height_cm,species\nLK,D1,1,2022-09-14,alive,0,Quercus robur\n"
                       "LK,D1,2,2022-09-14,,,Quercus robur\n";
    json_decref(desk_do(desk, "import", file, "%s", take));
    uint64_t before = desk_state(desk);
    assert_null(desk_try(desk, "decide", NULL, "{'import': 1, 'what': 'accept', 'reason': 'all of them'}"));
    assert_true(desk_state(desk) == before); /* the second has no state and cannot be accepted, so the first is not either */
    desk_close(desk);
}

static const char *const looks = "site,plot,date,group,minutes,taxon,count\nLK,D1,2024-06-01,birds,,Turdus merula,2\n"
                                 "LK,D1,2024-06-02,birds,10,Turdus merula,3\nLK,C1,2024-06-03,birds,,Parus major,1\n"
                                 "LK,C1,2024-06-03,birds,,Erithacus rubecula,1\nLK,C1,2024-06-04,birds,10,,\n";

static void held_sightings_come_with_their_own_look(void **state)
{
    (void)state;
    struct desk *desk = desk_open();
    struct arena arena = {0};
    json_decref(desk_do(desk, "import", looks, "{'file': 'w.csv', 'kind': 'wildlife', 'take': true}"));
    assert_int_equal(desk_count(desk, NOUN_WILDLIFE_VISIT), 1);
    json_decref(decide(desk, 2, "correct:minutes=15"));
    json_decref(decide(desk, 4, "correct:minutes=20"));
    json_decref(decide(desk, 5, "accept")); /* of the same look as row 4 */
    json_decref(decide(desk, 6, "correct:nothing_seen=yes"));
    void *rows = NULL;
    size_t n = 0;
    assert_int_equal(store_load(desk->store, NOUN_WILDLIFE_VISIT, NULL, 0, false, &arena, &rows, &n, &desk->why), OUTCOME_OK);
    const struct wildlife_visit *look = rows;
    assert_int_equal(n, 4);
    assert_near(look[1].minutes, 15, 0);
    assert_near(look[2].minutes, 20, 0);
    assert_int_equal(look[3].nothing_seen, TRUTH_YES);
    assert_int_equal(store_load(desk->store, NOUN_WILDLIFE_RECORD, NULL, 0, false, &arena, &rows, &n, &desk->why), OUTCOME_OK);
    const struct wildlife_record *seen = rows;
    assert_int_equal(n, 4); /* the empty look has no sighting */
    assert_int_equal(seen[1].wildlife_visit_id, look[1].id);
    assert_int_equal(seen[2].wildlife_visit_id, look[2].id);
    assert_int_equal(seen[3].wildlife_visit_id, look[2].id);
    arena_clear(&arena);
    desk_close(desk);
}

static void a_soil_row_with_a_plot_that_is_not_there_is_kept_once_it_names_one(void **state)
{
    (void)state;
    struct desk *desk = desk_open();
    struct arena arena = {0};
    const char *file = "site,plot,date,top_cm,bottom_cm,ph\nLK,D2,2024-06-01,0,10,6.1\n";
    json_decref(desk_do(desk, "import", file, "{'file': 's.csv', 'kind': 'soil', 'take': true, 'answer': 'ph_method=water'}"));
    assert_true(desk_held(desk, 2) != 0);
    assert_null(desk_try(desk, "decide", NULL, "{'rows': '%lld', 'what': 'accept', 'reason': 'it is so'}", (long long)desk_held(desk, 2)));
    assert_non_null(strstr(desk->why.sentence, "D2"));
    json_decref(decide(desk, 2, "correct:plot=D1"));
    void *rows = NULL;
    size_t n = 0;
    assert_int_equal(store_load(desk->store, NOUN_SOIL_SAMPLE, NULL, 0, false, &arena, &rows, &n, &desk->why), OUTCOME_OK);
    assert_int_equal(n, 1);
    assert_int_equal(((struct soil_sample *)rows)->plot_id, 1); /* the plot of this site, not its namesake's */
    arena_clear(&arena);
    desk_close(desk);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(held_rows_bring_their_plant_and_survey_when_kept_and_nothing_when_refused),
        cmocka_unit_test(held_rows_decided_together_share_one_survey),
        cmocka_unit_test(held_rows_join_the_survey_their_import_made),
        cmocka_unit_test(a_day_that_is_corrected_moves_the_record_to_its_survey),
        cmocka_unit_test(a_row_without_a_day_is_kept_once_it_has_one),
        cmocka_unit_test(a_corrected_label_means_the_plant_that_is_there),
        cmocka_unit_test(rows_held_by_two_checks_are_not_swept_along_with_one),
        cmocka_unit_test(a_decision_that_fails_midway_leaves_nothing),
        cmocka_unit_test(held_sightings_come_with_their_own_look),
        cmocka_unit_test(a_soil_row_with_a_plot_that_is_not_there_is_kept_once_it_names_one),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
