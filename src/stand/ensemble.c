/* SPDX-License-Identifier: GPL-3.0-or-later
 * Many runs at once: checks, threads, what is kept of each run, and one run again for a picture.
 * Each run writes only its own rows; what is summed over runs is whole numbers, so that order does not matter. */
#include "stand/inside.h"
#include "stand/quick.h"
#include <math.h>
#include <omp.h>
#include <stdlib.h>
#include <string.h>

const struct stand_measure_words stand_measures[STAND_MEASURES] = {
    {"alive", "living plants", "", 0},
    {"basal_area", "basal area at the collar", "m²/ha", 1},
    {"diameter", "quadratic mean basal diameter", "cm", 1},
    {"breast", "quadratic mean diameter at 1.3 m, by taper", "cm", 1},
    {"height", "mean height", "m", 1},
    {"top_height", "height of the tallest 100 per hectare", "m", 1},
    {"mass", "dry wood above ground", "kg/m²", 2},
    {"leaf", "leaf area over ground area", "", 1},
    {"cover", "ground under crowns", "share", 2},
    {"floor_light", "light that reaches the ground", "share of full light", 2},
    {"variation", "coefficient of variation of plant mass", "", 2},
    {"gini", "Gini's coefficient of plant mass", "", 2},
    {"mature", "plants of 8 m or more in full light", "", 0},
};
const char *const stand_death_words[STAND_DEATHS] = {"not established", "shaded out", "drought", "damage", "age and chance"};

static enum outcome plants_check(const struct stand_setting *setting, struct failure *why)
{
    for (size_t i = 0; i < setting->n_plants; i++) {
        const struct stand_plant *plant = &setting->plants[i];
        if (!isfinite(plant->x_m) || !isfinite(plant->y_m) || plant->kind >= setting->n_kinds)
            return fail(why, OUTCOME_DATA, "Plant %zu has no place or kind.", i + 1);
        if (!(plant->height_m >= 0.02 && plant->height_m <= 80))
            return fail(why, OUTCOME_DATA, "Plant %zu: a height of %g m cannot be.", i + 1, plant->height_m);
        if (is_known(plant->diameter_cm) && !(plant->diameter_cm > 0 && plant->diameter_cm <= 400))
            return fail(why, OUTCOME_DATA, "Plant %zu: a diameter of %g cm cannot be.", i + 1, plant->diameter_cm);
    }
    return OUTCOME_OK;
}

static enum outcome setting_check(const struct stand_setting *setting, struct failure *why)
{
    if (setting->years < 1 || setting->years > 100)
        return fail(why, OUTCOME_USAGE, "years: %d is not between 1 and 100.", setting->years);
    if (setting->runs < 1 || setting->runs > 100000)
        return fail(why, OUTCOME_USAGE, "runs: %zu is not between 1 and 100,000.", setting->runs);
    if (setting->n_kinds < 1 || setting->n_kinds > 60000 || setting->n_plants < 1 || setting->n_plants > 20000000)
        return fail(why, OUTCOME_DATA, "There is nothing to look ahead for: no plants or no kinds.");
    if (setting->n_show > 16)
        return fail(why, OUTCOME_USAGE, "At most 16 years can be shown plant by plant.");
    for (size_t i = 0; i < setting->n_show; i++)
        if (setting->show[i] < 0 || setting->show[i] > setting->years || (i > 0 && setting->show[i] <= setting->show[i - 1]))
            return fail(why, OUTCOME_USAGE, "The years to show must ascend and lie within 0 to %d.", setting->years);
    for (size_t i = 0; i < setting->weather.n; i++)
        if (!(setting->weather.water[i] >= 0 && setting->weather.water[i] <= 1))
            return fail(why, OUTCOME_DATA, "A year's water factor of %g is not between 0 and 1.", setting->weather.water[i]);
    return plants_check(setting, why);
}

/* The box of an outline goes into the setting's copy, so that all files see one. */
static struct stand_setting boxed(const struct stand_setting *setting)
{
    struct stand_setting copy = *setting;
    if (setting->outline != NULL)
        copy.box = shape_box(setting->outline);
    return copy;
}

