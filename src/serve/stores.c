/* SPDX-License-Identifier: GPL-3.0-or-later
 * The programme file kept open between requests. It is checked when opened; after that looks share what was checked, until the file changes
 * by another hand. A store is used by one worker at a time: each takes one and gives it back.
 *
 * How another hand is noticed: `watch` is a connection that does nothing but ask whether others have committed. What this server writes is
 * told apart because only one worker writes at a time: after its job the watch is asked anew, and the writer's own connection says whether
 * anyone else committed while it was kept. */
#include "serve/private.h"
#include "store/store.h"
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

void stores_init(struct stores *stores, const char *path)
{
    *stores = (struct stores){.path = path};
    pthread_mutex_init(&stores->lock, NULL);
}

/* Close what is idle; what workers hold is closed as it comes back, for its generation is over. */
static void forget(struct stores *stores)
{
    while (stores->n_idle > 0)
        store_close(stores->idle[--stores->n_idle]);
    store_close(stores->watch);
    stores->watch = NULL;
    stores->generation++;
}

static void writer_forget(struct stores *stores)
{
    store_close(stores->writer);
    stores->writer = NULL;
}

void stores_clear(struct stores *stores)
{
    forget(stores);
    writer_forget(stores);
    pthread_mutex_destroy(&stores->lock);
}

/* Whether the file under this name is still the one that was opened. */
static bool file_same(const struct stores *stores)
{
    struct stat about;
    return stat(stores->path, &about) == 0 && about.st_dev == stores->device && about.st_ino == stores->inode;
}

static void file_note(struct stores *stores)
{
    struct stat about;
    if (stat(stores->path, &about) == 0) {
        stores->device = about.st_dev;
        stores->inode = about.st_ino;
    }
}

/* Under the lock: open and check the file. */
static enum outcome watch_open(struct stores *stores, struct failure *why)
{
    file_note(stores);
    enum outcome outcome = store_open(stores->path, STORE_READ, &stores->watch, why);
    if (outcome == OUTCOME_OK)
        outcome = store_seen(stores->watch, &stores->seen, why);
    if (outcome != OUTCOME_OK) {
        store_close(stores->watch);
        stores->watch = NULL;
    }
    return outcome;
}

/* Under the lock: let go of everything if another hand was at the file. While this server writes, the writer looks after that itself. */
static void foreign_look(struct stores *stores)
{
    int64_t seen = 0;
    struct failure why;
    if (stores->watch == NULL || (stores->writing && file_same(stores)))
        return;
    if (file_same(stores) && store_seen(stores->watch, &seen, &why) == OUTCOME_OK && seen == stores->seen)
        return;
    forget(stores);
    if (!stores->writing)
        writer_forget(stores);
}

/* Opening to write may bring the file forward or mend it: then what looks learned of it is out of date. */
static enum outcome writer_open(struct stores *stores, struct kept *out, struct failure *why)
{
    int64_t seen = 0;
    struct failure none;
    enum outcome outcome = store_open(stores->path, STORE_WRITE, &out->store, why);
    pthread_mutex_lock(&stores->lock);
    if (stores->watch == NULL || store_seen(stores->watch, &seen, &none) != OUTCOME_OK || seen != stores->seen)
        forget(stores);
    out->generation = stores->generation;
    pthread_mutex_unlock(&stores->lock);
    return outcome;
}

enum outcome stores_take(struct stores *stores, bool writes, struct kept *out, struct failure *why)
{
    enum outcome outcome = OUTCOME_OK;
    *out = (struct kept){.writes = writes};
    pthread_mutex_lock(&stores->lock);
    foreign_look(stores);
    if (stores->watch == NULL)
        outcome = watch_open(stores, why);
    out->generation = stores->generation;
    if (outcome == OUTCOME_OK && writes) {
        stores->writing = true;
        out->store = stores->writer;
        stores->writer = NULL;
    } else if (outcome == OUTCOME_OK && stores->n_idle > 0) {
        out->store = stores->idle[--stores->n_idle];
    } else if (outcome == OUTCOME_OK) {
        outcome = store_join(stores->watch, &out->store, why);
    }
    pthread_mutex_unlock(&stores->lock);
    if (outcome == OUTCOME_OK && out->store == NULL)
        outcome = writer_open(stores, out, why);
    if (outcome == OUTCOME_OK && writes)
        outcome = store_seen(out->store, &out->seen, why);
    if (outcome != OUTCOME_OK)
        stores_give(stores, out, outcome);
    return outcome;
}

/* Under the lock, after a job that may have written: its own commits are no news, those of others are. */
static void writer_back(struct stores *stores, struct kept *kept, enum outcome outcome)
{
    struct failure why;
    int64_t seen = 0;
    bool fine = kept->store != NULL && outcome != OUTCOME_SYSTEM && kept->generation == stores->generation && file_same(stores);
    if (fine && stores->watch != NULL)
        fine = store_seen(stores->watch, &stores->seen, &why) == OUTCOME_OK;
    if (fine)
        fine = store_seen(kept->store, &seen, &why) == OUTCOME_OK && seen == kept->seen;
    stores->writing = false;
    if (fine && stores->writer == NULL) {
        stores->writer = kept->store;
        kept->store = NULL;
    } else {
        forget(stores);
    }
}

void stores_give(struct stores *stores, struct kept *kept, enum outcome outcome)
{
    if (kept->writes && kept->store != NULL)
        store_gather(kept->store);
    pthread_mutex_lock(&stores->lock);
    if (kept->writes) {
        writer_back(stores, kept, outcome);
    } else if (kept->store != NULL && outcome != OUTCOME_SYSTEM && kept->generation == stores->generation && stores->n_idle < WORKERS) {
        stores->idle[stores->n_idle++] = kept->store;
        kept->store = NULL;
    }
    pthread_mutex_unlock(&stores->lock);
    store_close(kept->store);
    *kept = (struct kept){.store = NULL};
}
