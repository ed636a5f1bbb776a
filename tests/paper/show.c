/* SPDX-License-Identifier: GPL-3.0-or-later
 * Writes every sample document into a folder: paper_show FOLDER. For looking at. */
#include "samples.h"
#include <stdio.h>

static void put(const char *folder, const char *name, enum outcome outcome, struct text *out, const struct failure *why)
{
    char path[1000], words[3000];
    struct failure other;
    snprintf(path, sizeof path, "%s/%s", folder, name);
    failure_print(why, words, sizeof words);
    if (outcome != OUTCOME_OK || (outcome = file_write(path, text_get(out), out->n, &other)) != OUTCOME_OK)
        fprintf(stderr, "%s: %s\n", name, words);
    text_free(out);
}

int main(int n, char **arguments)
{
    struct arena arena = {0};
    struct failure why = {0};
    struct text out = {0};
    if (n < 2)
        return 2;
    struct cards cards;
    sample_cards(&arena, 15, 15, &cards);
    put(arguments[1], "cards.pdf", cards_pdf(&cards, &out, NULL, &why), &out, &why);
    put(arguments[1], "cards.html", cards_html(&cards, &out, &why), &out, &why);
    arena_clear(&arena);
    return 0;
}
