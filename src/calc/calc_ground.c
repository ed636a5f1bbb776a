/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of ground/. */
#include "calc/calc_rooms.h"
#include "ground/ground.h"
#include <math.h>
#include <stddef.h>
#include <string.h>

#define COUNT(list) (sizeof(list) / sizeof *(list))

/* ---- texture and bands ---- */

static const struct calc_value texture_in[] = {
    {"sand_pct", "%", CALC_NUMBER, false, "sand of the fine earth by mass, 0–100"},
    {"silt_pct", "%", CALC_NUMBER, false, "silt, 0–100"},
    {"clay_pct", "%", CALC_NUMBER, false, "clay, 0–100; one of the three may be left out"},
    {"tolerance_pct", "%", CALC_NUMBER, false, "how far the sum may miss 100, default 1"},
};
static const struct calc_value texture_out[] = {{"texture", "", CALC_WORD, true, "USDA texture class"}};

static enum outcome texture_run(const json_t *in, json_t *result, struct failure *why)
{
    double none = unknown_real();
    enum texture texture = TEXTURE_UNKNOWN;
    enum outcome outcome = texture_of(calc_number(in, "sand_pct", none), calc_number(in, "silt_pct", none),
                                      calc_number(in, "clay_pct", none), calc_number(in, "tolerance_pct", 1), &texture, why);
    if (outcome == OUTCOME_OK)
        calc_put_word(result, "texture", texture_words(texture));
    return outcome;
}

static enum texture texture_read(const json_t *in)
{
    const char *word = calc_word(in, "texture", NULL);
    for (int i = 1; i < TEXTURE_COUNT; i++)
        if (text_same(word, texture_words((enum texture)i)) || text_same(word, word_of(WORDS_TEXTURE, i)))
            return (enum texture)i;
    return TEXTURE_UNKNOWN;
}

static enum outcome texture_refuse(struct failure *why)
{
    fail(why, OUTCOME_USAGE, "There is no such texture class.");
    return failure_remedy(why, "Write one of the twelve USDA classes, such as sandy_loam.");
}

static const struct calc_value penetration_in[] = {
    {"penetration_mpa", "MPa", CALC_NUMBER, true, "cone penetration resistance, 0–15"},
    {"near_field_capacity", "", CALC_WORD, false, "yes, no or unknown (default): whether the ground was near field capacity"},
};
static const struct calc_value band_out[] = {{"state", "", CALC_WORD, true, "the band"}, {"words", "", CALC_WORD, true, "what it means"}};

