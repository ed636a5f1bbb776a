/* SPDX-License-Identifier: GPL-3.0-or-later
 * Hill numbers of a sample, smaller, as it is, and larger. Chao et al. 2014, Ecol Monogr 84:45 with appendices;
 * Chao & Jost 2012, Ecology 93:2533; Chao, Wang & Jost 2013, Methods Ecol Evol 4:1091. */
#include "stats/diversity_inside.h"
#include <gsl/gsl_sf_psi.h>
#include <math.h>

enum outcome sample_make(const struct assemblage *a, struct arena *arena, struct sample *out, struct failure *why)
{
    *out = (struct sample){.incidence = a->units > 0, .x = arena_array(arena, a->kinds + 1, sizeof(double)), .n = a->units};
    for (size_t i = 0; i < a->kinds; i++) {
        double c = a->count[i];
        if (!(c >= 0) || c != floor(c))
            return fail(why, OUTCOME_DATA, "Kind %zu was counted %g times; counts are whole numbers from 0.", i + 1, c);
        if (out->incidence && c > a->units)
            return fail(why, OUTCOME_DATA, "Kind %zu was found in %g of %g units.", i + 1, c, a->units);
        if (c == 0)
            continue;
        out->x[out->seen++] = c;
        out->total += c;
        out->f1 += c == 1;
        out->f2 += c == 2;
    }
    if (!out->incidence)
        out->n = out->total;
    if (out->seen == 0)
        return fail(why, OUTCOME_DATA, "Nothing was found: diversity is not defined.");
    if (out->n > 2e7 || out->n != floor(out->n))
        return fail(why, OUTCOME_DATA, "The sample has %g %s; at most 20 million, and whole.", out->n,
                    out->incidence ? "units" : "individuals");
    double n = out->n;
    out->f0 = (n - 1) / n * (out->f2 > 0 ? out->f1 * out->f1 / (2 * out->f2) : out->f1 * (out->f1 - 1) / 2);
    out->a = out->f1 > 0 ? n * out->f0 / (n * out->f0 + out->f1) : 0;
    out->ln_fact = arena_array(arena, (size_t)n + 1, sizeof(double));
    for (size_t k = 2; k <= (size_t)n; k++)
        out->ln_fact[k] = out->ln_fact[k - 1] + log((double)k);
    return OUTCOME_OK;
}

static double ln_choose(const struct sample *s, double n, double k)
{
    return s->ln_fact[(size_t)n] - s->ln_fact[(size_t)k] - s->ln_fact[(size_t)(n - k)];
}

double sample_hill(const struct sample *s, int order)
{
    double sum = 0;
    for (size_t i = 0; i < s->seen; i++) {
        double p = s->x[i] / s->total;
        sum += order == 0 ? 1 : order == 1 ? -p * log(p) : p * p;
    }
    return order == 0 ? sum : order == 1 ? exp(sum) : 1 / sum;
}

/* Entropy of what was not seen: (f1/n)(1 − A)^(1−n) {−ln A − Σ_{r<n} (1 − A)^r/r}, summed as its own tail. */
static double unseen_entropy(const struct sample *s)
{
    double c = s->a, n = s->n; /* c = 1 − A of the paper */
    if (s->f1 == 0 || c <= 0)
        return 0;
    double sum = 0, power = c;
    for (double r = n; r < n + 5e7; r++) {
        sum += power / r;
        power *= c;
        if (power / r < 1e-17 * sum * (1 - c))
            break;
    }
    return s->f1 / n * sum;
}

double sample_asymptotic(const struct sample *s, int order)
{
    double n = s->n, sum = 0;
    if (order == 0)
        return (double)s->seen + s->f0;
    if (order == 1) {
        for (size_t i = 0; i < s->seen; i++)
            if (s->x[i] < n)
                sum += s->x[i] / n * (gsl_sf_psi(n) - gsl_sf_psi(s->x[i]));
        sum += unseen_entropy(s);
        return s->incidence ? exp(n / s->total * sum + log(s->total / n)) : exp(sum);
    }
    for (size_t i = 0; i < s->seen; i++)
        sum += s->x[i] * (s->x[i] - 1);
    return s->incidence ? s->total * s->total * (1 - 1 / n) / sum : n * (n - 1) / sum;
}

