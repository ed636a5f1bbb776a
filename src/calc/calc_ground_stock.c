/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of ground/: blends and stocks of carbon. */
#include "calc/calc_rooms.h"
#include "ground/ground.h"
#include <math.h>
#include <string.h>

#define COUNT(list) (sizeof(list) / sizeof *(list))
#define BLEND_SOURCE "mass balance of dry matter; common practice, no source"

/* ---- blends ---- */

static const struct calc_value blend_in[] = {
    {"wet_t", "t", CALC_NUMBERS, true, "masses as delivered (any one unit of mass)"},
    {"moisture_pct", "%", CALC_NUMBERS, true, "water of the wet mass"},
    {"carbon_pct", "%", CALC_NUMBERS, true, "of the dry mass"},
    {"nitrogen_pct", "%", CALC_NUMBERS, true, "of the dry mass"},
};
static const struct calc_value blend_out[] = {
    {"dry_t", "t", CALC_NUMBER, true, "dry mass"},
    {"carbon_t", "t", CALC_NUMBER, true, "carbon"},
    {"nitrogen_t", "t", CALC_NUMBER, true, "nitrogen"},
    {"ratio", "", CALC_NUMBER, true, "carbon to nitrogen"},
    {"words", "", CALC_WORD, true, "what it does with nitrogen"},
};

static enum outcome blend_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n[4] = {0};
    const double *wet = calc_numbers(in, "wet_t", &arena, &n[0]), *moisture = calc_numbers(in, "moisture_pct", &arena, &n[1]),
                 *carbon = calc_numbers(in, "carbon_pct", &arena, &n[2]), *nitrogen = calc_numbers(in, "nitrogen_pct", &arena, &n[3]);
    struct blend out;
    enum outcome outcome =
        n[0] != n[1] || n[0] != n[2] || n[0] != n[3] ? fail(why, OUTCOME_USAGE, "The lists must be of the same length.") : OUTCOME_OK;
    if (outcome == OUTCOME_OK) {
        struct amendment *parts = arena_array(&arena, n[0] + 1, sizeof *parts);
        for (size_t i = 0; i < n[0]; i++)
            parts[i] = (struct amendment){NULL, wet[i], moisture[i], carbon[i], nitrogen[i]};
        outcome = blend_mix(parts, n[0], &out, why);
    }
    if (outcome == OUTCOME_OK) {
        calc_put(result, "dry_t", out.dry_t);
        calc_put(result, "carbon_t", out.carbon_t);
        calc_put(result, "nitrogen_t", out.nitrogen_t);
        calc_put(result, "ratio", out.ratio);
        calc_put_word(result, "words", out.words);
        calc_say(result, "%g of carbon over %g of nitrogen; ratios are never averaged.", out.carbon_t, out.nitrogen_t);
    }
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value target_in[] = {
    {"carbon_a_pct", "%", CALC_NUMBER, true, "carbon of the first, dry"},
    {"nitrogen_a_pct", "%", CALC_NUMBER, true, "nitrogen of the first, dry"},
    {"carbon_b_pct", "%", CALC_NUMBER, true, "carbon of the second, dry"},
    {"nitrogen_b_pct", "%", CALC_NUMBER, true, "nitrogen of the second, dry"},
    {"target", "", CALC_NUMBER, true, "carbon to nitrogen aimed at"},
};
static const struct calc_value target_out[] = {{"dry_b_per_a", "", CALC_NUMBER, true, "dry mass of the second for one of the first"}};

static enum outcome target_run(const json_t *in, json_t *result, struct failure *why)
{
    struct amendment a = {"first", 1, 0, calc_number(in, "carbon_a_pct", 0), calc_number(in, "nitrogen_a_pct", 0)},
                     b = {"second", 1, 0, calc_number(in, "carbon_b_pct", 0), calc_number(in, "nitrogen_b_pct", 0)};
    double share = 0;
    enum outcome outcome = blend_for_ratio(&a, &b, calc_number(in, "target", 0), &share, why);
    if (outcome == OUTCOME_OK)
        calc_put(result, "dry_b_per_a", share);
    return outcome;
}

