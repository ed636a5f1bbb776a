/* SPDX-License-Identifier: GPL-3.0-or-later
 * Rows of a table into structs, with file, row, column, reason and remedy for every cell that will not do. */
#include "species/table.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_LISTED = 200 };

void problems_add(struct species_problems *problems, struct arena *arena, const struct failure *why)
{
    if (problems == NULL)
        return;
    problems->refused++;
    if (problems->n >= MOST_LISTED)
        return;
    if (problems->list == NULL)
        problems->list = arena_array(arena, MOST_LISTED, sizeof *problems->list);
    problems->list[problems->n++] = *why;
}

char *table_text(const struct csv_table *table, size_t row, size_t column, struct arena *arena)
{
    const char *cell = column == SIZE_MAX ? NULL : csv_cell(table, row, column);
    return cell == NULL || text_blank(cell) ? NULL : text_trim(arena, cell);
}

const char **table_split(const char *text, struct arena *arena, size_t *n)
{
    *n = 0;
    if (text == NULL)
        return NULL;
    size_t most = 1;
    for (const char *c = text; *c != '\0'; c++)
        most += *c == ';';
    const char **out = arena_array(arena, most, sizeof *out);
    for (const char *at = text; at != NULL;) {
        const char *end = strchr(at, ';');
        const char *piece = text_trim(arena, end == NULL ? arena_text(arena, at) : arena_text_n(arena, at, (size_t)(end - at)));
        if (*piece != '\0')
            out[(*n)++] = piece;
        at = end == NULL ? NULL : end + 1;
    }
    return out;
}

int table_word(const char *const *words, int n, const char *word)
{
    if (word == NULL)
        return 0;
    for (int i = 1; i < n; i++)
        if (text_same_nocase(words[i], word))
            return i;
    return text_same_nocase(word, "unknown") ? 0 : -1;
}

/* The known column nearest to a name, for the remedy. */
static const char *nearest_column(const struct column *columns, size_t n, const char *name)
{
    const char *best = NULL;
    int least = 4;
    for (size_t i = 0; i < n; i++) {
        int edits = text_distance(columns[i].name, name, 3);
        if (edits < least) {
            least = edits;
            best = columns[i].name;
        }
    }
    return best;
}

static enum outcome column_unknown(const struct csv_table *table, const struct column *columns, size_t n, const char *name,
                                   struct failure *why)
{
    fail(why, OUTCOME_DATA, "The table has a column that is not in the format.");
    failure_at(why, table->file, 1, name);
    const char *near = nearest_column(columns, n, name);
    if (near != NULL)
        return failure_remedy(why, "Perhaps %s is meant; name columns of your own x_… to have them passed over.", near);
    return failure_remedy(why, "Name columns of your own x_… to have them passed over.");
}

enum outcome table_head_read(const struct csv_table *table, const struct column *columns, size_t n_columns, bool natives,
                             struct arena *arena, struct table_head *out, struct failure *why)
{
    struct table_head head = {.table = table, .columns = columns, .n_columns = n_columns};
    if (table->rows == 0) {
        fail(why, OUTCOME_DATA, "The table is empty.");
        return failure_at(why, table->file, 0, NULL);
    }
    head.at = arena_array(arena, n_columns, sizeof *head.at);
    head.natives = arena_array(arena, table->widths[0] + 1, sizeof *head.natives);
    for (size_t i = 0; i < n_columns; i++)
        head.at[i] = SIZE_MAX;
    for (size_t c = 0; c < table->widths[0]; c++) {
        const char *name = table_text(table, 0, c, arena);
        if (name == NULL || strncmp(name, "x_", 2) == 0)
            continue;
        size_t i = 0;
        while (i < n_columns && strcmp(columns[i].name, name) != 0)
            i++;
        if (i < n_columns && head.at[i] != SIZE_MAX) {
            fail(why, OUTCOME_DATA, "The table has the same column twice.");
            return failure_at(why, table->file, 1, name);
        }
        if (i < n_columns)
            head.at[i] = c;
        else if (natives && strncmp(name, "native_", 7) == 0 && name[7] != '\0')
            head.natives[head.n_natives++] = c;
        else
            return column_unknown(table, columns, n_columns, name, why);
    }
    for (size_t i = 0; i < n_columns; i++)
        if (columns[i].required && head.at[i] == SIZE_MAX) {
            fail(why, OUTCOME_DATA, "The table lacks the column %s.", columns[i].name);
            failure_at(why, table->file, 1, columns[i].name);
            return failure_remedy(why, "The first row must hold the column names of docs/species-format.md.");
        }
    *out = head;
    return OUTCOME_OK;
}

