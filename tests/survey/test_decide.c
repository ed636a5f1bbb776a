/* SPDX-License-Identifier: GPL-3.0-or-later
 * Headings in four languages, mappings kept as JSON, finding plants, and decisions about held rows. */
#include "common.h"
#include "testlib.h"

static void headings_of_four_languages_are_understood(void **state)
{
    (void)state;
    static const char *const files[] = {
        "Plot,Square,No,Species,Date,Alive?,Height (cm),RCD (mm),Remarks\nD1,A01,1,Quercus robur,14/09/2024,y,55,6.1,x\n",
        "Parcelle;Carr\303\251;Num\303\251ro;Esp\303\250ce;Date;Vivant;Hauteur (cm);Diam\303\250tre au collet "
        "(mm);Remarques\nD1;A01;1;Quercus robur;14/09/2024;oui;55;6,1;x\n",
        "Parzelle;Quadrat;Nr.;Baumart;Datum;Zustand;H\303\266he [cm];Wurzelhalsdurchmesser [mm];Bemerkung\nD1;A01;1;Quercus "
        "robur;14.9.2024;lebend;55;6,1;x\n",
        "Perceel;Hok;Plantnummer;Soort;Datum;Toestand;Hoogte (cm);Diameter wortelhals (mm);Opmerkingen\nD1;A01;1;Quercus "
        "robur;14-9-2024;levend;55;6,1;x\n"};
    static const char *const said[] = {"site:=LK", NULL};
    for (size_t i = 0; i < 4; i++) {
        struct town *town = town_make();
        struct trip t = bring(town, RECORD_PLANTS, files[i], said);
        if (t.outcome != OUTCOME_OK || t.result.n_ready != 1)
            fail_msg("file %zu: %s", i,
                     t.result.n_held > 0      ? t.result.held[0].row.reason
                     : t.result.n_refused > 0 ? t.result.refused[0].sentence
                                              : t.why.sentence);
        const struct plant_record *r = t.result.ready;
        assert_int_equal(r->plant_id, town_plant(town, 0, 1, 1, 1)->id);
        assert_int_equal(r->status, STATUS_ALIVE);
        assert_near(r->height_cm, 55, 0);
        assert_near(r->diameter_mm, 6.1, 0);
        assert_int_equal(r->diameter_at, DIAMETER_HEIGHT_UNKNOWN + (i < 4 ? DIAMETER_HEIGHT_ROOT_COLLAR : 0));
        assert_int_equal(r->observed_on, date_make(2024, 9, 14));
        assert_string_equal(r->note, "x");
        town_free(town);
    }
}

static void units_by_heading_are_converted_and_a_missing_one_is_asked_with_the_likely_answer(void **state)
{
    (void)state;
    struct town *town = town_make();
    static const char *const said[] = {"site:=LK", NULL}, *const told[] = {"site:=LK", "?unit:height_cm=m", NULL},
                             *const option[] = {"site:=LK", "height_cm=H [m]", NULL};
    struct trip t = bring(town, RECORD_PLANTS, "plot,tag,date,status,height_mm\nD1,D-0001,2024-09-14,alive,550\n", said);
    assert_near(((struct plant_record *)t.result.ready)->height_cm, 55, 0);
    const char *open = "plot,tag,date,status,H\nD1,D-0001,2024-09-14,alive,0.55\nD1,D-0002,2024-09-14,alive,0.61\n";
    t = bring(town, RECORD_PLANTS, open, said);
    const struct question *q = asked(&t, "unit:height_cm");
    assert_non_null(q);
    assert_string_equal(q->suggestion, "m");
    assert_int_equal(t.result.n_held, 2);
    t = bring(town, RECORD_PLANTS, open, told);
    assert_near(((struct plant_record *)t.result.ready)->height_cm, 55, 0);
    t = bring(town, RECORD_PLANTS, open, option);
    assert_near(((struct plant_record *)t.result.ready)[1].height_cm, 61, 0);
    /* a heading that says centimetres over figures in metres is asked about */
    t = bring(town, RECORD_PLANTS, "plot,tag,date,status,height (cm)\nD1,D-0001,2024-09-14,alive,0.55\nD1,D-0002,2024-09-14,alive,0.61\n",
              said);
    assert_non_null(asked(&t, "unit:height_cm"));
    assert_int_equal(t.result.n_ready, 0);
    town_free(town);
}

