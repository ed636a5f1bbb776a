/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of mix/. */
#include "calc/calc_rooms.h"
#include "mix/mix.h"
#include <math.h>
#include <string.h>

#define COUNT(list) (sizeof(list) / sizeof *(list))

static const struct calc_value solve_in[] = {
    {"species", "", CALC_WORDS, true, "names"},
    {"layers", "", CALC_WORDS, true, "canopy, subcanopy, shrub, climber or ground for each"},
    {"genus", "", CALC_WORDS, false, "for each; default the first word of the name; NA unknown"},
    {"family", "", CALC_WORDS, false, "for each; NA unknown"},
    {"roles", "", CALC_WORDS, false, "pioneer, mid or late for each; NA unknown"},
    {"pests", "", CALC_WORDS, false, "organisms of each, several between semicolons; NA none known"},
    {"tall", "", CALC_NUMBERS, false, "1 for a tall canopy dominant, 0 for another"},
    {"fit", "", CALC_NUMBERS, false, "0–1 for each; NA unknown"},
    {"frequency", "", CALC_NUMBERS, false, "weight of each in the reference community; NA none aimed at"},
    {"price", "currency", CALC_NUMBERS, false, "of one plant; NA unknown"},
    {"stock", "", CALC_NUMBERS, false, "plants to be had; NA no limit known"},
    {"least", "", CALC_NUMBERS, false, "least plants wished of each; NA none"},
    {"most", "", CALC_NUMBERS, false, "most plants wished of each, 0 keeps it out; NA open"},
    {"total", "", CALC_NUMBER, false, "plants; or density_m2 and area_m2"},
    {"density_m2", "1/m2", CALC_NUMBER, false, "plants per square metre"},
    {"area_m2", "m2", CALC_NUMBER, false, "net area"},
    {"rules", "", CALC_WORD, false, "dense (default): usual shares and caps; none: only what is given here"},
    {"canopy_least", "", CALC_NUMBER, false, "least share 0–1; likewise the following"},
    {"canopy_most", "", CALC_NUMBER, false, "greatest share"},
    {"subcanopy_least", "", CALC_NUMBER, false, "least share"},
    {"subcanopy_most", "", CALC_NUMBER, false, "greatest share"},
    {"shrub_least", "", CALC_NUMBER, false, "least share"},
    {"shrub_most", "", CALC_NUMBER, false, "greatest share"},
    {"pioneer_least", "", CALC_NUMBER, false, "least share of pioneers"},
    {"pioneer_most", "", CALC_NUMBER, false, "greatest share of pioneers"},
    {"tall_most", "", CALC_NUMBER, false, "greatest share of tall trees"},
    {"species_most", "", CALC_NUMBER, false, "greatest share of one species"},
    {"genus_most", "", CALC_NUMBER, false, "greatest share of one genus"},
    {"family_most", "", CALC_NUMBER, false, "greatest share of one family"},
    {"pest_most", "", CALC_NUMBER, false, "greatest share of hosts of one pest"},
    {"least_each", "", CALC_NUMBER, false, "least plants of a species that is used"},
    {"count_least", "", CALC_NUMBER, false, "least number of species"},
    {"count_most", "", CALC_NUMBER, false, "greatest number of species"},
    {"budget", "currency", CALC_NUMBER, false, "greatest sum of prices"},
    {"weight_target", "", CALC_NUMBER, false, "of plants away from the community's composition"},
    {"weight_fit", "", CALC_NUMBER, false, "of fit"},
    {"weight_diversity", "", CALC_NUMBER, false, "of diversity"},
    {"weight_price", "", CALC_NUMBER, false, "of money"},
    {"seconds", "s", CALC_NUMBER, false, "limit of time, default 10"},
    {"yields", "", CALC_WORD, false, "yes: usual wishes that are not given here give way by the least that will do; default no"},
    {"plots", "", CALC_NUMBERS, false, "plants of each of several plots with one order, instead of total"},
    {"bundle", "", CALC_NUMBER, false, "with plots: plants are ordered in multiples of this"},
};
static const struct calc_value solve_out[] = {
    {"state", "", CALC_WORD, true, "best, found, impossible or nothing"},
    {"plants", "", CALC_NUMBERS, true, "of each species; empty where impossible"},
    {"total", "", CALC_NUMBER, true, "plants"},
    {"species_used", "", CALC_NUMBER, true, "species with plants"},
    {"objective", "", CALC_NUMBER, true, "what was aimed at, in plants; less is better"},
    {"gap", "", CALC_NUMBER, true, "plants short of the best, per plant, at the most"},
    {"shannon", "nat", CALC_NUMBER, true, "entropy of the counts"},
    {"off_target", "", CALC_NUMBER, true, "plants away from the community's composition"},
    {"cost", "currency", CALC_NUMBER, true, "sum of prices"},
    {"conflict", "", CALC_WORDS, true, "wishes that cannot be met together"},
    {"relax", "", CALC_WORDS, true, "what to do about each"},
    {"together", "", CALC_WORDS, true, "changes that would do together"},
    {"relaxed", "", CALC_WORDS, true, "usual wishes that gave way"},
    {"ordered", "", CALC_NUMBERS, true, "plants of each species to order"},
    {"proof", "", CALC_WORD, true, "how good it is, in words"},
    {"solver", "", CALC_WORD, true, "name and version"},
};

