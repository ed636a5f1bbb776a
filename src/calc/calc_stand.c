/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of stand/: laws of crowded stands, the equations of growth, scores of forecasts. */
#include "calc/calc_rooms.h"
#include "stand/stand.h"
#include <math.h>

#define COUNT(list) (sizeof(list) / sizeof *(list))

static double number(const json_t *in, const char *name)
{
    return calc_number(in, name, unknown_real());
}

/* Fails unless all these inputs are above 0. */
static enum outcome above_zero(const json_t *in, const char *const *names, size_t n, struct failure *why)
{
    for (size_t i = 0; i < n; i++)
        if (!(number(in, names[i]) > 0))
            return fail(why, OUTCOME_USAGE, "%s must be above 0.", names[i]);
    return OUTCOME_OK;
}

static const struct calc_value index_in[] = {
    {"stems_ha", "1/ha", CALC_NUMBER, true, "stems to the hectare"},
    {"diameter_cm", "cm", CALC_NUMBER, true, "quadratic mean diameter at 1.3 m"},
    {"most", "", CALC_NUMBER, false, "largest index the mixture bears: your own figure; 450–900 is usual"}};
static const struct calc_value index_out[] = {{"index", "1/ha", CALC_NUMBER, true, "stems of 25.4 cm that crowd as much"},
                                              {"relative", "", CALC_NUMBER, true, "index over the largest"},
                                              {"stems_most_ha", "1/ha", CALC_NUMBER, true, "stems at the largest index"}};

static enum outcome index_run(const json_t *in, json_t *result, struct failure *why)
{
    static const char *const needed[] = {"stems_ha", "diameter_cm"};
    enum outcome outcome = above_zero(in, needed, 2, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    double index = stand_density_index(number(in, "stems_ha"), number(in, "diameter_cm")), most = number(in, "most");
    calc_put(result, "index", index);
    calc_put(result, "relative", is_known(most) ? index / most : unknown_real());
    calc_put(result, "stems_most_ha", is_known(most) ? stand_density_most(most, number(in, "diameter_cm")) : unknown_real());
    calc_say(result, "Stems thinner than 2.5 cm, or measured at the collar, do not compare with indexes from 1.3 m.");
    return OUTCOME_OK;
}

static const struct calc_value yoda_in[] = {{"stems_m2", "1/m2", CALC_NUMBER, true, "living plants to the square metre"},
                                            {"log10_k", "", CALC_NUMBER, false, "logarithm of K with mass in g (4)"}};
static const struct calc_value yoda_out[] = {{"mass_g", "g", CALC_NUMBER, true, "mean dry mass of a plant on the line"},
                                             {"stand_g_m2", "g/m2", CALC_NUMBER, true, "of all on a square metre"}};

static enum outcome yoda_run(const json_t *in, json_t *result, struct failure *why)
{
    static const char *const needed[] = {"stems_m2"};
    enum outcome outcome = above_zero(in, needed, 1, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    double mass = stand_yoda_mass(number(in, "stems_m2"), calc_number(in, "log10_k", 4));
    calc_put(result, "mass_g", mass);
    calc_put(result, "stand_g_m2", mass * number(in, "stems_m2"));
    return OUTCOME_OK;
}

static const struct calc_value slope_in[] = {{"stems_m2", "1/m2", CALC_NUMBERS, true, "density at each look"},
                                             {"mass_g", "g", CALC_NUMBERS, true, "mean dry mass at each"}};
static const struct calc_value slope_out[] = {
    {"slope", "", CALC_NUMBER, true, "of log mass on log density, reduced major axis; −1.5 after Yoda"},
    {"log10_k", "", CALC_NUMBER, true, "intercept"},
    {"r", "", CALC_NUMBER, true, "correlation"}};

static enum outcome slope_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n = 0, m = 0;
    double *x = calc_numbers(in, "stems_m2", &arena, &n), *y = calc_numbers(in, "mass_g", &arena, &m), slope, cut, r;
    enum outcome outcome = n == m && n >= 3 ? OUTCOME_OK : fail(why, OUTCOME_USAGE, "Give as many masses as densities, three or more.");
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++) {
        if (!(x[i] > 0) || !(y[i] > 0))
            outcome = fail(why, OUTCOME_USAGE, "Densities and masses must be above 0.");
        x[i] = log10(x[i]);
        y[i] = log10(y[i]);
    }
    if (outcome == OUTCOME_OK) {
        stand_axis(x, y, n, &slope, &cut, &r);
        calc_put(result, "slope", slope);
        calc_put(result, "log10_k", cut);
        calc_put(result, "r", r);
        calc_say(result, "The line is an upper bound of crowded stands: leave out looks from before crowding.");
    }
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value gini_in[] = {{"x", "", CALC_NUMBERS, true, "sizes, above 0"}};
static const struct calc_value gini_out[] = {{"gini", "", CALC_NUMBER, true, "Gini's coefficient, n/(n − 1) corrected"},
                                             {"variation", "", CALC_NUMBER, true, "coefficient of variation"}};

static enum outcome gini_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n = 0;
    double *x = calc_numbers(in, "x", &arena, &n), mean = 0, square = 0;
    enum outcome outcome = n >= 2 ? OUTCOME_OK : fail(why, OUTCOME_USAGE, "Give two sizes or more.");
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++) {
        if (!(x[i] > 0))
            outcome = fail(why, OUTCOME_USAGE, "Sizes must be above 0.");
        mean += x[i] / (double)n;
    }
    for (size_t i = 0; i < n; i++)
        square += (x[i] - mean) * (x[i] - mean);
    if (outcome == OUTCOME_OK) {
        calc_put(result, "gini", stand_gini(x, n, &arena));
        calc_put(result, "variation", sqrt(square / (double)(n - 1)) / mean);
    }
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value light_in[] = {{"leaf_area", "", CALC_NUMBER, false, "leaf area over ground area"},
                                             {"light", "", CALC_NUMBER, false, "share of light that passes, instead"},
                                             {"k", "", CALC_NUMBER, false, "extinction coefficient (0.5)"}};
