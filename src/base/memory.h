/* SPDX-License-Identifier: GPL-3.0-or-later
 * Memory that lives as long as a job: an arena, and columns that grow by doubling. */
#ifndef SPINNEY_BASE_MEMORY_H
#define SPINNEY_BASE_MEMORY_H
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct arena_block;

/// Owns everything allocated from it until arena_clear. `{0}` is a valid empty arena. Not for several threads at once.
struct arena {
    struct arena_block *last; ///< block being filled
    size_t total;             ///< bytes taken from the system
};

/// `n` zeroed bytes, aligned for any type. Never NULL: want of memory ends the process (see give_up).
void *arena_alloc(struct arena *arena, size_t n);
/// Room for `count` zeroed elements of `size`; the product is checked.
void *arena_array(struct arena *arena, size_t count, size_t size);
char *arena_text(struct arena *arena, const char *text);             ///< copy; NULL stays NULL
char *arena_text_n(struct arena *arena, const char *text, size_t n); ///< copy of n bytes and an end
/// printf into the arena.
char *arena_print(struct arena *arena, const char *format, ...) __attribute__((format(printf, 2, 3)));
/// Give everything back; the arena is empty and usable again. Safe on `{0}` and twice.
void arena_clear(struct arena *arena);

/// malloc, realloc and strdup that never return NULL; free with free().
void *memory_get(size_t count, size_t size);
void *memory_resize(void *old, size_t count, size_t size);
char *memory_text(const char *text);

/// Make room for one more element in a heap column: doubles `*room` when `n == *room`. Returns the (moved) column.
void *column_room(void *column, size_t n, size_t *room, size_t size);

/// Bytes with a length, owned elsewhere. n 0: unknown or empty.
struct bytes {
    const unsigned char *at;
    size_t n;
};
#endif
