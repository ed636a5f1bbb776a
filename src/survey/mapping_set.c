/* SPDX-License-Identifier: GPL-3.0-or-later
 * Changing a mapping by options and answers, and keeping it as JSON. */
#include "survey/mapping.h"
#include <string.h>
#include <strings.h>

static enum outcome no_field(const struct mapping *m, const char *name, struct failure *why)
{
    struct arena arena = {0};
    struct text list = {0};
    size_t n = 0;
    const struct import_field *fields = import_fields(m->kind, &arena, &n);
    for (size_t i = 0; i < n; i++)
        text_print(&list, "%s%s", i == 0 ? "" : ", ", fields[i].name);
    fail(why, OUTCOME_USAGE, "There is no field %s for %s records.", name, record_kind_word(m->kind));
    failure_remedy(why, "The fields are: %s.", text_get(&list));
    text_free(&list);
    arena_clear(&arena);
    return OUTCOME_USAGE;
}

static struct column_use *column_headed(struct mapping *m, const char *heading)
{
    for (size_t i = 0; i < m->n_columns; i++)
        if (text_same(m->columns[i].heading, heading))
            return &m->columns[i];
    for (size_t i = 0; i < m->n_columns; i++)
        if (m->columns[i].heading != NULL && text_same_nocase(m->columns[i].heading, heading))
            return &m->columns[i];
    int64_t number = 0;
    if (heading[0] == '#' && integer_read(heading + 1, &number) && number >= 1 && (size_t)number <= m->n_columns)
        return &m->columns[number - 1];
    return NULL;
}

static void let_go(struct mapping *m, const char *field)
{
    for (size_t i = 0; i < m->n_columns; i++)
        if (m->columns[i].census_text == NULL && text_same(m->columns[i].field, field)) {
            m->columns[i].field = NULL;
            m->columns[i].because = "left out";
        }
}

enum outcome mapping_set(struct mapping *mapping, const struct record_sheet *sheet, const char *option, struct arena *arena,
                         struct failure *why)
{
    const char *equals = strchr(option, '=');
    if (equals == NULL || equals == option) {
        fail(why, OUTCOME_USAGE, "“%s” does not say which column fills which field.", option);
        return failure_remedy(
            why, "Write for example height_cm=Höhe, height_cm=\"Höhe [mm]\", plot:=D1 for all rows, or note= to leave it out.");
    }
    bool fixed = equals[-1] == ':';
    char *name = arena_text_n(arena, option, (size_t)(equals - option) - fixed);
    char *value = text_trim(arena, equals + 1);
    const struct field_words *words = field_words_find(mapping->kind, name);
    if (words == NULL)
        return no_field(mapping, name, why);
    if (fixed) {
        let_go(mapping, words->field.name);
        mapping_fix(mapping, name, value, arena);
        return OUTCOME_OK;
    }
    if (value[0] == '\0') {
        let_go(mapping, words->field.name);
        return OUTCOME_OK;
    }
    const char *unit = NULL, *known = NULL;
    double factor = 0, offset = 0;
    struct column_use *use = column_headed(mapping, value);
    char *open = strrchr(value, '[');
    size_t n = strlen(value);
    if (use == NULL && open != NULL && n > 0 && value[n - 1] == ']') { /* a unit given behind the heading */
        char *inside = arena_text_n(arena, open + 1, n - (size_t)(open - value) - 2);
        if (!unit_find(words->field.unit, inside, &known, &factor, &offset)) {
            fail(why, OUTCOME_USAGE, "“%s” is not a unit that %s can be read in.", inside, name);
            return failure_remedy(why, "It is kept in %s.", words->field.unit[0] == '\0' ? "no unit" : words->field.unit);
        }
        *open = '\0';
        unit = known;
        use = column_headed(mapping, text_trim(arena, value));
    }
    if (use == NULL) {
        fail(why, OUTCOME_USAGE, "There is no column headed “%s”.", value);
        failure_at(why, sheet->file, sheet->rows > mapping->header ? sheet->lines[mapping->header] : 0, NULL);
        return failure_remedy(why, "Give the heading as it stands in the file, or #3 for the third column.");
    }
    let_go(mapping, words->field.name);
    if (unit == NULL && use->heading != NULL) {
        heading_base(use->heading, words->field.unit, &unit, arena);
    }
    use->field = words->field.name;
    use->unit = unit == NULL ? "" : unit;
    use->census_text = NULL;
    use->because = "you said so";
    /* the words of its cells are looked at again */
    const struct field *field = mapped_field(mapping->kind, name);
    if (field != NULL && field->kind == FIELD_ENUM) {
        size_t count = 0;
        struct distinct *values = column_distinct(sheet, mapping->header, use->column, 500, arena, &count);
        for (size_t i = 0; i < count; i++) {
            int meant = cell_says_nothing(values[i].text) ? -1
                                                          : cell_word_find((enum word_list)field->words, text_fold(values[i].text, arena),
                                                                           use->heading == NULL ? NULL : text_fold(use->heading, arena));
            if (meant > 0)
                mapping_word_add(mapping, name, text_trim(arena, values[i].text), word_of((enum word_list)field->words, meant), arena);
        }
    }
    return OUTCOME_OK;
}

