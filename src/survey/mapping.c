/* SPDX-License-Identifier: GPL-3.0-or-later
 * Guessing what the columns of a table mean. A guess is shown with its reason and can be changed; what cannot be told from
 * the file stays open and becomes a question. */
#include "survey/mapping.h"
#include <ctype.h>
#include <stdlib.h>
#include <string.h>

struct distinct *column_distinct(const struct record_sheet *sheet, size_t header, size_t column, size_t most, struct arena *arena,
                                 size_t *n)
{
    struct distinct *out = NULL;
    size_t room = 0, slots = 1024, count = 0;
    uint32_t *table = memory_get(slots, sizeof *table);
    for (size_t row = header + 1; row < sheet->rows; row++) {
        const struct sheet_cell *cell = record_sheet_at(sheet, row, column);
        if (cell == NULL || cell->text == NULL || text_blank(cell->text) || row_passed_over(sheet, header, row))
            continue;
        uint64_t hash = 1469598103934665603u;
        for (const char *p = cell->text; *p != '\0'; p++)
            hash = (hash ^ (unsigned char)*p) * 1099511628211u;
        size_t at = (size_t)(hash % slots);
        while (table[at] != 0 && strcmp(out[table[at] - 1].text, cell->text) != 0)
            at = (at + 1) % slots;
        if (table[at] != 0) {
            out[table[at] - 1].rows++;
            continue;
        }
        if (count >= most)
            break;
        out = column_room(out, count, &room, sizeof *out);
        out[count++] = (struct distinct){cell->text, cell->kind, 1, row};
        table[at] = (uint32_t)count;
        if (count * 2 < slots)
            continue;
        slots *= 4;
        free(table);
        table = memory_get(slots, sizeof *table);
        for (size_t i = 0; i < count; i++) {
            uint64_t h = 1469598103934665603u;
            for (const char *p = out[i].text; *p != '\0'; p++)
                h = (h ^ (unsigned char)*p) * 1099511628211u;
            size_t s = (size_t)(h % slots);
            while (table[s] != 0)
                s = (s + 1) % slots;
            table[s] = (uint32_t)(i + 1);
        }
    }
    free(table);
    struct distinct *kept = arena_array(arena, count, sizeof *kept);
    if (count > 0)
        memcpy(kept, out, count * sizeof *kept);
    free(out);
    *n = count;
    return kept;
}

bool row_passed_over(const struct record_sheet *sheet, size_t header, size_t row)
{
    bool blank = true, repeated = sheet->widths[row] > 1;
    for (size_t c = 0; c < sheet->widths[row] && (blank || repeated); c++) {
        const char *text = sheet->cells[row][c].text;
        blank = blank && text_blank(text);
        const char *heading = record_sheet_text(sheet, header, c);
        repeated = repeated && (text_blank(text) ? heading == NULL : heading != NULL && strcmp(heading, text) == 0);
    }
    if (blank || repeated)
        return true;
    const char *first = sheet->cells[row][0].text;
    while (first != NULL && isspace((unsigned char)*first))
        first++;
    return first != NULL && first[0] == '#' && strncmp(first, "#N", 2) != 0 && strncmp(first, "#D", 2) != 0;
}

const struct field *mapped_field(enum record_kind kind, const char *name)
{
    const struct field_words *words = field_words_find(kind, name);
    if (words == NULL || words->noun_field == NULL)
        return NULL;
    const struct field *field = noun_field(record_noun(kind), words->noun_field);
    return field == NULL && kind == RECORD_WILDLIFE ? noun_field(NOUN_WILDLIFE_VISIT, words->noun_field) : field;
}

const struct column_use *mapping_column(const struct mapping *mapping, const char *field)
{
    for (size_t i = 0; i < mapping->n_columns; i++)
        if (mapping->columns[i].census_text == NULL && text_same(mapping->columns[i].field, field))
            return &mapping->columns[i];
    return NULL;
}

const char *mapping_fixed_value(const struct mapping *mapping, const char *field)
{
    for (size_t i = 0; i < mapping->n_fixed; i++)
        if (strcmp(mapping->fixed[i].field, field) == 0)
            return mapping->fixed[i].value;
    return NULL;
}