static const struct calc_value organic_in[] = {
    {"soil_om_pct", "%", CALC_NUMBER, true, "organic matter of the soil before"},
    {"density_t_m3", "t/m3", CALC_NUMBER, true, "dry density of the soil"},
    {"depth_m", "m", CALC_NUMBER, true, "mixing depth"},
    {"amendment_om_pct", "%", CALC_NUMBER, true, "organic matter of the amendment, dry"},
    {"dry_t_ha", "t/ha", CALC_NUMBER, false, "dry mass added; or give target_om_pct"},
    {"target_om_pct", "%", CALC_NUMBER, false, "organic matter aimed at"},
};
static const struct calc_value organic_out[] = {
    {"om_pct", "%", CALC_NUMBER, true, "organic matter after mixing"},
    {"dry_t_ha", "t/ha", CALC_NUMBER, true, "dry mass added"},
};

static enum outcome organic_run(const json_t *in, json_t *result, struct failure *why)
{
    double none = unknown_real(), dry = calc_number(in, "dry_t_ha", none), target = calc_number(in, "target_om_pct", none), om = target;
    double soil = calc_number(in, "soil_om_pct", none), density = calc_number(in, "density_t_m3", none),
           depth = calc_number(in, "depth_m", none), amendment = calc_number(in, "amendment_om_pct", none);
    if (is_known(dry) == is_known(target))
        return fail(why, OUTCOME_USAGE, "Give either dry_t_ha or target_om_pct.");
    enum outcome outcome = is_known(dry) ? blend_organic_matter(soil, density, depth, dry, amendment, &om, why)
                                         : blend_for_organic_matter(soil, density, depth, target, amendment, &dry, why);
    if (outcome == OUTCOME_OK) {
        calc_put(result, "om_pct", om);
        calc_put(result, "dry_t_ha", dry);
    }
    return outcome;
}

/* ---- carbon ---- */

static const struct calc_value stock_in[] = {
    {"bottom_cm", "cm", CALC_NUMBERS, true, "lower limits of the layers, from the surface down"},
    {"carbon_pct", "%", CALC_NUMBERS, true, "organic carbon of each layer"},
    {"organic_pct", "%", CALC_NUMBERS, false, "organic matter of each layer; default 1.724 × carbon"},
    {"density_g_cm3", "g/cm3", CALC_NUMBERS, true, "density of the fine earth"},
    {"stones_pct", "%", CALC_NUMBERS, true, "stones by volume"},
    {"reference_mass_t_ha", "t/ha", CALC_NUMBERS, false, "cumulative mineral masses to which the stock is wanted; default its own"},
    {"interpolation", "", CALC_WORD, false, "linear (default) or monotone"},
};
static const struct calc_value stock_out[] = {
    {"fixed_depth_t_ha", "t/ha", CALC_NUMBERS, true, "cumulative stock to each lower limit"},
    {"mineral_mass_t_ha", "t/ha", CALC_NUMBERS, true, "cumulative mineral mass"},
    {"equivalent_t_ha", "t/ha", CALC_NUMBERS, true, "cumulative stock at the reference masses; null beyond what was sampled"},
};

static enum outcome stock_fill(const json_t *in, struct arena *arena, struct carbon_layer **layers, size_t *n_out, struct failure *why)
{
    static const char *const names[] = {"carbon_pct", "density_g_cm3", "stones_pct", "organic_pct"};
    size_t n = 0, m = 0;
    const double *bottom = calc_numbers(in, "bottom_cm", arena, &n), *column[4];
    for (int i = 0; i < 4; i++) {
        column[i] = calc_numbers(in, names[i], arena, &m);
        if (m != n && !(i == 3 && m == 0))
            return fail(why, OUTCOME_USAGE, "There are %zu values of %s for %zu layers.", m, names[i], n);
    }
    *layers = arena_array(arena, n + 1, sizeof **layers);
    for (size_t i = 0; i < n; i++)
        (*layers)[i] = (struct carbon_layer){
            i == 0 ? 0 : bottom[i - 1], bottom[i], column[0][i], m == 0 ? unknown_real() : column[3][i], column[1][i], column[2][i]};
    *n_out = n;
    return OUTCOME_OK;
}

