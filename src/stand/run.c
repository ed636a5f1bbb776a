/* SPDX-License-Identifier: GPL-3.0-or-later
 * One run of the stand: start, a year of growth, death and arrival. Random numbers are counted by run, plant and year
 * (Philox), so that a plant meets the same chances whoever lives beside it and on whatever thread. */
#include "stand/inside.h"
#include "stand/quick.h"
#include <stdlib.h>
#include <string.h>

/* What random numbers are for: a plant's nature, its year, the year's weather, arrivals. */
enum { CHANCE_NATURE = 1, CHANCE_YEAR, CHANCE_WEATHER, CHANCE_ARRIVAL };

struct chance {
    float noise;      ///< about normal: mean 0, variance 1, within ±3.5
    float death, why; ///< 0 … 1
};

static float unit(uint32_t word)
{
    return ((float)(word >> 8) + 0.5f) * 0x1p-24f;
}

static struct chance chance(const struct run *run, uint32_t id, uint32_t year, uint32_t what)
{
    uint64_t seed = run->setting->seed;
    uint32_t counter[4] = {id, (year << 4) | what, (uint32_t)run->number, (uint32_t)(run->number >> 32)};
    uint32_t key[2] = {(uint32_t)seed, (uint32_t)(seed >> 32)}, word[4];
    random_philox(counter, key, word);
    uint32_t sum = (word[0] & 0xffff) + (word[0] >> 16) + (word[1] & 0xffff) + (word[1] >> 16);
    return (struct chance){((float)sum * (1.0f / 65536.0f) - 1.99997f) * 1.7320508f, unit(word[2]), unit(word[3])};
}

void crowd_new(struct crowd *crowd, size_t room)
{
    float **columns[] = {&crowd->x,     &crowd->y,      &crowd->height, &crowd->diameter, &crowd->crown,
                         &crowd->base,  &crowd->vigour, &crowd->nature, &crowd->age,      &crowd->leaf,
                         &crowd->taken, &crowd->alone,  &crowd->top,    &crowd->around,   &crowd->foliage};
    *crowd = (struct crowd){.room = room};
    for (size_t k = 0; k < sizeof columns / sizeof *columns; k++)
        *columns[k] = memory_get(room + 1, sizeof(float));
    crowd->id = memory_get(room + 1, sizeof *crowd->id);
    crowd->kind = memory_get(room + 1, sizeof *crowd->kind);
}

void crowd_free(struct crowd *crowd)
{
    float *columns[] = {crowd->x,   crowd->y,    crowd->height, crowd->diameter, crowd->crown, crowd->base,   crowd->vigour, crowd->nature,
                        crowd->age, crowd->leaf, crowd->taken,  crowd->alone,    crowd->top,   crowd->around, crowd->foliage};
    for (size_t k = 0; k < sizeof columns / sizeof *columns; k++)
        free(columns[k]);
    free(crowd->id);
    free(crowd->kind);
    *crowd = (struct crowd){0};
}

void crowd_move(struct crowd *crowd, size_t from, size_t to)
{
    if (from == to)
        return;
    float *columns[] = {crowd->x,   crowd->y,    crowd->height, crowd->diameter, crowd->crown, crowd->base,   crowd->vigour, crowd->nature,
                        crowd->age, crowd->leaf, crowd->taken,  crowd->alone,    crowd->top,   crowd->around, crowd->foliage};
    for (size_t k = 0; k < sizeof columns / sizeof *columns; k++)
        columns[k][to] = columns[k][from];
    crowd->id[to] = crowd->id[from];
    crowd->kind[to] = crowd->kind[from];
}

struct kind_now kind_now(const struct stand_kind *kind, const double *factors)
{
    double light = fmin(0.35, kind->light_least * factors[FACTOR_LIGHT]), per_leaf = light * 0.65;
    struct kind_now now = {.young = (float)log(factors[FACTOR_GROWTH]), .grown = (float)log(factors[FACTOR_YIELD]), .layer = kind->layer};
    now.least = (float)per_leaf;
    now.upkeep = (float)(LEAF_GAIN * per_leaf / (1 + per_leaf / LEAF_HALF));
    now.rate = (float)(kind->height_rate_m * factors[FACTOR_HEIGHT]);
    now.height_most = (float)kind->height_most_m;
    now.size_most = (float)(kind->diameter_most_cm * kind->diameter_most_cm * kind->height_most_m);
    now.wood = (float)kind->wood_t_m3;
    now.leaf_most = (float)kind->leaf_most;
    now.crown = (float)kind->crown_m;
    now.death = (float)factors[FACTOR_DEATH];
    now.drought = (float)kind->drought;
    /* 1 in 100 lives so long (Botkin, Janak & Wallis 1972), but with a rate that rises with age (Weibull, shape 2) */
    now.age_death = (float)(2 * 4.605 / (kind->age_most * kind->age_most));
    now.shade_death = 0.459f; /* 36.8 % a year without growth: the same */
    return now;
}

