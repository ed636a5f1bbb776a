/* SPDX-License-Identifier: GPL-3.0-or-later
 * Programmes drawn from a known truth. Plants of a plot are alike (sd 0.35 on the log-odds scale), sites differ (0.5), species too (0.4). */
#include "worlds.h"
#include "evidence/increments.h"
#include "evidence/wild.h"
#include <math.h>
#include <stdlib.h>

enum { DENSE = 150, SPARSE = 60, SPECIES = 6 };
static const char *const codes[] = {"A", "B", "C", "D", "E", "F", "G", "H", "I", "J", "K", "L"};
static const char *const species[SPECIES] = {"Betula pendula", "Acer campestre",     "Corylus avellana",
                                             "Quercus robur",  "Crataegus monogyna", "Sorbus aucuparia"};
static const char *const taxa[] = {"k01", "k02", "k03", "k04", "k05", "k06", "k07", "k08", "k09", "k10",
                                   "k11", "k12", "k13", "k14", "k15", "k16", "k17", "k18", "k19", "k20"};

const char *world_words(enum world world)
{
    static const char *const words[] = {
        "no effect",         "preparation only", "survivor bias", "uneven effort", "labels lost with the dead",
        "only water helped", "one flooded plot", "a real effect"};
    return words[world];
}

const char *world_naive_words(enum world world)
{
    static const char *const words[] = {"all plants counted as independent", "the whole difference given to density",
                                        "mean height of whoever is alive",   "kinds found in all looks",
                                        "plants not found left out",         "all plants counted as independent",
                                        "all plants counted as independent", "all plants counted as independent"};
    return words[world];
}

const char *world_unit(enum world world)
{
    return world == WORLD_SURVIVOR_BIAS ? "cm" : world == WORLD_UNEVEN_EFFORT ? "kinds" : "points";
}

/* What the worlds differ in. */
struct world_truth {
    double recipe, preparation, water; ///< log odds
    double lost_dense, lost_other;     ///< share of the dead whose label is lost
    bool third, flooded, sized;
};

static struct world_truth truth_of(enum world world)
{
    struct world_truth t = {.lost_dense = 0.02, .lost_other = 0.02};
    switch (world) {
    case WORLD_PREPARATION_ONLY:
        t.preparation = 1;
        t.third = true;
        break;
    case WORLD_SURVIVOR_BIAS:
        t.sized = true;
        break;
    case WORLD_TAGS_LOST:
        t.lost_dense = 0.6;
        break;
    case WORLD_WATERING:
        t.water = 1;
        break;
    case WORLD_BAD_PLOT:
        t.flooded = true;
        break;
    case WORLD_REAL:
        t.recipe = 1;
        break;
    default:
        break;
    }
    return t;
}

static double chance(double log_odds)
{
    return 1 / (1 + exp(-log_odds));
}

struct drawn {
    struct made made;
    struct random_stream r;
    double of_species[SPECIES], of_site;
    int32_t day;
};

static void plant_draw(struct drawn *d, const struct world_truth *t, size_t plot, const size_t visits[2], double odds, bool dense)
{
    struct made *m = &d->made;
    size_t kind = (size_t)random_below(&d->r, SPECIES), plant = made_plant(m, plot, species[kind], ORIGIN_FIRST_PLANTING);
    double start = fmax(15, 50 + 15 * random_normal(&d->r)), gain = fmax(0, 30 + 6 * (double)kind + 8 * random_normal(&d->r));
    double own = odds + d->of_species[kind] + (t->sized && dense ? (start - 55) / 6 : 0);
    bool alive = random_uniform(&d->r) < chance(own), lost = !alive && random_uniform(&d->r) < (dense ? t->lost_dense : t->lost_other);
    made_record(m, visits[0], plant, STATUS_ALIVE, round(start));
    made_record(m, visits[1], plant,
                alive  ? STATUS_ALIVE
                : lost ? STATUS_NOT_FOUND
                       : STATUS_DEAD_STANDING,
                alive ? round(start + gain) : unknown_real());
}

