/* SPDX-License-Identifier: GPL-3.0-or-later
 * Every plant lives, grows and dies by the stated hazards, from the seed: year by year, plot by plot, with what befell them. */
#include "lives.h"
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void stop(const char *sentence, const char *more)
{
    fprintf(stderr, "spinney-demo: %s %s\n", sentence, more);
    exit(1);
}

/* "LK-D1-C07-2" */
static void tag_read(struct life *life)
{
    char site[8] = "", plot[8] = "", letter = 0;
    int column = 0, number = 0;
    if (sscanf(life->tag, "%7[A-Z]-%7[A-Z0-9]-%c%d-%d", site, plot, &letter, &column, &number) != 5)
        stop("A label cannot be read:", life->tag);
    life->plot = town_plot_find(town_site_find(site), plot);
    if (life->plot < 0)
        stop("No such plot:", life->tag);
    life->row = letter - 'A';
    life->column = column;
    life->number = number;
    life->cohort = town_sites[town_plots[life->plot].site].cohort;
}

static int plot_order(const void *a, const void *b)
{
    const struct life *x = a, *y = b;
    if (x->plot != y->plot)
        return x->plot < y->plot ? -1 : 1;
    return x->id < y->id ? -1 : x->id > y->id;
}

static void plants_read(const char *path, struct lives *lives)
{
    json_t *root = json_load_file(path, 0, NULL), *rows = json_object_get(json_object_get(root, "data"), "rows");
    size_t n = json_array_size(rows);
    if (n == 0)
        stop("No plants in", path);
    lives->at = calloc(n + 400, sizeof *lives->at);
    if (lives->at == NULL)
        stop("Out of memory.", "");
    for (size_t i = 0; i < n; i++) {
        const json_t *row = json_array_get(rows, i);
        struct life *life = &lives->at[lives->n++];
        life->id = json_integer_value(json_object_get(row, "id"));
        snprintf(life->tag, sizeof life->tag, "%s", json_string_value(json_object_get(row, "tag")));
        snprintf(life->cell, sizeof life->cell, "%s", json_string_value(json_object_get(row, "cell_code")));
        life->species = town_species_find(json_string_value(json_object_get(row, "species")));
        if (life->species < 0)
            stop("A species the town does not plant:", life->tag);
        tag_read(life);
        life->replaces = life->true_species = -1;
    }
    lives->n_first = lives->n;
    qsort(lives->at, lives->n, sizeof *lives->at, plot_order); /* chance belongs to the plant, not to the day it was entered */
    json_decref(root);
}

static struct random_stream stream_of(const struct lives *lives, size_t i)
{
    return random_make(lives->seed, STREAM_PLANT + i);
}

static void life_begin(struct lives *lives, size_t i)
{
    struct life *life = &lives->at[i];
    struct random_stream r = stream_of(lives, i);
    bool small = town_species[life->species].cell_grown;
    life->died = life->resprouted = life->died_again = LIVING;
    life->cause = "";
    life->after_cm = -1;
    for (int y = 0; y <= YEARS; y++)
        life->height_cm[y] = -1;
    life->height_cm[life->cohort - FIRST_YEAR] = (small ? 20 : 40) + 20 * random_uniform(&r);
    life->ratio = 0.10 + 0.03 * random_uniform(&r);
}

bool life_alive(const struct life *life, int32_t day)
{
    return day < life->died || (day >= life->resprouted && day < life->died_again);
}

double life_height_cm(const struct life *life, int year)
{
    return life->height_cm[year - FIRST_YEAR + 1];
}

static int32_t day(int year, int month, int of_month)
{
    return date_make(year, month, of_month);
}

/* Share of the living neighbours of the plot that are taller, for every plant of it. */
static double taller(const struct lives *lives, size_t i, int y, int32_t when)
{
    const struct life *own = &lives->at[i];
    size_t n = 0, above = 0;
    for (size_t k = 0; k < lives->n; k++) {
        const struct life *o = &lives->at[k];
        if (o->plot != own->plot || k == i || abs(o->row - own->row) > 1 || abs(o->column - own->column) > 1 || !life_alive(o, when))
            continue;
        n++;
        above += o->height_cm[y] > own->height_cm[y];
    }
    return n == 0 ? 0 : (double)above / (double)n;
}

