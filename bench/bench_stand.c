/* SPDX-License-Identifier: GPL-3.0-or-later
 * Speed and memory of the look ahead: 1,000 runs × 1,000 plants × 30 years, and cost per plant and year from 1,000 to a
 * million plants. Prints; nothing asserts a time. Also: bench_stand tell [DENSITY] prints how a stand goes. */
#include "stand/stand.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>

static double now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static double cpu_s(void)
{
    struct rusage use;
    getrusage(RUSAGE_SELF, &use);
    return (double)(use.ru_utime.tv_sec + use.ru_stime.tv_sec) + 1e-6 * (double)(use.ru_utime.tv_usec + use.ru_stime.tv_usec);
}

static const struct stand_traits traits[] = {
    {"Quercus robur", LAYER_CANOPY, 30, 2.45, 2.95, 0.56, 2, NAN, 0},
    {"Betula pendula", LAYER_CANOPY, 25, 2.03, 1.85, 0.53, 3, NAN, 0},
    {"Carpinus betulus", LAYER_CANOPY, 25, 3.97, 2.66, 0.71, 2, NAN, 0},
    {"Acer campestre", LAYER_SUBCANOPY, 15, 3.18, 2.93, 0.59, 2, NAN, 0},
    {"Sorbus aucuparia", LAYER_SUBCANOPY, 15, 2.73, 2.11, 0.55, 3, NAN, 0},
    {"Corylus avellana", LAYER_SHRUB, 6, 3.53, 3.04, 0.52, 2, NAN, 0},
    {"Crataegus monogyna", LAYER_SHRUB, 8, 1.95, 3.46, 0.65, 2, NAN, 0},
    {"Prunus spinosa", LAYER_SHRUB, 4, 1.9, 3.8, 0.65, 2, NAN, 0},
};
enum { KINDS = sizeof traits / sizeof *traits };

static struct stand_plant *square(size_t n, double density, double *side, struct stand_kind *kinds)
{
    size_t across = (size_t)ceil(sqrt((double)n));
    double step = 1 / sqrt(density);
    struct stand_plant *plants = malloc(n * sizeof *plants);
    struct random_stream r = random_make(7, 7);
    for (size_t k = 0; k < KINDS; k++)
        kinds[k] = stand_kind_of(&traits[k]);
    for (size_t i = 0; i < n; i++)
        plants[i] = (struct stand_plant){.x_m = ((double)(i % across) + 0.2 + 0.6 * random_uniform(&r)) * step,
                                         .y_m = ((double)(i / across) + 0.2 + 0.6 * random_uniform(&r)) * step,
                                         .kind = (uint32_t)random_below(&r, KINDS),
                                         .height_m = 0.4 + 0.2 * random_uniform(&r),
                                         .diameter_cm = NAN};
    *side = (double)across * step;
    return plants;
}

static struct stand_setting setting_of(const struct stand_kind *kinds, const struct stand_plant *plants, size_t n, double side)
{
    struct stand_setting setting;
    stand_setting_init(&setting);
    setting.kinds = kinds;
    setting.n_kinds = KINDS;
    setting.plants = plants;
    setting.n_plants = n;
    setting.box = (struct box){0, 0, side, side};
    return setting;
}

static void timed(size_t n, size_t runs, int years)
{
    struct stand_kind kinds[KINDS];
    double side;
    struct stand_plant *plants = square(n, 3, &side, kinds);
    struct stand_setting setting = setting_of(kinds, plants, n, side);
    setting.runs = runs;
    setting.years = years;
    struct arena arena = {0};
    struct stand_result result;
    struct failure why = {0};
    double begun = now_s(), cpu_begun = cpu_s();
    if (stand_look_ahead(&setting, &arena, &result, &why) != OUTCOME_OK)
        printf("%s\n", why.sentence);
    double took = now_s() - begun, cpu = cpu_s() - cpu_begun;
    struct rusage use;
    getrusage(RUSAGE_SELF, &use);
    double lived = 0;
    for (size_t row = 0; row < runs * ((size_t)years + 1); row++)
        lived += (double)result.measure[row * STAND_MEASURES + STAND_ALIVE];
    printf("%8zu plants %6zu runs %3d years: %7.2f s, processors busy %7.2f s: %4.0f ns a plant and year, %4.0f a living one; most memory "
           "so far %.0f MB\n",
           n, runs, years, took, cpu, 1e9 * cpu / ((double)n * (double)runs * years), 1e9 * cpu / lived, (double)use.ru_maxrss / 1024);
    arena_clear(&arena);
    free(plants);
}

static void tell(double density)
{
    struct stand_kind kinds[KINDS];
    double side;
    struct stand_plant *plants = square(1000, density, &side, kinds);
    struct stand_setting setting = setting_of(kinds, plants, 1000, side);
    setting.runs = 40;
    setting.years = 60;
    setting.inequality = true;
    struct arena arena = {0};
    struct stand_result result;
    struct failure why = {0};
    if (stand_look_ahead(&setting, &arena, &result, &why) != OUTCOME_OK)
        printf("%s\n", why.sentence);
    printf("year");
    for (int m = 0; m < STAND_MEASURES; m++)
        printf(" %11s", stand_measures[m].name);
    for (int k = 0; k < STAND_DEATHS; k++)
        printf(" %8.8s", stand_death_words[k]);
    printf("\n");
    for (int year = 0; year <= 60; year += year < 10 ? 1 : 5) {
        printf("%4d", year);
        for (int m = 0; m < STAND_MEASURES; m++)
            printf(" %11.3f", stand_quantile(&result, m, year, 0.5));
        for (size_t k = 0; k < STAND_DEATHS; k++)
            printf(" %8.1f", stand_mean_of(&result, result.deaths, STAND_DEATHS, k, year));
        printf("\n");
    }
    for (size_t k = 0; k < KINDS; k++) {
        printf("%-20s", kinds[k].name);
        for (int year = 0; year <= 60; year += year < 20 ? 5 : 10)
            printf("  %5.0f %5.1fm", stand_mean_of(&result, result.kind_alive, KINDS, k, year),
                   stand_mean_of(&result, result.kind_height, KINDS, k, year));
        printf("\n");
    }
    arena_clear(&arena);
    free(plants);
}

int main(int argc, char **argv)
{
    if (argc > 1 && strcmp(argv[1], "tell") == 0) {
        tell(argc > 2 ? atof(argv[2]) : 3);
        return 0;
    }
    if (argc > 1 && strcmp(argv[1], "short") == 0) {
        timed(1000, 100, 30);
        return 0;
    }
    timed(1000, 1000, 30);
    timed(1000, 1000, 10);
    timed(10000, 100, 10);
    timed(100000, 10, 10);
    timed(1000000, 1, 10);
    return 0;
}
