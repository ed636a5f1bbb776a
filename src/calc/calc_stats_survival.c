/* SPDX-License-Identifier: GPL-3.0-or-later
 * Calculators of stats/: time to death. */
#include "calc/calc_stats.h"
#include <math.h>
#include <string.h>

/* The columns time, died, group, stratum, weight of the input. */
static enum outcome lives_in(const json_t *in, struct lives *out, size_t *groups, struct arena *arena, struct failure *why)
{
    size_t n_died = 0, n_group = 0, n_stratum = 0, n_weight = 0, levels = 0;
    out->time = calc_numbers(in, "time", arena, &out->n);
    double *died = calc_numbers(in, "died", arena, &n_died), *weight = calc_numbers(in, "weight", arena, &n_weight);
    out->group = calc_labels(in, "group", arena, &n_group, groups);
    out->stratum = calc_labels(in, "stratum", arena, &n_stratum, &levels);
    enum outcome outcome = calc_same_length("time", out->n, "died", n_died, false, why);
    if (outcome == OUTCOME_OK)
        outcome = calc_same_length("time", out->n, "group", n_group, true, why);
    if (outcome == OUTCOME_OK)
        outcome = calc_same_length("time", out->n, "stratum", n_stratum, true, why);
    if (outcome == OUTCOME_OK)
        outcome = calc_same_length("time", out->n, "weight", n_weight, true, why);
    bool *event = arena_array(arena, out->n + 1, sizeof *event);
    for (size_t i = 0; i < out->n && i < n_died; i++)
        event[i] = died[i] > 0;
    out->died = event;
    out->weight = n_weight > 0 ? weight : NULL;
    return outcome;
}