static const struct calc_value light_out[] = {{"light", "", CALC_NUMBER, true, "share that passes"},
                                              {"leaf_area", "", CALC_NUMBER, true, "leaf area over ground area"}};

static enum outcome light_run(const json_t *in, json_t *result, struct failure *why)
{
    double leaf = number(in, "leaf_area"), share = number(in, "light"), k = calc_number(in, "k", 0.5);
    if (is_known(leaf) == is_known(share) || !(k > 0) || leaf < 0 || share <= 0 || share > 1)
        return fail(why, OUTCOME_USAGE, "Give leaf_area from 0 up or light above 0 to 1, one of them, and k above 0.");
    share = is_known(leaf) ? stand_light_under(leaf, k) : share;
    calc_put(result, "light", share);
    calc_put(result, "leaf_area", is_known(leaf) ? leaf : stand_leaf_from_light(share, k));
    return OUTCOME_OK;
}

static const struct calc_value hegyi_in[] = {{"diameter_cm", "cm", CALC_NUMBER, true, "of the plant"},
                                             {"neighbour_cm", "cm", CALC_NUMBERS, true, "diameters of those around"},
                                             {"distance_m", "m", CALC_NUMBERS, true, "how far they stand"},
                                             {"radius_m", "m", CALC_NUMBER, false, "only those within (all)"},
                                             {"plain", "", CALC_WORD, false, "yes: divide by the distance, no: by the distance + 1 (no)"}};
static const struct calc_value hegyi_out[] = {{"index", "", CALC_NUMBER, true, "competition index"}};