/// Lists of the input, each NULL where left out.
struct lists {
    size_t n;
    bool same; ///< all of one length
    struct arena *arena;
};
static const char **words_list(const json_t *in, const char *name, struct lists *lists)
{
    const json_t *list = json_object_get(in, name);
    size_t n = json_array_size(list);
    if (list == NULL)
        return NULL;
    lists->same &= n == lists->n;
    const char **out = arena_array(lists->arena, n > lists->n ? n : lists->n, sizeof *out);
    for (size_t i = 0; i < n; i++) {
        const char *word = json_string_value(json_array_get(list, i));
        out[i] = word == NULL || strcmp(word, "NA") == 0 ? NULL : word;
    }
    return out;
}
static double *numbers_list(const json_t *in, const char *name, struct lists *lists)
{
    size_t n = 0;
    if (json_object_get(in, name) == NULL)
        return NULL;
    double *out = calc_numbers(in, name, lists->arena, &n);
    lists->same &= n == lists->n;
    return n >= lists->n ? out : NULL;
}
static const char **pests_of(const char *text, struct arena *arena, size_t *n)
{
    *n = 0;
    if (text == NULL)
        return NULL;
    char *rest = NULL, *copy = arena_text(arena, text);
    const char **out = arena_array(arena, strlen(text) + 1, sizeof *out);
    for (char *name = strtok_r(copy, ";", &rest); name != NULL; name = strtok_r(NULL, ";", &rest))
        out[(*n)++] = text_trim(arena, name);
    return out;
}
static double at(const double *list, size_t i, double otherwise)
{
    return list == NULL || !is_known(list[i]) ? otherwise : list[i];
}
/* A whole number, or INT_UNKNOWN. */
static int64_t whole_at(const double *list, size_t i)
{
    return list == NULL || !is_known(list[i]) || fabs(list[i]) > 1e9 ? INT_UNKNOWN : (int64_t)floor(list[i]);
}