static void unknown_words_are_asked_with_the_list_of_states(void **state)
{
    (void)state;
    struct town *town = town_make();
    const char *text = "plot,tag,date,status\nD1,D-0001,2024-09-14,hmm\nD1,D-0002,2024-09-14,tot\nD1,D-0003,2024-09-14,introuvable\n";
    static const char *const said[] = {"site:=LK", NULL}, *const told[] = {"site:=LK", "?word:status:hmm=alive_dieback", NULL},
                             *const wrong[] = {"?word:status:hmm=perhaps", NULL};
    struct trip t = bring(town, RECORD_PLANTS, text, said);
    const struct question *q = asked(&t, "word:status:hmm");
    assert_non_null(q);
    assert_int_equal(q->n_choices, STATUS_COUNT);
    assert_int_equal(t.result.n_held, 1);
    const struct plant_record *ready = t.result.ready;
    assert_int_equal(ready[0].status, STATUS_DEAD_STANDING);
    assert_int_equal(ready[1].status, STATUS_NOT_FOUND);
    t = bring(town, RECORD_PLANTS, text, told);
    assert_int_equal(((struct plant_record *)t.result.ready)[0].status, STATUS_ALIVE_DIEBACK);
    t = bring(town, RECORD_PLANTS, text, wrong);
    assert_int_equal(t.outcome, OUTCOME_USAGE);
    town_free(town);
}

static void a_mapping_kept_as_json_reads_the_next_file_the_same(void **state)
{
    (void)state;
    struct town *town = town_make();
    const char *text = "Plot;Label;When;State;H\nD1;D-0001;03/09/2024;hmm;0,55\n";
    static const char *const said[] = {
        "site:=LK", "observed_on=When", "tag=Label", "?dates=dmy", "?word:status:hmm=alive", "?unit:height_cm=m", NULL};
    struct trip t = bring(town, RECORD_PLANTS, text, said);
    assert_int_equal(t.result.n_ready, 1);
    json_t *json = mapping_json(&t.mapping);
    struct mapping again;
    struct failure why = {0};
    if (mapping_from_json(json, &t.book.sheets[0], &town->arena, &again, &why) != OUTCOME_OK)
        fail_msg("%s", why.sentence);
    json_t *second = mapping_json(&again);
    struct import_options options = {.limits = survey_limits_usual()};
    struct import_result result;
    assert_int_equal(import_dry_run(&t.book, &t.book.sheets[0], &again, &town->ground, &options, &town->arena, &result, &why), OUTCOME_OK);
    assert_int_equal(result.n_ready, 1);
    assert_memory_equal(result.ready, t.result.ready, sizeof(struct plant_record));
    assert_true(json_equal(json, second));
    json_object_set_new(json, "surprise", json_true());
    assert_int_equal(mapping_from_json(json, &t.book.sheets[0], &town->arena, &again, &why), OUTCOME_DATA);
    json_decref(json);
    json_decref(second);
    town_free(town);
}

static void wrong_options_say_what_would_be_right(void **state)
{
    (void)state;
    struct town *town = town_make();
    static const char *const wrong[][2] = {{"height=H", NULL},         {"height_cm=Nothing", NULL}, {"nonsense", NULL},
                                           {"height_cm=H [kg]", NULL}, {"?dates=later", NULL},      {"?unit:height_cm=kg", NULL}};
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        struct trip t = bring(town, RECORD_PLANTS, "plot,tag,date,status,H\nD1,D-0001,2024-09-14,alive,55\n", wrong[i]);
        assert_int_equal(t.outcome, OUTCOME_USAGE);
        assert_true(t.why.remedy[0] != '\0');
    }
    town_free(town);
}

static void height_by_column_per_year_is_a_wide_table(void **state)
{
    (void)state;
    struct town *town = town_make();
    static const char *const said[] = {"site:=LK", "?census:2023=2023-09-12", "?census:2024=2024-09-14", "?blank_means=dead_standing",
                                       NULL};
    struct trip t =
        bring(town, RECORD_PLANTS, "plot,tag,height 2023 (cm),height 2024 (cm)\nD1,D-0001,50,60\nD1,D-0002,50,NA\nD1,D-0003,,55\n", said);
    assert_true(t.mapping.wide);
    assert_int_equal(t.result.read, 6);
    assert_int_equal(t.result.n_empty, 1);
    town_free(town);
}