static enum outcome run_kaplan_meier(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct lives lives = {0};
    struct survival_curve c = {0};
    size_t groups = 0;
    bool loglog = strcmp(calc_word(in, "limits", "loglog"), "log") != 0;
    enum outcome outcome = lives_in(in, &lives, &groups, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = survival_kaplan_meier(&lives, loglog ? SURVIVAL_LOGLOG : SURVIVAL_LOG, calc_level(in), &arena, &c, why);
    if (outcome == OUTCOME_OK) {
        struct estimate median = survival_quantile(&c, 0.5);
        double until = calc_number(in, "until", c.time[c.n - 1]);
        struct estimate mean = survival_restricted_mean(&c, until);
        const char *const names[] = {"time", "at_risk", "deaths", "survival", "se", "low", "high"};
        const double *const columns[] = {c.time, c.at_risk, c.deaths, c.survival, c.se, c.low, c.high};
        for (size_t i = 0; i < 7; i++)
            calc_put_all(result, names[i], columns[i], c.n);
        calc_put(result, "median", median.value);
        calc_put(result, "median_low", median.low);
        calc_put(result, "median_high", median.high);
        calc_put(result, "mean_until", mean.value);
        calc_put(result, "mean_until_se", mean.se);
    }
    arena_clear(&arena);
    return outcome;
}

static enum outcome run_logrank(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct lives lives = {0};
    struct group_test test = {0};
    size_t groups = 0;
    enum outcome outcome = lives_in(in, &lives, &groups, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = survival_logrank(&lives, groups, calc_number(in, "rho", 0), &arena, &test, why);
    if (outcome == OUTCOME_OK) {
        calc_put_test(result, &test.test);
        calc_put_all(result, "observed", test.observed, groups);
        calc_put_all(result, "expected", test.expected, groups);
        calc_put(result, "variance", test.variance[0]);
    }
    arena_clear(&arena);
    return outcome;
}

static enum outcome intervals_in(const json_t *in, struct interval_lives *out, struct arena *arena, struct failure *why)
{
    size_t n_right = 0, n_weight = 0;
    out->left = calc_numbers(in, "left", arena, &out->n);
    double *right = calc_numbers(in, "right", arena, &n_right), *weight = calc_numbers(in, "weight", arena, &n_weight);
    enum outcome outcome = calc_same_length("left", out->n, "right", n_right, false, why);
    if (outcome == OUTCOME_OK)
        outcome = calc_same_length("left", out->n, "weight", n_weight, true, why);
    for (size_t i = 0; i < n_right; i++)
        right[i] = is_known(right[i]) ? right[i] : INFINITY;
    out->right = right;
    out->weight = n_weight > 0 ? weight : NULL;
    return outcome;
}

static enum outcome run_turnbull(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct interval_lives lives = {0};
    struct turnbull t = {0};
    enum outcome outcome = intervals_in(in, &lives, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = survival_turnbull(&lives, &arena, &t, why);
    if (outcome == OUTCOME_OK) {
        calc_put_all(result, "from", t.left, t.n);
        calc_put_all(result, "to", t.right, t.n);
        calc_put_all(result, "mass", t.mass, t.n);
        calc_put_all(result, "survival", t.survival, t.n);
        calc_put(result, "loglik", t.loglik);
        calc_put(result, "gap", t.gap);
        calc_put(result, "iterations", t.iterations);
        calc_say(result, "No distribution has a log-likelihood higher by more than %.3g (dual condition).", t.gap);
    }
    arena_clear(&arena);
    return outcome;
}

static enum outcome run_interval_test(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct interval_lives lives = {0};
    struct interval_test t = {0};
    size_t n_group = 0, groups = 0, n_stratum = 0, strata = 0;
    size_t *group = calc_labels(in, "group", &arena, &n_group, &groups), *stratum = calc_labels(in, "stratum", &arena, &n_stratum, &strata);
    const char *scores = calc_word(in, "scores", "sun"), *form = calc_word(in, "form", "permutation");
    enum outcome outcome = intervals_in(in, &lives, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = calc_same_length("left", lives.n, "group", n_group, false, why);
    if (outcome == OUTCOME_OK)
        outcome = calc_same_length("left", lives.n, "stratum", n_stratum, true, why);
    if (outcome == OUTCOME_OK)
        outcome = survival_interval_test(&lives, group, groups, stratum,
                                         strcmp(scores, "finkelstein") == 0 ? SCORES_FINKELSTEIN
                                         : strcmp(scores, "wilcoxon") == 0  ? SCORES_WILCOXON
                                                                            : SCORES_SUN,
                                         strcmp(form, "score") == 0   ? FORM_SCORE
                                         : strcmp(form, "draws") == 0 ? FORM_EXACT
                                                                      : FORM_PERMUTATION,
                                         (uint64_t)calc_number(in, "seed", 1), (size_t)calc_number(in, "draws", 9999), &arena, &t, why);
    if (outcome == OUTCOME_OK) {
        calc_put_test(result, &t.test);
        calc_put(result, "z", t.z);
        calc_put_all(result, "score_sum", t.score_sum, groups);
        calc_put_all(result, "scores", t.scores, lives.n);
    }
    arena_clear(&arena);
    return outcome;
}

static void put_incidence(json_t *result, const struct incidence_curve *c)
{
    calc_put_all(result, "time", c->time, c->n);
    calc_put_all(result, "survival", c->survival, c->n);
    calc_put_all(result, "incidence", c->incidence, c->n * c->causes);
    calc_put_all(result, "se", c->se, c->n * c->causes);
    calc_put_all(result, "low", c->low, c->n * c->causes);
    calc_put_all(result, "high", c->high, c->n * c->causes);
}

static enum outcome run_incidence(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct incidence_curve c = {0};
    size_t n = 0, n_cause = 0, causes = 0;
    double *time = calc_numbers(in, "time", &arena, &n), *cause = calc_numbers(in, "cause", &arena, &n_cause);
    size_t *which = arena_array(&arena, n + 1, sizeof *which);
    enum outcome outcome = calc_same_length("time", n, "cause", n_cause, false, why);
    for (size_t i = 0; i < n_cause && i < n && outcome == OUTCOME_OK; i++) {
        if (!(cause[i] >= 0 && cause[i] <= 1000))
            outcome = fail(why, OUTCOME_DATA, "Cause %zu is %g; write 0 for alive, else 1, 2 …", i + 1, cause[i]);
        else
            which[i] = (size_t)cause[i];
        causes = which[i] > causes ? which[i] : causes;
    }
    if (outcome == OUTCOME_OK)
        outcome = incidence_aalen_johansen(time, which, NULL, n, causes, calc_level(in), &arena, &c, why);
    if (outcome == OUTCOME_OK)
        put_incidence(result, &c);
    arena_clear(&arena);
    return outcome;
}

static enum outcome run_life_table(const json_t *in, json_t *result, struct failure *why)
{
    struct arena arena = {0};
    struct incidence_curve c = {0};
    size_t n = 0, n_risk = 0, n_deaths = 0;
    double *visit = calc_numbers(in, "visit", &arena, &n), *risk = calc_numbers(in, "at_risk", &arena, &n_risk);
    double *deaths = calc_numbers(in, "deaths", &arena, &n_deaths);
    enum outcome outcome = calc_same_length("visit", n, "at_risk", n_risk, false, why);
    if (outcome == OUTCOME_OK && (n == 0 || n_deaths % n != 0))
        outcome = fail(why, OUTCOME_USAGE, "deaths must hold, visit after visit, one number for each cause.");
    if (outcome == OUTCOME_OK)
        outcome = incidence_life_table(visit, risk, deaths, n, n_deaths / n, calc_level(in), &arena, &c, why);
    if (outcome == OUTCOME_OK)
        put_incidence(result, &c);
    arena_clear(&arena);
    return outcome;
}

#define LENGTH(a) (sizeof(a) / sizeof *(a))

static const struct calc_value lives_values[] = {
    {"time", "any", CALC_NUMBERS, true, "time of death or of the last look, from each plant's start"},
    {"died", "", CALC_NUMBERS, true, "1 died then, 0 still alive then"},
    {"weight", "", CALC_NUMBERS, false, "how often each counts"},
    {"level", "", CALC_NUMBER, false, "level of the interval, 0.95 if left out"},
    {"limits", "", CALC_WORD, false, "loglog (default) or log"},
    {"until", "any", CALC_NUMBER, false, "end of the restricted mean; the last time if left out"},
};
static const struct calc_value logrank_in[] = {
    {"time", "any", CALC_NUMBERS, true, "time of death or of the last look"},
    {"died", "", CALC_NUMBERS, true, "1 died then, 0 still alive then"},
    {"group", "", CALC_NUMBERS, true, "group as a number"},
    {"stratum", "", CALC_NUMBERS, false, "stratum as a number"},
    {"weight", "", CALC_NUMBERS, false, "how often each counts"},
    {"rho", "", CALC_NUMBER, false, "0 log-rank (default), 1 Peto–Peto"},
};
static const struct calc_value curve_out[] = {
    {"time", "any", CALC_NUMBERS, false, "times"},
    {"at_risk", "", CALC_NUMBERS, false, "plants at risk"},
    {"deaths", "", CALC_NUMBERS, false, "deaths"},
    {"survival", "", CALC_NUMBERS, false, "survival after each time"},
    {"se", "", CALC_NUMBERS, false, "standard error"},
    {"low", "", CALC_NUMBERS, false, "lower ends"},
    {"high", "", CALC_NUMBERS, false, "upper ends"},
    {"median", "any", CALC_NUMBER, false, "time by which half have died"},
    {"median_low", "any", CALC_NUMBER, false, "lower end"},
    {"median_high", "any", CALC_NUMBER, false, "upper end; unknown if the data set none"},
    {"mean_until", "any", CALC_NUMBER, false, "mean time alive up to the end asked for"},
    {"mean_until_se", "any", CALC_NUMBER, false, "standard error"},
};
static const struct calc_value logrank_out[] = {
    {"statistic", "", CALC_NUMBER, false, "chi-squared"},
    {"df", "", CALC_NUMBER, false, "degrees of freedom"},
    {"p", "", CALC_NUMBER, false, "p"},
    {"observed", "", CALC_NUMBERS, false, "deaths seen, by group"},
    {"expected", "", CALC_NUMBERS, false, "deaths expected, by group"},
    {"variance", "", CALC_NUMBER, false, "variance of observed less expected of the first group"},
};
static const struct calc_value intervals_values[] = {
    {"left", "any", CALC_NUMBERS, true, "last seen alive"},
    {"right", "any", CALC_NUMBERS, true, "first seen dead; NA if still alive"},
    {"weight", "", CALC_NUMBERS, false, "how often each counts"},
};
static const struct calc_value turnbull_out[] = {
    {"from", "any", CALC_NUMBERS, false, "left ends of intervals with deaths"},
    {"to", "any", CALC_NUMBERS, false, "right ends"},
    {"mass", "", CALC_NUMBERS, false, "share dying in each"},
    {"survival", "", CALC_NUMBERS, false, "survival after each"},
    {"loglik", "", CALC_NUMBER, false, "log-likelihood"},
    {"gap", "", CALC_NUMBER, false, "proven bound on what is left to gain"},
    {"iterations", "", CALC_NUMBER, false, "steps taken"},
};
static const struct calc_value interval_test_in[] = {
    {"left", "any", CALC_NUMBERS, true, "last seen alive"},
    {"right", "any", CALC_NUMBERS, true, "first seen dead; NA if still alive"},
    {"group", "", CALC_NUMBERS, true, "group as a number"},
    {"weight", "", CALC_NUMBERS, false, "how often each counts"},
    {"stratum", "", CALC_NUMBERS, false, "stratum as a number: permutations stay inside"},
    {"scores", "", CALC_WORD, false, "sun (default), finkelstein or wilcoxon"},
    {"form", "", CALC_WORD, false, "permutation (default), draws or score"},
    {"draws", "", CALC_NUMBER, false, "permutations drawn, 9999 if left out"},
    {"seed", "", CALC_NUMBER, false, "seed of the draws, 1 if left out"},
};
static const struct calc_value interval_test_out[] = {
    {"statistic", "", CALC_NUMBER, false, "chi-squared"},
    {"df", "", CALC_NUMBER, false, "degrees of freedom"},
    {"p", "", CALC_NUMBER, false, "two-sided p"},
    {"z", "", CALC_NUMBER, false, "signed root for two groups; negative: the first group dies later"},
    {"score_sum", "", CALC_NUMBERS, false, "sum of scores by group; positive: earlier deaths than expected"},
    {"scores", "", CALC_NUMBERS, false, "score of each plant"},
};
static const struct calc_value incidence_in[] = {
    {"time", "any", CALC_NUMBERS, true, "time of death or of the last look"},
    {"cause", "", CALC_NUMBERS, true, "0 alive, else 1, 2 …"},
    {"level", "", CALC_NUMBER, false, "level of the interval, 0.95 if left out"},
};
static const struct calc_value life_table_in[] = {
    {"visit", "any", CALC_NUMBERS, true, "times of the visits"},
    {"at_risk", "plants", CALC_NUMBERS, true, "alive at the visit before and looked at"},
    {"deaths", "plants", CALC_NUMBERS, true, "visit after visit, deaths by cause"},
    {"level", "", CALC_NUMBER, false, "level of the interval, 0.95 if left out"},
};
static const struct calc_value incidence_out[] = {
    {"time", "any", CALC_NUMBERS, false, "times"},
    {"survival", "", CALC_NUMBERS, false, "alive from all causes"},
    {"incidence", "", CALC_NUMBERS, false, "time after time, dead by cause"},
    {"se", "", CALC_NUMBERS, false, "standard errors"},
    {"low", "", CALC_NUMBERS, false, "lower ends"},
    {"high", "", CALC_NUMBERS, false, "upper ends"},
};

const struct calc calc_stats_survival[] = {
    {"kaplan_meier", "Survival from times known to the day", "Kaplan & Meier 1958, J Am Stat Assoc 53:457; Greenwood 1926", lives_values,
     LENGTH(lives_values), curve_out, LENGTH(curve_out), run_kaplan_meier},
    {"logrank", "Do groups differ in survival?", "Harrington & Fleming 1982, Biometrika 69:553 (rho 0: log-rank; 1: Peto–Peto)", logrank_in,
     LENGTH(logrank_in), logrank_out, LENGTH(logrank_out), run_logrank},
    {"turnbull", "Survival when death is known only between visits", "Turnbull 1976, J R Stat Soc B 38:290", intervals_values,
     LENGTH(intervals_values), turnbull_out, LENGTH(turnbull_out), run_turnbull},
    {"interval_logrank", "Do groups differ when death is known only between visits?",
     "Sun 1996, Stat Med 15:1387; Finkelstein 1986, Biometrics 42:845; Fay & Shaw 2010", interval_test_in, LENGTH(interval_test_in),
     interval_test_out, LENGTH(interval_test_out), run_interval_test},
    {"cumulative_incidence", "Deaths by cause", "Aalen & Johansen 1978, Scand J Stat 5:141", incidence_in, LENGTH(incidence_in),
     incidence_out, LENGTH(incidence_out), run_incidence},
    {"incidence_life_table", "Deaths by cause from common visits", "Actuarial form of Aalen & Johansen 1978; delta-method errors",
     life_table_in, LENGTH(life_table_in), incidence_out, LENGTH(incidence_out), run_life_table},
    {0},
};
