/* SPDX-License-Identifier: GPL-3.0-or-later
 * The dry run: every row below the headings becomes ready, held, refused or empty, and the four add up. */
#include "survey/import.h"
#include <stdlib.h>
#include <string.h>

void question_more(struct running *r, struct question question)
{
    struct question *more = arena_array(r->arena, r->n_questions + 1, sizeof *more);
    if (r->n_questions > 0)
        memcpy(more, r->questions, r->n_questions * sizeof *more);
    more[r->n_questions++] = question;
    r->questions = more;
}

struct column_plan *plan_find(struct running *r, const char *name)
{
    for (size_t i = 0; i < r->n_plans; i++)
        if (r->plans[i].census_text == NULL && strcmp(r->plans[i].words->field.name, name) == 0)
            return &r->plans[i];
    return NULL;
}

static bool question_open(const struct running *r, const char *id)
{
    for (size_t i = 0; i < r->n_questions; i++)
        if (strcmp(r->questions[i].id, id) == 0)
            return true;
    return false;
}

static void plans_make(struct running *r)
{
    const struct mapping *m = r->mapping;
    r->plans = arena_array(r->arena, m->n_columns, sizeof *r->plans);
    for (size_t c = 0; c < m->n_columns; c++) {
        const struct column_use *use = &m->columns[c];
        bool plain = use->census_text != NULL && use->field == NULL;
        const char *name = plain ? m->wide_field : use->field, *given = plain ? m->wide_unit : use->unit, *unit = NULL;
        const struct field_words *words = name == NULL ? NULL : field_words_find(m->kind, name);
        if (words == NULL)
            continue;
        struct column_plan *p = &r->plans[r->n_plans++];
        *p = (struct column_plan){.column = use->column,
                                  .words = words,
                                  .field = mapped_field(m->kind, name),
                                  .noun = record_noun(m->kind),
                                  .factor = 1,
                                  .census = use->census,
                                  .census_end = use->census_end,
                                  .census_text = use->census_text,
                                  .last_value = -1};
        if (p->field != NULL && m->kind == RECORD_WILDLIFE && noun_field(NOUN_WILDLIFE_RECORD, words->noun_field) == NULL)
            p->noun = NOUN_WILDLIFE_VISIT;
        if (given != NULL && given[0] != '\0')
            unit_find(words->field.unit, given, &unit, &p->factor, &p->offset);
        p->open = question_open(r, plain ? "wide_unit" : arena_print(r->arena, "unit:%s", name));
    }
}

static void entry_add(struct running *r, size_t row, int32_t census, const char *census_text)
{
    r->entries = column_room(r->entries, r->n_entries, &r->entries_room, sizeof *r->entries);
    r->records = column_room(r->records, r->n_entries, &r->records_room, r->size);
    r->places = column_room(r->places, r->n_entries, &r->places_room, sizeof *r->places);
    r->entries[r->n_entries] = (struct entry){.row = row,
                                              .census = census,
                                              .census_text = census_text,
                                              .latitude = unknown_real(),
                                              .longitude = unknown_real(),
                                              .look = SIZE_MAX};
    noun_init(r->noun, r->records + r->n_entries * r->size);
    r->places[r->n_entries] = (struct record_place){.number = INT_UNKNOWN};
    r->n_entries++;
}

struct census_entry {
    int32_t day;
    size_t at;
    const char *text;
};

static int census_order(const void *a, const void *b)
{
    const struct census_entry *x = a, *y = b;
    if (x->day != y->day)
        return x->day < y->day ? -1 : 1;
    return x->at < y->at ? -1 : x->at > y->at;
}

static void entries_make(struct running *r)
{
    const struct mapping *m = r->mapping;
    struct census_entry *censuses = arena_array(r->arena, m->n_columns + 1, sizeof *censuses);
    size_t n = 0;
    for (size_t c = 0; c < m->n_columns; c++) {
        const struct column_use *use = &m->columns[c];
        bool before = use->census_text == NULL;
        for (size_t k = 0; k < n && !before; k++)
            before = strcmp(censuses[k].text, use->census_text) == 0;
        if (!before) {
            censuses[n] = (struct census_entry){use->census, n, use->census_text};
            n++;
        }
    }
    qsort(censuses, n, sizeof *censuses, census_order);
    for (size_t row = m->header + 1; row < r->sheet->rows; row++) {
        r->result->file_rows++;
        if (row_passed_over(r->sheet, m->header, row)) {
            r->result->blank_rows++;
            continue;
        }
        if (!m->wide)
            entry_add(r, row, DATE_UNKNOWN, NULL);
        for (size_t k = 0; m->wide && k < n; k++)
            entry_add(r, row, censuses[k].day, censuses[k].text);
    }
}

