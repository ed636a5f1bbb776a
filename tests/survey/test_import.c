/* SPDX-License-Identifier: GPL-3.0-or-later
 * Every kind of mistake that finds its way into spreadsheets, put into a sound census one by one: each must be found, and a
 * sound census must pass. */
#include "common.h"
#include "testlib.h"

enum { D1 = 0, C1 = 1, MOST_ROWS = 300 };

/* A census sheet of every plant of D1 and C1 in September 2024, the second after one of 2023, that the tests then spoil. */
struct sheet_row {
    char plot[8], cell[16], number[8], tag[16], species[48], day[16], observer[8], status[24], height[16], diameter[16], damage[24];
};
struct census {
    struct town *town;
    struct sheet_row rows[MOST_ROWS];
    size_t n;
    struct text text;
    bool no_tags, semicolons;
};

static struct sheet_row *row_of(struct census *c, const struct plant *p)
{
    for (size_t i = 0; i < c->n; i++)
        if (strcmp(c->rows[i].tag, p->tag) == 0)
            return &c->rows[i];
    fail_msg("no row");
    return NULL;
}

static struct census *census_make(void)
{
    struct census *c = calloc(1, sizeof *c);
    c->town = town_make();
    town_census(c->town, 101, date_make(2023, 9, 12), 60);
    for (size_t i = 0; i < c->town->ground.n_plants; i++) {
        const struct plant *p = &c->town->plants[i];
        const struct plant_record *b = town_record(c->town, p, 101);
        struct random_stream random = random_make(99, i);
        struct sheet_row *r = &c->rows[c->n++];
        double height = round(b->height_cm * (1.25 + 0.1 * random_uniform(&random)) + 3);
        snprintf(r->plot, sizeof r->plot, "%s", p->plot_id == 10 ? "D1" : "C1");
        snprintf(r->cell, sizeof r->cell, "%s", p->cell_code);
        snprintf(r->number, sizeof r->number, "%d", (int)p->number);
        snprintf(r->tag, sizeof r->tag, "%s", p->tag);
        snprintf(r->species, sizeof r->species, "%s", p->species);
        snprintf(r->day, sizeof r->day, "2024-09-14");
        snprintf(r->observer, sizeof r->observer, "%s", i % 2 == 0 ? "V001" : "V002");
        snprintf(r->status, sizeof r->status, "alive");
        snprintf(r->height, sizeof r->height, "%.0f", height);
        snprintf(r->diameter, sizeof r->diameter, "%.1f", round(height * 1.2) / 10);
    }
    return c;
}

static void census_free(struct census *c)
{
    text_free(&c->text);
    town_free(c->town);
    free(c);
}

static struct trip census_bring(struct census *c, const char *const *said)
{
    static const char *const usual[] = {"site:=LK", NULL};
    char d = c->semicolons ? ';' : ',';
    text_print(&c->text, "Plot%cCell%cNo%c%sSpecies%cDate%cObserver%cStatus%cHeight (cm)%cRoot collar (mm)%cDamage\n", d, d, d,
               c->no_tags      ? ""
               : c->semicolons ? "Tag;"
                               : "Tag,",
               d, d, d, d, d, d);
    for (size_t i = 0; i < c->n; i++) {
        struct sheet_row *r = &c->rows[i];
        text_print(&c->text, "%s%c%s%c%s%c", r->plot, d, r->cell, d, r->number, d);
        if (!c->no_tags)
            text_print(&c->text, "%s%c", r->tag, d);
        text_print(&c->text, "%s%c%s%c%s%c%s%c%s%c%s%c%s\n", r->species, d, r->day, d, r->observer, d, r->status, d, r->height, d,
                   r->diameter, d, r->damage);
    }
    struct trip trip = bring(c->town, RECORD_PLANTS, text_get(&c->text), said == NULL ? usual : said);
    if (trip.outcome != OUTCOME_OK)
        fail_msg("%s", trip.why.sentence);
    return trip;
}

