/* SPDX-License-Identifier: GPL-3.0-or-later
 * Plant records on their way: fields, the plant they mean, new plants, the visit they belong to. */
#include "survey/import.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

/// New plants of the file, found again by plot, square, number and label.
struct fresh {
    struct plant *plants;
    size_t n, room;
    uint32_t *table; ///< index + 1 by hash
    size_t slots;
};

static uint64_t key_hash(const struct plant *p)
{
    uint64_t h = 1469598103934665603u ^ (uint64_t)p->plot_id;
    const char *parts[2] = {p->cell_code, p->tag};
    for (int i = 0; i < 2; i++) {
        for (const char *c = parts[i] == NULL ? "" : parts[i]; *c != '\0'; c++)
            h = (h ^ (unsigned char)*c) * 1099511628211u;
        h = (h ^ 0x1F) * 1099511628211u;
    }
    return (h ^ (uint64_t)p->number) * 1099511628211u;
}

static bool key_same(const struct plant *a, const struct plant *b)
{
    return a->plot_id == b->plot_id && a->number == b->number && text_same(a->cell_code, b->cell_code) && text_same(a->tag, b->tag);
}

static size_t fresh_slot(const struct fresh *f, const struct plant *plant)
{
    size_t at = (size_t)(key_hash(plant) % f->slots);
    while (f->table[at] != 0 && !key_same(&f->plants[f->table[at] - 1], plant))
        at = (at + 1) % f->slots;
    return at;
}

static size_t fresh_find(struct fresh *f, const struct plant *plant)
{
    if (f->n * 2 >= f->slots) {
        free(f->table);
        f->slots = f->slots == 0 ? 1024 : f->slots * 4;
        f->table = memory_get(f->slots, sizeof *f->table);
        for (size_t i = 0; i < f->n; i++)
            f->table[fresh_slot(f, &f->plants[i])] = (uint32_t)i + 1;
    }
    size_t at = fresh_slot(f, plant);
    if (f->table[at] == 0) {
        f->plants = column_room(f->plants, f->n, &f->room, sizeof *f->plants);
        f->plants[f->n++] = *plant;
        f->table[at] = (uint32_t)f->n;
    }
    return f->table[at] - 1;
}

/// Rows whose plant waits for an answer.
struct unsettled {
    size_t unknown;   ///< no such plant
    size_t elsewhere; ///< its label stands in another plot of the site
};

static bool census_same(const struct column_plan *plan, const struct entry *e)
{
    return plan->census_text != NULL && e->census_text != NULL && strcmp(plan->census_text, e->census_text) == 0;
}

