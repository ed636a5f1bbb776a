/* SPDX-License-Identifier: GPL-3.0-or-later
 * From the traits of a species to what it does in the growth equations, and how far that is in doubt.
 * Every figure here that is not in the species library is illustrative: docs/methods/stand.md lists them. */
#include "stand/stand.h"
#include <math.h>

const char *const stand_factor_words[STAND_FACTORS] = {"growth in wood when young", "growth in height", "death but by shade",
                                                       "light needed", "growth in wood when grown"};

static double height_assumed(enum layer layer)
{
    switch (layer) {
    case LAYER_CANOPY:
        return 25;
    case LAYER_SUBCANOPY:
        return 12;
    case LAYER_CLIMBER:
        return 6;
    case LAYER_GROUND:
        return 1;
    default:
        return 4;
    }
}

struct stand_kind stand_kind_of(const struct stand_traits *traits)
{
    struct stand_kind kind = {.name = traits->name, .layer = traits->layer};
    kind.height_most_m = traits->height_most_m;
    if (!is_known(kind.height_most_m) || !(kind.height_most_m > 0)) {
        kind.height_most_m = height_assumed(traits->layer);
        kind.assumed |= ASSUMED_HEIGHT;
    }
    static const double rates[] = {0.50, 0.35, 0.55, 0.85};
    int growth = traits->growth < 0 || traits->growth > 3 ? 0 : traits->growth;
    kind.height_rate_m = rates[growth] * fmin(1.0, 0.4 + kind.height_most_m / 20);
    if (is_known(traits->height_20_m) && traits->height_20_m > 0.5 && traits->height_20_m < 0.95 * kind.height_most_m)
        /* of H = Hm (1 − exp(−r t / Hm)) through the height at 20 years */
        kind.height_rate_m = -log(1 - traits->height_20_m / kind.height_most_m) * kind.height_most_m / 20;
    else if (growth == 0)
        kind.assumed |= ASSUMED_RATE;
    double shade = traits->shade, drought = traits->drought, wood = traits->wood_g_cm3;
    if (!is_known(shade)) {
        shade = traits->layer == LAYER_CANOPY ? 2.7 : 3.0;
        kind.assumed |= ASSUMED_SHADE;
    }
    if (!is_known(drought)) {
        drought = 2.7;
        kind.assumed |= ASSUMED_DROUGHT;
    }
    if (!is_known(wood)) {
        wood = 0.55;
        kind.assumed |= ASSUMED_WOOD;
    }
    shade = fmin(5, fmax(1, shade));
    drought = fmin(5, fmax(1, drought));
    kind.light_least = 0.16 * exp(-0.42 * (shade - 1));
    kind.leaf_most = 1.8 + 0.5 * (shade - 1);
    kind.crown_m = 0.52;
    kind.diameter_most_cm = 3.2 * kind.height_most_m + 4;
    kind.wood_t_m3 = fmin(1.0, fmax(0.25, wood));
    kind.drought = 0.9 * exp(-0.5 * (drought - 1));
    kind.age_most = growth == 3 ? 150 : growth == 1 ? 400 : 250;
    if (traits->layer == LAYER_SHRUB || traits->layer == LAYER_CLIMBER || traits->layer == LAYER_GROUND)
        kind.age_most = 150;
    return kind;
}

struct stand_doubt stand_doubt_default(void)
{
    return (struct stand_doubt){.kind = {0.20, 0.20, 0.40, 0.25, 0.15},
                                .place = {0.20, 0.20, 0.40, 0.15, 0.20},
                                .plant = 0.20,
                                .year = 0.25,
                                .season = 0.25,
                                .season_death = 0.4};
}

void stand_factors_draw(const struct stand_doubt *doubt, size_t n_kinds, size_t runs, uint64_t seed, double *out)
{
    for (size_t r = 0; r < runs; r++) {
        struct random_stream stream = random_make(seed ^ 0x464143544f52ull, r);
        double place[STAND_FACTORS];
        for (int f = 0; f < STAND_FACTORS; f++)
            place[f] = doubt->place[f] * random_normal(&stream);
        for (size_t k = 0; k < n_kinds; k++)
            for (int f = 0; f < STAND_FACTORS; f++)
                out[(r * n_kinds + k) * STAND_FACTORS + (size_t)f] = exp(place[f] + doubt->kind[f] * random_normal(&stream));
    }
}

struct stand_ground stand_ground_prepared(void)
{
    return (struct stand_ground){.establish_death = 0.08, .growth = 1.0, .damage_death = 0.06, .damage_density = 1.0};
}

struct stand_ground stand_ground_unprepared(void)
{
    return (struct stand_ground){.establish_death = 0.20, .growth = 0.75, .damage_death = 0.06, .damage_density = 1.0};
}

void stand_setting_init(struct stand_setting *setting)
{
    *setting =
        (struct stand_setting){.ground = stand_ground_prepared(), .doubt = stand_doubt_default(), .years = 30, .runs = 200, .seed = 1};
}
