/* SPDX-License-Identifier: GPL-3.0-or-later
 * Any bytes as a table of reference stands: refused, or lines whose numbers add up to a constancy table. */
#include "work/jobs.h"
#include "work/note.h"
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    static const char *const scales[] = {"percent", "braun_blanquet", "domin"};
    if (n == 0 || n > 20000)
        return 0;
    char *copy = malloc(n + 1);
    if (copy == NULL)
        return 0;
    memcpy(copy, data, n);
    copy[n] = '\0';
    for (size_t i = 0; i < 3; i++) {
        struct failure why = {0};
        struct job_context context = {.today = 20000, .upload = copy, .upload_n = n};
        json_t *in = json_pack("{s:s, s:s, s:s}", "file", "stands.csv", "scale", scales[i], "merge", i == 0 ? "" : "all"), *note = NULL;
        if (job_releves.run(&context, in, &note, &why) == OUTCOME_OK) {
            const json_t *found = json_object_get(note, "data");
            json_int_t taken = json_integer_value(json_object_get(found, "taken")),
                       stands = json_integer_value(json_object_get(found, "stands"));
            const json_t *list = json_object_get(found, "constancy"), *one = NULL;
            size_t k = 0;
            if (stands > taken || (taken > 0) != (stands > 0))
                abort();
            json_array_foreach(list, k, one)
            {
                json_int_t constancy = json_integer_value(json_object_get(one, "constancy"));
                if (constancy < 1 || constancy > 5 || json_number_value(json_object_get(one, "cover_pct")) > 100)
                    abort();
            }
        } else if (why.sentence[0] == '\0') {
            abort();
        }
        json_decref(note);
        json_decref(in);
    }
    free(copy);
    return 0;
}