/* Keys of a row, read as text; the square may have been turned into a date. False: no square to go by. */
static bool keys_take(struct running *r, size_t i)
{
    struct entry *e = &r->entries[i];
    struct record_place *place = &r->places[i];
    place->number = INT_UNKNOWN;
    place->file_row = r->sheet->lines[e->row];
    const char *number = plan_text(r, plan_find(r, "number"), e->row);
    const char *texts[4];
    static const char *const names[4] = {"site", "plot", "cell", "tag"};
    for (size_t k = 0; k < 4; k++) {
        texts[k] = plan_text(r, plan_find(r, names[k]), e->row);
        if (cell_says_nothing(texts[k]))
            texts[k] = mapping_fixed_value(r->mapping, names[k]);
        texts[k] = texts[k] == NULL ? NULL : text_trim(r->arena, texts[k]);
    }
    e->site = texts[0];
    e->plot = texts[1];
    place->cell = texts[2];
    place->tag = texts[3];
    double value = 0;
    if (number != NULL && !cell_says_nothing(number)) {
        if (cell_number(number, '.', &value, NULL, r->arena) == NUMBER_READ && value == floor(value) && fabs(value) < 1e15)
            place->number = (int64_t)value;
        else if (place->tag == NULL)
            place->tag = text_trim(r->arena, number); /* a "number" such as 12a is a label */
    }
    const struct column_plan *cell = plan_find(r, "cell");
    int day = 0, month = 0;
    if (cell == NULL || !cell_was_date(record_sheet_at(r->sheet, e->row, cell->column), &day, &month))
        return true;
    place->cell = NULL;
    struct doubt *doubt = doubt_add(&r->doubts, "cell_date", (int64_t)i, "cell",
                                    "The square reads “%s”, a date: a spreadsheet turned what was typed (%d-%d or %d-%d) into one.",
                                    record_sheet_text(r->sheet, e->row, cell->column), day, month, month, day);
    const int pair[2][2] = {{day, month}, {month, day}};
    for (int k = 0; k < (day == month ? 1 : 2); k++) {
        char code[16], letter[16];
        snprintf(code, sizeof code, "%d-%d", pair[k][0], pair[k][1]);
        snprintf(letter, sizeof letter, "%c%02d", 'A' + pair[k][0] - 1, pair[k][1]);
        bool dashed = false, lettered = false;
        for (size_t p = 0; p < r->ground->n_plants && r->ground->n_plants < 20000; p++) {
            dashed = dashed || text_same_nocase(r->ground->plants[p].cell_code, code);
            lettered = lettered || text_same_nocase(r->ground->plants[p].cell_code, letter);
        }
        if (dashed || !lettered)
            doubt_remedy(&r->doubts, doubt, arena_print(r->arena, "correct:cell=%s", code), "it is square %s", code);
        if (lettered)
            doubt_remedy(&r->doubts, doubt, arena_print(r->arena, "correct:cell=%s", letter), "it is square %s", letter);
    }
    doubt_remedy(&r->doubts, doubt, "reject", "leave the row out");
    return false;
}

static bool status_asked(const struct running *r, size_t i)
{
    for (size_t d = r->doubts.n; d > 0 && r->doubts.at[d - 1].row == (int64_t)i; d--)
        if (strcmp(r->doubts.at[d - 1].check->id, "open_question") == 0 && strcmp(r->doubts.at[d - 1].field, "status") == 0)
            return true;
    return false;
}

/* The state, where no column tells it: a figure means alive, a blank what the user said it means. */
static void status_settle(struct running *r, size_t i, bool status_column, bool *appeared)
{
    struct entry *e = &r->entries[i];
    struct plant_record *record = record_at(r, i);
    bool measured = is_known(record->height_cm) || is_known(record->diameter_mm) || is_known(record->crown_cm);
    bool open = false;
    for (size_t d = r->doubts.n; d > 0 && r->doubts.at[d - 1].row == (int64_t)i; d--)
        open = open || strcmp(r->doubts.at[d - 1].check->id, "open_question") == 0;
    if (record->status != STATUS_UNKNOWN || status_column || open) {
        *appeared = *appeared || measured || record->status != STATUS_UNKNOWN || open;
        if (e->census_text != NULL && record->status == STATUS_UNKNOWN && !measured && !open)
            e->empty = true;
        return;
    }
    if (measured) {
        *appeared = true;
        record->status = STATUS_ALIVE;
    } else if (e->census_text != NULL && !*appeared) {
        e->empty = true; /* before its first figure a plant is not there yet */
    } else if (r->mapping->blank_means == NULL) {
        question_doubt(r, i, "status", "blank_means");
    } else if (strcmp(r->mapping->blank_means, "not_measured") == 0) {
        e->empty = e->census_text != NULL;
    } else {
        record->status = (enum status)word_find(WORDS_STATUS, r->mapping->blank_means);
    }
}