static size_t crowd_room(const struct stand_setting *setting)
{
    double area = (setting->box.x_most - setting->box.x_least) * (setting->box.y_most - setting->box.y_least);
    return setting->n_plants + (size_t)(1.5 * setting->arrivals_m2 * area * setting->years) + 64;
}

void run_new(struct run *run, const struct stand_setting *setting, const struct around *around)
{
    *run = (struct run){.setting = setting};
    run->kinds = memory_get(setting->n_kinds, sizeof *run->kinds);
    run->expected = memory_get(setting->n_kinds, sizeof *run->expected);
    air_new(&run->air, around);
    crowd_new(&run->crowd, crowd_room(setting));
    run->local_columns = (size_t)((float)around->columns * around->cell_m / 2.0f) + 1;
    run->local_rows = (size_t)((float)around->rows * around->cell_m / 2.0f) + 1;
    run->local = memory_get(run->local_columns * run->local_rows, sizeof *run->local);
    run->sort_room = setting->inequality ? run->crowd.room : 0;
    run->sort = setting->inequality ? memory_get(run->sort_room, sizeof *run->sort) : NULL;
}

void run_free(struct run *run)
{
    air_free(&run->air);
    crowd_free(&run->crowd);
    free(run->kinds);
    free(run->expected);
    free(run->local);
    free(run->sort);
}

double run_water(const struct stand_setting *setting, size_t number, int year)
{
    struct random_stream r = random_make(setting->seed ^ 0x5741544552ull, (number << 8) | (uint64_t)year);
    if (setting->weather.n > 0)
        return setting->weather.water[random_below(&r, setting->weather.n)];
    return random_beta(&r, 9, 1);
}

static void plant_set(struct run *run, size_t i, const struct stand_plant *plant, uint32_t id)
{
    struct crowd *crowd = &run->crowd;
    struct chance nature = chance(run, id, 0, CHANCE_NATURE);
    float height = (float)plant->height_m;
    float diameter = is_known(plant->diameter_cm) ? (float)plant->diameter_cm : height < 0.4f ? 0.4f : height;
    crowd->x[i] = (float)(plant->x_m - run->air.x0);
    crowd->y[i] = (float)(plant->y_m - run->air.y0);
    crowd->kind[i] = (uint16_t)plant->kind;
    crowd->id[i] = id;
    crowd->height[i] = height;
    crowd->diameter[i] = diameter;
    crowd->base[i] = 0.1f * height;
    crowd->vigour[i] = 0.8f;
    crowd->foliage[i] = 1.0f;
    crowd->nature[i] = quick_exp((float)run->setting->doubt.plant * nature.noise);
    crowd->age[i] = (float)plant->age;
}

void run_start(struct run *run, size_t number, const double *factors)
{
    const struct stand_setting *setting = run->setting;
    run->number = number;
    for (size_t k = 0; k < setting->n_kinds; k++)
        run->kinds[k] = kind_now(&setting->kinds[k], factors + k * STAND_FACTORS);
    for (size_t i = 0; i < setting->n_plants; i++)
        plant_set(run, i, &setting->plants[i], (uint32_t)i);
    run->crowd.n = setting->n_plants;
    run->next_id = (uint32_t)setting->n_plants;
    memset(run->deaths, 0, sizeof run->deaths);
    memset(run->over, 0, sizeof run->over);
    memset(run->expected, 0, setting->n_kinds * sizeof *run->expected);
    crowns_year(&run->crowd, run->kinds);
}