static enum outcome cell_number(const struct column *column, const char *cell, double *into, struct failure *why)
{
    double x = 0;
    if (!number_read(cell, &x)) {
        fail(why, OUTCOME_DATA, "“%.60s” is not a number.", cell);
        return failure_remedy(why, strchr(cell, ',') != NULL ? "Write the decimal sign as a point."
                                                             : "Leave the cell blank where the value is unknown.");
    }
    if (x < column->least || x > column->most) {
        char low[40], high[40];
        number_write(column->least, low);
        number_write(column->most, high);
        fail(why, OUTCOME_DATA, "%.60s lies outside %s to %s.", cell, low, high);
        return failure_remedy(why, "Check the unit and the scale.");
    }
    *into = x;
    return OUTCOME_OK;
}

static enum outcome cell_word(const struct column *column, const char *cell, int *into, struct failure *why)
{
    int value = table_word(column->words, column->n_words, cell);
    if (value < 0) {
        char list[400] = "";
        for (int i = 1; i < column->n_words; i++) {
            size_t n = strlen(list);
            snprintf(list + n, sizeof list - n, "%s%s", i == 1 ? "" : ", ", column->words[i]);
        }
        fail(why, OUTCOME_DATA, "“%.60s” is not a word of this column.", cell);
        return failure_remedy(why, "Use one of: %s; or leave it blank for unknown.", list);
    }
    *into = value;
    return OUTCOME_OK;
}

static enum outcome cell_read(const struct column *column, char *cell, char *into, struct arena *arena, struct failure *why)
{
    static const char *const truths[] = {NULL, "no", "yes"};
    char *at = into + column->offset;
    switch (column->kind) {
    case CELL_TEXT:
        memcpy(at, &cell, sizeof cell);
        return OUTCOME_OK;
    case CELL_WORDS: {
        size_t n = 0;
        const char **words = table_split(cell, arena, &n);
        memcpy(at, &words, sizeof words);
        memcpy(into + column->n_offset, &n, sizeof n);
        return OUTCOME_OK;
    }
    case CELL_NUMBER: {
        double x = 0;
        enum outcome outcome = cell_number(column, cell, &x, why);
        if (outcome == OUTCOME_OK)
            memcpy(at, &x, sizeof x);
        return outcome;
    }
    case CELL_TRUTH:
    case CELL_WORD: {
        struct column words = *column;
        if (column->kind == CELL_TRUTH) {
            words.words = truths;
            words.n_words = 3;
        }
        int value = 0;
        enum outcome outcome = cell_word(&words, cell, &value, why);
        if (outcome == OUTCOME_OK)
            memcpy(at, &value, sizeof value);
        return outcome;
    }
    }
    return OUTCOME_OK;
}

enum outcome table_row_read(const struct table_head *head, size_t row, void *into, struct arena *arena, struct failure *why)
{
    const struct csv_table *table = head->table;
    long number = (long)row + 1;
    if (table->widths[row] > table->widths[0]) {
        fail(why, OUTCOME_DATA, "The row has %zu cells, the header %zu.", table->widths[row], table->widths[0]);
        failure_at(why, table->file, number, NULL);
        return failure_remedy(why, "Text that holds a comma must stand in double quotes.");
    }
    for (size_t i = 0; i < head->n_columns; i++) {
        const struct column *column = &head->columns[i];
        char *cell = table_text(table, row, head->at[i], arena);
        if (cell == NULL && column->required) {
            fail(why, OUTCOME_DATA, "This cell may not be blank.");
            return failure_at(why, table->file, number, column->name);
        }
        if (cell == NULL)
            continue;
        enum outcome outcome = cell_read(column, cell, into, arena, why);
        if (outcome != OUTCOME_OK)
            return failure_at(why, table->file, number, column->name);
    }
    return OUTCOME_OK;
}