static void fields_take(struct running *r, size_t i, bool *appeared)
{
    struct entry *e = &r->entries[i];
    struct plant_record *record = record_at(r, i);
    bool status_column = false;
    for (size_t p = 0; p < r->n_plans; p++) {
        struct column_plan *plan = &r->plans[p];
        if (plan->field == NULL || (plan->census_text != NULL && !census_same(plan, e)))
            continue;
        status_column = status_column || strcmp(plan->words->field.name, "status") == 0;
        if (!cell_take(r, i, plan, record_sheet_at(r->sheet, e->row, plan->column), record))
            return;
    }
    if (e->census_text != NULL && record->observed_on == DATE_UNKNOWN)
        record->observed_on = e->census;
    for (size_t f = 0; f < r->mapping->n_fixed; f++) {
        const struct field_words *words = field_words_find(RECORD_PLANTS, r->mapping->fixed[f].field);
        bool figure_there = strcmp(r->mapping->fixed[f].field, "diameter_at") != 0 || is_known(record->diameter_mm);
        if (words != NULL && strcmp(words->field.name, "species") != 0 && figure_there &&
            !fixed_take(r, i, words, r->mapping->fixed[f].value, record, NOUN_PLANT_RECORD))
            return;
    }
    status_settle(r, i, status_column, appeared);
    if (e->empty)
        return;
    e->species = record->species_seen;
    if (record->observed_on == DATE_UNKNOWN) {
        bool asked = r->doubts.n > 0 && r->doubts.at[r->doubts.n - 1].row == (int64_t)i &&
                     strcmp(r->doubts.at[r->doubts.n - 1].check->id, "open_question") == 0;
        if (e->census_text != NULL)
            question_doubt(r, i, "observed_on",
                           r->mapping->census_day == NULL ? "census_day" : arena_print(r->arena, "census:%s", e->census_text));
        else if (mapping_column(r->mapping, "observed_on") == NULL)
            question_doubt(r, i, "observed_on", "observed_on");
        else if (!asked)
            doubt_remedy(&r->doubts, doubt_add(&r->doubts, "required_blank", (int64_t)i, "observed_on", "The day is blank."), "reject",
                         "leave the row out");
    }
    if (record->status == STATUS_UNKNOWN && !status_asked(r, i)) {
        bool measured = is_known(record->height_cm) || is_known(record->diameter_mm);
        struct doubt *doubt = doubt_add(&r->doubts, "blank_status", (int64_t)i, "status", "The state is blank%s.",
                                        measured ? ", though a size was measured: was the plant alive?" : ", and nothing was measured");
        if (measured)
            doubt_remedy(&r->doubts, doubt, "correct:status=alive", "it was alive");
        doubt_remedy(&r->doubts, doubt, "correct:status=dead_standing", "it was dead");
        doubt_remedy(&r->doubts, doubt, "correct:status=not_found", "it was not found");
        doubt_remedy(&r->doubts, doubt, "correct:status=missing", "its place was found, the plant is gone");
        doubt_remedy(&r->doubts, doubt, "reject", "leave the row out: the plant was not looked at");
    }
    bool alive = record->status == STATUS_ALIVE || record->status == STATUS_ALIVE_DIEBACK || record->status == STATUS_RESPROUTING;
    if (alive && (record->height_cm == 0 || record->diameter_mm == 0)) {
        const char *field = record->height_cm == 0 ? "height_cm" : "diameter_mm";
        struct doubt *doubt = doubt_add(&r->doubts, "zero_size", (int64_t)i, field, "A living plant is given a size of 0.");
        doubt_remedy(&r->doubts, doubt, arena_print(r->arena, "correct:%s=", field), "it was not measured");
        doubt_remedy(&r->doubts, doubt, arena_print(r->arena, "correct:status=dead_standing;%s=", field), "it was dead");
        doubt_remedy(&r->doubts, doubt, "reject", "leave the row out");
    }
}

/* ---- the plant ---- */

