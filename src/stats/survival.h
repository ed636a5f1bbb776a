/* SPDX-License-Identifier: GPL-3.0-or-later
 * Time to death: exactly known, known only between two visits, from several causes, and compared between groups.
 * Times are in any one unit (the caller's), from each plant's own start. */
#ifndef SPINNEY_STATS_SURVIVAL_H
#define SPINNEY_STATS_SURVIVAL_H
#include "stats/estimate.h"

/// Lives whose end is known to the day, or that were still going on.
struct lives {
    size_t n;
    const double *time;    ///< time of death or of the last look, ≥ 0
    const bool *died;      ///< false: still alive then (censored; at risk at that time)
    const double *weight;  ///< how often each counts; NULL: once
    const size_t *group;   ///< 0 … groups − 1 for tests; NULL: one group
    const size_t *stratum; ///< any whole numbers; NULL: one stratum
};
enum survival_interval { SURVIVAL_LOG, SURVIVAL_LOGLOG };

/// A step function: after time[i], survival[i]. One row per distinct time, censored-only times among them.
struct survival_curve {
    size_t n;
    double *time, *at_risk, *deaths, *censored;
    double *survival, *se, *low, *high; ///< se by Greenwood; unknown where survival is 0
    double start_n;                     ///< plants at time 0
    double level;
};
/// Kaplan & Meier 1958; Greenwood 1926; limits on the log or log(−log) scale (Kalbfleisch & Prentice 2002, §1.4).
/// The arena owns the columns. Group and stratum are ignored.
enum outcome survival_kaplan_meier(const struct lives *lives, enum survival_interval interval, double level, struct arena *arena,
                                   struct survival_curve *out, struct failure *why);
/// Survival just after time t; beyond the last time unknown unless survival is 0.
struct estimate survival_at(const struct survival_curve *curve, double t);
/// Time by which the share 1 − q has died (q 0.5: median), limits by inverting those of the curve (Brookmeyer & Crowley 1982).
struct estimate survival_quantile(const struct survival_curve *curve, double q);
/// Area under the curve to `until` (Kalbfleisch & Prentice; variance as R's survival package).
struct estimate survival_restricted_mean(const struct survival_curve *curve, double until);

/// Comparison of k groups. Observed and expected are counts of deaths; `variance` is k × k, row-major.
struct group_test {
    size_t groups;
    double *at_start, *observed, *expected, *variance;
    struct test test; ///< chi-squared on k − 1 df
};
/// G-rho family (Harrington & Fleming 1982): rho 0 log-rank, rho 1 Peto–Peto; summed over strata where given.
enum outcome survival_logrank(const struct lives *lives, size_t groups, double rho, struct arena *arena, struct group_test *out,
                              struct failure *why);

/// Lives whose death is known to lie in (left, right]; right = INFINITY: alive at `left`; left = right: seen to die then.
struct interval_lives {
    size_t n;
    const double *left, *right; ///< 0 ≤ left ≤ right
    const double *weight;       ///< how often each counts; NULL: once
};
/// The non-parametric estimate: mass on innermost intervals (left, right].
struct turnbull {
    size_t n;
    double *left, *right; ///< innermost intervals that carry mass; right may be INFINITY; left = right for an exact time
    double *mass;         ///< adds to 1
    double *survival;     ///< after right[i]
    double loglik;
    double gap;        ///< proven: no distribution has a log-likelihood higher by more than this (dual bound)
    size_t candidates; ///< innermost intervals looked at
    int iterations;
};
/// Turnbull 1976, JRSS-B 38:290. EM and iterative convex minorant steps (Wellner & Zhan 1997, JASA 92:945) with Newton
/// steps on the support; ends only when the dual condition holds to 1e-8 of the total weight. Ties: a right end sorts before a left end.
enum outcome survival_turnbull(const struct interval_lives *lives, struct arena *arena, struct turnbull *out, struct failure *why);
/// Survival at t as lowest and highest value the estimate allows (they differ inside an innermost interval).
void turnbull_at(const struct turnbull *curve, double t, double *lowest, double *highest);

