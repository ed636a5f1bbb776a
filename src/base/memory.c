/* SPDX-License-Identifier: GPL-3.0-or-later
 * Arena and growing columns. Every allocation of the program is checked here. */
#include "base/memory.h"
#include "base/outcome.h"
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct arena_block {
    struct arena_block *before;
    size_t used, room;
    max_align_t data[];
};

enum { FIRST_BLOCK = 16 * 1024, LARGEST_STEP = 8 * 1024 * 1024 };

void *memory_resize(void *old, size_t count, size_t size)
{
    size_t n = 0;
    if (__builtin_mul_overflow(count, size, &n))
        give_up("a size beyond what memory can hold was asked for", __FILE__, __LINE__);
    void *out = realloc(old, n == 0 ? 1 : n);
    if (out == NULL)
        give_up("out of memory", __FILE__, __LINE__);
    return out;
}

void *memory_get(size_t count, size_t size)
{
    void *out = memory_resize(NULL, count, size);
    memset(out, 0, count * size);
    return out;
}

char *memory_text(const char *text)
{
    size_t n = strlen(text) + 1;
    return memcpy(memory_get(n, 1), text, n);
}

void *column_room(void *column, size_t n, size_t *room, size_t size)
{
    if (n < *room)
        return column;
    *room = *room < 16 ? 16 : *room * 2;
    return memory_resize(column, *room, size);
}

void *arena_alloc(struct arena *arena, size_t n)
{
    size_t unit = sizeof(max_align_t);
    if (n > SIZE_MAX - 2 * unit - sizeof(struct arena_block))
        give_up("a size beyond what memory can hold was asked for", __FILE__, __LINE__);
    size_t need = n == 0 ? unit : (n + unit - 1) / unit * unit;
    struct arena_block *block = arena->last;
    if (block == NULL || block->room - block->used < need) {
        size_t room = block == NULL ? FIRST_BLOCK : block->room * 2;
        if (room > LARGEST_STEP)
            room = LARGEST_STEP;
        if (room < need)
            room = need;
        struct arena_block *fresh = memory_resize(NULL, 1, sizeof *fresh + room);
        fresh->before = block;
        fresh->used = 0;
        fresh->room = room;
        arena->last = block = fresh;
        arena->total += room;
    }
    void *out = (char *)block->data + block->used;
    block->used += need;
    return memset(out, 0, need);
}

void *arena_array(struct arena *arena, size_t count, size_t size)
{
    size_t n = 0;
    if (__builtin_mul_overflow(count, size, &n))
        give_up("a size beyond what memory can hold was asked for", __FILE__, __LINE__);
    return arena_alloc(arena, n);
}

char *arena_text_n(struct arena *arena, const char *text, size_t n)
{
    char *out = arena_alloc(arena, n + 1);
    if (n > 0)
        memcpy(out, text, n);
    return out;
}

char *arena_text(struct arena *arena, const char *text)
{
    return text == NULL ? NULL : arena_text_n(arena, text, strlen(text));
}

char *arena_print(struct arena *arena, const char *format, ...)
{
    va_list list, again;
    va_start(list, format);
    va_copy(again, list);
    int n = vsnprintf(NULL, 0, format, list);
    va_end(list);
    require(n >= 0);
    char *out = arena_alloc(arena, (size_t)n + 1);
    vsnprintf(out, (size_t)n + 1, format, again);
    va_end(again);
    return out;
}

void arena_clear(struct arena *arena)
{
    for (struct arena_block *block = arena->last; block != NULL;) {
        struct arena_block *before = block->before;
        free(block);
        block = before;
    }
    arena->last = NULL;
    arena->total = 0;
}
