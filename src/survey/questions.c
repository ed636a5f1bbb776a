/* SPDX-License-Identifier: GPL-3.0-or-later
 * What only a person can answer about a table, each asked once, with what in the file raises it. */
#include "survey/mapping.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

struct asking {
    const struct mapping *m;
    const struct record_sheet *sheet;
    const struct survey_ground *ground;
    struct arena *arena;
    struct question *questions;
    size_t n, room;
};

static struct question *ask(struct asking *a, const char *id, bool required, size_t rows)
{
    a->questions = column_room(a->questions, a->n, &a->room, sizeof *a->questions);
    struct question *q = &a->questions[a->n++];
    *q = (struct question){.id = arena_text(a->arena, id), .required = required, .rows = rows, .evidence = ""};
    q->choices = arena_array(a->arena, 64, sizeof *q->choices);
    return q;
}

static void choose(struct question *q, const char *value, const char *words)
{
    if (q->n_choices < 64)
        q->choices[q->n_choices++] = (struct choice){value, words};
}

static bool told_unit(const struct mapping *m, const char *field)
{
    return mapping_word_value(m, "unit_told", field) != NULL;
}

/* ---- dates and decimal marks ---- */

static void ask_dates(struct asking *a)
{
    static const char *const fields[] = {"observed_on", "seen_on", "sampled_on", "day", "paid_on", "done_on", "worked_on", "happened_on"};
    if (a->m->dates != DATE_ORDER_UNKNOWN)
        return;
    size_t ambiguous = 0, day_first = 0, month_first = 0;
    const char *example = NULL;
    for (size_t f = 0; f <= sizeof fields / sizeof *fields; f++) {
        size_t n = 0;
        struct distinct *values = NULL;
        if (f < sizeof fields / sizeof *fields) {
            const struct column_use *use = mapping_column(a->m, fields[f]);
            values = use == NULL ? NULL : column_distinct(a->sheet, a->m->header, use->column, 100000, a->arena, &n);
        }
        for (size_t i = 0; i < n; i++) {
            enum date_reading reading = survey_date(values[i].text, DATE_ORDER_UNKNOWN).reading;
            if (reading == DATE_AMBIGUOUS) {
                ambiguous += values[i].rows;
                example = example == NULL ? values[i].text : example;
            } else if (reading == DATE_CLEAR) {
                bool dmy = survey_date(values[i].text, DATE_DMY).reading == DATE_CLEAR,
                     mdy = survey_date(values[i].text, DATE_MDY).reading == DATE_CLEAR;
                day_first += dmy && !mdy ? values[i].rows : 0;
                month_first += mdy && !dmy ? values[i].rows : 0;
            }
        }
    }
    for (size_t c = 0; c < a->m->n_columns; c++) {
        const char *text = a->m->columns[c].census_text;
        if (text != NULL && survey_date(text, DATE_ORDER_UNKNOWN).reading == DATE_AMBIGUOUS) {
            ambiguous++;
            example = example == NULL ? text : example;
        }
    }
    if (ambiguous == 0 && (day_first == 0 || month_first == 0))
        return;
    struct question *q = ask(a, "dates", true, ambiguous > 0 ? ambiguous : day_first + month_first);
    if (example != NULL) {
        struct date_read d = survey_date(example, DATE_DMY), m = survey_date(example, DATE_MDY);
        char as_d[16], as_m[16];
        date_write(d.date, as_d);
        date_write(m.date, as_m);
        q->words = arena_print(a->arena, "Is %s day first or month first?", example);
        choose(q, "dmy", arena_print(a->arena, "day first: %s", as_d));
        choose(q, "mdy", arena_print(a->arena, "month first: %s", as_m));
    } else {
        q->words = "Some dates can only be day first, others only month first. Which is right?";
        choose(q, "dmy", "day first; the others are held");
        choose(q, "mdy", "month first; the others are held");
    }
    q->evidence = arena_print(a->arena, "%zu dates can be read either way; %zu can only be day first, %zu only month first.", ambiguous,
                              day_first, month_first);
}