const char *mapping_word_value(const struct mapping *mapping, const char *field, const char *word)
{
    for (size_t i = 0; i < mapping->n_words; i++)
        if (strcmp(mapping->words[i].field, field) == 0 && text_same_nocase(mapping->words[i].from, word))
            return mapping->words[i].to;
    return NULL;
}

void mapping_fix(struct mapping *mapping, const char *field, const char *value, struct arena *arena)
{
    size_t at = 0;
    while (at < mapping->n_fixed && strcmp(mapping->fixed[at].field, field) != 0)
        at++;
    if (at == mapping->n_fixed) {
        struct mapping_fixed *more = arena_array(arena, mapping->n_fixed + 1, sizeof *more);
        if (mapping->n_fixed > 0)
            memcpy(more, mapping->fixed, mapping->n_fixed * sizeof *more);
        mapping->fixed = more;
        mapping->n_fixed++;
    }
    mapping->fixed[at] = (struct mapping_fixed){arena_text(arena, field), arena_text(arena, value)};
}

void mapping_word_add(struct mapping *mapping, const char *field, const char *from, const char *to, struct arena *arena)
{
    for (size_t i = 0; i < mapping->n_words; i++)
        if (strcmp(mapping->words[i].field, field) == 0 && text_same_nocase(mapping->words[i].from, from)) {
            mapping->words[i].to = arena_text(arena, to);
            return;
        }
    if ((mapping->n_words & (mapping->n_words - 1)) == 0) { /* room doubles at powers of two */
        struct mapping_word *more = arena_array(arena, mapping->n_words == 0 ? 1 : mapping->n_words * 2, sizeof *more);
        if (mapping->n_words > 0)
            memcpy(more, mapping->words, mapping->n_words * sizeof *more);
        mapping->words = more;
    }
    mapping->words[mapping->n_words++] = (struct mapping_word){arena_text(arena, field), arena_text(arena, from), arena_text(arena, to)};
}

/* ---- headings ---- */

char *heading_base(const char *heading, const char *want, const char **unit, struct arena *arena)
{
    *unit = NULL;
    const char *known = NULL;
    double factor = 0, offset = 0;
    const char *open = strpbrk(heading, "([{"), *close = open == NULL ? NULL : strpbrk(open, ")]}");
    if (open != NULL && close != NULL) {
        char *inside = text_trim(arena, arena_text_n(arena, open + 1, (size_t)(close - open) - 1));
        char *outside = arena_print(arena, "%.*s %s", (int)(open - heading), heading, close + 1);
        if (want[0] != '\0' && unit_find(want, inside, &known, &factor, &offset)) {
            *unit = known;
            return text_fold(outside, arena);
        }
        return text_fold(outside, arena);
    }
    char *copy = text_trim(arena, heading);
    size_t n = strlen(copy), at = n;
    while (at > 0 && strchr(" _,;:", copy[at - 1]) == NULL)
        at--;
    if (at > 0 && want[0] != '\0' && unit_find(want, copy + at, &known, &factor, &offset)) {
        copy[at - 1] = '\0';
        *unit = known;
        char *base = text_fold(copy, arena);
        size_t m = strlen(base);
        if (m > 3 && strcmp(base + m - 3, " in") == 0)
            base[m - 3] = '\0';
        return base;
    }
    return text_fold(copy, arena);
}

/* A census in a heading: all of it ("Feb14", "2023-09-12"), or its end ("height 2023", "Hoehe_Sep22"). *base is what stands
 * before it, folded; NULL where nothing does. */