/* ---- the result ---- */

static char *raw_json(const struct running *r, size_t i)
{
    const struct entry *e = &r->entries[i];
    json_t *raw = json_object();
    for (size_t c = 0; c < r->sheet->widths[e->row]; c++) {
        const char *text = r->sheet->cells[e->row][c].text, *heading = record_sheet_text(r->sheet, r->mapping->header, c);
        if (text == NULL || text[0] == '\0')
            continue;
        char *name = heading == NULL                         ? arena_print(r->arena, "#%zu", c + 1)
                     : json_object_get(raw, heading) != NULL ? arena_print(r->arena, "%s #%zu", heading, c + 1)
                                                             : arena_text(r->arena, heading);
        json_object_set_new(raw, name, json_string(text));
    }
    if (e->census_text != NULL)
        json_object_set_new(raw, "census", json_string(e->census_text));
    char *text = json_dumps(raw, JSON_COMPACT);
    json_decref(raw);
    char *out = arena_text(r->arena, text == NULL ? "{}" : text);
    free(text);
    return out;
}

static char *parsed_json(const struct running *r, size_t i)
{
    const struct entry *e = &r->entries[i];
    const struct record_place *place = &r->places[i];
    json_t *parsed = json_object(), *keys = json_object();
    json_object_set_new(parsed, "noun", json_string(noun_infos[r->noun].name));
    json_object_set_new(parsed, "record", survey_row_json(r->noun, record_at(r, i)));
    if (e->site != NULL)
        json_object_set_new(keys, "site", json_string(e->site));
    if (e->site_id != 0)
        json_object_set_new(keys, "site_id", json_integer(e->site_id));
    if (e->plot != NULL)
        json_object_set_new(keys, "plot", json_string(e->plot));
    if (place->cell != NULL)
        json_object_set_new(keys, "cell", json_string(place->cell));
    if (place->tag != NULL)
        json_object_set_new(keys, "tag", json_string(place->tag));
    if (place->number != INT_UNKNOWN)
        json_object_set_new(keys, "number", json_integer(place->number));
    if (r->mapping->labels != NULL)
        json_object_set_new(keys, "labels", json_string(r->mapping->labels));
    json_object_set_new(parsed, "keys", keys);
    if (r->noun == NOUN_WILDLIFE_RECORD && e->look != SIZE_MAX)
        json_object_set_new(parsed, "look", survey_row_json(NOUN_WILDLIFE_VISIT, &r->all_looks[e->look]));
    if (e->plant != 0)
        json_object_set_new(parsed, "plant", survey_row_json(NOUN_PLANT, &r->proposed[e->plant - 1]));
    char *text = json_dumps(parsed, JSON_COMPACT);
    json_decref(parsed);
    char *out = arena_text(r->arena, text == NULL ? "{}" : text);
    free(text);
    return out;
}

static void held_make(struct running *r, size_t i, const struct doubt *doubts, size_t n, struct held *held)
{
    noun_init(NOUN_HELD_ROW, &held->row);
    struct text kinds = {0}, reasons = {0};
    size_t kept = 0;
    held->doubts = arena_array(r->arena, n, sizeof *held->doubts);
    for (size_t d = 0; d < n; d++) {
        held->doubts[kept++] = doubts[d];
        if (!doubts[d].check->holds)
            continue;
        bool before = false; /* the same check twice is named once */
        for (size_t k = 0; k < d && !before; k++)
            before = doubts[k].check == doubts[d].check;
        if (!before)
            text_print(&kinds, "%s%s", kinds.n == 0 ? "" : " ", doubts[d].check->id);
        text_print(&reasons, "%s%s", reasons.n == 0 ? "" : " ", doubts[d].sentence);
    }
    held->n_doubts = kept;
    held->row.row_number = r->sheet->lines[r->entries[i].row];
    held->row.kind = arena_text(r->arena, text_get(&kinds));
    held->row.reason = arena_text(r->arena, text_get(&reasons));
    held->row.raw = raw_json(r, i);
    held->row.parsed = parsed_json(r, i);
    held->row.state = HELD_STATE_WAITING;
    held->record = arena_alloc(r->arena, r->size);
    memcpy(held->record, record_at(r, i), r->size);
    text_free(&kinds);
    text_free(&reasons);
}

