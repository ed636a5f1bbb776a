/* SPDX-License-Identifier: GPL-3.0-or-later
 * mix/: answers against exhaustive enumeration, against a second solver, against the wishes; conflicts against brute force. */
#include "mix/mix.h"
#include "../testlib.h"

static struct arena arena;
static int tear_down(void **state)
{
    (void)state;
    arena_clear(&arena);
    return 0;
}

static struct mix_species plain(size_t number, enum layer layer)
{
    return (struct mix_species){.name = arena_print(&arena, "Genus%zu species%zu", number / 2, number),
                                .genus = arena_print(&arena, "Genus%zu", number / 2),
                                .family = arena_print(&arena, "Family%zu", number / 5),
                                .layer = layer,
                                .role = ROLE_MID,
                                .fit = unknown_real(),
                                .frequency = unknown_real(),
                                .price = unknown_real(),
                                .stock = INT_UNKNOWN};
}
static struct mix_settings open_settings(int64_t total)
{
    double u = unknown_real();
    struct mix_settings s = mix_settings_dense(total);
    for (int l = 0; l < LAYER_COUNT; l++)
        s.layer[l] = (struct mix_share){u, u};
    s.pioneer = (struct mix_share){u, u};
    s.tall_most = s.species_most = s.genus_most = s.family_most = s.pest_most = u;
    s.least_each = 1;
    s.count_most = INT_UNKNOWN;
    return s;
}
/* A list like a nursery's: layers, roles, pests, prices in turn, drawn from a seed. */
static struct mix_species *list_make(size_t n, uint64_t seed)
{
    static const enum layer layers[] = {LAYER_CANOPY, LAYER_SUBCANOPY, LAYER_SHRUB};
    static const char *const pests[] = {"Pest alpha", "Pest beta", "Pest gamma"};
    struct random_stream r = random_make(seed, 1);
    struct mix_species *list = arena_array(&arena, n, sizeof *list);
    for (size_t i = 0; i < n; i++) {
        list[i] = plain(i, layers[random_below(&r, 3)]);
        list[i].role = (enum role)(1 + random_below(&r, 3));
        list[i].tall = list[i].layer == LAYER_CANOPY && random_below(&r, 2) == 0;
        list[i].fit = random_uniform(&r);
        list[i].frequency = (double)random_below(&r, 6) / 10;
        list[i].price = 0.5 + random_uniform(&r);
        list[i].pests = &pests[random_below(&r, 3)];
        list[i].n_pests = random_below(&r, 2);
    }
    return list;
}
static struct mix_result solve(const struct mix_species *list, size_t n, const struct mix_settings *settings)
{
    struct mix_result out;
    struct failure why = {0};
    enum outcome outcome = mix_solve(list, n, settings, &arena, NULL, &out, &why);
    if (outcome != OUTCOME_OK)
        fail_msg("%s", why.sentence);
    return out;
}

/* F14 */
static void ten_by_ten_at_three_gives_exactly_300_with_shares_kept(void **state)
{
    (void)state;
    assert_int_equal(mix_total(3, 100), 300);
    struct mix_species *list = list_make(40, 7);
    struct mix_settings settings = mix_settings_dense(mix_total(3, 100));
    /* shares that do not come out even: a third, within one plant */
    settings.layer[LAYER_CANOPY] = (struct mix_share){1.0 / 3, 1.0 / 3};
    settings.layer[LAYER_SUBCANOPY] = (struct mix_share){0.3333, 0.3333};
    settings.layer[LAYER_SHRUB] = (struct mix_share){unknown_real(), unknown_real()};
    struct mix_result mix = solve(list, 40, &settings);
    assert_int_equal(mix.state, MIX_BEST);
    int64_t sum = 0, layer[LAYER_COUNT] = {0}, pioneers = 0, tall = 0;
    for (size_t i = 0; i < 40; i++) {
        assert_true(mix.plants[i] == 0 || (mix.plants[i] >= 10 && mix.plants[i] <= 45));
        sum += mix.plants[i];
        layer[list[i].layer] += mix.plants[i];
        pioneers += list[i].role == ROLE_PIONEER ? mix.plants[i] : 0;
        tall += list[i].tall ? mix.plants[i] : 0;
    }
    assert_int_equal(sum, 300);
    assert_true(llabs(layer[LAYER_CANOPY] - 100) <= 1);
    assert_true(llabs(layer[LAYER_SUBCANOPY] - 100) <= 1);
    assert_in_range(pioneers, 45, 90);
    assert_true(tall <= 60);
}

