/* SPDX-License-Identifier: GPL-3.0-or-later
 * Forecasts held against real repeated censuses: each census foretold by those before it, scored, then learnt from. The figures
 * printed here are those of docs/methods/stand.md. Data: shared/data (Riegl et al. 2023, CC0; red spruce gardens, CC0). */
#include "stand/stand.h"

#include "../testlib.h"

enum { TREES = 460, SCALESIA = 8 };
/* One census a year: the two taken within half a year of another are left out. */
static const int scalesia_columns[SCALESIA] = {2, 4, 6, 7, 8, 9, 10, 11};

struct scalesia {
    struct stand_plant plants[TREES];
    unsigned char fate[SCALESIA][TREES];
    double height[SCALESIA][TREES], diameter[SCALESIA][TREES], none[TREES];
    struct stand_census censuses[SCALESIA];
    struct stand_kind kinds[34];
    size_t n;
    double a, b; ///< ln height (m) = a + b ln dbh (cm)
};

/* Height on diameter from the two files that have both, least squares in logarithms. */
static void heights_fit(struct scalesia *s, struct arena *arena)
{
    static const char *const files[] = {"data/scalesia_blackberry/raw_dbh_height_control.txt",
                                        "data/scalesia_blackberry/raw_dbh_height_treatment.txt"};
    double n = 0, x = 0, y = 0, xx = 0, xy = 0;
    for (int k = 0; k < 2; k++) {
        struct failure why = {0};
        char *text = NULL;
        size_t length = 0;
        assert_int_equal(file_read(shared_path(files[k]), 0, arena, &text, &length, &why), OUTCOME_OK);
        for (char *line = strtok(text, "\r\n"); line != NULL; line = strtok(NULL, "\r\n")) {
            double plot, tree, dbh, cm;
            if (sscanf(line, "%lf %lf %lf %lf", &plot, &tree, &dbh, &cm) != 4 || !(dbh > 0) || !(cm > 150))
                continue;
            double u = log(dbh), v = log(cm / 100);
            n += 1, x += u, y += v, xx += u * u, xy += u * v;
        }
    }
    assert_true(n > 100);
    s->b = (n * xy - x * y) / (n * xx - x * x);
    s->a = (y - s->b * x) / n;
}

static size_t split(char *line, char **cells, size_t most)
{
    size_t n = 0;
    for (char *at = line; at != NULL && n < most;) {
        cells[n++] = at;
        at = strchr(at, ',');
        if (at != NULL)
            *at++ = '\0';
    }
    return n;
}

static void scalesia_read(struct scalesia *s, struct arena *arena)
{
    char *text = NULL;
    size_t length = 0;
    struct failure why = {0};
    struct random_stream r = random_make(11, 1);
    assert_int_equal(file_read(shared_path("data/scalesia_blackberry/scalesia_dbh_wide.csv"), 0, arena, &text, &length, &why), OUTCOME_OK);
    char *rest = NULL;
    strtok_r(text, "\r\n", &rest);
    for (char *line = strtok_r(NULL, "\r\n", &rest); line != NULL; line = strtok_r(NULL, "\r\n", &rest)) {
        char *cells[16];
        if (split(line, cells, 16) < 13 || s->n == TREES)
            continue;
        size_t i = s->n++, plot = (size_t)atoi(cells[0]) - 1, tile = plot + (strstr(cells[12], "removed") != NULL ? 0 : 17);
        assert_true(tile < 34);
        /* plots of 10 m by 10 m set 4 m apart; where a tree stands within its plot is not recorded: by lot */
        s->plants[i] = (struct stand_plant){.x_m = 14 * (double)(tile % 6) + 10 * random_uniform(&r),
                                            .y_m = 14 * (double)(tile / 6) + 10 * random_uniform(&r),
                                            .kind = (uint32_t)tile,
                                            .height_m = 6,
                                            .age = 8};
        bool later = false;
        for (int c = SCALESIA - 1; c >= 0; c--) { /* measured again later: it lived */
            double dbh = atof(cells[scalesia_columns[c]]);
            s->none[i] = s->height[c][i] = s->diameter[c][i] = unknown_real();
            s->fate[c][i] = dbh > 0 || later ? FATE_ALIVE : FATE_DEAD;
            later = later || dbh > 0;
            if (dbh > 0) {
                s->height[c][i] = fmax(2, exp(s->a + s->b * log(dbh)));
                s->diameter[c][i] = dbh / pow(1 - 1.3 / s->height[c][i], 0.7);
            }
        }
        if (s->fate[0][i] == FATE_DEAD) /* came later */
            for (int c = 0; c < SCALESIA && s->fate[c][i] == FATE_DEAD; c++)
                s->fate[c][i] = FATE_UNKNOWN;
    }
    for (int c = 0; c < SCALESIA; c++)
        s->censuses[c] = (struct stand_census){
            .fate = s->fate[c], .height_m = s->none, .height_like_m = s->height[c], .diameter_cm = s->diameter[c], .seasons = 1};
}

