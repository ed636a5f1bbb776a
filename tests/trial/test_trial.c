/* SPDX-License-Identifier: GPL-3.0-or-later
 * trial/: what plots can tell, allocation by lot, the rules of judging, sizes and power, samples. */
#include "trial/trial.h"

#include "../testlib.h"

/* D dense on full preparation, C conventional, P sparse on full preparation, N dense without: one site, one mix. */
static struct trial_plot plot(const char *code, const char *density, const char *preparation, const char *mix)
{
    struct trial_plot p = {.code = code, .site = "GL", .allocation = ALLOCATION_METHOD_DRAWN_BY_LOT};
    const char *const levels[TRIAL_FACTORS] = {density, preparation, mix, "rabbit mesh", "none", "bare-root 40-60", "January 2023"};
    memcpy(p.levels, levels, sizeof levels);
    return p;
}

static void dense_beside_conventional_shows_the_whole_recipe_only(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct failure why = {0};
    struct trial_table t;
    const struct trial_plot plots[] = {plot("D", "3", "full", "A"), plot("C", "1", "none", "A")};
    assert_int_equal(trial_compare(plots, 2, &arena, &t, &why), OUTCOME_OK);
    assert_int_equal(t.n_pairs, 1);
    assert_int_equal(t.pairs[0].n_differ, 2);
    assert_non_null(strstr(t.pairs[0].sentence, "D − C shows the whole recipe only"));
    assert_non_null(strstr(t.summary, "Whole recipe only"));
    assert_false(t.factors[TRIAL_DENSITY].estimable);
    assert_int_equal(t.factors[TRIAL_DENSITY].alias, 1u << TRIAL_PREPARATION);
    assert_int_equal(t.factors[TRIAL_PREPARATION].alias, 1u << TRIAL_DENSITY);
    arena_clear(&arena);
}

static void a_prepared_sparse_plot_separates_soil_from_density(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct failure why = {0};
    struct trial_table t;
    const struct trial_plot plots[] = {plot("C", "1", "none", "A"), plot("P", "1", "full", "A"), plot("D", "3", "full", "A")};
    assert_int_equal(trial_compare(plots, 3, &arena, &t, &why), OUTCOME_OK);
    assert_non_null(strstr(t.summary, "soil effect = P − C; density effect = D − P."));
    assert_true(t.factors[TRIAL_DENSITY].estimable && t.factors[TRIAL_PREPARATION].estimable);
    assert_int_equal(t.rank, 3);
    assert_int_equal(t.columns, 3);
    arena_clear(&arena);
}

static void an_unplanted_plot_is_a_baseline_and_takes_nothing_away(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct failure why = {0};
    struct trial_table t;
    struct trial_plot bare = {.code = "U", .site = "GL", .unplanted = true};
    const struct trial_plot plots[] = {bare, plot("C", "1", "none", "A"), plot("P", "1", "full", "A"), plot("D", "3", "full", "A")};
    assert_int_equal(trial_compare(plots, 4, &arena, &t, &why), OUTCOME_OK);
    assert_non_null(strstr(t.summary, "soil effect = P − C; density effect = D − P."));
    assert_int_equal(t.n_pairs, 3);
    for (size_t k = 0; k < t.n_pairs; k++)
        assert_true(t.pairs[k].a > 0 && t.pairs[k].b > 0); /* indices of the plots as given */
    assert_int_equal(t.n_aliases, 0);
    arena_clear(&arena);
}

static void the_alias_table_says_what_equals_what(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct failure why = {0};
    struct trial_table t;
    const struct trial_plot plots[] = {plot("D", "3", "full", "A"), plot("C", "1", "none", "A")};
    assert_int_equal(trial_compare(plots, 2, &arena, &t, &why), OUTCOME_OK);
    assert_int_equal(t.rank + t.n_aliases, t.columns);
    assert_string_equal(t.aliases[0], "preparation none = density 1");
    arena_clear(&arena);
}

