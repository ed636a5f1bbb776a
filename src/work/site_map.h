/* SPDX-License-Identifier: GPL-3.0-or-later
 * The map of a site, the same on screen, in the plan and in the report. */
#ifndef SPINNEY_WORK_SITE_MAP_H
#define SPINNEY_WORK_SITE_MAP_H
#include "draw/draw.h"
#include "work/site_load.h"

/// What to show; NULL members are left out. Everything is borrowed.
struct site_map_wish {
    const struct programme *programme;
    const struct site *site;
    const struct site_facts *facts;
    const struct site_zone *zones; ///< as site_zones gave them
    size_t n_zones;
    const struct shape *plantable; ///< what is left to plant
    const struct plot *plots;
    size_t n_plots;
    const struct position *positions;
    size_t n_positions;
    const struct cell *cells;
    size_t n_cells;
    const struct box *extent; ///< NULL: all of it
    const char *title;
};
/// Fill `map` for map_draw or for a document. Pieces live in the arena.
enum outcome site_map_fill(const struct site_map_wish *wish, struct arena *arena, struct map *map, struct failure *why);
/// The same as a figure of a section: SVG with its text alternative. Says in words where nothing has a place.
enum outcome site_map_figure(const struct site_map_wish *wish, json_t *section, struct arena *arena, struct failure *why);
/// A drawing as the figure of a section; frees the drawing.
void section_drawing(json_t *section, struct drawing *drawing);
#endif
