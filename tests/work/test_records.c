/* SPDX-License-Identifier: GPL-3.0-or-later
 * Every way a file of records can come in, be taken back, and come again. The figures are invented. */
#include "help.h"

static const char *const census = "site,plot,tag,date,status,height_cm,species\nLK,D1,1,2023-09-14,alive,80,Quercus robur\n"
                                  "LK,D1,2,2023-09-14,alive,75,Betula pendula\nLK,C1,3,2023-09-15,dead,,Quercus robur\n"
                                  "BS,D1,1,2023-09-20,alive,60,Quercus robur\n";
static const char *const taken = "{'file': 'census.csv', 'kind': 'plants', 'take': true, 'answer': 'new_plants=make'}";

static void a_dry_run_stores_nothing(void **state)
{
    (void)state;
    struct desk *desk = desk_open();
    uint64_t before = desk_state(desk);
    json_t *data = desk_do(desk, "import", census, "{'file': 'census.csv', 'kind': 'plants', 'answer': 'new_plants=make'}");
    assert_int_equal(json_integer_value(json_object_get(data, "ready")), 4);
    assert_int_equal(json_integer_value(json_object_get(data, "new_visits")), 2);
    json_decref(data);
    assert_true(desk_state(desk) == before);
    desk_close(desk);
}

static void an_import_that_makes_its_visits_is_taken_back_whole_and_can_come_again(void **state)
{
    (void)state;
    struct desk *desk = desk_open();
    uint64_t before = desk_state(desk);
    json_decref(desk_do(desk, "import", census, "%s", taken));
    assert_int_equal(desk_count(desk, NOUN_PLANT), 4);
    assert_int_equal(desk_count(desk, NOUN_VISIT), 2); /* one survey on each site */
    assert_int_equal(desk_count(desk, NOUN_PLANT_RECORD), 4);
    uint64_t in = desk_state(desk);
    json_decref(desk_do(desk, "undo", NULL, "{}"));
    assert_true(desk_state(desk) == before);
    json_decref(desk_do(desk, "import", census, "%s", taken)); /* an import that was taken back does not count as taken */
    assert_true(desk_state(desk) == in);
    json_decref(desk_do(desk, "undo", NULL, "{}"));
    json_decref(desk_do(desk, "undo", NULL, "{'step': %lld}", (long long)store_last_step(desk->store)));
    assert_true(desk_state(desk) == in); /* undoing the undo brings it back */
    desk_close(desk);
}

static void the_same_file_twice_is_said_and_not_doubled(void **state)
{
    (void)state;
    struct desk *desk = desk_open();
    json_decref(desk_do(desk, "import", census, "%s", taken));
    uint64_t in = desk_state(desk);
    assert_null(desk_try(desk, "import", census, "%s", taken));
    assert_non_null(strstr(desk->why.sentence, "taken before"));
    assert_true(desk_state(desk) == in);
    json_t *data = desk_do(desk, "import", census,
                           "{'file': 'census.csv', 'kind': 'plants', 'take': true, 'again': true, 'answer': 'new_plants=make'}");
    assert_int_equal(json_integer_value(json_object_get(data, "ready")), 0);
    assert_int_equal(json_integer_value(json_object_get(data, "held")), 4);
    json_decref(data);
    assert_int_equal(desk_count(desk, NOUN_PLANT), 4);
    assert_int_equal(desk_count(desk, NOUN_VISIT), 2);
    assert_int_equal(desk_count(desk, NOUN_PLANT_RECORD), 4);
    desk_close(desk);
}