static void another_mix_in_the_third_plot_weakens_the_sentence(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct failure why = {0};
    struct trial_table t;
    const struct trial_plot plots[] = {plot("D", "3", "full", "A"), plot("C", "1", "none", "A"), plot("P", "1", "full", "B")};
    assert_int_equal(trial_compare(plots, 3, &arena, &t, &why), OUTCOME_OK);
    assert_null(strstr(t.summary, "soil effect"));
    assert_null(strstr(t.summary, "density effect"));
    assert_non_null(strstr(t.summary, "Whole recipe only"));
    for (size_t k = 0; k < t.n_pairs; k++)
        assert_int_equal(t.pairs[k].n_differ, 2);
    assert_int_equal(t.factors[TRIAL_DENSITY].alias, 1u << TRIAL_PREPARATION | 1u << TRIAL_MIX);
    arena_clear(&arena);
}

static void what_is_not_known_takes_attribution_away(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct failure why = {0};
    struct trial_table t;
    struct trial_plot plots[] = {plot("D", "3", "full", "A"), plot("P", "1", "full", "A")};
    plots[1].levels[TRIAL_WATER] = NULL;
    assert_int_equal(trial_compare(plots, 2, &arena, &t, &why), OUTCOME_OK);
    assert_int_equal(t.pairs[0].marks[TRIAL_WATER], TRIAL_NOT_KNOWN);
    assert_int_equal(t.factors[TRIAL_DENSITY].clean_pairs, 0);
    assert_non_null(strstr(t.pairs[0].sentence, "watering is not known"));
    assert_null(strstr(t.summary, "density effect = "));
    arena_clear(&arena);
}

static void chosen_ground_is_said_beside_a_clean_difference(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct failure why = {0};
    struct trial_table t;
    struct trial_plot plots[] = {plot("D", "3", "full", "A"), plot("P", "1", "full", "A")};
    assert_int_equal(trial_compare(plots, 2, &arena, &t, &why), OUTCOME_OK);
    assert_null(strstr(t.pairs[0].sentence, "not drawn by lot"));
    plots[0].allocation = ALLOCATION_METHOD_CHOSEN;
    assert_int_equal(trial_compare(plots, 2, &arena, &t, &why), OUTCOME_OK);
    assert_non_null(strstr(t.pairs[0].sentence, "not drawn by lot"));
    arena_clear(&arena);
}

static void plots_on_different_sites_are_not_a_pair_but_repeat_one(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct failure why = {0};
    struct trial_table t;
    struct trial_plot plots[] = {plot("D", "3", "full", "A"), plot("P", "1", "full", "A"), plot("D", "3", "full", "B"),
                                 plot("P", "1", "full", "B")};
    plots[2].site = plots[3].site = "FB";
    assert_int_equal(trial_compare(plots, 4, &arena, &t, &why), OUTCOME_OK);
    assert_int_equal(t.n_pairs, 2);
    assert_int_equal(t.factors[TRIAL_DENSITY].clean_sites, 2);
    assert_non_null(strstr(t.summary, "density effect = D − P at each of 2 sites"));
    /* The mix differs between sites only: it is the place. */
    assert_false(t.factors[TRIAL_MIX].estimable);
    assert_non_null(strstr(t.factors[TRIAL_MIX].sentence, "between sites"));
    /* Where it differs within a site too, but never alone, that is said instead. */
    plots[0].levels[TRIAL_MIX] = "C";
    assert_int_equal(trial_compare(plots, 4, &arena, &t, &why), OUTCOME_OK);
    assert_null(strstr(t.factors[TRIAL_MIX].sentence, "only between sites"));
    plots[1].site = "XX", plots[2].site = "YY", plots[3].site = "ZZ";
    assert_int_equal(trial_compare(plots, 4, &arena, &t, &why), OUTCOME_DATA);
    arena_clear(&arena);
}

