/* SPDX-License-Identifier: GPL-3.0-or-later
 * How well a species fits a place: one bell or one-sided curve per factor, the least of them counts.
 * The curves and their widths are the house's own ("common practice, no source"); see docs/methods/species.md. */
#include "species/species.h"
#include <math.h>
#include <string.h>

/* Scatter between two independent sets of indicator values for 132 taxa (EIVE 1.0 against Hill's British values, residual
 * standard deviation on the EIVE scale), used as the uncertainty of an indicator value. The published niche width is not
 * used: whether it is a full or a half width has not been verified. */
static const double sd_light = 0.8, sd_moisture = 0.4, sd_reaction = 0.8, sd_nutrients = 0.8;
/* Tolerances without a standard error of their own: the median of the table is about 0.3. */
static const double sd_tolerance = 0.3;

static double known_or(double x, double otherwise)
{
    return is_known(x) ? x : otherwise;
}
static double bell(double distance, double width)
{
    return distance <= 0 ? 1 : exp(-0.5 * (distance / width) * (distance / width));
}
static struct fit_part part_unknown(void)
{
    double u = unknown_real();
    return (struct fit_part){.fit = u, .low = u, .high = u, .species = u, .ground = u};
}

/* `away` is the distance that counts (may be negative where one side does no harm), `sd` its standard deviation. */
static struct fit_part part_make(double species, double ground, double away, double sd, double width, bool estimated)
{
    return (struct fit_part){.fit = bell(away, width),
                             .low = bell(away + sd, width),
                             .high = bell(away - sd, width),
                             .species = species,
                             .ground = ground,
                             .estimated = estimated};
}

struct figure species_moisture_of(const char *word)
{
    static const struct {
        const char *word;
        double value;
    } words[] = {{"dry", 3.6}, {"fairly_dry", 4.2}, {"fresh", 4.6}, {"moist", 5.2}, {"wet", 5.9}, {"very_wet", 6.6}};
    for (size_t i = 0; i < sizeof words / sizeof *words; i++)
        if (text_same_nocase(word, words[i].word))
            return (struct figure){words[i].value, 0.4};
    return (struct figure){unknown_real(), unknown_real()};
}

struct figure species_nutrients_of(const char *word)
{
    static const struct {
        const char *word;
        double value;
    } words[] = {{"very_poor", 2.8}, {"poor", 3.6}, {"medium", 5.0}, {"rich", 6.1}, {"very_rich", 6.8}};
    for (size_t i = 0; i < sizeof words / sizeof *words; i++)
        if (text_same_nocase(word, words[i].word))
            return (struct figure){words[i].value, 0.7};
    return (struct figure){unknown_real(), unknown_real()};
}

struct figure species_reaction_of_ph(double ph)
{
    if (!is_known(ph))
        return (struct figure){unknown_real(), unknown_real()};
    /* least squares through the mid pH and mean reaction of the twelve communities of the library; residual 0.4, and the pH
     * ranges are from memory: taken as ±1 */
    double at = ph < 3 ? 3 : ph > 8.5 ? 8.5 : ph;
    return (struct figure){0.71 + 0.791 * at, 1.0};
}

static struct fit_part fit_reaction(const struct species_fact *fact, const struct species_ground *ground)
{
    bool from_ph = !is_known(ground->reaction.value);
    struct figure reaction = from_ph ? species_reaction_of_ph(ground->ph.value) : ground->reaction;
    struct fit_part part = part_unknown();
    if (is_known(fact->reaction.value) && is_known(reaction.value)) {
        double sd = hypot(sd_reaction, known_or(reaction.spread, 0.5));
        part = part_make(fact->reaction.value, reaction.value, fabs(reaction.value - fact->reaction.value), sd, 1.5, false);
        part.ground_estimated = from_ph;
    } else if (is_known(ground->ph.value) && (is_known(fact->ph_least) || is_known(fact->ph_most))) {
        double ph = ground->ph.value, below = known_or(fact->ph_least, ph) - ph, above = ph - known_or(fact->ph_most, ph);
        double nearest = below > above ? known_or(fact->ph_least, ph) : known_or(fact->ph_most, ph);
        part = part_make(nearest, ph, below > above ? below : above, known_or(ground->ph.spread, 0.3), 0.7, false);
        part.in_ph = true;
    }
    return part;
}

/* Moisture on the EIVE scale; from the tolerances where that is blank, by the lines fitted to 218 European woody taxa. */
static double moisture_of(const struct species_fact *fact, double *sd)
{
    *sd = sd_moisture;
    if (is_known(fact->moisture.value))
        return fact->moisture.value;
    double sum = 0;
    int n = 0;
    if (is_known(fact->drought.value)) {
        sum += (6.72 - fact->drought.value) / 0.84;
        n++;
    }
    if (is_known(fact->waterlogging.value)) {
        sum += (fact->waterlogging.value + 1.21) / 0.71;
        n++;
    }
    *sd = 0.8;
    return n == 0 ? unknown_real() : sum / n;
}

static struct fit_part fit_two_sided(double species, double sd_species, struct figure ground, double sd_else, double width, bool estimated)
{
    if (!is_known(species) || !is_known(ground.value))
        return part_unknown();
    return part_make(species, ground.value, fabs(species - ground.value), hypot(sd_species, known_or(ground.spread, sd_else)), width,
                     estimated);
}