static enum outcome stock_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct carbon_layer *layers = NULL;
    size_t n = 0, n_at = 0;
    const char *how = calc_word(in, "interpolation", "linear");
    enum outcome outcome = stock_fill(in, &arena, &layers, &n, why);
    double *fixed = arena_array(&arena, n + 1, sizeof *fixed), *mass = arena_array(&arena, n + 1, sizeof *mass);
    if (outcome == OUTCOME_OK && strcmp(how, "linear") != 0 && strcmp(how, "monotone") != 0)
        outcome = fail(why, OUTCOME_USAGE, "interpolation must be linear or monotone.");
    if (outcome == OUTCOME_OK)
        outcome = carbon_fixed_depth(layers, n, fixed, why);
    if (outcome == OUTCOME_OK)
        outcome = carbon_mineral_mass(layers, n, mass, why);
    const double *at = calc_numbers(in, "reference_mass_t_ha", &arena, &n_at);
    if (n_at == 0) {
        at = mass;
        n_at = n;
    }
    double *out = arena_array(&arena, n_at + 1, sizeof *out);
    for (size_t i = 0; i < n_at && outcome == OUTCOME_OK; i++)
        outcome = carbon_at_mass(mass, fixed, n, at[i], strcmp(how, "linear") == 0 ? CARBON_LINEAR : CARBON_MONOTONE, &out[i], why);
    if (outcome == OUTCOME_OK) {
        calc_put_all(result, "fixed_depth_t_ha", fixed, n);
        calc_put_all(result, "mineral_mass_t_ha", mass, n);
        calc_put_all(result, "equivalent_t_ha", out, n_at);
    }
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value mass_in[] = {
    {"mass_t_ha", "t/ha", CALC_NUMBERS, true, "cumulative masses, rising; the point (0, 0) is added"},
    {"stock_t_ha", "t/ha", CALC_NUMBERS, true, "cumulative stocks"},
    {"at_t_ha", "t/ha", CALC_NUMBERS, true, "masses at which the stock is wanted"},
    {"interpolation", "", CALC_WORD, false, "linear (default) or monotone"},
};
static const struct calc_value mass_out[] = {{"stock_at_t_ha", "t/ha", CALC_NUMBERS, true, "stock there; null beyond what was sampled"}};

static enum outcome mass_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n = 0, m = 0, k = 0;
    const double *mass = calc_numbers(in, "mass_t_ha", &arena, &n), *stock = calc_numbers(in, "stock_t_ha", &arena, &m),
                 *at = calc_numbers(in, "at_t_ha", &arena, &k);
    const char *how = calc_word(in, "interpolation", "linear");
    double *out = arena_array(&arena, k + 1, sizeof *out);
    enum outcome outcome = n != m ? fail(why, OUTCOME_USAGE, "There are %zu masses and %zu stocks.", n, m) : OUTCOME_OK;
    for (size_t i = 0; i < k && outcome == OUTCOME_OK; i++)
        outcome = carbon_at_mass(mass, stock, n, at[i], strcmp(how, "monotone") == 0 ? CARBON_MONOTONE : CARBON_LINEAR, &out[i], why);
    if (outcome == OUTCOME_OK)
        calc_put_all(result, "stock_at_t_ha", out, k);
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value spline_in[] = {
    {"x", "", CALC_NUMBERS, true, "knots, rising"},
    {"y", "", CALC_NUMBERS, true, "values"},
    {"at", "", CALC_NUMBERS, true, "where the curve is wanted"},
    {"method", "", CALC_WORD, false, "hyman (default, monotone) or fmm"},
};
static const struct calc_value spline_out[] = {
    {"value", "", CALC_NUMBERS, true, "of the curve; null outside the knots"},
    {"slope", "", CALC_NUMBERS, true, "at the knots"},
};