static void result_make(const struct stand_setting *setting, struct arena *arena, struct stand_result *out)
{
    size_t rows = setting->runs * ((size_t)setting->years + 1), kinds = setting->n_kinds;
    *out = (struct stand_result){.runs = setting->runs,
                                 .n_kinds = kinds,
                                 .n_plants = setting->n_plants,
                                 .n_show = setting->n_show,
                                 .years = setting->years,
                                 .area_m2 = setting->outline != NULL ? shape_area_m2(setting->outline)
                                                                     : (setting->box.x_most - setting->box.x_least) *
                                                                           (setting->box.y_most - setting->box.y_least)};
    out->measure = arena_array(arena, rows * STAND_MEASURES, sizeof(float));
    out->kind_alive = arena_array(arena, rows * kinds, sizeof(float));
    out->kind_height = arena_array(arena, rows * kinds, sizeof(float));
    out->kind_diameter = arena_array(arena, rows * kinds, sizeof(float));
    out->kind_mature = arena_array(arena, rows * kinds, sizeof(float));
    out->kind_expected = arena_array(arena, rows * kinds, sizeof(float));
    out->layer_height = arena_array(arena, rows * STAND_LAYER_COUNT, sizeof(float));
    out->deaths = arena_array(arena, rows * STAND_DEATHS, sizeof(float));
    out->over = arena_array(arena, rows * 4, sizeof(float));
    out->plant_alive = arena_array(arena, setting->n_show * setting->n_plants + 1, sizeof(uint32_t));
    out->plant_mature = arena_array(arena, setting->n_show * setting->n_plants + 1, sizeof(uint32_t));
    out->plant_height = arena_array(arena, setting->n_show * setting->n_plants + 1, sizeof(uint64_t));
}

/* Mean height of the tallest, from classes of height with their sums. */
static double top_height(const struct crowd *crowd, double area_m2)
{
    enum { CLASSES = 256 };
    double sums[CLASSES] = {0}, tallest = 0.1, wanted = fmax(1, area_m2 / 100), left = wanted, sum = 0;
    size_t counts[CLASSES] = {0};
    for (size_t i = 0; i < crowd->n; i++)
        tallest = fmax(tallest, (double)crowd->height[i]);
    for (size_t i = 0; i < crowd->n; i++) {
        size_t class = (size_t)((double)crowd->height[i] / tallest * (CLASSES - 1));
        counts[class]++;
        sums[class] += (double)crowd->height[i];
    }
    for (int class = CLASSES - 1; class >= 0 && left > 0; class --) {
        double take = fmin(left, (double)counts[class]);
        sum += take > 0 ? sums[class] * take / (double)counts[class] : 0;
        left -= take;
    }
    return crowd->n == 0 ? (double)NAN : sum / (wanted - fmax(0, left));
}

/* Sums over the living plants of one run. */
struct sums {
    double basal, square, height, mass, mass2, leaf, breast;
    size_t mature, tall;
};

static void kinds_measure(const struct run *run, struct stand_result *out, size_t row, struct sums *sums)
{
    const struct crowd *crowd = &run->crowd;
    size_t kinds = out->n_kinds;
    float *alive = out->kind_alive + row * kinds, *height = out->kind_height + row * kinds, *diameter = out->kind_diameter + row * kinds;
    float *mature = out->kind_mature + row * kinds;
    double layer[STAND_LAYER_COUNT] = {0};
    size_t layer_n[STAND_LAYER_COUNT] = {0};
    for (size_t i = 0; i < crowd->n; i++) {
        size_t k = crowd->kind[i];
        const struct kind_now *kind = &run->kinds[k];
        double h = (double)crowd->height[i], d = (double)crowd->diameter[i];
        double mass = stand_mass_kg(d, h, (double)kind->wood);
        bool full = plant_mature(crowd, i, kind);
        alive[k] += 1;
        height[k] += crowd->height[i];
        diameter[k] += crowd->diameter[i];
        mature[k] += full;
        sums->mature += full;
        sums->square += d * d;
        sums->height += h;
        if (h > 2) { /* (1 − 1.3/h)^1.4, the taper squared */
            sums->breast += d * d * (double)quick_exp(1.4f * quick_log(1 - 1.3f / crowd->height[i]));
            sums->tall++;
        }
        sums->mass += mass;
        sums->mass2 += mass * mass;
        sums->leaf += (double)crowd->leaf[i];
        size_t in = (size_t)kind->layer < STAND_LAYER_COUNT ? (size_t)kind->layer : 0;
        layer[in] += h;
        layer_n[in]++;
        if (run->sort != NULL)
            run->sort[i] = mass;
    }
    for (size_t k = 0; k < kinds; k++) {
        height[k] = alive[k] > 0 ? height[k] / alive[k] : NAN;
        diameter[k] = alive[k] > 0 ? diameter[k] / alive[k] : NAN;
        out->kind_expected[row * kinds + k] = run->expected[k];
    }
    for (size_t k = 0; k < STAND_LAYER_COUNT; k++)
        out->layer_height[row * STAND_LAYER_COUNT + k] = layer_n[k] > 0 ? (float)(layer[k] / (double)layer_n[k]) : NAN;
}

