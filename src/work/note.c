/* SPDX-License-Identifier: GPL-3.0-or-later
 * Making notes and printing them as plain text. */
#include "work/note.h"
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <utf8proc.h>

static json_t *printed(const char *format, va_list list)
{
    va_list again;
    va_copy(again, list);
    int n = vsnprintf(NULL, 0, format, list);
    require(n >= 0);
    char *text = memory_get((size_t)n + 1, 1);
    vsnprintf(text, (size_t)n + 1, format, again);
    va_end(again);
    json_t *out = json_string(text);
    if (out == NULL) /* bytes that are not UTF-8 came from outside: show them as such */
        out = json_string("(text that is not UTF-8)");
    free(text);
    return out;
}

static json_t *list_in(json_t *object, const char *key)
{
    json_t *list = json_object_get(object, key);
    if (list == NULL) {
        list = json_array();
        json_object_set_new(object, key, list);
    }
    return list;
}

json_t *note_new(void)
{
    return json_object();
}

void note_answer(json_t *note, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    json_object_set_new(note, "answer", printed(format, list));
    va_end(list);
}

json_t *note_section(json_t *note, const char *title)
{
    json_t *section = json_object();
    json_object_set_new(section, "title", json_string(title));
    json_array_append_new(list_in(note, "sections"), section);
    return section;
}

void section_text(json_t *section, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    json_object_set_new(section, "text", printed(format, list));
    va_end(list);
}

json_t *section_table(json_t *section)
{
    json_t *table = json_object();
    json_object_set_new(table, "columns", json_array());
    json_object_set_new(table, "rows", json_array());
    json_object_set_new(section, "table", table);
    return table;
}

void table_column(json_t *table, const char *name, const char *title, const char *unit, int digits)
{
    json_t *column = json_pack("{s:s, s:s, s:s}", "name", name, "title", title, "unit", unit);
    if (digits >= 0)
        json_object_set_new(column, "digits", json_integer(digits));
    json_array_append_new(json_object_get(table, "columns"), column);
}

json_t *table_row(json_t *table)
{
    json_t *row = json_array();
    json_array_append_new(json_object_get(table, "rows"), row);
    return row;
}

void row_text(json_t *row, const char *cell)
{
    json_t *text = cell == NULL ? json_null() : json_string(cell);
    json_array_append_new(row, text == NULL ? json_string("(text that is not UTF-8)") : text);
}

void row_print(json_t *row, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    json_array_append_new(row, printed(format, list));
    va_end(list);
}

void row_number(json_t *row, double cell)
{
    json_array_append_new(row, isfinite(cell) ? json_real(cell) : json_null());
}

void row_integer(json_t *row, int64_t cell)
{
    json_array_append_new(row, cell == INT_UNKNOWN ? json_null() : json_integer(cell));
}

void section_figure(json_t *section, const char *title, const char *svg, const char *alt)
{
    json_object_set_new(section, "figure", json_pack("{s:s, s:s, s:s}", "title", title, "svg", svg, "alt", alt));
}

void note_caution(json_t *note, const char *code, const char *words, const char *defer)
{
    json_array_append_new(list_in(note, "cautions"), json_pack("{s:s, s:s, s:s?}", "code", code, "words", words, "defer", defer));
}

void note_unknown(json_t *note, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    json_array_append_new(list_in(note, "unknown"), printed(format, list));
    va_end(list);
}

void note_source(json_t *note, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    json_t *source = printed(format, list), *sources = list_in(note, "sources");
    va_end(list);
    for (size_t i = 0; i < json_array_size(sources); i++)
        if (json_equal(json_array_get(sources, i), source)) {
            json_decref(source);
            return;
        }
    json_array_append_new(sources, source);
}

void note_written(json_t *note, const char *kind, const char *path)
{
    json_array_append_new(list_in(note, "written"), json_pack("{s:s, s:s}", "kind", kind, "path", path));
}

/* ---- rows behind ---- */

static const char *const NOTE_INDEX = "rows by content";

/* What a set holds, as text: the same for sets that hold the same. */
static void set_key(const json_t *set, struct text *out)
{
    const char *where = json_string_value(json_object_get(set, "where"));
    char *of = where == NULL ? json_dumps(json_object_get(set, "of"), JSON_COMPACT) : NULL;
    text_print(out, "%s %s", where == NULL ? "of" : json_string_value(json_object_get(set, "noun")), where == NULL ? of : where);
    free(of);
}