static const char *heading_census(const char *heading, const char **base, struct arena *arena)
{
    char *copy = text_trim(arena, heading);
    char *open = strpbrk(copy, "([");
    const char *close = open == NULL ? NULL : strpbrk(open, ")]"), *unit = NULL;
    double factor = 0, offset = 0;
    *base = NULL;
    if (close != NULL &&
        unit_find("cm", text_trim(arena, arena_text_n(arena, open + 1, (size_t)(close - open) - 1)), &unit, &factor, &offset)) {
        memset(open, ' ', (size_t)(close - open) + 1); /* "height 2023 (cm)" ends with its year */
        copy = text_trim(arena, copy);
    }
    if (survey_date(copy, DATE_ORDER_UNKNOWN).reading != DATE_NOT)
        return copy;
    const char *last = copy + strlen(copy);
    for (const char *p = copy; *p != '\0'; p++) { /* the longest end that is a date or a year */
        if (p != copy && strchr(" _(-", p[-1]) == NULL)
            continue;
        const char *end = last;
        if (end > p && end[-1] == ')')
            end--;
        char *tail = text_trim(arena, arena_text_n(arena, p, (size_t)(end - p)));
        bool year = strlen(tail) == 4 && strspn(tail, "0123456789") == 4 && strcmp(tail, "1950") >= 0 && strcmp(tail, "2100") <= 0;
        if (!year && survey_date(tail, DATE_ORDER_UNKNOWN).reading == DATE_NOT)
            continue;
        char *front = text_fold(arena_text_n(arena, copy, (size_t)(p - copy)), arena);
        *base = front[0] == '\0' ? NULL : front;
        return tail;
    }
    return NULL;
}

static bool measured_field(const char *name)
{
    return strcmp(name, "height_cm") == 0 || strcmp(name, "diameter_mm") == 0 || strcmp(name, "status") == 0 ||
           strcmp(name, "crown_cm") == 0;
}

struct guess {
    size_t column;
    const struct field_words *words;
    int score;
    const char *unit;
};

static int guess_better(const void *a, const void *b)
{
    const struct guess *x = a, *y = b;
    if (x->score != y->score)
        return y->score - x->score;
    if (x->column != y->column)
        return x->column < y->column ? -1 : 1;
    return x->words < y->words ? -1 : x->words > y->words;
}

/* Every field a heading may name, best first; returns how many. */
static size_t heading_guesses(const char *heading, size_t column, enum record_kind kind, struct guess *out, size_t room,
                              struct arena *arena)
{
    size_t n = 0;
    for (size_t i = 0; i < n_import_field_words && n < room; i++) {
        const struct field_words *words = &import_field_words[i];
        if ((words->kinds & (1u << kind)) == 0)
            continue;
        const char *unit = NULL;
        char *base = heading_base(heading, words->field.unit, &unit, arena);
        int score = heading_score(words, text_fold(heading, arena));
        int stripped = heading_score(words, base);
        if (unit != NULL)
            stripped += 5;
        if (score == 110 && unit == NULL && words->field.unit[0] != '\0')
            unit = words->field.unit;
        score = stripped > score ? stripped : score;
        if (score >= 45)
            out[n++] = (struct guess){column, words, score, unit};
    }
    return n;
}

enum { MOST_GUESSES = 4000, HEADER_LOOK = 60 };

/* How many cells of a row look like headings of this kind. */
static int header_score(const struct record_sheet *sheet, size_t row, enum record_kind kind, struct arena *arena)
{
    int score = 0;
    for (size_t c = 0; c < sheet->widths[row] && c < 400; c++) {
        const struct sheet_cell *cell = &sheet->cells[row][c];
        struct guess guesses[64];
        const char *base = NULL;
        if (cell->kind != SHEET_TEXT || strlen(cell->text) > 60)
            continue;
        if (heading_guesses(cell->text, c, kind, guesses, 64, arena) > 0)
            score += 2;
        else if (heading_census(cell->text, &base, arena) != NULL)
            score += base == NULL && row + 1 < sheet->rows && record_sheet_at(sheet, row + 1, c) != NULL &&
                             record_sheet_at(sheet, row + 1, c)->kind == SHEET_TEXT
                         ? 0
                         : 1;
    }
    return score;
}