static enum outcome hegyi_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n = 0, m = 0;
    double *d = calc_numbers(in, "neighbour_cm", &arena, &n), *away = calc_numbers(in, "distance_m", &arena, &m);
    bool plain = text_same(calc_word(in, "plain", "no"), "yes");
    enum outcome outcome =
        n == m && number(in, "diameter_cm") > 0 ? OUTCOME_OK : fail(why, OUTCOME_USAGE, "Each neighbour needs a diameter and a distance.");
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++)
        if (!(d[i] >= 0) || !(away[i] >= 0) || (plain && !(away[i] > 0)))
            outcome = fail(why, OUTCOME_USAGE, "Diameters and distances are from 0 up; without + 1 a distance of 0 has no index.");
    if (outcome == OUTCOME_OK)
        calc_put(result, "index", stand_hegyi(number(in, "diameter_cm"), d, away, n, calc_number(in, "radius_m", INFINITY), plain));
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value stem_in[] = {{"diameter_cm", "cm", CALC_NUMBER, true, "at the collar"},
                                            {"height_m", "m", CALC_NUMBER, true, "height"},
                                            {"wood_t_m3", "t/m3", CALC_NUMBER, false, "dry wood density (0.55)"}};
static const struct calc_value stem_out[] = {{"mass_kg", "kg", CALC_NUMBER, true, "dry wood above ground"},
                                             {"breast_cm", "cm", CALC_NUMBER, true, "diameter at 1.3 m"},
                                             {"height_limit_m", "m", CALC_NUMBER, true, "half the height at which the stem buckles"}};

static enum outcome stem_run(const json_t *in, json_t *result, struct failure *why)
{
    static const char *const needed[] = {"diameter_cm", "height_m"};
    enum outcome outcome = above_zero(in, needed, 2, why);
    double d = number(in, "diameter_cm"), h = number(in, "height_m"), wood = calc_number(in, "wood_t_m3", 0.55);
    if (outcome == OUTCOME_OK && !(wood > 0.05 && wood < 1.5))
        outcome = fail(why, OUTCOME_USAGE, "wood_t_m3 lies between 0.05 and 1.5.");
    if (outcome != OUTCOME_OK)
        return outcome;
    calc_put(result, "mass_kg", stand_mass_kg(d, h, wood));
    calc_put(result, "breast_cm", stand_breast_cm(d, h));
    calc_put(result, "height_limit_m", stand_height_limit_m(d));
    calc_say(result, "Form factor 0.55 and taper are illustrative.");
    return OUTCOME_OK;
}

static const struct calc_value leaf_in[] = {
    {"light", "", CALC_NUMBER, true, "light taken up by a square metre of leaf, share of full light"},
    {"light_least", "", CALC_NUMBER, true, "share of full light at which a leaf just pays"}};
static const struct calc_value leaf_out[] = {{"growth_kg", "kg", CALC_NUMBER, true, "wood made in a year by that square metre"}};

static enum outcome leaf_run(const json_t *in, json_t *result, struct failure *why)
{
    double light = number(in, "light"), least = number(in, "light_least");
    if (!(light >= 0 && light <= 1 && least >= 0 && least < 0.5))
        return fail(why, OUTCOME_USAGE, "light lies in 0–1, light_least in 0–0.5.");
    calc_put(result, "growth_kg", stand_leaf_growth(light, least));
    return OUTCOME_OK;
}

static const struct calc_value gap_in[] = {
    {"growth", "", CALC_NUMBER, true, "G of the species"},
    {"diameter_most_cm", "cm", CALC_NUMBER, true, "largest diameter"},
    {"height_most_cm", "cm", CALC_NUMBER, true, "largest height"},
    {"diameter_cm", "cm", CALC_NUMBER, true, "diameter now"},
    {"light", "", CALC_NUMBER, false, "share of full light (1)"},
    {"tolerant", "", CALC_WORD, false, "yes: shade tolerant; no: not; blank: no reduction by shade"}};
