/* SPDX-License-Identifier: GPL-3.0-or-later
 * Invented census sheets for the demonstration: every plant of a programme lives or dies by stated hazards, from a seed.
 * spinney-demo PLANTS.json FOLDER SEED: PLANTS.json is the answer of `spinney rows FILE plant --json`. */
#include "base/base.h"
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* The truth: chance to die in the first year and after, by plot, and height gain in cm. All invented. */
struct truth {
    const char *plot;
    double first_year, later, gain_cm;
};
static const struct truth truths[] = {{"D", 0.12, 0.06, 30}, {"C", 0.24, 0.09, 20}};
enum { CENSUSES = 4 };
static const char *const days[CENSUSES] = {"2022-03-08", "2022-09-14", "2023-09-12", "2024-09-17"};

struct life {
    const char *tag, *cell, *species;
    char plot[8];
    int64_t number;
    double height_cm[CENSUSES];
    int died; ///< first census at which it is dead; CENSUSES: alive to the end
};

static const struct truth *truth_of(const char *plot)
{
    return &truths[plot[0] == 'C'];
}

static void life_live(struct life *life, uint64_t seed, uint64_t which)
{
    struct random_stream r = random_make(seed, which);
    const struct truth *truth = truth_of(life->plot);
    life->died = CENSUSES;
    life->height_cm[0] = floor(42 + 16 * random_uniform(&r));
    for (int c = 1; c < CENSUSES; c++) {
        double hazard = c == 1 ? truth->first_year : truth->later;
        if (life->died == CENSUSES && random_uniform(&r) < hazard)
            life->died = c;
        double gain = truth->gain_cm * (c == 1 ? 0.5 : 1) * exp(0.35 * random_normal(&r));
        life->height_cm[c] = floor(life->height_cm[c - 1] + gain);
    }
}

/* One sheet; the third carries three slips that the import must hold: a tenfold height, a shrunk plant, a plant alive again. */
static int sheet_write(const char *folder, int census, const struct life *lives, size_t n)
{
    char path[4096];
    snprintf(path, sizeof path, "%s/census-%d.csv", folder, census);
    struct text out = {0};
    text_add(&out, "plot,tag,cell,number,species,state,height in cm,date,observer\n");
    size_t slips = 0;
    for (size_t i = 0; i < n; i++) {
        bool alive = census < lives[i].died;
        double height = lives[i].height_cm[census];
        if (census == 2 && alive && slips < 2 && i % 97 == 11)
            height = slips++ == 0 ? height * 10 : floor(lives[i].height_cm[1] * 0.5);
        text_print(&out, "%s,%s,%s,%lld,%s,%s,", lives[i].plot, lives[i].tag, lives[i].cell, (long long)lives[i].number, lives[i].species,
                   alive ? "alive" : "dead");
        if (alive)
            text_print(&out, "%.0f", height);
        text_print(&out, ",%s,V%03d\n", days[census], 1 + (int)(i / 120));
    }
    struct failure why;
    enum outcome outcome = file_write(path, out.at, out.n, &why);
    text_free(&out);
    if (outcome != OUTCOME_OK)
        fprintf(stderr, "spinney-demo: %s\n", why.sentence);
    return (int)outcome;
}

int main(int argc, char **argv)
{
    if (argc != 4) {
        fputs("spinney-demo PLANTS.json FOLDER SEED\n", stderr);
        return 2;
    }
    json_error_t error;
    json_t *answer = json_load_file(argv[1], 0, &error);
    json_t *rows = json_object_get(json_object_get(answer, "data"), "rows");
    size_t n = json_array_size(rows);
    struct life *lives = memory_get(n == 0 ? 1 : n, sizeof *lives);
    uint64_t seed = strtoull(argv[3], NULL, 10);
    for (size_t i = 0; i < n; i++) {
        const json_t *row = json_array_get(rows, i);
        lives[i].tag = json_string_value(json_object_get(row, "tag"));
        lives[i].cell = json_string_value(json_object_get(row, "cell_code"));
        lives[i].species = json_string_value(json_object_get(row, "species"));
        lives[i].number = json_integer_value(json_object_get(row, "number"));
        const char *dash = strchr(lives[i].tag, '-');
        snprintf(lives[i].plot, sizeof lives[i].plot, "%.2s", dash == NULL ? "D1" : dash + 1);
        life_live(&lives[i], seed, (uint64_t)json_integer_value(json_object_get(row, "id")));
    }
    int status = n == 0;
    for (int c = 0; c < CENSUSES && status == 0; c++)
        status = sheet_write(argv[2], c, lives, n);
    free(lives);
    json_decref(answer);
    return status;
}
