/* SPDX-License-Identifier: GPL-3.0-or-later
 * Where all sites of a programme stand: started, reporting, planned, rejected, silent; censuses that were missed. */
#ifndef SPINNEY_WORK_ROLL_UP_H
#define SPINNEY_WORK_ROLL_UP_H
#include "work/load.h"

/// A year between planting and the programme's newest census in which a planted site has none.
struct missed_census {
    size_t site; ///< index
    int year;
};
struct roll_up {
    const struct site *sites;
    const struct plot *plots;
    size_t n_sites, n_plots;
    bool *started;    ///< each site: something was planted there
    int *last_census; ///< year of its newest census; 0: none
    size_t n_started, n_reporting, n_rejected, n_planned, n_closed, n_stages;
    struct missed_census *missed;
    size_t n_missed;
    int newest_census;    ///< year, over all sites; 0: none
    const char *sentence; ///< "6 started, 6 reporting, 1 rejected, 1 planned, 1 census missed"
};
/// The arena owns everything. A census is a visit of that kind; a site reports if it has one in the newest year any site has.
enum outcome roll_up_make(struct store *store, struct arena *arena, struct roll_up *out, struct failure *why);
/// The map of the programme: sites with their stage, and the landmarks, as a figure of the section. Says where nothing is drawn.
enum outcome roll_up_map(struct store *store, const struct programme *programme, const struct roll_up *all, json_t *section,
                         struct arena *arena, struct failure *why);
#endif