static void ask_decimal(struct asking *a)
{
    if (a->m->decimal != 0)
        return;
    size_t points = 0, commas = 0, groups = 0;
    const char *point = "", *comma = "", *group = NULL;
    for (size_t c = 0; c < a->m->n_columns; c++) {
        const struct column_use *use = &a->m->columns[c];
        const struct field *field = use->field == NULL ? NULL : mapped_field(a->m->kind, use->field);
        bool number = use->census_text != NULL || (field != NULL && (field->kind == FIELD_REAL || field->kind == FIELD_INT));
        size_t n = 0;
        struct distinct *values = number ? column_distinct(a->sheet, a->m->header, use->column, 100000, a->arena, &n) : NULL;
        for (size_t i = 0; i < n; i++) {
            if (a->sheet->delimiter == 0 && values[i].kind == SHEET_NUMBER)
                continue;
            char mark = number_mark(values[i].text);
            points += mark == '.' ? values[i].rows : 0;
            commas += mark == ',' ? values[i].rows : 0;
            groups += mark == 't' ? values[i].rows : 0;
            if (mark == '.')
                point = values[i].text;
            if (mark == ',')
                comma = values[i].text;
            if (mark == 't')
                group = values[i].text;
        }
    }
    struct question *q = ask(a, "decimal", true, points + commas + groups);
    if (points > 0 && commas > 0) {
        q->words = arena_print(a->arena, "The table writes both %s and %s. Which mark is the decimal mark?", point, comma);
        choose(q, "both", "either, each as it stands (no marks between thousands)");
    } else {
        q->words = arena_print(a->arena, "Does the mark in %s part off decimals or thousands?", group == NULL ? "the figures" : group);
    }
    choose(q, "point", "the point parts off decimals");
    choose(q, "comma", "the comma parts off decimals");
    q->evidence = arena_print(a->arena, "%zu figures with a decimal point, %zu with a decimal comma, %zu that can be read either way.",
                              points, commas, groups);
}

/* ---- units ---- */

static int double_order(const void *x, const void *y)
{
    double a = *(const double *)x, b = *(const double *)y;
    return (a > b) - (a < b);
}

/* Median and ends of the figures of a column, as they stand. False if there are none. */
static bool column_range(const struct asking *a, size_t column, double out[3], size_t *count)
{
    size_t n = 0, k = 0, total = 0;
    struct distinct *values = column_distinct(a->sheet, a->m->header, column, 20000, a->arena, &n);
    double *x = arena_array(a->arena, n, sizeof *x);
    for (size_t i = 0; i < n; i++) {
        double value = 0;
        if (cell_number(values[i].text, a->m->decimal == 0 ? 'b' : a->m->decimal, &value, NULL, a->arena) == NUMBER_READ && value > 0) {
            x[k++] = value;
            total += values[i].rows;
        }
    }
    if (k == 0)
        return false;
    qsort(x, k, sizeof *x, double_order);
    out[0] = x[0];
    out[1] = x[k / 2];
    out[2] = x[k - 1];
    *count = total;
    return true;
}

/* Where the median of a plausible field lies, in the field's unit. Common practice, no source. */
static bool plausible_median(const char *field, double value)
{
    if (strcmp(field, "height_cm") == 0)
        return value >= 8 && value <= 2500;
    if (strcmp(field, "diameter_mm") == 0)
        return value >= 2 && value <= 900;
    if (strcmp(field, "crown_cm") == 0)
        return value >= 5 && value <= 1500;
    if (strcmp(field, "bulk_density_g_cm3") == 0)
        return value >= 0.2 && value <= 2.2;
    if (strcmp(field, "penetration_mpa") == 0)
        return value >= 0.1 && value <= 8;
    return true;
}