static enum outcome species_read(const json_t *in, struct lists *lists, struct mix_species **out, struct mix_wish **wishes,
                                 size_t *n_wishes, struct failure *why)
{
    struct arena *arena = lists->arena;
    const char **names = words_list(in, "species", lists), **layers = words_list(in, "layers", lists),
               **genus = words_list(in, "genus", lists), **family = words_list(in, "family", lists),
               **roles = words_list(in, "roles", lists), **pests = words_list(in, "pests", lists);
    double *tall = numbers_list(in, "tall", lists), *fit = numbers_list(in, "fit", lists),
           *frequency = numbers_list(in, "frequency", lists), *price = numbers_list(in, "price", lists),
           *stock = numbers_list(in, "stock", lists), *least = numbers_list(in, "least", lists), *most = numbers_list(in, "most", lists);
    if (!lists->same)
        return fail(why, OUTCOME_USAGE, "All lists must be as long as the list of species, %zu.", lists->n);
    struct mix_species *list = arena_array(arena, lists->n + 1, sizeof *list);
    *wishes = arena_array(arena, lists->n + 1, sizeof **wishes);
    *n_wishes = 0;
    for (size_t i = 0; i < lists->n; i++) {
        int layer = layers[i] == NULL ? 0 : word_find(WORDS_LAYER, layers[i]);
        int role = roles == NULL || roles[i] == NULL ? 0 : word_find(WORDS_ROLE, roles[i]);
        if (names[i] == NULL || layer < 0 || role < 0)
            return fail(why, OUTCOME_USAGE, "Species %zu has no name, or a layer or role that is not one.", i + 1);
        struct mix_species *s = &list[i];
        s->name = names[i];
        s->genus = genus != NULL ? genus[i] : arena_text_n(arena, names[i], strcspn(names[i], " "));
        s->family = family == NULL ? NULL : family[i];
        s->layer = (enum layer)layer;
        s->role = (enum role)role;
        s->tall = at(tall, i, 0) > 0;
        s->fit = at(fit, i, unknown_real());
        s->frequency = at(frequency, i, unknown_real());
        s->price = at(price, i, unknown_real());
        s->stock = whole_at(stock, i);
        s->pests = pests == NULL ? NULL : pests_of(pests[i], arena, &s->n_pests);
        if (whole_at(least, i) != INT_UNKNOWN || whole_at(most, i) != INT_UNKNOWN)
            (*wishes)[(*n_wishes)++] = (struct mix_wish){i, whole_at(least, i), whole_at(most, i), NULL};
    }
    *out = list;
    return OUTCOME_OK;
}

static int64_t whole_of(const json_t *in, const char *name, int64_t otherwise)
{
    double x = calc_number(in, name, unknown_real());
    return is_known(x) && fabs(x) < 1e12 ? (int64_t)floor(x + 0.5) : otherwise;
}

/* Usual wishes that nobody gave. */
static unsigned yields_of(const json_t *in)
{
    static const struct {
        const char *least, *most;
        unsigned part;
    } parts[] = {{"canopy_least", "canopy_most", MIX_PART_CANOPY}, {"subcanopy_least", "subcanopy_most", MIX_PART_SUBCANOPY},
                 {"shrub_least", "shrub_most", MIX_PART_SHRUB},    {"pioneer_least", "pioneer_most", MIX_PART_PIONEER},
                 {"tall_most", "tall_most", MIX_PART_TALL},        {"species_most", "species_most", MIX_PART_SPECIES},
                 {"genus_most", "genus_most", MIX_PART_GENUS},     {"least_each", "least_each", MIX_PART_EACH},
                 {"count_most", "count_most", MIX_PART_COUNT}};
    unsigned yields = 0;
    for (size_t i = 0; i < COUNT(parts); i++)
        if (json_object_get(in, parts[i].least) == NULL && json_object_get(in, parts[i].most) == NULL)
            yields |= parts[i].part;
    return text_same(calc_word(in, "yields", "no"), "yes") ? yields : 0;
}

