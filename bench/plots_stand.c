/* SPDX-License-Identifier: GPL-3.0-or-later
 * The pictures of docs/methods/stand.md: laws that the look ahead was not fitted to. plots_stand FOLDER writes them. */
#include "draw/draw.h"
#include "stand/stand.h"
#include "../tests/stand/woods.h"
#include <stdio.h>
#include <stdlib.h>

enum { YEARS = 60, MOST = 2500 };

struct wood {
    struct stand_kind kinds[WOOD_KINDS];
    struct stand_plant plants[MOST];
    struct stand_result result;
    struct arena arena;
};

static void grow(struct wood *w, size_t n, double density, int only)
{
    struct stand_setting setting;
    struct failure why = {0};
    wood_kinds(w->kinds);
    stand_setting_init(&setting);
    setting.box = wood_plants(w->plants, n, density, only, 3);
    setting.kinds = w->kinds;
    setting.n_kinds = WOOD_KINDS;
    setting.plants = w->plants;
    setting.n_plants = n;
    setting.endless = true;
    setting.years = YEARS;
    setting.runs = 12;
    setting.inequality = true;
    w->arena = (struct arena){0};
    if (stand_look_ahead(&setting, &w->arena, &w->result, &why) != OUTCOME_OK) {
        fprintf(stderr, "%s\n", why.sentence);
        exit(3);
    }
}

static void save(struct drawing *drawing, const char *folder, const char *name)
{
    struct text svg = {0};
    struct failure why = {0};
    char path[4096];
    snprintf(path, sizeof path, "%s/%s.svg", folder, name);
    drawing_svg(drawing, true, &svg);
    if (file_write(path, text_get(&svg), svg.n, &why) != OUTCOME_OK) {
        fprintf(stderr, "%s\n", why.sentence);
        exit(3);
    }
    text_free(&svg);
    drawing_free(drawing);
}

static double middle(const struct wood *w, enum stand_measure m, int year)
{
    return stand_quantile(&w->result, m, year, 0.5);
}

static const char foot[] = "Middle of 12 runs on ground without edges, planted at 5 to the square metre; one kind each.";

/* Mass on density, or density on diameter, in logarithms, with the slope that the law has through the middle. */
static void thinning(const char *folder, bool reineke)
{
    static const int kinds[] = {0, 1, 2};
    static double x[4][YEARS + 1], y[4][YEARS + 1];
    struct figure_line lines[4] = {{0}};
    static struct wood w;
    double mx = 0, my = 0, least = INFINITY, most = -INFINITY;
    for (size_t k = 0; k < 3; k++) {
        size_t n = 0;
        grow(&w, 2000, 5, kinds[k]);
        for (int i = 0; i <= YEARS; i++) {
            int year = reineke ? i : YEARS - i; /* x has to ascend */
            double alive = middle(&w, STAND_ALIVE, year) / w.result.area_m2;
            double breast = middle(&w, STAND_BREAST, year), mass = 1000 * middle(&w, STAND_MASS, year) / alive;
            if (alive < 0.06 || !(breast > 0.5) || year < 4)
                continue;
            double u = reineke ? log10(breast) : log10(alive), v = reineke ? log10(1e4 * alive) : log10(mass);
            if (n > 0 && u <= x[k][n - 1])
                continue;
            x[k][n] = u;
            y[k][n++] = v;
        }
        lines[k] = (struct figure_line){.name = w.kinds[kinds[k]].name, .x = x[k], .y = y[k], .n = n};
        mx += x[k][n * 3 / 4] / 3;
        my += y[k][n * 3 / 4] / 3;
        least = fmin(least, x[k][0]);
        most = fmax(most, x[k][n - 1]);
        arena_clear(&w.arena);
    }
    double slope = reineke ? -1.605 : -1.5;
    x[3][0] = reineke ? mx - 0.6 : least;
    x[3][1] = reineke ? most : mx + 0.7;
    if (!reineke) {
        mx = x[0][lines[0].n / 4];
        my = y[0][lines[0].n / 4];
    }
    y[3][0] = my + slope * (x[3][0] - mx);
    y[3][1] = my + slope * (x[3][1] - mx);
    lines[3] = (struct figure_line){.name = reineke ? "slope -1.605" : "slope -3/2", .x = x[3], .y = y[3], .n = 2, .observed_to = -9};
    struct figure_lines figure = {.head = {.title = reineke ? "Stems on diameter while crowding kills (Reineke 1933)"
                                                            : "Mean mass on density while crowding kills (Yoda 1963)",
                                           .x_title = reineke ? "log10 of quadratic mean diameter at 1.3 m (cm)"
                                                              : "log10 of living plants per m² (time runs from right to left)",
                                           .y_title = reineke ? "log10 of living stems per ha" : "log10 of mean dry mass (g)",
                                           .foot = foot},
                                  .lines = lines,
                                  .n_lines = 4};
    save(figure_lines(&figure), folder, reineke ? "stand-reineke" : "stand-thinning");
}