static void unit_question(struct asking *a, const char *id, const char *field, const char *title, const char *want, const char *given,
                          size_t column)
{
    const char *choices = unit_choices(want, field);
    double range[3];
    size_t count = 0;
    if (choices == NULL || !column_range(a, column, range, &count))
        return;
    const char *unit = NULL;
    double factor = 1, offset = 0;
    bool known = given != NULL && given[0] != '\0' && unit_find(want, given, &unit, &factor, &offset);
    if (known && plausible_median(field, range[1] * factor + offset))
        return;
    char low[40], middle[40], high[40];
    number_write(range[0], low);
    number_write(range[1], middle);
    number_write(range[2], high);
    struct question *q = ask(a, id, true, count);
    q->words = known ? arena_print(a->arena, "The heading says the %s is in %s, but the figures would be unlikely. In which unit are they?",
                                   title, unit)
                     : arena_print(a->arena, "In which unit is the %s?", title);
    q->evidence = arena_print(a->arena, "%zu figures from %s to %s, the middle one %s.", count, low, high, middle);
    size_t fitting = 0;
    for (const char *p = choices; *p != '\0';) {
        const char *end = strchr(p, '|');
        size_t n = end == NULL ? strlen(p) : (size_t)(end - p);
        char *one = arena_text_n(a->arena, p, n);
        if (unit_find(want, one, &unit, &factor, &offset)) {
            double median = range[1] * factor + offset;
            char as[64];
            number_fixed(median, median < 10 ? 2 : 0, as);
            bool fits = plausible_median(field, median);
            choose(q, one,
                   arena_print(a->arena, "%s: the middle plant would be %s %s%s", one, as, want, fits ? "" : ", which is unlikely"));
            fitting += fits;
            if (fits)
                q->suggestion = fitting == 1 ? one : NULL;
        }
        p = end == NULL ? p + n : end + 1;
    }
}

static void ask_units(struct asking *a)
{
    bool census_asked = false;
    for (size_t c = 0; c < a->m->n_columns; c++) {
        const struct column_use *use = &a->m->columns[c];
        const char *name = use->field;
        if (use->census_text != NULL && name == NULL) { /* a plain census column: the wide unit */
            const struct field_words *words = a->m->wide_field == NULL ? NULL : field_words_find(a->m->kind, a->m->wide_field);
            if (words != NULL && !census_asked && a->m->wide_unit == NULL && words->field.unit[0] != '\0')
                unit_question(a, "wide_unit", words->field.name, "measure in the census columns", words->field.unit, NULL, use->column);
            census_asked = true;
            continue;
        }
        const struct field_words *words = name == NULL ? NULL : field_words_find(a->m->kind, name);
        if (words == NULL || words->field.unit[0] == '\0' || told_unit(a->m, name) || (use->census_text != NULL && census_asked))
            continue;
        census_asked = census_asked || use->census_text != NULL;
        char *title = text_fold(words->field.title, a->arena);
        unit_question(a, arena_print(a->arena, "unit:%s", name), name, title, words->field.unit, use->unit, use->column);
    }
}

/* ---- words ---- */

static const char *in_words(struct arena *arena, const char *word)
{
    char *copy = arena_text(arena, word);
    for (char *p = copy; *p != '\0'; p++)
        *p = *p == '_' ? ' ' : *p;
    return copy;
}