/* One season of one plant: whether it dies, and when; else how much it grows. */
static void season(struct lives *lives, size_t i, int year, double crowding)
{
    struct life *life = &lives->at[i];
    const struct town_plot *plot = &town_plots[life->plot];
    const struct town_species *species = &town_species[life->species];
    int y = year - FIRST_YEAR, age = year - life->cohort + 1;
    struct random_stream r = random_make(lives->seed, STREAM_PLANT + 100000 * (uint64_t)(year - FIRST_YEAR + 1) + i);
    struct random_stream own = random_make(lives->seed, STREAM_PLANT + 600000 + i);
    double hazard =
        town_hazard(plot, species, age, year) * exp(lives->effect[life->plot]) + 2 * crowding * town_competition(plot, species, age);
    double chance = random_uniform(&r), when = random_uniform(&r), lucky = random_normal(&own), weather = random_normal(&r);
    bool back = life->resprouted != LIVING;
    if (chance < 1 - exp(-hazard)) {
        *(back ? &life->died_again : &life->died) = back && year == 2023 ? day(2023, 8, 20) : day(year, 4, 15) + (int32_t)(when * 138);
        life->cause = town_competition(plot, species, age) > 0 && crowding > 0.6 ? "competition"
                      : year == 2023                                             ? "drought"
                                                                                 : "did not take";
        return;
    }
    double factor = town_sites[plot->site].growth * plot->growth * (year == 2023 ? 0.45 : 1);
    double gain = species->gain_cm[age < YEARS ? age - 1 : YEARS - 1] * factor * exp(0.33 * lucky - 0.06) * exp(0.12 * weather);
    life->height_cm[y + 1] = (life->after_cm >= 0 ? life->after_cm : life->height_cm[y]) + (back ? 1.3 : 1) * gain;
    life->after_cm = -1;
}

/* Indices of the living (or dead) plants of a plot on a day, shuffled. */
static size_t pick(const struct lives *lives, int plot, int32_t when, bool alive, uint64_t stream, size_t *out)
{
    size_t n = 0;
    for (size_t i = 0; i < lives->n; i++)
        if (lives->at[i].plot == plot && life_alive(&lives->at[i], when) == alive && lives->at[i].cohort <= 1970 + when / 365)
            out[n++] = i;
    struct random_stream r = random_make(lives->seed, stream);
    random_shuffle(&r, out, n);
    return n;
}

static void ends(struct life *life, int32_t when, const char *cause)
{
    life->died = when;
    life->cause = cause;
}

static int plot_index(enum site_number site, char letter)
{
    return (int)(town_plot_of(site, letter) - town_plots);
}

static void mower(struct lives *lives, size_t *list)
{
    size_t n = pick(lives, plot_index(LH, 'C'), day(2022, 9, 1), true, STREAM_EVENT, list);
    for (size_t i = 0; i < 17 && i < n; i++) {
        lives->at[list[i]].ringed = true;
        if (i < 11)
            ends(&lives->at[list[i]], day(2022, 7, 4), "ringed by the mower");
    }
}

static void fire(struct lives *lives)
{
    struct life *near[18];
    size_t n = 0;
    /* six square metres from the corner nearest the tram stop: the 18 living plants nearest to square E05 */
    for (int reach = 0; reach < 40 && n < 18; reach++)
        for (size_t i = 0; i < lives->n && n < 18; i++) {
            struct life *life = &lives->at[i];
            int away = abs(life->row - 4) > abs(life->column - 5) ? abs(life->row - 4) : abs(life->column - 5);
            if (life->plot == plot_index(BS, 'D') && away == reach && life_alive(life, day(2022, 11, 4)))
                near[n++] = life;
        }
    for (size_t i = 0; i < n; i++) {
        near[i]->scorched = true;
        ends(near[i], day(2022, 11, 5), "fire");
        if (i % 18 < 7) {
            near[i]->resprouted = day(2023, 5, 10);
            near[i]->after_cm = 6;
        }
    }
}

/* Replacements in winter for plants dead by then. */
static void replace(struct lives *lives, const int *plots, size_t n_plots, int wanted, int cohort, uint64_t stream)
{
    size_t *pool = calloc(lives->n + 1, sizeof *pool), n = 0;
    for (size_t i = 0; pool != NULL && i < lives->n_first; i++)
        for (size_t p = 0; p < n_plots; p++)
            if (lives->at[i].plot == plots[p] && !life_alive(&lives->at[i], day(cohort, 1, 10)))
                pool[n++] = i;
    struct random_stream r = random_make(lives->seed, stream);
    random_shuffle(&r, pool, n);
    for (int k = 0; k < wanted && k < (int)n; k++) {
        struct life *life = &lives->at[lives->n++], *old = &lives->at[pool[k]];
        *life = *old;
        life->id = 0;
        life->replaces = (int)pool[k];
        life->cohort = cohort;
        life->old_tag = false;
        life->true_species = -1;
        life->ringed = life->snapped = life->pulled = life->replanted = life->browsed = life->scorched = false;
        strncat(life->tag, "R", sizeof life->tag - strlen(life->tag) - 1);
        life->number = old->number + 10;
        life_begin(lives, lives->n - 1);
    }
    free(pool);
}