static enum outcome one_of(const char *value, const char *list, const char *id, struct failure *why)
{
    size_t n = strlen(value);
    for (const char *p = list; *p != '\0';) {
        const char *end = strchr(p, '|');
        size_t m = end == NULL ? strlen(p) : (size_t)(end - p);
        if (m == n && strncmp(p, value, n) == 0)
            return OUTCOME_OK;
        p = end == NULL ? p + m : end + 1;
    }
    fail(why, OUTCOME_USAGE, "“%s” is no answer to %s.", value, id);
    return failure_remedy(why, "Answer one of: %s.", list);
}

static enum outcome answer_word(struct mapping *m, const char *id, const char *value, struct arena *arena, struct failure *why)
{
    const char *name = id + strlen("word:"), *colon = strchr(name, ':');
    if (colon == NULL)
        return fail(why, OUTCOME_USAGE, "“%s” names no word.", id);
    char *field_name = arena_text_n(arena, name, (size_t)(colon - name));
    const struct field_words *words = field_words_find(m->kind, field_name);
    if (words == NULL)
        return no_field(m, field_name, why);
    const struct field *field = mapped_field(m->kind, field_name);
    if (field != NULL && field->kind == FIELD_ENUM && strcmp(value, "unknown") != 0 &&
        word_find((enum word_list)field->words, value) <= 0) {
        struct text list = {0};
        for (int i = 1; i < words_of[field->words].n; i++)
            text_print(&list, "%s%s", i == 1 ? "" : ", ", words_of[field->words].word[i]);
        fail(why, OUTCOME_USAGE, "“%s” is not a word of the list.", value);
        failure_remedy(why, "Answer one of: %s, or unknown.", text_get(&list));
        text_free(&list);
        return OUTCOME_USAGE;
    }
    mapping_word_add(m, field_name, colon + 1, value, arena);
    return OUTCOME_OK;
}

static enum outcome answer_unit(struct mapping *m, const char *name, const char *value, struct arena *arena, struct failure *why)
{
    const struct field_words *words = field_words_find(m->kind, name);
    if (words == NULL)
        return no_field(m, name, why);
    const char *unit = NULL;
    double factor = 0, offset = 0;
    if (!unit_find(words->field.unit, value, &unit, &factor, &offset)) {
        fail(why, OUTCOME_USAGE, "“%s” is not a unit that %s can be read in.", value, name);
        return failure_remedy(why, "Answer one of: %s.",
                              unit_choices(words->field.unit, name) == NULL ? words->field.unit : unit_choices(words->field.unit, name));
    }
    for (size_t i = 0; i < m->n_columns; i++)
        if (text_same(m->columns[i].field, words->field.name)) {
            m->columns[i].unit = unit;
            m->columns[i].because = "you said so";
        }
    mapping_word_add(m, "unit_told", name, "yes", arena);
    return OUTCOME_OK;
}

