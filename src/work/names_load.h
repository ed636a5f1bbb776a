/* SPDX-License-Identifier: GPL-3.0-or-later
 * The names of the species library as plain pairs. */
#ifndef SPINNEY_WORK_NAMES_LOAD_H
#define SPINNEY_WORK_NAMES_LOAD_H
#include "store/store.h"

/// A name people use and the accepted one.
struct name_pair {
    const char *name, *accepted;
};
/// Names and synonyms of the programme's species library.
enum outcome names_load(struct store *store, struct arena *arena, struct name_pair **out, size_t *n, struct failure *why);
#endif
