/* SPDX-License-Identifier: GPL-3.0-or-later
 * Rows of any noun go into the file and come back the same; bad ones are refused and nothing is half done. */
#include "help.h"
#include "model/model_json.h"

static void fill(enum noun noun, void *row, int64_t seed, struct arena *arena)
{
    const struct noun_info *info = &noun_infos[noun];
    noun_init(noun, row);
    for (size_t i = 0; i < info->n_fields; i++) {
        const struct field *field = &info->fields[i];
        void *at = (char *)row + field->offset;
        double least = isfinite(field->least) ? field->least : -1000, most = isfinite(field->most) ? field->most : 1000;
        int word = field->kind == FIELD_ENUM ? 1 + (int)((seed + (int64_t)i) % (words_of[field->words].n - 1)) : 0;
        switch (field->kind) {
        case FIELD_TEXT:
            *(const char **)at = arena_print(arena, "hëdge \"%lld\" 'x'; 🌳 %zu", (long long)seed, i);
            break;
        case FIELD_JSON:
            *(const char **)at = arena_print(arena, "{ \"a\": [1, 2.50, null], \"b\": \"%lld\" }", (long long)seed);
            break;
        case FIELD_MOMENT:
            *(const char **)at = "2024-09-14T10:00:00+02:00";
            break;
        case FIELD_INT:
            *(int64_t *)at = (int64_t)ceil(least) + seed % 2;
            break;
        case FIELD_REAL:
            *(double *)at = least + (most - least) / (3.0 + (double)seed);
            break;
        case FIELD_DATE:
            *(int32_t *)at = date_make(2024, 2, 29) + (int32_t)seed;
            break;
        case FIELD_BYTES:
            *(struct bytes *)at = (struct bytes){(const unsigned char *)"a\0b\xff", 4};
            break;
        case FIELD_REF:
            *(int64_t *)at = 1;
            break;
        case FIELD_ENUM:
            memcpy(at, &word, sizeof word);
            break;
        }
    }
    void *place = (char *)row + info->geometry_offset;
    if (info->geometry == GEOMETRY_POINT) {
        ((double *)place)[0] = 500000.1 + (double)seed;
        ((double *)place)[1] = 5700000.3;
    } else if (info->geometry != GEOMETRY_NONE) {
        *(struct bytes *)place = square_wkb(arena, 500000, 5700000 + (double)seed, 3);
    }
    if (noun == NOUN_PROGRAMME)
        ((struct programme *)row)->crs = 25832;
}

static void every_field_of_every_noun_comes_back_the_same(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct failure why = {0};
    struct store *store = NULL;
    const char *path = fresh_path("all.gpkg");
    struct programme programme;
    fill(NOUN_PROGRAMME, &programme, 1, &arena);
    good(store_create(path, &programme, "V001", &store, &why), &why);
    good(store_begin(store, "V001", "One of each", &why), &why);
    /* a noun may refer to one further down, or to itself: first without what is not there yet, then changed */
    char *kept[NOUN_COUNT];
    for (int pass = 0; pass < 2; pass++)
        for (int noun = 1; noun < NOUN_COUNT; noun++) {
            void *row = arena_alloc(&arena, noun_infos[noun].size);
            fill((enum noun)noun, row, noun, &arena);
            for (size_t i = 0; i < noun_infos[noun].n_fields; i++)
                if (pass == 0 && noun_infos[noun].fields[i].kind == FIELD_REF && noun_infos[noun].fields[i].target >= noun)
                    *(int64_t *)(void *)((char *)row + noun_infos[noun].fields[i].offset) = 0;
            if (pass == 0) {
                good(store_add(store, (enum noun)noun, row, 1, &why), &why);
                assert_int_equal(*(int64_t *)row, 1);
            } else {
                *(int64_t *)row = 1;
                good(store_change(store, (enum noun)noun, row, &why), &why);
                void *back = arena_alloc(&arena, noun_infos[noun].size);
                good(store_get(store, (enum noun)noun, 1, &arena, back, &why), &why);
                memcpy((char *)row + 8, (char *)back + 8, 16);
                json_t *json = row_json((enum noun)noun, row);
                kept[noun] = json_dumps(json, 0);
                json_decref(json);
            }
        }
    good(store_commit(store, &why), &why);
    store_close(store);
    good(store_open(path, STORE_READ, &store, &why), &why);
    for (int noun = 1; noun < NOUN_COUNT; noun++) {
        void *rows = NULL;
        size_t n = 0;
        good(store_load(store, (enum noun)noun, NULL, 0, true, &arena, &rows, &n, &why), &why);
        assert_int_equal(n, 1);
        json_t *json = row_json((enum noun)noun, rows);
        char *text = json_dumps(json, 0);
        assert_string_equal(text, kept[noun]);
        free(text);
        free(kept[noun]);
        /* and through JSON to the same struct again */
        void *again = arena_alloc(&arena, noun_infos[noun].size);
        good(row_from_json((enum noun)noun, json, false, again, &arena, &why), &why);
        json_t *twice = row_json((enum noun)noun, again);
        assert_true(json_equal(json, twice));
        json_decref(twice);
        json_decref(json);
    }
    const char **findings = NULL;
    size_t n = 0;
    good(store_verify(store, &arena, &findings, &n, &why), &why);
    if (n > 0)
        fail_msg("%s", findings[0]);
    store_close(store);
    arena_clear(&arena);
}

