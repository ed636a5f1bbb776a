/* SPDX-License-Identifier: GPL-3.0-or-later
 * How observers measure: digit preference, diameters that run low or high, agreement of blind second measurements. Said
 * to the coordinator about an observer, never as a ranking. */
#include "survey/plausible.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* P(X ≥ k) for X binomial (n, p), by summing terms from the smaller side on the log scale. */
static double binomial_upper(size_t n, size_t k, double p)
{
    if (k == 0)
        return 1;
    double sum = 0;
    for (size_t i = k; i <= n; i++) {
        double term =
            lgamma((double)n + 1) - lgamma((double)i + 1) - lgamma((double)(n - i) + 1) + (double)i * log(p) + (double)(n - i) * log1p(-p);
        double add = exp(term);
        sum += add;
        if (add < sum * 1e-17 && (double)i > (double)n * p)
            break;
    }
    return sum > 1 ? 1 : sum;
}

struct digit_heaping observer_heaping(const double *height_cm, size_t n)
{
    struct digit_heaping h = {.index = unknown_real(), .p_value = unknown_real()};
    for (size_t i = 0; i < n; i++) {
        if (!is_known(height_cm[i]) || height_cm[i] <= 0 || height_cm[i] >= 199.5)
            continue;
        long digit = lround(height_cm[i]) % 10;
        h.n++;
        h.on_five += digit == 0 || digit == 5;
        h.on_ten += digit == 0;
    }
    if (h.n == 0)
        return h;
    h.index = 500.0 * (double)h.on_five / (double)h.n;
    h.p_value = binomial_upper(h.n, h.on_five, 0.2);
    h.heaped = h.n >= 20 && h.index >= 175 && h.p_value < 0.001;
    return h;
}

struct observer_agreement observer_agreement_of(const struct plant_record *first, const struct plant_record *second, size_t n)
{
    struct observer_agreement a = {.kappa = unknown_real(),
                                   .height_mean_cm = unknown_real(),
                                   .height_sd_cm = unknown_real(),
                                   .height_low_cm = unknown_real(),
                                   .height_high_cm = unknown_real()};
    double row[STATUS_COUNT] = {0}, column[STATUS_COUNT] = {0}, mean = 0, squares = 0;
    for (size_t i = 0; i < n; i++) {
        const struct plant_record *x = &first[i], *y = &second[i];
        if (x->status != STATUS_UNKNOWN && y->status != STATUS_UNKNOWN) {
            a.n++;
            a.same += x->status == y->status;
            row[x->status]++;
            column[y->status]++;
        }
        if (is_known(x->height_cm) && is_known(y->height_cm)) { /* Welford's running mean and sum of squares */
            double d = y->height_cm - x->height_cm, size = (x->height_cm + y->height_cm) / 2, delta = d - mean;
            a.n_height++;
            mean += delta / (double)a.n_height;
            squares += delta * (d - mean);
            a.height_within += fabs(d) <= fmax(5, 0.05 * size);
        }
        if (is_known(x->diameter_mm) && is_known(y->diameter_mm)) {
            a.n_diameter++;
            a.diameter_within += fabs(y->diameter_mm - x->diameter_mm) <= 1;
        }
    }
    if (a.n > 0) {
        double chance = 0, total = (double)a.n;
        for (int s = 0; s < STATUS_COUNT; s++)
            chance += row[s] / total * (column[s] / total);
        if (chance < 1)
            a.kappa = ((double)a.same / total - chance) / (1 - chance);
    }
    if (a.n_height > 0)
        a.height_mean_cm = mean;
    if (a.n_height > 1) {
        a.height_sd_cm = sqrt(squares / (double)(a.n_height - 1));
        a.height_low_cm = mean - 1.96 * a.height_sd_cm;
        a.height_high_cm = mean + 1.96 * a.height_sd_cm;
    }
    return a;
}

/* ---- in a file ---- */

struct by_observer {
    const char *observer;
    int64_t visit;
    double x;
};

static int by_observer_order(const void *a, const void *b)
{
    const struct by_observer *x = a, *y = b;
    int order = strcmp(x->observer, y->observer);
    if (order != 0)
        return order;
    if (x->visit != y->visit)
        return x->visit < y->visit ? -1 : 1;
    return (x->x > y->x) - (x->x < y->x);
}