static void inequality(const char *folder)
{
    static const double densities[] = {1, 3, 5};
    static double x[YEARS + 1], y[3][YEARS + 1], low[3][YEARS + 1], high[3][YEARS + 1];
    struct figure_line lines[3] = {{0}};
    static struct wood w;
    static const char *const names[] = {"1 to the m²", "3 to the m²", "5 to the m²"};
    for (size_t k = 0; k < 3; k++) {
        grow(&w, 2000, densities[k], -1);
        for (int year = 0; year <= YEARS; year++) {
            x[year] = year;
            y[k][year] = middle(&w, STAND_GINI, year);
            low[k][year] = stand_quantile(&w.result, STAND_GINI, year, 0.05);
            high[k][year] = stand_quantile(&w.result, STAND_GINI, year, 0.95);
        }
        lines[k] = (struct figure_line){.name = names[k], .x = x, .y = y[k], .low = low[k], .high = high[k], .n = YEARS + 1};
        arena_clear(&w.arena);
    }
    struct figure_lines figure = {.head = {.title = "Inequality of size rises with crowding and falls as the small die",
                                           .x_title = "years after planting",
                                           .y_title = "Gini's coefficient of plant mass",
                                           .foot = "Eight kinds mixed; middle and 90 % of 12 runs on ground without edges."},
                                  .lines = lines,
                                  .n_lines = 3,
                                  .from_zero = true};
    save(figure_lines(&figure), folder, "stand-inequality");
}

static void yield(const char *folder)
{
    static const double densities[] = {0.25, 0.5, 1, 2, 3, 5};
    static const int years[] = {5, 10, 20, 40};
    static const char *const names[] = {"year 5", "year 10", "year 20", "year 40"};
    static double y[4][6];
    struct figure_line lines[4] = {{0}};
    static struct wood w;
    for (size_t k = 0; k < 6; k++) {
        grow(&w, 1600, densities[k], -1);
        for (size_t q = 0; q < 4; q++)
            y[q][k] = middle(&w, STAND_MASS, years[q]);
        arena_clear(&w.arena);
    }
    for (size_t q = 0; q < 4; q++)
        lines[q] = (struct figure_line){.name = names[3 - q], .x = densities, .y = y[3 - q], .n = 6};
    struct figure_lines figure = {
        .head = {.title = "Final yield hardly depends on the density planted",
                 .x_title = "planted to the square metre",
                 .y_title = "dry wood above ground (kg/m²)",
                 .foot = "Eight kinds mixed; middle of 12 runs on ground without edges. Kira, Ogawa & Sakazaki 1953."},
        .lines = lines,
        .n_lines = 4,
        .from_zero = true};
    save(figure_lines(&figure), folder, "stand-yield");
}

static void overtopped(const char *folder)
{
    static double x[YEARS + 1], y[2][YEARS + 1];
    static struct wood w;
    size_t n = 0;
    grow(&w, 2400, 3, -1);
    for (int year = 6; year <= 40; year++) {
        double at[4];
        for (size_t k = 0; k < 4; k++)
            at[k] = stand_mean_of(&w.result, w.result.over, 4, k, year);
        x[n] = year;
        y[0][n] = at[0] >= 5 ? 100 * at[1] / at[0] : NAN;
        y[1][n++] = at[2] >= 5 ? 100 * at[3] / at[2] : NAN;
    }
    struct figure_line lines[2] = {{.name = "overtopped", .x = x, .y = y[0], .n = n}, {.name = "in light", .x = x, .y = y[1], .n = n}};
    struct figure_lines figure = {
        .head = {.title = "More of the overtopped die",
                 .x_title = "years after planting",
                 .y_title = "% that die in the year",
                 .foot = "Overtopped: less than half of full light at the top. Eight kinds mixed, 3 to the m², mean of 12 runs."},
        .lines = lines,
        .n_lines = 2,
        .from_zero = true};
    save(figure_lines(&figure), folder, "stand-overtopped");
    arena_clear(&w.arena);
}

int main(int argc, char **argv)
{
    const char *folder = argc > 1 ? argv[1] : "docs/pictures";
    thinning(folder, false);
    thinning(folder, true);
    inequality(folder);
    yield(folder);
    overtopped(folder);
    return 0;
}
