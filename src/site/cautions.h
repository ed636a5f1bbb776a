/* SPDX-License-Identifier: GPL-3.0-or-later
 * What the list of cautions and their triggers share. */
#ifndef SPINNEY_SITE_CAUTIONS_H
#define SPINNEY_SITE_CAUTIONS_H
#include "site/sitefigure.h"

/// What cautions are judged from.
struct scene {
    const struct site_facts *facts;
    const struct site_plan *plan;
    struct arena *arena;
    const struct site_topic *topics;
    const struct site_zone *zones;
    size_t n_zones;
    double *distance_m; ///< from the outline, by zone; NaN without an outline
};

/// State and figures of the caution of this index, from 0 for C01. What is not known is CAUTION_NOT_CHECKED.
void caution_judge(size_t caution, const struct scene *scene, struct site_caution *out);
#endif