static void ask_words(struct asking *a)
{
    enum { MOST = 40 };
    size_t asked = 0;
    for (size_t c = 0; c < a->m->n_columns; c++) {
        const struct column_use *use = &a->m->columns[c];
        const char *name = use->census_text != NULL && use->field == NULL ? a->m->wide_field : use->field;
        const struct field *field = name == NULL ? NULL : mapped_field(a->m->kind, name);
        if (field == NULL || field->kind != FIELD_ENUM)
            continue;
        size_t n = 0;
        struct distinct *values = column_distinct(a->sheet, a->m->header, use->column, 500, a->arena, &n);
        for (size_t i = 0; i < n && asked < MOST; i++) {
            char *word = text_trim(a->arena, values[i].text);
            if (cell_says_nothing(word) || mapping_word_value(a->m, name, word) != NULL)
                continue;
            char *id = arena_print(a->arena, "word:%s:%s", name, word);
            bool before = false;
            for (size_t j = 0; j < a->n && !before; j++)
                before = strcmp(a->questions[j].id, id) == 0;
            if (before)
                continue;
            struct question *q = ask(a, id, true, values[i].rows);
            q->words = arena_print(a->arena, "What does “%s” mean in the column %s?", word, use->heading == NULL ? "" : use->heading);
            q->evidence =
                arena_print(a->arena, "%zu rows say so, the first in row %ld.", values[i].rows, a->sheet->lines[values[i].first_row]);
            for (int k = 1; k < words_of[field->words].n; k++)
                choose(q, words_of[field->words].word[k], in_words(a->arena, words_of[field->words].word[k]));
            choose(q, "unknown", "not known: leave it blank");
            asked++;
        }
    }
}

static bool site_known(const struct survey_ground *ground, const char *text)
{
    for (size_t i = 0; i < ground->n_sites; i++)
        if (text_same_nocase(ground->sites[i].code, text) || text_same_nocase(ground->sites[i].name, text))
            return true;
    return false;
}

static void site_choices(struct asking *a, struct question *q)
{
    for (size_t i = 0; i < a->ground->n_sites; i++)
        choose(q, a->ground->sites[i].code,
               arena_print(a->arena, "%s: %s", a->ground->sites[i].code, a->ground->sites[i].name == NULL ? "" : a->ground->sites[i].name));
}

static size_t rows_below(const struct asking *a)
{
    size_t n = 0;
    for (size_t row = a->m->header + 1; row < a->sheet->rows; row++)
        n += !row_passed_over(a->sheet, a->m->header, row);
    return n;
}

static void ask_site(struct asking *a)
{
    if (field_words_find(a->m->kind, "site") == NULL || a->ground->n_sites == 0)
        return;
    const struct column_use *use = mapping_column(a->m, "site");
    if (use != NULL) {
        size_t n = 0, asked = 0;
        struct distinct *values = column_distinct(a->sheet, a->m->header, use->column, 500, a->arena, &n);
        for (size_t i = 0; i < n && asked < 20; i++) {
            char *word = text_trim(a->arena, values[i].text);
            if (site_known(a->ground, word) || mapping_word_value(a->m, "site", word) != NULL)
                continue;
            struct question *q = ask(a, arena_print(a->arena, "word:site:%s", word), true, values[i].rows);
            q->words = arena_print(a->arena, "Which site is “%s”?", word);
            q->evidence = arena_print(a->arena, "%zu rows name it.", values[i].rows);
            site_choices(a, q);
            asked++;
        }
        return;
    }
    if (mapping_fixed_value(a->m, "site") != NULL || a->ground->n_sites == 1)
        return;
    const struct column_use *plot = mapping_column(a->m, "plot");
    if (plot != NULL || mapping_fixed_value(a->m, "plot") != NULL) { /* a plot's code may name its site */
        size_t n = 0, unclear = 0, rows = 0;
        const char *example = NULL;
        struct distinct one = {mapping_fixed_value(a->m, "plot"), SHEET_TEXT, 1, 0};
        struct distinct *values = plot == NULL ? &one : column_distinct(a->sheet, a->m->header, plot->column, 5000, a->arena, &n);
        n = plot == NULL ? 1 : n;
        for (size_t i = 0; i < n; i++) {
            size_t sites = 0;
            char *code = text_trim(a->arena, values[i].text);
            for (size_t k = 0; k < a->ground->n_plots; k++)
                sites += text_same_nocase(a->ground->plots[k].code, code);
            if (sites > 1) {
                unclear++;
                rows += values[i].rows;
                example = code;
            }
        }
        if (unclear == 0)
            return;
        struct question *q = ask(a, "site", true, rows);
        q->words = "Which site are these records from?";
        q->evidence =
            arena_print(a->arena, "No column names the site, and %zu plot codes, such as %s, stand on several sites.", unclear, example);
        site_choices(a, q);
        return;
    }
    bool shared = a->m->kind == RECORD_COSTS || a->m->kind == RECORD_WEATHER;
    struct question *q = ask(a, "site", !shared, rows_below(a));
    q->words = shared ? "Do these rows belong to one site? Without an answer they stand for the whole programme."
                      : "Which site are these records from?";
    q->evidence = "No column names the site.";
    site_choices(a, q);
}