static enum outcome settings_read(const json_t *in, struct mix_settings *s, struct failure *why)
{
    static const char *const layers[] = {NULL, "canopy", "subcanopy", "shrub"};
    double u = unknown_real();
    int64_t total = whole_of(in, "total", mix_total(calc_number(in, "density_m2", 0), calc_number(in, "area_m2", 0)));
    const char *rules = calc_word(in, "rules", "dense");
    if (json_array_size(json_object_get(in, "plots")) > 0 && total < 1)
        total = 1; /* each plot brings its own */
    bool none = text_same(rules, "none");
    if (!none && !text_same(rules, "dense"))
        return fail(why, OUTCOME_USAGE, "rules is dense or none, not “%.40s”.", rules);
    *s = mix_settings_dense(total);
    for (int l = 0; l < LAYER_COUNT && none; l++)
        s->layer[l] = (struct mix_share){u, u};
    if (none) {
        s->pioneer = (struct mix_share){u, u};
        s->tall_most = s->species_most = s->genus_most = u;
        s->least_each = 1;
        s->count_most = INT_UNKNOWN;
    }
    for (int l = LAYER_CANOPY; l <= LAYER_SHRUB; l++) {
        char name[40];
        snprintf(name, sizeof name, "%s_least", layers[l]);
        s->layer[l].least = calc_number(in, name, s->layer[l].least);
        snprintf(name, sizeof name, "%s_most", layers[l]);
        s->layer[l].most = calc_number(in, name, s->layer[l].most);
    }
    s->pioneer = (struct mix_share){calc_number(in, "pioneer_least", s->pioneer.least), calc_number(in, "pioneer_most", s->pioneer.most)};
    s->tall_most = calc_number(in, "tall_most", s->tall_most);
    s->species_most = calc_number(in, "species_most", s->species_most);
    s->genus_most = calc_number(in, "genus_most", s->genus_most);
    s->family_most = calc_number(in, "family_most", s->family_most);
    s->pest_most = calc_number(in, "pest_most", s->pest_most);
    s->least_each = whole_of(in, "least_each", s->least_each);
    s->count_least = whole_of(in, "count_least", s->count_least);
    s->count_most = whole_of(in, "count_most", s->count_most);
    s->budget = calc_number(in, "budget", s->budget);
    s->weight_target = calc_number(in, "weight_target", s->weight_target);
    s->weight_fit = calc_number(in, "weight_fit", s->weight_fit);
    s->weight_diversity = calc_number(in, "weight_diversity", s->weight_diversity);
    s->weight_price = calc_number(in, "weight_price", s->weight_price);
    s->seconds = calc_number(in, "seconds", s->seconds);
    s->yields = yields_of(in);
    return OUTCOME_OK;
}

static void result_put(const struct mix_result *mix, const struct mix_species *species, size_t n, size_t n_plots, json_t *result)
{
    static const char *const states[] = {"best", "found", "impossible", "nothing"};
    json_t *plants = json_array(), *conflict = json_array(), *relax = json_array(), *together = json_array();
    double total = 0;
    json_t *relaxed = json_array(), *ordered = json_array();
    for (size_t i = 0; i < n * n_plots && mix->plants != NULL; i++) {
        json_array_append_new(plants, json_integer(mix->plants[i]));
        total += (double)mix->plants[i];
        if (mix->plants[i] > 0 && n_plots == 1)
            calc_say(result, "%s: %lld", species[i].name, (long long)mix->plants[i]);
        else if (mix->plants[i] > 0)
            calc_say(result, "plot %zu, %s: %lld", i / n + 1, species[i % n].name, (long long)mix->plants[i]);
    }
    for (size_t i = 0; i < n && mix->ordered != NULL; i++)
        json_array_append_new(ordered, json_integer(mix->ordered[i]));
    for (size_t k = 0; k < mix->n_relaxed; k++) {
        char line[700];
        snprintf(line, sizeof line, "%s: %s", mix->relaxed[k].wish, mix->relaxed[k].to);
        json_array_append_new(relaxed, json_string(line));
        calc_say(result, "gave way: %s", line);
    }
    json_object_set_new(result, "relaxed", relaxed);
    json_object_set_new(result, "ordered", ordered);
    for (size_t k = 0; k < mix->n_conflict; k++) {
        json_array_append_new(conflict, json_string(mix->conflict[k].wish));
        json_array_append_new(relax, json_string(mix->conflict[k].relax));
        calc_say(result, "%s: %s", mix->conflict[k].wish, mix->conflict[k].relax);
    }
    for (size_t k = 0; k < mix->n_together; k++) {
        char line[700];
        snprintf(line, sizeof line, "%s: %s", mix->together[k].wish, mix->together[k].relax);
        json_array_append_new(together, json_string(line));
    }
    json_object_set_new(result, "together", together);
    calc_put_word(result, "state", states[mix->state]);
    json_object_set_new(result, "plants", plants);
    calc_put(result, "total", mix->plants == NULL ? unknown_real() : total);
    calc_put(result, "species_used", mix->plants == NULL ? unknown_real() : (double)mix->species_used);
    calc_put(result, "objective", mix->objective);
    calc_put(result, "gap", mix->gap);
    calc_put(result, "shannon", mix->shannon);
    calc_put(result, "off_target", mix->off_target);
    calc_put(result, "cost", mix->cost);
    json_object_set_new(result, "conflict", conflict);
    json_object_set_new(result, "relax", relax);
    calc_put_word(result, "proof", mix->proof);
    calc_put_word(result, "solver", mix->solver);
}