/* F14: 26 species at no more than 2 % make 156 of 300. */
static void twenty_six_species_at_two_per_cent_are_impossible_and_it_says_why(void **state)
{
    (void)state;
    struct mix_species *list = list_make(26, 3);
    struct mix_settings settings = open_settings(300);
    settings.species_most = 0.02;
    struct mix_result mix = solve(list, 26, &settings);
    assert_int_equal(mix.state, MIX_IMPOSSIBLE);
    assert_int_equal(mix.n_conflict, 1);
    assert_true(mix.conflict_smallest);
    assert_near(mix.conflict[0].asked, 6, 0);
    assert_near(mix.conflict[0].enough, 12, 0); /* 26 × 12 = 312, 26 × 11 = 286 */
    assert_non_null(strstr(mix.conflict[0].wish, "no species over 6 plants (2 % of 300)"));
    assert_non_null(strstr(mix.conflict[0].relax, "12 plants (4 % of 300)"));
    assert_non_null(strstr(mix.conflict[0].relax, "at least 50"));
    /* beside other wishes the cause is still that one alone */
    struct mix_settings dense = mix_settings_dense(300);
    dense.species_most = 0.02;
    dense.least_each = 1;
    mix = solve(list, 26, &dense);
    assert_int_equal(mix.state, MIX_IMPOSSIBLE);
    assert_int_equal(mix.n_conflict, 1);
    assert_non_null(strstr(mix.proof, "no species over"));
}

static void an_avoided_species_stays_out_and_a_fixed_one_stays_fixed(void **state)
{
    (void)state;
    struct mix_species *list = list_make(30, 11);
    struct mix_wish wishes[] = {{3, INT_UNKNOWN, 0, "toxic, beside a play area"}, {4, 3, 3, "specimens given"}, {5, 20, INT_UNKNOWN, NULL}};
    struct mix_settings settings = open_settings(300);
    settings.least_each = 10;
    settings.wishes = wishes;
    settings.n_wishes = 3;
    struct mix_result mix = solve(list, 30, &settings);
    assert_int_equal(mix.plants[3], 0);
    assert_int_equal(mix.plants[4], 3); /* asked for by name: the least count gives way */
    assert_true(mix.plants[5] >= 20);
    list[5].health_stop = "an epidemic";
    mix = solve(list, 30, &settings);
    assert_int_equal(mix.state, MIX_IMPOSSIBLE);
    assert_int_equal(mix.n_conflict, 1);
    assert_non_null(strstr(mix.conflict[0].wish, list[5].name));
}

/* ---- exhaustive enumeration ---- */