static void effects_that_add_up_are_told_apart_from_clean_ones(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct failure why = {0};
    struct trial_table t;
    /* A half replicate of three factors with a centre missing: no two plots differ in one thing, rank is full. */
    const struct trial_plot plots[] = {plot("a", "3", "full", "B"), plot("b", "3", "none", "A"), plot("c", "1", "full", "A"),
                                       plot("d", "1", "none", "B")};
    assert_int_equal(trial_compare(plots, 4, &arena, &t, &why), OUTCOME_OK);
    assert_int_equal(t.rank, 4);
    assert_true(t.factors[TRIAL_DENSITY].estimable && t.factors[TRIAL_MIX].estimable);
    assert_int_equal(t.factors[TRIAL_DENSITY].clean_pairs, 0);
    assert_non_null(strstr(t.factors[TRIAL_DENSITY].sentence, "only if effects add up"));
    arena_clear(&arena);
}

static void one_sparse_prepared_plot_is_the_cheapest_addition(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct failure why = {0};
    struct trial_addition add;
    const struct trial_plot plots[] = {plot("D", "3", "full", "A"), plot("C", "1", "none", "A")};
    assert_int_equal(trial_separate(plots, 2, TRIAL_DENSITY, &arena, &add, &why), OUTCOME_OK);
    assert_int_equal(add.n_plots, 1);
    assert_string_equal(add.plots[0].levels[TRIAL_DENSITY], "1");
    assert_string_equal(add.plots[0].levels[TRIAL_PREPARATION], "full");
    assert_non_null(strstr(add.sentence, "in this alone"));
    /* And it does what it says. */
    const struct trial_plot after[] = {plots[0], plots[1], add.plots[0]};
    struct trial_table t;
    assert_int_equal(trial_compare(after, 3, &arena, &t, &why), OUTCOME_OK);
    assert_true(t.factors[TRIAL_DENSITY].estimable && t.factors[TRIAL_DENSITY].clean_pairs == 1);
    assert_int_equal(trial_separate(after, 3, TRIAL_DENSITY, &arena, &add, &why), OUTCOME_OK);
    assert_int_equal(add.n_plots, 0);
    arena_clear(&arena);
}

/* Against a plain enumeration written here: the smallest set of additions, by determinants of small matrices avoided —
 * by asking trial_compare about every set of one and two combinations. */
static void the_smallest_addition_agrees_with_trying_all(void **state)
{
    (void)state;
    static const char *const density[] = {"1", "3"}, *const soil[] = {"none", "full"}, *const mix[] = {"A", "B"};
    const struct trial_plot cases[][2] = {{plot("x", "3", "full", "A"), plot("y", "1", "none", "B")},
                                          {plot("x", "3", "full", "A"), plot("y", "3", "none", "B")},
                                          {plot("x", "1", "none", "A"), plot("y", "3", "none", "B")}};
    for (size_t c = 0; c < 3; c++) {
        for (size_t f = 0; f < 3; f++) {
            struct arena arena = {0};
            struct failure why = {0};
            struct trial_addition add = {0};
            struct trial_table t;
            size_t least = 9;
            for (size_t i = 0; i < 8; i++) {
                for (size_t j = i; j < 8; j++) {
                    struct trial_plot all[4] = {cases[c][0], cases[c][1]};
                    all[2] = plot("n1", density[i & 1], soil[i >> 1 & 1], mix[i >> 2]);
                    all[3] = plot("n2", density[j & 1], soil[j >> 1 & 1], mix[j >> 2]);
                    assert_int_equal(trial_compare(all, i == j ? 3 : 4, &arena, &t, &why), OUTCOME_OK);
                    /* Only levels that occur already may be used. */
                    bool known = true;
                    for (size_t q = 2; q < 4; q++) {
                        for (size_t g = 0; g < 3; g++)
                            known =
                                known && (text_same(all[q].levels[g], all[0].levels[g]) || text_same(all[q].levels[g], all[1].levels[g]));
                    }
                    if (known && t.factors[f].estimable)
                        least = least < (i == j ? 1u : 2u) ? least : i == j ? 1 : 2;
                }
            }
            enum outcome outcome = trial_separate(cases[c], 2, (enum trial_factor)f, &arena, &add, &why);
            if (least == 9)
                assert_int_equal(outcome, OUTCOME_DATA);
            else
                assert_int_equal(add.n_plots, least);
            arena_clear(&arena);
        }
    }
}