static enum outcome spline_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n = 0, m = 0, k = 0;
    const double *x = calc_numbers(in, "x", &arena, &n), *y = calc_numbers(in, "y", &arena, &m), *at = calc_numbers(in, "at", &arena, &k);
    double *slope = arena_array(&arena, n + 1, sizeof *slope), *out = arena_array(&arena, k + 1, sizeof *out);
    enum outcome outcome = n != m ? fail(why, OUTCOME_USAGE, "There are %zu knots and %zu values.", n, m)
                                  : spline_fit(x, y, n, strcmp(calc_word(in, "method", "hyman"), "fmm") != 0, slope, why);
    if (outcome == OUTCOME_OK) {
        for (size_t i = 0; i < k; i++)
            out[i] = spline_at(x, y, slope, n, at[i]);
        calc_put_all(result, "value", out, k);
        calc_put_all(result, "slope", slope, n);
    }
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value change_in[] = {
    {"before_t_ha", "t/ha", CALC_NUMBER, true, "stock before works"},
    {"after_amendment_t_ha", "t/ha", CALC_NUMBER, false, "stock after amendment, before planting"},
    {"now_t_ha", "t/ha", CALC_NUMBER, true, "stock now, to the same depth or mass"},
};
static const struct calc_value change_out[] = {
    {"change_t_ha", "t/ha", CALC_NUMBER, true, "now less before"},
    {"added_t_ha", "t/ha", CALC_NUMBER, true, "brought in"},
    {"gained_t_ha", "t/ha", CALC_NUMBER, true, "since amendment"},
    {"words", "", CALC_WORD, true, "how to read it"},
};

static enum outcome change_run(const json_t *in, json_t *result, struct failure *why)
{
    (void)why;
    struct carbon_change out = carbon_change(calc_number(in, "before_t_ha", 0), calc_number(in, "after_amendment_t_ha", unknown_real()),
                                             calc_number(in, "now_t_ha", 0));
    calc_put(result, "change_t_ha", out.change_t_ha);
    calc_put(result, "added_t_ha", out.added_t_ha);
    calc_put(result, "gained_t_ha", out.gained_t_ha);
    calc_put_word(result, "words", out.words);
    return OUTCOME_OK;
}

static const struct calc_value detect_in[] = {
    {"cv_pct", "%", CALC_NUMBER, true, "coefficient of variation between samples of a plot"},
    {"n", "", CALC_NUMBER, true, "samples in each of the two groups, 2 or more"},
    {"power", "", CALC_NUMBER, false, "default 0.8"},
    {"alpha", "", CALC_NUMBER, false, "two-sided, default 0.05"},
};
static const struct calc_value detect_out[] = {
    {"detectable_pct", "%", CALC_NUMBER, true, "smallest difference found, of the mean, by the noncentral t"},
    {"detectable_normal_pct", "%", CALC_NUMBER, true,
     "the same by the normal approximation of the usual tables; too small for few samples"},
};

static enum outcome detect_run(const json_t *in, json_t *result, struct failure *why)
{
    double cv = calc_number(in, "cv_pct", 0), n = calc_number(in, "n", 0), power = calc_number(in, "power", 0.8),
           alpha = calc_number(in, "alpha", 0.05), exact = 0, normal = 0;
    enum outcome outcome = carbon_detectable(cv, n, power, alpha, true, &exact, why);
    if (outcome == OUTCOME_OK)
        outcome = carbon_detectable(cv, n, power, alpha, false, &normal, why);
    if (outcome == OUTCOME_OK) {
        calc_put(result, "detectable_pct", exact);
        calc_put(result, "detectable_normal_pct", normal);
    }
    return outcome;
}

