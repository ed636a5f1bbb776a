/* SPDX-License-Identifier: GPL-3.0-or-later
 * Any bytes as the table of sites in a data package: refused with a reason, or rows that are valid and come back the same. */
#include "exchange/exchange.h"
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    static const char package[] = "{}", programme[] = "id,name,crs,currency,seed\n00000000-0000-4000-8000-000000000001,a,32630,EUR,1\n";
    if (n > 100000)
        return 0;
    struct arena arena = {0};
    struct failure why = {0};
    struct exchange_files files = {0}, again = {0};
    struct exchange_set set, back;
    struct exchange_terms terms = {.licence = "CC0-1.0", .version = "0", .square_m = 1000, .keep_names = true, .keep_places = true};
    exchange_add(&files, "datapackage.json", package, sizeof package - 1, &arena);
    exchange_add(&files, "data/programme.csv", programme, sizeof programme - 1, &arena);
    exchange_add(&files, "data/site.csv", data, n, &arena);
    if (exchange_read(files.file, files.n, &arena, &set, &why) != OUTCOME_OK) {
        if (why.sentence[0] == '\0')
            abort();
        arena_clear(&arena);
        return 0;
    }
    const char *rows = set.of[NOUN_SITE].rows;
    for (size_t i = 0; i < set.of[NOUN_SITE].n; i++)
        if (noun_check(NOUN_SITE, rows + i * noun_infos[NOUN_SITE].size, &why) != OUTCOME_OK)
            abort();
    if (exchange_package(&set, &terms, &arena, &again, &why) != OUTCOME_OK ||
        exchange_read(again.file, again.n, &arena, &back, &why) != OUTCOME_OK || back.of[NOUN_SITE].n != set.of[NOUN_SITE].n)
        abort();
    arena_clear(&arena);
    return 0;
}
