/* SPDX-License-Identifier: GPL-3.0-or-later
 * Cost per established plant: a ratio whose denominator is uncertain and may be nothing. */
#include "money/money.h"
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

bool ratio_fieller(double a, double se_a, double b, double se_b, double level, double *low, double *high)
{
    double z = gsl_cdf_ugaussian_Pinv(0.5 + level / 2), g = z * z * se_b * se_b / (b * b);
    if (!(g < 1))
        return false;
    double ratio = a / b, spread = z / fabs(b) * sqrt(se_a * se_a + ratio * ratio * se_b * se_b - g * se_a * se_a);
    *low = (ratio - spread) / (1 - g);
    *high = (ratio + spread) / (1 - g);
    return true;
}

enum outcome survival_break_even(double spend, double planted, double other_cost, double *share, struct failure *why)
{
    if (!(spend >= 0) || !(planted > 0) || !(other_cost > 0)) {
        fail(why, OUTCOME_DATA, "Break-even needs a spend of 0 or more, plants, and the other's cost per established plant above 0.");
        return failure_remedy(why, "Where the other has no established plant it has no cost to compare with.");
    }
    *share = spend / (planted * other_cost);
    return OUTCOME_OK;
}

const char *money_print(double amount, const char *currency, struct arena *arena)
{
    const char *unit = text_blank(currency) ? "" : currency, *gap = text_blank(currency) ? "" : " ";
    if (!is_known(amount))
        return "not known";
    if (isinf(amount))
        return "without limit";
    char digits[64], out[96];
    number_fixed(fabs(amount), fabs(amount) < 100 ? 2 : 0, digits);
    size_t whole = 0, n = 0;
    while (digits[whole] >= '0' && digits[whole] <= '9')
        whole++;
    for (size_t i = 0; digits[i] != '\0' && n + 2 < sizeof out; i++) {
        if (i > 0 && i < whole && (whole - i) % 3 == 0)
            out[n++] = ',';
        out[n++] = digits[i];
    }
    out[n] = '\0';
    return arena_print(arena, "%s%s%s%s", amount < 0 ? "−" : "", out, gap, unit);
}

static int double_order(const void *left, const void *right)
{
    const double *a = left, *b = right;
    return *a < *b ? -1 : *a > *b;
}

/* Quantile of sorted draws, the middle way of Hyndman & Fan 1996 (type 7); infinite draws stay infinite. */
static double quantile(const double *sorted, size_t n, double p)
{
    double at = p * (double)(n - 1);
    size_t i = (size_t)at;
    if (i + 1 >= n || isinf(sorted[i + 1]))
        return at > (double)i && i + 1 < n ? sorted[i + 1] : sorted[i];
    return sorted[i] + (at - (double)i) * (sorted[i + 1] - sorted[i]);
}

static enum outcome belief_check(double spend, double spend_sd, const struct survival_belief *b, double level, size_t draws,
                                 struct failure *why)
{
    if (!(spend >= 0) || !(spend_sd >= 0))
        return fail(why, OUTCOME_DATA, "The spend and its spread must be known and not negative.");
    if (!(b->planted >= 1))
        return fail(why, OUTCOME_DATA, "No plants were planted, so there is no cost per established plant.");
    if (is_known(b->alive) ? !(b->alive >= 0 && b->alive <= b->planted)
                           : !(0 <= b->low && b->low <= b->mode && b->mode <= b->high && b->high <= 1)) {
        fail(why, OUTCOME_DATA,
             is_known(b->alive) ? "Established plants must lie between 0 and those planted."
                                : "The range of survival must rise from low over mode to high, between 0 and 1.");
        return failure_remedy(why, "Shares are written as 0.85, not 85.");
    }
    if (!(level > 0 && level < 1) || draws < 100 || draws > 10000000)
        return fail(why, OUTCOME_USAGE, "The level must lie between 0 and 1, and the draws between 100 and 10,000,000.");
    return OUTCOME_OK;
}

static double share_draw(struct random_stream *r, const struct survival_belief *b)
{
    if (is_known(b->alive))
        return random_beta(r, b->alive + 0.5, b->planted - b->alive + 0.5);
    double width = b->high - b->low;
    if (width <= 0)
        return b->mode;
    return b->low + width * random_beta(r, 1 + 4 * (b->mode - b->low) / width, 1 + 4 * (b->high - b->mode) / width);
}

static void classical_intervals(double spend, double spend_sd, const struct survival_belief *b, double level, struct cost_ratio *out)
{
    out->fieller_low = out->fieller_high = out->delta_low = out->delta_high = unknown_real();
    if (!is_known(b->alive) || b->alive <= 0)
        return;
    double p = b->alive / b->planted, se = sqrt(b->planted * p * (1 - p)), ratio = spend / b->alive,
           z = gsl_cdf_ugaussian_Pinv(0.5 + level / 2);
    if (!ratio_fieller(spend, spend_sd, b->alive, se, level, &out->fieller_low, &out->fieller_high))
        out->fieller_low = out->fieller_high = unknown_real();
    double spread = z * sqrt(spend_sd * spend_sd + ratio * ratio * se * se) / b->alive;
    out->delta_low = ratio - spread;
    out->delta_high = ratio + spread;
}

enum outcome cost_per_established(double spend, double spend_sd, const struct survival_belief *belief, double level, size_t draws,
                                  uint64_t seed, const char *currency, struct arena *arena, struct cost_ratio *out, struct failure *why)
{
    enum outcome outcome = belief_check(spend, spend_sd, belief, level, draws, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct cost_ratio ratio = {.seed = seed, .draws = draws};
    double *draw = memory_get(draws, sizeof *draw);
    for (size_t i = 0; i < draws; i++) {
        struct random_stream r = random_make(seed, i);
        double plants = belief->planted * share_draw(&r, belief), cost = fmax(0, spend + (spend_sd > 0 ? spend_sd * random_normal(&r) : 0));
        draw[i] = plants > 0 ? cost / plants : HUGE_VAL;
    }
    qsort(draw, draws, sizeof *draw, double_order);
    ratio.low = quantile(draw, draws, 0.5 - level / 2);
    ratio.high = quantile(draw, draws, 0.5 + level / 2);
    free(draw);
    double mean_share = (belief->low + 4 * belief->mode + belief->high) / 6;
    double established = is_known(belief->alive) ? belief->alive : belief->planted * mean_share;
    ratio.estimate = established > 0 ? spend / established : unknown_real();
    classical_intervals(spend, spend_sd, belief, level, &ratio);
    if (is_known(ratio.estimate)) {
        const char *low = money_print(ratio.low, NULL, arena), *high = money_print(ratio.high, NULL, arena);
        ratio.words = arena_print(arena, "%s per established plant (%s–%s)%s", money_print(ratio.estimate, currency, arena), low, high,
                                  is_known(belief->alive) ? "" : ", over the range of survival given; not yet counted");
    } else {
        ratio.low = ratio.high = unknown_real();
        ratio.words = arena_print(arena, "no plants established; spend %s", money_print(spend, currency, arena));
    }
    *out = ratio;
    return OUTCOME_OK;
}