static void the_draw_repeats_and_favours_nobody(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct failure why = {0};
    const char *const pieces[] = {"west half", "east half", "north strip"}, *const treatments[] = {"D", "C", "P"};
    struct trial_allocation a, b;
    size_t count[6] = {0}, other = 0;
    assert_int_equal(trial_draw("GL", pieces, treatments, 3, 42, &arena, &a, &why), OUTCOME_OK);
    assert_non_null(strstr(a.sentence, "seed 42"));
    assert_non_null(strstr(a.sentence, "\"west half\""));
    for (uint64_t seed = 0; seed < 6000; seed++) {
        assert_int_equal(trial_draw("GL", pieces, treatments, 3, seed, &arena, &a, &why), OUTCOME_OK);
        assert_int_equal(trial_draw("GL", pieces, treatments, 3, seed, &arena, &b, &why), OUTCOME_OK);
        for (size_t i = 0; i < 3; i++)
            assert_string_equal(a.treatments[i], b.treatments[i]);
        size_t first = a.treatments[0][0] == 'D' ? 0 : a.treatments[0][0] == 'C' ? 1 : 2;
        count[2 * first + (a.treatments[1][0] < a.treatments[2][0])]++;
        trial_draw("FB", pieces, treatments, 3, seed, &arena, &b, &why);
        other += strcmp(a.treatments[0], b.treatments[0]) != 0;
    }
    /* Six orders, a thousand each: chi-squared on 5 df below its 99.99 % point. */
    double chi = 0;
    for (size_t k = 0; k < 6; k++)
        chi += pow((double)count[k] - 1000, 2) / 1000;
    assert_true(chi < 25.7);
    assert_true(other > 3500); /* another comparison draws for itself */
    arena_clear(&arena);
}

static void choosing_needs_a_reason_that_is_printed(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct failure why = {0};
    const char *const pieces[] = {"west half", "east half"}, *const treatments[] = {"D", "C"}, *const twice[] = {"west half", "west half"};
    struct trial_allocation a;
    assert_int_equal(trial_choose(pieces, treatments, 2, "", &arena, &a, &why), OUTCOME_USAGE);
    assert_int_equal(trial_choose(pieces, treatments, 2, "because", &arena, &a, &why), OUTCOME_USAGE);
    assert_int_equal(trial_choose(pieces, treatments, 2, "cable under the east half", &arena, &a, &why), OUTCOME_OK);
    assert_non_null(strstr(a.sentence, "cable under the east half"));
    assert_int_equal(trial_draw("x", twice, treatments, 2, 1, &arena, &a, &why), OUTCOME_USAGE);
    arena_clear(&arena);
}

static struct protocol rules_make(void)
{
    struct protocol p;
    noun_init(NOUN_PROTOCOL, &p);
    p.id = 7, p.version = "1.0", p.primary_outcome = "alive at the third autumn", p.survey_window = "weeks 36 to 40";
    p.established = "alive without care for a year", p.replacement_policy = "none", p.stopping_rules = "none";
    p.analysis_plan = "paired difference by site", p.margin_points = 10;
    return p;
}

static void a_change_after_locking_makes_the_next_version_and_leaves_the_old(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct failure why = {0};
    struct protocol old = rules_make(), before, wanted, next;
    const char *remark = NULL, **sentences = NULL;
    assert_int_equal(trial_lock(&old, date_make(2021, 10, 1), DATE_UNKNOWN, NULL, &arena, &remark, &why), OUTCOME_OK);
    assert_null(remark);
    before = old, wanted = old;
    wanted.margin_points = 5, wanted.survey_window = "weeks 37 to 39";
    assert_int_equal(trial_amend(&old, &wanted, "", &arena, &next, &why), OUTCOME_USAGE);
    assert_int_equal(trial_amend(&old, &wanted, "asked by the funder", &arena, &next, &why), OUTCOME_OK);
    assert_string_equal(next.version, "1.1");
    assert_int_equal(next.supersedes_id, 7);
    assert_int_equal(next.locked_on, DATE_UNKNOWN);
    assert_int_equal(next.id, 0);
    assert_non_null(strstr(next.differs, "was 10 points, is 5 points"));
    assert_non_null(strstr(next.differs, "was \"weeks 36 to 40\", is \"weeks 37 to 39\""));
    assert_non_null(strstr(next.differs, "asked by the funder"));
    assert_memory_equal(&old, &before, sizeof old);
    assert_int_equal(trial_differences(&old, &next, &arena, &sentences), 2);
    assert_int_equal(trial_amend(&old, &old, "why not", &arena, &next, &why), OUTCOME_DATA);
    assert_int_equal(trial_lock(&old, date_make(2021, 10, 2), DATE_UNKNOWN, NULL, &arena, &remark, &why), OUTCOME_DATA);
    arena_clear(&arena);
}