static const struct calc_value survey_in[] = {
    {"composite", "", CALC_WORDS, true, "which composite each layer is of"},
    {"time_point", "", CALC_WORDS, true, "before_works, after_amendment or follow_up"},
    {"top_cm", "cm", CALC_NUMBERS, true, "upper limits"},
    {"bottom_cm", "cm", CALC_NUMBERS, true, "lower limits"},
    {"carbon_pct", "%", CALC_NUMBERS, true, "organic carbon"},
    {"density_g_cm3", "g/cm3", CALC_NUMBERS, true, "density of the fine earth; NA takes the mean of the layer"},
    {"stones_pct", "%", CALC_NUMBERS, true, "stones by volume"},
    {"level", "", CALC_NUMBER, false, "of the intervals, default 0.95"},
};
static const struct calc_value survey_out[] = {
    {"depth_cm", "cm", CALC_NUMBER, true, "depth the stocks reach"},
    {"what", "", CALC_WORDS, true, "added, changed, gained"},
    {"fixed", "t/ha", CALC_NUMBERS, true, "to that depth"},
    {"fixed_low", "t/ha", CALC_NUMBERS, true, "Welch's interval"},
    {"fixed_high", "t/ha", CALC_NUMBERS, true, "Welch's interval"},
    {"mass", "t/ha", CALC_NUMBERS, true, "at the mineral mass that every composite reached"},
    {"mass_low", "t/ha", CALC_NUMBERS, true, "Welch's interval"},
    {"mass_high", "t/ha", CALC_NUMBERS, true, "Welch's interval"},
    {"detectable_pct", "%", CALC_NUMBERS, true, "smallest difference found with 80 % power, of the stock"},
    {"words", "", CALC_WORDS, true, "the same in words, and what cannot be said"},
};

static enum outcome survey_fill(const json_t *in, struct arena *arena, struct soil_sample **out, size_t *n_out, struct failure *why)
{
    static const char *const names[] = {"top_cm", "bottom_cm", "carbon_pct", "density_g_cm3", "stones_pct"};
    const json_t *composite = json_object_get(in, "composite"), *time = json_object_get(in, "time_point");
    size_t n = json_array_size(composite), m = 0;
    const double *column[5];
    for (int c = 0; c < 5; c++) {
        column[c] = calc_numbers(in, names[c], arena, &m);
        if (m != n || json_array_size(time) != n)
            return fail(why, OUTCOME_USAGE, "All lists must have one value for each layer of each composite.");
    }
    struct soil_sample *samples = arena_array(arena, n + 1, sizeof *samples);
    for (size_t i = 0; i < n; i++) {
        struct soil_sample *s = &samples[i];
        noun_init(NOUN_SOIL_SAMPLE, s);
        int point = word_find(WORDS_TIME_POINT, json_string_value(json_array_get(time, i)));
        if (point <= 0)
            return fail(why, OUTCOME_USAGE, "time_point is before_works, after_amendment or follow_up.");
        s->time_point = (enum time_point)point;
        s->composite = json_string_value(json_array_get(composite, i));
        s->depth_top_cm = column[0][i];
        s->depth_bottom_cm = column[1][i];
        s->soc_pct = column[2][i];
        s->bulk_density_g_cm3 = column[3][i];
        s->stones_pct = column[4][i];
        s->carbon_method = CARBON_METHOD_DRY_COMBUSTION;
    }
    *out = samples;
    *n_out = n;
    return OUTCOME_OK;
}

static void survey_put(const struct carbon_survey *survey, struct arena *arena, json_t *result)
{
    size_t n = survey->n_differences;
    double *columns[7];
    json_t *what = json_array(), *words = json_array();
    for (int c = 0; c < 7; c++)
        columns[c] = arena_array(arena, n + 1, sizeof(double));
    for (size_t i = 0; i < n; i++) {
        const struct carbon_difference *d = &survey->differences[i];
        json_array_append_new(what, json_string(d->what));
        json_array_append_new(words, json_string(d->words));
        columns[0][i] = d->fixed;
        columns[1][i] = d->fixed_low;
        columns[2][i] = d->fixed_high;
        columns[3][i] = d->mass;
        columns[4][i] = d->mass_low;
        columns[5][i] = d->mass_high;
        columns[6][i] = d->detectable_pct;
    }
    for (size_t i = 0; i < survey->n_notes; i++)
        json_array_append_new(words, json_string(survey->notes[i]));
    calc_put(result, "depth_cm", survey->n_rounds > 0 ? survey->rounds[0].depth_cm : unknown_real());
    json_object_set_new(result, "what", what);
    json_object_set_new(result, "words", words);
    static const char *const outs[] = {"fixed", "fixed_low", "fixed_high", "mass", "mass_low", "mass_high", "detectable_pct"};
    for (int c = 0; c < 7; c++)
        calc_put_all(result, outs[c], columns[c], n);
}

