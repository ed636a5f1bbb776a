/* SPDX-License-Identifier: GPL-3.0-or-later
 * What the tests of the programme file share: a folder of their own, a small wood, and steps in one line. */
#ifndef SPINNEY_TEST_STORE_HELP_H
#define SPINNEY_TEST_STORE_HELP_H
#include "store/store.h"
#include "testlib.h"

/// A fresh path in this process's own folder, which goes when the process ends.
const char *fresh_path(const char *name);
/// Fails the test with the failure's words unless the outcome is OK.
void good(enum outcome outcome, const struct failure *why);
struct programme a_programme(void);
struct site a_site(const char *code);
struct plot a_plot(int64_t site, const char *code);
struct plant a_plant(int64_t plot, int number);
/// A new programme file with one site (id 1) and two plots D1 and C1 (ids 1, 2), open to write.
struct store *small_wood(const char *path);
/// Square of `side_m` from (x, y) as little-endian WKB polygon, in the arena.
struct bytes square_wkb(struct arena *arena, double x_m, double y_m, double side_m);
/// Run SQL on the file as another program would, but with the functions the triggers need and no foreign keys.
void meddle(const char *path, const char *sql);
/// Turn a fresh file into one of layout 0 that lacks two fields and a noun.
void make_older(const char *path);
int64_t count_rows(struct store *store, enum noun noun);
/// The whole state of the file as one number: equal files have equal numbers.
uint64_t state_of(struct store *store);
/// What a shell command prints, at most 64 kB, in a static buffer; the exit status in *status.
const char *shell(int *status, const char *format, ...) __attribute__((format(printf, 2, 3)));
#endif
