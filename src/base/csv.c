/* SPDX-License-Identifier: GPL-3.0-or-later
 * Reading and writing of comma-separated text and of whole files. */
#include "base/csv.h"
#include <csv.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { MOST_COLUMNS = 10000 };

struct reading {
    struct arena *arena;
    const char **row;
    size_t width, row_room;
    struct csv_table *out;
    size_t room, lines_room, widths_room, most_rows;
    long line;
    bool too_many, too_wide;
};

static void on_cell(void *text, size_t n, void *data)
{
    struct reading *reading = data;
    if (reading->width >= MOST_COLUMNS) {
        reading->too_wide = true;
        return;
    }
    reading->row = column_room(reading->row, reading->width, &reading->row_room, sizeof *reading->row);
    reading->row[reading->width++] = arena_text_n(reading->arena, text, n);
}

static void on_row(int end, void *data)
{
    (void)end;
    struct reading *reading = data;
    struct csv_table *out = reading->out;
    if (out->rows >= reading->most_rows) {
        reading->too_many = true;
        return;
    }
    out->cells = column_room(out->cells, out->rows, &reading->room, sizeof *out->cells);
    out->widths = column_room(out->widths, out->rows, &reading->widths_room, sizeof *out->widths);
    out->lines = column_room(out->lines, out->rows, &reading->lines_room, sizeof *out->lines);
    const char **row = arena_array(reading->arena, reading->width, sizeof *row);
    if (reading->width > 0)
        memcpy(row, reading->row, reading->width * sizeof *row);
    out->cells[out->rows] = row;
    out->widths[out->rows] = reading->width;
    out->lines[out->rows] = reading->line;
    out->rows++;
    if (reading->width > out->widest)
        out->widest = reading->width;
    reading->width = 0;
}

enum outcome csv_read(const char *file, const char *bytes, size_t n, char delimiter, size_t most_rows, struct arena *arena,
                      struct csv_table *out, struct failure *why)
{
    if (n >= 3 && memcmp(bytes, "\xEF\xBB\xBF", 3) == 0) {
        bytes += 3;
        n -= 3;
    }
    if (n > 0 && memchr(bytes, '\0', n) != NULL) {
        fail(why, OUTCOME_DATA, "The file holds NUL bytes, so it is not plain text.");
        failure_at(why, file, 0, NULL);
        return failure_remedy(why, "Save it as CSV (UTF-8) and try again.");
    }
    struct csv_table table = {.file = file};
    struct reading reading = {.arena = arena, .out = &table, .line = 1, .most_rows = most_rows == 0 ? 20000000 : most_rows};
    struct csv_parser parser;
    if (csv_init(&parser, 0) != 0)
        return fail(why, OUTCOME_SYSTEM, "The reader of comma-separated text could not be set up.");
    csv_set_delim(&parser, (unsigned char)delimiter);
    /* fed line by line, so that each row knows the line it began on */
    enum outcome outcome = OUTCOME_OK;
    long line = 1;
    for (size_t at = 0; at < n;) {
        const char *end = memchr(bytes + at, '\n', n - at);
        size_t length = end == NULL ? n - at : (size_t)(end - (bytes + at)) + 1;
        if (csv_parse(&parser, bytes + at, length, on_cell, on_row, &reading) != length) {
            outcome = fail(why, OUTCOME_DATA, "The row cannot be read: %s.", csv_strerror(csv_error(&parser)));
            failure_at(why, file, line, NULL);
            goto done;
        }
        at += length;
        line++;
        if (parser.pstate == 0) /* between rows */
            reading.line = line;
        if (reading.too_many || reading.too_wide) {
            outcome = fail(why, OUTCOME_DATA, reading.too_many ? "The file has more than %zu rows." : "A row has more than %zu columns.",
                           reading.too_many ? reading.most_rows : (size_t)MOST_COLUMNS);
            failure_at(why, file, line, NULL);
            failure_remedy(why, "Split it into several files.");
            goto done;
        }
    }
    csv_fini(&parser, on_cell, on_row, &reading);
    const char ***cells = arena_array(arena, table.rows, sizeof *cells);
    size_t *widths = arena_array(arena, table.rows, sizeof *widths);
    long *lines = arena_array(arena, table.rows, sizeof *lines);
    if (table.rows > 0) {
        memcpy(cells, table.cells, table.rows * sizeof *cells);
        memcpy(widths, table.widths, table.rows * sizeof *widths);
        memcpy(lines, table.lines, table.rows * sizeof *lines);
    }
    *out = (struct csv_table){arena_text(arena, file), table.rows, table.widest, cells, widths, lines};
done:
    free(table.cells);
    free(table.widths);
    free(table.lines);
    free(reading.row);
    csv_free(&parser);
    return outcome;
}