static enum outcome penetration_run(const json_t *in, json_t *result, struct failure *why)
{
    double mpa = calc_number(in, "penetration_mpa", unknown_real());
    struct arena arena = {0};
    struct soil_question question;
    enum outcome outcome = OUTCOME_OK;
    if (soil_question_number("penetration_mpa", mpa, &arena, &question)) {
        outcome = fail(why, OUTCOME_DATA, "%s", question.sentence);
    } else {
        static const char *const states[] = {"unknown", "not comparable", "free", "restricting", "nearly no roots"};
        int truth = word_find(WORDS_TRUTH, calc_word(in, "near_field_capacity", "unknown"));
        const char *words = NULL;
        enum penetration_state state = penetration_judge(mpa, truth < 0 ? TRUTH_UNKNOWN : (enum truth)truth, &words);
        calc_put_word(result, "state", states[state]);
        calc_put_word(result, "words", words);
    }
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value infiltration_in[] = {
    {"fall_mm", "mm", CALC_NUMBERS, true, "fall of the water in each fill of a ring or hole, in order"},
    {"minutes", "min", CALC_NUMBERS, true, "time of each fill"},
};
static const struct calc_value infiltration_out[] = {
    {"infiltration_mm_h", "mm/h", CALC_NUMBER, true, "rate of the last fill"},
    {"state", "", CALC_WORD, true, "the band"},
    {"words", "", CALC_WORD, true, "what it means"},
};

static enum outcome infiltration_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n = 0, m = 0;
    double *fall = calc_numbers(in, "fall_mm", &arena, &n), *minutes = calc_numbers(in, "minutes", &arena, &m), rate = 0;
    enum outcome outcome = n != m ? fail(why, OUTCOME_USAGE, "There are %zu falls and %zu times; each fill needs both.", n, m)
                                  : infiltration_from_fills(fall, minutes, n, &rate, why);
    if (outcome == OUTCOME_OK) {
        static const char *const states[] = {"unknown", "poor", "slow", "fine", "droughty"};
        const char *words = NULL;
        calc_put(result, "infiltration_mm_h", rate);
        calc_put_word(result, "state", states[infiltration_judge(rate, &words)]);
        calc_put_word(result, "words", words);
    }
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value ph_in[] = {
    {"ph", "", CALC_NUMBER, true, "pH, 1–12"},
    {"ph_method", "", CALC_WORD, false, "water (default), calcium_chloride, potassium_chloride"},
};

static enum outcome ph_run(const json_t *in, json_t *result, struct failure *why)
{
    int method = word_find(WORDS_PH_METHOD, calc_word(in, "ph_method", "water"));
    if (method <= 0)
        return fail(why, OUTCOME_USAGE, "ph_method must be water, calcium_chloride or potassium_chloride.");
    static const char *const states[] = {"unknown", "outside", "acid", "tolerable", "comfortable", "lime"};
    const char *words = NULL;
    calc_put_word(result, "state", states[ph_judge(calc_number(in, "ph", 0), (enum ph_method)method, &words)]);
    calc_put_word(result, "words", words);
    return OUTCOME_OK;
}

static const struct calc_value worms_in[] = {
    {"counts", "", CALC_NUMBERS, true, "worms in each 20 × 20 × 20 cm pit; NA for a pit not looked at"}};
static const struct calc_value worms_out[] = {
    {"pits", "", CALC_NUMBER, true, "pits counted"},
    {"mean_per_pit", "1/pit", CALC_NUMBER, true, "mean"},
    {"per_m2", "1/m2", CALC_NUMBER, true, "per square metre"},
    {"least", "1/pit", CALC_NUMBER, true, "fewest"},
    {"most", "1/pit", CALC_NUMBER, true, "most"},
    {"words", "", CALC_WORD, true, "what it means"},
};

static enum outcome worms_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n = 0;
    const double *counts = calc_numbers(in, "counts", &arena, &n);
    struct worm_count out;
    enum outcome outcome = worms_judge(counts, n, &out, why);
    if (outcome == OUTCOME_OK) {
        calc_put(result, "pits", (double)out.pits);
        calc_put(result, "mean_per_pit", out.mean_per_pit);
        calc_put(result, "per_m2", out.per_m2);
        calc_put(result, "least", out.least);
        calc_put(result, "most", out.most);
        calc_put_word(result, "words", out.words);
    }
    arena_clear(&arena);
    return outcome;
}

/* ---- pores ---- */