static void a_draft_keeps_its_version(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct failure why = {0};
    struct protocol draft = rules_make(), wanted = draft, next;
    wanted.stopping_rules = "after two fires";
    assert_int_equal(trial_amend(&draft, &wanted, NULL, &arena, &next, &why), OUTCOME_OK);
    assert_string_equal(next.version, "1.0");
    assert_int_equal(next.id, 7);
    arena_clear(&arena);
}

static void locking_needs_every_rule_and_comes_before_the_first_result(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct failure why = {0};
    const char *remark = NULL, *version = NULL;
    struct protocol p = rules_make();
    p.established = "  ";
    assert_int_equal(trial_lock(&p, 1000, DATE_UNKNOWN, NULL, &arena, &remark, &why), OUTCOME_DATA);
    assert_non_null(strstr(why.sentence, "what counts as established"));
    p = rules_make();
    assert_int_equal(trial_lock(&p, date_make(2022, 11, 1), date_make(2022, 9, 12), NULL, &arena, &remark, &why), OUTCOME_DATA);
    assert_int_equal(p.locked_on, DATE_UNKNOWN);
    assert_int_equal(trial_lock(&p, date_make(2022, 11, 1), date_make(2022, 9, 12), "staff left", &arena, &remark, &why), OUTCOME_OK);
    assert_non_null(strstr(remark, "not set down before the outcome was known"));
    assert_int_equal(trial_next_version("1.9", &arena, &version, &why), OUTCOME_OK);
    assert_string_equal(version, "1.10");
    assert_int_equal(trial_next_version("first", &arena, &version, &why), OUTCOME_DATA);
    arena_clear(&arena);
}

static void sample_sizes_follow_the_tables(void **state)
{
    (void)state;
    struct failure why = {0};
    /* T64, T65 of the practice's tables (computed by hand from Cochran's equation): share, population → plants. */
    static const struct {
        double share, half, population, n;
    } table[] = {{.5, .10, 0, 97},   {.7, .10, 0, 81},    {.8, .10, 0, 62},    {.9, .10, 0, 35},    {.5, .10, 300, 73},
                 {.7, .10, 300, 64}, {.8, .10, 300, 52},  {.9, .10, 300, 32},  {.5, .10, 100, 50},  {.7, .10, 100, 45},
                 {.8, .10, 100, 39}, {.9, .10, 100, 26},  {.5, .05, 0, 385},   {.7, .05, 0, 323},   {.8, .05, 0, 246},
                 {.9, .05, 0, 139},  {.5, .05, 300, 169}, {.7, .05, 300, 156}, {.8, .05, 300, 136}, {.9, .05, 300, 95}};
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        double exact = 0, n = 0;
        assert_int_equal(trial_sample_size(table[i].share, table[i].half, .95, table[i].population, &exact, &n, &why), OUTCOME_OK);
        assert_near(n, table[i].n, 0);
    }
}