/* Several plots with the same wishes and one order; the budget is that of the order. */
static enum outcome joint_run(const json_t *in, const struct mix_species *species, size_t n, const struct mix_settings *one,
                              const double *totals, size_t n_plots, struct arena *arena, struct mix_result *mix, struct failure *why)
{
    struct mix_settings *plots = arena_array(arena, n_plots, sizeof *plots);
    int64_t *bundle = arena_array(arena, n + 1, sizeof *bundle), size = whole_of(in, "bundle", 1);
    for (size_t p = 0; p < n_plots; p++) {
        plots[p] = *one;
        plots[p].total = is_known(totals[p]) && totals[p] < 1e12 ? (int64_t)floor(totals[p] + 0.5) : 0;
        plots[p].budget = unknown_real();
    }
    for (size_t i = 0; i < n; i++)
        bundle[i] = size < 1 ? 1 : size;
    struct mix_joint joint = {.plots = plots,
                              .n_plots = n_plots,
                              .bundle = size > 1 ? bundle : NULL,
                              .budget = one->budget,
                              .weight_surplus = 0.2,
                              .seconds = one->seconds};
    return mix_solve_joint(species, n, &joint, arena, NULL, mix, why);
}

static enum outcome solve_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct lists lists = {json_array_size(json_object_get(in, "species")), true, &arena};
    struct mix_species *species = NULL;
    struct mix_settings settings;
    struct mix_wish *wishes = NULL;
    struct mix_result mix;
    size_t n_wishes = 0, n_plots = 0;
    const double *totals = calc_numbers(in, "plots", &arena, &n_plots);
    enum outcome outcome = species_read(in, &lists, &species, &wishes, &n_wishes, why);
    if (outcome == OUTCOME_OK)
        outcome = settings_read(in, &settings, why);
    if (outcome == OUTCOME_OK) {
        settings.wishes = wishes;
        settings.n_wishes = n_wishes;
        outcome = n_plots > 0 ? joint_run(in, species, lists.n, &settings, totals, n_plots, &arena, &mix, why)
                              : mix_solve(species, lists.n, &settings, &arena, NULL, &mix, why);
    }
    if (outcome == OUTCOME_OK)
        result_put(&mix, species, lists.n, n_plots > 0 ? n_plots : 1, result);
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value swap_in[] = {
    {"species", "", CALC_WORDS, true, "names of the mix, and the one that comes"},
    {"layers", "", CALC_WORDS, true, "layer of each"},
    {"plants", "", CALC_NUMBERS, true, "plants of each as planned"},
    {"from", "", CALC_WORD, true, "species that goes"},
    {"to", "", CALC_WORD, true, "species that comes"},
    {"health_stop", "", CALC_WORD, false, "why plant health forbids the one that comes, if it does"},
    {"species_most", "", CALC_NUMBER, false, "greatest share of one species, 0–1"},
    {"genus_most", "", CALC_NUMBER, false, "greatest share of one genus, 0–1"},
    {"approver", "", CALC_WORD, false, "who approves"},
    {"date", "", CALC_WORD, false, "when, such as 2025-11-02"},
};
static const struct calc_value swap_out[] = {
    {"plants", "", CALC_NUMBERS, true, "of each afterwards"},
    {"share", "", CALC_NUMBER, true, "share of the one that comes, 0–1"},
    {"moved", "", CALC_NUMBER, true, "plants of other species that change as well"},
    {"stopped", "", CALC_WORD, true, "yes or no"},
    {"checks", "", CALC_WORDS, true, "what was checked"},
    {"needs", "", CALC_WORD, true, "what is missing before it may be accepted; null nothing"},
};