static size_t header_find(const struct record_sheet *sheet, enum record_kind kind, struct arena *arena, int *best_score)
{
    size_t best = SIZE_MAX;
    *best_score = 0;
    for (size_t row = 0; row < sheet->rows && row < HEADER_LOOK; row++) {
        const char *first = record_sheet_text(sheet, row, 0);
        if (first != NULL && first[0] == '#' && sheet->widths[row] > 0 && strchr(first, ' ') != NULL)
            continue;
        int score = header_score(sheet, row, kind, arena);
        if (score > *best_score) {
            *best_score = score;
            best = row;
        }
    }
    for (size_t row = 0; best == SIZE_MAX && row < sheet->rows; row++)
        if (!row_passed_over(sheet, SIZE_MAX, row))
            best = row;
    return best;
}

int record_kind_guess(const struct record_sheet *sheet)
{
    struct arena arena = {0};
    int best = -1, most = 3;
    for (int kind = 0; kind < RECORD_KINDS; kind++) {
        int score = 0;
        header_find(sheet, (enum record_kind)kind, &arena, &score);
        if (score > most) {
            most = score;
            best = kind;
        }
    }
    arena_clear(&arena);
    return best;
}

/* ---- what the values tell ---- */

static const char *const date_fields[] = {"observed_on", "seen_on", "sampled_on", "day", "paid_on", "done_on", "worked_on", "happened_on"};

static void guess_dates(struct mapping *m, const struct record_sheet *sheet, struct arena *arena)
{
    size_t day_first = 0, month_first = 0;
    for (size_t f = 0; f < sizeof date_fields / sizeof *date_fields; f++) {
        const struct column_use *use = mapping_column(m, date_fields[f]);
        size_t n = 0;
        struct distinct *values = use == NULL ? NULL : column_distinct(sheet, m->header, use->column, 100000, arena, &n);
        for (size_t i = 0; i < n; i++) {
            if (survey_date(values[i].text, DATE_ORDER_UNKNOWN).reading != DATE_CLEAR)
                continue;
            bool dmy = survey_date(values[i].text, DATE_DMY).reading == DATE_CLEAR,
                 mdy = survey_date(values[i].text, DATE_MDY).reading == DATE_CLEAR;
            day_first += dmy && !mdy ? values[i].rows : 0;
            month_first += mdy && !dmy ? values[i].rows : 0;
        }
    }
    if (day_first > 0 && month_first == 0)
        m->dates = DATE_DMY;
    else if (month_first > 0 && day_first == 0)
        m->dates = DATE_MDY;
}

static bool column_has_numbers(const struct mapping *m, const struct column_use *use)
{
    const char *name = use->field != NULL ? use->field : m->wide_field;
    if (use->census_text != NULL && name == NULL)
        return true;
    const struct field *field = name == NULL ? NULL : mapped_field(m->kind, name);
    return (field != NULL && (field->kind == FIELD_REAL || field->kind == FIELD_INT)) ||
           (name != NULL && (strcmp(name, "latitude") == 0 || strcmp(name, "longitude") == 0));
}

static void guess_decimal(struct mapping *m, const struct record_sheet *sheet, struct arena *arena)
{
    size_t points = 0, commas = 0, groups = 0;
    for (size_t c = 0; c < m->n_columns; c++) {
        size_t n = 0;
        struct distinct *values =
            column_has_numbers(m, &m->columns[c]) ? column_distinct(sheet, m->header, m->columns[c].column, 100000, arena, &n) : NULL;
        for (size_t i = 0; i < n; i++) {
            if (sheet->delimiter == 0 && values[i].kind == SHEET_NUMBER)
                continue; /* a spreadsheet's own number needs no mark */
            char mark = number_mark(values[i].text);
            points += mark == '.' ? values[i].rows : 0;
            commas += mark == ',' ? values[i].rows : 0;
            groups += mark == 't' ? values[i].rows : 0;
        }
    }
    if (points > 0 && commas == 0)
        m->decimal = '.';
    else if (commas > 0 && points == 0)
        m->decimal = ',';
    else if (points == 0 && commas == 0 && groups == 0)
        m->decimal = '.'; /* no mark occurs: nothing to decide */
}