static const struct calc_value soil_in[] = {
    {"sand_pct", "%", CALC_NUMBER, false, "sand of the fine earth by mass"},
    {"clay_pct", "%", CALC_NUMBER, false, "clay of the fine earth by mass"},
    {"texture", "", CALC_WORD, false, "class by feel, in place of sand and clay"},
    {"organic_matter_pct", "%", CALC_NUMBER, false, "organic matter by mass, not carbon; default 2.5 and flagged"},
    {"bulk_density_g_cm3", "g/cm3", CALC_NUMBER, false, "measured density of the fine earth; default the normal density"},
    {"density_factor", "", CALC_NUMBER, false, "density over normal density, 0.9–1.3; default 1"},
    {"stones_pct", "%", CALC_NUMBER, false, "stones over 2 mm by volume; left out: figures of the whole soil are unknown"},
    {"water", "m3/m3", CALC_NUMBER, false, "a water content, for tension and conductivity there"},
};
static const struct calc_value soil_out[] = {
    {"wilting_point", "m3/m3", CALC_NUMBER, true, "water at 1500 kPa"},
    {"field_capacity", "m3/m3", CALC_NUMBER, true, "water at 33 kPa"},
    {"saturation", "m3/m3", CALC_NUMBER, true, "all pores full"},
    {"drainable", "m3/m3", CALC_NUMBER, true, "saturation less field capacity of the equations, at normal density"},
    {"available", "m3/m3", CALC_NUMBER, true, "field capacity less wilting point, fine earth"},
    {"available_whole", "m3/m3", CALC_NUMBER, true, "the same of the whole soil"},
    {"conductivity_mm_h", "mm/h", CALC_NUMBER, true, "saturated, fine earth"},
    {"conductivity_whole_mm_h", "mm/h", CALC_NUMBER, true, "saturated, whole soil"},
    {"normal_density_g_cm3", "g/cm3", CALC_NUMBER, true, "normal density of the texture"},
    {"density_g_cm3", "g/cm3", CALC_NUMBER, true, "density used"},
    {"density_whole_g_cm3", "g/cm3", CALC_NUMBER, true, "with stones"},
    {"density_factor", "", CALC_NUMBER, true, "density used over normal density"},
    {"air_entry_kpa", "kPa", CALC_NUMBER, true, "tension at which air enters"},
    {"lambda", "", CALC_NUMBER, true, "slope of the tension curve, 1/B"},
    {"tension_kpa", "kPa", CALC_NUMBER, true, "tension at the water content given"},
    {"conductivity_at_mm_h", "mm/h", CALC_NUMBER, true, "conductivity at the water content given"},
    {"flags", "", CALC_WORD, true, "where the equations leave their range, in words"},
};

static enum outcome soil_run(const json_t *in, json_t *result, struct failure *why)
{
    double none = unknown_real();
    struct soil_water_input input = {calc_number(in, "sand_pct", none),           calc_number(in, "clay_pct", none),
                                     calc_number(in, "organic_matter_pct", none), calc_number(in, "bulk_density_g_cm3", none),
                                     calc_number(in, "density_factor", none),     calc_number(in, "stones_pct", none)};
    unsigned feel = 0;
    if (calc_word(in, "texture", NULL) != NULL) {
        if (!texture_midpoint(texture_read(in), &input.sand_pct, &input.clay_pct))
            return texture_refuse(why);
        feel = SOIL_FROM_FEEL;
    }
    struct soil_water out;
    enum outcome outcome = soil_water(&input, &out, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    const struct {
        const char *name;
        double value;
    } all[] = {
        {"wilting_point", out.wilting_point},
        {"field_capacity", out.field_capacity},
        {"saturation", out.saturation},
        {"drainable", out.drainable},
        {"available", out.available},
        {"available_whole", out.available_whole},
        {"conductivity_mm_h", out.conductivity_mm_h},
        {"conductivity_whole_mm_h", out.conductivity_whole_mm_h},
        {"normal_density_g_cm3", out.normal_density_g_cm3},
        {"density_g_cm3", out.density_g_cm3},
        {"density_whole_g_cm3", out.density_whole_g_cm3},
        {"density_factor", out.density_factor},
        {"air_entry_kpa", out.air_entry_kpa},
        {"lambda", out.lambda},
        {"tension_kpa", soil_water_tension_kpa(&out, calc_number(in, "water", none))},
        {"conductivity_at_mm_h", soil_water_conductivity_mm_h(&out, calc_number(in, "water", none))},
    };
    for (size_t i = 0; i < COUNT(all); i++)
        calc_put(result, all[i].name, all[i].value);
    struct arena arena = {0};
    calc_put_word(result, "flags", soil_flags_words(out.flags | feel, &arena));
    arena_clear(&arena);
    calc_say(result, "Normal density %.4f g/cm³ from saturation; density used %.4f, factor %.3f.", out.normal_density_g_cm3,
             out.density_g_cm3, out.density_factor);
    return OUTCOME_OK;
}

static const struct calc_value available_in[] = {
    {"top_m", "m", CALC_NUMBERS, true, "upper limits of the layers, from the surface down"},
    {"bottom_m", "m", CALC_NUMBERS, true, "lower limits"},
    {"available_whole", "m3/m3", CALC_NUMBERS, true, "available water of each layer, stones taken off; NA for unknown"},
    {"root_depth_m", "m", CALC_NUMBER, true, "depth of the roots"},
};
static const struct calc_value available_out[] = {
    {"available_mm", "mm", CALC_NUMBER, true, "water held for plants"},
    {"known_to_m", "m", CALC_NUMBER, true, "depth that this reaches"},
};

static enum outcome available_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n = 0, m = 0, k = 0;
    const double *top = calc_numbers(in, "top_m", &arena, &n), *bottom = calc_numbers(in, "bottom_m", &arena, &m),
                 *water = calc_numbers(in, "available_whole", &arena, &k);
    enum outcome outcome = n != m || n != k ? fail(why, OUTCOME_USAGE, "The lists must be of the same length.") : OUTCOME_OK;
    if (outcome == OUTCOME_OK) {
        struct soil_layer_water *layers = arena_array(&arena, n + 1, sizeof *layers);
        for (size_t i = 0; i < n; i++)
            layers[i] = (struct soil_layer_water){top[i], bottom[i], water[i]};
        double known = 0;
        calc_put(result, "available_mm", soil_available_mm(layers, n, calc_number(in, "root_depth_m", 0), &known));
        calc_put(result, "known_to_m", known);
    }
    arena_clear(&arena);
    return outcome;
}

