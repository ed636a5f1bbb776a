/* SPDX-License-Identifier: GPL-3.0-or-later
 * Shared within exchange/. */
#ifndef SPINNEY_EXCHANGE_INSIDE_H
#define SPINNEY_EXCHANGE_INSIDE_H
#include "exchange/exchange.h"
#include <stdio.h>
#include <stdlib.h>

/// The row of this id (rows stand in order of id), or NULL.
const void *exchange_find(const struct exchange_set *set, enum noun noun, int64_t id);
/// Its UUID as text in the arena, or NULL.
const char *exchange_uuid(const struct exchange_set *set, enum noun noun, int64_t id, struct arena *arena);
/// SHA-256 of bytes, in hexadecimal.
void exchange_sha256(const void *bytes, size_t n, char out[65]);
/// A text cell that no spreadsheet runs: led by an apostrophe where it begins like a formula or with an apostrophe.
const char *exchange_guard(const char *text, struct arena *arena);
/// What this package is called, and one paragraph on what it holds.
const char *exchange_title(const struct exchange_set *set, const struct exchange_terms *terms);
const char *exchange_abstract(const struct exchange_set *set, struct arena *arena);
/// The licence's page, or NULL for one that is not known here.
const char *exchange_licence_page(const char *licence);
/// The programme's row, or NULL.
const struct programme *exchange_programme(const struct exchange_set *set);
#endif
