/* SPDX-License-Identifier: GPL-3.0-or-later
 * Any bytes as a zip that holds a data package or a recipe: refused with a reason, or files within the limits. */
#include "work/package_files.h"
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    static const char *const names[] = {NULL, "recipe.json"};
    if (n == 0 || n > 100000)
        return 0;
    for (int i = 0; i < 2; i++) {
        struct arena arena = {0};
        struct failure why = {0};
        struct exchange_files files = {0};
        struct exchange_set set;
        struct bytes zip = {data, n};
        enum outcome outcome =
            names[i] == NULL ? package_load("", zip, &arena, &files, &why) : package_load_one("", zip, names[i], &arena, &files, &why);
        if (outcome != OUTCOME_OK && why.sentence[0] == '\0')
            abort();
        if (files.n > PACKAGE_MOST_FILES)
            abort();
        if (outcome == OUTCOME_OK && names[i] == NULL && exchange_read(files.file, files.n, &arena, &set, &why) != OUTCOME_OK &&
            why.sentence[0] == '\0')
            abort();
        arena_clear(&arena);
    }
    return 0;
}
