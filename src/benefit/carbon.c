/* SPDX-License-Identifier: GPL-3.0-or-later
 * Mass and carbon of saplings and trees. */
#include "benefit/benefit.h"
#include <math.h>
#include <string.h>

/* ln AGB(g) = a + b ln(d² h) with random study and species; standard deviations of the logarithm. */
static const double A = -4.83641664, B = 0.88433166, STUDY = 0.2588, KIND = 0.0859, REST = 0.2741;

enum outcome sapling_mass(double diameter_mm, double height_cm, struct benefit_range *out, unsigned *flags, struct failure *why)
{
    if (!(diameter_mm > 0 && diameter_mm < 3000) || !(height_cm > 0 && height_cm < 6000)) {
        fail(why, OUTCOME_DATA, "A sapling of %g mm and %g cm cannot be.", diameter_mm, height_cm);
        return failure_remedy(why, "Diameter in millimetres at the root collar, height in centimetres.");
    }
    double common = sqrt(STUDY * STUDY + KIND * KIND);
    double grams = exp(A + B * log(diameter_mm * diameter_mm * height_cm) + (STUDY * STUDY + KIND * KIND + REST * REST) / 2);
    *out = (struct benefit_range){grams, grams * exp(-1.959964 * common), grams * exp(1.959964 * common)};
    if (flags != NULL)
        *flags = (diameter_mm < 1.84 || diameter_mm > 118.4 ? (unsigned)SAPLING_DIAMETER_OUTSIDE : 0) |
                 (height_cm < 13 || height_cm > 1103 ? (unsigned)SAPLING_HEIGHT_OUTSIDE : 0);
    return OUTCOME_OK;
}

enum outcome sapling_stand(const double *diameter_mm, const double *height_cm, size_t n, struct stand_mass *out, struct failure *why)
{
    struct stand_mass all = {.measured = 0};
    for (size_t i = 0; i < n; i++) {
        struct benefit_range one;
        unsigned flags = 0;
        if (!is_known(diameter_mm[i]) || !is_known(height_cm[i])) {
            all.unknown++;
            continue;
        }
        enum outcome outcome = sapling_mass(diameter_mm[i], height_cm[i], &one, &flags, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        all.measured++;
        all.outside += flags != 0;
        all.mass_kg.value += one.value / 1000;
        all.mass_kg.low += one.low / 1000;
        all.mass_kg.high += one.high / 1000;
    }
    *out = all;
    return OUTCOME_OK;
}

struct group {
    const char *name;
    double b0, b1;
};
static const struct group groups[] = {{"aspen_alder_willow", -2.2094, 2.3867},
                                      {"maple_birch", -1.9123, 2.3651},
                                      {"mixed_hardwood", -2.4800, 2.4835},
                                      {"oak_beech", -2.0127, 2.4342}};

enum outcome tree_mass(const char *group, double dbh_cm, struct benefit_range *out, struct failure *why)
{
    const double rmse = 0.236483;
    if (!(dbh_cm >= 2.5 && dbh_cm <= 300)) {
        fail(why, OUTCOME_DATA, "%g cm lies outside the 2.5 cm and more of this equation.", dbh_cm);
        return failure_remedy(why, "Take the sapling equation, from the diameter at the root collar.");
    }
    for (size_t i = 0; i < sizeof groups / sizeof *groups; i++)
        if (text_same(groups[i].name, group)) {
            double kg = exp(groups[i].b0 + groups[i].b1 * log(dbh_cm));
            *out = (struct benefit_range){kg, kg * exp(-1.959964 * rmse), kg * exp(1.959964 * rmse)};
            return OUTCOME_OK;
        }
    fail(why, OUTCOME_USAGE, "There is no group \"%.40s\".", group == NULL ? "" : group);
    return failure_remedy(why, "There are aspen_alder_willow, maple_birch, mixed_hardwood and oak_beech.");
}

double tree_part(const char *part, double dbh_cm)
{
    static const struct group parts[] = {
        {"foliage", -4.0813, 5.8816}, {"roots", -1.6911, 0.8160}, {"bark", -2.0129, -1.6805}, {"wood", -0.3065, -5.4240}};
    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++)
        if (text_same(parts[i].name, part) && dbh_cm > 0)
            return exp(parts[i].b0 + parts[i].b1 / dbh_cm);
    return unknown_real();
}

struct benefit_range carbon_of(struct benefit_range above_kg)
{
    const double fraction = 0.48;
    return (struct benefit_range){above_kg.value * 1.38 * fraction, above_kg.low * 1.33 * fraction, above_kg.high * 1.56 * fraction};
}

double carbon_dioxide(double carbon_kg)
{
    return carbon_kg * 44 / 12;
}
