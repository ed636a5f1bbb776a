/* SPDX-License-Identifier: GPL-3.0-or-later
 * Rows of the other kinds on their way: wildlife with its looks, soil, weather, costs, care, hours, phenology, incidents. */
#include "survey/import.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

static bool open_doubt(const struct running *r, size_t i)
{
    for (size_t d = r->doubts.n; d > 0 && r->doubts.at[d - 1].row == (int64_t)i; d--)
        if (strcmp(r->doubts.at[d - 1].check->id, "open_question") == 0)
            return true;
    return false;
}

static const char *key_text(struct running *r, size_t i, const char *name)
{
    const char *text = plan_text(r, plan_find(r, name), r->entries[i].row);
    if (cell_says_nothing(text))
        text = mapping_fixed_value(r->mapping, name);
    return text == NULL ? NULL : text_trim(r->arena, text);
}

static void ref_set(enum noun noun, const char *name, void *into, int64_t id)
{
    const struct field *field = noun_field(noun, name);
    if (field != NULL && id != 0)
        *(int64_t *)(void *)((char *)into + field->offset) = id;
}

/* All mapped fields of one noun into its struct; fixed values behind. */
static bool fields_of(struct running *r, size_t i, enum noun noun, void *into)
{
    for (size_t p = 0; p < r->n_plans; p++) {
        struct column_plan *plan = &r->plans[p];
        if (plan->field != NULL && plan->noun == noun &&
            !cell_take(r, i, plan, record_sheet_at(r->sheet, r->entries[i].row, plan->column), into))
            return false;
    }
    for (size_t f = 0; f < r->mapping->n_fixed; f++) {
        const struct field_words *words = field_words_find(r->mapping->kind, r->mapping->fixed[f].field);
        if (words != NULL && words->noun_field != NULL && noun_field(noun, words->noun_field) != NULL &&
            !fixed_take(r, i, words, r->mapping->fixed[f].value, into, noun))
            return false;
    }
    return true;
}

static void required_check(struct running *r, size_t i, enum noun noun, const void *into)
{
    if (open_doubt(r, i))
        return;
    for (size_t f = 0; f < noun_infos[noun].n_fields; f++) {
        const struct field *field = &noun_infos[noun].fields[f];
        if (!field->required || !field_unknown(field, into) || strcmp(field->name, "wildlife_visit_id") == 0)
            continue;
        if (strcmp(field->name, "site_id") == 0 || strcmp(field->name, "plot_id") == 0) {
            bool said = false;
            for (size_t d = r->doubts.n; d > 0 && r->doubts.at[d - 1].row == (int64_t)i; d--)
                said = said || strcmp(r->doubts.at[d - 1].check->id, "no_plot") == 0;
            if (said)
                continue;
        }
        const char *title = field->about;
        struct doubt *doubt = doubt_add(&r->doubts, "required_blank", (int64_t)i, field->name, "%s is blank: %s.", field->name, title);
        doubt_remedy(&r->doubts, doubt, "reject", "leave the row out");
    }
}

/* ---- wildlife ---- */

static bool look_same(const struct wildlife_visit *a, const struct wildlife_visit *b)
{
    return a->site_id == b->site_id && a->plot_id == b->plot_id && a->seen_on == b->seen_on && a->group == b->group &&
           text_same(a->protocol, b->protocol) && text_same(a->observers, b->observers) &&
           (a->minutes == b->minutes || !is_known(a->minutes) || !is_known(b->minutes));
}

