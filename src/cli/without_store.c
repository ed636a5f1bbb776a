/* SPDX-License-Identifier: GPL-3.0-or-later
 * Until the store is built: commands that need no programme file still run. */
#include "store/store.h"

enum outcome store_open(const char *path, enum store_mode mode, struct store **out, struct failure *why)
{
    (void)path;
    (void)mode;
    (void)out;
    return fail(why, OUTCOME_SYSTEM, "This build has no store.");
}

void store_close(struct store *store)
{
    (void)store;
}