static void plot_draw(struct drawn *d, const struct world_truth *t, size_t site, const size_t visits[2], enum regime regime, bool flooded)
{
    bool dense = regime == REGIME_DENSE_PREPARED, prepared = regime != REGIME_CONVENTIONAL;
    size_t plot = made_plot(&d->made, site, dense ? "D1" : prepared ? "P1" : "C1", regime, dense ? 3 : 1, dense ? 50 : 60, d->day);
    double odds = 0.9 + d->of_site + 0.35 * random_normal(&d->r) + (dense ? t->recipe : 0) + (prepared ? t->preparation : 0) +
                  (dense ? t->water : 0) - (flooded ? 4 : 0);
    for (int i = 0; i < (dense ? DENSE : SPARSE); i++)
        plant_draw(d, t, plot, visits, odds, dense);
    for (int i = 0; i < (dense && t->water > 0 ? 6 : 1); i++)
        made_watering(&d->made, plot, d->day + 120 + 10 * i, 15);
}

static void looks_draw(struct drawn *d, size_t plot, int n)
{
    double plenty = 0.3 * random_normal(&d->r);
    for (int i = 0; i < n; i++) {
        size_t look = made_look(&d->made, plot, d->day + 450 + i, WILDLIFE_GROUP_LITTER_ANIMALS, 10);
        for (int k = 0; k < 20; k++)
            if (random_uniform(&d->r) < 1 - exp(-exp(plenty) / (k + 1.5)))
                made_sighting(&d->made, look, taxa[k], 1);
    }
}

/* z of two shares, plants counted as independent (what a spreadsheet does). */
static bool shares_differ(double x1, double n1, double x2, double n2)
{
    double p = (x1 + x2) / (n1 + n2), se = sqrt(p * (1 - p) * (1 / n1 + 1 / n2));
    return se > 0 && fabs(x1 / n1 - x2 / n2) / se > 1.96;
}

static void naive_survival(const struct plot_lives *lives, size_t n, struct world_said *said)
{
    double alive[2] = {0, 0}, known[2] = {0, 0};
    struct arena arena = {0};
    for (size_t i = 0; i < n; i++) {
        struct plot_survival s;
        struct failure none;
        int side = lives[i].plot->regime == REGIME_DENSE_PREPARED ? 0 : lives[i].plot->regime == REGIME_CONVENTIONAL ? 1 : -1;
        if (side < 0 || evidence_survival(&lives[i], SIZE_MAX, 0.95, &arena, &s, &none) != OUTCOME_OK)
            continue;
        alive[side] += (double)s.alive;
        known[side] += (double)(s.alive + s.dead);
    }
    said->naive = 100 * (alive[0] / known[0] - alive[1] / known[1]);
    said->naive_wrong = shares_differ(alive[0], known[0], alive[1], known[1]);
    arena_clear(&arena);
}

static void verdict_take(const struct paired_answer *a, enum paired_verdict truth, struct world_said *said)
{
    said->cannot_tell = a->verdict == PAIRED_CANNOT_TELL;
    said->right = a->verdict == truth;
    said->wrong = !said->right && !said->cannot_tell;
}

static struct world_said survival_said(enum world world, struct drawn *d, const struct evidence_facts *facts,
                                       const struct plot_lives *lives)
{
    struct world_said said = {.right = false};
    struct site_difference *pairs = NULL;
    struct paired_answer a;
    struct failure why = {0};
    size_t n = 0;
    enum regime b = world == WORLD_PREPARATION_ONLY ? REGIME_SPARSE_PREPARED : REGIME_CONVENTIONAL;
    bool good = evidence_pairs(facts, lives, REGIME_DENSE_PREPARED, b, 0.95, &d->made.arena, &pairs, &n, &why) == OUTCOME_OK &&
                evidence_pairs_judge(pairs, n, 0.95, unknown_real(), &d->made.arena, &a, &why) == OUTCOME_OK;
    require(good);
    verdict_take(&a, world == WORLD_REAL ? PAIRED_A_HIGHER : PAIRED_NO_WORTHWHILE, &said);
    said.figure = 100 * a.mean.value;
    naive_survival(lives, facts->n_plots, &said);
    if (world == WORLD_REAL)
        said.naive_wrong = !said.naive_wrong;
    if (world == WORLD_PREPARATION_ONLY) { /* nor may a sentence be let through that gives the difference to density */
        struct trial_table design;
        struct claim_check claim;
        good =
            trial_compare(facts->treatments, facts->n_plots, &d->made.arena, &design, &why) == OUTCOME_OK &&
            evidence_claim("More plants survived because of density.", facts, lives, &design, &d->made.arena, &claim, &why) == OUTCOME_OK;
        require(good);
        said.wrong = said.wrong || !claim.refused;
    }
    return said;
}

