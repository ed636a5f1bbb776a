/* SPDX-License-Identifier: GPL-3.0-or-later
 * Speed of survey/: plausibility of many records, and a census from CSV. bench_survey [plants [years]]; invented data. */
#include "survey/survey.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

/* Time of the processor, so that a busy machine does not change the figure. */
static double seconds(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

enum { PER_PLOT = 600, PLOTS_A_SITE = 4 };

static const char *const species[] = {"Quercus robur", "Betula pendula", "Alnus glutinosa"};

static struct survey_ground ground_make(struct arena *a, size_t n)
{
    size_t n_plots = n / PER_PLOT + 1;
    struct plant *plants = arena_array(a, n, sizeof *plants);
    struct plot *plots = arena_array(a, n_plots, sizeof *plots);
    struct site *site = arena_alloc(a, sizeof *site);
    noun_init(NOUN_SITE, site);
    site->id = 1;
    site->code = "LK";
    for (size_t i = 0; i < n_plots; i++) {
        noun_init(NOUN_PLOT, &plots[i]);
        plots[i].id = (int64_t)i + 1;
        plots[i].site_id = 1;
        plots[i].code = arena_print(a, "D%zu", i);
    }
    for (size_t i = 0; i < n; i++) {
        noun_init(NOUN_PLANT, &plants[i]);
        plants[i].id = (int64_t)i + 1;
        plants[i].plot_id = 1 + (int64_t)(i / PER_PLOT);
        plants[i].cell_code = arena_print(a, "%c%02zu", (char)('A' + i % PER_PLOT / 3 / 14 % 26), i % PER_PLOT / 3 % 14 + 1);
        plants[i].number = (int64_t)(i % 3) + 1;
        plants[i].tag = arena_print(a, "%07zu", i);
        plants[i].species = species[i % 3];
        plants[i].planted_on = date_make(2020, 2, 1);
    }
    return (struct survey_ground){.sites = site, .n_sites = 1, .plants = plants, .n_plants = n, .plots = plots, .n_plots = n_plots};
}

static void census_csv(struct arena *a, const struct survey_ground *g, size_t n)
{
    struct text csv = {0};
    text_add(&csv, "plot,cell,no,tag,species,date,observer,status,height (cm),root collar (mm)\n");
    for (size_t i = 0; i < n && i < g->n_plants; i++) {
        const struct plant *p = &g->plants[i];
        text_print(&csv, "%s,%s,%lld,%s,%s,2023-09-12,V1,alive,%zu,%zu.%zu\n", g->plots[p->plot_id - 1].code, p->cell_code,
                   (long long)p->number, p->tag, p->species, 50 + i * 7 % 41, 6 + i % 3, i % 10);
    }
    struct workbook book;
    struct mapping mapping;
    struct import_result r;
    struct import_options options = {.limits = survey_limits_usual()};
    struct failure why = {0};
    double t = seconds();
    if (workbook_read("census.csv", csv.at, csv.n, a, &book, &why) != OUTCOME_OK ||
        mapping_guess(&book.sheets[0], RECORD_PLANTS, g, a, &mapping, &why) != OUTCOME_OK)
        exit(1);
    double read = seconds() - t;
    t = seconds();
    if (import_dry_run(&book, &book.sheets[0], &mapping, g, &options, a, &r, &why) != OUTCOME_OK)
        exit(1);
    printf("CSV of %zu rows, %.1f MB: read and guessed in %.2f s, dry run in %.2f s (%zu ready, %zu held)\n", r.read, (double)csv.n / 1e6,
           read, seconds() - t, r.n_ready, r.n_held);
    text_free(&csv);
}

int main(int argc, char **argv)
{
    size_t n_plants = argc > 1 ? strtoul(argv[1], NULL, 10) : 100000, years = argc > 2 ? strtoul(argv[2], NULL, 10) : 4,
           n = n_plants * years;
    struct arena arena = {0};
    struct survey_ground g = ground_make(&arena, n_plants);
    struct plant_record *r = memory_get(n, sizeof *r);
    for (size_t i = 0; i < n; i++) {
        size_t k = i / years, year = i % years;
        struct random_stream random = random_make(1, i);
        noun_init(NOUN_PLANT_RECORD, &r[i]);
        r[i].plant_id = (int64_t)k + 1;
        r[i].visit_id = -(int64_t)(1 + year + years * (k / PER_PLOT / PLOTS_A_SITE));
        r[i].observed_on = date_make(2020 + (int)year, 9, 12);
        r[i].observer = k % 2 == 0 ? "V1" : "V2";
        struct random_stream life = random_make(2, k);
        bool dead = (double)year >= 40 * random_uniform(&life), slip = random_uniform(&random) < 0.001;
        r[i].status = dead != slip ? STATUS_DEAD_STANDING : STATUS_ALIVE; /* one state in a thousand is wrong */
        r[i].height_cm =
            round(50 * pow(1.4, (double)year) * exp(0.12 * random_normal(&random))) * (random_uniform(&random) < 0.002 ? 10 : 1);
        r[i].diameter_mm = r[i].height_cm / 8;
        r[i].species_seen = species[k % 3];
    }
    struct survey_limits limits = survey_limits_usual();
    struct doubt *doubts = NULL;
    size_t n_doubts = 0;
    struct failure why = {0};
    double t = seconds();
    if (plants_check(r, NULL, n, NULL, 0, &g, &limits, NULL, &arena, &doubts, &n_doubts, &why) != OUTCOME_OK)
        return 1;
    printf("%zu records checked in %.2f s, %zu doubts\n", n, seconds() - t, n_doubts);
    free(r);
    census_csv(&arena, &g, n_plants);
    arena_clear(&arena);
    return 0;
}