static void unknown_stays_unknown(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct failure why = {0};
    struct store *store = small_wood(fresh_path("unknown.gpkg"));
    struct plot plot;
    good(store_get(store, NOUN_PLOT, 2, &arena, &plot, &why), &why);
    assert_false(is_known(plot.density_m2));
    assert_int_equal(plot.planted_on, DATE_UNKNOWN);
    assert_int_equal(plot.cohort_year, INT_UNKNOWN);
    assert_int_equal(plot.preparation_id, 0);
    assert_null(plot.note);
    assert_int_equal(plot.wkb.n, 0);
    store_close(store);
    arena_clear(&arena);
}

static void nothing_is_added_where_one_row_is_refused(void **state)
{
    (void)state;
    struct failure why = {0};
    struct store *store = small_wood(fresh_path("refuse.gpkg"));
    struct plant plants[3] = {a_plant(1, 1), a_plant(1, 2), a_plant(1, 3)};
    good(store_begin(store, "V001", "Plant", &why), &why);
    plants[2].origin = ORIGIN_UNKNOWN;
    assert_int_equal(store_add(store, NOUN_PLANT, plants, 3, &why), OUTCOME_DATA);
    assert_int_equal(why.row, 3);
    assert_string_equal(why.column, "origin");
    plants[2].origin = ORIGIN_REPLACEMENT;
    plants[2].plot_id = 99;
    assert_int_equal(store_add(store, NOUN_PLANT, plants, 3, &why), OUTCOME_DATA);
    assert_int_equal(why.row, 3);
    assert_non_null(strstr(why.sentence, "plot_id is 99, but there is no such plot"));
    plants[2].plot_id = 1;
    plants[2].y_m = unknown_real();
    assert_int_equal(store_add(store, NOUN_PLANT, plants, 3, &why), OUTCOME_DATA);
    plants[2].y_m = 5700000;
    plants[2].tag = "\xff\xfe";
    assert_int_equal(store_add(store, NOUN_PLANT, plants, 3, &why), OUTCOME_DATA);
    assert_string_equal(why.column, "tag");
    plants[2].tag = NULL;
    plants[1].uuid = uuid_from(1, 1);
    plants[2].uuid = uuid_from(1, 1);
    assert_int_equal(store_add(store, NOUN_PLANT, plants, 3, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "uuid"));
    assert_int_equal(plants[0].id, 0);
    assert_true(uuid_unset(&plants[0].uuid));
    assert_int_equal(count_rows(store, NOUN_PLANT), 0);
    good(store_commit(store, &why), &why);
    assert_int_equal(count_rows(store, NOUN_PLANT), 0);
    store_close(store);
}