static void skill_print(const char *name, const struct stand_hindsight *h, enum stand_told_of of, bool all, size_t from, size_t to,
                        struct stand_skill *out, struct arena *arena)
{
    struct stand_told *told = arena_array(arena, h->n_told + 1, sizeof *told);
    size_t n = 0;
    for (size_t i = 0; i < h->n_told; i++)
        if (h->told[i].of == of && (h->told[i].kind == SIZE_MAX) == all && h->told[i].census >= from && h->told[i].census <= to)
            told[n++] = h->told[i];
    *out = stand_skill_of(told, n);
    printf("# %-46s n %3zu  in 50 %%: %3.0f %%  in 90 %%: %3.0f %%  bias %6.2f  miss %5.2f  CRPS %.3f  plain rule %.3f  skill %.2f\n", name,
           out->n, 100 * out->in50, 100 * out->in90, out->bias, out->miss, out->crps, out->plain_crps, out->skill);
}

static void scalesia_by_plot_and_year(void **state)
{
    (void)state;
    if (shared_path("data/scalesia_blackberry/scalesia_dbh_wide.csv") == NULL)
        skip();
    static struct scalesia s;
    struct arena arena = {0};
    struct failure why = {0};
    heights_fit(&s, &arena);
    scalesia_read(&s, &arena);
    assert_int_equal(s.n, 457);
    struct stand_traits traits = {.name = "Scalesia pedunculata", .layer = LAYER_CANOPY, .height_most_m = 15, .growth = 3};
    traits.shade = traits.drought = traits.wood_g_cm3 = traits.height_20_m = unknown_real();
    for (int k = 0; k < 34; k++) {
        s.kinds[k] = stand_kind_of(&traits);
        s.kinds[k].age_most = 25; /* a tree that lives some two decades: from memory */
    }
    struct stand_history history = {s.plants, s.n, s.censuses, SCALESIA};
    struct stand_setting setting;
    stand_setting_init(&setting);
    setting.kinds = s.kinds;
    setting.n_kinds = 34;
    setting.box = (struct box){0, 0, 84, 84};
    setting.runs = 300;
    assert_int_equal(stand_sky_shares(-0.6, setting.sky, &why), OUTCOME_OK);
    double *factors = arena_array(&arena, setting.runs * 34 * STAND_FACTORS, sizeof *factors);
    stand_factors_draw(&setting.doubt, 34, setting.runs, 1, factors);
    struct stand_hindsight h;
    assert_int_equal(stand_hindcast(&setting, &history, 5, factors, &arena, &h, &why), OUTCOME_OK);
    struct stand_skill first, later, size_first, size, all;
    skill_print("living by plot, before any correction", &h, TOLD_ALIVE, false, 1, 1, &first, &arena);
    skill_print("living by plot, corrected", &h, TOLD_ALIVE, false, 2, 7, &later, &arena);
    skill_print("living over all plots", &h, TOLD_ALIVE, true, 1, 7, &all, &arena);
    skill_print("basal diameter by plot (cm), before", &h, TOLD_DIAMETER, false, 1, 1, &size_first, &arena);
    skill_print("basal diameter by plot (cm), corrected", &h, TOLD_DIAMETER, false, 2, 7, &size, &arena);
    for (size_t i = 0; i < h.n_told; i++)
        if (h.told[i].kind == SIZE_MAX)
            printf("# census %zu: told %.0f (%.0f-%.0f), came %.0f of %zu\n", h.told[i].census, h.told[i].middle, h.told[i].low90,
                   h.told[i].high90, h.told[i].seen, h.told[i].n);
    for (size_t i = 0; i < h.n_told; i++)
        assert_true(h.told[i].low90 <= h.told[i].middle && h.told[i].middle <= h.told[i].high90);
    assert_true(later.n > 120 && later.in90 > 0.75 && later.in50 > 0.35);
    assert_true(later.skill > 0);
    assert_true(size.miss < size_first.miss);
    arena_clear(&arena);
}

