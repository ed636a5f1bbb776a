/* SPDX-License-Identifier: GPL-3.0-or-later
 * Real censuses: Riegl et al. 2023, Ecol. Appl. 33:e2846 (data CC0): 457 trees, ten uneven censuses, one column for each, two
 * lines of comment, NA for dead. Counts to meet: 3 trees dead and then alive, 131 that shrink, the same plot numbers in both areas. */
#include "common.h"
#include "testlib.h"

struct forest {
    struct arena arena;
    struct survey_ground ground;
};

/* Plots 1 to 17 on each of two sites, RM (removed) and LF (left). */
static void forest_make(struct forest *f)
{
    struct arena *a = &f->arena;
    struct site *sites = arena_array(a, 2, sizeof *sites);
    struct plot *plots = arena_array(a, 40, sizeof *plots);
    for (int s = 0; s < 2; s++) {
        noun_init(NOUN_SITE, &sites[s]);
        sites[s].id = s + 1;
        sites[s].code = s == 0 ? "RM" : "LF";
        sites[s].name = s == 0 ? "Removed" : "Left";
        for (int p = 0; p < 20; p++) {
            struct plot *plot = &plots[s * 20 + p];
            noun_init(NOUN_PLOT, plot);
            plot->id = 100 * (s + 1) + p + 1;
            plot->site_id = s + 1;
            plot->code = arena_print(a, "%d", p + 1);
        }
    }
    f->ground = (struct survey_ground){.sites = sites, .n_sites = 2, .plots = plots, .n_plots = 40};
}

static bool forest_read(struct forest *f, const char *name, struct workbook *book)
{
    const char *path = shared_path(name);
    if (path == NULL)
        return false;
    char *bytes = NULL;
    size_t n = 0;
    struct failure why = {0};
    assert_int_equal(file_read(path, 0, &f->arena, &bytes, &n, &why), OUTCOME_OK);
    assert_int_equal(workbook_read(name, bytes, n, &f->arena, book, &why), OUTCOME_OK);
    return true;
}

static void answer(struct forest *f, struct mapping *m, const char *id, const char *value)
{
    struct failure why = {0};
    if (mapping_answer(m, id, value, &f->arena, &why) != OUTCOME_OK)
        fail_msg("%s=%s: %s", id, value, why.sentence);
}

static const struct question *question_of(const struct question *q, size_t n, const char *id)
{
    for (size_t i = 0; i < n; i++)
        if (strcmp(q[i].id, id) == 0)
            return &q[i];
    return NULL;
}

static void raw_file_is_wide_with_comments_and_asks_what_it_does_not_say(void **state)
{
    (void)state;
    struct forest f = {0};
    forest_make(&f);
    struct workbook book;
    if (!forest_read(&f, "data/scalesia_blackberry/raw_treatment.txt", &book))
        skip();
    struct failure why = {0};
    struct mapping m;
    assert_int_equal(book.sheets[0].delimiter, '\t');
    assert_int_equal(mapping_guess(&book.sheets[0], RECORD_PLANTS, &f.ground, &f.arena, &m, &why), OUTCOME_OK);
    assert_true(m.wide);
    assert_string_equal(record_sheet_text(&book.sheets[0], m.header, 0), "Plot");
    json_t *kept = mapping_json(&m);
    assert_non_null(kept);
    json_decref(kept);
    size_t censuses = 0;
    for (size_t i = 0; i < m.n_columns; i++)
        censuses += m.columns[i].census_text != NULL;
    assert_int_equal(censuses, 10);
    struct question *q = NULL;
    size_t n = 0;
    mapping_questions(&m, &book.sheets[0], &f.ground, &f.arena, &q, &n);
    const struct question *field = question_of(q, n, "wide_field"), *blank = question_of(q, n, "blank_means"),
                          *day = question_of(q, n, "census_day"), *site = question_of(q, n, "site");
    assert_non_null(field);
    assert_string_equal(field->suggestion, "diameter_mm");
    assert_non_null(blank);
    assert_string_equal(blank->suggestion, "dead_standing");
    assert_non_null(day);
    assert_non_null(site); /* plot numbers stand in both areas */
    answer(&f, &m, "wide_field", "diameter_mm");
    mapping_questions(&m, &book.sheets[0], &f.ground, &f.arena, &q, &n);
    assert_non_null(question_of(q, n, "wide_unit"));
    arena_clear(&f.arena);
}