struct walk {
    const struct mix_species *list;
    size_t n;
    const struct mix_settings *s;
    const double *target;
    int64_t counts[8];
    double best;
    long met;
};
static int64_t most_of(double share, int64_t total)
{
    return is_known(share) ? (int64_t)floor(share * (double)total + 1e-9) : total;
}
static bool allowed(const struct walk *w)
{
    int64_t layer[LAYER_COUNT] = {0}, pioneers = 0, tall = 0, used = 0;
    double money = 0;
    for (size_t i = 0; i < w->n; i++) {
        const struct mix_species *a = &w->list[i];
        int64_t n = w->counts[i], genus = 0, family = 0, pest = 0;
        layer[a->layer] += n;
        pioneers += a->role == ROLE_PIONEER ? n : 0;
        tall += a->tall ? n : 0;
        used += n > 0;
        money += (double)n * a->price;
        for (size_t k = 0; k < w->n; k++) {
            genus += strcmp(w->list[k].genus, a->genus) == 0 ? w->counts[k] : 0;
            family += strcmp(w->list[k].family, a->family) == 0 ? w->counts[k] : 0;
            pest += a->n_pests > 0 && w->list[k].n_pests > 0 && strcmp(w->list[k].pests[0], a->pests[0]) == 0 ? w->counts[k] : 0;
        }
        if ((n > 0 && n < w->s->least_each) || n > most_of(w->s->species_most, w->s->total) ||
            genus > most_of(w->s->genus_most, w->s->total) || family > most_of(w->s->family_most, w->s->total) ||
            pest > most_of(w->s->pest_most, w->s->total))
            return false;
        if (a->stock != INT_UNKNOWN && n > a->stock)
            return false;
    }
    for (int l = 0; l < LAYER_COUNT; l++) {
        struct mix_share share = w->s->layer[l];
        if ((is_known(share.least) && (double)layer[l] < ceil(share.least * (double)w->s->total - 1e-9)) ||
            layer[l] > most_of(share.most, w->s->total))
            return false;
    }
    return tall <= most_of(w->s->tall_most, w->s->total) && pioneers <= most_of(w->s->pioneer.most, w->s->total) &&
           (!is_known(w->s->pioneer.least) || (double)pioneers >= ceil(w->s->pioneer.least * (double)w->s->total - 1e-9)) &&
           (w->s->count_least == INT_UNKNOWN || used >= w->s->count_least) &&
           (w->s->count_most == INT_UNKNOWN || used <= w->s->count_most) && (!is_known(w->s->budget) || money <= w->s->budget + 1e-9);
}
static double value(const struct walk *w)
{
    double sum = 0;
    for (size_t i = 0; i < w->n; i++) {
        double n = (double)w->counts[i];
        if (is_known(w->target[i]))
            sum += w->s->weight_target * fabs(n - w->target[i]);
        sum += (w->s->weight_price * w->list[i].price - w->s->weight_fit * w->list[i].fit) * n;
        if (n > 0)
            sum += w->s->weight_diversity * n * log(n / (double)w->s->total);
    }
    return sum;
}
static void walk_all(struct walk *w, size_t i, int64_t left)
{
    if (i + 1 == w->n) {
        w->counts[i] = left;
        if (allowed(w)) {
            w->met++;
            double v = value(w);
            if (v < w->best)
                w->best = v;
        }
        return;
    }
    for (int64_t k = 0; k <= left; k++) {
        w->counts[i] = k;
        walk_all(w, i + 1, left - k);
    }
}
/* The composition aimed at, straight from the definition: layer middles, then frequency within the layer. */
static void target_of(struct walk *w, double *target)
{
    double weight[LAYER_COUNT] = {0}, all = 0, shares = 0;
    bool open = false;
    for (size_t i = 0; i < w->n; i++) {
        weight[w->list[i].layer] += w->list[i].frequency;
        all += w->list[i].frequency;
    }
    double middle[LAYER_COUNT] = {0};
    for (int l = 0; l < LAYER_COUNT; l++)
        if (weight[l] > 0) {
            struct mix_share s = w->s->layer[l];
            if (!is_known(s.least) && !is_known(s.most))
                open = true;
            else
                middle[l] = ((is_known(s.least) ? s.least : 0) + (is_known(s.most) ? s.most : 1)) / 2;
            shares += middle[l];
        }
    for (size_t i = 0; i < w->n; i++) {
        enum layer l = w->list[i].layer;
        target[i] = all <= 0                    ? unknown_real()
                    : w->list[i].frequency <= 0 ? 0
                    : open || shares <= 0       ? (double)w->s->total * w->list[i].frequency / all
                                                : (double)w->s->total * middle[l] / shares * w->list[i].frequency / weight[l];
    }
    w->target = target;
}

/* 250 random small cases: the answer is as good as the best of all mixes there are, and "impossible" exactly where there is
 * none. Totals stay below the step at which the diversity term is drawn in straight pieces, so that both are exact. */
static void small_mixes_agree_with_all_mixes_there_are(void **state)
{
    (void)state;
    struct random_stream r = random_make(20261125, 3);
    int impossible = 0;
    for (int round = 0; round < 250; round++) {
        size_t n = 3 + random_below(&r, 3);
        struct mix_species *list = list_make(n, 1000 + (uint64_t)round);
        struct mix_settings s = open_settings(6 + (int64_t)random_below(&r, 4));
        if (random_below(&r, 2) == 0)
            s.layer[LAYER_CANOPY] = (struct mix_share){0.1 * (double)random_below(&r, 4), 0.5 + 0.1 * (double)random_below(&r, 4)};
        if (random_below(&r, 3) == 0)
            s.layer[LAYER_SHRUB] = (struct mix_share){0.1 * (double)random_below(&r, 5), unknown_real()};
        if (random_below(&r, 2) == 0)
            s.species_most = 0.3 + 0.1 * (double)random_below(&r, 5);
        if (random_below(&r, 3) == 0)
            s.genus_most = 0.5;
        if (random_below(&r, 3) == 0)
            s.family_most = 0.7;
        if (random_below(&r, 3) == 0)
            s.pest_most = 0.4;
        if (random_below(&r, 3) == 0)
            s.tall_most = 0.3;
        if (random_below(&r, 3) == 0)
            s.pioneer = (struct mix_share){0.2, 0.6};
        if (random_below(&r, 2) == 0)
            s.least_each = 1 + (int64_t)random_below(&r, 3);
        if (random_below(&r, 3) == 0)
            s.count_least = 2 + (int64_t)random_below(&r, 3);
        if (random_below(&r, 3) == 0)
            s.count_most = 2 + (int64_t)random_below(&r, 2);
        if (random_below(&r, 4) == 0)
            s.budget = 0.9 * (double)s.total;
        if (random_below(&r, 4) == 0)
            list[0].stock = 1 + (int64_t)random_below(&r, 2);
        s.weight_diversity = random_below(&r, 2) == 0 ? 0 : 1.5 * random_uniform(&r);
        s.weight_price = random_uniform(&r);
        double target[8];
        struct walk w = {.list = list, .n = n, .s = &s, .best = HUGE_VAL};
        target_of(&w, target);
        walk_all(&w, 0, s.total);
        struct mix_result mix = solve(list, n, &s);
        if (w.met == 0) {
            impossible++;
            if (mix.state != MIX_IMPOSSIBLE)
                fail_msg("round %d: there is no mix, but one was given", round);
            continue;
        }
        if (mix.state != MIX_BEST)
            fail_msg("round %d: %ld mixes exist, but: %s", round, w.met, mix.proof);
        assert_near(mix.objective, w.best, 1e-7);
        assert_near(mix.bound, w.best, 1e-6);
        memcpy(w.counts, mix.plants, n * sizeof *mix.plants);
        assert_true(allowed(&w));
        assert_near(value(&w), w.best, 1e-7);
    }
    assert_true(impossible > 10 && impossible < 200);
}

