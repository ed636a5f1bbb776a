/* SPDX-License-Identifier: GPL-3.0-or-later
 * From a cell to a field: numbers with their unit and mark, days, words; refusing what cannot be read, holding what waits
 * for an answer. */
#include "survey/import.h"
#include <ctype.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

void refuse(struct running *r, size_t entry, const char *column, const char *remedy, const char *sentence, ...)
{
    struct entry *e = &r->entries[entry];
    if (e->refused != NULL)
        return;
    char words[FAILURE_TEXT];
    va_list list;
    va_start(list, sentence);
    vsnprintf(words, sizeof words, sentence, list);
    va_end(list);
    e->refused = arena_alloc(r->arena, sizeof *e->refused);
    fail(e->refused, OUTCOME_DATA, "%s", words);
    failure_at(e->refused, r->sheet->file, r->sheet->lines[e->row], column);
    failure_remedy(e->refused, "%s", remedy);
}

struct doubt *question_doubt(struct running *r, size_t entry, const char *field, const char *id)
{
    struct doubt *doubt = doubt_add(&r->doubts, "open_question", (int64_t)entry, field, "The question “%s” is not answered yet.", id);
    doubt_remedy(&r->doubts, doubt, "reject", "leave the row out");
    return doubt;
}

const char *plan_text(const struct running *r, const struct column_plan *plan, size_t row)
{
    return plan == NULL ? NULL : record_sheet_text(r->sheet, row, plan->column);
}

static const char *heading_of(const struct running *r, const struct column_plan *plan)
{
    const char *heading = record_sheet_text(r->sheet, r->mapping->header, plan->column);
    return heading == NULL ? plan->words->field.name : heading;
}

static void limits_check(struct running *r, size_t entry, const struct field *field, const void *into)
{
    struct failure why = {0};
    if (field_unknown(field, into) || field_check(field, into, &why) == OUTCOME_OK)
        return;
    struct doubt *doubt = doubt_add(&r->doubts, "out_of_limits", (int64_t)entry, field->name, "%s", why.sentence);
    doubt_remedy(&r->doubts, doubt, "reject", "leave the row out");
}

static bool take_number(struct running *r, size_t entry, struct column_plan *plan, const struct sheet_cell *cell, void *into)
{
    const struct field *field = plan->field;
    double value = 0, factor = plan->factor, offset = plan->offset;
    const char *behind = NULL, *unit = NULL;
    bool own = r->sheet->delimiter == 0 && cell->kind == SHEET_NUMBER; /* a spreadsheet's number has no mark to doubt */
    enum number_reading reading = cell_number(cell->text,
                                              own                        ? '.'
                                              : r->mapping->decimal == 0 ? 'b'
                                                                         : r->mapping->decimal,
                                              &value, &behind, r->arena);
    if (reading == NUMBER_NONE)
        return true;
    if (reading == NUMBER_NOT || (behind != NULL && !unit_find(plan->words->field.unit, behind, &unit, &factor, &offset))) {
        refuse(r, entry, heading_of(r, plan), "Write a plain number, or leave the cell blank and put the words under note.",
               "“%s” is not a number%s%s.", cell->text, plan->words->field.unit[0] == '\0' ? "" : " in ", plan->words->field.unit);
        return false;
    }
    if (!own && r->mapping->decimal == 0 && number_mark(cell->text) != 0) {
        question_doubt(r, entry, field->name, "decimal");
        return true;
    }
    if (behind == NULL && plan->open) {
        question_doubt(r, entry, field->name,
                       plan->census_text != NULL ? "wide_unit" : arena_print(r->arena, "unit:%s", plan->words->field.name));
        return true;
    }
    value = value * factor + offset;
    if (reading == NUMBER_BELOW) {
        const struct field *mark = noun_field(plan->noun, "lead_below_detection");
        if (strcmp(field->name, "lead_mg_kg") != 0 || mark == NULL) {
            refuse(r, entry, heading_of(r, plan), "Leave the cell blank and write the detection limit under note.",
                   "“%s” is a limit, not a figure.", cell->text);
            return false;
        }
        *(enum truth *)(void *)((char *)into + mark->offset) = TRUTH_YES;
    }
    if (field->kind == FIELD_INT) {
        if (fabs(value - round(value)) > 1e-9 || fabs(value) > 9e15) {
            refuse(r, entry, heading_of(r, plan), "Write a whole number.", "“%s” is not a whole number.", cell->text);
            return false;
        }
        *(int64_t *)(void *)((char *)into + field->offset) = (int64_t)llround(value);
    } else {
        /* a factor such as 0.1 leaves the last binary digits off: what people wrote has at most 12 */
        char shown[40];
        double rounded = value;
        snprintf(shown, sizeof shown, "%.12e", value);
        if (factor != 1 && number_read(shown, &rounded))
            value = rounded;
        *(double *)(void *)((char *)into + field->offset) = value;
    }
    limits_check(r, entry, field, into);
    return true;
}

