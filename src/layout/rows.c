/* SPDX-License-Identifier: GPL-3.0-or-later
 * Straight rows along the baseline with exactly as many places as wanted. */
#include "layout/inside.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { SLIDES = 20 };

/// A grid of places: gaps, and where its first place stands.
struct lattice {
    double along, across, u0, v0;
};

static bool may_stand(const struct rows *w, double u, double v)
{
    return outline_holds(w->outline, u, v) && outline_far(w->outline, u, v, w->edge_m + 0.01) >= w->edge_m;
}

/* Places of a lattice inside the ground; writes the first `most` of them row by row. */
static size_t lattice_places(const struct rows *w, const struct lattice *l, double *uv, size_t most)
{
    const struct box *box = &w->outline->box;
    size_t n = 0;
    long j0 = (long)floor((box->y_least - l->v0) / l->across), j1 = (long)ceil((box->y_most - l->v0) / l->across);
    long i0 = (long)floor((box->x_least - l->u0) / l->along), i1 = (long)ceil((box->x_most - l->u0) / l->along);
    for (long j = j0; j <= j1; j++) {
        for (long i = i0; i <= i1; i++) {
            double u = l->u0 + (double)i * l->along, v = l->v0 + (double)j * l->across;
            if (!may_stand(w, u, v))
                continue;
            if (n < most && uv != NULL)
                uv[2 * n] = u, uv[2 * n + 1] = v;
            n++;
        }
    }
    return n;
}

/* Slide the lattice about: the fewest places that are enough, beginning with half a gap from the box. */
static size_t lattice_slide(const struct rows *w, double along, double across, struct lattice *best)
{
    size_t best_n = 0, steps = w->n > 5000 ? 4 : w->n > 500 ? 8 : SLIDES; /* a person waits for this */
    bool have = false;
    for (size_t k = 0; k < steps * steps; k++) {
        double a = fmod(0.5 + (double)(k % steps) / (double)steps, 1), b = fmod(0.5 + (double)(k / steps) / (double)steps, 1);
        struct lattice l = {along, across, w->outline->box.x_least + a * along, w->outline->box.y_least + b * across};
        size_t n = lattice_places(w, &l, NULL, 0);
        bool better = !have || (best_n < w->n ? n > best_n : n >= w->n && n < best_n);
        if (better)
            have = true, best_n = n, *best = l;
        if (best_n == w->n)
            break;
    }
    return best_n;
}

enum outcome rows_places(const struct rows *w, double *uv, double *row_gap_m, double *plant_gap_m, size_t *dropped, struct failure *why)
{
    double each = w->outline->area_m2 / (double)w->n;
    bool open = w->row_gap_m <= 0 || w->plant_gap_m <= 0;
    double across = w->row_gap_m > 0 ? w->row_gap_m : w->plant_gap_m > 0 ? each / w->plant_gap_m : sqrt(each);
    double along = w->plant_gap_m > 0 ? w->plant_gap_m : each / across;
    struct lattice l = {0};
    size_t n = lattice_slide(w, along, across, &l);
    /* Gaps of our own choosing close up until there is room for all: by as much as is missing, half a per cent at least. */
    for (int k = 0; open && n < w->n && k < 40; k++) {
        double close = fmax(0.9, fmin(0.995, sqrt((double)n / (double)w->n)));
        along *= w->plant_gap_m > 0 ? 1 : close;
        across *= w->row_gap_m > 0 ? 1 : close;
        n = lattice_slide(w, along, across, &l);
    }
    if (n < w->n) {
        double close = sqrt((double)n / (double)w->n);
        fail(why, OUTCOME_DATA, "Rows %.2f m apart with plants every %.2f m give %zu places at the most, for %zu plants.", across, along, n,
             w->n);
        return failure_remedy(why, "Try about %.2f m by %.2f m, or %zu plants.", across * close, along * close, n);
    }
    lattice_places(w, &l, uv, w->n);
    *row_gap_m = across, *plant_gap_m = along;
    *dropped = n - w->n;
    return OUTCOME_OK;
}
