/* SPDX-License-Identifier: GPL-3.0-or-later
 * Bulk densities at which roots are restricted, as published tables that disagree; one is picked and named. */
#include "ground/ground.h"
#include <math.h>
#include <stdio.h>

const struct density_source_info density_sources[DENSITY_SOURCES] = {
    [DENSITY_NRCS_CLASSES] = {"nrcs_classes", "USDA-NRCS by class, after Arshad, Lowery & Grossman 1996",
                              "from memory; the abridged table by the same agency was read and agrees"},
    [DENSITY_NRCS_GENERAL] = {"nrcs_general", "USDA-NRCS general relation, sandy, silty, clayey", "read"},
    [DENSITY_URBAN_TREES] = {"urban_trees", "Harris 1992 and Morris & Lowery 1988, critical range for urban trees",
                             "read in a university extension page"},
    [DENSITY_LECTURE] = {"lecture", "University lecture table, densities where roots begin to have problems",
                         "read; names no primary source"},
};

#define NO NAN
#define ALL 0, 101
/* The first table names silt loam in two rows (restricting above 1.75 and above 1.65): the first is used. */
static const struct density_limit nrcs_classes[] = {
    {TEXTURE_SAND, ALL, 1.60, 1.69, 1.80},
    {TEXTURE_LOAMY_SAND, ALL, 1.60, 1.69, 1.80},
    {TEXTURE_SANDY_LOAM, ALL, 1.40, 1.63, 1.80},
    {TEXTURE_LOAM, ALL, 1.40, 1.63, 1.80},
    {TEXTURE_SANDY_CLAY_LOAM, ALL, 1.40, 1.60, 1.75},
    {TEXTURE_CLAY_LOAM, 0, 35, 1.40, 1.60, 1.75},
    {TEXTURE_CLAY_LOAM, 35, 101, 1.10, 1.49, 1.58},
    {TEXTURE_SILT, ALL, 1.40, 1.60, 1.75},
    {TEXTURE_SILT_LOAM, ALL, 1.40, 1.60, 1.75},
    {TEXTURE_SILTY_CLAY_LOAM, ALL, 1.40, 1.55, 1.65},
    {TEXTURE_SANDY_CLAY, ALL, 1.10, 1.49, 1.58},
    {TEXTURE_SILTY_CLAY, ALL, 1.10, 1.49, 1.58},
    {TEXTURE_CLAY, 45, 101, 1.10, 1.39, 1.47},
    {TEXTURE_CLAY, 0, 45, 1.10, 1.49, 1.58},
};
/* Which class counts as sandy, silty or clayey is our reading: coarse, medium and fine textures. */
static const struct density_limit nrcs_general[] = {
    {TEXTURE_SAND, ALL, 1.60, NO, 1.80},
    {TEXTURE_LOAMY_SAND, ALL, 1.60, NO, 1.80},
    {TEXTURE_SANDY_LOAM, ALL, 1.60, NO, 1.80},
    {TEXTURE_LOAM, ALL, 1.40, NO, 1.65},
    {TEXTURE_SILT_LOAM, ALL, 1.40, NO, 1.65},
    {TEXTURE_SILT, ALL, 1.40, NO, 1.65},
    {TEXTURE_CLAY_LOAM, ALL, 1.40, NO, 1.65},
    {TEXTURE_SANDY_CLAY_LOAM, ALL, 1.40, NO, 1.65},
    {TEXTURE_SILTY_CLAY_LOAM, ALL, 1.40, NO, 1.65},
    {TEXTURE_SANDY_CLAY, ALL, 1.10, NO, 1.47},
    {TEXTURE_SILTY_CLAY, ALL, 1.10, NO, 1.47},
    {TEXTURE_CLAY, ALL, 1.10, NO, 1.47},
};
static const struct density_limit urban_trees[] = {
    {TEXTURE_CLAY, ALL, NO, 1.40, 1.55},
    {TEXTURE_SILT_LOAM, ALL, NO, 1.40, 1.55},
    {TEXTURE_SILTY_CLAY, ALL, NO, 1.40, 1.45},
    {TEXTURE_SILT, ALL, NO, 1.40, 1.45},
    {TEXTURE_SILTY_CLAY_LOAM, ALL, NO, 1.40, 1.45},
    {TEXTURE_CLAY_LOAM, ALL, NO, 1.45, 1.55},
    {TEXTURE_LOAM, ALL, NO, 1.45, 1.60},
    {TEXTURE_SANDY_CLAY, ALL, NO, 1.55, 1.65},
    {TEXTURE_SANDY_CLAY_LOAM, ALL, NO, 1.55, 1.75},
    {TEXTURE_SANDY_LOAM, ALL, NO, 1.55, 1.75},
    {TEXTURE_LOAMY_SAND, ALL, NO, NO, 1.75},
    {TEXTURE_SAND, ALL, NO, NO, 1.75},
};
static const struct density_limit lecture[] = {
    {TEXTURE_SAND, ALL, NO, 1.80, NO},
    {TEXTURE_LOAMY_SAND, ALL, NO, 1.80, NO},
    {TEXTURE_SANDY_LOAM, ALL, NO, 1.75, NO},
    {TEXTURE_LOAM, ALL, NO, 1.70, NO},
    {TEXTURE_SANDY_CLAY_LOAM, ALL, NO, 1.70, NO},
    {TEXTURE_CLAY_LOAM, ALL, NO, 1.65, NO},
    {TEXTURE_SANDY_CLAY, ALL, NO, 1.60, NO},
    {TEXTURE_SILT, ALL, NO, 1.55, NO},
    {TEXTURE_SILT_LOAM, ALL, NO, 1.55, NO},
    {TEXTURE_SILTY_CLAY_LOAM, ALL, NO, 1.50, NO},
    {TEXTURE_SILTY_CLAY, ALL, NO, 1.45, NO},
    {TEXTURE_CLAY, ALL, NO, 1.40, NO},
};