static void rows_are_found_by_conditions(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct failure why = {0};
    struct store *store = small_wood(fresh_path("where.gpkg"));
    good(store_begin(store, "V001", "Plant", &why), &why);
    struct plant plants[6];
    for (int i = 0; i < 6; i++) {
        plants[i] = a_plant(1 + i % 2, i + 1);
        plants[i].layer = i < 2 ? LAYER_UNKNOWN : LAYER_SHRUB;
        plants[i].planted_on = date_make(2024, 11, 1 + i / 3);
        plants[i].tag = i == 4 ? "A=1" : NULL;
    }
    good(store_add(store, NOUN_PLANT, plants, 6, &why), &why);
    good(store_commit(store, &why), &why);
    struct {
        struct store_where where[2];
        size_t n, wanted;
    } cases[] = {
        {{{"plot_id", 1, NULL}}, 1, 3},
        {{{"plot_id", 1, NULL}, {"layer", LAYER_SHRUB, NULL}}, 2, 2},
        {{{"layer", 0, "shrub"}}, 1, 4},
        {{{"layer", LAYER_UNKNOWN, NULL}}, 1, 2},
        {{{"planted_on", 0, "2024-11-02"}}, 1, 3},
        {{{"tag", 0, "A=1"}}, 1, 1},
        {{{"tag", 0, ""}}, 1, 5},
        {{{"number", 3, NULL}}, 1, 1},
        {{{"id", 6, NULL}}, 1, 1},
        {{{"id", 7, NULL}}, 1, 0},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct plant *rows = NULL;
        size_t n = 0;
        int64_t count = 0;
        good(store_load(store, NOUN_PLANT, cases[i].where, cases[i].n, false, &arena, (void **)&rows, &n, &why), &why);
        good(store_count(store, NOUN_PLANT, cases[i].where, cases[i].n, &count, &why), &why);
        if (n != cases[i].wanted || count != (int64_t)n)
            fail_msg("case %zu: %zu rows, counted %lld, wanted %zu", i, n, (long long)count, cases[i].wanted);
    }
    struct store_where wrong = {"colour", 1, NULL};
    int64_t count = 0;
    assert_int_equal(store_count(store, NOUN_PLANT, &wrong, 1, &count, &why), OUTCOME_USAGE);
    store_close(store);
    arena_clear(&arena);
}

static void a_change_keeps_the_old_values(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct failure why = {0};
    struct store *store = small_wood(fresh_path("change.gpkg"));
    struct plot plot;
    good(store_get(store, NOUN_PLOT, 1, &arena, &plot, &why), &why);
    good(store_begin(store, "V017", "Set the density", &why), &why);
    good(store_change(store, NOUN_PLOT, &plot, &why), &why); /* nothing differs */
    plot.density_m2 = 3;
    plot.note = "as agreed";
    good(store_change(store, NOUN_PLOT, &plot, &why), &why);
    good(store_commit(store, &why), &why);
    struct store_past *past = NULL;
    size_t n = 0;
    good(store_history(store, NOUN_PLOT, 1, &arena, &past, &n, &why), &why);
    assert_int_equal(n, 2);
    assert_string_equal(past[0].kind, "added");
    assert_string_equal(past[0].author, "V001");
    assert_string_equal(past[1].kind, "changed");
    assert_string_equal(past[1].author, "V017");
    assert_string_equal(past[1].what, "Set the density");
    assert_string_equal(past[1].before, "{\"density_m2\":null,\"note\":null}");
    assert_string_equal(past[1].after, "{\"density_m2\":3.0,\"note\":\"as agreed\"}");
    assert_int_equal(strlen(past[1].at), 24);
    good(store_history(store, NOUN_PLOT, 3, &arena, &past, &n, &why), &why);
    assert_int_equal(n, 0);
    store_close(store);
    arena_clear(&arena);
}

static void a_deletion_is_a_mark_and_is_refused_where_others_refer(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct failure why = {0};
    struct store *store = small_wood(fresh_path("delete.gpkg"));
    struct plot plot;
    good(store_begin(store, "V001", "Delete", &why), &why);
    assert_int_equal(store_delete(store, NOUN_SITE, 1, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "plot D1 and 1 more"));
    good(store_delete(store, NOUN_PLOT, 1, &why), &why);
    assert_int_equal(store_get(store, NOUN_PLOT, 1, &arena, &plot, &why), OUTCOME_DATA);
    assert_int_equal(store_delete(store, NOUN_PLOT, 1, &why), OUTCOME_DATA);
    assert_int_equal(count_rows(store, NOUN_PLOT), 1);
    struct plant plant = a_plant(1, 1);
    assert_int_equal(store_add(store, NOUN_PLANT, &plant, 1, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "plot D1, which has been deleted"));
    assert_int_equal(store_delete(store, NOUN_PROGRAMME, 1, &why), OUTCOME_USAGE);
    good(store_commit(store, &why), &why);
    store_close(store);
    arena_clear(&arena);
}