static void a_sound_census_passes_whole(void **state)
{
    (void)state;
    struct census *c = census_make();
    struct trip t = census_bring(c, NULL);
    assert_int_equal(t.result.read, 256);
    if (t.result.n_held > 0)
        fail_msg("held: %s", t.result.held[0].row.reason);
    assert_int_equal(t.result.n_ready, 256);
    const struct plant_record *ready = t.result.ready;
    assert_int_equal(ready[0].visit_id, 102);
    assert_int_equal(ready[0].status, STATUS_ALIVE);
    assert_true(strlen(t.result.sha256) == 64);
    census_free(c);
}

static void tenfold_height_is_held_with_the_tenth_offered(void **state)
{
    (void)state;
    struct census *c = census_make();
    struct plant *p = town_plant(c->town, D1, 2, 3, 1);
    struct plant_record *before = town_record(c->town, p, 101);
    before->height_cm = 42;
    before->diameter_mm = 5;
    struct sheet_row *r = row_of(c, p);
    strcpy(r->height, "450");
    strcpy(r->diameter, "5.4");
    struct trip t = census_bring(c, NULL);
    const struct held *held = NULL;
    assert_int_equal(held_by(&t.result, "ten_times", &held), 1);
    assert_true(remedy_offered(doubt_of(held, "ten_times"), "correct:height_cm=45"));
    assert_near(doubt_of(held, "ten_times")->before, 42, 0);
    assert_int_equal(t.result.n_held, 1);
    census_free(c);
}

static void metres_and_tenths_are_held(void **state)
{
    (void)state;
    struct census *c = census_make();
    struct sheet_row *a = row_of(c, town_plant(c->town, D1, 2, 3, 1)), *b = row_of(c, town_plant(c->town, D1, 4, 4, 2));
    snprintf(a->height, sizeof a->height, "%.2f", strtod(a->height, NULL) / 100);
    snprintf(b->diameter, sizeof b->diameter, "%.2f", strtod(b->diameter, NULL) / 10); /* centimetres under millimetres */
    struct trip t = census_bring(c, NULL);
    assert_int_equal(held_by(&t.result, "metres", NULL), 1);
    assert_int_equal(held_by(&t.result, "tenth", NULL), 1);
    census_free(c);
}

static void shrinkage_is_asked_unless_damage_explains_it(void **state)
{
    (void)state;
    struct census *c = census_make();
    struct plant *p = town_plant(c->town, D1, 2, 3, 1), *q = town_plant(c->town, D1, 6, 3, 1);
    struct plant *both[2] = {p, q};
    for (int i = 0; i < 2; i++) { /* 18 % less */
        struct sheet_row *r = row_of(c, both[i]);
        snprintf(r->height, sizeof r->height, "%.0f", round(town_record(c->town, both[i], 101)->height_cm * 0.82));
        strcpy(r->diameter, "");
    }
    strcpy(row_of(c, q)->damage, "rabbit");
    struct trip t = census_bring(c, NULL);
    const struct held *held = NULL;
    assert_int_equal(held_by(&t.result, "shrinkage", &held), 1);
    assert_int_equal(((struct plant_record *)held->record)->plant_id, p->id);
    assert_int_equal(t.result.n_held, 1);
    census_free(c);
}

static void dead_then_alive_asks_resprout_wrong_tag_or_wrong_last_time(void **state)
{
    (void)state;
    struct census *c = census_make();
    struct plant *p = town_plant(c->town, C1, 5, 5, 1);
    struct plant_record *b = town_record(c->town, p, 101);
    b->status = STATUS_DEAD_STANDING;
    b->height_cm = b->diameter_mm = unknown_real();
    struct trip t = census_bring(c, NULL);
    const struct held *held = NULL;
    assert_int_equal(held_by(&t.result, "resurrection", &held), 1);
    const struct doubt *d = doubt_of(held, "resurrection");
    assert_true(remedy_offered(d, "correct:status=resprouting"));
    assert_true(remedy_offered(d, "reject"));
    assert_true(remedy_offered(d, "accept"));
    census_free(c);
}