const char *csv_cell(const struct csv_table *table, size_t row, size_t column)
{
    return row < table->rows && column < table->widths[row] ? table->cells[row][column] : NULL;
}

size_t csv_column(const struct csv_table *table, const char *name)
{
    for (size_t i = 0; table->rows > 0 && i < table->widths[0]; i++)
        if (text_same(table->cells[0][i], name))
            return i;
    return SIZE_MAX;
}

void csv_add(struct text *out, const char *cell, bool first, bool guard)
{
    if (!first)
        text_add(out, ",");
    if (cell == NULL)
        return;
    bool formula = guard && cell[0] != '\0' && strchr("=+-@\t\r", cell[0]) != NULL;
    double number = 0;
    if (formula && number_read(cell, &number))
        formula = false;
    bool quote = formula || strpbrk(cell, ",\"\n\r") != NULL || cell[0] == ' ' || (cell[0] != '\0' && cell[strlen(cell) - 1] == ' ');
    if (!quote) {
        text_add(out, cell);
        return;
    }
    text_add(out, formula ? "\"'" : "\"");
    for (const char *p = cell; *p != '\0'; p++)
        text_add_n(out, *p == '"' ? "\"\"" : p, *p == '"' ? 2 : 1);
    text_add(out, "\"");
}

enum outcome file_read(const char *path, size_t most, struct arena *arena, char **out, size_t *n, struct failure *why)
{
    FILE *file = fopen(path, "rb");
    struct stat about;
    if (file == NULL || fstat(fileno(file), &about) != 0) {
        fail(why, OUTCOME_SYSTEM, "The file cannot be read: %s.", strerror(errno));
        if (file != NULL)
            fclose(file);
        return failure_at(why, path, 0, NULL);
    }
    if (most == 0)
        most = (size_t)1 << 30;
    if (!S_ISREG(about.st_mode) || (size_t)about.st_size > most) {
        fclose(file);
        fail(why, OUTCOME_DATA, S_ISREG(about.st_mode) ? "The file is larger than %zu MB." : "This is not a plain file (limit %zu MB).",
             most >> 20);
        return failure_at(why, path, 0, NULL);
    }
    char *bytes = arena_alloc(arena, (size_t)about.st_size + 1);
    size_t got = fread(bytes, 1, (size_t)about.st_size, file);
    bool bad = ferror(file) != 0;
    fclose(file);
    if (bad) {
        fail(why, OUTCOME_SYSTEM, "Reading the file failed: %s.", strerror(errno));
        return failure_at(why, path, 0, NULL);
    }
    bytes[got] = '\0';
    *out = bytes;
    *n = got;
    return OUTCOME_OK;
}

enum outcome file_write(const char *path, const void *bytes, size_t n, struct failure *why)
{
    struct text beside = {0};
    text_print(&beside, "%s.part", path);
    enum outcome outcome = OUTCOME_OK;
    FILE *file = fopen(beside.at, "wb");
    bool good = file != NULL;
    if (good && n > 0)
        good = fwrite(bytes, 1, n, file) == n;
    if (good)
        good = fflush(file) == 0 && fsync(fileno(file)) == 0;
    int error = errno;
    if (file != NULL && fclose(file) != 0)
        good = false;
    if (good && rename(beside.at, path) != 0) {
        good = false;
        error = errno;
    }
    if (!good) {
        outcome = fail(why, OUTCOME_SYSTEM, "The file cannot be written: %s.", strerror(error));
        failure_at(why, path, 0, NULL);
        failure_remedy(why, "Check the folder, the space left and your rights; what was there before is untouched.");
        unlink(beside.at);
    }
    text_free(&beside);
    return outcome;
}