enum outcome mapping_answer(struct mapping *mapping, const char *id, const char *value, struct arena *arena, struct failure *why)
{
    struct mapping m = *mapping;
    enum outcome outcome = OUTCOME_OK;
    value = text_trim(arena, value);
    if (strcmp(id, "dates") == 0) {
        outcome = one_of(value, "dmy|mdy|ymd", id, why);
        m.dates = strcmp(value, "dmy") == 0 ? DATE_DMY : strcmp(value, "mdy") == 0 ? DATE_MDY : DATE_YMD;
    } else if (strcmp(id, "decimal") == 0) {
        outcome = one_of(value, "point|comma|both", id, why);
        m.decimal = strcmp(value, "point") == 0 ? '.' : strcmp(value, "comma") == 0 ? ',' : 'b';
    } else if (strncmp(id, "unit:", 5) == 0) {
        outcome = answer_unit(&m, id + 5, value, arena, why);
    } else if (strncmp(id, "word:", 5) == 0) {
        outcome = answer_word(&m, id, value, arena, why);
    } else if (strcmp(id, "wide_field") == 0) {
        outcome = one_of(value, "height_cm|diameter_mm|status|crown_cm", id, why);
        m.wide_field = arena_text(arena, value);
    } else if (strcmp(id, "wide_unit") == 0) {
        outcome = one_of(value, "mm|cm|m", id, why);
        m.wide_unit = arena_text(arena, value);
    } else if (strcmp(id, "census_day") == 0) {
        outcome = one_of(value, "first|middle|last", id, why);
        m.census_day = arena_text(arena, value);
    } else if (strncmp(id, "census:", 7) == 0) {
        struct date_read read = survey_date(value, m.dates);
        if (read.reading != DATE_CLEAR) {
            fail(why, OUTCOME_USAGE, "“%s” is not a day.", value);
            return failure_remedy(why, "Write it as 2023-09-14.");
        }
        mapping_word_add(&m, "census", id + 7, value, arena);
    } else if (strcmp(id, "blank_means") == 0) {
        outcome = one_of(value, "dead_standing|missing|not_found|not_measured", id, why);
        m.blank_means = arena_text(arena, value);
    } else if (strcmp(id, "new_plants") == 0) {
        outcome = one_of(value, "make|replacements|hold", id, why);
        m.new_plants = arena_text(arena, value);
    } else if (strcmp(id, "labels") == 0) {
        outcome = one_of(value, "plot|site", id, why);
        m.labels = arena_text(arena, value);
    } else if (strcmp(id, "tax") == 0) {
        outcome = one_of(value, "with|without|mixed", id, why);
        m.tax = arena_text(arena, value);
    } else {
        const struct field_words *words = field_words_find(m.kind, id);
        if (words == NULL)
            return no_field(&m, id, why);
        mapping_fix(&m, id, value, arena);
    }
    if (outcome != OUTCOME_OK)
        return outcome;
    mapping_resolve(&m);
    *mapping = m;
    return OUTCOME_OK;
}

/* ---- JSON ---- */

static void put(json_t *object, const char *name, const char *value)
{
    if (value != NULL && value[0] != '\0')
        json_object_set_new(object, name, json_string(value));
}

json_t *mapping_json(const struct mapping *m)
{
    json_t *json = json_object();
    put(json, "kind", record_kind_word(m->kind));
    put(json, "sheet", m->sheet);
    json_object_set_new(json, "header", json_integer((json_int_t)m->header + 1));
    json_t *columns = json_array();
    for (size_t i = 0; i < m->n_columns; i++) {
        const struct column_use *use = &m->columns[i];
        json_t *column = json_object();
        json_object_set_new(column, "column", json_integer((json_int_t)use->column + 1));
        put(column, "heading", use->heading);
        put(column, "field", use->field);
        put(column, "unit", use->unit);
        put(column, "census", use->census_text);
        put(column, "because", use->because);
        json_array_append_new(columns, column);
    }
    json_object_set_new(json, "columns", columns);
    put(json, "dates", m->dates == DATE_DMY ? "dmy" : m->dates == DATE_MDY ? "mdy" : m->dates == DATE_YMD ? "ymd" : NULL);
    put(json, "decimal", m->decimal == '.' ? "point" : m->decimal == ',' ? "comma" : m->decimal == 'b' ? "both" : NULL);
    put(json, "wide_field", m->wide_field);
    put(json, "wide_unit", m->wide_unit);
    put(json, "census_day", m->census_day);
    put(json, "blank_means", m->blank_means);
    put(json, "new_plants", m->new_plants);
    put(json, "labels", m->labels);
    put(json, "tax", m->tax);
    json_t *fixed = json_object(), *words = json_array();
    for (size_t i = 0; i < m->n_fixed; i++)
        put(fixed, m->fixed[i].field, m->fixed[i].value);
    for (size_t i = 0; i < m->n_words; i++)
        json_array_append_new(words,
                              json_pack("{s:s, s:s, s:s}", "field", m->words[i].field, "from", m->words[i].from, "to", m->words[i].to));
    json_object_set_new(json, "fixed", fixed);
    json_object_set_new(json, "words", words);
    return json;
}

static const char *get(const json_t *json, const char *name)
{
    return json_string_value(json_object_get(json, name));
}