/* ---- finding plants ---- */

static void plants_are_found_by_label_or_place_and_disagreement_is_told(void **state)
{
    (void)state;
    struct town *town = town_make();
    struct plant_index *index = plant_index_make(&town->ground, &town->arena);
    const struct plant *p = town_plant(town, 0, 3, 7, 2);
    static const char *const spellings[] = {"C07", "c7", "C-07", " C 7 "};
    for (size_t i = 0; i < 4; i++) {
        struct plant_key key = {1, 10, spellings[i], NULL, 2, LABELS_AS_FOUND};
        struct plant_found found = plant_find(index, &key, &town->arena);
        assert_int_equal(found.match, MATCH_ONE);
        assert_ptr_equal(found.plant, p);
    }
    struct plant_key by_tag = {1, 0, NULL, " d-0046", INT_UNKNOWN, LABELS_AS_FOUND};
    assert_ptr_equal(plant_find(index, &by_tag, &town->arena).plant, p);
    struct plant_key both = {1, 10, "C08", "D-0046", 2, LABELS_AS_FOUND};
    struct plant_found apart = plant_find(index, &both, &town->arena);
    assert_int_equal(apart.match, MATCH_DISAGREES);
    assert_ptr_equal(apart.plant, p);
    struct plant_key none = {1, 10, NULL, "D-0947", INT_UNKNOWN, LABELS_AS_FOUND};
    struct plant_found lost = plant_find(index, &none, &town->arena);
    assert_int_equal(lost.match, MATCH_NONE);
    assert_true(lost.n_near >= 1);
    assert_non_null(strstr(lost.words, "Nearest"));
    town_free(town);
}

/* ---- deciding ---- */

static struct trip slip_of_ten(struct town *town)
{
    static const char *const said[] = {"site:=LK", NULL};
    town_census(town, 101, date_make(2023, 9, 12), 60);
    town_record(town, town_plant(town, 0, 1, 1, 1), 101)->height_cm = 42;
    struct trip t = bring(town, RECORD_PLANTS,
                          "plot,tag,date,status,height (cm)\nD1,D-0001,2024-09-14,alive,450\nD1,D-0947,2024-09-14,alive,50\n", said);
    assert_int_equal(t.result.n_held, 2);
    return t;
}

static void a_correction_changes_the_record_and_keeps_what_was_read(void **state)
{
    (void)state;
    struct town *town = town_make();
    struct trip t = slip_of_ten(town);
    const struct held_row *held = &t.result.held[0].row;
    struct held_row out;
    struct plant_record record;
    struct failure why = {0};
    struct decision d = {"correct:height_cm=45", NULL, "V001", date_make(2024, 10, 1)};
    assert_int_equal(survey_decide(NOUN_PLANT_RECORD, held, &d, &town->ground, &town->arena, &out, &record, &why), OUTCOME_OK);
    assert_near(record.height_cm, 45, 0);
    assert_int_equal(out.state, HELD_STATE_CORRECTED);
    assert_non_null(strstr(out.decision, "height_cm 450 \342\206\222 45"));
    assert_non_null(strstr(out.raw, "450"));
    assert_string_equal(out.raw, held->raw);
    assert_string_equal(out.parsed, held->parsed);
    assert_int_equal(survey_decide(NOUN_PLANT_RECORD, &out, &d, &town->ground, &town->arena, &out, &record, &why), OUTCOME_USAGE);
    town_free(town);
}