static const struct calc_value gap_out[] = {{"height_cm", "cm", CALC_NUMBER, true, "height at that diameter"},
                                            {"increment_cm", "cm", CALC_NUMBER, true, "growth in diameter in a year"}};

static enum outcome gap_run(const json_t *in, json_t *result, struct failure *why)
{
    static const char *const needed[] = {"growth", "diameter_most_cm", "height_most_cm", "diameter_cm"};
    enum outcome outcome = above_zero(in, needed, 4, why);
    struct stand_gap kind = {number(in, "growth"), number(in, "diameter_most_cm"), number(in, "height_most_cm")};
    const char *tolerant = calc_word(in, "tolerant", "");
    if (outcome == OUTCOME_OK && (!(kind.height_most_cm > 137) || number(in, "diameter_cm") > kind.diameter_most_cm))
        outcome = fail(why, OUTCOME_USAGE, "The largest height is above 137 cm, and the diameter at most the largest.");
    if (outcome != OUTCOME_OK)
        return outcome;
    double share = *tolerant == '\0' ? 1 : stand_gap_light(calc_number(in, "light", 1), text_same(tolerant, "yes"));
    calc_put(result, "height_cm", stand_gap_height_cm(&kind, number(in, "diameter_cm")));
    calc_put(result, "increment_cm", share * stand_gap_growth_cm(&kind, number(in, "diameter_cm")));
    return OUTCOME_OK;
}

static const struct calc_value sky_in[] = {{"latitude_deg", "deg", CALC_NUMBER, true, "−66 to 66"}};
static const struct calc_value sky_out[] = {{"share", "", CALC_NUMBERS, true, "from above, south, north, east, west; sums to 1"}};

static enum outcome sky_run(const json_t *in, json_t *result, struct failure *why)
{
    double share[STAND_RAYS];
    enum outcome outcome = stand_sky_shares(number(in, "latitude_deg"), share, why);
    if (outcome == OUTCOME_OK)
        calc_put_all(result, "share", share, STAND_RAYS);
    return outcome;
}

static const struct calc_value crps_in[] = {{"runs", "", CALC_NUMBERS, false, "what the runs told"},
                                            {"quantiles", "", CALC_NUMBERS, false, "or n quantiles at levels 1/(n + 1) … n/(n + 1)"},
                                            {"mean", "", CALC_NUMBER, false, "or a normal distribution: its mean"},
                                            {"sd", "", CALC_NUMBER, false, "and standard deviation"},
                                            {"count", "", CALC_NUMBER, false, "or a beta-binomial number: of how many"},
                                            {"a", "", CALC_NUMBER, false, "its first shape"},
                                            {"b", "", CALC_NUMBER, false, "its second shape"},
                                            {"seen", "", CALC_NUMBER, true, "what came"}};
static const struct calc_value crps_out[] = {{"crps", "", CALC_NUMBER, true, "score in the unit of what came; 0 is best"},
                                             {"rank", "", CALC_NUMBER, true, "share of the runs below what came; unknown without runs"}};