static void wildlife_take(struct running *r)
{
    struct wildlife_visit *looks = NULL;
    size_t n = 0, room = 0;
    for (size_t i = 0; i < r->n_entries; i++) {
        struct entry *e = &r->entries[i];
        struct wildlife_record *record = record_at(r, i);
        struct wildlife_visit look;
        noun_init(NOUN_WILDLIFE_VISIT, &look);
        e->site = key_text(r, i, "site");
        e->plot = key_text(r, i, "plot");
        place_find(r, i);
        look.site_id = e->site_id;
        look.plot_id = e->plot_id;
        if (!fields_of(r, i, NOUN_WILDLIFE_VISIT, &look) || !fields_of(r, i, NOUN_WILDLIFE_RECORD, record))
            continue;
        required_check(r, i, NOUN_WILDLIFE_VISIT, &look);
        bool none = record->taxon == NULL;
        if (none && record->count != INT_UNKNOWN && record->count == 0)
            look.nothing_seen = TRUTH_YES;
        if (none && look.nothing_seen != TRUTH_YES && !open_doubt(r, i)) {
            struct doubt *doubt = doubt_add(&r->doubts, "zero_or_blank", (int64_t)i, "nothing_seen",
                                            "No taxon and no nought: was nothing seen, or did nobody look?");
            doubt_remedy(&r->doubts, doubt, "correct:nothing_seen=yes", "looked, and saw nothing");
            doubt_remedy(&r->doubts, doubt, "reject", "nobody looked: leave the row out");
        }
        e->zero = none;
        size_t at = 0; /* rows of one look usually stand together: the newest first */
        bool found = false;
        for (size_t back = n; back > 0 && !found && n - back < 2000; back--)
            if (look_same(&looks[back - 1], &look)) {
                at = back - 1;
                found = true;
            }
        if (!found) {
            looks = column_room(looks, n, &room, sizeof *looks);
            looks[n] = look;
            at = n++;
        } else {
            if (!is_known(looks[at].minutes))
                looks[at].minutes = look.minutes;
            if (looks[at].flowers == INT_UNKNOWN)
                looks[at].flowers = look.flowers;
        }
        e->look = at;
        record->wildlife_visit_id = -(int64_t)at - 1;
    }
    r->result->looks = arena_array(r->arena, n, sizeof *looks);
    if (n > 0)
        memcpy(r->result->looks, looks, n * sizeof *looks);
    r->result->n_looks = n;
    free(looks);
}

/* Doubts about looks stand on looks; they are given to every row of the look. */
static void wildlife_doubts(struct running *r)
{
    struct wildlife_record *records = memory_get(r->n_entries + 1, sizeof *records);
    size_t n = 0, n_doubts = 0;
    for (size_t i = 0; i < r->n_entries; i++)
        if (r->entries[i].refused == NULL && !r->entries[i].zero)
            records[n++] = *(struct wildlife_record *)record_at(r, i);
    struct doubt *doubts = NULL;
    wildlife_check(r->result->looks, r->result->n_looks, records, n, r->ground, r->arena, &doubts, &n_doubts);
    for (size_t d = 0; d < n_doubts; d++) {
        for (size_t i = 0; i < r->n_entries; i++) {
            bool whole = doubts[d].row == NO_ROW;
            if (!whole && (r->entries[i].refused != NULL || r->entries[i].look != (size_t)doubts[d].row))
                continue;
            r->doubts.at = column_room(r->doubts.at, r->doubts.n, &r->doubts.room, sizeof *r->doubts.at);
            struct doubt *more = &r->doubts.at[r->doubts.n++];
            *more = doubts[d];
            more->row = whole ? NO_ROW : (int64_t)i;
            more->other = NO_ROW;
            if (whole)
                break;
        }
    }
    free(records);
}

/* ---- costs: amounts without tax ---- */

static void tax_off(struct running *r, size_t i)
{
    struct cost_item *item = record_at(r, i);
    if (is_known(item->quantity) && is_known(item->unit_price) && !is_known(item->amount))
        item->amount = item->quantity * item->unit_price;
    if (!text_same(r->mapping->tax, "with"))
        return;
    if (!is_known(item->tax_pct)) {
        question_doubt(r, i, "tax_pct", "tax_pct");
        bool asked = false;
        for (size_t q = 0; q < r->n_questions; q++)
            asked = asked || strcmp(r->questions[q].id, "tax_pct") == 0;
        if (!asked)
            question_more(r, (struct question){.id = "tax_pct",
                                               .words = "Which tax rate, in per cent, is in the amounts?",
                                               .evidence = "Amounts are with tax and no column holds the rate.",
                                               .required = true});
        return;
    }
    double factor = 1 + item->tax_pct / 100;
    item->amount /= factor;
    item->unit_price /= factor;
}

static void tax_question(struct running *r, size_t i)
{
    if (r->mapping->tax == NULL && mapping_column(r->mapping, "tax_pct") == NULL && mapping_fixed_value(r->mapping, "tax_pct") == NULL)
        question_doubt(r, i, "amount", "tax");
}