/* A set like this one, else a new one. The index of sets by what they hold is dropped when the note is handed over. */
static int64_t set_of(json_t *note, json_t *set)
{
    json_t *sets = list_in(note, "rows"), *index = json_object_get(note, NOTE_INDEX);
    size_t n = json_array_size(sets);
    struct text key = {0};
    if (index == NULL) {
        index = json_object();
        json_object_set_new(note, NOTE_INDEX, index);
        for (size_t i = 0; i < n; i++) { /* sets that came with a note made earlier */
            struct text old = {0};
            set_key(json_array_get(sets, i), &old);
            json_object_set_new(index, text_get(&old), json_integer((json_int_t)i + 1));
            text_free(&old);
        }
    }
    set_key(set, &key);
    int64_t found = json_integer_value(json_object_get(index, text_get(&key)));
    if (found > 0)
        json_decref(set);
    else {
        found = (int64_t)n + 1;
        json_object_set_new(set, "set", json_integer(found));
        json_array_append_new(sets, set);
        json_object_set_new(index, text_get(&key), json_integer(found));
    }
    text_free(&key);
    return found;
}

void note_close(json_t *note)
{
    json_object_del(note, NOTE_INDEX);
}

int64_t note_rows(json_t *note, enum noun noun, const char *where, int64_t count)
{
    json_t *set = json_pack("{s:s, s:s}", "noun", noun_infos[noun].name, "where", where == NULL ? "" : where);
    json_object_set_new(set, "count", count == INT_UNKNOWN ? json_null() : json_integer((json_int_t)count));
    return set_of(note, set);
}

static void set_flat(const json_t *sets, int64_t set, json_t *out)
{
    const json_t *of = json_object_get(json_array_get(sets, (size_t)set - 1), "of");
    for (size_t i = 0; i < json_array_size(of); i++)
        set_flat(sets, json_integer_value(json_array_get(of, i)), out);
    for (size_t i = 0; i < json_array_size(out); i++)
        if (json_integer_value(json_array_get(out, i)) == set)
            return;
    if (of == NULL)
        json_array_append_new(out, json_integer((json_int_t)set));
}

int64_t note_rows_of(json_t *note, const int64_t *sets, size_t n)
{
    json_t *of = json_array();
    const json_t *all = list_in(note, "rows");
    for (size_t i = 0; i < n; i++)
        if (sets[i] > 0)
            set_flat(all, sets[i], of);
    size_t n_of = json_array_size(of);
    int64_t only = n_of == 0 ? 0 : json_integer_value(json_array_get(of, 0)), count = 0;
    for (size_t i = 0; i < n_of && count != INT_UNKNOWN; i++) {
        const json_t *one = json_object_get(json_array_get(all, (size_t)json_integer_value(json_array_get(of, i)) - 1), "count");
        count = json_is_integer(one) ? count + json_integer_value(one) : INT_UNKNOWN;
    }
    if (n_of < 2) {
        json_decref(of);
        return only;
    }
    json_t *set = json_pack("{s:o}", "of", of);
    json_object_set_new(set, "count", count == INT_UNKNOWN ? json_null() : json_integer((json_int_t)count));
    return set_of(note, set);
}

void cells_behind(json_t *table, size_t n, int64_t set)
{
    const json_t *rows = json_object_get(table, "rows");
    size_t n_rows = json_array_size(rows), n_cells = json_array_size(json_array_get(rows, n_rows - 1));
    require(n_rows > 0 && n_cells >= n);
    if (set <= 0)
        return;
    json_t *behind = list_in(table, "behind");
    while (json_array_size(behind) < n_rows)
        json_array_append_new(behind, json_array());
    json_t *row = json_array_get(behind, n_rows - 1);
    while (json_array_size(row) < n_cells)
        json_array_append_new(row, json_null());
    for (size_t i = n_cells - n; i < n_cells; i++)
        json_array_set_new(row, i, json_integer((json_int_t)set));
}

void cell_behind(json_t *table, int64_t set)
{
    cells_behind(table, 1, set);
}

static bool holds_figure(const json_t *cell)
{
    return json_is_number(cell) || (json_is_string(cell) && strpbrk(json_string_value(cell), "0123456789") != NULL);
}

/* One row of a table, by its number. */
static void row_tied(json_t *table, size_t at, int64_t set)
{
    const json_t *row = json_array_get(json_object_get(table, "rows"), at);
    json_t *behind = list_in(table, "behind");
    while (json_array_size(behind) <= at)
        json_array_append_new(behind, json_array());
    json_t *own = json_array_get(behind, at);
    while (json_array_size(own) < json_array_size(row))
        json_array_append_new(own, json_null());
    for (size_t i = 1; i < json_array_size(row); i++)
        if (holds_figure(json_array_get(row, i)) && json_is_null(json_array_get(own, i)))
            json_array_set_new(own, i, json_integer((json_int_t)set));
}

void figures_behind(json_t *table, int64_t set)
{
    size_t n = json_array_size(json_object_get(table, "rows"));
    require(n > 0);
    if (set > 0)
        row_tied(table, n - 1, set);
}