static bool take_date(struct running *r, size_t entry, struct column_plan *plan, const struct sheet_cell *cell, void *into)
{
    if (cell_says_nothing(cell->text))
        return true;
    struct date_read read = survey_date(cell->text, r->mapping->dates);
    if (read.reading == DATE_AMBIGUOUS) {
        question_doubt(r, entry, plan->field->name, "dates");
        return true;
    }
    if (read.reading == DATE_NOT && survey_date(cell->text, DATE_ORDER_UNKNOWN).reading == DATE_CLEAR) {
        struct date_read other = survey_date(cell->text, DATE_ORDER_UNKNOWN);
        char iso[16];
        date_write(other.date, iso);
        struct doubt *doubt = doubt_add(&r->doubts, "date_order", (int64_t)entry, plan->field->name,
                                        "“%s” is no day in the order given for this file; read the other way it is %s.", cell->text, iso);
        doubt_remedy(&r->doubts, doubt, arena_print(r->arena, "correct:%s=%s", plan->field->name, iso), "it is %s", iso);
        doubt_remedy(&r->doubts, doubt, "reject", "leave the row out");
        return true;
    }
    if (read.reading == DATE_MONTH && r->mapping->census_day != NULL) {
        int32_t last = date_add_months(read.date, 1) - 1;
        read.date = strcmp(r->mapping->census_day, "first") == 0  ? read.date
                    : strcmp(r->mapping->census_day, "last") == 0 ? last
                                                                  : read.date + 14;
        read.reading = DATE_CLEAR;
    }
    if (read.reading == DATE_MONTH) {
        question_doubt(r, entry, plan->field->name, "census_day");
        bool asked = false;
        for (size_t i = 0; i < r->n_questions; i++)
            asked = asked || strcmp(r->questions[i].id, "census_day") == 0;
        if (!asked) {
            struct choice *choices = arena_array(r->arena, 3, sizeof *choices);
            choices[0] = (struct choice){"first", "the first of the month"};
            choices[1] = (struct choice){"middle", "the 15th"};
            choices[2] = (struct choice){"last", "the last day of the month"};
            question_more(r, (struct question){.id = "census_day",
                                               .words = "Some dates name only a month. Which day shall stand for it?",
                                               .choices = choices,
                                               .n_choices = 3,
                                               .evidence = arena_print(r->arena, "For example “%s”.", cell->text),
                                               .required = true});
        }
        return true;
    }
    if (read.reading == DATE_NOT) {
        refuse(r, entry, heading_of(r, plan), "Write the day as 2023-09-14.", "“%s” is not a day.", cell->text);
        return false;
    }
    *(int32_t *)(void *)((char *)into + plan->field->offset) = read.date;
    return true;
}

static bool take_word(struct running *r, size_t entry, struct column_plan *plan, const struct sheet_cell *cell, void *into)
{
    if (cell_says_nothing(cell->text))
        return true;
    enum word_list list = (enum word_list)plan->field->words;
    if (plan->last_word == NULL || strcmp(plan->last_word, cell->text) != 0) {
        char *word = text_trim(r->arena, cell->text);
        const char *meant = mapping_word_value(r->mapping, plan->words->field.name, word);
        plan->last_value = meant == NULL ? -1 : strcmp(meant, "unknown") == 0 ? 0 : word_find(list, meant);
        plan->last_word = cell->text;
    }
    if (plan->last_value < 0) {
        question_doubt(r, entry, plan->field->name,
                       arena_print(r->arena, "word:%s:%s", plan->words->field.name, text_trim(r->arena, cell->text)));
        return true;
    }
    *(int *)(void *)((char *)into + plan->field->offset) = plan->last_value;
    return true;
}

