/* SPDX-License-Identifier: GPL-3.0-or-later
 * Packages of files on the disk: a folder or a zip, written whole or not at all, and read with limits. */
#ifndef SPINNEY_WORK_PACKAGE_FILES_H
#define SPINNEY_WORK_PACKAGE_FILES_H
#include "exchange/exchange.h"
#include "store/store.h"

/* Limits on a package that is read, against files made to do harm. */
enum { PACKAGE_MOST_BYTES = 1 << 30, PACKAGE_MOST_FILES = 1000, PACKAGE_MOST_RATIO = 400 };

/// Write the files as a zip where `path` ends in .zip (every file dated `day`), else as a folder. Refuses where something is
/// there. The folder is built beside and renamed when whole.
enum outcome package_write(const char *path, const struct exchange_files *files, int32_t day, struct failure *why);
/// Pack files whose path begins with `below` (which is taken off) into the bytes of a zip, in the arena.
enum outcome package_zip(const struct exchange_files *files, const char *below, int32_t day, struct arena *arena, struct bytes *out,
                         struct failure *why);
/// The tables of a package: datapackage.json and data/*.csv of a folder, or of a zip at `path` or in `zip` (n 0: read the path).
enum outcome package_load(const char *path, struct bytes zip, struct arena *arena, struct exchange_files *out, struct failure *why);

/// One file by its path in a package: of a folder, or of a zip at `path` or in `zip`. out->n 0: it is not there.
enum outcome package_load_one(const char *path, struct bytes zip, const char *name, struct arena *arena, struct exchange_files *out,
                              struct failure *why);

/// All living rows of every noun, with bytes fields left out.
enum outcome rows_load(struct store *store, struct arena *arena, struct exchange_set *out, struct failure *why);
/// A new programme file at `path` with these rows, in one step; UUIDs stay, keys follow. Nothing is left where it fails.
enum outcome rows_store(const char *path, const struct exchange_set *set, const char *author, const char *what, struct failure *why);
#endif