/* ---- the second solver ---- */

static bool cbc_value(const char *mps, double *out)
{
    char path[] = "/tmp/spinney-mix-XXXXXX", command[200], line[400];
    int fd = mkstemp(path);
    if (fd < 0)
        return false;
    bool good = write(fd, mps, strlen(mps)) == (ssize_t)strlen(mps), found = false;
    close(fd);
    snprintf(command, sizeof command, "cbc %s -sec 60 -solve -quit 2>/dev/null", path);
    FILE *pipe = good ? popen(command, "r") : NULL;
    while (pipe != NULL && fgets(line, sizeof line, pipe) != NULL)
        if (strncmp(line, "Objective value:", 16) == 0)
            found = sscanf(line + 16, "%lf", out) == 1;
    if (pipe != NULL)
        pclose(pipe);
    unlink(path);
    return found;
}
static void large_mixes_agree_with_a_second_solver(void **state)
{
    (void)state;
    if (system("command -v cbc >/dev/null 2>&1") != 0)
        skip();
    for (uint64_t seed = 1; seed <= 6; seed++) {
        size_t n = 40 + 16 * (size_t)seed;
        struct mix_species *list = list_make(n, seed);
        struct mix_settings settings = mix_settings_dense(300 + 37 * (int64_t)seed);
        settings.family_most = seed % 2 == 0 ? 0.3 : unknown_real();
        settings.pest_most = 0.5;
        settings.weight_diversity = 0.3 * (double)(seed % 3);
        settings.count_least = 15;
        struct mix_result mix = solve(list, n, &settings);
        assert_int_equal(mix.state, MIX_BEST);
        char *mps = NULL;
        struct failure why = {0};
        assert_int_equal(mix_write_mps(list, n, &settings, &arena, &mps, &why), OUTCOME_OK);
        double other = 0;
        assert_true(cbc_value(mps, &other));
        /* cbc prints eight decimals; both stop within 1e-6 of whole numbers */
        assert_near(mix.objective, other, 1e-5);
    }
}

/* ---- conflicts ---- */

/* With few wishes all their subsets can be tried: no smaller conflict than the one named exists. */
static void the_named_conflict_is_a_smallest_one(void **state)
{
    (void)state;
    struct mix_species list[4];
    for (size_t i = 0; i < 4; i++)
        list[i] = plain(2 * i, i < 2 ? LAYER_CANOPY : LAYER_SHRUB);
    struct mix_wish wishes[] = {
        {0, 30, INT_UNKNOWN, NULL}, {1, 30, INT_UNKNOWN, NULL}, {2, 30, INT_UNKNOWN, NULL}, {3, 30, INT_UNKNOWN, NULL}};
    struct mix_settings s = open_settings(100);
    s.wishes = wishes;
    s.n_wishes = 4;
    s.layer[LAYER_CANOPY] = (struct mix_share){unknown_real(), 0.25};
    /* four times 30 of 100 conflict (four wishes); 30 of the canopy against its 25 % conflict already as two */
    struct mix_result mix = solve(list, 4, &s);
    assert_int_equal(mix.state, MIX_IMPOSSIBLE);
    assert_int_equal(mix.n_conflict, 2);
    assert_true(mix.conflict_smallest);
    for (size_t k = 0; k < 2; k++)
        assert_false(is_known(mix.conflict[k].enough)); /* four times 30 would still be too many */
    s.layer[LAYER_CANOPY] = (struct mix_share){unknown_real(), unknown_real()};
    mix = solve(list, 4, &s);
    assert_int_equal(mix.n_conflict, 4);
    for (size_t k = 0; k < 4; k++)
        assert_near(mix.conflict[k].enough, 10, 0);
}