static void a_small_living_plant_under_a_dead_ones_label_is_taken_for_a_replacement(void **state)
{
    (void)state;
    struct census *c = census_make();
    struct plant *p = town_plant(c->town, C1, 5, 5, 1);
    for (size_t i = 0, n = c->town->ground.n_records; i < n; i++) { /* alive in 2022 at 90 cm, dead in 2023 */
        struct plant_record *r = &c->town->records[i];
        if (r->plant_id != p->id)
            continue;
        struct plant_record *first = &c->town->records[c->town->ground.n_records++];
        *first = *r;
        first->visit_id = 100;
        first->observed_on = date_make(2022, 9, 12);
        first->height_cm = 90;
        r->status = STATUS_DEAD_STANDING;
        r->height_cm = r->diameter_mm = unknown_real();
    }
    strcpy(row_of(c, p)->height, "45");
    struct trip t = census_bring(c, NULL);
    assert_int_equal(held_by(&t.result, "tag_reused", NULL), 1);
    census_free(c);
}

static void swapped_labels_are_found_as_a_pair(void **state)
{
    (void)state;
    struct census *c = census_make();
    struct plant *p = town_plant(c->town, D1, 5, 5, 1), *q = town_plant(c->town, D1, 5, 6, 1);
    struct plant_record *b = town_record(c->town, p, 101);
    b->status = STATUS_DEAD_STANDING;
    b->height_cm = b->diameter_mm = unknown_real();
    struct sheet_row *rp = row_of(c, p), *rq = row_of(c, q);
    /* p is still dead and q alive, but the labels (and squares) were exchanged */
    strcpy(rp->species, q->species);
    strcpy(rp->height, rq->height);
    strcpy(rp->diameter, rq->diameter);
    strcpy(rq->species, p->species);
    strcpy(rq->status, "dead");
    strcpy(rq->height, "");
    strcpy(rq->diameter, "");
    struct trip t = census_bring(c, NULL);
    const struct held *held = NULL;
    assert_int_equal(held_by(&t.result, "swapped_pair", &held), 2);
    census_free(c);
}

static void two_rows_of_squares_exchanged_are_found_whole(void **state)
{
    (void)state;
    struct census *c = census_make();
    c->no_tags = true;
    for (size_t i = 0; i < c->n; i++)
        if (strcmp(c->rows[i].plot, "D1") == 0 && (c->rows[i].cell[0] == 'F' || c->rows[i].cell[0] == 'G'))
            c->rows[i].cell[0] = c->rows[i].cell[0] == 'F' ? 'G' : 'F';
    struct trip t = census_bring(c, NULL);
    const struct held *held = NULL;
    assert_int_equal(held_by(&t.result, "swapped_rows", &held), 32);
    assert_int_equal(t.result.n_held, 32);
    census_free(c);
}

static void wrong_plot_letter_is_found_with_and_without_labels(void **state)
{
    (void)state;
    for (int tags = 0; tags < 2; tags++) {
        struct census *c = census_make();
        c->no_tags = tags == 0;
        size_t wrong = 0;
        for (int k = 1; k <= 6; k++) {
            struct plant *p = town_plant(c->town, D1, k, k, 1), *q = town_plant(c->town, C1, k, k, 1);
            if (strcmp(p->species, q->species) == 0 && c->no_tags)
                continue;
            strcpy(row_of(c, p)->plot, "C1");
            wrong++;
        }
        assert_true(wrong >= 4);
        struct trip t = census_bring(c, NULL);
        const struct held *held = NULL;
        assert_int_equal(held_by(&t.result, "wrong_plot", &held), wrong);
        assert_true(remedy_offered(doubt_of(held, "wrong_plot"), tags == 0 ? "correct:plot=D1;species_seen=" : "correct:plot=D1"));
        census_free(c);
    }
}