/* ---- plants ---- */

/* Words of the comment lines above the headings, folded, for evidence. */
static char *lines_above(const struct asking *a)
{
    struct text all = {0};
    for (size_t row = 0; row < a->m->header; row++)
        for (size_t c = 0; c < a->sheet->widths[row]; c++)
            if (!text_blank(a->sheet->cells[row][c].text))
                text_print(&all, "%s ", a->sheet->cells[row][c].text);
    char *out = arena_text(a->arena, text_get(&all));
    text_free(&all);
    return out;
}

static void ask_wide(struct asking *a)
{
    bool plain = false, month = false;
    size_t censuses = 0;
    const char *first = NULL, *last = NULL;
    for (size_t c = 0; c < a->m->n_columns; c++) {
        const struct column_use *use = &a->m->columns[c];
        if (use->census_text == NULL)
            continue;
        censuses++;
        plain = plain || use->field == NULL;
        first = first == NULL ? use->census_text : first;
        last = use->census_text;
        const char *told = mapping_word_value(a->m, "census", use->census_text);
        struct date_read read = survey_date(told == NULL ? use->census_text : told, a->m->dates);
        month = month || read.reading == DATE_MONTH;
        if (read.reading == DATE_NOT) {
            struct question *q = ask(a, arena_print(a->arena, "census:%s", use->census_text), true, 0);
            q->words = arena_print(a->arena, "On which day was the census %s? Its first day will do.", use->census_text);
            q->evidence = "The heading names no day or month.";
        }
    }
    if (censuses == 0)
        return;
    char *above = lines_above(a), *folded = arena_print(a->arena, " %s ", text_fold(above, a->arena));
    if (plain && a->m->wide_field == NULL) {
        struct question *q = ask(a, "wide_field", true, rows_below(a));
        q->words = arena_print(a->arena, "What do the %zu census columns %s to %s hold?", censuses, first, last);
        q->evidence =
            above[0] == '\0' ? "The headings name only dates." : arena_print(a->arena, "Above the headings stands: %.300s", above);
        choose(q, "height_cm", "height");
        choose(q, "diameter_mm", "diameter");
        choose(q, "crown_cm", "crown width");
        choose(q, "status", "the state: alive, dead …");
        if (strstr(folded, " dbh ") != NULL || strstr(folded, "diamet") != NULL || strstr(folded, " bhd ") != NULL)
            q->suggestion = "diameter_mm";
        else if (strstr(folded, " height ") != NULL || strstr(folded, " hohe ") != NULL || strstr(folded, " hauteur ") != NULL)
            q->suggestion = "height_cm";
    }
    if (month && a->m->census_day == NULL) {
        struct question *q = ask(a, "census_day", true, rows_below(a));
        q->words = "The headings name only the month of a census. Which day shall stand for it?";
        q->evidence =
            arena_print(a->arena, "Censuses such as %s. Intervals between censuses carry an uncertainty of up to a month each.", first);
        choose(q, "first", "the first of the month");
        choose(q, "middle", "the 15th");
        choose(q, "last", "the last day of the month");
    }
}