const struct density_limit *density_limits(enum density_source source, size_t *n)
{
    static const struct {
        const struct density_limit *rows;
        size_t n;
    } tables[DENSITY_SOURCES] = {
        [DENSITY_NRCS_CLASSES] = {nrcs_classes, sizeof nrcs_classes / sizeof *nrcs_classes},
        [DENSITY_NRCS_GENERAL] = {nrcs_general, sizeof nrcs_general / sizeof *nrcs_general},
        [DENSITY_URBAN_TREES] = {urban_trees, sizeof urban_trees / sizeof *urban_trees},
        [DENSITY_LECTURE] = {lecture, sizeof lecture / sizeof *lecture},
    };
    require(source < DENSITY_SOURCES);
    *n = tables[source].n;
    return tables[source].rows;
}

bool density_source_find(const char *name, enum density_source *out)
{
    for (int i = 0; i < DENSITY_SOURCES; i++)
        if (text_same(name, density_sources[i].name)) {
            *out = (enum density_source)i;
            return true;
        }
    return false;
}

static enum density_verdict verdict_of(const struct density_limit *limit, double density)
{
    bool affects = !isnan(limit->affects_from), restricts = !isnan(limit->restricts_above);
    if (restricts && density > limit->restricts_above)
        return DENSITY_RESTRICTS;
    if (affects && density >= limit->affects_from)
        return DENSITY_AFFECTS;
    if (!isnan(limit->good_below))
        return density < limit->good_below ? DENSITY_GOOD : DENSITY_BETWEEN;
    return DENSITY_GOOD;
}

enum outcome density_judge(enum density_source source, enum texture texture, double clay_pct, double bulk_density_g_cm3,
                           struct density_judgement *out, struct failure *why)
{
    if (!is_known(bulk_density_g_cm3) || bulk_density_g_cm3 < 0.05 || bulk_density_g_cm3 > 2.65) {
        fail(why, OUTCOME_DATA, "A bulk density of %g g/cm³ cannot be judged; soils lie between 0.05 and 2.65.", bulk_density_g_cm3);
        return failure_remedy(why, "Figures in kg/m³ are a thousand times as large.");
    }
    size_t n = 0;
    const struct density_limit *rows = density_limits(source, &n), *row = NULL;
    for (size_t i = 0; i < n && row == NULL; i++)
        if (rows[i].texture == texture && (!is_known(clay_pct) || (clay_pct >= rows[i].clay_from_pct && clay_pct < rows[i].clay_below_pct)))
            row = &rows[i];
    if (row == NULL) {
        fail(why, OUTCOME_DATA, "The texture class is not known, so the density cannot be held against a table.");
        return failure_remedy(why, "Give sand, silt and clay, or a class by feel.");
    }
    enum density_verdict verdict = verdict_of(row, bulk_density_g_cm3);
    const char *class = texture_words(texture);
    static const char *const says[] = {[DENSITY_GOOD] = "below the value",
                                       [DENSITY_BETWEEN] = "above the good value",
                                       [DENSITY_AFFECTS] = "at or above the value",
                                       [DENSITY_RESTRICTS] = "above the restricting value"};
    double value = verdict == DENSITY_RESTRICTS ? row->restricts_above
                   : verdict == DENSITY_AFFECTS ? row->affects_from
                   : !isnan(row->good_below)    ? row->good_below
                   : !isnan(row->affects_from)  ? row->affects_from
                                                : row->restricts_above;
    const char *what = verdict == DENSITY_RESTRICTS || verdict == DENSITY_BETWEEN ? ""
                       : verdict == DENSITY_AFFECTS                               ? "where roots are affected, "
                       : !isnan(row->good_below)                                  ? "that is good for roots, "
                                                                                  : "where roots are affected, ";
    struct density_judgement judged = {.verdict = verdict, .limit = *row};
    if (isnan(judged.limit.good_below))
        judged.limit.good_below = unknown_real();
    if (isnan(judged.limit.affects_from))
        judged.limit.affects_from = unknown_real();
    if (isnan(judged.limit.restricts_above))
        judged.limit.restricts_above = unknown_real();
    snprintf(judged.words, sizeof judged.words, "%.2f g/cm³ is %s %s%.2f g/cm³ (%s; %s)", bulk_density_g_cm3, says[verdict], what, value,
             class, density_sources[source].title);
    *out = judged;
    return OUTCOME_OK;
}

enum outcome density_fine_earth(double mass_g, double stones_g, double volume_cm3, double *out, struct failure *why)
{
    double fine_volume = volume_cm3 - stones_g / 2.65;
    if (!is_known(mass_g) || !is_known(stones_g) || !is_known(volume_cm3) || stones_g < 0 || mass_g <= stones_g || fine_volume <= 0) {
        fail(why, OUTCOME_DATA, "The ring must hold more than its stones: mass %g g, stones %g g, volume %g cm³.", mass_g, stones_g,
             volume_cm3);
        return failure_remedy(why, "Give oven-dry masses in g and the volume of the ring in cm³.");
    }
    double density = (mass_g - stones_g) / fine_volume;
    if (density > 2.65)
        return fail(why, OUTCOME_DATA, "These figures give %.2f g/cm³, denser than solid mineral.", density);
    *out = density;
    return OUTCOME_OK;
}
