/* SPDX-License-Identifier: GPL-3.0-or-later
 * Any bytes as a recipe pack: refused with a reason, or a pack that comes back the same. */
#include "exchange/recipe.h"
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    if (n > 100000)
        return 0;
    struct arena arena = {0};
    struct failure why = {0};
    struct recipe_pack pack, again;
    if (recipe_read((const char *)data, n, &arena, &pack, &why) != OUTCOME_OK) {
        if (why.sentence[0] == '\0')
            abort();
        arena_clear(&arena);
        return 0;
    }
    const char *text = recipe_text(&pack, &arena);
    if (recipe_read(text, strlen(text), &arena, &again, &why) != OUTCOME_OK || again.n_steps != pack.n_steps ||
        again.n_rules != pack.n_rules || again.n_costs != pack.n_costs || strcmp(text, recipe_text(&again, &arena)) != 0)
        abort();
    arena_clear(&arena);
    return 0;
}
