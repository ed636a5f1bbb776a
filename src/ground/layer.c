/* SPDX-License-Identifier: GPL-3.0-or-later
 * What one soil sample says by itself: texture, pores, density. */
#include "ground/layer.h"
#include <math.h>
#include <stdio.h>

enum texture layer_texture(const struct soil_sample *s, double *sand, double *clay, bool *measured)
{
    enum texture class = s->texture;
    *sand = s->sand_pct;
    *clay = s->clay_pct;
    int known = is_known(s->sand_pct) + is_known(s->silt_pct) + is_known(s->clay_pct);
    *measured = known >= 2 && texture_of(s->sand_pct, s->silt_pct, s->clay_pct, 1, &class, NULL) == OUTCOME_OK;
    if (*measured) {
        if (!is_known(*sand))
            *sand = fmax(0, 100 - s->silt_pct - *clay);
        if (!is_known(*clay))
            *clay = fmax(0, 100 - s->silt_pct - *sand);
        return class;
    }
    class = s->texture;
    if (!texture_midpoint(class, sand, clay))
        *sand = *clay = unknown_real();
    return class;
}

/* Organic matter is carbon × 1.724 (a convention), or the loss on ignition where only that is known. */
static double organic_matter(const struct soil_sample *s)
{
    if (is_known(s->soc_pct) && s->carbon_method != CARBON_METHOD_LOSS_ON_IGNITION)
        return 1.724 * s->soc_pct;
    return is_known(s->loi_pct) ? s->loi_pct : unknown_real();
}

void layer_judge(const struct soil_sample *s, size_t index, const struct ground_options *options, struct arena *arena,
                 struct ground_layer *out)
{
    struct ground_layer layer = {.sample = index};
    double sand, clay;
    bool measured;
    layer.texture = layer_texture(s, &sand, &clay, &measured);
    struct soil_water_input in = {sand, clay, organic_matter(s), s->bulk_density_g_cm3, unknown_real(), s->stones_pct};
    if (is_known(s->made_ground_pct))
        in.stones_volume_pct = fmin(95, (is_known(s->stones_pct) ? s->stones_pct : 0) + s->made_ground_pct);
    if (layer.texture != TEXTURE_UNKNOWN && soil_water(&in, &layer.water, NULL) == OUTCOME_OK) {
        layer.has_water = true;
        if (!measured)
            layer.water.flags |= SOIL_FROM_FEEL;
    }
    layer.has_density = is_known(s->bulk_density_g_cm3) && density_judge(options->source, layer.texture, measured ? clay : unknown_real(),
                                                                         s->bulk_density_g_cm3, &layer.density, NULL) == OUTCOME_OK;
    char depth[64] = "depth not recorded";
    if (is_known(s->depth_top_cm) && is_known(s->depth_bottom_cm))
        snprintf(depth, sizeof depth, "%g–%g cm", s->depth_top_cm, s->depth_bottom_cm);
    layer.words = layer.has_density ? arena_print(arena, "%s: %s%s, %s", depth, texture_words(layer.texture), measured ? "" : " by feel",
                                                  layer.density.words)
                                    : arena_print(arena, "%s: %s%s", depth, texture_words(layer.texture),
                                                  layer.texture != TEXTURE_UNKNOWN && !measured ? " by feel" : "");
    *out = layer;
}
