/* SPDX-License-Identifier: GPL-3.0-or-later
 * Building a document part by part. */
#include "paper/document.h"
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct document *document_new(const char *title)
{
    struct document *document = memory_get(1, sizeof *document);
    *document = (struct document){.date = DATE_UNKNOWN};
    document->title = arena_text(&document->arena, title == NULL ? "" : title);
    return document;
}

void document_free(struct document *document)
{
    if (document == NULL)
        return;
    for (struct document_part *part = document->first; part != NULL; part = part->next)
        drawing_free(part->drawing);
    arena_clear(&document->arena);
    free(document);
}

/* A column in the arena with room for one more: the old one stays behind until the document is freed. */
static void *arena_room(struct arena *arena, void *column, size_t n, size_t *room, size_t size)
{
    if (n < *room)
        return column;
    *room = *room == 0 ? 4 : 2 * *room;
    void *wider = arena_array(arena, *room, size);
    if (n > 0)
        memcpy(wider, column, n * size);
    return wider;
}

void document_revise(struct document *document, const char *version, const char *date, const char *who, const char *words)
{
    struct arena *arena = &document->arena;
    size_t room = document->n_revisions; /* revisions are few: one more each time */
    document->revisions = arena_room(arena, document->revisions, document->n_revisions, &room, sizeof *document->revisions);
    document->revisions[document->n_revisions++] =
        (struct document_revision){arena_text(arena, version), arena_text(arena, date), arena_text(arena, who), arena_text(arena, words)};
}

struct document_part *document_add(struct document *document, enum part_kind kind)
{
    struct document_part *part = arena_alloc(&document->arena, sizeof *part);
    part->kind = kind;
    if (document->last == NULL)
        document->first = part;
    else
        document->last->next = part;
    document->last = part;
    return part;
}

static struct document_run *run_add(struct document *document, struct document_part *part)
{
    part->runs = arena_room(&document->arena, part->runs, part->n_runs, &part->room_runs, sizeof *part->runs);
    struct document_run *run = &part->runs[part->n_runs++];
    *run = (struct document_run){0};
    return run;
}

void document_behind(struct document *document, struct document_part *part, int64_t rows)
{
    if (rows <= 0)
        return;
    struct document_run *run = run_add(document, part);
    *run = (struct document_run){.words = arena_print(&document->arena, "r%lld", (long long)rows), .raised = true, .rows = rows};
}

void document_words(struct document *document, struct document_part *part, const char *words, const char *link, bool strong)
{
    struct document_run *run = run_add(document, part);
    run->words = arena_text(&document->arena, words == NULL ? "" : words);
    run->link = arena_text(&document->arena, link);
    run->strong = strong;
}

struct document_part *document_heading(struct document *document, int level, const char *words, const char *anchor)
{
    struct document_part *part = document_add(document, PART_HEADING);
    part->level = level < 1 ? 1 : level > 3 ? 3 : level;
    part->anchor = arena_text(&document->arena, anchor);
    document_words(document, part, words, NULL, false);
    return part;
}

struct document_part *document_paragraph(struct document *document, const char *format, ...)
{
    struct document_part *part = document_add(document, PART_PARAGRAPH);
    char *words = NULL;
    va_list arguments;
    va_start(arguments, format);
    int n = vasprintf(&words, format, arguments);
    va_end(arguments);
    require(n >= 0);
    if (n > 0)
        document_words(document, part, words, NULL, false);
    free(words);
    return part;
}

struct document_part *document_list(struct document *document, bool numbered)
{
    struct document_part *part = document_add(document, PART_LIST);
    part->numbered = numbered;
    return part;
}

struct document_part *document_note(struct document *document, const char *words)
{
    struct document_part *part = document_add(document, PART_NOTE);
    document_words(document, part, words, NULL, false);
    return part;
}

