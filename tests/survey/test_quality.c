/* SPDX-License-Identifier: GPL-3.0-or-later
 * How good the records of a survey are: counted by hand on a small invented programme. */
#include "common.h"
#include "survey/quality.h"
#include "testlib.h"

static struct quality weigh(struct town *town)
{
    struct quality q;
    struct failure why = {0};
    if (survey_quality(&town->ground, 0, 0.95, &town->arena, &q, &why) != OUTCOME_OK)
        fail_msg("%s", why.sentence);
    return q;
}

static struct plant_record *again(struct town *town, const struct plant_record *first, const char *observer)
{
    struct plant_record *r = &town->records[town->ground.n_records++];
    *r = *first;
    r->id = (int64_t)town->ground.n_records;
    r->observer = observer;
    r->repeat = TRUTH_YES;
    return r;
}

static void the_dead_are_not_due_and_the_missed_are(void **state)
{
    (void)state;
    struct town *town = town_make();
    town_census(town, 100, date_make(2022, 9, 14), 60);
    town_record(town, town_plant(town, 0, 1, 1, 1), 100)->status = STATUS_DEAD_STANDING;
    town_record(town, town_plant(town, 0, 1, 1, 2), 100)->status = STATUS_REMOVED;
    town_census(town, 101, date_make(2023, 9, 14), 90);
    struct plant_record *dead = town_record(town, town_plant(town, 0, 1, 1, 1), 101),
                        *removed = town_record(town, town_plant(town, 0, 1, 1, 2), 101),
                        *missed = town_record(town, town_plant(town, 0, 1, 2, 1), 101);
    dead->visit_id = removed->visit_id = missed->visit_id = 999; /* not at this survey */
    town_record(town, town_plant(town, 0, 1, 2, 2), 101)->status = STATUS_NOT_FOUND;
    dead->observed_on = removed->observed_on = missed->observed_on = DATE_UNKNOWN;
    struct quality q = weigh(town);
    assert_int_equal(q.n_visits, 2);
    assert_int_equal(q.visits[0].due, 256);
    assert_int_equal(q.visits[1].due, 254);
    assert_int_equal(q.visits[1].recorded, 253);
    assert_int_equal(q.visits[1].not_found, 1);
    assert_near(q.visits[1].found.value, 252.0 / 254, 1e-12);
    town_free(town);
}

static void a_plant_dead_and_then_alive_was_due_in_between(void **state)
{
    (void)state;
    struct town *town = town_make();
    town_census(town, 100, date_make(2022, 9, 14), 60);
    town_census(town, 101, date_make(2023, 9, 14), 80);
    town_census(town, 102, date_make(2024, 9, 14), 90);
    town_record(town, town_plant(town, 0, 1, 1, 1), 100)->status = STATUS_DEAD_STANDING;
    assert_int_equal(weigh(town).visits[1].due, 256);
    town_free(town);
}

static void two_looks_are_compared_and_a_third_is_not_counted_again(void **state)
{
    (void)state;
    struct town *town = town_make();
    town_census(town, 100, date_make(2022, 9, 14), 60);
    for (int i = 1; i <= 8; i++) {
        struct plant_record *r = again(town, town_record(town, town_plant(town, 0, 1, i, 1), 100), "V009");
        r->height_cm += 2;
        r->diameter_mm += i <= 2 ? 3 : 0;
        if (i == 1) {
            r->status = STATUS_ALIVE_DIEBACK;
            again(town, r, "V010");
        }
    }
    struct quality q = weigh(town);
    const struct twice *t = &q.visits[0].twice;
    assert_int_equal(t->pairs, 8);
    assert_int_equal(q.all.pairs, 8);
    assert_near(t->state.value, 7.0 / 8, 1e-12);
    assert_near(t->species.value, 1, 0);
    assert_near(t->height.bias.value, 2, 1e-9);
    assert_near(t->height_within.value, 1, 0);
    assert_near(t->diameter_within.value, 6.0 / 8, 1e-12);
    assert_near(q.visits[0].again.value, 8.0 / 256, 1e-12);
    for (size_t i = 0; i < q.n_observers; i++)
        assert_int_equal(q.observers[i].twice.pairs, strcmp(q.observers[i].observer, "V009") == 0 ? 8 : 0);
    town_free(town);
}

static void who_heaps_is_found_and_nobody_is_ranked(void **state)
{
    (void)state;
    struct town *town = town_make();
    town_census(town, 100, date_make(2022, 9, 14), 60);
    for (size_t i = 0; i < town->ground.n_records; i++)
        if (strcmp(town->records[i].observer, "V002") == 0)
            town->records[i].height_cm = 5 * round(town->records[i].height_cm / 5);
    struct quality q = weigh(town);
    assert_int_equal(q.n_observers, 2);
    assert_string_equal(q.observers[0].observer, "V001");
    assert_false(q.observers[0].digits.heaping.heaped);
    assert_true(q.observers[1].digits.heaping.heaped);
    assert_near(q.observers[1].digits.heaping.index, 500, 0);
    assert_true(q.observers[1].digits.low < 500 && q.observers[1].digits.low > 450);
    assert_int_equal(q.heaped, 1);
    town_free(town);
}

static void nothing_recorded_gives_nothing(void **state)
{
    (void)state;
    struct town *town = town_make();
    struct quality q = weigh(town);
    assert_int_equal(q.n_visits, 0);
    assert_int_equal(q.n_observers, 0);
    assert_false(is_known(q.all.state.value));
    town_free(town);
}

static void one_plant_that_grew_much_is_not_taken_for_an_exchange(void **state)
{
    (void)state;
    struct town *town = town_make();
    town_census(town, 100, date_make(2022, 9, 14), 60);
    /* a tall neighbour that did as the others, and a plant that grew towards its size */
    struct plant *one = town_plant(town, 0, 1, 1, 1), *other = town_plant(town, 0, 1, 1, 2);
    town_record(town, one, 100)->height_cm = 60;
    town_record(town, other, 100)->height_cm = 95;
    struct text file = {0};
    text_add(&file, "plot,tag,date,status,height_cm,observer\n");
    for (size_t i = 0; i < 128; i++) {
        const struct plant *p = &town->plants[i];
        double before = town_record(town, p, 100)->height_cm;
        text_print(&file, "D1,%s,2023-09-14,alive,%.0f,V001\n", p->tag, p == one ? 230 : before * 1.35);
    }
    static const char *const said[] = {"site:=LK", NULL};
    struct trip t = bring(town, RECORD_PLANTS, text_get(&file), said);
    assert_int_equal(held_by(&t.result, "swapped_pair", NULL), 0);
    assert_true(held_by(&t.result, "too_fast", NULL) + held_by(&t.result, "unlike_others", NULL) > 0);
    text_free(&file);
    town_free(town);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_dead_are_not_due_and_the_missed_are),
        cmocka_unit_test(a_plant_dead_and_then_alive_was_due_in_between),
        cmocka_unit_test(two_looks_are_compared_and_a_third_is_not_counted_again),
        cmocka_unit_test(who_heaps_is_found_and_nobody_is_ranked),
        cmocka_unit_test(nothing_recorded_gives_nothing),
        cmocka_unit_test(one_plant_that_grew_much_is_not_taken_for_an_exchange),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