static void square_outside_the_plot_is_held_with_candidates(void **state)
{
    (void)state;
    struct census *c = census_make();
    c->no_tags = true;
    strcpy(row_of(c, town_plant(c->town, D1, 4, 6, 2))->cell, "D16");
    struct trip t = census_bring(c, NULL);
    const struct held *held = NULL;
    assert_int_equal(held_by(&t.result, "cell_outside", &held), 1);
    assert_true(doubt_of(held, "cell_outside")->n_remedies >= 2);
    census_free(c);
}

static void square_turned_into_a_date_is_held(void **state)
{
    (void)state;
    static const char *const dates[] = {"02-Jan", "2-Jan", "2024-01-02", "2. Jan"};
    for (size_t i = 0; i < 4; i++) {
        struct census *c = census_make();
        c->no_tags = true;
        strcpy(row_of(c, town_plant(c->town, D1, 1, 2, 1))->cell, dates[i]);
        struct trip t = census_bring(c, NULL);
        const struct held *held = NULL;
        assert_int_equal(held_by(&t.result, "cell_date", &held), 1);
        assert_true(remedy_offered(doubt_of(held, "cell_date"), "correct:cell=A02"));
        census_free(c);
    }
}

static void species_misspelt_changed_or_by_another_name(void **state)
{
    (void)state;
    struct census *c = census_make();
    struct plant *oak = NULL, *cherry = NULL, *birch = NULL;
    for (size_t i = 0; i < 128; i++) {
        struct plant *p = &c->town->plants[i];
        oak = oak == NULL && strcmp(p->species, "Quercus robur") == 0 ? p : oak;
        cherry = cherry == NULL && strcmp(p->species, "Prunus avium") == 0 ? p : cherry;
        birch = birch == NULL && strcmp(p->species, "Betula pendula") == 0 ? p : birch;
    }
    strcpy(row_of(c, oak)->species, "Quercus robor");
    strcpy(row_of(c, cherry)->species, "Prunus padus");
    strcpy(row_of(c, birch)->species, "Betula alba");
    struct trip t = census_bring(c, NULL);
    const struct held *held = NULL;
    assert_int_equal(held_by(&t.result, "species_misspelt", &held), 1);
    assert_true(remedy_offered(doubt_of(held, "species_misspelt"), "correct:species_seen=Quercus robur"));
    assert_string_equal(((struct plant_record *)held->record)->species_seen, "Quercus robor"); /* never corrected by itself */
    assert_int_equal(held_by(&t.result, "species_change", NULL), 1);
    assert_int_equal(remarked(&t.result, "species_synonym", NULL), 1);
    assert_int_equal(t.result.n_held, 2);
    census_free(c);
}

static void exact_duplicates_are_shown_and_two_observers_both_kept(void **state)
{
    (void)state;
    struct census *c = census_make();
    for (int k = 1; k <= 3; k++)
        c->rows[c->n++] = *row_of(c, town_plant(c->town, D1, k, 1, 1));
    for (int k = 1; k <= 4; k++) {
        c->rows[c->n] = *row_of(c, town_plant(c->town, C1, k, 2, 1));
        strcpy(c->rows[c->n].observer, "V009");
        snprintf(c->rows[c->n].height, sizeof c->rows[c->n].height, "%.0f", strtod(c->rows[c->n].height, NULL) + 2);
        c->n++;
    }
    struct trip t = census_bring(c, NULL);
    assert_int_equal(held_by(&t.result, "exact_duplicate", NULL), 3);
    assert_int_equal(remarked(&t.result, "two_observers", NULL), 4);
    assert_int_equal(t.result.n_held, 3);
    assert_int_equal(t.result.n_ready, 260);
    census_free(c);
}

static void blank_state_is_never_guessed(void **state)
{
    (void)state;
    struct census *c = census_make();
    strcpy(row_of(c, town_plant(c->town, D1, 2, 2, 2))->status, "");
    struct trip t = census_bring(c, NULL);
    const struct held *held = NULL;
    assert_int_equal(held_by(&t.result, "blank_status", &held), 1);
    assert_int_equal(((struct plant_record *)held->record)->status, STATUS_UNKNOWN);
    assert_true(remedy_offered(doubt_of(held, "blank_status"), "correct:status=alive"));
    census_free(c);
}

