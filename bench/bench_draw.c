/* SPDX-License-Identifier: GPL-3.0-or-later
 * Speed of draw/ and paper/: maps of 500 to 20,000 plants and a plot's cards, beside the target of 150 ms for 2,000 plants. */
#include "../tests/draw/samples.h"
#include "../tests/paper/samples.h"
#include <stdio.h>
#include <time.h>

static double now_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return 1e3 * (double)t.tv_sec + 1e-6 * (double)t.tv_nsec;
}

int main(void)
{
    static const size_t counts[] = {500, 2000, 10000, 20000};
    struct failure why;
    printf("%-28s %8s %8s %8s %8s %10s\n", "map", "draw ms", "SVG ms", "PDF ms", "PNG ms", "SVG bytes");
    for (size_t i = 0; i < sizeof counts / sizeof *counts; i++) {
        struct arena arena = {0};
        struct map map;
        struct drawing *drawing = NULL;
        struct text svg = {0}, pdf = {0}, png = {0};
        sample_map(&arena, counts[i], &map);
        double t0 = now_ms();
        if (map_draw(&map, &drawing, NULL, &why) != OUTCOME_OK)
            return 1;
        double t1 = now_ms();
        drawing_svg(drawing, false, &svg);
        double t2 = now_ms();
        if (drawing_pdf(drawing, &pdf, &why) != OUTCOME_OK)
            return 1;
        double t3 = now_ms();
        if (drawing_png(drawing, 96, false, &png, &why) != OUTCOME_OK)
            return 1;
        double t4 = now_ms();
        printf("%6zu plants%16s %8.1f %8.1f %8.1f %8.1f %10zu\n", counts[i], counts[i] == 2000 ? "(target 150)" : "", t1 - t0, t2 - t1,
               t3 - t2, t4 - t3, svg.n);
        drawing_free(drawing);
        text_free(&svg);
        text_free(&pdf);
        text_free(&png);
        arena_clear(&arena);
    }
    struct arena arena = {0};
    struct cards cards;
    struct text out = {0};
    sample_cards(&arena, 15, 15, &cards);
    double t0 = now_ms();
    if (cards_pdf(&cards, &out, NULL, &why) != OUTCOME_OK)
        return 1;
    printf("225 cards, PDF: %.0f ms, %zu bytes\n", now_ms() - t0, out.n);
    text_free(&out);
    arena_clear(&arena);
    return 0;
}
