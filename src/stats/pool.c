/* SPDX-License-Identifier: GPL-3.0-or-later
 * Pooling estimates over sites. Formulas as set out by Viechtbauer 2005, J Educ Behav Stat 30:261, and 2010, J Stat Softw 36(3). */
#include "stats/pool.h"
#include <math.h>

struct sites {
    const double *y, *v;
    size_t k, without; ///< site left out, or k
};

struct sums {
    double w, w2, w3, mean, q, k;
};

/* Weighted sums at a variance between sites. */
static struct sums sums_at(const struct sites *s, double tau2)
{
    struct sums u = {0};
    double wy = 0;
    for (size_t i = 0; i < s->k; i++) {
        if (i == s->without)
            continue;
        double w = 1 / (s->v[i] + tau2);
        u.k += 1;
        u.w += w;
        u.w2 += w * w;
        u.w3 += w * w * w;
        wy += w * s->y[i];
    }
    u.mean = wy / u.w;
    for (size_t i = 0; i < s->k; i++)
        if (i != s->without)
            u.q += (s->y[i] - u.mean) * (s->y[i] - u.mean) / (s->v[i] + tau2);
    return u;
}

/* Sum of squares of P = W − W1(1'W1)⁻¹1'W, and of its product with the residuals. */
static double p_squared(const struct sums *u)
{
    return u->w2 - 2 * u->w3 / u->w + u->w2 * u->w2 / (u->w * u->w);
}

static double tau2_dl(const struct sites *s)
{
    struct sums u = sums_at(s, 0);
    return fmax(0, (u.q - (u.k - 1)) / (u.w - u.w2 / u.w));
}

static double tau2_paule_mandel(const struct sites *s)
{
    double low = 0, high = 1, k = sums_at(s, 0).k;
    if (sums_at(s, 0).q <= k - 1)
        return 0;
    while (sums_at(s, high).q > k - 1)
        high *= 2;
    for (int i = 0; i < 200 && high - low > 1e-15 * high; i++) {
        double middle = (low + high) / 2;
        *(sums_at(s, middle).q > k - 1 ? &low : &high) = middle;
    }
    return (low + high) / 2;
}

static double reml_at(const struct sites *s, double tau2)
{
    struct sums u = sums_at(s, tau2);
    double sum = -0.5 * log(u.w) - 0.5 * u.q;
    for (size_t i = 0; i < s->k; i++)
        if (i != s->without)
            sum -= 0.5 * log(s->v[i] + tau2);
    return sum;
}

/* Slope of the restricted likelihood: ½ (y'PPy − tr P). */
static double reml_slope(const struct sites *s, double tau2)
{
    struct sums u = sums_at(s, tau2);
    double ppy = 0;
    for (size_t i = 0; i < s->k; i++)
        if (i != s->without)
            ppy += (s->y[i] - u.mean) * (s->y[i] - u.mean) / ((s->v[i] + tau2) * (s->v[i] + tau2));
    return ppy - (u.w - u.w2 / u.w);
}

/* The best of the local maxima that a scan of slopes finds, each then halved down. */
static double tau2_reml(const struct sites *s)
{
    double most = 0, best = reml_at(s, 0), top = 1e-12;
    for (size_t i = 0; i < s->k; i++)
        if (i != s->without)
            for (size_t j = 0; j < i; j++)
                if (j != s->without)
                    top = fmax(top, (s->y[i] - s->y[j]) * (s->y[i] - s->y[j]));
    enum { STEPS = 200 };
    double before = reml_slope(s, 0), from = 0;
    for (int i = 1; i <= STEPS; i++) {
        double to = top * 2 * pow((double)i / STEPS, 4), after = reml_slope(s, to);
        if (before > 0 && after <= 0) {
            double low = from, high = to;
            for (int h = 0; h < 200 && high - low > 1e-16 * high; h++) {
                double middle = (low + high) / 2;
                *(reml_slope(s, middle) > 0 ? &low : &high) = middle;
            }
            if (reml_at(s, low) > best) {
                best = reml_at(s, low);
                most = low;
            }
        }
        before = after;
        from = to;
    }
    return most;
}

static double tau2_of(const struct sites *s, enum pool_method method)
{
    return method == POOL_FIXED ? 0 : method == POOL_REML ? tau2_reml(s) : method == POOL_PAULE_MANDEL ? tau2_paule_mandel(s) : tau2_dl(s);
}

static struct estimate pooled(const struct sites *s, double tau2, bool hartung_knapp, double level, double *df)
{
    struct sums u = sums_at(s, tau2);
    double se = hartung_knapp ? sqrt(u.q / (u.k - 1) / u.w) : sqrt(1 / u.w);
    *df = hartung_knapp ? u.k - 1 : INFINITY;
    return estimate_student(u.mean, se, *df, level, u.k);
}

static double tau2_se(const struct sites *s, enum pool_method method, double tau2)
{
    struct sums u = sums_at(s, method == POOL_REML ? tau2 : 0);
    double trace = u.w - u.w2 / u.w;
    if (method == POOL_REML)
        return sqrt(2 / p_squared(&u));
    if (method == POOL_DERSIMONIAN_LAIRD)
        return sqrt((2 * (u.k - 1) + 4 * tau2 * trace + 2 * tau2 * tau2 * p_squared(&u)) / (trace * trace));
    return unknown_real();
}