static void vandals(struct lives *lives, size_t *list)
{
    size_t n = pick(lives, plot_index(TS, 'D'), day(2024, 11, 1), true, STREAM_EVENT + 1, list);
    for (size_t i = 0; i < 85 && i < n; i++) {
        struct life *life = &lives->at[list[i]];
        if (i >= 71) {
            life->snapped = true;
            life->after_cm = life->height_cm[3] * 0.4;
            continue;
        }
        life->pulled = true;
        life->replanted = i < 23;
        if (i < 12)
            continue; /* lives on */
        ends(life, i < 23 ? day(2025, 5, 20) : day(2024, 11, 3), "pulled by vandals");
    }
    n = pick(lives, plot_index(TS, 'C'), day(2024, 11, 1), true, STREAM_EVENT + 2, list);
    for (size_t i = 0; i < 9 && i < n; i++) {
        lives->at[list[i]].pulled = true;
        ends(&lives->at[list[i]], day(2024, 11, 3), "pulled by vandals");
    }
}

static void after_season(struct lives *lives, int year, size_t *list)
{
    const int first[] = {plot_index(LK, 'C'), plot_index(BS, 'C'), plot_index(TS, 'C')}, later[] = {plot_index(FB, 'C')};
    if (year == 2022) {
        mower(lives, list);
        fire(lives);
        replace(lives, first, 3, 61, 2023, STREAM_EVENT + 3);
    } else if (year == 2023) {
        replace(lives, later, 1, 40, 2024, STREAM_EVENT + 4);
        size_t n = pick(lives, plot_index(GL, 'C'), day(2023, 12, 1), true, STREAM_EVENT + 5, list);
        for (size_t i = 0; i < 38 && i < n; i++) {
            lives->at[list[i]].browsed = true;
            lives->at[list[i]].after_cm = lives->at[list[i]].height_cm[2] * 0.6;
        }
    } else if (year == 2024) {
        vandals(lives, list);
    }
}

/* Eleven cherries are bird cherries under a wrong name; labels fade or are taken; nine
 * replacements hang under the label of the plant they replace. */
static void hidden(struct lives *lives)
{
    int old_labels = 0;
    for (size_t i = lives->n_first; i < lives->n && old_labels < 9; i++) {
        struct life *life = &lives->at[i];
        if (life->cohort != 2023 || !life_alive(life, day(2023, 12, 1)))
            continue;
        life->old_tag = true;
        life->number -= 10;
        memcpy(life->tag, lives->at[life->replaces].tag, sizeof life->tag);
        old_labels++;
    }
    struct random_stream r = random_make(lives->seed, STREAM_EVENT + 6);
    int wrong = 0, taken = 0, avium = town_species_find("Prunus avium");
    for (size_t i = 0; i < lives->n_first; i++) {
        struct life *life = &lives->at[i];
        if (life->species == avium && town_plots[life->plot].site == GL && wrong < 11 && life_alive(life, day(2025, 9, 30))) {
            life->true_species = town_species_find("Prunus padus");
            wrong++;
        }
    }
    for (size_t i = 0; i < lives->n_first; i++) {
        struct life *life = &lives->at[i];
        enum site_number site = town_plots[life->plot].site;
        double u = random_uniform(&r);
        life->tag_lost_2024 = (site == LK && u < 0.24) || (site == FB && u < 0.03);
        if (site == TS && u < 0.16 && taken < 38 && life_alive(life, day(2023, 9, 1))) {
            life->tag_lost_2023 = true;
            taken++;
        }
    }
}