/* What the message promises: with the figure it names, there is a mix; with one plant less, there is none. */
static void relaxing_by_what_is_said_is_just_enough(void **state)
{
    (void)state;
    struct mix_species *list = list_make(20, 5);
    struct mix_settings s = open_settings(200);
    s.layer[LAYER_CANOPY] = (struct mix_share){0.5, unknown_real()};
    s.tall_most = 0.05;
    s.species_most = 0.06;
    struct mix_result mix = solve(list, 20, &s);
    assert_int_equal(mix.state, MIX_IMPOSSIBLE);
    assert_true(mix.n_conflict >= 2);
    int tried = 0;
    for (size_t k = 0; k < mix.n_conflict; k++) {
        if (!is_known(mix.conflict[k].enough) || strstr(mix.conflict[k].wish, "canopy at least") == NULL)
            continue;
        struct mix_settings again = s;
        again.layer[LAYER_CANOPY].least = mix.conflict[k].enough / 200;
        assert_int_equal(solve(list, 20, &again).state, MIX_BEST);
        again.layer[LAYER_CANOPY].least = (mix.conflict[k].enough + 1) / 200;
        assert_int_equal(solve(list, 20, &again).state, MIX_IMPOSSIBLE);
        tried++;
    }
    assert_int_equal(tried, 1);
}

/* Two troubles at once: no single change is enough, but the changes named together are, and none of them goes further than it must. */
static void changes_named_together_are_enough_and_no_more(void **state)
{
    (void)state;
    struct mix_species list[6];
    for (size_t i = 0; i < 6; i++)
        list[i] = plain(2 * i, i < 2 ? LAYER_CANOPY : LAYER_SHRUB);
    struct mix_settings s = open_settings(100);
    s.layer[LAYER_CANOPY] = (struct mix_share){0.5, unknown_real()};
    s.layer[LAYER_SUBCANOPY] = (struct mix_share){0.2, unknown_real()}; /* there is none on the list */
    s.species_most = 0.15;
    struct mix_result mix = solve(list, 6, &s);
    assert_int_equal(mix.state, MIX_IMPOSSIBLE);
    assert_true(mix.n_together >= 2);
    for (int less = -1; less < (int)mix.n_together; less++) {
        struct mix_settings again = s;
        for (size_t k = 0; k < mix.n_together; k++) {
            const char *wish = mix.together[k].wish;
            double enough = mix.together[k].enough;
            bool cap = strstr(wish, "no species over") != NULL;
            if ((int)k == less)
                enough += cap ? -1 : 1; /* one plant short of what was said */
            if (cap)
                again.species_most = enough / 100;
            else if (strstr(wish, "sub-canopy") != NULL)
                again.layer[LAYER_SUBCANOPY].least = enough / 100;
            else if (strstr(wish, "canopy at least") != NULL)
                again.layer[LAYER_CANOPY].least = enough / 100;
            else
                fail_msg("unlooked for: %s", wish);
        }
        assert_int_equal(solve(list, 6, &again).state, less < 0 ? MIX_BEST : MIX_IMPOSSIBLE);
    }
}

/* ---- relations that must hold ---- */

