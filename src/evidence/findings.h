/* SPDX-License-Identifier: GPL-3.0-or-later
 * Findings as records: a sentence on its rung, its numbers, how it was found, what was presumed and whether that holds, whether it was
 * asked beforehand, and what it may and may not be taken to mean. */
#ifndef SPINNEY_EVIDENCE_FINDINGS_H
#define SPINNEY_EVIDENCE_FINDINGS_H
#include "evidence/sites.h"

enum { MOST_ASSUMPTIONS = 8 };
/// Something that was presumed, and what the records say of it.
struct assumption {
    const char *words; ///< "both plots were cared for alike"
    const char *seen;  ///< "on 4 of 6 sites"
    bool holds;
};
struct evidence_finding {
    const char *about; ///< key, such as "survival dense_prepared conventional"
    const char *sentence;
    const char *rung; ///< counted, compared, repeated, attributed
    double value, low, high;
    const char *unit; ///< points, cm a season, kinds, times
    size_t sites;
    double p, p_least; ///< exact sign flips; unknown under 5 sites
    double p_adjusted; ///< Holm over what was found afterwards; equals p where asked beforehand
    bool beforehand;   ///< the outcome that a locked protocol names
    const char *method, *inputs, *may, *may_not;
    struct assumption assumptions[MOST_ASSUMPTIONS];
    size_t n_assumptions;
    enum paired_verdict verdict;
    const char *reason;
};
struct findings_wish {
    const enum regime (*pairs)[2]; ///< regimes held against each other
    size_t n_pairs;
    const char *primary; ///< outcome of the locked protocol; NULL: none is locked
    double margin;       ///< smallest difference worth having, in shares; NaN: none was set
    double level;
};
/// Survival and growth of each pair of regimes that meets on a site, what differs in one thing alone, and wildlife by group; those
/// asked beforehand first.
enum outcome evidence_findings(const struct evidence_facts *facts, const struct plot_lives *lives, const struct trial_table *design,
                               const struct findings_wish *wish, struct arena *arena, struct evidence_finding **out, size_t *n,
                               struct failure *why);
/// Five sentences for a parish meeting, on the rung that is reached: what stands there, what differed, what that may be given to, what is
/// not known, what would tell more. `sentences` has room for five.
void evidence_plainly(const struct evidence_facts *facts, const struct plot_lives *lives, const struct trial_table *design,
                      const struct evidence_finding *findings, size_t n, struct arena *arena, const char *sentences[5]);
#endif