void table_behind(json_t *table, const char *first, int64_t set)
{
    const json_t *rows = json_object_get(table, "rows");
    for (size_t i = 0; set > 0 && i < json_array_size(rows); i++)
        if (first == NULL || text_same(first, json_string_value(json_array_get(json_array_get(rows, i), 0))))
            row_tied(table, i, set);
}

void section_behind(json_t *section, int64_t set)
{
    json_t *table = json_object_get(section, "table"), *figure = json_object_get(section, "figure");
    const char *text = json_string_value(json_object_get(section, "text"));
    if (set <= 0)
        return;
    if (table != NULL)
        table_behind(table, NULL, set);
    if (figure != NULL && json_object_get(figure, "behind") == NULL)
        figure_behind(section, set);
    for (size_t i = 0; text != NULL; i++) {
        size_t n = strcspn(text, "\n");
        json_t *behind = list_in(section, "text_behind");
        if (json_array_size(behind) <= i)
            json_array_append_new(behind, json_null());
        bool figures = false;
        for (size_t k = 0; k < n && !figures; k++)
            figures = text[k] >= '0' && text[k] <= '9';
        if (figures && json_is_null(json_array_get(behind, i)))
            json_array_set_new(behind, i, json_integer((json_int_t)set));
        text = text[n] == '\0' ? NULL : text + n + 1;
    }
}

void note_behind(json_t *note, int64_t set)
{
    const json_t *sections = json_object_get(note, "sections");
    for (size_t i = 0; i < json_array_size(sections); i++)
        section_behind(json_array_get(sections, i), set);
    if (json_object_get(note, "answer_behind") == NULL && holds_figure(json_object_get(note, "answer")))
        answer_behind(note, set);
}

void section_line(json_t *section, int64_t set, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    json_t *line = printed(format, list), *behind = list_in(section, "text_behind");
    va_end(list);
    const char *before = json_string_value(json_object_get(section, "text"));
    size_t lines = before != NULL;
    for (const char *p = before; p != NULL && *p != '\0'; p++)
        lines += *p == '\n';
    while (json_array_size(behind) < lines)
        json_array_append_new(behind, json_null());
    json_array_append_new(behind, set > 0 ? json_integer((json_int_t)set) : json_null());
    if (before == NULL)
        section_text(section, "%s", json_string_value(line));
    else {
        char *both = memory_text(before);
        section_text(section, "%s\n%s", both, json_string_value(line));
        free(both);
    }
    json_decref(line);
}

void figure_behind(json_t *section, int64_t set)
{
    json_t *figure = json_object_get(section, "figure");
    if (figure != NULL && set > 0)
        json_object_set_new(figure, "behind", json_integer((json_int_t)set));
}

void answer_behind(json_t *note, int64_t set)
{
    if (set > 0)
        json_object_set_new(note, "answer_behind", json_integer((json_int_t)set));
}

void data_behind(json_t *object, const char *key, int64_t set)
{
    json_t *behind = json_object_get(object, "behind");
    if (set <= 0)
        return;
    if (behind == NULL) {
        behind = json_object();
        json_object_set_new(object, "behind", behind);
    }
    json_object_set_new(behind, key, json_integer((json_int_t)set));
}

json_t *note_data(json_t *note)
{
    json_t *data = json_object_get(note, "data");
    if (data == NULL) {
        data = json_object();
        json_object_set_new(note, "data", data);
    }
    return data;
}

/* Columns a text takes on a terminal. */
static int width_of(const char *text)
{
    int width = 0;
    utf8proc_int32_t point = 0;
    for (const unsigned char *at = (const unsigned char *)text; *at != '\0';) {
        utf8proc_ssize_t n = utf8proc_iterate(at, -1, &point);
        if (n <= 0) {
            at++;
            continue;
        }
        at += n;
        width += utf8proc_charwidth(point);
    }
    return width;
}

static void wrapped(struct text *out, const char *text, int width, const char *first, const char *rest)
{
    int at = 0;
    text_add(out, first);
    at = width_of(first);
    bool begun = false;
    while (*text != '\0') {
        size_t n = strcspn(text, " \n");
        char word[512];
        snprintf(word, sizeof word, "%.*s", (int)(n < 500 ? n : 500), text);
        int w = width_of(word);
        if (begun && at + 1 + w > width) {
            text_print(out, "\n%s", rest);
            at = width_of(rest);
            begun = false;
        }
        if (begun) {
            text_add(out, " ");
            at++;
        }
        text_add(out, word);
        at += w;
        begun = true;
        text += n < 500 ? n : 500;
        if (*text == '\n') {
            text_print(out, "\n%s", rest);
            at = width_of(rest);
            begun = false;
        }
        while (*text == ' ' || *text == '\n')
            text++;
    }
    text_add(out, "\n");
}