/* ---- density ---- */

static const struct calc_value density_in[] = {
    {"texture", "", CALC_WORD, true, "USDA texture class"},
    {"bulk_density_g_cm3", "g/cm3", CALC_NUMBER, true, "density of the fine earth"},
    {"clay_pct", "%", CALC_NUMBER, false, "clay, where a class is split by it"},
    {"table", "", CALC_WORD, false, "nrcs_classes (default), nrcs_general, urban_trees, lecture"},
};
static const struct calc_value density_out[] = {
    {"verdict", "", CALC_WORD, true, "good, between, affects, restricts"},
    {"good_below", "g/cm3", CALC_NUMBER, true, "good below this"},
    {"affects_from", "g/cm3", CALC_NUMBER, true, "roots affected from here"},
    {"restricts_above", "g/cm3", CALC_NUMBER, true, "roots restricted above this"},
    {"words", "", CALC_WORD, true, "the same in words with its source"},
};

static enum outcome density_run(const json_t *in, json_t *result, struct failure *why)
{
    static const char *const verdicts[] = {"unknown", "good", "between", "affects", "restricts"};
    enum density_source source = DENSITY_NRCS_CLASSES;
    if (!density_source_find(calc_word(in, "table", "nrcs_classes"), &source)) {
        fail(why, OUTCOME_USAGE, "There is no such table of densities.");
        return failure_remedy(why, "Choose nrcs_classes, nrcs_general, urban_trees or lecture.");
    }
    enum texture texture = texture_read(in);
    if (texture == TEXTURE_UNKNOWN)
        return texture_refuse(why);
    struct density_judgement out;
    enum outcome outcome =
        density_judge(source, texture, calc_number(in, "clay_pct", unknown_real()), calc_number(in, "bulk_density_g_cm3", 0), &out, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    calc_put_word(result, "verdict", verdicts[out.verdict]);
    calc_put(result, "good_below", out.limit.good_below);
    calc_put(result, "affects_from", out.limit.affects_from);
    calc_put(result, "restricts_above", out.limit.restricts_above);
    calc_put_word(result, "words", out.words);
    return OUTCOME_OK;
}

static const struct calc_value fine_in[] = {
    {"mass_g", "g", CALC_NUMBER, true, "oven-dry mass of the ring's content"},
    {"stones_g", "g", CALC_NUMBER, true, "mass of the stones over 2 mm in it"},
    {"volume_cm3", "cm3", CALC_NUMBER, true, "volume of the ring"},
};
static const struct calc_value fine_out[] = {{"bulk_density_g_cm3", "g/cm3", CALC_NUMBER, true, "of the fine earth"}};

static enum outcome fine_run(const json_t *in, json_t *result, struct failure *why)
{
    double density = 0;
    enum outcome outcome =
        density_fine_earth(calc_number(in, "mass_g", 0), calc_number(in, "stones_g", 0), calc_number(in, "volume_cm3", 0), &density, why);
    if (outcome == OUTCOME_OK)
        calc_put(result, "bulk_density_g_cm3", density);
    return outcome;
}

/* ---- preparation ---- */

static const struct calc_value preparation_in[] = {
    {"area_m2", "m2", CALC_NUMBER, true, "area prepared"},
    {"loosened_depth_m", "m", CALC_NUMBER, false, "depth broken up, 0–2; 0 is none"},
    {"bulking_factor", "", CALC_NUMBER, false, "loose over in-place volume, 1–2; usual 1.2–1.4"},
    {"settlement_pct", "%", CALC_NUMBER, false, "of the loose volume, 0–60; usual 10–20"},
    {"compost_depth_m", "m", CALC_NUMBER, false, "0–0.5"},
    {"compost_density_t_m3", "t/m3", CALC_NUMBER, false, "fresh, default 0.55"},
    {"compost_n_kg_t", "kg/t", CALC_NUMBER, false, "total nitrogen in fresh compost, default 7.5"},
    {"mulch_depth_m", "m", CALC_NUMBER, false, "0–0.5"},
    {"fence_m", "m", CALC_NUMBER, false, "length of fence"},
    {"water_l_m2", "L/m2", CALC_NUMBER, false, "water at each watering"},
    {"waterings_year", "1/yr", CALC_NUMBER, false, "waterings in a year"},
    {"near_water_m", "m", CALC_NUMBER, false, "distance to open water; left out: not checked"},
    {"olsen_p_mg_l", "mg/L", CALC_NUMBER, false, "available phosphorus; left out: not measured"},
    {"services_depth_m", "m", CALC_NUMBER, false, "shallowest service; left out: not checked"},
    {"lorry_payload_t", "t", CALC_NUMBER, false, "default 16"},
    {"lorry_volume_m3", "m3", CALC_NUMBER, false, "default 14"},
};
static const struct calc_value preparation_out[] = {
    {"in_place_m3", "m3", CALC_NUMBER, true, "soil as it lies"},
    {"loosened_m3", "m3", CALC_NUMBER, true, "broken up"},
    {"settled_m3", "m3", CALC_NUMBER, true, "after settlement"},
    {"raised_settled_m", "m", CALC_NUMBER, true, "how far the surface then stands above the ground around"},
    {"compost_m3", "m3", CALC_NUMBER, true, "compost"},
    {"compost_t", "t", CALC_NUMBER, true, "its mass"},
    {"compost_loads", "", CALC_NUMBER, true, "lorry loads, the larger of mass and volume"},
    {"compost_share_pct", "%", CALC_NUMBER, true, "of the volume when mixed into 30 cm of soil"},
    {"nitrogen_kg", "kg", CALC_NUMBER, true, "total nitrogen on the plot"},
    {"nitrogen_kg_ha", "kg/ha", CALC_NUMBER, true, "total nitrogen per hectare"},
    {"mulch_m3", "m3", CALC_NUMBER, true, "mulch"},
    {"mulch_loads", "", CALC_NUMBER, true, "lorry loads"},
    {"fence_m", "m", CALC_NUMBER, true, "fence"},
    {"fence_posts", "", CALC_NUMBER, true, "posts each 2 m"},
    {"water_m3_visit", "m3", CALC_NUMBER, true, "water at each watering"},
    {"water_m3_year", "m3", CALC_NUMBER, true, "water in a year"},
    {"machine_days", "d", CALC_NUMBER, true, "excavator days at 150 m² a day"},
    {"warnings", "", CALC_WORDS, true, "what to be careful of"},
};

static enum outcome preparation_run(const json_t *in, json_t *result, struct failure *why)
{
    double none = unknown_real();
    struct preparation p;
    noun_init(NOUN_PREPARATION, &p);
    p.loosened_depth_m = calc_number(in, "loosened_depth_m", none);
    p.bulking_factor = calc_number(in, "bulking_factor", none);
    p.settlement_pct = calc_number(in, "settlement_pct", none);
    p.compost_depth_m = calc_number(in, "compost_depth_m", none);
    p.compost_density_t_m3 = calc_number(in, "compost_density_t_m3", 0.55);
    p.compost_n_kg_t = calc_number(in, "compost_n_kg_t", 7.5);
    p.mulch_depth_m = calc_number(in, "mulch_depth_m", none);
    p.fence_m = calc_number(in, "fence_m", none);
    p.water_l_m2 = calc_number(in, "water_l_m2", none);
    double waterings = calc_number(in, "waterings_year", none);
    p.waterings_year = is_known(waterings) ? (int64_t)fmin(fmax(waterings, 0), 1000) : INT_UNKNOWN;
    struct preparation_site site;
    preparation_site_init(&site);
    site.area_m2 = calc_number(in, "area_m2", none);
    site.near_water_m = calc_number(in, "near_water_m", none);
    site.olsen_p_mg_l = calc_number(in, "olsen_p_mg_l", none);
    site.services_depth_m = calc_number(in, "services_depth_m", none);
    site.lorry_payload_t = calc_number(in, "lorry_payload_t", 16);
    site.lorry_volume_m3 = calc_number(in, "lorry_volume_m3", 14);
    struct preparation_quantities q;
    enum outcome outcome = preparation_quantities(&p, &site, &q, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    const struct {
        const char *name;
        double value;
    } all[] = {
        {"in_place_m3", q.in_place_m3},
        {"loosened_m3", q.loosened_m3},
        {"settled_m3", q.settled_m3},
        {"raised_settled_m", q.raised_settled_m},
        {"compost_m3", q.compost_m3},
        {"compost_t", q.compost_t},
        {"compost_loads", q.compost_loads},
        {"compost_share_pct", q.compost_share_pct},
        {"nitrogen_kg", q.nitrogen_kg},
        {"nitrogen_kg_ha", q.nitrogen_kg_ha},
        {"mulch_m3", q.mulch_m3},
        {"mulch_loads", q.mulch_loads},
        {"fence_m", q.fence_m},
        {"fence_posts", q.fence_posts},
        {"water_m3_visit", q.water_m3_visit},
        {"water_m3_year", q.water_m3_year},
        {"machine_days", q.machine_days},
    };
    for (size_t i = 0; i < COUNT(all); i++)
        calc_put(result, all[i].name, all[i].value);
    json_t *warnings = json_array();
    for (size_t i = 0; i < q.n_warnings; i++)
        json_array_append_new(warnings, json_sprintf("%s: %s", q.warnings[i].code, q.warnings[i].words));
    json_object_set_new(result, "warnings", warnings);
    return OUTCOME_OK;
}

static const struct calc_value question_in[] = {
    {"field", "", CALC_WORD, true, "field of a soil sample, or depth_m"},
    {"typed", "", CALC_NUMBER, true, "the number as typed"},
};
static const struct calc_value question_out[] = {
    {"question", "", CALC_WORD, true, "what to ask; null if nothing"},
    {"suggested", "", CALC_NUMBER, true, "value in the field's unit if the answer is yes"},
};

static enum outcome question_run(const json_t *in, json_t *result, struct failure *why)
{
    (void)why;
    struct arena arena = {0};
    struct soil_question question = {.suggested = unknown_real()};
    bool asked = soil_question_number(calc_word(in, "field", ""), calc_number(in, "typed", 0), &arena, &question);
    calc_put_word(result, "question", asked ? question.sentence : NULL);
    calc_put(result, "suggested", asked ? question.suggested : unknown_real());
    arena_clear(&arena);
    return OUTCOME_OK;
}

static const struct calc_value statement_in[] = {
    {"top_cm", "cm", CALC_NUMBERS, true, "upper limits of the layers of one pit"},
    {"bottom_cm", "cm", CALC_NUMBERS, true, "lower limits"},
    {"sand_pct", "%", CALC_NUMBERS, false, "sand of each layer; NA for unknown"},
    {"silt_pct", "%", CALC_NUMBERS, false, "silt"},
    {"clay_pct", "%", CALC_NUMBERS, false, "clay"},
    {"density_g_cm3", "g/cm3", CALC_NUMBERS, false, "density of the fine earth"},
    {"penetration_mpa", "MPa", CALC_NUMBERS, false, "penetration resistance"},
    {"near_field_capacity", "", CALC_WORD, false, "yes, no or unknown (default), for all layers"},
    {"stones_pct", "%", CALC_NUMBERS, false, "stones by volume"},
    {"soc_pct", "%", CALC_NUMBERS, false, "organic carbon"},
    {"ph", "", CALC_NUMBERS, false, "pH in water"},
    {"infiltration_mm_h", "mm/h", CALC_NUMBERS, false, "infiltration"},
    {"table", "", CALC_WORD, false, "of densities, default nrcs_classes"},
    {"root_depth_m", "m", CALC_NUMBER, false, "default 1"},
};
static const struct calc_value statement_out[] = {
    {"statement", "", CALC_WORD, true, "what limits roots and what to do, in words"},
    {"loosening", "", CALC_WORD, true, "needed, not needed or not known"},
    {"loosen_to_cm", "cm", CALC_NUMBER, true, "lower limit of the deepest compacted layer"},
    {"available_mm", "mm", CALC_NUMBER, true, "water held for plants"},
    {"available_to_m", "m", CALC_NUMBER, true, "depth that this reaches"},
    {"questions", "", CALC_WORDS, true, "what to ask about the figures"},
};

static enum outcome statement_fill(const json_t *in, struct arena *arena, struct soil_sample **out, size_t *n_out, struct failure *why)
{
    size_t n = 0;
    (void)calc_numbers(in, "top_cm", arena, &n);
    struct soil_sample *samples = arena_array(arena, n + 1, sizeof *samples);
    int truth = word_find(WORDS_TRUTH, calc_word(in, "near_field_capacity", "unknown"));
    for (size_t i = 0; i < n; i++) {
        noun_init(NOUN_SOIL_SAMPLE, &samples[i]);
        samples[i].composite = "Pit";
        samples[i].ph_method = PH_METHOD_WATER;
        samples[i].near_field_capacity = truth < 0 ? TRUTH_UNKNOWN : (enum truth)truth;
    }
    const struct {
        const char *name;
        size_t offset;
    } columns[] = {
        {"top_cm", offsetof(struct soil_sample, depth_top_cm)},
        {"bottom_cm", offsetof(struct soil_sample, depth_bottom_cm)},
        {"sand_pct", offsetof(struct soil_sample, sand_pct)},
        {"silt_pct", offsetof(struct soil_sample, silt_pct)},
        {"clay_pct", offsetof(struct soil_sample, clay_pct)},
        {"density_g_cm3", offsetof(struct soil_sample, bulk_density_g_cm3)},
        {"penetration_mpa", offsetof(struct soil_sample, penetration_mpa)},
        {"stones_pct", offsetof(struct soil_sample, stones_pct)},
        {"soc_pct", offsetof(struct soil_sample, soc_pct)},
        {"ph", offsetof(struct soil_sample, ph)},
        {"infiltration_mm_h", offsetof(struct soil_sample, infiltration_mm_h)},
    };
    for (size_t c = 0; c < COUNT(columns); c++) {
        size_t m = 0;
        const double *values = calc_numbers(in, columns[c].name, arena, &m);
        if (m != n && m != 0)
            return fail(why, OUTCOME_USAGE, "There are %zu values of %s for %zu layers.", m, columns[c].name, n);
        for (size_t i = 0; i < m; i++)
            memcpy((char *)&samples[i] + columns[c].offset, &values[i], sizeof(double));
    }
    *out = samples;
    *n_out = n;
    return OUTCOME_OK;
}

static enum outcome statement_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct soil_sample *samples = NULL;
    size_t n = 0;
    struct ground_options options = {.source = DENSITY_NRCS_CLASSES, .root_depth_m = calc_number(in, "root_depth_m", 1)};
    struct ground_judgement out;
    enum outcome outcome = density_source_find(calc_word(in, "table", "nrcs_classes"), &options.source)
                               ? OUTCOME_OK
                               : fail(why, OUTCOME_USAGE, "There is no such table of densities.");
    if (outcome == OUTCOME_OK)
        outcome = statement_fill(in, &arena, &samples, &n, why);
    if (outcome == OUTCOME_OK)
        outcome = ground_judge(samples, n, &options, &arena, &out, why);
    if (outcome == OUTCOME_OK) {
        const struct ground_pit *pit = &out.pits[0];
        calc_put_word(result, "statement", pit->statement);
        calc_put_word(result, "loosening",
                      pit->loosening == TRUTH_YES  ? "needed"
                      : pit->loosening == TRUTH_NO ? "not needed"
                                                   : "not known");
        calc_put(result, "loosen_to_cm", pit->loosen_to_cm);
        calc_put(result, "available_mm", pit->available_mm);
        calc_put(result, "available_to_m", pit->available_to_m);
        json_t *questions = json_array();
        for (size_t i = 0; i < out.n_questions; i++)
            json_array_append_new(questions, json_string(out.questions[i].sentence));
        json_object_set_new(result, "questions", questions);
    }
    arena_clear(&arena);
    return outcome;
}

#define TABLE(name) name##_in, COUNT(name##_in), name##_out, COUNT(name##_out), name##_run
const struct calc calc_ground[] = {
    {"texture_class", "Texture class of fine earth", "USDA Soil Survey Manual, Handbook 18 (2017), ch. 3", TABLE(texture)},
    {"soil_water", "Water held and conducted by a soil", "Saxton & Rawls 2006, Soil Sci. Soc. Am. J. 70:1569, table 1", TABLE(soil)},
    {"soil_available", "Available water over the rooting depth", "sum over layers; common practice, no source", TABLE(available)},
    {"soil_density", "Bulk density against a published table", "see words: the table that was chosen", TABLE(density)},
    {"fine_earth_density", "Density of the fine earth from a ring with stones",
     "mass balance, stones 2.65 g/cm³; common practice, no source", TABLE(fine)},
    {"penetration_band", "Penetration resistance in words", "Sinnett et al. 2008, Forestry 81:109 (bands)", penetration_in,
     COUNT(penetration_in), band_out, COUNT(band_out), penetration_run},
    {"infiltration_band", "Infiltration from timed fills", "bands are common practice, no source", TABLE(infiltration)},
    {"ph_band", "pH in words", "bands are common practice, no source", ph_in, COUNT(ph_in), band_out, COUNT(band_out), ph_run},
    {"earthworms", "Earthworms in pits of 20 cm", "method: Stroud 2019, PLoS ONE 14:e0203909; threshold from memory", TABLE(worms)},
    {"soil_question", "What to ask about a typed soil figure", "common practice, no source", TABLE(question)},
    {"ground_statement", "What limits roots in a pit, in words", "see docs/methods/ground.md; the table of densities that was chosen",
     TABLE(statement)},
    {"preparation_quantities", "Volumes, loads, nitrogen, fence and water of a preparation",
     "geometry; usual figures are common practice, no source", TABLE(preparation)},
    {0},
};