static enum outcome swap_run(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct lists lists = {json_array_size(json_object_get(in, "species")), true, &arena};
    const char **names = words_list(in, "species", &lists), **layers = words_list(in, "layers", &lists), *from = calc_word(in, "from", ""),
               *to = calc_word(in, "to", ""), *day = calc_word(in, "date", NULL);
    double *counts = numbers_list(in, "plants", &lists);
    int32_t date = DATE_UNKNOWN;
    if (!lists.same || (day != NULL && !date_read(day, &date))) {
        arena_clear(&arena);
        return fail(why, OUTCOME_USAGE,
                    lists.same ? "The date must be a day such as 2025-11-02." : "species, layers and plants must be of one length.");
    }
    size_t n = lists.n, a = SIZE_MAX, b = SIZE_MAX;
    double u = unknown_real(), total = 0;
    struct mix_species *list = arena_array(&arena, n + 1, sizeof *list);
    int64_t *plants = arena_array(&arena, n + 1, sizeof *plants);
    for (size_t i = 0; i < n; i++) {
        int layer = layers[i] == NULL ? 0 : word_find(WORDS_LAYER, layers[i]);
        const char *name = names[i] == NULL ? "" : names[i];
        list[i] = (struct mix_species){.name = name,
                                       .genus = arena_text_n(&arena, name, strcspn(name, " ")),
                                       .layer = (enum layer)(layer < 0 ? 0 : layer),
                                       .fit = u,
                                       .frequency = u,
                                       .price = u,
                                       .stock = INT_UNKNOWN};
        plants[i] = is_known(counts[i]) ? (int64_t)floor(counts[i]) : 0;
        total += (double)plants[i];
        a = strcmp(name, from) == 0 ? i : a;
        b = strcmp(name, to) == 0 ? i : b;
    }
    struct mix_settings s = mix_settings_dense((int64_t)total);
    for (int l = 0; l < LAYER_COUNT; l++)
        s.layer[l] = (struct mix_share){u, u};
    s.pioneer = (struct mix_share){u, u};
    s.tall_most = u;
    s.least_each = 1;
    s.count_most = INT_UNKNOWN;
    s.species_most = calc_number(in, "species_most", u);
    s.genus_most = calc_number(in, "genus_most", u);
    struct mix_substitution out;
    if (b != SIZE_MAX)
        list[b].health_stop = calc_word(in, "health_stop", NULL);
    enum outcome outcome = mix_substitute(list, n, &s, plants, a, b, calc_word(in, "approver", NULL), date, &arena, &out, why);
    if (outcome == OUTCOME_OK) {
        json_t *after = json_array(), *checks = json_array();
        for (size_t i = 0; i < n; i++)
            json_array_append_new(after, json_integer(out.plants[i]));
        for (size_t k = 0; k < out.n_checks; k++)
            json_array_append_new(checks, json_string(out.checks[k].sentence));
        json_object_set_new(result, "plants", after);
        calc_put(result, "share", (double)out.plants[b] / total);
        calc_put(result, "moved", (double)out.moved);
        calc_put_word(result, "stopped", out.stopped ? "yes" : "no");
        json_object_set_new(result, "checks", checks);
        if (out.needs == NULL)
            json_object_set_new(result, "needs", json_null());
        else
            calc_put_word(result, "needs", out.needs);
    }
    arena_clear(&arena);
    return outcome;
}

static const struct calc_value total_in[] = {
    {"density_m2", "1/m2", CALC_NUMBER, true, "plants per square metre"},
    {"area_m2", "m2", CALC_NUMBER, true, "net area"},
};
static const struct calc_value total_out[] = {{"total", "", CALC_NUMBER, true, "plants, to the nearest whole one"}};
static enum outcome total_run(const json_t *in, json_t *result, struct failure *why)
{
    (void)why;
    calc_put(result, "total", (double)mix_total(calc_number(in, "density_m2", 0), calc_number(in, "area_m2", 0)));
    return OUTCOME_OK;
}

#define CALC(name, title, source, run)                                                                                                     \
    {                                                                                                                                      \
#name, title, source, run##_in, COUNT(run##_in), run##_out, COUNT(run##_out), run##_run                                            \
    }

const struct calc calc_mix[] = {
    CALC(mix_solve, "Whole numbers of plants of each species",
         "mixed-integer programme, docs/methods/mix.md; default shares common practice, no source", solve),
    CALC(mix_substitute, "A species in place of another, and what it would change", "docs/methods/mix.md", swap),
    CALC(mix_total, "Plants for an area at a density", "density × area", total),
    {0},
};