static void ask_plants(struct asking *a)
{
    ask_wide(a);
    if (a->m->kind == RECORD_PLANTS && !a->m->wide && mapping_column(a->m, "status") == NULL &&
        mapping_fixed_value(a->m, "status") == NULL && a->m->blank_means == NULL) {
        const struct column_use *use =
            mapping_column(a->m, "height_cm") != NULL ? mapping_column(a->m, "height_cm") : mapping_column(a->m, "diameter_mm");
        size_t blanks = 0;
        for (size_t row = a->m->header + 1; use != NULL && row < a->sheet->rows; row++)
            blanks += !row_passed_over(a->sheet, a->m->header, row) && cell_says_nothing(record_sheet_text(a->sheet, row, use->column));
        if (use != NULL) {
            struct question *q = ask(a, "blank_means", blanks > 0, blanks);
            q->words = arena_print(a->arena, "No column says whether a plant lives. What does a blank or NA under %s mean?", use->heading);
            q->evidence = arena_print(a->arena, "%zu rows have no figure there; rows with one are read as alive.", blanks);
            choose(q, "dead_standing", "dead");
            choose(q, "missing", "the plant is gone");
            choose(q, "not_found", "not found");
            choose(q, "not_measured", "not measured; its state is not known");
        }
    }
    if (a->m->wide && a->m->blank_means == NULL) {
        bool status = text_same(a->m->wide_field, "status");
        for (size_t c = 0; c < a->m->n_columns; c++)
            status = status || (a->m->columns[c].census_text != NULL && text_same(a->m->columns[c].field, "status"));
        size_t blanks = 0;
        for (size_t row = a->m->header + 1; !status && row < a->sheet->rows; row++)
            for (size_t c = 0; c < a->m->n_columns && !row_passed_over(a->sheet, a->m->header, row); c++)
                blanks +=
                    a->m->columns[c].census_text != NULL && cell_says_nothing(record_sheet_text(a->sheet, row, a->m->columns[c].column));
        if (!status) {
            char *above = text_fold(lines_above(a), a->arena);
            struct question *q = ask(a, "blank_means", blanks > 0, blanks);
            q->words = "What does a blank or NA in a census column mean?";
            q->evidence =
                arena_print(a->arena, "%zu cells have no figure; a blank before a plant's first figure is read as not there yet.%s", blanks,
                            strstr(above, "na means") != NULL ? " The lines above the headings say what NA means." : "");
            choose(q, "dead_standing", "the plant is dead");
            choose(q, "missing", "the plant is gone");
            choose(q, "not_found", "the plant was not found");
            choose(q, "not_measured", "not measured that time; its state is not known");
            if (strstr(above, "na means") != NULL && (strstr(above, "died") != NULL || strstr(above, "dead") != NULL))
                q->suggestion = "dead_standing";
        }
    }
    bool keyed = mapping_column(a->m, "plot") != NULL || mapping_column(a->m, "tag") != NULL || mapping_fixed_value(a->m, "plot") != NULL;
    if (a->m->kind == RECORD_PLANTS && !keyed) {
        struct question *q = ask(a, "plot", true, rows_below(a));
        q->words = "Which plot are these records from?";
        q->evidence = "No column names a plot or a label.";
        for (size_t i = 0; i < a->ground->n_plots; i++)
            choose(q, a->ground->plots[i].code, a->ground->plots[i].code);
    }
    if (mapping_column(a->m, "diameter_mm") != NULL || text_same(a->m->wide_field, "diameter_mm"))
        if (mapping_column(a->m, "diameter_at") == NULL && mapping_fixed_value(a->m, "diameter_at") == NULL) {
            char *above = lines_above(a);
            struct question *q = ask(a, "diameter_at", false, rows_below(a));
            q->words = "At which height were diameters taken? Diameters taken at different heights are never compared.";
            q->evidence = above[0] == '\0' ? "Neither a heading nor a column says so."
                                           : arena_print(a->arena, "Above the headings stands: %.300s", above);
            choose(q, "root_collar", "at the root collar");
            choose(q, "at_10_cm", "10 cm above the ground");
            choose(q, "breast_height", "at 1.3 m");
            if (strstr(above, "1.3 m") != NULL || strstr(above, "1.3m") != NULL)
                q->suggestion = "breast_height";
        }
}