static void heaps_check(struct checking *c)
{
    struct by_observer *all = memory_get(c->n + 1, sizeof *all);
    double *heights = memory_get(c->n + 1, sizeof *heights);
    size_t n = 0;
    for (size_t i = 0; i < c->n; i++)
        if (is_known(c->records[i].height_cm) && status_alive(c->records[i].status))
            all[n++] = (struct by_observer){c->records[i].observer == NULL ? "" : c->records[i].observer, 0, c->records[i].height_cm};
    qsort(all, n, sizeof *all, by_observer_order);
    for (size_t i = 0; i < n;) {
        size_t end = i;
        for (; end < n && strcmp(all[end].observer, all[i].observer) == 0; end++)
            heights[end - i] = all[end].x;
        struct digit_heaping h = observer_heaping(heights, end - i);
        if (h.heaped) {
            struct doubt *d = doubt_add(
                &c->doubts, "heaping", NO_ROW, "height_cm",
                "%s: %zu of %zu heights below 2 m end in 0 or 5 (one in five would without preference; Whipple's index %s).",
                all[i].observer[0] == '\0' ? "Observer not named" : all[i].observer, h.on_five, h.n, figure(c->arena, round(h.index)));
            d->rows = h.n;
            doubt_evidence(d, h.index, 100, 175);
        }
        i = end;
    }
    free(all);
    free(heights);
}

static int double_order(const void *x, const void *y)
{
    double a = *(const double *)x, b = *(const double *)y;
    return (a > b) - (a < b);
}

/* Median, and its standard error from the median absolute deviation (1.2533 s / √n for a normal distribution). */
static double median_of(double *x, size_t n, double *error)
{
    qsort(x, n, sizeof *x, double_order);
    double m = n % 2 == 1 ? x[n / 2] : (x[n / 2 - 1] + x[n / 2]) / 2;
    for (size_t i = 0; i < n; i++)
        x[i] = fabs(x[i] - m);
    qsort(x, n, sizeof *x, double_order);
    double spread = 1.4826 * (n % 2 == 1 ? x[n / 2] : (x[n / 2 - 1] + x[n / 2]) / 2);
    *error = 1.2533 * spread / sqrt((double)n);
    return m;
}

static void diameters_check(struct checking *c)
{
    enum { LEAST = 20, MOST_GROUPS = 4000 };
    struct by_observer *all = memory_get(c->n + 1, sizeof *all);
    double *own = memory_get(c->n + 1, sizeof *own), *others = memory_get(c->n + 1, sizeof *others);
    size_t n = 0, groups = 0;
    for (size_t i = 0; i < c->n; i++) {
        const struct plant_record *r = &c->records[i];
        if (c->plant_of[i] == UINT32_MAX || !status_alive(r->status) || !is_known(r->diameter_mm) || r->diameter_mm <= 0 ||
            r->observer == NULL)
            continue;
        const struct plant_record *b = record_before(c, c->plant_of[i], r->observed_on, r->visit_id, 2);
        if (b != NULL &&
            (b->diameter_at == r->diameter_at || b->diameter_at == DIAMETER_HEIGHT_UNKNOWN || r->diameter_at == DIAMETER_HEIGHT_UNKNOWN))
            all[n++] = (struct by_observer){r->observer, r->visit_id, log(r->diameter_mm / b->diameter_mm)};
    }
    qsort(all, n, sizeof *all, by_observer_order);
    for (size_t i = 0; i < n && groups < MOST_GROUPS; groups++) {
        size_t end = i, k = 0;
        while (end < n && all[end].visit == all[i].visit && strcmp(all[end].observer, all[i].observer) == 0)
            end++;
        size_t m = end - i;
        if (m >= LEAST && n <= 200000) {
            for (size_t j = 0; j < n; j++)
                if ((j < i || j >= end) && all[j].visit == all[i].visit)
                    others[k++] = all[j].x;
            for (size_t j = 0; j < m; j++)
                own[j] = all[i + j].x;
            double e1 = 0, e2 = 0;
            double m1 = median_of(own, m, &e1), m2 = k >= LEAST ? median_of(others, k, &e2) : 0, error = sqrt(e1 * e1 + e2 * e2);
            if (k >= LEAST && fabs(m1 - m2) > 4 * error && fabs(m1 - m2) > log(1.08)) {
                struct doubt *d = doubt_add(&c->doubts, "observer_diameter", NO_ROW, "diameter_mm",
                                            "%s: diameters changed by a factor of %s in the middle (n %zu), those of the other observers "
                                            "of the visit by %s (n %zu). Was the diameter taken at another height?",
                                            all[i].observer, figure(c->arena, exp(m1)), m, figure(c->arena, exp(m2)), k);
                d->rows = m;
                doubt_evidence(d, exp(m1), exp(m2), 4);
                doubt_remedy(&c->doubts, d, "correct:diameter_at=at_10_cm",
                             "it was taken 10 cm up: mark those records so that they are kept apart");
                doubt_remedy(&c->doubts, d, "accept", "it was taken where it should be");
            }
        }
        i = end;
    }
    free(all);
    free(own);
    free(others);
}

void observers_check(struct checking *c)
{
    heaps_check(c);
    diameters_check(c);
}
