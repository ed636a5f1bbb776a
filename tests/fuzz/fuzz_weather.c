/* SPDX-License-Identifier: GPL-3.0-or-later
 * Any bytes as a weather table of each form: refused, or days in order with nothing that cannot be. */
#include "water/water.h"
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    struct arena arena = {0};
    struct failure why = {0};
    struct csv_table table = {0};
    if (csv_read("weather.csv", (const char *)data, n, ',', 100000, &arena, &table, &why) == OUTCOME_OK) {
        const struct weather_form *form = NULL;
        for (size_t i = 0; (form = weather_form_get(i)) != NULL; i++) {
            struct weather_series weather = {0};
            if (weather_read(&table, form, &arena, &weather, &why) != OUTCOME_OK)
                continue;
            for (size_t k = 0; k < weather.n; k++)
                if (weather.day[k] != weather.day[0] + (int32_t)k || weather.rain_mm[k] < 0)
                    abort();
        }
    }
    arena_clear(&arena);
    return 0;
}