/* How many stand around each plant, from squares of 2 m. */
static void around_count(struct run *run)
{
    struct crowd *crowd = &run->crowd;
    memset(run->local, 0, run->local_columns * run->local_rows * sizeof *run->local);
    for (int pass = 0; pass < 2; pass++)
        for (size_t i = 0; i < crowd->n; i++) {
            long column = (long)(crowd->x[i] * 0.5f), row = (long)(crowd->y[i] * 0.5f);
            column = column < 0 ? 0 : column >= (long)run->local_columns ? (long)run->local_columns - 1 : column;
            row = row < 0 ? 0 : row >= (long)run->local_rows ? (long)run->local_rows - 1 : row;
            uint32_t *at = &run->local[(size_t)row * run->local_columns + (size_t)column];
            if (pass == 0)
                *at += 1;
            else
                crowd->around[i] = 0.25f * (float)(*at - 1);
        }
}

/* Growth of one plant in a year; returns how it grew against growing alone, 0 … 1.2. */
static float plant_grow(struct crowd *crowd, size_t i, const struct kind_now *kind, float place, float water, float noise)
{
    float height = crowd->height[i], diameter = crowd->diameter[i], leaf = crowd->leaf[i];
    float per_size = FORM * 0.25f * PI_F * 0.1f * kind->wood; /* kg per cm² m */
    float size = diameter * diameter * height, mass = per_size * size;
    float left = 1.0f - size / kind->size_most;
    left = left < 0 ? 0 : left;
    float settled = crowd->age[i] < 0.5f ? 0.35f : crowd->age[i] < 1.5f ? 0.8f : 1.0f; /* roots first */
    float share_young = 8.0f / (8.0f + height);
    float factor =
        quick_exp(kind->grown + share_young * (kind->young - kind->grown)) * place * water * crowd->nature[i] * noise * settled * left;
    float here = LEAF_GAIN * crowd->taken[i] / (1.0f + crowd->taken[i] / LEAF_HALF) - kind->upkeep;
    float free_of = LEAF_GAIN * crowd->alone[i] / (1.0f + crowd->alone[i] / LEAF_HALF) - kind->upkeep;
    float share = free_of > 1e-6f ? here / free_of : 0;
    share = share > 1.2f ? 1.2f : share;
    float gain = here > 0 ? leaf * here * factor : 0;
    mass += gain;
    float reach = share > 0 ? sqrtf(share) : 0;
    float pace = kind->rate * (1.0f - height / kind->height_most) * reach * settled * sqrtf(water * crowd->nature[i] * noise) * place;
    float taller = height + (pace > 0 ? pace : 0);
    float limit = BUCKLE * quick_two_thirds(sqrtf(mass / (per_size * height)));
    taller = taller > limit ? (limit > height ? limit : height) : taller;
    float thicker = mass / (per_size * taller);
    if (thicker < diameter * diameter) { /* not wood enough for so much height: stems do not shrink */
        taller = mass / (per_size * diameter * diameter);
        thicker = diameter * diameter;
    }
    crowd->height[i] = taller < height ? height : taller;
    crowd->diameter[i] = sqrtf(thicker);
    return share;
}

/* Death rates of one plant in a year. */
static void plant_risks(const struct run *run, size_t i, float water, float rate[STAND_DEATHS])
{
    const struct stand_ground *ground = &run->setting->ground;
    const struct crowd *crowd = &run->crowd;
    const struct kind_now *kind = &run->kinds[crowd->kind[i]];
    float height = crowd->height[i], vigour = crowd->vigour[i] < 0 ? 0 : crowd->vigour[i];
    float age = crowd->age[i], want = 0.95f - water;
    float death = kind->death * run->death_luck;
    rate[DEATH_ESTABLISH] = death * (float)ground->establish_death * quick_exp(-0.6931472f * age);
    rate[DEATH_SHADE] = kind->shade_death * quick_exp(-vigour / 0.12f);
    rate[DEATH_DROUGHT] = death * kind->drought * (want > 0 ? want : 0) * (0.08f + quick_exp(-height));
    rate[DEATH_DAMAGE] = (float)ground->damage_death * quick_exp(-height) / (1.0f + crowd->around[i] / (float)ground->damage_density);
    rate[DEATH_AGE] = death * (CHANCE_DEATH + kind->age_death * (age + 0.5f));
}

bool plant_mature(const struct crowd *crowd, size_t i, const struct kind_now *kind)
{
    return (kind->layer == LAYER_CANOPY || kind->layer == LAYER_SUBCANOPY) && crowd->height[i] >= 8.0f && crowd->top[i] >= 0.5f;
}

