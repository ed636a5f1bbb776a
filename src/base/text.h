/* SPDX-License-Identifier: GPL-3.0-or-later
 * Text that grows, numbers as text in every locale the same, and a few comparisons. */
#ifndef SPINNEY_BASE_TEXT_H
#define SPINNEY_BASE_TEXT_H
#include "base/memory.h"
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/// Text being built; `{0}` is empty. Free with text_free; `at` is always ended by NUL once something was added.
struct text {
    char *at;
    size_t n, room;
};
void text_add(struct text *text, const char *more);
void text_add_n(struct text *text, const char *more, size_t n);
void text_print(struct text *text, const char *format, ...) __attribute__((format(printf, 2, 3)));
void text_free(struct text *text);
const char *text_get(const struct text *text); ///< never NULL

bool text_same(const char *a, const char *b);        ///< NULL is equal only to NULL
bool text_same_nocase(const char *a, const char *b); ///< ASCII letters only
bool text_blank(const char *a);                      ///< NULL, empty or white space
/// Copy without white space at both ends.
char *text_trim(struct arena *arena, const char *a);
/// Edits (insert, delete, change, swap of neighbours) between two texts, byte by byte; more than `limit` returns limit + 1.
int text_distance(const char *a, const char *b, int limit);

/// Unknown is one fixed NaN; a NaN that a computation produced is an error.
double unknown_real(void);
bool is_known(double x);
#define INT_UNKNOWN INT64_MIN

/// Shortest decimal that reads back as the same double, with a point in every locale. `out` needs 40 bytes.
void number_write(double x, char out[40]);
/// `digits` after the point, rounded half away from zero as printed figures are read; a point in every locale.
void number_fixed(double x, int digits, char out[64]);
/// A whole text as a number: optional sign, digits, one decimal point, exponent. True if all of it was read.
bool number_read(const char *a, double *x);
/// The same for whole numbers; refuses a fraction and what does not fit.
bool integer_read(const char *a, int64_t *x);
#endif