static void a_file_that_grew_brings_only_its_new_rows(void **state)
{
    (void)state;
    static const struct {
        const char *kind, *answer, *first, *more;
        enum noun noun;
    } files[] = {
        {"wildlife", "",
         "site,plot,date,group,minutes,taxon,count\nLK,D1,2024-06-01,birds,10,Turdus merula,2\nLK,C1,2024-06-01,birds,10,,0\n",
         "LK,D1,2024-06-02,birds,10,Turdus merula,2\n", NOUN_WILDLIFE_VISIT},
        {"soil", "ph_method=water", "site,plot,date,top_cm,bottom_cm,ph\nLK,D1,2024-06-01,0,10,6.1\n", "LK,D1,2024-06-01,10,30,6.4\n",
         NOUN_SOIL_SAMPLE},
        {"costs", "tax=without", "site,phase,paid_on,item,amount\nLK,screening,2024-06-01,whips,120\n",
         "LK,screening,2024-06-02,mulch,80\n", NOUN_COST_ITEM},
        {"care", "", "site,plot,date,kind,state,hours\nLK,D1,2024-06-01,watering,done,2\n", "LK,D1,2024-06-08,watering,done,2\n", NOUN_CARE_EVENT},
        {"hours", "", "site,date,task,people,hours\nLK,2024-06-01,planting,12,36\n", "LK,2024-06-02,planting,9,27\n", NOUN_WORK_HOURS},
    };
    for (size_t i = 0; i < sizeof files / sizeof *files; i++) {
        struct desk *desk = desk_open();
        char grown[512];
        snprintf(grown, sizeof grown, "%s%s", files[i].first, files[i].more);
        json_t *data = desk_do(desk, "import", files[i].first, "{'file': 'a.csv', 'kind': '%s', 'take': true, 'answer': '%s'}",
                               files[i].kind, files[i].answer);
        if (json_integer_value(json_object_get(data, "ready")) == 0)
            fail_msg("%s: nothing was clear", files[i].kind);
        json_decref(data);
        int64_t before = desk_count(desk, files[i].noun);
        json_decref(desk_do(desk, "import", grown, "{'file': 'b.csv', 'kind': '%s', 'take': true, 'answer': '%s'}", files[i].kind,
                            files[i].answer));
        if (desk_count(desk, files[i].noun) != before + 1)
            fail_msg("%s: %lld rows, then %lld", files[i].kind, (long long)before, (long long)desk_count(desk, files[i].noun));
        desk_close(desk);
    }
}

static void open_questions_keep_a_file_out_unless_its_rows_are_held(void **state)
{
    (void)state;
    struct desk *desk = desk_open();
    uint64_t before = desk_state(desk);
    assert_null(desk_try(desk, "import", census, "{'file': 'census.csv', 'kind': 'plants', 'take': true}"));
    assert_non_null(strstr(desk->why.sentence, "new_plants"));
    assert_true(desk_state(desk) == before);
    json_t *data = desk_do(desk, "import", census, "{'file': 'census.csv', 'kind': 'plants', 'take': true, 'hold_open': true}");
    assert_int_equal(json_integer_value(json_object_get(data, "held")), 4);
    json_decref(data);
    assert_int_equal(desk_count(desk, NOUN_VISIT), 0); /* held rows bring no survey by themselves */
    assert_int_equal(desk_count(desk, NOUN_PLANT), 0);
    desk_close(desk);
}

static void an_import_with_decisions_behind_it_is_taken_back_after_them(void **state)
{
    (void)state;
    struct desk *desk = desk_open();
    uint64_t before = desk_state(desk);
    const char *file = "site,plot,tag,date,status,height_cm,species\nLK,D1,1,2023-09-14,alive,80,Quercus robur\n"
                       "LK,D1,2,2023-09-14,,75,Betula pendula\n";
    json_decref(desk_do(desk, "import", file, "%s", taken));
    int64_t import_step = store_last_step(desk->store);
    json_decref(desk_do(desk, "decide", NULL, "{'rows': '%lld', 'what': 'correct:status=alive'}", (long long)desk_held(desk, 3)));
    assert_int_equal(desk_count(desk, NOUN_PLANT_RECORD), 2);
    assert_null(desk_try(desk, "undo", NULL, "{'step': %lld}", (long long)import_step));
    assert_true(strlen(desk->why.sentence) > 20);
    json_decref(desk_do(desk, "undo", NULL, "{}"));
    assert_true(desk_held(desk, 3) != 0); /* it waits again */
    json_decref(desk_do(desk, "undo", NULL, "{}"));
    assert_true(desk_state(desk) == before);
    desk_close(desk);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_dry_run_stores_nothing),
        cmocka_unit_test(an_import_that_makes_its_visits_is_taken_back_whole_and_can_come_again),
        cmocka_unit_test(the_same_file_twice_is_said_and_not_doubled),
        cmocka_unit_test(a_file_that_grew_brings_only_its_new_rows),
        cmocka_unit_test(open_questions_keep_a_file_out_unless_its_rows_are_held),
        cmocka_unit_test(an_import_with_decisions_behind_it_is_taken_back_after_them),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