static void bytes_that_were_not_loaded_are_not_erased(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct failure why = {0};
    struct store *store = small_wood(fresh_path("bytes.gpkg"));
    struct import row, *rows = NULL;
    size_t n = 0;
    noun_init(NOUN_IMPORT, &row);
    row.file_name = "autumn.csv";
    row.sha256 = "00";
    row.kind = "census";
    row.content = (struct bytes){(const unsigned char *)"tag,state\n", 10};
    good(store_begin(store, "V001", "Import", &why), &why);
    good(store_add(store, NOUN_IMPORT, &row, 1, &why), &why);
    good(store_load(store, NOUN_IMPORT, NULL, 0, false, &arena, (void **)&rows, &n, &why), &why);
    assert_int_equal(rows[0].content.n, 0);
    rows[0].rows_read = 1;
    good(store_change(store, NOUN_IMPORT, &rows[0], &why), &why);
    good(store_get(store, NOUN_IMPORT, 1, &arena, &row, &why), &why);
    assert_int_equal(row.content.n, 10);
    assert_int_equal(row.rows_read, 1);
    good(store_commit(store, &why), &why);
    store_close(store);
    arena_clear(&arena);
}

static void no_noun_uses_a_name_the_file_needs_itself(void **state)
{
    (void)state;
    static const char *const taken[] = {"fid", "id",  "geom",       "geometry",   "uuid",   "x_m",
                                        "y_m", "wkb", "created_at", "changed_at", "author", "deleted_at"};
    for (int noun = 0; noun < NOUN_COUNT; noun++) {
        assert_int_not_equal(strncmp(noun_infos[noun].name, "spinney_", 8), 0);
        assert_int_not_equal(strncmp(noun_infos[noun].name, "gpkg_", 5), 0);
        for (size_t i = 0; i < sizeof taken / sizeof *taken; i++)
            assert_null(noun_field((enum noun)noun, taken[i]));
    }
}

static void json_that_does_not_fit_is_refused_by_field(void **state)
{
    (void)state;
    static const struct {
        const char *json, *column;
    } cases[] = {
        {"{\"height_cm\": \"12\"}", "height_cm"},
        {"{\"colour\": 1}", "colour"},
        {"{\"status\": \"fine\"}", "status"},
        {"{\"repeat\": 1}", "repeat"},
        {"{\"observed_on\": 20}", "observed_on"},
        {"{\"observed_on\": \"2024-02-30\"}", "observed_on"},
        {"{\"visit_id\": 1.5}", "visit_id"},
        {"{\"id\": -1}", "id"},
        {"{\"uuid\": \"x\"}", "uuid"},
        {"{\"x_m\": 1}", "x_m"},
        {"{\"note\": \"a\\u0000b\"}", "note"},
    };
    struct arena arena = {0};
    struct plant_record row, before;
    noun_init(NOUN_PLANT_RECORD, &row);
    before = row;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct failure why = {0};
        json_t *json = json_loads(cases[i].json, JSON_ALLOW_NUL, NULL);
        assert_non_null(json);
        assert_int_equal(row_from_json(NOUN_PLANT_RECORD, json, true, &row, &arena, &why), OUTCOME_DATA);
        assert_string_equal(why.column, cases[i].column);
        assert_memory_equal(&row, &before, sizeof row);
        json_decref(json);
    }
    arena_clear(&arena);
}