static enum outcome survey_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct soil_sample *samples = NULL;
    size_t n = 0;
    struct carbon_survey survey;
    enum outcome outcome = survey_fill(in, &arena, &samples, &n, why);
    if (outcome == OUTCOME_OK)
        outcome = carbon_survey(samples, n, calc_number(in, "level", 0.95), &arena, &survey, why);
    if (outcome == OUTCOME_OK)
        survey_put(&survey, &arena, result);
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value ratio_in[] = {
    {"carbon_pct", "%", CALC_NUMBER, true, "organic carbon by dry combustion"},
    {"nitrogen_pct", "%", CALC_NUMBER, true, "total nitrogen"},
};
static const struct calc_value ratio_out[] = {
    {"ratio", "", CALC_NUMBER, true, "carbon to nitrogen by mass"},
    {"cinder", "", CALC_WORD, true, "whether part of the carbon may be cinder, coal or soot: above 25"},
};

static enum outcome ratio_run(const json_t *in, json_t *result, struct failure *why)
{
    double carbon = calc_number(in, "carbon_pct", 0), nitrogen = calc_number(in, "nitrogen_pct", 0);
    if (!(carbon >= 0) || !(nitrogen > 0))
        return fail(why, OUTCOME_USAGE, "Carbon is 0 or more and nitrogen above 0 per cent.");
    calc_put(result, "ratio", carbon_nitrogen_ratio(carbon, nitrogen));
    json_object_set_new(result, "cinder", json_string(word_of(WORDS_TRUTH, (int)carbon_may_be_cinder(carbon, nitrogen))));
    return OUTCOME_OK;
}

#define TABLE(name) name##_in, COUNT(name##_in), name##_out, COUNT(name##_out), name##_run
const struct calc calc_ground_stock[] = {
    {"blend_ratio", "Carbon to nitrogen of a blend", BLEND_SOURCE, TABLE(blend)},
    {"blend_for_ratio", "How much of a second material reaches a ratio", BLEND_SOURCE, TABLE(target)},
    {"blend_organic_matter", "Organic matter after mixing an amendment in", BLEND_SOURCE, TABLE(organic)},
    {"carbon_stock", "Soil carbon to a depth and to a mineral mass",
     "Ellert & Bettany 1995; von Haden, Yang & DeLucia 2020, Glob. Change Biol. 26:3759", TABLE(stock)},
    {"carbon_at_mass", "Soil carbon at a cumulative mass", "Wendt & Hauser 2013, Eur. J. Soil Sci. 64:58", TABLE(mass)},
    {"monotone_spline", "Cubic spline through knots, monotone by Hyman's filter",
     "Forsythe, Malcolm & Moler 1977; Hyman 1983; Dougherty et al. 1989", TABLE(spline)},
    {"carbon_change", "Carbon added apart from carbon gained", "difference of stocks; common practice, no source", TABLE(change)},
    {"carbon_survey", "Carbon added, changed and gained between samplings of a plot",
     "stocks as carbon_stock; Welch's t interval between composites", TABLE(survey)},
    {"carbon_nitrogen_ratio", "Carbon to nitrogen, and whether the carbon may be cinder", "common practice, no source", TABLE(ratio)},
    {"carbon_detectable", "Smallest difference of soil carbon that can be found", "two-sample t test, noncentral t", TABLE(detect)},
    {0},
};