static void the_smallest_set_answers_and_no_smaller_one_does(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct failure why = {0};
    struct trial_sets sets;
    unsigned both = 1u << TRIAL_ASKS_SOIL | 1u << TRIAL_ASKS_DENSITY;
    assert_int_equal(trial_sets_make(both, false, 3, 1, 100, &arena, &sets, &why), OUTCOME_OK);
    assert_int_equal(sets.sets[sets.best].kinds, 1u << TRIAL_KIND_D | 1u << TRIAL_KIND_C | 1u << TRIAL_KIND_P);
    for (size_t i = 0; i < sets.best; i++)
        assert_true((sets.sets[i].answers & both) != both);
    /* the usual mix in the conventional plot: soil and density come from D, P and N, and C says nothing of a single cause */
    assert_int_equal(trial_sets_make(both, true, 3, 1, 100, &arena, &sets, &why), OUTCOME_OK);
    assert_int_equal(sets.sets[sets.best].kinds, 1u << TRIAL_KIND_D | 1u << TRIAL_KIND_P | 1u << TRIAL_KIND_N);
    assert_int_equal(trial_sets_make(0, true, 3, 1, 100, &arena, &sets, &why), OUTCOME_USAGE);
    arena_clear(&arena);
}

/* Sites of three sizes; exchanges must reach what trying every way finds. */
static void plots_over_sites_are_no_worse_than_any_other_way(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct failure why = {0};
    struct trial_blocking found;
    struct trial_block blocks[3] = {
        {.site = "a", .must = 3, .room = 1}, {.site = "b", .must = 0, .room = 2}, {.site = "c", .must = 3, .room = 1}};
    unsigned asked = 1u << TRIAL_ASKS_SOIL | 1u << TRIAL_ASKS_DENSITY;
    assert_int_equal(trial_blocks_choose(blocks, 3, asked, SIZE_MAX, 1, &arena, &found, &why), OUTCOME_OK);
    assert_true(found.all_tried);
    assert_int_equal(blocks[0].kinds, 7); /* the prepared sparse plot where there is room beside D and C */
    assert_int_equal(blocks[2].kinds, 7);
    assert_int_equal(found.added, 4);
    /* one plot only: it cannot be worth more than any other single one */
    assert_int_equal(trial_blocks_choose(blocks, 3, asked, 1, 1, &arena, &found, &why), OUTCOME_OK);
    assert_int_equal(found.added, 1);
    assert_int_equal(trial_blocks_choose(blocks, 3, asked, 0, 1, &arena, &found, &why), OUTCOME_DATA);
    /* six whole sites: the variance of a difference of two kinds is 2 / 6 */
    struct trial_block six[6];
    for (size_t i = 0; i < 6; i++)
        six[i] = (struct trial_block){.site = "s", .must = 7};
    assert_int_equal(trial_blocks_choose(six, 6, asked, SIZE_MAX, 1, &arena, &found, &why), OUTCOME_OK);
    assert_near(found.variance[TRIAL_ASKS_SOIL], 2.0 / 6, 1e-12);
    assert_near(found.df, 18 - 6 - 2, 1e-12);
    assert_false(is_known(found.variance[TRIAL_ASKS_BOTH]));
    arena_clear(&arena);
}

static void power_and_size_are_each_others_reverse(void **state)
{
    (void)state;
    struct failure why = {0};
    for (double p = 0.1; p < 0.85; p += 0.1) {
        double exact = 0, corrected = 0, power = 0;
        assert_int_equal(trial_two_shares_n(p, p + 0.1, 0.05, 0.8, &exact, &corrected, &why), OUTCOME_OK);
        trial_two_shares_power(p, p + 0.1, exact, 0.05, false, &power, &why);
        assert_near(power, 0.8, 1e-9);
        trial_two_shares_power(p, p + 0.1, corrected, 0.05, true, &power, &why);
        assert_near(power, 0.8, 1e-9);
    }
    double n = 0, power = 0;
    assert_int_equal(trial_paired_n(10, 12, 0.05, 0.8, &n, &why), OUTCOME_OK);
    trial_paired_power(n, 10, 12, 0.05, &power, &why);
    assert_true(power >= 0.8);
    trial_paired_power(n - 1, 10, 12, 0.05, &power, &why);
    assert_true(power < 0.8);
}

static void least_reachable_p_is_that_of_the_lots(void **state)
{
    (void)state;
    assert_near(trial_least_p_pairs(5), 0.0625, 0);
    assert_near(trial_least_p_pairs(6), 0.03125, 0);
    assert_near(trial_least_p_pairs(8), 0.0078125, 0);
    assert_near(trial_least_p_groups(3, 3), 2.0 / 20, 1e-15);
    assert_near(trial_least_p_groups(2, 5), 1.0 / 21, 1e-15);
}