enum interval_scores { SCORES_SUN, SCORES_FINKELSTEIN, SCORES_WILCOXON };
enum interval_form {
    FORM_PERMUTATION, ///< permutation variance, normal (2 groups) or chi-squared reference
    FORM_EXACT,       ///< permutations drawn with `seed`, respecting strata; p = (1 + hits)/(1 + draws)
    FORM_SCORE,       ///< observed-information variance (not for SCORES_WILCOXON)
};
struct interval_test {
    size_t groups;
    double *score_sum, *size; ///< per group; a positive sum: earlier deaths than expected
    double *scores;           ///< per plant
    struct test test;         ///< chi-squared; for two groups its signed root is `z`
    double z;                 ///< of the first group (negative: it dies later); unknown for more than two
    double gap;               ///< of the pooled estimate
};
/// Sun 1996, Stat Med 15:1387; Finkelstein 1986, Biometrics 42:845; Fay & Shaw 2010, J Stat Softw 36(2).
/// `stratum` (NULL: none) restricts permutations. Presumes that visits are timed alike in the groups.
enum outcome survival_interval_test(const struct interval_lives *lives, const size_t *group, size_t groups, const size_t *stratum,
                                    enum interval_scores scores, enum interval_form form, uint64_t seed, size_t draws, struct arena *arena,
                                    struct interval_test *out, struct failure *why);

/// Several causes of death. cause[i] 0: alive at `time`; 1 … causes.
struct incidence_curve {
    size_t n, causes;
    double *time, *at_risk, *survival;   ///< survival: alive from all causes, after time[i]
    double *incidence, *se, *low, *high; ///< n × causes, row-major; se after Aalen; limits on the log(−log) scale
};
/// Aalen & Johansen 1978; variance Aalen 1978 (as R's cmprsk). Incidences and survival add to 1.
enum outcome incidence_aalen_johansen(const double *time, const size_t *cause, const double *weight, size_t n, size_t causes, double level,
                                      struct arena *arena, struct incidence_curve *out, struct failure *why);
/// Visits common to all: at_risk[v] alive at the visit before and looked at, deaths[v × causes + k]. Delta-method se.
/// n visits out; non-parametric maximum likelihood when nobody misses a visit.
enum outcome incidence_life_table(const double *visit, const double *at_risk, const double *deaths, size_t visits, size_t causes,
                                  double level, struct arena *arena, struct incidence_curve *out, struct failure *why);

/// Survival per year from alive[0] of alive … : (x/n)^(1/years), limits of the Wilson (or effective-n) interval through the
/// same transform; se by the delta method. Sheil, Burslem & Alder 1995, J Ecol 83:331. Mortality per year is 1 minus it.
enum outcome survival_annual(double alive, double n, double years, double level, struct estimate *out, struct failure *why);

/// Level to ask of percentile intervals from k clusters so that they hold what they promise: 1 − 2Φ(−t √(k/(k − 1))) with Student's t on k − 1
/// (Hesterberg 2015, Am Stat 69:371, the expanded percentile interval). k ≥ 2.
double bootstrap_level(double level, size_t k);

/// What a bootstrap repeats: fill out[0 … m−1] from weights of the n units (a unit of a drawn cluster weighs as often as drawn).
typedef enum outcome (*bootstrap_statistic)(void *data, const double *weight, double *out, struct failure *why);
/// Percentile intervals from whole clusters drawn with replacement, within strata where given. Draws that fail are
/// counted in *failed and left out; more than a tenth failing is OUTCOME_DATA. Fewer than 5 clusters is refused.
enum outcome bootstrap_clusters(bootstrap_statistic statistic, void *data, const size_t *cluster, const size_t *stratum, size_t n, size_t m,
                                size_t draws, uint64_t seed, double level, const struct progress *progress, struct estimate *out,
                                size_t *failed, struct failure *why);
#endif