/* Light that reaches the layer at its position, EIVE scale. */
static double light_there(const struct species_ground *ground, enum layer layer)
{
    static const double table[LAYER_COUNT][4] = {
        /* unknown, open, edge, inside */
        [LAYER_CANOPY] = {8, 8, 8, 8},      [LAYER_SUBCANOPY] = {NAN, 8, 7, 5.5}, [LAYER_SHRUB] = {NAN, 8, 6.5, 4.5},
        [LAYER_CLIMBER] = {NAN, 8, 7, 5.5}, [LAYER_GROUND] = {NAN, 8, 5, 3.5},
    };
    if (layer <= LAYER_UNKNOWN || layer >= LAYER_COUNT || ground->position < 0 || ground->position > POSITION_INSIDE)
        return unknown_real();
    double light = table[layer][ground->position];
    if (isnan(light))
        return unknown_real();
    return light - 4 * known_or(ground->shade_pct, 0) / 100;
}

static struct fit_part fit_light(const struct species_fact *fact, const struct species_ground *ground, enum layer layer)
{
    double wanted = fact->light.value, sd = sd_light;
    bool estimated = !is_known(wanted);
    if (estimated && is_known(fact->shade.value)) {
        wanted = (6.04 - fact->shade.value) / 0.59;
        sd = 0.7;
    }
    double there = light_there(ground, layer);
    if (!is_known(wanted) || !is_known(there))
        return part_unknown();
    /* how dark the surroundings are is not known: a wide guess */
    sd = hypot(sd, is_known(ground->shade_pct) ? 0.5 : 1.0);
    bool herb = fact->form == FORM_HERB || fact->form == FORM_FERN;
    if (herb && there > wanted)
        return part_make(wanted, there, there - wanted, sd, 2.5, estimated);
    return part_make(wanted, there, wanted - there, sd, 1.5, estimated);
}

/* Drought that ground with this much available water brings, on the scale of the tolerances. */
static double drought_of_water(double water_mm)
{
    static const double mm[] = {10, 25, 50, 100, 150}, stress[] = {5, 4, 3, 2, 1};
    if (!is_known(water_mm))
        return unknown_real();
    if (water_mm <= mm[0])
        return stress[0];
    for (size_t i = 1; i < 5; i++)
        if (water_mm <= mm[i])
            return stress[i - 1] + (stress[i] - stress[i - 1]) * (water_mm - mm[i - 1]) / (mm[i] - mm[i - 1]);
    return 1;
}

static struct fit_part fit_stress(const struct species_value *tolerance, double otherwise, double sd_otherwise, double stress, double width)
{
    bool estimated = !is_known(tolerance->value);
    double stands = estimated ? otherwise : tolerance->value;
    if (!is_known(stands) || !is_known(stress))
        return part_unknown();
    double sd = hypot(estimated ? sd_otherwise : known_or(tolerance->spread, sd_tolerance), 0.5);
    return part_make(stands, stress, stress - stands, sd, width, estimated);
}

static struct fit_part fit_cold(const struct species_fact *fact, const struct species_ground *ground)
{
    if (!is_known(fact->coldest_c) || !is_known(ground->coldest_c))
        return part_unknown();
    return part_make(fact->coldest_c, ground->coldest_c, fact->coldest_c - ground->coldest_c, 2.5, 3, false);
}

struct species_fit species_fit(const struct species_fact *fact, const struct species_ground *ground, enum layer layer)
{
    struct species_fit out = {.fit = unknown_real(), .low = unknown_real(), .high = unknown_real(), .limiting = -1};
    double sd = 0, moisture = moisture_of(fact, &sd), f = fact->moisture.value;
    out.part[FIT_REACTION] = fit_reaction(fact, ground);
    out.part[FIT_MOISTURE] = fit_two_sided(moisture, sd, ground->moisture, 0.4, 1.5, !is_known(f));
    out.part[FIT_NUTRIENTS] = fit_two_sided(fact->nutrients.value, sd_nutrients, ground->nutrients, 0.7, 2, false);
    out.part[FIT_LIGHT] = fit_light(fact, ground, layer == LAYER_UNKNOWN ? fact->layer : layer);
    out.part[FIT_DROUGHT] =
        fit_stress(&fact->drought, is_known(f) ? 6.72 - 0.84 * f : unknown_real(), 0.53, drought_of_water(ground->water_mm), 1.2);
    out.part[FIT_WATERLOGGING] =
        fit_stress(&fact->waterlogging, is_known(f) ? -1.21 + 0.71 * f : unknown_real(), 0.66, ground->wet_1to5, 1);
    out.part[FIT_COLD] = fit_cold(fact, ground);
    for (int i = 0; i < FIT_FACTORS; i++) {
        const struct fit_part *part = &out.part[i];
        if (!is_known(part->fit))
            continue;
        out.n_known++;
        if (out.limiting < 0 || part->fit < out.fit) {
            out.fit = part->fit;
            out.limiting = i;
        }
        out.low = out.n_known == 1 || part->low < out.low ? part->low : out.low;
        out.high = out.n_known == 1 || part->high < out.high ? part->high : out.high;
    }
    return out;
}
