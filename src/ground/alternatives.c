/* SPDX-License-Identifier: GPL-3.0-or-later
 * Ways to prepare a plot side by side, each held against what the pits showed. */
#include "ground/ground.h"
#include <math.h>

static const char *against_pits(const struct preparation *p, const struct ground_pit *pits, size_t n, struct arena *arena)
{
    size_t needed = 0, needless = 0;
    double deepest = 0;
    bool depth_known = true;
    for (size_t i = 0; i < n; i++) {
        needed += pits[i].loosening == TRUTH_YES;
        needless += pits[i].loosening == TRUTH_NO;
        if (pits[i].loosening == TRUTH_YES && is_known(pits[i].loosen_to_cm))
            deepest = fmax(deepest, pits[i].loosen_to_cm);
        else if (pits[i].loosening == TRUTH_YES)
            depth_known = false;
    }
    double depth_cm = 100 * p->loosened_depth_m;
    if (n == 0)
        return "The ground was not surveyed: whether loosening is needed is not known.";
    if (!is_known(depth_cm))
        return "The depth to loosen is not set.";
    if (needed == 0 && needless == n)
        return depth_cm > 0
                   ? arena_print(arena, "No deep loosening is needed here: all %zu pits are open. This loosens all the same; say why.", n)
                   : arena_print(arena, "Leaves the ground as it is: all %zu pits are open, and no deep loosening is needed.", n);
    const char *unsure = needed + needless < n ? arena_print(arena, " At %zu of %zu pits it is not known.", n - needed - needless, n) : "";
    if (needed == 0)
        return arena_print(arena, "No pit shows a compacted layer.%s", unsure);
    if (!depth_known)
        return arena_print(arena, "Loosening is needed at %zu of %zu pits, how deep is not known.%s", needed, n, unsure);
    if (depth_cm <= 0)
        return arena_print(arena, "Leaves the compacted layer, which reaches to %g cm at %zu of %zu pits.%s", deepest, needed, n, unsure);
    if (depth_cm + 1e-9 < deepest)
        return arena_print(arena, "Stops at %g cm, inside the compacted layer, which reaches to %g cm.%s", depth_cm, deepest, unsure);
    return arena_print(arena, "Goes through the compacted layer, which reaches to %g cm at %zu of %zu pits.%s", deepest, needed, n, unsure);
}

struct preparation_alternative *preparation_compare(const struct preparation *list, size_t n, const struct preparation_site *site,
                                                    const struct preparation_prices *prices, double gates, double bowser_visits,
                                                    const struct ground_pit *pits, size_t n_pits, struct arena *arena)
{
    struct preparation_alternative *out = arena_array(arena, n + 1, sizeof *out);
    for (size_t i = 0; i < n; i++) {
        out[i] = (struct preparation_alternative){.preparation = &list[i], .cost = unknown_real()};
        out[i].possible = preparation_quantities(&list[i], site, &out[i].quantities, &out[i].why) == OUTCOME_OK;
        if (!out[i].possible)
            continue;
        out[i].cost = preparation_cost(&out[i].quantities, prices, gates, bowser_visits, &out[i].missing_price);
        out[i].words = against_pits(&list[i], pits, n_pits, arena);
    }
    return out;
}