void lives_make(const char *path, uint64_t seed, struct lives *out)
{
    *out = (struct lives){.seed = seed};
    plants_read(path, out);
    double *crowding = calloc(out->n + 400, sizeof *crowding);
    size_t *list = calloc(out->n + 400, sizeof *list);
    if (crowding == NULL || list == NULL)
        stop("Out of memory.", "");
    for (int p = 0; p < PLOTS; p++) {
        struct random_stream r = random_make(seed, STREAM_PLOT + (uint64_t)p);
        out->effect[p] = 0.20 * random_normal(&r);
    }
    for (size_t i = 0; i < out->n; i++)
        life_begin(out, i);
    for (int year = FIRST_YEAR; year < FIRST_YEAR + YEARS; year++) {
        int32_t spring = day(year, 4, 1);
        for (size_t i = 0; i < out->n; i++) {
            const struct life *life = &out->at[i];
            bool here = life->cohort <= year && (life_alive(life, spring) || life->resprouted < day(year, 9, 1));
            crowding[i] = here && year - life->cohort >= 2 ? taller(out, i, year - FIRST_YEAR, spring) : here ? 0 : -1;
        }
        for (size_t i = 0; i < out->n; i++)
            if (crowding[i] >= 0)
                season(out, i, year, crowding[i]);
        after_season(out, year, list);
    }
    hidden(out);
    free(crowding);
    free(list);
}

void lives_free(struct lives *lives)
{
    free(lives->at);
    lives->at = NULL;
}

/* ---- the truth, told ---- */

double plot_expected(const struct town_plot *plot)
{
    int counts[SPECIES];
    double alive = 0;
    town_mix(plot, counts);
    for (int i = 0; i < SPECIES; i++) {
        double hazard = 0;
        for (int year = town_sites[plot->site].cohort; year < FIRST_YEAR + YEARS; year++) {
            int age = year - town_sites[plot->site].cohort + 1;
            hazard += town_hazard(plot, &town_species[i], age, year) + town_competition(plot, &town_species[i], age);
        }
        alive += counts[i] * exp(-hazard);
    }
    return alive / plot->plants;
}

static void plants_tell(const struct lives *lives, const char *folder)
{
    struct text out = {0};
    text_add(&out, "plant,tag,site,plot,cell,number,species,really,origin,cohort,died_on,resprouted_on,cause,height_2022_cm,height_2023_cm,"
                   "height_2024_cm,height_2025_cm\n");
    for (size_t i = 0; i < lives->n; i++) {
        const struct life *life = &lives->at[i];
        char died[16] = "", back[16] = "";
        if (life->died != LIVING)
            date_write(life->died, died);
        if (life->resprouted != LIVING)
            date_write(life->resprouted, back);
        text_print(&out, "%lld,%s,%s,%s,%s,%d,%s,%s,%s,%d,%s,%s,%s", (long long)life->id, life->tag,
                   town_sites[town_plots[life->plot].site].code, town_plots[life->plot].code, life->cell, life->number,
                   town_species[life->species].name, town_species[life->true_species >= 0 ? life->true_species : life->species].name,
                   life->replaces >= 0 ? "replacement" : "first_planting", life->cohort, died, back, life->cause);
        for (int y = 1; y <= YEARS; y++)
            text_print(&out, life->height_cm[y] < 0 || !life_alive(life, day(FIRST_YEAR + y - 1, 9, 1)) ? "," : ",%.1f",
                       life->height_cm[y]);
        text_add(&out, "\n");
    }
    file_put(folder, "plants.csv", &out);
}

void truth_write(const struct lives *lives, const char *folder)
{
    struct text out = {0};
    plants_tell(lives, folder);
    text_add(&out,
             "site,plot,planted,expected_survival_2025,own_luck_log_hazard,alive_2022,alive_2023,alive_2024,alive_2025,survival_2025\n");
    for (int p = 0; p < PLOTS; p++) {
        size_t alive[YEARS] = {0}, n = 0;
        for (size_t i = 0; i < lives->n_first; i++) {
            if (lives->at[i].plot != p)
                continue;
            n++;
            for (int y = 0; y < YEARS; y++)
                alive[y] += lives->at[i].cohort <= FIRST_YEAR + y && life_alive(&lives->at[i], day(FIRST_YEAR + y, 9, 8));
        }
        if (n == 0)
            continue;
        text_print(&out, "%s,%s,%zu,%.4f,%.4f,%zu,%zu,%zu,%zu,%.4f\n", town_sites[town_plots[p].site].code, town_plots[p].code, n,
                   plot_expected(&town_plots[p]), lives->effect[p], alive[0], alive[1], alive[2], alive[3], (double)alive[3] / (double)n);
    }
    file_put(folder, "plots.csv", &out);
}
