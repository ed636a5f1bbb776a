/* SPDX-License-Identifier: GPL-3.0-or-later
 * Any bytes as the JSON of a row of any noun: refused, or a row that comes back the same. */
#include "model/model_json.h"
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    json_t *json = json_loadb((const char *)data, n, JSON_REJECT_DUPLICATES, NULL);
    for (int noun = 0; json != NULL && noun < NOUN_COUNT; noun++) {
        struct arena arena = {0};
        struct failure why = {0};
        void *row = memory_get(1, noun_infos[noun].size), *again = memory_get(1, noun_infos[noun].size);
        if (row_from_json((enum noun)noun, json, false, row, &arena, &why) == OUTCOME_OK) {
            json_t *once = row_json((enum noun)noun, row);
            if (row_from_json((enum noun)noun, once, false, again, &arena, &why) != OUTCOME_OK)
                abort();
            json_t *twice = row_json((enum noun)noun, again);
            if (!json_equal(once, twice))
                abort();
            json_decref(once);
            json_decref(twice);
        }
        free(row);
        free(again);
        arena_clear(&arena);
    }
    json_decref(json);
    return 0;
}
