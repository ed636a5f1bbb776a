/* SPDX-License-Identifier: GPL-3.0-or-later
 * Private to ground/: what one soil sample says by itself. */
#ifndef SPINNEY_GROUND_LAYER_H
#define SPINNEY_GROUND_LAYER_H
#include "ground/ground.h"

/// Class by laboratory figures, else by feel; sand and clay [%] measured or the class's mid-point, unknown if neither.
enum texture layer_texture(const struct soil_sample *s, double *sand, double *clay, bool *measured);
void layer_judge(const struct soil_sample *s, size_t index, const struct ground_options *options, struct arena *arena,
                 struct ground_layer *out);
#endif