static void turning_the_list_round_changes_the_value_of_nothing(void **state)
{
    (void)state;
    struct mix_species *list = list_make(50, 9), turned[50];
    for (size_t i = 0; i < 50; i++)
        turned[i] = list[49 - i];
    struct mix_settings s = mix_settings_dense(400);
    struct mix_result a = solve(list, 50, &s), b = solve(turned, 50, &s), c = solve(list, 50, &s);
    assert_near(a.objective, b.objective, 1e-6);
    assert_memory_equal(a.plants, c.plants, 50 * sizeof *a.plants);
}
static void one_wish_more_never_makes_it_better(void **state)
{
    (void)state;
    struct mix_species *list = list_make(60, 13);
    struct mix_settings s = open_settings(300);
    double last = solve(list, 60, &s).objective;
    s.species_most = 0.1;
    double now = solve(list, 60, &s).objective;
    assert_true(now >= last - 1e-6);
    last = now;
    s.least_each = 10;
    now = solve(list, 60, &s).objective;
    assert_true(now >= last - 1e-6);
    last = now;
    s.pioneer = (struct mix_share){0.15, 0.3};
    now = solve(list, 60, &s).objective;
    assert_true(now >= last - 1e-6);
}
static void more_weight_on_diversity_gives_more_of_it(void **state)
{
    (void)state;
    struct mix_species *list = list_make(40, 17);
    struct mix_settings s = mix_settings_dense(300);
    s.weight_diversity = 0;
    double without = solve(list, 40, &s).shannon;
    s.weight_diversity = 3;
    double with = solve(list, 40, &s).shannon;
    assert_true(with >= without - 1e-9);
    s.weight_target = s.weight_fit = 0;
    assert_true(solve(list, 40, &s).shannon >= with - 0.01);
}

/* F17 */
static void ash_for_lime_is_stopped_and_hornbeam_for_lime_passes(void **state)
{
    (void)state;
    struct mix_species list[6];
    static const char *const names[] = {"Tilia cordata",    "Carpinus betulus",   "Quercus robur",
                                        "Corylus avellana", "Crataegus monogyna", "Fraxinus excelsior"};
    static const enum layer layers[] = {LAYER_CANOPY, LAYER_CANOPY, LAYER_CANOPY, LAYER_SHRUB, LAYER_SHRUB, LAYER_CANOPY};
    for (size_t i = 0; i < 6; i++) {
        list[i] = plain(2 * i, layers[i]);
        list[i].name = names[i];
    }
    list[5].health_stop = "ash dieback";
    int64_t plants[] = {15, 12, 90, 93, 90, 0};
    struct mix_settings s = open_settings(300);
    s.species_most = 0.35;
    s.genus_most = 0.35;
    struct mix_substitution out;
    struct failure why = {0};
    assert_int_equal(mix_substitute(list, 6, &s, plants, 0, 5, "V001", 20000, &arena, &out, &why), OUTCOME_OK);
    assert_true(out.stopped);
    bool layer_good = false;
    for (size_t k = 0; k < out.n_checks; k++) {
        layer_good |= out.checks[k].state == CHECK_PASS && strstr(out.checks[k].sentence, "Layer") != NULL;
        if (out.checks[k].state == CHECK_STOP)
            assert_non_null(strstr(out.checks[k].sentence, "plant health"));
    }
    assert_true(layer_good);
    assert_int_equal(mix_substitute(list, 6, &s, plants, 0, 1, NULL, DATE_UNKNOWN, &arena, &out, &why), OUTCOME_OK);
    assert_false(out.stopped);
    assert_int_equal(out.plants[1], 27);
    assert_int_equal(out.plants[0], 0);
    assert_int_equal(out.moved, 0);
    bool share = false;
    for (size_t k = 0; k < out.n_checks; k++)
        share |= out.checks[k].state == CHECK_PASS && strstr(out.checks[k].sentence, "rises to 9 %") != NULL;
    assert_true(share);
    assert_non_null(out.needs); /* approver and date */
    /* a cap in the way: the rest moves as little as it can */
    s.species_most = 0.33; /* 99 plants */
    int64_t other[] = {15, 90, 90, 93, 12, 0};
    assert_int_equal(mix_substitute(list, 6, &s, other, 0, 1, "V001", 20000, &arena, &out, &why), OUTCOME_OK);
    assert_int_equal(out.plants[1], 99);
    assert_int_equal(out.moved, 6);
    assert_null(out.needs);
}

/* ---- several plots ---- */