static char *cell_text(struct arena *arena, const json_t *cell, const json_t *column)
{
    char out[64];
    if (cell == NULL || json_is_null(cell))
        return arena_text(arena, "unknown");
    if (json_is_string(cell))
        return arena_text(arena, json_string_value(cell));
    const json_t *digits = json_object_get(column, "digits");
    if (json_is_integer(cell) && digits == NULL)
        return arena_print(arena, "%lld", (long long)json_integer_value(cell));
    if (digits != NULL)
        number_fixed(json_number_value(cell), (int)json_integer_value(digits), out);
    else
        number_write(json_number_value(cell), out);
    return arena_text(arena, out);
}

static void table_print(const json_t *table, struct text *out)
{
    struct arena arena = {0};
    const json_t *columns = json_object_get(table, "columns"), *rows = json_object_get(table, "rows");
    size_t n = json_array_size(columns), m = json_array_size(rows);
    char **cells = arena_array(&arena, (m + 1) * n, sizeof *cells);
    int *widths = arena_array(&arena, n, sizeof *widths);
    bool *left = arena_array(&arena, n, sizeof *left);
    for (size_t j = 0; j < n; j++) {
        const json_t *column = json_array_get(columns, j);
        const char *unit = json_string_value(json_object_get(column, "unit")), *title = json_string_value(json_object_get(column, "title"));
        cells[j] = unit == NULL || *unit == '\0' ? arena_text(&arena, title) : arena_print(&arena, "%s [%s]", title, unit);
        widths[j] = width_of(cells[j]);
        for (size_t i = 0; i < m; i++) {
            const json_t *cell = json_array_get(json_array_get(rows, i), j);
            left[j] = left[j] || json_is_string(cell);
            cells[(i + 1) * n + j] = cell_text(&arena, cell, column);
            int w = width_of(cells[(i + 1) * n + j]);
            if (w > widths[j])
                widths[j] = w;
        }
    }
    for (size_t i = 0; i <= m; i++) {
        text_add(out, " ");
        for (size_t j = 0; j < n; j++) {
            const char *cell = cells[i * n + j];
            int pad = widths[j] - width_of(cell);
            bool last = j + 1 == n;
            text_print(out, " %*s%s%*s", left[j] ? 0 : pad, "", cell, left[j] && !last ? pad : 0, "");
            if (!last)
                text_add(out, " ");
        }
        text_add(out, "\n");
        if (i == 0) {
            text_add(out, " ");
            for (size_t j = 0; j < n; j++) {
                text_add(out, " ");
                for (int k = 0; k < widths[j]; k++)
                    text_add(out, "-");
                text_add(out, j + 1 == n ? "" : " ");
            }
            text_add(out, "\n");
        }
    }
    arena_clear(&arena);
}

static void list_print(const json_t *note, const char *key, const char *title, int width, struct text *out)
{
    const json_t *list = json_object_get(note, key);
    if (json_array_size(list) == 0)
        return;
    text_print(out, "\n%s\n", title);
    for (size_t i = 0; i < json_array_size(list); i++) {
        const json_t *one = json_array_get(list, i);
        if (json_is_string(one)) {
            wrapped(out, json_string_value(one), width, "  - ", "    ");
        } else if (json_object_get(one, "path") != NULL) {
            text_print(out, "  %s: %s\n", json_string_value(json_object_get(one, "kind")), json_string_value(json_object_get(one, "path")));
        } else {
            struct text words = {0};
            const char *defer = json_string_value(json_object_get(one, "defer"));
            text_print(&words, "%s %s", json_string_value(json_object_get(one, "code")), json_string_value(json_object_get(one, "words")));
            if (defer != NULL)
                text_print(&words, " Who decides: %s.", defer);
            wrapped(out, words.at, width, "  ! ", "    ");
            text_free(&words);
        }
    }
}

void note_print(const json_t *note, int width, struct text *out)
{
    if (width < 40)
        width = 40;
    const char *answer = json_string_value(json_object_get(note, "answer"));
    if (answer != NULL)
        wrapped(out, answer, width, "", "");
    const json_t *sections = json_object_get(note, "sections");
    for (size_t i = 0; i < json_array_size(sections); i++) {
        const json_t *section = json_array_get(sections, i), *figure = json_object_get(section, "figure");
        text_print(out, "\n%s\n", json_string_value(json_object_get(section, "title")));
        const char *text = json_string_value(json_object_get(section, "text"));
        if (text != NULL)
            wrapped(out, text, width, "  ", "  ");
        if (json_object_get(section, "table") != NULL)
            table_print(json_object_get(section, "table"), out);
        if (figure != NULL)
            wrapped(out, json_string_value(json_object_get(figure, "alt")), width, "  [figure] ", "  ");
    }
    list_print(note, "cautions", "Cautions", width, out);
    list_print(note, "unknown", "Not known, not checked", width, out);
    list_print(note, "sources", "Sources", width, out);
    list_print(note, "written", "Written", width, out);
}