static void year_measure(struct run *run, struct stand_result *out, size_t row, bool lit)
{
    const struct crowd *crowd = &run->crowd;
    struct sums sums = {0};
    kinds_measure(run, out, row, &sums);
    double n = (double)crowd->n, mean = sums.mass / n, cover = 0, floor_light = 0;
    float *m = out->measure + row * STAND_MEASURES;
    for (size_t cell = 0; lit && cell < run->air.cells; cell++) {
        if (run->air.inside[cell] == 0)
            continue;
        cover += fmin(1, (double)run->air.cover[cell]);
        for (int d = 0; d < STAND_RAYS; d++)
            floor_light += (double)(run->air.share[d] * run->air.ray[d][cell]);
    }
    m[STAND_ALIVE] = (float)n;
    m[STAND_BASAL] = (float)(sums.square * 0.785398163397448 / out->area_m2);
    m[STAND_DIAMETER] = (float)sqrt(sums.square / n);
    m[STAND_BREAST] = sums.tall > 0 ? (float)sqrt(sums.breast / (double)sums.tall) : NAN;
    m[STAND_HEIGHT] = (float)(sums.height / n);
    m[STAND_TOP_HEIGHT] = (float)top_height(crowd, out->area_m2);
    m[STAND_MASS] = (float)(sums.mass / out->area_m2);
    m[STAND_LEAF] = (float)(sums.leaf / out->area_m2);
    m[STAND_COVER] = lit ? (float)(cover / (double)run->air.n_inside) : NAN;
    m[STAND_FLOOR] = lit ? (float)(floor_light / (double)run->air.n_inside) : NAN;
    m[STAND_VARIATION] = crowd->n > 1 ? (float)(sqrt(fmax(0, sums.mass2 / n - mean * mean) * n / (n - 1)) / mean) : NAN;
    m[STAND_GINI] = run->sort != NULL && crowd->n > 1 ? (float)stand_mean_sorted_gini(run->sort, crowd->n) : NAN;
    m[STAND_MATURE] = (float)sums.mature;
    memcpy(out->deaths + row * STAND_DEATHS, run->deaths, sizeof run->deaths);
    memcpy(out->over + row * 4, run->over, sizeof run->over);
}

/* Plants one by one in a year that is shown: whole numbers, added without regard to order. */
static void plants_tally(const struct run *run, struct stand_result *out, size_t show)
{
    for (size_t i = 0; i < run->crowd.n; i++) {
        size_t plant = run->crowd.id[i];
        if (plant >= out->n_plants)
            continue;
        uint64_t mm = (uint64_t)((double)run->crowd.height[i] * 1000 + 0.5);
        bool mature = plant_mature(&run->crowd, i, &run->kinds[run->crowd.kind[i]]);
        plant += show * out->n_plants;
#pragma omp atomic
        out->plant_alive[plant] += 1;
#pragma omp atomic
        out->plant_mature[plant] += mature;
#pragma omp atomic
        out->plant_height[plant] += mm;
    }
}

static void run_whole(struct run *run, size_t number, const double *factors, struct stand_result *out)
{
    const struct stand_setting *setting = run->setting;
    size_t row = number * ((size_t)setting->years + 1), show = 0;
    run_start(run, number, factors);
    for (int year = 0; year <= setting->years; year++) {
        if (year > 0)
            run_year(run, year, run_water(setting, number, year));
        year_measure(run, out, row + (size_t)year, year > 0);
        if (show < setting->n_show && setting->show[show] == year)
            plants_tally(run, out, show++);
    }
}

/* What the other ranks did, into the same arrays. */
static enum outcome ranks_meet(const struct stand_setting *setting, struct stand_result *out, struct failure *why)
{
    const struct stand_spread *spread = setting->spread;
    size_t years = (size_t)setting->years + 1, tally = setting->n_show * setting->n_plants;
    struct {
        float *at;
        size_t wide;
    } arrays[] = {{out->measure, STAND_MEASURES},         {out->kind_alive, out->n_kinds},  {out->kind_height, out->n_kinds},
                  {out->kind_diameter, out->n_kinds},     {out->kind_mature, out->n_kinds}, {out->kind_expected, out->n_kinds},
                  {out->layer_height, STAND_LAYER_COUNT}, {out->deaths, STAND_DEATHS},      {out->over, 4}};
    enum outcome outcome = OUTCOME_OK;
    for (size_t k = 0; k < sizeof arrays / sizeof *arrays && outcome == OUTCOME_OK; k++)
        outcome = spread->gather(spread->who, arrays[k].at, setting->runs, years * arrays[k].wide * sizeof(float), why);
    uint64_t *sum = memory_get(3 * tally + 1, sizeof *sum);
    for (size_t i = 0; i < tally; i++) {
        sum[i] = out->plant_alive[i];
        sum[tally + i] = out->plant_mature[i];
        sum[2 * tally + i] = out->plant_height[i];
    }
    if (outcome == OUTCOME_OK && tally > 0)
        outcome = spread->add(spread->who, sum, 3 * tally, why);
    for (size_t i = 0; i < tally; i++) {
        out->plant_alive[i] = (uint32_t)sum[i];
        out->plant_mature[i] = (uint32_t)sum[tally + i];
        out->plant_height[i] = sum[2 * tally + i];
    }
    free(sum);
    return outcome;
}

