/* SPDX-License-Identifier: GPL-3.0-or-later
 * Any bytes opened as a programme file: refused or read, checked and changed, and never a crash. */
#include "store/store.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

static void use(const char *path, enum store_mode mode)
{
    struct store *store = NULL;
    struct failure why = {0};
    struct arena arena = {0};
    if (store_open(path, mode, &store, &why) != OUTCOME_OK)
        return;
    for (int noun = 0; noun < NOUN_COUNT; noun++) {
        void *rows = NULL;
        struct store_past *past = NULL;
        size_t n = 0;
        store_load(store, (enum noun)noun, NULL, 0, true, &arena, &rows, &n, &why);
        store_history(store, (enum noun)noun, 1, &arena, &past, &n, &why);
    }
    const char **findings = NULL;
    struct store_step *steps = NULL;
    size_t n = 0;
    store_verify(store, &arena, &findings, &n, &why);
    if (store_steps(store, 10, &arena, &steps, &n, &why) == OUTCOME_OK && n > 0 && mode == STORE_WRITE)
        store_undo(store, steps[0].id, "fuzz", NULL, &why);
    store_close(store);
    arena_clear(&arena);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    char path[] = "/tmp/spinney-fuzz-XXXXXX", command[160];
    int handle = mkstemp(path);
    if (handle < 0)
        return 0;
    bool written = write(handle, data, n) == (ssize_t)n;
    close(handle);
    if (written) {
        use(path, STORE_READ);
        use(path, STORE_WRITE);
    }
    snprintf(command, sizeof command, "%s-wal", path);
    unlink(command);
    snprintf(command, sizeof command, "%s-shm", path);
    unlink(command);
    snprintf(command, sizeof command, "%s-journal", path);
    unlink(command);
    snprintf(command, sizeof command, "%s.before-layout-1.gpkg", path);
    unlink(command);
    unlink(path);
    return 0;
}
