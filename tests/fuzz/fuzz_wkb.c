/* SPDX-License-Identifier: GPL-3.0-or-later
 * Any bytes as well-known binary: refused, or a geometry that comes back the same. */
#include "model/model_json.h"
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    struct arena arena = {0};
    struct failure why = {0};
    struct bytes wkb = {0};
    json_t *once = NULL, *twice = NULL;
    if (wkb_to_json((struct bytes){data, n}, &once, &why) == OUTCOME_OK) {
        if (wkb_from_json(once, &arena, &wkb, &why) != OUTCOME_OK || wkb_to_json(wkb, &twice, &why) != OUTCOME_OK ||
            !json_equal(once, twice))
            abort();
    }
    json_decref(once);
    json_decref(twice);
    arena_clear(&arena);
    return 0;
}