static void simulation_agrees_with_the_closed_form_when_plots_vary(void **state)
{
    (void)state;
    struct failure why = {0};
    struct trial_simulation w = {
        .sites = 12, .plants_a = 200, .plants_b = 200, .share_a = .75, .share_b = .65, .icc = .03, .alpha = .05, .runs = 4000, .seed = 5};
    struct trial_simulated a, b;
    double power = 0, within = sqrt((.75 * .25 + .65 * .35) / 2), between = sqrt(.03 * (.75 * .25 + .65 * .35)), m = 200 / (1 - .03);
    assert_int_equal(trial_simulate(&w, NULL, &a, &why), OUTCOME_OK);
    trial_paired_power(12, .10, trial_difference_sd(between, within, m), .05, &power, &why);
    /* Three standard errors, and 0.02 for the survivals not being normal. */
    assert_near(a.power, power, 3 * a.power_se + 0.02);
    assert_int_equal(trial_simulate(&w, NULL, &b, &why), OUTCOME_OK);
    assert_memory_equal(&a, &b, sizeof a);
}

static void simulated_heights_agree_with_the_closed_form(void **state)
{
    (void)state;
    struct failure why = {0};
    struct trial_measured w = {.sites = 7,
                               .units_a = 30,
                               .units_b = 30,
                               .mean_a = 120,
                               .mean_b = 100,
                               .sd_unit = 35,
                               .sd_plot = 12,
                               .alpha = .05,
                               .runs = 4000,
                               .seed = 2};
    struct trial_simulated s;
    double power = 0, sd = trial_difference_sd(sqrt(2) * 12, 35, 30);
    assert_int_equal(trial_simulate_measured(&w, NULL, &s, &why), OUTCOME_OK);
    trial_paired_power(7, 20, sd, .05, &power, &why);
    assert_near(s.power, power, 4 * s.power_se); /* normal all through: only the error of simulation */
    w.mean_b = 120;
    assert_int_equal(trial_simulate_measured(&w, NULL, &s, &why), OUTCOME_OK);
    assert_near(s.power, .05, 4 * sqrt(.05 * .95 / 4000));
}

static void simulated_counts_keep_their_level_and_find_a_large_ratio(void **state)
{
    (void)state;
    struct failure why = {0};
    struct trial_measured w = {.measure = TRIAL_MEASURE_COUNT,
                               .sites = 6,
                               .units_a = 8,
                               .units_b = 8,
                               .mean_a = 5,
                               .mean_b = 5,
                               .sd_plot = .3,
                               .alpha = .05,
                               .runs = 3000,
                               .seed = 2};
    struct trial_simulated s;
    assert_int_equal(trial_simulate_measured(&w, NULL, &s, &why), OUTCOME_OK);
    assert_near(s.power, .05, .02);
    assert_true(s.naive_error > .15);
    w.mean_a = 12;
    assert_int_equal(trial_simulate_measured(&w, NULL, &s, &why), OUTCOME_OK);
    assert_true(s.power > .9);
    w.mean_b = 0;
    assert_int_equal(trial_simulate_measured(&w, NULL, &s, &why), OUTCOME_USAGE);
}

static void counting_plants_as_independent_cries_wolf(void **state)
{
    (void)state;
    struct failure why = {0};
    struct trial_simulation w = {
        .sites = 6, .plants_a = 300, .plants_b = 300, .share_a = .7, .share_b = .7, .icc = .1, .alpha = .05, .runs = 2000, .seed = 9};
    struct trial_simulated s;
    assert_int_equal(trial_simulate(&w, NULL, &s, &why), OUTCOME_OK);
    assert_near(s.power, .05, .02);  /* the paired test keeps its level */
    assert_true(s.naive_error > .5); /* the other does not, by far */
    w.icc = 0;
    assert_int_equal(trial_simulate(&w, NULL, &s, &why), OUTCOME_OK);
    assert_near(s.naive_error, .05, .015);
}

