/* SPDX-License-Identifier: GPL-3.0-or-later
 * Taking steps back: every kind of change, one after another, again and again, and the reasons for refusing. */
#include "help.h"

static struct arena arena;
static struct failure why;

static int64_t set_density(struct store *store, int64_t id, double density)
{
    struct plot plot;
    good(store_begin(store, "V001", "Set the density", &why), &why);
    good(store_get(store, NOUN_PLOT, id, &arena, &plot, &why), &why);
    plot.density_m2 = density;
    good(store_change(store, NOUN_PLOT, &plot, &why), &why);
    good(store_commit(store, &why), &why);
    return store_last_step(store);
}

static double density_of(struct store *store, int64_t id)
{
    struct plot plot;
    good(store_get(store, NOUN_PLOT, id, &arena, &plot, &why), &why);
    return plot.density_m2;
}

static int64_t undo(struct store *store, int64_t step)
{
    int64_t made = 0;
    good(store_undo(store, step, "V002", &made, &why), &why);
    return made;
}

static void every_kind_of_change_is_taken_back_and_brought_again(void **state)
{
    (void)state;
    struct store *store = small_wood(fresh_path("kinds.gpkg"));
    uint64_t before = state_of(store);
    struct site site;
    struct plot plot;
    good(store_begin(store, "V001", "Many things", &why), &why);
    good(store_get(store, NOUN_PLOT, 1, &arena, &plot, &why), &why);
    plot.density_m2 = 3;
    plot.planted_on = date_make(2024, 11, 20);
    plot.regime = REGIME_CONVENTIONAL;
    plot.wkb = square_wkb(&arena, 500001, 5700001, 12.5);
    good(store_change(store, NOUN_PLOT, &plot, &why), &why);
    plot.density_m2 = 2.9;
    good(store_change(store, NOUN_PLOT, &plot, &why), &why);
    good(store_delete(store, NOUN_PLOT, 2, &why), &why);
    good(store_get(store, NOUN_SITE, 1, &arena, &site, &why), &why);
    site.clay = CLAY_STATE_SHRINKABLE;
    site.note = "wet corner \"north\"";
    good(store_change(store, NOUN_SITE, &site, &why), &why);
    struct plant plants[40];
    for (int i = 0; i < 40; i++)
        plants[i] = a_plant(1, i + 1);
    good(store_add(store, NOUN_PLANT, plants, 40, &why), &why);
    plants[3].x_m += 0.125;
    good(store_change(store, NOUN_PLANT, &plants[3], &why), &why);
    good(store_commit(store, &why), &why);
    uint64_t after = state_of(store);
    assert_true(before != after);
    int64_t step = store_last_step(store), made = step;
    for (int round = 0; round < 3; round++) {
        made = undo(store, made);
        assert_true(state_of(store) == before);
        made = undo(store, made);
        assert_true(state_of(store) == after);
    }
    const char **findings = NULL;
    size_t n = 0;
    good(store_verify(store, &arena, &findings, &n, &why), &why);
    assert_int_equal(n, 0);
    store_close(store);
}

static void steps_are_taken_back_one_after_another(void **state)
{
    (void)state;
    struct store *store = small_wood(fresh_path("chain.gpkg"));
    int64_t steps[4];
    for (int i = 0; i < 4; i++)
        steps[i] = set_density(store, 1, 1 + i);
    assert_int_equal(store_undo(store, steps[1], "V002", NULL, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "changed plot D1 after it"));
    for (int i = 3; i >= 0; i--)
        undo(store, steps[i]);
    assert_false(is_known(density_of(store, 1)));
    /* and all of it again, oldest first, by taking the undoing steps back newest first */
    struct store_step *list = NULL;
    size_t n = 0;
    good(store_steps(store, 4, &arena, &list, &n, &why), &why);
    for (size_t i = 0; i < 4; i++)
        undo(store, list[i].id);
    assert_near(density_of(store, 1), 4, 0);
    store_close(store);
}

static void what_was_taken_back_is_not_taken_back_twice(void **state)
{
    (void)state;
    struct store *store = small_wood(fresh_path("twice.gpkg"));
    int64_t step = set_density(store, 1, 3), back = undo(store, step);
    assert_int_equal(store_undo(store, step, "V002", NULL, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "already"));
    struct store_step *list = NULL;
    size_t n = 0;
    good(store_steps(store, SIZE_MAX, &arena, &list, &n, &why), &why);
    assert_int_equal(n, 4);
    assert_int_equal(list[0].id, back);
    assert_int_equal(list[0].undoes, step);
    assert_int_equal(list[1].undone_by, back);
    assert_string_equal(list[0].what, "Take back: Set the density");
    assert_int_equal(list[2].changes, 3);
    int64_t again = undo(store, back);
    good(store_steps(store, SIZE_MAX, &arena, &list, &n, &why), &why);
    assert_int_equal(list[2].undone_by, 0);
    assert_int_equal(list[1].undone_by, again);
    undo(store, step);
    assert_false(is_known(density_of(store, 1)));
    assert_int_equal(store_undo(store, 99, "V002", NULL, &why), OUTCOME_DATA);
    store_close(store);
}