static void disagreement(struct running *r, size_t i, const struct plant_found *found)
{
    const struct record_place *place = &r->places[i];
    const struct plant *p = found->plant;
    const char *plot = "";
    for (size_t k = 0; k < r->ground->n_plots; k++)
        if (r->ground->plots[k].id == p->plot_id)
            plot = r->ground->plots[k].code;
    bool other_plot = r->entries[i].plot_id != 0 && p->plot_id != r->entries[i].plot_id;
    char *cell = cell_code_read(place->cell, NULL, NULL, r->arena), *own = cell_code_read(p->cell_code, NULL, NULL, r->arena);
    bool same_place = text_same(cell, own) && (place->number == INT_UNKNOWN || place->number == p->number);
    struct doubt *doubt = doubt_add(&r->doubts, other_plot && same_place ? "wrong_plot" : "tag_disagrees", (int64_t)i,
                                    other_plot ? "plot" : "tag", "%s", found->words);
    if (other_plot && same_place) {
        doubt_remedy(&r->doubts, doubt, arena_print(r->arena, "correct:plot=%s", plot), "it is plot %s", plot);
    } else if (p->cell_code != NULL && p->number != INT_UNKNOWN) {
        doubt_remedy(&r->doubts, doubt,
                     arena_print(r->arena, "correct:plot=%s;cell=%s;number=%lld", plot, p->cell_code, (long long)p->number),
                     "the label is right: plot %s, %s, number %lld", plot, p->cell_code, (long long)p->number);
    }
    if (found->other != NULL)
        doubt_remedy(&r->doubts, doubt, arena_print(r->arena, "correct:tag=%s", found->other->tag == NULL ? "" : found->other->tag),
                     "the place is right: the label is %s", found->other->tag == NULL ? "blank" : found->other->tag);
    doubt_remedy(&r->doubts, doubt, "reject", "leave the row out");
}

/* Greatest row and column of squares in a plot; false if none is known. */
static bool plot_extent(const struct survey_ground *g, int64_t plot, int *rows, int *columns)
{
    struct arena arena = {0};
    *rows = *columns = -1;
    for (size_t i = 0; i < g->n_plants; i++) {
        int row = 0, column = 0;
        if (g->plants[i].plot_id == plot && cell_code_read(g->plants[i].cell_code, &row, &column, &arena) != NULL) {
            *rows = row > *rows ? row : *rows;
            *columns = column > *columns ? column : *columns;
        }
    }
    for (size_t i = 0; i < g->n_cells; i++)
        for (size_t k = 0; k < g->n_plans; k++)
            if (g->plans[k].id == g->cells[i].plan_id && g->plans[k].plot_id == plot) {
                *rows = g->cells[i].row_index > *rows ? (int)g->cells[i].row_index : *rows;
                *columns = g->cells[i].column_index > *columns ? (int)g->cells[i].column_index : *columns;
            }
    arena_clear(&arena);
    return *rows >= 0;
}

/* A plant at the same square and number in another plot of the site that is of the species written. */
static const struct plot *plot_instead(const struct running *r, size_t i)
{
    const struct entry *e = &r->entries[i];
    const struct record_place *place = &r->places[i];
    char *code = cell_code_read(place->cell, NULL, NULL, r->arena);
    for (size_t p = 0; p < r->ground->n_plants && e->species != NULL && code != NULL; p++) {
        const struct plant *plant = &r->ground->plants[p];
        if (plant->number != place->number || plant->plot_id == e->plot_id || !text_same_nocase(plant->species, e->species) ||
            !text_same(cell_code_read(plant->cell_code, NULL, NULL, r->arena), code))
            continue;
        for (size_t k = 0; k < r->ground->n_plots; k++)
            if (r->ground->plots[k].id == plant->plot_id && r->ground->plots[k].site_id == e->site_id)
                return &r->ground->plots[k];
    }
    return NULL;
}