static const double *factors_of(const struct stand_setting *setting, struct arena *arena)
{
    if (setting->factors != NULL)
        return setting->factors;
    double *factors = arena_array(arena, setting->runs * setting->n_kinds * STAND_FACTORS, sizeof *factors);
    stand_factors_draw(&setting->doubt, setting->n_kinds, setting->runs, setting->seed, factors);
    return factors;
}

enum outcome stand_look_ahead(const struct stand_setting *asked, struct arena *arena, struct stand_result *out, struct failure *why)
{
    struct stand_setting setting = boxed(asked);
    struct around around;
    enum outcome outcome = setting_check(&setting, why);
    if (outcome == OUTCOME_OK)
        outcome = around_make(&setting, arena, &around, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    result_make(&setting, arena, out);
    const double *factors = factors_of(&setting, arena);
    size_t first = setting.spread == NULL ? 0 : (size_t)setting.spread->rank,
           step = setting.spread == NULL ? 1 : (size_t)setting.spread->ranks;
    size_t n = first < setting.runs ? (setting.runs - first + step - 1) / step : 0, done = 0;
    int threads = setting.threads > 0 ? setting.threads : omp_get_max_threads();
    threads = n < (size_t)threads ? (int)fmax(1, (double)n) : threads;
    bool off = false;
#pragma omp parallel num_threads(threads)
    {
        struct run run;
        run_new(&run, &setting, &around);
#pragma omp for schedule(dynamic, 1)
        for (size_t k = 0; k < n; k++) {
            bool stop;
#pragma omp atomic read
            stop = off;
            if (stop)
                continue;
            size_t number = first + k * step;
            run_whole(&run, number, factors + number * setting.n_kinds * STAND_FACTORS, out);
#pragma omp critical(stand_told)
            if (!progress_tell(setting.progress, (double)++done / (double)n, "looking ahead")) {
#pragma omp atomic write
                off = true;
            }
        }
        run_free(&run);
    }
    if (off)
        return fail(why, OUTCOME_CANCELLED, "The look ahead was called off.");
    return setting.spread == NULL ? OUTCOME_OK : ranks_meet(&setting, out, why);
}

enum outcome stand_picture(const struct stand_setting *asked, size_t number, struct arena *arena, struct stand_picture_plant **pictures,
                           size_t *n, struct failure *why)
{
    struct stand_setting setting = boxed(asked);
    struct around around;
    enum outcome outcome = setting_check(&setting, why);
    if (outcome == OUTCOME_OK)
        outcome = around_make(&setting, arena, &around, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    const double *factors = factors_of(&setting, arena);
    struct run run;
    run_new(&run, &setting, &around);
    run_start(&run, number, factors + number * setting.n_kinds * STAND_FACTORS);
    for (int year = 0, show = 0; year <= setting.years && (size_t)show < setting.n_show; year++) {
        if (year > 0)
            run_year(&run, year, run_water(&setting, number, year));
        if (setting.show[show] != year)
            continue;
        const struct crowd *crowd = &run.crowd;
        n[show] = crowd->n;
        pictures[show] = arena_array(arena, crowd->n + 1, sizeof **pictures);
        for (size_t i = 0; i < crowd->n; i++)
            pictures[show][i] = (struct stand_picture_plant){.plant = crowd->id[i] < setting.n_plants ? crowd->id[i] : UINT32_MAX,
                                                             .kind = crowd->kind[i],
                                                             .x_m = around.x0 + (double)crowd->x[i],
                                                             .y_m = around.y0 + (double)crowd->y[i],
                                                             .height_m = (double)crowd->height[i],
                                                             .base_m = (double)crowd->base[i],
                                                             .crown_m = (double)crowd->crown[i],
                                                             .diameter_cm = (double)crowd->diameter[i]};
        show++;
    }
    run_free(&run);
    return OUTCOME_OK;
}