enum { SEEDLINGS = 4700, BEDS = 15 };
struct garden {
    struct stand_plant plants[SEEDLINGS];
    char id[SEEDLINGS][24];
    const char *sorted[SEEDLINGS]; ///< the ids in order
    unsigned char fate[3][SEEDLINGS];
    double height[3][SEEDLINGS], none[SEEDLINGS];
    struct stand_census censuses[3];
    struct stand_kind kinds[BEDS];
    size_t n;
};

static int by_id(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

/* Rows of one of the two files: id, garden and bed, place, two heights; the second finds its plants by id. */
static void garden_read(struct garden *g, const char *file, bool first, struct arena *arena)
{
    char *text = NULL, *rest = NULL;
    size_t length = 0;
    struct failure why = {0};
    assert_int_equal(file_read(shared_path(file), 0, arena, &text, &length, &why), OUTCOME_OK);
    strtok_r(text, "\r\n", &rest);
    for (char *line = strtok_r(NULL, "\r\n", &rest); line != NULL; line = strtok_r(NULL, "\r\n", &rest)) {
        char *cells[24];
        if (split(line, cells, 24) < 20)
            continue;
        if (!first) {
            const char *key = cells[1];
            const char **at = bsearch(&key, g->sorted, g->n, sizeof g->sorted[0], by_id);
            double final = atof(cells[17]);
            if (at == NULL || !(final > 0))
                continue;
            size_t i = (size_t)(*at - g->id[0]) / sizeof g->id[0];
            g->height[2][i] = final / 100;
            g->fate[2][i] = FATE_ALIVE;
            continue;
        }
        assert_true(g->n < SEEDLINGS && strlen(cells[1]) < 24);
        size_t i = g->n++, garden = strstr(cells[10], "Mary") != NULL ? 0 : strstr(cells[10], "North") != NULL ? 1 : 2;
        size_t bed = 5 * garden + (size_t)(cells[11][1] - 'A');
        assert_true(bed < BEDS);
        strcpy(g->id[i], cells[1]);
        /* rows and columns of a bed, taken as 0.15 m apart; beds 3 m apart */
        g->plants[i] = (struct stand_plant){
            .x_m = 3 * (double)bed + 0.15 * atof(cells[12]), .y_m = 0.15 * atof(cells[13]), .kind = (uint32_t)bed, .height_m = 0.1};
        g->height[0][i] = fmax(0.02, atof(cells[17]) / 100);
        g->height[1][i] = fmax(0.02, atof(cells[18]) / 100);
        g->height[2][i] = g->none[i] = unknown_real();
        g->fate[0][i] = g->fate[1][i] = FATE_ALIVE;
        g->fate[2][i] = FATE_UNKNOWN;
    }
}

static void red_spruce_by_bed_and_season(void **state)
{
    (void)state;
    if (shared_path("data/redspruce_garden/garden_growth_2019.csv") == NULL)
        skip();
    static struct garden g;
    struct arena arena = {0};
    struct failure why = {0};
    garden_read(&g, "data/redspruce_garden/garden_growth_2019.csv", true, &arena);
    for (size_t i = 0; i < g.n; i++)
        g.sorted[i] = g.id[i];
    qsort(g.sorted, g.n, sizeof g.sorted[0], by_id);
    garden_read(&g, "data/redspruce_garden/garden_growth_2020.csv", false, &arena);
    /* Picea rubens: 25 m, shade tolerance 4.4 of 5, slow: from memory */
    struct stand_traits traits = {.name = "Picea rubens", .layer = LAYER_CANOPY, .height_most_m = 25, .growth = 1, .shade = 4.4};
    traits.drought = traits.wood_g_cm3 = traits.height_20_m = unknown_real();
    for (int k = 0; k < BEDS; k++)
        g.kinds[k] = stand_kind_of(&traits);
    for (int c = 0; c < 3; c++)
        g.censuses[c] = (struct stand_census){.fate = g.fate[c], .height_m = g.height[c], .diameter_cm = g.none, .seasons = 1};
    struct stand_history history = {g.plants, g.n, g.censuses, 3};
    struct stand_setting setting;
    stand_setting_init(&setting);
    setting.kinds = g.kinds;
    setting.n_kinds = BEDS;
    setting.box = (struct box){0, 0, 45, 12};
    setting.runs = 200;
    double *factors = arena_array(&arena, setting.runs * BEDS * STAND_FACTORS, sizeof *factors);
    stand_factors_draw(&setting.doubt, BEDS, setting.runs, 1, factors);
    struct stand_hindsight h;
    assert_int_equal(stand_hindcast(&setting, &history, 20, factors, &arena, &h, &why), OUTCOME_OK);
    struct stand_skill before, after;
    skill_print("height by bed (m), before any correction", &h, TOLD_HEIGHT, false, 1, 1, &before, &arena);
    skill_print("height by bed (m), corrected once", &h, TOLD_HEIGHT, false, 2, 2, &after, &arena);
    for (size_t i = 0; i < h.n_told; i++)
        if (h.told[i].of == TOLD_HEIGHT)
            printf("# bed %2zu census %zu n %zu: from %.3f told %.3f (%.3f-%.3f), came %.3f m\n", h.told[i].kind, h.told[i].census,
                   h.told[i].n, h.told[i].start, h.told[i].middle, h.told[i].low90, h.told[i].high90, h.told[i].seen);
    assert_true(before.n == BEDS && after.n >= 12);
    arena_clear(&arena);
}

/* The young pines of spatstat's finpines (10 m by 10 m, 126 trees with height and diameter; GPL, by way of R): a real stand as the
 * start. No later census is known: what is asked is only that it goes on as stands do. */
static void mapped_pines_are_a_start(void **state)
{
    (void)state;
    const char *path = shared_path("data/spatstat_trees/finpines.csv");
    if (path == NULL)
        skip();
    struct arena arena = {0};
    struct failure why = {0};
    char *text = NULL, *rest = NULL;
    size_t length = 0, n = 0;
    assert_int_equal(file_read(path, 0, &arena, &text, &length, &why), OUTCOME_OK);
    struct stand_plant plants[200];
    strtok_r(text, "\r\n", &rest);
    for (char *line = strtok_r(NULL, "\r\n", &rest); line != NULL && n < 200; line = strtok_r(NULL, "\r\n", &rest)) {
        double x, y, diameter, height;
        assert_int_equal(sscanf(line, "%lf,%lf,%lf,%lf", &x, &y, &diameter, &height), 4);
        /* diameters at 1.3 m in whole cm, 0 for the smallest; to the collar by the taper */
        double collar = height > 1.6 ? fmax(0.8, diameter) / pow(1 - 1.3 / height, 0.7) : 1.0;
        plants[n++] = (struct stand_plant){.x_m = x, .y_m = y, .height_m = height, .diameter_cm = collar, .age = 12};
    }
    assert_int_equal(n, 126);
    /* Pinus sylvestris: 30 m, shade tolerance 1.67, drought tolerance 4.34 (Niinemets & Valladares 2006, from memory) */
    struct stand_traits traits = {
        .name = "Pinus sylvestris", .layer = LAYER_CANOPY, .height_most_m = 30, .growth = 2, .shade = 1.67, .drought = 4.34};
    traits.wood_g_cm3 = traits.height_20_m = unknown_real();
    struct stand_kind kind = stand_kind_of(&traits);
    struct stand_setting setting;
    struct stand_result r;
    static const int show[] = {20};
    stand_setting_init(&setting);
    setting.kinds = &kind;
    setting.n_kinds = 1;
    setting.plants = plants;
    setting.n_plants = n;
    setting.box = (struct box){-5, -8, 5, 2};
    setting.years = 20;
    setting.runs = 100;
    setting.show = show;
    setting.n_show = 1;
    assert_int_equal(stand_look_ahead(&setting, &arena, &r, &why), OUTCOME_OK);
    double tall = 0, low = 0, n_tall = 0, n_low = 0;
    for (size_t i = 0; i < n; i++) {
        bool above = plants[i].height_m > 3;
        *(above ? &n_tall : &n_low) += 1;
        *(above ? &tall : &low) += (double)r.plant_alive[i] / (double)r.runs;
    }
    printf("# 126 pines: in 20 years %.0f living (%.0f-%.0f), of those above 3 m now %.0f %%, of the others %.0f %%\n",
           stand_quantile(&r, STAND_ALIVE, 20, 0.5), stand_quantile(&r, STAND_ALIVE, 20, 0.05), stand_quantile(&r, STAND_ALIVE, 20, 0.95),
           100 * tall / n_tall, 100 * low / n_low);
    assert_true(tall / n_tall > low / n_low + 0.1);
    arena_clear(&arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(scalesia_by_plot_and_year),
        cmocka_unit_test(red_spruce_by_bed_and_season),
        cmocka_unit_test(mapped_pines_are_a_start),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