static void days_that_cannot_be_are_held(void **state)
{
    (void)state;
    struct census *c = census_make();
    strcpy(row_of(c, town_plant(c->town, D1, 2, 2, 2))->day, "2030-09-14");
    strcpy(row_of(c, town_plant(c->town, D1, 3, 2, 2))->day, "2021-09-14");
    strcpy(row_of(c, town_plant(c->town, D1, 4, 2, 2))->day, "14 sometime");
    struct trip t = census_bring(c, NULL);
    assert_int_equal(held_by(&t.result, "future", NULL), 1);
    assert_int_equal(held_by(&t.result, "before_planting", NULL), 1);
    assert_int_equal(t.result.n_refused, 1);
    assert_string_equal(t.result.refused[0].column, "Date");
    assert_true(t.result.refused[0].row > 1 && t.result.refused[0].remedy[0] != '\0');
    census_free(c);
}

static void ambiguous_dates_are_asked_once(void **state)
{
    (void)state;
    struct census *c = census_make();
    for (size_t i = 0; i < c->n; i++)
        strcpy(c->rows[i].day, i < 96 ? "03/09/2024" : "2024-09-14");
    struct trip t = census_bring(c, NULL);
    const struct question *q = asked(&t, "dates");
    assert_non_null(q);
    assert_int_equal(q->rows, 96);
    assert_int_equal(q->n_choices, 2);
    assert_int_equal(held_by(&t.result, "open_question", NULL), 96);
    c->text.n = 0;
    static const char *const said[] = {"site:=LK", "?dates=dmy", NULL};
    t = census_bring(c, said);
    assert_null(asked(&t, "dates"));
    assert_int_equal(t.result.n_held, 0);
    assert_int_equal(((struct plant_record *)t.result.ready)[0].observed_on, date_make(2024, 9, 3));
    census_free(c);
}

static void decimal_commas_are_read(void **state)
{
    (void)state;
    struct census *c = census_make();
    c->semicolons = true;
    for (size_t i = 0; i < c->n; i++)
        for (char *p = c->rows[i].diameter; *p != '\0'; p++)
            *p = *p == '.' ? ',' : *p;
    double wanted = 0;
    char copy[16];
    strcpy(copy, c->rows[0].diameter);
    *strchr(copy, ',') = '.';
    number_read(copy, &wanted);
    struct trip t = census_bring(c, NULL);
    assert_int_equal(t.mapping.decimal, ',');
    assert_int_equal(t.result.n_held, 0);
    assert_near(((struct plant_record *)t.result.ready)[0].diameter_mm, wanted, 0);
    census_free(c);
}

static void diameter_at_another_height_is_held(void **state)
{
    (void)state;
    struct census *c = census_make();
    static const char *const said[] = {"site:=LK", "diameter_at:=at_10_cm", NULL};
    struct trip t = census_bring(c, said);
    assert_int_equal(held_by(&t.result, "diameter_height", NULL), 256);
    census_free(c);
}

static void an_observer_whose_diameters_run_low_is_remarked(void **state)
{
    (void)state;
    struct census *c = census_make();
    for (size_t i = 0; i < c->n; i++)
        if (strcmp(c->rows[i].observer, "V002") == 0)
            snprintf(c->rows[i].diameter, sizeof c->rows[i].diameter, "%.1f", strtod(c->rows[i].diameter, NULL) * 0.86);
    struct trip t = census_bring(c, NULL);
    assert_true(remarked(&t.result, "observer_diameter", NULL) >= 1);
    census_free(c);
}

static void heaped_heights_are_remarked_for_the_observer_alone(void **state)
{
    (void)state;
    struct census *c = census_make();
    for (size_t i = 0; i < c->n; i++)
        if (strcmp(c->rows[i].observer, "V002") == 0)
            snprintf(c->rows[i].height, sizeof c->rows[i].height, "%.0f", 5 * round(strtod(c->rows[i].height, NULL) / 5));
    struct trip t = census_bring(c, NULL);
    const struct doubt *d = NULL;
    assert_int_equal(remarked(&t.result, "heaping", &d), 1);
    assert_non_null(strstr(d->sentence, "V002"));
    census_free(c);
}