/* Of proposed rows those that a clear row needs, closed up; the others come with the first held row that is kept. to[i] gets
   the new index + 1, or 0. */
static size_t close_up(const bool *kept, const void *rows, size_t n, size_t size, void *out, size_t *to)
{
    size_t m = 0;
    for (size_t i = 0; i < n; i++) {
        to[i] = kept[i] ? m + 1 : 0;
        if (kept[i])
            memcpy((char *)out + m++ * size, (const char *)rows + i * size, size);
    }
    return m;
}

static int64_t id_moved(int64_t id, const size_t *to)
{
    return id >= 0 ? id : -(int64_t)to[-id - 1];
}

static bool entry_clear(const struct entry *e)
{
    return e->refused == NULL && !e->empty && !e->held;
}

/* Plants and visits of this import that clear rows speak of. */
static void plants_compact(struct running *r)
{
    struct import_result *out = r->result;
    bool *plants = memory_get(out->n_plants + 1, sizeof *plants), *visits = memory_get(out->n_visits + 1, sizeof *visits);
    size_t *plant_to = memory_get(out->n_plants + 1, sizeof *plant_to), *visit_to = memory_get(out->n_visits + 1, sizeof *visit_to);
    r->proposed = out->plants;
    for (size_t i = 0; i < r->n_entries; i++) {
        const struct plant_record *record = record_at(r, i);
        if (entry_clear(&r->entries[i]) && record->plant_id < 0)
            plants[-record->plant_id - 1] = true;
        if (entry_clear(&r->entries[i]) && record->visit_id < 0)
            visits[-record->visit_id - 1] = true;
    }
    struct plant *kept = arena_array(r->arena, out->n_plants, sizeof *kept);
    out->n_plants = close_up(plants, out->plants, out->n_plants, sizeof *kept, kept, plant_to);
    out->plants = kept;
    out->n_visits = close_up(visits, out->visits, out->n_visits, sizeof *out->visits, out->visits, visit_to);
    for (size_t i = 0; i < r->n_entries; i++) {
        struct plant_record *record = record_at(r, i);
        if (record->plant_id < 0 && plant_to[-record->plant_id - 1] == 0)
            r->entries[i].plant = (size_t)-record->plant_id;
        record->plant_id = id_moved(record->plant_id, plant_to);
        record->visit_id = id_moved(record->visit_id, visit_to);
    }
    free(plants);
    free(visits);
    free(plant_to);
    free(visit_to);
}

/* Looks to which a clear row belongs, or at which nothing was seen. */
static void looks_compact(struct running *r)
{
    struct import_result *out = r->result;
    bool *kept = memory_get(out->n_looks + 1, sizeof *kept);
    size_t *to = memory_get(out->n_looks + 1, sizeof *to);
    struct wildlife_visit *looks = arena_array(r->arena, out->n_looks, sizeof *looks);
    r->all_looks = out->looks;
    for (size_t i = 0; i < r->n_entries; i++)
        if (entry_clear(&r->entries[i]) && r->entries[i].look != SIZE_MAX)
            kept[r->entries[i].look] = true;
    out->n_looks = close_up(kept, out->looks, out->n_looks, sizeof *looks, looks, to);
    out->looks = looks;
    for (size_t i = 0; i < r->n_entries; i++) {
        struct wildlife_record *record = record_at(r, i);
        record->wildlife_visit_id = id_moved(record->wildlife_visit_id, to);
    }
    free(kept);
    free(to);
}