/* ---- all ---- */

static void kind_doubts(struct running *r)
{
    char *rows = memory_get(r->n_entries + 1, r->size);
    size_t *from = memory_get(r->n_entries + 1, sizeof *from), n = 0, n_doubts = 0;
    struct doubt *doubts = NULL;
    for (size_t i = 0; i < r->n_entries; i++)
        if (r->entries[i].refused == NULL) {
            memcpy(rows + n * r->size, record_at(r, i), r->size);
            from[n++] = i;
        }
    const void *all = rows;
    switch (r->mapping->kind) {
    case RECORD_SOIL:
        soil_check(all, n, r->ground, r->arena, &doubts, &n_doubts);
        break;
    case RECORD_WEATHER:
        weather_check(all, n, r->ground, r->arena, &doubts, &n_doubts);
        break;
    case RECORD_COSTS:
        costs_check(all, n, r->ground, r->arena, &doubts, &n_doubts);
        break;
    case RECORD_HOURS:
        hours_check(all, n, r->ground, r->arena, &doubts, &n_doubts);
        break;
    default:
        break;
    }
    for (size_t d = 0; d < n_doubts; d++) {
        r->doubts.at = column_room(r->doubts.at, r->doubts.n, &r->doubts.room, sizeof *r->doubts.at);
        struct doubt *more = &r->doubts.at[r->doubts.n++];
        *more = doubts[d];
        more->row = more->row == NO_ROW ? NO_ROW : (int64_t)from[more->row];
        more->other = more->other == NO_ROW ? NO_ROW : (int64_t)from[more->other];
    }
    free(rows);
    free(from);
}

/* The plant a row of the phenology round speaks of. A row without one is refused: it says nothing of any plant. */
static bool round_plant(struct running *r, size_t i, const struct plant_index *index, struct phenology_record *record)
{
    struct entry *e = &r->entries[i];
    const char *number = key_text(r, i, "number");
    struct plant_key key = {e->site_id, e->plot_id, key_text(r, i, "cell"), key_text(r, i, "tag"), INT_UNKNOWN, labels_said(r)};
    if (number != NULL && !integer_read(number, &key.number) && key.tag == NULL)
        key.tag = number;
    struct plant_found found = plant_find(index, &key, r->arena);
    if (found.match != MATCH_ONE) {
        refuse(r, i, "tag", "Give the label, or plot, square and number, of a plant of the programme.", "%s",
               found.words == NULL ? "No plant is meant by this." : found.words);
        return false;
    }
    record->plant_id = found.plant->id;
    return true;
}

enum outcome others_take(struct running *r, struct failure *why)
{
    const struct plant_index *index = r->mapping->kind == RECORD_PHENOLOGY ? plant_index_make(r->ground, r->arena) : NULL;
    if (r->mapping->kind == RECORD_WILDLIFE) {
        wildlife_take(r);
        twins(r);
        already_there(r);
        wildlife_doubts(r);
        return OUTCOME_OK;
    }
    for (size_t i = 0; i < r->n_entries; i++) {
        struct entry *e = &r->entries[i];
        void *record = record_at(r, i);
        e->site = key_text(r, i, "site");
        e->plot = field_words_find(r->mapping->kind, "plot") == NULL ? NULL : key_text(r, i, "plot");
        place_find(r, i);
        ref_set(r->noun, "site_id", record, e->site_id);
        ref_set(r->noun, "plot_id", record, e->plot_id);
        if (index != NULL && !round_plant(r, i, index, record))
            continue;
        if (!fields_of(r, i, r->noun, record))
            continue;
        if (r->mapping->kind == RECORD_COSTS) {
            tax_off(r, i);
            tax_question(r, i);
        }
        required_check(r, i, r->noun, record);
        if (i % 20000 == 0 && !progress_tell(r->options->progress, 0.1 + 0.6 * (double)i / (double)(r->n_entries + 1), "reading rows"))
            return fail(why, OUTCOME_CANCELLED, "Called off while reading; nothing was changed.");
    }
    twins(r);
    already_there(r);
    kind_doubts(r);
    return OUTCOME_OK;
}