static void a_survey_in_november_is_outside_the_window(void **state)
{
    (void)state;
    struct census *c = census_make();
    for (size_t i = 0; i < c->n; i++)
        strcpy(c->rows[i].day, "2024-11-21");
    struct trip t = census_bring(c, NULL);
    const struct doubt *d = NULL;
    assert_int_equal(remarked(&t.result, "window", &d), 1);
    assert_int_equal(d->rows, 256);
    assert_int_equal(t.result.n_visits, 1);
    census_free(c);
}

static void the_same_file_twice_is_noticed(void **state)
{
    (void)state;
    struct census *c = census_make();
    struct trip t = census_bring(c, NULL);
    assert_null(t.result.same);
    struct import earlier;
    noun_init(NOUN_IMPORT, &earlier);
    earlier.sha256 = arena_text(&c->town->arena, t.result.sha256);
    earlier.file_name = "census.csv";
    c->town->ground.imports = &earlier;
    c->town->ground.n_imports = 1;
    c->text.n = 0;
    t = census_bring(c, NULL);
    assert_ptr_equal(t.result.same, &earlier);
    earlier.undone = TRUTH_YES;
    c->text.n = 0;
    t = census_bring(c, NULL);
    assert_null(t.result.same);
    census_free(c);
}

static void records_already_there_are_held(void **state)
{
    (void)state;
    struct census *c = census_make();
    struct trip t = census_bring(c, NULL);
    const struct plant_record *ready = t.result.ready;
    for (size_t i = 0; i < t.result.n_ready; i++)
        c->town->records[c->town->ground.n_records++] = ready[i];
    c->text.n = 0;
    t = census_bring(c, NULL);
    assert_int_equal(held_by(&t.result, "already_recorded", NULL), 256);
    census_free(c);
}

static void order_of_rows_does_not_change_what_is_found(void **state)
{
    (void)state;
    size_t held[2] = {0, 0}, doubts[2] = {0, 0};
    for (int turn = 0; turn < 2; turn++) {
        struct census *c = census_make();
        strcpy(row_of(c, town_plant(c->town, D1, 2, 2, 2))->height, "9");
        strcpy(row_of(c, town_plant(c->town, D1, 3, 2, 2))->height, "990");
        strcpy(row_of(c, town_plant(c->town, C1, 4, 2, 2))->status, "");
        if (turn == 1)
            for (size_t i = 0; i < c->n / 2; i++) {
                struct sheet_row keep = c->rows[i];
                c->rows[i] = c->rows[c->n - 1 - i];
                c->rows[c->n - 1 - i] = keep;
            }
        struct trip t = census_bring(c, NULL);
        held[turn] = t.result.n_held;
        for (size_t i = 0; i < t.result.n_held; i++)
            doubts[turn] += t.result.held[i].n_doubts;
        census_free(c);
    }
    assert_int_equal(held[0], held[1]);
    assert_int_equal(doubts[0], doubts[1]);
    assert_int_equal(held[0], 3);
}

static void unknown_plants_are_asked_about_and_can_be_taken_in(void **state)
{
    (void)state;
    struct town *town = town_make();
    const char *text = "plot,cell,number,species,date,status,height_cm\nD1,Z01,1,Quercus robur,2024-09-14,alive,55\nD1,Z01,2,Betula "
                       "pendula,2024-09-14,alive,60\n";
    static const char *const held[] = {"site:=LK", NULL}, *const made[] = {"site:=LK", "?new_plants=make", NULL};
    struct trip t = bring(town, RECORD_PLANTS, text, held);
    assert_int_equal(t.result.n_held, 2);
    assert_non_null(asked(&t, "new_plants"));
    t = bring(town, RECORD_PLANTS, text, made);
    assert_int_equal(t.result.n_ready, 2);
    assert_int_equal(t.result.n_plants, 2);
    assert_string_equal(t.result.plants[1].species, "Betula pendula");
    assert_int_equal(((struct plant_record *)t.result.ready)[1].plant_id, -2);
    assert_null(((struct plant_record *)t.result.ready)[1].species_seen);
    town_free(town);
}

