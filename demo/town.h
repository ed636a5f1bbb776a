/* SPDX-License-Identifier: GPL-3.0-or-later
 * The invented town of the demonstration: its sites, plots and species, and the figures from which its plants live and die.
 * Everything here is invented; no figure is evidence of anything. */
#ifndef SPINNEY_DEMO_TOWN_H
#define SPINNEY_DEMO_TOWN_H
#include "base/base.h"

enum { SITES = 6, PLOTS = 18, SPECIES = 26, YEARS = 4, FIRST_YEAR = 2022 };
enum site_number { LK, BS, LH, TS, GL, FB };

struct town_site {
    const char *code;
    int cohort;          ///< year of planting
    const char *planted; ///< day of planting
    double x_m, y_m;     ///< corner of the site in EPSG:32629, open sea
    double hazard;       ///< factor on the hazard of death
    double growth;       ///< factor on height gain
};
struct town_plot {
    enum site_number site;
    const char *code;
    char letter;                     ///< D, C, P, N or U
    double x_m, y_m, wide_m, deep_m; ///< rectangle from the site's corner; for a lot: the first piece
    int plants;
    double treatment; ///< factor on the hazard of death
    double growth;    ///< factor on height gain
    bool watered;     ///< kept wet in the drought of 2023
};
struct town_species {
    const char *name, *layer;
    double share;          ///< per cent of a dense plot, before the site's own choice
    double hazard;         ///< of death in the first year on prepared ground
    double drought;        ///< sensitivity
    double gain_cm[YEARS]; ///< height gain in years 1 to 4 in a dense plot
    bool cell_grown;       ///< starts at 20 to 40 cm, others at 40 to 60
    bool light;            ///< thinned first where overtopped
};
extern const struct town_site town_sites[SITES];
extern const struct town_plot town_plots[PLOTS];
extern const struct town_species town_species[SPECIES];

int town_site_find(const char *code);                                     ///< or −1
int town_plot_find(int site, const char *code);                           ///< or −1
int town_species_find(const char *name);                                  ///< or −1
const struct town_plot *town_plot_of(enum site_number site, char letter); ///< or NULL
/// Plants of each species on a plot, by largest remainders; they add up to its plants.
void town_mix(const struct town_plot *plot, int counts[SPECIES]);
/// Whether the lot gave the first piece of a site to the dense plot.
bool town_dense_first(enum site_number site, uint64_t seed);
/// The factor on a species' hazard in a year (1 = first) of a plot, without the plot's own luck and competition.
double town_hazard(const struct town_plot *plot, const struct town_species *species, int year, int calendar);
/// Hazard added by competition from the third year in dense plots, on average over the plants of a species.
double town_competition(const struct town_plot *plot, const struct town_species *species, int year);

/* streams of random numbers, one for each purpose */
enum {
    STREAM_LOT = 100,
    STREAM_PLOT = 200,
    STREAM_PLANT = 1000000,
    STREAM_WEATHER = 300,
    STREAM_SOIL = 400,
    STREAM_WILDLIFE = 500,
    STREAM_EVENT = 600,
    STREAM_MISTAKE = 700,
    STREAM_SHEET = 2000000,
    STREAM_HOURS = 800,
    STREAM_ROUND = 4000
};

/// Write a text as FOLDER/NAME and free it; ends the program with a sentence where that fails.
void file_put(const char *folder, const char *name, struct text *text);

void maps_write(const char *folder, uint64_t seed);    ///< boundaries, plots, constraints, mixes, offers, register
void ledgers_write(const char *folder, uint64_t seed); ///< soil, weather, care, costs, hours
void wildlife_write(const char *folder, uint64_t seed);
void incidents_write(const char *folder);
void mistake_add(const char *file, long row, const char *kind, const char *plant, const char *field, const char *truth, const char *written,
                 const char *check); ///< a planted mistake; check NULL: nobody could find it
void mistakes_write(const char *folder, const char *name);
void decision_add(const char *file, long row, const char *what, const char *reason); ///< what the coordinator decides about a held row
void decisions_write(const char *folder, const char *name);
#endif
