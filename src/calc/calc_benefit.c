/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of benefit/. */
#include "benefit/benefit.h"
#include "calc/calc_rooms.h"

#define COUNT(list) (sizeof(list) / sizeof *(list))

static void range_put(json_t *result, const char *name, struct benefit_range range, struct arena *arena)
{
    calc_put(result, name, range.value);
    calc_put(result, arena_print(arena, "%s_low", name), range.low);
    calc_put(result, arena_print(arena, "%s_high", name), range.high);
}

static const struct calc_value sapling_in[] = {{"diameter_mm", "mm", CALC_NUMBER, true, "at the root collar"},
                                               {"height_cm", "cm", CALC_NUMBER, true, "height"}};
static const struct calc_value sapling_out[] = {
    {"mass_g", "g", CALC_NUMBER, true, "above-ground dry mass, bias corrected"},
    {"mass_g_low", "g", CALC_NUMBER, true, "95 % for the mean of such plants at an unseen site"},
    {"mass_g_high", "g", CALC_NUMBER, true, "the same"},
    {"outside", "", CALC_WORD, true, "whether the sizes lie outside of those it was fitted to"},
};

static enum outcome sapling_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct benefit_range range;
    unsigned flags = 0;
    enum outcome outcome = sapling_mass(calc_number(in, "diameter_mm", 0), calc_number(in, "height_cm", 0), &range, &flags, why);
    if (outcome == OUTCOME_OK) {
        range_put(result, "mass_g", range, &arena);
        calc_put_word(result, "outside", flags != 0 ? "yes" : "no");
    }
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value tree_in[] = {{"group", "", CALC_WORD, true, "aspen_alder_willow, maple_birch, mixed_hardwood or oak_beech"},
                                            {"dbh_cm", "cm", CALC_NUMBER, true, "diameter at breast height, 2.5 and more"}};
static const struct calc_value tree_out[] = {
    {"mass_kg", "kg", CALC_NUMBER, true, "above-ground dry mass"},
    {"mass_kg_low", "kg", CALC_NUMBER, true, "95 % for one tree"},
    {"mass_kg_high", "kg", CALC_NUMBER, true, "the same"},
    {"foliage", "", CALC_NUMBER, true, "share of it"},
    {"roots", "", CALC_NUMBER, true, "coarse roots over above-ground"},
    {"bark", "", CALC_NUMBER, true, "share of it"},
    {"wood", "", CALC_NUMBER, true, "share of it"},
};

static enum outcome tree_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct benefit_range range;
    double dbh = calc_number(in, "dbh_cm", 0);
    enum outcome outcome = tree_mass(calc_word(in, "group", ""), dbh, &range, why);
    if (outcome == OUTCOME_OK) {
        range_put(result, "mass_kg", range, &arena);
        for (size_t i = 3; i < COUNT(tree_out); i++)
            calc_put(result, tree_out[i].name, tree_part(tree_out[i].name, dbh));
    }
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value canopy_in[] = {
    {"cover", "", CALC_NUMBER, true, "share of ground under crowns, 0–1"},
    {"storage_mm", "mm", CALC_NUMBER, true, "what the canopy holds, on the area of ground"},
    {"evaporation_rain", "", CALC_NUMBER, true, "evaporation over rain rate, on the area of ground"},
    {"rain_mm", "mm", CALC_NUMBER, true, "rain of one storm"}};
static const struct calc_value canopy_out[] = {{"lost_mm", "mm", CALC_NUMBER, true, "kept by the canopy and evaporated"},
                                               {"saturating_mm", "mm", CALC_NUMBER, true, "rain that wets it full"}};

static enum outcome canopy_run(const json_t *in, json_t *result, struct failure *why)
{
    struct canopy canopy = {calc_number(in, "cover", 0), calc_number(in, "storage_mm", 0), calc_number(in, "evaporation_rain", 0)};
    double lost = 0, full = 0;
    enum outcome outcome = canopy_storm(&canopy, calc_number(in, "rain_mm", 0), &lost, &full, why);
    if (outcome == OUTCOME_OK) {
        calc_put(result, "lost_mm", lost);
        calc_put(result, "saturating_mm", full);
    }
    return outcome;
}