/* RFC 7946, appendix A: its examples of a polygon with a hole, of many parts and of a collection come back the same. */
static void geojson_examples_of_the_standard_come_back_the_same(void **state)
{
    (void)state;
    static const char *const examples[] = {
        "{\"type\":\"Point\",\"coordinates\":[100.0,0.0]}",
        "{\"type\":\"LineString\",\"coordinates\":[[100.0,0.0],[101.0,1.0]]}",
        "{\"type\":\"Polygon\",\"coordinates\":[[[100.0,0.0],[101.0,0.0],[101.0,1.0],[100.0,1.0],[100.0,0.0]],"
        "[[100.8,0.8],[100.8,0.2],[100.2,0.2],[100.2,0.8],[100.8,0.8]]]}",
        "{\"type\":\"MultiPoint\",\"coordinates\":[[100.0,0.0],[101.0,1.0]]}",
        "{\"type\":\"MultiLineString\",\"coordinates\":[[[100.0,0.0],[101.0,1.0]],[[102.0,2.0],[103.0,3.0]]]}",
        "{\"type\":\"MultiPolygon\",\"coordinates\":[[[[102.0,2.0],[103.0,2.0],[103.0,3.0],[102.0,3.0],[102.0,2.0]]],"
        "[[[100.0,0.0],[101.0,0.0],[101.0,1.0],[100.0,1.0],[100.0,0.0]],[[100.2,0.2],[100.2,0.8],[100.8,0.8],[100.8,0.2],[100.2,0.2]]]]}",
        "{\"type\":\"GeometryCollection\",\"geometries\":[{\"type\":\"Point\",\"coordinates\":[100.0,0.0]},"
        "{\"type\":\"LineString\",\"coordinates\":[[101.0,0.0],[102.0,1.0]]}]}",
    };
    struct arena arena = {0};
    struct failure why = {0};
    for (size_t i = 0; i < sizeof examples / sizeof *examples; i++) {
        struct bytes wkb = {0};
        json_t *json = json_loads(examples[i], 0, NULL), *back = NULL;
        good(wkb_from_json(json, &arena, &wkb, &why), &why);
        good(wkb_to_json(wkb, &back, &why), &why);
        assert_true(json_equal(json, back));
        for (size_t cut = 0; cut < wkb.n; cut++) {
            json_t *none = NULL;
            assert_int_equal(wkb_to_json((struct bytes){wkb.at, cut}, &none, &why), OUTCOME_DATA);
        }
        json_decref(json);
        json_decref(back);
    }
    json_t *high = json_loads("{\"type\":\"Point\",\"coordinates\":[1,2,3]}", 0, NULL);
    struct bytes wkb = {0};
    assert_int_equal(wkb_from_json(high, &arena, &wkb, &why), OUTCOME_DATA);
    json_decref(high);
    arena_clear(&arena);
}

static void make_still(const char *path)
{
    struct arena arena = {0};
    struct failure why = {0};
    struct store *store = NULL;
    struct programme programme = a_programme();
    struct site site = a_site("S1");
    programme.uuid = uuid_from(7, 1);
    site.uuid = uuid_from(7, 2);
    site.wkb = square_wkb(&arena, 500000, 5700000, 40);
    good(store_create(path, &programme, "V001", &store, &why), &why);
    good(store_begin(store, "V001", "A site", &why), &why);
    good(store_add(store, NOUN_SITE, &site, 1, &why), &why);
    site.slope_pct = 2.5;
    good(store_change(store, NOUN_SITE, &site, &why), &why);
    good(store_commit(store, &why), &why);
    store_close(store);
    arena_clear(&arena);
}

/* Where the clock stands still (SOURCE_DATE_EPOCH of reproducible-builds.org), the same work gives the same bytes. */
static void the_same_work_gives_the_same_bytes(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct failure why = {0};
    char *a = NULL, *b = NULL;
    size_t n = 0, m = 0;
    setenv("SOURCE_DATE_EPOCH", "1700000000", 1);
    const char *one = fresh_path("one.gpkg"), *two = fresh_path("two.gpkg");
    make_still(one);
    make_still(two);
    unsetenv("SOURCE_DATE_EPOCH");
    good(file_read(one, 0, &arena, &a, &n, &why), &why);
    good(file_read(two, 0, &arena, &b, &m, &why), &why);
    assert_int_equal(n, m);
    assert_memory_equal(a, b, n);
    assert_non_null(memmem(a, n, "2023-11-14T22:13:20.000Z", 24));
    arena_clear(&arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_field_of_every_noun_comes_back_the_same),
        cmocka_unit_test(unknown_stays_unknown),
        cmocka_unit_test(nothing_is_added_where_one_row_is_refused),
        cmocka_unit_test(rows_are_found_by_conditions),
        cmocka_unit_test(a_change_keeps_the_old_values),
        cmocka_unit_test(a_deletion_is_a_mark_and_is_refused_where_others_refer),
        cmocka_unit_test(bytes_that_were_not_loaded_are_not_erased),
        cmocka_unit_test(no_noun_uses_a_name_the_file_needs_itself),
        cmocka_unit_test(json_that_does_not_fit_is_refused_by_field),
        cmocka_unit_test(the_same_work_gives_the_same_bytes),
        cmocka_unit_test(geojson_examples_of_the_standard_come_back_the_same),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
