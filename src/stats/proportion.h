/* SPDX-License-Identifier: GPL-3.0-or-later
 * Proportions, their differences and ratios, and exact tests of a table of two rows and two columns. */
#ifndef SPINNEY_STATS_PROPORTION_H
#define SPINNEY_STATS_PROPORTION_H
#include "stats/estimate.h"

/// Score interval for x of n (x may be a fraction when n is an effective number). 0 ≤ x ≤ n, n > 0; x = 0 gives exactly 0
/// below, x = n exactly 1 above. `corrected`: with continuity correction. Wilson 1927; Newcombe 1998, Stat Med 17:857,
/// methods 3 and 4. se is sqrt(p(1−p)/n). Fails with OUTCOME_DATA on n ≤ 0 or x outside 0 … n.
enum outcome proportion_wilson(double x, double n, double level, bool corrected, struct estimate *out, struct failure *why);
/// Clopper & Pearson 1934, Biometrika 26:404; beta quantiles.
enum outcome proportion_exact(double x, double n, double level, struct estimate *out, struct failure *why);
/// p1 − p2 from the Wilson limits of each. Newcombe 1998, Stat Med 17:873, method 10, or 11 when `corrected`.
enum outcome difference_newcombe(double x1, double n1, double x2, double n2, double level, bool corrected, struct estimate *out,
                                 struct failure *why);
/// Any difference or ratio-on-the-log-scale from the limits of its parts (method of variance estimates recovery).
struct estimate difference_of(struct estimate first, struct estimate second);

/// Rows are groups, first column the event: a of a + b against c of c + d.
struct two_by_two {
    double a, b, c, d; ///< whole counts, not negative
};
enum alternative { TWO_SIDED, FIRST_LESS, FIRST_GREATER };

/// Fisher's exact test. p two-sided sums all tables no likelier than the one seen (R's convention, factor 1 + 1e-7).
struct fisher_result {
    double p;
    struct estimate odds_ratio; ///< conditional maximum likelihood with exact conditional limits (two-sided); se unknown
};
enum outcome table_fisher(struct two_by_two t, enum alternative alternative, double level, struct fisher_result *out, struct failure *why);
/// Unconditional exact tests; p is the supremum over the unknown common proportion (grid, then golden section).
/// Barnard: ordered by the pooled score statistic; Boschloo: by Fisher's p. Rows at most 2,000 each.
struct unconditional_result {
    double statistic; ///< pooled z (Barnard) or Fisher's p (Boschloo)
    double p;
    double nuisance; ///< common proportion at which p is reached
};
enum outcome table_barnard(struct two_by_two t, enum alternative alternative, struct unconditional_result *out, struct failure *why);
enum outcome table_boschloo(struct two_by_two t, enum alternative alternative, struct unconditional_result *out, struct failure *why);
/// Risk ratio of row 1 to row 2, log interval (Katz et al. 1978, Biometrics 34:469). se on the log scale. A zero event
/// count leaves value 0 or infinite and limits unknown.
enum outcome table_risk_ratio(struct two_by_two t, double level, struct estimate *out, struct failure *why);
/// Sample odds ratio ad/bc with Woolf's log interval (Woolf 1955). se on the log scale. Any zero: limits unknown; use table_fisher.
enum outcome table_odds_ratio(struct two_by_two t, double level, struct estimate *out, struct failure *why);
/// Paired yes/no: `b` pairs only the first, `c` only the second. Exact binomial p and mid-p; difference with Newcombe's
/// paired interval (1998, Stat Med 17:2635, method 10) when all four cells are given (a: both, d: neither).
struct paired_result {
    double p, mid_p;
    struct test mcnemar;        ///< chi-squared without correction
    struct estimate difference; ///< p1 − p2
};
enum outcome table_mcnemar(struct two_by_two t, double level, struct paired_result *out, struct failure *why);

/// Is p1 worse than p2 by less than `margin` (> 0)? Judged by the lower end of the two-sided interval at `level`.
struct noninferiority {
    struct estimate difference; ///< p1 − p2, Newcombe
    double p;                   ///< one-sided p of H0: p1 − p2 ≤ −margin (score test, Farrington & Manning 1990, Stat Med 9:1447)
    bool shown;                 ///< low > −margin
    bool refuted;               ///< high < −margin
};
enum outcome difference_noninferior(double x1, double n1, double x2, double n2, double margin, double level, struct noninferiority *out,
                                    struct failure *why);
#endif