static const struct calc_value noise_in[] = {{"path_m", "m", CALC_NUMBER, true, "of dense foliage between source and listener"}};
static const struct calc_value noise_out[] = {
    {"attenuation_db", "dB", CALC_NUMBERS, true, "at 63, 125, 250, 500, 1000, 2000, 4000, 8000 Hz"}};

static enum outcome noise_run(const json_t *in, json_t *result, struct failure *why)
{
    double bands[NOISE_BANDS];
    enum outcome outcome = noise_foliage(calc_number(in, "path_m", 0), bands, why);
    if (outcome == OUTCOME_OK)
        calc_put_all(result, "attenuation_db", bands, NOISE_BANDS);
    return outcome;
}

static const struct calc_value heat_in[] = {{"mm_day", "mm", CALC_NUMBER, true, "evaporated in a day"},
                                            {"area_m2", "m2", CALC_NUMBER, true, "of canopy"},
                                            {"t_c", "degC", CALC_NUMBER, false, "temperature (20)"}};
static const struct calc_value heat_out[] = {{"kw", "kW", CALC_NUMBER, true, "mean over the day"}};

static enum outcome heat_run(const json_t *in, json_t *result, struct failure *why)
{
    double mm = calc_number(in, "mm_day", 0), area = calc_number(in, "area_m2", 0);
    if (!(mm >= 0 && mm <= 20) || !(area >= 0))
        return fail(why, OUTCOME_DATA, "A day evaporates 0 to 20 mm, from an area that is not negative.");
    calc_put(result, "kw", heat_evaporated_kw(mm, area, calc_number(in, "t_c", 20)));
    return OUTCOME_OK;
}

static const struct calc_value dust_in[] = {{"concentration_ug_m3", "ug/m3", CALC_NUMBER, true, "fine dust in the air"},
                                            {"leaf_area", "", CALC_NUMBER, false, "leaf area over ground (1)"},
                                            {"area_m2", "m2", CALC_NUMBER, false, "of ground (1)"},
                                            {"blown_off", "", CALC_NUMBER, false, "share blown off again (0)"}};
static const struct calc_value dust_out[] = {{"dust_g", "g", CALC_NUMBER, true, "settling in a year, at 0.2 cm/s"},
                                             {"dust_g_low", "g", CALC_NUMBER, true, "at 0.03 cm/s"},
                                             {"dust_g_high", "g", CALC_NUMBER, true, "at 0.9 cm/s"}};

static enum outcome dust_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    double blown = calc_number(in, "blown_off", 0), air = calc_number(in, "concentration_ug_m3", 0);
    if (!(blown >= 0 && blown <= 1) || !(air >= 0))
        return fail(why, OUTCOME_DATA, "The share blown off lies between 0 and 1; the concentration is not negative.");
    range_put(result, "dust_g", dust_year_g(air, calc_number(in, "leaf_area", 1), calc_number(in, "area_m2", 1), blown), &arena);
    arena_clear(&arena);
    return OUTCOME_OK;
}

#define TABLE(name) name##_in, COUNT(name##_in), name##_out, COUNT(name##_out), name##_run
const struct calc calc_benefit[] = {
    {"sapling_mass", "Dry mass of a sapling from its collar and height", "fitted to Falster et al. 2015, Ecology 96:1445 (CC0)",
     TABLE(sapling)},
    {"tree_mass", "Dry mass of a tree from its diameter", "Jenkins et al. 2003, For Sci 49:12, read at second hand", TABLE(tree)},
    {"canopy_storm", "Rain of a storm kept by a sparse canopy", "Gash, Lloyd & Lachaud 1995, J Hydrol 170:79", TABLE(canopy)},
    {"noise_foliage", "Noise taken off by dense foliage", "ISO 9613-2:1996, annex A, table A.1, read at second hand", TABLE(noise)},
    {"heat_evaporated", "Heat taken up by evaporation", "FAO-56, latent heat of evaporation", TABLE(heat)},
    {"dust_settling", "Dust settling on leaves in a year", "Nowak et al. 2013, Environ Pollut 178:395, from memory", TABLE(dust)},
    {0},
};