static void plots_share_stock_and_bundles(void **state)
{
    (void)state;
    struct mix_species *list = list_make(24, 21);
    struct mix_settings plots[3];
    int64_t bundle[24];
    for (size_t i = 0; i < 24; i++)
        bundle[i] = 25;
    list[2].stock = 50;
    list[3].stock = 60; /* two bundles of 25 only */
    for (size_t p = 0; p < 3; p++) {
        plots[p] = open_settings(100 + 30 * (int64_t)p);
        plots[p].species_most = 0.15;
        plots[p].least_each = 5;
        plots[p].gap = 0.01;
    }
    struct mix_joint joint = {
        .plots = plots, .n_plots = 3, .bundle = bundle, .budget = unknown_real(), .weight_surplus = 0.2, .seconds = 20};
    struct mix_result out;
    struct failure why = {0};
    assert_int_equal(mix_solve_joint(list, 24, &joint, &arena, NULL, &out, &why), OUTCOME_OK);
    assert_true(out.state == MIX_BEST || out.state == MIX_FOUND);
    for (size_t p = 0; p < 3; p++) {
        int64_t sum = 0;
        for (size_t i = 0; i < 24; i++)
            sum += out.plants[p * 24 + i];
        assert_int_equal(sum, plots[p].total);
    }
    for (size_t i = 0; i < 24; i++) {
        int64_t planted = out.plants[i] + out.plants[24 + i] + out.plants[48 + i];
        assert_true(out.ordered[i] % 25 == 0 && out.ordered[i] >= planted && out.ordered[i] - planted < 25);
    }
    assert_true(out.ordered[2] <= 50 && out.ordered[3] <= 50);
    assert_true(out.bound <= out.objective + 1e-9);
}
/* Large enough to go to cbc where that is installed; cut short, so that the bound matters. */
static void a_large_joint_order_holds_every_rule_and_knows_its_gap(void **state)
{
    (void)state;
    enum { N = 60, PLOTS = 4 };
    struct mix_species *list = list_make(N, 31);
    struct mix_settings plots[PLOTS];
    int64_t bundle[N];
    for (size_t i = 0; i < N; i++) {
        bundle[i] = 25;
        list[i].stock = 75 + 25 * (int64_t)(i % 5);
    }
    for (size_t p = 0; p < PLOTS; p++)
        plots[p] = mix_settings_dense(200 + 20 * (int64_t)p);
    struct mix_joint joint = {.plots = plots, .n_plots = PLOTS, .bundle = bundle, .budget = 1500, .weight_surplus = 0.2, .seconds = 3};
    struct mix_result out;
    struct failure why = {0};
    assert_int_equal(mix_solve_joint(list, N, &joint, &arena, NULL, &out, &why), OUTCOME_OK);
    assert_true(out.state == MIX_BEST || out.state == MIX_FOUND);
    if (system("command -v cbc >/dev/null 2>&1") == 0)
        assert_non_null(strstr(out.solver, "cbc"));
    double money = 0;
    for (size_t i = 0; i < N; i++) {
        int64_t planted = 0;
        for (size_t p = 0; p < PLOTS; p++)
            planted += out.plants[p * N + i];
        assert_true(out.ordered[i] % 25 == 0 && out.ordered[i] >= planted && out.ordered[i] <= list[i].stock);
        money += (double)out.ordered[i] * list[i].price;
    }
    assert_true(money <= 1500 + 1e-6);
    for (size_t p = 0; p < PLOTS; p++) {
        int64_t sum = 0, layer[LAYER_COUNT] = {0};
        for (size_t i = 0; i < N; i++) {
            int64_t n = out.plants[p * N + i];
            sum += n;
            layer[list[i].layer] += n;
            assert_true(n == 0 || (n >= 10 && (double)n <= 0.15 * (double)plots[p].total));
        }
        assert_int_equal(sum, plots[p].total);
        assert_true((double)layer[LAYER_CANOPY] >= 0.35 * (double)sum && (double)layer[LAYER_CANOPY] <= 0.5 * (double)sum);
    }
    assert_true(out.bound <= out.objective && out.gap >= 0 && out.gap < 0.2);
}

/* Without anything shared, plots together are as good as each by itself. */
static void plots_that_share_nothing_are_as_good_as_each_alone(void **state)
{
    (void)state;
    struct mix_species *list = list_make(30, 23);
    struct mix_settings plots[3];
    double alone = 0;
    for (size_t p = 0; p < 3; p++) {
        plots[p] = mix_settings_dense(200 + 50 * (int64_t)p);
        alone += solve(list, 30, &plots[p]).objective;
    }
    struct mix_joint joint = {.plots = plots, .n_plots = 3, .budget = unknown_real(), .weight_surplus = unknown_real(), .seconds = 30};
    struct mix_result out;
    struct failure why = {0};
    assert_int_equal(mix_solve_joint(list, 30, &joint, &arena, NULL, &out, &why), OUTCOME_OK);
    assert_int_equal(out.state, MIX_BEST);
    assert_near(out.objective, alone, 1e-5);
}