static void guess_words(struct mapping *m, const struct record_sheet *sheet, struct arena *arena)
{
    for (size_t c = 0; c < m->n_columns; c++) {
        const struct column_use *use = &m->columns[c];
        const struct field *field = use->field == NULL ? NULL : mapped_field(m->kind, use->field);
        if (field == NULL || field->kind != FIELD_ENUM)
            continue;
        size_t n = 0;
        struct distinct *values = column_distinct(sheet, m->header, use->column, 500, arena, &n);
        char *heading = text_fold(use->heading, arena);
        for (size_t i = 0; i < n; i++) {
            if (cell_says_nothing(values[i].text))
                continue;
            int value = cell_word_find((enum word_list)field->words, text_fold(values[i].text, arena), heading);
            if (value > 0)
                mapping_word_add(m, use->field, text_trim(arena, values[i].text), word_of((enum word_list)field->words, value), arena);
        }
    }
}

/* What a heading says beyond its field: pH in calcium chloride, diameter at breast height, amounts with tax. */
static void guess_from_headings(struct mapping *m, struct arena *arena)
{
    for (size_t c = 0; c < m->n_columns; c++) {
        const struct column_use *use = &m->columns[c];
        if (use->field == NULL)
            continue;
        char *h = arena_print(arena, " %s ", text_fold(use->heading, arena));
        if (strcmp(use->field, "ph") == 0 && mapping_column(m, "ph_method") == NULL) {
            if (strstr(h, "cacl2") != NULL || strstr(h, "calcium") != NULL)
                mapping_fix(m, "ph_method", "calcium_chloride", arena);
            else if (strstr(h, "kcl") != NULL)
                mapping_fix(m, "ph_method", "potassium_chloride", arena);
            else if (strstr(h, "h2o") != NULL || strstr(h, " water ") != NULL || strstr(h, " eau ") != NULL ||
                     strstr(h, " wasser ") != NULL)
                mapping_fix(m, "ph_method", "water", arena);
        }
        if (strcmp(use->field, "diameter_mm") == 0 && mapping_column(m, "diameter_at") == NULL) {
            if (strstr(h, " dbh ") != NULL || strstr(h, " bhd ") != NULL || strstr(h, " dhp ") != NULL)
                mapping_fix(m, "diameter_at", "breast_height", arena);
            else if (strstr(h, "collar") != NULL || strstr(h, " rcd ") != NULL || strstr(h, "collet") != NULL ||
                     strstr(h, "wurzelhals") != NULL || strstr(h, "wortelhals") != NULL || strstr(h, " whd ") != NULL)
                mapping_fix(m, "diameter_at", "root_collar", arena);
        }
        if (strcmp(use->field, "amount") == 0 || strcmp(use->field, "unit_price") == 0) {
            if (strstr(h, "incl") != NULL || strstr(h, " ttc ") != NULL || strstr(h, "brutto") != NULL || strstr(h, "gross") != NULL)
                m->tax = "with";
            else if (strstr(h, "excl") != NULL || strstr(h, " ht ") != NULL || strstr(h, "netto") != NULL || strstr(h, " net ") != NULL ||
                     strstr(h, "ex vat") != NULL)
                m->tax = "without";
        }
    }
}

/* Census columns: those whose heading is or ends with a date. */
static void guess_census(struct mapping *m, const struct record_sheet *sheet, struct arena *arena)
{
    size_t found = 0, plain = 0;
    for (size_t c = 0; c < m->n_columns; c++) {
        struct column_use *use = &m->columns[c];
        const char *base = NULL, *census = use->heading == NULL ? NULL : heading_census(use->heading, &base, arena);
        if (census == NULL)
            continue;
        const char *field = NULL, *unit = NULL;
        if (base != NULL) {
            struct guess guesses[64];
            size_t n = heading_guesses(base, use->column, m->kind, guesses, 64, arena);
            qsort(guesses, n, sizeof *guesses, guess_better);
            if (n == 0 || guesses[0].score < 60 || !measured_field(guesses[0].words->field.name))
                continue;
            field = guesses[0].words->field.name;
            heading_base(use->heading, guesses[0].words->field.unit, &unit, arena);
            unit = unit != NULL ? unit : guesses[0].unit;
        }
        use->field = field;
        use->unit = unit;
        use->census_text = census;
        use->because = "the heading is a date: one column per census";
        found++;
        plain += field == NULL;
    }
    (void)sheet;
    m->wide = found > 0;
    if (plain == 1 && found == 1) { /* one lone date says nothing about a wide table */
        for (size_t c = 0; c < m->n_columns; c++)
            if (m->columns[c].census_text != NULL)
                m->columns[c] = (struct column_use){.column = m->columns[c].column,
                                                    .heading = m->columns[c].heading,
                                                    .unit = "",
                                                    .census = DATE_UNKNOWN,
                                                    .census_end = DATE_UNKNOWN,
                                                    .because = ""};
        m->wide = false;
    }
}

