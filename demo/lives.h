/* SPDX-License-Identifier: GPL-3.0-or-later
 * The true lives of the demonstration's plants, which nobody in the invented town knows. */
#ifndef SPINNEY_DEMO_LIVES_H
#define SPINNEY_DEMO_LIVES_H
#include "town.h"

enum { LIVING = INT32_MAX };
struct life {
    int64_t id;        ///< of the plant in the programme; 0: a replacement
    int plot, species; ///< into the tables
    int true_species;  ///< what really grows there; −1: as planted
    char tag[28], cell[12];
    int row, column, number;
    int cohort;                  ///< year of planting
    int32_t died;                ///< day; LIVING: alive to the end
    int32_t resprouted;          ///< day of living again after a fire; LIVING: never
    int32_t died_again;          ///< day of dying after that; LIVING: never
    const char *cause;           ///< of death, for the truth; "" alive
    double height_cm[YEARS + 1]; ///< at planting, and at the autumns of 2022 to 2025 (−1 before planting)
    double after_cm;             ///< what winter left of the last autumn's height; −1: all of it
    double ratio;                ///< collar diameter in mm per cm of height
    int replaces;                ///< index of the life whose place it takes, or −1
    bool old_tag;                ///< a replacement that was given the dead plant's label
    bool ringed, snapped, pulled, replanted, browsed, scorched;
    bool tag_lost_2023, tag_lost_2024;
    bool told_dead;    ///< a census has reported it dead: it is off the list
    bool wrongly_dead; ///< reported dead in 2023 though it lived
};
struct lives {
    struct life *at;
    size_t n, n_first;    ///< the first n_first are of the first planting
    double effect[PLOTS]; ///< each plot's own luck, on the log of the hazard
    uint64_t seed;
};
/// Read `spinney rows FILE plant --json` and let every plant live. Ends the program with a sentence where it cannot.
void lives_make(const char *path, uint64_t seed, struct lives *out);
void lives_free(struct lives *lives);
bool life_alive(const struct life *life, int32_t day);
/// Height in autumn of a year; on days before that within a season, the height of the autumn before.
double life_height_cm(const struct life *life, int year);
/// Expected share of a plot's first planting alive in autumn 2025, without luck and events.
double plot_expected(const struct town_plot *plot);
/// truth/plants.csv, truth/plots.csv, truth/parameters.csv
void truth_write(const struct lives *lives, const char *folder);
/// records/: the censuses as people hand them over, with their mistakes; truth/census-*.csv: the same without.
void sheets_write(struct lives *lives, const char *folder);
/// records/phenology.csv as the round wrote it, and truth/phenology.csv.
void rounds_write(const struct lives *lives, const char *folder, const char *truth_folder);
#endif