static void undoing_is_refused_where_rows_would_hang_in_the_air(void **state)
{
    (void)state;
    struct store *store = small_wood(fresh_path("hang.gpkg"));
    good(store_begin(store, "V001", "Plant", &why), &why);
    struct plant plant = a_plant(1, 1);
    good(store_add(store, NOUN_PLANT, &plant, 1, &why), &why);
    good(store_commit(store, &why), &why);
    int64_t planting = store_last_step(store);
    uint64_t before = state_of(store);
    assert_int_equal(store_undo(store, 2, "V002", NULL, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "plant 1 would refer to a plot that is deleted"));
    assert_true(state_of(store) == before);
    assert_int_equal(store_undo(store, 1, "V002", NULL, &why), OUTCOME_USAGE);
    int64_t back = undo(store, planting);
    undo(store, 2);
    assert_int_equal(count_rows(store, NOUN_SITE), 0);
    assert_int_equal(store_undo(store, back, "V002", NULL, &why), OUTCOME_DATA); /* the plot is not there */
    assert_int_equal(count_rows(store, NOUN_PLANT), 0);
    store_close(store);
}

static void the_history_tells_everything_that_befell_a_row(void **state)
{
    (void)state;
    struct store *store = small_wood(fresh_path("history.gpkg"));
    undo(store, set_density(store, 2, 3));
    good(store_begin(store, "V001", "Give it up", &why), &why);
    good(store_delete(store, NOUN_PLOT, 2, &why), &why);
    good(store_commit(store, &why), &why);
    undo(store, store_last_step(store));
    static const char *const kinds[] = {"added", "changed", "changed", "deleted", "restored"};
    struct store_past *past = NULL;
    size_t n = 0;
    good(store_history(store, NOUN_PLOT, 2, &arena, &past, &n, &why), &why);
    assert_int_equal(n, 5);
    for (size_t i = 0; i < n; i++)
        assert_string_equal(past[i].kind, kinds[i]);
    assert_string_equal(past[2].after, "{\"density_m2\":null}");
    store_close(store);
}

static void a_step_that_changed_nothing_leaves_no_trace(void **state)
{
    (void)state;
    struct store *store = small_wood(fresh_path("nothing.gpkg"));
    struct store_step *list = NULL;
    size_t n = 0;
    good(store_begin(store, "V001", "Look", &why), &why);
    assert_int_equal(store_begin(store, "V001", "Nest", &why), OUTCOME_USAGE);
    good(store_commit(store, &why), &why);
    good(store_begin(store, "V001", "Think better of it", &why), &why);
    struct plant plant = a_plant(1, 1);
    good(store_add(store, NOUN_PLANT, &plant, 1, &why), &why);
    store_rollback(store);
    assert_int_equal(count_rows(store, NOUN_PLANT), 0);
    good(store_steps(store, SIZE_MAX, &arena, &list, &n, &why), &why);
    assert_int_equal(n, 2);
    assert_int_equal(store_add(store, NOUN_PLANT, &plant, 1, &why), OUTCOME_USAGE);
    store_close(store);
}

static void a_step_ends_by_how_its_work_went(void **state)
{
    (void)state;
    struct store *store = small_wood(fresh_path("end.gpkg"));
    struct person person;
    noun_init(NOUN_PERSON, &person);
    person.code = "V001";
    good(store_begin(store, "V001", "Refused", &why), &why);
    good(store_add(store, NOUN_PERSON, &person, 1, &why), &why);
    assert_int_equal(store_end(store, OUTCOME_DATA, &why), OUTCOME_DATA);
    assert_int_equal(count_rows(store, NOUN_PERSON), 0);
    noun_init(NOUN_PERSON, &person);
    person.code = "V002";
    good(store_begin(store, "V001", "Done", &why), &why);
    good(store_add(store, NOUN_PERSON, &person, 1, &why), &why);
    assert_int_equal(store_end(store, OUTCOME_OK, &why), OUTCOME_OK);
    assert_int_equal(count_rows(store, NOUN_PERSON), 1);
    store_close(store);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_kind_of_change_is_taken_back_and_brought_again),
        cmocka_unit_test(steps_are_taken_back_one_after_another),
        cmocka_unit_test(what_was_taken_back_is_not_taken_back_twice),
        cmocka_unit_test(undoing_is_refused_where_rows_would_hang_in_the_air),
        cmocka_unit_test(the_history_tells_everything_that_befell_a_row),
        cmocka_unit_test(a_step_that_changed_nothing_leaves_no_trace),
        cmocka_unit_test(a_step_ends_by_how_its_work_went),
    };
    int failed = cmocka_run_group_tests(tests, NULL, NULL);
    arena_clear(&arena);
    return failed;
}