struct document_part *document_caution(struct document *document, const char *code, const char *words, const char *defer)
{
    struct document_part *part = document_add(document, PART_CAUTION);
    part->code = arena_text(&document->arena, code);
    part->defer = arena_text(&document->arena, defer);
    document_words(document, part, words, NULL, false);
    return part;
}

struct document_part *document_figure(struct document *document, struct drawing *drawing, const char *caption)
{
    struct document_part *part = document_add(document, PART_FIGURE);
    part->drawing = drawing;
    part->caption = arena_text(&document->arena, caption);
    return part;
}

void document_page(struct document *document, bool landscape)
{
    document_add(document, PART_PAGE_BREAK)->landscape = landscape;
}

void document_bookmark(struct document *document, const char *words, const char *anchor)
{
    struct document_part *part = document_add(document, PART_BOOKMARK);
    part->level = 1;
    part->anchor = arena_text(&document->arena, anchor);
    document_words(document, part, words, NULL, false);
}

void document_room(struct document *document, double height_pt)
{
    document_add(document, PART_ROOM)->height_pt = height_pt;
}

struct document_part *document_fields(struct document *document, const char *const *labels, size_t n)
{
    struct document_part *part = document_add(document, PART_FIELDS);
    for (size_t i = 0; i < n; i++)
        document_words(document, part, labels[i], NULL, false);
    return part;
}

struct document_table *document_table(struct document *document, const char *caption, const char *anchor)
{
    struct document_part *part = document_add(document, PART_TABLE);
    part->anchor = arena_text(&document->arena, anchor);
    part->table = arena_alloc(&document->arena, sizeof *part->table);
    part->table->caption = arena_text(&document->arena, caption);
    return part->table;
}

void document_column(struct document *document, struct document_table *table, const char *title, const char *unit, enum cell_align align)
{
    struct arena *arena = &document->arena;
    require(table->n_rows == 0); /* columns first, then rows */
    table->columns = arena_room(arena, table->columns, table->n_columns, &table->room_columns, sizeof *table->columns);
    table->columns[table->n_columns++] =
        (struct document_column){.title = arena_text(arena, title == NULL ? "" : title), .unit = arena_text(arena, unit), .align = align};
}

struct document_cell *document_row(struct document *document, struct document_table *table)
{
    table->rows = arena_room(&document->arena, table->rows, table->n_rows, &table->room_rows, sizeof *table->rows);
    struct document_cell *row = arena_array(&document->arena, table->n_columns + 1, sizeof *row);
    table->rows[table->n_rows++] = row;
    return row;
}

void document_cell(struct document *document, struct document_cell *cell, const char *format, ...)
{
    char *words = NULL;
    va_list arguments;
    va_start(arguments, format);
    int n = vasprintf(&words, format, arguments);
    va_end(arguments);
    require(n >= 0);
    cell->words = arena_text(&document->arena, words);
    free(words);
}

static void rows_mark(struct document *document, int64_t *number)
{
    if (*number <= 0 || (size_t)*number > document->n_rows) {
        *number = 0;
        return;
    }
    struct document_rows *set = &document->rows[*number - 1];
    set->used = true;
    for (size_t i = 0; i < set->n_of; i++)
        document->rows[set->of[i] - 1].used = true;
}

void document_rows_mark(struct document *document)
{
    for (struct document_part *part = document->first; part != NULL; part = part->next) {
        rows_mark(document, &part->rows);
        for (size_t i = 0; i < part->n_runs; i++) {
            rows_mark(document, &part->runs[i].rows);
            if (part->runs[i].raised && part->runs[i].rows == 0)
                part->runs[i].words = "";
        }
        for (size_t r = 0; part->table != NULL && r < part->table->n_rows; r++)
            for (size_t c = 0; c < part->table->n_columns; c++) {
                if (part->table->rows[r][c].words == NULL) /* what is not known leads nowhere */
                    part->table->rows[r][c].rows = 0;
                rows_mark(document, &part->table->rows[r][c].rows);
            }
    }
}