/* Plots that follow different communities on different ground: each still gets its own best, and nothing that does not belong there. */
static void plots_of_different_communities_keep_what_belongs_to_each(void **state)
{
    (void)state;
    enum { N = 30, P = 3 };
    struct mix_species *list = list_make(N, 29);
    struct mix_settings plots[P];
    struct random_stream r = random_make(5, 5);
    double frequency[P * N], fit[P * N], alone = 0;
    bool absent[P * N];
    for (size_t p = 0; p < P; p++) {
        struct mix_species own[N];
        size_t n = 0;
        plots[p] = mix_settings_dense(200 + 50 * (int64_t)p);
        plots[p].pioneer = plots[p].layer[LAYER_CANOPY] = (struct mix_share){unknown_real(), unknown_real()};
        for (size_t i = 0; i < N; i++) {
            frequency[p * N + i] = (double)random_below(&r, 6);
            fit[p * N + i] = random_uniform(&r);
            absent[p * N + i] = random_below(&r, 5) == 0;
            own[n] = list[i];
            own[n].frequency = frequency[p * N + i];
            own[n].fit = fit[p * N + i];
            n += !absent[p * N + i];
        }
        /* what a species that stays away costs: its distance from nothing */
        struct mix_result one = solve(own, n, &plots[p]);
        assert_int_equal(one.state, MIX_BEST);
        alone += one.objective;
        for (size_t i = 0; i < N; i++)
            frequency[p * N + i] = absent[p * N + i] ? unknown_real() : frequency[p * N + i];
    }
    struct mix_joint joint = {.plots = plots,
                              .n_plots = P,
                              .budget = unknown_real(),
                              .weight_surplus = unknown_real(),
                              .seconds = 30,
                              .frequency = frequency,
                              .fit = fit,
                              .absent = absent};
    struct mix_result out;
    struct failure why = {0};
    assert_int_equal(mix_solve_joint(list, N, &joint, &arena, NULL, &out, &why), OUTCOME_OK);
    assert_int_equal(out.state, MIX_BEST);
    assert_near(out.objective, alone, 1e-5);
    for (size_t k = 0; k < P * N; k++)
        assert_true(!absent[k] || out.plants[k] == 0);
}

static void wrong_input_is_refused_in_words(void **state)
{
    (void)state;
    struct mix_species *list = list_make(5, 2);
    struct mix_settings s = open_settings(0);
    struct mix_result out;
    struct failure why = {0};
    assert_int_equal(mix_solve(list, 5, &s, &arena, NULL, &out, &why), OUTCOME_USAGE);
    s = open_settings(50);
    s.species_most = 15; /* per cent for a share */
    assert_int_equal(mix_solve(list, 5, &s, &arena, NULL, &out, &why), OUTCOME_USAGE);
    assert_non_null(strstr(why.remedy, "0.15"));
    s = open_settings(50);
    assert_int_equal(mix_solve(list, 0, &s, &arena, NULL, &out, &why), OUTCOME_DATA);
    s.budget = 40;
    list[1].price = unknown_real(); /* unknown is not zero */
    assert_int_equal(mix_solve(list, 5, &s, &arena, NULL, &out, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "unknown"));
    list[1].name = list[0].name;
    s.budget = unknown_real();
    assert_int_equal(mix_solve(list, 5, &s, &arena, NULL, &out, &why), OUTCOME_DATA);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ten_by_ten_at_three_gives_exactly_300_with_shares_kept),
        cmocka_unit_test(twenty_six_species_at_two_per_cent_are_impossible_and_it_says_why),
        cmocka_unit_test(an_avoided_species_stays_out_and_a_fixed_one_stays_fixed),
        cmocka_unit_test(small_mixes_agree_with_all_mixes_there_are),
        cmocka_unit_test(large_mixes_agree_with_a_second_solver),
        cmocka_unit_test(the_named_conflict_is_a_smallest_one),
        cmocka_unit_test(relaxing_by_what_is_said_is_just_enough),
        cmocka_unit_test(changes_named_together_are_enough_and_no_more),
        cmocka_unit_test(turning_the_list_round_changes_the_value_of_nothing),
        cmocka_unit_test(one_wish_more_never_makes_it_better),
        cmocka_unit_test(more_weight_on_diversity_gives_more_of_it),
        cmocka_unit_test(ash_for_lime_is_stopped_and_hornbeam_for_lime_passes),
        cmocka_unit_test(plots_share_stock_and_bundles),
        cmocka_unit_test(a_large_joint_order_holds_every_rule_and_knows_its_gap),
        cmocka_unit_test(plots_that_share_nothing_are_as_good_as_each_alone),
        cmocka_unit_test(plots_of_different_communities_keep_what_belongs_to_each),
        cmocka_unit_test(wrong_input_is_refused_in_words),
    };
    return cmocka_run_group_tests(tests, NULL, tear_down);
}
