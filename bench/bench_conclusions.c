/* SPDX-License-Identifier: GPL-3.0-or-later
 * Wrong-conclusion trial: bench_conclusions [runs] [sites]. Programmes drawn from a known truth; how often spinney is right, says that it
 * cannot tell, or is wrong, and beside it how often the usual reading is wrong. The table of docs/methods/conclusions.md. */
#include "../tests/evidence/worlds.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

int main(int count, char **word)
{
    size_t runs = count > 1 ? (size_t)strtoul(word[1], NULL, 10) : 200, sites = count > 2 ? (size_t)strtoul(word[2], NULL, 10) : 8;
    struct timespec start, end;
    clock_gettime(CLOCK_MONOTONIC, &start);
    printf("%zu programmes of each kind, %zu sites each, level 95 %%\n\n", runs, sites);
    printf(
        "| what is true | right or cannot tell | right | cannot tell | wrong | the usual reading is wrong | usual reading | its figure | "
        "spinney's figure |\n|---|---|---|---|---|---|---|---|---|\n");
    for (int w = 0; w < WORLD_COUNT; w++) {
        size_t right = 0, cannot = 0, wrong = 0, naive = 0;
        double figure = 0, naive_figure = 0;
        for (size_t i = 0; i < runs; i++) {
            struct world_said said = world_run((enum world)w, sites, 1000 + i);
            right += said.right;
            cannot += said.cannot_tell && !said.wrong;
            wrong += said.wrong;
            naive += said.naive_wrong;
            figure += said.figure / (double)runs;
            naive_figure += said.naive / (double)runs;
        }
        double share = 100 / (double)runs;
        printf("| %s | %.1f %% | %.1f %% | %.1f %% | %.1f %% | %.1f %% | %s | %+.1f %s | %+.1f %s |\n", world_words((enum world)w),
               share * (double)(runs - wrong), share * (double)right, share * (double)cannot, share * (double)wrong, share * (double)naive,
               world_naive_words((enum world)w), naive_figure, world_unit((enum world)w), figure, world_unit((enum world)w));
    }
    clock_gettime(CLOCK_MONOTONIC, &end);
    fprintf(stderr, "%.1f s\n", (double)(end.tv_sec - start.tv_sec) + 1e-9 * (double)(end.tv_nsec - start.tv_nsec));
    return 0;
}