enum outcome pool_effects(const double *effect, const double *variance, size_t k, enum pool_method method, bool hartung_knapp, double level,
                          struct arena *arena, struct pool_result *out, struct failure *why)
{
    enum outcome outcome = level_check(level, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (k < 2)
        return fail(why, OUTCOME_DATA, "Pooling needs at least two sites; there %s %zu.", k == 1 ? "is" : "are", k);
    for (size_t i = 0; i < k; i++)
        if (!isfinite(effect[i]) || !(variance[i] > 0) || !isfinite(variance[i]))
            return fail(why, OUTCOME_DATA, "Site %zu has the effect %g with variance %g; both must be known, the variance above 0.", i + 1,
                        effect[i], variance[i]);
    struct sites s = {effect, variance, k, k};
    double df = 0, tau2 = tau2_of(&s, method), n = (double)k;
    struct sums flat = sums_at(&s, 0), u = sums_at(&s, tau2);
    double typical = (n - 1) / (flat.w - flat.w2 / flat.w), unknown = unknown_real();
    out->tau2 = tau2;
    out->tau2_se = tau2_se(&s, method, tau2);
    out->effect = pooled(&s, tau2, hartung_knapp, level, &df);
    double ratio = out->effect.value / out->effect.se;
    out->test = (struct test){ratio, df, unknown, student_two_sided(ratio, df)};
    out->q = (struct test){flat.q, n - 1, unknown, chisq_upper(flat.q, n - 1)};
    out->i2_percent = method == POOL_FIXED ? fmax(0, 100 * (flat.q - (n - 1)) / flat.q) : 100 * tau2 / (tau2 + typical);
    out->h2 = method == POOL_FIXED ? flat.q / (n - 1) : tau2 / typical + 1;
    out->predict_low = out->predict_high = unknown;
    if (k >= 3 && method != POOL_FIXED) {
        double half = student_quantile(1 - (1 - level) / 2, n - 2) * sqrt(tau2 + out->effect.se * out->effect.se);
        out->predict_low = out->effect.value - half;
        out->predict_high = out->effect.value + half;
    }
    out->weight_percent = arena_array(arena, k, sizeof(double));
    out->without = arena_array(arena, k, sizeof(struct estimate));
    out->tau2_without = arena_array(arena, k, sizeof(double));
    for (size_t i = 0; i < k; i++) {
        out->weight_percent[i] = 100 / (variance[i] + tau2) / u.w;
        s.without = i;
        out->without[i] = estimate_unknown();
        out->tau2_without[i] = unknown;
        if (k >= 3) {
            out->tau2_without[i] = tau2_of(&s, method);
            out->without[i] = pooled(&s, out->tau2_without[i], hartung_knapp, level, &df);
        }
    }
    return OUTCOME_OK;
}

enum outcome paired_mean(const double *difference, size_t n, double level, struct estimate *out, struct test *test, struct failure *why)
{
    enum outcome outcome = level_check(level, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (n < 2)
        return fail(why, OUTCOME_DATA, "A mean difference with an interval needs at least two pairs; there %s %zu.", n == 1 ? "is" : "are",
                    n);
    double mean = sum_exactly(difference, n) / (double)n, squares = 0;
    for (size_t i = 0; i < n; i++)
        squares += (difference[i] - mean) * (difference[i] - mean);
    double df = (double)n - 1, se = sqrt(squares / df / (double)n);
    *out = estimate_student(mean, se, df, level, (double)n);
    *test =
        (struct test){se > 0 ? mean / se : unknown_real(), df, unknown_real(), se > 0 ? student_two_sided(mean / se, df) : unknown_real()};
    return OUTCOME_OK;
}

static void moments(const double *x, size_t n, double *mean, double *error)
{
    double squares = 0;
    *mean = sum_exactly(x, n) / (double)n;
    for (size_t i = 0; i < n; i++)
        squares += (x[i] - *mean) * (x[i] - *mean);
    *error = squares / (double)(n - 1) / (double)n;
}

enum outcome welch_difference(const double *a, size_t n_a, const double *b, size_t n_b, double level, struct estimate *out,
                              struct test *test, struct failure *why)
{
    enum outcome outcome = level_check(level, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (n_a < 2 || n_b < 2)
        return fail(why, OUTCOME_DATA, "Each group needs at least two values; they have %zu and %zu.", n_a, n_b);
    double mean_a = 0, mean_b = 0, e_a = 0, e_b = 0;
    moments(a, n_a, &mean_a, &e_a);
    moments(b, n_b, &mean_b, &e_b);
    double all = e_a + e_b, df = all * all / (e_a * e_a / (double)(n_a - 1) + e_b * e_b / (double)(n_b - 1));
    if (!(all > 0))
        return fail(why, OUTCOME_DATA, "All values of each group are the same: no interval can be given.");
    *out = estimate_student(mean_a - mean_b, sqrt(all), df, level, (double)(n_a + n_b));
    double t = out->value / out->se;
    *test = (struct test){t, df, unknown_real(), student_two_sided(t, df)};
    return OUTCOME_OK;
}
