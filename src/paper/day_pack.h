/* SPDX-License-Identifier: GPL-3.0-or-later
 * The pack for a planting day: the day on one page, roles, briefing, emergency card, weather decision, tools, plants by row,
 * sign-in without children's names. Prints on A4 in grey. */
#ifndef SPINNEY_PAPER_DAY_PACK_H
#define SPINNEY_PAPER_DAY_PACK_H
#include "paper/document.h"

/// A line of two or three cells: role, who, what; tool, number, what for.
struct day_line {
    const char *what, *number, *words; ///< NULL: an empty line to write on
};
struct day_plot {
    const char *code, *recipe;
    int64_t cards, plants; ///< INT_UNKNOWN: not planned
    double area_m2;
};
/// Plants of one row of squares, to be bagged the evening before.
struct day_bag {
    const char *plot, *row;
    int64_t plants;
    const char *species; ///< "Quercus robur 5, Betula pendula 3"
};
struct day_caution {
    const char *code, *words, *defer;
};
struct day_pack {
    const char *programme, *organisation, *site, *site_code;
    int32_t day, printed;           ///< DATE_UNKNOWN: to be written in
    const char *meet_at, *entrance; ///< NULL: a line to write on
    const char *grid_reference;     ///< metres in the programme's reference system
    const char *degrees;            ///< latitude and longitude, WGS 84
    const char *emergency_number, *emergency_department, *lead, *first_aider, *site_phone;
    const char *people_words; ///< how many are expected, and how long the planting takes
    const struct day_plot *plots;
    size_t n_plots;
    const struct day_line *times, *roles, *tools;
    size_t n_times, n_roles, n_tools;
    const struct day_bag *bags;
    size_t n_bags;
    const struct day_caution *cautions; ///< those raised by this site
    size_t n_cautions;
    const char *const *open; ///< what is not checked
    size_t n_open;
    bool children; ///< under-age helpers come: groups sign in by number
    size_t sign_rows, group_rows;
    const struct map *map; ///< of the site; NULL: none
};
/// The whole pack; `*scale` is that of its map (may be NULL). NULL with a failure where the map cannot be drawn.
struct document *day_pack_document(const struct day_pack *pack, int *scale, struct failure *why);
#endif