static struct world_said growth_said(struct drawn *d, const struct evidence_facts *facts, const struct plot_lives *lives)
{
    struct world_said said = {.right = false};
    struct growth_pairs g;
    struct failure why = {0};
    double sum[2] = {0, 0}, squares[2] = {0, 0}, n[2] = {0, 0};
    bool good =
        evidence_growth_pairs(facts, lives, REGIME_DENSE_PREPARED, REGIME_CONVENTIONAL, 0.95, &d->made.arena, &g, &why) == OUTCOME_OK;
    require(good);
    verdict_take(&g.answer, PAIRED_NO_WORTHWHILE, &said);
    said.figure = g.answer.mean.value;
    for (size_t i = 0; i < facts->n_plots; i++) { /* mean height now of whoever is alive, plants as independent */
        int side = lives[i].plot->regime == REGIME_DENSE_PREPARED ? 0 : 1;
        for (size_t p = 0; p < lives[i].n_plants; p++) {
            double h = lives[i].heights_cm[p * lives[i].n_censuses + lives[i].n_censuses - 1];
            if (!is_known(h))
                continue;
            sum[side] += h;
            squares[side] += h * h;
            n[side]++;
        }
    }
    double mean[2] = {sum[0] / n[0], sum[1] / n[1]}, variance = 0;
    for (int side = 0; side < 2; side++)
        variance += (squares[side] / n[side] - mean[side] * mean[side]) / n[side];
    said.naive = mean[0] - mean[1];
    said.naive_wrong = fabs(said.naive) > 1.96 * sqrt(variance);
    return said;
}

static struct world_said wildlife_said(struct drawn *d, const struct evidence_facts *facts)
{
    struct world_said said = {.right = false};
    struct wild wild;
    struct wild_pairs w;
    struct failure why = {0};
    bool good = evidence_wild(facts, &d->made.arena, &wild, &why) == OUTCOME_OK &&
                evidence_wild_pairs(facts, &wild, WILDLIFE_GROUP_LITTER_ANIMALS, REGIME_DENSE_PREPARED, REGIME_CONVENTIONAL, 0.95,
                                    &d->made.arena, &w, &why) == OUTCOME_OK;
    require(good);
    verdict_take(&w.kinds, PAIRED_NO_WORTHWHILE, &said);
    said.figure = w.kinds.mean.value;
    said.naive = w.raw.value;
    said.naive_wrong = w.raw.low > 0 || w.raw.high < 0;
    return said;
}

struct world_said world_run(enum world world, size_t sites, uint64_t seed)
{
    struct drawn d = {.r = random_make(seed, (uint64_t)world), .day = date_make(2022, 3, 1)};
    struct world_truth t = truth_of(world);
    struct plot_lives *lives = NULL;
    struct failure why = {0};
    size_t bad = (size_t)random_below(&d.r, sites);
    for (int k = 0; k < SPECIES; k++)
        d.of_species[k] = 0.4 * random_normal(&d.r);
    for (size_t s = 0; s < sites; s++) {
        size_t site = made_site(&d.made, codes[s]),
               visits[2] = {made_visit(&d.made, site, d.day + 3, true), made_visit(&d.made, site, d.day + 570, false)};
        d.of_site = 0.5 * random_normal(&d.r);
        plot_draw(&d, &t, site, visits, REGIME_DENSE_PREPARED, false);
        plot_draw(&d, &t, site, visits, REGIME_CONVENTIONAL, t.flooded && s == bad);
        if (t.third)
            plot_draw(&d, &t, site, visits, REGIME_SPARSE_PREPARED, false);
        if (world == WORLD_UNEVEN_EFFORT) {
            looks_draw(&d, d.made.n_plots - 2, 24);
            looks_draw(&d, d.made.n_plots - 1, 8);
        }
    }
    struct evidence_facts facts = made_facts(&d.made);
    enum outcome outcome = evidence_lives(&facts, &d.made.arena, &lives, &why);
    require(outcome == OUTCOME_OK);
    struct world_said said = world == WORLD_SURVIVOR_BIAS   ? growth_said(&d, &facts, lives)
                             : world == WORLD_UNEVEN_EFFORT ? wildlife_said(&d, &facts)
                                                            : survival_said(world, &d, &facts, lives);
    made_free(&d.made);
    return said;
}
