/* SPDX-License-Identifier: GPL-3.0-or-later
 * spinney-demo: the invented inputs of the demonstration, and its censuses with their truth and their planted mistakes.
 *   spinney-demo inputs FOLDER SEED            FOLDER/inputs, FOLDER/truth
 *   spinney-demo records FOLDER SEED PLANTS    PLANTS: the answer of `spinney rows FILE plant --most 100000 --json` */
#include "lives.h"
#include <stdio.h>
#include <string.h>

int main(int n, char **words)
{
    char path[4096];
    int64_t seed = 0;
    if (n < 4 || !integer_read(words[3], &seed) || (strcmp(words[1], "records") == 0 && n < 5)) {
        fprintf(stderr, "Usage: spinney-demo inputs FOLDER SEED\n       spinney-demo records FOLDER SEED PLANTS.json\n");
        return 2;
    }
    if (strcmp(words[1], "inputs") == 0) {
        snprintf(path, sizeof path, "%s/inputs", words[2]);
        maps_write(path, (uint64_t)seed);
        ledgers_write(path, (uint64_t)seed);
        wildlife_write(path, (uint64_t)seed);
        incidents_write(path);
        decisions_write(path, "decisions-inputs.csv");
        snprintf(path, sizeof path, "%s/truth", words[2]);
        mistakes_write(path, "mistakes-inputs.csv");
        return 0;
    }
    struct lives lives;
    lives_make(words[4], (uint64_t)seed, &lives);
    snprintf(path, sizeof path, "%s/truth", words[2]);
    truth_write(&lives, path);
    sheets_write(&lives, words[2]);
    char records[4096];
    snprintf(records, sizeof records, "%s/records", words[2]);
    rounds_write(&lives, records, path);
    mistakes_write(path, "mistakes-records.csv");
    snprintf(path, sizeof path, "%s/inputs", words[2]);
    decisions_write(path, "decisions.csv");
    lives_free(&lives);
    return 0;
}