static void samples_are_drawn_as_stated(void **state)
{
    (void)state;
    struct arena arena = {0};
    struct failure why = {0};
    size_t *drawn = NULL, strata[100], seen[20] = {0}, in[3] = {0};
    const char *sentence = NULL;
    for (size_t i = 0; i < 100; i++)
        strata[i] = i < 70 ? 0 : i < 97 ? 1 : 2;
    assert_int_equal(trial_sample(100, 20, TRIAL_RULE_BY_STRATUM, strata, 3, &arena, &drawn, &sentence, &why), OUTCOME_OK);
    for (size_t k = 0; k < 20; k++)
        in[strata[drawn[k]]]++;
    assert_true(in[0] == 14 && in[1] == 5 && in[2] == 1);
    for (uint64_t seed = 0; seed < 4000; seed++) {
        assert_int_equal(trial_sample(20, 5, TRIAL_RULE_RANDOM, NULL, seed, &arena, &drawn, &sentence, &why), OUTCOME_OK);
        for (size_t k = 0; k < 5; k++) {
            seen[drawn[k]]++;
            assert_true(drawn[k] < 20 && (k == 0 || drawn[k] > drawn[k - 1]));
        }
    }
    for (size_t i = 0; i < 20; i++)
        assert_near((double)seen[i], 1000, 130); /* 1,000 each, standard deviation 27 */
    assert_int_equal(trial_sample(225, 57, TRIAL_RULE_EVERY_KTH, NULL, 3, &arena, &drawn, &sentence, &why), OUTCOME_OK);
    for (size_t k = 1; k < 57; k++)
        assert_in_range(drawn[k] - drawn[k - 1], 3, 4);
    assert_non_null(strstr(sentence, "57 of 225"));
    assert_int_equal(trial_sample(5, 6, TRIAL_RULE_RANDOM, NULL, 3, &arena, &drawn, &sentence, &why), OUTCOME_USAGE);
    arena_clear(&arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(dense_beside_conventional_shows_the_whole_recipe_only),
        cmocka_unit_test(a_prepared_sparse_plot_separates_soil_from_density),
        cmocka_unit_test(an_unplanted_plot_is_a_baseline_and_takes_nothing_away),
        cmocka_unit_test(the_alias_table_says_what_equals_what),
        cmocka_unit_test(another_mix_in_the_third_plot_weakens_the_sentence),
        cmocka_unit_test(what_is_not_known_takes_attribution_away),
        cmocka_unit_test(chosen_ground_is_said_beside_a_clean_difference),
        cmocka_unit_test(plots_on_different_sites_are_not_a_pair_but_repeat_one),
        cmocka_unit_test(effects_that_add_up_are_told_apart_from_clean_ones),
        cmocka_unit_test(one_sparse_prepared_plot_is_the_cheapest_addition),
        cmocka_unit_test(the_smallest_addition_agrees_with_trying_all),
        cmocka_unit_test(the_draw_repeats_and_favours_nobody),
        cmocka_unit_test(choosing_needs_a_reason_that_is_printed),
        cmocka_unit_test(a_change_after_locking_makes_the_next_version_and_leaves_the_old),
        cmocka_unit_test(a_draft_keeps_its_version),
        cmocka_unit_test(locking_needs_every_rule_and_comes_before_the_first_result),
        cmocka_unit_test(sample_sizes_follow_the_tables),
        cmocka_unit_test(the_smallest_set_answers_and_no_smaller_one_does),
        cmocka_unit_test(plots_over_sites_are_no_worse_than_any_other_way),
        cmocka_unit_test(power_and_size_are_each_others_reverse),
        cmocka_unit_test(least_reachable_p_is_that_of_the_lots),
        cmocka_unit_test(simulation_agrees_with_the_closed_form_when_plots_vary),
        cmocka_unit_test(simulated_heights_agree_with_the_closed_form),
        cmocka_unit_test(simulated_counts_keep_their_level_and_find_a_large_ratio),
        cmocka_unit_test(counting_plants_as_independent_cries_wolf),
        cmocka_unit_test(samples_are_drawn_as_stated),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