static void accepting_needs_a_reason_that_goes_with_the_record(void **state)
{
    (void)state;
    struct town *town = town_make();
    struct trip t = slip_of_ten(town);
    struct held_row out;
    struct plant_record record;
    struct failure why = {0};
    struct decision d = {"accept", "", "V001", date_make(2024, 10, 1)};
    assert_int_equal(survey_decide(NOUN_PLANT_RECORD, &t.result.held[0].row, &d, &town->ground, &town->arena, &out, &record, &why),
                     OUTCOME_USAGE);
    d.reason = "measured again, it is a giant";
    assert_int_equal(survey_decide(NOUN_PLANT_RECORD, &t.result.held[0].row, &d, &town->ground, &town->arena, &out, &record, &why),
                     OUTCOME_OK);
    assert_near(record.height_cm, 450, 0);
    assert_string_equal(record.confirmed, d.reason);
    d.what = "reject";
    assert_int_equal(survey_decide(NOUN_PLANT_RECORD, &t.result.held[0].row, &d, &town->ground, &town->arena, &out, &record, &why),
                     OUTCOME_OK);
    assert_int_equal(out.state, HELD_STATE_REJECTED);
    d.what = "perhaps";
    assert_int_equal(survey_decide(NOUN_PLANT_RECORD, &t.result.held[0].row, &d, &town->ground, &town->arena, &out, &record, &why),
                     OUTCOME_USAGE);
    town_free(town);
}

static void a_corrected_label_finds_the_plant_anew(void **state)
{
    (void)state;
    struct town *town = town_make();
    struct trip t = slip_of_ten(town);
    struct held_row out;
    struct plant_record record;
    struct failure why = {0};
    struct decision d = {"accept", "it is there", "V001", date_make(2024, 10, 1)};
    assert_int_equal(survey_decide(NOUN_PLANT_RECORD, &t.result.held[1].row, &d, &town->ground, &town->arena, &out, &record, &why),
                     OUTCOME_DATA);
    d.what = "correct:tag=D-0047";
    assert_int_equal(survey_decide(NOUN_PLANT_RECORD, &t.result.held[1].row, &d, &town->ground, &town->arena, &out, &record, &why),
                     OUTCOME_OK);
    assert_int_equal(record.plant_id, town_plant(town, 0, 3, 8, 1)->id);
    d.what = "correct:plot=C1;tag=;cell=B02;number=1";
    assert_int_equal(survey_decide(NOUN_PLANT_RECORD, &t.result.held[1].row, &d, &town->ground, &town->arena, &out, &record, &why),
                     OUTCOME_OK);
    assert_int_equal(record.plant_id, town_plant(town, 1, 2, 2, 1)->id);
    d.what = "correct:wings=2";
    assert_int_equal(survey_decide(NOUN_PLANT_RECORD, &t.result.held[1].row, &d, &town->ground, &town->arena, &out, &record, &why),
                     OUTCOME_USAGE);
    d.what = "correct:height_cm=90000";
    assert_int_equal(survey_decide(NOUN_PLANT_RECORD, &t.result.held[1].row, &d, &town->ground, &town->arena, &out, &record, &why),
                     OUTCOME_DATA);
    town_free(town);
}

static void every_remedy_offered_can_be_carried_out(void **state)
{
    (void)state;
    struct town *town = town_make();
    struct trip t = slip_of_ten(town);
    for (size_t i = 0; i < t.result.n_held; i++)
        for (size_t k = 0; k < t.result.held[i].n_doubts; k++)
            for (size_t m = 0; m < t.result.held[i].doubts[k].n_remedies; m++) {
                struct held_row out;
                struct plant_record record;
                struct failure why = {0};
                struct decision d = {t.result.held[i].doubts[k].remedies[m].decision, "because", "V001", date_make(2024, 10, 1)};
                if (survey_decide(NOUN_PLANT_RECORD, &t.result.held[i].row, &d, &town->ground, &town->arena, &out, &record, &why) !=
                    OUTCOME_OK)
                    fail_msg("%s: %s", d.what, why.sentence);
            }
    town_free(town);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(headings_of_four_languages_are_understood),
        cmocka_unit_test(units_by_heading_are_converted_and_a_missing_one_is_asked_with_the_likely_answer),
        cmocka_unit_test(unknown_words_are_asked_with_the_list_of_states),
        cmocka_unit_test(a_mapping_kept_as_json_reads_the_next_file_the_same),
        cmocka_unit_test(wrong_options_say_what_would_be_right),
        cmocka_unit_test(height_by_column_per_year_is_a_wide_table),
        cmocka_unit_test(plants_are_found_by_label_or_place_and_disagreement_is_told),
        cmocka_unit_test(a_correction_changes_the_record_and_keeps_what_was_read),
        cmocka_unit_test(accepting_needs_a_reason_that_goes_with_the_record),
        cmocka_unit_test(a_corrected_label_finds_the_plant_anew),
        cmocka_unit_test(every_remedy_offered_can_be_carried_out),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