/* ---- the other kinds ---- */

static void ask_day(struct asking *a)
{
    static const char *const day[RECORD_KINDS] = {"observed_on", "seen_on",   "sampled_on", "day",        "paid_on",
                                                  "done_on",     "worked_on", "seen_on",    "happened_on"};
    const char *field = day[a->m->kind];
    if (a->m->wide || mapping_column(a->m, field) != NULL || mapping_fixed_value(a->m, field) != NULL || a->m->kind == RECORD_WEATHER)
        return;
    bool required = a->m->kind != RECORD_SOIL && a->m->kind != RECORD_COSTS;
    struct question *q = ask(a, field, required, rows_below(a));
    q->words = "On which day were these records made?";
    q->evidence = "No column holds a date.";
}

static void ask_soil(struct asking *a)
{
    if (mapping_column(a->m, "ph") != NULL && mapping_column(a->m, "ph_method") == NULL && mapping_fixed_value(a->m, "ph_method") == NULL) {
        struct question *q = ask(a, "ph_method", true, rows_below(a));
        q->words = "Was pH measured in water or in a salt solution?";
        q->evidence =
            "The heading does not say. In calcium chloride pH reads about half a unit lower than in water; the two are never compared.";
        choose(q, "water", "in water");
        choose(q, "calcium_chloride", "in calcium chloride");
        choose(q, "potassium_chloride", "in potassium chloride");
        choose(q, "unknown", "not known");
    }
    if (mapping_column(a->m, "soc_pct") != NULL && mapping_column(a->m, "carbon_method") == NULL &&
        mapping_fixed_value(a->m, "carbon_method") == NULL) {
        struct question *q = ask(a, "carbon_method", true, rows_below(a));
        q->words = "How was organic carbon found?";
        q->evidence = "No column says so. Loss on ignition is organic matter, not carbon: then the column is loss on ignition.";
        choose(q, "dry_combustion", "by dry combustion");
        choose(q, "wet_oxidation", "by wet oxidation");
        choose(q, "loss_on_ignition", "worked out from loss on ignition");
        choose(q, "unknown", "not known");
    }
}

static void ask_tax(struct asking *a)
{
    if (a->m->tax != NULL || mapping_column(a->m, "tax_pct") != NULL || mapping_fixed_value(a->m, "tax_pct") != NULL)
        return;
    struct question *q = ask(a, "tax", true, rows_below(a));
    q->words = "Are the amounts with or without tax? They are kept without.";
    q->evidence = "Neither a heading nor a column of rates says so.";
    choose(q, "without", "without tax");
    choose(q, "with", "with tax: give the rate as tax_pct");
    choose(q, "mixed", "some with, some without: hold what looks like tax");
}

void mapping_questions(const struct mapping *mapping, const struct record_sheet *sheet, const struct survey_ground *ground,
                       struct arena *arena, struct question **out, size_t *n)
{
    struct asking a = {.m = mapping, .sheet = sheet, .ground = ground, .arena = arena};
    ask_site(&a);
    if (mapping->kind == RECORD_PLANTS)
        ask_plants(&a);
    ask_day(&a);
    ask_dates(&a);
    ask_decimal(&a);
    ask_units(&a);
    ask_words(&a);
    if (mapping->kind == RECORD_SOIL)
        ask_soil(&a);
    if (mapping->kind == RECORD_COSTS)
        ask_tax(&a);
    *out = arena_array(arena, a.n, sizeof **out);
    if (a.n > 0)
        memcpy(*out, a.questions, a.n * sizeof **out);
    *n = a.n;
    free(a.questions);
}