static void unmatched(struct running *r, size_t i, const struct plant_found *found)
{
    struct entry *e = &r->entries[i];
    const struct record_place *place = &r->places[i];
    int row = 0, column = 0, rows = 0, columns = 0;
    struct doubt *doubt = NULL;
    const struct plot *instead = NULL;
    if (found->match == MATCH_SEVERAL) {
        doubt = doubt_add(&r->doubts, "several_plants", (int64_t)i, "tag", "%s", found->words);
    } else if (cell_code_read(place->cell, &row, &column, r->arena) != NULL && plot_extent(r->ground, e->plot_id, &rows, &columns) &&
               (row > rows || column > columns)) {
        doubt = doubt_add(&r->doubts, "cell_outside", (int64_t)i, "cell",
                          "Square %s lies outside plot %s, whose squares reach to row %c and column %d. %s", place->cell, e->plot,
                          'A' + rows % 26, columns + 1, found->words);
        doubt_evidence(doubt, column > columns ? column + 1 : row + 1, unknown_real(), column > columns ? columns + 1 : rows + 1);
    } else if ((instead = plot_instead(r, i)) != NULL) {
        doubt = doubt_add(&r->doubts, "wrong_plot", (int64_t)i, "plot", "Plot %s has no such plant, but plot %s has %s at %s number %lld.",
                          e->plot, instead->code, e->species, place->cell, (long long)place->number);
        doubt_remedy(&r->doubts, doubt, arena_print(r->arena, "correct:plot=%s", instead->code), "it is plot %s", instead->code);
    } else {
        doubt = doubt_add(&r->doubts, "no_plant", (int64_t)i, "plant", "%s", found->words);
    }
    for (size_t k = 0; k < found->n_near; k++) {
        const struct plant *p = found->near[k];
        const char *cell = p->cell_code == NULL ? "" : p->cell_code;
        if (p->tag != NULL)
            doubt_remedy(&r->doubts, doubt, arena_print(r->arena, "correct:tag=%s", p->tag), "it is the %s with label %s",
                         p->species == NULL ? "plant" : p->species, p->tag);
        else if (p->number != INT_UNKNOWN)
            doubt_remedy(&r->doubts, doubt, arena_print(r->arena, "correct:cell=%s;number=%lld", cell, (long long)p->number),
                         "it is %s number %lld (%s)", cell, (long long)p->number, p->species == NULL ? "species not known" : p->species);
    }
    doubt_remedy(&r->doubts, doubt, "reject", "leave the row out");
}

static void plant_settle(struct running *r, size_t i, const struct plant_index *index, struct fresh *fresh, struct unsettled *open)
{
    struct entry *e = &r->entries[i];
    struct plant_record *record = record_at(r, i);
    struct record_place *place = &r->places[i];
    place->plot_id = e->plot_id;
    struct plant_key key = {e->site_id, e->plot_id, place->cell, place->tag, place->number, labels_said(r)};
    if (e->plot != NULL && e->plot_id == 0)
        return; /* the plot is in doubt already */
    struct plant_found found = plant_find(index, &key, r->arena);
    if (found.match == MATCH_ONE) {
        record->plant_id = found.plant->id;
        place->plot_id = found.plant->plot_id;
        return;
    }
    if (found.match == MATCH_DISAGREES) {
        open->elsewhere += e->plot_id != 0 && found.other == NULL && found.plant->plot_id != e->plot_id;
        disagreement(r, i, &found);
        return;
    }
    if (found.match == MATCH_SEVERAL || r->mapping->new_plants == NULL || strcmp(r->mapping->new_plants, "hold") == 0 || e->plot_id == 0) {
        open->unknown += found.match == MATCH_NONE;
        open->elsewhere += found.match == MATCH_SEVERAL && e->plot_id != 0 && found.near[0]->plot_id != e->plot_id;
        unmatched(r, i, &found);
        return;
    }
    struct plant plant;
    noun_init(NOUN_PLANT, &plant);
    plant.plot_id = e->plot_id;
    char *code = cell_code_read(place->cell, NULL, NULL, r->arena);
    plant.cell_code = code != NULL ? code : place->cell;
    plant.number = place->number;
    plant.tag = place->tag;
    plant.species = e->species != NULL ? e->species : mapping_fixed_value(r->mapping, "species");
    bool first = strcmp(r->mapping->new_plants, "make") == 0; /* the day a replacement was planted is not known */
    plant.origin = first ? ORIGIN_FIRST_PLANTING : ORIGIN_REPLACEMENT;
    for (size_t k = 0; first && k < r->ground->n_plots; k++)
        if (r->ground->plots[k].id == e->plot_id)
            plant.planted_on = r->ground->plots[k].planted_on;
    if (plant.species == NULL) {
        question_doubt(r, i, "species", "species");
        bool asked = false;
        for (size_t q = 0; q < r->n_questions; q++)
            asked = asked || strcmp(r->questions[q].id, "species") == 0;
        if (!asked)
            question_more(r, (struct question){.id = "species",
                                               .words = "Of which species are the new plants?",
                                               .evidence = "No column names the species.",
                                               .required = true});
        return;
    }
    size_t at = fresh_find(fresh, &plant);
    record->plant_id = -(int64_t)at - 1;
    record->species_seen = NULL; /* the name is the plant's own */
}