bool cell_take(struct running *r, size_t entry, struct column_plan *plan, const struct sheet_cell *cell, void *into)
{
    if (cell == NULL || text_blank(cell->text) || plan->field == NULL)
        return true;
    if (cell->kind == SHEET_FAULT && !cell_says_nothing(cell->text)) {
        refuse(r, entry, heading_of(r, plan), "Mend the formula in the spreadsheet, or write the value.", "The cell holds the error %s.",
               cell->text);
        return false;
    }
    switch (plan->field->kind) {
    case FIELD_REAL:
    case FIELD_INT:
        return take_number(r, entry, plan, cell, into);
    case FIELD_DATE:
        return take_date(r, entry, plan, cell, into);
    case FIELD_ENUM:
        return take_word(r, entry, plan, cell, into);
    default:
        if (!cell_says_nothing(cell->text))
            *(const char **)(void *)((char *)into + plan->field->offset) = text_trim(r->arena, cell->text);
        return true;
    }
}

bool fixed_take(struct running *r, size_t entry, const struct field_words *words, const char *value, void *into, enum noun noun)
{
    const struct field *field = words->noun_field == NULL ? NULL : noun_field(noun, words->noun_field);
    if (field == NULL || !field_unknown(field, into) || strcmp(value, "unknown") == 0)
        return true;
    struct failure why = {0};
    if (field->kind == FIELD_DATE) {
        struct date_read read = survey_date(value, r->mapping->dates);
        if (read.reading == DATE_CLEAR)
            *(int32_t *)(void *)((char *)into + field->offset) = read.date;
        else
            refuse(r, entry, words->field.name, "Answer with a day such as 2023-09-14.", "“%s”, given for all rows, is not a day.", value);
        return read.reading == DATE_CLEAR;
    }
    if (field_read(field, into, value, r->arena, &why) != OUTCOME_OK) {
        refuse(r, entry, words->field.name, why.remedy, "“%s”, given for all rows, cannot be read: %s", value, why.sentence);
        return false;
    }
    return true;
}

/* ---- site and plot ---- */

static int64_t site_named(const struct survey_ground *ground, const char *text)
{
    for (size_t i = 0; i < ground->n_sites; i++)
        if (text_same_nocase(ground->sites[i].code, text) || text_same_nocase(ground->sites[i].name, text))
            return ground->sites[i].id;
    return 0;
}

static void no_plot(struct running *r, size_t entry, const char *code)
{
    const struct survey_ground *g = r->ground;
    struct entry *e = &r->entries[entry];
    struct doubt *doubt =
        doubt_add(&r->doubts, "no_plot", (int64_t)entry, "plot", "There is no plot “%s”%s.", code, e->site_id != 0 ? " on this site" : "");
    int least = 3;
    const struct plot *near = NULL;
    for (size_t i = 0; i < g->n_plots; i++) {
        if (e->site_id != 0 && g->plots[i].site_id != e->site_id)
            continue;
        int d = g->plots[i].code == NULL ? 3 : text_distance(g->plots[i].code, code, 2);
        if (d < least) {
            least = d;
            near = &g->plots[i];
        }
    }
    if (near != NULL)
        doubt_remedy(&r->doubts, doubt, arena_print(r->arena, "correct:plot=%s", near->code), "it is plot %s", near->code);
    doubt_remedy(&r->doubts, doubt, "reject", "leave the row out");
}

void place_find(struct running *r, size_t entry)
{
    const struct survey_ground *g = r->ground;
    struct entry *e = &r->entries[entry];
    if (e->site != NULL) {
        const char *meant = mapping_word_value(r->mapping, "site", e->site);
        e->site_id = site_named(g, meant == NULL ? e->site : meant);
        if (e->site_id == 0)
            question_doubt(r, entry, "site", arena_print(r->arena, "word:site:%s", e->site));
    } else if (g->n_sites == 1) {
        e->site_id = g->sites[0].id;
    }
    if (e->plot == NULL)
        return;
    const char *meant = mapping_word_value(r->mapping, "plot", e->plot), *code = meant == NULL ? e->plot : meant;
    size_t found = 0;
    for (size_t i = 0; i < g->n_plots; i++) {
        const struct plot *p = &g->plots[i];
        if (text_same_nocase(p->code, code) && (e->site_id == 0 || p->site_id == e->site_id)) {
            e->plot_id = p->id;
            found++;
        }
    }
    if (found == 1 && e->site_id == 0) {
        for (size_t i = 0; i < g->n_plots; i++)
            if (g->plots[i].id == e->plot_id)
                e->site_id = g->plots[i].site_id;
    } else if (found > 1) {
        e->plot_id = 0;
        question_doubt(r, entry, "site", "site");
    } else if (found == 0 && !(e->site != NULL && e->site_id == 0)) {
        no_plot(r, entry, code);
    }
}