static void wide_file_brings_457_trees_and_finds_the_odd_ones(void **state)
{
    (void)state;
    struct forest f = {0};
    forest_make(&f);
    struct workbook book;
    if (!forest_read(&f, "data/scalesia_blackberry/scalesia_dbh_wide.csv", &book))
        skip();
    struct failure why = {0};
    struct mapping m;
    const struct record_sheet *sheet = &book.sheets[0];
    assert_int_equal(mapping_guess(sheet, RECORD_PLANTS, &f.ground, &f.arena, &m, &why), OUTCOME_OK);
    assert_int_equal(mapping_set(&m, sheet, "site=treatment", &f.arena, &why), OUTCOME_OK);
    answer(&f, &m, "word:site:blackberry_removed", "RM");
    answer(&f, &m, "word:site:blackberry_left", "LF");
    answer(&f, &m, "wide_field", "diameter_mm");
    answer(&f, &m, "wide_unit", "cm");
    answer(&f, &m, "census_day", "middle");
    answer(&f, &m, "blank_means", "dead_standing");
    answer(&f, &m, "new_plants", "make");
    answer(&f, &m, "species", "Scalesia pedunculata");
    answer(&f, &m, "diameter_at", "breast_height");
    struct import_options options = {.limits = survey_limits_usual()};
    struct import_result r;
    assert_int_equal(import_dry_run(&book, sheet, &m, &f.ground, &options, &f.arena, &r, &why), OUTCOME_OK);
    assert_int_equal(r.file_rows, 457);
    assert_int_equal(r.read, 4570);
    assert_adds_up(&r);
    assert_int_equal(r.n_refused, 0);
    for (size_t i = 0; i < r.n_questions; i++)
        assert_false(r.questions[i].required && r.questions[i].rows > 0);
    assert_int_equal(r.n_plants, 457);
    assert_int_equal(r.n_visits, 20); /* ten censuses in each of two areas */
    /* dead and then alive: three trees */
    size_t trees = 0;
    int64_t plants[16] = {0};
    for (size_t i = 0; i < r.n_held; i++) {
        if (doubt_of(&r.held[i], "resurrection") == NULL && doubt_of(&r.held[i], "tag_reused") == NULL)
            continue;
        int64_t id = ((struct plant_record *)r.held[i].record)->plant_id;
        bool before = false;
        for (size_t k = 0; k < trees; k++)
            before = before || plants[k] == id;
        if (!before && trees < 16)
            plants[trees++] = id;
    }
    assert_int_equal(trees, 3);
    arena_clear(&f.arena);
}

static void trees_that_shrink_are_as_many_as_counted_by_hand(void **state)
{
    (void)state;
    struct forest f = {0};
    forest_make(&f);
    struct workbook book;
    if (!forest_read(&f, "data/scalesia_blackberry/scalesia_dbh_long.csv", &book))
        skip();
    struct failure why = {0};
    struct mapping m;
    const struct record_sheet *sheet = &book.sheets[0];
    assert_int_equal(mapping_guess(sheet, RECORD_PLANTS, &f.ground, &f.arena, &m, &why), OUTCOME_OK);
    assert_false(m.wide);
    assert_int_equal(mapping_set(&m, sheet, "site=treatment", &f.arena, &why), OUTCOME_OK);
    answer(&f, &m, "word:site:blackberry_removed", "RM");
    answer(&f, &m, "word:site:blackberry_left", "LF");
    answer(&f, &m, "census_day", "middle");
    answer(&f, &m, "blank_means", "dead_standing");
    answer(&f, &m, "new_plants", "make");
    answer(&f, &m, "species", "Scalesia pedunculata");
    struct import_options options = {.limits = survey_limits_usual()};
    options.limits.shrink_share = 0; /* any shrinkage at all */
    options.limits.shrink_floor_mm = 1e-6;
    struct import_result r;
    assert_int_equal(import_dry_run(&book, sheet, &m, &f.ground, &options, &f.arena, &r, &why), OUTCOME_OK);
    assert_adds_up(&r);
    assert_int_equal(r.read, 4570);
    bool shrinks[1000] = {false};
    size_t trees = 0;
    for (size_t i = 0; i < r.n_held; i++) {
        bool zero = doubt_of(&r.held[i], "zero_size") != NULL; /* one tree goes from 5.57 cm to 0: held as a size of nought */
        if (doubt_of(&r.held[i], "shrinkage") == NULL && doubt_of(&r.held[i], "tenth") == NULL && !zero)
            continue;
        size_t plant = (size_t)(-((struct plant_record *)r.held[i].record)->plant_id);
        trees += !shrinks[plant];
        shrinks[plant] = true;
    }
    assert_int_equal(trees, 131);
    arena_clear(&f.arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(raw_file_is_wide_with_comments_and_asks_what_it_does_not_say),
        cmocka_unit_test(wide_file_brings_457_trees_and_finds_the_odd_ones),
        cmocka_unit_test(trees_that_shrink_are_as_many_as_counted_by_hand),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