static void result_make(struct running *r)
{
    struct import_result *out = r->result;
    struct doubt *doubts = NULL;
    size_t n_doubts = 0;
    doubts_done(&r->doubts, &doubts, &n_doubts);
    for (size_t d = 0; d < n_doubts; d++)
        if (doubts[d].row != NO_ROW && doubts[d].check->holds)
            r->entries[doubts[d].row].held = true;
    if (r->noun == NOUN_PLANT_RECORD)
        plants_compact(r);
    if (r->noun == NOUN_WILDLIFE_RECORD)
        looks_compact(r);
    size_t ready = 0, held = 0, refused = 0;
    for (size_t i = 0; i < r->n_entries; i++) {
        const struct entry *e = &r->entries[i];
        refused += e->refused != NULL;
        out->n_empty += e->refused == NULL && e->empty;
        held += e->refused == NULL && !e->empty && e->held;
        ready += e->refused == NULL && !e->empty && !e->held;
    }
    out->read = r->n_entries;
    out->ready = arena_array(r->arena, ready, r->size);
    out->places = arena_array(r->arena, ready, sizeof *out->places);
    out->held = arena_array(r->arena, held, sizeof *out->held);
    out->refused = arena_array(r->arena, refused, sizeof *out->refused);
    int64_t *ready_at = memory_get(r->n_entries + 1, sizeof *ready_at);
    size_t d = 0, zero = 0;
    while (d < n_doubts && doubts[d].row == NO_ROW)
        d++;
    for (size_t i = 0; i < r->n_entries; i++) {
        struct entry *e = &r->entries[i];
        size_t first = d;
        while (d < n_doubts && doubts[d].row == (int64_t)i)
            d++;
        ready_at[i] = NO_ROW;
        if (e->refused != NULL) {
            out->refused[out->n_refused++] = *e->refused;
        } else if (e->empty) {
            continue;
        } else if (e->held) {
            held_make(r, i, doubts + first, d - first, &out->held[out->n_held++]);
        } else if (e->zero) {
            zero++; /* the look stands for it */
        } else {
            memcpy((char *)out->ready + out->n_ready * r->size, record_at(r, i), r->size);
            out->places[out->n_ready] = r->places[i];
            out->places[out->n_ready].file_row = r->sheet->lines[e->row];
            ready_at[i] = (int64_t)out->n_ready++;
        }
    }
    out->n_zero = zero;
    out->remarks = arena_array(r->arena, n_doubts, sizeof *out->remarks);
    for (size_t k = 0; k < n_doubts; k++) {
        if (doubts[k].check->holds || (doubts[k].row != NO_ROW && ready_at[doubts[k].row] == NO_ROW))
            continue;
        struct doubt *remark = &out->remarks[out->n_remarks++];
        *remark = doubts[k];
        remark->row = remark->row == NO_ROW ? NO_ROW : ready_at[remark->row];
        remark->other = remark->other == NO_ROW ? NO_ROW : ready_at[remark->other];
    }
    free(ready_at);
}

enum outcome import_dry_run(const struct workbook *book, const struct record_sheet *sheet, const struct mapping *mapping,
                            const struct survey_ground *ground, const struct import_options *options, struct arena *arena,
                            struct import_result *out, struct failure *why)
{
    struct import_result result = {.kind = mapping->kind, .noun = record_noun(mapping->kind)};
    memcpy(result.sha256, book->sha256, sizeof result.sha256);
    for (size_t i = 0; i < ground->n_imports; i++)
        if (text_same_nocase(ground->imports[i].sha256, book->sha256) && ground->imports[i].undone != TRUTH_YES)
            result.same = &ground->imports[i];
    struct running r = {.sheet = sheet,
                        .mapping = mapping,
                        .ground = ground,
                        .options = options,
                        .arena = arena,
                        .noun = result.noun,
                        .size = noun_infos[result.noun].size,
                        .doubts = {.arena = arena},
                        .result = &result};
    mapping_questions(mapping, sheet, ground, arena, &r.questions, &r.n_questions);
    plans_make(&r);
    entries_make(&r);
    enum outcome outcome = mapping->kind == RECORD_PLANTS ? plants_take(&r, why) : others_take(&r, why);
    if (outcome == OUTCOME_OK) {
        result_make(&r);
        result.questions = r.questions;
        result.n_questions = r.n_questions;
        *out = result;
    }
    free(r.entries);
    free(r.records);
    free(r.places);
    free(r.doubts.at);
    return outcome;
}