/* Expected entropy term of order 1 at whole size m < n. */
static double entropy_smaller(const struct sample *s, double m)
{
    double sum = 0, base = s->incidence ? m * s->total / s->n : m, all = ln_choose(s, s->n, m);
    for (size_t i = 0; i < s->seen; i++) {
        double x = s->x[i], first = fmax(1, m - (s->n - x));
        for (double k = first; k <= fmin(x, m); k++) {
            double chance = exp(ln_choose(s, x, k) + ln_choose(s, s->n - x, m - k) - all);
            sum -= k / base * log(k / base) * chance;
        }
    }
    return sum;
}

static double hill_two(const struct sample *s, double m)
{
    double sum = 0, n = s->n;
    for (size_t i = 0; i < s->seen; i++)
        sum += s->x[i] * (s->x[i] - 1);
    if (!s->incidence)
        return 1 / (1 / m + (m - 1) / m * (n > 1 ? sum / (n * (n - 1)) : 0));
    return 1 / (n / (m * s->total) + (m - 1) / m * (n > 1 ? n * sum / ((n - 1) * s->total * s->total) : 0));
}

/* Whole m from 1 to n. */
static double hill_smaller(const struct sample *s, double m, int order)
{
    if (m >= s->n)
        return sample_hill(s, order);
    if (order == 2)
        return hill_two(s, m);
    if (order == 1)
        return exp(entropy_smaller(s, m));
    double sum = 0, all = ln_choose(s, s->n, m);
    for (size_t i = 0; i < s->seen; i++)
        sum += s->n - s->x[i] < m ? 1 : -expm1(ln_choose(s, s->n - s->x[i], m) - all);
    return sum;
}

static double hill_larger(const struct sample *s, double m, int order)
{
    double more = m - s->n;
    if (order == 2)
        return hill_two(s, m);
    if (order == 0) {
        double never = s->f0 > 0 ? 1 - s->f1 / (s->n * s->f0 + s->f1) : 0;
        return (double)s->seen + s->f0 * (1 - pow(never, more));
    }
    double now = sample_hill(s, 1), end = sample_asymptotic(s, 1), before = hill_smaller(s, s->n - 1, 1);
    double beta = end - before > 1e-12 * end ? (now - before) / (end - before) : 1;
    return end <= now ? now : now + (end - now) * (1 - pow(1 - beta, more));
}

double sample_at(const struct sample *s, double m, int order)
{
    if (m > s->n)
        return hill_larger(s, m, order);
    double low = floor(m), part = m - low;
    if (part == 0)
        return hill_smaller(s, m, order);
    double first = low < 1 ? 0 : hill_smaller(s, low, order);
    return first + part * (hill_smaller(s, low + 1, order) - first);
}

static double coverage_smaller(const struct sample *s, double m)
{
    if (m >= s->n)
        return 1 - s->f1 / s->total * s->a;
    double sum = 0, all = ln_choose(s, s->n - 1, m);
    for (size_t i = 0; i < s->seen; i++)
        if (s->n - s->x[i] >= m)
            sum += s->x[i] / s->total * exp(ln_choose(s, s->n - s->x[i], m) - all);
    return 1 - sum;
}

double sample_coverage(const struct sample *s, double m)
{
    if (m > s->n)
        return 1 - s->f1 / s->total * pow(s->a, m - s->n + 1);
    double low = floor(m), part = m - low, first = low < 1 ? 0 : coverage_smaller(s, low);
    return part == 0 ? first : first + part * (coverage_smaller(s, low + 1) - first);
}