static int double_order(const void *x, const void *y)
{
    double a = *(const double *)x, b = *(const double *)y;
    return (a > b) - (a < b);
}

/* Rows whose coordinates lie with the others only when exchanged. */
static void coordinates_settle(struct running *r)
{
    const struct column_plan *lat = plan_find(r, "latitude"), *lon = plan_find(r, "longitude");
    if (lat == NULL || lon == NULL)
        return;
    double *x = memory_get(r->n_entries + 1, sizeof *x), *y = memory_get(r->n_entries + 1, sizeof *y);
    size_t n = 0;
    for (size_t i = 0; i < r->n_entries; i++) {
        struct entry *e = &r->entries[i];
        const char *a = plan_text(r, lat, e->row), *b = plan_text(r, lon, e->row);
        char mark = r->mapping->decimal == 0 ? 'b' : r->mapping->decimal;
        e->latitude = e->longitude = unknown_real();
        if (a == NULL || b == NULL || cell_number(a, mark, &e->latitude, NULL, r->arena) != NUMBER_READ ||
            cell_number(b, mark, &e->longitude, NULL, r->arena) != NUMBER_READ) {
            e->latitude = e->longitude = unknown_real();
            continue;
        }
        y[n] = e->latitude;
        x[n++] = e->longitude;
    }
    if (n >= 3) {
        qsort(x, n, sizeof *x, double_order);
        qsort(y, n, sizeof *y, double_order);
        for (size_t i = 0; i < r->n_entries; i++) {
            struct entry *e = &r->entries[i];
            if (!is_known(e->latitude) || coordinates_check(e->latitude, e->longitude, y[n / 2], x[n / 2], 0.5) != 1)
                continue;
            struct doubt *doubt = doubt_add(
                &r->doubts, "coordinates_swapped", (int64_t)i, "latitude",
                "Latitude %s and longitude %s lie far from the other rows; exchanged they lie among them (around %s, %s).",
                figure(r->arena, e->latitude), figure(r->arena, e->longitude), figure(r->arena, y[n / 2]), figure(r->arena, x[n / 2]));
            doubt_usual(&r->doubts, doubt, "the place is right as written");
        }
    }
    free(x);
    free(y);
}

static void open_questions(struct running *r, const struct unsettled *open)
{
    if (open->unknown > 0 && r->mapping->new_plants == NULL) {
        struct choice *choices = arena_array(r->arena, 3, sizeof *choices);
        choices[0] = (struct choice){"make", "they are new plants of the first planting: take them in with their first record"};
        choices[1] =
            (struct choice){"replacements", "they replace plants that died: take them in as replacements, apart from the first planting"};
        choices[2] = (struct choice){"hold", "they should be known: hold each row for a decision"};
        question_more(r, (struct question){
                             .id = "new_plants",
                             .words = "Some rows speak of plants the programme does not know. What are they?",
                             .choices = choices,
                             .n_choices = 3,
                             .evidence = arena_print(r->arena, "%zu records of plants that are not known; the programme knows %zu plants.",
                                                     open->unknown, r->ground->n_plants),
                             .required = true,
                             .rows = open->unknown});
    }
    if (open->elsewhere > 0 && r->mapping->labels == NULL && r->mapping->new_plants != NULL) {
        struct choice *choices = arena_array(r->arena, 2, sizeof *choices);
        choices[0] = (struct choice){"plot", "numbered anew in every plot: a label means a plant of the plot the row names"};
        choices[1] = (struct choice){"site", "given once on the site: such a row may name the wrong plot, and is held"};
        question_more(r, (struct question){
                             .id = "labels",
                             .words = "Are labels numbered anew in every plot, or given once on the site?",
                             .choices = choices,
                             .n_choices = 2,
                             .evidence = arena_print(r->arena, "%zu records name a label that stands in another plot.", open->elsewhere),
                             .rows = open->elsewhere});
    }
}

