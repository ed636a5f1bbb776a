/* SPDX-License-Identifier: GPL-3.0-or-later
 * Any bytes as a filter on plants: refused with a reason, or a condition that answers for a row with and without values. */
#include "exchange/cql.h"
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    if (n > 20000)
        return 0;
    struct arena arena = {0};
    struct failure why = {0};
    struct cql *cql = NULL;
    char *text = arena_text_n(&arena, (const char *)data, n);
    if (cql_read(text, NOUN_PLANT, &arena, &cql, &why) != OUTCOME_OK) {
        if (why.sentence[0] == '\0' || cql != NULL)
            abort();
        arena_clear(&arena);
        return 0;
    }
    struct plant plant;
    struct exchange_set set = {0};
    noun_init(NOUN_PLANT, &plant);
    set.of[NOUN_PLANT] = (struct exchange_rows){&plant, 1};
    struct cql_row row = {&set, &plant, NULL};
    bool before = cql_holds(cql, &row);
    plant.id = 1, plant.uuid = uuid_from(1, 2), plant.species = "Quercus robur", plant.number = 3, plant.planted_on = date_make(2024, 2, 1);
    struct shape point = shape_points(&arena, (double[2]){-7.5, 48.5}, 1);
    row.place = &point;
    cql_holds(cql, &row);
    noun_init(NOUN_PLANT, &plant);
    row.place = NULL;
    if (cql_holds(cql, &row) != before)
        abort();
    arena_clear(&arena);
    return 0;
}