enum outcome mapping_guess(const struct record_sheet *sheet, enum record_kind kind, const struct survey_ground *ground, struct arena *arena,
                           struct mapping *out, struct failure *why)
{
    (void)ground;
    int score = 0;
    size_t header = header_find(sheet, kind, arena, &score);
    if (header == SIZE_MAX) {
        fail(why, OUTCOME_DATA, sheet->name[0] == '\0' ? "The file holds no table." : "The sheet %s is empty.", sheet->name);
        failure_at(why, sheet->file, 0, NULL);
        return failure_remedy(why, "Choose the sheet that holds the records.");
    }
    struct mapping m = {.kind = kind, .sheet = sheet->name, .header = header};
    m.n_columns = sheet->widths[header];
    for (size_t row = header + 1; row < sheet->rows && row < header + 200; row++)
        if (sheet->widths[row] > m.n_columns && !row_passed_over(sheet, header, row))
            m.n_columns = sheet->widths[row];
    m.columns = arena_array(arena, m.n_columns, sizeof *m.columns);
    struct guess *guesses = arena_array(arena, MOST_GUESSES, sizeof *guesses);
    size_t n = 0;
    for (size_t c = 0; c < m.n_columns; c++) {
        const char *heading = record_sheet_text(sheet, header, c);
        m.columns[c] = (struct column_use){
            .column = c, .heading = heading, .unit = "", .census = DATE_UNKNOWN, .census_end = DATE_UNKNOWN, .because = ""};
        if (heading != NULL && n + 64 < MOST_GUESSES && strlen(heading) < 200)
            n += heading_guesses(heading, c, kind, guesses + n, 64, arena);
    }
    if (kind == RECORD_PLANTS)
        guess_census(&m, sheet, arena);
    qsort(guesses, n, sizeof *guesses, guess_better);
    for (size_t i = 0; i < n; i++) {
        struct column_use *use = &m.columns[guesses[i].column];
        if (use->field != NULL || use->census_text != NULL || mapping_column(&m, guesses[i].words->field.name) != NULL)
            continue;
        use->field = guesses[i].words->field.name;
        use->unit = guesses[i].unit != NULL ? guesses[i].unit : "";
        use->because = guesses[i].score >= 100 ? "the heading names it" : "the heading sounds like it";
    }
    if (m.wide && mapping_column(&m, "observed_on") != NULL)
        m.wide = true;
    guess_dates(&m, sheet, arena);
    guess_decimal(&m, sheet, arena);
    guess_words(&m, sheet, arena);
    guess_from_headings(&m, arena);
    mapping_resolve(&m);
    *out = m;
    return OUTCOME_OK;
}

void mapping_resolve(struct mapping *m)
{
    for (size_t c = 0; c < m->n_columns; c++) {
        struct column_use *use = &m->columns[c];
        use->census = use->census_end = DATE_UNKNOWN;
        if (use->census_text == NULL)
            continue;
        const char *told = mapping_word_value(m, "census", use->census_text);
        struct date_read read = survey_date(told == NULL ? use->census_text : told, m->dates);
        if (read.reading == DATE_CLEAR) {
            use->census = use->census_end = read.date;
        } else if (read.reading == DATE_MONTH) {
            int32_t last = date_add_months(read.date, 1) - 1;
            if (text_same(m->census_day, "first"))
                use->census = use->census_end = read.date;
            else if (text_same(m->census_day, "middle"))
                use->census = use->census_end = read.date + 14;
            else if (text_same(m->census_day, "last"))
                use->census = use->census_end = last;
        }
    }
}