static void heading_repeated_and_blank_rows_are_passed_over_and_counted(void **state)
{
    (void)state;
    struct town *town = town_make();
    const char *text = "plot,tag,date,status,height_cm\nD1,D-0001,2024-09-14,alive,55\n,,,,\nplot,tag,date,status,height_cm\n# a "
                       "remark\nD1,D-0002,2024-09-14,alive,56\n";
    static const char *const said[] = {"site:=LK", NULL};
    struct trip t = bring(town, RECORD_PLANTS, text, said);
    assert_int_equal(t.result.file_rows, 5);
    assert_int_equal(t.result.blank_rows, 3);
    assert_int_equal(t.result.n_ready, 2);
    town_free(town);
}

static void coordinates_exchanged_are_held(void **state)
{
    (void)state;
    struct town *town = town_make();
    const char *text = "plot,tag,date,status,lat,lon\nD1,D-0001,2024-09-14,alive,48.501,-7.502\nD1,D-0002,2024-09-14,alive,-7.5,48.5\nD1,D-"
                       "0003,2024-09-14,alive,48.5,-7.5\nD1,D-0004,2024-09-14,alive,48.5,-7.51\n";
    static const char *const said[] = {"site:=LK", NULL};
    struct trip t = bring(town, RECORD_PLANTS, text, said);
    assert_int_equal(held_by(&t.result, "coordinates_swapped", NULL), 1);
    assert_int_equal(t.result.n_ready, 3);
    town_free(town);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_sound_census_passes_whole),
        cmocka_unit_test(tenfold_height_is_held_with_the_tenth_offered),
        cmocka_unit_test(metres_and_tenths_are_held),
        cmocka_unit_test(shrinkage_is_asked_unless_damage_explains_it),
        cmocka_unit_test(dead_then_alive_asks_resprout_wrong_tag_or_wrong_last_time),
        cmocka_unit_test(a_small_living_plant_under_a_dead_ones_label_is_taken_for_a_replacement),
        cmocka_unit_test(swapped_labels_are_found_as_a_pair),
        cmocka_unit_test(two_rows_of_squares_exchanged_are_found_whole),
        cmocka_unit_test(wrong_plot_letter_is_found_with_and_without_labels),
        cmocka_unit_test(square_outside_the_plot_is_held_with_candidates),
        cmocka_unit_test(square_turned_into_a_date_is_held),
        cmocka_unit_test(species_misspelt_changed_or_by_another_name),
        cmocka_unit_test(exact_duplicates_are_shown_and_two_observers_both_kept),
        cmocka_unit_test(blank_state_is_never_guessed),
        cmocka_unit_test(days_that_cannot_be_are_held),
        cmocka_unit_test(ambiguous_dates_are_asked_once),
        cmocka_unit_test(decimal_commas_are_read),
        cmocka_unit_test(diameter_at_another_height_is_held),
        cmocka_unit_test(an_observer_whose_diameters_run_low_is_remarked),
        cmocka_unit_test(heaped_heights_are_remarked_for_the_observer_alone),
        cmocka_unit_test(a_survey_in_november_is_outside_the_window),
        cmocka_unit_test(the_same_file_twice_is_noticed),
        cmocka_unit_test(records_already_there_are_held),
        cmocka_unit_test(order_of_rows_does_not_change_what_is_found),
        cmocka_unit_test(unknown_plants_are_asked_about_and_can_be_taken_in),
        cmocka_unit_test(heading_repeated_and_blank_rows_are_passed_over_and_counted),
        cmocka_unit_test(coordinates_exchanged_are_held),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