/* A species given for all rows by the user is no doubt of each row: it is remarked once. */
static bool species_was_given(struct running *r, const struct doubt *doubt, const struct plant_record *record, bool *remarked)
{
    const char *given = mapping_fixed_value(r->mapping, "species");
    if (strcmp(doubt->check->id, "species_unknown") != 0 || given == NULL || record->plant_id >= 0 ||
        !text_same(r->result->plants[-record->plant_id - 1].species, given))
        return false;
    if (!*remarked)
        doubt_add(&r->doubts, "species_given", NO_ROW, "species", "The species library has no “%s”, given for the new plants.", given);
    *remarked = true;
    return true;
}

enum outcome plants_take(struct running *r, struct failure *why)
{
    struct fresh fresh = {0};
    struct plant_index *index = plant_index_make(r->ground, r->arena);
    struct unsettled open = {0};
    bool appeared = false, remarked = false;
    for (size_t i = 0; i < r->n_entries; i++) {
        if (i == 0 || r->entries[i].row != r->entries[i - 1].row)
            appeared = false;
        bool square = keys_take(r, i);
        place_find(r, i);
        fields_take(r, i, &appeared);
        if (r->entries[i].refused == NULL && !r->entries[i].empty && square)
            plant_settle(r, i, index, &fresh, &open);
        if (i % 20000 == 0 && !progress_tell(r->options->progress, 0.1 + 0.3 * (double)i / (double)(r->n_entries + 1), "reading rows")) {
            free(fresh.plants);
            free(fresh.table);
            return fail(why, OUTCOME_CANCELLED, "Called off while reading; nothing was changed.");
        }
    }
    coordinates_settle(r);
    open.elsewhere += labels_settle(r, fresh.plants, fresh.n);
    open_questions(r, &open);
    r->result->plants = arena_array(r->arena, fresh.n, sizeof *fresh.plants);
    r->result->n_plants = fresh.n;
    if (fresh.n > 0)
        memcpy(r->result->plants, fresh.plants, fresh.n * sizeof *fresh.plants);
    free(fresh.plants);
    free(fresh.table);
    visits_settle(r);

    /* those whose plant and day are known are checked against the last survey and against each other */
    struct plant_record *known = memory_get(r->n_entries + 1, sizeof *known);
    struct record_place *places = memory_get(r->n_entries + 1, sizeof *places);
    size_t *from = memory_get(r->n_entries + 1, sizeof *from), n = 0, n_doubts = 0;
    for (size_t i = 0; i < r->n_entries; i++) {
        const struct plant_record *record = record_at(r, i);
        if (r->entries[i].refused != NULL || r->entries[i].empty || record->plant_id == 0 || record->observed_on == DATE_UNKNOWN)
            continue;
        known[n] = *record;
        places[n] = r->places[i];
        from[n++] = i;
    }
    struct doubt *doubts = NULL;
    enum outcome outcome = plants_check(known, places, n, r->result->plants, r->result->n_plants, r->ground, &r->options->limits,
                                        r->options->progress, r->arena, &doubts, &n_doubts, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n_doubts; i++) {
        if (doubts[i].row != NO_ROW && species_was_given(r, &doubts[i], &known[doubts[i].row], &remarked))
            continue;
        r->doubts.at = column_room(r->doubts.at, r->doubts.n, &r->doubts.room, sizeof *r->doubts.at);
        struct doubt *d = &r->doubts.at[r->doubts.n++];
        *d = doubts[i];
        d->row = d->row == NO_ROW ? NO_ROW : (int64_t)from[d->row];
        d->other = d->other == NO_ROW ? NO_ROW : (int64_t)from[d->other];
    }
    free(known);
    free(places);
    free(from);
    return outcome;
}
