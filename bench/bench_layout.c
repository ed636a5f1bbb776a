/* SPDX-License-Identifier: GPL-3.0-or-later
 * Speed of layout/: plans of 300 to 1,000,000 plants of 26 species at 3 plants per square metre, beside the targets.
 *   bench_layout [most plants]        table of times and quality
 *   bench_layout PLANTS --points      the plan itself as comma-separated text, to look at */
#include "layout/layout.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>

/* Shares in per cent, tall or not, layer: an invented mix of the usual make-up. */
static const struct {
    int share;
    bool tall;
    enum layer layer;
} kinds[] = {{9, true, LAYER_CANOPY},     {8, false, LAYER_CANOPY},    {7, false, LAYER_CANOPY},    {5, true, LAYER_CANOPY},
             {5, false, LAYER_CANOPY},    {3, false, LAYER_CANOPY},    {2, true, LAYER_CANOPY},     {1, false, LAYER_CANOPY},
             {6, false, LAYER_SUBCANOPY}, {6, false, LAYER_SUBCANOPY}, {5, false, LAYER_SUBCANOPY}, {3, false, LAYER_SUBCANOPY},
             {3, false, LAYER_SUBCANOPY}, {3, false, LAYER_SUBCANOPY}, {2, false, LAYER_SUBCANOPY}, {8, false, LAYER_SHRUB},
             {6, false, LAYER_SHRUB},     {3, false, LAYER_SHRUB},     {3, false, LAYER_SHRUB},     {3, false, LAYER_SHRUB},
             {2, false, LAYER_SHRUB},     {2, false, LAYER_SHRUB},     {2, false, LAYER_SHRUB},     {1, false, LAYER_SHRUB},
             {1, false, LAYER_SHRUB},     {1, false, LAYER_SHRUB}};
enum { N_KINDS = sizeof kinds / sizeof *kinds };

static double now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static void wish_make(size_t n, struct layout_species *species, double *xy, struct ring *ring, struct shape_part *part, struct shape *shape,
                      struct layout_wish *wish)
{
    double side = sqrt((double)n / 3);
    size_t given = 0;
    const double corners[] = {0, 0, side, 0, side, side, 0, side, 0, 0};
    memcpy(xy, corners, sizeof corners);
    *ring = (struct ring){xy, 5};
    *part = (struct shape_part){ring, 1};
    *shape = (struct shape){SHAPE_POLYGONS, part, 1};
    static char names[N_KINDS][16];
    for (size_t s = 0; s < N_KINDS; s++) {
        snprintf(names[s], sizeof names[s], "species %zu", s + 1);
        species[s] = (struct layout_species){.name = names[s], .layer = kinds[s].layer, .tall = kinds[s].tall};
        species[s].plants = n * (size_t)kinds[s].share / 100;
        given += species[s].plants;
    }
    for (size_t s = 0; given < n; s = (s + 1) % N_KINDS, given++)
        species[s].plants++;
    *wish = (struct layout_wish){.ground = shape, .bearing_deg = 90, .species = species, .n_species = N_KINDS, .seed = 20211120};
}

static void points_print(const struct layout *layout)
{
    printf("x,y,species,tall,layer,cell\n");
    for (size_t i = 0; i < layout->n_positions; i++) {
        const struct layout_position *p = &layout->positions[i];
        printf("%.3f,%.3f,%d,%d,%d,%s\n", p->x_m, p->y_m, p->species, kinds[p->species].tall, (int)kinds[p->species].layer,
               layout->cells[p->cell].code);
    }
}

int main(int argc, char **argv)
{
    size_t most = argc > 1 ? strtoul(argv[1], NULL, 10) : 20000;
    bool points = argc > 2 && strcmp(argv[2], "--points") == 0;
    const struct {
        size_t plants;
        double target_s;
    } sizes[] = {{300, 0.2}, {2000, 0.2}, {20000, 2}, {200000, 60}, {1000000, 600}};
    if (!points)
        printf("plants    plan s  at work s  target  least m  hexagon m     R  same nbr %%  chance %%  tall least m (hexagon)  layers/cell "
               "(chance)  "
               "MB\n");
    for (size_t k = 0; k < 5; k++) {
        size_t n = points ? most : sizes[k].plants;
        struct layout_species species[N_KINDS];
        double xy[10];
        struct ring ring;
        struct shape_part part;
        struct shape shape;
        struct layout_wish wish;
        struct arena arena = {0};
        struct layout layout;
        struct layout_quality q;
        struct failure why;
        if (n > most)
            break;
        wish_make(n, species, xy, &ring, &part, &shape, &wish);
        double start = now_s();
        clock_t began = clock();
        if (layout_plan(&wish, NULL, &arena, &layout, &why) != OUTCOME_OK) {
            fprintf(stderr, "%s %s\n", why.sentence, why.remedy);
            return 1;
        }
        double took = now_s() - start, busy = (double)(clock() - began) / CLOCKS_PER_SEC;
        if (points) {
            points_print(&layout);
            return 0;
        }
        struct rusage usage;
        getrusage(RUSAGE_SELF, &usage);
        if (layout_judge(&layout, &wish, 0, &arena, &q, &why) != OUTCOME_OK)
            return 1;
        printf("%7zu %8.3f %8.3f %7.1f %8.2f %10.3f %5.2f %11.2f %9.2f %10.2f (%.2f) %14.2f (%.2f) %8ld\n", n, took, busy,
               sizes[k].target_s, layout.least_m, q.hexagon_m, q.clark_evans, 100 * q.same_share, 100 * q.same_share_random, q.tall_least_m,
               q.tall_hexagon_m, q.layers_in_cell, q.layers_in_cell_random, usage.ru_maxrss / 1024);
        fflush(stdout);
        arena_clear(&arena);
    }
    return 0;
}
