/* SPDX-License-Identifier: GPL-3.0-or-later
 * What differences between the two plots of each site allow one to conclude. It would rather say "cannot tell" than be wrong. */
#include "evidence/sites.h"
#include <math.h>

/* Mean over the sites that `use` keeps, with Student's t. */
static struct estimate mean_of(const double *x, const bool *leave, size_t skip, size_t n, double level)
{
    double sum = 0, squares = 0;
    size_t m = 0;
    struct estimate out = estimate_unknown();
    for (size_t i = 0; i < n; i++)
        if (i != skip && (leave == NULL || !leave[i])) {
            sum += x[i];
            m++;
        }
    if (m == 0)
        return out;
    out.value = sum / (double)m;
    out.n = (double)m;
    for (size_t i = 0; i < n; i++)
        if (i != skip && (leave == NULL || !leave[i]))
            squares += (x[i] - out.value) * (x[i] - out.value);
    return m < 2 ? out : estimate_student(out.value, sqrt(squares / (double)(m - 1) / (double)m), (double)m - 1, level, (double)m);
}

/* +1: above 0 beyond chance, −1: below, 0: neither. Both Student's interval and the sign flips must say so. */
static int side_of(const double *x, const bool *leave, size_t skip, size_t n, double level)
{
    double kept[4096];
    size_t m = 0;
    struct sign_flip flip;
    struct failure none;
    struct estimate mean = mean_of(x, leave, skip, n, level);
    for (size_t i = 0; i < n && m < sizeof kept / sizeof *kept; i++)
        if (i != skip && (leave == NULL || !leave[i]))
            kept[m++] = x[i];
    if (m < 2 || !is_known(mean.low) || (mean.low <= 0 && mean.high >= 0) ||
        permute_sign_flip(kept, m, level, 9999, 1, &flip, &none) != OUTCOME_OK || flip.p > 1 - level)
        return 0;
    return mean.value > 0 ? 1 : -1;
}

static void counts_fill(const struct paired_wish *w, struct paired_answer *a)
{
    for (size_t i = 0; i < w->n; i++) {
        a->positive += w->difference[i] > 0;
        a->fair += w->unequal_care == NULL || !w->unequal_care[i];
    }
    a->mean = mean_of(w->difference, NULL, SIZE_MAX, w->n, w->level);
    a->fair_mean = mean_of(w->difference, w->unequal_care, SIZE_MAX, w->n, w->level);
    if (w->lowest != NULL && w->highest != NULL) {
        a->lowest = mean_of(w->lowest, NULL, SIZE_MAX, w->n, w->level);
        a->highest = mean_of(w->highest, NULL, SIZE_MAX, w->n, w->level);
    }
    if (w->n >= 2) {
        a->sd = a->mean.se * sqrt((double)w->n);
        a->detectable = (student_quantile(0.5 + w->level / 2, (double)w->n - 1) + student_quantile(0.8, (double)w->n - 1)) * a->mean.se;
    }
}

/* Level of the verdict: stricter where several outcomes were looked at afterwards. */
static double verdict_level(const struct paired_wish *w)
{
    return w->of_many > 1 ? 1 - (1 - w->level) / (double)w->of_many : w->level;
}

/* The side that everything agrees on, or the reason why there is none. */
static int side_agreed(const struct paired_wish *w, const struct paired_answer *a, size_t skip, enum paired_reason *reason)
{
    double level = verdict_level(w);
    int side = side_of(w->difference, NULL, skip, w->n, level);
    *reason = REASON_CLEAR;
    if (side == 0) {
        *reason = pow(2, 1 - (double)w->n) > 1 - level ? REASON_FEW_SITES : REASON_CHANCE;
        return 0;
    }
    if (w->lowest != NULL && w->highest != NULL && side_of(side > 0 ? w->lowest : w->highest, NULL, skip, w->n, level) != side) {
        *reason = REASON_NOT_FOUND;
        return 0;
    }
    if (a->fair < w->n && side_of(w->difference, w->unequal_care, skip, w->n, level) != side) {
        *reason = REASON_CARE;
        return 0;
    }
    return side;
}