static enum outcome columns_from_json(struct mapping *m, const json_t *columns, const struct record_sheet *sheet, struct arena *arena,
                                      struct failure *why)
{
    size_t width = sheet->widths[m->header], i = 0;
    json_t *column = NULL;
    json_array_foreach(columns, i, column)
    {
        json_int_t number = json_integer_value(json_object_get(column, "column"));
        if (number > 0 && number <= MOST_REMEDIES + 4096 && (size_t)number > width)
            width = (size_t)number;
    }
    m->n_columns = width;
    m->columns = arena_array(arena, width, sizeof *m->columns);
    for (size_t c = 0; c < width; c++)
        m->columns[c] = (struct column_use){.column = c,
                                            .heading = record_sheet_text(sheet, m->header, c),
                                            .unit = "",
                                            .census = DATE_UNKNOWN,
                                            .census_end = DATE_UNKNOWN,
                                            .because = ""};
    json_array_foreach(columns, i, column)
    {
        const char *heading = get(column, "heading"), *name = get(column, "field"), *unit = get(column, "unit"),
                   *census = get(column, "census");
        json_int_t number = json_integer_value(json_object_get(column, "column"));
        struct column_use *use = heading == NULL ? NULL : column_headed(m, heading);
        if (number > 0 && (size_t)number <= width && (use == NULL ? heading == NULL : text_same(m->columns[number - 1].heading, heading)))
            use = &m->columns[number - 1];
        if (name == NULL && census == NULL)
            continue;
        const struct field_words *words = name == NULL ? NULL : field_words_find(m->kind, name);
        if (name != NULL && words == NULL)
            return no_field(m, name, why);
        if (use == NULL) {
            fail(why, OUTCOME_DATA, "The mapping names a column “%s” that the file does not have.", heading == NULL ? "" : heading);
            failure_at(why, sheet->file, 0, heading);
            return failure_remedy(why, "Take that column out of the mapping, or choose the file it was made for.");
        }
        const char *known = "";
        double factor = 0, offset = 0;
        const char *want = words != NULL ? words->field.unit : "cm";
        if (unit != NULL && !unit_find(want, unit, &known, &factor, &offset)) {
            fail(why, OUTCOME_DATA, "The mapping gives the unit “%s”, in which %s cannot be read.", unit,
                 name == NULL ? "the column" : name);
            return failure_at(why, sheet->file, 0, use->heading);
        }
        use->field = words == NULL ? NULL : words->field.name;
        use->unit = known;
        use->census_text = arena_text(arena, census);
        use->because = get(column, "because") == NULL ? "the mapping says so" : arena_text(arena, get(column, "because"));
        m->wide = m->wide || census != NULL;
    }
    return OUTCOME_OK;
}

enum outcome mapping_from_json(const json_t *json, const struct record_sheet *sheet, struct arena *arena, struct mapping *out,
                               struct failure *why)
{
    static const char *const members[] = {"kind",       "sheet",      "header",    "columns",    "dates",
                                          "decimal",    "wide_field", "wide_unit", "census_day", "blank_means",
                                          "new_plants", "labels",     "tax",       "fixed",      "words"};
    static const char *const answers[] = {"dates",       "decimal",    "wide_field", "wide_unit", "census_day",
                                          "blank_means", "new_plants", "labels",     "tax"};
    if (!json_is_object(json))
        return fail(why, OUTCOME_DATA, "The mapping is not a JSON object.");
    const char *key = NULL;
    json_t *value = NULL;
    json_object_foreach((json_t *)(uintptr_t)json, key, value)
    {
        bool known = false;
        for (size_t i = 0; i < sizeof members / sizeof *members; i++)
            known = known || strcmp(members[i], key) == 0;
        if (!known)
            return fail(why, OUTCOME_DATA, "The mapping has a member “%s” that means nothing here.", key);
    }
    int kind = get(json, "kind") == NULL ? -1 : record_kind_find(get(json, "kind"));
    if (kind < 0)
        return fail(why, OUTCOME_DATA, "The mapping does not say which kind of records the file holds.");
    json_int_t header = json_integer_value(json_object_get(json, "header"));
    if (header < 1 || (size_t)header > sheet->rows) {
        fail(why, OUTCOME_DATA, "The mapping's row of headings is not in the file.");
        return failure_at(why, sheet->file, 0, NULL);
    }
    struct mapping m = {.kind = (enum record_kind)kind, .sheet = sheet->name, .header = (size_t)header - 1};
    enum outcome outcome = columns_from_json(&m, json_object_get(json, "columns"), sheet, arena, why);
    for (size_t i = 0; i < sizeof answers / sizeof *answers && outcome == OUTCOME_OK; i++)
        if (get(json, answers[i]) != NULL)
            outcome = mapping_answer(&m, answers[i], get(json, answers[i]), arena, why);
    json_object_foreach(json_object_get(json, "fixed"), key, value)
    {
        if (outcome == OUTCOME_OK && field_words_find(m.kind, key) == NULL)
            outcome = no_field(&m, key, why);
        if (outcome == OUTCOME_OK && json_is_string(value))
            mapping_fix(&m, key, json_string_value(value), arena);
    }
    size_t i = 0;
    json_array_foreach(json_object_get(json, "words"), i, value)
    {
        const char *field = get(value, "field"), *from = get(value, "from"), *to = get(value, "to");
        if (outcome == OUTCOME_OK && field != NULL && from != NULL && to != NULL)
            mapping_word_add(&m, field, from, to, arena);
    }
    if (outcome != OUTCOME_OK)
        return outcome;
    mapping_resolve(&m);
    *out = m;
    return OUTCOME_OK;
}