/* What a year is to all plants of a run, beside water: how they grow, and how they die. */
static float season_luck(struct run *run, int year)
{
    const struct stand_doubt *doubt = &run->setting->doubt;
    run->death_luck = quick_exp((float)doubt->season_death * chance(run, UINT32_MAX - 1, (uint32_t)year, CHANCE_WEATHER).noise);
    return quick_exp((float)doubt->season * chance(run, UINT32_MAX, (uint32_t)year, CHANCE_WEATHER).noise);
}

static void plants_year(struct run *run, int year, float water)
{
    struct crowd *crowd = &run->crowd;
    const struct stand_doubt *doubt = &run->setting->doubt;
    float spread = (float)doubt->year, place = (float)run->setting->ground.growth * season_luck(run, year);
    size_t kept = 0;
    for (size_t i = 0; i < crowd->n; i++) {
        const struct kind_now *kind = &run->kinds[crowd->kind[i]];
        struct chance luck = chance(run, crowd->id[i], (uint32_t)year, CHANCE_YEAR);
        float share = plant_grow(crowd, i, kind, place, water, quick_exp(spread * luck.noise));
        crowd->vigour[i] += 0.5f * (share - crowd->vigour[i]);
        float bears = crowd->taken[i] / (LEAF_KEPT * kind->least);
        bears = bears > 1 ? 1 : bears < 0.3f ? 0.3f : bears;
        crowd->foliage[i] += 0.5f * (bears - crowd->foliage[i]);
        float rate[STAND_DEATHS], sum = 0;
        plant_risks(run, i, water, rate);
        for (int k = 0; k < STAND_DEATHS; k++)
            sum += rate[k];
        float dies = 1.0f - quick_exp(-sum);
        int over = crowd->top[i] < 0.5f ? 0 : 2;
        run->expected[crowd->kind[i]] += dies;
        run->over[over] += 1;
        crowd->age[i] += 1;
        if (luck.death >= dies) {
            crowd_move(crowd, i, kept++);
            continue;
        }
        run->over[over + 1] += 1;
        float at = luck.why * sum;
        int cause = 0;
        while (cause < STAND_DEATHS - 1 && at >= rate[cause])
            at -= rate[cause++];
        run->deaths[cause] += 1;
    }
    crowd->n = kept;
}

/* Plants that come by themselves, where the light on the ground lets a seedling live. */
static void arrivals_year(struct run *run, int year)
{
    const struct stand_setting *setting = run->setting;
    if (!(setting->arrivals_m2 > 0) || setting->arriving == NULL)
        return;
    size_t kinds[64], n_kinds = 0;
    for (size_t k = 0; k < setting->n_kinds && n_kinds < 64; k++)
        if (setting->arriving[k])
            kinds[n_kinds++] = k;
    struct random_stream r = random_make(setting->seed ^ 0x415252ull, (run->number << 8) | (uint64_t)year);
    const struct air *air = &run->air;
    double ground = (double)air->cells * (double)air->cell_m * (double)air->cell_m;
    int64_t n = n_kinds == 0 ? 0 : random_poisson(&r, fmin(1e6, setting->arrivals_m2 * ground));
    for (int64_t k = 0; k < n && run->crowd.n < run->crowd.room; k++) {
        size_t kind = kinds[random_below(&r, n_kinds)];
        double x = random_uniform(&r) * (double)air->columns, y = random_uniform(&r) * (double)air->rows;
        size_t cell = (size_t)y * air->columns + (size_t)x;
        float light = 0;
        for (int d = 0; d < STAND_RAYS; d++)
            light += air->share[d] * air->ray[d][cell];
        if (air->inside[cell] == 0 || light * 0.65f < 1.5f * run->kinds[kind].least)
            continue;
        struct stand_plant plant = {.x_m = air->x0 + x * (double)air->cell_m,
                                    .y_m = air->y0 + y * (double)air->cell_m,
                                    .kind = (uint32_t)kind,
                                    .height_m = 0.2,
                                    .diameter_cm = 0.3,
                                    .age = 2};
        plant_set(run, run->crowd.n++, &plant, run->next_id++);
    }
}

void run_year(struct run *run, int year, double water)
{
    memset(run->deaths, 0, sizeof run->deaths);
    memset(run->over, 0, sizeof run->over);
    memset(run->expected, 0, run->setting->n_kinds * sizeof *run->expected);
    light_year(&run->air, &run->crowd, run->kinds);
    around_count(run);
    plants_year(run, year, (float)water);
    arrivals_year(run, year);
    crowns_year(&run->crowd, run->kinds);
}