enum outcome evidence_paired(const struct paired_wish *w, struct paired_answer *out, struct failure *why)
{
    struct paired_answer a = {.n = w->n,
                              .mean = estimate_unknown(),
                              .fair_mean = estimate_unknown(),
                              .lowest = estimate_unknown(),
                              .highest = estimate_unknown(),
                              .sd = unknown_real(),
                              .p = unknown_real(),
                              .p_least = unknown_real(),
                              .detectable = unknown_real(),
                              .hangs_on = SIZE_MAX,
                              .of_many = w->of_many};
    enum outcome outcome = level_check(w->level, why);
    counts_fill(w, &a);
    if (outcome == OUTCOME_OK && w->n >= 5) {
        struct sign_flip flip;
        outcome = permute_sign_flip(w->difference, w->n, w->level, 9999, 1, &flip, why);
        a.p = flip.p;
        a.p_least = flip.p_least;
    }
    if (outcome != OUTCOME_OK)
        return outcome;
    int side = side_agreed(w, &a, SIZE_MAX, &a.reason);
    size_t fatal = 0;
    for (size_t i = 0; side != 0 && i < w->n; i++) {
        struct estimate rest = mean_of(w->difference, NULL, i, w->n, w->level);
        if (is_known(rest.low) && (side > 0 ? rest.low <= 0 : rest.high >= 0)) {
            a.hangs_on = fatal == 0 ? i : SIZE_MAX;
            fatal++;
        }
    }
    a.verdict = side > 0 ? PAIRED_A_HIGHER : side < 0 ? PAIRED_B_HIGHER : PAIRED_CANNOT_TELL;
    /* two one-sided tests at (1 − level)/2 each are the interval inside the margin, bounds included */
    double low = is_known(a.lowest.low) ? a.lowest.low : a.mean.low, high = is_known(a.highest.high) ? a.highest.high : a.mean.high;
    if (is_known(w->margin) && w->margin > 0 && w->n >= 5 && low > -w->margin && high < w->margin && a.fair == w->n) {
        a.verdict = PAIRED_NO_WORTHWHILE;
        a.reason = REASON_CLEAR;
    }
    *out = a;
    return OUTCOME_OK;
}

const char *paired_reason_words(const struct paired_answer *a, struct arena *arena)
{
    switch (a->reason) {
    case REASON_FEW_SITES:
        return arena_print(arena, "%zu site%s cannot rule out chance: the least p that so many can reach is %.3f.", a->n,
                           a->n == 1 ? "" : "s", a->n == 0 ? 1.0 : pow(2, 1 - (double)a->n));
    case REASON_CHANCE:
        return a->of_many > 1
                   ? arena_print(arena,
                                 "Chance alone could make such a difference between sites: it was looked at afterwards with others, %zu in "
                                 "all, so it must be clearer than one that was asked beforehand.",
                                 a->of_many)
                   : "Chance alone could make such a difference between sites.";
    case REASON_NOT_FOUND:
        return "It hangs on the plants that were not found: if those of the better plots were dead it would not stand.";
    case REASON_CARE:
        return arena_print(
            arena,
            "Only %zu of %zu sites cared for both plots alike, and on those alone it cannot be told from chance: the difference "
            "may be care.",
            a->fair, a->n);
    default:
        break;
    }
    if (a->verdict == PAIRED_NO_WORTHWHILE)
        return "The whole interval lies within the margin that was set as the smallest worth having.";
    return a->hangs_on == SIZE_MAX
               ? "It stands with plants that were not found read against it, and on the sites that were cared for alike."
               : "It stands with plants that were not found read against it, but leaving out one site would undo it.";
}

enum outcome evidence_pairs_judge(const struct site_difference *pairs, size_t n, double level, double margin, struct arena *arena,
                                  struct paired_answer *out, struct failure *why)
{
    double *difference = arena_array(arena, n, sizeof *difference), *lowest = arena_array(arena, n, sizeof *lowest),
           *highest = arena_array(arena, n, sizeof *highest);
    bool *unequal = arena_array(arena, n, sizeof *unequal), open = false;
    for (size_t i = 0; i < n; i++) {
        difference[i] = pairs[i].difference.value;
        lowest[i] = pairs[i].lowest;
        highest[i] = pairs[i].highest;
        unequal[i] = pairs[i].unequal_care;
        open = open || lowest[i] < highest[i] - 1e-12;
    }
    struct paired_wish wish = {.n = n,
                               .difference = difference,
                               .lowest = open ? lowest : NULL,
                               .highest = open ? highest : NULL,
                               .unequal_care = unequal,
                               .level = level,
                               .margin = margin};
    return evidence_paired(&wish, out, why);
}