static enum outcome crps_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    size_t n = 0, m = 0;
    double *runs = calc_numbers(in, "runs", &arena, &n), *q = calc_numbers(in, "quantiles", &arena, &m), seen = number(in, "seen");
    double count = number(in, "count"), sd = number(in, "sd");
    enum outcome outcome = OUTCOME_OK;
    calc_put(result, "rank", n > 0 ? stand_rank(runs, n, seen) : unknown_real());
    if (n > 0)
        calc_put(result, "crps", stand_crps(runs, n, seen));
    else if (m > 0)
        calc_put(result, "crps", stand_crps_quantiles(q, m, seen));
    else if (is_known(sd) && sd >= 0)
        calc_put(result, "crps", stand_crps_normal(number(in, "mean"), sd, seen));
    else if (count >= 1 && count <= 1e6 && seen >= 0 && seen <= count && number(in, "a") > 0 && number(in, "b") > 0)
        calc_put(result, "crps", stand_crps_counts((size_t)count, number(in, "a"), number(in, "b"), (size_t)seen));
    else
        outcome = fail(why, OUTCOME_USAGE, "Give runs, quantiles, mean and sd, or count with a and b; and what came.");
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value ahead_in[] = {{"density_m2", "1/m2", CALC_NUMBER, true, "plants to the square metre, 0.01–20"},
                                             {"layer", "", CALC_WORD, false, "canopy (default), subcanopy or shrub"},
                                             {"height_most_m", "m", CALC_NUMBER, false, "height the kind tends to (of its layer)"},
                                             {"shade", "", CALC_NUMBER, false, "shade tolerance 1–5"},
                                             {"drought", "", CALC_NUMBER, false, "drought tolerance 1–5"},
                                             {"growth", "", CALC_NUMBER, false, "1 slow, 2 medium, 3 fast"},
                                             {"prepared", "", CALC_WORD, false, "yes (default) or no"},
                                             {"years", "a", CALC_NUMBER, false, "1–60 (30)"},
                                             {"runs", "", CALC_NUMBER, false, "1–200 (20)"},
                                             {"seed", "", CALC_NUMBER, false, "(1)"}};
static const struct calc_value ahead_out[] = {{"alive_m2", "1/m2", CALC_NUMBERS, true, "living in year 0, 1, …: middle of the runs"},
                                              {"height_m", "m", CALC_NUMBERS, true, "mean height"},
                                              {"wood_kg_m2", "kg/m2", CALC_NUMBERS, true, "dry wood above ground"},
                                              {"floor_light", "", CALC_NUMBERS, true, "share of light at the ground; unknown in year 0"}};

static void ahead_fill(const struct stand_result *r, json_t *result, struct arena *arena)
{
    static const enum stand_measure measures[] = {STAND_ALIVE, STAND_HEIGHT, STAND_MASS, STAND_FLOOR};
    double *values = arena_array(arena, (size_t)r->years + 1, sizeof *values);
    for (size_t m = 0; m < 4; m++) {
        for (int year = 0; year <= r->years; year++)
            values[year] = stand_quantile(r, measures[m], year, 0.5) / (m == 0 ? r->area_m2 : 1);
        calc_put_all(result, ahead_out[m].name, values, (size_t)r->years + 1);
    }
}

static enum outcome ahead_run(const json_t *in, json_t *result, struct failure *why)
{
    enum { PLANTS = 400 };
    const char *layer = calc_word(in, "layer", "canopy");
    struct stand_traits traits = {.name = "one kind",
                                  .layer = text_same(layer, "shrub")       ? LAYER_SHRUB
                                           : text_same(layer, "subcanopy") ? LAYER_SUBCANOPY
                                                                           : LAYER_CANOPY,
                                  .height_most_m = number(in, "height_most_m"),
                                  .shade = number(in, "shade"),
                                  .drought = number(in, "drought"),
                                  .growth = (int)calc_number(in, "growth", 0),
                                  .wood_g_cm3 = unknown_real(),
                                  .height_20_m = unknown_real()};
    double density = number(in, "density_m2"), step = 1 / sqrt(density);
    if (!(density >= 0.01 && density <= 20))
        return fail(why, OUTCOME_USAGE, "density_m2 lies between 0.01 and 20.");
    struct arena arena = {0};
    struct stand_kind kind = stand_kind_of(&traits);
    struct stand_setting setting;
    struct stand_result looked;
    stand_setting_init(&setting);
    struct stand_plant *plants = arena_array(&arena, PLANTS, sizeof *plants);
    setting.seed = (uint64_t)calc_number(in, "seed", 1);
    struct random_stream r = random_make(setting.seed, 3);
    for (size_t i = 0; i < PLANTS; i++)
        plants[i] = (struct stand_plant){.x_m = ((double)(i % 20) + 0.1 + 0.8 * random_uniform(&r)) * step,
                                         .y_m = ((double)(i / 20) + 0.1 + 0.8 * random_uniform(&r)) * step,
                                         .height_m = 0.5,
                                         .diameter_cm = unknown_real()};
    setting.kinds = &kind;
    setting.n_kinds = 1;
    setting.plants = plants;
    setting.n_plants = PLANTS;
    setting.box = (struct box){0, 0, 20 * step, 20 * step};
    setting.endless = true;
    setting.ground = text_same(calc_word(in, "prepared", "yes"), "no") ? stand_ground_unprepared() : stand_ground_prepared();
    setting.years = (int)calc_number(in, "years", 30);
    setting.runs = (size_t)fmin(200, fmax(1, calc_number(in, "runs", 20)));
    enum outcome outcome = stand_look_ahead(&setting, &arena, &looked, why);
    if (outcome == OUTCOME_OK) {
        ahead_fill(&looked, result, &arena);
        calc_say(result, "400 plants on ground without edges; illustrative parameters.");
    }
    arena_clear(&arena);
    return outcome;
}

