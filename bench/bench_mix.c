/* SPDX-License-Identifier: GPL-3.0-or-later
 * Speed of mix/: 120 species for one plot beside the program cbc on the same programme, and several plots with a shared
 * order, in one run.
 *   bench_mix [most plots]     default 4 */
#include "mix/mix.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

static double now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* An invented nursery list: layers, roles, pests, prices and frequencies drawn from a seed. */
static struct mix_species *list_make(size_t n, uint64_t seed, struct arena *arena)
{
    static const enum layer layers[] = {LAYER_CANOPY, LAYER_SUBCANOPY, LAYER_SHRUB};
    struct random_stream r = random_make(seed, 1);
    struct mix_species *list = arena_array(arena, n, sizeof *list);
    const char **pests = arena_array(arena, 12, sizeof *pests);
    for (size_t k = 0; k < 12; k++)
        pests[k] = arena_print(arena, "pest %zu", k);
    for (size_t i = 0; i < n; i++)
        list[i] = (struct mix_species){.name = arena_print(arena, "species %zu", i),
                                       .genus = arena_print(arena, "genus %zu", i / 3),
                                       .family = arena_print(arena, "family %zu", i / 9),
                                       .layer = layers[random_below(&r, 3)],
                                       .role = (enum role)(1 + random_below(&r, 3)),
                                       .tall = random_below(&r, 4) == 0,
                                       .pests = &pests[random_below(&r, 11)],
                                       .n_pests = 1 + random_below(&r, 2),
                                       .fit = random_uniform(&r),
                                       .frequency = (double)random_below(&r, 10) / 10,
                                       .price = 0.5 + random_uniform(&r),
                                       .stock = 50 + (int64_t)random_below(&r, 400)};
    return list;
}

/* Seconds cbc takes on the programme, with its start and reading; NaN if it is not installed. */
static double cbc_s(const char *mps, double *value)
{
    char path[] = "/tmp/spinney-bench-XXXXXX", command[200], line[400];
    int fd = mkstemp(path);
    if (fd < 0 || write(fd, mps, strlen(mps)) != (ssize_t)strlen(mps))
        return unknown_real();
    close(fd);
    *value = unknown_real();
    snprintf(command, sizeof command, "cbc %s -sec 60 -solve -quit 2>/dev/null", path);
    double from = now_s();
    FILE *pipe = popen(command, "r");
    while (pipe != NULL && fgets(line, sizeof line, pipe) != NULL)
        if (strncmp(line, "Objective value:", 16) == 0)
            *value = strtod(line + 16, NULL);
    if (pipe != NULL)
        pclose(pipe);
    double took = now_s() - from;
    unlink(path);
    return is_known(*value) ? took : unknown_real();
}

static void one_plot(size_t n, double diversity, uint64_t seed)
{
    struct arena arena = {0};
    struct failure why = {0};
    struct mix_species *list = list_make(n, seed, &arena);
    struct mix_settings settings = mix_settings_dense(300);
    settings.family_most = 0.3;
    settings.pest_most = 0.4;
    settings.count_least = 15;
    settings.weight_diversity = diversity;
    settings.seconds = 60;
    struct mix_result out;
    double from = now_s();
    if (mix_solve(list, n, &settings, &arena, NULL, &out, &why) != OUTCOME_OK) {
        printf("%s\n", why.sentence);
        return;
    }
    double mine = now_s() - from, other = unknown_real();
    char *mps = NULL;
    double theirs = mix_write_mps(list, n, &settings, &arena, &mps, &why) == OUTCOME_OK ? cbc_s(mps, &other) : unknown_real();
    printf("%7zu  %5d  %9.2f  %8.3f  %8.3f  %8.1f  %-5s  %.6f  %.6f\n", n, 1, diversity, mine, theirs, 1.0,
           out.state == MIX_BEST ? "best" : "found", out.objective, other);
    arena_clear(&arena);
}

static void joint_plots(size_t n, size_t n_plots, bool bundles, double gap)
{
    struct arena arena = {0};
    struct failure why = {0};
    struct mix_species *list = list_make(n, 4, &arena);
    struct mix_settings *plots = arena_array(&arena, n_plots, sizeof *plots);
    int64_t *bundle = arena_array(&arena, n, sizeof *bundle);
    for (size_t i = 0; i < n; i++)
        bundle[i] = 25;
    for (size_t p = 0; p < n_plots; p++) {
        plots[p] = mix_settings_dense(200 + 40 * (int64_t)(p % 5));
        plots[p].gap = gap;
    }
    struct mix_joint joint = {.plots = plots,
                              .n_plots = n_plots,
                              .bundle = bundles ? bundle : NULL,
                              .budget = unknown_real(),
                              .weight_surplus = 0.2,
                              .seconds = 10};
    struct mix_result out;
    double from = now_s();
    if (mix_solve_joint(list, n, &joint, &arena, NULL, &out, &why) != OUTCOME_OK)
        printf("%s\n", why.sentence);
    else
        printf("%7zu  %5zu  %9s  %8.3f  gap %.4f  %s, %s\n", n, n_plots, bundles ? "bundles" : "stock", now_s() - from, out.gap, out.solver,
               out.state == MIX_BEST    ? "best"
               : out.state == MIX_FOUND ? "found"
                                        : "none");
    arena_clear(&arena);
}

int main(int argc, char **argv)
{
    size_t most = argc > 1 ? strtoul(argv[1], NULL, 10) : 4;
    printf("species  plots  diversity  spinney s  cbc s  target s  state  value  cbc's value\n");
    for (uint64_t seed = 1; seed <= 3; seed++)
        for (int d = 0; d < 3; d++)
            one_plot(120, 0.2 * (double)(d * d), seed);
    printf("plots that share an order; limit and target 10 s\n");
    for (size_t p = 1; p <= most; p = p < 4 ? 4 : p + 16) {
        joint_plots(120, p, false, 0);
        joint_plots(120, p, true, 0);
    }
    return 0;
}