const struct calc calc_stand[] = {
    {"density_index", "How crowded a stand is", "Reineke 1933, J. Agric. Res. 46:627: N (D/25.4)^1.605", index_in, COUNT(index_in),
     index_out, COUNT(index_out), index_run},
    {"self_thinning", "Mean mass on the line of self-thinning", "Yoda, Kira, Ogawa & Hozumi 1963: w = K N^(−3/2)", yoda_in, COUNT(yoda_in),
     yoda_out, COUNT(yoda_out), yoda_run},
    {"self_thinning_slope", "Slope of mass on density", "reduced major axis of the logarithms", slope_in, COUNT(slope_in), slope_out,
     COUNT(slope_out), slope_run},
    {"size_inequality", "How unequal sizes are", "Weiner & Solbrig 1984, Oecologia 61:334", gini_in, COUNT(gini_in), gini_out,
     COUNT(gini_out), gini_run},
    {"light_under_leaves", "Light under leaves, and leaves from light", "Monsi & Saeki 1953: exp(−k L)", light_in, COUNT(light_in),
     light_out, COUNT(light_out), light_run},
    {"competition_index", "How neighbours press on a plant", "Hegyi 1974: sum of (dj/di)/(L + 1)", hegyi_in, COUNT(hegyi_in), hegyi_out,
     COUNT(hegyi_out), hegyi_run},
    {"stand_stem", "Wood, thickness and bearing height of a stem in the look ahead",
     "form and taper illustrative; buckling McMahon 1973, Science 179:1201", stem_in, COUNT(stem_in), stem_out, COUNT(stem_out), stem_run},
    {"stand_leaf_growth", "What a square metre of leaf makes in the look ahead",
     "hyperbola of light after Monsi & Saeki 1953; level illustrative", leaf_in, COUNT(leaf_in), leaf_out, COUNT(leaf_out), leaf_run},
    {"gap_growth", "Growth in diameter of the first gap models", "Botkin, Janak & Wallis 1972, J. Ecol. 60:849", gap_in, COUNT(gap_in),
     gap_out, COUNT(gap_out), gap_run},
    {"sky_shares", "Where the growing season's light comes from", "half even sky, half sun through clear air; docs/methods/stand.md",
     sky_in, COUNT(sky_in), sky_out, COUNT(sky_out), sky_run},
    {"forecast_score", "How good a forecast was",
     "continuous ranked probability score, Gneiting & Raftery 2007, J. Am. Stat. Assoc. 102:359", crps_in, COUNT(crps_in), crps_out,
     COUNT(crps_out), crps_run},
    {"stand_ahead", "One kind looked ahead without edges", "docs/methods/stand.md; illustrative", ahead_in, COUNT(ahead_in), ahead_out,
     COUNT(ahead_out), ahead_run},
    {0},
};
